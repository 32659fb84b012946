"""What older programs kept as English alone: the flags of their books, and what they remembered of advice.

They are read as if they had been kept with their template and values. The templates here are those of the last such programs; what
still earlier ones worded otherwise stays English in every language. A new sentence keeps its own template: none is added here.
"""

import re
from dataclasses import replace
from functools import cache
from string import Formatter
from typing import Any

from kiosk.bar.messages import Message
from kiosk.bar.model import FlagRaised, Record

TEMPLATES = (
    Message("{where} has moved: the last {many} pulls ran {now:.1f} s {way} than those before."),
    Message("{where} has moved: the last pull ran {now:.1f} s {way} than those before."),
    Message("{where} has drifted: its {many} pulls ran {by_s:.1f} s {way} than the recipe."),
    Message("{where} has drifted: the last pull ran {by_s:.1f} s {way} than the {since} before."),
    Message("{where} has drifted: the last {many} pulls ran {by_s:.1f} s {way} than the {since} before."),
    Message("{where}: the last {many} pulls were stopped {by_s:.0f} s later than those before. Were these stopped late?"),
    Message("{where}: the last {many} pulls of one person ran {by_s:.1f} s {way}, the others' did not. The tamp comes first."),
    Message("{where}: the last {many} pulls ran {by_s:.1f} s {way}, and the doses explain it. Leave the grinder."),
    Message("{where}: the last {many} pulls ran {by_s:.1f} s {way}; it looks like the pull itself. Leave the grinder."),
    Message("{where}: the last {many} pulls ran {by_s:.1f} s {way}. Grinder or hands cannot be told yet: let somebody else pull "
            "the next."),
    Message("{where} has run {level_s:.0f} s {side} since it was set."),
    Message("{where} is uneven: its pulls spread wider than before. The hands come first, not the grind setting."),
    Message("Leave the grind setting: judge at least {JUDGE_BY} pulls at this setting first."),
)
PART = Message("groups and screens")      # cleaned, in notes: a fact that needs no upgrade, but its words
WORDS = {word: Message(word) for word in ("slower", "faster", "slow", "fast")}
NUMBERS = {"": r"\d+", ".0f": r"\d+", ".1f": r"\d+\.\d"}
SECONDS = ("now", "by_s", "level_s")
PLACES = {"where": r"(?P<grinder>.+) at (?P<setting>-?\d+)", "way": "(?P<way>slower|faster)", "side": "(?P<side>slow|fast)"}


def message_of(english: str) -> str:
    """The message that an older program kept as `english`; `english` itself where it is none of theirs, or a message already.

    >>> message_of("Left at 20 has run 4 s slow since it was set.").values["level_s"]
    4.0
    """
    if type(english) is not str:
        return english
    for template, pattern in _patterns():
        if found := pattern.fullmatch(english):
            message = Message(template, **_values(found.groupdict()))
            return message if message == english else english
    return english


def upgraded(record: Record) -> Record:
    """The record as this program would have kept it."""
    if isinstance(record, FlagRaised) and (sentence := message_of(record.sentence)) is not record.sentence:
        return replace(record, sentence=sentence)
    return record


@cache
def _patterns() -> tuple[tuple[str, re.Pattern[str]], ...]:
    return tuple((template, re.compile("".join(
        re.escape(words) + (PLACES.get(name) or f"(?P<{name}>{NUMBERS[form or '']})" if name else "")
        for words, name, form, _ in Formatter().parse(template)))) for template in TEMPLATES)


def _values(found: dict[str, str]) -> dict[str, Any]:
    where = {"where": Message("{grinder} at {setting:d}", grinder=found.pop("grinder"), setting=int(found.pop("setting")))} \
        if "grinder" in found else {}
    return where | {name: WORDS.get(text) or (float(text) if name in SECONDS else int(text)) for name, text in found.items()}
