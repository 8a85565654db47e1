"""The events of a cohort that a person can see, and how the animals of a cohort spread around them.

The time from the beginning of life to an event is log-normal between the animals of a cohort; of emergence it
is counted from an own origin, since the last flies lie further from the middle ones than the first do.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from statistics import NormalDist

import numpy as np

from monitor.climate.arrays import FloatArray, IntArray, Values
from monitor.development.rates import AdultLife, SpeciesParameters
from monitor.errors import UsageError
from monitor.records import MS_PER_DAY, Stage

FIRST_SHARE = 0.01
"""Share of the animals that counts as the first of them [1]. Own choice: the first few that are noticed."""
QUARTILE_Z = 0.6744898
"""Upper quartile of a standard normal [1]."""
COUNT_ROUNDS = 6
MOST_TO_COME = 0.2
"""Largest share of the flies that is believed to come after the last counted day [1]. Own choice."""


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


TABLE_Z, TABLE_PER_Z = 6, 400
"""How far the table of the normal distribution reaches on both sides, and its points for each unit [1]."""


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
    """An event that was seen, and how sure the day is: `sd_days` is one standard deviation [d].

    `share` is the share of the animals that was seen where it is known, else that of the event: the first fly
    of a thousand comes before the first of a hundred.
    """

    event: Event
    at_ms: int
    sd_days: float = 0.5
    share: float | None = None

    @property
    def share_seen(self) -> float:
        """Share of the animals for which the day stands [1]."""
        return EVENTS[self.event].share if self.share is None else self.share

    def __post_init__(self) -> None:
        if self.sd_days <= 0.0:
            raise UsageError(
                "how sure the day is must be above 0 days, not {days:g}; half a day is usual",
                days=self.sd_days,
            )


def ended_stage(event: Event, species: SpeciesParameters) -> int | None:
    """Index into `species.stages` of the stage whose end the event is; None if there is no such event."""
    begins = EVENTS[event].begins
    wanted, before = (Stage.ADULT, 0) if begins is None else (begins, 1)
    for index, parameters in enumerate(species.stages):
        if parameters.stage is wanted:
            return index - before if index >= before else None
    return None


def events_of(species: SpeciesParameters) -> tuple[Event, ...]:
    """Events that this species has, in order; a cricket, for example, has no prepupae."""
    return tuple(event for event in Event if ended_stage(event, species) is not None)


def event_at_ms(
    event: Event,
    species: SpeciesParameters,
    origin_ms: float,
    ends_ms: FloatArray,
    flies: EmergenceSpread,
    log_sd: float,
    share: float | None = None,
) -> FloatArray:
    """When an event of a cohort happens, from the ends of its stages.

    Parameters
    ----------
    event : Event
        One that the species has.
    species : SpeciesParameters
        Its stages.
    origin_ms : float
        Beginning of the animals' life [ms since 1970 UTC].
    ends_ms : array
        Ends of the stages of the middle animal, shape (stages, courses) [ms since 1970 UTC].
    flies : EmergenceSpread
        How the flies come out, of all courses or of each.
    log_sd : float
        Log standard deviation between animals before they are flies [1].
    share : float or None
        Share of the animals [1]; None takes that of the event.

    Returns
    -------
    array
        Shape (courses,) [ms since 1970 UTC].

    Notes
    -----
    First eggs come one female's lag after the first females, not after half emergence. Nothing was published
    of how far prepupae and pupae of a box lie apart: they keep the plain log-normal.

    Source
    ------
    Own choice.
    """
    index, share = ended_stage(event, species) or 0, EVENTS[event].share if share is None else share
    middle_ms: FloatArray = ends_ms[index]
    if EVENTS[event].begins is None:
        return _first_eggs_ms(origin_ms, middle_ms, ends_ms[index - 1] if index else middle_ms, flies)
    if share == 0.5:
        return middle_ms
    if EVENTS[event].begins is Stage.ADULT:
        return flies.time_of_share(origin_ms, middle_ms, share)
    return time_of_share(origin_ms, middle_ms, log_sd, share)


def _first_eggs_ms(
    origin_ms: float, laid_ms: FloatArray, half_ms: FloatArray, flies: EmergenceSpread
) -> FloatArray:
    """First females and their lag; of flies that were put in, whose emergence is not known, the lag alone."""
    known = np.isfinite(half_ms)
    half = np.where(known, half_ms, origin_ms)
    lag_ms = laid_ms - half
    return np.where(known, flies.females_out(origin_ms, half, FIRST_SHARE) + lag_ms, laid_ms)


def normal_share(z: Values) -> FloatArray:
    """Share of a standard normal distribution below z [1], from a table with an error below 1e-6."""
    place = (np.clip(z, -TABLE_Z, TABLE_Z) + TABLE_Z) * TABLE_PER_Z
    index = place.astype(np.int64)
    shares, rises = _normal_table()
    return np.asarray(shares.take(index) + (place - index) * rises.take(index))


@cache
def _normal_table() -> tuple[FloatArray, FloatArray]:
    """Shares below evenly spaced z, and how far each rises to the next; made when first asked for."""
    z = np.linspace(-TABLE_Z, TABLE_Z, 2 * TABLE_Z * TABLE_PER_Z + 1)
    shares = np.array([NormalDist().cdf(each) for each in z.tolist()])
    return shares, np.append(np.diff(shares), 0.0)


def log_sd_of(variation: float) -> float:
    """Log standard deviation sqrt(ln(1 + cv²)) of a log-normal with a coefficient of variation [1]."""
    return float(np.sqrt(np.log1p(variation**2)))


def own_log_sd(log_sd: Values, own_origin_share: float) -> FloatArray:
    """Log standard deviation counted from an own origin that keeps the middle half of the animals.

    Parameters
    ----------
    log_sd : float or array
        Log standard deviation of the plain log-normal, from the beginning of life [1].
    own_origin_share : float
        Share of the time to the middle animal at which the own origin lies, 0 up to below 1 [1].

    Returns
    -------
    array
        Log standard deviation from the own origin [1]; `log_sd` itself where that is the beginning of life.

    Notes
    -----
    The quartiles of exp(z s) lie 2 sinh(0.6745 s) apart, in units of the time since the origin.

    Source
    ------
    Quantiles of a log-normal; the own origin is our own choice, see `EmergenceSpread`.
    """
    if own_origin_share == 0.0:
        return np.asarray(log_sd, dtype=np.float64)
    half_width = np.sinh(QUARTILE_Z * np.asarray(log_sd))
    return np.asarray(np.arcsinh(half_width / (1.0 - own_origin_share)) / QUARTILE_Z)


@dataclass(frozen=True, slots=True, eq=False)
class EmergenceSpread:
    """How the flies of a cohort come out around half emergence: of one course, or arrays over courses.

    The time to emergence is log-normal, counted from an own origin at `own_origin_share` of the time from the
    beginning of life to half emergence (0: from the beginning of life). `log_sd` is that from the own origin,
    within a sex (`own_log_sd`); `lead_days` the lead of the males.

    Source: own choice of the form. In the open counts of ReproLab's common garden (48 boxes) the first of
    some 59 flies came 1.4 robust standard deviations before the middle one, and one in twenty more than 4
    after it; a log-normal from the beginning of life has 2.2 and 1.8.
    """

    log_sd: Values
    female_share: Values
    lead_days: Values
    own_origin_share: float = 0.0

    def of_courses(self, numbers: IntArray | slice) -> EmergenceSpread:
        """The spread of some of the courses; a figure that all share stays as it is."""
        log_sd, female_share, lead_days = (
            each if np.ndim(each) == 0 else np.asarray(each)[numbers]
            for each in (self.log_sd, self.female_share, self.lead_days)
        )
        return EmergenceSpread(log_sd, female_share, lead_days, self.own_origin_share)

    def time_of_share(self, origin_ms: float, middle_ms: Values, share: float) -> FloatArray:
        """When a share of the flies is out, both sexes together [ms since 1970 UTC].

        As one curve (`emergence_log_sd`); of the first flies not later than males alone would be, since most
        of the first are males. Within 0.25 d of the two curves together for leads up to 2 d.
        """
        female, own = self.female_share, self.own_origin_share
        own_days = np.maximum((1.0 - own) * (np.asarray(middle_ms) - origin_ms) / MS_PER_DAY, 1.0)
        between = female * (1.0 - np.asarray(female)) * np.square(self.lead_days / own_days)
        both = _time_of_share(origin_ms, middle_ms, np.sqrt(np.square(self.log_sd) + between), share, own)
        males = float(1.0 - np.mean(female))
        if share >= min(0.5, males):
            return both
        males_ms = middle_ms - np.asarray(female) * self.lead_days * MS_PER_DAY
        return np.minimum(both, _time_of_share(origin_ms, males_ms, self.log_sd, share / males, own))

    def females_out(self, origin_ms: float, middle_ms: Values, share: float) -> FloatArray:
        """When a share of the females is out [ms since 1970 UTC]."""
        later_ms = (1.0 - np.asarray(self.female_share)) * self.lead_days * MS_PER_DAY
        return _time_of_share(origin_ms, middle_ms + later_ms, self.log_sd, share, self.own_origin_share)

    def emerged_share(
        self, at_ms: FloatArray, origin_ms: float, middle_ms: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Females and males that are out by some times, as shares of all animals; see `emerged_share`."""
        female, lead_ms = np.asarray(self.female_share), np.asarray(self.lead_days) * MS_PER_DAY
        groups = ((female, (1.0 - female) * lead_ms), (1.0 - female, -female * lead_ms))
        shares = []
        for weight, shift_ms in groups:
            life_ms = np.maximum(middle_ms + shift_ms - origin_ms, 1.0)
            own_ms = origin_ms + self.own_origin_share * life_ms
            since = np.maximum(at_ms[None, :] - np.reshape(own_ms, (-1, 1)), 1.0)
            middle = np.log((1.0 - self.own_origin_share) * life_ms)
            z = (np.log(since) - np.reshape(middle, (-1, 1))) / np.reshape(self.log_sd, (-1, 1))
            shares.append(np.reshape(weight, (-1, 1)) * normal_share(z))
        return shares[0], shares[1]


def spread_of(log_sd: Values, adult: AdultLife) -> EmergenceSpread:
    """The spread of emergence with the middle figures of a species; `log_sd` of the plain log-normal."""
    own = own_log_sd(log_sd, adult.own_origin_share)
    return EmergenceSpread(own, adult.female_share, adult.lead_days, adult.own_origin_share)


def time_of_share(
    origin_ms: float, middle_ms: Values, log_sd: Values, share: float, own_origin_share: float = 0.0
) -> FloatArray:
    """When a share of the animals has reached an event.

    Parameters
    ----------
    origin_ms : float
        Beginning of their life [ms since 1970 UTC].
    middle_ms : float or array
        When half of them have reached it [ms since 1970 UTC].
    log_sd : float or array
        Log standard deviation between animals, of the plain log-normal [1].
    share : float
        Share, between 0 and 1 [1].
    own_origin_share : float
        Where the own origin lies, 0 for the plain log-normal [1]; see `EmergenceSpread`.

    Returns
    -------
    array
        Time [ms since 1970 UTC].

    Notes
    -----
    origin + (middle - origin) (o + (1 - o) exp(z s)), with z the quantile of the share, o the own origin and
    s its log standard deviation (`own_log_sd`).

    Source
    ------
    Own choice; no publication gives the distribution for black soldier fly.
    """
    own = own_log_sd(log_sd, own_origin_share)
    return _time_of_share(origin_ms, middle_ms, own, share, own_origin_share)


def _time_of_share(
    origin_ms: float, middle_ms: Values, log_sd: Values, share: float, own_origin_share: float
) -> FloatArray:
    """As `time_of_share`, with the log standard deviation from the own origin."""
    return np.asarray(origin_ms + (middle_ms - origin_ms) * _share_of_middle(log_sd, share, own_origin_share))


def _share_of_middle(log_sd: Values, share: float, own_origin_share: float) -> FloatArray:
    """The time of a share of the animals as a share of that of the middle one [1]."""
    from_own = np.exp(NormalDist().inv_cdf(share) * np.asarray(log_sd))
    return np.asarray(own_origin_share + (1.0 - own_origin_share) * from_own)


def middle_from_share(
    origin_ms: float, at_ms: float, log_sd: float, share: float, own_origin_share: float = 0.0
) -> float:
    """When half of the animals reach an event, from when a share of them did; inverse of `time_of_share`."""
    own = own_log_sd(log_sd, own_origin_share)
    return float(origin_ms + (at_ms - origin_ms) / _share_of_middle(own, share, own_origin_share))


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
        Share of females, lead of the males [d], own origin of the emergence.

    Returns
    -------
    tuple of array
        Females and males as shares of all animals [1], each of shape (m, n); together they end at 1.

    Notes
    -----
    The two sexes lie around the middle so that their weighted mean stays there.

    Source
    ------
    Own choice (`EmergenceSpread`). Lead of the males: see the species file.
    """
    return spread_of(log_sd, adult).emerged_share(at_ms, origin_ms, middle_ms)


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
        Share of females, lead of the males [d], own origin of the emergence.
    least : float
        Fewest animals from which a spread is estimated [1].

    Returns
    -------
    CountSummary
        Median [ms since 1970 UTC] and log standard deviation of the plain log-normal [1].

    Notes
    -----
    From the quartiles, so that a tail of stragglers counts by its number and not by its length; flies of a
    day are spread over it. Of the variance that of the males' lead is taken off. Flies that come after the
    last counted day are allowed for by the share that this spread itself puts there, up to `MOST_TO_COME`.

    Source
    ------
    Quartiles of a log-normal (`own_log_sd`); own choice.
    """
    total = float(counts.sum())
    if total < least or np.any(counts < 0):
        raise UsageError(
            "{count:g} counted flies are too few to say how far a cohort spreads; {least:g} are needed",
            count=total,
            least=least,
        )
    order = np.argsort(day_starts_ms)
    life_days = (day_starts_ms[order] - origin_ms) / MS_PER_DAY
    came = 1.0
    for _ in range(COUNT_ROUNDS):
        early, half, late = _quartiles(life_days, counts[order], came)
        variance = _plain_log_sd(early, half, late) ** 2 - adult.variance_between_sexes / half**2
        log_sd = float(np.sqrt(max(variance, 0.01**2)))
        counted_ms, half_ms = (life_days[-1:] + 1.0) * MS_PER_DAY, np.array([half * MS_PER_DAY])
        females, males = emerged_share(counted_ms, 0.0, half_ms, log_sd, adult)
        came = max(float(females[0, 0] + males[0, 0]), 1.0 - MOST_TO_COME)
    return CountSummary(round(origin_ms + half * MS_PER_DAY), log_sd, total)


def _quartiles(life_days: FloatArray, counts: FloatArray, came: float) -> tuple[float, float, float]:
    """Ages at which a quarter, half and three quarters of all flies are out [d]; `came` were counted [1]."""
    starts = np.append(life_days, life_days[-1] + 1.0)
    ends = np.minimum(life_days + 1.0, starts[1:])
    edges = np.ravel(np.column_stack([life_days, ends]))
    before = np.append(0.0, np.cumsum(counts)) / counts.sum() * came
    shares = np.ravel(np.column_stack([before[:-1], before[1:]]))
    early, half, late = np.interp((0.25, 0.5, 0.75), shares, edges)
    return float(early), float(half), float(late)


def _plain_log_sd(early: float, half: float, late: float) -> float:
    """Log standard deviation of the plain log-normal whose quartiles lie so far apart [1]."""
    return float(np.arcsinh((late - early) / (2.0 * half)) / QUARTILE_Z)
