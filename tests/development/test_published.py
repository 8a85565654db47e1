"""The table of published times against the species files, as `learn --published` prints it."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from development_builders import FLY

from monitor.development.published import ComparedTime, PublishedTime, compared
from monitor.errors import SettingsError
from monitor.records import Stage
from monitor.settings.species import available_species, load_species, parse_species, published_times

ROWS = [(name, time) for name in available_species() for time in published_times(load_species(name))]
BLACK_SOLDIER_FLY = Path(__file__).parents[2] / "monitor" / "species" / "black_soldier_fly.toml"


def told(row: tuple[str, ComparedTime]) -> str:
    published = row[1].published
    return f"{row[0]}-{'+'.join(published.stages)}-{published.feed}-{published.said}"


@pytest.mark.parametrize("row", ROWS, ids=told)
def test_no_default_leaves_a_published_range_without_a_reason(row: tuple[str, ComparedTime]) -> None:
    """And no reason stands beside one that is inside: it would be one that nobody needs any more."""
    _, time = row

    assert time.is_inside or len(time.published.reason) > 20
    assert not (time.is_inside and time.published.reason)


def test_every_stage_of_the_fly_has_a_row() -> None:
    stages = {stage for name, time in ROWS if name == "black_soldier_fly" for stage in time.published.stages}

    assert stages == {stage.stage for stage in FLY.stages}


PUBLISHED = [
    # stage, feed, temperature, stated, low, high: as in the abstracts that the rows name.
    (Stage.LARVA, "brewery_grain", 27.0, True, 22.0, 24.0),
    (Stage.LARVA, None, 27.0, True, 22.0, 24.0),
    (Stage.LARVA, None, 28.0, False, 16.0, 21.0),
    (Stage.PREPUPA, None, 28.0, False, 8.0, 11.0),
    (Stage.PUPA, None, 28.0, False, 8.7, 9.1),
    (Stage.ADULT, None, 28.0, False, 3.0, 5.0),
    (Stage.ADULT, None, 28.0, False, 7.0, 11.0),
    (Stage.ADULT, None, 28.0, False, 8.0, 14.0),
]


@pytest.mark.parametrize(("stage", "feed", "at_c", "stated", "low", "high"), PUBLISHED)
def test_the_ranges_are_those_of_the_papers(
    stage: Stage, feed: str | None, at_c: float, stated: bool, low: float, high: float
) -> None:
    """Tomberlin, Sheppard & Joyce 2002; Chia et al. 2018, PeerJ; Kobelski et al. 2024: abstracts."""
    found = [
        (each.is_stated, each.low_days, each.high_days)
        for name, each in ((name, time.published) for name, time in ROWS)
        if name == "black_soldier_fly"
        and (each.stages, each.feed, each.temperature_c) == ((stage,), feed, at_c)
    ]

    assert (stated, low, high) in found


@pytest.mark.parametrize(
    ("stage", "low", "high"), [(Stage.PREPUPA, 8.0, 11.0), (Stage.ADULT, 3.0, 5.0), (Stage.ADULT, 7.0, 11.0)]
)
def test_conflicts_are_in_the_width(stage: Stage, low: float, high: float) -> None:
    """Before, prepupae had 4.6-10.3 d and first eggs 2.7-4.5 d at 28 °C."""
    times = [time for name, time in ROWS if time.published.stages == (stage,) and name.startswith("black")]

    (held,) = [each for each in times if (each.published.low_days, each.published.high_days) == (low, high)]
    assert held.is_held


def test_median_and_window_of_one_stage() -> None:
    """K / (T - T0), and log-normal quantiles of farm and cohort together."""
    row = PublishedTime((Stage.PUPA,), None, 0.0, 27.0, True, 8.0, 9.0, "8-9 d", "", "published", "x", "")
    species = replace(FLY, stages=tuple(replace(each, thermal_constant=150.0) for each in FLY.stages))

    found = compared(row, species)

    assert found.median_days == pytest.approx(10.0)
    spread = np.exp(1.2816 * np.hypot(0.2, 0.08))
    assert (found.low_days, found.high_days) == pytest.approx((10.0 / spread, 10.0 * spread), rel=1e-3)
    assert (found.is_inside, found.is_held) == (False, True)


def test_a_skewed_stage_has_a_longer_window_above() -> None:
    row = PublishedTime((Stage.ADULT,), None, 0.0, 28.0, False, 9.0, None, "9 d", "", "cited", "x", "why")

    found = compared(row, FLY)

    assert found.high_days / found.median_days > 2.0 > found.median_days / found.low_days
    assert (found.is_inside, found.is_held) == (False, True)


def test_at_a_temperature_without_development_there_is_no_time() -> None:
    row = PublishedTime((Stage.EGG,), None, 0.0, 5.0, True, 9.0, None, "9 d", "", "cited", "x", "why")

    assert compared(row, FLY).median_days == float("inf")


@pytest.mark.parametrize(
    ("wrong", "right", "said"),
    [
        ("high_days = 4.5", "high_days = 3.0", "high_days must not lie below low_days"),
        ('said = "about 4 d"', 'said = "about 4 d"\nfeed = "chocolate"', "no such stage or feed"),
        ('source = "Zhang et al. 2010, J. Insect Sci. 10:202, abstract"', 'source = ""', "needs its source"),
    ],
)
def test_rows_that_cannot_be_are_refused(wrong: str, right: str, said: str) -> None:
    text = BLACK_SOLDIER_FLY.read_text(encoding="utf-8")
    before, rows = text.split("[[published]]", 1)
    broken = before + "[[published]]" + rows.replace(wrong, right, 1)

    with pytest.raises(SettingsError, match=said):
        parse_species(broken, "fly.toml")


def test_a_file_without_rows_still_loads() -> None:
    text = BLACK_SOLDIER_FLY.read_text(encoding="utf-8")
    plain = tomllib.loads(text)
    assert plain["published"]
    head, _, rest = text.partition("[[published]]")
    alarms = rest[rest.index("\n[[alarms]]") :]

    species = parse_species(head + alarms, "fly.toml")

    assert published_times(species) == ()
    assert species.alarms
