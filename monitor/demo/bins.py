"""A simulated grow-out bin: larvae and microbes make heat, water leaves by the surface, the core lags behind.

Heat by stage and the 10.19 kJ per gram of carbon dioxide follow the bioconversion data of Fuhrmann
et al. 2024; the rest of the plan is invented. Evaporation in quiet air: Shah 2002, HVAC&R Research
8(1):125-131; under a fan the larger of that and a flat plate at 0.3 m/s.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import pairwise

from monitor.demo.weather import (
    EVAPORATION_HEAT_J_KG,
    SITE_PRESSURE_PA,
    WATER_GAS_CONSTANT_J_KG_K,
    Surroundings,
    dry_air_density_kg_m3,
    humidity_ratio,
    relax,
    saturation_pa,
)

DRY_HEAT_J_KG_K = 1500.0
WATER_HEAT_J_KG_K = 4186.0
HEAT_PER_CARBON_DIOXIDE_J_KG = 10.19e6
# Starch burnt: 0.61 kg of dry matter and 0.34 kg of water for each kg of carbon dioxide.
DRY_MATTER_PER_CARBON_DIOXIDE = 0.61
WATER_PER_CARBON_DIOXIDE = 0.34
SURFACE_LAYER_J_M2_K = 35_000.0
CORE_TO_SURFACE_W_M2_K = 35.0
OPEN_SURFACE_W_M2_K = 9.0
COVERED_SURFACE_W_M2_K = 2.2
SIDES_W_M2_K = 1.5
# Heat of one fill by its age [d, W per m2 of surface]: nursery, growth, peak, towards harvest.
HEAT_BY_AGE = ((0.0, 10.0), (3.0, 30.0), (6.0, 90.0), (8.0, 160.0), (11.0, 130.0), (14.0, 40.0), (18.0, 15.0))


@dataclass(frozen=True, slots=True)
class BinPlan:
    """What does not change while a bin is filled."""

    surface_m2: float = 0.24
    wet_fraction: float = 0.75
    fan: bool = False


@dataclass(frozen=True, slots=True)
class BinState:
    """Temperatures, masses and age of the fill."""

    core_c: float
    surface_c: float
    water_kg: float
    dry_kg: float
    age_days: float

    @property
    def moisture(self) -> float:
        return self.water_kg / (self.water_kg + self.dry_kg)


@dataclass(frozen=True, slots=True)
class BinResult:
    """A step of a bin: its new state, and what it gave to the room."""

    state: BinState
    heat_to_room_w: float
    evaporated_kg_s: float


def quiet_evaporation_kg_m2_s(surface_c: float, air: Surroundings) -> float:
    """Evaporation into quiet air [kg/(m2 s)], negative when water condenses (Shah 2002)."""
    surface_pa = saturation_pa(surface_c)
    forced = 0.00005 * (surface_pa - air.vapour_pressure_pa)
    lift = dry_air_density_kg_m3(air.air_c, air.vapour_pressure_pa) - dry_air_density_kg_m3(
        surface_c, surface_pa
    )
    if lift <= 0.0:
        return forced / 3600.0
    driving = humidity_ratio(surface_pa) - humidity_ratio(air.vapour_pressure_pa)
    natural = 35.0 * dry_air_density_kg_m3(surface_c, surface_pa) * math.cbrt(lift) * driving
    return max(natural, forced) / 3600.0


def fan_evaporation_kg_m2_s(surface_c: float, air: Surroundings, length_m: float = 0.4) -> float:
    """Evaporation from a flat plate in air moving at 0.3 m/s [kg/(m2 s)]: Sh = 0.664 Re^1/2 Sc^1/3."""
    kelvin = air.air_c + 273.15
    diffusion = 1.87e-10 * math.pow(kelvin, 2.072) / (SITE_PRESSURE_PA / 101_325.0)
    viscosity = 1.6e-5 * 101_325.0 / SITE_PRESSURE_PA
    sherwood = 0.664 * math.sqrt(0.3 * length_m / viscosity) * math.cbrt(viscosity / diffusion)
    difference = saturation_pa(surface_c) - air.vapour_pressure_pa
    return sherwood * diffusion / length_m * difference / (WATER_GAS_CONSTANT_J_KG_K * kelvin)


def heat_w_m2(age_days: float, core_c: float, moisture: float) -> float:
    """Heat of larvae and microbes [W/m2]: by age, dying away above 45 °C, in the cold and when dry."""
    hot = min(1.0, max(0.0, (51.0 - core_c) / 6.0))
    cold = min(1.0, max(0.0, (core_c - 8.0) / 14.0))
    dry = min(1.0, max(0.0, (moisture - 0.25) / 0.2))
    return _by_age(age_days) * hot * cold * dry


def _by_age(age_days: float) -> float:
    for (left, low), (right, high) in pairwise(HEAT_BY_AGE):
        if age_days <= right:
            return low + (high - low) * max(0.0, age_days - left) / (right - left)
    return HEAT_BY_AGE[-1][1]


def evaporation_kg_s(plan: BinPlan, state: BinState, air: Surroundings, covered: bool) -> float:
    """Water that leaves the bin [kg/s]. A cover lets one tenth of the air exchange through."""
    rate = quiet_evaporation_kg_m2_s(state.surface_c, air)
    if plan.fan and not covered:
        rate = max(rate, fan_evaporation_kg_m2_s(state.surface_c, air))
    taper = min(1.0, max(0.0, (state.moisture - 0.15) / 0.2))
    return rate * plan.surface_m2 * plan.wet_fraction * taper * (0.1 if covered else 1.0)


def step_bin(
    plan: BinPlan,
    state: BinState,
    air: Surroundings,
    interval_s: float,
    covered: bool = False,
    heat_override_w_m2: float | None = None,
) -> BinResult:
    """The bin after an interval: all rates from the old state, then the new state."""
    made_w_m2 = heat_override_w_m2
    if made_w_m2 is None:
        made_w_m2 = heat_w_m2(state.age_days, state.core_c, state.moisture)
    evaporated = evaporation_kg_s(plan, state, air, covered)
    carbon_dioxide = made_w_m2 * plan.surface_m2 / HEAT_PER_CARBON_DIOXIDE_J_KG
    water = state.water_kg + (WATER_PER_CARBON_DIOXIDE * carbon_dioxide - evaporated) * interval_s
    top_w_m2_k = COVERED_SURFACE_W_M2_K if covered else OPEN_SURFACE_W_M2_K
    new = BinState(
        core_c=_core(plan, state, air, made_w_m2, interval_s),
        surface_c=_surface(state, air, top_w_m2_k, evaporated / plan.surface_m2, interval_s),
        water_kg=max(0.0, water),
        dry_kg=state.dry_kg - DRY_MATTER_PER_CARBON_DIOXIDE * carbon_dioxide * interval_s,
        age_days=state.age_days + interval_s / 86_400.0,
    )
    to_room = top_w_m2_k * (state.surface_c - air.air_c) + SIDES_W_M2_K * (state.core_c - air.air_c)
    return BinResult(new, to_room * plan.surface_m2, evaporated)


def _core(plan: BinPlan, state: BinState, air: Surroundings, made_w_m2: float, interval_s: float) -> float:
    total = CORE_TO_SURFACE_W_M2_K + SIDES_W_M2_K
    target = (CORE_TO_SURFACE_W_M2_K * state.surface_c + SIDES_W_M2_K * air.air_c + made_w_m2) / total
    heat_j_m2_k = (DRY_HEAT_J_KG_K * state.dry_kg + WATER_HEAT_J_KG_K * state.water_kg) / plan.surface_m2
    return relax(state.core_c, target, heat_j_m2_k / total, interval_s)


def _surface(
    state: BinState, air: Surroundings, top_w_m2_k: float, evaporated_kg_m2_s: float, interval_s: float
) -> float:
    total = CORE_TO_SURFACE_W_M2_K + top_w_m2_k
    latent_w_m2 = EVAPORATION_HEAT_J_KG * evaporated_kg_m2_s
    target = (CORE_TO_SURFACE_W_M2_K * state.core_c + top_w_m2_k * air.air_c - latent_w_m2) / total
    return relax(state.surface_c, target, SURFACE_LAYER_J_M2_K / total, interval_s)


def stir(state: BinState, cool_to_c: float) -> BinState:
    """The keeper opens and stirs a bin: its heat goes out at once down to this temperature."""
    return replace(state, core_c=min(state.core_c, cool_to_c), surface_c=min(state.surface_c, cool_to_c))


def water_to(state: BinState, moisture: float) -> BinState:
    """The keeper waters a bin up to this moisture, and never takes water out."""
    wanted = state.dry_kg * moisture / (1.0 - moisture)
    return replace(state, water_kg=max(state.water_kg, wanted))
