"""Results kept beside what they rest on: an entry about one cohort leaves those of the others as they are.

A result is used again only where everything that it rests on is the same; so it is the one that would be
worked out afresh, bit by bit.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable
from dataclasses import fields, is_dataclass
from typing import Any, TypeVar

import numpy as np

Result = TypeVar("Result")


class Kept:
    """What was worked out at one look, taken over from an earlier look where it rests on the same.

    What a look does not ask for is not handed on, so it never holds more than two looks have asked for.
    """

    def __init__(self, earlier: Kept | None = None) -> None:
        self._earlier = {} if earlier is None else earlier._results
        self._results: dict[Hashable, tuple[object, Any]] = {}

    def of(self, name: Hashable, rests: object, make: Callable[[], Result]) -> Result:
        """The result of that name: the kept one where it rests on the same, else made now."""
        known = self._results.get(name) or self._earlier.get(name)
        result: Result = known[1] if known is not None and known[0] == rests else make()
        self._results[name] = (rests, result)
        return result


def comparable(value: object) -> object:
    """A record whose arrays are made comparable by their bits, records within it likewise."""
    if isinstance(value, np.ndarray):
        return value.shape, value.dtype.str, value.tobytes()
    if is_dataclass(value) and not isinstance(value, type):
        return type(value), *(comparable(getattr(value, each.name)) for each in fields(value))
    return value
