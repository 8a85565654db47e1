"""A small farm for tests of the service: settings, readings, and a service without threads' waiting."""

from __future__ import annotations

import json
import time
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from monitor.climate.calibration import CalibrationTable
from monitor.records import AlarmState, IncomingMessage, NodeMessage, Reading, SensorKey, TimeSource
from monitor.service.site_state import SiteState
from monitor.settings.plan import build_plan
from monitor.settings.schema import Settings

T0 = 1_790_000_000_000
MINUTE = 60_000
NODES = tuple(f"node-{number}" for number in range(1, 6))


STRICT: tuple[dict[str, object], ...] = tuple(
    {
        "place_kind": "grow_out_bin",
        "quantity": "substrate_temperature",
        "side": "high",
        "priority": priority,
        "setpoint": setpoint,
    }
    for priority, setpoint in (("high", 42.0), ("medium", 38.0))
)
"""This farm is stricter about heat than the defaults."""


def farm(folder: Path, port: int = 1883, **tables: Any) -> Settings:
    """Five boards in five bins, one person with a folder as an inbox."""
    places = [{"id": f"bin-{n}", "kind": "grow_out_bin", "title": f"Bin {n}"} for n in range(1, 6)]
    nodes = [{"id": node, "place": f"bin-{node[-1]}", "interval_s": 60.0} for node in NODES]
    data: dict[str, object] = {
        "site": {"id": "yard", "title": "Yard", "time_zone": "Africa/Gaborone"},
        "store": {"path": str(folder / "yard.sqlite")},
        "broker": {"port": port},
        "places": places,
        "nodes": nodes,
        "rules": STRICT,
        "recipients": [{"id": "keeper", "address": f"folder://{folder / 'inbox'}", "most_per_hour": 100}],
    }
    return Settings.model_validate({**data, **tables})


def wide_farm(folder: Path, port: int, boards: int, interval_s: float) -> Settings:
    """So many bins with a board each; a first reading too hot is an alarm at once."""
    return Settings.model_validate(
        {
            "site": {"id": "yard", "title": "Yard", "time_zone": "UTC"},
            "store": {"path": str(folder / "yard.sqlite")},
            "broker": {"port": port},
            "places": [{"id": f"bin-{n}", "kind": "grow_out_bin"} for n in range(boards)],
            "nodes": [{"id": f"n{n}", "place": f"bin-{n}", "interval_s": interval_s} for n in range(boards)],
            "recipients": [
                {"id": "keeper", "address": f"folder://{folder / 'inbox'}", "most_per_hour": 1000}
            ],
            "rules": [
                {
                    "place_kind": "grow_out_bin",
                    "quantity": "substrate_temperature",
                    "side": "high",
                    "priority": "high",
                    "on_delay_minutes": 0,
                }
            ],
        }
    )


def message(
    node: str, at_ms: int, temperature_c: float, sequence: int | None = None, probe: str = ""
) -> NodeMessage:
    """One substrate temperature of one board."""
    sensor = SensorKey(node, probe, "substrate_temperature")
    return NodeMessage(node, at_ms, (Reading(sensor, at_ms, temperature_c),), TimeSource.NODE, 1, sequence)


def raw_message(node: str, at_ms: int, temperature_c: float, sequence: int) -> IncomingMessage:
    """The same as an MQTT message."""
    return IncomingMessage(f"rearing/yard/{node}/readings", pack(at_ms, temperature_c, sequence), at_ms)


def pack(at_ms: int, temperature_c: float, sequence: int) -> bytes:
    """A SenML pack with boot and sequence."""
    records = [
        {"bt": at_ms / 1000, "n": "substrate_temperature", "u": "Cel", "v": temperature_c},
        {"n": "boot", "u": "count", "v": 1},
        {"n": "sequence", "u": "count", "v": sequence},
    ]
    return json.dumps(records).encode()


def watch_of(settings: Settings, states: Iterable[AlarmState] = ()) -> SiteState:
    """The live picture of a farm that has just started."""
    return SiteState(build_plan(settings), {state.alarm_id: state for state in states}, CalibrationTable())


def wait_until(condition: object, seconds: float = 20.0) -> bool:
    """Poll a condition; True when it came."""
    assert callable(condition)
    deadline = time.monotonic() + seconds
    while time.monotonic() < deadline:
        if condition():
            return True
        time.sleep(0.02)
    return bool(condition())
