"""What the farm yields, one record for page, command and report: sums of spans, what lies ahead, doubts,
and what the climate did."""

from __future__ import annotations

import statistics
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import partial

import numpy as np

from monitor.climate.arrays import FloatArray
from monitor.errors import UsageError
from monitor.farm.book import book_of, cages_of, wanted_of_farm
from monitor.farm.development import Development, develop
from monitor.farm.place_reader import PlaceReader, TimedValues
from monitor.farm.places import limits_of
from monitor.farm.supply import eggs_ahead, flies_of_cages, kept_for, larvae_ahead
from monitor.logbook.entry import in_force
from monitor.logbook.replay import FarmBook
from monitor.logbook.takings import takings_of
from monitor.records import MS_PER_DAY, MS_PER_HOUR, LogbookEntry, PlaceKind, Quantity, SubjectKind, local
from monitor.settings.plan import Plan
from monitor.store import Store
from monitor.yields import effects
from monitor.yields import records as kinds
from monitor.yields.breeding import PrepupaeToKeep
from monitor.yields.effects import Effect, SupportedLimit, climate_effects, hit, supported_limit
from monitor.yields.exposure import Beside, Limits, Made, PlaceHours, beside, spans_of
from monitor.yields.forecast import AHEAD_DAYS, UNLEARNED_DAYS, EggForecast, expected_past
from monitor.yields.larvae import LarvaeForecast
from monitor.yields.laying import DayGrid, day_grid
from monitor.yields.money import Lost, Prices, lost
from monitor.yields.records import EggUse, LarvaeUse, Taking, Takings
from monitor.yields.sums import DAYS_A_WEEK, FarmSums, PeriodSum, farm_sums

SLIP = 3.0
"""An amount this many times above or below the usual one is called a slip of the unit by the nearest power of
ten [1]. Own choice."""


@dataclass(frozen=True, slots=True)
class YieldsNow:
    """What was taken and given until now, and its sums; weeks and months in order of time."""

    now_ms: int
    takings: Takings
    sums: FarmSums

    @property
    def weeks(self) -> tuple[PeriodSum | None, PeriodSum | None]:
        """The week that runs and the one before, None where nothing was written down by then."""
        return _last_two(self.sums.weeks)

    @property
    def months(self) -> tuple[PeriodSum | None, PeriodSum | None]:
        """The month that runs and the one before."""
        return _last_two(self.sums.months)

    def needing(self, keep: PrepupaeToKeep | None) -> YieldsNow:
        """The same with what is kept held against what is needed; None: nobody wants so many eggs."""
        if keep is None:
            return self
        weeks, months = (
            tuple(each.needing(keep.safe) for each in spans) for spans in (self.sums.weeks, self.sums.months)
        )
        return replace(self, sums=replace(self.sums, weeks=weeks, months=months))


def _last_two(spans: Sequence[PeriodSum]) -> tuple[PeriodSum | None, PeriodSum | None]:
    return spans[-1] if spans else None, spans[-2] if len(spans) > 1 else None


def yields_now(
    store: Store,
    plan: Plan,
    book: FarmBook,
    now_ms: int,
    needed_a_week: float | None = None,
    known_ms: int | None = None,
) -> YieldsNow:
    """Add up what the logbook says until `now_ms` [ms since 1970 UTC]; `book` is its replay.

    `needed_a_week` is how many larvae or prepupae have to be kept in a week. With `known_ms` only what had
    been entered by then counts, for `book` too.
    """
    takings = takings_of(in_force(store.logbook.every(), known_ms), book, cages_of(plan))
    return YieldsNow(
        now_ms, takings, farm_sums(takings, plan.zone, now_ms, wanted_of_farm(plan, book, needed_a_week))
    )


@dataclass(frozen=True, slots=True)
class Doubt:
    """An entry from which no forecast learns: an amount in grams or kilograms that a slip would explain.

    `factor` is by how much it seems too large (10, 100, ...) or too small (0.1, ...); None where only its
    size is odd.
    """

    entry: int
    place: str
    at_ms: int
    amount: float
    in_grams: bool
    factor: float | None


@dataclass(frozen=True, slots=True)
class YieldsAhead:
    """What lies ahead: eggs of the cages, larvae of the bins, and entries that were not believed.

    `keep` says how many prepupae the eggs that the settings want need; None: they want none.
    """

    now_ms: int
    eggs: EggForecast
    larvae: LarvaeForecast
    doubts: tuple[Doubt, ...]
    keep: PrepupaeToKeep | None = None

    def doubts_in(self, takings: Takings) -> YieldsAhead:
        """The same without doubts of entries that were put right since."""
        there = {
            *((each.entry_id, each.grams) for each in takings.eggs),
            *((each.entry_id, each.kg) for each in takings.larvae_out),
        }
        return replace(self, doubts=tuple(each for each in self.doubts if (each.entry, each.amount) in there))

    def promised(self, at_ms: int) -> float | None:
        """Grams of eggs of the week that ends with the day of a date which are there four times in five."""
        return self.eggs.promise(at_ms, DAYS_A_WEEK)


def yields_ahead(development: Development, takings: Takings) -> YieldsAhead:
    """Forecast what the cages and bins will give, from what they gave."""
    eggs, larvae = eggs_ahead(development, takings), larvae_ahead(development, takings)
    doubts = (*_egg_doubts(takings, eggs.doubted), *_larva_doubts(takings, larvae.doubted))
    wanted = development.plan.settings.site.eggs_g_a_week
    keep = None if wanted is None else kept_for(wanted, development, eggs)
    return YieldsAhead(development.now_ms, eggs, larvae, doubts, keep)


def _egg_doubts(takings: Takings, doubted: Sequence[int]) -> list[Doubt]:
    return [
        Doubt(each.entry_id, each.place, each.at_ms, each.grams, True, _slip(each.grams, usual))
        for each in takings.eggs
        if each.entry_id is not None
        and each.entry_id in doubted
        and (usual := [other.grams for other in takings.eggs if other.place == each.place])
    ]


def _larva_doubts(takings: Takings, doubted: Sequence[int]) -> list[Doubt]:
    usual = [each.kg for each in takings.larvae_out]
    return [
        Doubt(each.entry_id, each.place, each.at_ms, each.kg, False, _slip(each.kg, usual))
        for each in takings.larvae_out
        if each.entry_id is not None and each.entry_id in doubted
    ]


def _slip(amount: float, usual: Sequence[float]) -> float | None:
    """The power of ten by which an amount is off from the usual one, None where it is not so far off."""
    middle = statistics.median(usual)
    if amount <= 0.0 or middle <= 0.0 or 1.0 / SLIP < amount / middle < SLIP:
        return None
    return float(10.0 ** round(np.log10(amount / middle))) if amount != middle else None


@dataclass(frozen=True, slots=True)
class YieldWeek:
    """What the report of a Monday says: the week that is over beside the one before, and what is to come.

    `ahead` is None of an earlier Monday.
    """

    last: PeriodSum
    before: PeriodSum | None
    ahead: YieldsAhead | None
    plan: Plan


def yield_week(
    store: Store,
    plan: Plan,
    monday_ms: int,
    known_ms: int | None,
    ahead: Callable[[], YieldsAhead] | None = None,
) -> YieldWeek | None:
    """The week that ended before a moment of a Monday, with what was known by `known_ms`; None where the
    logbook does not go back so far.

    Without `known_ms` it is of now, and what is to come belongs to it; `ahead` gives that where it is kept.
    """
    book = book_of(store, plan, monday_ms, known_ms)
    now = yields_now(store, plan, book, monday_ms, known_ms=known_ms)
    if len(now.sums.weeks) < 2:
        return None
    coming: YieldsAhead | None = None
    if known_ms is None:
        made = partial(develop, store, plan, monday_ms, book=book)
        coming = yields_ahead(made(), now.takings) if ahead is None else ahead()
        now = now.needing(coming.keep)
    before = now.sums.weeks[-3] if len(now.sums.weeks) > 2 else None
    return YieldWeek(now.sums.weeks[-2], before, coming, plan)


@dataclass(frozen=True, slots=True)
class ClimateSaid:
    """What went with the climate of a farm over its last year: comparisons, what the last `COST_DAYS` cost
    by those that may be said, limits that its own eggs would support, takings of those days beside the hours
    that made them."""

    effects: tuple[Effect, ...]
    costs: tuple[tuple[Effect, Lost], ...]
    limits: tuple[SupportedLimit, ...]
    beside: tuple[Beside, ...] = ()


COST_DAYS = 30
"""What bad hours cost is told of so many days [d]. Own choice."""
LIT_LX = 100.0
"""From so much on an hour counts as light [lx]. Own choice: a dim room by day."""
_MADE_IN: Mapping[Made, PlaceKind] = {
    Made.EGGS: PlaceKind.LOVE_CAGE,
    Made.HATCH: PlaceKind.HATCHING_TRAY,
    Made.EMERGENCE: PlaceKind.PUPATION_BOX,
    Made.HARVEST: PlaceKind.GROW_OUT_BIN,
}


def climate_said(
    reader: PlaceReader, development: Development, takings: Takings, prices: Prices | None = None
) -> ClimateSaid:
    """What the climate of the last year went with in eggs, hatch, emergence and harvests."""
    now_ms, origin_ms = development.now_ms, development.basis.day_origin_ms
    first = min((each.at_ms for each in takings.all()), default=now_ms)
    past_days = min(effects.PAST_DAYS, (now_ms - first) // MS_PER_DAY + UNLEARNED_DAYS + 1)
    grid = day_grid(now_ms, origin_ms, past_days, 1)
    # Of a span that begins before, feed or eggs would be missing.
    every = spans_of(takings, _boxes(development, takings))
    spans = [each for each in every if each.from_ms >= grid.first_ms]
    places = {*development.context.cages, *(each.place for each in spans)}
    climate = {
        place: hours for place in places if (hours := place_hours(reader, place, grid, now_ms)) is not None
    }
    limits = {made: _limits(development.plan, kind) for made, kind in _MADE_IN.items()}
    past = expected_past(
        takings,
        flies_of_cages(development, takings, grid),
        development.kinds[None],
        grid,
        development.learning.posteriors[None].spread_log_sd,
    )
    found = climate_effects(past, spans, climate, limits)
    since_ms = now_ms - COST_DAYS * MS_PER_DAY
    said = [each for each in found if each.is_said]
    costs = [
        (each, lost(*hit(each, past, spans, climate, limits, since_ms), _factors(each), _price(each, prices)))
        for each in said
    ]
    offered = (supported_limit(each, past, climate, limits[Made.EGGS]) for each in said)
    lately = beside([each for each in spans if each.until_ms >= since_ms], climate, limits)
    return ClimateSaid(found, tuple(costs), tuple(each for each in offered if each is not None), lately)


def _factors(effect: Effect) -> tuple[float, float, float]:
    return effect.low, effect.middle, effect.high


def _price(effect: Effect, prices: Prices | None) -> float | None:
    if prices is None:
        return None
    by_made = {
        Made.EGGS: prices.eggs_gram,
        Made.HATCH: prices.eggs_gram,
        Made.HARVEST: prices.larvae_kg,
    }
    return by_made.get(effect.comparison.made)


def _limits(plan: Plan, kind: PlaceKind) -> Limits:
    """The strictest limits of the first place of a kind that has any: beyond them an hour counts."""
    warm = Quantity.SUBSTRATE_TEMPERATURE if kind is PlaceKind.GROW_OUT_BIN else Quantity.AIR_TEMPERATURE
    for place in plan.settings.places:
        if place.kind is kind:
            cold, hot = limits_of(plan, place.id, warm)
            return Limits(cold, hot, limits_of(plan, place.id, Quantity.AIR_HUMIDITY)[0])
    return Limits()


def _boxes(development: Development, takings: Takings) -> dict[str, str]:
    """In which box the pupae of each cohort lay."""
    boxes = {place.id for place in development.plan.settings.places if place.kind is PlaceKind.PUPATION_BOX}
    cohorts = {each.cohort for each in takings.prepupae if each.cohort is not None}
    return {
        name: stay.place
        for name in cohorts
        if name in development.book.cohorts
        for stay in development.book.cohorts[name].track.residences
        if stay.place in boxes
    }


def place_hours(reader: PlaceReader, place: str, grid: DayGrid, now_ms: int) -> PlaceHours | None:
    """The hours of a place on the days of a grid until now, nan where silent; None: it has no thermometer.

    A place without a sensor of its own goes by that of its room; a bin goes by its substrate alone.
    """
    known = reader.plan.places.get(place)
    room = None if known is None else known.room
    is_bin = known is not None and known.kind is PlaceKind.GROW_OUT_BIN
    warm = Quantity.SUBSTRATE_TEMPERATURE if is_bin else Quantity.AIR_TEMPERATURE
    number = -(-(now_ms - grid.first_ms) // MS_PER_HOUR)

    def values(quantity: Quantity) -> FloatArray:
        filled = np.full(number, np.nan)
        for source in (place, room) if quantity is not Quantity.SUBSTRATE_TEMPERATURE else (place,):
            times, found = reader.hours(source, quantity, grid.first_ms) if source else (None, None)
            if times is not None and found is not None and len(times):
                at = (times - grid.first_ms) // MS_PER_HOUR
                inside = (at >= 0) & (at < number)
                filled[at[inside]] = found[inside]
                break
        return filled

    warmth, light = values(warm), values(Quantity.LIGHT)
    if not np.isfinite(warmth).any():
        return None
    lit = np.where(np.isfinite(light), (light >= LIT_LX).astype(np.float64), np.nan)
    return PlaceHours(grid.first_ms, warmth, values(Quantity.AIR_HUMIDITY), lit)


def promise_day(text_ms: int, now_ms: int, plan: Plan) -> int:
    """The day of a promise; UsageError where it lies before today or beyond what is looked ahead to."""
    first, last = local(now_ms, plan.zone).date(), local(now_ms, plan.zone).date() + timedelta(AHEAD_DAYS - 1)
    wanted = local(text_ms, plan.zone).date()
    if not first <= wanted <= last:
        raise UsageError(
            "{day} cannot be promised: allowed is today ({first}) to {last}",
            day=wanted.isoformat(),
            first=first.isoformat(),
            last=last.isoformat(),
        )
    return text_ms


# One row for each day and place.

CLIMATE: Mapping[Quantity, str] = {
    Quantity.AIR_TEMPERATURE: "air_temperature_{}_c",
    Quantity.AIR_HUMIDITY: "air_humidity_{}_percent_rh",
    Quantity.SUBSTRATE_TEMPERATURE: "substrate_temperature_{}_c",
    Quantity.LIGHT: "light_{}_lx",
}
"""The quantities beside what was taken, and the names of their columns: lowest, mean and highest hour."""
AMOUNTS = (
    *("eggs_g", "eggs_sold_g", "eggs_to_hatch_g", "egg_strips_count", "hatch_percent", "young_larvae_g"),
    *("feed_kg", "larvae_kg", "larvae_for_feed_kg", "larvae_sold_kg", "larvae_for_breeding_kg"),
    *("prepupae_kg", "prepupae_count", "residue_kg", "flies_put_in_count", "dead_flies_count"),
    "dead_flies_g",
)
"""Columns of amounts. All masses are wet; nothing written down is empty, not zero."""
_HOURS = "measured_hours"
DAY_COLUMNS = (
    *("date", "place", "cohort", *AMOUNTS),
    *(name.format(part) for name in CLIMATE.values() for part in ("lowest", "mean", "highest")),
    *(_HOURS, "logbook"),
)
_EGGS = {EggUse.SOLD: "sold", EggUse.HATCH: "to_hatch"}
_LARVAE = {LarvaeUse.FEED: "for_feed", LarvaeUse.SOLD: "sold", LarvaeUse.BREEDING: "for_breeding"}


@dataclass(frozen=True, slots=True)
class DayOfPlace:
    """One place on one day: amounts and climate by column, and the entries about it."""

    day: date
    place: str
    cohorts: tuple[str, ...]
    values: Mapping[str, float]
    entries: tuple[LogbookEntry, ...]


def days_of_places(store: Store, plan: Plan, now: YieldsNow) -> list[DayOfPlace]:
    """Every day since the first entry of every place that gave or took anything, days of nothing too."""
    places = sorted({each.place for each in now.takings.all() if each.place in plan.places})
    if not places:
        return []
    taken = _by_day(now.takings, plan)
    first = min(day for day, _ in taken)
    number = (local(now.now_ms, plan.zone).date() - first).days + 1
    days = [first + timedelta(days=each) for each in range(number)]
    since_ms = min(each.at_ms for each in now.takings.all()) - MS_PER_DAY
    climate = _Climate(PlaceReader(store, plan, now.now_ms), plan, since_ms)
    written = _entries_by_day(store, plan, now)
    return [_row(day, place, taken, climate, written) for place in places for day in days]


_Key = tuple[date, str]


def _row(
    day: date,
    place: str,
    taken: Mapping[_Key, list[Taking]],
    climate: _Climate,
    written: Mapping[_Key, list[LogbookEntry]],
) -> DayOfPlace:
    every = taken.get((day, place), [])
    values: dict[str, float] = {}
    for each in every:
        for name, amount in _amounts(each).items():
            if amount is not None:
                # A share that was counted again stands alone; all else adds up.
                before = 0.0 if name == "hatch_percent" else values.get(name, 0.0)
                values[name] = before + amount
    cohorts = tuple(sorted({each.cohort for each in every if each.cohort is not None}))
    measured = climate.of(place).get(day, {})
    return DayOfPlace(day, place, cohorts, {**values, **measured}, tuple(written.get((day, place), ())))


def _by_day(takings: Takings, plan: Plan) -> dict[_Key, list[Taking]]:
    found: dict[_Key, list[Taking]] = {}
    for each in takings.all():
        found.setdefault((local(each.at_ms, plan.zone).date(), each.place), []).append(each)
    return found


def _entries_by_day(store: Store, plan: Plan, now: YieldsNow) -> dict[_Key, list[LogbookEntry]]:
    """Entries by the place that they are about, or in which what they say was taken."""
    taken_at = {each.entry_id: each.place for each in now.takings.all() if each.entry_id is not None}
    found: dict[_Key, list[LogbookEntry]] = {}
    for each in in_force(store.logbook.every()):
        about_place = each.subject_kind in (SubjectKind.PLACE, SubjectKind.BIN)
        place = each.subject if about_place else taken_at.get(each.entry_id or 0)
        if place is not None and each.at_ms <= now.now_ms:
            found.setdefault((local(each.at_ms, plan.zone).date(), place), []).append(each)
    return found


def _amounts(each: Taking) -> dict[str, float | None]:
    """One taking by the columns that it fills."""
    match each:
        case kinds.EggsCollected():
            used = {} if each.use is None else {f"eggs_{_EGGS[each.use]}_g": each.grams}
            return {"eggs_g": each.grams, "egg_strips_count": each.strips, **used}
        case kinds.HatchSeen():
            share = None if each.share is None else 100.0 * each.share
            return {"hatch_percent": share, "young_larvae_g": each.young_grams}
        case kinds.FeedGiven():
            return {"feed_kg": each.kg}
        case kinds.LarvaeOut():
            kept = {} if each.use is None else {f"larvae_{_LARVAE[each.use]}_kg": each.kg}
            return {"larvae_kg": each.kg, **kept}
        case kinds.PrepupaeOut():
            return {"prepupae_kg": each.kg, "prepupae_count": each.count}
        case kinds.Residue():
            return {"residue_kg": each.kg}
        case kinds.FliesPutIn():
            return {"flies_put_in_count": each.count}
        case kinds.DeadFlies():
            return {"dead_flies_count": each.count, "dead_flies_g": each.grams}
    return {}


class _Climate:
    """The hours of places by day: of its own sensors, else of those of its room."""

    def __init__(self, reader: PlaceReader, plan: Plan, since_ms: int) -> None:
        self._reader, self._plan, self._since_ms = reader, plan, since_ms
        self._kept: dict[str, dict[date, dict[str, float]]] = {}

    def of(self, place: str) -> Mapping[date, Mapping[str, float]]:
        """Lowest, mean and highest hour of each quantity by day."""
        if place not in self._kept:
            self._kept[place] = self._read(place)
        return self._kept[place]

    def _read(self, place: str) -> dict[date, dict[str, float]]:
        found: dict[date, dict[str, float]] = {}
        for quantity, name in CLIMATE.items():
            for day, values in self._days(self._hours(place, quantity)).items():
                row = found.setdefault(day, {})
                hours = len(values)
                row[_HOURS] = max(row.get(_HOURS, 0.0), float(hours))
                row |= {
                    name.format("lowest"): min(values),
                    name.format("mean"): sum(values) / hours,
                    name.format("highest"): max(values),
                }
        return found

    def _hours(self, place: str, quantity: Quantity) -> TimedValues:
        here = self._reader.sensors.of(place, quantity)
        room = self._plan.places[place].room
        return self._reader.hours(place if here or room is None else room, quantity, self._since_ms)

    def _days(self, hours: TimedValues) -> dict[date, list[float]]:
        found: dict[date, list[float]] = {}
        for at_ms, value in zip(hours[0].tolist(), hours[1].tolist(), strict=True):
            found.setdefault(local(at_ms, self._plan.zone).date(), []).append(value)
        return found
