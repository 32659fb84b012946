"""Damaged, cut and old books: what is whole is served, what is lost is named, nothing is served wrong."""

import json

import pytest

from kiosk.bar.model import Corrected, Pull
from kiosk.book import Book, BookNewer, snapshot
from kiosk.book.backup import back_up, prove
from kiosk.book.disk import Disk
from kiosk.book.stored_record import StoredRecord, found
from tests.bench.book_damage import campaign as damages
from tests.bench.book_kill import cut_at_every_byte, failed_syncs, kills
from tests.support.bar_of_the_book import WallClock, pulled

TODAY = "2026-03-02"


@pytest.fixture
def clock():
    return WallClock()


@pytest.fixture
def kept(tmp_path, clock):
    with Book.open(tmp_path, now=clock) as book:
        return pulled(book, 6)


def lines_of(folder, day=TODAY):
    return (folder / "days" / f"{day}.log").read_bytes().splitlines(keepends=True)


def put(folder, lines, day=TODAY):
    (folder / "days" / f"{day}.log").write_bytes(b"".join(lines))


def test_a_line_cut_short_by_the_power_is_dropped_with_a_note_and_the_next_pull_follows(tmp_path, clock, kept):
    put(tmp_path, [*lines_of(tmp_path), b"1a2b3c4d 7 Pull {\"id\":\"00"])
    with Book.open(tmp_path, now=clock) as book:
        assert "cut short" in book.notices[0] and "6 records" in book.notices[0]
        kept += pulled(book)
        assert list(book.today().of(Pull)) == kept and book.today().lost == 0
    with Book.open(tmp_path, now=clock) as book:
        assert list(book.today().of(Pull)) == kept and book.notices == ()


@pytest.mark.parametrize("saved", [
    lambda text: text.replace("\n", "\r\n").encode(), lambda text: text.encode("utf-16"), lambda text: text.encode("utf-8-sig"),
    lambda text: b"\xfe\xff" + text.replace("\n", "\r\n").encode("utf-16-be")], ids=["CRLF", "UTF-16", "UTF-8 with a mark", "both"])
def test_a_day_that_an_editor_saved_anew_is_read_and_written_as_it_was(tmp_path, clock, kept, saved):
    path = tmp_path / "days" / f"{TODAY}.log"
    before = path.read_bytes()
    path.write_bytes(saved(before.decode()))
    with Book.open(tmp_path, now=clock, read_only=True) as book:
        assert list(book.today().of(Pull)) == kept
    assert prove(back_up(tmp_path, tmp_path / "stick", clock())).records == 6
    with Book.open(tmp_path, now=clock) as book:
        assert "none is known to be lost" in book.notices[0]
        kept += pulled(book)
    with Book.open(tmp_path, now=clock) as book:
        assert list(book.today().of(Pull)) == kept and book.notices == ()
    assert path.read_bytes().startswith(before)


def test_a_damaged_line_is_lost_by_number_and_time_and_the_file_is_set_aside(tmp_path, clock, kept):
    lines = lines_of(tmp_path)
    lines[2] = lines[2].replace(b"16.1", b"61.1")
    put(tmp_path, lines)
    with Book.open(tmp_path, now=clock) as book:
        notice, = book.notices
        assert "5 records are whole" in notice and "number 3 after 08:00:00 before 08:00:00" in notice
        assert "aside/2026-03-02.1.log" in notice
        assert list(book.today().of(Pull)) == kept[:2] + kept[3:] and book.today().lost == 1
    assert (tmp_path / "aside" / "2026-03-02.1.log").read_bytes() == b"".join(lines)
    with Book.open(tmp_path, now=clock) as book:
        assert book.notices == () and book.today().lost == 1 and book.sums(TODAY, TODAY)[0].lost == 1


def test_swapped_lines_are_put_back_in_order_and_nothing_is_lost(tmp_path, clock, kept):
    lines = lines_of(tmp_path)
    put(tmp_path, [*lines[3:], *lines[:3]])
    with Book.open(tmp_path, now=clock) as book:
        assert list(book.today().of(Pull)) == kept and book.today().lost == 0
        assert "none is known to be lost" in book.notices[0]


def test_a_line_that_strayed_from_another_day_is_not_served(tmp_path, clock, kept):
    put(tmp_path, lines_of(tmp_path), day="2026-03-01")
    with Book.open(tmp_path, now=clock) as book:
        assert book.day("2026-03-01").all == ()


@pytest.mark.parametrize("left", [0, 3])
def test_a_file_cut_at_the_end_of_a_line_is_told_from_a_quiet_day(tmp_path, clock, kept, left):
    put(tmp_path, lines_of(tmp_path)[:left])
    with Book.open(tmp_path, now=clock) as book:
        assert f"{6 - left} are lost" in book.notices[0]
        assert list(book.today().of(Pull)) == kept[:left] and book.today().lost == 6 - left
        more = pulled(book)
        assert list(book.today().of(Pull)) == kept[:left] + more


def test_a_correction_of_an_older_day_does_not_hide_how_long_today_was(tmp_path, clock, kept):
    clock.pass_by(days=1)
    with Book.open(tmp_path, now=clock) as book:
        pulled(book, 4)
        book.keep(Corrected(id=book.new_id(), at=book.at(), of=kept[0].id, changes={}, void=True))
    put(tmp_path, lines_of(tmp_path, "2026-03-03")[:3], day="2026-03-03")
    put(tmp_path, lines_of(tmp_path)[:6])
    with Book.open(tmp_path, now=clock) as book:
        assert (book.day(TODAY).lost, book.today().lost) == (1, 1)


def test_a_closed_day_that_was_summed_is_known_to_have_been_longer(tmp_path, clock, kept):
    clock.pass_by(days=1)
    with Book.open(tmp_path, now=clock) as book:
        pulled(book)
        book.sums(TODAY, TODAY)
    put(tmp_path, lines_of(tmp_path)[:4])
    with Book.open(tmp_path, now=clock) as book:
        assert book.day(TODAY).lost == 2 and "2 are lost: numbers 5 to 6" in book.notices[0]


def test_a_day_that_cannot_be_read_at_all_is_out_of_the_way_and_the_bar_opens(tmp_path, clock, kept):
    (tmp_path / "days" / f"{TODAY}.log").unlink()
    (tmp_path / "days" / f"{TODAY}.log").mkdir()
    with Book.open(tmp_path, now=clock) as book:
        assert "cannot be read" in book.notices[0] and "set aside" in book.notices[0]
        more = pulled(book)
        assert book.trouble is None
    with Book.open(tmp_path, now=clock) as book:
        assert list(book.today().of(Pull)) == more


def test_records_that_met_under_one_number_are_both_kept(tmp_path, clock, kept):
    first = lines_of(tmp_path)
    (tmp_path / "days" / f"{TODAY}.log").unlink()
    (tmp_path / "last").unlink()
    with Book.open(tmp_path, now=clock) as book:
        later = pulled(book, 2)
    put(tmp_path, [*first, *lines_of(tmp_path)])
    with Book.open(tmp_path, now=clock) as book:
        assert list(book.today().of(Pull)) == kept + later


def test_a_report_on_a_damaged_book_changes_nothing_and_tells_the_same(tmp_path, clock, kept):
    lines = lines_of(tmp_path)
    del lines[1]
    put(tmp_path, lines)
    with Book.open(tmp_path, now=clock, read_only=True) as report:
        assert list(report.today().of(Pull)) == kept[:1] + kept[2:]
        assert report.today().lost == 1 and len(report.notices) == 1
    assert lines_of(tmp_path) == lines and list((tmp_path / "aside").iterdir()) == []


def test_damaged_settings_are_made_again_from_the_record_of_changes(tmp_path, clock):
    with Book.open(tmp_path, now=clock) as book:
        for day in range(3):
            book.set_setting("grinders.left.name", f"Name {day}")
            book.set_setting(f"staff.Person {day}", {"language": "en"})
            clock.pass_by(days=1)
        book.set_setting("staff.Person 1", None)
        right = book.settings
    for names in (["settings.json"], ["settings.json", "settings.before.json"]):
        for name in names:
            (tmp_path / name).write_bytes(b"0badc0de {}")
        with Book.open(tmp_path, now=clock) as book:
            assert book.settings == right and "settings" in book.notices[0]
            book.set_setting("sounds", False)
            right = book.settings


def test_the_settings_of_a_change_ago_are_kept_as_they_were(tmp_path, clock):
    with Book.open(tmp_path, now=clock) as book:
        book.set_setting("sounds", True)
    with Book.open(tmp_path, now=clock) as book:
        book.set_setting("sounds", False)
    assert snapshot.get(tmp_path / "settings.before.json")["settings"] == {"sounds": True}


def test_a_book_kept_by_a_newer_program_is_refused_and_untouched(tmp_path, clock, kept):
    snapshot.put(Disk(), tmp_path / "book.json", {"version": 99, "station": "abcdef", "opened": 3})
    before = {path: path.read_bytes() for path in tmp_path.rglob("*.*") if path.is_file()}
    for read_only in (False, True):
        with pytest.raises(BookNewer, match="Update Evenpull"):
            Book.open(tmp_path, now=clock, read_only=read_only)
    assert {path: path.read_bytes() for path in tmp_path.rglob("*.*") if path.is_file()} == before


def test_a_book_of_the_first_version_opens_as_it_was_with_its_curves_apart(tmp_path, clock, kept):
    """In the first version a pull's trace stood among its other fields."""
    as_first(tmp_path)
    with Book.open(tmp_path, now=clock, read_only=True) as report:
        assert list(report.today().of(Pull)) == kept
    with Book.open(tmp_path, now=clock) as book:
        assert list(book.today().of(Pull)) == kept and book.notices == ()
        assert not any(pull.trace for pull in book.today().of(Pull, traces=False))
    assert snapshot.get(tmp_path / "book.json")["version"] == 2
    assert all(b'"trace"' not in line and b"\t[[" in line for line in lines_of(tmp_path))


def test_a_power_cut_in_the_middle_of_bringing_a_book_up_to_date_costs_a_second_run(tmp_path, clock, kept):
    class Cut(OSError):
        pass

    class Cutting(Disk):
        left = 1

        def replace(self, path, data, *, durable=True):
            if not self.left:
                raise Cut(5, "Input/output error")
            self.left -= 1
            super().replace(path, data, durable=durable)

    clock.pass_by(days=1)
    with Book.open(tmp_path, now=clock) as book:
        more = pulled(book, 2)
    as_first(tmp_path)
    with Book.open(tmp_path, now=clock, disk=Cutting()) as half:
        assert half.trouble
    for _ in range(2):
        with Book.open(tmp_path, now=clock) as book:
            assert [pull for day in book.days() for pull in book.day(day).of(Pull)] == kept + more


def as_first(folder):
    """Write the book as the first version did."""
    about = snapshot.get(folder / "book.json")
    snapshot.put(Disk(), folder / "book.json", {**about, "version": 1})
    for path in (folder / "days").glob("*.log"):
        lines = [StoredRecord(line.number, line.kind, json.dumps(line.fields, separators=(",", ":")).encode())
                 for line in found(path.read_bytes(), path.stem).lines]
        path.write_bytes(b"".join(line.encoded(path.stem) for line in lines))


def test_a_kiosk_killed_at_random_moments_keeps_what_it_confirmed_once(tmp_path):
    assert kills(tmp_path, rounds=6, seed=1).holds


def test_a_power_cut_at_each_byte_of_the_last_record_costs_that_record_at_most(tmp_path):
    assert cut_at_every_byte(tmp_path, every=60).holds


def test_failed_syncs_lose_and_double_nothing(tmp_path):
    assert failed_syncs(tmp_path, rounds=5, seed=1).holds


def test_no_damage_makes_a_wrong_record_or_an_unnamed_loss(tmp_path):
    assert damages(tmp_path, rounds=40, seed=1).holds
