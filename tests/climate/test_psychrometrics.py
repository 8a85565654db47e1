"""Moist air against published tables, against two libraries over the whole range, and against itself."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import CoolProp.CoolProp as coolprop
import numpy as np
import psychrolib
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from monitor.climate import psychrometrics
from monitor.climate.psychrometrics import (
    dew_point_c,
    dry_air_density_kg_m3,
    humidity_ratio,
    saturation_vapour_pressure_pa,
    standard_pressure_pa,
    vapour_pressure_deficit_pa,
    vapour_pressure_pa,
)
from monitor.climate.surfaces import condensation_margin_k, surface_humidity_percent

Array = NDArray[np.float64]

REFERENCES = Path(__file__).parents[1] / "references" / "psychrometrics.toml"
SEA_LEVEL_PA = 101_325.0
PRESSURES_PA = (60_000.0, SEA_LEVEL_PA)
TEMPERATURES_C = np.arange(-40.0, 80.01, 2.5)
HOT_TEMPERATURES_C = np.arange(-40.0, 125.01, 2.5)
HUMIDITIES_PERCENT = np.array([1.0, 5, 10, 20, 30, 40, 50, 60, 70, 80, 90, 95, 99, 100])
NOT_SETTINGS = {"expected", "relative_tolerance", "absolute_tolerance", "source", "agreement"}


def reference_rows() -> list[Any]:
    return list(_reference_rows())


def _reference_rows() -> Iterator[Any]:
    tables = tomllib.loads(REFERENCES.read_text(encoding="utf-8"))
    for function, rows in tables.items():
        for row in rows:
            inputs = {key: value for key, value in row.items() if key not in NOT_SETTINGS}
            label = f"{function}({', '.join(f'{value:g}' for value in inputs.values())}): {row['source']}"
            yield pytest.param(function, inputs, row, id=label)


@pytest.mark.parametrize(("function", "inputs", "row"), reference_rows())
def test_published_value(function: str, inputs: dict[str, float], row: dict[str, Any]) -> None:
    computed = getattr(psychrometrics, function)(**inputs)

    relative, absolute = row.get("relative_tolerance"), row.get("absolute_tolerance")
    assert row["expected"] == pytest.approx(computed, rel=relative, abs=absolute), row["source"]


def test_vapour_pressure_of_the_fao_example() -> None:
    """FAO-56 eq. 10: 1.91 kPa of vapour at a saturation pressure of 2.39 kPa gives 79.91 % (NCL page)."""
    air_c = dew_point_c(25.0, 100.0 * 2390.0 / saturation_vapour_pressure_pa(25.0))

    assert vapour_pressure_pa(air_c, 79.91) == pytest.approx(1910.0, abs=0.5)


def test_surface_humidity_and_margin_of_a_cool_wall() -> None:
    """28 °C and 60 % on a 22 °C wall: 85.8 %; 28 °C and 70 %: dew point 22.02 °C (CoolProp), so wet at 22."""
    assert surface_humidity_percent(28.0, 60.0, 22.0) == pytest.approx(85.8, abs=0.2)
    assert condensation_margin_k(28.0, 70.0, 22.0) == pytest.approx(-0.02, abs=0.03)
    assert surface_humidity_percent(28.0, 70.0, 22.0) >= 100.0
    assert condensation_margin_k(28.0, 60.0, 22.0) > 0.0


# ---- over the whole range, against psychrolib -------------------------------------------------------------
# psychrolib holds the same handbook equations, so this guards against a wrong digit, not against the
# physics. Below 0 °C it works over ice; there its relative humidity is converted to the one over ice.


def grid() -> Iterator[tuple[float, float, float]]:
    """Every (temperature, humidity over liquid, humidity over psychrolib's own phase as a fraction)."""
    psychrolib.SetUnitSystem(psychrolib.SI)
    for air_c in TEMPERATURES_C:
        scale = saturation_vapour_pressure_pa(float(air_c)) / psychrolib.GetSatVapPres(air_c)
        for humidity in HUMIDITIES_PERCENT:
            if scale * humidity <= 100.0:
                yield float(air_c), float(humidity), scale * float(humidity) / 100.0


def test_saturation_pressure_equals_psychrolib() -> None:
    """Largest deviation seen: 1e-14 relative, from 2.5 to 125 °C."""
    psychrolib.SetUnitSystem(psychrolib.SI)
    for air_c in HOT_TEMPERATURES_C[HOT_TEMPERATURES_C > 0.01]:
        expected = psychrolib.GetSatVapPres(air_c)

        assert saturation_vapour_pressure_pa(float(air_c)) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize("pressure_pa", PRESSURES_PA)
def test_ratio_and_density_equal_psychrolib(pressure_pa: float) -> None:
    """Largest deviation seen: ratio 1e-15, density 6e-7 relative (psychrolib rounds 1/0.621945)."""
    for air_c, humidity, fraction in grid():
        ratio = psychrolib.GetHumRatioFromRelHum(air_c, fraction, pressure_pa)
        volume = psychrolib.GetMoistAirVolume(air_c, ratio, pressure_pa)

        assert humidity_ratio(air_c, humidity, pressure_pa) == pytest.approx(ratio, rel=1e-10)
        assert dry_air_density_kg_m3(air_c, humidity, pressure_pa) == pytest.approx(1.0 / volume, rel=2e-6)


def test_dew_point_equals_psychrolib() -> None:
    """Largest deviation seen: 4e-9 K. Only dew points above 0 °C, since psychrolib works over ice below."""
    for air_c, humidity, fraction in grid():
        dew_c = dew_point_c(air_c, humidity)
        if dew_c > 0.01:
            assert dew_c == pytest.approx(psychrolib.GetTDewPointFromRelHum(air_c, fraction), abs=2e-3)


# ---- over the whole range, against CoolProp ---------------------------------------------------------------
# CoolProp is independent: real moist air with enhancement factor. It works over ice below 0 °C.


def real_air(output: str, air_c: float, humidity: float, pressure_pa: float) -> float | None:
    """CoolProp's value, or None where humidity over ice would be above 100 %."""
    psychrolib.SetUnitSystem(psychrolib.SI)
    fraction = humidity / 100.0
    if air_c < 0.01:
        fraction *= saturation_vapour_pressure_pa(air_c) / psychrolib.GetSatVapPres(air_c)
    if fraction > 1.0:
        return None
    return float(coolprop.HAPropsSI(output, "T", air_c + 273.15, "P", pressure_pa, "R", fraction))


def worst(ours: Any, output: str, pressure_pa: float, highest_c: float, relative: bool) -> float:
    """Largest deviation from real air over the grid, in the sense of ours - theirs or ours/theirs - 1."""
    found = 0.0
    for air_c in TEMPERATURES_C[highest_c >= TEMPERATURES_C]:
        for humidity in HUMIDITIES_PERCENT:
            theirs = real_air(output, float(air_c), float(humidity), pressure_pa)
            computed = ours(float(air_c), float(humidity), pressure_pa)
            if theirs is None or computed is None:
                continue
            deviation = computed / theirs - 1.0 if relative else computed - (theirs - 273.15)
            found = max(found, deviation, key=abs)
    return found


def liquid_dew_point(air_c: float, humidity: float, pressure_pa: float) -> float | None:
    del pressure_pa
    dew_c = dew_point_c(air_c, humidity)
    return dew_c if dew_c > 0.1 else None


def dry_air_volume(air_c: float, humidity: float, pressure_pa: float) -> float:
    return 1.0 / dry_air_density_kg_m3(air_c, humidity, pressure_pa)


@pytest.mark.parametrize(
    ("ours", "output", "highest_c", "relative", "tolerance"),
    [
        # largest deviation seen at 60 and 101.325 kPa
        pytest.param(humidity_ratio, "W", 50.0, True, 0.0065, id="ratio to 50 °C: -0.62 % at saturation"),
        pytest.param(humidity_ratio, "W", 80.0, True, 0.0115, id="ratio to 80 °C: -1.08 % at saturation"),
        pytest.param(dry_air_volume, "Vda", 80.0, True, 0.0015, id="dry air density: 0.13 %"),
        pytest.param(liquid_dew_point, "D", 80.0, False, 0.05, id="dew point: 0.047 K"),
    ],
)
@pytest.mark.parametrize("pressure_pa", PRESSURES_PA)
def test_close_to_real_moist_air(
    ours: Any, output: str, highest_c: float, relative: bool, tolerance: float, pressure_pa: float
) -> None:
    deviation = worst(ours, output, pressure_pa, highest_c, relative)

    assert abs(deviation) <= tolerance, f"{output} at {pressure_pa:g} Pa: largest deviation {deviation:.5f}"


def test_saturation_pressure_close_to_iapws_water() -> None:
    """CoolProp's water (IAPWS-95): largest deviation seen -0.023 % at 25 °C, 2.5 to 125 °C."""
    for air_c in HOT_TEMPERATURES_C[HOT_TEMPERATURES_C > 0.01]:
        theirs = coolprop.PropsSI("P", "T", air_c + 273.15, "Q", 0, "Water")

        assert saturation_vapour_pressure_pa(float(air_c)) == pytest.approx(theirs, rel=3e-4)


def test_supercooled_water_close_to_the_magnus_formula() -> None:
    """WMO-No. 8 annex 4.B over water, valid -45 to 60 °C: largest deviation seen 0.28 % from -40 to 0 °C."""
    for air_c in np.arange(-40.0, 0.01, 1.0):
        magnus_pa = 611.2 * np.exp(17.62 * air_c / (243.12 + air_c))

        assert saturation_vapour_pressure_pa(float(air_c)) == pytest.approx(magnus_pa, rel=4e-3)


# ---- round trips and sweeps -------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def mesh() -> tuple[Array, Array]:
    air_c, humidity = np.meshgrid(np.linspace(-40, 125, 166), np.linspace(0.0, 100.0, 101))
    return air_c.ravel(), humidity.ravel()


def test_dew_point_returns_the_vapour_pressure_everywhere(mesh: tuple[Array, Array]) -> None:
    """Round trip over the whole range; the dew point below -40 °C is put back through the bare formula."""
    air_c, humidity = mesh[0], np.maximum(mesh[1], 1e-6)
    dew_c = dew_point_c(air_c, humidity)
    inside = dew_c >= -40.0

    returned = saturation_vapour_pressure_pa(np.minimum(dew_c[inside], 125.0))
    np.testing.assert_allclose(returned, vapour_pressure_pa(air_c, humidity)[inside], rtol=1e-9)
    assert np.all(dew_c <= air_c + 1e-9)


def test_scalars_and_arrays_agree() -> None:
    air_c, humidity = np.array([-10.0, 5.0, 28.0, 60.0]), np.array([80.0, 20.0, 70.0, 5.0])
    for function in (vapour_pressure_deficit_pa, dew_point_c, vapour_pressure_pa):
        single = [function(float(t), float(rh)) for t, rh in zip(air_c, humidity, strict=True)]

        np.testing.assert_allclose(function(air_c, humidity), single, rtol=1e-12)
    pairs = zip(air_c.tolist(), humidity.tolist(), strict=True)
    ratios = [humidity_ratio(t, rh, SEA_LEVEL_PA) for t, rh in pairs]
    np.testing.assert_allclose(humidity_ratio(air_c, humidity, SEA_LEVEL_PA), ratios, rtol=1e-12)


def test_scalars_come_back_as_plain_floats() -> None:
    assert type(dew_point_c(28.0, 70.0)) is float
    assert type(humidity_ratio(28.0, 70.0, SEA_LEVEL_PA)) is float


def test_deficit_and_vapour_make_up_saturation(mesh: tuple[Array, Array]) -> None:
    total = vapour_pressure_pa(*mesh) + vapour_pressure_deficit_pa(*mesh)

    np.testing.assert_allclose(total, saturation_vapour_pressure_pa(mesh[0]), rtol=1e-12)


def test_dry_air_density_difference_of_the_evaporation_table() -> None:
    """Shah's table, surface and room at 28 °C, room 50 %: 0.0219 kg dry air/m³."""
    room = dry_air_density_kg_m3(28.0, 50.0, SEA_LEVEL_PA)
    surface = dry_air_density_kg_m3(28.0, 100.0, SEA_LEVEL_PA)

    assert room - surface == pytest.approx(0.0219, abs=1e-4)


temperatures = st.floats(-39.0, 78.0)
humidities = st.floats(0.01, 99.0)


@given(temperatures, humidities, st.floats(0.01, 1.0))
def test_everything_rises_with_humidity(air_c: float, humidity: float, more: float) -> None:
    wetter = humidity + more

    assert vapour_pressure_pa(air_c, wetter) > vapour_pressure_pa(air_c, humidity)
    assert vapour_pressure_deficit_pa(air_c, wetter) < vapour_pressure_deficit_pa(air_c, humidity)
    assert dew_point_c(air_c, wetter) > dew_point_c(air_c, humidity)
    assert dry_air_density_kg_m3(air_c, wetter, SEA_LEVEL_PA) < dry_air_density_kg_m3(
        air_c, humidity, SEA_LEVEL_PA
    )


@given(temperatures, humidities, st.floats(0.01, 1.0))
def test_everything_rises_with_temperature(air_c: float, humidity: float, more: float) -> None:
    warmer = air_c + more

    assert saturation_vapour_pressure_pa(warmer) > saturation_vapour_pressure_pa(air_c)
    assert dew_point_c(warmer, humidity) > dew_point_c(air_c, humidity)
    assert vapour_pressure_deficit_pa(warmer, humidity) > vapour_pressure_deficit_pa(air_c, humidity)


# ---- refusals ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: saturation_vapour_pressure_pa(125.5), "air temperature is 125.5 °C; allowed: -40 to 125 °C"),
        (lambda: saturation_vapour_pressure_pa(float("nan")), "air temperature is nan"),
        (lambda: vapour_pressure_pa(20.0, -1.0), "relative humidity is -1 %; allowed: 0 to 100 %"),
        (lambda: vapour_pressure_pa(20.0, 100.1), "relative humidity is 100.1 %"),
        (lambda: dew_point_c(20.0, 0.0), "relative humidity is 0 %"),
        (lambda: surface_humidity_percent(20.0, 50.0, 130.0), "surface temperature is 130 °C"),
        (lambda: condensation_margin_k(20.0, 50.0, -50.0), "surface temperature is -50 °C"),
        (lambda: humidity_ratio(20.0, 50.0, 1013.25), "air pressure is 1013.25 Pa"),
        (
            lambda: humidity_ratio(80.0, 100.0, 46_000.0),
            "vapour pressure is 47411.6 Pa; allowed: below the air",
        ),
        (lambda: standard_pressure_pa(12_000.0), "altitude is 12000 m"),
    ],
)
def test_input_out_of_range_is_named(call: Any, words: str) -> None:
    with pytest.raises(ValueError) as caught:
        call()

    assert words in str(caught.value)


def test_array_out_of_range_says_how_many() -> None:
    with pytest.raises(ValueError, match=r"air temperature is 130 °C \(and 1 more\)"):
        saturation_vapour_pressure_pa(np.array([20.0, 130.0, np.nan]))
