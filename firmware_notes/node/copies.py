"""One small thing, kept in two files with a number and a checksum each.

The older copy is overwritten, never the newer one: when the power goes in the middle, or a copy is
damaged, the other one is still whole.
"""

from binascii import crc32
from struct import pack, unpack


def seal(data):
    """With its checksum behind it: `raw` is whole when it is `seal(raw[:-4])`."""
    return data + pack("<I", crc32(data))


class Copies:
    """`data` is what the newest good copy holds (None: there is none), `bad` counts damaged copies."""

    def __init__(self, path):
        self._path = path
        self._number = self.bad = 0
        self.data = None
        for i in "01":
            try:
                with open(path + i, "rb") as f:
                    raw = f.read()
            except OSError:
                continue
            if raw != seal(raw[:-4]):
                self.bad += 1
            elif unpack("<I", raw)[0] > self._number:
                self._number, self.data = unpack("<I", raw)[0], raw[4:-4]

    def write(self, data):
        """OSError when the flash refuses; the copy that was good stays."""
        number = self._number + 1
        with open(self._path + str(number & 1), "wb") as f:
            f.write(seal(pack("<I", number) + data))
        self._number, self.data = number, data
