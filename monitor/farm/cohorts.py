"""The living cohorts with their forecasts: where each lives, what is due, what is worth looking for."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from monitor.development.events import EVENTS, Event
from monitor.development.farm_learning import counted, observations_of
from monitor.development.forecast import CohortForecast, EventForecast, as_seen
from monitor.development.progress import Cohort, Purpose
from monitor.development.rates import DrivenBy
from monitor.development.scoring import UsefulObservation, most_useful
from monitor.farm.book import refused_about
from monitor.farm.development import Development, develop
from monitor.logbook.animals import flies_into, home_of
from monitor.logbook.entry import Refusal
from monitor.logbook.replay import FarmBook
from monitor.records import MS_PER_DAY, PlaceKind, Stage, SubjectKind, local, midnight_ms
from monitor.settings.plan import Plan
from monitor.store import Store
from monitor.store.logbook import MadeForecast

VIEW_DRAWS = 1000
DRIFT_AFTER_DAYS = 6
"""How old the forecast is with which the present one is compared, to say ahead or behind [d]."""
LEAST_GAIN_DAYS = 0.1
"""An observation that sharpens a forecast by less is not asked for [d]."""
OVERDUE_DAYS = 7
OFFERED = 2
OFFERED_MS = 5 * MS_PER_DAY
"""How far away the second event may be that is offered beside the next one [d]."""
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
_ORDER = {event: at for at, event in enumerate(Event)}
_STAGES = {stage: at for at, stage in enumerate(Stage)}
_TOLD_BY_A_COUNT = tuple(
    event
    for event in Event
    if event is Event.FIRST_EMERGED or (EVENTS[event].share == 0.5 and event is not Event.HALF_EMERGED)
)
"""Events that must have been seen where animals were counted in the stage that they begin."""


class Awaited(StrEnum):
    """How near the next event of a cohort is: its window is over, begun, or opens within a week, or later."""

    LATE = "late"
    NOW = "now"
    WEEK = "week"
    LATER = "later"


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

    @property
    def expected(self) -> DueEvent | None:
        """What comes next, or is late, never what was seen or lies before that; None where not known."""
        if self.overdue is not None or self.forecast is None or self.forecast.unknown_since_ms is not None:
            return self.overdue
        made = {each.event: each for each in self.forecast.events}
        coming = [
            made[event]
            for event in open_events(self)
            if event in made and self.forecast.made_ms <= made[event].high_ms and _has_days(made[event])
        ]
        first = min(coming, key=lambda each: each.median_ms, default=None)
        if first is None:
            return None
        times = _whole(first.median_ms, first.low_ms, first.high_ms)
        return DueEvent(self.cohort.name, self.place_title, first.event, *times)

    def awaited(self, due: DueEvent | None, midnight_ms: int) -> Awaited:
        """How near what it expects is; `midnight_ms` ends today."""
        if due is None:
            return Awaited.LATER
        if due is self.overdue:
            return Awaited.LATE
        if due.low_ms < midnight_ms:
            return Awaited.NOW
        return Awaited.WEEK if due.median_ms < midnight_ms + 7 * MS_PER_DAY else Awaited.LATER


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
    midnight_ms: int = 0

    def awaited(self) -> Mapping[Awaited, list[CohortView]]:
        """The cohorts by how near their next event is, the soonest first."""
        expected = sorted(
            ((_median_ms(due), view, due) for view, due in self._expected()), key=lambda each: each[0]
        )
        near: dict[Awaited, list[CohortView]] = {how: [] for how in Awaited}
        for _, view, due in expected:
            near[view.awaited(due, self.midnight_ms)].append(view)
        return near

    def _expected(self) -> Iterable[tuple[CohortView, DueEvent | None]]:
        return ((view, view.expected) for view in self.cohorts)

    def of(self, name: str) -> CohortView | None:
        return next((view for view in self.cohorts if view.cohort.name == name), None)


def as_entered(before: ForecastView | None, book: FarmBook, plan: Plan, now_ms: int) -> ForecastView:
    """The cohorts of the logbook with what was forecast of them before its newest entries; None: nothing.

    What was seen or counted since is not expected any more, who ended is gone, who began has no forecast yet.
    """
    known = {} if before is None else {view.cohort.name: view for view in before.cohorts}
    order = {name: at for at, name in enumerate(known)}
    living = sorted(book.living, key=lambda cohort: order.get(cohort.name, len(order)))
    views = [_as_entered(known.get(cohort.name), cohort, plan, now_ms) for cohort in living]
    passed = {view.cohort.name: last_passed(view.cohort) for view in views}

    def is_open(cohort: str, event: Event) -> bool:
        return cohort in passed and _ORDER[event] > passed[cohort]

    today, week = ((), ()) if before is None else (before.today, before.week)
    ask = None if before is None else before.ask
    return ForecastView(
        now_ms=now_ms if before is None else before.now_ms,
        cohorts=tuple(views),
        today=tuple(due for due in today if is_open(due.cohort, due.event)),
        week=tuple(due for due in week if is_open(due.cohort, due.event)),
        overdue=tuple(view.overdue for view in views if view.overdue is not None),
        ask=ask if ask is not None and is_open(ask.cohort, ask.event) else None,
        refused=refused_about(SubjectKind.COHORT, book),
        midnight_ms=midnight_ms(now_ms, plan.zone) + MS_PER_DAY if before is None else before.midnight_ms,
    )


def _as_entered(before: CohortView | None, cohort: Cohort, plan: Plan, now_ms: int) -> CohortView:
    place = home_of(cohort, None if before is None else before.stage, now_ms)
    seen = tuple((seen.event, seen.at_ms) for seen in sorted(cohort.seen, key=lambda each: each.at_ms))
    if before is None:
        return CohortView(cohort, None, place, plan.title(place), seen)
    late = before.overdue
    is_late = late is not None and _ORDER[late.event] > last_passed(cohort)
    return replace(
        before,
        cohort=cohort,
        place=place,
        place_title=plan.title(place),
        seen=seen,
        overdue=late if is_late else None,
    )


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
        midnight_ms=_midnight_ms(development, 1),
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


def _median_ms(due: DueEvent | None) -> float:
    return float("inf") if due is None else due.median_ms


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


def last_passed(cohort: Cohort) -> int:
    """The place in `Event` of the last event that is over by the logbook; -1 for none.

    An event is over when it or a later one was seen, when its flies or eggs were counted, and when animals
    were counted in the stage that it begins.
    """
    passed = [each.event for each in cohort.seen]
    if cohort.flies:
        passed.append(Event.FIRST_EMERGED)
    if cohort.eggs_grams:
        passed.append(Event.FIRST_EGGS)
    # A count of flies says that some are out, not that half are.
    if cohort.track.count_stage is not None:
        passed += [each for each in _TOLD_BY_A_COUNT if _was_counted(cohort, each)]
    return max((_ORDER[event] for event in passed), default=-1)


def open_events(view: CohortView) -> list[Event]:
    """The events that can still be seen of it, in their order."""
    return [event for event in list(Event)[last_passed(view.cohort) + 1 :] if _can_come(view, event)]


def _can_come(view: CohortView, event: Event) -> bool:
    """Not what was over before it began, nor flies of a cohort that is harvested."""
    begins = EVENTS[event].begins
    over = begins is not None and _STAGES[begins] <= _STAGES[view.cohort.track.start_stage]
    return not over and not (view.for_feed and event in FLY_EVENTS)


def _has_days(event: EventForecast) -> bool:
    """Not behind a standstill."""
    return event.median_ms < FARTHEST_MS


def likely_next(view: CohortView) -> list[Event]:
    """What somebody is most likely to see now, one event or two, in the order in which they happen."""
    open_, forecast = open_events(view), view.forecast
    if forecast is None or not forecast.events:
        return open_[:OFFERED]
    far_ms = {each.event: _away_ms(each, forecast.made_ms) for each in forecast.events}
    nearest = sorted((event for event in open_ if event in far_ms), key=lambda event: far_ms[event])
    wanted = [event for event in nearest[:OFFERED] if far_ms[event] <= OFFERED_MS] or nearest[:1]
    expected = view.expected
    if expected is not None and expected.event not in wanted:
        wanted = [expected.event, *wanted[: OFFERED - 1]]
    return [event for event in open_ if event in wanted]


def _away_ms(each: EventForecast, now_ms: int) -> float:
    """How far now lies outside the window; inside it how far from its middle, which is nearer than that."""
    outside = max(each.low_ms - now_ms, now_ms - each.high_ms)
    return outside if outside > 0.0 else -1.0 / (1.0 + abs(each.median_ms - now_ms))


def _overdue(
    cohort: Cohort, forecast: CohortForecast, title: str, development: Development
) -> DueEvent | None:
    """The last event whose window ended lately and which nobody has entered, nor anything after it."""
    latest = last_passed(cohort)
    if cohort.flies:
        latest = max(latest, _ORDER[Event.MOST_EMERGED])
    since_ms = development.now_ms - OVERDUE_DAYS * MS_PER_DAY
    late = [
        DueEvent(cohort.name, title, each.event, *_whole(each.median_ms, each.low_ms, each.high_ms))
        for each in forecast.events
        if since_ms <= each.high_ms < development.now_ms
        and _ORDER[each.event] > latest
        and each.event is not Event.FIRST_EGGS
        and not _was_counted(cohort, each.event)
    ]
    return late[-1] if late else None


def _was_counted(cohort: Cohort, event: Event) -> bool:
    """Whether animals were counted in the stage that the event begins, so that it must have been seen."""
    counted, begins = cohort.track.count_stage, EVENTS[event].begins
    return counted is not None and begins is not None and _STAGES[counted] >= _STAGES[begins]


def _whole(*times_ms: float) -> tuple[int, ...]:
    return tuple(round(min(each, FARTHEST_MS)) for each in times_ms)


def _due(views: Iterable[CohortView], development: Development) -> Iterable[DueEvent]:
    until_ms = _midnight_ms(development, 8)
    for view in views:
        passed = last_passed(view.cohort)
        for each in view.forecast.events if view.forecast is not None else ():
            unwanted = view.for_feed and each.event in FLY_EVENTS
            near = development.basis.day_origin_ms <= each.median_ms < until_ms
            is_over = _ORDER[each.event] <= passed
            if near and not unwanted and not is_over:
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
    passed = {cohort.name: last_passed(cohort) for cohort in wanted}
    options = [
        each
        for each in observations
        if each is not None and each.gain_days > LEAST_GAIN_DAYS and _ORDER[each.event] > passed[each.cohort]
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


def shared_among(views: Sequence[CohortView], flies: int) -> dict[str, int]:
    """Flies that were counted in a cage, in shares of those that each of its cohorts has given by now.

    The shares are whole and add up to the count. Where none is known to have given any, each gets as much.
    """
    given = [_flies_by_now(view) for view in views]
    weights = given if sum(given) > 0.0 else [1.0] * len(views)
    exact = [flies * weight / sum(weights) for weight in weights]
    parts = [int(part) for part in exact]
    rest = sorted(range(len(parts)), key=lambda at: parts[at] - exact[at])
    for at in rest[: flies - sum(parts)]:
        parts[at] += 1
    return {view.cohort.name: part for view, part in zip(views, parts, strict=True)}


def _flies_by_now(view: CohortView) -> float:
    if view.forecast is None:
        return 0.0
    days = [day for day in view.forecast.emergence if day.day_start_ms < view.forecast.made_ms]
    return sum(day.share if day.flies is None else day.flies for day in days)


def cohorts_in_cage(view: ForecastView, cage: str, cages: tuple[str, ...]) -> tuple[CohortView, ...]:
    """The cohorts whose flies live in a cage: they live there, or their first flies are out and go there."""
    return tuple(
        each
        for each in view.cohorts
        if each.place == cage or (_has_flies(each) and flies_into(each.cohort, cages) == cage)
    )


def _has_flies(view: CohortView) -> bool:
    """Whether some of its flies are out, by what was seen or by the forecast."""
    first = Event.FIRST_EMERGED
    if view.for_feed:
        return False
    if last_passed(view.cohort) >= _ORDER[first]:
        return True
    made = None if view.forecast is None else view.forecast.event(first)
    return made is not None and view.forecast is not None and made.low_ms <= view.forecast.made_ms
