"""One cohort: a picture of its flies day by day, and a bar of its stages for the page. Pure."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np

from monitor.charts.svg import along, between, dot, inline, line, path, percent, picture, rect, text
from monitor.climate.arrays import FloatArray
from monitor.development.courses import EmergenceDay
from monitor.development.events import Event
from monitor.farm.cohorts import CohortView
from monitor.records import MS_PER_DAY, Stage, local
from monitor.words.localizer import Localizer, animals, day, grouped, plain, window
from monitor.words.localizer import percent as percent_words

WIDTH, HEIGHT = 720.0, 398.0
LEFT, RIGHT, TOP, BOTTOM = 64.0, 20.0, 92.0, 54.0
NOON_MS = MS_PER_DAY // 2
MOST_TICKS = 10


def stage_bar(stages: Sequence[Stage], stage: Stage, progress: float, words: Localizer) -> str:
    """One length for each stage with its name, filled up to where the middle animal is."""
    said = words.t("cohorts.bar", stage=words.t(f"stage.{stage}"), percent=percent_words(words, progress))
    current, step = stages.index(stage), 1.0 / len(stages)

    def bar(kind: str, index: int, share: float = 1.0) -> str:
        width = max(0.003, (step - 0.006) * share)
        return rect(kind, percent(index * step), 3, percent(width), 8)

    parts = []
    for index, name in enumerate(stages):
        parts.append(bar("rail", index))
        if index < current:
            parts.append(bar("done", index))
        elif index == current and progress > 0.0:
            parts.append(bar("going", index, min(progress, 1.0)))
        kind = "now" if index == current else "other"
        parts.append(text(percent(index * step), 24, words.t(f"stage_short.{name}"), kind))
    return inline("stages", 28, said, parts)


def emergence_rows(days: Sequence[EmergenceDay]) -> FloatArray:
    """Low, middle and high of each day, shape (3, days): flies where they are counted, else percent."""
    if days[0].flies is not None:
        rows = [(each.flies_low or 0.0, each.flies or 0.0, each.flies_high or 0.0) for each in days]
    else:
        rows = [(100 * each.share_low, 100 * each.share, 100 * each.share_high) for each in days]
    return np.array(rows).T


def emergence_svg(view: CohortView, words: Localizer) -> str:
    """The picture of one cohort; one without a curve says so."""
    forecast = view.forecast
    days = forecast.emergence if forecast is not None else ()
    title = words.t("emergence.title", cohort=view.cohort.name)
    if forecast is None or not days:
        parts = [text(24, 34, title, "title"), text(24, 60, words.t("emergence.nothing"))]
        return picture(WIDTH, 90, title, parts)
    half, said = forecast.event(Event.HALF_EMERGED), ""
    if half is not None:
        span = window(words, half.low_ms, half.high_ms)
        said = words.t("emergence.half", day=day(words, half.median_ms), window=span)
    curve = _Curve(days, words)
    parts = [
        text(24, 32, title, "title"),
        text(24, 53, f"{said} {words.t('emergence.band')}".strip()),
        *curve.grounds(),
        *curve.grid(),
        *curve.days(),
        *curve.drawn(),
        *curve.now(forecast.made_ms),
    ]
    return picture(WIDTH, HEIGHT, f"{title}. {said}", parts)


class _Curve:
    """Positions of one curve."""

    def __init__(self, days: Sequence[EmergenceDay], words: Localizer) -> None:
        self._days, self._words = days, words
        self._counted = days[0].flies is not None
        self._rows = emergence_rows(days)
        self._top = _round_up(float(self._rows[2].max()))
        self._step = (WIDTH - LEFT - RIGHT) / len(days)

    def _x(self, index: float) -> float:
        return LEFT + (index + 0.5) * self._step

    def _y(self, value: float) -> float:
        return HEIGHT - BOTTOM - value / self._top * (HEIGHT - TOP - BOTTOM)

    def grounds(self) -> Iterator[str]:
        """Weekends a little darker, so that a week can be counted."""
        for index, each in enumerate(self._days):
            if local(each.day_start_ms + NOON_MS, self._words.zone).weekday() >= 5:
                yield rect("weekend", LEFT + index * self._step, TOP, self._step, HEIGHT - TOP - BOTTOM)

    def grid(self) -> Iterator[str]:
        """Lines of equal number, with their numbers."""
        unit = self._words.t("emergence.flies" if self._counted else "emergence.share")
        yield text(24, TOP - 14, unit, "small")
        for part in range(5):
            value = self._top * part / 4
            yield line("axis" if part == 0 else "grid", LEFT, self._y(value), WIDTH - RIGHT, self._y(value))
            number = grouped(self._words, value) if value >= 10_000 else plain(self._words, value)
            yield text(LEFT - 10, self._y(value) + 4, number, "", "end")

    def days(self) -> Iterator[str]:
        """Day numbers below, the month where it begins or changes."""
        every = max(1, math.ceil(len(self._days) / MOST_TICKS))
        shown = None
        for index in range(0, len(self._days), every):
            at = local(self._days[index].day_start_ms + NOON_MS, self._words.zone)
            yield text(self._x(index), HEIGHT - BOTTOM + 20, str(at.day), "", "middle")
            if at.month != shown:
                yield text(
                    self._x(index), HEIGHT - BOTTOM + 38, self._words.month(at.month), "bold", "middle"
                )
                shown = at.month

    def drawn(self) -> Iterator[str]:
        """Band, middle line, and a dot for each day that tells its numbers."""
        xs = [self._x(index) for index in range(len(self._days))]
        low, middle, high = ([self._y(value) for value in row] for row in self._rows.tolist())
        yield path("band", between(xs, low, high))
        yield path("line", along(xs, middle))
        unit = "" if self._counted else " %"
        for index, values in enumerate(self._rows.T.tolist()):
            least, likely, most = (animals(self._words, value) for value in values)
            span = self._words.t("value.span", low=least, high=most)
            when = day(self._words, self._days[index].day_start_ms + NOON_MS)
            yield dot(
                "dot", xs[index], middle[index], 3.5, self._words.headed(when, f"{likely} ({span}){unit}")
            )

    def now(self, now_ms: int) -> Iterator[str]:
        """Where today is, if it is among the days."""
        index = (now_ms - self._days[0].day_start_ms) / MS_PER_DAY
        if 0.0 <= index <= len(self._days):
            x = LEFT + index * self._step
            yield line("now", x, TOP - 6, x, HEIGHT - BOTTOM)
            yield text(x + 5, TOP + 4, self._words.t("calendar.now"), "nowtext small")


def _round_up(value: float) -> float:
    """The next of 1, 2, 4, 8, 10 times a power of ten, so that quarters are whole numbers."""
    if value <= 0.0:
        return 1.0
    power = 10.0 ** math.floor(math.log10(value))
    return next(step * power for step in (1.0, 2.0, 4.0, 6.0, 8.0, 10.0) if step * power >= value)
