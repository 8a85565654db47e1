"""Grams of eggs to come, a day and a week, of each cage and of the farm; what can be promised to a buyer.

An ensemble: each draw has its own flies, timing, level and days; all cages of a draw share their farm.
Windows hold 80 % of the draws; that of a sum is taken from sums.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from monitor.climate.arrays import FloatArray, IntArray
from monitor.development.courses import CohortCourses
from monitor.development.rates import SpeciesParameters
from monitor.records import MS_PER_DAY
from monitor.yields.laying import (
    LONGEST_LAG_DAYS,
    CageFlies,
    DayGrid,
    Timing,
    counted_females,
    emerging_females,
    fecundity,
    filled_warmth,
    following_days,
    laying_days,
    lots_as_before,
)
from monitor.yields.level import (
    DAY_LOG_SD,
    DAY_MEMORY,
    NOISES,
    PRIOR_GRAMS,
    Level,
    drawn_levels,
    expected_of,
    judged,
    learned,
    timing_fit,
    week_sums,
)
from monitor.yields.records import Takings
from monitor.yields.rhythm import HOLDS_DAYS, PAUSE_DAYS, Collections, Rhythm, collections_of, rhythm_of

PAST_DAYS, AHEAD_DAYS = 140, 56
DRAWS, COURSES = 400, 200
"""Days that are learned from and looked ahead [d]; draws of a forecast and courses of a cohort [1]."""
UNLEARNED_DAYS = 28
"""First days of the past, which only fill the cages: flies of before are not known [d]."""
COUNT_LOG_SD = 0.15
"""Log-sd of a count of flies [1]. Source: own choice; nobody counts a thousand flies one by one."""
LAG_LOG_SD = 0.2
LAG_STEPS = np.linspace(-2.0, 2.0, 9)
"""Log-sd of a female's lag between farms, and the steps of it that are tried [1]. Source: own choice, 3-5 d
in several papers."""
SPREADS, SPREAD_CHANCES = (0.0, 0.6, 1.0, 1.65), (0.2, 0.2, 0.4, 0.2)
"""Spreads of flies that are put in on one day against those of a box, see `FILLED_AT_SHARE`, and the chance
of each [1]; 0: of one age. Source: quartiles of 48 boxes 1.5-4.4 d around 2.85 d (ReproLab's common garden,
open counts, own figures); own choice of the chances."""
LOT_LAG_KEEPS, LOT_SPREAD_KEEPS = 0.5, 0.6
"""Chance that a lot of flies has the lag of its farm, else a step more or less; and its spread, else any of a
box [1]. Source: own choice, the same quartiles."""
LOT_SD_DAYS = 0.9
"""How far one lot of flies may lie from the timing of its farm [d]. Source: own choice: flies that are put in
are up to three days old, each age as likely."""
MOST_STRAYED, LEAST_LEFT = 50.0, 0.2
"""Most by which a best week is held against a poor one, and the least factor of a week [1]. Source: own
choice."""
HABIT_DAYS = 28
LOW, MIDDLE, HIGH = 0.1, 0.5, 0.9

LAG_FACTORS = tuple(np.exp(LAG_LOG_SD * LAG_STEPS).tolist())
TIMINGS = tuple(Timing(factor, spread) for factor in LAG_FACTORS for spread in SPREADS)
TIMING_LOG_PRIOR = (-0.5 * LAG_STEPS[:, None] ** 2 + np.log(SPREAD_CHANCES)).ravel()


@dataclass(frozen=True, slots=True)
class Grams:
    """Grams of eggs collected from `from_ms` on to `to_ms`: median and 80 % window."""

    from_ms: int
    to_ms: int
    low: float
    median: float
    high: float


@dataclass(frozen=True, slots=True)
class LearnedLevel:
    """Eggs of a female put in, warm and lit [g], with its 80 % window; `weeks` of cages tell of it, 0:
    none."""

    low: float
    median: float
    high: float
    weeks: int


@dataclass(frozen=True, eq=False)
class EggForecast:
    """The eggs to come of a farm.

    `collected` has shape (draws, cages, days), from today on; `by_habit` are cages whose flies nobody knows:
    they go on as they were; `unknown` are those of which neither flies nor eggs are. `doubted` are entries of
    collecting that are off by what only a slip of a unit explains; nothing was learned from them.
    """

    grid: DayGrid
    cages: tuple[str, ...]
    collected: FloatArray
    level: LearnedLevel
    rhythm: Rhythm
    by_habit: tuple[str, ...]
    doubted: tuple[int, ...]
    log_levels: FloatArray
    unknown: tuple[str, ...] = ()

    @property
    def known(self) -> tuple[str, ...]:
        """The cages of which something can be said."""
        return tuple(cage for cage in self.cages if cage not in self.unknown)

    def days(self, cage: str | None = None) -> tuple[Grams, ...]:
        """The coming days of a cage, or of all."""
        return self._sums(cage, 1)

    def weeks(self, cage: str | None = None) -> tuple[Grams, ...]:
        """The coming weeks of a cage, or of all, the first from today on."""
        return self._sums(cage, 7)

    def promise(self, at_ms: int, days: int = 1, share: float = 0.8) -> float | None:
        """Grams that are there with a chance of `share` [1] out of the last `days` up to the day of a date
        [g].

        None where the date lies before today or beyond what is looked ahead to.
        """
        last = self.grid.day_of(at_ms) - self.grid.past
        if not 0 <= last < self.grid.ahead:
            return None
        there = self._of_all[:, max(last - days + 1, 0) : last + 1].sum(axis=1)
        return float(np.quantile(there, 1.0 - share))

    @cached_property
    def _of_all(self) -> FloatArray:
        return np.asarray(self.collected.sum(axis=1))

    def _sums(self, cage: str | None, step: int) -> tuple[Grams, ...]:
        draws = self._of_all if cage is None else self.collected[:, self.cages.index(cage)]
        number = self.grid.ahead // step
        sums = draws[:, : number * step].reshape(len(draws), number, step).sum(axis=2)
        bands = np.quantile(sums, (LOW, MIDDLE, HIGH), axis=0).T.tolist()
        first = self.grid.first_ms + self.grid.past * MS_PER_DAY
        return tuple(
            Grams(first + i * step * MS_PER_DAY, first + (i + 1) * step * MS_PER_DAY, *band)
            for i, band in enumerate(bands)
        )


def cage_flies(
    cage: str,
    takings: Takings,
    courses: Sequence[CohortCourses],
    species: SpeciesParameters,
    grid: DayGrid,
    warmth_c: FloatArray | None = None,
    *,
    goes_on: bool = False,
) -> CageFlies:
    """The flies of a cage: those that were put in, and those of the cohorts that come out in it.

    `warmth_c` is the mean of each past day, shape (days,), nan where it is not known. With `goes_on` a cage
    into which no cohort comes out is filled on as it was; else it lays what its flies have left, which is
    what a promise should rest on.
    """
    put_in = counted_females(takings.flies, cage, grid, species)
    emerging = np.zeros((1, grid.days))
    if courses:
        emerging = emerging_females(courses, takings.flies, species, grid, COURSES)
    more = None if emerging.any() or not goes_on else lots_as_before(put_in, grid, COURSES)
    return CageFlies(cage, put_in, emerging, filled_warmth(warmth_c, grid), more)


def forecast_eggs(
    takings: Takings,
    cages: Sequence[CageFlies],
    species: SpeciesParameters,
    grid: DayGrid,
    spread_log_sd: float | None = None,
    seed: int = 1,
) -> EggForecast:
    """Grams to come of some cages of one farm.

    `spread_log_sd` is the farm's own spread of emergence, None for that of the species. The same call twice
    gives the same answer.

    Source: own choice of the model; its figures stand with the constants of this room.
    """
    found = [collections_of(takings.eggs, cage.cage, grid) for cage in cages]
    pairs = [_known_flies(cage, each, grid) for cage, each in zip(cages, found, strict=True)]
    laying = _Laying(
        [pair[0] for pair in pairs], species, grid, spread_log_sd or species.individual_variation
    )
    unknown = tuple(
        pair[0].cage for pair, each in zip(pairs, found, strict=True) if _is_unknown(pair[0], each)
    )
    found = [each.since(UNLEARNED_DAYS) for each in found]
    expected = [expected_of(each, laying.usual(number)) for number, each in enumerate(found)]
    found, _ = judged(found, expected, TIMING_LOG_PRIOR)
    timings = TIMING_LOG_PRIOR + timing_fit(found, expected, grid.past)
    found, rough_level = judged(found, expected, timings)
    level = learned(week_sums(found, expected, grid.past, rough_level), timings)
    rhythm = rhythm_of(found, grid)
    draws = _draws(level, len(cages), grid, seed)
    laid = laying.drawn(draws)
    return EggForecast(
        grid=grid,
        cages=tuple(cage.cage for cage in cages),
        collected=_collected(laid, found, rhythm, grid, draws),
        level=_learned_level(level, draws),
        rhythm=rhythm,
        by_habit=tuple(cage.cage for cage, pair in zip(cages, pairs, strict=True) if pair[1]),
        doubted=_doubted(found),
        log_levels=draws.levels,
        unknown=unknown,
    )


def _known_flies(cage: CageFlies, found: Collections, grid: DayGrid) -> tuple[CageFlies, bool]:
    """The flies of a cage; where none are known but eggs are, as many a day as gave the eggs of late."""
    if cage.is_counted or cage.emerging.any() or not len(found.days):
        return cage, False
    late = found.days >= grid.past - HABIT_DAYS
    since = max(grid.past - HABIT_DAYS, int(found.days[0]) - 1)
    days = max(grid.past - since, 7)
    females = found.grams[late].sum() / days / PRIOR_GRAMS
    emerging = np.full((1, grid.days), max(float(females), 1e-6))
    return CageFlies(cage.cage, cage.put_in, emerging, cage.warmth_c), True


def _is_unknown(cage: CageFlies, found: Collections) -> bool:
    return not (cage.is_counted or cage.emerging.any() or len(found.days))


@dataclass(frozen=True, slots=True, eq=False)
class ExpectedPast:
    """What was collected of some cages beside what should have been if warmth moved only when flies lay.

    At one gram a female: `held` is what each collecting should hold, shape (n,), `laid` what should be laid
    on each day, shape (days,), `usual` a day of the best week, each by cage; `log_level` is ln of grams a
    female, a rough one.
    """

    grid: DayGrid
    cages: tuple[str, ...]
    collections: tuple[Collections, ...]
    held: tuple[FloatArray, ...]
    laid: tuple[FloatArray, ...]
    usual: tuple[float, ...]
    log_level: float


def expected_past(
    takings: Takings,
    cages: Sequence[CageFlies],
    species: SpeciesParameters,
    grid: DayGrid,
    spread_log_sd: float | None = None,
) -> ExpectedPast:
    """The past without what warmth did to how many eggs were laid, with every second lag of `LAG_FACTORS`."""
    found = [collections_of(takings.eggs, cage.cage, grid).since(UNLEARNED_DAYS) for cage in cages]
    log_sd, eye = spread_log_sd or species.individual_variation, np.eye(grid.days)
    follow = [following_days(species, each * log_sd, grid.days) if each else eye for each in SPREADS]
    laid = [_laid_if_warm(cage, follow, species) for cage in cages]
    expected = [expected_of(each, mine) for each, mine in zip(found, laid, strict=True)]
    prior = TIMING_LOG_PRIOR.reshape(len(LAG_FACTORS), -1)[::2].ravel()
    found, _ = judged(found, expected, prior)
    timings = prior + timing_fit(found, expected, grid.past)
    found, log_level = judged(found, expected, timings)
    chances = np.exp(timings - timings.max())
    chances /= chances.sum()
    return ExpectedPast(
        grid=grid,
        cages=tuple(cage.cage for cage in cages),
        collections=tuple(found),
        held=tuple(chances @ each.held for each in expected),
        laid=tuple(chances @ each for each in laid),
        usual=tuple(each.best / 7.0 for each in expected),
        log_level=log_level,
    )


def _laid_if_warm(cage: CageFlies, follow: Sequence[FloatArray], species: SpeciesParameters) -> FloatArray:
    """Eggs laid by day under each timing, shape (timings, days); of unknown flies as many each day."""
    factors, emerging = LAG_FACTORS[::2], cage.emerging.mean(axis=0)
    if not cage.is_counted and not emerging.any():
        return np.full((len(factors) * len(follow), len(cage.warmth_c)), 1.0)
    began = np.array([cage.put_in @ each + emerging for each in follow])
    warm = fecundity(cage.warmth_c)
    laid = laying_days(cage.warmth_c, factors, species).values()
    return np.concatenate([began @ days / warm for days in laid])


def _doubted(found: Sequence[Collections]) -> tuple[int, ...]:
    pairs = ((cage, number) for cage in found for number in np.flatnonzero(~cage.believed).tolist())
    return tuple(sorted(entry for cage, number in pairs for entry in cage.entry_ids[number]))


@dataclass(frozen=True, slots=True, eq=False)
class _Draws:
    """Random parts of a forecast: numbers of noise and timing, shape (draws,); ln of grams a female, shape
    (draws, cages, weeks); random numbers of the counts, days and collectings."""

    noises: IntArray
    timings: IntArray
    levels: FloatArray
    generator: np.random.Generator


def _draws(level: Level, cages: int, grid: DayGrid, seed: int) -> _Draws:
    generator = np.random.default_rng(seed)
    ranks = (np.arange(DRAWS) + 0.5) / DRAWS
    cumulative = np.cumsum((level.weights @ _LOTS).ravel())
    picked = np.minimum(np.searchsorted(cumulative, ranks), len(cumulative) - 1)
    picked = generator.permutation(picked)
    noises, timings = picked // len(TIMINGS), picked % len(TIMINGS)
    weeks = -(-grid.ahead // 7)
    normals = generator.standard_normal((DRAWS, cages * weeks))
    return _Draws(noises, timings, drawn_levels(level, cages, weeks, noises, timings, normals), generator)


def _lots() -> FloatArray:
    """Chance that a lot has each timing where its farm has another one, shape (timings, timings)."""
    steps = len(LAG_STEPS)
    beside = (1.0 - LOT_LAG_KEEPS) / 2.0
    lag = LOT_LAG_KEEPS * np.eye(steps) + beside * (np.eye(steps, k=1) + np.eye(steps, k=-1))
    boxes = np.array(SPREAD_CHANCES) * (np.array(SPREADS) > 0.0)
    spread = np.where(np.array(SPREADS)[:, None] > 0.0, boxes / boxes.sum(), np.eye(len(SPREADS)))
    spread = LOT_SPREAD_KEEPS * np.eye(len(SPREADS)) + (1.0 - LOT_SPREAD_KEEPS) * spread
    return np.kron(lag / lag.sum(axis=1, keepdims=True), spread)


_LOTS = _lots()


class _Laying:
    """Eggs laid by day at one gram a female, under each timing."""

    def __init__(
        self, cages: Sequence[CageFlies], species: SpeciesParameters, grid: DayGrid, log_sd: float
    ) -> None:
        self._cages, self._species, self._grid = cages, species, grid
        self._follow = {
            spread: following_days(species, spread * log_sd, grid.days) if spread else np.eye(grid.days)
            for spread in SPREADS
        }
        self._kept: dict[bytes, dict[float, FloatArray]] = {}

    def usual(self, number: int) -> FloatArray:
        """Of a cage under each timing, shape (timings, days)."""
        cage = self._cages[number]
        emerging, put_in = cage.emerging.mean(axis=0), cage.put_in
        began = np.array([put_in @ follow + emerging for follow in self._follow.values()])
        return np.concatenate([began @ days for days in self._days(cage).values()])

    def drawn(self, draws: _Draws) -> FloatArray:
        """Of all cages in each draw with its level and days, from some days ago on: shape (draws, cages,
        days)."""
        first = self._first
        laid = np.stack([self._of_cage(cage, draws) for cage in self._cages], axis=1)
        weeks = np.maximum(np.arange(first, self._grid.days) - self._grid.past, 0) // 7
        level = np.exp(draws.levels) * _strayed(laid, weeks, draws)
        return np.asarray(laid * level[:, :, weeks] * _days_apart(laid.shape, draws))

    @property
    def _first(self) -> int:
        return max(self._grid.past - HOLDS_DAYS - 1, 0)

    def _of_cage(self, cage: CageFlies, draws: _Draws) -> FloatArray:
        since = max(self._grid.past - 2 * LONGEST_LAG_DAYS - HOLDS_DAYS, 0)
        shape = len(draws.timings), self._grid.days - since
        some = np.flatnonzero(cage.put_in[since:])
        counts = np.exp(COUNT_LOG_SD * draws.generator.standard_normal((shape[0], len(some))))
        put_in = cage.put_in[since:][some] * counts
        emerging = np.resize(cage.emerging[:, since:], shape)
        more = None if cage.to_put_in is None else np.resize(cage.to_put_in[:, since:], shape)
        laid, days = np.empty((shape[0], self._grid.days - self._first)), self._days(cage)
        for number in np.unique(draws.timings).tolist():
            here, timing = draws.timings == number, TIMINGS[number]
            follow = self._follow[timing.spread][since:, since:][some]
            began = put_in[here] @ follow + emerging[here]
            if more is not None:
                began += more[here] @ self._follow[timing.spread][since:, since:]
            laid[here] = began @ days[timing.lag_factor][since:, self._first :]
        return _moved(laid, LOT_SD_DAYS * draws.generator.standard_normal(len(laid)))

    def _days(self, cage: CageFlies) -> dict[float, FloatArray]:
        key = cage.warmth_c.tobytes()
        if key not in self._kept:
            self._kept[key] = laying_days(cage.warmth_c, LAG_FACTORS, self._species)
        return self._kept[key]


def _strayed(laid: FloatArray, weeks: IntArray, draws: _Draws) -> FloatArray:
    """Factors of the weeks, off by a part of the best week of their cage, shape (draws, cages, weeks)."""
    usual = laid.mean(axis=0)
    sums = np.stack([usual[:, weeks == week].sum(axis=1) for week in range(draws.levels.shape[2])], axis=1)
    best_share = sums.max(axis=1, keepdims=True) / np.maximum(sums, 1e-12)
    off = np.array(NOISES)[draws.noises, 1][:, None, None] * np.minimum(best_share, MOST_STRAYED)
    factors = 1.0 + off * draws.generator.standard_normal(draws.levels.shape)
    return np.asarray(np.maximum(factors, LEAST_LEFT))


def _moved(laid: FloatArray, days: FloatArray) -> FloatArray:
    """Each draw moved by some days, also parts of days, from shape (draws, days) to the same."""
    at = np.arange(laid.shape[1]) - days[:, None]
    before = np.clip(np.floor(at), 0, laid.shape[1] - 1).astype(np.int64)
    after = np.minimum(before + 1, laid.shape[1] - 1)
    part = np.clip(at - before, 0.0, 1.0)
    rows = np.arange(len(laid))[:, None]
    return np.asarray((1.0 - part) * laid[rows, before] + part * laid[rows, after])


def _days_apart(shape: tuple[int, ...], draws: _Draws) -> FloatArray:
    """Factors of the days with memory, their mean 1, shape (draws, cages, days)."""
    log_sd = DAY_LOG_SD * np.array(NOISES)[draws.noises, 0][:, None, None]
    normals = draws.generator.standard_normal(shape)
    fresh = np.sqrt(1.0 - DAY_MEMORY**2)
    for day in range(1, shape[2]):
        normals[:, :, day] = DAY_MEMORY * normals[:, :, day - 1] + fresh * normals[:, :, day]
    return np.asarray(np.exp(log_sd * normals - log_sd**2 / 2.0))


def _collected(
    laid: FloatArray, found: Sequence[Collections], rhythm: Rhythm, grid: DayGrid, draws: _Draws
) -> FloatArray:
    """What is collected on each day to come, shape (draws, cages, days): the farmer comes or does not."""
    lead = laid.shape[2] - grid.ahead
    last = np.array([each.days[-1] if len(each.days) else -HOLDS_DAYS for each in found])
    held = draws.generator.integers(0, HOLDS_DAYS, len(laid))
    in_cage = np.stack(
        [_waiting(laid[:, i, :lead], each, grid, held) for i, each in enumerate(found)], axis=1
    )
    gaps = np.broadcast_to(grid.past - last, in_cage.shape).copy()
    comes = draws.generator.random((len(laid), grid.ahead))
    collected = np.zeros((len(laid), len(found), grid.ahead))
    share = rhythm.hour_share
    today = [each.hour_share[-1] if len(each.days) else 0.0 for each in found]
    for day in range(grid.ahead):
        new = laid[:, :, lead + day]
        if day == 0:
            new = np.where(gaps == 0, (1.0 - np.array(today)) * new, new)
        chance = rhythm.chances(grid.past + day, gaps)
        if day == 0:
            # So late on a day, nobody may come any more.
            later = rhythm.later_share(grid.hour) * chance
            chance = later / np.maximum(1.0 - chance + later, 1e-9)
        taken = comes[:, day, None] < chance
        ready = in_cage + share * new
        collected[:, :, day] = np.where(taken, ready, 0.0)
        in_cage = np.where(taken, new - share * new, in_cage + new)
        gaps = np.where(taken, 1, gaps + 1)
    return collected


def _waiting(laid: FloatArray, found: Collections, grid: DayGrid, held: IntArray) -> FloatArray:
    """Eggs that are in a cage at the beginning of today, from what was laid in the days before.

    With those of today they are of `HOLDS_DAYS` at most. After a long pause nobody knows whether only the
    book was left: they are those of `held` days, shape (draws,).
    """
    if not len(found.days):
        return np.asarray(laid[:, 1 - HOLDS_DAYS :].sum(axis=1))
    back = int(grid.past - found.days[-1])
    if back < 1:
        return np.zeros(len(laid))
    if back > PAUSE_DAYS:
        waiting = np.cumsum(np.insert(laid[:, ::-1], 0, 0.0, axis=1), axis=1)
        return np.asarray(waiting[np.arange(len(laid)), held])
    if back > HOLDS_DAYS:
        return np.asarray(laid[:, 1 - HOLDS_DAYS :].sum(axis=1))
    left = (1.0 - found.hour_share[-1]) * laid[:, -back]
    return np.asarray(left + laid[:, laid.shape[1] - back + 1 :].sum(axis=1))


def _learned_level(level: Level, draws: _Draws) -> LearnedLevel:
    low, median, high = np.exp(np.quantile(draws.levels.mean(axis=(1, 2)), (LOW, MIDDLE, HIGH))).tolist()
    return LearnedLevel(low, median, high, level.weeks)
