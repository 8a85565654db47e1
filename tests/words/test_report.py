"""The text of the night report, from summaries made by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from monitor.farm.night_records import (
    AirNight,
    AlarmNight,
    BoardCare,
    DegreeDays,
    DoubtfulSensor,
    Extreme,
    LateExcursion,
    MarkedPlaces,
    NightMark,
    NightReport,
    NightSummary,
    PlaceNight,
    QuantityNight,
    WeekNight,
)
from monitor.farm.records import ActiveAlarm, NodeRow
from monitor.records import (
    AlarmRule,
    AlarmState,
    AlarmStatus,
    NodeFacts,
    PlaceKind,
    Priority,
    SensorKey,
    Side,
)
from monitor.words.localizer import Localizer
from monitor.words.night import headline, marked_text, report_text, verdict, week_text, which

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
QUIET = NightSummary("Sand Hill", "2026-11-25", _ms(24, 18), _ms(25, 6, 30), (), (), (), (), ())
SUBSTRATE = QuantityNight(
    "substrate_temperature", Extreme(29.04, _ms(25, 4)), Extreme(43.96, _ms(24, 23, 10)), 31.0, 0.0, 0.0
)
BIN = PlaceNight("bin-1", "Bin 1", PlaceKind.GROW_OUT_BIN, False, (SUBSTRATE,), None, None)
ALARM = AlarmNight(
    "Bin 1", RULE, Priority.HIGH, RULE.alarm_id, _ms(24, 23), 42.6, 43.9, "Naledi", _ms(24, 23, 5), _ms(25, 1)
)


def _words(language: str = "en") -> Localizer:
    return Localizer.plain(language, ZONE, _ms(25, 6, 31))


def _text(boards: tuple[BoardCare, ...] = (), **changes: object) -> str:
    night = replace(QUIET, **changes)  # type: ignore[arg-type]
    return report_text(NightReport(night, boards), _words())


def _place(**changes: object) -> str:
    return _text(places=(replace(BIN, **changes),))  # type: ignore[arg-type]


def test_a_quiet_night_is_two_lines() -> None:
    assert _text() == (
        "Sand Hill, night to 2026-11-25: all well now, a quiet night\n"
        "Tue 24 Nov 18:00 to Wed 25 Nov 06:30 (12 h 30 min)\n"
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
        "- Bin 1: substrate temperature 43.0 °C, should be below 42 °C, since 05:00 (1 h 31 min), "
        "no newer reading\n"
        "  Do: Stir the bin.\n"
        "  Take care: Keep leads dry.\n"
    ) in text


def test_an_alarm_tells_how_far_it_went_who_knew_and_when_it_ended() -> None:
    assert (
        "- 23:00 HIGH Bin 1: substrate temperature 42.6 °C, should be below 42 °C\n"
        "  went as far as 43.9 °C, over at 01:00, acknowledged by Naledi at 23:05\n"
    ) in _text(alarms=(ALARM,))


def test_an_alarm_that_nobody_acknowledged_says_so() -> None:
    alarm = replace(ALARM, acknowledged_by="", acknowledged_ms=None, cleared_ms=None)
    assert "still there, nobody acknowledged it" in _text(alarms=(alarm,))


def test_what_the_monitor_acknowledged_itself_is_not_told_as_a_person() -> None:
    assert "acknowledged" not in _text(alarms=(replace(ALARM, acknowledged_by="monitor"),))


def test_an_alarm_that_the_settings_no_longer_have_is_told_by_its_name() -> None:
    assert f"Bin 1: {RULE.alarm_id}" in _text(alarms=(replace(ALARM, rule=None),))


def test_a_late_finding_says_that_nobody_was_woken() -> None:
    late = LateExcursion("Bin 1", RULE, _ms(24, 23), _ms(25, 1), 43.5)
    assert (
        "FOUND OUT LATER; NOBODY WAS WOKEN\n"
        "- 23:00 Bin 1: substrate temperature 43.5 °C, should be below 42 °C, until 01:00\n"
    ) in _text(found_late=(late,))


def test_a_quiet_place_takes_one_line_and_another_tells_each_quantity() -> None:
    assert _place().endswith("PLACES\n- Bin 1: 29.0 (04:00) to 44.0 °C (23:10)\n")
    text = _place(quantities=(replace(SUBSTRATE, minutes_out=20.0),))
    assert "- Bin 1\n  substrate 29.0 °C (04:00) to 44.0 °C (23:10); 20 min out of range\n" in text


def test_the_place_with_an_alarm_stands_first_and_is_not_called_quiet() -> None:
    calm = replace(BIN, id="room-1", title="Room A", kind=PlaceKind.ROOM)
    text = _text(places=(calm, BIN), alarms=(ALARM,))
    assert text.index("- Bin 1\n  substrate") < text.index("- Room A")


def test_the_running_night_and_the_running_day_say_so() -> None:
    words = _words()
    running = replace(QUIET, places=(BIN,), until_ms=_ms(25, 2))
    assert (which(running, words), headline(running, words)) == (
        "Tonight so far",
        "All well now, quiet so far",
    )
    day = replace(QUIET, by_day=True, alarms=(ALARM,))
    assert (which(day, words), headline(day, words)) == ("Today so far", "All well now, 1 alarm today")
    assert which(QUIET, words) == "Last night"
    assert which(replace(QUIET, of_now=False), words) == "An earlier night"
    assert "now" not in headline(replace(QUIET, of_now=False), words)


def test_a_night_of_the_week_names_some_places_and_counts_the_rest() -> None:
    words, names = _words(), tuple(f"Bin {number}" for number in range(1, 8))
    assert marked_text(MarkedPlaces(NightMark.HOT, names[:2]), 15, words) == "Bin 1, Bin 2"
    assert marked_text(MarkedPlaces(NightMark.HOT, names), 15, words) == "Bin 1, Bin 2, Bin 3, Bin 4, 3 more"
    assert marked_text(MarkedPlaces(NightMark.HOT, names), 7, words) == "everywhere"
    assert week_text(WeekNight("2026-11-25", (), None, known=True), words) == "within all limits"
    assert week_text(WeekNight("2026-11-25", (), None, known=False), words) == "no readings"


def test_minutes_out_of_range_and_gaps_are_told_when_there_are_any() -> None:
    text = _place(quantities=(replace(SUBSTRATE, minutes_out=64.6, gap_minutes=125.0),))
    assert "; 1 h 4 min out of range\n  no readings for 2 h 5 min\n" in text
    assert "out of range" not in _place(quantities=(replace(SUBSTRATE, minutes_out=0.4, gap_minutes=0.4),))


def test_an_empty_place_and_one_without_readings() -> None:
    assert "- Bin 1: empty\n" in _place(empty=True)
    assert "- Bin 1\n  No readings in this night.\n" in _place(quantities=())


def test_the_air_is_told_in_words_that_matter() -> None:
    air = AirNight(1234.0, 1678.0, 18.96, 5.0, _ms(25, 4), 0.0)
    text = _place(air=air)
    assert "drying power 1.2 kPa on average, 1.7 kPa at most; dew point at most 19.0 °C" in text
    assert "condens" not in text
    near = _place(air=replace(air, lowest_margin_k=0.4))
    assert "Condensation was near at 04:00: the coldest surface only 0.4 °C above the dew point" in near
    wet = _place(air=replace(air, lowest_margin_k=-0.4, minutes_condensing=95.0))
    assert "Water condensed on the coldest surface for 1 h 35 min: open it, wipe it, move the air" in wet


def test_degree_days_say_what_was_not_counted() -> None:
    text = _place(degree_days=DegreeDays(8.25, 12.0, "substrate_temperature", 1.5))
    assert "8.2 degree-days above 12 °C, from the substrate; 1 h 30 min without readings not counted" in text
    assert "not counted" not in _place(degree_days=DegreeDays(8.25, 12.0, "substrate_temperature", 0.0))


def _node(name: str, **facts: object) -> NodeRow:
    silence_ms = _ms(25, 6, 31) - 2 * 3_600_000
    known = NodeFacts(name, 0, silence_ms, True, None, None, None, 9, 0, 0, 0, 0, None, "", b"", None)
    return NodeRow(replace(known, **facts), "Bin 1", True, True, 3.31, 3.4)  # type: ignore[arg-type]


def test_boards_are_told_with_every_reason() -> None:
    sensor = SensorKey("node-02", "core", "substrate_temperature")
    care = BoardCare(_node("node-02"), (DoubtfulSensor(sensor, 72.0),))
    assert (
        "LOOK AFTER THESE BOARDS\n- node-02 (Bin 1): Silent for 2 h. Its battery is below 3.40 V: charge or "
        "change it. Core substrate temperature doubtful for 1 h 12 min (stuck, jumping or wetted).\n"
    ) in _text((care,))
    stranger = replace(_node("node-09", rejected=1, last_reject_reason="odd"), known=False, place="")
    text = _text((BoardCare(replace(stranger, silent=False, battery_low_v=None), ()),))
    assert "- node-09: It sends readings but is not in the settings" in text
    assert "1 message was not understood: odd" in text


def test_downtime_unsent_messages_and_notes() -> None:
    shelved = AlarmState(RULE.alarm_id, AlarmStatus.SHELVED, True)
    text = _text(
        downtime=((_ms(24, 22), _ms(25, 0, 10)),),
        unsent_messages=3,
        set_aside=(ActiveAlarm(RULE, shelved, "Bin 1", 43.0),),
    )
    assert "THE MONITOR ITSELF\n- It did not run from 22:00 to 00:10 (2 h 10 min).\n" in text
    assert "- 3 messages wait to be sent.\n" in text
    assert text.endswith("TO NOTE\n- Bin 1: alarm on substrate temperature: put aside\n")


def test_the_report_in_french() -> None:
    care = BoardCare(_node("node-02"), ())
    text = report_text(NightReport(replace(QUIET, places=(BIN,), alarms=(ALARM,)), (care,)), _words("fr"))
    first, span, *_ = text.splitlines()
    assert first == "Sand Hill, nuit jusqu’au 2026-11-25 : tout va bien maintenant, 1 alarme dans la nuit"
    assert span == "du mar. 24 nov. 18:00 au mer. 25 nov. 06:30 (12 h 30 min)"
    assert "température du substrat 42,6 °C, devrait être sous 42 °C" in text
    assert "Muette depuis 2 h. Sa pile est sous 3,40 V" in text


QUIET_PLACE = replace(BIN, quantities=(replace(SUBSTRATE, gap_minutes=30.0),))


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"places": (replace(BIN, quantities=(replace(SUBSTRATE, minutes_out=720.0),)),)}, "for 12 h"),
        (
            {"places": (replace(BIN, quantities=(replace(SUBSTRATE, gap_minutes=31.0),)),)},
            "readings are missing",
        ),
        ({"places": (replace(BIN, missing=("air_humidity",)),)}, "readings are missing in 1 place"),
        (
            {"places": (replace(BIN, quantities=(replace(SUBSTRATE, gap_minutes=700.0),)),)},
            "little or nothing",
        ),
        (
            {"found_late": (LateExcursion("Bin 1", RULE, _ms(24, 23), _ms(25, 1), 43.5),)},
            "1 excursion was found",
        ),
        ({"downtime": ((_ms(24, 22), _ms(25, 0)),)}, "the monitor did not run for 2 h"),
        ({"unknown": 1}, "nothing is known of 1 place now"),
        ({"running": False}, "the monitor has stopped"),
        ({"failed": {"late": "ValueError"}}, "1 part could not be worked out"),
        ({"alarms": (ALARM,)}, "1 alarm in the night"),
    ],
)
def test_a_night_in_which_something_happened_is_not_called_quiet(changes: dict[str, Any], said: str) -> None:
    """A gap of half an hour is still quiet, a minute more is not."""
    first = _text(**changes).splitlines()[0]
    assert "quiet" not in first
    assert said in first
    assert "a quiet night" in _text(places=(QUIET_PLACE,)).splitlines()[0]


def test_well_is_said_only_where_it_is_known() -> None:
    for changes in (
        {"unknown": 1},
        {"failed": {"late": "KeyError"}},
        {"places": (replace(BIN, failed="KeyError"),)},
    ):
        assert "nothing wrong is known" in _text(**changes).splitlines()[0]


def test_an_earlier_night_says_then_and_asks_for_nothing_today() -> None:
    state = AlarmState(RULE.alarm_id, AlarmStatus.UNACKNOWLEDGED, True, since_ms=_ms(25, 5))
    standing = ActiveAlarm(RULE, state, "Bin 1", 43.0)
    night = replace(QUIET, still_active=(standing,), of_now=False, unsent_messages=2)
    text = report_text(NightReport(night), Localizer.plain("en", ZONE, _ms(27, 12)))
    assert text.splitlines()[0].endswith("1 thing wrong at its end, no alarm in the night")
    assert (
        "WRONG AT ITS END\n- Bin 1: substrate temperature 43.0 °C, should be below 42 °C, since 05:00 (1 h 30"
        in text
    )
    assert "Stir the bin" not in text
    assert "2 messages of the day and night before had not been sent by then" in text
    assert "All well at its end" in _verdict(of_now=False)


def _verdict(**changes: object) -> str:
    return verdict(replace(QUIET, **changes), _words())  # type: ignore[arg-type]


def test_an_alarm_that_was_over_after_the_night_is_not_still_there() -> None:
    text = _text(alarms=(replace(ALARM, cleared_ms=_ms(25, 9)),))
    assert "over at Wed 25 Nov 09:00" in text
    assert "still there" not in text


def test_an_alarm_that_was_put_aside_says_by_whom() -> None:
    text = _text(alarms=(replace(ALARM, cleared_ms=None, aside_by="Naledi", aside_ms=_ms(24, 23, 30)),))
    assert "put aside by Naledi at 23:30" in text


def test_an_alarm_from_before_the_night_says_its_day() -> None:
    assert "- Mon 23 Nov 23:00 HIGH Bin 1" in _text(alarms=(replace(ALARM, began_ms=_ms(23, 23)),))


def test_a_part_that_fails_says_so_in_its_place_and_the_rest_goes_out() -> None:
    failed = _text(places=(replace(BIN, failed="ValueError"),), alarms=(ALARM,), failed={"late": "KeyError"})
    assert (
        "  could not be worked out: an error of the program (ValueError)" in failed.partition("- Bin 1\n")[2]
    )
    assert (
        "FOUND OUT LATER; NOBODY WAS WOKEN\n- could not be worked out: an error of the program (KeyError)"
        in failed
    )
    assert "went as far as 43.9 °C" in failed


def test_words_that_fail_keep_no_other_part_from_going_out() -> None:
    """An alarm without a time stands for any error of the words."""
    text = _text(places=(BIN,), alarms=(replace(ALARM, began_ms=None),))  # type: ignore[arg-type]
    assert "ALARMS OF THE NIGHT\n- could not be worked out: an error of the program (TypeError)" in text
    assert "- Bin 1\n  substrate 29.0 °C" in text


def test_a_heartbeat_that_nobody_takes_is_told() -> None:
    assert "has not answered since Tue 24 Nov 22:00" in _text(heartbeat_lost_ms=_ms(24, 22))
    assert "heartbeat" not in _text()


def test_nothing_in_it_shouts() -> None:
    assert "!" not in _text(places=(BIN,), alarms=(ALARM,))


def test_a_night_of_which_little_is_known_is_not_called_well() -> None:
    blind = replace(BIN, quantities=(replace(SUBSTRATE, gap_minutes=700.0),))
    nothing = replace(BIN, quantities=())
    first = _text(places=(BIN, blind, nothing, replace(nothing, empty=True))).splitlines()[0]
    assert first.endswith(
        "nothing wrong is known, no alarm in the night; little or nothing was measured in 2 places"
    )
    standing = ActiveAlarm(RULE, AlarmState(RULE.alarm_id, AlarmStatus.UNACKNOWLEDGED, True), "Bin 1", 43.0)
    wrong = _text(places=(nothing,), still_active=(standing,)).splitlines()[0]
    assert wrong.endswith(
        "1 thing wrong now, no alarm in the night; little or nothing was measured in 1 place"
    )


def test_a_night_that_is_not_over_is_judged_by_what_has_passed() -> None:
    half = replace(BIN, quantities=(replace(SUBSTRATE, gap_minutes=20.0),))
    early = _text(places=(half,), until_ms=_ms(24, 19)).splitlines()[0]
    assert early.endswith("all well now, quiet so far")
    blind = replace(BIN, quantities=(replace(SUBSTRATE, gap_minutes=40.0),))
    assert "little or nothing" in _text(places=(blind,), until_ms=_ms(24, 19)).splitlines()[0]
