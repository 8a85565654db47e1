"""A small farm on disk for the tests of the command line: settings, a database with readings and alarms."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from monitor.records import (
    AlarmState,
    AlarmStatus,
    Batch,
    Calibration,
    Flag,
    FlaggedMessage,
    FlaggedReading,
    NodeMessage,
    Reading,
    SensorKey,
    TimeSource,
    Transition,
)
from monitor.settings.loading import load
from monitor.settings.plan import Plan, build_plan
from monitor.store import Store

SETTINGS = """\
[site]
id = "sand-hill"
title = "Sand Hill"
time_zone = "Africa/Gaborone"

[broker]
embedded = {embedded}
host = "127.0.0.1"
listen = "127.0.0.1"
port = {port}

[[places]]
id = "room-1"
kind = "room"
title = "Tin room"

[[places]]
id = "bin-1"
kind = "grow_out_bin"
room = "room-1"

[[places]]
id = "bin-2"
kind = "grow_out_bin"
empty = true

[[nodes]]
id = "node-01"
place = "room-1"
measures = ["air_temperature", "air_humidity"]
battery_low_v = 3.4

[[nodes]]
id = "node-02"
place = "bin-1"
measures = ["substrate_temperature"]

[[rules]]
place = "bin-1"
quantity = "substrate_temperature"
side = "high"
priority = "high"
setpoint = 42.0
on_delay_minutes = 0

[[rules]]
place = "bin-1"
quantity = "substrate_temperature"
side = "high"
priority = "medium"
setpoint = 38.0

[[recipients]]
id = "owner"
address_env = "OWNER_ADDRESS"
{more}
"""
AIR = SensorKey("node-01", "", "air_temperature")
HUMIDITY = SensorKey("node-01", "", "air_humidity")
BATTERY = SensorKey("node-01", "", "battery")
BIN = SensorKey("node-02", "", "substrate_temperature")
STRANGER = SensorKey("node-09", "core", "substrate_temperature")
HOT = "bin-1/substrate_temperature/high/high"
WARM = "bin-1/substrate_temperature/high/medium"
EARLY = "bin-1/minutes_to_overheating/low/high"
MINUTE_MS = 60_000


def now_ms() -> int:
    """The real time: the commands read the machine's clock."""
    return time.time_ns() // 1_000_000


@dataclass(frozen=True)
class Farm:
    """A farm's folder with its settings file and database."""

    folder: Path

    @property
    def config(self) -> Path:
        """The settings file."""
        return self.folder / "farm.toml"

    @property
    def database(self) -> Path:
        """The database."""
        return self.folder / "rearing.sqlite"

    @property
    def inbox(self) -> Path:
        """Where messages to the owner lie."""
        return self.folder / "inbox"

    @property
    def environ(self) -> Mapping[str, str]:
        """The secrets."""
        return {"OWNER_ADDRESS": f"folder://{self.inbox}"}

    def plan(self) -> Plan:
        """What the settings mean."""
        return build_plan(load(self.config, self.environ))

    def store(self) -> Store:
        """The database, made if need be."""
        return Store.open(self.database)

    def lives(self, at_ms: int | None = None) -> int:
        """Let the database say that the service runs; gives the number of its life."""
        with self.store() as store:
            return store.runs.start(now_ms() if at_ms is None else at_ms)


def make_farm(folder: Path, *, port: int = 1, embedded: bool = False, more: str = "") -> Farm:
    """Write the settings file."""
    farm = Farm(folder)
    text = SETTINGS.format(port=port, embedded=str(embedded).lower(), more=more)
    farm.config.write_text(text, encoding="utf-8")
    farm.config.chmod(0o600)
    return farm


def reading(sensor: SensorKey, at_ms: int, value: float, flag: Flag = Flag.PASS) -> FlaggedReading:
    """A reading with its flag."""
    return FlaggedReading(Reading(sensor, at_ms, value), flag, value)


def message(*readings: FlaggedReading, sequence: int | None = None) -> FlaggedMessage:
    """A message of the node of its first reading, received as it was measured."""
    first = readings[0].reading
    raw = tuple(item.reading for item in readings)
    boot = None if sequence is None else 1
    heard = NodeMessage(first.sensor.node, raw[-1].at_ms, raw, TimeSource.NODE, boot, sequence)
    return FlaggedMessage(heard, readings)


def put(farm: Farm, *readings: FlaggedReading) -> None:
    """Store readings, one message for each."""
    with farm.store() as store:
        store.commit(Batch(now_ms(), tuple(message(item) for item in readings)))


def put_states(farm: Farm, *states: AlarmState) -> None:
    """Store alarm states."""
    with farm.store() as store:
        store.commit(Batch(now_ms(), alarm_states=states))


def put_transitions(farm: Farm, *rows: Transition) -> None:
    """Store rows of the journal."""
    with farm.store() as store:
        store.commit(Batch(now_ms(), transitions=rows))


def calibrated(farm: Farm, *calibrations: Calibration) -> None:
    """Store calibrations."""
    with farm.store() as store:
        for one in calibrations:
            store.calibrations.add(one)


def standing(alarm_id: str = HOT, at_ms: int | None = None, acknowledged: bool = False) -> AlarmState:
    """An alarm that stands since ten minutes ago."""
    status = AlarmStatus.ACKNOWLEDGED if acknowledged else AlarmStatus.UNACKNOWLEDGED
    since_ms = (now_ms() if at_ms is None else at_ms) - 10 * MINUTE_MS
    return AlarmState(alarm_id, status, True, acknowledged, since_ms, last_value=42.5)


@contextmanager
def answering(farm: Farm, outcome: str = "done") -> Iterator[list[str]]:
    """Stands in for the service: every command gets the outcome; gives what was asked, as kind and alarm."""
    asked: list[str] = []
    stopping = threading.Event()

    def answer() -> None:
        with farm.store() as store:
            while not stopping.wait(0.01):
                for command in store.commands.pending():
                    asked.append(f"{command.kind} {command.alarm_id or command.reason}".strip())
                    store.commit(Batch(now_ms(), done_commands=((command.command_id or 0, outcome),)))

    thread = threading.Thread(target=answer)
    thread.start()
    try:
        yield asked
    finally:
        stopping.set()
        thread.join(5)
