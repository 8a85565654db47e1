"""Frozen records about boards: what they ask, and what the store knows of them. Below `records`.

Times are integers, milliseconds since 1970 UTC; their names end in `_ms`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

BAD_RESETS = ("watchdog", "brownout")
"""Why a board began anew where nobody wanted it: it hung, or its supply broke in."""


@dataclass(frozen=True, slots=True)
class Ask:
    """A board asks for the time, and what of its packs `first` to `last` of one boot is stored."""

    node: str
    received_ms: int
    id: int
    boot: int | None = None
    first: int | None = None
    last: int | None = None


@dataclass(frozen=True, slots=True)
class BoardReport:
    """What a board says of itself: retained, at its start, on a change and each hour.

    `kept`: the broker had kept it for us, so its age is not known. `settings` is the sum of those in force,
    `refused` why the last ones were not taken, in the board's own words.
    """

    node: str
    received_ms: int
    version: str
    boot: int
    kept: bool = False
    chip: str = ""
    reset: str = ""
    clock: str = ""
    uptime_s: int | None = None
    waiting: int | None = None
    lost: int | None = None
    damaged: int | None = None
    rssi_dbm: int | None = None
    heap_bytes: int | None = None
    faults: Mapping[str, str] = field(default_factory=dict)
    probes: Mapping[str, str] = field(default_factory=dict)
    settings: str = ""
    refused: str = ""


@dataclass(frozen=True, slots=True)
class StoredReport:
    """The last report of a board, when its counts last grew, and when it last began anew unwanted.

    `published` is the sum of the settings that the monitor published for it.
    """

    report: BoardReport
    lost_grew_ms: int | None = None
    damaged_grew_ms: int | None = None
    bad_reset_ms: int | None = None
    published: str | None = None


@dataclass(frozen=True, slots=True)
class NodeFacts:
    """What the store knows about one node.

    `boot_stands_ms`: when it last said a boot and sequence anew for other readings. `boots_are_wakes`: each
    of its last boots had one or two packs.
    """

    node: str
    first_heard_ms: int
    last_heard_ms: int
    online: bool | None
    boot: int | None
    sequence: int | None
    clock_fault: str | None
    messages: int
    missing: int
    duplicates: int
    conflicts: int
    rejected: int
    last_reject_ms: int | None
    last_reject_reason: str
    last_reject_sample: bytes
    silence_limit_s: float | None
    boot_stands_ms: int | None = None
    boots_are_wakes: bool = False
