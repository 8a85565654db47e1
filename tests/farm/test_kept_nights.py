"""Readings of nights that are read on: always what the store has, however late it came, and read once."""

from __future__ import annotations

import random
from collections.abc import Iterator
from pathlib import Path

import pytest
from store_samples import AIR, BIN, START_MS, batch, flagged, message

from monitor.climate.calibration import CalibrationTable
from monitor.farm.place_reader import KeptReadings
from monitor.records import MS_PER_DAY, MS_PER_HOUR, MS_PER_MINUTE, Flag, SensorKey
from monitor.store import Store
from monitor.store.readings import Readings, Series

SENSORS = (AIR, BIN, SensorKey("node-1", "", "air_humidity"))
NIGHT = (START_MS + 17 * MS_PER_MINUTE, START_MS + 11 * MS_PER_HOUR + 40 * MS_PER_MINUTE)
FLAGS = (Flag.PASS, Flag.PASS, Flag.PASS, Flag.SUSPECT, Flag.FAIL, Flag.MISSING)


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store.open(tmp_path / "rearing.sqlite") as opened:
        yield opened


def send(store: Store, *readings: tuple[SensorKey, int, float, Flag]) -> None:
    store.commit(batch(message(*(flagged(*each) for each in readings))))


def rows_of(store: Store, kept: KeptReadings, span: tuple[int, int]) -> None:
    """What is read on is what is read directly, readings and hours."""
    sensors = store.readings.sensors()
    found, hours = kept.readings(store, sensors, *span), kept.hours(store, sensors, *span)
    direct = store.summaries.extremes(sensors, *span)
    for sensor in sensors:
        usable = store.readings.series(sensor, *span).usable()
        for name in ("at_ms", "value", "flag"):
            assert getattr(found[sensor], name).tolist() == getattr(usable, name).tolist(), (sensor, name)
        for name in ("start_ms", "count", "minimum", "maximum"):
            ours = getattr(hours[sensor], name).tolist()
            assert ours == getattr(direct[sensor], name).tolist(), (sensor, name)


@pytest.mark.parametrize("seed", range(6))
def test_what_is_read_on_is_what_the_store_has(store: Store, seed: int) -> None:
    """Random readings, of now and late ones, some of them failed, twice sent, or ahead of the night."""
    dice, kept = random.Random(seed), KeptReadings()
    now_ms = START_MS - MS_PER_HOUR
    for _ in range(40):
        now_ms += dice.randrange(1, 40) * MS_PER_MINUTE
        late_ms = dice.choice((0, 0, 0, dice.randrange(14 * MS_PER_HOUR), -3 * MS_PER_MINUTE))
        sent = [
            (dice.choice(SENSORS), now_ms - late_ms - step * 20_000, dice.uniform(0, 50), dice.choice(FLAGS))
            for step in range(dice.randrange(1, 5))
        ]
        send(store, *sent, *sent[:1])
        end_ms = min(NIGHT[1], max(now_ms, NIGHT[0] + 1))
        rows_of(store, kept, dice.choice(((NIGHT[0], end_ms), NIGHT, (NIGHT[0] - MS_PER_DAY, end_ms))))


def test_only_hours_with_something_new_are_read_again(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    kept = KeptReadings()
    send(store, *((AIR, NIGHT[0] + step * MS_PER_MINUTE, 25.0, Flag.PASS) for step in range(300)))
    rows_of(store, kept, NIGHT)
    asked: list[int] = []
    series = Readings.series

    def noted(of: Readings, sensor: SensorKey, start_ms: int, end_ms: int) -> Series:
        asked.append(start_ms)
        return series(of, sensor, start_ms, end_ms)

    monkeypatch.setattr(Readings, "series", noted)
    kept.readings(store, (AIR,), *NIGHT)
    assert asked == [], "nothing came"

    last_ms = NIGHT[0] + 300 * MS_PER_MINUTE
    send(store, (AIR, last_ms, 25.0, Flag.PASS))
    kept.readings(store, (AIR,), *NIGHT)
    assert asked == [last_ms - last_ms % MS_PER_HOUR], "one reading came, its hour is read"


def test_the_newest_of_each_sensor_up_to_a_moment(store: Store) -> None:
    send(
        store,
        (BIN, START_MS, 30.0, Flag.PASS),
        (BIN, START_MS + 5, 31.0, Flag.FAIL),
        (AIR, START_MS + 1, 20.0, Flag.PASS),
        (SENSORS[2], START_MS + 9, 70.0, Flag.PASS),
    )
    latest = store.readings.latest(CalibrationTable(), START_MS + 5)
    assert {key: (each.reading.at_ms - START_MS, each.flag) for key, each in latest.items()} == {
        AIR: (1, Flag.PASS),
        BIN: (5, Flag.FAIL),
    }
    assert list(store.readings.latest(CalibrationTable())) == sorted(SENSORS)
