"""Night: what happened while everybody slept, with its picture; earlier nights, and the week at a glance.

The night in the words of the person who looks.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from markupsafe import Markup
from starlette.responses import Response

from monitor.charts.curve import Chart, draw_strip
from monitor.farm.curves import ChartSpan, read_points, thinned
from monitor.farm.night import Span, last_night, night_of, summarise
from monitor.farm.places import node_rows
from monitor.farm.records import AirNight, AlarmNight, DegreeDays, NightSummary, PlaceNight, QuantityNight
from monitor.page.curves import as_seen, described, safe_range
from monitor.page.nodes import Board, known_boards
from monitor.page.now import MATTERS
from monitor.page.serving import Page, Part, RequestContext, drawn
from monitor.records import MS_PER_HOUR, MS_PER_MINUTE, MS_PER_SECOND, SensorKey
from monitor.words.alarms import condition
from monitor.words.localizer import Localizer

CONDENSING_NEAR_K = 1.0
PA_PER_KPA = 1000.0


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


def verdict(night: NightSummary, words: Localizer) -> str:
    """The first line: whether anything is wrong now, and how the night was."""
    now, woke = len(night.still_active), len(night.alarms)
    first = words.n("night.wrong_now", now) if now else words.t("night.well_now")
    second = words.n("night.alarms", woke) if woke else words.t("night.quiet")
    return f"{first}{words.t('format.list')}{second}"


def place_of_night(place: PlaceNight, strip: Markup | None, words: Localizer) -> NightPlace:
    """One place."""
    return NightPlace(
        id=place.id,
        title=place.title,
        empty=place.empty,
        quantities=tuple(_quantity(quantity, words) for quantity in place.quantities),
        warnings=(*_gap(place, words), *_condensation(place.air, words)),
        notes=(*_degree_days(place.degree_days, words), *_drying(place.air, words)),
        strip=strip,
    )


def _quantity(found: QuantityNight, words: Localizer) -> QuantityLine:
    notes = []
    if found.minutes_out >= 1:
        length = words.length(found.minutes_out * MS_PER_MINUTE)
        notes.append(words.t("night.out", length=length))
    return QuantityLine(
        words.short_quantity(found.quantity),
        words.value(found.quantity, found.lowest.value),
        words.hour(found.lowest.at_ms),
        words.value(found.quantity, found.highest.value),
        words.hour(found.highest.at_ms),
        tuple(notes),
    )


def _gap(place: PlaceNight, words: Localizer) -> Iterator[str]:
    """The longest silence of any quantity; mostly the board as a whole was silent."""
    longest = max((quantity.gap_minutes for quantity in place.quantities), default=0.0)
    if longest >= 1:
        yield words.t("night.gap", length=words.length(longest * MS_PER_MINUTE))


def _drying(air: AirNight | None, words: Localizer) -> Iterator[str]:
    if air is not None:
        deficits = (air.mean_deficit_pa, air.highest_deficit_pa)
        mean, most = (words.number(value / PA_PER_KPA, 1) for value in deficits)
        yield words.t("night.drying", mean=mean, most=most)


def _condensation(air: AirNight | None, words: Localizer) -> Iterator[str]:
    if air is None:
        return
    if air.minutes_condensing >= 1:
        yield words.t("night.condensed", length=words.length(air.minutes_condensing * MS_PER_MINUTE))
    elif air.lowest_margin_k < CONDENSING_NEAR_K:
        margin = words.value("condensation_margin", air.lowest_margin_k)
        yield words.t("night.near_condensing", margin=margin, at=words.hour(air.margin_at_ms))


def _degree_days(earned: DegreeDays | None, words: Localizer) -> Iterator[str]:
    if earned is None:
        return
    yield words.t(
        "night.degree_days",
        earned=words.number(earned.earned, 1),
        threshold=words.value("air_temperature", earned.threshold_c),
    )
    if earned.hours_missing:
        yield words.t("night.degree_days_missing", length=words.length(earned.hours_missing * MS_PER_HOUR))


def alarm_lines(night: NightSummary, words: Localizer) -> Iterator[AlarmLine]:
    """The alarms that came in the night."""
    for alarm in night.alarms:
        text = alarm.alarm_id if alarm.rule is None else condition(alarm.rule, alarm.value, words)
        shape = str(alarm.priority)
        yield AlarmLine(
            words.hour(alarm.began_ms),
            alarm.title,
            text,
            shape,
            words.t(f"state.{shape}"),
            tuple(_alarm_notes(alarm, words)),
        )


def _alarm_notes(alarm: AlarmNight, words: Localizer) -> Iterator[str]:
    if alarm.acknowledged_ms is None:
        yield words.t("night.not_acknowledged")
    else:
        at = words.hour(alarm.acknowledged_ms)
        yield words.t("night.acknowledged", who=alarm.acknowledged_by, at=at)
    if alarm.rule is not None and alarm.extreme is not None and alarm.extreme != alarm.value:
        yield words.t("night.farthest", value=words.value(alarm.rule.quantity, alarm.extreme))
    cleared_ms = alarm.cleared_ms
    yield words.t("night.stands") if cleared_ms is None else words.t("night.over", at=words.hour(cleared_ms))


def wrong_lines(night: NightSummary, words: Localizer) -> Iterator[AlarmLine]:
    """What is wrong now."""
    for alarm in night.still_active:
        shape, text = str(alarm.rule.priority), condition(alarm.rule, alarm.state.last_value, words)
        yield AlarmLine("", alarm.title, text, shape, words.t(f"state.{shape}"), ())


def late_lines(night: NightSummary, words: Localizer) -> Iterator[AlarmLine]:
    """What was found out only when late readings came; nobody was woken."""
    for found in night.found_late:
        until = words.t("night.until", at=words.hour(found.ended_ms))
        shape = str(found.rule.priority)
        yield AlarmLine(
            words.hour(found.began_ms),
            found.title,
            condition(found.rule, found.extreme, words),
            shape,
            words.t(f"state.{shape}"),
            (until,),
        )


_NIGHT = ChartSpan("night", 0, 0)
EARLIEST = date(2000, 1, 1)


def show_night(request: RequestContext) -> Response:
    """The report of a night: the newest one, or that of the date in the address."""
    newest = last_night(request.plan, request.now_ms)
    morning = _morning(request, newest)
    span = night_of(request.plan, morning)
    night = summarise(request.store, request.plan, span, request.now_ms)
    words = request.words
    return request.render(
        "night.html",
        wrong=list(wrong_lines(night, words)) if span == newest else [],
        verdict=verdict(night, words),
        date=words.long_day(morning),
        start=words.moment(span.start_ms),
        end=words.moment(span.end_ms),
        morning=morning.isoformat(),
        earlier=(morning - timedelta(days=1)).isoformat(),
        later="" if span == newest else (morning + timedelta(days=1)).isoformat(),
        last=newest.date,
        places=[place_of_night(place, _strip(request, place.id, span), words) for place in night.places],
        alarms=list(alarm_lines(night, words)),
        late=list(late_lines(night, words)),
        boards=_boards(request) if span == newest else [],
        monitor=_monitor(night, request),
        week=week_ending(request, morning),
    )


def _morning(request: RequestContext, newest: Span) -> date:
    last = date.fromisoformat(newest.date)
    try:
        wanted = date.fromisoformat(request.query("date"))
    except ValueError:
        return last
    return min(max(wanted, EARLIEST), last)


def _strip(request: RequestContext, place: str, span: Span) -> Markup | None:
    """One place's line of the picture."""
    sensor = main_sensor(request, place)
    if sensor is None:
        return None
    bounds_ms = (span.start_ms, span.end_ms)
    points = read_points(request.store, sensor, _NIGHT, bounds_ms, request.calibrations.of(sensor))
    if len(points) == 0:
        return None
    points = as_seen(thinned(points, bounds_ms, 120), sensor.quantity, request.words)
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


def _boards(request: RequestContext) -> list[Board]:
    rows = node_rows(request.store, request.plan, request.now_ms)
    return [board for board in known_boards(request, rows) if board.needs_care]


def _monitor(night: NightSummary, request: RequestContext) -> list[str]:
    """What the monitor itself did not see or send."""
    words = request.words
    found = [
        words.t(
            "night.not_running",
            start=words.hour(start_ms),
            end=words.hour(end_ms),
            length=words.length(end_ms - start_ms),
        )
        for start_ms, end_ms in night.downtime
    ]
    if night.unsent_messages:
        found.append(words.n("night.unsent", night.unsent_messages))
    return [*found, *(words.text(note) for note in night.notes)]


NIGHT = Part("night", "/night", (Page("/night", get=show_night),))


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


def week_ending(request: RequestContext, morning: date) -> Week:
    """The seven nights up to the one that ends on this morning."""
    mornings = [morning - timedelta(days=back) for back in range(NIGHTS)]
    spans = [night_of(request.plan, each) for each in mornings]
    worst = _worst(request, spans)
    rows = tuple(
        row for place in request.plan.places if (row := _row(request, place, spans, worst)) is not None
    )
    names = tuple((each.isoformat(), request.words.weekday(each)) for each in mornings)
    return Week(names, rows)


def _worst(request: RequestContext, spans: Sequence[Span]) -> dict[tuple[str, str], str]:
    """The gravest alarm of each place and night."""
    found: dict[tuple[str, str], str] = {}
    for row in request.store.journal.transitions(spans[-1].start_ms, spans[0].end_ms):
        night = next((span for span in spans if span.start_ms <= row.at_ms < span.end_ms), None)
        if night is not None and row.announces:
            key = (row.place, night.date)
            shapes = {str(row.priority), found.get(key, "")}
            found[key] = next(shape for shape in _RANKS if shape in shapes)
    return found


def main_sensor(request: RequestContext, place: str) -> SensorKey | None:
    """The sensor of the quantity that matters most in a place."""
    kind = request.plan.places[place].kind
    here = [sensor for sensor in request.store.readings.sensors() if request.plan.place_of(sensor) == place]
    for quantity in MATTERS[kind]:
        for sensor in here:
            if sensor.quantity == quantity:
                return sensor
    return None


def _row(
    request: RequestContext, place: str, spans: Sequence[Span], worst: dict[tuple[str, str], str]
) -> WeekRow | None:
    sensor = main_sensor(request, place)
    if sensor is None:
        return None
    cells = tuple(_cell(request, sensor, span, worst.get((place, span.date), "")) for span in spans)
    return WeekRow(place, request.plan.title(place), request.words.short_quantity(sensor.quantity), cells)


def _cell(request: RequestContext, sensor: SensorKey, span: Span, shape: str) -> Cell:
    words = request.words
    hours = -(-(span.end_ms - span.start_ms) // MS_PER_HOUR)
    parts = request.store.summaries.parts(sensor, span.start_ms, span.end_ms, hours)
    word = words.t(f"state.{shape}") if shape else ""
    if len(parts.minimum) == 0:
        return Cell("", "", shape, word)
    shown = [
        words.number(words.shown(sensor.quantity, float(value[0])))
        for value in (parts.minimum, parts.maximum)
    ]
    return Cell(shown[0], shown[1], shape, word)
