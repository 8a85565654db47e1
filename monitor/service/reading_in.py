"""From MQTT messages to node messages with their time resolved; keeps one small clock memory per node."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from monitor.intake.node_clock import Absence, NodeClock, clock_of, resolve_clock
from monitor.intake.payload import Understood, understand
from monitor.intake.plain import PlainRoute
from monitor.intake.topics import Topics
from monitor.records import MS_PER_DAY, MS_PER_MINUTE, MS_PER_SECOND, IncomingMessage, NodeMessage
from monitor.service.strangers import Strangers, strangers_of
from monitor.service.watch import Watch
from monitor.settings.schema import Node, Settings
from monitor.store import Store


class ReadingIn:
    """Understands messages. `absence` is the last time that we were away from the broker."""

    def __init__(self, topics: Topics, routes: tuple[PlainRoute, ...], strangers: Strangers) -> None:
        self._topics, self._routes, self.strangers = topics, routes, strangers
        self._clocks: dict[str, NodeClock] = {}
        self.absence: Absence | None = None

    def restore(self, store: Store, nodes: Mapping[str, Node]) -> None:
        """Take up again what is known of the rhythm of nodes without a clock."""
        for facts in store.nodes.every():
            settings = nodes.get(facts.node)
            interval_ms = None if settings is None else settings.interval_s * MS_PER_SECOND
            if facts.boot is not None and facts.sequence is not None:
                arrivals = store.nodes.last_arrivals(facts.node, facts.boot)
                self._clocks[facts.node] = clock_of(arrivals, facts.boot, interval_ms)

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


def reading_in_of(store: Store, watch: Watch, topics: Topics, routes: tuple[PlainRoute, ...]) -> ReadingIn:
    """With all that the store knows of boards already."""
    found = ReadingIn(topics, routes, strangers_of(store, watch))
    found.restore(store, watch.plan.nodes)
    return found


def topics_of(settings: Settings) -> Topics:
    """Topics of the site, and how far a board's own time may be from ours."""
    return Topics(
        settings.site.id,
        settings.broker.topic_root,
        round(settings.intake.oldest_days * MS_PER_DAY),
        round(settings.intake.newest_minutes * MS_PER_MINUTE),
    )
