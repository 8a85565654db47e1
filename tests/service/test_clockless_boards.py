"""A board without a clock keeps its rhythm over a restart of ours: what waited meanwhile is dated by it."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest
from service_farm import MINUTE, T0, farm, watch_of

from monitor.intake.node_clock import Absence
from monitor.records import (
    Batch,
    Flag,
    FlaggedMessage,
    FlaggedReading,
    IncomingMessage,
    NodeMessage,
    Reading,
    SensorKey,
    TimeSource,
)
from monitor.service.ingest import MessageDecoder, topics_of
from monitor.store import Store

HALF_MINUTE = 30_000
BACK_MS = T0 + 60 * MINUTE


class Yard:
    """A store that knows some messages, and the decoder of a service that starts an hour later."""

    def __init__(self, folder: Path) -> None:
        self.settings = farm(folder)
        self.store = Store.open(self.settings.store.path)

    def heard(self, node: str, count: int, step_ms: int, boot: int | None = 1) -> None:
        """Messages of a board without a clock, the last one at T0 with the sequence `count`."""
        for number in range(1, count + 1):
            at_ms = T0 - (count - number) * step_ms
            reading = Reading(SensorKey(node, "", "substrate_temperature"), at_ms, 30.0)
            message = NodeMessage(node, at_ms, (reading,), TimeSource.RELATIVE, boot, number)
            flagged = FlaggedReading(reading, Flag.PASS, reading.value)
            self.store.commit(Batch(at_ms, (FlaggedMessage(message, (flagged,)),)))

    def waited(self, node: str, *sequences: int, boot: int | None = 1) -> list[NodeMessage]:
        """What messages mean that waited in the broker until the service is back."""
        site, topics = watch_of(self.settings), topics_of(self.settings)
        decoder = MessageDecoder.of(self.store, site, topics, ())
        decoder.absence = Absence(T0, BACK_MS)
        found = []
        for sequence in sequences:
            records = [{"n": "substrate_temperature", "u": "Cel", "v": 30.0}]
            counts = {"boot": boot, "sequence": sequence}
            records += [
                {"n": name, "u": "count", "v": count} for name, count in counts.items() if count is not None
            ]
            payload = json.dumps(records).encode()
            meant = decoder.take(IncomingMessage(f"rearing/yard/{node}/readings", payload, BACK_MS))
            assert isinstance(meant, NodeMessage)
            found.append(meant)
        return found


def dates(found: list[NodeMessage]) -> list[int]:
    return [message.readings[0].at_ms for message in found]


@pytest.fixture
def yard(tmp_path: Path) -> Iterator[Yard]:
    made = Yard(tmp_path)
    yield made
    made.store.close()


@pytest.mark.parametrize("node", ["node-1", "node-unlisted"])
def test_what_waited_is_dated_by_the_rhythm_that_was_heard(yard: Yard, node: str) -> None:
    """Whether the settings know the board or not; theirs of 60 s counts for less than what was heard."""
    yard.heard(node, 10, HALF_MINUTE)

    found = yard.waited(node, 11, 14, 50)

    assert dates(found) == [T0 + steps * HALF_MINUTE for steps in (1, 4, 40)]
    assert not any(message.clock_fault for message in found)


def test_where_little_was_heard_the_interval_of_the_settings_counts(yard: Yard) -> None:
    yard.heard("node-1", 2, HALF_MINUTE)

    assert dates(yard.waited("node-1", 3, 5)) == [T0 + MINUTE, T0 + 3 * MINUTE]


def test_of_a_board_that_no_settings_name_and_of_which_little_was_heard_nothing_is_guessed(
    yard: Yard,
) -> None:
    yard.heard("node-unlisted", 2, HALF_MINUTE)

    found = yard.waited("node-unlisted", 3)

    assert dates(found) == [BACK_MS]
    assert "not known when it sent" in str(found[0].clock_fault)


def test_a_board_that_never_says_its_boot_has_no_rhythm_over_a_restart(yard: Yard) -> None:
    """It may have started again meanwhile, and counts from 1 then."""
    yard.heard("node-1", 10, HALF_MINUTE, boot=None)

    found = yard.waited("node-1", 11, 12, boot=None)

    assert [bool(message.clock_fault) for message in found] == [True, True]
    assert all(at_ms >= BACK_MS for at_ms in dates(found))
