"""A figure as it is shown: its value, from how many entries, what it lacks, and how sure it is."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import TypeGuard

from monitor.errors import UsageError
from monitor.yields.definitions import LEAST, Basis


class Lack(StrEnum):
    """What a figure lacks. Without a value it is the reason; beside one it says what the value leaves out."""

    NOTHING_WRITTEN = "nothing_written"
    FEED = "feed"
    FEED_MOISTURE = "feed_moisture"
    LARVAE_OUT = "larvae_out"
    LARVAE_IN = "larvae_in"
    LARVAE_COUNT = "larvae_count"
    COUNTED_SAMPLE = "counted_sample"
    RESIDUE = "residue"
    RESIDUE_MOISTURE = "residue_moisture"
    MORE_OUT_THAN_IN = "more_out_than_in"
    NO_GAIN = "no_gain"
    COUNTS_DISAGREE = "counts_disagree"
    STILL_FILLED = "still_filled"
    FLIES = "flies"
    FEMALE_SHARE = "female_share"
    EGGS_PER_GRAM = "eggs_per_gram"
    LARVA_DRY_SHARE = "larva_dry_share"
    PREPUPA_MASS = "prepupa_mass"
    HATCH = "hatch"
    SOME_HATCH = "some_hatch"
    EGG_DAY = "egg_day"
    PREPUPAE = "prepupae"
    PRICE = "price"
    USE = "use"


@dataclass(frozen=True, slots=True)
class Figure:
    """One figure of yield.

    `entries` counts the entries behind it; no value is not zero. `sd` is its standard deviation where an
    input is a sample or assumed, None where all was weighed. `basis` is that of a ratio of masses.
    """

    value: float | None = None
    entries: int = 0
    lacks: tuple[Lack, ...] = ()
    sd: float | None = None
    basis: Basis | None = None

    def __lt__(self, other: Figure) -> bool:
        """Whether this is the smaller one; figures with different bases are refused."""
        if self.basis is not other.basis:
            raise UsageError(
                "these figures count different things (wet or dry): they cannot be compared; "
                "compare wet with wet and dry with dry"
            )
        return self.value is not None and other.value is not None and self.value < other.value

    def times(self, factor: float) -> Figure:
        """The same in another unit."""
        if self.value is None:
            return self
        return replace(self, value=self.value * factor, sd=None if self.sd is None else self.sd * factor)

    def also(self, *lacks: Lack) -> Figure:
        """The same, with more that it lacks."""
        return replace(self, lacks=distinct((*self.lacks, *lacks))) if lacks else self


def unknown(*lacks: Lack, entries: int = 0, basis: Basis | None = None) -> Figure:
    """No value, and why."""
    return Figure(None, entries, distinct(lacks), basis=basis)


def total(amounts: Iterable[float], lack: Lack = Lack.NOTHING_WRITTEN) -> Figure:
    """The sum of what was written down; nothing written is unknown, not zero."""
    every = list(amounts)
    return Figure(math.fsum(every), len(every)) if every else unknown(lack)


def worked(value: float, *inputs: Figure, sd: float | None = None, basis: Basis | None = None) -> Figure:
    """A figure worked out from others: their entries and what they lack together."""
    lacks: dict[Lack, None] = {}
    entries = 0
    for each in inputs:
        entries += each.entries
        if each.lacks:
            lacks.update(dict.fromkeys(each.lacks))
    return Figure(value, entries, tuple(lacks), sd, basis)


def reasons(*inputs: Figure) -> tuple[Lack, ...]:
    """Why these inputs have no value, empty where all have one."""
    return distinct(lack for each in inputs if each.value is None for lack in each.lacks)


def is_some(value: float | None) -> TypeGuard[float]:
    """Whether an amount is known and enough to divide by."""
    return value is not None and value >= LEAST


def wanting(divisor: Figure, lack: Lack, *others: Figure) -> tuple[Lack, ...]:
    """What lacks for a quotient: each value, and a divisor that is more than nothing (else `lack`)."""
    too_small = divisor.value is not None and not is_some(divisor.value)
    return distinct((*reasons(divisor, *others), *((lack,) if too_small else ())))


def relative_sd(*inputs: Figure) -> float | None:
    """The standard deviation of a product or quotient as a share of it; None where all was weighed."""
    squares = [(each.sd / each.value) ** 2 for each in inputs if each.sd is not None and is_some(each.value)]
    return math.sqrt(math.fsum(squares)) if squares else None


def distinct(lacks: Iterable[Lack]) -> tuple[Lack, ...]:
    """Each lack once, in the order in which they came."""
    return tuple(dict.fromkeys(lacks))
