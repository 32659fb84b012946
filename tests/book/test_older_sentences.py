"""Books of before sentences kept what they were made of: the same words, in German too, as if they had been kept so."""

import json
from dataclasses import replace

import pytest

from kiosk.bar.messages import Message
from kiosk.bar.model import FlagRaised, to_json
from kiosk.book import Book, message_of
from kiosk.book.exchange import take_in
from kiosk.book.older_sentences import TEMPLATES
from kiosk.languages import catalogue

# What older programs kept, and how they said it in German: written down from them, for no code makes it any more.
KEPT = {
    "Left at 20 has moved: the last 6 pulls ran 3.1 s faster than those before.":
        "Left auf 20 ist gedriftet: Die letzten 6 Bezüge liefen 3,1 s schneller als die davor.",
    "Left at 20 has moved: the last pull ran 3.1 s slower than those before.":
        "Left auf 20 ist gedriftet: Der letzte Bezug lief 3,1 s langsamer als die davor.",
    "Left at 20 has drifted: its 5 pulls ran 2.0 s slower than the recipe.":
        "Left auf 20 driftet: Die 5 Bezüge liefen 2,0 s langsamer als im Rezept.",
    "Left at -12 has drifted: the last pull ran 3.3 s faster than the 3 before.":
        "Left auf -12 driftet: Der letzte Bezug lief 3,3 s schneller als die 3 davor.",
    "Left at 20 has drifted: the last 8 pulls ran 1.6 s faster than the 2 before.":
        "Left auf 20 driftet: Die letzten 8 Bezüge liefen 1,6 s schneller als die 2 davor.",
    "Left at 20: the last 4 pulls were stopped 9 s later than those before. Were these stopped late?":
        "Left auf 20: Die letzten 4 Bezüge wurden 9 s später gestoppt als die davor. Wurde hier zu spät gestoppt?",
    "Left at 20: the last 4 pulls of one person ran 2.5 s faster, the others' did not. The tamp comes first.":
        "Left auf 20: Die letzten 4 Bezüge einer Person liefen 2,5 s schneller, die der anderen nicht. Erst aufs Tampen achten.",
    "Left at 20: the last 5 pulls ran 2.5 s slower, and the doses explain it. Leave the grinder.":
        "Left auf 20: Die letzten 5 Bezüge liefen 2,5 s langsamer, und die Dosen erklären es. Lass die Mühle.",
    "Left at 20: the last 5 pulls ran 2.5 s slower; it looks like the pull itself. Leave the grinder.":
        "Left auf 20: Die letzten 5 Bezüge liefen 2,5 s langsamer; es sieht nach dem Bezug selbst aus. Lass die Mühle.",
    "Left at 20: the last 5 pulls ran 2.5 s faster. Grinder or hands cannot be told yet: let somebody else pull the next.":
        "Left auf 20: Die letzten 5 Bezüge liefen 2,5 s schneller. Ob Mühle oder Hand, ist noch offen: Lass jemand anderen den "
        "nächsten machen.",
    "The old one, left at 20 has run 4 s slow since it was set.":
        "The old one, left auf 20 läuft 4 s zu langsam, seit sie so steht.",
    "Right at 20 is uneven: its pulls spread wider than before. The hands come first, not the grind setting.":
        "Right auf 20 ist ungleich: Die Bezüge streuen mehr als zuvor. Erst die Hände, nicht der Einstellring.",
    "Leave the grind setting: judge at least 2 pulls at this setting first.":
        "Lass den Einstellring: Prüf erst mindestens 2 Bezüge auf dieser Stufe.",
}
GERMAN = catalogue("de")


def flag(book, sentence):
    return FlagRaised(id=book.new_id(), at=book.at(), grinder="Left", coffee="House", setting=20, what="drifting", direction="finer",
                      sentence=sentence, evidence={})


@pytest.mark.parametrize("english", KEPT)
def test_what_an_older_program_kept_is_said_in_german_as_it_was(english):
    message = message_of(english)
    assert message == english and GERMAN.render(message) == KEPT[english]
    assert message_of(message) is message


def test_each_template_was_kept_by_somebody_and_nothing_else_is_taken_for_one():
    assert {message_of(english).template for english in KEPT} == set(TEMPLATES)
    for other in ("", "It drifted.", "Left at 20 has moved", "Left at 20 has run 4.0 s slow since it was set.",
                  "Left at twenty has run 4 s slow since it was set.", "Left at 20 has run 4 s late since it was set.",
                  "Left at 20: the last 1.2.3 pulls ran 2.5 s slower; it looks like the pull itself. Leave the grinder."):
        assert type(message_of(other)) is str and message_of(other) == other


def test_a_book_whose_flags_are_english_alone_is_read_with_their_messages_and_one_of_now_keeps_its_own(tmp_path):
    english = next(iter(KEPT))
    with Book.open(tmp_path / "book") as book:
        old, new = flag(book, english), flag(book, Message("{where} has run {level_s:.0f} s {side} since it was set.",
                                                           where="Left at 20", level_s=3.6, side=Message("slow")))
        book.keep_all((old, new))
    with Book.open(tmp_path / "book", read_only=True) as book:
        was, now = book.today().of(FlagRaised)
        assert (was, now) == (old, new)
        assert GERMAN.render(was.sentence) == KEPT[english] and now.sentence.values["level_s"] == 3.6
        kept = b"".join(each.body for each in book._days.lines(book.day_now()))
        assert kept.count(b'"messages"') == 1 and json.dumps(english).encode() in kept


def test_a_file_of_an_older_station_is_taken_in_and_said_in_german(tmp_path):
    english = next(iter(KEPT))
    with Book.open(tmp_path / "there") as there:
        line = {**to_json(flag(there, english)), "station": "there"}
    (tmp_path / "records.jsonl").write_text(json.dumps(line) + "\n", "utf-8")
    with Book.open(tmp_path / "book") as book:
        assert take_in(book, tmp_path / "records.jsonl").added == 1
        (read,) = book.today().of(FlagRaised)
        assert GERMAN.render(read.sentence) == KEPT[english]
        assert replace(read, sentence=english) == read
