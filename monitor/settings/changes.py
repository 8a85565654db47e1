"""What is different between two settings, in plain words; secrets are named, never shown."""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Sequence
from enum import Enum
from pathlib import Path
from typing import Any

from pydantic import SecretStr

from monitor.settings.schema import QuietHours, Settings, Table

AT_START_ONLY = ("site.id", "store.path", "broker", "intake", "page", "archive")
"""What a running service does not take over from a changed file."""


def waits_for_restart(old: Settings, new: Settings) -> list[str]:
    """Keys that differ and take effect only when the service is started again."""
    found = []
    for name in AT_START_ONLY:
        before, after = (_at(settings, name) for settings in (old, new))
        if before != after:
            found.append(f"[{name}]" if isinstance(before or after, Table) else name)
    return found


def _at(settings: Settings, name: str) -> Any:
    value: Any = settings
    for key in name.split("."):
        value = getattr(value, key)
    return value


def changes(old: Settings, new: Settings) -> list[str]:
    """One sentence for each key that differs, in the order of the file."""
    return [
        line
        for name in Settings.model_fields
        for line in _compare(name, getattr(old, name), getattr(new, name))
    ]


def _compare(name: str, old: Any, new: Any) -> Iterator[str]:
    if old == new:
        return
    if isinstance(old, Table) and isinstance(new, Table) and not isinstance(old, QuietHours):
        for key in type(old).model_fields:
            yield from _compare(f"{name}.{key}", getattr(old, key), getattr(new, key))
    elif _are_tables(old) and _are_tables(new):
        yield from _compare_lists(name, old, new)
    else:
        yield _sentence(name, old, new)


def _are_tables(value: Any) -> bool:
    return isinstance(value, tuple) and all(isinstance(entry, Table) for entry in value)


def _compare_lists(name: str, old: Sequence[Table], new: Sequence[Table]) -> Iterator[str]:
    before, after = _by_name(old), _by_name(new)
    yield from (f"{name}: {key} removed" for key in before if key not in after)
    yield from (f"{name}: {key} added" for key in after if key not in before)
    for key in before:
        if key in after:
            yield from _compare(f"{name}: {key}", before[key], after[key])


def _by_name(tables: Sequence[Table]) -> dict[str, Table]:
    return {_name(table, number): table for number, table in enumerate(tables, start=1)}


def _name(table: Table, number: int) -> str:
    known = getattr(table, "id", None)
    if known is not None:
        return str(known)
    place = getattr(table, "place", None) or getattr(table, "place_kind", None)
    parts = [
        place,
        getattr(table, "quantity", None),
        getattr(table, "side", None),
        getattr(table, "priority", None),
    ]
    return " ".join(str(part) for part in parts if part) + ("" if place else f" (number {number})")


def _sentence(name: str, old: Any, new: Any) -> str:
    if isinstance(old or new, SecretStr):
        verb = "removed" if new is None else "set" if old is None else "changed"
        return f"{name} {verb}"
    if isinstance(old or new, Table) and not isinstance(old or new, QuietHours):
        return f"[{name}] {'removed' if new is None else 'added'}"
    return f"{name} is now {_shown(new)} (was {_shown(old)})"


def _shown(value: Any) -> str:
    match value:
        case None | () | "":
            return "not set"
        case bool():
            return "true" if value else "false"
        case QuietHours():
            return f"{value.start:%H:%M} to {value.end:%H:%M}"
        case datetime.time():
            return f"{value:%H:%M}"
        case float():
            return f"{value:g}"
        case Enum() | Path() | int() | str():
            return str(value)
        case tuple():
            return ", ".join(_shown(entry) for entry in value)
        case dict():
            return ", ".join(f"{key} in {entry}" for key, entry in value.items()) or "not set"
        case _:
            return "something else"
