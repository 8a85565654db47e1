"""What sums take for granted where a farm has not measured it; each is said beside the figure (`Lack`).

Summaries of open data: Fuhrmann et al. 2024 (33 crates), Alciatore et al. 2024 (36 boxes), Garden and Repro
(see `definitions`).
"""

from __future__ import annotations

from dataclasses import dataclass

from monitor.bins.substrate import SubstrateParameters
from monitor.development.rates import AdultLife

MOISTURE_SD = 0.03
"""How far the moisture of feed or residue may be off [ratio]. Source: own choice, as of a mixed filling."""

SAMPLE_CV = 0.07
"""How far the mean mass of larvae in a counted sample may be off, as a share [1]. Source: own choice; between
samples of like crates 0.05 to 0.09 (Fuhrmann et al. 2024, days 4 to 7)."""

HATCH_SAMPLE_SD = 0.19
"""How far the hatch share of one sample of 50 to 600 eggs may be off [ratio]. Source: Repro, 147 samples."""

EGGS_LOG_SD = 0.07
"""Log-sd of the eggs in a gram [1]. Source: own choice, 33 000 to 40 000 in print."""


LARVA_DRY_SHARE = 1.0 - SubstrateParameters().larva_moisture
"""Dry share of a larva at the harvest [ratio]. Source: as in the balance of a bin; 0.28 to 0.34 in Fuhrmann
et al. 2024, 0.32 in Alciatore et al. 2024, open data."""


@dataclass(frozen=True, slots=True)
class Assumptions:
    """Numbers that sums need. Eggs in a gram [1/g], share of females [ratio] and life of a female [d] are
    those of the species, or the farm's own; without eggs in a gram no eggs are counted.

    Dry share of larvae put in [ratio]: 0.25 to 0.29 (Fuhrmann et al. 2024, open data). Mass of a prepupa
    [mg]: own choice, 0.76 of a larva of 220 mg at its peak.
    """

    eggs_per_gram: float | None
    female_share: float
    female_share_sd: float
    female_life_days: float
    larva_dry_share: float = LARVA_DRY_SHARE
    larva_dry_share_sd: float = 0.02
    young_dry_share: float = 0.27
    prepupa_mg: float = 167.0
    prepupa_mg_sd: float = 42.0


def assumptions_of(adult: AdultLife) -> Assumptions:
    """The numbers of a species, with the farm's own in their place."""
    return Assumptions(
        eggs_per_gram=adult.eggs_per_gram,
        female_share=adult.female_share,
        female_share_sd=adult.female_share_sd,
        female_life_days=adult.female_life_days,
    )
