"""Whether what the climate did is found, and what it did not do is not claimed, over simulated farms."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from development_builders import FLY
from yield_farms import (
    DRY_PERCENT,
    FIRST_COHORT,
    START_MS,
    Effects,
    HourlyClimate,
    YieldFarm,
    drawn_ways,
    yield_farm,
)
from yield_study import flies_known

from monitor.records import MS_PER_DAY, MS_PER_HOUR
from monitor.yields.effects import Effect, Verdict, climate_effects
from monitor.yields.exposure import Condition, Limits, Made, PlaceHours, Span, spans_of
from monitor.yields.forecast import UNLEARNED_DAYS, expected_past
from monitor.yields.laying import day_grid

LIMITS = {
    Made.EGGS: Limits(cold_c=22.0, hot_c=35.0, dry_percent=45.0),
    Made.HATCH: Limits(cold_c=22.0, hot_c=36.0, dry_percent=45.0),
    Made.EMERGENCE: Limits(hot_c=35.0, dry_percent=40.0),
    Made.HARVEST: Limits(cold_c=22.0, hot_c=33.0),
}
"""As a farm may have set them; those of eggs and hatch are where the generator's effects begin."""
ROOM_C = (24.5, 27.5)
"""Means of the rooms of these farms, so that some nights are below the limit and some are not [°C]."""


def judged_farm(seed: int, effects: Effects) -> YieldFarm:
    """A farm of the generator in a room whose nights are around the limit."""
    ways = drawn_ways(np.random.default_rng([seed, 13]), effects)
    room_c = float(np.random.default_rng([seed, 14]).uniform(*ROOM_C))
    return yield_farm(seed, effects, ways=replace(ways, room_c=room_c))


def place_hours(climate: HourlyClimate, now_ms: int) -> PlaceHours:
    """The hours of a place until now."""
    hours = int((now_ms - START_MS) // MS_PER_HOUR)
    return PlaceHours(
        START_MS, climate.temperature_c[:hours], climate.humidity_percent[:hours], climate.light[:hours]
    )


def _moment(nights: int) -> int:
    return START_MS + (FIRST_COHORT + 4 + nights) * MS_PER_DAY + 19 * MS_PER_HOUR


def found_on(farm: YieldFarm, nights: int) -> tuple[Effect, ...]:
    """What is compared on a farm so many nights after its first eggs."""
    now_ms = _moment(nights)
    grid = day_grid(now_ms, START_MS, FIRST_COHORT + 4 + nights + UNLEARNED_DAYS, 1)
    takings = farm.past(now_ms)
    flies = [flies_known(farm, cage, now_ms, grid) for cage in farm.cages]
    climate = {place: place_hours(each, now_ms) for place, each in farm.climate.items()}
    past = expected_past(takings, flies, FLY, grid)
    return climate_effects(past, spans_of(takings, {}), climate, LIMITS)


@dataclass(frozen=True, slots=True)
class Told:
    """What was found of one comparison on one farm, beside the true log ratio [1]."""

    farm: int
    nights: int
    truth: float
    effect: Effect

    @property
    def kind(self) -> str:
        """What was compared."""
        return f"{self.effect.comparison.made} {self.effect.comparison.condition}"

    @property
    def is_judged(self) -> bool:
        """Whether there were enough cases."""
        return self.effect.verdict is not Verdict.TOO_FEW

    @property
    def is_false(self) -> bool:
        """Whether something was said that is not there."""
        return self.effect.is_said and self.truth == 0.0

    @property
    def holds(self) -> bool:
        """Whether the interval holds the truth."""
        return self.effect.low <= math.exp(self.truth) <= self.effect.high


def told(seeds: Iterable[int], nights: int, effects: Effects) -> list[Told]:
    """Every comparison on every farm."""
    return [each for seed in seeds for each in _of_farm(judged_farm(seed, effects), nights)]


def _of_farm(farm: YieldFarm, nights: int) -> Iterator[Told]:
    for effect in found_on(farm, nights):
        yield Told(farm.seed, nights, _truth(farm, nights, effect), effect)


def _truth(farm: YieldFarm, nights: int, effect: Effect) -> float:
    effects = farm.ways.effects
    match effect.comparison.made, effect.comparison.condition:
        case Made.EGGS, Condition.COLD_NIGHTS:
            return float(np.log1p(-effects.cold_nights))
        case Made.EGGS, Condition.HOT_DAYS:
            return float(np.log1p(-effects.hot_days))
        case Made.HATCH, Condition.DRY_HOURS if effects.dry_hours:
            spans = [each for each in spans_of(farm.past(_moment(nights)), {}) if each.made is Made.HATCH]
            return _hatch_truth(farm, spans, effect.comparison.hours)
    return 0.0


def _hatch_truth(farm: YieldFarm, spans: Sequence[Span], least: float) -> float:
    """Mean log of what dry hours left of the hatch on trays with so many of them, against the others."""
    first = [(each.from_ms - START_MS) // MS_PER_HOUR for each in spans]
    humidity = farm.climate["tray-1"].humidity_percent
    dry = np.array([np.count_nonzero(humidity[hour : hour + 96] < DRY_PERCENT) for hour in first])
    left = np.log(np.maximum(1.0 - farm.ways.effects.dry_hours * dry / 24.0, 0.02))
    such = dry >= least
    return float(left[such].mean() - left[~such].mean()) if such.any() and not such.all() else 0.0


def shares(every: Sequence[Told]) -> dict[str, float]:
    """Of the comparisons with enough cases: how many there are, how many were said, had the right sign, hold
    the truth [1]; of all farms, how many were told of something that is not there [1]."""
    judged = [each for each in every if each.is_judged]
    farms = {each.farm for each in every}
    wrong = {each.farm for each in every if each.is_false}
    return {
        "judged": len(judged),
        "said": _share([each.effect.is_said for each in judged]),
        "sign": _share([each.effect.middle < 1.0 for each in judged]),
        "held": _share([each.holds for each in judged]),
        "wrong": len(wrong) / max(len(farms), 1),
        "farms": len(farms),
    }


def _share(which: Sequence[bool]) -> float:
    return sum(which) / len(which) if which else math.nan
