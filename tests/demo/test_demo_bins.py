"""Grow-out bins of the invented farm. Published ranges carry their source; the rest is invented."""

from itertools import pairwise

import pytest

from monitor.demo.bins import (
    DRY_MATTER_PER_CARBON_DIOXIDE,
    HEAT_PER_CARBON_DIOXIDE_J_KG,
    WATER_PER_CARBON_DIOXIDE,
    BinPlan,
    BinState,
    fan_evaporation_kg_m2_s,
    quiet_evaporation_kg_m2_s,
    step_bin,
    stir,
    water_to,
)
from monitor.demo.weather import Surroundings, humidity_percent, saturation_pa, vapour_pa

AIR = Surroundings(28.0, vapour_pa(28.0, 60.0))
FULL = BinState(core_c=31.0, surface_c=30.0, water_kg=7.0, dry_kg=3.0, age_days=8.0)
G_M2_H = 3600.0 * 1000.0


def _run(
    hours: float,
    plan: BinPlan,
    state: BinState = FULL,
    covered: bool = False,
    heat_w_m2: float | None = None,
    interval_s: float = 60.0,
) -> tuple[BinState, float, float]:
    """State, water evaporated [kg] and warmest core [°C] after so many hours."""
    evaporated, hottest = 0.0, state.core_c
    for _ in range(round(hours * 3600 / interval_s)):
        result = step_bin(plan, state, AIR, interval_s, covered, heat_w_m2)
        state = result.state
        evaporated += result.evaporated_kg_s * interval_s
        hottest = max(hottest, state.core_c)
    return state, evaporated, hottest


@pytest.mark.parametrize(
    ("surface_c", "air_c", "humidity", "expected"),
    [
        (28.0, 28.0, 50.0, 136.0),
        (30.0, 28.0, 60.0, 158.0),
        (35.0, 28.0, 60.0, 338.0),
        (28.0, 30.0, 50.0, 97.0),
    ],
)
def test_quiet_evaporation_is_that_of_shah(
    surface_c: float, air_c: float, humidity: float, expected: float
) -> None:
    """Shah 2002, HVAC&R Research 8(1):125-131, g/(m2 h), evaluated with a library's moist air at sea level.

    The farm lies at 1,100 m, where thinner air lets more vapour through: up to a seventh more is right.
    """
    air = Surroundings(air_c, vapour_pa(air_c, humidity))
    assert expected * 0.97 < quiet_evaporation_kg_m2_s(surface_c, air) * G_M2_H < expected * 1.15


def test_a_cold_surface_under_damp_air_gains_water() -> None:
    assert quiet_evaporation_kg_m2_s(15.0, Surroundings(28.0, vapour_pa(28.0, 80.0))) < 0


def test_a_fan_dries_a_cool_surface_more_than_quiet_air_does() -> None:
    assert fan_evaporation_kg_m2_s(26.0, AIR) > quiet_evaporation_kg_m2_s(26.0, AIR)


def test_no_air_exchange_overheats_a_bin_that_makes_150_w_per_m2() -> None:
    """Invented bin. 36 °C is lethal in the long run (Tomberlin, Adler & Myers 2009)."""
    _, _, covered_c = _run(12, BinPlan(), covered=True, heat_w_m2=150.0)
    _, _, open_c = _run(12, BinPlan(), covered=False, heat_w_m2=150.0)
    assert covered_c > 42.0
    assert open_c < 38.0


def test_heat_dies_away_so_that_an_overheated_bin_does_not_boil() -> None:
    _, _, hottest = _run(72, BinPlan(), covered=True)
    assert 42.0 < hottest < 50.0


def test_forced_ventilated_boxes_lose_water_at_the_published_pace() -> None:
    """64-105 g/(m2 h), run means of 6-7 days in boxes of 0.4 x 0.6 m: open data of Fuhrmann et al. 2024.

    Their heat averaged 50-110 W/m2; wheat-like dry matter, air and humidity here are invented.
    """
    _, evaporated, _ = _run(6 * 24, BinPlan(fan=True), heat_w_m2=60.0, interval_s=300.0)
    assert 64.0 < evaporated * 1000 / 0.24 / (6 * 24) < 105.0


@pytest.mark.parametrize("covered", [True, False])
def test_the_books_close(covered: bool) -> None:
    """Water that went in, came out or stayed sums to nothing, and so does dry matter."""
    heat_w_m2, hours = 90.0, 24.0
    state, evaporated, _ = _run(hours, BinPlan(), covered=covered, heat_w_m2=heat_w_m2)
    carbon_dioxide = heat_w_m2 * 0.24 * hours * 3600 / HEAT_PER_CARBON_DIOXIDE_J_KG
    water = FULL.water_kg + WATER_PER_CARBON_DIOXIDE * carbon_dioxide - evaporated
    assert state.water_kg == pytest.approx(water, abs=1e-6)
    assert state.dry_kg == pytest.approx(
        FULL.dry_kg - DRY_MATTER_PER_CARBON_DIOXIDE * carbon_dioxide, abs=1e-6
    )


def test_heat_made_is_heat_given_off_in_a_steady_state() -> None:
    plan, state = BinPlan(), FULL
    for _ in range(3000):
        result = step_bin(plan, state, AIR, 60.0, False, 100.0)
        state = BinState(result.state.core_c, result.state.surface_c, 7.0, 3.0, 8.0)
    given_off_w = result.heat_to_room_w + 2.43e6 * result.evaporated_kg_s
    assert given_off_w == pytest.approx(100.0 * 0.24, rel=0.01)


@pytest.mark.parametrize("interval_s", [20.0, 300.0, 600.0])
def test_the_length_of_the_step_does_not_change_the_outcome(interval_s: float) -> None:
    fine, _, _ = _run(12, BinPlan(), covered=True)
    other, _, _ = _run(12, BinPlan(), covered=True, interval_s=interval_s)
    assert other.core_c == pytest.approx(fine.core_c, abs=0.15)
    assert FULL.water_kg - other.water_kg == pytest.approx(FULL.water_kg - fine.water_kg, rel=0.1)


def test_a_bin_cannot_dry_below_nothing() -> None:
    state, _, _ = _run(24 * 40, BinPlan(fan=True), heat_w_m2=0.0, interval_s=600.0)
    assert state.water_kg >= 0.0
    assert state.moisture < 0.3


def test_heat_follows_the_age_of_the_fill() -> None:
    ages = (1.0, 8.0, 16.0)
    heats = []
    for age in ages:
        result = step_bin(BinPlan(), BinState(30.0, 30.0, 7.0, 3.0, age), AIR, 60.0)
        heats.append(FULL.dry_kg - result.state.dry_kg)
    assert heats[0] < heats[1] > heats[2]


def test_the_keeper_cools_by_stirring_and_waters_up_to_the_mark() -> None:
    hot = BinState(44.0, 42.0, 5.0, 3.0, 8.0)
    assert stir(hot, 36.5).core_c == 36.5
    assert stir(FULL, 36.5) == FULL
    assert water_to(hot, 0.7).moisture == pytest.approx(0.7)
    assert water_to(FULL, 0.5) == FULL


def test_moist_air_goes_both_ways() -> None:
    """Saturation at 25 °C: 3169.7 Pa in ASHRAE Fundamentals 2017, chapter 1, table 3; ours 0.06 % low."""
    assert saturation_pa(25.0) == pytest.approx(3169.7, rel=0.0012)
    assert humidity_percent(25.0, vapour_pa(25.0, 63.0)) == pytest.approx(63.0)
    pressures = [saturation_pa(degrees) for degrees in range(-5, 60)]
    assert all(after > before for before, after in pairwise(pressures))
