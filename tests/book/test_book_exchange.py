"""The book for others to read, and back again: nothing doubled, nothing run by a spreadsheet."""

import csv
import json

import duckdb
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kiosk.bar.model import Corrected, GuideEvent, Noted, OrderTaken, Pull, Recipe, usual
from kiosk.book import Book
from kiosk.book.disk import Disk
from kiosk.book.exchange import COLUMNS, NotReadable, export, pull_of, row, take_in
from kiosk.book.journal import Journal
from kiosk.book.stored_record import line
from kiosk.commands import keeping as book_commands
from tests.support.bar_of_the_book import MORNING, WallClock, a_pull, pulled


@pytest.fixture
def clock():
    return WallClock()


def a_busy_book(folder, clock, days=2, pulls=4):
    book = Book.open(folder, now=clock)
    for _ in range(days):
        book.keep(OrderTaken(id=book.new_id(), at=book.at(), drinks=(("latte", 2),), coffee="house"))
        kept = pulled(book, pulls)
        book.keep(Noted(id=book.new_id(), at=book.at(), what="beans", facts={"kg": 1, "batch": "äöü"}, by="Ada"))
        clock.pass_by(days=1)
    book.keep(Corrected(id=book.new_id(), at=book.at(), of=kept[0].id, changes={"dose_g": 17.5}))
    book.set_setting("menu.latte", True)
    return book


def raw(book):
    return [book.day(day).raw for day in book.days()]


@pytest.mark.parametrize("name, form", [("all.jsonl", "jsonl"), ("chain", "folders")])
def test_everything_exported_comes_back_the_same_and_a_second_time_adds_nothing(tmp_path, clock, name, form):
    with a_busy_book(tmp_path / "book", clock) as book:
        rows = export(book, tmp_path / name, form)
        again = take_in(book, tmp_path / name)
        assert (again.added, again.known, again.refused) == (0, rows, [])
        with Book.open(tmp_path / "new", now=clock) as new:
            taken = take_in(new, tmp_path / name)
            assert taken.added == rows - 1 and len(taken.refused) == 1 and "setting" in taken.refused[0]
            assert take_in(new, tmp_path / name).added == 0
            assert raw(new)[:2] == raw(book)[:2]
            assert [p.dose_g for p in new.day(new.days()[1]).of(Pull)][0] == 17.5


def test_pulls_exported_to_a_spreadsheet_come_back_the_same_but_for_their_curves(tmp_path, clock):
    with a_busy_book(tmp_path / "book", clock) as book, Book.open(tmp_path / "new", now=clock) as new:
        assert export(book, tmp_path / "pulls.csv", "csv") == 8
        assert take_in(book, tmp_path / "pulls.csv").added == 0
        assert take_in(new, tmp_path / "pulls.csv").added == 8
        assert take_in(new, tmp_path / "pulls.csv").known == 8
        for day in new.days():
            assert new.day(day).of(Pull) == book.day(day).of(Pull, traces=False)


words = st.text(min_size=1, max_size=12).filter(str.strip)
measured = st.none() | st.floats(0.1, 90)


@settings(max_examples=150, deadline=None)
@given(st.builds(
    Pull, id=words, at=st.just("2026-03-02T08:00:00.000+01:00"), grinder=words, coffee=st.just("house"),
    setting=st.integers(-99, 99), recipe=st.builds(
        Recipe, coffee=st.just("house"), basket=st.sampled_from(["single", "double"]), dose_g=st.floats(3, 30),
        amount=st.floats(10, 150), unit=st.sampled_from(["g", "ml"])),
    order_id=st.none() | words, drinks=st.lists(words, max_size=3).map(tuple), barista=st.none() | st.text(max_size=9),
    dose_g=measured, dose_from=st.sampled_from([None, "tap", "scale"]), yield_g=measured, time_s=measured,
    warmed=st.sampled_from([None, True, False]), skipped=st.lists(words, max_size=2).map(tuple),
    step_s=st.lists(st.tuples(words, st.floats(0, 99)), max_size=2).map(tuple), sink=st.none() | st.text(max_size=9),
    notes=st.lists(words, max_size=2).map(tuple), practice=st.booleans()))
def test_any_pull_survives_its_row(pull):
    assert pull_of(row(pull, "2026-03-02", "here")) == pull


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", " =1", "=cmd|' /C calc'!A0", "＝1", "'=1",
                                  "\r=1"])
def test_a_cell_that_begins_like_a_formula_is_made_inert(tmp_path, clock, text):
    """The characters are those of OWASP's page on CSV injection."""
    with Book.open(tmp_path / "book", now=clock) as book:
        pulled(book, 1, barista=text, notes=(text,), sink=text)
        export(book, tmp_path / "pulls.csv", "csv", station=text)
        with open(tmp_path / "pulls.csv", newline="") as file:
            cells = next(csv.DictReader(file))
        assert {cells[name][0] for name in ("barista", "notes", "sink", "station")} == {"'"}
        with Book.open(tmp_path / "new", now=clock) as new:
            take_in(new, tmp_path / "pulls.csv")
            assert new.today().of(Pull)[0].barista == text


def test_an_engine_reads_two_stations_at_once(tmp_path, clock):
    """With DuckDB, from the package registry."""
    counts = {}
    for station, pulls in (("Main bar", 5), ("Kiosk=2/üp", 3)):
        with a_busy_book(tmp_path / station.replace("/", "_"), clock, pulls=pulls) as book:
            export(book, tmp_path / "chain", "folders", station=station)
            for day in book.days()[:2]:
                counts[station, day] = len(book.day(day).of(Pull))
    ask = duckdb.connect().sql
    pulls = f"read_csv('{tmp_path}/chain/pulls/*/*/*.csv', hive_partitioning = true, union_by_name = true)"
    found = ask(f"select station, day::varchar, count(*), round(avg(dose_g), 6) from {pulls} group by all").fetchall()
    assert {(station, day): count for station, day, count, _ in found} == counts
    assert {mean for *_, mean in found} == {16.1, round((16.1 * 4 + 17.5) / 5, 6), round((16.1 * 2 + 17.5) / 3, 6)}
    in_window = ask(f"select count(*) from {pulls} where time_s between time_low_s and time_high_s and warmed")
    assert in_window.fetchall() == [(16,)]
    records = f"read_json('{tmp_path}/chain/records/*/*/*.jsonl', hive_partitioning = true, union_by_name = true)"
    kinds = dict(ask(f"select kind, count(distinct id) from {records} group by kind").fetchall())
    assert kinds == {"Pull": 16, "OrderTaken": 4, "Noted": 4, "Corrected": 2, "SettingChanged": 2}


def test_a_row_that_is_no_record_is_named_and_the_rest_is_taken_in(tmp_path, clock):
    with a_busy_book(tmp_path / "book", clock) as book:
        export(book, tmp_path / "all.jsonl", "jsonl")
    lines = (tmp_path / "all.jsonl").read_text().splitlines()
    good = json.loads(lines[1])
    lines[1:4] = ["{", json.dumps({**good, "dose_g": "much"}), json.dumps({**good, "at": "yesterday"}), "null",
                  json.dumps({**good, "day": "../../outside"}), json.dumps({**good, "id": None})]
    (tmp_path / "bad.jsonl").write_text("\n".join(lines))
    with Book.open(tmp_path / "new", now=clock) as new:
        taken = take_in(new, tmp_path / "bad.jsonl")
        assert [told.split(":")[0] for told in taken.refused[:6]] == [f"bad.jsonl, line {n}" for n in range(2, 8)]
        assert taken.added == len(lines) - 7
        theirs = good["station"]
        assert new.sums("2026-01-01", "2026-12-31", theirs) and not new.sums("2026-01-01", "2026-12-31")
    assert not (tmp_path / "outside.log").exists()


def test_a_file_that_is_no_export_is_refused_in_words(tmp_path, clock):
    (tmp_path / "other.csv").write_text("a,b\n1,2\n")
    (tmp_path / "picture.jsonl").write_bytes(b"\x89PNG\r\n\xff\xfe\x00")
    with Book.open(tmp_path / "book", now=clock) as book:
        for name, told in (("other.csv", "lacks the columns"), ("picture.jsonl", "no export"), (".", "no records")):
            with pytest.raises(NotReadable, match=told):
                take_in(book, tmp_path / name)
        assert book.days() == ()


def test_the_columns_of_a_row_are_those_that_are_documented():
    pull = Pull(id="1", at=MORNING.isoformat(), grinder="left", coffee="house", setting=3,
                recipe=usual("house", "single"))
    assert sorted(row(pull, "2026-03-02", "here")) == sorted(COLUMNS)


def test_the_commands_take_a_book_out_and_in_again(tmp_path, clock, capsys):
    a_busy_book(tmp_path / "book", clock).close()
    there, new = ["--book", str(tmp_path / "book")], ["--book", str(tmp_path / "new")]
    assert book_commands.export([*there, str(tmp_path / "out.csv"), "--from", "2026-03-03"]) == 0
    assert "4 pulls" in capsys.readouterr().out
    assert book_commands.export([*there, str(tmp_path / "out.jsonl")]) == 0
    assert book_commands.take_in([*new, str(tmp_path / "out.jsonl")]) == 0
    assert "Added 13 records; 0 were known already; 1 were left out" in capsys.readouterr().out
    assert book_commands.backup([*there, str(tmp_path / "stick")]) == 0
    assert book_commands.backup([*there, str(tmp_path / "stick"), "--if-due"]) == 0
    assert "recent enough" in capsys.readouterr().out
    made, = (tmp_path / "stick").glob("*.zip")
    assert book_commands.restore([*new, "--same", str(made)]) == 0
    assert "Restored 14 records" in capsys.readouterr().out
    assert book_commands.forget([*new, "Ada"]) == 0
    assert "none does now" in capsys.readouterr().out
    with Book.open(tmp_path / "book", now=clock):
        assert book_commands.forget([*there, "Ada"]) == 2
    assert "already open" in capsys.readouterr().err
    for command, more in ((book_commands.restore, [str(tmp_path / "out.csv")]),
                          (book_commands.export, ["--book", "/nowhere", "x"]),
                          (book_commands.take_in, [*new, str(tmp_path / "none.csv")])):
        assert command([*there, *more]) == 2
        assert capsys.readouterr().err.strip().endswith(".")


def test_a_person_is_forgotten_everywhere_and_the_sums_stay(tmp_path, clock):
    with a_busy_book(tmp_path / "book", clock) as book:
        book.set_setting("staff.Zoë", {"language": "de"})
        book.set_setting("staff.Bo", {})
        theirs = pulled(book, 2, barista="Zoë", notes=("The yield was not measured.",))
        pulled(book, 1, barista="Bo", coffee="Zoë")
        book.keep(Corrected(id=book.new_id(), at=book.at(), of=theirs[0].id, changes={"barista": "Zoë"}, by="Zoë"))
        book.remember("pace", {"Zoë": 3})
        before = book.sums("2026-01-01", "2026-12-31")
        assert book.forget("Zoë") == 4
        assert book.sums("2026-01-01", "2026-12-31") == before
        pseudonym = book.find(theirs[0].id).barista
        assert pseudonym.startswith("someone-") and book.find(theirs[1].id).barista == pseudonym
        assert book.find(theirs[1].id).notes == ("The yield was not measured.",)      # the kiosk's own words stay
        assert set(book.settings["staff"]) == {pseudonym, "Bo"}
        assert book.today().of(Pull)[-1].barista == "Bo" and book.today().of(Pull)[-1].coffee == "Zoë"
        assert book.notices == ()
        pulled(book)
    for path in (tmp_path / "book").rglob("*.*"):
        if path.is_file():
            assert b'"Zo\\u00eb"' not in path.read_bytes().replace(b'"coffee":"Zo\\u00eb"', b"")


def test_forgetting_a_name_that_is_also_a_word_of_the_program_leaves_the_word(tmp_path, clock):
    with Book.open(tmp_path / "book", now=clock) as book:
        event = {"event": "Bin", "t_s": 1.0, "why": "Bin"}
        book.keep(GuideEvent(id=book.new_id(), at=book.at(), pull_id="a.0.1", event=event))
        theirs, = pulled(book, 1, barista="Bin", sink="Bin")
        assert book.forget("Bin") >= 1
        kept = book.find(theirs.id)
        assert kept.barista.startswith("someone-") and kept.sink == "Bin"
        assert [each.event for each in book.today().of(GuideEvent)] == [event]
        assert book.notices == ()


def test_a_forgetting_cut_off_by_the_power_is_finished_at_the_next_opening(tmp_path, clock):
    with a_busy_book(tmp_path / "book", clock, days=4) as book:
        pass

    class Cut(Exception):
        pass

    calls = []

    def once_then_cut(path, data, **more):
        calls.append(path)
        if len(calls) == 3:
            raise Cut
        type(disk).replace(disk, path, data, **more)

    clock.pass_by(days=1)
    book = Book.open(tmp_path / "book", now=clock)
    disk = book._disk
    disk.replace = once_then_cut
    with pytest.raises(Cut):
        book.forget("Ada")
    book._lock.release()
    with Book.open(tmp_path / "book", now=clock) as again:
        people = {pull.barista for day in again.days() for pull in again.day(day).of(Pull)}
        assert len(people) == 1 and "Ada" not in people
        assert again.notices == ()


def test_another_stations_half_made_pull_is_not_to_be_made_here_and_its_records_say_whose_they_are(tmp_path, clock):
    with Book.open(tmp_path / "theirs", now=clock) as theirs:
        order = OrderTaken(id=theirs.new_id(), at=theirs.at(), drinks=(("Latte", 1),), coffee="house")
        tap = GuideEvent(id=theirs.new_id(), at=theirs.at(), pull_id=f"{order.id}.0.1",
                         event={"event": "PutBack", "t_s": 1.0})
        theirs.keep_all((order, tap))
        their_pull, = pulled(theirs)
        export(theirs, tmp_path / "theirs.jsonl", "jsonl")
        assert theirs.is_ours(order.id) and theirs.is_ours(their_pull.id)
    with Book.open(tmp_path / "ours", now=clock) as ours:
        our_pull, = pulled(ours)
        taken = take_in(ours, tmp_path / "theirs.jsonl")
        assert (taken.added, taken.steps, taken.refused) == (2, 1, [])
        assert ours.today().of(GuideEvent) == ()
    with Book.open(tmp_path / "ours", now=clock) as ours:
        assert ours.is_ours(our_pull.id) and ours.is_ours("an id of nothing")
        assert not ours.is_ours(order.id) and not ours.is_ours(their_pull.id)
        assert take_in(ours, tmp_path / "theirs.jsonl").added == 0


def test_a_correction_that_comes_days_later_finds_the_record_of_another_station_that_it_puts_right(tmp_path, clock):
    with Book.open(tmp_path / "theirs", now=clock) as theirs:
        wrong, _ = pulled(theirs, 2)
        first_day, station = theirs.day_now(), theirs.station
        export(theirs, tmp_path / "first.jsonl", "jsonl")
    with Book.open(tmp_path / "ours", now=clock) as ours:
        pulled(ours)
        ours.add_up()
        take_in(ours, tmp_path / "first.jsonl")
        for _ in range(8):                                      # so many days that the first is at hand no more
            clock.pass_by(days=1)
            pulled(ours)
        ours.add_up()
    with Book.open(tmp_path / "theirs", now=clock) as theirs:
        theirs.keep(Corrected(id=theirs.new_id(), at=theirs.at(), of=wrong.id, changes={}, void=True))
        export(theirs, tmp_path / "later.jsonl", "jsonl")
    with Book.open(tmp_path / "ours", now=clock) as ours:
        assert ours.find(wrong.id) is not None and ours.station_of(wrong.id) == station
        assert take_in(ours, tmp_path / "later.jsonl").added == 1
        ours.add_up()
        assert ours.find(wrong.id) is None
        assert [(day.day, day.pulls) for day in ours.sums("", "9999", station)] == [(first_day, 1)]


def test_sums_that_an_earlier_version_kept_of_its_own_records_alone_hide_no_other_stations_record(tmp_path, clock):
    with Book.open(tmp_path / "theirs", now=clock) as theirs:
        _, asked = pulled(theirs, 2)
        export(theirs, tmp_path / "theirs.jsonl", "jsonl")
    with Book.open(tmp_path / "ours", now=clock) as ours:
        own, = pulled(ours)
        day = ours.day_now()
        take_in(ours, tmp_path / "theirs.jsonl")
        for _ in range(8):                                      # so many days that the first is at hand no more
            clock.pass_by(days=1)
            pulled(ours)
        ours.add_up()
        summed = ours.sums("", "9999")
    kept = Journal(tmp_path / "ours" / "sums" / f"{day[:4]}.log", Disk())
    kept.change(lambda each: line(each.number, {"kind": day, **each.fields, "reckoning": 10, "last": 1, "ids": [own.id, own.id]})
                if each.kind == day else each)
    kept.write_out()
    kept.close()
    with Book.open(tmp_path / "ours", now=clock) as ours:
        assert ours.find(asked.id) is not None
        assert ours.sums("", "9999") == summed


def test_a_table_saved_by_a_spreadsheet_is_refused_row_by_row_in_words_and_stops_nothing(tmp_path, clock):
    with a_busy_book(tmp_path / "book", clock) as book:
        export(book, tmp_path / "pulls.csv", "csv")
    with open(tmp_path / "pulls.csv", newline="") as file:
        good, *_ = rows = list(csv.DictReader(file))
    spoilt = [{"at": "2026-03-02 08:00:00"}, {"at": ""}, {"grinder": ""}, {"coffee": ""}, {"time_s": "1e200"},
              {"time_s": "25,4"}, {"setting": ""}, {"warmed": "WAHR"}, {"step_s": "dose"}, {"day": "2026-W10"}]
    with open(tmp_path / "saved.csv", "w", newline="") as file:
        writer = csv.DictWriter(file, good)
        writer.writeheader()
        writer.writerows([*({**good, "id": f"x{n}", **change} for n, change in enumerate(spoilt)), *rows])
    with Book.open(tmp_path / "new", now=clock) as new:
        taken = take_in(new, tmp_path / "saved.csv")
        assert taken.added == len(rows) and len(taken.refused) == len(spoilt)
        for n, (told, change) in enumerate(zip(taken.refused, spoilt), 2):
            assert told.startswith(f"saved.csv, line {n}: ") and next(iter(change)) in told
            assert told.endswith("Put it right there and import the file again.")


@pytest.mark.parametrize("at", ["2026-03-02T07:00:00Z", "2026-03-02 08:00:00.000+01:00", "20260302T080000+0100", "2026-W10-1T08:00+01:00"])
def test_a_time_that_another_program_wrote_in_its_own_way_is_shown_like_any_other(tmp_path, clock, at):
    """All of them are ISO 8601 (the blank is what spreadsheets put there)."""
    with Book.open(tmp_path / "book", now=clock) as book:
        row_of = row(a_pull(book), "", "") | {"at": at}
    with open(tmp_path / "theirs.csv", "w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, row_of)
        writer.writeheader()
        writer.writerow(row_of)
    with Book.open(tmp_path / "new", now=clock) as new:
        assert take_in(new, tmp_path / "theirs.csv").added == 1
        kept, = new.day("2026-03-02").of(Pull)
        hour = "07" if at.endswith("Z") else "08"
        assert kept.at == f"2026-03-02T{hour}:00:00.000{'+00:00' if hour == '07' else '+01:00'}"


@pytest.mark.parametrize("command, asked, told", [
    (book_commands.export, [".", "--as", "csv"], "Name a file in it"),
    (book_commands.export, ["pulls.xlsx"], "Name a file that ends in .csv or .jsonl"),
    (book_commands.export, ["out.csv", "--from", "garbage"], "write it like"),
    (book_commands.export, ["out.csv", "--from", "2026-03-09", "--to-day", "2026-03-02"], "before they begin"),
    (book_commands.forget, [" "], "no name to forget"),
    (book_commands.backup, ["stick", "--if-due", "--every-hours", "nan"], "no number of hours"),
    (book_commands.backup, ["stick", "--if-due", "--every-hours", "1e300"], "no number of hours"),
    (book_commands.restore, ["."], ". cannot be read: Is a directory. Choose another"),
    (book_commands.take_in, ["."], ". holds no records. Choose the folder"),
])
def test_what_is_asked_wrongly_of_the_book_is_told_in_a_sentence(tmp_path, clock, capsys, monkeypatch, command, asked,
                                                                 told):
    a_busy_book(tmp_path / "book", clock).close()
    monkeypatch.chdir(tmp_path)
    try:
        assert command(["--book", "book", *asked]) == 2
    except SystemExit as ended:
        assert ended.code == 2
    assert told in capsys.readouterr().err


def test_a_foreign_correction_cannot_void_a_pull_of_ours(tmp_path, clock):
    with Book.open(tmp_path / "ours", now=clock) as ours:
        kept, = pulled(ours)
        line = json.dumps({"kind": "Corrected", "id": "900000-theirs-000001", "at": kept.at, "of": kept.id, "changes": {},
                           "void": True, "by": None, "station": "theirs", "day": ours.day_of(kept)})
        (tmp_path / "theirs.jsonl").write_text(line + "\n")
        taken = take_in(ours, tmp_path / "theirs.jsonl")
        assert taken.added == 0 and "not its own" in taken.refused[0]
        assert ours.find(kept.id) == kept
        # one that an older program let in changes nothing either
        ours.keep_all((Corrected(id="900000-theirs-000002", at=kept.at, of=kept.id, changes={}, void=True),), "theirs")
        assert ours.find(kept.id) == kept and kept in ours.day(ours.day_of(kept)).all
        assert ours.day(ours.day_of(kept)).of(Pull) == (kept,)
