"""Futures of places that are alike and heat themselves: whole past days of all of them, drawn together.

A grow-out bin is cool when it is filled, hot a week later and cool again at the end, so its own last days
say little about its next ones. The last days of all bins hold every age.
"""

from __future__ import annotations

from collections.abc import Collection

from monitor.model.clocks import Clock, ClockOf, Clocks
from monitor.model.ensemble import EnsembleClock, FutureDraws, ensemble_clock
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
            made[id(own)] = ensemble_clock(own, draws, now_ms, alike=pool)
        return made[id(own)]

    return clock_of
