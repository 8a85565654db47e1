"""What becomes of a waiting message when its turn comes."""

from __future__ import annotations

from random import Random

import pytest
from notify_builders import HOUR, MINUTE, Farm, at, circle, person, rule, view, with_state, words

from monitor.notify import delivery
from monitor.notify.delivery import Action, DeliveryContext
from monitor.records import AlarmStatus, MessageKind, OutboxMessage, Priority

NIGHT = at("2026-11-25 02:10")
HIGH = rule()
MEDIUM = rule(Priority.MEDIUM, setpoint=38.0, alarm_id="medium")


def turn(farm: Farm, number: int, now_ms: int) -> DeliveryContext:
    message = farm.outbox.all()[number]
    seen = farm.look(message.alarm_id or "")
    return DeliveryContext(message, seen, farm.outbox.messages_for(message.alarm_id or ""), words(now_ms))


def farm_with(*alarms: object, quiet: tuple[str, str] | None = None) -> Farm:
    farm = Farm(circle(person("anna", quiet=quiet), person("ben", 2)))
    for one in alarms:
        farm.raise_alarm(one, NIGHT)  # type: ignore[arg-type]
    return farm


def test_in_time_the_stored_words_go_out() -> None:
    farm = farm_with(HIGH)
    now = turn(farm, 0, NIGHT + 1000)
    assert delivery.why_not(now) == ""
    assert delivery.final_text(now).body == farm.outbox.all()[0].body


@pytest.mark.parametrize(("answer", "reason"), [("clear", delivery.OVER), ("acknowledge", delivery.SEEN)])
def test_a_message_held_for_quiet_hours_is_dropped_once_answered(answer: str, reason: str) -> None:
    farm = farm_with(MEDIUM, quiet=("21:30", "06:00"))
    getattr(farm, answer)(MEDIUM, NIGHT + HOUR)
    assert delivery.why_not(turn(farm, 0, at("2026-11-25 06:00"))) == reason


def test_a_held_message_whose_alarm_stands_goes_out_with_the_value_of_the_morning() -> None:
    farm = farm_with(MEDIUM, quiet=("21:30", "06:00"))
    farm.views["medium"] = with_state(farm.views["medium"], last_value=39.7)
    now = turn(farm, 0, at("2026-11-25 06:00"))
    assert delivery.why_not(now) == ""
    text = delivery.final_text(now)
    assert text.title.startswith("MEDIUM Bin 3 substrate 39.7 °C, limit 38 °C")
    assert "Since 02:10 (3 h 50 min)." in text.body
    assert "late" not in text.body


def test_a_late_alarm_that_is_over_says_so_and_the_return_is_not_told_twice() -> None:
    farm = farm_with(HIGH)
    farm.clear(HIGH, NIGHT + HOUR)
    morning = NIGHT + 6 * HOUR
    now = turn(farm, 0, morning)
    assert delivery.why_not(now) == ""
    text = delivery.final_text(now)
    assert text.title.startswith("BACK TO NORMAL Bin 3")
    assert "Out of range from 02:10 to 03:10 (1 h)." in text.body
    assert "has waited since 02:10" in text.body
    farm.outbox.mark_sent(-1, morning)
    assert delivery.why_not(turn(farm, 1, morning)) == delivery.ALREADY_SAID


def test_a_late_alarm_that_was_acknowledged_names_the_person() -> None:
    farm = farm_with(HIGH)
    farm.acknowledge(HIGH, NIGHT + HOUR)
    body = delivery.final_text(turn(farm, 0, NIGHT + 6 * HOUR)).body
    assert "Acknowledged by anna at 03:10." in body


def test_an_escalation_or_reminder_that_came_too_late_is_dropped() -> None:
    farm = farm_with(HIGH)
    farm.tick(NIGHT + 15 * MINUTE)
    farm.acknowledge(HIGH, NIGHT + 16 * MINUTE)
    assert delivery.why_not(turn(farm, 1, NIGHT + 17 * MINUTE)) == delivery.SEEN


def test_a_late_escalation_keeps_whom_it_was_tried_with() -> None:
    farm = farm_with(HIGH)
    farm.outbox.mark_sent(-1, NIGHT + 1000)
    farm.tick(NIGHT + 15 * MINUTE)
    farm.views[HIGH.alarm_id] = with_state(farm.views[HIGH.alarm_id], last_value=44.0)
    text = delivery.final_text(turn(farm, 1, NIGHT + HOUR))
    assert "44.0 °C" in text.title
    assert text.body.startswith("anna was told at 02:10 and has not answered.")
    assert "has waited since 02:25" in text.body


@pytest.mark.parametrize(
    "status", [AlarmStatus.SHELVED, AlarmStatus.SUPPRESSED_BY_DESIGN, AlarmStatus.OUT_OF_SERVICE]
)
def test_a_hidden_alarm_is_not_told(status: AlarmStatus) -> None:
    farm = farm_with(HIGH)
    farm.views[HIGH.alarm_id] = with_state(farm.views[HIGH.alarm_id], status=status)
    assert delivery.why_not(turn(farm, 0, NIGHT + 1000)) == delivery.HIDDEN


def test_of_several_occurrences_in_an_outage_the_last_is_told_and_names_the_others() -> None:
    farm = farm_with(HIGH)
    farm.clear(HIGH, NIGHT + HOUR)
    farm.raise_alarm(HIGH, NIGHT + 2 * HOUR)
    morning = NIGHT + 6 * HOUR
    assert [delivery.why_not(turn(farm, number, morning)) for number in (0, 1, 2)] == [
        delivery.NEWER,
        delivery.NEWER,
        "",
    ]
    for number in (-1, -2):
        farm.outbox.supersede(number, delivery.NEWER, morning)
    assert "It also came and went at 02:10." in delivery.final_text(turn(farm, 2, morning)).body


def test_a_return_is_not_told_to_someone_who_never_heard_of_the_alarm() -> None:
    farm = farm_with(HIGH)
    farm.outbox.supersede(-1, delivery.HIDDEN, NIGHT)
    farm.clear(HIGH, NIGHT + HOUR)
    assert delivery.why_not(turn(farm, 1, NIGHT + HOUR)) == delivery.NEVER_TOLD


def test_a_return_after_a_delivered_alarm_is_told() -> None:
    farm = farm_with(HIGH)
    farm.outbox.mark_sent(-1, NIGHT + 1000)
    farm.clear(HIGH, NIGHT + HOUR)
    assert delivery.why_not(turn(farm, 1, NIGHT + HOUR)) == ""


def test_a_message_about_an_alarm_that_the_settings_no_longer_have_goes_out_as_it_is() -> None:
    farm = farm_with(HIGH)
    farm.views.clear()
    now = turn(farm, 0, NIGHT + HOUR)
    assert delivery.why_not(now) == ""
    assert delivery.final_text(now).title == farm.outbox.all()[0].title


def message(
    number: int, priority: Priority = Priority.MEDIUM, kind: MessageKind = MessageKind.ALARM
) -> OutboxMessage:
    return OutboxMessage("anna", kind, f"title {number}", "body", NIGHT + number, priority, message_id=number)


def test_urgent_messages_go_first_and_beyond_the_cap() -> None:
    high, report = message(3, Priority.HIGH), message(4, Priority.LOW, MessageKind.NIGHT_REPORT)
    assert delivery.next_action([message(1), high, report], 50, 6) == Action(send=high)
    assert delivery.next_action([message(1), report], 50, 6) == Action(send=report)


def test_the_last_message_that_the_cap_allows_carries_all_that_wait() -> None:
    due = [message(1), message(2), message(3)]
    assert delivery.next_action(due, 4, 6) == Action(send=due[0])
    assert delivery.next_action(due, 5, 6) == Action(fold=tuple(due))
    assert delivery.next_action(due[:1], 5, 6) == Action(send=due[0])
    assert delivery.next_action(due, 6, 6) == Action()
    assert delivery.next_action([], 0, 6) == Action()


def test_a_summary_is_never_folded_into_another() -> None:
    summary = message(1, kind=MessageKind.FOLDED)
    assert delivery.next_action([summary, message(2)], 5, 6) == Action(send=summary)


def test_a_summary_carries_the_titles_and_the_gravest_priority() -> None:
    made = delivery.summary_of([message(1, Priority.LOW), message(2)], 6, words(NIGHT))
    assert (made.kind, made.priority, made.recipient) == (MessageKind.FOLDED, Priority.MEDIUM, "anna")
    assert "title 1" in made.body
    assert "title 2" in made.body


def test_delays_grow_from_ten_seconds_to_five_minutes_with_jitter() -> None:
    rng = Random(1)
    means = [sum(delivery.backoff_s(attempt, rng) for _ in range(200)) / 200 for attempt in range(1, 9)]
    assert means == pytest.approx([10, 20, 40, 80, 160, 300, 300, 300], rel=0.05)
    assert len({delivery.backoff_s(3, rng) for _ in range(10)}) == 10
    assert delivery.backoff_s(10**9, rng) <= 360


def test_no_link_or_view_is_needed_for_a_report() -> None:
    report = OutboxMessage("anna", MessageKind.NIGHT_REPORT, "Night", "All well.", NIGHT)
    now = DeliveryContext(report, None, (), words(NIGHT + HOUR))
    assert delivery.why_not(now) == ""
    assert delivery.final_text(now).body == "All well."


def test_a_late_return_keeps_its_words_when_the_alarm_stands_again() -> None:
    farm = farm_with(HIGH)
    farm.outbox.mark_sent(-1, NIGHT + 1000)
    farm.clear(HIGH, NIGHT + HOUR)
    farm.views[HIGH.alarm_id] = view(NIGHT + 2 * HOUR)
    now = turn(farm, 1, NIGHT + 3 * HOUR)
    assert delivery.final_text(now).title == farm.outbox.all()[1].title
