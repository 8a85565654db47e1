"""What the monitor does for boards, as small as can be: it hears their packs and answers what they ask."""

from __future__ import annotations

import json
import threading
import time
from collections import defaultdict
from collections.abc import Callable
from typing import Any

from paho.mqtt.client import Client, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion

SITE = "rearing/saltbush-yard"
FIRST_MS = 1_790_000_000_000
"""When the stand-in's clock starts."""


class MonitorStandIn:
    """Stores each (boot, sequence) once; `answers`, `knows_time`, `ahead_ms` and `drop` may be changed."""

    def __init__(self, port: int, speed: int = 1, **login: Any) -> None:
        self.answers = self.knows_time = True
        self.ahead_ms = 0
        self.packs: dict[tuple[int, int], dict[str, Any]] = {}
        self.copies: dict[tuple[int, int], int] = defaultdict(int)
        self.asks: list[dict[str, Any]] = []
        self.reports: list[dict[str, Any]] = []
        self.states: list[str] = []
        self.drop: Callable[[tuple[int, int]], bool] = lambda _: False
        self._speed, self._start_s = speed, time.monotonic()
        self._lock, self._is_heard = threading.Lock(), threading.Event()
        self._client = Client(CallbackAPIVersion.VERSION2, client_id="monitor")
        if login:
            self._client.username_pw_set(login["user"], login["password"])
        self._client.will_set(f"{SITE}/service", "offline", 1, retain=True)
        self._client.on_connect = self._connected
        self._client.on_message = self._take
        self._client.reconnect_delay_set(1, 1)
        self._client.connect("127.0.0.1", port)
        self._client.loop_start()
        # A broker that is told to end before it has answered anybody may not hear it.
        assert self._is_heard.wait(10)

    def now_ms(self) -> int:
        """The time that it gives to boards."""
        return FIRST_MS + int((time.monotonic() - self._start_s) * 1000) * self._speed + self.ahead_ms

    def publish(self, topic: str, payload: str | bytes, qos: int = 1, *, retain: bool = False) -> None:
        """Below the site's topic."""
        self._client.publish(f"{SITE}/{topic}", payload, qos, retain=retain)

    def stop(self) -> None:
        """It says good-bye."""
        self._client.disconnect()
        self._client.loop_stop()

    def sequences(self, boot: int | None = None) -> list[int]:
        """What is stored of one boot; of the only one where none is named."""
        with self._lock:
            boots = {key[0] for key in self.packs}
            if boot is None:
                assert len(boots) == 1, boots
                (boot,) = boots
            return sorted(sequence for of, sequence in self.packs if of == boot)

    def wait(self, done: Callable[[MonitorStandIn], object], timeout_s: float = 20.0) -> None:
        """Return when it is so."""
        until = time.monotonic() + timeout_s
        while not self._holds(done):
            if time.monotonic() > until:
                raise AssertionError(
                    f"not within {timeout_s} s: {sorted(self.packs)}, {self.asks[-3:]}, {self.reports[-1:]}"
                )
            time.sleep(0.02)

    def _holds(self, done: Callable[[MonitorStandIn], object]) -> bool:
        try:
            return bool(done(self))
        except (AssertionError, IndexError, RuntimeError):
            return False

    def _connected(self, client: Client, *_: Any) -> None:
        client.subscribe([(f"{SITE}/+/{name}", 1) for name in ("readings", "ask", "report", "status")])
        client.publish(f"{SITE}/service", "online", 1, retain=True)
        self._is_heard.set()

    def _take(self, _: Client, __: Any, message: MQTTMessage) -> None:
        node, kind = message.topic.split("/")[-2:]
        if kind == "readings":
            self._store(json.loads(message.payload))
        elif kind == "ask":
            self._answer(node, json.loads(message.payload))
        elif kind == "report":
            self.reports.append(json.loads(message.payload))
        else:
            self.states.append(message.payload.decode())

    def _store(self, records: list[dict[str, Any]]) -> None:
        values = {record["n"]: record["v"] for record in records}
        key = values.pop("boot"), values.pop("sequence")
        with self._lock:
            self.copies[key] += 1
            if self.drop(key) or key in self.packs:
                return
            base = records[0]["bt"]
            at_ms = base * 1000 if base > 2**28 else self.now_ms() + base * 1000
            self.packs[key] = {"at_ms": at_ms, "relative": base < 2**28, "ut": records[0].get("ut"), **values}

    def _answer(self, node: str, asked: dict[str, Any]) -> None:
        self.asks.append(asked)
        if not self.answers:
            return
        said = {"id": asked["id"]}
        if self.knows_time:
            said["unix_ms"] = self.now_ms()
        if "first" in asked:
            done = asked["first"] - 1
            while (asked["boot"], done + 1) in self.packs and done < asked["last"]:
                done += 1
            said.update(boot=asked["boot"], done=done)
        self.publish(f"{node}/time", json.dumps(said), 0)
