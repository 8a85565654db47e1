"""What people type when a farm is set up, read or refused with what is allowed."""

from __future__ import annotations

import pytest

from monitor.errors import UsageError
from monitor.settings.answers import read_altitude, read_broker, read_count, read_zone


@pytest.mark.parametrize(
    ("typed", "metres"),
    [
        ("1000", 1000.0),
        ("1000 m", 1000.0),
        ("1000m", 1000.0),
        ("1,000 m", 1000.0),
        ("1.100", 1100.0),
        ("1 100 mètres", 1100.0),
        ("912,5", 912.5),
        ("-20 m", -20.0),
        ("3300 ft", 1005.8),
        ("6000", 6000.0),
    ],
)
def test_heights_as_people_write_them(typed: str, metres: float) -> None:
    assert read_altitude(typed) == metres


@pytest.mark.parametrize("typed", ["", "high", "6001", "-431", "1000 km", "1e3", "1,00,0 m"])
def test_heights_that_cannot_be(typed: str) -> None:
    with pytest.raises(UsageError, match="no height above sea level"):
        read_altitude(typed)


@pytest.mark.parametrize(
    "typed", ["Africa/Gaborone", "africa/gaborone", " AFRICA / GABORONE ", "africa gaborone", "Gaborone"]
)
def test_a_time_zone_however_it_is_written(typed: str) -> None:
    assert read_zone(typed) == "Africa/Gaborone"


def test_cities_of_two_words_and_cities_of_the_same_name() -> None:
    assert read_zone("dar es salaam") == "Africa/Dar_es_Salaam"
    with pytest.raises(UsageError, match="America/Kentucky/Louisville"):
        read_zone("louisville")
    with pytest.raises(UsageError, match="Africa/Gaborone, or a large city"):
        read_zone("??")


def test_counts_and_brokers() -> None:
    assert [read_count(text) for text in ("0", " 4 ", "4 bins", "200")] == [0, 4, 4, 200]
    for text in ("201", "-1", "four", "1.5"):
        with pytest.raises(UsageError):
            read_count(text)
    assert read_broker("mqtt://farm.local/") == ("farm.local", 1883)
    assert read_broker("10.0.0.5:8883") == ("10.0.0.5", 8883)
    for text in ("", "a b", "host:", "host:0", "host:99999"):
        with pytest.raises(UsageError):
            read_broker(text)
