"""Whether windows of grams hold what they say, over many simulated farms at several ages."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np
from development_builders import FLY
from yield_farms import FIRST_COHORT, START_MS, YieldFarm, yield_farm

from monitor.climate.arrays import BoolArray, FloatArray, IntArray
from monitor.records import MS_PER_DAY, MS_PER_HOUR
from monitor.yields.forecast import AHEAD_DAYS, PAST_DAYS, EggForecast, forecast_eggs
from monitor.yields.larvae import BinCase, forecast_larvae, open_fillings
from monitor.yields.laying import CageFlies, DayGrid, counted_females, day_grid, filled_warmth

AGES_WEEKS = {0: FIRST_COHORT + 3, 4: FIRST_COHORT + 31, 20: FIRST_COHORT + 154}
"""Weeks since the first flies, and the day of the forecast: at 0 the first cage was filled three days ago."""
LEAST_GRAMS = 0.3
"""Weeks with less than this, in truth and by the forecast, are empty and say nothing."""
WEEKS = 8
LEVEL = 0.8


@dataclass(frozen=True, slots=True)
class Judged:
    """One week of a cage, or of all cages of a farm where `cage` is None: truth and window [g]."""

    farm: int
    cage: str | None
    age_weeks: int
    week: int
    truth: float
    low: float
    median: float
    high: float

    @property
    def holds(self) -> bool:
        """Whether the truth lies in the window."""
        return self.low <= self.truth <= self.high

    @property
    def horizon(self) -> str:
        """Week 1, 2-3 or 4 and later."""
        return "week 1" if self.week == 0 else "weeks 2-3" if self.week < 3 else "week 4 on"


def moment(farm: YieldFarm, age_weeks: int) -> int:
    """When a farm asks: early on the day, or in the evening after its round."""
    hour = 7 if np.random.default_rng([farm.seed, age_weeks]).random() < 0.5 else 19
    return START_MS + AGES_WEEKS[age_weeks] * MS_PER_DAY + hour * MS_PER_HOUR


def daily_means(times_ms: FloatArray | IntArray, values: FloatArray, grid: DayGrid) -> FloatArray:
    """Mean of readings on each day of the grid, nan where there are none, shape (days,)."""
    days = ((np.asarray(times_ms, dtype=np.int64) - grid.first_ms) // MS_PER_DAY).astype(np.int64)
    usable = (days >= 0) & (days < grid.days) & np.isfinite(values)
    number = np.bincount(days[usable], minlength=grid.days)
    total = np.bincount(days[usable], weights=values[usable], minlength=grid.days)
    return np.where(number > 0, total / np.maximum(number, 1), np.nan)


def flies_known(farm: YieldFarm, cage: str, now_ms: int, grid: DayGrid) -> CageFlies:
    """What the forecast may know of a cage: what was written by now, an honest guess of what is to come."""
    climate = farm.climate[cage]
    past = climate.times_ms <= now_ms
    warmth = daily_means(climate.times_ms[past], climate.temperature_c[past], grid)
    put_in = counted_females(farm.past(now_ms).flies, cage, grid, FLY)
    coming = farm.coming(cage, now_ms, grid.first_ms, grid.days)
    return CageFlies(cage, put_in, coming, filled_warmth(warmth, grid))


def asked(farm: YieldFarm, now_ms: int) -> EggForecast:
    """The forecast of a farm at a moment."""
    grid = day_grid(now_ms, START_MS, PAST_DAYS, AHEAD_DAYS)
    flies = [flies_known(farm, cage, now_ms, grid) for cage in farm.cages]
    return forecast_eggs(farm.past(now_ms), flies, FLY, grid)


def study(seeds: Iterable[int], ages_weeks: Iterable[int] = tuple(AGES_WEEKS)) -> list[Judged]:
    """All weeks that say something, of all farms."""
    return [week for seed in seeds for week in _weeks_of(yield_farm(seed), ages_weeks)]


def _weeks_of(farm: YieldFarm, ages_weeks: Iterable[int]) -> Iterator[Judged]:
    for age in ages_weeks:
        now_ms = moment(farm, age)
        found = asked(farm, now_ms)
        truths: dict[str | None, FloatArray] = {
            cage: farm.true_weeks(cage, now_ms, WEEKS) for cage in farm.cages
        }
        truths[None] = np.sum([truths[cage] for cage in farm.cages], axis=0)
        for cage, truth in truths.items():
            for number, week in enumerate(found.weeks(cage)):
                if max(truth[number], week.median) > LEAST_GRAMS:
                    window = week.low, week.median, week.high
                    yield Judged(farm.seed, cage, age, number, float(truth[number]), *window)


def harvests(seeds: Iterable[int], days: Iterable[int] = (10, 40, 110, 158)) -> list[Judged]:
    """Bins that are filled on some days of some farms: true kilograms and window [kg]; `week` is the day."""
    return [bin_ for seed in seeds for bin_ in _bins_of(yield_farm(seed), days)]


def _bins_of(farm: YieldFarm, days: Iterable[int]) -> Iterator[Judged]:
    truths = {(each.place, each.filling_ms): each.kg for each in farm.harvests}
    for day in days:
        now_ms = START_MS + day * MS_PER_DAY + 19 * MS_PER_HOUR
        past = farm.past(now_ms)
        cases = [BinCase(place, filling_ms) for place, filling_ms in open_fillings(past)]
        for found in forecast_larvae(past, cases, now_ms, START_MS).bins:
            truth = truths.get((found.place, found.filling_ms))
            if truth is not None:
                window = found.kg.low, found.kg.median, found.kg.high
                yield Judged(farm.seed, found.place, day // 7, day, truth, *window)


def coverage(weeks: list[Judged]) -> tuple[float, float]:
    """Share of windows that hold the truth, and its standard error with weeks of a farm together."""
    return coverage_of(np.array([week.holds for week in weeks]), np.array([week.farm for week in weeks]))


def coverage_of(holds: BoolArray, farms: FloatArray) -> tuple[float, float]:
    """The same of arrays, each of shape (weeks,)."""
    share = float(holds.mean())
    by_farm = [(holds[farms == farm] - share).sum() for farm in np.unique(farms)]
    return share, float(np.linalg.norm(by_farm) / len(holds))
