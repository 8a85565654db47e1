"""One curve with its words: from a sensor and a span to a drawing, a table, and readings for a finger."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np
from markupsafe import Markup

from monitor.notify.phrases import decimals_of, local
from monitor.records import MS_PER_HOUR, MS_PER_SECOND, SensorKey, Side
from monitor.settings.plan import Plan
from monitor.views.charts import Chart, ChartSpan, Mark, Points, draw, read_points, time_ticks
from monitor.views.charts.drawing import values_to_show
from monitor.views.charts.scale import days
from monitor.views.page.alarm_view import condition
from monitor.views.page.rendering import drawn
from monitor.views.page.serving import Asked
from monitor.views.page.words import Words

MOST_MARKS = 40


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
    asked: Asked, place_id: str, sensor: SensorKey, span: ChartSpan, bounds_ms: tuple[int, int]
) -> Curve:
    """The curve of a sensor over a span."""
    words, plan = asked.words, asked.plan
    calibrations = asked.store.calibrations.of(sensor)
    points = as_seen(read_points(asked.store, sensor, span, bounds_ms, calibrations), sensor.quantity, words)
    title = " ".join(filter(None, (words.quantity(sensor.quantity), sensor.probe)))
    safe = safe_range(plan, place_id, sensor.quantity, words)
    summary = described(points, sensor.quantity, safe, words)
    chart = Chart(
        *bounds_ms,
        points,
        join_ms=max(round(plan.longest_gap_s(place_id) * MS_PER_SECOND), 3 * points.step_ms // 2),
        words=f"{title}. {summary}",
        ticks=[(at_ms, tick_words(at_ms, span, words)) for at_ms in time_ticks(*bounds_ms, plan.zone)],
        value_words=[(each, words.tick(sensor.quantity, each)) for each in values_to_show(points, safe)],
        safe=safe,
        nights=nights(plan, *bounds_ms),
        marks=marks(asked, place_id, sensor.quantity, bounds_ms),
    )
    return Curve(
        title,
        summary,
        drawn(draw(chart)),
        tuple(table(points, sensor.quantity, span, words)),
        for_finger(points, bounds_ms[0], sensor.quantity),
        *bounds_ms,
        decimals_of(sensor.quantity),
        words.unit(sensor.quantity),
        chart.values[0],
        chart.values[-1],
    )


def as_seen(points: Points, quantity: str, words: Words) -> Points:
    """The points in the unit that the person sees; all its conversions are straight lines."""
    zero, one = words.shown(quantity, 0.0), words.shown(quantity, 1.0)
    low, mean, high = (zero + (one - zero) * values for values in (points.low, points.mean, points.high))
    return Points(points.at_ms, low, mean, high, points.step_ms)


def safe_range(plan: Plan, place_id: str, quantity: str, words: Words) -> tuple[float | None, float | None]:
    """Between which values no alarm comes, as far as there are such bounds."""
    rules = plan.rules_of(place_id, quantity)
    lows = [rule.setpoint for rule in rules if rule.side is Side.LOW]
    highs = [rule.setpoint for rule in rules if rule.side is Side.HIGH]
    low = words.shown(quantity, max(lows)) if lows else None
    return low, words.shown(quantity, min(highs)) if highs else None


def described(points: Points, quantity: str, safe: tuple[float | None, float | None], words: Words) -> str:
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


def _safe_words(safe: tuple[float | None, float | None], quantity: str, words: Words) -> str:
    low, high = (None if bound is None else words.tick(quantity, bound) for bound in safe)
    if low is None and high is None:
        return ""
    key = "chart.safe" if low and high else "chart.safe_above" if low else "chart.safe_below"
    return words.t(key, low=low, high=high)


def _joined(number: str, unit: str) -> str:
    return f"{number}\u00a0{unit}" if unit else number


def tick_words(at_ms: int, span: ChartSpan, words: Words) -> str:
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
    report = plan.settings.report
    found = []
    for evening in days(start_ms - 24 * MS_PER_HOUR, end_ms, plan.zone):
        morning = evening + timedelta(days=1) if report.night_start >= report.time else evening
        spans = (datetime.combine(evening, report.night_start, plan.zone),)
        ends = datetime.combine(morning, report.time, plan.zone)
        found.append((round(spans[0].timestamp() * MS_PER_SECOND), round(ends.timestamp() * MS_PER_SECOND)))
    return tuple(night for night in found if night[1] > start_ms and night[0] < end_ms)


def marks(asked: Asked, place_id: str, quantity: str, bounds_ms: tuple[int, int]) -> Sequence[Mark]:
    """The alarms on a quantity that came in the span."""
    found = []
    for rule in asked.plan.rules_of(place_id, quantity):
        for row in asked.store.journal.transitions(*bounds_ms, rule.alarm_id):
            if row.announces:
                what = condition(rule, row.value, asked.words)
                found.append(Mark(row.at_ms, rule.side, f"{asked.words.clock(row.at_ms)}: {what}"))
    return sorted(found, key=lambda mark: mark.at_ms)[-MOST_MARKS:]


def for_finger(points: Points, start_ms: int, quantity: str) -> str:
    """Seconds after the start and the value, for the nearest reading to a finger."""
    decimals = max(1, decimals_of(quantity))
    seconds = (points.at_ms - start_ms) // MS_PER_SECOND
    pairs = zip(seconds.tolist(), points.mean.tolist(), strict=True)
    return " ".join(f"{at} {value:.{decimals}f}" for at, value in pairs)


def table(points: Points, quantity: str, span: ChartSpan, words: Words) -> Iterator[Row]:
    """The span in parts: hours of a day, days of a week or month, months of a year."""
    parts: dict[str, list[int]] = {}
    for index, at_ms in enumerate(points.at_ms.tolist()):
        parts.setdefault(_part_words(at_ms, span, words), []).append(index)
    decimals = decimals_of(quantity)
    for when, indices in reversed(parts.items()):
        first, last = indices[0], indices[-1] + 1
        values = (points.low[first:last].min(), points.mean[first:last].mean(), points.high[first:last].max())
        yield Row(when, *(words.number(float(value), decimals) for value in values))


def _part_words(at_ms: int, span: ChartSpan, words: Words) -> str:
    at = local(at_ms, words.zone)
    if span.name == "24h":
        return f"{words.weekday(at)} {at:%H}:00"
    if span.name == "year":
        return f"{words.day(at).split()[-1]} {at.year}"
    return f"{words.weekday(at)} {words.day(at)}"
