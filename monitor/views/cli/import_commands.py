"""`import` takes a logger file into the database, `replay` sends it to the broker as if it were live."""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Annotated

import typer

from monitor.intake.logger_file import LoggerReport, read_logger_file, replay_messages
from monitor.intake.topics import Topics
from monitor.model import calibration, quality, quality_limits
from monitor.notify.phrases import length_of_time
from monitor.records import (
    MS_PER_DAY,
    MS_PER_MINUTE,
    Batch,
    Calibration,
    CommitResult,
    Flag,
    FlaggedMessage,
    FlaggedReading,
    NodeMessage,
    Reading,
    SensorKey,
)
from monitor.settings.plan import Plan, build_plan
from monitor.settings.schema import Settings
from monitor.views.cli.farm import look_at_farm, open_farm
from monitor.views.cli.file_options import (
    ColumnOption,
    DecimalOption,
    DelimiterOption,
    EncodingOption,
    FileArgument,
    NodeOption,
    OrderOption,
    TimeColumnOption,
    ZoneOption,
    mapping_of,
)
from monitor.views.cli.looking import Look, clock_ms, working
from monitor.views.cli.options import DATA, ConfigOption
from monitor.views.cli.output import complain, say
from monitor.views.cli.progress import progress_bar
from monitor.views.cli.publishing import Publisher
from monitor.views.layout import moment, plural

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
    app.command("import", rich_help_panel=DATA, epilog=_IMPORT_EXAMPLES)(import_file)
    app.command("replay", rich_help_panel=DATA, epilog=_REPLAY_EXAMPLES)(replay)


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
        flagged = list(_flagged(messages, look.store.calibrations.every()))
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


def _store(look: Look, flagged: Sequence[FlaggedMessage]) -> CommitResult:
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


def _flagged(
    messages: Sequence[NodeMessage], calibrations: Sequence[Calibration]
) -> Iterator[FlaggedMessage]:
    memories: dict[SensorKey, quality.SensorMemory] = {}
    for message in messages:
        readings = tuple(_flag(reading, memories, calibrations) for reading in message.readings)
        # A board counts as heard when it measured, not when its file was brought in.
        yield FlaggedMessage(replace(message, received_ms=message.readings[-1].at_ms), readings)


def _flag(
    reading: Reading, memories: dict[SensorKey, quality.SensorMemory], calibrations: Sequence[Calibration]
) -> FlaggedReading:
    memory = memories.get(reading.sensor) or quality.SensorMemory()
    limits = quality_limits.DEFAULT_LIMITS.get(reading.sensor.quantity)
    memories[reading.sensor], flag = quality.check(memory, reading, limits)
    true = calibration.calibrated(reading.value, calibrations, reading.sensor, reading.at_ms)
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
