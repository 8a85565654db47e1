"""What is done in short for an alarm at rest is what every step would have done."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.alarms.state_machine import Advanced, advance_many
from monitor.alarms.timing import Sample, at_rest, observe, points_to_change
from monitor.records import AlarmRule, AlarmState, AlarmStatus, Priority, Side

T0 = 1_790_000_000_000
HIGH = AlarmRule(
    "a", "bin-1", "substrate_temperature", Side.HIGH, 40.0, 1.0, 600.0, 300.0, Priority.HIGH, "", ""
)
LOW = replace(HIGH, side=Side.LOW, setpoint=20.0)

VALUES = st.one_of(
    st.none(), st.floats(15.0, 45.0), st.sampled_from([20.0, 40.0, 39.0, 21.0, math.nan, -math.inf])
)
STATES = st.builds(
    AlarmState,
    alarm_id=st.just("a"),
    status=st.sampled_from(AlarmStatus),
    active=st.booleans(),
    acknowledged=st.booleans(),
    since_ms=st.sampled_from([None, T0 - 60_000]),
    progress_s=st.sampled_from([0.0, 120.0]),
    last_at_ms=st.sampled_from([None, T0 - 60_000, T0, T0 + 5000]),
    last_value=VALUES,
    extreme_value=st.sampled_from([None, 41.5]),
    last_true_ms=st.sampled_from([None, T0 - 90_000]),
    shelved_until_ms=st.sampled_from([None, T0 + 9_000_000]),
    stale=st.booleans(),
    over_since_ms=st.sampled_from([None, T0 - 7_000_000]),
    over_ms=st.sampled_from([None, T0 - 6_000_000]),
    over_extreme=st.sampled_from([None, 42.5]),
)


@given(STATES, st.sampled_from([HIGH, LOW]), VALUES, st.sampled_from([0, 1000, 10_000_000]))
def test_an_alarm_at_rest_is_what_every_step_makes_of_it(
    state: AlarmState, rule: AlarmRule, value: float | None, behind_ms: int
) -> None:
    after = at_rest(state, rule, T0, value)
    if after is None:
        return
    sample = Sample(T0, value)
    assert after == observe(state, rule, sample, 600.0)
    assert Advanced(after) == advance_many(state, rule, [sample], T0 + behind_ms, 600.0)
    assert not points_to_change(state, rule, state.last_value)
    assert not points_to_change(after, rule, after.last_value)


CALM = AlarmState("a", last_at_ms=T0 - 60_000, last_value=30.0)


def test_a_calm_reading_is_done_in_short() -> None:
    assert at_rest(CALM, HIGH, T0, 40.0) == replace(CALM, last_at_ms=T0, last_value=40.0)
    assert at_rest(CALM, LOW, T0, 20.0) == replace(CALM, last_at_ms=T0, last_value=20.0)


@pytest.mark.parametrize(
    "state",
    [
        replace(CALM, active=True),
        replace(CALM, stale=True),
        replace(CALM, last_value=40.1, progress_s=30.0),
        replace(CALM, last_at_ms=None),
        replace(CALM, last_at_ms=T0),
        replace(CALM, status=AlarmStatus.UNACKNOWLEDGED),
        replace(CALM, status=AlarmStatus.ACKNOWLEDGED),
    ],
)
def test_where_something_goes_on_each_step_is_gone(state: AlarmState) -> None:
    assert at_rest(state, HIGH, T0, 30.0) is None


@pytest.mark.parametrize("value", [40.01, None, math.nan, math.inf, -math.inf])
def test_a_value_beyond_or_none_is_never_done_in_short(value: float | None) -> None:
    assert at_rest(CALM, HIGH, T0, value) is None
