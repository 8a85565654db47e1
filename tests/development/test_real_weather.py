"""The real weather that tests use is what its notes say it is."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from real_weather import OutdoorWeather, hourly_normals, hours_between, seattle_days, stretch, typical_year

RECORDS: dict[str, tuple[Callable[[], OutdoorWeather], int, tuple[float, float]]] = {
    "seattle": (seattle_days, 1461, (11.0, 14.0)),
    "greensboro": (lambda: typical_year("723170TYA.CSV"), 365, (13.0, 16.0)),
    "sand point": (lambda: typical_year("703165TY.csv"), 365, (3.0, 6.0)),
    "miami": (lambda: typical_year("12839.tm2"), 365, (23.0, 26.0)),
}


@pytest.mark.parametrize("name", RECORDS)
def test_real_days_remember_each_other(name: str) -> None:
    read, days, (low_c, high_c) = RECORDS[name]
    weather = read()
    daily = weather.anomaly.mean(axis=1)

    assert weather.anomaly.shape == (days, 24)
    assert low_c < weather.season.mean() < high_c
    assert 0.6 < np.corrcoef(daily[:-1], daily[1:])[0, 1] < 0.85
    assert 2.0 < daily.std() < 5.0


@pytest.mark.parametrize("city", ["sf", "seattle"])
def test_hourly_files_are_normals_without_weather(city: str) -> None:
    daily = hourly_normals(city).anomaly.mean(axis=1)

    assert daily.std() < 0.6


def test_hours_of_a_day_keep_to_its_lowest_and_highest() -> None:
    hours = hours_between(np.array([5.0, 6.0, 4.0]), np.array([12.0, 15.0, 9.0])).reshape(3, 24)

    assert hours[1, 5] == 6.0
    assert hours[1, 15] == 15.0
    assert hours.min() == 4.0


def test_a_stretch_of_one_year_ends_with_that_year_as_it_was() -> None:
    weather = OutdoorWeather("numbers", np.arange(365.0), np.repeat(np.arange(365.0)[:, None], 24, axis=1))

    season, anomaly = stretch(weather, 480, np.random.default_rng(1))

    assert np.all(np.diff(season) % 365.0 == 1.0)
    assert np.all(anomaly[-365:, 0] == season[-365:])
    assert np.all(anomaly[:115, 0] != season[:115])
