"""A group's own signal that cannot be read, told on the glass."""

import time

from kiosk.languages import catalogue
from tests.support.at_work import AtWork


def test_a_signal_whose_port_does_not_answer_is_told_in_german_until_it_is_taken_away(tmp_path):
    settings = {"language": "de", "signals": {"1": {"url": str(tmp_path / "gone")}}}
    with AtWork(tmp_path / "book", scale=False, settings=settings) as work:
        signals, room = work.service.signals, work.kiosk.root.room("station")
        limit = time.monotonic() + 10
        while not signals.trouble and time.monotonic() < limit:
            work.frames(1)
        assert "does not answer" in signals.trouble
        work.service.publish()
        assert room.trouble == catalogue("de").render(signals.trouble) and "antwortet nicht" in room.trouble
        assert work.service.set_setting(("signals", "1", "url"), "") == ()
        work.service.publish()
        assert room.trouble == ""
