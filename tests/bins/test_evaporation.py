"""Evaporation against published table values, a second theory, and itself."""

from __future__ import annotations

import math
import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.bins.evaporation import (
    COVER_SHARE,
    Cover,
    RoomAir,
    evaporation_kg_m2_s,
    fan_evaporation_kg_m2_s,
    is_resolvable,
    lewis_number,
    quiet_evaporation_kg_m2_s,
    room_air,
    vapour_diffusivity_m2_s,
    wet_share,
)
from monitor.climate.psychrometrics import (
    dry_air_density_kg_m3,
    saturation_vapour_pressure_pa,
    vapour_pressure_pa,
)

REFERENCES = tomllib.loads(
    (Path(__file__).parents[1] / "references" / "moisture.toml").read_text(encoding="utf-8")
)
G_H = 3.6e6
SEA_LEVEL_PA = 101_325.0


def quiet_rate(surface_c: float, air: RoomAir) -> float:
    return float(quiet_evaporation_kg_m2_s(surface_c, saturation_vapour_pressure_pa(surface_c), air))


def fan_rate(surface_c: float, air: RoomAir, *plate: float) -> float:
    return float(fan_evaporation_kg_m2_s(saturation_vapour_pressure_pa(surface_c), air, *plate))


@pytest.mark.parametrize("row", REFERENCES["quiet_evaporation"], ids=lambda row: f"{row['surface_c']:g}")
def test_nine_published_values_for_quiet_air(row: dict[str, Any]) -> None:
    air = room_air(row["air_c"], row["relative_humidity_percent"])
    rate = quiet_rate(row["surface_c"], air) * 3600.0
    assert rate == pytest.approx(row["expected_kg_m2_h"], rel=row["relative_tolerance"])


@pytest.mark.parametrize("row", REFERENCES["quiet_evaporation"], ids=lambda row: f"{row['surface_c']:g}")
def test_the_published_differences_of_density_are_of_dry_air(row: dict[str, Any]) -> None:
    humid = row["relative_humidity_percent"]
    dry = dry_air_density_kg_m3(row["air_c"], humid, SEA_LEVEL_PA) - dry_air_density_kg_m3(
        row["surface_c"], 100.0, SEA_LEVEL_PA
    )
    assert dry == pytest.approx(row["density_difference"], abs=1e-4)


@pytest.mark.parametrize("row", REFERENCES["plate"], ids=lambda row: f"{row['speed_m_s']:g} m/s")
def test_a_plate_in_moving_air(row: dict[str, Any]) -> None:
    rate = fan_rate(28.0, room_air(28.0, 50.0), row["speed_m_s"], row["length_m"])
    assert rate * G_H == pytest.approx(row["expected_g_m2_h"], rel=row["relative_tolerance"])


@pytest.mark.parametrize("row", REFERENCES["free_convection"], ids=lambda row: f"{row['surface_c']:g}")
def test_two_theories_of_quiet_air(row: dict[str, Any]) -> None:
    humid = row["relative_humidity_percent"]
    quiet = quiet_rate(row["surface_c"], room_air(row["air_c"], humid)) * G_H
    assert quiet == pytest.approx(row["quiet_g_m2_h"], rel=row["relative_tolerance"])
    assert quiet == pytest.approx(row["expected_g_m2_h"], rel=0.035)


def test_a_surface_colder_than_the_air_is_where_the_theories_part() -> None:
    """A plate facing down, Sh = 0.27 Ra^1/4 at 0.12 m (Incropera & DeWitt, ch. 9), gives 27.7 g/(m² h)."""
    quiet = quiet_rate(28.0, room_air(30.0, 50.0)) * G_H
    assert 3.0 < quiet / 27.7 < 4.0


# Cengel 14-134: D = 2.37e-5 m²/s at 290.5 K and 1 atm; vapour 0.7017 kPa at 20 °C, 30 % (seen solution page).
def test_cengel_vapour_diffusivity() -> None:
    assert vapour_diffusivity_m2_s(290.5 - 273.15) == pytest.approx(2.37e-5, rel=0.005)
    assert vapour_pressure_pa(20.0, 30.0) == pytest.approx(701.7, abs=0.5)


def test_lewis_number_of_vapour_in_air() -> None:
    assert lewis_number(25.0) == pytest.approx(0.875, abs=0.02)


def test_below_the_dew_point_water_condenses() -> None:
    air = room_air(28.0, 70.0)
    assert quiet_rate(21.0, air) < 0.0
    assert evaporation_kg_m2_s(21.0, air, fan=True) < quiet_rate(21.0, air)
    assert quiet_rate(22.1, air) > 0.0


def test_a_fan_takes_the_larger_of_the_two() -> None:
    air = room_air(28.0, 50.0)
    assert evaporation_kg_m2_s(28.0, air, fan=True) == fan_rate(28.0, air)
    assert evaporation_kg_m2_s(35.0, air, fan=True) == quiet_rate(35.0, air)
    assert evaporation_kg_m2_s(28.0, air, fan=False) == quiet_rate(28.0, air)


def test_arrays_and_numbers_agree() -> None:
    surface, air_c, humid = np.array([20.0, 28.0, 35.0]), np.full(3, 28.0), np.array([90.0, 50.0, 70.0])
    many = evaporation_kg_m2_s(surface, room_air(air_c, humid), fan=np.array([True, False, True]))
    for index, fan in enumerate((True, False, True)):
        air = room_air(float(air_c[index]), float(humid[index]))
        assert evaporation_kg_m2_s(float(surface[index]), air, fan) == pytest.approx(float(many[index]))


@given(st.floats(-20, 50), st.floats(0, 100), st.floats(-20, 60), st.floats(0.01, 10), st.booleans())
def test_a_warmer_surface_never_evaporates_less(
    air_c: float, humid: float, surface_c: float, warmer: float, fan: bool
) -> None:
    air = room_air(air_c, humid)
    assert evaporation_kg_m2_s(surface_c + warmer, air, fan) >= evaporation_kg_m2_s(surface_c, air, fan)


@given(st.floats(-20, 50), st.floats(0, 100), st.floats(-20, 60), st.booleans())
def test_the_sign_is_that_of_the_vapour_pressures(
    air_c: float, humid: float, surface_c: float, fan: bool
) -> None:
    drive = vapour_pressure_pa(surface_c, 100.0) - vapour_pressure_pa(air_c, humid)
    rate = evaporation_kg_m2_s(surface_c, room_air(air_c, humid), fan)
    assert rate * drive >= 0.0


@pytest.mark.parametrize(
    ("surface_c", "humid", "expected"),
    [(28.0, 89.9, True), (28.0, 90.1, False), (28.0, 100.0, False), (35.0, 95.0, True), (25.0, 95.0, False)],
)
def test_what_the_humidity_sensor_cannot_tell(surface_c: float, humid: float, expected: bool) -> None:
    assert is_resolvable(surface_c, 28.0, humid) is expected


def test_a_crust_forms_after_stirring() -> None:
    assert wet_share(0.0, 1.0, 0.5, 48.0) == 1.0
    assert wet_share(48.0, 1.0, 0.5, 48.0) == pytest.approx(0.5 + 0.5 / math.e)
    assert wet_share(1e5, 1.0, 0.5, 48.0) == pytest.approx(0.5)


def test_every_cover_has_a_share() -> None:
    assert set(COVER_SHARE) == set(Cover)
    assert COVER_SHARE[Cover.OPEN] == 1.0 > COVER_SHARE[Cover.NET] > COVER_SHARE[Cover.LID] > 0.0
