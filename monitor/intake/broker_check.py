"""Tries the way to the broker step by step, and says at the first that fails what to mend.

It connects as the service does, in the same lasting session, and acknowledges nothing: what waits there for
the service goes on waiting. It is not for a moment in which the service is connected.
"""

from __future__ import annotations

import ipaddress
import socket
import time
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass

from monitor.errors import IntakeError, Phrase, Sentence, sentence
from monitor.intake import connection
from monitor.intake.proof import Way, closed_way
from monitor.intake.subscriber import Subscriber
from monitor.settings.schema import BrokerSettings

DIAL_S = 8.0
LOGIN_S = 20.0
POLL_S = 0.02
SECOND_S = 0.5
"""A connection that is thrown off by another one ends at once; own choice."""


@dataclass(frozen=True, slots=True)
class Step:
    """One step of the way: what was found, or what is wrong and what to mend."""

    good: bool
    said: Sentence


def broker_steps(broker: BrokerSettings, site: str, plain_filters: Sequence[str] = ()) -> Iterator[Step]:
    """Each step as it is done; the first that fails is the last."""
    for step in _dial(broker):
        yield step
        if not step.good:
            return
    subscriber = Subscriber(broker, site, plain_filters, announces=False)
    subscriber.start()
    try:
        yield from _as_the_service(subscriber, broker)
    finally:
        subscriber.stop()


def steps_of_running_service(site: str, topic_root: str, username: str | None, way: Way) -> Iterator[Step]:
    """What a service that is connected found itself; a second connection could throw it off."""
    yield Step(True, sentence("the monitor runs, and is connected, logged in and subscribed"))
    if way is Way.CLOSED:
        yield Step(False, closed_way(f"{topic_root}/{site}", username, False))
    elif way is Way.PROVEN:
        yield Step(True, _proven())
    else:
        yield Step(True, sentence("its message to itself is still under way; ask again in half a minute"))


def _proven() -> Sentence:
    return sentence("the broker passes on what boards send")


def _dial(broker: BrokerSettings) -> Iterator[Step]:
    """Name, port and TLS, without a word of MQTT."""
    host, where = broker.host, f"{broker.host}:{broker.port}"
    try:
        found = socket.getaddrinfo(host, broker.port, type=socket.SOCK_STREAM)
    except (OSError, UnicodeError):
        yield Step(False, _no_such_host(host))
        return
    if not _is_address(host):
        address = str(found[0][4][0])
        yield Step(True, sentence("the name {host} stands for {address}", host=host, address=address))
    try:
        with socket.create_connection((host, broker.port), DIAL_S) as plain:
            yield Step(True, sentence("something answers at {where}", where=where))
            if broker.tls:
                yield _tls(broker, plain)
    except OSError as error:
        yield Step(False, _no_answer(where, error))


def _no_such_host(host: str) -> Sentence:
    return sentence(
        'there is no computer named "{host}". To mend: correct [broker] host; a broker on this computer is '
        '"127.0.0.1"',
        host=host,
    )


def _no_answer(where: str, error: OSError) -> Sentence:
    if isinstance(error, ConnectionRefusedError):
        return sentence(
            "nothing listens at {where}. To mend: start the broker (mosquitto: systemctl start mosquitto), "
            "or correct [broker] host and port; mosquitto without a listener line answers its own computer "
            "only",
            where=where,
        )
    return sentence(
        "no answer from {where} ({why}). To mend: see whether that computer is on, in the same network, and "
        "whether a firewall stands between",
        where=where,
        why=error.strerror or str(error),
    )


def _is_address(host: str) -> bool:
    try:
        ipaddress.ip_address(host)
    except ValueError:
        return False
    return True


def _tls(broker: BrokerSettings, plain: socket.socket) -> Step:
    try:
        context = connection.tls_context(broker)
        with context.wrap_socket(plain, server_hostname=broker.host):
            return Step(
                True, sentence("the connection is encrypted, and the broker's certificate is trusted")
            )
    except IntakeError as error:
        return Step(False, error.said)
    except (OSError, ValueError) as error:
        return Step(False, connection.unreachable(broker.host, broker.port, error))


def _as_the_service(subscriber: Subscriber, broker: BrokerSettings) -> Iterator[Step]:
    """Log in, subscribe, and wait for the message to ourselves."""
    _wait(lambda: subscriber.connected_ms is not None or subscriber.fault is not None)
    if subscriber.connected_ms is None:
        yield Step(False, _refused(subscriber, broker))
        return
    yield Step(True, _logged_in(broker))
    _wait(lambda: subscriber.connected or subscriber.fault is not None)
    if not subscriber.connected:
        yield Step(False, subscriber.fault or _silent())
        return
    yield Step(True, sentence("subscribed to {topics}", topics=", ".join(subscriber.filters)))
    _wait(lambda: subscriber.proof.way is not Way.UNKNOWN, 2 * LOGIN_S)
    problem = subscriber.proof.problem
    if subscriber.proof.way is Way.PROVEN:
        yield Step(True, _proven())
        yield from _second_connection(subscriber, broker)
    else:
        yield Step(False, problem or subscriber.fault or _silent())


def _second_connection(subscriber: Subscriber, broker: BrokerSettings) -> Iterator[Step]:
    """A broker that takes the user name for the client id throws the first connection of a user off.

    The service needs a second one while the database refuses.
    """
    if broker.username is None:
        return
    # A second connection that is refused for another reason shows nothing of this.
    with suppress(IntakeError), connection.Publisher(broker, f"{broker.client_id}-second"):
        _wait(lambda: not subscriber.connected, SECOND_S)
    if not subscriber.connected:
        yield Step(False, thrown_off_by_itself(broker.port))


def thrown_off_by_itself(port: int) -> Sentence:
    """What is wrong with a listener of the broker that takes the user name for the client id."""
    return sentence(
        "the broker lets the monitor have one connection only (use_username_as_clientid at port {port}); "
        "while the database refuses it needs two. To mend: take that line away from the listener at that "
        "port, or `rearing-monitor broker setup`, which gives the monitor a listener of its own",
        port=str(port),
    )


def _wait(until: object, most_s: float = LOGIN_S) -> None:
    assert callable(until)
    deadline = time.monotonic() + most_s
    while not until() and time.monotonic() < deadline:
        time.sleep(POLL_S)


def _logged_in(broker: BrokerSettings) -> Sentence:
    if broker.username is None:
        return sentence("let in without a user name")
    return sentence('logged in as "{name}"', name=broker.username)


def _refused(subscriber: Subscriber, broker: BrokerSettings) -> Sentence:
    remedy: Phrase = sentence("correct [broker] username and its password (password_file or password_env)")
    if broker.username is None:
        remedy = sentence("the broker wants a user name: add username and password_file to [broker]")
    return sentence(
        "{problem}. To mend: {remedy}; a user of mosquitto is added with mosquitto_passwd",
        problem=subscriber.fault or _silent(),
        remedy=remedy,
    )


def _silent() -> Sentence:
    return sentence("the broker does not answer")
