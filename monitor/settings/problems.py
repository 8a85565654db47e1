"""Check the tables against the schema so that one wrong key does not hide the other problems.

A value that the schema refuses is reported and replaced by a legal stand-in, so that the checks between
tables still run over everything else in the same turn.

What each key of `farm.toml` means and allows, in words, read from the schema itself.

The example file and the problem report both ask here, so neither can drift away from `schema`.

From what a validator found to what a person reads: line, key, what is allowed, how to mend it.
"""

from __future__ import annotations

import copy
import difflib
import functools
import json
import re
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from monitor.errors import Problem
from monitor.settings.schema import Settings

_TYPE_WORDS = {
    "boolean": "true or false",
    "integer": "a whole number",
    "number": "a number",
    "string": "text",
}
_FORMAT_WORDS = {"time": 'a local time of day such as "06:30"', "path": "a path"}
_PATTERN_WORDS = {
    r"^[A-Za-z0-9][A-Za-z0-9_.-]{0,39}$": "a name of at most 40 letters, digits, dots, dashes, underscores",
    r"^[A-Za-z0-9_-]+(/[A-Za-z0-9_-]+)*$": "letters, digits, dashes and underscores, with / between levels",
}

_SECONDS = re.compile(r'"(\d\d:\d\d):00"')

Location = tuple[str | int, ...]


@dataclass(frozen=True, slots=True)
class KeyFacts:
    """One key: its meaning, what it allows, its default as it would stand in the file (None: has none)."""

    name: str
    meaning: str
    allowed: str
    default: str | None
    required: bool
    secret: bool


@functools.cache
def _schema() -> Mapping[str, Any]:
    return Settings.model_json_schema()


def _resolved(fragment: Mapping[str, Any]) -> Mapping[str, Any]:
    """Follow references and drop the "or nothing" of optional keys."""
    for option in fragment.get("anyOf", ()):
        if option.get("type") != "null":
            return _resolved(option)
    if "$ref" in fragment:
        return _resolved(_schema()["$defs"][fragment["$ref"].rpartition("/")[2]])
    return fragment


def fragment_at(location: Sequence[str | int]) -> Mapping[str, Any] | None:
    """The schema of the key at a location such as ("places", 2, "kind"), or None if there is no such key."""
    found: Mapping[str, Any] | None = _schema()
    for step in location:
        found = _step(_resolved(found or {}), step)
    return None if found is None else _resolved(found)


def _step(fragment: Mapping[str, Any], step: str | int) -> Mapping[str, Any] | None:
    others = fragment.get("additionalProperties")
    open_table = others if isinstance(others, Mapping) else None
    found = fragment.get("items") if isinstance(step, int) else fragment.get("properties", {}).get(step)
    return found or open_table


def keys_at(location: Sequence[str | int]) -> tuple[str, ...]:
    """The keys that the table at `location` knows, in the order of the schema."""
    fragment = fragment_at(location)
    return tuple(fragment.get("properties", ())) if fragment else ()


def key_facts(table: Sequence[str | int], name: str) -> KeyFacts:
    """Meaning, limits and default of one key of one table."""
    parent = fragment_at(table) or {}
    raw = parent["properties"][name]
    default = raw.get("default")
    return KeyFacts(
        name=name,
        meaning=raw.get("description", ""),
        allowed=allowed_words(raw),
        default=None if default is None else _SECONDS.sub(r'"\1"', toml_value(default)),
        required=name in parent.get("required", ()),
        secret=bool(_resolved(raw).get("writeOnly")),
    )


def table_meaning(table: Sequence[str | int]) -> str:
    """What the table is for, one sentence."""
    return str((fragment_at(table) or {}).get("description", ""))


def allowed_words(fragment: Mapping[str, Any]) -> str:
    """What a key allows, in words: its kind, its limits, its choices."""
    resolved = _resolved(fragment)
    if "enum" in resolved:
        return "one of " + ", ".join(json.dumps(choice) for choice in resolved["enum"])
    kind = resolved.get("type")
    if kind == "array":
        return "a list in [ ], each " + allowed_words(resolved["items"])
    if kind == "object":
        return "a table in { }"
    if kind in ("integer", "number"):
        return _TYPE_WORDS[kind] + _limits(resolved)
    if resolved.get("minLength"):
        return "text that is not empty"
    text = _FORMAT_WORDS.get(resolved.get("format", ""), _TYPE_WORDS.get(str(kind), "a value"))
    return _PATTERN_WORDS.get(resolved.get("pattern", ""), text)


def _limits(fragment: Mapping[str, Any]) -> str:
    low, above, high = (fragment.get(key) for key in ("minimum", "exclusiveMinimum", "maximum"))
    if low is not None and high is not None:
        return f" from {low:g} to {high:g}"
    lower = f" above {above:g}" if above is not None else f" of {low:g} or more" if low is not None else ""
    upper = f"up to {high:g}" if high is not None else ""
    return f"{lower}, {upper}" if lower and upper else lower or (f" {upper}" if upper else "")


def toml_value(value: object) -> str:
    """A value as it is written in a TOML file, tables inline."""
    match value:
        case bool():
            return "true" if value else "false"
        case int():
            return str(value)
        case float():
            return f"{value:.10g}"
        case Mapping():
            inner = ", ".join(f"{toml_key(key)} = {toml_value(each)}" for key, each in value.items())
            return f"{{ {inner} }}" if inner else "{}"
        case list() | tuple():
            return "[" + ", ".join(toml_value(each) for each in value) + "]"
        case _:
            # A JSON string is a TOML basic string, but for DEL, which TOML wants escaped.
            return json.dumps(str(value), ensure_ascii=False).replace("\x7f", "\\u007f")


def toml_key(key: object) -> str:
    """A key as it is written in a TOML file: bare where that is legal, else quoted."""
    text = str(key)
    bare = text.isascii() and text.replace("-", "").replace("_", "").isalnum()
    return text if bare else toml_value(text)


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


_MOST_ROUNDS = 6


def validate(raw: Mapping[str, Any]) -> tuple[Settings | None, list[ErrorDetails]]:
    """Settings with stand-ins where `raw` is wrong (None if that fails), and every error of `raw` itself."""
    work, errors = copy.deepcopy(dict(raw)), list[ErrorDetails]()
    for _ in range(_MOST_ROUNDS):
        try:
            # JSON mode is strict and still takes lists for tuples and words for choices.
            return Settings.model_validate_json(json.dumps(work, default=str), strict=True), errors
        except ValidationError as refused:
            found = refused.errors()
        reported = [error["loc"] for error in errors]
        errors += [error for error in found if not _within(error["loc"], reported)]
        for error in found:
            _replace(work, error["loc"])
    return None, errors


def _within(location: Location, reported: list[Location]) -> bool:
    return any(location[: len(known)] == known for known in reported)


def _replace(work: dict[str, Any], location: Location) -> None:
    """Put something legal at `location`: nothing if that may be left out, else the simplest value."""
    holder: Any = work
    for step in location[:-1]:
        holder = holder[step]
    last = location[-1]
    if isinstance(last, int) or last in (fragment_at(location[:-1]) or {}).get("required", ()):
        holder[last] = _simplest(location)
    else:
        holder.pop(last, None)


def _simplest(location: Location) -> Any:
    fragment = fragment_at(location) or {}
    if "enum" in fragment:
        return fragment["enum"][0]
    if fragment.get("type") == "object":
        return {}
    return "00:00" if fragment.get("format") == "time" else "stand-in"
