"""What a person may call an alarm or a sensor."""

from __future__ import annotations

import pytest
from cli_farm import AIR, BIN, EARLY, HOT, HUMIDITY, STRANGER, WARM, Farm

from monitor.errors import UsageError, sentence
from monitor.farm.names import find_alarms, known_sensors, matching, numbers, only_one

ACKNOWLEDGED = sentence("acknowledged")


def test_an_alarm_is_found_by_its_number_and_by_its_name(farm: Farm) -> None:
    plan = farm.plan()
    assert find_alarms(str(numbers(plan)[HOT]), plan, (), ACKNOWLEDGED) == (HOT,)
    assert find_alarms(HOT, plan, (), ACKNOWLEDGED) == (HOT,)


def test_numbers_do_not_depend_on_what_is_active(farm: Farm) -> None:
    plan = farm.plan()
    assert list(numbers(plan).values()) == list(range(1, len(plan.rules) + 1))


@pytest.mark.parametrize(
    "name", ["bin-1", "BIN-1", "bin-1/substrate_temperature", "bin-1/substrate_temperature/high"]
)
def test_a_place_is_enough_while_only_one_alarm_fits(farm: Farm, name: str) -> None:
    assert find_alarms(name, farm.plan(), [HOT], ACKNOWLEDGED) == (HOT,)


def test_a_title_is_a_name_too(farm: Farm) -> None:
    alarm = next(name for name in farm.plan().rules if name.startswith("room-1/"))
    assert find_alarms("tin room", farm.plan(), [alarm], ACKNOWLEDGED) == (alarm,)


def test_two_limits_of_one_thing_are_one_thing(farm: Farm) -> None:
    assert find_alarms("bin-1", farm.plan(), [HOT, WARM], ACKNOWLEDGED) == (HOT, WARM)


def test_several_that_fit_are_listed_with_their_numbers(farm: Farm) -> None:
    plan = farm.plan()
    with pytest.raises(UsageError) as refused:
        find_alarms("bin-1", plan, [HOT, EARLY], ACKNOWLEDGED)
    lines = str(refused.value).splitlines()
    assert lines[0] == "bin-1: several alarms can be acknowledged; say which by its number:"
    assert [line.split()[:2] for line in lines[1:]] == [
        [str(numbers(plan)[name]), name] for name in (HOT, EARLY)
    ]


@pytest.mark.parametrize(
    ("name", "part"),
    [
        ("bin-11", "did you mean bin-1?"),
        ("0", "allowed: 1 to"),
        ("999", "there is no alarm number 999"),
        ("bin-1", "no alarm there can be acknowledged now"),
        ("", 'there is no alarm and no place called ""'),
    ],
)
def test_what_fits_nothing_says_what_would(farm: Farm, name: str, part: str) -> None:
    with pytest.raises(UsageError) as refused:
        find_alarms(name, farm.plan(), [], ACKNOWLEDGED)
    assert part in str(refused.value)


def test_sensors_are_known_from_readings_and_from_the_settings(farm: Farm) -> None:
    assert known_sensors([STRANGER], farm.plan()) == tuple(sorted((AIR, HUMIDITY, BIN, STRANGER)))


@pytest.mark.parametrize(
    "name", ["node-02", "node-02/substrate_temperature", "bin-1", "bin-1/substrate_temperature"]
)
def test_a_sensor_is_found_by_board_and_by_place(farm: Farm, name: str) -> None:
    assert only_one(name, (AIR, HUMIDITY, BIN, STRANGER), farm.plan()) == BIN


def test_a_quantity_names_all_its_sensors(farm: Farm) -> None:
    assert matching("substrate_temperature", (AIR, BIN, STRANGER), farm.plan()) == (BIN, STRANGER)


def test_a_name_of_several_sensors_is_refused_where_one_is_wanted(farm: Farm) -> None:
    with pytest.raises(
        UsageError, match="node-01 can mean 2 sensors; say which\nAllowed:\n  node-01/air_temp"
    ):
        only_one("node-01", (AIR, HUMIDITY, BIN), farm.plan())


def test_a_name_of_no_sensor_is_refused_with_those_that_are(farm: Farm) -> None:
    with pytest.raises(UsageError, match=r"did you mean node-02\?"):
        matching("node-2", (AIR, BIN), farm.plan())
    with pytest.raises(UsageError, match="No sensor is known yet"):
        matching("node-2", (), farm.plan())
