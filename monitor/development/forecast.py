"""Forecasts of a cohort: events with their 80 % windows, the emergence curve, and what they rest on.

An ensemble of courses: each draws its own thermal constants from the farm's posterior and its own future out
of past days. The window of an event holds 80 % of the courses.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from itertools import zip_longest

import numpy as np

from monitor.climate.arrays import FloatArray
from monitor.development.clocks import Clocks, heat_stage
from monitor.development.courses import (
    CohortCase,
    CohortCourses,
    EmergenceDay,
    ForecastBasis,
    courses_of,
    emergence_days,
)
from monitor.development.events import (
    EVENTS,
    Event,
    Observation,
    ended_stage,
    event_at_ms,
    events_of,
    time_of_share,
)
from monitor.development.kept import Kept
from monitor.development.posterior import FarmPosterior, cohort_mean
from monitor.development.progress import Cohort, CohortTrack, DevelopmentState, advance
from monitor.development.rates import DrivenBy, SpeciesParameters, StageParameters
from monitor.records import MS_PER_DAY, MS_PER_HOUR, Stage

UNHATCHED_DAYS = 2
"""So long after the high bound of the hatch no egg is expected to live [d]. Own choice."""
LOW_SHARE, HIGH_SHARE = 0.1, 0.9
"""Bounds of the 80 % window [1]."""
SPREAD_BY_COURSE = (Event.FIRST_EMERGED, Event.MOST_EMERGED, Event.FIRST_EGGS)
"""Events that rest on how far the flies of a box spread, which differs between courses."""
NO_PROBE_LOG_SD = 0.15
"""Widening of a stage that goes by the substrate but is read from the air [1]. Own choice."""
ESTIMATED_LOG_SD = 0.13
"""Widening when all hours of a stage are estimated [1]: 2 °C in 15 °C above the threshold. Own choice."""


FLED_LOG_SD = 0.1
"""Widening of the larval stage when larvae flee from a probe all the time [1]: which temperature they choose
is not known, 29.5 °C (preferred outside feed) or 35 (end of the fastest growth). Own choice."""
DEAD_SHARE = 0.01
"""Below this share nothing is left of a cohort, for a person [1]. Own choice."""
FIRST_OF_MANY = 1e-4
"""Share of the animals that counts as the first of a box of any size, where it is guarded [1]. Own choice:
one of ten thousand; the first that is noticed comes later."""
UNLIKELY = 0.01
"""A stage that comes with this chance is guarded [1]. Own choice: below a few per cent even where only a
hundred courses are looked at."""
HEAT_NOW_MS = 3 * MS_PER_HOUR
"""How hot it is now is the mean of so long [ms]. Own choice."""


class Heat(StrEnum):
    """What heat, had and expected, means for the emergence."""

    NONE = "none"
    WARNING = "warning"
    MAY_FAIL = "may_fail"
    NONE_LIVE = "none_live"


class Cause(StrEnum):
    """Why a stage does not end."""

    COLD = "cold"
    HEAT = "heat"


@dataclass(frozen=True, slots=True)
class Standstill:
    """A stage that will not finish at the present temperatures: it would last longer than is credible [d]."""

    stage: Stage
    cause: Cause
    longest_days: float


@dataclass(frozen=True, slots=True)
class HeatHarm:
    """Share of the animals that lives through the heat until they emerge, with its 80 % band [1].

    `half_in_hours` is the time in which half of those that cannot flee die where they are now, as hot as it
    is; infinite where it is not too hot.
    """

    lives: float
    low: float
    high: float
    half_in_hours: float


@dataclass(frozen=True, slots=True)
class EventForecast:
    """One event: median and the window that holds it with 80 % probability; infinite where it never comes."""

    event: Event
    median_ms: float
    low_ms: float
    high_ms: float


@dataclass(frozen=True, slots=True)
class StageStart:
    """When the first of many animals begin a stage at the earliest [ms since 1970 UTC]; for guarding."""

    stage: Stage
    earliest_ms: float


@dataclass(frozen=True, slots=True)
class CohortForecast:
    """All that is forecast of one cohort, and what it rests on.

    `units_done` of `units_needed` are degree-days of the present stage. `cohorts` is the smallest number of
    own cohorts that the stages up to emergence rest on. With `unknown_since_ms` there are no events. Events
    behind a `standstill` have no date. `harm` is what heat does to it, None where it is never too hot.
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
    standstill: Standstill | None = None
    harm: HeatHarm | None = None
    starts: tuple[StageStart, ...] = ()

    @property
    def known_stage(self) -> Stage | None:
        """The stage of the middle animal, None where its temperature was not known for too long."""
        return None if self.unknown_since_ms is not None else self.stage

    def event(self, event: Event) -> EventForecast | None:
        """The forecast of one event, None when it is not among them."""
        return next((forecast for forecast in self.events if forecast.event is event), None)

    def next_event(self) -> EventForecast | None:
        """The first event whose median is still to come."""
        coming = [forecast for forecast in self.events if forecast.median_ms > self.made_ms]
        return min(coming, key=lambda forecast: forecast.median_ms, default=None)


ReadOff = tuple[tuple[EventForecast, ...], tuple[EmergenceDay, ...], tuple[StageStart, ...]]


def possible_stages(cohort: Cohort, forecast: CohortForecast, now_ms: int) -> frozenset[Stage]:
    """The stages in which animals of a cohort may be at `now_ms` [ms since 1970 UTC]; empty: not known.

    A stage is possible from the low bound of the first event that begins it, flies from the earliest of many
    (`starts`), to beyond the high bound of the last event that begins the next, by as much as that lies after
    the median. The stage that was seen last, or with which the cohort began, is always among them; eggs that
    somebody has moved on since only until two days after the latest hatch, since none lives then.

    Source: own choice. A few prepupae among thousands of larvae do not make the bin one of prepupae; a single
    fly in a cage wants the guard of the cage.
    """
    begins = {event: EVENTS[event.event].begins for event in forecast.events}
    if forecast.unknown_since_ms is not None or not begins:
        return frozenset()
    order = [stage for stage in Stage if stage in begins.values() or stage is cohort.track.start_stage]
    last = max(cohort.seen, key=lambda seen: seen.at_ms, default=None)
    known = (EVENTS[last.event].begins if last else None) or cohort.track.start_stage
    was_moved = any(cohort.track.start_ms < stay.from_ms <= now_ms for stay in cohort.track.residences)
    found = set() if known is Stage.EGG and was_moved and _hatched_or_dead(forecast, now_ms) else {known}
    for stage, following in zip_longest(order, order[1:]):
        low_ms = min((event.low_ms for event, of in begins.items() if of is stage), default=-math.inf)
        if stage is Stage.ADULT:
            low_ms = min([low_ms, *(start.earliest_ms for start in forecast.starts if start.stage is stage)])
        ends = (2 * event.high_ms - event.median_ms for event, of in begins.items() if of is following)
        if low_ms <= now_ms <= max((end for end in ends if not math.isnan(end)), default=math.inf):
            found.add(stage)
    return frozenset(found)


def _hatched_or_dead(forecast: CohortForecast, now_ms: int) -> bool:
    hatch = forecast.event(Event.HATCH)
    return hatch is not None and hatch.high_ms + UNHATCHED_DAYS * MS_PER_DAY < now_ms


def first_flies_ms(forecast: CohortForecast, now_ms: int) -> int | None:
    """When first flies may have come out [ms since 1970 UTC]: the latest bound of their window that is past.

    Before their window lies the earliest fly of many (`starts`). None where even that lies ahead of `now_ms`.
    """
    first = forecast.event(Event.FIRST_EMERGED)
    earliest = [start.earliest_ms for start in forecast.starts if start.stage is Stage.ADULT]
    bounds = earliest if first is None else [*earliest, first.low_ms, first.median_ms, first.high_ms]
    return max((int(bound) for bound in bounds if bound <= now_ms), default=None)


def forecast_cohorts(
    cases: Sequence[CohortCase],
    species: SpeciesParameters,
    posterior: FarmPosterior,
    basis: ForecastBasis,
    kept: Kept | None = None,
) -> list[CohortForecast]:
    """Forecasts of cohorts of one species, in the order of the cases.

    `cases` hold the cohorts with their planned moves and their evidence (`evidence_of`); `kept` holds what
    was worked out at an earlier look.

    Source: own choice; heat limit from Tomberlin, Adler & Myers 2009, Environ. Entomol. 38:930-934.
    """
    states = [_state_now(case, species, posterior, basis) for case in cases]
    known = [number for number, state in enumerate(states) if state.unknown_since_ms is None]
    wider = [widening(cases[number].track, species, basis.clocks, states[number]) for number in known]
    extra = np.array([part[0] for part in wider]) if wider else None
    courses = courses_of([cases[number] for number in known], species, posterior, basis, extra, kept)
    forecasts = [
        _summary(case, species, posterior, state, basis) for case, state in zip(cases, states, strict=True)
    ]
    for number, course, (_, without_probe) in zip(known, courses, wider, strict=True):
        events, emergence, starts = _read_off(course, species, posterior, basis, kept)
        harm = _harm(course, species, basis, states[number])
        forecasts[number] = replace(
            forecasts[number],
            events=events,
            emergence=emergence,
            starts=starts,
            without_probe=without_probe,
            harm=harm,
            heat=forecasts[number].heat if species.death is None else heat_judged(harm),
            standstill=standstill_of(course, species, basis),
        )
    return forecasts


def _read_off(
    course: CohortCourses,
    species: SpeciesParameters,
    posterior: FarmPosterior,
    basis: ForecastBasis,
    kept: Kept | None,
) -> ReadOff:
    """What is read off the courses of a cohort, from an earlier look where they are the same."""

    def make() -> ReadOff:
        middle_ms = _middle_animals(course)
        events = event_forecasts(course, species, posterior, middle_ms)
        starts = stage_starts(course, species, posterior, middle_ms)
        return events, _curve(course, species, posterior, basis), starts

    # Courses that are the same object were made from the same posterior and the same basis.
    return make() if kept is None else kept.of(("read off", course.track.cohort), course, make)


def standstill_of(
    course: CohortCourses, species: SpeciesParameters, basis: ForecastBasis
) -> Standstill | None:
    """The first stage that does not end in most courses; None where all end, or a temperature is not known.

    It is too hot where heat kills at least half of the animals on the way, else too cold.
    """
    for index in range(species.index_of(course.track.start_stage), len(species.stages)):
        if 2 * np.count_nonzero(np.isinf(course.ends_ms[index])) <= course.ends_ms.shape[1]:
            continue
        stage = species.stages[index]
        if any(basis.ensemble(stay.place, stage) is None for stay in course.track.residences):
            return None
        killed = course.halvings is not None and float(np.median(course.halvings)) >= 1.0
        return Standstill(stage.stage, Cause.HEAT if killed else Cause.COLD, stage.longest_days)
    return None


def _harm(
    course: CohortCourses, species: SpeciesParameters, basis: ForecastBasis, state: DevelopmentState
) -> HeatHarm | None:
    """What heat does to a cohort, from the halvings of its courses."""
    if course.halvings is None or not course.halvings.any():
        return None
    low, middle, high = quantiles(0.5**course.halvings, (LOW_SHARE, 0.5, HIGH_SHARE))
    return HeatHarm(middle, low, high, _hours_to_half(course.track, species, basis, state))


def _hours_to_half(
    track: CohortTrack, species: SpeciesParameters, basis: ForecastBasis, state: DevelopmentState
) -> float:
    """Hours in which half of the animals die at the heat of the last hours; infinite where it is not hot."""
    heat = heat_stage(species, species.stages[species.index_of(state.stage)])
    places = [stay.place for stay in track.residences if stay.from_ms <= basis.now_ms]
    clock = None if heat is None or not places else basis.clocks.of(places[-1], heat)
    if clock is None:
        return math.inf
    span = np.array([basis.now_ms - HEAT_NOW_MS, basis.now_ms], dtype=np.float64)
    earned = float(np.diff(clock.units_at(span))[0])
    return HEAT_NOW_MS / MS_PER_HOUR / earned if earned > 0.0 else math.inf


def heat_judged(harm: HeatHarm | None) -> Heat:
    """What is left of a cohort by heat: none of it, less than half, less than all.

    Source: own choice of the borders; the numbers of `ThermalDeath` stand in the species file.
    """
    if harm is None:
        return Heat.NONE
    if harm.high < DEAD_SHARE:
        return Heat.NONE_LIVE
    return Heat.MAY_FAIL if harm.lives < 0.5 else Heat.WARNING


def _state_now(
    case: CohortCase, species: SpeciesParameters, posterior: FarmPosterior, basis: ForecastBasis
) -> DevelopmentState:
    constants = np.exp(cohort_mean(posterior, case.evidence))
    state = advance(case.track, species, constants, basis.clocks, basis.now_ms)
    if case.anchor is None or case.anchor.start_ms > basis.now_ms:
        return state
    later = advance(case.anchor, species, constants, basis.clocks, basis.now_ms)
    # Heat that the animals had before that stays with them.
    return replace(later, estimated_hours=state.estimated_hours, heat_hours=state.heat_hours)


def as_seen(forecast: CohortForecast, observations: Iterable[Observation], laid: bool) -> CohortForecast:
    """The forecast with every event that was seen at its date, and the others in the order of life around it.

    With `laid` eggs were collected, so first eggs do not lie ahead, whenever they were.
    """
    seen = {each.event: each.at_ms for each in observations}
    events = [
        _at_its_date(event, seen)
        for event in forecast.events
        if not (laid and event.event is Event.FIRST_EGGS and event.event not in seen)
    ]
    return replace(forecast, events=tuple(events))


def _at_its_date(event: EventForecast, seen: Mapping[Event, int]) -> EventForecast:
    """An event as it was seen, else not before what must come first, nor after what must come later."""
    at_ms = seen.get(event.event)
    if at_ms is not None:
        return EventForecast(event.event, at_ms, at_ms, at_ms)
    earliest_ms = max(
        (at_ms for other, at_ms in seen.items() if _follows(event.event, other)), default=-math.inf
    )
    latest_ms = min(
        (at_ms for other, at_ms in seen.items() if _follows(other, event.event)), default=math.inf
    )
    times = (min(max(at, earliest_ms), latest_ms) for at in (event.median_ms, event.low_ms, event.high_ms))
    return EventForecast(event.event, *times)


def _follows(later: Event, earlier: Event) -> bool:
    """Whether an event cannot come before another one: of a later stage, and of as many animals or more."""
    order, shares = list(Event), (EVENTS[later].share, EVENTS[earlier].share)
    return order.index(later) > order.index(earlier) and shares[0] >= shares[1]


def _curve(
    course: CohortCourses, species: SpeciesParameters, posterior: FarmPosterior, basis: ForecastBasis
) -> tuple[EmergenceDay, ...]:
    half = course.half_emerged_ms(species)
    if half is None:
        return ()
    flies = None if course.track.count is None else course.track.count * course.survival
    origin = course.track.origin_ms
    log_sd, midnight_ms = posterior.spread_log_sd, basis.day_origin_ms
    return emergence_days(half, origin, log_sd, species.adult, midnight_ms, flies, course.spread)


def event_forecasts(
    courses: CohortCourses,
    species: SpeciesParameters,
    posterior: FarmPosterior,
    middles_ms: FloatArray | None = None,
) -> tuple[EventForecast, ...]:
    """Median and 80 % window of each event that this cohort has, from the quantiles of its courses.

    `middles_ms` is what `_middle_animals` gave; None works it out.
    """
    middles_ms = _middle_animals(courses) if middles_ms is None else middles_ms
    first, log_sd = species.index_of(courses.track.start_stage), posterior.early_log_sd
    shares, middle_ms = (LOW_SHARE, 0.5, HIGH_SHARE), middles_ms[:, 1:]
    origin_ms, events = courses.track.origin_ms, []
    for event in events_of(species):
        index = ended_stage(event, species)
        if index is None or index < first:
            continue
        if event in SPREAD_BY_COURSE:
            times_ms: Sequence[float] = quantiles(courses.event_ms(event, species, log_sd), shares)
        else:
            # It rises with the middle animal, so its quantiles are those of the middle animal, moved.
            times_ms = event_at_ms(event, species, origin_ms, middle_ms, courses.spread, log_sd).tolist()
        events.append(EventForecast(event, times_ms[1], times_ms[0], times_ms[2]))
    return tuple(events)


def stage_starts(
    courses: CohortCourses, species: SpeciesParameters, posterior: FarmPosterior, middles_ms: FloatArray
) -> tuple[StageStart, ...]:
    """When the first of many animals may begin each coming stage, in one of a hundred courses.

    By the plain log-normal between animals, which has a long left tail: that of thousands was never counted.
    Of flies not later than by the lead of the males and as boxes differ.

    Source: own choice, see `FIRST_OF_MANY` and `UNLIKELY`.
    """
    first, origin_ms = species.index_of(courses.track.start_stage), courses.track.origin_ms
    found, unlikely_ms = [], middles_ms[:, 0].tolist()
    for index in range(first, len(species.stages) - 1):
        stage, ends_ms = species.stages[index + 1].stage, courses.ends_ms[index]
        earliest_ms = float(
            time_of_share(origin_ms, unlikely_ms[index], posterior.early_log_sd, FIRST_OF_MANY)
        )
        if stage is Stage.ADULT:
            flies_ms = courses.spread.time_of_share(origin_ms, ends_ms, FIRST_OF_MANY)
            earliest_ms = min(earliest_ms, *quantiles(flies_ms, (UNLIKELY,)))
        found.append(StageStart(stage, earliest_ms))
    return tuple(found)


def _middle_animals(courses: CohortCourses) -> FloatArray:
    """Ends of the stages of the middle animal, in one of a hundred courses and at the bounds and the middle
    of the window, shape (stages, 4) [ms since 1970 UTC].
    """
    shares = (UNLIKELY, LOW_SHARE, 0.5, HIGH_SHARE)
    ranks = [round(share * (courses.ends_ms.shape[1] - 1)) for share in shares]
    return np.asarray(np.partition(courses.ends_ms, ranks, axis=1)[:, ranks])


def quantiles(values: FloatArray, shares: tuple[float, ...]) -> tuple[float, ...]:
    """Quantiles of values of which some may be infinite: the order statistic nearest to each share."""
    ranks = [round(share * (len(values) - 1)) for share in shares]
    ordered = np.partition(values, ranks)
    return tuple(float(ordered[rank]) for rank in ranks)


def widening(
    track: CohortTrack, species: SpeciesParameters, clocks: Clocks, state: DevelopmentState
) -> tuple[FloatArray, bool]:
    """Log-sd by which ln K of each stage widens for what the sensors do not tell, shape (stages,) [1].

    Also whether a stage to come that goes by the substrate is read from the air. The log-sd is sqrt(probe² +
    (0.13 share of estimated hours)² + (0.1 share of hours in which larvae flee from the probe)²). Source: own
    choice; the size of the first from Padmanabha et al. 2023, who saw 13 °C between substrate and air.
    """
    current = species.index_of(state.stage)
    lived_hours = max((state.at_ms - track.start_ms) / MS_PER_HOUR, 1.0)
    estimated = ESTIMATED_LOG_SD * min(state.estimated_hours / lived_hours, 1.0)
    extra = np.zeros(len(species.stages))
    extra[: current + 1] = estimated
    blind = [_reads_air(track, stage, clocks) for stage in species.stages]
    extra = np.where(blind, np.hypot(extra, NO_PROBE_LOG_SD), extra)
    fled = np.array([_fled_share(track, stage, clocks) for stage in species.stages])
    return np.hypot(extra, FLED_LOG_SD * fled), any(blind[current:])


def _fled_share(track: CohortTrack, stage: StageParameters, clocks: Clocks) -> float:
    """The largest share of time in which animals of a stage flee from a probe on their way [1]."""
    if stage.law.flees_above_c is None:
        return 0.0
    on_the_way = [clocks.of(stay.place, stage) for stay in track.residences]
    return max((clock.fled_share for clock in on_the_way if clock is not None), default=0.0)


def _reads_air(track: CohortTrack, stage: StageParameters, clocks: Clocks) -> bool:
    if stage.driven_by is not DrivenBy.SUBSTRATE:
        return False
    on_the_way = [clocks.of(stay.place, stage) for stay in track.residences]
    return any(clock is not None and clock.used is DrivenBy.AIR for clock in on_the_way)


def heat_of(hours: float, species: SpeciesParameters) -> Heat:
    """What hours above `heat_damage_c` mean for the emergence of a species whose file has no `ThermalDeath`.

    Source: own choice, in the species files.
    """
    if hours <= 0.0:
        return Heat.NONE
    return Heat.MAY_FAIL if hours >= species.heat_failure_hours else Heat.WARNING


def _summary(
    case: CohortCase,
    species: SpeciesParameters,
    posterior: FarmPosterior,
    state: DevelopmentState,
    basis: ForecastBasis,
) -> CohortForecast:
    """The part of a forecast that needs no ensemble."""
    index = species.index_of(state.stage)
    needed = float(np.exp(cohort_mean(posterior, case.evidence)[index]))
    return CohortForecast(
        cohort=case.track.cohort,
        made_ms=basis.now_ms,
        stage=state.stage,
        progress=state.progress,
        units_done=state.progress * needed,
        units_needed=needed,
        events=(),
        emergence=(),
        estimated_hours=state.estimated_hours,
        heat_hours=state.heat_hours,
        heat=heat_of(state.heat_hours, species),
        used=state.used,
        without_probe=False,
        cohorts=_own_cohorts(posterior, species, index),
        unknown_since_ms=state.unknown_since_ms,
    )


def _own_cohorts(posterior: FarmPosterior, species: SpeciesParameters, index: int) -> int:
    """Own cohorts behind the least known stage up to emergence; first eggs are logged too seldom to count."""
    last = ended_stage(Event.HALF_EMERGED, species)
    return min(posterior.cohorts[index : max(index, -1 if last is None else last) + 1])
