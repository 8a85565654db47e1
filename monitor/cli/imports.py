"""`import` takes a logger file into the database, `replay` sends it to the broker as if it were live."""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Annotated, Literal, cast

import typer

from monitor.cli.context import SiteContext, look_at_farm, open_farm, working
from monitor.cli.language import clock_ms, command_words
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
    NodeMessage,
    SensorKey,
)
from monitor.settings.schema import Settings
from monitor.words.localizer import Localizer

MESSAGES_IN_BATCH = 20
MOST_SKIPPED_SHOWN = 20

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
        "Quantities are named as boards name them, such as air_humidity. Without it: found out from the "
        "headings.",
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
        raise LoggerFileError(
            "{option} is {given}; allowed: one sign, or the word tab",
            option="--delimiter",
            given=repr(delimiter),
        )
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
        raise LoggerFileError(
            "{option} is {given}; allowed: {allowed}",
            option=option,
            given=repr(given),
            allowed=" ".join(allowed),
        )


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
    words = command_words(settings)
    _say_report(report, words)
    if dry_run:
        say(words.t("import.dry"))
        return
    with working(config, create=True) as site:
        flagged = list(_flagged(messages, site.store.calibrations.table()))
        _say_result(_store(site, flagged), words)
        if node not in site.plan.nodes:
            say(words.t("import.no_node", node=node), "warning")
        _say_flags(flagged, words)


def _say_report(report: LoggerReport, words: Localizer) -> None:
    rows = words.n("import.rows", report.rows, taken=report.rows_taken)
    say(words.n("import.read", report.readings, file=str(report.path), rows=rows))
    if report.first_ms is not None and report.last_ms is not None:
        first, last = words.moment(report.first_ms), words.moment(report.last_ms)
        length = words.length(report.last_ms - report.first_ms)
        say("  " + words.t("import.span", first=first, last=last, length=length))
    for column in report.columns:
        say("  " + words.t("import.column", column=words.phrase(column)))
    if report.unused_columns:
        say("  " + words.t("import.unused", columns=", ".join(report.unused_columns)), "warning")
    for note in report.notes:
        say("  " + words.phrase(note), "quiet")
    if not report.skipped:
        return
    say("  " + words.n("import.skipped", len(report.skipped)), "warning")
    for row in report.skipped[:MOST_SKIPPED_SHOWN]:
        say("    " + words.t("import.line", line=str(row.line), reason=words.phrase(row.reason)))
    if len(report.skipped) > MOST_SKIPPED_SHOWN:
        say("    " + words.t("import.more", count=len(report.skipped) - MOST_SKIPPED_SHOWN))


def _store(site: SiteContext, flagged: Sequence[FlaggedMessage]) -> CommitResult:
    """Store in batches; gives the sum of what the store did."""
    total = CommitResult()
    with progress_bar(site.words.t("import.storing")) as report:
        for start in range(0, len(flagged), MESSAGES_IN_BATCH):
            part = site.store.commit(Batch(site.now_ms, tuple(flagged[start : start + MESSAGES_IN_BATCH])))
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
        readings = tuple(quality.flagged(reading, memories, calibrations) for reading in message.readings)
        # A board counts as heard when it measured, not when its file was brought in.
        yield FlaggedMessage(replace(message, received_ms=message.readings[-1].at_ms), readings)


def _say_result(result: CommitResult, words: Localizer) -> None:
    say(words.n("import.stored", result.stored), "good")
    if result.duplicate_readings:
        say("  " + words.n("import.duplicates", result.duplicate_readings))
    if result.conflicts:
        say("  " + words.n("import.conflicts", result.conflicts), "warning")


def _say_flags(flagged: Sequence[FlaggedMessage], words: Localizer) -> None:
    counts = Counter(item.flag for message in flagged for item in message.readings)
    for flag, key in ((Flag.FAIL, "import.failed"), (Flag.SUSPECT, "import.suspect")):
        if counts[flag]:
            say("  " + words.n(key, counts[flag], flag=str(int(flag))), "warning")


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
    words, broker = command_words(settings), settings.broker
    lasts = words.length(1000 * sum(wait_s for wait_s, _, _ in packs))
    where = f"{broker.host}:{broker.port}"
    say(words.n("replay.begin", len(packs), file=str(file), broker=where, length=lasts))
    with Publisher(broker, f"replay-{node}"[:23]) as publisher, progress_bar(words.t("replay.bar")) as report:
        for done, (wait_s, topic, payload) in enumerate(packs, 1):
            time.sleep(wait_s)
            publisher.publish(topic, payload)
            report(done, len(packs))
    say(words.n("replay.sent", len(packs)), "good")
    if node not in {known.id for known in settings.nodes}:
        complain(words.t("replay.no_node", node=node), "warning")


def _topics(settings: Settings) -> Topics:
    intake = settings.intake
    oldest_ms, newest_ms = (
        round(intake.oldest_days * MS_PER_DAY),
        round(intake.newest_minutes * MS_PER_MINUTE),
    )
    return Topics(settings.site.id, settings.broker.topic_root, oldest_ms, newest_ms)
