"""The life of a board that has its card: measure at a steady interval, keep, send, tell how it is, sound.

On mains it stays connected. On a battery it measures at each wake, sends at each `send_every`-th and sleeps.
Every wait has an end; where one had not, the watchdog starts the board anew (node.py).
"""

import binascii
import gc
import json
import os
import sys
from time import ticks_diff, ticks_ms

import sensors
from backlog import Backlog
from clock import Clock
from micropython import const
from sender import Sender

VERSION = "0.2.0"
_BROKEN = (OSError, ValueError)  # a connection that is over; mbedtls raises the second
# Choices of ours, all of them.
_FIRST_WAIT_MS = const(20000)  # boards that get power together spread over this, or their interval
_WIFI_MS = const(15000)
PAUSE_MS, LONGEST_PAUSE_MS = 5000, 160000  # between two rounds over the hosts, doubling
_STEADY_MS = const(60000)  # a connection that lived so long was a good one
_AWAKE_MS = const(40000)  # real time; a board on a battery sleeps again by then
_STEP_MS = const(5000)  # how long a sleep may be
_SOUND_STEP_MS = const(1000)  # with a buzzer it listens more often
_REPORT_MS = const(3600000)
_REPORT_GAP_MS = const(10000)
_MOST_REPORT = const(1000)  # bytes
_ALONE_MS = const(300000)  # nobody watches
_BEEP_EACH_MS = const(60000)
_BEEP_MS = const(200)
_NEVER = const(1 << 60)


def chance(most):
    """A random whole number below `most`."""
    return int.from_bytes(os.urandom(3), "big") % most


# What a board on a battery remembers over its sleep: uptime, wakes, sendings that failed and that it skips,
# when it reported and what stood in it, the cause of its start, whether its rounds got their dates, the host.
_KEPT = ("before_ms", "wakes", "fails", "skip", "report_at", "report_key", "cause", "dated", "host")


class Node:
    def __init__(self, board, settings, client):
        self.board = board
        self.settings = settings
        self.card = card = settings.card
        self.battery = card["power"] == "battery"
        self.root = card["root"] + "/" + card["site"] + "/"
        self.prefix = self.root + card["node"] + "/"
        self.backlog = Backlog(board)
        kept = (0, 0, 0, 0, None, 0, board.reset_cause(), False, 0)
        if kept[6] == "wake":
            kept = self.backlog.kept or kept
        for name, value in zip(_KEPT, kept):
            setattr(self, name, value)
        chip = sensors.Ds3231(board.i2c()) if "ds3231" in card["sensors"] else None
        self.clock = Clock(board, self.before_ms, chip)
        self.client = client
        client.taken = self._taken
        self.sender = Sender(self.backlog, self.clock, self.client, self.prefix, 1 if self.battery else 8)
        self.sounder = False
        self.alone_since = 0  # nobody watches
        self.faults, self.found = None, {}
        self.next_try = self.beep_at = 0
        self.up_since = None
        self.due = self.before_ms
        self._apply()
        self._date()

    def _sleep(self):
        ms = max(100, self.due - self.clock.uptime_ms())
        self.before_ms = self.clock.uptime_ms() + ms
        self.backlog.keep([getattr(self, name) for name in _KEPT])
        self.board.deep_sleep(ms)

    # Measuring

    def _apply(self):
        """The settings in force, at the start and when they change."""
        get = self.settings.get
        self.interval_ms = get("interval_s") * 1000
        self.every = get("send_every") if self.battery else 1
        self.sender.until_s = get("interval_s") * self.every
        self.due = min(self.due, self.clock.uptime_ms() + self.interval_ms)
        self.sensors = sensors.open_all(self.board, self.card["sensors"], get("probes"), self.card["probes"])

    def _date(self):
        """As soon as the time is known, the rounds of this boot that have none get theirs."""
        if self.clock.offset_ms is not None and not self.dated:
            self.dated = True
            self.backlog.date(self.backlog.boot, (self.clock.offset_ms + 500) // 1000)

    def measure(self):
        # Steady, whatever measuring and connecting took; what was missed is left out.
        missed = (self.clock.uptime_ms() - self.due) // self.interval_ms
        self.due += (missed + 1) * self.interval_ms
        values, self.faults, found = sensors.measure(self.sensors, self.board)
        if found != self.found:
            self.found = found
            self.settings.set_probes(found)
        return self.backlog.add(*self.backlog.next_round() + self.clock.now_s() + (values,))

    # The connection

    def _taken(self, topic, payload):
        """What the broker hands us; nothing in it may end the program."""
        name = topic.split("/")[-1]
        try:
            if name == "time":
                said = self.clock.answer(payload)
                if said:
                    self.sender.take_answer(said)
                    self._date()
            elif name == "settings" and payload:
                if not self.settings.take(payload):
                    self._apply()
            elif name == "sounder":
                self.sounder = payload == b"on"
            elif name == "service":
                is_there = payload == b"online"
                self.sender.monitor_says(is_there)
                self.alone_since = _NEVER if is_there else min(self.alone_since, self.clock.uptime_ms())
        except Exception as error:
            sys.print_exception(error)

    def connect(self):
        """Try one host; `_lost` says when to try the next one."""
        gc.collect()
        card, get = self.card, self.settings.get
        host = card["hosts"][self.host]
        try:
            if not self.board.wifi_up() and not self.board.wifi(get("wifi"), get("wifi_password"), _WIFI_MS):
                raise OSError("no_wifi")
            self.board.feed()
            will = self.prefix + "status"
            self.client.open(host, card["port"], card["user"], card["password"], will, card["tls_name"])
            self.client.publish(will, "online", 1, True)
            for name in ("node/time", "node/settings", "sounder", "service"):
                self.client.subscribe(self.root + name.replace("node", card["node"]))
            self.up_since = self.clock.uptime_ms()
            self.sender.connected()
            print("connected to", host)
        except _BROKEN as error:
            self._lost(error)

    def _lost(self, error):
        """The next host at once; after the last of them a pause that grows while none of them lasts."""
        self.client.close()
        now = self.next_try = self.clock.uptime_ms()
        print("no connection:", str(error).strip(), self.card["hosts"][self.host])
        self.alone_since = min(self.alone_since, now)
        if self.up_since is not None and now - self.up_since > _STEADY_MS:
            self.fails = 0
        else:
            self.host = (self.host + 1) % len(self.card["hosts"])
        self.up_since = None
        if not self.host or not self.fails:
            pause = min(PAUSE_MS << min(self.fails, 8), LONGEST_PAUSE_MS)
            self.fails += 1
            self.next_try += pause // 2 + chance(pause // 2)

    def network(self, wait_ms):
        """One step of the connection; True while answers are near."""
        if not self.client.up:
            if self.clock.uptime_ms() >= self.next_try:
                self.connect()
            return False
        try:
            if not self.board.wifi_up():
                raise OSError("no_wifi")
            self.client.turn(wait_ms)
            busy = self.sender.turn()
            self._report()
            return busy
        except _BROKEN as error:
            self._lost(error)

    def send_now(self, one):
        """A round that was just measured goes out before all that waits."""
        if self.client.up:
            try:
                self.sender.now(*one)
            except _BROKEN as error:
                self._lost(error)

    def _report(self):
        if self.faults is None or not (self.sender.answered or self.sender.silence):
            return  # nothing measured yet, or the first answer is near and says what time it is
        now = self.clock.uptime_ms()
        backlog, clock, settings = self.backlog, self.clock, self.settings
        said = {
            "chip": self.board.chip, "boot": backlog.boot, "reset": self.cause, "lost": backlog.lost,
            "damaged": backlog.damaged, "faults": self.faults, "probes": self.found, "clock": clock.source,
            "settings": settings.sum, "refused": settings.refused[:160], "version": VERSION,
        }  # fmt: skip
        key = binascii.crc32(json.dumps(said).encode())
        gap = _REPORT_MS if key == self.report_key else _REPORT_GAP_MS
        if self.report_at is not None and now - self.report_at < gap:
            return
        gc.collect()
        said.update({
            "uptime_s": now // 1000, "waiting": backlog.waiting(),
            "rssi_dbm": self.board.rssi_dbm(), "heap_bytes": gc.mem_free(),
        })  # fmt: skip
        text = json.dumps(said)
        for name in ("probes", "faults"):
            if len(text) > _MOST_REPORT:
                said[name] = {}
                text = json.dumps(said)
        if self.client.publish(self.prefix + "report", text, 1, True):
            self.report_at, self.report_key = now, key

    def _sound(self, now, allowed):
        """While the retained sounder says on; a beep now and then when nobody watches for five minutes.

        Nobody watches when the monitor's own will says so, or when there is no connection: a broker on the
        computer that lost its power sends no will.
        """
        alone = now - self.alone_since >= _ALONE_MS
        if allowed and alone and now >= self.beep_at:
            self.beep_at = now + _BEEP_EACH_MS
            self.board.buzzer(True)
            self.board.sleep_ms(_BEEP_MS)
        # After that long nobody could switch it off any more either.
        self.board.buzzer(allowed and self.sounder and not alone)

    # The two ways to live

    def on_mains(self):
        busy = False
        while True:
            self.board.feed()
            if self.clock.uptime_ms() >= self.due:
                self.send_now(self.measure())
            busy = self.network(50 if busy else 0)
            self.board.waiting = self.backlog.waiting()
            sounds = self.settings.get("buzzer")
            self._sound(self.clock.uptime_ms(), sounds)
            if not busy:
                rest = min(self.due - self.clock.uptime_ms(), _SOUND_STEP_MS if sounds else _STEP_MS)
                self.board.sleep_ms(max(1, rest))

    def on_battery(self):
        one = self.measure()
        self.wakes += 1
        if self.skip > 0:
            self.skip -= 1
        elif self.wakes == 1 or self.wakes % self.every == 0:
            self._send_all(one)
        self.board.waiting = self.backlog.waiting()
        self._sleep()

    def _send_all(self, one):
        fails = self.fails
        for _ in self.card["hosts"]:
            self.board.feed()
            if not self.client.up:
                self.connect()
        start = ticks_ms()
        self.send_now(one)
        while self.client.up and ticks_diff(ticks_ms(), start) < _AWAKE_MS:
            self.board.feed()
            if not self.network(100) and self.sender.is_over():
                break
        self.client.close(True)
        self.fails = self.skip = 0
        if not self.sender.answered:
            # Asking in vain costs more of the battery than measuring: less and less often.
            self.skip = (1 << min(fails, 4)) - 1
            self.fails = fails + 1

    def run(self):
        if self.board.reset_cause() != "wake":
            self.due = self.clock.uptime_ms() + chance(min(_FIRST_WAIT_MS, self.interval_ms))
        if not self.battery:
            self.on_mains()
        self.board.sleep_ms(max(0, self.due - self.clock.uptime_ms()))
        self.on_battery()
