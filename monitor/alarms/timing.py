"""The live condition of one alarm: setpoint, deadband and delays, all in time of measurement.

Readings that come after newer ones of their place are run through a condition of their own (`LateFinds`): an
excursion among them wakes nobody, but is found.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from enum import StrEnum
from typing import NamedTuple

from monitor.records import (
    MS_PER_SECOND,
    STANDING,
    AlarmRule,
    AlarmState,
    Excursion,
    Priority,
    Quantity,
    Side,
)

SUPPRESS_S_PER_K = 1080.0
SUPPRESS_MOST_S = 7200.0
_TEMPERATURES = (Quantity.AIR_TEMPERATURE, Quantity.SUBSTRATE_TEMPERATURE, Quantity.SURFACE_TEMPERATURE)


class Phase(StrEnum):
    """Where a value stands to its alarm: what a sentence about the present has to know."""

    INSIDE = "inside"
    COMING = "coming"
    """Beyond the limit, and the on-delay runs."""
    BEYOND = "beyond"
    BETWEEN = "between"
    """Inside the limit again, by less than the deadband: the alarm holds."""
    BACK = "back"
    """Inside by the deadband or more, and the off-delay runs."""


class Sample(NamedTuple):
    """One value at its time of measurement; `value` is None where the reading failed or is missing."""

    at_ms: int
    value: float | None
    suspect: bool = False


def observe(state: AlarmState, rule: AlarmRule, sample: Sample, max_gap_s: float) -> AlarmState:
    """Bring the live condition (`active`) up to date with one sample; the status stays as it is.

    A sample that is not newer than the last one, or has no finite value, changes nothing. `max_gap_s` is the
    longest step that counts towards a delay [s]; a longer one freezes the delay where it stands.
    `since_ms` and `extreme_value` then describe the latest excursion, one still within its on-delay included.

    Beyond: x > setpoint (high) or x < setpoint (low), without a break for `on_delay_s`. Back inside:
    by the deadband or more, without a break for `off_delay_s`. Between the two the condition holds
    and a running delay starts again. A delay counts from the first sample that shows the change, so
    a delay of 0 acts on that very sample.

    Source: Time_Delay, Time_Delay_Normal, High_Limit, Low_Limit and Deadband as BACnet names them; on-delay
    and off-delay as in OPC 10000-9 annex B.1.5.
    """
    at_ms, value, _ = sample
    last_at_ms = state.last_at_ms
    if value is None or not math.isfinite(value) or (last_at_ms is not None and at_ms <= last_at_ms):
        return state
    excess = _excess(rule, value)
    beyond = excess > 0
    changing = excess <= -rule.deadband if state.active else beyond
    if not changing:
        return _quiet(state, at_ms, value, beyond, excess, rule)
    resumes = points_to_change(state, rule, state.last_value)
    step_s = (at_ms - last_at_ms) / MS_PER_SECOND if resumes and last_at_ms is not None else 0.0
    progress_s = (state.progress_s if resumes else 0.0) + (step_s if step_s <= max_gap_s else 0.0)
    return _pending(state, rule, at_ms, value, progress_s, resumes)


def at_rest(state: AlarmState, rule: AlarmRule, at_ms: int, value: float | None) -> AlarmState | None:
    """An alarm of which nothing goes on, after a newer value inside its limit: `observe` gives the same.

    None where anything goes on or begins (active, a delay, late data, a value that is none): there each step
    has to be gone.
    """
    if state.active or state.stale or state.status in STANDING or value is None or not math.isfinite(value):
        return None
    last_at_ms, last_value, setpoint = state.last_at_ms, state.last_value, rule.setpoint
    if last_at_ms is None or at_ms <= last_at_ms:
        return None
    if rule.side is Side.HIGH:
        is_inside = value <= setpoint and (last_value is None or last_value <= setpoint)
    else:
        is_inside = value >= setpoint and (last_value is None or last_value >= setpoint)
    return _quiet(state, at_ms, value, False, 0.0, rule) if is_inside else None


def _excess(rule: AlarmRule, value: float) -> float:
    return value - rule.setpoint if rule.side is Side.HIGH else rule.setpoint - value


def points_to_change(state: AlarmState, rule: AlarmRule, value: float | None) -> bool:
    """Whether a value, in the unit of the setpoint, speaks for the other live condition: a delay runs.

    That is back inside while active, beyond while not; None speaks for nothing.
    """
    if value is None:
        return False
    excess = _excess(rule, value)
    return excess <= -rule.deadband if state.active else excess > 0


def phase_of(rule: AlarmRule, active: bool, value: float | None) -> Phase:
    """Where a value, in the unit of the setpoint, stands; without one it stands where the alarm does."""
    if value is None or not math.isfinite(value):
        return Phase.BEYOND if active else Phase.INSIDE
    excess = _excess(rule, value)
    if not active:
        return Phase.COMING if excess > 0 else Phase.INSIDE
    if excess > 0:
        return Phase.BEYOND
    return Phase.BACK if excess <= -rule.deadband else Phase.BETWEEN


def past_excursion(state: AlarmState) -> Excursion | None:
    """The last excursion that is over; None while one stands, and where it is not known."""
    since_ms, until_ms, extreme = state.over_since_ms, state.over_ms, state.over_extreme
    if state.active or since_ms is None or until_ms is None or extreme is None:
        return None
    return Excursion(state.alarm_id, since_ms, until_ms, extreme)


class Delay(NamedTuple):
    """A delay that runs: since when, and when it changes the alarm if values stay as they are [ms]."""

    since_ms: int
    until_ms: int


def running_delay(state: AlarmState, rule: AlarmRule) -> Delay | None:
    """The on-delay or off-delay that runs by the last sample; None while none does."""
    if state.last_at_ms is None or not points_to_change(state, rule, state.last_value):
        return None
    left_s = (rule.off_delay_s if state.active else rule.on_delay_s) - state.progress_s
    began_ms = state.last_at_ms - round(state.progress_s * MS_PER_SECOND)
    if not state.active and state.since_ms is not None:
        began_ms = state.since_ms
    return Delay(began_ms, state.last_at_ms + round(max(0.0, left_s) * MS_PER_SECOND))


def _quiet(
    state: AlarmState, at_ms: int, value: float, beyond: bool, excess: float, rule: AlarmRule
) -> AlarmState:
    extreme, last_true_ms = state.extreme_value, state.last_true_ms
    if state.active:
        last_true_ms = at_ms
        if beyond and (extreme is None or excess > _excess(rule, extreme)):
            extreme = value
    return AlarmState(
        state.alarm_id,
        state.status,
        state.active,
        state.acknowledged,
        state.since_ms,
        0.0,
        at_ms,
        value,
        extreme,
        last_true_ms,
        state.shelved_until_ms,
        False,
        state.over_since_ms,
        state.over_ms,
        state.over_extreme,
    )


def _pending(
    state: AlarmState, rule: AlarmRule, at_ms: int, value: float, progress_s: float, resumes: bool
) -> AlarmState:
    """The sample speaks for a change: on-delay while inactive, off-delay while active."""
    since_ms, extreme, last_true_ms = state.since_ms, state.extreme_value, state.last_true_ms
    if not state.active:
        last_true_ms = at_ms
        since_ms = since_ms if resumes else at_ms
        if not resumes or extreme is None or _excess(rule, value) > _excess(rule, extreme):
            extreme = value
    done = progress_s >= (rule.off_delay_s if state.active else rule.on_delay_s)
    over = state.over_since_ms, state.over_ms, state.over_extreme
    if done:
        over = (since_ms, at_ms, extreme) if state.active else (None, None, None)
    return AlarmState(
        state.alarm_id,
        state.status,
        state.active is not done,
        state.acknowledged,
        since_ms,
        0.0 if done else progress_s,
        at_ms,
        value,
        extreme,
        last_true_ms,
        state.shelved_until_ms,
        False,
        *over,
    )


def suppression_until(rule: AlarmRule, changed_ms: int, setpoint_change: float | None) -> int | None:
    """Until when an alarm is suppressed after its setpoint moved or its place was newly filled [ms].

    `setpoint_change` is in the unit of the quantity, None for a newly filled place. None is returned where
    nothing is suppressed; one of high priority never is: a bin too hot from the start must wake somebody.
    1080 s per K, at most 7200 s. For quantities that are not temperatures the step of 1 K is replaced by one
    deadband (our choice); a newly filled place takes the 7200 s (our choice).

    Source: ASHRAE Guideline 36, section 5.3.6, as implemented in the open Modelica Buildings library
    (OBC/ASHRAE/G36, ThermalZones/Alarms and Generic/TimeSuppression).
    """
    if rule.priority is Priority.HIGH or setpoint_change == 0:
        return None
    if setpoint_change is None:
        return changed_ms + int(SUPPRESS_MOST_S * MS_PER_SECOND)
    step = 1.0 if rule.quantity in _TEMPERATURES else rule.deadband
    steps = abs(setpoint_change) / step if step > 0 else math.inf
    return changed_ms + int(min(SUPPRESS_MOST_S, SUPPRESS_S_PER_K * steps) * MS_PER_SECOND)


class LateFinds:
    """Runs late samples through a shadow of each alarm, by its setpoint and delays; nobody is told."""

    def __init__(self) -> None:
        self._shadows: dict[str, AlarmState] = {}

    def take(self, rule: AlarmRule, samples: Sequence[Sample], max_gap_s: float) -> list[Excursion]:
        """Excursions in samples that are in the order of time, as far as they are known by now."""
        shadow = self._shadow_for(rule, samples[0].at_ms, max_gap_s)
        excursions: dict[int, Excursion] = {}
        for sample in samples:
            shadow = observe(shadow, rule, sample, max_gap_s)
            excursion = _of(shadow) if shadow.active else None
            if excursion is not None:
                excursions[excursion.began_ms] = excursion
        self._shadows[rule.alarm_id] = shadow
        return list(excursions.values())

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
