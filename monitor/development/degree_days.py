"""Degree-days of readings on their real time stamps, with the three upper cutoffs.

The temperature is a straight line between readings. Two quantities of that line settle every cutoff: its mean
excess over a limit, and the share of time that it is above one.
"""

from __future__ import annotations

from collections.abc import Callable
from enum import StrEnum

import numpy as np

from monitor.climate.arrays import FloatArray, IntArray, Values
from monitor.errors import UsageError
from monitor.records import MS_PER_DAY, MS_PER_HOUR

_Profile = tuple[Callable[[float], FloatArray], Callable[[float], FloatArray]]


class Cutoff(StrEnum):
    """What happens above the upper threshold; the field's standard terms."""

    HORIZONTAL = "horizontal"
    VERTICAL = "vertical"
    INTERMEDIATE = "intermediate"


def effective_excess_c(
    temperature_c: Values, lower_c: float, upper_c: float | None = None, cutoff: Cutoff = Cutoff.HORIZONTAL
) -> FloatArray:
    """Temperature that counts for development, above the lower threshold.

    Parameters
    ----------
    temperature_c : float or array
        Temperature [°C].
    lower_c : float
        Lower developmental threshold T0 [°C].
    upper_c : float or None
        Upper threshold Tu [°C], above `lower_c`; None for no cutoff.
    cutoff : Cutoff
        What happens above `upper_c`.

    Returns
    -------
    array
        max(0, Te - T0) [°C], the degree-days earned in a day at that temperature.

    Notes
    -----
    Horizontal: Te = min(T, Tu). Vertical: nothing is earned above Tu. Intermediate: above Tu, Te = Tu -
    (T - Tu).

    Source
    ------
    The three cutoffs as used by the University of California IPM degree-day calculator.
    """
    temperature = np.asarray(temperature_c, dtype=np.float64)
    if upper_c is None:
        return np.maximum(temperature - lower_c, 0.0)
    if cutoff is Cutoff.HORIZONTAL:
        return np.clip(temperature, lower_c, upper_c) - lower_c
    if cutoff is Cutoff.VERTICAL:
        return np.where(temperature <= upper_c, np.maximum(temperature - lower_c, 0.0), 0.0)
    return np.maximum(np.minimum(temperature, 2.0 * upper_c - temperature) - lower_c, 0.0)


def degree_days_of_steps(
    times_ms: IntArray,
    temperatures_c: FloatArray,
    lower_c: float,
    upper_c: float | None = None,
    cutoff: Cutoff = Cutoff.HORIZONTAL,
) -> FloatArray:
    """Degree-days earned between each reading and the next, on their real time stamps.

    Parameters
    ----------
    times_ms : array of int
        Times of the readings, ascending [ms since 1970 UTC].
    temperatures_c : array
        Readings [°C].
    lower_c : float
        Lower developmental threshold [°C].
    upper_c : float or None
        Upper threshold [°C]; None for no cutoff.
    cutoff : Cutoff
        What happens above `upper_c`.

    Returns
    -------
    array
        One value per step, one fewer than there are readings [°C d].

    Notes
    -----
    The temperature is taken as a straight line between readings and the rate is integrated exactly over it.
    Where no threshold lies between two readings that is the trapezoid of the rate; a step that crosses one
    gets its exact value. The plain trapezoid of the rate would overstate such a step.

    Source
    ------
    Own choice, from the piecewise linear temperature; no publication.
    """
    _check_thresholds(lower_c, upper_c)
    days = np.diff(times_ms) * (1.0 / MS_PER_DAY)
    rate = effective_excess_c(temperatures_c, lower_c, upper_c, cutoff)
    earned: FloatArray = (rate[1:] + rate[:-1]) * (0.5 * days)
    steps = _crossing_steps(temperatures_c, _kinks(lower_c, upper_c, cutoff))
    if steps.size:
        left, right = temperatures_c[steps], temperatures_c[steps + 1]
        ramp = _ramp(np.minimum(left, right), np.maximum(left, right))
        earned[steps] = _mean_rate(ramp, lower_c, upper_c, cutoff) * days[steps]
    return earned


def hours_above_of_steps(times_ms: IntArray, temperatures_c: FloatArray, limit_c: float) -> FloatArray:
    """Hours above a limit between each reading and the next, the temperature a straight line between them.

    Parameters
    ----------
    times_ms : array of int
        Times of the readings, ascending [ms since 1970 UTC].
    temperatures_c : array
        Readings [°C].
    limit_c : float
        The limit [°C].

    Returns
    -------
    array
        One value per step, one fewer than there are readings [h].

    Source
    ------
    Own choice, from the piecewise linear temperature; no publication.
    """
    hours = np.diff(times_ms) * (1.0 / MS_PER_HOUR)
    above = temperatures_c > limit_c
    share = above[1:].astype(np.float64)
    steps = _crossing_steps(temperatures_c, (limit_c,))
    left, right = temperatures_c[steps], temperatures_c[steps + 1]
    share[steps] = _ramp(np.minimum(left, right), np.maximum(left, right))[1](limit_c)
    return share * hours


def _mean_rate(profile: _Profile, lower_c: float, upper_c: float | None, cutoff: Cutoff) -> FloatArray:
    excess, share_above = profile
    if upper_c is None:
        return excess(lower_c)
    if cutoff is Cutoff.HORIZONTAL:
        return excess(lower_c) - excess(upper_c)
    if cutoff is Cutoff.VERTICAL:
        return excess(lower_c) - excess(upper_c) - (upper_c - lower_c) * share_above(upper_c)
    return excess(lower_c) - 2.0 * excess(upper_c) + excess(2.0 * upper_c - lower_c)


def _ramp(low: FloatArray, high: FloatArray) -> _Profile:
    """A straight line from low to high: mean excess over a limit, share of time above it."""
    span = high - low
    flat = span < 1e-9
    width = np.where(flat, 1.0, span)

    def excess(limit_c: float) -> FloatArray:
        over_high, over_low = np.maximum(high - limit_c, 0.0), np.maximum(low - limit_c, 0.0)
        return np.asarray(np.where(flat, over_low, (over_high**2 - over_low**2) / (2.0 * width)))

    def share_above(limit_c: float) -> FloatArray:
        return np.asarray(np.where(flat, low > limit_c, np.clip((high - limit_c) / width, 0.0, 1.0)))

    return excess, share_above


def _kinks(lower_c: float, upper_c: float | None, cutoff: Cutoff) -> tuple[float, ...]:
    if upper_c is None:
        return (lower_c,)
    if cutoff is Cutoff.INTERMEDIATE:
        return (lower_c, upper_c, 2.0 * upper_c - lower_c)
    return (lower_c, upper_c)


def _crossing_steps(temperatures_c: FloatArray, limits_c: tuple[float, ...]) -> IntArray:
    """Indexes of the steps that cross a limit; most days have few, so these alone get the exact integral."""
    crossings = []
    for limit_c in limits_c:
        above = temperatures_c > limit_c
        crossings.append(np.flatnonzero(above[1:] != above[:-1]))
    return np.unique(np.concatenate(crossings)) if len(crossings) > 1 else crossings[0]


def _check_thresholds(lower_c: float, upper_c: float | None) -> None:
    if upper_c is not None and upper_c <= lower_c:
        raise UsageError(
            "the upper threshold {upper:g} °C must lie above the lower threshold {lower:g} °C",
            upper=upper_c,
            lower=lower_c,
        )
