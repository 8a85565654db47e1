"""One entry of the logbook: which entries count, and the values in an entry's body.

A body is plain JSON that may come from the command line, a CSV file or the page, so every value is checked
here, and a refusal says what was found and what is allowed.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import tzinfo
from enum import StrEnum
from typing import TypeVar

from monitor.errors import Sentence, UsageError, sentence
from monitor.records import LogbookEntry, local

WITHDRAWN = "withdrawn"
"""The kind of an entry that withdraws the one that it names."""

ANIMAL_KINDS = ("fill", "larvae", "take", "empty", WITHDRAWN)
"""The kinds of entries about a bin that may change its animals."""
EGG_KINDS = ("collect", WITHDRAWN)
"""The kinds of entries about a cage that may change animals elsewhere: eggs begin to live in a tray."""

Kind = TypeVar("Kind", bound=StrEnum)


@dataclass(frozen=True, slots=True)
class Refusal:
    """An entry that contradicts the rest of the logbook, and why."""

    entry: LogbookEntry
    reason: Sentence


def corrections(entries: Iterable[LogbookEntry]) -> dict[int, LogbookEntry]:
    """The correction or withdrawal of each entry that has one, by the number of the corrected entry."""
    return {entry.corrects: entry for entry in entries if entry.corrects is not None}


def in_force(entries: Iterable[LogbookEntry], known_ms: int | None = None) -> tuple[LogbookEntry, ...]:
    """The entries that count: corrected ones, withdrawn ones and the withdrawals are left out.

    With `known_ms` [ms since 1970 UTC] only what had been entered by then is considered.
    """
    known = [entry for entry in entries if known_ms is None or entry.entered_ms <= known_ms]
    corrected = corrections(known)
    return tuple(entry for entry in known if entry.entry_id not in corrected and entry.kind != WITHDRAWN)


def shown_time(at_ms: int, zone: tzinfo) -> str:
    """A moment [ms since 1970 UTC] for a refusal, such as 2026-09-22 07:00."""
    return f"{local(at_ms, zone):%Y-%m-%d %H:%M}"


def kind_of(entry: LogbookEntry, kinds: type[Kind]) -> Kind:
    """The kind of an entry, refused where it is none of `kinds`."""
    known = [kind.value for kind in kinds]
    if entry.kind not in known:
        raise UsageError(
            "{kind} is no kind of entry; allowed: {known}", kind=repr(entry.kind), known=", ".join(known)
        )
    return kinds(entry.kind)


def number(
    entry: LogbookEntry, key: str, low: float, high: float, *, above: bool = False, whole: bool = False
) -> float | None:
    """A number from an entry's body, None where the key is left out.

    It must lie from `low` (or above it) to `high`, both in the unit of the key, and be whole where `whole`.
    """
    value = entry.body.get(key)
    if value is None:
        return None
    allowed = _limits(low, high, above, whole)
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise wrong_value(key, repr(value), allowed)
    if not low <= value <= high or (above and value == low) or (whole and value != round(value)):
        raise wrong_value(key, f"{value:g}", allowed)
    return float(value)


def needed_number(entry: LogbookEntry, key: str, low: float, high: float, *, above: bool = False) -> float:
    """A number that the entry must have; as `number`."""
    value = number(entry, key, low, high, above=above)
    if value is None:
        raise missing(key, _limits(low, high, above, whole=False))
    return value


def _limits(low: float, high: float, above: bool, whole: bool) -> Sentence:
    limits = {"low": f"{low:g}", "high": f"{high:g}"}
    if whole:
        return (
            sentence("a whole number above {low} to {high}", **limits)
            if above
            else sentence("a whole number from {low} to {high}", **limits)
        )
    if above:
        return sentence("a number above {low} to {high}", **limits)
    return sentence("a number from {low} to {high}", **limits)


def wrong_value(key: str, value: str, allowed: Sentence | str) -> UsageError:
    """The refusal of a value, with what is allowed."""
    return UsageError("{name} is {value}; allowed: {allowed}", name=_name(key), value=value, allowed=allowed)


def missing(key: str, allowed: Sentence | str) -> UsageError:
    """The refusal of an entry without a value that it must have."""
    return UsageError("{name} is missing; allowed: {allowed}", name=_name(key), allowed=allowed)


def _name(key: str) -> str:
    return key.replace("_", " ")


def word(entry: LogbookEntry, key: str, allowed: Sequence[str]) -> str | None:
    """One of the allowed words from an entry's body, None where the key is left out."""
    value = entry.body.get(key)
    if value is None or value in allowed:
        return None if value is None else str(value)
    raise wrong_value(key, repr(value), ", ".join(allowed) or sentence("none here; leave it out"))


def needed_word(entry: LogbookEntry, key: str, allowed: Sequence[str]) -> str:
    """A word that the entry must have; as `word`."""
    value = word(entry, key, allowed)
    if value is None:
        raise missing(key, ", ".join(allowed))
    return value


def flag(entry: LogbookEntry, key: str) -> bool:
    """A yes or no from an entry's body; left out means no."""
    value = entry.body.get(key)
    if value is None or isinstance(value, bool):
        return bool(value)
    raise wrong_value(key, repr(value), sentence("true or false"))


def cohort_name(entry: LogbookEntry, key: str) -> str:
    """The name of another cohort, which the entry must have."""
    value = entry.body.get(key)
    if not isinstance(value, str) or not value.strip():
        raise missing(key, sentence("the name of a cohort"))
    return value


def names(entry: LogbookEntry, key: str) -> tuple[str, ...]:
    """Names of cohorts from an entry's body; none where the key is left out."""
    value = entry.body.get(key)
    listed = [value] if isinstance(value, str) else value
    if listed is None or (isinstance(listed, list) and all(isinstance(name, str) for name in listed)):
        return tuple(listed or ())
    raise wrong_value(key, repr(value), sentence("names of cohorts"))
