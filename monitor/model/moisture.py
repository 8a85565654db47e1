"""Algebra of moisture: how much water, how much bran, how much may go. Moisture is water over wet mass.

All of it holds the dry matter fixed. In a bin that is eaten from, weigh again.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from monitor.model.ranges import require


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
