"""Invented courses of feeding bins for trials of the heat alarms; none of it knows how the alarms work.

`NINE` are nine measured bins with usual yield, eight days each in a room of 28 to 29 °C (Alciatore et al.
2024, Waste Management, open data, own summary). Two shapes are fitted to their peak and their hours above
40 °C: one with a plateau, a daily swing and stirring dips, one of feeding pulses, each begun by cold feed.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
STEP_MIN, DAYS = 5.0, 8
DAY = int(1440 / STEP_MIN)
PROBE_NOISE_C = 0.07


@dataclass(frozen=True)
class Measured:
    """One measured bin: mean of its room, peak, hours above 38 and 40 °C."""

    room_c: float
    peak_c: float
    above_38_h: float
    above_40_h: float


NINE = (
    Measured(29.4, 44.5, 71.5, 52.5),
    Measured(28.5, 43.0, 39.0, 24.0),
    Measured(28.8, 43.0, 70.0, 31.5),
    Measured(29.4, 45.5, 84.0, 53.5),
    Measured(28.5, 42.375, 82.0, 56.0),
    Measured(28.8, 42.625, 50.5, 28.0),
    Measured(29.4, 45.375, 73.0, 49.5),
    Measured(28.5, 41.75, 75.0, 36.5),
    Measured(28.8, 43.625, 70.0, 55.0),
)
Shape = Callable[[np.random.Generator, Measured], Floats]


def hours(count: int) -> Floats:
    return np.arange(count) * STEP_MIN / 60.0


def wander(rng: np.random.Generator, count: int, sd: float, memory_h: float = 3.0) -> Floats:
    keep = np.exp(-STEP_MIN / 60.0 / memory_h)
    pushes = rng.normal(0.0, sd * np.sqrt(1.0 - keep * keep), count)
    found = np.empty(count)
    found[0] = rng.normal(0.0, sd)
    for at in range(1, count):
        found[at] = keep * found[at - 1] + pushes[at]
    return found


def stirring(rng: np.random.Generator, count: int) -> Floats:
    """Each morning the bin loses 1.5 to 6 °C at once and warms again within hours."""
    at_h, dips = hours(count), np.zeros(count)
    for day in range(count // DAY + 1):
        since_h = at_h - 24 * day - rng.uniform(7, 11)
        after = since_h >= 0
        dips[after] -= rng.uniform(1.5, 6.0) * np.exp(-since_h[after] / rng.uniform(0.7, 2.5))
    return dips


def _hot_time(rng: np.random.Generator, count: int, hot_h: float) -> Floats:
    day = hours(count) / 24.0
    start, length = rng.uniform(1.0, 2.5), hot_h / 24.0 + rng.uniform(0.0, 0.8)
    up, down = rng.uniform(0.15, 0.4, 2)
    risen = 1.0 / (1.0 + np.exp(-(day - start) / up))
    fallen = 1.0 / (1.0 + np.exp((day - start - length) / down))
    return np.asarray(0.2 + 0.8 * risen * fallen)


def _fitted(shape: Floats, room_c: Floats, dips: Floats, bin_: Measured) -> Floats:
    """Excess and its power so that the peak and the hours above 40 °C are those of the measured bin."""
    low, high = 0.2, 6.0
    for _ in range(30):
        power = (low + high) / 2.0
        excess_k = bin_.peak_c - float(room_c.mean())
        for _ in range(6):
            core_c = room_c + excess_k * shape**power + dips
            excess_k *= (bin_.peak_c - float(room_c.mean())) / max(1e-6, float(core_c.max() - room_c.mean()))
        longer = float(np.sum(core_c > 40.0)) * STEP_MIN / 60.0 > bin_.above_40_h
        low, high = (power, high) if longer else (low, power)
    return np.asarray(core_c)


def _room(rng: np.random.Generator, count: int, mean_c: float) -> Floats:
    swing_c, peak_h = rng.uniform(0.3, 1.2), rng.uniform(8, 11)
    return np.asarray(mean_c + swing_c * np.sin(2 * np.pi * (hours(count) - peak_h) / 24))


def plateau(rng: np.random.Generator, bin_: Measured) -> Floats:
    """True temperature each five minutes of a bin with a hot plateau and a daily swing, shape (2304,)."""
    count = DAYS * DAY
    swing = rng.uniform(0.05, 0.2) * np.sin(2 * np.pi * (hours(count) - rng.uniform(0, 24)) / 24)
    shape = _hot_time(rng, count, bin_.above_38_h) * (1.0 + swing) + wander(rng, count, 0.02)
    shape = np.clip(shape, 0.02, None)
    return _fitted(shape / shape.max(), _room(rng, count, bin_.room_c), stirring(rng, count), bin_)


def pulses(rng: np.random.Generator, bin_: Measured) -> Floats:
    """The same of a bin that is fed once or twice a day, each time cold and then hotter, shape (2304,)."""
    count = DAYS * DAY
    fed, cold = np.zeros(count), np.zeros(count)
    for day in range(DAYS):
        for hour in (8.0,) if rng.random() < 0.6 else (8.0, 18.0):
            since_h = hours(count) - 24 * day - hour - rng.uniform(-1, 1)
            after, quick_h = since_h >= 0, rng.uniform(2, 6)
            grown = since_h[after] / quick_h
            fed[after] += grown * np.exp(1.0 - grown) * rng.uniform(0.6, 1.0)
            cold[after] -= rng.uniform(2, 6) * np.exp(-since_h[after] / rng.uniform(0.7, 2.0))
    shape = _hot_time(rng, count, bin_.above_38_h) * (0.55 + 0.45 * fed / fed.max())
    shape = np.clip(shape + wander(rng, count, 0.02), 0.02, None)
    return _fitted(shape / shape.max(), _room(rng, count, bin_.room_c), cold, bin_)


def living(rng: np.random.Generator, days: float, level_c: float, swing_c: float) -> Floats:
    """A bin that stays near a level, with a daily swing and daily stirring."""
    count = int(days * DAY)
    swing = swing_c * np.sin(2 * np.pi * (hours(count) - rng.uniform(0, 24)) / 24)
    return np.asarray(level_c + swing + wander(rng, count, 0.3) + stirring(rng, count))


@dataclass(frozen=True)
class Heating:
    """A course that ends hot: true temperatures each five minutes, where its heating began, °C an hour."""

    core_c: Floats
    began: int
    rate: float


def heating(rng: np.random.Generator, limit_c: float) -> Heating:
    """A bin that lived at 30 °C to seven below the limit heats by 0.5 to 6 °C an hour until past it.

    Along a line, towards a temperature 2 to 6 °C above the limit, or slowly at first.
    """
    rate = rng.uniform(0.5, 6.0)
    before = living(rng, 1.2, rng.uniform(30.0, limit_c - 7.0), rng.uniform(0.3, 1.5))
    began = int(rng.integers(int(0.6 * DAY), DAY))
    since_h = hours(int((limit_c + 2.0 - before[began]) / rate * 60 / STEP_MIN) * 4 + 8)
    shape, beyond_c = rng.integers(3), rng.uniform(2.0, 6.0)
    rise, top = rate * since_h, limit_c + beyond_c - before[began]
    if shape == 1 and 1.5 * rate * beyond_c / top >= 0.5:
        rise = top * (1.0 - np.exp(-1.5 * rise / top))
    elif shape == 2:
        rise = rate * (since_h - 0.7 * (1.0 - np.exp(-since_h / 0.7)))
    core_c = np.concatenate([before[:began], before[began] + rise])
    return Heating(core_c[: int(np.flatnonzero(core_c > limit_c + 0.3)[0]) + 2], began, rate)


def going_on(rng: np.random.Generator, core_c: Floats, least_h: float) -> Heating | None:
    """A feeding bin that goes on to 47 °C from somewhere between 38 and 43.5 °C, at 0.5 to 6 °C an hour.

    None where it reaches 45 °C within `least_h` of the beginning, so that nobody could be told in time.
    """
    chosen = np.flatnonzero((core_c > 38.0) & (core_c < 43.5))
    began, rate = int(rng.choice(chosen[chosen > DAY])), rng.uniform(0.5, 6.0)
    since_h = hours(len(core_c))
    rise = rate * since_h
    if rng.random() < 0.5:
        top = rng.uniform(47.5, 52.0) - core_c[began]
        rise = top * (1.0 - np.exp(-rise / top))
    whole = np.concatenate([core_c[:began], core_c[began] + rise])
    past = np.flatnonzero(whole[began:] > 47.0)
    if not len(past):
        return None
    found = Heating(whole[: began + int(past[0]) + 1], began, rate)
    reaches_45 = int(np.flatnonzero(found.core_c[began:] > 45.0)[0])
    return found if reaches_45 * STEP_MIN / 60.0 >= least_h else None


def probe(
    rng: np.random.Generator, core_c: Floats, interval_min: float, noise_c: float = PROBE_NOISE_C
) -> tuple[Floats, Floats]:
    """Minutes and readings of a probe in steps of 1/16 °C with noise."""
    at_min = np.arange(0.0, (len(core_c) - 1) * STEP_MIN + 1e-9, interval_min)
    values = np.interp(at_min, np.arange(len(core_c)) * STEP_MIN, core_c)
    return at_min, np.round((values + rng.normal(0.0, noise_c, len(values))) * 16.0) / 16.0
