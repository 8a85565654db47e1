"""Possible futures of the temperatures: whole past days of each place, drawn again.

All places share the same draws, so a warm week is warm everywhere, and cohorts can be added up course by
course.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from monitor.model.clocks import Clock, ClockOf, Clocks, StageClock, first_unknown_ms
from monitor.model.degree_days import FloatArray, IntArray
from monitor.model.rates import StageParameters
from monitor.records import MS_PER_DAY

DRAWS = 2000
HORIZON_DAYS = 60
STEPS_PER_DAY = 8


@dataclass(frozen=True, slots=True)
class FuturePolicy:
    """How past days become future ones; every number here is our own choice."""

    half_life_days: float = 5.0
    least_days: int = 3
    most_days: int = 60
    most_estimated_hours: float = 12.0
    flat_log_sd: float = 0.15


@dataclass(frozen=True, slots=True, eq=False)
class FutureDraws:
    """Random numbers that every place shares: which day is drawn, and how far a flat mean is off."""

    day_uniforms: FloatArray
    flat_normals: FloatArray

    @property
    def draws(self) -> int:
        """How many courses there are."""
        return int(self.day_uniforms.shape[1])


@dataclass(frozen=True, slots=True, eq=False)
class EnsembleClock:
    """A clock that runs on the recorded past up to now and on a drawn future after it, one course a draw."""

    past: StageClock
    now_ms: float
    now_units: float
    cumulative: FloatArray
    profiles: FloatArray
    chosen: IntArray

    def units_at(self, at_ms: FloatArray) -> FloatArray:
        """Reading of each course at its own time."""
        future = at_ms > self.now_ms
        if not future.any():
            return self.past.units_at(at_ms)
        ahead = self.now_units + self._future_units((at_ms - self.now_ms) / MS_PER_DAY)
        return ahead if future.all() else np.where(future, ahead, self.past.units_at(at_ms))

    def time_at(self, units: FloatArray) -> FloatArray:
        """First time at which each course shows its own reading."""
        future = units > self.now_units
        if not future.any():
            return self.past.time_at(units)
        ahead = self.now_ms + self._future_days(units - self.now_units) * MS_PER_DAY
        return ahead if future.all() else np.where(future, ahead, self.past.time_at(units))

    def _future_units(self, days: FloatArray) -> FloatArray:
        horizon, columns = len(self.chosen), np.arange(self.chosen.shape[1])
        inside = np.clip(days, 0.0, horizon - 1e-9)
        day = inside.astype(np.int64)
        part = (inside - day) * STEPS_PER_DAY
        step = part.astype(np.int64)
        picked = self.chosen[day, columns]
        low, high = self.profiles[picked, step], self.profiles[picked, step + 1]
        earned = self.cumulative[day, columns] + low + (high - low) * (part - step)
        return np.asarray(earned + np.maximum(days - horizon, 0.0) * (self.cumulative[-1] / horizon))

    def _future_days(self, units: FloatArray) -> FloatArray:
        horizon, columns = len(self.chosen), np.arange(self.chosen.shape[1])
        day = np.add.reduce(self.cumulative[1:] <= units, axis=0, dtype=np.int64)
        inner = np.minimum(day, horizon - 1)
        rows = self.profiles[self.chosen[inner, columns]]
        left = units - self.cumulative[inner, columns]
        step = np.minimum(
            np.add.reduce(rows[:, 1:] <= left[:, None], axis=1, dtype=np.int64), STEPS_PER_DAY - 1
        )
        low, high = rows[columns, step], rows[columns, step + 1]
        part = np.clip((left - low) / np.where(high > low, high - low, 1.0), 0.0, 1.0)
        days = inner + (step + part) / STEPS_PER_DAY
        return days if int(day.max()) < horizon else np.where(day < horizon, days, self._beyond(units))

    def _beyond(self, units: FloatArray) -> FloatArray:
        """Days to a reading after the horizon, at the course's mean rate; infinite when it stands still."""
        horizon, total = len(self.chosen), self.cumulative[-1]
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.asarray(np.where(total > 0.0, units * horizon / total, np.inf))


def future_draws(seed: int, draws: int = DRAWS, horizon_days: int = HORIZON_DAYS) -> FutureDraws:
    """The random numbers of an ensemble.

    Parameters
    ----------
    seed : int
        The same seed gives the same numbers [1].
    draws : int
        Number of courses [1].
    horizon_days : int
        Days ahead [d]; beyond them each course goes on at its own mean rate.

    Returns
    -------
    FutureDraws
        Uniform and normal numbers [1].

    Source
    ------
    Own choice; no publication.
    """
    generator = np.random.default_rng(seed)
    return FutureDraws(generator.random((horizon_days, draws)), generator.standard_normal(draws))


def past_days(clock: StageClock, now_ms: int, policy: FuturePolicy) -> tuple[FloatArray, FloatArray]:
    """What the whole past days of a place earned, and the weight of each.

    Parameters
    ----------
    clock : StageClock
        Clock of the place, reaching to now.
    now_ms : int
        Now [ms since 1970 UTC]; a day is 24 hours counted back from it.
    policy : FuturePolicy
        Half-life of the weights [d], and which days may be drawn.

    Returns
    -------
    tuple of array
        Development from the start of each day to each of its steps [°C d], and weights [1], the latest day
        first.

    Notes
    -----
    weight = 0.5 ** (age / half-life). Days that are mostly estimated, or not known, are left out.

    Source
    ------
    Own choice; no publication.
    """
    days = min(int((now_ms - clock.times_ms[0]) // MS_PER_DAY), policy.most_days)
    starts = now_ms - MS_PER_DAY * np.arange(1, days + 1)
    edges = starts[:, None] + np.arange(STEPS_PER_DAY + 1) * (MS_PER_DAY / STEPS_PER_DAY)
    readings = np.interp(edges, clock.times_ms, clock.units)
    estimated = np.diff(np.interp(edges[:, [0, -1]], clock.times_ms, clock.estimated_hours), axis=1)[:, 0]
    known = [first_unknown_ms(clock, start, start + MS_PER_DAY) is None for start in starts.tolist()]
    usable = (estimated <= policy.most_estimated_hours) & np.array(known, dtype=bool)
    weights = 0.5 ** (np.arange(days) / policy.half_life_days)
    return (readings - readings[:, :1])[usable], weights[usable]


def ensemble_clock(
    clock: StageClock, draws: FutureDraws, now_ms: int, policy: FuturePolicy | None = None
) -> EnsembleClock:
    """A clock with as many possible futures as there are draws.

    Parameters
    ----------
    clock : StageClock
        Clock of the place over the past.
    draws : FutureDraws
        The shared random numbers.
    now_ms : int
        Now [ms since 1970 UTC].
    policy : FuturePolicy or None
        How past days become future ones.

    Returns
    -------
    EnsembleClock
        Reads development [°C d] at times and times at development, course by course.

    Notes
    -----
    With fewer than three whole past days the mean rate so far is used, a factor on it drawn for each course.

    Source
    ------
    Own choice; no publication.
    """
    limits = policy or FuturePolicy()
    profiles, weights = past_days(clock, now_ms, limits)
    if len(profiles) >= limits.least_days:
        bounds = np.cumsum(weights / weights.sum())
        chosen = np.minimum(np.searchsorted(bounds, draws.day_uniforms, side="right"), len(bounds) - 1)
    else:
        factor = np.exp(limits.flat_log_sd * draws.flat_normals)
        steps = np.linspace(0.0, 1.0, STEPS_PER_DAY + 1) * (clock.tail_per_ms * MS_PER_DAY)
        profiles = factor[:, None] * steps[None, :]
        chosen = np.broadcast_to(np.arange(draws.draws), draws.day_uniforms.shape)
    cumulative = np.zeros((chosen.shape[0] + 1, draws.draws))
    np.cumsum(profiles[chosen, -1], axis=0, out=cumulative[1:])
    now_units = float(clock.units_at(np.array([float(now_ms)]))[0])
    return EnsembleClock(clock, float(now_ms), now_units, cumulative, profiles, chosen.astype(np.int64))


def ensemble_clocks(
    clocks: Clocks, draws: FutureDraws, now_ms: int, policy: FuturePolicy | None = None
) -> ClockOf:
    """A lookup of ensemble clocks; each is made when it is first asked for and kept.

    Parameters
    ----------
    clocks : Clocks
        Clocks of all places over the past.
    draws : FutureDraws
        The shared random numbers.
    now_ms : int
        Now [ms since 1970 UTC].
    policy : FuturePolicy or None
        How past days become future ones.

    Returns
    -------
    callable
        Gives the clock of a place and a stage; None where no temperature of the place is known.
    """
    made: dict[int, EnsembleClock] = {}

    def clock_of(place: str, stage: StageParameters) -> Clock | None:
        past = clocks.of(place, stage)
        if past is None:
            return None
        if id(past) not in made:
            made[id(past)] = ensemble_clock(past, draws, now_ms, policy)
        return made[id(past)]

    return clock_of
