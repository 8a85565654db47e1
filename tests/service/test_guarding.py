"""A place is guarded unless a person has said that it is not; nothing else ends it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from guarded_farm import HIGH, PLACES, GuardedFarm

from monitor.logbook.bin_entries import BinEntryKind
from monitor.logbook.cohort_entries import CohortEntryKind

LARVAE = {"stage": "larva", "purpose": "breeding", "cage": "cage-1"}


@pytest.fixture
def farm(tmp_path: Path) -> Iterator[GuardedFarm]:
    found = GuardedFarm(tmp_path)
    yield found
    found.close()


@pytest.mark.parametrize("restarted", [False, True])
def test_a_forecast_of_flies_does_not_end_the_guard_of_the_bin(farm: GuardedFarm, restarted: bool) -> None:
    farm.lived_through(50, bin_1=29.0, cage_1=27.0, room_1=27.0)
    farm.say("b8", CohortEntryKind.START, ago_days=35.0, place="bin-1", **LARVAE)
    farm.pass_time()
    if restarted:
        farm.restart()
    farm.measure(bin_1=45.0)
    assert farm.stands("bin-1")
    assert any("45.0" in message.title + message.body for message in farm.messages())
    assert not farm.place("bin-1").empty
    assert "empty" not in farm.now_text()


@pytest.mark.parametrize("restarted", [False, True])
def test_larvae_put_into_a_bin_that_a_cohort_has_left_are_guarded(farm: GuardedFarm, restarted: bool) -> None:
    farm.say("b1", CohortEntryKind.START, ago_days=20.0, place="bin-1", stage="larva")
    farm.say("b1", CohortEntryKind.END, ago_days=2.0, how="harvested")
    farm.say("bin-1", BinEntryKind.FILL, ago_days=1.0, kg=8.0, moisture=0.7, surface_m2=0.24, larvae=10000)
    farm.pass_time()
    if restarted:
        farm.restart()
    farm.measure(bin_1=45.0)
    assert farm.stands("bin-1")
    assert not farm.place("bin-1").empty


@pytest.mark.parametrize("how", ["merge", "move", "split", "end"])
def test_an_entry_that_takes_the_animals_away_leaves_the_alarm_standing(farm: GuardedFarm, how: str) -> None:
    farm.say("b3", CohortEntryKind.START, ago_days=9.0, place="bin-3", stage="larva")
    farm.say("b4", CohortEntryKind.START, ago_days=9.0, place="bin-4", stage="larva")
    farm.measure(bin_4=43.5, bin_3=30.0)
    assert farm.stands("bin-4")
    told = len(farm.messages())
    match how:
        case "merge":
            farm.say("b3", CohortEntryKind.MERGE, other="b4")
        case "move":
            farm.say("b4", CohortEntryKind.MOVE, place="bin-2")
        case "split":
            farm.say("b4", CohortEntryKind.SPLIT, into="b5", percent=50, place="bin-2")
        case "end":
            farm.say("b4", CohortEntryKind.END, how="harvested")
    farm.pass_time()
    farm.restart()
    farm.measure(bin_4=43.5, bin_3=30.0, bin_2=43.5)
    assert farm.stands("bin-4")
    assert farm.held_back("bin-4").keys() <= {"bin-4/minutes_to_overheating/low/high"}
    since = [
        message.title for message in farm.messages()[told:] if message.alarm_id == HIGH.format(place="bin-4")
    ]
    assert not any("BACK" in title for title in since)
    assert "Bin 4" in farm.now_text().split("Bin 3")[0], "it is among what needs somebody"
    if how in ("move", "split"):
        assert farm.stands("bin-2"), "where they came to is guarded, and not held back as newly filled"


def test_what_the_settings_call_empty_counts_only_until_the_logbook_speaks_of_animals(tmp_path: Path) -> None:
    places = [{**place, "empty": True} if place["id"] == "bin-1" else place for place in PLACES]
    farm = GuardedFarm(tmp_path, places)
    assert farm.held_back("bin-1")
    farm.close()
    farm.say("b1", CohortEntryKind.START, ago_days=9.0, place="bin-1", stage="larva")
    farm.start()
    for _ in range(2):
        for _ in range(3):
            assert not farm.held_back("bin-1"), "neither empty, nor held back as if newly filled"
            assert not farm.place("bin-1").empty
            farm.pass_time()
        farm.restart()
    farm.measure(bin_1=45.0)
    assert farm.stands("bin-1")
    farm.close()


def test_a_place_with_its_alarms_put_aside_is_not_fine(farm: GuardedFarm) -> None:
    name = HIGH.format(place="bin-1")
    farm.measure(bin_1=45.0, bin_2=30.0)
    for alarm in [rule for rule in farm.plan.rules.values() if rule.place == "bin-1"]:
        farm.take_out(alarm.alarm_id)
    farm.pass_time()
    assert farm.service.processor.site.state(name).status == "out_of_service"
    assert farm.place("bin-1").state not in ("fine", "empty")
    assert farm.place("bin-2").state == "fine"
    assert "fine" not in next(line for line in farm.now_text().splitlines() if "Bin 1" in line)
