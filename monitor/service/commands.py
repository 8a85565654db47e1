"""What people ask of the running service: carried out once each, whatever the disk takes."""

from __future__ import annotations

import logging
import threading
from collections import OrderedDict
from dataclasses import replace

from monitor.errors import MonitorError, StoreError, UsageError, sentence
from monitor.notify.policy import RecipientPolicy, trial_messages
from monitor.records import COMMAND_DONE, AlarmEvent, Command, CommandKind, OutboxMessage
from monitor.service.site_state import AlarmChanges, SiteState
from monitor.store import Store
from monitor.store.kept_sentences import refused

log = logging.getLogger(__name__)

MOST_REMEMBERED = 500
"""Outcomes of what was asked without the database, for the page that asks what came of it."""


def carry_out(
    command: Command, site: SiteState, policy: RecipientPolicy, now_ms: int, changes: AlarmChanges
) -> tuple[str, tuple[OutboxMessage, ...]]:
    """Do what was asked; gives the outcome and the messages that it calls for."""
    try:
        if command.kind is CommandKind.SEND_TEST:
            return _send_test(command, site, policy, now_ms)
        _change_alarm(command, site, now_ms, changes)
    except MonitorError as error:
        return refused(error.said), ()
    except Exception as error:
        # It would be pending for ever, and end the service at each start.
        log.exception("a request met an error of the program: %s", command)
        return refused(sentence("the monitor itself could not do it ({kind})", kind=type(error).__name__)), ()
    return COMMAND_DONE, ()


def _send_test(
    command: Command, site: SiteState, policy: RecipientPolicy, now_ms: int
) -> tuple[str, tuple[OutboxMessage, ...]]:
    title = site.plan.settings.site.title
    messages = trial_messages(policy, title, now_ms, command.reason or None)
    if not messages:
        raise UsageError(
            "there is no recipient '{recipient}'; the settings name {known}",
            recipient=command.reason,
            known=", ".join(recipient.id for recipient in policy.recipients) or sentence("nobody"),
        )
    return COMMAND_DONE, messages


def _change_alarm(command: Command, site: SiteState, now_ms: int, changes: AlarmChanges) -> None:
    if command.alarm_id not in site.plan.rules:
        raise UsageError(
            "there is no alarm '{alarm}'; `rearing-monitor alarms` lists those that are active",
            alarm=command.alarm_id,
        )
    state = site.state(command.alarm_id)
    meant = command.until_ms is None or (not state.active and state.over_ms == command.until_ms)
    if command.kind is CommandKind.ACKNOWLEDGE and not meant:
        raise UsageError("it came anew after it was looked at, so it still waits to be acknowledged")
    event = AlarmEvent(command.kind)
    site.request(command.alarm_id, event, now_ms, command.actor, command.reason, command.until_ms, changes)


class CommandDesk:
    """Requests that wait in the database, and those handed over while it takes nothing.

    What was carried out is remembered until its outcome is on disk: the request stands in the database as
    waiting until then, and must not be carried out again and again.
    """

    def __init__(self, store: Store) -> None:
        self._store, self._lock = store, threading.Lock()
        self._unwritten: dict[int, str] = {}
        self._asked: list[Command] = []
        self._answered: OrderedDict[int, str] = OrderedDict()
        self._last = 0

    def ask(self, command: Command) -> int:
        """Take a request that the database does not take; gives its number, below 0. From any thread."""
        with self._lock:
            self._last -= 1
            self._asked.append(replace(command, command_id=self._last))
            return self._last

    def waiting(self) -> list[Command]:
        """What is to be carried out now; each is given until `done` says what came of it."""
        with self._lock:
            asked = list(self._asked)
        try:
            stored = self._store.commands.pending()
        except StoreError:
            return asked
        return [*asked, *(one for one in stored if one.command_id not in self._unwritten)]

    def done(self, command: Command, outcome: str) -> None:
        """A request was carried out."""
        number = command.command_id or 0
        with self._lock:
            if number > 0:
                self._unwritten[number] = outcome
                return
            self._asked = [one for one in self._asked if one.command_id != number]
            self._answered[number] = outcome
            while len(self._answered) > MOST_REMEMBERED:
                self._answered.popitem(last=False)

    def unwritten(self) -> tuple[tuple[int, str], ...]:
        """Outcomes that are to be written with the next batch."""
        with self._lock:
            return tuple(self._unwritten.items())

    def written(self, done: tuple[tuple[int, str], ...]) -> None:
        """These are on disk."""
        with self._lock:
            for number, _ in done:
                self._unwritten.pop(number, None)

    def outcome(self, number: int) -> str | None:
        """What came of a request whose outcome is not on disk; None where that is not known here."""
        with self._lock:
            return self._unwritten.get(number) or self._answered.get(number)
