"""Speed of the moisture model. Aim: 40 bins over 30 days of hourly air below 1 s, outlook included."""

from __future__ import annotations

from typing import Any

import numpy as np

from monitor.bins.conditions import climate_of, days_ahead, usual_day
from monitor.bins.events import BinEvent, WaterAdded, Weighed
from monitor.bins.history import simulate
from monitor.bins.outlook import HORIZON_H, MoistureOutlook, outlook
from monitor.bins.substrate import BinFacts, Larvae
from monitor.climate.trend import minutes_to_limit
from monitor.records import MS_PER_DAY, MS_PER_HOUR, MS_PER_MINUTE

T0 = 472_222 * MS_PER_HOUR
NOW_MS = T0 + 30 * MS_PER_DAY
TIMES = T0 + MS_PER_HOUR * np.arange(30 * 24 + 1)
PHASE = np.sin(TIMES / MS_PER_DAY * 2.0 * np.pi)
CLIMATE = climate_of(TIMES, 27.0 + 4.0 * PHASE, 60.0 - 12.0 * PHASE)
EVENTS: list[BinEvent] = [
    *(WaterAdded(T0 + hour * MS_PER_HOUR, 0.5) for hour in range(40, 700, 48)),
    Weighed(T0 + 100 * MS_PER_HOUR, 7.5),
]


def all_bins() -> list[MoistureOutlook]:
    """Forty bins, each with a month of logbook, and what to say of them."""
    day = usual_day(CLIMATE, NOW_MS)
    assert day is not None
    ahead = days_ahead(day, NOW_MS, HORIZON_H)
    facts = [BinFacts(0.24, T0, 6.0 + 0.05 * n, 0.72, larvae=Larvae(8000.0, T0)) for n in range(40)]
    return [outlook(simulate(each, EVENTS, CLIMATE, NOW_MS), ahead) for each in facts]


def test_forty_bins_over_thirty_days(benchmark: Any, figure: Any) -> None:
    assert len(benchmark(all_bins)) == 40
    figure("40 bins over 30 days", figure.median_s(), "s", at_most=1.0)


def test_one_heat_trend_over_45_minutes(benchmark: Any, figure: Any) -> None:
    times = (T0 + MS_PER_MINUTE * np.arange(46)).tolist()
    trend = benchmark(minutes_to_limit, times, (36.0 + 0.05 * np.arange(46)).tolist(), 42.0)
    assert trend is not None
    figure("one heat trend", 1e6 * figure.median_s(), "µs")
