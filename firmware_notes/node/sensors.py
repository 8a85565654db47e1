"""The sensors: from the bytes of each chip to °C, %RH, V. Written from the data sheets; sums are whole
numbers, since floats on these chips are 32 bit wide.

Codes of faults: `no_answer`, `crc`, `power_on_value`, `rail`, `saturated`, `range`.
"""

import struct

from micropython import const

_TRIES = const(3)
_MOST_PROBES = const(16)
_MARK = b"\x2d\xd2"  # choice; a probe forgets it when its supply fails
_PROBE_WARM_UP_MS = const(200)  # moisture probe after it is switched on: choice
# The ADC tells nothing below 0.15 V (data sheet of the ESP32, attenuation 3) and above 3.0 V (choice:
# supply less 10 %).
_RAIL_LOW_V = 0.15
_RAIL_HIGH_V = 3.0
_SUPPLY_V = 3.3
_BATTERY_RATIO = const(2)  # two equal resistors


class Fault(Exception):
    """This try gave nothing; args[0] is the code."""


def crc8(data):
    """x^8 + x^5 + x^4 + 1, start 0xFF (SHT3x 4.12, SHT4x 4.4)."""
    value = 0xFF
    for byte in data:
        value ^= byte
        for _ in range(8):
            value = (value << 1 ^ 0x31) & 0xFF if value & 0x80 else value << 1
    return value


def crc8_one_wire(data):
    """The same polynomial, lowest bit first, start 0 (Maxim application note 27). 0 over data with its
    checksum."""
    value = 0
    for byte in data:
        value ^= byte
        for _ in range(8):
            value = value >> 1 ^ 0x8C if value & 1 else value >> 1
    return value


def _humidity(hundredths):
    """Cut off at 0 and 100 as the data sheets say; at the top it may be wet: said beside the value."""
    value = min(max(hundredths, 0), 10000)
    return value / 100, value == 10000


class _Sensor:
    """`begin`, then three times `start`, a wait of `wait_ms`, `read`; then `end`. `read` gives {name:
    value or code}."""

    wait_ms = 0

    def __init__(self, name, address=0):
        self.name, self._address = name, address

    def begin(self, board):
        pass

    def start(self, i2c):
        pass

    def end(self, board):
        pass

    def _air(self, temperature, humidity):
        percent, saturated = _humidity(humidity)
        values = {"air_temperature": temperature / 100, "air_humidity": percent}
        if saturated:
            values[self.name] = "saturated"
        return values


class Sht3x(_Sensor):
    """Single shot, high repeatability, no clock stretching: 0x2400, 15 ms at most (data sheet, tables 4
    and 8)."""

    wait_ms = 16
    _command = b"\x24\x00"

    def start(self, i2c):
        i2c.writeto(self._address, self._command)

    def read(self, board, i2c):
        data = i2c.readfrom(self._address, 6)
        if crc8(data[:2]) != data[2] or crc8(data[3:5]) != data[5]:
            raise Fault("crc")
        ticks_t, ticks_h = data[0] << 8 | data[1], data[3] << 8 | data[4]
        return self._air((17500 * ticks_t + 32767) // 65535 - 4500, self._share(ticks_h))

    def _share(self, ticks):
        return (10000 * ticks + 32767) // 65535


class Sht4x(Sht3x):
    """High precision: 0xFD, 8.3 ms at most (data sheet, tables 4 and 7; the humidity has a scale of its
    own)."""

    wait_ms = 10
    _command = b"\xfd"

    def _share(self, ticks):
        return (12500 * ticks + 32767) // 65535 - 600


class Bme280(_Sensor):
    """One measurement on demand, temperature and humidity once each: 1.25 + 2.3 + 2.3 + 0.575 ms at most
    (appendix B). The chip has no checksum: its calibration is read twice, and values at power-on are told
    by their pattern."""

    wait_ms = 8
    _words = None

    def start(self, i2c):
        if self._words is None:
            self._open(i2c)
        i2c.writeto_mem(self._address, 0xF2, b"\x01")  # humidity once; holds after the next line only
        i2c.writeto_mem(self._address, 0xF4, b"\x21")  # temperature once, pressure left out, forced

    def _open(self, i2c):
        if i2c.readfrom_mem(self._address, 0xD0, 1) != b"\x60":
            raise Fault("no_answer")  # another chip, for one the BMP280 that knows no humidity
        words = self._calibration(i2c)
        if words[0] in (0, 0xFFFF) or words != self._calibration(i2c):
            raise Fault("no_answer")
        self._words = words

    def _calibration(self, i2c):
        """T1 to T3, H1 to H6 (data sheet, table 16)."""
        low = i2c.readfrom_mem(self._address, 0x88, 26)
        high = i2c.readfrom_mem(self._address, 0xE1, 7)
        h2, h3, h4, mixed, h5, h6 = struct.unpack("<hBbBbb", high)
        return struct.unpack("<Hhh", low) + (low[25], h2, h3, h4 << 4 | mixed & 15, h5 << 4 | mixed >> 4, h6)

    def read(self, board, i2c):
        if i2c.readfrom_mem(self._address, 0xF3, 1)[0] & 8:
            raise Fault("no_answer")  # still measuring
        data = i2c.readfrom_mem(self._address, 0xFA, 5)
        raw_t, raw_h = data[0] << 12 | data[1] << 4 | data[2] >> 4, data[3] << 8 | data[4]
        if raw_t == 0x80000 or raw_h == 0x8000:
            raise Fault("power_on_value")
        temperature, humidity = self.convert(raw_t, raw_h)
        if not -4000 <= temperature <= 8500:
            raise Fault("range")
        return self._air(temperature, humidity)

    def convert(self, raw_t, raw_h):
        """Hundredths of °C and of %RH: whole-number formulas of the data sheet (4.2.3)."""
        t1, t2, t3, h1, h2, h3, h4, h5, h6 = self._words
        above = (raw_t >> 4) - t1
        fine = (((raw_t >> 3) - (t1 << 1)) * t2 >> 11) + ((above * above >> 12) * t3 >> 14)
        rest = fine - 76800
        slope = ((rest * h6 >> 10) * ((rest * h3 >> 11) + 32768) >> 10) + 2097152
        value = ((raw_h << 14) - (h4 << 20) - h5 * rest + 16384 >> 15) * (slope * h2 + 8192 >> 14)
        value -= ((value >> 15) * (value >> 15) >> 7) * h1 >> 4
        value = min(max(value, 0), 419430400) >> 12
        return fine * 5 + 128 >> 8, value * 100 + 512 >> 10


class Moisture(_Sensor):
    """Capacitive probe: its voltage as a share of the supply, until it is calibrated. Supplied only while
    it measures."""

    wait_ms = _PROBE_WARM_UP_MS

    def begin(self, board):
        board.probe_power(True)

    def read(self, board, i2c):
        return {"substrate_moisture": _volts(board, self.name) / _SUPPLY_V}

    def end(self, board):
        board.probe_power(False)


class Battery(_Sensor):
    def read(self, board, i2c):
        return {"battery": _volts(board, self.name) * _BATTERY_RATIO}


def _volts(board, which):
    volts = board.volts(which)
    if not _RAIL_LOW_V < volts < _RAIL_HIGH_V:
        raise Fault("rail")
    return volts


class Ds18b20(_Sensor):
    """All probes on the wire. 12 bits take 750 ms at most (data sheet, table 2)."""

    wait_ms = 750

    def __init__(self, quantity, names, spare):
        _Sensor.__init__(self, "ds18b20")
        self._quantity = quantity
        self.names = dict(names)  # by ROM code, those that are missing as well
        self._spare = [name for name in spare if name not in names.values()]
        self._named = bool(names or spare)

    def begin(self, board):
        self._wire = board.one_wire()
        for rom in sorted(search(self._wire)):
            if rom not in self.names:
                self.names[rom] = self._spare.pop(0) if self._spare else "p" + rom[10:14]

    def _plain(self):
        """A single probe that nobody named sends its quantity without a name before it."""
        return not self._named and len(self.names) < 2

    def found(self):
        return {} if self._plain() else self.names

    def start(self, i2c):
        # All at once: alarm bytes, which nothing here uses, as a mark, and 12 bits; then measure.
        for command in (b"\xcc\x4e" + _MARK + b"\x7f", b"\xcc\x44"):
            if not self._wire.reset():
                raise Fault("no_answer")
            self._wire.write(command)

    def read(self, board, i2c):
        if not self._wire.read_bit():
            raise Fault("no_answer")  # still measuring after the longest time, or the line is low
        if not self.names:
            raise Fault("no_answer")
        values = {}
        for rom in self.names:
            name = self.name if self._plain() else self.names[rom]
            try:
                values[self._quantity if self._plain() else name + "/" + self._quantity] = self._probe(rom)
            except Fault as fault:
                values[name] = fault.args[0]
        return values

    def _probe(self, rom):
        self._wire.reset()
        self._wire.write(b"\x55" + bytes([int(rom[at : at + 2], 16) for at in range(0, 16, 2)]) + b"\xbe")
        return celsius(self._wire.read(9))


def celsius(memory):
    """Scratchpad to °C (data sheet, figures 4, 9 and 10, table 1)."""
    # Nobody pulls the line down: no probe, which other programs show as -127. Only zeros: the line is low;
    # their checksum is right.
    if memory == b"\xff" * 9 or not any(memory):
        raise Fault("no_answer")
    if crc8_one_wire(memory):
        raise Fault("crc")
    sixteenths = struct.unpack("<h", memory)[0]
    sixteenths &= ~(7 >> (memory[4] >> 5 & 3))  # bits below the resolution mean nothing
    # 85 °C is what stands there at power-on; with our mark beside it, it was measured.
    if sixteenths == 0x550 and memory[2:4] != _MARK:
        raise Fault("power_on_value")
    if not -880 <= sixteenths <= 2000:
        raise Fault("range")
    return sixteenths / 16


def search(wire):
    """ROM codes of all DS18B20 on the wire, as hexadecimal text (Maxim application note 187)."""
    found, rom, last = [], bytearray(8), 0
    for _ in range(_MOST_PROBES):
        if not wire.reset():
            break
        wire.write(b"\xf0")
        last = _walk(wire, rom, last)
        if last is None:
            break
        if rom[0] == 0x28 and not crc8_one_wire(rom):
            found.append("".join(["%02x" % byte for byte in rom]))
        if not last:
            break
    return found


def _walk(wire, rom, last):
    """One way down the tree: at the fork `last` the other branch than before. Gives the last fork that was
    left at 0."""
    open_fork = 0
    for at in range(64):
        bit, other = wire.read_bit(), wire.read_bit()
        if bit and other:
            return None
        if bit == other:
            bit = rom[at >> 3] >> (at & 7) & 1 if at + 1 < last else at + 1 == last
            if not bit:
                open_fork = at + 1
        rom[at >> 3] = rom[at >> 3] & ~(1 << (at & 7)) | bit << (at & 7)
        wire.write_bit(bit)
    return open_fork


class Ds3231:
    """The clock chip. A date that it cannot hold, or a clock that has stood still, is None."""

    def __init__(self, i2c):
        self._i2c = i2c

    def read(self):
        """Unix seconds, an int."""
        try:
            if self._i2c.readfrom_mem(0x68, 0x0F, 1)[0] & 0x80:
                return None  # the oscillator has stopped since the time was set
            return from_registers(self._i2c.readfrom_mem(0x68, 0, 7))
        except OSError:
            return None

    def write(self, unix_s):
        """True when it was taken."""
        try:
            self._i2c.writeto_mem(0x68, 0, to_registers(unix_s))
            self._i2c.writeto_mem(0x68, 0x0F, b"\x00")
            return True
        except OSError:
            return False


_BEFORE = (0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334)  # days before each month


def _days(year, month):
    """From 1970 to the month; `year` counts from 2000. Right from 2000 to 2099, which is all that the chip
    knows."""
    return 10957 + year * 365 + (year + 3) // 4 + _BEFORE[month] + (1 if year % 4 == 0 and month > 1 else 0)


def from_registers(data):
    """Seconds to years, two decimal digits in each byte, 24 hours (data sheet, figure 1)."""
    digits = (data[0], data[1], data[2], data[4], data[5] & 0x7F, data[6])
    second, minute, hour, day, month, year = [(byte >> 4) * 10 + (byte & 15) for byte in digits]
    if max([byte & 15 for byte in digits]) > 9 or not (
        second < 60 and minute < 60 and hour < 24 and year < 100
    ):
        return None
    if not 0 < month < 13 or not 0 < day < 32:
        return None
    return ((_days(year, month - 1) + day - 1) * 24 + hour) * 3600 + minute * 60 + second


def to_registers(unix_s):
    days, seconds = divmod(unix_s, 86400)
    year, month = 99, 11
    while _days(year, 0) > days:
        year -= 1
    while _days(year, month) > days:
        month -= 1
    fields = (
        seconds % 60,
        seconds // 60 % 60,
        seconds // 3600,
        (days + 3) % 7 + 1,
        days - _days(year, month) + 1,
        month + 1,
        year,
    )
    return bytes([field // 10 << 4 | field % 10 for field in fields])


_KINDS = {
    "sht3x": (Sht3x, 0x44),
    "sht4x": (Sht4x, 0x44),
    "bme280": (Bme280, 0x76),
    "moisture": (Moisture, 0),
    "battery": (Battery, 0),
}


def open_all(board, specs, probes, spare=()):
    """`specs` and `spare` (its `probes`) stand on the card; `probes` are the names by ROM code in force.
    Probes without a name get those of `spare` that nobody has, in the order of their ROM codes."""
    opened = []
    for spec in specs:
        kind, _, address = spec.partition("@")
        if kind in _KINDS:
            make, usual = _KINDS[kind]
            opened.append(make(spec, int(address, 16) if address else usual))
        elif kind.startswith("ds18b20"):
            opened.append(Ds18b20(kind[8:] or "substrate_temperature", probes or {}, spare))
    return opened


def measure(sensors, board):
    """({name: value}, {name of sensor or probe: code}, {ROM code: name}): the median of three tries. A
    fault is said when no try went well; what is `saturated` has a value as well."""
    values, codes, found = {}, {}, {}
    i2c = board.i2c()
    wait_ms = max([sensor.wait_ms for sensor in sensors] or [0])
    for sensor in sensors:
        sensor.begin(board)
    for _ in range(_TRIES):
        started = [sensor for sensor in sensors if _try(sensor, lambda s: s.start(i2c), values, codes)]
        board.sleep_ms(wait_ms)
        for sensor in started:
            _try(sensor, lambda s: s.read(board, i2c), values, codes)
    for sensor in sensors:
        sensor.end(board)
        if sensor.name == "ds18b20":
            found.update(sensor.found())
    faults = {name: codes[name][-1] for name in codes if len(codes[name]) == _TRIES}
    return {name: _median(values[name]) for name in values}, faults, found


def _try(sensor, step, values, codes):
    try:
        got = step(sensor) or {}
    except OSError:
        got = {sensor.name: "no_answer"}
    except Fault as fault:
        got = {sensor.name: fault.args[0]}
    for name in got:
        kept = codes if isinstance(got[name], str) else values
        kept.setdefault(name, []).append(got[name])
    return sensor.name not in got


def _median(values):
    values = sorted(values)
    middle = len(values) // 2
    return values[middle] if len(values) % 2 else (values[middle - 1] + values[middle]) / 2
