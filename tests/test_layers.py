"""Layers and purity: the core touches nothing outside itself, and imports point downwards."""

from __future__ import annotations

import ast
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
PURE = (
    "errors.py",
    "records.py",
    "board_records.py",
    "climate",
    "development",
    "bins",
    "yields",
    "alarms",
    "logbook",
    "words",
    "charts",
    "intake/payload.py",
    "intake/senml.py",
    "intake/board_talk.py",
    "intake/node_clock.py",
    "notify/policy.py",
    "notify/delivery.py",
)
OUTSIDE = frozenset(
    {
        "aiohttp", "apprise", "apscheduler", "asyncio", "fastapi", "http", "httpx", "influxdb_client",
        "iotcore", "logging", "os", "paho", "pathlib", "platform", "requests", "rich", "selectors",
        "shutil", "signal", "smtplib", "socket", "sqlite3", "ssl", "starlette", "subprocess", "tempfile",
        "threading", "typer", "urllib", "uvicorn",
    }
)  # fmt: skip
CLOCKS = frozenset(
    {
        ("datetime", "now"), ("datetime", "utcnow"), ("datetime", "today"), ("date", "today"),
        ("time", "time"), ("time", "time_ns"), ("time", "monotonic"), ("time", "monotonic_ns"),
        ("time", "perf_counter"), ("time", "sleep"), ("time", "localtime"), ("Timestamp", "now"),
    }
)  # fmt: skip
CALLS = frozenset({"open", "print", "input", "breakpoint", "exec", "eval"})


def impurities(tree: ast.AST) -> Iterator[str]:
    """Every import, call or statement that ties a module to the world outside its arguments."""
    for node in ast.walk(tree):
        match node:
            case ast.Import(names=names):
                yield from _outside([each.name for each in names])
            case ast.ImportFrom(module=str(module), level=0):
                yield from _outside([module])
            case ast.Global(names=names):
                yield f"global {', '.join(names)}"
            case ast.Call(func=ast.Name(id=name)) if name in CALLS:
                yield f"calls {name}()"
            case ast.Call(func=ast.Attribute(attr=attribute, value=owner)) if _reads_clock(owner, attribute):
                yield f"reads the clock with {attribute}()"


def _outside(modules: list[str]) -> Iterator[str]:
    yield from (f"imports {module}" for module in modules if module.partition(".")[0] in OUTSIDE)


def _reads_clock(owner: ast.expr, attribute: str) -> bool:
    name = owner.attr if isinstance(owner, ast.Attribute) else getattr(owner, "id", "")
    return (name, attribute) in CLOCKS


def _pure_files() -> list[Path]:
    paths = [ROOT / "monitor" / name for name in PURE]
    return sorted(file for path in paths for file in ([path] if path.suffix else path.rglob("*.py")))


@pytest.mark.parametrize("path", _pure_files(), ids=lambda path: str(path.relative_to(ROOT)))
def test_the_core_touches_nothing_outside(path: Path) -> None:
    assert list(impurities(ast.parse(path.read_text(encoding="utf-8")))) == []


def test_the_core_is_all_there() -> None:
    assert [name for name in PURE if not (ROOT / "monitor" / name).exists()] == []
    assert len(_pure_files()) >= 15


@pytest.mark.parametrize(
    ("source", "finding"),
    [
        ("import sqlite3", "imports sqlite3"),
        ("import os.path", "imports os.path"),
        ("from urllib.request import urlopen", "imports urllib.request"),
        ("import datetime\nx = datetime.datetime.now()", "reads the clock with now()"),
        ("import time\nx = time.time()", "reads the clock with time()"),
        ("def f():\n    global x\n    x = 1", "global x"),
        ("print(1)", "calls print()"),
        ("with open('x') as f:\n    pass", "calls open()"),
    ],
)
def test_the_check_sees_what_it_must_not_find(source: str, finding: str) -> None:
    assert list(impurities(ast.parse(source))) == [finding]


def test_the_check_lets_plain_formulas_pass() -> None:
    source = "import math\nimport numpy as np\ndef f(x):\n    return math.exp(x)"
    assert list(impurities(ast.parse(source))) == []


def test_imports_point_downwards() -> None:
    """The contracts of pyproject.toml, checked by import-linter."""
    run = "from importlinter.cli import lint_imports_command as run; run()"
    done = subprocess.run(
        [sys.executable, "-c", run, "--no-cache"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
        env={**os.environ, "NO_COLOR": "1"},
    )
    assert done.returncode == 0, done.stdout + done.stderr
