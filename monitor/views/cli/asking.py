"""Asking something of the running service: a command in the store, and waiting for what came of it."""

from __future__ import annotations

import getpass
import time
from collections.abc import Callable, Sequence

from monitor.errors import UsageError
from monitor.records import Command
from monitor.store import Store
from monitor.views.cli.output import complain
from monitor.views.queries import sign_of_life

WAIT_S = 5.0
POLL_S = 0.05
NOT_RUNNING = (
    "The monitor does not run, so nothing is guarded now. What you asked for is kept and will be done when "
    "it starts: rearing-monitor run"
)
NO_ANSWER = (
    "The monitor has not answered within {seconds:g} seconds. What you asked for is kept and will be done "
    "as soon as it can; `rearing-monitor now` says whether it runs"
)
REFUSED = "refused: "


def is_running(store: Store, now_ms: int) -> bool:
    """Whether the service has shown a sign of life lately."""
    return sign_of_life(store, now_ms)[0]


def ask(store: Store, commands: Sequence[Command], now_ms: int) -> bool:
    """Hand commands to the service; True when it did all, False when they wait for it.

    Raises UsageError with the reasons when the service refused one.
    """
    asked = [store.commands.add(command) for command in commands]
    if not is_running(store, now_ms):
        complain(NOT_RUNNING, "warning")
        return False
    if not wait_until(lambda: all(store.commands.outcome(each) is not None for each in asked), WAIT_S):
        complain(NO_ANSWER.format(seconds=WAIT_S), "warning")
        return False
    outcomes = [store.commands.outcome(each) or "" for each in asked]
    refused = [outcome.removeprefix(REFUSED) for outcome in outcomes if outcome.startswith(REFUSED)]
    if refused:
        raise UsageError("\n".join(dict.fromkeys(refused)))
    return True


def wait_until(is_so: Callable[[], bool], most_s: float) -> bool:
    """Wait for a condition; False when it did not come about in time."""
    until = time.monotonic() + most_s
    while not is_so():
        if time.monotonic() >= until:
            return False
        time.sleep(POLL_S)
    return True


def person(name: str) -> str:
    """Who asks: the name given, else the name of the user on this computer."""
    if name.strip():
        return name.strip()
    try:
        return getpass.getuser()
    except (KeyError, OSError):
        return "somebody"
