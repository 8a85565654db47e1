"""The board itself: pins, buses, sleep, Wi-Fi. The only file that knows the chip (ESP32 and ESP32-C3;
tried on neither yet).

../fakes/hardware.py has the same class for a computer.
"""

import time
from sys import implementation

import network
from machine import ADC, RTC, WDT, Pin, SoftI2C, deepsleep, reset, reset_cause
from micropython import const
from onewire import OneWire  # time slots; everything above them is ours

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
# By the numbers of MicroPython's ESP32 port (modmachine.c): 2 is machine.reset() or a crash; a brown-out
# counts as a power-on, so "brownout" never comes from here.
_CAUSES = ("unknown", "power", "software", "watchdog", "wake", "software")
EPOCH_S = 946684800 if time.gmtime(0)[0] == 2000 else 0  # what this port calls 0, in Unix time


class Board:
    """All that the program wants of the hardware."""

    folder = "/"  # where our files live; ends with "/"
    setup_port = 80

    def __init__(self):
        self.chip = "esp32c3" if "C3" in implementation._machine else "esp32"
        self._pins = PINS[self.chip]
        self._ticks, self._tick = 0, time.ticks_ms()
        self._dog = None
        self._station = network.WLAN(network.STA_IF)
        if self.reset_cause() == "power":
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
        """Whole Unix seconds as an **int**, or None. Floats are 32 bits wide on these chips and count Unix
        seconds in steps of 128: never make a float of a Unix time; offsets and `bt` go as ints."""
        now = int(time.time()) + EPOCH_S
        return now if now >= _SET_S else None

    def set_now_s(self, unix_s):
        t = time.gmtime(unix_s - EPOCH_S)
        RTC().datetime(t[:3] + (t[6],) + t[3:6] + (0,))

    # Buses and pins

    def _line(self, name):
        return Pin(self._pins[name], Pin.OPEN_DRAIN, Pin.PULL_UP, value=1)

    def i2c(self):
        """The bus, free again if a chip held its data line low (it was cut off in the middle of a byte: up
        to nine clocks let it finish; I2C specification UM10204, 3.1.16)."""
        sda, scl = self._line("sda"), self._line("scl")
        for _ in range(9):
            if not sda.value():
                for level in (0, 1):
                    scl.value(level)
                    time.sleep_us(10)
        return SoftI2C(scl, sda, freq=50000)

    def one_wire(self):
        return OneWire(self._line("one_wire"))

    def volts(self, which):
        """At the pin, by the chip's own calibration; good from 0.15 to 2.45 V on an ESP32, to 2.5 V on a C3
        (ESP-IDF reference, ADC at 11 dB)."""
        return ADC(Pin(self._pins[which]), atten=ADC.ATTN_11DB).read_uv() / 1000000

    def probe_power(self, on):
        Pin(self._pins["moisture_power"], Pin.OUT, value=on)

    def buzzer(self, on):
        Pin(self._pins["buzzer"], Pin.OUT, value=on)

    def setup_wanted(self):
        """The button, pressed within two seconds **after** power-on: held before, it starts the chip's own
        loader instead."""
        button = Pin(self._pins["button"], Pin.IN, Pin.PULL_UP)
        until = self.ticks_ms() + (_BUTTON_MS if self.reset_cause() == "power" else 0)
        while button.value():
            if self.ticks_ms() >= until:
                return False
            time.sleep_ms(20)
        return True

    # Memory, watchdog, ends

    def reset_cause(self):
        return _CAUSES[reset_cause()]

    def memory(self):
        """RTC memory: since MicroPython 1.22 it survives all but the loss of power."""
        return RTC().memory()

    def set_memory(self, data):
        RTC().memory(data)

    def watchdog(self, seconds):
        self._dog = WDT(timeout=seconds * 1000)

    def feed(self):
        if self._dog:
            self._dog.feed()

    def deep_sleep(self, ms):
        deepsleep(ms)

    def restart(self):
        reset()

    # Network

    def wifi(self, name, password, timeout_ms):
        """Joins the network. Once joined, the chip joins again by itself when it was lost."""
        station = self._station
        try:
            station.active(True)
            if not station.isconnected():
                station.disconnect()
                station.connect(name, password)
        except OSError:
            return False
        while not station.isconnected():
            if timeout_ms < 0:
                return False
            self.sleep_ms(100)
            timeout_ms -= 100
        return True

    def wifi_up(self):
        return self._station.isconnected()

    def rssi_dbm(self):
        return self._station.status("rssi") if self.wifi_up() else None

    def access_point(self, name):
        point = network.WLAN(network.AP_IF)
        point.active(True)
        point.config(ssid=name, security=0)
        return point.ifconfig()[0]
