"""Algebra of moisture: how much water, how much bran, how much may go. Moisture is water over wet mass.

All of it holds the dry matter fixed. In a bin that is eaten from, weigh again.

Water that dry feed holds in balance with the air: where drying ends.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

import numpy as np

from monitor.climate.arrays import Value, exponential, logarithm, require

WHEAT_A, WHEAT_B, WHEAT_C = 610.34, 0.15526, 93.213
"""Chung-Pfost constants of wheat, a proxy: none of wheat bran were found. Source: Storage of Cereal Grains
and Their Products, 5th ed., p. 272, as quoted in public code."""

DRIEST_PERCENT, WETTEST_PERCENT = 5.0, 95.0
"""Air beyond these counts as these [%RH]: the fit ends there. Source: own choice."""


def humidity_in_balance_percent(temperature_c: Value, moisture_dry_basis_percent: Value) -> Value:
    """Relative humidity of the air that stands in balance with wheat.

    Parameters
    ----------
    temperature_c : float
        Temperature [°C], 0 to 50.
    moisture_dry_basis_percent : float
        Water by dry mass [%], 5 to 30.

    Returns
    -------
    float
        Relative humidity [%].

    Notes
    -----
    RH = 100 exp(-A/(T + C) exp(-B M)).

    Source
    ------
    Chung and Pfost 1967; constants see `WHEAT_A`.
    """
    bound = WHEAT_A / (temperature_c + WHEAT_C) * exponential(-WHEAT_B * moisture_dry_basis_percent)
    return 100.0 * exponential(-bound)


def moisture_in_balance(temperature_c: Value, relative_humidity_percent: Value) -> Value:
    """Moisture at which dry feed neither takes up nor gives off water.

    Parameters
    ----------
    temperature_c : float
        Temperature [°C], 0 to 50.
    relative_humidity_percent : float
        Relative humidity [%]; below 5 and above 95 it counts as these.

    Returns
    -------
    float
        Moisture [ratio, wet basis].

    Notes
    -----
    M = -ln(-(T + C) ln(RH/100)/A)/B % dry basis; m = M/(100 + M).

    Source
    ------
    Chung and Pfost 1967 turned round; constants see `WHEAT_A`.
    """
    share = np.clip(relative_humidity_percent, DRIEST_PERCENT, WETTEST_PERCENT) / 100.0
    log_share: Value = np.log(share)
    dry_basis = -logarithm(-(temperature_c + WHEAT_C) * log_share / WHEAT_A) / WHEAT_B
    return dry_basis / (100.0 + dry_basis)


class Mixture(NamedTuple):
    """Materials put together: wet mass [kg] and moisture [ratio]."""

    kg: float
    moisture: float


def mixture(materials: Iterable[tuple[float, float]]) -> Mixture:
    """Put materials together.

    Parameters
    ----------
    materials : iterable of (float, float)
        Wet mass [kg], 0 or more, and moisture [ratio, wet basis], 0 to 1; water has moisture 1.

    Returns
    -------
    Mixture
        Mass [kg] and moisture [ratio]; a ValueError where there is nothing at all.

    Notes
    -----
    m = sum(kg m)/sum(kg).
    """
    total = water = 0.0
    for kg, moisture in materials:
        require("mass", "kg", kg, 0.0, 1e6)
        require("moisture", "(ratio)", moisture, 0.0, 1.0)
        total, water = total + kg, water + kg * moisture
    if total <= 0.0:
        raise ValueError("nothing was put together; give the mass of at least one material")
    return Mixture(total, water / total)


def water_to_add_kg(wet_kg: float, moisture: float, target: float) -> float:
    """Water that brings a substrate up to a target.

    Parameters
    ----------
    wet_kg : float
        Wet mass [kg], 0 or more.
    moisture : float
        Moisture now [ratio, wet basis], 0 to 1.
    target : float
        Moisture wanted [ratio], 0 to below 1.

    Returns
    -------
    float
        Water [kg, as many litres]; 0 where it is wet enough.

    Notes
    -----
    m (M - M0)/(1 - M).

    Source
    ------
    Dry matter before and after is the same.
    """
    require("target", "(ratio)", target, 0.0, 0.999)
    return max(0.0, wet_kg * (target - moisture) / (1.0 - target))


def dry_to_add_kg(wet_kg: float, moisture: float, target: float, dry_moisture: float) -> float:
    """Dry material, such as bran, that brings a substrate down to a target.

    Parameters
    ----------
    wet_kg : float
        Wet mass [kg], 0 or more.
    moisture : float
        Moisture now [ratio, wet basis], 0 to 1.
    target : float
        Moisture wanted [ratio].
    dry_moisture : float
        Moisture of the dry material [ratio], below the target.

    Returns
    -------
    float
        Dry material [kg]; 0 where it is dry enough. A ValueError where the material is too wet for it.

    Notes
    -----
    m (M0 - M)/(M - Md).

    Source
    ------
    Water before and after is the same.
    """
    if dry_moisture >= target:
        raise ValueError(
            f"material of moisture {dry_moisture:g} cannot bring a substrate down to {target:g}; take drier"
        )
    return max(0.0, wet_kg * (moisture - target) / (target - dry_moisture))


def loss_to_limit_kg(wet_kg: float, moisture: float, limit: float) -> float:
    """Water that may leave until a limit is reached.

    Parameters
    ----------
    wet_kg : float
        Wet mass [kg], 0 or more.
    moisture : float
        Moisture now [ratio, wet basis], 0 to 1.
    limit : float
        Dry limit [ratio], 0 to below 1.

    Returns
    -------
    float
        Water [kg]; 0 where it is at the limit or beyond.

    Notes
    -----
    m - m (1 - M0)/(1 - M).

    Source
    ------
    Dry matter before and after is the same.
    """
    require("limit", "(ratio)", limit, 0.0, 0.999)
    return max(0.0, wet_kg - wet_kg * (1.0 - moisture) / (1.0 - limit))


def hours_for_loss(loss_kg: float, surface_m2: float, rate_kg_m2_h: float) -> float:
    """Hours that a loss takes at a steady rate, a rule of thumb beside the simulation.

    Parameters
    ----------
    loss_kg : float
        Water [kg], 0 or more.
    surface_m2 : float
        Open surface [m²], above 0.
    rate_kg_m2_h : float
        Evaporation [kg/(m² h)], above 0.

    Returns
    -------
    float
        Hours [h].

    Notes
    -----
    t = loss/(A E).
    """
    return loss_kg / (surface_m2 * rate_kg_m2_h)
