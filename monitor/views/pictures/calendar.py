"""The calendar of coming events: one row a cohort, one mark an event, with the days in which it falls. Pure."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import tzinfo

from monitor.model.events import Event
from monitor.model.forecast import EventForecast
from monitor.notify.phrases import MONTHS, WEEKDAYS, local
from monitor.records import MS_PER_DAY
from monitor.views.cohort_queries import CohortView, ForecastView
from monitor.views.cohort_words import EVENT_WORDS, STAGE_WORDS, day, window
from monitor.views.pictures.svg import dot, line, picture, rect, text

WIDTH = 900.0
LEFT, RIGHT, TOP, BOTTOM = 190.0, 24.0, 92.0, 46.0
ROW = 40.0
DAYS = 42
LETTERS = {
    Event.HATCH: "hatch",
    Event.HALF_PREPUPAE: "prepupae",
    Event.HALF_MOTIONLESS: "motionless",
    Event.HALF_EMERGED: "flies",
    Event.FIRST_EGGS: "eggs",
}


def calendar_svg(view: ForecastView, zone: tzinfo, days: int = DAYS) -> str:
    """The picture of all living cohorts over the coming weeks."""
    height = TOP + ROW * max(len(view.cohorts), 1) + BOTTOM
    board = _Board(view, zone, days, height)
    title = f"What comes in the next {days // 7} weeks"
    parts = [
        text(24, 32, title, "title"),
        text(24, 53, "A mark is the likeliest day; the bar holds the event four times in five."),
        *board.calendar(),
        *(part for index, each in enumerate(view.cohorts) for part in board.row(index, each)),
        *board.today(),
    ]
    if not view.cohorts:
        parts.append(text(24, TOP + 26, "No cohort is in the logbook yet."))
    return picture(WIDTH, height, title, parts)


class _Board:
    """Positions of the calendar; it begins with the Monday of this week."""

    def __init__(self, view: ForecastView, zone: tzinfo, days: int, height: float) -> None:
        self._zone, self._days, self._height, self._now_ms = zone, days, height, view.now_ms
        today = local(view.now_ms, zone).replace(hour=0, minute=0, second=0, microsecond=0)
        self._start_ms = round(today.timestamp() * 1000) - today.weekday() * MS_PER_DAY
        self._step = (WIDTH - LEFT - RIGHT) / days

    def _x(self, at_ms: float) -> float:
        days = (at_ms - self._start_ms) / MS_PER_DAY
        return LEFT + min(max(days, 0.0), float(self._days)) * self._step

    def calendar(self) -> Iterator[str]:
        """Weekends, weeks, and dates above them."""
        for index in range(self._days):
            at_ms = self._start_ms + index * MS_PER_DAY
            at = local(at_ms + MS_PER_DAY // 2, self._zone)
            x = self._x(at_ms)
            if at.weekday() >= 5:
                yield rect("weekend", x, TOP, self._step, self._height - TOP - BOTTOM)
            if at.weekday() == 0:
                yield line("grid", x, TOP - 20, x, self._height - BOTTOM)
                head = f"{WEEKDAYS[0]} {at.day} {MONTHS[at.month - 1]}"
                yield text(x + 4, TOP - 8, head, "small bold")

    def row(self, index: int, view: CohortView) -> Iterator[str]:
        """One cohort: its name, stage and place, its bars and marks."""
        y = TOP + ROW * (index + 0.5)
        yield line("row", 24, y + ROW / 2, WIDTH - RIGHT, y + ROW / 2)
        yield text(24, y - 2, view.cohort.name, "bold")
        stage = "not known" if view.stage is None else STAGE_WORDS[view.stage]
        yield text(24, y + 13, f"{stage}, {view.place_title}", "small")
        ends: list[float] = []
        for event in view.forecast.events if view.forecast is not None else ():
            if event.event in LETTERS and self._is_shown(event):
                yield from self._mark(event, y, ends)

    def _is_shown(self, event: EventForecast) -> bool:
        end_ms = self._start_ms + self._days * MS_PER_DAY
        return self._now_ms <= event.high_ms and self._now_ms <= event.median_ms < end_ms

    def _mark(self, event: EventForecast, y: float, ends: list[float]) -> Iterator[str]:
        low, middle, high = (self._x(each) for each in (event.low_ms, event.median_ms, event.high_ms))
        flies = event.event is Event.HALF_EMERGED
        words = f"{EVENT_WORDS[event.event]} {day(event.median_ms, self._zone)} "
        words += f"({window(event.low_ms, event.high_ms, self._zone)})"
        yield rect("band", low, y - 5, max(high - low, 2.0), 10, words)
        yield dot("dot" if flies else "open", middle, y, 5.5 if flies else 4.5, words)
        label = LETTERS[event.event]
        width = 5.8 * len(label)
        # Words that would touch stand below the bar, the others above it.
        below = bool(ends) and middle - width / 2 < ends[-1] + 4
        ends.append(middle + width / 2)
        x = min(middle, WIDTH - RIGHT - width / 2)
        yield text(x, y + 17 if below else y - 9, label, "small", "middle")

    def today(self) -> Iterator[str]:
        """A line where now is."""
        x = self._x(self._now_ms)
        yield line("now", x, TOP - 4, x, self._height - BOTTOM)
        yield text(x, self._height - BOTTOM + 16, "now", "nowtext small", "middle")
        yield text(
            LEFT, self._height - 10, "filled: half of the flies out; open: half of the animals", "small"
        )
