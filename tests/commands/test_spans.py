"""Long spans are told by the week, up to four bars stand side by side, and a report leaves as a mail: all equal to each bar's own."""

import csv
import io
import json
import re
from email import message_from_bytes, policy

import html5lib
import pytest

from kiosk.__main__ import main
from kiosk.book import Book, OneStation
from kiosk.book.exchange import export, take_in
from kiosk.book.journal import Journal
from tests.bench import page as bench
from tests.support.demo_years import fill, renamed

DAYS, FIRST, LAST = 36, "2026-09-27", "2026-11-01"
EVERY = 7               # the bar is open on Sundays alone: a slice of tests.bench.spans


@pytest.fixture(scope="module")
def chain(tmp_path_factory):
    """Six Sundays of one bar in a book of its own; in another's book a Sunday of both."""
    folder = tmp_path_factory.mktemp("chain")
    fill(folder / "harbour", DAYS, every=EVERY)
    with Book.open(folder / "harbour") as harbour:
        harbour.set_setting("manager.price_per_kg", bench.PRICE)
    with Book.open(folder / "harbour", read_only=True) as harbour:
        export(harbour, folder / "harbour.jsonl", "jsonl", LAST, LAST, station="Harbour")
    export_of_another(folder / "harbour.jsonl")
    fill(folder / "market", 1)
    with Book.open(folder / "market") as market:
        assert take_in(market, folder / "harbour.jsonl").added
        market.set_setting("manager.price_per_kg", 28.0)
        market.set_setting("manager.currency", "EUR")
    return folder


def export_of_another(path):
    path.write_text(renamed(path.read_text("utf-8")), "utf-8")


def told(capsys, *argv):
    assert main(["report", *argv]) == 0
    return capsys.readouterr().out


def test_a_long_span_adds_up_to_its_days(chain, capsys):
    book = ("--book", str(chain / "harbour"))
    long = json.loads(told(capsys, *book, "--day", FIRST, "--to", LAST, "--json"))
    assert long["format"] == 2 and len(long["weeks"]) == 6
    parts = [json.loads(told(capsys, *book, "--day", day, "--to", to, "--json")) for day, to in (
        (FIRST, "2026-10-25"), ("2026-10-26", LAST))]
    assert set(parts[0]) < set(long) and set(parts[0]["totals"]) == set(long["totals"])
    assert {key for each in parts[0]["grinders"] for key in each} < set(long["grinders"][0])
    assert [each["setting"] for each in long["grinders"]] == [each["setting"] for each in parts[1]["grinders"]]    # as it was left
    for name in set(long["totals"]) - {"share_in_window"}:
        assert long["totals"][name] == pytest.approx(sum(part["totals"][name] for part in parts)), name


def test_every_number_on_the_page_of_a_long_span_is_the_one_the_exports_give(chain, tmp_path):
    """A slice of tests.bench.page, whose comparison must see a number that is off."""
    shown = bench.on_the_page(chain / "harbour", tmp_path, "--day", FIRST, "--to", LAST)
    reckoned = bench.Bar(chain / "harbour", tmp_path).year(FIRST, LAST)
    assert not bench.differing(shown, reckoned) and len(shown) > 200
    key = "Left, Dusk, over the weeks/worth/low"
    assert bench.differing(shown, reckoned | {key: reckoned[key] + 0.01}) == [key]
    assert bench.differing({key: (18.04, "18.1")}, {key: 18.04}) == [key]


def test_the_sums_of_a_bar_taken_in_are_kept_and_a_year_of_it_reads_no_day_again(chain, capsys, monkeypatch, tmp_path):
    """The same text as the bar's own, out of its sums alone."""
    with Book.open(chain / "harbour", read_only=True) as harbour:
        export(harbour, tmp_path / "all.jsonl", "jsonl", station="Harbour, quay 1/2")
    export_of_another(tmp_path / "all.jsonl")
    fill(tmp_path / "office", 1)
    office = ("--book", str(tmp_path / "office"))
    assert main(["import", str(tmp_path / "all.jsonl"), *office]) == 0
    with Book.open(tmp_path / "office") as book:
        assert book.stations_of(LAST) == {None, "Harbour, quay 1/2"} and book.stations_of(FIRST) == {"Harbour, quay 1/2"}
        assert book.days()[0] == FIRST and LAST in OneStation(book).days() and FIRST not in OneStation(book).days()
    capsys.readouterr()
    asked = ("--day", FIRST, "--to", LAST, "--json")
    own = json.loads(told(capsys, "--book", str(chain / "harbour"), *asked))
    read, as_ever = [], Journal.__init__
    monkeypatch.setattr(Journal, "__init__", lambda self, path, *rest: read.append(path.stem) or as_ever(self, path, *rest))
    assert json.loads(told(capsys, *office, *asked, "--station", "Harbour, quay 1/2"))["weeks"] == own["weeks"]
    assert read and not {FIRST, "2026-10-04"} & {*read}         # the days written last are looked at on opening any book


def test_a_month_keeps_its_pulls_and_is_read_by_the_week(chain, capsys):
    month = told(capsys, "--book", str(chain / "harbour"), "--day", "2026-10-05", "--to", LAST)
    assert re.search(r"2026-W41 +\d+ ", month) and "Ana: doses spread by" in month
    assert not re.search(r"collar turned|[0-9] flag: ", month)      # a line each would fill pages


def test_bars_side_by_side_are_each_what_it_is_alone(chain, capsys):
    with Book.open(chain / "market", read_only=True) as book:
        ours = book.station
    book, names = ("--book", str(chain / "market"), "--day", LAST), (ours, "Harbour")
    both = tuple(word for name in names for word in ("--station", name))
    beside = json.loads(told(capsys, *book, *both, "--json"))
    rows = list(csv.DictReader(io.StringIO(told(capsys, *book, *both, "--csv"))))
    text = told(capsys, *book, *both)
    for name, found in zip(names, beside["stations"]):
        alone = json.loads(told(capsys, *book, "--station", name, "--json"))
        assert found == {"station": name, **alone} and alone["totals"]["pulls"] > 100
        assert [row["figure"] for row in rows if row["station"] == name] == [
            row["key"] for group in alone["groups"] for row in group["rows"]]
        assert f"{name}, Sunday 1 November" in text


def test_the_page_of_two_bars_has_each_figure_once_and_asks_for_nothing(chain, capsys, tmp_path):
    with Book.open(chain / "market", read_only=True) as book:
        ours = book.station
    for last in (LAST, "2026-12-31"):
        to = tmp_path / f"{last}.html"
        told(capsys, "--book", str(chain / "market"), "--day", LAST, "--to", last, "--station", ours, "--station", "Harbour",
             "--html", str(to))
        html = to.read_text("utf-8")
        tree = html5lib.HTMLParser(strict=True, namespaceHTMLElements=False).parse(html)
        keys = [each.get("data-key") for each in tree.iter("data")]
        assert len(keys) == len(set(keys)) and {key.split("/")[0] for key in keys} == {ours, "Harbour"}
        ids = [each.get("id") for each in tree.iter() if each.get("id")]
        assert len(ids) == len(set(ids))
        assert not re.search(r"(src|href)=\"(?!#)|url\(|@import|https?:", html)


def test_a_mail_has_the_text_and_the_page_and_goes_nowhere(chain, capsys, tmp_path):
    book = ("--book", str(chain / "harbour"), "--day", LAST)
    told(capsys, *book, "--mail", str(tmp_path / "evening.eml"), "--language", "de")
    told(capsys, *book, "--html", str(tmp_path / "evening.html"), "--language", "de")
    assert (tmp_path / "evening.eml").stat().st_mode & 0o077 == 0
    mail = message_from_bytes((tmp_path / "evening.eml").read_bytes(), policy=policy.default)
    assert mail["Subject"] == "The Tin Lantern, Sonntag, 1. November 2026" and mail["To"] is None
    page, table = mail.iter_attachments()
    text = told(capsys, *book, "--language", "de")
    assert mail.get_body().get_content().splitlines() == text.splitlines()
    assert page.get_content().splitlines() == (tmp_path / "evening.html").read_text("utf-8").splitlines()
    assert table.get_filename() == "2026-11-01.csv" and table.get_content_type() == "text/csv"


def test_what_cannot_stand_side_by_side_is_refused_with_what_to_do(chain, capsys):
    for argv, words in ((["--demo", "--station", "Harbour"], "the demo is one bar"),
                        ([word for n in range(5) for word in ("--station", f"bar {n}")], "export --as chain")):
        with pytest.raises(SystemExit) as ended:
            main(["report", *argv])
        assert ended.value.code == 2 and words in capsys.readouterr().err
