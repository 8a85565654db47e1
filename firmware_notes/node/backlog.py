"""Readings that wait until the monitor has confirmed them.

A round (one measurement of all sensors) first waits in memory, with a copy in the memory that survives deep
sleep and a watchdog reset. By the group it goes into segment files on the flash. What is confirmed before
never touches the flash. A round is promised once it is on the flash: LittleFS shows a write wholly or not at
all.

A segment has a line for each round, sealed by itself. Damaged lines are stepped over, and their bytes counted
when the segment is done with. The state (boot, what was lost, what is done) is kept in two copies. A week of
minutes with four values takes 1.1 MB of the 2 MB that a chip with 4 MB of flash has for files.

Flash erases in a day of outage, a round a minute with four values, measured on LittleFS with blocks of 4 KiB:
1,465 when each round is written, 166 by ten.
"""

import os

from copies import Copies, seal, unseal
from micropython import const

SEGMENT = 8192  # bytes: two blocks of flash (choice); when all is full, that much gives way at once
_MOST_MEMORY = const(2000)  # bytes
_LONGEST = const(999)  # bytes of a line: sixteen values with the longest names
_MOST_OFFSETS = const(12)  # boots whose undated rounds were dated later (choice)


class Backlog:
    """Rounds in the order of (boot, sequence): the older ones in segments, the newest in memory."""

    def __init__(self, board, most_bytes=1200000, group=10):
        self._board = board
        self._group = group
        self._most = max(2, most_bytes // SEGMENT)
        self._folder = board.folder + "backlog/"
        self._copies = copies = Copies(board.folder + "state")
        kept = unseal(board.memory())
        state, rest = kept or ([0, 0, 0, [0, 0], 0, []], [0, -1, 0, group, None, []])
        self._sequence, self._last, self._flash, self._limit, self.kept, self.ram = rest
        awake = kept and board.reset_cause() == "wake"
        if not awake and copies.data:
            # From flash or from memory, whichever is newer in what: each of these only grows.
            state = map(max, zip(state, copies.data))
        self.boot, self.lost, self.damaged, self._done, self._first, self._offsets = state
        if not awake:
            self._start()

    def _start(self):
        """After a power-on or a reset: look at all that is on the flash, count the boot."""
        try:
            os.mkdir(self._folder[:-1])
        except OSError:
            pass  # it is there
        first, last = 1 << 60, self._first - 1
        for entry in os.ilistdir(self._folder[:-1]):
            try:
                number = int(entry[0], 16)
            except ValueError:
                continue  # somebody's file
            if number < self._first:  # it gave way, but the power went before it was deleted
                self._remove(number)
            else:
                first, last = min(first, number), max(last, number)
        self._first, self._last = min(first, last + 1), last
        newest = self._done
        for one in self._on_flash():
            newest = max(newest, one[:2])
        # A reset between the write and the note of it in memory: those rounds are on the flash already.
        self._drop(newest)
        boot = max(self.boot, newest[0])
        far = 1000 * (1 + int.from_bytes(os.urandom(2), "little"))
        if self._copies.data is None:
            # Both counters gone: well above all that is known. Nothing known: a first start, or a flash that
            # was erased. Starting from 1 again would make new readings look like old ones to the monitor.
            boot += 1000 if boot else far
        # With one bad copy the good one may be one boot behind.
        self.boot, self._sequence = boot + 1 + self._copies.bad, 0
        while not self._save():
            if not self._give_way():
                self.boot += far  # the next start will not know of this one: keep out of its way
                break
        self._remember()

    # State, in two copies on flash and in the memory that survives a reset

    def _state(self):
        return self.boot, self.lost, self.damaged, self._done, self._first, self._offsets

    def _save(self):
        try:
            self._copies.write(self._state())
            return True
        except OSError:
            return False

    def _remember(self):
        while True:
            rest = self._sequence, self._last, self._flash, self._limit, self.kept, self.ram
            data = seal((self._state(), rest))
            if len(data) <= _MOST_MEMORY:
                return self._board.set_memory(data)
            if not self._write():
                # The flash takes nothing at all: rather the newest.
                self.ram.pop(0)
                self.lost += 1

    def keep(self, value):
        """A little of another part that survives a reset; read it as `kept`."""
        self.kept = value
        self._remember()

    # Rounds come in

    def next_round(self):
        """(boot, sequence) of the next round; never given twice."""
        self._sequence += 1
        self._remember()
        return self.boot, self._sequence

    def add(self, boot, sequence, at_s, dated, values):
        """The round as it is given back whenever it is sent again: the monitor knows it by its values too."""
        # As text, which no reading back can change; six digits are what a 32-bit float holds.
        values = {name: "%.6g" % values[name] for name in values}
        one = [boot, sequence, at_s, dated, values]
        self.ram.append(one)
        if len(self.ram) >= self._limit:
            self.flush()
        self._remember()
        return one

    # Memory to flash

    def flush(self):
        """What waits in memory goes to the flash; when that is full, the oldest gives way and is counted."""
        self._write()
        self._remember()

    def _write(self):
        """True when nothing is left in memory."""
        while self.ram:
            try:
                self._append()
            except OSError:
                if not self._give_way():
                    return False
        self._limit = self._group
        return True

    def _append(self):
        # Lines begin anew as well: one spoilt byte costs one round.
        data = b"".join([b"\n" + seal(one) + b"\n" for one in self.ram])
        number = self._last
        try:
            full = os.stat(self._path(number))[6] + len(data) > SEGMENT
        except OSError:
            full = True  # there is none
        if full:
            if number - self._first + 1 >= self._most:
                self._give_way()
            number += 1
        with open(self._path(number), "ab") as f:
            f.write(data)
        self._last = number
        self._flash += len(self.ram)
        self.ram = []

    def _give_way(self):
        """The oldest segment goes, what waited in it is counted as lost; False where there is none."""
        if self._first > self._last:
            return False
        self.lost += self._pass([1 << 60])
        # The state first: a cut between the two must not count them twice or not at all.
        saved = self._save()
        self._remove(self._first - 1)
        if not saved:
            self._save()
        return True

    # Rounds go out

    def waiting(self):
        """How many rounds are not confirmed."""
        return self._flash + len(self.ram)

    def oldest(self, n, skip=0):
        """At most n rounds from the oldest on, after the first `skip`."""
        found = []
        flash = self._on_flash()
        for rounds in (flash, self.ram):
            for one in rounds:
                if skip:
                    skip -= 1
                elif len(found) < n:
                    found.append(self._round(*one))
                else:
                    break
        flash.close()  # and with it the file
        return found

    def _round(self, boot, sequence, at_s, dated, values):
        for known, offset_s in self._offsets:
            if known == boot and not dated:
                at_s, dated = at_s + offset_s, True
        return boot, sequence, at_s, dated, values

    def _on_flash(self):
        seen = 0
        for number in range(self._first, self._last + 1):
            self._board.feed()
            for _, one in self._lines(number):
                if one and one[:2] > self._done:
                    seen += 1
                    yield one
        self._flash = seen  # all of them; some may have been damaged since they were counted

    def _lines(self, number):
        """(line, round or None) of a segment."""
        try:
            with open(self._path(number), "rb") as f:
                while True:
                    line = f.readline(_LONGEST)
                    if not line:
                        break
                    line = line.rstrip()
                    if line:
                        yield line, unseal(line)
        except OSError:
            pass  # it is gone

    def done(self, boot, sequence, lost=False):
        """This round and all older ones are no longer needed; with `lost` they are given up and counted."""
        key, first, before = [boot, sequence], self._first, self.waiting()
        if key <= self._done:
            return
        while self._first <= self._last:
            number = self._first
            self._pass(key)
            if number == self._first:
                break
            self._remove(number)
        self._drop(key)
        if lost:
            self.lost += before - self.waiting()
        self._done = key
        # The monitor answers: its next answer may find the rounds in memory still, and spare the flash.
        self._limit = self._group + self._group // 2
        # Else a cut sends again what of the first segment is done.
        if lost or first != self._first:
            self._save()
        self._remember()

    def _drop(self, key):
        self.ram = [one for one in self.ram if one[:2] > key]

    def _pass(self, key):
        """Moves on to the next segment when all rounds of the first are done; how many became done."""
        passed = bad = 0
        for line, one in self._lines(self._first):
            if not one:
                bad += len(line)
            elif one[:2] > key:
                self._flash -= passed
                return passed
            elif one[:2] > self._done:
                passed += 1
        self.damaged += bad
        self._first += 1
        # Damaged since they were counted?
        self._flash = max(0, self._flash - passed) if self._first <= self._last else 0
        return passed

    def date(self, boot, offset_s):
        """Undated rounds of this boot were measured at their at_s + offset_s."""
        others = [known for known in self._offsets if known[0] != boot]
        self._offsets = others[1 - _MOST_OFFSETS :] + [[boot, offset_s]]
        self._save()
        self._remember()

    # Files

    def _path(self, number):
        return self._folder + "%08x" % number

    def _remove(self, number):
        try:
            os.remove(self._path(number))
        except OSError:
            pass  # it is gone
