"""Readings, conflicts, hours against brute force, calibrations, late ones, retention."""

from __future__ import annotations

import itertools
import math
from collections import defaultdict
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from store_samples import AIR, BIN, START_MS, batch, flagged, message

from monitor.climate.calibration import CalibrationTable
from monitor.records import (
    MS_PER_DAY,
    MS_PER_HOUR,
    MS_PER_MINUTE,
    QUANTITIES,
    Calibration,
    Flag,
    FlaggedReading,
    SensorKey,
)
from monitor.store import Store
from monitor.store.readings import from_steps, per_unit, to_steps

ALL = (0, 2 * START_MS)


def _values(store: Store, sensor: SensorKey = AIR) -> list[tuple[int, float, int]]:
    series = store.readings.series(sensor, *ALL)
    return list(zip(series.at_ms.tolist(), series.value.tolist(), series.flag.tolist(), strict=True))


def test_what_goes_in_comes_out_in_the_order_of_time(store: Store) -> None:
    result = store.commit(
        batch(
            message(flagged(AIR, START_MS + 5, 25.126, Flag.SUSPECT), flagged(BIN, START_MS, 38.5)),
            message(flagged(AIR, START_MS - 70_000, -3.002)),
        )
    )
    assert (result.stored, result.duplicate_readings, result.conflicts) == (3, 0, 0)
    assert _values(store) == [(START_MS - 70_000, -3.002, 1), (START_MS + 5, 25.126, 3)]
    assert store.readings.sensors() == (AIR, BIN)


def test_the_end_of_a_span_does_not_belong_to_it(store: Store) -> None:
    store.commit(batch(message(*(flagged(AIR, START_MS + at, 20.0) for at in (0, 1, 2)))))
    assert store.readings.series(AIR, START_MS, START_MS + 2).at_ms.tolist() == [START_MS, START_MS + 1]


def test_an_unknown_sensor_has_empty_answers(store: Store) -> None:
    assert len(store.readings.series(AIR, *ALL)) == 0
    assert store.summaries.hours(AIR, *ALL) == ()
    assert list(store.readings.iterate(AIR, *ALL)) == []
    assert store.readings.latest(CalibrationTable()) == {}


@pytest.mark.parametrize("again", [20.0, 20.0004])
def test_the_same_reading_twice_is_one(store: Store, again: float) -> None:
    store.commit(batch(message(flagged(AIR, START_MS, 20.0))))
    result = store.commit(batch(message(flagged(AIR, START_MS, again))))
    assert (result.stored, result.duplicate_readings, result.conflicts) == (0, 1, 0)


def test_the_first_of_two_values_is_kept_and_the_conflict_counted(store: Store) -> None:
    result = store.commit(batch(message(flagged(AIR, START_MS, 20.0)), message(flagged(AIR, START_MS, 21.0))))
    assert (result.stored, result.duplicate_readings, result.conflicts) == (1, 1, 1)
    assert _values(store) == [(START_MS, 20.0, 1)]
    facts = store.nodes.one("node-1")
    assert facts is not None and facts.conflicts == 1


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf, 1e300, -1e300, 1e10])
def test_a_value_that_no_sensor_means_is_kept_as_failed(store: Store, value: float) -> None:
    store.commit(batch(message(flagged(AIR, START_MS, value))))
    ((at, kept, flag),) = _values(store)
    assert (at, math.isnan(kept), flag) == (START_MS, True, Flag.FAIL)
    (hour,) = store.summaries.hours(AIR, *ALL)
    assert (hour.count, hour.flagged, math.isnan(hour.mean)) == (0, 1, True)


@pytest.mark.parametrize("at_ms", [2**63, -(2**63) - 1, 10**30, -(10**30)])
def test_a_time_that_no_clock_shows_is_dropped(store: Store, at_ms: int) -> None:
    store.commit(batch(message(flagged(AIR, at_ms, 20.0), flagged(BIN, START_MS, 30.0))))
    assert (len(_values(store)), len(_values(store, BIN))) == (0, 1)


@given(value=st.floats(-1000, 1000), quantity=st.sampled_from(sorted(QUANTITIES)))
def test_a_value_comes_back_within_half_its_resolution(value: float, quantity: str) -> None:
    steps = per_unit(quantity)
    kept = from_steps(to_steps(value, steps), steps)
    assert abs(kept - value) <= QUANTITIES[quantity].resolution / 2 * (1 + 1e-9)


def test_another_writer_is_noticed(store: Store) -> None:
    store.commit(batch(message(flagged(AIR, START_MS, 20.0))))
    with Store.open(store.path, check=False) as other:
        other.commit(batch(message(flagged(AIR, START_MS + 1000, 20.5), flagged(BIN, START_MS, 30.0))))
    result = store.commit(batch(message(flagged(AIR, START_MS + 1000, 20.5), flagged(BIN, START_MS, 31.0))))
    assert (result.stored, result.duplicate_readings, result.conflicts) == (0, 2, 1)


def test_a_batch_that_fails_leaves_no_memory(store: Store) -> None:
    store.commit(batch(message(flagged(AIR, START_MS, 20.0))))
    wrong = batch(message(flagged(AIR, START_MS + 1, 21.0)), done_commands=((object(), "x"),))
    with pytest.raises(Exception, match="type"):
        store.commit(wrong)
    assert store.commit(batch(message(flagged(AIR, START_MS + 1, 21.0)))).stored == 1


_READINGS = st.lists(
    st.tuples(
        st.sampled_from([AIR, BIN]),
        st.integers(0, 5 * MS_PER_HOUR // 600_000).map(lambda step: START_MS + step * 600_000),
        st.integers(-20_000, 40_000).map(lambda steps: steps / 500),
        st.sampled_from(list(Flag)),
    ),
    max_size=40,
)


@given(readings=_READINGS, cuts=st.lists(st.integers(1, 40), max_size=6))
@settings(max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
def test_hours_equal_those_counted_by_hand(
    tmp_path_factory: pytest.TempPathFactory,
    readings: list[tuple[SensorKey, int, float, Flag]],
    cuts: list[int],
) -> None:
    """Whatever the order of arrival, the duplicates and the batches."""
    path = tmp_path_factory.mktemp("hours") / "rearing.sqlite"
    rows = [flagged(*row) for row in readings]
    edges = sorted({0, *(cut for cut in cuts if cut < len(rows)), len(rows)})
    with Store.open(path) as store:
        for first, last in itertools.pairwise(edges):
            store.commit(batch(message(*rows[first:last])))
        for sensor in (AIR, BIN):
            assert _hours(store, sensor) == _by_hand(rows, sensor)


def _hours(store: Store, sensor: SensorKey) -> dict[int, tuple[object, ...]]:
    return {
        hour.hour_ms: (hour.count, hour.flagged, *_rounded(hour.minimum, hour.mean, hour.maximum))
        for hour in store.summaries.hours(sensor, *ALL)
    }


def _by_hand(rows: list[FlaggedReading], sensor: SensorKey) -> dict[int, tuple[object, ...]]:
    first: dict[int, FlaggedReading] = {}
    for row in rows:
        if row.reading.sensor == sensor:
            first.setdefault(row.reading.at_ms, row)
    hours: dict[int, list[FlaggedReading]] = defaultdict(list)
    for at_ms, row in first.items():
        hours[at_ms // MS_PER_HOUR * MS_PER_HOUR].append(row)
    return {hour_ms: _hour_by_hand(inside) for hour_ms, inside in hours.items()}


def _hour_by_hand(rows: list[FlaggedReading]) -> tuple[object, ...]:
    good = [row.reading.value for row in rows if row.flag not in (Flag.FAIL, Flag.MISSING)]
    flagged_count = sum(row.flag in (Flag.SUSPECT, Flag.FAIL) for row in rows)
    values = (min(good), math.fsum(good) / len(good), max(good)) if good else (math.nan,) * 3
    return (len(good), flagged_count, *_rounded(*values))


def _rounded(*values: float) -> list[float | None]:
    return [None if math.isnan(value) else round(value, 6) for value in values]


def test_the_latest_of_each_sensor_comes_calibrated(store: Store) -> None:
    store.commit(batch(message(flagged(AIR, START_MS, 20.0), flagged(AIR, START_MS + 60_000, 21.0))))
    store.calibrations.add(Calibration(AIR, START_MS, slope=2.0, offset=-1.0))
    latest = store.readings.latest(store.calibrations.table())[AIR]
    assert (latest.reading.at_ms, latest.reading.value, latest.calibrated) == (START_MS + 60_000, 21.0, 41.0)


def test_a_calibration_holds_from_its_time_on(store: Store) -> None:
    store.commit(batch(message(*(flagged(AIR, START_MS + at, 10.0) for at in (0, 1, 2, 3)))))
    for start, slope, offset in ((1, 1.0, 0.5), (3, 2.0, 0.0), (3, 3.0, 0.0)):
        store.calibrations.add(Calibration(AIR, START_MS + start, slope, offset, "salt jar", START_MS))
    store.calibrations.add(Calibration(BIN, START_MS, 9.0))
    found = store.calibrations.table().of(AIR)
    assert [row.slope for row in found] == [1.0, 2.0, 3.0]
    series = store.readings.series(AIR, *ALL, calibrations=found)
    assert series.value.tolist() == [10.0, 10.5, 10.5, 30.0]
    assert [row[1] for row in _values(store)] == [10.0] * 4


def test_retention_deletes_readings_and_keeps_hours(store: Store) -> None:
    rows = [flagged(AIR, START_MS + at * MS_PER_HOUR // 20, 20.0) for at in range(12 * 24 * 20)]
    store.commit(batch(message(*rows)))
    before = store.summaries.hours(AIR, *ALL)
    now_ms = START_MS + 10 * MS_PER_DAY + 20 * MS_PER_HOUR + 17
    assert store.prune(now_ms, keep_raw_days=10) == 20 * 20
    assert store.prune(now_ms, keep_raw_days=10) == 0
    assert _values(store)[0][0] == START_MS + 20 * MS_PER_HOUR
    assert store.summaries.hours(AIR, *ALL) == before


def test_a_pruned_hour_is_not_counted_twice_but_an_older_import_is_taken(store: Store) -> None:
    rows = [flagged(AIR, START_MS + at * MS_PER_MINUTE, 20.0) for at in range(60)]
    later = [flagged(AIR, START_MS + day * MS_PER_DAY, 20.0) for day in range(10, 20)]
    store.commit(batch(message(*rows, *later)))
    store.prune(START_MS + 20 * MS_PER_DAY, keep_raw_days=7)
    again = store.commit(batch(message(*rows)))
    assert (again.stored, again.duplicate_readings) == (0, 60)
    older = [flagged(AIR, START_MS - MS_PER_DAY + at * MS_PER_MINUTE, 18.0) for at in range(60)]
    assert store.commit(batch(message(*older[:30]))).stored == 30
    assert store.commit(batch(message(*older))).stored == 30
    assert [hour.count for hour in store.summaries.hours(AIR, *ALL)][:2] == [60, 60]


def test_views_read_while_the_service_writes(store: Store) -> None:
    store.commit(batch(message(flagged(AIR, START_MS, 20.0))))
    with Store.read_only(store.path) as view, store.database.write() as connection:
        connection.execute("UPDATE reading SET value = 0")
        assert _values(view) == [(START_MS, 20.0, 1)]


def test_a_view_cannot_write(store: Store) -> None:
    with Store.read_only(store.path) as view, pytest.raises(Exception, match="for reading only"):
        view.commit(batch(message(flagged(AIR, START_MS, 20.0))))


def test_a_view_opens_after_the_service_stopped(tmp_path: Path) -> None:
    path = tmp_path / "rearing.sqlite"
    with Store.open(path) as store:
        store.commit(batch(message(flagged(AIR, START_MS, 20.0))))
    with Store.read_only(path) as view:
        assert _values(view) == [(START_MS, 20.0, 1)]


def test_the_file_is_set_up_to_survive_a_power_cut(store: Store) -> None:
    with store.database.read() as connection:
        pragmas = [
            connection.execute(f"PRAGMA {name}").fetchone()[0]
            for name in ("journal_mode", "synchronous", "foreign_keys")
        ]
    assert pragmas == ["wal", 2, 1]


def test_iterating_gives_the_same_as_the_series(store: Store) -> None:
    rows = [flagged(AIR, START_MS + at * 40_000_000, 20.0 + at) for at in range(12)]
    store.commit(batch(message(*rows)))
    found = [(at, value, int(flag)) for at, value, flag in store.readings.iterate(AIR, *ALL)]
    assert found == _values(store)
    assert np.array_equal([row[1] for row in found], np.arange(20.0, 32.0))
