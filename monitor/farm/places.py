"""Where values are heading: a robust slope over the last readings of a place.

From the store to what a person reads now: places, alarms, nodes.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence

from monitor.climate.trend import robust_slope
from monitor.farm.records import ActiveAlarm, Current, NodeRow, PlaceNow, SiteNow
from monitor.records import (
    MS_PER_HOUR,
    MS_PER_MINUTE,
    MS_PER_SECOND,
    AlarmRule,
    AlarmState,
    AlarmStatus,
    Computed,
    Flag,
    FlaggedReading,
    NodeFacts,
    Quantity,
    SensorKey,
    Side,
)
from monitor.settings.plan import Plan, stale_after_s
from monitor.store import Store
from monitor.store.readings import Series

DEAD_AFTER_MS = 3 * MS_PER_MINUTE
QUIET_STATUSES = frozenset({AlarmStatus.NORMAL, AlarmStatus.SUPPRESSED_BY_DESIGN})


def site_now(store: Store, plan: Plan, now_ms: int) -> SiteNow:
    """What is so now: places with the worst first, then those that nothing is known of."""
    facts = {node.node: node for node in store.nodes.every()}
    latest = store.readings.latest(store.calibrations.table())
    by_place = _current_by_place(latest, plan, facts, now_ms)
    values = Values(plan, by_place, facts, now_ms)
    alarms = _by_place(open_alarms(store.journal.states(), plan, values.of))
    places = [_place_now(plan, place, by_place[place], alarms.pop(place, ())) for place in plan.places]
    alive, last_ms = sign_of_life(store, now_ms)
    return SiteNow(
        title=plan.settings.site.title,
        now_ms=now_ms,
        places=tuple(sorted(places, key=_urgency)),
        site_alarms=tuple(alarm for found in alarms.values() for alarm in found),
        service_alive=alive,
        last_alive_ms=last_ms,
    )


def sign_of_life(store: Store, now_ms: int) -> tuple[bool, int | None]:
    """Whether the service runs (a life not ended, heard of within minutes), and its last sign of life."""
    runs = store.runs.between(0, now_ms + 1)
    alive = any(run.stopped_ms is None and now_ms - run.alive_ms <= DEAD_AFTER_MS for run in runs)
    return alive, max((run.alive_ms for run in runs), default=None)


def current_values(store: Store, plan: Plan, now_ms: int) -> Values:
    """What alarms look at now."""
    facts = {node.node: node for node in store.nodes.every()}
    latest = store.readings.latest(store.calibrations.table())
    return Values(plan, _current_by_place(latest, plan, facts, now_ms), facts, now_ms)


class Values:
    """The newest values, as the rules look at them."""

    def __init__(
        self,
        plan: Plan,
        by_place: Mapping[str, Sequence[Current]],
        facts: Mapping[str, NodeFacts],
        now_ms: int,
    ) -> None:
        self._plan, self._by_place, self._facts, self._now_ms = plan, by_place, facts, now_ms

    def of(self, rule: AlarmRule) -> float | None:
        """Highest or lowest value of its place, the last known one where all are stale; None if computed."""
        if rule.quantity == Computed.SILENT_MINUTES:
            facts = self._facts.get(rule.place)
            heard = facts is not None and facts.messages > 0
            return (self._now_ms - facts.last_heard_ms) / MS_PER_MINUTE if facts and heard else None
        measured = [each for each in self._by_place.get(rule.place, ()) if each.quantity == rule.quantity]
        usable = [each.value for each in measured if each.usable]
        if usable:
            return max(usable) if rule.side is Side.HIGH else min(usable)
        old = [each for each in measured if each.flag not in (Flag.FAIL, Flag.MISSING)]
        return max(old, key=lambda each: each.at_ms).value if old else None


def _not_known(_rule: AlarmRule) -> float | None:
    return None


def _present(
    rule: AlarmRule, state: AlarmState, value_of: Callable[[AlarmRule], float | None]
) -> float | None:
    """The present value; of a computed quantity the service's last one, which it stores while it stands."""
    value = value_of(rule)
    is_computed = rule.quantity in frozenset(Computed)
    return state.last_value if value is None and is_computed and state.active else value


def open_alarms(
    states: Mapping[str, AlarmState],
    plan: Plan,
    value_of: Callable[[AlarmRule], float | None] = _not_known,
) -> tuple[ActiveAlarm, ...]:
    """Every alarm that is not normal, those that are active first, then by priority."""
    rules = plan.rules
    found = [
        ActiveAlarm(rules[name], state, plan.title(rules[name].place), _present(rules[name], state, value_of))
        for name, state in states.items()
        if name in rules and state.status not in QUIET_STATUSES
    ]
    order = {"high": 0, "medium": 1, "low": 2}
    return tuple(sorted(found, key=lambda alarm: (not alarm.state.active, order[alarm.rule.priority])))


def node_rows(store: Store, plan: Plan, now_ms: int) -> tuple[NodeRow, ...]:
    """Every node that was heard or is expected: expected ones in their order, then the unknown."""
    facts = {node.node: node for node in store.nodes.every()}
    batteries = {
        sensor.node: item.calibrated
        for sensor, item in store.readings.latest(store.calibrations.table()).items()
        if sensor.quantity == Quantity.BATTERY
    }
    names = [*plan.nodes, *sorted(name for name in facts if name not in plan.nodes)]
    return tuple(_node_row(plan, name, facts.get(name), batteries.get(name), now_ms) for name in names)


def is_silent(plan: Plan, facts: NodeFacts | None, node: str, now_ms: int) -> bool:
    """Whether a node has been quiet for longer than it may; one never heard is silent."""
    if facts is None or facts.messages == 0:
        return node in plan.nodes
    if node not in plan.nodes:
        return False
    limit_s = stale_after_s(plan.nodes[node], facts.silence_limit_s)
    return now_ms - facts.last_heard_ms > limit_s * MS_PER_SECOND


def never_heard(node: str) -> NodeFacts:
    """The facts of a node that is in the settings but was never heard."""
    return NodeFacts(node, 0, 0, None, None, None, None, 0, 0, 0, 0, 0, None, "", b"", None)


def _node_row(
    plan: Plan, name: str, facts: NodeFacts | None, battery_v: float | None, now_ms: int
) -> NodeRow:
    node = plan.nodes.get(name)
    places = [] if node is None else [place for place in (node.place, *node.probes.values()) if place]
    return NodeRow(
        facts=facts or never_heard(name),
        place=", ".join(dict.fromkeys(plan.title(place) for place in places)),
        placed=bool(places),
        silent=is_silent(plan, facts, name, now_ms),
        battery_v=battery_v,
    )


def _current_by_place(
    latest: Mapping[SensorKey, FlaggedReading], plan: Plan, facts: Mapping[str, NodeFacts], now_ms: int
) -> dict[str, list[Current]]:
    found: dict[str, list[Current]] = defaultdict(list)
    for sensor, item in sorted(latest.items()):
        place = plan.place_of(sensor)
        if place is not None:
            found[place].append(_current(plan, sensor, item, facts.get(sensor.node), now_ms))
    return found


def _current(
    plan: Plan, sensor: SensorKey, item: FlaggedReading, facts: NodeFacts | None, now_ms: int
) -> Current:
    limit_s = stale_after_s(plan.nodes[sensor.node], facts.silence_limit_s if facts else None)
    return Current(
        quantity=sensor.quantity,
        probe=sensor.probe,
        node=sensor.node,
        at_ms=item.reading.at_ms,
        value=item.calibrated,
        flag=item.flag,
        stale=now_ms - item.reading.at_ms > limit_s * MS_PER_SECOND,
    )


def _by_place(alarms: Iterable[ActiveAlarm]) -> dict[str, tuple[ActiveAlarm, ...]]:
    found: dict[str, tuple[ActiveAlarm, ...]] = {}
    for alarm in alarms:
        found[alarm.rule.place] = (*found.get(alarm.rule.place, ()), alarm)
    return found


def _place_now(
    plan: Plan, place_id: str, current: Iterable[Current], alarms: Iterable[ActiveAlarm]
) -> PlaceNow:
    place, values = plan.places[place_id], tuple(current)
    return PlaceNow(
        id=place_id,
        title=plan.title(place_id),
        kind=place.kind,
        empty=place.empty,
        current=values,
        alarms=tuple(alarms),
        known=any(value.usable for value in values),
    )


def _urgency(place: PlaceNow) -> tuple[int, bool]:
    order = {"high": 0, "medium": 1, "low": 2}
    return (3 if place.worst is None else order[place.worst], place.known or place.empty)


WINDOW_MS = 40 * MS_PER_MINUTE
SHORTEST_MS = 10 * MS_PER_MINUTE
FEWEST, MOST = 5, 30


def changes_per_hour(
    store: Store, plan: Plan, wanted: Collection[tuple[str, str]], now_ms: int
) -> Mapping[tuple[str, str], float]:
    """The change in an hour of these quantities of places; left out where too few readings tell."""
    found: dict[tuple[str, str], float] = {}
    for sensor in store.readings.sensors():
        where = (plan.place_of(sensor) or "", sensor.quantity)
        if where in wanted:
            recent = _recent(store, sensor, now_ms)
            slope_per_ms = robust_slope(recent.at_ms, recent.value, FEWEST, SHORTEST_MS, MOST)
            if slope_per_ms is not None and abs(slope_per_ms * MS_PER_HOUR) >= abs(found.get(where, 0.0)):
                found[where] = slope_per_ms * MS_PER_HOUR
    return found


def _recent(store: Store, sensor: SensorKey, now_ms: int) -> Series:
    return store.readings.series(sensor, now_ms - WINDOW_MS, now_ms + 1).usable()
