"""An invented past for the demo farm: cohorts with what was seen of them, and the forecasts of that time.

The truth is drawn first: thermal constants of this farm that differ from those in papers, a little more of
difference for each cohort, and the temperatures of the weeks before. What the keeper wrote down follows from
it, a day off now and then, some things not seen at all.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np

from monitor.demo.cohort_life import FloatArray, Life, keepers_notes, live
from monitor.demo.nature import BIN_FILLS
from monitor.demo.past_climate import PastClimate, past_climate, store_climate
from monitor.model.clocks import Clocks, PlaceClimate, stage_clocks
from monitor.model.rates import SpeciesParameters
from monitor.model.temperature_series import fill_gaps, series_of
from monitor.records import MS_PER_DAY, Quantity, Stage
from monitor.settings.development import species_parameters
from monitor.settings.plan import Plan, build_plan
from monitor.settings.schema import Settings
from monitor.store import Store
from monitor.store.meta import DEMO_CLOCK
from monitor.views.cohort_queries import keep_forecasts
from monitor.views.development import develop

PAST_DAYS = 100
CYCLE_DAYS = 18.0
CYCLES = 4
EGG_DAYS = 3.5
FORECAST_EVERY_DAYS = 2
FORECASTS_FROM_DAYS = 56
FORECAST_DRAWS = 200
TRUE_RATIO: Mapping[Stage, float] = {
    Stage.EGG: 1.03,
    Stage.LARVA: 0.9,
    Stage.PREPUPA: 1.12,
    Stage.PUPA: 0.95,
    Stage.ADULT: 1.0,
}
"""This farm's thermal constants as shares of those in the species file. Invented."""
COHORT_LOG_SD = 0.04
EGGS_NOW: Mapping[str, float] = {"tray-1": 1.2, "tray-2": 2.6, "tray-3": 0.5}
"""Trays with eggs at the start of the demo, and how many days ago these were laid."""


def write_history(settings: Settings, start_ms: int, seed: int) -> int:
    """Write the past into the store before the demo plays; gives how many entries the logbook got."""
    plan = build_plan(settings)
    lives = list(_lives(start_ms))
    fills = _fills(lives)
    climate = past_climate(seed, start_ms, PAST_DAYS, fills)
    with Store.open(settings.store.path) as store:
        store_climate(store, climate, seed, start_ms)
        written = _write_notes(store, plan, lives, climate, start_ms, seed)
        _make_forecasts(store, plan, start_ms)
        store.meta.put(DEMO_CLOCK, str(start_ms))
    return written


def _lives(start_ms: int) -> Iterator[Life]:
    """Every cohort of the last cycles, in the order in which they were laid."""
    fills = sorted(
        (start_ms - round((age_days + cycle * CYCLE_DAYS) * MS_PER_DAY), name)
        for name, (_, _, age_days) in BIN_FILLS.items()
        for cycle in range(CYCLES)
    )
    for index, (filled_ms, name) in enumerate(fills):
        kept = index % 2 == 0
        lane = index // 2 % 2 + 1
        yield Life(
            name=f"b{index + 1:02d}",
            tray=f"tray-{index % 3 + 1}",
            laid_ms=filled_ms - round(EGG_DAYS * MS_PER_DAY),
            grams=2.0 + index % 4 * 0.5,
            bin=name,
            filled_ms=filled_ms,
            box=f"box-{lane}" if kept else None,
            cage=f"cage-{lane}" if kept else None,
        )
    ordered = sorted(EGGS_NOW.items(), key=lambda each: -each[1])
    for index, (tray, days) in enumerate(ordered, len(fills) + 1):
        yield Life(f"b{index:02d}", tray, start_ms - round(days * MS_PER_DAY), 2.5)


def _fills(lives: list[Life]) -> dict[str, list[int]]:
    found: dict[str, list[int]] = {}
    for life in lives:
        if life.bin is not None and life.filled_ms is not None:
            found.setdefault(life.bin, []).append(life.filled_ms)
    return found


def _write_notes(
    store: Store, plan: Plan, lives: list[Life], climate: PastClimate, start_ms: int, seed: int
) -> int:
    species = species_parameters(plan.species)
    clocks = _clocks(climate, species, start_ms)
    random = np.random.default_rng(seed)
    entries = []
    for life in lives:
        truth = live(life, species, _constants(species, random), clocks)
        entries += keepers_notes(life, truth, species, random, plan.zone, start_ms)
    entries.sort(key=lambda entry: entry.entered_ms)
    store.logbook.add_all(entries)
    return len(entries)


def _constants(species: SpeciesParameters, random: np.random.Generator) -> FloatArray:
    true = [stage.thermal_constant * TRUE_RATIO[stage.stage] for stage in species.stages]
    return np.asarray(np.array(true) * np.exp(COHORT_LOG_SD * random.standard_normal(len(true))))


def _clocks(climate: PastClimate, species: SpeciesParameters, start_ms: int) -> Clocks:
    """The truth goes on after the start as it was before, for events that are still to come."""
    places = dict.fromkeys(place for place, _ in climate.values)
    return stage_clocks([_place(climate, place, start_ms) for place in places], [species])


def _place(climate: PastClimate, place: str, start_ms: int) -> PlaceClimate:
    found = {}
    for name, quantity in (("air", Quantity.AIR_TEMPERATURE), ("substrate", Quantity.SUBSTRATE_TEMPERATURE)):
        values = climate.values.get((place, quantity))
        if values is not None:
            first_ms = int(climate.times_ms[0])
            found[name] = fill_gaps(series_of(climate.times_ms, values), first_ms, start_ms)
    return PlaceClimate(place, found.get("air"), found.get("substrate"))


def _make_forecasts(store: Store, plan: Plan, start_ms: int) -> None:
    """The forecasts that the program would have made on past mornings, from what was known on each."""
    for days in range(FORECASTS_FROM_DAYS, 0, -FORECAST_EVERY_DAYS):
        keep_forecasts(store, develop(store, plan, start_ms - days * MS_PER_DAY, FORECAST_DRAWS))
