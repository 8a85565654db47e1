"""How good past forecasts were, and which observation would sharpen the present ones most."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from monitor.development.courses import CohortCourses
from monitor.development.events import EVENTS, Event, ended_stage, events_of
from monitor.development.rates import SpeciesParameters
from monitor.records import MS_PER_DAY


@dataclass(frozen=True, slots=True)
class PastForecast:
    """What was forecast of one event at the time, and when it was seen."""

    cohort: str
    event: Event
    made_ms: int
    median_ms: float
    low_ms: float
    high_ms: float
    seen_ms: int


@dataclass(frozen=True, slots=True)
class ForecastScore:
    """Bias is seen minus forecast: above 0 the events came later than forecast. `held_share` aims at 0.8."""

    forecasts: int
    bias_days: float
    mean_absolute_error_days: float
    held_share: float


@dataclass(frozen=True, slots=True)
class UsefulObservation:
    """An event worth looking for: seeing it takes `gain_days` off the sd of half emergence."""

    cohort: str
    event: Event
    expected_ms: float
    gain_days: float


def score(past: Iterable[PastForecast]) -> ForecastScore | None:
    """Bias and mean absolute error [d] of forecasts whose event was seen since; None without any."""
    made = list(past)
    if not made:
        return None
    errors = np.array([forecast.seen_ms - forecast.median_ms for forecast in made]) / MS_PER_DAY
    held = [forecast.low_ms <= forecast.seen_ms <= forecast.high_ms for forecast in made]
    return ForecastScore(len(made), float(errors.mean()), float(np.abs(errors).mean()), float(np.mean(held)))


def scores_by_event(past: Sequence[PastForecast]) -> dict[Event, ForecastScore]:
    """Errors of past forecasts for each event of which there is one."""
    scored = {event: score(forecast for forecast in past if forecast.event is event) for event in Event}
    return {event: result for event, result in scored.items() if result is not None}


def most_useful(
    courses: Sequence[CohortCourses],
    species: SpeciesParameters,
    now_ms: int,
    within_days: float = 7.0,
    day_sd: float = 0.5,
) -> UsefulObservation | None:
    """The event of the coming days whose sighting would sharpen a forecast most; None when none is near.

    `within_days` is how far ahead to look [d]; events expected up to two days ago count too. `day_sd` is the
    standard deviation of a sighting [d].

    Variance of half emergence left after seeing x: V - cov² / (Var(x) + day_sd²), by linear regression over
    the ensemble.
    """
    options = [
        UsefulObservation(course.track.cohort, event, at_ms, gain)
        for course in courses
        for event, at_ms, gain in _gains(course, species, day_sd)
        if now_ms - 2 * MS_PER_DAY <= at_ms <= now_ms + within_days * MS_PER_DAY
    ]
    return max(options, key=lambda option: option.gain_days, default=None)


def _gains(
    course: CohortCourses, species: SpeciesParameters, day_sd: float
) -> Iterable[tuple[Event, float, float]]:
    half = course.half_emerged_ms(species)
    last, first = ended_stage(Event.HALF_EMERGED, species), species.index_of(course.track.start_stage)
    if half is None or last is None or not np.isfinite(half).all():
        return
    target = (half - half.mean()) / MS_PER_DAY
    for event in events_of(species):
        index = ended_stage(event, species)
        if index is None or not first <= index < last or EVENTS[event].share != 0.5:
            continue
        seen = (course.ends_ms[index] - course.ends_ms[index].mean()) / MS_PER_DAY
        explained = float(np.mean(seen * target)) ** 2 / (float(np.mean(seen**2)) + day_sd**2)
        left = max(float(np.mean(target**2)) - explained, 0.0)
        gain = float(np.sqrt(np.mean(target**2)) - np.sqrt(left))
        yield event, float(np.median(course.ends_ms[index])), gain
