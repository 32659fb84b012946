"""A record as JSON holds it, and back: a message in it keeps what it was made of."""

import json
from dataclasses import replace

import pytest

from kiosk.bar import messages
from kiosk.bar.messages import Message
from kiosk.bar.model import Corrected, FlagRaised, Noted, corrected, to_json
from kiosk.bar.model.record import from_json

AT = "2026-10-23T10:00:00+02:00"
RAN = Message("{where} ran {by_s:.1f} s {way}.", where=Message("{grinder} at {setting:d}", grinder="Left", setting=20), by_s=2.51,
              way=Message("slower"))
FLAG = FlagRaised(id="f", at=AT, grinder="Left", coffee="House", setting=20, what="drifting", direction="finer", sentence=RAN, evidence={})


def again(record):
    return from_json(json.loads(json.dumps(to_json(record))))


def test_a_message_in_a_record_is_english_to_any_reader_and_a_message_again_to_the_kiosk():
    kept = json.loads(json.dumps(to_json(FLAG)))
    assert kept["sentence"] == "Left at 20 ran 2.5 s slower."
    assert kept["messages"] == [{"template": "{where} ran {by_s:.1f} s {way}.", "values": {
        "where": {"template": "{grinder} at {setting:d}", "values": {"grinder": "Left", "setting": 20}},
        "by_s": 2.51, "way": {"template": "slower", "values": {}}}}]
    read = from_json(kept)
    assert read == FLAG and read.sentence.values == RAN.values and read.sentence.values["where"].values["setting"] == 20
    noted = again(Noted(id="n", at=AT, what="ticket", facts={"why": RAN, "lines": ["one", RAN], "more": {"why": RAN}}))
    assert [each.template for each in (noted.facts["why"], noted.facts["lines"][1], noted.facts["more"]["why"])] == [RAN.template] * 3


def test_a_record_without_messages_is_kept_as_it_always_was():
    for sentence in ("It drifted.", Message("It drifted.")):
        assert "messages" not in to_json(replace(FLAG, sentence=sentence))


def test_a_sentence_put_right_is_the_new_one():
    right = Corrected(id="c", at=AT, of="f", changes={"sentence": "It did not drift."})
    (read,) = corrected([again(FLAG), right])
    assert read.sentence == "It did not drift."
    (read,) = corrected([again(FLAG), replace(right, changes={"setting": 21})])
    assert read.setting == 21 and read.sentence.template == RAN.template


@pytest.mark.parametrize("odd", [
    None, "x", 3, {}, [None], ["x"], [{}], [{"template": "x"}], [{"template": 3, "values": {}}], [{"template": "{a", "values": {"a": 1}}],
    [{"template": "{a.__class__}", "values": {"a": 1}}], [{"template": "{0}", "values": {}}], [{"template": "{a!r}", "values": {"a": 1}}],
    [{"template": "{a:>9999999999}", "values": {"a": 1}}], [{"template": "{a:{b}}", "values": {"a": 1, "b": 9}}],
    [{"template": "{a:d}", "values": {"a": "x"}}], [{"template": "{a}", "values": []}], [{"template": "Something else.", "values": {}}]])
def test_where_what_it_was_made_of_is_odd_the_english_stands(odd):
    read = from_json(json.loads(json.dumps(to_json(FLAG) | {"messages": odd})))
    assert read == FLAG and type(read.sentence) is str


@pytest.mark.parametrize("odd", [{}, {"template": "x"}, {"template": 3, "values": {}}, {"template": "x", "values": []},
                                 {"template": "{a.__class__}", "values": {"a": 1}}])
def test_what_never_was_a_message_is_refused_and_nothing_else_goes_wrong(odd):
    with pytest.raises((ValueError, KeyError, TypeError)):
        messages.from_json(odd)
