"""The book held against a plain list: `python -m tests.bench.book_model [STEPS]` (20,000 unless told).

Hypothesis draws what happens: pulls, several at once, taps, corrections, settings, memories, a new day, a restart, a disk that
fails its syncs for a while, a power cut. Bars: what was said to be on the medium is there after a cut, once, as it was and
in its turn; nothing is there that nobody kept; settings and corrected records are what the list says.
"""

import logging
import shutil
import sys
import tempfile
from dataclasses import replace
from pathlib import Path

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule, run_state_machine_as_test

from kiosk.bar.model import Corrected, GuideEvent, Pull
from kiosk.book import Book
from tests.bench.bars import Bars
from tests.support.bar_of_the_book import WallClock, a_pull
from tests.support.failing_disk import Forgetful

STEPS, STEPS_A_BOOK = 20_000, 50
taken: list[str] = []           # a word for each step that was taken, for whoever counts them


class BookAndList(RuleBasedStateMachine):
    """`sure` is what was confirmed, in turn; `kept` all that was kept since the last start, in turn."""

    def __init__(self):
        super().__init__()
        self.folder = Path(tempfile.mkdtemp())
        self.clock, self.sick = WallClock(), False
        self.sure: list = []
        self.kept: list = []
        self.settings: dict[str, int] = {}
        self.settings_sure: dict[str, int] = {}
        self._open()

    def teardown(self):
        self.book.close()
        shutil.rmtree(self.folder, ignore_errors=True)

    def _open(self):
        self.disk = Forgetful(lambda: self.sick)
        self.book = Book.open(self.folder, now=self.clock, disk=self.disk)
        self.book._wake = lambda: None      # taps are written with what is kept next, not by a thread: each run is the same

    def _raw(self) -> list:
        return sorted((each for day in self.book.days() for each in self.book.day(day).raw if not type(each).__name__ == "SettingChanged"),
                      key=lambda each: each.id)

    def _kept(self, *records):
        self.kept += records
        self._confirmed()

    def _confirmed(self):
        if self.book.trouble is None and not self.book.waiting:
            self.sure = list(self.kept)
            self.settings_sure = dict(self.settings)

    @rule(many=st.integers(1, 4), trace=st.integers(0, 3))
    def keep(self, many, trace):
        taken.append("keep")
        pulls = [a_pull(self.book, trace=tuple((float(n), float(n)) for n in range(trace))) for _ in range(many)]
        self.book.keep_all(pulls)
        self._kept(*pulls)

    @rule()
    def tap(self):
        taken.append("tap")
        event = GuideEvent(id=self.book.new_id(), at=self.book.at(), pull_id="next", event={"event": "Forward", "t_s": 1.0})
        self.book.jot(event)
        self.kept.append(event)

    @precondition(lambda self: any(isinstance(each, Pull) for each in self.kept))
    @rule(which=st.integers(0, 99), dose_g=st.floats(10, 20), void=st.booleans())
    def put_right(self, which, dose_g, void):
        taken.append("put right")
        pulls = [each for each in self.kept if isinstance(each, Pull)]
        correction = Corrected(id=self.book.new_id(), at=self.book.at(), of=pulls[which % len(pulls)].id,
                               changes={} if void else {"dose_g": dose_g}, void=void)
        self.book.keep(correction)
        self._kept(correction)

    @rule(name=st.sampled_from(("alpha", "beta")), value=st.integers(0, 9))
    def set(self, name, value):
        taken.append("set")
        self.book.set_setting(name, value)
        self.settings[name] = value
        self._confirmed()

    @rule(value=st.integers(0, 99))
    def remember(self, value):
        taken.append("remember")
        self.book.remember("watch", {"n": value})
        assert self.book.memory("watch") == {"n": value}

    @rule(hours=st.sampled_from((1, 5, 24, 49)))
    def time_passes(self, hours):
        taken.append("time")
        self.clock.pass_by(hours=hours)

    @rule(sick=st.booleans())
    def the_disk_fails_or_recovers(self, sick):
        taken.append("disk")
        self.sick = sick
        if not sick:
            self.book.nudge()
            self._confirmed()

    @precondition(lambda self: not self.sick)
    @rule()
    def restart(self):
        taken.append("restart")
        self.book.close()
        self.sure, self.settings_sure = list(self.kept), dict(self.settings)
        self._open()

    @rule()
    def power_cut(self):
        taken.append("cut")
        self.disk.power_cut()
        self.book._lock.release()
        self.sick = False
        self._open()
        there = self._raw()
        ids = [each.id for each in there]
        by_id = {each.id: each for each in self.kept}
        assert len(set(ids)) == len(ids), "something is there twice"
        assert all(by_id.get(each.id) == each for each in there), "something is there that nobody kept"
        assert {each.id for each in self.sure} <= set(ids), "something confirmed is lost"
        self.kept, self.sure = there, list(there)
        assert all(self.book.settings.get(name) is not None for name in self.settings_sure)
        self.settings = {name: self.book.settings[name] for name in ("alpha", "beta") if name in self.book.settings}
        self.settings_sure = dict(self.settings)

    @invariant()
    def the_same(self):
        assert self._raw() == sorted(self.kept, key=lambda each: each.id)
        assert {name: value for name, value in self.book.settings.items() if name in ("alpha", "beta")} == self.settings
        void = {each.of for each in self.kept if isinstance(each, Corrected) and each.void}
        doses = {each.of: each.changes["dose_g"] for each in self.kept if isinstance(each, Corrected) and not each.void}
        wanted = {each.id: replace(each, dose_g=doses.get(each.id, each.dose_g)) for each in self.kept
                  if isinstance(each, Pull) and each.id not in void}
        assert {each.id: each for day in self.book.days() for each in self.book.day(day).of(Pull)} == wanted


def campaign(steps: int) -> Bars:
    bars = Bars(f"The book against a plain list, {steps} steps")
    taken.clear()
    wrong = 0
    try:
        while len(taken) < steps:
            run_state_machine_as_test(BookAndList, settings=settings(
                max_examples=max(1, min(100, steps // STEPS_A_BOOK)), stateful_step_count=STEPS_A_BOOK, deadline=None,
                database=None, suppress_health_check=list(HealthCheck)))
    except AssertionError as found:
        wrong = 1
        print("  ", found)
    print("  " + ", ".join(f"{taken.count(each)} {each}" for each in sorted(set(taken))))
    bars.above("steps", len(taken), steps)
    bars.below("differences", wrong, 0)
    return bars


if __name__ == "__main__":
    logging.disable()
    sys.exit(campaign(int(sys.argv[1]) if sys.argv[1:] else STEPS).end())
