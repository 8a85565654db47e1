"""Substrate files: complete, sourced, and equal to what the model assumes by default."""

from __future__ import annotations

import re
from importlib import resources

import pytest

from monitor.bins.substrate import SubstrateParameters
from monitor.errors import SettingsError
from monitor.settings.species import available_substrates, load_substrate, parse_substrate


def text_of(name: str) -> str:
    return (resources.files("monitor") / "substrates" / f"{name}.toml").read_text(encoding="utf-8")


MEASURED_HEAT = "".join(
    f'[[heat]]\nage_days = {days}\nw_m2 = {{ value = {heat}, mark = "choice", source = "own bins" }}\n'
    for days, heat in ((0.0, 5.0), (4.0, 20.0), (7.0, 50.0), (10.0, 120.0), (13.0, 120.0))
)
"""Heat by age as the files of the release before had it; a farm's own figures still stand so in a file."""


def test_a_file_of_the_release_before_still_loads() -> None:
    """Its heat by age stands in place of what animals make; the numbers it lacks are those of the model."""
    without = [
        line
        for line in text_of("wheat_bran").splitlines()
        if not line.startswith(("peak_mg", "growth_per_day", "edible_share"))
    ]
    found = parse_substrate("\n".join(without) + "\n" + MEASURED_HEAT, "mine.toml").parameters("mine")
    assert found.heat_by_age[3] == (10.0, 120.0)
    assert (found.peak_mg, found.edible_share) == (220.0, 0.62)


@pytest.mark.parametrize("name", available_substrates())
def test_every_file_loads_and_every_number_has_a_source(name: str) -> None:
    assert load_substrate(name).name == name
    numbers = re.findall(r"value = [^}]*}", text_of(name))
    assert len(numbers) >= 29 and "[[heat]]" not in text_of(name)
    assert [each for each in numbers if "mark = " not in each or 'source = ""' in each] == []


def test_bran_is_what_the_model_assumes_by_default() -> None:
    assert load_substrate("wheat_bran") == SubstrateParameters()


def test_the_three_that_come_with_the_program() -> None:
    assert available_substrates() == ("chicken_feed", "kitchen_waste", "wheat_bran")


def test_an_unknown_name_lists_the_known_ones() -> None:
    with pytest.raises(SettingsError, match="chicken_feed, kitchen_waste, wheat_bran"):
        load_substrate("sawdust")


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("dry_warning = { value = 0.55", "dry_warning = { value = 0.40", "each must be above the one before"),
        ("wet_limit = { value = 0.85", "wet_limit = { value = 85.0", "ratio between 0 and 1"),
        (
            "larva_moisture = { value = 0.7",
            "larva_moisture = { value = 70.0",
            "between 0 and 1: larva_moisture",
        ),
        ("crust_hours = { value = 48.0", "crust_hours = { value = 0.0", "must be above 0: crust_hours"),
        ("age_days = 4.0", "age_days = 40.0", "ages of .*heat.* must rise"),
        ("w_m2 = { value = 120.0", "w_m2 = { value = 1200.0", "between 0 and 300"),
        ("edible_share = { value = 0.62", "edible_share = { value = 62", "between 0 and 1: edible_share"),
        ("peak_mg = { value = 220.0", "peak_mg = { value = 0.0", "must be above 0: peak_mg"),
        ("bran_moisture", "bran_wetness", "bran_wetness"),
        ('mark = "published"', 'mark = "certain"', "mark"),
        ("[numbers]", "[numbers", "not TOML"),
        ("[bands.hatching_tray]", "[bands.love_cage]", "love_cage"),
    ],
)
def test_a_wrong_file_says_what_is_wrong(old: str, new: str, words: str) -> None:
    text = text_of("wheat_bran") + MEASURED_HEAT
    assert old in text
    with pytest.raises(SettingsError, match=words) as caught:
        parse_substrate(text.replace(old, new, 1), "mine.toml")
    assert "mine.toml" in str(caught.value)


def test_all_problems_are_named_at_once() -> None:
    text = (
        text_of("wheat_bran")
        .replace("crust_hours", "krust_hours")
        .replace('mark = "published"', 'mark = "x"')
    )
    with pytest.raises(SettingsError) as caught:
        parse_substrate(text, "mine.toml")
    assert len(caught.value.problems) >= 3


def test_bands_for_a_tray_are_wetter_at_the_dry_end() -> None:
    found = load_substrate("kitchen_waste")
    assert found.hatching_bands.dry_warning > found.bands.dry_warning
    assert found.bands.target == pytest.approx((found.bands.target_low + found.bands.target_high) / 2)
