"""Which packs of a board are dealt with: the answer that lets it delete them."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest
from store_samples import AIR, START_MS, batch, flagged, message

from monitor.records import Rejected
from monitor.store import Store, nodes, schema


def heard(store: Store, *numbers: int, boot: int = 7, node: str = "node-1") -> None:
    for number in numbers:
        reading = flagged(AIR, START_MS + number * 1000, 20.0)
        store.commit(batch(message(reading, node=node, boot=boot, sequence=number)))


def refused(store: Store, *numbers: int, boot: int = 7, node: str | None = "node-1") -> None:
    rows = tuple(Rejected(node, "t", START_MS + number, "why", b"x", (boot, number)) for number in numbers)
    store.commit(batch(rejected=rows))


def test_done_goes_up_to_the_first_that_is_missing(store: Store) -> None:
    heard(store, 38, 39, 41)
    assert store.nodes.done("node-1", 7, 38, 41) == 39
    assert store.nodes.done("node-1", 7, 39, 41) == 39
    assert store.nodes.done("node-1", 7, 40, 41) == 39, "none: one below the first"
    heard(store, 40)
    assert store.nodes.done("node-1", 7, 38, 41) == 41
    assert store.nodes.done("node-1", 7, 38, 40) == 40, "no further than asked"


def test_nothing_is_done_of_another_boot_or_board(store: Store) -> None:
    heard(store, 0, 1)
    assert store.nodes.done("node-1", 8, 0, 1) == -1
    assert store.nodes.done("node-2", 7, 0, 1) == -1
    assert store.nodes.every() == (store.nodes.one("node-1"),), "a question makes no board"


def test_a_refused_pack_is_dealt_with(store: Store) -> None:
    heard(store, 1, 3)
    refused(store, 2, 4)
    refused(store, 2)
    refused(store, 5, boot=8)
    refused(store, 5, node=None)
    assert store.nodes.done("node-1", 7, 1, 9) == 4
    heard(store, 2)
    assert store.nodes.done("node-1", 7, 1, 9) == 4


def test_a_refused_pack_that_comes_mended_is_stored(store: Store) -> None:
    refused(store, 2)
    heard(store, 2)
    facts = store.nodes.one("node-1")
    assert facts is not None
    assert (facts.messages, facts.duplicates, facts.rejected) == (1, 0, 1)
    assert len(store.readings.series(AIR, 0, START_MS * 2).value) == 1


def test_refusals_are_bounded_for_each_board(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(nodes, "MOST_REFUSED", 10)
    for number in range(0, 40, 2):
        refused(store, number, number + 1)
    refused(store, 1, node="node-2")
    count = store.database.value("SELECT count(*) FROM refused_message")
    assert count <= 12
    assert store.nodes.done("node-1", 7, 38, 39) == 39, "the newest are kept"
    assert store.nodes.done("node-2", 7, 1, 1) == 1


def test_one_question_looks_at_a_bounded_number_of_packs(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(nodes, "MOST_LOOKED_AT", 3)
    heard(store, *range(8))
    assert store.nodes.done("node-1", 7, 0, 2**53) == 2
    assert store.nodes.done("node-1", 7, 3, 2**53) == 5


def test_refusals_go_with_the_other_identities(store: Store) -> None:
    heard(store, 1)
    refused(store, 2)
    for _ in range(20):
        store.prune(START_MS + 40 * 86_400_000, 400)
    assert store.database.value("SELECT count(*) FROM refused_message") == 0


def test_an_older_database_gets_room_for_refusals(tmp_path: Path) -> None:
    path = tmp_path / "old.sqlite"
    old = sqlite3.connect(path, isolation_level=None)
    schema.migrate(old, path, schema.MIGRATIONS[:11])
    old.execute(
        "INSERT INTO node(node, first_heard_ms, last_heard_ms, boot, sequence) VALUES('node-1', 1, 2, 7, 1)"
    )
    old.execute("INSERT INTO message VALUES(1, 7, 1, 2, 'node')")
    old.close()
    with Store.open(path) as store:
        assert store.nodes.done("node-1", 7, 1, 5) == 1
        refused(store, 2)
        assert store.nodes.done("node-1", 7, 1, 5) == 2
