"""The card and the settings of this board: read with strict limits, kept in two copies each.

The card is pasted once (setup_page.py) and holds the secrets. The settings come by MQTT and may change four
things, never the way to the broker. What is refused changes nothing; the reason is a plain sentence without
any value, since it may be a secret.
"""

import json
from binascii import crc32

from copies import Copies
from micropython import const

MOST_CARD = const(1500)  # bytes
_MOST_SETTINGS = const(900)
_AGAIN = " Copy the whole card again, from its first { to its last }."
_FULL = "Not kept: the board's flash is full or broken."

# What a value must be: (low, high) a whole number; (least, most, others) a text of letters, digits and
# others, or of any printable signs (None); with a rule as third a list of such texts; else one of these.
# The same limits as the monitor's (monitor/boards/card.py).
_NAME = (1, 40, "_.-")
_PROBE = (1, 16, "_.-")
_CARD = {
    "card": (1, 1),
    "root": (1, 999, "_-/"),
    "site": _NAME,
    "node": _NAME,
    "hosts": (1, 6, (1, 253, "_.:-")),
    "port": (1, 65535),
    "tls_name": (0, 253, "_.:-"),
    "user": _NAME,
    "password": (1, 63, None),
    "interval_s": (10, 3600),
    "send_every": (1, 60),
    "power": ("mains", "battery", None),
    "sensors": (0, 16, (1, 60, "_@:")),
    "probes": (0, 8, _PROBE),
    "wifi": (0, 32, None),
    "wifi_password": (0, 63, None),
    "ca": (0, 1400, "+/="),
    "sum": (8, 8, ""),
}
_SETTINGS = {
    "interval_s": (10, 3600),
    "send_every": (1, 60),
    "probes": _PROBE,  # of a dict: the names by the probes' serial numbers
    "buzzer": (False, True, None),
    "sum": (8, 8, ""),
}


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
    return "%08x" % crc32("\n".join(lines).encode())


def _is_text(value, least, most, others):
    if type(value) is not str or not least <= len(value.encode()) <= most:
        return False
    for c in value:
        plain = "0" <= c <= "9" or "A" <= c <= "Z" or "a" <= c <= "z"
        if not plain and (ord(c) < 32 if others is None else c not in others):
            return False
    return others != "_.-" or value[0] not in others  # a name begins with a letter or digit


def _is_right(value, rule):
    kind = type(value)
    if type(rule[0]) is not int:
        return kind is type(rule[0]) and value in rule
    if len(rule) == 2:
        return kind is int and rule[0] <= value <= rule[1]
    if type(rule[2]) is tuple:
        return (
            kind is list
            and rule[0] <= len(value) <= rule[1]
            and not [each for each in value if not _is_text(each, *rule[2])]
        )
    if kind is dict and rule is _PROBE:
        names = value.values()
        return (
            len(set(names)) == len(value) <= 8
            and not [rom for rom in value if not _is_text(rom, 16, 16, "") or rom.lower() != rom]
            and not [name for name in names if not _is_text(name, *rule)]
        )
    return rule is not _PROBE and _is_text(value, *rule)


def _wrong(values, rules):
    """What is wrong, in one text, the first four of it."""
    wrong = []
    for key in sorted(values):
        if key not in rules:
            wrong.append((key if _is_text(key, 1, 20, "_") else "something") + " is not a key that is known")
        elif not _is_right(values[key], rules[key]):
            limits = " must be a whole number from %d to %d" % rules[key] if len(rules[key]) == 2 else ""
            wrong.append(key + (limits or " is not usable"))
    if not wrong and values.get("sum") != checksum(values):
        wrong = ["its sum does not fit, something in it was changed"]
    return "; ".join(wrong[:4])


def _parsed(text):
    try:
        values = json.loads(text)
    except (ValueError, MemoryError, RuntimeError):  # RuntimeError: nested too deep
        return None
    return values if type(values) is dict else None


def _read_card(text):
    """(card, reason): one of the two. What phones and mail programs do to a text is undone first."""
    for found, instead in ("\r", ""), ("\n", ""), ("“", '"'), ("”", '"'):
        text = text.replace(found, instead)
    first = text.find("{")
    if first < 0:
        return None, "This is no card: paste the line that begins with {."
    text = text[first:].strip()
    if text[-1] != "}":
        return None, "The card is cut off, its end is missing." + _AGAIN
    if len(text.encode()) > MOST_CARD:
        return None, "The card is longer than %d bytes." % MOST_CARD + _AGAIN
    card = _parsed(text)
    if card is None:
        return None, "The card is damaged." + _AGAIN
    missing = [key for key in sorted(_CARD) if key not in card]
    wrong = "it has no " + ", ".join(missing[:4]) if missing else _wrong(card, _CARD)
    return (None, "The card is refused: " + wrong + "." + _AGAIN) if wrong else (card, "")


class Settings:
    """`card` (None before the first), `sum` of the settings in force, `refused`: why the last were not."""

    def __init__(self, board):
        self._board = board
        folder = board.folder.rstrip("/") + "/"
        self._card_copies = Copies(folder + "card")
        self._copies = Copies(folder + "settings")
        kept = _parsed(self._card_copies.data or "") or {}
        self.card = kept.get("card")
        self._wifi = kept.get("wifi")  # typed on the page, where the card has none
        kept = _parsed(self._copies.data or "") or {}
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
        if key == "buzzer":
            return self._taken.get(key, True)
        if self._wifi and key in ("wifi", "wifi_password"):
            return self._wifi[key != "wifi"]
        return self._taken.get(key, self.card and self.card[key])

    def check_card(self, text):
        """(card, reason): the card that would be taken, or why it would not."""
        card, reason = _read_card(text)
        if card and self.card and not self._board.setup_wanted():
            new, old = card["root"] + "/" + card["site"], self.card["root"] + "/" + self.card["site"]
            if new != old:
                return None, (
                    "This card is for %s, the board belongs to %s. To move it, hold its button while it gets "
                    "power, and paste the card again." % (new, old)
                )
        return card, reason

    def take_card(self, text, wifi="", password=""):
        """Keeps a card; "" or why it is refused. `wifi` and `password` are used where the card has none."""
        card, reason = self.check_card(text)
        if reason:
            return reason
        typed = None
        if not card["wifi"]:
            typed = [wifi, password] if wifi else self._wifi
            if not typed:
                return "The card names no Wi-Fi: type its name and its password."
            if (
                not _is_text(typed[0], 1, 32, None)
                or not _is_text(typed[1], 0, 63, None)
                or 0 < len(typed[1]) < 8
            ):
                return "A Wi-Fi name has 1 to 32 letters, its password 8 to 63, or none."
        try:
            self._card_copies.write(json.dumps({"card": card, "wifi": typed}).encode())
        except OSError:
            return _FULL
        if not self.card or self.card["sum"] != card["sum"]:
            self._taken = {}
        self.card, self._wifi = card, typed
        return ""

    def take(self, payload):
        """Settings that came over MQTT; "" or why they are refused. The same ones again write nothing."""
        values = _parsed(payload) if len(payload) <= _MOST_SETTINGS else None
        wrong = "they are no JSON object of at most %d bytes" % _MOST_SETTINGS
        if values is not None:
            wrong = _wrong(values, _SETTINGS)
        self.refused = "The settings are refused: " + wrong + "." if wrong else ""
        if not wrong and values != self._taken:
            self.refused = self._write(values, self._probes)
        return self.refused

    def set_probes(self, names):
        """The names that the board gave to probes by itself: {serial number: name}."""
        return self._write(self._taken, dict(names)) if names != self._probes else ""

    def _write(self, taken, probes):
        kept = {"card": self.card["sum"] if self.card else "", "taken": taken, "probes": probes}
        try:
            self._copies.write(json.dumps(kept).encode())
        except OSError:
            return _FULL
        self._taken, self._probes = taken, probes
        return ""
