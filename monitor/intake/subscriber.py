"""The connection to the broker: subscribe, hand each message on, acknowledge it when it is safe.

A thread of our own drives paho's loop: paho's thread dies on an exception and paho waits without jitter.
Messages are acknowledged only by `acknowledge`; what was not acknowledged comes again after `reconnect`,
never before (MQTT 5.0 4.4). With a broker whose default lets few messages be in flight (often 20), a batch
can be no larger than that.
"""

from __future__ import annotations

import logging
import random
import threading
import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any

import paho.mqtt.client as paho
from paho.mqtt.enums import CallbackAPIVersion, MQTTErrorCode, MQTTProtocolVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode

from monitor.errors import BrokerRefused, BrokerUnreachable, IntakeError, Sentence, sentence
from monitor.intake import connection
from monitor.intake.connection import confirm_at_once, secure
from monitor.intake.node_clock import Absence
from monitor.intake.payload import MOST_KEPT, Topics
from monitor.intake.proof import WayProof
from monitor.records import IncomingMessage
from monitor.settings.schema import BrokerSettings

log = logging.getLogger(__name__)

ONLINE, OFFLINE = "online", "offline"
QOS = 1
CONNECT_TIMEOUT_S = 10.0
LOOP_S = 1.0
MOST_PACKET_BYTES = 1024 * 1024
"""A broker that speaks MQTT 5 sends us nothing larger; above 16 KiB we refuse, with the reason."""
SHORT_LIFE_S, FIGHT = 10.0, 3
"""So many connections in a row that ended so soon: somebody else uses our client id."""
MQTT_5, MQTT_311 = MQTTProtocolVersion.MQTTv5, MQTTProtocolVersion.MQTTv311
LIVE_LONGEST_DELAY_S = 30


@dataclass(frozen=True, slots=True)
class Token:
    """What is needed to acknowledge one message: its connection, its order of receipt, its packet id."""

    connection: int
    order: int
    packet_id: int
    qos: int


def incoming(
    message: paho.MQTTMessage, received_ms: int, token: Token | None, live: bool = True
) -> IncomingMessage:
    """The record of a message; `token` is None where nothing needs to be acknowledged."""
    properties = message.properties
    user_properties = getattr(properties, "UserProperty", None)
    return IncomingMessage(
        message.topic,
        bytes(message.payload[:MOST_KEPT]),
        received_ms,
        bool(message.retain),
        getattr(properties, "ContentType", None),
        connection.age_s(getattr(properties, "MessageExpiryInterval", None), user_properties),
        token,
        bool(message.dup),
        live,
    )


class LiveTap:
    """A second connection that keeps nothing: what comes in now, while nothing can be acknowledged.

    While the database refuses, readings stay unacknowledged in the broker, and a broker sends only so many
    before it waits for our answer. Through this connection the newest ones still reach the alarms. It has QoS
    0 and a clean session, so it takes nothing out of the lasting session. `client` is new, secured and not
    connected; `read` makes a record of a message.
    """

    def __init__(
        self,
        client: paho.Client,
        address: tuple[str, int],
        filters: tuple[str, ...],
        read: Callable[[paho.MQTTMessage], IncomingMessage],
        deliver: Callable[[IncomingMessage], None],
    ) -> None:
        self._client, self._address, self.filters = client, address, filters
        self._read, self._deliver = read, deliver

    def open(self) -> None:
        """Begin to listen, and keep trying; returns at once."""
        client = self._client
        client.on_connect, client.on_message = self._on_connect, self._on_message
        client.reconnect_delay_set(1, LIVE_LONGEST_DELAY_S)
        client.connect_async(*self._address)
        client.loop_start()

    def close(self) -> None:
        self._client.disconnect()
        self._client.loop_stop()

    def _on_connect(
        self, client: paho.Client, _data: Any, _flags: Any, reason: ReasonCode, _properties: Any
    ) -> None:
        if not reason.is_failure:
            client.subscribe([(topic, 0) for topic in self.filters])

    def _on_message(self, _client: paho.Client, _data: Any, message: paho.MQTTMessage) -> None:
        # No exception may leave a callback: it would end the thread of the library.
        try:
            self._deliver(self._read(message))
        except Exception:
            log.warning("a message on the live connection was dropped", exc_info=True)


class Subscriber:
    """One persistent session with the broker.

    `deliver` gets every message on the network thread and must return at once (put it on a queue). It is
    called for retained messages too. With `announces` False nobody is told that the monitor is there.
    """

    def __init__(
        self,
        broker: BrokerSettings,
        site: str,
        plain_filters: Iterable[str] = (),
        deliver: Callable[[IncomingMessage], None] | None = None,
        *,
        most_unacknowledged: int = 1000,
        announces: bool = True,
        now_ms: Callable[[], int] = lambda: time.time_ns() // 1_000_000,
    ) -> None:
        self._broker, self._now_ms = broker, now_ms
        self._deliver = deliver or (lambda _: None)
        self._topics = Topics(site, broker.topic_root)
        self.filters = tuple(dict.fromkeys((*self._topics.filters(), *plain_filters)))
        self._subscriptions = (*((topic, QOS) for topic in self.filters), *self._topics.talk())
        self._window, self._announces = most_unacknowledged, announces
        self._protocol = MQTT_311 if broker.protocol == "3.1.1" else MQTT_5
        self._client: paho.Client | None = None
        self._thread: threading.Thread | None = None
        self._stopping, self._wake, self._ready = threading.Event(), threading.Event(), threading.Event()
        self._lock = threading.Lock()
        self._retained: dict[str, bytes] = {}
        self._connection = self._order = self._failures = self._short_lives = 0
        self._answered = self._refused = self._drained = False
        self._problem: Sentence | None = None
        self._tap: LiveTap | None = None
        self.proof = WayProof(broker, self._topics)
        self._proof_ids: set[int] = set()
        self._began = 0.0
        self.broken = 0
        self._heard_ms = 0
        self.connected_ms: int | None = None
        self.lost_ms: int | None = None
        self.down_ms: tuple[int, int] | None = None

    @property
    def connected(self) -> bool:
        """True when the broker has confirmed the subscription."""
        return self._ready.is_set()

    @property
    def problem(self) -> str | None:
        """What is wrong with the connection, in words for a person; None when nothing is."""
        steady = self._short_lives < FIGHT or time.monotonic() - self._began > SHORT_LIFE_S
        return None if self._problem is None or (self.connected and steady) else self._problem.text

    @property
    def fault(self) -> Sentence | None:
        """The last thing that was wrong with the connection, whether or not it has been mended."""
        return self._problem

    @property
    def alive(self) -> bool:
        """False when the network thread has ended: the process should end and be started again."""
        return self._thread is not None and self._thread.is_alive()

    def absence(self, last_alive_ms: int | None) -> Absence | None:
        """The last time away from the broker; the first began when the process before us was last alive.

        While nobody listened at its address the broker was down too, and queued nothing. What it had queued
        before, a broker that writes to disk sends all the same.
        """
        start_ms = self.lost_ms if self.lost_ms is not None else last_alive_ms
        if start_ms is None or self.connected_ms is None or self.connected_ms < start_ms:
            return None
        down = self.down_ms
        was_down = down is not None and start_ms <= down[1] <= self.connected_ms
        return Absence(start_ms, self.connected_ms, down if was_down else None)

    def start(self) -> None:
        """Start connecting; returns at once and keeps trying for ever."""
        if self._thread is None:
            self._thread = threading.Thread(target=self._run, name="broker connection", daemon=True)
            self._thread.start()

    def wait_connected(self, timeout_s: float) -> None:
        """Wait for the subscription; else BrokerRefused or BrokerUnreachable with the reason."""
        if not self._ready.wait(timeout_s):
            error = BrokerRefused if self._refused else BrokerUnreachable
            raise error(
                self._problem
                or sentence("the broker did not answer within {seconds} seconds", seconds=f"{timeout_s:g}")
            )

    def stop(self, timeout_s: float = 5.0) -> None:
        """Say offline, disconnect (the session stays in the broker) and end the thread."""
        self.listen_live(False)
        if self.connected and self._announces:
            self._say_offline(timeout_s / 2)
        self._stopping.set()
        self._wake.set()
        self._disconnect()
        if self._thread is not None:
            self._thread.join(timeout_s)

    def reconnect(self) -> None:
        """Drop the connection and come back, so that the broker sends again what was not acknowledged."""
        self._wake.set()
        self._disconnect()

    def acknowledge(self, messages: Iterable[IncomingMessage]) -> int:
        """Acknowledge in the order of receipt; gives the number that reached the present connection.

        A message of an earlier connection is left out: the broker sends it again, and its packet id may by
        now belong to another message.
        """
        tokens = sorted(
            (message.token for message in messages if isinstance(message.token, Token)),
            key=lambda token: (token.connection, token.order),
        )
        with self._lock:
            client = self._client
            if client is None or not client.is_connected():
                return 0
            present = [token for token in tokens if token.connection == self._connection]
            for token in present:
                client.ack(token.packet_id, token.qos)
        return len(present)

    def listen_live(self, wanted: bool) -> None:
        """Open or close the second connection, over which alarms see the present while nothing is stored."""
        if wanted and self._tap is None:
            self._tap = self._new_tap()
            self._tap.open()
        elif not wanted and self._tap is not None:
            self._tap.close()
            self._tap = None

    def _new_tap(self) -> LiveTap:
        broker, is_5 = self._broker, self._protocol is MQTT_5
        client = paho.Client(
            CallbackAPIVersion.VERSION2,
            f"{broker.client_id}-live",
            clean_session=None if is_5 else True,
            protocol=self._protocol,
        )
        secure(client, broker)
        return LiveTap(
            client,
            (broker.host, broker.port),
            self.filters,
            lambda message: incoming(message, self._now_ms(), None),
            self._deliver,
        )

    def publish(self, topic: str, payload: str | bytes, retain: bool = False, qos: int = QOS) -> bool:
        """Send a message; a retained one is remembered and sent again on each connect. False when not now.

        An empty one takes away what the broker keeps, and is sent once.
        """
        data = payload.encode() if isinstance(payload, str) else payload
        if retain:
            self._retained[topic] = data
        client = self._client
        if client is None or not self.connected:
            return False
        if retain and not data:
            self._retained.pop(topic, None)
        return client.publish(topic, data, qos, retain).rc is MQTTErrorCode.MQTT_ERR_SUCCESS

    # The thread.

    def _run(self) -> None:
        while not self._stopping.is_set():
            self._wake.clear()
            self._began = time.monotonic()
            try:
                self._connect_and_loop()
            except IntakeError as error:
                self._note(error.said)
            except (OSError, ValueError) as error:
                if isinstance(error, ConnectionRefusedError):
                    self._nobody_listens()
                self._note(connection.unreachable(self._broker.host, self._broker.port, error), refused=False)
            except Exception:
                log.exception("the connection to the broker ended with an error of the program")
                self._note(
                    sentence("the connection to the broker ended with an error of the program; see the log")
                )
            self._after(time.monotonic() - self._began)
            if not self._stopping.is_set():
                self._wake.wait(connection.delay_s(self._failures - 1, random.random()))

    def _nobody_listens(self) -> None:
        now_ms, down = self._now_ms(), self.down_ms
        since_ms = max(self.lost_ms or 0, self.connected_ms or 0)
        goes_on = down is not None and since_ms <= down[0] <= now_ms
        self.down_ms = (down[0] if down and goes_on else now_ms, now_ms)

    def _connect_and_loop(self) -> None:
        with self._lock:
            self._connection += 1
            self._client = client = self._new_client()
        self._answered = False
        self._dial(client)
        # paho's loop_forever, off paho's own thread, wakes for our writing once a second only.
        while client.loop(LOOP_S) is MQTTErrorCode.MQTT_ERR_SUCCESS:
            self._prove_way(client)
        if not self._answered and not self._stopping.is_set() and not self._try_older_protocol():
            self._note(connection.closed_early(self._broker))

    def _prove_way(self, client: paho.Client) -> None:
        payload = self.proof.due()
        if payload is not None:
            self._proof_ids = {client.publish(topic, payload, QOS).mid for topic in self.proof.topics}

    def _after(self, lived_s: float) -> None:
        self.proof.lost()
        if self._ready.is_set():
            # A line that is dead is noticed late; what was sent meanwhile waits in the broker.
            self.lost_ms = min(self._now_ms(), max(self._heard_ms, self.connected_ms or 0))
        was_connected = self._ready.is_set()
        self._ready.clear()
        self._failures = 0 if was_connected and lived_s >= connection.STEADY_S else self._failures + 1
        asked_for = self._wake.is_set()
        was_short = was_connected and lived_s < SHORT_LIFE_S and not asked_for
        self._short_lives = self._short_lives + 1 if was_short else 0
        if self._short_lives >= FIGHT:
            self._note(
                sentence(
                    "the broker keeps closing the connection; perhaps {reason}", reason=connection.TAKEN_OVER
                )
            )

    def _try_older_protocol(self) -> bool:
        """With protocol auto, 3.1.1 follows 5 without a pause, and 5 comes next after that."""
        is_auto, was_5 = self._broker.protocol == "auto", self._protocol is MQTT_5
        if is_auto:
            self._protocol = MQTT_311 if was_5 else MQTT_5
        if is_auto and was_5:
            self._wake.set()
        return is_auto and was_5

    def _note(self, problem: Sentence, *, refused: bool = True) -> None:
        if problem != self._problem:
            log.warning("%s", problem)
        self._problem, self._refused = problem, refused

    def _disconnect(self) -> None:
        client = self._client
        if client is not None:
            client.disconnect()

    def _say_offline(self, timeout_s: float) -> None:
        client = self._client
        if client is None:
            return
        try:
            client.publish(self._topics.service, OFFLINE, QOS, retain=True).wait_for_publish(timeout_s)
        except (ValueError, RuntimeError) as error:
            log.debug("the last word did not reach the broker: %s", error)

    # Building the client.

    def _new_client(self) -> paho.Client:
        is_5 = self._protocol is MQTT_5
        client = paho.Client(
            CallbackAPIVersion.VERSION2,
            self._broker.client_id,
            clean_session=None if is_5 else False,
            protocol=self._protocol,
            reconnect_on_failure=False,
            manual_ack=True,
        )
        client.connect_timeout = CONNECT_TIMEOUT_S
        if self._announces:
            client.will_set(self._topics.service, OFFLINE, QOS, retain=True)
        secure(client, self._broker)
        client.on_connect = self._on_connect
        client.on_disconnect = self._on_disconnect
        client.on_subscribe = self._on_subscribe
        client.on_message = self._on_message
        client.on_publish = self._on_publish
        # With this set, paho leaves all writing to the loop's thread; else two threads would write into one
        # socket.
        client.on_socket_register_write = lambda *_: None
        return client

    def _dial(self, client: paho.Client) -> None:
        broker = self._broker
        if self._protocol is not MQTT_5:
            client.connect(broker.host, broker.port, broker.keep_alive_s)
            return
        session = Properties(PacketTypes.CONNECT)  # type: ignore[no-untyped-call]
        session.SessionExpiryInterval = round(broker.session_days * 86400)
        session.ReceiveMaximum = min(self._window, 65535)
        session.MaximumPacketSize = MOST_PACKET_BYTES
        client.connect(broker.host, broker.port, broker.keep_alive_s, clean_start=False, properties=session)

    # Callbacks. None may raise: paho would end the loop.

    def _on_connect(
        self, client: paho.Client, _data: Any, flags: paho.ConnectFlags, reason: ReasonCode, _properties: Any
    ) -> None:
        self._answered = True
        if reason.is_failure:
            name = reason.getName()
            if name != "Unsupported protocol version" or not self._try_older_protocol():
                self._note(connection.refusal(name))
            return
        if self._stopping.is_set():
            client.disconnect()
            return
        # Before the subscription: a resumed session delivers at once.
        self.connected_ms = self._now_ms()
        # A broker that does not know our session has kept nothing for us.
        self._drained = not flags.session_present
        client.subscribe(list(self._subscriptions))
        if self._announces:
            client.publish(self._topics.service, ONLINE, QOS, retain=True)

    def _on_subscribe(
        self, client: paho.Client, _data: Any, _packet_id: int, reasons: list[ReasonCode], _properties: Any
    ) -> None:
        asked = zip(self._subscriptions, reasons, strict=False)
        denied = [topic for (topic, _), reason in asked if reason.is_failure]
        # Rules from before boards asked may let us read less; readings matter more than answers.
        if any(topic in self.filters for topic in denied):
            self._note(
                sentence(
                    "the broker does not let us read {topics}; see its access rules", topics=", ".join(denied)
                )
            )
            return
        if denied:
            log.warning("the broker does not let us read %s; see its access rules", ", ".join(denied))
        self._ready.set()
        # Now, not before: what is remembered from here on is sent by `publish` itself.
        for topic, payload in self._retained.copy().items():
            client.publish(topic, payload, QOS, retain=True)
            if not payload:
                self._retained.pop(topic, None)
        self.proof.begin()

    def _on_publish(
        self, _client: paho.Client, _data: Any, packet_id: int, reason: ReasonCode, _properties: Any
    ) -> None:
        # Only a broker that speaks MQTT 5 says so.
        if reason.is_failure and packet_id in self._proof_ids:
            self.proof.refused()

    def _on_disconnect(
        self, _client: paho.Client, _data: Any, _flags: Any, reason: ReasonCode, _properties: Any
    ) -> None:
        name = reason.getName()
        if name == "Session taken over":
            self._note(connection.TAKEN_OVER)
        elif self._ready.is_set() and reason.is_failure:
            self._note(connection.lost(name), refused=False)

    def _on_message(self, client: paho.Client, _data: Any, message: paho.MQTTMessage) -> None:
        confirm_at_once(client)
        self._order += 1
        token = Token(self._connection, self._order, message.mid, message.qos)
        try:
            taken = incoming(message, self._now_ms(), token, self._drained)
        except Exception:
            # Such a message (a topic that is not UTF-8) would come again for ever.
            self.broken += 1
            log.warning("a message that cannot be read was dropped", exc_info=True)
            client.ack(message.mid, message.qos)
            return
        self._heard_ms = taken.received_ms
        if not message.retain and self.proof.came(taken.payload):
            # A broker keeps the order: what had waited came before our own message.
            self._drained = self._drained or self.proof.is_own(taken.payload)
            client.ack(message.mid, message.qos)
            return
        try:
            self._deliver(taken)
        except Exception:
            log.exception("a message was not taken over; it stays in the broker")
            client.disconnect()
