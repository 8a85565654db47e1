"""Flies in the love cages over the coming weeks, what closes a gap, and what the farm has taught."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, time, timedelta

import numpy as np

from monitor.climate.arrays import FloatArray
from monitor.development.courses import CohortCourses
from monitor.development.events import Event
from monitor.development.farm_learning import counted, observations_of
from monitor.development.posterior import LearnedConstant, learned_constants
from monitor.development.progress import Cohort, Ending
from monitor.development.scoring import ForecastScore, PastForecast, score, scores_by_event
from monitor.development.supply import (
    CageSupply,
    HoldBack,
    LatestStart,
    cage_supply,
    hold_back,
    latest_starts,
)
from monitor.farm.development import Development
from monitor.records import MS_PER_DAY, PlaceKind, Stage, local
from monitor.settings.plan import Plan
from monitor.store.logbook import MadeForecast
from monitor.yields.breeding import PrepupaeToKeep, prepupae_to_keep, start_of
from monitor.yields.forecast import AHEAD_DAYS, PAST_DAYS, EggForecast, cage_flies, forecast_eggs
from monitor.yields.larvae import BinCase, LarvaeForecast, dark_ms, forecast_larvae, open_fillings
from monitor.yields.laying import CageFlies, DayGrid, day_grid
from monitor.yields.records import Takings
from monitor.yields.sums import DAYS_A_WEEK

SUPPLY_DAYS = 30
LEADS_DAYS = (3, 7, 14)
EVENT_LEAD_DAYS = 7
NO_CAGE = ""
_HOMES: Mapping[Stage, tuple[PlaceKind, ...]] = {
    Stage.EGG: (PlaceKind.HATCHING_TRAY, PlaceKind.GROW_OUT_BIN),
    Stage.LARVA: (PlaceKind.GROW_OUT_BIN,),
    Stage.PREPUPA: (PlaceKind.PUPATION_BOX, PlaceKind.GROW_OUT_BIN),
    Stage.PUPA: (PlaceKind.PUPATION_BOX, PlaceKind.GROW_OUT_BIN),
    Stage.ADULT: (PlaceKind.LOVE_CAGE,),
}


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


def learn_view(made: Sequence[MadeForecast], development: Development) -> LearnView:
    """Everything that was learned up to now, with past forecasts held against what was seen."""
    learning, cohorts = development.learning, development.book.cohorts
    used = [cohorts[name].feed for name in learning.cases] or [None]
    feeds = tuple(
        LearnedFeed(feed, learned_constants(learning.priors[feed], learning.posteriors[feed]))
        for feed in dict.fromkeys(sorted(used, key=lambda feed: feed or ""))
    )
    seen = _seen(development)
    past = {lead: _past(made, seen, lead) for lead in LEADS_DAYS}
    scored = {lead: score(forecasts) for lead, forecasts in past.items()}
    spread = learning.posteriors[None]
    return LearnView(
        feeds=feeds,
        spread_prior=learning.priors[None].spread_log_sd,
        spread_own=spread.spread_log_sd,
        spread_cohorts=spread.spread_cohorts,
        taught=learning.taught,
        scores={lead: known for lead, known in scored.items() if known is not None},
        by_event=scores_by_event(past[EVENT_LEAD_DAYS]),
    )


def _seen(development: Development) -> dict[tuple[str, Event], int]:
    """When each event of each cohort was seen; what a split cohort inherited is its parent's."""
    return {
        (cohort.name, event): at_ms
        for cohort in development.book.cohorts.values()
        for event, at_ms in _events_of(cohort, development)
    }


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
        if seen_ms is None or not lead_days <= (seen_ms - each.made_ms) / MS_PER_DAY <= 1.5 * lead_days:
            continue
        forecast = PastForecast(*key, each.made_ms, each.median_ms, each.low_ms, each.high_ms, seen_ms)
        if key not in newest or each.made_ms > newest[key].made_ms:
            newest[key] = forecast
    return list(newest.values())


@dataclass(frozen=True, slots=True)
class CageView:
    """One cage: its coming days, its cohorts, and what would close the first gap.

    `title` and `supply.cage` are empty for flies of which no cage is known.
    """

    title: str
    supply: CageSupply
    cohorts: tuple[str, ...]
    starts: tuple[LatestStart, ...] = ()
    hold_backs: tuple[HoldBack, ...] = ()


@dataclass(frozen=True, slots=True)
class SupplyView:
    """All cages, and the cohorts of which nobody has said what they are for."""

    now_ms: int
    cages: tuple[CageView, ...]
    undecided: tuple[str, ...]


def supply_view(development: Development, least: float | None = None, days: int = SUPPLY_DAYS) -> SupplyView:
    """The coming days of every cage; `least` stands in for what the settings say of each."""
    cohorts = development.may_have_flies()
    by_cage: dict[str, list[Cohort]] = {cage: [] for cage in development.context.cages}
    for cohort in cohorts:
        by_cage.setdefault(development.cage_of(cohort) or NO_CAGE, []).append(cohort)
    courses = {
        course.track.cohort: course for group in development.courses(cohorts).values() for course in group
    }
    cages = tuple(_cage(development, cage, mine, courses, least, days) for cage, mine in by_cage.items())
    undecided = tuple(
        cohort.name
        for cohort in development.book.living
        if cohort.purpose is None and not development.is_breeding(cohort)
    )
    return SupplyView(development.now_ms, cages, undecided)


def _cage(
    development: Development,
    cage: str,
    cohorts: Iterable[Cohort],
    courses: Mapping[str, CohortCourses],
    least: float | None,
    days: int,
) -> CageView:
    names = tuple(cohort.name for cohort in cohorts)
    place = development.plan.places.get(cage)
    wanted = least if least is not None else (place.least_flies if place is not None else None) or 0.0
    supply = cage_supply(
        cage,
        [courses[name] for name in names],
        development.kinds[None],
        development.learning.posteriors[None],
        development.basis,
        wanted if cage != NO_CAGE else 0.0,
        days,
    )
    title = development.plan.title(cage) if cage != NO_CAGE else ""
    if supply.gap is None:
        return CageView(title, supply, names)
    gap_ms = supply.gap.day_start_ms
    starts, hold_backs = _starts(development, supply, gap_ms), _hold_backs(development, gap_ms)
    return CageView(title, supply, names, starts, hold_backs)


def _starts(development: Development, supply: CageSupply, gap_ms: int) -> tuple[LatestStart, ...]:
    missing = supply.least_flies - min(day.living for day in supply.short_days if day.day_start_ms >= gap_ms)
    return latest_starts(
        gap_ms,
        missing,
        _route(development.plan),
        development.kinds[None],
        development.learning.posteriors[None],
        development.basis,
    )


def _route(plan: Plan) -> dict[Stage, str]:
    first: dict[PlaceKind, str] = {}
    for place in plan.settings.places:
        first.setdefault(place.kind, place.id)
    homes = ((stage, [first[kind] for kind in kinds if kind in first]) for stage, kinds in _HOMES.items())
    return {stage: places[0] for stage, places in homes if places}


def _hold_backs(development: Development, gap_ms: int) -> tuple[HoldBack, ...]:
    others = [cohort for cohort in development.book.living if not development.is_breeding(cohort)]
    if not others:
        return ()
    forecasts = list(development.forecasts(others).values())
    return hold_back(gap_ms, forecasts, development.kinds[None])


def eggs_ahead(development: Development, takings: Takings, *, goes_on: bool = False) -> EggForecast:
    """Grams of eggs to come of every cage, from what was taken until now and the cohorts that come out in it.

    Cohorts that came out in the time that is learned from count too; for `goes_on` see `cage_flies`.
    """
    grid = day_grid(development.now_ms, development.basis.day_origin_ms, PAST_DAYS, AHEAD_DAYS)
    cages = flies_of_cages(development, takings, grid, goes_on=goes_on)
    spread = development.learning.posteriors[None].spread_log_sd
    return forecast_eggs(takings, cages, development.kinds[None], grid, spread)


def flies_of_cages(
    development: Development, takings: Takings, grid: DayGrid, *, goes_on: bool = False
) -> list[CageFlies]:
    """The flies of every cage on the days of a grid."""
    by_cage: dict[str, list[Cohort]] = {cage: [] for cage in development.context.cages}
    for cohort in development.book.cohorts.values():
        cage = development.cage_of(cohort)
        if cage in by_cage and development.is_breeding(cohort) and _lays(cohort, grid):
            by_cage[cage].append(cohort)
    species = development.kinds[None]
    cages = []
    for cage, cohorts in by_cage.items():
        courses = [course for group in development.courses(cohorts).values() for course in group]
        cages.append(
            cage_flies(
                cage, takings, courses, species, grid, _warmth(development, cage, grid), goes_on=goes_on
            )
        )
    return cages


def _lays(cohort: Cohort, grid: DayGrid) -> bool:
    """Whether eggs of the cohort may come, or came in the time that is learned from."""
    ended = cohort.ended
    return ended is None or (ended.how is Ending.EMERGED and ended.at_ms > grid.first_ms)


def _warmth(development: Development, cage: str, grid: DayGrid) -> FloatArray | None:
    """Mean temperature of each past day of a cage as its flies feel it: what their degree-days come from."""
    species = development.kinds[None]
    adult = species.stages[species.index_of(Stage.ADULT)]
    clock = development.basis.clocks.of(cage, adult)
    if clock is None:
        return None
    edges = grid.edges_ms[: grid.past + 1]
    daily = np.diff(np.interp(edges, clock.times_ms, clock.units))
    known = (edges[:-1] >= clock.times_ms[0]) & (edges[1:] <= clock.times_ms[-1])
    return np.where(known & (daily > 0.0), adult.law.threshold_c + daily, np.nan)


def larvae_ahead(development: Development, takings: Takings) -> LarvaeForecast:
    """Kilograms of larvae to come of every bin that is filled, with the day on which it is best taken."""
    return forecast_larvae(
        takings,
        [_bin_case(development, place, filling_ms) for place, filling_ms in open_fillings(takings)],
        development.now_ms,
        development.basis.day_origin_ms,
    )


def _bin_case(development: Development, place: str, filling_ms: int) -> BinCase:
    """A filled bin with when the cohort that lives in it darkens; of several the first."""
    inside = [
        cohort
        for cohort in development.book.living
        if cohort.place_at(development.now_ms) == place
        and cohort.track.start_stage in (Stage.EGG, Stage.LARVA)
    ]
    dark = [
        dark_ms(course, development.kinds[feed], development.learning.posteriors[feed].early_log_sd)
        for feed, group in development.courses(inside).items()
        for course in group
    ]
    first = min(dark, key=lambda each: float(np.median(each)), default=None)
    return BinCase(place, filling_ms, dark_ms=first)


def kept_for(grams_a_week: float, development: Development, eggs: EggForecast) -> PrepupaeToKeep:
    """Prepupae to keep for so many grams of eggs a week, for the first week that they can still fill."""
    species, posterior = development.kinds[None], development.learning.posteriors[None]
    route, monday_ms = _route(development.plan), next_monday_ms(development.now_ms, development.plan)
    start = start_of(monday_ms, route, species, posterior, development.basis)
    week_ms = monday_ms
    if start is not None and start.safe_ms < development.now_ms:
        late_weeks = -(-(development.now_ms - start.safe_ms) // (DAYS_A_WEEK * MS_PER_DAY))
        if late_weeks < AHEAD_DAYS:
            week_ms = next_monday_ms(monday_ms, development.plan, round(late_weeks) - 1)
            start = start_of(week_ms, route, species, posterior, development.basis)
    return prepupae_to_keep(grams_a_week, week_ms, eggs, species, start)


def next_monday_ms(at_ms: int, plan: Plan, more_weeks: int = 0) -> int:
    """The beginning of the Monday after a moment, or some weeks later, by the farm's clock."""
    day = local(at_ms, plan.zone).date()
    monday = day + timedelta(days=DAYS_A_WEEK * (more_weeks + 1) - day.weekday())
    return round(datetime.combine(monday, time(), plan.zone).timestamp() * 1000)
