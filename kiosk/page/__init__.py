"""The evening as one page of HTML that needs nothing else: no script, no network, no picture beside it."""

from kiosk.page.page import page

__all__ = ["page"]
