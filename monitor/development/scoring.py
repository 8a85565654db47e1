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
    """Errors of past forecasts.

    Parameters
    ----------
    past : iterable of PastForecast
        Forecasts whose event was seen since.

    Returns
    -------
    ForecastScore or None
        Bias and mean absolute error [d], share of 80 % windows that held [1]; None without any.

    Source
    ------
    Common measures of forecast verification.
    """
    made = list(past)
    if not made:
        return None
    errors = np.array([found.seen_ms - found.median_ms for found in made]) / MS_PER_DAY
    held = [found.low_ms <= found.seen_ms <= found.high_ms for found in made]
    return ForecastScore(len(made), float(errors.mean()), float(np.abs(errors).mean()), float(np.mean(held)))


def scores_by_event(past: Sequence[PastForecast]) -> dict[Event, ForecastScore]:
    """Errors of past forecasts, event by event.

    Parameters
    ----------
    past : sequence of PastForecast
        Forecasts whose event was seen since.

    Returns
    -------
    dict
        Only events of which there is a forecast; errors in [d].

    Source
    ------
    See `score`.
    """
    scored = {event: score(found for found in past if found.event is event) for event in Event}
    return {event: result for event, result in scored.items() if result is not None}


def most_useful(
    courses: Sequence[CohortCourses],
    species: SpeciesParameters,
    now_ms: int,
    within_days: float = 7.0,
    day_sd: float = 0.5,
) -> UsefulObservation | None:
    """The event of the coming days whose sighting would sharpen a forecast most.

    Parameters
    ----------
    courses : sequence of CohortCourses
        Possible courses of the cohorts.
    species : SpeciesParameters
        Their species.
    now_ms : int
        Now [ms since 1970 UTC].
    within_days : float
        How far ahead to look [d]; events expected up to two days ago count too.
    day_sd : float
        How sure the day of a sighting is [d].

    Returns
    -------
    UsefulObservation or None
        None when no event is near.

    Notes
    -----
    Variance of half emergence left after seeing x: V - cov^2 / (Var(x) + day_sd^2), from the ensemble.

    Source
    ------
    Linear regression over the ensemble.
    """
    found = [
        UsefulObservation(course.track.cohort, event, at_ms, gain)
        for course in courses
        for event, at_ms, gain in _gains(course, species, day_sd)
        if now_ms - 2 * MS_PER_DAY <= at_ms <= now_ms + within_days * MS_PER_DAY
    ]
    return max(found, key=lambda option: option.gain_days, default=None)


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
