"""The fake board itself: what it plays, it must play as the data sheets say."""

from pathlib import Path
from typing import Any

import pytest
from micropython_run import DEEP_SLEEP, POWER_CUT, PROBE, WATCHDOG, Node, played

pytestmark = [pytest.mark.micropython, pytest.mark.usefixtures("micropython")]

BEGIN = "import json, hardware\nb = hardware.Board()\n"
WORLD: dict[str, Any] = {
    "air_temperature_c": 27.4,
    "air_humidity_percent": 70.1,
    "probes": {PROBE: 31.2},
    "moisture_v": 1.9,
    "battery_v": 3.9,
    "chips": ["sht4x", "bme280", "ds3231"],
}


def test_deep_sleep_keeps_memory_and_clock_and_says_wake(tmp_path: Path) -> None:
    sleep = BEGIN + "b.set_memory(b'a\\nb')\nb.set_now_s(1790000000)\nb.deep_sleep(60000)"
    node = Node(tmp_path, WORLD, code=sleep).start()
    assert node.wait() == DEEP_SLEEP
    assert node.slept_ms() == 60000
    look = "say([b.reset_cause(), b.memory().decode(), b.now_s() and b.now_s() >= 1790000000])"
    assert played(tmp_path, look, WORLD) == ["wake", "a\nb", True]
    assert played(tmp_path, look, WORLD) == ["power", "", None]


def test_power_cut_at_a_block_operation_ends_the_process_and_leaves_half(tmp_path: Path) -> None:
    write = BEGIN + "f = open(b.folder + 'a', 'w')\nf.write('x' * 3000)\nf.close()"
    assert Node(tmp_path / "whole", WORLD, code=write).start().wait() == 0
    node = Node(tmp_path / "cut", WORLD, code=write).start(cut=7)
    assert node.wait() == POWER_CUT
    image, whole = ((tmp_path / name / "flash.img").read_bytes() for name in ("cut", "whole"))
    assert b"x" * 3000 in whole
    assert b"x" * 3000 not in image
    assert played(tmp_path / "cut", "import os\nsay(os.listdir(b.folder))", WORLD) in ([], ["a"])


def test_nothing_is_written_after_the_power_has_gone(tmp_path: Path) -> None:
    """Not by a `finally`, nor by a file that is closed on the way out."""
    code = BEGIN + "b.flash.cut_at = b.flash.operations + 1\nf = open(b.folder + 'a', 'w')\ntry:\n"
    code += " f.write('x' * 9000)\nfinally:\n open(b.folder + 'late', 'w').write('y' * 9000)"
    node = Node(tmp_path, WORLD, code=code).start()
    assert node.wait() == POWER_CUT
    assert b"yyyy" not in (tmp_path / "flash.img").read_bytes()


def test_cut_that_is_written_while_the_board_runs_counts_from_then(tmp_path: Path) -> None:
    code = BEGIN + "for at in range(200):\n b.sleep_ms(600)\n open(b.folder + 'a', 'w').write('x' * 3000)\n"
    code += " print(b.flash.operations)\n"
    node = Node(tmp_path, WORLD, code=code, clock="x60").start()
    while node.output().count("\n") < 5:
        assert node.process is not None and node.process.poll() is None
    node.write(cut_after=3)
    assert node.wait() == POWER_CUT
    assert int(node.output().split()[-1]) > 3


def test_files_on_the_flash_outlive_a_cut_at_any_operation(tmp_path: Path) -> None:
    """The file system is MicroPython's own LittleFS, on blocks that the fake cuts off in the middle."""
    begin = BEGIN + "import os\n"
    keep = begin + "f = open(b.folder + 'kept', 'w')\nf.write('k' * 500)\nf.close()"
    assert Node(tmp_path, WORLD, code=keep).start().wait() == 0
    work = begin + "assert open(b.folder + 'kept').read() == 'k' * 500\nfor at in range(3):\n"
    work += " f = open(b.folder + 'new', 'w')\n f.write(str(at) * 600)\n f.close()\n"
    work += " os.rename(b.folder + 'new', b.folder + 'old')"
    node, cuts = Node(tmp_path, WORLD, code=work), 0
    while node.start(cut=cuts + 1).wait() == POWER_CUT:
        cuts += 1
    assert (node.errors(), cuts > 20) == ("", True)
    look = "import os\nsay([open(b.folder + 'kept').read(), len(set(open(b.folder + 'old').read()))])"
    assert played(tmp_path, look, WORLD) == ["k" * 500, 1]
    assert node.log().count("flash formatted") == 1


def test_flash_is_formatted_once(tmp_path: Path) -> None:
    code = "import os\nopen(b.folder + 'kept.txt', 'w').write('1')\nsay(os.listdir(b.folder))"
    for _ in range(2):
        assert played(tmp_path, code, WORLD) == ["kept.txt"]
    assert Node(tmp_path, WORLD).log().count("flash formatted") == 1


def test_hang_ends_by_the_watchdog(tmp_path: Path) -> None:
    hang = BEGIN + "b.watchdog(8)\nb.i2c().writeto(0x44, b'\\xfd')"
    node = Node(tmp_path, WORLD | {"faults": {"sht": "hang"}}, code=hang).start()
    assert node.wait() == WATCHDOG
    assert played(tmp_path, "say(b.reset_cause())", WORLD) == "watchdog"


def test_lockstep_moves_only_when_told(tmp_path: Path) -> None:
    code = BEGIN + "b.set_now_s(1790000000)\nb.sleep_ms(60000)\nb.waiting = b.now_s()\nb.sleep_ms(500)"
    with Node(tmp_path, WORLD, clock="lockstep", code=code).start(now_ms=1790000000000) as node:
        assert node.step() == {"sleep_ms": 60000, "waiting": 0}
        node.go_on(1790000060000)
        assert node.step() == {"sleep_ms": 500, "waiting": 1790000060}


def test_time_is_whole_seconds(tmp_path: Path) -> None:
    """An int, as on the chip, where a float would not hold it."""
    code = "b.set_now_s(1790000000)\nkinds = [str(type(v)) for v in (b.now_s(), b.ticks_ms())]\n"
    code += "say(kinds + [b.now_s() < 1790000600])"
    assert played(tmp_path, code, WORLD) == ["<class 'int'>", "<class 'int'>", True]


def test_board_that_fed_its_watchdog_too_late_starts_again(tmp_path: Path) -> None:
    code = BEGIN + "import time\nb.watchdog(1)\nb.feed()\ntime.sleep(1.2)\nb.feed()\nprint('went on')"
    node = Node(tmp_path, WORLD, code=code).start()
    assert (node.wait(), node.output()) == (WATCHDOG, "")


# What the fake plays, against what the data sheets publish: it must not be the drivers turned round.


def test_checksums_are_the_published_ones(tmp_path: Path) -> None:
    """SHT3x data sheet, table 20: 0xBEEF gives 92. Application note 27: 02 1C B8 01 00 00 00 gives A2."""
    code = "one_wire = hardware.crc8_one_wire(b'\\x02\\x1c\\xb8\\x01\\0\\0\\0')\n"
    code += "say([hardware.crc8(b'\\xbe\\xef', 0x31, 0xff), one_wire])"
    assert played(tmp_path, code, WORLD) == [0x92, 0xA2]


@pytest.mark.parametrize(
    ("temperature", "low", "high"),
    [(125.0, 0xD0, 0x07), (85.0, 0x50, 0x05), (25.0625, 0x91, 0x01), (10.125, 0xA2, 0x00), (0.5, 0x08, 0x00),
     (0.0, 0x00, 0x00), (-0.5, 0xF8, 0xFF), (-10.125, 0x5E, 0xFF), (-25.0625, 0x6F, 0xFE),
     (-55.0, 0x90, 0xFC)],
)  # fmt: skip
def test_scratchpad_is_the_published_one(tmp_path: Path, temperature: float, low: int, high: int) -> None:
    """DS18B20 data sheet, table 1; before the first measurement, figure 9: 0550h, 85 °C."""
    code = "w = b.one_wire()\ndef scratch():\n m = bytearray(9)\n"
    code += " w.reset(); w.write(b'\\xcc\\xbe'); w.readinto(m); return list(m)\n"
    code += "before = scratch()\nw.reset(); w.write(b'\\xcc\\x44'); early = w.readbit()\n"
    code += "soon = scratch()\nb.sleep_ms(800)\nsay([before, early, soon, scratch()])"
    before, early, soon, after = played(tmp_path, code, WORLD | {"probes": {PROBE: temperature}})
    assert before[:2] == [0x50, 0x05]
    assert early == 0
    assert soon == before
    assert after[:2] == [low, high]


def test_sht_answers_its_published_scale_and_not_before_it_is_ready(tmp_path: Path) -> None:
    """SHT3x and SHT4x data sheets: 25 °C is 70 / 175 of full scale, 0x6666; 40 %RH is 0x6666 of an SHT3x,
    44 %RH of an SHT4x."""
    code = "i = b.i2c()\nout = []\nfor a, c, ms in ((0x44, b'\\x24\\x00', 16), (0x45, b'\\xfd', 9)):\n"
    code += " i.writeto(a, c)\n try:\n  i.readfrom(a, 6)\n  out.append('too early')\n"
    code += " except OSError as e: out.append(e.errno)\n"
    code += " b.sleep_ms(ms)\n d = i.readfrom(a, 6)\n out.append([d[0], d[1], d[3], d[4]])\nsay(out)"
    world = WORLD | {"chips": ["sht3x", "sht4x@45"], "air_temperature_c": 25.0, "air_humidity_percent": 40.0}
    dry = played(tmp_path, code, world, {"NODE_TIME": "real"})
    assert dry[:2] == [19, [0x66, 0x66, 0x66, 0x66]]
    wet = played(tmp_path, code, world | {"air_humidity_percent": 44.0}, {"NODE_TIME": "real"})
    assert wet[2:] == [19, [0x66, 0x66, 0x66, 0x66]]


def test_bme280_has_the_published_words_and_values(tmp_path: Path) -> None:
    """Chip id 60h and values after a reset: BME280 data sheet, table 18. Words and raw value: worked example
    of the BMP280 data sheet, 3.12: 519888 is 25.08 °C, t_fine 128422."""
    code = "i = b.i2c()\ntop = list(i.readfrom_mem(0x76, 0xd0, 1) + i.readfrom_mem(0x76, 0xf7, 8))\n"
    code += "top += list(i.readfrom_mem(0x76, 0x88, 6))\ni.writeto_mem(0x76, 0xf2, b'\\1')\n"
    code += "i.writeto_mem(0x76, 0xf4, b'\\x21')\nbusy = i.readfrom_mem(0x76, 0xf3, 1)[0]\n"
    code += "b.sleep_ms(8)\nd = i.readfrom_mem(0x76, 0xfa, 3)\n"
    code += "say([top, busy, d[0] << 12 | d[1] << 4 | d[2] >> 4, hardware.Bme280(b).celsius(519888)])"
    world = WORLD | {"air_temperature_c": 128422 / 5120}
    top, busy, raw, (celsius, fine) = played(tmp_path, code, world, {"NODE_TIME": "real"})
    assert top == [0x60, 0x80, 0, 0, 0x80, 0, 0, 0x80, 0, 0x70, 0x6B, 0x43, 0x67, 0x18, 0xFC]
    assert busy == 8
    assert (round(celsius, 2), int(fine)) == (25.08, 128422)
    assert abs(raw - 519888) <= 1


def test_clock_chip_speaks_two_decimal_digits_a_byte(tmp_path: Path) -> None:
    """DS3231 data sheet, figure 1. 1790000000 is Monday, 21 September 2026, 14:13:20 (by date -u)."""
    code = "i = b.i2c()\nsay([list(i.readfrom_mem(0x68, 0, 7)), i.readfrom_mem(0x68, 0x0f, 1)[0] & 0x80])"
    fields, stopped = played(tmp_path, code, WORLD, {"NODE_TIME": "lockstep", "NODE_NOW_MS": "1790000000000"})
    assert fields == [0x20, 0x13, 0x14, 1, 0x21, 0x09, 0x26]
    assert stopped == 0
    set_it = "i = b.i2c()\ni.writeto_mem(0x68, 0, b'\\x00\\x00\\x00\\x04\\x29\\x02\\x24')\n"
    set_it += "say(list(i.readfrom_mem(0x68, 0, 7)))"
    assert played(tmp_path, set_it, WORLD, {"NODE_TIME": "lockstep"}) == [0, 0, 0, 4, 0x29, 0x02, 0x24]


def test_rom_code_with_a_wrong_checksum_in_a_world_is_named(tmp_path: Path) -> None:
    with pytest.raises(AssertionError, match="should end in bf"):
        played(tmp_path, "b.one_wire().reset()", WORLD | {"probes": {"28ff641dc1160364": 20.0}})
