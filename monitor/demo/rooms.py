"""Heat and water in a room under a tin roof, and in the small enclosures inside it (trays, boxes, cages).

A room is one air, one mass (walls and floor) and one roof sheet. An enclosure has its own air, exchanges it
with its surroundings and holds something wet that dries out. All plan values are invented, of the order of a
small block-walled outbuilding.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from monitor.demo.weather import (
    AIR_HEAT_J_KG_K,
    EVAPORATION_HEAT_J_KG,
    Outdoor,
    Surroundings,
    air_heat_w_k,
    dry_air_density_kg_m3,
    relax,
    saturation_pa,
    vapour_conductance_kg_s_pa,
    vapour_pa,
)

ROOF_OUTSIDE_W_M2_K = 16.0
ROOF_INSIDE_W_M2_K = 3.5
ROOF_ABSORBS = 0.55
# Shelves, boxes and litter take part in each change of the air: as much as this many times the air alone.
FURNITURE = 4.0
# Water that reaches the cold roof sheet through gaps of the ceiling and drips there.
CEILING_KG_M2_S_PA = 2e-9
# 60 g/(m2 h) per kPa, the rate of free water in quiet air at 28 °C.
WET_SURFACE_KG_M2_S_PA = 60e-3 / 3600.0 / 1000.0


@dataclass(frozen=True, slots=True)
class RoomPlan:
    """What a room is built of and what stands in it to warm and moisten it."""

    volume_m3: float = 48.0
    roof_m2: float = 18.0
    inner_mass_w_k: float = 260.0
    outer_wall_w_k: float = 70.0
    mass_j_k: float = 9.0e6
    heater_w: float = 3200.0
    heat_to_c: float = 27.0
    humidifier_kg_h: float = 1.2
    moisten_to_percent: float = 58.0
    closed_changes_h: float = 0.7
    open_changes_h: float = 14.0
    open_above_c: float = 30.0


@dataclass(frozen=True, slots=True)
class RoomState(Surroundings):
    """The air of a room, with the temperatures of its walls and its roof sheet."""

    mass_c: float
    roof_c: float


@dataclass(frozen=True, slots=True)
class RoomLoads:
    """What happens in the room during a step: heat and water from animals, mains power, an open door."""

    heat_w: float = 0.0
    water_kg_s: float = 0.0
    power: bool = True
    door_changes_h: float = 0.0


def air_changes_h(plan: RoomPlan, air_c: float, loads: RoomLoads) -> float:
    """Air changes per hour: vents open gradually over 2 K above their temperature."""
    opening = min(1.0, max(0.0, (air_c - plan.open_above_c) / 2.0))
    vents = plan.closed_changes_h + opening * (plan.open_changes_h - plan.closed_changes_h)
    return vents + loads.door_changes_h


def roof_sheet_c(outdoor: Outdoor, air_c: float) -> float:
    """Temperature of the thin roof sheet [°C]: sun and clear sky on one side, the room on the other."""
    gain = ROOF_ABSORBS * outdoor.sun_w_m2 - outdoor.sky_loss_w_m2
    flows = ROOF_OUTSIDE_W_M2_K * outdoor.temperature_c + ROOF_INSIDE_W_M2_K * air_c + gain
    return flows / (ROOF_OUTSIDE_W_M2_K + ROOF_INSIDE_W_M2_K)


def step_room(
    plan: RoomPlan, state: RoomState, outdoor: Outdoor, loads: RoomLoads, interval_s: float
) -> RoomState:
    """The room after an interval: every new value comes from the old ones."""
    flow_m3_h = air_changes_h(plan, state.air_c, loads) * plan.volume_m3
    roof_c = roof_sheet_c(outdoor, state.air_c)

    vent_w_k = air_heat_w_k(flow_m3_h, state.air_c)
    roof_w_k = ROOF_INSIDE_W_M2_K * plan.roof_m2
    air_w_k = vent_w_k + roof_w_k + plan.inner_mass_w_k
    flows = vent_w_k * outdoor.temperature_c + roof_w_k * roof_c + plan.inner_mass_w_k * state.mass_c
    unheated_c = (flows + loads.heat_w) / air_w_k
    wanted_w = (plan.heat_to_c - unheated_c) * air_w_k
    heater_w = min(plan.heater_w, max(0.0, wanted_w)) if loads.power else 0.0
    capacity = FURNITURE * plan.volume_m3 * dry_air_density_kg_m3(state.air_c, 0.0) * AIR_HEAT_J_KG_K

    mass_w_k = plan.inner_mass_w_k + plan.outer_wall_w_k
    mass_target_c = (
        plan.inner_mass_w_k * state.air_c + plan.outer_wall_w_k * outdoor.temperature_c
    ) / mass_w_k

    carried = vapour_conductance_kg_s_pa(flow_m3_h, state.air_c)
    dripping_kg_s = (
        CEILING_KG_M2_S_PA * plan.roof_m2 * max(0.0, state.vapour_pressure_pa - saturation_pa(roof_c))
    )
    dry_target_pa = outdoor.vapour_pressure_pa + (loads.water_kg_s - dripping_kg_s) / carried
    wanted_kg_s = (vapour_pa(state.air_c, plan.moisten_to_percent) - dry_target_pa) * carried
    humidifier_kg_s = min(plan.humidifier_kg_h / 3600.0, max(0.0, wanted_kg_s)) if loads.power else 0.0
    vapour_target_pa = max(0.0, dry_target_pa + humidifier_kg_s / carried)
    vapour_time_s = FURNITURE * plan.volume_m3 / flow_m3_h * 3600.0
    vapour_pressure_pa = relax(state.vapour_pressure_pa, vapour_target_pa, vapour_time_s, interval_s)
    return RoomState(
        air_c=relax(state.air_c, unheated_c + heater_w / air_w_k, capacity / air_w_k, interval_s),
        vapour_pressure_pa=min(vapour_pressure_pa, saturation_pa(state.air_c)),
        mass_c=relax(state.mass_c, mass_target_c, plan.mass_j_k / mass_w_k, interval_s),
        roof_c=roof_c,
    )


@dataclass(frozen=True, slots=True)
class EnclosurePlan:
    """Wet surface, water, air exchange and inertia of an enclosure."""

    wet_m2: float
    water_full_kg: float
    exchange_m3_h: float
    heat_w_k: float
    lamp_w: float = 0.0
    heat_time_constant_s: float = 900.0
    air_time_constant_s: float = 300.0


@dataclass(frozen=True, slots=True)
class EnclosureState(Surroundings):
    """Air and remaining water of an enclosure."""

    water_kg: float


HATCHING_TRAY = EnclosurePlan(wet_m2=0.12, water_full_kg=0.2, exchange_m3_h=0.8, heat_w_k=3.0, lamp_w=6.0)
PUPATION_BOX = EnclosurePlan(wet_m2=0.2, water_full_kg=1.2, exchange_m3_h=4.0, heat_w_k=5.0)
LOVE_CAGE = EnclosurePlan(wet_m2=0.5, water_full_kg=2.0, exchange_m3_h=10.0, heat_w_k=25.0, lamp_w=60.0)


def wet_share(plan: EnclosurePlan, water_kg: float) -> float:
    """Share of the wet surface that is still wet: falls once less than a third of the water is left."""
    return min(1.0, max(0.0, 3.0 * water_kg / plan.water_full_kg))


def step_enclosure(
    plan: EnclosurePlan, state: EnclosureState, air: Surroundings, interval_s: float, lamp_on: bool = False
) -> EnclosureState:
    """The enclosure in this air after an interval; its water can run out and then stays at zero."""
    wet = WET_SURFACE_KG_M2_S_PA * plan.wet_m2 * wet_share(plan, state.water_kg)
    evaporated = wet * (saturation_pa(state.air_c) - state.vapour_pressure_pa)
    lamp_w = plan.lamp_w if lamp_on else 0.0
    air_target = air.air_c + (lamp_w - EVAPORATION_HEAT_J_KG * evaporated) / plan.heat_w_k
    carried = vapour_conductance_kg_s_pa(plan.exchange_m3_h, state.air_c)
    vapour_target = (wet * saturation_pa(state.air_c) + carried * air.vapour_pressure_pa) / (wet + carried)
    vapour = relax(state.vapour_pressure_pa, vapour_target, plan.air_time_constant_s, interval_s)
    return EnclosureState(
        air_c=relax(state.air_c, air_target, plan.heat_time_constant_s, interval_s),
        vapour_pressure_pa=min(vapour, saturation_pa(state.air_c)),
        water_kg=max(0.0, state.water_kg - evaporated * interval_s),
    )


def refill(plan: EnclosurePlan, state: EnclosureState) -> EnclosureState:
    """The keeper wets the pad, the medium or the plants again."""
    return replace(state, water_kg=plan.water_full_kg)
