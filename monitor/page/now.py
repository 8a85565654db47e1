"""One place: what is so, what to do, and its curves over a day, a week, a month, a year.

Now: is anything wrong, and what to do; the worst first, what is fine in one line.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass

from starlette.responses import Response

from monitor.farm.curves import SPANS, ChartSpan, span_ending
from monitor.farm.places import changes_per_hour, site_now
from monitor.farm.records import ActiveAlarm, Current, PlaceNow, SiteNow
from monitor.page.alarms import AlarmCard, card, journal
from monitor.page.curves import Curve, curve
from monitor.page.serving import Page, RequestContext, problem, said_of_command
from monitor.records import Flag, PlaceKind, Quantity, SensorKey
from monitor.words.alarms import JournalRow, direction
from monitor.words.localizer import Localizer

Trends = Mapping[tuple[str, str], float]

_AIR = (Quantity.AIR_TEMPERATURE, Quantity.AIR_HUMIDITY)
MATTERS: Mapping[PlaceKind, Sequence[str]] = {
    PlaceKind.ROOM: _AIR,
    PlaceKind.LOVE_CAGE: (*_AIR, Quantity.LIGHT),
    PlaceKind.HATCHING_TRAY: _AIR,
    PlaceKind.GROW_OUT_BIN: (Quantity.SUBSTRATE_TEMPERATURE, Quantity.SUBSTRATE_MOISTURE),
    PlaceKind.PUPATION_BOX: _AIR,
}
_RANKS = {"high": 0, "medium": 1, "low": 2, "unknown": 3, "fine": 4, "empty": 5}


@dataclass(frozen=True, slots=True)
class Shown:
    """One value: a short name, the words of the value, and which way it goes ("" where that is not known)."""

    name: str
    value: str
    way: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class PlaceCard:
    """One place as the page shows it."""

    id: str
    title: str
    state: str
    word: str
    values: tuple[Shown, ...]
    alarms: tuple[AlarmCard, ...]
    unknown: str = ""
    unknown_do: str = ""


def state_of(place: PlaceNow) -> str:
    """high, medium or low where an alarm stands; else empty, unknown or fine."""
    if place.worst is not None:
        return str(place.worst)
    if place.empty:
        return "empty"
    return "fine" if place.known else "unknown"


def show_now(request: RequestContext) -> Response:
    """The page."""
    site = site_now(request.store, request.plan, request.now_ms)
    trends = changes_per_hour(request.store, request.plan, _to_follow(site), request.now_ms)
    cards = [place_card(place, request, trends) for place in site.places]
    cards.sort(key=lambda each: _RANKS[each.state])
    site_alarms = [
        card(each, request.plan, request.words, trends) for each in site.site_alarms if each.stands
    ]
    return request.render(
        "now.html",
        verdict=verdict(site, request.words),
        wrong=site.wrong,
        site=site,
        need=[each for each in cards if _RANKS[each.state] <= _RANKS["unknown"]],
        fine=[each for each in cards if each.state == "fine"],
        empty=[each for each in cards if each.state == "empty"],
        site_alarms=site_alarms,
        said=said_of_command(request),
    )


def verdict(site: SiteNow, words: Localizer) -> list[str]:
    """In a few words whether anything is wrong, what matters most first."""
    states = [state_of(place) for place in site.places]
    need = sum(state in ("high", "medium", "low") for state in states)
    alarms = sum(alarm.stands for alarm in site.site_alarms)
    parts = [
        "" if site.service_alive else words.t("now.stopped"),
        words.n("now.need", need) if need else "",
        words.n("now.unknown", states.count("unknown")) if "unknown" in states else "",
        words.n("now.boards", alarms) if alarms else "",
    ]
    return [part for part in parts if part] or [words.t("now.fine")]


def _to_follow(site: SiteNow) -> Collection[tuple[str, str]]:
    values = {(place.id, value.quantity) for place in site.places for value in place.current}
    return {(place, quantity) for place, quantity in values if quantity != Quantity.LIGHT}


def place_card(place: PlaceNow, request: RequestContext, trends: Trends) -> PlaceCard:
    """One place in the words of the person who looks."""
    words, state = request.words, state_of(place)
    standing = [alarm for alarm in place.alarms if alarm.stands]
    unknown, unknown_do = _unknown(place, words) if state == "unknown" else ("", "")
    return PlaceCard(
        id=place.id,
        title=place.title,
        state=state,
        word=words.t(f"state.{state}"),
        values=tuple(values_of(place, standing, words, trends)) if state != "unknown" else (),
        alarms=tuple(card(each, request.plan, words, trends) for each in place.alarms),
        unknown=unknown,
        unknown_do=unknown_do,
    )


def _unknown(place: PlaceNow, words: Localizer) -> tuple[str, str]:
    newest = max((value.at_ms for value in place.current), default=None)
    if newest is None:
        return words.t("now.never_heard"), words.t("now.never_heard_do")
    nodes = words.listing(sorted({value.node for value in place.current}))
    return words.t("now.last_heard", at=words.ago(newest)), words.t("now.last_heard_do", nodes=nodes)


def values_of(
    place: PlaceNow, standing: Sequence[ActiveAlarm], words: Localizer, trends: Trends
) -> Iterator[Shown]:
    """The quantities that matter to what lives there, without those that an alarm tells of."""
    by_quantity: dict[str, list[Current]] = {}
    for value in place.current:
        by_quantity.setdefault(value.quantity, []).append(value)
    told = {alarm.rule.quantity for alarm in standing}
    wanted = [quantity for quantity in MATTERS[place.kind] if quantity in by_quantity]
    for quantity in wanted or list(by_quantity):
        if quantity not in told:
            yield shown(quantity, by_quantity[quantity], words, trends.get((place.id, quantity)))


def shown(quantity: str, values: Sequence[Current], words: Localizer, per_hour: float | None) -> Shown:
    """Lowest to highest of the sensors that can be trusted, or why there is no value."""
    name = words.short_quantity(quantity)
    good = [value for value in values if value.usable]
    if not good:
        newest = max(values, key=lambda value: value.at_ms)
        key = "value.not_since" if newest.stale else "value.broken"
        return Shown(name, words.t(key, at=words.clock(newest.at_ms)), "")
    low, high = min(value.value for value in good), max(value.value for value in good)
    doubtful = any(value.flag == Flag.SUSPECT for value in good)
    return Shown(
        name,
        span(quantity, low, high, words),
        "" if per_hour is None else direction(quantity, per_hour, words),
        words.t("value.doubtful") if doubtful else "",
    )


def span(quantity: str, low: float, high: float, words: Localizer) -> str:
    """One value, or from the lowest to the highest where they differ as shown."""
    first, last = words.value(quantity, low), words.value(quantity, high)
    if first == last:
        return first
    unit = words.unit(quantity)
    return words.t("value.span", low=first.removesuffix(unit).strip() if unit else first, high=last)


NOW_PAGE = Page("/", get=show_now)


_LEFT_OUT = frozenset({Quantity.BATTERY})
JOURNAL_ROWS = 12
MOST_CURVES = 12
_ORDER = [quantity.value for quantity in Quantity]


@dataclass(frozen=True, slots=True)
class Choice:
    """One length of time to choose."""

    name: str
    words: str
    chosen: bool


def show_place(request: RequestContext) -> Response:
    """The page of a place."""
    place_id = request.http.path_params["place"]
    if place_id not in request.plan.places:
        return problem(request, 404, "problem.not_here")
    span = SPANS.get(request.query("span"), SPANS["24h"])
    site = site_now(request.store, request.plan, request.now_ms)
    place = next(each for each in site.places if each.id == place_id)
    wanted = {(place_id, value.quantity) for value in place.current}
    trends = changes_per_hour(request.store, request.plan, wanted, request.now_ms)
    return request.render(
        "place.html",
        place=place_card(place, request, trends),
        room=request.plan.title(room) if (room := request.plan.places[place_id].room) else "",
        kind=request.words.t(f"kind.{place.kind}"),
        choices=[Choice(each, request.words.t(f"span.{each}"), each == span.name) for each in SPANS],
        curves=list(_curves(request, place_id, span)),
        journal=_journal(request, place_id),
        said=said_of_command(request),
    )


def _curves(request: RequestContext, place_id: str, span: ChartSpan) -> Iterator[Curve]:
    bounds_ms = span_ending(span, request.now_ms, request.plan.zone)
    for sensor in sensors_of(request, place_id)[:MOST_CURVES]:
        yield curve(request, place_id, sensor, span, bounds_ms)


def sensors_of(request: RequestContext, place_id: str) -> Sequence[SensorKey]:
    """The sensors in a place, what matters most first."""
    found = [
        sensor
        for sensor in request.store.readings.sensors()
        if request.plan.place_of(sensor) == place_id and sensor.quantity not in _LEFT_OUT
    ]
    return sorted(found, key=lambda sensor: (_rank(sensor.quantity), sensor))


def _rank(quantity: str) -> int:
    return _ORDER.index(quantity) if quantity in _ORDER else len(_ORDER)


def _journal(request: RequestContext, place_id: str) -> list[JournalRow]:
    rules = [rule.alarm_id for rule in request.plan.rules.values() if rule.place == place_id]
    rows = [row for name in rules for row in request.store.journal.last(JOURNAL_ROWS, name)]
    newest = sorted(rows, key=lambda row: row.at_ms, reverse=True)[:JOURNAL_ROWS]
    return journal(request, newest)


PLACE_PAGE = Page("/places/{place}", get=show_place)
