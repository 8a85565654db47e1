"""Cohorts: where each stands, what comes when, the cages over 30 days; what is seen takes two taps.

One cohort in the words of the page: where it stands, what comes when, what that rests on.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from urllib.parse import quote

from markupsafe import Markup
from starlette.responses import Response

from monitor.development.events import EVENTS, Event
from monitor.development.forecast import CohortForecast, EventForecast, Heat
from monitor.development.progress import Cohort
from monitor.farm.cohorts import FLY_EVENTS, CohortView, DueEvent, ForecastView
from monitor.farm.development import cohorts_of
from monitor.farm.forecast_cache import CohortsAhead
from monitor.logbook.cohort_entries import CohortEntryKind
from monitor.page.curves import emergence_curve, stage_bar
from monitor.page.entries import (
    COHORT_FIELDS,
    Form,
    entry_writer,
    fields_of,
    show_form,
    stages_of_farm,
    typed,
    write,
)
from monitor.page.logbook import rows_about, wrote
from monitor.page.serving import Page, Part, RequestContext, problem
from monitor.page.supply import cage_card, learned
from monitor.records import MS_PER_DAY, Stage, SubjectKind
from monitor.words.cohorts import DRIFT_SHOWN_DAYS, FLIES
from monitor.words.localizer import Localizer, animals, day, days_long, window

OFFERED = 2
SOON_MS = 5 * MS_PER_DAY
_DRIVEN = {
    "air temperature": "driven.air",
    "substrate temperature": "driven.substrate",
    "no temperature yet": "driven.none",
    "air temperature: a dense bin can run many degrees hotter, so the window is wider": "driven.no_probe",
    "air temperature; as larvae counted as in the grow-out bins, since no move is planned": "driven.egg",
    "it stands in a tray; as larvae counted as in the grow-out bins, since no move is planned": "driven.tray",
}


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
    forecast, stage = view.forecast, view.stage
    known = forecast is not None and stage is not None
    purpose = view.cohort.purpose
    return CohortCard(
        name=view.cohort.name,
        place=view.place_title,
        place_id=view.place,
        stage=words.t(f"stage.{stage}") if stage is not None else words.t("state.unknown"),
        bar=_bar(forecast, stages, words) if known and forecast is not None else None,
        progress=_progress(forecast, words) if known and forecast is not None else "",
        purpose="" if purpose is None else words.t(f"purpose.{purpose}"),
        next=_next(view, words),
        lines=tuple(_lines(view, words)),
        flies=_flies(view, words),
        unknown=_unknown(forecast, words),
        warnings=tuple(warnings(view, words)),
        rests=rests(view, words),
        offered=tuple((event, words.t(f"seen.{event}")) for event in offered(view)),
    )


def _bar(forecast: CohortForecast, stages: Sequence[Stage], words: Localizer) -> Markup | None:
    if forecast.stage not in stages:
        return None
    return stage_bar(words, stages, forecast.stage, min(max(forecast.progress, 0.0), 1.0))


def _progress(forecast: CohortForecast, words: Localizer) -> str:
    if forecast.stage is Stage.ADULT:
        return ""
    done, needed = words.number(forecast.units_done), words.number(forecast.units_needed)
    key = "cohorts.degree_days" if forecast.units_needed > 20.0 else "cohorts.full_days"
    return words.t(key, percent=words.number(100.0 * forecast.progress), done=done, needed=needed)


def _unknown(forecast: CohortForecast | None, words: Localizer) -> str:
    if forecast is None or forecast.unknown_since_ms is None:
        return ""
    return words.t("cohorts.unknown", since=day(words, forecast.unknown_since_ms))


def _coming(view: CohortView) -> list[EventForecast]:
    if view.forecast is None or view.forecast.unknown_since_ms is not None:
        return []
    coming = [each for each in view.forecast.events if each.median_ms > view.forecast.made_ms]
    wanted = [each for each in coming if not (view.for_feed and each.event in FLY_EVENTS)]
    return sorted(wanted, key=lambda each: each.median_ms)


def _next(view: CohortView, words: Localizer) -> str:
    coming = _coming(view)
    return event_words(coming[0], words) if coming else ""


def event_words(each: EventForecast, words: Localizer) -> str:
    """An event with its likeliest day and its window."""
    return words.t(
        "cohorts.event",
        event=words.t(f"seen.{each.event}"),
        day=day(words, each.median_ms),
        window=window(words, each.low_ms, each.high_ms),
    )


def _lines(view: CohortView, words: Localizer) -> Iterator[tuple[str, str]]:
    """What matters beyond the next event: the flies, or the day before which to harvest."""
    coming = _coming(view)
    if view.for_feed:
        leaving = next((each for each in coming if each.event is Event.FIRST_PREPUPAE), None)
        if leaving is not None and leaving is not coming[0]:
            yield words.t("cohorts.harvest_before"), _day_and_window(leaving, words)
        return
    for each in coming[1:]:
        if each.event in FLIES:
            yield words.t(f"seen.{each.event}"), _day_and_window(each, words)


def _day_and_window(each: EventForecast, words: Localizer) -> str:
    return words.t(
        "cohorts.day", day=day(words, each.median_ms), window=window(words, each.low_ms, each.high_ms)
    )


def _flies(view: CohortView, words: Localizer) -> str:
    days = [each for each in view.forecast.emergence if each.flies] if view.forecast is not None else []
    if not days or view.for_feed:
        return ""
    best = max(days, key=lambda each: each.flies or 0.0)
    key = "cohorts.flies_rough" if view.cohort.rough_count else "cohorts.flies"
    return words.t(
        key,
        best=animals(words, best.flies or 0.0),
        day=day(words, best.day_start_ms + MS_PER_DAY // 2),
        low=animals(words, best.flies_low or 0.0),
        high=animals(words, best.flies_high or 0.0),
        all=animals(words, sum(each.flies or 0.0 for each in days)),
    )


def warnings(view: CohortView, words: Localizer) -> Iterator[str]:
    """What a person should know or do."""
    forecast = view.forecast
    if forecast is None:
        return
    hours = words.number(forecast.heat_hours)
    if forecast.heat is Heat.MAY_FAIL:
        yield words.t("cohorts.heat_fail", hours=hours)
    elif forecast.heat is Heat.WARNING and forecast.heat_hours >= 1.0:
        yield words.t("cohorts.heat_warning", hours=hours)
    if view.drift_days is not None and abs(view.drift_days) >= DRIFT_SHOWN_DAYS:
        key = "cohorts.behind" if view.drift_days > 0 else "cohorts.ahead"
        yield words.t(key, days=days_long(words, view.drift_days))
    planned = view.cohort.unconfirmed_move(forecast.made_ms)
    if planned is not None:
        yield words.t("cohorts.unconfirmed", place=planned.place, day=day(words, planned.from_ms))


def rests(view: CohortView, words: Localizer) -> str:
    """Numbers from papers or the farm's own, which temperature, and how much of it is estimated."""
    forecast = view.forecast
    if forecast is None:
        return ""
    own = words.n("cohorts.own", forecast.cohorts) if forecast.cohorts else words.t("cohorts.papers")
    driven = words.t(_DRIVEN[view.driven]) if view.driven in _DRIVEN else view.driven
    estimated = ""
    if forecast.estimated_hours >= 1.0:
        estimated = words.t("cohorts.estimated", hours=words.number(forecast.estimated_hours))
    return "; ".join(part for part in (own, driven, estimated) if part)


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


def due_rows(events: Iterable[DueEvent], words: Localizer) -> list[DueRow]:
    """What is due, in the order of the events."""
    return [_due_row(each, words) for each in events]


def _due_row(each: DueEvent, words: Localizer) -> DueRow:
    said = words.t(
        "cohorts.due",
        place=each.place,
        event=words.t(f"seen.{each.event}"),
        window=window(words, each.low_ms, each.high_ms),
    )
    return DueRow(day(words, each.median_ms), each.cohort, each.event.value, said)


def ask_words(view: ForecastView, words: Localizer) -> str:
    """The one observation that would help most, "" for none."""
    ask = view.ask
    if ask is None:
        return ""
    return words.t(
        "cohorts.ask",
        event=words.t(f"seen.{ask.event}"),
        day=day(words, ask.expected_ms),
        gain=days_long(words, ask.gain_days),
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


ROWS = 12
KINDS = tuple(kind for kind in COHORT_FIELDS if kind != CohortEntryKind.START)
QUICK = (CohortEntryKind.SAW, CohortEntryKind.FLIES, CohortEntryKind.COUNT)


def ahead_now(request: RequestContext) -> CohortsAhead:
    """All that is known of what comes, from what is kept."""
    context = request.app.context
    return context.foresight.cohorts(request.store, request.plan, request.now_ms, context.reading)


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
        ask=ask_words(forecast, words),
        ask_of=forecast.ask,
        cages=[cage_card(request, cage) for cage in ahead.supply.cages],
        undecided=ahead.supply.undecided,
        learned=learned(ahead.learned, words),
        refused=[(each.entry.entry_id, words.sentence(each.reason)) for each in forecast.refused],
        as_of=words.hour(forecast.now_ms),
        said=wrote(request),
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
        ended=_ended(request, cohort),
        kinds=KINDS if cohort.ended is None else (),
        rows=rows_about(request, SubjectKind.COHORT, name, ROWS),
        said=wrote(request) + _narrower(request, view),
    )


def _cohort(request: RequestContext, name: str) -> Cohort | None:
    return cohorts_of(request.store, request.plan, request.now_ms).cohorts.get(name)


def _ended(request: RequestContext, cohort: Cohort) -> str:
    if cohort.ended is None:
        return ""
    words = request.words
    how = words.t(f"ending.{cohort.ended.how}")
    return words.t("cohorts.ended", how=how, day=day(words, cohort.ended.at_ms))


def window_days(view: CohortView | None) -> float | None:
    """How long the window of half of the flies is, else that of the next event."""
    if view is None or view.forecast is None:
        return None
    found = view.forecast.event(Event.HALF_EMERGED) or view.forecast.next_event()
    days = None if found is None else (found.high_ms - found.low_ms) / MS_PER_DAY
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
    words, book = request.words, cohorts_of(request.store, request.plan, request.now_ms)
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
        do=words.t("write.do"),
        explained=words.t(f"explained.{kind}") if words.has(f"explained.{kind}") else "",
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
        said = typed(request, form)
        before = window_days(ahead_now(request).forecast.of(name))
        with entry_writer(request) as writer:
            made = writer.write(name, CohortEntryKind(kind), said.at_ms, said.body)
        mark = "" if before is None or kind != CohortEntryKind.SAW else f"&before={before * 10:.0f}"
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
