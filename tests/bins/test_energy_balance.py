"""The temperature of a wet surface: in balance everywhere in range, and near what was computed apart."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.bins.energy_balance import (
    Surface,
    conductance_w_m2_k,
    heat_from_excess_w_m2,
    latent_heat_j_kg,
    radiative_w_m2_k,
    surface_temperature_c,
)
from monitor.bins.evaporation import evaporation_kg_m2_s, room_air

FloatArray = npt.NDArray[np.float64]
G_H = 3.6e6


def left_over(
    surface_c: FloatArray, air_c: FloatArray, humid: FloatArray, it: Surface, pa: float
) -> FloatArray:
    """Heat that the balance leaves unexplained [W/m²]."""
    air = room_air(air_c, humid, pa)
    latent = latent_heat_j_kg(surface_c) * evaporation_kg_m2_s(surface_c, air, it.fan)
    come = it.heat_w_m2 + it.core_w_m2_k * (it.core_c - surface_c)
    return np.asarray(come - it.wet_share * latent - conductance_w_m2_k(air, it) * (surface_c - air_c))


@pytest.mark.parametrize("pressure_pa", [60_000.0, 88_500.0, 101_325.0, 110_000.0])
@pytest.mark.parametrize("core_w_m2_k", [0.0, 20.0, 50.0])
def test_every_input_in_range_comes_into_balance(pressure_pa: float, core_w_m2_k: float) -> None:
    axes = (
        np.linspace(-20, 50, 15),
        np.array([0.0, 1, 30, 60, 90, 99, 100]),
        np.linspace(0, 300, 7),
        np.array([0.0, 0.05, 0.5, 1.0]),
        np.array([0.0, 1.0]),
        np.array([-20.0, 15.0, 45.0, 80.0]),
    )
    air_c, humid, heat, share, fan, core_c = np.meshgrid(*axes, indexing="ij")
    it = Surface(heat, share, fan > 0, 2.0, core_c, core_w_m2_k)
    found = surface_temperature_c(air_c, humid, it, pressure_pa)
    assert np.all(np.isfinite(found))
    assert np.max(np.abs(left_over(found, air_c, humid, it, pressure_pa))) < 1e-4


# Computed apart with hc between 1.5 and 4 by free convection; ours is 3 throughout, hence the tolerance.
@pytest.mark.parametrize(
    ("air_c", "humid", "by_heat"),
    [
        (28.0, 50.0, {0: 50, 50: 91, 100: 144, 200: 246}),
        (28.0, 70.0, {0: 29, 50: 72, 100: 121, 200: 222}),
        (25.0, 60.0, {0: 35, 50: 76, 100: 124, 200: 221}),
    ],
)
def test_evaporation_by_heat_as_computed_apart(air_c: float, humid: float, by_heat: dict[int, float]) -> None:
    for heat, expected in by_heat.items():
        found = surface_temperature_c(air_c, humid, Surface(float(heat), side_loss_w_m2_k=0.0))
        rate = evaporation_kg_m2_s(found, room_air(air_c, humid)) * G_H
        assert rate == pytest.approx(expected, rel=0.10)


def test_an_inert_tray_is_cooler_and_an_active_bin_warmer_than_the_air() -> None:
    assert surface_temperature_c(28.0, 50.0, Surface()) < 26.0
    assert surface_temperature_c(28.0, 50.0, Surface(200.0)) > 30.0


def test_saturated_air_and_no_heat_leave_the_surface_at_air_temperature() -> None:
    assert surface_temperature_c(28.0, 100.0, Surface()) == pytest.approx(28.0, abs=1e-6)


def test_without_water_it_is_heat_over_conductance() -> None:
    dry = Surface(100.0, wet_share=0.0)
    conductance = float(conductance_w_m2_k(room_air(28.0, 50.0), dry))
    assert surface_temperature_c(28.0, 50.0, dry) == pytest.approx(28.0 + 100.0 / conductance)


def test_a_buried_probe_leads_to_a_surface_between_probe_and_cool_surface() -> None:
    buried = Surface(core_c=38.0, core_w_m2_k=20.0)
    found = surface_temperature_c(28.0, 60.0, buried)
    assert surface_temperature_c(28.0, 60.0, Surface()) < found < 38.0
    assert surface_temperature_c(28.0, 60.0, Surface(core_c=38.0, core_w_m2_k=1e4)) == pytest.approx(
        38.0, abs=0.1
    )


# Radiation of a hot bath at 323 K to walls at 293 K, eps 0.95, 4 m²: 757.232 W (seen worksheet). The linear
# law gives 5.88 W/m²K at 28 °C, computed.
def test_radiation() -> None:
    assert radiative_w_m2_k(28.0) == pytest.approx(5.88, abs=0.02)
    middle_c = (323.0 + 293.0) / 2.0 - 273.15
    assert radiative_w_m2_k(middle_c) * 4.0 * 30.0 == pytest.approx(757.232, rel=0.005)


@given(
    st.floats(0.0, 45.0), st.floats(0.0, 100.0), st.floats(0.0, 300.0), st.floats(0.05, 1.0), st.booleans()
)
def test_heat_is_read_back_from_the_excess(
    air_c: float, humid: float, heat: float, share: float, fan: bool
) -> None:
    found = surface_temperature_c(air_c, humid, Surface(heat, share, fan))
    assert heat_from_excess_w_m2(found, room_air(air_c, humid), Surface(0.0, share, fan)) == pytest.approx(
        heat, abs=1e-4
    )


@given(
    st.floats(5.0, 45.0), st.floats(0.0, 100.0), st.floats(0.0, 300.0), st.floats(5.0, 50.0), st.booleans()
)
def test_a_probe_inside_gives_the_surface_that_its_heat_gives(
    air_c: float, humid: float, heat: float, inner: float, fan: bool
) -> None:
    found = surface_temperature_c(air_c, humid, Surface(heat, fan=fan))
    core_c = found + heat / inner
    if core_c <= 80.0:
        buried = Surface(fan=fan, core_c=core_c, core_w_m2_k=inner)
        assert surface_temperature_c(air_c, humid, buried) == pytest.approx(found, abs=1e-6)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((51.0, 50.0, Surface()), "air temperature is 51 °C"),
        ((28.0, 101.0, Surface()), "relative humidity is 101 %"),
        ((28.0, 50.0, Surface(301.0)), "heat is 301 W/m²"),
        ((28.0, 50.0, Surface(wet_share=1.1)), "wet share is 1.1"),
        ((28.0, 50.0, Surface(core_c=90.0, core_w_m2_k=5.0)), "probe temperature is 90 °C"),
        ((28.0, float("nan"), Surface()), "relative humidity is nan"),
    ],
)
def test_what_is_out_of_range_is_named(arguments: tuple[float, float, Surface], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        surface_temperature_c(*arguments)
