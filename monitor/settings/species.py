"""One species as a file: `monitor/species/<name>.toml` as frozen records, each number with its mark."""

from __future__ import annotations

import tomllib
from importlib import resources
from typing import Annotated, Any, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, ValidationError, model_validator
from pydantic_core import ErrorDetails

from monitor.errors import Problem, SettingsError
from monitor.records import QUANTITIES, PlaceKind, Priority, Side, Stage

Mark = Literal["published", "cited", "common practice", "choice"]
Finite = Annotated[float, Field(allow_inf_nan=False)]
NotNegative = Annotated[float, Field(ge=0, allow_inf_nan=False)]
Sentence = Annotated[str, Field(min_length=3)]


class SpeciesTable(BaseModel):
    """A table of a species file: unknown keys are errors, nothing changes after reading."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class Number(SpeciesTable):
    """A number, how sure it is, and where it is from. The unit stands in the name of its key."""

    value: Finite
    mark: Mark
    source: str = ""

    @model_validator(mode="after")
    def _published_needs_source(self) -> Self:
        if self.mark in ("published", "cited") and not self.source:
            raise ValueError(f"a {self.mark} number needs its source")
        return self


class LoganShape(SpeciesTable):
    """A Logan-10 curve in place of the degree-day line; the constant is then days at the full rate."""

    rate_max: Number
    rate_base: Number
    rho_per_c: Number
    base_c: Number
    maximum_c: Number
    delta_c: Number


class StageParameters(SpeciesTable):
    """Development of one stage: threshold, thermal constant, spread, and which temperature drives it."""

    threshold_c: Number
    thermal_constant_dd: Number
    log_sd: Number
    upper_threshold_c: Number | None = None
    cutoff: Literal["horizontal", "vertical", "intermediate"] = "horizontal"
    temperature_of: Literal["air", "substrate"] = "air"
    logan: LoganShape | None = None
    survival_low: Number | None = None
    survival_high: Number | None = None


class SpeciesHead(SpeciesTable):
    """[species]: what the file is about."""

    name: str
    latin_name: str
    note: str = ""


class AlarmDefault(SpeciesTable):
    """[[alarms]]: one default rule, for kinds of place and, where `stages` is given, only these stages."""

    place_kinds: Annotated[tuple[PlaceKind, ...], Field(min_length=1)]
    stages: tuple[Stage, ...] = ()
    quantity: str
    side: Side
    priority: Priority
    setpoint: Finite
    deadband: NotNegative
    on_delay_minutes: NotNegative
    off_delay_minutes: NotNegative
    consequence: Sentence
    response: Sentence
    caution: str = ""
    mark: Mark
    source: str = ""

    @model_validator(mode="after")
    def _known_and_sourced(self) -> Self:
        if self.quantity not in QUANTITIES:
            raise ValueError(f"quantity {self.quantity!r} is not known; known: {', '.join(QUANTITIES)}")
        if self.mark in ("published", "cited") and not self.source:
            raise ValueError(f"a {self.mark} setpoint needs its source")
        return self


class Species(SpeciesTable):
    """A whole species file: `diets` by feed, `alternatives` by rate model, `numbers` for all else."""

    species: SpeciesHead
    stages: dict[Stage, StageParameters] = Field(default_factory=dict)
    diets: dict[str, dict[Stage, StageParameters]] = Field(default_factory=dict)
    alternatives: dict[str, dict[Stage, StageParameters]] = Field(default_factory=dict)
    numbers: dict[str, Number] = Field(default_factory=dict)
    alarms: tuple[AlarmDefault, ...] = ()


def available_species() -> tuple[str, ...]:
    """Names of the species that come with the program."""
    folder = resources.files("monitor") / "species"
    names = (entry.name for entry in folder.iterdir())
    return tuple(sorted(name.removesuffix(".toml") for name in names if name.endswith(".toml")))


def load_species(name: str) -> Species:
    """Read `monitor/species/<name>.toml`; raises SettingsError with every problem found."""
    known = available_species()
    if name not in known:
        remedy = "write the name of one of these files in [site] species"
        raise SettingsError([Problem("settings", "site.species", repr(name), ", ".join(known), remedy)])
    text = (resources.files("monitor") / "species" / f"{name}.toml").read_text(encoding="utf-8")
    return parse_species(text, f"{name}.toml")


def parse_species(text: str, file: str) -> Species:
    """Check the text of a species file; `file` is the name that problems are reported under."""
    try:
        return Species.model_validate(tomllib.loads(text))
    except tomllib.TOMLDecodeError as error:
        problem = Problem(file, "the file", f"not TOML: {error}", "TOML", "mend the line that is named")
        raise SettingsError([problem]) from None
    except ValidationError as error:
        raise SettingsError([_problem(file, found) for found in error.errors()]) from None


def _problem(file: str, found: ErrorDetails) -> Problem:
    key = ".".join(str(part) for part in found["loc"]) or "the file"
    value: Any = "missing" if found["type"] == "missing" else repr(found["input"])[:80]
    return Problem(file, key, value, found["msg"], "correct this key in the species file")
