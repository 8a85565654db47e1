"""Which copies stay: the newest of each of seven days, five weeks and twelve months.

Counted are days, weeks and months that have a copy, not those of the calendar: after a long pause nothing
goes. Copies dated ahead of now stay: either they or now are from a clock that was wrong, and nobody knows
which. So does what was made by hand.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import UTC, date, datetime

from monitor.copies.targets import CopyName
from monitor.records import MS_PER_SECOND

DAILY, WEEKLY, MONTHLY = 7, 5, 12
MOST_AT_ONCE = 2
"""Own choice: each night brings one copy, so two at most go in a night, whatever the clock says."""


def to_remove(names: Iterable[CopyName], now_ms: int) -> tuple[CopyName, ...]:
    """The copies that may go now, the oldest first."""
    by_itself = sorted(name for name in names if not name.by_hand)
    today = _day(now_ms)
    past = [name for name in by_itself if _day(name.made_at_ms) <= today]
    kept = _kept(past)
    return tuple(name for name in past if name not in kept)[:MOST_AT_ONCE]


def _kept(names: list[CopyName]) -> set[CopyName]:
    rules: tuple[tuple[Callable[[date], object], int], ...] = (
        (date.toordinal, DAILY),
        (lambda day: day.isocalendar()[:2], WEEKLY),
        (lambda day: (day.year, day.month), MONTHLY),
    )
    return {name for period, most in rules for name in _newest_of_each(names, period, most)}


def _newest_of_each(names: list[CopyName], period: Callable[[date], object], most: int) -> list[CopyName]:
    newest = {period(_day(name.made_at_ms)): name for name in names}
    return list(newest.values())[-most:]


def _day(at_ms: int) -> date:
    return datetime.fromtimestamp(at_ms / MS_PER_SECOND, UTC).date()
