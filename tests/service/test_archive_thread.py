"""The service's own archive thread: a sign of life that ends with the service, and settings read again."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from archive_stub import ArchiveStub
from service_farm import farm

from monitor.service import background
from monitor.service.service import system_clock_ms
from monitor.settings.schema import Settings
from monitor.store import Store


@pytest.fixture
def stub() -> Iterator[ArchiveStub]:
    server = ArchiveStub()
    yield server
    server.close()


def until(condition: Callable[[], bool]) -> None:
    deadline = time.monotonic() + 20
    while not condition():
        assert time.monotonic() < deadline, "did not happen in time"
        time.sleep(0.02)


@pytest.mark.parametrize("runs", [True, False])
def test_the_archive_hears_whether_the_service_lives(tmp_path: Path, stub: ArchiveStub, runs: bool) -> None:
    settings = farm(tmp_path, archive={"url": stub.url, "bucket": "b"})
    in_force: list[Settings] = [settings]
    with Store.open(settings.store.path, archive=True) as store:
        now_ms = system_clock_ms()
        run_id = store.runs.start(now_ms)
        if not runs:
            store.runs.stop(run_id, now_ms)
        archive = background._archive(store.path, settings, lambda: in_force[-1])
        assert archive is not None
        archive.start()
        until(lambda: bool(stub.of_site))
        archive.stop()
        assert archive.status().last_error == ""
    (site,) = stub.of_site
    assert ("heartbeat=1.0" in site) is runs
    assert "places=5.0" in site and "boards=5.0" in site
    assert sum(line.startswith("place,") for line in stub.points) == 5


def test_without_an_archive_in_the_settings_there_is_no_thread(tmp_path: Path) -> None:
    settings = farm(tmp_path)
    assert background._archive(settings.store.path, settings, lambda: settings) is None
