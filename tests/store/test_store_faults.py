"""What a person reads when the disk is full, or the file locked, damaged, unreadable or something else."""

from __future__ import annotations

import contextlib
import os
import sqlite3
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from store_samples import AIR, START_MS, batch, flagged, message

from monitor.errors import StoreDamaged, StoreError, StoreFull, StoreLocked, StoreUnreadable
from monitor.store import Store


def _fill(store: Store, readings: int, start_ms: int = START_MS) -> None:
    rows = [flagged(AIR, start_ms + at * 1000, 20 + at % 50 / 10) for at in range(readings)]
    store.commit(batch(message(*rows)))


def _sensible(error: pytest.ExceptionInfo[StoreError], path: Path) -> None:
    text = str(error.value)
    assert text.startswith(str(path)) and "To mend: " in text and text.endswith(".")
    assert "!" not in text and "Traceback" not in text


def test_a_full_disk_refuses_the_batch_whole_and_goes_on_when_there_is_room(store: Store) -> None:
    _fill(store, 10)
    with store.database.read() as connection:
        pages = connection.execute("PRAGMA page_count").fetchone()[0]
        connection.execute(f"PRAGMA max_page_count={pages}")
    with pytest.raises(StoreFull, match="no room left") as error:
        _fill(store, 5000, START_MS + 3_600_000)
    _sensible(error, store.path)
    assert len(store.readings.series(AIR, 0, 2 * START_MS)) == 10
    with store.database.read() as connection:
        connection.execute("PRAGMA max_page_count=1000000")
    _fill(store, 5000, START_MS + 3_600_000)
    assert len(store.readings.series(AIR, 0, 2 * START_MS)) == 5010


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A disk of two megabytes that is really one."""
    folder = tmp_path / "small"
    folder.mkdir()
    command = ["mount", "-t", "tmpfs", "-o", "size=2m", "tmpfs", str(folder)]
    if os.geteuid() != 0 or subprocess.run(command, capture_output=True).returncode != 0:
        pytest.skip("a small disk can be mounted only by root where mounting is allowed")
    yield folder
    subprocess.run(["umount", str(folder)], check=True)


def test_a_disk_that_is_really_full(small_disk: Path) -> None:
    with Store.open(small_disk / "rearing.sqlite") as store:
        stored = 0
        with pytest.raises(StoreFull) as error:
            for turn in range(1000):
                _fill(store, 500, START_MS + turn * 500_000)
                stored += 500
        _sensible(error, store.path)
        assert stored > 0
        assert len(store.readings.series(AIR, 0, 2 * START_MS)) == stored
    with Store.open(small_disk / "rearing.sqlite") as store:
        assert len(store.readings.series(AIR, 0, 2 * START_MS)) == stored


def test_a_file_held_by_another_program(tmp_path: Path) -> None:
    path = tmp_path / "rearing.sqlite"
    Store.open(path).close()
    with Store.open(path, busy_timeout_s=0.05) as store, contextlib.closing(_holder(path)):
        with pytest.raises(StoreLocked, match="another program holds") as error:
            _fill(store, 1)
        _sensible(error, path)
    with Store.open(path) as store:
        _fill(store, 1)


def _holder(path: Path) -> sqlite3.Connection:
    other = sqlite3.connect(path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    return other


def test_a_damaged_file_is_found_at_start(tmp_path: Path) -> None:
    path = tmp_path / "rearing.sqlite"
    with Store.open(path) as store:
        _fill(store, 20_000)
    with path.open("r+b") as raw:
        raw.seek(4096 * 30)
        raw.write(os.urandom(4096 * 20))
    with pytest.raises(StoreDamaged, match=r"damaged.*backup") as error:
        Store.open(path)
    _sensible(error, path)


def test_damage_met_by_a_query_has_its_name_too(tmp_path: Path) -> None:
    path = tmp_path / "rearing.sqlite"
    with Store.open(path) as store:
        _fill(store, 20_000)
    with path.open("r+b") as raw:
        raw.seek(4096 * 60)  # behind the pages of the schema
        raw.write(b"\xff" * 4096 * 60)
    with Store.open(path, check=False) as store, pytest.raises(StoreDamaged) as error:
        store.readings.series(AIR, 0, 2 * START_MS)
    _sensible(error, path)


def test_a_file_that_is_no_database(tmp_path: Path) -> None:
    path = tmp_path / "farm.toml"
    path.write_text("[site]\n" * 500)
    with pytest.raises(StoreUnreadable, match="not a database") as error:
        Store.open(path)
    _sensible(error, path)
    assert path.read_text() == "[site]\n" * 500


def test_a_folder_in_place_of_a_file(tmp_path: Path) -> None:
    with pytest.raises(StoreUnreadable, match="a folder, not a file") as error:
        Store.open(tmp_path)
    _sensible(error, tmp_path)


def test_a_folder_that_does_not_exist(tmp_path: Path) -> None:
    path = tmp_path / "nowhere" / "rearing.sqlite"
    with pytest.raises(StoreUnreadable, match="nowhere does not exist") as error:
        Store.open(path)
    _sensible(error, path)


def test_a_command_before_the_first_start(tmp_path: Path) -> None:
    path = tmp_path / "rearing.sqlite"
    openings: tuple[Callable[[], object], ...] = (
        lambda: Store.read_only(path),
        lambda: Store.open(path, create=False),
    )
    for opening in openings:
        with pytest.raises(StoreUnreadable, match="there is no database here") as error:
            opening()
        _sensible(error, path)
    assert not path.exists()


@pytest.fixture
def open_folder() -> Iterator[Path]:
    """A folder that any user may pass through, so that only the file itself refuses."""
    with tempfile.TemporaryDirectory() as name:
        Path(name).chmod(0o755)
        yield Path(name)


AS_NOBODY = """
import os, sys
from pathlib import Path
from monitor.errors import StoreUnreadable
from monitor.store import Store
path = Path(sys.argv[1])
os.seteuid(65534) if os.geteuid() == 0 else path.chmod(0)
try:
    Store.open(path)
except StoreUnreadable as error:
    print(error)
"""


def test_a_file_without_permission(open_folder: Path) -> None:
    path = open_folder / "rearing.sqlite"
    Store.open(path).close()
    path.chmod(0o600)
    done = subprocess.run([sys.executable, "-c", AS_NOBODY, str(path)], capture_output=True, text=True)
    assert done.stderr == ""
    assert "To mend: give the command as the user that runs the monitor" in done.stdout
