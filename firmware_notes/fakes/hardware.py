"""The board for a computer: the same `Board` as ../node/hardware.py, played at the level of the bus.

The world lies in a folder named by the environment variable NODE_WORLD; README.md beside this file says
what may stand in its `world.json`. What a chip answers is worked out here from the data sheet's formulas,
the other way round and in another form than in ../node/sensors.py; tests/node/test_hardware.py checks both
against published bytes.
"""

import json
import os
import sys
import time

import vfs

DEEP_SLEEP, RESTART, POWER_CUT, WATCHDOG = 42, 43, 44, 45  # exit codes
NO_ANSWER = 19  # ENODEV, which MicroPython raises where nothing acknowledges
BLOCK = 4096  # the erase unit of the flash on ESP32 boards
ERASED = b"\xff" * 256  # written in pieces, since the heap is small
FLASH_AT = "/flash"
LONG_SLEEP_MS = 200
PROBE_WARM_UP_MS = 100  # moisture probe: choice
ADC_TOP_V = 3.3
EPOCH_S = 0
os.putenv("TZ", "UTC0")  # mktime of the Unix port goes by the computer's time zone; that of a chip does not


def crc8(data, polynomial, value):
    """Highest bit first, as the SHT sensors send it."""
    for byte in data:
        for bit in range(7, -1, -1):
            top = (value >> 7) ^ (byte >> bit & 1)
            value = (value << 1 & 0xFF) ^ (polynomial if top else 0)
    return value


def crc8_one_wire(data):
    """Shift register of application note 27: x^8 + x^5 + x^4 + 1, lowest bit first."""
    value = 0
    for byte in data:
        for bit in range(8):
            mix = (value ^ byte >> bit) & 1
            value = value >> 1 ^ (0x8C if mix else 0)
    return value


class World:
    """world.json, read again when it has changed (write it beside and rename it)."""

    def __init__(self, folder):
        self.folder = folder
        self._seen = None
        self._values = {}

    def read(self):
        try:
            stat = os.stat(self.folder + "/world.json")
            seen = (stat[1], stat[6], stat[8])
            if seen != self._seen:
                with open(self.folder + "/world.json") as file:
                    self._values = json.load(file)
                self._seen = seen
        except OSError:
            pass
        return self._values

    def get(self, key, default=None):
        return self.read().get(key, default)

    def fault(self, name):
        return self.get("faults", {}).get(name)


class Time:
    """`real`, `x60`, or `lockstep`: who runs the board says what time it is."""

    def __init__(self, folder, mode):
        self.mode = mode
        self.speed = 60 if mode == "x60" else 1
        self.waiting = 0
        self._base = self._host_ms()
        if mode == "x60":
            self._base = self._kept_base(folder)
        self._locked = int(os.getenv("NODE_NOW_MS") or self._base)
        self._locked_at = self._base
        self._last_tick = 0
        self._start = self.world_ms()

    @staticmethod
    def _host_ms():
        return time.time_ns() // 1000000

    def _kept_base(self, folder):
        """Fast time runs on over the board's own restarts."""
        try:
            with open(folder + "/time_base.txt") as file:
                return int(file.read())
        except (OSError, ValueError):
            with open(folder + "/time_base.txt", "w") as file:
                file.write(str(self._base))
            return self._base

    def world_ms(self):
        """What a right clock would say."""
        if self.mode == "lockstep":
            return self._locked
        return self._base + (time.time_ns() // 1000 - self._base * 1000) * self.speed // 1000

    def ticks_ms(self):
        """Never goes back. In lockstep it also counts the computer's own time since the last line, so that
        waits for the network, which stay real, come to their end."""
        now = self.world_ms() - self._start
        if self.mode == "lockstep":
            now += self._host_ms() - self._locked_at
        self._last_tick = max(now, self._last_tick)
        return self._last_tick

    def sleep_ms(self, ms):
        if self.mode != "lockstep":
            time.sleep_us(ms * 1000 // self.speed)
        elif ms <= LONG_SLEEP_MS:
            self._locked += ms
        else:
            print('{"sleep_ms": %d, "waiting": %d}' % (ms, self.waiting))
            line = sys.stdin.readline()
            if not line.strip():
                raise SystemExit(POWER_CUT)  # whoever kept the time is gone
            self._locked, self._locked_at = json.loads(line)["now_ms"], self._host_ms()


class Flash:
    """Flash memory in a file. The power can go at the n-th erasing or writing, which is then half done."""

    def __init__(self, path, blocks):
        self.blocks, self.operations, self.erases, self.cut_at, self.dead = blocks, 0, 0, None, False
        try:
            self._file = open(path, "r+b")
        except OSError:
            self._file = open(path, "w+b")
            self._write(0, ERASED, blocks * BLOCK // len(ERASED))

    def readblocks(self, block, buffer, offset=0):
        self._alive()
        self._file.seek(block * BLOCK + offset)
        self._file.readinto(buffer)

    def writeblocks(self, block, buffer, offset=0):
        self._change(block * BLOCK + offset, buffer)

    def ioctl(self, operation, argument):
        if operation == 4:
            return self.blocks
        if operation == 5:
            return BLOCK
        if operation == 6:
            self.erases += 1
            self._change(argument * BLOCK, ERASED, BLOCK // len(ERASED))
        elif operation == 3 and not self.dead:
            self._file.flush()
        return 0

    def _change(self, at, data, times=1):
        self._alive()
        self.operations += 1
        if self.cut_at is None or self.operations < self.cut_at:
            self._write(at, data, times)
            return
        if times > 1:
            self._write(at, data, times // 2)
        else:
            self._write(at, memoryview(data)[: len(data) // 2])
        self.dead = True
        raise SystemExit(POWER_CUT)

    def _write(self, at, data, times=1):
        self._file.seek(at)
        for _ in range(times):
            self._file.write(data)

    def _alive(self):
        if self.dead:
            raise SystemExit(POWER_CUT)


class Sht:
    """SHT3x or SHT4x. It does not acknowledge being read while it measures (data sheets: SHT3x 4.3, SHT4x
    4.4)."""

    def __init__(self, board, kind):
        self._board, self._kind = board, kind
        self._answer, self._ready_ms = None, 0
        # Longest times of the data sheets, in ms, rounded up: SHT3x table 4, SHT4x table 4.
        if kind == "sht3x":
            self._measure = {b"\x24\x00": 16, b"\x24\x0b": 7, b"\x24\x16": 5}
        else:
            self._measure = {b"\xfd": 9, b"\xf6": 5, b"\xe0": 2}

    def write(self, data):
        data = bytes(data)
        if data in self._measure:
            self._answer = self._frame()
            self._ready_ms = self._board.ticks_ms() + self._measure[data]
        elif data in (b"\x30\xa2", b"\x94"):
            self._answer = None
        else:
            raise OSError(NO_ANSWER)

    def read(self, count):
        if self._answer is None or self._board.ticks_ms() < self._ready_ms:
            raise OSError(NO_ANSWER)
        answer, self._answer = self._answer, None
        return (answer + b"\xff" * count)[:count]

    def _frame(self):
        world = self._board.world
        fault = world.fault(self._kind) or world.fault("sht")
        ticks_t = round((world.get("air_temperature_c", 25.0) + 45) / 175 * 65535)
        humidity = world.get("air_humidity_percent", 50.0)
        share = humidity / 100 if self._kind == "sht3x" else (humidity + 6) / 125
        ticks_h = 65535 if fault == "saturated" else round(share * 65535)
        frame = bytearray()
        for ticks in (ticks_t, ticks_h):
            word = bytes((ticks >> 8, ticks & 255))
            frame.extend(word + bytes((crc8(word, 0x31, 0xFF) ^ (fault == "crc"),)))
        return bytes(frame)


class Bme280:
    """Registers of the BME280. The calibration words T1 to T3 are those of the worked example in the
    BMP280 data sheet (3.12); H1 to H6 are a choice of ours within what the register can hold."""

    T = (27504, 26435, -1000)
    H = (75, 366, 0, 313, 50, 30)

    def __init__(self, board):
        self._board = board
        self._at = 0
        self._ready_ms = None
        self._registers = bytearray(256)
        self._start()

    def _start(self):
        registers, (h1, h2, h3, h4, h5, h6) = self._registers, self.H
        for index in range(256):
            registers[index] = 0
        registers[0xD0] = 0x60
        registers[0xF7:0xFF] = b"\x80\0\0\x80\0\0\x80\0"
        for index, word in enumerate(self.T):
            registers[0x88 + 2 * index] = word & 255
            registers[0x89 + 2 * index] = word >> 8 & 255
        registers[0xA1] = h1
        registers[0xE1:0xE8] = bytes(
            (h2 & 255, h2 >> 8, h3, h4 >> 4, h4 & 15 | (h5 & 15) << 4, h5 >> 4, h6 & 255)
        )

    def write(self, data):
        self._tell()
        self._at = data[0]
        if data[0] == 0xE0 and data[1:2] == b"\xb6":
            self._start()
        elif len(data) > 1:
            self._registers[data[0]] = data[1]
            if data[0] == 0xF4 and data[1] & 3 in (1, 2):
                self._measure(data[1] >> 5, self._registers[0xF2] & 7)

    def read(self, count):
        self._tell()
        return bytes(self._registers[self._at : self._at + count])

    def _measure(self, times_t, times_h):
        # Longest time, data sheet appendix B: 1.25 + 2.3 T + (2.3 H + 0.575) ms, pressure left out.
        times_t, times_h = (0, 1, 2, 4, 8, 16, 16, 16)[times_t], (0, 1, 2, 4, 8, 16, 16, 16)[times_h]
        self._ready_ms = self._board.ticks_ms() + int(1.25 + 2.3 * times_t + 2.3 * times_h + 0.575) + 1
        self._result = self._raw(times_t, times_h)
        self._registers[0xF3] = 8

    def _tell(self):
        if self._board.world.fault("bme280") == "hang" or self._ready_ms is None:
            return
        if self._board.ticks_ms() >= self._ready_ms:
            self._registers[0xFA:0xFF] = self._result
            self._registers[0xF3] = 0
            self._registers[0xF4] &= 0xFC
            self._ready_ms = None

    def _raw(self, times_t, times_h):
        world = self._board.world
        wanted_t, wanted_h = world.get("air_temperature_c", 25.0), world.get("air_humidity_percent", 50.0)
        if world.fault("bme280") == "saturated":
            wanted_h = 101.0
        raw_t = _search(lambda raw: self.celsius(raw)[0] < wanted_t, 20) if times_t else 0x80000
        fine = self.celsius(raw_t)[1]
        raw_h = _search(lambda raw: self.percent(raw, fine) < wanted_h, 16) if times_h else 0x8000
        return bytes((raw_t >> 12, raw_t >> 4 & 255, raw_t << 4 & 255, raw_h >> 8, raw_h & 255))

    def celsius(self, raw):
        """Floating-point formula of the data sheet (8.1), and t_fine."""
        t1, t2, t3 = self.T
        difference = raw / 131072 - t1 / 8192
        fine = (raw / 16384 - t1 / 1024) * t2 + difference * difference * t3
        return fine / 5120, fine

    def percent(self, raw, fine):
        """Floating-point formula of the data sheet (8.1), not cut off at 0 and 100."""
        h1, h2, h3, h4, h5, h6 = self.H
        rest = fine - 76800
        value = raw - (h4 * 64 + h5 / 16384 * rest)
        value *= h2 / 65536 * (1 + h6 / 67108864 * rest * (1 + h3 / 67108864 * rest))
        return value * (1 - h1 * value / 524288)


def _search(too_low, bits):
    """The number whose value comes first at or above what is wanted."""
    raw = 0
    for bit in range(bits - 1, -1, -1):
        if too_low(raw | 1 << bit):
            raw |= 1 << bit
    return raw


class Ds3231:
    """The clock chip: its time runs on without the board. What the board wrote stays in ds3231.txt, as a
    difference."""

    def __init__(self, board):
        self._board, self._at, self._written = board, 0, False
        self._path = board.world.folder + "/ds3231.txt"
        try:
            with open(self._path) as file:
                self._ahead_s = int(file.read())
        except (OSError, ValueError):
            self._ahead_s = board.world.get("ds3231_ahead_s", 0)

    def write(self, data):
        self._at = data[0]
        if data[0] == 0 and len(data) >= 8:
            second, minute, hour, _, day, month, year = [(b >> 4) * 10 + (b & 15) for b in bytes(data[1:8])]
            said = _days(2000 + year, month & 31, day) * 86400 + hour * 3600 + minute * 60 + second
            self._ahead_s = said - self._board.time.world_ms() // 1000
            with open(self._path, "w") as file:
                file.write(str(self._ahead_s))
        elif data[0] == 0x0F and len(data) == 2 and not data[1] & 0x80:
            self._written = True

    def read(self, count):
        stopped = self._board.world.fault("ds3231") == "stopped" and not self._written
        at = time.gmtime(self._board.time.world_ms() // 1000 + self._ahead_s)
        fields = (at[5], at[4], at[3], at[6] + 1, at[2], at[1], at[0] - 2000)
        registers = (
            bytes(f // 10 << 4 | f % 10 for f in fields)
            + bytes(8)
            + bytes((0x88 if stopped else 0x08, 0, 25, 0))
        )
        return registers[self._at : self._at + count]


def _days(year, month, day):
    before = (0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334)[month - 1]
    leap = (year - 1968) // 4 - (1 if year % 4 == 0 and month < 3 else 0)
    return (year - 1970) * 365 + leap + before + day - 1


class I2c:
    """The bus: finds the chip that a world has at an address."""

    ADDRESSES = {"sht3x": 0x44, "sht4x": 0x44, "bme280": 0x76, "ds3231": 0x68}

    def __init__(self, board):
        self._board, self._chips = board, {}

    def writeto(self, address, data):
        self._chip(address).write(data)

    def readfrom(self, address, count):
        return self._chip(address).read(count)

    def readfrom_mem(self, address, register, count):
        chip = self._chip(address)
        chip.write(bytes((register,)))
        return chip.read(count)

    def writeto_mem(self, address, register, data):
        self._chip(address).write(bytes((register,)) + bytes(data))

    def _chip(self, address):
        world = self._board.world
        if world.fault("i2c") == "low":
            raise OSError(116)  # ETIMEDOUT: a line is held low
        for spec in world.get("chips", ()):
            kind, _, at = spec.partition("@")
            if (int(at, 16) if at else self.ADDRESSES[kind]) == address:
                fault = world.fault(spec) or world.fault(kind) or world.fault(kind[:3])
                if fault == "hang":
                    self._board.hang()
                if fault != "silent":
                    return self._found(spec, kind)
        raise OSError(NO_ANSWER)

    def _found(self, spec, kind):
        if spec not in self._chips:
            self._chips[spec] = (
                Bme280(self._board)
                if kind == "bme280"
                else Ds3231(self._board)
                if kind == "ds3231"
                else Sht(self._board, kind)
            )
        return self._chips[spec]


class Probe:
    """One DS18B20: waits for a ROM command, then for a function command, bit by bit (data sheet, figures
    13 and 14)."""

    CONVERSION_MS = {0x1F: 94, 0x3F: 188, 0x5F: 375, 0x7F: 750}

    def __init__(self, board, rom):
        self._board, self.rom, self._name = board, rom, "".join("%02x" % byte for byte in rom)
        self._busy_until = None
        self._wake_up()
        self.reset()

    def present(self):
        return (
            self._name in self._board.world.get("probes", {})
            and self._board.world.fault(self._name) != "gone"
        )

    def _wake_up(self):
        """State at power-on: 85 degrees; alarm bytes and resolution out of the EEPROM."""
        self.memory = bytearray(b"\x50\x05\x4b\x46\x7f\xff\x0c\x10")
        self._busy_until = None

    def reset(self):
        self._state, self._bits, self._count, self._out = "rom", 0, 0, b""

    def writebit(self, bit):
        if self._state == "search":
            self._searched(bit)
        elif self._state in ("rom", "match", "function", "write"):
            self._bits |= bit << self._count
            self._count += 1
            self._taken()

    def readbit(self):
        if self._state == "search":
            bit = self.rom[self._count // 8] >> (self._count % 8) & 1
            self._phase += 1
            return bit if self._phase == 1 else 1 - bit
        if self._state == "read" and self._count < 8 * len(self._out):
            self._count += 1
            return self._out[(self._count - 1) // 8] >> ((self._count - 1) % 8) & 1
        if self._state == "convert":
            return 0 if self._still_busy() else 1
        return 1

    def _searched(self, bit):
        if bit != self.rom[self._count // 8] >> (self._count % 8) & 1:
            self._state = "idle"
        self._count, self._phase = self._count + 1, 0
        if self._count == 64:
            self._state = "function"
            self._bits = self._count = 0

    def _taken(self):
        if self._state == "rom" and self._count == 8:
            self._rom_command(self._bits)
        elif self._state == "match" and self._count == 64:
            matches = self._bits.to_bytes(8, "little") == self.rom
            self._next("function" if matches else "idle")
        elif self._state == "function" and self._count == 8:
            self._function(self._bits)
        elif self._state == "write" and self._count == 24:
            self.memory[2:5] = self._bits.to_bytes(3, "little")
            self.memory[4] = self.memory[4] & 0x60 | 0x1F
            self._next("idle")

    def _rom_command(self, command):
        self._phase = 0
        self._next({0xF0: "search", 0x55: "match", 0xCC: "function", 0x33: "read"}.get(command, "idle"))
        if command == 0x33:
            self._out = self.rom

    def _function(self, command):
        self._next({0x44: "convert", 0xBE: "read", 0x4E: "write"}.get(command, "idle"))
        if command == 0x44:
            self._busy_until = self._board.time.world_ms() + self.CONVERSION_MS[self.memory[4]]
            if self._board.world.fault(self._name) == "power_on":
                self._wake_up()
        elif command == 0xBE:
            self._still_busy()
            check = crc8_one_wire(self.memory) ^ (self._board.world.fault(self._name) == "crc")
            self._out = bytes(self.memory) + bytes((check,))

    def _still_busy(self):
        """The new value stands in the memory when the conversion is over, the one before until then."""
        if self._busy_until is None:
            return False
        if self._board.time.world_ms() < self._busy_until:
            return True
        self._busy_until = None
        sixteenths = round(self._board.world.get("probes", {}).get(self._name, 20.0) * 16)
        sixteenths &= ~{0x1F: 7, 0x3F: 3, 0x5F: 1, 0x7F: 0}[self.memory[4]]
        self.memory[0], self.memory[1] = sixteenths & 255, sixteenths >> 8 & 255
        self.memory[6] = 0x10 - (self.memory[0] & 15)
        return False

    def _next(self, state):
        self._state, self._bits, self._count = state, 0, 0


def _rom(name):
    rom = bytes(int(name[at : at + 2], 16) for at in range(0, 16, 2))
    if crc8_one_wire(rom):
        raise ValueError("world.json: the ROM code %s should end in %02x" % (name, crc8_one_wire(rom[:7])))
    return rom


class OneWire:
    """All probes on one wire: a line that anybody pulls low is low."""

    def __init__(self, board):
        self._board, self._probes = board, {}

    def reset(self):
        if self._low():
            return True  # a line that is always low looks like a probe that answers
        for name in self._board.world.get("probes", {}):
            if name not in self._probes:
                self._probes[name] = Probe(self._board, _rom(name))
        for probe in self._there():
            probe.reset()
        return bool(self._there())

    def readbit(self):
        if self._low():
            return 0
        return min([probe.readbit() for probe in self._there()] or [1])

    def writebit(self, bit):
        for probe in self._there():
            probe.writebit(1 if bit else 0)

    def readinto(self, data):
        for at in range(len(data)):
            data[at] = sum(self.readbit() << bit for bit in range(8))

    def write(self, data):
        for byte in data:
            for bit in range(8):
                self.writebit(byte >> bit & 1)

    def _low(self):
        return self._board.world.fault("one_wire") == "low"

    def _there(self):
        return [probe for probe in self._probes.values() if probe.present()]


class Board:
    """See ../node/hardware.py for what each method promises."""

    chip = "unix"
    folder = FLASH_AT + "/"

    def __init__(self):
        self.world = World(os.getenv("NODE_WORLD") or ".")
        self.time = Time(self.world.folder, os.getenv("NODE_TIME") or "real")
        self._memory, self._ahead_ms, self._cause = b"", None, self.world.get("power_cause", "power")
        self._take_rtc()
        self._i2c, self._one_wire = I2c(self), OneWire(self)
        self._powered_at = self._watchdog_ms = self._fed_ms = None
        self._up = False
        self.flash = Flash(self.world.folder + "/flash.img", self.world.get("flash_blocks", 128))
        cut = os.getenv("NODE_CUT") or self.world.get("cut_after")
        self._cut_seen = self.world.get("cut_after")
        self.flash.cut_at = int(cut) if cut else None
        self._mount()
        self.log("start %s" % self._cause)

    def _take_rtc(self):
        """What the start before left for this one. It is taken away: a process that is killed leaves
        nothing, as a power cut does."""
        try:
            with open(self.world.folder + "/rtc.bin", "rb") as file:
                left = json.loads(file.readline())
                self._memory = file.read()
            os.remove(self.world.folder + "/rtc.bin")
            self._cause, self._ahead_ms = left["cause"], left["ahead_ms"]
        except (OSError, ValueError):
            pass

    def _mount(self):
        try:
            vfs.umount(FLASH_AT)
        except OSError:
            pass
        try:
            mounted = vfs.VfsLfs2(self.flash)
        except OSError:
            self.log("flash formatted")
            vfs.VfsLfs2.mkfs(self.flash)
            mounted = vfs.VfsLfs2(self.flash)
        vfs.mount(mounted, FLASH_AT)

    def log(self, text):
        with open(self.world.folder + "/log.txt", "a") as file:
            file.write("%d %s\n" % (self.time.world_ms(), text))

    # Time

    @property
    def waiting(self):
        return self.time.waiting

    @waiting.setter
    def waiting(self, count):
        self.time.waiting = count

    def ticks_ms(self):
        self.flash._alive()
        return self.time.ticks_ms()

    def sleep_ms(self, ms):
        self.flash._alive()
        self.time.sleep_ms(ms)
        self._look_for_cut()
        self._fed_ms = time.ticks_ms()

    def now_s(self):
        return None if self._ahead_ms is None else (self.time.world_ms() + self._ahead_ms) // 1000

    def set_now_s(self, unix_s):
        self._ahead_ms = int(unix_s) * 1000 - self.time.world_ms()

    def _look_for_cut(self):
        """`cut_after` written while the board runs counts from now."""
        wanted = self.world.get("cut_after")
        if wanted != self._cut_seen:
            self._cut_seen = wanted
            self.flash.cut_at = self.flash.operations + wanted if wanted else None

    # Buses and pins

    def i2c(self):
        self._look_for_cut()
        return self._i2c

    def one_wire(self):
        return self._one_wire

    def volts(self, which):
        fault = self.world.fault(which)
        if fault == "silent":
            raise OSError(5)
        if fault in ("rail", "rail_low"):
            return ADC_TOP_V if fault == "rail" else 0.0
        volts = self.world.get(which + "_v", 0.0)
        if which == "moisture":
            on_ms = 0 if self._powered_at is None else self.ticks_ms() - self._powered_at
            volts *= min(1.0, on_ms / PROBE_WARM_UP_MS)
        return volts / 2 if which == "battery" else volts

    def probe_power(self, on):
        self._powered_at = self.ticks_ms() if on else None

    def buzzer(self, on):
        if on != getattr(self, "_sounds", False):
            self.log("buzzer %s" % ("on" if on else "off"))
        self._sounds = on

    # Memory, watchdog, ends

    def memory(self):
        return self._memory

    def set_memory(self, data):
        if len(data) > 2000:
            raise ValueError("at most 2000 bytes")
        self._memory = bytes(data)

    def reset_cause(self):
        return self._cause

    def watchdog(self, seconds):
        self._watchdog_ms, self._fed_ms = seconds * 1000, time.ticks_ms()

    def feed(self):
        """A board that fed too late would not have come here. Counted in the computer's own time."""
        self.flash._alive()
        now = time.ticks_ms()
        if self._watchdog_ms and time.ticks_diff(now, self._fed_ms) > self._watchdog_ms:
            self._end(WATCHDOG, "watchdog", "watchdog")
        self._fed_ms = now

    def hang(self):
        """A fault `hang` in the world: nothing goes on until the watchdog bites."""
        if not self._watchdog_ms:
            raise SystemExit(POWER_CUT)
        self._end(WATCHDOG, "watchdog", "hang, watchdog")

    def deep_sleep(self, ms):
        self._end(DEEP_SLEEP, "wake", "deep_sleep %d" % ms, ms)

    def restart(self):
        self._end(RESTART, "software", "restart")

    def _end(self, code, cause, text, sleep_ms=0):
        self.log(text)
        self.flash.ioctl(3, 0)
        left = {"cause": cause, "ahead_ms": self._ahead_ms, "sleep_ms": sleep_ms}
        with open(self.world.folder + "/rtc.new", "wb") as file:
            file.write(json.dumps(left) + "\n")
            file.write(self._memory)
        os.rename(self.world.folder + "/rtc.new", self.world.folder + "/rtc.bin")
        self.flash.dead = True
        raise SystemExit(code)

    # Network

    def wifi(self, name, password, timeout_ms):
        until = self.ticks_ms() + timeout_ms
        while not self.world.get("wifi", True):
            if self.ticks_ms() >= until:
                return False
            self.sleep_ms(200)
        self._up = True
        return True

    def wifi_up(self):
        return self._up and self.world.get("wifi", True)

    def rssi_dbm(self):
        return self.world.get("rssi_dbm", -60) if self.wifi_up() else None

    def access_point(self, name):
        self.log("access point %s" % name)
        return "127.0.0.1"

    @property
    def setup_port(self):
        return self.world.get("setup_port", 80)

    def setup_wanted(self):
        return bool(self.world.get("setup_button", False))
