"""Whatever a board does, or is done to it: a hot bin is told, or that nobody sees it is told."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from service_farm import MINUTE, T0, farm

from monitor.records import AlarmStatus, IncomingMessage
from monitor.service import Service

HOT = "bin-1/substrate_temperature/high/high"
SILENT, DEAD = (f"node-1/{quantity}/high/medium" for quantity in ("silent_minutes", "dead_sensor_minutes"))
DAY = 24 * 60


class Bin:
    """A service on a clock of the test, with the board of bin 1 and another that is always well."""

    def __init__(self, folder: Path, **of_node: Any) -> None:
        self.now_ms = T0
        nodes = [
            {"id": "node-1", "place": "bin-1", "measures": ["substrate_temperature"], **of_node},
            {"id": "node-2", "place": "bin-2"},
        ]
        self.settings = farm(folder, nodes=nodes)
        self.counted = 0
        self.start()

    def start(self) -> None:
        self.service = Service(self.settings, clock=lambda: self.now_ms, inline=True)
        self.service.prepare()
        self.service.settle(0)

    def restart(self) -> None:
        self.service.stop()
        self.start()

    def minutes(self, count: int, *records: dict[str, Any], step: int = 1, **more: Any) -> None:
        """Each minute the well board sends, and the board of bin 1 these records, if any."""
        for _ in range(0, count, step):
            self.now_ms += step * MINUTE
            self.counted += 1
            self.send("node-2", {"n": "substrate_temperature", "u": "Cel", "v": 28.0})
            if records:
                self.send("node-1", *records, **more)
            self.service.settle(self.service.processor.taken)

    def send(
        self, node: str, *records: dict[str, Any], boot: int = 1, sequence: int = -1, late_s: float = 0
    ) -> None:
        first, *others = records
        marks = ({"n": "boot", "v": boot}, {"n": "sequence", "v": self.counted if sequence < 0 else sequence})
        pack = [{"bt": self.now_ms / 1000 - late_s, **first}, *others, *marks]
        self.say(node, "readings", json.dumps(pack))

    def say(self, node: str, kind: str, payload: str) -> None:
        heard = IncomingMessage(f"rearing/yard/{node}/{kind}", payload.encode(), self.now_ms)
        self.service.processor.process([heard], self.now_ms)

    def active(self) -> set[str]:
        states = self.service.processor.site.states.values()
        return {state.alarm_id for state in states if state.active and state.status is not AlarmStatus.NORMAL}


def degrees(value: float, **more: Any) -> dict[str, Any]:
    return {"n": "substrate_temperature", "u": "Cel", "v": value, **more}


BATTERY = {"n": "battery", "u": "V", "v": 3.9}


@pytest.fixture
def bin_1(tmp_path: Path) -> Iterator[Bin]:
    made = Bin(tmp_path)
    yield made
    made.service.stop()


def test_heat_is_told(bin_1: Bin) -> None:
    bin_1.minutes(15, degrees(30.0))
    assert bin_1.active() == set()
    bin_1.minutes(15, degrees(50.0))
    assert HOT in bin_1.active()


def test_a_probe_that_is_dead_from_the_first_message_is_told(bin_1: Bin) -> None:
    bin_1.minutes(30, BATTERY)
    assert DEAD in bin_1.active()


def test_a_probe_that_died_while_the_monitor_was_off_is_told(bin_1: Bin) -> None:
    bin_1.minutes(10, degrees(30.0), BATTERY)
    bin_1.restart()
    bin_1.minutes(30, BATTERY)
    assert DEAD in bin_1.active()


def test_a_board_whose_report_says_that_all_is_well_is_silent_without_readings(bin_1: Bin) -> None:
    bin_1.minutes(10, degrees(30.0))
    for _ in range(30):
        bin_1.minutes(1)
        bin_1.say("node-1", "report", '{"version":"0.1.0","boot":1,"faults":{}}')
        bin_1.say("node-1", "status", "online")
        bin_1.say("node-1", "ask", '{"id":5}')
    assert SILENT in bin_1.active()


def test_a_board_that_promises_to_send_again_in_ten_years_is_told_as_silent(bin_1: Bin) -> None:
    bin_1.minutes(10, degrees(30.0, ut=10 * 365 * 86400.0))
    bin_1.minutes(DAY, step=30)
    assert SILENT in bin_1.active()


@pytest.mark.parametrize("late_s", [-3600, 3600, 3 * 86400, 300 * 86400])
def test_heat_by_a_wrong_clock_is_told_or_that_nothing_new_comes(bin_1: Bin, late_s: float) -> None:
    bin_1.minutes(15, degrees(30.0))
    bin_1.minutes(30, degrees(50.0), boot=2, late_s=late_s)
    assert bin_1.active() & {HOT, DEAD}


def test_heat_of_a_board_that_counts_from_the_start_again_is_told(bin_1: Bin) -> None:
    for sequence in range(60):
        bin_1.minutes(1, degrees(30.0), sequence=sequence)
    bin_1.minutes(30)
    for sequence in range(30):
        bin_1.minutes(1, degrees(50.0), sequence=sequence)
    assert HOT in bin_1.active()


def test_heat_of_a_board_whose_sequence_stands_still_is_told(bin_1: Bin) -> None:
    bin_1.minutes(20, degrees(30.0), sequence=7)
    bin_1.minutes(20, degrees(50.0), sequence=7)
    assert HOT in bin_1.active()


def test_heat_between_two_boards_with_one_card_is_told(bin_1: Bin) -> None:
    bin_1.minutes(10, degrees(30.0))
    for _ in range(20):
        bin_1.minutes(1, degrees(50.0), boot=2)
        bin_1.send("node-1", degrees(30.0), boot=3)
    assert bin_1.active() & {HOT, DEAD}


def test_heat_amid_a_flood_of_garbage_is_told(bin_1: Bin) -> None:
    for _ in range(15):
        for number in range(40):
            bin_1.say("node-1", "readings", json.dumps([degrees(0, v=f"x{number}")]))
        bin_1.minutes(1, degrees(50.0))
    assert HOT in bin_1.active()


def test_garbage_alone_is_no_sign_of_life(bin_1: Bin) -> None:
    for _ in range(30):
        bin_1.say("node-1", "readings", '[{"n":"substrate_temperature","v":"x"}]')
        bin_1.minutes(1)
    assert SILENT in bin_1.active()
