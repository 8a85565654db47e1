"""What each key of `farm.toml` means and allows, and from what a validator found to what a person reads.

Meanings and limits are read from the schema itself, for the commented file and for reports alike. A value
that the schema refuses is replaced by a legal one, so that one wrong key does not hide other problems.
"""

from __future__ import annotations

import ast
import copy
import difflib
import functools
import inspect
import itertools
import json
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, TypeVar

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from monitor.errors import Phrase, Problem, Sentence, sentence
from monitor.settings import schema
from monitor.settings.schema import Settings, Table

_TYPE_WORDS = {
    "boolean": sentence("true or false"),
    "integer": sentence("a whole number"),
    "number": sentence("a number"),
    "string": sentence("text"),
}
_FORMAT_WORDS = {
    "time": sentence('a local time of day such as "{example}"', example="06:30"),
    "path": sentence("a path"),
}
_PATTERN_WORDS = {
    schema.IDENTIFIER: sentence("a name of at most 40 letters, digits, dots, dashes, underscores"),
    schema.BOARD_PROBE: sentence("a name of at most 16 letters, digits, dots, dashes, underscores"),
    schema.TOPIC: sentence("letters, digits, dashes and underscores, with / between levels"),
}
_SECONDS = re.compile(r'"(\d\d:\d\d):00"')
_HEADER = re.compile(r"^\s*(\[\[?)\s*([^\[\]]+?)\s*\]")
_KEY = re.compile(r"""^\s*["']?([A-Za-z0-9_.-]+)["']?\s*=""")
_LONGEST_FOUND = 60
_MOST_ROUNDS = 6

Location = tuple[str | int, ...]
File = TypeVar("File", bound=Table)


@dataclass(frozen=True, slots=True)
class KeyFacts:
    """One key: its meaning, what it allows, its default as it would stand in the file (None: has none)."""

    name: str
    meaning: Sentence
    allowed: Phrase
    default: str | None
    required: bool
    secret: bool


@functools.cache
def _meanings() -> Mapping[tuple[str, str], str]:
    """What stands below each key of each table of the schema, by names of class and key."""
    classes = [node for node in ast.parse(inspect.getsource(schema)).body if isinstance(node, ast.ClassDef)]
    return {
        (table.name, key.target.id): ast.literal_eval(text.value)
        for table in classes
        for key, text in itertools.pairwise(table.body)
        if isinstance(key, ast.AnnAssign) and isinstance(key.target, ast.Name) and isinstance(text, ast.Expr)
    }


@functools.cache
def _schema(file: type[Table] = Settings) -> Mapping[str, Any]:
    return file.model_json_schema()


def _resolved(fragment: Mapping[str, Any], file: type[Table] = Settings) -> Mapping[str, Any]:
    """Follow references and drop the "or nothing" of optional keys."""
    for option in fragment.get("anyOf", ()):
        if option.get("type") != "null":
            return _resolved(option, file)
    if "$ref" in fragment:
        return _resolved(_schema(file)["$defs"][fragment["$ref"].rpartition("/")[2]], file)
    return fragment


def fragment_at(location: Sequence[str | int], file: type[Table] = Settings) -> Mapping[str, Any] | None:
    """The schema of the key at a location such as ("places", 2, "kind"), or None if there is no such key.

    `file` is the table that the whole file is.
    """
    fragment: Mapping[str, Any] | None = _schema(file)
    for step in location:
        fragment = _step(_resolved(fragment or {}, file), step)
    return None if fragment is None else _resolved(fragment, file)


def _step(fragment: Mapping[str, Any], step: str | int) -> Mapping[str, Any] | None:
    others = fragment.get("additionalProperties")
    open_table = others if isinstance(others, Mapping) else None
    inner = fragment.get("items") if isinstance(step, int) else fragment.get("properties", {}).get(step)
    return inner or open_table


def keys_at(location: Sequence[str | int], file: type[Table] = Settings) -> tuple[str, ...]:
    """The keys that the table at `location` knows, in the order of the schema."""
    fragment = fragment_at(location, file)
    return tuple(fragment.get("properties", ())) if fragment else ()


def key_facts(table: Sequence[str | int], name: str) -> KeyFacts:
    """Meaning, limits and default of one key of one table."""
    parent = fragment_at(table) or {}
    raw = parent["properties"][name]
    default = raw.get("default")
    return KeyFacts(
        name=name,
        meaning=Sentence(_meanings().get((parent["title"], name), "")),
        allowed=allowed_words(raw),
        default=None if default is None else _SECONDS.sub(r'"\1"', toml_value(default)),
        required=name in parent.get("required", ()),
        secret=bool(_resolved(raw).get("writeOnly")),
    )


def table_meaning(table: Sequence[str | int]) -> Sentence:
    """What the table is for, one sentence."""
    return Sentence(str((fragment_at(table) or {}).get("description", "")))


def allowed_words(fragment: Mapping[str, Any]) -> Phrase:
    """What a key allows, in words: its kind, its limits, its choices."""
    resolved = _resolved(fragment)
    if "enum" in resolved:
        return sentence(
            "one of {choices}", choices=", ".join(json.dumps(choice) for choice in resolved["enum"])
        )
    kind = resolved.get("type")
    if kind == "array":
        return sentence("a list in [ ], each {item}", item=allowed_words(resolved["items"]))
    if kind == "object":
        return sentence("a table in {braces}", braces="{ }")
    if kind in ("integer", "number"):
        return _limits(_TYPE_WORDS[kind], resolved)
    if resolved.get("minLength"):
        return sentence("text that is not empty")
    text = _FORMAT_WORDS.get(resolved.get("format", ""), _TYPE_WORDS.get(str(kind), sentence("a value")))
    return _PATTERN_WORDS.get(resolved.get("pattern", ""), text)


def _limits(kind: Phrase, fragment: Mapping[str, Any]) -> Phrase:
    low, above, high = (fragment.get(key) for key in ("minimum", "exclusiveMinimum", "maximum"))
    least, most = (f"{limit or 0:g}" for limit in (above if low is None else low, high))
    match (low is not None, above is not None, high is not None):
        case (True, _, True):
            return sentence("{kind} from {least} to {most}", kind=kind, least=least, most=most)
        case (True, _, False):
            return sentence("{kind} of {least} or more", kind=kind, least=least)
        case (False, True, True):
            return sentence("{kind} above {least}, up to {most}", kind=kind, least=least, most=most)
        case (False, True, False):
            return sentence("{kind} above {least}", kind=kind, least=least)
        case (False, False, True):
            return sentence("{kind} up to {most}", kind=kind, most=most)
    return kind


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
    """A settings file as read: its name for people, its text, its plain tables, and what it may hold."""

    file: str
    raw: Mapping[str, Any]
    lines: Mapping[Location, int] = field(default_factory=dict)
    schema: type[Table] = Settings

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

    def key_of(self, location: Location) -> Phrase:
        """The key as a person reads it: places[2].kind ("tray-4")."""
        path = "".join(f"[{step}]" if isinstance(step, int) else f".{step}" for step in location)
        indexes = (position for position, step in enumerate(location, start=1) if isinstance(step, int))
        names = [self.value_at((*location[:position], "id")) for position in indexes]
        known = [name for name in names if isinstance(name, str)]
        if not path:
            return sentence("the file")
        return path.lstrip(".") + (f' ("{known[-1]}")' if known else "")

    def problem(self, location: Location, found: Phrase, allowed: Phrase, remedy: Phrase) -> Problem:
        """One problem at a location of this file."""
        return Problem(self.file, self.key_of(location), found, allowed, remedy, self.line_of(location))


def shortened(text: str) -> str:
    """At most sixty characters of what was found."""
    return text if len(text) <= _LONGEST_FOUND else text[: _LONGEST_FOUND - 3] + "..."


def suggestion(word: str, known: Iterable[str]) -> str | None:
    """The known word that is spelt most like `word`, if one is near."""
    by_lower = {name.lower(): name for name in known}
    near = difflib.get_close_matches(word.lower(), by_lower, n=1, cutoff=0.6)
    return by_lower[near[0]] if near else None


def spelling_remedy(near: str | None, otherwise: Phrase) -> Phrase:
    """To write the known word that is near; where none is, what else helps."""
    return sentence('write "{near}", if that is what you mean', near=near) if near else otherwise


def validation_problems(source: Source, errors: Iterable[ErrorDetails]) -> list[Problem]:
    """Turn what the schema refused into problems, in the order of the file's tables."""
    return [_problem(source, error) for error in errors]


def _problem(source: Source, error: ErrorDetails) -> Problem:
    location: Location = error["loc"]
    if error["type"] == "extra_forbidden":
        return _unknown_key(source, location)
    fragment = fragment_at(location, source.schema) or {}
    allowed = allowed_words(fragment)
    if error["type"] == "missing":
        key = f"{location[-1]}_env" if fragment.get("writeOnly") else location[-1]
        remedy = sentence("add a line beginning with: {key} =", key=key)
        return source.problem(location, sentence("missing"), allowed, remedy)
    value = source.value_at(location)
    written: Phrase = sentence("empty") if value == "" else shortened(toml_value(value))
    found = sentence("a value that is not shown") if fragment.get("writeOnly") else written
    return source.problem(location, found, allowed, _remedy(value, fragment, location, source.schema))


def _unknown_key(source: Source, location: Location) -> Problem:
    known = keys_at(location[:-1], source.schema)
    remedy = spelling_remedy(suggestion(str(location[-1]), known), sentence("remove the line"))
    return source.problem(location, sentence("not a known key"), ", ".join(known), remedy)


def _remedy(value: Any, fragment: Mapping[str, Any], location: Location, file: type[Table]) -> Phrase:
    if "enum" in fragment:
        return spelling_remedy(suggestion(str(value), fragment["enum"]), sentence("choose one of those"))
    if shape := _shape_remedy(value, fragment, location):
        return shape
    if location[-1] in (fragment_at(location[:-1], file) or {}).get("required", ()):
        return sentence("correct the value")
    return sentence("correct the value, or leave the key out")


def _shape_remedy(value: Any, fragment: Mapping[str, Any], location: Location) -> Phrase | None:
    """Quotes and brackets that are missing or too many, the commonest slips in a TOML file."""
    match fragment.get("type"), value:
        case "integer" | "number", str():
            return sentence("write the number without quotes")
        case "boolean", _:
            return sentence("write true or false, without quotes")
        case "string", int() | float():
            return sentence("write it in double quotes, in the form allowed")
        case "array", Mapping():
            table = f"[[{location[-1]}]]"
            return sentence("write {table} with double brackets above each entry", table=table)
        case "array", _:
            return sentence("put square brackets around the list")
        case "object", list():
            return sentence("write {table} with single brackets, once", table=f"[{location[-1]}]")
    return None


def validate(raw: Mapping[str, Any]) -> tuple[Settings | None, list[ErrorDetails]]:
    """Settings with stand-ins where `raw` is wrong (None if that fails), and every error of `raw` itself."""
    return validate_as(Settings, raw)


def validate_as(file: type[File], raw: Mapping[str, Any]) -> tuple[File | None, list[ErrorDetails]]:
    """As `validate`, for a file of another kind."""
    work, errors = copy.deepcopy(dict(raw)), list[ErrorDetails]()
    for _ in range(_MOST_ROUNDS):
        try:
            # JSON mode is strict and still takes lists for tuples and words for choices.
            return file.model_validate_json(json.dumps(work, default=str), strict=True), errors
        except ValidationError as refused:
            refusals = refused.errors()
        reported = [error["loc"] for error in errors]
        errors += [error for error in refusals if not _within(error["loc"], reported)]
        for error in refusals:
            _replace(work, error["loc"], file)
    return None, errors


def _within(location: Location, reported: list[Location]) -> bool:
    return any(location[: len(known)] == known for known in reported)


def _replace(work: dict[str, Any], location: Location, file: type[Table]) -> None:
    """Put something legal at `location`: nothing if that may be left out, else the simplest value."""
    holder: Any = work
    for step in location[:-1]:
        holder = holder[step]
    last = location[-1]
    if isinstance(last, int) or last in (fragment_at(location[:-1], file) or {}).get("required", ()):
        holder[last] = _simplest(location, file)
    else:
        holder.pop(last, None)


def _simplest(location: Location, file: type[Table]) -> Any:
    fragment = fragment_at(location, file) or {}
    if "enum" in fragment:
        return fragment["enum"][0]
    if fragment.get("type") == "object":
        return {}
    return "00:00" if fragment.get("format") == "time" else "stand-in"
