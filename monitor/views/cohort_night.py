"""What the night report says of cohorts: what is due, who is ahead or behind, what to look for today."""

from __future__ import annotations

from collections.abc import Iterator

from monitor.errors import MonitorError
from monitor.records import SubjectKind
from monitor.settings.plan import Plan
from monitor.store import Store
from monitor.views.cohort_queries import ForecastView, forecast_view, keep_forecasts
from monitor.views.development import develop, local_day
from monitor.views.forecast_text import ask_words, due_words, warnings
from monitor.views.view_records import NightSection

NIGHT_DRAWS = 500
MOST_DUE = 12


def cohort_sections(store: Store, plan: Plan, at_ms: int) -> tuple[NightSection, ...]:
    """The sections of the report as they were on that morning; none where the logbook has no cohort."""
    if not store.logbook.every(SubjectKind.COHORT):
        return ()
    try:
        view = forecast_view(store, plan, at_ms, NIGHT_DRAWS)
    except MonitorError as error:
        return (NightSection("Cohorts", (f"- no forecast: {error}",)),)
    found = (
        NightSection("Cohorts today", tuple(_today(view, plan))),
        NightSection("Cohorts this week", tuple(_week(view, plan))),
    )
    return tuple(section for section in found if section.lines)


def _today(view: ForecastView, plan: Plan) -> Iterator[str]:
    for due in view.today:
        yield f"- {due_words(due, plan.zone)}"
    for due in view.overdue:
        yield f"- not entered yet: {due_words(due, plan.zone)}"
    for cohort in view.cohorts:
        for warning in warnings(cohort, plan.zone):
            yield f"- {cohort.cohort.name}: {warning}"
    if view.ask is not None:
        yield f"- {ask_words(view, plan.zone)}"


def _week(view: ForecastView, plan: Plan) -> Iterator[str]:
    for due in view.week[:MOST_DUE]:
        yield f"- {due_words(due, plan.zone)}"
    if len(view.week) > MOST_DUE:
        yield f"- and {len(view.week) - MOST_DUE} more: `rearing-monitor forecast`"


def keep_todays_forecasts(store: Store, plan: Plan, now_ms: int) -> int:
    """Keep the day's forecasts unless that was done; gives how many. Call it as often as you like."""
    if store.forecasts.has(local_day(now_ms, plan)) or not store.logbook.every(SubjectKind.COHORT):
        return 0
    return keep_forecasts(store, develop(store, plan, now_ms))
