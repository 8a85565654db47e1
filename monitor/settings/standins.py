"""Check the tables against the schema so that one wrong key does not hide the other problems.

A value that the schema refuses is reported and replaced by a legal stand-in, so that the checks between
tables still run over everything else in the same turn.
"""

from __future__ import annotations

import copy
import json
from collections.abc import Mapping
from typing import Any

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from monitor.settings.describing import Location, fragment_at
from monitor.settings.schema import Settings

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
