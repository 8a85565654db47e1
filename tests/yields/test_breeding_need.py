"""Prepupae to keep for a number of grams a week, and by when."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from development_builders import FLY, NOW_MS, PREPUPA_DD, PUPA_DD, clocks_of, known_level_basis, steady

from monitor.development.posterior import prior_posterior
from monitor.records import MS_PER_DAY, Stage
from monitor.yields.breeding import prepupae_to_keep, start_of
from monitor.yields.forecast import EggForecast, cage_flies, forecast_eggs
from monitor.yields.laying import day_grid
from monitor.yields.records import FliesPutIn, Takings

WEEK_MS = NOW_MS + 42 * MS_PER_DAY


def known(mg: float) -> EggForecast:
    """A forecast in which a female gives so many milligrams without any doubt."""
    grid = day_grid(NOW_MS, 0, 140, 56)
    takings = Takings(flies=(FliesPutIn(at_ms=NOW_MS, place="cage-1", count=100.0),))
    found = forecast_eggs(takings, [cage_flies("cage-1", takings, [], FLY, grid)], FLY, grid)
    return replace(found, log_levels=np.full_like(found.log_levels, np.log(mg / 1000.0)))


def test_prepupae_are_grams_by_female_share_and_survival() -> None:
    """10 g of 13 mg females, half of the flies, 0.97 of the best warmth at 27 °C."""
    found = prepupae_to_keep(10.0, WEEK_MS, known(13.0), FLY)
    lives = np.prod([np.mean(s.survival) for s in FLY.stages if s.stage in (Stage.PREPUPA, Stage.PUPA)])
    assert found.even == pytest.approx(10.0 / (0.013 * 0.5 * 0.97 * lives), rel=0.04)
    assert 1.05 * found.even < found.safe < 1.5 * found.even
    assert found.safe_ms is None


def test_twice_the_grams_or_half_the_eggs_need_twice_the_prepupae() -> None:
    one = prepupae_to_keep(10.0, WEEK_MS, known(13.0), FLY)
    assert prepupae_to_keep(20.0, WEEK_MS, known(13.0), FLY).even == pytest.approx(2.0 * one.even)
    assert prepupae_to_keep(10.0, WEEK_MS, known(6.5), FLY).even == pytest.approx(2.0 * one.even)


def test_they_are_set_aside_by_the_time_that_they_need() -> None:
    basis = known_level_basis(clocks_of(room=steady(27.0)))
    route = {stage.stage: "room" for stage in FLY.stages}
    start = start_of(WEEK_MS, route, FLY, prior_posterior(FLY), basis)
    assert start is not None
    takes_days = (PREPUPA_DD + PUPA_DD + 56.0) / (27.0 - 12.0)
    assert start.even_ms == pytest.approx(WEEK_MS + (3.5 - takes_days) * MS_PER_DAY, abs=1.5 * MS_PER_DAY)
    found = prepupae_to_keep(10.0, WEEK_MS, known(13.0), FLY, start)
    assert found.safe_ms is not None and found.even_ms is not None and found.safe_ms < found.even_ms


def test_in_the_cold_no_date_is_told() -> None:
    basis = known_level_basis(clocks_of(room=steady(27.0)))
    route = {stage.stage: "room" for stage in FLY.stages}
    assert start_of(WEEK_MS, route, FLY, prior_posterior(FLY), basis, warmth_c=11.0) is None


def test_where_no_warmth_is_known_no_date_is_told() -> None:
    """Not that it is too late."""
    basis = known_level_basis(clocks_of(room=steady(27.0)))
    route = {stage.stage: "a room without a sensor" for stage in FLY.stages}
    assert start_of(WEEK_MS, route, FLY, prior_posterior(FLY), basis) is None
