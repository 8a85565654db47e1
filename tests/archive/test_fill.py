"""A database filled from the archive: the same readings and hours, whatever ended it in between."""

from __future__ import annotations

import random
import time
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import Any

import pytest
from archive_memory import MemoryArchive
from store_samples import AIR, BIN, START_MS, batch, flagged, message
from victoria_server import victoria

from monitor.archive import fill as filling
from monitor.archive.access import ReadAccess, open_reader
from monitor.archive.fill import fill
from monitor.archive.forwarder import ArchiveForwarder, Pace
from monitor.archive.reader import SensorReadings
from monitor.errors import ArchiveUnreachable
from monitor.records import MS_PER_DAY, MS_PER_HOUR, QUANTITIES, Flag, SensorKey
from monitor.settings.schema import ArchiveSettings
from monitor.store import Store, nodes
from monitor.store.connection import Database
from monitor.store.reading_writer import PRUNED_BEFORE

SITE = "farm"
SENSORS = (AIR, BIN, SensorKey("node-2", "", "light"), SensorKey("node-3", "x", "own_kind"))
END_MS = START_MS + 400 * MS_PER_DAY
Rows = list[tuple[Any, ...]]


_VALUES: tuple[Callable[[random.Random], float], ...] = (
    lambda rng: rng.uniform(-40, 60),
    lambda rng: rng.uniform(0, 1),
    lambda rng: rng.uniform(0, 1e7),
    lambda rng: float(rng.randrange(0, 100)),
)


def _wait_for(condition: Callable[[], bool]) -> None:
    deadline = time.monotonic() + 60
    while not condition():
        assert time.monotonic() < deadline, "did not happen in time"
        time.sleep(0.02)


@pytest.fixture
def truth(tmp_path: Path) -> Iterator[Store]:
    """A store with eight days of readings, of which some came late and some are flagged."""
    with Store.open(tmp_path / "truth.sqlite") as store:
        rng = random.Random(7)
        times = rng.sample(range(START_MS, START_MS + 8 * MS_PER_DAY), 900)
        for start in range(0, len(times), 30):
            rows = [
                flagged(rng.choice(SENSORS), at_ms, rng.randrange(-3000, 9000) / 100, _flag(rng))
                for at_ms in sorted(times[start : start + 30])
            ]
            store.commit(batch(message(*rows)))
        yield store


def _flag(rng: random.Random) -> Flag:
    return rng.choice([Flag.PASS, Flag.PASS, Flag.NOT_EVALUATED, Flag.SUSPECT, Flag.FAIL, Flag.MISSING])


@pytest.fixture
def empty(tmp_path: Path) -> Iterator[Store]:
    with Store.open(tmp_path / "new.sqlite") as store:
        yield store


def _archived(store: Store, archive: MemoryArchive | None = None) -> MemoryArchive:
    """What a store holds, in an archive."""
    archive = archive or MemoryArchive()
    for sensor in store.readings.sensors():
        for at_ms, value, flag in store.readings.iterate(sensor, 0, END_MS):
            archive.write_reading(SITE, sensor, at_ms, value, flag)
    return archive


def _readings(store: Store) -> Rows:
    return store.database.rows(
        "SELECT node, probe, quantity, per_unit, at_ms, value, flag "
        "FROM reading JOIN sensor USING(sensor_id) ORDER BY 1, 2, 3, 5"
    )


def _hours(store: Store) -> Rows:
    return store.database.rows(
        "SELECT node, probe, quantity, hour, count, minimum, total, maximum, flagged "
        "FROM hourly JOIN sensor USING(sensor_id) ORDER BY 1, 2, 3, 4"
    )


def _fill(store: Store | Database, archive: MemoryArchive, since_ms: int | None = None) -> filling.Filled:
    database = store.database if isinstance(store, Store) else store
    return fill(database, archive, SITE, since_ms, END_MS, pauses_s=())


def _same(store: Store, truth: Store) -> None:
    assert _readings(store) == _readings(truth)
    assert _hours(store) == _hours(truth)


class Counting(MemoryArchive):
    """Remembers which windows were asked for; ends after so many."""

    def __init__(self, archive: MemoryArchive, most: int = 10**9) -> None:
        self.__dict__.update(archive.__dict__)
        self.windows: list[tuple[int, int]] = []
        self.most = most

    def readings(
        self, site: str, start_ms: int, end_ms: int, sensors: Iterable[SensorKey] | None = None
    ) -> Iterator[SensorReadings]:
        self.windows.append((start_ms, end_ms))
        if len(self.windows) > self.most:
            raise ArchiveUnreachable("the archive server does not answer")
        return super().readings(site, start_ms, end_ms, sensors)

    def span(self, site: str, start_ms: int, end_ms: int) -> tuple[int, int] | None:
        found = [series.at_ms for series in super().readings(site, start_ms, end_ms)]
        return (min(int(at[0]) for at in found), max(int(at[-1]) for at in found)) if found else None


def test_an_empty_database_becomes_the_same_as_the_one_that_was_lost(truth: Store, empty: Store) -> None:
    filled = _fill(empty, _archived(truth))
    _same(empty, truth)
    newest_ms = max(row[4] for row in _readings(truth))
    assert filled == filling.Filled(900, 900, len(SENSORS), newest_ms, None)


def test_a_second_time_changes_nothing(truth: Store, empty: Store) -> None:
    archive = _archived(truth)
    _fill(empty, archive)
    again = _fill(empty, archive)
    assert (again.read, again.stored) == (900, 0)
    _same(empty, truth)


def test_what_lacks_is_put_between_what_is_there(truth: Store, empty: Store) -> None:
    """The night's copy, what the boards sent since, and holes in both."""
    rng = random.Random(11)
    kept = [row for row in _readings(truth) if rng.random() < 0.5]
    rows = [flagged(SensorKey(*row[:3]), row[4], row[5] / row[3], Flag(row[6])) for row in kept]
    empty.commit(batch(message(*rows)))
    assert _fill(empty, _archived(truth)).stored == 900 - len(kept)
    _same(empty, truth)


def test_what_is_stored_is_never_changed(truth: Store, empty: Store) -> None:
    sensor, at_ms, value, _ = next(
        (sensor, at_ms, value, flag)
        for sensor in truth.readings.sensors()
        for at_ms, value, flag in truth.readings.iterate(sensor, 0, END_MS)
    )
    empty.commit(batch(message(flagged(sensor, at_ms, value + 1, Flag.SUSPECT))))
    _fill(empty, _archived(truth))
    series = empty.readings.series(sensor, at_ms, at_ms + 1)
    assert (series.value.tolist(), series.flag.tolist()) == ([pytest.approx(value + 1)], [Flag.SUSPECT])


@pytest.mark.parametrize("most", [0, 1, 2])
def test_one_that_was_broken_off_goes_on_where_it_was(truth: Store, empty: Store, most: int) -> None:
    archive = _archived(truth)
    broken = Counting(archive, most)
    with pytest.raises(ArchiveUnreachable):
        _fill(empty, broken)
    rest = Counting(archive)
    filled = _fill(empty, rest)
    _same(empty, truth)
    done_ms = broken.windows[most - 1][1] if most else None
    assert filled.resumed_ms == done_ms
    assert rest.windows[0][0] == (done_ms or broken.windows[0][0])
    assert filled.stored < 900 or most == 0


def test_a_finished_one_leaves_no_place_to_go_on_from(truth: Store, empty: Store) -> None:
    """What came late into the archive is found by the next one."""
    archive = _archived(truth)
    _fill(empty, archive)
    archive.write_reading(SITE, AIR, START_MS + 5, 33.5)
    filled = _fill(empty, archive)
    assert (filled.stored, filled.resumed_ms) == (1, None)


def test_where_an_older_one_ended_is_no_place_to_begin_a_newer_one(truth: Store, empty: Store) -> None:
    archive = _archived(truth)
    with pytest.raises(ArchiveUnreachable):
        _fill(empty, Counting(archive, 1))
    later = Counting(archive)
    assert fill(empty.database, later, "another", None, END_MS, pauses_s=()).resumed_ms is None
    with pytest.raises(ArchiveUnreachable):
        _fill(empty, Counting(archive, 1), START_MS + MS_PER_DAY)
    assert _fill(empty, later, START_MS).resumed_ms is None
    _same(empty, truth)


def test_a_fault_at_any_row_leaves_whole_windows(
    truth: Store, empty: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    """At random moments of the write: what is in the database is always some windows, hours included."""
    archive, rng = _archived(truth), random.Random(3)
    before = nodes.was_heard
    for _ in range(12):
        left = [rng.randrange(1, 2 * len(SENSORS))]

        def breaks(*arguments: Any, left: list[int] = left) -> None:
            left[0] -= 1
            if left[0] == 0:
                raise MemoryError
            before(*arguments)

        with monkeypatch.context() as patch, pytest.raises(MemoryError):
            patch.setattr(nodes, "was_heard", breaks)
            for _ in range(3):
                _fill(empty, archive)
        with Store.open(empty.path.with_name("part.sqlite")) as part:
            end_ms = 1 + max([0, *(row[4] for row in _readings(empty))])
            fill(part.database, archive, SITE, None, end_ms, pauses_s=())
            _same(part, empty)
        empty.path.with_name("part.sqlite").unlink()
    _fill(empty, archive)
    _same(empty, truth)


def test_the_same_question_is_put_again_where_no_answer_comes(
    truth: Store, empty: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    class Patchy(Counting):
        def readings(
            self, site: str, start_ms: int, end_ms: int, sensors: Iterable[SensorKey] | None = None
        ) -> Iterator[SensorReadings]:
            self.most = 10**9 if len(self.windows) % 3 == 2 else 0
            return super().readings(site, start_ms, end_ms, sensors)

    waited: list[float] = []
    monkeypatch.setattr(time, "sleep", waited.append)
    archive = Patchy(_archived(truth))
    fill(empty.database, archive, SITE, None, END_MS)
    _same(empty, truth)
    assert waited == [2.0, 10.0] * (len(archive.windows) // 3)


def test_hours_that_were_summed_up_and_pruned_stay_as_they_are(truth: Store) -> None:
    archive, hours = _archived(truth), _hours(truth)
    day_ms = (START_MS // MS_PER_DAY + 2) * MS_PER_DAY
    assert truth.prune(day_ms + MS_PER_DAY, 1) > 0
    pruned = _readings(truth)
    new_ms = START_MS + 90
    archive.write_reading(SITE, SensorKey("node-9", "", "light"), new_ms, 7.0)
    _fill(truth, archive)
    assert [row for row in _readings(truth) if row[0] != "node-9"] == pruned
    assert [row for row in _hours(truth) if row[0] != "node-9"] == hours
    assert [row[4] for row in _readings(truth) if row[0] == "node-9"] == [new_ms]
    assert len(_hours(truth)) == len(hours) + 1


def test_an_hour_that_is_pruned_in_part_keeps_its_sum(empty: Store) -> None:
    """A kill in the middle of the pruning leaves some of its readings; the summary is of all of them."""
    minutes = [START_MS + minute * 60_000 for minute in range(120)]
    empty.commit(batch(message(*(flagged(AIR, at_ms, 20.5) for at_ms in minutes))))
    archive = _archived(empty)
    archive.write_reading(SITE, AIR, START_MS - 5, 10.5)
    archive.write_reading(SITE, AIR, minutes[-1] + 5, 30.5)
    empty.meta.put(PRUNED_BEFORE, str(START_MS + MS_PER_HOUR))
    empty.database.change("DELETE FROM reading WHERE at_ms < ?", (minutes[30],))
    assert _fill(empty, archive).stored == 2
    hours = empty.summaries.hours(AIR, START_MS - MS_PER_HOUR, END_MS)
    assert [(hour.count, hour.minimum, hour.maximum) for hour in hours] == [
        (1, 10.5, 10.5),
        (60, 20.5, 20.5),
        (61, 20.5, 30.5),
    ]
    assert len(_readings(empty)) == 92


def test_what_no_database_would_hold_is_left_out(empty: Store) -> None:
    archive = MemoryArchive()
    for number, value in enumerate((20.5, 1e300, -1e12, 21.5)):
        archive.write_reading(SITE, AIR, START_MS + number, value)
    filled = _fill(empty, archive)
    assert (filled.read, filled.stored) == (4, 2)
    assert empty.readings.series(AIR, 0, END_MS).value.tolist() == [20.5, 21.5]


def test_boards_were_heard_when_they_measured(truth: Store, empty: Store) -> None:
    archive = _archived(truth)
    empty.commit(batch(message(flagged(AIR, END_MS, 20.5), received_ms=END_MS)))
    _fill(empty, archive)
    times: dict[str, list[int]] = {}
    for row in _readings(empty):
        times.setdefault(row[0], []).append(row[4])
    heard = {facts.node: (facts.first_heard_ms, facts.last_heard_ms) for facts in empty.nodes.every()}
    assert heard == {node: (min(at), max(at)) for node, at in times.items()}
    assert all(facts.messages == 1 for facts in empty.nodes.every()), "none counts as never heard"


def test_a_service_that_writes_meanwhile_counts_nothing_twice(truth: Store, empty: Store) -> None:
    """It remembers the newest time of each sensor; what was filled in is newer than that."""
    archive = _archived(truth)
    empty.commit(batch(message(flagged(AIR, START_MS - 5, 20.5))))
    with Store.open(empty.path) as other:
        _fill(other, archive)
    rows = [
        flagged(sensor, at_ms, value, flag)
        for sensor in truth.readings.sensors()
        for at_ms, value, flag in truth.readings.iterate(sensor, 0, END_MS)
    ]
    result = empty.commit(batch(message(*rows)))
    assert (result.stored, result.duplicate_readings, result.conflicts) == (0, 900, 0)
    assert [row for row in _hours(empty) if row[3] != (START_MS - 5) // MS_PER_HOUR] == _hours(truth)


def test_what_came_from_the_archive_is_not_sent_there_again(truth: Store, tmp_path: Path) -> None:
    with Store.open(tmp_path / "new.sqlite", archive=True) as store:
        _fill(store, _archived(truth))
        assert store.archive_queue.queue_history(START_MS, 5000) == 0
        store.commit(batch(message(flagged(AIR, END_MS, 20.5))))
        assert store.archive_queue.status().waiting == 1


def test_what_was_there_before_the_archive_is_still_sent(truth: Store, tmp_path: Path) -> None:
    with Store.open(tmp_path / "new.sqlite") as store:
        store.commit(batch(message(flagged(AIR, START_MS - 5, 20.5))))
        _fill(store, _archived(truth))
    with Store.open(tmp_path / "new.sqlite", archive=True) as store:
        assert store.archive_queue.queue_history(START_MS, 5000) == 901


def test_windows_grow_over_empty_months_and_shrink_where_much_is(
    empty: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    archive = MemoryArchive()
    archive.write_reading(SITE, AIR, START_MS, 20.5)
    archive.write_reading(SITE, AIR, START_MS + 300 * MS_PER_DAY, 21.5)
    counting, told = Counting(archive), list[tuple[int, int]]()
    fill(empty.database, counting, SITE, None, END_MS, lambda *seen: told.append(seen), ())
    assert len(counting.windows) < 45
    assert all(
        end == start for (_, end), (start, _) in zip(counting.windows, counting.windows[1:], strict=False)
    )
    assert told == sorted(told) and told[-1][0] == told[-1][1]
    assert len(empty.readings.series(AIR, 0, END_MS)) == 2

    monkeypatch.setattr(filling, "_MANY", 0)
    for minute in range(0, 5 * 1440, 10):
        archive.write_reading(SITE, BIN, START_MS + minute * 60_000, 30.5)
    counting = Counting(archive)
    fill(empty.database, counting, SITE, START_MS, START_MS + 6 * MS_PER_DAY, pauses_s=())
    lengths = [end - start for start, end in counting.windows]
    assert max(lengths) <= MS_PER_DAY and min(lengths[:-1]) == MS_PER_HOUR


def test_nothing_in_the_archive_is_no_fault(empty: Store) -> None:
    assert _fill(empty, MemoryArchive()) == filling.Filled(0, 0, 0, None, None)


@pytest.mark.archive_server
@pytest.mark.parametrize("prefix", ["", "/select/0/prometheus"])
def test_all_that_was_written_to_a_real_server_comes_back(tmp_path: Path, prefix: str) -> None:
    """Every quantity, through the forwarder, VictoriaMetrics and back: values, times, flags and hours."""
    pytest.importorskip("influxdb_client", reason="the extra `archive` is not installed")
    rng = random.Random(13)
    sensors = [
        SensorKey(f"node-{number % 3}", "p" * (number % 2), name) for number, name in enumerate(QUANTITIES)
    ]
    with (
        victoria(tmp_path / "archive", prefix) as server,
        Store.open(tmp_path / "old.sqlite", archive=True) as old,
        Store.open(tmp_path / "new.sqlite") as new,
    ):
        for day in range(3):
            times = sorted(rng.sample(range(START_MS, START_MS + MS_PER_DAY), 60))
            rows = [
                flagged(sensor, day * MS_PER_DAY + at_ms, rng.choice(_VALUES)(rng), _flag(rng))
                for sensor in sensors
                for at_ms in times
            ]
            old.commit(batch(message(*rows)))
        settings = ArchiveSettings(url=server.url, bucket="readings")
        forwarder = ArchiveForwarder(old.path, settings, SITE, Pace(poll_s=0.05, settle_s=600.0))
        forwarder.start()
        reader = open_reader(ReadAccess(server.url))
        _wait_for(lambda: old.archive_queue.status().waiting == 0)
        forwarder.stop()
        server.write(())
        filled = fill(new.database, reader, SITE, None, END_MS)
        reader.close()
        assert filled.stored == 3 * 60 * len(sensors)
        _same(new, old)
