"""Calibration: applying, choosing the one in force, making one from points, and the salt jars."""

from __future__ import annotations

import math
import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from monitor.climate.calibration import (
    SALTS,
    CalibrationPoint,
    CalibrationTable,
    apply,
    offset_only,
    salt_humidity_percent,
    two_point,
)
from monitor.errors import UsageError
from monitor.records import Calibration, SensorKey

REFERENCES = Path(__file__).parents[1] / "references" / "salts.toml"
HUMIDITY = SensorKey("room-1", "", "air_humidity")
TEMPERATURE = SensorKey("bin-1", "core", "substrate_temperature")
MOISTURE = SensorKey("bin-1", "core", "substrate_moisture")


def salt_rows() -> list[Any]:
    tables = tomllib.loads(REFERENCES.read_text(encoding="utf-8"))["table"]
    return [
        pytest.param(salt, float(at_c), expected, table, id=f"{salt} {at_c} °C, {table['source'][:12]}")
        for table in tables
        for salt in SALTS
        for at_c, expected in table.get(salt, [])
    ]


@pytest.mark.parametrize(("salt", "at_c", "expected", "table"), salt_rows())
def test_published_salt_humidity(salt: str, at_c: float, expected: float, table: dict[str, Any]) -> None:
    computed = salt_humidity_percent(salt, at_c)

    assert expected == pytest.approx(computed, abs=table["absolute_tolerance"]), table["source"]


def test_signs_of_the_linear_terms() -> None:
    """With the wrong signs found in public code LiCl at 25 °C would give 10.89, the table says 11.3."""
    assert salt_humidity_percent("LiCl", 25.0) == pytest.approx(11.3, abs=0.06)
    assert salt_humidity_percent("K2CO3", 25.0) > salt_humidity_percent("K2CO3", 15.0)


@given(st.sampled_from(sorted(SALTS)), st.floats(0.0, 30.0))
def test_salts_keep_their_order_and_move_slowly(salt: str, at_c: float) -> None:
    """No salt moves by more than 0.4 %RH for a kelvin, and none crosses its neighbour."""
    humidities = [salt_humidity_percent(name, at_c) for name in SALTS]

    assert humidities == sorted(humidities)
    assert abs(salt_humidity_percent(salt, at_c) - salt_humidity_percent(salt, max(at_c - 1, 0))) < 0.4


@pytest.mark.parametrize(
    ("salt", "at_c", "words"),
    [
        ("sugar", 20.0, "salt is 'sugar'; allowed: LiCl, MgCl2, K2CO3, NaCl, KCl, K2SO4"),
        ("NaCl", -5.0, "temperature of the NaCl jar is -5 °C; allowed: 0 to 50 °C"),
        ("K2CO3", 35.0, "allowed: 0 to 30 °C"),
        ("NaCl", math.nan, "is nan °C"),
    ],
)
def test_salt_outside_its_table_is_refused(salt: str, at_c: float, words: str) -> None:
    with pytest.raises(UsageError) as caught:
        salt_humidity_percent(salt, at_c)

    assert words in str(caught.value)


def test_apply() -> None:
    calibration = Calibration(TEMPERATURE, 0, slope=1.02, offset=-0.5)

    assert apply(30.0, calibration) == pytest.approx(30.1)
    assert apply(30.0, None) == 30.0


@pytest.mark.parametrize(("raw", "expected"), [(98.0, 100.0), (1.0, 4.0), (-5.0, 0.0), (50.0, 53.0)])
def test_calibrated_humidity_stays_within_0_and_100(raw: float, expected: float) -> None:
    assert apply(raw, Calibration(HUMIDITY, 0, offset=3.0)) == expected


def test_humidity_is_held_without_a_calibration_too() -> None:
    """Some sensors put out up to 119 or down to -6 %RH when not cropped by the node."""
    assert CalibrationTable(()).calibrated(101.3, HUMIDITY, 0) == 100.0
    assert CalibrationTable(()).calibrated(-0.4, HUMIDITY, 0) == 0.0
    assert CalibrationTable(()).calibrated(85.0, TEMPERATURE, 0) == 85.0
    assert math.isnan(CalibrationTable(()).calibrated(math.nan, HUMIDITY, 0))


def test_in_force_by_time_of_measurement() -> None:
    early = Calibration(HUMIDITY, valid_from_ms=1000, offset=1.0)
    late = Calibration(HUMIDITY, valid_from_ms=2000, offset=2.0)
    other = Calibration(TEMPERATURE, valid_from_ms=500, offset=9.0)
    known = (late, other, early)

    assert CalibrationTable(known).in_force(HUMIDITY, 999) is None
    assert CalibrationTable(known).in_force(HUMIDITY, 1000) is early
    assert CalibrationTable(known).in_force(HUMIDITY, 1999) is early
    assert CalibrationTable(known).in_force(HUMIDITY, 2000) is late
    assert CalibrationTable(known).calibrated(50.0, HUMIDITY, 1500) == 51.0


def test_of_two_valid_from_the_same_time_the_later_entry_counts() -> None:
    wrong = Calibration(HUMIDITY, valid_from_ms=1000, offset=1.0, entered_ms=10)
    mended = Calibration(HUMIDITY, valid_from_ms=1000, offset=2.0, entered_ms=20)

    assert CalibrationTable((mended, wrong)).in_force(HUMIDITY, 5000) is mended


def test_offset_is_the_mean_difference() -> None:
    made = offset_only(
        TEMPERATURE, [CalibrationPoint(0.4, 0.0), CalibrationPoint(0.6, 0.0)], 7, 8, "ice bath"
    )

    assert (made.slope, made.offset) == (1.0, pytest.approx(-0.5))
    assert (made.sensor, made.valid_from_ms, made.entered_ms, made.note) == (TEMPERATURE, 7, 8, "ice bath")


def test_two_salt_jars() -> None:
    """A sensor that says 36 over MgCl2 and 79 over NaCl, both at 25 °C."""
    low = CalibrationPoint(36.0, salt_humidity_percent("MgCl2", 25.0))
    high = CalibrationPoint(79.0, salt_humidity_percent("NaCl", 25.0))
    made = two_point(HUMIDITY, [low, high], valid_from_ms=0)

    assert apply(36.0, made) == pytest.approx(low.true)
    assert apply(79.0, made) == pytest.approx(high.true)
    assert made.slope == pytest.approx((75.29 - 32.78) / 43.0, abs=1e-3)


@given(st.floats(-20, 60), st.floats(-20, 60), st.floats(0.6, 1.9), st.floats(-5, 5))
def test_two_points_recover_the_line(raw1: float, raw2: float, slope: float, offset: float) -> None:
    assume(abs(raw2 - raw1) * slope >= 10.01)
    points = [CalibrationPoint(raw, slope * raw + offset) for raw in (raw1, raw2)]

    made = two_point(TEMPERATURE, points, valid_from_ms=0)

    assert made.slope == pytest.approx(slope, rel=1e-9)
    assert made.offset == pytest.approx(offset, abs=1e-8)


def test_a_moisture_index_may_have_any_slope() -> None:
    made = two_point(MOISTURE, [CalibrationPoint(0.85, 0.45), CalibrationPoint(0.35, 0.75)], valid_from_ms=0)

    assert made.slope == pytest.approx(-0.6)


@pytest.mark.parametrize(
    ("sensor", "pairs", "words"),
    [
        (HUMIDITY, [(75, 75)], "needs two points, found 1; with one, use an offset"),
        (HUMIDITY, [(75, 75), (84, 85)], "true values are 10 apart; allowed: 20 or more for air_humidity"),
        (TEMPERATURE, [(0.2, 0), (5, 5)], "use an offset instead"),
        (HUMIDITY, [(50, 33), (50, 75)], "the sensor said 50 at both points"),
        (HUMIDITY, [(75, 33), (33, 75)], "slope of -1; allowed: 0.5 to 2"),
        (HUMIDITY, [(50, 33), (60, 75)], "slope of 4.2"),
    ],
)
def test_points_that_cannot_be_right_are_refused(
    sensor: SensorKey, pairs: list[tuple[float, float]], words: str
) -> None:
    with pytest.raises(UsageError) as caught:
        two_point(sensor, [CalibrationPoint(*pair) for pair in pairs], valid_from_ms=0)

    assert words in str(caught.value)


def test_no_point_and_no_number_are_refused() -> None:
    with pytest.raises(UsageError, match="at least one point"):
        offset_only(HUMIDITY, [], valid_from_ms=0)
    with pytest.raises(UsageError, match="needs two numbers"):
        CalibrationPoint(math.nan, 75.0)
