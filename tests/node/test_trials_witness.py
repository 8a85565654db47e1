"""The witness of the trials must not be blind: each fault that it is there for is put in by hand."""

from __future__ import annotations

import socket
import threading
import time
from collections.abc import Iterator

import pytest
from board_wire import Wire
from board_witness import Key, Measured, Stored, Verdict, compare

T0 = 1_790_000_000_000


def _rounds(count: int = 30) -> list[Measured]:
    """A round each second, each with a temperature of its own, all promised."""
    return [
        Measured((7, n), T0 + n * 1000, {"air_temperature": 20 + n * 0.05, "battery": 3.9}, promised=True)
        for n in range(count)
    ]


def _kept(rounds: list[Measured], off_ms: int = 300) -> Stored:
    readings = [(name, one.true_ms + off_ms, value) for one in rounds for name, value in one.values.items()]
    return Stored(tuple(one.key for one in rounds), tuple(readings))


def _judge(readings: list[tuple[str, int, float]], messages: list[Key] | None = None) -> Verdict:
    keys = [one.key for one in _rounds()] if messages is None else messages
    return compare(_rounds(), Stored(tuple(keys), tuple(readings)))


@pytest.fixture
def readings() -> list[tuple[str, int, float]]:
    """What a faultless monitor has stored."""
    return list(_kept(_rounds()).readings)


def test_a_faultless_store_is_passed_and_everything_was_looked_at(
    readings: list[tuple[str, int, float]],
) -> None:
    verdict = _judge(readings)
    assert verdict.problems == []
    assert (verdict.rounds, verdict.promised, verdict.stored, verdict.worst_ms) == (30, 30, 30, 300)


@pytest.mark.parametrize("index", [0, 1, 31, 59])
def test_a_reading_that_was_dropped_is_missed(readings: list[tuple[str, int, float]], index: int) -> None:
    del readings[index]
    assert any("is not stored at its time" in problem for problem in _judge(readings).problems)


@pytest.mark.parametrize("later_ms", [1, 1000, 1700])
@pytest.mark.parametrize("index", [0, 31])
def test_a_reading_that_was_stored_twice_is_found(
    readings: list[tuple[str, int, float]], index: int, later_ms: int
) -> None:
    name, at_ms, value = readings[index]
    readings.append((name, at_ms + later_ms, value))
    assert any("twice" in problem for problem in _judge(readings).problems)


@pytest.mark.parametrize("by_ms", [-87_000, -2500, 2500, 60_000])
def test_a_reading_with_another_time_is_found_twice_over(
    readings: list[tuple[str, int, float]], by_ms: int
) -> None:
    name, at_ms, value = readings[20]
    readings[20] = (name, at_ms + by_ms, value)
    problems = _judge(readings).problems
    assert any("belongs to no round" in problem for problem in problems)
    assert any("is not stored at its time" in problem for problem in problems)


def test_a_changed_value_is_found(readings: list[tuple[str, int, float]]) -> None:
    name, at_ms, value = readings[20]
    readings[20] = (name, at_ms, value + 3)
    assert len(_judge(readings).problems) == 2


def test_a_pack_that_is_missing_unknown_or_twice_is_found(readings: list[tuple[str, int, float]]) -> None:
    keys = [one.key for one in _rounds()]
    assert any("no pack of it" in each for each in _judge(readings, keys[1:]).problems)
    assert any("nobody measured it" in each for each in _judge(readings, [*keys, (8, 1)]).problems)
    assert any("is in the list" in each for each in _judge(readings, [*keys, keys[0]]).problems)


def test_what_was_neither_promised_nor_confirmed_may_be_missing() -> None:
    one, *others = _rounds()
    unpromised = Measured(one.key, one.true_ms, one.values)
    assert compare([unpromised, *others], _kept(others)).problems == []
    confirmed = Measured(one.key, one.true_ms, one.values, confirmed=True)
    assert compare([confirmed, *others], _kept(others)).problems
    assert compare([confirmed, *others], _kept(others), excused=[one.key]).problems == []


class Echo:
    """A server that gives back what it gets."""

    def __init__(self) -> None:
        self.listener = socket.create_server(("127.0.0.1", 0))
        self.port: int = self.listener.getsockname()[1]
        threading.Thread(target=self._accept, daemon=True).start()

    def _accept(self) -> None:
        while True:
            try:
                client, _ = self.listener.accept()
            except OSError:
                return
            threading.Thread(target=self._serve, args=(client,), daemon=True).start()

    def _serve(self, client: socket.socket) -> None:
        try:
            while data := client.recv(4096):
                client.sendall(data)
        except OSError:
            pass
        client.close()


@pytest.fixture
def wire() -> Iterator[Wire]:
    """A wire to an echo."""
    echo = Echo()
    wire = Wire(echo.port)
    yield wire
    wire.close()
    echo.listener.close()


def _client(wire: Wire) -> socket.socket:
    client = socket.create_connection(("127.0.0.1", wire.port), 5)
    client.settimeout(0.3)
    return client


def test_a_wire_carries_swallows_for_ever_and_carries_new_connections_again(wire: Wire) -> None:
    first = _client(wire)
    first.sendall(b"one")
    assert first.recv(10) == b"one"
    wire.swallow()
    first.sendall(b"two")
    with pytest.raises(TimeoutError):
        first.recv(10)
    second = _client(wire)
    second.sendall(b"three")
    with pytest.raises(TimeoutError):
        second.recv(10)
    wire.carry()
    with pytest.raises(TimeoutError):
        first.recv(10)
    third = _client(wire)
    third.sendall(b"four")
    assert third.recv(10) == b"four"
    for client in (first, second, third):
        client.close()


def test_a_wire_resets_delays_and_drops_acknowledgements_alone(wire: Wire) -> None:
    client = _client(wire)
    wire.drop_pubacks = 1
    # The echo plays the broker: one PUBACK is lost; PINGRESP and the second PUBACK come, in two pieces.
    client.sendall(b"\x40\x02\x00\x01\xd0\x00\x40")
    assert client.recv(10) == b"\xd0\x00"
    client.sendall(b"\x02\x00\x02")
    assert client.recv(10) == b"\x40\x02\x00\x02"
    assert (wire.dropped_pubacks, wire.drop_pubacks) == (1, 0)
    wire.delay_s = 0.1
    start_s = time.monotonic()
    client.sendall(b"\xd0\x00")
    assert client.recv(10) == b"\xd0\x00"
    assert time.monotonic() - start_s >= 0.2
    wire.reset()
    with pytest.raises(ConnectionError):
        client.recv(10)
    client.close()
