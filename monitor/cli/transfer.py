"""Readings in and out.

`import` and `replay` take a logger's file, `refill` asks the archive, `export` and `backup` write copies.
"""

from __future__ import annotations

import os
import sys
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal, TextIO, cast

import typer

from monitor.climate import quality
from monitor.climate.calibration import CalibrationTable
from monitor.errors import ArchiveError, LoggerFileError, UsageError, sentence
from monitor.farm.names import matching
from monitor.intake.connection import Publisher
from monitor.intake.logger_columns import DateOrder, LoggerMapping, parse_column
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
from monitor.store import copies
from monitor.store.maintenance import write_csv
from monitor.terminal.context import (
    ConfigOption,
    SiteContext,
    clock_ms,
    command_words,
    look_at_farm,
    looking,
    open_farm,
    with_options,
    working,
)
from monitor.terminal.output import complain, progress_bar, say
from monitor.words.localizer import Localizer

if TYPE_CHECKING:
    from monitor.archive.fill import Filled
    from monitor.archive.reader import ArchiveReader

MESSAGES_IN_BATCH = 20
MOST_SKIPPED_SHOWN = 20
MOST_SITES_SHOWN = 20
STDOUT = Path("-")

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
ExportTarget = Annotated[
    Path, typer.Argument(metavar="FILE.csv", help="Where to write; - is the terminal or the next program.")
]
BackupTarget = Annotated[
    str | None,
    typer.Argument(
        metavar="TARGET",
        help="The name of a place in the settings, a prepared folder, or a FILE.sqlite. Without it: "
        "every place of the settings.",
    ),
]
PrepareOption = Annotated[
    str | None,
    typer.Option(
        "--prepare",
        metavar="PLACE",
        help="Mark a folder or a place of the settings as one that takes copies, once, while it is reached.",
    ),
]
ListOption = Annotated[bool, typer.Option("--list", help="Say which copies lie where; write nothing.")]
FromOption = Annotated[
    str,
    typer.Option(
        "--from", metavar="TIME", help="Readings from then on: 2026-11-01, yesterday 18:00, 7 days ago."
    ),
]
ToOption = Annotated[
    str, typer.Option("--to", metavar="TIME", help="Readings before then. Without it: until now.")
]
SensorOption = Annotated[
    list[str] | None,
    typer.Option(
        "--sensor",
        metavar="NAME",
        help="A board, a place, a quantity or node/quantity; can be given several times.",
    ),
]
HourlyOption = Annotated[
    bool, typer.Option("--hourly", help="One row an hour: count, lowest, mean, highest.")
]

_EXPORT_EXAMPLES = (
    "Examples: [bold]rearing-monitor export bins.csv --sensor substrate_temperature "
    "--from 2026-11-01[/bold]\n\n"
    "[bold]rearing-monitor export - --hourly | gzip > hours.csv.gz[/bold]"
)
_REFILL_EXAMPLES = "Example: [bold]rearing-monitor refill --from 2026-11-01[/bold]"
_BACKUP_EXAMPLES = (
    "Examples: [bold]rearing-monitor backup --prepare /media/stick/rearing[/bold]\n\n"
    "[bold]rearing-monitor backup[/bold]"
)


@dataclass(frozen=True, slots=True)
class LoggerOptions:
    """What `import` and `replay` are told of a logger's file."""

    file: FileArgument
    node: NodeOption
    column: ColumnOption = None
    time_column: TimeColumnOption = ""
    time_zone: ZoneOption = ""
    date_order: OrderOption = ""
    decimal: DecimalOption = ""
    delimiter: DelimiterOption = ""
    encoding: EncodingOption = ""
    config: ConfigOption = None

    def mapping(self, site_zone: str) -> LoggerMapping:
        """The options as the reader of logger files takes them; LoggerFileError for a wrong one."""
        _one_of("--date-order", self.date_order, ("dmy", "mdy", "ymd"))
        _one_of("--decimal", self.decimal, (".", ","))
        _one_of("--encoding", self.encoding, ENCODINGS)
        if len(self.delimiter) > 1 and self.delimiter != "tab":
            raise LoggerFileError(
                "{option} is {given}; allowed: one sign, or the word tab",
                option="--delimiter",
                given=repr(self.delimiter),
            )
        return LoggerMapping(
            node=self.node,
            time_zone=self.time_zone or site_zone,
            time_column=self.time_column or None,
            columns=dict(parse_column(text) for text in self.column or ()),
            date_order=cast(DateOrder, self.date_order) if self.date_order else None,
            delimiter="\t" if self.delimiter == "tab" else self.delimiter or None,
            decimal=cast(Literal[".", ","], self.decimal) if self.decimal else None,
            encoding=self.encoding or None,
        )


def register(app: typer.Typer) -> None:
    """Add the commands of this module."""
    app.command("import", epilog=_IMPORT_EXAMPLES)(import_)
    app.command("replay", epilog=_REPLAY_EXAMPLES)(replay)
    app.command("refill", epilog=_REFILL_EXAMPLES)(refill)
    app.command("export", epilog=_EXPORT_EXAMPLES)(export)
    app.command("backup", epilog=_BACKUP_EXAMPLES)(backup)


def _one_of(option: str, given: str, allowed: Sequence[str]) -> None:
    if given and given not in allowed:
        raise LoggerFileError(
            "{option} is {given}; allowed: {allowed}",
            option=option,
            given=repr(given),
            allowed=" ".join(allowed),
        )


@with_options
def import_(options: LoggerOptions, dry_run: TryOption = False) -> None:
    """Take the readings of a logger's CSV file into the database, and say what was taken and what was not.

    Readings are checked and flagged like those that come in live; what is
    stored already stays as it is. An alarm never comes from an imported file:
    it tells of the past.
    """
    settings = look_at_farm(options.config).settings
    mapping = options.mapping(settings.site.time_zone)
    messages, report = read_logger_file(options.file, mapping, clock_ms())
    words = command_words(settings)
    _say_report(report, words)
    if dry_run:
        say(words.t("import.dry"))
        return
    with working(options.config, create=True) as site:
        flagged = list(_flagged(messages, site.store.calibrations.table()))
        _say_result(_store(site, flagged), words)
        if options.node not in site.plan.nodes:
            say(words.t("import.no_node", node=options.node), "warning")
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


@with_options
def replay(options: LoggerOptions, speed: SpeedOption = 60.0) -> None:
    """Send the readings of a logger's CSV file to the broker, as if the board were sending them now.

    For trying out alarms and messages: a running monitor takes them for real
    and warns of them. Use a node and a settings file made for trials, not those
    of your animals.
    """
    settings, node = open_farm(options.config).settings, options.node
    mapping = options.mapping(settings.site.time_zone)
    packs = list(replay_messages(options.file, mapping, _topics(settings), speed, clock_ms()))
    words, broker = command_words(settings), settings.broker
    lasts = words.length(1000 * sum(wait_s for wait_s, _, _ in packs))
    where = f"{broker.host}:{broker.port}"
    say(words.n("replay.begin", len(packs), file=str(options.file), broker=where, length=lasts))
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
    oldest_ms = round(intake.oldest_days * MS_PER_DAY)
    newest_ms = round(intake.newest_minutes * MS_PER_MINUTE)
    return Topics(settings.site.id, settings.broker.topic_root, oldest_ms, newest_ms)


def refill(start: FromOption = "", end: ToOption = "", config: ConfigOption = None) -> None:
    """Fetch from the archive the readings that the database lacks, after a loss or a restored copy.

    What is stored already stays as it is. The monitor may go on meanwhile. It can be
    broken off and given again: it goes on where it was.
    """
    from monitor.archive.access import access_of, open_reader

    with working(config, create=True) as site:
        settings = site.farm.settings
        if settings.archive is None:
            raise UsageError(
                "the settings name no archive. To mend: fill in [archive], as the settings that "
                "`init` writes show it"
            )
        span_ms = _span(site, start, end)
        with closing(open_reader(access_of(settings.archive))) as reader:
            _say_filled(site, _filled(site, reader, span_ms), reader, span_ms)


def _filled(site: SiteContext, reader: ArchiveReader, span_ms: tuple[int, int]) -> Filled:
    from monitor.archive.fill import fill

    with progress_bar(site.words.t("refill.bar")) as report:
        try:
            return fill(site.store.database, reader, site.farm.settings.site.id, *span_ms, report)
        except ArchiveError:
            complain(site.words.t("refill.stays"), "warning")
            raise


def _say_filled(site: SiteContext, filled: Filled, reader: ArchiveReader, span_ms: tuple[int, int]) -> None:
    words, site_id = site.words, site.farm.settings.site.id
    if filled.resumed_ms is not None:
        say(words.t("refill.resumed", moment=words.moment(filled.resumed_ms)))
    if filled.newest_ms is None:
        complain(words.t("refill.nothing", site=site_id), "warning")
        known = reader.sites(*span_ms)
        if known and site_id not in known:
            complain("  " + words.t("refill.sites", sites=", ".join(known[:MOST_SITES_SHOWN])))
        return
    of = words.n("export.sensors", filled.sensors)
    newest = words.moment(filled.newest_ms)
    say(words.n("refill.stored", filled.stored, sensors=of, newest=newest), "good")
    if filled.read > filled.stored:
        say("  " + words.n("import.duplicates", filled.read - filled.stored))


def export(
    target: ExportTarget,
    start: FromOption = "",
    end: ToOption = "",
    sensor: SensorOption = None,
    hourly: HourlyOption = False,
    config: ConfigOption = None,
) -> None:
    """Write readings as a CSV file that a spreadsheet opens. Times are UTC, values as the sensors sent them.

    A file that is there already is never overwritten.
    """
    if target.exists():
        raise UsageError(
            "{path} exists already; nothing was written. To mend: give another name", path=str(target)
        )
    if target != STDOUT:
        _refuse_folder(target.parent)
    with looking(config) as site:
        span_ms = _span(site, start, end)
        sensors = _sensors(site, sensor or [])
        words, store = site.words, site.store
        with _open(target) as stream, progress_bar(words.t("export.bar")) as report:
            rows = write_csv(stream, store.readings, store.summaries, sensors, span_ms, hourly, report)
    if target != STDOUT:
        of = words.n("export.sensors", len(sensors))
        say(words.n("export.written", rows, file=str(target), sensors=of), "good")
    elif not rows:
        complain(words.t("export.nothing"), "warning")


def _refuse_folder(folder: Path) -> None:
    if not folder.is_dir():
        raise UsageError(
            "the folder {path} does not exist. To mend: create it, or give another", path=str(folder)
        )


def _span(site: SiteContext, start: str, end: str) -> tuple[int, int]:
    start_ms = site.times().moment(start) if start else 0
    end_ms = site.times().moment(end) if end else site.now_ms + 1
    if start_ms >= end_ms:
        raise UsageError(
            "--from {start} is not before --to {end}",
            start=start or sentence("the beginning"),
            end=end or sentence("now"),
        )
    return start_ms, end_ms


def _sensors(site: SiteContext, wanted: Sequence[str]) -> tuple[SensorKey, ...]:
    known = site.store.readings.sensors()
    if not wanted:
        return known
    return tuple(sorted({sensor for name in wanted for sensor in matching(name, known, site.plan)}))


@contextmanager
def _open(target: Path) -> Iterator[TextIO]:
    """The stream to write to; a file appears whole or not at all."""
    if target == STDOUT:
        with _until_the_reader_leaves():
            yield sys.stdout
        return
    partial = target.with_name(f"{target.name}.part")
    try:
        with partial.open("w", encoding="utf-8", newline="") as stream:
            yield stream
        partial.rename(target)
    except OSError as error:
        raise UsageError(
            "{path} cannot be written: {why}", path=str(target), why=error.strerror or str(error)
        ) from None
    finally:
        partial.unlink(missing_ok=True)


@contextmanager
def _until_the_reader_leaves() -> Iterator[None]:
    """`export - | head` ends without an error when head has seen enough."""
    try:
        yield
        sys.stdout.flush()
    except BrokenPipeError:
        # Python would write what is left at the end and complain again.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        raise typer.Exit from None


def backup(
    target: BackupTarget = None,
    prepare: PrepareOption = None,
    listed: ListOption = False,
    config: ConfigOption = None,
) -> None:
    """Copy the whole site while the monitor goes on, and check the copy; `restore` is the way back.

    A copy holds database, settings, photos, certificates and the broker's
    rules. Keys and passwords are in it only sealed with a passphrase
    (backup_passphrase_file in the settings). A place is prepared once, so
    that nothing is copied to where a stick is missing. A FILE.sqlite gets
    the database alone, with settings and photos beside it, and is never
    overwritten.
    """
    from monitor.terminal import site_copies

    if prepare is not None:
        site_copies.prepare(prepare, config)
        return
    with looking(config) as site:
        if listed:
            site_copies.list_copies(site, target)
        elif target is not None and Path(target).suffix and not Path(target).is_dir() and "://" not in target:
            _copy_database(site, Path(target))
        else:
            site_copies.copy_site(site, target)


def _copy_database(site: SiteContext, file: Path) -> None:
    """The database into one file, with settings and photos beside it."""
    with progress_bar(site.words.t("backup.bar")) as report:
        missing = copies.write_copy(site.store.database, site.farm.path, file, report)
    size = site.words.number(file.stat().st_size / 1e6, 1)
    say(site.words.t("backup.written", file=str(file), megabytes=size), "good")
    if missing:
        folder = str(site.store.photos.folder)
        complain(site.words.n("backup.no_photos", len(missing), folder=folder), "warning")
    if copies.same_disk(file.parent, site.farm.settings.store.path):
        complain(site.words.t("backup.same_disk"), "warning")
