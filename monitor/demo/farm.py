"""The invented farm as a source of MQTT messages, deterministic by seed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from monitor.demo.events import Kind, News, Script
from monitor.demo.layout import BOARDS, SITE_ID, STRANGER, TOPIC_ROOT
from monitor.demo.nature import Nature
from monitor.demo.nodes import Faults, SimulatedNode

# One and a half keep-alives of a minute, after which a broker publishes the last will.
LAST_WILL_AFTER_MS = 90_000


@dataclass(frozen=True, slots=True)
class Publication:
    """One message as a board, or the broker for it, publishes it."""

    topic: str
    payload: bytes
    retain: bool
    at_ms: int
    node: str


@dataclass(slots=True)
class _Link:
    """What the broker knows of a board's connection."""

    online: bool = False
    lost_ms: int | None = None


class SimulatedFarm:
    """Saltbush Yard: rooms, bins and boards between a start and whatever `step` is asked for."""

    def __init__(
        self, seed: int, start_ms: int, interval_s: float = 60.0, script: Script | None = None
    ) -> None:
        self._interval_ms = round(interval_s * 1000)
        self._now_ms = start_ms
        self._script = script or Script(start_ms)
        self._nature = Nature(seed, start_ms, self._script)
        self._nodes = [SimulatedNode(seed, board) for board in (*BOARDS, STRANGER)]
        self._links = {node.board.id: _Link() for node in self._nodes}

    @property
    def now_ms(self) -> int:
        """Up to when the farm has been simulated."""
        return self._now_ms

    @property
    def nature(self) -> Nature:
        """What is true on the farm now."""
        return self._nature

    def step(self, now_ms: int) -> list[Publication]:
        """Simulate up to this time; what was published on the way, in the order of time."""
        published: list[Publication] = []
        while self._now_ms + self._interval_ms <= now_ms:
            self._now_ms += self._interval_ms
            self._nature.step(self._now_ms)
            for node in self._nodes:
                published.extend(self._node(node))
        return sorted(published, key=lambda each: each.at_ms)

    def news(self, from_ms: int, until_ms: int) -> tuple[News, ...]:
        """What happens on the farm in [from, until), in words."""
        return self._script.news(from_ms, until_ms)

    def _node(self, node: SimulatedNode) -> Iterator[Publication]:
        """One turn of one board; its minute is shifted a little against those of the others."""
        at_ms = self._now_ms - min(node.sends_after_ms, self._interval_ms - 1)
        name = node.board.id
        if name == STRANGER.id and not self._script.active(Kind.STRANGER, name, at_ms):
            return
        if self._dead(name, at_ms):
            yield from self._silent(name, at_ms)
            return
        measured = node.measure(
            at_ms, self._interval_ms / 1000, self._nature.value, self._faults(name, at_ms)
        )
        if self._unheard(name, at_ms):
            node.keep(measured)
            yield from self._silent(name, at_ms)
            return
        yield from self._connect(node, at_ms)
        for payload in node.messages(measured):
            yield Publication(f"{_topic(name)}/readings", payload, False, at_ms, name)

    def _silent(self, name: str, at_ms: int) -> Iterator[Publication]:
        link = self._links[name]
        if link.lost_ms is None:
            link.lost_ms = at_ms
        if link.online and at_ms - link.lost_ms >= LAST_WILL_AFTER_MS:
            link.online = False
            yield _status(name, "offline", at_ms)

    def _connect(self, node: SimulatedNode, at_ms: int) -> Iterator[Publication]:
        link = self._links[node.board.id]
        if link.lost_ms is not None:
            self._come_back(node, link.lost_ms, at_ms)
            link.lost_ms = None
        if not link.online:
            link.online = True
            yield _status(node.board.id, "online", at_ms)

    def _come_back(self, node: SimulatedNode, lost_ms: int, at_ms: int) -> None:
        if self._script.ended(Kind.DEAD, node.board.id, lost_ms, at_ms):
            node.restart(fresh_battery=True)
        elif not node.board.keeps_backlog:
            node.restart()

    def _dead(self, name: str, at_ms: int) -> bool:
        return self._script.active(Kind.DEAD, name, at_ms)

    def _unheard(self, name: str, at_ms: int) -> bool:
        away = self._script.active(Kind.OUT_OF_RANGE, name, at_ms)
        return away or self._script.active(Kind.POWER_CUT, "farm", at_ms)

    def _faults(self, name: str, at_ms: int) -> Faults:
        return Faults(
            stuck=self._script.active(Kind.STUCK, name, at_ms),
            loose_cable=self._script.active(Kind.LOOSE_CABLE, name, at_ms),
        )


def _topic(node: str) -> str:
    return f"{TOPIC_ROOT}/{SITE_ID}/{node}"


def _status(node: str, word: str, at_ms: int) -> Publication:
    return Publication(f"{_topic(node)}/status", word.encode(), True, at_ms, node)
