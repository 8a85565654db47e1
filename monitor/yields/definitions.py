"""Definitions of what is summed: each with its formula, its units and where it was published.

Masses of one formula are in one unit (kg, or all in grams) and on one basis: all wet, or all dry. There is no
reduction by wet mass here: a bin that dries would look as if it were eaten (chicken feed in Fuhrmann et al.
2024: 79 % by wet mass, 59 % by dry). Whoever does not know the dry matter has no reduction.

Sources: "Fuhrmann" is the analysis code of Fuhrmann et al. 2024 (chamber system; repository
Nairdaf/chamber_system_git, seen in full text). "Table 2" is Seyedalmoosavi et al. 2022, J. Anim. Sci.
Biotechnol. 13:31, doi 10.1186/s40104-022-00682-7, Table 2 with its footnotes, seen. "Repro" and "Garden" are
open data of two studies of reproduction and of life stages (ReproLab/Data-and-codes_BSF-reproduction,
ReproLab/BSF_stage_sex_specific_plasticity_common_garden), seen. "Diener" is Diener et al. 2009, Waste Manag.
Res. 27:603, formulas from memory; the same reduction stands in Fuhrmann.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from enum import StrEnum

from monitor.errors import Sentence, UsageError, sentence
from monitor.records import MS_PER_DAY

LEAST, MOST = 1e-9, 1e9
MICROGRAM_PER_GRAM = 1e6
MG_PER_KG = 1e6
PERCENT = 100.0
RATIO = sentence("(ratio)")


class Basis(StrEnum):
    """What a ratio of masses counts. Figures with different bases are never compared."""

    WET = "wet"
    DRY = "dry"
    DRY_FRESH = "dry_fresh"


def _require(what: Sentence, value: float, low: float, high: float, unit: str | Sentence) -> None:
    if not low <= value <= high:
        raise UsageError(
            sentence(
                "{what} is {value:g} {unit}; allowed: {low:g} to {high:g} {unit}; correct the entry",
                what=what,
                value=value,
                unit=unit,
                low=low,
                high=high,
            )
        )


def _some(what: Sentence, value: float, unit: str | Sentence = "") -> None:
    _require(what, value, LEAST, MOST, unit)


def dry(mass: float, moisture: float) -> float:
    """Dry matter of a wet mass: mass × (1 − moisture), in the unit of `mass`; moisture is a ratio.

    Source: Fuhrmann.
    """
    _require(sentence("the mass weighed"), mass, 0.0, MOST, "")
    _require(sentence("the moisture tested"), moisture, 0.0, 1.0, RATIO)
    return mass * (1.0 - moisture)


def bioconversion(larvae_out: float, larvae_in: float, feed: float) -> float:
    """Net bioconversion [ratio]: (larvae out − larvae in) / feed given, all wet or all dry.

    Negative where less came out than went in. Source: Fuhrmann.
    """
    _some(sentence("the feed added"), feed)
    _require(sentence("the larvae taken out"), larvae_out, 0.0, MOST, "")
    _require(sentence("the larvae put in"), larvae_in, 0.0, MOST, "")
    return (larvae_out - larvae_in) / feed


def reduction(feed_dry: float, residue_dry: float) -> float:
    """Waste reduction D [ratio]: (feed − residue) / feed, dry.

    Source: Diener; Fuhrmann as 1 − residue / feed.
    """
    _some(sentence("the feed added"), feed_dry)
    _require(sentence("the residue taken out"), residue_dry, 0.0, feed_dry, "")
    return 1.0 - residue_dry / feed_dry


def waste_reduction_index(reduction_dry: float, days: float) -> float:
    """Waste reduction index [% a day]: 100 · D / days fed. Source: Diener."""
    _require(sentence("the waste reduction"), reduction_dry, 0.0, 1.0, RATIO)
    _some(sentence("the days of growth"), days)
    return PERCENT * reduction_dry / days


def feed_conversion(feed: float, gain: float) -> float:
    """Feed conversion [kg/kg]: feed / mass gained. Three bases are in print (`Basis`): say which.

    Source: Table 2 (wet feed over wet gain).
    """
    _some(sentence("the feed added"), feed)
    _some(sentence("what the larvae gained"), gain)
    return feed / gain


def conversion_efficiency(gain_dry: float, feed_dry: float, residue_dry: float) -> float:
    """Efficiency of conversion of digested feed [ratio]: gain / (feed − residue), dry.

    In a bin residue and droppings cannot be told apart. Source: Diener, after Waldbauer 1968 (from memory).
    """
    eaten = feed_dry - residue_dry
    _some(sentence("what was eaten"), eaten)
    _require(sentence("what the larvae gained"), gain_dry, 0.0, eaten, "")
    return gain_dry / eaten


def specific_growth_rate(start_mg: float, end_mg: float, days: float) -> float:
    """Specific growth rate [% a day]: 100 · (ln m2 − ln m1) / days. Source: Table 2."""
    _some(sentence("the first mass of a larva"), start_mg, "mg")
    _some(sentence("the last mass of a larva"), end_mg, "mg")
    _some(sentence("the days of growth"), days)
    return PERCENT * (math.log(end_mg) - math.log(start_mg)) / days


def larvae_left(harvest_kg: float, mean_mg: float) -> float:
    """Larvae in a harvest [1]: harvest / mean mass of one in a counted sample. Source: Fuhrmann."""
    _require(sentence("the larvae taken out"), harvest_kg, 0.0, MOST, "kg")
    _some(sentence("the last mass of a larva"), mean_mg, "mg")
    return harvest_kg * MG_PER_KG / mean_mg


def survival(left: float, put_in: float) -> float:
    """Survival [ratio]: larvae left / larvae put in. Source: Fuhrmann.

    Above 1 where a count was off: one series of Alciatore et al. 2024 shows 0.41 to 1.06 from start counts
    alone. It is not cut, since a cut figure would hide the wrong count.
    """
    _require(sentence("the number of larvae"), left, 0.0, MOST, "")
    _some(sentence("the number of larvae"), put_in)
    return left / put_in


def counted_share(successes: float, others: float) -> float:
    """The share of a counted sample [ratio]: successes / (successes + others).

    Hatched among hatched and unhatched eggs (Repro), flies among pupae boxed (Garden: eclosion), pupae
    among prepupae (Garden: pupation).
    """
    _require(sentence("the number counted"), successes, 0.0, MOST, "")
    _require(sentence("the number counted"), others, 0.0, MOST, "")
    _some(sentence("the number counted"), successes + others)
    return successes / (successes + others)


def emergence(flies: float, boxed: float) -> float:
    """Emergence [ratio]: flies / prepupae or pupae boxed; above 1 where a count was off.

    Source: Garden, which counts pupae; a farm counts what it boxes.
    """
    _require(sentence("the number of flies"), flies, 0.0, MOST, "")
    _some(sentence("the number boxed"), boxed)
    return flies / boxed


def weighted_share(shares: Iterable[tuple[float, float]]) -> float:
    """The mean of shares [ratio], each with its weight: Σ w·share / Σ w.

    The hatch share of a cage weighs each collection by its egg mass (Repro).
    """
    pairs = list(shares)
    weight = math.fsum(weight for _, weight in pairs)
    _some(sentence("the eggs"), weight, "g")
    for share, _ in pairs:
        _require(sentence("the share"), share, 0.0, 1.0, RATIO)
    return math.fsum(share * each for share, each in pairs) / weight


def eggs_per_gram(egg_microgram: float) -> float:
    """Eggs in a gram [1/g] from the mass of one [µg]: 1 000 000 / mass. Repro: 25.5 µg."""
    _some(sentence("the mass of an egg"), egg_microgram, "µg")
    return MICROGRAM_PER_GRAM / egg_microgram


def eggs_counted(grams: float, per_gram: float) -> float:
    """Eggs in a mass of eggs [1]: grams × eggs per gram. Source: Repro, one factor for all cages."""
    _require(sentence("the eggs"), grams, 0.0, MOST, "g")
    _some(sentence("the eggs in a gram"), per_gram)
    return grams * per_gram


def eggs_per_female(grams: float, females: float, per_gram: float) -> float:
    """Eggs for each female put into a cage [1]: grams × eggs per gram / females.

    Not for each female that laid: that share nobody knows. Source: own choice, what a farm can measure.
    """
    _some(sentence("the number of females"), females)
    return eggs_counted(grams, per_gram) / females


def female_days(females: float, in_ms: int, life_days: float, from_ms: int, until_ms: int) -> float:
    """Days that females put in at once lived within a span [d]: females × overlap of their life with it.

    Source: own choice, a life of one length for all.
    """
    begins = max(in_ms, from_ms)
    ends = min(in_ms + life_days * MS_PER_DAY, until_ms)
    return females * max(ends - begins, 0.0) / MS_PER_DAY
