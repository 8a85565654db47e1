"""Alarm rules, states and transitions, in the words of ISA-18.2 / IEC 62682."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


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

    `alarm_id` is stable over restarts and changes of setpoint: "bin-1/substrate_temperature/high/high".
    `mark` is published, common practice or choice; `source` names where the setpoint is from.
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


@dataclass(frozen=True, slots=True)
class AlarmState:
    """Everything that an alarm must remember; stored on each change, restored on restart.

    `active` is the live condition after delays, kept up to date beneath the overlays (shelved,
    suppressed, out of service). `progress_s` is how long the pending change has held, in time of
    measurement; a gap freezes it. `last_at_ms` is the time of the last sample taken into account.
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
    """An excursion that was over before its readings came in: for the night report only."""

    alarm_id: str
    began_ms: int
    ended_ms: int
    extreme_value: float
