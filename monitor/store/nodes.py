"""What the store knows about nodes, placed or not."""

from __future__ import annotations

import sqlite3

from monitor.records import NodeFacts, TimeSource
from monitor.store.connection import Database
from monitor.store.node_writer import NOBODY

_SELECT = """
    SELECT node, first_heard_ms, last_heard_ms, online, boot, sequence, clock_fault, messages, missing,
        duplicates, conflicts, rejected, last_reject_ms, last_reject_reason, last_reject_sample,
        silence_limit_s
    FROM node"""


def _facts(row: sqlite3.Row | tuple[object, ...]) -> NodeFacts:
    cells = list(row)
    cells[3] = None if cells[3] is None else bool(cells[3])
    return NodeFacts(*cells)


class Nodes:
    """Queries about nodes."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def every(self) -> tuple[NodeFacts, ...]:
        """All nodes ever heard, by name."""
        with self._database.read() as connection:
            rows = connection.execute(f"{_SELECT} WHERE node <> ? ORDER BY node", (NOBODY,))
            return tuple(_facts(row) for row in rows)

    def last_arrivals(self, node: str, boot: int, count: int = 20) -> tuple[tuple[int, int], ...]:
        """Sequence and arrival [ms] of the newest messages of one boot of a node that gave no time itself."""
        with self._database.read() as connection:
            rows = connection.execute(
                "SELECT sequence, received_ms FROM message WHERE boot = ?2 AND time_source = ?4 AND "
                "node_id = (SELECT node_id FROM node WHERE node = ?1) ORDER BY sequence DESC LIMIT ?3",
                (node, boot, count, TimeSource.RELATIVE.value),
            )
            return tuple((int(row[0]), int(row[1])) for row in rows)

    def one(self, node: str) -> NodeFacts | None:
        """One node, or None when it was never heard."""
        with self._database.read() as connection:
            row = connection.execute(f"{_SELECT} WHERE node = ?", (node,)).fetchone()
            return None if row is None else _facts(row)

    def without_name(self) -> NodeFacts | None:
        """Messages that were refused and belong to no node (a foreign topic): counted together."""
        return self.one(NOBODY)
