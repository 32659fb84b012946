"""The questions about a chain, asked of DuckDB over what the export lays out, beside the same reckoned in Python."""

from collections import defaultdict
from datetime import datetime, timedelta, timezone
from random import Random
from statistics import fmean

import duckdb
import pytest

from kiosk.__main__ import main
from kiosk.bar.drift import adjusted_time_s
from kiosk.bar.model import GroundsPurged, NotchMoved, Pull, usual
from kiosk.book import Book
from kiosk.book.exchange import export, take_in
from kiosk.commands.chain import questions, week_of
from tests.support.failing_disk import Unwaited

RECIPE = usual("House", "double")
BARS, DAYS = 3, 5


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """Three bars with equal grinder names in one book, laid out for an engine; and every pull by bar."""
    root, pulls, moves = tmp_path_factory.mktemp("chain"), defaultdict(list), defaultdict(list)
    now = [datetime(2026, 10, 29, 7, tzinfo=timezone(timedelta(hours=1)))]
    with Book.open(root / "chain", now=lambda: now[0], disk=Unwaited()) as chain:
        for bar in range(BARS):
            chance = Random(bar)
            with Book.open(root / str(bar), now=lambda: now[0], disk=Unwaited()) as book:
                for day in range(DAYS):
                    now[0] = datetime(2026, 10, 29, 7, tzinfo=timezone(timedelta(hours=1))) + timedelta(days=day)
                    for n in range(30):
                        now[0] += timedelta(minutes=9)
                        if n == 15:
                            kept = NotchMoved(id=book.new_id(), at=book.at(), grinder="Left", coffee="House", before=20, after=21,
                                              flag_id="f" if day % 2 else None)
                            moves[book.station].append(kept)
                            book.keep_all((kept, GroundsPurged(id=book.new_id(), at=book.at(), grinder="Left", coffee="House",
                                                               grams=6.0)))
                        pull = Pull(id=book.new_id(), at=book.at(), grinder="Left", coffee="House", setting=20 + (n >= 15),
                                    recipe=RECIPE, barista=chance.choice(("Ada", "Ben")), dose_g=round(chance.gauss(16, 0.3), 1),
                                    yield_g=50.0, time_s=round(26 + bar - 2 * (n >= 15) + chance.gauss(0, 1.5), 2), order_id="o",
                                    sink="spilt" if chance.random() < 0.03 else None)
                        book.keep(pull)
                        pulls[book.station].append(pull)
                export(book, root / f"{bar}.jsonl", "jsonl")
            take_in(chain, root / f"{bar}.jsonl")
    assert main(["export", str(root / "out"), "--as", "chain", "--book", str(root / "chain")]) == 0
    engine = duckdb.connect()
    for name in ("pulls", "moves", "purges"):
        engine.execute(f"create view {name} as select * from read_csv('{root}/out/{name}/*/*/*.csv', hive_partitioning = true, "
                       "all_varchar = true)")
    return engine, pulls, moves


def asked(engine, name: str) -> list[tuple]:
    return engine.execute(questions()[name]).fetchall()


def test_every_question_runs_and_says_what_it_answers(made, capsys):
    for name, sql in questions().items():
        assert sql.startswith("-- ") and asked(made[0], name), name
    assert main(["chain", "questions"]) == 0
    assert len(capsys.readouterr().out.splitlines()) == len(questions()) == 7
    assert main(["chain", "questions", "waste_by_bar"]) == 0 and "select" in capsys.readouterr().out
    assert main(["chain", "questions", "nonsense"]) == 2


def test_in_window_drift_and_waste_are_what_python_reckons(made):
    engine, pulls, _ = made
    for station, timed, good, share in asked(engine, "in_window_by_bar"):
        own = [RECIPE.in_window(pull.time_s, pull.yield_g) for pull in pulls[station] if pull.sink is None]
        assert (timed, good, share) == (len(own), sum(own), pytest.approx(sum(own) / len(own)))
    for station, week, grinder, coffee, count, off_s in asked(engine, "drift_by_bar_and_week"):
        own = [adjusted_time_s(pull) - 25 for pull in pulls[station] if week_of(pull.at[:10]) == week and pull.sink is None]
        assert (grinder, coffee, count) == ("Left", "House", len(own)) and off_s == pytest.approx(fmean(own))
    for station, sunk_g, over_g, tasted_g, purged_g, lost_g in asked(engine, "waste_by_bar"):
        assert sunk_g == pytest.approx(sum(pull.dose_g for pull in pulls[station] if pull.sink)) and tasted_g == 0
        assert purged_g == pytest.approx(6.0 * DAYS) and lost_g == pytest.approx(sunk_g + over_g + purged_g)


def test_turns_notches_people_and_days_are_what_python_reckons(made):
    engine, pulls, moves = made
    assert asked(engine, "turns_without_a_flag") == [(station, "Left", DAYS, sum(m.flag_id is None for m in moves[station]))
                                                     for station in sorted(moves)]
    for _station, _grinder, _coffee, days, seconds in asked(engine, "notch_worth_by_grinder"):
        assert days == DAYS and seconds == pytest.approx(2.0, abs=0.8)
    for station, barista, doses, wander_g in asked(engine, "who_would_gain"):
        own = [pull.dose_g - 16 for pull in pulls[station] if pull.barista == barista]
        assert doses == len(own) and wander_g == pytest.approx(fmean(each * each for each in own) ** 0.5)
    rows = asked(engine, "day_against_the_chain")
    assert len(rows) == BARS * DAYS and all(0 <= share <= 1 and 0 <= chain <= 1 for _, _, share, chain in rows)


def test_the_columns_are_those_that_are_documented(made, tmp_path_factory):
    from kiosk.commands import chain

    for name in (*chain.MOVES, *chain.PURGES, "week", "off_s", "in_window", "sunk_g", "over_g", "tasted_g"):
        assert name in chain.__doc__
