"""Whether what the climate did is found, and what it did not do is not claimed, over simulated farms."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from development_builders import FLY
from yield_farms import (
    FIRST_COHORT,
    START_MS,
    Effects,
    HourlyClimate,
    YieldFarm,
    drawn_ways,
    yield_farm,
)
from yield_study import flies_known

from monitor.climate.arrays import FloatArray
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


def boxes(farm: YieldFarm) -> dict[str, str]:
    """All pupae of a farm lie in one box."""
    return {each.name: "box-1" for each in farm.cohorts}


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
    return climate_effects(past, spans_of(takings, boxes(farm)), climate, LIMITS)


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
    kind = effect.comparison.made, effect.comparison.condition
    match kind:
        case Made.EGGS, Condition.COLD_NIGHTS:
            return float(np.log1p(-effects.cold_nights))
        case Made.EGGS, Condition.HOT_DAYS:
            return float(np.log1p(-effects.hot_days))
        case Made.HATCH, Condition.DRY_HOURS if effects.dry_hours:
            return _graded(farm, nights, effect, lambda days: 1.0 - effects.dry_hours * days)
        case Made.EMERGENCE, Condition.HOT_HOURS if effects.hot_box:
            return _graded(farm, nights, effect, lambda days: (1.0 - effects.hot_box) ** days)
        case Made.HARVEST, Condition.COLD_HOURS if effects.cold_bins:
            return _graded(farm, nights, effect, lambda days: 1.0 - effects.cold_bins * days)
    return 0.0


def _graded(
    farm: YieldFarm, nights: int, effect: Effect, left_after: Callable[[FloatArray], FloatArray]
) -> float:
    """Mean log of what such hours left where there were as many as count, against the other cases."""
    what = effect.comparison
    spans = [each for each in spans_of(farm.past(_moment(nights)), boxes(farm)) if each.made is what.made]
    hours = np.array([_such_hours(farm, each, effect) for each in spans], dtype=np.float64)
    felt = hours
    if what.made is Made.EMERGENCE:
        came = {each.at_ms: each.cohort for each in farm.takings.prepupae}
        days = {each.name: each.day for each in farm.cohorts}
        until = [START_MS + round(days[came[each.from_ms] or ""] * MS_PER_DAY) for each in spans]
        ends = [replace(each, until_ms=end) for each, end in zip(spans, until, strict=True)]
        felt = np.array([_such_hours(farm, each, effect) for each in ends], dtype=np.float64)
    left = np.log(np.maximum(left_after(felt / 24.0), 0.02))
    such = hours >= what.hours
    return float(left[such].mean() - left[~such].mean()) if such.any() and not such.all() else 0.0


def _such_hours(farm: YieldFarm, span: Span, effect: Effect) -> int:
    climate, limit = farm.climate[span.place], effect.limit or 0.0
    first, last = ((each - START_MS) // MS_PER_HOUR for each in (span.from_ms, span.until_ms))
    warmth, humidity = climate.temperature_c[first:last], climate.humidity_percent[first:last]
    if effect.comparison.condition is Condition.HOT_HOURS:
        return int(np.count_nonzero(warmth > limit))
    values = warmth if effect.comparison.condition is Condition.COLD_HOURS else humidity
    return int(np.count_nonzero(values < limit))


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
