"""What an entry of the logbook says about a bin, read with care; a refusal says what is allowed.

A body is plain JSON from the command line or the page: `kg`, `moisture` (ratio), `surface_m2`,
`depth_m`, `cover`, `fan`, `substrate`, `probe_depth_m`, `larvae`, `age_days`, `cohort`, `back_to_kg`,
`sd_kg`, `moisture_sd`, `rough`, `on`, `what`, `note`.

A bin as the logbook tells it: its fillings, each with its events and what it was checked against.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from datetime import tzinfo
from enum import StrEnum

from monitor.bins.evaporation import Cover
from monitor.bins.events import (
    LEAST_MOISTURE,
    MOST_KG,
    MOST_MOISTURE,
    OVEN_DRY_SD,
    SQUEEZE_SD,
    BinEvent,
    CoverChanged,
    Emptied,
    FanChanged,
    FeedAdded,
    Finishing,
    LarvaeAdded,
    MoistureTested,
    Stirred,
    Taken,
    TakenOut,
    WaterAdded,
    Weighed,
)
from monitor.bins.substrate import BinFacts, Larvae, SubstrateParameters
from monitor.errors import UsageError
from monitor.logbook.cohort_entries import needed_number, needed_word, number, word
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
class BinValidationContext:
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


MIXED_SD = 0.03
"""Standard deviation of a moisture worked out from what was mixed [ratio]. Source: own choice."""

USUAL_PROBE_DEPTH_M = 0.05
"""Depth of a probe of which nothing was said, in a bin of which no depth was said [m]. Own choice."""

USUAL_AGE_DAYS = 5.0
LEAST_GROWTH_DAYS = 0.1
SCALE_SD_SHARE = 0.003
LEAST_SCALE_SD_KG = 0.02
"""What a kitchen or luggage scale may be off [kg]. Source: own choice."""

COVERS = tuple(cover.value for cover in Cover)


def _kg(entry: LogbookEntry, key: str = "kg") -> float:
    return needed_number(entry, key, 0.0, MOST_KG, above=True)


def _moisture(entry: LogbookEntry) -> float:
    return needed_number(entry, "moisture", LEAST_MOISTURE, MOST_MOISTURE)


def _flag(entry: LogbookEntry, key: str) -> bool:
    value = entry.body.get(key)
    if value is None or isinstance(value, bool):
        return bool(value)
    raise UsageError(f"{key} is {value!r}; allowed: true or false")


def _cover(entry: LogbookEntry) -> Cover:
    return Cover(needed_word(entry, "cover", COVERS))


def larvae_of(entry: LogbookEntry) -> Larvae | None:
    """Larvae put in with an entry.

    Parameters
    ----------
    entry : LogbookEntry
        With `larvae` (number) and `age_days`, or without.

    Returns
    -------
    Larvae or None
        None where no number was said.
    """
    count = number(entry, "larvae", 0.0, 1e8, above=True)
    if count is None:
        return None
    said = number(entry, "age_days", 0.0, 100.0)
    return _grown(count, entry.at_ms, USUAL_AGE_DAYS if said is None else said)


def _grown(count: float, at_ms: int, age_days: float) -> Larvae:
    """Larvae of an age on the one curve of growth: those put in old are heavy already."""
    usual = Larvae(count, at_ms)
    share = min((age_days - usual.age_days) / usual.growth_days, 1.0)
    start_mg = usual.start_mg * (usual.final_mg / usual.start_mg) ** share
    left_days = max(usual.age_days + usual.growth_days - age_days, LEAST_GROWTH_DAYS)
    return replace(usual, age_days=age_days, start_mg=start_mg, growth_days=left_days)


def filling_of(entry: LogbookEntry, ground: BinValidationContext, before: BinFill | None) -> BinFill:
    """A filling from its entry.

    Parameters
    ----------
    entry : LogbookEntry
        Of the kind `fill`.
    ground : BinValidationContext
        Substrates, probes and air pressure.
    before : BinFill or None
        The filling before it in the same place, whose size is taken where none is said.

    Returns
    -------
    BinFill
        With no event yet.
    """
    surface_m2 = number(entry, "surface_m2", 0.001, 100.0)
    if surface_m2 is None and before is not None:
        surface_m2 = before.facts.surface_m2
    if surface_m2 is None:
        raise UsageError("the size is missing; say it once, such as --size '60 x 40 cm'")
    depth_m = number(entry, "depth_m", 0.0, 2.0, above=True)
    names = tuple(ground.substrates)
    substrate = word(entry, "substrate", names) or ground.usual_substrate
    facts = BinFacts(
        surface_m2=surface_m2,
        filled_ms=entry.at_ms,
        wet_kg=_kg(entry),
        moisture=_moisture(entry),
        moisture_sd=number(entry, "moisture_sd", 0.0, 0.3) or MIXED_SD,
        cover=Cover(word(entry, "cover", COVERS) or Cover.OPEN),
        fan=_flag(entry, "fan"),
        probe_depth_m=_probe_depth(entry, ground, depth_m),
        larvae=larvae_of(entry),
        pressure_pa=ground.pressure_pa,
        substrate=ground.substrates[substrate],
    )
    return BinFill(entry.subject, entry, facts, depth_m, _cohorts(entry))


def _probe_depth(entry: LogbookEntry, ground: BinValidationContext, depth_m: float | None) -> float | None:
    """As said; else the middle of the bin where a thermometer hangs in it; None where none does."""
    said = number(entry, "probe_depth_m", 0.0, 1.0)
    if said is not None or entry.subject not in ground.probed:
        return said
    return USUAL_PROBE_DEPTH_M if depth_m is None else depth_m / 2.0


def _cohorts(entry: LogbookEntry) -> tuple[str, ...]:
    name = entry.body.get("cohort")
    return (name,) if isinstance(name, str) and name else ()


def _water(entry: LogbookEntry) -> BinEvent:
    return WaterAdded(entry.at_ms, _kg(entry), number(entry, "back_to_kg", 0.0, MOST_KG, above=True))


def _feed(entry: LogbookEntry) -> BinEvent:
    return FeedAdded(entry.at_ms, _kg(entry), _moisture(entry))


def _weigh(entry: LogbookEntry) -> BinEvent:
    kg = _kg(entry)
    usual = max(LEAST_SCALE_SD_KG, SCALE_SD_SHARE * kg)
    return Weighed(entry.at_ms, kg, number(entry, "sd_kg", 0.0, 10.0, above=True) or usual)


def _test(entry: LogbookEntry) -> BinEvent:
    return MoistureTested(entry.at_ms, _moisture(entry), SQUEEZE_SD if _flag(entry, "rough") else OVEN_DRY_SD)


def _fan(entry: LogbookEntry) -> BinEvent:
    if not isinstance(entry.body.get("on"), bool):
        raise UsageError(f"on is {entry.body.get('on')!r}; allowed: true or false")
    return FanChanged(entry.at_ms, bool(entry.body["on"]))


def _larvae(entry: LogbookEntry) -> BinEvent:
    larvae = larvae_of(entry)
    if larvae is None:
        raise UsageError("larvae is missing; allowed: their number, above 0")
    return LarvaeAdded(entry.at_ms, larvae)


def _take(entry: LogbookEntry) -> BinEvent:
    what = Taken(needed_word(entry, "what", tuple(each.value for each in Taken)))
    return TakenOut(entry.at_ms, _kg(entry), what)


EVENTS: Mapping[BinEntryKind, Callable[[LogbookEntry], BinEvent]] = {
    BinEntryKind.WATER: _water,
    BinEntryKind.FEED: _feed,
    BinEntryKind.WEIGH: _weigh,
    BinEntryKind.TEST: _test,
    BinEntryKind.STIR: lambda entry: Stirred(entry.at_ms),
    BinEntryKind.COVER: lambda entry: CoverChanged(entry.at_ms, _cover(entry)),
    BinEntryKind.FAN: _fan,
    BinEntryKind.LARVAE: _larvae,
    BinEntryKind.TAKE: _take,
    BinEntryKind.FINISH: lambda entry: Finishing(entry.at_ms),
    BinEntryKind.EMPTY: lambda entry: Emptied(entry.at_ms),
}
