"""Boards that the settings do not name: taken in up to a bound, then refused with the reason."""

from __future__ import annotations

from service_farm import T0, message, raw_message

from monitor.records import NodeMessage, NodeStatus, Rejected, SensorKey
from monitor.service.ingest import CapacityLimits, UnknownBoards

SMALL = CapacityLimits(boards=3, sensors_of_board=2, sensors_of_unknown_boards=4)
INCOMING = raw_message("any", T0, 30.0, 1)


def crowd(known: set[str]) -> UnknownBoards:
    return UnknownBoards(known.__contains__, limits=SMALL)


def test_so_many_unknown_boards_are_taken_in_and_no_more() -> None:
    unknown_boards = crowd({"node-1"})
    for name in ("a", "b", "c"):
        assert isinstance(unknown_boards.admit(message(name, T0, 30.0), INCOMING), NodeMessage)
    refused = unknown_boards.admit(message("d", T0, 30.0), INCOMING)
    assert isinstance(refused, Rejected)
    assert refused.node is None
    assert "3 such boards are listed already; add it to [[nodes]]" in refused.reason
    assert isinstance(unknown_boards.admit(message("a", T0, 30.0), INCOMING), NodeMessage)
    assert isinstance(unknown_boards.admit(message("node-1", T0, 30.0), INCOMING), NodeMessage)


def test_a_status_and_a_refusal_of_a_stranger_take_room_too() -> None:
    unknown_boards = crowd(set())
    for number in range(3):
        assert isinstance(unknown_boards.admit(NodeStatus(f"s{number}", T0, True), INCOMING), NodeStatus)
    for late in (NodeStatus("s9", T0, True), Rejected("s9", "t", T0, "why", b"")):
        refused = unknown_boards.admit(late, INCOMING)
        assert isinstance(refused, Rejected)
        assert refused.node is None


def test_a_board_that_was_added_to_the_settings_is_taken_in_and_makes_room() -> None:
    known = {"node-1"}
    unknown_boards = crowd(known)
    for name in ("a", "b", "c", "d"):
        unknown_boards.admit(message(name, T0, 30.0), INCOMING)
    known.add("a")
    unknown_boards.count_again()
    assert isinstance(unknown_boards.admit(message("d", T0, 30.0), INCOMING), NodeMessage)
    assert isinstance(unknown_boards.admit(message("e", T0, 30.0), INCOMING), Rejected)


def test_sensors_of_one_board_are_bounded_and_the_rest_of_the_message_is_kept() -> None:
    unknown_boards = crowd({"node-1"})
    for probe in ("p1", "p2"):
        unknown_boards.admit(message("node-1", T0, 30.0, probe=probe), INCOMING)
    refused = unknown_boards.admit(message("node-1", T0, 30.0, probe="p3"), INCOMING)
    assert isinstance(refused, Rejected)
    assert refused.node == "node-1"
    assert "more sensors than are taken in (2)" in refused.reason
    both = message("node-1", T0, 30.0, probe="p1")
    third = message("node-1", T0, 31.0, probe="p3").readings
    mixed = unknown_boards.admit(
        NodeMessage("node-1", T0, (*both.readings, *third), both.time_source), INCOMING
    )
    assert isinstance(mixed, NodeMessage)
    assert mixed.readings == both.readings
    assert "more sensors" in mixed.skipped[0]


def test_sensors_of_all_unknown_boards_together_are_bounded_and_boards_of_the_store_count() -> None:
    stored = [SensorKey("old", probe, "substrate_temperature") for probe in ("p1", "p2")]
    unknown_boards = UnknownBoards({"node-1"}.__contains__, ["old"], stored, SMALL)
    for probe in ("p1", "p2"):
        assert isinstance(unknown_boards.admit(message("new", T0, 30.0, probe=probe), INCOMING), NodeMessage)
    assert isinstance(unknown_boards.admit(message("newer", T0, 30.0), INCOMING), Rejected)
    assert isinstance(unknown_boards.admit(message("node-1", T0, 30.0), INCOMING), NodeMessage)
