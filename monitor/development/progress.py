"""Cohorts, and how far each is: development summed over the places in which it lived.

Cohorts read the clocks of their places. A stage ends at the exact reading of its clock, and the next one
starts there, within the step: nothing of a step is dropped at a boundary.

How far grown animals are where they live is counted in shares of the larval stage: 0 at hatching, 1 when the
middle larva becomes a prepupa. The heat of a bin follows how large its larvae are.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from itertools import pairwise

import numpy as np

from monitor.climate.arrays import FloatArray
from monitor.development.clocks import (
    NEVER_MS,
    ClockOf,
    Clocks,
    Journey,
    StageClock,
    Stay,
    Ways,
    first_unknown_ms,
    journey,
)
from monitor.development.events import Event, Observation
from monitor.development.rates import DrivenBy, SpeciesParameters
from monitor.errors import UsageError
from monitor.records import MS_PER_DAY, Stage

# When larvae leave a bin where a farm has not shown it yet; all of these are our own choice.
LEAVES_AT = 0.9
"""Share of the larval stage at which they are taken out: between the first prepupae (about 0.8) and half."""
LEAVES_SD = 0.1
LEAVES_COUNTS = 1.0
"""For how many moves that were made the default counts."""


class Purpose(StrEnum):
    """What a cohort is meant for."""

    BREEDING = "breeding"
    FEED = "feed"


class Ending(StrEnum):
    """How a cohort ended."""

    EMERGED = "emerged"
    HARVESTED = "harvested"
    SOLD = "sold"
    LOST = "lost"
    MERGED = "merged"


class Origin(StrEnum):
    """Where a cohort came from."""

    LAID = "laid"
    HATCHED = "hatched"
    BOUGHT = "bought"
    CAUGHT = "caught"
    FOUND = "found"


@dataclass(frozen=True, slots=True)
class FlyCount:
    """Flies that came out since the count before, by a moment."""

    at_ms: int
    flies: float


@dataclass(frozen=True, slots=True)
class Ended:
    """How a cohort ended, with what it gave [g, animals] where that was said."""

    at_ms: int
    how: Ending
    grams: float | None = None
    animals: float | None = None


@dataclass(frozen=True, slots=True)
class Cohort:
    """One cohort: where it lives and lived, what was seen and counted, what it is meant for.

    `rough_count` is True where the number of animals was estimated from grams or from a share. `planned` are
    planned moves; `track` holds those of them that still stand. The first `inherited` of `seen` were seen of
    the cohort from which this one was split.
    """

    name: str
    track: CohortTrack
    origin: Origin
    feed: str | None = None
    purpose: Purpose | None = None
    cage: str | None = None
    parent: str | None = None
    merged: tuple[str, ...] = ()
    seen: tuple[Observation, ...] = ()
    inherited: int = 0
    flies: tuple[FlyCount, ...] = ()
    eggs_grams: tuple[tuple[int, float], ...] = ()
    planned: tuple[Residence, ...] = ()
    rough_count: bool = False
    ended: Ended | None = None
    note: str = ""

    def place_at(self, at_ms: int) -> str:
        """Where it lives, or lived, at a moment [ms since 1970 UTC]; before its start its first place."""
        places = [stay.place for stay in self.track.residences if stay.from_ms <= at_ms]
        return places[-1] if places else self.track.residences[0].place

    def next_move(self, now_ms: int) -> Residence | None:
        """The next move that is planned, or None."""
        return next((stay for stay in self.track.residences if stay.from_ms > now_ms), None)

    def unconfirmed_move(self, now_ms: int) -> Residence | None:
        """The last planned move whose time has come without an entry that it was made."""
        due = [stay for stay in self.planned if stay.from_ms <= now_ms and stay in self.track.residences]
        return due[-1] if due else None


@dataclass(frozen=True, slots=True)
class Residence:
    """From when on a cohort lives in a place; later ones may be planned moves."""

    place: str
    from_ms: int


@dataclass(frozen=True, slots=True)
class CohortTrack:
    """One cohort: where and when it began, where it lives, how many animals it has.

    `start_sd_days` is the standard deviation of the start (a laying window). A cohort that was bought older
    begins at its stage with `age_days` of life behind it, which only matters for how far its animals are
    spread.
    """

    cohort: str
    start_ms: int
    residences: tuple[Residence, ...]
    start_stage: Stage = Stage.EGG
    start_progress: float = 0.0
    start_sd_days: float = 0.25
    age_days: float = 0.0
    count: float | None = None
    count_stage: Stage | None = None

    def __post_init__(self) -> None:
        if not self.residences:
            raise UsageError("cohort {cohort} lives nowhere; give it a place", cohort=self.cohort)
        if any(later.from_ms <= earlier.from_ms for earlier, later in pairwise(self.residences)):
            raise UsageError("cohort {cohort}: its moves must be in the order of time", cohort=self.cohort)
        if not 0.0 <= self.start_progress < 1.0:
            raise UsageError(
                "cohort {cohort}: start_progress is {progress:g}; allowed: 0 up to 1",
                cohort=self.cohort,
                progress=self.start_progress,
            )

    @property
    def origin_ms(self) -> float:
        """When the animals' life began [ms since 1970 UTC]; their spread grows from there."""
        return self.start_ms - self.age_days * MS_PER_DAY

    def stays(self) -> tuple[Stay, ...]:
        """Place, from, to [ms since 1970 UTC]; the first stay reaches back, the last never ends."""
        starts = [-NEVER_MS, *(float(stay.from_ms) for stay in self.residences[1:])]
        ends = [*starts[1:], NEVER_MS]
        return tuple((stay.place, a, b) for stay, a, b in zip(self.residences, starts, ends, strict=True))


@dataclass(frozen=True, slots=True)
class DevelopmentState:
    """Where a cohort's middle animal stands. Progress is the share of the stage, 0 to 1.

    With `unknown_since_ms` set, nothing may be said about the time after it until an event is seen.
    """

    stage: Stage
    progress: float
    at_ms: int
    estimated_hours: float = 0.0
    heat_hours: float = 0.0
    unknown_since_ms: int | None = None
    used: DrivenBy | None = None


def stage_ends_ms(
    track: CohortTrack,
    species: SpeciesParameters,
    constants: FloatArray,
    clock_of: ClockOf,
    ways: Ways | None = None,
) -> FloatArray:
    """When each stage of a cohort ends, for many sets of thermal constants at once.

    Parameters
    ----------
    track : CohortTrack
        The cohort with its places and planned moves.
    species : SpeciesParameters
        Its species.
    constants : array
        Thermal constants, shape (stages, sets) [°C d, or d for a shape].
    clock_of : callable
        Gives the clock of a place and a stage.
    ways : Ways or None
        The cohort's journeys by these clocks where they serve for more than this; None makes them.

    Returns
    -------
    array
        Ends of the stages, shape (stages, sets) [ms since 1970 UTC]; NaN for stages before the cohort's
        first, infinity where a stage never ends.

    Notes
    -----
    A stage ends when the development that it earned, over all places in which it was, reaches its constant.
    The remainder of the step belongs to the next stage.

    Source
    ------
    Linear degree-day model, integral of the rate reaching 1.
    """
    ends = np.full(constants.shape, np.nan)
    at_ms = np.full(constants.shape[1], float(track.start_ms))
    first = species.index_of(track.start_stage)
    ways = ways or Ways(track.stays(), track.start_ms, clock_of, constants.shape[1])
    way, reading = None, np.zeros(0)
    for index in range(first, len(species.stages)):
        before, way = way, ways.of(species.stages[index])
        if way is not before:
            reading = _readings(way, at_ms)
        reading = reading + constants[index] * (1.0 - track.start_progress if index == first else 1.0)
        at_ms = np.maximum(way.time_at(reading), at_ms)
        ends[index] = at_ms
    return ends


def _readings(way: Journey, at_ms: FloatArray) -> FloatArray:
    """Readings at times; infinite for courses that have come to a standstill."""
    finite = np.isfinite(at_ms)
    if finite.all():
        return way.units_at(at_ms)
    return np.where(finite, way.units_at(np.where(finite, at_ms, way.times_ms[0])), np.inf)


def advance(
    track: CohortTrack,
    species: SpeciesParameters,
    constants: FloatArray,
    clocks: Clocks,
    to_ms: int,
    state: DevelopmentState | None = None,
) -> DevelopmentState:
    """Where a cohort stands at a moment, from its start on or from an earlier state on.

    `constants` has shape (stages,) [°C d, or d for a shape]; the clocks reach to `to_ms`. Two steps give what
    one step over both gives. A span without known temperature stops it: the progress after it is unknown,
    never zero.
    """
    state = state or DevelopmentState(track.start_stage, track.start_progress, track.start_ms)
    while state.at_ms < to_ms and state.unknown_since_ms is None and state.progress < 1.0:
        state = _step(state, track, species, constants, clocks, to_ms)
    return state


def _step(
    state: DevelopmentState,
    track: CohortTrack,
    species: SpeciesParameters,
    constants: FloatArray,
    clocks: Clocks,
    to_ms: int,
) -> DevelopmentState:
    """One stay of one stage: until the stage ends, the cohort moves, or the time is reached."""
    index = species.index_of(state.stage)
    place, until_ms = _stay_at(track, state.at_ms, to_ms)
    clock = clocks.of(place, species.stages[index])
    if clock is None:
        return replace(state, at_ms=to_ms, unknown_since_ms=state.at_ms)
    now_units = clock.reading_at(float(state.at_ms))
    reached = clock.first_time(now_units + float(constants[index]) * (1.0 - state.progress))
    end_ms = min(reached, float(until_ms))
    gap_ms = first_unknown_ms(clock, state.at_ms, end_ms)
    if gap_ms is not None:
        return replace(state, at_ms=to_ms, unknown_since_ms=gap_ms, used=clock.used)
    if reached > until_ms:
        earned = clock.reading_at(end_ms) - now_units
        progress = min(state.progress + earned / float(constants[index]), 1.0 - 1e-12)
        return _moved(state, species, clock, end_ms, state.stage, progress)
    if index + 1 == len(species.stages):
        return _moved(state, species, clock, end_ms, state.stage, 1.0)
    return _moved(state, species, clock, end_ms, species.stages[index + 1].stage, 0.0)


def _stay_at(track: CohortTrack, at_ms: int, to_ms: int) -> tuple[str, int]:
    for place, from_ms, until_ms in track.stays():
        if from_ms <= at_ms < until_ms:
            return place, int(min(until_ms, to_ms))
    raise UsageError("cohort {cohort} has no place at that time", cohort=track.cohort)


def _moved(
    state: DevelopmentState,
    species: SpeciesParameters,
    clock: StageClock,
    end_ms: float,
    stage: Stage,
    progress: float,
) -> DevelopmentState:
    """A later state, with the hours that were estimated or too hot until then."""
    span = float(state.at_ms), end_ms
    heat = _between(clock, clock.heat_hours, span) if state.stage in species.heat_stages else 0.0
    estimated = state.estimated_hours + _between(clock, clock.estimated_hours, span)
    return DevelopmentState(
        stage, progress, round(end_ms), estimated, state.heat_hours + heat, state.unknown_since_ms, clock.used
    )


def _between(clock: StageClock, sums: FloatArray, span_ms: tuple[float, float]) -> float:
    """What a sum along the clock's record gained between two times; most records never gain any."""
    if sums[-1] == sums[0]:
        return 0.0
    start, end = np.interp(span_ms, clock.times_ms, sums).tolist()
    return float(end - start)


@dataclass(frozen=True, slots=True, eq=False)
class Life:
    """How far a cohort had grown at times up to now, shape (n,), and where it lived.

    `grown` is the share of the larval stage, below 0 before hatching and above 1 after it; `needed` the
    thermal constant of the larval stage [°C d, or d for a shape]. The last of `stays` ends when it ended.
    """

    cohort: str
    times_ms: FloatArray
    grown: FloatArray
    needed: float
    stays: tuple[Stay, ...]
    count: float | None = None

    def grown_at(self, at_ms: FloatArray) -> FloatArray:
        """How far it had grown at times [ms since 1970 UTC]; as at the ends of its record beyond them."""
        return np.asarray(np.interp(at_ms, self.times_ms, self.grown))

    def lived_in(self, place: str, from_ms: FloatArray, until_ms: FloatArray) -> FloatArray:
        """Whether it lived in a place over the whole of some spans [ms since 1970 UTC], as 0 or 1."""
        lived = np.zeros(len(from_ms))
        for where, since_ms, to_ms in self.stays:
            if where == place:
                lived[(from_ms >= since_ms) & (until_ms <= to_ms)] = 1.0
        return lived

    def came_ms(self, place: str, now_ms: float) -> float | None:
        """Since when it lives in a place where it lives now [ms since 1970 UTC]; None where it does not."""
        stay = self._stay_at(now_ms)
        return stay[1] if stay is not None and stay[0] == place else None

    def place_at(self, at_ms: float) -> str | None:
        """Where it lives at a time; None where it does not."""
        stay = self._stay_at(at_ms)
        return None if stay is None else stay[0]

    def _stay_at(self, at_ms: float) -> Stay | None:
        return next((each for each in self.stays if each[1] <= at_ms < each[2]), None)


def life_of(
    cohort: Cohort, species: SpeciesParameters, log_constants: FloatArray, clocks: Clocks
) -> Life | None:
    """The growth of a cohort along the record of its places; None for a species without larvae.

    `log_constants` are ln K of the farm, shape (stages,). It hatched when that was seen, else when its eggs
    had earned their constant. Source: integral of the rate, as in `stage_ends_ms`.
    """
    if not species.has(Stage.LARVA):
        return None
    needed = np.exp(log_constants)
    larva, first = species.index_of(Stage.LARVA), species.index_of(cohort.track.start_stage)
    begin_ms, before = _hatched(cohort, species, needed, clocks.of)
    if first >= larva:
        at_start = first - larva + cohort.track.start_progress
    elif not np.isfinite(begin_ms):
        times, grown = _not_hatched(cohort, species, needed, clocks.of)
        return _life(cohort, times, grown, float(needed[larva]))
    else:
        at_start = 0.0
    way = journey(cohort.track.stays(), begin_ms, species.stages[larva], clocks.of, 1)
    grown = at_start + way.units / needed[larva]
    times = way.times_ms
    if begin_ms > cohort.track.start_ms:
        times, grown = np.append(cohort.track.start_ms, times), np.append(-before, grown)
    return _life(cohort, times, grown, float(needed[larva]))


def _life(cohort: Cohort, times_ms: FloatArray, grown: FloatArray, needed: float) -> Life:
    end_ms = np.inf if cohort.ended is None else float(cohort.ended.at_ms)
    stays = tuple(
        (place, from_ms, min(until_ms, end_ms)) for place, from_ms, until_ms in cohort.track.stays()
    )
    return Life(cohort.name, times_ms, grown, needed, stays, cohort.track.count)


def _hatched(
    cohort: Cohort, species: SpeciesParameters, needed: FloatArray, clock_of: ClockOf
) -> tuple[float, float]:
    """When it hatched, and how long it was an egg in shares of a larval stage; infinite before it has."""
    track, larva = cohort.track, species.index_of(Stage.LARVA)
    if species.index_of(track.start_stage) >= larva:
        return float(track.start_ms), 0.0
    left = float(needed[:larva].sum()) * (1.0 - track.start_progress)
    seen = [each.at_ms for each in cohort.seen if each.event is Event.HATCH and each.at_ms > track.start_ms]
    if seen:
        return float(seen[-1]), left / float(needed[larva])
    way = journey(track.stays(), track.start_ms, species.stages[0], clock_of, 1)
    if way.units[-1] < left:
        return np.inf, left / float(needed[larva])
    return float(np.interp(left, way.units, way.times_ms)), left / float(needed[larva])


def _not_hatched(
    cohort: Cohort, species: SpeciesParameters, needed: FloatArray, clock_of: ClockOf
) -> tuple[FloatArray, FloatArray]:
    track, larva = cohort.track, species.index_of(Stage.LARVA)
    way = journey(track.stays(), track.start_ms, species.stages[0], clock_of, 1)
    left = float(needed[:larva].sum()) * (1.0 - track.start_progress) - way.units
    return way.times_ms, -left / float(needed[larva])


def mean_grown(lives: Iterable[Life], place: str, starts_ms: FloatArray) -> FloatArray:
    """How far those had grown who lived in a place all of each day, at its start, shape (days,).

    A day is 24 hours from its start [ms since 1970 UTC]. Weighted by their numbers; NaN where none did.
    """
    total, weights = np.zeros(len(starts_ms)), np.zeros(len(starts_ms))
    for life in lives:
        lived = life.lived_in(place, starts_ms, starts_ms + MS_PER_DAY)
        if lived.any():
            lived *= max(life.count or 1.0, 1.0)
            total += lived * life.grown_at(starts_ms)
            weights += lived
    # Rounded, so that another number of the same animals changes nothing by its last bits.
    mean = np.round(total / np.where(weights > 0.0, weights, 1.0), 9)
    return np.where(weights > 0.0, mean, np.nan)


@dataclass(frozen=True, slots=True)
class Leaving:
    """How far grown cohorts are when they leave a bin, its standard deviation [share of the larval stage].

    `place` is where they go; `moves` how many that were made it rests on, 0 for the default.
    """

    place: str
    grown: float = LEAVES_AT
    sd: float = LEAVES_SD
    moves: int = 0


def usual_leaving(
    lives: Mapping[str, Life], leave: Collection[str], into: Collection[str], now_ms: float, default: str
) -> Leaving:
    """When cohorts leave the places `leave` for the places `into`, from the moves that were made by now.

    Without any it is the default, which counts as one move where there are some. They go where the last one
    went, else to the place `default`. Source: shrinkage towards a default; numbers are own choices.
    """
    moves = [
        (from_ms, float(life.grown_at(np.array([from_ms]))[0]), place)
        for life in lives.values()
        for (before, _, _), (place, from_ms, _) in pairwise(life.stays)
        if before in leave and place in into and from_ms <= now_ms
    ]
    if not moves:
        return Leaving(default)
    grown = np.array([each[1] for each in moves])
    mean = (LEAVES_COUNTS * LEAVES_AT + grown.sum()) / (LEAVES_COUNTS + len(grown))
    square = LEAVES_COUNTS * LEAVES_SD**2 + float(((grown - mean) ** 2).sum())
    return Leaving(
        max(moves)[2], float(mean), float(np.sqrt(square / (LEAVES_COUNTS + len(grown)))), len(grown)
    )
