"""The fields of a form about the logbook: how each is read, what it refuses, and how it is shown again."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from monitor.errors import UsageError
from monitor.model.amounts import parse_kg, parse_length_m, parse_share, parse_surface_m2
from monitor.views.page.ahead_words import plain
from monitor.views.page.words import Words

LONGEST_TEXT = 60
LONGEST_NOTE = 500
Choices = Sequence[tuple[str, str]]


class Reads(StrEnum):
    """What a field holds."""

    LITRES = "litres"
    KILOGRAMS = "kilograms"
    SHARE = "share"
    SIZE = "size"
    LENGTH = "length"
    WHOLE = "whole"
    NUMBER = "number"
    CHOICE = "choice"
    SWITCH = "switch"
    FLAG = "flag"
    TEXT = "text"


@dataclass(frozen=True, slots=True)
class Field:
    """One field: the key in the entry's body, what it holds, and what can be chosen (value, words)."""

    key: str
    reads: Reads
    needed: bool = False
    choices: Choices = ()


@dataclass(frozen=True, slots=True)
class ShownField:
    """A field with the words of the page and with what stands in it."""

    key: str
    reads: str
    needed: bool
    label: str
    value: str
    choices: Choices = ()


def shown(field: Field, value: str, words: Words) -> ShownField:
    """The field as the template needs it."""
    return ShownField(
        field.key, field.reads.value, field.needed, label_of(field, words), value, field.choices
    )


def label_of(field: Field, words: Words) -> str:
    """The name of a field; of an amount with its unit."""
    return words.t("field.litres" if field.reads is Reads.LITRES else f"field.{field.key}")


def text_of(field: Field, value: object, words: Words) -> str:
    """A value of an entry as a person would type it into the field."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "on" if value else "off"
    if not isinstance(value, int | float):
        return str(value)
    match field.reads:
        case Reads.SHARE:
            return f"{plain(words, 100.0 * value, 1)} %"
        case Reads.SIZE:
            return f"{value:g} m2"
        case Reads.LENGTH:
            return f"{100.0 * value:g} cm"
        case Reads.LITRES | Reads.KILOGRAMS:
            return plain(words, value, 3)
    return plain(words, value, 3)


def read(field: Field, text: str, words: Words) -> object:
    """The value of what was typed, None for nothing; UsageError in the words of the page."""
    text = text.strip()
    if not text:
        if field.needed:
            raise UsageError(words.t("write.missing", field=label_of(field, words)))
        return None
    try:
        return _READERS[field.reads](field, text)
    except (UsageError, ValueError, OverflowError):
        key = f"write.wrong_{field.reads.value}"
        raise UsageError(words.t(key, field=label_of(field, words), text=text[:LONGEST_TEXT])) from None


def _amount(unit: str) -> Callable[[Field, str], object]:
    # The label names the unit, so a bare number can be read one way only, however large it is.
    def read_amount(_field: Field, text: str) -> object:
        bare = text.replace(",", "").replace(".", "").isdigit()
        return round(parse_kg(f"{text} {unit}" if bare else text), 4)

    return read_amount


def _number(_field: Field, text: str) -> object:
    number = float(text.replace(",", ".").replace(" ", "").replace("\u00a0", ""))
    if not math.isfinite(number):
        raise ValueError(text)
    return int(number) if number == round(number) else number


def _whole(field: Field, text: str) -> object:
    number = _number(field, text)
    if not isinstance(number, int):
        raise ValueError(text)
    return number


def _choice(field: Field, text: str) -> object:
    if text not in {value for value, _ in field.choices}:
        raise ValueError(text)
    return text


def _switch(field: Field, text: str) -> object:
    return _choice(field, text) == "on"


_READERS: Mapping[Reads, Callable[[Field, str], object]] = {
    Reads.LITRES: _amount("l"),
    Reads.KILOGRAMS: _amount("kg"),
    Reads.SHARE: lambda _, text: round(parse_share(text), 4),
    Reads.SIZE: lambda _, text: round(parse_surface_m2(text), 5),
    Reads.LENGTH: lambda _, text: parse_length_m(text),
    Reads.WHOLE: _whole,
    Reads.NUMBER: _number,
    Reads.CHOICE: _choice,
    Reads.SWITCH: _switch,
    Reads.FLAG: lambda *_: True,
    Reads.TEXT: lambda _, text: text[:LONGEST_TEXT],
}


def read_all(fields: Sequence[Field], form: Callable[[str], str], words: Words) -> dict[str, object]:
    """All fields of a form; UsageError with every problem, one a line."""
    found: dict[str, object] = {}
    problems = []
    for field in fields:
        try:
            found[field.key] = read(field, form(field.key), words)
        except UsageError as error:
            problems.append(str(error))
    if problems:
        raise UsageError("\n".join(problems))
    return found


def with_choices(field: Field, choices: Choices) -> Field:
    """The field with what can be chosen."""
    return replace(field, choices=choices)
