"""Update in place: a copy first, all steps or none; older programs refuse; the first release carried over."""

from __future__ import annotations

import itertools
import random
import shutil
import sqlite3
import stat
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import pytest
from cuts import Cutter
from first_release import NOW_MS, STEP, Rows, first_database, rows_of, schema_of

from monitor.errors import StoreDamaged, StoreError, StoreFull, StoreLocked, StoreTooNew
from monitor.records import LogbookEntry, SensorKey, SubjectKind
from monitor.store import Store, schema, update
from monitor.store.schema import MIGRATIONS, Migration
from monitor.store.update import bring_up_to_date, kept_before

CUTS, CUTS_IN_THE_SUITE = 1000, 15
Shape = list[tuple[str, str]]
GROWN = {"logbook", "migration", "meta", "sqlite_sequence", "alarm_state", "outbox", "message", "node"}
"""Tables that an update since the first release makes anew, widens, or notes itself in."""


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return first_database(tmp_path / "rearing.sqlite")


def test_a_database_of_the_first_release_is_carried_over_with_every_row(path: Path) -> None:
    before = rows_of(path)
    Store.open(path).close()
    after = rows_of(path)
    assert {name: after[name] for name in before if name not in GROWN} == {
        name: rows for name, rows in before.items() if name not in GROWN
    }
    for name in GROWN - {"migration", "meta", "sqlite_sequence"}:
        width = len(before[name][0])
        assert sorted((row[:width] for row in after[name]), key=repr) == before[name], name
    assert set(before["meta"]) < set(after["meta"])
    with closing(sqlite3.connect(path)) as connection:
        assert connection.execute("PRAGMA foreign_key_check").fetchall() == []
        assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]


def test_what_was_carried_over_can_be_read_and_goes_on(path: Path) -> None:
    air = SensorKey("node-01", "", "air_temperature")
    with Store.open(path) as store:
        assert len(store.readings.series(air, 0, NOW_MS + 1)) > 30
        calibration = store.calibrations.table().in_force(air, NOW_MS)
        assert calibration is not None and calibration.offset == -0.3
        assert len(store.logbook.every()) == 285
        entry = LogbookEntry(SubjectKind.BIN, "bin-1", "stir", NOW_MS, NOW_MS, "keeper", {})
        assert store.logbook.add(entry) == 286, "numbers go on where they were"
        assert [command.actor for command in store.commands.pending()] == ["keeper"]
        assert store.reports.claimed("2026-09-22")
        assert store.archive_queue.status().waiting > 0


def test_the_schema_after_an_update_is_that_of_a_new_database(path: Path, tmp_path: Path) -> None:
    Store.open(path).close()
    Store.open(tmp_path / "new.sqlite").close()

    def plain(file: Path) -> dict[str, str]:
        return {name: " ".join(sql.replace('"', "").split()) for name, sql in schema_of(file)}

    assert plain(path) == plain(tmp_path / "new.sqlite")


def test_before_the_update_a_whole_copy_is_made(path: Path) -> None:
    before = rows_of(path)
    Store.open(path).close()
    copy = kept_before(path, STEP)
    assert copy.name == "rearing.before-update-8.sqlite"
    assert rows_of(copy) == before, "with the keys of the page: it is the way back"
    assert stat.S_IMODE(copy.stat().st_mode) == 0o600
    assert sorted(file.name for file in path.parent.glob("*.part*")) == []


def test_a_new_database_and_one_that_lacks_nothing_are_not_copied(tmp_path: Path) -> None:
    for _ in range(2):
        Store.open(tmp_path / "rearing.sqlite").close()
        assert list(tmp_path.glob("*before-update*")) == []


def test_only_the_copy_of_the_last_update_is_kept(path: Path) -> None:
    for known in (STEP + 2, STEP + 5, len(MIGRATIONS)):
        with closing(sqlite3.connect(path, isolation_level=None)) as connection:
            bring_up_to_date(connection, path, MIGRATIONS[:known])
        kept = [file.name for file in path.parent.glob("*before-update*")]
        assert len(kept) == 1
    assert kept == [f"rearing.before-update-{STEP + 5}.sqlite"]


def test_a_step_that_fails_leaves_none_of_the_steps_before_it(path: Path) -> None:
    before, shape = rows_of(path), schema_of(path)
    broken = (*MIGRATIONS, Migration(len(MIGRATIONS) + 1, "broken", ("DROP TABLE journal", "no such words")))
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        with pytest.raises(sqlite3.OperationalError):
            bring_up_to_date(connection, path, broken)
        assert not connection.in_transaction
    assert rows_of(path) == before and schema_of(path) == shape
    Store.open(path).close()


def test_the_version_that_wrote_is_kept_and_an_older_program_names_it(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    _as_newer_program(path, monkeypatch, "9.4.1")
    before = path.read_bytes()
    for opening in (Store.open, Store.read_only):
        with pytest.raises(StoreTooNew, match=r"written by version 9\.4\.1") as refused:
            opening(path)
        said = str(refused.value)
        assert (
            f"this is version {schema.OWN_VERSION}" in said and "install version 9.4.1 or a newer one" in said
        )
        assert "Nothing was changed" in said
        assert f"put {kept_before(path, len(MIGRATIONS))} in its place" in said
    assert path.read_bytes() == before
    kept_before(path, len(MIGRATIONS)).unlink()
    with pytest.raises(StoreTooNew, match="A copy from before the update will do too"):
        Store.open(path)


def test_the_copy_from_before_is_what_the_older_program_reads(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    Store.open(path).close()
    before = rows_of(path)
    _as_newer_program(path, monkeypatch, "9.4.1")
    kept_before(path, len(MIGRATIONS)).replace(path)
    Store.open(path).close()
    assert rows_of(path) == before


def _as_newer_program(path: Path, monkeypatch: pytest.MonkeyPatch, version: str) -> None:
    """What a newer program leaves: one more step, a copy from before it, its version."""
    Store.open(path).close()
    more = (*MIGRATIONS, Migration(len(MIGRATIONS) + 1, "more", ("CREATE TABLE more(x INTEGER) STRICT",)))
    with monkeypatch.context() as patch, closing(sqlite3.connect(path, isolation_level=None)) as connection:
        patch.setattr(schema, "OWN_VERSION", version)
        bring_up_to_date(connection, path, more)


HOLDER = """
import fcntl, os, sys
handle = os.open(sys.argv[1], os.O_RDWR | os.O_CREAT)
fcntl.flock(handle, fcntl.LOCK_EX)
os.pwrite(handle, f"{os.getpid()}\\n".encode(), 0)
print("held", flush=True)
sys.stdin.read()
"""


@contextmanager
def _another_service(path: Path) -> Iterator[int]:
    command = [sys.executable, "-c", HOLDER, f"{path}.lock"]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as holder:
        assert holder.stdout is not None and holder.stdin is not None
        assert holder.stdout.readline() == "held\n"
        yield holder.pid
        holder.stdin.close()


def test_while_the_older_service_runs_a_newer_command_changes_nothing(path: Path) -> None:
    before = rows_of(path)
    with _another_service(path) as process:
        with pytest.raises(StoreLocked, match=rf"process {process}\) is still the older version.*restart"):
            Store.open(path)
        assert rows_of(path) == before
        assert list(path.parent.glob("*before-update*")) == []
    Store.open(path).close()


def test_a_service_that_runs_is_no_hindrance_once_the_file_is_up_to_date(path: Path) -> None:
    Store.open(path).close()
    with _another_service(path):
        Store.open(path).close()


def test_without_room_for_the_copy_nothing_is_updated(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    before = rows_of(path)
    usage = shutil.disk_usage(path)
    with monkeypatch.context() as patch:
        patch.setattr("monitor.store.update.shutil.disk_usage", lambda _: usage._replace(free=100_000))
        with pytest.raises(StoreFull, match=r"a copy is made beside it.*nothing was changed.*free some room"):
            Store.open(path)
    assert rows_of(path) == before and list(path.parent.glob("*before-update*")) == []
    Store.open(path).close()


def test_a_copy_that_cannot_be_written_or_came_out_damaged_ends_the_update(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = rows_of(path)

    def refuse(*_: object) -> None:
        raise PermissionError(13, "Permission denied")

    numbers = itertools.count()
    faults = (
        ("os.fsync", refuse, StoreError, "no copy could be made before the update.*Permission denied"),
        ("schema.version", lambda _: next(numbers), StoreDamaged, "came out damaged"),
    )
    for name, what, kind, said in faults:
        with monkeypatch.context() as patch, pytest.raises(kind, match=said):
            patch.setattr(f"monitor.store.update.{name}", what)
            update._keep_copy(path, STEP)
        assert rows_of(path) == before
        assert list(path.parent.glob("*before-update*")) == []


def open_and_close(path: str) -> None:
    """What is cut: an update of the database at this path."""
    Store.open(Path(path)).close()


def _cut_often(folder: Path, cuts: int, seed: int) -> set[int]:
    """Cut an update at random times; each leaves the old or the new state. Gives the steps that were seen."""
    original = first_database(folder / "original.sqlite")
    with closing(sqlite3.connect(original)) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    old, shape = rows_of(original), schema_of(original)
    done = folder / "whole.sqlite"
    shutil.copy(original, done)
    Store.open(done).close()
    new_shape = schema_of(done)
    luck, seen = random.Random(seed), set()
    path = folder / "rearing.sqlite"
    with Cutter("test_store_update:open_and_close") as cutter:
        for _ in range(cuts):
            for file in folder.glob("rearing*"):
                file.unlink()
            shutil.copy(original, path)
            cutter.cut_somewhere(luck, str(path))
            seen.add(_state_after_cut(path, old, shape, new_shape))
    return seen


def _state_after_cut(path: Path, old: Rows, shape: Shape, new_shape: Shape) -> int:
    with closing(sqlite3.connect(path)) as connection:
        step = schema.version(connection)
        assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
    assert schema_of(path) == (shape if step == STEP else new_shape)
    if step == STEP:
        assert rows_of(path) == old
    else:
        assert rows_of(kept_before(path, STEP)) == old, "changed only after the copy was whole"
    Store.open(path).close()
    assert schema_of(path) == new_shape
    assert [file.name for file in path.parent.glob("rearing*.part*")] == []
    return step


def test_cuts_at_any_moment_leave_the_old_or_the_new_state(tmp_path: Path) -> None:
    assert _cut_often(tmp_path, CUTS_IN_THE_SUITE, seed=3) <= {STEP, len(MIGRATIONS)}


@pytest.mark.study
@pytest.mark.timeout(1800)
def test_a_thousand_cuts_at_any_moment_leave_the_old_or_the_new_state(tmp_path: Path) -> None:
    assert _cut_often(tmp_path, CUTS, seed=11) == {STEP, len(MIGRATIONS)}
