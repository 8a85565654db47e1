"""`refill` as a person calls it: what was fetched, and what is said where nothing could be."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from archive_memory import MemoryArchive
from cli_farm import AIR, BIN, HUMIDITY, MINUTE_MS, Farm, make_farm, now_ms, put, reading
from flux_stub import FluxStub
from victoria_server import victoria

pytest.importorskip("influxdb_client", reason="the extra `archive` is not installed")

Call = Callable[..., tuple[int, str, str]]
SITE = "sand-hill"


@pytest.fixture
def stub() -> Iterator[FluxStub]:
    made = FluxStub(MemoryArchive())
    yield made
    made.close()


def _settings(folder: Path, url: str, more: str = "") -> Farm:
    return make_farm(folder, more=f'[archive]\nurl = "{url}"\nbucket = "b"\norg = "o"\n{more}')


def _series(farm: Farm, since_ms: int) -> dict[str, list[tuple[int, float, int]]]:
    with farm.store() as store:
        return {
            str(sensor): [
                (at, value, int(flag)) for at, value, flag in store.readings.iterate(sensor, since_ms, 2**42)
            ]
            for sensor in store.readings.sensors()
        }


@pytest.mark.archive_server
def test_a_lost_database_comes_back_from_the_archive(call: Call, farm: Farm, tmp_path: Path) -> None:
    start_ms = now_ms() - 600 * MINUTE_MS
    with victoria(tmp_path / "archive") as server:
        truth = MemoryArchive()
        for minute in range(500):
            for number, sensor in enumerate((AIR, HUMIDITY, BIN)):
                value = (1000 + (minute * 7 + number) % 400) / 50
                truth.write_reading(SITE, sensor, start_ms + minute * MINUTE_MS, value, 1 + minute % 4)
        server.write(truth.lines())
        _settings(farm.folder, server.url)
        put(farm, reading(AIR, start_ms, 20.0))
        code, out, err = call("refill")
        assert (code, err) == (0, "")
        assert "Fetched from the archive: 1499 readings that were missing; it holds 3 sensors up to " in out
        assert "1 reading was there already" in out
        code, out, _ = call("refill", "--from", "2 hours ago")
        assert code == 0
        assert "Fetched from the archive: 0 readings" in out
    expected = {
        str(found.sensor): list(
            zip(found.at_ms.tolist(), found.value.tolist(), found.flag.tolist(), strict=True)
        )
        for found in truth.readings(SITE, 0, 2**42)
    }
    assert _series(farm, 0) == expected


def test_a_database_that_is_not_there_is_made(call: Call, farm: Farm, stub: FluxStub) -> None:
    _settings(farm.folder, stub.url)
    stub.archive.write_reading(SITE, AIR, now_ms() - MINUTE_MS, 21.5)
    assert call("refill")[0] == 0
    assert [value for _, value, _ in _series(farm, 0)[str(AIR)]] == [21.5]


def test_without_an_archive_it_is_said_what_to_fill_in(call: Call, farm: Farm) -> None:
    make_farm(farm.folder)
    code, _, err = call("refill")
    assert code == 2
    assert "the settings name no archive" in err and "[archive]" in err


def test_a_site_that_the_archive_does_not_know(call: Call, farm: Farm, stub: FluxStub) -> None:
    _settings(farm.folder, stub.url)
    stub.archive.write_reading("sand-hil", AIR, now_ms() - MINUTE_MS, 21.5)
    code, _, err = call("refill")
    assert code == 0
    assert "holds no reading of the site sand-hill" in err
    assert "It knows these sites: sand-hil" in err


def test_a_server_that_is_away_keeps_what_there_is(call: Call, farm: Farm, free_port: int) -> None:
    _settings(farm.folder, f"http://127.0.0.1:{free_port}")
    put(farm, reading(AIR, now_ms(), 20.0))
    code, _, err = call("refill")
    assert code == 5
    assert "the archive server does not answer" in err
    assert len(_series(farm, 0)[str(AIR)]) == 1


def test_a_token_that_may_not_read(
    call: Call, farm: Farm, stub: FluxStub, monkeypatch: pytest.MonkeyPatch
) -> None:
    stub.token = "right"
    monkeypatch.setenv("READ", "wrong")
    _settings(farm.folder, stub.url, 'kind = "influx2"\nread_token_env = "READ"\n')
    code, _, err = call("refill")
    assert code == 5
    assert "[archive] read_token" in err
    assert "wrong" not in err
    assert "What was fetched up to here stays" in err
    monkeypatch.setenv("READ", "right")
    stub.archive.write_reading(SITE, AIR, now_ms() - MINUTE_MS, 21.5)
    assert call("refill")[0] == 0
