"""Array types, and small functions of numbers and arrays that several formulas need."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, TypeVar

import numpy as np

if TYPE_CHECKING:
    import numpy.typing as npt

    FloatArray = npt.NDArray[np.float64]
    IntArray = npt.NDArray[np.int64]
    BoolArray = npt.NDArray[np.bool_]
else:
    # The types alone must not load numpy: a command that only looks does without it.
    FloatArray = IntArray = BoolArray = Any
Values = float | FloatArray
Value = TypeVar("Value", float, FloatArray)
"""A number or an array; a function over it returns what it was given."""

NORMAL_QUANTILE_90 = 1.2816
"""Quantile of the standard normal below which nine in ten lie [1]."""
MANY, ROUGH_STEPS = 256, 65_535.0
"""From so many on they are put into order, and by how many steps: 16 bits are sorted fast."""


def exponential(value: Value) -> Value:
    """Return e to the power of `value`, without the cost of numpy where it is a single number."""
    return np.exp(value) if isinstance(value, np.ndarray) else math.exp(value)


def logarithm(value: Value) -> Value:
    """Return the natural logarithm of `value`, without the cost of numpy where it is a single number."""
    return np.log(value) if isinstance(value, np.ndarray) else math.log(value)


def square_root(covariance: FloatArray) -> FloatArray:
    """A square root R of a covariance C, R R' = C, both of shape (n, n); C may hold zeros."""
    values, vectors = np.linalg.eigh(covariance)
    return np.asarray(vectors * np.sqrt(np.maximum(values, 0.0)))


def interpolated(at: FloatArray, points: FloatArray, values: FloatArray) -> FloatArray:
    """`np.interp` for many `at` in any order, with the same result to the last bit.

    It looks for each near where the one before was found, so they are put into rough order first: a third of
    the time for 2,000 in a table of 3,000.
    """
    if len(at) < MANY:
        return np.interp(at, points, values)
    low = float(at.min())
    width = float(at.max()) - low
    if not 0.0 < width < math.inf:
        return np.interp(at, points, values)
    order = ((at - low) * (ROUGH_STEPS / width)).astype(np.uint16).argsort(kind="stable")
    found = np.empty(len(at))
    found[order] = np.interp(at.take(order), points, values)
    return found


def require(quantity: str, unit: str, value: Value, low: float, high: float) -> None:
    """Raise a ValueError that names the quantity unless all of `value` lies in low..high; NaN does not."""
    if isinstance(value, np.ndarray):
        outside = value[~((value >= low) & (value <= high))]
        if not outside.size:
            return
        wrong, others = float(outside[0]), f" (and {outside.size - 1} more)"
    elif low <= value <= high:
        return
    else:
        wrong, others = value, ""
    raise ValueError(f"{quantity} is {wrong:g} {unit}{others}; allowed: {low:g} to {high:g} {unit}")


def mean_and_band(values: FloatArray) -> FloatArray:
    """Mean, 10 % and 90 % over the courses, from shape (courses, days) to (3, days).

    In the tails the band is widened to hold its mean.
    """
    ordered, mean = np.sort(values, axis=0), values.mean(axis=0)
    low, high = (ordered[round(share * (len(values) - 1))] for share in (0.1, 0.9))
    return np.vstack([mean, np.minimum(low, mean), np.maximum(high, mean)])
