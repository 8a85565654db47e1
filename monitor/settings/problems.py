"""From what a validator found to what a person reads: line, key, what is allowed, how to mend it."""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from pydantic_core import ErrorDetails

from monitor.errors import Problem
from monitor.settings.describing import Location, allowed_words, fragment_at, keys_at, toml_value

_HEADER = re.compile(r"^\s*(\[\[?)\s*([^\[\]]+?)\s*\]")
_KEY = re.compile(r"""^\s*["']?([A-Za-z0-9_.-]+)["']?\s*=""")
_SYNTAX_PLACE = re.compile(r"^(.*?) \(at (?:line (\d+), column (\d+)|end of document)\)$", re.DOTALL)
_LONGEST_FOUND = 60


def line_index(text: str) -> dict[Location, int]:
    """Line number of every table and key; a plain scan, right for files written one key a line."""
    lines: dict[Location, int] = {}
    counts: dict[Location, int] = {}
    table: Location = ()
    for number, line in enumerate(text.splitlines(), start=1):
        if header := _HEADER.match(line):
            table = _header_location(header[1], header[2], counts)
            lines.setdefault(table, number)
        elif key := _KEY.match(line):
            for length in range(1, key[1].count(".") + 2):
                lines.setdefault((*table, *key[1].split(".")[:length]), number)
    return lines


def _header_location(brackets: str, dotted: str, counts: dict[Location, int]) -> Location:
    names = [part.strip().strip("\"'") for part in dotted.split(".")]
    location: Location = ()
    for position, name in enumerate(names):
        location = (*location, name)
        if brackets == "[[" and position == len(names) - 1:
            counts[location] = counts.get(location, -1) + 1
        if location in counts:
            location = (*location, counts[location])
    return location


@dataclass(frozen=True, slots=True)
class Source:
    """A settings file as read: its name for people, its text, its plain tables."""

    file: str
    raw: Mapping[str, Any]
    lines: Mapping[Location, int] = field(default_factory=dict)

    def value_at(self, location: Sequence[str | int]) -> Any:
        """The value that stands at a location, or None."""
        value: Any = self.raw
        for step in location:
            try:
                value = value[step]
            except (KeyError, IndexError, TypeError):
                return None
        return value

    def line_of(self, location: Location) -> int | None:
        """Line of the key, else of the nearest table around it."""
        parts = (location[:length] for length in range(len(location), 0, -1))
        return next((self.lines[part] for part in parts if part in self.lines), None)

    def key_of(self, location: Location) -> str:
        """The key as a person reads it: places[2].kind ("tray-4")."""
        path = "".join(f"[{step}]" if isinstance(step, int) else f".{step}" for step in location)
        indexes = (position for position, step in enumerate(location, start=1) if isinstance(step, int))
        names = [self.value_at((*location[:position], "id")) for position in indexes]
        known = [name for name in names if isinstance(name, str)]
        return (path.lstrip(".") or "the file") + (f' ("{known[-1]}")' if known else "")

    def problem(self, location: Location, found: str, allowed: str, remedy: str) -> Problem:
        """One problem at a location of this file."""
        return Problem(self.file, self.key_of(location), found, allowed, remedy, self.line_of(location))


def syntax_problem(file: str, text: str, error: tomllib.TOMLDecodeError) -> Problem:
    """The file is not TOML: which line, which column, what stands there."""
    parts = _SYNTAX_PLACE.match(str(error))
    what = parts[1] if parts else str(error)
    line = int(parts[2]) if parts and parts[2] else len(text.splitlines())
    lines = text.splitlines()
    written = lines[line - 1].strip() if 0 < line <= len(lines) else ""
    place = f"column {parts[3]}" if parts and parts[3] else "the end of the file"
    return Problem(
        file,
        place,
        f"not readable ({what[:1].lower()}{what[1:]}): {shortened(written)}",
        'key = value, one a line, with text in "double quotes"',
        "look at this line, and at the one before it, for a missing quote, bracket or =",
        line,
    )


def shortened(text: str) -> str:
    """At most sixty characters of what was found."""
    return text if len(text) <= _LONGEST_FOUND else text[: _LONGEST_FOUND - 3] + "..."


def suggestion(word: str, known: Iterable[str]) -> str | None:
    """The known word that is spelt most like `word`, if one is near."""
    by_lower = {each.lower(): each for each in known}
    near = difflib.get_close_matches(word.lower(), by_lower, n=1, cutoff=0.6)
    return by_lower[near[0]] if near else None


def validation_problems(source: Source, errors: Iterable[ErrorDetails]) -> list[Problem]:
    """Turn what the schema refused into problems, in the order of the file's tables."""
    return [_problem(source, error) for error in errors]


def _problem(source: Source, error: ErrorDetails) -> Problem:
    location: Location = error["loc"]
    if error["type"] == "extra_forbidden":
        return _unknown_key(source, location)
    fragment = fragment_at(location) or {}
    allowed = allowed_words(fragment)
    if error["type"] == "missing":
        key = f"{location[-1]}_env" if fragment.get("writeOnly") else location[-1]
        return source.problem(location, "missing", allowed, f"add a line beginning with: {key} =")
    value = source.value_at(location)
    found = "a value that is not shown" if fragment.get("writeOnly") else shortened(_written(value))
    return source.problem(location, found, allowed, _remedy(value, fragment, location))


def _written(value: Any) -> str:
    return "empty" if value == "" else toml_value(value)


def _unknown_key(source: Source, location: Location) -> Problem:
    known = keys_at(location[:-1])
    near = suggestion(str(location[-1]), known)
    remedy = f"write {near} instead, if that is what you mean" if near else "remove the line"
    return source.problem(location, "not a known key", ", ".join(known), remedy)


def _remedy(value: Any, fragment: Mapping[str, Any], location: Location) -> str:
    if "enum" in fragment:
        near = suggestion(str(value), fragment["enum"])
        return f'write "{near}", if that is what you mean' if near else "choose one of those"
    required = location[-1] in (fragment_at(location[:-1]) or {}).get("required", ())
    correct = "correct the value" if required else "correct the value, or leave the key out"
    return _shape_remedy(value, fragment, location) or correct


def _shape_remedy(value: Any, fragment: Mapping[str, Any], location: Location) -> str:
    """Quotes and brackets that are missing or too many, the commonest slips in a TOML file."""
    match fragment.get("type"), value:
        case "integer" | "number", str():
            return "write the number without quotes"
        case "boolean", _:
            return "write true or false, without quotes"
        case "string", int() | float():
            return "write it in double quotes, in the form allowed"
        case "array", Mapping():
            return f"write [[{location[-1]}]] with double brackets above each entry"
        case "array", _:
            return "put square brackets around the list"
        case "object", list():
            return f"write [{location[-1]}] with single brackets, once"
    return ""
