"""From events that were seen of a cohort to what they say about its thermal constants."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from monitor.model.belief import Evidence, FarmBelief
from monitor.model.clocks import ClockOf, Clocks
from monitor.model.degree_days import FloatArray
from monitor.model.development import CohortTrack, advance, begin, stage_ends_ms
from monitor.model.events import EVENTS, Observation, ended_stage
from monitor.model.individuals import emergence_log_sd, middle_from_share
from monitor.model.rates import SpeciesParameters
from monitor.records import MS_PER_DAY, Stage

FIRST_SEEN_Z_SD = 0.4
"""How unsure it is which share of the animals were out when the first were seen, in standard deviations of
the spread between animals [1]. Own choice."""

_GRID = np.linspace(-1.6, 1.6, 321)


def evidence_of(
    track: CohortTrack,
    species: SpeciesParameters,
    observations: Sequence[Observation],
    clock_of: ClockOf,
    belief: FarmBelief,
) -> Evidence | None:
    """What the observations of one cohort say about ln K.

    Parameters
    ----------
    track : CohortTrack
        The cohort.
    species : SpeciesParameters
        Its species.
    observations : sequence of Observation
        Events that were seen, each with its uncertainty [d].
    clock_of : callable
        Clocks of the places over the past.
    belief : FarmBelief
        Around which the observations are made linear.

    Returns
    -------
    Evidence or None
        None when no observation can be used.

    Notes
    -----
    For each event the common factor exp(x) on all constants is found that puts it where it was seen; with one
    stage x is exactly ln(units earned / K). The weights are the shares of the stages in the time since the
    start. Errors: the day, the start (shared by all events of the cohort), and the share seen as "the first".

    Source
    ------
    Conjugate normal updating; linearisation is our own choice.
    """
    usable = [seen for seen in observations if _usable(seen, track, species)]
    if not usable:
        return None
    first = species.index_of(track.start_stage)
    constants = np.exp(belief.mean)[:, None] * np.exp(_GRID)[None, :]
    ends = stage_ends_ms(track, species, constants, clock_of)
    rows = [_row(seen, track, species, ends, first, belief) for seen in usable]
    found = [row for row in rows if row is not None]
    if not found:
        return None
    weights = np.array([row[0] for row in found])
    values = np.array([row[1] for row in found]) + weights @ belief.mean
    own, shared = np.array([row[2] for row in found]), np.array([row[3] for row in found])
    error = np.asarray(np.diag(own**2) + np.outer(shared, shared), dtype=np.float64)
    return Evidence(weights, values, error)


def _usable(seen: Observation, track: CohortTrack, species: SpeciesParameters) -> bool:
    index = ended_stage(seen.event, species)
    return index is not None and index >= species.index_of(track.start_stage) and seen.at_ms > track.start_ms


def _row(
    seen: Observation,
    track: CohortTrack,
    species: SpeciesParameters,
    ends: FloatArray,
    first: int,
    belief: FarmBelief,
) -> tuple[FloatArray, float, float, float] | None:
    """Weights, log mismatch, own error and shared error of one observation."""
    index = ended_stage(seen.event, species)
    share = EVENTS[seen.event].share
    spread = spread_at(belief, species, seen, track)
    middle_ms = middle_from_share(track.origin_ms, seen.at_ms, spread, share)
    course = ends[index]
    if index is None or not np.isfinite(course).all() or not course[0] < middle_ms < course[-1]:
        return None
    mismatch = float(np.interp(middle_ms, course, _GRID))
    bounds = [track.start_ms, *(float(np.interp(mismatch, _GRID, ends[i])) for i in range(first, index + 1))]
    elapsed_days = (bounds[-1] - bounds[0]) / MS_PER_DAY
    weights = np.zeros(len(species.stages))
    weights[first : index + 1] = np.diff(bounds) / (bounds[-1] - bounds[0])
    life_days = (middle_ms - track.origin_ms) / MS_PER_DAY
    unsure_share = 0.0 if share == 0.5 else FIRST_SEEN_Z_SD * spread * life_days
    own = float(np.hypot(seen.sd_days, unsure_share)) / elapsed_days
    return weights, mismatch, own, track.start_sd_days / elapsed_days


def spread_at(belief: FarmBelief, species: SpeciesParameters, seen: Observation, track: CohortTrack) -> float:
    """Log standard deviation between animals that counts for an event.

    Parameters
    ----------
    belief : FarmBelief
        The farm's spread [1].
    species : SpeciesParameters
        Its species, for the lead of the males.
    seen : Observation
        The event; for emergence the two sexes lie apart.
    track : CohortTrack
        The cohort, for the time that it has lived.

    Returns
    -------
    float
        Log standard deviation [1].

    Source
    ------
    See `emergence_log_sd`.
    """
    if EVENTS[seen.event].begins is not Stage.ADULT:
        return belief.spread_log_sd
    life_days = max((seen.at_ms - track.origin_ms) / MS_PER_DAY, 1.0)
    return float(emergence_log_sd(belief.spread_log_sd, species.adult, life_days))


def anchored(
    track: CohortTrack,
    species: SpeciesParameters,
    observations: Sequence[Observation],
    clocks: Clocks,
    belief: FarmBelief,
    now_ms: int,
) -> tuple[CohortTrack, tuple[Observation, ...]]:
    """A cohort whose temperature was unknown for too long starts anew at the next event that was seen.

    Parameters
    ----------
    track : CohortTrack
        The cohort from its real start.
    species : SpeciesParameters
        Its species.
    observations : sequence of Observation
        Everything that was seen of it.
    clocks : Clocks
        Clocks of the places over the past.
    belief : FarmBelief
        Thermal constants and the spread between animals.
    now_ms : int
        Now [ms since 1970 UTC].

    Returns
    -------
    tuple
        The cohort, from its start or from the event that set it right, and the observations that still count.

    Notes
    -----
    It begins at the end of the stage that the event ended, and keeps its age, so its animals stay as far
    spread.

    Source
    ------
    Own choice.
    """
    left = tuple(sorted(observations, key=lambda seen: seen.at_ms))
    constants = np.exp(belief.mean)
    while True:
        state, _ = advance(begin(track), track, species, constants, clocks, now_ms)
        since_ms = state.unknown_since_ms
        if since_ms is None:
            return track, left
        later = [seen for seen in left if seen.at_ms > since_ms and _usable(seen, track, species)]
        if not later:
            return track, left
        track = _restarted(track, species, later[0], belief)
        left = tuple(later[1:])


def _restarted(
    track: CohortTrack, species: SpeciesParameters, seen: Observation, belief: FarmBelief
) -> CohortTrack:
    index = ended_stage(seen.event, species)
    share = EVENTS[seen.event].share
    spread = spread_at(belief, species, seen, track)
    middle_ms = middle_from_share(track.origin_ms, seen.at_ms, spread, share)
    age_days = (middle_ms - track.origin_ms) / MS_PER_DAY
    unsure_share = 0.0 if share == 0.5 else FIRST_SEEN_Z_SD * spread * age_days
    return replace(
        track,
        start_ms=round(middle_ms),
        start_stage=species.stages[index or 0].stage,
        start_progress=1.0 - 1e-6,
        start_sd_days=float(np.hypot(seen.sd_days, unsure_share)),
        age_days=age_days,
    )
