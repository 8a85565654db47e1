"""A farm's own numbers: they take the place of those in the species file, and wrong ones are refused."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from settings_files import SMALL, only_problem

from monitor.records import Stage
from monitor.settings.plan import with_own_numbers
from monitor.settings.schema import OwnNumber
from monitor.settings.species import load_species, species_parameters

FLY = load_species("black_soldier_fly")


def test_a_number_of_the_farm_stands_in_for_that_of_the_species_file() -> None:
    own = (
        OwnNumber(
            number="thermal_constant_dd", value=280.0, stage=Stage.LARVA, source="batches of last summer"
        ),
        OwnNumber(number="thermal_constant_dd", value=310.0, stage=Stage.LARVA, feed="brewery_grain"),
        OwnNumber(number="female_life_days", value=12.0),
    )
    changed = with_own_numbers(FLY, own)
    plain, grain = species_parameters(changed), species_parameters(changed, "brewery_grain")

    assert plain.stages[1].thermal_constant == 280.0
    assert grain.stages[1].thermal_constant == 310.0
    assert plain.adult.female_life_days == 12.0
    assert changed.stages[Stage.LARVA].thermal_constant_dd.source == "batches of last summer"
    assert changed.alarms == FLY.alarms


def test_without_own_numbers_nothing_changes() -> None:
    assert with_own_numbers(FLY, ()) is FLY


@pytest.mark.parametrize(
    ("lines", "said"),
    [
        ('number = "thermal_constant_dd"\nvalue = 1.0', "say the stage that it belongs to"),
        ('stage = "larva"\nnumber = "thermal_constant"\nvalue = 1.0', 'write "thermal_constant_dd"'),
        ('number = "female_life"\nvalue = 1.0', 'write "female_life_days"'),
        ('stage = "larva"\nfeed = "grass"\nnumber = "log_sd"\nvalue = 0.1', "brewery_grain .larva."),
        ('feed = "brewery_grain"\nnumber = "log_sd"\nvalue = 0.1', "brewery_grain .larva."),
        ('stage = "larva"\nnumber = "thermal_constant_dd"\nvalue = 0', "allowed: above 0"),
        ('stage = "larva"\nnumber = "thermal_constant_dd"\nvalue = -5', "allowed: 0 or more"),
        (
            'stage = "egg"\nnumber = "upper_threshold_c"\nvalue = 5',
            "is 5 and must lie above",
        ),
    ],
)
def test_a_number_without_a_place_is_refused(lines: str, said: str, tmp_path: Path) -> None:
    found = only_problem(tmp_path, f"{SMALL}\n[[own_numbers]]\n{lines}\n")
    assert re.search(said, str(found)), str(found)


def test_the_same_number_twice_is_refused(tmp_path: Path) -> None:
    table = '[[own_numbers]]\nnumber = "female_life_days"\nvalue = 9.0\n'
    found = only_problem(tmp_path, f"{SMALL}\n{table}\n{table}")
    assert "as in own_numbers[0] already" in str(found)
