"""The archive against a scripted server: poisoned points, waiting, refusals, restarts, backlog, history."""

from __future__ import annotations

import json
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import UTC
from pathlib import Path

import pytest
from archive_stub import ArchiveStub, takes_all
from pydantic import SecretStr
from store_samples import AIR, BIN, START_MS, batch, flagged, message

from monitor.archive.forwarder import (
    ArchiveClient,
    ArchiveForwarder,
    ArchiveSender,
    Pace,
    Verdict,
    judge,
    line,
    retry_after_s,
)
from monitor.errors import Sentence
from monitor.records import Flag, SensorKey
from monitor.settings.schema import ArchiveSettings
from monitor.store import Store
from monitor.store.archive_queue import QueuedReading
from monitor.words.localizer import Localizer

pytest.importorskip("influxdb_client", reason="the extra `archive` is not installed")

Answer = tuple[int, dict[str, str], str]
PACE = Pace(poll_s=0.02, settle_s=0.05, first_delay_s=0.02, longest_delay_s=0.1, person_delay_s=77.0)


@pytest.fixture
def archived(tmp_path: Path) -> Iterator[Store]:
    """A store that queues its readings for the archive."""
    with Store.open(tmp_path / "rearing.sqlite", archive=True) as opened:
        yield opened


def _settings(url: str, size: int = 50) -> ArchiveSettings:
    return ArchiveSettings(url=url, org="farm", bucket="readings", token=SecretStr("secret"), batch=size)


@pytest.fixture
def sender(archived: Store, stub: ArchiveStub) -> Iterator[ArchiveSender]:
    client = ArchiveClient(_settings(stub.url))
    yield ArchiveSender(archived.archive_queue, client, 50, "farm", PACE)
    client.close()


@pytest.fixture
def patient(archived: Store, stub: ArchiveStub) -> Iterator[ArchiveSender]:
    """One that lets nothing go within a test, however busy the machine is."""
    client = ArchiveClient(_settings(stub.url))
    yield ArchiveSender(archived.archive_queue, client, 50, "farm", replace(PACE, settle_s=600.0))
    client.close()


def _fill(store: Store, count: int, start_ms: int = START_MS, sensor: SensorKey = AIR) -> list[str]:
    rows = [flagged(sensor, start_ms + at * 1000, (200 + at) / 10) for at in range(count)]
    store.commit(batch(message(*rows)))
    tags = ",".join(
        f"{name}={text}" for name, text in (("node", sensor.node), ("probe", sensor.probe)) if text
    )
    return [
        f"{sensor.quantity},{tags},site=farm value={row.reading.value!r},flag=1i {row.reading.at_ms}"
        for row in rows
    ]


def _readings(stub: ArchiveStub) -> set[str]:
    """What came of readings; the forwarder sends their hours too."""
    return {text for text in stub.points if not text.startswith("hourly,")}


def _until(condition: Callable[[], bool]) -> None:
    deadline = time.monotonic() + 20
    while not condition():
        assert time.monotonic() < deadline, "did not happen in time"
        time.sleep(0.01)


def _run(sender: ArchiveSender, most: int = 200) -> float:
    """Turn until there is something to wait for; gives how long."""
    for _ in range(most):
        wait = sender.step()
        if wait:
            return wait
    raise AssertionError("never came to rest")


def test_every_reading_reaches_the_server_once(
    archived: Store, stub: ArchiveStub, sender: ArchiveSender
) -> None:
    lines = _fill(archived, 120) + _fill(archived, 30, sensor=BIN)
    assert archived.archive_queue.status().waiting == 150
    _run(sender)
    assert stub.points == dict.fromkeys(lines, 1)
    assert stub.requests == [50, 50, 50]
    assert stub.queries[0] == {"org": ["farm"], "bucket": ["readings"], "precision": ["ms"]}
    status = archived.archive_queue.status()
    assert (status.waiting, status.oldest_waiting_ms, status.parked, status.last_error) == (0, None, 0, "")


def test_rows_go_when_the_server_had_time_to_write(archived: Store, sender: ArchiveSender) -> None:
    _fill(archived, 20)
    _run(sender)
    assert len(archived.archive_queue.after(0, 100)) == 20
    time.sleep(PACE.settle_s)
    _run(sender)
    assert archived.archive_queue.after(0, 100) == ()


def test_one_poisoned_point_is_found_parked_and_named(
    archived: Store, stub: ArchiveStub, sender: ArchiveSender
) -> None:
    lines = _fill(archived, 100)
    poison = lines[37]

    def answer(some: list[str]) -> Answer:
        told = json.dumps({"code": "invalid", "message": "unable to parse the point"})
        return (400, {}, told) if poison in some else takes_all(some)

    stub.answer = answer
    _run(sender)
    assert set(stub.points) == set(lines) - {poison}
    (parked,) = archived.archive_queue.parked()
    assert (parked.sensor, parked.at_ms, parked.value) == (AIR, START_MS + 37_000, 23.7)
    assert parked.reason == "unable to parse the point"
    status = archived.archive_queue.status()
    assert (status.waiting, status.parked) == (0, 1)
    assert len(stub.requests) <= 2 + 1 + 2 * 6 + 1


@pytest.mark.parametrize("status", [413, 422])
def test_other_refusals_of_data_are_halved_too(
    archived: Store, stub: ArchiveStub, sender: ArchiveSender, status: int
) -> None:
    lines = _fill(archived, 10)
    stub.answer = lambda some: (status, {}, "no") if lines[3] in some else takes_all(some)
    _run(sender)
    assert set(stub.points) == set(lines) - {lines[3]}
    assert archived.archive_queue.status().parked == 1


def test_too_much_at_once_is_sent_in_smaller_pieces(
    archived: Store, stub: ArchiveStub, sender: ArchiveSender
) -> None:
    lines = _fill(archived, 50)
    stub.answer = lambda some: (413, {}, "too large") if len(some) > 13 else takes_all(some)
    _run(sender)
    assert stub.points == dict.fromkeys(lines, 1)
    assert archived.archive_queue.status().parked == 0


def test_a_server_that_refuses_everything_parks_nothing(
    archived: Store, stub: ArchiveStub, sender: ArchiveSender
) -> None:
    _fill(archived, 20)
    stub.answer = lambda _some: (400, {}, "precision unknown")
    assert _run(sender) == PACE.person_delay_s
    status = archived.archive_queue.status()
    assert (status.waiting, status.parked) == (20, 0)
    assert "refuses every reading (precision unknown)" in status.last_error
    assert status.trouble is not None
    french = Localizer.plain("fr", UTC, 0).sentence(status.trouble)
    assert french.startswith("le serveur d’archive refuse chaque mesure (precision unknown)")


def test_trouble_that_an_older_version_kept_stands_for_itself(archived: Store) -> None:
    archived.archive_queue.failed(0, "the server said no")
    status = archived.archive_queue.status()
    assert (status.trouble, status.last_error) == (Sentence("the server said no"), "the server said no")


@pytest.mark.parametrize(
    ("status", "text"), [(401, "does not know the token"), (403, "may not write"), (404, "create the bucket")]
)
def test_what_a_person_has_to_mend(
    archived: Store, stub: ArchiveStub, sender: ArchiveSender, status: int, text: str
) -> None:
    lines = _fill(archived, 5)
    stub.answer = lambda _some: (status, {}, "no")
    assert _run(sender) == PACE.person_delay_s
    told = archived.archive_queue.status()
    assert text in told.last_error and "secret" not in told.last_error
    assert (told.waiting, told.parked) == (5, 0)
    assert told.oldest_waiting_ms == START_MS
    stub.answer = takes_all
    _run(sender)
    assert set(stub.points) == set(lines)
    assert archived.archive_queue.status().last_error == ""


@pytest.mark.parametrize("status", [429, 503])
def test_retry_after_is_honoured(
    archived: Store, stub: ArchiveStub, sender: ArchiveSender, status: int
) -> None:
    _fill(archived, 5)
    stub.answer = lambda _some: (status, {"Retry-After": "17"}, "busy")
    assert _run(sender) == 17.0
    assert archived.archive_queue.status().parked == 0


def test_delays_grow_to_their_limit(archived: Store, stub: ArchiveStub, sender: ArchiveSender) -> None:
    _fill(archived, 5)
    stub.answer = lambda _some: (503, {}, "busy")
    waits = [sender.step() for _ in range(8)]
    for number, wait in enumerate(waits):
        full = min(PACE.first_delay_s * 2**number, PACE.longest_delay_s)
        assert full / 2 <= wait <= full


def test_a_server_that_is_gone_is_sent_all_that_it_may_have_lost(
    archived: Store, stub: ArchiveStub, patient: ArchiveSender
) -> None:
    lines = _fill(archived, 60)
    _run(patient)
    stub.close()
    later = _fill(archived, 1, START_MS + 9_000_000)
    assert 0 < _run(patient) <= PACE.longest_delay_s
    status = archived.archive_queue.status()
    assert status.waiting == 61 and "does not answer" in status.last_error
    second = ArchiveStub()
    client = ArchiveClient(_settings(second.url))
    _run(ArchiveSender(archived.archive_queue, client, 50, "farm", PACE))
    client.close()
    assert set(second.points) == {*lines, *later}
    second.close()


def test_a_quiet_forwarder_notices_that_the_server_went(
    archived: Store, stub: ArchiveStub, patient: ArchiveSender
) -> None:
    _fill(archived, 10)
    _run(patient)
    stub.close()
    patient.step()
    assert archived.archive_queue.status().waiting == 10


def test_a_new_start_goes_on_where_the_store_says(
    archived: Store, stub: ArchiveStub, sender: ArchiveSender
) -> None:
    _fill(archived, 20)
    _run(sender)
    time.sleep(PACE.settle_s)
    _run(sender)
    stub.points.clear()
    more = _fill(archived, 5, START_MS + 9_000_000)
    client = ArchiveClient(_settings(stub.url))
    _run(ArchiveSender(archived.archive_queue, client, 50, "farm", PACE))
    client.close()
    assert set(stub.points) == set(more)


def test_readings_from_before_the_archive_are_sent_too(tmp_path: Path, stub: ArchiveStub) -> None:
    path = tmp_path / "rearing.sqlite"
    with Store.open(path) as store:
        lines = _fill(store, 130) + _fill(store, 20, sensor=BIN)
        assert store.archive_queue.status().waiting == 0
    with Store.open(path, archive=True) as store:
        lines += _fill(store, 3, START_MS + 9_000_000)
        client = ArchiveClient(_settings(stub.url))
        sender = ArchiveSender(store.archive_queue, client, 50, "farm", PACE)
        _run(sender)
        client.close()
    assert set(stub.points) == set(lines)


def test_what_cannot_be_a_value_is_not_sent(archived: Store) -> None:
    archived.commit(batch(message(flagged(AIR, START_MS, float("nan")))))
    assert archived.archive_queue.status().waiting == 0


def test_the_forwarder_runs_beside_the_service_and_stops(archived: Store, stub: ArchiveStub) -> None:
    forwarder = ArchiveForwarder(archived.path, _settings(stub.url), "farm", PACE)
    forwarder.start()
    lines = [text for turn in range(10) for text in _fill(archived, 30, START_MS + turn * 1_000_000)]
    _until(lambda: _readings(stub) == set(lines))
    _until(lambda: archived.archive_queue.after(0, 1) == ())
    assert forwarder.status().waiting == 0
    forwarder.stop()
    _fill(archived, 1, START_MS + 99_000_000)
    assert forwarder.status().waiting == 1


def test_trouble_with_the_store_is_said_and_ends_nothing(tmp_path: Path, stub: ArchiveStub) -> None:
    path = tmp_path / "rearing.sqlite"
    pace = Pace(poll_s=0.02, settle_s=0.05, person_delay_s=0.2)
    forwarder = ArchiveForwarder(path, _settings(stub.url), "farm", pace)
    forwarder.start()
    _until(lambda: "there is no database here" in str(forwarder._trouble))
    with Store.open(path, archive=True) as store:
        lines = _fill(store, 5)
        _until(lambda: _readings(stub) == set(lines))
        _until(lambda: forwarder.status().last_error == "")
    forwarder.stop()


@pytest.mark.parametrize(
    ("sensor", "expected"),
    [
        (SensorKey("node-1", "", "light"), r"light,node=node-1,site=a\ farm value=25.0,flag=3i 7"),
        (SensorKey("n,1", "p=2", "a b"), r"a\ b,node=n\,1,probe=p\=2,site=a\ farm value=25.0,flag=3i 7"),
        (SensorKey("n\\", "\n", "q"), r"q,node=n,site=a\ farm value=25.0,flag=3i 7"),
    ],
)
def test_lines_escape_what_would_end_a_tag(sensor: SensorKey, expected: str) -> None:
    assert line("a farm", QueuedReading(1, sensor, 7, 25.0, int(Flag.SUSPECT))) == expected


@pytest.mark.parametrize(
    ("header", "expected"),
    [
        (None, None),
        ("12", 12.0),
        ("-3", 0.0),
        ("999999", 3600.0),
        ("soon", None),
        ("nan", None),
        ("Thu, 01 Jan 1970 00:01:40 GMT", 90.0),
        ("Thu, 01 Jan 1970 00:00:01 GMT", 0.0),
    ],
)
def test_retry_after_in_both_forms(header: str | None, expected: float | None) -> None:
    assert retry_after_s(header, 10_000) == expected


@pytest.mark.parametrize(
    ("status", "verdict"),
    [
        (400, Verdict.REFUSED_DATA),
        (401, Verdict.NEEDS_PERSON),
        (404, Verdict.NEEDS_PERSON),
        (429, Verdict.LATER),
        (500, Verdict.LATER),
        (0, Verdict.LATER),
    ],
)
def test_answers_are_judged(status: int, verdict: Verdict) -> None:
    assert judge(status, "", None, 0).verdict is verdict
