"""`import` takes a logger file into the database, `replay` sends it to the broker as if it were live.

Options of the commands that read a logger file; `import` and `replay` share them.
"""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Annotated, Literal, cast

import typer

from monitor.cli.context import SiteContext, clock_ms, look_at_farm, open_farm, working
from monitor.cli.options import ConfigOption
from monitor.cli.output import complain, progress_bar, say
from monitor.climate import quality
from monitor.climate.calibration import CalibrationTable
from monitor.errors import LoggerFileError
from monitor.intake.connection import Publisher
from monitor.intake.logger_columns import Column, DateOrder, LoggerMapping, parse_column
from monitor.intake.logger_file import ENCODINGS, LoggerReport, read_logger_file, replay_messages
from monitor.intake.payload import Topics
from monitor.records import (
    MS_PER_DAY,
    MS_PER_MINUTE,
    Batch,
    CommitResult,
    Flag,
    FlaggedMessage,
    FlaggedReading,
    NodeMessage,
    Quantity,
    Reading,
    SensorKey,
)
from monitor.settings.plan import Plan, build_plan
from monitor.settings.schema import Settings
from monitor.words.phrases import length_of_time, moment, plural

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


MESSAGES_IN_BATCH = 20
MOST_SKIPPED_SHOWN = 20

TryOption = Annotated[bool, typer.Option("--dry-run", help="Read the file and report, but store nothing.")]
SpeedOption = Annotated[
    float,
    typer.Option("--speed", min=1, max=100_000, metavar="NUMBER", help="How many times as fast as it was."),
]

_IMPORT_EXAMPLES = (
    "Examples: [bold]rearing-monitor import bin3.csv --node logger-3 --dry-run[/bold]\n\n"
    "[bold]rearing-monitor import bin3.csv --node logger-3 "
    '--column "Ch1=core/substrate_temperature:degF"[/bold]'
)
_REPLAY_EXAMPLES = "Example: [bold]rearing-monitor replay bin3.csv --node logger-3 --speed 600[/bold]"


def register(app: typer.Typer) -> None:
    """Add the commands of this module."""
    app.command("import", epilog=_IMPORT_EXAMPLES)(import_file)
    app.command("replay", epilog=_REPLAY_EXAMPLES)(replay)


def import_file(
    file: FileArgument,
    node: NodeOption,
    column: ColumnOption = None,
    time_column: TimeColumnOption = "",
    time_zone: ZoneOption = "",
    date_order: OrderOption = "",
    decimal: DecimalOption = "",
    delimiter: DelimiterOption = "",
    encoding: EncodingOption = "",
    dry_run: TryOption = False,
    config: ConfigOption = None,
) -> None:
    """Take the readings of a logger's CSV file into the database, and say what was taken and what was not.

    Readings are checked and flagged like those that come in live; what is
    stored already stays as it is. An alarm never comes from an imported file:
    it tells of the past.
    """
    settings = look_at_farm(config).settings
    zone = time_zone or settings.site.time_zone
    mapping = mapping_of(node, zone, column or (), time_column, date_order, decimal, delimiter, encoding)
    messages, report = read_logger_file(file, mapping, clock_ms())
    plan = build_plan(settings)
    _say_report(report, plan)
    if dry_run:
        say("Nothing was stored (--dry-run).")
        return
    with working(config, create=True) as look:
        flagged = list(_flagged(messages, look.store.calibrations.table()))
        _say_result(_store(look, flagged), node, plan)
        _say_flags(flagged)


def _say_report(report: LoggerReport, plan: Plan) -> None:
    rows = f"{report.rows_taken} of {plural(report.rows, 'row')}"
    say(f"{report.path}: {plural(report.readings, 'reading')} in {rows}")
    if report.first_ms is not None and report.last_ms is not None:
        span = length_of_time(report.last_ms - report.first_ms)
        say(f"  from {moment(report.first_ms, plan.zone)} to {moment(report.last_ms, plan.zone)} ({span})")
    for line in report.columns:
        say(f"  column {line}")
    if report.unused_columns:
        say(f"  columns not used: {', '.join(report.unused_columns)}", "warning")
    for note in report.notes:
        say(f"  {note}", "quiet")
    _say_skipped(report)


def _say_skipped(report: LoggerReport) -> None:
    if not report.skipped:
        return
    say(f"  {plural(len(report.skipped), 'row was', 'rows were')} not taken:", "warning")
    for one in report.skipped[:MOST_SKIPPED_SHOWN]:
        say(f"    line {one.line}: {one.reason}")
    if len(report.skipped) > MOST_SKIPPED_SHOWN:
        say(f"    and {len(report.skipped) - MOST_SKIPPED_SHOWN} more")


def _store(look: SiteContext, flagged: Sequence[FlaggedMessage]) -> CommitResult:
    """Store in batches; gives the sum of what the store did."""
    total = CommitResult()
    with progress_bar("Storing") as report:
        for start in range(0, len(flagged), MESSAGES_IN_BATCH):
            part = look.store.commit(Batch(look.now_ms, tuple(flagged[start : start + MESSAGES_IN_BATCH])))
            total = CommitResult(
                total.stored + part.stored,
                total.duplicate_messages + part.duplicate_messages,
                total.duplicate_readings + part.duplicate_readings,
                total.conflicts + part.conflicts,
            )
            report(min(start + MESSAGES_IN_BATCH, len(flagged)), len(flagged))
    return total


def _flagged(messages: Sequence[NodeMessage], calibrations: CalibrationTable) -> Iterator[FlaggedMessage]:
    memories: dict[SensorKey, quality.SensorMemory] = {}
    for message in messages:
        readings = tuple(_flag(reading, memories, calibrations) for reading in message.readings)
        # A board counts as heard when it measured, not when its file was brought in.
        yield FlaggedMessage(replace(message, received_ms=message.readings[-1].at_ms), readings)


def _flag(
    reading: Reading, memories: dict[SensorKey, quality.SensorMemory], calibrations: CalibrationTable
) -> FlaggedReading:
    memory = memories.get(reading.sensor) or quality.SensorMemory()
    limits = quality.DEFAULT_LIMITS.get(reading.sensor.quantity)
    memories[reading.sensor], flag = quality.check(memory, reading, limits)
    true = calibrations.calibrated(reading.value, reading.sensor, reading.at_ms)
    return FlaggedReading(reading, flag, true)


def _say_result(result: CommitResult, node: str, plan: Plan) -> None:
    say(f"Stored: {plural(result.stored, 'reading')}", "good")
    if result.duplicate_readings:
        say(f"  {plural(result.duplicate_readings, 'reading was', 'readings were')} there already")
    if result.conflicts:
        say(
            f"  {plural(result.conflicts, 'reading differs', 'readings differ')} from one of the same time "
            "that was there; the earlier one is kept",
            "warning",
        )
    if node not in plan.nodes:
        say(
            f"  {node} stands in no [[nodes]] table yet; `rearing-monitor nodes` shows the lines to add",
            "warning",
        )


def _say_flags(flagged: Sequence[FlaggedMessage]) -> None:
    counts = Counter(item.flag for message in flagged for item in message.readings)
    if counts[Flag.FAIL]:
        count = plural(counts[Flag.FAIL], "reading")
        say(f"  {count} cannot be true and will not be used (flag {Flag.FAIL:d} in an export)", "warning")
    if counts[Flag.SUSPECT]:
        count = plural(counts[Flag.SUSPECT], "reading")
        say(f"  {count} doubtful, used with that mark (flag {Flag.SUSPECT:d} in an export)", "warning")


def replay(
    file: FileArgument,
    node: NodeOption,
    speed: SpeedOption = 60.0,
    column: ColumnOption = None,
    time_column: TimeColumnOption = "",
    time_zone: ZoneOption = "",
    date_order: OrderOption = "",
    decimal: DecimalOption = "",
    delimiter: DelimiterOption = "",
    encoding: EncodingOption = "",
    config: ConfigOption = None,
) -> None:
    """Send the readings of a logger's CSV file to the broker, as if the board were sending them now.

    For trying out alarms and messages: a running monitor takes them for real
    and warns of them. Use a node and a settings file made for trials, not those
    of your animals.
    """
    settings = open_farm(config).settings
    zone = time_zone or settings.site.time_zone
    mapping = mapping_of(node, zone, column or (), time_column, date_order, decimal, delimiter, encoding)
    packs = list(replay_messages(file, mapping, _topics(settings), speed, clock_ms()))
    lasts = length_of_time(round(1000 * sum(wait_s for wait_s, _, _ in packs)))
    say(
        f"{file}: {plural(len(packs), 'message')} to {settings.broker.host}:{settings.broker.port} in {lasts}"
    )
    with Publisher(settings.broker, f"replay-{node}"[:23]) as publisher, progress_bar("Sending") as report:
        for done, (wait_s, topic, payload) in enumerate(packs, 1):
            time.sleep(wait_s)
            publisher.publish(topic, payload)
            report(done, len(packs))
    say(f"Sent: {plural(len(packs), 'message')}, all taken by the broker", "good")
    if node not in {one.id for one in settings.nodes}:
        complain(f"{node} stands in no [[nodes]] table, so no alarm comes from it", "warning")


def _topics(settings: Settings) -> Topics:
    intake = settings.intake
    oldest_ms, newest_ms = (
        round(intake.oldest_days * MS_PER_DAY),
        round(intake.newest_minutes * MS_PER_MINUTE),
    )
    return Topics(settings.site.id, settings.broker.topic_root, oldest_ms, newest_ms)
