"""Cut a piece of work at a random moment, as the power does: a process of its own that is killed.

One process without threads forks for each cut, so that nothing has to be imported a thousand times. Run as
`python cuts.py MODULE:FUNCTION`; each line of its input is a delay in seconds and the arguments, as JSON.
"""

from __future__ import annotations

import importlib
import json
import os
import random
import signal
import subprocess
import sys
import time
from types import TracebackType
from typing import Self


class Cutter:
    """Calls a function in a process that is killed after a while."""

    def __init__(self, function: str) -> None:
        self._longest_s: float | None = None
        self._process = subprocess.Popen(
            [sys.executable, __file__, function],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            env={**os.environ, "PYTHONPATH": ":".join(path for path in sys.path if path)},
        )
        # What it imports is no part of what a function takes.
        assert self._process.stdout is not None and self._process.stdout.readline().strip() == "ready"

    def cut_somewhere(self, luck: random.Random, *arguments: str) -> bool:
        """Cut at a random moment of the time that it takes, as far as that is known on a busy machine."""
        if self._longest_s is None:
            began_s = time.monotonic()
            was_cut = self.cut(60.0, *arguments)
            self._longest_s = time.monotonic() - began_s
            return was_cut
        was_cut = self.cut(luck.uniform(0, self._longest_s), *arguments)
        self._longest_s *= 1.03 if was_cut else 0.9
        return was_cut

    def cut(self, after_s: float, *arguments: str) -> bool:
        """Whether it was cut; False where it had ended before."""
        assert self._process.stdin is not None and self._process.stdout is not None
        self._process.stdin.write(json.dumps([after_s, *arguments]) + "\n")
        self._process.stdin.flush()
        answer = self._process.stdout.readline().strip()
        assert answer in ("cut", "ended"), answer
        return answer == "cut"

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        assert self._process.stdin is not None and self._process.stdout is not None
        self._process.stdin.close()
        self._process.wait(30)
        self._process.stdout.close()


def _ended(child: int, after_s: float) -> int:
    """Wait for a child, at most so long; then kill it. Gives its status."""
    until_s = time.monotonic() + after_s
    while (left_s := until_s - time.monotonic()) > 0:
        ended, status = os.waitpid(child, os.WNOHANG)
        if ended:
            return status
        time.sleep(min(left_s, 0.001))
    os.kill(child, signal.SIGKILL)
    return os.waitpid(child, 0)[1]


def _serve(named: str) -> None:
    module, _, name = named.partition(":")
    function = getattr(importlib.import_module(module), name)
    print("ready", flush=True)
    for line in sys.stdin:
        after_s, *arguments = json.loads(line)
        child = os.fork()
        if child == 0:
            function(*arguments)
            os._exit(0)
        status = _ended(child, after_s)
        was_cut = os.WIFSIGNALED(status)
        print("cut" if was_cut else "ended" if status == 0 else f"failed {status}", flush=True)


if __name__ == "__main__":
    _serve(sys.argv[1])
