"""Boards that publish from a process of their own, so that their work is not counted as the monitor's.

Run as a script it makes its packets, connects, says `ready`, and begins when it is told to: what is timed
holds neither the making of messages nor a client library. It speaks MQTT 3.1.1 by itself: PUBLISH with QoS 1
one after the other, confirmations are read and not looked at.
"""

from __future__ import annotations

import json
import socket
import struct
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

SITE = "yard"
INTERVAL_S = 10.0
CONNECT, PUBLISH_QOS_1, DISCONNECT = 0x10, 0x32, b"\xe0\x00"
AS_FAST_AS_IT_GOES = 0.0


def pack(value: float, at_s: float, sequence: int, boot: int = 1) -> bytes:
    """What a board with a probe and an air sensor sends."""
    return json.dumps(
        [
            {"bt": at_s, "n": "substrate_temperature", "u": "Cel", "v": value},
            {"n": "air_temperature", "u": "Cel", "v": 27.5},
            {"n": "boot", "u": "count", "v": boot},
            {"n": "sequence", "u": "count", "v": sequence},
        ]
    ).encode()


def packets(messages: int, nodes: int, boot: int, newest_s: float) -> list[bytes]:
    """PUBLISH packets: every board once, then every board again ten seconds later, up to `newest_s`."""
    rounds = -(-messages // nodes)
    made = []
    for number in range(messages):
        turn, node = divmod(number, nodes)
        at_s = round(newest_s - (rounds - 1 - turn) * INTERVAL_S + node / nodes, 3)
        topic = f"rearing/{SITE}/n{node}/readings".encode()
        body = struct.pack(">H", len(topic)) + topic + struct.pack(">H", number % 65535 + 1)
        made.append(_packet(PUBLISH_QOS_1, body + pack(28.0 + number % 3, at_s, turn, boot)))
    return made


def _packet(kind: int, body: bytes) -> bytes:
    head, left = bytearray([kind]), len(body)
    while left > 127:
        head.append(left & 127 | 128)
        left >>= 7
    head.append(left)
    return bytes(head) + body


@dataclass
class Publisher:
    """The process; it is connected and waits."""

    process: subprocess.Popen[str]

    def begin(self) -> None:
        """Let it publish."""
        assert self.process.stdin is not None
        self.process.stdin.write("go\n")
        self.process.stdin.flush()


@contextmanager
def publishing(
    port: int, messages: int, nodes: int, per_second: float = AS_FAST_AS_IT_GOES, boot: int = 1
) -> Iterator[Publisher]:
    """A publisher that has connected to the broker at a loopback port; it begins when it is told to."""
    values = map(str, (port, messages, nodes, per_second, boot))
    command = [sys.executable, str(Path(__file__)), *values]
    process = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
    try:
        assert process.stdout is not None
        if process.stdout.readline() != "ready\n":
            raise RuntimeError("the publisher could not connect")
        yield Publisher(process)
    finally:
        process.kill()
        process.communicate()


def main(port: int, messages: int, nodes: int, per_second: float, boot: int) -> None:
    """Publish, and stay until the broker has confirmed all."""
    made = packets(messages, nodes, boot, time.time())
    with socket.create_connection(("127.0.0.1", port)) as line:
        name = b"boards"
        line.sendall(_packet(CONNECT, b"\x00\x04MQTT\x04\x02\x00\x00" + struct.pack(">H", len(name)) + name))
        line.recv(4)
        reader = threading.Thread(target=_confirmations, args=(line, 4 * messages), daemon=True)
        reader.start()
        print("ready", flush=True)
        sys.stdin.readline()
        start = time.monotonic()
        for number, packet in enumerate(made):
            if per_second:
                time.sleep(max(0.0, start + number / per_second - time.monotonic()))
            line.sendall(packet)
        reader.join()
        line.sendall(DISCONNECT)


def _confirmations(line: socket.socket, count: int) -> None:
    while count > 0:
        came = line.recv(65536)
        if not came:
            return
        count -= len(came)


if __name__ == "__main__":
    main(int(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3]), float(sys.argv[4]), int(sys.argv[5]))
