"""One substrate as a file: `monitor/substrates/<name>.toml` as frozen records, each number with its mark."""

from __future__ import annotations

import tomllib
from importlib import resources
from itertools import pairwise
from typing import Annotated, Any, Literal, Self

from pydantic import Field, ValidationError, model_validator
from pydantic_core import ErrorDetails

from monitor.errors import Problem, SettingsError
from monitor.model.substrate import MoistureBands, SubstrateParameters
from monitor.settings.species import NotNegative, Number, SpeciesTable

BandPlace = Literal["grow_out_bin", "hatching_tray"]
BAND_KEYS = ("dry_limit", "dry_warning", "target_low", "target_high", "wet_warning", "wet_limit")
SHARES = (
    "as_bought_moisture",
    "bran_moisture",
    "wet_share_fresh",
    "wet_share_crusted",
    "taper_from_moisture",
    "larva_moisture",
)


class SubstrateHead(SpeciesTable):
    """[substrate]: what the file is about."""

    name: str
    note: str = ""


class BandTable(SpeciesTable):
    """[bands.<kind of place>]: limits of moisture as ratios, rising from the first to the last."""

    dry_limit: Number
    dry_warning: Number
    target_low: Number
    target_high: Number
    wet_warning: Number
    wet_limit: Number

    @model_validator(mode="after")
    def _rising(self) -> Self:
        values = [getattr(self, key).value for key in BAND_KEYS]
        if any(later <= earlier for earlier, later in pairwise(values)):
            raise ValueError(f"each must be above the one before: {', '.join(BAND_KEYS)}")
        if values[0] <= 0.0 or values[-1] >= 1.0:
            raise ValueError("moisture is a ratio between 0 and 1")
        return self

    def bands(self) -> MoistureBands:
        """The limits without their marks."""
        return MoistureBands(*(getattr(self, key).value for key in BAND_KEYS))


class SubstrateNumbers(SpeciesTable):
    """[numbers]: what the model needs besides the bands."""

    as_bought_moisture: Number
    bran_moisture: Number
    wet_share_fresh: Number
    wet_share_crusted: Number
    crust_hours: Number
    taper_from_moisture: Number
    larva_moisture: Number
    heat_j_kg_carbon_dioxide: Number
    dry_kg_carbon_dioxide: Number
    water_kg_carbon_dioxide: Number
    core_conductivity_w_m_k: Number

    @model_validator(mode="after")
    def _possible(self) -> Self:
        wrong = [key for key in SHARES if not 0.0 <= getattr(self, key).value <= 1.0]
        if wrong:
            raise ValueError(f"a share or ratio lies between 0 and 1: {', '.join(wrong)}")
        others = set(type(self).model_fields) - set(SHARES)
        wrong = sorted(key for key in others if not getattr(self, key).value > 0.0)
        if wrong:
            raise ValueError(f"must be above 0: {', '.join(wrong)}")
        return self


class HeatAtAge(SpeciesTable):
    """[[heat]]: heat at one age of the larvae."""

    age_days: NotNegative
    w_m2: Number


class Substrate(SpeciesTable):
    """A whole substrate file."""

    substrate: SubstrateHead
    bands: dict[BandPlace, BandTable]
    numbers: SubstrateNumbers
    heat: Annotated[tuple[HeatAtAge, ...], Field(min_length=2)]

    @model_validator(mode="after")
    def _complete(self) -> Self:
        missing = {"grow_out_bin", "hatching_tray"} - set(self.bands)
        if missing:
            raise ValueError(f"bands are missing for {', '.join(sorted(missing))}")
        ages = [each.age_days for each in self.heat]
        if any(later <= earlier for earlier, later in pairwise(ages)):
            raise ValueError("the ages of [[heat]] must rise")
        if any(not 0.0 <= each.w_m2.value <= 300.0 for each in self.heat):
            raise ValueError("heat lies between 0 and 300 W/m2")
        return self

    def parameters(self, name: str) -> SubstrateParameters:
        """The numbers without their marks, as the model takes them; `name` is that of the file."""
        values = {key: getattr(self.numbers, key).value for key in SubstrateNumbers.model_fields}
        return SubstrateParameters(
            name=name,
            bands=self.bands["grow_out_bin"].bands(),
            hatching_bands=self.bands["hatching_tray"].bands(),
            heat_by_age=tuple((each.age_days, each.w_m2.value) for each in self.heat),
            **values,
        )


def available_substrates() -> tuple[str, ...]:
    """Names of the substrates that come with the program."""
    folder = resources.files("monitor") / "substrates"
    names = (entry.name for entry in folder.iterdir())
    return tuple(sorted(name.removesuffix(".toml") for name in names if name.endswith(".toml")))


def load_substrate(name: str) -> SubstrateParameters:
    """Read `monitor/substrates/<name>.toml`; raises SettingsError with every problem found."""
    known = available_substrates()
    if name not in known:
        remedy = "write one of these names"
        raise SettingsError([Problem("settings", "substrate", repr(name), ", ".join(known), remedy)])
    text = (resources.files("monitor") / "substrates" / f"{name}.toml").read_text(encoding="utf-8")
    return parse_substrate(text, f"{name}.toml").parameters(name)


def parse_substrate(text: str, file: str) -> Substrate:
    """Check the text of a substrate file; `file` is the name that problems are reported under."""
    try:
        return Substrate.model_validate(tomllib.loads(text))
    except tomllib.TOMLDecodeError as error:
        problem = Problem(file, "the file", f"not TOML: {error}", "TOML", "mend the line that is named")
        raise SettingsError([problem]) from None
    except ValidationError as error:
        raise SettingsError([_problem(file, found) for found in error.errors()]) from None


def _problem(file: str, found: ErrorDetails) -> Problem:
    key = ".".join(str(part) for part in found["loc"]) or "the file"
    value: Any = "missing" if found["type"] == "missing" else repr(found["input"])[:80]
    return Problem(file, key, value, found["msg"], "correct this key in the substrate file")
