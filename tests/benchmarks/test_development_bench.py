"""Speed of the development model.

Goals: forecasts of 1,000 cohorts over 60 days of minute data under 2 s on two cores; degree-days within twice
the bare numpy expression.
"""

from __future__ import annotations

import threading
import time
from functools import partial
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest

from monitor.climate.arrays import FloatArray
from monitor.development.clocks import PlaceClimate, stage_clocks
from monitor.development.courses import CohortCase, forecast_basis
from monitor.development.degree_days import degree_days_of_steps
from monitor.development.forecast import CohortForecast, forecast_cohorts
from monitor.development.posterior import prior_posterior
from monitor.development.progress import CohortTrack, Residence
from monitor.development.temperature_series import TemperatureSeries, fill_gaps, series_of
from monitor.farm.development import shared_out
from monitor.records import MS_PER_DAY, MS_PER_MINUTE, Stage
from monitor.settings.species import load_species, species_parameters

FLY = species_parameters(load_species("black_soldier_fly"))
DAYS = 60
NOW_MS = 20_000 * MS_PER_DAY + 9 * 60 * MS_PER_MINUTE
TIMES = np.arange(NOW_MS - DAYS * MS_PER_DAY, NOW_MS + 1, MS_PER_MINUTE, dtype=np.int64)
PLACES = {"tray": (3, False), "bin": (6, True), "box": (2, False), "cage": (1, False)}


def place_series(mean_c: float, generator: np.random.Generator) -> TemperatureSeries:
    """60 days of minute readings."""
    values = mean_c + 4.0 * np.sin(2.0 * np.pi * TIMES / MS_PER_DAY) + generator.normal(0.0, 0.3, len(TIMES))
    return series_of(TIMES, values)


def farm() -> list[tuple[str, TemperatureSeries, TemperatureSeries | None]]:
    generator = np.random.default_rng(3)
    return [
        (f"{kind}{n}", place_series(27.0, generator), place_series(30.0, generator) if probe else None)
        for kind, (number, probe) in PLACES.items()
        for n in range(number)
    ]


def cohorts(number: int) -> list[CohortCase]:
    """Cohorts of all ages; each moves from a tray to a bin, a box and the cage."""
    generator = np.random.default_rng(4)
    found = []
    for n in range(number):
        start = int(NOW_MS - generator.uniform(0.0, 50.0) * MS_PER_DAY)
        route = zip((f"tray{n % 3}", f"bin{n % 6}", f"box{n % 2}", "cage0"), (0, 4, 24, 38), strict=True)
        stays = tuple(Residence(place, start + day * MS_PER_DAY) for place, day in route)
        found.append(CohortCase(CohortTrack(f"c{n}", start, stays, count=1000.0, count_stage=Stage.EGG)))
    return found


FARM = farm()
CASES = cohorts(1000)


def forecast_all(cases: list[CohortCase], by_two: bool = False) -> list[CohortForecast]:
    """All of it, from gaps to curves; with `by_two` shared out as a look at the farm does."""
    start_ms = int(TIMES[0])
    climates = [
        PlaceClimate(
            place,
            fill_gaps(air, start_ms, NOW_MS),
            None if probe is None else fill_gaps(probe, start_ms, NOW_MS),
        )
        for place, air, probe in FARM
    ]
    basis = forecast_basis(stage_clocks(climates, [FLY]), NOW_MS)
    work = partial(forecast_cohorts, species=FLY, posterior=prior_posterior(FLY), basis=basis)
    return shared_out(work, cases) if by_two else work(cases)


def test_thousand_cohorts_on_two_cores(benchmark: Any, figure: Any) -> None:
    """By the product itself, which shares them out between two processes; it has no other threads here."""
    assert threading.active_count() == 1
    found = benchmark.pedantic(forecast_all, args=(CASES, True), rounds=3, warmup_rounds=1)

    assert [forecast.cohort for forecast in found] == [case.track.cohort for case in CASES]
    figure("1,000 cohorts on two cores", figure.median_s(), "s", at_most=2.0)


def test_thousand_cohorts_on_one_core(benchmark: Any, figure: Any) -> None:
    found = benchmark.pedantic(forecast_all, args=(CASES,), rounds=3, warmup_rounds=1)

    assert len(found) == 1000
    figure("1,000 cohorts on one core", figure.median_s(), "s")


def test_twenty_cohorts(benchmark: Any, figure: Any) -> None:
    """A smallholding."""
    assert len(benchmark(forecast_all, CASES[:20])) == 20
    figure("20 cohorts", figure.median_s(), "s")


def test_degree_days_against_bare_numpy(benchmark: Any, figure: Any) -> None:
    values = FARM[0][1].temperatures_c
    times_s: dict[str, list[float]] = {"ours": [], "bare": []}

    def both() -> tuple[float, float]:
        started = time.perf_counter()
        ours = float(degree_days_of_steps(TIMES, values, 12.0, 32.0).sum())
        between = time.perf_counter()
        by_hand = bare(TIMES, values)
        times_s["ours"].append(between - started)
        times_s["bare"].append(time.perf_counter() - between)
        return ours, by_hand

    ours, by_hand = benchmark.pedantic(both, rounds=50, warmup_rounds=5)

    assert ours == pytest.approx(by_hand, rel=1e-4)
    ratio = float(np.median(times_s["ours"]) / np.median(times_s["bare"]))
    figure("degree-days against bare numpy", ratio, at_most=2.0)


def bare(times_ms: npt.NDArray[np.int64], values: FloatArray) -> float:
    """The trapezoid that one would write by hand; it overstates steps that cross a threshold."""
    rate = np.clip(values, 12.0, 32.0) - 12.0
    return float((0.5 * (rate[1:] + rate[:-1]) * (np.diff(times_ms) / MS_PER_DAY)).sum())
