"""Who is told what, and when."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from notify_builders import (
    HOUR,
    MINUTE,
    Farm,
    at,
    change,
    circle,
    person,
    rule,
    view,
    with_state,
)

from monitor.notify import policy
from monitor.records import AlarmEvent, AlarmStatus, Computed, MessageKind, OutboxMessage, Priority
from monitor.settings.schema import MessageSettings, Settings, Site

NIGHT = at("2026-11-25 02:10")
MEDIUM = rule(Priority.MEDIUM, setpoint=38.0, alarm_id="bin-3/substrate_temperature/high/medium")
LOW = rule(Priority.LOW, alarm_id="low")
HIGH = rule()
NIGHTLY = ("21:30", "06:00")


def kinds(farm: Farm, name: str) -> list[MessageKind]:
    return [one.kind for one in farm.outbox.all() if one.recipient == name]


def test_the_first_order_is_told_and_only_it() -> None:
    farm = Farm(circle(person("cleo", 2), person("anna", 1), person("ben", 1)))
    farm.raise_alarm(HIGH, NIGHT)
    assert [one.recipient for one in farm.outbox.all()] == ["anna", "ben"]
    assert all(one.alarm_id == HIGH.alarm_id and one.priority is Priority.HIGH for one in farm.outbox.all())


def test_priorities_filter_and_the_next_order_steps_in() -> None:
    farm = Farm(circle(person("anna", 1, priorities=[Priority.HIGH]), person("ben", 2)))
    farm.raise_alarm(MEDIUM, NIGHT)
    farm.raise_alarm(LOW, NIGHT)
    assert [(one.recipient, one.priority) for one in farm.outbox.all()] == [("ben", Priority.MEDIUM)]


def test_a_high_alarm_that_nobody_wants_goes_to_the_first_order() -> None:
    farm = Farm(circle(person("anna", 1, priorities=[Priority.LOW]), person("ben", 2, priorities=[])))
    farm.raise_alarm(HIGH, NIGHT)
    assert [one.recipient for one in farm.outbox.all()] == ["anna"]


def test_quiet_hours_hold_a_medium_alarm_but_never_a_high_one() -> None:
    farm = Farm(circle(person("anna", quiet=NIGHTLY)))
    farm.raise_alarm(MEDIUM, NIGHT)
    farm.raise_alarm(HIGH, NIGHT)
    held, urgent = farm.outbox.all()
    assert held.not_before_ms == at("2026-11-25 06:00")
    assert urgent.not_before_ms == 0


def test_the_next_person_is_told_after_the_set_time_and_once() -> None:
    farm = Farm(circle(person("anna", 1), person("ben", 2), person("cleo", 3)))
    farm.raise_alarm(HIGH, NIGHT)
    farm.tick(NIGHT + 15 * MINUTE - 1)
    assert kinds(farm, "ben") == []
    for minute in range(15, 31):
        farm.tick(NIGHT + minute * MINUTE)
    assert kinds(farm, "ben") == kinds(farm, "cleo") == [MessageKind.ESCALATION]
    told = next(one for one in farm.outbox.all() if one.recipient == "ben")
    assert told.created_ms == NIGHT + 15 * MINUTE
    assert told.body.startswith("anna could not be reached since 02:10.")


def test_an_escalation_tells_when_the_first_person_got_it() -> None:
    farm = Farm(circle(person("anna", 1), person("ben", 2)))
    farm.raise_alarm(HIGH, NIGHT)
    farm.outbox.mark_sent(-1, NIGHT + 3000)
    farm.tick(NIGHT + 15 * MINUTE)
    assert "anna was told at 02:10 and has not answered." in farm.outbox.all()[-1].body


@pytest.mark.parametrize("answer", ["acknowledge", "clear"])
def test_an_answered_alarm_goes_no_further(answer: str) -> None:
    farm = Farm(circle(person("anna", 1), person("ben", 2)))
    farm.raise_alarm(HIGH, NIGHT)
    getattr(farm, answer)(HIGH, NIGHT + 5 * MINUTE)
    for minute in range(6, 200, 10):
        farm.tick(NIGHT + minute * MINUTE)
    assert kinds(farm, "ben") == []
    assert MessageKind.REMINDER not in kinds(farm, "anna")


def test_a_held_alarm_escalates_only_after_quiet_hours() -> None:
    farm = Farm(circle(person("anna", 1, quiet=NIGHTLY), person("ben", 2)))
    farm.raise_alarm(MEDIUM, NIGHT)
    farm.tick(at("2026-11-25 06:14"))
    assert kinds(farm, "ben") == []
    farm.tick(at("2026-11-25 06:15"))
    assert kinds(farm, "ben") == [MessageKind.ESCALATION]


def test_high_alarms_remind_again_and_again_and_others_once() -> None:
    farm = Farm(circle(person("anna")))
    farm.raise_alarm(HIGH, NIGHT)
    farm.raise_alarm(MEDIUM, NIGHT)
    for minute in range(1, 200):
        for waiting in farm.outbox.waiting():
            farm.outbox.mark_sent(waiting.message_id or 0, NIGHT + (minute - 1) * MINUTE)
        farm.tick(NIGHT + minute * MINUTE)
    reminders = [one for one in farm.outbox.all() if one.kind is MessageKind.REMINDER]
    assert [one.alarm_id for one in reminders].count(HIGH.alarm_id) == 3
    assert [one.alarm_id for one in reminders].count(MEDIUM.alarm_id) == 1


def test_no_reminder_while_the_first_message_still_waits() -> None:
    farm = Farm(circle(person("anna")))
    farm.raise_alarm(HIGH, NIGHT)
    for hour in range(1, 24):
        farm.tick(NIGHT + hour * HOUR)
    assert kinds(farm, "anna") == [MessageKind.ALARM]


def test_those_who_were_told_hear_that_it_is_over_and_nobody_else() -> None:
    farm = Farm(circle(person("anna", 1), person("ben", 2)))
    farm.raise_alarm(HIGH, NIGHT)
    farm.clear(HIGH, NIGHT + 5 * MINUTE)
    assert kinds(farm, "anna") == [MessageKind.ALARM, MessageKind.RETURNED]
    assert kinds(farm, "ben") == []


def test_each_occurrence_stands_for_itself() -> None:
    farm = Farm(circle(person("anna", 1), person("ben", 2)))
    farm.raise_alarm(HIGH, NIGHT)
    farm.tick(NIGHT + 15 * MINUTE)
    farm.clear(HIGH, NIGHT + 20 * MINUTE)
    farm.raise_alarm(HIGH, NIGHT + 30 * MINUTE)
    farm.tick(NIGHT + 31 * MINUTE)
    assert kinds(farm, "ben") == [MessageKind.ESCALATION, MessageKind.RETURNED]
    farm.tick(NIGHT + 45 * MINUTE)
    assert kinds(farm, "ben")[-1] is MessageKind.ESCALATION


def test_an_alarm_that_ended_beneath_a_shelf_begins_anew_when_it_comes_again() -> None:
    farm = Farm(circle(person("anna", 1), person("ben", 2)))
    farm.raise_alarm(HIGH, NIGHT)
    farm.tick(NIGHT + 15 * MINUTE)
    farm.raise_alarm(HIGH, NIGHT + HOUR)
    farm.tick(NIGHT + HOUR + 14 * MINUTE)
    assert kinds(farm, "ben") == [MessageKind.ESCALATION]
    farm.tick(NIGHT + HOUR + 15 * MINUTE)
    assert kinds(farm, "ben") == [MessageKind.ESCALATION, MessageKind.ESCALATION]


def test_an_alarm_that_stands_again_without_a_message_is_told_at_the_next_tick() -> None:
    farm = Farm(circle(person("anna")))
    farm.raise_alarm(HIGH, NIGHT)
    farm.clear(HIGH, NIGHT + MINUTE)
    farm.views[HIGH.alarm_id] = view(NIGHT + HOUR)
    farm.tick(NIGHT + HOUR)
    assert kinds(farm, "anna") == [MessageKind.ALARM, MessageKind.RETURNED, MessageKind.ALARM]


def test_a_restart_changes_nothing() -> None:
    one, two = (Farm(circle(person("anna", 1), person("ben", 2), person("cleo", 3))) for _ in range(2))
    for farm in (one, two):
        farm.raise_alarm(HIGH, NIGHT)
    for minute in range(1, 120):
        one.tick(NIGHT + minute * MINUTE)
        reborn = Farm(two.policy)
        reborn.outbox.add([replace(old, message_id=None) for old in two.outbox.all()])
        reborn.views = two.views
        two = reborn
        two.tick(NIGHT + minute * MINUTE)
    assert one.outbox.all() == two.outbox.all()


def test_silence_waits_three_minutes_for_a_common_cause() -> None:
    silent = rule(Priority.MEDIUM, quantity=Computed.SILENT_MINUTES, setpoint=15.0, alarm_id="silent")
    farm = Farm(circle(person("anna")))
    farm.raise_alarm(silent, NIGHT, value=16.0)
    assert farm.outbox.all()[0].not_before_ms == NIGHT + policy.SILENCE_HOLD_MS


def test_an_alarm_hidden_by_a_common_cause_is_told_once_that_is_over() -> None:
    silent = rule(Priority.MEDIUM, quantity=Computed.SILENT_MINUTES, setpoint=15.0, alarm_id="silent")
    farm = Farm(circle(person("anna")))
    farm.raise_alarm(silent, NIGHT, value=16.0)
    farm.outbox.supersede(-1, policy.COMMON_CAUSE, NIGHT + 3 * MINUTE)
    farm.views["silent"] = replace(farm.views["silent"], common_cause=True)
    farm.tick(NIGHT + HOUR)
    assert len(farm.outbox.all()) == 1
    farm.views["silent"] = replace(farm.views["silent"], common_cause=False)
    farm.tick(NIGHT + 2 * HOUR)
    farm.tick(NIGHT + 2 * HOUR + MINUTE)
    assert kinds(farm, "anna") == [MessageKind.ALARM, MessageKind.ALARM]


def test_unshelving_an_alarm_that_still_stands_announces_it_again() -> None:
    seen = view(NIGHT)
    unshelved = change(seen, AlarmEvent.UNSHELVE, AlarmStatus.SHELVED, AlarmStatus.UNACKNOWLEDGED, NIGHT)
    messages = policy.on_transition(unshelved, policy.AlarmMessages(seen, circle(person("anna")), NIGHT), ())
    assert [one.kind for one in messages] == [MessageKind.ALARM]


def test_a_change_beneath_a_shelf_tells_nobody() -> None:
    seen = with_state(view(NIGHT), status=AlarmStatus.SHELVED)
    for event in (AlarmEvent.ACTIVATE, AlarmEvent.CLEAR):
        beneath = change(seen, event, AlarmStatus.SHELVED, AlarmStatus.SHELVED, NIGHT)
        assert (
            policy.on_transition(beneath, policy.AlarmMessages(seen, circle(person("anna")), NIGHT), ()) == ()
        )


def test_links_are_made_for_each_person() -> None:
    farm = circle(person("anna"), person("ben"))
    seen = view(NIGHT)
    raised = change(seen, AlarmEvent.ACTIVATE, AlarmStatus.NORMAL, AlarmStatus.UNACKNOWLEDGED, NIGHT)
    messages = policy.on_transition(
        raised, policy.AlarmMessages(seen, farm, NIGHT, lambda who, _: f"https://f.invalid/{who}"), ()
    )
    assert [one.body.rsplit("/", 1)[1] for one in messages] == ["anna", "ben"]


def test_night_report_and_trial_messages() -> None:
    people = circle(person("anna"), person("ben").model_copy(update={"night_report": False}))
    night = policy.night_report_messages(
        people, "Saltbush Yard", date(2026, 11, 25), lambda _: "All well.", NIGHT
    )
    assert [one.recipient for one in night] == ["anna"]
    assert [one.recipient for one in policy.trial_messages(people, "Saltbush Yard", NIGHT)] == ["anna", "ben"]
    only = policy.trial_messages(people, "Saltbush Yard", NIGHT, only="ben")
    assert [(one.recipient, one.kind) for one in only] == [("ben", MessageKind.TEST)]


def test_people_and_habits_come_from_the_settings() -> None:
    site = Site(id="yard", title="Yard", time_zone="Africa/Gaborone", language="fr")
    settings = Settings(
        site=site,
        recipients=(person("anna"), person("ben", language="en")),
        messages=MessageSettings(escalate_after_minutes=7),
    )
    made = policy.RecipientPolicy.of(settings)
    assert (made.escalate_after_ms, made.remind_after_ms) == (7 * MINUTE, 60 * MINUTE)
    assert [made.words(one, NIGHT).language for one in made.recipients] == ["fr", "en"]


def test_each_person_reads_messages_in_their_own_language() -> None:
    farm = Farm(circle(person("anna"), person("ben", language="fr")))
    farm.raise_alarm(rule(), NIGHT)
    farm.outbox.mark_sent(-2, NIGHT)
    farm.tick(NIGHT + 2 * HOUR)
    farm.clear(rule(), NIGHT + 3 * HOUR)
    titles = {
        name: [row.title for row in farm.outbox.all() if row.recipient == name] for name in ("anna", "ben")
    }
    assert titles["anna"][0] == "HIGH Bin 3 substrate 42.6 °C, limit 42 °C, too high"
    assert titles["ben"] == [
        "HAUTE Bin 3 substrat 42,6 °C, limite 42 °C, trop haut",
        "TOUJOURS HAUTE Bin 3 substrat 42,6 °C, limite 42 °C, trop haut",
        "RETOUR À LA NORMALE Bin 3 substrat 40,5 °C, limite 42 °C",
    ]
    bodies = [row.body for row in farm.outbox.all() if row.recipient == "ben"]
    assert "Rappel : personne ne l’a encore vue." in bodies[1]
    assert all("\u00a0" not in body for body in bodies)
    trial = policy.trial_messages(farm.policy, "Yard", NIGHT, only="ben")[0]
    assert trial.title == "ESSAI de Yard : les messages vous parviennent"
    reports = policy.night_report_messages(
        farm.policy, "Yard", date(2026, 11, 25), lambda words: words.language, NIGHT
    )
    assert [report.body for report in reports] == ["en", "fr"]


PEOPLE = st.lists(
    st.builds(
        lambda order, wants, quiet: (order, wants, quiet),
        st.integers(1, 3),
        st.sets(st.sampled_from(list(Priority))),
        st.sampled_from([None, NIGHTLY]),
    ),
    min_size=1,
    max_size=4,
)


@settings(max_examples=60, deadline=None)
@given(people=PEOPLE, moves=st.lists(st.integers(1, 300), max_size=5), minute=st.integers(0, 1439))
def test_a_high_alarm_always_yields_a_message_that_may_go_out_at_once(
    people: list[tuple[int, set[Priority], tuple[str, str] | None]], moves: list[int], minute: int
) -> None:
    ring = circle(
        *(
            person(f"p{number}", order, sorted(wants), quiet)
            for number, (order, wants, quiet) in enumerate(people)
        )
    )
    farm, now_ms = Farm(ring), NIGHT + minute * MINUTE
    farm.raise_alarm(HIGH, now_ms)
    for step in moves:
        now_ms += step * MINUTE
        farm.tick(now_ms)
    waiting: list[OutboxMessage] = farm.outbox.waiting()
    assert waiting
    assert all(one.not_before_ms <= one.created_ms for one in waiting)


@pytest.mark.parametrize(("value", "told"), [(42.3, 1), (41.5, 1), (41.0, 0), (39.0, 0)])
def test_nobody_is_told_anew_of_a_value_that_is_back(value: float, told: int) -> None:
    farm = Farm(circle(person("anna"), person("ben", order=2)))
    farm.raise_alarm(rule(), NIGHT)
    farm.views[rule().alarm_id] = with_state(farm.views[rule().alarm_id], last_value=value)
    farm.tick(NIGHT + 20 * MINUTE)
    assert len([row for row in farm.outbox.all() if row.kind is MessageKind.ESCALATION]) == told


def test_a_value_that_was_back_when_its_board_fell_silent_is_told_on() -> None:
    farm = Farm(circle(person("anna"), person("ben", order=2)))
    farm.raise_alarm(rule(), NIGHT)
    farm.views[rule().alarm_id] = with_state(farm.views[rule().alarm_id], last_value=39.0, stale=True)
    farm.tick(NIGHT + 20 * MINUTE)
    assert [row.kind for row in farm.outbox.all()] == [MessageKind.ALARM, MessageKind.ESCALATION]


def test_a_value_that_was_back_when_its_probe_failed_is_told_on() -> None:
    farm = Farm(circle(person("anna"), person("ben", order=2)))
    farm.raise_alarm(rule(), NIGHT)
    farm.views[rule().alarm_id] = replace(
        with_state(farm.views[rule().alarm_id], last_value=39.0), fresh_s=600.0
    )
    farm.tick(NIGHT + 20 * MINUTE)
    assert [row.kind for row in farm.outbox.all()] == [MessageKind.ALARM, MessageKind.ESCALATION]
