"""Topics of one site, and what may stand in them. Pure."""

from __future__ import annotations

import re
from dataclasses import dataclass

from monitor.records import MS_PER_DAY, MS_PER_MINUTE

READINGS, STATUS = "readings", "status"
IDENTIFIER = re.compile(r"[A-Za-z0-9][A-Za-z0-9_.-]{0,39}")
"""What a node and a probe may be called: it is shown on pages and written into files."""


@dataclass(frozen=True, slots=True)
class Topics:
    """Where the nodes of one site publish, and how far their own time may be from ours."""

    site: str
    root: str = "rearing"
    oldest_ms: int = 7 * MS_PER_DAY
    newest_ms: int = 5 * MS_PER_MINUTE

    @property
    def base(self) -> str:
        """`rearing/{site}`."""
        return f"{self.root}/{self.site}"

    @property
    def service(self) -> str:
        """Where the monitor itself says online or offline, retained."""
        return f"{self.base}/service"

    @property
    def sounder(self) -> str:
        """Where the sounder is told on or off, retained."""
        return f"{self.base}/sounder"

    def filters(self) -> tuple[str, ...]:
        """What to subscribe to for the nodes that speak SenML."""
        return (f"{self.base}/+/{READINGS}", f"{self.base}/+/{STATUS}")

    def split(self, topic: str) -> tuple[str, str] | None:
        """(node, `readings` or `status`), or None when the topic is not one of ours."""
        prefix = self.base + "/"
        if not topic.startswith(prefix):
            return None
        node, _, kind = topic[len(prefix) :].partition("/")
        return (node, kind) if kind in (READINGS, STATUS) else None
