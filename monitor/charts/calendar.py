"""The calendar of coming events: a row for each cohort, a mark for each event, with its days. Pure."""

from __future__ import annotations

from collections.abc import Iterator

from monitor.charts.svg import dot, line, picture, rect, text
from monitor.development.events import Event
from monitor.development.forecast import EventForecast
from monitor.farm.cohorts import CohortView, ForecastView
from monitor.records import MS_PER_DAY, local, midnight_ms
from monitor.words.cohorts import event_words
from monitor.words.localizer import Localizer, day

WIDTH = 900.0
LEFT, RIGHT, TOP, BOTTOM = 190.0, 24.0, 92.0, 46.0
ROW = 56.0
LANE = 8.0
DAYS = 42
BREEDING = (Event.HATCH, Event.HALF_PREPUPAE, Event.HALF_MOTIONLESS, Event.HALF_EMERGED, Event.FIRST_EGGS)
FEED = (Event.HATCH, Event.FIRST_PREPUPAE, Event.HALF_PREPUPAE)
# Neighbours in time stand in different lanes, so that their bars do not run into one another.
LOWER = frozenset({Event.HALF_PREPUPAE, Event.HALF_EMERGED})
FILLED = frozenset({Event.HALF_EMERGED, Event.FIRST_PREPUPAE})


def calendar_svg(view: ForecastView, words: Localizer, days: int = DAYS) -> str:
    """The picture of the coming weeks: every living cohort of which something is still to come."""
    rows = [cohort for cohort in view.cohorts if _marks(cohort, view.now_ms)]
    height = TOP + ROW * max(len(rows), 1) + BOTTOM
    board = _Board(view.now_ms, words, days, height)
    title = words.n("calendar.title", days // 7)
    parts = [
        text(24, 32, title, "title"),
        text(24, 53, words.t("calendar.explained")),
        *board.calendar(),
        *(part for index, cohort in enumerate(rows) for part in board.row(index, cohort)),
        *board.today(),
    ]
    if not rows:
        parts.append(text(24, TOP + 26, words.t("calendar.nothing")))
    return picture(WIDTH, height, title, parts)


def _marks(view: CohortView, now_ms: int) -> list[EventForecast]:
    """The events of a cohort that are still to come."""
    shown = FEED if view.for_feed else BREEDING
    events = view.forecast.events if view.forecast is not None else ()
    return [event for event in events if event.event in shown and event.median_ms >= now_ms]


class _Board:
    """Positions of the calendar; it begins with the Monday of this week."""

    def __init__(self, now_ms: int, words: Localizer, days: int, height: float) -> None:
        self._words, self._days, self._height, self._now_ms = words, days, height, now_ms
        self._start_ms = midnight_ms(now_ms, words.zone) - local(now_ms, words.zone).weekday() * MS_PER_DAY
        self._step = (WIDTH - LEFT - RIGHT) / days

    def _x(self, at_ms: float) -> float:
        days = (at_ms - self._start_ms) / MS_PER_DAY
        return LEFT + min(max(days, 0.0), float(self._days)) * self._step

    def calendar(self) -> Iterator[str]:
        """Weekends, weeks, and dates above them."""
        for index in range(self._days):
            at_ms = self._start_ms + index * MS_PER_DAY
            at = local(at_ms + MS_PER_DAY // 2, self._words.zone)
            x = self._x(at_ms)
            if at.weekday() >= 5:
                yield rect("weekend", x, TOP, self._step, self._height - TOP - BOTTOM)
            if at.weekday() == 0:
                yield line("grid", x, TOP - 20, x, self._height - BOTTOM)
                yield text(x + 4, TOP - 8, day(self._words, at_ms + MS_PER_DAY // 2), "small bold")

    def row(self, index: int, view: CohortView) -> Iterator[str]:
        """One cohort: its name, stage and place, its bars and marks."""
        y = TOP + ROW * (index + 0.5)
        yield line("row", 24, y + ROW / 2, WIDTH - RIGHT, y + ROW / 2)
        yield text(24, y - 2, view.cohort.name, "bold")
        stage = self._words.t("list.stage_unknown" if view.stage is None else f"stage.{view.stage}")
        yield text(24, y + 14, f"{stage}, {view.place_title}", "small")
        end_ms = self._start_ms + self._days * MS_PER_DAY
        kind = "calendar.feed_" if view.for_feed else "calendar."
        for event in _marks(view, self._now_ms):
            if event.median_ms < end_ms:
                yield from self._mark(event, self._words.t(f"{kind}{event.event}"), y)

    def _mark(self, event: EventForecast, label: str, y: float) -> Iterator[str]:
        low, middle, high = (self._x(each) for each in (event.low_ms, event.median_ms, event.high_ms))
        low, lower, filled = max(low, self._x(self._now_ms)), event.event in LOWER, event.event in FILLED
        lane = y + LANE if lower else y - LANE
        words = event_words(event, self._words)
        yield rect("band", low, lane - 4, max(high - low, 2.0), 8, words)
        yield dot("dot" if filled else "open", middle, lane, 5.5 if filled else 4.5, words)
        half = 2.9 * len(label)
        x = min(max(middle, self._x(self._now_ms) + half + 3), WIDTH - RIGHT - half)
        yield text(x, lane + 15 if lower else lane - 8, label, "small", "middle")

    def today(self) -> Iterator[str]:
        """A line where now is, and what the marks mean."""
        x = self._x(self._now_ms)
        yield line("now", x, TOP - 4, x, self._height - BOTTOM)
        yield text(x, self._height - BOTTOM + 16, self._words.t("calendar.now"), "nowtext small", "middle")
        yield text(LEFT, self._height - 10, self._words.t("calendar.meaning"), "small")
