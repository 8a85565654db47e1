"""A large file is checked beside the work: guarding begins at once, damage becomes an alarm."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest
from service_farm import T0, farm, raw_message, wait_until

from monitor.errors import StoreDamaged
from monitor.service import Service, background
from monitor.service.background import FileCheck, is_small
from monitor.store import Store

FAULT = "site/store_fault/high/high"


def damaged(path: Path) -> Path:
    """A database one of whose tables is broken, one that the service does not read at its start."""
    Store.open(path).close()
    connection = sqlite3.connect(path)
    page = connection.execute("SELECT rootpage FROM sqlite_schema WHERE name = 'forecast_made'").fetchone()[0]
    connection.close()
    content = bytearray(path.read_bytes())
    content[(page - 1) * 4096 : page * 4096] = b"\xaa" * 4096
    path.write_bytes(content)
    return path


def test_what_is_small_is_checked_before_the_start(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = damaged(tmp_path / "yard.sqlite")
    assert is_small(path) and is_small(tmp_path / "not there")
    with pytest.raises(StoreDamaged, match="newest backup"):
        Service(farm(tmp_path), inline=True).prepare()
    monkeypatch.setattr(background, "SMALL_BYTES", 1000)
    assert not is_small(path)


def test_damage_found_beside_the_work_raises_the_alarm(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, free_port: int
) -> None:
    monkeypatch.setattr(background, "SMALL_BYTES", 1000)
    damaged(tmp_path / "yard.sqlite")
    broker = {"embedded": True, "listen": "127.0.0.1", "port": free_port}
    service = Service(farm(tmp_path, broker=broker))
    service.start()
    try:
        assert wait_until(lambda: service.processor.site.state(FAULT).active)
        assert not service.healthy()
        sent = raw_message("node-1", T0, 30.0, 1)
        service._queue.put(sent)
        assert wait_until(lambda: service.store.nodes.one("node-1") is not None), "guarding goes on"
        inbox = tmp_path / "inbox"
        assert wait_until(lambda: any("cannot be stored" in one.read_text() for one in inbox.glob("*.txt")))
    finally:
        service.stop()


def test_a_whole_file_is_found_whole_and_a_check_can_be_given_up(tmp_path: Path) -> None:
    path = tmp_path / "yard.sqlite"
    Store.open(path).close()
    check = FileCheck(path)
    check.start()
    check._thread.join(10)
    assert check.fault is None
    given_up = FileCheck(damaged(tmp_path / "other.sqlite"))
    given_up._inspection.give_up()
    given_up.start()
    given_up.stop()
    assert given_up.fault is None
