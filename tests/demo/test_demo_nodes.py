"""Boards of the invented farm: what they send is SenML as RFC 8428 has it, with all their faults."""

import json
from typing import Any

import pytest

from monitor.demo.farm import Faults, Measurement, SimulatedNode
from monitor.demo.script import BOARDS, Board

AT_MS = 1_790_000_000_000
TRUTH = {
    "air_temperature": 28.0,
    "air_humidity": 70.0,
    "substrate_temperature": 33.0,
    "substrate_moisture": 0.68,
    "surface_temperature": 26.0,
    "light": 5000.0,
}
BIN_BOARD = BOARDS[9]
TRAY_BOARD = BOARDS[5]


def _truth(_place: str, quantity: str) -> float:
    return TRUTH[quantity]


def _measure(node: SimulatedNode, minute: int = 0, faults: Faults | None = None) -> Measurement:
    return node.measure(AT_MS + minute * 60_000, 60.0, _truth, faults or Faults())


def _values(measured: Measurement) -> dict[str, float]:
    return {name: value for name, _, value in measured.values}


def _pack(message: bytes) -> list[dict[str, Any]]:
    return list(json.loads(message))


@pytest.mark.parametrize("board", BOARDS, ids=lambda board: board.id)
def test_a_good_sensor_is_near_the_truth_on_average(board: Board) -> None:
    node = SimulatedNode(1, board)
    readings = [_values(_measure(node, minute)) for minute in range(200)]
    for name in readings[0]:
        quantity = name.rpartition("/")[2]
        if quantity in TRUTH:
            mean = sum(reading[name] for reading in readings) / len(readings)
            assert mean == pytest.approx(TRUTH[quantity], rel=0.06)


def test_a_digital_probe_answers_in_steps_of_a_sixteenth() -> None:
    value = _values(_measure(SimulatedNode(1, BIN_BOARD)))["substrate_temperature"]
    assert value * 16 == int(value * 16)


def test_a_loose_cable_gives_power_on_and_absent_values() -> None:
    node = SimulatedNode(1, BIN_BOARD)
    seen = {_values(_measure(node, m, Faults(loose_cable=True)))["substrate_temperature"] for m in range(60)}
    assert {-127.0, 85.0} < seen


def test_a_stuck_probe_repeats_one_value_and_recovers() -> None:
    node = SimulatedNode(1, BIN_BOARD)
    stuck = {_values(_measure(node, m, Faults(stuck=True)))["substrate_temperature"] for m in range(60)}
    assert len(stuck) == 1
    free = {_values(_measure(node, m))["substrate_temperature"] for m in range(60, 160)}
    assert len(free) > 1


def test_a_message_carries_boot_sequence_and_its_own_time() -> None:
    node = SimulatedNode(1, BIN_BOARD)
    first, second = (_pack(node.messages(_measure(node, minute))[0]) for minute in range(2))
    assert [record["n"] for record in first[:2]] == ["boot", "sequence"]
    assert {record["u"] for record in first[:2]} == {"count"}
    assert first[0]["bt"] == AT_MS / 1000
    assert second[0]["v"] == first[0]["v"]
    assert second[1]["v"] == first[1]["v"] + 1


def test_a_board_without_a_clock_sends_its_backlog_in_times_before_now() -> None:
    assert not TRAY_BOARD.clock
    node = SimulatedNode(1, TRAY_BOARD)
    for minute in range(3):
        node.keep(_measure(node, minute))
    (message,) = node.messages(_measure(node, 3))
    pack = _pack(message)
    assert all("bt" not in record for record in pack)
    assert [record.get("t", 0) for record in pack if record["n"] == "air_humidity"] == [-180, -120, -60, 0]


def test_a_long_backlog_is_cut_into_messages_that_keep_the_limits() -> None:
    """At most 200 records and 16 KiB in a message."""
    node = SimulatedNode(1, TRAY_BOARD)
    for minute in range(600):
        node.keep(_measure(node, minute))
    messages = node.messages(_measure(node, 600))
    packs = [_pack(message) for message in messages]
    assert max(len(message) for message in messages) <= 16 * 1024
    assert max(len(pack) for pack in packs) <= 200
    assert sum(record["n"] == "air_humidity" for pack in packs for record in pack) == 601
    sequences = [pack[1]["v"] for pack in packs]
    assert sequences == list(range(sequences[0], sequences[0] + len(packs)))


def test_a_restart_is_a_new_boot_with_an_empty_memory() -> None:
    node = SimulatedNode(1, TRAY_BOARD)
    before = _pack(node.messages(_measure(node))[0])
    node.keep(_measure(node, 1))
    node.restart()
    (after,) = [_pack(message) for message in node.messages(_measure(node, 2))]
    assert after[0]["v"] == before[0]["v"] + 1
    assert after[1]["v"] == 1
    assert sum(record["n"] == "air_humidity" for record in after) == 1


def test_a_board_that_keeps_nothing_loses_what_nobody_heard() -> None:
    board = next(board for board in BOARDS if not board.keeps_backlog)
    node = SimulatedNode(1, board)
    node.keep(_measure(node, 0))
    (message,) = node.messages(_measure(node, 1))
    assert len(_pack(message)) == 2 + len(board.sensors)


def test_a_tired_battery_falls_and_a_fresh_one_is_full() -> None:
    tired = next(board for board in BOARDS if board.battery_fall_v_h > 0.01)
    node = SimulatedNode(1, tired)
    for minute in range(12 * 60):
        last = _values(_measure(node, minute))["battery"]
    assert last < 3.4
    node.restart(fresh_battery=True)
    assert _values(_measure(node, 721))["battery"] > 4.0
