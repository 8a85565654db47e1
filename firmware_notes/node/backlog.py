"""Readings that wait until the monitor has confirmed them.

A round (one measurement of all sensors) first waits in memory, as bytes, with a copy in the memory that
survives deep sleep and a watchdog reset. By the group it goes into segment files on the flash. What is
confirmed before never touches the flash. A round is promised once it is on the flash: LittleFS shows a write
wholly or not at all.

A segment: a header that names the values, twice, then records of 12 bytes and 4 for each value, each with its
own checksum (28 bytes with four values; 10,080 of them, a week of minutes, take 287 kB). Damaged bytes are
stepped over, and counted when what is behind them is done with. The state (boot, what is done, what was lost)
is kept in two copies.

Flash erases in a day of outage, a round a minute with four values, measured on LittleFS with blocks of 4 KiB:
1,468 when each round is written, 151 by ten, 34 by sixty.
"""

import os
from binascii import crc32
from struct import pack, unpack_from

from copies import Copies
from micropython import const

SEGMENT = 8192  # bytes: two blocks of flash (choice); when all is full, that much gives way at once
_MOST_RAM = const(1400)  # bytes of rounds in memory: with the state they must fit into 2000 (choice)
_MOST_KEPT = const(200)  # bytes that another part may keep here
_MOST_OFFSETS = const(24)  # boots whose undated rounds were dated later (choice)
_SAVE_EVERY = const(60)  # rounds done between two writes of the cursor; a cut sends them again (choice)
_DATED = const(0x80000000)
_SEQUENCE = const(0xFFFFFF)
_MOST_BOOTS = const(127)  # a record tells its boot by the distance to the segment's
_STATE = "<IIIQIB"
_MEMORY = "<IIIIHHHH"


def _key(base, record):
    """Boot and sequence in one number, in the order in which rounds were made."""
    return (base << 24) + (unpack_from("<I", record)[0] & ~_DATED)


def _records(segment, at, key):
    """(end, damaged bytes before it, record, names, base) of the records that are newer than `key`.

    Record None: what is left is damaged, the file is closed. `at` 0: from the first record on.
    """
    f, names, base, start = segment
    length = 12 + 4 * len(names)
    at = at or start
    bad = 0
    f.seek(at)
    while True:
        record = f.read(length)
        if len(record) < length:
            f.close()
            yield at, bad + len(record), None, names, base
            return
        if crc32(record[:-4]) != unpack_from("<I", record, length - 4)[0]:
            bad += 1
            at += 1
            f.seek(at)
            continue
        at += length
        if _key(base, record) > key:
            yield at, bad, record, names, base
        bad = 0


def _names(text):
    return text.decode().split(",") if text else []


class Backlog:
    """Rounds in the order of (boot, sequence): the older ones in segments, the newest in memory."""

    def __init__(self, board, most_bytes=300000, group=10):
        self._board = board
        self.group = self._limit = group
        self._most = max(2, most_bytes // SEGMENT)
        self._folder = board.folder.rstrip("/") + "/backlog/"
        self.boot = self.lost = self.damaged = self._done = self._first = 0  # the state; first segment
        self._sequence = self._flash = self._unsaved = self._count = self._base = 0
        self._last = -1
        self._at = 0  # where in the first segment the rounds begin that still wait; 0: not known
        self._offsets = {}
        self._names, self._ram, self.kept = [], b"", b""
        ours = self._recall(board.memory())
        try:
            os.mkdir(self._folder[:-1])
        except OSError:
            pass  # it is there
        self._copies = Copies(self._folder + "state")
        if not ours or board.reset_cause() != "wake":
            self._start()

    # Start

    def _start(self):
        """After a power-on or a reset: look at all that is on the flash, count the boot."""
        if self._copies.data:
            self._take_state(self._copies.data)
        numbers = []
        for entry in os.ilistdir(self._folder):
            if len(entry[0]) == 8:
                number = int(entry[0], 16)
                if number >= self._first:
                    numbers.append(number)
                else:  # it gave way, but the power went before it was deleted
                    self._remove(number)
        self._last = max(numbers + [self._first - 1])
        self._first = min(numbers + [self._last + 1])
        newest, names, base = self._done, [], 0
        self._flash = 0
        for record, names, base in self._on_flash():  # noqa: B007 - those of the last segment count
            self._flash += 1
            newest = max(newest, _key(base, record))
        # A reset between the write and the note of it in memory: those rounds are on the flash already.
        self._drop_ram(newest)
        self._count_boot(max(self.boot, newest >> 24))
        if not self._count:
            self._names, self._base = names, base if names else self.boot

    def _count_boot(self, known):
        far = 1000 * (1 + int.from_bytes(os.urandom(2), "little"))
        if self._copies.data is None:
            # Both counters gone: well above all that is known. Nothing known: a first start, or a flash that
            # was erased. Starting from 1 again would make new readings look like old ones to the monitor.
            known += 1000 if known else far
        elif self._copies.bad:
            known += 1  # the good copy may be one boot behind
        self.boot, self._sequence = known + 1, 0
        while not self._save():
            if not self._give_way():
                self.boot += far  # the next start will not know of this one: keep out of its way
                break
        self._remember()

    # State, in two copies on flash and in the memory that survives a reset

    def _state(self):
        return self.boot, self.lost, self.damaged, self._done, self._first

    def _packed_state(self):
        data = pack(_STATE, *self._state(), len(self._offsets))
        for boot in self._offsets:
            data += pack("<II", boot, self._offsets[boot])
        return data

    def _take_state(self, data):
        """From flash or from memory, whichever is newer in what: each of these only grows."""
        *state, n = unpack_from(_STATE, data)
        self.boot, self.lost, self.damaged, self._done, self._first = map(max, zip(self._state(), state))
        for at in range(25, 25 + 8 * n, 8):
            boot, self._offsets[boot] = unpack_from("<II", data, at)
        return 25 + 8 * n

    def _save(self):
        try:
            self._copies.write(self._packed_state())
            self._unsaved = 0
            return True
        except OSError:
            return False

    def _remember(self):
        names = ",".join(self._names).encode()
        data = self._packed_state() + pack(
            _MEMORY,
            self._sequence,
            self._last + 1,
            self._flash,
            self._base,
            self._limit,
            self._count,
            len(names),
            len(self._ram),
        )
        data += names + self._ram + self.kept
        self._board.set_memory(pack("<I", crc32(data)) + data)

    def _recall(self, raw):
        if len(raw) < 53 or unpack_from("<I", raw)[0] != crc32(raw[4:]):
            return False
        at = 4 + self._take_state(raw[4:])
        fields = unpack_from(_MEMORY, raw, at)
        self._sequence, last, self._flash, self._base, self._limit, self._count, names, ram = fields
        self._last = last - 1
        names += at + 24
        ram += names
        self._names, self._ram, self.kept = _names(raw[at + 24 : names]), raw[names:ram], raw[ram:]
        return True

    def keep(self, data):
        """A few bytes of another part (the clock) that survive a reset; read them as `kept`."""
        self.kept = bytes(data[:_MOST_KEPT])
        self._remember()

    # Rounds come in

    def next_round(self):
        """(boot, sequence) of the next round; never given twice."""
        if self._sequence >= _SEQUENCE:
            self._count_boot(self.boot)
        self._sequence += 1
        self._remember()
        return self.boot, self._sequence

    def add(self, boot, sequence, at_s, dated, values):
        """The round as it is given back whenever it is sent again: the monitor knows it by its values too."""
        names = self._names + [name for name in values if name not in self._names]
        if names != self._names or boot - self._base > _MOST_BOOTS:
            self.flush()
            # What the flash did not take has other names: rather the newest.
            self._drop_ram((boot << 24) + sequence, True)
            self._names, self._base = names, boot
        head = (boot - self._base) << 24 | sequence
        if dated:
            head |= _DATED
        nothing = float("nan")
        data = pack("<II%df" % len(names), head, at_s, *[values.get(name, nothing) for name in names])
        one = self._round(names, self._base, data)
        self._ram += data + pack("<I", crc32(data))
        self._count += 1
        if self._count >= self._limit or len(self._ram) + len(data) > _MOST_RAM:
            self.flush()
        self._remember()
        return one

    # Memory to flash

    def flush(self):
        """What waits in memory goes to the flash; when that is full, the oldest gives way and is counted."""
        while self._count:
            try:
                self._append()
            except OSError:
                if not self._give_way():
                    # The flash takes nothing at all: the newest rounds stay in memory.
                    while len(self._ram) > _MOST_RAM - 100:
                        self._shift()
                        self.lost += 1
                    break
        self._limit = self.group
        self._remember()

    def _append(self):
        number, mode, data = self._last, "ab", self._ram
        segment = self._open(number) if self._first <= number else None
        if segment:
            f, names, base, _ = segment
            size = f.seek(0, 2)
            f.close()
        if not segment or names != self._names or base != self._base or size + len(data) > SEGMENT:
            if number - self._first + 1 >= self._most:
                self._give_way()
            number, mode = number + 1, "wb"
            text = ",".join(self._names).encode()
            header = b"RB1" + pack("<HI", len(text), self._base) + text
            data = (header + pack("<I", crc32(header))) * 2 + data
        with open(self._path(number), mode) as f:
            f.write(data)
        self._last = number
        self._flash += self._count
        self._ram, self._count = b"", 0

    def _give_way(self):
        """The oldest segment goes, what waited in it is counted as lost; False where there is none."""
        if self._first > self._last:
            return False
        self.lost += self._pass(1 << 60)
        # The state first: a cut between the two must not count them twice or not at all.
        saved = self._save()
        self._remove(self._first - 1)
        if not saved:
            self._save()
        return True

    # Rounds go out

    def waiting(self):
        """How many rounds are not confirmed."""
        return self._flash + self._count

    def oldest(self, n, skip=0):
        """At most n rounds from the oldest on, after the first `skip`."""
        found = []
        flash = self._on_flash()
        for record, names, base in flash:
            if skip:
                skip -= 1
            elif len(found) < n:
                found.append(self._round(names, base, record))
            else:
                break
        flash.close()  # and with it the file
        for record in self._in_ram():
            if skip:
                skip -= 1
            elif len(found) < n:
                found.append(self._round(self._names, self._base, record))
        return found

    def _on_flash(self):
        at, seen = self._at, False
        for number in range(self._first, self._last + 1):
            self._board.feed()
            segment = self._open(number)
            if segment:
                try:
                    for _, _, record, names, base in _records(segment, at, self._done):
                        if record:
                            seen = True
                            yield record, names, base
                finally:
                    segment[0].close()
            at = 0
        if not seen:
            self._flash = 0  # damaged since the start; the next confirmation counts and deletes it

    def _in_ram(self):
        length = 12 + 4 * len(self._names)
        for at in range(0, len(self._ram), length):
            yield self._ram[at : at + length]

    def _round(self, names, base, record):
        head, at_s, *values = unpack_from("<II%df" % len(names), record)
        key = _key(base, record)
        boot = key >> 24
        dated = head >= _DATED
        if not dated and boot in self._offsets:
            dated = True
            at_s += self._offsets[boot]
        # Six digits are what a 32-bit float holds: the same value comes out each time it is read.
        found = {name: float("%.6g" % v) for name, v in zip(names, values) if v == v}
        return boot, key & _SEQUENCE, at_s, dated, found

    def done(self, boot, sequence, lost=False):
        """This round and all older ones are no longer needed; with `lost` they are given up and counted."""
        key = (boot << 24) + sequence
        if key <= self._done:
            return
        gone, damaged = 0, self.damaged
        while self._first <= self._last:
            first = self._first
            gone += self._pass(key)
            if first == self._first:
                break
            self._remove(first)
        self._unsaved += gone
        if lost:
            self.lost += gone
        self._drop_ram(key, lost)
        self._done = key
        # The monitor answers: its next answer may find the rounds in memory still, and spare the flash.
        self._limit = self.group + self.group // 2
        if lost or damaged != self.damaged or (self._unsaved >= _SAVE_EVERY and self._flash):
            self._save()
        self._remember()

    def _drop_ram(self, key, lost=False):
        while self._count and _key(self._base, self._ram) <= key:
            self._shift()
            self.lost += lost

    def _shift(self):
        self._ram = self._ram[12 + 4 * len(self._names) :]
        self._count -= 1

    def _pass(self, key):
        """Moves on in the first segment, to the next one at its end; how many waiting rounds that were."""
        passed = 0
        segment = self._open(self._first)
        if segment:
            for end, bad, record, _, base in _records(segment, self._at, self._done):
                if record and _key(base, record) > key:
                    segment[0].close()
                    self._flash -= passed
                    return passed
                self.damaged += bad
                self._at = end
                passed += record is not None
        else:
            try:
                self.damaged += os.stat(self._path(self._first))[6]
            except OSError:
                pass  # it is gone
        self._first += 1
        self._at = 0
        self._flash = max(0, self._flash - passed) if self._first <= self._last else 0
        return passed

    def date(self, boot, offset_s):
        """Undated rounds of this boot were measured at their at_s + offset_s."""
        self._offsets[boot] = offset_s
        if len(self._offsets) > _MOST_OFFSETS:
            del self._offsets[min(self._offsets)]
        self._save()
        self._remember()

    # Files

    def _path(self, number):
        return self._folder + "%08x" % number

    def _open(self, number):
        """(file, names, base, start of the records), or None where no header can be read."""
        try:
            f = open(self._path(number), "rb")
        except OSError:
            return None
        raw = f.read(9)
        size = unpack_from("<H", raw, 3)[0] if len(raw) > 8 else 0
        for most in (
            2 * size + 26,
            2048,
        ):  # a small heap seldom has 2 kB in one piece: only where it is damaged
            f.seek(0)
            raw = f.read(min(most, 2048))
            at = 0
            while at >= 0 and len(raw) >= at + 13:
                size, base = unpack_from("<HI", raw, at + 3)
                end = at + 9 + size
                if len(raw) >= end + 4 and crc32(raw[at:end]) == unpack_from("<I", raw, end)[0]:
                    return f, _names(raw[at + 9 : end]), base, end + 4 if at else 2 * end + 8
                at = raw.find(b"RB1", at + 1)
        f.close()
        return None

    def _remove(self, number):
        try:
            os.remove(self._path(number))
        except OSError:
            pass  # it is gone
