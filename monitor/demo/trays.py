"""Small spaces inside a room: hatching trays, pupation boxes, love cages.

Each has its own air, exchanges it with what is around, and holds something wet that dries out.
All plan values are invented.
"""

from __future__ import annotations

from dataclasses import dataclass

from monitor.demo.air import (
    EVAPORATION_HEAT_J_KG,
    humidity_percent,
    relax,
    saturation_pa,
    vapour_conductance_kg_s_pa,
)
from monitor.demo.bins import Surroundings

# 60 g/(m2 h) per kPa, the rate of free water in quiet air at 28 °C.
WET_SURFACE_KG_M2_S_PA = 60e-3 / 3600.0 / 1000.0


@dataclass(frozen=True, slots=True)
class NookPlan:
    """A small space: how wet, how airy, how quickly it follows its surroundings."""

    wet_m2: float
    water_full_kg: float
    exchange_m3_h: float
    heat_w_k: float
    lamp_w: float = 0.0
    heat_time_constant_s: float = 900.0
    air_time_constant_s: float = 300.0


@dataclass(frozen=True, slots=True)
class NookState:
    """Air and remaining water of a small space."""

    air_c: float
    vapour_pressure_pa: float
    water_kg: float

    @property
    def humidity_percent(self) -> float:
        """Relative humidity inside [%RH]."""
        return humidity_percent(self.air_c, self.vapour_pressure_pa)


HATCHING_TRAY = NookPlan(wet_m2=0.12, water_full_kg=0.2, exchange_m3_h=0.8, heat_w_k=3.0, lamp_w=6.0)
PUPATION_BOX = NookPlan(wet_m2=0.2, water_full_kg=1.2, exchange_m3_h=4.0, heat_w_k=5.0)
LOVE_CAGE = NookPlan(wet_m2=0.5, water_full_kg=2.0, exchange_m3_h=10.0, heat_w_k=25.0, lamp_w=60.0)


def wet_share(plan: NookPlan, water_kg: float) -> float:
    """Share of the wet surface that is still wet: falls once less than a third of the water is left."""
    return min(1.0, max(0.0, 3.0 * water_kg / plan.water_full_kg))


def step_nook(
    plan: NookPlan, state: NookState, around: Surroundings, interval_s: float, lamp_on: bool = False
) -> NookState:
    """The small space after an interval; its water can run out and then stays at nothing."""
    wet = WET_SURFACE_KG_M2_S_PA * plan.wet_m2 * wet_share(plan, state.water_kg)
    evaporated = wet * (saturation_pa(state.air_c) - state.vapour_pressure_pa)
    lamp_w = plan.lamp_w if lamp_on else 0.0
    air_target = around.air_c + (lamp_w - EVAPORATION_HEAT_J_KG * evaporated) / plan.heat_w_k
    carried = vapour_conductance_kg_s_pa(plan.exchange_m3_h, state.air_c)
    vapour_target = (wet * saturation_pa(state.air_c) + carried * around.vapour_pressure_pa) / (wet + carried)
    vapour = relax(state.vapour_pressure_pa, vapour_target, plan.air_time_constant_s, interval_s)
    return NookState(
        air_c=relax(state.air_c, air_target, plan.heat_time_constant_s, interval_s),
        vapour_pressure_pa=min(vapour, saturation_pa(state.air_c)),
        water_kg=max(0.0, state.water_kg - evaporated * interval_s),
    )


def refill(plan: NookPlan, state: NookState) -> NookState:
    """The keeper wets the pad, the medium or the plants again."""
    return NookState(state.air_c, state.vapour_pressure_pa, plan.water_full_kg)
