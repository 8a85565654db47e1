"""From MQTT messages to node messages with their time resolved; keeps one small clock memory per node."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from monitor.intake.node_clock import Absence, NodeClock, resolve_clock
from monitor.intake.payload import understand
from monitor.intake.plain import PlainRoute
from monitor.intake.topics import Topics
from monitor.records import IncomingMessage, NodeMessage, NodeStatus, Rejected


@dataclass(slots=True)
class Sorted:
    """Messages of one turn by what they mean."""

    messages: list[NodeMessage] = field(default_factory=list)
    statuses: list[NodeStatus] = field(default_factory=list)
    rejected: list[Rejected] = field(default_factory=list)


class ReadingIn:
    """Understands messages. `absence` is the last time that we were away from the broker."""

    def __init__(self, topics: Topics, routes: tuple[PlainRoute, ...]) -> None:
        self._topics, self._routes = topics, routes
        self._clocks: dict[str, NodeClock] = {}
        self.absence: Absence | None = None

    def sort(self, incoming: Iterable[IncomingMessage]) -> Sorted:
        """What the messages mean; one that cannot be handled at all is refused with the reason."""
        found = Sorted()
        for message in incoming:
            self._take(message, found)
        return found

    def _take(self, message: IncomingMessage, found: Sorted) -> None:
        understood = understand(message, self._topics, self._routes)
        if isinstance(understood, NodeMessage):
            found.messages.append(self._dated(understood, message.age_s is not None))
        elif isinstance(understood, NodeStatus):
            found.statuses.append(understood)
        elif isinstance(understood, Rejected):
            found.rejected.append(understood)

    def _dated(self, message: NodeMessage, age_known: bool) -> NodeMessage:
        memory = self._clocks.get(message.node, NodeClock())
        memory, dated = resolve_clock(memory, message, self.absence, age_known=age_known)
        self._clocks[message.node] = memory
        return dated
