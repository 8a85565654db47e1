"""Alarm health, measured from the journal by the definitions of ISA-18.2 / IEC 62682.

Only annunciations count: a transition into UNACKNOWLEDGED that no overlay hides. What loads a person
(rates, peaks, floods, stale) goes by the time of processing; how a signal behaves (chattering) by the
time of measurement.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from monitor.records import (
    MS_PER_DAY,
    MS_PER_HOUR,
    MS_PER_MINUTE,
    MS_PER_SECOND,
    STANDING,
    Priority,
    Transition,
)

INTERVAL_MS = 10 * MS_PER_MINUTE
FLOOD_ABOVE = 10
FLOOD_ENDS_BELOW = 5
LEAST_DAYS = 30.0
STALE_MS = MS_PER_DAY
CHATTER_COUNT = 3
CHATTER_INTERVALS = 12


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
    """The spans in which each alarm stood annunciated, in the order in which they ended.

    `journal` are the rows from `start_ms` to `end_ms` in the order in which they were written. An alarm whose
    first row says that it stood already counts from the start; one that still stands counts to the end.
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
    """How many alarms had stood for longer than `stale_ms` on the worst day, the first from `start_ms`."""
    stale: set[tuple[str, int]] = set()
    for span in spans:
        if span.length_ms > stale_ms:
            first = (span.begin_ms + stale_ms - start_ms) // MS_PER_DAY
            last = (span.end_ms - 1 - start_ms) // MS_PER_DAY
            stale.update((span.alarm_id, day) for day in range(first, last + 1))
    return max(Counter(day for _, day in stale).values(), default=0)


@dataclass(frozen=True, slots=True)
class AlarmHealth:
    """Alarm health of a period; shares and percentages are 0 where there was no annunciation."""

    days: float
    graded: bool
    annunciations: int
    per_day: float
    per_hour: float
    per_10_min: float
    peak_10_min: int
    peak_percent: float
    flood_minutes: float
    flood_percent: float
    most_frequent: tuple[tuple[str, int], ...]
    top_10_share: float
    chattering: tuple[str, ...]
    chattering_in_a_minute: tuple[str, ...]
    stale: tuple[tuple[str, float], ...]
    stale_on_worst_day: int
    priority_shares: Mapping[Priority, float] = field(default_factory=dict)


def health(
    transitions: Iterable[Transition],
    start_ms: int,
    end_ms: int,
    interval_s: float | Mapping[str, float] = 60.0,
) -> AlarmHealth:
    """Measure alarm health from `start_ms` to `end_ms` (excluded) from a journal in the order of its writing.

    `interval_s` is the reporting interval of the sensors behind the alarms [s], for all or by alarm id (else
    60 s). Fixed 10-minute intervals from `start_ms`. Peak: intervals with more than 10 annunciations. A flood
    starts with such an interval and ends with the first one below 5. Stale: annunciated without a break
    for more than 24 hours. Chattering: 3 annunciations of one alarm within 12 reporting intervals (our
    definition, for slow sampling), or within one minute (the rule of the trade). Under 30 days `graded` is
    False: the figures are then no ground for a verdict.

    Source: ANSI/ISA-18.2-2016, 16.4 and Table 7, as quoted by published secondary sources.
    """
    journal = [row for row in transitions if start_ms <= row.processed_ms < end_ms]
    announced = [row for row in journal if row.announces]
    counts = _counts(announced, start_ms, end_ms)
    flooded = sum(_flooded(counts))
    frequent = Counter(row.alarm_id for row in announced).most_common(10)
    spans = annunciated_spans(journal, start_ms, end_ms)
    days = (end_ms - start_ms) / MS_PER_DAY
    return AlarmHealth(
        days=days,
        graded=days >= LEAST_DAYS,
        annunciations=len(announced),
        per_day=_share(len(announced), days),
        per_hour=_share(len(announced), days * 24),
        per_10_min=_share(len(announced), len(counts)),
        peak_10_min=max(counts, default=0),
        peak_percent=100 * _share(sum(count > FLOOD_ABOVE for count in counts), len(counts)),
        flood_minutes=flooded * INTERVAL_MS / MS_PER_MINUTE,
        flood_percent=100 * _share(flooded, len(counts)),
        most_frequent=tuple(frequent),
        top_10_share=_share(sum(count for _, count in frequent), len(announced)),
        chattering=_chattering(announced, interval_s),
        chattering_in_a_minute=_in_a_minute(announced),
        stale=tuple((s.alarm_id, s.length_ms / MS_PER_HOUR) for s in spans if s.length_ms > STALE_MS),
        stale_on_worst_day=stale_on_worst_day(spans, start_ms, STALE_MS),
        priority_shares=_priority_shares(announced),
    )


def _share(part: float, whole: float) -> float:
    return part / whole if whole > 0 else 0.0


def _counts(announced: Sequence[Transition], start_ms: int, end_ms: int) -> list[int]:
    counts = [0] * -(-(end_ms - start_ms) // INTERVAL_MS)
    for row in announced:
        counts[(row.processed_ms - start_ms) // INTERVAL_MS] += 1
    return counts


def _flooded(counts: Iterable[int]) -> Iterable[bool]:
    flood = False
    for count in counts:
        flood = count >= FLOOD_ENDS_BELOW if flood else count > FLOOD_ABOVE
        yield flood


def _times(announced: Iterable[Transition], measured: bool) -> dict[str, list[int]]:
    times: dict[str, list[int]] = {}
    for row in announced:
        times.setdefault(row.alarm_id, []).append(row.at_ms if measured else row.processed_ms)
    return {name: sorted(moments) for name, moments in times.items()}


def _within(times: Sequence[int], span_ms: float) -> bool:
    """Whether any three of the times lie within the span."""
    last = CHATTER_COUNT - 1
    return any(times[i + last] - times[i] <= span_ms for i in range(len(times) - last))


def _chattering(announced: Iterable[Transition], interval_s: float | Mapping[str, float]) -> tuple[str, ...]:
    def span_ms(name: str) -> float:
        seconds = interval_s.get(name, 60.0) if isinstance(interval_s, Mapping) else interval_s
        return CHATTER_INTERVALS * seconds * MS_PER_SECOND

    return tuple(
        sorted(n for n, times in _times(announced, measured=True).items() if _within(times, span_ms(n)))
    )


def _in_a_minute(announced: Iterable[Transition]) -> tuple[str, ...]:
    times = _times(announced, measured=False)
    return tuple(sorted(name for name, moments in times.items() if _within(moments, MS_PER_MINUTE)))


def _priority_shares(announced: Sequence[Transition]) -> dict[Priority, float]:
    counts = Counter(row.priority for row in announced)
    return {priority: _share(counts[priority], len(announced)) for priority in Priority}
