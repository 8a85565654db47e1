"""A flash in memory with a real LittleFS on it, whose power can be cut at any block operation.

For trials of what is kept on the board: hundreds of cuts in one process, each at a chosen operation. Erases
are counted. `RamBoard` has what backlog.py and settings.py ask of a board.

A cut is an error code (EIO) to LittleFS, and `flash.until_cut` ends the life before the trial looks at
anything. An exception thrown through LittleFS would leave a file half open, which the collector of
garbage closes later, in a locked heap: MicroPython prints an error or crashes.
"""

import os
import random

import vfs

BLOCK = 4096  # bytes that a chip of the ESP32 family erases at once


EIO = -5


class PowerCut(BaseException):
    """The life of the board is over; what it did after the cut reached neither flash nor memory."""


class RamFlash:
    """The block device; the operation number `cut_at` is carried out by half, then the power is gone."""

    def __init__(self, blocks=64, data=None):
        # One piece for each block: a large one finds no room in a heap that has been used for a while.
        self.data = [bytearray(b"\xff" * BLOCK) for _ in range(blocks)] if data is None else data
        self.operations = self.erases = self.programmed = 0
        self.cut_at = None
        self.dead = False  # after the cut: whatever still closes a file reaches nothing

    def readblocks(self, block, buffer, offset=0):
        if self.dead:
            return EIO
        buffer[:] = memoryview(self.data[block])[offset : offset + len(buffer)]
        return 0

    def writeblocks(self, block, buffer, offset=0):
        if self.dead:
            return EIO
        n = len(buffer)
        if self._is_cut():
            self.data[block][offset : offset + n // 2] = buffer[: n // 2]
            return EIO
        self.programmed += n
        self.data[block][offset : offset + n] = buffer
        return 0

    def until_cut(self, work, *arguments):
        """What the program does; if the power went meanwhile, nobody sees what came of it."""
        try:
            done = work(*arguments)
        except OSError:
            if not self.dead:
                raise
        if self.dead:
            raise PowerCut
        return done

    def _is_cut(self):
        self.operations += 1
        self.dead = self.cut_at is not None and self.operations >= self.cut_at
        return self.dead

    def ioctl(self, what, argument):
        if self.dead:
            return EIO
        if what == 4:
            return len(self.data)
        if what == 5:
            return BLOCK
        if what == 6:
            if self._is_cut():
                for i in range(BLOCK // 2):
                    self.data[argument][i] = random.getrandbits(8)
                return EIO
            self.erases += 1
            self.data[argument][:] = b"\xff" * BLOCK
        return 0

    def format(self):
        vfs.VfsLfs2.mkfs(self)

    def mount(self, where="/flash"):
        """After a cut too: what was mounted there is left behind as it stands."""
        try:
            vfs.umount(where)
        except OSError:
            pass
        vfs.mount(vfs.VfsLfs2(self, readsize=32, progsize=32, lookahead=32), where)
        os.chdir("/")


class RamBoard:
    """Memory that survives resets, and the cause of the last one."""

    folder = "/flash/"

    def __init__(self, memory=b"", cause="power", flash=None):
        self._memory, self.cause, self._flash = memory, cause, flash

    def memory(self):
        return self._memory

    def set_memory(self, data):
        if len(data) > 2000:
            raise ValueError("more than the memory holds")
        if self._flash and self._flash.dead:
            return
        self._memory = bytes(data)

    def reset_cause(self):
        return self.cause

    def feed(self):
        """No watchdog here."""
