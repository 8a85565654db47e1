"""The card of a board: one line of JSON with all that it needs to be heard, made here and pasted into it.

It holds the board's password, so it is written for its owner alone and shown once. The board reads it with
the same limits and the same checksum (`firmware_notes/node/settings.py`).
"""

from __future__ import annotations

import base64
import binascii
import datetime
import io
import json
import re
import zlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, fields
from pathlib import Path
from typing import Any

import segno
from cryptography import x509

from monitor.boards.sensors import MOST_PROBES, sensor_problems
from monitor.errors import CardError, Phrase, Problem, Sentence, sentence

VERSION = 1
MOST_BYTES = 1500
LONGEST_SECRET = 63
LONGEST_WIFI_BYTES = 32
"""IEEE 802.11: a network's name has at most 32 bytes, a pass phrase of WPA2 8 to 63 printable letters."""
MOST_HOSTS = 6
TLS_NAME = "rearing-broker"
INTERVALS_S, SEND_EVERY = (10, 3600), (1, 60)
MAINS, BATTERY = "mains", "battery"
NODE = re.compile(r"[A-Za-z0-9][A-Za-z0-9_.-]{0,39}")
PROBE = re.compile(r"[A-Za-z0-9][A-Za-z0-9_.-]{0,15}")
_LEVELS = re.compile(r"[A-Za-z0-9_-]+(/[A-Za-z0-9_-]+)*")
_HOST = re.compile(r"[A-Za-z0-9._:-]{1,253}")
_WIFI_PASSWORD = re.compile(r"[ -~]{8,63}")
_COPY_AGAIN = sentence(
    "copy the whole card again, from its first {opening} to its last {closing}", opening="{", closing="}"
)
_MAKE_AGAIN = sentence("make the card again: {command}", command="rearing-monitor board card NAME")
QUIET_ZONE = 4
"""Empty modules around a QR code; ISO/IEC 18004 asks for four."""
# ECMA-48 with the 256 colours that terminals share: 231 is white and 16 black in each of their themes.
_WHITE_ON_BLACK, _PLAIN = "\x1b[38;5;231;48;5;16m", "\x1b[0m"


@dataclass(frozen=True, slots=True)
class Card:
    """What a board is told. The names and their order are those of the JSON; secrets stay out of `repr`."""

    root: str
    site: str
    node: str
    hosts: tuple[str, ...]
    port: int
    tls_name: str
    user: str
    password: str = field(repr=False)
    interval_s: int
    send_every: int
    power: str
    sensors: tuple[str, ...]
    probes: tuple[str, ...] = ()
    wifi: str = ""
    wifi_password: str = field(default="", repr=False)
    ca: str = field(default="", repr=False)

    @property
    def text(self) -> str:
        """The card as it is pasted: one line."""
        plain = self._plain()
        return json.dumps({**plain, "sum": checksum(plain)}, separators=(",", ":"), ensure_ascii=False)

    def _plain(self) -> dict[str, Any]:
        values = {each.name: getattr(self, each.name) for each in fields(self)}
        return {"card": VERSION, **{name: _listed(value) for name, value in values.items()}}


def _listed(value: Any) -> Any:
    return list(value) if isinstance(value, tuple) else value


KEYS = ("card", *(each.name for each in fields(Card)), "sum")


def made_card(card: Card) -> Card:
    """The same card, or CardError with everything that the board would refuse."""
    problems = [*_value_problems(card._plain()), *_size_problems(card.text)]
    if problems:
        raise CardError(problems)
    return card


def checksum(values: Mapping[str, Any]) -> str:
    """CRC-32 of `key=value` lines in the order of the keys: eight hexadecimal digits."""
    lines = "\n".join(f"{key}={_as_text(values[key])}" for key in sorted(values) if key != "sum")
    return f"{zlib.crc32(lines.encode('utf-8', 'surrogatepass')):08x}"


def _as_text(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, list | tuple):
        return ",".join(map(_as_text, value))
    if isinstance(value, Mapping):
        return ",".join(f"{key}:{_as_text(value[key])}" for key in sorted(value))
    return str(value)


def read_card(
    text: str, root: str | None = None, site: str | None = None, now_s: float | None = None
) -> Card:
    """The card in a text that a person pasted or kept; CardError with every problem at once.

    With `root` and `site` a card of another site is refused, with `now_s` one whose authority has expired.
    """
    # A card has no line breaks of its own: what breaks it is a terminal, a mail program or a phone.
    values = _parsed(text.strip().lstrip("\ufeff").replace("\r", "").replace("\n", ""))
    problems = [*_key_problems(values), *_value_problems(values), *_size_problems(text.strip())]
    if not set(KEYS) - values.keys() and values["sum"] != checksum(values):
        problems.append(
            _problem(
                "sum",
                values["sum"],
                checksum(values),
                sentence("something in the card was changed; {remedy}", remedy=_COPY_AGAIN),
            )
        )
    problems += _site_problems(values, root, site)
    if now_s is not None:
        problems += authority_problems(str(values.get("ca", "")), now_s)
    if problems:
        raise CardError(problems)
    return Card(**{each.name: _kept(values[each.name]) for each in fields(Card)})


def card_in_file(
    path: Path, root: str | None = None, site: str | None = None, now_s: float | None = None
) -> Card:
    """The card in a file."""
    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        why = error.strerror if isinstance(error, OSError) else sentence("it is no text")
        raise CardError(
            [
                _problem(
                    "file",
                    str(path),
                    sentence("a card"),
                    sentence("{why}; {remedy}", why=why or "?", remedy=_MAKE_AGAIN),
                )
            ]
        ) from None
    return read_card(text, root, site, now_s)


def _kept(value: Any) -> Any:
    return tuple(value) if isinstance(value, list) else value


def _problem(key: str, found: object, allowed: Phrase, remedy: Sentence = _MAKE_AGAIN) -> Problem:
    said = found if isinstance(found, Sentence) else _short(found)
    return Problem("card", key, said, allowed, remedy)


def _short(found: object, longest: int = 60) -> str:
    text = json.dumps(found, ensure_ascii=False, default=str)
    return text if len(text) <= longest else text[: longest - 1] + "…"


def _parsed(text: str) -> dict[str, Any]:
    if not text:
        raise CardError([_problem("card", sentence("empty"), sentence("one line of JSON"), _COPY_AGAIN)])
    try:
        values = json.loads(text)
    except (ValueError, RecursionError):
        whole = text.startswith("{") and text.endswith("}")
        found = sentence("cut off: {count} characters, without its beginning or end", count=str(len(text)))
        if whole:
            found = sentence("damaged: {count} characters that are no JSON", count=str(len(text)))
        raise CardError([_problem("card", found, sentence("one line of JSON"), _COPY_AGAIN)]) from None
    if not isinstance(values, dict):
        raise CardError(
            [_problem("card", sentence("something else"), sentence("one line of JSON"), _COPY_AGAIN)]
        )
    return values


def _key_problems(values: Mapping[str, Any]) -> Iterator[Problem]:
    for key in KEYS:
        if key not in values:
            yield _problem(key, sentence("missing"), sentence("every key of a card"), _COPY_AGAIN)
    for key in values:
        if key not in KEYS:
            yield _problem(_short(key, 30), sentence("unknown"), ", ".join(KEYS))


def _size_problems(text: str) -> Iterator[Problem]:
    size = len(text.encode("utf-8", "surrogatepass"))
    if size > MOST_BYTES:
        remedy = sentence("give the board fewer addresses, sensors or probes")
        yield _problem(
            "card",
            sentence("{size} bytes", size=str(size)),
            sentence("at most {most} bytes", most=str(MOST_BYTES)),
            remedy,
        )


def _value_problems(values: Mapping[str, Any]) -> Iterator[Problem]:
    """What is wrong with each key that is there; a secret is never shown."""
    if values.get("card", VERSION) != VERSION:
        yield _problem("card", values["card"], str(VERSION))
    for key, is_right, allowed in _RULES:
        if key in values and not is_right(values[key]):
            shown = sentence("not usable") if "password" in key or key == "ca" else values[key]
            yield _problem(key, shown, allowed)
    sensors, probes = values.get("sensors"), values.get("probes")
    if isinstance(sensors, list) and isinstance(probes, list) and _texts(sensors) and _texts(probes):
        yield from sensor_problems("card", sensors, probes)


def _texts(value: object, pattern: re.Pattern[str] | None = None, most: int = 99) -> bool:
    """A list of texts, each of them only once."""
    if (
        not isinstance(value, list | tuple)
        or len(value) > most
        or not all(isinstance(each, str) for each in value)
    ):
        return False
    return len(set(value)) == len(value) and all(pattern is None or pattern.fullmatch(each) for each in value)


def _between(value: object, low: int, high: int) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and low <= value <= high


def _matches(value: object, pattern: re.Pattern[str]) -> bool:
    return isinstance(value, str) and pattern.fullmatch(value) is not None


def _is_authority(value: object) -> bool:
    return value == "" or (isinstance(value, str) and certificate_in(value) is not None)


def certificate_in(text: str) -> x509.Certificate | None:
    """The certificate in base64 (DER); None where there is none that can be read."""
    try:
        return x509.load_der_x509_certificate(base64.b64decode(text, validate=True))
    except (ValueError, binascii.Error):
        return None


_NAME = sentence("a name of at most 40 letters, digits, dots, dashes, underscores")
_SECRET = sentence("1 to {most} printable letters without blanks", most=str(LONGEST_SECRET))
_RULES: Sequence[tuple[str, Any, Phrase]] = (
    (
        "root",
        lambda value: _matches(value, _LEVELS),
        sentence("letters, digits, dashes and underscores, with / between levels"),
    ),
    ("site", lambda value: _matches(value, NODE), _NAME),
    ("node", lambda value: _matches(value, NODE), _NAME),
    (
        "hosts",
        lambda value: _texts(value, _HOST, MOST_HOSTS) and bool(value),
        sentence("names or addresses of this computer, at most {most}", most=str(MOST_HOSTS)),
    ),
    ("port", lambda value: _between(value, 1, 65535), "1..65535"),
    ("tls_name", lambda value: value == "" or _matches(value, _HOST), TLS_NAME),
    ("user", lambda value: _matches(value, NODE), _NAME),
    ("password", lambda value: _matches(value, re.compile(rf"[!-~]{{1,{LONGEST_SECRET}}}")), _SECRET),
    ("interval_s", lambda value: _between(value, *INTERVALS_S), "{}..{}".format(*INTERVALS_S)),
    ("send_every", lambda value: _between(value, *SEND_EVERY), "{}..{}".format(*SEND_EVERY)),
    ("power", lambda value: value in (MAINS, BATTERY), f"{MAINS}, {BATTERY}"),
    ("sensors", _texts, sentence("a list of sensors, each once")),
    (
        "probes",
        lambda value: _texts(value, PROBE, MOST_PROBES),
        sentence(
            "at most {most} names of at most 16 letters, digits, dots, dashes, underscores, each once",
            most=str(MOST_PROBES),
        ),
    ),
    (
        "wifi",
        lambda value: isinstance(value, str) and is_wifi_name(value),
        sentence("the name of a network, at most {most} bytes", most=str(LONGEST_WIFI_BYTES)),
    ),
    (
        "wifi_password",
        lambda value: value == "" or _matches(value, _WIFI_PASSWORD),
        sentence("empty, or 8 to 63 plain letters, digits and signs"),
    ),
    ("ca", _is_authority, sentence("empty, or a certificate in base64")),
)


def is_wifi_name(name: str) -> bool:
    """Whether a network can be called so; nothing is right too, since the board asks for it."""
    return len(name.encode("utf-8", "surrogatepass")) <= LONGEST_WIFI_BYTES and name.isprintable()


def is_wifi_password(password: str) -> bool:
    """Whether a network can have this password; an open network has none."""
    return password == "" or _matches(password, _WIFI_PASSWORD)


def _site_problems(values: Mapping[str, Any], root: str | None, site: str | None) -> Iterator[Problem]:
    for key, wanted in (("root", root), ("site", site)):
        if wanted is not None and isinstance(values.get(key), str) and values[key] != wanted:
            remedy = sentence(
                "this card is for another site; take one that was made here: {command}",
                command="rearing-monitor board card NAME",
            )
            yield _problem(key, values[key], wanted, remedy)


def authority_problems(ca: str, now_s: float) -> Iterator[Problem]:
    """Why the certificate of the authority on a card does not hold now."""
    authority = certificate_in(ca) if ca else None
    if authority is None:
        return
    now = datetime.datetime.fromtimestamp(now_s, datetime.UTC)
    first, last = authority.not_valid_before_utc, authority.not_valid_after_utc
    if not first <= now <= last:
        yield _problem(
            "ca",
            sentence("valid from {first} to {last}", first=f"{first:%Y-%m-%d}", last=f"{last:%Y-%m-%d}"),
            sentence("an authority that is valid today"),
            sentence(
                "set the clock of this computer if it is wrong; else make the certificates anew ({setup}) "
                "and then a new card for each board ({card})",
                setup="rearing-monitor broker setup",
                card="rearing-monitor board card NAME",
            ),
        )


def qr_code(text: str) -> segno.QRCode:
    """The card as a QR code, at the lowest level of error correction: it is read from a clean screen."""
    return segno.make_qr(text.encode("utf-8"), error="l", boost_error=False, mode="byte")


def qr_in_terminal(text: str, coloured: bool = False) -> str:
    """The QR code in half blocks; `coloured` draws black on white whatever the colours of the terminal."""
    drawn = io.StringIO()
    qr_code(text).terminal(drawn, border=QUIET_ZONE, compact=True)
    lines = drawn.getvalue().splitlines()
    return "\n".join(f"{_WHITE_ON_BLACK}{line}{_PLAIN}" if coloured else line for line in lines)


def qr_width(text: str) -> int:
    """Columns that the drawing in the terminal takes."""
    return int(qr_code(text).symbol_size(border=QUIET_ZONE)[0])


def qr_as_svg(text: str, title: str) -> str:
    """The QR code as an SVG for the page: black on white in each scheme, as large as its frame."""
    drawn = io.BytesIO()
    look = {"dark": "#000", "light": "#fff", "svgclass": "qr", "lineclass": None}
    bare = {"xmldecl": False, "omitsize": True, "nl": False}
    qr_code(text).save(drawn, kind="svg", border=QUIET_ZONE, title=title, **look, **bare)
    return drawn.getvalue().decode("utf-8")
