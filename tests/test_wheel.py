"""The built wheel holds what the program reads: an installed package has no checkout beside it."""

from __future__ import annotations

import subprocess
import sys
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
PACKAGE = ROOT / "monitor"
KINDS = (
    "monitor/species/*.toml",
    "monitor/substrates/*.toml",
    "monitor/words/en/*.ftl",
    "monitor/words/fr/*.ftl",
    "monitor/page/templates/*.html",
    "monitor/sites/templates/*.html",
    "monitor/page/static/*.css",
    "monitor/page/static/*.js",
)


BESIDE = ("monitor/boards/node/", "monitor/boards/fakes/")
"""What `firmware_notes/` lends to the wheel: `board files` hands it on, the demo runs it."""


def _files(folder: Path) -> Iterator[Path]:
    return (path for path in folder.rglob("*") if path.is_file() and "__pycache__" not in path.parts)


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> frozenset[str]:
    """Names of the files in a freshly built wheel."""
    pytest.importorskip("hatchling", reason="hatchling is not installed (extra `test`)")
    folder = tmp_path_factory.mktemp("wheel")
    options = ["--quiet", "--no-deps", "--no-build-isolation", "--disable-pip-version-check"]
    command = [sys.executable, "-m", "pip", "wheel", *options, "--wheel-dir", str(folder), str(ROOT)]
    subprocess.run(command, check=True, capture_output=True)
    (built,) = folder.glob("rearing_monitor-*.whl")
    with zipfile.ZipFile(built) as archive:
        return frozenset(archive.namelist())


def test_the_wheel_holds_every_file_of_the_package(wheel: frozenset[str]) -> None:
    assert {path.relative_to(ROOT).as_posix() for path in _files(PACKAGE)} == {
        name for name in wheel if name.startswith("monitor/") and not name.startswith(BESIDE)
    }


@pytest.mark.parametrize("folder", ["node", "fakes"])
def test_the_wheel_holds_the_program_of_the_boards(wheel: frozenset[str], folder: str) -> None:
    beside = ROOT / "firmware_notes" / folder
    assert {path.relative_to(beside).as_posix() for path in _files(beside)} == {
        name.removeprefix(f"monitor/boards/{folder}/")
        for name in wheel
        if name.startswith(f"monitor/boards/{folder}/")
    }


@pytest.mark.parametrize("kind", KINDS)
def test_the_wheel_holds_the_data(wheel: frozenset[str], kind: str) -> None:
    assert any(Path(name).match(kind) for name in wheel)


def test_the_wheel_starts_the_program(wheel: frozenset[str]) -> None:
    assert any(name.endswith(".dist-info/entry_points.txt") for name in wheel)
