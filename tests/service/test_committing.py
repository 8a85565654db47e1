"""While the database refuses: nothing is acknowledged, nothing is forgotten, people are told."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

import pytest
from service_farm import MINUTE, T0, farm, raw_message

from monitor.errors import StoreFull
from monitor.records import Batch, Command, CommandKind, CommitResult, IncomingMessage
from monitor.service import Service

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
    facts = turned.service.store.nodes.without_name()
    assert facts is not None
    assert "ZeroDivisionError" in facts.last_reject_reason
    node = turned.service.store.nodes.one("node-1")
    assert node is not None
    assert node.messages == 2
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
    nobody = turned.service.store.nodes.without_name()
    assert node is not None and nobody is not None
    assert node.messages == 2
    assert "could not store it (OverflowError)" in nobody.last_reject_reason
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
    assert "could not do it (ZeroDivisionError)" in (commands.outcome(number) or "")
    turned.service.stop()


def test_a_listener_that_breaks_does_not_end_the_watch(turned: Turned) -> None:
    def closed(_event: object) -> None:
        raise BrokenPipeError

    turned.service.processor.on_event = closed
    turned.hot_minutes(1, 15)
    assert turned.service.processor.site.state(HOT).active
    turned.service.stop()
