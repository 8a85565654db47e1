"""The filled bins at a moment, from logbook, readings and plan: moisture, hours until dry, heat, probe."""

from __future__ import annotations

import json
import logging
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from hashlib import sha1

import numpy as np

from monitor.alarms.rules import SETTINGS_SOURCE
from monitor.bins.conditions import ClimateSeries, DayShape, climate_of, days_ahead, usual_day
from monitor.bins.events import BinEvent
from monitor.bins.harvest import HarvestOutlook, harvest_outlook
from monitor.bins.history import BinHistory, history_lesson, is_observation, simulate
from monitor.bins.lessons import FactorPrior, Lesson
from monitor.bins.outlook import HORIZON_H, SOON_H, MoistureOutlook, moisture_band, outlook, seen_by_probe
from monitor.bins.probe import ProbeCalibration, ProbeReading, read_probe
from monitor.bins.substrate import MoistureBands, Zone
from monitor.climate.arrays import FloatArray, IntArray
from monitor.climate.heat import USUAL_DAYS, HeatPast, heat_past, minutes_to_overheating
from monitor.climate.trend import LONGEST_WINDOW_MIN, minutes_to_limit
from monitor.errors import StoreError
from monitor.farm.book import (
    LESSONS,
    book_of,
    factor_prior,
    kept_lessons,
    lesson_key,
    like_fills,
    refused_about,
)
from monitor.farm.place_reader import PlaceReader, SensorRests, TimedValues
from monitor.farm.records import BinMoisture, MoistureBasis
from monitor.logbook.bin_entries import PROBE_KIND, BinFill, calibration_of
from monitor.logbook.entry import Refusal
from monitor.logbook.replay import FarmBook
from monitor.records import (
    MS_PER_DAY,
    MS_PER_HOUR,
    MS_PER_MINUTE,
    PlaceKind,
    Quantity,
    SensorKey,
    Side,
    SubjectKind,
)
from monitor.settings.plan import Plan
from monitor.settings.schema import Place
from monitor.store import Store

log = logging.getLogger(__name__)

RAW_AIR, RAW_WATER = 0.0, 1.0
"""What a probe that already sends a share says in air and in water, until it was dipped."""
SHAPE_DAYS = 3
HOURS_PER_DAY = 24
NO_LIMITS = MoistureBands(0.02, 0.04, 0.10, 0.40, 0.97, 0.98)
"""A pupation box has no limits that the papers agree on; these never alarm."""
FRESH_MS = 2 * MS_PER_HOUR
HEAT_OVER_MS = 2 * MS_PER_HOUR
LESSONS_VERSION = 2
"""The version of the model that worked out what fills teach; another works it out anew."""
MOST_LESSONS, LESSONS_AT_ONCE, LESSONS_FROM_MS = 40, 4, 365 * MS_PER_DAY
"""Fills that teach, those worked out at one call, and how far back [ms]. Own choice: a farm of six bins fills
that many in two months, and more would teach little."""
SOON_HOT_MIN = 60.0


class BinState(StrEnum):
    """What is to be said first of a filled bin."""

    UNKNOWN = "unknown"
    TOO_HOT = "too_hot"
    HOT_SOON = "hot_soon"
    FINISHING = "finishing"
    NO_LIMITS = "no_limits"
    DRY_SOON = "dry_soon"
    TOO_DRY = Zone.TOO_DRY.value
    DRY = Zone.DRY.value
    RIGHT = Zone.RIGHT.value
    WET = Zone.WET.value
    TOO_WET = Zone.TOO_WET.value


@dataclass(frozen=True, slots=True)
class HeatView:
    """Heat of a bin: its excess over the air [K], slope [°C/h], minutes to the high limit, heat made [W/m²].

    Minutes are None where too few readings are known or the place has no limit; `alarm_min` are those that
    the early heat alarm looks at.
    """

    substrate_c: float
    at_ms: int
    excess_k: float | None
    slope_c_per_h: float | None
    median_min: float | None
    earliest_min: float | None
    limit_c: float | None
    made_w_m2: float | None
    alarm_min: float | None = None
    past: HeatPast | None = None

    @property
    def is_over(self) -> bool:
        """Whether it is above its high limit."""
        return self.limit_c is not None and self.substrate_c > self.limit_c

    @property
    def is_hot(self) -> bool:
        """Whether it is above its high limit, or may reach it within the hour."""
        soon_min = self.earliest_min if self.alarm_min is None else self.alarm_min
        return self.is_over or (soon_min is not None and soon_min < SOON_HOT_MIN)


@dataclass(frozen=True, slots=True)
class ProbeView:
    """What the moisture probe of a bin says, and whether it is fresh."""

    sensor: SensorKey
    reading: ProbeReading
    at_ms: int
    fresh: bool

    @property
    def counts(self) -> bool:
        """Whether it is calibrated and fresh, so that the moisture rests on it too."""
        return self.fresh and self.reading.moisture is not None and self.reading.sd is not None


@dataclass(frozen=True, slots=True)
class BinRests:
    """What the view of a bin rests on, beside readings and time: while it is the same, so is the view.

    `probes` are the calibrations of its moisture probes, `sensors` what readings of all places rest on.
    """

    fill: BinFill
    place: Place
    bands: MoistureBands | None
    heat_limit_c: float | None
    probes: tuple[ProbeCalibration, ...]
    sensors: SensorRests
    taught: FactorPrior


@dataclass(frozen=True, slots=True, eq=False)
class BinView:
    """One filled bin for a person. `outlook` is None where air temperature or humidity was never measured.

    `bands` is None for a box without limits. `usual_day` is False while too little was measured to know the
    place's own day. `failed` names the error of the program for which it could not be worked out. `harvest`
    is None for what is no grow-out bin, and where nobody counted the larvae. `rests` is what it rests on,
    where it may be used again.
    """

    fill: BinFill
    title: str
    kind: PlaceKind
    now_ms: int
    bands: MoistureBands | None
    history: BinHistory | None = None
    outlook: MoistureOutlook | None = None
    climate: ClimateSeries | None = None
    heat: HeatView | None = None
    probe: ProbeView | None = None
    usual_day: bool = True
    failed: str = ""
    harvest: HarvestOutlook | None = None
    rests: BinRests | None = None

    @property
    def place(self) -> str:
        return self.fill.place

    @property
    def moisture(self) -> BinMoisture | None:
        """The one figure of its moisture that every surface shows and that its limits are held against."""
        return None if self.outlook is None else _figure(self.outlook.median, self.probe)

    @property
    def state(self) -> BinState:
        """Heat comes first, since it kills within hours; then drying on purpose, then moisture."""
        outlook = self.outlook
        if self.heat is not None and self.heat.is_hot:
            return BinState.TOO_HOT if self.heat.is_over else BinState.HOT_SOON
        if outlook is None:
            return BinState.UNKNOWN
        if outlook.finishing:
            return BinState.FINISHING
        if self.bands is None:
            return BinState.NO_LIMITS
        soon = self.likely_dry_h is not None and self.likely_dry_h < SOON_H
        return BinState.DRY_SOON if soon and outlook.zone is Zone.RIGHT else BinState(outlook.zone.value)

    @property
    def likely_dry_h(self) -> float | None:
        """Hours until it is below its dry limit with the chance `LIKELY`, None where no limit counts; the
        dryness alarm is held against it.
        """
        if self.outlook is None or self.bands is None or self.outlook.to_limit is None:
            return None
        return self.outlook.to_limit.likely_h

    @property
    def earliest_dry_h(self) -> float | None:
        """Earliest credible hours to the dry limit, None where no limit counts."""
        if self.outlook is None or self.bands is None or self.outlook.to_limit is None:
            return None
        return self.outlook.to_limit.earliest_h


def _figure(share: float, probe: ProbeView | None) -> BinMoisture:
    by_probe = probe is not None and probe.counts
    return BinMoisture(share, MoistureBasis.PROBE if by_probe else MoistureBasis.ENTERED)


@dataclass(frozen=True, slots=True)
class BinsView:
    """Every filled bin in the order in which it needs water, and the entries that were refused.

    Each view has its own moment; `now_ms` is the oldest of them.
    """

    now_ms: int
    bins: tuple[BinView, ...]
    refused: tuple[Refusal, ...]

    def of(self, place: str) -> BinView | None:
        return next((view for view in self.bins if view.place == place), None)


def probe_calibration(store: Store, sensor: SensorKey) -> ProbeCalibration:
    """The newest calibration of a probe; without one, an index between air and water alone."""
    entries = store.logbook.in_force(SubjectKind.BIN, str(sensor))
    mine = [entry for entry in entries if entry.kind == PROBE_KIND]
    if not mine:
        return ProbeCalibration(RAW_AIR, RAW_WATER)
    return calibration_of(mine[-1])


def place_climate(reader: PlaceReader, place: str, from_ms: int) -> ClimateSeries | None:
    """The climate of a place from some days before a time until now; None where its air is not known.

    A place without thermometer and hygrometer of its own goes by the air of its room.
    """
    start_ms = min(from_ms, reader.now_ms - SHAPE_DAYS * MS_PER_DAY)
    start_ms -= start_ms % MS_PER_HOUR
    for where in (place, reader.plan.places[place].room):
        air = reader.hours(where, Quantity.AIR_TEMPERATURE, start_ms)
        humidity = reader.hours(where, Quantity.AIR_HUMIDITY, start_ms)
        times, at_air, at_humidity = np.intersect1d(air[0], humidity[0], return_indices=True)
        if len(times):
            substrate = _at(times, reader.hours(place, Quantity.SUBSTRATE_TEMPERATURE, start_ms))
            return climate_of(reader.middles(times), air[1][at_air], humidity[1][at_humidity], substrate)
    return None


def _at(times: IntArray, series: TimedValues) -> FloatArray:
    values = np.full(len(times), np.nan)
    _, here, there = np.intersect1d(times, series[0], return_indices=True)
    values[here] = series[1][there]
    return values


def climate_ahead(climate: ClimateSeries, now_ms: int) -> tuple[ClimateSeries, bool]:
    """The coming days as the place's own usual day, and whether that day is known.

    Where less than half a day was measured, the mean of what was stands for every hour.
    """
    day = usual_day(climate, now_ms)
    if day is not None:
        return days_ahead(day, now_ms, HORIZON_H), True
    known = climate.substrate_c[np.isfinite(climate.substrate_c)]
    substrate = float(known.mean()) if len(known) else float("nan")
    steady = (float(climate.air_c.mean()), float(climate.humidity_percent.mean()), substrate)
    return days_ahead(DayShape(*(np.full(HOURS_PER_DAY, each) for each in steady)), now_ms, HORIZON_H), False


def bins_view(
    store: Store,
    plan: Plan,
    now_ms: int,
    known_ms: int | None = None,
    earlier: BinsView | None = None,
    book: FarmBook | None = None,
) -> BinsView:
    """Every filled bin, with `known_ms` as far as was known then; one at which the program fails stands
    there as failed beside the others.

    A bin of `earlier` with which nothing was done since stays as it was then. `book` is the logbook where it
    was read already.
    """
    book = book_of(store, plan, now_ms, known_ms) if book is None else book
    reader = PlaceReader(store, plan, now_ms)
    views = []
    for fill in (fill for fill in book.standing if fill.place in plan.places):
        try:
            views.append(_kept(store, reader, fill, earlier) or bin_view(store, plan, reader, fill))
        except StoreError:
            raise
        except Exception as error:
            log.exception("%s could not be worked out", fill.place)
            title, kind = plan.title(fill.place), plan.places[fill.place].kind
            views.append(BinView(fill, title, kind, now_ms, None, failed=type(error).__name__))
    oldest_ms = min((view.now_ms for view in views), default=now_ms)
    return BinsView(oldest_ms, tuple(sorted(views, key=_need)), refused_about(SubjectKind.BIN, book))


def _kept(store: Store, reader: PlaceReader, fill: BinFill, earlier: BinsView | None) -> BinView | None:
    before = None if earlier is None else earlier.of(fill.place)
    if before is None or before.rests is None or before.rests != bin_rests(store, reader, fill):
        return None
    return before


def bin_rests(store: Store, reader: PlaceReader, fill: BinFill) -> BinRests:
    """What the view of a bin rests on, beside readings and time."""
    plan, place = reader.plan, fill.place
    probes = reader.sensors.of(place, Quantity.SUBSTRATE_MOISTURE)
    return BinRests(
        fill=fill,
        place=plan.places[place],
        bands=bands_of(plan, fill),
        heat_limit_c=plan.heat_limit_c(place),
        probes=tuple(probe_calibration(store, sensor) for sensor in probes),
        sensors=reader.sensors.rests,
        taught=factor_prior(store, fill),
    )


def view_of_bin(store: Store, plan: Plan, place: str, now_ms: int) -> BinView | None:
    """One filled bin at a moment, without working out the others; None where the place is not filled."""
    fill = book_of(store, plan, now_ms).filled(place)
    if fill is None or place not in plan.places:
        return None
    return bin_view(store, plan, PlaceReader(store, plan, now_ms), fill)


def _need(view: BinView) -> tuple[float, float]:
    """Those that dry first stand first."""
    if view.outlook is None or view.earliest_dry_h is None or view.outlook.to_warning is None:
        return float("inf"), 0.0
    return view.earliest_dry_h, view.outlook.to_warning.earliest_h


def bin_view(store: Store, plan: Plan, reader: PlaceReader, fill: BinFill) -> BinView:
    """One filled bin whole, with what is ahead of it."""
    place, now_ms = fill.place, reader.now_ms
    rests = bin_rests(store, reader, fill)
    view = BinView(fill, plan.title(place), plan.places[place].kind, now_ms, rests.bands, rests=rests)
    past = _past(store, reader, fill)
    view = replace(view, probe=past.probe)
    if past.climate is None or past.history is None:
        return replace(view, heat=_heat(plan, reader, fill, None))
    ahead, usual = climate_ahead(past.climate, now_ms)
    seen = _with_probe(past.history, past.probe)
    expected = outlook(seen, ahead, view.bands or NO_LIMITS)
    grows = view.kind is PlaceKind.GROW_OUT_BIN
    return replace(
        view,
        history=past.history,
        outlook=expected,
        harvest=harvest_outlook(past.history, expected.ahead_ms, expected.core_ahead_c) if grows else None,
        climate=past.climate,
        heat=_heat(plan, reader, fill, past.history),
        usual_day=usual,
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Past:
    """What is known of a bin from its filling to now; no history where its air was never measured."""

    probe: ProbeView | None
    climate: ClimateSeries | None
    history: BinHistory | None


def _past(store: Store, reader: PlaceReader, fill: BinFill) -> _Past:
    probe = _probe(store, reader, fill.place)
    climate = place_climate(reader, fill.place, fill.facts.filled_ms)
    if climate is None:
        return _Past(probe, None, None)
    history = simulate(fill.facts, fill.events, climate, reader.now_ms, factor_prior(store, fill))
    if reader.plan.places[fill.place].finishing:
        history = replace(history, finishing=True)
    return _Past(probe, climate, history)


def keep_lessons(store: Store, plan: Plan, now_ms: int, book: FarmBook) -> bool:
    """Work out what fills that were weighed or tested teach, a few at a call; True while some are left.

    They are kept in the store, so that every surface goes by the same ones and none works them out. A fill is
    worked out anew where something about it was entered or corrected.
    """
    kept, reader, found, left = kept_lessons(store), PlaceReader(store, plan, now_ms), {}, LESSONS_AT_ONCE
    for fill in _teaching(book, plan, now_ms):
        key, seen = lesson_key(fill), _seen_until(fill)
        mark = sha1(repr((LESSONS_VERSION, fill.facts, seen)).encode()).hexdigest()
        if key in kept and kept[key]["mark"] == mark:
            found[key] = kept[key]
        elif left > 0:
            left -= 1
            lesson = _lesson(reader, fill, seen)
            sizes = (None, None) if lesson is None else (lesson.log_factor, lesson.log_sd)
            found[key] = {
                "mark": mark,
                "like": like_fills(fill.facts),
                "log_factor": sizes[0],
                "log_sd": sizes[1],
            }
    if found != kept:
        store.meta.put(LESSONS, json.dumps(found))
    return left == 0


def _teaching(book: FarmBook, plan: Plan, now_ms: int) -> list[BinFill]:
    """The newest fills of which something was measured, those of the last year."""
    fills = (fill for place, fills in book.fills.items() if place in plan.places for fill in fills)
    since_ms = now_ms - LESSONS_FROM_MS
    measured = [fill for fill in fills if fill.facts.filled_ms >= since_ms and _seen_until(fill)]
    return sorted(measured, key=lambda fill: fill.facts.filled_ms)[-MOST_LESSONS:]


def _seen_until(fill: BinFill) -> tuple[BinEvent, ...]:
    """What was entered about a fill up to its last weighing or test."""
    last = max((place for place, event in enumerate(fill.events) if is_observation(event)), default=-1)
    return fill.events[: last + 1]


def _lesson(reader: PlaceReader, fill: BinFill, seen: Sequence[BinEvent]) -> Lesson | None:
    """What a fill teaches; None where its air was not measured or the program fails at it."""
    try:
        climate = place_climate(reader, fill.place, fill.facts.filled_ms)
        if climate is None:
            return None
        return history_lesson(simulate(fill.facts, seen, climate, seen[-1].at_ms))
    except StoreError:
        raise
    except Exception:
        log.exception("what the filling of %s teaches could not be worked out", fill.place)
        return None


class MoistureReader:
    """The moisture of single bins at a moment, as their views have it, without the days to come.

    Looking ahead takes most of the time of a view, and a list of places shows nothing of it.
    """

    def __init__(self, store: Store, plan: Plan, now_ms: int) -> None:
        self._store, self._plan = store, plan
        self._book = book_of(store, plan, now_ms)
        self._reader = PlaceReader(store, plan, now_ms)

    def of(self, place: str) -> BinMoisture | None:
        """The same as `BinView.moisture`; None where the place is not filled."""
        fill = self._book.filled(place)
        if fill is None or place not in self._plan.places:
            return None
        past = _past(self._store, self._reader, fill)
        if past.history is None:
            return None
        return _figure(moisture_band(_with_probe(past.history, past.probe))[1], past.probe)


def _with_probe(history: BinHistory, probe: ProbeView | None) -> BinHistory:
    """A fresh moisture of a calibrated probe counts as one doubtful observation."""
    reading = probe.reading if probe is not None and probe.counts else None
    if reading is None or reading.moisture is None or reading.sd is None:
        return history
    return seen_by_probe(history, reading.moisture, reading.sd)


def bands_of(plan: Plan, fill: BinFill) -> MoistureBands | None:
    """Limits of a filled place: of its substrate and kind, moved by rules of the settings on its moisture."""
    kind, substrate = plan.places[fill.place].kind, fill.facts.substrate
    if kind is PlaceKind.PUPATION_BOX:
        return None
    bands = substrate.hatching_bands if kind is PlaceKind.HATCHING_TRAY else substrate.bands
    for rule in plan.rules_of(fill.place, Quantity.SUBSTRATE_MOISTURE):
        if rule.source != SETTINGS_SOURCE:
            continue
        if rule.side is Side.LOW and rule.setpoint < bands.target_low:
            bands = replace(bands, dry_limit=rule.setpoint, dry_warning=max(bands.dry_warning, rule.setpoint))
        elif rule.side is Side.HIGH and rule.setpoint > bands.target_high:
            bands = replace(bands, wet_limit=rule.setpoint, wet_warning=min(bands.wet_warning, rule.setpoint))
    return bands


def _probe(store: Store, reader: PlaceReader, place: str) -> ProbeView | None:
    heard = reader.newest(place, Quantity.SUBSTRATE_MOISTURE)
    if heard is None:
        return None
    sensor, newest = heard
    at_ms = newest.reading.at_ms
    fresh = newest.flag.usable and abs(reader.now_ms - at_ms) <= FRESH_MS
    reading = read_probe(newest.reading.value, probe_calibration(store, sensor))
    return ProbeView(sensor, reading, at_ms, fresh)


def _heat(plan: Plan, reader: PlaceReader, fill: BinFill, history: BinHistory | None) -> HeatView | None:
    window_ms = round(LONGEST_WINDOW_MIN * MS_PER_MINUTE)
    times_ms, values_c = reader.lately(fill.place, Quantity.SUBSTRATE_TEMPERATURE, window_ms)
    if not len(times_ms):
        return None
    now_c = float(np.median(values_c[-5:]))
    air_c = _air_lately_c(reader, fill.place)
    limit_c = plan.heat_limit_c(fill.place)
    trend = alarm_min = None
    since_ms = max(fill.facts.filled_ms, reader.now_ms - USUAL_DAYS * MS_PER_DAY)
    if limit_c is not None:
        times, values = times_ms.tolist(), values_c.tolist()
        trend, alarm_min = (
            minutes_to_limit(times, values, limit_c),
            minutes_to_overheating(times, values, limit_c),
        )
    return HeatView(
        substrate_c=now_c,
        at_ms=int(times_ms[-1]),
        excess_k=None if air_c is None else now_c - air_c,
        slope_c_per_h=None if trend is None else trend.slope_c_per_h,
        median_min=None if trend is None else trend.median_min,
        earliest_min=None if trend is None else trend.earliest_min,
        limit_c=limit_c,
        made_w_m2=None if history is None else _made_w_m2(history),
        alarm_min=alarm_min,
        past=heat_past(*reader.hottest(fill.place, since_ms)),
    )


def _air_lately_c(reader: PlaceReader, place: str) -> float | None:
    for where in (place, reader.plan.places[place].room):
        _, values = reader.lately(where, Quantity.AIR_TEMPERATURE)
        if len(values):
            return float(values.mean())
    return None


def _made_w_m2(history: BinHistory) -> float:
    """Heat that is made now, the same figure as in the balance: over the last two hours [W/m²]."""
    intervals = history.course.intervals
    latest = intervals.edges_ms[1:] > history.now_ms - HEAT_OVER_MS
    return float(np.average(intervals.heat_w_m2[latest], weights=intervals.hours[latest]))
