"""From when to when each alarm stood annunciated, read from the journal."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from monitor.records import MS_PER_DAY, AlarmStatus, Transition

STANDING = (AlarmStatus.UNACKNOWLEDGED, AlarmStatus.ACKNOWLEDGED)


@dataclass(frozen=True, slots=True)
class Span:
    """One alarm stood annunciated, acknowledged or not, from `begin_ms` to `end_ms`."""

    alarm_id: str
    begin_ms: int
    end_ms: int

    @property
    def length_ms(self) -> int:
        """Length [ms]."""
        return self.end_ms - self.begin_ms


def annunciated_spans(journal: Iterable[Transition], start_ms: int, end_ms: int) -> tuple[Span, ...]:
    """Find the spans in which each alarm stood annunciated.

    Parameters
    ----------
    journal : iterable of Transition
        rows of the period, in the order in which they were written
    start_ms, end_ms : int
        the period [ms]; an alarm whose first row says that it stood already counts from its start, one that
        still stands counts to its end

    Returns
    -------
    tuple of Span
        finished ones first, in the order in which they ended
    """
    begun: dict[str, int] = {}
    seen: set[str] = set()
    spans: list[Span] = []
    for row in journal:
        if row.alarm_id not in seen and row.before in STANDING:
            begun[row.alarm_id] = start_ms
        seen.add(row.alarm_id)
        if row.after in STANDING:
            begun.setdefault(row.alarm_id, row.processed_ms)
        elif row.alarm_id in begun:
            spans.append(Span(row.alarm_id, begun.pop(row.alarm_id), row.processed_ms))
    return (*spans, *(Span(name, begin_ms, end_ms) for name, begin_ms in begun.items()))


def stale_on_worst_day(spans: Iterable[Span], start_ms: int, stale_ms: int) -> int:
    """Count the alarms that were stale on the worst day.

    Parameters
    ----------
    spans : iterable of Span
        from `annunciated_spans`
    start_ms : int
        start of the first day [ms]
    stale_ms : int
        how long an alarm stands until it is stale [ms]

    Returns
    -------
    int
        the largest number of alarms stale on one day
    """
    stale: set[tuple[str, int]] = set()
    for span in spans:
        if span.length_ms > stale_ms:
            first = (span.begin_ms + stale_ms - start_ms) // MS_PER_DAY
            last = (span.end_ms - 1 - start_ms) // MS_PER_DAY
            stale.update((span.alarm_id, day) for day in range(first, last + 1))
    return max(Counter(day for _, day in stale).values(), default=0)
