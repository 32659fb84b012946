"""The heart of an evening alone: its sentence, what to do, its figures."""

from collections.abc import Iterable

from kiosk.bar.evening.evening import evening
from kiosk.bar.evening.summary import Summary
from kiosk.bar.model import Record


def summary(records: Iterable[Record], day: str, last_day: str | None = None, **given) -> Summary:
    return evening(records, day, last_day, **given).summary
