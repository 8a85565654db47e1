"""Species files: what is read, and what a person is told when one is wrong."""

from __future__ import annotations

import pytest
from pydantic import ValidationError

from monitor.errors import SettingsError
from monitor.records import PlaceKind
from monitor.settings.species import available_species, load_species, parse_species

HEAD = '[species]\nname = "x"\nlatin_name = "X y"\n'
STAGE = """
[stages.egg]
threshold_c = {value = 12.0, mark = "choice"}
thermal_constant_dd = {value = 52.0, mark = "published", source = "a paper"}
log_sd = {value = 0.15, mark = "choice"}
"""
ALARM = """
[[alarms]]
place_kinds = ["room"]
quantity = "air_temperature"
side = "high"
priority = "high"
setpoint = 40.0
deadband = 1.0
on_delay_minutes = 2.0
off_delay_minutes = 5.0
consequence = "Flies die."
response = "Open the vents."
mark = "choice"
"""


def refusal(text: str) -> str:
    with pytest.raises(SettingsError) as refused:
        parse_species(text, "cricket.toml")
    return str(refused.value)


def test_the_black_soldier_fly_is_there_for_every_kind_of_place() -> None:
    assert "black_soldier_fly" in available_species()
    species = load_species("black_soldier_fly")
    assert species.species.latin_name == "Hermetia illucens"
    assert {kind for alarm in species.alarms for kind in alarm.place_kinds} == set(PlaceKind)


@pytest.mark.parametrize("name", available_species())
def test_every_species_file_is_right(name: str) -> None:
    species = load_species(name)
    assert all(alarm.source for alarm in species.alarms if alarm.mark in ("published", "cited"))


def test_a_species_reads_into_frozen_records() -> None:
    species = parse_species(HEAD + STAGE + ALARM, "cricket.toml")
    assert species.stages["egg"].thermal_constant_dd.value == 52.0  # type: ignore[index]
    assert species.stages["egg"].temperature_of == "air"  # type: ignore[index]
    with pytest.raises(ValidationError, match="frozen"):
        species.alarms[0].setpoint = 3.0


def test_an_unknown_species_names_those_that_are_there() -> None:
    with pytest.raises(SettingsError, match=r"site\.species.*black_soldier_fly"):
        load_species("../secrets")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (HEAD + "x = ", "not TOML"),
        ('[species]\nname = "x"\n', "species.latin_name is missing"),
        (HEAD + "colour = 3\n", "species.colour"),
        (HEAD + STAGE.replace(', source = "a paper"', ""), "needs its source"),
        (HEAD + STAGE.replace("52.0", "nan"), "thermal_constant_dd.value"),
        (HEAD + STAGE.replace('"choice"', '"memory"', 1), "threshold_c.mark"),
        (HEAD + STAGE.replace("egg", "nymph"), "nymph"),
        (HEAD + ALARM.replace('"air_temperature"', '"warmth"'), "'warmth' is not known"),
        (HEAD + ALARM.replace('["room"]', "[]"), "alarms.0.place_kinds"),
        (HEAD + ALARM.replace("deadband = 1.0", "deadband = -1.0"), "alarms.0.deadband is -1.0"),
        (HEAD + ALARM.replace('mark = "choice"', 'mark = "published"'), "needs its source"),
    ],
    ids=lambda value: value[-40:].replace("\n", " "),
)
def test_what_is_wrong_is_said(text: str, words: str) -> None:
    told = refusal(text)
    assert words in told
    assert told.startswith("cricket.toml: ")


def test_all_problems_come_at_once() -> None:
    told = refusal(HEAD + ALARM.replace("40.0", '"hot"').replace('"high"\nset', '"urgent"\nset'))
    assert "alarms.0.setpoint" in told
    assert "alarms.0.priority" in told
