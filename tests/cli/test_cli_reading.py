"""`now`, `night`, `nodes`, `alarms` as a person calls them."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tomllib
from collections.abc import Callable
from dataclasses import replace
from datetime import date, datetime, timedelta
from typing import Any

import pytest
from cli_farm import (
    AIR,
    BATTERY,
    BIN,
    HOT,
    HUMIDITY,
    MINUTE_MS,
    STRANGER,
    Farm,
    calibrated,
    make_farm,
    message,
    now_ms,
    put,
    put_states,
    put_transitions,
    reading,
    standing,
)

from monitor.board_records import BoardReport
from monitor.farm.names import numbers
from monitor.records import AlarmEvent, AlarmStatus, Batch, Calibration, Priority, Rejected, Transition

Call = Callable[..., tuple[int, str, str]]
DAY_MS = 86_400_000


def _well(farm: Farm) -> None:
    farm.lives()
    put(farm, *(reading(sensor, now_ms() - 1000, 30.0) for sensor in (AIR, HUMIDITY, BIN)))


def _json(call: Call, *arguments: str) -> Any:
    return json.loads(call(*arguments, "--json")[1])


# now


def test_now_ends_with_0_when_all_is_fine(farm: Farm, call: Call) -> None:
    _well(farm)
    code, out, err = call("now")
    assert (code, err) == (0, "")
    assert out.splitlines()[0].endswith(": all is fine")
    assert "○ bin-1: fine; substrate 30.0 °C" in out


def test_now_ends_with_1_when_something_is_wrong(farm: Farm, call: Call) -> None:
    _well(farm)
    put_states(farm, standing())
    code, out, _ = call("now")
    assert code == 1
    assert "1 place needs you" in out


def test_now_ends_with_1_when_the_monitor_is_dead(farm: Farm, call: Call) -> None:
    put(farm, reading(AIR, now_ms(), 27.0))
    code, out, _ = call("now")
    assert code == 1
    assert "▲ The monitor does not run. It has never run." in out


def test_now_quiet_says_nothing_when_all_is_fine_and_one_line_when_not(farm: Farm, call: Call) -> None:
    _well(farm)
    assert call("now", "--quiet") == (0, "", "")
    put_states(farm, standing())
    assert call("now", "--quiet") == (1, "", "1 place needs you\n")


def test_now_as_json_has_the_documented_keys(farm: Farm, call: Call) -> None:
    _well(farm)
    put_states(farm, standing())
    told = _json(call, "now")
    assert set(told) == {"site", "at", "wrong", "service", "places", "site_alarms", "today"}
    assert told["wrong"] is True
    assert told["at"].endswith("+02:00")
    place = told["places"][0]
    assert (place["id"], place["state"]) == ("bin-1", "high")
    assert set(place["values"][0]) == {
        *("quantity", "node", "probe", "at", "value", "unit", "flag", "stale"),
        *("low_limit", "high_limit", "change_per_hour"),
    }
    assert (place["stage"], place["unguarded"]) == ("larva", None)
    assert (place["values"][0]["low_limit"], place["values"][0]["high_limit"]) == (20.0, 38.0)
    alarm = place["alarms"][0]
    assert (alarm["alarm"], alarm["number"], alarm["status"]) == (
        HOT,
        numbers(farm.plan())[HOT],
        "unacknowledged",
    )
    assert (alarm["value"], alarm["setpoint"], alarm["unit"]) == (30.0, 42.0, "Cel")
    assert alarm["response"] and alarm["caution"]
    assert (alarm["phase"], alarm["over"], place["beyond"]) == ("back", None, [])


def test_looking_needs_no_secrets(farm: Farm, call: Call, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("OWNER_ADDRESS")
    _well(farm)
    assert call("now")[0] == 0


@pytest.mark.usefixtures("farm")
def test_without_a_database_it_says_to_start_the_service(call: Call) -> None:
    code, out, err = call("now")
    assert (code, out) == (3, "")
    assert "there is no database here. To mend: start the service once" in err


def test_a_damaged_database_is_named_without_a_traceback(farm: Farm, call: Call) -> None:
    farm.database.write_bytes(b"this is no database at all, " * 200)
    code, _, err = call("now")
    assert code == 3
    assert "this file is not a database" in err
    assert "Traceback" not in err


def test_without_settings_it_names_init_and_demo(farm: Farm, call: Call) -> None:
    farm.config.unlink()
    code, _, err = call("now", "--config", "elsewhere.toml")
    assert code == 2
    assert "rearing-monitor init" in err
    assert "rearing-monitor demo" in err


# night


def test_night_shows_the_last_night(farm: Farm, call: Call) -> None:
    put(farm, *(reading(BIN, now_ms() - each * MINUTE_MS, 30.0) for each in range(0, 60 * 60, 30)))
    code, out, _ = call("night")
    assert code == 0
    assert out.startswith("Sand Hill, night to ")
    assert "30.0 °C" in out


def test_night_of_a_date_that_is_not_over_says_so(farm: Farm, call: Call) -> None:
    put(farm, reading(AIR, now_ms(), 27.0))
    told = _json(call, "now")["at"]
    code, out, _ = call("night", "--date", told[:10])
    assert code == 0
    assert (f"night to {told[:10]}" in out) and ("not over yet" in out) == (told[11:16] < "06:30")


def test_night_shows_the_day_so_far_and_the_week_to_programs(
    farm: Farm, call: Call, monkeypatch: pytest.MonkeyPatch
) -> None:
    zone = farm.plan().zone
    noon, midnight = (datetime(2026, 11, 25, hour, tzinfo=zone) for hour in (12, 0))
    noon_ms, midnight_ms = (round(each.timestamp() * 1000) for each in (noon, midnight))
    put(farm, reading(BIN, noon_ms - MINUTE_MS, 31.0), reading(BIN, midnight_ms - MINUTE_MS, 55.0))
    monkeypatch.setattr("monitor.terminal.context.now_of", lambda _: noon_ms)
    night, day = _json(call, "night"), _json(call, "night", "--day")
    assert (night["until"][11:16], day["start"][11:16], day["until"][11:16]) == ("06:30", "06:30", "12:00")
    assert [each["date"] for each in night["week"]] == [f"2026-11-{each}" for each in range(25, 18, -1)]
    assert night["week"][0]["known"] and not night["week"][1]["known"]
    assert {"mark": "hot", "places": ["bin-1"]} in night["week"][0]["marks"]
    assert call("night", "--day", "--date", "2026-11-25")[0] == 2
    monkeypatch.setattr("monitor.terminal.context.now_of", lambda _: midnight_ms)
    code, _, err = call("night", "--day")
    assert code == 2 and "it is night" in err


@pytest.mark.parametrize("date", ["25.11.2026", "yesterday", "2026-02-30", "20261"])
def test_night_refuses_what_is_no_date(farm: Farm, call: Call, date: str) -> None:
    put(farm, reading(AIR, now_ms(), 27.0))
    code, _, err = call("night", "--date", date)
    assert code == 2
    assert f'--date is "{date}"; allowed: a date such as 20' in err


def test_night_refuses_a_night_that_lies_ahead(farm: Farm, call: Call) -> None:
    put(farm, reading(AIR, now_ms(), 27.0))
    code, _, err = call("night", "--date", "2199-01-01")
    assert code == 2
    assert "has not begun yet" in err


def test_night_as_json_has_times_with_offset_and_the_text(farm: Farm, call: Call) -> None:
    put(farm, *(reading(BIN, now_ms() - each * MINUTE_MS, 30.0) for each in range(0, 60 * 60, 30)))
    told = _json(call, "night")
    assert told["start"].endswith("+02:00")
    assert [place["id"] for place in told["places"]] == ["room-1", "bin-1", "bin-2"]
    quantity = told["places"][1]["quantities"][0]
    assert (quantity["quantity"], quantity["lowest"]["value"]) == ("substrate_temperature", 30.0)
    assert quantity["lowest"]["at"].endswith("+02:00")
    assert told["text"].startswith("Sand Hill, night to ")
    assert not [key for key in told if key.endswith("_ms")]


def test_an_earlier_night_tells_of_an_alarm_that_the_settings_no_longer_have(farm: Farm, call: Call) -> None:
    gone, at_ms = "bin-9/substrate_temperature/high/high", now_ms() - 3 * DAY_MS
    states = (AlarmEvent.ACTIVATE, AlarmStatus.NORMAL, AlarmStatus.UNACKNOWLEDGED)
    row = Transition(
        gone,
        "bin-9",
        "substrate_temperature",
        Priority.HIGH,
        *states,
        at_ms,
        at_ms,
        value=44.0,
        setpoint=41.5,
    )
    put_transitions(farm, row)
    morning = _json(call, "night")["date"]
    earlier = (date.fromisoformat(morning) - timedelta(days=1)).isoformat()
    told = json.loads(call("night", "--date", earlier, "--json")[1])
    assert [(each["alarm"], each["number"]) for each in told["still_active"]] == [(gone, None)]
    assert "bin-9: substrate temperature 44.0 °C, should be below 41.5 °C" in told["text"]
    assert "1 thing wrong at its end" in told["text"]


# nodes


def test_nodes_shows_faults_and_the_exact_lines_for_strangers(farm: Farm, call: Call) -> None:
    put(
        farm,
        reading(AIR, now_ms(), 27.0),
        reading(BATTERY, now_ms(), 3.31),
        reading(STRANGER, now_ms(), 31.0),
    )
    calibrated(farm, Calibration(AIR, now_ms() - 50 * DAY_MS, 1.0, 0.2))
    refused = Rejected("node-01", "t", now_ms(), "humidity is -5", b"{\xff}")
    with farm.store() as store:
        heard = (message(reading(AIR, now_ms() + n, 27.0), sequence=n) for n in (1, 5))
        store.commit(Batch(now_ms(), tuple(heard), rejected=(refused,)))
    code, out, _ = call("nodes")
    text = " ".join(out.split())
    assert code == 0
    assert "○ node-01: Tin room; sends; heard" in text
    assert "battery 3.31 V" in text
    assert "Its battery is below 3.40 V: charge or change it." in text
    assert "3 messages of it never arrived." in text
    assert "1 message was not understood: humidity is -5" in text
    assert "calibrated 50 days ago" in text
    assert "? node-02: bin-1; not heard yet" in text
    lines = out[out.index("[[nodes]]") :]
    added = tomllib.loads(lines)["nodes"][0]
    assert added == {"id": "node-09", "measures": ["core/substrate_temperature"]}


def test_the_lines_for_a_stranger_can_be_added_as_they_are(farm: Farm, call: Call) -> None:
    put(farm, reading(STRANGER, now_ms(), 31.0))
    lines = _json(call, "nodes")["nodes"][-1]["toml"]
    farm.config.write_text(f"{farm.config.read_text()}\n{lines}")
    assert "node-09" in farm.plan().nodes
    placed = lines.replace('# place = "..."  #', 'place = "bin-1"  #')
    farm.config.write_text(farm.config.read_text().replace(lines, placed))
    assert farm.plan().place_of(STRANGER) == "bin-1"


def test_nodes_shows_what_a_board_says_of_itself(farm: Farm, call: Call) -> None:
    put(farm, reading(AIR, now_ms(), 27.0))
    report = BoardReport(
        "node-01", now_ms() - 60_000, "0.0.1", 7, chip="esp32", clock="monitor", rssi_dbm=-84, lost=2
    )
    with farm.store() as store:
        store.commit(Batch(now_ms(), reports=(report,)))
        store.board_reports.published("node-01", "00c0ffee")
    code, out, _ = call("nodes")
    text = " ".join(out.split())
    assert code == 0
    assert "program 0.0.1 on esp32; time from the monitor; signal too weak (-84 dBm)" in text
    assert "the settings are not in force yet" in text
    assert "It hears the network too weakly (-84 dBm)" in text
    told, other = _json(call, "nodes")["nodes"]
    assert other["report"] is None
    assert told["report"] | {"received": ""} == {
        "received": "",
        "version": "0.0.1",
        "boot": 7,
        "kept": False,
        "chip": "esp32",
        "reset": "",
        "clock": "monitor",
        "uptime_s": None,
        "waiting": None,
        "lost": 2,
        "damaged": None,
        "rssi_dbm": -84,
        "heap_bytes": None,
        "faults": {},
        "probes": {},
        "settings": "",
        "refused": "",
        "is_current": True,
        "signal": "too_weak",
        "settings_in_force": False,
        "newer_program": told["report"]["newer_program"],
    }


def test_nodes_as_json(farm: Farm, call: Call) -> None:
    put(farm, reading(AIR, now_ms(), 27.0))
    told = _json(call, "nodes")
    assert told["archive"] is None
    assert [(node["node"], node["known"], node["silent"]) for node in told["nodes"]] == [
        ("node-01", True, False),
        ("node-02", True, True),
    ]
    assert told["nodes"][0]["last_heard"].endswith("+02:00")
    assert told["nodes"][1]["last_heard"] is None


def test_nodes_shows_how_far_the_archive_is_behind(farm: Farm, call: Call) -> None:
    make_farm(farm.folder, more='[archive]\nurl = "http://127.0.0.1:9"\nbucket = "readings"\n')
    put(farm, reading(AIR, now_ms(), 27.0))
    assert "Archive: up to date" in call("nodes")[1]


# alarms


def test_alarms_shows_what_to_do_and_what_to_beware_of(farm: Farm, call: Call) -> None:
    _well(farm)
    put_states(farm, standing())
    code, out, _ = call("alarms")
    rule, text = farm.plan().rules[HOT], " ".join(out.split())
    assert code == 0
    assert text.startswith(
        f"{numbers(farm.plan())[HOT]} ▲ HIGH bin-1: substrate temperature 30.0 °C, should be below 42 °C"
    )
    for part in (rule.consequence, f"Do: {rule.response}", f"Take care: {rule.caution}", f"Name: {HOT}"):
        assert part in text


def test_alarms_says_when_there_is_none(farm: Farm, call: Call) -> None:
    _well(farm)
    assert call("alarms")[1] == "No alarm is active, put aside or out of service.\n"


def test_alarms_all_lists_every_alarm_with_its_number(farm: Farm, call: Call) -> None:
    _well(farm)
    put_states(farm, replace(standing(), status=AlarmStatus.OUT_OF_SERVICE))
    _, out, _ = call("alarms", "--all")
    assert "bin-1: substrate temperature above 42 °C, high; out of service" in " ".join(out.split())
    told = _json(call, "alarms", "--all")["alarms"]
    assert [alarm["number"] for alarm in told] == list(range(1, len(farm.plan().rules) + 1))


def _came(at_ms: int) -> Transition:
    return Transition(
        HOT,
        "bin-1",
        "substrate_temperature",
        Priority.HIGH,
        AlarmEvent.ACTIVATE,
        AlarmStatus.NORMAL,
        AlarmStatus.UNACKNOWLEDGED,
        at_ms,
        at_ms,
        42.6,
        42.0,
    )


def test_alarms_journal_tells_what_became_of_them(farm: Farm, call: Call) -> None:
    acknowledged = replace(
        _came(now_ms() - 1000),
        event=AlarmEvent.ACKNOWLEDGE,
        before=AlarmStatus.UNACKNOWLEDGED,
        after=AlarmStatus.ACKNOWLEDGED,
        actor="Naledi",
        reason="stirring",
    )
    put_transitions(farm, _came(now_ms() - 8 * DAY_MS), _came(now_ms() - 2000), acknowledged)
    lines = call("alarms", "--journal")[1].splitlines()
    assert len([line for line in lines if ": came" in line]) == 1
    assert "HIGH bin-1: substrate temperature 42.6 °C, should be below 42 °C: came" in " ".join(
        " ".join(lines).split()
    )
    assert "by Naledi (stirring)" in " ".join(" ".join(lines).split())
    assert len(_json(call, "alarms", "--journal", "--days", "30")["journal"]) == 3


def test_a_place_that_was_put_aside_takes_one_line_of_the_journal(farm: Farm, call: Call) -> None:
    held = replace(
        _came(now_ms() - 2000),
        event=AlarmEvent.SUPPRESS,
        after=AlarmStatus.SUPPRESSED_BY_DESIGN,
        actor="Naledi",
        reason="washing it",
        value=None,
    )
    others = [
        replace(held, alarm_id=f"bin-1/{quantity}", quantity=quantity, priority=priority)
        for quantity, priority in (
            ("substrate_temperature", Priority.MEDIUM),
            ("substrate_moisture", Priority.LOW),
        )
    ]
    later = replace(held, at_ms=held.at_ms + 1, quantity="air_humidity", priority=Priority.LOW)
    put_transitions(farm, others[1], held, others[0], later)
    out = " ".join(call("alarms", "--journal")[1].split())
    assert "HIGH bin-1: substrate moisture, substrate temperature: held back by Naledi (washing it)" in out
    assert "LOW bin-1: air humidity: held back by Naledi" in out
    assert out.count("held back") == 2
    assert len(_json(call, "alarms", "--journal")["journal"]) == 4


def test_alarms_health_measures_them(farm: Farm, call: Call) -> None:
    put_transitions(farm, *(_came(now_ms() - each * DAY_MS) for each in (1, 2, 3)))
    _, out, _ = call("alarms", "--health")
    assert "Alarms told: 3" in out
    assert "Alarms a day: 0.1" in out
    assert "bin-1: substrate temperature above 42 °C: 3 times" in out
    told = _json(call, "alarms", "--health", "--days", "10")
    assert told["annunciations"] == 3
    assert told["most_frequent"] == [{"alarm": HOT, "count": 3}]


def test_alarms_shows_one_thing_at_a_time(farm: Farm, call: Call) -> None:
    _well(farm)
    code, _, err = call("alarms", "--all", "--health")
    assert code == 2
    assert "one of --all, --journal and --health at a time" in err


def test_a_terminal_wide_enough_gets_a_table(farm: Farm, call: Call, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("monitor.cli.reading.WIDE_ENOUGH_FOR_A_TABLE", 80)
    monkeypatch.setenv("FORCE_COLOR", "1")
    monkeypatch.setenv("COLUMNS", "160")
    put(farm, reading(AIR, now_ms(), 27.0))
    assert "calibration" in call("nodes")[1].splitlines()[0]


def test_a_terminal_with_few_letters_gets_a_stand_in(farm: Farm) -> None:
    _well(farm)
    program = subprocess.run(
        [sys.executable, "-m", "monitor", "now", "--config", str(farm.config)],
        env={**os.environ, "PYTHONIOENCODING": "ascii"},
        capture_output=True,
        check=False,
    )
    assert (program.returncode, program.stderr) == (0, b"")
    assert b"? bin-1: fine; substrate 30.0 ?C" in program.stdout


def test_messages_that_fit_no_board_are_told(farm: Farm, call: Call) -> None:
    _well(farm)
    with farm.store() as store:
        refused = Rejected(None, "rearing/sand-hill/a b/readings", now_ms(), "the node's level is wrong", b"")
        store.commit(Batch(now_ms(), rejected=(refused, refused)))
    out = " ".join(call("nodes")[1].split())
    assert "2 messages that fit no board" in out
    assert "the node's level is wrong" in out


def test_check_says_what_the_limits_of_heat_would_have_meant(farm: Farm, call: Call) -> None:
    """Limits of this farm: 42 and 38 °C. Six hours at 41 and twice an hour at 43 °C, five days ago."""
    start_ms = now_ms() - 5 * 24 * 60 * MINUTE_MS
    course = [30.0] * 12 + [41.0] * 36 + [43.0] * 12 + [40.0] * 12 + [43.0] * 12 + [30.0] * 24
    put(farm, *(reading(BIN, start_ms + 5 * at * MINUTE_MS, value) for at, value in enumerate(course)))
    code, said, _ = call("check")
    out = " ".join(said.split())
    assert code == 0 and "above 42 °C: would have sounded 2 times" in out
    assert "above 38 °C: would have sounded once" in out
    assert "expect to be told of heat about 1 h 5 min before the limit" in out
