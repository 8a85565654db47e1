"""What the columns of a logger file hold: quantities and units by their headings, and times. Pure.

What the person said counts; else the heading is guessed from. Local times become UTC, and the order of day
and month is read from the whole column.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from monitor.errors import LoggerFileError, PayloadError, Sentence, sentence
from monitor.intake.payload import IDENTIFIER
from monitor.intake.senml import UNIT_SPELLINGS, convert_plain
from monitor.records import QUANTITIES, Quantity, SensorKey

DateOrder = Literal["dmy", "mdy", "ymd"]
_UNIT = re.compile(r"[\[(]\s*([^\])]+?)\s*[\])]|(°\s*[CF]|%\s*RH)", re.IGNORECASE)
_TIME_WORDS = re.compile(r"\b(date|time|timestamp|datetime|recorded|logged)\b", re.IGNORECASE)
_NOT_MEASURED = re.compile(r"dew|\bmin\b|\bmax\b|average|alarm|limit|record|vpd", re.IGNORECASE)
_IN_SUBSTRATE = "substrate|bin|soil|core|bed"
_GUESSES: tuple[tuple[re.Pattern[str], Quantity], ...] = tuple(
    (re.compile(pattern, re.IGNORECASE), quantity)
    for pattern, quantity in (
        (r"moisture", Quantity.SUBSTRATE_MOISTURE),
        (rf"({_IN_SUBSTRATE}).*temp|temp.*({_IN_SUBSTRATE})", Quantity.SUBSTRATE_TEMPERATURE),
        (r"surface.*temp|temp.*surface", Quantity.SURFACE_TEMPERATURE),
        (r"humid|\brh\b|%\s*rh", Quantity.AIR_HUMIDITY),
        (r"temp|°\s*[cf]|celsius|fahrenheit", Quantity.AIR_TEMPERATURE),
        (r"light|lux|illumin", Quantity.LIGHT),
        (r"batt|volt", Quantity.BATTERY),
        (r"co2|carbon", Quantity.CARBON_DIOXIDE),
        (r"nh3|ammonia", Quantity.AMMONIA),
    )
)  # fmt: skip
_DATE_AND_TIME = re.compile(
    r"(?P<a>\d{1,4})(?P<mark>[-/.])(?P<b>\d{1,2})(?P=mark)(?P<c>\d{2,4})"
    r"(?:[T ,]+(?P<hour>\d{1,2}):(?P<minute>\d{2})(?::(?P<second>\d{2})(?:[.,](?P<part>\d{1,6})\d*)?)?"
    r"\s*(?P<half>[AaPp]\.?[Mm]\.?)?\s*(?P<offset>Z|[+-][01]\d:?[0-5]\d)?)?",
    re.ASCII,
)
_EPOCH = re.compile(r"\d{10}(\d{3})?(\.\d*)?", re.ASCII)
_OFFSET = re.compile(r"(?:UTC|GMT)?([+-])([01]\d):?([0-5]\d)", re.ASCII)


@dataclass(frozen=True, slots=True)
class Column:
    """What one column holds. `unit` None: the unit of the heading, else the canonical one."""

    quantity: str
    probe: str = ""
    unit: str | None = None


@dataclass(frozen=True, slots=True)
class LoggerMapping:
    """How to read a logger file. What is None or empty is found out from the file.

    `time_zone` is a name of the time zone database, or a fixed offset such as +02:00 for a logger that knows
    no summer time; times that carry their own offset do not need it.
    """

    node: str
    time_zone: str
    time_column: str | None = None
    columns: Mapping[str, Column] = field(default_factory=dict)
    date_order: DateOrder | None = None
    delimiter: str | None = None
    decimal: Literal[".", ","] | None = None
    encoding: str | None = None


@dataclass(frozen=True, slots=True)
class Layout:
    """Positions in a row: the time (one column, or date and time), the values, and what is not used."""

    time_cells: tuple[int, ...]
    values: tuple[tuple[int, SensorKey, str], ...]
    unused: tuple[str, ...]


def parse_column(text: str) -> tuple[str, Column]:
    """`HEADING=quantity`, `HEADING=probe/quantity`, either with `:unit` after it, as a person types it."""
    heading, equals, target = text.rpartition("=")
    name, _, unit = target.partition(":")
    probe, _, quantity = name.rpartition("/")
    if not equals or quantity not in set(Quantity):
        raise LoggerFileError(
            "the column '{column}' should read HEADING=quantity, HEADING=probe/quantity or "
            "HEADING=quantity:unit; quantities: {quantities}",
            column=text,
            quantities=", ".join(Quantity),
        )
    return heading.strip(), Column(quantity, probe, unit or None)


def is_heading(cells: Sequence[str], mapping: LoggerMapping) -> bool:
    """True for a row that names a time column and at least one quantity."""
    if mapping.columns and not set(mapping.columns) <= set(cells):
        return False
    wanted = mapping.columns or any(_guess(cell) for cell in cells)
    return bool(wanted) and bool(_time_cells(cells, mapping))


def lay_out(heading: Sequence[str], mapping: LoggerMapping) -> Layout:
    """Positions of time and values; LoggerFileError where a choice is the person's."""
    time_cells = _time_cells(heading, mapping)
    columns = dict(mapping.columns) or {
        cell: Column(guess)
        for position, cell in enumerate(heading)
        if position not in time_cells and (guess := _guess(cell))
    }
    values = tuple(
        (position, _sensor(mapping.node, columns[cell]), _unit(cell, columns[cell]))
        for position, cell in enumerate(heading)
        if cell in columns and position not in time_cells
    )
    _refuse_double(heading, values)
    used = {*time_cells, *(position for position, _, _ in values)}
    unused = tuple(cell for position, cell in enumerate(heading) if cell and position not in used)
    return Layout(time_cells, values, unused)


def _time_cells(cells: Sequence[str], mapping: LoggerMapping) -> tuple[int, ...]:
    if mapping.time_column is not None:
        return tuple(position for position, cell in enumerate(cells) if cell == mapping.time_column)[:1]
    times = [position for position, cell in enumerate(cells) if _TIME_WORDS.search(cell)]
    dates = [position for position in times if "date" in cells[position].lower()]
    is_split = len(times) > 1 and dates and cells[dates[0]].lower() == "date"
    return (dates[0], next(p for p in times if p != dates[0])) if is_split else tuple(times[:1])


def _guess(cell: str) -> Quantity | None:
    if _NOT_MEASURED.search(cell) or _TIME_WORDS.search(cell):
        return None
    return next((quantity for pattern, quantity in _GUESSES if pattern.search(cell)), None)


def _sensor(node: str, column: Column) -> SensorKey:
    if column.probe and not IDENTIFIER.fullmatch(column.probe):
        raise LoggerFileError("the probe '{probe}' may hold letters, digits, - _ . only", probe=column.probe)
    return SensorKey(node, column.probe, column.quantity)


def _unit(heading: str, column: Column) -> str:
    wanted = QUANTITIES[column.quantity].unit
    match = _UNIT.search(heading)
    written = (match.group(1) or match.group(2)).lower() if match else ""
    unit = column.unit or UNIT_SPELLINGS.get(written) or wanted
    try:
        convert_plain(1.0, unit, wanted)
    except PayloadError as error:
        raise LoggerFileError("the column '{column}': {error}", column=heading, error=error) from error
    return unit


def _refuse_double(heading: Sequence[str], values: Sequence[tuple[int, SensorKey, str]]) -> None:
    first: dict[SensorKey, int] = {}
    for position, sensor, _ in values:
        other = first.setdefault(sensor, position)
        if other != position:
            raise LoggerFileError(
                "the columns '{first}' and '{second}' would both be {quantity}; "
                'name them: --column "{second}=probe2/{quantity}"',
                first=heading[other],
                second=heading[position],
                quantity=str(sensor.quantity),
            )


@dataclass(frozen=True, slots=True)
class WrittenTime:
    """A time as written: its shape and its parts. `a b c` are the parts of the date in their order."""

    line: int
    text: str
    shape: Sentence
    a: int
    b: int
    c: int
    time: dt.time
    offset: dt.tzinfo | None = None


def read_written(line: int, text: str) -> WrittenTime | Sentence:
    """The parts of a time, or in words why it cannot be read."""
    if _EPOCH.fullmatch(text):
        return _from_epoch(line, text)
    match = _DATE_AND_TIME.fullmatch(text)
    if match is None:
        return sentence("the time {time} is not in a form that is known", time=ascii(text[:40]))
    try:
        time = _time_of_day(match)
    except ValueError as error:
        return sentence("the time {time} does not exist: {error}", time=ascii(text[:40]), error=error)
    offset = _offset(match["offset"])
    parts = (int(match["a"]), int(match["b"]), int(match["c"]))
    return WrittenTime(line, text, _shape(match, offset is not None), *parts, time, offset)


def _shape(match: re.Match[str], has_offset: bool) -> Sentence:
    if len(match["a"]) == 4:
        shape = sentence("year first")
    else:
        shape = sentence("day or month first, with {mark}", mark=match["mark"])
    return sentence("{shape} and its own offset", shape=shape) if has_offset else shape


def date_order(times: Sequence[WrittenTime], wanted: DateOrder | None) -> DateOrder:
    """The order of day, month and year of the whole column; refused where the file leaves it open."""
    _refuse_mixed(times)
    if not times or times[0].a >= 1000:  # the year comes first
        return "ymd"
    if wanted in ("dmy", "mdy"):
        return wanted
    return _order_from_numbers(times)


def time_zone(name: str) -> dt.tzinfo:
    """A time zone by its name, or a fixed offset such as +02:00."""
    match = _OFFSET.fullmatch(name)
    if match:
        return _offset(f"{match[1]}{match[2]}:{match[3]}") or dt.UTC
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise LoggerFileError(
            "the time zone '{name}' is not known; write it like Africa/Gaborone, or as an offset like +02:00",
            name=name,
        ) from None


def to_local(written: WrittenTime, order: DateOrder) -> dt.datetime | Sentence:
    """Date and time without zone, or with the offset that was written; or in words why there is none."""
    year, month, day = {
        "ymd": (written.a, written.b, written.c),
        "dmy": (written.c, written.b, written.a),
        "mdy": (written.c, written.a, written.b),
    }[order]
    try:
        date = dt.date(year + 2000 if year < 100 else year, month, day)
    except ValueError:
        return sentence("the date {date} does not exist", date=ascii(written.text[:40]))
    return dt.datetime.combine(date, written.time, written.offset)


@dataclass(slots=True)
class LocalClock:
    """Turns local times into UTC row by row, in the order of time, and counts the rows in doubled hours."""

    zone: dt.tzinfo
    previous_ms: int | None = None
    doubled: int = 0

    def to_ms(self, local: dt.datetime) -> int | Sentence:
        """ms since 1970; in words why not, where clocks went forward over this time.

        Where clocks went back a time occurs twice: the first is taken unless the row before is as late.
        """
        if local.tzinfo is not None:
            return self._keep(_ms(local))
        first, second = (_ms(local.replace(tzinfo=self.zone, fold=fold)) for fold in (0, 1))
        if first > second:
            return sentence("the local time {time} does not exist: clocks went forward over it", time=local)
        if first == second:
            return self._keep(first)
        self.doubled += 1
        return self._keep(first if self.previous_ms is None or self.previous_ms < first else second)

    def _keep(self, at_ms: int) -> int:
        self.previous_ms = at_ms
        return at_ms


def _ms(moment: dt.datetime) -> int:
    return (moment - dt.datetime(1970, 1, 1, tzinfo=dt.UTC)) // dt.timedelta(milliseconds=1)


def _from_epoch(line: int, text: str) -> WrittenTime:
    seconds = float(text) / (1000 if len(text.partition(".")[0]) == 13 else 1)
    moment = dt.datetime(1970, 1, 1, tzinfo=dt.UTC) + dt.timedelta(seconds=seconds)
    return WrittenTime(
        line,
        text,
        sentence("seconds since 1970"),
        moment.year,
        moment.month,
        moment.day,
        moment.time(),
        dt.UTC,
    )


def _time_of_day(match: re.Match[str]) -> dt.time:
    hour = int(match["hour"] or 0)
    half = (match["half"] or "").lower().replace(".", "")
    if half:
        if not 1 <= hour <= 12:
            raise ValueError("hour must be in 1..12 with am or pm")
        hour = hour % 12 + (12 if half == "pm" else 0)
    microsecond = int((match["part"] or "0").ljust(6, "0"))
    return dt.time(hour, int(match["minute"] or 0), int(match["second"] or 0), microsecond)


def _offset(text: str | None) -> dt.tzinfo | None:
    if not text:
        return None
    if text == "Z":
        return dt.UTC
    sign = -1 if text[0] == "-" else 1
    return dt.timezone(sign * dt.timedelta(hours=int(text[1:3]), minutes=int(text[-2:])))


def _refuse_mixed(times: Sequence[WrittenTime]) -> None:
    first: dict[str, WrittenTime] = {}
    for time in times:
        first.setdefault(time.shape.text, time)
    if len(first) > 1:
        raise LoggerFileError(
            "the time column holds {count} different forms; split the file, or mend these rows:\n{examples}",
            count=len(first),
            examples=tuple(
                sentence("  line {line}: {text} ({shape})", line=time.line, text=time.text, shape=time.shape)
                for time in first.values()
            ),
        )


def _order_from_numbers(times: Sequence[WrittenTime]) -> DateOrder:
    day_first = next((time for time in times if time.a > 12), None)
    month_first = next((time for time in times if time.b > 12), None)
    if day_first and month_first:
        raise LoggerFileError(
            "the time column has the day first in one row and the month first in another:\n{examples}",
            examples=tuple(example(time.line, time.text) for time in (day_first, month_first)),
        )
    if day_first or "." in times[0].shape.text:
        return "dmy"
    if month_first:
        return "mdy"
    raise LoggerFileError(
        "the dates can be read as day/month or as month/day; say which with --date-order dmy or "
        "--date-order mdy:\n{examples}",
        examples=tuple(example(time.line, time.text) for time in (times[0], times[-1])),
    )


def example(line: int, text: object) -> Sentence:
    return sentence("  line {line}: {text}", line=line, text=text)
