"""What the store knows about boards, placed or not: messages heard, gaps, duplicates, refusals.

A message is known by (node, boot, sequence). Within one boot, numbers above the highest or below the lowest
heard are new; those between are looked up. A gap counts as missing until the message comes after all. A
retained status repeats itself at each connection, so a status never moves the time last heard.
"""

from __future__ import annotations

import json
import sqlite3
import zlib
from collections import defaultdict
from dataclasses import dataclass, field
from typing import Any

from monitor.errors import SaidText, joined
from monitor.records import BoardReport, NodeFacts, NodeMessage, NodeStatus, Rejected, TimeSource
from monitor.store import board_reports
from monitor.store.connection import Queries
from monitor.store.kept_sentences import packed, unpacked
from monitor.store.meta import get, put

MOST_NODES = 5000
MOST_BOOTS = 8
MOST_REFUSED, MOST_LOOKED_AT = 1000, 1000
"""Own choices: identities of refused packs kept of one board; packs that one question is answered about."""
NOBODY = ""
_LARGEST = 2**63 - 1
_UPDATE = """
    UPDATE node SET
        messages = messages + ?1, missing = max(0, missing + ?2), duplicates = duplicates + ?3,
        conflicts = conflicts + ?4, rejected = rejected + ?5, last_heard_ms = max(last_heard_ms, ?6),
        boot_stands_ms = ifnull(?15, boot_stands_ms), silence_limit_s = ifnull(?7, silence_limit_s),
        boot = iif(?1, ?8, boot), sequence = iif(?1, ?9, sequence), clock_fault = iif(?1, ?10, clock_fault),
        last_reject_ms = ifnull(?11, last_reject_ms),
        last_reject_reason = ifnull(?12, last_reject_reason),
        last_reject_sample = ifnull(?13, last_reject_sample)
    WHERE node_id = ?14"""

# Own choice: boots of one or two packs, six in a row within a day, are wakes that are counted as boots.
_SELECT = """
    SELECT node, first_heard_ms, last_heard_ms, online, boot, sequence, clock_fault, messages, missing,
        duplicates, conflicts, rejected, last_reject_ms, last_reject_reason, last_reject_sample,
        silence_limit_s, boot_stands_ms, (
            SELECT count(*) = 6 AND max(highest - lowest) < 2 AND max(heard_ms) - min(heard_ms) <= 86400000
            FROM (SELECT * FROM node_boot WHERE node_id = node.node_id ORDER BY boot DESC LIMIT 6))
    FROM node"""

RETIRED = "retired_boards"
_FORGET = tuple(
    f"DELETE FROM {table} WHERE node_id = (SELECT node_id FROM node WHERE node = ?)"  # noqa: S608
    for table in ("message", "refused_message", "node_boot", "board_report")
)
_NOTHING_GREW = (
    "UPDATE board_report SET lost_grew_ms = NULL, damaged_grew_ms = NULL, bad_reset_ms = NULL "
    "WHERE node_id = (SELECT node_id FROM node WHERE node = ?)"
)
_START_ANEW = """
    UPDATE node SET
        online = NULL, boot = NULL, sequence = NULL, clock_fault = NULL, silence_limit_s = NULL,
        messages = 0, missing = 0, duplicates = 0, conflicts = 0, rejected = 0,
        last_reject_ms = NULL, last_reject_reason = '', last_reject_sample = x'', boot_stands_ms = NULL
    WHERE node = ?"""
_IDENTITY = """
    INSERT INTO message(node_id, boot, sequence, received_ms, time_source, newest_ms, content)
    VALUES(?, ?, ?, ?, ?, ?, ?) ON CONFLICT DO UPDATE SET received_ms = excluded.received_ms,
        time_source = excluded.time_source, newest_ms = excluded.newest_ms, content = excluded.content"""
_DEALT_WITH = """
    WITH board AS (SELECT node_id FROM node WHERE node = ?1)
    SELECT sequence FROM message
        WHERE node_id = (SELECT node_id FROM board) AND boot = ?2 AND sequence BETWEEN ?3 AND ?4
    UNION SELECT sequence FROM refused_message
        WHERE node_id = (SELECT node_id FROM board) AND boot = ?2 AND sequence BETWEEN ?3 AND ?4
    ORDER BY sequence LIMIT ?5"""


def kept_text(text: str) -> str:
    """A text as it is kept: with its values apart where it carries its sentence."""
    return plain(packed(text.said) if isinstance(text, SaidText) else text)


def plain(text: str) -> str:
    """A text that SQLite takes whatever bytes it was made from."""
    return text.encode("utf-8", "replace").decode("utf-8")


@dataclass(slots=True)
class Span:
    """Lowest and highest sequence heard in one boot of one node."""

    lowest: int
    highest: int


@dataclass(frozen=True, slots=True)
class FirstCopy:
    """A message of that boot and sequence that came before: when, its newest reading, and what it held.

    The last two are None of a message from before they were kept.
    """

    received_ms: int
    newest_ms: int | None
    content: int | None


@dataclass(slots=True)
class NodeMemory:
    """What is remembered of a node between batches."""

    node_id: int
    spans: dict[int, Span] = field(default_factory=dict)

    def remember(self, boot: int, span: Span) -> Span:
        """Keep the span of one boot; of many boots only the last few, the others are in the database."""
        if len(self.spans) >= MOST_BOOTS:
            self.spans.clear()
        self.spans[boot] = span
        return span


@dataclass(slots=True)
class _Tally:
    messages: int = 0
    missing: int = 0
    duplicates: int = 0
    rejected: int = 0
    last: NodeMessage | None = None
    last_heard_ms: int = 0
    boot_stands_ms: int | None = None
    silence_limit_s: float | None = None
    refusal: Rejected | None = None

    def cells(self, conflicts: int, node_id: int) -> tuple[object, ...]:
        """What `_UPDATE` asks for."""
        counts = (self.messages, self.missing, self.duplicates, conflicts, self.rejected)
        last: tuple[object, ...] = (None, None, None)
        if self.last is not None:
            fault = None if self.last.clock_fault is None else kept_text(self.last.clock_fault)
            last = (_fitting(self.last.boot), _fitting(self.last.sequence), fault)
        refusal: tuple[object, ...] = (None, None, None)
        if self.refusal is not None:
            reason = kept_text(self.refusal.reason)
            refusal = (self.refusal.received_ms, reason, self.refusal.sample[:512])
        seen = (self.last_heard_ms, self.silence_limit_s)
        return (*counts, *seen, *last, *refusal, node_id, self.boot_stands_ms)


class NodeWriter:
    """Folds the node facts of one transaction; `flush` writes them."""

    def __init__(self, connection: sqlite3.Connection, memory: dict[str, NodeMemory]) -> None:
        self._connection = connection
        self._memory = memory
        self._tallies: defaultdict[str, _Tally] = defaultdict(_Tally)
        self._identities: dict[tuple[int, int, int], tuple[FirstCopy, str]] = {}
        self._touched: dict[tuple[int, int], tuple[Span, int]] = {}
        self._refused_packs: list[tuple[int, int, int, int]] = []

    def heard(self, message: NodeMessage) -> FirstCopy | None:
        """Take in a readings message; gives the one of the same numbers that came before, if there is one."""
        memory = self._node(message.node, message.received_ms)
        tally = self._tallies[message.node]
        tally.last_heard_ms = max(tally.last_heard_ms, message.received_ms)
        first = self._first_copy(memory, tally, message)
        if first is not None:
            tally.duplicates += 1
            return first
        self._count(tally, message)
        return None

    def heard_as_new(self, message: NodeMessage) -> None:
        """One whose numbers came before holds new readings: the board did not count its start."""
        tally, node_id = self._tallies[message.node], self._memory[message.node].node_id
        tally.duplicates -= 1
        tally.boot_stands_ms = message.received_ms
        self._count(tally, message)
        self._identify((node_id, message.boot or 0, message.sequence or 0), message)

    def _count(self, tally: _Tally, message: NodeMessage) -> None:
        tally.messages += 1
        tally.last = message
        if message.skipped:
            reason = joined(message.skipped)
            tally.refusal = Rejected(message.node, "", message.received_ms, reason, b"")
        if message.silence_limit_s is not None:
            tally.silence_limit_s = message.silence_limit_s

    def said(self, status: NodeStatus) -> None:
        memory = self._node(status.node, status.received_ms)
        self._connection.execute(
            "UPDATE node SET online = ? WHERE node_id = ?", (int(status.online), memory.node_id)
        )

    def reported(self, report: BoardReport) -> None:
        """Keep what a board says of itself; it does not count as heard, since the broker repeats it."""
        memory = self._node(report.node, report.received_ms)
        board_reports.write(self._connection, memory.node_id, report)

    def refused(self, rejected: Rejected) -> None:
        """Count a message that was not understood. Senders beyond MOST_NODES share the row of NOBODY."""
        name = NOBODY if rejected.node is None else rejected.node
        if name not in self._memory and self._is_crowded():
            name = NOBODY
        self._node(name, rejected.received_ms)
        tally = self._tallies[name]
        tally.rejected += 1
        tally.refusal = rejected
        tally.last_heard_ms = max(tally.last_heard_ms, rejected.received_ms)
        if rejected.identity is not None and name != NOBODY:
            self._refused_packs.append((self._memory[name].node_id, *rejected.identity, rejected.received_ms))

    def _is_crowded(self) -> bool:
        return int(self._connection.execute("SELECT count(*) FROM node").fetchone()[0]) >= MOST_NODES

    def _first_copy(self, memory: NodeMemory, tally: _Tally, message: NodeMessage) -> FirstCopy | None:
        boot, sequence = message.boot, message.sequence
        if boot is None or sequence is None or max(abs(boot), abs(sequence)) > _LARGEST:
            return None
        identity = (memory.node_id, boot, sequence)
        span = self._span(memory, boot)
        first = self._kept(identity, span)
        if first is not None:
            return first
        tally.missing += _missing_change(span, sequence)
        if span is None:
            span = memory.remember(boot, Span(sequence, sequence))
        span.lowest, span.highest = min(span.lowest, sequence), max(span.highest, sequence)
        self._identify(identity, message)
        self._touched[memory.node_id, boot] = (span, message.received_ms)
        return None

    def _identify(self, identity: tuple[int, int, int], message: NodeMessage) -> None:
        newest_ms = message.readings[-1].at_ms if message.readings else message.received_ms
        copy = FirstCopy(message.received_ms, newest_ms, content_of(message))
        self._identities[identity] = (copy, message.time_source.value)

    def _kept(self, identity: tuple[int, int, int], span: Span | None) -> FirstCopy | None:
        if span is None or not span.lowest <= identity[2] <= span.highest:
            return None
        if identity in self._identities:
            return self._identities[identity][0]
        query = (
            "SELECT received_ms, newest_ms, content FROM message "
            "WHERE node_id = ? AND boot = ? AND sequence = ?"
        )
        row = self._connection.execute(query, identity).fetchone()
        return None if row is None else FirstCopy(*row)

    def _span(self, memory: NodeMemory, boot: int) -> Span | None:
        touched = self._touched.get((memory.node_id, boot))
        span = touched[0] if touched else memory.spans.get(boot)
        if span is None:
            row = self._connection.execute(
                "SELECT lowest, highest FROM node_boot WHERE node_id = ? AND boot = ?", (memory.node_id, boot)
            ).fetchone()
            if row is None:
                return None
            span = memory.remember(boot, Span(*row))
        return span

    def _node(self, node: str, now_ms: int) -> NodeMemory:
        memory = self._memory.get(node)
        if memory is None:
            self._connection.execute(
                "INSERT INTO node(node, first_heard_ms, last_heard_ms) VALUES(?, ?, ?) "
                "ON CONFLICT DO NOTHING",
                (plain(node), now_ms, now_ms),
            )
            row = self._connection.execute(
                "SELECT node_id FROM node WHERE node = ?", (plain(node),)
            ).fetchone()
            memory = self._memory[node] = NodeMemory(row[0])
        return memory

    def flush(self, conflicts_by_node: dict[str, int]) -> None:
        """Write all that was folded, with the conflicts that the readings showed."""
        self._connection.executemany(
            _IDENTITY,
            [
                (*identity, copy.received_ms, source, copy.newest_ms, copy.content)
                for identity, (copy, source) in self._identities.items()
            ],
        )
        self._connection.executemany(
            "INSERT INTO node_boot VALUES(?, ?, ?, ?, ?) ON CONFLICT DO UPDATE SET "
            "lowest = excluded.lowest, highest = excluded.highest, heard_ms = excluded.heard_ms",
            [(*key, span.lowest, span.highest, at) for key, (span, at) in self._touched.items()],
        )
        rows = [
            tally.cells(conflicts_by_node.get(node, 0), self._memory[node].node_id)
            for node, tally in self._tallies.items()
        ]
        self._connection.executemany(_UPDATE, rows)
        self._remember_refused()

    def _remember_refused(self) -> None:
        if not self._refused_packs:
            return
        self._connection.executemany(
            "INSERT OR IGNORE INTO refused_message VALUES(?, ?, ?, ?)", self._refused_packs
        )
        for node_id in {row[0] for row in self._refused_packs}:
            self._connection.execute(
                "DELETE FROM refused_message WHERE node_id = ?1 AND received_ms < (SELECT received_ms FROM "
                "refused_message WHERE node_id = ?1 ORDER BY received_ms DESC LIMIT 1 OFFSET ?2)",
                (node_id, MOST_REFUSED),
            )


def was_heard(connection: sqlite3.Connection, node: str, first_ms: int, last_ms: int) -> None:
    """Readings of a board came from elsewhere: it was heard when it measured. (Inside a transaction.)

    In how many messages they had come nobody knows any more; in one at least.
    """
    connection.execute(
        "INSERT INTO node(node, first_heard_ms, last_heard_ms, messages) VALUES(?, ?, ?, 1) "
        "ON CONFLICT DO UPDATE SET first_heard_ms = min(first_heard_ms, excluded.first_heard_ms), "
        "last_heard_ms = max(last_heard_ms, excluded.last_heard_ms), messages = max(messages, 1)",
        (plain(node), first_ms, last_ms),
    )


def content_of(message: NodeMessage) -> int:
    """A checksum of what a message holds, without its times: sent again it may have other ones."""
    content = 0
    for item in message.readings:
        sensor = item.sensor
        said = f"{sensor.probe}/{sensor.quantity}={item.value!r}\n"
        content = zlib.crc32(said.encode("utf-8", "replace"), content)
    return content


def _fitting(number: int | None) -> int | None:
    return None if number is None or abs(number) > _LARGEST else number


def _missing_change(span: Span | None, sequence: int) -> int:
    if span is None:
        return 0
    if sequence > span.highest:
        return min(sequence - span.highest - 1, _LARGEST // 2**20)
    if sequence < span.lowest:
        return min(span.lowest - sequence - 1, _LARGEST // 2**20)
    return -1


def _facts(row: tuple[Any, ...]) -> NodeFacts:
    cells = list(row)
    cells[3] = None if cells[3] is None else bool(cells[3])
    cells[17] = bool(cells[17])
    for place in (6, 13):
        # Why its clock cannot be trusted, and why a message was refused.
        cells[place] = None if cells[place] is None else SaidText(unpacked(cells[place]))
    return NodeFacts(*cells)


class Nodes(Queries):
    def every(self) -> tuple[NodeFacts, ...]:
        rows = self._database.rows(f"{_SELECT} WHERE node <> ? ORDER BY node", (NOBODY,))
        return tuple(_facts(row) for row in rows)

    def last_arrivals(self, node: str, boot: int, count: int = 20) -> tuple[tuple[int, int], ...]:
        """Sequence and arrival [ms] of the newest messages of one boot of a node that gave no time itself."""
        rows = self._database.rows(
            "SELECT sequence, received_ms FROM message WHERE boot = ?2 AND time_source = ?4 AND "
            "node_id = (SELECT node_id FROM node WHERE node = ?1) ORDER BY sequence DESC LIMIT ?3",
            (node, boot, count, TimeSource.RELATIVE.value),
        )
        return tuple((int(row[0]), int(row[1])) for row in rows)

    def done(self, node: str, boot: int, first: int, last: int) -> int:
        """The highest sequence up to which every pack from `first` on is dealt with; `first - 1`: none is.

        A pack that was refused is dealt with: sent again it would be refused again. Of many packs the first
        thousand are looked at.
        """
        rows = self._database.rows(_DEALT_WITH, (node, boot, first, last, MOST_LOOKED_AT))
        done = first - 1
        for (sequence,) in rows:
            if sequence != done + 1:
                break
            done = sequence
        return done

    def start_anew(self, node: str) -> None:
        """Another board takes this name: the boots, sequences, counts and report of the one before go.

        The new one counts from its own first boot, and none of its packs is taken for one of the old board.
        Readings stay. A service beside us notices by itself that its memory is out of date.
        """
        with self._database.write() as connection:
            for statement in (*_FORGET, _NOTHING_GREW, _START_ANEW):
                connection.execute(statement, (node,))
            put(connection, RETIRED, json.dumps(self._retired_but(connection, node)))

    def retire(self, node: str, now_ms: int) -> None:
        """A board was taken away for good at a moment: until it is heard again it is none that is new."""
        with self._database.write() as connection:
            connection.execute("UPDATE node SET online = 0 WHERE node = ?", (node,))
            put(connection, RETIRED, json.dumps(self._retired_but(connection, node) | {node: now_ms}))

    @staticmethod
    def _retired_but(connection: sqlite3.Connection, node: str) -> dict[str, int]:
        known = json.loads(get(connection, RETIRED) or "{}")
        return {name: int(at_ms) for name, at_ms in known.items() if name != node}

    def retired(self) -> dict[str, int]:
        """The boards that were taken away, with the moment of each [ms]."""
        with self._database.read() as connection:
            return self._retired_but(connection, NOBODY)

    def one(self, node: str) -> NodeFacts | None:
        row = self._database.row(f"{_SELECT} WHERE node = ?", (node,))
        return None if row is None else _facts(row)

    def without_name(self) -> NodeFacts | None:
        """Messages that were refused and belong to no node (a foreign topic): counted together."""
        return self.one(NOBODY)
