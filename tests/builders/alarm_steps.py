"""One sample at a time through the alarm state machine."""

from __future__ import annotations

from monitor.alarms.state_machine import LATE_AFTER_S, advance_many
from monitor.alarms.timing import Sample
from monitor.records import AlarmRule, AlarmState, Transition


def advance(
    state: AlarmState,
    rule: AlarmRule,
    sample: Sample,
    now_ms: int,
    max_gap_s: float,
    late_after_s: float = LATE_AFTER_S,
) -> tuple[AlarmState, tuple[Transition, ...]]:
    """The alarm after one sample, and its transitions; excursions found late are left out."""
    advanced = advance_many(state, rule, (sample,), now_ms, max_gap_s, late_after_s)
    return advanced.state, advanced.transitions
