"""The sensors: from the bytes of each chip to °C, %RH, V. Written from the data sheets; tried on no real
chip yet.

A driver is a generator for one try: it starts the measurement, yields how many milliseconds that takes, then
{name: value or code}. Quantities have three letters on the board, so that a round is short (`UNITS` in
sender.py); before it stands the name of a probe, as in `p1/sub`. What went wrong is an OSError with a code:
`no_answer` (also whatever a bus raises), `crc`, `power_on_value`, `rail`, `saturated`, `range`.
"""

from struct import unpack
from time import gmtime, mktime

from hardware import EPOCH_S
from micropython import const

_TRIES = const(3)
_MOST_PROBES = const(16)
_MARK = b"\x2d\xd2"  # choice; a probe forgets it when its supply fails


def crc8(data):
    """x^8 + x^5 + x^4 + 1, start 0xFF (SHT3x 4.12, SHT4x 4.4). 0 over data with its checksum."""
    value = 0xFF
    for byte in data:
        value ^= byte
        for _ in range(8):
            value = value << 1 ^ (value >> 7) * 0x131
    return value


def crc8_one_wire(data):
    """The same polynomial, lowest bit first, start 0 (Maxim application note 27)."""
    value = 0
    for byte in data:
        value ^= byte
        for _ in range(8):
            value = value >> 1 ^ (value & 1) * 0x8C
    return value


def _air(name, temperature, humidity):
    """Humidity is cut off at 0 and 100 as the data sheets say; at 100 the sensor may be wet."""
    values = {
        "air": round(temperature, 2),
        "hum": round(min(max(humidity, 0), 100), 2),
    }
    if humidity >= 100:
        values[name] = "saturated"
    return values


def sht(board, name, address):
    """One measurement of high repeatability on demand.

    SHT3x: 0x2400 (no clock stretching), 15 ms at most (data sheet, tables 4 and 8). SHT4x: 0xFD, 8.3 ms at
    most, and another scale of the humidity (data sheet, tables 4 and 7).
    """
    i2c, address, third = board.i2c(), int(address, 16), name[3] == "3"
    i2c.writeto(address, b"\x24\x00" if third else b"\xfd")
    yield 16
    data = i2c.readfrom(address, 6)
    if crc8(data[:3]) or crc8(data[3:]):
        raise OSError("crc")
    t, _, rh = unpack(">HBH", data)
    yield _air(name, t * 175 / 65535 - 45, rh * 100 / 65535 if third else rh * 125 / 65535 - 6)


def calibration(i2c, address):
    """Of a BME280: T1 to T3, H1 to H6 (data sheet, table 16)."""
    h2, h3, h4, mixed, h5, h6 = unpack("<hBbBbb", i2c.readfrom_mem(address, 0xE1, 7))
    low = i2c.readfrom_mem(address, 0x88, 26)
    return unpack("<Hhh", low) + (low[25], h2, h3, h4 << 4 | mixed & 15, h5 << 4 | mixed >> 4, h6)


def bme280_air(words, raw_t, raw_h):
    """Hundredths of °C and 1024ths of %RH: whole-number formulas of the data sheet (4.2.3), since floats
    have 32 bits on these chips."""
    t1, t2, t3, h1, h2, h3, h4, h5, h6 = words
    above = (raw_t >> 4) - t1
    fine = (((raw_t >> 3) - (t1 << 1)) * t2 >> 11) + ((above * above >> 12) * t3 >> 14)
    rest = fine - 76800
    slope = ((rest * h6 >> 10) * ((rest * h3 >> 11) + 32768) >> 10) + 2097152
    value = ((raw_h << 14) - (h4 << 20) - h5 * rest + 16384 >> 15) * (slope * h2 + 8192 >> 14)
    value -= ((value >> 15) * (value >> 15) >> 7) * h1 >> 4
    return fine * 5 + 128 >> 8, value >> 12


def bme280(board, name, address):
    """One measurement on demand, temperature and humidity once each: 1.25 + 2.3 + 2.3 + 0.575 ms at most
    (appendix B).

    The chip has no checksum: its calibration is read twice, and values at power-on are told by their pattern.
    """
    i2c, address = board.i2c(), int(address, 16)
    words, read = calibration(i2c, address), i2c.readfrom_mem
    i2c.writeto_mem(address, 0xF2, b"\x01")  # humidity once; holds after the next line only
    i2c.writeto_mem(address, 0xF4, b"\x21")  # temperature once, pressure left out, forced
    yield 8
    # 0x60 is the chip; the BMP280, which is sold under this name, says 0x58 and knows no humidity.
    # Bit 3 of the status: still measuring.
    if (
        words != calibration(i2c, address)
        or read(address, 0xD0, 1) != b"\x60"
        or read(address, 0xF3, 1)[0] & 8
    ):
        raise OSError("no_answer")
    high, low, raw_h = unpack(">HBH", read(address, 0xFA, 5))
    if 0x8000 in (high, raw_h):
        raise OSError("power_on_value")
    t, rh = bme280_air(words, high << 4 | low >> 4, raw_h)
    if not -4000 <= t <= 8500:
        raise OSError("range")
    yield _air(name, t / 100, rh / 1024)


def adc(board, name, _):
    """Battery, by two equal resistors; or a capacitive moisture probe: its voltage as a share of the supply
    of 3.3 V, until it is calibrated."""
    yield 200 if name == "moisture" else 0  # to warm up after it is switched on: choice
    volts = board.volts(name)
    # Below 0.15 V an ESP32 tells nothing (ESP-IDF reference, ADC at 11 dB); above 3.0 V: choice, a tenth
    # below the supply.
    if not 0.15 < volts < 3.0:
        raise OSError("rail")
    yield {"bat": volts * 2} if name == "battery" else {"moi": volts / 3.3}


def ds18b20(board, name, probes):
    """All probes on the wire. 12 bits take 750 ms at most (data sheet, table 2).

    `names` are by ROM code, those that are missing as well; a new probe gets the next of `spare`.
    """
    wire, (quantity, names, spare, named) = board.one_wire(), probes
    for rom in sorted(search(wire)):
        if rom not in names:
            names[rom] = spare.pop(0) if spare else "p" + rom[10:14]
    # All at once: alarm bytes, which nothing here uses, as a mark, and 12 bits; then measure.
    for command in (b"\xcc\x4e" + _MARK + b"\x7f", b"\xcc\x44"):
        wire.reset()
        wire.write(command)
    yield 750
    # 0: still measuring after the longest time, or the line is low.
    if not wire.readbit() or not names:
        raise OSError("no_answer")
    values, memory = {}, bytearray(9)
    for rom in names:
        place = names[rom] + "/" if named or len(names) > 1 else ""
        try:
            wire.reset()
            wire.write(b"\x55" + bytes.fromhex(rom) + b"\xbe")
            wire.readinto(memory)
            values[place + quantity] = celsius(memory)
        except OSError as error:
            values[place[:-1] or name] = error.args[0]
    yield values


def celsius(memory):
    """Scratchpad of a DS18B20 to °C (data sheet, figures 4, 9 and 10, table 1)."""
    # Nobody pulls the line down: no probe, which other programs show as -127. Only zeros: the line is low;
    # their checksum is right.
    if min(memory) == 255 or not any(memory):
        raise OSError("no_answer")
    if crc8_one_wire(memory):
        raise OSError("crc")
    sixteenths = unpack("<h", memory)[0]
    sixteenths &= ~(7 >> (memory[4] >> 5 & 3))  # bits below the resolution mean nothing
    # 85 °C is what stands there at power-on; with our mark beside it, it was measured.
    if sixteenths == 0x550 and memory[2:4] != _MARK:
        raise OSError("power_on_value")
    if not -880 <= sixteenths <= 2000:
        raise OSError("range")
    return sixteenths / 16


def search(wire):
    """ROM codes of all DS18B20 on the wire, as hexadecimal text (Maxim application note 187): at each bit
    the probes say which values there are; where there are both, one is kept for a walk of its own."""
    found, walks = [], [(0, 0)]  # the bits at which a walk begins, how many
    for _ in range(_MOST_PROBES):
        if not walks or not wire.reset():
            break
        wire.write(b"\xf0")
        rom, known = walks.pop()
        for at in range(64):
            bit, other = wire.readbit(), wire.readbit()
            if bit and other:
                return found
            if at < known:
                bit = rom >> at & 1
            elif bit == other:
                walks.append((rom | 1 << at, at + 1))
            rom |= bit << at
            wire.writebit(bit)
        rom = rom.to_bytes(8, "little")
        if rom[0] == 0x28 and not crc8_one_wire(rom):
            found.append(rom.hex())
    return found


class Ds3231:
    """The clock chip: Unix seconds, whole numbers."""

    def __init__(self, i2c):
        self.i2c = i2c

    def read(self):
        """None when it does not answer or has stood still since it was set (bit 7 of the status register
        0x0F)."""
        try:
            data = self.i2c.readfrom_mem(0x68, 0, 16)
            return None if data[15] & 0x80 else from_registers(data)
        except OSError:
            return None

    def write(self, unix_s):
        """OSError when it does not answer."""
        self.i2c.writeto_mem(0x68, 0, to_registers(unix_s))
        self.i2c.writeto_mem(0x68, 15, b"\x00")


def from_registers(data):
    """Two decimal digits in each byte: second, minute, hour of 24, day of the week, day, month, year from
    2000 (data sheet, figure 1). None when that is no date. Bit 7 of the month counts centuries, 0 in ours."""
    second, minute, hour, _, day, month, year = [(byte >> 4) * 10 + (byte & 15) for byte in data[:7]]
    unix_s = mktime((2000 + year, month, day, hour, minute, second, 0, 0)) + EPOCH_S
    # No date (the 31st of February, say) comes back as another one; the day of the week may be anybody's.
    again = to_registers(unix_s)
    return unix_s if again[:3] + again[4:] == data[:3] + data[4:7] else None


def to_registers(unix_s):
    year, month, day, hour, minute, second, weekday = gmtime(unix_s - EPOCH_S)[:7]
    fields = (second, minute, hour, weekday + 1, day, month, year - 2000)
    return bytes([(field // 10 << 4 | field % 10) & 255 for field in fields])


_DRIVERS = {
    "sht3x": (sht, "44"),
    "sht4x": (sht, "44"),
    "bme280": (bme280, "76"),
    "ds18b20": (ds18b20, "substrate_temperature"),
    "moisture": (adc, ""),
    "battery": (adc, ""),
}


def open_all(board, specs, probes, spare=()):
    """`specs` and `spare` (its `probes`) stand on the card; `probes` are the names by ROM code in force.
    Probes without a name get those of `spare` that nobody has, in the order of their ROM codes."""
    opened = []
    for spec in specs:
        kind, _, more = spec.replace(":", "@").partition("@")
        if kind in _DRIVERS:
            driver, usual = _DRIVERS[kind]
            more = more or usual
            if kind == "ds18b20":
                left = [name for name in spare if name not in probes.values()]
                spec, more = kind, (more[:3], dict(probes), left, probes or spare)
            opened.append((driver, spec, more))
    return opened


def measure(sensors, board):
    """({name: value}, {name of sensor or probe: code}, {ROM code: name}): the median of three tries. A
    fault is said when no try went well; what is `saturated` has a value as well."""
    got, found = {}, {}
    board.probe_power(True)
    for _ in range(_TRIES):
        tries = [driver(board, name, more) for driver, name, more in sensors]
        for _ in (0, 1):
            wait_ms = 0
            for one, sensor in zip(tries, sensors):
                said = _step(one, sensor[1])
                if isinstance(said, int):
                    wait_ms = max(wait_ms, said)
                else:
                    for name in said:
                        got.setdefault(name, []).append(said[name])
            board.sleep_ms(wait_ms)
    board.probe_power(False)
    for _, name, more in sensors:
        # A single probe that nobody named sends its quantity without a name before it.
        if name == "ds18b20" and (more[3] or len(more[1]) > 1):
            found = dict(more[1])
    return _medians(got) + (found,)


def _step(one, name):
    try:
        return next(one)
    except StopIteration:
        return {}  # it could not even start
    except OSError as error:
        code = error.args[0]
        return {name: code if isinstance(code, str) else "no_answer"}


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
