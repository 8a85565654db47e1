"""Now: is anything wrong, and what to do, the worst first; and the page of one place with its curves."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from starlette.responses import Response

from monitor.farm.curves import SPANS, ChartSpan, span_ending
from monitor.farm.places import SiteReader, site_now
from monitor.farm.records import MATTERS, PlaceNow, PlaceState, QuantityNow
from monitor.page.alarms import AlarmCard, card, journal
from monitor.page.curves import Curve, curve
from monitor.page.serving import Page, RequestContext, outcome_words, problem
from monitor.records import Quantity, SensorKey
from monitor.words.alarms import JournalRow
from monitor.words.places import Advice, ShownValue, shown, stopped, unknown, verdict

JOURNAL_ROWS = 12
MOST_CURVES = 12
_QUANTITIES = [quantity.value for quantity in Quantity]


@dataclass(frozen=True, slots=True)
class PlaceCard:
    """One place as the page shows it; `unknown` stands in for its values where nothing is known."""

    id: str
    title: str
    state: str
    word: str
    values: tuple[ShownValue, ...]
    alarms: tuple[AlarmCard, ...]
    unknown: Advice | None


@dataclass(frozen=True, slots=True)
class Choice:
    """One length of time to choose."""

    name: str
    words: str
    chosen: bool


def show_now(request: RequestContext) -> Response:
    """The page."""
    words = request.words
    site = site_now(request.store, request.plan, request.now_ms)
    cards = [place_card(place, request) for place in site.places]
    return request.render(
        "now.html",
        verdict=verdict(site, words),
        wrong=site.wrong,
        stopped=stopped(site, words),
        need=[place for place in cards if place.state not in (PlaceState.FINE, PlaceState.EMPTY)],
        fine=[place for place in cards if place.state == PlaceState.FINE],
        empty=[place for place in cards if place.state == PlaceState.EMPTY],
        site_alarms=[card(alarm, request.plan, words) for alarm in site.own_alarms],
        said=outcome_words(request),
    )


def place_card(place: PlaceNow, request: RequestContext) -> PlaceCard:
    """One place in the words of the person who looks."""
    words, state = request.words, place.state
    is_unknown = state is PlaceState.UNKNOWN
    values = () if is_unknown else tuple(shown(quantity, words) for quantity in _to_show(place))
    return PlaceCard(
        id=place.id,
        title=place.title,
        state=state,
        word=words.t(f"state.{state}"),
        values=values,
        alarms=tuple(card(alarm, request.plan, words) for alarm in place.alarms),
        unknown=unknown(place, words) if is_unknown else None,
    )


def _to_show(place: PlaceNow) -> Sequence[QuantityNow]:
    """What matters to what lives there, else all of it; without those that an alarm tells of."""
    matters = {each.quantity for each in place.quantities} & set(MATTERS[place.kind])
    return [each for each in place.without_alarm if each.quantity in matters or not matters]


def show_place(request: RequestContext) -> Response:
    """The page of a place."""
    place_id = request.http.path_params["place"]
    if place_id not in request.plan.places:
        return problem(request, 404, "problem.not_here")
    span = SPANS.get(request.query("span"), SPANS["24h"])
    place = SiteReader(request.store, request.plan, request.now_ms).place(place_id)
    return request.render(
        "place.html",
        place=place_card(place, request),
        room=place.room,
        kind=request.words.t(f"kind.{place.kind}"),
        choices=[Choice(name, request.words.t(f"span.{name}"), name == span.name) for name in SPANS],
        curves=list(_curves(request, place, span)),
        journal=_journal(request, place_id),
        said=outcome_words(request),
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
