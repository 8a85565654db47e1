"""`demo` plays an invented farm, `run` guards your own: one service for one database, until it is stopped.

The lock is on a file beside the database and is freed by the system however the process ends. What happens
goes to the log, in English.
"""

from __future__ import annotations

import fcntl
import logging
import os
import signal
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import UTC
from pathlib import Path
from types import FrameType
from typing import TYPE_CHECKING, Annotated

import typer

from monitor.errors import (
    BrokerRefused,
    BrokerUnreachable,
    MonitorError,
    Sentence,
    StoreLocked,
    StoreUnreadable,
    UsageError,
    sentence,
)
from monitor.intake.proof import Way
from monitor.notify.channels import forget, tell_people
from monitor.records import Transition
from monitor.settings.loading import FarmFile
from monitor.terminal.context import ConfigOption, open_farm, terminal_words
from monitor.terminal.output import ExitCode, console, say
from monitor.words.catalogue import ENGLISH
from monitor.words.localizer import Localizer

if TYPE_CHECKING:
    from monitor.intake.proof import WayProof
    from monitor.intake.subscriber import Subscriber
    from monitor.service import Service
    from monitor.service.page_door import PageDoor

# A service that is restarted may find its predecessor in its last second.
PATIENCE_S = 2.0
POLL_S = 0.1
REPEAT_S = 300.0
log = logging.getLogger(__name__)


DaysOption = Annotated[
    float, typer.Option(min=0.05, max=60, metavar="NUMBER", help="How many days of the farm's life to play.")
]
SeedOption = Annotated[
    int, typer.Option(min=0, metavar="NUMBER", help="Another number plays another weather.")
]
FolderOption = Annotated[
    Path | None,
    typer.Option(
        metavar="FOLDER", help="Where its database and messages go. Without it: a new temporary folder."
    ),
]


PageOption = Annotated[bool, typer.Option("--page/--no-page", help="Serve the page for the phone.")]
StayOption = Annotated[
    bool | None,
    typer.Option(
        "--stay/--no-stay",
        help="Go on in real time afterwards, for the page, until Ctrl-C. Without it: if a person is at the "
        "terminal.",
    ),
]


@contextmanager
def only_service(store_path: Path) -> Iterator[None]:
    """Hold the lock; StoreLocked with the number of the process that has it."""
    path = store_path.with_name(f"{store_path.name}.lock")
    descriptor = _open(path)
    try:
        if not _lock(descriptor):
            raise StoreLocked(
                "{path}: a monitor runs on this database already ({who}); two would warn twice. To mend: "
                "stop that one first, or give this one its own settings file with another [store] path",
                path=str(store_path),
                who=_holder(descriptor),
            )
        # The number only helps a person; a full disk must not keep us from saying that it is full.
        with suppress(OSError):
            os.ftruncate(descriptor, 0)
            os.pwrite(descriptor, f"{os.getpid()}\n".encode(), 0)
        yield
    finally:
        os.close(descriptor)


def _open(path: Path) -> int:
    try:
        return os.open(path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
    except OSError as error:
        raise StoreUnreadable(
            "{path} cannot be written: {why}. To mend: create the folder, and let the user that "
            "runs the program write in it; or change [store] path",
            path=str(path),
            why=error.strerror or str(error),
        ) from None


def _lock(descriptor: int) -> bool:
    until = time.monotonic() + PATIENCE_S
    while True:
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            if time.monotonic() >= until:
                return False
            time.sleep(POLL_S)
        else:
            return True


def _holder(descriptor: int) -> Sentence:
    number = os.pread(descriptor, 32, 0).decode("ascii", "replace").strip()
    return sentence("process {number}", number=number) if number else sentence("another process")


@dataclass(slots=True)
class Signals:
    """What signals asked for. Plain flags: a handler runs in the middle of anything, and may not lock."""

    stop: str = ""
    reload: bool = False


@contextmanager
def listening() -> Iterator[Signals]:
    """TERM and INT ask to stop, HUP asks to read the settings again."""
    signals = Signals()

    def note(number: int, _frame: FrameType | None) -> None:
        if number == signal.SIGHUP:
            signals.reload = True
        else:
            signals.stop = signal.Signals(number).name

    wanted = (signal.SIGTERM, signal.SIGINT, signal.SIGHUP)
    before = {number: signal.signal(number, note) for number in wanted}
    try:
        yield signals
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def log_to_stderr() -> None:
    """Every line with its time. Only `run` sets up logging; everything else leaves it as it is."""
    # What the connection has to say is said by `ConnectionLog`, louder and again while it lasts.
    logging.getLogger("monitor.intake.subscriber").setLevel(logging.ERROR)
    logging.getLogger("apscheduler").setLevel(logging.WARNING)
    logging.basicConfig(
        stream=sys.stderr,
        level=logging.INFO,
        format="%(asctime)s %(levelname)s %(message)s",
        datefmt="%Y-%m-%d %H:%M:%S%z",
        force=True,
    )


def keep_running(service: Service, signals: Signals, where: str) -> bool:
    """Look after the service until somebody wants it to stop (True) or it is no longer alive (False)."""
    connection = ConnectionLog(where)
    while not signals.stop:
        time.sleep(POLL_S)
        if signals.reload:
            signals.reload = False
            log.info("reading the settings again")
            service.reload_soon()
        connection.check(service.subscriber, time.monotonic())
        if not service.alive:
            log.error(
                "a part of the monitor that must run has ended (%s)", service.failed or "no reason known"
            )
            return False
    log.info("stopping (%s)", signals.stop)
    return True


class ConnectionLog:
    """Says when the broker is reached and passes on what boards send, and again and again while not."""

    def __init__(self, where: str) -> None:
        self._where = where
        self._connected = False
        self._way = Way.UNKNOWN
        self._problem = ""
        self._logged_s = 0.0

    def check(self, connection: Subscriber, now_s: float) -> None:
        """Log what changed."""
        if connection.connected:
            if not self._connected:
                log.info("connected to the broker at %s; sending a message to ourselves", self._where)
                self._connected, self._problem, self._way = True, "", Way.UNKNOWN
            self._check_way(connection.proof, now_s)
            return
        if self._connected:
            log.warning("the connection to the broker at %s is gone; no reading comes in", self._where)
        self._connected = False
        problem = connection.problem
        if problem and self._is_to_be_said(problem, now_s):
            log.error("NOT GUARDING: %s. It is tried again and again. %s", problem, _remedy(connection))

    def _check_way(self, proof: WayProof, now_s: float) -> None:
        problem = str(proof.problem or "")
        if problem and self._is_to_be_said(problem, now_s):
            log.error("NOT GUARDING: %s. `rearing-monitor check --broker` shows each step", problem)
        if proof.way is Way.PROVEN and self._way is not Way.PROVEN:
            log.info("guarding: the broker passes on what boards send")
            self._problem = ""
        self._way = proof.way

    def _is_to_be_said(self, problem: str, now_s: float) -> bool:
        """A problem is said when it is new, and again while it lasts."""
        if problem == self._problem and now_s - self._logged_s < REPEAT_S:
            return False
        self._problem, self._logged_s = problem, now_s
        return True


def _remedy(connection: Subscriber) -> str:
    try:
        connection.wait_connected(0.0)
    except BrokerRefused:
        keys = "username, password, client_id"
        return f"To mend: see [broker] in the settings ({keys}), then start the monitor again"
    except BrokerUnreachable:
        return "To mend: start the broker, or see [broker] host and port in the settings"
    return ""


def log_event(event: object) -> None:
    """One line in the log for what the service noticed; texts that it logs itself are left out."""
    if isinstance(event, Transition):
        words = Localizer.plain(ENGLISH, UTC, event.at_ms)
        value = "" if event.value is None else f" at {words.value(event.quantity, event.value)}"
        level = logging.WARNING if event.announces else logging.INFO
        title, after = words.quantity_name(event.quantity), event.after.replace("_", " ")
        who = "" if event.actor == "monitor" else f", by {event.actor}"
        log.log(level, "%s: %s%s: %s (%s)%s", event.place, title, value, after, event.priority, who)
    elif not isinstance(event, str):
        log.info("the night report was written")


def register(app: typer.Typer) -> None:
    """Add the commands of this module."""
    app.command("demo")(demo)
    app.command("run")(run)


def demo(
    days: DaysOption = 2.0,
    seed: SeedOption = 7,
    folder: FolderOption = None,
    page: PageOption = True,
    stay: StayOption = None,
) -> None:
    """See the program at work on an invented farm: simulated sensors, real messages, no hardware needed.

    Days go by in seconds. The folder is kept, so that you can look into it with
    the other commands.
    """
    # Loaded here, so that the other commands start quickly.
    from monitor.demo.runner import DemoPlan, play

    where = _demo_folder(folder)
    stays = page and (sys.stdin.isatty() if stay is None else stay)
    words = terminal_words()
    play(DemoPlan(where, seed, days=days, page=page, stay=stays, language=words.language), console())
    say(words.t("demo.folder", folder=str(where)))
    say(f"  rearing-monitor alarms --all --config {where / 'farm.toml'}")


def _demo_folder(folder: Path | None) -> Path:
    if folder is None:
        return Path(tempfile.mkdtemp(prefix="saltbush-yard-"))
    try:
        folder.mkdir(parents=True, exist_ok=True)
        is_used = any(folder.iterdir())
    except OSError as error:
        raise UsageError(
            "the folder {path} cannot be used: {why}", path=str(folder), why=error.strerror or str(error)
        ) from None
    if is_used:
        raise UsageError(
            "the folder {path} is not empty; allowed: an empty or a new folder", path=str(folder)
        )
    return folder.absolute()


def run(config: ConfigOption = None) -> None:
    """Guard your farm: take readings from the broker, watch them, and wake you when it must be.

    It runs until it is stopped (Ctrl-C, or the service manager) and writes what
    happens to the terminal. After a change of the settings, `kill -HUP` of its
    process makes it read them again; wrong ones change nothing.
    """
    farm = open_farm(config, try_addresses=True)
    with only_service(farm.settings.store.path), listening() as signals:
        log_to_stderr()
        if not _guard(farm, signals):
            raise typer.Exit(ExitCode.OTHER)


def _open_page(door: PageDoor, service: Service) -> None:
    """A page that cannot be served is said; the guarding goes on without it."""
    from monitor.service import system_clock_ms

    try:
        log.info("the page is at %s", door.open(service, system_clock_ms))
        if door.encrypted_address:
            log.info("the page is at %s too", door.encrypted_address)
    except UsageError as error:
        log.error("%s", error)


def _guard(farm: FarmFile, signals: Signals) -> bool:
    """Run the service; True when it was stopped on purpose."""
    from monitor.service import Service
    from monitor.service.page_door import PageDoor

    settings, broker = farm.settings, farm.settings.broker
    for warning in farm.warnings:
        log.warning("%s", warning)
    door = PageDoor(settings, farm.path.absolute())

    def on_event(event: object) -> None:
        log_event(event)
        door.note(event)

    service = Service(settings, settings_path=farm.path.absolute(), on_event=on_event)
    service.link_for = door.link_for
    try:
        service.start()
    except MonitorError as error:
        tell_people(settings, error)
        raise
    forget(settings)
    kind = "its own broker" if broker.embedded else "the broker"
    where = f"{broker.host}:{broker.port}"
    log.info("%s: started with %s, database %s", settings.site.title, farm.path, settings.store.path)
    log.info("connecting to %s at %s", kind, where)
    if broker.embedded:
        log.warning(
            "its own broker is for a first evening: it has no rules for each board, so that any board can "
            "speak as any other, and it keeps nothing over a restart. "
            "For good: install mosquitto, then `rearing-monitor broker setup`"
        )
    try:
        if settings.page.enabled:
            _open_page(door, service)
        if door.password_file is not None:
            log.info("its first password stands in %s; only you can read it", door.password_file)
        return keep_running(service, signals, where)
    finally:
        door.close()
        service.stop()
        log.info("stopped")
