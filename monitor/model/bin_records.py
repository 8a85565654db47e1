"""A bin as the logbook tells it: its fillings, each with its events and what it was checked against."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import tzinfo
from enum import StrEnum

from monitor.model.bin_events import BinEvent, Finishing
from monitor.model.substrate import BinFacts, SubstrateParameters
from monitor.records import LogbookEntry


class BinEntryKind(StrEnum):
    """Kinds of entries about a bin."""

    FILL = "fill"
    WATER = "water"
    FEED = "feed"
    WEIGH = "weigh"
    TEST = "test"
    STIR = "stir"
    COVER = "cover"
    FAN = "fan"
    LARVAE = "larvae"
    TAKE = "take"
    FINISH = "finish"
    EMPTY = "empty"


@dataclass(frozen=True, slots=True)
class BinGround:
    """What entries are checked against: places that can be filled, the clock, the substrates, the height.

    `titles` are names for people by id, of the places that can hold substrate only. `probed` are those of
    them in which a substrate thermometer hangs.
    """

    titles: Mapping[str, str]
    zone: tzinfo
    substrates: Mapping[str, SubstrateParameters]
    usual_substrate: str
    probed: frozenset[str]
    pressure_pa: float


@dataclass(frozen=True, slots=True)
class Done:
    """An entry of the logbook that counts, with what it means for the bin."""

    entry: LogbookEntry
    event: BinEvent


@dataclass(frozen=True, slots=True)
class BinFill:
    """One filling of one place, from `facts.filled_ms` until it was emptied.

    `cohorts` are names of cohorts whose larvae were put in.
    """

    place: str
    entry: LogbookEntry
    facts: BinFacts
    depth_m: float | None = None
    cohorts: tuple[str, ...] = ()
    done: tuple[Done, ...] = ()
    emptied_ms: int | None = None

    @property
    def events(self) -> tuple[BinEvent, ...]:
        """What happened, in the order of time."""
        return tuple(each.event for each in self.done)

    @property
    def finishing(self) -> bool:
        """Whether it is dried on purpose."""
        return any(isinstance(each.event, Finishing) for each in self.done)

    @property
    def last_entry_ms(self) -> int:
        """When something was last done to it."""
        return max(self.facts.filled_ms, *(each.entry.at_ms for each in self.done), 0)


@dataclass(frozen=True, slots=True)
class BinRefusal:
    """An entry that cannot be so, and why."""

    entry: LogbookEntry
    reason: str


@dataclass(frozen=True, slots=True)
class BinBook:
    """All fillings by place, in the order of time, and the entries that were refused."""

    fills: Mapping[str, tuple[BinFill, ...]] = field(default_factory=dict)
    refused: tuple[BinRefusal, ...] = ()

    def filled(self, place: str) -> BinFill | None:
        """The filling that stands in a place now, or None."""
        found = self.fills.get(place, ())
        return found[-1] if found and found[-1].emptied_ms is None else None

    @property
    def standing(self) -> tuple[BinFill, ...]:
        """Everything that is filled now."""
        return tuple(fills[-1] for fills in self.fills.values() if fills[-1].emptied_ms is None)
