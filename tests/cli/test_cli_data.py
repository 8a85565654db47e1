"""`calibrate`, `import`, `replay`, `export`, `backup` as a person calls them."""

from __future__ import annotations

import csv
import json
import sqlite3
import subprocess
import sys
import threading
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import paho.mqtt.client as paho
import pytest
from cli_farm import AIR, BIN, HUMIDITY, MINUTE_MS, STRANGER, Farm, make_farm, now_ms, put, reading
from paho.mqtt.enums import CallbackAPIVersion

from monitor.intake.broker import EmbeddedBroker
from monitor.records import Calibration, Flag
from monitor.store import Store

Call = Callable[..., tuple[int, str, str]]


def _calibrations(farm: Farm) -> tuple[Calibration, ...]:
    with farm.store() as store:
        return store.calibrations.every()


# calibrate


def _measured(farm: Farm) -> None:
    put(farm, *(reading(sensor, now_ms(), 30.0) for sensor in (AIR, HUMIDITY, BIN)))


def test_calibrate_with_one_point_shifts(farm: Farm, call: Call) -> None:
    _measured(farm)
    code, out, _ = call("calibrate", "bin-1", "--raw", "0.4", "--true", "0", "--note", "ice water")
    assert code == 0
    assert "node-02/substrate_temperature: true = 1 × raw - 0.4 °C, from " in out
    [one] = _calibrations(farm)
    assert (one.sensor, one.slope, one.offset, one.note) == (BIN, 1.0, pytest.approx(-0.4), "ice water")
    assert abs(one.valid_from_ms - now_ms()) < 10_000


def test_calibrate_in_two_salt_jars(farm: Farm, call: Call) -> None:
    """True values at 25 °C: tests/references/salts.toml, first table."""
    _measured(farm)
    jars = ("--raw", "71.2", "--salt", "nacl", "--raw", "36.0", "--salt", "MgCl2", "--temperature", "25")
    assert call("calibrate", "node-01/air_humidity", *jars, "--from", "2026-01-02")[0] == 0
    [one] = _calibrations(farm)
    assert one.slope * 71.2 + one.offset == pytest.approx(75.3, abs=0.06)
    assert one.slope * 36.0 + one.offset == pytest.approx(32.8, abs=0.06)
    assert one.valid_from_ms == round(datetime(2026, 1, 1, 22, tzinfo=UTC).timestamp() * 1000)


@pytest.mark.parametrize(
    ("arguments", "part"),
    [
        (
            ("node-01/air_humidity", "--raw=-5", "--true", "10"),
            "--raw is -5; allowed for air humidity: 0 to 105 %RH",
        ),
        (
            ("bin-1", "--raw", "20", "--true", "300"),
            "--true is 300; allowed for substrate temperature: -40 to 125 °C",
        ),
        (("bin-1", "--raw", "20"), "1 times --raw and 0 times --true or --salt"),
        (("bin-1", "--raw", "20", "--true", "30"), "the sensor is off by 10.0 °C"),
        (
            ("bin-1", "--raw", "20", "--raw", "21", "--true", "20", "--true", "20.5"),
            "the two true values are 0.5 apart",
        ),
        (("bin-1", *("--raw", "1", "--true", "1") * 3), "3 points; allowed: one (shift) or two"),
        (("bin-1", "--raw", "1", "--salt", "NaCl"), "--salt is for air_humidity"),
        (("node-01/air_humidity", "--raw", "70", "--salt", "NaCl"), "--salt needs --temperature"),
        (
            ("node-01/air_humidity", "--raw", "70", "--salt", "sugar", "--temperature", "25"),
            "salt is 'sugar'; allowed: LiCl",
        ),
        (
            ("node-01/air_humidity", "--raw", "70", "--salt", "NaCl", "--temperature", "70"),
            "allowed: 0 to 50 °C",
        ),
        (("bin-1", "--raw", "20", "--true", "20.5", "--from", "tomorrow 06:00"), "allowed: now or earlier"),
        (("bin-1", "--raw", "nan", "--true", "20"), "needs two numbers"),
        (("node-01", "--raw", "20", "--true", "20.5"), "node-01 can mean 2 sensors"),
        (("node-77", "--raw", "20", "--true", "20.5"), 'there is no sensor called "node-77"'),
    ],
)
def test_calibrate_refuses_nonsense_with_the_reason(
    farm: Farm, call: Call, arguments: tuple[str, ...], part: str
) -> None:
    _measured(farm)
    code, _, err = call("calibrate", *arguments)
    assert code == 2
    assert part in err
    assert _calibrations(farm) == ()


def test_calibrate_takes_a_large_shift_from_who_is_sure(farm: Farm, call: Call) -> None:
    _measured(farm)
    assert call("calibrate", "bin-1", "--raw", "20", "--true", "30", "--sure")[0] == 0
    assert len(_calibrations(farm)) == 1


def test_calibrate_beside_a_running_monitor_says_from_when_its_alarms_use_it(farm: Farm, call: Call) -> None:
    _measured(farm)
    farm.lives()
    code, out, _ = call("calibrate", "bin-1", "--raw", "20", "--true", "20.5")
    assert code == 0
    assert "uses it within a minute" in out


def test_calibrate_lists_what_was_entered(farm: Farm, call: Call) -> None:
    _measured(farm)
    assert "No calibration was entered yet" in call("calibrate")[1]
    call("calibrate", "bin-1", "--raw", "20", "--true", "20.5")
    call("calibrate", "node-01/air_temperature", "--raw", "20", "--true", "19")
    assert len(call("calibrate")[1].splitlines()) == 2
    told = json.loads(call("calibrate", "bin-1", "--json")[1])["calibrations"]
    assert [(one["sensor"], one["offset"]) for one in told] == [("node-02/substrate_temperature", 0.5)]
    assert told[0]["valid_from"].endswith("+02:00")


# import

# After every reading of the tests, whatever the machine's clock says.
END_MS = 2_000_000_000_000
MIXED = """\
Date,Temp
2026-11-20 06:00,23.4
2026-11-20 06:20,"23,4"
"""
LOGGER = """\
Serial 1234
Date,Time,Temperature (°C),Humidity (%RH),Note
2026-11-20,06:00:00,24.5,61.0,
2026-11-20,06:10:00,24.7,60.5,door
2026-11-20,06:20:00,error,-4,
2026-11-20,06:30:00,,,
2026-11-20,06:40,25.1,59.0,
"""


def _file(folder: Path, text: str = LOGGER) -> Path:
    path = folder / "logger.csv"
    path.write_text(text, encoding="utf-8")
    return path


def test_import_takes_what_is_good_and_tells_the_rest(farm: Farm, call: Call) -> None:
    code, out, err = call("import", _file(farm.folder), "--node", "node-01")
    assert (code, err) == (0, "")
    assert "Stored: 7 readings" in out
    assert "1 reading cannot be true and will not be used (flag 4 in an export)" in out
    assert "columns not used: Note" in out
    assert "1 row was not taken:" in out
    assert "line 6: holds no number" in out
    with farm.store() as store:
        humid = store.readings.series(HUMIDITY, 0, END_MS)
        assert list(humid.value) == [61.0, 60.5, -4.0, 59.0]
        assert [Flag(flag) for flag in humid.flag] == [Flag.PASS, Flag.PASS, Flag.FAIL, Flag.PASS]
        assert store.readings.series(AIR, 0, END_MS).at_ms[0] == round(
            datetime(2026, 11, 20, 4, tzinfo=UTC).timestamp() * 1000
        )


def test_import_makes_no_board_look_alive(farm: Farm, call: Call) -> None:
    call("import", _file(farm.folder), "--node", "node-01")
    with farm.store() as store:
        facts = store.nodes.one("node-01")
    assert facts is not None
    assert facts.last_heard_ms == round(datetime(2026, 11, 20, 4, 40, tzinfo=UTC).timestamp() * 1000)


def test_import_twice_stores_once(farm: Farm, call: Call) -> None:
    call("import", _file(farm.folder), "--node", "node-01")
    _, out, _ = call("import", _file(farm.folder), "--node", "node-01")
    assert "Stored: 0 readings" in out
    assert "7 readings were there already" in out


def test_import_dry_run_stores_nothing(farm: Farm, call: Call) -> None:
    code, out, _ = call("import", _file(farm.folder), "--node", "node-01", "--dry-run")
    assert code == 0
    assert "Nothing was stored" in out
    assert not farm.database.exists()


def test_import_of_an_unknown_board_says_where_to_place_it(farm: Farm, call: Call) -> None:
    _, out, _ = call("import", _file(farm.folder), "--node", "logger-3", "--time-zone", "+00:00")
    assert "logger-3 stands in no [[nodes]] table yet" in out


def test_import_with_named_columns_and_units(farm: Farm, call: Call) -> None:
    text = "when;ch 1\n20/11/2026 06:00;77,9\n20/11/2026 06:10;78,8\n"
    columns = ("--time-column", "when", "--column", "ch 1=core/substrate_temperature:degF")
    code, _, err = call("import", _file(farm.folder, text), "--node", "node-09", *columns)
    assert (code, err) == (0, "")
    with farm.store() as store:
        assert list(store.readings.series(STRANGER, 0, END_MS).value) == [25.5, 26.0]


@pytest.mark.parametrize(
    ("text", "arguments", "part"),
    [
        (MIXED, (), "writes decimals as , and as ."),
        ("", (), "the file is empty"),
        ("a,b\n1,2\n", (), "no heading with a time column"),
        (
            "Date,Temp\n2026-11-20 06:00,24\n",
            ("--time-zone", "Africa/Nowhere"),
            "the time zone 'Africa/Nowhere' is not known",
        ),
        ("Date,Temp\n2026-11-20 06:00,24\n", ("--column", "Temp=warmth"), "HEADING=quantity"),
        ("Date,Temp\n2026-11-20 06:00,24\n", ("--decimal", ";"), "--decimal is ';'; allowed: . ,"),
        ("Date,Temp\n2026-11-20 06:00,24\n", ("--date-order", "ydm"), "--date-order is 'ydm'"),
        ("Date,Temp\n2026-11-20 06:00,24\n", ("--delimiter", ",,"), "--delimiter is ',,'"),
    ],
)
def test_import_refuses_with_the_reason(
    farm: Farm, call: Call, text: str, arguments: tuple[str, ...], part: str
) -> None:
    code, _, err = call("import", _file(farm.folder, text), "--node", "node-01", *arguments)
    assert code == 2
    assert part in err
    assert "Traceback" not in err


@pytest.mark.usefixtures("farm")
def test_import_of_a_file_that_is_not_there(call: Call) -> None:
    code, _, err = call("import", "nowhere.csv", "--node", "node-01")
    assert code == 2
    assert "nowhere.csv: cannot be read" in err


# replay


def test_replay_publishes_as_the_board_would(farm: Farm, call: Call, embedded_broker: EmbeddedBroker) -> None:
    make_farm(farm.folder, port=embedded_broker.port)
    got: list[tuple[str, bytes]] = []
    listening, arrived = threading.Event(), threading.Event()
    client = paho.Client(CallbackAPIVersion.VERSION2, "listener")
    client.on_subscribe = lambda *_: listening.set()

    def note(_client: object, _data: object, message: paho.MQTTMessage) -> None:
        got.append((message.topic, bytes(message.payload)))
        if len(got) == 4:
            arrived.set()

    client.on_message = note
    client.connect("127.0.0.1", embedded_broker.port)
    client.loop_start()
    client.subscribe("rearing/sand-hill/#", 1)
    assert listening.wait(5)
    code, out, err = call("replay", _file(farm.folder), "--node", "node-01", "--speed", "100000")
    assert arrived.wait(5)
    client.disconnect()
    client.loop_stop()
    assert (code, err) == (0, "")
    assert "Sent: 4 messages, all taken by the broker" in out
    assert {topic for topic, _ in got} == {"rearing/sand-hill/node-01/readings"}
    assert [json.loads(payload)[0]["v"] for _, payload in got][:2] == [24.5, 24.7]


def test_replay_without_a_broker_says_so(farm: Farm, call: Call, free_port: int) -> None:
    make_farm(farm.folder, port=free_port)
    code, _, err = call("replay", _file(farm.folder), "--node", "node-01", "--speed", "100000")
    assert code == 4
    assert f"nothing answers at 127.0.0.1:{free_port}" in err


# export


def _many(farm: Farm) -> None:
    put(
        farm,
        *(
            reading(sensor, now_ms() - each * 30 * MINUTE_MS, 30.0)
            for sensor in (AIR, BIN)
            for each in range(6)
        ),
    )


def test_export_writes_a_spreadsheet(farm: Farm, call: Call) -> None:
    _many(farm)
    code, out, _ = call("export", "all.csv")
    rows = list(csv.DictReader((farm.folder / "all.csv").read_text().splitlines()))
    assert code == 0
    assert "Written: all.csv, 12 rows of 2 sensors" in out
    assert [row["node"] for row in rows] == ["node-01"] * 6 + ["node-02"] * 6
    assert {row["value"] for row in rows} == {"30.0"}
    assert list(farm.folder.glob("*.part")) == []


def test_export_of_one_sensor_and_span_to_the_terminal(farm: Farm, call: Call) -> None:
    _many(farm)
    code, out, err = call("export", "-", "--sensor", "bin-1", "--from", "45 min ago")
    assert (code, err) == (0, "")
    assert [line.split(",")[1:4] for line in out.splitlines()[1:]] == [
        ["node-02", "", "substrate_temperature"]
    ] * 2


def test_export_by_the_hour(farm: Farm, call: Call) -> None:
    _many(farm)
    rows = list(csv.DictReader(call("export", "-", "--hourly")[1].splitlines()))
    assert sum(int(row["count"]) for row in rows) == 12


def test_export_never_overwrites(farm: Farm, call: Call) -> None:
    _many(farm)
    (farm.folder / "all.csv").write_text("mine")
    code, _, err = call("export", "all.csv")
    assert code == 2
    assert "all.csv exists already; nothing was written" in err
    assert (farm.folder / "all.csv").read_text() == "mine"


@pytest.mark.parametrize(
    ("arguments", "part"),
    [
        (("nowhere/all.csv",), "the folder nowhere does not exist"),
        (("all.csv", "--sensor", "bin-7"), 'there is no sensor called "bin-7"'),
        (("all.csv", "--from", "today", "--to", "yesterday"), "--from today is not before --to yesterday"),
        (("all.csv", "--from", "spring"), "'spring' is no time that is understood"),
    ],
)
def test_export_refuses_with_the_reason(
    farm: Farm, call: Call, arguments: tuple[str, ...], part: str
) -> None:
    _many(farm)
    code, _, err = call("export", *arguments)
    assert code == 2
    assert part in err
    assert not (farm.folder / "all.csv").exists()


def test_export_into_a_program_that_stops_reading_ends_in_peace(farm: Farm) -> None:
    start_ms = now_ms() - 600 * MINUTE_MS
    put(farm, *(reading(AIR, start_ms + each, 30.0) for each in range(3000)))
    program = subprocess.Popen(
        [sys.executable, "-m", "monitor", "export", "-", "--config", str(farm.config)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )
    assert program.stdout is not None
    assert program.stderr is not None
    program.stdout.readline()
    program.stdout.close()
    assert program.stderr.read() == b""
    program.stderr.close()
    assert program.wait(10) == 0


# backup


def test_backup_copies_into_a_file_or_a_prepared_folder(farm: Farm, call: Call) -> None:
    _many(farm)
    (farm.folder / "stick").mkdir()
    assert call("backup", "copy.sqlite")[0] == 0
    code, out, _ = call("backup", "--prepare", "stick")
    assert code == 0
    assert f'backup_folder = "{farm.folder / "stick"}"' in "".join(out.splitlines())
    code, out, err = call("backup", "stick")
    assert code == 0
    assert "checked" in out
    assert "same disk as the database" in " ".join(err.split())
    [copy] = list((farm.folder / "stick").glob("rearing-*-by-hand"))
    beside = farm.folder / "copy.farm.toml"
    for path, text in ((copy / "rearing.sqlite", copy / "farm.toml"), (farm.folder / "copy.sqlite", beside)):
        with Store.open(path) as store:
            assert len(store.readings.series(AIR, 0, END_MS)) == 6
        assert text.read_text() == farm.config.read_text()


def test_backup_into_a_folder_that_is_missing_or_was_not_prepared_writes_nothing(
    farm: Farm, call: Call
) -> None:
    _many(farm)
    code, _, err = call("backup", f"{farm.folder}/stick/")
    assert code == 2
    assert "does not exist, and nothing was written" in " ".join(err.split())
    assert not (farm.folder / "stick").exists()
    code, _, err = call("backup", "--prepare", "stick")
    assert code == 2
    assert not (farm.folder / "stick").exists()
    (farm.folder / "stick").mkdir()
    code, _, err = call("backup", "stick")
    assert code == 2
    assert "rearing-monitor backup --prepare" in " ".join(err.split())
    assert list((farm.folder / "stick").iterdir()) == []


def test_backup_goes_to_the_folder_of_the_settings_and_counts_as_the_copy_of_the_day(
    farm: Farm, call: Call
) -> None:
    text = farm.config.read_text()
    farm.config.write_text(text.replace("[broker]", '[store]\nbackup_folder = "copies"\n\n[broker]'))
    (farm.folder / "copies").mkdir()
    _many(farm)
    assert call("backup")[0] == 2
    assert call("backup", "--prepare", "copies")[0] == 0
    assert call("backup")[0] == 0
    names = [path.name for path in (farm.folder / "copies").iterdir()]
    assert len(names) == 2, "the marker and one copy"
    with farm.store() as store:
        assert store.meta.get("copy_good_ms") is not None


def test_backup_goes_to_each_place_and_says_of_each_what_came_of_it(farm: Farm, call: Call) -> None:
    places = f"""
[[copies]]
id = "drive"
folder = "drive"
[[copies]]
id = "away"
url = "file://{farm.folder}/far"
"""
    farm.config.write_text(farm.config.read_text() + places)
    (farm.folder / "drive").mkdir()
    _many(farm)
    assert call("backup", "--prepare", "drive")[0] == 0
    code, out, err = call("backup")
    assert code == 2
    assert "drive/rearing-" in "".join(out.split())
    assert "was not prepared for copies" in " ".join(err.split())
    assert "backup --prepare away" in " ".join(err.split())
    assert "has had no copy yet" in " ".join(call("night")[1].split())
    assert f"the last copy to file://{farm.folder}/far failed" in " ".join(call("check")[1].split())
    assert call("backup", "--prepare", "away")[0] == 0
    assert "file://" not in "".join(call("check")[1].split()), "who looked after it is told no more"
    assert call("backup", "away")[0] == 0
    code, out, _ = call("backup", "--list")
    assert code == 0
    assert out.count("rearing-") == 2
    assert "Keys, cards and passwords are in no copy" in " ".join(call("backup")[1].split())
    code, _, err = call("backup", "sftp://other.example/x")
    assert code == 2
    assert "stands in no [[copies]] of the settings" in " ".join(err.split())


def test_backup_is_not_sealed_with_a_stand_in(
    farm: Farm, call: Call, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The shell of a person has not what the service manager gives the service."""
    text = farm.config.read_text()
    store = '[store]\nbackup_folder = "copies"\nbackup_passphrase_env = "REARING_SEAL"\n\n[broker]'
    farm.config.write_text(text.replace("[broker]", store))
    (farm.folder / "copies").mkdir()
    _many(farm)
    monkeypatch.setenv("REARING_SEAL", "four words of the farm")
    assert call("backup", "--prepare", "copies")[0] == 0
    monkeypatch.delenv("REARING_SEAL")
    code, _, err = call("backup")
    assert code == 2
    assert "REARING_SEAL is not set here, and copies need it; nothing was written" in " ".join(err.split())
    assert [path.name for path in (farm.folder / "copies").iterdir()] == ["rearing-monitor-copies.txt"]


def test_check_says_that_the_folder_for_copies_is_not_prepared(farm: Farm, call: Call) -> None:
    text = farm.config.read_text()
    farm.config.write_text(text.replace("[broker]", '[store]\nbackup_folder = "copies"\n\n[broker]'))
    (farm.folder / "copies").mkdir()
    _, out, _ = call("check")
    assert "was not prepared for copies" in " ".join(out.split())
    call("backup", "--prepare", "copies")
    _, out, _ = call("check")
    assert "prepared for copies" not in " ".join(out.split())


def test_backup_refuses_to_overwrite_and_to_guess(farm: Farm, call: Call) -> None:
    _many(farm)
    (farm.folder / "copy.sqlite").write_text("mine")
    code, _, err = call("backup", "copy.sqlite")
    assert code == 2
    assert "copy.sqlite exists already; nothing was written" in err
    code, _, err = call("backup")
    assert code == 2
    assert "Give a file or a folder" in err


def test_a_backup_is_a_whole_database(farm: Farm, call: Call) -> None:
    _many(farm)
    call("backup", "copy.sqlite")
    connection = sqlite3.connect(farm.folder / "copy.sqlite")
    assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    connection.close()
