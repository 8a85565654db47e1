"""Water vapour without the air around it: saturation pressure, vapour pressure, dew point, surfaces.

Everything is over liquid water unless the name says ice, also below 0 °C: that is how humidity
sensors report and what the relative humidity of meteorology means. Functions take floats or numpy
arrays. Values outside the stated range, and values that are not numbers, raise a ValueError that
names the quantity; nothing is clamped.

Numbers or arrays alike: the type, two functions, and the refusal of what is out of range.
"""

from __future__ import annotations

import math

import numpy as np

from monitor.climate.arrays import Value, exponential, logarithm, require

LOWEST_TEMPERATURE_C = -40.0
HIGHEST_TEMPERATURE_C = 125.0
"""Range of all temperatures taken as input [°C]: whatever a sensor may say without failing its gross range,
so that a burning room does not end in an error. Source: own choice; the pressure formula holds to 200."""


def require_temperature(quantity: str, value_c: Value) -> None:
    """Raise a ValueError unless the temperature lies in the range of this module."""
    require(quantity, "°C", value_c, LOWEST_TEMPERATURE_C, HIGHEST_TEMPERATURE_C)


def require_humidity(value_percent: Value) -> None:
    """Raise a ValueError unless the relative humidity lies in 0..100 %."""
    require("relative humidity", "%", value_percent, 0.0, 100.0)


ZERO_CELSIUS_K = 273.15
"""0 °C in kelvin [K]. Source: definition of the degree Celsius."""

LIQUID = (-5.8002206e3, 1.3914993, -4.8640239e-2, 4.1764768e-5, -1.4452093e-8, 6.5459673)
"""Coefficients of ln(p/Pa) over liquid water; T in kelvin. Source: ASHRAE Fundamentals 2017 ch. 1 eq. 6."""

ICE = (-5.6745359e3, 6.3925247, -9.677843e-3, 6.2215701e-7, 2.0747825e-9, -9.484024e-13, 4.1635019)
"""Coefficients of ln(p/Pa) over ice; T in kelvin. Source: ASHRAE Fundamentals 2017 ch. 1 eq. 5."""

MAGNUS_PRESSURE_PA, MAGNUS_SLOPE, MAGNUS_OFFSET_C = 611.2, 17.62, 243.12
"""Magnus formula over water; only the first guess of the dew point. Source: WMO-No. 8 annex 4.B."""

DRIEST_PERCENT = 1e-6
"""Least relative humidity that has a dew point here [%]. Source: own choice, dry air has none."""

MOST_STEPS = 20
DEW_POINT_TOLERANCE_K = 1e-9


def log_liquid_pressure(temperature_k: Value) -> Value:
    """Logarithm of the saturation pressure over liquid water, without a check of the range (for solvers).

    Parameters
    ----------
    temperature_k : float
        Temperature [K], above 0.

    Returns
    -------
    float
        ln(p/Pa) [unitless].

    Source
    ------
    ASHRAE Handbook Fundamentals 2017, ch. 1, eq. 6.
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


def saturation_vapour_pressure_ice_pa(air_temperature_c: Value) -> Value:
    """Pressure of water vapour in balance with ice.

    Parameters
    ----------
    air_temperature_c : float
        Temperature [°C], -40 to 0.01 (triple point).

    Returns
    -------
    float
        Saturation vapour pressure over ice [Pa].

    Notes
    -----
    ln p = C1/T + C2 + C3 T + C4 T² + C5 T³ + C6 T⁴ + C7 ln T, T in kelvin.

    Source
    ------
    ASHRAE Handbook Fundamentals 2017, ch. 1, eq. 5 (Hyland and Wexler 1983).
    """
    require("ice temperature", "°C", air_temperature_c, LOWEST_TEMPERATURE_C, 0.01)
    a, b, c, d, e, f, g = ICE
    t = air_temperature_c + ZERO_CELSIUS_K
    return exponential(a / t + b + t * (c + t * (d + t * (e + t * f))) + g * logarithm(t))


def saturation_slope_pa_k(air_temperature_c: Value) -> Value:
    """How fast the saturation vapour pressure over liquid water grows with temperature.

    Parameters
    ----------
    air_temperature_c : float
        Temperature [°C], -40 to 125.

    Returns
    -------
    float
        Slope of the saturation curve [Pa/K].

    Notes
    -----
    dp/dT = p (-C8/T² + C10 + 2 C11 T + 3 C12 T² + C13/T).

    Source
    ------
    Derivative of ASHRAE Handbook Fundamentals 2017, ch. 1, eq. 6.
    """
    temperature_k = air_temperature_c + ZERO_CELSIUS_K
    return saturation_vapour_pressure_pa(air_temperature_c) * _log_liquid_slope(temperature_k)


def mean_saturation_vapour_pressure_pa(lowest_c: Value, highest_c: Value) -> Value:
    """Saturation vapour pressure of a day of which only lowest and highest temperature are known.

    Parameters
    ----------
    lowest_c : float
        Lowest air temperature of the day [°C], -40 to 125.
    highest_c : float
        Highest air temperature of the day [°C], -40 to 125.

    Returns
    -------
    float
        Mean saturation vapour pressure [Pa].

    Notes
    -----
    (p(Tmin) + p(Tmax))/2; the value at the mean temperature would be too low.

    Source
    ------
    FAO Irrigation and Drainage Paper 56 (1998), eq. 12.
    """
    return (saturation_vapour_pressure_pa(lowest_c) + saturation_vapour_pressure_pa(highest_c)) / 2.0


def vapour_pressure_pa(air_temperature_c: Value, relative_humidity_percent: Value) -> Value:
    """Pressure of the water vapour that is in the air.

    Parameters
    ----------
    air_temperature_c : float
        Air temperature [°C], -40 to 125.
    relative_humidity_percent : float
        Relative humidity over liquid water [%], 0 to 100.

    Returns
    -------
    float
        Vapour pressure [Pa].

    Notes
    -----
    e = RH/100 p(T).

    Source
    ------
    ASHRAE Handbook Fundamentals 2017, ch. 1, eq. 22; FAO-56 eq. 10.
    """
    require_humidity(relative_humidity_percent)
    return saturation_vapour_pressure_pa(air_temperature_c) * (relative_humidity_percent / 100.0)


def relative_humidity_percent(air_temperature_c: Value, vapour_pressure_pa: Value) -> Value:
    """Relative humidity of air that holds a known vapour pressure.

    Parameters
    ----------
    air_temperature_c : float
        Air temperature [°C], -40 to 125.
    vapour_pressure_pa : float
        Vapour pressure [Pa], 0 or more.

    Returns
    -------
    float
        Relative humidity over liquid water [%]; above 100 the air would rain.

    Notes
    -----
    RH = 100 e/p(T).

    Source
    ------
    ASHRAE Handbook Fundamentals 2017, ch. 1, eq. 22; FAO-56 eq. 10.
    """
    require("vapour pressure", "Pa", vapour_pressure_pa, 0.0, math.inf)
    return 100.0 * vapour_pressure_pa / saturation_vapour_pressure_pa(air_temperature_c)


def vapour_pressure_deficit_pa(air_temperature_c: Value, relative_humidity_percent: Value) -> Value:
    """Drying power of the air: how much vapour pressure it could still take up.

    Parameters
    ----------
    air_temperature_c : float
        Air temperature [°C], -40 to 125.
    relative_humidity_percent : float
        Relative humidity over liquid water [%], 0 to 100.

    Returns
    -------
    float
        Vapour pressure deficit [Pa].

    Notes
    -----
    VPD = p(T) (1 - RH/100).

    Source
    ------
    FAO Irrigation and Drainage Paper 56 (1998), chapter 3, vapour pressure deficit (es - ea).
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
        if np.max(np.abs(step)) < DEW_POINT_TOLERANCE_K:
            return temperature_k - ZERO_CELSIUS_K
    raise ArithmeticError(
        f"the dew point of {air_temperature_c} °C, {relative_humidity_percent} % was not found"
    )


def surface_humidity_percent(
    air_temperature_c: Value, relative_humidity_percent: Value, surface_temperature_c: Value
) -> Value:
    """Relative humidity in the film of air that touches a surface.

    Parameters
    ----------
    air_temperature_c : float
        Air temperature [°C], -40 to 125.
    relative_humidity_percent : float
        Relative humidity of the air over liquid water [%], 0 to 100.
    surface_temperature_c : float
        Temperature of the wall, lid or tray [°C], -40 to 125.

    Returns
    -------
    float
        Relative humidity at the surface [%]; 100 or more means that water condenses there.

    Notes
    -----
    RHs = RH p(Ta)/p(Ts).

    Source
    ------
    Equal vapour pressure on both sides of the film; definition of relative humidity, ASHRAE
    Handbook Fundamentals 2017, ch. 1, eq. 22.
    """
    require_temperature("surface temperature", surface_temperature_c)
    vapour = vapour_pressure_pa(air_temperature_c, relative_humidity_percent)
    return 100.0 * vapour / saturation_vapour_pressure_pa(surface_temperature_c)


def condensation_margin_k(
    air_temperature_c: Value, relative_humidity_percent: Value, surface_temperature_c: Value
) -> Value:
    """How many kelvin a surface may still cool before water condenses on it.

    Parameters
    ----------
    air_temperature_c : float
        Air temperature [°C], -40 to 125.
    relative_humidity_percent : float
        Relative humidity of the air over liquid water [%], 1e-6 to 100.
    surface_temperature_c : float
        Temperature of the wall, lid or tray [°C], -40 to 125.

    Returns
    -------
    float
        Surface temperature minus dew point [K]; 0 or less means that water condenses there.

    Notes
    -----
    margin = Ts - Td.

    Source
    ------
    Definition of the dew point, ASHRAE Handbook Fundamentals 2017, ch. 1.
    """
    require_temperature("surface temperature", surface_temperature_c)
    return surface_temperature_c - dew_point_c(air_temperature_c, relative_humidity_percent)
