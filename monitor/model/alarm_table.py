"""The alarm state machine: one table, and the few functions that feed it.

Everything about states is in `TABLE`; a pair that is not there raises UnknownTransition and changes nothing.

Where one occurrence needs two steps, both are rows of the table and both are journalled:

- An overlay (shelved, suppressed by design, out of service) is left to NORMAL. In the same call SUPPRESS
  follows where the place is suppressed, else SHELVE where a shelf still has time to run, else ACTIVATE
  where the live condition is true. The live condition is kept up to date beneath an overlay.
- CLEAR of a low alarm nobody acknowledged is followed by ACKNOWLEDGE. High and medium ones wait for a person.

When two overlays meet, the stronger wins: out of service, then suppressed by design, then shelved.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType
from typing import NamedTuple

from monitor.errors import UnknownTransition
from monitor.records import AlarmEvent, AlarmRule, AlarmState, AlarmStatus, Priority, Transition

NORMAL = AlarmStatus.NORMAL
UNACKNOWLEDGED = AlarmStatus.UNACKNOWLEDGED
ACKNOWLEDGED = AlarmStatus.ACKNOWLEDGED
RETURNED = AlarmStatus.RETURNED_UNACKNOWLEDGED
SHELVED = AlarmStatus.SHELVED
SUPPRESSED = AlarmStatus.SUPPRESSED_BY_DESIGN
OUT = AlarmStatus.OUT_OF_SERVICE

TABLE: Mapping[tuple[AlarmStatus, AlarmEvent], AlarmStatus] = MappingProxyType(
    {
        (NORMAL, AlarmEvent.ACTIVATE): UNACKNOWLEDGED,
        (NORMAL, AlarmEvent.SHELVE): SHELVED,
        (NORMAL, AlarmEvent.SUPPRESS): SUPPRESSED,
        (NORMAL, AlarmEvent.TAKE_OUT): OUT,
        (UNACKNOWLEDGED, AlarmEvent.CLEAR): RETURNED,
        (UNACKNOWLEDGED, AlarmEvent.ACKNOWLEDGE): ACKNOWLEDGED,
        (UNACKNOWLEDGED, AlarmEvent.SHELVE): SHELVED,
        (UNACKNOWLEDGED, AlarmEvent.SUPPRESS): SUPPRESSED,
        (UNACKNOWLEDGED, AlarmEvent.TAKE_OUT): OUT,
        (ACKNOWLEDGED, AlarmEvent.CLEAR): NORMAL,
        (ACKNOWLEDGED, AlarmEvent.SHELVE): SHELVED,
        (ACKNOWLEDGED, AlarmEvent.SUPPRESS): SUPPRESSED,
        (ACKNOWLEDGED, AlarmEvent.TAKE_OUT): OUT,
        (RETURNED, AlarmEvent.ACTIVATE): UNACKNOWLEDGED,
        (RETURNED, AlarmEvent.ACKNOWLEDGE): NORMAL,
        (RETURNED, AlarmEvent.SHELVE): SHELVED,
        (RETURNED, AlarmEvent.SUPPRESS): SUPPRESSED,
        (RETURNED, AlarmEvent.TAKE_OUT): OUT,
        (SHELVED, AlarmEvent.ACTIVATE): SHELVED,
        (SHELVED, AlarmEvent.CLEAR): SHELVED,
        (SHELVED, AlarmEvent.SHELVE): SHELVED,
        (SHELVED, AlarmEvent.UNSHELVE): NORMAL,
        (SHELVED, AlarmEvent.SHELF_END): NORMAL,
        (SHELVED, AlarmEvent.SUPPRESS): SUPPRESSED,
        (SHELVED, AlarmEvent.TAKE_OUT): OUT,
        (SUPPRESSED, AlarmEvent.ACTIVATE): SUPPRESSED,
        (SUPPRESSED, AlarmEvent.CLEAR): SUPPRESSED,
        (SUPPRESSED, AlarmEvent.UNSUPPRESS): NORMAL,
        (SUPPRESSED, AlarmEvent.TAKE_OUT): OUT,
        (OUT, AlarmEvent.ACTIVATE): OUT,
        (OUT, AlarmEvent.CLEAR): OUT,
        (OUT, AlarmEvent.PUT_BACK): NORMAL,
    }
)

ANNOUNCED = frozenset({UNACKNOWLEDGED, ACKNOWLEDGED})
WAITING = frozenset({UNACKNOWLEDGED, RETURNED})
OVERLAYS = frozenset({SHELVED, SUPPRESSED, OUT})
LEAVING = frozenset({AlarmEvent.UNSHELVE, AlarmEvent.SHELF_END, AlarmEvent.UNSUPPRESS, AlarmEvent.PUT_BACK})
BY_REQUEST = LEAVING - {AlarmEvent.SHELF_END} | {
    AlarmEvent.ACKNOWLEDGE,
    AlarmEvent.SHELVE,
    AlarmEvent.SUPPRESS,
    AlarmEvent.TAKE_OUT,
}


class Cause(NamedTuple):
    """Who or what fired an event, and when."""

    processed_ms: int
    at_ms: int
    actor: str = "monitor"
    reason: str = ""
    until_ms: int | None = None


def apply_event(status: AlarmStatus, event: AlarmEvent) -> AlarmStatus:
    """Look the pair up in the table.

    Parameters
    ----------
    status : AlarmStatus
        where the alarm stands
    event : AlarmEvent
        what happens to it

    Returns
    -------
    AlarmStatus
        where it stands afterwards; UnknownTransition is raised for a pair that the table does not have
    """
    try:
        return TABLE[status, event]
    except KeyError:
        raise UnknownTransition(status.value, event.value) from None


def carry_out(
    state: AlarmState, rule: AlarmRule, event: AlarmEvent, cause: Cause, suppressed: bool
) -> tuple[AlarmState, tuple[Transition, ...]]:
    """Fire an event, and the one that follows from it where there is one."""
    after, first = fire(state, rule, event, cause)
    shelf_ms = state.shelved_until_ms if event is AlarmEvent.UNSUPPRESS else None
    follows = _follow_up(after, rule, event, cause, suppressed, shelf_ms)
    if follows is None:
        return after, (first,)
    last, second = fire(after, rule, *follows)
    return last, (first, second)


def _follow_up(
    after: AlarmState,
    rule: AlarmRule,
    event: AlarmEvent,
    cause: Cause,
    suppressed: bool,
    shelf_ms: int | None,
) -> tuple[AlarmEvent, Cause] | None:
    own = cause._replace(actor="monitor", until_ms=None)
    if event is AlarmEvent.CLEAR and after.status is RETURNED and rule.priority is Priority.LOW:
        return AlarmEvent.ACKNOWLEDGE, own._replace(reason="a low alarm is acknowledged by clearing")
    if event not in LEAVING:
        return None
    if suppressed:
        return AlarmEvent.SUPPRESS, own._replace(reason="the place is suppressed by design")
    if shelf_ms is not None and shelf_ms > cause.processed_ms:
        return AlarmEvent.SHELVE, own._replace(reason="its shelf still runs", until_ms=shelf_ms)
    return (AlarmEvent.ACTIVATE, own._replace(reason="still out of limits")) if after.active else None


def fire(
    state: AlarmState, rule: AlarmRule, event: AlarmEvent, cause: Cause
) -> tuple[AlarmState, Transition]:
    """One row of the table: the alarm after it, and the row of the journal."""
    status = apply_event(state.status, event)
    shelf_ms = cause.until_ms if event is AlarmEvent.SHELVE else state.shelved_until_ms
    if status is not SHELVED and status is not SUPPRESSED:
        shelf_ms = None
    after = replace(state, status=status, acknowledged=status not in WAITING, shelved_until_ms=shelf_ms)
    return after, _row(state, rule, event, status, cause)


def _row(
    state: AlarmState, rule: AlarmRule, event: AlarmEvent, after: AlarmStatus, cause: Cause
) -> Transition:
    return Transition(
        alarm_id=rule.alarm_id,
        place=rule.place,
        quantity=rule.quantity,
        priority=rule.priority,
        event=event,
        before=state.status,
        after=after,
        at_ms=cause.at_ms,
        processed_ms=cause.processed_ms,
        value=state.last_value,
        setpoint=rule.setpoint,
        actor=cause.actor,
        reason=cause.reason,
    )
