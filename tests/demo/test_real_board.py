"""The demo with one board that runs the real board program, and without MicroPython as before."""

from __future__ import annotations

import io
import json
from pathlib import Path

import pytest
from rich.console import Console

from monitor.demo import real_board
from monitor.demo.farm import SimulatedFarm
from monitor.demo.real_board import NODE, RealBoard
from monitor.demo.runner import DemoPlan, play
from monitor.records import MS_PER_MINUTE, SensorKey
from monitor.settings.schema import BrokerSettings
from monitor.store import Store

AIR = SensorKey(NODE, "", "air_temperature")


def _played(folder: Path) -> tuple[Store, str]:
    screen = io.StringIO()
    play(DemoPlan(folder, days=0.125, past=False), Console(file=screen, width=200))
    return Store.open(folder / "rearing.sqlite"), screen.getvalue()


def _simulated(plan: DemoPlan) -> dict[int, float]:
    """The same minutes as the simulated board sends them, by the minute in which they were measured."""
    farm = SimulatedFarm(plan.seed, plan.start_ms)
    seen = {}
    for message in farm.step(plan.until_ms):
        if message.topic.endswith(f"{NODE}/readings"):
            values = {each["n"]: each["v"] for each in json.loads(message.payload)}
            minute = -(-message.at_ms // MS_PER_MINUTE)
            seen[minute] = values["air_temperature"]
    return seen


@pytest.mark.micropython
@pytest.mark.slow
def test_the_real_program_sends_what_the_simulated_board_would_in_the_time_of_the_farm(
    tmp_path: Path, micropython: str
) -> None:
    assert micropython
    store, screen = _played(tmp_path)
    with store:
        (node,) = [each for each in store.nodes.every() if each.node == NODE]
        rows = store.readings.series(AIR, 0, 2**50)
        read = dict(zip(rows.at_ms.tolist(), rows.value.tolist(), strict=True))
    assert (node.missing, node.duplicates, node.rejected, node.clock_fault) == (0, 0, 0, None)
    assert node.boot is not None and node.boot > 1000, "the board's own counter, not the simulated one"
    assert "start power" in (tmp_path / "board" / "log.txt").read_text()
    expected = _simulated(DemoPlan(tmp_path, days=0.125))
    assert len(read) == len(expected) == 180
    for at_ms, value in read.items():
        minute = round(at_ms / MS_PER_MINUTE)
        assert abs(at_ms - minute * MS_PER_MINUTE) <= 1000
        assert value == pytest.approx(expected[minute], abs=0.011)
    assert "Traceback" not in screen
    assert (tmp_path / "board" / "errors.txt").read_text() == ""


def test_without_micropython_the_demo_is_as_before(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(real_board, "interpreter", lambda: None)
    store, _ = _played(tmp_path)
    with store:
        (node,) = [each for each in store.nodes.every() if each.node == NODE]
    assert node.boot is not None and node.boot < 1000
    assert (node.messages, node.missing) == (180, 0)
    assert not (tmp_path / "board").exists()


def test_a_board_that_does_not_come_up_leaves_its_place_to_the_simulated_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(real_board, "interpreter", lambda: "/bin/false")
    board = RealBoard(tmp_path / "board")
    board.start(BrokerSettings(), "saltbush-yard", 0)
    assert not board.plays
    board.follow(lambda: None)
    board.stop()


@pytest.mark.micropython
def test_a_board_that_ends_leaves_its_place_to_the_simulated_one(tmp_path: Path, micropython: str) -> None:
    assert micropython
    board = RealBoard(tmp_path / "board")
    board.start(BrokerSettings(port=1), "saltbush-yard", 1_790_000_000_000)
    assert board.plays
    board.follow(lambda: None)
    assert board._process is not None
    board._process.kill()
    board._process.wait()
    board.step(1_790_000_060_000, {"air_temperature": 25.0}, True)
    board.follow(lambda: None)
    assert not board.plays
