"""The evening's page: each number recomputed from the export, valid, whole in itself, and sensible on odd days."""

import json
import re
from dataclasses import replace
from datetime import datetime, timedelta, timezone
from pathlib import Path
from random import Random

import html5lib
import pytest
import tinycss2

from kiosk.bar.evening import in_window
from kiosk.bar.evening.evening import evening
from kiosk.bar.evening.weeks import weeks
from kiosk.bar.model import GroundsPurged, NotchMoved, Noted, Pull, judge, usual
from kiosk.bar.model.record import from_json
from kiosk.book import Book
from kiosk.book.exchange import export
from kiosk.languages import catalogue
from kiosk.page import page
from kiosk.page.style import STYLE
from tests.bar.evening.test_weeks import month
from tests.support.evening_again import again

DEMO = Path(__file__).parents[2] / "demo_data"
PRICE = 28.0
OPENS = datetime(2026, 10, 23, 7, 0, tzinfo=timezone(timedelta(hours=2)))
DAY = "2026-10-23"


def demo(day):
    return [from_json(json.loads(line)) for line in (DEMO / f"{day}.jsonl").read_text("utf-8").splitlines()]


def a_pull(n, **more):
    recipe = usual("House", "double")
    return Pull(**{"id": f"p{n}", "at": (OPENS + timedelta(minutes=7 * n)).isoformat(), "grinder": "Left",
                   "coffee": "House",
                   "setting": 20, "recipe": recipe, "dose_g": 16.1, "yield_g": recipe.yield_g, "time_s": 24.0 + n % 5,
                   "barista": "Ada", "first_drop_s": 4.0, **more})


ODD_DAYS = {
    "empty": [],
    "one pull": [a_pull(1)],
    "one pull, not timed": [a_pull(1, time_s=None, dose_g=None, yield_g=None)],
    "one grinder of three, the others purged and turned": [
        *(a_pull(n) for n in range(30)),
        GroundsPurged(id="g1", at=OPENS.isoformat(), grinder="Middle", coffee="Decaf", grams=6.0),
        NotchMoved(id="m1", at=OPENS.isoformat(), grinder="Right", coffee="Filter", before=3, after=4)],
    "no doses at all": [a_pull(n, dose_g=None, yield_g=None) for n in range(25)],
    "names that are markup": [a_pull(n, grinder="<Left> & \"co\"", barista="<script>alert(1)</script>", sink="'\"><b>"
                                     if n == 3 else None)
                              for n in range(12)],
    "nothing but notes": [Noted(id="n1", at=OPENS.isoformat(), what="beans",
                                facts={"coffee": "House", "roasted": "2026-10-12"})],
    "all in the sink": [a_pull(n, sink="spilt") for n in range(6)],
}


def parsed(html):
    """The page as a tree. html5lib reads as the WHATWG standard has it; strict, it raises on the first error."""
    return html5lib.HTMLParser(strict=True, namespaceHTMLElements=False).parse(html)


def numbers(html):
    found = {}
    for each in parsed(html).iter("data"):
        key = each.get("data-key")
        assert key not in found, f"{key} stands twice on the page"
        found[key] = float(each.get("value"))
    return found


@pytest.mark.parametrize("day", ["2026-10-20", "2026-10-23", "2026-10-24", "2026-10-28"])
def test_every_number_on_the_page_is_the_one_the_export_gives(tmp_path, day):
    with Book.open(tmp_path / "book") as book:
        book.keep_all(demo(day))
        export(book, tmp_path / "pulls.csv", "csv")
        export(book, tmp_path / "records.jsonl", "jsonl")
        html = page(evening(book.records(day, day), day, price_per_kg=PRICE), "The Tin Lantern", "€")
    shown, reckoned = numbers(html), again(tmp_path / "pulls.csv", tmp_path / "records.jsonl", PRICE)
    assert set(shown) == set(reckoned)
    assert len(shown) > 100
    for key, value in reckoned.items():
        assert shown[key] == pytest.approx(value, rel=2e-5, abs=1e-6), key


def test_a_page_with_its_weeks_is_valid_and_has_each_figure_once():
    found = weeks(month(3))
    html = page(evening(demo("2026-10-24"), "2026-10-24"), "Bar", "€", found, 100.0)
    keys = numbers(html)
    assert keys["Left, House, over the weeks/ground/value"] == pytest.approx(40 * 3.03)
    assert keys["Left, House, over the weeks/worth/low"] == found.grinders[0].worth.low
    assert "more than the 100 kg they are good for" in html


def test_a_german_page_has_the_figures_of_the_english_one_in_german_words_and_with_commas():
    of, found = evening(demo("2026-10-24"), "2026-10-24", price_per_kg=PRICE), weeks(month(3))
    html = page(of, "The Tin Lantern", "€", found, 100.0, catalogue("de"))
    tree = parsed(html)
    assert tree.get("lang") == "de"
    assert numbers(html) == numbers(page(of, "The Tin Lantern", "€", found, 100.0))
    tree.find("head").clear()                           # the style has points of its own
    names = "Left|Right|The Tin Lantern"
    for text in (text.strip() for each in tree.iter() for text in (each.text, each.tail, each.get("aria-label"))
                 if text and text.strip()):
        assert not re.search(r"\d\.\d", re.sub(r"\b\d+\.\d+\.$", "", text)), text
        assert not re.search(r"\b(the|of|to|pulls?|and|from|not|with|at|s off|window|time|grinder|setting)\b",
                             re.sub(names, "", text), re.I), text


def test_what_is_read_is_the_exact_value_rounded():
    tree = parsed(page(evening(demo("2026-10-24"), "2026-10-24", price_per_kg=PRICE), "", "€"))
    for each in tree.iter("data"):
        digits = len(each.text.partition(".")[2])
        assert float(each.text) == pytest.approx(float(each.get("value")), abs=0.5 * 10 ** -digits + 1e-9)


@pytest.mark.parametrize("name", ODD_DAYS)
def test_an_odd_day_is_a_valid_page_that_reads_sensibly(name):
    html = page(evening(ODD_DAYS[name], DAY, price_per_kg=PRICE), "The Tin Lantern", "€")
    tree = parsed(html)
    words = " ".join("".join(tree.itertext()).split())
    assert "Friday 23 October 2026" in words
    assert not re.search(r"\bnan\b|\binf\b|>None|None<", html)
    assert (tree.find(".//h1").text, len(tree.findall(".//h1"))) == ("The Tin Lantern", 1)
    assert tree.find(".//script") is None


def test_a_pull_is_counted_in_its_window_where_its_verdict_says_so():
    chance = Random(7)
    verdicts = []
    for n in range(4000):
        recipe = usual("House", "double")
        recipe = replace(recipe, amount_within=chance.choice((3.0, 29.0)), time_within_s=chance.choice((3.0, 12.0)),
                         first_drop_to_s=5.0)
        pull = a_pull(n, recipe=recipe, time_s=round(chance.uniform(8, 45), 1),
                      yield_g=chance.choice((None, chance.uniform(15, 90))))
        verdicts.append(in_window(pull))
        assert in_window(pull) == (judge(pull).in_window is not False)
    assert in_window(a_pull(1, time_s=None)) is None
    assert 500 < sum(verdicts) < 3500


def test_an_empty_day_says_so_and_asks_for_nothing():
    words = " ".join("".join(parsed(page(evening([], DAY), "Bar")).itertext()).split())
    assert "No pulls on Friday 23 October 2026." in words and "To do" not in words


def test_a_day_across_the_clock_change_shows_the_hour_that_came_twice():
    words = " ".join("".join(parsed(page(evening(demo("2026-10-24"), "2026-10-24"))).itertext()).split())
    assert "02 (+02:00)" in words and "02 (+01:00)" in words and "The clocks changed" in words


@pytest.mark.parametrize("day", ["2026-10-24", "2026-10-31"])
def test_the_page_is_whole_in_itself_and_every_link_leads_somewhere(day):
    html = page(evening(demo(day), day, price_per_kg=PRICE), "The Tin Lantern", "€")
    assert not re.search(r"(src|href)=\"(?!#)|url\(|@import|https?:", html)
    tree = parsed(html)
    ids = [each.get("id") for each in tree.iter() if each.get("id")]
    assert len(ids) == len(set(ids))
    links = [each.get("href") for each in tree.iter("a")]
    assert len(links) > 500 and all(link[1:] in ids for link in links)


def test_a_screen_reader_finds_names_for_charts_tables_and_headings():
    tree = parsed(page(evening(demo("2026-10-24"), "2026-10-24"), "Bar"))
    assert tree.get("lang") == "en" and tree.find("head/title").text
    ids = {each.get("id"): each for each in tree.iter() if each.get("id")}
    for svg in tree.iter("svg"):
        assert svg.get("role") == "img"
        assert svg.get("aria-label") or all(ids[name].text for name in svg.get("aria-labelledby").split())
    for table in tree.iter("table"):
        assert table.find("caption").text
        assert all(th.get("scope") in ("col", "row") for th in table.iter("th"))
    levels = [int(each.tag[1]) for each in tree.iter() if re.fullmatch(r"h[1-6]", str(each.tag))]
    assert levels[0] == 1 and all(b - a <= 1 for a, b in zip(levels, levels[1:]))


def test_a_person_is_on_the_page_only_where_people_are_shown():
    records = [a_pull(n) for n in range(20)]
    shown = page(evening(records, DAY))
    hidden = page(evening(records, DAY, show_people=False))
    assert "Doses spread by" in shown and "Ada" in shown
    assert "Ada" not in hidden


def test_the_style_is_valid_css():
    rules = tinycss2.parse_stylesheet(STYLE, skip_comments=True, skip_whitespace=True)
    assert not [rule for rule in rules if rule.type == "error"]
    for rule in rules:
        content = rule.content if rule.type == "qualified-rule" else None
        if content is not None:
            assert not [each for each in tinycss2.parse_blocks_contents(content) if each.type == "error"]


def test_text_on_the_page_has_a_contrast_of_four_and_a_half_in_the_light_and_in_the_dark():
    """W3C WCAG 2.2, 1.4.3, by its formula for relative luminance."""
    def luminance(colour):
        parts = [int(colour[i:i + 2], 16) / 255 for i in (1, 3, 5)]
        r, g, b = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
        return 0.2126 * r + 0.7152 * g + 0.0722 * b

    def contrast(one, other):
        light, dark = sorted((luminance(one), luminance(other)), reverse=True)
        return (light + 0.05) / (dark + 0.05)

    assert contrast("#ffffff", "#767676") == pytest.approx(4.54, abs=0.005)     # the published example
    schemes = [dict(re.findall(r"--(\w+): (#\w{6})", part)) for part in re.findall(r":root \{[^}]*\}", STYLE)]
    assert len(schemes) == 3                                                    # light, dark, print
    for scheme in schemes:
        for name in ("text", "quiet", "water", "warn", "good", "next"):
            assert contrast(scheme[name], scheme["ground"]) >= 4.5, name
        assert contrast(scheme["text"], scheme["card"]) >= 4.5
