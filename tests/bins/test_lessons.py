"""What fills of a farm teach the next one."""

from __future__ import annotations

import math

import numpy as np
import pytest

from monitor.bins.lessons import (
    OWN_GRID,
    UNKNOWN_FARM,
    FactorPrior,
    Lesson,
    lesson_of,
    taught,
)


def test_without_a_lesson_the_farm_is_unknown() -> None:
    assert taught([]) is UNKNOWN_FARM


def test_a_lesson_is_what_was_added_to_a_belief() -> None:
    """A normal belief with sd 0.4 and a measurement of 0.3 with sd 0.3: 0.192 with sd 0.24."""
    lesson = lesson_of(FactorPrior(0.0, 0.4), 0.192, 0.24)
    assert lesson is not None
    assert (lesson.log_factor, lesson.log_sd) == pytest.approx((0.3, 0.3))
    assert lesson_of(FactorPrior(0.0, 0.4), 0.01, 0.3999) is None


@pytest.mark.parametrize("spread", [0.1, 0.3])
def test_many_fills_teach_where_the_farm_lies_and_how_far_its_fills_differ(spread: float) -> None:
    rng = np.random.default_rng(3)
    lessons = [Lesson(-0.3 + rng.normal(0.0, spread) + rng.normal(0.0, 0.1), 0.1) for _ in range(40)]
    found = taught(lessons)
    assert found.fills == 40
    assert found.log_mean == pytest.approx(-0.3, abs=0.1)
    assert found.log_sd == pytest.approx(spread, rel=0.35)


def test_one_fill_moves_the_belief_part_of_the_way_and_narrows_it() -> None:
    found = taught([Lesson(-0.4, 0.15)])
    assert -0.4 < found.log_mean < -0.15
    assert OWN_GRID[0] < found.log_sd < UNKNOWN_FARM.log_sd


def test_a_doubtful_fill_teaches_little() -> None:
    found = taught([Lesson(1.0, 2.0)])
    assert abs(found.log_mean) < 0.05
    assert found.log_sd == pytest.approx(UNKNOWN_FARM.log_sd, rel=0.02)


def test_the_grid_holds_its_own_mean_without_evidence() -> None:
    """A lesson without content gives the variance of the unknown farm again."""
    found = taught([Lesson(0.0, 1e3)])
    assert math.isclose(found.log_sd, UNKNOWN_FARM.log_sd, rel_tol=0.001)
