"""What people ask of the running service through the store: acknowledge, shelve, take out, test message."""

from __future__ import annotations

import logging
from collections.abc import Mapping

from monitor.errors import MonitorError, UsageError
from monitor.notify.policy import Circle, trial_messages
from monitor.records import AlarmEvent, Command, CommandKind, OutboxMessage
from monitor.service.watch import Turn, Watch

log = logging.getLogger(__name__)

EVENTS: Mapping[CommandKind, AlarmEvent] = {
    CommandKind.ACKNOWLEDGE: AlarmEvent.ACKNOWLEDGE,
    CommandKind.SHELVE: AlarmEvent.SHELVE,
    CommandKind.UNSHELVE: AlarmEvent.UNSHELVE,
    CommandKind.TAKE_OUT: AlarmEvent.TAKE_OUT,
    CommandKind.PUT_BACK: AlarmEvent.PUT_BACK,
}
DONE = "done"
REFUSED = "refused: "


def carry_out(
    command: Command, watch: Watch, circle: Circle, now_ms: int, turn: Turn
) -> tuple[str, tuple[OutboxMessage, ...]]:
    """Do what was asked; gives the outcome in words and the messages that it calls for."""
    try:
        if command.kind is CommandKind.SEND_TEST:
            return _send_test(command, watch, circle, now_ms)
        _change_alarm(command, watch, now_ms, turn)
    except MonitorError as error:
        return f"{REFUSED}{error}", ()
    except Exception as error:
        # It would be pending for ever, and end the service at each start.
        log.exception("a request met an error of the program: %s", command)
        return f"{REFUSED}the monitor itself could not do it ({type(error).__name__})", ()
    return DONE, ()


def _send_test(
    command: Command, watch: Watch, circle: Circle, now_ms: int
) -> tuple[str, tuple[OutboxMessage, ...]]:
    title = watch.plan.settings.site.title
    messages = trial_messages(circle, title, now_ms, command.reason or None)
    if not messages:
        known = ", ".join(recipient.id for recipient in circle.recipients) or "nobody"
        raise UsageError(f"there is no recipient {command.reason!r}; the settings name {known}")
    return DONE, messages


def _change_alarm(command: Command, watch: Watch, now_ms: int, turn: Turn) -> None:
    if command.alarm_id not in watch.plan.rules:
        raise UsageError(
            f"there is no alarm {command.alarm_id!r}; `rearing-monitor alarms` lists those that are active"
        )
    event = EVENTS[command.kind]
    found = watch.request(command.alarm_id, event, now_ms, command.actor, command.reason, command.until_ms)
    turn.changed.update(found.changed)
    turn.transitions.extend(found.transitions)
