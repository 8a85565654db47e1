"""The calendar of coming events: a row for each cohort, a mark for each event, with its days. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import tzinfo

from monitor.charts.svg import dot, line, picture, rect, text
from monitor.development.events import Event
from monitor.development.forecast import EventForecast
from monitor.farm.cohorts import CohortView, ForecastView
from monitor.records import MS_PER_DAY, local, midnight_ms
from monitor.words.cohorts import EVENT_WORDS, STAGE_WORDS, day, window
from monitor.words.phrases import MONTHS, WEEKDAYS

WIDTH = 900.0
LEFT, RIGHT, TOP, BOTTOM = 190.0, 24.0, 92.0, 46.0
ROW = 56.0
LANE = 8.0
DAYS = 42
BREEDING: Mapping[Event, str] = {
    Event.HATCH: "hatch",
    Event.HALF_PREPUPAE: "prepupae",
    Event.HALF_MOTIONLESS: "motionless",
    Event.HALF_EMERGED: "half of the flies",
    Event.FIRST_EGGS: "first eggs",
}
FEED: Mapping[Event, str] = {
    Event.HATCH: "hatch",
    Event.FIRST_PREPUPAE: "harvest before",
    Event.HALF_PREPUPAE: "half dark",
}
# Neighbours in time stand in different lanes, so that their bars do not run into one another.
LOWER = frozenset({Event.HALF_PREPUPAE, Event.HALF_EMERGED})
FILLED = frozenset({Event.HALF_EMERGED, Event.FIRST_PREPUPAE})


def calendar_svg(view: ForecastView, zone: tzinfo, days: int = DAYS) -> str:
    """The picture of the coming weeks: every living cohort of which something is still to come."""
    rows = [each for each in view.cohorts if _marks(each, view.now_ms)]
    height = TOP + ROW * max(len(rows), 1) + BOTTOM
    board = _Board(view.now_ms, zone, days, height)
    title = f"What comes in the next {days // 7} weeks"
    parts = [
        text(24, 32, title, "title"),
        text(24, 53, "A mark is the likeliest day; the bar holds the event four times in five."),
        *board.calendar(),
        *(part for index, each in enumerate(rows) for part in board.row(index, each)),
        *board.today(),
    ]
    if not rows:
        parts.append(text(24, TOP + 26, "Nothing is expected of any cohort."))
    return picture(WIDTH, height, title, parts)


def _marks(view: CohortView, now_ms: int) -> list[tuple[EventForecast, str]]:
    """The events of a cohort that are still to come, with their names."""
    names = FEED if view.for_feed else BREEDING
    events = view.forecast.events if view.forecast is not None else ()
    return [(each, names[each.event]) for each in events if each.event in names and each.median_ms >= now_ms]


class _Board:
    """Positions of the calendar; it begins with the Monday of this week."""

    def __init__(self, now_ms: int, zone: tzinfo, days: int, height: float) -> None:
        self._zone, self._days, self._height, self._now_ms = zone, days, height, now_ms
        self._start_ms = midnight_ms(now_ms, zone) - local(now_ms, zone).weekday() * MS_PER_DAY
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
        yield text(24, y + 14, f"{stage}, {view.place_title}", "small")
        end_ms = self._start_ms + self._days * MS_PER_DAY
        for event, label in _marks(view, self._now_ms):
            if event.median_ms < end_ms:
                yield from self._mark(event, label, y)

    def _mark(self, event: EventForecast, label: str, y: float) -> Iterator[str]:
        low, middle, high = (self._x(each) for each in (event.low_ms, event.median_ms, event.high_ms))
        low, lower, filled = max(low, self._x(self._now_ms)), event.event in LOWER, event.event in FILLED
        lane = y + LANE if lower else y - LANE
        words = f"{EVENT_WORDS[event.event]} {day(event.median_ms, self._zone)} "
        words += f"({window(event.low_ms, event.high_ms, self._zone)})"
        yield rect("band", low, lane - 4, max(high - low, 2.0), 8, words)
        yield dot("dot" if filled else "open", middle, lane, 5.5 if filled else 4.5, words)
        half = 2.9 * len(label)
        x = min(max(middle, self._x(self._now_ms) + half + 3), WIDTH - RIGHT - half)
        yield text(x, lane + 15 if lower else lane - 8, label, "small", "middle")

    def today(self) -> Iterator[str]:
        """A line where now is, and what the marks mean."""
        x = self._x(self._now_ms)
        yield line("now", x, TOP - 4, x, self._height - BOTTOM)
        yield text(x, self._height - BOTTOM + 16, "now", "nowtext small", "middle")
        meaning = "filled: what you act on (half of the flies out, the first leave the bin)"
        yield text(LEFT, self._height - 10, meaning, "small")
