"""The events of a cohort that a person can see, and how the animals of a cohort spread around them.

The time from the beginning of life to an event is log-normal between the animals of a cohort. Males come out
one or two days before females.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from statistics import NormalDist

import numpy as np

from monitor.climate.arrays import FloatArray, Values
from monitor.development.rates import AdultLife, SpeciesParameters
from monitor.errors import UsageError
from monitor.records import MS_PER_DAY, Stage

FIRST_SHARE = 0.01
"""Share of the animals that counts as the first of them [1]. Own choice: the first few that are noticed."""


class Event(StrEnum):
    """What is seen, in the order in which it happens."""

    HATCH = "hatch"
    FIRST_PREPUPAE = "first_prepupae"
    HALF_PREPUPAE = "half_prepupae"
    FIRST_MOTIONLESS = "first_motionless"
    HALF_MOTIONLESS = "half_motionless"
    FIRST_EMERGED = "first_emerged"
    HALF_EMERGED = "half_emerged"
    MOST_EMERGED = "most_emerged"
    FIRST_EGGS = "first_eggs"


@dataclass(frozen=True, slots=True)
class EventMeaning:
    """The event happens when `share` of the animals has begun the stage `begins` (None: first eggs)."""

    begins: Stage | None
    share: float


EVENTS: dict[Event, EventMeaning] = {
    Event.HATCH: EventMeaning(Stage.LARVA, 0.5),
    Event.FIRST_PREPUPAE: EventMeaning(Stage.PREPUPA, FIRST_SHARE),
    Event.HALF_PREPUPAE: EventMeaning(Stage.PREPUPA, 0.5),
    Event.FIRST_MOTIONLESS: EventMeaning(Stage.PUPA, FIRST_SHARE),
    Event.HALF_MOTIONLESS: EventMeaning(Stage.PUPA, 0.5),
    Event.FIRST_EMERGED: EventMeaning(Stage.ADULT, FIRST_SHARE),
    Event.HALF_EMERGED: EventMeaning(Stage.ADULT, 0.5),
    Event.MOST_EMERGED: EventMeaning(Stage.ADULT, 0.9),
    Event.FIRST_EGGS: EventMeaning(None, FIRST_SHARE),
}


@dataclass(frozen=True, slots=True)
class Observation:
    """An event that was seen, and how sure the day is: `sd_days` is one standard deviation [d]."""

    event: Event
    at_ms: int
    sd_days: float = 0.5

    def __post_init__(self) -> None:
        if self.sd_days <= 0.0:
            raise UsageError(
                "how sure the day is must be above 0 days, not {days:g}; half a day is usual",
                days=self.sd_days,
            )


def ended_stage(event: Event, species: SpeciesParameters) -> int | None:
    """Index into `species.stages` of the stage whose end the event is; None if there is no such event."""
    begins = EVENTS[event].begins
    if begins is None:
        return species.index_of(Stage.ADULT) if species.has(Stage.ADULT) else None
    if not species.has(begins):
        return None
    index = species.index_of(begins) - 1
    return index if index >= 0 else None


def events_of(species: SpeciesParameters) -> tuple[Event, ...]:
    """Events that this species has, in order; a cricket, for example, has no prepupae."""
    return tuple(event for event in Event if ended_stage(event, species) is not None)


def normal_share(z: Values) -> FloatArray:
    """Share of a standard normal distribution below z [1], from a table with an error below 1e-6."""
    return np.asarray(np.interp(z, *_normal_table()))


@cache
def _normal_table() -> tuple[FloatArray, FloatArray]:
    """Points of z and the shares below them; made when it is first asked for, since a look needs none."""
    z = np.linspace(-6.0, 6.0, 4801)
    return z, np.array([NormalDist().cdf(each) for each in z.tolist()])


def log_sd_of(variation: float) -> float:
    """Log standard deviation sqrt(ln(1 + cv²)) of a log-normal with a coefficient of variation [1]."""
    return float(np.sqrt(np.log1p(variation**2)))


def time_of_share(origin_ms: float, middle_ms: Values, log_sd: Values, share: float) -> FloatArray:
    """When a share of the animals has reached an event.

    Parameters
    ----------
    origin_ms : float
        Beginning of their life [ms since 1970 UTC].
    middle_ms : float or array
        When half of them have reached it [ms since 1970 UTC].
    log_sd : float or array
        Log standard deviation between animals [1].
    share : float
        Share, between 0 and 1 [1].

    Returns
    -------
    array
        Time [ms since 1970 UTC].

    Notes
    -----
    origin + (middle - origin) exp(z log_sd), with z the quantile of the share.

    Source
    ------
    Own choice (log-normal); no publication gives the distribution for black soldier fly.
    """
    z = NormalDist().inv_cdf(share)
    return np.asarray(origin_ms + (middle_ms - origin_ms) * np.exp(z * log_sd))


def middle_from_share(origin_ms: float, at_ms: float, log_sd: float, share: float) -> float:
    """When half of the animals reach an event, from when a share of them did; inverse of `time_of_share`."""
    return float(origin_ms + (at_ms - origin_ms) * np.exp(-NormalDist().inv_cdf(share) * log_sd))


def emergence_log_sd(log_sd: float, adult: AdultLife, life_days: Values) -> FloatArray:
    """Log standard deviation of emergence with both sexes together.

    Parameters
    ----------
    log_sd : float
        Log standard deviation within a sex [1].
    adult : AdultLife
        Share of females and lead of the males [d].
    life_days : float or array
        Time from the beginning of life to half emergence [d], above 0.

    Returns
    -------
    array
        Log standard deviation [1].

    Notes
    -----
    Variance within plus variance between two groups that lie `lead` apart; the two curves together are close
    to one log-normal as long as the lead is below the spread.

    Source
    ------
    Variance of a mixture. Lead of the males: Tomberlin, Sheppard & Joyce 2002.
    """
    return np.asarray(np.sqrt(log_sd**2 + adult.variance_between_sexes / np.asarray(life_days) ** 2))


def emerged_share(
    at_ms: FloatArray, origin_ms: float, middle_ms: FloatArray, log_sd: float, adult: AdultLife
) -> tuple[FloatArray, FloatArray]:
    """Share of the cohort that has emerged by some times, females and males apart.

    Parameters
    ----------
    at_ms : array
        Times [ms since 1970 UTC], shape (n,).
    origin_ms : float
        Beginning of their life [ms since 1970 UTC].
    middle_ms : array
        Half emergence of each possible course [ms since 1970 UTC], shape (m,).
    log_sd : float
        Log standard deviation within a sex [1].
    adult : AdultLife
        Share of females and lead of the males [d].

    Returns
    -------
    tuple of array
        Females and males as shares of all animals [1], each of shape (m, n); together they end at 1.

    Notes
    -----
    The two sexes lie around the middle so that their weighted mean stays there.

    Source
    ------
    Own choice (log-normal). Lead of the males: Tomberlin, Sheppard & Joyce 2002.
    """
    lead_ms = adult.lead_days * MS_PER_DAY
    groups = (
        (adult.female_share, (1.0 - adult.female_share) * lead_ms),
        (1.0 - adult.female_share, -adult.female_share * lead_ms),
    )
    elapsed = np.log(np.maximum(at_ms - origin_ms, 1.0))
    shares = []
    for weight, shift_ms in groups:
        middle = np.log(np.maximum(middle_ms + shift_ms - origin_ms, 1.0))
        shares.append(weight * normal_share((elapsed[None, :] - middle[:, None]) / log_sd))
    return shares[0], shares[1]


@dataclass(frozen=True, slots=True)
class CountSummary:
    """What a complete set of daily counts says: half emergence, spread within a sex, number counted."""

    half_ms: int
    log_sd: float
    counted: float


def summary_of_counts(
    day_starts_ms: FloatArray, counts: FloatArray, origin_ms: float, adult: AdultLife, least: float = 20.0
) -> CountSummary:
    """Half emergence and spread between animals from daily counts of flies.

    Parameters
    ----------
    day_starts_ms : array
        Start of each counted day, shape (days,) [ms since 1970 UTC].
    counts : array
        Flies that came out in it, shape (days,) [1], not below 0.
    origin_ms : float
        Beginning of the cohort's life [ms since 1970 UTC].
    adult : AdultLife
        Share of females and lead of the males [d].
    least : float
        Fewest animals from which a spread is estimated [1].

    Returns
    -------
    CountSummary
        Median [ms since 1970 UTC] and log standard deviation [1].

    Notes
    -----
    Moments of the logarithm, counts placed at midday, less the variance of a day's width (1/12 d²) and of the
    males' lead.

    Source
    ------
    Sheppard's correction for grouped data.
    """
    total = float(counts.sum())
    if total < least or np.any(counts < 0):
        raise UsageError(
            "{count:g} counted flies are too few to say how far a cohort spreads; {least:g} are needed",
            count=total,
            least=least,
        )
    life_days = (day_starts_ms - origin_ms) / MS_PER_DAY + 0.5
    weights = counts / total
    logs = np.log(np.maximum(life_days, 0.5))
    mean = float((weights * logs).sum())
    variance = float((weights * (logs - mean) ** 2).sum())
    variance -= (1.0 / 12.0 + adult.variance_between_sexes) / np.exp(2.0 * mean)
    half_days = float(np.interp(0.5, np.cumsum(weights) - weights / 2.0, life_days))
    return CountSummary(
        round(origin_ms + half_days * MS_PER_DAY), float(np.sqrt(max(variance, 0.01**2))), total
    )
