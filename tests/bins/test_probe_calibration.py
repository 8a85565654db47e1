"""A capacitive probe: an index until calibrated, a rising curve then, and readings that mean nothing."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import isotonic_regression

from monitor.bins.probe import (
    LEAST_RESIDUAL,
    OUTSIDE_SD,
    ProbeCalibration,
    ProbePoint,
    ProbeState,
    calibrated,
    probe_index,
    read_probe,
)
from monitor.errors import UsageError

AIR, WATER = 3200.0, 1400.0
POINTS = [
    ProbePoint(2900.0, 0.35),
    ProbePoint(2500.0, 0.52),
    ProbePoint(2100.0, 0.66),
    ProbePoint(1800.0, 0.78),
]


def test_the_index_is_0_in_air_and_1_in_water_whichever_way_the_raw_value_goes() -> None:
    assert probe_index(AIR, AIR, WATER) == 0.0
    assert probe_index(WATER, AIR, WATER) == 1.0
    assert probe_index(0.3, 0.1, 0.9) == pytest.approx(0.25)
    with pytest.raises(UsageError, match="same in air and in water"):
        probe_index(1.0, 2.0, 2.0)


def test_until_it_is_calibrated_it_is_an_index() -> None:
    found = read_probe(2300.0, ProbeCalibration(AIR, WATER))
    assert found.state is ProbeState.INDEX
    assert found.index == pytest.approx(0.5) and found.moisture is None and found.sd is None


def test_the_curve_goes_through_points_that_rise() -> None:
    curve = calibrated(POINTS, AIR, WATER)
    for point in POINTS:
        found = read_probe(point.raw, curve)
        assert found.state is ProbeState.MOISTURE
        assert found.moisture == pytest.approx(point.moisture)
    assert read_probe(2300.0, curve).moisture == pytest.approx(0.59)
    assert curve.residual >= LEAST_RESIDUAL


def test_points_in_any_order_give_the_same_curve() -> None:
    assert calibrated(POINTS[::-1], AIR, WATER) == calibrated(POINTS, AIR, WATER)


def test_scattered_points_have_the_larger_residual() -> None:
    offsets = (0.08, -0.08, 0.08, -0.08)
    moistures = [each.moisture + off for each, off in zip(POINTS, offsets, strict=True)]
    rough = [ProbePoint(each.raw, found) for each, found in zip(POINTS, moistures, strict=True)]
    assert calibrated(rough, AIR, WATER).residual > 2.0 * calibrated(POINTS, AIR, WATER).residual


@settings(deadline=None)
@given(st.lists(st.tuples(st.floats(0.05, 0.95), st.floats(0.05, 0.95)), min_size=4, max_size=12))
def test_the_curve_is_the_isotonic_one_of_scipy(pairs: list[tuple[float, float]]) -> None:
    points = [ProbePoint(index, moisture) for index, moisture in pairs]
    found = [moisture for _, moisture in pairs]
    fitted = isotonic_regression([moisture for _, moisture in sorted(pairs)]).x
    distinct = len({index for index, _ in pairs}) == len(pairs)
    if not distinct or max(found) - min(found) < 0.15 or fitted[-1] - fitted[0] < 0.076:
        return
    curve = calibrated(points, 0.0, 1.0)
    assert curve.moisture[0] == pytest.approx(fitted[0]) and curve.moisture[-1] == pytest.approx(fitted[-1])
    assert sorted({round(float(each), 9) for each in fitted}) == pytest.approx(list(curve.moisture), abs=1e-8)
    assert np.all(np.diff(curve.index) > 0) and np.all(np.diff(curve.moisture) > 0)


@pytest.mark.parametrize(
    ("raw", "expected"),
    [
        (3200.0, ProbeState.IN_AIR),
        (3150.0, ProbeState.IN_AIR),
        (3300.0, ProbeState.IN_AIR),
        (4095.0, ProbeState.BROKEN),
        (0.0, ProbeState.BROKEN),
        (3000.0, ProbeState.OUTSIDE),
        (1450.0, ProbeState.OUTSIDE),
    ],
)
def test_what_a_reading_is_worth(raw: float, expected: ProbeState) -> None:
    found = read_probe(raw, calibrated(POINTS, AIR, WATER))
    assert found.state is expected
    assert (found.moisture is not None) == (expected is ProbeState.OUTSIDE)
    if found.sd is not None and found.moisture is not None:
        assert found.sd >= OUTSIDE_SD and 0.0 < found.moisture < 1.0


def test_a_value_that_is_no_number_is_a_broken_probe() -> None:
    assert read_probe(float("nan"), ProbeCalibration(AIR, WATER)).state is ProbeState.BROKEN


@pytest.mark.parametrize(
    ("points", "words"),
    [
        (POINTS[:3], "3 points were given; a calibration needs 4"),
        ([ProbePoint(each.raw, 0.5 + each.moisture / 10) for each in POINTS], "span 0.04"),
        ([ProbePoint(each.raw, 1.1 - each.moisture) for each in POINTS], "does not rise"),
        ([ProbePoint(each.raw, 100 * each.moisture) for each in POINTS], "not between 0 and 1"),
        ([*POINTS, ProbePoint(float("nan"), 0.5)], "no number"),
    ],
)
def test_what_is_no_calibration_is_refused(points: list[ProbePoint], words: str) -> None:
    with pytest.raises(UsageError, match=words):
        calibrated(points, AIR, WATER)
