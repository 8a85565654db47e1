"""The text of the night report, from summaries made by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from zoneinfo import ZoneInfo

from monitor.farm.records import (
    ActiveAlarm,
    AirNight,
    AlarmNight,
    DegreeDays,
    Extreme,
    LateExcursion,
    NightSummary,
    NodeCare,
    PlaceNight,
    QuantityNight,
)
from monitor.records import AlarmRule, AlarmState, AlarmStatus, PlaceKind, Priority, Side
from monitor.words.night import night_text

ZONE = ZoneInfo("Africa/Gaborone")


def _ms(day: int, hour: int, minute: int = 0) -> int:
    return round(datetime(2026, 11, day, hour, minute, tzinfo=ZONE).timestamp() * 1000)


RULE = AlarmRule(
    "bin-1/substrate_temperature/high/high",
    "bin-1",
    "substrate_temperature",
    Side.HIGH,
    42.0,
    1.0,
    0.0,
    300.0,
    Priority.HIGH,
    "Larvae die.",
    "Stir the bin.",
    "Keep leads dry.",
)
QUIET = NightSummary("Sand Hill", "2026-11-25", _ms(24, 18), _ms(25, 6, 30), (), (), (), (), (), ())
SUBSTRATE = QuantityNight(
    "substrate_temperature", Extreme(29.04, _ms(25, 4)), Extreme(43.96, _ms(24, 23, 10)), 31.0, 0.0, 0.0
)
BIN = PlaceNight("bin-1", "Bin 1", PlaceKind.GROW_OUT_BIN, False, (SUBSTRATE,), None, None)
ALARM = AlarmNight(
    "Bin 1", RULE, Priority.HIGH, RULE.alarm_id, _ms(24, 23), 42.6, 43.9, "Naledi", _ms(24, 23, 5), _ms(25, 1)
)


def _text(**changes: object) -> str:
    return night_text(replace(QUIET, **changes), ZONE)  # type: ignore[arg-type]


def _place(**changes: object) -> str:
    return _text(places=(replace(BIN, **changes),))  # type: ignore[arg-type]


def test_a_quiet_night_is_two_lines() -> None:
    assert _text() == (
        "Sand Hill, night to 2026-11-25: all well, a quiet night\n"
        "Tue 24 Nov 18:00 to Wed 25 Nov 06:30 (12 h)\n"
    )


def test_the_first_line_counts_what_is_wrong_and_what_was() -> None:
    standing = ActiveAlarm(RULE, AlarmState(RULE.alarm_id, AlarmStatus.UNACKNOWLEDGED, True), "Bin 1", 43.0)
    assert "1 thing wrong now, 2 alarms in the night" in _text(
        still_active=(standing,), alarms=(ALARM, ALARM)
    )
    assert "all well now, 1 alarm in the night" in _text(alarms=(ALARM,))


def test_what_is_wrong_now_comes_with_what_to_do_and_beware_of() -> None:
    state = AlarmState(RULE.alarm_id, AlarmStatus.UNACKNOWLEDGED, True, since_ms=_ms(25, 5), stale=True)
    text = _text(still_active=(ActiveAlarm(RULE, state, "Bin 1", 43.0),))
    assert (
        "WRONG NOW\n"
        "- Bin 1: substrate temperature 43.0 °C, should be below 42 °C, "
        "since Wed 25 Nov 05:00 (no newer reading)\n"
        "  Do: Stir the bin.\n"
        "  Beware: Keep leads dry.\n"
    ) in text


def test_an_alarm_tells_how_far_it_went_who_knew_and_when_it_ended() -> None:
    assert (
        "- 23:00 HIGH Bin 1: substrate temperature reached 43.9 °C, above 42 °C\n"
        "  over at 01:00, acknowledged by Naledi at 23:05\n"
    ) in _text(alarms=(ALARM,))


def test_an_alarm_that_nobody_acknowledged_says_so() -> None:
    alarm = replace(ALARM, acknowledged_by="", acknowledged_ms=None, cleared_ms=None)
    assert "still so, acknowledged by nobody" in _text(alarms=(alarm,))


def test_what_the_monitor_acknowledged_itself_is_not_told_as_a_person() -> None:
    assert "acknowledged" not in _text(alarms=(replace(ALARM, acknowledged_by="monitor"),))


def test_an_alarm_that_the_settings_no_longer_have_is_told_by_its_name() -> None:
    assert f"Bin 1: {RULE.alarm_id}" in _text(alarms=(replace(ALARM, rule=None),))


def test_a_late_finding_says_that_nobody_was_woken() -> None:
    late = LateExcursion("Bin 1", RULE, _ms(24, 23), _ms(25, 1), 43.5)
    assert (
        "FOUND LATER, NOBODY WAS WOKEN\n"
        "- Bin 1: substrate temperature reached 43.5 °C from 23:00 to 01:00; the readings came in late\n"
    ) in _text(found_late=(late,))


def test_a_place_is_told_with_lowest_and_highest() -> None:
    assert "- Bin 1\n  substrate 29.0 °C (04:00) to 44.0 °C (23:10)\n" in _place()


def test_minutes_out_of_range_and_gaps_are_told_when_there_are_any() -> None:
    text = _place(quantities=(replace(SUBSTRATE, minutes_out=64.6, gap_minutes=125.0),))
    assert "; 65 min out of range; no readings for 2 h 5 min\n" in text
    assert "out of range" not in _place(quantities=(replace(SUBSTRATE, minutes_out=0.4, gap_minutes=0.4),))


def test_an_empty_place_and_one_without_readings() -> None:
    assert "- Bin 1: empty\n" in _place(empty=True)
    assert "- Bin 1: no readings\n" in _place(quantities=())


def test_the_air_is_told_in_words_that_matter() -> None:
    air = AirNight(1234.0, 1678.0, 18.96, 5.0, _ms(25, 4), 0.0)
    text = _place(air=air)
    assert "drying power (vapour pressure deficit) 1.2 kPa, at most 1.7; dew point at most 19.0 °C" in text
    assert "condens" not in text
    near = _place(air=replace(air, lowest_margin_k=0.4))
    assert "condensation was near: coldest surface only 0.4 K above the dew point at 04:00" in near
    wet = _place(air=replace(air, lowest_margin_k=-0.4, minutes_condensing=95.0))
    assert "water condensed on the coldest surface for 1 h 35 min: open it, wipe it, move the air" in wet


def test_degree_days_say_what_was_not_counted() -> None:
    text = _place(degree_days=DegreeDays(8.25, 12.0, "the substrate", 1.5))
    assert "8.2 degree-days above 12 °C from the substrate, 1.5 h without readings not counted" in text
    assert "not counted" not in _place(degree_days=DegreeDays(8.25, 12.0, "the substrate", 0.0))


def test_boards_downtime_unsent_messages_and_notes() -> None:
    text = _text(
        nodes=(NodeCare("node-02", "Bin 1", ("silent for 2.0 h", "battery low, 3.31 V")),),
        downtime=((_ms(24, 22), _ms(25, 0, 10)),),
        unsent_messages=3,
        notes=("- Bin 1: the alarm on substrate temperature is shelved",),
    )
    assert "LOOK AFTER THESE SENSORS\n- node-02 (Bin 1): silent for 2.0 h; battery low, 3.31 V\n" in text
    assert "THE MONITOR ITSELF\n- was not running from 22:00 to 00:10 (2 h 10 min)\n" in text
    assert "- 3 messages wait to be sent\n" in text
    assert text.endswith("TO NOTE\n- Bin 1: the alarm on substrate temperature is shelved\n")


def test_nothing_in_it_shouts() -> None:
    assert "!" not in _text(places=(BIN,), alarms=(ALARM,))


def test_a_night_of_which_little_is_known_is_not_called_well() -> None:
    blind = replace(BIN, quantities=(replace(SUBSTRATE, gap_minutes=700.0),))
    nothing = replace(BIN, quantities=())
    first = _text(places=(BIN, blind, nothing, replace(nothing, empty=True))).splitlines()[0]
    assert first.endswith("nothing wrong is known, no alarm, but little or nothing was measured in 2 places")
    standing = ActiveAlarm(RULE, AlarmState(RULE.alarm_id, AlarmStatus.UNACKNOWLEDGED, True), "Bin 1", 43.0)
    wrong = _text(places=(nothing,), still_active=(standing,)).splitlines()[0]
    assert wrong.endswith(
        "1 thing wrong now, 0 alarms in the night; little or nothing was measured in 1 place"
    )


def test_a_night_that_is_not_over_is_judged_by_what_has_passed() -> None:
    half = replace(BIN, quantities=(replace(SUBSTRATE, gap_minutes=20.0),))
    early = _text(places=(half,), until_ms=_ms(24, 19)).splitlines()[0]
    assert early.endswith("all well, a quiet night")
    blind = replace(BIN, quantities=(replace(SUBSTRATE, gap_minutes=40.0),))
    assert "little or nothing" in _text(places=(blind,), until_ms=_ms(24, 19)).splitlines()[0]
