"""One waking for one thing: an alarm that was seen and comes again the same night is told only when worse."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from notify_builders import MINUTE, at, change, circle, person, rule, view

from monitor.notify.outbox import IN_SUMMARY
from monitor.notify.policy import AlarmMessages, on_tick, on_transition, realarm_is_held
from monitor.records import (
    AlarmEvent,
    AlarmRule,
    AlarmStatus,
    MessageKind,
    OutboxMessage,
    Quantity,
    Side,
)
from monitor.store import Store

HELD = replace(rule(setpoint=46.0), realarm_after_s=12 * 3600.0, realarm_step=1.0)
EARLY = replace(
    rule(quantity="minutes_to_overheating", side=Side.LOW, setpoint=60.0, alarm_id="bin-3/early"),
    realarm_after_s=12 * 3600.0,
    realarm_step=30.0,
)
EVENING = at("2026-11-24 21:00")
AGAIN = EVENING + 5 * 60 * MINUTE
PEOPLE = circle(person("anna"), person("bheki", order=2))


def told(worst: float | None, at_ms: int = EVENING, of: AlarmRule = HELD, **changes: object) -> OutboxMessage:
    row = OutboxMessage(
        "anna", MessageKind.ALARM, "t", "b", at_ms, of.priority, of.alarm_id, sent_ms=at_ms, worst=worst,
        setpoint=of.setpoint,
    )  # fmt: skip
    return replace(row, **changes)  # type: ignore[arg-type]


def back(worst: float, at_ms: int = EVENING + 60 * MINUTE, of: AlarmRule = HELD) -> OutboxMessage:
    return told(worst, at_ms, of, kind=MessageKind.RETURNED)


def messages(
    value: float, now_ms: int = AGAIN, of: AlarmRule = HELD, seen_ms: int | None = EVENING + MINUTE
) -> AlarmMessages:
    seen = view(now_ms, value=value, of=of)
    return AlarmMessages(
        seen, PEOPLE, now_ms, acknowledged_since=lambda since: seen_ms is not None and seen_ms >= since
    )


def comes_again(those: AlarmMessages, rows: list[OutboxMessage]) -> tuple[OutboxMessage, ...]:
    row = change(
        those.view, AlarmEvent.ACTIVATE, AlarmStatus.NORMAL, AlarmStatus.UNACKNOWLEDGED, those.now_ms
    )
    return on_transition(row, those, rows)


def test_what_was_seen_and_comes_again_as_bad_wakes_nobody() -> None:
    rows = [told(46.2), back(46.8)]
    assert comes_again(messages(47.7), rows) == ()
    assert on_tick(messages(47.7), rows) == ()


def test_it_is_told_when_it_is_worse_by_the_step_at_once_or_later() -> None:
    rows = [told(46.2), back(46.8)]
    assert len(comes_again(messages(47.8), rows)) == 1
    worse = messages(47.8)
    assert [row.kind for row in on_tick(worse, rows)] == [MessageKind.ALARM]


def test_once_told_again_it_escalates_and_reminds_like_any_other() -> None:
    rows = [told(46.2), back(46.8), told(47.8, AGAIN)]
    later = replace(messages(47.8), now_ms=AGAIN + 15 * MINUTE)
    assert [(row.kind, row.recipient) for row in on_tick(later, rows)] == [(MessageKind.ESCALATION, "bheki")]


def test_the_first_telling_is_never_held() -> None:
    assert len(comes_again(messages(46.1), [])) == 1


def test_what_nobody_acknowledged_is_told_again() -> None:
    rows = [told(46.2), back(46.8)]
    assert len(comes_again(messages(46.1, seen_ms=None), rows)) == 1
    assert len(comes_again(messages(46.1, seen_ms=EVENING - MINUTE), rows)) == 1, "seen before it was told"


@pytest.mark.parametrize("hours", [12.01, 24.0])
def test_another_night_is_another_waking(hours: float) -> None:
    now_ms = EVENING + round(hours * 60 * MINUTE)
    assert len(comes_again(messages(46.1, now_ms), [told(46.2), back(46.8)])) == 1


def test_while_it_stands_it_is_told_when_the_hours_are_over() -> None:
    rows = [told(46.2), back(46.8)]
    stands = messages(46.1)
    assert on_tick(stands, rows) == ()
    assert len(on_tick(replace(stands, now_ms=EVENING + 12 * 60 * MINUTE + MINUTE), rows)) == 1


@pytest.mark.parametrize(
    "row",
    [
        told(46.9, setpoint=48.0),
        told(46.9, setpoint=None),
        told(None),
        told(46.9, sent_ms=None),
        told(46.9, sent_ms=None, superseded="it has returned"),
    ],
    ids=["another limit", "no limit", "older version", "not sent", "never sent"],
)
def test_in_doubt_it_is_told(row: OutboxMessage) -> None:
    assert len(comes_again(messages(46.1), [row])) == 1


def test_a_summary_counts_as_told() -> None:
    assert comes_again(messages(46.1), [told(46.9, sent_ms=None, superseded=IN_SUMMARY)]) == ()


def test_a_clearly_earlier_crossing_is_worse() -> None:
    rows = [told(55.0, of=EARLY), back(50.0, of=EARLY)]
    assert comes_again(messages(21.0, of=EARLY), rows) == ()
    assert len(comes_again(messages(20.0, of=EARLY), rows)) == 1


def test_a_rule_without_the_property_is_told_each_time() -> None:
    plain = replace(HELD, realarm_after_s=0.0)
    assert len(comes_again(messages(46.1, of=plain), [told(46.2), back(46.8)])) == 1
    assert not realarm_is_held(messages(46.1, of=plain), [told(46.2)])


def test_messages_keep_how_bad_it_was_over_a_restart(tmp_path: Path) -> None:
    with Store.open(tmp_path / "yard.sqlite") as store:
        store.outbox.add([told(46.8, sent_ms=None)])
    with Store.open(tmp_path / "yard.sqlite") as store:
        [kept] = store.outbox.messages_for(HELD.alarm_id)
    assert (kept.worst, kept.setpoint) == (46.8, 46.0)


def test_quantity_is_not_all_a_rule_is_about() -> None:
    """Air and substrate have alarms of their own: what was told of one holds nothing of the other."""
    air = replace(HELD, quantity=Quantity.AIR_TEMPERATURE, alarm_id="bin-3/air")
    assert len(comes_again(messages(46.1, of=air), [])) == 1
