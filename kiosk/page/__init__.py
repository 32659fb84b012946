"""The evening, and what a hire was shown, each as one page of HTML that needs nothing else: no script, no network, no picture
beside it."""

from kiosk.page.beside import beside_page
from kiosk.page.certificate import certificate
from kiosk.page.page import page
from kiosk.page.weeks import span_page

__all__ = ["beside_page", "certificate", "page", "span_page"]
