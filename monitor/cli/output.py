"""What a person sees when something fails: a known error as its text, an unknown one as a report.

Text, tables and JSON on the terminal. Only the command line prints; everything else returns records.

rich leaves colour out where NO_COLOR is set or the output is not a terminal.

Progress bars for long work: on stderr, and only where a person looks at a terminal.

Exit codes of the command line, for scripts and for the service manager.
"""

from __future__ import annotations

import dataclasses
import json
import os
import sys
import tempfile
import traceback
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from datetime import UTC, date, datetime, time
from enum import Enum, IntEnum
from pathlib import Path
from typing import Any

from pydantic import BaseModel, SecretStr
from rich.console import Console
from rich.markup import escape
from rich.progress import BarColumn, Progress, TaskProgressColumn, TextColumn, TimeRemainingColumn

from monitor import __version__
from monitor.errors import IntakeError, LoggerFileError, MonitorError, SettingsError, StoreError, UsageError

_STYLES = {"problem": "bold red", "warning": "yellow", "good": "green", "heading": "bold", "quiet": "dim"}


def console(stderr: bool = False) -> Console:
    """A console on the present stdout or stderr."""
    return Console(stderr=stderr, highlight=False, soft_wrap=True)


def say(text: str = "", style: str = "") -> None:
    """Print plain text to stdout; `style` is problem, warning, good, heading or quiet."""
    _write(console(), text, style)


def complain(text: str, style: str = "problem") -> None:
    """Print plain text to stderr."""
    _write(console(stderr=True), text, style)


def _write(target: Console, text: str, style: str) -> None:
    target.print(escape(text), style=_STYLES.get(style), markup=True)


def say_json(value: Any) -> None:
    """Print records as JSON; secrets are left out."""
    json.dump(plain(value), sys.stdout, ensure_ascii=False, indent=2)
    sys.stdout.write("\n")


def plain(value: Any) -> Any:
    """Records as plain JSON values."""
    match value:
        case SecretStr():
            return None
        case Enum():
            return value.value
        case BaseModel():
            return {name: plain(getattr(value, name)) for name in type(value).model_fields}
        case Mapping():
            return {str(key): plain(each) for key, each in value.items()}
        case list() | tuple() | set() | frozenset():
            return [plain(each) for each in value]
        case date() | time():
            return value.isoformat()
        case Path() | bytes():
            return str(value)
        case _ if dataclasses.is_dataclass(value) and not isinstance(value, type):
            return {field.name: plain(getattr(value, field.name)) for field in dataclasses.fields(value)}
        case _:
            return value


Report = Callable[[int, int], None]


@contextmanager
def progress_bar(title: str) -> Iterator[Report]:
    """Gives `report(done, total)`; the bar goes away when the work is done."""
    target = console(stderr=True)
    columns = (TextColumn("{task.description}"), BarColumn(), TaskProgressColumn(), TimeRemainingColumn())
    with Progress(*columns, console=target, transient=True, disable=not target.is_terminal) as bar:
        task = bar.add_task(title, total=None)

        def report(done: int, total: int) -> None:
            bar.update(task, completed=done, total=total)

        yield report


class ExitCode(IntEnum):
    """What the program says to whoever started it."""

    FINE = 0
    SOMETHING_WRONG = 1
    USAGE = 2
    STORE = 3
    BROKER = 4
    OTHER = 5
    STOPPED = 130


_BY_ERROR: Mapping[type[MonitorError], ExitCode] = {
    SettingsError: ExitCode.USAGE,
    UsageError: ExitCode.USAGE,
    LoggerFileError: ExitCode.USAGE,
    StoreError: ExitCode.STORE,
    IntakeError: ExitCode.BROKER,
}

TEXT = (
    "Exit codes: 0 fine; 1 `now` says that something is wrong; 2 wrong use or settings; "
    "3 database; 4 broker; 5 anything else; 130 stopped with Ctrl-C."
)


def exit_code(error: MonitorError) -> ExitCode:
    """The exit code of an error: that of its nearest known ancestor."""
    known = (_BY_ERROR[kind] for kind in type(error).__mro__ if kind in _BY_ERROR)
    return next(known, ExitCode.OTHER)


def report(error: MonitorError) -> ExitCode:
    """Print an expected error and say with which code to end."""
    if isinstance(error, SettingsError):
        count = len(error.problems)
        complain("1 problem in the settings:" if count == 1 else f"{count} problems in the settings:")
        for problem in error.problems:
            complain(f"  - {problem}", style="")
    else:
        complain(str(error))
    return exit_code(error)


def report_unexpected(error: Exception, environ: Mapping[str, str] = os.environ) -> ExitCode:
    """Print that the program itself failed, keep the details in a file, and say with which code to end."""
    complain(f"Something failed inside the program ({type(error).__name__}). This is not your mistake.")
    path = _keep(error, state_folder(environ))
    if path is not None:
        complain(f"The details are in {path}; please send that file along when you report it.", style="")
    return ExitCode.OTHER


def state_folder(environ: Mapping[str, str] = os.environ) -> Path:
    """Where the program keeps reports about itself: the service's log folder, else the user's own."""
    base = environ.get("LOGS_DIRECTORY") or environ.get("STATE_DIRECTORY")
    if base:
        return Path(base.partition(":")[0])
    home = Path(environ.get("HOME") or Path.home())
    return Path(environ.get("XDG_STATE_HOME") or home / ".local" / "state") / "rearing-monitor"


def _keep(error: Exception, folder: Path) -> Path | None:
    now = datetime.now(UTC)
    details = "".join(traceback.format_exception(error))
    text = f"rearing-monitor {__version__}, {now:%Y-%m-%d %H:%M:%S} UTC\n\n{details}"
    for candidate in (folder, Path(tempfile.gettempdir())):
        path = candidate / f"failure-{now:%Y%m%dT%H%M%S}-{os.getpid()}.txt"
        try:
            candidate.mkdir(parents=True, exist_ok=True)
            path.write_text(text, encoding="utf-8")
        except OSError:
            continue
        path.chmod(0o600)
        return path
    return None
