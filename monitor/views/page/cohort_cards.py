"""One cohort in the words of the page: where it stands, what comes when, what that rests on."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from markupsafe import Markup

from monitor.model.events import EVENTS, Event
from monitor.model.forecast import CohortForecast, EventForecast, Heat
from monitor.records import MS_PER_DAY, Stage
from monitor.views.cohort_queries import FLY_EVENTS, CohortView, DueEvent, ForecastView
from monitor.views.forecast_text import DRIFT_SHOWN_DAYS, FLIES
from monitor.views.page.ahead_words import animals, day, days_long, window
from monitor.views.page.sketches import stage_bar
from monitor.views.page.words import Words

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


def cohort_card(view: CohortView, stages: Sequence[Stage], words: Words) -> CohortCard:
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


def _bar(forecast: CohortForecast, stages: Sequence[Stage], words: Words) -> Markup | None:
    if forecast.stage not in stages:
        return None
    return stage_bar(words, stages, forecast.stage, min(max(forecast.progress, 0.0), 1.0))


def _progress(forecast: CohortForecast, words: Words) -> str:
    if forecast.stage is Stage.ADULT:
        return ""
    done, needed = words.number(forecast.units_done), words.number(forecast.units_needed)
    key = "cohorts.degree_days" if forecast.units_needed > 20.0 else "cohorts.full_days"
    return words.t(key, percent=words.number(100.0 * forecast.progress), done=done, needed=needed)


def _unknown(forecast: CohortForecast | None, words: Words) -> str:
    if forecast is None or forecast.unknown_since_ms is None:
        return ""
    return words.t("cohorts.unknown", since=day(words, forecast.unknown_since_ms))


def _coming(view: CohortView) -> list[EventForecast]:
    if view.forecast is None or view.forecast.unknown_since_ms is not None:
        return []
    coming = [each for each in view.forecast.events if each.median_ms > view.forecast.made_ms]
    wanted = [each for each in coming if not (view.for_feed and each.event in FLY_EVENTS)]
    return sorted(wanted, key=lambda each: each.median_ms)


def _next(view: CohortView, words: Words) -> str:
    coming = _coming(view)
    return event_words(coming[0], words) if coming else ""


def event_words(each: EventForecast, words: Words) -> str:
    """An event with its likeliest day and its window."""
    return words.t(
        "cohorts.event",
        event=words.t(f"seen.{each.event}"),
        day=day(words, each.median_ms),
        window=window(words, each.low_ms, each.high_ms),
    )


def _lines(view: CohortView, words: Words) -> Iterator[tuple[str, str]]:
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


def _day_and_window(each: EventForecast, words: Words) -> str:
    return words.t(
        "cohorts.day", day=day(words, each.median_ms), window=window(words, each.low_ms, each.high_ms)
    )


def _flies(view: CohortView, words: Words) -> str:
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


def warnings(view: CohortView, words: Words) -> Iterator[str]:
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


def rests(view: CohortView, words: Words) -> str:
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


def due_rows(events: Iterable[DueEvent], words: Words) -> list[DueRow]:
    """What is due, in the order of the events."""
    return [_due_row(each, words) for each in events]


def _due_row(each: DueEvent, words: Words) -> DueRow:
    said = words.t(
        "cohorts.due",
        place=each.place,
        event=words.t(f"seen.{each.event}"),
        window=window(words, each.low_ms, each.high_ms),
    )
    return DueRow(day(words, each.median_ms), each.cohort, each.event.value, said)


def ask_words(view: ForecastView, words: Words) -> str:
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


def event_rows(view: CohortView, words: Words) -> list[tuple[str, str, str, bool]]:
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
