"""A wire between board and broker that can be cut, held, slowed, reset, or made to swallow acknowledgements.

It stands for the Wi-Fi. What it cannot play: single lost packets (TCP hides them), signal strength.
"""

from __future__ import annotations

import selectors
import socket
import struct
import threading
import time
from contextlib import suppress
from dataclasses import dataclass, field

CHUNK = 65536
TICK_S = 0.02
PUBACK = 4


@dataclass(eq=False)
class Link:
    """One connection of a board: its socket, the broker's, what waits, and whether packets vanish on it."""

    board: socket.socket
    broker: socket.socket | None
    dead: bool = False
    queues: dict[int, list[tuple[float, bytes]]] = field(default_factory=lambda: {0: [], 1: []})
    packets: bytearray = field(default_factory=bytearray)

    def sides(self) -> list[socket.socket]:
        """The sockets that are open."""
        return [self.board] if self.broker is None else [self.board, self.broker]

    def close(self, reset: bool = False) -> None:
        """Close both sides; with `reset` as a router does that has forgotten the connection."""
        for side in self.sides():
            with suppress(OSError):
                if reset:
                    side.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
                side.close()


class Wire:
    """Listens on a loopback port and carries what comes to the broker's port, and back."""

    def __init__(self, target_port: int) -> None:
        self.target_port = target_port
        self._listener = socket.create_server(("127.0.0.1", 0))
        self.port: int = self._listener.getsockname()[1]
        self.delay_s = 0.0
        self.drop_pubacks = 0
        """So many acknowledgements of the broker are still swallowed (a connection without TLS alone)."""
        self.dropped_pubacks = 0
        self.accepted = 0
        self.refuses = False
        """New connections are thrown off at once, as by a computer on which no broker runs."""
        self._silent = False
        self._links: list[Link] = []
        self._lock = threading.RLock()
        self._selector = selectors.DefaultSelector()
        self._selector.register(self._listener, selectors.EVENT_READ)
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    # What a trial does to it.

    def swallow(self) -> None:
        """From now on packets vanish without a word: on open connections for ever, on new ones as well."""
        with self._lock:
            self._silent = True
            for link in self._links:
                link.dead = True

    def carry(self) -> None:
        """New connections get through again; what was swallowed stays lost."""
        with self._lock:
            self._silent = False

    def reset(self) -> None:
        """Throw every open connection off."""
        with self._lock:
            for link in list(self._links):
                self._end(link, reset=True)

    def close(self) -> None:
        self._stopping.set()
        self._thread.join(5)
        with self._lock:
            for link in list(self._links):
                self._end(link)
        self._listener.close()
        self._selector.close()

    # Its own thread.

    def _run(self) -> None:
        while not self._stopping.is_set():
            for key, _ in self._selector.select(TICK_S):
                with self._lock:
                    if key.fileobj is self._listener:
                        self._accept()
                    elif key.data in self._links:
                        self._read(key.data, key.fileobj)  # type: ignore[arg-type]
            with self._lock:
                for link in list(self._links):
                    self._deliver(link)

    def _accept(self) -> None:
        board, _ = self._listener.accept()
        self.accepted += 1
        link = Link(board, None, dead=self._silent)
        if self.refuses:
            link.close(reset=True)
            return
        if not self._silent:
            try:
                link.broker = socket.create_connection(("127.0.0.1", self.target_port), 2)
            except OSError:
                link.close(reset=True)
                return
        self._links.append(link)
        for side in link.sides():
            side.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
            self._selector.register(side, selectors.EVENT_READ, link)

    def _read(self, link: Link, side: socket.socket) -> None:
        try:
            data = side.recv(CHUNK)
        except OSError:
            data = b""
        if not data:
            self._end(link, also_board=not link.dead or side is link.board)
            return
        if link.dead:
            return
        from_board = side is link.board
        if not from_board and (self.drop_pubacks or link.packets):
            data = self._without_pubacks(link, data)
        link.queues[int(from_board)].append((time.monotonic() + self.delay_s, data))

    def _without_pubacks(self, link: Link, data: bytes) -> bytes:
        """What is left of the broker's packets; an incomplete one waits for its rest."""
        link.packets += data
        kept = bytearray()
        while (size := _packet_size(link.packets)) is not None:
            packet = bytes(link.packets[:size])
            del link.packets[:size]
            if packet[0] >> 4 == PUBACK and self.drop_pubacks > 0:
                self.drop_pubacks -= 1
                self.dropped_pubacks += 1
            else:
                kept += packet
        return bytes(kept)

    def _deliver(self, link: Link) -> None:
        now_s = time.monotonic()
        for from_board, queue in link.queues.items():
            while queue and queue[0][0] <= now_s and not link.dead:
                to = link.broker if from_board else link.board
                try:
                    if to is not None:
                        to.sendall(queue.pop(0)[1])
                except OSError:
                    self._end(link)
                    return

    def _end(self, link: Link, reset: bool = False, also_board: bool = True) -> None:
        """A broker that closes a connection on which packets vanish is not heard by the board."""
        for side in link.sides():
            if side is link.board and not also_board:
                continue
            with suppress(KeyError, ValueError):
                self._selector.unregister(side)
        if not also_board:
            if link.broker is not None:
                link.broker.close()
                link.broker = None
            return
        link.close(reset)
        if link in self._links:
            self._links.remove(link)


def _packet_size(data: bytearray) -> int | None:
    """Length of the first MQTT packet with its header; None while it is not whole."""
    length, shift = 0, 0
    for index in range(1, min(5, len(data))):
        length |= (data[index] & 0x7F) << shift
        shift += 7
        if not data[index] & 0x80:
            whole = index + 1 + length
            return whole if len(data) >= whole else None
    return None
