"""What an entry of the logbook says about a bin or its moisture probe, and the fillings that follow from it.

Keys of a body: `kg`, `moisture` (ratio), `surface_m2`, `depth_m`, `cover`, `fan`, `substrate`,
`probe_depth_m`, `larvae`, `age_days`, `cohort`, `back_to_kg`, `sd_kg`, `moisture_sd`, `rough`, `on`, `what`,
`note`; of a probe's calibration `raw_air`, `raw_water` and `points`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
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
    require_bin,
)
from monitor.bins.probe import ProbeCalibration, ProbePoint, calibrated
from monitor.bins.substrate import BinFacts, Larvae, SubstrateParameters
from monitor.errors import UsageError, sentence
from monitor.logbook.entry import (
    Refusal,
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

USUAL_AGE_DAYS = 5.0
LEAST_GROWTH_DAYS = 0.1
SCALE_SD_SHARE = 0.003
LEAST_SCALE_SD_KG = 0.02
"""What a kitchen or luggage scale may be off [kg]. Source: own choice."""

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
class BinFill:
    """One filling of one place, from `facts.filled_ms` until it was emptied; events in the order of time.

    `cohorts` are names of cohorts whose larvae were put in.
    """

    place: str
    facts: BinFacts
    cohorts: tuple[str, ...] = ()
    events: tuple[BinEvent, ...] = ()
    emptied_ms: int | None = None

    @property
    def finishing(self) -> bool:
        """Whether it is dried on purpose."""
        return any(isinstance(event, Finishing) for event in self.events)


@dataclass(frozen=True, slots=True)
class BinBook:
    """All fillings by place, in the order of time, and the entries that were refused."""

    fills: Mapping[str, tuple[BinFill, ...]] = field(default_factory=dict)
    refused: tuple[Refusal, ...] = ()

    def filled(self, place: str) -> BinFill | None:
        """The filling that stands in a place now, or None."""
        fills = self.fills.get(place, ())
        return fills[-1] if fills and fills[-1].emptied_ms is None else None

    @property
    def standing(self) -> tuple[BinFill, ...]:
        """Everything that is filled now."""
        return tuple(fills[-1] for fills in self.fills.values() if fills[-1].emptied_ms is None)


def _kg(entry: LogbookEntry) -> float:
    return needed_number(entry, "kg", 0.0, MOST_KG, above=True)


def _moisture(entry: LogbookEntry) -> float:
    return needed_number(entry, "moisture", LEAST_MOISTURE, MOST_MOISTURE)


def _cover(entry: LogbookEntry) -> Cover:
    return Cover(needed_word(entry, "cover", COVERS))


def _larvae_of(entry: LogbookEntry) -> Larvae | None:
    """Larvae put in with an entry, None where it gives no number."""
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
        larvae=_larvae_of(entry),
        pressure_pa=context.pressure_pa,
        substrate=context.substrates[substrate],
    )
    return BinFill(entry.subject, facts, _cohorts(entry))


def _probe_depth_m(entry: LogbookEntry, context: BinValidationContext) -> float | None:
    """As said; else the middle of the bin where a thermometer hangs in it; None where none does."""
    depth_m = number(entry, "depth_m", 0.0, 2.0, above=True)
    said = number(entry, "probe_depth_m", 0.0, 1.0)
    if said is not None or entry.subject not in context.probed:
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
    return MoistureTested(entry.at_ms, _moisture(entry), SQUEEZE_SD if flag(entry, "rough") else OVEN_DRY_SD)


def _fan(entry: LogbookEntry) -> BinEvent:
    if entry.body.get("on") is None:
        raise missing("on", sentence("true or false"))
    return FanChanged(entry.at_ms, flag(entry, "on"))


def _larvae(entry: LogbookEntry) -> BinEvent:
    larvae = _larvae_of(entry)
    if larvae is None:
        raise missing("larvae", sentence("their number, above 0"))
    return LarvaeAdded(entry.at_ms, larvae)


def _take(entry: LogbookEntry) -> BinEvent:
    what = Taken(needed_word(entry, "what", tuple(what.value for what in Taken)))
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


def with_entry(
    fills: tuple[BinFill, ...], entry: LogbookEntry, context: BinValidationContext
) -> tuple[BinFill, ...]:
    """The fillings of a place with one more entry; UsageError where they contradict it."""
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
    return (*fills[:-1], _after(last, entry, EVENTS[kind](entry)))


def _filled(entry: LogbookEntry, context: BinValidationContext, last: BinFill | None) -> BinFill:
    if last is not None and last.emptied_ms is None:
        raise UsageError(
            "it has been filled since {time}; enter `bin empty` first, or `bin feed` for feed put on top",
            time=shown_time(last.facts.filled_ms, context.zone),
        )
    fill = _filling_of(entry, context, last)
    require_bin(fill.facts, (), entry.at_ms)
    return fill


def _after(fill: BinFill, entry: LogbookEntry, event: BinEvent) -> BinFill:
    return replace(
        fill,
        events=(*fill.events, event),
        cohorts=(*fill.cohorts, *_cohorts(entry)),
        emptied_ms=event.at_ms if isinstance(event, Emptied) else None,
    )


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
