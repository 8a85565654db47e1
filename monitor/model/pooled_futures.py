"""Futures of places that are alike and heat themselves: whole past days of all of them, drawn together.

A grow-out bin is cool when it is filled, hot a week later and cool again at the end, so its own last days
say little about its next ones. The last days of all bins hold every age.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace

import numpy as np

from monitor.model.clocks import Clock, ClockOf, Clocks, StageClock
from monitor.model.ensemble import EnsembleClock, FutureDraws, FuturePolicy, ensemble_clock, past_days
from monitor.model.rates import DrivenBy, StageParameters


def pooled_clocks(
    clocks: Clocks, alike: Collection[str], draws: FutureDraws, now_ms: int, otherwise: ClockOf
) -> ClockOf:
    """A lookup of ensemble clocks in which places that are alike share their past days.

    Parameters
    ----------
    clocks : Clocks
        Clocks of all places over the past.
    alike : collection of str
        Places whose days are pooled.
    draws : FutureDraws
        The shared random numbers.
    now_ms : int
        Now [ms since 1970 UTC].
    otherwise : callable
        Clocks of all other places.

    Returns
    -------
    callable
        Gives the clock of a place and a stage; None where no temperature of the place is known.

    Notes
    -----
    The past of each place is its own; only what is drawn for the time after now is shared. Where the place or
    the stage goes by the air, nothing is pooled: the air of a room does not follow the age of a cohort.

    Source
    ------
    Own choice, after simulated farms: with its own days alone the end of the larval stage was forecast two
    days late.
    """
    made: dict[int, EnsembleClock] = {}

    def clock_of(place: str, stage: StageParameters) -> Clock | None:
        own = clocks.of(place, stage)
        if own is None or place not in alike or own.used is not DrivenBy.SUBSTRATE:
            return otherwise(place, stage)
        if id(own) not in made:
            found = [clocks.of(other, stage) for other in alike]
            pool = [clock for clock in found if clock is not None and clock.used is DrivenBy.SUBSTRATE]
            made[id(own)] = _pooled(own, pool, draws, now_ms)
        return made[id(own)]

    return clock_of


def _pooled(own: StageClock, pool: list[StageClock], draws: FutureDraws, now_ms: int) -> EnsembleClock:
    policy = FuturePolicy()
    alone = ensemble_clock(own, draws, now_ms, policy)
    days = [past_days(clock, now_ms, policy) for clock in pool]
    profiles = np.concatenate([found[0] for found in days])
    weights = np.concatenate([found[1] for found in days])
    if len(profiles) < policy.least_days:
        return alone
    bounds = np.cumsum(weights / weights.sum())
    chosen = np.minimum(np.searchsorted(bounds, draws.day_uniforms, side="right"), len(bounds) - 1)
    cumulative = np.zeros(alone.cumulative.shape)
    np.cumsum(profiles[chosen, -1], axis=0, out=cumulative[1:])
    return replace(
        alone,
        cumulative=cumulative,
        profiles=np.ascontiguousarray(profiles.T),
        chosen=np.ascontiguousarray(chosen, dtype=np.int64),
    )
