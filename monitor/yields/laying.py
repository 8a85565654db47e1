"""Eggs laid in a cage day by day, for one gram a female: females that begin to live there, their lag, warmth.

The lag of one female is counted in degree-days, so it is longer in the cool. Spread between females that came
out on one day is that of the species; spread of a cage is that of the emergence with this upon it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from monitor.climate.arrays import FloatArray
from monitor.development.courses import CohortCourses
from monitor.development.events import log_sd_of, normal_share, spread_of
from monitor.development.rates import SpeciesParameters, units_per_day
from monitor.development.supply import daily_flies
from monitor.records import MS_PER_DAY, MS_PER_HOUR, Stage
from monitor.yields.records import FliesPutIn

USUAL_C = 27.0
"""Temperature of a cage whose own is not known [°C]. Source: own choice: mating from 27-29 °C up (Julita et
al. 2020, abstract)."""

LONGEST_LAG_DAYS = 30
"""Days from emergence to eggs that are looked at [d]. Source: own choice, `longest_days` of the species."""

LIFE_BEFORE_DAYS = 35.0
FILLED_AT_SHARE = 0.1
"""A cage that is filled on one day: days from larva to fly [d], and the share of its flies that is out on
that day [1]; the others follow as in a box. Source: 30.5 d to the first fly and 4 d more to half of them, own
figures from ReproLab's common garden (open counts); own choice of the share: a box is brought when flies are
seen in it."""

LATE_SHARE, LATE_DAYS = 0.05, 4.0
"""Share of the eggs that come later than the lag says, and how much on the mean [1], [d]. Source: 5.2 % of
the eggs of flies of one age came after days 2-6 (Dickerson 2024, abstract); tagged flies laid more than once;
own choice of the days."""

LEAST_GAPS = 3
"""Gaps between lots of flies from which a cage is filled on as it was [1]. Source: own choice."""

WARMEST_DAYS = 7
"""Days of the past whose mean stands for the warmth to come [d]. Source: own choice."""

FECUNDITY_C = (15.0, 18.0, 20.0, 22.0, 25.0, 28.6, 32.0, 35.0, 38.0)
FECUNDITY = (0.0, 0.39, 0.60, 0.76, 0.93, 1.0, 0.94, 0.78, 0.52)
"""Eggs at a temperature [°C] against the best [1]. Source: the published curve of Kobelski et al. 2024,
Front. Bioeng. Biotechnol. 12:1404776, evaluated at these points; a fit to few data, none outside 22 to 35
°C."""

LEAST_FECUNDITY = 0.1
"""Below this share the curve is not believed [1]. Source: own choice: it rests on no data there."""


@dataclass(frozen=True, slots=True)
class DayGrid:
    """Local days from `first_ms` on: `past` of them are over, today is the next, `ahead` with today to come;
    it is `hour` o'clock today [h]."""

    first_ms: int
    past: int
    ahead: int
    hour: float = 0.0

    @property
    def days(self) -> int:
        """All of them."""
        return self.past + self.ahead

    @property
    def edges_ms(self) -> FloatArray:
        """Midnights, shape (days + 1,) [ms since 1970 UTC]."""
        return self.first_ms + np.arange(self.days + 1) * float(MS_PER_DAY)

    def day_of(self, at_ms: float) -> int:
        """Number of the day of a moment; below 0 or too large outside."""
        return int((at_ms - self.first_ms) // MS_PER_DAY)


def day_grid(now_ms: int, day_origin_ms: int, past: int, ahead: int) -> DayGrid:
    """The grid around a moment; `day_origin_ms` is any local midnight [ms since 1970 UTC]."""
    today = (now_ms - day_origin_ms) // MS_PER_DAY
    hour = (now_ms - day_origin_ms) % MS_PER_DAY / MS_PER_HOUR
    return DayGrid(day_origin_ms + (today - past) * MS_PER_DAY, past, ahead, hour)


@dataclass(frozen=True, slots=True)
class Timing:
    """One possibility of when females lay: lag against the species' [1], and how far flies that are put in on
    one day follow each other, against the spread of a box [1]; 0: they are of one age."""

    lag_factor: float
    spread: float


@dataclass(frozen=True, slots=True, eq=False)
class CageFlies:
    """Females that begin to live in a cage on each day.

    `put_in` has shape (days,): those that were counted, on the day on which they were put in; `emerging` has
    shape (courses, days): those that come out in it. `warmth_c` is the mean of each day, shape (days,).
    `to_put_in`, shape (courses, days), are lots to come if the cage is filled on as it was; None: nobody says
    so.
    """

    cage: str
    put_in: FloatArray
    emerging: FloatArray
    warmth_c: FloatArray
    to_put_in: FloatArray | None = None

    @property
    def is_counted(self) -> bool:
        """Whether any flies were put in."""
        return bool(self.put_in.any())


def filled_warmth(warmth_c: FloatArray | None, grid: DayGrid) -> FloatArray:
    """Warmth of every day of the grid, shape (days,) [°C].

    `warmth_c` holds the mean of past days, nan where it is not known; more are taken as said. An unknown day
    is as the last one before, the coming ones are as the mean of the last seven known days.
    """
    filled = np.full(grid.days, np.nan)
    if warmth_c is not None:
        filled[: min(len(warmth_c), grid.days)] = warmth_c[: grid.days]
    known = np.flatnonzero(np.isfinite(filled))
    if not len(known):
        return np.full(grid.days, USUAL_C)
    before = np.searchsorted(known, np.arange(grid.days), side="right") - 1
    filled = filled[known[np.maximum(before, 0)]]
    filled[known[-1] + 1 :] = filled[known[known > known[-1] - WARMEST_DAYS]].mean()
    return np.asarray(filled)


def fecundity(warmth_c: FloatArray) -> FloatArray:
    """Eggs of a female at a temperature of the cage against the best [1]; see `FECUNDITY`."""
    return np.asarray(np.maximum(np.interp(warmth_c, FECUNDITY_C, FECUNDITY), LEAST_FECUNDITY))


def counted_females(
    flies: Iterable[FliesPutIn], cage: str, grid: DayGrid, species: SpeciesParameters
) -> FloatArray:
    """Females put into a cage on each day of the grid, shape (days,); half of them where nobody looked."""
    females = np.zeros(grid.days)
    for each in flies:
        day = grid.day_of(each.at_ms)
        if each.place == cage and 0 <= day < grid.days:
            share = species.adult.female_share if each.female_share is None else each.female_share
            females[day] += each.count * share
    return females


def lots_as_before(put_in: FloatArray, grid: DayGrid, number: int, seed: int = 1) -> FloatArray | None:
    """Lots of females to come, with the gaps and sizes of those of the past, shape (number, days).

    None where too few were put in to go by, or the last is longer ago than any gap was.
    """
    past = np.flatnonzero(put_in[: grid.past + 1])
    gaps = np.diff(past)
    if len(gaps) < LEAST_GAPS or grid.past - past[-1] > gaps.max():
        return None
    random, females = np.random.default_rng(seed), np.zeros((number, grid.days))
    rows, day = np.arange(number), np.full(number, past[-1])
    while (day < grid.days).any():
        day = np.maximum(day + random.choice(gaps, number), grid.past + 1)
        inside = day < grid.days
        females[rows[inside], day[inside]] += random.choice(put_in[past], number)[inside]
    return females


def emerging_females(
    courses: Sequence[CohortCourses],
    flies: Iterable[FliesPutIn],
    species: SpeciesParameters,
    grid: DayGrid,
    number: int,
) -> FloatArray:
    """Females that come out in a cage, from the courses of cohorts whose flies go there.

    Shape (number, days). Of a cohort whose flies were counted as they were put in, only those that are
    missing are still to come, after today.
    """
    counted: dict[str, float] = {}
    for each in flies:
        if each.cohort is not None:
            counted[each.cohort] = counted.get(each.cohort, 0.0) + each.count
    females = np.zeros((number, grid.days))
    for course in courses:
        if course.track.count is None or course.track.start_stage is Stage.ADULT:
            continue
        number_of = min(number, len(course.survival))
        come, males = daily_flies(course, species, grid.edges_ms, number_of)
        if course.track.cohort in counted:
            come = _left_to_come(come, come + males, counted[course.track.cohort], grid)
        females += np.resize(come, (number, grid.days))
    return females


def _left_to_come(females: FloatArray, flies: FloatArray, counted: float, grid: DayGrid) -> FloatArray:
    later = np.arange(flies.shape[1]) >= grid.past
    ahead = flies[:, later].sum(axis=1)
    missing = np.maximum(flies.sum(axis=1) - counted, 0.0)
    share = np.minimum(1.0, missing / np.maximum(ahead, 1e-9))
    return np.asarray(females * later * share[:, None])


def follow_shares(species: SpeciesParameters, log_sd: float) -> FloatArray:
    """Share of the females of a box that begin to live on each day after its cage was filled, sum 1 [1].

    Source: the spread of a box (`EmergenceSpread`) from where a tenth are out, see `FILLED_AT_SHARE`.
    """
    spread, half = spread_of(log_sd, species.adult), np.array([LIFE_BEFORE_DAYS * MS_PER_DAY])
    filled_ms = float(spread.time_of_share(0.0, half, FILLED_AT_SHARE)[0])
    edges = filled_ms + np.arange(1, LONGEST_LAG_DAYS + 1) * float(MS_PER_DAY)
    out = spread.emerged_share(edges, 0.0, half)[0][0]
    return np.diff(np.concatenate([[0.0], out / out[-1]]))


def _earned_units(warmth_c: FloatArray, species: SpeciesParameters) -> FloatArray:
    """Degree-days that a female of each day has by the end of that day and the days after, shape (days, lags
    + 1).

    She came out at midday.
    """
    days = len(warmth_c)
    earned = units_per_day(warmth_c, species.stages[species.index_of(Stage.ADULT)].law)
    clock = np.concatenate(
        [[0.0], np.cumsum(earned), earned.sum() + np.cumsum(np.full(LONGEST_LAG_DAYS, earned[-1]))]
    )
    midday = (clock[:days] + clock[1 : days + 1]) / 2.0
    ends = np.arange(days)[:, None] + np.arange(LONGEST_LAG_DAYS + 1)[None, :]
    return np.asarray(clock[ends] - midday[:, None])


def lag_shares(log_units: FloatArray, lag_factor: float, species: SpeciesParameters) -> FloatArray:
    """Share of her eggs that a female of each day lays on that day and the days after, shape (days, lags).

    `log_units` is ln of the degree-days that she has by the ends of these days, shape (days, lags + 1). Those
    that she needs are log-normal around those of the species times `lag_factor`. Rows sum to 1 where the days
    are many and warm enough.
    """
    log_sd = max(log_sd_of(species.adult.laying_variation), 1e-3)
    needed = species.stages[species.index_of(Stage.ADULT)].thermal_constant * lag_factor
    shares = np.diff(normal_share((log_units - np.log(needed)) / log_sd), axis=1)
    return np.asarray(shares @ _LATE)


def _late_days() -> FloatArray:
    """Where the eggs of a day of laying come in truth, shape (lags, lags): some of them later."""
    after = np.arange(LONGEST_LAG_DAYS)[None, :] - np.arange(LONGEST_LAG_DAYS)[:, None]
    late = np.where(after >= 0, (1.0 - 1.0 / LATE_DAYS) ** np.maximum(after, 0) / LATE_DAYS, 0.0)
    return np.asarray((1.0 - LATE_SHARE) * np.eye(LONGEST_LAG_DAYS) + LATE_SHARE * late)


_LATE = _late_days()


def laying_days(
    warmth_c: FloatArray, lag_factors: Sequence[float], species: SpeciesParameters
) -> dict[float, FloatArray]:
    """Grams laid on each day by a female that comes out on a day, at one gram for each, warm and lit.

    By lag factor [1], each of shape (days she came out, days she lays).
    """
    log_units = np.log(np.maximum(_earned_units(warmth_c, species), 1e-6))
    eggs = fecundity(warmth_c)
    return {
        factor: np.asarray(_by_day(lag_shares(log_units, factor, species), len(warmth_c)) * eggs)
        for factor in lag_factors
    }


def following_days(species: SpeciesParameters, log_sd: float, days: int) -> FloatArray:
    """Share of the flies put in on one day that begin to live on each day, shape (days, days)."""
    follow = follow_shares(species, log_sd)
    return _by_day(np.broadcast_to(follow, (days, len(follow))), days)


def _by_day(shares: FloatArray, days: int) -> FloatArray:
    """From shape (days, days after) to (days, days); what lies beyond the last day is left out."""
    spread = np.zeros((days, days + shares.shape[1]))
    rows = np.arange(days)[:, None]
    spread[rows, rows + np.arange(shares.shape[1])[None, :]] = shares
    return spread[:, :days]
