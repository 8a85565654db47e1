"""Boards that know nothing but their cards: each publishes over TLS, whatever becomes of the broker."""

from __future__ import annotations

import base64
import json
import ssl
import threading
import time
from pathlib import Path
from typing import Any

import paho.mqtt.client as mqtt
from paho.mqtt.enums import CallbackAPIVersion


class CardBoard:
    """A board with one reading of air every `every_s`, kept while nobody takes it; counts its connections."""

    def __init__(self, card: Path, every_s: float) -> None:
        self.card: dict[str, Any] = json.loads(card.read_text(encoding="utf-8"))
        self.connects, self._every_s = 0, every_s
        self._ending = threading.Event()
        self._client = self._made()
        self._thread = threading.Thread(target=self._send, daemon=True)

    def _made(self) -> mqtt.Client:
        name = self.card["user"]
        version = CallbackAPIVersion.VERSION2
        client = mqtt.Client(version, client_id=name, clean_session=False, protocol=mqtt.MQTTv311)
        context = ssl.create_default_context(cadata=base64.b64decode(self.card["ca"]))
        context.check_hostname = False
        client.tls_set_context(context)
        client.username_pw_set(name, self.card["password"])
        client.reconnect_delay_set(1, 1)
        client.on_connect = self._noted
        return client

    def _noted(self, *arguments: Any) -> None:
        self.connects += not arguments[3].is_failure

    def start(self) -> None:
        """Go on for good."""
        self._client.connect_async(self.card["hosts"][0], self.card["port"], 30)
        self._client.loop_start()
        self._thread.start()

    def _send(self) -> None:
        sequence, topic = 0, f"{self.card['root']}/{self.card['site']}/{self.card['node']}/readings"
        while not self._ending.wait(self._every_s):
            sequence += 1
            pack = [
                {
                    "bt": round(time.time(), 3),
                    "n": "air_temperature",
                    "u": "Cel",
                    "v": 20 + sequence % 100 / 10,
                },
                {"n": "boot", "u": "count", "v": 7},
                {"n": "sequence", "u": "count", "v": sequence},
            ]
            self._client.publish(topic, json.dumps(pack), qos=1)

    def stop(self) -> None:
        """End it."""
        self._ending.set()
        self._thread.join(5)
        self._client.loop_stop()
        self._client.disconnect()
