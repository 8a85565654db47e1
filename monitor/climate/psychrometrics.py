"""Moist air: saturation pressure, dew point, humidity ratio, density, standard pressure.

Temperatures are -40 to 125 °C, humidities 0 to 100 % over liquid water, also below 0 °C, as sensors report
them; air pressures 45 to 120 kPa. Functions take floats or arrays of one shape; a value out of range, or NaN,
raises a ValueError that names the quantity. Air and vapour are ideal gases without the enhancement factor:
humidity ratios come out 0.4 to 0.6 % below real moist air.
"""

from __future__ import annotations

import math

import numpy as np

from monitor.climate.arrays import Value, exponential, logarithm, require

LOWEST_TEMPERATURE_C = -40.0
HIGHEST_TEMPERATURE_C = 125.0
"""Range of all temperatures taken as input [°C]: whatever a sensor may say without failing its gross range,
so that a burning room does not end in an error. Source: own choice; the pressure formula holds to 200."""

ZERO_CELSIUS_K = 273.15
"""0 °C in kelvin [K]. Source: definition of the degree Celsius."""

LIQUID = (-5.8002206e3, 1.3914993, -4.8640239e-2, 4.1764768e-5, -1.4452093e-8, 6.5459673)
"""Coefficients of ln(p/Pa) over liquid water; T in kelvin. Source: ASHRAE Fundamentals 2017 ch. 1 eq. 6."""

MAGNUS_PRESSURE_PA, MAGNUS_SLOPE, MAGNUS_OFFSET_C = 611.2, 17.62, 243.12
"""Magnus formula over water; only the first guess of the dew point. Source: WMO-No. 8 annex 4.B."""

DRIEST_PERCENT = 1e-6
"""Least relative humidity that has a dew point here [%]. Source: own choice, dry air has none."""

MOST_STEPS = 20
DEW_POINT_TOLERANCE_K = 1e-9

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


def require_temperature(quantity: str, value_c: Value) -> None:
    """Raise a ValueError unless the temperature lies in the range of this module."""
    require(quantity, "°C", value_c, LOWEST_TEMPERATURE_C, HIGHEST_TEMPERATURE_C)


def require_humidity(value_percent: Value) -> None:
    """Raise a ValueError unless the relative humidity lies in 0..100 %."""
    require("relative humidity", "%", value_percent, 0.0, 100.0)


def log_liquid_pressure(temperature_k: Value) -> Value:
    """ln(p/Pa) of saturation over liquid water at a temperature [K], without a check of its range.

    Source: ASHRAE Handbook Fundamentals 2017, ch. 1, eq. 6.
    """
    a, b, c, d, e, f = LIQUID
    t = temperature_k
    return a / t + b + t * (c + t * (d + t * e)) + f * logarithm(t)


def _log_liquid_slope(temperature_k: Value) -> Value:
    """Return d ln(p)/dT over liquid water [1/K]."""
    a, _, c, d, e, f = LIQUID
    t = temperature_k
    return -a / (t * t) + c + t * (2.0 * d + t * 3.0 * e) + f / t


def saturation_vapour_pressure_pa(air_temperature_c: Value) -> Value:
    """Pressure of water vapour in balance with liquid water.

    Parameters
    ----------
    air_temperature_c : float
        Temperature [°C], -40 to 125. Below 0 °C the water is supercooled.

    Returns
    -------
    float
        Saturation vapour pressure [Pa].

    Notes
    -----
    ln p = C8/T + C9 + C10 T + C11 T² + C12 T³ + C13 ln T, T in kelvin. The handbook gives it for 0 to
    200 °C; carried on to -40 °C it stays within 0.3 % of the Magnus formula of WMO-No. 8 and within
    0.8 % of Murphy and Koop 2005.

    Source
    ------
    ASHRAE Handbook Fundamentals 2017, ch. 1, eq. 6 (Hyland and Wexler 1983).
    """
    require_temperature("air temperature", air_temperature_c)
    return exponential(log_liquid_pressure(air_temperature_c + ZERO_CELSIUS_K))


def vapour_pressure_pa(air_temperature_c: Value, relative_humidity_percent: Value) -> Value:
    """Pressure of the water vapour that is in the air [Pa]: e = RH/100 p(T).

    Source: ASHRAE Handbook Fundamentals 2017, ch. 1, eq. 22; FAO-56 eq. 10.
    """
    require_humidity(relative_humidity_percent)
    return saturation_vapour_pressure_pa(air_temperature_c) * (relative_humidity_percent / 100.0)


def vapour_pressure_deficit_pa(air_temperature_c: Value, relative_humidity_percent: Value) -> Value:
    """Vapour pressure that the air could still take up [Pa]: VPD = p(T) (1 - RH/100).

    Source: FAO Irrigation and Drainage Paper 56 (1998), chapter 3, vapour pressure deficit (es - ea).
    """
    require_humidity(relative_humidity_percent)
    return saturation_vapour_pressure_pa(air_temperature_c) * (1.0 - relative_humidity_percent / 100.0)


def dew_point_c(air_temperature_c: Value, relative_humidity_percent: Value) -> Value:
    """Temperature at which water begins to condense out of the air.

    Parameters
    ----------
    air_temperature_c : float
        Air temperature [°C], -40 to 125.
    relative_humidity_percent : float
        Relative humidity over liquid water [%], 1e-6 to 100; without vapour there is no dew point.

    Returns
    -------
    float
        Dew point over liquid water [°C]; below 0 °C frost would form a little earlier.

    Notes
    -----
    p(Td) = e, solved by Newton's method on ln p from the Magnus guess. Raises an ArithmeticError where
    the step does not fall below 1e-9 K, which no input in range brings about (tested over the range).
    Below -40 °C the result rests on the pressure formula carried on below its own range.

    Source
    ------
    Inverse of ASHRAE Handbook Fundamentals 2017, ch. 1, eq. 6.
    """
    require("relative humidity", "%", relative_humidity_percent, DRIEST_PERCENT, 100.0)
    log_vapour = logarithm(vapour_pressure_pa(air_temperature_c, relative_humidity_percent))
    guess = log_vapour - math.log(MAGNUS_PRESSURE_PA)
    temperature_k = MAGNUS_OFFSET_C * guess / (MAGNUS_SLOPE - guess) + ZERO_CELSIUS_K
    for _ in range(MOST_STEPS):
        step = (log_vapour - log_liquid_pressure(temperature_k)) / _log_liquid_slope(temperature_k)
        temperature_k = temperature_k + step
        largest_k = np.max(np.abs(step)) if isinstance(step, np.ndarray) else abs(step)
        if largest_k < DEW_POINT_TOLERANCE_K:
            return temperature_k - ZERO_CELSIUS_K
    raise ArithmeticError(
        f"the dew point of {air_temperature_c} °C, {relative_humidity_percent} % was not found"
    )


def standard_pressure_pa(altitude_m: float) -> float:
    """Usual air pressure [Pa] at an altitude of -5000 to 11000 m: p = 101325 (1 - 2.25577e-5 Z)^5.2559.

    Source: ASHRAE Handbook Fundamentals 2017, ch. 1, eq. 3.
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
    """Mass of water vapour for each kilogram of dry air [kg/kg]: W = 0.621945 e/(p - e).

    Source: ASHRAE Handbook Fundamentals 2017, ch. 1, eq. 20.
    """
    vapour = vapour_pressure_pa(air_temperature_c, relative_humidity_percent)
    _require_pressure(pressure_pa, vapour)
    return MASS_RATIO * vapour / (pressure_pa - vapour)


def dry_air_density_kg_m3(
    air_temperature_c: Value, relative_humidity_percent: Value, pressure_pa: float
) -> Value:
    """Mass of DRY AIR in a cubic metre of moist air [kg/m³], as evaporation formulas need it.

    rho = (p - e)/(R T), R = 287.042 J/(kg K). Its inverse is the specific volume of the handbook. Source:
    ASHRAE Handbook Fundamentals 2017, ch. 1, eq. 26 inverted.
    """
    vapour = vapour_pressure_pa(air_temperature_c, relative_humidity_percent)
    _require_pressure(pressure_pa, vapour)
    return (pressure_pa - vapour) / (DRY_AIR_GAS_CONSTANT_J_KG_K * (air_temperature_c + ZERO_CELSIUS_K))
