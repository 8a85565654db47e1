"""Moist air and the weather outside the invented farm: highveld, 1,100 m, dry winters, stormy summers.

The formulas are separate from those of `monitor.climate` on purpose: a mistake shared by both would show in
no run of the demo. The weather is a function of seed and time alone, so any step sees the same sky. Means and
swings are invented, of the order of a dry subtropical upland.
"""

from __future__ import annotations

import datetime
import math
from dataclasses import dataclass
from random import Random

from monitor.records import MS_PER_DAY, MS_PER_HOUR

WATER_GAS_CONSTANT_J_KG_K = 461.5
DRY_GAS_CONSTANT_J_KG_K = 287.055
AIR_HEAT_J_KG_K = 1006.0
EVAPORATION_HEAT_J_KG = 2.43e6
SITE_ALTITUDE_M = 1100.0
LATITUDE_DEG = -24.5
LONGITUDE_DEG = 26.0
COOLEST_SOLAR_HOUR = 6.0
WARMEST_SOLAR_HOUR = 15.0
# Standard atmosphere: 101325 Pa x (1 - 2.25577e-5 z)^5.2559.
SITE_PRESSURE_PA = 101_325.0 * math.pow(1.0 - 2.25577e-5 * SITE_ALTITUDE_M, 5.2559)


def saturation_pa(air_temperature_c: float) -> float:
    """Saturation vapour pressure over water [Pa]: FAO Irrigation and Drainage Paper 56, equation 11.

    Good to 0.12 % from 5 to 50 °C.
    """
    return 610.8 * math.exp(17.27 * air_temperature_c / (air_temperature_c + 237.3))


def vapour_pa(air_temperature_c: float, relative_humidity_percent: float) -> float:
    """Vapour pressure [Pa] of air at this temperature and humidity."""
    return saturation_pa(air_temperature_c) * relative_humidity_percent / 100.0


def humidity_percent(air_temperature_c: float, vapour_pressure_pa: float) -> float:
    return min(100.0, 100.0 * vapour_pressure_pa / saturation_pa(air_temperature_c))


def humidity_ratio(vapour_pressure_pa: float) -> float:
    """Water per dry air [kg/kg] at the pressure of the site."""
    return 0.621945 * vapour_pressure_pa / (SITE_PRESSURE_PA - vapour_pressure_pa)


def dry_air_density_kg_m3(air_temperature_c: float, vapour_pressure_pa: float) -> float:
    """Dry air in one cubic metre of moist air [kg/m3] at the pressure of the site."""
    return (SITE_PRESSURE_PA - vapour_pressure_pa) / (DRY_GAS_CONSTANT_J_KG_K * (air_temperature_c + 273.15))


def vapour_conductance_kg_s_pa(air_flow_m3_h: float, air_temperature_c: float) -> float:
    """Water that an air flow carries per pascal of difference [kg/(s Pa)]."""
    return air_flow_m3_h / 3600.0 / (WATER_GAS_CONSTANT_J_KG_K * (air_temperature_c + 273.15))


def air_heat_w_k(air_flow_m3_h: float, air_temperature_c: float) -> float:
    """Heat that an air flow carries per kelvin of difference [W/K]."""
    return air_flow_m3_h / 3600.0 * AIR_HEAT_J_KG_K * dry_air_density_kg_m3(air_temperature_c, 0.0)


def relax(value: float, target: float, time_constant_s: float, interval_s: float) -> float:
    """Move towards a target as exp(-t/T) does: exact for a constant target, stable at any interval."""
    return target + (value - target) * math.exp(-interval_s / time_constant_s)


@dataclass(frozen=True, slots=True)
class Surroundings:
    """The air around a bin, in a room or in an enclosure."""

    air_c: float
    vapour_pressure_pa: float

    @property
    def humidity_percent(self) -> float:
        return humidity_percent(self.air_c, self.vapour_pressure_pa)


@dataclass(frozen=True, slots=True)
class Outdoor:
    """Air, sun and sky at one moment."""

    temperature_c: float
    vapour_pressure_pa: float
    sun_w_m2: float
    sky_loss_w_m2: float

    @property
    def humidity_percent(self) -> float:
        return humidity_percent(self.temperature_c, self.vapour_pressure_pa)


@dataclass(frozen=True, slots=True)
class _DayOffset:
    """Random departure of one day from its season: added temperature and a factor on the vapour pressure."""

    warmer_k: float
    vapour_factor: float


def sine_of_sun(at_ms: int) -> float:
    """Sine of the sun's height, negative at night (Cooper's declination, no equation of time)."""
    day, hour = _solar_time(at_ms)
    declination = math.radians(23.45 * math.sin(2 * math.pi * (284 + day) / 365))
    latitude = math.radians(LATITUDE_DEG)
    hour_angle = math.radians(15 * (hour - 12))
    upright = math.sin(latitude) * math.sin(declination)
    return upright + math.cos(latitude) * math.cos(declination) * math.cos(hour_angle)


def clear_sky_w_m2(sine_of_height: float) -> float:
    """Sun on flat ground under a clear sky [W/m2]: Haurwitz 1945, J. Meteorology 2:154."""
    if sine_of_height <= 0.0:
        return 0.0
    return 1098.0 * sine_of_height * math.exp(-0.057 / sine_of_height)


def day_shape(solar_hour: float) -> float:
    """From -1 at the coolest hour to +1 at the warmest, and slowly back through the night."""
    since_coolest = (solar_hour - COOLEST_SOLAR_HOUR) % 24.0
    rise = WARMEST_SOLAR_HOUR - COOLEST_SOLAR_HOUR
    if since_coolest < rise:
        return -math.cos(math.pi * since_coolest / rise)
    return math.cos(math.pi * (since_coolest - rise) / (24.0 - rise))


class Weather:
    def __init__(self, seed: int) -> None:
        self._seed = seed
        self._days: dict[int, _DayOffset] = {}
        self._hours: dict[int, float] = {}

    def at(self, at_ms: int) -> Outdoor:
        offset, cloud = self._day_offset(at_ms), self._cloud(at_ms)
        day, hour = _solar_time(at_ms)
        season = math.cos(2 * math.pi * (day - 15) / 365)
        swing = (8.5 - 1.5 * season) * (1.0 - 0.3 * cloud)
        temperature = 20.5 + 5.0 * season + offset.warmer_k + swing * day_shape(hour)
        vapour = (1150.0 + 400.0 * season) * offset.vapour_factor
        return Outdoor(
            temperature_c=temperature,
            vapour_pressure_pa=min(vapour, 0.97 * saturation_pa(temperature)),
            sun_w_m2=clear_sky_w_m2(sine_of_sun(at_ms)) * (1.0 - 0.75 * cloud),
            sky_loss_w_m2=70.0 * (1.0 - 0.8 * cloud),
        )

    def _day_offset(self, at_ms: int) -> _DayOffset:
        day, part = divmod(at_ms, MS_PER_DAY)
        share = part / MS_PER_DAY
        today, tomorrow = self._day(day), self._day(day + 1)
        return _DayOffset(
            today.warmer_k + (tomorrow.warmer_k - today.warmer_k) * share,
            today.vapour_factor + (tomorrow.vapour_factor - today.vapour_factor) * share,
        )

    def _day(self, day: int) -> _DayOffset:
        if day not in self._days:
            random = Random(f"{self._seed}/day/{day}")
            self._days[day] = _DayOffset(random.gauss(0.0, 1.5), math.exp(random.gauss(0.0, 0.12)))
        return self._days[day]

    def _cloud(self, at_ms: int) -> float:
        hour, part = divmod(at_ms, MS_PER_HOUR)
        share = part / MS_PER_HOUR
        return self._hour(hour) * (1 - share) + self._hour(hour + 1) * share

    def _hour(self, hour: int) -> float:
        if hour not in self._hours:
            self._hours[hour] = Random(f"{self._seed}/cloud/{hour}").random() ** 3
        return self._hours[hour]


def _solar_time(at_ms: int) -> tuple[int, float]:
    solar_ms = at_ms + round(LONGITUDE_DEG / 15.0 * MS_PER_HOUR)
    day, part = divmod(solar_ms, MS_PER_DAY)
    date = datetime.date(1970, 1, 1) + datetime.timedelta(days=day)
    return date.timetuple().tm_yday, part / MS_PER_HOUR
