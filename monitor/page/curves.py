"""Curves of the page with their words: readings of a sensor, moisture, emergence, flies in a cage.

Each is a drawing, a table of the same numbers, and points for the script that follows a finger.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from markupsafe import Markup

from monitor.bins.events import BinEvent, FeedAdded, MoistureTested, WaterAdded, Weighed
from monitor.charts.cohort import emergence_rows
from monitor.charts.curve import Chart, Mark, days, draw, time_ticks, values_to_show
from monitor.development.courses import EmergenceDay
from monitor.development.supply import CageSupply
from monitor.farm.bins import BinView
from monitor.farm.night import night_of
from monitor.farm.place_reader import ChartSpan, Points, read_points
from monitor.farm.places import calibrated_probes, limits_of
from monitor.page.serving import RequestContext, drawn
from monitor.records import MS_PER_DAY, MS_PER_HOUR, MS_PER_SECOND, Quantity, SensorKey, Side, local
from monitor.settings.plan import Plan
from monitor.words.alarms import condition
from monitor.words.bins import event_words
from monitor.words.localizer import Localizer, animals, day, decimals_of

MOST_MARKS = 40
PAST_MS, AHEAD_MS = 3 * MS_PER_DAY, 4 * MS_PER_DAY
MOST_POINTS = 160
NOON_MS = MS_PER_DAY // 2
_ROW_HOURS = 12
Bounds = tuple[float | None, float | None]
Said = tuple[str, str]
"""Title and summary of a curve."""


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the table: a part of the span with its lowest, mean and highest value."""

    when: str
    low: str
    mean: str
    high: str


@dataclass(frozen=True, slots=True)
class Curve:
    """What the page shows of one sensor. `points` are "offset value" pairs for the script."""

    title: str
    summary: str
    drawing: Markup
    rows: tuple[Row, ...]
    points: str
    start_ms: int
    end_ms: int
    decimals: int
    unit: str
    low: float
    high: float


def curve(
    request: RequestContext, place_id: str, sensor: SensorKey, span: ChartSpan, bounds_ms: tuple[int, int]
) -> Curve:
    """The curve of a sensor over a span."""
    words, plan = request.words, request.plan
    calibrations = request.calibrations.of(sensor)
    points = as_seen(
        read_points(request.store, sensor, span, bounds_ms, calibrations), sensor.quantity, words
    )
    is_index = sensor.quantity == Quantity.SUBSTRATE_MOISTURE and str(sensor) not in calibrated_probes(
        request.store
    )
    name = words.t("value.index") if is_index else words.quantity(sensor.quantity)
    title = " ".join(filter(None, (name, sensor.probe)))
    safe = (None, None) if is_index else safe_range(plan, place_id, sensor.quantity, words)
    summary = described(points, sensor.quantity, safe, words)
    chart = Chart(
        *bounds_ms,
        points,
        join_ms=max(round(plan.longest_gap_s(place_id) * MS_PER_SECOND), 3 * points.step_ms // 2),
        words=f"{title}. {summary}",
        ticks=[(at_ms, tick_words(at_ms, span, words)) for at_ms in time_ticks(*bounds_ms, plan.zone)],
        value_words=[(value, words.tick(sensor.quantity, value)) for value in values_to_show(points, safe)],
        safe=safe,
        nights=nights(plan, *bounds_ms),
        marks=marks(request, place_id, sensor.quantity, bounds_ms),
    )
    rows = table(points, sensor.quantity, span, words)
    return _curve(chart, (title, summary), rows, words.unit(sensor.quantity), decimals_of(sensor.quantity))


def as_seen(points: Points, quantity: str, words: Localizer) -> Points:
    """The points in the unit that the person sees; all its conversions are straight lines."""
    zero, one = words.shown(quantity, 0.0), words.shown(quantity, 1.0)
    low, mean, high = (zero + (one - zero) * values for values in (points.low, points.mean, points.high))
    return Points(points.at_ms, low, mean, high, points.step_ms)


def safe_range(
    plan: Plan, place_id: str, quantity: str, words: Localizer
) -> tuple[float | None, float | None]:
    """The limits of a quantity in the unit that the person sees."""
    low, high = limits_of(plan, place_id, quantity)
    return (
        None if low is None else words.shown(quantity, low),
        None if high is None else words.shown(quantity, high),
    )


def described(
    points: Points, quantity: str, safe: tuple[float | None, float | None], words: Localizer
) -> str:
    """The curve in a sentence, for those who do not see it."""
    if len(points) == 0:
        return words.t("chart.nothing")
    low, high = int(np.argmin(points.low)), int(np.argmax(points.high))
    unit, decimals = words.unit(quantity), decimals_of(quantity)

    def said(value: float, at: int) -> dict[str, str]:
        return {
            "value": _joined(words.number(value, decimals), unit),
            "at": words.clock(int(points.at_ms[at])),
        }

    text = words.t("chart.lowest", **said(float(points.low[low]), low))
    text += " " + words.t("chart.highest", **said(float(points.high[high]), high))
    return f"{text} {_safe_words(safe, quantity, words)}".strip()


def _safe_words(safe: tuple[float | None, float | None], quantity: str, words: Localizer) -> str:
    low, high = (None if bound is None else words.tick(quantity, bound) for bound in safe)
    if low is None and high is None:
        return ""
    key = "chart.safe" if low and high else "chart.safe_above" if low else "chart.safe_below"
    return words.t(key, low=low, high=high)


def _joined(number: str, unit: str) -> str:
    return f"{number}\u00a0{unit}" if unit else number


def tick_words(at_ms: int, span: ChartSpan, words: Localizer) -> str:
    """The time of day, the weekday, the date or the month, as fits the span."""
    at = local(at_ms, words.zone)
    match span.name:
        case "24h":
            return words.hour(at_ms)
        case "7d":
            return words.weekday(at)
        case "30d":
            return words.day(at)
        case _:
            return words.day(at).split()[-1]


def nights(plan: Plan, start_ms: int, end_ms: int) -> tuple[tuple[int, int], ...]:
    """The nights of the span by the farm's clock, from the evening to the report."""
    mornings = days(start_ms, end_ms + MS_PER_DAY, plan.zone)
    spans = (night_of(plan, morning) for morning in mornings)
    return tuple(
        (span.start_ms, span.end_ms) for span in spans if span.end_ms > start_ms and span.start_ms < end_ms
    )


def marks(
    request: RequestContext, place_id: str, quantity: str, bounds_ms: tuple[int, int]
) -> Sequence[Mark]:
    """The alarms on a quantity that came in the span."""
    alarms = []
    for rule in request.plan.rules_of(place_id, quantity):
        for row in request.store.journal.transitions(*bounds_ms, rule.alarm_id):
            if row.announces:
                what = condition(rule, row.value, request.words)
                alarms.append(
                    Mark(row.at_ms, rule.side, request.words.headed(request.words.clock(row.at_ms), what))
                )
    return sorted(alarms, key=lambda mark: mark.at_ms)[-MOST_MARKS:]


def table(points: Points, quantity: str, span: ChartSpan, words: Localizer) -> Iterator[Row]:
    """The span in parts: hours of a day, days of a week or month, months of a year."""
    parts: dict[str, list[int]] = {}
    for index, at_ms in enumerate(points.at_ms.tolist()):
        parts.setdefault(_part_words(at_ms, span, words), []).append(index)
    decimals = decimals_of(quantity)
    for when, indices in reversed(parts.items()):
        first, last = indices[0], indices[-1] + 1
        values = (points.low[first:last].min(), points.mean[first:last].mean(), points.high[first:last].max())
        yield Row(when, *(words.number(float(value), decimals) for value in values))


def _part_words(at_ms: int, span: ChartSpan, words: Localizer) -> str:
    at = local(at_ms, words.zone)
    if span.name == "24h":
        return f"{words.weekday(at)} {at:%H}:00"
    if span.name == "year":
        return f"{words.day(at).split()[-1]} {at.year}"
    return f"{words.weekday(at)} {words.day(at)}"


def moisture_curve(request: RequestContext, view: BinView) -> Curve | None:
    """The moisture of a bin before and after now with its band; None where it cannot be worked out."""
    points = moisture_points(view)
    if points is None:
        return None
    words, bands = request.words, view.bands
    safe = (100.0 * bands.dry_limit, 100.0 * bands.wet_limit) if bands is not None else (None, None)
    start_ms, end_ms = int(points.at_ms[0]), int(points.at_ms[-1])
    said = words.t("bins.curve"), words.t("bins.curve_said", now=words.clock(view.now_ms))
    chart = _chart(words, points, (start_ms, end_ms), said, safe, lambda value: f"{value:g} %")
    marks = [mark for event in view.fill.events if (mark := _mark(event, words)) is not None]
    marks = [mark for mark in marks if start_ms <= mark.at_ms <= end_ms]
    chart = replace(chart, nights=_to_come(chart, view.now_ms), marks=marks)
    return _curve(chart, said, _rows(points, words.moment, words, _ROW_HOURS), "%")


def moisture_points(view: BinView) -> Points | None:
    """Percent by time: what was worked out up to now, then what is expected."""
    if view.history is None or view.outlook is None:
        return None
    history, outlook = view.history, view.outlook
    past = np.flatnonzero(history.times_ms >= view.now_ms - PAST_MS)
    ahead = np.flatnonzero((outlook.ahead_ms > view.now_ms) & (outlook.ahead_ms <= view.now_ms + AHEAD_MS))
    times = np.concatenate([history.times_ms[past], outlook.ahead_ms[ahead]])
    rows = np.concatenate([history.moisture[:, past], outlook.ahead[:, ahead]], axis=1) * 100.0
    every = max(1, len(times) // MOST_POINTS)
    keep = np.unique(np.append(np.arange(0, len(times), every), len(times) - 1))
    low, middle, high = rows[:, keep]
    return Points(times[keep], low, middle, high, MS_PER_HOUR)


def _mark(event: BinEvent, words: Localizer) -> Mark | None:
    if not isinstance(event, WaterAdded | FeedAdded | Weighed | MoistureTested):
        return None
    side = Side.LOW if isinstance(event, WaterAdded | FeedAdded) else Side.HIGH
    return Mark(event.at_ms, side, words.headed(words.clock(event.at_ms), event_words(event, words)))


def emergence_curve(request: RequestContext, days: Sequence[EmergenceDay]) -> Curve | None:
    """Flies, or the share of the cohort, day by day; None where nothing can be said."""
    if len(days) < 2:
        return None
    counted = days[0].flies is not None
    times = np.array([each.day_start_ms + NOON_MS for each in days], dtype=np.int64)
    low, middle, high = emergence_rows(days)
    points = Points(times, low, middle, high, MS_PER_DAY)
    words = request.words
    best = int(np.argmax(points.mean))
    said = animals(words, float(points.mean[best])) if counted else f"{words.number(points.mean[best])} %"
    title = words.t("cohorts.curve_flies" if counted else "cohorts.curve_share")
    summary = words.t("cohorts.curve_said", day=day(words, int(points.at_ms[best])), count=said)
    unit = "" if counted else "%"
    return _daily(request, points, (title, summary), unit, (None, None), request.now_ms)


def supply_curve(request: RequestContext, supply: CageSupply) -> Curve | None:
    """Living flies of one cage over the coming days; None where it never holds any."""
    if not any(each.high >= 1.0 for each in supply.days):
        return None
    times = np.array([each.day_start_ms + NOON_MS for each in supply.days], dtype=np.int64)
    low, middle, high = np.array([(each.low, each.living, each.high) for each in supply.days]).T
    words = request.words
    title = words.t("supply.curve")
    summary = words.t("supply.curve_said", days=words.n("length.days", len(supply.days)))
    safe = (supply.least_flies or None, None)
    points = Points(times, low, middle, high, MS_PER_DAY)
    return _daily(request, points, (title, summary), "", safe, None)


def _daily(
    request: RequestContext, points: Points, said: Said, unit: str, safe: Bounds, now_ms: int | None
) -> Curve:
    words = request.words
    bounds = int(points.at_ms[0]) - NOON_MS, int(points.at_ms[-1]) + NOON_MS

    def axis(value: float) -> str:
        return f"{value:g} %" if unit else _short(words, value)

    chart = _chart(words, points, bounds, said, safe, axis)
    if now_ms is not None:
        chart = replace(chart, nights=_to_come(chart, now_ms))
    return _curve(chart, said, _rows(points, lambda at_ms: day(words, at_ms), words, 1), unit)


def _to_come(chart: Chart, now_ms: int) -> tuple[tuple[int, int], ...]:
    """What lies ahead is shaded as a night is."""
    return ((now_ms, chart.end_ms),) if chart.start_ms < now_ms < chart.end_ms else ()


def _short(words: Localizer, value: float) -> str:
    """A number on an axis that is narrow."""
    return (
        f"{words.number(value / 1000.0, 0 if value % 1000 == 0 else 1)}k" if value >= 10_000 else f"{value:g}"
    )


def _chart(
    words: Localizer,
    points: Points,
    bounds_ms: tuple[int, int],
    said: Said,
    safe: Bounds,
    axis: Callable[[float], str],
) -> Chart:
    ticks = time_ticks(*bounds_ms, words.zone)
    shown = words.weekday if bounds_ms[1] - bounds_ms[0] <= 8 * MS_PER_DAY else words.day
    return Chart(
        *bounds_ms,
        points,
        join_ms=3 * points.step_ms + MS_PER_DAY,
        words=" ".join((f"{said[0]}.", said[1])),
        ticks=[(at_ms, shown(local(at_ms, words.zone))) for at_ms in ticks],
        value_words=[(value, axis(value)) for value in values_to_show(points, safe)],
        safe=safe,
    )


def _curve(chart: Chart, said: Said, rows: Iterator[Row], unit: str, decimals: int = 0) -> Curve:
    points = chart.points
    seconds = (points.at_ms - chart.start_ms) // MS_PER_SECOND
    pairs = zip(seconds.tolist(), points.mean.tolist(), strict=True)
    return Curve(
        title=said[0],
        summary=said[1],
        drawing=drawn(draw(chart)),
        rows=tuple(rows),
        points=" ".join(f"{at} {value:.{max(1, decimals)}f}" for at, value in pairs),
        start_ms=chart.start_ms,
        end_ms=chart.end_ms,
        decimals=decimals,
        unit=unit,
        low=chart.values[0],
        high=chart.values[-1],
    )


def _rows(points: Points, when: Callable[[int], str], words: Localizer, every: int) -> Iterator[Row]:
    for index in range(0, len(points), every):
        values = (points.low[index], points.mean[index], points.high[index])
        yield Row(when(int(points.at_ms[index])), *(words.number(float(value)) for value in values))
