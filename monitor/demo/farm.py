"""The boards of the invented farm, and the farm as a source of MQTT messages, deterministic by seed."""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from random import Random
from typing import Protocol

from monitor.demo.physics import FarmPhysics
from monitor.demo.script import (
    BOARDS,
    SITE_ID,
    TOPIC_ROOT,
    UNKNOWN_BOARD,
    Board,
    IncidentKind,
    News,
    Script,
    Sensor,
)
from monitor.records import QUANTITIES, Quantity

# A message holds 200 records at most; two of them are boot and sequence.
READINGS_PER_MESSAGE = 160
FULL_BATTERY_V = 4.1
# One and a half keep-alives of a minute, after which a broker publishes the last will.
LAST_WILL_AFTER_MS = 90_000
INTERVAL_MS = 60_000

Truth = Callable[[str, str], float]


@dataclass(frozen=True, slots=True)
class SensorKind:
    """Accuracy of a cheap sensor of a quantity: noise, spread of offsets, resolution and limits."""

    noise: float
    offset_spread: float
    resolution: float
    lowest: float
    highest: float


KINDS: dict[str, SensorKind] = {
    Quantity.AIR_TEMPERATURE: SensorKind(0.04, 0.15, 0.01, -40.0, 125.0),
    Quantity.AIR_HUMIDITY: SensorKind(0.25, 1.0, 0.01, 0.0, 100.0),
    Quantity.SUBSTRATE_TEMPERATURE: SensorKind(0.03, 0.2, 0.0625, -55.0, 125.0),
    Quantity.SUBSTRATE_MOISTURE: SensorKind(0.004, 0.01, 0.001, 0.0, 1.0),
    Quantity.SURFACE_TEMPERATURE: SensorKind(0.03, 0.2, 0.0625, -55.0, 125.0),
    Quantity.LIGHT: SensorKind(4.0, 0.0, 1.0, 0.0, 65535.0),
    Quantity.BATTERY: SensorKind(0.003, 0.0, 0.001, 0.0, 6.0),
}


@dataclass(frozen=True, slots=True)
class Measurement:
    """The values of a board at one moment: (name, unit, value)."""

    at_ms: int
    values: tuple[tuple[str, str, float], ...]


@dataclass(frozen=True, slots=True)
class Faults:
    """The faults of a board's probe at the moment."""

    stuck: bool = False
    loose_cable: bool = False


class SimulatedNode:
    """One board with its own random numbers, offsets, battery, boot and sequence counters and backlog."""

    def __init__(self, seed: int, board: Board) -> None:
        self.board = board
        self._random = Random(f"{seed}/{board.id}")
        self._offsets = {
            sensor.name: self._random.gauss(0.0, KINDS[sensor.quantity].offset_spread)
            for sensor in board.sensors
        }
        self._boot = self._random.randrange(3, 40)
        self._sequence = self._random.randrange(100, 5000)
        self._awake_h = 0.0
        self._battery_v = board.battery_start_v
        self._stuck_at: dict[str, float] = {}
        self._backlog: list[Measurement] = []
        self.sends_after_ms = self._random.randrange(0, 50_000)

    def measure(self, at_ms: int, interval_s: float, truth: Truth, faults: Faults) -> Measurement:
        """The true values as this board's sensors read them."""
        self._awake_h += interval_s / 3600.0
        values = tuple(
            (sensor.name, QUANTITIES[sensor.quantity].unit, self._read(sensor, truth, faults))
            for sensor in self.board.sensors
        )
        return Measurement(at_ms, values)

    def keep(self, measurement: Measurement) -> None:
        """Store the readings while there is no connection, if the board has memory; else they are lost."""
        if self.board.keeps_backlog:
            self._backlog.append(measurement)

    def restart(self, fresh_battery: bool = False) -> None:
        """Restart the board: next boot, sequence from zero, backlog lost."""
        self._boot += 1
        self._sequence = 0
        self._backlog.clear()
        if fresh_battery:
            self._awake_h = 0.0
            self._battery_v = FULL_BATTERY_V

    def messages(self, measurement: Measurement) -> list[bytes]:
        """The backlog, oldest first, then this measurement; most often one message."""
        waiting = [*self._backlog, measurement]
        self._backlog.clear()
        per_message = max(1, READINGS_PER_MESSAGE // len(self.board.sensors))
        parts = (waiting[start : start + per_message] for start in range(0, len(waiting), per_message))
        return [self._pack(part, measurement.at_ms) for part in parts]

    def _pack(self, part: Iterable[Measurement], now_ms: int) -> bytes:
        self._sequence += 1
        first: dict[str, object] = {"n": "boot", "u": "count", "v": self._boot}
        if self.board.clock:
            first["bt"] = now_ms / 1000
        records = [first, {"n": "sequence", "u": "count", "v": self._sequence}]
        for measurement in part:
            records.extend(_records(measurement, now_ms))
        return json.dumps(records, separators=(",", ":")).encode()

    def _read(self, sensor: Sensor, truth: Truth, faults: Faults) -> float:
        value = self._sense(sensor, self._true(sensor, truth))
        if sensor.quantity is not Quantity.SUBSTRATE_TEMPERATURE:
            return value
        if faults.loose_cable:
            return self._random.choices((-127.0, 85.0, value), (4, 1, 5))[0]
        if faults.stuck:
            return self._stuck_at.setdefault(sensor.name, value)
        self._stuck_at.pop(sensor.name, None)
        return value

    def _true(self, sensor: Sensor, truth: Truth) -> float:
        if sensor.quantity is Quantity.BATTERY:
            return self._battery_v - self.board.battery_fall_v_h * self._awake_h
        return truth(sensor.place, sensor.quantity)

    def _sense(self, sensor: Sensor, true_value: float) -> float:
        kind = KINDS[sensor.quantity]
        seen = true_value + self._offsets[sensor.name] + self._random.gauss(0.0, kind.noise)
        steps = math.floor(seen / kind.resolution + 0.5)
        return round(min(kind.highest, max(kind.lowest, steps * kind.resolution)), 4)


def _records(measurement: Measurement, now_ms: int) -> Iterable[dict[str, object]]:
    before_s = (measurement.at_ms - now_ms) / 1000
    for name, unit, value in measurement.values:
        record: dict[str, object] = {"n": name, "u": unit, "v": value}
        if before_s:
            record["t"] = before_s
        yield record


@dataclass(frozen=True, slots=True)
class Publication:
    """One message as a board, or the broker for it, publishes it."""

    topic: str
    payload: bytes
    retain: bool
    at_ms: int
    node: str


@dataclass(slots=True)
class _Link:
    """What the broker knows of a board's connection."""

    online: bool = False
    lost_ms: int | None = None


class PlayedBoard(Protocol):
    """A board that publishes by itself: it is told the time and what its sensors see."""

    node: str

    @property
    def plays(self) -> bool:
        """Whether it is there; else the simulated board of that name is."""

    def step(self, now_ms: int, values: Mapping[str, float], reachable: bool) -> None:
        """Time has passed."""


class SimulatedFarm:
    """Saltbush Yard: rooms, bins and boards, simulated up to the time of the last `step`."""

    def __init__(
        self, seed: int, start_ms: int, script: Script | None = None, played: PlayedBoard | None = None
    ) -> None:
        self.now_ms = start_ms
        self._played = played
        self._script = script or Script(start_ms)
        self.physics = FarmPhysics(seed, start_ms, self._script)
        self._nodes = [SimulatedNode(seed, board) for board in (*BOARDS, UNKNOWN_BOARD)]
        self._links = {node.board.id: _Link() for node in self._nodes}

    def step(self, now_ms: int) -> list[Publication]:
        """Simulate up to this time; returns what was published, in the order of time."""
        published: list[Publication] = []
        while self.now_ms + INTERVAL_MS <= now_ms:
            self.now_ms += INTERVAL_MS
            self.physics.step(self.now_ms)
            for node in self._nodes:
                published.extend(self._node(node))
        return sorted(published, key=lambda publication: publication.at_ms)

    def news(self, from_ms: int, until_ms: int) -> tuple[News, ...]:
        return self._script.news(from_ms, until_ms)

    def _node(self, node: SimulatedNode) -> Iterator[Publication]:
        at_ms = self.now_ms - node.sends_after_ms
        name = node.board.id
        if name == UNKNOWN_BOARD.id and not self._script.active(IncidentKind.UNKNOWN_BOARD, name, at_ms):
            return
        if self._script.active(IncidentKind.DEAD, name, at_ms):
            yield from self._silent(name, at_ms)
            return
        measurement = node.measure(at_ms, INTERVAL_MS / 1000, self.physics.value, self._faults(name, at_ms))
        if self._played is not None and self._played.plays and self._played.node == name:
            seen = {quantity: value for quantity, _, value in measurement.values}
            self._played.step(self.now_ms, seen, not self._is_unreachable(name, self.now_ms))
            return
        if self._is_unreachable(name, at_ms):
            node.keep(measurement)
            yield from self._silent(name, at_ms)
            return
        yield from self._connect(node, at_ms)
        for payload in node.messages(measurement):
            yield Publication(f"{_topic(name)}/readings", payload, False, at_ms, name)

    def _silent(self, name: str, at_ms: int) -> Iterator[Publication]:
        link = self._links[name]
        if link.lost_ms is None:
            link.lost_ms = at_ms
        if link.online and at_ms - link.lost_ms >= LAST_WILL_AFTER_MS:
            link.online = False
            yield _status(name, "offline", at_ms)

    def _connect(self, node: SimulatedNode, at_ms: int) -> Iterator[Publication]:
        link = self._links[node.board.id]
        if link.lost_ms is not None:
            self._reconnect(node, link.lost_ms, at_ms)
            link.lost_ms = None
        if not link.online:
            link.online = True
            yield _status(node.board.id, "online", at_ms)

    def _reconnect(self, node: SimulatedNode, lost_ms: int, at_ms: int) -> None:
        if self._script.ended(IncidentKind.DEAD, node.board.id, lost_ms, at_ms):
            node.restart(fresh_battery=True)
        elif not node.board.keeps_backlog:
            node.restart()

    def _is_unreachable(self, name: str, at_ms: int) -> bool:
        away = self._script.active(IncidentKind.OUT_OF_RANGE, name, at_ms)
        return away or self._script.active(IncidentKind.POWER_CUT, "farm", at_ms)

    def _faults(self, name: str, at_ms: int) -> Faults:
        return Faults(
            stuck=self._script.active(IncidentKind.STUCK, name, at_ms),
            loose_cable=self._script.active(IncidentKind.LOOSE_CABLE, name, at_ms),
        )


def _topic(node: str) -> str:
    return f"{TOPIC_ROOT}/{SITE_ID}/{node}"


def _status(node: str, word: str, at_ms: int) -> Publication:
    return Publication(f"{_topic(node)}/status", word.encode(), True, at_ms, node)
