"""Readings that wait until the monitor has confirmed them.

A round (one measurement of all sensors) first waits in memory, as bytes, and is copied into the memory that
survives deep sleep and a watchdog reset. By the group it goes into segment files on the flash. What is
confirmed before never touches the flash. A round is promised once it is on the flash: LittleFS shows a write
wholly or not at all.

A segment: a header that names the values, twice, then records of 12 bytes + 4 for each value, each with its
own checksum (28 bytes with four values; 10,080 of them, a week of minutes, take 287 kB). Damaged bytes are
stepped over and counted. The state (boot, what is done, what was lost) is kept in two copies.

Flash erases in a day of outage, a round a minute with four values: see README.md of firmware_notes.
"""

import binascii
import os
import struct

from copies import Copies

SEGMENT = 8192  # bytes: two blocks of flash (choice); when full, that much is dropped at once
MOST_RAM = 1400  # bytes of rounds in memory: with the state they must fit into 2000 (choice)
MOST_KEPT = 200  # bytes that another part may keep here
MOST_OFFSETS = 24  # boots whose undated rounds were dated later (choice)
SAVE_EVERY = 60  # rounds done between two writes of the cursor; after a cut they are sent again (choice)
_DATED = 0x80000000
_LAST_SEQUENCE = 0xFFFFFF
_MOST_BOOTS = 127  # a record tells its boot by the distance to the segment's
_MAGIC = b"RB1"


def _length(names):
    return 12 + 4 * len(names)


def _pack(names, base, boot, sequence, at_s, dated, values):
    nothing = float("nan")
    head = (boot - base) << 24 | sequence
    body = struct.pack(
        "<II%df" % len(names),
        head | _DATED if dated else head,
        max(0, int(at_s)),
        *[values.get(name, nothing) for name in names],
    )
    return body + struct.pack("<I", binascii.crc32(body))


def _key(base, record):
    head = struct.unpack("<I", record)[0]
    return base + (head >> 24 & _MOST_BOOTS), head & _LAST_SEQUENCE


def _unpack(names, base, record):
    head, at_s, *values = struct.unpack("<II%df" % len(names), record)
    # Six digits are what a 32-bit float holds; the same value comes out each time it is read.
    found = {name: float("%.6g" % v) for name, v in zip(names, values) if v == v}
    boot, sequence = _key(base, record)
    return boot, sequence, at_s, bool(head & _DATED), found


def _records(f, at, length):
    """(end, record, damaged bytes before it) of each record from `at` on; record None: damage at the end."""
    bad = 0
    f.seek(at)
    while True:
        record = f.read(length)
        if len(record) < length:
            if bad or record:
                yield at + len(record), None, bad + len(record)
            return
        if binascii.crc32(memoryview(record)[:-4]) == struct.unpack_from("<I", record, length - 4)[0]:
            at += length
            yield at, record, bad
            bad = 0
        else:
            bad += 1
            at += 1
            f.seek(at)


def _header(names, base):
    text = ",".join(names).encode()
    one = _MAGIC + struct.pack("<HI", len(text), base) + text
    return (one + struct.pack("<I", binascii.crc32(one))) * 2


def _read_header(f):
    """(names, base, where the records start) by either copy, or None."""
    raw = f.read(2048)
    at = 0
    while at >= 0 and len(raw) >= at + 9:
        size, base = struct.unpack_from("<HI", raw, at + 3)
        end = at + 9 + size
        if len(raw) >= end + 4 and binascii.crc32(raw[at:end]) == struct.unpack_from("<I", raw, end)[0]:
            text = raw[at + 9 : end].decode()
            return text.split(",") if text else [], base, end + 4 if at else 2 * end + 8
        at = raw.find(_MAGIC, at + 1)
    return None


class Backlog:
    """Rounds in the order of (boot, sequence): the older ones in segments, the newest in memory."""

    def __init__(self, board, most_bytes=300000, group=10):
        self._board = board
        self.group = group
        self._most = max(2, most_bytes // SEGMENT)
        self._folder = board.folder.rstrip("/") + "/backlog/"
        self.boot = self._sequence = 0
        self.lost = self.damaged = 0
        self.kept = b""
        self._done = (0, 0)
        self._offsets = {}
        self._first, self._last = 0, -1  # numbers of the segments
        self._at = 0  # where in the first segment the rounds begin that still wait; 0: not known
        self._on_flash = 0
        self._unsaved = 0
        self._clear()
        self._limit = group
        self._spoiled = -1
        ours = self._recall(board.memory())
        if ours and board.reset_cause() == "wake":
            self._copies = Copies(self._folder + "state")
            return
        self._start()

    # --- start

    def _start(self):
        """After a power-on or a reset: look at all that is on the flash, count the boot."""
        try:
            os.mkdir(self._folder[:-1])
        except OSError:
            pass  # it is there
        self._copies = Copies(self._folder + "state")
        if self._copies.data:
            self._take_state(self._copies.data)
        self._list()
        newest, to_mend = (0, 0), []
        self._on_flash = 0
        for number in range(self._first, self._last + 1):
            self._board.feed()
            newest = max(newest, self._check(number, to_mend))
        # A reset between the write and the note of it in memory: those rounds are on the flash already.
        self._drop_ram(max(newest, self._done))
        self._count_boot(max(self.boot, newest[0], self._done[0]))
        for number in to_mend:
            self._board.feed()
            self._mend(number)

    def _list(self):
        numbers = []
        for entry in os.ilistdir(self._folder):
            if len(entry[0]) == 8:
                numbers.append(int(entry[0], 16))
        for number in numbers:
            if number < self._first:  # dropped, but the power went before it was deleted
                self._remove(number)
        numbers = [number for number in numbers if number >= self._first]
        self._last = max(numbers) if numbers else self._first - 1
        self._first = min(numbers) if numbers else self._first

    def _check(self, number, to_mend):
        """Counts what waits and what is damaged in a segment; its highest (boot, sequence)."""
        newest, bad, waiting = (0, 0), 0, 0
        segment = self._open(number)
        if segment is None:
            bad = self._size(number)
        else:
            f, names, base, start = segment
            with f:
                for _, record, damage in _records(f, start, _length(names)):
                    bad += damage
                    if record:
                        newest = max(newest, _key(base, record))
                        waiting += _key(base, record) > self._done
        self._on_flash += waiting
        self.damaged += bad
        if bad or not waiting:
            to_mend.append(number)
        return newest

    def _mend(self, number):
        """A segment without its damaged bytes, written beside and renamed; a full flash leaves it so."""
        beside = self._folder + "mended"
        segment = self._open(number)
        waiting = 0
        try:
            if segment:
                f, names, base, start = segment
                with f, open(beside, "wb") as out:
                    out.write(_header(names, base))
                    for _, record, _ in _records(f, start, _length(names)):
                        if record and _key(base, record) > self._done:
                            out.write(record)
                            waiting += 1
            if waiting:
                os.rename(beside, self._path(number))
            else:
                self._remove(number)
        except OSError:
            pass

    def _count_boot(self, known):
        if self._copies.data is None:
            # Both counters gone: well above all that is known. Nothing known: a first start, or a flash that
            # was erased. Starting from 1 again would make new readings look like old ones to the monitor.
            known = known + 1000 if known else 1000 * (1 + struct.unpack("<H", os.urandom(2))[0])
        elif self._copies.bad:
            known += 1  # the good copy may be one boot behind
        self.boot, self._sequence = known + 1, 0
        if not self._save():
            # The next start will not know of this one: keep out of its way.
            self.boot += 1000 * (1 + struct.unpack("<H", os.urandom(2))[0])
        self._remember()

    # --- state, in two copies on flash and in the memory that survives a reset

    def _state(self):
        data = struct.pack(
            "<IIIIIIB",
            self.boot,
            self.lost,
            self.damaged,
            self._done[0],
            self._done[1],
            self._first,
            len(self._offsets),
        )
        for boot in self._offsets:
            data += struct.pack("<II", boot, self._offsets[boot])
        return data

    def _take_state(self, data):
        """From flash or from memory, whichever is newer in what: each of these only grows."""
        boot, lost, damaged, done_boot, done_sequence, first, n = struct.unpack("<IIIIIIB", data)
        self.boot = max(self.boot, boot)
        self.lost = max(self.lost, lost)
        self.damaged = max(self.damaged, damaged)
        self._done = max(self._done, (done_boot, done_sequence))
        self._first = max(self._first, first)
        for i in range(n):
            boot, offset = struct.unpack_from("<II", data, 25 + 8 * i)
            self._offsets[boot] = offset
        return 25 + 8 * n

    def _save(self):
        """False when the flash takes nothing, not even after the oldest segments were given away."""
        while True:
            try:
                self._copies.write(self._state())
                self._unsaved = 0
                return True
            except OSError:
                if not self._drop_segment():
                    return False

    def _remember(self):
        names = ",".join(self._names).encode()
        data = self._state() + struct.pack(
            "<IIIIIHHHB",
            self._sequence,
            self._last + 1,
            self._on_flash,
            self._base,
            self._limit,
            self._count,
            len(self._ram),
            len(names),
            len(self.kept),
        )
        data += names + self._ram + self.kept
        self._board.set_memory(struct.pack("<I", binascii.crc32(data)) + data)

    def _recall(self, raw):
        if len(raw) < 56 or struct.unpack("<I", raw)[0] != binascii.crc32(raw[4:]):
            return False
        at = 4 + self._take_state(raw[4:])
        fields = struct.unpack_from("<IIIIIHHHB", raw, at)
        self._sequence, last, self._on_flash, self._base, self._limit, self._count, ram, names, kept = fields
        self._last = last - 1
        at += 27
        text = raw[at : at + names].decode()
        self._names = text.split(",") if text else []
        at += names
        self._ram = bytearray(raw[at : at + ram])
        self.kept = raw[at + ram : at + ram + kept]
        return True

    def keep(self, data):
        """A few bytes of another part (the clock) that survive a reset; read them as `kept`."""
        self.kept = bytes(data[:MOST_KEPT])
        self._remember()

    # --- rounds come in

    def next_round(self):
        """(boot, sequence) of the next round; never given twice."""
        if self._sequence >= _LAST_SEQUENCE:
            self._count_boot(self.boot)
        self._sequence += 1
        self._remember()
        return self.boot, self._sequence

    def add(self, boot, sequence, at_s, dated, values):
        if self._count and not 0 <= boot - self._base <= _MOST_BOOTS:
            self.flush()
        if not self._count:
            self._clear()
            self._base = boot
        new = [name for name in values if name not in self._names]
        if new:
            self._ram = self._repacked(self._names + new, self._base)
            self._names = self._names + new
        self._ram += _pack(self._names, self._base, boot, sequence, at_s, dated, values)
        self._count += 1
        if self._count >= self._limit or len(self._ram) + _length(self._names) > MOST_RAM:
            self.flush()
        self._remember()

    def _clear(self):
        self._names, self._base, self._ram, self._count = [], 0, bytearray(), 0

    def _in_ram(self):
        length = _length(self._names)
        for i in range(self._count):
            yield bytes(self._ram[i * length : (i + 1) * length])

    def _repacked(self, names, base):
        data = bytearray()
        for record in self._in_ram():
            data += _pack(names, base, *self._dated(_unpack(self._names, self._base, record)))
        return data

    # --- memory to flash

    def flush(self):
        """What waits in memory goes to the flash; when that is full, the oldest gives way and is counted."""
        while self._count:
            try:
                self._append()
                break
            except OSError:
                if not self._drop_segment():
                    self._shed()
                    break
        self._limit = self.group
        self._remember()

    def _append(self):
        tail = self._tail()
        if tail:
            number, mode, data = self._last, "ab", self._repacked(*tail)
        else:
            if self._last - self._first + 1 >= self._most:
                self._drop_segment()
            number, mode = self._last + 1, "wb"
            data = _header(self._names, self._base) + self._ram
        try:
            with open(self._path(number), mode) as f:
                f.write(data)
        except OSError:
            if tail:
                self._spoiled = number
            else:
                self._remove(number)
            raise
        self._last = number
        self._on_flash += self._count
        self._clear()

    def _tail(self):
        """(names, base) of the last segment where it can take what waits in memory."""
        segment = None
        if self._first <= self._last != self._spoiled:
            segment = self._open(self._last)
        if segment is None:
            return None
        f, names, base, start = segment
        with f:
            size = f.seek(0, 2)
        length = _length(names)
        boot = _key(self._base, self._ram[-_length(self._names) :])[0]
        if (
            (size - start) % length
            or size + self._count * length > SEGMENT
            or self._base < base
            or boot - base > _MOST_BOOTS
            or [name for name in self._names if name not in names]
        ):
            return None
        return names, base

    def _shed(self):
        """The flash takes nothing at all: the newest rounds stay in memory, as many as have room."""
        length = _length(self._names)
        while len(self._ram) + length > MOST_RAM:
            self._ram = self._ram[length:]
            self._count -= 1
            self.lost += 1

    def _drop_segment(self):
        """The oldest segment gives way, its waiting rounds are counted as lost; False where there is none."""
        if self._first > self._last:
            return False
        number, waiting = self._first, 0
        segment = self._open(number)
        if segment:
            f, names, base, start = segment
            with f:
                for _, record, _ in _records(f, self._at or start, _length(names)):
                    waiting += record is not None and _key(base, record) > self._done
        self.lost += waiting
        self._forget(waiting)
        # The state first: a cut between the two must not count them twice or not at all.
        saved = self._try_save()
        self._remove(number)
        if not saved:
            self._try_save()
        return True

    def _try_save(self):
        try:
            self._copies.write(self._state())
            return True
        except OSError:
            return False  # it is full: once more when the segment is gone; else at the next write

    def _forget(self, waiting):
        """The first segment is no longer one of ours."""
        self._first += 1
        self._at = 0
        self._on_flash = max(0, self._on_flash - waiting) if self._first <= self._last else 0

    # --- rounds go out

    def waiting(self):
        """How many rounds are not confirmed."""
        return self._on_flash + self._count

    def oldest(self, n, skip=0):
        """At most n rounds from the oldest on, after the first `skip`."""
        found = []
        waiting = self._all()
        for names, base, record in waiting:
            if skip > 0:
                skip -= 1
            elif len(found) < n:
                found.append(self._dated(_unpack(names, base, record)))
            else:
                break
        waiting.close()  # and its file
        return found

    def _all(self):
        """(names, base, record) of each round that waits, the oldest first."""
        at, readable = self._at, False
        for number in range(self._first, self._last + 1):
            segment = self._open(number)
            if segment is None:
                continue
            f, names, base, start = segment
            with f:
                for _, record, _ in _records(f, at or start, _length(names)):
                    if record and _key(base, record) > self._done:
                        readable = True
                        yield names, base, record
            at = 0
        if self._on_flash and not readable:
            self._give_up_flash()
        for record in self._in_ram():
            yield self._names, self._base, record

    def _give_up_flash(self):
        """Nothing can be read any more since the start: counted, and out of the way."""
        while self._first <= self._last:
            self._discard_first()

    def _discard_first(self):
        """A segment that cannot be read: its bytes are counted."""
        self.damaged += self._size(self._first)
        self._remove(self._first)
        self._forget(0)

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
            self._save()
        elif self._unsaved >= SAVE_EVERY and self._on_flash:
            self._save()
        self._remember()

    def _drop_ram(self, key):
        gone = 0
        length = _length(self._names)
        while self._count and _key(self._base, self._ram[:length]) <= key:
            self._ram = self._ram[length:]
            self._count -= 1
            gone += 1
        return gone

    def _drop_flash(self, key):
        """Moves on in the first segments; one of which nothing waits is deleted."""
        gone = 0
        while self._first <= self._last:
            number = self._first
            segment = self._open(number)
            if segment is None:
                self._discard_first()
                continue
            passed, whole = self._pass(segment, key)
            gone += passed
            self._on_flash = max(0, self._on_flash - passed)
            if not whole:
                break
            self._forget(0)
            self._remove(number)
        return gone

    def _pass(self, segment, key):
        f, names, base, start = segment
        passed = 0
        length = _length(names)
        self._at = self._at or start
        with f:
            for end, record, bad in _records(f, self._at, length):
                if record and _key(base, record) > key:
                    return passed, False
                if bad:
                    self.damaged += bad
                    self._on_flash = max(0, self._on_flash - bad // length)
                passed += record is not None and _key(base, record) > self._done
                self._at = end
        return passed, True

    # --- time

    def date(self, boot, offset_s):
        """Undated rounds of this boot were measured at their at_s + offset_s."""
        if self._offsets.get(boot) == offset_s:
            return
        self._offsets[boot] = max(0, offset_s)
        if len(self._offsets) > MOST_OFFSETS:
            del self._offsets[min(self._offsets)]
        self._ram = self._repacked(self._names, self._base)
        if self._on_flash:
            self._save()
        self._remember()

    def _dated(self, found):
        boot, sequence, at_s, dated, values = found
        if not dated and boot in self._offsets:
            return boot, sequence, at_s + self._offsets[boot], True, values
        return found

    # --- files

    def _path(self, number):
        return self._folder + "%08x" % number

    def _open(self, number):
        """(file, names, base, start of the records), or None where no header can be read."""
        try:
            f = open(self._path(number), "rb")
        except OSError:
            return None
        header = _read_header(f)
        if header is None:
            f.close()
            return None
        return f, header[0], header[1], header[2]

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
