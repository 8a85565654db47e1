"""From a species file to the parameters that the development model takes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from monitor.errors import Problem, SettingsError
from monitor.model.degree_days import Cutoff
from monitor.model.rates import (
    AdultLife,
    DrivenBy,
    Logan10Shape,
    RateLaw,
    SpeciesParameters,
    StageParameters,
)
from monitor.records import Stage
from monitor.settings import species as files


def species_parameters(
    species: files.Species, diet: str | None = None, alternative: str | None = None
) -> SpeciesParameters:
    """Parameters of a species on one of its feeds (none: mixed or unknown), or by another rate model."""
    if diet is not None and diet not in species.diets:
        known = ", ".join(species.diets) or "none"
        raise SettingsError(
            [Problem("settings", "diet", repr(diet), known, "write one of these, or leave it out")]
        )
    tables = {**species.stages, **(species.diets[diet] if diet else {})}
    if alternative is not None:
        tables |= species.alternatives[alternative]
    stages = tuple(_stage(stage, tables[stage]) for stage in Stage if stage in tables)
    numbers = {name: number.value for name, number in species.numbers.items()}
    return _with_spread(SpeciesParameters(species.species.name, stages, _adult(numbers)), numbers)


def _stage(stage: Stage, table: files.StageParameters) -> StageParameters:
    upper = table.upper_threshold_c.value if table.upper_threshold_c else None
    law = RateLaw(table.threshold_c.value, upper, Cutoff(table.cutoff), _shape(table.logan))
    low = table.survival_low.value if table.survival_low else 1.0
    high = table.survival_high.value if table.survival_high else 1.0
    constant = table.thermal_constant_dd
    driven_by = DrivenBy(table.temperature_of)
    return StageParameters(
        stage, law, constant.value, table.log_sd.value, driven_by, (low, high), constant.mark
    )


def _shape(table: files.LoganShape | None) -> Logan10Shape | None:
    if table is None:
        return None
    values = [getattr(table, name).value for name in files.LoganShape.model_fields]
    return Logan10Shape(*values)


def _adult(numbers: Mapping[str, float]) -> AdultLife:
    usual = AdultLife()
    return AdultLife(
        female_share=numbers.get("female_share", usual.female_share),
        male_lead_days=(numbers.get("male_lead_low_days", 0.0), numbers.get("male_lead_high_days", 0.0)),
        male_life_days=numbers.get("male_life_days", usual.male_life_days),
        female_life_days=numbers.get("female_life_days", usual.female_life_days),
        life_variation=numbers.get("life_variation", usual.life_variation),
        eggs_per_female=(numbers.get("eggs_per_female_low", 0.0), numbers.get("eggs_per_female_high", 0.0)),
        eggs_per_gram=numbers.get("eggs_per_gram"),
    )


def _with_spread(plain: SpeciesParameters, numbers: Mapping[str, float]) -> SpeciesParameters:
    return replace(
        plain,
        individual_variation=numbers.get("individual_variation", plain.individual_variation),
        cohort_log_sd=numbers.get("cohort_log_sd", plain.cohort_log_sd),
        heat_damage_c=numbers.get("heat_damage_c", plain.heat_damage_c),
        heat_failure_hours=numbers.get("heat_failure_hours", plain.heat_failure_hours),
    )
