"""`python -m kiosk drift FILE.csv`: judge the drift in a table of pulls, for anyone to check.

The columns are those of the kiosk's own export (kiosk.book.rows), and only two are needed:

    grinder, time_s              which grinder, and seconds from pump on to pump off
    at                           ISO 8601, with an offset from UTC in all rows or in none; rows are put in its order where every
                                 row has it
    coffee, basket               single or double (double where left out)
    setting                      collar in notches, a larger number coarser; a change begins a new setting run
    dose_g, yield_g              grams, measured
    first_drop_s                 seconds from pump on
    time_from, time_plus_minus_s  how time_s was measured: contact, scale, tap, late tap or worked back; its ± in seconds
    barista, sink, practice      who; why it was thrown away; true for a practice pull
    purged, grind_to_pull_s, lock_to_pump_s       for whose fault it was
    target_dose_g, target_yield_g, target_time_s  the recipe; where left out, the usual one of the basket

Commas, semicolons or tabs between; a decimal point, or a decimal comma where semicolons or tabs separate. An empty cell
is "not measured". A row that cannot be read is named with its line and what to do; the others are judged.

Text: a line a pull, with its adjusted time, how far that is off the recipe, the level the grinder is thought to be at, the
chart value with its limits, and the verdict; below a pull, the flag it raised; at the end the advice for each grinder.
With --json one object:

    format   2
    file     the name given
    unread   [{line, why}]
    pulls    [{line, at, grinder, coffee, setting, time_s, even_s, deviation_s, level_s, level_within_s, value, low,
               high, kind, flag: null or {kind, direction, sentence, evidence, one_false_in},
               causes: [{cause, probability}]}]
    advice   [{grinder, coffee, setting, pulls, act, direction, notches, expected_s, purge_g, judge_by, sentence,
               notch_s: {low, middle, high}, spread_s, faults: [{cause, probability, evidence}]}]

`value` is the signed evidence for drift, log10(1 + Shiryaev-Roberts), above zero where pulls run slower; outside its
limits the kiosk says that the grinder drifts, unless a flag says that it was a hand ("hands") or asks whether taps came
late ("late_stops"). `causes` are grind, dose, tamp, pull and chance, likeliest first; empty where nothing is off. The
evidence of a "drifting" flag: `before_s` and `after_s` are means of `deviation_s` over the `last_pulls` up to it and the
`before_pulls` before those. Format 1 had no causes; its keys are all there. null: not known. Ends with 0, or with 2 where there is no pull to judge.
"""

import argparse
import csv
import json
import sys
from collections.abc import Iterable, Iterator
from dataclasses import asdict, dataclass, replace
from datetime import datetime
from math import isfinite
from pathlib import Path

from kiosk.bar.drift import Verdict, Watch
from kiosk.bar.model import BASKETS, DOUBLE, YEARS, Pull, Unfit, usual
from kiosk.book.rows import text_of
from kiosk.commands import folders
from kiosk.commands.drift_page import page
from kiosk.places import private

HOW_TIMED = ("contact", "scale", "tap", "key", "late tap", "worked back")
NEEDED = ("grinder", "time_s")
LONGEST_S = 300.0
RANGES = {"time_s": (0.5, LONGEST_S), "dose_g": (1, 60), "yield_g": (0, 500), "first_drop_s": (0, LONGEST_S),
          "grind_to_pull_s": (0, 86400), "time_plus_minus_s": (0, LONGEST_S), "lock_to_pump_s": (0, 86400)}


class BadTable(ValueError):
    """A row that cannot be judged; its text says what to do."""


@dataclass(frozen=True, slots=True)
class Judged:
    """A pull, the line of the file that it came from, and its verdict."""

    line: int
    pull: Pull
    verdict: Verdict


def rows(file: Iterable[str]) -> Iterator[tuple[int, dict[str, str] | BadTable]]:
    """(line, cells by column) of each row that is not blank. Raises BadTable where the needed columns are not there."""
    lines = iter(file)
    head = next(lines, "")
    mark = max(",;\t", key=head.count)
    columns = [name.strip().lower() for name in next(csv.reader([head], delimiter=mark), [])]
    missing = [name for name in NEEDED if name not in columns]
    if missing:
        raise BadTable(f"There is no column {' and no column '.join(missing)} in its first line. "
                       "Name the columns there: grinder and time_s are needed.")
    reader = csv.reader(lines, delimiter=mark)
    while True:
        try:
            cells = next(reader)
        except StopIteration:
            return
        except csv.Error as wrong:
            yield reader.line_num + 1, BadTable(f"it is not a row of a table ({wrong}). Write it again.")
            continue
        if any(cell.strip() for cell in cells):
            named = {name: (text_of(cell.strip()) or "").strip() for name, cell in zip(columns, cells)}
            yield reader.line_num + 1, named | {"decimal comma": "yes"} if mark != "," else named


def pull_of(line: int, cells: dict[str, str]) -> Pull:
    """The pull that a row tells of. Raises BadTable."""
    grinder = cells.get("grinder")
    if not grinder:
        raise BadTable("it names no grinder. Fill in the column grinder.")
    if not cells.get("time_s"):
        raise BadTable("it has no time. Fill in the column time_s, in seconds.")
    basket = (cells.get("basket") or DOUBLE).lower()
    if basket not in BASKETS:
        raise BadTable(f"its basket is {basket!r}. Write single or double.")
    at = cells.get("at", "")
    if at:
        try:
            sensible = datetime.fromisoformat(at).year in YEARS
        except ValueError:
            sensible = False
        if not sensible:
            raise BadTable(f"its time of day is {at!r}. Write it like 2026-01-31T08:15:00+01:00.")
    time_from = cells.get("time_from", "").lower() or None
    if time_from not in (None, *HOW_TIMED):
        raise BadTable(f"its time_from is {time_from!r}. Write one of {', '.join(HOW_TIMED)}, or empty the cell.")
    measured = {name: _number(cells, name, *span) for name, span in RANGES.items()}
    measured["time_within_s"] = measured.pop("time_plus_minus_s")
    setting = _number(cells, "setting", -1e6, 1e6)
    if setting is not None and setting != int(setting):
        raise BadTable(f"its setting is {cells['setting']}. Write it in whole notches.")
    recipe = usual(cells.get("coffee") or "coffee", basket)
    targets = {name: _number(cells, f"target_{name}", 0.1, 1000) for name in ("dose_g", "time_s")}
    yield_g = _number(cells, "target_yield_g", 0.1, 1000)
    try:
        recipe = replace(recipe, **{name: value for name, value in targets.items() if value is not None})
        if yield_g is not None:
            recipe = replace(recipe, unit="g", amount=yield_g, amount_within=max(0.5, yield_g / 10))
    except Unfit as wrong:
        raise BadTable(f"its recipe cannot be: {wrong}") from None
    return Pull(id=cells.get("id") or str(line), at=at, grinder=grinder, coffee=recipe.coffee, recipe=recipe,
                setting=int(setting or 0), time_from=time_from, barista=cells.get("barista") or None, sink=cells.get("sink") or None,
                purged={"true": True, "false": False}.get(cells.get("purged", "").lower()),
                practice=cells.get("practice", "").lower() == "true", **measured)


def _number(cells: dict[str, str], name: str, low: float, high: float) -> float | None:
    said = cells.get(name, "")
    if not said:
        return None
    try:
        value = float(said.replace(",", ".") if "decimal comma" in cells else said)
    except ValueError:
        value = float("nan")
    if not isfinite(value):
        raise BadTable(f"{name} is {said!r}. Write a number, or leave the cell empty.")
    if not low <= value <= high:
        raise BadTable(f"{name} is {said}. It lies between {low:g} and {high:g}; write it again, or empty the cell.")
    return value


def judge(file: Iterable[str]) -> tuple[list[Judged], list[tuple[int, str]], dict[tuple[str, str], Watch]]:
    """Every pull of the table, judged; (line, why) of the rows left out; the watches as they stand at the end."""
    pulls, unread = [], []
    for line, cells in rows(file):
        try:
            if isinstance(cells, BadTable):
                raise cells
            pulls.append((line, pull_of(line, cells)))
        except BadTable as why:
            unread.append((line, str(why)))
    moments = {line: datetime.fromisoformat(pull.at) for line, pull in pulls if pull.at}
    if any(moment.tzinfo for moment in moments.values()):       # the others cannot be set beside them
        bare = {line for line, moment in moments.items() if moment.tzinfo is None}
        unread += [(line, "its time of day has no offset from UTC, and those of other rows have. Write it like "
                          "2026-01-31T08:15:00+01:00.") for line in sorted(bare)]
        pulls, unread = [(line, pull) for line, pull in pulls if line not in bare], sorted(unread)
    if all(pull.at for _, pull in pulls):
        pulls.sort(key=lambda each: moments[each[0]])
    watches: dict[tuple[str, str], Watch] = {}
    judged = []
    for line, pull in pulls:
        watch = watches.setdefault((pull.grinder, pull.coffee), Watch(pull.grinder, pull.coffee))
        judged.append(Judged(line, pull, watch.update(pull)))
    return judged, unread, watches


def as_json(name: str, judged: list[Judged], unread, watches) -> dict:
    last = {(each.pull.grinder, each.pull.coffee): each for each in judged}
    return {
        "format": 2, "file": name, "unread": [{"line": line, "why": why} for line, why in unread],
        "pulls": [{
            "line": each.line, "at": each.pull.at or None, "grinder": each.pull.grinder, "coffee": each.pull.coffee,
            "setting": each.pull.setting, "time_s": each.pull.time_s, "even_s": each.verdict.even_s,
            "deviation_s": each.verdict.deviation_s, "level_s": each.verdict.level_s,
            "level_within_s": each.verdict.level_within_s, "value": each.verdict.value, "low": each.verdict.low,
            "high": each.verdict.high, "kind": each.verdict.kind,
            "flag": _flag(each.verdict),
            "causes": [{"cause": fault.cause, "probability": fault.probability} for fault in each.verdict.faults]} for each in judged],
        "advice": [{
            "grinder": grinder, "coffee": coffee, "setting": each.pull.setting, "pulls": each.verdict.pulls,
            **asdict(each.verdict.advice), "notch_s": dict(zip(("low", "middle", "high"), _notch_s(watch, each))),
            "spread_s": watch.known.spread * each.pull.recipe.time_s,
            "faults": [asdict(fault) for fault in each.verdict.faults]}
            for (grinder, coffee), watch in watches.items() for each in [last[grinder, coffee]]]}


def _flag(verdict: Verdict) -> dict | None:
    flag = verdict.flag
    told = ("kind", "direction", "sentence", "evidence", "one_false_in")
    return flag and {name: getattr(flag, name) for name in told}


def _notch_s(watch: Watch, each: Judged) -> tuple[float, float, float]:
    target_s = each.pull.recipe.time_s
    middle, reach = watch.known.worth * target_s, 1.645 * watch.known.worth_sd * target_s
    return middle - reach, middle, middle + reach


def as_text(judged: list[Judged], unread, watches) -> Iterator[str]:
    yield (f"{'line':>5}  {'at':<16}  {'grinder':<10} {'at':>4} {'time':>6} {'even':>6} {'off':>6} {'level':>12}  "
           f"{'chart':>6} {'limits':>13}  verdict")
    for each in judged:
        pull, verdict = each.pull, each.verdict
        off = f"{verdict.deviation_s:+6.1f}" if verdict.deviation_s is not None else "     –"
        level = f"{round(verdict.level_s, 1) + 0.0:+6.1f} ± {verdict.level_within_s:3.1f}" if verdict.level_s is not None else "–"
        even = f"{verdict.even_s:6.1f}" if verdict.even_s is not None else "     –"
        yield (f"{each.line:>5}  {pull.at[:16]:<16}  {pull.grinder[:10]:<10} {pull.setting:>4} {pull.time_s:>6.1f} "
               f"{even} {off} {level:>12}  {verdict.value:+6.2f} {verdict.low:+6.2f} {verdict.high:+6.2f}  {verdict.kind}")
        if verdict.flag:
            yield (f"       → {verdict.flag.sentence} (A grinder that stays put: no more than one such flag in "
                   f"{verdict.flag.one_false_in} pulls.)")
    for line, why in unread:
        yield f"Line {line} was left out: {why}"
    yield ""
    last = {(each.pull.grinder, each.pull.coffee): each for each in judged}
    for (grinder, coffee), watch in watches.items():
        each = last[grinder, coffee]
        low, middle, high = _notch_s(watch, each)
        yield f"{grinder}, {coffee}, at {each.pull.setting}: {each.verdict.advice.sentence}"
        spread_s = watch.known.spread * each.pull.recipe.time_s
        yield f"    A notch is worth {middle:.1f} s ({low:.1f} to {high:.1f}); single pulls spread by {spread_s:.1f} s."


def run(argv: list[str]) -> int:
    """The command. Returns its exit status."""
    parser = argparse.ArgumentParser(prog=f"{folders.called()} drift", description=__doc__,
                                     formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("file", metavar="FILE.csv", help="a table of pulls; - reads standard input")
    parser.add_argument("--json", action="store_true", help="one JSON object instead of text")
    parser.add_argument("--chart", metavar="FILE.html", type=Path, help="draw the charts on a page of their own, too")
    asked = parser.parse_args(argv)
    try:
        file = sys.stdin if asked.file == "-" else open(asked.file, encoding="utf-8-sig", errors="replace", newline="")
        with file:
            judged, unread, watches = judge(file)
    except OSError as wrong:
        print(f"{asked.file} cannot be read: {wrong.strerror}. Give the path of a table of pulls.", file=sys.stderr)
        return 2
    except BadTable as wrong:
        print(f"{asked.file}: {wrong}", file=sys.stderr)
        return 2
    if not judged:
        for line, why in unread:
            print(f"Line {line} was left out: {why}", file=sys.stderr)
        print(f"{asked.file} holds no pull to judge. Export some: {folders.called()} export pulls.csv", file=sys.stderr)
        return 2
    if asked.chart:
        try:
            private(asked.chart, page(Path(asked.file).name, judged))
        except OSError as wrong:
            print(f"{asked.chart} cannot be written: {wrong.strerror}. Choose another place.", file=sys.stderr)
            return 2
    if asked.json:
        print(json.dumps(as_json(asked.file, judged, unread, watches), ensure_ascii=False, indent=1))
    else:
        print("\n".join(as_text(judged, unread, watches)))
    return 0
