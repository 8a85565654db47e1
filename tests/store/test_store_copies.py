"""Backup and export."""

from __future__ import annotations

import csv
import io
import threading
from pathlib import Path

import pytest
from store_samples import AIR, BIN, START_MS, batch, flagged, message

from monitor.errors import MonitorError, StoreUnreadable, UsageError
from monitor.records import MS_PER_HOUR, Flag, SensorKey
from monitor.store import Store
from monitor.store.maintenance import write_csv


def _fill(store: Store, count: int, start_ms: int = START_MS) -> None:
    store.commit(batch(message(*(flagged(AIR, start_ms + at * 1000, 20 + at % 9) for at in range(count)))))


def test_a_backup_is_a_whole_database(store: Store, tmp_path: Path) -> None:
    _fill(store, 5000)
    seen: list[tuple[int, int]] = []
    target = tmp_path / "backup.sqlite"
    store.backup(target, lambda done, total: seen.append((done, total)))
    assert seen[-1][0] == seen[-1][1] > 0
    assert sorted(path.name for path in tmp_path.glob("backup*")) == ["backup.sqlite"]
    with Store.open(target) as copy:
        assert len(copy.readings.series(AIR, 0, 2 * START_MS)) == 5000


def test_a_backup_while_the_service_writes(store: Store, tmp_path: Path) -> None:
    _fill(store, 20_000)
    ending = threading.Event()

    def write() -> None:
        turn = 1
        while not ending.is_set():
            _fill(store, 50, START_MS + turn * 100_000_000)
            turn += 1

    writer = threading.Thread(target=write)
    writer.start()
    try:
        with Store.read_only(store.path) as view:
            view.backup(tmp_path / "backup.sqlite")
    finally:
        ending.set()
        writer.join()
    with Store.open(tmp_path / "backup.sqlite") as copy:
        count = len(copy.readings.series(AIR, 0, 2 * START_MS))
        assert count >= 20_000 and count % 50 == 0


def test_the_service_writes_in_the_middle_of_a_copy_and_the_copy_shows_one_moment(
    store: Store, tmp_path: Path
) -> None:
    _fill(store, 60_000)
    written: list[bool] = []

    def write(done: int, total: int) -> None:
        if not written and done < total:
            writer = threading.Thread(target=_fill, args=(store, 50, START_MS + 100_000_000))
            writer.start()
            writer.join(20)
            written.append(not writer.is_alive())

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("monitor.store.copies._PAGES_IN_STEP", 20)
        store.backup(tmp_path / "backup.sqlite", write)
    assert written == [True]
    with Store.open(tmp_path / "backup.sqlite") as copy:
        assert len(copy.readings.series(AIR, 0, 2 * START_MS)) == 60_000


def test_a_copy_can_be_given_up(store: Store, tmp_path: Path) -> None:
    _fill(store, 5000)

    def stop(_done: int, _total: int) -> None:
        raise UsageError("the service stops")

    with pytest.raises(UsageError, match="stops"):
        store.backup(tmp_path / "backup.sqlite", stop)
    assert list(tmp_path.glob("backup*")) == []


def test_a_backup_never_overwrites(store: Store, tmp_path: Path) -> None:
    target = tmp_path / "backup.sqlite"
    target.write_text("keep me")
    with pytest.raises(UsageError, match=r"exists already.*another name"):
        store.backup(target)
    assert target.read_text() == "keep me"
    with pytest.raises(StoreUnreadable, match="does not exist"):
        store.backup(tmp_path / "nowhere" / "backup.sqlite")


def test_a_backup_that_fails_leaves_no_half_file(store: Store, tmp_path: Path) -> None:
    _fill(store, 100)

    def stop(_done: int, _total: int) -> None:
        raise UsageError("stopped by the person")

    with pytest.raises(MonitorError, match="stopped"):
        store.backup(tmp_path / "backup.sqlite", stop)
    assert list(tmp_path.glob("backup*")) == []


def _export(store: Store, *sensors: SensorKey, hourly: bool = False) -> list[list[str]]:
    stream = io.StringIO(newline="")
    span_ms = (0, 2 * START_MS)
    written = write_csv(stream, store.readings, store.summaries, sensors, span_ms, hourly)
    rows = list(csv.reader(io.StringIO(stream.getvalue())))
    assert written == len(rows) - 1
    return rows


def test_readings_as_csv(store: Store) -> None:
    at_ms = 1_770_001_200_007
    store.commit(batch(message(flagged(AIR, at_ms, 20.126, Flag.SUSPECT), flagged(BIN, at_ms, float("nan")))))
    assert _export(store, AIR, BIN) == [
        ["time_utc", "node", "probe", "quantity", "unit", "value", "flag"],
        ["2026-02-02T03:00:00.007Z", "node-1", "", "air_temperature", "Cel", "20.126", "3"],
        ["2026-02-02T03:00:00.007Z", "node-1", "bin1", "substrate_temperature", "Cel", "", "4"],
    ]


def test_hours_as_csv(store: Store) -> None:
    hour_ms = 1_770_001_200_000
    rows = [flagged(AIR, hour_ms + at, value) for at, value in enumerate((20.0, 20.0, 21.0))]
    store.commit(batch(message(*rows, flagged(AIR, hour_ms + MS_PER_HOUR, 85.0, Flag.FAIL))))
    names = ["node-1", "", "air_temperature", "Cel"]
    assert _export(store, AIR, hourly=True)[1:] == [
        ["2026-02-02T03:00:00.000Z", *names, "3", "20.0", "20.333333", "21.0", "0"],
        ["2026-02-02T04:00:00.000Z", *names, "0", "", "", "", "1"],
    ]


def test_database_and_copy_are_readable_by_their_owner_only(tmp_path: Path) -> None:
    with Store.open(tmp_path / "a.sqlite") as store:
        store.meta.put("page_key", "secret")
        store.backup(tmp_path / "b.sqlite")
        modes = {path.name: path.stat().st_mode & 0o077 for path in tmp_path.glob("*.sqlite*")}
    assert len(modes) >= 3
    assert set(modes.values()) == {0}
