"""CSV files of data loggers: what was taken, what was not and why; and the same file published as if live."""

from __future__ import annotations

import codecs
import csv
import datetime as dt
import io
import itertools
import json
import math
import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from monitor.errors import LoggerFileError, Sentence, UsageError, sentence
from monitor.intake.logger_columns import (
    Layout,
    LocalClock,
    LoggerMapping,
    WrittenTime,
    date_order,
    example,
    is_heading,
    lay_out,
    read_written,
    time_zone,
    to_local,
)
from monitor.intake.payload import IDENTIFIER, READINGS, Topics
from monitor.intake.senml import convert_plain
from monitor.records import MS_PER_DAY, MS_PER_SECOND, QUANTITIES, NodeMessage, Reading, SensorKey, TimeSource

ENCODINGS = ("utf-8", "utf-8-sig", "utf-16", "latin-1", "cp1252")
_DELIMITER_NAMES = {
    ",": sentence("commas"),
    ";": sentence("semicolons"),
    "\t": sentence("tabs"),
    "|": sentence("bars"),
}
DELIMITERS = tuple(_DELIMITER_NAMES)
LINES_SEARCHED = 50
"""Loggers put titles and serial numbers above the heading; it is looked for in that many lines."""
LARGEST_FILE = 256 * 1024 * 1024
READINGS_PER_MESSAGE = 200
_NUMBER = re.compile(r"[+-]?\d+(?:[.,]\d+)?(?:[eE][+-]?\d{1,3})?", re.ASCII)

_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)


@dataclass(frozen=True, slots=True)
class Row:
    """One row of the file: its line number for people (the first line is 1), and its cells."""

    line: int
    cells: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Table:
    """The file as text: which encoding and delimiter it had, its heading, its rows."""

    encoding: str
    delimiter: str
    heading: tuple[str, ...]
    rows: tuple[Row, ...]


def read_table(
    path: Path,
    is_heading: Callable[[Sequence[str]], bool],
    encoding: str | None = None,
    delimiter: str | None = None,
) -> Table:
    """Read the file; the heading is the first row that `is_heading` accepts, with the delimiter that fits."""
    data = _bytes(path)
    used = encoding or _guess_encoding(data)
    text = _decode(path, data, used)
    for candidate in (delimiter,) if delimiter else DELIMITERS:
        parts = _split(path, text, candidate, is_heading)
        if parts is not None:
            return Table(used, candidate, *parts)
    start = "\n".join(text.splitlines()[:3])
    raise LoggerFileError(
        "{path}: no heading with a time column and at least one known quantity in the first "
        "{count} lines; name the columns yourself (--time-column, --column). The file begins:\n{start}",
        path=path,
        count=LINES_SEARCHED,
        start=start[:300],
    )


def _bytes(path: Path) -> bytes:
    try:
        size = path.stat().st_size
        if size > LARGEST_FILE:
            raise LoggerFileError(
                "{path}: {size} bytes; allowed: {most}. Split it into smaller files",
                path=path,
                size=size,
                most=LARGEST_FILE,
            )
        data = path.read_bytes()
    except OSError as error:
        raise LoggerFileError(
            "{path}: cannot be read: {error}", path=path, error=error.strerror or error
        ) from error
    if not data.strip():
        raise LoggerFileError("{path}: the file is empty", path=path)
    return data


def _guess_encoding(data: bytes) -> str:
    for mark, encoding in _MARKS:
        if data.startswith(mark):
            return encoding
    try:
        data.decode("utf-8")
    except UnicodeDecodeError:
        return "latin-1"
    return "utf-8"


def _decode(path: Path, data: bytes, encoding: str) -> str:
    try:
        text = data.decode(encoding)
    except (UnicodeError, LookupError):
        raise LoggerFileError(
            "{path}: not readable as {encoding}; try --encoding with one of {encodings}",
            path=path,
            encoding=encoding,
            encodings=", ".join(ENCODINGS),
        ) from None
    if "\0" in text:
        raise LoggerFileError(
            "{path}: this is not a text file; export it from the logger's program as CSV", path=path
        )
    return text


def _split(
    path: Path, text: str, delimiter: str, is_heading: Callable[[Sequence[str]], bool]
) -> tuple[tuple[str, ...], tuple[Row, ...]] | None:
    heading: tuple[str, ...] | None = None
    rows: list[Row] = []
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    try:
        for row in reader:
            cells = tuple(cell.strip() for cell in row)
            if heading is not None:
                rows.append(Row(reader.line_num, cells))
            elif is_heading(cells):
                heading = cells
            elif reader.line_num > LINES_SEARCHED:
                return None
    except csv.Error as error:
        raise LoggerFileError(
            "{path}: line {line} cannot be split into columns: {error}",
            path=path,
            line=reader.line_num,
            error=error,
        ) from error
    return None if heading is None else (heading, tuple(rows))


@dataclass(frozen=True, slots=True)
class SkippedRow:
    """A row that was not taken: its line in the file and why."""

    line: int
    reason: Sentence


@dataclass(frozen=True, slots=True)
class LoggerReport:
    """What came of a logger file. `notes` are choices that were made for the person, in words."""

    path: Path
    rows: int
    readings: int
    skipped: tuple[SkippedRow, ...]
    first_ms: int | None
    last_ms: int | None
    columns: tuple[Sentence, ...]
    unused_columns: tuple[str, ...]
    notes: tuple[Sentence, ...]

    @property
    def rows_taken(self) -> int:
        return self.rows - len(self.skipped)


@dataclass(slots=True)
class _Taken:
    """What has been taken from the file so far."""

    readings: list[Reading] = field(default_factory=list)
    skipped: list[SkippedRow] = field(default_factory=list)
    line_of: dict[int, tuple[int, tuple[str, ...]]] = field(default_factory=dict)
    empty_cells: int = 0


def read_logger_file(
    path: Path, mapping: LoggerMapping, received_ms: int
) -> tuple[tuple[NodeMessage, ...], LoggerReport]:
    """Readings of a logger file in messages of at most 200, and the report; else LoggerFileError."""
    if not IDENTIFIER.fullmatch(mapping.node):
        raise LoggerFileError(
            "the node '{node}' may hold letters, digits, - _ . only, 40 at most", node=mapping.node
        )
    clock = LocalClock(time_zone(mapping.time_zone))
    table = read_table(path, lambda cells: is_heading(cells, mapping), mapping.encoding, mapping.delimiter)
    layout = lay_out(table.heading, mapping)
    rows = [row for row in table.rows if any(row.cells)]
    _check_decimals(table, layout, rows, mapping)
    taken = _take_rows(rows, layout, mapping, clock)
    if not taken.readings:
        raise LoggerFileError(
            "{path}: no row could be taken:\n{examples}",
            path=path,
            examples=tuple(example(row.line, row.reason) for row in taken.skipped[:5]),
        )
    taken.readings.sort(key=lambda reading: reading.at_ms)
    return _messages(mapping.node, taken.readings, received_ms), _report(
        path, table, layout, rows, taken, clock
    )


def replay_messages(
    path: Path, mapping: LoggerMapping, topics: Topics, speed: float, start_ms: int
) -> Iterator[tuple[float, str, bytes]]:
    """(seconds to wait before it, topic, SenML payload) of each moment in the file, `speed` times as fast.

    Times are shifted so that the last reading is measured when the replay ends; with speed above 1 the
    earlier ones lie in the past, as a backlog does.
    """
    if not speed >= 1:
        raise UsageError("the speed is {speed}; allowed: 1 or more", speed=f"{speed:g}")
    messages, report = read_logger_file(path, mapping, start_ms)
    first_ms, last_ms = report.first_ms or 0, report.last_ms or 0
    span_ms = last_ms - first_ms
    if span_ms * (1 - 1 / speed) > topics.oldest_ms:
        raise UsageError(
            "{path}: spans {days} days; a replay can span {most} days",
            path=path,
            days=f"{span_ms / MS_PER_DAY:.1f}",
            most=f"{topics.oldest_ms / MS_PER_DAY:g}",
        )
    shift_ms = start_ms + round(span_ms / speed) - last_ms
    readings = itertools.chain.from_iterable(message.readings for message in messages)
    before_ms = first_ms
    for sequence, (at_ms, group) in enumerate(itertools.groupby(readings, key=lambda reading: reading.at_ms)):
        pack = _pack(group, at_ms + shift_ms, boot=start_ms // MS_PER_SECOND, sequence=sequence)
        yield (at_ms - before_ms) / speed / MS_PER_SECOND, f"{topics.base}/{mapping.node}/{READINGS}", pack
        before_ms = at_ms


def _pack(readings: Iterable[Reading], at_ms: int, *, boot: int, sequence: int) -> bytes:
    records: list[dict[str, object]] = [
        {"n": reading.sensor.measure, "u": QUANTITIES[reading.sensor.quantity].unit, "v": reading.value}
        for reading in readings
    ]
    records[0]["bt"] = at_ms / MS_PER_SECOND
    for name, value in (("boot", boot), ("sequence", sequence)):
        records.append({"n": name, "u": "count", "v": value})
    return json.dumps(records).encode()


def _check_decimals(table: Table, layout: Layout, rows: Sequence[Row], mapping: LoggerMapping) -> None:
    """One column must not write 23,4 in one row and 23.4 in another."""
    for position, _, _ in layout.values:
        seen, heading = _decimal_signs(rows, position), table.heading[position]
        examples = tuple(example(row.line, _cell(row, position)) for row in seen.values())
        if len(seen) > 1:
            raise LoggerFileError(
                "the column '{column}' writes decimals as , and as .:\n{examples}",
                column=heading,
                examples=examples,
            )
        if mapping.decimal is not None and set(seen) - {mapping.decimal}:
            raise LoggerFileError(
                "the column '{column}' writes decimals as {sign}; --decimal says {wanted}:\n{examples}",
                column=heading,
                sign=next(iter(seen)),
                wanted=mapping.decimal,
                examples=examples,
            )


def _decimal_signs(rows: Sequence[Row], position: int) -> dict[str, Row]:
    seen: dict[str, Row] = {}
    for row in rows:
        cell = _cell(row, position)
        sign = "," if "," in cell else "."
        if sign in cell and sign not in seen and _NUMBER.fullmatch(cell):
            seen[sign] = row
    return seen


def _cell(row: Row, position: int) -> str:
    return row.cells[position] if position < len(row.cells) else ""


def _take_rows(rows: Sequence[Row], layout: Layout, mapping: LoggerMapping, clock: LocalClock) -> _Taken:
    taken = _Taken()
    written: list[tuple[Row, WrittenTime]] = []
    for row in rows:
        text = " ".join(_cell(row, position) for position in layout.time_cells).strip()
        time = read_written(row.line, text)
        if isinstance(time, Sentence):
            taken.skipped.append(SkippedRow(row.line, time))
        else:
            written.append((row, time))
    order = date_order([time for _, time in written], mapping.date_order)
    local = [(row, to_local(time, order)) for row, time in written]
    if _runs_backwards(local):
        local.reverse()
    for row, moment in local:
        at = moment if isinstance(moment, Sentence) else clock.to_ms(moment)
        _take_row(row, at, layout, taken)
    taken.skipped.sort(key=lambda skipped: skipped.line)
    return taken


def _runs_backwards(local: Sequence[tuple[Row, dt.datetime | Sentence]]) -> bool:
    """Some loggers write the newest row first; hours that occur twice need the order of time."""
    moments = [moment.replace(tzinfo=None) for _, moment in local if not isinstance(moment, Sentence)]
    return len(moments) > 1 and moments[0] > moments[-1]


def _take_row(row: Row, at: int | Sentence, layout: Layout, taken: _Taken) -> None:
    if isinstance(at, Sentence):
        taken.skipped.append(SkippedRow(row.line, at))
        return
    earlier = taken.line_of.get(at)
    if earlier is not None:
        line, cells = earlier
        reason = (
            sentence("same time as line {line}, same values", line=line)
            if cells == row.cells
            else sentence("same time as line {line}, other values; the first were kept", line=line)
        )
        taken.skipped.append(SkippedRow(row.line, reason))
        return
    readings = [reading for column in layout.values if (reading := _reading(row, at, column)) is not None]
    taken.empty_cells += len(layout.values) - len(readings)
    if not readings:
        reason = sentence("holds no number in the columns that are read")
        taken.skipped.append(SkippedRow(row.line, reason))
        return
    taken.line_of[at] = (row.line, row.cells)
    taken.readings.extend(readings)


def _reading(row: Row, at_ms: int, column: tuple[int, SensorKey, str]) -> Reading | None:
    position, sensor, unit = column
    cell = _cell(row, position)
    number = float(cell.replace(",", ".")) if _NUMBER.fullmatch(cell) else math.nan
    if not math.isfinite(number):
        return None
    return Reading(sensor, at_ms, convert_plain(number, unit, QUANTITIES[sensor.quantity].unit))


def _messages(node: str, readings: Sequence[Reading], received_ms: int) -> tuple[NodeMessage, ...]:
    return tuple(
        NodeMessage(node, received_ms, tuple(readings[start : start + READINGS_PER_MESSAGE]), TimeSource.NODE)
        for start in range(0, len(readings), READINGS_PER_MESSAGE)
    )


def _report(
    path: Path, table: Table, layout: Layout, rows: Sequence[Row], taken: _Taken, clock: LocalClock
) -> LoggerReport:
    return LoggerReport(
        path,
        len(rows),
        len(taken.readings),
        tuple(taken.skipped),
        taken.readings[0].at_ms,
        taken.readings[-1].at_ms,
        tuple(
            sentence(
                "{column} -> {sensor} in {unit}", column=table.heading[position], sensor=sensor, unit=unit
            )
            for position, sensor, unit in layout.values
        ),
        layout.unused,
        tuple(_notes(table, taken, clock)),
    )


def _notes(table: Table, taken: _Taken, clock: LocalClock) -> Iterator[Sentence]:
    yield sentence(
        "read as {encoding}, columns split at {delimiter}",
        encoding=table.encoding,
        delimiter=_DELIMITER_NAMES.get(table.delimiter, table.delimiter),
    )
    if taken.empty_cells:
        yield sentence("{count} cells held no number", count=taken.empty_cells)
    if clock.doubled:
        yield sentence(
            "{count} rows lie in an hour that occurs twice (clocks went back); taken in turn",
            count=clock.doubled,
        )
