"""The fake board itself: what it plays, it must play as the data sheets say."""

import json
from pathlib import Path
from typing import Any

import pytest
from micropython_run import DEEP_SLEEP, POWER_CUT, PROBE, WATCHDOG, Node, run_script, write_world

pytestmark = [pytest.mark.micropython, pytest.mark.usefixtures("micropython")]

BEGIN = "import json, hardware\nb = hardware.Board()\n"
WORLD: dict[str, Any] = {
    "air_temperature_c": 27.4,
    "air_humidity_percent": 70.1,
    "probes": {PROBE: 31.2},
    "moisture_v": 1.9,
    "battery_v": 3.9,
    "chips": ["sht4x", "bme280", "ds3231"],
}


def played(folder: Path, code: str, **world: Any) -> Any:
    """What a script with a fake board `b` printed last, as JSON."""
    write_world(folder, WORLD | world)

    said = run_script(BEGIN + code, {"NODE_WORLD": str(folder), "NODE_TIME": "x60"})
    return json.loads(said.splitlines()[-1])


def test_deep_sleep_keeps_memory_and_clock_and_says_wake(tmp_path: Path) -> None:
    sleep = BEGIN + "b.set_memory(b'a\\nb')\nb.set_now_s(1790000000)\nb.deep_sleep(60000)"
    node = Node(tmp_path, WORLD, code=sleep).start()
    assert node.wait() == DEEP_SLEEP
    assert node.slept_ms() == 60000
    after = played(
        tmp_path, "print(json.dumps([b.reset_cause(), b.memory().decode(), b.now_s() >= 1790000000]))"
    )
    assert after == ["wake", "a\nb", True]
    assert played(tmp_path, "print(json.dumps([b.reset_cause(), b.memory().decode(), b.now_s()]))") == [
        "power",
        "",
        None,
    ]


def test_power_cut_at_a_block_operation_ends_the_process_and_leaves_half(tmp_path: Path) -> None:
    write = (
        "import hardware\nb = hardware.Board()\nopen(b.folder + 'a', 'w').write('x' * 3000)\nprint('done')"
    )
    assert Node(tmp_path / "whole", WORLD, code=write).start().wait() == 0
    node = Node(tmp_path / "cut", WORLD, code=write).start(cut=7)
    assert node.wait() == POWER_CUT


def test_hang_ends_by_the_watchdog(tmp_path: Path) -> None:
    hang = BEGIN + "b.watchdog(8)\nb.i2c().writeto(0x44, b'\\xfd')"
    node = Node(tmp_path, WORLD | {"faults": {"sht": "hang"}}, code=hang).start()
    assert node.wait() == WATCHDOG
    assert played(tmp_path, "print(json.dumps(b.reset_cause()))") == "watchdog"


def test_lockstep_moves_only_when_told(tmp_path: Path) -> None:
    code = BEGIN + "b.set_now_s(1790000000)\nb.sleep_ms(60000)\nb.waiting = b.now_s()\nb.sleep_ms(500)"
    with Node(
        tmp_path, WORLD, clock="lockstep", code=code, env={"NODE_NOW_MS": "1790000000000"}
    ).start() as node:
        assert node.step() == {"sleep_ms": 60000, "waiting": 0}
        node.go_on(1790000060000)
        assert node.step() == {"sleep_ms": 500, "waiting": 1790000060}
