"""Gaps: bridged, filled from the day shape and counted, or unknown. Never zero growth."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt
import pytest

from monitor.development.degree_days import degree_days_of_steps
from monitor.development.temperature_series import (
    TemperatureSeries,
    day_shape,
    fill_gaps,
    series_of,
)
from monitor.errors import UsageError
from monitor.records import MS_PER_DAY, MS_PER_HOUR, MS_PER_MINUTE

DAYS = 12


def wave(times: npt.NDArray[Any]) -> npt.NDArray[np.float64]:
    return np.asarray(26.0 + 4.0 * np.sin(2.0 * np.pi * times / MS_PER_DAY))


def with_gap(from_hour: float, hours: float, every_minutes: int = 10) -> TemperatureSeries:
    times = np.arange(0, DAYS * MS_PER_DAY + 1, every_minutes * MS_PER_MINUTE, dtype=np.int64)
    inside = (times > from_hour * MS_PER_HOUR) & (times < (from_hour + hours) * MS_PER_HOUR)
    return series_of(times[~inside], wave(times[~inside]))


def filled(series: TemperatureSeries) -> TemperatureSeries:
    return fill_gaps(series, 0, DAYS * MS_PER_DAY)


def estimated_hours(series: TemperatureSeries) -> float:
    return float(np.diff(series.times_ms)[series.estimated[1:]].sum() / MS_PER_HOUR)


def test_two_hours_are_bridged_and_not_counted() -> None:
    found = filled(with_gap(200.0, 2.0))

    assert estimated_hours(found) == 0.0
    assert found.unknown == ()


@pytest.mark.parametrize("hours", [3.0, 20.0, 47.0])
def test_longer_gaps_are_filled_from_the_day_shape_and_counted(hours: float) -> None:
    found = filled(with_gap(200.0, hours))
    earned = degree_days_of_steps(found.times_ms, found.temperatures_c, 12.0).sum()

    assert estimated_hours(found) == pytest.approx(hours)
    assert found.unknown == ()
    assert earned == pytest.approx(14.0 * DAYS, rel=2e-3)


def test_beyond_two_days_the_progress_is_unknown() -> None:
    found = filled(with_gap(200.0, 49.0))

    assert found.unknown == ((200 * MS_PER_HOUR, 249 * MS_PER_HOUR),)


def test_the_time_since_the_last_reading_is_a_gap_too() -> None:
    found = filled(with_gap(DAYS * 24.0 - 10.0, 30.0))

    assert found.times_ms[-1] == DAYS * MS_PER_DAY
    assert estimated_hours(found) == pytest.approx(10.0)


def test_a_record_that_starts_late_is_filled_from_what_follows() -> None:
    found = filled(with_gap(-1.0, 9.0))

    assert found.times_ms[0] == 0
    assert estimated_hours(found) == pytest.approx(8.0)
    assert np.abs(found.temperatures_c - wave(found.times_ms)).max() < 0.6


def test_without_a_day_shape_a_long_gap_is_unknown() -> None:
    """Three readings do not tell what a day looks like."""
    few = series_of([0, MS_PER_HOUR, 9 * MS_PER_HOUR], [20.0, 21.0, 22.0])

    found = fill_gaps(few, 0, 9 * MS_PER_HOUR)

    assert found.unknown == ((MS_PER_HOUR, 9 * MS_PER_HOUR),)


def test_day_shape_uses_measured_readings_only() -> None:
    series = with_gap(0.0, 0.0)
    odd = TemperatureSeries(
        series.times_ms, np.full(len(series.times_ms), 99.0), np.ones(len(series.times_ms), bool)
    )

    assert day_shape(odd, 0, DAYS * MS_PER_DAY) is None
    shape = day_shape(series, 0, 7 * MS_PER_DAY)
    assert shape is not None
    assert shape == pytest.approx(wave((np.arange(24) + 0.5) * MS_PER_HOUR), abs=0.1)


@pytest.mark.parametrize(
    ("times", "values", "message"),
    [
        ([0, 0], [1.0, 2.0], "must ascend"),
        ([0, 1], [1.0, float("nan")], "leave failed readings out"),
        ([], [], "at least one reading"),
        ([0, 1], [1.0], "as many temperatures"),
    ],
)
def test_refused_series(times: list[int], values: list[float], message: str) -> None:
    with pytest.raises(UsageError, match=message):
        series_of(times, values)
