"""Sentences as they are kept in the database: words and values apart, so that any language can say them."""

from __future__ import annotations

import json
from collections.abc import Mapping
from enum import StrEnum

from monitor.errors import Sentence
from monitor.records import (
    COMMAND_REFUSED,
    AlarmEvent,
    AlarmStatus,
    Computed,
    PlaceKind,
    Priority,
    Quantity,
    Side,
    Stage,
    SubjectKind,
)


def packed(said: Sentence) -> str:
    """A sentence as it is kept."""
    return json.dumps(_packed(said), ensure_ascii=False)


def _packed(value: object) -> object:
    match value:
        case Sentence():
            return {"english": value.english, "values": {k: _packed(v) for k, v in value.values.items()}}
        case tuple():
            return [_packed(line) for line in value]
        case StrEnum():
            return {"kind": type(value).__name__, "name": str(value)}
        case bool() | int() | float():
            return value
    return str(value)


def unpacked(text: str) -> Sentence:
    """The sentence that was kept. A text of an older version stands for itself, in English."""
    try:
        said = _unpacked(json.loads(text))
    except (ValueError, TypeError, KeyError, RecursionError):
        said = None
    return said if isinstance(said, Sentence) else Sentence(text)


def _unpacked(value: object) -> object:
    match value:
        case {"english": str(english), "values": dict(values)}:
            return Sentence(english, {name: _unpacked(one) for name, one in values.items()})
        case {"kind": str(kind), "name": str(name)}:
            return _ENUMS[kind](name)
        case list():
            return tuple(_unpacked(line) for line in value)
    return value


_ENUMS: Mapping[str, type[StrEnum]] = {
    kind.__name__: kind
    for kind in (PlaceKind, Stage, Quantity, Computed, Side, Priority, AlarmStatus, AlarmEvent, SubjectKind)
}


def refused(why: Sentence) -> str:
    """The outcome of a command that was not carried out."""
    return f"{COMMAND_REFUSED}{packed(why)}"


def refusal_of(outcome: str) -> Sentence | None:
    """Why a command was refused; None where it was not."""
    if not outcome.startswith(COMMAND_REFUSED):
        return None
    return unpacked(outcome.removeprefix(COMMAND_REFUSED))
