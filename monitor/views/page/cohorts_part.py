"""Cohorts: where each stands, what comes when, the cages over 30 days; what is seen takes two taps."""

from __future__ import annotations

from collections.abc import Mapping
from urllib.parse import quote

from starlette.responses import Response

from monitor.model.cohort_entries import EntryKind
from monitor.model.cohort_records import Cohort
from monitor.model.events import Event
from monitor.records import MS_PER_DAY, Stage, SubjectKind
from monitor.views.cohort_queries import CohortView
from monitor.views.cohort_writing import enter, entry_about
from monitor.views.development import cohorts_of
from monitor.views.page.ahead_words import day, days_long
from monitor.views.page.cohort_cards import ask_words, cohort_card, due_rows, event_rows
from monitor.views.page.entry_kinds import COHORT_FIELDS, fields_of, stages_of_farm
from monitor.views.page.entry_page import Form, author, show_form, typed, write
from monitor.views.page.foresight import CohortsAhead
from monitor.views.page.logbook_rows import rows_about, wrote
from monitor.views.page.serving import Asked, Page, Part, problem
from monitor.views.page.sketches import emergence_curve
from monitor.views.page.supply_cards import cage_card, learned

ROWS = 12
KINDS = tuple(kind for kind in COHORT_FIELDS if kind != EntryKind.START)
QUICK = (EntryKind.SAW, EntryKind.FLIES, EntryKind.COUNT)


def ahead_now(asked: Asked) -> CohortsAhead:
    """All that is known of what comes, from what is kept."""
    context = asked.farm.context
    return context.foresight.cohorts(asked.store, asked.plan, asked.now_ms, context.reading)


def show_cohorts(asked: Asked) -> Response:
    """What is due, each cohort, the cages, and what the forecasts rest on."""
    ahead, words = ahead_now(asked), asked.words
    forecast = ahead.forecast
    stages = stages_of_farm(asked.plan)
    return asked.render(
        "cohorts.html",
        cards=[cohort_card(view, stages, words) for view in forecast.cohorts],
        today=due_rows(forecast.today, words),
        week=due_rows(forecast.week, words),
        overdue=due_rows(forecast.overdue, words),
        ask=ask_words(forecast, words),
        ask_of=forecast.ask,
        cages=[cage_card(asked, cage) for cage in ahead.supply.cages],
        undecided=ahead.supply.undecided,
        learned=learned(ahead.learned, words),
        refused=[(each.entry.entry_id, each.reason) for each in forecast.refused],
        as_of=words.hour(forecast.now_ms),
        said=wrote(asked),
    )


def show_cohort(asked: Asked) -> Response:
    """One cohort: its bar, all its events, its curve, its logbook."""
    name, words = asked.request.path_params["cohort"], asked.words
    view = ahead_now(asked).forecast.of(name)
    cohort = view.cohort if view is not None else _cohort(asked, name)
    if cohort is None:
        return problem(asked, 404, "problem.not_here")
    forecast = None if view is None else view.forecast
    wanted = view is not None and not view.for_feed and forecast is not None
    return asked.render(
        "cohorts_one.html",
        name=name,
        card=None if view is None else cohort_card(view, stages_of_farm(asked.plan), words),
        events=[] if view is None else event_rows(view, words),
        curve=emergence_curve(asked, forecast.emergence) if wanted and forecast is not None else None,
        ended=_ended(asked, cohort),
        kinds=KINDS if cohort.ended is None else (),
        rows=rows_about(asked, SubjectKind.COHORT, name, ROWS),
        said=wrote(asked) + _narrower(asked, view),
    )


def _cohort(asked: Asked, name: str) -> Cohort | None:
    return cohorts_of(asked.store, asked.plan, asked.now_ms).cohorts.get(name)


def _ended(asked: Asked, cohort: Cohort) -> str:
    if cohort.ended is None:
        return ""
    words = asked.words
    how = words.t(f"ending.{cohort.ended.how}")
    return words.t("cohorts.ended", how=how, day=day(words, cohort.ended.at_ms))


def window_days(view: CohortView | None) -> float | None:
    """How long the window of half of the flies is, else that of the next event."""
    if view is None or view.forecast is None:
        return None
    found = view.forecast.event(Event.HALF_EMERGED) or view.forecast.next_event()
    days = None if found is None else (found.high_ms - found.low_ms) / MS_PER_DAY
    return days if days is not None and days < 1000.0 else None


def _narrower(asked: Asked, view: CohortView | None) -> str:
    """How the window changed with what was just written, from the tenths of days that the address names."""
    before, now = asked.query("before"), window_days(view)
    if not (before.isascii() and before.isdigit() and len(before) < 5) or now is None:
        return ""
    words = asked.words
    was = days_long(words, int(before) / 10.0)
    return " " + words.t("cohorts.narrower", before=was, now=days_long(words, now))


def form_of(asked: Asked, name: str, kind: str) -> Form:
    """The form of one kind of entry; an event that the address names is chosen already."""
    words, book = asked.words, cohorts_of(asked.store, asked.plan, asked.now_ms)
    others = [each.name for each in book.living if each.name != name]
    event = asked.query("event")
    start = kind == EntryKind.START
    planned = kind == EntryKind.PLANNED_MOVE
    path = quote(name)
    before: Mapping[str, object] = {"event": event} if event in set(Event) else _now_as(asked, name, kind)
    return Form(
        heading=words.t("write.heading", what=words.t(f"kind_of.{kind}"), about=name)
        if name
        else words.t("kind_of.start"),
        action="/cohorts/start" if start else f"/cohorts/{path}/write",
        leave="/cohorts" if start else f"/cohorts/{path}",
        kind=kind,
        fields=fields_of(SubjectKind.COHORT, kind, asked.plan, words, others),
        at_ms=asked.now_ms + MS_PER_DAY if planned else asked.now_ms,
        before=before,
        do=words.t("write.do"),
        explained=words.t(f"explained.{kind}") if words.has(f"explained.{kind}") else "",
        named=start,
    )


def _now_as(asked: Asked, name: str, kind: str) -> Mapping[str, object]:
    """A count is of the stage that the cohort is in."""
    if kind != EntryKind.COUNT:
        return {}
    view = ahead_now(asked).forecast.of(name)
    stage: Stage | None = None if view is None else view.stage
    return {} if stage is None else {"stage": stage.value}


def show_write(asked: Asked) -> Response:
    """The form, ready to be confirmed."""
    name, kind = asked.request.path_params["cohort"], asked.query("what")
    if kind not in KINDS or _cohort(asked, name) is None:
        return problem(asked, 404, "problem.not_here")
    return show_form(asked, form_of(asked, name, kind))


def write_entry(asked: Asked) -> Response:
    """Write it down, unless the book says that it cannot be."""
    name, kind = asked.request.path_params["cohort"], asked.field("kind", 40)
    if kind not in KINDS or _cohort(asked, name) is None:
        return problem(asked, 404, "problem.not_here")
    return _write(asked, form_of(asked, name, kind), name, kind)


def _write(asked: Asked, form: Form, name: str, kind: str) -> Response:
    def work() -> str:
        said = typed(asked, form)
        before = window_days(ahead_now(asked).forecast.of(name))
        entry = entry_about(name, kind, said.at_ms, said.body, author(asked), asked.now_ms)
        with asked.farm.context.writing() as store:
            number, _ = enter(store, asked.plan, entry, asked.now_ms)
        mark = "" if before is None or kind != EntryKind.SAW else f"&before={before * 10:.0f}"
        return f"/cohorts/{quote(name)}?wrote={number}{mark}"

    return write(asked, form, work)


def show_start(asked: Asked) -> Response:
    """The form for a new cohort."""
    return show_form(asked, form_of(asked, "", EntryKind.START))


def start(asked: Asked) -> Response:
    """Begin a cohort."""
    form, name = form_of(asked, "", EntryKind.START), asked.field("name", 60)
    if not name:
        missing = asked.words.t("write.missing", field=asked.words.t("field.name"))
        return show_form(asked, form, missing)
    return _write(asked, form, name, EntryKind.START)


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
