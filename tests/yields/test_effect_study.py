"""On simulated farms of other physics effects that exist are found, and those that do not are not claimed."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
from effect_study import Told, shares, told
from yield_farms import NO_EFFECTS, Effects

SMALL_SEEDS = range(3000, 3060)
LAST_SEEDS = range(5000, 5300)
"""Seeds of the small study; those of the whole one, on which nothing was ever tried out."""
MOST_WRONG = 0.05
"""Of all farms, told of something that is not there."""
COLD, DRY = "eggs cold_nights", "hatch dry_hours"


def of_kind(every: Sequence[Told], kind: str) -> dict[str, float]:
    return shares([each for each in every if each.kind == kind])


@pytest.fixture(scope="module")
def without() -> list[Told]:
    return told(SMALL_SEEDS, 60, NO_EFFECTS)


@pytest.fixture(scope="module")
def with_both() -> list[Told]:
    return told(SMALL_SEEDS, 120, Effects(cold_nights=0.5, dry_hours=0.15))


def test_what_is_not_there_is_said_on_few_farms(without: list[Told], with_both: list[Told]) -> None:
    """At most 5 %, and three standard errors of so few farms; said of the things that are not there, too."""
    for every in (without, with_both):
        found = shares(every)
        error = np.sqrt(MOST_WRONG * (1.0 - MOST_WRONG) / found["farms"])
        assert found["wrong"] <= MOST_WRONG + 3.0 * error
        assert found["judged"] > 60


def test_what_is_there_is_found(with_both: list[Told]) -> None:
    """Half of the eggs of cold nights, a seventh of the hatch for a dry day, at 120 nights."""
    cold, dry = of_kind(with_both, COLD), of_kind(with_both, DRY)
    assert cold["judged"] > 30
    assert cold["said"] > 0.65
    assert cold["sign"] > 0.95
    assert dry["judged"] > 10
    assert dry["said"] > 0.5
    assert dry["sign"] > 0.9


def test_intervals_hold_about_what_they_say(without: list[Told], with_both: list[Told]) -> None:
    assert 0.7 < shares(without)["held"] < 0.97
    assert 0.6 < of_kind(with_both, COLD)["held"] < 0.95


def test_the_check_would_find_claims_made_too_lightly(with_both: list[Told]) -> None:
    """Were everything said whose middle is below 0.9, far more than 5 % of farms would be told wrong."""
    light = {
        each.farm for each in with_both if each.truth == 0.0 and each.effect.middle < 0.9 and each.is_judged
    }
    assert len(light) > 0.2 * len(SMALL_SEEDS)


@pytest.mark.study
@pytest.mark.timeout(3600)
def test_three_hundred_farms_without_and_with_effects() -> None:
    """The whole study, on seeds of its own; run it with -s to see every kind."""
    wrong = []
    for nights in (60, 120, 200):
        for effects in (
            NO_EFFECTS,
            Effects(cold_nights=0.3, dry_hours=0.15, hot_box=0.3, cold_bins=0.1),
            Effects(cold_nights=0.5, dry_hours=0.3, hot_box=0.5, cold_bins=0.2),
        ):
            every = told(LAST_SEEDS, nights, effects)
            found = shares(every)
            print(f"{nights} nights, {effects}: told wrongly {found['wrong']:.3f}, held {found['held']:.3f}")
            for kind in sorted({each.kind for each in every}):
                row = of_kind(every, kind)
                print(f"    {kind:24}", "  ".join(f"{name} {value:.3f}" for name, value in row.items()))
            wrong.append(found["wrong"])
    assert max(wrong) <= MOST_WRONG
