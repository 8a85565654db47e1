"""Degree-days against published calculators, another library, and dense integration."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
from gddPy.gdd import GDD
from hypothesis import given
from hypothesis import strategies as st

from monitor.climate.arrays import FloatArray, IntArray
from monitor.development.degree_days import (
    Cutoff,
    degree_days_of_steps,
    effective_excess_c,
    hours_above_of_steps,
)
from monitor.errors import UsageError
from monitor.records import MS_PER_DAY, MS_PER_HOUR, MS_PER_MINUTE

REFERENCES: dict[str, Any] = tomllib.loads(
    (Path(__file__).parent.parent / "references" / "degree_days.toml").read_text(encoding="utf-8")
)
METHODS = ("single_sine", "double_sine", "single_triangle", "double_triangle")
ROUNDING = 0.005 + 1e-9
temperatures = st.floats(-5.0, 50.0)


def thermometer_day(method: str, low: float, high: float, following: float) -> tuple[IntArray, FloatArray]:
    """A day from its minimum up to its maximum and down to the next minimum, by triangles or sine arcs."""
    if method.endswith("triangle"):
        return np.array([0, MS_PER_DAY // 2, MS_PER_DAY], dtype=np.int64), np.array([low, high, following])
    times = np.arange(0, MS_PER_DAY + 1, MS_PER_MINUTE, dtype=np.int64)
    wave = (1.0 + np.cos(2.0 * np.pi * times / MS_PER_DAY)) / 2.0
    night = np.where(times <= MS_PER_DAY // 2, low, following)
    return times, high + (night - high) * wave


def daily_degree_days(
    method: str,
    low: float,
    high: float,
    lower: float,
    upper: float | None = None,
    following: float | None = None,
) -> float:
    """Degree-days of a day of which a thermometer tells the minimum and the maximum."""
    second = following if method.startswith("double") and following is not None else low
    times, values = thermometer_day(method, low, high, second)
    return float(degree_days_of_steps(times, values, lower, upper).sum())


@pytest.mark.parametrize("method", METHODS)
@pytest.mark.parametrize("row", REFERENCES["uc_ipm"], ids=lambda row: row["day"])
def test_uc_ipm_daily_values(row: dict[str, Any], method: str) -> None:
    """Source: UC IPM degree-day calculator, horizontal cutoff. Agreement: within 0.005, its rounding."""
    found = daily_degree_days(
        method, row["minimum"], row["maximum"], row["lower"], row["upper"], row["next_minimum"]
    )

    assert found == pytest.approx(row[method], abs=ROUNDING)


@pytest.mark.parametrize("method", ["single_sine", "single_triangle"])
@pytest.mark.parametrize("row", REFERENCES["trenchr"], ids=lambda row: f"{row['minimum']}-{row['maximum']}")
def test_values_of_another_package(row: dict[str, Any], method: str) -> None:
    """Source: TrenchR's own tests, horizontal cutoff. Agreement: within 0.005, their rounding."""
    found = daily_degree_days(method, row["minimum"], row["maximum"], row["lower"], row["upper"])

    assert found == pytest.approx(row[method], abs=ROUNDING)


class TestAgainstGddpy:
    """gddpy has Baskerville-Emin (single sine), without an upper threshold.

    Same definition while the threshold lies between minimum and maximum. Not the same: gddpy's cutoff caps
    the maximum before it draws the sine, so the whole wave becomes flatter, where the field's horizontal
    cutoff cuts the top of the wave off; with a minimum at or above the threshold its sine method fails; its
    hourly method takes each hour's value for the whole hour.
    """

    @staticmethod
    def of(low: float, high: float, base: float, cap: float | None = None) -> GDD:
        values = {"min_temp": low, "max_temp": high, "threshold_low": base}
        return GDD({**values, "max_temp_cutoff": cap} if cap is not None else values)

    @given(st.floats(0.5, 15.0), st.floats(0.5, 15.0))
    def test_sine_where_the_threshold_lies_inside(self, below: float, above: float) -> None:
        low, high = 12.0 - below, 12.0 + above

        found = daily_degree_days("single_sine", low, high, 12.0)

        assert found == pytest.approx(self.of(low, high, 12.0).calcBaskervilleEmin(), abs=1e-4)

    def test_sine_with_a_cutoff_is_another_definition(self) -> None:
        found = daily_degree_days("single_sine", 7.0, 40.0, 12.0, 33.0)

        theirs = self.of(7.0, 40.0, 12.0, 33.0).calcBaskervilleEmin(cutoff_max_temp=True)
        assert found == pytest.approx(10.94, abs=ROUNDING)  # TrenchR, see the table
        assert theirs < found - 1.5


def dense(values: npt.NDArray[np.float64], lower: float, upper: float | None, cutoff: Cutoff) -> float:
    return float(effective_excess_c(values, lower, upper, cutoff).mean())


@pytest.mark.parametrize("cutoff", list(Cutoff))
@given(pair=st.tuples(temperatures, temperatures))
def test_closed_forms_agree_with_dense_sampling(cutoff: Cutoff, pair: tuple[float, float]) -> None:
    low, high = min(pair), max(pair)
    values = low + (high - low) * (np.arange(20_000) + 0.5) / 20_000

    found = degree_days_of_steps(np.array([0, MS_PER_DAY]), np.array([low, high]), 12.0, 33.0, cutoff).sum()

    assert found == pytest.approx(dense(values, 12.0, 33.0, cutoff), abs=5e-3)


@pytest.mark.parametrize("cutoff", list(Cutoff))
def test_a_step_across_thresholds_is_exact(cutoff: Cutoff) -> None:
    """The temperature is a straight line between readings; one step from 5 to 45 °C crosses everything."""
    times = np.array([0, MS_PER_DAY], dtype=np.int64)
    line = np.linspace(5.0, 45.0, 400_001)

    found = degree_days_of_steps(times, np.array([5.0, 45.0]), 12.0, 33.0, cutoff).sum()

    assert found == pytest.approx(dense(line, 12.0, 33.0, cutoff), abs=1e-3)


@given(st.lists(st.floats(0.0, 45.0), min_size=3, max_size=12), st.data())
def test_a_reading_on_the_line_changes_nothing(values: list[float], data: st.DataObject) -> None:
    steps = data.draw(st.lists(st.integers(60_000, 7_200_000), min_size=len(values), max_size=len(values)))
    times = np.cumsum(np.array(steps, dtype=np.int64)) * 2
    middle_times = (times[1:] + times[:-1]) // 2
    readings = np.array(values)
    middles = (readings[1:] + readings[:-1]) / 2.0
    order = np.argsort(np.concatenate([times, middle_times]))

    whole = degree_days_of_steps(times, readings, 12.0, 33.0).sum()
    halved = degree_days_of_steps(
        np.concatenate([times, middle_times])[order], np.concatenate([readings, middles])[order], 12.0, 33.0
    ).sum()

    assert halved == pytest.approx(whole, abs=1e-9)


def test_real_time_stamps_count() -> None:
    """Two readings an hour apart earn a twelfth of those twelve hours apart."""
    hour = degree_days_of_steps(np.array([0, MS_PER_HOUR]), np.array([22.0, 22.0]), 12.0).sum()
    half_day = degree_days_of_steps(np.array([0, 12 * MS_PER_HOUR]), np.array([22.0, 22.0]), 12.0).sum()

    assert hour == pytest.approx(10.0 / 24.0)
    assert half_day == pytest.approx(5.0)


@pytest.mark.parametrize(
    ("cutoff", "expected"), [(Cutoff.HORIZONTAL, 20.0), (Cutoff.VERTICAL, 0.0), (Cutoff.INTERMEDIATE, 17.0)]
)
def test_what_each_cutoff_does_above_the_upper_threshold(cutoff: Cutoff, expected: float) -> None:
    assert float(effective_excess_c(35.0, 12.0, 32.0, cutoff)) == expected


def test_the_intermediate_cutoff_never_falls_below_zero_within_the_day() -> None:
    """The calculator takes twice the excess over the upper threshold away from the whole day; ours does not.

    A triangle of 60 to 108 °F over 50 and 70 °F: each of the two as defined, worked out by hand.
    """
    day = np.array([0, MS_PER_DAY // 2, MS_PER_DAY], dtype=np.int64)
    readings = np.array([60.0, 108.0, 60.0])

    found = degree_days_of_steps(day, readings, 50.0, 70.0, Cutoff.INTERMEDIATE).sum()

    without_floor = (84.0 - 50.0) - 2.0 * (108.0 - 70.0) ** 2 / (2.0 * 48.0)
    below_zero = (108.0 - 90.0) ** 2 / (2.0 * 48.0)
    assert found == pytest.approx(without_floor + below_zero)
    assert found - without_floor == pytest.approx(3.375)


def test_hours_above_a_limit() -> None:
    times = np.array([0, 2, 4, 6], dtype=np.int64) * MS_PER_HOUR

    found = hours_above_of_steps(times, np.array([34.0, 36.0, 36.0, 32.0]), 35.0)

    assert found.tolist() == pytest.approx([1.0, 2.0, 0.5])


def test_reversed_thresholds_are_refused() -> None:
    with pytest.raises(UsageError, match="upper threshold 10 °C must lie above the lower threshold 12 °C"):
        degree_days_of_steps(np.array([0, 1]), np.array([1.0, 2.0]), 12.0, 10.0)
