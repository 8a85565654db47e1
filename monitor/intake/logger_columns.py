"""Which column of a logger file holds what: said by the person, else guessed from the heading. Pure."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

from monitor.errors import LoggerFileError, PayloadError
from monitor.intake.topics import IDENTIFIER
from monitor.intake.units import convert_plain
from monitor.records import QUANTITIES, Quantity, SensorKey

DateOrder = Literal["dmy", "mdy", "ymd"]


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


_UNIT = re.compile(r"[\[(]\s*([^\])]+?)\s*[\])]|(°\s*[CF]|%\s*RH)", re.IGNORECASE)
_SPELLINGS = {
    "°c": "Cel", "c": "Cel", "cel": "Cel", "celsius": "Cel", "degc": "Cel", "deg c": "Cel",
    "°f": "degF", "f": "degF", "degf": "degF", "fahrenheit": "degF", "deg f": "degF",
    "k": "K", "%": "%", "%rh": "%RH", "rh": "%RH", "rh%": "%RH", "% rh": "%RH",
    "v": "V", "mv": "mV", "lx": "lx", "lux": "lx", "ppm": "ppm",
}  # fmt: skip
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


def parse_column(text: str) -> tuple[str, Column]:
    """`HEADING=quantity`, `HEADING=probe/quantity`, either with `:unit` after it, as a person types it."""
    heading, equals, target = text.rpartition("=")
    name, _, unit = target.partition(":")
    probe, _, quantity = name.rpartition("/")
    if not equals or quantity not in set(Quantity):
        raise LoggerFileError(
            f"the column {text!r} should read HEADING=quantity, HEADING=probe/quantity or "
            f"HEADING=quantity:unit; quantities: {', '.join(Quantity)}"
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
    found = [position for position, cell in enumerate(cells) if _TIME_WORDS.search(cell)]
    dates = [position for position in found if "date" in cells[position].lower()]
    is_split = len(found) > 1 and dates and cells[dates[0]].lower() == "date"
    return (dates[0], next(p for p in found if p != dates[0])) if is_split else tuple(found[:1])


def _guess(cell: str) -> Quantity | None:
    if _NOT_MEASURED.search(cell) or _TIME_WORDS.search(cell):
        return None
    return next((quantity for pattern, quantity in _GUESSES if pattern.search(cell)), None)


def _sensor(node: str, column: Column) -> SensorKey:
    if column.probe and not IDENTIFIER.fullmatch(column.probe):
        raise LoggerFileError(f"the probe {column.probe!r} may hold letters, digits, - _ . only")
    return SensorKey(node, column.probe, column.quantity)


def _unit(heading: str, column: Column) -> str:
    """The unit said, else the one in the heading, else the canonical one; refused where it does not fit."""
    wanted = QUANTITIES[column.quantity].unit
    match = _UNIT.search(heading)
    written = (match.group(1) or match.group(2)).lower() if match else ""
    unit = column.unit or _SPELLINGS.get(written) or wanted
    try:
        convert_plain(1.0, unit, wanted)
    except PayloadError as error:
        raise LoggerFileError(f"the column {heading!r}: {error}") from error
    return unit


def _refuse_double(heading: Sequence[str], values: Sequence[tuple[int, SensorKey, str]]) -> None:
    first: dict[SensorKey, int] = {}
    for position, sensor, _ in values:
        other = first.setdefault(sensor, position)
        if other != position:
            raise LoggerFileError(
                f"the columns {heading[other]!r} and {heading[position]!r} would both be {sensor.quantity}; "
                f'name them: --column "{heading[position]}=probe2/{sensor.quantity}"'
            )
