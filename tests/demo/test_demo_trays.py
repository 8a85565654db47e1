"""Hatching trays, boxes and cages of the invented farm. All plan values are invented."""

import pytest

from monitor.demo.rooms import (
    HATCHING_TRAY,
    LOVE_CAGE,
    PUPATION_BOX,
    EnclosurePlan,
    EnclosureState,
    refill,
    step_enclosure,
    wet_share,
)
from monitor.demo.weather import Surroundings, vapour_pa

ROOM = Surroundings(27.0, vapour_pa(27.0, 45.0))


def _after(hours: float, plan: EnclosurePlan, water_kg: float, lamp_on: bool = False) -> EnclosureState:
    state = EnclosureState(27.0, vapour_pa(27.0, 45.0), water_kg)
    for _ in range(round(hours * 60)):
        state = step_enclosure(plan, state, ROOM, 60.0, lamp_on)
    return state


def test_a_wet_tray_is_damper_than_its_room_and_a_dry_one_is_not() -> None:
    wet = _after(3, HATCHING_TRAY, HATCHING_TRAY.water_full_kg)
    assert wet.humidity_percent > 70
    assert _after(3, HATCHING_TRAY, 0.0).humidity_percent == pytest.approx(45.0, abs=1.0)


def test_a_tray_that_nobody_wets_dries_out_within_days_and_its_air_with_it() -> None:
    tray = _after(24, HATCHING_TRAY, 0.05)
    assert tray.water_kg < 0.01
    assert tray.humidity_percent < 60


def test_the_wet_share_falls_only_when_the_water_runs_out() -> None:
    assert wet_share(HATCHING_TRAY, HATCHING_TRAY.water_full_kg) == 1.0
    assert wet_share(HATCHING_TRAY, HATCHING_TRAY.water_full_kg / 6) == pytest.approx(0.5)
    assert wet_share(HATCHING_TRAY, 0.0) == 0.0


def test_evaporation_cools_and_a_lamp_warms() -> None:
    assert _after(3, LOVE_CAGE, LOVE_CAGE.water_full_kg).air_c < ROOM.air_c
    assert _after(3, LOVE_CAGE, LOVE_CAGE.water_full_kg, lamp_on=True).air_c > ROOM.air_c


def test_water_only_leaves_until_somebody_brings_more() -> None:
    box = _after(12, PUPATION_BOX, 0.6)
    assert box.water_kg < 0.6
    assert refill(PUPATION_BOX, box).water_kg == PUPATION_BOX.water_full_kg
