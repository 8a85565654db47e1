"""The alarm state machine: one table, and the functions that feed it samples, the clock and requests.

Everything about states is in `TABLE`; a pair that is not there raises UnknownTransition and changes nothing.
Where one occurrence needs two steps, both are rows of the table and both are journalled:

- An overlay (shelved, suppressed by design, out of service) is left to NORMAL. In the same call SUPPRESS
  follows where the place is suppressed, else SHELVE where a shelf still has time to run, else ACTIVATE
  where the live condition is true, unless the value is back and only the off-delay still runs: that is not
  news. The live condition is kept up to date beneath an overlay.
- CLEAR of a low alarm nobody acknowledged is followed by ACKNOWLEDGE. High and medium ones wait for a person.

When two overlays meet, the stronger wins: out of service, then suppressed by design, then shelved.

Late data moves the live condition at once, but the status only follows when a reading that is not late
agrees, or when the data goes stale. An excursion whose last reading is back inside is not announced any
more: a past that is over is handed back as an Excursion.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from types import MappingProxyType
from typing import NamedTuple

from monitor.alarms.timing import Sample, observe, points_to_change
from monitor.errors import UnknownTransition, UsageError
from monitor.records import (
    MS_PER_DAY,
    MS_PER_SECOND,
    OVERLAYS,
    STANDING,
    UNSEEN,
    AlarmEvent,
    AlarmRule,
    AlarmState,
    AlarmStatus,
    Excursion,
    Priority,
    Transition,
)

LONGEST_SHELF_DAYS = 7
LATE_AFTER_S = 600.0

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
    """Where an alarm stands after an event; UnknownTransition for a pair that the table does not have."""
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
    if not after.active or points_to_change(after, rule, after.last_value):
        return None
    return AlarmEvent.ACTIVATE, own._replace(reason="still out of limits")


def fire(
    state: AlarmState, rule: AlarmRule, event: AlarmEvent, cause: Cause
) -> tuple[AlarmState, Transition]:
    """One row of the table: the alarm after it, and the row of the journal."""
    status = apply_event(state.status, event)
    shelf_ms = cause.until_ms if event is AlarmEvent.SHELVE else state.shelved_until_ms
    if status is not SHELVED and status is not SUPPRESSED:
        shelf_ms = None
    after = replace(state, status=status, acknowledged=status not in UNSEEN, shelved_until_ms=shelf_ms)
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


class Advanced(NamedTuple):
    """What a run of samples did to one alarm."""

    state: AlarmState
    transitions: tuple[Transition, ...] = ()
    found_late: tuple[Excursion, ...] = ()


def advance_many(
    state: AlarmState,
    rule: AlarmRule,
    samples: Iterable[Sample],
    now_ms: int,
    max_gap_s: float,
    late_after_s: float = LATE_AFTER_S,
) -> Advanced:
    """Take the samples of one batch into account; announce only what is still true at its end.

    The samples are in the order of time; those not newer than the last one taken are ignored. `max_gap_s` is
    the longest step that counts towards a delay [s]; when the last sample is older than `late_after_s` [s],
    the status waits for a newer one.
    """
    current, sample, flips = state, None, []
    for sample in samples:
        after = observe(current, rule, sample, max_gap_s)
        if after.active is not current.active:
            flips.append(after)
        current = after
    if not flips and (current.status in OVERLAYS or _agrees(current)):
        return Advanced(current)
    reason = "the reading is marked suspect" if sample is not None and sample.suspect else ""
    if state.status in OVERLAYS:
        return Advanced(current, tuple(_beneath(flip, rule, now_ms, reason) for flip in flips))
    found_late = tuple(_found_late(state, flips))
    if now_ms - (current.last_at_ms or 0) > late_after_s * MS_PER_SECOND:
        return Advanced(current, (), found_late)
    return Advanced(*_settle(current, rule, now_ms, reason), found_late)


def mark_stale(state: AlarmState, rule: AlarmRule, now_ms: int) -> tuple[AlarmState, tuple[Transition, ...]]:
    """Note that no newer data comes. Nothing clears by it; what late data left open is settled now.

    An active alarm stays active, `last_true_ms` says when it was last true; the next sample ends `stale`.
    """
    if state.stale:
        return state, ()
    stale = replace(state, stale=True)
    if stale.status in OVERLAYS or _agrees(stale):
        return stale, ()
    return _settle(stale, rule, now_ms, "the last reading came late, and none came after it")


def request(
    state: AlarmState,
    rule: AlarmRule,
    event: AlarmEvent,
    now_ms: int,
    actor: str,
    reason: str = "",
    until_ms: int | None = None,
    suppressed: bool = False,
) -> tuple[AlarmState, tuple[Transition, ...]]:
    """Carry out what a person or the system asks of an alarm; `actor` and `reason` go to the journal.

    `until_ms` is the end of the shelf [ms], needed to shelve, at most 7 days ahead. With `suppressed` the
    place is suppressed by design, and an alarm put back into service goes there. UnknownTransition or
    UsageError is raised where the request cannot be met, and then nothing has changed.
    """
    if event not in BY_REQUEST:
        raise UsageError(
            "{event} cannot be asked for; it follows from readings or from the clock", event=event.value
        )
    if event is AlarmEvent.SHELVE:
        _check_shelf(until_ms, now_ms)
    return carry_out(state, rule, event, Cause(now_ms, now_ms, actor, reason, until_ms), suppressed)


def suppress(
    state: AlarmState,
    rule: AlarmRule,
    wanted: bool,
    now_ms: int,
    reason: str = "",
    actor: str = "monitor",
) -> tuple[AlarmState, tuple[Transition, ...]]:
    """Make an alarm suppressed by design or not, as wanted; nothing where it is so or is out of service."""
    if state.status is OUT or wanted is (state.status is SUPPRESSED):
        return state, ()
    event = AlarmEvent.SUPPRESS if wanted else AlarmEvent.UNSUPPRESS
    return carry_out(state, rule, event, Cause(now_ms, now_ms, actor, reason), False)


def tick(state: AlarmState, rule: AlarmRule, now_ms: int) -> tuple[AlarmState, tuple[Transition, ...]]:
    """End a shelf whose time is over."""
    if state.status is not SHELVED or now_ms < (state.shelved_until_ms or 0):
        return state, ()
    return carry_out(state, rule, AlarmEvent.SHELF_END, Cause(now_ms, now_ms), False)


def _check_shelf(until_ms: int | None, now_ms: int) -> None:
    latest_ms = now_ms + LONGEST_SHELF_DAYS * MS_PER_DAY
    if until_ms is None or not now_ms < until_ms <= latest_ms:
        raise UsageError(
            "to shelve an alarm give an end that is ahead, at most {days} days", days=LONGEST_SHELF_DAYS
        )


def _agrees(state: AlarmState) -> bool:
    """Whether the status of an alarm that is not under an overlay shows its live condition."""
    return state.active is (state.status in STANDING)


def _settle(
    state: AlarmState, rule: AlarmRule, now_ms: int, reason: str
) -> tuple[AlarmState, tuple[Transition, ...]]:
    coming_back = state.active and points_to_change(state, rule, state.last_value)
    if _agrees(state) or coming_back:
        return state, ()
    event = AlarmEvent.ACTIVATE if state.active else AlarmEvent.CLEAR
    cause = Cause(now_ms, state.last_at_ms or now_ms, reason=reason)
    return carry_out(state, rule, event, cause, False)


def _beneath(flip: AlarmState, rule: AlarmRule, now_ms: int, reason: str) -> Transition:
    """The journal row of a live condition that changed beneath an overlay."""
    event = AlarmEvent.ACTIVATE if flip.active else AlarmEvent.CLEAR
    return fire(flip, rule, event, Cause(now_ms, flip.last_at_ms or now_ms, reason=reason))[1]


def _found_late(state: AlarmState, flips: list[AlarmState]) -> Iterator[Excursion]:
    """Excursions among the flips that ended without having been announced."""
    was_announced = state.active and state.status in STANDING
    for flip in flips:
        if flip.active:
            continue
        if not was_announced and flip.extreme_value is not None and flip.last_at_ms is not None:
            began_ms = flip.last_at_ms if flip.since_ms is None else flip.since_ms
            yield Excursion(flip.alarm_id, began_ms, flip.last_at_ms, flip.extreme_value)
        was_announced = False
