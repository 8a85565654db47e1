"""One board of the demo runs the real board program: under MicroPython, with played hardware, in farm time.

The farm says what is so around the board and what time it is; the board measures, keeps, connects and sends
by itself, with its own MQTT client, and asks the monitor for the time as on a farm. Each minute is one
exchange, and runs beside the demo's other work. Without MicroPython the simulated board stays.
"""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from collections.abc import Callable, Mapping
from contextlib import suppress
from pathlib import Path
from typing import IO

from monitor.boards.card import MAINS, Card
from monitor.boards.program import fakes_folder, program_folder
from monitor.errors import UsageError
from monitor.records import Quantity
from monitor.settings.schema import BrokerSettings

NODE = "node-02"
"""Of the room of the bins: it keeps a backlog, and lives through the power cut."""
SENSORS = ("sht4x", "battery")
WORLD_KEYS = {
    Quantity.AIR_TEMPERATURE: "air_temperature_c",
    Quantity.AIR_HUMIDITY: "air_humidity_percent",
    Quantity.BATTERY: "battery_v",
}
SIGNAL_DBM = -61
START_S = 20.0
WIFI = ("saltbush-yard", "invented-password")
_PATH = "import sys\nsys.path[:] = {folders!r} + sys.path\n"
_TAKE_CARD = (
    _PATH
    + "import hardware, settings\nprint(settings.Settings(hardware.Board()).take_card({card!r}, *{wifi!r}))"
)
_RUN = (
    _PATH
    + """import hardware, mqtt
sent = [0]
publish, close, turn = mqtt.Client.publish, mqtt.Client.close, mqtt.Client.turn
sleep_ms = hardware.Time.sleep_ms

def counted_publish(self, topic, *more):
    done = publish(self, topic, *more)
    if done:
        sent[0] += 1
        if topic.endswith("/ask"):
            print("asked", sent[0])
    return done

def counted_close(self, politely=False):
    # The broker then publishes the last will.
    sent[0] += bool(self.sock and self.up and not politely)
    return close(self, politely)

def quick_turn(self, wait_ms=0):
    # Both write in small pieces and would wait 40 ms for each: TCP_NODELAY, TCP_QUICKACK of Linux.
    if self.sock:
        self.sock.setsockopt(6, 1, 1)
        self.sock.setsockopt(6, 12, 1)
    return turn(self, wait_ms)

def said_sleep(self, ms):
    if ms > hardware.LONG_SLEEP_MS:
        print("sleeps", sent[0])
    return sleep_ms(self, ms)

mqtt.Client.publish, mqtt.Client.close, mqtt.Client.turn = counted_publish, counted_close, quick_turn
hardware.Time.sleep_ms = said_sleep
# The farm's time alone, so that the same seed gives the same readings whatever this computer is doing.
hardware.Time.ticks_ms = lambda self: self.world_ms() - self._start
import main
"""
)
"""Beside the program, what the demo needs to know: how many messages went out, and when it waits."""


def interpreter() -> str | None:
    """MicroPython beside this Python, or on the path."""
    beside = shutil.which("micropython", path=str(Path(sys.executable).parent))
    return beside or shutil.which("micropython")


class RealBoard:
    """The board's process. When it cannot be started, or has ended, `plays` is False."""

    node = NODE

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._process: subprocess.Popen[str] | None = None
        self._awaited = False
        self.published = 0

    @property
    def plays(self) -> bool:
        """Whether it stands in for the simulated board."""
        return self._process is not None

    def start(self, broker: BrokerSettings, site: str, now_ms: int) -> None:
        """Give it its card and switch it on; without MicroPython, or where that fails, it stays off."""
        program = interpreter()
        if program is None:
            return
        with suppress(OSError, subprocess.SubprocessError, UsageError):
            self._prepare(program, _card(broker, site))
            self._switch_on(program, now_ms)

    def _prepare(self, program: str, card: Card) -> None:
        shutil.rmtree(self._folder, ignore_errors=True)
        self._folder.mkdir(parents=True)
        self._write_world({}, reachable=True)
        code = _TAKE_CARD.format(folders=_folders(), card=card.text, wifi=WIFI)
        done = subprocess.run(
            [program, "-c", code],
            env={"NODE_WORLD": str(self._folder)},
            capture_output=True,
            text=True,
            timeout=START_S,
            check=True,
        )
        if done.stdout.strip():
            raise subprocess.SubprocessError(done.stdout)
        (self._folder / "rtc.bin").unlink(missing_ok=True)

    def _switch_on(self, program: str, now_ms: int) -> None:
        environment = {"NODE_WORLD": str(self._folder), "NODE_TIME": "lockstep", "NODE_NOW_MS": str(now_ms)}
        with (self._folder / "errors.txt").open("w", encoding="utf-8") as errors:
            self._process = subprocess.Popen(
                [program, "-c", _RUN.format(folders=_folders())],
                env=environment,
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=errors,
                text=True,
            )
        self._awaited = True

    def step(self, now_ms: int, values: Mapping[str, float], reachable: bool) -> None:
        """It is now so late, and this is what its sensors see; what it does with that, `follow` waits for."""
        if self._process is None or self._process.stdin is None:
            return
        self._write_world(values, reachable)
        try:
            self._process.stdin.write(f'{{"now_ms": {now_ms}}}\n')
            self._process.stdin.flush()
            self._awaited = True
        except OSError:
            self.stop()

    def _write_world(self, values: Mapping[str, float], reachable: bool) -> None:
        seen = {WORLD_KEYS[Quantity(name)]: value for name, value in values.items()}
        world = {"chips": ["sht4x"], "rssi_dbm": SIGNAL_DBM, "wifi": reachable, **seen}
        beside = self._folder / "world.new"
        beside.write_text(json.dumps(world), encoding="utf-8")
        beside.replace(self._folder / "world.json")

    def follow(self, answer: Callable[[], None]) -> None:
        """Return when the board sleeps. When it asks the monitor, `answer` lets the monitor answer it."""
        while self._awaited and self._process is not None and self._process.stdout is not None:
            self._hear(self._process.stdout, answer)

    def _hear(self, said: IO[str], answer: Callable[[], None]) -> None:
        line = said.readline()
        word, _, count = line.partition(" ")
        if not line:
            self.stop()
        elif word in ("asked", "sleeps"):
            self.published = int(count)
            self._awaited = word == "asked"
            if self._awaited:
                answer()

    def stop(self) -> None:
        """Switch it off."""
        process, self._process, self._awaited = self._process, None, False
        if process is None:
            return
        process.kill()
        process.wait()
        for pipe in (process.stdin, process.stdout):
            if pipe is not None:
                with suppress(OSError):
                    pipe.close()


def _folders() -> list[str]:
    return [str(fakes_folder()), str(program_folder())]


def _card(broker: BrokerSettings, site: str) -> Card:
    """Without encryption: the demo's broker listens on this computer alone."""
    return Card(
        root=broker.topic_root,
        site=site,
        node=NODE,
        hosts=(broker.host,),
        port=broker.port,
        tls_name="",
        user=NODE,
        password="invented",
        interval_s=60,
        send_every=1,
        power=MAINS,
        sensors=SENSORS,
    )
