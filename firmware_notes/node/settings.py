"""The card and the settings of this board: read with strict limits, kept in two copies each.

The card is pasted once (setup_page.py) and holds the secrets. The settings come by MQTT and may change four
things, never the way to the broker. What is refused changes nothing; the reason is a plain sentence without
any secret.
"""

import binascii
import json

from copies import Copies

MOST_CARD = 1500  # bytes
MOST_SETTINGS = 900
_DIGITS = "0123456789"
_LETTERS = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ"
_AGAIN = "Copy the whole card again, from its first { to its last }."


def _text(value):
    if type(value) is bool:
        return "true" if value else "false"
    if type(value) is list:
        return ",".join([_text(each) for each in value])
    if type(value) is dict:
        return ",".join([key + ":" + _text(value[key]) for key in sorted(value)])
    return str(value)


def checksum(values):
    """CRC-32 over `key=value` lines in the order of the keys, eight hexadecimal digits."""
    lines = [key + "=" + _text(values[key]) for key in sorted(values) if key != "sum"]
    return "%08x" % (binascii.crc32("\n".join(lines).encode()) & 0xFFFFFFFF)


def _word(value, most, others="_.-"):
    """A name: letters, digits and some others, not beginning with a dash or dot."""
    return (
        type(value) is str
        and 0 < len(value) <= most
        and value[0] not in "-."
        and not [c for c in value if c not in _LETTERS and c not in _DIGITS and c not in others]
    )


def _probe(value):
    return _word(value, 16) and value[0] != "_"


def _signs(value, least, most, blank=0):
    """Printable ASCII."""
    return (
        type(value) is str
        and least <= len(value) <= most
        and not [c for c in value if not 33 - blank <= ord(c) <= 126]
    )


def _list(value, least, most, right):
    return type(value) is list and least <= len(value) <= most and not [v for v in value if not right(v)]


def _whole(value, low, high):
    return type(value) is int and low <= value <= high


def wifi_name(value):
    return type(value) is str and len(value.encode()) <= 32 and not [c for c in value if ord(c) < 32]


def wifi_password(value):
    return value == "" or _signs(value, 8, 63, 1)


def _is_ca(value):
    try:
        return value == "" or (type(value) is str and binascii.a2b_base64(value)[0] == 0x30)
    except (ValueError, IndexError):
        return False


def _rom(value):
    return type(value) is str and len(value) == 16 and not [c for c in value if c not in "0123456789abcdef"]


def _names_by_rom(value):
    return (
        type(value) is dict
        and len(value) <= 8
        and not [rom for rom in value if not _rom(rom) or not _probe(value[rom])]
        and len(set(value.values())) == len(value)
    )


_NAME = "a name of at most 40 letters, digits, dashes, dots"
# Key: what is right, and how it is said. The same limits as the monitor's (monitor/boards/card.py).
_COMMON = {
    "interval_s": (lambda v: _whole(v, 10, 3600), "a whole number from 10 to 3600"),
    "send_every": (lambda v: _whole(v, 1, 60), "a whole number from 1 to 60"),
}
_CARD = {
    "root": (lambda v: _word(v, 100, "_-/"), "letters, digits, dashes and /"),
    "site": (lambda v: _word(v, 40), _NAME),
    "node": (lambda v: _word(v, 40), _NAME),
    "hosts": (lambda v: _list(v, 1, 6, lambda h: _word(h, 253, "._:-") or h == "::1"), "1 to 6 addresses"),
    "port": (lambda v: _whole(v, 1, 65535), "a whole number from 1 to 65535"),
    "tls_name": (lambda v: v == "" or _word(v, 253, "._:-"), "a name"),
    "user": (lambda v: _word(v, 40), _NAME),
    "password": (lambda v: _signs(v, 1, 63), "1 to 63 letters, digits, signs"),
    "power": (lambda v: v in ("mains", "battery"), "mains or battery"),
    "sensors": (lambda v: _list(v, 0, 16, lambda s: _word(s, 40, "_@:")), "a list of sensors"),
    "probes": (
        lambda v: _list(v, 0, 8, _probe),
        "at most 8 names of at most 16 letters, digits, dashes, dots",
    ),
    "wifi": (wifi_name, "a name of at most 32 bytes"),
    "wifi_password": (wifi_password, "empty or 8 to 63 letters, digits, signs"),
    "ca": (_is_ca, "empty or a certificate"),
}
_SETTINGS = {
    "probes": (_names_by_rom, "at most 8 pairs of a serial number and a name"),
    "buzzer": (lambda v: type(v) is bool, "true or false"),
}
_CARD.update(_COMMON)
_SETTINGS.update(_COMMON)


def _wrong(values, rules, what):
    """Everything that is wrong, in one text; no value is shown, since it may be a secret."""
    wrong = []
    for key in values:
        if key in ("sum", "card"):
            continue
        if key not in rules:
            # A key of a newer program is worth its name; anything stranger is not repeated.
            wrong.append("it has a key that is not known%s" % (": " + key if _word(key, 20) else ""))
        elif not rules[key][0](values[key]):
            wrong.append("%s must be %s" % (key, rules[key][1]))
    if not wrong and values["sum"] != checksum(values):
        wrong.append("its sum does not fit: something in it was changed")
    return what + " is refused: " + "; ".join(wrong[:4]) + "." if wrong else ""


def _parsed(text):
    try:
        values = json.loads(text)
    except (ValueError, MemoryError, RuntimeError):  # RuntimeError: nested too deep
        return None
    return values if type(values) is dict else None


def _read_card(text):
    """(card, reason): one of the two. What phones and mail programs do to a text is undone first."""
    if len(text) > 2 * MOST_CARD:
        return None, "This is too long for a card. " + _AGAIN
    for found, instead in (("\r", ""), ("\n", ""), ("\ufeff", ""), ("“", '"'), ("”", '"')):
        text = text.replace(found, instead)
    first, last = text.find("{"), text.rfind("}")
    if first < 0:
        if not text.strip():
            return None, "There is no card. Paste the line that starts with {."
        return None, "This is not a card. " + _AGAIN
    if last < first or (last + 1 < len(text) and '"' in text[last:]):
        return None, "The card is cut off: its end is missing. " + _AGAIN
    text = text[first : last + 1]
    if len(text.encode()) > MOST_CARD:
        return None, "The card has more than %d bytes. %s" % (MOST_CARD, _AGAIN)
    card = _parsed(text)
    if card is None:
        return None, "The card is damaged. " + _AGAIN
    missing = [key for key in sorted(_CARD) + ["sum"] if key not in card]
    if card.get("card", 1) != 1:
        return None, "This card is for another program version. Copy the newer one onto the board."
    if missing:
        return None, "The card is not whole: it has no %s. %s" % (", ".join(missing[:4]), _AGAIN)
    reason = _wrong(card, _CARD, "The card")
    return (None, reason + " " + _AGAIN) if reason else (card, "")


class Settings:
    """`card` (None before the first), `sum` of the settings in force, `refused`: why the last were not."""

    def __init__(self, board):
        self._board = board
        folder = board.folder.rstrip("/") + "/"
        self._card_copies = Copies(folder + "card")
        self._copies = Copies(folder + "settings")
        self.card = None
        self._wifi = ["", ""]
        self._taken = {}
        self._probes = {}
        self.sum = self.refused = ""
        kept = self._load(self._card_copies)
        if kept:
            self.card, self._wifi = kept["card"], kept["wifi"]
        kept = self._load(self._copies)
        if kept:
            self._probes = kept["probes"]
            # Settings belong to the card with which they came.
            if self.card and kept["card"] == self.card["sum"]:
                self._take_over(kept["taken"])

    def _load(self, copies):
        return _parsed(copies.data) if copies.data else None

    def _take_over(self, taken):
        self._taken = taken
        self.sum = taken.get("sum", "")

    def get(self, key):
        """The value in force; "probes" are names by serial number, the card's list is `card["probes"]`."""
        if key == "probes":
            return self._names()
        if key == "wifi" and self._wifi[0]:
            return self._wifi[0]
        if key == "wifi_password" and self._wifi[0]:
            return self._wifi[1]
        if key in self._taken:
            return self._taken[key]
        if key == "buzzer":
            return True
        return self.card[key] if self.card else None

    def _names(self):
        """The monitor's names, and those that the board gave itself where they are still free."""
        names = dict(self._taken.get("probes", {}))
        for rom in self._probes:
            if rom not in names and self._probes[rom] not in names.values():
                names[rom] = self._probes[rom]
        return names

    def check_card(self, text, by_button=None):
        """(card, reason): the card that would be taken, or why it would not."""
        card, reason = _read_card(text)
        if reason or not self.card or (card["root"], card["site"]) == (self.card["root"], self.card["site"]):
            return card, reason
        if self._board.setup_wanted() if by_button is None else by_button:
            return card, ""
        return None, (
            "This card is for the site %s, the board belongs to %s. To move it, hold its button while "
            "it gets power, and paste the card again." % (card["site"], self.card["site"])
        )

    def take_card(self, text, wifi="", password="", by_button=None):
        """Keeps a card; "" or why it is refused. `wifi` and `password` are used where the card has none."""
        card, reason = self.check_card(text, by_button)
        if reason:
            return reason
        typed = ["", ""]
        if not card["wifi"]:
            if not wifi_name(wifi):
                return "The name of the Wi-Fi must be %s." % _CARD["wifi"][1]
            if not wifi_password(password):
                return "The password of the Wi-Fi must be %s." % _CARD["wifi_password"][1]
            typed = [wifi, password] if wifi else [self.get("wifi") or "", self.get("wifi_password") or ""]
            if not typed[0]:
                return "The card names no Wi-Fi. Type its name and its password."
        try:
            self._card_copies.write(json.dumps({"card": card, "wifi": typed}).encode())
        except OSError:
            return "The card could not be written: the board's flash is full or broken."
        if self.card and self.card["sum"] != card["sum"]:
            self._take_over({})
        self.card, self._wifi = card, typed
        return ""

    def take(self, payload):
        """Settings that came over MQTT; "" or why they are refused. The same ones again write nothing."""
        self.refused = self._take(payload)
        return self.refused

    def _take(self, payload):
        if len(payload) > MOST_SETTINGS:
            return "The settings are refused: more than %d bytes." % MOST_SETTINGS
        values = _parsed(payload)
        if values is None:
            return "The settings are refused: they are no JSON object."
        if type(values.get("sum")) is not str:
            return "The settings are refused: they have no sum."
        reason = _wrong(values, _SETTINGS, "The message with settings")
        if reason or values == self._taken:
            return reason
        return self._write(values, self._probes)

    def set_probes(self, names):
        """The names that the board gave to probes by itself: {serial number: name}."""
        if names == self._probes:
            return ""
        return self._write(self._taken, dict(names))

    def _write(self, taken, probes):
        kept = {"card": self.card["sum"] if self.card else "", "taken": taken, "probes": probes}
        try:
            self._copies.write(json.dumps(kept).encode())
        except OSError:
            return "The settings could not be written: the board's flash is full or broken."
        self._take_over(taken)
        self._probes = probes
        return ""
