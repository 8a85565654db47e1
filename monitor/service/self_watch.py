"""The monitor watches its nodes and itself: silence, common cause, store, archive, messages. No I/O."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from monitor.alarms.rules import alarm_id
from monitor.alarms.system import (
    COVERED,
    NOT_HEARD_YET,
    OVERDUE_INTERVALS,
    SITE,
    Listening,
    Silence,
    silence,
)
from monitor.alarms.timing import Sample
from monitor.records import (
    MS_PER_DAY,
    MS_PER_MINUTE,
    MS_PER_SECOND,
    AlarmRule,
    AlarmStatus,
    Computed,
    FlaggedMessage,
    NodeFacts,
    Priority,
    Reading,
    SensorKey,
    Side,
)
from monitor.service.site_state import AlarmChanges, SiteState
from monitor.settings.plan import Plan, stale_after_s
from monitor.settings.schema import Node

ANY_GAP_S = float(MS_PER_DAY)


@dataclass(frozen=True, slots=True)
class SelfFacts:
    """What the service knows about itself at one tick."""

    store_fault: bool = False
    archive_lag_hours: float | None = None
    unsent_minutes: float = 0.0
    broker_way_fault: bool = False
    copy_age_hours: float | None = None
    copy_behind_hours: float | None = None


@dataclass(slots=True)
class LastSeen:
    """When each node and each of its sensors was last heard, by the clock of the service.

    `ever` are the nodes that were heard at any time, before the service started too.
    `newest_ms` is the time that the newest good reading of a sensor bears, by the board.
    """

    since_ms: int
    ever: set[str] = field(default_factory=set)
    nodes: dict[str, int] = field(default_factory=dict)
    promised_s: dict[str, float] = field(default_factory=dict)
    sensors: dict[str, dict[SensorKey, int]] = field(default_factory=dict)
    expected_ms: dict[str, int] = field(default_factory=dict)
    newest_ms: dict[SensorKey, int] = field(default_factory=dict)
    _fine_until_ms: dict[str, int] = field(default_factory=dict)

    def restore(self, facts: Sequence[NodeFacts], latest: Iterable[Reading] = ()) -> None:
        """Take over what nodes promised before a restart, and which sensors they had in their last day.

        Their silence counts anew from the start.
        """
        self.promised_s.update(
            (node.node, node.silence_limit_s) for node in facts if node.silence_limit_s is not None
        )
        self.ever.update(node.node for node in facts if node.messages > 0)
        known = [reading for reading in latest if reading.at_ms <= self.since_ms]
        last_ms: dict[str, int] = {}
        for reading in known:
            node = reading.sensor.node
            last_ms[node] = max(reading.at_ms, last_ms.get(node, 0))
        for reading in known:
            if last_ms[reading.sensor.node] - reading.at_ms < MS_PER_DAY:
                self.sensors.setdefault(reading.sensor.node, {})[reading.sensor] = self.since_ms
                self.newest_ms[reading.sensor] = reading.at_ms

    def begin(self, now_ms: int) -> None:
        self.since_ms = now_ms
        self.look_at_all()
        self.nodes.clear()
        self.expected_ms.clear()
        self.newest_ms = {sensor: at_ms for sensor, at_ms in self.newest_ms.items() if at_ms <= now_ms}
        for sensors in self.sensors.values():
            sensors.update(dict.fromkeys(sensors, now_ms))

    def expect(self, nodes: Iterable[str], now_ms: int) -> None:
        """Boards that are new in the settings, or in service again: their silence counts from now on."""
        self.look_at_all()
        begin = {node: max(now_ms, self.nodes.get(node, now_ms)) for node in nodes}
        self.nodes.update(begin)
        self.expected_ms.update(begin)

    def forget(self, nodes: Iterable[str]) -> None:
        for node in nodes:
            for sensor in self.sensors.pop(node, ()):
                self.newest_ms.pop(sensor, None)
            for known in (self.nodes, self.promised_s, self.expected_ms):
                known.pop(node, None)

    def shift(self, by_ms: int) -> None:
        """The clock was set anew by so much: nobody was silent for that."""
        self.since_ms += by_ms
        self.look_at_all()
        self.newest_ms.clear()
        self.nodes = {node: at_ms + by_ms for node, at_ms in self.nodes.items()}
        self.expected_ms = {node: at_ms + by_ms for node, at_ms in self.expected_ms.items()}
        for sensors in self.sensors.values():
            sensors.update((sensor, at_ms + by_ms) for sensor, at_ms in tuple(sensors.items()))

    def note(self, flagged: FlaggedMessage) -> None:
        """A message came from a node; a sensor without good readings, or only with old ones, is missing.

        Readings from before what is known already drive no alarm: a board whose clock is behind tells
        nothing about the present.
        """
        message = flagged.message
        self.nodes[message.node] = message.received_ms
        self.ever.add(message.node)
        promised_s = message.silence_limit_s
        if promised_s is not None and promised_s != self.promised_s.get(message.node):
            self.promised_s[message.node] = promised_s
            self._fine_until_ms.pop(message.node, None)
        sensors = self.sensors.setdefault(message.node, {})
        for item in flagged.readings:
            sensor, at_ms = item.reading.sensor, item.reading.at_ms
            is_new = item.flag.usable and at_ms > self.newest_ms.get(sensor, at_ms - 1)
            if is_new:
                self.newest_ms[sensor] = at_ms
            if is_new or sensor not in sensors:
                sensors[sensor] = message.received_ms

    def look_at_all(self) -> None:
        """Nothing that was worked out of a board holds any more."""
        self._fine_until_ms.clear()

    def is_fine(self, node: Node, now_ms: int) -> bool:
        """Whether the board and each of its sensors is surely neither late nor silent yet."""
        return now_ms <= self._fine_until_ms.get(node.id, -1)

    def leave_alone(self, node: Node, longest_s: float) -> None:
        """All is well with a board: not to be looked at before it, or one of its sensors, can be missed.

        Messages only put that off, so it is worked out anew when its time has come. `longest_s` is the
        silence from which its alarm counts.
        """
        last_ms, limit_s = self.last_ms(node), self.limit_s(node)
        board_s = min(limit_s, longest_s, OVERDUE_INTERVALS * node.message_s)
        sensor_ms = min(self._due(node).values(), default=last_ms)
        until_ms = min(last_ms + board_s * MS_PER_SECOND, sensor_ms + limit_s * MS_PER_SECOND)
        self._fine_until_ms[node.id] = math.floor(until_ms)

    def last_ms(self, node: Node) -> int:
        """When the node was last heard; the start of the service for one not heard since."""
        return max(self.nodes.get(node.id, 0), self.since_ms)

    def limit_s(self, node: Node) -> float:
        return stale_after_s(node, self.promised_s.get(node.id))

    def dead_sensors(self, node: Node, now_ms: int) -> dict[SensorKey, int]:
        """Sensors of a board that still sends, without a good reading for too long, with their last time."""
        limit_ms = self.limit_s(node) * MS_PER_SECOND
        if now_ms - self.last_ms(node) > limit_ms:
            return {}
        return {sensor: at_ms for sensor, at_ms in self._due(node).items() if now_ms - at_ms > limit_ms}

    def _due(self, node: Node) -> dict[SensorKey, int]:
        """The sensors that a board has, by the settings or as heard, and since when each is due."""
        since_ms = max(self.since_ms, self.expected_ms.get(node.id, 0))
        heard = self.sensors.get(node.id, {})
        named = set(node.measures)
        due = {
            sensor: max(at_ms, since_ms)
            for sensor, at_ms in heard.items()
            if not named or not named.isdisjoint((sensor.measure, sensor.quantity))
        }
        for measure in named - {name for sensor in due for name in (sensor.measure, sensor.quantity)}:
            probe, _, quantity = measure.rpartition("/")
            due[SensorKey(node.id, probe, quantity)] = since_ms
        return due


class SelfWatch:
    """Steps the system alarms once per tick."""

    def __init__(self, site: SiteState, last_seen: LastSeen) -> None:
        self._site, self.last_seen = site, last_seen
        self._plan: Plan | None = None
        self._in_service: tuple[Node, ...] = ()
        self.silence = Silence()
        self.unheard: tuple[str, ...] = ()
        """The boards that were never heard and are waited for no longer."""
        self.dead: dict[str, tuple[SensorKey, ...]] = {}

    def clock_was_set(self, by_ms: int) -> None:
        """The clock was set anew by so much: neither silence nor a common cause lasted so long."""
        self.last_seen.shift(by_ms)
        last_ms = self.silence.last_common_ms
        if last_ms is not None:
            self.silence = replace(self.silence, last_common_ms=last_ms + by_ms)

    def tick(self, now_ms: int, facts: SelfFacts, changes: AlarmChanges) -> None:
        """Look at silence and at the monitor itself."""
        self._silence(now_ms, changes)
        values: Mapping[str, tuple[float | None, Priority]] = {
            Computed.STORE_FAULT: (float(facts.store_fault), Priority.HIGH),
            Computed.BROKER_WAY_FAULT: (float(facts.broker_way_fault), Priority.HIGH),
            Computed.ARCHIVE_LAG_HOURS: (facts.archive_lag_hours, Priority.LOW),
            Computed.COPY_AGE_HOURS: (facts.copy_age_hours, Priority.MEDIUM),
            Computed.COPY_BEHIND_HOURS: (facts.copy_behind_hours, Priority.LOW),
            Computed.UNSENT_MESSAGE_MINUTES: (facts.unsent_minutes, Priority.MEDIUM),
            Computed.SILENT_NODE_SHARE: (self.silence.share, Priority.HIGH),
            Computed.UNHEARD_NODES: (float(len(self.unheard)), Priority.MEDIUM),
        }
        for quantity, (value, priority) in values.items():
            self._step(alarm_id(SITE, quantity, Side.HIGH, priority), value, now_ms, changes)

    def _silence(self, now_ms: int, changes: AlarmChanges) -> None:
        """Look at the boards of which something may be missed; of thousands that send those are few."""
        self._follow_plan()
        nodes = [node for node in self._in_service if not self.last_seen.is_fine(node, now_ms)]
        listening = [
            Listening(node.id, self.last_seen.last_ms(node), node.message_s, self.last_seen.limit_s(node))
            for node in nodes
            if node.id in self.last_seen.ever
        ]
        fine = len(self._in_service) - len(nodes)
        self.silence = silence(listening, now_ms, self.silence, fine=fine)
        self.unheard = tuple(node.id for node in nodes if self._is_missed(node, now_ms))
        unheard = frozenset(self.unheard)
        for node in nodes:
            self._node(node, node.id in unheard, now_ms, changes)

    def _follow_plan(self) -> None:
        plan = self._site.plan
        if plan is self._plan:
            return
        self._plan = plan
        aside = plan.said.boards_aside
        self._in_service = tuple(
            node for node in plan.nodes.values() if not node.out_of_service and node.id not in aside
        )
        self.last_seen.look_at_all()

    def _is_missed(self, node: Node, now_ms: int) -> bool:
        """Whether a board was never heard, and its time to begin is over; once that was told, at once."""
        if node.id in self.last_seen.ever:
            return False
        waited_ms = now_ms - self.last_seen.last_ms(node)
        told = self._site.state(alarm_id(SITE, Computed.UNHEARD_NODES, Side.HIGH, Priority.MEDIUM)).active
        return told or waited_ms > self.last_seen.limit_s(node) * MS_PER_SECOND

    def _node(self, node: Node, unheard: bool, now_ms: int, changes: AlarmChanges) -> None:
        name = alarm_id(node.id, Computed.SILENT_MINUTES, Side.HIGH, Priority.MEDIUM)
        silent_ms = now_ms - self.last_seen.last_ms(node)
        self._step(name, silent_ms / MS_PER_MINUTE, now_ms, changes)
        held = unheard or self._stays_covered(node, name)
        self._site.suppress(name, held, now_ms, NOT_HEARD_YET if unheard else COVERED, changes)
        dead = self.last_seen.dead_sensors(node, now_ms)
        self.dead[node.id] = tuple(sorted(dead))
        longest_ms = now_ms - min(dead.values(), default=now_ms)
        broken = alarm_id(node.id, Computed.DEAD_SENSOR_MINUTES, Side.HIGH, Priority.MEDIUM)
        self._step(broken, longest_ms / MS_PER_MINUTE, now_ms, changes)
        if dead or node.id in self.silence.stale:
            self._site.mark_silent(node.id, now_ms, self.last_seen.limit_s(node), changes)
        elif node.id in self.last_seen.ever and self._rests(name) and self._rests(broken):
            self.last_seen.leave_alone(node, self._site.plan.rules[name].setpoint * 60)

    def _rests(self, name: str) -> bool:
        """Whether nothing goes on at an alarm: a value inside its limit would change nothing."""
        state = self._site.state(name)
        return state.status is AlarmStatus.NORMAL and not state.active and not self._site.is_turning(state)

    def _stays_covered(self, node: Node, name: str) -> bool:
        """A node that is back keeps its cover until its own alarm has cleared, else each would announce."""
        if node.id in self.silence.covered:
            return True
        state = self._site.state(name)
        was_covered = state.status is AlarmStatus.SUPPRESSED_BY_DESIGN
        return was_covered and state.active and node.id not in self.silence.stale

    def _step(self, name: str, value: float | None, now_ms: int, changes: AlarmChanges) -> None:
        rule: AlarmRule | None = self._site.plan.rules.get(name)
        if rule is not None and value is not None:
            self._site.step(rule, [Sample(now_ms, value)], now_ms, ANY_GAP_S, changes)
