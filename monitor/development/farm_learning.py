"""What all cohorts of a farm together teach: one posterior for each feed, and the evidence of each cohort."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import tzinfo
from functools import partial

import numpy as np

from monitor.climate.arrays import FloatArray
from monitor.development.clocks import Clocks
from monitor.development.courses import CohortCase
from monitor.development.events import (
    EVENTS,
    CountSummary,
    Event,
    Observation,
    ended_stage,
    events_of,
    summary_of_counts,
)
from monitor.development.kept import Kept, comparable
from monitor.development.posterior import (
    Evidence,
    FarmPosterior,
    anchor_of,
    anchored,
    evidence_of,
    learn,
    learn_cohort_spread,
    learn_spread,
    prior_posterior,
)
from monitor.development.progress import Cohort, CohortTrack, advance
from monitor.development.rates import SpeciesParameters
from monitor.errors import UsageError
from monitor.records import MS_PER_DAY, Stage, midnight_ms

OTHER_FEED_LOG_SD = 0.15
"""How much less a cohort on another feed says about the larval stage [1]. Own choice."""
COUNTED_SD_DAYS = 0.3
EGGS_SD_DAYS = 1.0
DAY_SD_DAYS = 0.5
FEWEST_FLIES = 20.0
SMALLEST_FIRST_SHARE, LARGEST_FIRST_SHARE = 0.0005, 0.3
"""The first flies that were noted stand for a share of all between these [1]. Own choice."""
OVER_SHARE = 0.1
"""Counts are complete when the last day brought less than this share of the best day [1]. Own choice."""

WATCHED_DAYS = 14.0
"""First eggs so soon after the first flies were watched for [d]. Own choice; published are 3 to 11 days."""

ROUNDS = 2

Kinds = Mapping[str | None, SpeciesParameters]
_Posteriors = Mapping[str | None, FarmPosterior]


@dataclass(frozen=True, slots=True, eq=False)
class FarmLearning:
    """Posteriors by feed, before and after; the case of each cohort; the cohorts that taught something."""

    priors: Mapping[str | None, FarmPosterior]
    posteriors: Mapping[str | None, FarmPosterior]
    cases: Mapping[str, CohortCase]
    taught: tuple[str, ...]


def learn_farm(
    cohorts: Iterable[Cohort],
    kinds: Kinds,
    clocks: Clocks,
    zone: tzinfo,
    now_ms: int,
    kept: Kept | None = None,
) -> FarmLearning:
    """Learn from every cohort that was observed, in the order in which they began.

    `kept` holds what was worked out at an earlier look.

    `kinds` holds the parameters of the species by feed; None stands for a feed that is not named. `zone` is
    the farm's, since flies are counted by its days.

    The spread between animals comes first, because the first animals that are seen tell of the middle animal
    only through the spread. Two rounds: the second makes the observations linear around what the first has
    learned. A cohort that was split off teaches only what was seen after that; a cohort on another feed says
    less about the larva (variance 0.15² on ln K). After the first round the spread between cohorts is learned
    too (`learn_cohort_spread`). Source: conjugate normal updating, see `learn`; the rest is
    own choice.
    """
    observed = [_observed(cohort, kinds[cohort.feed], zone) for cohort in cohorts]
    observed.sort(key=lambda item: item.track.start_ms)
    counts = [item.counts for item in observed if item.counts is not None]
    spreads, flies = [each.log_sd for each in counts], [each.counted for each in counts]
    plain = {feed: prior_posterior(species) for feed, species in kinds.items()}
    priors: _Posteriors = {feed: learn_spread(each, spreads, counted=flies) for feed, each in plain.items()}
    kept = kept or Kept()
    placed = [_placed_as_kept(item, kinds, clocks, priors, now_ms, kept) for item in observed]
    first = next(iter(priors))
    posteriors, cases, taught = priors, dict[str, CohortCase](), list[str]()
    for number in range(ROUNDS):
        around, posteriors, taught, found = posteriors, dict(priors), [], []
        points = {feed: comparable(posterior) for feed, posterior in around.items()}
        for item in placed:
            cohort, posterior = item.cohort, around[item.cohort.feed]
            rests = comparable(item), kinds[cohort.feed], clocks, points[cohort.feed]
            said = partial(_said, item, kinds, clocks, posterior)
            cases[cohort.name], evidence = kept.of(("said", number, cohort.name), rests, said)
            if evidence is None:
                continue
            taught.append(cohort.name)
            found.append(_on_feed(evidence, cohort.feed, first, priors))
            for feed, learned in posteriors.items():
                posteriors[feed] = learn(learned, _on_feed(evidence, cohort.feed, feed, priors))
        priors = _with_cohort_spread(priors, first, found)
    return FarmLearning(plain, posteriors, cases, tuple(taught))


def _with_cohort_spread(priors: _Posteriors, feed: str | None, evidence: Sequence[Evidence]) -> _Posteriors:
    """The priors of all feeds with the spread between cohorts that this farm has shown."""
    spread = learn_cohort_spread(priors[feed], evidence).cohort_log_sd
    return {feed: replace(prior, cohort_log_sd=spread) for feed, prior in priors.items()}


@dataclass(frozen=True, slots=True, eq=False)
class _Observed:
    """A cohort on its way to evidence; `known` is False where its temperature was not known throughout."""

    cohort: Cohort
    track: CohortTrack
    seen: tuple[Observation, ...]
    counts: CountSummary | None
    known: bool = True


def _observed(cohort: Cohort, species: SpeciesParameters, zone: tzinfo) -> _Observed:
    counts = counted(cohort, species, zone)
    return _Observed(cohort, _emerged(cohort, counts), observations_of(cohort, species, counts), counts)


def _placed(
    item: _Observed, kinds: Kinds, clocks: Clocks, priors: Mapping[str | None, FarmPosterior], now_ms: int
) -> _Observed:
    """The cohort, started anew after a time of which the temperature is not known."""
    species, posterior = kinds[item.cohort.feed], priors[item.cohort.feed]
    until_ms = now_ms if item.cohort.ended is None else item.cohort.ended.at_ms
    track, left = anchored(item.track, species, item.seen, clocks, posterior, until_ms)
    return replace(item, track=track, seen=left, known=_known(track, species, clocks, posterior, left))


def _placed_as_kept(
    item: _Observed,
    kinds: Kinds,
    clocks: Clocks,
    priors: Mapping[str | None, FarmPosterior],
    now_ms: int,
    kept: Kept,
) -> _Observed:
    """The same as `_placed`; of a cohort that is over it does not change with time."""
    feed, make = item.cohort.feed, partial(_placed, item, kinds, clocks, priors, now_ms)
    if item.cohort.ended is None:
        return make()
    rests = comparable(item), kinds[feed], clocks, comparable(priors[feed])
    return kept.of(("placed", item.cohort.name), rests, make)


def _said(
    item: _Observed, kinds: Kinds, clocks: Clocks, posterior: FarmPosterior
) -> tuple[CohortCase, Evidence | None]:
    """The case of a cohort, and what it teaches that no other has taught."""
    case = _case(item, kinds, clocks, posterior)
    if not item.cohort.inherited:
        return case, case.evidence
    return case, _own_evidence(item, kinds, clocks, posterior)


def _case(item: _Observed, kinds: Kinds, clocks: Clocks, posterior: FarmPosterior) -> CohortCase:
    if not item.known:
        return CohortCase(item.track)
    species = kinds[item.cohort.feed]
    evidence = evidence_of(item.track, species, item.seen, clocks.of, posterior)
    first = next((seen for seen in item.seen if seen.event is Event.FIRST_EMERGED), None)
    return CohortCase(item.track, evidence, anchor_of(item.track, species, item.seen, posterior), first)


def _own_evidence(item: _Observed, kinds: Kinds, clocks: Clocks, posterior: FarmPosterior) -> Evidence | None:
    """What the cohort says that no other has said: without what it inherited when it was split off."""
    inherited = item.cohort.seen[: item.cohort.inherited]
    own = tuple(seen for seen in item.seen if seen not in inherited)
    if not item.known or not own:
        return None
    return evidence_of(item.track, kinds[item.cohort.feed], own, clocks.of, posterior)


def _emerged(cohort: Cohort, counts: CountSummary | None) -> CohortTrack:
    """The track with the number of flies, which are counted better than eggs or larvae before."""
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
    """Whether the temperature is known up to the last event; nothing can be learned across what is not."""
    last_ms = max((observation.at_ms for observation in seen), default=track.start_ms)
    state = advance(track, species, np.exp(posterior.mean), clocks, last_ms)
    return state.unknown_since_ms is None


def _on_feed(
    evidence: Evidence, of: str | None, wanted: str | None, priors: Mapping[str | None, FarmPosterior]
) -> Evidence:
    """The same evidence as it counts for another feed: moved by the ratio of the priors, and less certain."""
    if of == wanted:
        return evidence
    moved = evidence.weights @ (priors[wanted].mean - priors[of].mean)
    larva = priors[of].stages.index(Stage.LARVA)
    weight: FloatArray = evidence.weights[:, larva]
    error = evidence.error + OTHER_FEED_LOG_SD**2 * np.outer(weight, weight)
    return Evidence(evidence.weights, evidence.values + moved, error, evidence.start)


def observations_of(
    cohort: Cohort, species: SpeciesParameters, counts: CountSummary | None
) -> tuple[Observation, ...]:
    """Everything that was seen of a cohort, with what its counts of flies and its eggs say.

    An event that was seen by itself is not taken from the counts again. The first eggs that were entered are
    the onset of laying only where flies were seen to come out shortly before; else only the notes began.
    """
    flies = sorted(count.at_ms for count in cohort.flies if count.flies > 0)
    derived = []
    if flies:
        share = _first_share(cohort, species, counts)
        derived.append(Observation(Event.FIRST_EMERGED, flies[0], DAY_SD_DAYS, share))
    if counts is not None:
        derived.append(Observation(Event.HALF_EMERGED, counts.half_ms, COUNTED_SD_DAYS))
    first_eggs_ms = min((at_ms for at_ms, _ in cohort.eggs_grams), default=None)
    if first_eggs_ms is not None and _came_out_before(cohort, first_eggs_ms):
        derived.append(Observation(Event.FIRST_EGGS, first_eggs_ms, EGGS_SD_DAYS))
    known = events_of(species)
    by_event = {observation.event: observation for observation in derived if observation.event in known}
    return tuple({**by_event, **{observation.event: observation for observation in cohort.seen}}.values())


def _first_share(cohort: Cohort, species: SpeciesParameters, counts: CountSummary | None) -> float | None:
    """Share of a cohort's flies that the first note of flies speaks of; None where their number is not known.

    Counted flies, else those that are counted before and live to emerge at the middle of the range.
    """
    first = min((each for each in cohort.flies if each.flies > 0), key=lambda each: each.at_ms)
    expected = None if counts is None else counts.counted
    if expected is None and cohort.track.count is not None:
        last, counted_as = ended_stage(Event.HALF_EMERGED, species), cohort.track.count_stage
        begun = species.index_of(counted_as or cohort.track.start_stage)
        lived = [sum(stage.survival) / 2.0 for stage in species.stages[begun : (last or 0) + 1]]
        expected = cohort.track.count * float(np.prod(lived))
    if not expected:
        return None
    return float(np.clip(first.flies / expected, SMALLEST_FIRST_SHARE, LARGEST_FIRST_SHARE))


def _came_out_before(cohort: Cohort, eggs_ms: int) -> bool:
    """Whether the first flies were noted shortly before the first eggs, so that laying was watched."""
    flies_ms = [count.at_ms for count in cohort.flies if count.flies > 0]
    flies_ms += [seen.at_ms for seen in cohort.seen if EVENTS[seen.event].begins is Stage.ADULT]
    return bool(flies_ms) and 0 <= eggs_ms - min(flies_ms) <= WATCHED_DAYS * MS_PER_DAY


def counted(cohort: Cohort, species: SpeciesParameters, zone: tzinfo) -> CountSummary | None:
    """Half emergence and spread from daily counts; None while flies still come out, or with fewer than 20."""
    by_day: dict[int, float] = {}
    for count in cohort.flies:
        start_ms = midnight_ms(count.at_ms, zone)
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
