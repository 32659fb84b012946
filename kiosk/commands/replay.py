"""`python -m kiosk replay FILE`: run a recorded feed (kiosk.station.feed) through the very code that ran live.

Text: one line a reading (seconds, "kept" with grams or "refused" with the reason), one for each sighting, and the
verdict after each pull. With --json one object:

    format    1
    file      the name given
    readings  [{t_s, raw, kept: true, grams, stable} or {t_s, raw, kept: false, why}]
    unread    [{line, text, why}]            lines that are no part of a feed
    pulls     [{recipe, sightings: [{sighting, t_s, …}], dose_g, time_s, first_drop_s, flow_g_per_s, stop_cue_s,
                yield_g, verdict: {sentence, in_window, findings: [{word, value, low, high, unit}]}}]

Seconds of sightings are the feed's; `…_s` of a pull count from pump on. null: not measured. Ends with 0, or with 2
where the file cannot be read.
"""

import argparse
import json
import sys
from collections.abc import Iterable, Iterator
from dataclasses import asdict, dataclass, field
from typing import Any

from hardware import frames
from hardware.pattern import Pattern
from kiosk.bar.model import BASKETS, DOUBLE, Judgement, Pull, Recipe, checker, judge, problem, usual
from kiosk.bar.weighing import (
    DoseRead,
    DoseWatch,
    FirstDrop,
    FlowEnded,
    Habits,
    Poured,
    PourWatch,
    Sample,
    Settled,
    Sighting,
    StopNow,
    habits_from,
    learn,
)
from kiosk.station.feed import BadLine, Done, Header, HeardLine, read

SHAPES = {"portafilters": tuple[tuple[str, float], ...], "habits": dict[str, Any], "pattern": str | None, "unit": str}


@dataclass(frozen=True, slots=True)
class ReplayedLine:
    """One line of the scale: kept, with its grams, or refused, with the reason."""

    t_s: float
    raw: str
    kept: bool
    grams: float | None = None
    stable: bool | None = None
    why: str | None = None


@dataclass(slots=True)
class Replayed:
    """One pull of the feed, as far as it went. Times of the pull count from pump on."""

    recipe: Recipe
    sightings: list[Sighting] = field(default_factory=list)
    dose_g: float | None = None
    on_s: float | None = None
    off_s: float | None = None
    first_drop_s: float | None = None
    stop_cue_s: float | None = None
    yield_g: float | None = None
    flow_g_per_s: float | None = None

    @property
    def time_s(self) -> float | None:
        return None if self.on_s is None or self.off_s is None else self.off_s - self.on_s

    def verdict(self) -> Judgement:
        return judge(Pull(id="replay", at="", grinder="", coffee=self.recipe.coffee, setting=0, recipe=self.recipe,
                          dose_g=self.dose_g, yield_g=self.yield_g, time_s=self.time_s, first_drop_s=self.first_drop_s))


class Misread(ValueError):
    """A remark at the head of a feed cannot be used; its text says which and why, without a full stop."""


class Replay:
    """Feeds the watches as the kiosk does. `items(feed)` yields readings, sightings, and each pull when it is over.
    Raises Misread."""

    def __init__(self, recipe: Recipe):
        self.recipe, self.habits, self.empties = recipe, Habits(), ()
        self.pattern: Pattern | None = None
        self.unit = "g"
        self._dose: DoseWatch | None = None
        self._pour: PourWatch | None = None
        self._pull: Replayed | None = None

    def items(self, feed: Iterable) -> Iterator[ReplayedLine | Sighting | Replayed | BadLine]:
        for item in feed:
            match item:
                case HeardLine(t_s, raw):
                    yield from self._heard(t_s, raw)
                case Done(t_s, deed):
                    yield from self._done(t_s, deed)
                case Header(name, value):
                    try:
                        self._told(name, value)
                    except ValueError as wrong:
                        raise Misread(f"the remark {name!r} cannot be used: {str(wrong).rstrip('.')}") from None
                case BadLine():
                    yield item
        yield from self._over()

    def _heard(self, t_s: float, raw: bytes) -> Iterator[ReplayedLine | Sighting]:
        reading = frames.read(raw, self.pattern, self.unit)
        shown = raw.decode("latin-1")
        if isinstance(reading, frames.Refused):
            yield ReplayedLine(t_s, shown, False, why=reading.why)
            return
        yield ReplayedLine(t_s, shown, True, reading.grams, reading.stable)
        sample = Sample(t_s, reading.grams, reading.stable)
        if not self._dose and not self._pour:
            # A feed without any deed is one pull, the pump on from its first reading.
            yield from self._done(t_s, "pump on")
        if self._dose:
            yield from self._noted(self._dose.observe(sample))
        if self._pour:
            yield from self._noted(self._pour.observe(sample))
            if self._pull.stop_cue_s is None:
                self._pull.flow_g_per_s = self._pour.flow_g_per_s

    def _done(self, t_s: float, deed: str) -> Iterator:
        if deed in ("dose", "lock in") and self._pour:
            yield from self._over()
        if not self._pull:
            self._pull = Replayed(self.recipe)
        if deed == "dose":
            self._dose = DoseWatch(self.recipe, self.empties, t_s)
        elif deed == "tare" and self._dose:
            yield from self._noted(self._dose.tared(t_s))
        elif deed == "scale lost":
            for watch in (self._dose, self._pour):
                yield from self._noted(watch.lost(t_s)) if watch else ()
        elif deed in ("lock in", "pump on", "pump off"):
            self._dose = None
            self._pour = self._pour or PourWatch(self.recipe, self.habits, t_s)
            if deed == "pump on":
                self._pull.on_s = t_s
                yield from self._noted(self._pour.pump_on(t_s))
            elif deed == "pump off":
                self._pull.off_s = t_s
                yield from self._noted(self._pour.pump_off(t_s))

    def _told(self, name: str, value):
        if name in SHAPES and not checker(SHAPES[name])(value):
            raise ValueError("it is not what the kiosk writes there")
        if name == "recipe":
            if amiss := problem(Recipe, value):
                raise ValueError(amiss)
            self.recipe = Recipe(**value)
        elif name == "portafilters":
            self.empties = tuple((who, float(grams)) for who, grams in value)
        elif name == "habits":
            for each in value["pulls"] if isinstance(value.get("pulls"), list) else ():
                if amiss := problem(Poured, each, "pulls."):
                    raise ValueError(amiss)
            try:
                self.habits = habits_from(value)
            except ValueError:
                raise ValueError("it is not what the kiosk writes there") from None
        elif name == "pattern":
            self.pattern = Pattern(value) if value else None
        elif name == "unit":
            if value not in frames.GRAMS:
                raise ValueError(f"the unit {value!r} is none of {', '.join(frames.GRAMS)}")
            self.unit = value

    def _noted(self, sightings: tuple[Sighting, ...]) -> Iterator[Sighting]:
        pull = self._pull
        for sighting in sightings:
            pull.sightings.append(sighting)
            match sighting:
                case DoseRead(_, dose_g, _):
                    pull.dose_g = dose_g
                case FirstDrop(t_s, _) if pull.on_s is not None:
                    pull.first_drop_s = t_s - pull.on_s
                case StopNow(t_s, _) if pull.on_s is not None:
                    pull.stop_cue_s = t_s - pull.on_s
                case FlowEnded(t_s, _):
                    pull.off_s = t_s
                case Settled(_, yield_g):
                    pull.yield_g = yield_g
            yield sighting

    def _over(self) -> Iterator[Replayed]:
        if self._pour and self._pour.poured:
            self.habits = learn(self.habits, self._pour.poured)
        pull, self._pull, self._dose, self._pour = self._pull, None, None, None
        if pull and (pull.sightings or pull.on_s is not None):
            yield pull


def run(argv: list[str]) -> int:
    """The command. Returns its exit status."""
    parser = argparse.ArgumentParser(prog="python -m kiosk replay", description="Run a recorded feed again.")
    parser.add_argument("file", metavar="FILE", help="a recorded feed; - reads standard input")
    parser.add_argument("--json", action="store_true", help="one JSON object instead of text")
    parser.add_argument("--basket", choices=BASKETS, default=DOUBLE, help="recipe of a feed that names none (double)")
    asked = parser.parse_args(argv)
    try:
        feed = sys.stdin if asked.file == "-" else open(asked.file, encoding="utf-8", errors="replace")
    except OSError as wrong:
        print(f"{asked.file} cannot be read: {wrong.strerror}. Give the path of a recorded feed.", file=sys.stderr)
        return 2
    with feed:
        items = Replay(usual("any coffee", asked.basket)).items(read(feed))
        seen = Passing(items)
        try:
            if asked.json:
                print(json.dumps(_gathered(asked.file, seen), ensure_ascii=False, indent=1))
            else:
                for item in seen:
                    print(_line(item))
        except Misread as wrong:
            print(f"{asked.file}: {wrong}. Correct the remark, or take it out.", file=sys.stderr)
            return 2
    if not seen.any:
        print(f"{asked.file} holds no reading of a scale. Give the path of a recorded feed.", file=sys.stderr)
        return 2
    return 0


class Passing:
    """Items as they pass, and whether there was `any` beside lines that are no part of a feed."""

    def __init__(self, items: Iterable):
        self._items, self.any = items, False

    def __iter__(self) -> Iterator:
        for item in self._items:
            self.any = self.any or not isinstance(item, BadLine)
            yield item


def _gathered(name: str, items: Iterable) -> dict:
    told: dict = {"format": 1, "file": name, "readings": [], "unread": [], "pulls": []}
    for item in items:
        match item:
            case ReplayedLine(kept=True):
                told["readings"].append({"t_s": item.t_s, "raw": item.raw, "kept": True, "grams": item.grams,
                                         "stable": item.stable})
            case ReplayedLine():
                told["readings"].append({"t_s": item.t_s, "raw": item.raw, "kept": False, "why": item.why})
            case BadLine(number, text, why):
                told["unread"].append({"line": number, "text": text, "why": why})
            case Replayed():
                told["pulls"].append(_pull(item))
    return told


def _pull(pull: Replayed) -> dict:
    verdict = pull.verdict()
    return {"recipe": asdict(pull.recipe),
            "sightings": [{"sighting": type(s).__name__, **asdict(s)} for s in pull.sightings],
            "dose_g": pull.dose_g, "time_s": pull.time_s, "first_drop_s": pull.first_drop_s,
            "flow_g_per_s": pull.flow_g_per_s, "stop_cue_s": pull.stop_cue_s, "yield_g": pull.yield_g,
            "verdict": {"sentence": verdict.sentence, "in_window": verdict.in_window,
                        "findings": [asdict(finding) for finding in verdict.findings]}}


def _line(item) -> str:
    match item:
        case ReplayedLine(t_s, raw, True, grams, stable):
            rest = {True: " at rest", False: " moving", None: ""}[stable]
            return f"{t_s:10.3f}  kept     {grams:9.2f} g{rest}   {raw!r}"
        case ReplayedLine(t_s, raw, False, why=why):
            return f"{t_s:10.3f}  refused  {why}   {raw!r}"
        case BadLine(number, text, why):
            return f"line {number} skipped: {why}   {text!r}"
        case Replayed():
            def said(value, unit):
                return "not measured" if value is None else f"{value:.2f} {unit}"
            return "\n".join(["", f"Pull      {item.recipe.coffee}, {item.recipe.basket}",
                              f"Dose      {said(item.dose_g, 'g')}", f"Time      {said(item.time_s, 's')}",
                              f"First drop {said(item.first_drop_s, 's')}",
                              f"Flow      {said(item.flow_g_per_s, 'g/s')}",
                              f"Stop cue  {said(item.stop_cue_s, 's')}", f"Yield     {said(item.yield_g, 'g')}",
                              f"Verdict   {item.verdict().sentence}", ""])
    facts = "  ".join(f"{name} {value}" for name, value in asdict(item).items() if name != "t_s")
    return f"{item.t_s:10.3f}  {type(item).__name__}  {facts}"
