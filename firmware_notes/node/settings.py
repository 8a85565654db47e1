"""The card and the settings of this board: read with strict limits, kept in two copies each.

The card is pasted once (setup_page.py) and holds the secrets. The settings come by MQTT and may change four
things, never the way to the broker. What is refused changes nothing; the reason is a plain sentence without
any value, since it may be a secret.
"""

import json
from binascii import crc32

from copies import Copies
from micropython import const

_MOST_CARD = const(1500)  # bytes
_MOST_SETTINGS = const(900)
_FULL = "Not kept: the board's flash is full or broken."

# What a value must be: its type, the least and the most (of a number, of bytes of a text, of things in a
# list), and of a text the signs beside letters and digits (None: all that can be printed), else what each
# thing must be.
# The same limits as the monitor's (monitor/boards/card.py).
_NAME = (str, 1, 40, "_.-")
_PROBE = (str, 1, 16, "_.-")
_BOTH = {"interval_s": (int, 10, 3600), "send_every": (int, 1, 60), "sum": (str, 8, 8, "")}
_CARD = {
    "card": (int, 1, 1),
    "root": (str, 1, 999, "_-/"),
    "site": _NAME,
    "node": _NAME,
    "hosts": (list, 1, 6, (str, 1, 253, "_.:-")),
    "port": (int, 1, 65535),
    "tls_name": (str, 0, 253, "_.:-"),
    "user": _NAME,
    "password": (str, 1, 63, None),
    "power": (str, 5, 7, ""),
    "sensors": (list, 0, 16, (str, 1, 60, "_@:")),
    "probes": (list, 0, 8, _PROBE),
    "wifi": (str, 0, 32, None),
    "wifi_password": (str, 0, 63, None),
    "ca": (str, 0, 1400, "+/="),
}
_CARD.update(_BOTH)
_SETTINGS = {"probes": (dict, 0, 8, _PROBE), "buzzer": (bool, 0, 1)}  # names by the probes' serial numbers
_SETTINGS.update(_BOTH)


def _text(value):
    if type(value) is bool:
        return str(value).lower()
    if type(value) is list:
        return ",".join(map(_text, value))
    if type(value) is dict:
        return ",".join([key + ":" + _text(value[key]) for key in sorted(value)])
    return str(value)


def checksum(values):
    """CRC-32 over `key=value` lines in the order of the keys, eight hexadecimal digits."""
    lines = [key + "=" + _text(values[key]) for key in sorted(values) if key != "sum"]
    return "%08x" % crc32("\n".join(lines).encode())


def _is_text(value, rule):
    for c in value:
        if not c.isalpha() and not c.isdigit() and (ord(c) < 32 if rule is None else c not in rule):
            return False
    return rule != "_.-" or value[0] not in rule  # a name begins with a letter or digit


def _is_right(value, kind, least, most, rule=0):
    if type(value) is not kind:
        return False
    n = value
    if rule != 0:
        n = len(value.encode() if kind is str else value)
    if not least <= n <= most:
        return False
    if kind is str:
        return _is_text(value, rule)
    if kind is dict:
        serials, value = value, list(value.values())
        if len(set(map(str, value))) < n:
            return False
        for serial in serials:
            if not _is_right(serial, str, 16, 16, "") or serial.lower() != serial:
                return False
    return rule == 0 or False not in [_is_right(each, *rule) for each in value]


def _wrong(values, rules):
    """What is wrong, in one text, the first four of it."""
    wrong = []
    for key in sorted(values):
        if key not in rules:
            wrong.append(
                (key if _is_right(key, str, 1, 20, "_") else "something") + " is not a key that is known"
            )
        elif not _is_right(values[key], *rules[key]):
            limits = rules[key]
            wrong.append(key + (" must be %d to %d" % limits[1:] if limits[0] is int else " is not usable"))
    if not wrong and values.get("sum") != checksum(values):
        wrong = ["its sum does not fit, something in it was changed"]
    return "; ".join(wrong[:4])


def _parsed(text):
    try:
        values = json.loads(text)
    except (ValueError, MemoryError, RuntimeError):  # RuntimeError: nested too deep
        values = None
    return values if type(values) is dict else {}


class Settings:
    """`card` (None before the first), `sum` of the settings in force, `refused`: why the last were not."""

    def __init__(self, board):
        folder = board.folder.rstrip("/") + "/"
        self._card_copies = Copies(folder + "card")
        self._copies = Copies(folder + "settings")
        kept = _parsed(self._card_copies.data or "")
        self.card = kept.get("card")
        self._wifi = kept.get("wifi")  # typed on the page, where the card has none
        self._good = ""  # a good card that waits for it
        kept = _parsed(self._copies.data or "")
        self._probes = kept.get("probes", {})
        # Settings belong to the card with which they came.
        self._taken = kept["taken"] if self.card and kept.get("card") == self.card["sum"] else {}
        self.refused = ""

    @property
    def sum(self):
        return self._taken.get("sum", "")

    def get(self, key):
        """The value in force; "probes" are names by serial number, the card's list is `card["probes"]`."""
        if key == "probes":
            names = dict(self._taken.get(key, {}))
            for rom in self._probes:  # those that the board gave by itself, where they are still free
                if rom not in names and self._probes[rom] not in names.values():
                    names[rom] = self._probes[rom]
            return names
        if self._wifi and key[:4] == "wifi":
            return self._wifi[key != "wifi"]
        return self._taken.get(key, True if key == "buzzer" else self.card and self.card[key])

    def _refused(self, text, card, by_button):
        """Why a card is not taken, "" where it is."""
        missing = [key for key in sorted(_CARD) if key not in card]
        reason = "it has no " + ", ".join(missing[:4]) if missing else _wrong(card, _CARD)
        if not card:
            reason = "it is damaged or longer than %d bytes" % _MOST_CARD
        if text[-1] != "}":
            reason = "its end is missing"
        if reason:
            return "The card is refused: " + reason + ". Copy all of it again, from { to }."
        if self.card and not by_button:
            new, old = card["root"] + "/" + card["site"], self.card["root"] + "/" + self.card["site"]
            if new != old:
                return (
                    "This card is for %s, the board belongs to %s. To move it, press its button within two "
                    "seconds after it got power, and paste the card again." % (new, old)
                )
        return ""

    def take_card(self, text, wifi="", password="", by_button=False):
        """Keeps a card; "" or why it is refused. `wifi` and `password` are used where the card has none.

        Without a text it is the good card of before, which lacked only them. A card of another site is taken
        only when a person asked for the page by the button.
        """
        text = text.replace("\r", "").replace("\n", "")  # of a terminal, a mail program
        text = text[text.find("{") : text.rfind("}") + 1 or len(text)] if "{" in text else self._good
        if not text:
            return "This is no card: paste the line that begins with {."
        card = _parsed(text) if len(text.encode()) <= _MOST_CARD else {}
        reason = self._refused(text, card, by_button)
        if reason:
            return reason
        typed = None
        if not card["wifi"]:
            self._good = text
            typed = [wifi, password] if wifi else self._wifi
            right = _is_right(wifi, *_CARD["wifi"]) and _is_right(password, *_CARD["wifi_password"])
            if not typed or not right or 0 < len(password) < 8:
                return (
                    "The card is good and kept here, but it names no Wi-Fi. Type its name, 1 to 32 letters, "
                    "and its password, 8 to 63 or none."
                )
        try:
            self._card_copies.write(json.dumps({"card": card, "wifi": typed}).encode())
        except OSError:
            return _FULL
        if not self.card or self.card["sum"] != card["sum"]:
            self._taken = {}
        self.card, self._wifi, self._good = card, typed, ""
        return ""

    def take(self, payload):
        """Settings that came over MQTT; "" or why they are refused. The same ones again write nothing."""
        values = _parsed(payload) if len(payload) <= _MOST_SETTINGS else {}
        wrong = _wrong(values, _SETTINGS) if values else "no JSON object of at most %d bytes" % _MOST_SETTINGS
        self.refused = "The settings are refused: " + wrong + "." if wrong else ""
        if not wrong and values != self._taken:
            self.refused = self._write(values, self._probes)
        return self.refused

    def set_probes(self, names):
        """The names that the board gave to probes by itself: {serial number: name}."""
        return self._write(self._taken, dict(names)) if names != self._probes else ""

    def _write(self, taken, probes):
        kept = {"card": self.card and self.card["sum"], "taken": taken, "probes": probes}
        try:
            self._copies.write(json.dumps(kept).encode())
        except OSError:
            return _FULL
        self._taken, self._probes = taken, probes
        return ""
