"""What a person sees when something fails: a known error as its text, an unknown one as a report."""

from __future__ import annotations

import os
import tempfile
import traceback
from collections.abc import Mapping
from datetime import UTC, datetime
from pathlib import Path

from monitor import __version__
from monitor.errors import MonitorError, SettingsError
from monitor.views.cli.exit_codes import ExitCode, exit_code
from monitor.views.cli.output import complain


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
