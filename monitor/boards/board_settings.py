"""What the settings file says to a board of this program: interval, sending, names of probes, buzzer."""

from __future__ import annotations

import functools
import json
import re
from typing import Any

from monitor.boards.program import program_folder
from monitor.errors import UsageError
from monitor.settings.schema import Node

_VERSION = re.compile(r'^VERSION = "(\d+(?:\.\d+)*)"', re.MULTILINE)


def settings_of(node: Node) -> dict[str, Any]:
    """What is published for a board, with its sum; only what the settings file says of it, the rest stays.

    An interval that the board would refuse is left out, so that it takes the rest.
    """
    from monitor.boards.card import checksum

    said = node.model_fields_set
    values: dict[str, Any] = {}
    if "interval_s" in said and node.board_interval_s is not None:
        values["interval_s"] = node.board_interval_s
    if "send_every" in said:
        values["send_every"] = node.send_every
    if "probe_codes" in said:
        values["probes"] = dict(node.probe_codes)
    if "buzzer" in said:
        values["buzzer"] = node.buzzer
    return {**values, "sum": checksum(values)}


def settings_message(values: dict[str, Any]) -> bytes:
    return json.dumps(values, separators=(",", ":")).encode()


@functools.cache
def program_version() -> str:
    """The version of the board program that comes with this one; "" where it is not here."""
    try:
        texts = [path.read_text(encoding="utf-8") for path in sorted(program_folder().glob("*.py"))]
    except (UsageError, OSError):
        return ""
    found = (_VERSION.search(text) for text in texts)
    return next((match[1] for match in found if match), "")


def is_older(version: str, than: str) -> bool:
    """Whether one version comes before another; what is no version of ours is not judged."""
    if not all(re.fullmatch(r"\d{1,6}(\.\d{1,6}){0,5}", each) for each in (version, than)):
        return False
    old, new = ([int(part) for part in each.split(".")] for each in (version, than))
    return old < new
