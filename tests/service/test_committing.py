"""While the database refuses: nothing is acknowledged, nothing is forgotten, people are told."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

import pytest
from service_farm import MINUTE, T0, farm, raw_message

from monitor.errors import StoreFull
from monitor.records import (
    COMMAND_DONE,
    AlarmEvent,
    Batch,
    Command,
    CommandKind,
    CommitResult,
    Excursion,
    IncomingMessage,
    MessageKind,
)
from monitor.service import Service
from monitor.service.batches import PendingBatch
from monitor.service.site_state import AlarmChanges
from monitor.store.kept_sentences import refusal_of

HOT = "bin-1/substrate_temperature/high/high"


class Turned:
    """A service whose turns are made by hand; no thread runs and no broker is there."""

    def __init__(self, folder: Path) -> None:
        self.now_ms = T0
        self.service = Service(farm(folder), clock=lambda: self.now_ms, inline=True)
        self.service.prepare()
        self.acknowledged: list[IncomingMessage] = []
        self.reconnects = 0
        self.live: list[bool] = []
        self.service.processor.committer.source = self

    def acknowledge(self, messages: Sequence[IncomingMessage]) -> None:
        """As the connection to the broker has it."""
        self.acknowledged.extend(messages)

    def reconnect(self) -> None:
        """As the connection to the broker has it."""
        self.reconnects += 1

    def listen_live(self, wanted: bool) -> None:
        """As the connection to the broker has it."""
        self.live.append(wanted)

    def hot_minutes(self, first: int, count: int) -> list[IncomingMessage]:
        """Readings of 43 °C, each in a turn of its own."""
        sent = []
        for sequence in range(first, first + count):
            self.now_ms += MINUTE
            sent.append(raw_message("node-1", self.now_ms, 43.0, sequence))
            self.service.processor.process(sent[-1:], self.now_ms)
        return sent


@pytest.fixture
def turned(tmp_path: Path) -> Turned:
    """The service, ready."""
    return Turned(tmp_path)


def refuse(monkeypatch: pytest.MonkeyPatch, turned: Turned) -> Callable[[], None]:
    """Make the store refuse with a full disk until the returned function is called."""
    commit = turned.service.store.commit

    def full(_batch: Batch) -> CommitResult:
        raise StoreFull("the disk is full")

    monkeypatch.setattr(turned.service.store, "commit", full)
    return lambda: monkeypatch.setattr(turned.service.store, "commit", commit)


def test_an_alarm_during_a_full_disk_is_told_and_kept_for_later(
    turned: Turned, monkeypatch: pytest.MonkeyPatch
) -> None:
    mend = refuse(monkeypatch, turned)
    turned.hot_minutes(1, 15)
    assert turned.acknowledged == []
    assert (turned.live, turned.reconnects) == ([True], 0)
    told = {waiting.alarm_id for waiting in turned.service.outbox.waiting()}
    assert HOT in told
    assert "site/store_fault/high/high" in told
    assert turned.service.store.journal.states() == {}
    mend()
    later = turned.hot_minutes(16, 1)
    assert turned.acknowledged == later
    assert (turned.live, turned.reconnects) == ([True, False], 1)
    assert HOT in {row.alarm_id for row in turned.service.store.journal.transitions(0, turned.now_ms + 1)}
    assert turned.service.store.journal.states()[HOT].active
    turned.service.stop()


def test_readings_are_acknowledged_only_after_they_were_stored(turned: Turned) -> None:
    sent = turned.hot_minutes(1, 3)
    assert turned.acknowledged == sent
    sensor = turned.service.store.readings.sensors()[0]
    assert len(turned.service.store.readings.series(sensor, T0, turned.now_ms + 1)) == 3
    turned.service.stop()


def test_a_message_that_breaks_the_program_is_refused_alone(
    turned: Turned, monkeypatch: pytest.MonkeyPatch
) -> None:
    flag = turned.service.processor.site._flag

    def broken(reading: object) -> object:
        if getattr(reading, "value", 0) == 13.0:
            raise ZeroDivisionError
        return flag(reading)  # type: ignore[arg-type]

    monkeypatch.setattr(turned.service.processor.site, "_flag", broken)
    turned.now_ms += MINUTE
    batch = [raw_message("node-1", turned.now_ms - n, v, n) for n, v in ((1, 30.0), (2, 13.0), (3, 31.0))]
    turned.service.processor.process(batch, turned.now_ms)
    assert turned.acknowledged == batch
    node = turned.service.store.nodes.one("node-1")
    assert node is not None
    assert "ZeroDivisionError" in node.last_reject_reason
    assert (node.messages, node.rejected) == (2, 1)
    assert turned.service.store.nodes.done("node-1", 1, 1, 9) == 3, "the board need not send it again"
    turned.service.stop()


def test_alarm_states_and_delays_survive_a_kill(turned: Turned, tmp_path: Path) -> None:
    turned.hot_minutes(1, 1)
    state_before = turned.service.processor.site.state(HOT)
    turned.service.store.close()
    again = Turned(tmp_path)
    again.now_ms = turned.now_ms
    state = again.service.processor.site.state(HOT)
    assert state.since_ms == state_before.since_ms
    assert state.progress_s == state_before.progress_s
    again.hot_minutes(2, 10)
    assert again.service.processor.site.state(HOT).active
    again.service.stop()


def test_a_message_that_the_database_cannot_take_keeps_no_other_from_being_stored(
    turned: Turned, monkeypatch: pytest.MonkeyPatch
) -> None:
    commit = turned.service.store.commit

    def choosy(batch: Batch) -> CommitResult:
        if any(one.message.sequence == 2 for one in batch.messages):
            raise OverflowError("too large for the database")
        return commit(batch)

    monkeypatch.setattr(turned.service.store, "commit", choosy)
    turned.now_ms += MINUTE
    batch = [raw_message("node-1", turned.now_ms - n, 30.0, n) for n in (3, 2, 1)]
    turned.service.processor.process(batch, turned.now_ms)
    assert turned.acknowledged == batch
    node = turned.service.store.nodes.one("node-1")
    assert node is not None
    assert (node.messages, node.rejected) == (2, 1)
    assert "could not store it (OverflowError)" in node.last_reject_reason
    turned.service.stop()


def test_an_alarm_moved_by_a_message_before_a_broken_one_is_not_lost(
    turned: Turned, monkeypatch: pytest.MonkeyPatch
) -> None:
    turned.hot_minutes(1, 1)
    flag = turned.service.processor.site._flag

    def broken(reading: object) -> object:
        if getattr(reading, "value", 0) == 13.0:
            raise ZeroDivisionError
        return flag(reading)  # type: ignore[arg-type]

    monkeypatch.setattr(turned.service.processor.site, "_flag", broken)
    turned.now_ms += 9 * MINUTE
    hot = [raw_message("node-1", turned.now_ms - n * MINUTE, 43.0, 12 - n) for n in range(8, -1, -1)]
    turned.service.processor.process([*hot, raw_message("node-2", turned.now_ms, 13.0, 1)], turned.now_ms)
    told = {row.alarm_id for row in turned.service.store.journal.transitions(0, turned.now_ms + 1)}
    assert HOT in told
    assert HOT in {waiting.alarm_id for waiting in turned.service.outbox.waiting()}
    turned.service.stop()


def test_a_request_that_breaks_the_program_is_refused_and_not_tried_for_ever(
    turned: Turned, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr(turned.service.processor.site, "request", broken)
    commands = turned.service.store.commands
    number = commands.add(Command(CommandKind.ACKNOWLEDGE, turned.now_ms, "owner", HOT))
    turned.hot_minutes(1, 1)
    said = refusal_of(commands.outcome(number) or "")
    assert said is not None
    assert said.text == "the monitor itself could not do it (ZeroDivisionError)"
    turned.service.stop()


def test_a_listener_that_breaks_does_not_end_the_watch(turned: Turned) -> None:
    def closed(_event: object) -> None:
        raise BrokenPipeError

    turned.service.processor.on_event = closed
    turned.hot_minutes(1, 15)
    assert turned.service.processor.site.state(HOT).active
    turned.service.stop()


def minutes(turned: Turned, count: int) -> None:
    """Time passes without readings, in turns that look at requests."""
    for _ in range(count * 12):
        turned.now_ms += 5000
        turned.service.processor.process([], turned.now_ms)


def test_a_test_message_asked_for_while_the_disk_is_full_goes_out_once(
    turned: Turned, monkeypatch: pytest.MonkeyPatch
) -> None:
    mend = refuse(monkeypatch, turned)
    commands = turned.service.store.commands
    number = commands.add(Command(CommandKind.SEND_TEST, turned.now_ms, "owner"))
    minutes(turned, 5)
    tests = [one for one in turned.service.outbox.memory.all() if one.kind is MessageKind.TEST]
    assert len(tests) == 1
    assert commands.outcome(number) is None
    mend()
    minutes(turned, 1)
    assert commands.outcome(number) == COMMAND_DONE
    assert commands.pending() == ()
    turned.service.stop()


def test_an_acknowledgement_carried_out_while_the_disk_is_full_is_answered_as_done(
    turned: Turned, monkeypatch: pytest.MonkeyPatch
) -> None:
    turned.hot_minutes(1, 12)
    mend = refuse(monkeypatch, turned)
    number = turned.service.store.commands.add(Command(CommandKind.ACKNOWLEDGE, turned.now_ms, "owner", HOT))
    minutes(turned, 5)
    assert turned.service.processor.site.state(HOT).acknowledged
    assert turned.service.processor.desk.outcome(number) == COMMAND_DONE
    mend()
    minutes(turned, 1)
    assert turned.service.store.commands.outcome(number) == COMMAND_DONE
    assert turned.service.processor.desk.outcome(number) is None, "it is on disk now"
    rows = turned.service.store.journal.transitions(0, 2**62, HOT)
    assert [row.event for row in rows].count(AlarmEvent.ACKNOWLEDGE) == 1
    turned.service.stop()


def test_what_the_page_asks_for_while_nothing_can_be_written_is_carried_out_once(
    turned: Turned, monkeypatch: pytest.MonkeyPatch
) -> None:
    turned.hot_minutes(1, 12)
    mend = refuse(monkeypatch, turned)
    desk = turned.service.processor.desk
    number = desk.ask(Command(CommandKind.ACKNOWLEDGE, turned.now_ms, "owner", HOT))
    assert number < 0
    assert desk.outcome(number) is None
    minutes(turned, 2)
    assert desk.outcome(number) == COMMAND_DONE
    mend()
    minutes(turned, 1)
    rows = turned.service.store.journal.transitions(0, 2**62, HOT)
    assert [row.event for row in rows].count(AlarmEvent.ACKNOWLEDGE) == 1
    assert desk.outcome(number) == COMMAND_DONE
    turned.service.stop()


def test_a_batch_that_is_written_in_part_leaves_no_row_of_the_journal_twice(
    turned: Turned, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The database cannot take a message for what it is, and then its disk is full."""
    commit = turned.service.store.commit

    def choosy(batch: Batch) -> CommitResult:
        if len(batch.messages) == 1 and not batch.transitions:
            raise StoreFull("the disk is full")
        if batch.messages:
            raise OverflowError("too large for the database")
        return commit(batch)

    turned.hot_minutes(1, 1)
    monkeypatch.setattr(turned.service.store, "commit", choosy)
    turned.hot_minutes(2, 6)
    monkeypatch.setattr(turned.service.store, "commit", commit)
    turned.hot_minutes(8, 3)
    rows = turned.service.store.journal.transitions(0, 2**62, HOT)
    assert [row.event for row in rows] == [AlarmEvent.ACTIVATE]
    kinds = [one.kind for one in turned.service.outbox.waiting() if one.alarm_id == HOT]
    assert kinds == [MessageKind.ALARM]
    turned.service.stop()


def test_a_row_of_the_journal_that_comes_again_is_one_row(turned: Turned) -> None:
    """A commit can fail after all was written: what is carried to the next one is the same row."""
    turned.hot_minutes(1, 12)
    store = turned.service.store
    rows = store.journal.transitions(0, 2**62)
    assert rows
    store.commit(Batch(turned.now_ms, transitions=rows))
    assert store.journal.transitions(0, 2**62) == rows
    turned.service.stop()


def test_an_excursion_found_late_while_the_disk_is_full_is_kept_for_later(
    turned: Turned, monkeypatch: pytest.MonkeyPatch
) -> None:
    found = Excursion(HOT, T0 - 9 * MINUTE, T0 - 2 * MINUTE, 44.0)
    mend = refuse(monkeypatch, turned)
    turned.service.processor.finish(PendingBatch(turned.now_ms, AlarmChanges(found_late=[found])))
    mend()
    minutes(turned, 1)
    assert turned.service.store.journal.found_late(0, 2**62) == (found,)
    turned.service.stop()
