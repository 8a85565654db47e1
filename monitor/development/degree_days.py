"""Degree-days of readings on their real time stamps, with the three upper cutoffs and the fall in great heat.

The temperature is a straight line between readings. Every rate here is made of straight pieces, so two
quantities of that line settle it: its mean excess over a limit, and the share of time that it is above one.
"""

from __future__ import annotations

from collections.abc import Callable
from enum import StrEnum

import numpy as np

from monitor.climate.arrays import FloatArray, IntArray, Values
from monitor.errors import UsageError
from monitor.records import MS_PER_DAY, MS_PER_HOUR

_Profile = tuple[Callable[[float], FloatArray], Callable[[float], FloatArray]]

Fall = tuple[float, float]
"""Where the rate begins to fall and where it is zero [°C]."""


class Cutoff(StrEnum):
    """What happens above the upper threshold; the field's standard terms."""

    HORIZONTAL = "horizontal"
    VERTICAL = "vertical"
    INTERMEDIATE = "intermediate"


def effective_excess_c(
    temperature_c: Values,
    lower_c: float,
    upper_c: float | None = None,
    cutoff: Cutoff = Cutoff.HORIZONTAL,
    fall: Fall | None = None,
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
    fall : tuple or None
        With a horizontal cutoff: where the rate leaves its height and where it is zero [°C], not below
        `upper_c`. Between the two it falls in a straight line.

    Returns
    -------
    array
        max(0, Te - T0) [°C], the degree-days earned in a day at that temperature.

    Notes
    -----
    Horizontal: Te = min(T, Tu). Vertical: nothing is earned above Tu. Intermediate: above Tu, Te = Tu -
    (T - Tu), and never below T0.

    Source
    ------
    Horizontal and vertical as in the University of California IPM degree-day calculator. Its intermediate
    cutoff is another one: it takes twice the day's excess over Tu away without a floor at T0 within the day,
    so that the hottest hours take from the others; on hot days ours earns up to 4.4 °F d more. A rate below
    zero has no meaning for an animal, so ours stays. The fall is our own choice of form.
    """
    temperature = np.asarray(temperature_c, dtype=np.float64)
    if upper_c is None:
        return np.maximum(temperature - lower_c, 0.0)
    if cutoff is Cutoff.HORIZONTAL:
        excess = np.clip(temperature, lower_c, upper_c) - lower_c
        if fall is None or not np.any(temperature > fall[0]):
            return np.asarray(excess)
        return np.asarray(excess * np.clip((fall[1] - temperature) / (fall[1] - fall[0]), 0.0, 1.0))
    if cutoff is Cutoff.VERTICAL:
        return np.where(temperature <= upper_c, np.maximum(temperature - lower_c, 0.0), 0.0)
    return np.maximum(np.minimum(temperature, 2.0 * upper_c - temperature) - lower_c, 0.0)


def degree_days_of_steps(
    times_ms: IntArray,
    temperatures_c: FloatArray,
    lower_c: float,
    upper_c: float | None = None,
    cutoff: Cutoff = Cutoff.HORIZONTAL,
    fall: Fall | None = None,
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
    fall : tuple or None
        Where the rate begins to fall and where it is zero [°C], see `effective_excess_c`.

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
    _check_thresholds(lower_c, upper_c, cutoff, fall)
    days = np.diff(times_ms) * (1.0 / MS_PER_DAY)
    rate = effective_excess_c(temperatures_c, lower_c, upper_c, cutoff, fall)
    earned: FloatArray = (rate[1:] + rate[:-1]) * (0.5 * days)
    bends = _bends(lower_c, upper_c, cutoff, fall)
    steps = _crossing_steps(temperatures_c, tuple(bends))
    if steps.size:
        left, right = temperatures_c[steps], temperatures_c[steps + 1]
        ramp = _ramp(np.minimum(left, right), np.maximum(left, right))
        jump = upper_c if cutoff is Cutoff.VERTICAL else None
        earned[steps] = _mean_rate(ramp, bends, lower_c, jump) * days[steps]
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


def _mean_rate(
    profile: _Profile, bends: dict[float, float], lower_c: float, jump_c: float | None
) -> FloatArray:
    """Mean of a rate of straight pieces: each bend adds its change of slope times the excess over it."""
    excess, share_above = profile
    mean = sum((slope * excess(limit_c) for limit_c, slope in bends.items()), np.zeros(1))
    return mean if jump_c is None else mean - (jump_c - lower_c) * share_above(jump_c)


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


def _bends(lower_c: float, upper_c: float | None, cutoff: Cutoff, fall: Fall | None) -> dict[float, float]:
    """Where the rate bends [°C], and by how much its slope changes there [1]."""
    bends = {lower_c: 1.0}
    if upper_c is None:
        return bends
    if cutoff is Cutoff.INTERMEDIATE:
        return bends | {upper_c: -2.0, 2.0 * upper_c - lower_c: 1.0}
    bends[upper_c] = -1.0
    if fall is not None:
        steepness = (upper_c - lower_c) / (fall[1] - fall[0])
        bends[fall[0]] = bends.get(fall[0], 0.0) - steepness
        bends[fall[1]] = steepness
    return bends


def _crossing_steps(temperatures_c: FloatArray, limits_c: tuple[float, ...]) -> IntArray:
    """Indexes of the steps that cross a limit; most days have few, so these alone get the exact integral."""
    lowest, highest = temperatures_c.min(), temperatures_c.max()
    crossings = [np.zeros(0, dtype=np.int64)]
    for limit_c in limits_c:
        if lowest <= limit_c < highest:
            above = temperatures_c > limit_c
            crossings.append(np.flatnonzero(above[1:] != above[:-1]))
    return np.unique(np.concatenate(crossings)) if len(crossings) > 2 else crossings[-1]


def _check_thresholds(lower_c: float, upper_c: float | None, cutoff: Cutoff, fall: Fall | None) -> None:
    if upper_c is not None and upper_c <= lower_c:
        raise UsageError(
            "the upper threshold {upper:g} °C must lie above the lower threshold {lower:g} °C",
            upper=upper_c,
            lower=lower_c,
        )
    if fall is None:
        return
    if upper_c is None or cutoff is not Cutoff.HORIZONTAL:
        raise UsageError("a rate that falls in great heat needs an upper threshold and the horizontal cutoff")
    if not upper_c <= fall[0] < fall[1]:
        raise UsageError(
            "the rate falls from {start:g} °C to zero at {end:g} °C; the two must rise, from the upper "
            "threshold {upper:g} °C on",
            start=fall[0],
            end=fall[1],
            upper=upper_c,
        )
