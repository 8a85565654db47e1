"""Exit codes of the command line, for scripts and for the service manager."""

from __future__ import annotations

from collections.abc import Mapping
from enum import IntEnum

from monitor.errors import (
    IntakeError,
    LoggerFileError,
    MonitorError,
    SettingsError,
    StoreError,
    UsageError,
)


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
