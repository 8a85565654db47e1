"""Rates and durations against published values; the sources stand in references/development.toml."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from development_builders import steady

from monitor.development.clocks import PlaceClimate, stage_clocks
from monitor.development.degree_days import Cutoff
from monitor.development.progress import CohortTrack, Residence, stage_ends_ms
from monitor.development.rates import (
    DrivenBy,
    Logan10Shape,
    RateLaw,
    SpeciesParameters,
    StageParameters,
    logan10_rate,
    units_of_steps,
    units_per_day,
)
from monitor.errors import SettingsError, UsageError
from monitor.records import MS_PER_DAY, MS_PER_HOUR, Stage
from monitor.settings.species import load_species, species_parameters

REFERENCES: dict[str, Any] = tomllib.loads(
    (Path(__file__).parent.parent / "references" / "development.toml").read_text(encoding="utf-8")
)


def fly(diet: str | None = None) -> SpeciesParameters:
    return species_parameters(load_species("black_soldier_fly"), diet)


def fly_by_logan() -> SpeciesParameters:
    return species_parameters(load_species("black_soldier_fly"), alternative="logan")


def days_at(temperature_c: float, stage: StageParameters) -> float:
    """Days that a stage takes at a constant temperature: K / (Te - T0)."""
    rate = float(units_per_day(temperature_c, stage.law))
    return stage.thermal_constant / rate if rate > 0.0 else float("inf")


def longer_at_27_percent(species: SpeciesParameters, stage: Stage) -> float:
    parameters = species.stages[species.index_of(stage)]
    return (days_at(27.0, parameters) / days_at(30.0, parameters) - 1.0) * 100.0


@pytest.mark.parametrize("row", REFERENCES["whole_cycle"], ids=lambda row: row["source"][:40])
def test_published_durations(row: dict[str, Any]) -> None:
    species = fly(row["diet"] or None)
    stages = [species.stages[species.index_of(Stage(name))] for name in row["stages"]]

    found = sum(days_at(row["temperature_c"], stage) for stage in stages)

    assert row["low_days"] <= found <= row["high_days"]


def test_the_whole_cycle_by_the_model_is_the_sum_of_its_stages() -> None:
    species = fly("brewery_grain")
    track = CohortTrack("c", 0, (Residence("room", 0),))
    constants = np.array([[stage.thermal_constant] for stage in species.stages])

    clocks = stage_clocks([PlaceClimate("room", air=steady(27.0))], [species])
    ends = stage_ends_ms(track, species, constants, clocks.of)

    assert ends[species.index_of(Stage.PUPA), 0] / MS_PER_DAY == pytest.approx(42.5, abs=0.05)


@pytest.mark.parametrize("row", REFERENCES["first_eggs"], ids=lambda row: f"{row['temperature_c']} °C")
def test_published_first_eggs(row: dict[str, Any]) -> None:
    species = fly()
    adult = species.stages[species.index_of(Stage.ADULT)]
    uncut = replace(adult, law=replace(adult.law, upper_threshold_c=None))

    assert days_at(row["temperature_c"], uncut) == pytest.approx(row["days"], abs=row["tolerance_days"])


@pytest.mark.parametrize(("temperature_c", "expected"), REFERENCES["logan10"]["rates"])
def test_logan10_rates(temperature_c: float, expected: float) -> None:
    assert float(logan10_rate(temperature_c, Logan10Shape())) == pytest.approx(expected, abs=1e-3)


def test_logan10_peak_and_end() -> None:
    temperatures = np.linspace(10.0, 45.0, 3501)
    rates = logan10_rate(temperatures, Logan10Shape())

    assert temperatures[rates.argmax()] == pytest.approx(REFERENCES["logan10"]["peak_c"], abs=0.05)
    assert not rates[temperatures > Logan10Shape().maximum_c].any()
    assert rates.min() == 0.0


def test_27_against_30_degrees_disagrees_and_says_so() -> None:
    """Published 11 %; the degree-day line gives 20 %, the Logan-10 curve 8 %. Neither is right."""
    row = REFERENCES["longer_at_27_than_at_30"]

    line = longer_at_27_percent(fly(), Stage.LARVA)
    curve = longer_at_27_percent(fly_by_logan(), Stage.LARVA)

    assert line == pytest.approx(row["degree_days_percent"], abs=0.5)
    assert curve == pytest.approx(row["logan10_percent"], abs=0.5)
    assert curve < row["published_percent"] < line


@pytest.mark.parametrize("row", REFERENCES["mealworm_larva"], ids=lambda row: f"{row['temperature_c']} °C")
def test_mealworm_larva(row: dict[str, Any]) -> None:
    species = species_parameters(load_species("mealworm"))
    larva = species.stages[species.index_of(Stage.LARVA)]

    assert days_at(row["temperature_c"], larva) == pytest.approx(
        row["days"], rel=row["tolerance_percent"] / 100
    )


@pytest.mark.parametrize("row", REFERENCES["cricket_egg"], ids=lambda row: f"{row['temperature_c']} °C")
def test_cricket_egg(row: dict[str, Any]) -> None:
    egg = species_parameters(load_species("two_spotted_cricket")).stages[0]

    assert row["first_seen_days"] < days_at(row["temperature_c"], egg) < row["first_seen_days"] + 1.5


def test_a_cricket_has_no_prepupa() -> None:
    cricket = species_parameters(load_species("two_spotted_cricket"))

    assert [stage.stage for stage in cricket.stages] == [Stage.EGG, Stage.LARVA, Stage.ADULT]
    with pytest.raises(
        UsageError, match="two-spotted cricket has no stage pupa; its stages are egg, larva, adult"
    ):
        cricket.index_of(Stage.PUPA)


def test_no_development_at_the_threshold() -> None:
    assert days_at(12.0, fly().stages[0]) == float("inf")


def test_logan_steps_are_the_trapezoid_of_the_rate() -> None:
    law = RateLaw(12.0, shape=Logan10Shape())
    times = np.array([0, 6 * MS_PER_HOUR], dtype=np.int64)
    rates = logan10_rate(np.array([20.0, 30.0]), Logan10Shape())

    assert units_of_steps(times, np.array([20.0, 30.0]), law).sum() == pytest.approx(rates.mean() / 4.0)


def test_unknown_feed_names_the_known_ones() -> None:
    with pytest.raises(SettingsError, match="'chocolate'; allowed: brewery_grain_yeast, brewery_grain"):
        fly("chocolate")


def test_reversed_thresholds_are_refused() -> None:
    with pytest.raises(UsageError, match="upper_threshold_c is 10 and must lie above threshold_c"):
        RateLaw(12.0, 10.0, Cutoff.VERTICAL)


def test_a_constant_of_zero_is_refused() -> None:
    with pytest.raises(UsageError, match="thermal constant 0 must be above 0"):
        StageParameters(Stage.EGG, RateLaw(12.0), 0.0, 0.1, DrivenBy.AIR)
