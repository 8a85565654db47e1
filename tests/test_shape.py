"""The shape of the code and of the repository, in numbers that must hold."""

from __future__ import annotations

import ast
import re
import statistics
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
PACKAGE = ROOT / "monitor"
MODULES = sorted(PACKAGE.rglob("*.py"))
TOP_LEVEL = frozenset(
    {".ci", ".gitignore", "DEVELOPERS.md", "LICENSE", "README.md", "config", "firmware_notes", "monitor"}
    | {"pyproject.toml", "tests"}
)
VAGUE_NAMES = frozenset({"utils", "util", "helpers", "helper", "common", "misc", "tools"})
PURE_ROOMS = ("climate", "development", "bins", "alarms", "yields", "logbook")
PURE_MODULES = [path for path in MODULES if path.relative_to(PACKAGE).parts[0] in PURE_ROOMS]
LONGEST_FUNCTION, NINE_IN_TEN, MEDIAN, LONGEST_MODULE = 50, 25, 10, 550

Function = ast.FunctionDef | ast.AsyncFunctionDef

# Written in pieces, so that this file does not find itself.
FORBIDDEN = {
    "a package registry's address": r"(py" + r"pi|python" + r"hosted|registry\.npm" + r"js)\.(org|io|com)",
    "a path of one machine": r"(?<![\w.])/(ro" + r"ot|wo" + r"rk)/",
    "how the work was shared out": r"\bsub-?ag" + r"ents?\b|\b(AI|coding) (assi" + r"stant|ag" + r"ent)",
    "papers of the work": r"\btran" + r"script\b|\bseed docu" + r"ment\b|\bissue tra" + r"cker\b",
    "unfinished work": r"\bTO" + r"DO\b|\bFIX" + r"ME\b|\bX" + r"XX\b",
}


def tracked_files() -> list[Path]:
    """What is in the repository; without git, everything beside this file that is not hidden or generated."""
    if (ROOT / ".git").exists():
        command = ["git", "ls-files", "-z"]
        listing = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True).stdout
        return [ROOT / name for name in listing.split("\0") if name]
    return [path for path in ROOT.rglob("*") if path.is_file() and _ours(path.relative_to(ROOT))]


def _ours(path: Path) -> bool:
    generated = {"__pycache__", ".venv", "build", "dist", ".git"}
    return path.parts[0] in TOP_LEVEL and not generated & set(path.parts)


def _functions(path: Path) -> Iterator[tuple[Function, bool]]:
    """Every function of a module, and whether it is a method."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    for node in ast.walk(tree):
        for child in ast.iter_child_nodes(node):
            if isinstance(child, Function):
                yield child, isinstance(node, ast.ClassDef)


def _public(node: ast.Module | ast.ClassDef) -> Iterator[Function | ast.ClassDef]:
    """Functions, classes and methods without a leading underscore, but none from inside a function."""
    for child in node.body:
        if isinstance(child, Function | ast.ClassDef) and not child.name.startswith("_"):
            yield child
            if isinstance(child, ast.ClassDef):
                yield from _public(child)


def _body_lines(function: Function) -> int:
    """Lines of a function without decorators and docstring."""
    lines = (function.end_lineno or function.lineno) - function.lineno + 1
    if ast.get_docstring(function) is None:
        return lines
    docstring = function.body[0]
    return lines - ((docstring.end_lineno or docstring.lineno) - docstring.lineno + 1)


def _unannotated(function: Function, method: bool) -> list[str]:
    arguments = function.args
    static = any(isinstance(each, ast.Name) and each.id == "staticmethod" for each in function.decorator_list)
    positional = [*arguments.posonlyargs, *arguments.args][1 if method and not static else 0 :]
    others = [*arguments.kwonlyargs, *filter(None, (arguments.vararg, arguments.kwarg))]
    missing = [each.arg for each in (*positional, *others) if each.annotation is None]
    return missing if function.returns is not None else [*missing, "the result"]


def _all_lengths() -> list[tuple[int, str]]:
    return sorted(
        (_body_lines(function), f"{path.relative_to(ROOT)}:{function.name}")
        for path in MODULES
        for function, _ in _functions(path)
    )


def test_no_function_is_long_and_most_are_short() -> None:
    lengths = _all_lengths()
    numbers = [length for length, _ in lengths]
    assert [where for length, where in lengths if length > LONGEST_FUNCTION] == []
    assert statistics.median(numbers) < MEDIAN
    assert numbers[int(0.9 * (len(numbers) - 1))] <= NINE_IN_TEN


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(ROOT)))
def test_a_module_is_short_explained_and_annotated(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    assert len(text.splitlines()) <= LONGEST_MODULE
    assert ast.get_docstring(ast.parse(text)), "has no docstring"
    missing = {function.name: _unannotated(function, method) for function, method in _functions(path)}
    assert {name: what for name, what in missing.items() if what} == {}


@pytest.mark.parametrize(
    "path",
    PURE_MODULES,
    ids=lambda path: path.name,
)
def test_everything_public_in_the_pure_rooms_is_explained(path: Path) -> None:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    assert [node.name for node in _public(tree) if not ast.get_docstring(node)] == []


def test_no_module_has_a_name_that_says_nothing() -> None:
    assert [path for path in MODULES if path.stem in VAGUE_NAMES] == []


def test_tests_have_names_of_their_own() -> None:
    """Without packages in tests/, two files of one name would hide each other."""
    names = [path.name for path in (ROOT / "tests").rglob("test_*.py")]
    assert sorted(names) == sorted(set(names))


def test_nothing_unexpected_lies_at_the_top() -> None:
    top = {path.relative_to(ROOT).parts[0] for path in tracked_files()}
    assert top <= TOP_LEVEL
    assert {"README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml", "monitor", "tests"} <= top


@pytest.mark.parametrize("what", FORBIDDEN)
def test_tracked_files_hold_no(what: str) -> None:
    pattern = re.compile(FORBIDDEN[what], re.IGNORECASE if what != "unfinished work" else 0)
    found = []
    for path in tracked_files():
        # The compressed bytes of a picture are no text, and spell anything by chance.
        if not path.is_file() or path.suffix == ".png":
            continue
        for number, line in enumerate(path.read_text(encoding="utf-8", errors="replace").splitlines(), 1):
            if pattern.search(line):
                found.append(f"{path.relative_to(ROOT)}:{number}: {line.strip()[:80]}")
    assert found == []


@pytest.mark.parametrize(
    ("what", "text"),
    [
        ("a package registry's address", "see https://py" + "pi.org/simple"),
        ("a path of one machine", "open('/ro" + "ot/data.csv')"),
        ("unfinished work", "# TO" + "DO: later"),
        ("papers of the work", "as the tran" + "script says"),
    ],
)
def test_the_patterns_find_what_they_are_for(what: str, text: str) -> None:
    assert re.search(FORBIDDEN[what], text, re.IGNORECASE)


def test_a_room_has_eighteen_modules_at_most() -> None:
    crowded = {
        room.name: count
        for room in PACKAGE.iterdir()
        if room.is_dir() and (count := len(list(room.glob("*.py")))) > 18
    }
    assert not crowded
