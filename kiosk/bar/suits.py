"""Across stretches: what a notch is worth on a grinder, and how the setting that suits the recipe moves over weeks.

A stretch says where its setting put the time; with what a notch is worth, that says which setting would have been right.
How that setting moves with the kilograms ground is wear; with the room's temperature and humidity, weather. Every
figure comes with its 95 % interval by Student's t, and is None where too little is known.
"""

from dataclasses import dataclass
from datetime import datetime
from math import sqrt
from statistics import fmean
from typing import Iterable, Sequence

from kiosk.bar.drift import counts
from kiosk.bar.even import DOSE_POWER, even_time_s
from kiosk.bar.record import Noted, Pull
from kiosk.bar.trend import Trend, t_quantile

EDGE = 8                   # pulls at either end of a stretch that a move is judged by
LEAST_MOVES = 3
ROOM_HOURS = 12            # a note of the room speaks for so many hours either side of it


@dataclass(frozen=True, slots=True)
class Estimate:
    """A figure, the ends of its 95 % interval, and how many stretches or moves it rests on."""

    value: float
    low: float
    high: float
    many: int


@dataclass(frozen=True, slots=True)
class Past:
    """A stretch that is over: seconds off the recipe as it began, on the whole, and as it ended; grams ground so far.

    `ground_g` counts the doses of all pulls up to the middle of this stretch, those not weighed at their recipe's.
    """

    at: str
    setting: int
    pulls: int
    began_s: float
    off_s: float
    ended_s: float
    ground_g: float
    coffee: str


def pasts(pulls: Iterable[Pull], dose_power: float = DOSE_POWER) -> tuple[Past, ...]:
    """The stretches of one grinder's pulls, oldest first; those with fewer than two that count are left out."""
    done, run, ground_g, since_g = [], [], 0.0, 0.0

    def over():
        if len(run) >= 2:
            offs = [off for _, off in run]
            done.append(Past(run[len(run) // 2][0].at, run[0][0].setting, len(run), fmean(offs[:EDGE]), fmean(offs),
                             fmean(offs[-EDGE:]), (since_g + ground_g) / 2, run[0][0].coffee))

    for pull in pulls:
        if run and _stretch(run[-1][0]) != _stretch(pull) and counts(pull):
            over()
            run, since_g = [], ground_g
        ground_g += 0.0 if pull.practice else pull.dose_g or pull.recipe.dose_g
        even_s = even_time_s(pull, dose_power) if counts(pull) else None
        if even_s is not None:
            run.append((pull, even_s - pull.recipe.time_s))
    over()
    return tuple(done)


def _stretch(pull: Pull) -> tuple:
    return pull.setting, pull.coffee


def notch_s(stretches: Sequence[Past]) -> Estimate | None:
    """Seconds by which one notch coarser shortens the time, from what each move did; None for fewer than three moves."""
    moves = [(b.setting - a.setting, a.ended_s - b.began_s) for a, b in zip(stretches, stretches[1:])
             if a.coffee == b.coffee and a.setting != b.setting]
    if len(moves) < LEAST_MOVES:
        return None
    weight = sum(n * n for n, _ in moves)
    worth = sum(n * s for n, s in moves) / weight
    left = sum((s - worth * n) ** 2 for n, s in moves) / (len(moves) - 1)
    within = t_quantile(0.975, len(moves) - 1) * sqrt(left / weight)
    return Estimate(worth, worth - within, worth + within, len(moves))


def hourly(drift: Trend, worth: Estimate) -> Estimate:
    """A day's drift in notches an hour: how far the collar has to be turned coarser to stay where it was.

    The two relative errors are taken as small and independent of each other.
    """
    value = drift.s_per_hour / worth.value
    within = sqrt(((drift.high - drift.low) / 2 / worth.value) ** 2 + (value * (worth.high - worth.low) / 2 / worth.value) ** 2)
    return Estimate(value, value - within, value + within, drift.pulls)


def suiting(past: Past, worth_s: float) -> float:
    """The setting, in notches and parts of one, that would have given the recipe's time."""
    return past.setting + past.off_s / worth_s


def over_weeks(stretches: Sequence[Past], worth_s: float) -> Estimate | None:
    """Notches a week by which the suiting setting moves (coarser: > 0)."""
    return _slope([_weeks(past, stretches[0]) for past in stretches], [suiting(p, worth_s) for p in stretches])


def over_kilograms(stretches: Sequence[Past], worth_s: float) -> Estimate | None:
    """Notches a kilogram ground. Burrs that wear ask for a finer setting: < 0."""
    return _slope([past.ground_g / 1000 for past in stretches], [suiting(p, worth_s) for p in stretches])


def over_room(stretches: Sequence[Past], worth_s: float, notes: Iterable[Noted], measure: str) -> Estimate | None:
    """Notches for each unit of `measure` ("temperature_c", "humidity"), wear allowed for.

    `notes` are those whose `what` is "room"; a stretch is read beside the nearest one within twelve hours.
    """
    noted = [(datetime.fromisoformat(note.at), note.facts[measure]) for note in notes
             if note.what == "room" and isinstance(note.facts.get(measure), (int, float))]
    room, ground_kg, settings = [], [], []
    for past in stretches:
        moment = datetime.fromisoformat(past.at)
        hours, value = min(((abs((at - moment).total_seconds()) / 3600, value) for at, value in noted), default=(1e9, 0.0))
        if hours <= ROOM_HOURS:
            room.append(value)
            ground_kg.append(past.ground_g / 1000)
            settings.append(suiting(past, worth_s))
    return _slope(room, settings, ground_kg)


def _weeks(past: Past, first: Past) -> float:
    return (datetime.fromisoformat(past.at) - datetime.fromisoformat(first.at)).total_seconds() / 604800


def _slope(xs: Sequence[float], ys: Sequence[float], beside: Sequence[float] | None = None) -> Estimate | None:
    """Slope of ys over xs by least squares, what goes with `beside` taken out of both first.

    That is the coefficient of xs in the fit to both (Frisch and Waugh, Econometrica 1, 1933).
    """
    freedom = len(ys) - (2 if beside is None else 3)
    if freedom < 1:
        return None
    x, y = _centred(xs), _centred(ys)
    if beside is not None:
        other = _centred(beside)
        x, y = _without(other, x), _without(other, y)
    weight = sum(a * a for a in x)
    if weight < 1e-9 * sum(a * a for a in _centred(xs)) or weight == 0:
        return None
    value = sum(a * b for a, b in zip(x, y)) / weight
    left = sum((b - value * a) ** 2 for a, b in zip(x, y)) / freedom
    within = t_quantile(0.975, freedom) * sqrt(left / weight)
    return Estimate(value, value - within, value + within, len(ys))


def _centred(values: Sequence[float]) -> list[float]:
    mean = fmean(values)
    return [value - mean for value in values]


def _without(other: list[float], values: list[float]) -> list[float]:
    weight = sum(a * a for a in other)
    share = sum(a * b for a, b in zip(other, values)) / weight if weight else 0.0
    return [b - share * a for a, b in zip(other, values)]
