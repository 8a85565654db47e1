"""What a person reads when the database or its disk is at fault, and who is told when nothing can start."""

from __future__ import annotations

import os
import shutil
import sqlite3
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace

import pytest
from cli_farm import Farm

from monitor.errors import StoreFull
from monitor.notify.channels import TELL_AGAIN_S, forget, tell_people
from monitor.settings.schema import Settings

Call = Callable[..., tuple[int, str, str]]
pytestmark = pytest.mark.usefixtures("farm")


def _free(monkeypatch: pytest.MonkeyPatch, count: int) -> None:
    monkeypatch.setattr(shutil, "disk_usage", lambda _path: SimpleNamespace(free=count))


def test_check_says_that_the_disk_is_full(call: Call, monkeypatch: pytest.MonkeyPatch) -> None:
    _free(monkeypatch, 4096)
    code, _, said = call("check")
    assert code == 3
    assert "is full. To mend: free some room on that disk" in said


def test_check_warns_of_a_disk_that_is_nearly_full(call: Call, monkeypatch: pytest.MonkeyPatch) -> None:
    _free(monkeypatch, 90_000_000)
    code, said, _ = call("check")
    assert code == 0
    assert "has only 90 MB left" in " ".join(said.split())


def test_check_says_that_the_file_is_damaged(farm: Farm, call: Call) -> None:
    with farm.store() as store:
        path = store.path
    content = bytearray(path.read_bytes())
    content[4096 * 4 : 4096 * 5] = b"\xaa" * 4096
    path.write_bytes(content)
    code, _, said = call("check")
    assert code == 3
    assert "the database file is damaged" in said
    assert "newest backup" in said


def test_a_whole_database_is_no_problem_and_an_older_one_neither(farm: Farm, call: Call) -> None:
    with farm.store():
        pass
    assert call("check")[0] == 0
    connection = sqlite3.connect(farm.database)
    connection.execute("DELETE FROM migration WHERE number = (SELECT max(number) FROM migration)")
    connection.commit()
    connection.close()
    assert call("check")[0] == 0


def _settings(folder: Path) -> Settings:
    return Settings.model_validate(
        {
            "site": {"id": "yard", "title": "Saltbush Yard", "time_zone": "Africa/Gaborone"},
            "store": {"path": str(folder / "yard.sqlite")},
            "recipients": [
                {"id": "keeper", "address": f"folder://{folder / 'keeper'}"},
                {"id": "second", "address": f"folder://{folder / 'second'}", "order": 2},
            ],
        }
    )


def _mails(folder: Path) -> list[str]:
    return [path.read_text() for path in sorted((folder / "keeper").glob("*.txt"))]


def test_people_are_told_once_that_the_monitor_cannot_start(tmp_path: Path) -> None:
    settings = _settings(tmp_path)
    error = StoreFull("the disk has no room left. To mend: free some room.")
    for _ in range(3):
        tell_people(settings, error)
    [mail] = _mails(tmp_path)
    assert mail.startswith("HIGH Saltbush Yard the monitor cannot start")
    assert "Nothing is watched" in mail and "free some room" in mail
    assert not (tmp_path / "second").exists()


def test_they_are_told_again_after_hours_and_after_a_good_start(tmp_path: Path) -> None:
    settings, error = _settings(tmp_path), StoreFull("full")
    tell_people(settings, error)
    stamp = tmp_path / "yard.sqlite.not-started"
    long_ago = stamp.stat().st_mtime - TELL_AGAIN_S - 1
    os.utime(stamp, (long_ago, long_ago))
    tell_people(settings, error)
    forget(settings)
    tell_people(settings, error)
    assert len(_mails(tmp_path)) == 3


def test_run_tells_the_people_of_a_database_that_it_cannot_open(
    farm: Farm, call: Call, monkeypatch: pytest.MonkeyPatch
) -> None:
    # Else the logging of the whole test run would go on into a stream that is closed after this test.
    monkeypatch.setattr("monitor.cli.running.log_to_stderr", lambda: None)
    farm.database.write_bytes(b"this is no database at all" * 400)
    code, _, said = call("run")
    assert code == 3
    assert "not a database" in said
    [mail] = list(farm.inbox.glob("*.txt"))
    assert "the monitor cannot start" in mail.read_text()
    assert call("run")[0] == 3
    assert len(list(farm.inbox.glob("*.txt"))) == 1
