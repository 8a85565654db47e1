"""When what is going to happen: events with their windows, the emergence curve, and what it all rests on.

An ensemble of courses: each draws its own thermal constants from the farm's belief and its own future out
of past days. The window of an event holds 80 % of the courses.
"""

from __future__ import annotations

import zlib
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from monitor.model.belief import Evidence, FarmBelief, cohort_draws, cohort_mean
from monitor.model.clocks import ClockOf, Clocks
from monitor.model.degree_days import FloatArray, Values
from monitor.model.development import CohortTrack, DevelopmentState, advance, begin, stage_ends_ms
from monitor.model.emergence import EmergenceDay, emergence_days, survivors
from monitor.model.ensemble import FutureDraws
from monitor.model.events import EVENTS, Event, ended_stage, events_of
from monitor.model.individuals import emergence_log_sd, time_of_share
from monitor.model.rates import DrivenBy, SpeciesParameters, StageParameters
from monitor.records import MS_PER_DAY, MS_PER_HOUR, Stage

LOW_SHARE, HIGH_SHARE = 0.1, 0.9
"""Bounds of the 80 % window [1]."""
NO_PROBE_LOG_SD = 0.15
"""Widening of a stage that goes by the substrate but is read from the air [1]. Own choice."""
ESTIMATED_LOG_SD = 0.13
"""Widening when all hours of a stage are estimated [1]: 2 °C in 15 °C above the threshold. Own choice."""


class Heat(StrEnum):
    """What the hours above the damage limit mean for the emergence."""

    NONE = "none"
    WARNING = "warning"
    MAY_FAIL = "may_fail"


@dataclass(frozen=True, slots=True)
class EventForecast:
    """One event: median and the window that holds it with 80 % probability; infinite where it never comes."""

    event: Event
    median_ms: float
    low_ms: float
    high_ms: float


@dataclass(frozen=True, slots=True)
class CohortForecast:
    """All that is forecast of one cohort, and what it rests on.

    `units_done` of `units_needed` are degree-days of the present stage. `cohorts` is the smallest number of
    own cohorts that the stages still to come rest on. With `unknown_since_ms` there are no events.
    """

    cohort: str
    made_ms: int
    stage: Stage
    progress: float
    units_done: float
    units_needed: float
    events: tuple[EventForecast, ...]
    emergence: tuple[EmergenceDay, ...]
    estimated_hours: float
    heat_hours: float
    heat: Heat
    used: DrivenBy | None
    without_probe: bool
    cohorts: int
    unknown_since_ms: int | None = None

    def event(self, event: Event) -> EventForecast | None:
        """The forecast of one event, None when it is not among them."""
        return next((found for found in self.events if found.event is event), None)

    def next_event(self) -> EventForecast | None:
        """The first event whose median is still to come."""
        coming = [found for found in self.events if found.median_ms > self.made_ms]
        return min(coming, key=lambda found: found.median_ms, default=None)


@dataclass(frozen=True, slots=True, eq=False)
class CohortCourses:
    """The courses of one cohort: ends of its stages (stages, draws), and the share that lives to emerge."""

    track: CohortTrack
    ends_ms: FloatArray
    survival: FloatArray

    def half_emerged_ms(self, species: SpeciesParameters) -> FloatArray | None:
        """Half emergence of each course; None when the cohort has none to come."""
        index = ended_stage(Event.HALF_EMERGED, species)
        if index is None or index < species.index_of(self.track.start_stage):
            return None
        half: FloatArray = self.ends_ms[index]
        return half


def courses_of(
    track: CohortTrack,
    species: SpeciesParameters,
    belief: FarmBelief,
    evidence: Evidence | None,
    clock_of: ClockOf,
    draws: FutureDraws,
    seed: int,
    extra_log_sd: FloatArray | None = None,
) -> CohortCourses:
    """Possible courses of one cohort.

    Parameters
    ----------
    track : CohortTrack
        The cohort with its planned moves.
    species : SpeciesParameters
        Its species.
    belief : FarmBelief
        What the farm has taught.
    evidence : Evidence or None
        What was seen of this cohort.
    clock_of : callable
        Ensemble clocks, see `ensemble_clocks`.
    draws : FutureDraws
        The shared random numbers.
    seed : int
        The same seed gives the same courses [1].
    extra_log_sd : array or None
        Widening of ln K for each stage [1].

    Returns
    -------
    CohortCourses
        Ends of the stages [ms since 1970 UTC], one column a course.

    Source
    ------
    Own choice; see `cohort_draws` and `stage_ends_ms`.
    """
    stages, number = len(species.stages), draws.draws
    farm = np.random.default_rng([seed, 1]).standard_normal((stages, number))
    own = np.random.default_rng([seed, 2, zlib.crc32(track.cohort.encode())])
    extra = np.zeros(stages) if extra_log_sd is None else extra_log_sd
    constants = np.exp(cohort_draws(belief, evidence, farm, own.standard_normal((stages, number)), extra))
    ends = stage_ends_ms(track, species, constants, clock_of)
    return CohortCourses(track, ends, survivors(track, species, own.random((stages, number))))


def forecast_cohort(
    track: CohortTrack,
    species: SpeciesParameters,
    belief: FarmBelief,
    evidence: Evidence | None,
    clocks: Clocks,
    clock_of: ClockOf,
    draws: FutureDraws,
    now_ms: int,
    seed: int = 1,
    day_origin_ms: int | None = None,
) -> CohortForecast:
    """Forecast of one cohort.

    Parameters
    ----------
    track : CohortTrack
        The cohort with its planned moves.
    species : SpeciesParameters
        Its species.
    belief : FarmBelief
        What the farm has taught, see `prior_belief` and `learn`.
    evidence : Evidence or None
        What was seen of this cohort, see `evidence_of`.
    clocks : Clocks
        Clocks of the places over the past, reaching to now.
    clock_of : callable
        Ensemble clocks, see `ensemble_clocks`.
    draws : FutureDraws
        The shared random numbers, see `future_draws`.
    now_ms : int
        Now [ms since 1970 UTC].
    seed : int
        The same seed gives the same forecast [1].
    day_origin_ms : int or None
        Any local midnight [ms since 1970 UTC], so that the days of the curve are the farm's days.

    Returns
    -------
    CohortForecast
        Events, curve and what they rest on.

    Source
    ------
    Own choice; heat limit from Tomberlin, Adler & Myers 2009, Environ. Entomol. 38:930-934.
    """
    constants = np.exp(cohort_mean(belief, evidence))
    state, _ = advance(begin(track), track, species, constants, clocks, now_ms)
    if state.unknown_since_ms is not None:
        return _summary(track, species, belief, state, constants, (), (), now_ms, False)
    extra, without_probe = widening(track, species, clocks, state)
    courses = courses_of(track, species, belief, evidence, clock_of, draws, seed, extra)
    events = event_forecasts(courses, species, belief)
    half = courses.half_emerged_ms(species)
    curve: tuple[EmergenceDay, ...] = ()
    if half is not None:
        origin = now_ms // MS_PER_DAY * MS_PER_DAY if day_origin_ms is None else day_origin_ms
        number = None if track.count is None else track.count * courses.survival
        curve = emergence_days(half, track.origin_ms, belief.spread_log_sd, species.adult, origin, number)
    return _summary(track, species, belief, state, constants, events, curve, now_ms, without_probe)


def event_forecasts(
    courses: CohortCourses, species: SpeciesParameters, belief: FarmBelief
) -> tuple[EventForecast, ...]:
    """Median and 80 % window of each event that this cohort has.

    Parameters
    ----------
    courses : CohortCourses
        Its possible courses.
    species : SpeciesParameters
        Its species.
    belief : FarmBelief
        For the spread between animals [1].

    Returns
    -------
    tuple of EventForecast
        In the order of events [ms since 1970 UTC].

    Source
    ------
    Quantiles of the ensemble.
    """
    first = species.index_of(courses.track.start_stage)
    found = []
    for event in events_of(species):
        index = ended_stage(event, species)
        if index is None or index < first:
            continue
        times = _event_times(courses, event, index, species, belief)
        low, median, high = quantiles(times, (LOW_SHARE, 0.5, HIGH_SHARE))
        found.append(EventForecast(event, median, low, high))
    return tuple(found)


def _event_times(
    courses: CohortCourses, event: Event, index: int, species: SpeciesParameters, belief: FarmBelief
) -> FloatArray:
    middle: FloatArray = courses.ends_ms[index]
    origin = courses.track.origin_ms
    share = EVENTS[event].share
    if share == 0.5:
        return middle
    log_sd: Values = belief.spread_log_sd
    if EVENTS[event].begins is Stage.ADULT:
        log_sd = emergence_log_sd(belief.spread_log_sd, species.adult, (middle - origin) / MS_PER_DAY)
    return time_of_share(origin, middle, log_sd, share)


def quantiles(values: FloatArray, shares: tuple[float, ...]) -> tuple[float, ...]:
    """Quantiles that also stand infinite values.

    Parameters
    ----------
    values : array
        Any values; some may be infinite.
    shares : tuple of float
        Shares, between 0 and 1 [1].

    Returns
    -------
    tuple of float
        The order statistic nearest to each share.

    Source
    ------
    Empirical quantile, nearest rank.
    """
    ranks = [round(share * (len(values) - 1)) for share in shares]
    ordered = np.partition(values, ranks)
    return tuple(float(ordered[rank]) for rank in ranks)


def widening(
    track: CohortTrack, species: SpeciesParameters, clocks: Clocks, state: DevelopmentState
) -> tuple[FloatArray, bool]:
    """How much wider ln K of each stage gets for what the sensors do not tell.

    Parameters
    ----------
    track : CohortTrack
        The cohort.
    species : SpeciesParameters
        Its species.
    clocks : Clocks
        Which temperature each place could give.
    state : DevelopmentState
        With its estimated hours [h].

    Returns
    -------
    tuple
        Log-sd of each stage [1], and whether a stage that goes by the substrate is read from the air.

    Notes
    -----
    sqrt(probe^2 + (0.13 share of estimated hours)^2).

    Source
    ------
    Own choice; the size of the first from Padmanabha et al. 2023, who saw 13 °C between substrate and air.
    """
    current = species.index_of(state.stage)
    lived_hours = max((state.at_ms - track.start_ms) / MS_PER_HOUR, 1.0)
    estimated = ESTIMATED_LOG_SD * min(state.estimated_hours / lived_hours, 1.0)
    extra = np.zeros(len(species.stages))
    extra[: current + 1] = estimated
    blind = [_reads_air(track, stage, clocks) for stage in species.stages]
    extra = np.where(blind, np.hypot(extra, NO_PROBE_LOG_SD), extra)
    return extra, any(blind[current:])


def _reads_air(track: CohortTrack, stage: StageParameters, clocks: Clocks) -> bool:
    if stage.driven_by is not DrivenBy.SUBSTRATE:
        return False
    found = [clocks.of(stay.place, stage) for stay in track.residences]
    return any(clock is not None and clock.used is DrivenBy.AIR for clock in found)


def heat_of(hours: float, species: SpeciesParameters) -> Heat:
    """What hours above the damage limit mean.

    Parameters
    ----------
    hours : float
        Hours above `heat_damage_c` as larva, prepupa and pupa [h].
    species : SpeciesParameters
        The limits.

    Returns
    -------
    Heat
        Nothing, a warning, or that the emergence may fail.

    Source
    ------
    Tomberlin, Adler & Myers 2009: 0.1 % survive at 36 °C, 74-97 % at 27 and 30 °C; the 24 h are our own
    choice.
    """
    if hours <= 0.0:
        return Heat.NONE
    return Heat.MAY_FAIL if hours >= species.heat_failure_hours else Heat.WARNING


def _summary(
    track: CohortTrack,
    species: SpeciesParameters,
    belief: FarmBelief,
    state: DevelopmentState,
    constants: FloatArray,
    events: tuple[EventForecast, ...],
    curve: tuple[EmergenceDay, ...],
    now_ms: int,
    without_probe: bool,
) -> CohortForecast:
    index = species.index_of(state.stage)
    needed = float(constants[index])
    return CohortForecast(
        cohort=track.cohort,
        made_ms=now_ms,
        stage=state.stage,
        progress=state.progress,
        units_done=state.progress * needed,
        units_needed=needed,
        events=events,
        emergence=curve,
        estimated_hours=state.estimated_hours,
        heat_hours=state.heat_hours,
        heat=heat_of(state.heat_hours, species),
        used=state.used,
        without_probe=without_probe,
        cohorts=min(belief.cohorts[index:]),
        unknown_since_ms=state.unknown_since_ms,
    )
