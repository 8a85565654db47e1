"""The last report of each board, when something in it last grew worse, and the settings published for it."""

from __future__ import annotations

import json
import sqlite3
from dataclasses import asdict
from typing import Any

from monitor.board_records import BAD_RESETS, BoardReport, StoredReport
from monitor.store.connection import Queries

_SELECT = """
    SELECT node, reported_ms, kept, body, lost_grew_ms, damaged_grew_ms, bad_reset_ms, published
    FROM board_report JOIN node USING(node_id)"""
_WRITE = """
    INSERT INTO board_report VALUES(?1, ?2, ?3, ?4, ?5, ?6, ?7, NULL) ON CONFLICT DO UPDATE SET
        reported_ms = excluded.reported_ms, kept = excluded.kept, body = excluded.body,
        lost_grew_ms = ifnull(excluded.lost_grew_ms, lost_grew_ms),
        damaged_grew_ms = ifnull(excluded.damaged_grew_ms, damaged_grew_ms),
        bad_reset_ms = ifnull(excluded.bad_reset_ms, bad_reset_ms)"""
_NOT_IN_BODY = ("node", "received_ms", "kept")


def write(connection: sqlite3.Connection, node_id: int, report: BoardReport) -> None:
    """Keep a report; one that the broker had kept and that is known already changes nothing."""
    body = json.dumps({key: value for key, value in asdict(report).items() if key not in _NOT_IN_BODY})
    row = connection.execute("SELECT body FROM board_report WHERE node_id = ?", (node_id,)).fetchone()
    if row is not None and report.kept and row[0] == body:
        return
    before = None if row is None else json.loads(row[0])
    now_ms = report.received_ms
    worse = [now_ms if _grew(before, report, key) else None for key in ("lost", "damaged")]
    reset = now_ms if _began_anew(before, report) else None
    connection.execute(_WRITE, (node_id, now_ms, int(report.kept), body, *worse, reset))


def _grew(before: dict[str, Any] | None, report: BoardReport, key: str) -> bool:
    known = None if before is None else before.get(key)
    return known is not None and (getattr(report, key) or 0) > known


def _began_anew(before: dict[str, Any] | None, report: BoardReport) -> bool:
    """Whether it tells of a start that nobody wanted and that was not told yet."""
    told = None if before is None else (before.get("boot"), before.get("reset"))
    return report.reset in BAD_RESETS and told != (report.boot, report.reset)


def _stored(row: tuple[Any, ...]) -> StoredReport:
    node, reported_ms, kept, body, *rest = row
    report = BoardReport(node=node, received_ms=reported_ms, kept=bool(kept), **json.loads(body))
    return StoredReport(report, *rest)


class BoardReports(Queries):
    """Answers for `board_report`."""

    def every(self) -> dict[str, StoredReport]:
        """The last report of each board that sent one."""
        return {row[0]: _stored(row) for row in self._database.rows(f"{_SELECT} ORDER BY node")}

    def one(self, node: str) -> StoredReport | None:
        row = self._database.row(f"{_SELECT} WHERE node = ?", (node,))
        return None if row is None else _stored(row)

    def published(self, node: str, settings_sum: str) -> None:
        """Note which settings were published for a board."""
        self._database.change(
            "UPDATE board_report SET published = ?2 "
            "WHERE node_id = (SELECT node_id FROM node WHERE node = ?1)",
            (node, settings_sum),
        )

    def forget(self, node: str) -> None:
        """The board was removed, and what the broker kept of it is cleared."""
        self._database.change(
            "DELETE FROM board_report WHERE node_id = (SELECT node_id FROM node WHERE node = ?)", (node,)
        )
