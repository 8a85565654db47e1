"""What sums take for granted where a farm has not measured it; each is said beside the figure (`Lack`).

Summaries of open data: Fuhrmann et al. 2024 (33 crates), Alciatore et al. 2024 (36 boxes), Garden and Repro
(see `definitions`).
"""

from __future__ import annotations

from dataclasses import dataclass

MOISTURE_SD = 0.03
"""How far the moisture of feed or residue may be off [ratio]. Source: own choice, as of a mixed filling."""

SAMPLE_CV = 0.07
"""How far the mean mass of larvae in a counted sample may be off, as a share [1]. Source: own choice; between
samples of like crates 0.05 to 0.09 (Fuhrmann et al. 2024, days 4 to 7)."""

HATCH_SAMPLE_SD = 0.19
"""How far the hatch share of one sample of 50 to 600 eggs may be off [ratio]. Source: Repro, 147 samples."""

EGGS_LOG_SD = 0.07
"""Log-sd of the eggs in a gram [1]. Source: own choice, 33 000 to 40 000 in print."""


@dataclass(frozen=True, slots=True)
class Assumptions:
    """Numbers of the species that sums need.

    Eggs per gram [1/g]: own choice, 39 171 in Repro, 33 000 to 40 000 in print. Female share [ratio]: 0.45
    in Garden against 0.55 to 0.60 elsewhere, own choice between. Life of a female [d]: Garden, 707 females,
    9.6 d. Dry share of a larva [ratio]: 0.28 to 0.34 (Fuhrmann), 0.32 (Alciatore); of one put in: 0.25 to
    0.29 (Fuhrmann). Mass of a prepupa [mg]: own choice, 0.76 of a larva of 220 mg at its peak.
    """

    eggs_per_gram: float = 38_000.0
    female_share: float = 0.50
    female_share_sd: float = 0.07
    female_life_days: float = 9.6
    larva_dry_share: float = 0.31
    larva_dry_share_sd: float = 0.02
    young_dry_share: float = 0.27
    prepupa_mg: float = 167.0
    prepupa_mg_sd: float = 42.0
