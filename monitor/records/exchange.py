"""What travels to and from the store: outbox, commands, calibrations, node facts, batches."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from monitor.records.alarm import AlarmState, Excursion, Priority, Transition
from monitor.records.measure import FlaggedMessage, FlaggedReading, NodeStatus, Rejected, SensorKey


class MessageKind(StrEnum):
    """Why a message is sent."""

    ALARM = "alarm"
    RETURNED = "returned"
    REMINDER = "reminder"
    ESCALATION = "escalation"
    FOLDED = "folded"
    NIGHT_REPORT = "night_report"
    TEST = "test"


@dataclass(frozen=True, slots=True)
class OutboxMessage:
    """One message to one recipient. `message_id` is None until it is stored.

    It waits until `sent_ms` is set, or until `superseded` says why it is not sent any more.
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
    """A request written to the store by a person's command, carried out by the service."""

    kind: CommandKind
    created_ms: int
    actor: str
    alarm_id: str = ""
    until_ms: int | None = None
    reason: str = ""
    command_id: int | None = None


@dataclass(frozen=True, slots=True)
class NodeFacts:
    """What the store knows about one node."""

    node: str
    first_heard_ms: int
    last_heard_ms: int
    online: bool | None
    boot: int | None
    sequence: int | None
    clock_fault: str | None
    messages: int
    missing: int
    duplicates: int
    conflicts: int
    rejected: int
    last_reject_ms: int | None
    last_reject_reason: str
    last_reject_sample: bytes
    silence_limit_s: float | None


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


@dataclass(frozen=True, slots=True)
class LogbookEntry:
    """One entry of the logbook. A correction names the entry that it replaces; none is ever changed.

    `body` holds plain JSON values by name. `entry_id` is None until it is stored.
    """

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
    """All that one turn of the service writes, in one transaction, before anything is acknowledged."""

    now_ms: int
    messages: tuple[FlaggedMessage, ...] = ()
    statuses: tuple[NodeStatus, ...] = ()
    rejected: tuple[Rejected, ...] = ()
    alarm_states: tuple[AlarmState, ...] = ()
    transitions: tuple[Transition, ...] = ()
    outbox: tuple[OutboxMessage, ...] = ()
    done_commands: tuple[tuple[int, str], ...] = ()
    found_late: tuple[Excursion, ...] = ()


@dataclass(frozen=True, slots=True)
class CommitResult:
    """What the store did with a batch."""

    stored: int = 0
    duplicate_messages: int = 0
    duplicate_readings: int = 0
    conflicts: int = 0
    late: tuple[FlaggedReading, ...] = field(default=())
