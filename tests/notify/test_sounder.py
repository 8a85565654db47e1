"""The sounder in the barn."""

from __future__ import annotations

from dataclasses import replace

import pytest
from notify_builders import at, rule, view

from monitor.notify.signals import Sounder, should_sound
from monitor.records import AlarmState, AlarmStatus, Priority

RULES = {"high": rule(alarm_id="high"), "medium": rule(Priority.MEDIUM, alarm_id="medium")}
NOW = at("2026-11-25 02:10")


def state(alarm_id: str, status: AlarmStatus) -> AlarmState:
    return replace(view(NOW).state, alarm_id=alarm_id, status=status)


@pytest.mark.parametrize("status", list(AlarmStatus))
def test_only_an_unacknowledged_high_alarm_sounds(status: AlarmStatus) -> None:
    assert should_sound([state("high", status)], RULES) is (status is AlarmStatus.UNACKNOWLEDGED)
    assert not should_sound([state("medium", status), state("unknown", status)], RULES)


def test_one_of_several_is_enough() -> None:
    states = [state("high", AlarmStatus.ACKNOWLEDGED), state("other", AlarmStatus.UNACKNOWLEDGED)]
    assert should_sound(states, {**RULES, "other": rule(alarm_id="other")})


def test_it_publishes_changes_only_retained_and_repeats_on_demand() -> None:
    said: list[tuple[str, bytes, bool]] = []
    sounder = Sounder(lambda *message: said.append(message), "rearing/saltbush-yard/sounder")
    sounder.repeat()
    assert said == []
    for status in (
        AlarmStatus.NORMAL,
        AlarmStatus.NORMAL,
        AlarmStatus.UNACKNOWLEDGED,
        AlarmStatus.UNACKNOWLEDGED,
        AlarmStatus.ACKNOWLEDGED,
    ):
        sounder.update([state("high", status)], RULES)
    assert said == [("rearing/saltbush-yard/sounder", word, True) for word in (b"off", b"on", b"off")]
    sounder.repeat()
    assert said[-1][1] == b"off"
    assert not sounder.sounding
