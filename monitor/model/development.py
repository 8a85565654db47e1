"""How far a cohort is: development summed over the places in which it lived.

The work on temperatures is done once for each place and law (`StageClock`): a clock that counts degree-days
instead of hours. Cohorts only read these clocks. A stage ends at the exact reading of its clock, and the next
one starts there, within the step: nothing of a step is dropped at a boundary.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from monitor.errors import UsageError
from monitor.model.clocks import NEVER_MS, Clock, ClockOf, Clocks, StageClock, first_unknown_ms
from monitor.model.degree_days import FloatArray, IntArray
from monitor.model.rates import DrivenBy, SpeciesParameters, StageParameters
from monitor.model.temperature_series import BoolArray
from monitor.records import MS_PER_DAY, Stage


@dataclass(frozen=True, slots=True)
class Residence:
    """From when on a cohort lives in a place; later ones may be planned moves."""

    place: str
    from_ms: int


@dataclass(frozen=True, slots=True)
class CohortTrack:
    """One cohort: where and when it began, where it lives, how many animals it has.

    `start_sd_days` is how sure the start is (a laying window). A cohort that was bought older begins at its
    stage with `age_days` of life behind it, which only matters for how far its animals are spread.
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
            raise UsageError(f"cohort {self.cohort} lives nowhere; give it a place")
        if any(later.from_ms <= earlier.from_ms for earlier, later in pairwise(self.residences)):
            raise UsageError(f"cohort {self.cohort}: its moves must be in the order of time")
        if not 0.0 <= self.start_progress < 1.0:
            raise UsageError(
                f"cohort {self.cohort}: start_progress is {self.start_progress:g}; allowed: 0 up to 1"
            )

    @property
    def origin_ms(self) -> float:
        """When the animals' life began [ms since 1970 UTC]; their spread grows from there."""
        return self.start_ms - self.age_days * MS_PER_DAY

    def stays(self) -> tuple[tuple[str, float, float], ...]:
        """Place, from, to [ms since 1970 UTC]; the first stay reaches back, the last never ends."""
        starts = [-NEVER_MS, *(float(stay.from_ms) for stay in self.residences[1:])]
        ends = [*starts[1:], NEVER_MS]
        return tuple((stay.place, a, b) for stay, a, b in zip(self.residences, starts, ends, strict=True))


@dataclass(frozen=True, slots=True)
class StageEnd:
    """A stage ended, by the model."""

    stage: Stage
    at_ms: int


@dataclass(frozen=True, slots=True)
class DevelopmentState:
    """Where a cohort's middle animal stands. Progress is the share of the stage, 0 to 1.

    With `unknown_since_ms` set nothing may be said about the time after it until an event is seen.
    """

    stage: Stage
    progress: float
    at_ms: int
    estimated_hours: float = 0.0
    heat_hours: float = 0.0
    unknown_since_ms: int | None = None
    used: DrivenBy | None = None


def stage_ends_ms(
    tracks: Sequence[CohortTrack], species: SpeciesParameters, constants: FloatArray, clock_of: ClockOf
) -> FloatArray:
    """When each stage of some cohorts ends, for many sets of thermal constants at once.

    Parameters
    ----------
    tracks : sequence of CohortTrack
        The cohorts with their places and planned moves.
    species : SpeciesParameters
        Their species.
    constants : array
        Thermal constants (cohorts, stages, sets) [°C d, or d for a shape].
    clock_of : callable
        Gives the clock of a place and a stage.

    Returns
    -------
    array
        Ends of the stages, same form as `constants` [ms since 1970 UTC]; NaN for stages before a cohort's
        first, infinity where a stage never ends.

    Notes
    -----
    A stage ends when the development that it earned, over all places in which it was, reaches its constant.
    The remainder of the step belongs to the next stage. Cohorts are taken together so that each clock is read
    seldom and for many values.

    Source
    ------
    Linear degree-day model, integral of the rate reaching 1.
    """
    ends = np.full(constants.shape, np.nan)
    at_ms = np.repeat([[float(track.start_ms)] for track in tracks], constants.shape[2], axis=1)
    first = np.array([species.index_of(track.start_stage) for track in tracks])
    progress = np.array([track.start_progress for track in tracks])
    stays = _stays_by_turn(tracks)
    for index, stage in enumerate(species.stages):
        rows = np.flatnonzero(first <= index)
        missing = constants[:, index] * np.where(first == index, 1.0 - progress, 1.0)[:, None]
        open_ = np.isfinite(at_ms) & (first <= index)[:, None]
        at_ms[rows] = _stage_end(stays, stage, at_ms, missing, open_, clock_of)[rows]
        ends[rows, index] = at_ms[rows]
    return ends


@dataclass(frozen=True, slots=True, eq=False)
class _Turn:
    """The cohorts whose first (second, ...) stay is in one place, and from when to when."""

    place: str
    rows: IntArray
    from_ms: FloatArray
    until_ms: FloatArray


def _stays_by_turn(tracks: Sequence[CohortTrack]) -> list[_Turn]:
    found: dict[tuple[int, str], list[tuple[int, float, float]]] = {}
    for row, track in enumerate(tracks):
        for number, (place, from_ms, until_ms) in enumerate(track.stays()):
            found.setdefault((number, place), []).append((row, from_ms, until_ms))
    ordered = sorted(found, key=lambda turn: turn[0])
    return [
        _Turn(turn[1], *(np.array(column) for column in zip(*found[turn], strict=True))) for turn in ordered
    ]


def _stage_end(
    turns: list[_Turn],
    stage: StageParameters,
    start_ms: FloatArray,
    missing: FloatArray,
    open_: BoolArray,
    clock_of: ClockOf,
) -> FloatArray:
    """Walk through the stays until the stage has earned what it misses; `open_` marks what still walks."""
    end_ms, at_ms = np.full(start_ms.shape, NEVER_MS), start_ms.copy()
    for turn in turns:
        inner, courses = np.nonzero(open_[turn.rows] & (at_ms[turn.rows] < turn.until_ms[:, None]))
        if not len(inner):
            continue
        cohorts = turn.rows[inner]
        clock = clock_of(turn.place, stage)
        if clock is not None:
            target = (
                _start_units(clock, turn, at_ms[cohorts, courses], inner, courses) + missing[cohorts, courses]
            )
            left = target - clock.readings_at(turn.until_ms, at_ms.shape[1])[inner, courses]
            done = left <= 0.0
            end_ms[cohorts[done], courses[done]] = clock.time_at(target[done], courses[done])
            open_[cohorts[done], courses[done]] = False
            missing[cohorts, courses] = left
        at_ms[cohorts, courses] = turn.until_ms[inner]
    return end_ms


def _start_units(
    clock: Clock, turn: _Turn, at_ms: FloatArray, inner: IntArray, courses: IntArray
) -> FloatArray:
    """Readings where the stay finds each course: at the move, or later when a stage ended within the stay."""
    inside = at_ms > turn.from_ms[inner]
    if inside.all():
        return clock.units_at(at_ms, courses)
    number = int(courses.max()) + 1
    units: FloatArray = clock.readings_at(turn.from_ms, number)[inner, courses]
    units[inside] = clock.units_at(at_ms[inside], courses[inside])
    return units


def begin(track: CohortTrack) -> DevelopmentState:
    """State of a cohort at its start.

    Parameters
    ----------
    track : CohortTrack
        The cohort.

    Returns
    -------
    DevelopmentState
        At its first stage, progress [1] as the track says.
    """
    return DevelopmentState(track.start_stage, track.start_progress, track.start_ms)


def advance(
    state: DevelopmentState,
    track: CohortTrack,
    species: SpeciesParameters,
    constants: FloatArray,
    clocks: Clocks,
    to_ms: int,
) -> tuple[DevelopmentState, tuple[StageEnd, ...]]:
    """Carry a cohort from one moment to a later one.

    Parameters
    ----------
    state : DevelopmentState
        Where it stands.
    track : CohortTrack
        Where it lives.
    species : SpeciesParameters
        Its species.
    constants : array
        Thermal constant of each stage [°C d, or d for a shape].
    clocks : Clocks
        Clocks of the places, reaching to `to_ms`.
    to_ms : int
        The later moment [ms since 1970 UTC]; the earlier one gives the state back unchanged.

    Returns
    -------
    tuple
        The new state, and the stages that ended on the way.

    Notes
    -----
    Two steps give what one step over both gives. A span without known temperature stops it: the progress
    after it is unknown, never zero growth.

    Source
    ------
    Own; see `stage_ends_ms`.
    """
    ended: list[StageEnd] = []
    while state.at_ms < to_ms and state.unknown_since_ms is None:
        before = state
        state = _step(state, track, species, constants, clocks, to_ms)
        if state.stage is not before.stage:
            ended.append(StageEnd(before.stage, state.at_ms))
        elif state.progress >= 1.0:
            return state, (*ended, StageEnd(state.stage, state.at_ms)) if before.progress < 1.0 else tuple(
                ended
            )
    return state, tuple(ended)


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
    now = np.array([float(state.at_ms)])
    missing = constants[index] * (1.0 - state.progress)
    reached = float(clock.time_at(clock.units_at(now) + missing)[0])
    end_ms = min(reached, float(until_ms))
    gap_ms = first_unknown_ms(clock, state.at_ms, end_ms)
    if gap_ms is not None:
        return replace(state, at_ms=to_ms, unknown_since_ms=gap_ms, used=clock.used)
    moved = _with_hours(state, species, clock, end_ms)
    if reached > until_ms:
        earned = float(clock.units_at(np.array([end_ms]))[0] - clock.units_at(now)[0])
        return replace(moved, progress=min(state.progress + earned / float(constants[index]), 1.0 - 1e-12))
    if index + 1 == len(species.stages):
        return replace(moved, progress=1.0)
    return replace(moved, stage=species.stages[index + 1].stage, progress=0.0)


def _stay_at(track: CohortTrack, at_ms: int, to_ms: int) -> tuple[str, int]:
    for place, from_ms, until_ms in track.stays():
        if from_ms <= at_ms < until_ms:
            return place, int(min(until_ms, to_ms))
    raise UsageError(f"cohort {track.cohort} has no place at that time")


def _with_hours(
    state: DevelopmentState, species: SpeciesParameters, clock: StageClock, end_ms: float
) -> DevelopmentState:
    span = [float(state.at_ms), end_ms]
    estimated = np.interp(span, clock.times_ms, clock.estimated_hours)
    heat = (
        np.interp(span, clock.times_ms, clock.heat_hours)
        if state.stage in species.heat_stages
        else [0.0, 0.0]
    )
    return replace(
        state,
        at_ms=round(end_ms),
        estimated_hours=state.estimated_hours + float(estimated[1] - estimated[0]),
        heat_hours=state.heat_hours + float(heat[1] - heat[0]),
        used=clock.used,
    )
