"""Real weather for tests, read from data files of two packages of the test extra, by their paths.

- `seattle-weather.csv` of vega_datasets: highest and lowest temperature of each day in Seattle, 2012 to 2015
  (NOAA). Real days in their real order; made into hours by a stated curve.
- `sf-temps.csv` and `seattle-temps.csv` of vega_datasets: hourly, San Francisco and Seattle, dated 2010 [°F].
  They are smooth normals, not what 2010 was like: once the season is taken out, their daily means vary
  with a standard deviation of 0.12 and 0.26 °C (2.7 °C in the daily record of Seattle). They give season
  and course of the day, and no weather.
- Typical years of pvlib, real hours of single months put together to a year: 703165TY.csv (Sand Point,
  Alaska; TMY3), 723170TYA.CSV (Greensboro, North Carolina; TMY3), 12839.tm2 (Miami, Florida; TMY2).
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from importlib.util import find_spec
from pathlib import Path

import numpy as np

from monitor.climate.arrays import FloatArray

HOURS_PER_DAY = 24
YEAR_DAYS = 365.25
COLDEST_HOUR, WARMEST_HOUR = 5.0, 15.0
"""Hours of the day's lowest and highest temperature where only these two are known. Own choice."""
TM2_DRY_BULB = slice(67, 71)
"""Columns of the dry-bulb temperature [0.1 °C] in a line of TMY2 (its manual, table 3-2)."""


@dataclass(frozen=True, eq=False)
class OutdoorWeather:
    """Hourly temperatures of a place [°C], apart: what the calendar says and what the weather made of it.

    `season` is that of each day, shape (days,); `anomaly` what is left over each day's season, with the
    course of the day, shape (days, 24).
    """

    name: str
    season: FloatArray
    anomaly: FloatArray


def _file(package: str, *parts: str) -> Path:
    spec = find_spec(package)
    assert spec is not None, f"{package} is part of the test extra"
    assert spec.origin is not None
    return Path(spec.origin).parent.joinpath(*parts)


def season_of(daily_c: FloatArray, harmonics: int = 2) -> FloatArray:
    """Yearly waves through daily means, by least squares, shape (days,) [°C]."""
    turns = 2.0 * np.pi * np.arange(len(daily_c)) / YEAR_DAYS
    waves = [wave(number * turns) for number in range(1, harmonics + 1) for wave in (np.cos, np.sin)]
    design = np.stack([np.ones(len(daily_c)), *waves], axis=1)
    return np.asarray(design @ np.linalg.lstsq(design, daily_c, rcond=None)[0])


def _apart(name: str, hours_c: FloatArray) -> OutdoorWeather:
    days = hours_c[: len(hours_c) // HOURS_PER_DAY * HOURS_PER_DAY].reshape(-1, HOURS_PER_DAY)
    season = season_of(days.mean(axis=1))
    return OutdoorWeather(name, season, days - season[:, None])


def hours_between(low_c: FloatArray, high_c: FloatArray) -> FloatArray:
    """Hours of days of which only lowest and highest are known: half a cosine from each to the next."""
    days = HOURS_PER_DAY * np.arange(len(low_c))
    turning = np.stack([days + COLDEST_HOUR, days + WARMEST_HOUR], axis=1).ravel()
    values = np.stack([low_c, high_c], axis=1).ravel()
    hours = np.arange(HOURS_PER_DAY * len(low_c), dtype=np.float64)
    after = np.clip(np.searchsorted(turning, hours, side="right"), 1, len(turning) - 1)
    part = np.clip((hours - turning[after - 1]) / (turning[after] - turning[after - 1]), 0.0, 1.0)
    eased = (1.0 - np.cos(np.pi * part)) / 2.0
    return np.asarray(values[after - 1] + (values[after] - values[after - 1]) * eased)


@cache
def seattle_days() -> OutdoorWeather:
    """Seattle 2012 to 2015: real days, their hours by a curve."""
    with _file("vega_datasets", "_data", "seattle-weather.csv").open() as file:
        rows = list(csv.DictReader(file))
    low, high = (np.array([float(row[key]) for row in rows]) for key in ("temp_min", "temp_max"))
    return _apart("Seattle, days of 2012 to 2015", hours_between(low, high))


@cache
def hourly_normals(city: str) -> OutdoorWeather:
    """`seattle` or `sf`: season and course of the day of an average year."""
    with _file("vega_datasets", "_data", f"{city}-temps.csv").open() as file:
        values = [(float(row["temp"]) - 32.0) / 1.8 for row in csv.DictReader(file)]
    return _apart(f"{city}, hourly normals", np.array([*values, values[-1]]))


@cache
def typical_year(file_name: str) -> OutdoorWeather:
    """A typical year of pvlib: TMY3 (csv) or TMY2 (tm2)."""
    text = _file("pvlib", "data", file_name).read_text(encoding="ascii", errors="replace").splitlines()
    if file_name.endswith(".tm2"):
        values = [int(line[TM2_DRY_BULB]) / 10.0 for line in text[1:]]
    else:
        values = [float(row["Dry-bulb (C)"]) for row in csv.DictReader(text[1:])]
    return _apart(file_name, np.array(values))


def stretch(
    weather: OutdoorWeather, days: int, generator: np.random.Generator
) -> tuple[FloatArray, FloatArray]:
    """Season (days,) and anomalies (days, 24) of as many days in a row, ending on a random day.

    Where the record is longer, nothing is repeated. A single year goes on before its beginning: with its own
    season, and with the anomalies of another part of it (a random number of days away), so that last year is
    no copy of this one; the last 365 days are as they were.
    """
    length = len(weather.season)
    if length >= days:
        first = int(generator.integers(0, length - days + 1))
        return weather.season[first : first + days], weather.anomaly[first : first + days]
    index = int(generator.integers(0, length)) - np.arange(days)[::-1]
    moved = index - np.where(np.arange(days) < days - length, int(generator.integers(60, length - 60)), 0)
    return weather.season[index % length], weather.anomaly[moved % length]
