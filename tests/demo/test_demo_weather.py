"""Weather of the invented farm: the sun where geometry puts it, the rest plausible. Invented values."""

import datetime
import math
from itertools import pairwise

import pytest

from monitor.demo.weather import LATITUDE_DEG, Weather, clear_sky_w_m2, day_shape, sine_of_sun
from monitor.records import MS_PER_DAY, MS_PER_HOUR

MIDSUMMER = round(datetime.datetime(2026, 12, 21, tzinfo=datetime.UTC).timestamp() * 1000)
MIDWINTER = round(datetime.datetime(2026, 6, 21, tzinfo=datetime.UTC).timestamp() * 1000)


def _day(start_ms: int) -> list[int]:
    return list(range(start_ms, start_ms + MS_PER_DAY, MS_PER_HOUR // 6))


@pytest.mark.parametrize(("start_ms", "declination_deg"), [(MIDSUMMER, -23.45), (MIDWINTER, 23.45)])
def test_noon_sun_stands_as_high_as_latitude_and_declination_say(
    start_ms: int, declination_deg: float
) -> None:
    highest = max(sine_of_sun(at_ms) for at_ms in _day(start_ms))
    expected = math.cos(math.radians(LATITUDE_DEG - declination_deg))
    assert highest == pytest.approx(expected, abs=0.002)


@pytest.mark.parametrize(("start_ms", "hours"), [(MIDSUMMER, 13.5), (MIDWINTER, 10.5)])
def test_length_of_the_day(start_ms: int, hours: float) -> None:
    """Sunrise equation: 2 acos(-tan latitude tan declination) is 13.5 h and 10.5 h at 24.5 degrees."""
    light = sum(sine_of_sun(at_ms) > 0 for at_ms in _day(start_ms)) / 6
    assert light == pytest.approx(hours, abs=0.4)


def test_no_sun_below_the_horizon_and_never_above_the_solar_constant() -> None:
    assert clear_sky_w_m2(-0.1) == 0.0
    assert clear_sky_w_m2(0.0) == 0.0
    assert 950 < clear_sky_w_m2(1.0) < 1361


def test_day_shape_is_coldest_at_six_and_warmest_at_fifteen_without_a_jump() -> None:
    assert day_shape(6.0) == pytest.approx(-1.0)
    assert day_shape(15.0) == pytest.approx(1.0)
    hours = [hour / 20 for hour in range(480)]
    steps = [abs(day_shape(after) - day_shape(before)) for before, after in pairwise(hours)]
    assert max(steps) < 0.02
    assert abs(day_shape(23.999) - day_shape(0.0)) < 0.01


@pytest.mark.parametrize("seed", range(5))
def test_a_year_stays_within_what_an_upland_sees(seed: int) -> None:
    weather = Weather(seed)
    year = [weather.at(MIDSUMMER + hour * 3 * MS_PER_HOUR) for hour in range(365 * 8)]
    assert -8 < min(each.temperature_c for each in year) < 8
    assert 28 < max(each.temperature_c for each in year) < 43
    assert all(0 < each.humidity_percent <= 100 for each in year)
    assert max(each.sun_w_m2 for each in year) < 1361


def test_the_same_moment_is_the_same_whatever_was_asked_before() -> None:
    asked_before = Weather(3)
    for hour in range(200):
        asked_before.at(MIDSUMMER + hour * MS_PER_HOUR)
    moment = MIDSUMMER + 17 * MS_PER_HOUR + 1234
    assert asked_before.at(moment) == Weather(3).at(moment)
    assert Weather(4).at(moment) != Weather(3).at(moment)
