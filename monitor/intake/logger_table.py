"""A data logger's CSV file to a heading and rows of text: encoding, delimiter, where the heading stands."""

from __future__ import annotations

import codecs
import csv
import io
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from monitor.errors import LoggerFileError

ENCODINGS = ("utf-8", "utf-8-sig", "utf-16", "latin-1", "cp1252")
DELIMITERS = (",", ";", "\t", "|")
LINES_SEARCHED = 50
"""Loggers put titles and serial numbers above the heading; it is looked for in that many lines."""
LARGEST_FILE = 256 * 1024 * 1024

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
        found = _split(path, text, candidate, is_heading)
        if found is not None:
            return Table(used, candidate, *found)
    start = "\n".join(text.splitlines()[:3])
    raise LoggerFileError(
        f"{path}: no heading with a time column and at least one known quantity in the first "
        f"{LINES_SEARCHED} lines; name the columns yourself (--time-column, --column). "
        f"The file begins:\n{start[:300]}"
    )


def _bytes(path: Path) -> bytes:
    try:
        size = path.stat().st_size
        if size > LARGEST_FILE:
            raise LoggerFileError(
                f"{path}: {size} bytes; allowed: {LARGEST_FILE}. Split it into smaller files"
            )
        data = path.read_bytes()
    except OSError as error:
        raise LoggerFileError(f"{path}: cannot be read: {error.strerror or error}") from error
    if not data.strip():
        raise LoggerFileError(f"{path}: the file is empty")
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
            f"{path}: not readable as {encoding}; try --encoding with one of {', '.join(ENCODINGS)}"
        ) from None
    if "\0" in text:
        raise LoggerFileError(f"{path}: this is not a text file; export it from the logger's program as CSV")
    return text


def _split(
    path: Path, text: str, delimiter: str, is_heading: Callable[[Sequence[str]], bool]
) -> tuple[tuple[str, ...], tuple[Row, ...]] | None:
    """Heading and the rows below it, or None where no line is a heading with this delimiter."""
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
            f"{path}: line {reader.line_num} cannot be split into columns: {error}"
        ) from error
    return None if heading is None else (heading, tuple(rows))
