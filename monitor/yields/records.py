"""What a farm took and gave, as its logbook has it: the input of every sum and forecast of yields.

Eggs are in grams, all other masses in kg, all wet unless a name says dry; counts are floats, None where
nobody counted. A moisture is the share of water in the wet mass [ratio]. Times are epoch milliseconds.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator
from dataclasses import dataclass, fields
from enum import StrEnum
from typing import TypeVar


class EggUse(StrEnum):
    """What became of collected eggs."""

    SOLD = "sold"
    HATCH = "hatch"


class LarvaeUse(StrEnum):
    """What became of larvae taken out of a bin."""

    FEED = "feed"
    SOLD = "sold"
    BREEDING = "breeding"


@dataclass(frozen=True, slots=True, kw_only=True)
class Taking:
    """What all of these share: when; in which cage, tray, bin, box or ramp; which cohort; which entry."""

    at_ms: int
    place: str
    cohort: str | None = None
    entry_id: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class EggsCollected(Taking):
    """Eggs collected from a cage [g], on so many strips; the tray in which they hatch, and as which cohort.

    `cohort` is the one whose flies laid them, `into` the one that they are the eggs of.
    """

    grams: float
    strips: int | None = None
    use: EggUse | None = None
    tray: str | None = None
    clutches: int | None = None
    into: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class HatchSeen(Taking):
    """What hatched in a tray: a share of a sample [ratio], or the young larvae weighed [g]."""

    share: float | None = None
    young_grams: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class FeedGiven(Taking):
    """Feed put into a bin, wet [kg]; a filling counts as its first feed. `filling_ms` says which filling."""

    kg: float
    filling_ms: int
    moisture: float | None = None
    feed: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LarvaeIn(Taking):
    """Larvae put into a bin, by count or by mass [kg]."""

    filling_ms: int
    count: float | None = None
    kg: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LarvaeOut(Taking):
    """Larvae taken out of a bin, wet [kg], and the mean mass of one in a counted sample [mg]."""

    kg: float
    filling_ms: int
    use: LarvaeUse | None = None
    mean_mg: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PrepupaeOut(Taking):
    """Prepupae from a ramp, or taken for the dark box, weighed [kg] or counted."""

    kg: float | None = None
    count: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Residue(Taking):
    """What a filling left beside its larvae, wet [kg]."""

    kg: float
    filling_ms: int
    moisture: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class FliesPutIn(Taking):
    """Flies that began to live in a cage, and the share of females where somebody looked [ratio]."""

    count: float
    female_share: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class DeadFlies(Taking):
    """Dead flies swept out of a cage, counted or weighed [g]."""

    count: float | None = None
    grams: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Takings:
    """The whole past of a farm: each kind in order of time."""

    eggs: tuple[EggsCollected, ...] = ()
    hatches: tuple[HatchSeen, ...] = ()
    feed: tuple[FeedGiven, ...] = ()
    larvae_in: tuple[LarvaeIn, ...] = ()
    larvae_out: tuple[LarvaeOut, ...] = ()
    prepupae: tuple[PrepupaeOut, ...] = ()
    residues: tuple[Residue, ...] = ()
    flies: tuple[FliesPutIn, ...] = ()
    dead_flies: tuple[DeadFlies, ...] = ()

    def all(self) -> Iterator[Taking]:
        """Everything, kind after kind."""
        for each in fields(self):
            yield from getattr(self, each.name)

    def between(self, from_ms: int, until_ms: int) -> Takings:
        """What was written down from one instant until just before another."""

        def cut(every: tuple[Taken, ...]) -> tuple[Taken, ...]:
            first = bisect_left(every, from_ms, key=_at_ms)
            return every[first : bisect_left(every, until_ms, lo=first, key=_at_ms)]

        return Takings(
            eggs=cut(self.eggs),
            hatches=cut(self.hatches),
            feed=cut(self.feed),
            larvae_in=cut(self.larvae_in),
            larvae_out=cut(self.larvae_out),
            prepupae=cut(self.prepupae),
            residues=cut(self.residues),
            flies=cut(self.flies),
            dead_flies=cut(self.dead_flies),
        )


Taken = TypeVar("Taken", bound=Taking)


def _at_ms(each: Taking) -> int:
    return each.at_ms
