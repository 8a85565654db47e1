"""What all cohorts of a farm together teach: one posterior for each feed, and the evidence of each cohort."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, tzinfo

import numpy as np

from monitor.climate.arrays import FloatArray
from monitor.development.clocks import Clocks
from monitor.development.courses import CohortCase
from monitor.development.events import CountSummary, Event, Observation, events_of, summary_of_counts
from monitor.development.posterior import (
    Evidence,
    FarmPosterior,
    anchored,
    evidence_of,
    learn,
    learn_spread,
    prior_posterior,
)
from monitor.development.progress import Cohort, CohortTrack, advance, begin
from monitor.development.rates import SpeciesParameters
from monitor.errors import UsageError
from monitor.records import MS_PER_SECOND, Stage

OTHER_FEED_LOG_SD = 0.15
"""How much less a cohort on another feed says about the larval stage [1]. Own choice."""
COUNTED_SD_DAYS = 0.3
EGGS_SD_DAYS = 1.0
DAY_SD_DAYS = 0.5
FEWEST_FLIES = 20.0
OVER_SHARE = 0.1
"""Counts are complete when the last day brought less than this share of the best day [1]. Own choice."""

ROUNDS = 2

Kinds = Mapping[str | None, SpeciesParameters]


@dataclass(frozen=True, slots=True, eq=False)
class FarmLearning:
    """Beliefs by feed, before and after; the case of each cohort; which cohorts taught something."""

    priors: Mapping[str | None, FarmPosterior]
    posteriors: Mapping[str | None, FarmPosterior]
    cases: Mapping[str, CohortCase]
    taught: tuple[str, ...]


def learn_farm(
    cohorts: Iterable[Cohort], kinds: Kinds, clocks: Clocks, zone: tzinfo, now_ms: int
) -> FarmLearning:
    """Learn from every cohort that was watched, in the order in which they began.

    Parameters
    ----------
    cohorts : iterable of Cohort
        All cohorts, the running ones too.
    kinds : mapping
        Parameters of the species by feed; None stands for a feed that is not named.
    clocks : Clocks
        Clocks of the places over the past.
    zone : tzinfo
        The farm's time zone: flies are counted by its days.
    now_ms : int
        Now [ms since 1970 UTC].

    Returns
    -------
    FarmLearning
        What is believed of each feed, and the case of each cohort for a forecast.

    Notes
    -----
    The spread between animals comes first, since the first animal seen stands for the middle one by it. Two
    rounds: the second makes the observations linear around what the first has learned. A cohort that was
    split off teaches only what was seen after that; a cohort on another feed says less about the larva
    (variance 0.15^2 on ln K).

    Source
    ------
    Conjugate normal updating, see `learn`; the rest is own choice.
    """
    ready = [_watched(cohort, kinds[cohort.feed], zone) for cohort in cohorts]
    ready.sort(key=lambda each: each.track.start_ms)
    spreads = [each.counts.log_sd for each in ready if each.counts is not None]
    plain = {feed: prior_posterior(species) for feed, species in kinds.items()}
    priors = {feed: learn_spread(posterior, spreads) for feed, posterior in plain.items()}
    placed = [_placed(each, kinds, clocks, priors, now_ms) for each in ready]
    posteriors, cases, taught = priors, dict[str, CohortCase](), list[str]()
    for _ in range(ROUNDS):
        around, posteriors, taught = posteriors, dict(priors), []
        for each in placed:
            posterior = around[each.cohort.feed]
            cases[each.cohort.name] = _case(each, kinds, clocks, posterior)
            lesson = _lesson(each, kinds, clocks, posterior)
            if lesson is None:
                continue
            taught.append(each.cohort.name)
            for feed, learned in posteriors.items():
                posteriors[feed] = learn(learned, _on_feed(lesson, each.cohort.feed, feed, priors))
    return FarmLearning(plain, posteriors, cases, tuple(taught))


@dataclass(frozen=True, slots=True, eq=False)
class _Watched:
    """A cohort on its way to a lesson; `known` is False where its temperature was not known throughout."""

    cohort: Cohort
    track: CohortTrack
    seen: tuple[Observation, ...]
    counts: CountSummary | None
    known: bool = True


def _watched(cohort: Cohort, species: SpeciesParameters, zone: tzinfo) -> _Watched:
    counts = counted(cohort, species, zone)
    return _Watched(cohort, _emerged(cohort, counts), observations_of(cohort, species, counts), counts)


def _placed(
    each: _Watched, kinds: Kinds, clocks: Clocks, priors: Mapping[str | None, FarmPosterior], now_ms: int
) -> _Watched:
    """Begun anew after a time of which the temperature is not known."""
    species, posterior = kinds[each.cohort.feed], priors[each.cohort.feed]
    until_ms = now_ms if each.cohort.ended is None else each.cohort.ended.at_ms
    track, left = anchored(each.track, species, each.seen, clocks, posterior, until_ms)
    return replace(each, track=track, seen=left, known=_known(track, species, clocks, posterior, left))


def _case(each: _Watched, kinds: Kinds, clocks: Clocks, posterior: FarmPosterior) -> CohortCase:
    if not each.known:
        return CohortCase(each.track)
    evidence = evidence_of(each.track, kinds[each.cohort.feed], each.seen, clocks.of, posterior)
    return CohortCase(each.track, evidence)


def _lesson(each: _Watched, kinds: Kinds, clocks: Clocks, posterior: FarmPosterior) -> Evidence | None:
    """What it says that no other cohort has said: without what it inherited when it was split off."""
    inherited = each.cohort.seen[: each.cohort.inherited]
    own = tuple(seen for seen in each.seen if seen not in inherited)
    if not each.known or not own:
        return None
    return evidence_of(each.track, kinds[each.cohort.feed], own, clocks.of, posterior)


def _emerged(cohort: Cohort, counts: CountSummary | None) -> CohortTrack:
    """Once all flies were counted, their number is known better than any number from before."""
    if counts is None:
        return cohort.track
    return replace(cohort.track, count=counts.counted, count_stage=Stage.ADULT)


def _known(
    track: CohortTrack,
    species: SpeciesParameters,
    clocks: Clocks,
    posterior: FarmPosterior,
    seen: tuple[Observation, ...],
) -> bool:
    """Whether its temperature is known up to the last event; nothing can be learned across what is not."""
    last_ms = max((each.at_ms for each in seen), default=track.start_ms)
    state, _ = advance(begin(track), track, species, np.exp(posterior.mean), clocks, last_ms)
    return state.unknown_since_ms is None


def _on_feed(
    evidence: Evidence, of: str | None, wanted: str | None, priors: Mapping[str | None, FarmPosterior]
) -> Evidence:
    """The same evidence as it counts for another feed: moved by the ratio of the priors, and less sure."""
    if of == wanted:
        return evidence
    moved = evidence.weights @ (priors[wanted].mean - priors[of].mean)
    larva = priors[of].stages.index(Stage.LARVA)
    weight: FloatArray = evidence.weights[:, larva]
    error = evidence.error + OTHER_FEED_LOG_SD**2 * np.outer(weight, weight)
    return Evidence(evidence.weights, evidence.values + moved, error)


def observations_of(
    cohort: Cohort, species: SpeciesParameters, counts: CountSummary | None
) -> tuple[Observation, ...]:
    """Everything that was seen of a cohort, with what its counts of flies and its eggs say.

    Parameters
    ----------
    cohort : Cohort
        The cohort.
    species : SpeciesParameters
        Its species.
    counts : CountSummary or None
        Of complete counts, see `counted`.

    Returns
    -------
    tuple of Observation
        An event that was seen by itself is not taken from the counts again.
    """
    found = {seen.event: seen for seen in cohort.seen}
    flies = sorted(count.at_ms for count in cohort.flies if count.flies > 0)
    extra = []
    if flies:
        extra.append(Observation(Event.FIRST_EMERGED, flies[0], DAY_SD_DAYS))
    if counts is not None:
        extra.append(Observation(Event.HALF_EMERGED, counts.half_ms, COUNTED_SD_DAYS))
    if cohort.eggs_grams:
        extra.append(Observation(Event.FIRST_EGGS, min(cohort.eggs_grams)[0], EGGS_SD_DAYS))
    known = events_of(species)
    return tuple({**{each.event: each for each in extra if each.event in known}, **found}.values())


def counted(cohort: Cohort, species: SpeciesParameters, zone: tzinfo) -> CountSummary | None:
    """Half emergence and spread from daily counts, once they are complete.

    Parameters
    ----------
    cohort : Cohort
        The cohort.
    species : SpeciesParameters
        For the lead of the males [d].
    zone : tzinfo
        The farm's time zone.

    Returns
    -------
    CountSummary or None
        None while flies still come out, or with fewer than 20.
    """
    by_day: dict[int, float] = {}
    for count in cohort.flies:
        start_ms = day_start_ms(count.at_ms, zone)
        by_day[start_ms] = by_day.get(start_ms, 0.0) + count.flies
    if len(by_day) < 3 or sum(by_day.values()) < FEWEST_FLIES:
        return None
    days = sorted(by_day)
    if by_day[days[-1]] > OVER_SHARE * max(by_day.values()):
        return None
    starts, flies = np.array(days, dtype=np.float64), np.array([by_day[day] for day in days])
    try:
        return summary_of_counts(starts, flies, cohort.track.origin_ms, species.adult)
    except UsageError:
        return None


def day_start_ms(at_ms: int, zone: tzinfo) -> int:
    """Midnight before a moment, by the farm's clock.

    Parameters
    ----------
    at_ms : int
        The moment [ms since 1970 UTC].
    zone : tzinfo
        The farm's time zone.

    Returns
    -------
    int
        [ms since 1970 UTC].
    """
    local = datetime.fromtimestamp(at_ms / MS_PER_SECOND, zone)
    midnight = local.replace(hour=0, minute=0, second=0, microsecond=0)
    return round(midnight.timestamp() * MS_PER_SECOND)
