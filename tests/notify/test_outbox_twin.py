"""One suite over every place where messages wait: the twin in memory, the database, and the two joined."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from notify_builders import HOUR, MINUTE, Farm, RecordingChannel, at, circle, person, rule

from monitor.errors import StoreFull
from monitor.notify.outbox import IN_SUMMARY, MemoryOutbox, OutboxStore, SafeOutbox
from monitor.notify.outbox_worker import OutboxWorker
from monitor.records import MessageKind, OutboxMessage, Priority
from monitor.store import Store

NIGHT = at("2026-11-25 02:10")


def new_message(number: int, **more: object) -> OutboxMessage:
    return OutboxMessage(
        "anna",
        MessageKind.ALARM,
        f"title {number}",
        "body",
        NIGHT + number,
        Priority.HIGH,
        "bin-3",
        **more,  # type: ignore[arg-type]
    )


@pytest.fixture(params=["memory", "database", "joined"])
def outbox(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[OutboxStore]:
    if request.param == "memory":
        yield MemoryOutbox()
        return
    store = Store.open(tmp_path / "rearing.sqlite")
    stored = store.outbox
    yield stored if request.param == "database" else SafeOutbox(stored)
    store.close()


def number_of(message: OutboxMessage) -> int:
    assert message.message_id is not None
    return message.message_id


def test_messages_wait_in_their_order_with_all_they_hold(outbox: OutboxStore) -> None:
    outbox.add([new_message(1, not_before_ms=NIGHT + HOUR), new_message(2)])
    outbox.add([new_message(3)])
    waiting = outbox.waiting()
    assert [one.title for one in waiting] == ["title 1", "title 2", "title 3"]
    assert waiting[0].not_before_ms == NIGHT + HOUR
    assert (waiting[0].priority, waiting[0].kind, waiting[0].alarm_id) == (
        Priority.HIGH,
        MessageKind.ALARM,
        "bin-3",
    )
    assert len({one.message_id for one in waiting}) == 3


def test_each_fate_shows_in_the_rows_of_the_alarm(outbox: OutboxStore) -> None:
    outbox.add([new_message(number) for number in range(4)])
    sent, failed, dropped, folded = (number_of(one) for one in outbox.waiting())
    outbox.mark_sent(sent, NIGHT + MINUTE)
    outbox.mark_failed(failed, "the line is dead", NIGHT + HOUR)
    outbox.supersede(dropped, "no longer wanted", NIGHT + MINUTE)
    outbox.supersede(folded, IN_SUMMARY, NIGHT + MINUTE)
    rows = outbox.messages_for("bin-3")
    assert [row.sent_ms for row in rows] == [NIGHT + MINUTE, None, None, None]
    assert [row.superseded for row in rows] == ["", "", "no longer wanted", IN_SUMMARY]
    assert [row.attempts for row in rows] == [1, 1, 0, 0]
    assert (rows[1].last_error, rows[1].next_attempt_ms) == ("the line is dead", NIGHT + HOUR)
    assert [number_of(one) for one in outbox.waiting()] == [failed]


def test_sent_messages_are_counted_per_recipient_and_time(outbox: OutboxStore) -> None:
    outbox.add([new_message(1), new_message(2)])
    first, second = (number_of(one) for one in outbox.waiting())
    outbox.mark_sent(first, NIGHT)
    outbox.mark_sent(second, NIGHT + HOUR)
    assert [outbox.sent_since("anna", since) for since in (NIGHT, NIGHT + 1, NIGHT + HOUR + 1)] == [2, 1, 0]
    assert outbox.sent_since("ben", 0) == 0


def test_what_is_finished_stays_finished(outbox: OutboxStore) -> None:
    outbox.add([new_message(1)])
    number = number_of(outbox.waiting()[0])
    outbox.mark_sent(number, NIGHT)
    outbox.supersede(number, "too late", NIGHT)
    outbox.mark_failed(number, "too late", NIGHT)
    [row] = outbox.messages_for("bin-3")
    assert (row.sent_ms, row.superseded) == (NIGHT, "")


def test_an_outage_ends_the_same_way_everywhere(outbox: OutboxStore) -> None:
    anna, farm, now_ms = RecordingChannel(up=False), Farm(circle(person("anna", most_per_hour=2))), NIGHT
    farm.outbox = outbox  # type: ignore[assignment]
    worker = OutboxWorker(
        outbox, {"anna": anna}, farm.policy, farm.look, lambda: now_ms, launch=lambda job: job()
    )
    medium = [rule(Priority.MEDIUM, alarm_id=f"medium-{number}") for number in range(4)]
    for alarm in (rule(), *medium):
        farm.raise_alarm(alarm, now_ms)
    for _ in range(20):
        worker.step(now_ms)
        now_ms += 10 * MINUTE
    farm.clear(rule(), now_ms)
    farm.clear(medium[1], now_ms)
    anna.up = True
    for _ in range(150):
        now_ms += MINUTE
        worker.step(now_ms)
    assert anna.titles[0].startswith("BACK TO NORMAL Bin 3")
    assert anna.titles[1].startswith("4 messages in one.")
    assert anna.got[1][1].count("- MEDIUM Bin 3") == 3
    assert anna.got[1][1].count("- BACK TO NORMAL Bin 3") == 1
    assert list(outbox.waiting()) == []


def test_joined_messages_go_to_memory_only_while_the_database_refuses(tmp_path: Path) -> None:
    store = Store.open(tmp_path / "rearing.sqlite")
    stored = store.outbox
    safe = SafeOutbox(stored)

    def refuse(_: object) -> None:
        raise StoreFull("the disk has no room")

    safe.add([new_message(1)])
    stored.add = refuse  # type: ignore[method-assign, assignment]
    safe.add([new_message(2)])
    assert [one.title for one in safe.waiting()] == ["title 1", "title 2"]
    assert [one.title for one in safe.memory.waiting()] == ["title 2"]
    for one in safe.waiting():
        safe.mark_sent(number_of(one), NIGHT)
    assert safe.waiting() == []
    assert safe.sent_since("anna", NIGHT) == 2
    store.close()
