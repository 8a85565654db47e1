"""Computed quantities: what comes out of which readings."""

from __future__ import annotations

from pathlib import Path

import pytest
from service_farm import T0, farm

from monitor.alarms.place_values import computed
from monitor.climate.calibration import CalibrationTable
from monitor.records import Calibration, NodeMessage, Reading, SensorKey, TimeSource
from monitor.service.site_state import AlarmChanges, SiteState
from monitor.settings.plan import build_plan


def test_drying_power_and_dew_point_of_a_hatching_tray() -> None:
    # 28 °C, 70 %RH: dew point 22.0 °C (psychrolib 2.5.0); VPD = 0.3 of 3782 Pa (ASHRAE 2017 ch. 1, 28 °C)
    found = computed({"air_temperature": 28.0, "air_humidity": 70.0})
    assert found["dew_point"] == pytest.approx(22.0, abs=0.05)
    assert found["vapour_pressure_deficit"] == pytest.approx(0.3 * 3782, rel=0.003)
    assert "condensation_margin" not in found


@pytest.mark.parametrize(
    ("surface", "colder_by_k", "margin"),
    [(23.0, None, 1.0), (23.0, 9.0, 1.0), (None, 8.0, -2.0), (None, 0.0, 6.0)],
)
def test_margin_takes_the_probe_before_the_offset(
    surface: float | None, colder_by_k: float | None, margin: float
) -> None:
    values = {"air_temperature": 28.0, "air_humidity": 70.0}
    if surface is not None:
        values["surface_temperature"] = surface
    assert computed(values, colder_by_k)["condensation_margin"] == pytest.approx(margin, abs=0.05)


@pytest.mark.parametrize(
    "values",
    [{}, {"air_temperature": 28.0}, {"air_humidity": 60.0}, {"air_temperature": 28.0, "air_humidity": 0.2}],
    ids=str,
)
def test_nothing_comes_of_nothing(values: dict[str, float]) -> None:
    assert computed(values, 3.0) == {}


def test_a_wetted_sensor_counts_as_saturated() -> None:
    found = computed({"air_temperature": 25.0, "air_humidity": 104.0}, 0.0)
    assert found["vapour_pressure_deficit"] == pytest.approx(0.0, abs=1e-6)
    assert found["condensation_margin"] == pytest.approx(0.0, abs=0.01)


@pytest.mark.parametrize(("air_c", "known"), [(125.0, True), (125.1, False), (-40.0, True), (-40.1, False)])
def test_air_that_a_calibration_puts_beyond_every_sensor_has_no_dew_point(air_c: float, known: bool) -> None:
    assert bool(computed({"air_temperature": air_c, "air_humidity": 50.0})) is known


def test_a_hot_reading_with_a_calibration_is_taken_and_not_refused(tmp_path: Path) -> None:
    """124 °C passes as a burning room; with its calibration of 2 K more it met an error of the program."""
    places = [{"id": "tray-1", "kind": "hatching_tray"}]
    settings = farm(tmp_path, places=places, nodes=[{"id": "node-1", "place": "tray-1"}], rules=())
    sensors = [SensorKey("node-1", "", quantity) for quantity in ("air_temperature", "air_humidity")]
    table = CalibrationTable([Calibration(sensors[0], 0, 1.0, 2.0)])
    site, changes = SiteState(build_plan(settings), {}, table), AlarmChanges()
    readings = tuple(Reading(sensor, T0, 124.0 if sensor is sensors[0] else 50.0) for sensor in sensors)
    taken = site.take(NodeMessage("node-1", T0, readings, TimeSource.NODE), T0, changes)
    assert [item.calibrated for item in taken.readings] == [126.0, 50.0]
