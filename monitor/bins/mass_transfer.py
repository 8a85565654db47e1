"""Water vapour carried through air: diffusion, a plate in a stream, free convection, the analogy with heat.

Each gives a coefficient of mass transfer hm; the water that leaves is hm times the difference of vapour
densities. Inputs are floats or arrays.
"""

from __future__ import annotations

import numpy as np

from monitor.climate.arrays import Value, exponential, logarithm, require
from monitor.climate.psychrometrics import (
    SEA_LEVEL_PRESSURE_PA,
    absolute_humidity_kg_m3,
    moist_air_density_kg_m3,
)
from monitor.climate.vapour import ZERO_CELSIUS_K

GRAVITY_M_S2 = 9.80665
"""Standard gravity [m/s²]. Source: CGPM 1901."""

PRANDTL = 0.707
"""Prandtl number of air near 25 °C [1]. Source: Incropera & DeWitt, table of air properties at 300 K."""

AIR_HEAT_J_KG_K = 1007.0
"""Specific heat of air [J/(kg K)]. Source: Incropera & DeWitt, table of air properties at 300 K."""


def vapour_diffusivity_m2_s(air_temperature_c: Value, pressure_pa: float = SEA_LEVEL_PRESSURE_PA) -> Value:
    """How readily water vapour diffuses through air.

    Parameters
    ----------
    air_temperature_c : float
        Temperature of the film of air [°C], -40 to 125.
    pressure_pa : float
        Air pressure [Pa], above 0.

    Returns
    -------
    float
        Diffusivity [m²/s].

    Notes
    -----
    D = 1.87e-10 T^2.072/P, T in kelvin, P in atmospheres.

    Source
    ------
    Cengel, Heat and Mass Transfer, ch. 14 (Marrero and Mason 1972).
    """
    kelvin = air_temperature_c + ZERO_CELSIUS_K
    return 1.87e-10 * exponential(2.072 * logarithm(kelvin)) * (SEA_LEVEL_PRESSURE_PA / pressure_pa)


def air_viscosity_m2_s(air_temperature_c: Value, pressure_pa: float = SEA_LEVEL_PRESSURE_PA) -> Value:
    """Kinematic viscosity of dry air.

    Parameters
    ----------
    air_temperature_c : float
        Temperature [°C], -40 to 125.
    pressure_pa : float
        Air pressure [Pa], above 0.

    Returns
    -------
    float
        Kinematic viscosity [m²/s].

    Notes
    -----
    nu = 1.458e-6 T^1.5/(T + 110.4)/rho, rho = p/(287.05 T).

    Source
    ------
    Sutherland's formula with the constants of the U.S. Standard Atmosphere 1976, eq. 51.
    """
    kelvin = air_temperature_c + ZERO_CELSIUS_K
    viscosity: Value = 1.458e-6 * kelvin**1.5 / (kelvin + 110.4) * (287.05 * kelvin / pressure_pa)
    return viscosity


def lewis_number(air_temperature_c: Value) -> Value:
    """Heat diffusivity of air over diffusivity of vapour.

    Parameters
    ----------
    air_temperature_c : float
        Temperature of the film [°C], -40 to 125.

    Returns
    -------
    float
        Lewis number [1], near 0.88.

    Notes
    -----
    Le = nu/(Pr D).

    Source
    ------
    Definition; Cengel, Heat and Mass Transfer, ch. 14.
    """
    return air_viscosity_m2_s(air_temperature_c) / PRANDTL / vapour_diffusivity_m2_s(air_temperature_c)


def mass_from_heat_m_s(
    heat_transfer_w_m2_k: float,
    density_kg_m3: float,
    lewis: float,
    specific_heat_j_kg_k: float = AIR_HEAT_J_KG_K,
) -> float:
    """Coefficient of mass transfer of a surface whose coefficient of heat transfer is known.

    Parameters
    ----------
    heat_transfer_w_m2_k : float
        Convective heat transfer [W/(m² K)], 0 or more.
    density_kg_m3 : float
        Density of the air [kg/m³], above 0.
    lewis : float
        Lewis number [1], above 0.
    specific_heat_j_kg_k : float
        Specific heat of the air [J/(kg K)], above 0.

    Returns
    -------
    float
        Coefficient of mass transfer [m/s].

    Notes
    -----
    hm = h/(rho cp Le^(2/3)).

    Source
    ------
    Chilton-Colburn analogy; Cengel, Heat and Mass Transfer, ch. 14.
    """
    return float(heat_transfer_w_m2_k / (density_kg_m3 * specific_heat_j_kg_k * lewis ** (2.0 / 3.0)))


def mass_transfer_m_s(rate_kg_m2_s: float, surface_kg_m3: float, air_kg_m3: float) -> float:
    """Coefficient of mass transfer from a measured rate.

    Parameters
    ----------
    rate_kg_m2_s : float
        Water that leaves each square metre [kg/(m² s)].
    surface_kg_m3 : float
        Vapour density at the surface [kg/m³].
    air_kg_m3 : float
        Vapour density of the air [kg/m³], other than that at the surface.

    Returns
    -------
    float
        Coefficient of mass transfer [m/s].

    Notes
    -----
    hm = E/(rho_s - rho_a).

    Source
    ------
    Definition; Incropera & DeWitt, ch. 6.
    """
    return rate_kg_m2_s / (surface_kg_m3 - air_kg_m3)


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


def free_convection_evaporation_kg_m2_s(
    surface_c: float,
    air_c: float,
    relative_humidity_percent: float,
    length_m: float,
    pressure_pa: float = SEA_LEVEL_PRESSURE_PA,
) -> float:
    """Evaporation from a wet level surface by free convection, a second opinion on the quiet-air form.

    Parameters
    ----------
    surface_c : float
        Temperature of the wet surface [°C], -40 to 80.
    air_c : float
        Air temperature [°C], -40 to 80.
    relative_humidity_percent : float
        Relative humidity [%], 0 to 100.
    length_m : float
        Area over perimeter [m]; 0.12 for a box of 0.4 by 0.6 m.
    pressure_pa : float
        Air pressure [Pa].

    Returns
    -------
    float
        Evaporation [kg/(m² s)].

    Notes
    -----
    Ra = g (drho/rho) L³/(nu D); Sh = 0.54 Ra^1/4 up to 1e7, 0.15 Ra^1/3 above, 0.27 Ra^1/4 where the air at
    the surface is the heavier.

    Source
    ------
    Heated plate facing up or down; Incropera & DeWitt, ch. 9.
    """
    require("length", "m", length_m, 1e-3, 10.0)
    at_surface = moist_air_density_kg_m3(surface_c, 100.0, pressure_pa)
    in_air = moist_air_density_kg_m3(air_c, relative_humidity_percent, pressure_pa)
    film_c = (surface_c + air_c) / 2.0
    diffusivity = vapour_diffusivity_m2_s(film_c, pressure_pa)
    lift = (in_air - at_surface) / ((in_air + at_surface) / 2.0)
    spread = air_viscosity_m2_s(film_c, pressure_pa) * diffusivity
    sherwood = _sherwood(GRAVITY_M_S2 * lift * length_m**3 / spread)
    drive = absolute_humidity_kg_m3(surface_c, 100.0) - absolute_humidity_kg_m3(
        air_c, relative_humidity_percent
    )
    return float(sherwood * diffusivity / length_m * drive)


def _sherwood(rayleigh: float) -> float:
    if rayleigh < 0.0:
        return float(0.27 * np.power(-rayleigh, 0.25))
    if rayleigh < 1e7:
        return float(0.54 * np.power(rayleigh, 0.25))
    return float(0.15 * np.cbrt(rayleigh))
