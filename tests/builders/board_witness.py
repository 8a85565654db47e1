"""The witness: what the boards measured and promised, compared with what the monitor stored.

The board's process writes what it measured into a file of the bench (`board_bench.PROBE`, laid around the
backlog's own methods), and at each death the flash is read by another process. So a round is known to be
promised by two ways that do not depend on what the board says later.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

RESOLUTION = 0.011
"""Values are stored in steps of 0.002, and the board may round to two decimals."""

Key = tuple[int, int]
"""Boot and sequence of a round."""


@dataclass(frozen=True, slots=True)
class Measured:
    """A round as the world saw it: when it was, what the board read, and whether it was promised."""

    key: Key
    true_ms: int
    values: Mapping[str, float]
    promised: bool = False
    confirmed: bool = False
    dated: bool = True
    given_up: bool = False


@dataclass(frozen=True, slots=True)
class Stored:
    """What the database holds of one board."""

    messages: tuple[Key, ...]
    readings: tuple[tuple[str, int, float], ...]
    """Quantity (with its probe), time in ms, value."""


@dataclass
class Verdict:
    """What does not agree, in words, and what was looked at."""

    problems: list[str] = field(default_factory=list)
    rounds: int = 0
    promised: int = 0
    stored: int = 0
    worst_ms: int = 0
    excused: int = 0
    missing: list[Key] = field(default_factory=list)
    """Rounds that were promised and of which nothing is stored."""

    def note(self, text: str) -> None:
        self.problems.append(text)


def compare(
    rounds: Iterable[Measured], stored: Stored, tolerance_ms: int = 2000, excused: Iterable[Key] = ()
) -> Verdict:
    """Nothing promised lost, nothing stored twice, nothing from nowhere, every time right.

    `excused` are rounds that nobody can date (no clock in that life); they may be missing, never be wrong.
    """
    verdict, known = Verdict(), {one.key: one for one in rounds}
    excuse = set(excused)
    verdict.rounds = len(known)
    verdict.promised = sum(one.promised or one.confirmed for one in known.values())
    verdict.excused = len(excuse)
    verdict.stored = len(set(stored.messages))
    if len(set(stored.messages)) != len(stored.messages):
        verdict.note("a pack is in the list of messages twice")
    for key in sorted(set(stored.messages) - set(known)):
        verdict.note(f"round {key} was stored, and nobody measured it")
    found = _assign(known, stored, tolerance_ms, verdict)
    for key, one in sorted(known.items()):
        if key in excuse or not (one.promised or one.confirmed):
            continue
        if key not in set(stored.messages):
            verdict.missing.append(key)
            verdict.note(f"round {key} was promised, and no pack of it was stored")
        for quantity in sorted(set(one.values) - found.get(key, set())):
            verdict.note(f"round {key} was promised, and its {quantity} is not stored at its time")
    return verdict


def _assign(
    known: Mapping[Key, Measured], stored: Stored, tolerance_ms: int, verdict: Verdict
) -> dict[Key, set[str]]:
    """Which round each stored reading belongs to: the nearest in time with its value."""
    found: dict[Key, set[str]] = {}
    by_quantity: dict[str, list[Measured]] = {}
    for one in sorted(known.values(), key=lambda each: each.true_ms):
        for quantity in one.values:
            by_quantity.setdefault(quantity, []).append(one)
    for quantity, at_ms, value in stored.readings:
        likely = [
            one
            for one in by_quantity.get(quantity, ())
            if abs(one.true_ms - at_ms) <= tolerance_ms and abs(one.values[quantity] - value) <= RESOLUTION
        ]
        if not likely:
            verdict.note(f"{quantity} {value} at {at_ms} belongs to no round that was measured then")
            continue
        one = min(
            likely, key=lambda each: (quantity in found.get(each.key, set()), abs(each.true_ms - at_ms))
        )
        if quantity in found.setdefault(one.key, set()):
            verdict.note(f"{quantity} of round {one.key} is stored twice, once more at {at_ms}")
        found[one.key].add(quantity)
        verdict.worst_ms = max(verdict.worst_ms, abs(one.true_ms - at_ms))
    return found


class Witness:
    """Reads what the board's process wrote, and takes in what was found on the flash at each death."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.deaths = 0

    def events(self) -> list[dict[str, Any]]:
        if not self.path.exists():
            return []
        found = []
        for line in self.path.read_text(encoding="utf-8").splitlines():
            try:
                found.append(json.loads(line))
            except ValueError:
                # The board died in the middle of the line.
                continue
        return found

    def died(self, on_flash: Iterable[Key]) -> None:
        """At a death these rounds were on the flash: they are promised. What was in memory alone is gone."""
        self.deaths += 1
        with self.path.open("a", encoding="utf-8") as file:
            file.write("\n" + json.dumps({"e": "died", "b": 0, "s": 0, "k": sorted(on_flash)}) + "\n")

    def rounds(self) -> dict[Key, Measured]:
        """Everything that was measured, with what became of it."""
        known: dict[Key, Measured] = {}
        open_keys: set[Key] = set()
        for event in self.events():
            kind, key = event["e"], (int(event["b"]), int(event["s"]))
            if kind == "add":
                known[key] = Measured(key, int(event["true_ms"]), dict(event["v"]), dated=bool(event["d"]))
                open_keys.add(key)
            elif kind in ("flushed", "died"):
                held = {(boot, sequence) for boot, sequence in event["k"]}
                for each in held & known.keys():
                    known[each] = replace(known[each], promised=True)
                open_keys = open_keys & held if kind == "died" else open_keys
            else:
                passed = {each for each in open_keys if each <= key}
                open_keys -= passed
                for each in passed:
                    known[each] = replace(known[each], confirmed=kind == "done", given_up=kind == "lost")
        return known

    def owed(self) -> set[Key]:
        """Rounds that were promised, and of which nobody has said yet that they are stored or given up."""
        return {
            key
            for key, one in self.rounds().items()
            if one.promised and not one.confirmed and not one.given_up
        }


def stored_of(database: Path, node: str) -> Stored:
    """What the monitor's database holds of a board, read by plain SQL and not by the monitor's own code."""
    with sqlite3.connect(f"file:{database}?mode=ro", uri=True) as connection:
        messages = connection.execute(
            "SELECT message.boot, message.sequence FROM message JOIN node USING(node_id) WHERE node = ?",
            (node,),
        ).fetchall()
        readings = connection.execute(
            "SELECT probe, quantity, at_ms, value * 1.0 / per_unit FROM reading JOIN sensor USING(sensor_id) "
            "WHERE node = ? ORDER BY at_ms",
            (node,),
        ).fetchall()
    return Stored(
        tuple((boot, sequence) for boot, sequence in messages),
        tuple(
            (f"{probe}/{quantity}" if probe else quantity, at_ms, value)
            for probe, quantity, at_ms, value in readings
        ),
    )
