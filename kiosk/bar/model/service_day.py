"""A service day: from a set hour to the next, so that a late bar has one day and not two."""

from datetime import date, datetime, time, timedelta

STARTS = time(4, 0)


def service_day(at: str, starts: time = STARTS) -> str:
    """The service day, "YYYY-MM-DD", that holds wall time `at` (ISO 8601 with its UTC offset).

    The offset is part of the time, so a clock change in the night neither loses nor doubles a pull.
    """
    moment = datetime.fromisoformat(at)
    day = moment.date() if moment.time() >= starts else moment.date() - timedelta(days=1)
    return day.isoformat()


def day_before(day: str) -> str:
    return (date.fromisoformat(day) - timedelta(days=1)).isoformat()


def span(first: str, last: str) -> tuple[str, ...]:
    """Every service day from `first` to `last`, both included."""
    begin, end = date.fromisoformat(first), date.fromisoformat(last)
    return tuple((begin + timedelta(days=n)).isoformat() for n in range((end - begin).days + 1))
