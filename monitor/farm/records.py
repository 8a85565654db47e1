"""What the farm knows, as data: places and boards now, a night, and what it asks of the day.

Values are calibrated and in canonical units; the sentences about them are made in `words`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from typing import TYPE_CHECKING

from monitor.alarms.rules import LIVING_EXCESS_K, LIVING_MOISTURE
from monitor.alarms.timing import Delay, Phase, past_excursion, phase_of, running_delay
from monitor.board_records import BoardReport
from monitor.logbook.place_entries import Unguarded, Why
from monitor.records import (
    STANDING,
    AlarmRule,
    AlarmState,
    AlarmStatus,
    Excursion,
    Flag,
    NodeFacts,
    PlaceKind,
    Priority,
    Quantity,
    SensorKey,
    Side,
    Stage,
)

if TYPE_CHECKING:
    from monitor.bins.outlook import MoistureOutlook
    from monitor.errors import Sentence
    from monitor.farm.bins import BinView, HeatView
    from monitor.farm.cohorts import CohortView, DueEvent
    from monitor.farm.today import Outlook

_AIR = (Quantity.AIR_TEMPERATURE, Quantity.AIR_HUMIDITY)
MATTERS: Mapping[PlaceKind, Sequence[str]] = {
    PlaceKind.ROOM: _AIR,
    PlaceKind.LOVE_CAGE: (*_AIR, Quantity.LIGHT),
    PlaceKind.HATCHING_TRAY: _AIR,
    PlaceKind.GROW_OUT_BIN: (Quantity.SUBSTRATE_TEMPERATURE, Quantity.SUBSTRATE_MOISTURE),
    PlaceKind.PUPATION_BOX: _AIR,
}
"""The quantities that matter to what lives in a place, the most important first."""
_GRAVITY = {priority: at for at, priority in enumerate(Priority)}


class PlaceState(StrEnum):
    """The state of a place, the most urgent first: the priority of its gravest alarm, or another.

    BEYOND is a value beyond its limit while no alarm of it stands yet: in its on-delay, or held back.
    """

    HIGH = "high"
    MEDIUM = "medium"
    LOW = "low"
    BEYOND = "beyond"
    UNKNOWN = "unknown"
    UNGUARDED = "unguarded"
    FINE = "fine"
    EMPTY = "empty"

    @property
    def rank(self) -> int:
        return list(PlaceState).index(self)

    @property
    def alarmed(self) -> bool:
        return self in (PlaceState.HIGH, PlaceState.MEDIUM, PlaceState.LOW)


class Sign(StrEnum):
    """What speaks for animals in a place."""

    LIVED_IN = "lived_in"
    ALARM = "alarm"
    WARM = "warm"
    MOIST = "moist"


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


class MoistureBasis(StrEnum):
    """What the moisture of a bin rests on: a calibrated probe as well, or only what was entered."""

    PROBE = "probe"
    ENTERED = "entered"


@dataclass(frozen=True, slots=True)
class BinMoisture:
    """The one figure of a filled bin's moisture [ratio], and what it rests on."""

    share: float
    basis: MoistureBasis


@dataclass(frozen=True, slots=True)
class QuantityNow:
    """One quantity of a place now: its sensors, the limits that guard it, and where it is heading.

    `bin_moisture` stands in for the sensors of a filled bin whose moisture is worked out.
    `low_limit` is the highest setpoint of the low side, `high_limit` the lowest one of the high side.
    `per_hour` is its change in an hour, None where too few readings tell.
    """

    quantity: str
    sensors: tuple[Current, ...]
    low_limit: float | None
    high_limit: float | None
    per_hour: float | None
    bin_moisture: BinMoisture | None = None
    is_index: bool = False
    """True for a moisture probe whose reading is no moisture: nothing says what it means here."""

    @property
    def usable(self) -> tuple[Current, ...]:
        return tuple(current for current in self.sensors if current.usable)

    @property
    def watched(self) -> bool:
        """Whether an alarm looks at it."""
        return not self.is_index and (self.low_limit is not None or self.high_limit is not None)

    @property
    def newest(self) -> Current:
        """The value that was measured last, whatever it is worth."""
        return max(self.sensors, key=lambda current: current.at_ms)

    @property
    def lowest(self) -> float:
        """The lowest value of the sensors that can be trusted; ValueError where there is none."""
        if self.bin_moisture is not None:
            return self.bin_moisture.share
        return min(current.value for current in self.usable)

    @property
    def highest(self) -> float:
        """The highest value of the sensors that can be trusted; ValueError where there is none."""
        if self.bin_moisture is not None:
            return self.bin_moisture.share
        return max(current.value for current in self.usable)

    @property
    def doubtful(self) -> bool:
        """Whether a sensor that it rests on is flagged suspect."""
        return any(current.flag == Flag.SUSPECT for current in self.usable)


@dataclass(frozen=True, slots=True)
class ActiveAlarm:
    """An alarm with its rule, its state (since when, the farthest value) and the title of its place.

    `value` is what it looks at now, else the last that it looked at (`fresh` is False), None where none is
    known; `per_hour` is its change in an hour. `boards` are those that one alarm names. `seen` is who
    acknowledged its present excursion, and when. `setpoint_then` is the limit of the time of an
    excursion that is over.
    """

    rule: AlarmRule
    state: AlarmState
    title: str
    value: float | None = None
    per_hour: float | None = None
    fresh: bool = True
    boards: tuple[str, ...] = ()
    seen: tuple[str, int] | None = None
    setpoint_then: float | None = None

    @property
    def limit_passed(self) -> float:
        """The limit of the excursion that it tells of: that of its time, of one that is over."""
        then = self.setpoint_then
        return self.rule.setpoint if self.over is None or then is None else then

    @property
    def phase(self) -> Phase:
        """Where its value stands to its limit: beyond, back while the off-delay runs, and so on."""
        return phase_of(self.rule, self.state.active, self.value)

    @property
    def is_out(self) -> bool:
        """Whether the present excursion is not over: it stands, or the value is beyond its limit now."""
        return self.state.active or self.beyond

    @property
    def over(self) -> Excursion | None:
        """The excursion that is over, of an alarm that nobody has acknowledged since."""
        returned = self.state.status is AlarmStatus.RETURNED_UNACKNOWLEDGED
        return past_excursion(self.state) if returned else None

    @property
    def delay(self) -> Delay | None:
        """The on-delay or off-delay that runs, as far as the stored state agrees with the value."""
        known = phase_of(self.rule, self.state.active, self.state.last_value) is self.phase
        return running_delay(self.state, self.rule) if known else None

    @property
    def stands(self) -> bool:
        """Whether it is active and nobody has shelved it or taken it out of service."""
        return self.state.status in STANDING

    @property
    def beyond(self) -> bool:
        """Whether what it looks at is beyond its limit now, whoever may have put it aside."""
        if self.value is None:
            return False
        rule = self.rule
        return self.value > rule.setpoint if rule.side is Side.HIGH else self.value < rule.setpoint


def gravest_of_each(alarms: Iterable[ActiveAlarm]) -> tuple[ActiveAlarm, ...]:
    """Of each side of each quantity the alarm of the highest priority, the gravest first."""
    order = list(Priority)
    first: dict[tuple[str, str], ActiveAlarm] = {}
    for alarm in sorted(alarms, key=lambda alarm: order.index(alarm.rule.priority)):
        first.setdefault((alarm.rule.quantity, alarm.rule.side), alarm)
    return tuple(first.values())


@dataclass(frozen=True, slots=True)
class PlaceNow:
    """All that is so at one place now. `stage` is what lives there; None for a room.

    `beyond` are the alarms that do not stand although the value is beyond the limit now, the gravest of each.
    `unguarded` says why nothing guards it, who said so and how to undo it. With `asks` the logbook names no
    animals in it any more and it is guarded all the same, until a person says that it is empty. `removed` are
    alarms that the settings took away; `boards_aside` are boards in it to which nobody listens, `unheard`
    those that were never heard. `excess_k` is by how much its substrate is warmer than the air of its room
    [K], None where that is not measured; `lived_in` is whether the logbook names animals in it. Its bin, its
    cohorts and what is due are worked out when they are first looked at, while the store is open.
    """

    id: str
    title: str
    kind: PlaceKind
    room: str
    stage: Stage | None
    unguarded: Unguarded | None
    quantities: tuple[QuantityNow, ...]
    alarms: tuple[ActiveAlarm, ...]
    beyond: tuple[ActiveAlarm, ...]
    outlook: Outlook = field(compare=False, repr=False)
    asks: bool = False
    removed: tuple[ActiveAlarm, ...] = ()
    boards_aside: Mapping[str, Unguarded] = field(default_factory=dict)
    unheard: tuple[str, ...] = ()
    excess_k: float | None = None
    lived_in: bool = False

    @property
    def empty(self) -> bool:
        """Whether nothing lives there, as a person or the settings say."""
        return self.unguarded is not None and self.unguarded.why in (Why.EMPTY, Why.FILE)

    @property
    def signs(self) -> tuple[Sign, ...]:
        """What speaks for animals in it: the logbook, an alarm, warmth or moisture as in a living bin."""
        moisture = (each for each in self.quantities if each.quantity == Quantity.SUBSTRATE_MOISTURE)
        found = {
            Sign.LIVED_IN: self.lived_in,
            Sign.ALARM: bool(self.standing),
            Sign.WARM: self.excess_k is not None and self.excess_k >= LIVING_EXCESS_K,
            Sign.MOIST: any(each.usable and each.highest >= LIVING_MOISTURE for each in moisture),
        }
        return tuple(sign for sign, holds in found.items() if holds)

    @property
    def put_aside(self) -> tuple[ActiveAlarm, ...]:
        """The alarms that a person shelved, took out of service or removed in the settings."""
        hidden = (AlarmStatus.SHELVED, AlarmStatus.OUT_OF_SERVICE)
        return (*(alarm for alarm in self.alarms if alarm.state.status in hidden), *self.removed)

    @property
    def current(self) -> tuple[Current, ...]:
        """The newest value of each of its sensors."""
        return tuple(current for quantity in self.quantities for current in quantity.sensors)

    @property
    def known(self) -> bool:
        """Whether a fresh reading tells anything about it that an alarm looks at."""
        return any(quantity.usable and quantity.watched for quantity in self.quantities)

    @property
    def measured(self) -> bool:
        """Whether there is a fresh reading of it, be it one that no alarm looks at."""
        return any(quantity.usable for quantity in self.quantities)

    @property
    def state(self) -> PlaceState:
        """The gravest priority of the alarms that stand here; else one of the other states.

        Fine is only what is guarded, measured, and within the limits of alarms that were put aside too.
        """
        standing = self.standing
        if standing:
            return PlaceState(standing[0].rule.priority)
        if self.unguarded is not None:
            return PlaceState.EMPTY if self.empty else PlaceState.UNGUARDED
        if self.beyond:
            return PlaceState.BEYOND
        if not self.known:
            return PlaceState.UNKNOWN
        return PlaceState.UNGUARDED if any(alarm.beyond for alarm in self.put_aside) else PlaceState.FINE

    @property
    def standing(self) -> tuple[ActiveAlarm, ...]:
        """The alarms that stand, the gravest first."""
        if not self.alarms:
            return ()
        standing = (alarm for alarm in self.alarms if alarm.stands)
        return tuple(sorted(standing, key=lambda alarm: _GRAVITY[alarm.rule.priority]))

    @property
    def gravest(self) -> tuple[ActiveAlarm, ...]:
        """Of the alarms that stand on one side of one quantity only the gravest: it includes the others."""
        return gravest_of_each(self.standing)

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
    """The whole site now, the worst place first. `service_alive` is False after minutes without a sign.

    `carried` is what was found, a few days ago at most, when an old logbook was carried over.
    """

    title: str
    now_ms: int
    places: tuple[PlaceNow, ...]
    site_alarms: tuple[ActiveAlarm, ...]
    service_alive: bool
    last_alive_ms: int | None
    carried: tuple[Sentence, ...] = ()

    @property
    def alarmed(self) -> int:
        """How many places have an alarm that stands."""
        return sum(place.state.alarmed for place in self.places)

    @property
    def beyond(self) -> int:
        """How many places have a value beyond its limit and no alarm that stands."""
        return sum(place.state is PlaceState.BEYOND for place in self.places)

    @property
    def unknown(self) -> int:
        """Of how many places nothing is known."""
        return sum(place.state is PlaceState.UNKNOWN for place in self.places)

    @property
    def unguarded(self) -> int:
        """How many places are not guarded though somebody may think so: put aside, or without an alarm."""
        return sum(place.state is PlaceState.UNGUARDED for place in self.places)

    @property
    def own_alarms(self) -> tuple[ActiveAlarm, ...]:
        """The standing alarms of boards and of the monitor itself."""
        return tuple(alarm for alarm in self.site_alarms if alarm.stands)

    @property
    def wrong(self) -> bool:
        """Whether not all is well: an alarm, a value beyond its limit, a place unknown, no service."""
        lacking = self.unknown or self.beyond or not self.service_alive
        return bool(self.alarmed or self.own_alarms or lacking)


class Signal(StrEnum):
    """How well a board hears the network."""

    GOOD = "good"
    WEAK = "weak"
    TOO_WEAK = "too_weak"


@dataclass(frozen=True, slots=True)
class ReportNow:
    """What a board says of itself, and what of it is so now.

    `is_current`: the board is still there and reports. `lost_lately` and the like: within the last day.
    """

    report: BoardReport
    is_current: bool
    signal: Signal | None = None
    lost_lately: bool = False
    damaged_lately: bool = False
    reset_lately: bool = False
    newer_program: str = ""
    settings_in_force: bool | None = None

    @property
    def signal_is_weak(self) -> bool:
        return self.signal in (Signal.WEAK, Signal.TOO_WEAK)

    @property
    def needs_care(self) -> bool:
        """Whether a person has something to mend; of a board that is gone its silence says enough."""
        lately = self.lost_lately or self.damaged_lately or self.reset_lately
        to_mend = self.report.faults or self.report.refused or self.newer_program
        return self.is_current and bool(lately or to_mend or self.signal_is_weak)


@dataclass(frozen=True, slots=True)
class NodeRow:
    """One board: its facts, its places by title, whether it is silent, its battery [V].

    `known` is False for a board that the settings do not name; `battery_low_v` is the limit that they set.
    `calibrated_ms` is when its newest calibration began to hold; `aside` is who put it aside until when.
    """

    facts: NodeFacts
    place: str
    known: bool
    silent: bool
    battery_v: float | None
    battery_low_v: float | None = None
    out_of_service: bool = False
    calibrated_ms: int | None = None
    aside: Unguarded | None = None
    report: ReportNow | None = None
    boot_stands: bool = False

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
        trouble = (
            trouble
            or self.boot_stands
            or facts.boots_are_wakes
            or (self.report is not None and self.report.needs_care)
        )
        return bool(is_quiet or not self.placed or self.battery_is_low or trouble)
