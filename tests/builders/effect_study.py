"""Whether what the climate did is found, and what it did not do is not claimed, over simulated farms."""

from __future__ import annotations

from development_builders import FLY
from yield_farms import FIRST_COHORT, START_MS, HourlyClimate, YieldFarm
from yield_study import flies_known

from monitor.records import MS_PER_DAY, MS_PER_HOUR
from monitor.yields.effects import Effect, climate_effects
from monitor.yields.exposure import Limits, Made, PlaceHours, spans_of
from monitor.yields.forecast import UNLEARNED_DAYS, expected_past
from monitor.yields.laying import day_grid

LIMITS = {
    Made.EGGS: Limits(cold_c=22.0, hot_c=35.0, dry_percent=45.0),
    Made.HATCH: Limits(cold_c=22.0, hot_c=36.0, dry_percent=45.0),
    Made.EMERGENCE: Limits(hot_c=35.0, dry_percent=40.0),
    Made.HARVEST: Limits(cold_c=22.0, hot_c=33.0),
}
"""As a farm may have set them; those of eggs and hatch are where the generator's effects begin."""


def place_hours(climate: HourlyClimate, now_ms: int) -> PlaceHours:
    """The hours of a place until now."""
    hours = int((now_ms - START_MS) // MS_PER_HOUR)
    return PlaceHours(
        START_MS, climate.temperature_c[:hours], climate.humidity_percent[:hours], climate.light[:hours]
    )


def found_on(farm: YieldFarm, nights: int) -> tuple[Effect, ...]:
    """What is compared on a farm so many nights after its first flies."""
    now_ms = START_MS + (FIRST_COHORT + 4 + nights) * MS_PER_DAY + 19 * MS_PER_HOUR
    grid = day_grid(now_ms, START_MS, FIRST_COHORT + 4 + nights + UNLEARNED_DAYS, 1)
    takings = farm.past(now_ms)
    flies = [flies_known(farm, cage, now_ms, grid) for cage in farm.cages]
    climate = {place: place_hours(each, now_ms) for place, each in farm.climate.items()}
    past = expected_past(takings, flies, FLY, grid)
    return climate_effects(past, spans_of(takings, {}), climate, LIMITS)
