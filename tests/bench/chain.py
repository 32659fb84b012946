"""A year of a chain, made by its seed and asked of DuckDB: `python -m tests.bench.chain [pulls] [stations]`.

The maker writes the very columns of `export --as chain`, row by row from a template, so that it makes tens of thousands
of pulls a second. What a real book's export gives is held against Python in tests/commands/test_chain.py. A tenth of the
pulls is asked first: ten times as many may cost twelve times as much. `--spark` asks the same files of Apache Spark as
well, where pyspark and a Java are installed, and holds each of its answers against DuckDB's.
"""

import argparse
import tempfile
import time
from collections.abc import Callable
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path
from random import Random
from typing import Any

import duckdb

from kiosk.bar.model import Pull, usual
from kiosk.book.rows import row
from kiosk.commands.chain import MOVES, PULLS, PURGES, questions, week_of
from tests.bench.bars import Bars

DAYS = 364
MADE_A_SECOND, LOADED_S, ASKED_S, TEN_TIMES = 20_000, 30.0, 5.0, 12.0
SHOWN = 6                   # decimals that two engines' sums are compared to: they add up in different orders
TABLES = "pulls", "moves", "purges"
Answer = list[tuple[Any, ...]]


def make(to: Path, pulls: int, stations: int, seed: int = 1) -> int:
    """The folders of so many pulls; how many were written."""
    recipe, written = usual("House", "double"), 0
    model = Pull(id="@id", at="@at", grinder="Left", coffee="House", setting=-1, recipe=recipe, barista="@who", dose_g=-2.0,
                 yield_g=-3.0, time_s=-4.0, order_id="o")
    cells = row(model, "@day", "") | {"week": "@week", "off_s": "@off", "in_window": "@in", "sunk_g": "@sunk", "over_g": "@over",
                                      "tasted_g": "0.0", "sink": "@why", "setting": "@set", "dose_g": "@dose", "yield_g": "@yield", "time_s": "@time"}
    template = ",".join(f'"{cells.get(name, "")}"' if "," in cells.get(name, "") else cells.get(name, "") for name in PULLS)
    for mark in ("@id", "@at", "@who", "@day", "@week", "@off", "@in", "@set", "@dose", "@yield", "@time", "@why", "@sunk", "@over"):
        template = template.replace(mark, "{" + mark[1:].replace("in", "inn").replace("yield", "yie") + "}")
    each_day = max(1, -(-pulls // (stations * DAYS)))
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
                sunk = chance.random() < 0.02
                lines.append(template.format(
                    why="spilt" if sunk else "", sunk=dose_g if sunk else 0.0,
                    over=0.0 if sunk else max(0.0, round(dose_g - recipe.dose_window_g[1], 1)),
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


def loaded(folder: Path) -> duckdb.DuckDBPyConnection:
    engine = duckdb.connect()
    for name in TABLES:
        engine.execute(f"create table {name} as select * from read_csv('{folder}/{name}/*/*/*.csv', hive_partitioning = true, "
                       "all_varchar = true)")
    return engine


def asked_of(ask: Callable[[str], Answer]) -> dict[str, tuple[float, Answer]]:
    """Each question's seconds and answer."""
    found = {}
    for name, sql in questions().items():
        began = time.perf_counter()
        rows = ask(sql)
        found[name] = time.perf_counter() - began, rows
    return found


def shown(rows: Answer) -> Answer:
    """As a report would show them: numbers rounded, in the order in which they came."""
    return [tuple(round(float(cell), SHOWN) + 0.0 if isinstance(cell, (float, Decimal)) else cell for cell in row) for row in rows]


def asked_of_spark(folder: Path) -> dict[str, tuple[float, Answer]]:
    from pyspark.sql import SparkSession

    spark = (SparkSession.builder.master("local[2]").config("spark.ui.enabled", "false").config("spark.ui.showConsoleProgress", "false").config("spark.sql.shuffle.partitions", "4")
             .config("spark.driver.memory", "3g").config("spark.sql.sources.partitionColumnTypeInference.enabled", "false").getOrCreate())
    try:
        for name in TABLES:
            table = spark.read.option("header", True).csv(f"{folder}/{name}")
            table.cache().createOrReplaceTempView(name)
            table.count()
        return asked_of(lambda sql: [tuple(row) for row in spark.sql(sql).collect()])
    finally:
        spark.stop()


def main(argv: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.bench.chain", description=__doc__)
    parser.add_argument("pulls", type=int, nargs="?", default=2_000_000)
    parser.add_argument("stations", type=int, nargs="?", default=30)
    parser.add_argument("--spark", action="store_true", help="ask Apache Spark the same")
    asked = parser.parse_args(argv)
    bars = Bars(f"A chain of {asked.stations} bars, {asked.pulls} pulls in a year")
    cost_s: list[tuple[int, float]] = []
    for pulls in (asked.pulls // 10, asked.pulls):
        with tempfile.TemporaryDirectory() as made_in:
            folder, began = Path(made_in), time.perf_counter()
            made = make(folder, pulls, asked.stations)
            making_s, began = time.perf_counter() - began, time.perf_counter()
            engine = loaded(folder)
            loading_s = time.perf_counter() - began
            answers = asked_of(lambda sql: engine.execute(sql).fetchall())
            cost_s.append((made, loading_s + sum(seconds for seconds, _ in answers.values())))
            if pulls != asked.pulls:
                continue
            bytes_a_pull = sum(path.stat().st_size for path in folder.glob("pulls/*/*/*.csv")) / made
            print(f"  {made} pulls, {bytes_a_pull:.0f} bytes each; DuckDB {duckdb.__version__}")
            bars.above("pulls made a second", made / making_s, MADE_A_SECOND)
            bars.below("loaded in DuckDB, s", loading_s, LOADED_S)
            (count,) = engine.execute("select count(*) from pulls").fetchone()
            bars.above("pulls found, of those made", count / made, 1.0)
            for name, (seconds, rows) in answers.items():
                bars.below(f"{name}: s ({len(rows)} rows)", seconds, ASKED_S)
            if asked.spark:
                for name, (seconds, rows) in asked_of_spark(folder).items():
                    differ = sum(a != b for a, b in zip(shown(rows), shown(answers[name][1]))) + abs(len(rows) - len(answers[name][1]))
                    bars.below(f"{name}: rows that Spark answers otherwise, of {len(rows)} ({seconds:.1f} s)", differ, 0)
    (few, few_s), (many, many_s) = cost_s
    bars.below("times the cost for ten times the pulls", many_s / few_s * 10 / (many / few), TEN_TIMES)
    return bars.end()


if __name__ == "__main__":
    raise SystemExit(main())
