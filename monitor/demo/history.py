"""The invented past of the demo farm: its cohorts, its bins and the forecasts of that time.

The truth is drawn first: thermal constants of this farm that differ from those in papers and a little more
between cohorts, and the temperatures of the weeks before. What the keeper wrote down follows from the truth,
a day off now and then, with some events not seen. Bins are filled on the morning of the start with the
masses, moistures and ages of the simulation.
"""

from __future__ import annotations

import zlib
from collections.abc import Iterator, Mapping, Sequence, Set
from dataclasses import dataclass
from datetime import datetime, tzinfo
from typing import Any

import numpy as np

from monitor.bins.probe import ProbePoint
from monitor.climate.arrays import FloatArray
from monitor.demo.past_climate import PastClimate, past_climate, store_climate
from monitor.demo.physics import BIN_FILLS, BIN_PLANS, KeeperAction
from monitor.demo.script import BOARDS
from monitor.demo.takings import hatched_percent, past_incidents, taken_and_given
from monitor.development.clocks import Clocks, PlaceClimate, stage_clocks
from monitor.development.events import (
    EVENTS,
    Event,
    ended_stage,
    events_of,
    log_sd_of,
    time_of_share,
)
from monitor.development.progress import CohortTrack, Residence, stage_ends_ms
from monitor.development.rates import SpeciesParameters
from monitor.development.temperature_series import BIN_ABOVE_AIR_K, cooler_by, fill_gaps, series_of
from monitor.farm.bins import RAW_AIR, RAW_WATER
from monitor.farm.cohorts import keep_forecasts
from monitor.farm.development import develop
from monitor.farm.entries import calibration_entry
from monitor.logbook.bin_entries import BinEntryKind
from monitor.logbook.cohort_entries import CohortEntryKind
from monitor.records import (
    MS_PER_DAY,
    MS_PER_HOUR,
    MS_PER_MINUTE,
    MS_PER_SECOND,
    LogbookEntry,
    Quantity,
    SensorKey,
    Stage,
    SubjectKind,
    midnight_ms,
)
from monitor.settings.plan import Plan, build_plan
from monitor.settings.schema import Settings
from monitor.settings.species import species_parameters
from monitor.store import Store
from monitor.store.meta import DEMO_CLOCK

KEEPER = "keeper"
SEEN_SHARE = 0.8
DAY_SD = 0.35
BREEDING_ANIMALS = 1400
PREPUPA_GRAMS = 0.16
SURVIVAL_TO_FLY = 0.68
FLY_DAYS = 40
# Flies of a box: a body and stragglers behind it, of which boxes have more or fewer (log-odds). This form
# gives the days of 48 boxes in open counts (ReproLab, common garden); it is not that of the forecasts.
BODY_SD_DAYS, STRAGGLE_DAYS = 1.3, 6.5
STRAGGLER_ODDS, STRAGGLER_ODDS_SD = -0.5, 1.5
MALES_AHEAD_DAYS = 0.6
FEWEST_FLIES_A_DAY = 6
COUNTED_AT_MS = 17 * MS_PER_HOUR
WATCHED = (
    Event.HATCH,
    Event.FIRST_PREPUPAE,
    Event.HALF_PREPUPAE,
    Event.FIRST_MOTIONLESS,
    Event.HALF_MOTIONLESS,
)
EARLY_EVENTS = frozenset({Event.HATCH, Event.FIRST_PREPUPAE})

FILLED_BEFORE_MS = 30 * MS_PER_MINUTE
CALIBRATED_BEFORE_MS = 20 * MS_PER_DAY
LARVAE: Mapping[str, int] = {"bin-6": 800}
USUAL_LARVAE = 2500
OVEN_SD = 0.012
DEPTH_M, PROBE_DEPTH_M = 0.08, 0.03
MORNING_NOTE = "put into a clean box on the scale, a handful oven-dried"
# Raw value and oven-dried moisture of four handfuls, for the calibration of the probes. Invented.
PROBE_POINTS = ((0.40, 0.41), (0.52, 0.50), (0.63, 0.64), (0.74, 0.73))
NOT_CALIBRATED = "bin-2"
PAST_DAYS = 100
CYCLE_DAYS = 18.0
CYCLES = 4
EGG_DAYS = 3.5
FORECAST_EVERY_DAYS = 2
FORECASTS_FROM_DAYS = 56
FORECAST_DRAWS = 200
EGG_AGE_MS = 12 * MS_PER_HOUR
"""How old eggs are when they are collected: laid on the day before."""
# This farm's true thermal constants in degree-days, whatever the species file says. Invented.
TRUE_CONSTANTS: Mapping[Stage, float] = {
    Stage.EGG: 53.6,
    Stage.LARVA: 270.0,
    Stage.PREPUPA: 123.2,
    Stage.PUPA: 128.3,
    Stage.ADULT: 56.0,
}
COHORT_LOG_SD = 0.04
# Trays with eggs at the start of the demo, and how many days ago these were laid.
EGGS_NOW: Mapping[str, float] = {"tray-1": 1.2, "tray-2": 2.8, "tray-3": 0.5}


@dataclass(frozen=True, slots=True)
class InventedCohort:
    """Where and when a cohort was laid, its bin, and the box and cage of the share kept for breeding."""

    name: str
    tray: str
    laid_ms: int
    grams: float
    bin: str | None = None
    filled_ms: int | None = None
    box: str | None = None
    cage: str | None = None

    @property
    def flies(self) -> str:
        return f"{self.name}-flies"


@dataclass(frozen=True, slots=True, eq=False)
class CohortTruth:
    """True times of each event, and of taking the share for breeding out of the bin."""

    events: Mapping[Event, float]
    taken_ms: float


def true_course(
    cohort: InventedCohort, species: SpeciesParameters, constants: FloatArray, clocks: Clocks
) -> CohortTruth:
    """What truly happens; the move to the box depends on when the first prepupae leave the bin."""
    stays = [Residence(cohort.tray, cohort.laid_ms)]
    if cohort.bin is not None and cohort.filled_ms is not None:
        stays.append(Residence(cohort.bin, cohort.filled_ms))
    events = _events(cohort, stays, species, constants, clocks)
    taken_ms = events[Event.FIRST_PREPUPAE] + MS_PER_DAY
    if cohort.box is not None and np.isfinite(taken_ms):
        stays.append(Residence(cohort.box, round(taken_ms)))
        events = _events(cohort, stays, species, constants, clocks)
    return CohortTruth(events, taken_ms)


def _events(
    cohort: InventedCohort,
    stays: list[Residence],
    species: SpeciesParameters,
    constants: FloatArray,
    clocks: Clocks,
) -> dict[Event, float]:
    track = CohortTrack(cohort.name, cohort.laid_ms, tuple(stays))
    ends = stage_ends_ms(track, species, constants[:, None], clocks.of)[:, 0]
    log_sd = log_sd_of(species.individual_variation)
    events: dict[Event, float] = {}
    for event in events_of(species):
        middle_ms = float(ends[ended_stage(event, species) or 0])
        events[event] = float(time_of_share(cohort.laid_ms, middle_ms, log_sd, EVENTS[event].share))
    return events


def flies_out_days(name: str, flies: int) -> FloatArray:
    """Days from half emergence on which the flies of a box come out, sorted; its median is 0."""
    random = np.random.default_rng(zlib.crc32(name.encode()))
    stragglers = 1.0 / (1.0 + np.exp(-random.normal(STRAGGLER_ODDS, STRAGGLER_ODDS_SD)))
    late = np.where(random.random(flies) < stragglers, random.exponential(STRAGGLE_DAYS, flies), 0.0)
    ahead = np.where(random.random(flies) < 0.5, MALES_AHEAD_DAYS, 0.0)
    days = np.sort(BODY_SD_DAYS * random.standard_normal(flies) + late - ahead)
    return np.asarray(days - np.median(days))


@dataclass(frozen=True, slots=True, eq=False)
class KeepersNotes:
    """What the keeper writes of a cohort, drawn at random from what truly happens to it."""

    cohort: InventedCohort
    truth: CohortTruth
    species: SpeciesParameters
    random: np.random.Generator
    zone: tzinfo

    def until(self, now_ms: int) -> list[LogbookEntry]:
        notes = [*self._in_the_bin(), *(self._in_the_box() if self.cohort.box is not None else ())]
        return [note for note in notes if note.entered_ms < now_ms]

    def _in_the_bin(self) -> Iterator[LogbookEntry]:
        cohort, taken_ms = self.cohort, self.truth.taken_ms
        purpose = "feed" if cohort.bin is not None else None
        start = {"stage": Stage.EGG.value, "place": cohort.tray, "grams": cohort.grams, "purpose": purpose}
        yield _note(cohort.name, CohortEntryKind.START, cohort.laid_ms, **start)
        yield from self._sightings(cohort.name, EARLY_EVENTS)
        if cohort.bin is None or cohort.filled_ms is None:
            return
        yield _note(cohort.name, CohortEntryKind.MOVE, cohort.filled_ms, place=cohort.bin)
        larvae = USUAL_LARVAE
        counted_ms = cohort.filled_ms + MS_PER_HOUR
        yield _note(cohort.name, CohortEntryKind.COUNT, counted_ms, animals=larvae, stage="larva")
        if not np.isfinite(taken_ms):
            return
        if cohort.box is not None:
            share = {"into": cohort.flies, "animals": BREEDING_ANIMALS, "animals_stage": "prepupa"}
            goal = {"place": cohort.box, "purpose": "breeding", "cage": cohort.cage}
            yield _note(cohort.name, CohortEntryKind.SPLIT, taken_ms, **share, **goal)
        left = larvae - (BREEDING_ANIMALS if cohort.box is not None else 0)
        grams = round(0.9 * left * PREPUPA_GRAMS * float(self.random.uniform(0.85, 1.15)), -1)
        ended_ms = taken_ms + 6 * MS_PER_HOUR
        yield _note(cohort.name, CohortEntryKind.END, ended_ms, how="harvested", grams=grams, use="feed")

    def _in_the_box(self) -> Iterator[LogbookEntry]:
        for note in self._sightings(self.cohort.flies, set(WATCHED) - EARLY_EVENTS):
            if note.at_ms > self.truth.taken_ms:
                yield note
        if np.isfinite(self.truth.events[Event.HALF_EMERGED]):
            yield from self._flies()

    def _sightings(self, name: str, wanted: Set[Event]) -> Iterator[LogbookEntry]:
        for event in WATCHED:
            seen, off_days = self.random.random() < SEEN_SHARE, self.random.normal(0.0, DAY_SD)
            true_ms = self.truth.events[event]
            if event in wanted and seen and np.isfinite(true_ms):
                at_ms = working_hour(true_ms + off_days * MS_PER_DAY, self.zone)
                share = hatched_percent(name) if event is Event.HATCH else None
                yield _note(name, CohortEntryKind.SAW, at_ms, event=event.value, sure_days=0.5, percent=share)

    def _flies(self) -> Iterator[LogbookEntry]:
        name, half_ms = self.cohort.flies, self.truth.events[Event.HALF_EMERGED]
        middle_ms = midnight_ms(round(half_ms), self.zone)
        days_ms = middle_ms + np.arange(-FLY_DAYS // 2, FLY_DAYS) * float(MS_PER_DAY)
        flies = int(self.random.poisson(BREEDING_ANIMALS * SURVIVAL_TO_FLY))
        out_ms = half_ms + flies_out_days(name, flies) * MS_PER_DAY
        counts = np.histogram(out_ms, days_ms)[0]
        began = False
        for day_ms, count in zip(days_ms[:-1].tolist(), counts.tolist(), strict=True):
            at_ms = day_ms + COUNTED_AT_MS
            began = began or count > 0
            if began and (count > 0 or at_ms < half_ms):
                yield _note(name, CohortEntryKind.FLIES, at_ms, flies=count)
            if began and at_ms > half_ms and count < FEWEST_FLIES_A_DAY:
                yield _note(name, CohortEntryKind.END, at_ms + 2 * MS_PER_HOUR, how="emerged")
                return


def _note(name: str, kind: CohortEntryKind, at_ms: float, **body: Any) -> LogbookEntry:
    at = round(at_ms / MS_PER_HOUR) * MS_PER_HOUR
    known = {key: value for key, value in body.items() if value is not None}
    return LogbookEntry(SubjectKind.COHORT, name, kind, at, at + MS_PER_HOUR, KEEPER, known)


def working_hour(at_ms: float, zone: tzinfo) -> int:
    """The nearest working hour of that day, 07:00 to 17:00, as milliseconds."""
    at = datetime.fromtimestamp(at_ms / MS_PER_SECOND, zone)
    seen = at.replace(hour=min(max(at.hour, 7), 17), minute=0, second=0, microsecond=0)
    return round(seen.timestamp() * MS_PER_SECOND)


def write_bins(settings: Settings, start_ms: int, *, past: bool = True) -> int:
    """Write fillings and probe calibrations into the store before the demo; returns how many.

    With a `past` the larvae are those of its cohorts, else each filling begins one.
    """
    entries = [*_calibrations(start_ms), *_fillings(start_ms, past)]
    with Store.open(settings.store.path) as store:
        store.logbook.add_all(entries)
    return len(entries)


def _fillings(start_ms: int, past: bool) -> Iterator[LogbookEntry]:
    at_ms = start_ms - FILLED_BEFORE_MS
    newest = {cohort.bin: cohort.name for cohort in _cohorts(start_ms)} if past else {}
    for name, (water_kg, dry_kg, age_days) in BIN_FILLS.items():
        body = {
            "kg": round(water_kg + dry_kg, 2),
            "moisture": round(water_kg / (water_kg + dry_kg), 3),
            "moisture_sd": OVEN_SD,
            "surface_m2": BIN_PLANS[name].surface_m2,
            "depth_m": DEPTH_M,
            "probe_depth_m": PROBE_DEPTH_M,
            "fan": BIN_PLANS[name].fan,
            "larvae": LARVAE.get(name, USUAL_LARVAE),
            "age_days": age_days,
            "cohort": newest.get(name, f"{name}-larvae"),
            "begins": not past,
            "note": MORNING_NOTE,
        }
        yield _entry(name, BinEntryKind.FILL, at_ms, body)


def _entry(place: str, kind: BinEntryKind, at_ms: int, body: Mapping[str, object]) -> LogbookEntry:
    return LogbookEntry(SubjectKind.BIN, place, kind, at_ms, at_ms, KEEPER, body)


def _calibrations(start_ms: int) -> Iterator[LogbookEntry]:
    at_ms = start_ms - CALIBRATED_BEFORE_MS
    points = tuple(ProbePoint(raw, moisture) for raw, moisture in PROBE_POINTS)
    for board in BOARDS:
        for sensor in board.sensors:
            if sensor.quantity is Quantity.SUBSTRATE_MOISTURE and sensor.place != NOT_CALIBRATED:
                key = SensorKey(board.id, sensor.probe, sensor.quantity)
                yield calibration_entry(key, points, (RAW_AIR, RAW_WATER), at_ms, KEEPER)


def record_actions(store: Store, actions: Sequence[KeeperAction]) -> None:
    """Enter in the logbook what the keeper did while the demo plays, at its time."""
    entries = []
    for action in actions:
        body = {"kg": action.kg} if action.kg > 0.0 else {}
        entries.append(_entry(action.place, BinEntryKind(action.kind), action.at_ms, body))
    if entries:
        store.logbook.add_all(entries)


def write_history(settings: Settings, start_ms: int, seed: int) -> int:
    """Write the past into the store before the demo plays; returns the number of logbook entries."""
    plan = build_plan(settings)
    cohorts = list(_cohorts(start_ms))
    fills = _fills(cohorts)
    climate = past_climate(seed, start_ms, PAST_DAYS, fills, past_incidents(PAST_DAYS))
    with Store.open(settings.store.path) as store:
        store_climate(store, climate, seed, start_ms)
        written = _write_notes(store, plan, cohorts, climate, start_ms, seed)
        for days in range(FORECASTS_FROM_DAYS, 0, -FORECAST_EVERY_DAYS):
            then_ms = start_ms - days * MS_PER_DAY
            keep_forecasts(store, develop(store, plan, then_ms, FORECAST_DRAWS, known_ms=then_ms))
        store.meta.put(DEMO_CLOCK, str(start_ms))
    return written


def _cohorts(start_ms: int) -> Iterator[InventedCohort]:
    fills = sorted(
        (start_ms - round((age_days + cycle * CYCLE_DAYS) * MS_PER_DAY), name)
        for name, (_, _, age_days) in BIN_FILLS.items()
        for cycle in range(CYCLES)
    )
    for index, (filled_ms, name) in enumerate(fills):
        is_kept = index % 2 == 0
        pair = index // 2 % 2 + 1
        yield InventedCohort(
            name=f"b{index + 1:02d}",
            tray=f"tray-{index % 3 + 1}",
            laid_ms=filled_ms - round(EGG_DAYS * MS_PER_DAY),
            grams=0.14 + index % 4 * 0.02,
            bin=name,
            filled_ms=filled_ms,
            box=f"box-{pair}" if is_kept else None,
            cage=f"cage-{pair}" if is_kept else None,
        )
    ordered = sorted(EGGS_NOW.items(), key=lambda tray_and_days: -tray_and_days[1])
    for index, (tray, days) in enumerate(ordered, len(fills) + 1):
        yield InventedCohort(f"b{index:02d}", tray, start_ms - round(days * MS_PER_DAY), 0.16)


def _fills(cohorts: list[InventedCohort]) -> dict[str, list[int]]:
    fills: dict[str, list[int]] = {}
    for cohort in cohorts:
        if cohort.bin is not None and cohort.filled_ms is not None:
            fills.setdefault(cohort.bin, []).append(cohort.filled_ms)
    return fills


def _write_notes(
    store: Store, plan: Plan, cohorts: list[InventedCohort], climate: PastClimate, start_ms: int, seed: int
) -> int:
    species = species_parameters(plan.species)
    clocks = _clocks(climate, species, start_ms)
    random = np.random.default_rng(seed)
    entries = []
    for cohort in cohorts:
        truth = true_course(cohort, species, _constants(species, random), clocks)
        entries += KeepersNotes(cohort, truth, species, random, plan.zone).until(start_ms)
    homes = {cohort.flies: cohort.cage for cohort in cohorts if cohort.cage is not None}
    first_ms = midnight_ms(start_ms - PAST_DAYS * MS_PER_DAY, plan.zone)

    def hatch_ms(name: str, tray: str, collected_ms: int) -> float:
        own = np.random.default_rng(zlib.crc32(name.encode()))
        eggs = InventedCohort(name, tray, collected_ms - EGG_AGE_MS, 1.0)
        event_ms = true_course(eggs, species, _constants(species, own), clocks).events[Event.HATCH]
        return working_hour(event_ms + own.normal(0.0, DAY_SD) * MS_PER_DAY, plan.zone)

    entries += taken_and_given(entries, homes, climate, (first_ms, start_ms), seed, hatch_ms)
    entries.sort(key=lambda entry: (entry.entered_ms, entry.at_ms))
    store.logbook.add_all(entries)
    return len(entries)


def _constants(species: SpeciesParameters, random: np.random.Generator) -> FloatArray:
    true = [TRUE_CONSTANTS[stage.stage] for stage in species.stages]
    return np.asarray(np.array(true) * np.exp(COHORT_LOG_SD * random.standard_normal(len(true))))


def _clocks(climate: PastClimate, species: SpeciesParameters, start_ms: int) -> Clocks:
    """Clocks of every place; after the start the past's temperatures continue, for events still to come."""
    places = dict.fromkeys(place for place, _ in climate.values)
    return stage_clocks([_place(climate, place, start_ms) for place in places], [species])


def _place(climate: PastClimate, place: str, start_ms: int) -> PlaceClimate:
    series = {}
    for name, quantity in (("air", Quantity.AIR_TEMPERATURE), ("substrate", Quantity.SUBSTRATE_TEMPERATURE)):
        values = climate.values.get((place, quantity))
        if values is not None:
            first_ms = int(climate.times_ms[0])
            series[name] = fill_gaps(series_of(climate.times_ms, values), first_ms, start_ms)
    probe = series.get("substrate")
    around = None if probe is None or "air" in series else cooler_by(probe, BIN_ABOVE_AIR_K)
    return PlaceClimate(place, series.get("air"), probe, around)
