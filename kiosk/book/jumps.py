"""A wall clock that jumps, told once. Durations never come from it, and records keep the order they were kept in."""

from datetime import UTC, date, datetime, timedelta

from kiosk.bar.messages import Message

BACK = timedelta(minutes=10)     # less is a clock being put right
MADE = date(2026, 1, 1)          # raised with a release: no clock that is right is before it
FORWARD = timedelta(days=30)     # less may be a holiday


class Jumps:
    """Shown the time at each record; `last` is the time of the one before this opening, where there was one.

    Times are compared with their offsets, so that summer time coming or going is no jump.
    """

    def __init__(self, last: datetime | None):
        self._last = last
        self.notices: list[Message] = []

    def known(self, now: datetime) -> None:
        """The clock, which was not set, is right from now on: what was said of it stands no more."""
        self._last = now.astimezone(UTC)
        self.notices.clear()

    def look(self, now: datetime) -> None:
        now = now.astimezone(UTC)   # two times of one zone would be compared by their hands alone
        if self._last is not None:
            moved = now - self._last
            if moved < -BACK:
                self.notices.append(Message("The clock was set back by {word}. Nothing is lost, and records stay in their order. "
                                            "Check the date and the time.", word=_said(-moved)))
            elif moved > FORWARD:
                self.notices.append(Message("The clock has gone forward by {moved} since the last record. If the bar was not closed "
                                            "that long, set the date.", moved=_said(moved)))
        elif now.date() < MADE:
            day = f"{now:%Y-%m-%d}"
            self.notices.append(Message("The clock says {day}, a day before this program was made. Set the date and the time.",
                                        day=day))
        self._last = now


def _said(how_long: timedelta) -> Message:
    minutes = round(how_long.total_seconds() / 60)
    if minutes >= 2 * 24 * 60:
        return Message("{n:d} days", n=minutes // (24 * 60))
    return Message("{n:d} hours", n=minutes // 60) if minutes >= 2 * 60 else Message("{n:d} minutes", n=minutes)
