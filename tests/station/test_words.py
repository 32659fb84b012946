"""Words that no screen and no report uses any more, in English and German: what the trade or any screen says stands in their place."""

import gettext
import re

import pytest

from kiosk.places import shipped

# Kept only so that what older books say can still be put in German.
OLDER_BOOKS = {"groups and screens", "tastes wrong"}
ENGLISH = (
    r"^lines?$|line of orders|\bin the line\b",         # queue
    r"\b(take|takes|taken|took)\b.{0,14}\bback\b",      # cancel, undo
    r"\bmake (it )?again|\bonce more\b",                # remake, put back
    r"^write\b|\bwrite it\b|\bwritten down",            # save, edit
    r"^one \w+ more\b",                                 # add
    r"\bwanted\b",                                      # target
    r"\bleave the step\b|\bleft out: |^leave out|step left out",    # skip
    r"open one notch", r"\blanes?\b", r"\bcollars?\b", r"(groups and|the group.s) screens\b", r"numbers? rise", r"\bmay be off\b",
    r"\bbed\b", r"\bmend(s|ed|ing)?\b", r"\bspat\b", r"what is in the cup weighs", r"two of one double", r"tastes? wrong",
    r"double in a cappuccino cup", r"\bstretch(es)?\b", r"\beven (time|s)\b|\beven times\b", r"towards (coarser|finer)",
)
GERMAN = (r"\bVerstopft\b(?!er)", r"\b[Ee]bnen\b", r"\bBett\b", r"\bRasten?\b", r"\bSack\b|\bSäcke\b", r"\bMenge\b", r"^Bestellen$")


def texts() -> dict[str, str]:
    with open(shipped("assets", "languages", "de", "evenpull.mo"), "rb") as file:
        catalogue = gettext.GNUTranslations(file)._catalog
    return {key: value for key, value in catalogue.items() if isinstance(key, str) and key}


def said(text: str) -> str:
    """Without the names of what is put into it."""
    return re.sub(r"\{[^}]*\}", "", text)


@pytest.mark.parametrize("word", ENGLISH)
def test_no_text_uses_a_word_that_was_given_up(word):
    assert [text for text in texts() if text not in OLDER_BOOKS and re.search(word, said(text), re.IGNORECASE)] == []


@pytest.mark.parametrize("word", GERMAN)
def test_no_german_text_does(word):
    assert [german for german in texts().values() if re.search(word, said(german))] == []


def test_the_patterns_find_what_they_are_for():
    for old in ("Take the order back", "Write it down", "One drink more", "All lanes", "The bed is dry", "Mend it", "Time may be off"):
        assert any(re.search(word, old, re.IGNORECASE) for word in ENGLISH), old
    assert len(texts()) > 1000
