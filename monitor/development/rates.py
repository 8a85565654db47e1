"""How fast a stage develops at a temperature, and the parameters of a stage and of a species."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

import numpy as np

from monitor.climate.arrays import FloatArray, IntArray, Values
from monitor.development.degree_days import Cutoff, degree_days_of_steps, effective_excess_c
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
class RateLaw:
    """How temperature becomes development: the degree-day line with its cutoff, or a Logan-10 shape.

    Two stages with the same law in the same place share one clock. With a shape the thresholds are not used
    and the unit of development is a day at the full rate instead of a degree-day.
    """

    threshold_c: float
    upper_threshold_c: float | None = None
    cutoff: Cutoff = Cutoff.HORIZONTAL
    shape: Logan10Shape | None = None

    def __post_init__(self) -> None:
        if self.upper_threshold_c is not None and self.upper_threshold_c <= self.threshold_c:
            raise UsageError(
                "upper_threshold_c is {upper:g} and must lie above threshold_c ({lower:g})",
                upper=self.upper_threshold_c,
                lower=self.threshold_c,
            )


@dataclass(frozen=True, slots=True)
class StageParameters:
    """One stage: its law, its thermal constant (degree-days, or days with a shape), and what drives it.

    `log_sd` is the standard deviation of ln K for a farm that is not known yet. `survival` is the range of
    the share that lives to the end of the stage.
    """

    stage: Stage
    law: RateLaw
    thermal_constant: float
    log_sd: float
    driven_by: DrivenBy = DrivenBy.AIR
    survival: tuple[float, float] = (1.0, 1.0)
    mark: str = "choice"

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
    """Adults: share of females, lead of the males, days of life, eggs a female."""

    female_share: float = 0.5
    male_lead_days: tuple[float, float] = (0.0, 0.0)
    male_life_days: float = 10.0
    female_life_days: float = 10.0
    life_variation: float = 0.3
    eggs_per_female: tuple[float, float] = (0.0, 0.0)
    eggs_per_gram: float | None = None

    @property
    def lead_days(self) -> float:
        """Mean lead of the males [d]."""
        return sum(self.male_lead_days) / 2.0

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
    `cohort_log_sd` the standard deviation of ln K between cohorts of one farm.
    """

    name: str
    stages: tuple[StageParameters, ...]
    adult: AdultLife = field(default_factory=AdultLife)
    individual_variation: float = 0.08
    cohort_log_sd: float = 0.08
    heat_damage_c: float = 35.0
    heat_failure_hours: float = 24.0
    heat_stages: tuple[Stage, ...] = (Stage.LARVA, Stage.PREPUPA, Stage.PUPA)
    limits: SpeciesLimits = field(default_factory=SpeciesLimits)

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
        return any(parameters.stage is stage for parameters in self.stages)


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

    The rate of a stage, per day, is this divided by its thermal constant. See `effective_excess_c` and
    `logan10_rate`.
    """
    if law.shape is not None:
        return logan10_rate(temperature_c, law.shape)
    return effective_excess_c(temperature_c, law.threshold_c, law.upper_threshold_c, law.cutoff)


def units_of_steps(times_ms: IntArray, temperatures_c: FloatArray, law: RateLaw) -> FloatArray:
    """Development earned between each of n readings and the next, shape (n - 1,) [°C d, or d for a shape].

    The degree-day line is integrated exactly (`degree_days_of_steps`), a shape by the trapezoid of its rate.
    """
    if law.shape is None:
        return degree_days_of_steps(
            times_ms, temperatures_c, law.threshold_c, law.upper_threshold_c, law.cutoff
        )
    rate = logan10_rate(temperatures_c, law.shape)
    return np.asarray((rate[1:] + rate[:-1]) * np.diff(times_ms) * (0.5 / MS_PER_DAY))
