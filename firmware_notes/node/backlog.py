"""Readings that wait until the monitor has confirmed them.

A round (one measurement of all sensors) first waits in memory, as bytes, with a copy in the memory that
survives deep sleep and a watchdog reset. By the group it goes into segment files on the flash. What is
confirmed before never touches the flash. A round is promised once it is on the flash: LittleFS shows a write
wholly or not at all.

A segment: a header that names the values, twice, then records of 12 bytes and 4 for each value, each with its
own checksum (28 bytes with four values; 10,080 of them, a week of minutes, take 288 kB). Damaged bytes are
stepped over and counted. The state (boot, what is done, what was lost) is kept in two copies.

Flash erases in a day of outage, a round a minute with four values, measured on LittleFS with blocks of 4 KiB:
1,468 when each round is written, 151 by ten, 34 by sixty.
"""

import os
from binascii import crc32
from struct import pack, unpack, unpack_from

from copies import Copies
from micropython import const

SEGMENT = 8192  # bytes: two blocks of flash (choice); when all is full, that much gives way at once
_MOST_RAM = const(1400)  # bytes of rounds in memory: with the state they must fit into 2000 (choice)
_MOST_KEPT = const(200)  # bytes that another part may keep here
_MOST_OFFSETS = const(24)  # boots whose undated rounds were dated later (choice)
_SAVE_EVERY = const(60)  # rounds done between two writes of the cursor; a cut sends them again (choice)
_DATED = const(0x80000000)
_LAST_SEQUENCE = const(0xFFFFFF)
_MOST_BOOTS = const(127)  # a record tells its boot by the distance to the segment's
_MAGIC = b"RB1"


def _length(names):
    return 12 + 4 * len(names)


def _pack(names, base, boot, sequence, at_s, dated, values):
    head = (boot - base) << 24 | sequence
    if dated:
        head |= _DATED
    nothing = float("nan")
    found = [values.get(name, nothing) for name in names]
    body = pack("<II%df" % len(names), head, at_s, *found)
    return body + pack("<I", crc32(body))


def _key(base, record):
    head = unpack_from("<I", record)[0]
    return base + (head >> 24 & _MOST_BOOTS), head & _LAST_SEQUENCE


def _records(segment, at, key):
    """(end, damaged bytes before it, record, names, base) of the records that are newer than `key`.

    Record None: what is left is damaged, the file is closed. `at` 0: from the first record on.
    """
    f, names, base, start = segment
    length = _length(names)
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


def _header(names, base):
    text = ",".join(names).encode()
    one = _MAGIC + pack("<HI", len(text), base) + text
    return (one + pack("<I", crc32(one))) * 2


def _names(text):
    return text.decode().split(",") if text else []


class Backlog:
    """Rounds in the order of (boot, sequence): the older ones in segments, the newest in memory."""

    def __init__(self, board, most_bytes=300000, group=10):
        self._board = board
        self.group = self._limit = group
        self._most = max(2, most_bytes // SEGMENT)
        self._folder = board.folder.rstrip("/") + "/backlog/"
        self.boot = self._sequence = 0
        self.lost = self.damaged = 0
        self.kept = b""
        self._done = (0, 0)
        self._offsets = {}
        self._first, self._last = 0, -1  # numbers of the segments
        self._at = 0  # where in the first segment the rounds begin that still wait; 0: not known
        self._on_flash = self._unsaved = self._checked = 0
        self._clear()
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
        numbers = [int(entry[0], 16) for entry in os.ilistdir(self._folder) if len(entry[0]) == 8]
        for number in numbers:
            if number < self._first:  # it gave way, but the power went before it was deleted
                self._remove(number)
        numbers = [number for number in numbers if number >= self._first]
        self._last = max(numbers + [self._first - 1])
        self._first = min(numbers + [self._last + 1])
        newest = self._done
        self._on_flash = 0
        for number in range(self._first, self._last + 1):
            self._board.feed()
            newest = max(newest, self._look(number))
        self._checked = max(self._checked, self._last + 1)
        # A reset between the write and the note of it in memory: those rounds are on the flash already.
        self._drop_ram(newest)
        self._count_boot(max(self.boot, newest[0]))

    def _look(self, number):
        """Counts what waits in a segment, and its damage the first time; its newest (boot, sequence)."""
        newest = self._done
        damaged = 0
        segment = self._open(number)
        if segment is None:
            damaged = self._size(number)
        else:
            for _, bad, record, _, base in _records(segment, 0, newest):
                damaged += bad
                if record:
                    self._on_flash += 1
                    newest = max(newest, _key(base, record))
        if number >= self._checked:
            self.damaged += damaged
        return newest

    def _count_boot(self, known):
        far = 1000 * (1 + unpack("<H", os.urandom(2))[0])
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
        data = pack(
            "<IIIIIIIB",
            self.boot,
            self.lost,
            self.damaged,
            self._done[0],
            self._done[1],
            self._first,
            self._checked,
            len(self._offsets),
        )
        for boot in self._offsets:
            data += pack("<II", boot, self._offsets[boot])
        return data

    def _take_state(self, data):
        """From flash or from memory, whichever is newer in what: each of these only grows."""
        boot, lost, damaged, done_boot, done, first, checked, n = unpack_from("<IIIIIIIB", data)
        self.boot = max(self.boot, boot)
        self.lost = max(self.lost, lost)
        self.damaged = max(self.damaged, damaged)
        self._done = max(self._done, (done_boot, done))
        self._first = max(self._first, first)
        self._checked = max(self._checked, checked)
        for i in range(n):
            boot, offset = unpack_from("<II", data, 29 + 8 * i)
            self._offsets[boot] = offset
        return 29 + 8 * n

    def _save(self):
        try:
            self._copies.write(self._state())
            self._unsaved = 0
            return True
        except OSError:
            return False

    def _remember(self):
        names = ",".join(self._names).encode()
        data = self._state() + pack(
            "<IIIIHHHHB",
            self._sequence,
            self._last + 1,
            self._on_flash,
            self._base,
            self._limit,
            self._count,
            len(names),
            len(self._ram),
            len(self.kept),
        )
        data += names + self._ram + self.kept
        self._board.set_memory(pack("<I", crc32(data)) + data)

    def _recall(self, raw):
        if len(raw) < 58 or unpack_from("<I", raw)[0] != crc32(raw[4:]):
            return False
        at = 4 + self._take_state(raw[4:])
        fields = unpack_from("<IIIIHHHHB", raw, at)
        self._sequence, last, self._on_flash, self._base, self._limit, self._count, names, ram, kept = fields
        self._last = last - 1
        at += 25
        self._names = _names(raw[at : at + names])
        at += names
        self._ram = raw[at : at + ram]
        at += ram
        self.kept = raw[at : at + kept]
        return True

    def keep(self, data):
        """A few bytes of another part (the clock) that survive a reset; read them as `kept`."""
        self.kept = bytes(data[:_MOST_KEPT])
        self._remember()

    # Rounds come in

    def next_round(self):
        """(boot, sequence) of the next round; never given twice."""
        if self._sequence >= _LAST_SEQUENCE:
            self._count_boot(self.boot)
        self._sequence += 1
        self._remember()
        return self.boot, self._sequence

    def add(self, boot, sequence, at_s, dated, values):
        if self._count and boot - self._base > _MOST_BOOTS:
            self.flush()
        if not self._count:
            self._clear()
            self._base = boot
        names = self._names + [name for name in values if name not in self._names]
        if names != self._names:
            self._ram = self._repacked(names, self._base)
            self._names = names
        self._ram += _pack(names, self._base, boot, sequence, at_s, dated, values)
        self._count += 1
        if self._count >= self._limit or len(self._ram) + _length(names) > _MOST_RAM:
            self.flush()
        self._remember()

    def _clear(self):
        self._names, self._base, self._ram, self._count = [], 0, b"", 0

    def _in_ram(self):
        length = _length(self._names)
        for at in range(0, len(self._ram), length):
            yield self._ram[at : at + length]

    def _repacked(self, names, base):
        data = b""
        for record in self._in_ram():
            data += _pack(names, base, *self._round(self._names, self._base, record))
        return data

    # Memory to flash

    def flush(self):
        """What waits in memory goes to the flash; when that is full, the oldest gives way and is counted."""
        while self._count:
            try:
                self._append()
            except OSError:
                if not self._give_way():
                    # The flash takes nothing at all: the newest rounds stay in memory.
                    while len(self._ram) + _length(self._names) > _MOST_RAM:
                        self._shift()
                        self.lost += 1
                    break
        self._limit = self.group
        self._remember()

    def _append(self):
        tail = self._tail()
        if tail:
            number, mode, data = self._last, "ab", self._repacked(*tail)
        else:
            if self._last - self._first + 1 >= self._most:
                self._give_way()
            number, mode = self._last + 1, "wb"
            data = _header(self._names, self._base) + self._ram
        try:
            with open(self._path(number), mode) as f:
                f.write(data)
        except OSError:
            if not tail:
                self._remove(number)
            raise
        self._last = number
        self._on_flash += self._count
        self._clear()

    def _tail(self):
        """(names, base) of the last segment where it can take what waits in memory."""
        segment = self._open(self._last) if self._first <= self._last else None
        if segment is None:
            return None
        f, names, base, start = segment
        size = f.seek(0, 2)
        f.close()
        length = _length(names)
        newest = _key(self._base, self._ram[-_length(self._names) :])[0]
        if (
            (size - start) % length
            or size + self._count * length > SEGMENT
            or self._base < base
            or newest - base > _MOST_BOOTS
            or [name for name in self._names if name not in names]
        ):
            return None
        return names, base

    def _give_way(self):
        """The oldest segment goes, what waited in it is counted as lost; False where there is none."""
        number, waiting = self._first, 0
        if number > self._last:
            return False
        segment = self._open(number)
        if segment:
            for _, _, record, _, _ in _records(segment, self._at, self._done):
                waiting += record is not None
        self.lost += waiting
        self._next_segment(waiting)
        # The state first: a cut between the two must not count them twice or not at all.
        saved = self._save()
        self._remove(number)
        if not saved:
            self._save()
        return True

    def _next_segment(self, gone=0):
        self._first += 1
        self._at = 0
        self._on_flash = max(0, self._on_flash - gone) if self._first <= self._last else 0

    # Rounds go out

    def waiting(self):
        """How many rounds are not confirmed."""
        return self._on_flash + self._count

    def oldest(self, n, skip=0):
        """At most n rounds from the oldest on, after the first `skip`."""
        found = []
        waiting = self._waiting()
        for record, names, base in waiting:
            if skip > 0:
                skip -= 1
            elif len(found) < n:
                found.append(self._round(names, base, record))
            else:
                break
        waiting.close()  # and with it the file
        return found

    def _waiting(self):
        at, seen = self._at, False
        for number in range(self._first, self._last + 1):
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
            self._on_flash = 0  # damaged since the start; the next confirmation counts and deletes it
        for record in self._in_ram():
            yield record, self._names, self._base

    def _round(self, names, base, record):
        head, at_s, *values = unpack_from("<II%df" % len(names), record)
        boot, sequence = _key(base, record)
        dated = bool(head & _DATED)
        if not dated and boot in self._offsets:
            dated = True
            at_s += self._offsets[boot]
        # Six digits are what a 32-bit float holds: the same value comes out each time it is read.
        found = {name: float("%.6g" % v) for name, v in zip(names, values) if v == v}
        return boot, sequence, at_s, dated, found

    def done(self, boot, sequence, lost=False):
        """This round and all older ones are no longer needed; with `lost` they are given up and counted."""
        key = (boot, sequence)
        if key <= self._done:
            return
        gone = self._drop_flash(key)
        self._unsaved += gone
        gone += self._drop_ram(key)
        self._done = key
        # The monitor answers: its next answer may find the rounds in memory still, and spare the flash.
        self._limit = self.group + self.group // 2
        if lost:
            self.lost += gone
        if lost or (self._unsaved >= _SAVE_EVERY and self._on_flash):
            self._save()
        self._remember()

    def _drop_ram(self, key):
        gone = 0
        while self._count and _key(self._base, self._ram) <= key:
            self._shift()
            gone += 1
        return gone

    def _shift(self):
        self._ram = self._ram[_length(self._names) :]
        self._count -= 1

    def _drop_flash(self, key):
        """Moves on in the first segments; one of which nothing waits is deleted."""
        gone = 0
        while self._first <= self._last:
            number = self._first
            segment = self._open(number)
            if segment:
                passed, whole = self._pass(segment, key)
                gone += passed
                self._on_flash = max(0, self._on_flash - passed)
                if not whole:
                    break
            elif number >= self._checked:
                self.damaged += self._size(number)
            self._next_segment()
            self._remove(number)
        return gone

    def _pass(self, segment, key):
        passed, length = 0, _length(segment[1])
        counts = self._first >= self._checked
        for end, bad, record, _, base in _records(segment, self._at, self._done):
            if record and _key(base, record) > key:
                segment[0].close()
                return passed, False
            if bad and counts:
                self.damaged += bad
                self._on_flash = max(0, self._on_flash - bad // length)
            passed += record is not None
            self._at = end
        return passed, True

    def date(self, boot, offset_s):
        """Undated rounds of this boot were measured at their at_s + offset_s."""
        self._offsets[boot] = offset_s
        if len(self._offsets) > _MOST_OFFSETS:
            del self._offsets[min(self._offsets)]
        self._ram = self._repacked(self._names, self._base)
        if self._on_flash:
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
        raw = f.read(2048)
        at = 0
        while at >= 0 and len(raw) >= at + 13:
            size, base = unpack_from("<HI", raw, at + 3)
            end = at + 9 + size
            if len(raw) >= end + 4 and crc32(raw[at:end]) == unpack_from("<I", raw, end)[0]:
                return f, _names(raw[at + 9 : end]), base, end + 4 if at else 2 * end + 8
            at = raw.find(_MAGIC, at + 1)
        f.close()
        return None

    def _size(self, number):
        try:
            return os.stat(self._path(number))[6]
        except OSError:
            return 0

    def _remove(self, number):
        try:
            os.remove(self._path(number))
        except OSError:
            pass  # it is gone
