"""What the animals of a bin do: how they grow, how much they breathe out, and what feed that leaves.

A larva grows along a logistic curve as long as it is warm and there is feed. What it breathes out is a share
of what it gains and a share of what it weighs; the microbes that live with it are in these figures, which
were measured with them. When the feed is gone, growth ends and little of the breath is left.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from monitor.climate.arrays import FloatArray

PEAK_MG = 220.0
"""Mass of a larva at its peak with enough feed [mg]; log-sd 0.25, lean feed 160. Source: own choice from 12
series, 159 to 320 mg: Garden, Repro, Fuhrmann et al. 2024, Alciatore et al. 2024, open data."""

GROWTH_PER_DAY = 1.1
"""Rate of the logistic curve at `WARM_C` [1/d]; log-sd 0.2. Source: own choice from curves fitted to the same
series: 1.0 to 1.5 in bins that heat themselves, 0.75 and 0.94 in boxes of 200 larvae that do not."""

COLD_C, WARM_C = 14.0, 30.0
"""Temperature below which nothing grows, and to which the rates are referred [°C]. Source: own choice. With
it a bin grows at 0.96 a day at 28 °C (0.75 and 0.94 fitted in boxes of 200 larvae in a warm room), at 0.58 at
22.5 °C (0.5 to 0.65 in crates at 20 to 26 °C), and at 1.3 from 33 °C on (1.0 to 1.5 in hot bins)."""

BEST_C, HOT_C, TOO_HOT_C = 33.0, 40.0, 47.0
"""The rates rise no more above the first, and fall to nothing between the other two [°C]. Source: own choice:
growth is fastest near 31 °C (Padmanabha et al. 2020), but bins stood 24 to 56 h above 40 °C with the usual
yield, since larvae move to where they like it (Alciatore et al. 2024); flies are knocked down at 45 to 51 °C
(Li et al. 2022, abstract)."""

GAIN_CARBON_DIOXIDE = 0.2
BODY_CARBON_DIOXIDE_PER_DAY = 0.55
"""Carbon dioxide for each gram of dry larva gained [g/g], and for each gram there is in a day at `WARM_C`
[g/(g d)]. Source: own fit to one chamber of chicken feed of Fuhrmann et al. 2024, open data: 0.8, 7.7, 12.5
and 30.7 mg a larva and day at 6, 50, 58 and 132 mg; the other chambers and feeds are checks."""

STARVING_SHARE = 0.2
"""Share of that breath which is left without feed [1]. Source: own choice: 46 g/h fell to 8.5 g/h within a
day in the same chamber when its feed was gone."""

SCARCE_SHARE = 0.1
"""Share of the edible feed below which larvae find less and less [1]. Source: own choice: the same fall."""

STARVING_LOSS_PER_DAY = 0.045
AFTER_PEAK = 0.76
"""What a larva loses of its wet mass in a day after its peak, and what is left in the end [1/d], [1].
Source: 24 to 31 % lost by day 12 (Repro); prepupae weigh 0.76 to 0.79 of the peak (Garden)."""

FULL_SHARE = 0.95
CALM_AFTER_DAYS = 1.0
CALM_PER_DAY = 0.35
"""Share of the peak from which a larva counts as grown up [1], how long it goes on feeding then [d], and how
its breath fades after that [1/d]. Source: own choice: heat fell to a tenth from the peak to the harvest of
late bins; no measurement of single days was found."""

USUAL_MG, USUAL_AT_DAYS, USUAL_PER_DAY = 5.0, 5.0, 1.06
"""A usual larva: its mass [mg] at this age [d], and its rate before and after [1/d]. Source: own choice:
trials began with larvae of 1.3 to 13 mg, bought as five days old; 0.025 mg at hatching, as an egg."""

FEED_OF_UNKNOWN_KG = 0.18e-3
MOST_UNKNOWN_PER_M2 = 25_000.0
"""Dry feed for each larva where nobody counted them [kg], and the most for each m². Source: crates of
Fuhrmann et al. 2024 had 175 to 182 mg a larva at 4.5 to 5 larvae/cm²; own choice of half as many to the area,
which make the 120 W/m² at their peak that this program took for all bins before."""

UNCOUNTED_LOG_SD = 0.5
"""How far the number of larvae may be off that nobody counted, as a log-sd [1]. Source: own choice: one bin
in ten has twice as many."""

ALIVE_AT_HARVEST, DYING_DAYS = 0.90, 8.0
"""Share of larvae put in that live to the harvest [1], and the warm days in which the others die, evenly [d].
Source: 0.86 and 0.94 in 48 boxes (Garden), 0.70 to 0.99 in 36 (Alciatore et al. 2024), open data; own choice
of the days, those from five days old to the peak."""

HOURS_PER_DAY = 24.0
MG_PER_KG = 1e6


def warmth_share(temperature_c: float) -> float:
    """Share of the rates at 30 °C that is left at a temperature of the substrate [°C]; 1.19 at most.

    A straight line from nothing at 14 °C through 1 at 30 °C up to 33 °C, level up to 40 °C, then down to
    nothing at 47 °C. Source: own choice, see `COLD_C` and `BEST_C`.
    """
    if not COLD_C < temperature_c < TOO_HOT_C:
        return 0.0
    rising = (min(temperature_c, BEST_C) - COLD_C) / (WARM_C - COLD_C)
    return rising * min(1.0, (TOO_HOT_C - temperature_c) / (TOO_HOT_C - HOT_C))


def usual_mass_mg(age_days: FloatArray | float, peak_mg: float = PEAK_MG) -> FloatArray:
    """Mass of a usual larva by its age [d], warm and with enough feed [mg].

    m = A/(1 + (A/5 - 1) exp(-1.06 (age - 5))). Source: see `USUAL_MG`.
    """
    left = np.exp(-USUAL_PER_DAY * (np.asarray(age_days, dtype=np.float64) - USUAL_AT_DAYS))
    return np.asarray(peak_mg / (1.0 + max(peak_mg / USUAL_MG - 1.0, 1e-6) * left))


def grown_since_days(age_days: float, peak_mg: float) -> float:
    """How long usual larvae of an age have been grown up [d]; 0 for younger ones."""
    apart = max(peak_mg / USUAL_MG - 1.0, 1e-6)
    full_days = USUAL_AT_DAYS + math.log(apart * FULL_SHARE / (1.0 - FULL_SHARE)) / USUAL_PER_DAY
    return max(age_days - full_days, 0.0)


@dataclass(frozen=True, slots=True)
class Ways:
    """The laws of one feed: peak [mg], rate [1/d], dry share of a larva, dry matter lost by gram of CO2.

    Rate and peak are those of the larvae where somebody said them; `breath_factor` is how much more these
    breathe than usual ones [1], `alive_at_harvest` the share that lives to then [1].
    """

    peak_mg: float
    rate_per_day: float
    dry_share: float
    dry_per_carbon_dioxide: float
    breath_factor: float = 1.0
    alive_at_harvest: float = ALIVE_AT_HARVEST


@dataclass(slots=True)
class Brood:
    """The larvae of a bin and the feed before them while time passes; `copy` before another future is tried.

    `count` 0: nobody there. `edible_kg` is what could be eaten of all dry feed that was given, `feed_kg` what
    is left of that; `grown_days` counts from the day on which they are grown up, `lived_days` from that on
    which they were put in, as far as some still die [warm days].
    """

    ways: Ways
    count: float = 0.0
    mass_mg: float = 0.0
    highest_mg: float = 0.0
    grown_days: float = 0.0
    lived_days: float = 0.0
    feed_kg: float = 0.0
    edible_kg: float = 0.0
    eaten_kg: float = 0.0

    @property
    def kg(self) -> float:
        """Fresh mass of all [kg]."""
        return self.count * self.mass_mg / MG_PER_KG

    @property
    def plenty(self) -> float:
        """How well they find feed, 0 to 1 [1]."""
        scarce_kg = SCARCE_SHARE * self.edible_kg
        return 1.0 if self.feed_kg >= scarce_kg > 0.0 else self.feed_kg / scarce_kg if scarce_kg else 0.0

    def pass_time(self, hours: float, core_c: float, breathed_kg: float | None = None) -> float:
        """Let them live for some hours at a temperature; what they breathed out [kg of CO2].

        `breathed_kg` where it was measured: then that is taken, and the feed goes by it.
        """
        warmth = warmth_share(core_c)
        if self.count <= 0.0:
            return 0.0
        days, plenty, before_mg = hours / HOURS_PER_DAY, self.plenty, self.mass_mg
        gain_mg = self._gain_mg(warmth * plenty * days)
        breath_kg = self._breath_kg(gain_mg, warmth * days, plenty) if breathed_kg is None else breathed_kg
        gained_kg = self.count * gain_mg * self.ways.dry_share / MG_PER_KG
        eaten_kg = gained_kg + plenty * self.ways.dry_per_carbon_dioxide * breath_kg
        if eaten_kg > self.feed_kg:
            gain_mg *= self.feed_kg / eaten_kg
            eaten_kg = self.feed_kg
        self.feed_kg -= eaten_kg
        self.eaten_kg += eaten_kg
        self._grow(before_mg + gain_mg, warmth * days, plenty)
        self._die(warmth * days)
        return breath_kg

    def _gain_mg(self, warm_days: float) -> float:
        """The logistic curve, exact over the step."""
        mass, peak = self.mass_mg, self.ways.peak_mg
        if mass >= peak or warm_days <= 0.0:
            return 0.0
        more = math.expm1(self.ways.rate_per_day * warm_days)
        return mass * more * (peak - mass) / (peak + mass * more)

    def _breath_kg(self, gain_mg: float, warm_days: float, plenty: float) -> float:
        calm = math.exp(-CALM_PER_DAY * max(self.grown_days - CALM_AFTER_DAYS, 0.0))
        awake = (STARVING_SHARE + (1.0 - STARVING_SHARE) * plenty) * calm
        body_mg = BODY_CARBON_DIOXIDE_PER_DAY * awake * warm_days * (self.mass_mg + 0.5 * gain_mg)
        by_larva_mg = self.ways.dry_share * (GAIN_CARBON_DIOXIDE * gain_mg + body_mg)
        return self.count * self.ways.breath_factor * by_larva_mg / MG_PER_KG

    def _die(self, warm_days: float) -> None:
        days = min(warm_days, DYING_DAYS - self.lived_days)
        if days > 0.0:
            self.lived_days += days
            self.count *= self.ways.alive_at_harvest ** (days / DYING_DAYS)

    def _grow(self, mass_mg: float, warm_days: float, plenty: float) -> None:
        if mass_mg >= FULL_SHARE * self.ways.peak_mg:
            self.grown_days += warm_days
        hungry = 1.0 if self.grown_days > CALM_AFTER_DAYS else 1.0 - plenty
        self.highest_mg = max(self.highest_mg, mass_mg)
        shrunk = mass_mg * (1.0 - STARVING_LOSS_PER_DAY * hungry * min(warm_days, 1.0))
        self.mass_mg = max(shrunk, min(mass_mg, AFTER_PEAK * self.highest_mg))
