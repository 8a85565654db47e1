"""What an entry of the logbook says about a bin or its moisture probe, and the fillings that follow from it.

Keys of a body: `kg`, `moisture` (ratio), `surface_m2`, `depth_m`, `cover`, `fan`, `substrate`,
`probe_depth_m`, `back_to_kg`, `sd_kg`, `moisture_sd`, `rough`, `spread`, `on`, `what`, `feed` (its name),
`note`, about animals (see `animals`) `larvae`, `age_days`, `cohort`, `begins`, `how`, `stays`, `ended`,
`grams`, and of a harvest `use`, `mean_mg`, `animals`, `residue_kg`, `residue_moisture`; of a probe's
calibration `raw_air`, `raw_water` and `points`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
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
    MoistureTested,
    Stirred,
    Taken,
    TakenOut,
    WaterAdded,
    Weighed,
    require_bin,
)
from monitor.bins.probe import ProbeCalibration, ProbePoint, calibrated
from monitor.bins.substrate import BinFacts, Larvae, SubstrateParameters
from monitor.errors import UsageError, sentence
from monitor.logbook.cohort_entries import MOST_ANIMALS, checked_harvest
from monitor.logbook.entry import (
    flag,
    kind_of,
    missing,
    needed_number,
    needed_word,
    number,
    shown_time,
    word,
)
from monitor.records import LogbookEntry

PROBE_KIND = "probe"
"""The kind of an entry about a moisture probe; its subject is the sensor."""
MIXED_SD = 0.03
"""Standard deviation of a moisture worked out from what was mixed [ratio]. Source: own choice."""

USUAL_PROBE_DEPTH_M = 0.05
"""Depth of a probe of which nothing was said, in a bin of which no depth was said [m]. Own choice."""

SCALE_SD_SHARE = 0.003
LEAST_SCALE_SD_KG = 0.02
"""What a kitchen or luggage scale may be off [kg]. Source: own choice."""

USUAL_PREPUPA_MG = 167.0
"""Mass of one prepupa that nobody weighed [mg]: 0.76 of 220 mg, the mass of a larva at its peak. Choice, from
open data of 48 boxes in which prepupae weighed 21 to 24 % less than the peak larva."""
KG_PER_MG = 1e-6
COVERS = tuple(cover.value for cover in Cover)


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
class Arrival:
    """Larvae that came into a filling. `cohort` is None for larvae of an entry from before larvae were those
    of a cohort; `count` is None where nobody knew how many larvae they were.
    """

    at_ms: int
    cohort: str | None
    count: float | None


@dataclass(frozen=True, slots=True)
class BinFill:
    """One filling of one place, from `facts.filled_ms` until it was emptied; events in the order of time.

    `cohorts` are the names of all that lived in it, `living` of those that do now, or did at the end;
    `animals` is their number, None where that is not known. `unnamed` are larvae of an entry from before
    larvae were those of a cohort; they count as long as no cohort lives in it. `arrived` are all that came.
    """

    place: str
    facts: BinFacts
    cohorts: tuple[str, ...] = ()
    events: tuple[BinEvent, ...] = ()
    emptied_ms: int | None = None
    living: tuple[str, ...] = ()
    animals: float | None = 0.0
    unnamed: Larvae | None = None
    arrived: tuple[Arrival, ...] = ()

    @property
    def finishing(self) -> bool:
        """Whether it is dried on purpose."""
        return any(isinstance(event, Finishing) for event in self.events)


def _kg(entry: LogbookEntry) -> float:
    return needed_number(entry, "kg", 0.0, MOST_KG, above=True)


def _moisture(entry: LogbookEntry) -> float:
    return needed_number(entry, "moisture", LEAST_MOISTURE, MOST_MOISTURE)


def _cover(entry: LogbookEntry) -> Cover:
    return Cover(needed_word(entry, "cover", COVERS))


def _filling_of(entry: LogbookEntry, context: BinValidationContext, before: BinFill | None) -> BinFill:
    """A filling from its entry; it takes over the size of the one before it where it gives none."""
    surface_m2 = number(entry, "surface_m2", 0.001, 100.0)
    if surface_m2 is None and before is not None:
        surface_m2 = before.facts.surface_m2
    if surface_m2 is None:
        raise UsageError("the size is missing; say it once, such as --size '60 x 40 cm'")
    substrate = word(entry, "substrate", tuple(context.substrates)) or context.usual_substrate
    facts = BinFacts(
        surface_m2=surface_m2,
        filled_ms=entry.at_ms,
        wet_kg=_kg(entry),
        moisture=_moisture(entry),
        moisture_sd=number(entry, "moisture_sd", 0.0, 0.3) or MIXED_SD,
        cover=Cover(word(entry, "cover", COVERS) or Cover.OPEN),
        fan=flag(entry, "fan"),
        probe_depth_m=_probe_depth_m(entry, context),
        pressure_pa=context.pressure_pa,
        substrate=context.substrates[substrate],
    )
    return BinFill(entry.subject, facts)


def _probe_depth_m(entry: LogbookEntry, context: BinValidationContext) -> float | None:
    """As said; else the middle of the bin where a thermometer hangs in it; None where none does."""
    depth_m = number(entry, "depth_m", 0.0, 2.0, above=True)
    said = number(entry, "probe_depth_m", 0.0, 1.0)
    if said is not None or entry.subject not in context.probed:
        return said
    return USUAL_PROBE_DEPTH_M if depth_m is None else depth_m / 2.0


def _water(entry: LogbookEntry) -> BinEvent:
    return WaterAdded(entry.at_ms, _kg(entry), number(entry, "back_to_kg", 0.0, MOST_KG, above=True))


def _feed(entry: LogbookEntry) -> BinEvent:
    return FeedAdded(entry.at_ms, _kg(entry), _moisture(entry))


def _weigh(entry: LogbookEntry) -> BinEvent:
    kg = _kg(entry)
    usual = max(LEAST_SCALE_SD_KG, SCALE_SD_SHARE * kg)
    return Weighed(entry.at_ms, kg, number(entry, "sd_kg", 0.0, 10.0, above=True) or usual)


def _test(entry: LogbookEntry) -> BinEvent:
    return MoistureTested(entry.at_ms, _moisture(entry), SQUEEZE_SD if flag(entry, "rough") else OVEN_DRY_SD)


def _fan(entry: LogbookEntry) -> BinEvent:
    if entry.body.get("on") is None:
        raise missing("on", sentence("true or false"))
    return FanChanged(entry.at_ms, flag(entry, "on"))


def _take(entry: LogbookEntry) -> BinEvent:
    what = Taken(needed_word(entry, "what", tuple(what.value for what in Taken)))
    number(entry, "moisture", LEAST_MOISTURE, MOST_MOISTURE)
    checked_harvest(entry)
    return TakenOut(entry.at_ms, taken_kg(entry), Taken.LARVAE if what is Taken.PREPUPAE else what)


def taken_kg(entry: LogbookEntry) -> float:
    """The mass of what was taken out [kg]; of prepupae that were only counted, what they usually weigh."""
    animals = number(entry, "animals", 0.0, MOST_ANIMALS, above=True, whole=True)
    if entry.body.get("kg") is None and animals is not None and entry.body.get("what") == Taken.PREPUPAE:
        return min(animals * USUAL_PREPUPA_MG * KG_PER_MG, MOST_KG)
    return _kg(entry)


def _empty(entry: LogbookEntry) -> BinEvent:
    checked_harvest(entry)
    number(entry, "residue_kg", 0.0, MOST_KG)
    number(entry, "residue_moisture", LEAST_MOISTURE, MOST_MOISTURE)
    return Emptied(entry.at_ms)


EVENTS: Mapping[BinEntryKind, Callable[[LogbookEntry], BinEvent]] = {
    BinEntryKind.WATER: _water,
    BinEntryKind.FEED: _feed,
    BinEntryKind.WEIGH: _weigh,
    BinEntryKind.TEST: _test,
    BinEntryKind.STIR: lambda entry: Stirred(entry.at_ms),
    BinEntryKind.COVER: lambda entry: CoverChanged(entry.at_ms, _cover(entry)),
    BinEntryKind.FAN: _fan,
    BinEntryKind.TAKE: _take,
    BinEntryKind.FINISH: lambda entry: Finishing(entry.at_ms),
    BinEntryKind.EMPTY: _empty,
}


def with_entry(
    fills: tuple[BinFill, ...], entry: LogbookEntry, context: BinValidationContext
) -> tuple[BinFill, ...]:
    """The fillings of a place with one more entry; UsageError where they contradict it.

    What it does to animals is in `animals`.
    """
    kind = kind_of(entry, BinEntryKind)
    if entry.subject not in context.titles and entry.entry_id is None:
        raise UsageError(
            "{place} cannot be filled; allowed: {allowed}",
            place=entry.subject,
            allowed=", ".join(context.titles),
        )
    last = fills[-1] if fills else None
    if kind is BinEntryKind.FILL:
        return (*fills, _filled(entry, context, last))
    if last is None:
        raise UsageError("it was not filled before that; enter `bin fill` first, with its time")
    if last.emptied_ms is not None:
        raise UsageError(
            "it was emptied on {time} and not filled since; enter `bin fill` first",
            time=shown_time(last.emptied_ms, context.zone),
        )
    if kind is BinEntryKind.LARVAE:
        return fills
    event = EVENTS[kind](entry)
    ended_ms = event.at_ms if isinstance(event, Emptied) else None
    return (*fills[:-1], replace(last, events=(*last.events, event), emptied_ms=ended_ms))


def _filled(entry: LogbookEntry, context: BinValidationContext, last: BinFill | None) -> BinFill:
    if last is not None and last.emptied_ms is None:
        raise UsageError(
            "it has been filled since {time}; enter `bin empty` first, or `bin feed` for feed put on top",
            time=shown_time(last.facts.filled_ms, context.zone),
        )
    fill = _filling_of(entry, context, last)
    require_bin(fill.facts, (), entry.at_ms)
    return fill


def calibration_body(points: Sequence[ProbePoint], raw_air: float, raw_water: float) -> dict[str, object]:
    """The body of an entry about a probe: what it says in air, in water, and at known moistures [ratio]."""
    pairs = [[point.raw, point.moisture] for point in points]
    return {"raw_air": raw_air, "raw_water": raw_water, "points": pairs}


def calibration_of(entry: LogbookEntry) -> ProbeCalibration:
    """The calibration that an entry about a probe makes; UsageError for points that cannot be."""
    air, water = (_raw(entry.body.get(key)) for key in ("raw_air", "raw_water"))
    written = entry.body.get("points")
    pairs = written if isinstance(written, list) else []
    points = [ProbePoint(_raw(raw), _raw(moisture)) for raw, moisture in pairs]
    return calibrated(points, air, water) if points else ProbeCalibration(air, water)


def _raw(value: object) -> float:
    return float(value) if isinstance(value, int | float) else float("nan")
