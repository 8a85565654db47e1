"""Fixtures of the views: a farm on disk, and the program as a person calls it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from cli_farm import Farm, make_farm

from monitor.cli.app import run

Call = Callable[..., tuple[int, str, str]]


@pytest.fixture
def farm(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Farm:
    """A farm without a database, its folder the present one, its secrets set."""
    made = make_farm(tmp_path)
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("REARING_CONFIG", raising=False)
    for name, value in made.environ.items():
        monkeypatch.setenv(name, value)
    return made


@pytest.fixture
def call(capsys: pytest.CaptureFixture[str]) -> Call:
    """Run one command; gives exit code, stdout and stderr."""

    def run_command(*arguments: str | Path) -> tuple[int, str, str]:
        capsys.readouterr()
        code = run([str(each) for each in arguments])
        said = capsys.readouterr()
        return int(code), said.out, said.err

    return run_command
