"""What boards report: the last one is kept, and when something in it grew worse."""

from __future__ import annotations

import sqlite3
from dataclasses import replace
from pathlib import Path

from store_samples import START_MS, batch

from monitor.records import BoardReport
from monitor.store import Store, schema

REPORT = BoardReport(
    "node-1",
    START_MS,
    "0.1.0",
    7,
    chip="esp32",
    reset="power",
    clock="monitor",
    uptime_s=120,
    waiting=2,
    lost=0,
    damaged=0,
    rssi_dbm=-61,
    heap_bytes=41_000,
    faults={"sht4x": "crc"},
    probes={"28ff641dc1160364": "p1"},
    settings="00c0ffee",
)
HOUR = 3_600_000


def kept(store: Store, *reports: BoardReport) -> None:
    for report in reports:
        store.commit(batch(reports=(report,)))


def test_the_last_report_comes_back_whole(store: Store) -> None:
    kept(store, REPORT)
    stored = store.board_reports.one("node-1")
    assert stored is not None and stored.report == REPORT
    assert (stored.lost_grew_ms, stored.damaged_grew_ms, stored.bad_reset_ms, stored.published) == (None,) * 4
    assert store.board_reports.every() == {"node-1": stored}
    assert store.board_reports.one("node-2") is None
    facts = store.nodes.one("node-1")
    assert facts is not None and facts.messages == 0, "a report is no reading"


def test_counts_that_grow_are_dated_and_those_that_start_are_not(store: Store) -> None:
    later = [replace(REPORT, received_ms=START_MS + n * HOUR) for n in range(5)]
    kept(store, replace(REPORT, lost=3, damaged=9), replace(later[1], lost=3, damaged=9))
    stored = store.board_reports.one("node-1")
    assert stored is not None and (stored.lost_grew_ms, stored.damaged_grew_ms) == (None, None)
    kept(store, replace(later[2], lost=4, damaged=9), replace(later[3], lost=4, damaged=10), later[4])
    stored = store.board_reports.one("node-1")
    assert stored is not None
    assert (stored.lost_grew_ms, stored.damaged_grew_ms) == (START_MS + 2 * HOUR, START_MS + 3 * HOUR)
    assert stored.report == later[4]


def test_a_start_that_nobody_wanted_is_dated_once(store: Store) -> None:
    hung = replace(REPORT, reset="watchdog", boot=8, received_ms=START_MS + HOUR)
    kept(store, REPORT, hung, replace(hung, received_ms=START_MS + 5 * HOUR))
    stored = store.board_reports.one("node-1")
    assert stored is not None and stored.bad_reset_ms == START_MS + HOUR
    kept(store, replace(hung, reset="brownout", boot=9, received_ms=START_MS + 6 * HOUR))
    stored = store.board_reports.one("node-1")
    assert stored is not None and stored.bad_reset_ms == START_MS + 6 * HOUR


def test_what_the_broker_had_kept_and_we_know_gets_no_younger(store: Store) -> None:
    kept(store, REPORT, replace(REPORT, received_ms=START_MS + 9 * HOUR, kept=True))
    stored = store.board_reports.one("node-1")
    assert stored is not None and stored.report == REPORT
    other = replace(REPORT, boot=8, received_ms=START_MS + 9 * HOUR, kept=True)
    kept(store, other)
    stored = store.board_reports.one("node-1")
    assert stored is not None and stored.report == other


def test_published_settings_and_a_board_that_is_gone(store: Store) -> None:
    kept(store, REPORT, replace(REPORT, node="node-2"))
    store.board_reports.published("node-1", "00c0ffee")
    kept(store, replace(REPORT, received_ms=START_MS + HOUR))
    stored = store.board_reports.one("node-1")
    assert stored is not None and stored.published == "00c0ffee", "a report does not forget it"
    store.board_reports.forget("node-1")
    assert set(store.board_reports.every()) == {"node-2"}


def test_a_clock_that_was_ahead_leaves_no_report_in_the_future(store: Store) -> None:
    kept(store, replace(REPORT, received_ms=START_MS + 9 * HOUR))
    store.clock_went_back(START_MS, store.runs.start(START_MS))
    stored = store.board_reports.one("node-1")
    assert stored is not None and stored.report.received_ms == START_MS


def test_an_older_database_gets_room_for_reports(tmp_path: Path) -> None:
    path = tmp_path / "old.sqlite"
    old = sqlite3.connect(path, isolation_level=None)
    schema.migrate(old, path, schema.MIGRATIONS[:11])
    old.execute("INSERT INTO node(node, first_heard_ms, last_heard_ms) VALUES('node-1', 1, 2)")
    old.close()
    with Store.open(path) as store:
        assert store.board_reports.every() == {}
        kept(store, REPORT)
        assert store.board_reports.one("node-1") is not None
