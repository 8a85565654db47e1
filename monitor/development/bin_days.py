"""Futures of places that heat themselves: days on which animals as far grown lived in them, or in others.

What is drawn is the excess of the substrate over the air around it. The level of the air is that of now, so
that the weather of the time from which a day comes is not taken for heat of the animals.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, partial

import numpy as np
import numpy.typing as npt

from monitor.climate.arrays import BoolArray, FloatArray, IntArray
from monitor.development.clocks import Clock, ClockOf, Clocks, PlaceClimate, StageClock
from monitor.development.ensemble import (
    MOST_HELD,
    POINTS_PER_DAY,
    DrawnDays,
    EnsembleClock,
    FutureDraws,
    clock_of_days,
    earned,
    followed_by,
    own_normals,
)
from monitor.development.kept import Lately, comparable
from monitor.development.progress import CohortTrack, Leaving, Life, mean_grown
from monitor.development.rate_level import HALF_LIFE_DAYS, MOST_DAYS, RateLevel, rate_level, usable_days
from monitor.development.rates import DrivenBy, RateLaw, StageParameters, units_per_day
from monitor.development.temperature_series import BIN_ABOVE_AIR_K, ExpectedExcess, days_back, felt_by_animals
from monitor.records import MS_PER_DAY

# How days of bins become a future; every number here is our own choice.
ALIKE_GROWN = 0.08
"""Animals that far apart in growth are alike no more [share of the larval stage]; about 1.5 d."""
EXCESS_HALF_LIFE_DAYS = 20.0
"""Feed and stock change over weeks; what the weather does is taken out before."""
OWN_WEIGHT = 2.0
"""So much more do days of the same bin count than those of another [1]."""
ENOUGH_DAYS = 3.0
"""With so many days of like growth the balance is not asked any more [d]."""
VIGOUR_SD = 0.2
"""How much more or less heat one filling makes than another [1]."""
VIGOUR_NOISE_K = 1.5
"""How far the mean excess of a day lies from that of its growth [K]; large: days err alike."""
EXPECTED_COUNTS_DAYS = 2.0
"""For so many days the size of the expected excess counts against the measured one [d]."""
STAYS_SDS = 4.0
"""Standard deviations beyond the usual move from which a cohort is taken to stay in its bin [1]."""
MOST_DAYS_OF_ALL = 3000
"""The latest days of all bins that are drawn from."""
MOST_PATHS = 6
"""How many paths are held at once; each takes 1.5 MB."""
LEVEL_HALF_DAYS = 3
LEVEL_OVER_DAYS = 14
CELL = 0.04
EXPECTED_STEP = 0.1
LEAST_GROWN, MOST_GROWN = -0.4, 2.4
VIGOUR_Z = (-(3.0**0.5), 0.0, 3.0**0.5)
OUTER_Z = 0.9674
"""Three courses of the vigour stand for a normal one: a sixth, two thirds, a sixth of the draws [1]."""

Places = npt.NDArray[np.str_]


@dataclass(frozen=True, slots=True, eq=False)
class SelfHeating:
    """What is known of places that heat themselves.

    `climates` holds for each its substrate and the air around it; `probed` are those whose substrate was
    measured in themselves; `lives` the growth of each cohort. `around` are the clocks by the air alone, which
    tell the level of the coming weather. Without `leaving` no move is assumed.
    """

    climates: Mapping[str, PlaceClimate]
    probed: frozenset[str]
    lives: Mapping[str, Life]
    expected: ExpectedExcess | None = None
    leaving: Leaving | None = None
    around: Clocks | None = None

    def move_of(self, track: CohortTrack, now_ms: int) -> Leaving | None:
        """The move that is assumed for a cohort: from its last place, where that heats itself.

        None for one that is grown so far beyond the usual move that it seems to stay.
        """
        life, leaving = self.lives.get(track.cohort), self.leaving
        if life is None or leaving is None or track.residences[-1].place not in self.climates:
            return None
        grown = float(life.grown_at(np.array([float(now_ms)]))[0])
        return leaving if grown < leaving.grown + STAYS_SDS * leaving.sd else None


@dataclass(frozen=True, slots=True, eq=False)
class _Days:
    """Days on which animals lived in bins, the latest first; temperatures at even points of each day [°C].

    `air_c` and `excess_k` have shape (days, points) and together make the substrate; `level_c` is the mean
    air of the week around the day, NaN where the air is not known; then all counts as air.
    """

    places: Places
    starts_ms: FloatArray
    ago: FloatArray
    grown: FloatArray
    air_c: FloatArray
    excess_k: FloatArray
    level_c: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class BinPath:
    """The days that one future of a bin consists of, whatever is driven by them.

    `temperatures_c` and `air_c` of each day that was drawn, shape (days, points); `chosen` that of each
    course, (horizon, draws); `grown` how far the animals are at the start of each coming day, (horizon + 1,
    draws) [share of the larval stage]; `level_c` the level of the air around, NaN where it is not known.
    """

    temperatures_c: FloatArray
    air_c: FloatArray
    chosen: DrawnDays
    grown: FloatArray
    level_c: float

    def earned(self, law: RateLaw, warmer_k: float = 0.0) -> FloatArray:
        """What each possible day earns by its steps, shape (days, steps + 1), with all so much warmer [K]."""
        felt_c = felt_by_animals(self.temperatures_c, self.air_c, law.flees_above_c)
        return earned(felt_c + warmer_k, law)


class BinDays:
    """The past days of all bins that were lived in, and futures made from them."""

    def __init__(self, heating: SelfHeating, clocks: Mapping[str, StageClock], now_ms: int) -> None:
        self._heating, self._now_ms = heating, now_ms
        self._days = _gathered(heating, clocks, now_ms)
        self._decay = 0.5 ** (self._days.ago / EXCESS_HALF_LIFE_DAYS)
        self.rests = comparable(self._days)

    @cached_property
    def _alike(self) -> _Alike:
        like = _likeness(self._days.grown, ALIKE_GROWN)
        return _Alike(like, like * self._decay)

    @cached_property
    def _alike_within_reach(self) -> _Alike:
        """Where nothing is expected of days that lack: three of them count everywhere."""
        like = _likeness(self._days.grown, _reach(self._days.grown))
        return _Alike(like, like * self._decay)

    def path(
        self, place: str, life: Life, grown_now: float, law: RateLaw, draws: FutureDraws
    ) -> BinPath | None:
        """Futures of a place in which animals so far grown live from now on; None where nothing is known.

        `law` is that of the larval stage, by whose units the animals grow.
        """
        days, expected = self._days, self._heating.expected
        came_ms = life.came_ms(place, self._now_ms) if place in self._heating.probed else None
        own = np.zeros(len(days.grown), dtype=bool)
        if came_ms is not None:
            own = (days.places == place) & (days.starts_ms >= came_ms)
        level_c, last_air_c = self._air_now(place)
        is_expected = expected is not None and last_air_c is not None
        if not is_expected and not len(days.grown):
            return None
        alike = self._alike if is_expected else self._alike_within_reach
        possible = _possible(days, alike, place, own, level_c, last_air_c, expected)
        vigour = _vigour(days, own, possible)
        temperatures = _with_vigour(possible, own, vigour)
        air_c = np.concatenate([possible.air_c] * len(VIGOUR_Z))
        if self._heating.climates[place].air is None:
            air_c = temperatures - BIN_ABOVE_AIR_K
        daily = earned(felt_by_animals(temperatures, air_c, law.flees_above_c), law)[:, -1] / life.needed
        courses = _courses(place, draws)
        walked, grown = _walked(possible.bounds, daily, courses, grown_now, draws)
        used = np.flatnonzero(np.bincount(walked.ravel(), minlength=len(temperatures)))
        numbers = np.zeros(len(temperatures), dtype=np.int16)
        numbers[used] = np.arange(len(used))
        return BinPath(temperatures[used], air_c[used], numbers.take(walked), grown, level_c)

    def _air_now(self, place: str) -> tuple[float, FloatArray | None]:
        """Level of the air around a place now, the last days counting most, and its usual day [°C]."""
        series = self._heating.climates[place].air
        if series is None:
            return float("nan"), None
        points = days_back(series, self._now_ms, MOST_DAYS, POINTS_PER_DAY)
        known = max(min(len(points), int((self._now_ms - series.times_ms[0]) // MS_PER_DAY)), 1)
        weights = 0.5 ** (np.arange(known) / HALF_LIFE_DAYS)
        day = np.average(points[:known], axis=0, weights=weights)
        return float(day[:-1].mean()), np.asarray(day)


def _gathered(heating: SelfHeating, clocks: Mapping[str, StageClock], now_ms: int) -> _Days:
    parts = [
        part
        for place in sorted(heating.probed & clocks.keys())
        if (part := _days_of(place, heating, clocks[place], now_ms)) is not None
    ]
    if not parts:
        none, flat = np.zeros(0), np.zeros((0, POINTS_PER_DAY + 1))
        return _Days(np.zeros(0, dtype=np.str_), none, none, none, flat, flat, none)
    order = np.argsort(np.concatenate([part.ago for part in parts]), kind="stable")[:MOST_DAYS_OF_ALL]
    fields = ("places", "starts_ms", "ago", "grown", "air_c", "excess_k", "level_c")
    return _Days(*(np.concatenate([getattr(part, name) for part in parts])[order] for name in fields))


def _days_of(place: str, heating: SelfHeating, clock: StageClock, now_ms: int) -> _Days | None:
    climate = heating.climates[place]
    starts, usable = usable_days(clock, now_ms, MOST_DAYS)
    if climate.substrate is None or not len(starts):
        return None
    grown = mean_grown(heating.lives.values(), place, starts)
    kept = usable & np.isfinite(grown)
    substrate = days_back(climate.substrate, now_ms, len(starts), POINTS_PER_DAY)
    level = np.full(len(starts), np.nan)
    air = substrate
    if climate.air is not None:
        air = days_back(climate.air, now_ms, len(starts), POINTS_PER_DAY)
        level = _smoothed(air[:, :-1].mean(axis=1))
    ago = np.arange(len(starts), dtype=np.float64)
    names = np.full(len(starts), place)
    columns = (names, starts, ago, grown, air, substrate - air, level)
    return _Days(*(column[kept] for column in columns))


def _smoothed(daily: FloatArray) -> FloatArray:
    """Mean of the days around each day; fewer at the ends."""
    sums = np.concatenate([[0.0], np.cumsum(daily)])
    at = np.arange(len(daily))
    low, high = np.maximum(at - LEVEL_HALF_DAYS, 0), np.minimum(at + LEVEL_HALF_DAYS + 1, len(daily))
    return np.asarray((sums[high] - sums[low]) / (high - low))


@dataclass(frozen=True, slots=True, eq=False)
class _Possible:
    """Days that may be drawn, measured ones first: the air that they would have now, and their excess.

    `bounds` has shape (cells, days): the running share of the days in each cell of growth. `usual_k` is the
    mean excess to be expected in each cell [K], shape (cells,).
    """

    air_c: FloatArray
    excess_k: FloatArray
    bounds: FloatArray
    usual_k: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class _Alike:
    """How alike each day is to each cell of growth, 0 to 1, and so weighted by its age, (cells, days)."""

    like: FloatArray
    weights: FloatArray


def _cells() -> FloatArray:
    return np.asarray(np.arange(LEAST_GROWN, MOST_GROWN + CELL / 2, CELL))


def _likeness(grown: FloatArray, reach: FloatArray | float) -> FloatArray:
    """How alike each day is to each cell of growth, 1 to 0, shape (cells, days)."""
    apart = np.abs(_cells()[:, None] - grown)
    return np.asarray(np.maximum(1.0 - apart / reach, 0.0))


def _possible(
    days: _Days,
    alike: _Alike,
    place: str,
    own: BoolArray,
    level_c: float,
    day_c: FloatArray | None,
    expected: ExpectedExcess | None,
) -> _Possible:
    mean_k, like = days.excess_k[:, :-1].mean(axis=1), alike.like
    if expected is None or day_c is None:
        invented, invented_k = np.zeros((len(like), 0)), np.zeros(0)
    else:
        grid = np.arange(LEAST_GROWN, MOST_GROWN + 0.5 * EXPECTED_STEP, EXPECTED_STEP)
        invented_k = _size(mean_k, expected.of_day(days.grown)) * expected.of_day(grid)
        invented = _likeness(grid, EXPECTED_STEP)
    weights = alike.weights * np.where(days.places == place, OWN_WEIGHT, 1.0)
    shares = _blended(weights, like, invented)
    others = _blended(weights * ~own, like * ~own, invented) if own.any() else shares
    shift = np.where(np.isfinite(days.level_c), level_c - days.level_c, np.nan)
    air = days.air_c + np.where(np.isfinite(shift), shift, 0.0)[:, None]
    excess = days.excess_k
    if len(invented_k) and day_c is not None:
        air = np.concatenate([air, np.broadcast_to(day_c, (len(invented_k), len(day_c)))])
        flat = np.broadcast_to(invented_k[:, None], (len(invented_k), POINTS_PER_DAY + 1))
        excess = np.concatenate([excess, flat])
    usual = others @ np.concatenate([mean_k, invented_k])
    return _Possible(air, excess, np.cumsum(shares, axis=1), usual)


def _blended(weights: FloatArray, like: FloatArray, invented: FloatArray) -> FloatArray:
    """Shares of measured and invented days in each cell; the latter make up for measured ones that lack."""
    missing = np.zeros((len(like), 1))
    if invented.shape[1]:
        missing = np.clip(1.0 - like.sum(axis=1, keepdims=True) / ENOUGH_DAYS, 0.0, 1.0)
    return _shared(np.concatenate([_shared(weights) * (1.0 - missing), _shared(invented) * missing], axis=1))


def _shared(weights: FloatArray) -> FloatArray:
    total = weights.sum(axis=1, keepdims=True)
    return np.asarray(weights / np.where(total > 0.0, total, 1.0))


def _reach(grown: FloatArray) -> FloatArray:
    """How far days may lie from a cell, so that three of them count; shape (cells, 1)."""
    apart = np.sort(np.abs(_cells()[:, None] - grown), axis=1)
    nearest = apart[:, min(int(ENOUGH_DAYS), apart.shape[1]) - 1]
    return np.asarray(np.maximum(1.2 * nearest, ALIKE_GROWN)[:, None])


def _size(mean_k: FloatArray, expected_k: FloatArray) -> float:
    """By how much the measured excess is larger than the expected one, with that as prior [1]."""
    prior = EXPECTED_COUNTS_DAYS * float(np.mean(expected_k**2)) if len(expected_k) else 1.0
    if prior <= 0.0:
        return 1.0
    return max(float((mean_k @ expected_k + prior) / (expected_k @ expected_k + prior)), 0.0)


@dataclass(frozen=True, slots=True)
class _Vigour:
    """How much more heat this filling makes than usual, and how sure that is [1]."""

    mean: float
    sd: float


def _vigour(days: _Days, own: BoolArray, possible: _Possible) -> _Vigour:
    """From the own days so far against the usual excess of their growth, with the spread between fillings.

    Source: conjugate normal updating.
    """
    if not own.any():
        return _Vigour(1.0, VIGOUR_SD)
    cells = np.rint((np.clip(days.grown[own], LEAST_GROWN, MOST_GROWN) - LEAST_GROWN) / CELL).astype(int)
    usual, seen = possible.usual_k[cells], days.excess_k[own][:, :-1].mean(axis=1)
    square = VIGOUR_SD**2 * float(usual @ usual)
    mean = 1.0 + VIGOUR_SD**2 * float(usual @ (seen - usual)) / (VIGOUR_NOISE_K**2 + square)
    return _Vigour(max(mean, 0.0), VIGOUR_SD * VIGOUR_NOISE_K / float(np.hypot(VIGOUR_NOISE_K, square**0.5)))


def _with_vigour(possible: _Possible, own: BoolArray, vigour: _Vigour) -> FloatArray:
    """Temperatures of every possible day at each of three courses of the vigour, shape (3 days, points)."""
    all_own = np.zeros(len(possible.excess_k), dtype=bool)
    all_own[: len(own)] = own
    usual = np.where(all_own, max(vigour.mean, 0.1), 1.0)
    factors = [np.maximum(vigour.mean + z * vigour.sd, 0.0) / usual for z in VIGOUR_Z]
    return np.concatenate([possible.air_c + factor[:, None] * possible.excess_k for factor in factors])


def follows_air(path: BinPath, profiles: FloatArray, law: RateLaw) -> float:
    """How much of a change in the rate of the air around changes the rate of a bin, 0 to 1 [1].

    Ratio of the two relative changes for one kelvin more, over the days of the path; a bin that stands above
    the upper threshold hardly follows.
    """
    shares = np.bincount(path.chosen[:LEVEL_OVER_DAYS].ravel(), minlength=len(profiles)) / path.chosen[0].size
    used = np.flatnonzero(shares)
    warmer = path.earned(law, 1.0)[used, -1]
    bin_units = float(shares[used] @ profiles[used, -1])
    cool, warm = (float(each) for each in units_per_day(np.array([path.level_c, path.level_c + 1.0]), law))
    if bin_units <= 0.0 or warm <= cool or cool <= 0.0:
        return 1.0
    gained = float(shares[used] @ warmer) / bin_units - 1.0
    return float(np.clip(gained / (warm / cool - 1.0), 0.0, 1.0))


def _courses(place: str, draws: FutureDraws) -> IntArray:
    """Which course of the vigour each draw takes."""
    normals = own_normals(place, draws)
    return (normals > -OUTER_Z).astype(np.int64) + (normals > OUTER_Z)


def _walked(
    bounds: FloatArray, daily: FloatArray, courses: IntArray, grown_now: float, draws: FutureDraws
) -> tuple[IntArray, FloatArray]:
    """Day by day: a day of like growth is drawn, and the animals grow by what it earns."""
    cells, number = bounds.shape
    stacked = (bounds / bounds[:, -1:] + np.arange(cells)[:, None]).ravel()
    horizon = len(draws.day_uniforms)
    chosen = np.empty((horizon, draws.draws), dtype=np.int64)
    grown = np.empty((horizon + 1, draws.draws))
    grown[0] = grown_now
    for day, uniforms in enumerate(draws.day_uniforms):
        cell = np.clip((grown[day] - LEAST_GROWN) / CELL + 0.5, 0, cells - 1).astype(np.int64)
        lowest, highest = int(cell.min()), int(cell.max())
        near = stacked[lowest * number : (highest + 1) * number]
        found = np.searchsorted(near, uniforms + cell, side="right") - (cell - lowest) * number
        chosen[day] = np.minimum(found, number - 1) + courses * number
        grown[day + 1] = grown[day] + daily[chosen[day]]
    return chosen, grown


@dataclass(frozen=True, slots=True)
class _Key:
    """What a path depends on: the place, how far grown who lives there, and what they need to grow."""

    place: str
    cell: int
    since_ms: float | None
    needed: float


class CohortFutures:
    """The clocks of each cohort: those of its places, but in a bin by its growth, and after the usual move.

    `plain` gives the clocks of places that need no cohort.
    """

    def __init__(
        self,
        heating: SelfHeating,
        clocks: Clocks,
        plain: ClockOf,
        draws: FutureDraws,
        now_ms: int,
        larva: StageParameters,
    ) -> None:
        self._heating, self._clocks, self._plain = heating, clocks, plain
        self._draws, self._now_ms, self._larva = draws, now_ms, larva
        by_substrate = {place: clocks.of(place, larva) for place in heating.climates}
        measured = {
            place: clock
            for place, clock in by_substrate.items()
            if clock is not None and clock.used is DrivenBy.SUBSTRATE
        }
        self._days = BinDays(heating, measured, now_ms)
        self._common = self._days.rests, comparable(heating.expected), heating.leaving
        self._paths: Lately[_Key, tuple[BinPath | None]] = Lately(MOST_PATHS)
        self._made: Lately[tuple[_Key, int], EnsembleClock] = Lately(MOST_HELD)

    def let_go(self) -> None:
        """Hold no future any more."""
        self._paths.clear()
        self._made.clear()

    def of(self, track: CohortTrack) -> ClockOf:
        """A lookup of clocks for one cohort; the plain ones where nothing is known of its growth."""
        life = self._heating.lives.get(track.cohort)
        if life is None:
            return self._plain
        leaves = self._leaves_from(track)
        ahead = {place for place, _, until_ms in track.stays() if until_ms > self._now_ms}
        kept: dict[tuple[str, int], Clock | None] = {}

        def clock_of(place: str, stage: StageParameters) -> Clock | None:
            own = self._clocks.of(place, stage)
            if own is None or place not in ahead or place not in self._heating.climates:
                return self._plain(place, stage)
            key = place, id(own)
            if key not in kept:
                kept[key] = self._in_bin(life, place, stage, own, leaves == place)
            return kept[key]

        return clock_of

    def rests(self, track: CohortTrack) -> object:
        """What the clocks of a cohort rest on beside those of its places, comparable."""
        life = self._heating.lives.get(track.cohort)
        if life is None:
            return None
        ahead = {place for place, _, until_ms in track.stays() if until_ms > self._now_ms}
        keys = tuple(self._key(life, place) for place in sorted(ahead & self._heating.climates.keys()))
        return (self._common, comparable(life), keys, self._leaves_from(track)) if keys else None

    def _leaves_from(self, track: CohortTrack) -> str | None:
        """The place from which a move is assumed."""
        move = self._heating.move_of(track, self._now_ms)
        return None if move is None else track.residences[-1].place

    def _in_bin(
        self, life: Life, place: str, stage: StageParameters, own: StageClock, leaves: bool
    ) -> Clock | None:
        clock = self._plain(place, stage)
        key = self._key(life, place)
        path = self._path(key, life)
        if path is not None and own.used is DrivenBy.SUBSTRATE:
            clock = self._made.of((key, id(own)), partial(self._along, path, place, stage, own))
        leaving = self._heating.leaving
        if not leaves or leaving is None or not isinstance(clock, EnsembleClock):
            return clock
        there = self._plain(leaving.place, stage)
        grown = self._grown(path, life, place)
        if not isinstance(there, EnsembleClock) or grown is None:
            return clock
        return followed_by(clock, there, _leaving_day(life, leaving, grown, self._draws))

    def _along(self, path: BinPath, place: str, stage: StageParameters, own: StageClock) -> EnsembleClock:
        """The clock of a stage along a path, at the level of the weather that each course has."""
        profiles, factors = path.earned(stage.law), np.ones(1)
        air = None if self._heating.around is None else self._heating.around.of(place, stage)
        if air is not None:
            level, follows = (
                rate_level(air, self._now_ms, len(path.chosen)),
                follows_air(path, profiles, stage.law),
            )
            part = RateLevel(follows * level.log_drift, follows * level.log_sd)
            factors = part.factors(self._draws.level_normals)
        return clock_of_days(own, self._now_ms, profiles, path.chosen, factors)

    def _key(self, life: Life, place: str) -> _Key:
        """Those who live together in a bin now are taken together, at the mean of their growth."""
        came_ms = life.came_ms(place, self._now_ms)
        is_shared = came_ms is not None and place in self._heating.probed
        grown = self._together[place] if is_shared else self._grown_now(life)
        return _Key(place, round(grown / CELL), came_ms, life.needed)

    @cached_property
    def _together(self) -> Mapping[str, float]:
        """The mean growth of those who live now in each place."""
        by_place: dict[str, list[Life]] = {}
        for life in self._heating.lives.values():
            by_place.setdefault(life.place_at(self._now_ms) or "", []).append(life)
        return {place: self._mean_grown(lives) for place, lives in by_place.items()}

    def _mean_grown(self, lives: Sequence[Life]) -> float:
        weights = [max(each.count or 1.0, 1.0) for each in lives]
        return float(np.average([self._grown_now(each) for each in lives], weights=weights))

    def _grown_now(self, life: Life) -> float:
        return float(life.grown_at(np.array([float(self._now_ms)]))[0])

    def _path(self, key: _Key, life: Life) -> BinPath | None:
        law, grown = self._larva.law, key.cell * CELL
        return self._paths.of(key, lambda: (self._days.path(key.place, life, grown, law, self._draws),))[0]

    def _grown(self, path: BinPath | None, life: Life, place: str) -> FloatArray | None:
        """How far grown it is at the start of each coming day; by the air where no probe tells."""
        if path is not None:
            return np.asarray(path.grown + (self._grown_now(life) - path.grown[0]))
        clock = self._plain(place, self._larva)
        if not isinstance(clock, EnsembleClock):
            return None
        return np.asarray(self._grown_now(life) + clock.cumulative / life.needed)


def _leaving_day(life: Life, leaving: Leaving, grown: FloatArray, draws: FutureDraws) -> IntArray:
    """The coming day from which each course lives elsewhere, shape (draws,); not before tomorrow."""
    at = leaving.grown + leaving.sd * own_normals(life.cohort, draws)
    day = np.count_nonzero(grown < at, axis=0)
    return np.asarray(np.maximum(day, 1))
