"""What is so now at each place and board, read out of the store at one moment.

Everything that a person is shown of the present comes from here; each sensor is looked up once.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Iterable
from functools import cached_property
from typing import TYPE_CHECKING

from monitor.alarms.rules import DRYNESS
from monitor.alarms.timing import past_excursion
from monitor.board_records import StoredReport
from monitor.boards.board_settings import is_older, program_version
from monitor.climate.trend import TREND_WINDOW_MS, change_per_hour
from monitor.farm.book import SHOWN_MS, carried_over
from monitor.farm.records import (
    MATTERS,
    ActiveAlarm,
    BinMoisture,
    Current,
    NodeRow,
    PlaceNow,
    QuantityNow,
    ReportNow,
    Signal,
    SiteNow,
    gravest_of_each,
)
from monitor.farm.today import Outlook, Today
from monitor.logbook.bin_entries import PROBE_KIND
from monitor.records import (
    MS_PER_DAY,
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
    Priority,
    Quantity,
    SensorKey,
    Side,
    SubjectKind,
)
from monitor.settings.plan import Plan, stale_after_s
from monitor.store import Store

if TYPE_CHECKING:
    from monitor.farm.bins import BinsView
    from monitor.farm.cohorts import ForecastView

DEAD_AFTER_MS = 3 * MS_PER_MINUTE
REPORT_HOLDS_MS, LATELY_MS = 3 * MS_PER_HOUR, MS_PER_DAY
"""Own choices: a board reports each hour; what grew worse within a day is worth a look."""
BOOT_TOLD_MS = 7 * MS_PER_DAY
"""Own choice: a boot number that stood still is told for a week; boards seldom begin anew."""
GOOD_DBM, WEAK_DBM = -70, -80
"""Common practice, no source: down to the first a network serves well, below the second hardly."""
SET_ASIDE = frozenset({AlarmStatus.SHELVED, AlarmStatus.OUT_OF_SERVICE})
QUIET_STATUSES = frozenset({AlarmStatus.NORMAL, AlarmStatus.SUPPRESSED_BY_DESIGN})
_QUANTITIES = {quantity.value: at for at, quantity in enumerate(Quantity)}
_COMPUTED = frozenset(Computed)
_PRIORITIES = {priority: at for at, priority in enumerate(Priority)}


def site_now(store: Store, plan: Plan, now_ms: int, bins: Callable[[], BinsView] | None = None) -> SiteNow:
    """The whole site: places with the worst first, then those that nothing is known of."""
    return SiteReader(store, plan, now_ms, bins).site()


def sign_of_life(store: Store, now_ms: int) -> tuple[bool, int | None]:
    """Whether the service runs (a life not ended, heard of within minutes), and its last sign of life."""
    runs = store.runs.between(0, now_ms + 1)
    alive = any(run.stopped_ms is None and now_ms - run.alive_ms <= DEAD_AFTER_MS for run in runs)
    return alive, max((run.alive_ms for run in runs), default=None)


def calibrated_probes(store: Store) -> frozenset[str]:
    """The sensors, by name, for which a calibration was entered; of others a moisture is an index."""
    probes = (entry.subject for entry in store.logbook.in_force(SubjectKind.BIN) if entry.kind == PROBE_KIND)
    return frozenset((*probes, *(str(each.sensor) for each in store.calibrations.every())))


class SiteReader:
    """Reads a site at one moment: places, alarms and boards agree, since each rests on the same readings.

    `bins` and `forecast` give filled bins and cohorts where they are kept already; else they are worked out
    when they are needed.
    """

    def __init__(
        self,
        store: Store,
        plan: Plan,
        now_ms: int,
        bins: Callable[[], BinsView] | None = None,
        forecast: Callable[[], ForecastView] | None = None,
    ) -> None:
        self._store, self._plan, self._now_ms = store, plan, now_ms
        self._facts = {node.node: node for node in store.nodes.every()}
        self._retired_ms = store.nodes.retired()
        self._states = store.journal.states()
        self._calibrations = store.calibrations.table()
        self._current: dict[str, dict[str, list[Current]]] = defaultdict(dict)
        latest = store.readings.latest(self._calibrations)
        self._batteries = {
            sensor.node: reading.calibrated
            for sensor, reading in latest.items()
            if sensor.quantity == Quantity.BATTERY
        }
        for sensor, reading in sorted(latest.items()):
            place = plan.place_of(sensor)
            if place is not None:
                here = self._current[place].setdefault(sensor.quantity, [])
                here.append(self._as_current(sensor, reading))
        self._slopes: dict[SensorKey, float | None] = {}
        self._outlook = Outlook(store, plan, now_ms, bins, forecast=forecast)

    def site(self) -> SiteNow:
        """All places with their alarms, the worst first, and the alarms of boards and of the monitor."""
        alarms = _by_place(self.alarms())
        places = [self._place(place, alarms.pop(place, ())) for place in self._plan.places]
        alive, last_ms = sign_of_life(self._store, self._now_ms)
        return SiteNow(
            title=self._plan.settings.site.title,
            now_ms=self._now_ms,
            places=tuple(sorted(places, key=lambda place: place.state.rank)),
            site_alarms=tuple(alarm for others in alarms.values() for alarm in others),
            service_alive=alive,
            last_alive_ms=last_ms,
            carried=carried_over(self._store, self._now_ms - SHOWN_MS),
        )

    def today(self) -> Today:
        """The day's tasks, with the copies and boards that need a hand."""
        return self._outlook.tasks(self.boards(), self.alarms())

    def place(self, place_id: str) -> PlaceNow:
        return self._place(place_id, _by_place(self.alarms()).get(place_id, ()))

    def is_known(self, place_id: str) -> bool:
        """Whether a fresh reading tells anything of a place, or an alarm of it stands."""
        here = self._current.get(place_id, {})
        fresh = any(current.usable for measured in here.values() for current in measured)
        return fresh or any(alarm.stands and alarm.rule.place == place_id for alarm in self.alarms())

    def alarms(self) -> tuple[ActiveAlarm, ...]:
        """Every alarm that is not normal, those that are active first, then by priority."""
        return self._not_normal

    @cached_property
    def _not_normal(self) -> tuple[ActiveAlarm, ...]:
        rules = self._plan.rules
        alarms = [
            self._alarm(rules[name], state)
            for name, state in self._states.items()
            if name in rules and state.status not in QUIET_STATUSES
        ]
        return tuple(
            sorted(alarms, key=lambda alarm: (not alarm.state.active, _PRIORITIES[alarm.rule.priority]))
        )

    def every_alarm(self) -> tuple[ActiveAlarm, ...]:
        """Every alarm that the settings make, normal ones too, in the order of the settings."""
        return tuple(self.alarm(name) for name in self._plan.rules)

    def alarm(self, alarm_id: str) -> ActiveAlarm:
        """One alarm of the settings, whatever its state."""
        return self._alarm(self._plan.rules[alarm_id], self._states.get(alarm_id) or AlarmState(alarm_id))

    def boards(self) -> tuple[NodeRow, ...]:
        """Every board that was heard or is expected: expected ones in their order, then the unknown."""
        calibrated_ms: dict[str, int] = {}
        for calibration in self._store.calibrations.every():
            if calibration.valid_from_ms <= self._now_ms:
                node = calibration.sensor.node
                calibrated_ms[node] = max(calibrated_ms.get(node, 0), calibration.valid_from_ms)
        nodes = self._plan.nodes
        names = [*nodes, *sorted(name for name in self._facts if name not in nodes and self._is_new(name))]
        reports = self._store.board_reports.every()
        return tuple(self._board(name, calibrated_ms.get(name), reports.get(name)) for name in names)

    def _is_new(self, name: str) -> bool:
        """Whether a board that the settings do not name is one to be placed; else it was taken away."""
        return self._facts[name].last_heard_ms > self._retired_ms.get(name, -1)

    def _board(self, name: str, calibrated_ms: int | None, stored: StoredReport | None) -> NodeRow:
        node, facts = self._plan.nodes.get(name), self._facts.get(name)
        silent = is_silent(self._plan, facts, name, self._now_ms)
        places = [] if node is None else [place for place in (node.place, *node.probes.values()) if place]
        return NodeRow(
            facts=facts or never_heard(name),
            place=", ".join(dict.fromkeys(self._plan.title(place) for place in places)),
            known=node is not None,
            silent=silent,
            battery_v=self._batteries.get(name),
            battery_low_v=None if node is None else node.battery_low_v,
            out_of_service=node is not None and node.out_of_service,
            calibrated_ms=calibrated_ms,
            aside=self._plan.said.boards_aside.get(name),
            boot_stands=facts is not None and self._is_recent(facts.boot_stands_ms),
            report=None if stored is None else report_now(stored, silent, program_version(), self._now_ms),
        )

    def _is_recent(self, at_ms: int | None) -> bool:
        return at_ms is not None and self._now_ms - at_ms <= BOOT_TOLD_MS

    def _place(self, place_id: str, alarms: Collection[ActiveAlarm]) -> PlaceNow:
        plan, here = self._plan, self._current.get(place_id, {})
        place = plan.places[place_id]
        matters = [quantity for quantity in MATTERS[place.kind] if quantity in here]
        others = sorted(here.keys() - set(matters), key=lambda name: _QUANTITIES.get(name, len(_QUANTITIES)))
        return PlaceNow(
            id=place_id,
            title=plan.title(place_id),
            kind=place.kind,
            room=plan.title(place.room) if place.room else "",
            stage=plan.stage_of(place),
            unguarded=plan.unguarded.get(place_id),
            quantities=tuple(self._quantity(place_id, quantity) for quantity in (*matters, *others)),
            alarms=tuple(alarms),
            beyond=self._beyond(place_id, alarms),
            outlook=self._outlook,
            asks=plan.words_of(place_id).asks,
            lived_in=plan.words_of(place_id).lived_in,
            excess_k=self._excess_k(place_id),
            removed=tuple(
                self._alarm(rule, AlarmState(rule.alarm_id))
                for rule in plan.removed
                if rule.place == place_id
            ),
            boards_aside={
                node.id: plan.said.boards_aside[node.id]
                for node in plan.nodes_in(place_id)
                if node.id in plan.said.boards_aside
            },
            unheard=tuple(node.id for node in plan.nodes_in(place_id) if self._is_unheard(node.id)),
        )

    def _is_unheard(self, node: str) -> bool:
        """Whether a board that is listened to was never heard."""
        facts, plan = self._facts.get(node), self._plan
        listened_to = not plan.nodes[node].out_of_service and node not in plan.said.boards_aside
        return listened_to and (facts is None or facts.messages == 0)

    def _excess_k(self, place_id: str) -> float | None:
        substrate = self._usable(place_id, Quantity.SUBSTRATE_TEMPERATURE)
        air = self._usable(self._plan.places[place_id].room or "", Quantity.AIR_TEMPERATURE)
        return max(substrate) - max(air) if substrate and air else None

    def _usable(self, place_id: str, quantity: str) -> list[float]:
        here = self._current.get(place_id, {}).get(quantity, ())
        return [current.value for current in here if current.usable]

    def _quantity(self, place_id: str, quantity: str) -> QuantityNow:
        low_limit, high_limit = limits_of(self._plan, place_id, quantity)
        moisture = self._bin_moisture(place_id, quantity)
        return QuantityNow(
            quantity=quantity,
            sensors=tuple(self._current[place_id][quantity]),
            low_limit=low_limit,
            high_limit=high_limit,
            per_hour=self._per_hour(place_id, quantity, Side.HIGH),
            bin_moisture=moisture,
            is_index=moisture is None and self._is_index(place_id, quantity),
        )

    def _is_index(self, place_id: str, quantity: str) -> bool:
        """Whether what a moisture probe says here is only an index."""
        if quantity != Quantity.SUBSTRATE_MOISTURE:
            return False
        return not any(self._calibrations.of(one.sensor) for one in self._current[place_id][quantity])

    def _bin_moisture(self, place_id: str, quantity: str) -> BinMoisture | None:
        """What stands in for a moisture probe in a filled bin: the figure of the bin."""
        return self._outlook.moisture_of(place_id) if quantity == Quantity.SUBSTRATE_MOISTURE else None

    def _as_current(self, sensor: SensorKey, item: FlaggedReading) -> Current:
        facts = self._facts.get(sensor.node)
        limit_s = stale_after_s(self._plan.nodes[sensor.node], facts.silence_limit_s if facts else None)
        return Current(
            quantity=sensor.quantity,
            probe=sensor.probe,
            node=sensor.node,
            at_ms=item.reading.at_ms,
            value=item.calibrated,
            flag=item.flag,
            stale=self._now_ms - item.reading.at_ms > limit_s * MS_PER_SECOND,
        )

    def _alarm(self, rule: AlarmRule, state: AlarmState) -> ActiveAlarm:
        value = self._value(rule)
        fresh = value is not None
        if value is None:
            # As a message says it: the last value that the alarm looked at. The service works a computed one
            # out, and stores it while the alarm stands.
            value, fresh = self._last_known(rule, state), rule.quantity in _COMPUTED
        per_hour = self._per_hour(rule.place, rule.quantity, rule.side) if state.active else None
        many = rule.quantity == Computed.UNHEARD_NODES and state.active
        boards = tuple(node for node in self._plan.nodes if self._is_unheard(node)) if many else ()
        title = self._plan.title(rule.place)
        return ActiveAlarm(
            rule, state, title, value, per_hour, fresh, boards, self._seen(state), self._then(state)
        )

    def _then(self, state: AlarmState) -> float | None:
        """The limit that a past excursion passed: the stage of the animals may have moved it since."""
        over = past_excursion(state) if state.status is AlarmStatus.RETURNED_UNACKNOWLEDGED else None
        return None if over is None else self._store.journal.setpoint_passed(state.alarm_id, over.ended_ms)

    def _seen(self, state: AlarmState) -> tuple[str, int] | None:
        """Who acknowledged the present excursion of an alarm, and when."""
        if state.status is AlarmStatus.NORMAL or not state.acknowledged or state.since_ms is None:
            return None
        return self._store.journal.acknowledged(state.alarm_id, state.since_ms)

    def _beyond(self, place_id: str, alarms: Iterable[ActiveAlarm]) -> tuple[ActiveAlarm, ...]:
        """The alarms that do not stand although a fresh value is beyond their limit now."""
        told = {(alarm.rule.quantity, alarm.rule.side) for alarm in alarms if alarm.stands}
        rules = (
            rule
            for quantity in self._current.get(place_id, {})
            for rule in self._plan.rules_of(place_id, quantity)
            if (rule.quantity, rule.side) not in told and not self._is_said(rule)
        )
        found = (self.alarm(rule.alarm_id) for rule in rules)
        return gravest_of_each(alarm for alarm in found if alarm.fresh and alarm.beyond)

    def _is_said(self, rule: AlarmRule) -> bool:
        """Whether a person put it aside, which is told as such, or wants it so: a bin that is to dry."""
        state = self._states.get(rule.alarm_id)
        if rule.place in self._plan.unguarded or (state is not None and state.status in SET_ASIDE):
            return True
        held = state is not None and state.status is AlarmStatus.SUPPRESSED_BY_DESIGN
        return held and (rule.quantity, rule.side) in DRYNESS

    def _value(self, rule: AlarmRule) -> float | None:
        """Highest or lowest value of its place that is to be trusted; None without one, or if computed."""
        if rule.quantity == Computed.SILENT_MINUTES:
            facts = self._facts.get(rule.place)
            heard = facts is not None and facts.messages > 0
            return (self._now_ms - facts.last_heard_ms) / MS_PER_MINUTE if facts and heard else None
        moisture = self._bin_moisture(rule.place, rule.quantity)
        if moisture is not None:
            return moisture.share
        measured = self._current.get(rule.place, {}).get(rule.quantity, [])
        usable = [current.value for current in measured if current.usable]
        if not usable:
            return None
        return max(usable) if rule.side is Side.HIGH else min(usable)

    def _last_known(self, rule: AlarmRule, state: AlarmState) -> float | None:
        measured = self._current.get(rule.place, {}).get(rule.quantity, [])
        old = [current.value for current in measured if current.flag not in (Flag.FAIL, Flag.MISSING)]
        if not old:
            return state.last_value if state.active else None
        return max(old) if rule.side is Side.HIGH else min(old)

    def _per_hour(self, place_id: str, quantity: str, side: Side) -> float | None:
        """The change of the sensor that a side looks at: of the value that is shown with it, or of none."""
        usable = [it for it in self._current.get(place_id, {}).get(quantity, ()) if it.usable]
        if not usable or self._bin_moisture(place_id, quantity) is not None:
            return None
        chosen = (max if side is Side.HIGH else min)(usable, key=lambda current: current.value)
        if chosen.sensor not in self._slopes:
            self._slopes[chosen.sensor] = self._slope(chosen)
        return self._slopes[chosen.sensor]

    def _slope(self, current: Current) -> float | None:
        start_ms = current.at_ms - TREND_WINDOW_MS
        span = start_ms - start_ms % MS_PER_MINUTE, current.at_ms + 1
        recent = self._store.readings.usable(current.sensor, *span, self._calibrations)
        return change_per_hour(current.quantity, recent)


def report_now(stored: StoredReport, silent: bool, program: str, now_ms: int) -> ReportNow:
    """A board's last report as it is to be taken now; `program` is the version that comes with us."""
    report = stored.report

    def lately(at_ms: int | None) -> bool:
        return at_ms is not None and now_ms - at_ms <= LATELY_MS

    return ReportNow(
        report=report,
        is_current=not silent and now_ms - report.received_ms <= REPORT_HOLDS_MS,
        signal=_signal(report.rssi_dbm),
        lost_lately=lately(stored.lost_grew_ms),
        damaged_lately=lately(stored.damaged_grew_ms),
        reset_lately=lately(stored.bad_reset_ms),
        newer_program=program if is_older(report.version, program) else "",
        settings_in_force=None if stored.published is None else report.settings == stored.published,
    )


def _signal(rssi_dbm: int | None) -> Signal | None:
    if rssi_dbm is None:
        return None
    if rssi_dbm >= GOOD_DBM:
        return Signal.GOOD
    return Signal.WEAK if rssi_dbm >= WEAK_DBM else Signal.TOO_WEAK


def _by_place(alarms: Iterable[ActiveAlarm]) -> dict[str, list[ActiveAlarm]]:
    by_place: dict[str, list[ActiveAlarm]] = {}
    for alarm in alarms:
        by_place.setdefault(alarm.rule.place, []).append(alarm)
    return by_place


def limits_of(plan: Plan, place_id: str, quantity: str) -> tuple[float | None, float | None]:
    """Between which values of a quantity no alarm of a place comes, as far as there are such bounds."""
    rules = plan.rules_of(place_id, quantity)
    lows = (rule.setpoint for rule in rules if rule.side is Side.LOW)
    highs = (rule.setpoint for rule in rules if rule.side is Side.HIGH)
    return max(lows, default=None), min(highs, default=None)


def is_silent(plan: Plan, facts: NodeFacts | None, node: str, now_ms: int) -> bool:
    """Whether a node has been quiet for longer than it may; one never heard is silent."""
    if facts is None or facts.messages == 0:
        return node in plan.nodes and node not in plan.said.boards_aside
    if node not in plan.nodes or node in plan.said.boards_aside:
        return False
    limit_s = stale_after_s(plan.nodes[node], facts.silence_limit_s)
    return now_ms - facts.last_heard_ms > limit_s * MS_PER_SECOND


def never_heard(node: str) -> NodeFacts:
    """The facts of a node that is in the settings but was never heard."""
    return NodeFacts(node, 0, 0, None, None, None, None, 0, 0, 0, 0, 0, None, "", b"", None)
