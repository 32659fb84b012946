"""Evenpull: a kiosk for the espresso station of a working bar."""

__version__ = "0.2.0"
