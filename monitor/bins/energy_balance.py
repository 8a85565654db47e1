"""How warm the wet surface of a bin is: heat made inside against evaporation, convection and radiation.

A surface at air temperature is the exception: an inert tray lies below it and evaporates a third, an active
bin above it and evaporates up to three times as much.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from monitor.bins.evaporation import (
    AIR_HEAT_J_KG_K,
    FAN_SPEED_M_S,
    PLATE_LENGTH_M,
    RoomAir,
    evaporation_kg_m2_s,
    lewis_number,
    plate_mass_transfer_m_s,
    room_air,
)
from monitor.climate.arrays import FloatArray, Value, require
from monitor.climate.psychrometrics import SEA_LEVEL_PRESSURE_PA, ZERO_CELSIUS_K

STEFAN_BOLTZMANN = 5.670374e-8
"""[W/(m² K⁴)]. Source: CODATA 2018."""

EMISSIVITY = 0.95
"""Emissivity of wet organic matter [1]. Source: Incropera & DeWitt, table of emissivities, soil."""

QUIET_CONVECTION_W_M2_K = 3.0
"""Heat transfer of a level surface in quiet air [W/(m² K)]. Source: own choice within 1.5 to 4, which free
convection gives for 1 to 15 K."""

SIDE_LOSS_W_M2_K = 2.0
"""Heat through sides and bottom for each m² of top surface [W/(m² K)]. Source: own choice, a plastic box on
a shelf; its own size and stand decide."""

LOWEST_AIR_C, HIGHEST_AIR_C = -20.0, 50.0
HIGHEST_HEAT_W_M2 = 300.0
LOWEST_SURFACE_C = -40.0
TOLERANCE_K = 1e-9
"""How close a surface temperature comes to the balance [K]. Source: own choice."""

MOST_ROUNDS, SLOPE_K = 60, 1e-4
"""Newton's method takes six to eight rounds; halving the bracket, which it falls back to, 37 at most."""


@dataclass(frozen=True, slots=True, eq=False)
class Surface:
    """One surface, or many of one shape: its heat [W/m²], the share that evaporates freely, fan, side loss.

    `core_c` and `core_w_m2_k` say that a probe sits below it, and how well heat passes between the two; then
    the heat is what the probe says and `heat_w_m2` is 0.
    """

    heat_w_m2: Any = 0.0
    wet_share: Any = 1.0
    fan: Any = False
    side_loss_w_m2_k: float = SIDE_LOSS_W_M2_K
    core_c: Any = 0.0
    core_w_m2_k: Any = 0.0


def latent_heat_j_kg(temperature_c: Value) -> Value:
    """Heat that a kilogram of water takes with it [J/kg]: lambda = 2.501e6 - 2361 T, T in °C.

    Source: FAO Irrigation and Drainage Paper 56 (1998), annex 3, eq. 3-1.
    """
    return 2.501e6 - 2361.0 * temperature_c


def radiative_w_m2_k(air_temperature_c: Value) -> Value:
    """Radiative heat transfer to surroundings of nearly the same temperature [W/(m² K)], 5.9 at 28 °C.

    h = 4 eps sigma T³. Source: Stefan-Boltzmann law made linear; Incropera & DeWitt, ch. 1.
    """
    return 4.0 * EMISSIVITY * STEFAN_BOLTZMANN * (air_temperature_c + ZERO_CELSIUS_K) ** 3


def conductance_w_m2_k(air: RoomAir, surface: Surface) -> Any:
    """Heat that leaves a surface for each kelvin above the air, other than with water [W/(m² K)].

    Convection, radiation, sides and bottom. Under a fan the convection is that of the plate, h = hm rho cp
    Le^(2/3), at least that of quiet air. Source: Chilton-Colburn analogy; see `plate_mass_transfer_m_s`.
    """
    quiet = QUIET_CONVECTION_W_M2_K + radiative_w_m2_k(air.air_c) + surface.side_loss_w_m2_k
    if not np.any(surface.fan):
        return quiet
    transfer = plate_mass_transfer_m_s(air.air_c, FAN_SPEED_M_S, PLATE_LENGTH_M, air.pressure_pa)
    plate = transfer * air.dry_density_kg_m3 * AIR_HEAT_J_KG_K * lewis_number(air.air_c) ** (2.0 / 3.0)
    return quiet + np.where(surface.fan, np.maximum(plate - QUIET_CONVECTION_W_M2_K, 0.0), 0.0)


def surface_temperature_c(
    air_c: Any,
    relative_humidity_percent: Any,
    surface: Surface,
    pressure_pa: float = SEA_LEVEL_PRESSURE_PA,
    tolerance_k: float = TOLERANCE_K,
) -> Any:
    """Temperature of a wet surface in balance.

    Parameters
    ----------
    air_c : float
        Air temperature [°C], -20 to 50; a number or an array.
    relative_humidity_percent : float
        Relative humidity [%], 0 to 100.
    surface : Surface
        Heat 0 to 300 W/m², wet share 0 to 1, a probe below the surface -20 to 80 °C.
    pressure_pa : float
        Air pressure [Pa], 60000 to 110000.
    tolerance_k : float
        How close it must come [K], above 0.

    Returns
    -------
    float
        Surface temperature [°C], a number for numbers.

    Notes
    -----
    q + U (Tcore - Ts) - f lambda E(Ts) = (hc + hr + Ub)(Ts - Ta), solved by Newton's method within a
    bracket to `tolerance_k`. Raises an ArithmeticError where the bracket holds no root, which no input in
    range brings about (tested over the range).

    Source
    ------
    Energy balance of a wet surface (Penman 1948), solved without making it linear.
    """
    made = (surface.heat_w_m2, surface.wet_share, surface.fan, surface.core_c, surface.core_w_m2_k)
    shape = np.broadcast_shapes(*map(np.shape, (air_c, relative_humidity_percent, *made)))
    _require(air_c, relative_humidity_percent, surface, pressure_pa)
    air_all_c = np.broadcast_to(np.asarray(air_c, dtype=np.float64), shape or (1,))
    humid = np.broadcast_to(np.asarray(relative_humidity_percent, dtype=np.float64), shape or (1,))
    surface_c = _solve(room_air(air_all_c, humid, pressure_pa), surface, tolerance_k)
    return surface_c if shape else float(surface_c[0])


def _require(air_c: Any, humidity_percent: Any, surface: Surface, pressure_pa: float) -> None:
    for quantity, unit, value, low, high in (
        ("air temperature", "°C", air_c, LOWEST_AIR_C, HIGHEST_AIR_C),
        ("relative humidity", "%", humidity_percent, 0.0, 100.0),
        ("heat", "W/m²", surface.heat_w_m2, 0.0, HIGHEST_HEAT_W_M2),
        ("wet share", "", surface.wet_share, 0.0, 1.0),
        ("probe temperature", "°C", surface.core_c, -20.0, 80.0),
        ("side loss", "W/m² K", surface.side_loss_w_m2_k, 0.0, 50.0),
        ("air pressure", "Pa", pressure_pa, 60_000.0, 110_000.0),
    ):
        require(quantity, unit, np.asarray(value, dtype=np.float64), low, high)


def _solve(air: RoomAir, surface: Surface, tolerance_k: float) -> FloatArray:
    loss = conductance_w_m2_k(air, surface)
    inner = surface.core_w_m2_k
    made = surface.heat_w_m2 + inner * surface.core_c + loss * air.air_c

    def surplus(guess_c: FloatArray) -> FloatArray:
        latent = latent_heat_j_kg(guess_c) * evaporation_kg_m2_s(guess_c, air, surface.fan)
        left: FloatArray = made - (loss + inner) * guess_c - surface.wet_share * latent
        return left

    high = np.maximum(made / (loss + inner), air.air_c)
    low = np.full_like(high, LOWEST_SURFACE_C)
    if np.min(surplus(low)) < 0.0 or np.max(surplus(high)) > 1e-6:
        raise ArithmeticError("the surface temperature is not between -40 °C and the dry surface")
    return _root(surplus, low, high, tolerance_k)


def _root(
    surplus: Callable[[FloatArray], FloatArray], low: FloatArray, high: FloatArray, tolerance_k: float
) -> FloatArray:
    """Where a falling function passes 0, by Newton's method from the right, held within the bracket."""
    at = high
    for _ in range(MOST_ROUNDS):
        value = surplus(at)
        slope = (surplus(at + SLOPE_K) - value) / SLOPE_K
        low, high = np.where(value >= 0.0, at, low), np.where(value < 0.0, at, high)
        better = at - value / np.minimum(slope, -1e-6)
        better = np.where((better >= low) & (better <= high), better, (low + high) / 2.0)
        moved, at = float(np.max(np.abs(better - at))), better
        if moved < tolerance_k:
            break
    return np.asarray(at)


def heat_from_excess_w_m2(surface_c: Any, air: RoomAir, surface: Surface) -> Any:
    """Heat of larvae and microbes, read from how far a probe near the surface stands above the air.

    Parameters
    ----------
    surface_c : float
        Temperature near the surface [°C], -20 to 80; a number or an array.
    air : RoomAir
        The air around it.
    surface : Surface
        Wet share, fan, side loss.

    Returns
    -------
    float
        Heat for each m² of surface [W/m²]; below 0 where the substrate still takes up heat.

    Notes
    -----
    q = h (Ts - Ta) + f lambda E(Ts), in balance. A bin of 5 kg needs about an hour to come into balance.

    Source
    ------
    The energy balance of `surface_temperature_c`, solved for the heat.
    """
    latent = (
        surface.wet_share * latent_heat_j_kg(surface_c) * evaporation_kg_m2_s(surface_c, air, surface.fan)
    )
    return conductance_w_m2_k(air, surface) * (surface_c - air.air_c) + latent
