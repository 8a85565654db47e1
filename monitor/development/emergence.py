"""How far the flies of one box spread in each possible course, before and after its first flies were seen."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from monitor.climate.arrays import FloatArray
from monitor.development.events import EmergenceSpread, Observation, own_log_sd
from monitor.development.posterior import FarmPosterior
from monitor.development.rates import AdultLife
from monitor.records import MS_PER_DAY

SLOPE_STEP, MOST_CHANGE = 0.1, 1.5
"""Step of the log of a spread for its slope, and how far first flies move it at most [1]. Own choice."""
BROADEST_LOG_SD = 1.2
"""Broadest box, log-sd from the own origin [1]. Own choice: 99 % of the flies of model boxes of 59 are then
out on day 31 after their first; day 27 in the open counts of ReproLab's common garden."""
LEAST_FEMALES, MOST_FEMALES = 0.2, 0.8
"""Share of females is drawn between these [1]. Own choice: beyond them the normal has nothing to say."""


def drawn_spread(
    posterior: FarmPosterior, adult: AdultLife, farm_flies: FloatArray, box_normals: FloatArray
) -> EmergenceSpread:
    """How the flies of one box spread in each course.

    Parameters
    ----------
    posterior : FarmPosterior
        The middle spread, how unsure it is, and how far boxes differ.
    adult : AdultLife
        Share of females with its standard deviation, range of the males' lead [d].
    farm_flies : array
        What all boxes of the farm share, shape (3, draws) [1]: standard normals of the share of females and
        of the spread, and where in its range the lead lies, 0 to 1.
    box_normals : array
        Those of this box, shape (draws,) [1].

    Returns
    -------
    EmergenceSpread
        Arrays of shape (draws,). Any lead in the range is as likely.

    Source
    ------
    Own choice; the figures stand in the species file.
    """
    females, farm, lead = farm_flies
    share = np.clip(adult.female_share + adult.female_share_sd * females, LEAST_FEMALES, MOST_FEMALES)
    low, high = adult.male_lead_days
    unsure = posterior.spread_farm_log_sd * farm + posterior.spread_between_log_sd * box_normals
    drawn = own_log_sd(posterior.spread_log_sd * np.exp(unsure), adult.own_origin_share)
    log_sd = np.minimum(drawn, BROADEST_LOG_SD)
    return EmergenceSpread(log_sd, share, low + (high - low) * lead, adult.own_origin_share)


def spread_seen(
    spread: EmergenceSpread,
    seen: Observation,
    origin_ms: float,
    half_ms: FloatArray,
    unsure_log_sd: float,
    normals: FloatArray,
) -> EmergenceSpread:
    """The spread of each course given its half emergence and when first flies were seen.

    Parameters
    ----------
    spread : EmergenceSpread
        As drawn before first flies were seen, shape (courses,).
    seen : Observation
        First flies.
    origin_ms : float
        Beginning of the cohort's life [ms since 1970 UTC].
    half_ms : array
        Half emergence of each course, shape (courses,) [ms since 1970 UTC].
    unsure_log_sd : float
        How unsure the logarithm of the spread is [1], above 0.
    normals : array
        Standard normals, shape (courses,) [1].

    Returns
    -------
    EmergenceSpread
        Broader where the first flies came long before half of them, narrower where they came shortly before.

    Source
    ------
    Conjugate normal updating of each draw (Matheron's rule), made linear; what first flies say of the date of
    half emergence is said by `evidence_of`.
    """
    known = np.isfinite(half_ms)
    half = np.where(known, half_ms, origin_ms + MS_PER_DAY)
    broader = replace(spread, log_sd=spread.log_sd * np.exp(SLOPE_STEP))
    then, more = (each.time_of_share(origin_ms, half, seen.share_seen) for each in (spread, broader))
    slope_days = (more - then) / (SLOPE_STEP * MS_PER_DAY)
    gain = unsure_log_sd**2 * slope_days / (slope_days**2 * unsure_log_sd**2 + seen.sd_days**2)
    off_days = (seen.at_ms - then) / MS_PER_DAY + seen.sd_days * normals
    change = np.clip(gain * off_days, -MOST_CHANGE, MOST_CHANGE)
    log_sd = np.minimum(spread.log_sd * np.exp(change), BROADEST_LOG_SD)
    return replace(spread, log_sd=np.where(known, log_sd, spread.log_sd))
