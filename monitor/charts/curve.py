"""A curve over time for the page, with its axes; every colour is in the style sheet of the page. Pure.

The plot is an inner picture that stretches to the width of the page. The words stand over it by percentages,
so that they keep their size on a phone and on a wide screen.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta, tzinfo
from functools import cached_property

import numpy as np

from monitor.charts.svg import along, between, element, inline, path, percent, rect, text, title
from monitor.climate.arrays import FloatArray
from monitor.farm.place_reader import Points
from monitor.records import MS_PER_DAY, MS_PER_SECOND, Side, local

_STEPS = (1.0, 2.0, 5.0, 10.0)
_CLOCK_HOURS = (0, 6, 12, 18)
_LONGEST_BY_HOUR_MS = 2 * MS_PER_DAY
_LONGEST_BY_DAY_MS = 8 * MS_PER_DAY
_LONGEST_BY_WEEK_MS = 60 * MS_PER_DAY
WIDTH, HEIGHT = 1000, 300
SHOWN_HEIGHT, TOP, BOTTOM, SCALE_WIDTH = 196, 18, 20, 46
STRIP_HEIGHT, STRIP_TOP, STRIP_VALUES = 72, 8, 4
_NIGHTS_SHOWN_UP_TO_MS = 40 * MS_PER_DAY
_LEAST_RISE = 2.0
_SHAPES = {Side.HIGH: "M-5 9L0 0L5 9Z", Side.LOW: "M-5 0L0 9L5 0Z"}


def value_ticks(low: float, high: float, most: int = 5) -> tuple[float, ...]:
    """Round values from at or below `low` to at or above `high`, about `most` of them."""
    if high <= low:
        low, high = low - 0.5, high + 0.5
    raw = (high - low) / max(1, most - 1)
    power = 10.0 ** math.floor(math.log10(raw))
    step = next(power * each for each in _STEPS if power * each >= raw * (1 - 1e-9))
    first, last = math.floor(low / step + 1e-9), math.ceil(high / step - 1e-9)
    return tuple(round(number * step, 10) for number in range(first, last + 1))


def time_ticks(start_ms: int, end_ms: int, zone: tzinfo) -> tuple[int, ...]:
    """Every sixth hour of a day, each day of a week, Mondays of a month, every second month of a year."""
    length_ms = end_ms - start_ms
    if length_ms <= _LONGEST_BY_HOUR_MS:
        return _clock_times(start_ms, end_ms, zone, _CLOCK_HOURS, _any_day)
    return _clock_times(start_ms, end_ms, zone, (0,), _days_for(length_ms))


def _days_for(length_ms: int) -> Callable[[date], bool]:
    if length_ms <= _LONGEST_BY_DAY_MS:
        return _any_day
    if length_ms <= _LONGEST_BY_WEEK_MS:
        return lambda day: day.weekday() == 0
    return lambda day: day.day == 1 and day.month % 2 == 1


def _any_day(_day: date) -> bool:
    return True


def _clock_times(
    start_ms: int, end_ms: int, zone: tzinfo, hours: tuple[int, ...], wanted: Callable[[date], bool]
) -> tuple[int, ...]:
    at_times = (
        datetime.combine(day, time(hour), zone)
        for day in days(start_ms, end_ms, zone)
        if wanted(day)
        for hour in hours
    )
    times_ms = (round(at.timestamp() * MS_PER_SECOND) for at in at_times)
    return tuple(at_ms for at_ms in times_ms if start_ms <= at_ms <= end_ms)


def days(start_ms: int, end_ms: int, zone: tzinfo) -> Iterator[date]:
    """The local dates that the span touches."""
    day, last = local(start_ms, zone).date(), local(end_ms, zone).date()
    while day <= last:
        yield day
        day += timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Mark:
    """An alarm that came at this time, on the side that was dangerous."""

    at_ms: int
    side: Side
    words: str


@dataclass(frozen=True)
class Chart:
    """All that is drawn, values and words as the person sees them. A hole longer than `join_ms` stays open.

    `ticks` are times with their words; `nights` are spans; `safe` is the lowest and highest good value.
    """

    start_ms: int
    end_ms: int
    points: Points
    join_ms: int
    words: str
    ticks: Sequence[tuple[int, str]] = ()
    value_words: Sequence[tuple[float, str]] = ()
    safe: tuple[float | None, float | None] = (None, None)
    nights: Sequence[tuple[int, int]] = ()
    marks: Sequence[Mark] = ()
    most_values: int = 5

    @cached_property
    def values(self) -> tuple[float, ...]:
        """The values at which lines are drawn, the lowest and the highest being the edges."""
        return values_to_show(self.points, self.safe, self.most_values)


def values_to_show(
    points: Points, safe: tuple[float | None, float | None], most: int = 5
) -> tuple[float, ...]:
    """Round values that hold all readings and the bounds of the good range, about `most` of them."""
    bounds = [bound for bound in safe if bound is not None]
    if len(points):
        bounds += [float(np.min(points.low)), float(np.max(points.high))]
    low, high = (min(bounds), max(bounds)) if bounds else (0.0, 1.0)
    if high - low < _LEAST_RISE and not any(bound is not None for bound in safe) and high > _LEAST_RISE:
        low, high = (low + high - _LEAST_RISE) / 2, (low + high + _LEAST_RISE) / 2
    return value_ticks(low, high, most)


def draw(chart: Chart) -> str:
    """The scale and the picture beside it, with its text alternative."""
    finger = element("line", y1=TOP, y2=TOP + SHOWN_HEIGHT) + element("circle", r=5)
    own = [*_marks(chart), element("g", finger, class_="finger", visibility="hidden")]
    return _with_axes(chart, "chart", TOP, SHOWN_HEIGHT, own)


def draw_strip(chart: Chart) -> str:
    """The same, lower, as one line of a picture of many places."""
    return _with_axes(chart, "chart strip", STRIP_TOP, STRIP_HEIGHT, ())


def _with_axes(chart: Chart, kind: str, top: int, shown: int, own: Iterable[str]) -> str:
    """A picture with its values on the left, its times below, and `top` pixels above it for marks."""
    height = top + shown + BOTTOM
    values = _value_words(chart, top, shown)
    scale = element("svg", *values, class_="scale", aria_hidden="true", width=SCALE_WIDTH, height=height)
    parts = [_stretched(chart, top, shown), *_time_words(chart, top + shown), *own]
    return scale + inline(kind, height, chart.words, parts)


def _stretched(chart: Chart, top: int, height: int) -> str:
    box = {"viewBox": f"0 0 {WIDTH} {HEIGHT}", "preserveAspectRatio": "none"}
    return element("svg", *_plot(chart), x=0, y=top, width="100%", height=height, **box)


def _plot(chart: Chart) -> Iterator[str]:
    yield from _nights(chart)
    yield from _safe(chart)
    yield from _grid(chart)
    yield from _curve(chart)


def x_of(chart: Chart, at_ms: int) -> float:
    """Share of the width [1]."""
    return (at_ms - chart.start_ms) / (chart.end_ms - chart.start_ms)


def _ys(chart: Chart, values: FloatArray) -> FloatArray:
    low, high = chart.values[0], chart.values[-1]
    return HEIGHT * (1.0 - (values - low) / (high - low))


def _y(chart: Chart, value: float) -> float:
    return float(_ys(chart, np.array([value]))[0])


def _nights(chart: Chart) -> Iterator[str]:
    if chart.end_ms - chart.start_ms > _NIGHTS_SHOWN_UP_TO_MS:
        return
    for night in chart.nights:
        left, right = (WIDTH * min(1.0, max(0.0, x_of(chart, at_ms))) for at_ms in night)
        if right > left:
            yield rect("night", left, 0, right - left, HEIGHT)


def _safe(chart: Chart) -> Iterator[str]:
    low, high = chart.safe
    if low is None and high is None:
        return
    top = 0.0 if high is None else _y(chart, high)
    bottom = float(HEIGHT) if low is None else _y(chart, low)
    yield rect("safe", 0, top, WIDTH, max(0.0, bottom - top))
    for bound in (low, high):
        if bound is not None:
            yield path("bound", f"M0 {_y(chart, bound):.1f}H{WIDTH}")


def _grid(chart: Chart) -> Iterator[str]:
    lines = "".join(f"M0 {_y(chart, value):.1f}H{WIDTH}" for value in chart.values)
    times = "".join(f"M{WIDTH * x_of(chart, at_ms):.1f} 0V{HEIGHT}" for at_ms, _ in chart.ticks)
    yield path("grid", lines)
    yield path("grid time", times)


def _curve(chart: Chart) -> Iterator[str]:
    points = chart.points
    if len(points) == 0:
        return
    xs = WIDTH * (points.at_ms - chart.start_ms) / (chart.end_ms - chart.start_ms)
    breaks = np.flatnonzero(np.diff(points.at_ms) > chart.join_ms) + 1
    lows, means, highs = (_ys(chart, values) for values in (points.low, points.mean, points.high))
    runs = [run for run in np.split(np.arange(len(points)), breaks) if len(run)]
    if not points.single:
        areas = (between(xs[run].tolist(), lows[run].tolist(), highs[run].tolist(), 0) for run in runs)
        yield path("band", "".join(areas))
    yield path("line", "".join(_line(xs[run], means[run]) for run in runs))


def _line(xs: FloatArray, ys: FloatArray) -> str:
    # A single reading between two gaps is a short dash; a path of one point would not be seen.
    return along(xs.tolist(), ys.tolist(), 0) if len(xs) > 1 else f"M{xs[0] - 1:.1f} {ys[0]:.0f}h2"


def _value_words(chart: Chart, top: int, shown: int) -> Iterator[str]:
    for value, words in chart.value_words:
        y = top + shown * _y(chart, value) / HEIGHT
        yield text(SCALE_WIDTH - 5, y + 4, words, anchor="end")


def _time_words(chart: Chart, bottom: int) -> Iterator[str]:
    for at_ms, words in chart.ticks:
        share = x_of(chart, at_ms)
        anchor = "start" if share < 0.06 else "end" if share > 0.94 else "middle"
        yield text(percent(share), bottom + 15, words, anchor=anchor)


def _marks(chart: Chart) -> Iterator[str]:
    for mark in chart.marks:
        shape = element("path", *title(mark.words), d=_SHAPES[mark.side])
        place = percent(x_of(chart, mark.at_ms))
        yield element("svg", shape, class_="mark", x=place, y=5, overflow="visible")
