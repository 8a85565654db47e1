"""What mosquitto's own log says of a board: whether it was let in lately, or refused; for who may read it."""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path

from monitor.boards.broker_files import BrokerFiles

USUAL_LOG = Path("/var/log/mosquitto/mosquitto.log")
MOST_BYTES = 262_144
# As mosquitto 2.0.11 writes them (found by trial; the tests read those of the broker that is installed). Who
# is refused has no name in them, only an address.
_LINE = re.compile(r"(\d{9,11}): (.*)")
_CAME = re.compile(r"New connection from (\S+):\d+ on port (\d+)\.")
_LET_IN = re.compile(r"New client connected from .* as (\S+) \(.*\)\.")
_REFUSED = re.compile(r"Client <unknown> disconnected, not authori[sz]ed\.")
_NO_TRUST = re.compile(
    r"(OpenSSL Error|Client connection from).*(unknown ca|bad certificate|certificate unknown)"
)


class Came(StrEnum):
    """What became of somebody who came to the broker's port for boards."""

    LET_IN = "let in"
    REFUSED = "refused"
    """the password, or the name, was not right"""
    NO_TRUST = "no trust"
    """it did not believe the broker's certificate"""


@dataclass(frozen=True, slots=True)
class Sighting:
    """The board that was let in; else the last who was not, of whom only the address is known."""

    came: Came
    address: str = ""


def log_file(files: BrokerFiles) -> Path | None:
    """The log that the main configuration names; None where it goes elsewhere."""
    with suppress(OSError):
        for line in files.main.read_text(encoding="utf-8", errors="replace").splitlines():
            words = line.split()
            if words[:2] == ["log_dest", "file"] and len(words) == 3:
                return Path(words[2])
    return USUAL_LOG if USUAL_LOG.exists() else None


def last_sighting(files: BrokerFiles, user: str, port: int, since_s: float) -> Sighting | None:
    """What the log tells of a board later than a second; None where it tells nothing or is shut."""
    found, address, is_boards = None, "", False
    for at_s, text in _lines(log_file(files)):
        if at_s <= int(since_s):
            continue
        let_in, came = _LET_IN.fullmatch(text), _CAME.fullmatch(text)
        if let_in and let_in[1] == user:
            return Sighting(Came.LET_IN)
        if came:
            address, is_boards = came[1], int(came[2]) == port
        elif is_boards and _REFUSED.match(text):
            found = Sighting(Came.REFUSED, address)
        elif is_boards and _NO_TRUST.match(text):
            found = Sighting(Came.NO_TRUST, address)
    return found


def _lines(path: Path | None) -> Iterator[tuple[int, str]]:
    """The newest lines that begin with a time in Unix seconds."""
    if path is None:
        return
    try:
        with path.open("rb") as file:
            file.seek(max(0, file.seek(0, os.SEEK_END) - MOST_BYTES))
            text = file.read().decode("utf-8", "replace")
    except OSError:
        return
    for line in text.splitlines():
        parts = _LINE.match(line)
        if parts:
            yield int(parts[1]), parts[2]
