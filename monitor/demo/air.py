"""Moist air for the simulated farm, on plain floats.

The farm has formulas of its own, not those of `monitor.model`: if both shared one mistake,
no run of the demo could show it. Two-constant formula, over water; good to 0.12 % from 5 to 50 °C.
"""

from __future__ import annotations

import math

WATER_GAS_CONSTANT_J_KG_K = 461.5
DRY_GAS_CONSTANT_J_KG_K = 287.055
AIR_HEAT_J_KG_K = 1006.0
EVAPORATION_HEAT_J_KG = 2.43e6
SITE_ALTITUDE_M = 1100.0
# Standard atmosphere: 101325 Pa x (1 - 2.25577e-5 z)^5.2559.
SITE_PRESSURE_PA = 101_325.0 * math.pow(1.0 - 2.25577e-5 * SITE_ALTITUDE_M, 5.2559)


def saturation_pa(air_temperature_c: float) -> float:
    """Saturation vapour pressure over water [Pa]: FAO Irrigation and Drainage Paper 56, equation 11."""
    return 610.8 * math.exp(17.27 * air_temperature_c / (air_temperature_c + 237.3))


def vapour_pa(air_temperature_c: float, relative_humidity_percent: float) -> float:
    """Vapour pressure [Pa] of air at this temperature and humidity."""
    return saturation_pa(air_temperature_c) * relative_humidity_percent / 100.0


def humidity_percent(air_temperature_c: float, vapour_pressure_pa: float) -> float:
    """Relative humidity [%RH], never above 100."""
    return min(100.0, 100.0 * vapour_pressure_pa / saturation_pa(air_temperature_c))


def humidity_ratio(vapour_pressure_pa: float) -> float:
    """Water per dry air [kg/kg] at the pressure of the site."""
    return 0.621945 * vapour_pressure_pa / (SITE_PRESSURE_PA - vapour_pressure_pa)


def dry_air_density_kg_m3(air_temperature_c: float, vapour_pressure_pa: float) -> float:
    """Dry air in one cubic metre of moist air [kg/m3] at the pressure of the site."""
    return (SITE_PRESSURE_PA - vapour_pressure_pa) / (DRY_GAS_CONSTANT_J_KG_K * (air_temperature_c + 273.15))


def vapour_conductance_kg_s_pa(air_flow_m3_h: float, air_temperature_c: float) -> float:
    """Water that an air flow carries per pascal of difference [kg/(s Pa)]."""
    return air_flow_m3_h / 3600.0 / (WATER_GAS_CONSTANT_J_KG_K * (air_temperature_c + 273.15))


def air_heat_w_k(air_flow_m3_h: float, air_temperature_c: float) -> float:
    """Heat that an air flow carries per kelvin of difference [W/K]."""
    return air_flow_m3_h / 3600.0 * AIR_HEAT_J_KG_K * dry_air_density_kg_m3(air_temperature_c, 0.0)


def relax(value: float, target: float, time_constant_s: float, interval_s: float) -> float:
    """Move towards a target as exp(-t/T) does: exact for a constant target, stable at any interval."""
    return target + (value - target) * math.exp(-interval_s / time_constant_s)
