"""The board itself: pins, buses, sleep, Wi-Fi. The only file that knows the chip (ESP32 and ESP32-C3;
tried on neither yet).

../fakes/hardware.py has the same class for a computer.
"""

import sys
import time

import machine
import network
from micropython import const

# What is soldered where; the notes' drawings are checked against this table. Chosen so that no pin matters
# at start-up, except the button, which is the one that most boards carry.
PINS = {
    "esp32": {
        "sda": 21,
        "scl": 22,
        "one_wire": 4,
        "moisture": 34,
        "moisture_power": 25,
        "battery": 35,
        "buzzer": 26,
        "button": 0,
    },
    "esp32c3": {
        "sda": 5,
        "scl": 6,
        "one_wire": 7,
        "moisture": 0,
        "moisture_power": 10,
        "battery": 1,
        "buzzer": 3,
        "button": 9,
    },
}
_SLICE_MS = const(500)  # a sleep feeds the watchdog this often
_BUTTON_MS = const(2000)
_SET_S = const(1735689600)  # 2025-01-01: a clock before that was never set
_MEMORY = const(2000)


def _epoch_s():
    """Unix time of what this port calls 0: on ESP32 time counts from 2000."""
    return 946684800 if time.gmtime(0)[0] == 2000 else 0


class Board:
    """All that the program wants of the hardware."""

    folder = "/"  # where our files live; ends with "/"
    setup_port = 80

    def __init__(self):
        name = sys.implementation._machine.upper()
        self.chip = "esp32c3" if "C3" in name else "esp32"
        self.waiting = 0  # how many rounds wait; only the fake shows it
        self._pins = PINS[self.chip]
        self._ticks = 0
        self._tick = time.ticks_ms()
        self._dog = self._wire = None
        self._station = network.WLAN(network.STA_IF)
        self._cause = {
            machine.PWRON_RESET: "power",
            machine.HARD_RESET: "power",
            machine.WDT_RESET: "watchdog",
            machine.DEEPSLEEP_RESET: "wake",
            machine.SOFT_RESET: "software",
        }.get(machine.reset_cause(), "unknown")
        if self._cause == "power":
            self.set_memory(b"")  # after a brown-out the old content may still be there
        self.buzzer(False)
        self.probe_power(False)

    # Time

    def ticks_ms(self):
        """Milliseconds since this start, an int that never wraps (the chip's own does after 12 days):
        plain `-` and `<` are right. Asked at least each 6 days."""
        now = time.ticks_ms()
        self._ticks += time.ticks_diff(now, self._tick)
        self._tick = now
        return self._ticks

    def sleep_ms(self, ms):
        while ms > 0:
            self.feed()
            time.sleep_ms(min(ms, _SLICE_MS))
            ms -= _SLICE_MS
        self.feed()

    def now_s(self):
        """Whole Unix seconds as an **int**, or None. Floats are 32 bit wide on these chips and count Unix
        seconds in steps of 128: never make a float of a Unix time; offsets and `bt` go as ints."""
        now = int(time.time()) + _epoch_s()
        return now if now >= _SET_S else None

    def set_now_s(self, unix_s):
        t = time.gmtime(unix_s - _epoch_s())
        machine.RTC().datetime((t[0], t[1], t[2], t[6], t[3], t[4], t[5], 0))

    # Buses and pins

    def _out(self, name, on):
        machine.Pin(self._pins[name], machine.Pin.OUT, value=1 if on else 0)

    def i2c(self):
        """The bus, free again if a chip held its data line low (it was cut off in the middle of a byte: up
        to nine clocks let it finish; I2C specification UM10204, 3.1.16)."""
        sda = machine.Pin(self._pins["sda"], machine.Pin.OPEN_DRAIN, machine.Pin.PULL_UP, value=1)
        scl = machine.Pin(self._pins["scl"], machine.Pin.OPEN_DRAIN, machine.Pin.PULL_UP, value=1)
        for _ in range(9):
            if sda.value():
                break
            for level in (0, 1):
                scl.value(level)
                time.sleep_us(10)
        return machine.SoftI2C(scl=scl, sda=sda, freq=50000)

    def one_wire(self):
        if self._wire is None:
            self._wire = _OneWire(self._pins["one_wire"])
        return self._wire

    def volts(self, which):
        """At the pin, by the chip's own calibration; good from 0.15 to 2.45 V (maker's data sheet)."""
        adc = machine.ADC(machine.Pin(self._pins[which]), atten=machine.ADC.ATTN_11DB)
        return adc.read_uv() / 1000000

    def probe_power(self, on):
        self._out("moisture_power", on)

    def buzzer(self, on):
        self._out("buzzer", on)

    def setup_wanted(self):
        """The button, pressed within two seconds **after** power-on: held before, it starts the chip's own
        loader instead."""
        if self._cause != "power":
            return False
        button = machine.Pin(self._pins["button"], machine.Pin.IN, machine.Pin.PULL_UP)
        until = self.ticks_ms() + _BUTTON_MS
        while button.value():
            if self.ticks_ms() > until:
                return False
            time.sleep_ms(20)
        return True

    # Memory, watchdog, ends

    def reset_cause(self):
        """MicroPython calls a brown-out a power-on, so "brownout" never comes from here."""
        return self._cause

    def memory(self):
        """RTC memory: survives deep sleep and watchdog, not the loss of power."""
        return machine.RTC().memory()

    def set_memory(self, data):
        if len(data) > _MEMORY:
            raise ValueError("at most 2000 bytes")
        machine.RTC().memory(data)

    def watchdog(self, seconds):
        self._dog = machine.WDT(timeout=seconds * 1000)

    def feed(self):
        if self._dog:
            self._dog.feed()

    def deep_sleep(self, ms):
        machine.deepsleep(ms)

    def restart(self):
        machine.reset()

    # Network

    def wifi(self, name, password, timeout_ms):
        """Joins the network. Once joined, the chip joins again by itself when it was lost."""
        try:
            if not self._station.active():
                self._station.active(True)
            if not self._station.isconnected():
                self._station.disconnect()
                self._station.connect(name, password)
        except OSError:
            return False
        until = self.ticks_ms() + timeout_ms
        while not self._station.isconnected():
            if self.ticks_ms() > until:
                return False
            self.sleep_ms(100)
        return True

    def wifi_up(self):
        return self._station.isconnected()

    def rssi_dbm(self):
        try:
            return self._station.status("rssi")
        except (OSError, ValueError):
            return None

    def access_point(self, name):
        point = network.WLAN(network.AP_IF)
        point.active(True)
        point.config(ssid=name, security=0)
        return point.ifconfig()[0]


class _OneWire:
    """Time slots by MicroPython's own C code; everything above them is ours."""

    def __init__(self, pin):
        import _onewire

        self._slots = _onewire
        self._pin = machine.Pin(pin, machine.Pin.OPEN_DRAIN, machine.Pin.PULL_UP)

    def reset(self):
        return bool(self._slots.reset(self._pin))

    def read_bit(self):
        return self._slots.readbit(self._pin)

    def write_bit(self, bit):
        self._slots.writebit(self._pin, bit)

    def read(self, count):
        return bytes(self._slots.readbyte(self._pin) for _ in range(count))

    def write(self, data):
        for byte in data:
            self._slots.writebyte(self._pin, byte)
