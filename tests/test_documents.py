"""The documents say what the program does: commands, settings, errors, alarms, quantities, files."""

from __future__ import annotations

import inspect
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from monitor import errors
from monitor.records import QUANTITIES, Quantity
from monitor.settings.problems import key_facts, keys_at, table_meaning
from monitor.settings.species import AlarmDefault, available_species, load_species

ROOT = Path(__file__).parent.parent
PLAIN_TABLES = (
    "site", "store", "broker", "intake", "messages", "report", "page", "archive", "prices",
)  # fmt: skip
LISTS = ("intake.plain", "places", "nodes", "rules", "recipients", "own_numbers", "copies")
DANGEROUS = re.compile(r"\b(fans?|heaters?|heat mats?|lamps?|plugs?|mains|ladders?)\b", re.IGNORECASE)
NEEDS_SOURCE = ("published", "cited")


def _read(name: str) -> str:
    return (ROOT / name).read_text(encoding="utf-8")


def _commands() -> dict[str, Any]:
    from monitor.cli.app import COMMANDS, load_command

    return {name: load_command(name) for name in COMMANDS}


def _example() -> str:
    return _read("config/farm.example.toml")


def _comments(text: str) -> str:
    """All comment text as one line, so that a wrapped sentence can be found in it."""
    lines = [line.lstrip("# ").strip() for line in text.splitlines() if line.startswith("#")]
    return " ".join(lines)


def test_every_command_has_help_and_stands_in_the_readme() -> None:
    readme, commands = _read("README.md"), _commands()
    assert len(commands) >= 10
    assert [name for name, command in commands.items() if not command.help] == []
    assert [name for name in commands if f"rearing-monitor {name}" not in readme] == []


def test_help_shows_of_each_command_what_its_own_module_says() -> None:
    from monitor.cli.app import COMMANDS

    own = {name: " ".join(command.help.split("\n\n")[0].split()) for name, command in _commands().items()}
    assert own == {name: entry.summary for name, entry in COMMANDS.items()}


def test_every_option_has_help() -> None:
    bare = [
        f"{name} {parameter.name}"
        for name, command in _commands().items()
        for parameter in command.params
        if not getattr(parameter, "help", None) and not getattr(parameter, "hidden", False)
    ]
    assert bare == []


@pytest.mark.parametrize("document", ["README.md", "DEVELOPERS.md"])
def test_every_command_named_in_the_documents_exists(document: str) -> None:
    named = set(re.findall(r"(?:bin/|`|^|\$ )rearing-monitor ([a-z][a-z-]+)", _read(document), re.MULTILINE))
    assert named - set(_commands()) == set()


def test_the_readme_shows_a_command_within_its_first_thirty_lines() -> None:
    head = "\n".join(_read("README.md").splitlines()[:30])
    blocks = re.findall(r"^```[a-z]*\n(.*?)^```", head, re.DOTALL | re.MULTILINE)
    assert any("rearing-monitor demo" in block for block in blocks)
    assert any("pytest" in block for block in blocks)


@pytest.mark.parametrize("table", [*PLAIN_TABLES, *LISTS])
def test_every_setting_stands_in_the_example_with_its_meaning(table: str) -> None:
    location = _location(table)
    text = _example()
    comments = _comments(text)
    assert keys_at(location), f"no table {table}"
    missing = [name for name in _own_keys(location) if not _shown(text, location, name)]
    assert missing == []
    unexplained = [
        name for name in _own_keys(location) if str(key_facts(location, name).meaning) not in comments
    ]
    assert unexplained == []


def test_every_table_is_known_here() -> None:
    tables = {name.partition(".")[0] for name in (*PLAIN_TABLES, *LISTS)}
    assert set(keys_at(())) == tables


@pytest.mark.parametrize("table", [*PLAIN_TABLES, *LISTS])
def test_every_table_of_settings_says_what_it_is_for(table: str) -> None:
    assert str(table_meaning(_location(table))) in _comments(_example())


def _location(table: str) -> tuple[str | int, ...]:
    parts = tuple(table.split("."))
    return (*parts, 0) if table in LISTS else parts


def _own_keys(location: tuple[str | int, ...]) -> list[str]:
    """Keys that hold values; a list of tables inside a table is a table of its own here."""
    path = ".".join(str(part) for part in location)
    return [name for name in keys_at(location) if f"{path}.{name}" not in LISTS]


def _shown(text: str, location: tuple[str | int, ...], name: str) -> bool:
    written = rf"{name}_env|{name}_file" if key_facts(location, name).secret else name
    return re.search(rf"^(?:# ?)?\s*(?:{written})(?: =|:)", text, re.MULTILINE) is not None


def test_the_error_tree_is_drawn_as_it_is() -> None:
    drawn = dict(_drawn_tree(inspect.getdoc(errors) or ""))
    defined = {
        name: each.__bases__[0].__name__
        for name, each in vars(errors).items()
        if inspect.isclass(each) and issubclass(each, Exception) and each is not errors.MonitorError
    }
    assert drawn == defined


def _drawn_tree(text: str) -> Iterator[tuple[str, str]]:
    """(class, parent) of each line of the drawing; four columns are one level."""
    parents = {0: "MonitorError"}
    for line in text.splitlines():
        found = re.match(r"^( *(?:│ *)*)(?:├──|└──) (\w+)", line.removeprefix("    "))
        if found:
            level = len(found[1]) // 4 + 1
            parents[level] = found[2]
            yield found[2], parents[level - 1]


def test_every_error_says_what_it_is_for() -> None:
    classes = [
        each for each in vars(errors).values() if inspect.isclass(each) and issubclass(each, Exception)
    ]
    assert [each.__name__ for each in classes if not each.__doc__] == []


def _alarms() -> list[tuple[str, AlarmDefault]]:
    return [(species, alarm) for species in available_species() for alarm in load_species(species).alarms]


def test_every_default_alarm_tells_what_happens_and_what_to_do() -> None:
    alarms = _alarms()
    assert len(alarms) >= 15
    for species, alarm in alarms:
        where = f"{species}: {alarm.place_kinds[0]} {alarm.quantity} {alarm.side}"
        assert alarm.response.endswith("."), where
        assert alarm.consequence.endswith("."), where
        assert "!" not in alarm.response + alarm.consequence + alarm.caution, where


def test_a_response_that_touches_mains_has_a_caution() -> None:
    bare = [
        alarm.response for _, alarm in _alarms() if DANGEROUS.search(alarm.response) and not alarm.caution
    ]
    assert bare == []


@pytest.mark.parametrize("species", available_species())
def test_every_number_of_a_species_has_mark_and_source(species: str) -> None:
    tables = tomllib.loads(_read(f"monitor/species/{species}.toml"))
    numbers = list(_numbers(tables))
    assert numbers
    assert [where for where, number in numbers if "mark" not in number] == []
    bare = [where for where, number in numbers if number["mark"] in NEEDS_SOURCE and not number.get("source")]
    assert bare == []


def _numbers(table: Any, where: str = "") -> Iterator[tuple[str, dict[str, Any]]]:
    """Every table that holds a value or a setpoint."""
    if isinstance(table, dict):
        if "value" in table or "setpoint" in table:
            yield where, table
        for key, inner in table.items():
            yield from _numbers(inner, f"{where}.{key}")
    elif isinstance(table, list):
        for index, inner in enumerate(table):
            yield from _numbers(inner, f"{where}[{index}]")


@pytest.mark.parametrize("quantity", list(Quantity))
def test_the_firmware_notes_name_every_quantity_with_its_unit(quantity: Quantity) -> None:
    notes = "\n".join(
        path.read_text(encoding="utf-8") for path in sorted((ROOT / "firmware_notes").glob("*.md"))
    )
    unit = QUANTITIES[quantity].unit
    lines = [line for line in notes.splitlines() if f"`{quantity}`" in line]
    assert any(f"`{unit}`" in line for line in lines), f"no line names `{quantity}` with `{unit}`"


def test_every_module_that_the_developers_notes_name_exists() -> None:
    named = re.findall(r"`(?:monitor/)?((?:[a-z_]+/)*[a-z_]+\.py)`", _read("DEVELOPERS.md"))
    assert named
    modules = {path.name for path in (ROOT / "monitor").rglob("*.py")}
    known = [
        any((ROOT / top / name).exists() for top in ("monitor", ".")) or name in modules for name in named
    ]
    assert [name for name, there in zip(named, known, strict=True) if not there] == []
