"""Days and weeks as they are written on a command line."""

import argparse
from datetime import date

from kiosk.bar.model import is_day

WEEKDAYS = (1, 7)


def day(text: str) -> str:
    """"2026-10-23", for argparse."""
    if not is_day(text):
        raise argparse.ArgumentTypeError(f"{text!r} is no day: write it like 2026-10-23")
    return text


def week(text: str) -> tuple[str, str]:
    """The Monday and the Sunday of "2026-W43", for argparse."""
    try:
        year, number = text.upper().split("-W")
        ends = tuple(date.fromisocalendar(int(year), int(number), each).isoformat() for each in WEEKDAYS)
    except ValueError:
        ends = ()
    if not ends or not all(map(is_day, ends)):
        raise argparse.ArgumentTypeError(f"{text!r} is no week: write it like 2026-W43")
    return ends
