"""The program of a board: measure at a steady interval, keep, send, tell how it is, sound.

On mains it stays connected. On a battery it measures at each wake, sends at each `send_every`-th and sleeps.
Every wait has an end; where one had not, the watchdog starts the board anew.
"""

import binascii
import gc
import json
import os
import sys
from time import ticks_diff, ticks_ms

import mqtt
import sensors
from backlog import Backlog
from clock import Clock
from hardware import Board
from sender import Sender
from settings import Settings

VERSION = "0.1.0"
WATCHDOG_S = 60  # choice: above the longest bounded wait without a feed, joining the Wi-Fi or TLS
FIRST_WAIT_MS = 20000  # choice: boards that get power together spread over this, or their interval
WIFI_MS = 15000
PAUSE_MS, LONGEST_PAUSE_MS = 5000, 300000  # choice: between rounds over the hosts, doubling
STEADY_MS = 60000  # a connection that lived so long was a good one
AWAKE_MS = 40000  # real time; a board on a battery sleeps again by then
STEP_MS, SOUND_STEP_MS = 5000, 1000  # how long a sleep may be; with a buzzer it listens more often
REPORT_MS, REPORT_GAP_MS = 3600000, 10000
ALONE_MS, BEEP_EACH_MS, BEEP_MS = 300000, 60000, 200  # nobody watches
MOST_REPORT = 1000  # bytes
CRASH_PAUSE_MS = 20000


def chance(most):
    """A random whole number below `most`."""
    return int.from_bytes(os.urandom(3), "big") % max(1, most)


class Buzzer:
    """Sounds while the retained sounder says on; beeps when nobody watches for five minutes.

    Nobody watches when the monitor's own will says so, or when there is no connection: a broker on the
    computer that lost its power sends no will.
    """

    def __init__(self, board, now):
        self.board = board
        self.wanted = False
        self.alone_since = now
        self.beep_at = 0
        self.on = False

    def take(self, name, payload, now):
        if name == "sounder":
            self.wanted = payload == b"on"
        elif payload == b"online":
            self.alone_since = None
        else:
            self.alone(now)

    def alone(self, now):
        if self.alone_since is None:
            self.alone_since = now

    def turn(self, now, allowed):
        alone = self.alone_since is not None and now - self.alone_since >= ALONE_MS
        # After that long nobody could switch it off any more either.
        self._set(allowed and self.wanted and not alone)
        if allowed and alone and now >= self.beep_at:
            self.beep_at = now + BEEP_EACH_MS
            self._set(True)
            self.board.sleep_ms(BEEP_MS)
            self._set(False)

    def _set(self, on):
        if on != self.on:
            self.on = on
            self.board.buzzer(on)


class Node:
    def __init__(self, board, settings):
        self.board = board
        self.settings = settings
        card = settings.card
        self.card = card
        self.battery = card["power"] == "battery"
        self.root = "%s/%s/" % (card["root"], card["site"])
        self.prefix = self.root + card["node"] + "/"
        self.ca = binascii.a2b_base64(card["ca"])
        self.backlog = Backlog(board)
        self._recall()
        chip = sensors.Ds3231(board.i2c()) if "ds3231" in card["sensors"] else None
        self.clock = Clock(board, self.before_ms, chip)
        self.client = mqtt.Client(self._taken)
        self.sender = Sender(self.backlog, self.clock, self.client, self.prefix, 1 if self.battery else 8)
        self.buzzer = Buzzer(board, self.clock.uptime_ms())
        self.faults, self.found = None, {}
        self.host = self.cycle = 0
        self.next_try, self.up_since = 0, None
        self._apply()
        self._date()

    # What a board on a battery remembers over its sleep.

    def _recall(self):
        self.before_ms = self.due = self.wakes = self.fails = self.skip = 0
        self.report_at, self.report_key = None, 0
        self.cause = self.board.reset_cause()
        self.dated = False
        if self.cause == "wake":
            try:
                (
                    self.before_ms, self.wakes, self.fails, self.skip, self.report_at, self.report_key,
                    self.cause, self.dated, self.host,
                ) = json.loads(self.backlog.kept)  # fmt: skip
            except (ValueError, TypeError):
                pass
        self.due = self.before_ms

    def _sleep(self):
        ms = max(100, self.due - self.clock.uptime_ms())
        kept = [
            self.clock.uptime_ms() + ms, self.wakes, self.fails, self.skip, self.report_at, self.report_key,
            self.cause, self.dated, self.host,
        ]  # fmt: skip
        self.backlog.keep(json.dumps(kept).encode())
        self.board.deep_sleep(ms)

    # Measuring

    def _apply(self):
        """The settings in force, at the start and when they change."""
        self.interval_ms = self.settings.get("interval_s") * 1000
        self.every = self.settings.get("send_every") if self.battery else 1
        self.due = min(self.due, self.clock.uptime_ms() + self.interval_ms)
        self.sender.until_s = self.interval_ms * self.every // 1000
        self.sensors = sensors.open_all(
            self.board, self.card["sensors"], self.settings.get("probes"), self.card["probes"]
        )

    def _date(self):
        """As soon as the time is known, the rounds of this boot that have none get theirs."""
        if self.clock.offset_ms is not None and not self.dated:
            self.dated = True
            self.backlog.date(self.backlog.boot, (self.clock.offset_ms + 500) // 1000)

    def measure(self):
        values, self.faults, found = sensors.measure(self.sensors, self.board)
        if found != self.found:
            self.found = found
            self.settings.set_probes(found)
        at_s, dated = self.clock.now_s()
        boot, sequence = self.backlog.next_round()
        self.backlog.add(boot, sequence, at_s, dated, values)
        return boot, sequence, at_s, dated, values

    # The connection

    def _taken(self, topic, payload):
        """What the broker hands us; nothing in it may end the program."""
        try:
            name = topic[len(self.prefix) :] if topic.startswith(self.prefix) else topic[len(self.root) :]
            if name == "time":
                said = self.clock.answer(payload)
                if said:
                    self.sender.take_answer(said)
                    self._date()
            elif name == "settings":
                if payload and not self.settings.take(payload):
                    self._apply()
            elif name in ("sounder", "service"):
                self.buzzer.take(name, payload, self.clock.uptime_ms())
                if payload == b"online":
                    self.sender.monitor_is_there()
        except Exception as error:
            sys.print_exception(error)

    def connect(self):
        """One host, once; False with the next try set when that fails."""
        gc.collect()
        host = self.card["hosts"][self.host]
        try:
            if not self.board.wifi_up() and not self.board.wifi(
                self.settings.get("wifi"), self.settings.get("wifi_password"), WIFI_MS
            ):
                raise mqtt.Broken("no_wifi")
            self.board.feed()
            card = self.card
            self.client.open(
                host, card["port"], card["node"], card["user"], card["password"],
                (self.prefix + "status", "offline"), 60, self.ca, card["tls_name"],
            )  # fmt: skip
            self.client.publish(self.prefix + "status", "online", 1, True)
            self.client.subscribe(
                [self.prefix + "time", self.prefix + "settings", self.root + "sounder", self.root + "service"]
            )
        except mqtt.Broken as error:
            self._lost(error, host)
            return False
        self.up_since = self.clock.uptime_ms()
        self.sender.connected()
        print("connected to", host)
        return True

    def _lost(self, error, host=""):
        """The next host at once; after the last of them a pause that grows while none of them lasts."""
        self.client.close(False)
        now = self.clock.uptime_ms()
        print("no connection:", error.args[0], host)
        self.buzzer.alone(now)
        steady = self.up_since is not None and now - self.up_since > STEADY_MS
        self.up_since = None
        self.next_try = now
        if steady:
            self.cycle = 0
        else:
            self.host = (self.host + 1) % len(self.card["hosts"])
            if self.host:
                return
        pause = min(PAUSE_MS << min(self.cycle, 8), LONGEST_PAUSE_MS)
        self.cycle += 1
        self.next_try += pause // 2 + chance(pause // 2)

    def network(self, wait_ms=0):
        """One step of the connection; True while answers are near."""
        if not self.client.up and (self.clock.uptime_ms() < self.next_try or not self.connect()):
            return False
        try:
            if not self.board.wifi_up():
                raise mqtt.Broken("no_wifi")
            self.client.turn(wait_ms)
            busy = self.sender.turn()
            self._report()
            return busy
        except mqtt.Broken as error:
            self._lost(error)
            return False

    def send_now(self, one):
        """A round that was just measured goes out before all that waits."""
        if self.client.up:
            try:
                self.sender.now(*one)
            except mqtt.Broken as error:
                self._lost(error)

    # The report

    def _report(self):
        if self.faults is None or not (self.sender.answered or self.sender.silence):
            return  # nothing measured yet, or the first answer is near and says what time it is
        now = self.clock.uptime_ms()
        key = [
            self.faults, self.found, self.settings.sum, self.settings.refused, self.clock.source,
            self.backlog.boot, self.backlog.lost, self.backlog.damaged,
        ]  # fmt: skip
        key = binascii.crc32(json.dumps(key).encode())
        if self.report_at is not None:
            passed = now - self.report_at
            if passed < (REPORT_GAP_MS if key != self.report_key else REPORT_MS):
                return
        gc.collect()
        said = {
            "version": VERSION, "chip": self.board.chip, "boot": self.backlog.boot, "reset": self.cause,
            "uptime_s": now // 1000, "clock": self.clock.source, "waiting": self.backlog.waiting(),
            "lost": self.backlog.lost, "damaged": self.backlog.damaged, "faults": self.faults,
            "probes": self.found, "rssi_dbm": self.board.rssi_dbm(), "heap_bytes": gc.mem_free(),
            "settings": self.settings.sum, "refused": self.settings.refused[:160],
        }  # fmt: skip
        text = json.dumps(said)
        for key_left_out in ("probes", "faults"):
            if len(text) > MOST_REPORT:
                said[key_left_out] = {}
                text = json.dumps(said)
        if self.client.publish(self.prefix + "report", text, 1, True) is not None:
            self.report_at, self.report_key = now, key

    # The two ways to live

    def on_mains(self):
        busy = False
        while True:
            self.board.feed()
            if self.clock.uptime_ms() >= self.due:
                self._next_due()
                self.send_now(self.measure())
            busy = self.network(50 if busy else 0)
            self.board.waiting = self.backlog.waiting()
            sounds = self.settings.get("buzzer")
            self.buzzer.turn(self.clock.uptime_ms(), sounds)
            if not busy:
                rest = min(self.due - self.clock.uptime_ms(), SOUND_STEP_MS if sounds else STEP_MS)
                self.board.sleep_ms(max(1, rest))

    def _next_due(self):
        """Steady, whatever measuring and connecting took; what was missed is left out."""
        missed = (self.clock.uptime_ms() - self.due) // self.interval_ms
        self.due += (missed + 1) * self.interval_ms

    def on_battery(self):
        self._next_due()
        one = self.measure()
        self.wakes += 1
        if self.skip > 0:
            self.skip -= 1
        elif self.wakes == 1 or self.wakes % self.every == 0:
            self._send_all(one)
        self.board.waiting = self.backlog.waiting()
        self._sleep()

    def _send_all(self, one):
        for _ in self.card["hosts"]:
            self.board.feed()
            if self.connect():
                break
        start = ticks_ms()
        self.send_now(one)
        while self.client.up and ticks_diff(ticks_ms(), start) < AWAKE_MS:
            self.board.feed()
            if not self.network(100) and self.sender.is_over():
                break
        self.client.close()
        if self.sender.answered:
            self.fails = 0
        else:
            # Asking in vain costs more of the battery than measuring: less and less often.
            self.skip = (1 << min(self.fails, 4)) - 1
            self.fails += 1

    def run(self):
        if self.board.reset_cause() != "wake":
            self.due = self.clock.uptime_ms() + chance(min(FIRST_WAIT_MS, self.interval_ms))
        if not self.battery:
            self.on_mains()
        while self.clock.uptime_ms() < self.due:
            self.board.sleep_ms(min(1000, self.due - self.clock.uptime_ms()))
        self.on_battery()


def run():
    board = Board()
    board.watchdog(WATCHDOG_S)
    try:
        settings = Settings(board)
        if settings.card is None or board.setup_wanted():
            import setup_page

            setup_page.serve(board, settings)
        Node(board, settings).run()
    except Exception as error:  # a slip of ours: start anew, slowly, and keep measuring
        gc.collect()
        sys.print_exception(error)
        board.sleep_ms(CRASH_PAUSE_MS)
        board.restart()
