"""What `run` does while the service works: signals, the connection to the broker, the log of events."""

from __future__ import annotations

import logging
import signal
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from types import FrameType
from typing import Protocol

from monitor.errors import BrokerRefused, BrokerUnreachable
from monitor.notify.phrases import measured, quantity_title
from monitor.records import Transition

log = logging.getLogger(__name__)

LOOK_S = 0.1
TELL_AGAIN_S = 300.0


class Connection(Protocol):
    """What the loop asks of the connection to the broker."""

    @property
    def connected(self) -> bool:
        """Whether the broker has confirmed the subscription."""

    @property
    def problem(self) -> str | None:
        """What is wrong, in words."""

    def wait_connected(self, timeout_s: float) -> None:
        """Raises BrokerRefused or BrokerUnreachable."""


class Running(Protocol):
    """What the loop asks of the service."""

    @property
    def subscriber(self) -> Connection:
        """The connection to the broker."""

    @property
    def alive(self) -> bool:
        """False when the process should end and be started again."""

    @property
    def failed(self) -> Exception | None:
        """Why it is not alive, where that is known."""

    def reload_soon(self) -> None:
        """Read the settings again."""


@dataclass(slots=True)
class Wishes:
    """What signals asked for. Plain flags: a handler runs in the middle of anything, and may not lock."""

    stop: str = ""
    reload: bool = False


@contextmanager
def listening() -> Iterator[Wishes]:
    """Signals become wishes: TERM and INT stop, HUP reads the settings again."""
    wishes = Wishes()

    def note(number: int, _frame: FrameType | None) -> None:
        if number == signal.SIGHUP:
            wishes.reload = True
        else:
            wishes.stop = signal.Signals(number).name

    wanted = (signal.SIGTERM, signal.SIGINT, signal.SIGHUP)
    before = {number: signal.signal(number, note) for number in wanted}
    try:
        yield wishes
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def log_to_stderr() -> None:
    """Every line with its time. Only `run` sets up logging; everything else leaves it as it is."""
    # What the connection has to say is said by `ConnectionWatch`, louder and again while it lasts.
    logging.getLogger("monitor.intake.subscriber").setLevel(logging.ERROR)
    logging.getLogger("apscheduler").setLevel(logging.WARNING)
    logging.basicConfig(
        stream=sys.stderr,
        level=logging.INFO,
        format="%(asctime)s %(levelname)s %(message)s",
        datefmt="%Y-%m-%d %H:%M:%S%z",
        force=True,
    )


def keep_running(service: Running, wishes: Wishes, where: str) -> bool:
    """Look after the service until somebody wants it to stop (True) or it is no longer alive (False)."""
    watch = ConnectionWatch(where)
    while not wishes.stop:
        time.sleep(LOOK_S)
        if wishes.reload:
            wishes.reload = False
            log.info("reading the settings again")
            service.reload_soon()
        watch.look(service.subscriber, time.monotonic())
        if not service.alive:
            log.error(
                "a part of the monitor that must run has ended (%s)", service.failed or "no reason known"
            )
            return False
    log.info("stopping (%s)", wishes.stop)
    return True


class ConnectionWatch:
    """Says when the broker is reached, and again and again while it is not."""

    def __init__(self, where: str) -> None:
        self._where = where
        self._connected = False
        self._told = ""
        self._told_at = 0.0

    def look(self, connection: Connection, now_s: float) -> None:
        """Log what changed."""
        if connection.connected:
            if not self._connected:
                log.info("connected to the broker at %s; guarding", self._where)
            self._connected, self._told = True, ""
            return
        if self._connected:
            log.warning("the connection to the broker at %s is gone; no reading comes in", self._where)
        self._connected = False
        problem = connection.problem
        if problem and (problem != self._told or now_s - self._told_at >= TELL_AGAIN_S):
            log.error("NOT GUARDING: %s. It is tried again and again. %s", problem, _remedy(connection))
            self._told, self._told_at = problem, now_s


def _remedy(connection: Connection) -> str:
    try:
        connection.wait_connected(0.0)
    except BrokerRefused:
        keys = "username, password, client_id"
        return f"To mend: see [broker] in the settings ({keys}), then start the monitor again"
    except BrokerUnreachable:
        return "To mend: start the broker, or see [broker] host and port in the settings"
    return ""


def tell(event: object) -> None:
    """One line in the log for what the service noticed; texts that it logs itself are left out."""
    if isinstance(event, Transition):
        value = "" if event.value is None else f" at {measured(event.quantity, event.value)}"
        level = logging.WARNING if event.announces else logging.INFO
        title, after = quantity_title(event.quantity), event.after.replace("_", " ")
        who = "" if event.actor == "monitor" else f", by {event.actor}"
        log.log(level, "%s: %s%s: %s (%s)%s", event.place, title, value, after, event.priority, who)
    elif not isinstance(event, str):
        log.info("the night report was written")
