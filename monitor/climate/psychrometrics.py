"""Moist air at a known pressure: humidity ratio, wet bulb, densities, standard pressure.

The functions that need no air pressure live in `vapour` and are offered here too, so that the rest
of the program imports from one place. Air and vapour are ideal gases without the enhancement
factor: humidity ratios come out 0.4 to 0.6 % below real moist air (see the tests), far less than
the error of any sensor in the room.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from monitor.climate.arrays import Value, exponential, require
from monitor.climate.vapour import (
    ZERO_CELSIUS_K,
    condensation_margin_k,
    dew_point_c,
    log_liquid_pressure,
    mean_saturation_vapour_pressure_pa,
    relative_humidity_percent,
    require_temperature,
    saturation_slope_pa_k,
    saturation_vapour_pressure_ice_pa,
    saturation_vapour_pressure_pa,
    surface_humidity_percent,
    vapour_pressure_deficit_pa,
    vapour_pressure_pa,
)

__all__ = [
    "absolute_humidity_kg_m3",
    "condensation_margin_k",
    "dew_point_c",
    "dry_air_density_kg_m3",
    "humidity_ratio",
    "humidity_ratio_from_wet_bulb",
    "mean_saturation_vapour_pressure_pa",
    "moist_air_density_kg_m3",
    "relative_humidity_percent",
    "saturation_slope_pa_k",
    "saturation_vapour_pressure_ice_pa",
    "saturation_vapour_pressure_pa",
    "standard_pressure_pa",
    "surface_humidity_percent",
    "vapour_pressure_deficit_pa",
    "vapour_pressure_pa",
    "wet_bulb_c",
]

MASS_RATIO = 0.621945
"""Molar mass of water over that of dry air [kg/kg]. Source: ASHRAE Fundamentals 2017 ch. 1 eq. 20."""

DRY_AIR_GAS_CONSTANT_J_KG_K = 287.042
"""Gas constant of dry air [J/(kg K)]. Source: ASHRAE Fundamentals 2017 ch. 1 eq. 1."""

VAPOUR_GAS_CONSTANT_J_KG_K = DRY_AIR_GAS_CONSTANT_J_KG_K / MASS_RATIO
"""Gas constant of water vapour [J/(kg K)], derived from the two above."""

SEA_LEVEL_PRESSURE_PA = 101_325.0
"""Standard air pressure at sea level [Pa]. Source: ASHRAE Fundamentals 2017 ch. 1 eq. 3."""

LOWEST_PRESSURE_PA, HIGHEST_PRESSURE_PA = 45_000.0, 120_000.0
"""Range of air pressures taken as input [Pa]. Source: own choice, 6,300 m up to below sea level."""

DEEPEST_WET_BULB_C = -60.0
HALVINGS = 31
"""Halvings of a bracket of at most 170 K leave less than 1e-7 K. Source: own choice."""

ROUNDING = 1e-12
"""Humidity ratio that rounding may take from saturated air [kg/kg]. Source: own choice."""


def standard_pressure_pa(altitude_m: float) -> float:
    """Air pressure that is usual at an altitude.

    Parameters
    ----------
    altitude_m : float
        Altitude above sea level [m], -5000 to 11000.

    Returns
    -------
    float
        Standard air pressure [Pa].

    Notes
    -----
    p = 101325 (1 - 2.25577e-5 Z)^5.2559.

    Source
    ------
    ASHRAE Handbook Fundamentals 2017, ch. 1, eq. 3.
    """
    require("altitude", "m", altitude_m, -5_000.0, 11_000.0)
    return float(SEA_LEVEL_PRESSURE_PA * (1.0 - 2.25577e-5 * altitude_m) ** 5.2559)


def _require_pressure(pressure_pa: float, vapour: Value) -> None:
    """Raise a ValueError unless the air pressure is in range and above the vapour pressure."""
    require("air pressure", "Pa", pressure_pa, LOWEST_PRESSURE_PA, HIGHEST_PRESSURE_PA)
    highest = float(np.max(vapour)) if isinstance(vapour, np.ndarray) else vapour
    if highest >= pressure_pa:
        raise ValueError(
            f"vapour pressure is {highest:g} Pa; allowed: below the air pressure of {pressure_pa:g} Pa"
        )


def humidity_ratio(air_temperature_c: Value, relative_humidity_percent: Value, pressure_pa: float) -> Value:
    """Mass of water vapour for each kilogram of dry air.

    Parameters
    ----------
    air_temperature_c : float
        Air temperature [°C], -40 to 125.
    relative_humidity_percent : float
        Relative humidity over liquid water [%], 0 to 100.
    pressure_pa : float
        Air pressure [Pa], 45000 to 120000.

    Returns
    -------
    float
        Humidity ratio [kg/kg dry air].

    Notes
    -----
    W = 0.621945 e/(p - e).

    Source
    ------
    ASHRAE Handbook Fundamentals 2017, ch. 1, eq. 20.
    """
    vapour = vapour_pressure_pa(air_temperature_c, relative_humidity_percent)
    _require_pressure(pressure_pa, vapour)
    return MASS_RATIO * vapour / (pressure_pa - vapour)


def _ratio_at_wet_bulb(air_temperature_c: Value, wet_bulb_c: Value, pressure_pa: float) -> Value:
    """Return the humidity ratio of ASHRAE eq. 33 without a check of the range; negative where impossible."""
    saturated_pa = exponential(log_liquid_pressure(wet_bulb_c + ZERO_CELSIUS_K))
    saturated = MASS_RATIO * saturated_pa / (pressure_pa - saturated_pa)
    taken_up = (2501.0 - 2.326 * wet_bulb_c) * saturated
    given_up = 1.006 * (air_temperature_c - wet_bulb_c)
    return (taken_up - given_up) / (2501.0 + 1.86 * air_temperature_c - 4.186 * wet_bulb_c)


def humidity_ratio_from_wet_bulb(air_temperature_c: Value, wet_bulb_c: Value, pressure_pa: float) -> Value:
    """Humidity ratio from a dry and a wet thermometer.

    Parameters
    ----------
    air_temperature_c : float
        Dry-bulb temperature [°C], -40 to 125.
    wet_bulb_c : float
        Wet-bulb temperature [°C], -40 to the dry-bulb temperature; the wick holds liquid water.
    pressure_pa : float
        Air pressure [Pa], 45000 to 120000.

    Returns
    -------
    float
        Humidity ratio [kg/kg dry air].

    Notes
    -----
    W = ((2501 - 2.326 t*) Ws* - 1.006 (t - t*))/(2501 + 1.86 t - 4.186 t*).

    Source
    ------
    ASHRAE Handbook Fundamentals 2017, ch. 1, eq. 33.
    """
    require_temperature("air temperature", air_temperature_c)
    _require_pressure(pressure_pa, saturation_vapour_pressure_pa(wet_bulb_c))
    if np.max(wet_bulb_c - air_temperature_c) > 0.0:
        raise ValueError("wet bulb is warmer than the air; allowed: at most the air temperature")
    ratio = _ratio_at_wet_bulb(air_temperature_c, wet_bulb_c, pressure_pa)
    if np.min(ratio) < 0.0:
        raise ValueError("wet bulb is colder than perfectly dry air of this temperature could make it")
    return ratio


def wet_bulb_c(air_temperature_c: Value, relative_humidity_percent: Value, pressure_pa: float) -> Value:
    """Temperature of a wet surface that exchanges heat only with the air passing over it.

    Parameters
    ----------
    air_temperature_c : float
        Air temperature [°C], -40 to 125.
    relative_humidity_percent : float
        Relative humidity over liquid water [%], 0 to 100.
    pressure_pa : float
        Air pressure [Pa], 45000 to 120000, and above the saturation pressure of the air temperature.

    Returns
    -------
    float
        Thermodynamic wet-bulb temperature over liquid water [°C].

    Notes
    -----
    Eq. 33 solved for t* by halving the bracket from -60 °C to the air temperature to below 1e-7 K.
    Raises an ArithmeticError where the bracket holds no root, which no input in range brings
    about (tested over the range).

    Source
    ------
    ASHRAE Handbook Fundamentals 2017, ch. 1, eq. 33 and 35.
    """
    ratio = humidity_ratio(air_temperature_c, relative_humidity_percent, pressure_pa)
    _require_pressure(pressure_pa, saturation_vapour_pressure_pa(air_temperature_c))

    def excess(guess_c: Value) -> Value:
        return _ratio_at_wet_bulb(air_temperature_c, guess_c, pressure_pa) - ratio

    return _root(excess, air_temperature_c * 0.0 + DEEPEST_WET_BULB_C, air_temperature_c * 1.0)


def _root(growing: Callable[[Value], Value], low: Value, high: Value) -> Value:
    """Return where a growing function is zero; raise an ArithmeticError if the bracket does not hold it."""
    if np.max(growing(low)) > 0.0 or np.min(growing(high)) < -ROUNDING:
        raise ArithmeticError("the wet bulb is not between -60 °C and the air temperature")
    width = high - low
    for _ in range(HALVINGS):
        width = width / 2.0
        low = low + width * (growing(low + width) <= 0.0)
    return low + width / 2.0


def dry_air_density_kg_m3(
    air_temperature_c: Value, relative_humidity_percent: Value, pressure_pa: float
) -> Value:
    """Mass of DRY AIR in a cubic metre of moist air, the density that evaporation formulas need.

    Parameters
    ----------
    air_temperature_c : float
        Air temperature [°C], -40 to 125.
    relative_humidity_percent : float
        Relative humidity over liquid water [%], 0 to 100.
    pressure_pa : float
        Air pressure [Pa], 45000 to 120000.

    Returns
    -------
    float
        Dry air in moist air [kg dry air/m³]; its inverse is the specific volume of the handbook.

    Notes
    -----
    rho = (p - e)/(R T), R = 287.042 J/(kg K).

    Source
    ------
    ASHRAE Handbook Fundamentals 2017, ch. 1, eq. 26 inverted.
    """
    vapour = vapour_pressure_pa(air_temperature_c, relative_humidity_percent)
    _require_pressure(pressure_pa, vapour)
    return (pressure_pa - vapour) / (DRY_AIR_GAS_CONSTANT_J_KG_K * (air_temperature_c + ZERO_CELSIUS_K))


def absolute_humidity_kg_m3(air_temperature_c: Value, relative_humidity_percent: Value) -> Value:
    """Mass of water vapour in a cubic metre of moist air.

    Parameters
    ----------
    air_temperature_c : float
        Air temperature [°C], -40 to 125.
    relative_humidity_percent : float
        Relative humidity over liquid water [%], 0 to 100.

    Returns
    -------
    float
        Absolute humidity [kg/m³].

    Notes
    -----
    rho_v = e/(Rv T), Rv = 287.042/0.621945 J/(kg K).

    Source
    ------
    ASHRAE Handbook Fundamentals 2017, ch. 1, eq. 10 and 26 (ideal gas).
    """
    vapour = vapour_pressure_pa(air_temperature_c, relative_humidity_percent)
    return vapour / (VAPOUR_GAS_CONSTANT_J_KG_K * (air_temperature_c + ZERO_CELSIUS_K))


def moist_air_density_kg_m3(
    air_temperature_c: Value, relative_humidity_percent: Value, pressure_pa: float
) -> Value:
    """Mass of a cubic metre of moist air, vapour included, the density that buoyancy needs.

    Parameters
    ----------
    air_temperature_c : float
        Air temperature [°C], -40 to 125.
    relative_humidity_percent : float
        Relative humidity over liquid water [%], 0 to 100.
    pressure_pa : float
        Air pressure [Pa], 45000 to 120000.

    Returns
    -------
    float
        Density of moist air [kg/m³].

    Notes
    -----
    rho = rho_dry (1 + W) = rho_dry + rho_v.

    Source
    ------
    ASHRAE Handbook Fundamentals 2017, ch. 1, eq. 11.
    """
    dry = dry_air_density_kg_m3(air_temperature_c, relative_humidity_percent, pressure_pa)
    return dry + absolute_humidity_kg_m3(air_temperature_c, relative_humidity_percent)
