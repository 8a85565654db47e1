"""A place is guarded unless a person has said that it is not; nothing else ends it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from guarded_farm import HIGH, PLACES, GuardedFarm

from monitor.farm.records import PlaceState
from monitor.logbook.bin_entries import BinEntryKind
from monitor.logbook.cohort_entries import CohortEntryKind
from monitor.logbook.place_entries import NodeEntryKind, PlaceEntryKind
from monitor.records import MS_PER_MINUTE, OutboxMessage
from monitor.service.place_watch import OccupancyWatch
from monitor.store import Store
from monitor.words.localizer import Localizer
from monitor.words.places import guard_lines

EARLY = "bin-4/minutes_to_overheating/low/high"
"""It has nothing to add while the high limit itself is passed, and is held back then."""
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
    assert farm.held_back("bin-4").keys() <= {EARLY}
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


# --- the word of a person ---


def _until(farm: GuardedFarm, minutes: float) -> int:
    return farm.now_ms + round(minutes * MS_PER_MINUTE)


def _about(farm: GuardedFarm, kind: str = "unguarded") -> list[OutboxMessage]:
    return [message for message in farm.messages() if message.kind == kind]


def test_empty_ends_the_guard_at_once_and_those_who_were_told_hear_it_once(farm: GuardedFarm) -> None:
    farm.say("b4", CohortEntryKind.START, ago_days=9.0, place="bin-4", stage="larva")
    farm.measure(bin_4=43.5)
    assert farm.stands("bin-4")
    farm.say("bin-4", PlaceEntryKind.EMPTY, by="Ben", note="harvested")
    farm.pass_time(1 / 60)
    assert not farm.stands("bin-4")
    [message] = _about(farm)
    assert message.title == "NOT GUARDED Bin 4 substrate 43.5 °C, limit 42 °C, too high"
    assert "No animals in it, said Ben" in message.body
    assert "Reason: harvested." in message.body
    assert "To undo: rearing-monitor place in-use bin-4" in message.body
    assert "said Ben" in farm.now_text()
    for _ in range(2):
        farm.restart()
        farm.measure(bin_4=43.5)
    assert len(_about(farm)) == 1
    assert farm.place("bin-4").state == "empty"
    farm.say("bin-4", PlaceEntryKind.IN_USE)
    farm.pass_time(1 / 60)
    assert farm.stands("bin-4"), "nothing is held back: they had been there all the time"


@pytest.mark.parametrize("what", ["end", "move", "harvest"])
def test_animals_that_an_undone_entry_brings_back_are_guarded(farm: GuardedFarm, what: str) -> None:
    fill: dict[str, Any] = {
        "kg": 4.0,
        "moisture": 0.7,
        "surface_m2": 0.24,
        "larvae": 5000,
        "age_days": 5,
    }
    farm.say("bin-1", BinEntryKind.FILL, ago_days=3.0, **fill, cohort="b1", begins=True)
    match what:
        case "end":
            number = farm.say("b1", CohortEntryKind.END, how="harvested")
        case "move":
            number = farm.say("b1", CohortEntryKind.MOVE, place="bin-2")
        case _:
            number = farm.say("bin-1", BinEntryKind.EMPTY)
    farm.say("bin-1", PlaceEntryKind.EMPTY)
    farm.measure(bin_1=45.0)
    assert not farm.stands("bin-1")
    farm.withdraw(number)
    farm.measure(bin_1=45.0)
    assert farm.stands("bin-1")
    assert farm.place("bin-1").unguarded is None


def test_the_journal_says_who_ended_the_guard(farm: GuardedFarm) -> None:
    farm.say("bin-4", PlaceEntryKind.EMPTY, by="Ben")
    farm.pass_time(1 / 60)
    rows = farm.service.store.journal.last(1, HIGH.format(place="bin-4"))
    assert [(row.actor, row.reason) for row in rows] == [("Ben", "it was said that no animals are in it")]


def test_a_place_that_is_put_aside_is_guarded_again_by_itself(farm: GuardedFarm) -> None:
    farm.measure(bin_4=43.5)
    farm.say("bin-4", PlaceEntryKind.ASIDE, until_ms=_until(farm, 60), note="cleaning")
    farm.pass_time(1 / 60)
    assert not farm.stands("bin-4")
    assert "Put aside until" in _about(farm)[0].body
    assert farm.place("bin-4").state == "unguarded"
    assert "not guarded" in farm.now_text().splitlines()[0]
    farm.measure(59, bin_4=43.5)
    assert not farm.stands("bin-4")
    farm.pass_time(1)
    assert farm.stands("bin-4")
    assert farm.place("bin-4").state == "high"


def test_aside_is_over_after_a_restart_past_its_end_and_when_the_clock_is_set_back(farm: GuardedFarm) -> None:
    farm.measure(bin_4=43.5)
    farm.say("bin-4", PlaceEntryKind.ASIDE, until_ms=_until(farm, 60))
    farm.pass_time()
    farm.restart()
    assert farm.held_back("bin-4"), "it still lasts"
    farm.close()
    farm.now_ms += 61 * MS_PER_MINUTE
    farm.start()
    assert farm.stands("bin-4")
    farm.say("bin-4", PlaceEntryKind.ASIDE, until_ms=_until(farm, 60))
    farm.pass_time(30)
    assert farm.held_back("bin-4")
    farm.now_ms -= 20 * MS_PER_MINUTE
    OccupancyWatch(farm.service.store, lambda: farm.settings, lambda job: job()).clock_went_back()
    farm.pass_time()
    assert farm.stands("bin-4"), "for how long it has been aside is not known any more"
    assert farm.held_back("bin-4").keys() <= {EARLY}


def test_a_board_in_the_salt_jar_drives_no_alarm_and_its_silence_is_none(farm: GuardedFarm) -> None:
    farm.say("node-bin-4", NodeEntryKind.ASIDE, by="Ben", until_ms=_until(farm, 8 * 60))
    farm.pass_time(1 / 60)
    farm.measure(bin_4=75.0)
    assert not farm.stands("bin-4")
    place = farm.place("bin-4")
    assert place.state == "unknown"
    assert "Not measured by board node-bin-4 until" in farm.now_text()
    assert "said Ben" in farm.now_text()
    farm.measure(30, bin_1=30.0)
    silent = "node-bin-4/silent_minutes/high/medium"
    assert farm.service.processor.site.state(silent).status == "suppressed_by_design"
    with Store.read_only(farm.settings.store.path) as store:
        assert any(sensor.node == "node-bin-4" for sensor in store.readings.sensors()), "it is all stored"
    farm.say("node-bin-4", NodeEntryKind.IN_USE)
    farm.pass_time(1)
    assert farm.service.processor.site.state(silent).status == "normal", "its silence counts from now on"
    farm.measure(bin_4=45.0)
    assert farm.stands("bin-4")


def test_a_newly_filled_place_holds_back_no_high_alarm_and_others_from_the_entry_on(
    farm: GuardedFarm,
) -> None:
    warm = "bin-4/substrate_temperature/high/medium"
    farm.say("bin-4", PlaceEntryKind.EMPTY, ago_days=1.0)
    farm.pass_time()
    farm.say("b4", CohortEntryKind.START, ago_days=1.9 / 24, place="bin-4", stage="larva")
    farm.measure(3, bin_4=43.5)
    assert farm.stands("bin-4")
    assert warm in farm.held_back("bin-4")
    farm.restart()
    assert warm in farm.held_back("bin-4")
    farm.measure(5, bin_4=43.5)
    assert warm not in farm.held_back("bin-4"), "two hours after the entry, whatever restarts there were"


def test_another_stage_that_may_be_there_holds_nothing_back(farm: GuardedFarm) -> None:
    farm.measure(5, tray_1=30.0)
    farm.say("e1", CohortEntryKind.START, place="tray-1", stage="egg")
    farm.pass_time(1 / 60)
    farm.pass_time()
    assert not farm.held_back("tray-1")


def test_flies_that_a_forecast_brings_into_an_empty_cage_start_its_guard(farm: GuardedFarm) -> None:
    farm.lived_through(50, bin_1=29.0, cage_1=27.0, room_1=27.0)
    farm.say("cage-1", PlaceEntryKind.EMPTY, ago_days=25.0)
    farm.say("b8", CohortEntryKind.START, ago_days=45.0, place="bin-1", **LARVAE)
    farm.pass_time()
    assert not farm.place("cage-1").empty
    farm.say("cage-1", PlaceEntryKind.EMPTY)
    farm.pass_time()
    farm.pass_time()
    assert farm.place("cage-1").empty, "the person knows better than the forecast"


@pytest.mark.parametrize(("excess_k", "doubted"), [(2.9, False), (3.1, True)])
def test_an_empty_place_that_is_warm_as_if_animals_were_in_it_raises_a_doubt(
    farm: GuardedFarm, excess_k: float, doubted: bool
) -> None:
    name = "bin-4/substrate_excess/high/medium"
    farm.measure(5, bin_4=24.0 + excess_k, room_1=24.0)
    assert name not in farm.plan.rules, "in a place that is guarded warmth is no doubt"
    farm.say("bin-4", PlaceEntryKind.EMPTY)
    farm.pass_time()
    farm.measure(32, bin_4=24.0 + excess_k, room_1=24.0)
    assert (farm.service.processor.site.state(name).status == "unacknowledged") is doubted
    assert farm.place("bin-4").state == ("medium" if doubted else "empty")
    if doubted:
        assert "Look into it. If animals are in it, say so" in farm.now_text()
        assert any(message.alarm_id == name for message in farm.messages())
        farm.say("bin-4", PlaceEntryKind.IN_USE)
        farm.pass_time()
        assert farm.place("bin-4").state == "fine"


def test_what_is_said_of_another_place_wakes_nobody_about_a_hot_bin_again(farm: GuardedFarm) -> None:
    """As it was seen: "Too hot within a minute", at 44 °C, since somebody had written about another place."""
    early = EARLY.replace("bin-4", "bin-1")
    for step in range(150):
        farm.measure(1, bin_1=34.0 + step * 0.07)
    assert farm.stands("bin-1")
    assert early in farm.held_back("bin-1")
    before = [message.title for message in farm.messages()]
    farm.say("bin-2", PlaceEntryKind.EMPTY)
    farm.pass_time()
    assert early in farm.held_back("bin-1")
    assert [message.title for message in farm.messages()] == before
    for step in range(60):
        farm.measure(1, bin_1=44.0 - step * 0.2)
    assert early not in farm.held_back("bin-1"), "it is live again when the bin has cooled"


@pytest.mark.parametrize("entry", [PlaceEntryKind.EMPTY, PlaceEntryKind.ASIDE])
def test_a_hot_bin_that_was_not_guarded_meanwhile_alarms_when_it_is_again(
    farm: GuardedFarm, entry: PlaceEntryKind
) -> None:
    for step in range(150):
        farm.measure(1, bin_1=34.0 + step * 0.07)
    farm.say("bin-1", entry, until_ms=farm.now_ms + 15 * MS_PER_MINUTE)
    farm.measure(3, bin_1=44.5)
    assert not farm.stands("bin-1")
    farm.say("bin-1", PlaceEntryKind.IN_USE)
    farm.measure(3, bin_1=44.5)
    assert farm.stands("bin-1")
    assert list(farm.held_back("bin-1")) == [EARLY.replace("bin-4", "bin-1")]


def test_a_place_whose_sensors_measure_only_what_no_alarm_looks_at_is_not_fine(farm: GuardedFarm) -> None:
    kinds = {place.id: place for place in farm.settings.places}
    farm.restart(bin_1={"kind": kinds["box-1"].kind})
    farm.measure(bin_1=45.0, bin_2=30.0)
    assert farm.place("bin-1").state is PlaceState.UNKNOWN
    assert "Bin 1: fine" not in farm.now_text()
    assert "measure only what no alarm looks at: substrate temperature. Nothing guards it." in farm.now_text()
    assert farm.place("bin-2").state is PlaceState.FINE


def test_the_list_of_places_calls_no_place_guarded_of_which_nothing_is_heard(farm: GuardedFarm) -> None:
    farm.measure(bin_1=30.0)
    words = Localizer.plain("en", farm.plan.zone, farm.now_ms)
    said = {place: " ".join(guard_lines(farm.place(place), words, 400)) for place in ("bin-1", "bin-2")}
    assert "Bin 1 (bin-1): guarded." in said["bin-1"]
    assert "Bin 2 (bin-2): not known. Not heard yet: node-bin-2. Nothing guards this place." in said["bin-2"]
