"""MQTT 3.1.1 (OASIS, 29 October 2014), as much as a board needs: connect, publish, subscribe, ping.

Nothing here waits without a bound, inside TLS neither: sockets do not block, and `poll` does the waiting.
Whatever the broker does ends in `Broken`, with one word that says why; whoever calls then opens anew.
Time is the real one (`time.ticks_ms`), since the network does not run faster when a test's clock does.
"""

import select
import socket
from time import ticks_diff, ticks_ms

WAIT_MS = 10000  # choice: for whatever the broker owes us
WINDOW = 20  # choice: publishes that wait for their PUBACK
MOST_BYTES = 2048  # choice: longest packet that we keep; longer ones pass by unread
MOST_QUEUED = 3000  # choice: bytes that wait for the socket
PIECE = 256

REFUSED = ("", "version", "client_id", "unavailable", "wrong_password", "not_allowed")  # CONNACK, 3.2.2.3


class Broken(OSError):
    """The connection is over; args[0] says why in one word."""


def _string(text):
    data = text if isinstance(text, bytes) else text.encode()
    return len(data).to_bytes(2, "big") + data


def _packet(first, *parts):
    body = b"".join(parts)
    head = bytearray([first])
    length = len(body)
    while True:
        head.append(length & 127 | (128 if length > 127 else 0))
        length >>= 7
        if not length:
            return bytes(head) + body


def _tls_trouble(error):
    # mbedtls speaks by ValueError when it likes a certificate not, and by OSError elsewhere.
    text = str(error)
    for part, word in (
        ("signed", "wrong_ca"),
        ("match", "wrong_name"),
        ("expired", "expired"),
        ("future", "expired"),
    ):
        if part in text:
            return word
    return "certificate" if isinstance(error, ValueError) or "CERT" in text else "tls"


class Client:
    """One connection at a time. `taken(topic, payload)` gets what is published to us."""

    def __init__(self, taken):
        self.taken = taken
        self.last_id = 0
        self._reset(None)

    def _reset(self, sock):
        self.sock = sock
        self.up = False  # CONNACK came
        self.secure = False
        self.begun = False  # bytes went out, so the handshake is over
        self.out = b""
        self.read = bytearray()
        self.skip = 0
        self.owed = {}  # packet id: since when we wait for PUBACK or SUBACK
        self.ping = None
        self.moved = self.sent = ticks_ms()

    def open(self, host, port, client_id, user, password, will, keepalive_s=60, ca=None, name=""):
        """Connect, all the way to CONNACK. `will` = (topic, payload), retained, QoS 1; `ca` = DER for TLS."""
        self.close(False)
        try:
            where = socket.getaddrinfo(host, port, 0, socket.SOCK_STREAM)[0]
        except (OSError, IndexError):
            raise Broken("no_address")
        try:
            self._reset(socket.socket(where[0], socket.SOCK_STREAM))
            self._reach(where[-1])
            if ca:
                self._wrap(ca, name)
            self.keepalive_ms = keepalive_s * 500
            flags = 0xEE if user else 0x2E  # user, password, will retained at QoS 1, clean session
            self.out = _packet(
                0x10, b"\0\4MQTT\4", bytes([flags]), keepalive_s.to_bytes(2, "big"), _string(client_id),
                _string(will[0]), _string(will[1]), _string(user) + _string(password) if user else b"",
            )  # fmt: skip
            start = ticks_ms()
            while not self.up:
                if ticks_diff(ticks_ms(), start) > WAIT_MS:
                    raise Broken("no_connack")
                self.turn(500)
        except Exception as error:
            self.close(False)
            raise error if isinstance(error, Broken) else Broken("unreachable")

    def _reach(self, where):
        self.sock.setblocking(False)
        try:
            self.sock.connect(where)
        except OSError as error:
            if error.args[0] not in (115, 119):  # EINPROGRESS of Linux, of the ESP32
                raise
        self.poll = select.poll()
        self.poll.register(self.sock, select.POLLOUT)
        ready = self.poll.poll(WAIT_MS)
        if not ready or ready[0][1] & (select.POLLERR | select.POLLHUP):
            raise Broken("unreachable")

    def _wrap(self, ca, name):
        import ssl

        try:
            context = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
            context.verify_mode = ssl.CERT_REQUIRED
            context.load_verify_locations(cadata=ca)
        except ValueError:
            raise Broken("card_ca")
        plain = self.sock
        self.poll.unregister(plain)
        self.sock = context.wrap_socket(plain, server_hostname=name, do_handshake_on_connect=False)
        self.poll.register(self.sock, select.POLLIN)
        self.secure = True

    def close(self, politely=True):
        """End the connection; politely means that the broker keeps our will to itself."""
        if not self.sock:
            return
        try:
            if politely and self.up:
                self.out += b"\xe0\0"
                start = ticks_ms()
                while self.out and ticks_diff(ticks_ms(), start) < 2000:
                    self.turn(100)
        except Broken:
            pass
        try:
            if self.sock:
                self.sock.close()
        except OSError:
            pass
        self._reset(None)

    def publish(self, topic, payload, qos=0, retain=False):
        """Its packet id (0 with QoS 0), or None while the window is full: turn, then try again."""
        if (len(self.owed) >= WINDOW and qos) or len(self.out) > MOST_QUEUED:
            return None
        pid = self._owe() if qos else 0
        self._queue(_packet(
            0x30 | qos << 1 | retain, _string(topic), pid.to_bytes(2, "big") if qos else b"",
            payload if isinstance(payload, bytes) else payload.encode(),
        ))  # fmt: skip
        return pid

    def subscribe(self, topics):
        pid = self._owe()
        self._queue(_packet(0x82, pid.to_bytes(2, "big"), *[_string(topic) + b"\1" for topic in topics]))
        return pid

    def _owe(self):
        # 1 to 65535 and round (2.3.1), never one that is still under way
        while True:
            self.last_id = self.last_id % 65535 + 1
            if self.last_id not in self.owed:
                self.owed[self.last_id] = ticks_ms()
                return self.last_id

    def _queue(self, packet):
        if not self.sock:
            raise Broken("closed")
        if not self.out:
            self.moved = ticks_ms()
        self.out += packet
        self._flush()

    def turn(self, wait_ms=0):
        """Send what waits, take what came, wait at most so long for either; True when something came."""
        if not self.sock:
            raise Broken("closed")
        self._flush()
        # Until the handshake is over only the broker's answer moves us on: asking for POLLOUT would spin.
        writing = self.out and (self.begun or not self.secure)
        self.poll.modify(self.sock, select.POLLIN | (select.POLLOUT if writing else 0))
        self.poll.poll(wait_ms)
        self._flush()
        came = self._take_in()
        self._overdue()
        return came

    def _io(self, call, argument):
        try:
            return call(argument)
        except (OSError, ValueError) as error:
            if isinstance(error, Broken):
                raise
            self._break(_tls_trouble(error) if self.secure and not self.begun else "lost")

    def _break(self, word):
        self.close(False)
        raise Broken(word)

    def _flush(self):
        while self.out:
            count = self._io(self.sock.write, self.out[:PIECE])
            if not count:
                return
            self.begun = True
            self.moved = self.sent = ticks_ms()
            self.out = self.out[count:]

    def _take_in(self):
        came = False
        for _ in range(16):  # bounded, whatever the broker pours out
            piece = self._io(self.sock.read, PIECE) if self.sock else None
            if piece is None:
                break
            if not piece:
                self._break("closed")
            came = True
            self.read += piece
            while self._take_packet():
                pass
        return came

    def _take_packet(self):
        data = self.read
        if self.skip:
            gone = min(self.skip, len(data))
            self.skip -= gone
            self.read = data = data[gone:]
        if not self.up and data and data[0] != 0x20:
            self._break("garbage")
        length = shift = 0
        at = 1
        while True:
            if len(data) <= at:
                return False
            length |= (data[at] & 127) << shift
            at += 1
            if data[at - 1] < 128:
                break
            shift += 7
            if shift > 21:
                self._break("garbage")
        if length > MOST_BYTES:
            if data[0] >> 4 != 3:
                self._break("garbage")
            self.skip = at + length
            return True
        if len(data) < at + length:
            return False
        body = bytes(data[at : at + length])
        self.read = data[at + length :]
        self._understand(data[0], body)
        return self.sock is not None

    def _understand(self, first, body):
        kind = first >> 4
        if not self.up:
            if kind != 2 or len(body) != 2:
                self._break("garbage")
            if body[1]:
                self._break(REFUSED[body[1]] if body[1] < 6 else "garbage")
            self.up = True
        elif kind == 3:
            self._published(first, body)
        elif kind in (4, 9) and len(body) >= 2:
            self.owed.pop(body[0] << 8 | body[1], 0)
        elif kind == 13:
            self.ping = None
        else:
            self._break("garbage")

    def _published(self, first, body):
        qos = first >> 1 & 3
        start = 2 + (body[0] << 8 | body[1]) if len(body) > 1 else 9999
        end = start + 2 if qos else start
        try:
            if qos > 1 or end > len(body):
                raise ValueError
            topic = body[2:start].decode()
        except ValueError:
            self._break("garbage")
        if qos:
            self._queue(b"\x40\2" + body[start:end])
        self.taken(topic, body[end:])

    def _overdue(self):
        now = ticks_ms()
        if self.out and ticks_diff(now, self.moved) > WAIT_MS:
            self._break("stalled" if self.begun else "tls_silent")
        for since in self.owed.values():
            if ticks_diff(now, since) > WAIT_MS:
                self._break("no_ack")
        if not self.up:
            return
        if self.ping is not None:
            if ticks_diff(now, self.ping) > WAIT_MS:
                self._break("silent")
        elif ticks_diff(now, self.sent) > self.keepalive_ms:
            self.ping = now
            self._queue(b"\xc0\0")
