"""Alarms, outbox, commands, runs, night reports, logbook and small facts."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from store_samples import START_MS, batch

from monitor.errors import StoreError, UsageError
from monitor.logbook.entry import WITHDRAWN
from monitor.records import (
    AlarmEvent,
    AlarmState,
    AlarmStatus,
    Command,
    CommandKind,
    LogbookEntry,
    MessageKind,
    OutboxMessage,
    Priority,
    ServiceRun,
    SubjectKind,
    Transition,
)
from monitor.store import Store
from monitor.store.logbook import LogbookMemory

ALARM = "bin-1/substrate_temperature/high/high"
STATE = AlarmState(
    ALARM,
    AlarmStatus.SHELVED,
    active=True,
    acknowledged=False,
    since_ms=START_MS,
    progress_s=12.5,
    last_at_ms=START_MS + 1,
    last_value=42.5,
    extreme_value=43.0,
    last_true_ms=START_MS + 1,
    shelved_until_ms=START_MS + 9,
    stale=True,
    over_since_ms=START_MS - 9,
    over_ms=START_MS - 5,
    over_extreme=44.0,
)
TRANSITION = Transition(
    ALARM,
    "bin-1",
    "substrate_temperature",
    Priority.HIGH,
    AlarmEvent.ACTIVATE,
    AlarmStatus.NORMAL,
    AlarmStatus.UNACKNOWLEDGED,
    START_MS,
    START_MS + 250,
    42.5,
    42.0,
    "monitor",
    "",
)
MESSAGE = OutboxMessage(
    "anna", MessageKind.ALARM, "bin-1 hot", "Open the lid.", START_MS, Priority.HIGH, ALARM
)


def test_alarm_states_survive_a_restart(tmp_path: Path) -> None:
    path = tmp_path / "rearing.sqlite"
    other = AlarmState("room/air_temperature/low/low")
    with Store.open(path) as store:
        store.commit(batch(alarm_states=(AlarmState(ALARM), other)))
        store.commit(batch(alarm_states=(STATE,)))
    with Store.open(path) as store:
        assert store.journal.states() == {ALARM: STATE, other.alarm_id: other}


def test_transitions_by_time_and_alarm(store: Store) -> None:
    later = replace(TRANSITION, at_ms=START_MS + 10, actor="anna", reason="seen")
    other = replace(TRANSITION, alarm_id="other", at_ms=START_MS + 5, value=None, setpoint=None)
    store.commit(batch(transitions=(TRANSITION, other, later)))
    assert store.journal.transitions(START_MS, START_MS + 10) == (TRANSITION, other)
    assert store.journal.transitions(0, 2 * START_MS, ALARM) == (TRANSITION, later)
    assert store.journal.last(2) == (later, other)
    assert store.journal.last(1, ALARM) == (later,)


def test_a_batch_is_all_or_nothing(store: Store) -> None:
    with store.database.write() as connection:
        connection.execute("CREATE TRIGGER no BEFORE INSERT ON outbox BEGIN SELECT RAISE(ABORT, 'no'); END")
    with pytest.raises(StoreError, match="refused"):
        store.commit(batch(alarm_states=(STATE,), transitions=(TRANSITION,), outbox=(MESSAGE,)))
    assert store.journal.states() == {}
    assert store.journal.last(10) == ()


def test_the_outbox_gives_what_waits_oldest_first(store: Store) -> None:
    low = replace(MESSAGE, priority=Priority.LOW, created_ms=START_MS - 5)
    quiet = replace(MESSAGE, not_before_ms=START_MS + 1000)
    store.commit(batch(outbox=(MESSAGE, quiet, low)))
    waiting = store.outbox.waiting()
    assert [replace(message, message_id=None) for message in waiting] == [low, MESSAGE, quiet]


def test_a_message_that_failed_waits_for_its_next_attempt(store: Store) -> None:
    (number,) = store.outbox.add([MESSAGE])
    store.outbox.mark_failed(number, "no route", START_MS + 60_000)
    (waiting,) = store.outbox.waiting()
    assert (waiting.attempts, waiting.last_error) == (1, "no route")
    assert waiting.next_attempt_ms == START_MS + 60_000
    store.outbox.mark_sent(number, START_MS + 60_000)
    (message,) = store.outbox.since(0)
    assert (message.sent_ms, message.superseded, message.attempts) == (START_MS + 60_000, "", 2)
    assert store.outbox.sent_since("anna", START_MS) == 1
    assert store.outbox.sent_since("anna", START_MS + 60_001) == 0
    assert store.outbox.waiting() == ()


def test_what_is_finished_stays_as_it_is(store: Store) -> None:
    (number,) = store.outbox.add([MESSAGE])
    store.outbox.supersede(number, "returned to normal", START_MS)
    store.outbox.mark_sent(number, START_MS + 1)
    store.outbox.mark_failed(number, "late", START_MS + 1)
    (message,) = store.outbox.messages_for(ALARM)
    assert (message.sent_ms, message.superseded, message.attempts) == (None, "returned to normal", 0)


def test_commands_wait_until_a_batch_says_what_came_of_them(store: Store) -> None:
    asked = Command(CommandKind.SHELVE, START_MS, "anna", ALARM, START_MS + 9, "cleaning")
    with Store.open(store.path, check=False) as person:
        number = person.commands.add(asked)
        second = person.commands.add(Command(CommandKind.SEND_TEST, START_MS, "ben"))
    first, _ = store.commands.pending()
    assert first == replace(asked, command_id=number)
    assert store.commands.outcome(number) is None
    store.commit(batch(done_commands=((number, "shelved until 06:00"), (second, "sent"))))
    assert store.commands.pending() == ()
    assert store.commands.outcome(number) == "shelved until 06:00"
    assert store.commands.outcome(999) is None


def test_downtime_lies_between_lives(store: Store) -> None:
    first = store.runs.start(100)
    store.runs.alive(first, 200)
    second = store.runs.start(300)
    store.runs.stop(second, 400)
    third = store.runs.start(405)
    store.runs.alive(third, 1000)
    assert store.runs.between(0, 2000) == (
        ServiceRun(100, 200, None),
        ServiceRun(300, 400, 400),
        ServiceRun(405, 1000, None),
    )
    assert store.runs.downtime(0, 1200, grace_ms=10) == ((0, 100), (200, 300), (1000, 1200))
    assert store.runs.downtime(350, 700) == ((400, 405),)
    assert store.runs.downtime(210, 290) == ((210, 290),)


def test_a_night_report_is_claimed_once(store: Store) -> None:
    report = replace(MESSAGE, kind=MessageKind.NIGHT_REPORT, alarm_id=None)
    with Store.open(store.path, check=False) as other:
        assert store.reports.claim("2026-03-29", START_MS, [report])
        assert not other.reports.claim("2026-03-29", START_MS, [report])
        assert other.reports.claimed("2026-03-29")
        assert not other.reports.claimed("2026-03-30")
    assert len(store.outbox.waiting()) == 1


def test_small_facts(store: Store) -> None:
    assert store.meta.get("site") is None
    store.meta.put("site", "a")
    store.meta.put("site", "b")
    assert store.meta.get("site") == "b"


ENTRY = LogbookEntry(
    SubjectKind.COHORT,
    "c-7",
    "laid",
    START_MS,
    START_MS + 5,
    "anna",
    {"eggs_g": 12.5, "note": "two clusters"},
)


def test_entries_come_back_as_written(store: Store) -> None:
    number = store.logbook.add(ENTRY)
    assert store.logbook.one(number) == replace(ENTRY, entry_id=number)
    assert store.logbook.one(99) is None


def test_a_correction_replaces_and_the_first_stays(store: Store) -> None:
    first = store.logbook.add(ENTRY)
    second = store.logbook.add(replace(ENTRY, body={"eggs_g": 13.0}, corrects=first))
    third = store.logbook.add(replace(ENTRY, body={"eggs_g": 14.0}, corrects=second))
    assert [entry.entry_id for entry in store.logbook.in_force()] == [third]
    assert [entry.entry_id for entry in store.logbook.every()] == [first, second, third]


def test_a_withdrawal_leaves_nothing_in_force(store: Store) -> None:
    first = store.logbook.add(ENTRY)
    other = store.logbook.add(replace(ENTRY, subject_kind=SubjectKind.BIN, subject="bin-1"))
    store.logbook.add(replace(ENTRY, kind=WITHDRAWN, corrects=first))
    assert store.logbook.in_force(SubjectKind.COHORT, "c-7") == ()
    assert [entry.entry_id for entry in store.logbook.in_force(SubjectKind.BIN)] == [other]
    assert len(store.logbook.every(SubjectKind.COHORT)) == 2


def test_wrong_corrections_are_refused_in_plain_words(store: Store) -> None:
    first = store.logbook.add(ENTRY)
    second = store.logbook.add(replace(ENTRY, corrects=first))
    with pytest.raises(UsageError, match=f"corrected already by entry {second}"):
        store.logbook.add(replace(ENTRY, corrects=first))
    with pytest.raises(UsageError, match="has no entry 99"):
        store.logbook.add(replace(ENTRY, corrects=99))
    with pytest.raises(UsageError, match="about the cohort c-7, not about the cohort c-8"):
        store.logbook.add(replace(ENTRY, subject="c-8", corrects=second))
    assert len(store.logbook.every()) == 2


@pytest.mark.parametrize("statement", ["DELETE FROM logbook", "UPDATE logbook SET body = '{}'"])
def test_no_statement_can_lose_an_entry(store: Store, statement: str) -> None:
    store.logbook.add(ENTRY)
    with pytest.raises(StoreError, match="never"), store.database.write() as connection:
        connection.execute(statement)
    assert len(store.logbook.every()) == 1


def test_what_was_read_of_the_logbook_is_what_stands_there_whoever_writes(tmp_path: Path) -> None:
    """Entries and corrections of another program, older ones too, and a file put in the place of this one."""
    memory, path = LogbookMemory(), tmp_path / "farm.sqlite"
    kinds = (SubjectKind.BIN, SubjectKind.COHORT, None)

    def checked(writer: Store, read_from: Path = path) -> None:
        with Store.read_only(read_from, memory) as reader:
            for kind in kinds:
                for subject in (None, "bin-1", "c-1"):
                    assert reader.logbook.every(kind, subject) == writer.logbook.every(kind, subject)
                    assert reader.logbook.in_force(kind, subject) == writer.logbook.in_force(kind, subject)

    with Store.open(path) as writer:
        checked(writer)
        first = writer.logbook.add(_about_bin("water", START_MS))
        checked(writer)
        writer.logbook.add_all([_about_bin("stir", START_MS - 1), _about_bin("water", START_MS + 5, "c-1")])
        checked(writer)
        writer.logbook.add(replace(_about_bin(WITHDRAWN, START_MS), corrects=first))
        checked(writer)
    with Store.open(tmp_path / "older.sqlite") as older:
        older.logbook.add(_about_bin("weigh", START_MS))
        checked(older, tmp_path / "older.sqlite")


def _about_bin(kind: str, at_ms: int, subject: str = "bin-1") -> LogbookEntry:
    about = SubjectKind.BIN if subject == "bin-1" else SubjectKind.COHORT
    return LogbookEntry(about, subject, kind, at_ms, at_ms, "keeper", {"kg": 1.0})
