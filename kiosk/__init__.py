"""Evenpull: a kiosk for the espresso station of a working bar."""
