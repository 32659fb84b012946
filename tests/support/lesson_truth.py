"""Holds what the practice bar says of a pull against the pull's hidden truth and the figures beside it on the screen.

Every clause it may say is listed here with what has to be so for it to be true, reckoned apart from the bar's own rules;
a sentence with anything else in it counts as untrue."""

import re
from collections.abc import Callable

from kiosk.bar.training import CAUSES, Cause, SeenPull, stopped, why, why_not
from kiosk.practice.practice_bar import EYE_READS_G, Hidden

Case = tuple[Cause, SeenPull, Hidden]


def pace_s(seen: SeenPull) -> float:
    """Seconds to the recipe's yield, the stream after its first drop going on as it ran on average; to the tenth shown."""
    drop_s = seen.first_drop_s
    return round(drop_s + seen.recipe.yield_g * (seen.time_s - drop_s) / seen.yield_g, 1)


def drop_share(seen: SeenPull) -> float:
    recipe = seen.recipe
    return seen.first_drop_s / pace_s(seen) / ((recipe.first_drop_from_s + recipe.first_drop_to_s) / 2 / recipe.time_s)


def is_shown(text: str, value: float, places: int = 1) -> bool:
    return text == f"{value:.{places}f}"


def is_window(least: str, most: str, window: tuple[float, float]) -> bool:
    """Whether those are a window's true ends, to the tenth."""
    return (round(float(least), 1), round(float(most), 1)) == (round(window[0], 1), round(window[1], 1))


def slow(seen: SeenPull) -> bool:
    return pace_s(seen) > seen.recipe.time_window_s[1]


def fast(seen: SeenPull) -> bool:
    return pace_s(seen) < seen.recipe.time_window_s[0]


def only(cause: Cause, hidden: Hidden) -> bool:
    """Whether `cause` is all that is wrong."""
    faults = hidden.faults
    wrong = {Cause.FINE: faults.coarser < -2, Cause.COARSE: faults.coarser > 2, Cause.OVER: faults.dose_g > 1,
             Cause.UNDER: faults.dose_g < -1, Cause.SOFT: faults.tamp_n < 75, Cause.CROOKED: faults.tilt > 0.2,
             Cause.CHANNEL: faults.cracks_s is not None, Cause.UNPURGED: faults.purge_skipped, Cause.OLD: hidden.old,
             Cause.STALE: hidden.lain_min > 10, Cause.COLD: hidden.cold, Cause.BLOCKED: hidden.left in (0.0, 1.0)}
    return {each for each, so in wrong.items() if so} == ({cause} if cause is not Cause.NONE else set())


def right_pace(m, case: Case) -> bool:
    _, seen, _ = case
    low, high = seen.recipe.time_window_s
    shown = is_shown(m["g"], seen.yield_g) and is_shown(m["s"], seen.time_s) and float(m["low"]) == round(low, 1) and float(m["high"]) == round(high, 1)
    if "even" not in m.groupdict():
        return shown and (seen.time_s > high) is slow(seen) and (seen.time_s < low) is fast(seen)
    return shown and is_shown(m["wanted"], seen.recipe.yield_g, 0) and abs(float(m["even"]) - pace_s(seen)) < 0.06


def points(m, case: Case) -> bool:
    """Which of two that look alike a drop points to: their means in the practice puck lie at 0.96 and 1.09 of the recipe's drop
    where it is slow, at 1.05 and 0.91 where it is fast; the middle parts them."""
    late = drop_share(case[1]) > (1.025 if slow(case[1]) else 0.98)
    return ("much" in m["to"] or "coarse" in m["to"]) is late


WHY: list[tuple[str, Callable]] = [
    (r"(?P<g>[\d.]+) g in (?P<s>[\d.]+) s \(right: (?P<low>[\d.]+)–(?P<high>[\d.]+) s\)\.", right_pace),
    (r"(?P<g>[\d.]+) g in (?P<s>[\d.]+) s: at that pace (?P<wanted>\d+) g take (?P<even>[\d.]+) s \(right: (?P<low>[\d.]+)–(?P<high>[\d.]+) s\)\.",
     right_pace),
    (r"The first drop was late \((?P<s>[\d.]+) s\)\.",
     lambda m, c: is_shown(m["s"], c[1].first_drop_s) and c[1].first_drop_s > c[1].recipe.first_drop_to_s),
    (r"The first drop was early \((?P<s>[\d.]+) s\)\.",
     lambda m, c: is_shown(m["s"], c[1].first_drop_s) and c[1].first_drop_s < c[1].recipe.first_drop_from_s),
    (r"Too slow, and nothing else is off: the grind is too fine\.", lambda m, c: slow(c[1]) and only(Cause.FINE, c[2])),
    (r"Too fast, and nothing else is off: the grind is too coarse\.", lambda m, c: fast(c[1]) and only(Cause.COARSE, c[2])),
    (r"Too slow: too fine or too much coffee\. The first drop points to (?P<to>too fine|too much coffee), but only a weighed dose tells\.",
     lambda m, c: slow(c[1]) and points(m, c) and c[0] in (Cause.FINE, Cause.OVER)),
    (r"Too fast: too coarse or too little coffee\. The first drop points to (?P<to>too coarse|too little coffee), but only a weighed dose tells\.",
     lambda m, c: fast(c[1]) and points(m, c) and c[0] in (Cause.COARSE, Cause.UNDER)),
    (r"Leave it alone\.", lambda m, c: only(Cause.NONE, c[2]) and not slow(c[1]) and not fast(c[1])),
    (r"(?P<g>[\d.]+) g was dosed, more than (?P<most>[\d.]+) g: a deeper puck slows the water\.",
     lambda m, c: is_shown(m["g"], c[1].dose_g) and float(m["g"]) > float(m["most"]) == c[1].recipe.dose_g + c[1].recipe.dose_within_g
     and c[2].faults.dose_g > 0 and pace_s(c[1]) > c[1].recipe.time_s),
    (r"(?P<g>[\d.]+) g was dosed, less than (?P<least>[\d.]+) g: a thin puck lets the water through\.",
     lambda m, c: is_shown(m["g"], c[1].dose_g) and float(m["g"]) < float(m["least"]) == c[1].recipe.dose_g - c[1].recipe.dose_within_g
     and c[2].faults.dose_g < 0 and pace_s(c[1]) < c[1].recipe.time_s),
    (r"It spurted steam before the first drop: the water in the group was too hot\.", lambda m, c: c[2].faults.purge_skipped),
    (r"One spout alone ran: the other is blocked\.", lambda m, c: c[2].left in (0.0, 1.0) and c[1].left in (0.0, 1.0)),
    (r"One spout ran ahead with (?P<share>\d+) % of the stream: the puck is thin on that side\.",
     lambda m, c: c[2].faults.tilt > 0 and m["share"] == f"{100 * max(c[1].left, 1 - c[1].left):.0f}"),
    (r"After (?P<s>\d+) s it spurted and paled at once: the water broke a channel through the puck\.",
     lambda m, c: is_shown(m["s"], c[2].faults.cracks_s, 0) and c[2].faults.cracks_s < c[1].time_s),
    (r"For that, the first drop after (?P<s>[\d.]+) s is early: the puck is loose\.",
     lambda m, c: is_shown(m["s"], c[1].first_drop_s) and drop_share(c[1]) < 0.75 and c[2].faults.tamp_n < 75),
    (r"The crema is thin, and the grounds lay (?P<min>\d+) min: their aroma is gone\.",
     lambda m, c: c[1].thin and is_shown(m["min"], c[2].lain_min, 0) and c[2].lain_min > 10),
    (r"The crema is thin though the grounds are fresh: the beans are old\.",
     lambda m, c: c[1].thin and c[2].lain_min < 2 and c[2].old),
    (r"The cup is cold: the coffee cools and the crema falls\.", lambda m, c: c[2].cold),
]
WHY_NOT: list[tuple[str, Callable]] = [
    (r"By eye it could be that, too\.", lambda m, c: c[1].dose_g is None and {c[0], c[3]} in (
        {Cause.FINE, Cause.OVER}, {Cause.COARSE, Cause.UNDER})),
    (r"It looks like that, but something else explains it\.", lambda m, c: not only(c[3], c[2])),
    (r"The dose is right\.", lambda m, c: abs(c[1].dose_g - c[1].recipe.dose_g) < c[1].recipe.dose_within_g + 1e-6),
    (r"The dose is off the other way\.", lambda m, c: (c[1].dose_g > c[1].recipe.dose_g) is (c[3] is Cause.UNDER)),
    (r"Then (?P<g>\d+) g would take longer than (?P<s>[\d.]+) s\.",
     lambda m, c: is_shown(m["g"], c[1].recipe.yield_g, 0) and pace_s(c[1]) <= float(m["s"]) == round(c[1].recipe.time_window_s[1], 1)),
    (r"Then (?P<g>\d+) g would be there before (?P<s>[\d.]+) s\.",
     lambda m, c: is_shown(m["g"], c[1].recipe.yield_g, 0) and pace_s(c[1]) >= float(m["s"]) == round(c[1].recipe.time_window_s[0], 1)),
    (r"Then the first drop would fall early for the time it takes\.", lambda m, c: drop_share(c[1]) >= 0.65),
    (r"Then one spout would run ahead, and the other still run\.", lambda m, c: abs(c[1].left - 0.5) < 0.1 or c[1].left in (0.0, 1.0)),
    (r"Then one spout would not run at all\.", lambda m, c: c[1].left not in (0.0, 1.0)),
    (r"Then the stream would spurt and pale at once\.", lambda m, c: c[2].faults.cracks_s is None),
    (r"Then it would spit steam before the first drop\.", lambda m, c: not c[2].faults.purge_skipped),
    (r"Then the grounds would have lain, and the crema be thin\.", lambda m, c: not (c[2].lain_min > 5 and c[1].thin)),
    (r"Then fresh grounds would give a thin crema\.", lambda m, c: not (c[2].lain_min <= 5 and c[1].thin)),
    (r"The cup is warm\.", lambda m, c: not c[2].cold),
    (r"Something is off: look again\.", lambda m, c: c[0] is not Cause.NONE),
]
STOPPED: list[tuple[str, Callable]] = [
    (r"Stopped (?P<how>late|early): (?P<g>[\d.]+) g, right is (?P<least>[\d.]+)–(?P<most>[\d.]+)\.",
     lambda m, c: is_shown(m["g"], c[1].yield_g) and is_window(m["least"], m["most"], c[1].recipe.yield_window_g) and (
         float(m["g"]) > float(m["most"]) + eye_g(c[1]) if m["how"] == "late"
         else float(m["g"]) < float(m["least"]) - eye_g(c[1]))),
]


def eye_g(seen: SeenPull) -> float:
    """How far off the true weight may be of what an eye read."""
    return EYE_READS_G / 2 if seen.dose_g is None else 0.0


def _holds(sentence: str, clauses, case: tuple) -> bool:
    left = sentence
    while left:
        m, true = next(((m, true) for pattern, true in clauses if (m := re.match(pattern + r"(?: |$)", left))), (None, None))
        if m is None or not true(m, case):
            return False
        left = left[m.end():]
    return bool(sentence)


def untrue(cause: Cause, seen: SeenPull, hidden: Hidden) -> list[str]:
    """Each sentence that the bar says, or might say to a wrong answer, of this pull, and that is not so."""
    case = cause, seen, hidden
    said = [(why(cause, seen), WHY, case)]
    said += [(why_not(each, cause, seen), WHY_NOT, (*case, each)) for each in CAUSES if each is not cause]
    said += [(words, STOPPED, case)] if (words := stopped(seen)) else []
    return [f"{cause}: {sentence}" for sentence, clauses, about in said if not _holds(sentence, clauses, about)]
