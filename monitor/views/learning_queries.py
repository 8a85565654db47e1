"""What the farm has taught: its own constants beside those from papers, and how good past forecasts were."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from monitor.model.belief import LearnedConstant, learned_constants
from monitor.model.cohort_records import Cohort
from monitor.model.events import Event
from monitor.model.farm_learning import counted, observations_of
from monitor.model.scoring import ForecastScore, PastForecast, score, scores_by_event
from monitor.records import MS_PER_DAY
from monitor.store import Store
from monitor.store.forecasts import MadeForecast
from monitor.views.development import Development

LEADS_DAYS = (3, 7, 14)
EVENT_LEAD_DAYS = 7


@dataclass(frozen=True, slots=True)
class LearnedFeed:
    """The constants of all stages on one feed; None stands for a feed that is not named."""

    feed: str | None
    constants: tuple[LearnedConstant, ...]


@dataclass(frozen=True, slots=True)
class LearnView:
    """Own numbers by feed, the spread between animals, the cohorts behind them, scores of past forecasts.

    `scores` are by how many days ahead the forecast was made, `by_event` those made a week ahead.
    """

    feeds: tuple[LearnedFeed, ...]
    spread_prior: float
    spread_own: float
    spread_cohorts: int
    taught: tuple[str, ...]
    scores: Mapping[int, ForecastScore]
    by_event: Mapping[Event, ForecastScore]


def learn_view(store: Store, development: Development) -> LearnView:
    """Everything that was learned up to now."""
    learning, cohorts = development.learning, development.replay.cohorts
    used = [cohorts[name].feed for name in learning.cases] or [None]
    feeds = tuple(
        LearnedFeed(feed, learned_constants(learning.priors[feed], learning.beliefs[feed]))
        for feed in dict.fromkeys(sorted(used, key=lambda feed: feed or ""))
    )
    made = store.forecasts.every()
    seen = _seen(development)
    past = {lead: _past(made, seen, lead) for lead in LEADS_DAYS}
    scored = {lead: score(found) for lead, found in past.items()}
    spread = learning.beliefs[None]
    return LearnView(
        feeds=feeds,
        spread_prior=learning.priors[None].spread_log_sd,
        spread_own=spread.spread_log_sd,
        spread_cohorts=spread.spread_cohorts,
        taught=learning.taught,
        scores={lead: found for lead, found in scored.items() if found is not None},
        by_event=scores_by_event(past[EVENT_LEAD_DAYS]),
    )


def _seen(development: Development) -> dict[tuple[str, Event], int]:
    """When each event of each cohort was seen; what a split cohort inherited is its parent's."""
    found = {}
    for cohort in development.replay.cohorts.values():
        for event, at_ms in _events_of(cohort, development):
            found[cohort.name, event] = at_ms
    return found


def _events_of(cohort: Cohort, development: Development) -> Iterable[tuple[Event, int]]:
    species = development.kinds.get(cohort.feed, development.kinds[None])
    inherited = cohort.seen[: cohort.inherited]
    counts = counted(cohort, species, development.plan.zone)
    return [
        (seen.event, seen.at_ms) for seen in observations_of(cohort, species, counts) if seen not in inherited
    ]


def _past(
    made: Iterable[MadeForecast], seen: Mapping[tuple[str, Event], int], lead_days: int
) -> list[PastForecast]:
    """Of each event that was seen the newest forecast that was made at least so many days before."""
    newest: dict[tuple[str, Event], PastForecast] = {}
    for each in made:
        key = each.subject, Event(each.event)
        seen_ms = seen.get(key)
        if seen_ms is None or not _near(seen_ms - each.made_ms, lead_days):
            continue
        found = PastForecast(*key, each.made_ms, each.median_ms, each.low_ms, each.high_ms, seen_ms)
        if key not in newest or each.made_ms > newest[key].made_ms:
            newest[key] = found
    return list(newest.values())


def _near(ahead_ms: int, lead_days: int) -> bool:
    """Made at least so many days ahead, and not more than half as many again."""
    return lead_days * MS_PER_DAY <= ahead_ms <= 1.5 * lead_days * MS_PER_DAY
