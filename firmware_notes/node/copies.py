"""What this board keeps: JSON with its checksum behind it; small things in two files, each with a number.

The older file is overwritten, never the newer one: when the power goes in the middle, or one is damaged, the
other one is still whole.
"""

import json
from binascii import crc32


def seal(value):
    data = json.dumps(value).encode()
    return data + b"%08x" % crc32(data)


def unseal(raw):
    """What was sealed, None when something in it was changed."""
    try:
        if crc32(raw[:-8]) == int(raw[-8:], 16):
            return json.loads(raw[:-8])
    except ValueError:
        return None


class Copies:
    """`data` is what the newest good copy holds (None: there is none), `bad` counts damaged copies."""

    def __init__(self, path):
        self._path = path
        self._number = self.bad = 0
        self.data = None
        for i in "01":
            try:
                with open(path + i, "rb") as f:
                    kept = unseal(f.read())
            except OSError:
                continue
            if not kept:
                self.bad += 1
            elif kept[0] > self._number:
                self._number, self.data = kept

    def write(self, data):
        """OSError when the flash refuses; the copy that was good stays."""
        number = self._number + 1
        with open(self._path + str(number & 1), "wb") as f:
            f.write(seal((number, data)))
        self._number, self.data = number, data
