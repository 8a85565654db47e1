"""What a limit would have meant: how often its alarm would have sounded in past readings, and how long."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from monitor.alarms.timing import Sample, observe
from monitor.records import MS_PER_DAY, MS_PER_HOUR, MS_PER_SECOND, AlarmRule, AlarmState, Side


@dataclass(frozen=True, slots=True)
class Sounded:
    """How often an alarm would have come, for how many hours it would have stood, in how many days read."""

    rule: AlarmRule
    times: int
    hours: float
    days: float


def sounded(
    rule: AlarmRule, times_ms: Sequence[int], values: Sequence[float], max_gap_s: float
) -> Sounded | None:
    """Play readings of the past through a rule with its delays; None without two readings.

    `times_ms` rise, `values` are in the unit of the setpoint; a step longer than `max_gap_s` [s] neither runs
    a delay nor counts as time in which the alarm stood.
    """
    if len(times_ms) < 2:
        return None
    days = (times_ms[-1] - times_ms[0]) / MS_PER_DAY
    farthest = max(values) - rule.setpoint if rule.side is Side.HIGH else rule.setpoint - min(values)
    if farthest <= 0.0:
        return Sounded(rule, 0, 0.0, days)
    state, count, stood_ms = AlarmState(rule.alarm_id), 0, 0
    longest_ms = round(max_gap_s * MS_PER_SECOND)
    for (at_ms, next_ms), value in zip(pairwise([*times_ms, times_ms[-1]]), values, strict=True):
        after = observe(state, rule, Sample(at_ms, value), max_gap_s)
        count += after.active and not state.active
        state = after
        if state.active and next_ms - at_ms <= longest_ms:
            stood_ms += next_ms - at_ms
    return Sounded(rule, count, stood_ms / MS_PER_HOUR, days)
