"""The emergence curve of one cohort: flies, or the share of it, day by day with the 80 % band. Pure."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from datetime import tzinfo

from monitor.charts.svg import dot, line, path, picture, rect, text
from monitor.development.courses import EmergenceDay
from monitor.development.events import Event
from monitor.farm.cohorts import CohortView
from monitor.records import MS_PER_DAY, local
from monitor.words.cohorts import day, number, window
from monitor.words.phrases import MONTHS

WIDTH, HEIGHT = 720.0, 398.0
LEFT, RIGHT, TOP, BOTTOM = 64.0, 20.0, 92.0, 54.0
NOON_MS = MS_PER_DAY // 2
MOST_TICKS = 10


def emergence_svg(view: CohortView, zone: tzinfo) -> str:
    """The picture of one cohort; one without a curve says so."""
    forecast = view.forecast
    days = forecast.emergence if forecast is not None else ()
    title = f"{view.cohort.name}: flies day by day"
    if forecast is None or not days:
        parts = [text(24, 34, title, "title"), text(24, 60, "No emergence can be said yet.")]
        return picture(WIDTH, 90, title, parts)
    half = forecast.event(Event.HALF_EMERGED)
    words = ""
    if half is not None:
        words = f"Half out {day(half.median_ms, zone)} ({window(half.low_ms, half.high_ms, zone)})"
    curve = _Curve(days)
    parts = [
        text(24, 32, title, "title"),
        text(24, 53, f"{words}. Band: four days in five lie in it."),
        *curve.grounds(zone),
        *curve.grid(),
        *curve.days(zone),
        *curve.drawn(zone),
        *curve.now(forecast.made_ms),
    ]
    return picture(WIDTH, HEIGHT, f"{title}. {words}", parts)


class _Curve:
    """Positions of one curve."""

    def __init__(self, days: Sequence[EmergenceDay]) -> None:
        self._days = days
        self._counted = days[0].flies is not None
        self._top = _round_up(max(self._values(each)[2] for each in days))
        self._step = (WIDTH - LEFT - RIGHT) / len(days)

    def _values(self, each: EmergenceDay) -> tuple[float, float, float]:
        """Middle, low and high: flies where a number is known, else percent."""
        if self._counted:
            return each.flies or 0.0, each.flies_low or 0.0, each.flies_high or 0.0
        return 100.0 * each.share, 100.0 * each.share_low, 100.0 * each.share_high

    def _x(self, index: float) -> float:
        return LEFT + (index + 0.5) * self._step

    def _y(self, value: float) -> float:
        return HEIGHT - BOTTOM - value / self._top * (HEIGHT - TOP - BOTTOM)

    def grounds(self, zone: tzinfo) -> Iterator[str]:
        """Weekends a little darker, so that a week can be counted."""
        for index, each in enumerate(self._days):
            if local(each.day_start_ms + NOON_MS, zone).weekday() >= 5:
                yield rect("weekend", LEFT + index * self._step, TOP, self._step, HEIGHT - TOP - BOTTOM)

    def grid(self) -> Iterator[str]:
        """Lines of equal number, with their numbers."""
        yield text(24, TOP - 14, "flies a day" if self._counted else "% of them a day", "small")
        for part in range(5):
            value = self._top * part / 4
            yield line("axis" if part == 0 else "grid", LEFT, self._y(value), WIDTH - RIGHT, self._y(value))
            yield text(LEFT - 10, self._y(value) + 4, f"{value:,.10g}".replace(",", " "), "", "end")

    def days(self, zone: tzinfo) -> Iterator[str]:
        """Day numbers below, the month where it begins or changes."""
        every = max(1, math.ceil(len(self._days) / MOST_TICKS))
        shown = None
        for index in range(0, len(self._days), every):
            at = local(self._days[index].day_start_ms + NOON_MS, zone)
            yield text(self._x(index), HEIGHT - BOTTOM + 20, str(at.day), "", "middle")
            if at.month != shown:
                yield text(self._x(index), HEIGHT - BOTTOM + 38, MONTHS[at.month - 1], "bold", "middle")
                shown = at.month

    def drawn(self, zone: tzinfo) -> Iterator[str]:
        """Band, middle line, and a dot for each day that tells its numbers."""
        values = [self._values(each) for each in self._days]
        upper = [(self._x(index), self._y(each[2])) for index, each in enumerate(values)]
        lower = [(self._x(index), self._y(each[1])) for index, each in enumerate(values)]
        yield path("band", [*upper, *reversed(lower)], closed=True)
        yield path("line", [(self._x(index), self._y(each[0])) for index, each in enumerate(values)])
        for index, (middle, low, high) in enumerate(values):
            when = day(self._days[index].day_start_ms + NOON_MS, zone)
            what = f"{number(middle)} ({number(low)} to {number(high)})"
            yield dot(
                "dot", self._x(index), self._y(middle), 3.5, f"{when}: {what}{'' if self._counted else ' %'}"
            )

    def now(self, now_ms: int) -> Iterator[str]:
        """Where today is, if it is among the days."""
        index = (now_ms - self._days[0].day_start_ms) / MS_PER_DAY
        if 0.0 <= index <= len(self._days):
            x = LEFT + index * self._step
            yield line("now", x, TOP - 6, x, HEIGHT - BOTTOM)
            yield text(x + 5, TOP + 4, "now", "nowtext small")


def _round_up(value: float) -> float:
    """The next of 1, 2, 4, 8, 10 times a power of ten, so that quarters are whole numbers."""
    if value <= 0.0:
        return 1.0
    power = 10.0 ** math.floor(math.log10(value))
    return next(step * power for step in (1.0, 2.0, 4.0, 6.0, 8.0, 10.0) if step * power >= value)
