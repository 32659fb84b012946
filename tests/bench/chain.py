"""A year of a chain, made by its seed and asked of DuckDB: `python -m tests.bench.chain [pulls] [stations]`.

The maker writes the very columns of `export --as chain`, row by row from a template, so that it makes tens of thousands
of pulls a second. What a real book's export gives is held against Python in tests/commands/test_chain.py.
"""

import argparse
import tempfile
import time
from datetime import date, timedelta
from pathlib import Path
from random import Random

import duckdb

from kiosk.bar.model import Pull, usual
from kiosk.book.rows import row
from kiosk.commands.chain import MOVES, PULLS, PURGES, questions, week_of
from tests.bench.bars import Bars

DAYS = 364
MADE_A_SECOND, LOADED_S, ASKED_S = 20_000, 30.0, 5.0


def make(to: Path, pulls: int, stations: int, seed: int = 1) -> int:
    """The folders of so many pulls; how many were written."""
    recipe, written = usual("House", "double"), 0
    model = Pull(id="@id", at="@at", grinder="Left", coffee="House", setting=-1, recipe=recipe, barista="@who", dose_g=-2.0,
                 yield_g=-3.0, time_s=-4.0, order_id="o")
    cells = row(model, "@day", "") | {"week": "@week", "off_s": "@off", "in_window": "@in", "sunk_g": "0.0", "over_g": "0.0",
                                      "tasted_g": "0.0", "setting": "@set", "dose_g": "@dose", "yield_g": "@yield", "time_s": "@time"}
    template = ",".join(f'"{cells.get(name, "")}"' if "," in cells.get(name, "") else cells.get(name, "") for name in PULLS)
    for mark in ("@id", "@at", "@who", "@day", "@week", "@off", "@in", "@set", "@dose", "@yield", "@time"):
        template = template.replace(mark, "{" + mark[1:].replace("in", "inn").replace("yield", "yie") + "}")
    each_day = max(1, pulls // stations // DAYS)
    for station in range(stations):
        chance, name = Random(f"{seed} {station}"), f"bar{station:03}"
        lean = chance.gauss(0, 0.6)
        files: dict[str, list[str]] = {}
        for n in range(DAYS):
            day = (date(2026, 1, 5) + timedelta(days=n)).isoformat()
            week, lines = week_of(day), files.setdefault(day[:7], [])
            for k in range(each_day):
                time_s = 25 + lean + 1.7 * chance.gauss(0, 1)
                dose_g = round(16 + 0.25 * chance.gauss(0, 1), 1)
                lines.append(template.format(
                    id=f"{station:03}-{n:03}-{k:04}", at=f"{day}T{7 + k * 10 // each_day:02}:{k % 60:02}:00+01:00", who="AB"[k & 1],
                    day=day, week=week, off=repr(time_s - 25), inn="true" if 20 <= time_s <= 30 else "false", set=str(20 + (k & 1)),
                    dose=dose_g, yie=50.0, time=repr(time_s)))
        for month, lines in files.items():
            written += len(lines)
            for kind, columns, body in (("pulls", PULLS, lines), ("moves", MOVES, ()), ("purges", PURGES, ())):
                part = to / kind / f"station={name}" / f"month={month}"
                part.mkdir(parents=True)
                extra = [f"{month}-10T12:00:00+01:00,{month}-10,{week_of(month + '-10')},{name}-m,Left,House,20,21,A,"] \
                    if kind == "moves" else [f"{month}-10T12:00:00+01:00,{month}-10,{week_of(month + '-10')},{name}-g,Left,House,6.0"] \
                    if kind == "purges" else body
                (part / f"{kind}.csv").write_text("\n".join((",".join(columns), *extra)) + "\n", encoding="utf-8")
    return written


def main(argv: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.bench.chain", description=__doc__)
    parser.add_argument("pulls", type=int, nargs="?", default=2_000_000)
    parser.add_argument("stations", type=int, nargs="?", default=30)
    asked = parser.parse_args(argv)
    bars = Bars(f"A chain of {asked.stations} bars, {asked.pulls} pulls in a year")
    with tempfile.TemporaryDirectory() as folder:
        began = time.perf_counter()
        made = make(Path(folder), asked.pulls, asked.stations)
        bars.above("pulls made a second", made / (time.perf_counter() - began), MADE_A_SECOND)
        engine, began = duckdb.connect(), time.perf_counter()
        for name in ("pulls", "moves", "purges"):
            engine.execute(f"create table {name} as select * from read_csv('{folder}/{name}/*/*/*.csv', hive_partitioning = true, "
                           "all_varchar = true)")
        bars.below("loaded in DuckDB, s", time.perf_counter() - began, LOADED_S)
        (count,) = engine.execute("select count(*) from pulls").fetchone()
        bars.above("pulls found, of those made", count / made, 1.0)
        for name, sql in questions().items():
            began = time.perf_counter()
            rows = engine.execute(sql).fetchall()
            bars.below(f"{name}: s ({len(rows)} rows)", time.perf_counter() - began, ASKED_S)
    return bars.end()


if __name__ == "__main__":
    raise SystemExit(main())
