"""Every driver against what the data sheets publish, and every fault, on buses played by the fake board.

The drivers run under MicroPython. Nobody has tried them on real chips.
"""

import calendar
import json
import random
from pathlib import Path
from typing import Any

import pytest
from micropython_run import PROBE, played, run_script

pytestmark = [pytest.mark.micropython, pytest.mark.usefixtures("micropython")]

WORLD: dict[str, Any] = {
    "air_temperature_c": 27.4,
    "air_humidity_percent": 70.1,
    "probes": {PROBE: 31.25},
    "moisture_v": 1.65,
    "battery_v": 3.9,
    "chips": ["sht4x", "bme280", "ds3231"],
}
AIR = {"air_temperature": 27.4, "air_humidity": 70.1}
FOUR = {"280000000000": 1, "28000000000080": 2, "28aa11bb22cc33": 3, "28aa11bb22cc34": 4}


def checksum(data: bytes) -> int:
    """Shift register of Maxim application note 27, figure 2, bit by bit as drawn there."""
    stages = [0] * 8
    for byte in data:
        for at in range(8):
            fed = (byte >> at & 1) ^ stages[7]
            stages = [
                fed,
                stages[0],
                stages[1],
                stages[2],
                stages[3] ^ fed,
                stages[4] ^ fed,
                stages[5],
                stages[6],
            ]
    return sum(bit << 7 - at for at, bit in enumerate(stages))


def rom(start: str) -> str:
    """A ROM code out of family and serial number."""
    data = bytes.fromhex(start.ljust(14, "0"))
    return (data + bytes([checksum(data)])).hex()


def measured(
    folder: Path, specs: list[str], *, names: dict[str, str] | None = None, spare: list[str] | None = None,
    before: str = "", **world: Any,
) -> tuple[dict[str, float], dict[str, str], dict[str, str]]:  # fmt: skip
    """Values, faults and probes of one round."""
    code = f"s = sensors.open_all(b, {specs!r}, {names or {}!r}, {spare or []!r})\n"
    code += before + "\nsay(sensors.measure(s, b))"
    values, faults, found = played(folder, code, WORLD | world)
    return {in_full(name): value for name, value in values.items()}, faults, found


def in_full(name: str) -> str:
    """As it is sent; on the board a quantity has three letters."""
    return name[:-3] + QUANTITIES[name[-3:]]


QUANTITIES = {
    "air": "air_temperature",
    "hum": "air_humidity",
    "sub": "substrate_temperature",
    "sur": "surface_temperature",
    "moi": "substrate_moisture",
    "bat": "battery",
}


def said(code: str) -> Any:
    """What an expression of the drivers gives, without any board."""
    return json.loads(run_script(f"import json, sensors\nprint(json.dumps({code}))"))


def fault_of(memory: bytes) -> str:
    """The code of the fault for which the memory of a probe is refused."""
    attempt = f"import sensors\ntry:\n print(sensors.celsius({memory!r}))\n"
    return run_script(attempt + "except OSError as error:\n print(error.args[0])").strip()


# Published numbers


def test_checksum_of_sht_sensors_is_the_published_one() -> None:
    """Sensirion SHT3x-DIS data sheet, table 20, and SHT4x data sheet, section 4.4: 0xBEEF gives 0x92."""
    assert said("sensors.crc8(b'\\xbe\\xef')") == 0x92


def test_checksum_of_one_wire_is_the_published_one() -> None:
    """Maxim application note 27, example: ROM 02 1C B8 01 00 00 00 has the checksum A2."""
    assert said("sensors.crc8_one_wire(b'\\x02\\x1c\\xb8\\x01\\0\\0\\0')") == 0xA2
    assert said("sensors.crc8_one_wire(b'\\x02\\x1c\\xb8\\x01\\0\\0\\0\\xa2')") == 0
    assert checksum(bytes.fromhex("021cb801000000")) == 0xA2


DS18B20_TABLE = [
    (0x07D0, 125.0),
    (0x0550, 85.0),
    (0x0191, 25.0625),
    (0x00A2, 10.125),
    (0x0008, 0.5),
    (0x0000, 0.0),
    (0xFFF8, -0.5),
    (0xFF5E, -10.125),
    (0xFE6F, -25.0625),
    (0xFC90, -55.0),
]
"""Maxim DS18B20 data sheet, table 1 (temperature/data relationship)."""


def test_temperatures_of_the_ds18b20_are_the_published_ones() -> None:
    memories = [
        bytes((word & 255, word >> 8, 0x2D, 0xD2, 0x7F, 0xFF, 0x0C, 0x10)) for word, _ in DS18B20_TABLE
    ]
    whole = [bytes([*memory, checksum(memory)]) for memory in memories]
    assert said(f"[sensors.celsius(m) for m in {whole!r}]") == [value for _, value in DS18B20_TABLE]


def test_bits_below_the_resolution_of_a_ds18b20_are_left_out() -> None:
    """DS18B20 data sheet, table 2: 9 bits, bits 2 to 0 undefined. 25.0625 with 9 bits is 25.0."""
    memory = bytes((0x91, 0x01, 0x2D, 0xD2, 0x1F, 0xFF, 0x0C, 0x10))
    assert said(f"sensors.celsius({bytes([*memory, checksum(memory)])!r})") == 25.0


@pytest.mark.parametrize(
    ("ticks", "t", "sht3x", "sht4x"), [(0, -45, 0, 0), (26214, 25, 40, 44), (62258, 121.25, 95, 100)]
)
def test_ticks_of_sht_sensors_follow_the_formulas(ticks: int, t: float, sht3x: float, sht4x: float) -> None:
    """SHT3x data sheet 4.13: -45 + 175 S / 65535 and 100 S / 65535; SHT4x 4.6: -6 + 125 S / 65535, cut off
    at 0 and 100.

    The ticks are shares of 65535 that come out even (0, 0.4) or nearly (0.95).
    """
    word = bytes((ticks >> 8, ticks & 255))
    wire = (
        "class W:\n def i2c(self): return self\n def writeto(self, a, d): pass\n def readfrom(self, a, n):\n"
    )
    wire += f"  w = {word!r}\n  return (w + bytes((sensors.crc8(w),))) * 2\n"
    code = f"import json, sensors\n{wire}"
    code += "print(json.dumps([list(sensors.sht(W(), k, '44'))[1] for k in ('sht3x', 'sht4x')]))"
    dry, wet = json.loads(run_script(code))
    assert (dry["air"], dry["hum"]) == pytest.approx((t, sht3x), abs=0.005)
    assert (wet["air"], wet["hum"]) == pytest.approx((t, sht4x), abs=0.005)


def test_temperature_of_the_bme280_is_the_worked_example() -> None:
    """Bosch BMP280 data sheet, 3.12: words 27504, 26435, -1000 and raw 519888 give 25.08 °C (same formula
    as the BME280)."""
    words = (27504, 26435, -1000, 75, 366, 0, 313, 50, 30)
    assert said(f"sensors.bme280_air({words}, 519888, 30000)[0]") == 2508


def percent_by_float(raw_t: int, raw_h: int, words: tuple[int, ...]) -> float:
    """Floating-point formulas of the BME280 data sheet, 8.1."""
    t1, t2, t3, h1, h2, h3, h4, h5, h6 = words
    fine = (raw_t / 16384.0 - t1 / 1024.0) * t2 + (raw_t / 131072.0 - t1 / 8192.0) ** 2 * t3
    rest = fine - 76800.0
    value = (raw_h - (h4 * 64.0 + h5 / 16384.0 * rest)) * (
        h2 / 65536.0 * (1.0 + h6 / 67108864.0 * rest * (1.0 + h3 / 67108864.0 * rest))
    )
    return min(100.0, max(0.0, value * (1.0 - h1 * value / 524288.0)))


def test_humidity_of_the_bme280_agrees_with_the_other_formula_of_its_data_sheet() -> None:
    """No worked example of the humidity was found in a data sheet; so whole numbers (4.2.3) against floats
    (8.1).

    Calibration words are random, around those of real chips.
    """
    chance = random.Random(11)
    cases = []
    for _ in range(60):
        words: tuple[int, ...] = (
            27504 + chance.randrange(-2000, 2000),
            26435 + chance.randrange(-900, 900),
            chance.choice([-1000, 50]),
        )
        words += (chance.choice([0, 75, 255]), chance.randrange(330, 400), chance.choice([0, 5, 255]))
        words += (chance.randrange(-400, 400), chance.randrange(-100, 100), chance.randrange(-128, 128))
        raw_h = min(65535, max(0, words[6] * 64 + chance.randrange(-1000, 20000)))
        cases.append((words, chance.randrange(430000, 600000), raw_h))
    whole = said(f"[sensors.bme280_air(*case)[1] / 1024 for case in {cases!r}]")
    wanted = [percent_by_float(t, h, words) for words, t, h in cases]
    assert [min(100.0, max(0.0, value)) for value in whole] == pytest.approx(wanted, abs=0.02)
    assert sum(0 < value < 100 for value in wanted) > 20


def test_calibration_words_of_the_bme280_are_put_together_as_its_table_says(tmp_path: Path) -> None:
    """BME280 data sheet, table 16: H4 is 0xE4 and the low half of 0xE5, H5 is the high half of 0xE5 and
    0xE6, both signed."""
    low = (
        (27504).to_bytes(2, "little")
        + (26435).to_bytes(2, "little")
        + (-1000).to_bytes(2, "little", signed=True)
    )
    low += bytes(19) + bytes([75])
    high = (366).to_bytes(2, "little") + bytes([0xFF, 0xEA, 0x3D, 0xFE, 0x9E])
    code = f"low, high = {low!r}, {high!r}\nclass W:\n"
    code += " def readfrom_mem(self, a, r, n): return {0x88: low[:n], 0xe1: high}[r]\n"
    code += "say(sensors.calibration(W(), 0x76))"
    h4, h5 = (0xEAD - 0x1000), (0xFE3 - 0x1000)
    assert played(tmp_path, code, WORLD) == [27504, 26435, -1000, 75, 366, 255, h4, h5, 0x9E - 256]


@pytest.mark.parametrize(
    "date",
    [(2000, 1, 1, 0, 0, 0), (2024, 2, 29, 23, 59, 59), (2026, 11, 26, 13, 54, 7), (2028, 12, 31, 1, 2, 3),
     (2027, 3, 1, 12, 0, 0), (2099, 12, 31, 23, 59, 59)],
)  # fmt: skip
def test_date_of_the_ds3231_is_two_decimal_digits_a_byte(date: tuple[int, ...]) -> None:
    """Maxim DS3231 data sheet, figure 1: seconds, minutes, hours, day of the week, day, month, year. Days
    by the calendar."""
    year, month, day, hour, minute, second = date
    unix_s = calendar.timegm((*date, 0, 0, 0))
    weekday = calendar.weekday(year, month, day) + 1
    fields = (second, minute, hour, weekday, day, month, year - 2000)
    registers = bytes(int(str(field), 16) for field in fields)
    assert said(f"[sensors.from_registers({registers!r}), list(sensors.to_registers({unix_s}))]") == [
        unix_s,
        list(registers),
    ]


@pytest.mark.parametrize(
    "registers", ["00000001000026", "5a000001010126", "00006001010126", "00000001011326", "ffffffffffffff"]
)
def test_date_that_is_none_is_not_taken(registers: str) -> None:
    assert said(f"sensors.from_registers({bytes.fromhex(registers)!r})") is None


def test_clock_chip_that_has_stood_still_tells_nothing_until_it_is_set(tmp_path: Path) -> None:
    """DS3231 data sheet, status register 0Fh: bit 7 (OSF) is set when the oscillator has stopped."""
    code = "c = sensors.Ds3231(b.i2c())\nsay([c.read(), c.write(1790000000), c.read()])"
    assert played(tmp_path, code, WORLD | {"faults": {"ds3231": "stopped"}}) == [None, None, 1790000000]


def test_clock_chip_that_is_not_there_tells_nothing(tmp_path: Path) -> None:
    code = "from clock import Clock\nc = Clock(b, 0, sensors.Ds3231(b.i2c()))\nc._take(1790000000000)\n"
    code += "say([c.source, c.now_s()[0] // 1000000])"
    assert played(tmp_path, code, WORLD | {"chips": []}) == ["monitor", 1790]


# Whole rounds


@pytest.mark.parametrize("spec", ["sht3x", "sht3x@45", "sht4x", "sht4x@45", "bme280", "bme280@77"])
def test_air_is_measured(tmp_path: Path, spec: str) -> None:
    values, faults, _ = measured(tmp_path, [spec], chips=[spec])
    assert values == pytest.approx(AIR, abs=0.011)
    assert faults == {}


@pytest.mark.parametrize("spec", ["sht3x", "sht4x", "bme280"])
@pytest.mark.parametrize(("temperature", "humidity"), [(-5.0, 12.0), (0.0, 50.0), (45.5, 99.0)])
def test_air_is_measured_over_the_range(
    tmp_path: Path, spec: str, temperature: float, humidity: float
) -> None:
    values, faults, _ = measured(
        tmp_path, [spec], chips=[spec], air_temperature_c=temperature, air_humidity_percent=humidity
    )
    assert values == pytest.approx({"air_temperature": temperature, "air_humidity": humidity}, abs=0.02)
    assert faults == {}


def test_moisture_and_battery_are_measured(tmp_path: Path) -> None:
    values, faults, _ = measured(tmp_path, ["moisture", "battery"])
    assert values == pytest.approx({"substrate_moisture": 0.5, "battery": 3.9})
    assert faults == {}


def test_moisture_probe_has_its_supply_only_while_it_measures(tmp_path: Path) -> None:
    code = "on = []\nplain = b.probe_power\nb.probe_power = lambda v: (on.append(v), plain(v))\n"
    code += "s = sensors.open_all(b, ['moisture'], {})\nsensors.measure(s, b)\nsay([on, b.volts('moisture')])"
    assert played(tmp_path, code, WORLD) == [[True, False], 0.0]


def test_single_probe_without_a_name_sends_the_plain_quantity(tmp_path: Path) -> None:
    values, faults, found = measured(tmp_path, ["ds18b20:surface_temperature"])
    assert (values, faults, found) == ({"surface_temperature": 31.25}, {}, {})


@pytest.mark.parametrize("count", [1, 2, 4, 8])
def test_search_finds_every_probe(tmp_path: Path, count: int) -> None:
    """Serial numbers that part at the first bit, at the last, and nowhere in between."""
    serials = ["28000000000000", "28000000000080", "28010000000000", "28ffffffffffff"]
    serials += ["28ffffffffff7f", "28feffffffffff", "28aa11bb22cc33", "28aa11bb22cc34"]
    probes = {rom(serial): 20.0 + at for at, serial in enumerate(serials[:count])}
    code = "say(sorted(sensors.search(b.one_wire())))"
    assert played(tmp_path, code, WORLD | {"probes": probes}) == sorted(probes)


@pytest.mark.parametrize("other", ["28aa11bb22cc3300", rom("10aa11bb22cc33"), rom("01aa11bb22cc33")])
def test_search_leaves_out_wrong_checksums_and_other_families(tmp_path: Path, other: str) -> None:
    """Family codes 10h (DS18S20, another scale) and 01h are no DS18B20 (28h: its data sheet, figure 8)."""
    code = "hardware._rom = bytes.fromhex\nsay(sensors.search(b.one_wire()))"
    probes = {other: 20.0, PROBE: 21.0}
    assert played(tmp_path, code, WORLD | {"probes": probes}) == [PROBE]


def test_probes_get_the_names_of_the_card_in_the_order_of_their_codes(tmp_path: Path) -> None:
    probes = {rom("28bb"): 22.0, rom("28aa"): 21.0, rom("28cc12345678"): 23.0}
    values, faults, found = measured(tmp_path, ["ds18b20"], spare=["p1", "p2"], probes=probes)
    assert values == {
        "p1/substrate_temperature": 21.0,
        "p2/substrate_temperature": 22.0,
        "p7800/substrate_temperature": 23.0,
    }
    assert found == {rom("28aa"): "p1", rom("28bb"): "p2", rom("28cc12345678"): "p7800"}
    assert faults == {}


def test_names_that_were_given_stay(tmp_path: Path) -> None:
    """A probe with a lower code comes in; nobody's name moves, and a name of the card is given once."""
    probes = {rom("28bb"): 22.0, rom("28aa"): 21.0}
    names = {rom("28bb"): "p1"}
    values, _, found = measured(tmp_path, ["ds18b20"], names=names, spare=["p1", "p2"], probes=probes)
    assert values == {"p1/substrate_temperature": 22.0, "p2/substrate_temperature": 21.0}
    assert found == {rom("28bb"): "p1", rom("28aa"): "p2"}


def test_probe_that_comes_in_later_is_found(tmp_path: Path) -> None:
    """What the first round found stays as it was, so that the difference can be seen."""
    later = {rom("28aa"): 21.0, rom("28bb"): 22.0}
    code = "s = sensors.open_all(b, ['ds18b20'], {}, ['p1', 'p2'])\nfirst = sensors.measure(s, b)[2]\n"
    code += f"b.world.get = lambda key, default=None: {later!r} if key == 'probes' else default\n"
    code += "say([first, sensors.measure(s, b)[2]])"
    first, second = played(tmp_path, code, WORLD | {"probes": {rom("28aa"): 21.0}})
    assert first == {rom("28aa"): "p1"}
    assert second == {rom("28aa"): "p1", rom("28bb"): "p2"}


# Faults


@pytest.mark.parametrize("spec", ["sht3x", "sht4x", "bme280"])
def test_chip_that_is_not_there_gives_no_value(tmp_path: Path, spec: str) -> None:
    values, faults, _ = measured(tmp_path, [spec, "battery"], chips=[])
    assert (values, faults) == ({"battery": 3.9}, {spec: "no_answer"})


@pytest.mark.parametrize("spec", ["sht3x", "sht4x"])
def test_wrong_checksum_gives_no_value(tmp_path: Path, spec: str) -> None:
    values, faults, _ = measured(tmp_path, [spec], chips=[spec], faults={"sht": "crc"})
    assert (values, faults) == ({}, {spec: "crc"})


@pytest.mark.parametrize("spec", ["sht3x", "sht4x", "bme280"])
def test_saturated_humidity_is_sent_and_said(tmp_path: Path, spec: str) -> None:
    values, faults, _ = measured(tmp_path, [spec], chips=[spec], faults={spec: "saturated"})
    assert values == pytest.approx({"air_temperature": 27.4, "air_humidity": 100.0}, abs=0.01)
    assert faults == {spec: "saturated"}


EARLY = """
slow = b.sleep_ms
b.sleep_ms = lambda ms: slow(ms // 2)
b.time._host_ms = lambda: b.time._locked_at  # in lockstep: a slow computer lets no time pass by
"""


@pytest.mark.parametrize("spec", ["sht3x", "sht4x", "bme280", "ds18b20"])
def test_chip_that_is_read_too_early_gives_no_value(tmp_path: Path, spec: str) -> None:
    """A board whose waits are half as long as they should be; the fake answers as the data sheets say."""
    code = EARLY + f"say(sensors.measure(sensors.open_all(b, [{spec!r}], {{}}), b)[:2])"
    world = WORLD | {"chips": [spec] if spec != "ds18b20" else []}
    clock = {"NODE_TIME": "x60" if spec == "ds18b20" else "lockstep"}
    assert played(tmp_path, code, world, clock) == [{}, {spec: "no_answer"}]


def test_bme280_that_never_measured_is_told_by_its_values_at_power_on(tmp_path: Path) -> None:
    """BME280 data sheet, table 18: 0x80000 and 0x8000 stand in the registers after a reset."""
    before = "i = b.i2c()\ni.writeto_mem = lambda a, r, d: None\n"
    values, faults, _ = measured(tmp_path, ["bme280"], before=before)
    assert (values, faults) == ({}, {"bme280": "power_on_value"})


def test_bme280_with_calibration_that_reads_differently_twice_gives_no_value(tmp_path: Path) -> None:
    before = "i = b.i2c()\nplain = i.readfrom_mem\nimport os\n"
    before += "i.readfrom_mem = lambda a, r, n: os.urandom(n) if r == 0x88 else plain(a, r, n)\n"
    values, faults, _ = measured(tmp_path, ["bme280"], before=before)
    assert (values, faults) == ({}, {"bme280": "no_answer"})


@pytest.mark.parametrize(("byte", "code"), [(0, "range"), (255, "range")])
def test_bme280_that_gives_only_zeros_or_ones_gives_no_value(tmp_path: Path, byte: int, code: str) -> None:
    before = f"i = b.i2c()\nplain = i.readfrom_mem\ndata = bytes([{byte}] * 5)\n"
    before += "i.readfrom_mem = lambda a, r, n: data if r == 0xfa else plain(a, r, n)\n"
    values, faults, _ = measured(tmp_path, ["bme280"], before=before)
    assert (values, faults) == ({}, {"bme280": code})


def test_another_chip_at_the_address_of_the_bme280_gives_no_value(tmp_path: Path) -> None:
    """The BMP280 (chip id 0x58 in its data sheet) is sold as one, and knows no humidity."""
    before = "i = b.i2c()\ni.writeto(0x76, b'\\xd0')\ni._chips['bme280']._registers[0xd0] = 0x58\n"
    values, faults, _ = measured(tmp_path, ["bme280"], before=before)
    assert (values, faults) == ({}, {"bme280": "no_answer"})


def test_85_of_a_probe_at_power_on_is_no_value_and_true_85_is_one(tmp_path: Path) -> None:
    names = {rom("28aa"): "p1", rom("28bb"): "p2"}
    values, faults, _ = measured(
        tmp_path,
        ["ds18b20"],
        names=names,
        probes={rom("28aa"): 85.0, rom("28bb"): 24.0},
        faults={rom("28bb"): "power_on"},
    )
    assert (values, faults) == ({"p1/substrate_temperature": 85.0}, {"p2": "power_on_value"})


def test_wrong_checksum_of_one_probe_leaves_the_others(tmp_path: Path) -> None:
    probes = {rom("28aa"): 21.0, rom("28bb"): 22.0}
    values, faults, _ = measured(
        tmp_path, ["ds18b20"], spare=["p1", "p2"], probes=probes, faults={rom("28bb"): "crc"}
    )
    assert (values, faults) == ({"p1/substrate_temperature": 21.0}, {"p2": "crc"})


def test_half_of_the_probes_gone_leaves_the_other_half(tmp_path: Path) -> None:
    roms = [rom(start) for start in FOUR]
    names = {code: f"p{at}" for at, code in enumerate(roms, 1)}
    probes = {code: 20.0 + at for at, code in enumerate(roms, 1)}
    values, faults, found = measured(
        tmp_path, ["ds18b20"], names=names, probes=probes, faults={roms[1]: "gone", roms[3]: "gone"}
    )
    assert values == {"p1/substrate_temperature": 21.0, "p3/substrate_temperature": 23.0}
    assert faults == {"p2": "no_answer", "p4": "no_answer"}
    assert found == names


def test_no_probe_at_all(tmp_path: Path) -> None:
    assert measured(tmp_path, ["ds18b20"], probes={}) == ({}, {"ds18b20": "no_answer"}, {})
    assert measured(tmp_path, ["ds18b20"], probes={}, names={PROBE: "p1"})[1] == {"p1": "no_answer"}


@pytest.mark.parametrize(("memory", "code"), [(b"\xff" * 9, "no_answer"), (bytes(9), "no_answer")])
def test_line_that_nobody_drives_or_that_is_low_is_no_temperature(memory: bytes, code: str) -> None:
    """All ones is what other programs show as -127; all zeros have a checksum that is right, and would be
    0.0 °C."""
    assert checksum(bytes(8)) == 0
    assert fault_of(memory) == code


@pytest.mark.parametrize("word", [0x07D1, 0xFC8F])
def test_temperature_outside_of_the_ds18b20_is_no_value(word: int) -> None:
    memory = bytes((word & 255, word >> 8, 0x2D, 0xD2, 0x7F, 0xFF, 0x0C, 0x10))
    assert fault_of(bytes([*memory, checksum(memory)])) == "range"


def test_buses_that_hang_low_give_faults_and_end(tmp_path: Path) -> None:
    specs = ["sht4x", "ds18b20", "battery"]
    values, faults, found = measured(tmp_path, specs, faults={"i2c": "low", "one_wire": "low"})
    assert (values, faults, found) == ({"battery": 3.9}, {"sht4x": "no_answer", "ds18b20": "no_answer"}, {})


@pytest.mark.parametrize("rail", ["rail", "rail_low"])
def test_adc_at_a_rail_gives_no_value(tmp_path: Path, rail: str) -> None:
    values, faults, _ = measured(
        tmp_path, ["moisture", "battery"], faults={"moisture": rail, "battery": rail}
    )
    assert (values, faults) == ({}, {"moisture": "rail", "battery": "rail"})


def test_adc_that_is_broken_gives_no_value(tmp_path: Path) -> None:
    values, faults, _ = measured(tmp_path, ["moisture", "battery"], faults={"moisture": "silent"})
    assert (values, faults) == ({"battery": 3.9}, {"moisture": "no_answer"})


SPIKE = """
real, tries = b.volts, []
def volts(which):
    tries.append(which)
    return {wrong} if len(tries) == {at} else real(which)
b.volts = volts
"""


@pytest.mark.parametrize("at", [1, 2, 3])
@pytest.mark.parametrize("wrong", ["2.9", "0.2", "3.3"])
def test_one_wrong_try_of_three_changes_nothing(tmp_path: Path, at: int, wrong: str) -> None:
    """A spike up or down, or a try that failed: the median of the others."""
    values, faults, _ = measured(tmp_path, ["battery"], before=SPIKE.format(wrong=wrong, at=at))
    assert (values, faults) == ({"battery": 3.9}, {})
