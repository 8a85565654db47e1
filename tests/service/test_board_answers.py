"""A board that asks learns the time and what is stored: after the commit, never before."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from threading import Event
from typing import Any

import paho.mqtt.client as mqtt
import pytest
from paho.mqtt.enums import CallbackAPIVersion
from service_farm import MINUTE, T0, farm, pack, raw_message, wait_until

from monitor.errors import StoreFull
from monitor.records import Batch, CommitResult, IncomingMessage
from monitor.service import Service
from monitor.service.ingest import ClockWatch


class Turned:
    """A service whose turns are made by hand, and what it published."""

    def __init__(self, folder: Path) -> None:
        self.now_ms = T0
        self.service = Service(farm(folder), clock=lambda: self.now_ms, inline=True)
        self.service.prepare()
        self.said: list[tuple[str, dict[str, int]]] = []
        self.processor = self.service.processor
        self.processor.answers = replace(self.processor.answers, publish=self._publish)

    def _publish(self, topic: str, payload: bytes, retain: bool = False, qos: int = 1) -> None:
        assert not retain and qos == 0, "a time that is kept is a lie a second later"
        # What is answered is on disk already: another connection sees it.
        self.said.append((topic, json.loads(payload)))

    def turn(self, *messages: IncomingMessage) -> list[tuple[str, dict[str, int]]]:
        """Process one batch; gives the answers."""
        self.said.clear()
        self.processor.process(messages, self.now_ms)
        return list(self.said)

    def ask(self, node: str = "node-1", number: int = 1, ago_ms: int = 0, **more: int) -> IncomingMessage:
        body = json.dumps({"id": number, **more}).encode()
        return IncomingMessage(f"rearing/yard/{node}/ask", body, self.now_ms - ago_ms)


@pytest.fixture
def turned(tmp_path: Path) -> Iterator[Turned]:
    made = Turned(tmp_path)
    yield made
    made.service.store.close()


def test_the_answer_knows_what_came_in_the_same_batch(turned: Turned) -> None:
    packs = [raw_message("node-1", T0 - (9 - n) * MINUTE, 28.0, n) for n in (3, 4, 6)]
    (said,) = turned.turn(*packs, turned.ask(number=17, boot=1, first=3, last=6))
    assert said == ("rearing/yard/node-1/time", {"id": 17, "unix_ms": T0, "boot": 1, "done": 4})


def test_the_time_is_that_of_the_middle_between_question_and_answer(turned: Turned) -> None:
    (said,) = turned.turn(turned.ask(ago_ms=400))
    assert said[1] == {"id": 1, "unix_ms": T0 - 200}


@pytest.mark.parametrize("ago_ms", [60_001, -1])
def test_a_question_that_waited_long_or_comes_from_before_a_jump_is_not_answered(
    turned: Turned, ago_ms: int
) -> None:
    assert turned.turn(turned.ask(ago_ms=ago_ms)) == []
    assert len(turned.turn(turned.ask(ago_ms=60_000))) == 1


def test_an_unknown_board_is_answered_and_leaves_nothing_behind(turned: Turned) -> None:
    (said,) = turned.turn(turned.ask("stranger", 3, boot=1, first=0, last=4))
    assert said == ("rearing/yard/stranger/time", {"id": 3, "unix_ms": T0, "boot": 1, "done": -1})
    assert turned.service.store.nodes.every() == ()


def test_of_many_questions_of_a_board_the_last_is_answered(turned: Turned) -> None:
    said = turned.turn(*(turned.ask("node-1", number) for number in range(400)), turned.ask("node-2", 7))
    assert [(topic.split("/")[2], body["id"]) for topic, body in said] == [("node-1", 399), ("node-2", 7)]


def test_while_the_database_refuses_nobody_is_answered(
    turned: Turned, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(_: Batch) -> CommitResult:
        raise StoreFull("no room")

    reading = raw_message("node-1", T0, 28.0, 1)
    with monkeypatch.context() as patched:
        patched.setattr(turned.service.store, "commit", full)
        assert turned.turn(reading, turned.ask(boot=1, first=1, last=1)) == []
        turned.now_ms += 500
        assert turned.turn(turned.ask(boot=1, first=1, last=1)) == []
    turned.now_ms += 3000
    (said,) = turned.turn(reading, turned.ask(boot=1, first=1, last=1))
    assert said[1]["done"] == 1


def test_a_database_that_fails_to_answer_ends_nothing(turned: Turned) -> None:
    class Failing:
        def done(self, *_: object) -> int:
            raise StoreFull("the disk does not read")

    answers = turned.processor.answers
    turned.processor.answers = replace(answers, known=Failing())
    assert turned.turn(turned.ask(boot=1, first=1, last=1)) == []
    turned.processor.answers = answers
    assert len(turned.turn(turned.ask(boot=1, first=1, last=1))) == 1


def test_a_refused_pack_is_dealt_with_and_so_is_one_that_cannot_be_stored(
    turned: Turned, monkeypatch: pytest.MonkeyPatch
) -> None:
    bad = json.loads(pack(T0, 28.0, 2))
    bad[0]["u"] = "degF"
    refused = IncomingMessage("rearing/yard/node-1/readings", json.dumps(bad).encode(), T0)
    store, whole = turned.service.store, turned.service.store.commit

    def breaks(batch: Batch) -> CommitResult:
        if any(flagged.message.sequence == 3 for flagged in batch.messages):
            raise RuntimeError("this one cannot be stored")
        return whole(batch)

    monkeypatch.setattr(store, "commit", breaks)
    packs = (raw_message("node-1", T0 - MINUTE, 28.0, n) for n in (1, 3, 4))
    (said,) = turned.turn(*packs, refused, turned.ask(boot=1, first=1, last=9))
    assert said[1]["done"] == 4


def test_a_pack_that_breaks_the_program_is_dealt_with(
    turned: Turned, monkeypatch: pytest.MonkeyPatch
) -> None:
    def breaks(*_: object) -> None:
        raise RuntimeError("a bug")

    monkeypatch.setattr(turned.processor.site, "take", breaks)
    (said,) = turned.turn(raw_message("node-1", T0, 28.0, 1), turned.ask(boot=1, first=1, last=9))
    assert said[1]["done"] == 1


def test_hostile_questions_are_counted(turned: Turned) -> None:
    bad = IncomingMessage("rearing/yard/node-1/ask", b'{"id":"x"}', T0)
    assert turned.turn(bad) == []
    facts = turned.service.store.nodes.one("node-1")
    assert facts is not None and facts.rejected == 1
    assert "id must be a whole number" in facts.last_reject_reason


def test_a_clock_that_nobody_set_is_told_to_no_board_but_what_is_stored_is(turned: Turned) -> None:
    turned.processor.answers = replace(turned.processor.answers, clock_is_trusted=lambda _: False)
    (said,) = turned.turn(raw_message("node-1", T0, 28.0, 1), turned.ask(boot=1, first=1, last=1))
    assert said[1] == {"id": 1, "boot": 1, "done": 1}


class Clocks:
    """A wall clock that may be set, and a steady one."""

    def __init__(self, wall_ms: int) -> None:
        self.wall_ms, self.steady_s = wall_ms, 0.0

    def pass_s(self, seconds: float, jump_ms: int = 0) -> None:
        self.steady_s += seconds
        self.wall_ms += round(seconds * 1000) + jump_ms


def watch_of(clocks: Clocks, monkeypatch: pytest.MonkeyPatch) -> ClockWatch:
    def sleep(_self: Event, timeout: float | None = None) -> bool:
        clocks.pass_s(timeout or 0.0)
        return False

    monkeypatch.setattr(Event, "wait", sleep)
    return ClockWatch(lambda: clocks.wall_ms, lambda: clocks.steady_s)


def test_a_clock_that_was_waited_for_in_vain_is_not_trusted_until_somebody_sets_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    clocks = Clocks(T0)
    watch = watch_of(clocks, monkeypatch)
    said: list[str] = []
    assert watch.wait(T0 + 5 * 3_600_000, Event(), said.append)
    assert len(said) == 2 and not watch.is_trusted(clocks.wall_ms)
    clocks.pass_s(6 * 3600.0)
    assert watch.jump_ms(clocks.wall_ms) == 0
    assert not watch.is_trusted(clocks.wall_ms), (
        "it has passed the last sign of life, and is still hours late"
    )
    clocks.pass_s(10, 5 * 3_600_000)
    assert watch.jump_ms(clocks.wall_ms) > 0
    assert watch.is_trusted(clocks.wall_ms)


def test_a_clock_that_is_set_or_from_before_this_program(monkeypatch: pytest.MonkeyPatch) -> None:
    clocks = Clocks(T0)
    watch = watch_of(clocks, monkeypatch)
    assert not watch.wait(T0 - MINUTE, Event(), lambda _: None)
    assert watch.is_trusted(clocks.wall_ms)
    assert not watch.is_trusted(1_600_000_000_000)


class Board:
    """A board at a real broker that asks and hears."""

    def __init__(self, port: int, name: str) -> None:
        self.name, self.heard = name, []  # type: tuple[str, list[dict[str, Any]]]
        self.client = mqtt.Client(CallbackAPIVersion.VERSION2, name, protocol=mqtt.MQTTv311)
        self.client.on_message = self._on_message
        self.client.connect("127.0.0.1", port)
        self.client.subscribe([(f"rearing/yard/{name}/{kind}", 1) for kind in ("time", "settings")])
        self.client.loop_start()

    def _on_message(self, _client: object, _data: object, message: mqtt.MQTTMessage) -> None:
        self.heard.append({**json.loads(message.payload), "retained": message.retain})

    def send(self, kind: str, payload: bytes, qos: int = 0) -> None:
        self.client.publish(f"rearing/yard/{self.name}/{kind}", payload, qos)

    def ask_until(self, done: int, **body: int) -> bool:
        """Ask as a board does, again and again, until so much is stored."""

        def asked() -> bool:
            self.send("ask", json.dumps({"id": len(self.heard), **body}).encode())
            return wait_until(lambda: any(said.get("done") == done for said in self.heard), 0.5)

        return wait_until(asked)

    def stop(self) -> None:
        self.client.disconnect()
        self.client.loop_stop()


def _talk(folder: Path, port: int) -> None:
    service = Service(farm(folder, port))
    service.start()
    service.subscriber.wait_connected(10)
    boards = [Board(port, name) for name in ("node-1", "stranger")]
    try:
        now_ms = service._clock()
        for sequence in range(5):
            boards[0].send("readings", pack(now_ms - 1000 * (5 - sequence), 28.0, sequence), 1)
        assert boards[0].ask_until(4, boot=1, first=0, last=4)
        assert boards[1].ask_until(-1, boot=1, first=0, last=4)
        for board in boards:
            assert all(abs(said["unix_ms"] - now_ms) < 60_000 for said in board.heard)
            assert not any(said["retained"] for said in board.heard)
        boards[0].send("report", b'{"version":"0.1.0","boot":1}', 1)
        assert wait_until(lambda: boards[0].heard[-1].get("interval_s") == 60)
        boards[0].stop()
        # Back after a sleep, it gets its settings, which the broker keeps, and no time that is old.
        boards[0] = Board(port, "node-1")
        assert wait_until(lambda: boards[0].heard)
        assert [(said.get("interval_s"), said["retained"]) for said in boards[0].heard] == [(60, True)]
    finally:
        for board in boards:
            board.stop()
        service.stop()


@pytest.mark.mosquitto
def test_boards_at_a_real_broker_are_answered(tmp_path: Path, mosquitto_broker: Any) -> None:
    _talk(tmp_path, mosquitto_broker.port)


def test_boards_at_the_broker_of_the_first_evening_are_answered(tmp_path: Path, embedded_broker: Any) -> None:
    _talk(tmp_path, embedded_broker.port)
