"""Gaps, extremes and excursions read off a series, worked out by hand."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.records import Calibration, Flag, SensorKey
from monitor.store import Excursion, Extremes, Series, excursions, extremes, gaps


def _series(values: list[float], flags: list[Flag] | None = None, times: list[int] | None = None) -> Series:
    return Series(
        np.array(times if times else [at * 60 for at in range(len(values))], dtype=np.int64),
        np.array(values),
        np.array(flags if flags else [Flag.PASS] * len(values), dtype=np.int8),
    )


def test_extremes_leave_out_what_failed() -> None:
    series = _series(
        [20.0, 85.0, 22.0, np.nan, 19.0], [Flag.PASS, Flag.FAIL, Flag.SUSPECT, Flag.PASS, Flag.PASS]
    )
    assert extremes(series) == Extremes(19.0, 240, 22.0, 120)


def test_no_usable_reading_has_no_extremes() -> None:
    assert extremes(_series([85.0], [Flag.FAIL])) is None
    assert extremes(_series([])) is None


@pytest.mark.parametrize(
    ("times", "expected"),
    [
        ([], ((0, 1000),)),
        ([100, 200, 900], ((200, 900),)),
        ([300, 600, 850], ()),
        ([301, 600], ((0, 301), (600, 1000))),
    ],
)
def test_gaps_longer_than_the_limit(times: list[int], expected: tuple[tuple[int, int], ...]) -> None:
    assert gaps(np.array(times, dtype=np.int64), 0, 1000, 300) == expected


def test_excursions_above_and_below() -> None:
    series = _series([37.0, 38.5, 39.0, 38.2, 37.9, 38.0, 40.0])
    assert excursions(series, 38.0, above=True, join_ms=60) == (
        Excursion(60, 180, 39.0),
        Excursion(360, 360, 40.0),
    )
    assert excursions(series, 37.95, above=False, join_ms=60) == (
        Excursion(0, 0, 37.0),
        Excursion(240, 240, 37.9),
    )


def test_a_hole_ends_an_excursion() -> None:
    series = _series([39.0, 39.5, 39.2], times=[0, 60, 600])
    assert [(run.start_ms, run.end_ms) for run in excursions(series, 38.0, above=True, join_ms=120)] == [
        (0, 60),
        (600, 600),
    ]


def test_a_failed_reading_neither_makes_nor_ends_an_excursion() -> None:
    series = _series([39.0, 0.0, 39.0, 99.0], [Flag.PASS, Flag.FAIL, Flag.PASS, Flag.FAIL])
    assert excursions(series, 38.0, above=True, join_ms=120) == (Excursion(0, 120, 39.0),)
    assert excursions(_series([]), 38.0, above=True, join_ms=1) == ()


def test_humidity_is_never_shown_above_100_or_below_0() -> None:
    wet = Calibration(SensorKey("node-1", "", "air_humidity"), 0, 1.1, -5.0)
    raw = Series(
        np.array([1, 2, 3], dtype=np.int64), np.array([2.0, 60.0, 98.0]), np.array([1, 1, 1], dtype=np.int8)
    )
    assert raw.calibrated([wet], "air_humidity").value == pytest.approx([0.0, 61.0, 100.0])
    assert raw.calibrated([], "air_humidity").value == pytest.approx([2.0, 60.0, 98.0])
    assert raw.calibrated([wet], "air_temperature").value == pytest.approx([-2.8, 61.0, 102.8])
