"""One bin: a picture of its moisture and temperatures over some days, and a gauge for the page. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from monitor.bins.conditions import ClimateSeries
from monitor.bins.events import BinEvent, FeedAdded, MoistureTested, WaterAdded, Weighed
from monitor.bins.history import BinHistory
from monitor.bins.outlook import MoistureOutlook
from monitor.bins.substrate import MoistureBands
from monitor.charts.svg import along, between, dot, inline, line, path, percent, picture, rect, text
from monitor.climate.arrays import FloatArray, IntArray
from monitor.farm.bins import BinView
from monitor.records import MS_PER_DAY, MS_PER_HOUR, midnight_ms
from monitor.words.bins import dry_sentence, event_words, moisture_now, why_unknown
from monitor.words.localizer import Localizer, day, kilograms, litres
from monitor.words.localizer import percent as percent_words

WIDTH, HEIGHT = 760.0, 500.0
LEFT, RIGHT = 58.0, 66.0
MOIST_TOP, MOIST_BOTTOM = 84.0, 306.0
HEAT_TOP, HEAT_BOTTOM = 344.0, 452.0
PAST_DAYS, AHEAD_DAYS = 4.0, 4.0
MOST_POINTS = 240
LEAST_SPAN = 0.3
LEAST_SPAN_C = 10.0
GAUGE_LOW, GAUGE_HIGH = 0.35, 0.95


def moisture_gauge(outlook: MoistureOutlook, bands: MoistureBands | None, words: Localizer) -> str:
    """A line from dry to wet: the target, the limits, and where the bin stands with its band."""

    def x(moisture: float) -> float:
        held = min(max(moisture, GAUGE_LOW), GAUGE_HIGH)
        return (held - GAUGE_LOW) / (GAUGE_HIGH - GAUGE_LOW)

    def tick(kind: str, moisture: float) -> str:
        return line(kind, percent(x(moisture)), 1, percent(x(moisture)), 21)

    def bar(kind: str, low: float, high: float, y: int, height: int) -> str:
        return rect(kind, percent(x(low)), y, percent(x(high) - x(low)), height)

    now, low, high = (percent_words(words, each) for each in (outlook.median, outlook.low, outlook.high))
    parts = [rect("rail", 0, 8, "100%", 6)]
    if bands is not None:
        parts.append(bar("target", bands.target_low, bands.target_high, 8, 6))
        parts += [tick("limit", limit) for limit in (bands.dry_limit, bands.wet_limit)]
    parts += [bar("reach", outlook.low, outlook.high, 5, 12), tick("here", outlook.median)]
    return inline("gauge", 22, words.t("bins.gauge", now=now, low=low, high=high), parts)


def bin_svg(view: BinView, words: Localizer) -> str:
    """The picture of one filled bin; one that cannot be worked out says why."""
    title = words.t("bin_picture.title", bin=view.title)
    if view.outlook is None or view.history is None or view.climate is None:
        parts = [text(24, 34, title, "title"), text(24, 60, why_unknown(view, words))]
        return picture(WIDTH, 90, title, parts)
    board = _Board(view, view.history, view.outlook, view.climate, words)
    said = board.summary()
    parts = [
        text(24, 32, title, "title"),
        text(24, 53, said),
        *board.limits(),
        *board.days(),
        *board.moisture(),
        *board.marks(),
        *board.temperatures(),
        *board.now(),
    ]
    return picture(WIDTH, HEIGHT, f"{title}. {said}", parts)


@dataclass(frozen=True, slots=True)
class _Axis:
    """Values to heights."""

    low: float
    high: float
    top: float
    bottom: float

    def y(self, value: float) -> float:
        """Where a value stands; what lies outside stands at the edge."""
        held = min(max(value, self.low), self.high)
        return self.bottom - (held - self.low) / (self.high - self.low) * (self.bottom - self.top)


class _Board:
    """Positions of one picture: from some days before now, or the filling, to some days after."""

    def __init__(
        self,
        view: BinView,
        history: BinHistory,
        outlook: MoistureOutlook,
        climate: ClimateSeries,
        words: Localizer,
    ) -> None:
        self._view, self._history, self._outlook = view, history, outlook
        self._climate, self._words = climate, words
        self._now_ms = view.now_ms
        oldest_ms = view.now_ms - round(PAST_DAYS * MS_PER_DAY)
        self._start_ms = max(view.fill.facts.filled_ms, oldest_ms)
        self._end_ms = view.now_ms + round(AHEAD_DAYS * MS_PER_DAY)
        self._moist = self._moisture_axis()
        self._heat = self._heat_axis()

    def summary(self) -> str:
        """Now and the dry limit, in one line."""
        now = self._words.t("bins.moisture_now", moisture=moisture_now(self._outlook, self._words))
        parts = (f"{now}.", dry_sentence(self._view, self._words), self._words.t("bin_picture.band"))
        return " ".join(part for part in parts if part)

    def _moisture_axis(self) -> _Axis:
        past, ahead = self._seen(), self._coming()
        values = np.concatenate([past[1].ravel(), ahead[1].ravel()])
        low, high = float(values.min()), float(values.max())
        bands = self._view.bands
        if bands is not None:
            low, high = min(low, bands.dry_limit - 0.04), max(high, bands.target_high + 0.04)
        middle, half = (low + high) / 2.0, max((high - low) / 2.0 + 0.02, LEAST_SPAN / 2.0)
        return _Axis(max(middle - half, 0.0), min(middle + half, 1.0), MOIST_TOP, MOIST_BOTTOM)

    def _heat_axis(self) -> _Axis:
        known = [column[np.isfinite(column)] for _, column in self._curves()]
        values = np.concatenate([np.array([20.0, 30.0]), *known])
        low, high = float(values.min()) - 1.0, float(values.max()) + 1.0
        return _Axis(low, max(high, low + LEAST_SPAN_C), HEAT_TOP, HEAT_BOTTOM)

    def _x(self, at_ms: float) -> float:
        share = (at_ms - self._start_ms) / (self._end_ms - self._start_ms)
        return LEFT + min(max(share, 0.0), 1.0) * (WIDTH - LEFT - RIGHT)

    def _seen(self) -> tuple[IntArray, FloatArray]:
        """Times and the three rows of moisture up to now, thinned."""
        keep = np.flatnonzero(self._history.times_ms >= self._start_ms)
        keep = keep[:: max(1, len(keep) // MOST_POINTS)]
        return self._history.times_ms[keep], self._history.moisture[:, keep]

    def _coming(self) -> tuple[IntArray, FloatArray]:
        keep = self._outlook.ahead_ms <= self._end_ms
        return self._outlook.ahead_ms[keep], self._outlook.ahead[:, keep]

    def limits(self) -> Iterator[str]:
        """The target as a ground, warnings and limits as lines with their names at the right."""
        bands = self._view.bands
        if bands is None:
            return
        top, bottom = self._moist.y(bands.target_high), self._moist.y(bands.target_low)
        target = self._words.t("bin_picture.target")
        yield rect("safe", LEFT, top, WIDTH - LEFT - RIGHT, bottom - top, target)
        yield text(WIDTH - RIGHT + 6, (top + bottom) / 2 + 4, target, "small")
        for value, name, kind in _limits(bands):
            if self._moist.low <= value <= self._moist.high:
                y = self._moist.y(value)
                yield line(kind, LEFT, y, WIDTH - RIGHT, y)
                yield text(WIDTH - RIGHT + 6, y + 4, self._words.t(f"bin_picture.{name}"), "small")

    def days(self) -> Iterator[str]:
        """Midnights, with the day between them; numbers at the left."""
        for axis, step, unit in ((self._moist, 0.1, "%"), (self._heat, 5.0, "°C")):
            yield from self._numbers(axis, step, unit)
        at_ms = midnight_ms(self._start_ms, self._words.zone)
        while at_ms < self._end_ms:
            yield from self._day(at_ms)
            at_ms += MS_PER_DAY

    def _day(self, at_ms: int) -> Iterator[str]:
        if at_ms > self._start_ms:
            x = self._x(at_ms)
            yield line("grid", x, MOIST_TOP, x, HEAT_BOTTOM)
        noon_ms = at_ms + MS_PER_DAY // 2
        if self._start_ms <= noon_ms <= self._end_ms:
            yield text(self._x(noon_ms), HEAT_BOTTOM + 20, day(self._words, noon_ms), "small", "middle")

    def _numbers(self, axis: _Axis, step: float, unit: str) -> Iterator[str]:
        scale = 100.0 if unit == "%" else 1.0
        first = np.ceil(axis.low / step - 1e-9) * step
        for value in np.arange(first, axis.high + 1e-9, step).tolist():
            yield line("grid", LEFT, axis.y(value), WIDTH - RIGHT, axis.y(value))
            yield text(LEFT - 8, axis.y(value) + 4, f"{scale * value:.0f} {unit}", "small", "end")

    def moisture(self) -> Iterator[str]:
        """Band and middle before now, and after it paler."""
        for (times, rows), band, middle in (
            (self._seen(), "band", "line"),
            (self._coming(), "band ahead", "line ahead"),
        ):
            xs = [self._x(at) for at in times.tolist()]
            low, mid, high = ([self._moist.y(value) for value in row.tolist()] for row in rows)
            yield path(band, between(xs, low, high))
            yield path(middle, along(xs, mid))

    def marks(self) -> Iterator[str]:
        """What was done, at the top; weighings and tests where they put the moisture."""
        for event in self._view.fill.events:
            if self._start_ms <= event.at_ms <= self._now_ms:
                yield from self._mark(event)

    def _mark(self, event: BinEvent) -> Iterator[str]:
        said = event_words(event, self._words)
        if not said:
            return
        x, hover = self._x(event.at_ms), self._words.headed(self._words.moment(event.at_ms), said)
        if isinstance(event, WaterAdded | FeedAdded):
            amount = litres if isinstance(event, WaterAdded) else kilograms
            yield line("least", x, MOIST_TOP - 4, x, MOIST_TOP + 14)
            yield text(x, MOIST_TOP - 8, f"+{amount(self._words, event.kg)}", "nowtext small", "middle")
        elif isinstance(event, Weighed | MoistureTested):
            rows = self._history.moisture[1]
            at = int(np.searchsorted(self._history.times_ms, event.at_ms))
            yield dot("dot", x, self._moist.y(float(rows[min(at, len(rows) - 1)])), 5, hover)
        else:
            yield dot("open", x, MOIST_BOTTOM, 4, hover)

    def _curves(self) -> tuple[tuple[str, FloatArray], ...]:
        return ("line heat", self._climate.substrate_c), ("line air", self._climate.air_c)

    def temperatures(self) -> Iterator[str]:
        """Substrate and air as they were measured; gaps stay open."""
        for kind, column in self._curves():
            inside = np.isfinite(column) & (self._climate.times_ms >= self._start_ms)
            times, values = self._climate.times_ms[inside], column[inside]
            breaks = np.flatnonzero(np.diff(times) > 3 * MS_PER_HOUR) + 1
            for run in np.split(np.arange(len(times)), breaks):
                xs = [self._x(at) for at in times[run].tolist()]
                yield path(kind, along(xs, [self._heat.y(value) for value in values[run].tolist()]))
        words = self._words
        yield text(LEFT, HEAT_TOP - 10, words.t("bin_picture.temperature"), "small")
        yield line("line heat", LEFT + 86, HEAT_TOP - 14, LEFT + 110, HEAT_TOP - 14)
        yield text(LEFT + 116, HEAT_TOP - 10, words.t("bin_picture.substrate"), "small")
        yield line("line air", LEFT + 184, HEAT_TOP - 14, LEFT + 208, HEAT_TOP - 14)
        yield text(LEFT + 214, HEAT_TOP - 10, words.t("bin_picture.air"), "small")

    def now(self) -> Iterator[str]:
        """Where now is, and what the marks mean."""
        x = self._x(self._now_ms)
        yield line("now", x, MOIST_TOP, x, HEAT_BOTTOM)
        yield text(x, MOIST_BOTTOM + 16, self._words.t("bin_picture.now"), "nowtext small", "middle")
        yield text(LEFT, HEIGHT - 10, self._words.t("bin_picture.marks"), "small")


def _limits(bands: MoistureBands) -> Sequence[tuple[float, str, str]]:
    return (
        (bands.dry_limit, "dry_limit", "least"),
        (bands.dry_warning, "dry", "warn"),
        (bands.wet_warning, "wet", "warn"),
        (bands.wet_limit, "wet_limit", "least"),
    )
