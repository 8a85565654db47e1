"""Publishes the settings of boards, retained: at the start, on a change, when a board has others in force.

Only boards that have sent a report get any: others do not know what to do with them. What the broker keeps of
a board that was removed from the settings is cleared.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field

from monitor.boards.board_settings import settings_message, settings_of
from monitor.errors import StoreError
from monitor.intake.payload import REPORT, SETTINGS, STATUS, Topics
from monitor.records import MS_PER_MINUTE, BoardReport
from monitor.settings.schema import Node
from monitor.store.board_reports import BoardReports

log = logging.getLogger(__name__)

AGAIN_MS = 10 * MS_PER_MINUTE
"""Own choice: settings that a board does not take are published again no sooner."""


@dataclass(slots=True)
class BoardSettings:
    """What was published in this life, and for which boards of the settings file."""

    reports: BoardReports
    publish: Callable[..., bool]
    topics: Topics
    _nodes: Mapping[str, Node] | None = None
    _sent: dict[str, tuple[str, int]] = field(default_factory=dict)

    def follow(self, nodes: Mapping[str, Node], reports: Iterable[BoardReport], now_ms: int) -> None:
        """After each batch: all boards when the settings are new, else those that have just reported."""
        try:
            if nodes is not self._nodes:
                self._nodes = nodes if self._all(nodes, now_ms) else None
                return
            for report in reports:
                self._tell(nodes.get(report.node), report, None, now_ms)
        except StoreError as error:
            self._nodes = None
            log.warning("the settings of boards are published later: %s", error)

    def _all(self, nodes: Mapping[str, Node], now_ms: int) -> bool:
        """Whether all of it was done; else it is tried again."""
        done = True
        for name, stored in self.reports.every().items():
            if name in nodes:
                self._tell(nodes[name], stored.report, stored.published, now_ms)
            elif stored.published is not None:
                done = self._clear(name) and done
        return done

    def _tell(self, node: Node | None, report: BoardReport, published: str | None, now_ms: int) -> None:
        if node is None:
            return
        values = settings_of(node)
        total, (sent, sent_ms) = values["sum"], self._sent.get(node.id, ("", 0))
        has_waited = not 0 <= now_ms - sent_ms < AGAIN_MS
        if sent == total and (report.settings == total or not has_waited):
            return
        self._sent[node.id] = (total, now_ms)
        self.publish(self.topics.of(node.id, SETTINGS), settings_message(values), retain=True)
        if published != total:
            self.reports.published(node.id, total)

    def _clear(self, name: str) -> bool:
        """Take away what the broker keeps of a board that was removed; False while that cannot be."""
        self._sent.pop(name, None)
        kinds = (SETTINGS, REPORT, STATUS)
        for kind in kinds:
            if not self.publish(self.topics.of(name, kind), b"", retain=True):
                return False
        self.reports.forget(name)
        return True
