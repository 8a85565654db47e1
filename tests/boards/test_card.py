"""The card of a board: what is made is read back, what is broken is refused whole, QR codes decode."""

from __future__ import annotations

import base64
import dataclasses
import datetime
import io
import json
import zlib
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import zxingcpp
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from hypothesis import given
from hypothesis import strategies as st

from monitor.boards import card as cards
from monitor.boards.card import Card, card_in_file, checksum, made_card, read_card
from monitor.errors import CardError

NOW_S = 1_790_000_000.0


def authority(first_year: int = 1970, last_year: int = 2070) -> str:
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(x509.NameOID.COMMON_NAME, "saltbush-yard boards")])
    certificate = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(1)
        .not_valid_before(datetime.datetime(first_year, 1, 1, tzinfo=datetime.UTC))
        .not_valid_after(datetime.datetime(last_year, 1, 1, tzinfo=datetime.UTC))
        .sign(key, hashes.SHA256())
    )
    return base64.b64encode(certificate.public_bytes(serialization.Encoding.DER)).decode()


AUTHORITY = authority()


def a_card(**changes: Any) -> Card:
    plain = Card(
        root="rearing",
        site="saltbush-yard",
        node="node-03",
        hosts=("farm-pc.local", "192.168.1.20"),
        port=8883,
        tls_name="rearing-broker",
        user="node-03",
        password="Vk7-quiet_barn.9tQz2w",
        interval_s=60,
        send_every=1,
        power="mains",
        sensors=("sht4x", "ds18b20:substrate_temperature"),
        probes=("p1", "p2"),
        wifi="Yard",
        wifi_password="wet thumbs 12",
        ca=AUTHORITY,
    )
    return dataclasses.replace(plain, **changes)


def problems_of(text: str, **expected: Any) -> list[tuple[str, str]]:
    with pytest.raises(CardError) as refused:
        read_card(text, **expected)
    return [(str(problem.key), str(problem.found)) for problem in refused.value.problems]


def changed(**values: Any) -> str:
    """A card with other values, its checksum right."""
    plain = {**json.loads(a_card().text), **values}
    plain["sum"] = checksum(plain)
    return json.dumps(plain)


def test_what_is_made_is_read_back() -> None:
    card = made_card(a_card())
    assert read_card(card.text, "rearing", "saltbush-yard", NOW_S) == card
    assert "\n" not in card.text and " " not in card.text.replace("wet thumbs 12", "")
    assert list(json.loads(card.text)) == list(cards.KEYS)
    order = "card root site node hosts port tls_name user password interval_s send_every power sensors probes"
    assert " ".join(cards.KEYS) == f"{order} wifi wifi_password ca sum"


def test_the_sum_is_what_the_contract_says() -> None:
    values = {"b": True, "a": [1, "x"], "c": {"k2": "v", "k1": 7}, "d": "é", "sum": "left out"}
    lines = "a=1,x\nb=true\nc=k1:7,k2:v\nd=é"
    assert checksum(values) == format(zlib.crc32(lines.encode()), "08x")


def test_a_usual_card_is_small_and_the_largest_is_refused() -> None:
    assert len(a_card().text) < 900
    with pytest.raises(CardError, match="at most 1500 bytes"):
        made_card(a_card(hosts=tuple(f"{number}.{'a' * 200}" for number in range(6))))


@given(
    st.text(alphabet=st.characters(exclude_categories=("C", "Z")), max_size=8),
    st.integers(10, 3600),
    st.integers(1, 60),
    st.lists(st.from_regex(r"\A[A-Za-z0-9][A-Za-z0-9_.-]{0,15}\Z"), max_size=8, unique=True),
)
def test_every_card_comes_back(wifi: str, interval_s: int, send_every: int, probes: list[str]) -> None:
    card = made_card(a_card(wifi=wifi, interval_s=interval_s, send_every=send_every, probes=tuple(probes)))
    assert read_card(card.text) == card


@pytest.mark.parametrize(
    "mangle", [lambda text: text[:40] + "\r\n" + text[40:], lambda text: f"\ufeff {text}\n\n"]
)
def test_line_breaks_of_a_phone_do_no_harm(mangle: Any) -> None:
    assert read_card(mangle(a_card().text)) == a_card()


@pytest.mark.parametrize("length", [0, 1, 20, 300, 700])
def test_a_card_that_is_cut_says_so(length: int) -> None:
    found = problems_of(a_card().text[:length])
    assert found == [
        ("card", "empty" if length == 0 else f"cut off: {length} characters, without its beginning or end")
    ]
    with pytest.raises(CardError, match=r"copy the whole card again, from its first \{ to its last \}"):
        read_card(a_card().text[:length])


@pytest.mark.parametrize("text", ["[]", "7", "{}x", "{not json}", '{"a":' * 5000 + "}", "\x00", "é" * 3000])
def test_what_is_no_card_is_refused_in_one_sentence(text: str) -> None:
    assert len(problems_of(text)) == 1


def test_one_letter_changed_is_noticed() -> None:
    assert problems_of(a_card().text.replace("192.168.1.20", "192.168.1.21"))[0][0] == "sum"


def test_every_problem_is_said_at_once_and_no_secret() -> None:
    text = changed(
        port=0,
        power="sun",
        interval_s=True,
        sensors=["sht4x", "bme999"],
        password="has blank",
        ca="AAAA",
        probes=["a", "a"],
        tree=1,
    )
    found = dict(problems_of(text))
    assert set(found) == {"port", "power", "interval_s", "password", "ca", "probes", '"tree"'}
    with pytest.raises(CardError) as refused:
        read_card(text)
    assert "has blank" not in str(refused.value)
    assert dict(problems_of(changed(sensors=["sht4x", "bme999"])))["a sensor"] == '"bme999"'


def test_missing_keys_are_named() -> None:
    values = {key: value for key, value in json.loads(a_card().text).items() if key not in ("user", "ca")}
    assert problems_of(json.dumps(values)) == [("user", "missing"), ("ca", "missing")]


def test_a_card_of_another_site_is_refused() -> None:
    assert problems_of(a_card().text, root="rearing", site="other-farm") == [("site", '"saltbush-yard"')]
    assert problems_of(a_card().text, root="barn", site="other-farm")[0] == ("root", '"rearing"')


def test_an_authority_that_has_expired_or_begins_later_is_refused() -> None:
    old = a_card(ca=authority(2001, 2020))
    assert read_card(old.text) == old
    assert problems_of(old.text, now_s=NOW_S) == [("ca", "valid from 2001-01-01 to 2020-01-01")]
    assert problems_of(a_card(ca=authority(2040, 2060)).text, now_s=NOW_S)[0][0] == "ca"
    assert read_card(a_card(ca="").text, now_s=NOW_S).ca == "", "a broker without TLS has none"


@pytest.mark.parametrize(
    ("name", "value"),
    [
        *(("wifi", "x" * 33), ("wifi", "a\tb"), ("wifi_password", "short"), ("wifi_password", "x" * 64)),
        *(("password", ""), ("password", "x" * 64), ("password", "a\nb"), ("hosts", ()), ("node", "a/b")),
        *(("interval_s", 9), ("interval_s", 3601), ("send_every", 0), ("send_every", 61), ("node", "x" * 41)),
        *(("probes", ("a" * 17,)), ("probes", ("p:1",)), ("port", 65536), ("user", "a:b"), ("site", "a#")),
    ],
)
def test_limits_on_their_far_side(name: str, value: Any) -> None:
    with pytest.raises(CardError) as refused:
        made_card(a_card(**{name: value}))
    assert name in {problem.key for problem in refused.value.problems}


@pytest.mark.parametrize(
    ("name", "value"),
    [
        *(
            ("wifi", "x" * 32),
            ("wifi_password", "x" * 8),
            ("wifi_password", "x" * 63),
            ("password", "x" * 63),
        ),
        *(("interval_s", 10), ("interval_s", 3600), ("send_every", 60), ("node", "x" * 40)),
        ("probes", ("a" * 16,)),
    ],
)
def test_limits_on_their_near_side(name: str, value: Any) -> None:
    assert getattr(made_card(a_card(**{name: value})), name) == value


def test_secrets_stay_out_of_what_is_logged() -> None:
    shown = f"{a_card()} {a_card()!r}"
    assert a_card().password not in shown and a_card().wifi_password not in shown and AUTHORITY not in shown


def test_a_card_file_that_is_none(tmp_path: Path) -> None:
    with pytest.raises(CardError, match="card NAME"):
        card_in_file(tmp_path / "none.json")
    (tmp_path / "binary.json").write_bytes(b"\xff\xfe")
    with pytest.raises(CardError, match="it is no text"):
        card_in_file(tmp_path / "binary.json")
    (tmp_path / "card.json").write_text(a_card().text + "\n", encoding="utf-8")
    assert card_in_file(tmp_path / "card.json", site="saltbush-yard") == a_card()


READER = """
import json
import hardware, settings
board = hardware.Board()
kept = settings.Settings(board)
reasons = []
for line in open(CARDS):
    reasons.append(kept.take_card(json.loads(line)))
print(json.dumps([reasons, kept.card]))
"""


@pytest.mark.micropython
def test_the_board_takes_what_is_made_here_and_refuses_what_came_broken(tmp_path: Path) -> None:
    """The board's own reader, under MicroPython."""
    from micropython_run import run_script, write_world

    good = [a_card(), a_card(ca="", wifi="Gîte Ü", probes=()), a_card(node="n" * 40, interval_s=3600)]
    text = a_card().text
    bad = [text[:300], text.replace("192.168.1.20", "192.168.1.21"), changed(port=0)]
    bad += [changed(interval_s=9), "", "[]"]
    # A sum that fits proves that we made the card, so what only we can make wrong is looked at here alone.
    ours = [changed(power="sun"), changed(password="x" * 64), changed(probes=["a" * 17])]
    for each in [*bad, *ours]:
        with pytest.raises(CardError):
            read_card(each)
    cards_file = tmp_path / "cards.jsonl"
    lines = [*(card.text for card in good), *bad]
    cards_file.write_text("".join(f"{json.dumps(each)}\n" for each in lines), encoding="utf-8")
    write_world(tmp_path, {})
    said = run_script(f"CARDS = {str(cards_file)!r}\n{READER}", {"NODE_WORLD": str(tmp_path)})
    reasons, kept = json.loads(said.splitlines()[-1])
    assert reasons[: len(good)] == [""] * len(good)
    assert all(reasons[len(good) :]), reasons
    assert kept == json.loads(good[-1].text), "what was refused changed nothing"


def decoded(rows: list[list[int]], pixels: int) -> str:
    """What a reader of QR codes sees in modules of so many pixels; 1 is dark."""
    picture = np.kron(1 - np.array(rows, dtype=np.uint8), np.ones((pixels, pixels), dtype=np.uint8)) * 255
    (found,) = zxingcpp.read_barcodes(picture)
    return found.bytes.decode()


@pytest.mark.parametrize(
    "card", [a_card(), a_card(ca="", wifi="Gîte Ü"), a_card(hosts=("a" * 250, "b" * 250, "c" * 150))]
)
def test_a_reader_decodes_the_qr_code(card: Card) -> None:
    code = cards.qr_code(card.text)
    assert int(code.version) <= 28 and code.error == "L"
    rows = [list(map(int, row)) for row in code.matrix_iter(border=cards.QUIET_ZONE)]
    assert decoded(rows, 3) == card.text
    assert cards.qr_width(card.text) == len(rows)


def test_a_reader_decodes_what_the_terminal_shows() -> None:
    text = a_card().text
    drawn = cards.qr_in_terminal(text).splitlines()
    halves = {"█": (0, 0), "▀": (0, 1), "▄": (1, 0), " ": (1, 1)}
    rows = [[halves[sign][half] for sign in line] for line in drawn for half in (0, 1)]
    assert decoded(rows, 3) == text
    assert {len(line) for line in drawn} == {cards.qr_width(text)}
    coloured = cards.qr_in_terminal(text, coloured=True).splitlines()
    assert all(line.startswith("\x1b[38;5;231;48;5;16m") and line.endswith("\x1b[0m") for line in coloured)


def test_the_svg_is_the_same_code_and_names_itself() -> None:
    text = a_card().text
    svg = cards.qr_as_svg(text, "Card of node-03 <b>")
    assert svg.startswith("<svg ") and 'class="qr"' in svg and "&lt;b&gt;" in svg
    assert f'viewBox="0 0 {cards.qr_width(text)} {cards.qr_width(text)}"' in svg
    assert text not in svg, "the text stands in the picture alone"
    assert io.StringIO(svg).read().count("<path") == 2
