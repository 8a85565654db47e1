"""How far the substrate of a bin would stand above the air, by the age of its larvae."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from monitor.bins.conditions import climate_of, conditions_of
from monitor.bins.intervals import intervals_of
from monitor.bins.substrate import BinFacts, Larvae
from monitor.climate.arrays import FloatArray
from monitor.records import MS_PER_DAY, MS_PER_HOUR

USUAL_HUMIDITY_PERCENT = 60.0
"""Humidity of the air in which a bin is reckoned that is yet to come [%RH]. Own choice."""
STEP_MS = 3 * MS_PER_HOUR
LONGEST_DAYS = 30


def expected_excess_k(facts: BinFacts, age_days: FloatArray, air_c: float) -> FloatArray:
    """Excess of the core of a bin over steady air by the age of its larvae [K], shape (n,).

    Parameters
    ----------
    facts : BinFacts
        A filling like those that are meant: its feed, size, larvae, fan. Its time and probe do not matter.
    age_days : array
        Days since the larvae hatched [d], shape (n,), rising; 0 before the age at which they were put in.
    air_c : float
        Air around the bin [°C].

    Returns
    -------
    array
        Excess [K], shape (n,); that of the last of 30 days after those.

    Notes
    -----
    Nothing is done to the bin after it is filled. A day is the mean of its intervals.

    Source
    ------
    Heat balance of `intervals_of`.
    """
    larvae = facts.larvae or Larvae(0.0, 0)
    bin_facts = replace(facts, filled_ms=0, larvae=replace(larvae, since_ms=0))
    times = np.arange(0, LONGEST_DAYS * MS_PER_DAY + 1, STEP_MS, dtype=np.int64)
    even = np.ones(len(times))
    climate = climate_of(times, air_c * even, USUAL_HUMIDITY_PERCENT * even, np.nan * even)
    done = intervals_of(bin_facts, conditions_of(bin_facts, ()), climate, 0, int(times[-1]))
    middle_days = (done.edges_ms[1:] + done.edges_ms[:-1]) / (2.0 * MS_PER_DAY) + larvae.age_days
    return np.asarray(np.interp(age_days, middle_days, done.core_c - air_c, left=0.0))
