"""Requests to the service from the page, and what came of them."""

from __future__ import annotations

import time

from monitor.records import Command, CommandKind
from monitor.views.page.serving import Asked

_LOOK_S = 0.05
_DONE, _REFUSED = "done", "refused: "


def ask(asked: Asked, kind: CommandKind, alarm_id: str, until_ms: int | None = None, reason: str = "") -> int:
    """Write a request and wait a moment for the service to carry it out; gives its number."""
    return _wait(asked, ask_only(asked, kind, alarm_id, until_ms, reason))


def ask_only(
    asked: Asked, kind: CommandKind, alarm_id: str, until_ms: int | None = None, reason: str = ""
) -> int:
    """Write a request; gives its number."""
    actor = asked.visit.name or asked.words.t(f"role.{asked.visit.role}")
    return _write(asked, Command(kind, asked.now_ms, actor, alarm_id, until_ms, reason))


def hand_over(asked: Asked, command: Command) -> int:
    """Write a request as it is and wait a moment for its outcome."""
    return _wait(asked, _write(asked, command))


def _write(asked: Asked, command: Command) -> int:
    with asked.farm.context.writing() as store:
        return store.commands.add(command)


def _wait(asked: Asked, number: int) -> int:
    until = time.monotonic() + asked.farm.context.wait_s
    while asked.store.commands.outcome(number) is None and time.monotonic() < until:
        time.sleep(_LOOK_S)
    return number


def said_of_command(asked: Asked) -> str:
    """What came of the request that the address names, in words; "" where it names none."""
    number = asked.query("command")
    if not (number.isascii() and number.isdigit() and len(number) < 16):
        return ""
    outcome = asked.store.commands.outcome(int(number))
    if outcome is None:
        return asked.words.t("asked.waiting")
    if outcome == _DONE:
        return asked.words.t("asked.done")
    return asked.words.t("asked.refused", why=outcome.removeprefix(_REFUSED))
