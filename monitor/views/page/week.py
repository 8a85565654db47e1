"""The week at a glance: for each place and night the span of its main quantity, and whether an alarm came."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from monitor.records import MS_PER_HOUR, SensorKey
from monitor.views.night import Span, night_of
from monitor.views.page.now_part import MATTERS
from monitor.views.page.serving import Asked

NIGHTS = 7
_RANKS = ("high", "medium", "low")


@dataclass(frozen=True, slots=True)
class Cell:
    """One place in one night; `shape` is the gravest alarm that came, "" for none."""

    low: str
    high: str
    shape: str
    word: str


@dataclass(frozen=True, slots=True)
class WeekRow:
    """One place over the nights."""

    id: str
    title: str
    quantity: str
    cells: tuple[Cell, ...]


@dataclass(frozen=True, slots=True)
class Week:
    """The nights, newest first, and a row for each place."""

    nights: tuple[tuple[str, str], ...]
    rows: tuple[WeekRow, ...]


def week_ending(asked: Asked, morning: date) -> Week:
    """The seven nights up to the one that ends on this morning."""
    mornings = [morning - timedelta(days=back) for back in range(NIGHTS)]
    spans = [night_of(asked.plan, each) for each in mornings]
    worst = _worst(asked, spans)
    rows = tuple(row for place in asked.plan.places if (row := _row(asked, place, spans, worst)) is not None)
    names = tuple((each.isoformat(), asked.words.weekday(each)) for each in mornings)
    return Week(names, rows)


def _worst(asked: Asked, spans: Sequence[Span]) -> dict[tuple[str, str], str]:
    """The gravest alarm of each place and night."""
    found: dict[tuple[str, str], str] = {}
    for row in asked.store.journal.transitions(spans[-1].start_ms, spans[0].end_ms):
        night = next((span for span in spans if span.start_ms <= row.at_ms < span.end_ms), None)
        if night is not None and row.announces:
            key = (row.place, night.date)
            shapes = {str(row.priority), found.get(key, "")}
            found[key] = next(shape for shape in _RANKS if shape in shapes)
    return found


def main_sensor(asked: Asked, place: str) -> SensorKey | None:
    """The sensor of the quantity that matters most in a place."""
    kind = asked.plan.places[place].kind
    here = [sensor for sensor in asked.store.readings.sensors() if asked.plan.place_of(sensor) == place]
    for quantity in MATTERS[kind]:
        for sensor in here:
            if sensor.quantity == quantity:
                return sensor
    return None


def _row(
    asked: Asked, place: str, spans: Sequence[Span], worst: dict[tuple[str, str], str]
) -> WeekRow | None:
    sensor = main_sensor(asked, place)
    if sensor is None:
        return None
    cells = tuple(_cell(asked, sensor, span, worst.get((place, span.date), "")) for span in spans)
    return WeekRow(place, asked.plan.title(place), asked.words.short_quantity(sensor.quantity), cells)


def _cell(asked: Asked, sensor: SensorKey, span: Span, shape: str) -> Cell:
    words = asked.words
    hours = -(-(span.end_ms - span.start_ms) // MS_PER_HOUR)
    parts = asked.store.summaries.parts(sensor, span.start_ms, span.end_ms, hours)
    word = words.t(f"state.{shape}") if shape else ""
    if len(parts.minimum) == 0:
        return Cell("", "", shape, word)
    shown = [
        words.number(words.shown(sensor.quantity, float(value[0])))
        for value in (parts.minimum, parts.maximum)
    ]
    return Cell(shown[0], shown[1], shape, word)
