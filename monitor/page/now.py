"""Now: is anything wrong, and what to do, the worst first; and the page of one place with its curves."""

from __future__ import annotations

import secrets
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import partial

from starlette.responses import Response

from monitor.farm.curves import SPANS, ChartSpan, span_ending
from monitor.farm.places import SiteReader, site_now
from monitor.farm.records import ActiveAlarm, PlaceNow, PlaceState
from monitor.page.alarms import AlarmCard, alarm_card, journal
from monitor.page.bins import bins_now
from monitor.page.curves import Curve, curve
from monitor.page.guard import ASIDE_MINUTES
from monitor.page.logbook import just_written
from monitor.page.serving import Page, RequestContext, outcome_words, problem
from monitor.records import Quantity, SensorKey
from monitor.words import guard as guard_words
from monitor.words import places as place_words
from monitor.words.alarms import JournalRow

JOURNAL_ROWS = 12
MOST_CURVES = 12
_QUANTITIES = [quantity.value for quantity in Quantity]


@dataclass(frozen=True, slots=True)
class Choice:
    """One length of time to choose."""

    name: str
    words: str
    chosen: bool


def show_now(request: RequestContext) -> Response:
    """The page."""
    site = site_now(request.store, request.plan, request.now_ms, partial(bins_now, request))
    by_state = {state: [place for place in site.places if place.state is state] for state in PlaceState}
    fine, empty = by_state.pop(PlaceState.FINE), by_state.pop(PlaceState.EMPTY)
    return request.render(
        "now.html",
        site=site,
        place_words=place_words,
        guard_words=guard_words,
        need=[place for places in by_state.values() for place in places],
        fine=fine,
        empty=empty,
        cards={place.id: _cards(place.alarms, request) for place in site.places},
        site_cards=_cards(site.own_alarms, request),
        said=outcome_words(request) or just_written(request),
        mark=secrets.token_urlsafe(9),
    )


def _cards(alarms: Iterable[ActiveAlarm], request: RequestContext) -> list[AlarmCard]:
    return [alarm_card(alarm, request.plan, request.words) for alarm in alarms]


def show_place(request: RequestContext) -> Response:
    """The page of a place."""
    place_id = request.http.path_params["place"]
    if place_id not in request.plan.places:
        return problem(request, 404, "problem.not_here")
    span = SPANS.get(request.query("span"), SPANS["24h"])
    bins = partial(bins_now, request)
    place = SiteReader(request.store, request.plan, request.now_ms, bins).place(place_id)
    return request.render(
        "place.html",
        place=place,
        place_words=place_words,
        guard_words=guard_words,
        cards=_cards(place.alarms, request),
        choices=[Choice(name, request.words.t(f"span.{name}"), name == span.name) for name in SPANS],
        curves=list(_curves(request, place, span)),
        journal=_journal(request, place_id),
        aside_minutes=ASIDE_MINUTES,
        said=outcome_words(request) or just_written(request),
        mark=secrets.token_urlsafe(9),
    )


def _curves(request: RequestContext, place: PlaceNow, span: ChartSpan) -> Iterator[Curve]:
    bounds_ms = span_ending(span, request.now_ms, request.plan.zone)
    sensors = sorted((current.sensor for current in place.current), key=_rank)
    for sensor in sensors[:MOST_CURVES]:
        yield curve(request, place.id, sensor, span, bounds_ms)


def _rank(sensor: SensorKey) -> tuple[int, SensorKey]:
    known = sensor.quantity in _QUANTITIES
    return _QUANTITIES.index(sensor.quantity) if known else len(_QUANTITIES), sensor


def _journal(request: RequestContext, place_id: str) -> list[JournalRow]:
    rules = [rule.alarm_id for rule in request.plan.rules.values() if rule.place == place_id]
    rows = [row for name in rules for row in request.store.journal.last(JOURNAL_ROWS, name)]
    newest = sorted(rows, key=lambda row: row.at_ms, reverse=True)[:JOURNAL_ROWS]
    return journal(request, newest)


NOW_PAGE = Page("/", get=show_now)
PLACE_PAGE = Page("/places/{place}", get=show_place)
