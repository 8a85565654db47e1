"""The cohorts on the page: where each stands, what comes when, the cages, and what was seen in two taps."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from urllib.parse import quote

from markupsafe import Markup
from starlette.responses import Response

from monitor.charts.cohort import stage_bar
from monitor.development.events import EVENTS, Event
from monitor.development.forecast import EventForecast
from monitor.development.progress import Cohort
from monitor.farm.cohorts import FLY_EVENTS, CohortView, DueEvent
from monitor.farm.forecast_cache import CohortsAhead
from monitor.farm.supply import CageView
from monitor.logbook.cohort_entries import CohortEntryKind
from monitor.page.curves import Curve, emergence_curve, supply_curve
from monitor.page.entries import (
    COHORT_FIELDS,
    Form,
    entry_writer,
    fields_of,
    read_form,
    show_form,
    stages_of_farm,
    write,
)
from monitor.page.logbook import just_written, rows_about
from monitor.page.serving import Page, Part, RequestContext, drawn, problem
from monitor.records import MS_PER_DAY, Stage, SubjectKind
from monitor.words.cohorts import (
    ask_sentence,
    coming_events,
    due_words,
    ended_sentence,
    event_words,
    flies_sentence,
    later_events,
    progress_words,
    rests_on,
    unknown_sentence,
    warning_sentences,
)
from monitor.words.localizer import Localizer, day, days_long, window
from monitor.words.supply import cage_title, learned, remedy_sentences, verdict_sentence

OFFERED = 2
SOON_MS = 5 * MS_PER_DAY
ROWS = 12
KINDS = tuple(kind for kind in COHORT_FIELDS if kind != CohortEntryKind.START)


@dataclass(frozen=True, slots=True)
class CohortCard:
    """What the page shows of a living cohort; empty where there is nothing to say.

    `offered` are the events that are likely to be seen next, each with its name.
    """

    name: str
    place: str
    place_id: str
    stage: str
    bar: Markup | None
    progress: str
    purpose: str
    next: str
    lines: tuple[tuple[str, str], ...]
    flies: str
    unknown: str
    warnings: tuple[str, ...]
    rests: str
    offered: tuple[tuple[str, str], ...]


def cohort_card(view: CohortView, stages: Sequence[Stage], words: Localizer) -> CohortCard:
    """The card of a cohort."""
    forecast, stage, purpose = view.forecast, view.stage, view.cohort.purpose
    known = forecast is not None and stage is not None
    coming = coming_events(view)
    return CohortCard(
        name=view.cohort.name,
        place=view.place_title,
        place_id=view.place,
        stage=words.t(f"stage.{stage}") if stage is not None else words.t("state.unknown"),
        bar=_bar(view, stages, words),
        progress=progress_words(forecast, words) if known and forecast is not None else "",
        purpose="" if purpose is None else words.t(f"purpose.{purpose}"),
        next=event_words(coming[0], words) if coming else "",
        lines=tuple(later_events(view, words)),
        flies=flies_sentence(view, words),
        unknown=unknown_sentence(forecast, words),
        warnings=tuple(warning_sentences(view, words)),
        rests=rests_on(view, words),
        offered=tuple((event, words.t(f"seen.{event}")) for event in offered(view)),
    )


def _bar(view: CohortView, stages: Sequence[Stage], words: Localizer) -> Markup | None:
    if view.forecast is None or view.stage is None or view.stage not in stages:
        return None
    return drawn(stage_bar(stages, view.stage, min(max(view.forecast.progress, 0.0), 1.0), words))


def offered(view: CohortView) -> list[Event]:
    """What somebody is most likely to see now, one event or two, in the order in which they happen."""
    order = list(Event)
    latest = max((order.index(event) for event, _ in view.seen), default=-1)
    if view.cohort.flies:
        latest = max(latest, order.index(Event.FIRST_EMERGED))
    open_ = [event for event in order[latest + 1 :] if _can_come(view, event)]
    forecast = view.forecast
    if forecast is None or not forecast.events:
        return open_[:OFFERED]
    far_ms = {each.event: _away_ms(each, forecast.made_ms) for each in forecast.events}
    nearest = sorted((event for event in open_ if event in far_ms), key=lambda event: far_ms[event])
    wanted = [event for event in nearest[:OFFERED] if far_ms[event] <= SOON_MS] or nearest[:1]
    return [event for event in open_ if event in wanted]


def _can_come(view: CohortView, event: Event) -> bool:
    """Not what was over before it began, nor flies of a cohort that is harvested."""
    begins, stages = EVENTS[event].begins, list(Stage)
    start = stages.index(view.cohort.track.start_stage)
    over = begins is not None and stages.index(begins) <= start
    return not over and not (view.for_feed and event in FLY_EVENTS)


def _away_ms(each: EventForecast, now_ms: int) -> float:
    """How far now lies outside the window; inside it how far from its middle, which is nearer than that."""
    outside = max(each.low_ms - now_ms, now_ms - each.high_ms)
    return outside if outside > 0.0 else -1.0 / (1.0 + abs(each.median_ms - now_ms))


@dataclass(frozen=True, slots=True)
class DueRow:
    """An event that is due: its day, its cohort, and what is expected of it."""

    day: str
    cohort: str
    event: str
    said: str


def due_rows(events: Sequence[DueEvent], words: Localizer) -> list[DueRow]:
    """What is due, in the order of the events."""
    return [
        DueRow(day(words, due.median_ms), due.cohort, due.event.value, due_words(due, words))
        for due in events
    ]


@dataclass(frozen=True, slots=True)
class CageCard:
    """One cage: the verdict, what can still be done, and its curve."""

    title: str
    shape: str
    verdict: str
    remedies: tuple[str, ...]
    cohorts: tuple[str, ...]
    uncounted: tuple[str, ...]
    curve: Curve | None


def cage_card(request: RequestContext, cage: CageView) -> CageCard:
    """The card of a cage."""
    words, supply = request.words, cage.supply
    short = bool(supply.least_flies) and supply.gap is not None
    return CageCard(
        title=cage_title(cage, words),
        shape="low" if short else "fine",
        verdict=verdict_sentence(cage, words),
        remedies=tuple(remedy_sentences(cage, words)),
        cohorts=cage.cohorts,
        uncounted=supply.uncounted,
        curve=supply_curve(request, supply) if cage.cohorts else None,
    )


def event_rows(view: CohortView, words: Localizer) -> list[tuple[str, str, str, bool]]:
    """Every event: its name, its day, its window, and whether it was seen."""
    seen = dict(view.seen)
    forecast = view.forecast
    made = {each.event: each for each in forecast.events} if forecast is not None else {}
    rows = []
    for event in Event:
        if event in seen:
            rows.append(
                (words.t(f"seen.{event}"), day(words, seen[event]), words.t("cohorts.was_seen"), True)
            )
        elif event in made and not (view.for_feed and event in FLY_EVENTS):
            each = made[event]
            span = window(words, each.low_ms, each.high_ms)
            rows.append((words.t(f"seen.{event}"), day(words, each.median_ms), span, False))
    return rows


def ahead_now(request: RequestContext) -> CohortsAhead:
    """All that is known of what comes, from what is kept."""
    context = request.app.context
    return context.forecasts.cohorts(request.store, request.plan, request.now_ms, context.reading)


def show_cohorts(request: RequestContext) -> Response:
    """What is due, each cohort, the cages, and what the forecasts rest on."""
    ahead, words = ahead_now(request), request.words
    forecast = ahead.forecast
    stages = stages_of_farm(request.plan)
    return request.render(
        "cohorts.html",
        cards=[cohort_card(view, stages, words) for view in forecast.cohorts],
        today=due_rows(forecast.today, words),
        week=due_rows(forecast.week, words),
        overdue=due_rows(forecast.overdue, words),
        ask=ask_sentence(forecast, words),
        ask_of=forecast.ask,
        cages=[cage_card(request, cage) for cage in ahead.supply.cages],
        undecided=ahead.supply.undecided,
        learned=learned(ahead.learned, words),
        refused=[(each.entry.entry_id, words.sentence(each.reason)) for each in forecast.refused],
        as_of=words.hour(forecast.now_ms),
        said=just_written(request),
    )


def show_cohort(request: RequestContext) -> Response:
    """One cohort: its bar, all its events, its curve, its logbook."""
    name, words = request.http.path_params["cohort"], request.words
    view = ahead_now(request).forecast.of(name)
    cohort = view.cohort if view is not None else _cohort(request, name)
    if cohort is None:
        return problem(request, 404, "problem.not_here")
    forecast = None if view is None else view.forecast
    wanted = view is not None and not view.for_feed and forecast is not None
    return request.render(
        "cohorts_one.html",
        name=name,
        card=None if view is None else cohort_card(view, stages_of_farm(request.plan), words),
        events=[] if view is None else event_rows(view, words),
        curve=emergence_curve(request, forecast.emergence) if wanted and forecast is not None else None,
        ended=ended_sentence(cohort, words),
        kinds=KINDS if cohort.ended is None else (),
        rows=rows_about(request, SubjectKind.COHORT, name, ROWS),
        said=just_written(request) + _narrower(request, view),
    )


def _cohort(request: RequestContext, name: str) -> Cohort | None:
    return request.book().cohorts.get(name)


def window_days(view: CohortView | None) -> float | None:
    """How long the window of half of the flies is, else that of the next event."""
    if view is None or view.forecast is None:
        return None
    event = view.forecast.event(Event.HALF_EMERGED) or view.forecast.next_event()
    days = None if event is None else (event.high_ms - event.low_ms) / MS_PER_DAY
    return days if days is not None and days < 1000.0 else None


def _narrower(request: RequestContext, view: CohortView | None) -> str:
    """How the window changed with what was just written, from the tenths of days that the address names."""
    before, now = request.query("before"), window_days(view)
    if not (before.isascii() and before.isdigit() and len(before) < 5) or now is None:
        return ""
    words = request.words
    was = days_long(words, int(before) / 10.0)
    return " " + words.t("cohorts.narrower", before=was, now=days_long(words, now))


def form_of(request: RequestContext, name: str, kind: str) -> Form:
    """The form of one kind of entry; an event that the address names is chosen already."""
    words, book = request.words, request.book()
    others = [each.name for each in book.living if each.name != name]
    event = request.query("event")
    start = kind == CohortEntryKind.START
    planned = kind == CohortEntryKind.PLANNED_MOVE
    path = quote(name)
    before: Mapping[str, object] = {"event": event} if event in set(Event) else _now_as(request, name, kind)
    return Form(
        heading=words.t("write.heading", what=words.t(f"kind_of.{kind}"), about=name)
        if name
        else words.t("kind_of.start"),
        action="/cohorts/start" if start else f"/cohorts/{path}/write",
        leave="/cohorts" if start else f"/cohorts/{path}",
        kind=kind,
        fields=fields_of(SubjectKind.COHORT, kind, request.plan, words, others),
        at_ms=request.now_ms + MS_PER_DAY if planned else request.now_ms,
        before=before,
        named=start,
    )


def _now_as(request: RequestContext, name: str, kind: str) -> Mapping[str, object]:
    """A count is of the stage that the cohort is in."""
    if kind != CohortEntryKind.COUNT:
        return {}
    view = ahead_now(request).forecast.of(name)
    stage: Stage | None = None if view is None else view.stage
    return {} if stage is None else {"stage": stage.value}


def show_write(request: RequestContext) -> Response:
    """The form, ready to be confirmed."""
    name, kind = request.http.path_params["cohort"], request.query("what")
    if kind not in KINDS or _cohort(request, name) is None:
        return problem(request, 404, "problem.not_here")
    return show_form(request, form_of(request, name, kind))


def write_entry(request: RequestContext) -> Response:
    """Write it down, unless the book says that it cannot be."""
    name, kind = request.http.path_params["cohort"], request.field("kind", 40)
    if kind not in KINDS or _cohort(request, name) is None:
        return problem(request, 404, "problem.not_here")
    return _write(request, form_of(request, name, kind), name, kind)


def _write(request: RequestContext, form: Form, name: str, kind: str) -> Response:
    def work() -> str:
        said = read_form(request, form)
        saw = kind == CohortEntryKind.SAW
        before = window_days(ahead_now(request).forecast.of(name)) if saw else None
        with entry_writer(request) as writer:
            made = writer.write(name, CohortEntryKind(kind), said.at_ms, said.body)
        mark = "" if before is None else f"&before={before * 10:.0f}"
        return f"/cohorts/{quote(name)}?wrote={made.entry_id}{mark}"

    return write(request, form, work)


def show_start(request: RequestContext) -> Response:
    """The form for a new cohort."""
    return show_form(request, form_of(request, "", CohortEntryKind.START))


def start(request: RequestContext) -> Response:
    """Begin a cohort."""
    form, name = form_of(request, "", CohortEntryKind.START), request.field("name", 60)
    if not name:
        missing = request.words.t("write.missing", field=request.words.t("field.name"))
        return show_form(request, form, missing)
    return _write(request, form, name, CohortEntryKind.START)


COHORTS = Part(
    "cohorts",
    "/cohorts",
    (
        Page("/cohorts", get=show_cohorts),
        Page("/cohorts/start", get=show_start, post=start),
        Page("/cohorts/{cohort}", get=show_cohort),
        Page("/cohorts/{cohort}/write", get=show_write, post=write_entry),
    ),
)
