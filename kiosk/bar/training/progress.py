"""A new hire's record: steps skipped, doses, seconds a step, causes told apart, and whether the help may fade. Pure."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import sqrt
from statistics import fmean, median

from kiosk.bar.model import EVERY_STEP, TASTED_AT_OPENING, Noted, Pull, Step, service_day
from kiosk.bar.training.lesson import Score, score

PRACTICE, SIGNED_OFF, SHOWN, LESSON_DONE = "practice", "signed off", "step shown", "lesson done"    # what a Noted says
STEADY_PULLS = 20           # made, before the help may fade (chosen)
LOOKED_AT = 10              # the latest of them
RIGHT_DOSES = 9             # of the latest weighed ones, within tolerance
IN_WINDOW = 9               # of the latest, timed right (and weighed right, where they were weighed)
HANDS_STEPS = 4             # of a pull walked step by step, before its pace is looked at
HASTY_S = 1.5               # median seconds a step of the hands below which steps were tapped through, not done
FIRST_AND_LAST = 10         # pulls at each end whose seconds are compared


@dataclass(frozen=True, slots=True, kw_only=True)
class Brief:
    """What is remembered of one pull for the rule: `dose_right` is None where the dose was not weighed, `in_window` where
    the pull was not timed; `hasty` pulls had their steps tapped through."""

    pull_id: str
    skipped: int
    dose_right: bool | None
    in_window: bool | None
    hasty: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Steadiness:
    """How far the rule is met: every step is shown until all of it is. `weighed` latest doses, `right` of those."""

    pulls: int
    clean: int
    weighed: int
    right: int
    in_window: int

    @property
    def holds(self) -> bool:
        return (self.pulls >= STEADY_PULLS and self.clean >= LOOKED_AT and self.in_window >= IN_WINDOW
                and self.weighed - self.right <= LOOKED_AT - RIGHT_DOSES)


@dataclass(frozen=True, slots=True, kw_only=True)
class StepSeconds:
    """Median seconds in one step, over a hire's first pulls and their latest; alike where there are too few to part."""

    step: str
    first_s: float
    latest_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LessonDone:
    """A lesson that a trainer put together, done: `right` of `of` faults named rightly, of which `by_eye` had nothing but a scale
    to tell them from their like."""

    lesson: str
    day: str
    right: int
    of: int
    by_eye: int
    blind: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Training:
    """`dose_sd_g` is the weighed doses' spread about the recipe's, None below two; `signed` the latest sign-off,
    `shown` the latest tick of a trainer for each step, in the order of the work; `lessons` the latest result of each that a
    trainer put together, as it was first done."""

    name: str
    pulls: int
    skipped: tuple[tuple[str, int], ...]
    doses: int
    doses_right: int
    dose_sd_g: float | None
    step_s: tuple[StepSeconds, ...]
    score: Score
    steady: Steadiness
    signed: Noted | None
    shown: tuple[Noted, ...] = ()
    lessons: tuple[LessonDone, ...] = ()


def made(pull: Pull) -> bool:
    """Whether it came to a pull at all: what was binned before the pump was on teaches nothing; nor does a shot that is
    pulled to set the collar by."""
    return pull.time_s is not None and pull.sink != TASTED_AT_OPENING


def brief(pull: Pull) -> Brief:
    by_hand = [s for name, s in pull.step_s if name not in (Step.PULL, Step.SERVE, Step.JUDGE)]
    right = pull.recipe.in_window(pull.time_s, pull.yield_g) if pull.sink is None else False
    return Brief(pull_id=pull.id, skipped=len(pull.skipped) + len(pull.not_told), dose_right=pull.recipe.dose_fits(pull.dose_g),
                 in_window=right, hasty=len(by_hand) >= HANDS_STEPS and median(by_hand) < HASTY_S)


def steadiness(pulls: int, latest: Sequence[Brief]) -> Steadiness:
    """How `pulls` in all, of which `latest` are the last, stand to the rule."""
    latest = latest[-LOOKED_AT:]
    weighed = [each.dose_right for each in latest if each.dose_right is not None]
    clean = sum(each.skipped == 0 and not each.hasty for each in latest)
    return Steadiness(pulls=pulls, clean=clean, weighed=len(weighed), right=sum(weighed),
                      in_window=sum(each.in_window is True for each in latest))


def answers(noted: Iterable[Noted], name: str | None) -> tuple[tuple[str, str], ...]:
    """What `name` called each cause at the practice bar: (cause, named)."""
    return tuple((str(each.facts.get("cause")), str(each.facts.get("named"))) for each in noted
                 if each.what == PRACTICE and each.by == name)


def sign_off(noted: Iterable[Noted], name: str) -> Noted | None:
    """The latest sign-off of `name`; `by` is the trainer's."""
    return max((each for each in noted if each.what == SIGNED_OFF and each.facts.get("who") == name),
               key=lambda each: each.id, default=None)


def shown(noted: Iterable[Noted], name: str) -> tuple[Noted, ...]:
    """The latest time a trainer saw `name` do each step right; `by` is the trainer's."""
    latest = {str(each.facts.get("step")): each for each in noted if each.what == SHOWN and each.facts.get("who") == name}
    return tuple(latest[step] for step in map(str, EVERY_STEP) if step in latest)


def lessons_done(noted: Iterable[Noted], name: str) -> tuple[LessonDone, ...]:
    """How the latest of each lesson went for `name`."""
    found = {}
    for note in noted:
        lesson, right, of, by_eye = (note.facts.get(each) for each in ("lesson", "right", "of", "by_eye"))
        if note.what == LESSON_DONE and note.by == name and isinstance(right, int) and isinstance(of, int) and isinstance(by_eye, int):
            found[str(lesson)] = LessonDone(lesson=str(lesson), day=service_day(note.at), right=right, of=of, by_eye=by_eye,
                                            blind=note.facts.get("blind") is True)
    return tuple(found.values())


def training(name: str, pulls: Iterable[Pull], noted: Iterable[Noted]) -> Training:
    """The record of `name` out of everybody's pulls and notes, in the order kept."""
    noted = tuple(noted)
    theirs = [pull for pull in pulls if pull.barista == name and made(pull)]
    weighed = [pull for pull in theirs if pull.dose_g is not None]
    off = [pull.dose_g - pull.recipe.dose_g for pull in theirs if pull.dose_g is not None]
    briefs = [brief(pull) for pull in theirs]
    left_out = [step for pull in theirs for step in pull.skipped]
    return Training(
        name=name, pulls=len(theirs), doses=len(weighed), doses_right=sum(each.dose_right is True for each in briefs),
        dose_sd_g=sqrt(fmean(g * g for g in off)) if len(off) > 1 else None,
        skipped=tuple((step, left_out.count(step)) for step in map(str, EVERY_STEP) if step in left_out),
        step_s=_step_seconds(theirs), score=score(answers(noted, name)),
        steady=steadiness(len(theirs), briefs), signed=sign_off(noted, name),
        shown=shown(noted, name), lessons=lessons_done(noted, name))


def _step_seconds(pulls: Sequence[Pull]) -> tuple[StepSeconds, ...]:
    found = []
    for step in map(str, EVERY_STEP):
        # A step entered twice in one pull, say after a step back, took the time of both.
        took = [sum(s for name, s in pull.step_s if name == step) for pull in pulls
                if any(name == step for name, _ in pull.step_s)]
        if took:
            first, latest = took[:FIRST_AND_LAST], took[-FIRST_AND_LAST:]
            found.append(StepSeconds(step=step, first_s=median(first), latest_s=median(latest)))
    return tuple(found)
