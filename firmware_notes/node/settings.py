"""The card and the settings of this board, kept in two copies each.

The card is pasted once (setup_page.py) and holds the secrets; its checksum proves that the monitor made it.
The settings come by MQTT and may change four things, never the way to the broker. What is refused changes
nothing; the reason is a plain sentence without any value, since it may be a secret.
"""

import json
from binascii import crc32

from copies import Copies

_FULL = "Not kept: the board's flash is full or broken."
# The same limits as the monitor's (monitor/boards/card.py).
_LIMITS = {"card": (1, 1), "port": (1, 65535), "interval_s": (10, 3600), "send_every": (1, 60)}
_CARD = (
    "card root site node hosts port tls_name user password interval_s send_every power sensors probes wifi "
    "wifi_password ca"
)


def _text(value):
    kind = type(value)
    if kind is bool:
        return str(value).lower()
    if kind is dict:
        value = [key + ":" + value[key] for key in sorted(value)]
    return str(value) if kind in (str, int) else ",".join(value)


def checksum(values):
    """CRC-32 over `key=value` lines in the order of the keys, eight hexadecimal digits."""
    lines = [key + "=" + _text(values[key]) for key in sorted(values) if key != "sum"]
    return "%08x" % crc32("\n".join(lines).encode())


def _are_names(probes):
    """Names by the probes' serial numbers."""
    for serial in probes:
        name = probes[serial]
        if len(serial) != 16 or serial != serial.lower() or type(name) is not str or not 0 < len(name) < 17:
            return False
        for c in name:
            if not (c.isalpha() or c.isdigit() or c in "_.-"):
                return False
    return len(probes) < 9 and len(set(probes.values())) == len(probes)


def _wrong(values, keys, kinds=None):
    """All that is wrong, in one text. Without `kinds` each of the keys must be there."""
    wrong = []
    for key in keys:
        value = values.get(key)
        if key in _LIMITS:
            least, most = _LIMITS[key]
            if type(value) is not int or not least <= value <= most:
                wrong.append("%s must be %d to %d" % (key, least, most))
        elif kinds is None:
            if value is None:
                wrong.append("it has no " + key)
        elif type(value) is not kinds.get(key) or (key == "probes" and not _are_names(value)):
            wrong.append(key[:20] + " is not usable")
    if not wrong and values.get("sum") != checksum(values):
        return "its sum does not fit, something in it was changed"
    return "; ".join(wrong[:4])


def _parsed(text):
    try:
        values = json.loads(text)
    except Exception:  # also what is nested too deep, or too much
        values = None
    return values if type(values) is dict else {}


class Settings:
    """`card` (None before the first), `sum` of the settings in force, `refused`: why the last were not."""

    def __init__(self, board):
        self._cards = Copies(board.folder + "card")
        self._copies = Copies(board.folder + "settings")
        self.card = self._cards.data
        self.refused = self._good = ""  # a good card that waits for its Wi-Fi
        came_with, self._taken, self._probes = self._copies.data or ("", {}, {})
        if not self.card or came_with != self.card["sum"]:  # settings belong to their card
            self._taken = {}
        self.sum = self._taken.get("sum", "")

    def get(self, key):
        """The value in force; "probes" are names by serial number, the card's list is `card["probes"]`."""
        if key == "probes":
            names = dict(self._taken.get(key, {}))
            for rom in self._probes:  # those that the board gave by itself, where they are still free
                if rom not in names and self._probes[rom] not in names.values():
                    names[rom] = self._probes[rom]
            return names
        return self._taken.get(key, self.card.get(key, True))

    def take_card(self, text, wifi="", password=""):
        """Keeps a card; "" or why it is refused. `wifi` and `password` are used where the card has none.

        Without a text it is the good card of before, which lacked only them.
        """
        text = text.replace("\r", "").replace("\n", "")  # of a terminal, a mail program
        if "{" not in text:
            text = self._good
        card = _parsed(text[text.find("{") : text.rfind("}") + 1])
        if not card:
            return "This is no whole card: paste all of the line, from { to }."
        wrong = _wrong(card, _CARD.split())
        if wrong:
            return "The card is refused: " + wrong + ". Copy all of it again, from { to }."
        if not card["wifi"]:
            self._good = text
            if not wifi and self.card:
                wifi, password = self.card["wifi"], self.card["wifi_password"]
            if not 0 < len(wifi.encode()) < 33 or 0 < len(password) < 8 or len(password) > 63:
                return (
                    "The card is good and kept here, but it names no Wi-Fi: type its name, and its password, "
                    "8 to 63 letters or none."
                )
            card["wifi"], card["wifi_password"] = wifi, password
        try:
            self._cards.write(card)
        except OSError:
            return _FULL
        self.card = card
        return ""

    def take(self, payload):
        """Settings that came over MQTT; "" or why they are refused. The same ones again write nothing."""
        values = _parsed(payload)
        kinds = {"probes": dict, "buzzer": bool, "sum": str}
        self.refused = _wrong(values, values, kinds) if values else "no JSON object"
        if not self.refused and values != self._taken:
            self.refused = self._put(values, self._probes)
        return self.refused

    def set_probes(self, names):
        """The names that the board gave to probes by itself: {serial number: name}."""
        return self._put(self._taken, names) if names != self._probes else ""

    def _put(self, taken, probes):
        try:
            self._copies.write((self.card and self.card["sum"], taken, probes))
        except OSError:
            return _FULL
        self._taken, self._probes, self.sum = taken, probes, taken.get("sum", "")
        return ""
