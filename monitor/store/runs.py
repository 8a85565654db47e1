"""Lives of the service, and the times in which it did not live."""

from __future__ import annotations

from monitor.records import ServiceRun
from monitor.store.connection import Database


class Runs:
    """Start, sign of life, orderly stop."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def start(self, now_ms: int) -> int:
        """A new life; gives its number."""
        with self._database.write() as connection:
            cursor = connection.execute(
                "INSERT INTO service_run(started_ms, alive_ms) VALUES(?, ?)", (now_ms, now_ms)
            )
            return cursor.lastrowid or 0

    def alive(self, run_id: int, now_ms: int) -> None:
        """A sign of life."""
        with self._database.write() as connection:
            connection.execute(
                "UPDATE service_run SET alive_ms = max(alive_ms, ?) WHERE run_id = ?", (now_ms, run_id)
            )

    def stop(self, run_id: int, now_ms: int) -> None:
        """An orderly end."""
        with self._database.write() as connection:
            connection.execute(
                "UPDATE service_run SET alive_ms = max(alive_ms, ?1), stopped_ms = ?1 WHERE run_id = ?2",
                (now_ms, run_id),
            )

    def correct(self, run_id: int, now_ms: int) -> None:
        """The clock was wrong when this life began, or in an earlier one: no life lies in the future."""
        with self._database.write() as connection:
            connection.execute(
                "DELETE FROM service_run WHERE started_ms > ?1 AND run_id <> ?2", (now_ms, run_id)
            )
            connection.execute(
                "UPDATE service_run SET alive_ms = min(alive_ms, ?1), stopped_ms = min(stopped_ms, ?1)",
                (now_ms,),
            )
            connection.execute(
                "UPDATE service_run SET started_ms = ?1, alive_ms = ?1, stopped_ms = NULL WHERE run_id = ?2",
                (now_ms, run_id),
            )

    def between(self, start_ms: int, end_ms: int) -> tuple[ServiceRun, ...]:
        """Lives that touch the span, in the order of their start."""
        with self._database.read() as connection:
            rows = connection.execute(
                "SELECT started_ms, alive_ms, stopped_ms FROM service_run "
                "WHERE started_ms < ? AND alive_ms >= ? ORDER BY started_ms, run_id",
                (end_ms, start_ms),
            )
            return tuple(ServiceRun(*row) for row in rows)

    def downtime(self, start_ms: int, end_ms: int, grace_ms: int = 0) -> tuple[tuple[int, int], ...]:
        """Spans of [start, end) without a life; those no longer than `grace_ms` are left out.

        A life counts up to its last sign of life, so a grace of one interval between such signs is fitting.
        """
        spans: list[tuple[int, int]] = []
        covered_ms = start_ms
        for run in self.between(start_ms, end_ms):
            spans.append((covered_ms, run.started_ms))
            covered_ms = max(covered_ms, run.alive_ms)
        spans.append((covered_ms, end_ms))
        return tuple(span for span in spans if span[1] - span[0] > grace_ms)
