"""`export` writes readings as CSV, `backup` copies the whole database while the monitor goes on."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated, TextIO

import typer

from monitor.cli.context import SiteContext, looking
from monitor.cli.options import ConfigOption
from monitor.cli.output import complain, progress_bar, say
from monitor.errors import UsageError, sentence
from monitor.farm.names import matching
from monitor.logbook.times import parse_moment
from monitor.records import SensorKey, local
from monitor.store.maintenance import write_csv

STDOUT = Path("-")

ExportTarget = Annotated[
    Path, typer.Argument(metavar="FILE.csv", help="Where to write; - is the terminal or the next program.")
]
BackupTarget = Annotated[
    Path | None,
    typer.Argument(
        metavar="TARGET", help="A file, or a folder. Without it: [store] backup_folder of the settings."
    ),
]
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
_BACKUP_EXAMPLES = "Example: [bold]rearing-monitor backup /media/stick/[/bold]"


def register(app: typer.Typer) -> None:
    """Add the commands of this module."""
    app.command("export", epilog=_EXPORT_EXAMPLES)(export)
    app.command("backup", epilog=_BACKUP_EXAMPLES)(backup)


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
    if target != STDOUT:
        _refuse_target(target)
    with looking(config) as site:
        span_ms = _span(site, start, end)
        sensors = _sensors(site, sensor or [])
        with _open(target) as stream:
            rows = _write(site, stream, sensors, span_ms, hourly)
    words = site.words
    if target != STDOUT:
        of = words.n("export.sensors", len(sensors))
        say(words.n("export.written", rows, file=str(target), sensors=of), "good")
    elif not rows:
        complain(words.t("export.nothing"), "warning")


def _refuse_target(target: Path) -> None:
    if target.exists():
        raise UsageError(
            "{path} exists already; nothing was written. To mend: give another name", path=str(target)
        )
    _refuse_folder(target.parent)


def _refuse_folder(folder: Path) -> None:
    if not folder.is_dir():
        raise UsageError(
            "the folder {path} does not exist. To mend: create it, or give another", path=str(folder)
        )


def _span(site: SiteContext, start: str, end: str) -> tuple[int, int]:
    start_ms = parse_moment(start, site.now_ms, site.zone) if start else 0
    end_ms = parse_moment(end, site.now_ms, site.zone) if end else site.now_ms + 1
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


def _write(
    site: SiteContext, stream: TextIO, sensors: Sequence[SensorKey], span_ms: tuple[int, int], hourly: bool
) -> int:
    store = site.store
    with progress_bar(site.words.t("export.bar")) as report:
        return write_csv(stream, store.readings, store.summaries, sensors, span_ms, hourly, report)


def backup(target: BackupTarget = None, config: ConfigOption = None) -> None:
    """Copy the database to a new file while the monitor goes on, and check the copy.

    A file that is there already is never overwritten.
    """
    with looking(config) as site:
        file = _backup_file(site, target)
        with progress_bar(site.words.t("backup.bar")) as report:
            site.store.backup(file, report)
    size = site.words.number(file.stat().st_size / 1e6, 1)
    say(site.words.t("backup.written", file=str(file), megabytes=size), "good")


def _backup_file(site: SiteContext, target: Path | None) -> Path:
    folder = target if target is not None else site.plan.settings.store.backup_folder
    if folder is None:
        raise UsageError(
            "where to? Give a file or a folder: `rearing-monitor backup /media/stick/`, "
            "or set [store] backup_folder in the settings"
        )
    if target is not None and not target.is_dir():
        return target
    _refuse_folder(folder)
    return folder / f"rearing-{local(site.now_ms, site.zone):%Y%m%d-%H%M%S}.sqlite"
