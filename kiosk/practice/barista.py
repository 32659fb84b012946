"""A practised hand at the practice bar: does what the screen asks, with a finger on its keys and things on its scale.

Each way of working is a generator that yields whenever time has to pass; whoever runs it calls `next` on every tick.
"""

from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING

from hardware.practice import PracticeBar, PracticeScale
from kiosk.bar.model import Step
from kiosk.station.station import Station

if TYPE_CHECKING:                       # without graphics libraries there are no screens to import
    from kiosk.screens.ui.finger import Finger

PORTAFILTER_G, CUP_G = 512.0, 94.0
REACTION_S = 0.35       # from the cue to the switch
WORKS_S = 2.0           # to warm a cup, or to level and tamp: no key is touched sooner
PATIENCE_S = 90.0       # no step of a pull takes longer; past it the shift is stuck, and says where

Course = Iterator[None]


class Stuck(RuntimeError):
    """The kiosk did not go on where it should have."""


class ScriptedBarista:
    """`scale` is None where the bar has none: then everything goes by taps. `passed` is called with each moment's name."""

    def __init__(self, service: Station, finger: "Finger | None", bar: PracticeBar, scale: PracticeScale | None = None,
                 passed: Callable[[str], Course] = lambda name: iter(())):
        self.service, self.finger, self.bar, self.scale, self.passed = service, finger, bar, scale, passed
        self.in_cup_g: float | None = None      # truly, as the cup was lifted: a last drip may fall beside it

    # ---- time -----------------------------------------------------------------------------------------------------

    def wait(self, seconds: float) -> Course:
        until = self.service.clock.s() + seconds
        while self.service.clock.s() < until:
            yield

    def until(self, holds: Callable[[], bool], what: str) -> Course:
        patience = self.service.clock.s() + PATIENCE_S
        while not holds():
            if self.service.clock.s() > patience:
                raise Stuck(f"waited in vain for {what}")
            yield

    # ---- one pull -------------------------------------------------------------------------------------------------

    def order(self, *drinks: str) -> Course:
        yield
        self.finger.tap("Order")
        yield
        for drink in drinks:
            self.finger.tap(drink)
            yield
        yield from self.passed("order")
        self.finger.tap("Start")
        yield

    def pull(self, group: int, *, tap_stop: bool = False, gone: Callable[[], None] | None = None) -> Course:
        """The pull that lane `group` has, from the warm cup to served. `gone` is called once in mid-pull."""
        work = self.service.lanes[group].work
        key = work.key
        yield from self.passed("warm")
        yield from self.wait(WORKS_S)
        yield from self.to(group, Step.DOSE)
        yield from self.dose(group)
        yield from self.to(group, Step.PURGE)
        self.bar.purge_group()
        yield from self.passed("purge")
        yield from self.wait(work.guide.recipe.purge_s)
        yield from self.to(group, Step.PULL)
        if self.scale is not None:
            self.scale.put_on(CUP_G * work.planned.cups)
            yield from self.wait(1.2)
        yield from self.passed("locked in")
        self.tap(group)
        self.bar.begin_pull(basket=work.planned.basket)
        yield from self.run_pump(group, work, tap_stop, gone)
        yield from self.passed("poured")
        if self.scale is not None and work.guide.has_scale:
            yield from self.until(lambda: work.guide.yield_g is not None, "the yield to settle")
            yield from self.passed("settled")
            yield from self.to(group, Step.SERVE)
            self.in_cup_g = self.scale.load_g - CUP_G * work.planned.cups
            self.scale.lift_all()
            yield from self.until(lambda: self.service.lanes[group].last is not None
                                  and self.service.lanes[group].last.id == key, "the cup to be served")
        else:
            yield from self.to(group, Step.SERVE)
            if self.scale is not None:
                self.scale.lift_all()
            self.tap(group)
        yield

    def dose(self, group: int) -> Course:
        work = self.service.lanes[group].work
        dosed_g = self.bar.dose(work.guide.recipe.dose_g)
        if self.scale is None or not work.guide.has_scale:
            yield from self.wait(4)
            self.tap(group)
            yield
            return
        self.scale.put_on(PORTAFILTER_G)
        yield from self.until(lambda: work.dose_watch is not None and work.dose_watch.holds_empty, "the portafilter to be tared")
        yield from self.passed("portafilter")
        self.scale.put_on(dosed_g, over_s=4.0)
        yield from self.wait(6.5)
        while work.guide.step is Step.DOSE and work.guide.dose_fits is False:
            yield from self.passed("dose off")
            mend_g = work.guide.recipe.dose_g - work.guide.dose_g       # as the screen has it
            self.scale.put_on(mend_g)
            self.bar.mend_dose(mend_g)
            yield from self.wait(2)
        yield from self.until(lambda: work.guide.step is not Step.DOSE, "the dose to be read")
        self.scale.lift_all()
        yield from self.wait(WORKS_S)

    def run_pump(self, group: int, work, tap_stop: bool, gone) -> Course:
        """Until the kiosk says stop; then the switch, and a tap where nothing else would tell the kiosk."""
        began_s = self.service.clock.s()
        recipe = work.guide.recipe
        seen = False

        def told_to_stop() -> bool:
            if work.guide.has_scale:
                return work.cue_at_s is not None or self.service.clock.s() - began_s > 2 * recipe.time_s
            return self.service.clock.s() - began_s >= recipe.time_s - REACTION_S

        while not told_to_stop():
            yield
            if not seen and self.service.clock.s() - began_s > recipe.time_s * 0.6:
                seen = True
                yield from self.passed("pulling")
                if gone is not None:
                    gone()
        yield from self.wait(REACTION_S)
        self.bar.stop_pump(self.service.clock.s() - work.guide.pump_on_at_s)
        yield from self.passed("stop now")
        if tap_stop or not work.guide.has_scale:
            self.tap(group)
        yield
        yield from self.until(lambda: work.guide.pump_off_at_s is not None, "the stop to be seen")

    # ---- taps -----------------------------------------------------------------------------------------------------

    def tap(self, group: int) -> None:
        """The key to touch next: on the coach, or on the lane's card."""
        part = self.card(group)
        self.finger.tap((part or self.finger.rooms.open).next_text, part)

    def card(self, group: int):
        """The part of the screen that is lane `group`'s; all of it where the coach is on."""
        rooms = self.finger.rooms
        return None if rooms.current == "coach" else rooms.open.card(group)

    def to(self, group: int, step: Step) -> Course:
        """Tap on until the guide has come to `step`."""
        work = self.service.lanes[group].work
        steps = work.guide.steps
        while steps.index(work.guide.step) < steps.index(step):
            self.tap(group)
            yield
            yield from self.passed(str(work.guide.step))
