"""What a bin holds: its substrate, its larvae, and its limits of moisture (water over wet mass)."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

import numpy as np

from monitor.bins.energy_balance import SIDE_LOSS_W_M2_K
from monitor.bins.evaporation import Cover
from monitor.bins.growth import (
    FEED_OF_UNKNOWN_KG,
    GROWTH_PER_DAY,
    MG_PER_KG,
    MOST_UNKNOWN_PER_M2,
    PEAK_MG,
    USUAL_PER_DAY,
    usual_mass_mg,
)
from monitor.climate.arrays import FloatArray, IntArray, Value, logarithm, require
from monitor.climate.psychrometrics import SEA_LEVEL_PRESSURE_PA
from monitor.errors import UsageError
from monitor.records import MS_PER_DAY

WHEAT_A, WHEAT_B, WHEAT_C = 610.34, 0.15526, 93.213
"""Chung-Pfost constants of wheat, a proxy: none of wheat bran were found. Source: Storage of Cereal Grains
and Their Products, 5th ed., p. 272, as quoted in public code."""

DRIEST_PERCENT, WETTEST_PERCENT = 5.0, 95.0
"""Air beyond these counts as these [%RH]: the fit ends there. Source: own choice."""


@dataclass(frozen=True, slots=True)
class MoistureBands:
    """Limits of moisture [ratio, wet basis], rising from `dry_limit` to `wet_limit`."""

    dry_limit: float = 0.45
    dry_warning: float = 0.55
    target_low: float = 0.60
    target_high: float = 0.75
    wet_warning: float = 0.80
    wet_limit: float = 0.85

    @property
    def target(self) -> float:
        """Middle of the target [ratio]."""
        return (self.target_low + self.target_high) / 2.0


class Zone(StrEnum):
    """Where a moisture stands among the bands."""

    TOO_DRY = "too_dry"
    DRY = "dry"
    RIGHT = "right"
    WET = "wet"
    TOO_WET = "too_wet"


def zone_of(moisture: float, bands: MoistureBands) -> Zone:
    """The zone of a moisture [ratio, wet basis]; a limit itself still counts as inside."""
    if moisture < bands.dry_limit:
        return Zone.TOO_DRY
    if moisture < bands.dry_warning:
        return Zone.DRY
    if moisture <= bands.wet_warning:
        return Zone.RIGHT
    return Zone.WET if moisture <= bands.wet_limit else Zone.TOO_WET


@dataclass(frozen=True, slots=True)
class SubstrateParameters:
    """Numbers of one substrate, see `monitor/substrates/*.toml` for their sources.

    `taper_from_moisture` is where the rate begins to fall for want of free water; `carbon_dioxide` figures
    are by kilogram of CO2; `edible_share` is what of the dry feed larvae and microbes take, `peak_mg` and
    `growth_per_day` how larvae grow on it where it is warm. A farm that measured the heat of its own bins
    gives (days of larval life, W/m²) in `heat_by_age`: that stands in place of what animals make. The last
    four say what is believable of an entry: mass by volume [kg/m³], depths [m] beyond which it is asked or
    refused, moisture.
    """

    name: str = "wheat_bran"
    bands: MoistureBands = MoistureBands()
    hatching_bands: MoistureBands = MoistureBands(0.55, 0.60, 0.65, 0.75, 0.80, 0.85)
    bran_moisture: float = 0.12
    wet_share_fresh: float = 1.0
    wet_share_crusted: float = 0.5
    crust_hours: float = 48.0
    taper_from_moisture: float = 0.35
    larva_moisture: float = 0.70
    heat_by_age: tuple[tuple[float, float], ...] = ()
    peak_mg: float = PEAK_MG
    growth_per_day: float = GROWTH_PER_DAY
    edible_share: float = 0.62
    heat_j_kg_carbon_dioxide: float = 12.0e6
    dry_kg_carbon_dioxide: float = 0.81
    water_kg_carbon_dioxide: float = 0.341
    core_conductivity_w_m_k: float = 1.0
    heaviest_kg_m3: float = 1000.0
    usual_depth_m: float = 0.3
    deepest_m: float = 1.0
    most_water: float = 0.92


@dataclass(frozen=True, slots=True)
class Larvae:
    """Larvae put in at once: how many (0: nobody counted them), their age, and their mass where it is known.

    `start_mg` None: that of usual larvae of this age; `final_mg` None: the peak of the substrate;
    `growth_days`: in how many warm days with enough feed they come to 95 % of it, None for the usual rate.
    `share` is what is left of them after some were taken out [1].
    """

    count: float
    since_ms: int
    age_days: float = 5.0
    start_mg: float | None = None
    final_mg: float | None = None
    growth_days: float | None = None
    share: float = 1.0

    @property
    def number(self) -> float:
        """How many are left [1]; 0 where nobody counted them."""
        return self.count * self.share

    def peak_mg(self, usual_mg: float = PEAK_MG) -> float:
        """Their mass at the peak [mg]."""
        return usual_mg if self.final_mg is None else self.final_mg

    def first_mg(self, usual_mg: float = PEAK_MG) -> float:
        """Their mass when they were put in [mg]."""
        peak = self.peak_mg(usual_mg)
        return float(usual_mass_mg(self.age_days, peak)) if self.start_mg is None else self.start_mg

    def rate_per_day(self, usual: float = GROWTH_PER_DAY, usual_mg: float = PEAK_MG) -> float:
        """Rate of their logistic curve where it is warm [1/d]."""
        apart = self.peak_mg(usual_mg) / self.first_mg(usual_mg) - 1.0
        if self.growth_days is None or apart <= 0.0:
            return usual
        return max(math.log(19.0 * apart), 0.0) / self.growth_days


@dataclass(frozen=True, slots=True)
class BinFacts:
    """A bin as it was filled. `probe_depth_m` None: no probe; up to 0.02 m it measures the surface itself."""

    surface_m2: float
    filled_ms: int
    wet_kg: float
    moisture: float
    moisture_sd: float = 0.03
    cover: Cover = Cover.OPEN
    fan: bool = False
    probe_depth_m: float | None = None
    larvae: Larvae | None = None
    pressure_pa: float = SEA_LEVEL_PRESSURE_PA
    side_loss_w_m2_k: float = SIDE_LOSS_W_M2_K
    substrate: SubstrateParameters = SubstrateParameters()


def larvae_kg(larvae: Larvae | None, times_ms: IntArray) -> FloatArray:
    """Fresh mass of larvae that grow as usual, warm and with enough feed, at times, shape (n,) [kg].

    0 before they were put in. m = A/(1 + (A/m0 - 1) exp(-k t)); for a bin with its own warmth and feed see
    `growth.Brood`. Source: see `USUAL_MG` and `PEAK_MG`.
    """
    if larvae is None:
        return np.zeros(len(times_ms))
    days = (times_ms - larvae.since_ms) / MS_PER_DAY
    apart = max(larvae.peak_mg() / larvae.first_mg() - 1.0, 0.0)
    grown = np.exp(-larvae.rate_per_day(USUAL_PER_DAY) * np.maximum(days, 0.0))
    mass_mg = max(larvae.peak_mg(), larvae.first_mg()) / (1.0 + apart * grown)
    return np.asarray(np.where(days >= 0.0, larvae.number * mass_mg / MG_PER_KG, 0.0))


def number_of(larvae: Larvae, dry_feed_kg: float, surface_m2: float) -> float:
    """How many larvae make heat: those that were counted, else as many as the feed was put in for.

    Source: own choice, see `FEED_OF_UNKNOWN_KG`.
    """
    if larvae.count > 0.0:
        return larvae.number
    guessed = min(dry_feed_kg / FEED_OF_UNKNOWN_KG, MOST_UNKNOWN_PER_M2 * surface_m2)
    return larvae.share * guessed


def heat_by_table_w_m2(larvae: Larvae | None, table: Sequence[tuple[float, float]], at_ms: int) -> float:
    """Heat by a farm's own table of (days of larval life, W/m²) at a time; 0 before larvae were put in."""
    if larvae is None or at_ms < larvae.since_ms:
        return 0.0
    ages, heat = zip(*table, strict=True)
    age_days = (at_ms - larvae.since_ms) / MS_PER_DAY + larvae.age_days
    return larvae.share * float(np.interp(age_days, ages, heat))


def moisture_in_balance(temperature_c: Value, relative_humidity_percent: Value) -> Value:
    """Moisture at which dry feed neither takes up nor gives off water [ratio, wet basis].

    M = -ln(-(T + C) ln(RH/100)/A)/B % dry basis; m = M/(100 + M). Temperature 0 to 50 °C; relative humidity
    below 5 and above 95 % counts as these. Source: Chung and Pfost 1967 inverted; constants see `WHEAT_A`.
    """
    share = np.clip(relative_humidity_percent, DRIEST_PERCENT, WETTEST_PERCENT) / 100.0
    log_share: Value = np.log(share)
    dry_basis = -logarithm(-(temperature_c + WHEAT_C) * log_share / WHEAT_A) / WHEAT_B
    return dry_basis / (100.0 + dry_basis)


class Mixture(NamedTuple):
    """Materials put together: wet mass [kg] and moisture [ratio]."""

    kg: float
    moisture: float


def mixture(materials: Iterable[tuple[float, float]]) -> Mixture:
    """Put materials together: wet mass [kg] and moisture [ratio, wet basis] of each; water has moisture 1.

    A UsageError where there is nothing at all. m = sum(kg m)/sum(kg).
    """
    total = water = 0.0
    for kg, moisture in materials:
        require("mass", "kg", kg, 0.0, 1e6)
        require("moisture", "(ratio)", moisture, 0.0, 1.0)
        total, water = total + kg, water + kg * moisture
    if total <= 0.0:
        raise UsageError("nothing was put together; give the mass of at least one material")
    return Mixture(total, water / total)
