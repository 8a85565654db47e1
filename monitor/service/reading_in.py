"""From MQTT messages to node messages with their time resolved; keeps one small clock memory per node."""

from __future__ import annotations

from dataclasses import replace

from monitor.intake.node_clock import Absence, NodeClock, resolve_clock
from monitor.intake.payload import Understood, understand
from monitor.intake.plain import PlainRoute
from monitor.intake.topics import Topics
from monitor.records import IncomingMessage, NodeMessage
from monitor.service.strangers import Strangers


class ReadingIn:
    """Understands messages. `absence` is the last time that we were away from the broker."""

    def __init__(self, topics: Topics, routes: tuple[PlainRoute, ...], strangers: Strangers) -> None:
        self._topics, self._routes, self.strangers = topics, routes, strangers
        self._clocks: dict[str, NodeClock] = {}
        self.absence: Absence | None = None

    def take(self, message: IncomingMessage) -> Understood | None:
        """What a message means; None where it is not for us."""
        understood = understand(message, self._topics, self._routes)
        if understood is None:
            return None
        admitted = self.strangers.admit(understood, message)
        if not isinstance(admitted, NodeMessage):
            return admitted
        if message.redelivered:
            admitted = replace(admitted, redelivered=True)
        return self._dated(admitted, message.age_s is not None)

    def _dated(self, message: NodeMessage, age_known: bool) -> NodeMessage:
        memory = self._clocks.get(message.node, NodeClock())
        memory, dated = resolve_clock(memory, message, self.absence, age_known=age_known)
        self._clocks[message.node] = memory
        return dated
