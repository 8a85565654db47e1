"""CPU of a start: `--version`, and `now` in the folder of a demo, beside a bare interpreter with SQLite."""

from __future__ import annotations

import os
import resource
import subprocess
import sys
from pathlib import Path
from typing import Any

# Goals of CPU time, user and system together [s].
VERSION_GOAL_S = 0.15
NOW_GOAL_S = 0.3
ROUNDS = 7


def _cpu_s(*arguments: str) -> float:
    """CPU of one start, the least of several; modules are byte code by then, as after installing."""
    environment = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    times_s = []
    for _ in range(ROUNDS):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run([sys.executable, *arguments], env=environment, stdout=subprocess.DEVNULL, check=False)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        times_s.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
    return min(times_s)


def test_a_start_takes_little_cpu(tmp_path: Path, benchmark: Any, figure: Any) -> None:
    folder = tmp_path / "demo"
    demo = ("-m", "monitor", "demo", "--days", "0.25", "--no-page", "--no-stay", "--folder", str(folder))
    subprocess.run([sys.executable, *demo], stdout=subprocess.DEVNULL, check=True)
    now = ("-m", "monitor", "now", "--config", str(folder / "farm.toml"))
    bare_s, version_s, now_s = benchmark.pedantic(
        lambda: (_cpu_s("-c", "import sqlite3"), _cpu_s("-m", "monitor", "--version"), _cpu_s(*now)), rounds=1
    )
    figure("python -c 'import sqlite3', CPU", bare_s, "s")
    figure("--version, CPU", version_s, "s", at_most=VERSION_GOAL_S)
    figure("now on a demo folder, CPU", now_s, "s", at_most=NOW_GOAL_S)
    figure("now, as a multiple of the bare interpreter", now_s / bare_s)
