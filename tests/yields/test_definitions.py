"""Definitions of yield by hand, and what each refuses. Published figures: test_published_yields."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest

from monitor.errors import UsageError
from monitor.yields.definitions import (
    Basis,
    bioconversion,
    conversion_efficiency,
    counted_share,
    dry,
    eggs_per_female,
    eggs_per_gram,
    emergence,
    feed_conversion,
    female_days,
    larvae_left,
    reduction,
    specific_growth_rate,
    survival,
    waste_reduction_index,
    weighted_share,
)
from monitor.yields.figures import Figure, Lack, total, unknown, worked

DAY = 86_400_000


def test_each_formula_by_hand() -> None:
    assert dry(10.0, 0.7) == pytest.approx(3.0)
    assert bioconversion(2.1, 0.1, 8.0) == 0.25
    assert reduction(4.0, 1.0) == 0.75
    assert waste_reduction_index(0.75, 10.0) == 7.5
    assert feed_conversion(8.0, 2.0) == 4.0
    assert conversion_efficiency(0.75, 4.0, 1.0) == 0.25
    assert specific_growth_rate(1.0, math.e, 4.0) == pytest.approx(25.0)
    assert larvae_left(1.8, 180.0) == pytest.approx(10_000.0)
    assert survival(9_000.0, 10_000.0) == 0.9
    assert counted_share(3.0, 1.0) == 0.75
    assert emergence(95.0, 100.0) == 0.95
    assert weighted_share([(0.5, 1.0), (0.8, 3.0)]) == pytest.approx(0.725)
    assert eggs_per_gram(25.0) == 40_000.0
    assert eggs_per_female(2.0, 100.0, 40_000.0) == 800.0


def test_a_count_that_was_off_stays_to_be_seen() -> None:
    assert survival(10_600.0, 10_000.0) == 1.06
    assert emergence(110.0, 100.0) == pytest.approx(1.1)


def test_larvae_that_lost_mass_give_a_negative_bioconversion() -> None:
    assert bioconversion(0.5, 1.0, 5.0) == -0.1


def test_female_days_are_the_overlap_of_their_life_with_the_span() -> None:
    assert female_days(10.0, 0, 5.0, 0, 100 * DAY) == 50.0
    assert female_days(10.0, 0, 5.0, 3 * DAY, 4 * DAY) == 10.0
    assert female_days(10.0, 0, 5.0, 5 * DAY, 9 * DAY) == 0.0
    assert female_days(10.0, 8 * DAY, 5.0, 0, 4 * DAY) == 0.0


@pytest.mark.parametrize(
    ("wrong", "word"),
    [
        (lambda: dry(1.0, 1.2), "moisture"),
        (lambda: dry(-1.0, 0.5), "mass"),
        (lambda: bioconversion(1.0, 0.0, 0.0), "feed"),
        (lambda: bioconversion(-1.0, 0.0, 1.0), "larvae"),
        (lambda: reduction(1.0, 1.5), "residue"),
        (lambda: reduction(0.0, 0.0), "feed"),
        (lambda: waste_reduction_index(0.5, 0.0), "days"),
        (lambda: waste_reduction_index(59.0, 10.0), "reduction"),
        (lambda: feed_conversion(1.0, 0.0), "gained"),
        (lambda: conversion_efficiency(2.0, 2.0, 1.0), "gained"),
        (lambda: conversion_efficiency(0.1, 1.0, 1.0), "eaten"),
        (lambda: specific_growth_rate(0.0, 1.0, 1.0), "mass"),
        (lambda: specific_growth_rate(1.0, 2.0, -1.0), "days"),
        (lambda: larvae_left(1.0, 0.0), "mass"),
        (lambda: survival(1.0, 0.0), "larvae"),
        (lambda: counted_share(0.0, 0.0), "counted"),
        (lambda: emergence(1.0, 0.0), "boxed"),
        (lambda: weighted_share([]), "eggs"),
        (lambda: weighted_share([(60.0, 1.0)]), "share"),
        (lambda: eggs_per_gram(0.0), "egg"),
        (lambda: eggs_per_female(1.0, 0.0, 38_000.0), "females"),
        (lambda: dry(math.nan, 0.5), "mass"),
    ],
)
def test_what_cannot_be_is_refused_with_what_is_allowed(wrong: Callable[[], float], word: str) -> None:
    with pytest.raises(UsageError, match="allowed") as refused:
        wrong()
    assert word in str(refused.value)


def test_figures_with_different_bases_are_never_compared() -> None:
    wet, dried = Figure(3.6, 2, basis=Basis.WET), Figure(4.3, 2, basis=Basis.DRY)
    with pytest.raises(UsageError, match="wet with wet"):
        assert wet < dried
    with pytest.raises(UsageError, match="wet with wet"):
        max(wet, dried)
    with pytest.raises(UsageError, match="wet with wet"):
        assert dried < Figure(1.5, 2, basis=Basis.DRY_FRESH)
    assert Figure(3.0, 1, basis=Basis.WET) < wet
    assert not unknown(Lack.FEED, basis=Basis.WET) < wet


def test_nothing_written_is_unknown_and_not_zero() -> None:
    assert total([]) == Figure(None, 0, (Lack.NOTHING_WRITTEN,))
    assert total([0.0]) == Figure(0.0, 1)
    assert total([0.1] * 10).value == 1.0


def test_what_is_worked_out_carries_entries_and_lacks_of_its_inputs() -> None:
    one = Figure(1.0, 2, (Lack.LARVAE_IN, Lack.FEED))
    both = worked(3.0, one, Figure(2.0, 5, (Lack.FEED,)), sd=0.3)
    assert both == Figure(3.0, 7, (Lack.LARVAE_IN, Lack.FEED), 0.3)
    assert both.times(1000.0) == Figure(3000.0, 7, (Lack.LARVAE_IN, Lack.FEED), 300.0)
    assert unknown(Lack.FEED).times(2.0) == unknown(Lack.FEED)
