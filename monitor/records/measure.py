"""Places, quantities, readings and the messages that carry them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, tzinfo
from enum import IntEnum, StrEnum


def local(at_ms: int, zone: tzinfo) -> datetime:
    """The local wall-clock time of an instant."""
    return (datetime.fromtimestamp(0, UTC) + timedelta(milliseconds=at_ms)).astimezone(zone)


def midnight_ms(at_ms: int, zone: tzinfo) -> int:
    """The midnight before an instant, by the local clock [ms since 1970 UTC]."""
    return round(local(at_ms, zone).replace(hour=0, minute=0, second=0, microsecond=0).timestamp() * 1000)


MS_PER_SECOND = 1000
MS_PER_MINUTE = 60_000
MS_PER_HOUR = 3_600_000
MS_PER_DAY = 86_400_000


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
    SILENT_MINUTES = "silent_minutes"
    SILENT_NODE_SHARE = "silent_node_share"
    DEAD_SENSOR_MINUTES = "dead_sensor_minutes"
    STORE_FAULT = "store_fault"
    ARCHIVE_LAG_HOURS = "archive_lag_hours"
    UNSENT_MESSAGE_MINUTES = "unsent_message_minutes"


@dataclass(frozen=True, slots=True)
class QuantityFacts:
    """Canonical unit (SenML symbol), its spelling for people, storage resolution, a name for people."""

    unit: str
    shown_unit: str
    resolution: float
    title: str


# Storage resolutions: finer than the sensors, multiples of them hit two decimals exactly, and what is usual
# (up to 65 °C, up to 100 %RH) fits into two bytes.
QUANTITIES: Mapping[str, QuantityFacts] = {
    Quantity.AIR_TEMPERATURE: QuantityFacts("Cel", "°C", 0.002, "air temperature"),
    Quantity.AIR_HUMIDITY: QuantityFacts("%RH", "%RH", 0.005, "air humidity"),
    Quantity.SUBSTRATE_TEMPERATURE: QuantityFacts("Cel", "°C", 0.002, "substrate temperature"),
    Quantity.SUBSTRATE_MOISTURE: QuantityFacts("/", "", 0.0001, "substrate moisture"),
    Quantity.SURFACE_TEMPERATURE: QuantityFacts("Cel", "°C", 0.002, "surface temperature"),
    Quantity.LIGHT: QuantityFacts("lx", "lx", 0.01, "light"),
    Quantity.BATTERY: QuantityFacts("V", "V", 0.001, "battery"),
    Quantity.CARBON_DIOXIDE: QuantityFacts("ppm", "ppm", 0.01, "carbon dioxide"),
    Quantity.AMMONIA: QuantityFacts("ppm", "ppm", 0.001, "ammonia"),
    Computed.VAPOUR_PRESSURE_DEFICIT: QuantityFacts("Pa", "Pa", 0.1, "drying power of the air"),
    Computed.DEW_POINT: QuantityFacts("Cel", "°C", 0.01, "dew point"),
    Computed.CONDENSATION_MARGIN: QuantityFacts("K", "K", 0.01, "margin to condensation"),
    Computed.MINUTES_TO_OVERHEATING: QuantityFacts("min", "min", 0.1, "minutes to overheating"),
    Computed.HOURS_TO_DRY: QuantityFacts("h", "h", 0.1, "hours to dry"),
    Computed.SILENT_MINUTES: QuantityFacts("min", "min", 0.1, "silence"),
    Computed.DEAD_SENSOR_MINUTES: QuantityFacts("min", "min", 0.1, "time without a good reading"),
    Computed.SILENT_NODE_SHARE: QuantityFacts("/", "", 0.01, "share of silent nodes"),
    Computed.STORE_FAULT: QuantityFacts("/", "", 1.0, "database fault"),
    Computed.ARCHIVE_LAG_HOURS: QuantityFacts("h", "h", 0.1, "archive lag"),
    Computed.UNSENT_MESSAGE_MINUTES: QuantityFacts("min", "min", 0.1, "age of the oldest unsent message"),
}


@dataclass(frozen=True, slots=True, order=True)
class SensorKey:
    """One sensor: node, probe name ("" when the node has one sensor of the kind), quantity."""

    node: str
    probe: str
    quantity: str

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

    `token` is what the subscriber needs to acknowledge it; other parts pass it through unread. With
    `redelivered` the broker says that it may have delivered the message before.
    """

    topic: str
    payload: bytes
    received_ms: int
    retained: bool = False
    content_type: str | None = None
    age_s: float | None = None
    token: object = None
    redelivered: bool = False


@dataclass(frozen=True, slots=True)
class NodeMessage:
    """A readings message understood: readings in the order of time, and what identifies the message.

    `silence_limit_s` is the longest time until the next reading that the node itself promised (SenML `ut`).
    `clock_fault` says in words why the node's own time was not used, or is None. `skipped` names the
    records of the message that could not be used, and why. `redelivered` as in IncomingMessage.
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
    """A message that was not understood: why, and its first 512 bytes. `node` is None off our topics."""

    node: str | None
    topic: str
    received_ms: int
    reason: str
    sample: bytes


@dataclass(frozen=True, slots=True)
class FlaggedMessage:
    """A node message with its readings flagged, in the same order."""

    message: NodeMessage
    readings: tuple[FlaggedReading, ...]
