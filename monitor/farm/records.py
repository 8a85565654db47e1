"""What the views hand to a person, before it is put into words: frozen, values in canonical units."""

from __future__ import annotations

from dataclasses import dataclass, field

from monitor.records import (
    MS_PER_MINUTE,
    STANDING,
    AlarmRule,
    AlarmState,
    Flag,
    NodeFacts,
    PlaceKind,
    Priority,
)


@dataclass(frozen=True, slots=True)
class Current:
    """The newest value of one sensor: when, how good, and how long ago it was heard [s]."""

    quantity: str
    probe: str
    node: str
    at_ms: int
    value: float
    flag: int
    stale: bool

    @property
    def usable(self) -> bool:
        """Whether it tells anything about its place now."""
        return not self.stale and self.flag not in (Flag.FAIL, Flag.MISSING)


@dataclass(frozen=True, slots=True)
class ActiveAlarm:
    """An alarm that is not normal, with its rule.

    `value` is what it looks at now, or None where that is not known: the stored state keeps only the value
    at its last change.
    """

    rule: AlarmRule
    state: AlarmState
    title: str
    value: float | None = None

    @property
    def stands(self) -> bool:
        """Whether it is active and nobody has shelved it or taken it out of service."""
        return self.state.status in STANDING


@dataclass(frozen=True, slots=True)
class PlaceNow:
    """One place now. `known` is False where no fresh reading tells anything about it."""

    id: str
    title: str
    kind: PlaceKind
    empty: bool
    current: tuple[Current, ...]
    alarms: tuple[ActiveAlarm, ...]
    known: bool

    @property
    def worst(self) -> Priority | None:
        """The gravest priority of the alarms that stand here."""
        order = (Priority.HIGH, Priority.MEDIUM, Priority.LOW)
        found = {alarm.rule.priority for alarm in self.alarms if alarm.stands}
        return next((priority for priority in order if priority in found), None)


@dataclass(frozen=True, slots=True)
class SiteNow:
    """The whole site now. `service_alive` is False when the service has shown no sign of life for minutes."""

    title: str
    now_ms: int
    places: tuple[PlaceNow, ...]
    site_alarms: tuple[ActiveAlarm, ...]
    service_alive: bool
    last_alive_ms: int | None

    @property
    def wrong(self) -> bool:
        """Whether anything needs a person: a standing alarm, a place unknown, or a service that is dead."""
        alarms = [*self.site_alarms, *(alarm for place in self.places for alarm in place.alarms)]
        unknown = any(not place.known and not place.empty for place in self.places)
        return unknown or not self.service_alive or any(alarm.stands for alarm in alarms)


@dataclass(frozen=True, slots=True)
class Extreme:
    """An extreme value and when it was measured."""

    value: float
    at_ms: int


@dataclass(frozen=True, slots=True)
class QuantityNight:
    """One quantity of one place over the night."""

    quantity: str
    lowest: Extreme
    highest: Extreme
    mean: float
    minutes_out: float
    gap_minutes: float


@dataclass(frozen=True, slots=True)
class AirNight:
    """What the air of a place did to moisture: drying power and condensation."""

    mean_deficit_pa: float
    highest_deficit_pa: float
    dew_point_c: float
    lowest_margin_k: float
    margin_at_ms: int
    minutes_condensing: float


@dataclass(frozen=True, slots=True)
class DegreeDays:
    """Degree-days earned in the night, on which threshold and temperature, with hours that were estimated."""

    earned: float
    threshold_c: float
    measured: str
    hours_missing: float


@dataclass(frozen=True, slots=True)
class PlaceNight:
    """One place over the night."""

    id: str
    title: str
    kind: PlaceKind
    empty: bool
    quantities: tuple[QuantityNight, ...]
    air: AirNight | None
    degree_days: DegreeDays | None

    def seen_minutes(self, night_minutes: float) -> float:
        """For how long the best measured quantity of the place was measured."""
        return max((night_minutes - quantity.gap_minutes for quantity in self.quantities), default=0.0)


@dataclass(frozen=True, slots=True)
class AlarmNight:
    """One annunciation of the night: what, when, how far, who acknowledged, when it ended or was hidden."""

    title: str
    rule: AlarmRule | None
    priority: Priority
    alarm_id: str
    began_ms: int
    value: float | None
    extreme: float | None
    acknowledged_by: str
    acknowledged_ms: int | None
    cleared_ms: int | None
    reason: str = ""
    hidden: bool = False


@dataclass(frozen=True, slots=True)
class LateExcursion:
    """An excursion that was over before its readings arrived, so nobody was woken."""

    title: str
    rule: AlarmRule
    began_ms: int
    ended_ms: int
    extreme: float


@dataclass(frozen=True, slots=True)
class NodeCare:
    """A node that a person should look after, and why, in words."""

    node: str
    place: str
    reasons: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class NightSection:
    """A part of the report that another view has put into words: a title and its lines."""

    title: str
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class NightSummary:
    """All that the night report says. `until_ms` is how far a night that is not over yet has come."""

    title: str
    date: str
    start_ms: int
    end_ms: int
    places: tuple[PlaceNight, ...]
    alarms: tuple[AlarmNight, ...]
    found_late: tuple[LateExcursion, ...]
    still_active: tuple[ActiveAlarm, ...]
    nodes: tuple[NodeCare, ...]
    downtime: tuple[tuple[int, int], ...]
    unsent_messages: int = 0
    notes: tuple[str, ...] = field(default=())
    sections: tuple[NightSection, ...] = ()
    until_ms: int | None = None

    @property
    def blind_places(self) -> int:
        """Places with animals in which nothing was measured for half of the night or more."""
        until_ms = self.end_ms if self.until_ms is None else self.until_ms
        minutes = (until_ms - self.start_ms) / MS_PER_MINUTE
        return sum(not place.empty and place.seen_minutes(minutes) <= minutes / 2 for place in self.places)


@dataclass(frozen=True, slots=True)
class NodeRow:
    """One line of the `nodes` view: facts, place, whether it is silent, battery [V]."""

    facts: NodeFacts
    place: str
    placed: bool
    silent: bool
    battery_v: float | None
