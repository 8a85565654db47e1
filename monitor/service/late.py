"""Readings that come after newer ones of their place: an excursion among them wakes nobody, but is found."""

from __future__ import annotations

from collections.abc import Sequence

from monitor.model.alarm_timing import Sample, observe
from monitor.records import MS_PER_SECOND, AlarmRule, AlarmState, Excursion


class LateFinds:
    """Runs late samples through a shadow of each alarm, by its setpoint and delays; nobody is told."""

    def __init__(self) -> None:
        self._shadows: dict[str, AlarmState] = {}

    def look(self, rule: AlarmRule, samples: Sequence[Sample], max_gap_s: float) -> list[Excursion]:
        """Excursions in samples that are in the order of time, as far as they are known by now."""
        shadow = self._shadow_for(rule, samples[0].at_ms, max_gap_s)
        found: dict[int, Excursion] = {}
        for sample in samples:
            shadow = observe(shadow, rule, sample, max_gap_s)
            excursion = _of(shadow) if shadow.active else None
            if excursion is not None:
                found[excursion.began_ms] = excursion
        self._shadows[rule.alarm_id] = shadow
        return list(found.values())

    def _shadow_for(self, rule: AlarmRule, at_ms: int, max_gap_s: float) -> AlarmState:
        """The shadow as it stands where the samples follow on it, else a new one."""
        shadow = self._shadows.get(rule.alarm_id)
        last_at_ms = shadow.last_at_ms if shadow else None
        if shadow is None or last_at_ms is None:
            return AlarmState(rule.alarm_id)
        follows = last_at_ms < at_ms <= last_at_ms + max_gap_s * MS_PER_SECOND
        return shadow if follows else AlarmState(rule.alarm_id)


def _of(state: AlarmState) -> Excursion | None:
    if state.since_ms is None or state.last_true_ms is None or state.extreme_value is None:
        return None
    return Excursion(state.alarm_id, state.since_ms, state.last_true_ms, state.extreme_value)
