"""Numbers or arrays alike: the type, two functions, and the refusal of what is out of range."""

from __future__ import annotations

import math
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

Value = TypeVar("Value", float, NDArray[np.float64])

LOWEST_TEMPERATURE_C = -40.0
HIGHEST_TEMPERATURE_C = 125.0
"""Range of all temperatures taken as input [°C]: whatever a sensor may say without failing its gross range,
so that a burning room does not end in an error. Source: own choice; the pressure formula holds to 200."""


def exponential(value: Value) -> Value:
    """Return e to the power of `value`, without the cost of numpy where it is a single number."""
    return np.exp(value) if isinstance(value, np.ndarray) else math.exp(value)


def logarithm(value: Value) -> Value:
    """Return the natural logarithm of `value`, without the cost of numpy where it is a single number."""
    return np.log(value) if isinstance(value, np.ndarray) else math.log(value)


def require(quantity: str, unit: str, value: Value, low: float, high: float) -> None:
    """Raise a ValueError that names the quantity unless all of `value` lies in low..high; NaN does not."""
    if isinstance(value, np.ndarray):
        outside = value[~((value >= low) & (value <= high))]
        if not outside.size:
            return
        found, others = float(outside[0]), f" (and {outside.size - 1} more)"
    elif low <= value <= high:
        return
    else:
        found, others = value, ""
    raise ValueError(f"{quantity} is {found:g} {unit}{others}; allowed: {low:g} to {high:g} {unit}")


def require_temperature(quantity: str, value_c: Value) -> None:
    """Raise a ValueError unless the temperature lies in the range of this module."""
    require(quantity, "°C", value_c, LOWEST_TEMPERATURE_C, HIGHEST_TEMPERATURE_C)


def require_humidity(value_percent: Value) -> None:
    """Raise a ValueError unless the relative humidity lies in 0..100 %."""
    require("relative humidity", "%", value_percent, 0.0, 100.0)
