"""Proves against the running broker that boards are kept apart: what must be refused, and what must arrive.

A broker confirms what its rules refuse (MQTT 3.1.1), so each refusal is proven by listening: what was
forbidden did not arrive, and what was sent after it did. Two users are added for that and taken away again;
what an earlier trial left behind when it was killed is taken away first.
"""

from __future__ import annotations

import secrets
import signal
import ssl
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

from monitor.boards import broker_files, certificates, users
from monitor.boards.broker_client import Door, Entry, TrialClient
from monitor.boards.broker_files import BrokerFiles, Reload
from monitor.errors import BrokerUnreachable, IntakeError, Sentence, UsageError, sentence
from monitor.intake.broker_check import Step
from monitor.intake.payload import PROOF, READINGS
from monitor.settings.schema import Settings
from monitor.settings.writing import write_all

TRIAL_USERS = tuple(f"{users.TRIAL}{number}" for number in (1, 2))
RELOAD_S, SETTLE_S, POLL_S = 10.0, 1.0, 0.2
NOBODY = "not-this-broker.invalid"
_RULES = sentence("run `rearing-monitor broker setup` again, which mends the access rules")
_CONF = sentence(
    "run `rearing-monitor broker setup` again, and see whether another file in conf.d opens this door"
)


@dataclass(frozen=True, slots=True)
class Trial:
    """The two doors of the broker, the two trial boards, and the site's topics."""

    boards: Door
    monitor: Door
    base: str
    user: str
    password: str
    passwords: tuple[str, str]

    def board(self, number: int, door: Door | None = None, client_id: str = "") -> TrialClient:
        """One of the two boards; it connects with a client id of its own choice, as boards do."""
        name, password = TRIAL_USERS[number], self.passwords[number]
        return TrialClient(door or self.boards, client_id or name, name, password)

    def own(self, number: int) -> str:
        """The topic of the board's readings."""
        return f"{self.base}/{TRIAL_USERS[number]}/{READINGS}"


def trials(settings: Settings, settings_file: Path) -> Iterator[Step]:
    """Each trial as it is done. The first that leaves no way on is the last."""
    files = files_of(settings)
    _refuse_silence(settings)
    with trial_users(files, settings) as passwords:
        trial = _trial(settings, passwords)
        found = _is_known(trial)
        if found is not None:
            yield Step(False, _not_taken(files, found, settings_file))
            return
        for part in (_doors, _boards_apart, _reading_apart, _names_apart, _monitor_listener):
            yield from _carefully(part, trial)


def files_of(settings: Settings) -> BrokerFiles:
    """The broker's files that the settings name; UsageError where there are none."""
    broker = settings.broker
    if broker.embedded:
        raise UsageError(
            "the monitor's own small broker has no rules for each board, so there is nothing to prove. "
            "To mend: install mosquitto, then `rearing-monitor broker setup`"
        )
    if broker.files is None or broker.username is None:
        raise UsageError(
            "the settings do not name the broker's files ([broker] files, username). "
            "To mend: `rearing-monitor broker setup` on the computer of the broker"
        )
    return BrokerFiles.of(broker.files)


def _refuse_silence(settings: Settings) -> None:
    broker = settings.broker
    # An answer, not only an open port: mosquitto listens before it takes signals, and a reload would end it.
    client = TrialClient(Door.of_monitor(broker), f"{users.TRIAL}0")
    entry = client.connect()
    client.close()
    if entry is not Entry.NOBODY:
        return
    raise BrokerUnreachable(
        "nothing listens at {where}. To mend: start mosquitto (sudo systemctl restart mosquitto); its log "
        "says why it does not start",
        where=f"{broker.host}:{broker.port}",
    )


def _trial(settings: Settings, passwords: tuple[str, str]) -> Trial:
    broker = settings.broker
    trust = ssl.create_default_context(cadata=certificates.ca_pem(broker.boards_folder))
    return Trial(
        Door(broker.host, broker.boards_port, trust, certificates.BROKER_NAME),
        Door.of_monitor(broker),
        f"{broker.topic_root}/{settings.site.id}",
        broker.username or "",
        broker.password.get_secret_value() if broker.password else "",
        passwords,
    )


# The two users.


@contextmanager
def trial_users(files: BrokerFiles, settings: Settings) -> Iterator[tuple[str, str]]:
    """Two users that are there while the block runs; the file is then as it was before."""
    if broker_files.site_of(files.access) not in (None, settings.site.id):
        raise UsageError(
            "{file} belongs to another site. To mend: see [site] id in the settings",
            file=str(files.access),
        )
    remove_trial_users(files)
    drawn = (users.new_password(), users.new_password())
    with _ending_in_order():
        yield from _while_they_are_there(files, drawn)


def _while_they_are_there(files: BrokerFiles, drawn: tuple[str, str]) -> Iterator[tuple[str, str]]:
    try:
        with broker_files.changing(files):
            changed = broker_files.with_users(files, dict(zip(TRIAL_USERS, drawn, strict=True)))
            write_all([changed])
        _reload(files)
        yield drawn
    finally:
        remove_trial_users(files)


@contextmanager
def _ending_in_order() -> Iterator[None]:
    """A closed terminal and `kill` take the users away again, as Ctrl-C does."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    numbers = (signal.SIGTERM, signal.SIGHUP)
    before = {number: signal.signal(number, signal.default_int_handler) for number in numbers}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def remove_trial_users(files: BrokerFiles) -> None:
    """Take away what a trial added, also one that was killed in the middle."""
    if not set(TRIAL_USERS) & set(broker_files.user_names(files)):
        return
    with broker_files.changing(files):
        write_all([broker_files.without_users(files, TRIAL_USERS)])
    broker_files.reload(files)


def _reload(files: BrokerFiles) -> None:
    if broker_files.reload(files) is Reload.WANTED:
        raise UsageError(
            "this user may not tell mosquitto to read its users again, so nothing can be tried. To mend: "
            "give the command with sudo, or let systemd do it: `rearing-monitor broker setup --reload-unit`"
        )


def _is_known(trial: Trial) -> Entry | None:
    """Wait until the broker knows the first board; None when it does, else how it last answered."""
    began_s = time.monotonic()
    while True:
        client = trial.board(0)
        entry = client.connect()
        client.close()
        if entry is Entry.LET_IN:
            return None
        # A reload takes a moment; a certificate or a port that is wrong then stays wrong.
        patience_s = RELOAD_S if entry is Entry.REFUSED else SETTLE_S
        if time.monotonic() - began_s > patience_s:
            return entry
        time.sleep(POLL_S)


def _not_taken(files: BrokerFiles, entry: Entry, settings_file: Path) -> Sentence:
    if entry is Entry.REFUSED:
        return sentence(
            "the broker does not let in a user that was just added. To mend: {command}, and see that "
            "mosquitto runs with {main}",
            command=broker_files.reload_command(files),
            main=str(files.main),
        )
    reasons = {
        Entry.NOBODY: sentence("nothing listens there"),
        Entry.NOT_TRUSTED: sentence("its certificate is not of the farm's CA"),
        Entry.OTHER_NAME: sentence("its certificate does not bear the name of the broker"),
        Entry.NO_TLS: sentence("it does not speak TLS there"),
    }
    return sentence(
        "a board does not get in at the door for boards: {why}. To mend: restart mosquitto; if that does not "
        "help: `{command}`",
        why=reasons.get(entry, sentence("it hangs up; see mosquitto's own log")),
        command=f"rearing-monitor broker setup --config {settings_file}",
    )


# The trials.


def _carefully(part: Callable[[Trial], Iterator[Step]], trial: Trial) -> Iterator[Step]:
    """A part of the trials; a broker that falls silent in the middle is a failure, not an error."""
    try:
        yield from part(trial)
    except (OSError, IntakeError):
        yield Step(
            False,
            sentence("the broker fell silent in the middle of a trial; see whether mosquitto still runs"),
        )


def _doors(trial: Trial) -> Iterator[Step]:
    """Who is let in at all, and whom a board trusts."""
    stranger = secrets.token_hex(4)
    other = ssl.create_default_context(cadata=certificates.pem_of(certificates.make_authority("other")))
    plain = replace(trial.boards, trust=None)
    where = {trial.boards: trial.boards.port, trial.monitor: trial.monitor.port}
    for door, port in where.items():
        at = {"port": str(port)}
        nobody = TrialClient(door, stranger)
        yield _refused(nobody, sentence("port {port}: who gives no user name is refused", **at), at)
        wrong = TrialClient(door, stranger, TRIAL_USERS[0], stranger)
        yield _refused(wrong, sentence("port {port}: a wrong password is refused", **at), at)
        unknown = TrialClient(door, stranger, f"{users.TRIAL}{stranger}", stranger)
        yield _refused(unknown, sentence("port {port}: an unknown user is refused", **at), at)
    yield _plain_text(trial.board(0, plain), trial.boards.port)
    foreign = trial.board(0, replace(trial.boards, trust=other)).connect()
    yield Step(
        foreign is Entry.NOT_TRUSTED,
        sentence("a board that trusts another CA does not speak to this broker")
        if foreign is Entry.NOT_TRUSTED
        else sentence("a board that trusts another CA spoke to this broker. To mend: {remedy}", remedy=_CONF),
    )
    misnamed = trial.board(0, replace(trial.boards, name=NOBODY)).connect()
    yield Step(
        misnamed is Entry.OTHER_NAME,
        sentence("a board that asks for another name does not speak to this broker")
        if misnamed is Entry.OTHER_NAME
        else sentence(
            "the broker's certificate bears any name. To mend: remove server.pem from the folder boards, "
            "then run `rearing-monitor broker setup` again"
        ),
    )


def _refused(client: TrialClient, good: Sentence, at: dict[str, str]) -> Step:
    entry = client.connect()
    if entry is Entry.HUNG_UP:  # The connection may have broken by chance; only a no is a refusal.
        entry = client.connect()
    client.close()
    if entry is Entry.REFUSED:
        return Step(True, good)
    if entry is Entry.LET_IN:
        return Step(
            False,
            sentence(
                "it must be so: {wanted}; but it was let in. To mend: {remedy}", wanted=good, remedy=_CONF
            ),
        )
    return Step(
        False,
        sentence("it must be so: {wanted}; but nobody answers at port {port}", wanted=good, port=at["port"]),
    )


def _plain_text(client: TrialClient, port: int) -> Step:
    entry = client.connect()
    client.close()
    if entry is Entry.HUNG_UP:
        return Step(True, sentence("port {port}: what is not encrypted is refused", port=str(port)))
    return Step(
        False,
        sentence(
            "port {port} takes passwords that are not encrypted. To mend: {remedy}",
            port=str(port),
            remedy=_CONF,
        ),
    )


@contextmanager
def _connected(*clients: TrialClient) -> Iterator[None]:
    with ExitStack() as stack:
        for client in clients:
            stack.callback(client.close)
            if client.connect() is not Entry.LET_IN:
                raise OSError("not let in")
        yield


def _boards_apart(trial: Trial) -> Iterator[Step]:
    """A board speaks for itself alone, and is heard."""
    ear = TrialClient(trial.monitor, f"trial-{secrets.token_hex(4)}", trial.user, trial.password)
    first, second = trial.board(0), trial.board(1)
    entry = ear.connect()
    ear.close()
    if entry is Entry.REFUSED:
        yield _monitor_refused(trial)
        return
    with _connected(ear, first, second):
        ear.subscribe(f"{trial.base}/#")
        second.subscribe(f"{trial.base}/{TRIAL_USERS[1]}/#")
        first.subscribe(f"{trial.base}/{TRIAL_USERS[0]}/#")
        elsewhere = [
            trial.own(1),
            f"{trial.base}/service",
            f"{trial.base}/sounder",
            f"{trial.base}/x/{READINGS}",
        ]
        forbidden = {topic: _payload() for topic in elsewhere}
        for topic, payload in forbidden.items():
            first.publish(topic, payload)
        own, answer = _payload(), _payload()
        first.publish(trial.own(0), own)
        heard = ear.has_come(own)
        yield _step(heard, sentence("what a board sends comes to the monitor"), _RULES)
        yield _step(first.has_come(own), sentence("a board's message to itself arrives"), _RULES)
        ear.publish(trial.own(1), answer)
        reached = second.has_come(answer)
        yield _step(reached, sentence("what the monitor says to a board arrives"), _RULES)
        came = {payload for client in (ear, second) for _, payload in client.messages}
        wrong = [topic for topic, payload in forbidden.items() if payload in came]
        apart = heard and reached and trial.own(1) not in wrong
        yield _step(apart, sentence("a board that speaks as another board is not heard"), _RULES)
        silent = heard and not set(wrong) - {trial.own(1)}
        said = sentence("a board that speaks as the monitor, or as nobody, is not heard")
        yield _step(silent, said, _RULES)


def _monitor_refused(trial: Trial) -> Step:
    return Step(
        False,
        sentence(
            "port {port}: the monitor itself ({user}) is refused: the broker has another password for it "
            "than the settings name. To mend: `rearing-monitor broker setup`",
            port=str(trial.monitor.port),
            user=trial.user,
        ),
    )


def _reading_apart(trial: Trial) -> Iterator[Step]:
    """A board hears nothing that is meant for others."""
    first, second = trial.board(0), trial.board(1)
    with _connected(first, second):
        for topic in (f"{trial.base}/{TRIAL_USERS[1]}/#", f"{trial.base}/#", "#"):
            first.subscribe(topic)
        secret, own = _payload(), _payload()
        second.publish(trial.own(1), secret)
        first.publish(trial.own(0), own)
        is_alive = first.has_come(own)
        came = [payload for _, payload in first.messages]
        yield _step(
            is_alive and secret not in came, sentence("a board cannot read what another sends"), _RULES
        )


def _names_apart(trial: Trial) -> Iterator[Step]:
    """A board cannot throw another off by taking its client id."""
    first, second = trial.board(0), trial.board(1, client_id=TRIAL_USERS[0])
    with _connected(first, second):
        apart = first.is_connected()
    yield _step(apart, sentence("a board cannot throw another off by its client id"), _CONF)


def _monitor_listener(trial: Trial) -> Iterator[Step]:
    """The monitor may have a second connection under its own user name."""
    clients = [trial.board(0, trial.monitor, f"trial-{secrets.token_hex(4)}") for _ in range(2)]
    with _connected(*clients):
        both = clients[0].is_connected()
    yield _step(
        both,
        sentence("port {port}: the monitor may have a second connection", port=str(trial.monitor.port)),
        sentence(
            "take use_username_as_clientid away from the listener at port {port}, or run "
            "`rearing-monitor broker setup`, which gives the monitor a listener of its own",
            port=str(trial.monitor.port),
        ),
    )


def _payload() -> bytes:
    """Nothing that a monitor takes for a reading, nor a board for an order."""
    return PROOF + secrets.token_hex(8).encode()


def _step(good: bool, said: Sentence, remedy: Sentence) -> Step:
    if good:
        return Step(True, said)
    return Step(
        False,
        sentence("it must be so: {wanted}; but it is not. To mend: {remedy}", wanted=said, remedy=remedy),
    )
