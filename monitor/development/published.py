"""Published times of stages, held against what the species file says at the same temperature."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from monitor.climate.arrays import NORMAL_QUANTILE_90
from monitor.development.rates import SpeciesParameters, units_per_day
from monitor.records import Stage

ROUNDING_DAYS = 1e-6


@dataclass(frozen=True, slots=True)
class PublishedTime:
    """How long a stage, or several in a row, took in a source [d]; `high_days` is None for "at least".

    `temperature_c` is what the source stated, or with `is_stated` False what is assumed here because it
    stated none. With `from_days` the animals were already so old within the first of the stages. `said` is
    the figure as the source has it. `reason` says why the default lies elsewhere.
    """

    stages: tuple[Stage, ...]
    feed: str | None
    from_days: float
    temperature_c: float
    is_stated: bool
    low_days: float
    high_days: float | None
    said: str
    condition: str
    mark: str
    source: str
    reason: str


@dataclass(frozen=True, slots=True)
class ComparedTime:
    """A published time beside the default: its median and 80 % window for a farm not known yet [d]."""

    published: PublishedTime
    median_days: float
    low_days: float
    high_days: float

    @property
    def is_inside(self) -> bool:
        """Whether the default's median lies inside the published range."""
        published = self.published
        highest = float("inf") if published.high_days is None else published.high_days
        return published.low_days - ROUNDING_DAYS <= self.median_days <= highest + ROUNDING_DAYS

    @property
    def is_held(self) -> bool:
        """Whether the default's 80 % window holds the whole published range."""
        published = self.published
        highest = published.low_days if published.high_days is None else published.high_days
        return self.low_days <= published.low_days and highest <= self.high_days


def compared(published: PublishedTime, species: SpeciesParameters) -> ComparedTime:
    """A published time held against a species on the feed of that time.

    The window is log-normal. The standard deviation of ln K of each stage, of an unknown farm and of one
    cohort together, counts by the share of the stage in the whole time; stages are independent.

    Source: linear degree-day model; own choice (log-normal).
    """
    stages = [species.stages[species.index_of(stage)] for stage in published.stages]
    rates = [float(units_per_day(published.temperature_c, stage.law)) for stage in stages]
    if min(rates) <= 0.0:
        return ComparedTime(published, *(float("inf"),) * 3)
    days = np.array([stage.thermal_constant / rate for stage, rate in zip(stages, rates, strict=True)])
    whole = float(days.sum())
    sds = np.hypot([stage.log_sds for stage in stages], species.cohort_log_sd)
    below, above = NORMAL_QUANTILE_90 * np.sqrt((((days / whole)[:, None] * sds) ** 2).sum(axis=0))
    times = (whole * factor - published.from_days for factor in (1.0, np.exp(-below), np.exp(above)))
    return ComparedTime(published, *(float(each) for each in times))
