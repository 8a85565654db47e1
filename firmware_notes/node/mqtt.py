"""MQTT 3.1.1 (OASIS, 29 October 2014), as much as a board needs: connect, publish, subscribe, ping.

Nothing here waits without a bound, inside TLS neither: sockets do not block, and `poll` does the waiting.
Whatever the broker does ends in an OSError (or ValueError: what mbedtls dislikes about a certificate) that
says why; whoever calls then closes and opens anew. Time is the real one (`time.ticks_ms`), since the network
does not run faster when a test's clock does.
"""

import select
import socket
from time import ticks_diff, ticks_ms

from micropython import const

WAIT_MS = 10000  # choice: for whatever the broker owes us
KEEPALIVE_S = 60
_WINDOW = const(20)  # choice: publishes that wait for their PUBACK
_MOST_BYTES = const(2048)  # choice: longest packet that we keep; longer ones pass by unread
_MOST_QUEUED = const(1500)  # choice: bytes that wait for the socket
_PIECE = const(256)
_IN, _OUT = const(1), const(4)  # POLLIN, POLLOUT
_CONNACK, _PINGRESP = const(-1), const(0)  # beside packet ids


def _late(since):
    return ticks_diff(ticks_ms(), since) > WAIT_MS


def _string(text):
    data = text.encode()
    return len(data).to_bytes(2, "big") + data


class Client:
    """One connection at a time. `taken(topic, payload)` gets what is published to us.

    With `ca`, a certificate as DER, by TLS alone: its context takes 3 kB in one piece, so it is made once,
    as early as can be.
    """

    def __init__(self, ca=b"", taken=None):
        self.taken = taken
        self.last_id = 0
        self.context = None
        if ca:
            import ssl

            self.context = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
            self.context.verify_mode = ssl.CERT_REQUIRED
            try:
                self.context.load_verify_locations(cadata=ca)
            except ValueError:
                pass  # none is trusted then, and nothing connects
        self._reset(None)

    def _reset(self, sock):
        self.sock = sock
        self.up = False  # CONNACK came
        self.out = b""
        self.tried = 0
        self.owed = {}  # packet id: since when we wait for its answer
        self.moved = ticks_ms()  # when bytes last went out

    def open(self, host, port, user, password, will, name=""):
        """Connect, all the way to CONNACK. At the topic `will`: offline. `name`: the broker's own."""
        self.close()
        where = socket.getaddrinfo(host, port, 0, socket.SOCK_STREAM)[0]
        sock = socket.socket(where[0], socket.SOCK_STREAM)
        self._reset(sock)
        sock.setblocking(False)
        try:
            sock.connect(where[-1])
        except OSError as error:
            if error.args[0] not in (115, 119):  # EINPROGRESS of Linux, of the ESP32
                raise
        poll = select.poll()
        poll.register(sock, _OUT)
        if not poll.poll(WAIT_MS):
            raise OSError("unreachable")
        if self.context:
            self.sock = self.context.wrap_socket(sock, server_hostname=name, do_handshake_on_connect=False)
        self.poll = select.poll()
        self.poll.register(self.sock, _IN)
        self.owed[_CONNACK] = ticks_ms()
        # User, password, will at QoS 1 retained, clean session. The user's name is the client id as well.
        body = b"\0\4MQTT\4\xee" + KEEPALIVE_S.to_bytes(2, "big")
        for text in (user, will, "offline", user, password):
            body += _string(text)
        self._queue(0x10, body)
        while not self.up:
            self.turn(500)

    def close(self, politely=False):
        """End the connection; politely means that the broker keeps our will to itself."""
        try:
            if politely and self.up:
                self._queue(0xE0, b"")
            if self.sock:
                self.sock.close()
        except (OSError, ValueError):
            pass
        self._reset(None)

    def publish(self, topic, payload, qos=0, retain=False):
        """False while the window is full: turn, then try again."""
        if (qos and len(self.owed) >= _WINDOW) or len(self.out) > _MOST_QUEUED:
            return False
        body = _string(topic) + (self._owe() if qos else b"") + payload.encode()
        self._queue(0x30 | qos << 1 | retain, body)
        return True

    def subscribe(self, topic):
        self._queue(0x82, self._owe() + _string(topic) + b"\1")

    def _owe(self):
        self.last_id = self.last_id % 65535 + 1  # 1 to 65535 and round (2.3.1)
        self.owed[self.last_id] = ticks_ms()
        return self.last_id.to_bytes(2, "big")

    def _queue(self, first, body):
        length = len(body)
        self.out += (
            bytes((first, length) if length < 128 else (first, length & 127 | 128, length >> 7)) + body
        )
        self._flush()

    def _flush(self):
        while self.out:
            # What TLS could not take must be offered again unchanged, even if more has come behind it.
            piece = self.out[: self.tried or _PIECE]
            count = self.sock.write(piece)
            self.tried = 0 if count else len(piece)
            if not count:
                return
            self.moved = ticks_ms()
            self.out = self.out[count:]

    def turn(self, wait_ms=0):
        """Send what waits, take what came, wait at most so long for it."""
        self._flush()
        self.poll.poll(wait_ms)
        self._flush()
        for _ in range(16):  # bounded, whatever the broker pours out
            first = self.sock.read(1)
            if first is None:
                break
            if not first:
                raise OSError("closed")
            try:
                self._take(first[0])
            except (IndexError, ValueError):
                raise OSError("garbage")
        for since in self.owed.values():
            if _late(since):
                raise OSError("silent")
        if self.up and _PINGRESP not in self.owed and ticks_diff(ticks_ms(), self.moved) > KEEPALIVE_S * 500:
            self.owed[_PINGRESP] = ticks_ms()
            self._queue(0xC0, b"")

    def _read(self, count):
        """So many bytes, of which those beyond the most are forgotten."""
        data, since = b"", ticks_ms()
        while count:
            piece = self.sock.read(min(count, _PIECE))
            if _late(since):
                raise OSError("silent")
            if piece is None:
                self.poll.poll(500)
            elif not piece:
                raise OSError("closed")
            else:
                count -= len(piece)
                if len(data) < _MOST_BYTES:
                    data += piece
        return data

    def _length(self):
        length = shift = 0
        while shift < 28:
            byte = self._read(1)[0]
            length |= (byte & 127) << shift
            if byte < 128:
                return length
            shift += 7
        raise ValueError

    def _take(self, first):
        """IndexError or ValueError where it is none of what a broker may send us."""
        kind, length = first >> 4, self._length()
        if (length > _MOST_BYTES and kind != 3) or self.up == (kind == 2):
            raise ValueError
        body = self._read(length)
        if kind == 2:
            if body[1]:
                raise OSError("refused_%d" % body[1])  # 3.2.2.3: 4 wrong password, 5 not allowed
            self.up = True
            self.owed.pop(_CONNACK, 0)
        elif kind == 3:
            start = 2 + (body[0] << 8 | body[1])
            topic = body[2:start].decode()
            if first & 6:
                start += 2
                self._queue(0x40, body[start - 2 : start])
            if first & 4 or start > length:
                raise ValueError
            if length <= _MOST_BYTES:
                self.taken(topic, body[start:])
        elif kind in (4, 9):
            self.owed.pop(body[0] << 8 | body[1], 0)
        elif kind == 13:
            self.owed.pop(_PINGRESP, 0)
        else:
            raise ValueError
