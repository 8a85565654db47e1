"""The night as the report needs it."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime
from zoneinfo import ZoneInfo

import pytest
from cli_farm import AIR, BATTERY, BIN, HOT, HUMIDITY, MINUTE_MS, STRANGER, WARM, Farm, reading

from monitor import __version__
from monitor.board_records import BoardReport
from monitor.farm.night import (
    HEARTBEAT_LOST,
    NightReader,
    last_night,
    newest_night,
    night_of,
    running_day,
)
from monitor.farm.night_alarms import week_of
from monitor.farm.night_records import BoardCare, NightMark, NightReport, NightSummary, PlaceNight, Span
from monitor.farm.occupancy import LIMITS, LIMITS_KEPT_MS, keep_limits, occupied_plan, plan_then
from monitor.farm.today import Outlook
from monitor.logbook.place_entries import Why
from monitor.records import (
    MS_PER_DAY,
    AlarmEvent,
    AlarmState,
    AlarmStatus,
    Batch,
    Calibration,
    Flag,
    FlaggedReading,
    LogbookEntry,
    MessageKind,
    OutboxMessage,
    Priority,
    SensorKey,
    Side,
    SubjectKind,
    Transition,
)
from monitor.settings.schema import Place
from monitor.words.boards import reasons
from monitor.words.localizer import Localizer
from monitor.words.night import report_text, unguarded_lines

GABORONE, BERLIN = ZoneInfo("Africa/Gaborone"), ZoneInfo("Europe/Berlin")
HOUR_MS = 60 * MINUTE_MS


def _ms(*parts: int, zone: ZoneInfo = GABORONE) -> int:
    year, month, day, *clock = parts
    hour, minute = [*clock, 0, 0][:2]
    return round(datetime(year, month, day, hour, minute, tzinfo=zone).timestamp() * 1000)


START_MS, END_MS = _ms(2026, 11, 24, 18, 0), _ms(2026, 11, 25, 6, 30)


def _put(farm: Farm, *readings: FlaggedReading, **more: object) -> None:
    from cli_farm import message

    with farm.store() as store:
        messages = tuple(message(item) for item in readings)
        store.commit(Batch(END_MS, messages, **more))  # type: ignore[arg-type]


def _night(farm: Farm, now_ms: int = END_MS + MINUTE_MS) -> NightSummary:
    plan = farm.plan()
    with farm.store() as store:
        return NightReader(store, plan, night_of(plan, date(2026, 11, 25)), now_ms).summary()


def _care(farm: Farm, now_ms: int) -> dict[str, BoardCare]:
    plan = farm.plan()
    with farm.store() as store:
        report = NightReader(store, plan, night_of(plan, date(2026, 11, 25)), now_ms).report()
    return {care.row.facts.node: care for care in report.boards}


def _place(night: NightSummary, name: str) -> PlaceNight:
    return next(place for place in night.places if place.id == name)


def _minutes(
    first_ms: int, *values: float, sensor: object = BIN, flag: Flag = Flag.PASS
) -> list[FlaggedReading]:
    return [
        reading(sensor, first_ms + at * MINUTE_MS, value, flag)  # type: ignore[arg-type]
        for at, value in enumerate(values)
    ]


def _row(
    event: AlarmEvent, before: AlarmStatus, after: AlarmStatus, at_ms: int, **more: object
) -> Transition:
    row = Transition(
        HOT, "bin-1", "substrate_temperature", Priority.HIGH, event, before, after, at_ms, at_ms, 42.6, 42.0
    )
    return replace(row, **more)  # type: ignore[arg-type]


def _came(at_ms: int) -> Transition:
    return _row(AlarmEvent.ACTIVATE, AlarmStatus.NORMAL, AlarmStatus.UNACKNOWLEDGED, at_ms)


def _over(at_ms: int) -> Transition:
    return _row(AlarmEvent.CLEAR, AlarmStatus.UNACKNOWLEDGED, AlarmStatus.RETURNED_UNACKNOWLEDGED, at_ms)


HUMIDITY_RULE = """
[[rules]]
place = "room-1"
quantity = "air_humidity"
side = "low"
priority = "low"
setpoint = 30.0
deadband = 3.0
on_delay_minutes = 5
response = "Wet the floor."
"""


# Which night


def test_a_night_ends_on_its_morning(farm: Farm) -> None:
    assert night_of(farm.plan(), date(2026, 11, 25)) == Span(START_MS, END_MS, "2026-11-25")


@pytest.mark.parametrize(
    ("morning", "hours"),
    [(date(2026, 3, 29), 11.5), (date(2026, 10, 25), 13.5), (date(2026, 11, 25), 12.5)],
    ids=["spring", "autumn", "other"],
)
def test_a_night_over_a_change_of_the_clocks_is_an_hour_shorter_or_longer(
    farm: Farm, morning: date, hours: float
) -> None:
    farm.config.write_text(farm.config.read_text().replace("Africa/Gaborone", "Europe/Berlin"))
    span = night_of(farm.plan(), morning)
    assert (span.end_ms - span.start_ms) / HOUR_MS == hours
    assert span.end_ms == _ms(morning.year, morning.month, morning.day, 6, 30, zone=BERLIN)


def test_a_night_that_begins_after_midnight_is_short(farm: Farm) -> None:
    text = farm.config.read_text().replace("[broker]", '[report]\nnight_start = "00:30"\n\n[broker]')
    farm.config.write_text(text)
    span = night_of(farm.plan(), date(2026, 11, 25))
    assert (span.end_ms - span.start_ms) / HOUR_MS == 6


@pytest.mark.parametrize(
    ("now", "morning"),
    [((25, 6, 29), "2026-11-24"), ((25, 6, 30), "2026-11-25"), ((25, 23, 0), "2026-11-25")],
)
def test_the_last_night_is_the_newest_that_is_over(
    farm: Farm, now: tuple[int, int, int], morning: str
) -> None:
    assert last_night(farm.plan(), _ms(2026, 11, *now)).date == morning


# What it says


def test_lowest_and_highest_with_their_times(farm: Farm) -> None:
    _put(farm, *_minutes(START_MS, 30.0, 29.0, 33.0, 31.0))
    [found] = _place(_night(farm), "bin-1").quantities
    assert (found.lowest.value, found.lowest.at_ms) == (29.0, START_MS + MINUTE_MS)
    assert (found.highest.value, found.highest.at_ms) == (33.0, START_MS + 2 * MINUTE_MS)


def test_readings_outside_the_night_and_failed_ones_do_not_count(farm: Farm) -> None:
    _put(
        farm,
        reading(BIN, START_MS - 1, 10.0),
        reading(BIN, START_MS, 30.0),
        reading(BIN, START_MS + MINUTE_MS, 85.0, Flag.FAIL),
        reading(BIN, END_MS, 50.0),
    )
    [found] = _place(_night(farm), "bin-1").quantities
    assert (found.lowest.value, found.highest.value) == (30.0, 30.0)


def test_values_are_calibrated(farm: Farm) -> None:
    _put(farm, *_minutes(START_MS, 30.0, 31.0))
    with farm.store() as store:
        store.calibrations.add(Calibration(BIN, START_MS, 1.0, -0.5))
    [found] = _place(_night(farm), "bin-1").quantities
    assert (found.lowest.value, found.highest.value) == (29.5, 30.5)


def test_minutes_out_of_range_are_counted_up_to_the_next_reading(farm: Farm) -> None:
    """Limits of a bin here: 38 and 42 high, 20 low; out: 39, 43 and 19 for a minute each."""
    _put(farm, *_minutes(START_MS, 30.0, 39.0, 43.0, 30.0, 19.0, 30.0))
    [found] = _place(_night(farm), "bin-1").quantities
    assert found.minutes_out == pytest.approx(3.0)


def test_a_probe_that_is_not_calibrated_gives_an_index_and_is_never_out_of_range(farm: Farm) -> None:
    probe = SensorKey("node-02", "", "substrate_moisture")
    _put(farm, *_minutes(START_MS, 0.20, 0.21, sensor=probe))
    night = _night(farm)
    [found] = _place(night, "bin-1").quantities
    words = Localizer.plain("en", GABORONE, END_MS)
    assert (found.is_index, found.minutes_out) == (True, 0.0)
    text = report_text(NightReport(night), words)
    assert "probe index 20" in text
    assert "an index, not a moisture" in text
    with farm.store() as store:
        store.calibrations.add(Calibration(probe, START_MS, 1.0, 0.0))
    [found] = _place(_night(farm), "bin-1").quantities
    assert (found.is_index, found.minutes_out) == (False, pytest.approx(1.0))


def test_a_gap_is_counted_but_not_as_out_of_range(farm: Farm) -> None:
    _put(farm, reading(BIN, START_MS, 43.0), reading(BIN, START_MS + 6 * HOUR_MS, 30.0))
    [found] = _place(_night(farm), "bin-1").quantities
    assert found.gap_minutes == pytest.approx(12.5 * 60)
    assert found.minutes_out == pytest.approx(10.0)


def test_of_a_night_that_is_not_over_what_lies_ahead_is_not_missing(farm: Farm) -> None:
    _put(farm, *_minutes(START_MS, *[30.0] * 60))
    night = _night(farm, START_MS + HOUR_MS)
    [found] = _place(night, "bin-1").quantities
    degree_days = _place(night, "bin-1").degree_days
    assert found.gap_minutes == 0
    assert degree_days is not None
    assert degree_days.hours_missing == 0


def test_degree_days_of_a_constant_night(farm: Farm) -> None:
    """(30 - threshold) K over 12.5 h are that many K times 12.5 / 24 degree-days."""
    _put(farm, *(reading(BIN, at, 30.0) for at in range(START_MS, END_MS, 10 * MINUTE_MS)))
    found = _place(_night(farm), "bin-1").degree_days
    assert found is not None
    hours = 12.5 - 1 / 6
    assert found.earned == pytest.approx((30.0 - found.threshold_c) * hours / 24, abs=0.01)
    assert (found.measured, found.in_doubt) == ("substrate_temperature", False)


def test_the_air_is_told_with_drying_power_and_condensation(farm: Farm) -> None:
    """Saturation pressure at 25 °C: 3169.7 Pa (tests/references/psychrometrics.toml); 50 % lacks half."""
    steps = range(START_MS, END_MS, 10 * MINUTE_MS)
    _put(
        farm,
        *(reading(AIR, at, 25.0) for at in steps),
        *(reading(HUMIDITY, at, 50.0) for at in steps),
        reading(HUMIDITY, START_MS + MINUTE_MS, 100.0),
    )
    air = _place(_night(farm), "room-1").air
    assert air is not None
    assert air.highest_deficit_pa == pytest.approx(3169.7 / 2, rel=3e-4)
    assert air.dew_point_c == pytest.approx(25.0, abs=0.01)
    assert air.lowest_margin_k == pytest.approx(0.0, abs=0.01)
    assert air.margin_at_ms == START_MS + MINUTE_MS


def test_an_alarm_is_told_with_its_extreme_its_end_and_who_knew(farm: Farm) -> None:
    began_ms = START_MS + HOUR_MS
    _put(farm, *_minutes(began_ms, 42.6, 43.9, 43.0, 36.0))
    rows = (
        _came(began_ms),
        _row(
            AlarmEvent.ACKNOWLEDGE,
            AlarmStatus.UNACKNOWLEDGED,
            AlarmStatus.ACKNOWLEDGED,
            began_ms + MINUTE_MS,
            actor="Naledi",
        ),
        _row(AlarmEvent.CLEAR, AlarmStatus.ACKNOWLEDGED, AlarmStatus.NORMAL, began_ms + 3 * MINUTE_MS),
    )
    _put(farm, transitions=rows)
    [alarm] = _night(farm).alarms
    assert (alarm.title, alarm.value, alarm.extreme) == ("bin-1", 42.6, 43.9)
    assert (alarm.acknowledged_by, alarm.acknowledged_ms) == ("Naledi", began_ms + MINUTE_MS)
    assert alarm.cleared_ms == began_ms + 3 * MINUTE_MS


def test_an_alarm_that_came_twice_is_told_twice(farm: Farm) -> None:
    back = _row(
        AlarmEvent.CLEAR, AlarmStatus.UNACKNOWLEDGED, AlarmStatus.RETURNED_UNACKNOWLEDGED, START_MS + 2
    )
    _put(farm, transitions=(_came(START_MS + 1), back, _came(START_MS + 3)))
    alarms = _night(farm).alarms
    assert [alarm.began_ms for alarm in alarms] == [START_MS + 1, START_MS + 3]
    assert [alarm.cleared_ms for alarm in alarms] == [START_MS + 2, None]


def test_an_excursion_nobody_was_told_of_is_found_later(farm: Farm) -> None:
    _put(farm, *_minutes(START_MS, 30.0, 42.5, 43.0, 42.4, 30.0))
    found = {late.rule.alarm_id: late for late in _night(farm).found_late}
    assert (found[HOT].began_ms, found[HOT].ended_ms) == (START_MS + MINUTE_MS, START_MS + 3 * MINUTE_MS)
    assert found[HOT].extreme == 43.0


@pytest.mark.parametrize("status", [AlarmStatus.SHELVED, AlarmStatus.OUT_OF_SERVICE])
def test_what_was_put_aside_is_no_late_finding_but_a_note(farm: Farm, status: AlarmStatus) -> None:
    states = tuple(AlarmState(name, status, False, True, START_MS) for name in (HOT, WARM))
    _put(farm, *_minutes(START_MS, 30.0, 42.5, 43.0, 30.0), alarm_states=states)
    night = _night(farm)
    assert night.found_late == ()
    assert [(alarm.title, alarm.state.status) for alarm in night.set_aside] == [("bin-1", status)] * 2
    assert night.still_active == ()


def test_an_earlier_night_speaks_of_its_own_end_and_not_of_now(farm: Farm) -> None:
    """An alarm of today stands under no earlier night; one that stood at its end does."""
    now_ms = END_MS + 50 * HOUR_MS
    hot = AlarmState(HOT, AlarmStatus.UNACKNOWLEDGED, True, False, now_ms - HOUR_MS, last_value=43.0)
    _put(farm, *_minutes(END_MS - HOUR_MS, *[37.0] * 59, 42.4), alarm_states=(hot,))
    assert _night(farm, now_ms).still_active == ()
    _put(farm, transitions=(_came(END_MS - HOUR_MS), _over(END_MS + 3 * HOUR_MS), _came(now_ms - HOUR_MS)))
    night = _night(farm, now_ms)
    [standing] = night.still_active
    assert (standing.value, standing.state.since_ms, night.of_now) == (42.4, END_MS - HOUR_MS, False)
    assert [alarm.cleared_ms for alarm in night.alarms] == [END_MS + 3 * HOUR_MS]


def test_a_silence_that_was_over_when_the_night_is_looked_at_is_not_still_there(farm: Farm) -> None:
    _put(farm, transitions=(_came(END_MS - HOUR_MS), _over(END_MS + HOUR_MS)))
    assert [alarm.cleared_ms for alarm in _night(farm, END_MS + MINUTE_MS).alarms] == [None]
    assert [alarm.cleared_ms for alarm in _night(farm, END_MS + 2 * HOUR_MS).alarms] == [END_MS + HOUR_MS]


def test_an_alarm_that_stood_when_the_night_began_is_one_of_its_alarms(farm: Farm) -> None:
    _put(farm, *_minutes(START_MS - HOUR_MS, *[42.6] * 30, 44.5, *[42.6] * 89))
    _put(farm, transitions=(_came(START_MS - HOUR_MS), _over(START_MS + HOUR_MS)))
    [alarm] = _night(farm).alarms
    assert (alarm.began_ms, alarm.cleared_ms) == (START_MS - HOUR_MS, START_MS + HOUR_MS)
    assert alarm.extreme == 44.5
    with farm.store() as store:
        plan = farm.plan()
        nights = [night_of(plan, date(2026, 11, day)) for day in (26, 25)]
        reader = NightReader(store, plan, nights[0], END_MS)
        rows = week_of(store, plan, reader.sensors, nights)
    assert [row.worst for row in rows] == [None, Priority.HIGH]


def test_an_alarm_that_was_over_before_the_night_is_none_of_it(farm: Farm) -> None:
    _put(farm, transitions=(_came(START_MS - HOUR_MS), _over(START_MS - 1)))
    assert _night(farm).alarms == ()


def test_what_was_put_aside_then_stands_under_the_earlier_night(farm: Farm) -> None:
    shelved = _row(
        AlarmEvent.SHELVE, AlarmStatus.UNACKNOWLEDGED, AlarmStatus.SHELVED, START_MS + HOUR_MS, actor="Naledi"
    )
    back = _row(AlarmEvent.SHELF_END, AlarmStatus.SHELVED, AlarmStatus.NORMAL, END_MS + HOUR_MS)
    _put(farm, transitions=(_came(START_MS), shelved, back))
    then, now = _night(farm, END_MS + 30 * HOUR_MS), _night(farm, END_MS + 2 * HOUR_MS)
    assert [alarm.state.status for alarm in then.set_aside] == [AlarmStatus.SHELVED]
    assert now.set_aside == ()
    assert [(alarm.aside_by, alarm.aside_ms) for alarm in then.alarms] == [("Naledi", START_MS + HOUR_MS)]


def test_messages_of_a_night_are_those_made_since_the_report_before(farm: Farm) -> None:
    """A message that was lost a year ago is not told every morning."""
    day_before_ms = END_MS - 24 * HOUR_MS
    made = (END_MS - 365 * 24 * HOUR_MS, day_before_ms - 1, day_before_ms, END_MS - 1, END_MS)
    messages = tuple(OutboxMessage("owner", MessageKind.ALARM, "t", "b", at_ms) for at_ms in made)
    _put(farm, outbox=messages)
    assert _night(farm).unsent_messages == 2
    with farm.store() as store:
        last = store.outbox.waiting()[-2]
        store.outbox.mark_sent(last.message_id or 0, END_MS + HOUR_MS)
    assert _night(farm, END_MS + 2 * HOUR_MS).unsent_messages == 1
    assert _night(farm, END_MS + 50 * HOUR_MS).unsent_messages == 2


def test_boards_of_an_earlier_night_lack_only_what_they_lacked_then(farm: Farm) -> None:
    _put(farm, *_minutes(END_MS - 60 * MINUTE_MS, *[30.0] * 50, flag=Flag.SUSPECT))
    now_ms = END_MS + 50 * HOUR_MS
    care = _care(farm, now_ms)
    assert {name: found.row.silent for name, found in care.items()} == {"node-02": False}
    assert _care(farm, END_MS + 2 * HOUR_MS)["node-02"].row.silent


def test_one_place_that_fails_leaves_the_others(farm: Farm, monkeypatch: pytest.MonkeyPatch) -> None:
    def fails(_: NightReader, place: Place) -> None:
        if place.id == "room-1":
            raise ValueError("an error of the program")

    _put(farm, *_minutes(START_MS, 30.0, 31.0))
    monkeypatch.setattr(NightReader, "_air", fails)
    night = _night(farm)
    assert {place.id: place.failed for place in night.places} == {
        "room-1": "ValueError",
        "bin-1": "",
        "bin-2": "",
    }
    assert _place(night, "bin-1").quantities
    assert not night.known


@pytest.mark.parametrize("part", ["bins", "forecast", "surfaces"])
def test_one_error_in_a_forecast_does_not_end_the_report(
    farm: Farm, monkeypatch: pytest.MonkeyPatch, part: str
) -> None:
    def fails(_: Outlook) -> None:
        raise ZeroDivisionError("an error of the program")

    monkeypatch.setattr(Outlook, part, property(fails))
    plan = farm.plan()
    with farm.store() as store:
        report = NightReader(store, plan, last_night(plan, END_MS), END_MS).report()
    text = report_text(report, Localizer.of_site(plan.settings, END_MS))
    assert "an error of the program (ZeroDivisionError); its log tells more" in text
    assert "PLACES" in text


def _said(farm: Farm, kind: str, at_ms: int, place: str = "bin-1", **body: object) -> None:
    with farm.store() as store:
        store.logbook.add(LogbookEntry(SubjectKind.PLACE, place, kind, at_ms, at_ms, "Naledi", body))


def test_a_place_that_was_not_guarded_in_the_night_says_who_said_so_and_when(farm: Farm) -> None:
    """Put aside and back by itself; what was said after the night is none of it."""
    _put(farm, *_minutes(START_MS, *[43.0] * 60))
    until_ms = START_MS + 2 * HOUR_MS
    _said(farm, "aside", START_MS + HOUR_MS, until_ms=until_ms)
    _said(farm, "empty", END_MS + HOUR_MS)
    for now_ms in (END_MS + 2 * HOUR_MS, END_MS + 50 * HOUR_MS):
        night = _night(farm, now_ms)
        place = _place(night, "bin-1")
        assert [(why.why, why.said_by, why.until_ms) for why in place.unguarded] == [
            (Why.ASIDE, "Naledi", until_ms)
        ]
        assert not place.empty and night.out_places == (place,)
        words = Localizer.plain("en", GABORONE, now_ms)
        [line] = unguarded_lines(place, night, words)
        assert "said Naledi" in line and "To undo" not in line


@pytest.mark.parametrize(("put_aside_ms", "highest_c"), [(END_MS + HOUR_MS, 33.0), (END_MS - HOUR_MS, 31.0)])
def test_a_board_that_is_put_aside_has_measured_before(
    farm: Farm, put_aside_ms: int, highest_c: float
) -> None:
    """As it was seen: a board put into the salt jar in the morning, and "little or nothing was measured"."""
    minutes = round((END_MS - START_MS) / MINUTE_MS)
    _put(farm, *_minutes(START_MS, *[31.0] * (minutes - 30), *[33.0] * 30))
    with farm.store() as store:
        aside = {"until_ms": put_aside_ms + 12 * HOUR_MS}
        said = (BIN.node, "aside", put_aside_ms, put_aside_ms, "Naledi", aside)
        store.logbook.add(LogbookEntry(SubjectKind.NODE, *said))
        now_ms = END_MS + 2 * HOUR_MS
        plan = occupied_plan(store, farm.plan().settings, now_ms)
        night = NightReader(store, plan, night_of(plan, date(2026, 11, 25)), now_ms).summary()
    (measured,) = _place(night, "bin-1").quantities
    assert measured.highest.value == highest_c


def test_a_place_that_was_empty_all_night_is_told_as_empty(farm: Farm) -> None:
    _put(farm, *_minutes(START_MS, *[43.0] * 60))
    _said(farm, "empty", START_MS - HOUR_MS)
    _said(farm, "in_use", END_MS + HOUR_MS)
    night = _night(farm, END_MS + 50 * HOUR_MS)
    assert _place(night, "bin-1").empty and night.out_places == ()
    assert [why.said_ms for why in _place(night, "bin-1").unguarded] == [START_MS - HOUR_MS]
    text = report_text(NightReport(night), Localizer.plain("en", GABORONE, END_MS + 50 * HOUR_MS))
    assert "- bin-1: empty\n  No animals in it, said Naledi, 17:00.\n" in text.replace("Tue 17:00", "17:00")


def test_a_place_that_was_emptied_in_the_night_counts_as_lived_in(farm: Farm) -> None:
    _put(farm, *_minutes(START_MS, *[43.0] * 60))
    _said(farm, "empty", END_MS - HOUR_MS)
    night = _night(farm)
    assert not _place(night, "bin-1").empty and len(night.out_places) == 1


def test_a_quantity_of_which_nothing_came_is_named(farm: Farm) -> None:
    _put(farm, *_minutes(START_MS - HOUR_MS, 60.0, sensor=HUMIDITY), *_minutes(START_MS, 25.0, sensor=AIR))
    assert _place(_night(farm), "room-1").missing == ()
    farm.config.write_text(farm.config.read_text() + HUMIDITY_RULE)
    assert _place(_night(farm), "room-1").missing == ("air_humidity",)


@pytest.mark.parametrize(("lost_min", "told"), [(59, False), (60, True)])
def test_a_heartbeat_that_is_not_taken_for_an_hour_is_told(farm: Farm, lost_min: int, told: bool) -> None:
    now_ms = END_MS + MINUTE_MS
    text = farm.config.read_text().replace(
        "[broker]", '[messages]\nheartbeat_url = "https://example.org/x"\n\n[broker]'
    )
    farm.config.write_text(text)
    with farm.store() as store:
        store.meta.put(HEARTBEAT_LOST, str(now_ms - lost_min * MINUTE_MS))
    assert (_night(farm, now_ms).heartbeat_lost_ms is not None) is told


def test_what_is_wrong_now_is_told_with_its_present_value(farm: Farm) -> None:
    state = AlarmState(HOT, AlarmStatus.UNACKNOWLEDGED, True, False, START_MS, last_value=42.1)
    _put(farm, *_minutes(END_MS - 2 * MINUTE_MS, 43.0, 44.0), alarm_states=(state,))
    assert [alarm.value for alarm in _night(farm).still_active] == [44.0]


def test_boards_to_look_after(farm: Farm) -> None:
    _put(
        farm,
        reading(AIR, END_MS, 27.0),
        reading(BATTERY, END_MS, 3.31),
        reading(BIN, END_MS - 2 * HOUR_MS, 30.0),
        reading(STRANGER, END_MS, 30.0),
    )
    care = _care(farm, END_MS)
    assert care["node-01"].row.battery_is_low
    assert care["node-02"].row.silent
    assert not care["node-09"].row.known
    assert {name: found.doubtful for name, found in care.items()} == dict.fromkeys(care, ())


def test_a_board_that_reports_a_broken_sensor_is_to_be_looked_after_that_morning(farm: Farm) -> None:
    report = BoardReport("node-01", END_MS - HOUR_MS, __version__, 7, faults={"sht4x": "crc"}, rssi_dbm=-60)
    # The battery is read so that node-01 is there and lacks nothing else.
    _put(farm, reading(AIR, END_MS, 27.0), reading(BATTERY, END_MS, 3.9), reports=(report,))
    words = Localizer.of_site(farm.plan().settings, END_MS)
    said = " ".join(reasons(_care(farm, END_MS)["node-01"], words))
    assert said == f"Its sensor sht4x {words.t('board_report.fault_crc')}."
    silent_ms = END_MS + 10 * HOUR_MS
    assert "sht4x" not in " ".join(reasons(_care(farm, silent_ms)["node-01"], words)), "it is silent by then"


def test_a_sensor_that_was_doubtful_for_long_is_to_be_looked_after(farm: Farm) -> None:
    """From 30 minutes on; 29 steps of a minute are less."""
    _put(farm, *_minutes(END_MS - 60 * MINUTE_MS, *[30.0] * 30, flag=Flag.SUSPECT))
    _put(farm, *_minutes(END_MS - 30 * MINUTE_MS, *[30.0] * 30))
    assert [found.minutes for found in _care(farm, END_MS)["node-02"].doubtful] == [30.0]
    _put(farm, *_minutes(END_MS - 60 * MINUTE_MS, *[30.0] * 29, flag=Flag.SUSPECT, sensor=AIR))
    _put(farm, *_minutes(END_MS - 31 * MINUTE_MS, *[30.0] * 31, sensor=AIR))
    assert "node-01" not in _care(farm, END_MS)


def _week(farm: Farm, now_ms: int = END_MS) -> list[dict[str, tuple[str, ...]]]:
    """The marks of two nights with their places, the newer first."""
    plan = farm.plan()
    with farm.store() as store:
        nights = [night_of(plan, date(2026, 11, day)) for day in (25, 24)]
        reader = NightReader(store, plan, nights[0], now_ms)
        rows = week_of(store, plan, reader.sensors, nights, now_ms)
    return [{each.mark.value: each.places for each in row.marks} for row in rows]


def test_the_week_marks_a_hot_night_by_calibrated_values_and_the_gravest_alarm(farm: Farm) -> None:
    values = [*[30.0] * 60, 37.4, *[30.0] * 689]
    _put(farm, *_minutes(START_MS, *values), transitions=(_came(START_MS + 1),))
    assert _week(farm)[0] == {}
    with farm.store() as store:
        store.calibrations.add(Calibration(BIN, 0, 1.0, 0.7))
        plan = farm.plan()
        nights = [night_of(plan, date(2026, 11, day)) for day in (25, 24)]
        reader = NightReader(store, plan, nights[0], END_MS)
        newest, before = week_of(store, plan, reader.sensors, nights, END_MS)
    [hot] = newest.marks
    assert (hot.mark, hot.places, newest.worst) == (NightMark.HOT, ("bin-1",), Priority.HIGH)
    assert (before.marks, before.worst, before.known) == ((), None, False)


def test_heat_after_the_end_of_the_night_within_its_last_hour_is_none_of_it(farm: Farm) -> None:
    """The night ends at half past six; the hours are whole ones."""
    _put(farm, *_minutes(START_MS, *[30.0] * 750), *_minutes(END_MS, *[44.0] * 20))
    assert _week(farm, END_MS + HOUR_MS)[0] == {}
    _put(farm, reading(BIN, END_MS - 90_000, 44.0))
    assert _week(farm, END_MS + HOUR_MS)[0] == {"hot": ("bin-1",)}


@pytest.mark.parametrize(("hole", "marked"), [(29, {}), (34, {"silent": ("bin-1",)})])
def test_a_night_is_silent_where_readings_were_missing_for_longer_than_a_quiet_night_allows(
    farm: Farm, hole: int, marked: dict[str, tuple[str, ...]]
) -> None:
    """Over the border of two hours too: no whole hour is empty."""
    _put(
        farm,
        *_minutes(START_MS, *[30.0] * 105),
        *_minutes(START_MS + (104 + hole) * MINUTE_MS, *[30.0] * (646 - hole)),
    )
    assert _week(farm)[0] == marked
    assert bool(_night(farm, END_MS).gap_places) == bool(marked)


def test_a_night_is_held_against_the_limits_of_its_own_time(farm: Farm) -> None:
    """Out of range, found late and marked in the week by what held then, not by what was chosen since."""
    today = farm.plan()
    limit_c = today.rules[HOT].setpoint
    high = [rule for rule in today.rules_of("bin-1", "substrate_temperature") if rule.side is Side.HIGH]
    assert limit_c == max(rule.setpoint for rule in high)
    others = [rule for rule in today.rules.values() if rule not in high]
    # Only the gravest limit is left, and it moved up by 2 °C before the newer night.
    today = today.with_rules([*others, today.rules[HOT]])
    lower = today.with_rules([*others, replace(today.rules[HOT], setpoint=limit_c - 2.0)])
    nights = [night_of(today, date(2026, 11, day)) for day in (25, 24)]
    _put(farm, *_minutes(START_MS, *[limit_c - 1.0] * 60))
    _put(farm, *_minutes(START_MS - MS_PER_DAY, *[limit_c - 1.0] * 60))
    with farm.store() as store:
        keep_limits(store, lower, START_MS - 2 * MS_PER_DAY)
        keep_limits(store, today, START_MS - HOUR_MS)
        for night, minutes, marked in ((nights[0], 0.0, ()), (nights[1], 60.0, ("bin-1",))):
            reader = NightReader(store, today, night, END_MS + HOUR_MS)
            told = reader.summary()
            assert _place(told, "bin-1").out_minutes == pytest.approx(minutes, abs=1.0)
            assert [late.rule.setpoint for late in told.found_late if late.rule.alarm_id == HOT] == (
                [limit_c - 2.0] if marked else []
            )
            rows = week_of(store, today, reader.sensors, nights, END_MS + HOUR_MS)
            week = {row.date: {each.mark: each.places for each in row.marks} for row in rows}
            assert week[night.date].get(NightMark.HOT, ()) == marked
        assert plan_then(store, today, START_MS - 3 * MS_PER_DAY) is today


def test_which_limits_held_is_kept_as_they_change_and_not_for_ever(farm: Farm) -> None:
    today = farm.plan()
    gone = today.with_rules(rule for rule in today.rules.values() if rule.alarm_id != HOT)
    with farm.store() as store:
        keep_limits(store, today, START_MS)
        before = store.meta.get(LIMITS)
        keep_limits(store, today, START_MS + HOUR_MS)
        assert store.meta.get(LIMITS) == before
        keep_limits(store, gone, START_MS + 2 * HOUR_MS)
        assert plan_then(store, gone, START_MS + HOUR_MS).rules[HOT].setpoint == 42.0
        assert HOT not in plan_then(store, today, START_MS + 3 * HOUR_MS).rules
        # The clock was set back: what began later by it never did.
        keep_limits(store, today, START_MS + HOUR_MS)
        assert HOT in plan_then(store, today, START_MS + 3 * HOUR_MS).rules
        keep_limits(store, gone, START_MS + 2 * HOUR_MS)
        keep_limits(store, gone, START_MS + 3 * HOUR_MS + 2 * LIMITS_KEPT_MS)
        assert HOT not in str(store.meta.get(LIMITS))
        assert plan_then(store, gone, START_MS + 3 * HOUR_MS + 2 * LIMITS_KEPT_MS) is gone


def test_dry_humid_and_cold_nights_are_told_apart(farm: Farm) -> None:
    farm.config.write_text(farm.config.read_text() + HUMIDITY_RULE)
    _put(farm, *_minutes(START_MS, *[50.0] * 400, *[20.0] * 350, sensor=HUMIDITY))
    assert "dry" in _week(farm)[0]
    assert "humid" not in _week(farm)[0]


def test_the_week_follows_the_logbook_only_where_a_marked_place_may_have_been_empty(
    farm: Farm, monkeypatch: pytest.MonkeyPatch
) -> None:
    """That takes most of the time of the week."""

    def followed(*_: object) -> None:
        raise AssertionError("the logbook was followed for nothing")

    _put(farm, *_minutes(START_MS, *[55.0] * 60))
    monkeypatch.setattr("monitor.farm.night_alarms.unguarded_between", followed)
    assert _week(farm)[0]["hot"] == ("bin-1",)
    _said(farm, "empty", START_MS - HOUR_MS)
    with pytest.raises(AssertionError, match="for nothing"):
        _week(farm)


def test_a_place_that_was_empty_all_night_bears_no_mark(farm: Farm) -> None:
    _put(farm, *_minutes(START_MS, *[44.0] * 750))
    assert _week(farm)[0] == {"hot": ("bin-1",)}
    body = {"why": ""}
    said = LogbookEntry(
        SubjectKind.PLACE, "bin-1", "empty", START_MS - HOUR_MS, START_MS - HOUR_MS, "Naledi", body
    )
    with farm.store() as store:
        store.logbook.add(said)
    assert _week(farm)[0] == {}


# Which night is shown


@pytest.mark.parametrize(
    ("now_ms", "newest", "by_day"),
    [
        (START_MS - 1, "2026-11-24", True),
        (START_MS, "2026-11-25", False),
        (END_MS - 1, "2026-11-25", False),
        (END_MS, "2026-11-25", True),
    ],
)
def test_by_night_the_running_one_is_the_newest_by_day_the_last(
    farm: Farm, now_ms: int, newest: str, by_day: bool
) -> None:
    plan = farm.plan()
    assert newest_night(plan, now_ms).date == newest
    day = running_day(plan, now_ms)
    assert (day is not None) == by_day
    if day is not None:
        assert day.start_ms <= now_ms < day.end_ms
        assert day.start_ms == night_of(plan, date.fromisoformat(newest)).end_ms


def test_while_a_night_runs_the_one_before_speaks_of_its_own_end(farm: Farm) -> None:
    assert _night(farm, END_MS + HOUR_MS).of_now
    assert not _night(farm, START_MS + 25 * HOUR_MS).of_now


def test_the_running_day_tells_what_has_passed_of_it(farm: Farm) -> None:
    now_ms = END_MS + 2 * HOUR_MS
    _put(farm, *_minutes(END_MS - HOUR_MS, *[44.0] * 60, *[30.0] * 120))
    plan = farm.plan()
    day = running_day(plan, now_ms)
    assert day is not None
    with farm.store() as store:
        summary = NightReader(store, plan, day, now_ms).summary()
    [bin_1] = [place for place in summary.places if place.id == "bin-1"]
    assert (summary.by_day, summary.over, summary.told_to_ms) == (True, False, now_ms)
    assert [each.highest.value for each in bin_1.quantities] == [30.0]


# Worst first


def test_the_worst_place_stands_first_and_a_quiet_one_is_told_from_the_others(farm: Farm) -> None:
    _put(farm, *_minutes(START_MS, *[27.0] * 750, sensor=AIR), *_minutes(START_MS, *[44.0] * 750))
    night = _night(farm, END_MS)
    order = [place.id for place in night.worst_first]
    assert order[0] == "bin-1"
    assert sorted(order) == sorted(place.id for place in night.places)
    assert "bin-1" not in night.quiet_places


def test_the_monitors_own_downtime(farm: Farm) -> None:
    with farm.store() as store:
        store.meta.put("first_started_ms", str(START_MS - HOUR_MS))
        first = store.runs.start(START_MS - HOUR_MS)
        store.runs.stop(first, START_MS + HOUR_MS)
        second = store.runs.start(START_MS + 3 * HOUR_MS)
        store.runs.alive(second, END_MS)
    assert _night(farm).downtime == ((START_MS + HOUR_MS, START_MS + 3 * HOUR_MS),)


def test_before_its_first_start_the_monitor_was_not_down(farm: Farm) -> None:
    with farm.store() as store:
        store.meta.put("first_started_ms", str(START_MS + HOUR_MS))
        store.runs.alive(store.runs.start(START_MS + HOUR_MS), END_MS)
    assert _night(farm).downtime == ()
