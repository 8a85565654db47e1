"""The page on which the card is pasted, as phones and as strangers use it, on the heap of a small board."""

from __future__ import annotations

import json
import socket
import subprocess
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from board_cards import card, pasted
from micropython_run import NODE, PROBE, RESTART, Node, micropython, mpy_cross, run_script

pytestmark = pytest.mark.micropython

BOARD = """
import sys
sys.path.insert(0, {folder!r})
import gc, json
import setup_page
from settings import Settings
class Board:
    folder = {folder!r} + "/"
    setup_port = {port}
    fed = 0
    def access_point(self, name):
        print("network", name)
        return "127.0.0.1"
    def feed(self): self.fed += 1
    def reset_cause(self): return "<power>"
class sensors:  # they say something at each start
    def open_all(board, specs, names): return specs
    def measure(opened, board): return {{"air": 27.4}}, {{opened[1]: "no_answer"}}, {{}}
sys.modules["sensors"] = sensors
board = Board()
settings = Settings(board)
saved = setup_page.serve(board, settings)
gc.collect()
print(json.dumps([saved, settings.card["node"], settings.get("wifi"), settings.get("wifi_password"),
    board.fed > 0, gc.mem_free()]))
"""


def free_port() -> int:
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return int(one.getsockname()[1])


class SetUp:
    """A board at its first start."""

    def __init__(self, folder: Path) -> None:
        self.port = free_port()
        code = BOARD.format(folder=str(folder), port=self.port)
        command = [micropython(), "-X", "heapsize=64k", "-c", code]
        self.process = subprocess.Popen(
            command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, encoding="utf-8"
        )
        assert self.process.stdout
        self.network = self.process.stdout.readline().strip()
        for _ in range(100):
            try:
                self.connect().close()
                return
            except ConnectionRefusedError:
                time.sleep(0.02)
        raise AssertionError(self.said())

    def connect(self) -> socket.socket:
        return socket.create_connection(("127.0.0.1", self.port), timeout=10)

    def send(self, raw: bytes) -> str:
        """The answer to these bytes, read until the board closes."""
        with self.connect() as link:
            link.sendall(raw)
            return read(link)

    def get(self, path: str = "/") -> str:
        return self.send(f"GET {path} HTTP/1.1\r\nHost: board\r\nUser-Agent: x\r\n\r\n".encode())

    def post(self, fields: dict[str, str]) -> str:
        return self.send(post(form(**fields)))

    def said(self) -> Any:
        """What the board printed when it was done."""
        out, errors = self.process.communicate(timeout=20)
        assert self.process.returncode == 0, out + errors
        return json.loads(out.splitlines()[-1])

    def alive(self) -> bool:
        return self.process.poll() is None


def read(link: socket.socket) -> str:
    data = b""
    while True:
        try:
            piece = link.recv(4096)
        except ConnectionResetError:
            break
        if not piece:
            break
        data += piece
    return data.decode()


def form(card: str, wifi: str = "", password: str = "") -> bytes:
    """What a browser makes of the form: `enctype=text/plain`, lines end as HTTP's do."""
    return f"card={card}\r\nwifi={wifi}\r\npassword={password}\r\n".encode()


def post(body: bytes, headers: bytes = b"") -> bytes:
    agent = b"User-Agent: " + b"Mozilla/5.0 " * 20 + b"\r\nContent-Type: text/plain\r\n"
    size = b"Content-Length: " + str(len(body)).encode() + b"\r\n"
    return b"POST / HTTP/1.1\r\nHost: 192.168.4.1\r\n" + agent + (headers or size) + b"\r\n" + body


@pytest.fixture
def compiled(tmp_path: Path) -> Path:
    for name in ("setup_page", "settings", "copies"):
        into = str(tmp_path / f"{name}.mpy")
        subprocess.run([mpy_cross(), "-O3", "-o", into, str(NODE / f"{name}.py")], check=True)
    return tmp_path


@pytest.fixture
def board(compiled: Path) -> Iterator[SetUp]:
    one = SetUp(compiled)
    yield one
    one.process.kill()
    one.process.communicate()


def test_a_pasted_card_is_saved_and_the_board_starts(board: SetUp) -> None:
    first = board.get()
    assert first.startswith("HTTP/1.0 200")
    assert "<textarea name=card" in first
    assert "<pre>reset: &lt;power></pre>" in first
    said = board.post({"card": pasted(card()), "wifi": "", "password": ""})
    assert "200 OK" in said
    assert "Saved. The board starts" in said
    saved, node, wifi, password, fed, free = board.said()
    assert (saved, node, wifi, password, fed) == (True, "node-03", "Ferme Bé", "wet thumbs 1", True)
    assert free > 30_000
    assert board.network == "network board-new"


def test_a_card_without_wifi_asks_for_it_and_need_not_be_pasted_again(board: SetUp) -> None:
    text = pasted(card(wifi="", wifi_password=""))
    said = board.post({"card": text, "wifi": "", "password": ""})
    assert "422" in said
    assert "names no Wi-Fi" in said
    assert "The card is good and kept here" in said
    short = board.post({"card": "", "wifi": 'Shed "2" <b>', "password": "short77"})
    assert "its password, 8 to 63 letters or none" in short
    assert 'value="Shed &quot;2&quot; &lt;b>"' in short
    assert "short77" not in short
    assert "h8Qz-T0pSecret" not in said + short
    assert "Saved" in board.post({"card": "", "wifi": "Shed 2", "password": "longer-77 é".replace("é", "x")})
    assert board.said()[1:4] == ["node-03", "Shed 2", "longer-77 x"]


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("", "no whole card"),
        ("hello", "no whole card"),
        (pasted(card())[:300], "no whole card"),
        (pasted(card())[300:], "no whole card"),
        (pasted(card()).replace("node-03", "node-04", 1), "sum does not fit"),
        (pasted(card(interval_s=5)), "interval_s must be 10 to 3600"),
        (pasted(card(interval_s=3601)), "interval_s must be"),
        (pasted(card(interval_s="60")), "interval_s must be"),
        (pasted(card(send_every=True)), "send_every must be"),
        (pasted(card(port=0)), "port must be"),
        (pasted(card(card=2)), "card must be"),
        (pasted(card(site=None)), "it has no site"),
        ("{" + "[" * 200 + "}", "no whole card"),
        ('{"card":1,}', "it has no"),
        ('{"card":"1}', "no whole card"),
    ],
)
def test_a_wrong_card_is_refused_with_the_reason_and_without_secrets(
    board: SetUp, text: str, why: str
) -> None:
    said = board.post({"card": text, "wifi": "Shed", "password": "longer-77"})
    assert "422" in said.splitlines()[0]
    assert why in said
    assert 'value="Shed"' in said
    assert "h8Qz-T0pSecret" not in said
    assert "wet thumbs" not in said
    assert "longer-77" not in said
    assert "Saved" in board.post({"card": pasted(card())}), "the right card is taken afterwards"
    assert board.said()[0] is True


def test_a_card_file_that_came_over_usb_is_taken_in_place_of_the_page(compiled: Path) -> None:
    file = compiled / "card.json"
    file.write_text(pasted(card()) + "\n", encoding="utf-8")
    said = run_script(BOARD.format(folder=str(compiled), port=free_port()), folders=(compiled,), heap="64k")
    assert json.loads(said.splitlines()[-1])[:2] == [True, "node-03"]
    assert "network" not in said
    assert not file.exists()


def test_a_card_file_that_is_refused_stays_and_the_page_opens(compiled: Path) -> None:
    file = compiled / "card.json"
    file.write_text(pasted(card())[:300], encoding="utf-8")
    one = SetUp(compiled)
    try:
        assert "no whole card" in one.network, "the reason stands on the console"
        assert "<textarea" in one.get()
        assert file.exists()
    finally:
        one.process.kill()
        one.process.communicate()


def test_what_phones_and_mail_make_of_a_card_is_undone(board: SetUp) -> None:
    text = pasted(card())
    bent = (
        "Card of node-03:\r\n "
        + "\r\n".join(text[at : at + 76] for at in range(0, len(text), 76))
        + " \nSee you"
    )
    said = board.post({"card": bent})
    assert "Saved" in said


HOSTILE = {
    "binary": bytes(range(256)) * 4 + b"\r\n\r\n",
    "method": b"DELETE / HTTP/1.1\r\n\r\n",
    "tls": b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03" + b"\x00" * 200 + b"\r\n\r\n",
    "no length": b"POST / HTTP/1.1\r\nHost: x\r\n\r\ncard=1",
    "length of text": post(b"card=1", b"Content-Length: many\r\n"),
    "negative length": post(b"card=1", b"Content-Length: -5\r\n"),
    "huge length": post(b"card=1", b"Content-Length: 99999999999999999999\r\n"),
    "chunked": post(b"4\r\ncard\r\n0\r\n\r\n", b"Transfer-Encoding: chunked\r\n"),
    "bad escape": post(b"card=%zz%"),
    "not UTF-8": post(b"card=%ff%fe&wifi=%c3"),
    "nested": post(b"card=%7B" + b"%5B" * 1200),
    "no form": post(b"\x00\x01\x02" * 50),
    "too much": post(b"card=" + b"x" * 20_000),
    "endless header": b"GET / HTTP/1.1\r\nCookie: " + b"x" * 20_000,
    "many fields": post(b"&".join(b"a%d=1" % i for i in range(500))),
}


@pytest.mark.parametrize("raw", HOSTILE.values(), ids=HOSTILE.keys())
def test_a_hostile_request_is_answered_and_the_next_one_served(board: SetUp, raw: bytes) -> None:
    said = board.send(raw)
    assert said.startswith("HTTP/1.0 4"), said[:200]
    assert "<form" in said
    assert "200 OK" in board.get("/generate_204"), "and a phone's own check gets the page"
    assert board.alive()


def test_a_stalled_client_holds_nobody_longer_than_three_seconds(board: SetUp) -> None:
    whole = post(form(pasted(card())))
    silent = board.connect()
    half = board.connect()
    half.sendall(whole[:500])
    at = time.monotonic()
    assert "200 OK" in board.get()
    assert time.monotonic() - at < 3, "a second for each"
    drips = board.connect()
    at = time.monotonic()
    with board.connect() as waits:
        waits.sendall(b"GET / HTTP/1.1\r\n\r\n")
        for _ in range(20):
            drips.sendall(b"G")
            time.sleep(0.2)
            if time.monotonic() - at > 3.2:
                break
        assert "200 OK" in read(waits)
        assert time.monotonic() - at < 5, "one byte now and then does not help"
    for link in (silent, half, drips):
        assert read(link) == "", "cut off without an answer"
        link.close()
    assert board.alive()


def test_a_slow_but_steady_client_is_served(board: SetUp) -> None:
    whole = post(form(pasted(card())))
    with board.connect() as link:
        for at in range(0, len(whole), 400):
            link.sendall(whole[at : at + 400])
            time.sleep(0.1)
        assert "Saved" in read(link)


def test_a_reader_that_stops_reading_does_not_hang_the_board(board: SetUp) -> None:
    links = [board.connect() for _ in range(3)]
    for link in links:
        link.sendall(b"GET / HTTP/1.1\r\n\r\n")
    assert "200 OK" in board.get()
    for link in links:
        link.close()
    assert "Saved" in board.post({"card": pasted(card())})


def test_a_board_that_has_a_card_tells_how_it_is_and_may_be_moved(compiled: Path) -> None:
    first = SetUp(compiled)
    assert "Saved" in first.post({"card": pasted(card())})
    first.said()
    second = SetUp(compiled)
    said = second.get()
    assert "<h1>Board node-03</h1>" in said
    assert "air: 27.4\nds18b20:substrate_temperature: no_answer</pre>" in said
    assert "Saved" in second.post({"card": pasted(card(site="other-yard"))}), "the button asked for the page"
    second.said()


def test_a_board_with_its_button_held_goes_through_the_page_and_starts(tmp_path: Path) -> None:
    """The whole program: first start, card, restart, button, sensors on the page, another site."""
    world = {
        "air_temperature_c": 27.4,
        "air_humidity_percent": 70.1,
        "probes": {PROBE: 31.2},
        "chips": ["sht4x"],
        "faults": {PROBE: "crc"},
        "setup_port": free_port(),
    }
    with Node(tmp_path, world) as node:
        node.start()
        assert "<h1>Board </h1>" in fetch(node, world)
        assert "Saved" in fetch(node, world, post(form(pasted(card(tls_name="")))))
        assert node.wait(20) == RESTART
        node.write(setup_button=True)
        node.start()
        page = fetch(node, world)
        assert "<h1>Board node-03</h1>" in page
        assert "air: 27.4" in page
        assert "crc" in page
        other = pasted(card(site="other-yard", ca=""))
        assert "Saved" in fetch(node, world, post(form(other)))
        assert node.wait(20) == RESTART
        assert node.errors() == ""
    assert [line for line in node.log() if "access point" in line] == [
        "access point board-new",
        "access point board-node-03",
    ]


def fetch(node: Node, world: dict[str, Any], request: bytes = b"GET / HTTP/1.0\r\n\r\n") -> str:
    for _ in range(200):
        try:
            with socket.create_connection(("127.0.0.1", world["setup_port"]), timeout=10) as link:
                link.sendall(request)
                return read(link)
        except ConnectionRefusedError:
            time.sleep(0.05)
    raise AssertionError(node.errors())


def test_the_length_may_be_named_in_any_case(board: SetUp) -> None:
    body = form(pasted(card(wifi="", wifi_password="")), "Shed 2", "longer-77")
    said = board.send(post(body, b"CONTENT-LENGTH:%d\r\n" % len(body)))
    assert "Saved" in said
    assert board.said()[2:4] == ["Shed 2", "longer-77"]
