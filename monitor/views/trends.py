"""Where values are heading: a robust slope over the last readings of a place."""

from __future__ import annotations

from collections.abc import Collection, Mapping

import numpy as np

from monitor.records import MS_PER_HOUR, MS_PER_MINUTE, SensorKey
from monitor.settings.plan import Plan
from monitor.store import Store
from monitor.store.series import Series

WINDOW_MS = 40 * MS_PER_MINUTE
SHORTEST_MS = 10 * MS_PER_MINUTE
FEWEST, MOST = 5, 30


def changes_per_hour(
    store: Store, plan: Plan, wanted: Collection[tuple[str, str]], now_ms: int
) -> Mapping[tuple[str, str], float]:
    """The change in an hour of these quantities of places; left out where too few readings tell."""
    found: dict[tuple[str, str], float] = {}
    for sensor in store.readings.sensors():
        where = (plan.place_of(sensor) or "", sensor.quantity)
        if where in wanted:
            slope = slope_per_hour(_recent(store, sensor, now_ms))
            if slope is not None and abs(slope) >= abs(found.get(where, 0.0)):
                found[where] = slope
    return found


def _recent(store: Store, sensor: SensorKey, now_ms: int) -> Series:
    return store.readings.series(sensor, now_ms - WINDOW_MS, now_ms + 1).usable()


def slope_per_hour(series: Series) -> float | None:
    """The median slope of all pairs of at most `MOST` readings (Theil-Sen); None where they are too few."""
    if len(series) < FEWEST or series.at_ms[-1] - series.at_ms[0] < SHORTEST_MS:
        return None
    chosen = np.linspace(0, len(series) - 1, min(MOST, len(series))).round().astype(np.int64)
    at, value = series.at_ms[chosen], series.value[chosen]
    first, second = np.triu_indices(len(at), k=1)
    slopes = (value[second] - value[first]) / (at[second] - at[first])
    return float(np.median(slopes)) * MS_PER_HOUR
