"""Sentences in the database: read back as they were, and texts of older versions stand for themselves."""

from __future__ import annotations

import pytest

from monitor.errors import Sentence, sentence
from monitor.records import AlarmStatus, Quantity
from monitor.store.kept_sentences import packed, refusal_of, refused, unpacked

SAID = sentence(
    "{what} is {state} for {count} h: {why}",
    what=Quantity.AIR_TEMPERATURE,
    state=AlarmStatus.SHELVED,
    count=2.5,
    why=sentence("the disk is full"),
)


def test_a_sentence_is_read_back_with_the_kinds_of_its_values() -> None:
    again = unpacked(packed(SAID))
    assert again == SAID
    assert isinstance(again.values["what"], Quantity)
    assert again.text == "air_temperature is shelved for 2.5 h: the disk is full"


@pytest.mark.parametrize(
    "text", ["it is full", "", "[1, 2]", "17", '{"english": 3}', '{"kind": "x", "name": "y"}']
)
def test_whatever_else_stands_there_is_said_as_it_is(text: str) -> None:
    assert unpacked(text) == Sentence(text)


def test_braces_in_an_old_text_are_no_values() -> None:
    assert unpacked("the value {x} is wrong").text == "the value {x} is wrong"


def test_a_refusal_is_told_from_what_was_done() -> None:
    assert refusal_of(refused(SAID)) == SAID
    assert refusal_of("done") is None
    assert refusal_of("refused: it is normal") == Sentence("it is normal")
