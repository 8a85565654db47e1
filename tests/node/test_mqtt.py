"""The board's MQTT client under MicroPython, against mosquitto and against brokers that do it wrong."""

from __future__ import annotations

import json
import shutil
import socket
import ssl
import subprocess
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hostile_broker import CONNACK, Authority, hostile_broker, publish_packet, read_packet
from micropython_run import NODE, run_script

pytestmark = pytest.mark.micropython

PRELUDE = """
import time
import mqtt
mqtt.WAIT_MS = 700
got = []
def take(topic, payload):
    got.append((topic, payload))
c = mqtt.Client(b"", take)
def attempt(port, user="node-03", password="secret", ca=b"", **more):
    global c
    if ca:
        c = mqtt.Client(ca, take)
    start = time.ticks_ms()
    try:
        c.open("127.0.0.1", port, user, password, "r/s/node-03/status", **more)
        word = "up"
    except (OSError, ValueError) as error:
        word = over(error)
    assert time.ticks_diff(time.ticks_ms(), start) < 3000, "too long"
    return word
def words(port, done):
    word = attempt(port)
    return turn_until(done) if word == "up" else word
def turn_until(done, most_ms=5000):
    start = time.ticks_ms()
    try:
        while not done():
            c.turn(50)
            if time.ticks_diff(time.ticks_ms(), start) > most_ms:
                return "never"
        return "done"
    except (OSError, ValueError) as error:
        return over(error)
def over(error):
    c.close()
    return "lost" if isinstance(error.args[0], int) else str(error).strip()
"""


def run(code: str) -> list[str]:
    """The lines that a script prints on a 64 KiB heap."""
    return run_script(PRELUDE + code, folders=(NODE,), heap="64k").splitlines()


def answering(*pieces: bytes, hold: bool = True) -> Callable[[socket.socket], None]:
    """A broker that says these bytes after CONNECT, whatever they are."""

    def serve(peer: socket.socket) -> None:
        read_packet(peer)
        for piece in pieces:
            peer.sendall(piece)
        while hold and read_packet(peer):
            pass

    return serve


class Listener:
    """Someone else at the broker: mosquitto_sub with a file."""

    def __init__(self, port: int, folder: Path, count: int, topic: str = "#") -> None:
        program = shutil.which("mosquitto_sub") or pytest.skip("mosquitto-clients is not installed")
        self._heard = folder / "heard"
        command = [program, "-p", str(port), "-t", topic, "-q", "1", "-F", "%q %r %t %p", "-C", str(count)]
        with self._heard.open("w") as out:
            self.process = subprocess.Popen([*command, "-W", "20"], stdout=out)
        time.sleep(0.3)

    def heard(self) -> list[str]:
        """What it was told; it ends by itself after `count` messages."""
        self.process.wait(25)
        return self._heard.read_text().splitlines()


def test_many_publishes_are_under_way_at_once_and_each_arrives(mosquitto_broker: Any, tmp_path: Path) -> None:
    """The window holds 20; ids go round after 65535 and skip 0."""
    listener = Listener(mosquitto_broker.port, tmp_path, 60)
    lines = run(f"""
print(attempt({mosquitto_broker.port}))
c.last_id = 65520
most = 0
for i in range(60):
    while c.publish("r/s/node-03/readings", "%d" % i, 1) is False:
        c.turn(50)
    most = max(most, len(c.owed))
print(turn_until(lambda: not c.owed), most, c.last_id)
c.close()
""")
    assert lines == ["up", "done 20 45"]
    assert listener.heard() == [f"1 0 r/s/node-03/readings {number}" for number in range(60)]


def test_a_retained_message_and_what_is_published_to_us(mosquitto_broker: Any) -> None:
    lines = run(f"""
print(attempt({mosquitto_broker.port}))
c.publish("r/s/sounder", "on", 1, True)
c.subscribe("r/s/sounder")
c.subscribe("r/s/node-03/time")
c.publish("r/s/node-03/time", "x" * 1900)
print(turn_until(lambda: len(got) == 2 and not c.owed))
print(got[0], got[1][0], len(got[1][1]))
""")
    assert lines == ["up", "done", "('r/s/sounder', b'on') r/s/node-03/time 1900"]


def test_the_will_is_sent_when_the_board_dies_and_not_when_it_says_good_bye(
    mosquitto_broker: Any, tmp_path: Path
) -> None:
    listener = Listener(mosquitto_broker.port, tmp_path, 3)
    for word, end in (("first", "c.close(True)"), ("second", "")):
        run(f"""
attempt({mosquitto_broker.port})
c.publish("a", "{word}", 1)
turn_until(lambda: not c.owed)
{end}
""")
    assert listener.heard() == ["1 0 a first", "1 0 a second", "1 0 r/s/node-03/status offline"]


def test_the_ping_keeps_an_idle_connection(mosquitto_broker: Any) -> None:
    lines = run(f"""
mqtt.KEEPALIVE_S = 2
print(attempt({mosquitto_broker.port}))
print(turn_until(lambda: False, 4500))
""")
    assert lines == ["up", "never"]


def test_users_and_passwords(make_mosquitto: Callable[..., Any], tmp_path: Path) -> None:
    users = tmp_path / "users"
    users.touch()
    subprocess.run(["mosquitto_passwd", "-b", str(users), "node-03", "secret"], check=True)
    port = make_mosquitto(f"password_file {users}", anonymous=False).port
    lines = run(f"""
for more in ({{}}, {{"password": "other"}}, {{"user": "node-04"}}, {{}}):
    print(attempt({port}, **more))
""")
    assert lines == ["up", "refused_5", "refused_5", "up"]


@pytest.mark.parametrize(
    ("host", "last_year", "card", "word"),
    [
        ("rearing-broker", 2070, "own", "up"),
        ("rearing-broker", 2070, "other", "The certificate is not correctly signed by the trusted CA"),
        ("some-broker", 2070, "own", "The certificate Common Name (CN) does not match with the expected CN"),
        ("rearing-broker", 2020, "own", "The certificate validity has expired"),
        ("rearing-broker", 2070, "cut", "card_ca"),
    ],
)
def test_tls_with_the_cards_ca_alone(
    make_mosquitto: Callable[..., Any], tmp_path: Path, host: str, last_year: int, card: str, word: str
) -> None:
    farm = Authority()
    port = make_mosquitto(*farm.save(tmp_path / "tls", host, last_year)).port
    ca = {"own": farm.der, "other": Authority().der, "cut": farm.der[:-9]}[card]
    lines = run(f"""
print(attempt({port}, ca={ca!r}, name="rearing-broker"))
if c.up:
    for i in range(40):
        while c.publish("a", "x" * 300, 1) is False:
            c.turn(50)
    print(turn_until(lambda: not c.owed))
""")
    assert lines == ["up", "done"] if word == "up" else [word]


def test_no_tls_where_tls_is_asked_for_and_the_other_way_round(
    make_mosquitto: Callable[..., Any], tmp_path: Path
) -> None:
    farm = Authority()
    plain, secure = make_mosquitto().port, make_mosquitto(*farm.save(tmp_path / "tls")).port
    lines = run(f"print(attempt({secure}), attempt({plain}, ca={farm.der!r}, name='rearing-broker'))")
    assert "up" not in lines[0]
    assert lines[0].split()[0] in ("closed", "lost", "garbage")


def test_a_broker_that_never_answers_in_tls_either() -> None:
    def silent(peer: socket.socket) -> None:
        while peer.recv(4096):
            pass

    with hostile_broker(silent) as port:
        lines = run(f"print(attempt({port}), attempt({port}, ca={Authority().der!r}, name='rearing-broker'))")
    assert lines == ["silent silent"]


def test_nobody_at_the_address(free_port: int) -> None:
    assert run(f"print(attempt({free_port}))") == ["lost"]


def test_an_answer_in_single_bytes_is_put_together() -> None:
    def slow(peer: socket.socket) -> None:
        peer.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        read_packet(peer)
        for byte in CONNACK + publish_packet("r/s/sounder", b"on" * 100, qos=1):
            peer.sendall(bytes([byte]))
            time.sleep(0.002)
        acknowledged = read_packet(peer)
        peer.sendall(publish_packet("seen", acknowledged))
        read_packet(peer)

    with hostile_broker(slow) as port:
        lines = run(
            f"print(attempt({port}), turn_until(lambda: len(got) == 2), got[0][0], len(got[0][1]), got[1][1])"
        )
    assert lines == ["up done r/s/sounder 200 b'@\\x02\\x00\\x07'"]


def test_dropped_pubacks_end_the_connection_within_the_bound() -> None:
    with hostile_broker(answering(CONNACK)) as port:
        lines = run(f"""
print(attempt({port}))
ids = [c.publish("a", "x", 1) for i in range(25)]
print(ids.count(False), turn_until(lambda: not c.owed), c.sock, c.owed)
print(attempt({port}), len(c.owed))
""")
    assert lines == ["up", "5 silent None {}", "up 0"]


def test_a_missing_pingresp_ends_the_connection() -> None:
    with hostile_broker(answering(CONNACK)) as port:
        lines = run(f"mqtt.KEEPALIVE_S = 1\nprint(attempt({port}), turn_until(lambda: False))")
    assert lines == ["up silent"]


def test_a_broker_that_stops_reading_ends_the_connection() -> None:
    def deaf(peer: socket.socket) -> None:
        read_packet(peer)
        peer.sendall(CONNACK)
        time.sleep(8)

    with hostile_broker(deaf) as port:
        lines = run(f"""
mqtt.KEEPALIVE_S = 1
print(attempt({port}))
def fill():
    while c.publish("a", "x" * 1000) is not False:
        pass
def always():
    fill()
    return False
print(turn_until(always, 20000))
""")
    assert lines == ["up", "silent"]


@pytest.mark.parametrize(
    ("answer", "word"),
    [
        (b"\x20\x02\x00\x05", "refused_5"),
        (b"\x20\x02\x00\x04", "refused_4"),
        (b"\x20\x02\x00\xff", "refused_255"),
        (b"\x20\x01\x00", "garbage"),
        (b"\x20\xff\xff\xff\xff\x7f", "garbage"),
        (b"\x20\xff\xff\xff\x7f", "garbage"),
        (publish_packet("a", b"before connack"), "garbage"),
        (b"HTTP/1.1 400 Bad Request\r\n\r\n", "garbage"),
        (b"", "closed"),
        (b"\x20", "closed"),
    ],
    ids=range(10),
)
def test_garbage_in_place_of_connack(answer: bytes, word: str) -> None:
    with hostile_broker(answering(answer, hold=word != "closed")) as port:
        assert run(f"print(attempt({port}))") == [word]


@pytest.mark.parametrize(
    "answer",
    [
        b"\x30\x00",
        b"\x30\x01\x00",
        b"\x30\x02\xff\xff",
        b"\x30\x04\x00\x02\xff\xfe",
        b"\x32\x04\x00\x02ab",
        b"\x34\x06\x00\x02ab\x00\x01",
        b"\x36\x06\x00\x02ab\x00\x01",
        b"\x40\x01\x00",
        b"\x90\x00",
        b"\x00\x00",
        b"\xf0\x00",
        b"\x10\x00",
        b"\xd0\xff\xff\xff\xff",
        b"\xd0\xff\xff\xff\x7f",
    ],
)
def test_garbage_later(answer: bytes) -> None:
    with hostile_broker(answering(CONNACK, answer)) as port:
        assert run(f"print(words({port}, lambda: got))") == ["garbage"]


def test_random_bytes_never_leave_more_than_the_one_exception() -> None:
    """Whatever comes, it is a message, nothing, or OSError; what we keep of it stays bounded."""
    lines = run("""
import random
random.seed(5)
mqtt.WAIT_MS = 1
class Said:
    def __init__(self, data): self.data = data
    def read(self, most):
        piece, self.data = self.data[:most], self.data[most:]
        return piece or None
    def write(self, data): return len(data)
    def close(self): pass
    def modify(self, *_): pass
    def poll(self, _): pass
seen = {}
longest = 0
for i in range(3000):
    data = [random.getrandbits(8) & random.choice((255, 63, 3)) for j in range(random.randrange(1, 60))]
    if i % 2:  # a whole packet, with a length that is right
        data[:0] = [random.choice((0x20, 0x30, 0x32, 0x40, 0x90, 0xD0)), len(data)]
    c._reset(Said(bytes(data)))
    c.up = i % 4 > 0
    c.poll = c.sock
    try:
        c.turn()
        word = "taken"
    except OSError as error:
        word = error.args[0]
    longest = max(longest, len(c.out))
    seen[word] = seen.get(word, 0) + 1
print(sorted(seen), longest)
""")
    assert lines[0].startswith("['garbage', ") and "'taken'" in lines[0]
    words = set(json.loads(lines[0].split("]")[0].replace("'", '"') + "]"))
    known = {"garbage", "taken", "closed", "silent"}
    assert {word for word in words if not word.startswith("refused_")} <= known


def test_a_message_far_too_long_passes_by_and_the_next_one_is_taken() -> None:
    long = publish_packet("r/s/node-03/settings", b"x" * 300_000, qos=1)
    with hostile_broker(answering(CONNACK, long, publish_packet("r/s/sounder", b"on"))) as port:
        lines = run(f"print(words({port}, lambda: got), got)")
    assert lines == ["done [('r/s/sounder', b'on')]"]


def test_a_message_of_which_the_rest_never_comes_ends_within_the_bound() -> None:
    with hostile_broker(answering(CONNACK, b"\x30\xff\xff\xff\x7f" + b"x" * 5000)) as port:
        lines = run(f"print(words({port}, lambda: False))")
    assert lines == ["silent"]


def test_closed_in_the_middle_of_a_packet() -> None:
    with hostile_broker(answering(CONNACK, publish_packet("a", b"x" * 50)[:20], hold=False)) as port:
        lines = run(f"print(words({port}, lambda: got), got)")
    assert lines in (["closed []"], ["lost []"])


def test_a_broker_in_tls_that_reads_slowly_gets_every_byte_in_order(tmp_path: Path) -> None:
    """What mbedtls could not write must be offered again unchanged, though more was queued behind it."""
    authority = Authority()
    authority.save(tmp_path)
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(tmp_path / "server.pem", tmp_path / "server.key")
    heard: list[bytes] = []

    def slow(peer: socket.socket) -> None:
        with context.wrap_socket(peer, server_side=True) as secure:
            read_packet(secure)
            secure.sendall(CONNACK)
            while packet := read_packet(secure):
                heard.append(packet)
                time.sleep(0.002)

    with hostile_broker(slow) as port:
        lines = run(f"""
import socket
class SmallBuffers:
    getaddrinfo, SOCK_STREAM = socket.getaddrinfo, socket.SOCK_STREAM
    @staticmethod
    def socket(*kind):
        made = socket.socket(*kind)
        made.setsockopt(socket.SOL_SOCKET, 7, 4096)  # SO_SNDBUF of Linux
        return made
mqtt.socket = SmallBuffers
print(attempt({port}, ca={authority.der!r}, name="rearing-broker"))
sent = 0
stuck = 0
while sent < 500:
    if c.publish("a", "%05d" % sent + "x" * 700) is False:
        stuck += 1
        c.turn(20)
    else:
        sent += 1
print(turn_until(lambda: not c.out), stuck > 0)
c.close(True)
""")
        until = time.monotonic() + 10
        while heard[-1:] != [b"\xe0\x00"] and time.monotonic() < until:
            time.sleep(0.02)
    assert lines == ["up", "done True"]
    assert [packet[6:11] for packet in heard if packet[0] == 0x30] == [b"%05d" % n for n in range(500)]
