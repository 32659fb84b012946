"""`python -m kiosk replay FILE`: run a recorded feed (kiosk.station.feed) through the very code that ran live.

Text: one line a reading (seconds, "kept" with grams or "refused" with the reason), one for each sighting, and the
verdict after each pull. With --json one object:

    format    2
    file      the name given
    readings  [{t_s, raw, scale, kept: true, grams, stable} or {t_s, raw, scale, kept: false, why}]
    unread    [{line, text, why}]            lines that are no part of a feed
    pulls     [{recipe, group, pump_on, pump_off, sightings: [{sighting, t_s, …}], dose_g, time_s, first_drop_s,
                flow_g_per_s, stop_cue_s, yield_g, verdict: {sentence, in_window, findings: [{word, value, low, high,
                unit}]}}]
    pump_on, pump_off  {t_s, from: "contact", "tap" or "scale", within_s: ± 19 times in 20}

A pull is found whether or not a hand told it: in the group's own signal, or in the readings alone; then its start is
worked back from the first drop. Seconds of sightings, pump_on and pump_off are the feed's; `…_s` of a pull count from
pump on. null: not measured or not known. Ends with 0, or with 2 where the file cannot be read. Format 1 had no group,
no pump_on, no pump_off and no scale; its keys are all there.
"""

import argparse
import json
import sys
from collections.abc import Iterable, Iterator
from dataclasses import asdict, dataclass
from typing import Any

from hardware import frames
from hardware.pattern import Pattern
from kiosk.bar.model import BASKETS, DOUBLE, Judgement, Pull, Recipe, checker, judge, problem, usual
from kiosk.bar.weighing import Poured, Sample, Sighting, Story, ToldPull, habits_from
from kiosk.commands import folders
from kiosk.station.feed import BadLine, Done, Edge, Header, HeardLine, read

SHAPES = {"portafilters": tuple[tuple[str, float], ...], "habits": dict[str, Any], "pattern": str | None, "unit": str}


@dataclass(frozen=True, slots=True)
class ReplayedLine:
    """One line of the scale: kept, with its grams, or refused, with the reason."""

    t_s: float
    raw: str
    kept: bool
    scale: int = 1
    grams: float | None = None
    stable: bool | None = None
    why: str | None = None


def verdict(pull: ToldPull) -> Judgement:
    return judge(Pull(id="replay", at="", grinder="", coffee=pull.recipe.coffee, setting=0, recipe=pull.recipe,
                      dose_g=pull.dose_g, yield_g=pull.yield_g, time_s=pull.time_s, first_drop_s=pull.first_drop_s))


class Misread(ValueError):
    """A remark at the head of a feed cannot be used; its text says which and why, without a full stop."""


class Replay:
    """Feeds the story as the kiosk hears it. `items(feed)` yields readings, sightings, and each pull when it is over.
    Raises Misread."""

    def __init__(self, recipe: Recipe):
        self.story = Story(recipe)
        self.pattern: Pattern | None = None
        self.unit = "g"

    def items(self, feed: Iterable) -> Iterator[ReplayedLine | Sighting | ToldPull | BadLine]:
        for item in feed:
            match item:
                case HeardLine(t_s, raw, scale):
                    yield from self._heard(t_s, raw, scale)
                case Done(t_s, deed):
                    yield from self.story.deed(t_s, deed)
                case Edge(t_s, group, on):
                    yield from self.story.edge(t_s, group, on)
                case Header(name, value):
                    try:
                        self._told(name, value)
                    except ValueError as wrong:
                        raise Misread(f"the remark {name!r} cannot be used: {str(wrong).rstrip('.')}") from None
                case BadLine():
                    yield item
        yield from self.story.close()

    def _heard(self, t_s: float, raw: bytes, scale: int) -> Iterator[ReplayedLine | Sighting | ToldPull]:
        reading = frames.read(raw, self.pattern, self.unit)
        shown = raw.decode("latin-1")
        if isinstance(reading, frames.Refused):
            yield ReplayedLine(t_s, shown, False, scale, why=reading.why)
            return
        yield ReplayedLine(t_s, shown, True, scale, reading.grams, reading.stable)
        yield from self.story.observe(Sample(t_s, reading.grams, reading.stable), scale)

    def _told(self, name: str, value):
        if name in SHAPES and not checker(SHAPES[name])(value):
            raise ValueError("it is not what the kiosk writes there")
        if name == "recipe":
            if amiss := problem(Recipe, value):
                raise ValueError(amiss)
            self.story.recipe = Recipe(**value)
        elif name == "portafilters":
            self.story.empties = tuple((who, float(grams)) for who, grams in value)
        elif name == "habits":
            for each in value["pulls"] if isinstance(value.get("pulls"), list) else ():
                if amiss := problem(Poured, each, "pulls."):
                    raise ValueError(amiss)
            try:
                self.story.habits = habits_from(value)
            except ValueError:
                raise ValueError("it is not what the kiosk writes there") from None
        elif name == "pattern":
            self.pattern = Pattern(value) if value else None
        elif name == "unit":
            if value not in frames.GRAMS:
                raise ValueError(f"the unit {value!r} is none of {', '.join(frames.GRAMS)}")
            self.unit = value


def run(argv: list[str]) -> int:
    """The command. Returns its exit status."""
    parser = argparse.ArgumentParser(prog=f"{folders.called()} replay", description="Run a recorded feed again.")
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
    told: dict = {"format": 2, "file": name, "readings": [], "unread": [], "pulls": []}
    for item in items:
        match item:
            case ReplayedLine(kept=True):
                told["readings"].append({"t_s": item.t_s, "raw": item.raw, "kept": True, "grams": item.grams,
                                         "stable": item.stable, "scale": item.scale})
            case ReplayedLine():
                told["readings"].append({"t_s": item.t_s, "raw": item.raw, "kept": False, "why": item.why,
                                         "scale": item.scale})
            case BadLine(number, text, why):
                told["unread"].append({"line": number, "text": text, "why": why})
            case ToldPull():
                told["pulls"].append(_pull(item))
    return told


def _pull(pull: ToldPull) -> dict:
    judged = verdict(pull)
    return {"recipe": asdict(pull.recipe),
            "sightings": [{"sighting": type(s).__name__, **asdict(s)} for s in pull.sightings],
            "group": pull.group, "pump_on": _moment(pull.on_s, pull.on_from, pull.on_within_s),
            "pump_off": _moment(pull.off_s, pull.off_from, pull.off_within_s),
            "dose_g": pull.dose_g, "time_s": pull.time_s, "first_drop_s": pull.first_drop_s,
            "flow_g_per_s": pull.flow_g_per_s, "stop_cue_s": pull.stop_cue_s, "yield_g": pull.yield_g,
            "verdict": {"sentence": judged.sentence, "in_window": judged.in_window,
                        "findings": [asdict(finding) for finding in judged.findings]}}


def _moment(t_s: float | None, source: str | None, within_s: float | None) -> dict | None:
    return None if t_s is None else {"t_s": round(t_s, 3), "from": source, "within_s": within_s}


def _line(item) -> str:
    match item:
        case ReplayedLine(t_s, raw, True, _, grams, stable):
            rest = {True: " at rest", False: " moving", None: ""}[stable]
            return f"{t_s:10.3f}  kept     {grams:9.2f} g{rest}   {raw!r}"
        case ReplayedLine(t_s, raw, False, why=why):
            return f"{t_s:10.3f}  refused  {why}   {raw!r}"
        case BadLine(number, text, why):
            return f"line {number} skipped: {why}   {text!r}"
        case ToldPull():
            def said(value, unit):
                return "not measured" if value is None else f"{value:.2f} {unit}"
            def moment(t_s, source, within_s):
                return "not seen" if t_s is None else f"{t_s:.2f} s of the feed, from the {source}, ± {within_s:.1f} s"
            group = f", group {item.group}" if item.group is not None else ""
            return "\n".join(["", f"Pull      {item.recipe.coffee}, {item.recipe.basket}{group}",
                              f"Pump on   {moment(item.on_s, item.on_from, item.on_within_s)}",
                              f"Pump off  {moment(item.off_s, item.off_from, item.off_within_s)}",
                              f"Dose      {said(item.dose_g, 'g')}", f"Time      {said(item.time_s, 's')}",
                              f"First drop {said(item.first_drop_s, 's')}",
                              f"Flow      {said(item.flow_g_per_s, 'g/s')}",
                              f"Stop cue  {said(item.stop_cue_s, 's')}", f"Yield     {said(item.yield_g, 'g')}",
                              f"Verdict   {verdict(item).sentence}", ""])
    facts = "  ".join(f"{name} {value}" for name, value in asdict(item).items() if name != "t_s")
    return f"{item.t_s:10.3f}  {type(item).__name__}  {facts}"
