"""MQTT 3.1.1 (OASIS, 29 October 2014), as much as a board needs: connect, publish, subscribe, ping.

Nothing here waits without a bound, inside TLS neither: sockets do not block, and `poll` does the waiting.
Whatever the broker does ends in `Broken`, with a word that says why; whoever calls then opens anew.
Time is the real one (`time.ticks_ms`), since the network does not run faster when a test's clock does.
"""

import select
import socket
from time import ticks_diff, ticks_ms

from micropython import const

WAIT_MS = 10000  # choice: for whatever the broker owes us
_WINDOW = const(20)  # choice: publishes that wait for their PUBACK
_MOST_BYTES = const(2048)  # choice: longest packet that we keep; longer ones pass by unread
_MOST_QUEUED = const(1500)  # choice: bytes that wait for the socket
_PIECE = const(256)
_IN, _OUT = const(1), const(4)  # POLLIN, POLLOUT


class Broken(OSError):
    """The connection is over; args[0] says why."""


def _late(since):
    return ticks_diff(ticks_ms(), since) > WAIT_MS


def _string(text):
    data = text if isinstance(text, bytes) else text.encode()
    return len(data).to_bytes(2, "big") + data


def _packet(first, body):
    head = bytes([first])
    length = len(body)
    while length > 127:
        head += bytes([length & 127 | 128])
        length >>= 7
    return head + bytes([length]) + body


def _head(data):
    """(where the body begins, its length); (0, 0) while that is not known (2.2.3)."""
    length = 0
    for at in range(1, min(5, len(data))):
        length |= (data[at] & 127) << 7 * at - 7
        if data[at] < 128:
            return at + 1, length
    if len(data) > 4:
        raise ValueError
    return 0, 0


def _context(ca):
    """False where the card's CA is none: then nothing connects."""
    import ssl

    context = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
    context.verify_mode = ssl.CERT_REQUIRED
    try:
        context.load_verify_locations(cadata=ca)
    except ValueError:
        return False
    return context


class Client:
    """One connection at a time. `taken(topic, payload)` gets what is published to us.

    With `ca`, a certificate as DER, by TLS alone: its context takes 3 kB in one piece, so it is made once,
    as early as can be.
    """

    def __init__(self, ca=b"", taken=None):
        self.taken = taken
        self.last_id = 0
        self.context = _context(ca) if ca else None
        self._reset(None)

    def _reset(self, sock):
        self.sock = sock
        self.up = False  # CONNACK came
        self.secure = False
        self.begun = False  # bytes went out, so the handshake is over
        self.out = self.read = b""
        self.skip = self.tried = 0
        self.owed = {}  # packet id: since when we wait for PUBACK or SUBACK
        self.ping = None
        self.moved = ticks_ms()  # when bytes last went out

    def open(self, host, port, client_id, user, password, will, keepalive_s=60, name=""):
        """Connect, all the way to CONNACK. `will` = (topic, payload), retained, QoS 1; `name`: its own."""
        self.close(False)
        if self.context is False:
            raise Broken("card_ca")
        try:
            where = socket.getaddrinfo(host, port, 0, socket.SOCK_STREAM)[0]
        except (OSError, IndexError):
            raise Broken("no_address")
        try:
            self._reset(socket.socket(where[0], socket.SOCK_STREAM))
            self._reach(where[-1])
            if self.context is not None:
                self._wrap(name)
            self.keepalive_ms = keepalive_s * 500
            body = b"\0\4MQTT\4\x2e" + keepalive_s.to_bytes(2, "big")  # will at QoS 1 retained, clean session
            body += _string(client_id) + _string(will[0]) + _string(will[1])
            if user:
                body = body[:7] + b"\xee" + body[8:] + _string(user) + _string(password)
            self.out = _packet(0x10, body)
            start = ticks_ms()
            while not self.up:
                if _late(start):
                    self._break("no_connack")
                self.turn(500)
        except OSError as error:
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
        self.poll.register(self.sock, _OUT)
        if not self.poll.poll(WAIT_MS):
            self._break("unreachable")

    def _wrap(self, name):
        self.secure = True
        self.poll.unregister(self.sock)
        self.sock = self.context.wrap_socket(self.sock, server_hostname=name, do_handshake_on_connect=False)
        self.poll.register(self.sock, _IN)

    def close(self, politely=True):
        """End the connection; politely means that the broker keeps our will to itself."""
        try:
            if politely and self.up:
                self._queue(b"\xe0\0")
            if self.sock:
                self.sock.close()
        except OSError:
            pass
        self._reset(None)

    def publish(self, topic, payload, qos=0, retain=False):
        """Its packet id (0 with QoS 0), or None while the window is full: turn, then try again."""
        if (qos and len(self.owed) >= _WINDOW) or len(self.out) > _MOST_QUEUED:
            return None
        body = _string(topic)
        pid = 0
        if qos:
            pid = self._owe()
            body += pid.to_bytes(2, "big")
        self._queue(_packet(0x30 | qos << 1 | retain, body + _string(payload)[2:]))
        return pid

    def subscribe(self, topic):
        self._queue(_packet(0x82, self._owe().to_bytes(2, "big") + _string(topic) + b"\1"))

    def _owe(self):
        # 1 to 65535 and round (2.3.1), never one that is still under way
        self.last_id = self.last_id % 65535 + 1
        while self.last_id in self.owed:
            self.last_id = self.last_id % 65535 + 1
        self.owed[self.last_id] = ticks_ms()
        return self.last_id

    def _queue(self, packet):
        if not self.out:
            self.moved = ticks_ms()
        self.out += packet
        self._flush()

    def turn(self, wait_ms=0):
        """Send what waits, take what came, wait at most so long for either."""
        self._flush()
        # Until the handshake is over only the broker's answer moves us on: asking for POLLOUT would spin.
        writing = self.out and (self.begun or not self.secure)
        self.poll.modify(self.sock, _IN | _OUT if writing else _IN)
        self.poll.poll(wait_ms)
        self._flush()
        for _ in range(16):  # bounded, whatever the broker pours out
            piece = self._io(self.sock.read, _PIECE) if self.sock else None
            if piece is None:
                break
            if not piece:
                self._break("closed")
            self.read += piece
            while self.sock and self._take_packet():
                pass
        self._overdue()

    def _io(self, call, argument):
        try:
            return call(argument)
        except (OSError, ValueError) as error:
            if isinstance(error, Broken):
                raise
            # mbedtls says in words what it dislikes about a certificate; a closed socket only has a number.
            why = str(error).strip() if self.secure else "unreachable"
            self._break("lost" if self.begun else why)

    def _break(self, why):
        self.close(False)
        raise Broken(why)

    def _flush(self):
        if not self.sock:
            raise Broken("closed")
        while self.out:
            # What TLS could not take must be offered again unchanged, even if more has come behind it.
            piece = self.out[: self.tried or _PIECE]
            count = self._io(self.sock.write, piece)
            self.tried = 0 if count else len(piece)
            if not count:
                return
            self.begun = True
            self.moved = ticks_ms()
            self.out = self.out[count:]

    def _take_packet(self):
        data = self.read
        if self.skip:
            gone = min(self.skip, len(data))
            self.skip -= gone
            self.read = data = data[gone:]
        if not self.up and data and data[0] != 0x20:
            self._break("garbage")
        try:
            at, length = _head(data)
            end = at + length
            if length > _MOST_BYTES:
                if data[0] >> 4 != 3:
                    raise ValueError
                self.skip = end
                return True
            if len(data) < end or not at:
                return False
            self.read = data[end:]
            self._understand(data[0], data[at:end])
        except (IndexError, ValueError):
            self._break("garbage")
        return True

    def _understand(self, first, body):
        """IndexError or ValueError where it is none of what a broker may send us."""
        kind = first >> 4
        if not self.up:
            if len(body) != 2 or body[1] > 5:
                raise ValueError
            if body[1]:
                self._break("refused_%d" % body[1])  # 3.2.2.3: 4 wrong password, 5 not allowed
            self.up = True
        elif kind == 3:
            start = 2 + (body[0] << 8 | body[1])
            topic = body[2:start].decode()
            if first & 6:
                self._queue(b"\x40\2" + bytes([body[start], body[start + 1]]))
                start += 2
            if first & 4 or start > len(body):
                raise ValueError
            self.taken(topic, body[start:])
        elif kind in (4, 9):
            self.owed.pop(body[0] << 8 | body[1], 0)
        elif kind == 13:
            self.ping = None
        else:
            raise ValueError

    def _overdue(self):
        for since in self.owed.values():
            if _late(since):
                self._break("no_ack")
        if self.out and _late(self.moved):
            self._break("stalled")
        if self.ping is not None:
            if _late(self.ping):
                self._break("silent")
        elif self.up and ticks_diff(ticks_ms(), self.moved) > self.keepalive_ms:
            self.ping = ticks_ms()
            self._queue(b"\xc0\0")
