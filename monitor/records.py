"""Frozen records that travel between the rooms: readings, alarms, and what the store takes and gives.

Times are integers, milliseconds since 1970-01-01 UTC (`..._ms`); local time exists only in settings
and in texts. Values are in the canonical unit of their quantity (`QUANTITIES`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta, tzinfo
from enum import IntEnum, StrEnum

from monitor.board_records import Ask as Ask
from monitor.board_records import BoardReport as BoardReport
from monitor.board_records import NodeFacts as NodeFacts

MS_PER_SECOND = 1000
MS_PER_MINUTE = 60_000
MS_PER_HOUR = 3_600_000
MS_PER_DAY = 86_400_000
COMMAND_DONE, COMMAND_REFUSED = "done", "refused: "  # The reason follows, packed.


def local(at_ms: int, zone: tzinfo) -> datetime:
    """The local wall-clock time of an instant."""
    return (datetime.fromtimestamp(0, UTC) + timedelta(milliseconds=at_ms)).astimezone(zone)


def midnight_ms(at_ms: int, zone: tzinfo) -> int:
    """The midnight before an instant, by the local clock [ms since 1970 UTC]."""
    return round(local(at_ms, zone).replace(hour=0, minute=0, second=0, microsecond=0).timestamp() * 1000)


class Flag(IntEnum):
    """QARTOD quality flags."""

    PASS = 1
    NOT_EVALUATED = 2
    SUSPECT = 3
    FAIL = 4
    MISSING = 9

    @property
    def usable(self) -> bool:
        """Whether a reading so flagged may drive alarms and degree-days; suspect ones may."""
        return self not in (Flag.FAIL, Flag.MISSING)


class PlaceKind(StrEnum):
    """Kinds of place where insects live."""

    ROOM = "room"
    LOVE_CAGE = "love_cage"
    HATCHING_TRAY = "hatching_tray"
    GROW_OUT_BIN = "grow_out_bin"
    PUPATION_BOX = "pupation_box"


class Stage(StrEnum):
    """Life stages, in the order in which an insect with a prepupa passes them."""

    EGG = "egg"
    LARVA = "larva"
    PREPUPA = "prepupa"
    PUPA = "pupa"
    ADULT = "adult"


class Quantity(StrEnum):
    """What a sensor measures."""

    AIR_TEMPERATURE = "air_temperature"
    AIR_HUMIDITY = "air_humidity"
    SUBSTRATE_TEMPERATURE = "substrate_temperature"
    SUBSTRATE_MOISTURE = "substrate_moisture"
    SURFACE_TEMPERATURE = "surface_temperature"
    LIGHT = "light"
    BATTERY = "battery"
    CARBON_DIOXIDE = "carbon_dioxide"
    AMMONIA = "ammonia"


class Computed(StrEnum):
    """Quantities that are computed from readings and that rules can use like measured ones."""

    VAPOUR_PRESSURE_DEFICIT = "vapour_pressure_deficit"
    DEW_POINT = "dew_point"
    CONDENSATION_MARGIN = "condensation_margin"
    MINUTES_TO_OVERHEATING = "minutes_to_overheating"
    HOURS_TO_DRY = "hours_to_dry"
    SUBSTRATE_EXCESS = "substrate_excess"
    SILENT_MINUTES = "silent_minutes"
    SILENT_NODE_SHARE = "silent_node_share"
    UNHEARD_NODES = "unheard_nodes"
    DEAD_SENSOR_MINUTES = "dead_sensor_minutes"
    STORE_FAULT = "store_fault"
    BROKER_WAY_FAULT = "broker_way_fault"
    ARCHIVE_LAG_HOURS = "archive_lag_hours"
    COPY_AGE_HOURS = "copy_age_hours"
    COPY_BEHIND_HOURS = "copy_behind_hours"
    UNSENT_MESSAGE_MINUTES = "unsent_message_minutes"


@dataclass(frozen=True, slots=True)
class QuantityFacts:
    """Canonical unit (SenML symbol), its spelling for people, storage resolution, decimals shown.

    A setpoint outside `setpoints` is a slip of the unit; None where no setpoint is a person's choice.
    """

    unit: str
    shown_unit: str
    resolution: float
    decimals: int = 1
    setpoints: tuple[float, float] | None = None


TEMPERATURE_SETPOINTS_C = (-30.0, 70.0)
# Storage resolutions: finer than the sensors, multiples of them hit two decimals exactly, and what is usual
# (up to 65 °C, up to 100 %RH) fits into two bytes.
QUANTITIES: Mapping[str, QuantityFacts] = {
    Quantity.AIR_TEMPERATURE: QuantityFacts("Cel", "°C", 0.002, setpoints=TEMPERATURE_SETPOINTS_C),
    Quantity.AIR_HUMIDITY: QuantityFacts("%RH", "%RH", 0.005, 0, (1.0, 100.0)),
    Quantity.SUBSTRATE_TEMPERATURE: QuantityFacts("Cel", "°C", 0.002, setpoints=TEMPERATURE_SETPOINTS_C),
    Quantity.SUBSTRATE_MOISTURE: QuantityFacts("/", "", 0.0001, 0, (0.0, 1.0)),
    Quantity.SURFACE_TEMPERATURE: QuantityFacts("Cel", "°C", 0.002, setpoints=TEMPERATURE_SETPOINTS_C),
    Quantity.LIGHT: QuantityFacts("lx", "lx", 0.01, 0, (0.0, 200_000.0)),
    Quantity.BATTERY: QuantityFacts("V", "V", 0.001, 2, (0.0, 60.0)),
    Quantity.CARBON_DIOXIDE: QuantityFacts("ppm", "ppm", 0.01, 0, (0.0, 100_000.0)),
    Quantity.AMMONIA: QuantityFacts("ppm", "ppm", 0.001, setpoints=(0.0, 1_000.0)),
    Computed.VAPOUR_PRESSURE_DEFICIT: QuantityFacts("Pa", "Pa", 0.1, 0, (0.0, 20_000.0)),
    Computed.DEW_POINT: QuantityFacts("Cel", "°C", 0.01, setpoints=TEMPERATURE_SETPOINTS_C),
    Computed.CONDENSATION_MARGIN: QuantityFacts("K", "K", 0.01, setpoints=(-20.0, 40.0)),
    Computed.MINUTES_TO_OVERHEATING: QuantityFacts("min", "min", 0.1, 0),
    Computed.HOURS_TO_DRY: QuantityFacts("h", "h", 0.1, 0),
    Computed.SUBSTRATE_EXCESS: QuantityFacts("K", "K", 0.01, setpoints=(-20.0, 40.0)),
    Computed.SILENT_MINUTES: QuantityFacts("min", "min", 0.1, 0),
    Computed.DEAD_SENSOR_MINUTES: QuantityFacts("min", "min", 0.1, 0),
    Computed.SILENT_NODE_SHARE: QuantityFacts("/", "", 0.01, 0),
    Computed.UNHEARD_NODES: QuantityFacts("/", "", 1.0, 0),
    **dict.fromkeys((Computed.STORE_FAULT, Computed.BROKER_WAY_FAULT), QuantityFacts("/", "", 1.0)),
    **dict.fromkeys(
        (Computed.ARCHIVE_LAG_HOURS, Computed.COPY_AGE_HOURS, Computed.COPY_BEHIND_HOURS),
        QuantityFacts("h", "h", 0.1, 0),
    ),
    Computed.UNSENT_MESSAGE_MINUTES: QuantityFacts("min", "min", 0.1, 0),
}


@dataclass(frozen=True, slots=True, order=True)
class SensorKey:
    """One sensor: node, probe name ("" when the node has one sensor of the kind), quantity."""

    node: str
    probe: str
    quantity: str

    @property
    def measure(self) -> str:
        """What it measures as the settings write it: the quantity, or probe/quantity."""
        return f"{self.probe}/{self.quantity}" if self.probe else self.quantity

    def __str__(self) -> str:
        return "/".join(part for part in (self.node, self.probe, self.quantity) if part)


@dataclass(frozen=True, slots=True)
class Reading:
    """One raw value of one sensor at its time of measurement, in the canonical unit."""

    sensor: SensorKey
    at_ms: int
    value: float


@dataclass(frozen=True, slots=True)
class FlaggedReading:
    """A reading with its quality flag and its calibrated value (raw is what is stored)."""

    reading: Reading
    flag: Flag
    calibrated: float


class TimeSource(StrEnum):
    """Where the time of measurement of a message came from."""

    NODE = "node"
    RELATIVE = "relative"
    RECEIVED = "received"


@dataclass(frozen=True, slots=True)
class IncomingMessage:
    """One MQTT message as received. `age_s` is its time in the broker's queue where MQTT 5 tells it.

    The subscriber acknowledges by `token`. `redelivered`: the broker may have delivered it before. `live`: it
    did not wait in the broker, since all that had waited came before it.
    """

    topic: str
    payload: bytes
    received_ms: int
    retained: bool = False
    content_type: str | None = None
    age_s: float | None = None
    token: object = None
    redelivered: bool = False
    live: bool = False


@dataclass(frozen=True, slots=True)
class NodeMessage:
    """A readings message understood: readings in the order of time, and what identifies the message.

    `silence_limit_s` is how long the node may be silent (SenML `ut`); `clock_fault` says why its own time
    was not used; `skipped` which records were not, and why.
    """

    node: str
    received_ms: int
    readings: tuple[Reading, ...]
    time_source: TimeSource
    boot: int | None = None
    sequence: int | None = None
    clock_fault: str | None = None
    silence_limit_s: float | None = None
    skipped: tuple[str, ...] = ()
    redelivered: bool = False


@dataclass(frozen=True, slots=True)
class NodeStatus:
    """A node said `online`, or its last will said `offline`."""

    node: str
    received_ms: int
    online: bool


@dataclass(frozen=True, slots=True)
class Rejected:
    """A message that was not understood: why, and its first 512 bytes. `node` is None off our topics.

    `identity` is the boot and sequence of a pack where they can be read: it is dealt with, and need not be
    sent again.
    """

    node: str | None
    topic: str
    received_ms: int
    reason: str
    sample: bytes
    identity: tuple[int, int] | None = None


@dataclass(frozen=True, slots=True)
class FlaggedMessage:
    """A node message with its readings flagged, in the same order."""

    message: NodeMessage
    readings: tuple[FlaggedReading, ...]


class Side(StrEnum):
    """Which side of the setpoint is dangerous."""

    HIGH = "high"
    LOW = "low"


class Priority(StrEnum):
    """Alarm priority, ISA-18.2."""

    HIGH = "high"
    MEDIUM = "medium"
    LOW = "low"


class AlarmStatus(StrEnum):
    """States of one alarm, ISA-18.2 / IEC 62682."""

    NORMAL = "normal"
    UNACKNOWLEDGED = "unacknowledged"
    ACKNOWLEDGED = "acknowledged"
    RETURNED_UNACKNOWLEDGED = "returned_unacknowledged"
    SHELVED = "shelved"
    SUPPRESSED_BY_DESIGN = "suppressed_by_design"
    OUT_OF_SERVICE = "out_of_service"


STANDING = frozenset({AlarmStatus.UNACKNOWLEDGED, AlarmStatus.ACKNOWLEDGED})
"""The states in which an alarm is active and nothing hides it."""
UNSEEN = frozenset({AlarmStatus.UNACKNOWLEDGED, AlarmStatus.RETURNED_UNACKNOWLEDGED})
"""The states that wait for somebody to acknowledge."""
OVERLAYS = frozenset({AlarmStatus.SHELVED, AlarmStatus.SUPPRESSED_BY_DESIGN, AlarmStatus.OUT_OF_SERVICE})
"""The states that hide the live condition of an alarm."""


class AlarmEvent(StrEnum):
    """Events that the alarm table knows."""

    ACTIVATE = "activate"
    CLEAR = "clear"
    ACKNOWLEDGE = "acknowledge"
    SHELVE = "shelve"
    UNSHELVE = "unshelve"
    SHELF_END = "shelf_end"
    SUPPRESS = "suppress"
    UNSUPPRESS = "unsuppress"
    TAKE_OUT = "take_out_of_service"
    PUT_BACK = "return_to_service"


@dataclass(frozen=True, slots=True)
class AlarmRule:
    """When an alarm becomes active, how much it matters, and what the person should do.

    `alarm_id` is stable ("bin-1/substrate_temperature/high/high"); `mark` and `source` are of the setpoint.
    Seen and back within `realarm_after_s` [s; 0: none], it is told again only if worse by `realarm_step`.
    """

    alarm_id: str
    place: str
    quantity: str
    side: Side
    setpoint: float
    deadband: float
    on_delay_s: float
    off_delay_s: float
    priority: Priority
    consequence: str
    response: str
    caution: str = ""
    mark: str = "choice"
    source: str = ""
    realarm_after_s: float = 0.0
    realarm_step: float = 0.0


@dataclass(frozen=True, slots=True)
class AlarmState:
    """Everything that an alarm must remember; stored on each change, restored on restart.

    `active` is the live condition after delays, kept beneath overlays too; `progress_s` how long a change has
    held (a gap freezes it), `last_at_ms` of the last sample; `over_` of the last excursion that is over.
    """

    alarm_id: str
    status: AlarmStatus = AlarmStatus.NORMAL
    active: bool = False
    acknowledged: bool = True
    since_ms: int | None = None
    progress_s: float = 0.0
    last_at_ms: int | None = None
    last_value: float | None = None
    extreme_value: float | None = None
    last_true_ms: int | None = None
    shelved_until_ms: int | None = None
    stale: bool = False
    over_since_ms: int | None = None
    over_ms: int | None = None
    over_extreme: float | None = None


@dataclass(frozen=True, slots=True)
class Transition:
    """One change of one alarm, as the journal keeps it."""

    alarm_id: str
    place: str
    quantity: str
    priority: Priority
    event: AlarmEvent
    before: AlarmStatus
    after: AlarmStatus
    at_ms: int
    processed_ms: int
    value: float | None = None
    setpoint: float | None = None
    actor: str = "monitor"
    reason: str = ""

    @property
    def announces(self) -> bool:
        """True when this transition is an annunciation: a person is told that something is wrong."""
        return self.after is AlarmStatus.UNACKNOWLEDGED


@dataclass(frozen=True, slots=True)
class Excursion:
    """An excursion that is over: from when to when, and its farthest value."""

    alarm_id: str
    began_ms: int
    ended_ms: int
    extreme_value: float


class MessageKind(StrEnum):
    """Why a message is sent."""

    ALARM = "alarm"
    RETURNED = "returned"
    UNGUARDED = "unguarded"
    REMINDER = "reminder"
    ESCALATION = "escalation"
    FOLDED = "folded"
    NIGHT_REPORT = "night_report"
    TEST = "test"


@dataclass(frozen=True, slots=True)
class OutboxMessage:
    """One message to one recipient; it waits until `sent_ms` is set, or `superseded` says why it is not sent.

    `worst` is the farthest value of its alarm when it was written, `setpoint` the limit of then.
    """

    recipient: str
    kind: MessageKind
    title: str
    body: str
    created_ms: int
    priority: Priority = Priority.LOW
    alarm_id: str | None = None
    not_before_ms: int = 0
    attempts: int = 0
    next_attempt_ms: int = 0
    last_error: str = ""
    message_id: int | None = None
    sent_ms: int | None = None
    superseded: str = ""
    worst: float | None = None
    setpoint: float | None = None


@dataclass(frozen=True, slots=True)
class Calibration:
    """calibrated = slope * raw + offset, valid for readings from `valid_from_ms` on."""

    sensor: SensorKey
    valid_from_ms: int
    slope: float = 1.0
    offset: float = 0.0
    note: str = ""
    entered_ms: int = 0


class CommandKind(StrEnum):
    """What a person can ask of the running service from another process."""

    ACKNOWLEDGE = "acknowledge"
    SHELVE = "shelve"
    UNSHELVE = "unshelve"
    TAKE_OUT = "take_out_of_service"
    PUT_BACK = "return_to_service"
    SEND_TEST = "send_test"


@dataclass(frozen=True, slots=True)
class Command:
    """A request written to the store by a person's command, carried out by the service.

    `until_ms` is when a shelf ends; with an acknowledgement when the excursion was over that it is about,
    None for the present one.
    """

    kind: CommandKind
    created_ms: int
    actor: str
    alarm_id: str = ""
    until_ms: int | None = None
    reason: str = ""
    command_id: int | None = None


@dataclass(frozen=True, slots=True)
class HourSummary:
    """One hour of one sensor: raw values that did not fail, and how many were flagged 3 or 4."""

    sensor: SensorKey
    hour_ms: int
    count: int
    minimum: float
    mean: float
    maximum: float
    flagged: int


class SubjectKind(StrEnum):
    """What an entry of the logbook is about."""

    COHORT = "cohort"
    BIN = "bin"
    PLACE = "place"
    NODE = "node"


@dataclass(frozen=True, slots=True)
class LogbookEntry:
    """One entry of the logbook, its `body` by name. A correction names the entry that it replaces."""

    subject_kind: SubjectKind
    subject: str
    kind: str
    at_ms: int
    entered_ms: int
    author: str
    body: Mapping[str, object] = field(default_factory=dict)
    corrects: int | None = None
    entry_id: int | None = None


@dataclass(frozen=True, slots=True)
class ServiceRun:
    """One life of the service: started, last known alive, stopped in order or not."""

    started_ms: int
    alive_ms: int
    stopped_ms: int | None


@dataclass(frozen=True, slots=True)
class Batch:
    """All that the service writes for one batch, in one transaction, before anything is acknowledged."""

    now_ms: int
    messages: tuple[FlaggedMessage, ...] = ()
    statuses: tuple[NodeStatus, ...] = ()
    rejected: tuple[Rejected, ...] = ()
    alarm_states: tuple[AlarmState, ...] = ()
    transitions: tuple[Transition, ...] = ()
    outbox: tuple[OutboxMessage, ...] = ()
    done_commands: tuple[tuple[int, str], ...] = ()
    found_late: tuple[Excursion, ...] = ()
    reports: tuple[BoardReport, ...] = ()


@dataclass(frozen=True, slots=True)
class CommitResult:
    """What the store did with a batch."""

    stored: int = 0
    duplicate_messages: int = 0
    duplicate_readings: int = 0
    conflicts: int = 0
