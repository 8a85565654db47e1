"""Possible futures of the temperatures: whole past days of each place, drawn again.

All places share the draws, so a warm week is warm everywhere, and cohorts can be added up course by course.
Grow-out bins heat themselves, and their own last days say little about the next ones: they share their days.
"""

from __future__ import annotations

import zlib
from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

import numpy as np
import numpy.typing as npt

from monitor.climate.arrays import FloatArray, IntArray, Values, interpolated
from monitor.development.clocks import Clock, Clocks, StageClock
from monitor.development.kept import Lately
from monitor.development.rate_level import HALF_LIFE_DAYS, MOST_DAYS, even_level, rate_level, usable_days
from monitor.development.rates import DrivenBy, RateLaw, StageParameters, units_of_steps
from monitor.records import MS_PER_DAY, MS_PER_MINUTE, Stage

DRAWS = 2000
HORIZON_DAYS = 60
STEPS_PER_DAY, POINTS_PER_DAY = 4, 12
PAST_STEP_MS = 30 * MS_PER_MINUTE
# How past days become future ones; every number here is our own choice.
LEAST_DAYS = 3
FLAT_LOG_SD = 0.15
MOST_HELD, MOST_POOLS = 32, 8
"""How many futures are held at once: those of the places on the way of some cohorts; each takes 1 MB."""

DrawnDays = npt.NDArray[np.int16]
_Reader = Callable[[FloatArray, IntArray], FloatArray]


@dataclass(frozen=True, slots=True, eq=False)
class FutureDraws:
    """Random numbers that every place shares.

    `day_uniforms` says which day is drawn, shape (days, draws); `level_normals` how far the level of the
    coming rate is off, shape (draws,); `farm_normals` is for the farm's ln K, shape (stages, draws).
    """

    day_uniforms: FloatArray
    level_normals: FloatArray
    farm_normals: FloatArray

    @property
    def draws(self) -> int:
        """How many courses there are."""
        return int(self.day_uniforms.shape[1])


@dataclass(frozen=True, slots=True, eq=False)
class EnsembleClock:
    """A clock that runs on the recorded past up to now and on a drawn future after it, one course a draw.

    `profiles` holds the share of its units that a past day had earned by each of its steps, 0 to 1, shape
    (days, steps + 1); `chosen` the day of each course, shape (horizon, draws); `cumulative` the units since
    now, shape (horizon + 1, draws).
    """

    past: StageClock
    now_ms: float
    now_units: float
    cumulative: FloatArray
    profiles: FloatArray
    chosen: DrawnDays

    def units_at(self, at_ms: FloatArray, courses: IntArray) -> FloatArray:
        """Reading of each course at its own time."""
        return _split(at_ms, self.now_ms, courses, self.past.units_at, self._future_units)

    def time_at(self, units: FloatArray, courses: IntArray) -> FloatArray:
        """First time at which each course shows its own reading."""
        return _split(units, self.now_units, courses, self._past_time, self._future_time)

    @property
    def times_ms(self) -> FloatArray:
        """Times of the record, up to now."""
        return self.past.times_ms

    @property
    def units(self) -> FloatArray:
        """Readings at these times."""
        return self.past.units

    def _past_time(self, units: FloatArray, courses: IntArray) -> FloatArray:
        del courses
        return interpolated(units, self.past.units, self.past.times_ms)

    def readings_at(self, at_ms: float, courses: int) -> FloatArray:
        """Reading of every course at one time."""
        if at_ms <= self.now_ms:
            return self.past.readings_at(at_ms, courses)
        days, horizon = (at_ms - self.now_ms) / MS_PER_DAY, len(self.chosen)
        inside = min(days, horizon - 1e-9)
        day = int(inside)
        steps = (inside - day) * STEPS_PER_DAY
        picked = self.chosen[day].astype(np.int64) * (STEPS_PER_DAY + 1) + int(steps)
        before, after = self.cumulative[day], self.cumulative[day + 1]
        earned = before + self._within(picked, steps - int(steps)) * (after - before)
        if days > horizon:
            earned += (days / horizon - 1.0) * self.cumulative[-1]
        return np.asarray(self.now_units + earned)

    def runs(self) -> bool:
        """Whether it moves in the record or in a drawn future."""
        return bool(self.past.units[-1] > self.past.units[0]) or bool(self.cumulative[-1].any())

    def _future_units(self, at_ms: FloatArray, courses: IntArray) -> FloatArray:
        day, step, part, late = self._when(at_ms)
        width = self.chosen.shape[1]
        cell = day * width + courses
        picked = self.chosen.take(cell).astype(np.int64) * (STEPS_PER_DAY + 1) + step
        before = self.cumulative.take(cell)
        earned = before + self._within(picked, part) * (self.cumulative.take(cell + width) - before)
        if late.any():
            earned += late * self.cumulative[-1].take(courses)
        return np.asarray(self.now_units + earned)

    def _when(self, at_ms: FloatArray) -> tuple[IntArray, IntArray, FloatArray, FloatArray]:
        """Day, step of the day, part of the step, and how many horizons lie beyond the horizon."""
        days, horizon = (at_ms - self.now_ms) / MS_PER_DAY, len(self.chosen)
        inside = np.minimum(days, horizon - 1e-9)
        day = inside.astype(np.int64)
        steps = (inside - day) * STEPS_PER_DAY
        step = steps.astype(np.int64)
        return day, step, np.asarray(steps - step, dtype=np.float64), np.maximum(days / horizon - 1.0, 0.0)

    def _within(self, picked: IntArray, part: Values) -> FloatArray:
        low = self.profiles.take(picked)
        return np.asarray(low + (self.profiles.take(picked + 1) - low) * part)

    def _future_time(self, units: FloatArray, courses: IntArray) -> FloatArray:
        left = units - self.now_units
        day, before, after = self._day_of(left, courses)
        picked = self.chosen.take(day * self.chosen.shape[1] + courses).astype(np.int64) * (STEPS_PER_DAY + 1)
        earned = after - before
        within = (left - before) / np.where(earned > 0.0, earned, 1.0)
        step = np.zeros(len(units), dtype=np.int64)
        for border in range(1, STEPS_PER_DAY):
            step += self.profiles.take(picked + border) <= within
        picked += step
        low = self.profiles.take(picked)
        rise = self.profiles.take(picked + 1) - low
        part = np.minimum((within - low) / np.where(rise > 0.0, rise, 1.0), 1.0)
        days = day + (step + part) / STEPS_PER_DAY
        beyond = left > self.cumulative[-1].take(courses)
        if beyond.any():
            days = np.where(beyond, self._days_beyond(left, courses), days)
        return np.asarray(self.now_ms + days * MS_PER_DAY)

    def _day_of(self, left: FloatArray, courses: IntArray) -> tuple[IntArray, FloatArray, FloatArray]:
        """The day in which each course reaches its units, and its units at the start and the end of it.

        The day is guessed from the mean rate of the course, then corrected.
        """
        last, width = len(self.chosen) - 1, self.chosen.shape[1]
        total = self.cumulative[-1].take(courses)
        guess = left * ((last + 1) / np.where(total > 0.0, total, 1.0))
        day = np.minimum(guess, last).astype(np.int64)
        # Most are right after a step or two, so only those that moved are looked at again.
        cell = day * width + courses
        before, after = self.cumulative.take(cell), self.cumulative.take(cell + width)
        later = ((after <= left) & (day < last)).nonzero()[0]
        earlier = ((before > left) & (day > 0)).nonzero()[0]
        moving, step = np.concatenate([later, earlier]), np.ones(len(later) + len(earlier), dtype=np.int64)
        step[len(later) :] = -1
        for _ in range(last):
            if not len(moving):
                break
            day[moving] += step
            cell = day[moving] * width + courses[moving]
            low, high = self.cumulative.take(cell), self.cumulative.take(cell + width)
            before[moving], after[moving] = low, high
            wanted, here = left[moving], day[moving]
            goes_on = np.where(step > 0, (high <= wanted) & (here < last), (low > wanted) & (here > 0))
            moving, step = moving[goes_on], step[goes_on]
        return day, before, after

    def _days_beyond(self, units: FloatArray, courses: IntArray) -> FloatArray:
        """Days to a reading after the horizon, at the course's mean rate; infinite when it stands still."""
        horizon, total = len(self.chosen), self.cumulative[-1, courses]
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.asarray(np.where(total > 0.0, units * horizon / total, np.inf))


def _split(
    values: FloatArray, border: float, courses: IntArray, before: _Reader, after: _Reader
) -> FloatArray:
    """Read the past for values up to the border, the future for those beyond it."""
    beyond = values > border
    number = np.count_nonzero(beyond)
    if number == len(values):
        return after(values, courses)
    if not number:
        return before(values, courses)
    read = np.empty(len(values))
    read[beyond] = after(values[beyond], courses[beyond])
    read[~beyond] = before(values[~beyond], courses[~beyond])
    return read


def own_normals(name: str, draws: FutureDraws) -> FloatArray:
    """Standard normals of one place or cohort, shape (draws,): those of the farm in another order."""
    order = np.random.default_rng(zlib.crc32(name.encode())).permutation(draws.draws)
    return np.asarray(draws.farm_normals[0][order])


def future_draws(seed: int, draws: int = DRAWS, horizon_days: int = HORIZON_DAYS) -> FutureDraws:
    """The random numbers of an ensemble; beyond `horizon_days` each course goes on at its own mean rate."""
    generator = np.random.default_rng(seed)
    uniforms = generator.random((horizon_days, draws))
    farm = generator.standard_normal((len(Stage), draws))
    return FutureDraws(uniforms, generator.standard_normal(draws), farm)


def past_days(clock: StageClock, now_ms: int) -> tuple[FloatArray, FloatArray]:
    """What the whole past days of a place earned, and the weight of each, the latest day first.

    A day is 24 hours counted back from now. Returns development from the start of each day to each of its
    steps, shape (days, steps + 1) [°C d], and weights 0.5 ** (age / half-life), shape (days,) [1]. Days that
    are mostly estimated, or not known, are left out.
    """
    clock = clock.ahead or clock
    starts, usable = usable_days(clock, now_ms, MOST_DAYS)
    edges = starts[:, None] + np.arange(STEPS_PER_DAY + 1) * (MS_PER_DAY / STEPS_PER_DAY)
    readings = np.interp(edges, clock.times_ms, clock.units)
    weights = 0.5 ** (np.arange(len(starts)) / HALF_LIFE_DAYS)
    return (readings - readings[:, :1])[usable], weights[usable]


def earned(temperatures_c: FloatArray, law: RateLaw) -> FloatArray:
    """What each day of even points, shape (days, points), earns by each of its steps, (days, steps + 1)."""
    days, points = temperatures_c.shape
    at = np.arange(days * points, dtype=np.int64) * (MS_PER_DAY // POINTS_PER_DAY)
    units = np.append(units_of_steps(at, temperatures_c.ravel(), law), 0.0).reshape(days, points)
    sums = np.cumsum(units[:, :-1].reshape(days, STEPS_PER_DAY, -1).sum(axis=2), axis=1)
    return np.concatenate([np.zeros((days, 1)), sums], axis=1)


@dataclass(frozen=True, slots=True, eq=False)
class DrawnFuture:
    """What a clock earns after now, for as many courses as there are draws; see `EnsembleClock`.

    Places that share their past days share all of it.
    """

    cumulative: FloatArray
    profiles: FloatArray
    chosen: DrawnDays

    def of(self, clock: StageClock, now_ms: int) -> EnsembleClock:
        """The clock that goes on in this way."""
        past = clock.thinned(PAST_STEP_MS)
        now_units = float(past.units_at(np.array([float(now_ms)]))[0])
        return EnsembleClock(past, float(now_ms), now_units, self.cumulative, self.profiles, self.chosen)


def ensemble_clock(
    clock: StageClock,
    draws: FutureDraws,
    now_ms: int,
    alike: Sequence[StageClock] = (),
    drawn: dict[bytes, DrawnDays] | None = None,
) -> EnsembleClock:
    """A clock with as many possible futures as there are draws.

    `alike` are places whose past days are drawn, this one among them; empty for its own days alone. With
    fewer than three whole past days the mean rate so far is used, times a factor drawn for each course.
    `drawn` holds the days that were drawn by the same weights for other clocks, and takes those of this one.
    """
    days = [past_days(place, now_ms) for place in alike or (clock,)]
    future = _future(clock, days, draws, now_ms, {} if drawn is None else drawn, is_pooled=bool(alike))
    return future.of(clock, now_ms)


def _future(
    clock: StageClock,
    days: Iterable[tuple[FloatArray, FloatArray]],
    draws: FutureDraws,
    now_ms: int,
    drawn: dict[bytes, DrawnDays],
    *,
    is_pooled: bool,
) -> DrawnFuture:
    horizon = len(draws.day_uniforms)
    profiles, weights = (np.concatenate(parts) for parts in zip(*days, strict=True))
    if len(profiles) >= LEAST_DAYS:
        if not profiles[:, -1].any():
            # A clock of heat where it was never hot: whichever day is drawn, it stands still.
            return future_of_days(profiles, np.zeros(draws.day_uniforms.shape, dtype=np.int16))
        key = weights.tobytes()
        chosen = drawn[key] if key in drawn else drawn.setdefault(key, _days_drawn(weights, draws))
        # Places that share their days follow what lives in them more than the weather: no level of their own.
        level = None if is_pooled else rate_level(clock, now_ms, horizon)
    else:
        profiles = _mean_day(clock)
        chosen = np.zeros(draws.day_uniforms.shape, dtype=np.int16)
        level = even_level(FLAT_LOG_SD, horizon)
    return future_of_days(profiles, chosen, 1.0 if level is None else level.factors(draws.level_normals))


def _mean_day(clock: StageClock) -> FloatArray:
    """One even day at the mean rate so far."""
    earned = (clock.ahead or clock).tail_per_ms * MS_PER_DAY
    return np.linspace([0.0], [earned], STEPS_PER_DAY + 1, axis=1)


def _days_drawn(weights: FloatArray, draws: FutureDraws) -> DrawnDays:
    """The past day of each coming day of each course, by the weights of the past days."""
    bounds = np.cumsum(weights / weights.sum())
    chosen = np.minimum(np.searchsorted(bounds, draws.day_uniforms, side="right"), len(bounds) - 1)
    return chosen.astype(np.int16)


def clock_of_days(
    clock: StageClock,
    now_ms: int,
    profiles: FloatArray,
    chosen: npt.NDArray[Any],
    factors: FloatArray | float = 1.0,
) -> EnsembleClock:
    """A clock whose future consists of chosen days, see `future_of_days`."""
    return future_of_days(profiles, chosen, factors).of(clock, now_ms)


def future_of_days(
    profiles: FloatArray, chosen: npt.NDArray[Any], factors: FloatArray | float = 1.0
) -> DrawnFuture:
    """A future of chosen days: what each earned by its steps, shape (days, steps + 1).

    `chosen` has shape (horizon, draws), `factors` on what was earned since now (horizon + 1, draws).
    """
    chosen, daily = np.ascontiguousarray(chosen, dtype=np.int16), profiles[:, -1]
    if not daily.any():
        return DrawnFuture(np.zeros((len(chosen) + 1, chosen.shape[1])), _shares(profiles), chosen)
    # By whole numbers of the machine's size numpy picks forty times as fast.
    cumulative = _running_sum(daily.take(chosen.astype(np.intp)))
    cumulative *= factors
    for day in range(1, len(cumulative)):
        np.maximum(cumulative[day - 1], cumulative[day], out=cumulative[day])
    return DrawnFuture(cumulative, _shares(profiles), chosen)


def _running_sum(daily: FloatArray) -> FloatArray:
    """What was earned by the end of each day, from shape (days, draws) to (days + 1, draws).

    Row by row: along the first axis numpy's own sum takes fifteen times as long.
    """
    total = np.zeros((daily.shape[0] + 1, daily.shape[1]))
    for day, earned in enumerate(daily):
        np.add(total[day], earned, out=total[day + 1])
    return total


def followed_by(first: EnsembleClock, second: EnsembleClock, days: IntArray) -> EnsembleClock:
    """A clock that runs as `first` up to a coming day of each course, shape (draws,), then as `second`."""
    after = np.arange(len(first.chosen))[:, None] >= days
    chosen = np.where(after, second.chosen + len(first.profiles), first.chosen).astype(np.int16)
    cumulative = _running_sum(
        np.where(after, np.diff(second.cumulative, axis=0), np.diff(first.cumulative, axis=0))
    )
    profiles = np.concatenate([first.profiles, second.profiles])
    return replace(first, cumulative=cumulative, profiles=profiles, chosen=chosen)


def _shares(profiles: FloatArray) -> FloatArray:
    """The course of each day as shares of what it earned; even where it earned nothing."""
    earned = profiles[:, -1:]
    even = np.linspace(0.0, 1.0, profiles.shape[1])
    return np.ascontiguousarray(np.where(earned > 0.0, profiles / np.where(earned > 0.0, earned, 1.0), even))


class EnsembleClocks:
    """A lookup of ensemble clocks; each is made when it is first needed, and the latest ones are held.

    It gives None where no temperature of the place is known. Places that are `alike` share their past days:
    the past of each place is its own; only what is drawn for the time after now is shared. Where the place or
    the stage goes by the air nothing is pooled, since the air of a room does not follow the age of a cohort.

    Source: own choice, after simulated farms: with its own days alone the end of the larval stage was
    forecast two days late.
    """

    def __init__(self, clocks: Clocks, draws: FutureDraws, now_ms: int, alike: Collection[str] = ()) -> None:
        self._clocks, self._draws, self._now_ms, self._alike = clocks, draws, now_ms, alike
        self._made: Lately[int, EnsembleClock] = Lately(MOST_HELD)
        self._pools: Lately[tuple[int, ...], DrawnFuture] = Lately(MOST_POOLS)
        self._days: dict[int, tuple[FloatArray, FloatArray]] = {}
        self._drawn: dict[bytes, DrawnDays] = {}

    def __call__(self, place: str, stage: StageParameters) -> Clock | None:
        own = self._clocks.of(place, stage)
        return None if own is None else self._made.of(id(own), partial(self._clock, own, place, stage))

    def let_go(self) -> None:
        """Hold no future any more; what is needed again is made again, as it was."""
        self._made.clear()
        self._pools.clear()
        self._drawn.clear()

    def _clock(self, own: StageClock, place: str, stage: StageParameters) -> EnsembleClock:
        is_pooled = place in self._alike and own.used is DrivenBy.SUBSTRATE
        others = [self._clocks.of(other, stage) for other in self._alike] if is_pooled else []
        pool = [clock for clock in others if clock is not None and clock.used is DrivenBy.SUBSTRATE]
        days = [self._past_days(clock) for clock in pool]
        if sum(len(earned) for earned, _ in days) < LEAST_DAYS:
            return ensemble_clock(own, self._draws, self._now_ms, pool, self._drawn)
        make = partial(_future, own, days, self._draws, self._now_ms, self._drawn, is_pooled=True)
        return self._pools.of(tuple(id(clock) for clock in pool), make).of(own, self._now_ms)

    def _past_days(self, clock: StageClock) -> tuple[FloatArray, FloatArray]:
        if id(clock) not in self._days:
            self._days[id(clock)] = past_days(clock, self._now_ms)
        return self._days[id(clock)]


def ensemble_clocks(
    clocks: Clocks, draws: FutureDraws, now_ms: int, alike: Collection[str] = ()
) -> EnsembleClocks:
    """A lookup of ensemble clocks (`EnsembleClocks`)."""
    return EnsembleClocks(clocks, draws, now_ms, alike)
