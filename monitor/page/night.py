"""Night: what happened while everybody slept, with its picture; earlier nights, and the week at a glance."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from markupsafe import Markup
from starlette.responses import Response

from monitor.charts.curve import Chart, draw_strip
from monitor.farm.curves import Points, thinned
from monitor.farm.night import NightReader, Span, last_night, night_of, week_of
from monitor.farm.records import NightSummary, PlaceNight, QuantityNight, WeekCell
from monitor.page.curves import as_seen, described, safe_range
from monitor.page.nodes import Board, board_of
from monitor.page.serving import Page, Part, RequestContext, drawn
from monitor.records import MS_PER_SECOND
from monitor.words import night as sentences
from monitor.words.localizer import Localizer

EARLIEST = date(2000, 1, 1)
NIGHTS = 7
STRIP_POINTS = 120


@dataclass(frozen=True, slots=True)
class QuantityLine:
    """One quantity over the night."""

    name: str
    low: str
    low_at: str
    high: str
    high_at: str
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class NightPlace:
    """One place over the night, with its line of the picture."""

    id: str
    title: str
    empty: bool
    quantities: tuple[QuantityLine, ...]
    warnings: tuple[str, ...]
    notes: tuple[str, ...]
    strip: Markup | None


@dataclass(frozen=True, slots=True)
class AlarmLine:
    """One alarm of the night."""

    at: str
    title: str
    what: str
    shape: str
    word: str
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Cell:
    """One place in one night; `shape` is the gravest alarm that came, "" for none."""

    low: str
    high: str
    shape: str
    word: str


@dataclass(frozen=True, slots=True)
class Row:
    """One place over the nights."""

    title: str
    quantity: str
    cells: tuple[Cell, ...]


@dataclass(frozen=True, slots=True)
class Week:
    """The nights, newest first, as dates and weekdays, and a row for each place."""

    nights: tuple[tuple[str, str], ...]
    rows: tuple[Row, ...]


def show_night(request: RequestContext) -> Response:
    """The report of a night: the newest one, or that of the date in the address."""
    newest = last_night(request.plan, request.now_ms)
    morning = _morning(request, newest)
    span = night_of(request.plan, morning)
    reader = NightReader(request.store, request.plan, span, request.now_ms)
    night, words = reader.summary(), request.words
    return request.render(
        "night.html",
        wrong=list(wrong_lines(night, words)) if span == newest else [],
        verdict=sentences.verdict(night, words),
        date=words.long_day(morning),
        start=words.moment(span.start_ms),
        end=words.moment(span.end_ms),
        morning=morning.isoformat(),
        earlier=(morning - timedelta(days=1)).isoformat(),
        later="" if span == newest else (morning + timedelta(days=1)).isoformat(),
        last=newest.date,
        places=[
            place_of_night(place, _strip(request, reader, place.id, span), words) for place in night.places
        ],
        alarms=list(alarm_lines(night, words)),
        late=list(late_lines(night, words)),
        boards=_boards(reader, words) if span == newest else [],
        monitor=[*sentences.monitor_lines(night, words), *sentences.aside_lines(night, words)],
        week=week_ending(request, reader, morning),
    )


def _morning(request: RequestContext, newest: Span) -> date:
    last = date.fromisoformat(newest.date)
    try:
        wanted = date.fromisoformat(request.query("date"))
    except ValueError:
        return last
    return min(max(wanted, EARLIEST), last)


def place_of_night(place: PlaceNight, strip: Markup | None, words: Localizer) -> NightPlace:
    """One place."""
    return NightPlace(
        id=place.id,
        title=place.title,
        empty=place.empty,
        quantities=tuple(_quantity(quantity, words) for quantity in place.quantities),
        warnings=tuple(sentences.place_warnings(place, words)),
        notes=tuple(sentences.place_notes(place, words)),
        strip=strip,
    )


def _quantity(night: QuantityNight, words: Localizer) -> QuantityLine:
    return QuantityLine(
        words.short_quantity(night.quantity),
        words.value(night.quantity, night.lowest.value),
        words.hour(night.lowest.at_ms),
        words.value(night.quantity, night.highest.value),
        words.hour(night.highest.at_ms),
        tuple(sentences.quantity_notes(night, words)),
    )


def _line(at: str, title: str, what: str, shape: str, notes: tuple[str, ...], words: Localizer) -> AlarmLine:
    return AlarmLine(at, title, what, shape, words.t(f"state.{shape}"), notes)


def alarm_lines(night: NightSummary, words: Localizer) -> Iterator[AlarmLine]:
    """The alarms that came in the night."""
    for alarm in night.alarms:
        text, notes = sentences.alarm_text(alarm, words), tuple(sentences.alarm_notes(alarm, words))
        yield _line(words.hour(alarm.began_ms), alarm.title, text, alarm.priority, notes, words)


def wrong_lines(night: NightSummary, words: Localizer) -> Iterator[AlarmLine]:
    """What is wrong now."""
    for alarm in night.still_active:
        yield _line("", alarm.title, sentences.wrong_text(alarm, words), alarm.rule.priority, (), words)


def late_lines(night: NightSummary, words: Localizer) -> Iterator[AlarmLine]:
    """What was found out only when late readings came; nobody was woken."""
    for late in night.found_late:
        began = sentences.late_began(late, night, words)
        what, until = sentences.late_text(late, words)
        yield _line(began, late.title, what, late.rule.priority, (until,), words)


def _strip(request: RequestContext, reader: NightReader, place: str, span: Span) -> Markup | None:
    """One place's line of the picture."""
    sensor = reader.sensors.main(place)
    series = None if sensor is None else reader.series(sensor)
    if sensor is None or series is None or len(series) == 0:
        return None
    bounds_ms = (span.start_ms, span.end_ms)
    points = thinned(
        Points(series.at_ms, series.value, series.value, series.value, 0), bounds_ms, STRIP_POINTS
    )
    points = as_seen(points, sensor.quantity, request.words)
    safe = safe_range(request.plan, place, sensor.quantity, request.words)
    title = request.words.quantity(sensor.quantity)
    gap_ms = round(request.plan.longest_gap_s(place) * MS_PER_SECOND)
    chart = Chart(
        *bounds_ms,
        points,
        join_ms=max(gap_ms, 3 * points.step_ms // 2),
        words=f"{title}. {described(points, sensor.quantity, safe, request.words)}",
        safe=safe,
    )
    return drawn(draw_strip(chart))


def _boards(reader: NightReader, words: Localizer) -> list[Board]:
    """The boards of the settings that somebody should look after now."""
    return [board_of(row, words) for row in reader.now.boards() if row.known and row.needs_care]


def week_ending(request: RequestContext, reader: NightReader, morning: date) -> Week:
    """The seven nights up to the one that ends on this morning."""
    mornings = [morning - timedelta(days=back) for back in range(NIGHTS)]
    spans = [night_of(request.plan, each) for each in mornings]
    words = request.words
    rows = (
        Row(
            request.plan.title(row.place),
            words.short_quantity(row.quantity),
            tuple(_cell(cell, row.quantity, words) for cell in row.cells),
        )
        for row in week_of(request.store, request.plan, reader.sensors, spans)
    )
    return Week(tuple((each.isoformat(), words.weekday(each)) for each in mornings), tuple(rows))


def _cell(cell: WeekCell, quantity: str, words: Localizer) -> Cell:
    shape = "" if cell.worst is None else str(cell.worst)
    word = words.t(f"state.{shape}") if shape else ""
    if cell.low is None or cell.high is None:
        return Cell("", "", shape, word)
    low, high = (words.number(words.shown(quantity, value)) for value in (cell.low, cell.high))
    return Cell(low, high, shape, word)


NIGHT = Part("night", "/night", (Page("/night", get=show_night),))
