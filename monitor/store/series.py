"""A sensor's readings over a span as arrays, and what can be read off them. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from monitor.records import Calibration, Flag
from monitor.store.calibrations import applied


@dataclass(frozen=True, slots=True)
class Series:
    """Readings in the order of time; NaN where no value was kept."""

    at_ms: NDArray[np.int64]
    value: NDArray[np.float64]
    flag: NDArray[np.int8]

    def __len__(self) -> int:
        return len(self.at_ms)

    def usable(self) -> Series:
        """Without failed and missing readings."""
        keep = (self.flag != Flag.FAIL) & (self.flag != Flag.MISSING) & np.isfinite(self.value)
        return Series(self.at_ms[keep], self.value[keep], self.flag[keep])

    def calibrated(self, calibrations: Sequence[Calibration], quantity: str) -> Series:
        """With each value as the calibration in force at its time makes it."""
        return Series(self.at_ms, applied(calibrations, quantity, self.at_ms, self.value), self.flag)


@dataclass(frozen=True, slots=True)
class Band:
    """Lowest, mean and highest value by time: single readings, or hours dated by their start."""

    at_ms: NDArray[np.int64]
    minimum: NDArray[np.float64]
    mean: NDArray[np.float64]
    maximum: NDArray[np.float64]
    hourly: bool


@dataclass(frozen=True, slots=True)
class Extremes:
    """Lowest and highest value of a span with the first time of each."""

    lowest: float
    lowest_ms: int
    highest: float
    highest_ms: int


@dataclass(frozen=True, slots=True)
class Excursion:
    """A span beyond a bound: from the first to the last reading beyond it, and the farthest value."""

    start_ms: int
    end_ms: int
    extreme: float
    extreme_ms: int


def extremes(series: Series) -> Extremes | None:
    """The lowest and highest usable value, or None where there is none."""
    usable = series.usable()
    if len(usable) == 0:
        return None
    low, high = int(np.argmin(usable.value)), int(np.argmax(usable.value))
    return Extremes(
        float(usable.value[low]), int(usable.at_ms[low]), float(usable.value[high]), int(usable.at_ms[high])
    )


def gaps(at_ms: NDArray[np.int64], start_ms: int, end_ms: int, limit_ms: int) -> tuple[tuple[int, int], ...]:
    """Spans of [start, end] longer than the limit without a reading, edges included."""
    edges = np.concatenate(([start_ms], at_ms, [end_ms]))
    wide = np.flatnonzero(np.diff(edges) > limit_ms)
    return tuple((int(edges[at]), int(edges[at + 1])) for at in wide)


def excursions(series: Series, bound: float, *, above: bool, join_ms: int) -> tuple[Excursion, ...]:
    """Runs of usable readings beyond the bound; a hole longer than `join_ms` ends a run."""
    usable = series.usable()
    beyond = usable.value > bound if above else usable.value < bound
    at = np.flatnonzero(beyond)
    if len(at) == 0:
        return ()
    broken = (np.diff(at) > 1) | (np.diff(usable.at_ms[at]) > join_ms)
    runs = np.split(at, np.flatnonzero(broken) + 1)
    return tuple(_excursion(usable, run, above) for run in runs)


def _excursion(series: Series, run: NDArray[np.intp], above: bool) -> Excursion:
    values = series.value[run]
    farthest = run[int(np.argmax(values) if above else np.argmin(values))]
    return Excursion(
        int(series.at_ms[run[0]]),
        int(series.at_ms[run[-1]]),
        float(series.value[farthest]),
        int(series.at_ms[farthest]),
    )
