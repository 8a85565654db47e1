"""Frozen records about boards: what they ask, and what the store knows of them. Below `records`.

Times are integers, milliseconds since 1970 UTC; their names end in `_ms`.
"""

from __future__ import annotations

from dataclasses import dataclass


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
class NodeFacts:
    """What the store knows about one node."""

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
