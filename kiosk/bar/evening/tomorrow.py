"""Up to three things to do tomorrow, the one that hurts the cup most first, each with what it rests on."""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import timedelta
from statistics import fmean
from typing import Any

from kiosk.bar.drift import HANDS, TENTH_S
from kiosk.bar.evening.figures import SINK, Figures, GrinderFigures, clock, dose_off, moment
from kiosk.bar.evening.notch import NOTCH_S
from kiosk.bar.evening.opening import Start, start
from kiosk.bar.evening.timers import TimerWanted
from kiosk.bar.messages import Message, joined
from kiosk.bar.model import Pull, service_day

MOST = 3
MANY_TURNS = 6                # in a day, most of them unflagged: somebody chases noise (common practice)
DRIFT_WORTH_SAYING_S = 2.0    # over the hours it was watched
FAST_S_PER_HOUR = 0.4
LEAST_BY_S = 0.05             # less reads as nothing: "0.0 s"
EARLY_SHARE = 0.08, 0.5       # of pulls with an early first drop: in more than half, it is the grinder's doing
UNEVEN_S = 2.5                # spread of adjusted time past which hands or grinder are uneven (common practice)
PURGED_WITHIN_S = 300.0
SLOWER, FASTER = Message("slower"), Message("faster")


@dataclass(frozen=True, slots=True, kw_only=True)
class ToDo:
    """`what` to do, `because` of what, resting on the records named by `record_ids`."""

    what: Message
    because: Message
    record_ids: tuple[str, ...]


def to_do(figures: Figures, names: bool = True, timers: Sequence[TimerWanted] = ()) -> tuple[ToDo, ...]:
    """`names`: whether a person may be named. A timer is left alone where the collar is to be turned: a notch changes what it
    grinds."""
    to_turn = _to_turn(figures)
    turned = {each.grinder for each, _ in to_turn}
    timers = [each for each in timers if each.grinder not in turned]
    found = (*_grinders_left_off(to_turn), *_timers(timers), *_doses(figures, {each.grinder for each in timers}), *_scale(figures),
             *_not_measured(figures), *_hands(figures, names), *_drifting(figures), *_turned_too_often(figures), *_old_grounds(figures),
             *_uneven(figures), *_groups(figures), *_sink(figures))
    return tuple(found[:MOST])


def _to_turn(figures: Figures) -> list[tuple[GrinderFigures, Start]]:
    return [(each, begin) for each in figures.grinders if (begin := start(each)) is not None and begin.turned
            and not _against_the_flag(each, begin.turned)]


def _grinders_left_off(to_turn: list[tuple[GrinderFigures, Start]]) -> Iterable[ToDo]:
    for each, begin in sorted(to_turn, key=lambda found: -found[1].by):
        what = Message("Start {grinder} one notch coarser, at {setting}.", grinder=each.grinder, setting=begin.setting) \
            if begin.turned > 0 else Message("Start {grinder} one notch finer, at {setting}.", grinder=each.grinder, setting=begin.setting)
        yield ToDo(what=what, because=joined(" ", [begin.why, Message("Judge two pulls there.")]), record_ids=begin.record_ids)


def _against_the_flag(each: GrinderFigures, turned: int) -> bool:
    """Whether the watch's last word of the day, with no turn since, asks for the other way."""
    last = max((flag for flag in each.flags if flag.direction is not None), key=lambda flag: moment(flag.at), default=None)
    if last is None or any(moment(move.at) > moment(last.at) for move in each.moves):
        return False
    return (last.direction == "coarser") != (turned > 0)


def _timers(timers: Iterable[TimerWanted]) -> Iterable[ToDo]:
    for each in timers:
        about = {"grinder": each.grinder, "s": abs(each.tenths) * TENTH_S, "to": each.timer_s + each.tenths * TENTH_S}
        said = {"n": each.doses, "g": abs(each.off_g), "rate": each.g_per_s}
        if each.tenths > 0:
            yield ToDo(what=Message("Set the timer of {grinder} {s:.1f} s longer, to {to:.1f} s.", **about), record_ids=each.record_ids,
                       because=Message("The last {n:d} weighed doses were {g:.1f} g light, and it grinds {rate:.1f} g a second. Weigh "
                                       "the first dose.", **said))
        else:
            yield ToDo(what=Message("Set the timer of {grinder} {s:.1f} s shorter, to {to:.1f} s.", **about), record_ids=each.record_ids,
                       because=Message("The last {n:d} weighed doses were {g:.1f} g heavy, and it grinds {rate:.1f} g a second. Weigh "
                                       "the first dose.", **said))


def _doses(figures: Figures, timed: Collection[str]) -> Iterable[ToDo]:
    """Of grinders whose timer is not what wants to be put right (`timed`)."""
    weighed = [pull for pull in figures.pulls if pull.dose_g is not None and pull.grinder not in timed]
    off = [pull for pull in weighed if dose_off(pull)]
    if len(off) < 4 or len(off) < 0.08 * len(weighed):
        return
    short = sum(pull.dose_g is not None and pull.dose_g < pull.recipe.dose_g for pull in off)
    lean = (Message("most of them short") if short > 0.75 * len(off) else
            Message("most of them over") if short < 0.25 * len(off) else Message("some short, some over"))
    yield ToDo(what=Message("Weigh each dose and put it right before tamping."),
               because=Message("{off:d} of {weighed:d} weighed doses were outside their tolerance, {lean}; {when}.",
                            off=len(off), weighed=len(weighed), lean=lean, when=_when(off)),
               record_ids=_ids(off))


def _scale(figures: Figures) -> Iterable[ToDo]:
    wrong = [check for check in figures.scale_checks
             if abs(check.read_g - check.nominal_g) > (check.resolution_g or 0.1) + 1e-9]
    if wrong:
        worst = max(wrong, key=lambda check: abs(check.read_g - check.nominal_g))
        yield ToDo(what=Message("Level and clean the scale, then check it again."),
                   because=Message("A weight of {nominal_g:g} g read {read_g:g} g.", nominal_g=worst.nominal_g,
                                read_g=worst.read_g),
                   record_ids=tuple(check.id for check in wrong))


def _not_measured(figures: Figures) -> Iterable[ToDo]:
    blind = [pull for pull in figures.pulls if pull.dose_g is None]
    if len(blind) < 5 or len(blind) < 0.05 * len(figures.pulls):
        return
    if len(blind) == len(figures.pulls):
        if all(pull.yield_g is None for pull in blind):
            return                          # a bar without a scale knows that it has none
        yield ToDo(what=Message("Weigh the doses."), record_ids=_ids(blind),
                   because=Message("None of {n:d} was weighed: a wrong dose looks like a grinder that drifted.", n=len(blind)))
    else:
        yield ToDo(what=Message("Look at the scale and its cable before opening."),
                   because=Message("{n:d} of {all:d} doses were not weighed; {when}.", n=len(blind),
                                all=len(figures.pulls), when=_when(blind)),
                   record_ids=_ids(blind))


def _drifting(figures: Figures) -> Iterable[ToDo]:
    for each in figures.grinders:
        drift = each.drift
        if drift and drift.sure and drift.in_all_s >= DRIFT_WORTH_SAYING_S and abs(drift.s_per_hour) >= FAST_S_PER_HOUR:
            every_h = max(0.5, NOTCH_S / abs(drift.s_per_hour))
            yield ToDo(
                what=Message("Judge {grinder} every {every_h:.1f} h, turn when flagged.", grinder=each.grinder, every_h=every_h),
                because=Message("It ran {s:.1f} s {way} each hour ({low:+.1f} to {high:+.1f} s), allowing for changes of the grind setting.",
                                s=abs(drift.s_per_hour), way=SLOWER if drift.s_per_hour > 0 else FASTER, low=drift.low,
                                high=drift.high),
                record_ids=tuple(id for run in each.runs for id in run.told))


def _hands(figures: Figures, names: bool) -> Iterable[ToDo]:
    """What the watch found of a person: told kindly, and by name only where that is wanted."""
    for each in figures.grinders:
        told = [flag for flag in each.flags if flag.what == HANDS and flag.evidence.get("who")
                and abs(flag.evidence["own_after_s"] - flag.evidence["own_before_s"]) >= LEAST_BY_S]
        if told:
            last = told[-1]
            by_s = last.evidence["own_after_s"] - last.evidence["own_before_s"]
            about = {"since": clock(told[0].at, figures.first_day != figures.last_day), "s": abs(by_s), "way": SLOWER if by_s > 0 else FASTER}
            because = (Message("From about {since} {name}'s pulls ran {s:.1f} s {way}; the others' did not.",
                               name=last.evidence["who"], **about) if names else
                       Message("From about {since} one person's pulls ran {s:.1f} s {way}; the others' did not.", **about))
            yield ToDo(what=Message("Level and tamp together once, and leave the grinder."), because=because,
                       record_ids=tuple(flag.id for flag in told))


def _turned_too_often(figures: Figures) -> Iterable[ToDo]:
    for each in figures.grinders:
        bare = [move for move in each.moves if move.flag_id is None]
        if len(each.moves) >= MANY_TURNS and len(bare) > len(each.moves) / 2:
            purged = [purge.grams for purge in figures.purges
                      if (purge.grinder, purge.coffee) == (each.grinder, each.coffee)]
            cost_g = fmean(purged) if purged else 0.0
            because = Message("{grinder} was turned {n:d} times, {bare:d} of them without a flag.", grinder=each.grinder,
                              n=len(each.moves), bare=len(bare))
            if cost_g >= 0.5:
                because = Message("{grinder} was turned {n:d} times, {bare:d} of them without a flag; each cost {g:.0f} g.",
                                  grinder=each.grinder, n=len(each.moves), bare=len(bare), g=cost_g)
            yield ToDo(what=Message("Turn the grinder only when its flag says so."), because=because,
                       record_ids=tuple(move.id for move in bare))


def _old_grounds(figures: Figures) -> Iterable[ToDo]:
    moves = [move for each in figures.grinders for move in each.moves]
    bare = [move for move in moves if not any(
        purge.grinder == move.grinder and timedelta(seconds=-60) <= moment(purge.at) - moment(move.at)
        <= timedelta(seconds=PURGED_WITHIN_S) for purge in figures.purges)]
    if bare:
        yield ToDo(what=Message("Grind the old grounds away after each notch."),
                   because=Message("{n:d} of {all:d} notch moves had no purge noted: the next pull was partly of the old "
                                "setting.", n=len(bare), all=len(moves)),
                   record_ids=tuple(move.id for move in bare))


def _uneven(figures: Figures) -> Iterable[ToDo]:
    what = Message("Tamp level, same pressure: show each other how.")
    seen = [pull for each in figures.grinders for told in each.told for pull in told if pull.early is not None]
    early = [pull for pull in seen if pull.early]
    if len(early) >= 4 and EARLY_SHARE[0] * len(seen) <= len(early) <= EARLY_SHARE[1] * len(seen):
        yield ToDo(what=what, record_ids=tuple(pull.id for pull in early),
                   because=Message("{n:d} of {all:d} first drops came well before their window: a soft or tilted tamp "
                                "lets water through at once.", n=len(early), all=len(seen)))
        return
    wide = [run for each in figures.grinders for run in each.runs
            if run.even_sd_s is not None and len(run.told) >= 10 and run.even_sd_s > UNEVEN_S]
    if wide:
        worst = max(wide, key=lambda run: run.even_sd_s or 0.0)
        yield ToDo(what=what, record_ids=worst.told,
                   because=Message("At {grinder}, setting {setting}, adjusted times spread by {s:.1f} s over {pulls:d} pulls, "
                                "doses already taken out.", grinder=worst.grinder, setting=worst.setting,
                                s=worst.even_sd_s, pulls=len(worst.told)))


def _groups(figures: Figures) -> Iterable[ToDo]:
    known = [pull for pull in figures.pulls if pull.purged is not None]
    skipped = [pull for pull in known if not pull.purged]
    if len(skipped) >= 4 and len(skipped) >= 0.05 * len(known):
        yield ToDo(what=Message("Purge the group before every pull."),
                   because=Message("{n:d} of {all:d} pulls began without; {when}.", n=len(skipped), all=len(known),
                                when=_when(skipped)),
                   record_ids=_ids(skipped))


def _sink(figures: Figures) -> Iterable[ToDo]:
    # what was pulled for nobody was pulled to be tasted: no loss to look into
    sunk = [pull for pull in figures.pulls if pull.sink is not None and pull.order_id is not None]
    if len(sunk) >= 4 and len(sunk) >= 0.03 * len(figures.pulls):
        words = [pull.sink for pull in sunk if pull.sink is not None]
        often = max(sorted(set(words)), key=words.count)
        grams = sum(each.grams for each in figures.waste if each.why == SINK and each.record_id in _ids(sunk))
        yield ToDo(what=Message("Look through the sink shots together."), record_ids=_ids(sunk),
                   because=Message("{n:d} of {all:d} pulls, {grams:.0f} g of coffee; most often “{word}” ({times:d}).",
                                n=len(sunk), all=len(figures.pulls), grams=grams, word=Message(often),
                                times=words.count(often)))


def _when(pulls: Sequence[Pull]) -> Message:
    """Where they lie in the day: a window of at most two hours that holds most of them, or all through it."""
    best: list[Pull] = []
    for first in pulls:
        window = [pull for pull in pulls if timedelta(0) <= moment(pull.at) - moment(first.at) <= timedelta(hours=2)]
        best = max(best, window, key=len)
    days = {service_day(pull.at) for pull in pulls}
    if len(best) >= 0.6 * len(pulls):
        about: dict[str, Any] = {"share": Message("all") if len(best) == len(pulls) else len(best), "since": best[0].at[11:16],
                                 "until": best[-1].at[11:16]}
        if len(days) > 1:
            return Message("{share} of them from {since} to {until} on {day}", day=service_day(best[0].at), **about)
        return Message("{share} of them from {since} to {until}", **about)
    return Message("spread over the period")


def _ids(pulls: Sequence[Pull]) -> tuple[str, ...]:
    return tuple(pull.id for pull in pulls)
