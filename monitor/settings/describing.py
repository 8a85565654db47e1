"""What each key of `farm.toml` means and allows, in words, read from the schema itself.

The example file and the problem report both ask here, so neither can drift away from `schema`.
"""

from __future__ import annotations

import functools
import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

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
