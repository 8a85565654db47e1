"""The living cohorts with their forecasts: where each lives, what is due, what is worth looking for."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum

from monitor.development.events import EVENTS, Event
from monitor.development.farm_learning import counted, observations_of
from monitor.development.forecast import CohortForecast, as_seen
from monitor.development.progress import Cohort, Purpose
from monitor.development.rates import DrivenBy
from monitor.development.scoring import UsefulObservation, most_useful
from monitor.farm.book import refused_about
from monitor.farm.development import Development, develop
from monitor.logbook.entry import Refusal
from monitor.logbook.replay import home_of
from monitor.records import MS_PER_DAY, PlaceKind, Stage, SubjectKind, local
from monitor.settings.plan import Plan
from monitor.store import Store
from monitor.store.logbook import MadeForecast

VIEW_DRAWS = 1000
DRIFT_AFTER_DAYS = 6
"""How old the forecast is with which the present one is compared, to say ahead or behind [d]."""
LEAST_GAIN_DAYS = 0.1
"""An observation that sharpens a forecast by less is not asked for [d]."""
OVERDUE_DAYS = 7
FLY_EVENTS = frozenset(
    {
        Event.FIRST_MOTIONLESS,
        Event.HALF_MOTIONLESS,
        Event.FIRST_EMERGED,
        Event.HALF_EMERGED,
        Event.MOST_EMERGED,
        Event.FIRST_EGGS,
    }
)
"""What does not happen any more to animals that were harvested for feed."""
FARTHEST_MS = 9_000_000_000_000


class Driven(StrEnum):
    """On which temperature a forecast rests; EGG and TRAY stand in a tray, with no move planned."""

    AIR = "air"
    SUBSTRATE = "substrate"
    NONE = "none"
    NO_PROBE = "no_probe"
    EGG = "egg"
    TRAY = "tray"


@dataclass(frozen=True, slots=True)
class DueEvent:
    """An event that is expected soon, or was expected and has not been entered."""

    cohort: str
    place: str
    event: Event
    median_ms: int
    low_ms: int
    high_ms: int


@dataclass(frozen=True, slots=True)
class CohortView:
    """One cohort for a person: the book, its forecast, where it lives, how it compares with a week ago.

    `drift_days` is above 0 when half emergence is expected later than was forecast about a week ago.
    `seen` are events that were entered, with their times. `assumed_place` is the title of the place in which
    its prepupae are reckoned to be, though no move was planned; "" for none.
    """

    cohort: Cohort
    forecast: CohortForecast | None
    place: str
    place_title: str
    seen: tuple[tuple[Event, int], ...]
    driven: Driven = Driven.NONE
    drift_days: float | None = None
    overdue: DueEvent | None = None
    assumed_place: str = ""

    @property
    def for_feed(self) -> bool:
        """Whether it was said that its flies are not wanted."""
        return self.cohort.purpose is Purpose.FEED

    @property
    def stage(self) -> Stage | None:
        """The stage of the middle animal, None where it is not known."""
        return None if self.forecast is None else self.forecast.known_stage


@dataclass(frozen=True, slots=True)
class ForecastView:
    """All living cohorts, what is due today and this week, and what would sharpen the forecasts most."""

    now_ms: int
    cohorts: tuple[CohortView, ...]
    today: tuple[DueEvent, ...]
    week: tuple[DueEvent, ...]
    overdue: tuple[DueEvent, ...]
    ask: UsefulObservation | None
    refused: tuple[Refusal, ...]

    def of(self, name: str) -> CohortView | None:
        return next((view for view in self.cohorts if view.cohort.name == name), None)


def forecast_view(
    store: Store, plan: Plan, now_ms: int, draws: int = VIEW_DRAWS, known_ms: int | None = None
) -> ForecastView:
    """The cohorts at a moment; with `known_ms` as far as was known then."""
    return view_of(store.forecasts.every(), develop(store, plan, now_ms, draws, known_ms=known_ms))


def view_of(made: Iterable[MadeForecast], development: Development) -> ForecastView:
    """The same from a development that was read already; `made` are past forecasts, oldest first."""
    forecasts = {
        name: _as_seen(development, name, forecast) for name, forecast in development.forecasts().items()
    }
    earlier = _earlier(made, development.now_ms)
    views = tuple(
        _cohort_view(development, cohort, forecasts[cohort.name], earlier.get(cohort.name))
        for cohort in development.book.living
    )
    views = tuple(sorted(views, key=_next_ms))
    due = tuple(sorted(_due(views, development), key=lambda each: each.median_ms))
    return ForecastView(
        now_ms=development.now_ms,
        cohorts=views,
        today=tuple(each for each in due if each.median_ms < _midnight_ms(development, 1)),
        week=tuple(each for each in due if each.median_ms >= _midnight_ms(development, 1)),
        overdue=tuple(view.overdue for view in views if view.overdue is not None),
        ask=_ask(development),
        refused=refused_about(SubjectKind.COHORT, development.book),
    )


def _as_seen(development: Development, name: str, forecast: CohortForecast) -> CohortForecast:
    """The forecast with what was seen, counted and collected at its date."""
    cohort = development.book.cohorts[name]
    species = development.kinds[cohort.feed]
    seen = observations_of(cohort, species, counted(cohort, species, development.plan.zone))
    return as_seen(forecast, seen, laid=bool(cohort.eggs_grams))


def _next_ms(view: CohortView) -> float:
    coming = view.forecast.next_event() if view.forecast is not None else None
    return float("inf") if coming is None else coming.median_ms


def _midnight_ms(development: Development, days: int) -> int:
    return development.basis.day_origin_ms + days * MS_PER_DAY


def _cohort_view(
    development: Development, cohort: Cohort, forecast: CohortForecast, earlier: MadeForecast | None
) -> CohortView:
    place = home_of(cohort, forecast.known_stage, development.now_ms)
    title = development.plan.title(place)
    return CohortView(
        cohort=cohort,
        forecast=forecast,
        place=place,
        place_title=title,
        seen=tuple((seen.event, seen.at_ms) for seen in sorted(cohort.seen, key=lambda each: each.at_ms)),
        driven=_driven(cohort, forecast, place, development),
        drift_days=_drift_days(forecast, earlier),
        overdue=_overdue(cohort, forecast, title, development),
        assumed_place=_assumed_place(cohort, development),
    )


def _assumed_place(cohort: Cohort, development: Development) -> str:
    """Where it is reckoned to go without a plan; a cohort for feed is harvested before that matters."""
    leaving = development.assumed_move(cohort)
    if leaving is None or cohort.purpose is Purpose.FEED:
        return ""
    return development.plan.title(leaving.place)


def _driven(cohort: Cohort, forecast: CohortForecast, place: str, development: Development) -> Driven:
    kind = development.plan.places[place].kind if place in development.plan.places else None
    if forecast.without_probe:
        return Driven.NO_PROBE
    if forecast.used is None:
        return Driven.NONE
    if kind is PlaceKind.HATCHING_TRAY and cohort.next_move(development.now_ms) is None:
        return Driven.EGG if forecast.stage is Stage.EGG else Driven.TRAY
    probe = forecast.used is DrivenBy.SUBSTRATE and place in development.probed
    return Driven.SUBSTRATE if probe else Driven.AIR


def _earlier(made: Iterable[MadeForecast], now_ms: int) -> dict[str, MadeForecast]:
    return {
        each.subject: each
        for each in made
        if each.event == Event.HALF_EMERGED and each.made_ms <= now_ms - DRIFT_AFTER_DAYS * MS_PER_DAY
    }


def _drift_days(forecast: CohortForecast, earlier: MadeForecast | None) -> float | None:
    half = forecast.event(Event.HALF_EMERGED)
    if half is None or earlier is None or half.median_ms > FARTHEST_MS or half.median_ms < forecast.made_ms:
        return None
    return (half.median_ms - earlier.median_ms) / MS_PER_DAY


def _overdue(
    cohort: Cohort, forecast: CohortForecast, title: str, development: Development
) -> DueEvent | None:
    """The last event whose window ended lately and which nobody has entered, nor anything after it."""
    order = list(Event)
    latest = max((order.index(each.event) for each in cohort.seen), default=-1)
    if cohort.flies:
        latest = max(latest, order.index(Event.MOST_EMERGED))
    since_ms = development.now_ms - OVERDUE_DAYS * MS_PER_DAY
    late = [
        DueEvent(cohort.name, title, each.event, *_whole(each.median_ms, each.low_ms, each.high_ms))
        for each in forecast.events
        if since_ms <= each.high_ms < development.now_ms
        and order.index(each.event) > latest
        and each.event is not Event.FIRST_EGGS
        and not _was_counted(cohort, each.event)
    ]
    return late[-1] if late else None


def _was_counted(cohort: Cohort, event: Event) -> bool:
    """Whether animals were counted in the stage that the event begins, so that it must have been seen."""
    counted, begins, order = cohort.track.count_stage, EVENTS[event].begins, list(Stage)
    return counted is not None and begins is not None and order.index(counted) >= order.index(begins)


def _whole(*times_ms: float) -> tuple[int, ...]:
    return tuple(round(min(each, FARTHEST_MS)) for each in times_ms)


def _due(views: Iterable[CohortView], development: Development) -> Iterable[DueEvent]:
    until_ms = _midnight_ms(development, 8)
    for view in views:
        for each in view.forecast.events if view.forecast is not None else ():
            unwanted = view.for_feed and each.event in FLY_EVENTS
            near = development.basis.day_origin_ms <= each.median_ms < until_ms
            was_seen = any(seen is each.event for seen, _ in view.seen)
            if near and not unwanted and not was_seen:
                times = _whole(each.median_ms, each.low_ms, each.high_ms)
                yield DueEvent(view.cohort.name, view.place_title, each.event, *times)


def _ask(development: Development) -> UsefulObservation | None:
    """The observation that would sharpen a forecast most; only of cohorts whose flies matter."""
    wanted = [cohort for cohort in development.book.living if development.is_breeding(cohort)]
    wanted = wanted or list(development.book.living)
    observations = [
        most_useful([course], development.kinds[feed], development.now_ms)
        for feed, courses in development.courses(wanted).items()
        for course in courses
    ]
    seen = {(cohort.name, each.event) for cohort in wanted for each in cohort.seen}
    options = [
        each
        for each in observations
        if each is not None and each.gain_days > LEAST_GAIN_DAYS and (each.cohort, each.event) not in seen
    ]
    return max(options, key=lambda each: each.gain_days, default=None)


def keep_forecasts(store: Store, development: Development) -> int:
    """Keep today's forecasts, so that they can be held against what comes; gives how many were new."""
    return store.forecasts.keep(made_forecasts(development, development.forecasts()))


def made_forecasts(development: Development, forecasts: Mapping[str, CohortForecast]) -> list[MadeForecast]:
    """The forecasts of events that are still to come, as they are kept."""
    day = local(development.now_ms, development.plan.zone).date().isoformat()
    return [
        MadeForecast(
            name, day, each.event, development.now_ms, *_whole(each.median_ms, each.low_ms, each.high_ms)
        )
        for name, forecast in forecasts.items()
        for each in forecast.events
        if each.median_ms > development.now_ms and each.median_ms < FARTHEST_MS
    ]
