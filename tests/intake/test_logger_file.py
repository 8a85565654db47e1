"""Logger files: what is taken, what is not and why, and the words of each refusal."""

from __future__ import annotations

import datetime as dt
import json
from pathlib import Path
from typing import Any

import pytest

from monitor.errors import LoggerFileError, UsageError
from monitor.intake.logger_columns import Column, LoggerMapping, parse_column
from monitor.intake.logger_file import LoggerReport, read_logger_file, replay_messages
from monitor.intake.payload import Topics, understand
from monitor.records import IncomingMessage, NodeMessage, Reading, TimeSource

NOW_MS = 1_790_000_000_000
TOPICS = Topics("saltbush-yard")


def _write(folder: Path, text: str, encoding: str = "utf-8") -> Path:
    path = folder / "logger.csv"
    path.write_bytes(text.encode(encoding))
    return path


def _mapping(**more: Any) -> LoggerMapping:
    return LoggerMapping(**{"node": "logger-1", "time_zone": "Africa/Gaborone", **more})


def _read(
    folder: Path, text: str, encoding: str = "utf-8", **more: Any
) -> tuple[list[Reading], LoggerReport]:
    path = _write(folder, text, encoding)
    messages, report = read_logger_file(path, _mapping(**more), NOW_MS)
    return [reading for message in messages for reading in message.readings], report


def _refusal(folder: Path, text: str, **more: Any) -> str:
    path = _write(folder, text)
    with pytest.raises(LoggerFileError) as caught:
        read_logger_file(path, _mapping(**more), NOW_MS)
    return str(caught.value)


def _at(*parts: int) -> int:
    return round(dt.datetime(*parts, tzinfo=dt.UTC).timestamp() * 1000)  # type: ignore[misc, arg-type]


def test_plain_file(tmp_path: Path) -> None:
    text = "Time,Temperature (°C),Humidity (%RH)\n2026-09-01 06:00,21.5,64\n2026-09-01 06:10:30,21.6,63.5\n"
    readings, report = _read(tmp_path, text)
    assert [(str(one.sensor), one.at_ms, one.value) for one in readings] == [
        ("logger-1/air_temperature", _at(2026, 9, 1, 4), 21.5),
        ("logger-1/air_humidity", _at(2026, 9, 1, 4), 64),
        ("logger-1/air_temperature", _at(2026, 9, 1, 4, 10, 30), 21.6),
        ("logger-1/air_humidity", _at(2026, 9, 1, 4, 10, 30), 63.5),
    ]
    assert (report.rows, report.rows_taken, report.readings, report.skipped) == (2, 2, 4, ())
    assert (report.first_ms, report.last_ms) == (readings[0].at_ms, readings[-1].at_ms)
    assert str(report.columns[0]) == "Temperature (°C) -> logger-1/air_temperature in Cel"
    assert tuple(map(str, report.notes)) == ("read as utf-8, columns split at commas",)


def test_messages_hold_at_most_200_readings_and_no_sequence(tmp_path: Path) -> None:
    rows = "".join(f"2026-09-01 {hour:02}:{minute:02},20\n" for hour in range(8) for minute in range(60))
    messages, _ = read_logger_file(_write(tmp_path, "time,temp\n" + rows), _mapping(), NOW_MS)
    assert [len(one.readings) for one in messages] == [200, 200, 80]
    assert {(one.sequence, one.boot, one.time_source, one.received_ms) for one in messages} == {
        (None, None, TimeSource.NODE, NOW_MS)
    }


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "latin-1", "utf-16"])
@pytest.mark.parametrize(
    ("delimiter", "decimal"), [(",", "."), (";", ","), ("\t", ","), (";", "."), ("|", ".")]
)
def test_encodings_delimiters_and_decimals(
    tmp_path: Path, encoding: str, delimiter: str, decimal: str
) -> None:
    rows = [["Date/Time", "Temp °F", "RH %"], ["2026-09-01T06:00:00", "77.0", "64.5"]]
    text = "\r\n".join(delimiter.join(cells) for cells in rows)
    head, _, body = text.partition("\r\n")
    readings, _ = _read(tmp_path, head + "\r\n" + body.replace(".", decimal), encoding)
    assert [one.value for one in readings] == [pytest.approx(25), 64.5]


def test_titles_above_the_heading_and_a_quoted_cell(tmp_path: Path) -> None:
    titles = 'Serial:,4711\nNotes:,"bin, third row"\n\n'
    text = titles + '"Time","Substrate Temp","Dew point","Lux"\n"2026-09-01 06:00","31.5","12","400"\n'
    readings, report = _read(tmp_path, text)
    assert {str(one.sensor): one.value for one in readings} == {
        "logger-1/substrate_temperature": 31.5,
        "logger-1/light": 400,
    }
    assert report.unused_columns == ("Dew point",)


def test_date_and_time_in_two_columns(tmp_path: Path) -> None:
    readings, _ = _read(tmp_path, "No.,Date,Time,Temp\n1,2026-09-01,06:00,20\n2,2026-09-01,06:05,21\n")
    assert [one.at_ms for one in readings] == [_at(2026, 9, 1, 4), _at(2026, 9, 1, 4, 5)]


@pytest.mark.parametrize(
    ("written", "order"),
    [
        ("13/09/2026 18:30", None),
        ("09/13/2026 6:30 PM", None),
        ("13.09.2026 18:30:00", None),
        ("13-9-26 18:30", None),
        ("2026/09/13 18:30", None),
        ("2026-09-13T16:30:00Z", None),
        ("2026-09-13T16:30:00.000+00:00", None),
        ("1789317000", None),
        ("1789317000000", None),
    ],
)
def test_written_forms_of_one_moment(tmp_path: Path, written: str, order: str | None) -> None:
    readings, _ = _read(tmp_path, f"time;temp\n{written};20\n", date_order=order)
    assert readings[0].at_ms == _at(2026, 9, 13, 16, 30)


@pytest.mark.parametrize(("order", "month", "day"), [("dmy", 9, 4), ("mdy", 4, 9)])
def test_day_and_month_as_asked(tmp_path: Path, order: str, month: int, day: int) -> None:
    readings, _ = _read(tmp_path, "time,temp\n04/09/2026 02:00,20\n", date_order=order)
    assert readings[0].at_ms == _at(2026, month, day)


def test_ambiguous_dates_are_refused_with_the_rows(tmp_path: Path) -> None:
    refusal = _refusal(tmp_path, "time,temp\n04/09/2026 02:00,20\n05/09/2026 02:00,21\n")
    assert "--date-order dmy or --date-order mdy" in refusal
    assert "line 2: 04/09/2026 02:00\n  line 3: 05/09/2026 02:00" in refusal


def test_mixed_forms_in_the_time_column_are_refused_with_the_rows(tmp_path: Path) -> None:
    refusal = _refusal(tmp_path, "time,temp\n2026-09-01 02:00,20\n13/09/2026 02:00,21\n")
    assert "holds 2 different forms; split the file" in refusal
    assert "line 2: 2026-09-01 02:00 (year first)" in refusal
    assert "line 3: 13/09/2026 02:00 (day or month first, with /)" in refusal


def test_day_first_and_month_first_are_refused_with_the_rows(tmp_path: Path) -> None:
    refusal = _refusal(tmp_path, "time,temp\n13/09/2026 02:00,20\n09/14/2026 02:00,21\n")
    assert "day first in one row and the month first in another" in refusal
    assert "line 2: 13/09/2026" in refusal and "line 3: 09/14/2026" in refusal


def test_mixed_decimals_are_refused_with_the_rows(tmp_path: Path) -> None:
    refusal = _refusal(tmp_path, "time;temp\n2026-09-01 02:00;20,5\n2026-09-01 03:00;20.6\n")
    assert "the column 'temp' writes decimals as , and as ." in refusal
    assert "line 2: 20,5\n  line 3: 20.6" in refusal
    assert "--decimal says ," in _refusal(tmp_path, "time;temp\n2026-09-01 02:00;20.5\n", decimal=",")


def test_hour_that_does_not_exist_is_skipped(tmp_path: Path) -> None:
    """Europe/Berlin, 2026-03-29: clocks go from 02:00 to 03:00."""
    rows = "".join(f"2026-03-29 {time},20\n" for time in ("01:30", "02:30", "03:30"))
    readings, report = _read(tmp_path, "time,temp\n" + rows, time_zone="Europe/Berlin")
    assert [one.at_ms for one in readings] == [_at(2026, 3, 29, 0, 30), _at(2026, 3, 29, 1, 30)]
    assert [(one.line, str(one.reason)) for one in report.skipped] == [
        (3, "the local time 2026-03-29 02:30:00 does not exist: clocks went forward over it")
    ]


@pytest.mark.parametrize("backwards", [False, True])
def test_hour_that_occurs_twice_is_taken_in_turn(tmp_path: Path, backwards: bool) -> None:
    """Europe/Berlin, 2026-10-25: from 03:00 back to 02:00; some loggers write the newest row first."""
    times = ["01:30", "02:00", "02:30", "02:00", "02:30", "03:00"]
    rows = [f"2026-10-25 {time},{number}\n" for number, time in enumerate(times)]
    text = "time,temp\n" + "".join(reversed(rows) if backwards else rows)
    readings, report = _read(tmp_path, text, time_zone="Europe/Berlin")
    first = _at(2026, 10, 24, 23, 30)
    assert [(one.at_ms - first) // 1_800_000 for one in readings] == [0, 1, 2, 3, 4, 5]
    assert [one.value for one in readings] == [0, 1, 2, 3, 4, 5]
    assert (
        str(report.notes[-1]) == "4 rows lie in an hour that occurs twice (clocks went back); taken in turn"
    )


def test_logger_without_summer_time(tmp_path: Path) -> None:
    readings, _ = _read(tmp_path, "time,temp\n2026-03-29 02:30,20\n", time_zone="+01:00")
    assert readings[0].at_ms == _at(2026, 3, 29, 1, 30)


def test_every_row_that_is_not_taken_is_listed(tmp_path: Path) -> None:
    text = (
        "time,temp,rh\n"
        "2026-09-01 06:00,20,60\n"
        "2026-09-01 06:00,20,60\n"
        "2026-09-01 06:00,21,60\n"
        "yesterday,20,60\n"
        "2026-09-31 06:00,20,60\n"
        "2026-09-01 25:00,20,60\n"
        "2026-09-01 07:00,NaN,---\n"
        "2026-09-01 08:00\n"
        "\n"
        "2026-09-01 09:00,,61\n"
        "2026-09-01 10:00,1e999,61\n"
    )
    readings, report = _read(tmp_path, text)
    assert [one.value for one in readings] == [20, 60, 61, 61]
    assert {one.line: one.reason.text.partition(": hour")[0] for one in report.skipped} == {
        3: "same time as line 2, same values",
        4: "same time as line 2, other values; the first were kept",
        5: "the time 'yesterday' is not in a form that is known",
        6: "the date '2026-09-31 06:00' does not exist",
        7: "the time '2026-09-01 25:00' does not exist",
        8: "holds no number in the columns that are read",
        9: "holds no number in the columns that are read",
    }
    assert (report.rows, report.rows_taken) == (10, 3)
    assert "6 cells held no number" in map(str, report.notes)


def test_columns_by_hand(tmp_path: Path) -> None:
    text = "when,A,B\n2026-09-01 06:00,68,0.5\n"
    columns = dict(parse_column(one) for one in ("A=bin1/substrate_temperature:degF", "B=substrate_moisture"))
    readings, report = _read(tmp_path, text, time_column="when", columns=columns)
    assert {str(one.sensor): one.value for one in readings} == {
        "logger-1/bin1/substrate_temperature": pytest.approx(20),
        "logger-1/substrate_moisture": 0.5,
    }
    assert report.unused_columns == ()


def test_parse_column() -> None:
    assert parse_column("T=1 (x)=air_temperature") == ("T=1 (x)", Column("air_temperature"))
    assert parse_column("a=p/light:lx") == ("a", Column("light", "p", "lx"))
    for wrong in ("air_temperature", "a=wind", "a="):
        with pytest.raises(
            LoggerFileError, match=r"should read HEADING=quantity.*quantities: air_temperature"
        ):
            parse_column(wrong)


@pytest.mark.parametrize(
    ("text", "more", "words"),
    [
        ("", {}, "the file is empty"),
        ("a,b\n1,2\n", {}, "no heading with a time column and at least one known quantity"),
        ("time,temp\n", {}, "no row could be taken"),
        ("time,temp\nx,1\n", {}, "line 2: the time 'x' is not in a form that is known"),
        (
            "time,temp 1,temp 2\n2026-09-01 06:00,1,2\n",
            {},
            'name them: --column "temp 2=probe2/air_temperature"',
        ),
        (
            "time,temp\n2026-09-01 06:00,1\n",
            {"time_zone": "Mars/Dome"},
            "'Mars/Dome' is not known; write it like",
        ),
        ("time,temp\n2026-09-01 06:00,1\n", {"time_zone": "../etc"}, "is not known; write it like"),
        ("time,temp\n2026-09-01 06:00,1\n", {"node": "a b"}, "the node 'a b' may hold letters"),
        (
            "time,temp\n2026-09-01 06:00,1\n",
            {"encoding": "klingon"},
            "not readable as klingon; try --encoding",
        ),
        ("time,temp\n2026-09-01 06:00,1\0\n", {}, "not a text file"),
        (
            "time,humidity (lux)\n2026-09-01 06:00,1\n",
            {},
            "the column 'humidity (lux)': the unit 'lx' cannot",
        ),
    ],
)
def test_refusals_in_words(tmp_path: Path, text: str, more: dict[str, Any], words: str) -> None:
    assert words in _refusal(tmp_path, text, **more)


def test_file_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(LoggerFileError, match=r"nothing\.csv: cannot be read: No such file"):
        read_logger_file(tmp_path / "nothing.csv", _mapping(), NOW_MS)


def test_replay_is_taken_by_intake_and_keeps_its_spacing(tmp_path: Path) -> None:
    text = "time,temp,rh\n2026-01-01 06:00,20,60\n2026-01-01 06:10,21,61\n2026-01-01 07:00,22,62\n"
    steps = list(replay_messages(_write(tmp_path, text), _mapping(), TOPICS, 60.0, NOW_MS))
    assert [delay for delay, _, _ in steps] == [0, 10, 50]
    taken = [understand(IncomingMessage(topic, pack, NOW_MS + 60_000), TOPICS) for _, topic, pack in steps]
    messages = [one for one in taken if isinstance(one, NodeMessage)]
    assert [(one.node, one.sequence, one.clock_fault) for one in messages] == [
        ("logger-1", 0, None),
        ("logger-1", 1, None),
        ("logger-1", 2, None),
    ]
    assert [one.readings[0].at_ms - NOW_MS for one in messages] == [-3_540_000, -2_940_000, 60_000]
    assert [one.value for one in messages[2].readings] == [22, 62]
    assert json.loads(steps[0][2])[-1]["n"] == "sequence"


def test_replay_refuses_what_intake_would_not_take(tmp_path: Path) -> None:
    path = _write(tmp_path, "time,temp\n2026-01-01 06:00,20\n2026-02-01 06:00,20\n")
    with pytest.raises(UsageError, match=r"spans 31.0 days; a replay can span 7 days"):
        list(replay_messages(path, _mapping(), TOPICS, 100.0, NOW_MS))
    with pytest.raises(UsageError, match=r"the speed is 0\.5; allowed: 1 or more"):
        list(replay_messages(path, _mapping(), TOPICS, 0.5, NOW_MS))
