"""What the command line prints: text, tables' console, JSON, progress bars, and errors with their exit codes.

Only the command line prints; everything else returns records. Colour is left out where NO_COLOR is set or
the output is not a terminal. rich is imported only where it is needed, so that short answers come at once.
"""

from __future__ import annotations

import dataclasses
import os
import shutil
import sys
import threading
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from datetime import date, time
from enum import Enum, IntEnum
from pathlib import Path
from typing import TYPE_CHECKING, Any, TextIO

from monitor.errors import (
    IntakeError,
    LoggerFileError,
    MonitorError,
    Sentence,
    SettingsError,
    SeveralProblems,
    StoreError,
    UsageError,
)

if TYPE_CHECKING:
    from rich.console import Console

    from monitor.words.localizer import Localizer

# Escape sequences of ECMA-48 for the colours and weights that a text may have.
_STYLES = {"problem": "1;31", "warning": "33", "good": "32", "heading": "1", "quiet": "2"}

# A person who sees nothing for longer than this wonders [s]. Own choice.
WAITS_S = 1.5

# Longer lines of prose are hard to read, however wide the terminal is.
WIDEST = 100
YES = frozenset({"y", "yes", "o", "oui"})
EXIT_CODES = (
    "Exit codes: 0 fine; 1 `now` says that something is wrong; 2 wrong use or settings; "
    "3 database; 4 broker; 5 anything else; 130 stopped with Ctrl-C."
)


class ExitCode(IntEnum):
    """What the program says to whoever started it, such as a script or the service manager."""

    FINE = 0
    SOMETHING_WRONG = 1
    USAGE = 2
    STORE = 3
    BROKER = 4
    OTHER = 5
    STOPPED = 130


_BY_ERROR: Mapping[type[MonitorError], ExitCode] = {
    SeveralProblems: ExitCode.USAGE,
    UsageError: ExitCode.USAGE,
    LoggerFileError: ExitCode.USAGE,
    StoreError: ExitCode.STORE,
    IntakeError: ExitCode.BROKER,
}


def console(stderr: bool = False) -> Console:
    """A console on the present stdout or stderr, for tables and progress bars."""
    from rich.console import Console

    return Console(stderr=stderr, highlight=False, soft_wrap=True)


def say(text: str = "", style: str = "") -> None:
    """Print plain text to stdout; `style` is problem, warning, good, heading or quiet."""
    _write(sys.stdout, text, style)


def complain(text: str, style: str = "problem") -> None:
    """Print plain text to stderr."""
    _write(sys.stderr, text, style)


@contextmanager
def waiting(text: str, after_s: float = WAITS_S) -> Iterator[None]:
    """Say to stderr what is waited for, where that takes longer than a moment."""
    saying = threading.Timer(after_s, complain, (text, "quiet"))
    saying.daemon = True
    saying.start()
    try:
        yield
    finally:
        saying.cancel()


def _write(stream: TextIO, text: str, style: str) -> None:
    code = _STYLES.get(style)
    if code and text and has_colour(stream):
        text = f"\x1b[{code}m{text}\x1b[0m"
    stream.write(f"{text}\n")


def has_colour(stream: TextIO) -> bool:
    """Whether a person sees colour there, by the customs of the variables NO_COLOR, FORCE_COLOR and TERM."""
    if os.environ.get("NO_COLOR"):
        return False
    return bool(os.environ.get("FORCE_COLOR")) or (stream.isatty() and os.environ.get("TERM") != "dumb")


def at_terminal() -> bool:
    """Whether a person sits there who can be asked."""
    return sys.stdin.isatty() and sys.stdout.isatty()


def is_wanted(question: str) -> bool:
    """Ask a person; anything but a clear yes is a no."""
    return asked(question).lower() in YES


def asked(question: str) -> str:
    """Ask a person; without an answer it is empty."""
    _write(sys.stderr, question, "heading")
    try:
        return input().strip()
    except EOFError:
        return ""


def columns() -> int:
    """Columns of the terminal; 0 where there is none."""
    return shutil.get_terminal_size().columns if sys.stdout.isatty() else 0


def width() -> int:
    """Columns for prose: those of the terminal, 80 where there is none, never more than can be read well."""
    return min(shutil.get_terminal_size().columns, WIDEST) if sys.stdout.isatty() else 80


def say_json(value: Any) -> None:
    """Print records as JSON; secrets are left out."""
    import json

    json.dump(plain(value), sys.stdout, ensure_ascii=False, indent=2)
    sys.stdout.write("\n")


def plain(value: Any) -> Any:
    """Records as plain JSON values."""
    from pydantic import BaseModel, SecretStr

    match value:
        case SecretStr():
            return None
        case Sentence():
            return value.text
        case Enum():
            return value.value
        case BaseModel():
            return {name: plain(getattr(value, name)) for name in type(value).model_fields}
        case Mapping():
            return {str(key): plain(item) for key, item in value.items()}
        case list() | tuple() | set() | frozenset():
            return [plain(item) for item in value]
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
    from rich.progress import BarColumn, Progress, TaskProgressColumn, TextColumn, TimeRemainingColumn

    target = console(stderr=True)
    columns = (TextColumn("{task.description}"), BarColumn(), TaskProgressColumn(), TimeRemainingColumn())
    with Progress(*columns, console=target, transient=True, disable=not target.is_terminal) as bar:
        task = bar.add_task(title, total=None)

        def report(done: int, total: int) -> None:
            bar.update(task, completed=done, total=total)

        yield report


def exit_code(error: MonitorError) -> ExitCode:
    """The exit code of an error: that of its nearest known ancestor."""
    known = (_BY_ERROR[kind] for kind in type(error).__mro__ if kind in _BY_ERROR)
    return next(known, ExitCode.OTHER)


def report(error: MonitorError, words: Localizer) -> ExitCode:
    """Print an expected error and say with which code to end."""
    if isinstance(error, SeveralProblems):
        key = "problems.count" if isinstance(error, SettingsError) else "problems.nothing_changed"
        complain(words.n(key, len(error.problems)))
        for problem in error.problems:
            complain(f"  - {words.sentence(problem.said)}", style="")
    else:
        complain(words.error(error))
    return exit_code(error)


def report_unexpected(
    error: Exception, words: Localizer, environ: Mapping[str, str] = os.environ
) -> ExitCode:
    """Print that the program itself failed, keep the details in a file, and say with which code to end."""
    complain(words.t("failure.inside", kind=type(error).__name__))
    path = _keep(error, state_folder(environ))
    if path is not None:
        complain(words.t("failure.details", file=str(path)), style="")
    return ExitCode.OTHER


def state_folder(environ: Mapping[str, str] = os.environ) -> Path:
    """Where the program keeps reports about itself: the service's log folder, else the user's own."""
    base = environ.get("LOGS_DIRECTORY") or environ.get("STATE_DIRECTORY")
    if base:
        return Path(base.partition(":")[0])
    home = Path(environ.get("HOME") or Path.home())
    return Path(environ.get("XDG_STATE_HOME") or home / ".local" / "state") / "rearing-monitor"


def _keep(error: Exception, folder: Path) -> Path | None:
    import tempfile
    import traceback
    from datetime import UTC, datetime

    from monitor import __version__

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
