"""Evaporation from a wet surface: into quiet air, under a fan, and when the sensors cannot tell the rate.

Rates are for free water. A bin loses that rate times its surface, the share of it that is wet and uncovered,
and the factor of the bin (`posterior`). Inputs are floats or arrays of one shape.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Any

import numpy as np

from monitor.climate.arrays import Value, exponential, logarithm
from monitor.climate.psychrometrics import (
    DRY_AIR_GAS_CONSTANT_J_KG_K,
    MASS_RATIO,
    SEA_LEVEL_PRESSURE_PA,
    VAPOUR_GAS_CONSTANT_J_KG_K,
    ZERO_CELSIUS_K,
    dry_air_density_kg_m3,
    humidity_ratio,
    saturation_vapour_pressure_pa,
    vapour_pressure_pa,
)

PRANDTL = 0.707
"""Prandtl number of air near 25 °C [1]. Source: Incropera & DeWitt, table of air properties at 300 K."""

AIR_HEAT_J_KG_K = 1007.0
"""Specific heat of air [J/(kg K)]. Source: Incropera & DeWitt, table of air properties at 300 K."""

SHAH_FREE = 35.0
"""Coefficient of free convection [kg, m, h]. Source: Shah 2002, HVAC&R Research 8(1):125-131."""

SHAH_STIRRED = 0.00005
"""Coefficient of the least air movement [kg/(m² h Pa)]. Source: as above."""

FAN_SPEED_M_S = 0.3
"""Air speed over a bin with a fan in the room [m/s]. Source: own choice; measure it where it matters."""

PLATE_LENGTH_M = 0.5
"""Length of a bin along the stream of air [m]. Source: own choice, between the sides of 0.4 and 0.6 m."""

HUMIDITY_ERROR_PERCENT = 5.0
"""What a cheap humidity sensor in a wet room may be off [%RH]. Source: data sheets of DHT22 (5 % at most) and
SHT20 (3 % more after 60 h above 80 %)."""

SECONDS_PER_HOUR = 3600.0


def vapour_diffusivity_m2_s(air_temperature_c: Value, pressure_pa: float = SEA_LEVEL_PRESSURE_PA) -> Value:
    """Diffusivity of water vapour in air [m²/s]: D = 1.87e-10 T^2.072/P, T in K, P in atmospheres.

    Source: Cengel, Heat and Mass Transfer, ch. 14 (Marrero and Mason 1972).
    """
    kelvin = air_temperature_c + ZERO_CELSIUS_K
    return 1.87e-10 * exponential(2.072 * logarithm(kelvin)) * (SEA_LEVEL_PRESSURE_PA / pressure_pa)


def air_viscosity_m2_s(air_temperature_c: Value, pressure_pa: float = SEA_LEVEL_PRESSURE_PA) -> Value:
    """Kinematic viscosity of dry air [m²/s]: nu = 1.458e-6 T^1.5/(T + 110.4)/rho, rho = p/(287.05 T).

    Source: Sutherland's formula with the constants of the U.S. Standard Atmosphere 1976, eq. 51.
    """
    kelvin = air_temperature_c + ZERO_CELSIUS_K
    viscosity: Value = 1.458e-6 * kelvin**1.5 / (kelvin + 110.4) * (287.05 * kelvin / pressure_pa)
    return viscosity


def lewis_number(air_temperature_c: Value) -> Value:
    """Heat diffusivity of air over diffusivity of vapour [1], near 0.88: Le = nu/(Pr D).

    Source: definition; Cengel, Heat and Mass Transfer, ch. 14.
    """
    return air_viscosity_m2_s(air_temperature_c) / PRANDTL / vapour_diffusivity_m2_s(air_temperature_c)


def plate_mass_transfer_m_s(
    film_temperature_c: Value,
    speed_m_s: float,
    length_m: float,
    pressure_pa: float = SEA_LEVEL_PRESSURE_PA,
) -> Value:
    """Coefficient of mass transfer of a flat surface with air passing over it.

    Parameters
    ----------
    film_temperature_c : float
        Temperature of the film of air [°C], -40 to 125.
    speed_m_s : float
        Speed of the air [m/s]; Re must stay below 5e5, which is 15 m/s at half a metre.
    length_m : float
        Length along the stream [m], above 0.
    pressure_pa : float
        Air pressure [Pa], above 0.

    Returns
    -------
    float
        Coefficient of mass transfer [m/s].

    Notes
    -----
    Sh = 0.664 Re^1/2 Sc^1/3, hm = Sh D/L.

    Source
    ------
    Laminar plate; Incropera & DeWitt, ch. 7.
    """
    viscosity = air_viscosity_m2_s(film_temperature_c, pressure_pa)
    diffusivity = vapour_diffusivity_m2_s(film_temperature_c, pressure_pa)
    sherwood = 0.664 * (speed_m_s * length_m / viscosity) ** 0.5 * (viscosity / diffusivity) ** (1.0 / 3.0)
    transfer: Value = sherwood * diffusivity / length_m
    return transfer


class Cover(StrEnum):
    """What lies over a bin."""

    OPEN = "open"
    NET = "net"
    LID = "lid"


COVER_SHARE: dict[Cover, float] = {Cover.OPEN: 1.0, Cover.NET: 0.7, Cover.LID: 0.1}
"""Share of the free rate that passes a cover [1]. Source: own choice, no measurement was found; a weighing
of the covered bin puts its own factor in place of it."""


@dataclass(frozen=True, slots=True)
class WaterLoss:
    """Loss of water [g/h] with its 80 % band; where not `resolvable` it is less than `high`."""

    median_g_h: float
    low_g_h: float
    high_g_h: float
    resolvable: bool = True


@dataclass(frozen=True, slots=True, eq=False)
class RoomAir:
    """Room air as the formulas need it, worked out once; floats or arrays of one shape."""

    air_c: Any
    vapour_pa: Any
    humidity_ratio: Any
    dry_density_kg_m3: Any
    pressure_pa: float


def room_air(
    air_c: Value, relative_humidity_percent: Value, pressure_pa: float = SEA_LEVEL_PRESSURE_PA
) -> RoomAir:
    """What evaporation needs to know of the air; temperature [°C], humidity [%] and pressure [Pa] in."""
    return RoomAir(
        air_c,
        vapour_pressure_pa(air_c, relative_humidity_percent),
        humidity_ratio(air_c, relative_humidity_percent, pressure_pa),
        dry_air_density_kg_m3(air_c, relative_humidity_percent, pressure_pa),
        pressure_pa,
    )


def quiet_evaporation_kg_m2_s(surface_c: Any, surface_pa: Any, air: RoomAir) -> Any:
    """Evaporation of free water into quiet air [kg/(m² s)]; negative where water condenses.

    Takes the temperature of the wet surface [°C] and its saturation pressure [Pa], below the air pressure.

    Notes
    -----
    E = 35 rho_w (rho_r - rho_w)^(1/3) (W_w - W_r), at least 0.00005 (p_w - p_r) [kg/(m² h)]; densities in
    kilograms of dry air. Where the air at the surface is the heavier only the second term is left; then the
    formula and the theory of free convection differ by up to 3.5 times. Mean deviation from eleven sets of
    measurements 18 %.

    Source
    ------
    Shah 2002, HVAC&R Research 8(1):125-131; constants as identified by nine published table values.
    """
    dry_pa = air.pressure_pa - surface_pa
    density = dry_pa / (DRY_AIR_GAS_CONSTANT_J_KG_K * (surface_c + ZERO_CELSIUS_K))
    lift = np.maximum(air.dry_density_kg_m3 - density, 0.0)
    ratio = MASS_RATIO * surface_pa / dry_pa
    free = SHAH_FREE * density * np.cbrt(lift) * (ratio - air.humidity_ratio)
    return _stronger(free, SHAH_STIRRED * (surface_pa - air.vapour_pa)) / SECONDS_PER_HOUR


def _stronger(one: Any, other: Any) -> Any:
    return np.maximum(np.maximum(one, other), 0.0) + np.minimum(np.minimum(one, other), 0.0)


def fan_evaporation_kg_m2_s(
    surface_pa: Any,
    air: RoomAir,
    speed_m_s: float = FAN_SPEED_M_S,
    length_m: float = PLATE_LENGTH_M,
) -> Any:
    """Evaporation of free water under moving air [kg/(m² s)]; negative where water condenses.

    Takes the saturation pressure of the wet surface [Pa], speed [m/s] and length along the stream [m].

    Notes
    -----
    E = hm (p_s - p_a)/(Rv Ta), hm of a laminar plate at the temperature of the air.

    Source
    ------
    Incropera & DeWitt, ch. 7, see `plate_mass_transfer_m_s`.
    """
    transfer = plate_mass_transfer_m_s(air.air_c, speed_m_s, length_m, air.pressure_pa)
    vapour_heat = VAPOUR_GAS_CONSTANT_J_KG_K * (air.air_c + ZERO_CELSIUS_K)
    return transfer * (surface_pa - air.vapour_pa) / vapour_heat


def evaporation_kg_m2_s(surface_c: Value, air: RoomAir, fan: Any = False) -> Value:
    """Evaporation of free water, with a fan or without.

    Parameters
    ----------
    surface_c : float
        Temperature of the wet surface [°C]; its saturation pressure must stay below the air pressure.
    air : RoomAir
        The air around it.
    fan : bool
        Whether a fan moves the air; a bool or an array of them.

    Returns
    -------
    float
        Evaporation [kg/(m² s)]; negative where water condenses.

    Notes
    -----
    The larger of the quiet form and the plate at 0.3 m/s, the latter only with a fan.

    Source
    ------
    See `quiet_evaporation_kg_m2_s` and `fan_evaporation_kg_m2_s`.
    """
    surface_pa = saturation_vapour_pressure_pa(surface_c)
    rate: Value = quiet_evaporation_kg_m2_s(surface_c, surface_pa, air)
    if np.any(fan):
        rate = _stronger(rate, fan_evaporation_kg_m2_s(surface_pa, air) * np.asarray(fan, dtype=np.float64))
    return rate


def is_resolvable(surface_c: float, air_c: float, relative_humidity_percent: float) -> bool:
    """Whether the rate stands out from the error of the humidity sensor; if not, only "less than" can be
    said.

    Up to 90 %RH always; above, where e_s(Ts) - e is at least twice 5 %RH of e_s(Ta). A surface as warm as the
    air is thus resolvable up to exactly 90 %RH, a hot bin beyond. Temperatures -40 to 125 °C. Source: own
    choice, from the accuracy in the data sheets of common humidity sensors.
    """
    if relative_humidity_percent <= 100.0 - 2.0 * HUMIDITY_ERROR_PERCENT:
        return True
    drive = saturation_vapour_pressure_pa(surface_c) - vapour_pressure_pa(air_c, relative_humidity_percent)
    return drive >= 0.02 * HUMIDITY_ERROR_PERCENT * saturation_vapour_pressure_pa(air_c)


def wet_share(hours_since_stirred: Value, fresh: float, crusted: float, crust_hours: float) -> Value:
    """Share of the surface that gives off water like free water [1]; a crust forms after stirring.

    f = crusted + (fresh - crusted) exp(-t/crust_hours), hours since it was last stirred, fed or watered.
    Source: own choice: 1.0 fresh and about 0.5 crusted; no measurement was found.
    """
    faded: Value = np.exp(-np.asarray(hours_since_stirred) / crust_hours)
    return crusted + (fresh - crusted) * faded
