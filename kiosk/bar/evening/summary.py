"""The heart of an evening, as text and as JSON: one sentence, three things to do, then every figure."""

from dataclasses import asdict, dataclass
from typing import Any

from kiosk.bar.evening import sentences
from kiosk.bar.evening.figures import (
    OVERDOSE,
    PURGE,
    SINK,
    TASTED,
    Figures,
    GrinderFigures,
)
from kiosk.bar.evening.timers import TimerWanted
from kiosk.bar.evening.tomorrow import ToDo
from kiosk.bar.evening.trend import Trend
from kiosk.bar.messages import ENGLISH, Language, Message

FORMAT = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Summary:
    """`sentence` is the day in words, `to_do` at most three things, `figures` what both rest on; `timers` are those that want
    to be set otherwise."""

    sentence: Message
    to_do: tuple[ToDo, ...]
    figures: Figures
    timers: tuple[TimerWanted, ...] = ()


def as_text(of: Summary, title: str = "", language: Language = ENGLISH, runs: bool = True) -> str:
    """Plain text, headed by `title` (the bar's name) and the day; `runs`: whether each run at one setting has a line."""
    return sentences.as_text(of.figures, of.sentence, of.to_do, title, language, runs)


def as_plain(of: Summary, names: bool = True) -> dict[str, Any]:
    """A dictionary that JSON holds. Seconds, grams, wall times in ISO 8601, records by id; None is "not known". `names`: whether
    people may be named.

    format: 1. first_day, last_day, sentence. to_do: [{what, because, record_ids}].
    totals: pulls, served, judged (timed), in_window, share_in_window (0–1), orders_served, orders_cancelled,
    undosed, waste_g, purged_g, sink_g, overdosed_g, and apart from waste_g tasted_g.
    grinders: [{grinder, coffee, setting (where it was left), pulls, served, judged, in_window, doses, doses_off, drift,
    stretches, moves: [{id, at, before, after, by}], flags: [{id, at, what, direction, sentence}]}].
    "stretches" are the setting runs: other programs read them by this key, so that it keeps its first name.
    drift: {s_per_hour, low, high (95 %), robust_s_per_hour, pulls, hours, sure}.
    stretches: [{day, grinder, coffee, setting, since, until, pulls (ids), told (ids), served, judged, in_window,
    even_s, even_sd_s, off_s, drift}].
    waste: [{why, grams, record_id, grinder, coffee, words, assumed}].
    scale_checks: [{id, at, nominal_g, read_g}].
    timers: [{grinder, coffee, timer_s (as it stands), tenths (of a second to add to it, less: < 0), off_g, doses, g_per_s,
    record_ids}], of grinders that dose by time, where the last doses lay off.
    """
    found = of.figures
    return {
        "format": FORMAT, "first_day": found.first_day, "last_day": found.last_day, "sentence": of.sentence,
        "to_do": [_listed(asdict(thing)) for thing in of.to_do],
        "totals": {
            "pulls": len(found.pulls), "served": found.served, "judged": found.judged, "in_window": found.in_window,
            "share_in_window": found.in_window / found.judged if found.judged else None,
            "orders_served": found.orders_served, "orders_cancelled": found.orders_cancelled,
            "undosed": sum(pull.dose_g is None for pull in found.pulls),
            "waste_g": found.waste_g(), "purged_g": found.waste_g(PURGE), "sink_g": found.waste_g(SINK),
            "overdosed_g": found.waste_g(OVERDOSE), "tasted_g": found.waste_g(TASTED)},
        "grinders": [_grinder(each, names) for each in found.grinders],
        "waste": [asdict(each) for each in found.waste],
        "scale_checks": [{"id": check.id, "at": check.at, "nominal_g": check.nominal_g, "read_g": check.read_g}
                         for check in found.scale_checks],
        "timers": [_listed(asdict(each)) for each in of.timers],
    }


def _grinder(each: GrinderFigures, names: bool) -> dict[str, Any]:
    return {
        "grinder": each.grinder, "coffee": each.coffee, "setting": each.setting, "pulls": each.pulls,
        "served": each.served, "judged": each.judged, "in_window": each.in_window,
        "doses": each.doses, "doses_off": each.doses_off, "drift": _drift(each.drift),
        "stretches": [_listed(asdict(run)) | {"drift": _drift(run.drift)} for run in each.runs],
        "moves": [{"id": move.id, "at": move.at, "before": move.before, "after": move.after, "by": move.by if names else None}
                  for move in each.moves],
        "flags": [{"id": flag.id, "at": flag.at, "what": flag.what, "direction": flag.direction,
                   "sentence": flag.sentence} for flag in each.flags],
    }


def _drift(drift: Trend | None) -> dict[str, Any] | None:
    return None if drift is None else asdict(drift) | {"sure": drift.sure}


def _listed(fields: dict[str, Any]) -> dict[str, Any]:
    return {name: list(value) if isinstance(value, tuple) else value for name, value in fields.items()}
