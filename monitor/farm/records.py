"""What the farm knows, as data: places and boards now, a night, and what it asks of the day.

Values are calibrated and in canonical units; the sentences about them are made in `words`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from typing import TYPE_CHECKING

from monitor.records import (
    MS_PER_MINUTE,
    STANDING,
    AlarmRule,
    AlarmState,
    Flag,
    NodeFacts,
    PlaceKind,
    Priority,
    Quantity,
    SensorKey,
    Stage,
)

if TYPE_CHECKING:
    from monitor.bins.outlook import MoistureOutlook
    from monitor.farm.bins import BinView, HeatView
    from monitor.farm.cohorts import CohortView, DueEvent
    from monitor.farm.due import DueToday, Outlook

QUIET_GAP_MINUTES = 30.0
"""A night in which a quantity was silent for longer is not called quiet [min]. Own choice."""
_AIR = (Quantity.AIR_TEMPERATURE, Quantity.AIR_HUMIDITY)
MATTERS: Mapping[PlaceKind, Sequence[str]] = {
    PlaceKind.ROOM: _AIR,
    PlaceKind.LOVE_CAGE: (*_AIR, Quantity.LIGHT),
    PlaceKind.HATCHING_TRAY: _AIR,
    PlaceKind.GROW_OUT_BIN: (Quantity.SUBSTRATE_TEMPERATURE, Quantity.SUBSTRATE_MOISTURE),
    PlaceKind.PUPATION_BOX: _AIR,
}
"""The quantities that matter to what lives in a place, the most important first."""


class PlaceState(StrEnum):
    """The state of a place, the most urgent first: the priority of its gravest alarm, or another."""

    HIGH = "high"
    MEDIUM = "medium"
    LOW = "low"
    UNKNOWN = "unknown"
    FINE = "fine"
    EMPTY = "empty"

    @property
    def rank(self) -> int:
        return list(PlaceState).index(self)

    @property
    def alarmed(self) -> bool:
        return self in (PlaceState.HIGH, PlaceState.MEDIUM, PlaceState.LOW)


class Unguarded(StrEnum):
    """Why no alarm of a place can come."""

    EMPTY = "empty"
    NO_RULE = "no_rule"


@dataclass(frozen=True, slots=True)
class Current:
    """The newest value of one sensor. It is stale when it is older than its board may be silent."""

    quantity: str
    probe: str
    node: str
    at_ms: int
    value: float
    flag: int
    stale: bool

    @property
    def usable(self) -> bool:
        return not self.stale and self.flag not in (Flag.FAIL, Flag.MISSING)

    @property
    def sensor(self) -> SensorKey:
        return SensorKey(self.node, self.probe, self.quantity)


@dataclass(frozen=True, slots=True)
class QuantityNow:
    """One quantity of a place now: its sensors, the limits that guard it, and where it is heading.

    `low_limit` is the highest setpoint of the low side, `high_limit` the lowest one of the high side.
    `per_hour` is its change in an hour, None where too few readings tell.
    """

    quantity: str
    sensors: tuple[Current, ...]
    low_limit: float | None
    high_limit: float | None
    per_hour: float | None

    @property
    def usable(self) -> tuple[Current, ...]:
        return tuple(current for current in self.sensors if current.usable)

    @property
    def newest(self) -> Current:
        """The value that was measured last, whatever it is worth."""
        return max(self.sensors, key=lambda current: current.at_ms)

    @property
    def lowest(self) -> float:
        """The lowest value of the sensors that can be trusted; ValueError where there is none."""
        return min(current.value for current in self.usable)

    @property
    def highest(self) -> float:
        """The highest value of the sensors that can be trusted; ValueError where there is none."""
        return max(current.value for current in self.usable)

    @property
    def doubtful(self) -> bool:
        """Whether a sensor that it rests on is flagged suspect."""
        return any(current.flag == Flag.SUSPECT for current in self.usable)


@dataclass(frozen=True, slots=True)
class ActiveAlarm:
    """An alarm with its rule, its state (since when, the farthest value) and the title of its place.

    `value` is what it looks at now, None where that is not known; `per_hour` is its change in an hour.
    """

    rule: AlarmRule
    state: AlarmState
    title: str
    value: float | None = None
    per_hour: float | None = None

    @property
    def stands(self) -> bool:
        """Whether it is active and nobody has shelved it or taken it out of service."""
        return self.state.status in STANDING


@dataclass(frozen=True, slots=True)
class PlaceNow:
    """All that is so at one place now. `stage` is what lives there; None for a room.

    Its bin, its cohorts and what is due are worked out when they are first looked at, while the store is
    open.
    """

    id: str
    title: str
    kind: PlaceKind
    room: str
    stage: Stage | None
    unguarded: Unguarded | None
    quantities: tuple[QuantityNow, ...]
    alarms: tuple[ActiveAlarm, ...]
    outlook: Outlook = field(compare=False, repr=False)

    @property
    def empty(self) -> bool:
        """Whether nothing lives there, as the settings or the logbook say."""
        return self.unguarded is Unguarded.EMPTY

    @property
    def current(self) -> tuple[Current, ...]:
        """The newest value of each of its sensors."""
        return tuple(current for quantity in self.quantities for current in quantity.sensors)

    @property
    def known(self) -> bool:
        """Whether a fresh reading tells anything about it."""
        return any(quantity.usable for quantity in self.quantities)

    @property
    def state(self) -> PlaceState:
        """The gravest priority of the alarms that stand here; else empty, unknown or fine."""
        standing = self.standing
        if standing:
            return PlaceState(standing[0].rule.priority)
        if self.empty:
            return PlaceState.EMPTY
        return PlaceState.FINE if self.known else PlaceState.UNKNOWN

    @property
    def standing(self) -> tuple[ActiveAlarm, ...]:
        """The alarms that stand, the gravest first."""
        order = list(Priority)
        standing = (alarm for alarm in self.alarms if alarm.stands)
        return tuple(sorted(standing, key=lambda alarm: order.index(alarm.rule.priority)))

    @property
    def gravest(self) -> tuple[ActiveAlarm, ...]:
        """Of the alarms that stand on one side of one quantity only the gravest: it includes the others."""
        first: dict[tuple[str, str], ActiveAlarm] = {}
        for alarm in self.standing:
            first.setdefault((alarm.rule.quantity, alarm.rule.side), alarm)
        return tuple(first.values())

    @property
    def without_alarm(self) -> tuple[QuantityNow, ...]:
        """The quantities of which no standing alarm tells."""
        alarmed = {alarm.rule.quantity for alarm in self.standing}
        return tuple(quantity for quantity in self.quantities if quantity.quantity not in alarmed)

    @property
    def mattering(self) -> tuple[QuantityNow, ...]:
        """Of these what matters to what lives there; all of them where nothing that matters is measured."""
        matters = {quantity.quantity for quantity in self.quantities} & set(MATTERS[self.kind])
        return tuple(
            quantity for quantity in self.without_alarm if quantity.quantity in matters or not matters
        )

    @property
    def bin(self) -> BinView | None:
        """What the logbook and the readings tell of what was filled into it."""
        bins = self.outlook.bins
        return None if bins is None else bins.of(self.id)

    @property
    def heat(self) -> HeatView | None:
        """Excess over the air and minutes to the limit."""
        return None if self.bin is None else self.bin.heat

    @property
    def moisture(self) -> MoistureOutlook | None:
        """Moisture with its band, hours to dry, and litres."""
        return None if self.bin is None else self.bin.outlook

    @property
    def cohorts(self) -> tuple[CohortView, ...]:
        forecast = self.outlook.forecast
        return () if forecast is None else tuple(view for view in forecast.cohorts if view.place == self.id)

    @property
    def due(self) -> tuple[DueEvent, ...]:
        """What is due of its cohorts: overdue, today, this week."""
        names = {view.cohort.name for view in self.cohorts}
        forecast = self.outlook.forecast
        if forecast is None:
            return ()
        due = (*forecast.overdue, *forecast.today, *forecast.week)
        return tuple(event for event in due if event.cohort in names)


@dataclass(frozen=True, slots=True)
class SiteNow:
    """The whole site now, the worst place first. `service_alive` is False after minutes without a sign."""

    title: str
    now_ms: int
    places: tuple[PlaceNow, ...]
    site_alarms: tuple[ActiveAlarm, ...]
    service_alive: bool
    last_alive_ms: int | None

    @property
    def alarmed(self) -> int:
        """How many places have an alarm that stands."""
        return sum(place.state.alarmed for place in self.places)

    @property
    def unknown(self) -> int:
        """Of how many places nothing is known."""
        return sum(place.state is PlaceState.UNKNOWN for place in self.places)

    @property
    def own_alarms(self) -> tuple[ActiveAlarm, ...]:
        """The standing alarms of boards and of the monitor itself."""
        return tuple(alarm for alarm in self.site_alarms if alarm.stands)

    @property
    def wrong(self) -> bool:
        """Whether anything needs a person: a standing alarm, a place unknown, or a service that is dead."""
        return bool(self.alarmed or self.unknown or self.own_alarms or not self.service_alive)


@dataclass(frozen=True, slots=True)
class NodeRow:
    """One board: its facts, its places by title, whether it is silent, its battery [V].

    `known` is False for a board that the settings do not name; `battery_low_v` is the limit that they set.
    `calibrated_ms` is when its newest calibration began to hold.
    """

    facts: NodeFacts
    place: str
    known: bool
    silent: bool
    battery_v: float | None
    battery_low_v: float | None = None
    out_of_service: bool = False
    calibrated_ms: int | None = None

    @property
    def placed(self) -> bool:
        return bool(self.place)

    @property
    def heard(self) -> bool:
        return self.facts.messages > 0

    @property
    def battery_is_low(self) -> bool:
        """Whether its battery is below the limit that the settings set."""
        low_v = self.battery_low_v
        return low_v is not None and self.battery_v is not None and self.battery_v < low_v

    @property
    def needs_care(self) -> bool:
        """Whether somebody should look after it, as far as the board itself tells."""
        facts = self.facts
        trouble = facts.clock_fault or facts.missing or facts.conflicts or facts.rejected
        is_quiet = self.silent and not self.out_of_service
        return bool(is_quiet or not self.placed or self.battery_is_low or trouble)


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
    """Degree-days earned in the night above a threshold, with the hours that were not measured.

    `measured` is the quantity that they rest on. `in_doubt` is True where it is the air although the animals
    live in substrate, since a dense bin can run many degrees hotter.
    """

    earned: float
    threshold_c: float
    measured: str
    hours_missing: float
    in_doubt: bool = False


@dataclass(frozen=True, slots=True)
class PlaceNight:
    """One place over the night.

    `missing` are guarded quantities of which no usable reading came; `known_at_end` tells whether the newest
    reading was fresh when the night ended; `failed` names the error of the program that left it unread.
    """

    id: str
    title: str
    kind: PlaceKind
    empty: bool
    quantities: tuple[QuantityNight, ...]
    air: AirNight | None
    degree_days: DegreeDays | None
    missing: tuple[str, ...] = ()
    known_at_end: bool = True
    failed: str = ""

    @property
    def out_minutes(self) -> float:
        """For how long the quantity that was out of range longest was so; 0 where nothing lives."""
        return 0.0 if self.empty else max((each.minutes_out for each in self.quantities), default=0.0)

    @property
    def gap_minutes(self) -> float:
        """The longest silence of any of its quantities; 0 where nothing lives."""
        return 0.0 if self.empty else max((each.gap_minutes for each in self.quantities), default=0.0)

    def seen_minutes(self, night_minutes: float) -> float:
        """For how long the best measured quantity of the place was measured."""
        return max((night_minutes - quantity.gap_minutes for quantity in self.quantities), default=0.0)


@dataclass(frozen=True, slots=True)
class AlarmNight:
    """One annunciation of the night: what, when, how far, who acknowledged, when it ended or was hidden.

    One that stood when the night began is among them. `again_ms` is when it was annunciated anew after it had
    been put aside.
    """

    title: str
    rule: AlarmRule | None
    priority: Priority
    alarm_id: str
    began_ms: int
    value: float | None
    extreme: float | None = None
    acknowledged_by: str = ""
    acknowledged_ms: int | None = None
    cleared_ms: int | None = None
    reason: str = ""
    hidden: bool = False
    aside_by: str = ""
    aside_ms: int | None = None
    again_ms: int | None = None

    @property
    def over_ms(self) -> int | None:
        """When it was over, held back, or annunciated anew; None while it goes on."""
        return self.again_ms if self.cleared_ms is None else self.cleared_ms


@dataclass(frozen=True, slots=True)
class LateExcursion:
    """An excursion that was over before its readings arrived, so nobody was woken."""

    title: str
    rule: AlarmRule
    began_ms: int
    ended_ms: int
    extreme: float


@dataclass(frozen=True, slots=True)
class NightSummary:
    """What happened in one night. `until_ms` is how far a night that is not over yet has come.

    The newest night speaks of now (`of_now`); an earlier one of its own end: `still_active` and `set_aside`
    are the alarms that stood, and those shelved or out of service, then. `unsent_messages` were made since
    the report before. `unknown` is of how many places nothing is known then, `running` whether the
    monitor runs, `began_ms` its first start, `heartbeat_lost_ms` since when the heartbeat is not taken.
    `failed` names the parts that could not be worked out, each with the error of the program.
    """

    title: str
    date: str
    start_ms: int
    end_ms: int
    places: tuple[PlaceNight, ...]
    alarms: tuple[AlarmNight, ...]
    found_late: tuple[LateExcursion, ...]
    still_active: tuple[ActiveAlarm, ...]
    downtime: tuple[tuple[int, int], ...]
    unsent_messages: int = 0
    set_aside: tuple[ActiveAlarm, ...] = ()
    until_ms: int | None = None
    of_now: bool = True
    unknown: int = 0
    running: bool = True
    began_ms: int | None = None
    heartbeat_lost_ms: int | None = None
    failed: Mapping[str, str] = field(default_factory=dict)

    @property
    def told_to_ms(self) -> int:
        """Up to when it tells: the end of the night, or now while it lasts."""
        return self.end_ms if self.until_ms is None else self.until_ms

    @property
    def over(self) -> bool:
        return self.told_to_ms >= self.end_ms

    @property
    def blind_places(self) -> int:
        """Places with animals in which nothing was measured for half of the night or more."""
        minutes = (self.told_to_ms - self.start_ms) / MS_PER_MINUTE
        return sum(not place.empty and place.seen_minutes(minutes) <= minutes / 2 for place in self.places)

    @property
    def out_places(self) -> tuple[PlaceNight, ...]:
        """Places with animals that were out of range for a minute or more."""
        return tuple(place for place in self.places if place.out_minutes >= 1.0)

    @property
    def gap_places(self) -> tuple[PlaceNight, ...]:
        """Places with animals of which a quantity was silent for longer than a quiet night allows."""
        return tuple(
            place
            for place in self.places
            if place.gap_minutes > QUIET_GAP_MINUTES or (place.missing and not place.empty)
        )

    @property
    def known(self) -> bool:
        """Whether enough is known to say that all is well."""
        failed = self.failed or any(place.failed for place in self.places)
        return not (failed or self.blind_places or self.unknown or not self.running)

    @property
    def quiet(self) -> bool:
        """Whether nothing at all happened, and the monitor saw it."""
        happened = self.alarms or self.still_active or self.found_late or self.downtime
        return self.known and not (happened or self.out_places or self.gap_places)


@dataclass(frozen=True, slots=True)
class DoubtfulSensor:
    """A sensor that gave doubtful readings for so many minutes of the night."""

    sensor: SensorKey
    minutes: float


@dataclass(frozen=True, slots=True)
class BoardCare:
    """A board that a person should look after."""

    row: NodeRow
    doubtful: tuple[DoubtfulSensor, ...]


@dataclass(frozen=True, slots=True)
class NightReport:
    """A night, and what it asks of the day: boards to look after, bins to water, damp walls, cohorts."""

    night: NightSummary
    boards: tuple[BoardCare, ...] = ()
    due: DueToday | None = None
    boards_failed: str = ""


@dataclass(frozen=True, slots=True)
class WeekCell:
    """One place in one night: lowest and highest value (None without readings), and the gravest alarm."""

    low: float | None
    high: float | None
    worst: Priority | None


@dataclass(frozen=True, slots=True)
class WeekRow:
    """The quantity that matters most in one place, night by night."""

    place: str
    title: str
    quantity: str
    cells: tuple[WeekCell, ...]
