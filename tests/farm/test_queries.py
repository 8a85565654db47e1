"""From the store to what is so now."""

from __future__ import annotations

from dataclasses import replace

import pytest
from cli_farm import (
    AIR,
    BATTERY,
    BIN,
    HOT,
    HUMIDITY,
    MINUTE_MS,
    STRANGER,
    WARM,
    Farm,
    calibrated,
    now_ms,
    put,
    put_states,
    put_transitions,
    reading,
    standing,
)

from monitor.farm.places import SiteReader, sign_of_life, site_now
from monitor.farm.records import NodeRow, PlaceNow, PlaceState, SiteNow
from monitor.logbook.place_entries import Unguarded, Why
from monitor.page.alarms import alarm_card
from monitor.records import (
    AlarmEvent,
    AlarmState,
    AlarmStatus,
    Calibration,
    Flag,
    Priority,
    Quantity,
    Transition,
)
from monitor.words.alarms import open_lines
from monitor.words.localizer import Localizer
from monitor.words.places import now_lines, verdict

LAPSE_MS = 4 * MINUTE_MS


def _site(farm: Farm, at_ms: int | None = None) -> SiteNow:
    with farm.store() as store:
        return site_now(store, farm.plan(), now_ms() if at_ms is None else at_ms)


def _place(site: SiteNow, name: str) -> PlaceNow:
    return next(place for place in site.places if place.id == name)


def _text(farm: Farm, site: SiteNow, width: int = 80) -> str:
    return "\n".join(line.text for line in now_lines(site, _words(farm), width))


def _words(farm: Farm) -> Localizer:
    return Localizer.of_site(farm.plan().settings, now_ms())


def _all_well(farm: Farm) -> None:
    farm.lives()
    put(farm, *(reading(sensor, now_ms() - 1000, 30.0) for sensor in (AIR, HUMIDITY, BIN)))


def test_all_is_fine_with_fresh_readings_and_a_living_service(farm: Farm) -> None:
    _all_well(farm)
    site = _site(farm)
    assert not site.wrong
    assert verdict(site, _words(farm)) == ["All is fine"]
    assert {place.id: place.state for place in site.places} == {
        "room-1": "fine",
        "bin-1": "fine",
        "bin-2": "empty",
    }


def test_a_dead_service_is_wrong_although_readings_are_fresh(farm: Farm) -> None:
    put(farm, *(reading(sensor, now_ms() - 1000, 30.0) for sensor in (AIR, HUMIDITY, BIN)))
    site = _site(farm)
    assert site.wrong
    assert "It has never run" in _text(farm, site)


def test_a_service_stopped_in_order_is_dead_at_once(farm: Farm) -> None:
    number = farm.lives()
    with farm.store() as store:
        assert sign_of_life(store, now_ms())[0]
        store.runs.stop(number, now_ms())
        assert sign_of_life(store, now_ms())[0] is False


def test_a_service_without_a_sign_of_life_for_minutes_is_dead(farm: Farm) -> None:
    started_ms = now_ms() - LAPSE_MS
    farm.lives(started_ms)
    with farm.store() as store:
        assert sign_of_life(store, now_ms()) == (False, started_ms)


def test_a_place_whose_readings_are_old_is_unknown_not_fine(farm: Farm) -> None:
    farm.lives()
    put(farm, reading(AIR, now_ms() - 1000, 27.0), reading(BIN, now_ms() - 60 * MINUTE_MS, 30.0))
    site = _site(farm)
    assert site.wrong
    assert _place(site, "bin-1").state is PlaceState.UNKNOWN
    assert verdict(site, _words(farm)) == ["1 place not known"]
    assert "? bin-1: not known. No usable reading; the last one was at" in _text(farm, site)
    assert "Go and look at the place. Then look at node-02" in " ".join(_text(farm, site).split())


def test_a_place_whose_sensor_says_what_cannot_be_is_unknown(farm: Farm) -> None:
    farm.lives()
    put(farm, reading(AIR, now_ms() - 1000, 27.0), reading(BIN, now_ms() - 1000, -127.0, Flag.FAIL))
    assert _place(_site(farm), "bin-1").state is PlaceState.UNKNOWN


def test_a_place_never_heard_of_is_unknown(farm: Farm) -> None:
    farm.lives()
    put(farm, reading(AIR, now_ms() - 1000, 27.0))
    assert "bin-1: not known. Not heard yet: node-02. Nothing guards this place" in _text(farm, _site(farm))


def test_an_alarm_is_told_with_the_present_value_and_what_to_do(farm: Farm) -> None:
    _all_well(farm)
    put(farm, reading(BIN, now_ms(), 44.25))
    put_states(farm, standing())
    site = _site(farm)
    text = " ".join(_text(farm, site).split())
    assert site.wrong
    assert site.places[0].id == "bin-1"
    assert "▲ HIGH bin-1: substrate temperature 44.2 °C, should be below 42 °C, since" in text
    assert f"Do: {farm.plan().rules[HOT].response}" in text
    assert f"Take care: {farm.plan().rules[HOT].caution}" in text


def test_of_two_limits_of_one_thing_the_graver_is_told(farm: Farm) -> None:
    _all_well(farm)
    put(farm, reading(BIN, now_ms(), 44.25))
    put_states(farm, standing(), standing(WARM))
    text = " ".join(_text(farm, _site(farm)).split())
    assert "should be below 42 °C" in text
    assert "38 °C" not in text.partition("Do:")[0]


def test_the_worst_place_comes_first_then_the_unknown(farm: Farm) -> None:
    farm.lives()
    room = next(name for name in farm.plan().rules if name.startswith("room-1/air_temperature/high/medium"))
    put(farm, reading(AIR, now_ms(), 37.0))
    put_states(farm, standing(room))
    assert [place.state for place in _site(farm).places] == ["medium", "unknown", "empty"]


@pytest.mark.parametrize("status", [AlarmStatus.SHELVED, AlarmStatus.OUT_OF_SERVICE])
def test_what_a_person_put_aside_is_told_but_is_not_wrong(farm: Farm, status: AlarmStatus) -> None:
    _all_well(farm)
    until_ms = now_ms() + MINUTE_MS
    put_states(farm, replace(standing(), status=status, shelved_until_ms=until_ms))
    site = _site(farm)
    assert not site.wrong
    text = " ".join(_text(farm, site).split())
    assert "alarm on substrate temperature: " in text
    assert ("put aside until" if status is AlarmStatus.SHELVED else "out of service") in text


def test_an_alarm_that_went_by_itself_is_told_but_is_not_wrong(farm: Farm) -> None:
    _all_well(farm)
    put_states(farm, AlarmState(HOT, AlarmStatus.RETURNED_UNACKNOWLEDGED, False, False, now_ms()))
    site = _site(farm)
    assert not site.wrong
    assert "alarm on substrate temperature: over" in " ".join(_text(farm, site).split())


def test_an_alarm_that_is_over_tells_the_limit_that_it_passed_and_is_watched_by_that_of_now(
    farm: Farm,
) -> None:
    """The limit of a bin moves with the stage of what lives in it."""
    farm.lives()
    put(farm, reading(AIR, now_ms(), 27.0), reading(BIN, now_ms() - 1000, 43.0))
    since_ms, end_ms = now_ms() - 90 * MINUTE_MS, now_ms() - 60 * MINUTE_MS
    returned = AlarmState(HOT, AlarmStatus.RETURNED_UNACKNOWLEDGED, False, False, end_ms)
    put_states(farm, replace(returned, over_since_ms=since_ms, over_ms=end_ms, over_extreme=47.2))
    came = Transition(
        HOT,
        "bin-1",
        Quantity.SUBSTRATE_TEMPERATURE,
        Priority.HIGH,
        AlarmEvent.ACTIVATE,
        AlarmStatus.NORMAL,
        AlarmStatus.UNACKNOWLEDGED,
        since_ms,
        since_ms,
        46.5,
        46.0,
    )
    before, after = AlarmStatus.UNACKNOWLEDGED, AlarmStatus.RETURNED_UNACKNOWLEDGED
    # The limit was raised meanwhile, and that ended it.
    ended = replace(came, event=AlarmEvent.CLEAR, before=before, after=after, at_ms=end_ms, setpoint=50.0)
    put_transitions(farm, came, ended)
    site = _site(farm)
    bin_1 = _place(site, "bin-1")
    told = next(alarm for alarm in bin_1.alarms if alarm.rule.alarm_id == HOT)
    assert (told.rule.setpoint, told.limit_passed) == (42.0, 46.0)
    assert "47.2 °C at most, limit 46 °C" in " ".join(_text(farm, site).split())
    assert told.beyond


def test_an_alarm_whose_data_went_stale_stays_wrong_and_says_so(farm: Farm) -> None:
    farm.lives()
    put(farm, reading(AIR, now_ms(), 27.0), reading(BIN, now_ms() - 60 * MINUTE_MS, 43.0))
    put_states(farm, replace(standing(acknowledged=True), stale=True))
    text = " ".join(_text(farm, _site(farm)).split())
    assert "substrate temperature 43.0 °C, should be below 42 °C, since" in text
    assert "somebody has acknowledged it, no newer reading" in text


def test_silence_is_told_with_its_present_length(farm: Farm) -> None:
    farm.lives()
    put(farm, reading(AIR, now_ms(), 27.0), reading(BIN, now_ms() - 125 * MINUTE_MS, 30.0))
    put_states(farm, standing("node-02/silent_minutes/high/medium"))
    text = " ".join(_text(farm, _site(farm)).split())
    assert "◆ MEDIUM node-02: nothing heard for 2 h 5 min" in text
    assert "Do: Look at its supply" in text


def test_a_doubtful_value_is_marked(farm: Farm) -> None:
    _all_well(farm)
    put(farm, reading(BIN, now_ms(), 30.0, Flag.SUSPECT))
    assert "substrate 30.0 °C (doubtful)" in _text(farm, _site(farm))


def test_two_sensors_of_one_kind_are_told_as_a_span(farm: Farm) -> None:
    _all_well(farm)
    put(farm, reading(replace(BIN, probe="edge"), now_ms(), 33.5))
    assert "substrate 30.0 to 33.5 °C" in _text(farm, _site(farm))


@pytest.mark.parametrize("width", [40, 60, 80])
def test_every_line_fits_a_phone(farm: Farm, width: int) -> None:
    _all_well(farm)
    put_states(farm, standing(), standing("node-02/silent_minutes/high/medium"))
    lines = _text(farm, _site(farm), width).splitlines()[1:]
    assert max(len(line) for line in lines) <= width


def test_values_are_calibrated_and_taken_from_the_dangerous_side(farm: Farm) -> None:
    _all_well(farm)
    put(farm, reading(replace(BIN, probe="edge"), now_ms(), 33.5))
    calibrated(farm, Calibration(BIN, 0, 1.0, 5.0))
    plan = farm.plan()
    with farm.store() as store:
        alarms = {
            alarm.rule.alarm_id: alarm.value for alarm in SiteReader(store, plan, now_ms()).every_alarm()
        }
    low = next(name for name in plan.rules if name.startswith("bin-1/substrate_temperature/low"))
    assert alarms[HOT] == 35.0
    assert alarms[low] == 33.5


def test_open_alarms_come_active_first_then_by_priority(farm: Farm) -> None:
    returned = AlarmState(WARM, AlarmStatus.RETURNED_UNACKNOWLEDGED, False, False, 0)
    silent = standing("node-02/silent_minutes/high/medium")
    put_states(farm, returned, silent, standing(), standing("gone/from/the/settings"))
    with farm.store() as store:
        found = SiteReader(store, farm.plan(), now_ms()).alarms()
    assert [alarm.rule.alarm_id for alarm in found] == [HOT, silent.alarm_id, WARM]
    assert [alarm.stands for alarm in found] == [True, True, False]


def _boards(farm: Farm) -> tuple[NodeRow, ...]:
    with farm.store() as store:
        return SiteReader(store, farm.plan(), now_ms()).boards()


def test_nodes_are_listed_with_silence_battery_and_strangers_last(farm: Farm) -> None:
    put(
        farm,
        reading(AIR, now_ms(), 27.0),
        reading(BATTERY, now_ms(), 3.31),
        reading(STRANGER, now_ms(), 31.0),
    )
    rows = _boards(farm)
    assert [(row.facts.node, row.placed, row.silent, row.battery_v) for row in rows] == [
        ("node-01", True, False, 3.31),
        ("node-02", True, True, None),
        ("node-09", False, False, None),
    ]


def test_the_gravest_priority_of_a_place_is_that_of_what_stands(farm: Farm) -> None:
    _all_well(farm)
    put_states(farm, replace(standing(), status=AlarmStatus.SHELVED), standing(WARM))
    assert _place(_site(farm), "bin-1").state is PlaceState.MEDIUM


def test_the_record_of_a_place_holds_its_limits_trend_and_guard(farm: Farm) -> None:
    farm.lives()
    put(farm, *(reading(BIN, now_ms() - back * MINUTE_MS, 33.0 - 0.1 * back) for back in range(20)))
    site = _site(farm)
    [substrate] = _place(site, "bin-1").quantities
    assert (substrate.low_limit, substrate.high_limit) == (20.0, 38.0)
    assert substrate.per_hour == pytest.approx(6.0, abs=0.01)
    assert (substrate.lowest, substrate.highest) == (33.0, 33.0)
    assert _place(site, "bin-1").unguarded is None
    assert _place(site, "bin-2").unguarded == Unguarded(Why.FILE)
    assert _place(site, "bin-1").room == "Tin room"


def test_a_trend_is_that_of_calibrated_values(farm: Farm) -> None:
    put(farm, *(reading(BIN, now_ms() - back * MINUTE_MS, 33.0 - 0.1 * back) for back in range(20)))
    calibrated(farm, Calibration(BIN, 0, 1.5, 0.0))
    [substrate] = _place(_site(farm), "bin-1").quantities
    assert substrate.per_hour == pytest.approx(9.0, abs=0.01)


def test_what_the_logbook_does_not_know_is_not_in_the_record(farm: Farm) -> None:
    with farm.store() as store:
        place = SiteReader(store, farm.plan(), now_ms()).place("bin-1")
        assert (place.bin, place.heat, place.moisture, place.cohorts, place.due) == (None, None, None, (), ())


# What is said of a value that is beyond its limit before its alarm comes, and of one that is back.

ROOM_HOT = "room-1/air_temperature/high/high"


def _hot_room(farm: Farm, status: AlarmStatus = AlarmStatus.NORMAL, at_c: float = 41.0) -> PlaceNow:
    _all_well(farm)
    at_ms = now_ms()
    put(farm, reading(AIR, at_ms, at_c))
    on_delay_s = farm.plan().rules[ROOM_HOT].on_delay_s
    coming = AlarmState(
        ROOM_HOT,
        status,
        False,
        status is not AlarmStatus.RETURNED_UNACKNOWLEDGED,
        at_ms,
        0.0,
        at_ms,
        at_c,
        at_c,
    )
    assert on_delay_s > 0
    put_states(farm, coming, replace(coming, alarm_id=ROOM_HOT.replace("high/high", "high/medium")))
    return _place(_site(farm), "room-1")


def test_a_value_beyond_its_limit_is_not_fine_while_its_alarm_waits(farm: Farm) -> None:
    place = _hot_room(farm)
    assert place.state is PlaceState.BEYOND
    assert [alarm.rule.alarm_id for alarm in place.beyond] == [ROOM_HOT]
    site, text = _site(farm), " ".join(_text(farm, _site(farm)).split())
    assert site.wrong
    assert "1 place beyond a limit" in text
    assert "△ Tin room: beyond a limit; air temperature 41.0 °C, should be below 40 °C, since" in text
    assert "the alarm comes at" in text
    assert "Tin room: fine" not in text
    with farm.store() as store:
        rows = SiteReader(store, farm.plan(), now_ms())
        assert rows.alarms() == ()


@pytest.mark.parametrize(
    ("status", "state"),
    [
        (AlarmStatus.SHELVED, PlaceState.UNGUARDED),
        (AlarmStatus.OUT_OF_SERVICE, PlaceState.UNGUARDED),
        (AlarmStatus.SUPPRESSED_BY_DESIGN, PlaceState.BEYOND),
    ],
)
def test_a_value_beyond_its_limit_is_not_fine_while_its_alarm_is_hidden(
    farm: Farm, status: AlarmStatus, state: PlaceState
) -> None:
    assert _hot_room(farm, status).state is state
    text = " ".join(_text(farm, _site(farm)).split())
    assert "the alarm comes at" not in text
    assert ("its alarm is held back" in text) is (status is AlarmStatus.SUPPRESSED_BY_DESIGN)


def test_a_value_on_its_limit_is_fine(farm: Farm) -> None:
    assert _hot_room(farm, at_c=36.0).state is PlaceState.FINE


def test_an_empty_place_is_empty_however_warm_it_is(farm: Farm) -> None:
    _all_well(farm)
    put(farm, reading(AIR, now_ms(), 41.0))
    text = farm.config.read_text(encoding="utf-8")
    farm.config.write_text(
        text.replace('title = "Tin room"', 'title = "Tin room"\nempty = true'), encoding="utf-8"
    )
    place = _place(_site(farm), "room-1")
    assert (place.state, place.beyond) == (PlaceState.EMPTY, ())


def _back(farm: Farm, value: float) -> str:
    """The hot bin is at `value` for a minute."""
    _all_well(farm)
    at_ms = now_ms()
    put(farm, reading(BIN, at_ms, value))
    put_states(
        farm,
        replace(
            standing(),
            since_ms=at_ms - 40 * MINUTE_MS,
            progress_s=60.0,
            last_at_ms=at_ms,
            last_value=value,
            last_true_ms=at_ms - 2 * MINUTE_MS,
        ),
    )
    return " ".join(_text(farm, _site(farm)).split())


def test_a_value_that_is_back_is_said_to_be_back_while_the_alarm_stands(farm: Farm) -> None:
    text = _back(farm, 39.0)
    assert "▲ HIGH bin-1: substrate temperature 39.0 °C, should be below 42 °C, since" in text
    assert "back within the limit since" in text and "over at" in text
    with farm.store() as store:
        alarm = SiteReader(store, farm.plan(), now_ms()).alarm(HOT)
    card = alarm_card(alarm, farm.plan(), _words(farm))
    assert any(note.startswith("back within the limit since") for note in card.notes)


def test_a_value_within_the_deadband_is_said_to_be_too_little_back(farm: Farm) -> None:
    text = _back(farm, 41.8)
    assert "within the limit again, by too little to be over" in text
    assert "back within the limit since" not in text


def test_a_value_beyond_the_limit_is_not_said_to_be_back(farm: Farm) -> None:
    assert "within the limit" not in _back(farm, 42.3)


def test_an_alarm_that_is_over_says_how_far_it_went_and_when(farm: Farm) -> None:
    _all_well(farm)
    at_ms = now_ms()
    over = AlarmState(
        HOT,
        AlarmStatus.RETURNED_UNACKNOWLEDGED,
        acknowledged=False,
        since_ms=at_ms,
        last_at_ms=at_ms,
        last_value=30.0,
        extreme_value=42.1,
        over_since_ms=at_ms - 120 * MINUTE_MS,
        over_ms=at_ms - 45 * MINUTE_MS,
        over_extreme=43.5,
    )
    put_states(farm, over)
    words = _words(farm)
    start, end = words.clock(at_ms - 120 * MINUTE_MS), words.clock(at_ms - 45 * MINUTE_MS)
    span = f"from {start} to {end} (1 h 15 min), over since then"
    with farm.store() as store:
        [alarm] = SiteReader(store, farm.plan(), at_ms + 90 * MINUTE_MS).alarms()
    card = alarm_card(alarm, farm.plan(), words)
    assert card.what == "Substrate temperature was 43.5 °C at most, limit 42 °C"
    assert card.notes == (span,)
    lines = " ".join(" ".join(open_lines([alarm], {HOT: 1}, words)).split())
    assert f"bin-1: substrate 43.5 °C, limit 42 °C · 1 h 15 min, until {end}; over, but nobody" in lines
    assert f"over, substrate temperature was 43.5 °C at most, limit 42 °C, {span}" in " ".join(
        _text(farm, _site(farm)).split()
    )


def test_a_state_of_the_monitor_that_is_over_says_so(farm: Farm) -> None:
    _all_well(farm)
    name = "site/silent_node_share/high/high"
    put_states(
        farm,
        AlarmState(
            name,
            AlarmStatus.RETURNED_UNACKNOWLEDGED,
            False,
            False,
            0,
            last_value=0.0,
            over_since_ms=0,
            over_ms=9,
            over_extreme=0.8,
        ),
    )
    with farm.store() as store:
        [alarm] = SiteReader(store, farm.plan(), now_ms()).alarms()
    assert alarm_card(alarm, farm.plan(), _words(farm)).what == "Boards send again"


def test_an_alarm_whose_newest_reading_failed_tells_the_last_good_value_and_that_it_is_old(
    farm: Farm,
) -> None:
    _all_well(farm)
    put(farm, reading(BIN, now_ms(), 85.0, Flag.FAIL))
    put_states(farm, replace(standing(), last_value=43.1, last_true_ms=now_ms() - 3 * MINUTE_MS))
    text = " ".join(_text(farm, _site(farm)).split())
    assert "substrate temperature 43.1 °C, should be below 42 °C, since" in text
    assert "no newer reading, last seen so at" in text


def test_a_probe_that_reads_backwards_falls_when_its_moisture_falls(farm: Farm) -> None:
    """As it was seen: moisture that falls, shown as rising, where the raw value goes the other way."""
    moisture = replace(BIN, quantity="substrate_moisture")
    put(farm, *(reading(moisture, now_ms() - back * MINUTE_MS, 0.5 - 0.001 * back) for back in range(25)))
    calibrated(farm, Calibration(moisture, 0, -1.0, 1.2))
    [found] = _place(_site(farm), "bin-1").quantities
    assert found.highest == pytest.approx(0.7, abs=0.001)
    assert found.per_hour == pytest.approx(-0.06, abs=0.002)


def test_the_trend_of_an_alarm_is_that_of_the_sensor_whose_value_it_tells(farm: Farm) -> None:
    """The cold edge of a bin falls while its core rises: each side of the limits looks at its own."""
    edge = replace(BIN, probe="edge")
    for back in range(25):
        at_ms = now_ms() - back * MINUTE_MS
        put(farm, reading(BIN, at_ms, 43.0 - 0.05 * back), reading(edge, at_ms, 19.0 + 0.03 * back))
    low = next(name for name in farm.plan().rules if name.startswith("bin-1/substrate_temperature/low"))
    put_states(farm, standing(), standing(low))
    with farm.store() as store:
        reader = SiteReader(store, farm.plan(), now_ms())
        hot, cold = reader.alarm(HOT), reader.alarm(low)
    assert (hot.value, cold.value) == pytest.approx((43.0, 19.0))
    assert (hot.per_hour, cold.per_hour) == pytest.approx((3.0, -1.8), abs=0.05)


def test_a_step_tells_no_trend_on_the_page(farm: Farm) -> None:
    _all_well(farm)
    put(farm, *(reading(HUMIDITY, now_ms() - b * MINUTE_MS, 44.0 if b < 8 else 73.0) for b in range(1, 30)))
    put(farm, reading(HUMIDITY, now_ms(), 44.0))
    place = _place(_site(farm), "room-1")
    assert {quantity.quantity: quantity.per_hour for quantity in place.quantities}["air_humidity"] is None
