"""Results kept beside what they rest on: an entry about one cohort leaves those of the others as they are.

A result is used again only where everything that it rests on is the same; so it is the one that would be
worked out afresh, bit by bit.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable
from dataclasses import dataclass, fields, is_dataclass
from typing import Any, Generic, TypeVar

import numpy as np

Key = TypeVar("Key", bound=Hashable)
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


class Lately(Generic[Key, Result]):
    """What was made or asked for last, so many at most: large things that can be made again.

    Each step is one operation of a dict, so that threads may share it: at worst two of them make the same.
    """

    def __init__(self, most: int) -> None:
        self._most = most
        self._held: dict[Key, Result] = {}

    def of(self, key: Key, make: Callable[[], Result]) -> Result:
        """What is held under a key, else made now; what nobody asked for longest is let go."""
        held = self._held.pop(key, None)
        result = make() if held is None else held
        self._held[key] = result
        for oldest in list(self._held)[: -self._most]:
            self._held.pop(oldest, None)
        return result

    def clear(self) -> None:
        """Let all of it go."""
        self._held.clear()


@dataclass(frozen=True, slots=True, eq=False)
class _ByBits:
    """A value that is the same as another one where all their bits are."""

    value: object

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _ByBits) and _same(self.value, other.value)


def comparable(value: object) -> object:
    """A record whose arrays are compared by their bits, records within it likewise; it must not change.

    Most are never compared, or are the same object: so nothing is copied here.
    """
    return _ByBits(value)


def _same(one: object, other: object) -> bool:
    if one is other:
        return True
    if isinstance(one, np.ndarray) and isinstance(other, np.ndarray):
        alike = one.shape == other.shape and one.dtype == other.dtype
        return alike and one.tobytes() == other.tobytes()
    if isinstance(one, np.ndarray) or isinstance(other, np.ndarray):
        return False
    if is_dataclass(one) and not isinstance(one, type):
        names = (each.name for each in fields(one))
        return type(one) is type(other) and all(_same(getattr(one, x), getattr(other, x)) for x in names)
    return bool(one == other)
