"""The chip's own layer: its pins, and what it does with MicroPython's modules; others stand in for them here.

It has run on no chip.
"""

import ast
import itertools
import json
from pathlib import Path
from typing import Any

import pytest
from micropython_run import FAKES, NODE, run_script

pytestmark = [pytest.mark.micropython, pytest.mark.usefixtures("micropython")]

STAND_INS = """
import json, sys, time
class Any:
    def __init__(self, **values):
        for name in values: setattr(self, name, values[name])
did, now, low, rtc = [], [0], [0], {"memory": b"old", "set": None}
class Pin:
    OUT, IN, OPEN_DRAIN, PULL_UP = "out", "in", "open", "up"
    def __init__(self, number, mode=None, pull=None, value=None):
        self.number = number
        did.append(["pin", number, mode, value])
    def value(self, level=None):
        if level is None: return 0 if low[0] else 1
        did.append(["level", self.number, level])
        if level: low[0] = max(0, low[0] - 1)
class RTC:
    def memory(self, data=None):
        if data is None: return rtc["memory"]
        rtc["memory"] = data
    def datetime(self, fields): rtc["set"] = list(fields)
class Station:
    up, after = False, None
    def __init__(self, kind): pass
    def active(self, on): did.append("active")
    def disconnect(self): did.append("disconnect")
    def connect(self, name, password): did.append(["connect", name, password])
    def isconnected(self): return Station.after is not None and now[0] >= Station.after
    def status(self, what): return -61
class Dog:
    def __init__(self, timeout): did.append(["dog", timeout])
    def feed(self): did.append("fed")
def sleep_ms(ms): now[0] += ms
real = time
kept = Any(gmtime=lambda s: real.gmtime(s + OFFSET), time=lambda: now[0] // 1000 + START,
    sleep_us=lambda us: None,
    ticks_ms=lambda: (now[0] + BEFORE) % 2**30,
    ticks_diff=lambda a, b: (a - b + 2**29) % 2**30 - 2**29, sleep_ms=sleep_ms)
kind = lambda name: (lambda *v, **w: did.append([name, len(v), w]) or Any(name=name))
sys.modules["time"] = kept
sys.modules["machine"] = Any(Pin=Pin, RTC=RTC, WDT=Dog, SoftI2C=kind("i2c"), ADC=None,
    deepsleep=None, reset=None, reset_cause=lambda: CAUSE)
sys.modules["network"] = Any(WLAN=Station, STA_IF=0, AP_IF=1)
sys.modules["onewire"] = Any(OneWire=lambda pin: did.append(["wire", pin.number]))
class Implementation: _machine = MACHINE
kept_sys = Any(implementation=Implementation)
sys.modules["sys"] = kept_sys
import hardware
def say(v): print(json.dumps(v))
b = hardware.Board()
"""


def on_chip(
    code: str,
    *,
    machine: str = "Generic ESP32 module with ESP32",
    cause: int = 1,
    start: int = 0,
    before: int = 0,
) -> Any:
    """What a script printed, with the layer on modules that stand in; time counts from 2000, as on ESP32."""
    given = f"MACHINE, CAUSE, START, BEFORE, OFFSET = {machine!r}, {cause}, {start}, {before}, 946684800\n"
    return json.loads(run_script(given + STAND_INS + code, folders=(NODE,)).splitlines()[-1])


def pins() -> dict[str, dict[str, int]]:
    tree = ast.parse((NODE / "hardware.py").read_text("utf-8"))
    for part in tree.body:
        if isinstance(part, ast.Assign) and ast.unparse(part.targets[0]) == "PINS":
            found: dict[str, dict[str, int]] = ast.literal_eval(part.value)
            return found
    raise AssertionError("no PINS")


def methods(path: Path) -> dict[str, list[str]]:
    """Public methods of `Board`, with their arguments."""
    tree = ast.parse(path.read_text("utf-8"))
    board = next(part for part in tree.body if isinstance(part, ast.ClassDef) and part.name == "Board")
    defined = [part for part in board.body if isinstance(part, ast.FunctionDef) and part.name[0] != "_"]
    plain = [part for part in defined if not part.decorator_list]
    return {part.name: [argument.arg for argument in part.args.args] for part in plain}


def test_fake_board_has_every_method_of_the_real_one() -> None:
    real, fake = methods(NODE / "hardware.py"), methods(FAKES / "hardware.py")
    assert {name: fake.get(name) for name in real} == real


def test_pins_are_fit_for_what_hangs_on_them() -> None:
    """ESP32 and ESP32-C3 data sheets: strapping pins decide how the chip starts, ADC2 stands still beside
    Wi-Fi, some pins belong to the flash, 34 to 39 of the ESP32 are inputs only."""
    strapping = {"esp32": {0, 2, 5, 12, 15}, "esp32c3": {2, 8, 9}}
    flash = {"esp32": set(range(6, 12)), "esp32c3": set(range(12, 18))}
    adc1 = {"esp32": set(range(32, 40)), "esp32c3": set(range(5))}
    outputs = {"sda", "scl", "one_wire", "moisture_power", "buzzer"}
    for chip, table in pins().items():
        assert len(set(table.values())) == len(table)
        assert {name for name, pin in table.items() if pin in strapping[chip]} == {"button"}
        assert not flash[chip] & set(table.values())
        assert {table["moisture"], table["battery"]} <= adc1[chip]
        assert chip != "esp32" or all(table[name] < 34 for name in outputs)


@pytest.mark.parametrize(
    ("machine", "chip"),
    [("Generic ESP32 module with ESP32", "esp32"), ("ESP32C3 module with ESP32C3", "esp32c3"),
     ("ESP32-C3 board with ESP32-C3", "esp32c3")],
)  # fmt: skip
def test_chip_is_known_by_what_micropython_calls_it(machine: str, chip: str) -> None:
    used = on_chip("b.i2c()\nsay([b.chip, did])", machine=machine)
    assert used[0] == chip
    assert {entry[1] for entry in used[1] if entry[0] == "pin"} == {
        pins()[chip][name] for name in ("sda", "scl", "moisture_power", "buzzer")
    }


def test_ticks_never_wrap() -> None:
    """The chip's own go back to 0 after 2^30 ms, which is 12.4 days."""
    code = "out = []\nfor day in range(40):\n now[0] = day * 86400000\n out.append(b.ticks_ms())\nsay(out)"
    assert on_chip(code, before=2**30 - 1000) == [day * 86_400_000 for day in range(40)]


def test_clock_that_was_never_set_is_none_and_one_that_was_is_a_whole_number() -> None:
    """ESP32 counts from 2000: 843315200 there is 1790000000."""
    assert on_chip("say(b.now_s())") is None
    assert on_chip("say([b.now_s(), str(type(b.now_s()))])", start=843315200) == [1790000000, "<class 'int'>"]


def test_setting_the_clock_gives_the_date_in_the_order_of_the_chip() -> None:
    """machine.RTC.datetime: year, month, day, weekday, hours, minutes, seconds, rest; by date -u."""
    assert on_chip("b.set_now_s(1790000000)\nsay(rtc['set'])") == [2026, 9, 21, 0, 14, 13, 20, 0]


@pytest.mark.parametrize(
    ("cause", "name"),
    [(0, "unknown"), (1, "power"), (2, "software"), (3, "watchdog"), (4, "wake"), (5, "software")],
)
def test_reset_cause_and_memory(cause: int, name: str) -> None:
    """By their numbers in MicroPython's ESP32 port (modmachine.c): 2 is machine.reset() or a crash."""
    kept = "" if name == "power" else "old"
    assert on_chip("say([b.reset_cause(), b.memory().decode()])", cause=cause) == [name, kept]


@pytest.mark.parametrize("clocks", [0, 1, 9])
def test_bus_that_hangs_gets_as_many_clocks_as_it_needs(clocks: int) -> None:
    done = on_chip(f"low[0] = {clocks}\nb.i2c()\nsay([did, low[0]])")
    scl = pins()["esp32"]["scl"]
    assert [entry for entry in done[0] if entry[0] == "level"] == [
        ["level", scl, 0],
        ["level", scl, 1],
    ] * clocks
    assert done[1] == 0
    assert done[0][-1][0] == "i2c"


def test_bus_that_hangs_for_ever_ends_the_attempt() -> None:
    done = on_chip("low[0] = 99\nb.i2c()\nsay(did)")
    assert len([entry for entry in done if entry[0] == "level"]) == 18


def test_sleep_feeds_the_watchdog() -> None:
    """Eight seconds of sleep, and never more than a second without food."""
    code = "b.watchdog(8)\nat = []\nb._dog.feed = lambda: at.append(now[0])\nb.sleep_ms(8000)\nsay(at)"
    fed = on_chip(code)
    assert fed[0] == 0
    assert fed[-1] == 8000
    assert max(after - before for before, after in itertools.pairwise(fed)) <= 1000


def test_wifi_is_waited_for_and_given_up() -> None:
    joined = on_chip("Station.after = 3000\nsay([b.wifi('farm', 'secret', 15000), now[0], did])")
    assert joined[:2] == [True, 3000]
    assert ["connect", "farm", "secret"] in joined[2]
    waited = on_chip("say([b.wifi('farm', 'secret', 15000), now[0]])")
    assert waited[0] is False
    assert 15000 <= waited[1] <= 15200


def test_button_counts_within_two_seconds_of_power_on() -> None:
    """Held before, it would start the chip's own loader."""
    press = "Pin.value = lambda pin, level=None: 0 if now[0] >= {at} else 1\nsay([b.setup_wanted(), now[0]])"
    assert on_chip(press.format(at=1500))[0] is True
    late, waited = on_chip(press.format(at=2500))
    assert late is False
    assert waited <= 2100
    assert on_chip(press.format(at=1500), cause=4) == [False, 0]


def test_one_wire_is_micropythons_own_on_the_right_pin() -> None:
    assert on_chip("b.one_wire()\nsay(did[-1])") == ["wire", pins()["esp32"]["one_wire"]]
