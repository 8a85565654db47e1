"""Text, tables and JSON on the terminal. Only the command line prints; everything else returns records.

rich leaves colour out where NO_COLOR is set or the output is not a terminal.
"""

from __future__ import annotations

import dataclasses
import json
import sys
from collections.abc import Mapping
from datetime import date, time
from enum import Enum
from pathlib import Path
from typing import Any

from pydantic import BaseModel, SecretStr
from rich.console import Console
from rich.markup import escape

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
