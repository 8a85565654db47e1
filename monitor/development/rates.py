"""How fast a stage develops at a temperature, and the parameters of a stage and of a species."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from enum import StrEnum

import numpy as np

from monitor.climate.arrays import FloatArray, IntArray, Values
from monitor.development.degree_days import Cutoff, Fall, degree_days_of_steps, effective_excess_c
from monitor.development.temperature_series import HOURS_PER_DAY
from monitor.errors import UsageError
from monitor.records import MS_PER_DAY, Stage


class DrivenBy(StrEnum):
    """Which temperature drives a stage, or which one was used."""

    AIR = "air"
    SUBSTRATE = "substrate"


@dataclass(frozen=True, slots=True)
class Logan10Shape:
    """The Logan-10 curve: rates are shares of `rate_max`, temperatures in °C, `rho_per_c` in 1/°C.

    Defaults: black soldier fly larvae, Padmanabha, Kobelski, Hempel & Streif 2020, PLoS ONE 15(9): e0239084,
    Table 3 (pooled fit to two papers' data).
    """

    rate_max: float = 1.0
    rate_base: float = 0.215
    rho_per_c: float = 0.2487
    base_c: float = 15.95
    maximum_c: float = 39.769
    delta_c: float = 3.0


@dataclass(frozen=True, slots=True)
class ThermalDeath:
    """How fast heat kills: a straight line of the logarithm of time over temperature (thermal death time).

    Half of the animals die in `halving_hours` at `reference_c`, in a tenth of that `z_c` degrees above it; at
    `from_c` and below nothing is counted. `log_sd` says how unsure the time is. The unit is a halving: after
    a dose of d the share 2 ** -d lives.

    Source: the form is the field's standard one; the numbers stand in the species files.
    """

    from_c: float
    reference_c: float
    halving_hours: float
    z_c: float
    log_sd: float = 0.0

    def __post_init__(self) -> None:
        if self.halving_hours <= 0.0 or self.z_c <= 0.0 or self.log_sd < 0.0:
            raise UsageError(
                "heat: the hours in which half of the animals die ({hours:g}) and heat_z_c ({z:g}) must be "
                "above 0, and heat_log_sd ({sd:g}) not below 0",
                hours=self.halving_hours,
                z=self.z_c,
                sd=self.log_sd,
            )


@dataclass(frozen=True, slots=True)
class RateLaw:
    """How temperature becomes development: the degree-day line with its cutoff, or a shape of its own.

    Two stages with the same law in the same place share one clock. With a shape the thresholds are not used
    and the unit of development is a day at the full rate (Logan-10) or a halving by heat (thermal death)
    instead of a degree-day. From `falls_from_c` on the line falls to zero at `maximum_c`. Animals that can
    move flee from what is hotter than `flees_above_c`; None: they cannot.
    """

    threshold_c: float
    upper_threshold_c: float | None = None
    cutoff: Cutoff = Cutoff.HORIZONTAL
    shape: Logan10Shape | ThermalDeath | None = None
    falls_from_c: float | None = None
    maximum_c: float | None = None
    flees_above_c: float | None = None

    def __post_init__(self) -> None:
        if self.upper_threshold_c is not None and self.upper_threshold_c <= self.threshold_c:
            raise UsageError(
                "upper_threshold_c is {upper:g} and must lie above threshold_c ({lower:g})",
                upper=self.upper_threshold_c,
                lower=self.threshold_c,
            )
        start_c, end_c = self.falls_from_c, self.maximum_c
        if start_c is not None and end_c is not None and start_c >= end_c:
            raise UsageError(
                "falls_from_c is {start:g} and must lie below maximum_c ({end:g})", start=start_c, end=end_c
            )

    @property
    def fall(self) -> Fall | None:
        """Where the rate begins to fall and where it is zero [°C]; None where it never falls.

        It falls from the height of a horizontal cutoff, and not before an upper threshold set higher.
        """
        upper_c, start_c, end_c = self.upper_threshold_c, self.falls_from_c, self.maximum_c
        if upper_c is None or start_c is None or end_c is None or self.cutoff is not Cutoff.HORIZONTAL:
            return None
        return (max(start_c, upper_c), end_c) if upper_c < end_c else None


@dataclass(frozen=True, slots=True)
class StageParameters:
    """One stage: its law, its thermal constant (degree-days, or days with a shape), and what drives it.

    `log_sd` is the standard deviation of ln K for a farm that is not known yet, `log_sd_above` the one above
    the median where published times lie further off to that side. `survival` is the range of the share that
    lives to the end of the stage. A stage that would last beyond `longest_days` is not believed to end.
    """

    stage: Stage
    law: RateLaw
    thermal_constant: float
    log_sd: float
    driven_by: DrivenBy = DrivenBy.AIR
    survival: tuple[float, float] = (1.0, 1.0)
    mark: str = "choice"
    log_sd_above: float | None = None
    longest_days: float = float("inf")

    @property
    def log_sds(self) -> tuple[float, float]:
        """Standard deviation of ln K below and above its median [1]."""
        return self.log_sd, self.log_sd if self.log_sd_above is None else self.log_sd_above

    def __post_init__(self) -> None:
        if self.thermal_constant <= 0.0 or self.log_sd < 0.0:
            raise UsageError(
                "stage {stage}: thermal constant {constant:g} must be above 0 "
                "and its log-sd {sd:g} not below 0",
                stage=self.stage,
                constant=self.thermal_constant,
                sd=self.log_sd,
            )


@dataclass(frozen=True, slots=True)
class AdultLife:
    """Adults: share of females, lead of the males, days of life, eggs a female.

    `female_share_sd` and the range of `male_lead_days` hold what sources disagree about. `own_origin_share`
    is where the emergence has its own origin (`EmergenceSpread`); `laying_variation` the coefficient of
    variation of the time from emergence to the eggs of one female.
    """

    female_share: float = 0.5
    female_share_sd: float = 0.0
    male_lead_days: tuple[float, float] = (0.0, 0.0)
    male_life_days: float = 10.0
    female_life_days: float = 10.0
    life_variation: float = 0.3
    eggs_per_female: tuple[float, float] = (0.0, 0.0)
    eggs_per_gram: float | None = None
    own_origin_share: float = 0.0
    laying_variation: float = 0.0

    @property
    def lead_days(self) -> float:
        """Mean lead of the males [d]."""
        return sum(self.male_lead_days) / 2.0

    @property
    def lead_sd_days(self) -> float:
        """Standard deviation of the lead over its range [d]: any value in it is as likely."""
        return (self.male_lead_days[1] - self.male_lead_days[0]) / math.sqrt(12.0)

    @property
    def variance_between_sexes(self) -> float:
        """Variance of emergence that the lead of the males adds [d²]."""
        return self.female_share * (1.0 - self.female_share) * self.lead_days**2


@dataclass(frozen=True, slots=True)
class SpeciesLimits:
    """What is believable of what a person writes down; None where no figure is known.

    The two shares are of the fastest time at the best temperature: an event sooner than that is asked, or
    refused.
    """

    most_eggs_per_female: float | None = None
    heaviest_female_mg: float | None = None
    heaviest_larva_mg: float | None = None
    most_eggs_grams: float | None = None
    most_larvae_per_cm2: float | None = None
    soonest_share_asked: float = 0.0
    soonest_share_refused: float = 0.0


@dataclass(frozen=True, slots=True)
class SpeciesParameters:
    """All that development needs of a species; `stages` in the order in which the animal passes them.

    `individual_variation` is the coefficient of variation of development time between animals of one cohort,
    `spread_log_sd` how far that itself differs between boxes of flies (log-sd), and `cohort_log_sd` the
    standard deviation of ln K between cohorts of one farm. `death` says how fast heat kills; without it only
    the hours above `heat_damage_c` are counted.
    """

    name: str
    stages: tuple[StageParameters, ...]
    adult: AdultLife = field(default_factory=AdultLife)
    individual_variation: float = 0.08
    spread_log_sd: float = 0.0
    cohort_log_sd: float = 0.08
    heat_damage_c: float = 35.0
    heat_failure_hours: float = 24.0
    heat_stages: tuple[Stage, ...] = (Stage.EGG, Stage.LARVA, Stage.PREPUPA, Stage.PUPA)
    limits: SpeciesLimits = field(default_factory=SpeciesLimits)
    death: ThermalDeath | None = None

    def index_of(self, stage: Stage) -> int:
        """Position of a stage; UsageError names the stages that the species has."""
        for index, parameters in enumerate(self.stages):
            if parameters.stage is stage:
                return index
        known = ", ".join(parameters.stage for parameters in self.stages)
        raise UsageError(
            "{species} has no stage {stage}; its stages are {known}",
            species=self.name,
            stage=stage,
            known=known,
        )

    def has(self, stage: Stage) -> bool:
        """True when the species passes this stage."""
        return stage in [parameters.stage for parameters in self.stages]


def logan10_rate(temperature_c: Values, shape: Logan10Shape) -> FloatArray:
    """Relative development rate of the Logan-10 curve.

    Parameters
    ----------
    temperature_c : float or array
        Temperature [°C].
    shape : Logan10Shape
        Its six parameters.

    Returns
    -------
    array
        Rate [1], 0 above `maximum_c` and never below 0.

    Notes
    -----
    r = r_max (1 / (1 + c exp(-rho (T - T_base))) - exp(-(T_max - T) / delta)), where c makes r(T_base) equal
    to r_base.

    Source
    ------
    Padmanabha, Kobelski, Hempel & Streif 2020, PLoS ONE 15(9): e0239084, Table 3 for the parameters; the form
    is the standard Logan-10, as the equation itself was not in the copy that was read.
    """
    temperature = np.asarray(temperature_c, dtype=np.float64)
    below = np.minimum(temperature, shape.maximum_c)
    steepness = 1.0 / (shape.rate_base / shape.rate_max + _heat_term(shape.base_c, shape)) - 1.0
    growth = 1.0 / (1.0 + steepness * np.exp(-shape.rho_per_c * (below - shape.base_c)))
    rate = shape.rate_max * (growth - _heat_term(below, shape))
    return np.where(temperature > shape.maximum_c, 0.0, np.maximum(rate, 0.0))


def _heat_term(temperature_c: Values, shape: Logan10Shape) -> Values:
    return np.exp(-(shape.maximum_c - temperature_c) / shape.delta_c)


def units_per_day(temperature_c: Values, law: RateLaw) -> FloatArray:
    """Development earned in a day at a constant temperature [°C, or 1 for a shape].

    The rate of a stage, per day, is this divided by its thermal constant. See `effective_excess_c`,
    `logan10_rate` and `halvings_per_day`.
    """
    if isinstance(law.shape, ThermalDeath):
        return halvings_per_day(temperature_c, law.shape)
    if law.shape is not None:
        return logan10_rate(temperature_c, law.shape)
    return effective_excess_c(temperature_c, law.threshold_c, law.upper_threshold_c, law.cutoff, law.fall)


def units_of_steps(times_ms: IntArray, temperatures_c: FloatArray, law: RateLaw) -> FloatArray:
    """Development earned between each of n readings and the next, shape (n - 1,) [°C d, or d for a shape].

    The degree-day line and thermal death are integrated exactly (`degree_days_of_steps`,
    `halvings_of_steps`), a Logan-10 shape by the trapezoid of its rate: off by at most 0.01 of the full rate
    times the square of the step in °C, next to its maximum.
    """
    if isinstance(law.shape, ThermalDeath):
        return halvings_of_steps(times_ms, temperatures_c, law.shape)
    if law.shape is None:
        return degree_days_of_steps(
            times_ms, temperatures_c, law.threshold_c, law.upper_threshold_c, law.cutoff, law.fall
        )
    rate = logan10_rate(temperatures_c, law.shape)
    return np.asarray((rate[1:] + rate[:-1]) * np.diff(times_ms) * (0.5 / MS_PER_DAY))


def halvings_per_day(temperature_c: Values, death: ThermalDeath) -> FloatArray:
    """How often the animals are halved by heat in a day at a constant temperature [1/d].

    24 / halving_hours * 10 ** ((T - reference) / z) above `from_c`, else 0; see `ThermalDeath`.
    """
    temperature = np.asarray(temperature_c, dtype=np.float64)
    rate = HOURS_PER_DAY / death.halving_hours * np.exp(_steepness(death) * (temperature - death.reference_c))
    return np.where(temperature > death.from_c, rate, 0.0)


def halvings_of_steps(times_ms: IntArray, temperatures_c: FloatArray, death: ThermalDeath) -> FloatArray:
    """Halvings by heat between each of n readings and the next, shape (n - 1,) [1].

    Exact for a temperature that is a straight line between readings: the mean of an exponential over the part
    of the line above `from_c`.
    """
    days = np.diff(times_ms) * (1.0 / MS_PER_DAY)
    if not len(days) or not temperatures_c.max() > death.from_c:
        return np.zeros(len(days))
    high = np.maximum(temperatures_c[1:], temperatures_c[:-1])
    low = np.minimum(temperatures_c[1:], temperatures_c[:-1])
    flat = high - low < 1e-6
    above = np.clip((high - death.from_c) / np.where(flat, 1.0, high - low), 0.0, 1.0)
    share = np.where(flat, high > death.from_c, above)
    span = _steepness(death) * (high - np.maximum(low, death.from_c))
    even = span < 1e-6
    mean = np.where(even, 1.0, -np.expm1(-np.maximum(span, 0.0)) / np.where(even, 1.0, span))
    return np.asarray(halvings_per_day(high, death) * mean * share * days)


def _steepness(death: ThermalDeath) -> float:
    """Slope of the natural logarithm of the rate of killing [1/°C]."""
    return float(np.log(10.0) / death.z_c)
