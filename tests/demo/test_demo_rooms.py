"""Rooms of the invented farm: heat and water go where physics sends them. Plan values are invented."""

from dataclasses import replace

import pytest

from monitor.demo.rooms import RoomLoads, RoomPlan, RoomState, air_changes_h, roof_sheet_c, step_room
from monitor.demo.weather import Outdoor

NIGHT = Outdoor(temperature_c=8.0, vapour_pressure_pa=800.0, sun_w_m2=0.0, sky_loss_w_m2=70.0)
NOON = Outdoor(temperature_c=30.0, vapour_pressure_pa=1100.0, sun_w_m2=950.0, sky_loss_w_m2=70.0)
START = RoomState(air_c=26.0, mass_c=26.0, roof_c=20.0, vapour_pressure_pa=1600.0)
PLAN = RoomPlan()


def _after(hours: float, outdoor: Outdoor, loads: RoomLoads, interval_s: float = 60.0) -> RoomState:
    state = START
    for _ in range(round(hours * 3600 / interval_s)):
        state = step_room(PLAN, state, outdoor, loads, interval_s)
    return state


def test_a_clear_night_makes_the_roof_colder_than_the_air_outside() -> None:
    assert roof_sheet_c(NIGHT, 8.0) < NIGHT.temperature_c


def test_noon_makes_the_roof_hot() -> None:
    assert 45 < roof_sheet_c(NOON, 30.0) < 70


def test_the_heater_holds_the_room_at_night_and_a_power_cut_cools_it() -> None:
    assert _after(12, NIGHT, RoomLoads()).air_c == pytest.approx(PLAN.heat_to_c, abs=0.5)
    cold = _after(12, NIGHT, RoomLoads(power=False)).air_c
    assert NIGHT.temperature_c < cold < PLAN.heat_to_c - 4


def test_vents_open_in_the_heat_and_keep_the_room_near_the_air_outside() -> None:
    assert air_changes_h(PLAN, 25.0, RoomLoads()) == PLAN.closed_changes_h
    assert air_changes_h(PLAN, 35.0, RoomLoads()) == PLAN.open_changes_h
    assert 30 < _after(4, NOON, RoomLoads()).air_c < 38


def test_an_open_door_carries_heat_and_water_out() -> None:
    shut = _after(3, NIGHT, RoomLoads(power=False))
    open_ = _after(3, NIGHT, RoomLoads(power=False, door_changes_h=5.0))
    assert open_.air_c < shut.air_c
    assert open_.vapour_pressure_pa < shut.vapour_pressure_pa


def test_water_from_the_bins_moistens_the_room_but_never_beyond_saturation() -> None:
    damp = _after(6, NIGHT, RoomLoads(water_kg_s=0.3 / 3600, power=False))
    dry = _after(6, NIGHT, RoomLoads(power=False))
    assert damp.vapour_pressure_pa > dry.vapour_pressure_pa
    flood = _after(6, NIGHT, RoomLoads(water_kg_s=0.05, power=False))
    assert flood.humidity_percent <= 100.0


@pytest.mark.parametrize("interval_s", [10.0, 300.0, 900.0])
def test_the_length_of_the_step_does_not_change_the_outcome(interval_s: float) -> None:
    fine = _after(6, NIGHT, RoomLoads(power=False), interval_s=30.0)
    other = _after(6, NIGHT, RoomLoads(power=False), interval_s=interval_s)
    assert other.air_c == pytest.approx(fine.air_c, abs=0.25)
    assert other.vapour_pressure_pa == pytest.approx(fine.vapour_pressure_pa, rel=0.05)


def test_in_a_steady_state_heat_in_is_heat_out() -> None:
    """With no sun, sky, heater or wall, the air ends where air outside and roof sheet balance the load."""
    plan = replace(PLAN, outer_wall_w_k=0.0, inner_mass_w_k=1e-9)
    still = Outdoor(20.0, 1000.0, 0.0, 0.0)
    state = START
    for _ in range(2000):
        state = step_room(plan, state, still, RoomLoads(heat_w=500.0, power=False), 60.0)
    vent_w = plan.closed_changes_h * plan.volume_m3 / 3600 * 1006 * 1.03 * (state.air_c - 20.0)
    roof_w = 3.5 * plan.roof_m2 * (state.air_c - state.roof_c)
    assert vent_w + roof_w == pytest.approx(500.0, rel=0.02)
