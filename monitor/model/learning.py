"""Everything that a farm's logbook teaches, in one go: the belief, and each cohort ready to be forecast."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from monitor.errors import UsageError
from monitor.model.belief import FarmBelief, learn, learn_spread, prior_belief
from monitor.model.clocks import Clocks
from monitor.model.courses import CohortCase
from monitor.model.development import CohortTrack
from monitor.model.events import Event, Observation
from monitor.model.evidence import anchored, evidence_of
from monitor.model.individuals import CountSummary, summary_of_counts
from monitor.model.rates import SpeciesParameters

COUNT_SD_DAYS = 0.5
"""How sure half emergence is when the flies were counted day by day [d]. Own choice."""


@dataclass(frozen=True, slots=True)
class DayCount:
    """Flies that came out on one day."""

    day_start_ms: int
    flies: float


@dataclass(frozen=True, slots=True)
class WatchedCohort:
    """A cohort, what was seen of it, and its flies by day; `counted_out` when no more will come."""

    track: CohortTrack
    observations: tuple[Observation, ...] = ()
    counts: tuple[DayCount, ...] = ()
    counted_out: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class FarmLesson:
    """The farm's belief and its cohorts, in the order in which they were given."""

    belief: FarmBelief
    cases: tuple[CohortCase, ...]


def farm_lesson(
    cohorts: Sequence[WatchedCohort], species: SpeciesParameters, clocks: Clocks, now_ms: int
) -> FarmLesson:
    """What a farm's cohorts of one species and one feed teach, the running ones included.

    Parameters
    ----------
    cohorts : sequence of WatchedCohort
        The logbook.
    species : SpeciesParameters
        Their species on that feed.
    clocks : Clocks
        Clocks of the places over the whole time of the cohorts.
    now_ms : int
        Now [ms since 1970 UTC].

    Returns
    -------
    FarmLesson
        For `forecast_cohorts` and `learned_constants`.

    Notes
    -----
    The spread between animals comes first, since the first animal seen stands for the middle one by it.
    Then two rounds: the second makes the observations linear around what the first has learned.

    Source
    ------
    Conjugate normal updating, see `learn`.
    """
    prior = prior_belief(species)
    counted = [_counted(cohort, species) for cohort in cohorts]
    prior = learn_spread(prior, [found.log_sd for found in counted if found is not None])
    ready = [
        anchored(cohort.track, species, _all_seen(cohort, found), clocks, prior, now_ms)
        for cohort, found in zip(cohorts, counted, strict=True)
    ]
    belief, cases = prior, tuple[CohortCase, ...]()
    for _ in range(2):
        around, belief = belief, prior
        cases = tuple(
            CohortCase(track, evidence_of(track, species, seen, clocks.of, around)) for track, seen in ready
        )
        for case in cases:
            belief = belief if case.evidence is None else learn(belief, case.evidence)
    return FarmLesson(belief, cases)


def _counted(cohort: WatchedCohort, species: SpeciesParameters) -> CountSummary | None:
    """Summary of complete counts; None when counting goes on or too few came."""
    if not cohort.counted_out:
        return None
    starts = np.array([float(day.day_start_ms) for day in cohort.counts])
    flies = np.array([day.flies for day in cohort.counts])
    try:
        return summary_of_counts(starts, flies, cohort.track.origin_ms, species.adult)
    except UsageError:
        return None


def _all_seen(cohort: WatchedCohort, counted: CountSummary | None) -> tuple[Observation, ...]:
    """Observations, half emergence by count in place of half emergence by eye."""
    if counted is None:
        return cohort.observations
    kept = tuple(seen for seen in cohort.observations if seen.event is not Event.HALF_EMERGED)
    return (*kept, Observation(Event.HALF_EMERGED, counted.half_ms, COUNT_SD_DAYS))
