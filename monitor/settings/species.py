"""Species and substrate files: `monitor/species/*.toml` and `monitor/substrates/*.toml` as frozen records.

Each number has a mark and a source. The development and moisture models take the numbers alone.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import replace
from functools import cache
from importlib import resources
from importlib.resources.abc import Traversable
from itertools import pairwise
from typing import TYPE_CHECKING, Annotated, Any, Literal, Self, TypeVar

from pydantic import BaseModel, ConfigDict, Field, ValidationError, model_validator
from pydantic_core import ErrorDetails

from monitor.errors import Phrase, Problem, SettingsError, sentence
from monitor.records import QUANTITIES, PlaceKind, Priority, Side, Stage

# The models are loaded where their parameters are made: reading the settings takes the numbers alone.
if TYPE_CHECKING:
    from monitor.bins.substrate import MoistureBands, SubstrateParameters
    from monitor.development.published import ComparedTime
    from monitor.development.rates import (
        AdultLife,
        Logan10Shape,
        SpeciesLimits,
        SpeciesParameters,
        StageParameters,
        ThermalDeath,
    )

Mark = Literal["published", "cited", "common practice", "choice"]
Finite = Annotated[float, Field(allow_inf_nan=False)]
NotNegative = Annotated[float, Field(ge=0, allow_inf_nan=False)]
Text = Annotated[str, Field(min_length=3)]

FileTable = TypeVar("FileTable", bound=BaseModel)
BandPlace = Literal["grow_out_bin", "hatching_tray"]
BAND_KEYS = ("dry_limit", "dry_warning", "target_low", "target_high", "wet_warning", "wet_limit")
OF_THE_STAGE = ("falls_from_c", "maximum_c", "flees_above_c", "longest_days")
"""Numbers of a stage that hold on each of its feeds, unless the feed says otherwise."""
SHARES = (
    "bran_moisture",
    "wet_share_fresh",
    "wet_share_crusted",
    "taper_from_moisture",
    "larva_moisture",
    "most_water",
    "edible_share",
)


class Table(BaseModel):
    """A table of a file: unknown keys are errors, nothing changes after reading."""

    model_config = ConfigDict(extra="forbid", frozen=True, defer_build=True)


class Marked(Table):
    """How sure a number is, and where it is from."""

    mark: Mark
    source: str = ""

    @model_validator(mode="after")
    def _published_needs_source(self) -> Self:
        if self.mark in ("published", "cited") and not self.source:
            raise ValueError(f"a {self.mark} number needs its source")
        return self


class Number(Marked):
    """A number with its mark. The unit stands in the name of its key."""

    value: Finite


class LoganShape(Table):
    """A Logan-10 curve in place of the degree-day line; the constant is then days at the full rate."""

    rate_max: Number
    rate_base: Number
    rho_per_c: Number
    base_c: Number
    maximum_c: Number
    delta_c: Number


class StageNumbers(Table):
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
    log_sd_above: Number | None = None
    falls_from_c: Number | None = None
    maximum_c: Number | None = None
    flees_above_c: Number | None = None
    longest_days: Number | None = None


class SpeciesHead(Table):
    """[species]: what the file is about."""

    name: str
    latin_name: str
    note: str = ""


class AlarmDefault(Marked):
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
    realarm_after_hours: NotNegative = 0.0
    realarm_step: NotNegative = 0.0
    consequence: Text
    response: Text
    caution: str = ""

    @model_validator(mode="after")
    def _known_quantity(self) -> Self:
        if self.quantity not in QUANTITIES:
            raise ValueError(f"quantity {self.quantity!r} is not known; known: {', '.join(QUANTITIES)}")
        return self


class PublishedRow(Marked):
    """[[published]]: how long stages took in a source, for `learn --published`."""

    stages: Annotated[tuple[Stage, ...], Field(min_length=1)]
    feed: str = ""
    from_days: NotNegative = 0.0
    temperature_c: Finite
    temperature_stated: bool
    low_days: NotNegative
    high_days: NotNegative | None = None
    said: Text
    condition: str = ""
    reason: str = ""

    @model_validator(mode="after")
    def _complete(self) -> Self:
        if self.high_days is not None and self.high_days < self.low_days:
            raise ValueError("high_days must not lie below low_days")
        if not self.source:
            raise ValueError("a published row needs its source")
        return self


class Species(Table):
    """A whole species file: `diets` by feed, `alternatives` by rate model, `numbers` for all else."""

    species: SpeciesHead
    stages: dict[Stage, StageNumbers] = Field(default_factory=dict)
    diets: dict[str, dict[Stage, StageNumbers]] = Field(default_factory=dict)
    alternatives: dict[str, dict[Stage, StageNumbers]] = Field(default_factory=dict)
    numbers: dict[str, Number] = Field(default_factory=dict)
    alarms: tuple[AlarmDefault, ...] = ()
    published: tuple[PublishedRow, ...] = ()

    @model_validator(mode="after")
    def _possible(self) -> Self:
        for row in self.published:
            unknown = [stage for stage in row.stages if stage not in self.stages]
            if unknown or (row.feed and row.feed not in self.diets):
                raise ValueError(f"[[published]] {row.said!r}: no such stage or feed in this file")
        return self


class SubstrateHead(Table):
    """[substrate]: what the file is about."""

    name: str
    note: str = ""


class BandTable(Table):
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
        from monitor.bins.substrate import MoistureBands

        return MoistureBands(*(getattr(self, key).value for key in BAND_KEYS))


class SubstrateNumbers(Table):
    """[numbers]: what the model needs besides the bands."""

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
    heaviest_kg_m3: Number
    usual_depth_m: Number
    deepest_m: Number
    most_water: Number
    peak_mg: Number | None = None
    growth_per_day: Number | None = None
    edible_share: Number | None = None

    @model_validator(mode="after")
    def _possible(self) -> Self:
        values = self.values()
        wrong = [key for key in SHARES if not 0.0 <= values.get(key, 0.0) <= 1.0]
        if wrong:
            raise ValueError(f"a share or ratio lies between 0 and 1: {', '.join(wrong)}")
        wrong = sorted(key for key in set(values) - set(SHARES) if not values[key] > 0.0)
        if wrong:
            raise ValueError(f"must be above 0: {', '.join(wrong)}")
        return self

    def values(self) -> dict[str, float]:
        """The numbers without their marks; those that a file leaves out have a default in the model."""
        given = {key: getattr(self, key) for key in type(self).model_fields}
        return {key: number.value for key, number in given.items() if number is not None}


class HeatAtAge(Table):
    """[[heat]]: heat at one age of the larvae, of a farm that measured it, in place of what animals make."""

    age_days: NotNegative
    w_m2: Number


class Substrate(Table):
    """A whole substrate file."""

    substrate: SubstrateHead
    bands: dict[BandPlace, BandTable]
    numbers: SubstrateNumbers
    heat: tuple[HeatAtAge, ...] = ()

    @model_validator(mode="after")
    def _complete(self) -> Self:
        missing = {"grow_out_bin", "hatching_tray"} - set(self.bands)
        if missing:
            raise ValueError(f"bands are missing for {', '.join(sorted(missing))}")
        ages = [heat.age_days for heat in self.heat]
        if len(ages) == 1:
            raise ValueError("[[heat]] needs two ages at least")
        if any(later <= earlier for earlier, later in pairwise(ages)):
            raise ValueError("the ages of [[heat]] must rise")
        if any(not 0.0 <= heat.w_m2.value <= 300.0 for heat in self.heat):
            raise ValueError("heat lies between 0 and 300 W/m2")
        return self

    def parameters(self, name: str) -> SubstrateParameters:
        """The numbers without their marks, as the model takes them; `name` is that of the file."""
        from monitor.bins.substrate import SubstrateParameters

        return SubstrateParameters(
            name=name,
            bands=self.bands["grow_out_bin"].bands(),
            hatching_bands=self.bands["hatching_tray"].bands(),
            heat_by_age=tuple((heat.age_days, heat.w_m2.value) for heat in self.heat),
            **self.numbers.values(),
        )


def available_species() -> tuple[str, ...]:
    """Names of the species that come with the program."""
    return _names("species")


@cache
def load_species(name: str) -> Species:
    """Read `monitor/species/<name>.toml`; raises SettingsError with every problem found."""
    remedy = sentence("write the name of one of these files in [site] species")
    return parse_species(_text("species", name, "site.species", remedy), f"{name}.toml")


def parse_species(text: str, file: str) -> Species:
    """Check the text of a species file; `file` is the name that problems are reported under."""
    return _parsed(Species, text, file, sentence("correct this key in the species file"))


@cache
def available_substrates() -> tuple[str, ...]:
    """Names of the substrates that come with the program."""
    return _names("substrates")


@cache
def load_substrate(name: str) -> SubstrateParameters:
    """Read `monitor/substrates/<name>.toml`; raises SettingsError with every problem found."""
    text = _text("substrates", name, "substrate", sentence("write one of these names"))
    return parse_substrate(text, f"{name}.toml").parameters(name)


def parse_substrate(text: str, file: str) -> Substrate:
    """Check the text of a substrate file; `file` is the name that problems are reported under."""
    return _parsed(Substrate, text, file, sentence("correct this key in the substrate file"))


def _folder(name: str) -> Traversable:
    return resources.files("monitor") / name


def _names(folder: str) -> tuple[str, ...]:
    names = (entry.name for entry in _folder(folder).iterdir())
    return tuple(sorted(name.removesuffix(".toml") for name in names if name.endswith(".toml")))


def _text(folder: str, name: str, key: str, remedy: Phrase) -> str:
    """The text of a file that comes with the program; `key` is where its name stands in the settings."""
    known = _names(folder)
    if name not in known:
        raise SettingsError([Problem("settings", key, repr(name), ", ".join(known), remedy)])
    return (_folder(folder) / f"{name}.toml").read_text(encoding="utf-8")


def _parsed(table: type[FileTable], text: str, file: str, remedy: Phrase) -> FileTable:
    try:
        return table.model_validate(tomllib.loads(text))
    except tomllib.TOMLDecodeError as error:
        problem = Problem(
            file,
            sentence("the file"),
            sentence("not TOML: {reason}", reason=str(error)),
            "TOML",
            sentence("mend the line that is named"),
        )
        raise SettingsError([problem]) from None
    except ValidationError as error:
        raise SettingsError([_problem(file, details, remedy) for details in error.errors()]) from None


def _problem(file: str, details: ErrorDetails, remedy: Phrase) -> Problem:
    key: Phrase = ".".join(str(part) for part in details["loc"]) or sentence("the file")
    value: Phrase = sentence("missing") if details["type"] == "missing" else repr(details["input"])[:80]
    return Problem(file, key, value, details["msg"], remedy)


def species_parameters(
    species: Species, diet: str | None = None, alternative: str | None = None
) -> SpeciesParameters:
    """Parameters of a species on one of its feeds (none: mixed or unknown), or by another rate model."""
    if diet is not None and diet not in species.diets:
        known: Phrase = ", ".join(species.diets) or sentence("none")
        raise SettingsError(
            [Problem("settings", "diet", repr(diet), known, sentence("write one of these, or leave it out"))]
        )
    from monitor.development.rates import SpeciesParameters

    tables = {**species.stages, **(species.diets[diet] if diet else {})}
    if alternative is not None:
        tables |= species.alternatives[alternative]
    tables = {stage: _completed(table, species.stages.get(stage)) for stage, table in tables.items()}
    stages = tuple(_stage(stage, tables[stage]) for stage in Stage if stage in tables)
    numbers = {name: number.value for name, number in species.numbers.items()}
    plain = SpeciesParameters(species.species.name, stages, _adult(numbers), limits=_limits(numbers))
    return _with_spread(plain, numbers)


def published_times(species: Species) -> tuple[ComparedTime, ...]:
    """Every published time of a species beside what the species says now, in the order of the file."""
    from monitor.development.published import PublishedTime, compared

    feeds = {row.feed or None for row in species.published}
    kinds = {feed: species_parameters(species, feed) for feed in feeds}
    times = (
        PublishedTime(
            stages=row.stages,
            feed=row.feed or None,
            is_stated=row.temperature_stated,
            **row.model_dump(exclude={"stages", "feed", "temperature_stated"}),
        )
        for row in species.published
    )
    return tuple(compared(each, kinds[each.feed]) for each in times)


def _completed(table: StageNumbers, usual: StageNumbers | None) -> StageNumbers:
    """The table of a stage on one feed; what a feed does not change stands with the stage itself."""
    if usual is None:
        return table
    missing = {key: getattr(usual, key) for key in OF_THE_STAGE if getattr(table, key) is None}
    return table.model_copy(update=missing)


def _stage(stage: Stage, table: StageNumbers) -> StageParameters:
    from monitor.development.degree_days import Cutoff
    from monitor.development.rates import DrivenBy, RateLaw, StageParameters

    bounds = (_value(number) for number in (table.falls_from_c, table.maximum_c, table.flees_above_c))
    upper, cutoff = _value(table.upper_threshold_c), Cutoff(table.cutoff)
    law = RateLaw(table.threshold_c.value, upper, cutoff, _shape(table.logan), *bounds)
    low, high = (1.0 if each is None else each.value for each in (table.survival_low, table.survival_high))
    constant, longest = table.thermal_constant_dd, _value(table.longest_days)
    return StageParameters(
        stage,
        law,
        constant.value,
        table.log_sd.value,
        DrivenBy(table.temperature_of),
        (low, high),
        constant.mark,
        _value(table.log_sd_above),
        float("inf") if longest is None else longest,
    )


def _value(number: Number | None) -> float | None:
    return None if number is None else number.value


def _shape(table: LoganShape | None) -> Logan10Shape | None:
    if table is None:
        return None
    from monitor.development.rates import Logan10Shape

    values = [getattr(table, name).value for name in LoganShape.model_fields]
    return Logan10Shape(*values)


def _adult(numbers: Mapping[str, float]) -> AdultLife:
    from monitor.development.rates import AdultLife

    leads = numbers.get("male_lead_low_days", 0.0), numbers.get("male_lead_high_days", 0.0)
    eggs = numbers.get("eggs_per_female_low", 0.0), numbers.get("eggs_per_female_high", 0.0)
    known = "female_share female_share_sd male_life_days female_life_days life_variation eggs_per_gram"
    own = _given(numbers, f"{known} own_origin_share laying_variation")
    return AdultLife(male_lead_days=leads, eggs_per_female=eggs, **own)


def _limits(numbers: Mapping[str, float]) -> SpeciesLimits:
    from monitor.development.rates import SpeciesLimits

    known = "most_eggs_per_female heaviest_female_mg heaviest_larva_mg most_eggs_grams most_larvae_per_cm2"
    return SpeciesLimits(**_given(numbers, f"{known} soonest_share_asked soonest_share_refused"))


def _with_spread(plain: SpeciesParameters, numbers: Mapping[str, float]) -> SpeciesParameters:
    known = "individual_variation spread_log_sd cohort_log_sd heat_damage_c heat_failure_hours"
    return replace(plain, death=_death(numbers), **_given(numbers, known))


def _death(numbers: Mapping[str, float]) -> ThermalDeath | None:
    """How fast heat kills, where the file says how much faster it kills when it is hotter."""
    from monitor.development.rates import ThermalDeath

    keys = ("heat_damage_c", "heat_reference_c", "heat_failure_hours", "heat_z_c")
    if any(key not in numbers for key in keys):
        return None
    from_c, reference_c, hours, z_c = (numbers[key] for key in keys)
    return ThermalDeath(from_c, reference_c, hours, z_c, numbers.get("heat_log_sd", 0.0))


def _given(numbers: Mapping[str, float], names: str) -> dict[str, Any]:
    return {name: numbers[name] for name in names.split() if name in numbers}
