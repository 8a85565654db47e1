"""One place: what is so, what to do, and its curves over a day, a week, a month, a year."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from starlette.responses import Response

from monitor.records import Quantity, SensorKey
from monitor.views.charts import SPANS, ChartSpan, span_ending
from monitor.views.page.alarms_part import JournalRow, journal
from monitor.views.page.asking import said_of_command
from monitor.views.page.curves import Curve, curve
from monitor.views.page.now_part import place_card
from monitor.views.page.serving import Asked, Page, problem
from monitor.views.queries import site_now
from monitor.views.trends import changes_per_hour

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


def show_place(asked: Asked) -> Response:
    """The page of a place."""
    place_id = asked.request.path_params["place"]
    if place_id not in asked.plan.places:
        return problem(asked, 404, "problem.not_here")
    span = SPANS.get(asked.query("span"), SPANS["24h"])
    site = site_now(asked.store, asked.plan, asked.now_ms)
    place = next(each for each in site.places if each.id == place_id)
    wanted = {(place_id, value.quantity) for value in place.current}
    trends = changes_per_hour(asked.store, asked.plan, wanted, asked.now_ms)
    return asked.render(
        "place.html",
        place=place_card(place, asked, trends),
        room=asked.plan.title(room) if (room := asked.plan.places[place_id].room) else "",
        kind=asked.words.t(f"kind.{place.kind}"),
        choices=[Choice(each, asked.words.t(f"span.{each}"), each == span.name) for each in SPANS],
        curves=list(_curves(asked, place_id, span)),
        journal=_journal(asked, place_id),
        said=said_of_command(asked),
    )


def _curves(asked: Asked, place_id: str, span: ChartSpan) -> Iterator[Curve]:
    bounds_ms = span_ending(span, asked.now_ms, asked.plan.zone)
    for sensor in sensors_of(asked, place_id)[:MOST_CURVES]:
        yield curve(asked, place_id, sensor, span, bounds_ms)


def sensors_of(asked: Asked, place_id: str) -> Sequence[SensorKey]:
    """The sensors in a place, what matters most first."""
    found = [
        sensor
        for sensor in asked.store.readings.sensors()
        if asked.plan.place_of(sensor) == place_id and sensor.quantity not in _LEFT_OUT
    ]
    return sorted(found, key=lambda sensor: (_rank(sensor.quantity), sensor))


def _rank(quantity: str) -> int:
    return _ORDER.index(quantity) if quantity in _ORDER else len(_ORDER)


def _journal(asked: Asked, place_id: str) -> list[JournalRow]:
    rules = [rule.alarm_id for rule in asked.plan.rules.values() if rule.place == place_id]
    rows = [row for name in rules for row in asked.store.journal.last(JOURNAL_ROWS, name)]
    newest = sorted(rows, key=lambda row: row.at_ms, reverse=True)[:JOURNAL_ROWS]
    return journal(asked, newest)


PLACE_PAGE = Page("/places/{place}", get=show_place)
