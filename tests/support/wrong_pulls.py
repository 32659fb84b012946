"""Thirteen wrong pulls on the real screens, each with its cause simulated: what a hire's page says at each moment.

`SAID` holds the words, numbers as #. The numbers are held against the pull's own and the recipe's apart: none may stand there
that is not one of theirs, and no word may go against them."""

import re
from dataclasses import dataclass
from pathlib import Path

from hardware.practice import Faults, PracticeBar
from kiosk.bar.guide import guide as guides
from kiosk.bar.guide.guide import Guide
from kiosk.bar.model import Step, usual
from tests.support.at_work import AtWork
from tests.support.quiet_hands import CUP_G

NUMBER = re.compile(r"\d+(?:\.\d+)?")
LIVE_S, LIVE_G = 0.3, 2.5         # a quarter of a second of the fastest stream here: a page is drawn five times a second
RECIPE = usual("House", "double")
SETTINGS = {"groups": 1, "staff": {"Ines": {}, "Tomo": {"new": True}}}


@dataclass(frozen=True, kw_only=True)
class Wrong:
    """What is wrong: in the puck, or in the hands. `stop_at` is the share of the yield where the pump is stopped."""

    faults: Faults = Faults()
    stop_at: float = 1.0
    purged: bool = True
    wait_s: float = 0.0
    cup: bool = True


WRONG = {
    "choked": Wrong(faults=Faults(coarser=-40)),
    "gushes": Wrong(faults=Faults(coarser=18, tamp_n=25), stop_at=1.3),
    "too fine": Wrong(faults=Faults(coarser=-4.5)),
    "too coarse": Wrong(faults=Faults(coarser=5)),
    "3 g over, kept": Wrong(faults=Faults(dose_g=3)),
    "3 g under, kept": Wrong(faults=Faults(dose_g=-3)),
    "soft tamp": Wrong(faults=Faults(tamp_n=25)),
    "channel": Wrong(faults=Faults(cracks_s=9)),
    "not purged": Wrong(purged=False),
    "locked in for two minutes": Wrong(wait_s=120),
    "no cup": Wrong(cup=False),
    "stopped late": Wrong(stop_at=1.4),
    "stopped early": Wrong(stop_at=0.6),
}


START = ("Start the pump and tap. Watch the stream. Stop when the kiosk says so. First drop after #–# s, done near # s. "
         "Later it tastes thin and bitter. # s Start at once [Pump on]")
DOSED = ("Set the empty portafilter on the scale. Grind only what this pull needs. One or two grams more or less change "
         "the taste. Ground coffee goes stale in minutes. # g Right [Dosed]")
WATCH = ("Watch the stream. Stop when the kiosk says so. First drop after #–# s, done near # s. Later it tastes thin and "
         "bitter. # s # g #–# s, #–# g [Stop]")
PAST = ("Past its time: stop First drop after #–# s, done near # s. Later it tastes thin and bitter. "
        "# s # g #–# s, #–# g [Stop]")
# name of the wrong pull → what its page says at each moment
SAID = {
    "choked": {
        "dosed": DOSED,
        "locked in": START,
        "pouring": (
            "Nothing flows: stop the pump. Next: tamp as always. If that chokes too, grind one notch "
            "coarser. # s # g [Stop]"),
        "stopped": (
            "Pump off. Hear it vent, wait, face away, then ease it open. If it does not vent, leave it "
            "locked in, use no force, and call a technician. Next: tamp as always. If that chokes too, grind "
            "one notch coarser. # s # g #–# s, #–# g [Bin it]"),
    },
    "gushes": {
        "dosed": DOSED,
        "locked in": START,
        "pouring": (
            "Gushing: stop the pump. Next: level, then tamp firm and straight. If that gushes too, grind one "
            "notch finer. # s # g [Stop]"),
        "stopped": (
            "Gushed: # g in # s. Pour it away. Next: level, then tamp firm and straight. If that gushes too, "
            "grind one notch finer. # s # g #–# s, #–# g [Bin it]"),
    },
    "too fine": {
        "dosed": DOSED,
        "locked in": START,
        "pouring": PAST,
        "stopped": (
            "Look at the time, the weight and the crema. It ran too slowly: # g in # s (#–# g, #–# s). Tamp "
            "the next one as always, no harder. # s # g #–# s, #–# g [Judged]"),
    },
    "too coarse": {
        "dosed": DOSED,
        "locked in": START,
        "pouring": WATCH,
        "stopped": (
            "Look at the time, the weight and the crema. It ran too fast: # g in # s (#–# g, #–# s). Level "
            "the next one, and tamp it firm and straight. # s # g #–# s, #–# g [Judged]"),
    },
    "3 g over, kept": {
        "dosed": "# g too much: take it out before tamping. Too much coffee chokes the pull. # g −# g take out # g [Keep it]",
        "locked in": START,
        "pouring": PAST,
        "stopped": (
            "Look at the time, the weight and the crema. It ran too slowly: # g in # s (#–# g, #–# s). Weigh "
            "the next dose: this one was # g over. # s # g #–# s, #–# g [Judged]"),
    },
    "3 g under, kept": {
        "dosed": (
            "# g too little: add it before tamping. Too little coffee lets the water run through. # g +# g "
            "add # g [Keep it]"),
        "locked in": START,
        "pouring": WATCH,
        "stopped": (
            "Look at the time, the weight and the crema. It ran too fast: # g in # s (#–# g, #–# s). Weigh "
            "the next dose: this one was # g under. # s # g #–# s, #–# g [Judged]"),
    },
    "soft tamp": {
        "dosed": DOSED,
        "locked in": START,
        "pouring": WATCH,
        "stopped": (
            "Look at the time, the weight and the crema. It ran too fast: # g in # s (#–# g, #–# s). Level "
            "the next one, and tamp it firm and straight. # s # g #–# s, #–# g [Judged]"),
    },
    "channel": {
        "dosed": DOSED,
        "locked in": START,
        "pouring": WATCH,
        "stopped": (
            "Look at the time, the weight and the crema. It ran too fast: # g in # s (#–# g, #–# s). Level "
            "the next one, and tamp it firm and straight. # s # g #–# s, #–# g [Judged]"),
    },
    "not purged": {
        "dosed": DOSED,
        "locked in": START,
        "pouring": WATCH,
        "stopped": (
            "Look at the time, the weight and the crema. # s and # g are right. But the group was not "
            "purged: purge it before the next one. # s # g #–# s, #–# g [Judged]"),
    },
    "locked in for two minutes": {
        "dosed": DOSED,
        "locked in": (
            "Locked in # s: the coffee is scorched. Knock it out and dose again. Lock in last, and start at "
            "once. # s [Bin it]"),
        "pouring": WATCH,
        "stopped": (
            "It lay # s in the hot group: scorched. Pour it away. Lock in last, and start at once. # s # g #–# s, #–# g [Bin it]"),
    },
    "no cup": {
        "dosed": DOSED,
        "locked in": START,
        "pouring": "No cup on the scale? Look under the spouts. Set the cup before the pump. # s # g [Stop]",
        "stopped": "Look at the time, the weight and the crema. # s is right (#–#). # #–# s, yield not weighed [Judged]",
    },
    "stopped late": {
        "dosed": DOSED,
        "locked in": START,
        "pouring": PAST,
        "stopped": (
            "Look at the time, the weight and the crema. Stopped late: # g in # s (#–# g, #–# s). Stop as "
            "soon as the kiosk says so. # s # g #–# s, #–# g [Judged]"),
    },
    "stopped early": {
        "dosed": DOSED,
        "locked in": START,
        "pouring": WATCH,
        "stopped": (
            "Look at the time, the weight and the crema. Stopped early: # g in # s (#–# g, #–# s). Wait "
            "until the kiosk says stop. # s # g #–# s, #–# g [Judged]"),
    },
}


def contradictions(words: str, guide: Guide, work: AtWork) -> list[str]:
    """What of `words` no number bears out: the pull's own as the guide has them, and the recipe's."""
    recipe, (low_s, high_s), (least_g, most_g) = guide.recipe, guide.recipe.time_window_s, guide.recipe.yield_window_g
    watch = work.service.lanes[1].work.pour_watch
    cup_g = guide.yield_g if guide.yield_g is not None else watch.grams if watch is not None else None
    waited_s = None if guide.locked_at_s is None else (guide.pump_on_at_s or work.t_s) - guide.locked_at_s
    off_g = None if guide.dose_g is None else guide.dose_g - recipe.dose_g
    true = {f"{each:g}" for each in (recipe.dose_g, recipe.time_s, recipe.first_drop_from_s, recipe.first_drop_to_s)}
    true |= {f"{round(each, 1):g}" for each in (low_s, high_s, least_g, most_g)} | {f"{recipe.yield_g:.0f}"}
    for value in (guide.time_s, guide.dose_g, cup_g, waited_s, off_g):
        true |= set() if value is None else {f"{abs(value):.0f}", f"{abs(value):.1f}"}
    if guide.pulling:                               # the page is drawn a moment after a line of the scale, and a tick of the clock
        true |= {each for each in re.findall(r"([\d.]+) g", words) if cup_g is not None and abs(float(each) - cup_g) < LIVE_G}
        true |= {each for each in re.findall(r"([\d.]+) s", words) if abs(float(each) - (work.t_s - guide.pump_on_at_s)) < LIVE_S}
    wrong = [f"{number} of: {words}" for number in NUMBER.findall(words) if number not in true]
    flow = None if not guide.time_s or cup_g is None else cup_g / guide.time_s / (recipe.yield_g / recipe.time_s)
    holds = {
        "too fast": lambda: guide.time_s < low_s or flow > 1.2, "too slowly": lambda: guide.time_s > high_s or flow < 0.83,
        "Stopped late": lambda: cup_g > most_g, "Stopped early": lambda: cup_g < least_g, "Gush": lambda: flow is None or flow > 2,
        "Nothing flows": lambda: cup_g < 5, "vent": lambda: cup_g < 5, "are right": lambda: recipe.in_window(guide.time_s, cup_g),
        "s is right": lambda: recipe.time_fits(guide.time_s), "over": lambda: off_g > 0.5, "too much:": lambda: off_g > 0.5,
        "under": lambda: off_g < -0.5 or "under the" in words, "too little:": lambda: off_g < -0.5,
        "scorched": lambda: waited_s > 60, "not purged": lambda: guide.purged is False,
        "[Judged]": lambda: flow is None or 0.5 < flow < 2, "Start at once": lambda: waited_s < 60,
        "past its time": lambda: work.t_s - guide.pump_on_at_s > high_s, "No cup": lambda: cup_g is None or cup_g < 1,
        "not weighed": lambda: guide.yield_g is None,
    }
    return wrong + [f"{claim} of: {words}" for claim, so in holds.items() if claim in words and not so()]


@dataclass
class Play:
    """One pull on the hire's page: `said` is what it said at each moment, `untrue` what of it was not so."""

    work: AtWork
    wrong: Wrong

    def __post_init__(self):
        self.said: dict[str, str] = {}
        self.untrue: list[str] = []
        work, wrong = self.work, self.wrong
        bar = PracticeBar(scale=work.scale, seed=3, faults=wrong.faults, dose_sd_g=0.0, tamp_sd=0.0, grind_sd=0.0)
        self.dose_g = round(bar.dose(RECIPE.dose_g), 1)
        self.to(Step.DOSE)
        work.service.happened(1, guides.DoseTapped(work.t_s, self.dose_g))
        self.look("dosed")
        self.to(Step.PURGE)
        if wrong.purged:
            bar.purge_group()
            work.service.tap(1, guides.Forward)
        else:
            work.service.tap(1, guides.SkipTo, "lock")
        self.to(Step.PULL)
        if wrong.cup:
            work.scale.put_on(CUP_G)
        work.frames(30 + round(wrong.wait_s / 0.05))
        self.look("locked in")
        stream = bar.begin_pull()
        work.service.tap(1, guides.Forward)
        enough_s = min(38.0, stream.stop_for(RECIPE.yield_g * wrong.stop_at))
        work.frames(round(enough_s * 0.9 / 0.05))
        self.look("pouring")
        work.frames(round(enough_s * 0.1 / 0.05))
        work.service.tap(1, guides.Forward)
        bar.stop_pump()
        work.frames(160)
        self.look("stopped")

    @property
    def guide(self):
        return self.work.service.lanes[1].work.guide

    def to(self, step: Step):
        while self.guide.step is not step:
            self.work.service.tap(1, guides.Forward)
        self.work.frames(3)

    def look(self, moment: str):
        self.work.frames(6)
        page = self.work.kiosk.root.open
        assert self.work.kiosk.root.current == "coach"
        figures = f"{page.big_shown} {page.big_unit}".strip(), f"{page.second} {page.second_unit}".strip()
        words = " ".join(part for part in (page.what, page.why, *figures, page.told, f"[{page.next_text}]") if part)
        self.said[moment] = NUMBER.sub("#", words)
        self.untrue += contradictions(words, self.guide, self.work)


def played(name: str, folder: Path) -> Play:
    """That wrong pull, by a hire who sees every step, in a book in `folder`."""
    with AtWork(folder, settings=SETTINGS) as work:
        work.service.choose("Tomo")
        work.service.orders.take(((work.service.setup.drink("Double espresso"), 1),))
        work.frames(5)
        return Play(work, WRONG[name])
