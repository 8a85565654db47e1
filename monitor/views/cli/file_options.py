"""Options of the commands that read a logger file; `import` and `replay` share them."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Annotated, Literal, cast

import typer

from monitor.errors import LoggerFileError
from monitor.intake.logger_columns import Column, DateOrder, LoggerMapping, parse_column
from monitor.intake.logger_table import ENCODINGS
from monitor.records import Quantity

FileArgument = Annotated[Path, typer.Argument(metavar="FILE.csv", help="The file that the logger wrote.")]
NodeOption = Annotated[
    str,
    typer.Option("--node", metavar="NAME", help="The board that the readings belong to, as in the settings."),
]
ColumnOption = Annotated[
    list[str] | None,
    typer.Option(
        "--column",
        metavar="HEADING=QUANTITY",
        help="What a column holds; once for each column. Also HEADING=probe/quantity, and :unit after it. "
        f"Quantities: {', '.join(Quantity)}. Without it: found out from the headings.",
    ),
]
TimeColumnOption = Annotated[
    str, typer.Option("--time-column", metavar="HEADING", help="The column with date and time.")
]
ZoneOption = Annotated[
    str,
    typer.Option(
        "--time-zone",
        metavar="ZONE",
        help="Time zone of the logger: Africa/Gaborone, or +02:00. Without it: that of the farm.",
    ),
]
OrderOption = Annotated[
    str,
    typer.Option(
        "--date-order", metavar="dmy|mdy", help="Order of day and month, where the file leaves it open."
    ),
]
DecimalOption = Annotated[
    str, typer.Option("--decimal", metavar=".|,", help="The decimal sign, where the file leaves it open.")
]
DelimiterOption = Annotated[
    str, typer.Option("--delimiter", metavar="SIGN", help="The sign between columns: , ; | or tab.")
]
EncodingOption = Annotated[
    str, typer.Option("--encoding", metavar="NAME", help=f"How letters are stored: {', '.join(ENCODINGS)}.")
]


def mapping_of(
    node: str,
    time_zone: str,
    columns: Sequence[str],
    time_column: str,
    date_order: str,
    decimal: str,
    delimiter: str,
    encoding: str,
) -> LoggerMapping:
    """The options as the reader of logger files takes them; LoggerFileError for a wrong one."""
    _one_of("--date-order", date_order, ("dmy", "mdy", "ymd"))
    _one_of("--decimal", decimal, (".", ","))
    _one_of("--encoding", encoding, ENCODINGS)
    if len(delimiter) > 1 and delimiter != "tab":
        raise LoggerFileError(f"--delimiter is {delimiter!r}; allowed: one sign, or the word tab")
    known: dict[str, Column] = dict(parse_column(text) for text in columns)
    return LoggerMapping(
        node=node,
        time_zone=time_zone,
        time_column=time_column or None,
        columns=known,
        date_order=cast(DateOrder, date_order) if date_order else None,
        delimiter="\t" if delimiter == "tab" else delimiter or None,
        decimal=cast(Literal[".", ","], decimal) if decimal else None,
        encoding=encoding or None,
    )


def _one_of(option: str, given: str, allowed: Sequence[str]) -> None:
    if given and given not in allowed:
        raise LoggerFileError(f"{option} is {given!r}; allowed: {' '.join(allowed)}")
