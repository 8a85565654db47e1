"""Bins that heat themselves share their past days: the next ones are no copy of the bin's own last ones."""

from __future__ import annotations

import numpy as np
from development_builders import FLY, NOW_MS, clocks_of, known_level, steady

from monitor.development.ensemble import ensemble_clocks, future_draws
from monitor.records import MS_PER_DAY, Stage

CLOCKS = clocks_of(FLY, cool=steady(22.0), hot=steady(32.0), room=steady(22.0))
DRAWS = known_level(future_draws(1, 400))
LARVA = FLY.stages[FLY.index_of(Stage.LARVA)]
EGG = FLY.stages[FLY.index_of(Stage.EGG)]
POOLED = ensemble_clocks(CLOCKS, DRAWS, NOW_MS, alike=("cool", "hot"))


def _earned(place: str, days: float) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Degree-days of each course from now on, or up to now for negative days."""
    clock = POOLED(place, LARVA)
    assert clock is not None
    courses = np.arange(DRAWS.draws)
    now, other = (np.full(len(courses), at) for at in (float(NOW_MS), NOW_MS + days * MS_PER_DAY))
    return clock.units_at(other, courses) - clock.units_at(now, courses)


def test_the_future_of_alike_places_is_drawn_from_the_days_of_all() -> None:
    """Days at 22 and 32 °C earn 10 and 20 degree-days above 12 °C; ten days of either, half and half, 150."""
    for place in ("cool", "hot"):
        assert abs(float(_earned(place, 10.0).mean()) - 150.0) < 3.0
        assert float(_earned(place, 10.0).std()) > 10.0


def test_the_past_stays_that_of_the_place() -> None:
    assert np.allclose(_earned("cool", -10.0), -100.0)
    assert np.allclose(_earned("hot", -10.0), -200.0)


def test_other_places_keep_their_own_days() -> None:
    assert np.allclose(_earned("room", 10.0), 100.0)


def test_a_stage_that_goes_by_the_air_is_not_pooled() -> None:
    clock = POOLED("hot", EGG)
    assert clock is not None
    courses = np.arange(DRAWS.draws)
    now = np.full(len(courses), float(NOW_MS))
    tomorrow = np.full(len(courses), float(NOW_MS + MS_PER_DAY))
    assert np.allclose(clock.units_at(tomorrow, courses) - clock.units_at(now, courses), 20.0)


def test_a_place_without_temperature_has_no_clock() -> None:
    assert POOLED("nowhere", LARVA) is None
