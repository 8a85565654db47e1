"""What the server took is read back: gaps are found and filled, and what cannot be filled is said."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from archive_twin import ArchiveTwin
from store_samples import AIR, BIN, START_MS, batch, flagged, message

from monitor.archive import sender as sender_module
from monitor.archive.client import ArchiveClient
from monitor.archive.read_back import AGAIN_S, EARLY_MS, MARGIN_MS, SPREAD_MS, UNREADABLE_S, ReadBack
from monitor.archive.reader import ArchiveReader
from monitor.archive.sender import ArchiveSender, Pace
from monitor.errors import ArchiveUnreachable
from monitor.records import MS_PER_DAY, MS_PER_HOUR, MS_PER_MINUTE, Flag, SensorKey
from monitor.settings.schema import ArchiveSettings
from monitor.store import Store
from monitor.store.archive_queue import ArchiveStatus, Proof

PACE = Pace(poll_s=0.01, settle_s=0.0, first_delay_s=0.02, longest_delay_s=0.1)


class Farm:
    """A store, an archive, a sender that reads back, and clocks that stand still."""

    def __init__(self, store: Store, twin: ArchiveTwin) -> None:
        self.store, self.twin = store, twin
        self.now_ms, self.now_s = START_MS, 0.0
        self.client = ArchiveClient(ArchiveSettings(url=twin.url, bucket="readings"))
        self.begin()

    def begin(self) -> None:
        """As after a start of the service."""
        queue = self.store.archive_queue
        self.read_back = ReadBack(
            queue, self.store.readings, self.reader, "farm", lambda: self.now_s, spread_ms=0
        )
        self.sender = ArchiveSender(queue, self.client, 500, "farm", PACE, read_back=self.read_back)

    def reader(self) -> ArchiveReader:
        return self.twin.memory

    def measure(self, hours: float, sensor: SensorKey = AIR, since_ms: int | None = None) -> int:
        """A reading a minute from a moment on (now); gives how many."""
        start_ms = self.now_ms if since_ms is None else since_ms
        rows = [
            flagged(
                sensor,
                start_ms + at * MS_PER_MINUTE,
                20.0 + at % 500 / 50,
                Flag.SUSPECT if at % 7 == 0 else Flag.PASS,
            )
            for at in range(round(hours * 60))
        ]
        self.store.commit(batch(message(*rows), now_ms=start_ms))
        return len(rows)

    def pass_time(self, hours: float) -> None:
        self.now_ms += round(hours * MS_PER_HOUR)
        self.now_s += hours * 3600

    def run(self, rests: int = 12) -> ArchiveStatus:
        """Until it has come to rest so many times."""
        for _ in range(3000):
            if self.sender.step():
                rests -= 1
                if not rests:
                    return self.store.archive_queue.status()
        raise AssertionError("never came to rest")

    def held(self) -> int:
        found = self.twin.memory.readings("farm", 0, 2**50)
        return sum(len(each) for each in found)


@pytest.fixture
def farm(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Farm]:
    twin = ArchiveTwin()
    with Store.open(tmp_path / "rearing.sqlite", archive=True) as store:
        made = Farm(store, twin)
        monkeypatch.setattr(sender_module, "_now_ms", lambda: made.now_ms)
        yield made
        made.client.close()
    twin.close()


def test_all_is_compared_once_its_hour_is_over(farm: Farm) -> None:
    farm.measure(2.5)
    farm.pass_time(2.5)
    assert farm.run().proof == Proof(checked_ms=START_MS + 2 * MS_PER_HOUR)
    farm.pass_time(0.5)
    assert farm.run().proof.checked_ms == START_MS + 2 * MS_PER_HOUR, "some take their time to come"
    farm.pass_time(0.05)
    status = farm.run()
    assert status.proof == Proof(checked_ms=START_MS + 3 * MS_PER_HOUR)
    assert (status.waiting, status.behind_since_ms, farm.held()) == (0, None, 150)


def test_sites_do_not_all_ask_at_the_same_minute(farm: Farm) -> None:
    queue, readings = farm.store.archive_queue, farm.store.readings
    margins = {ReadBack(queue, readings, farm.reader, f"site-{at}")._margin_ms for at in range(200)}
    assert len(margins) > 190
    assert min(margins) >= MARGIN_MS and max(margins) < MARGIN_MS + SPREAD_MS
    assert max(margins) - min(margins) > 0.9 * SPREAD_MS


def test_a_gap_is_found_and_filled(farm: Farm) -> None:
    count = farm.measure(5) + farm.measure(5, BIN)
    lost = {f" {START_MS + at * MS_PER_MINUTE}" for at in (*range(70, 95), 299)}
    farm.twin.lossy = set(lost)
    farm.pass_time(6)
    farm.sender.step(), farm.sender.step()
    assert farm.held() == count - 2 * len(lost)
    farm.twin.lossy = set()
    status = farm.run()
    assert farm.held() == count
    assert status.proof == Proof(checked_ms=START_MS + 5 * MS_PER_HOUR, filled=2 * len(lost))
    assert (status.waiting, status.behind_since_ms) == (0, None)


def test_another_value_or_flag_in_the_archive_is_seen(farm: Farm) -> None:
    farm.measure(1)
    farm.run()
    memory = farm.twin.memory
    memory.write_reading("farm", AIR, START_MS + 5 * MS_PER_MINUTE, 99.0)
    memory.write_reading("farm", AIR, START_MS + 7 * MS_PER_MINUTE, 20.14, 4)
    farm.pass_time(2)
    assert farm.run().proof.filled == 2


def test_what_is_not_there_after_the_second_time_either_is_said_and_alarms(farm: Farm) -> None:
    farm.measure(5)
    farm.twin.lossy = {f" {START_MS + at * MS_PER_MINUTE}" for at in range(70, 95)}
    farm.pass_time(6)
    status = farm.run()
    proof = status.proof
    assert (proof.missing, proof.filled) == (25, 0)
    assert (proof.missing_from_ms, proof.missing_to_ms) == (
        START_MS + 70 * MS_PER_MINUTE,
        START_MS + 94 * MS_PER_MINUTE,
    )
    assert status.behind_since_ms == proof.missing_since_ms == farm.now_ms
    assert proof.checked_ms == START_MS + 5 * MS_PER_HOUR, "the others are compared all the same"
    taken = len(farm.twin.requests)
    farm.pass_time(0.5)
    farm.run()
    assert len(farm.twin.requests) <= taken + 1, "it is not sent again and again"


@pytest.mark.parametrize("starts_anew", [False, True])
def test_what_was_missing_is_looked_for_each_day(farm: Farm, starts_anew: bool) -> None:
    farm.measure(5)
    farm.twin.lossy = {f" {START_MS + at * MS_PER_MINUTE}" for at in range(70, 95)}
    farm.pass_time(6)
    since_ms = farm.run().proof.missing_since_ms
    if starts_anew:
        farm.begin()
    for _ in range(3):
        farm.now_s += AGAIN_S
        if starts_anew:
            farm.sender.step()  # and ends in the middle of it
            farm.begin()
        proof = farm.run().proof
        assert (proof.missing, proof.missing_since_ms) == (25, since_ms)
    farm.twin.lossy = set()
    farm.now_s += AGAIN_S
    status = farm.run()
    assert (status.proof.missing, status.proof.filled, status.behind_since_ms) == (0, 25, None)
    assert farm.held() == 300


def test_an_archive_that_keeps_less_says_from_when_on(farm: Farm) -> None:
    farm.measure(24)
    farm.twin.lossy = {f"1i {START_MS + at * MS_PER_MINUTE}" for at in range(9 * 60)}
    farm.twin.lossy |= {f"3i {START_MS + at * MS_PER_MINUTE}" for at in range(9 * 60)}
    farm.pass_time(EARLY_MS / MS_PER_HOUR + 30)
    proof = farm.run(40).proof
    assert (proof.begins_ms, proof.missing) == (START_MS + 9 * MS_PER_HOUR, 0)
    assert proof.checked_ms is not None and proof.checked_ms >= START_MS + MS_PER_DAY


@pytest.mark.parametrize("minutes", [1, 59, 60, 100, 179, 180, 181, 9 * 60 + 7])
def test_what_is_older_than_the_archive_is_not_missing(farm: Farm, minutes: int) -> None:
    farm.measure(24)
    farm.measure(24, BIN)
    farm.twin.lossy = {f"{flag}i {START_MS + at * MS_PER_MINUTE}" for flag in (1, 3) for at in range(minutes)}
    farm.pass_time(EARLY_MS / MS_PER_HOUR + 30)
    status = farm.run(40)
    assert (status.proof.begins_ms, status.proof.missing) == (START_MS + minutes * MS_PER_MINUTE, 0)
    assert status.behind_since_ms is None
    assert farm.held() == 2 * (24 * 60 - minutes)


def test_readings_from_before_the_archive_that_come_late_are_not_missing_either(farm: Farm) -> None:
    farm.measure(3, AIR, START_MS + 100 * MS_PER_HOUR)
    farm.pass_time(EARLY_MS / MS_PER_HOUR + 200)
    farm.run()
    farm.twin.lossy = {f" {START_MS + at * MS_PER_MINUTE}" for at in range(20 * 60)}
    farm.measure(20, BIN, START_MS)
    status = farm.run(40)
    assert (status.proof.begins_ms, status.proof.missing) == (START_MS + 21 * MS_PER_HOUR, 0)


def test_a_gap_amid_older_readings_stays_a_gap_however_old(farm: Farm) -> None:
    farm.measure(12)
    farm.twin.lossy = {f" {START_MS + at * MS_PER_MINUTE}" for at in range(6 * 60, 9 * 60)}
    farm.pass_time(EARLY_MS / MS_PER_HOUR + 30)
    farm.run(30)
    farm.now_s += AGAIN_S
    proof = farm.run(30).proof
    assert (proof.begins_ms, proof.missing) == (None, 180)


def test_an_archive_that_keeps_nothing_of_now_is_no_archive(farm: Farm) -> None:
    farm.measure(3)
    farm.twin.lossy = {"air_temperature"}
    farm.pass_time(4)
    status = farm.run()
    assert (status.proof.begins_ms, status.proof.missing) == (None, 180)
    assert status.behind_since_ms == farm.now_ms


def test_late_readings_are_compared_too(farm: Farm) -> None:
    farm.measure(5)
    farm.pass_time(10)
    farm.run()
    farm.twin.lossy = {"bin1"}
    farm.measure(1, BIN, START_MS + MS_PER_HOUR)
    farm.sender.step()
    farm.twin.lossy = set()
    assert farm.run().proof.filled == 60
    assert farm.held() == 360


def test_what_is_parked_is_known_not_to_be_there(farm: Farm) -> None:
    farm.measure(2)
    wrong = f" {START_MS + 3 * MS_PER_MINUTE}"
    farm.twin.answer = lambda lines: (
        (400, {}, "no") if any(wrong in each for each in lines) else (204, {}, "")
    )
    farm.pass_time(3)
    status = farm.run()
    assert (status.parked, status.proof.missing, status.proof.filled) == (1, 0, 0)


def test_an_archive_that_cannot_be_read_says_so_and_is_asked_each_hour(
    farm: Farm, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[float] = []

    def refused() -> ArchiveReader:
        asked.append(farm.now_s)
        raise ArchiveUnreachable("nobody there")

    monkeypatch.setattr(farm, "reader", refused)
    farm.begin()
    farm.measure(2)
    farm.pass_time(3)
    status = farm.run()
    assert status.proof.unreadable is not None and status.proof.unreadable.text == "nobody there"
    assert (len(asked), status.waiting, status.behind_since_ms) == (1, 0, None)
    farm.now_s += UNREADABLE_S
    farm.run()
    assert len(asked) == 2
    monkeypatch.undo()
    farm.begin()
    monkeypatch.setattr(sender_module, "_now_ms", lambda: farm.now_ms)
    assert farm.run().proof == Proof(checked_ms=START_MS + 2 * MS_PER_HOUR)


def test_a_clock_that_was_ahead_hides_nothing(farm: Farm) -> None:
    farm.store.archive_queue.keep_proof(Proof(checked_ms=START_MS + 1000 * MS_PER_DAY))
    farm.begin()
    farm.measure(2)
    farm.pass_time(3)
    assert farm.run().proof.checked_ms == START_MS + 2 * MS_PER_HOUR


def test_what_was_found_is_kept_over_a_start(farm: Farm) -> None:
    proof = Proof(1, 2, 3, 4, 5, 6, 7, ArchiveUnreachable("the archive server does not answer").said)
    farm.store.archive_queue.keep_proof(proof)
    assert farm.store.archive_queue.proof() == proof
    assert replace(proof, unreadable=None) == Proof(1, 2, 3, 4, 5, 6, 7)


def test_while_readings_wait_nothing_of_their_time_is_compared(farm: Farm) -> None:
    farm.measure(2)
    farm.pass_time(2.5)
    farm.run()
    compared_ms = farm.store.archive_queue.proof().checked_ms
    farm.twin.answer = lambda _lines: (503, {}, "busy")
    farm.measure(1)
    farm.pass_time(3)
    farm.run()
    assert farm.store.archive_queue.proof().checked_ms == compared_ms
