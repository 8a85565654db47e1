"""The sensors: from the bytes of each chip to °C, %RH, V. Written from the data sheets; sums are whole
numbers, since floats on these chips are 32 bits wide. Tried on no real chip yet.

Codes of faults: `no_answer`, `crc`, `power_on_value`, `rail`, `saturated`, `range`.
"""

import struct
from time import gmtime

from micropython import const

_TRIES = const(3)
_MOST_PROBES = const(16)
_MARK = b"\x2d\xd2"  # choice; a probe forgets it when its supply fails
_WARM_UP_MS = const(200)  # moisture probe after it is switched on: choice


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


class _Sensor:
    """Three times `start`, a wait of `wait_ms`, and `read`, which gives {name: value or code}."""

    wait_ms = 0

    def __init__(self, name, address=0):
        self.name, self._address = name, address

    def start(self, board, i2c):
        pass

    def _air(self, temperature, humidity):
        """Out of hundredths. Humidity is cut off at 0 and 100 as the data sheets say; at 100 the sensor
        may be wet."""
        values = {"air_temperature": temperature / 100, "air_humidity": min(max(humidity, 0), 10000) / 100}
        if humidity >= 10000:
            values[self.name] = "saturated"
        return values


class Sht(_Sensor):
    """One measurement of high repeatability on demand.

    SHT3x: 0x2400 (no clock stretching), 15 ms at most (data sheet, tables 4 and 8). SHT4x: 0xFD, 8.3 ms at
    most, and another scale of the humidity (data sheet, tables 4 and 7).
    """

    def __init__(self, name, address):
        _Sensor.__init__(self, name, address)
        third = name[3] == "3"
        self._command, self.wait_ms = (b"\x24\x00", 16) if third else (b"\xfd", 10)
        self._span, self._low = (10000, 0) if third else (12500, 600)

    def start(self, board, i2c):
        i2c.writeto(self._address, self._command)

    def read(self, board, i2c):
        data = i2c.readfrom(self._address, 6)
        if crc8(data[:2]) != data[2] or crc8(data[3:5]) != data[5]:
            raise Fault("crc")
        raw_t, _, raw_h = struct.unpack(">HBH", data)
        return self._air(
            (17500 * raw_t + 32767) // 65535 - 4500, (self._span * raw_h + 32767) // 65535 - self._low
        )


class Bme280(_Sensor):
    """One measurement on demand, temperature and humidity once each: 1.25 + 2.3 + 2.3 + 0.575 ms at most
    (appendix B).

    The chip has no checksum: its calibration is read twice, and values at power-on are told by their pattern.
    """

    wait_ms = 8
    _words = None

    def start(self, board, i2c):
        if not self._words:
            words = self._calibration(i2c)
            # 0x60 is the chip; the BMP280, which is sold under this name, says 0x58 and knows no humidity.
            if self._get(i2c, 0xD0, 1) != b"\x60" or words != self._calibration(i2c):
                raise Fault("no_answer")
            self._words = words
        i2c.writeto_mem(self._address, 0xF2, b"\x01")  # humidity once; holds after the next line only
        i2c.writeto_mem(self._address, 0xF4, b"\x21")  # temperature once, pressure left out, forced

    def _get(self, i2c, register, count):
        return i2c.readfrom_mem(self._address, register, count)

    def _calibration(self, i2c):
        """T1 to T3, H1 to H6 (data sheet, table 16)."""
        h2, h3, h4, mixed, h5, h6 = struct.unpack("<hBbBbb", self._get(i2c, 0xE1, 7))
        h1 = self._get(i2c, 0xA1, 1)[0]
        words = struct.unpack("<Hhh", self._get(i2c, 0x88, 6))
        return words + (h1, h2, h3, h4 << 4 | mixed & 15, h5 << 4 | mixed >> 4, h6)

    def read(self, board, i2c):
        if self._get(i2c, 0xF3, 1)[0] & 8:
            raise Fault("no_answer")  # still measuring
        high, low, raw_h = struct.unpack(">HBH", self._get(i2c, 0xFA, 5))
        if high == 0x8000 or raw_h == 0x8000:
            raise Fault("power_on_value")
        temperature, humidity = self.convert(high << 4 | low >> 4, raw_h)
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
        return fine * 5 + 128 >> 8, (value >> 12) * 100 + 512 >> 10


class Adc(_Sensor):
    """Battery, by two equal resistors; or a capacitive moisture probe: its voltage as a share of the supply
    of 3.3 V, until it is calibrated."""

    def read(self, board, i2c):
        volts = board.volts(self.name)
        # Below 0.15 V an ESP32 tells nothing (ESP-IDF reference, ADC at 11 dB); above 3.0 V: choice, a tenth
        # below the supply.
        if not 0.15 < volts < 3.0:
            raise Fault("rail")
        return {"battery": volts * 2} if self.name == "battery" else {"substrate_moisture": volts / 3.3}


class Ds18b20(_Sensor):
    """All probes on the wire. 12 bits take 750 ms at most (data sheet, table 2)."""

    wait_ms = 750

    def __init__(self, quantity, names, spare):
        _Sensor.__init__(self, "ds18b20")
        self._quantity = quantity
        self._names = dict(names)  # by ROM code, those that are missing as well
        self._spare = [name for name in spare if name not in names.values()]
        self._named = names or spare

    def found(self):
        """Nothing for a single probe that nobody named: it sends its quantity without a name before it."""
        return dict(self._names) if self._named or len(self._names) > 1 else {}

    def start(self, board, i2c):
        self._wire = board.one_wire()
        for rom in sorted(search(self._wire)):
            if rom not in self._names:
                self._names[rom] = self._spare.pop(0) if self._spare else "p" + rom[10:14]
        # All at once: alarm bytes, which nothing here uses, as a mark, and 12 bits; then measure.
        for command in (b"\xcc\x4e" + _MARK + b"\x7f", b"\xcc\x44"):
            self._wire.reset()
            self._wire.write(command)

    def read(self, board, i2c):
        # 0: still measuring after the longest time, or the line is low.
        if not self._wire.read_bit() or not self._names:
            raise Fault("no_answer")
        found, values = self.found(), {}
        for rom in self._names:
            name = found.get(rom)
            try:
                self._wire.reset()
                self._wire.write(b"\x55" + bytes.fromhex(rom) + b"\xbe")
                value = celsius(self._wire.read(9))
                values[name + "/" + self._quantity if name else self._quantity] = value
            except Fault as fault:
                values[name or self.name] = fault.args[0]
        return values


def celsius(memory):
    """Scratchpad to °C (data sheet, figures 4, 9 and 10, table 1)."""
    # Nobody pulls the line down: no probe, which other programs show as -127. Only zeros: the line is low;
    # their checksum is right.
    if min(memory) == 255 or not any(memory):
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
        fork = 0  # the last one at which this walk took the branch 0
        for at in range(64):
            byte, mask = at >> 3, 1 << (at & 7)
            bit, other = wire.read_bit(), wire.read_bit()
            if bit == other:
                if bit:
                    return found
                bit = rom[byte] & mask if at + 1 < last else at + 1 == last
                if not bit:
                    fork = at + 1
            rom[byte] = rom[byte] | mask if bit else rom[byte] & ~mask
            wire.write_bit(1 if bit else 0)
        if rom[0] == 0x28 and not crc8_one_wire(rom):
            found.append(rom.hex())
        last = fork
        if not last:
            break
    return found


class Ds3231:
    """The clock chip: Unix seconds, whole numbers."""

    def __init__(self, i2c):
        self._i2c = i2c

    def read(self):
        """None when it does not answer or has stood still since it was set (bit 7 of the status register
        0x0F)."""
        try:
            data = self._i2c.readfrom_mem(0x68, 0, 16)
            return None if data[15] & 0x80 else from_registers(data)
        except OSError:
            return None

    def write(self, unix_s):
        """True when it was taken."""
        try:
            self._i2c.writeto_mem(0x68, 0, to_registers(unix_s))
            self._i2c.writeto_mem(0x68, 15, b"\x00")
            return True
        except OSError:
            return False


def from_registers(data):
    """Two decimal digits in each byte: second, minute, hour of 24, day of the week, day, month, year from
    2000 (data sheet, figure 1). None when that is no date."""
    digits = data[:3] + data[4:7]
    second, minute, hour, day, month, year = [(byte >> 4) * 10 + (byte & 15) for byte in digits]
    # Bit 7 of the month counts centuries, and is 0 in ours.
    if second > 59 or minute > 59 or hour > 23 or not 0 < day < 32 or not 0 < month < 13 or year > 99:
        return None
    # Years from March, so that the day of a leap year comes last; 10957 days from 1970 to 2000, less ten
    # months of 1999.
    month = (month + 9) % 12
    if month > 9:
        year -= 1
    days = 11017 + year * 365 + year // 4 + (month * 306 + 5) // 10 + day - 1
    return (days * 24 + hour) * 3600 + minute * 60 + second


def to_registers(unix_s):
    # What a port calls 0 is 1970 or, on ESP32, 2000.
    epoch_s = 946684800 if gmtime(0)[0] == 2000 else 0
    year, month, day, hour, minute, second, weekday = gmtime(unix_s - epoch_s)[:7]
    fields = (second, minute, hour, weekday + 1, day, month, year - 2000)
    return bytes([field // 10 << 4 | field % 10 for field in fields])


def open_all(board, specs, probes, spare=()):
    """`specs` and `spare` (its `probes`) stand on the card; `probes` are the names by ROM code in force.
    Probes without a name get those of `spare` that nobody has, in the order of their ROM codes."""
    opened = []
    for spec in specs:
        kind, _, address = spec.partition("@")
        if kind[:3] == "sht":
            opened.append(Sht(spec, int(address or "44", 16)))
        elif kind == "bme280":
            opened.append(Bme280(spec, int(address or "76", 16)))
        elif kind[:7] == "ds18b20":
            opened.append(Ds18b20(kind[8:] or "substrate_temperature", probes or {}, spare))
        elif kind != "ds3231":
            opened.append(Adc(kind))
            if kind == "moisture":
                opened[-1].wait_ms = _WARM_UP_MS
    return opened


def measure(sensors, board):
    """({name: value}, {name of sensor or probe: code}, {ROM code: name}): the median of three tries. A
    fault is said when no try went well; what is `saturated` has a value as well."""
    i2c = board.i2c()
    got, found = {}, {}
    board.probe_power(True)
    for _ in range(_TRIES):
        faults = [_try(sensor.start, board, i2c) for sensor in sensors]
        board.sleep_ms(max([sensor.wait_ms for sensor in sensors] or [0]))
        for sensor, fault in zip(sensors, faults):
            result = fault or _try(sensor.read, board, i2c)
            if isinstance(result, str):
                result = {sensor.name: result}
            for name in result:
                got.setdefault(name, []).append(result[name])
    board.probe_power(False)
    for sensor in sensors:
        if sensor.name == "ds18b20":
            found = sensor.found()
    return _medians(got) + (found,)


def _medians(got):
    values, faults = {}, {}
    for name in got:
        numbers = sorted([value for value in got[name] if not isinstance(value, str)])
        middle = len(numbers) // 2
        if numbers:
            values[name] = (numbers[middle] + numbers[~middle]) / 2
        elif len(got[name]) == _TRIES:
            faults[name] = got[name][-1]
    return values, faults


def _try(step, board, i2c):
    try:
        return step(board, i2c)
    except OSError:
        return "no_answer"
    except Fault as fault:
        return fault.args[0]
