"""The command line in French: help, what `init` writes, what `check` says, and errors."""

from __future__ import annotations

from datetime import UTC
from pathlib import Path

import pytest
from cli_farm import Farm
from command_fixtures import Call
from command_help import help_texts
from settings_files import meanings

from monitor.cli.app import COMMANDS, load_command
from monitor.settings.loading import read
from monitor.terminal.context import stated_language, translate_help
from monitor.words.localizer import Localizer

FRENCH = Localizer.plain("fr", UTC, 0)


@pytest.fixture
def french(monkeypatch: pytest.MonkeyPatch) -> None:
    """A terminal that is set to French."""
    for name in ("LC_ALL", "LC_MESSAGES"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("LANG", "fr_FR.UTF-8")


def untranslated(text: str) -> bool:
    return FRENCH.text(text) == text and text != "Arguments"


@pytest.mark.parametrize("name", COMMANDS)
def test_every_text_of_help_is_there_in_french(name: str) -> None:
    assert [text for text in help_texts(load_command(name)) if untranslated(text)] == []


def test_every_summary_and_panel_is_there_in_french() -> None:
    texts = [text for entry in COMMANDS.values() for text in (entry.summary, entry.panel)]
    assert [text for text in texts if untranslated(text)] == []


def test_every_meaning_of_the_settings_is_there_in_french() -> None:
    said = [*meanings()]
    assert len(said) > 90
    assert [text for text in said if untranslated(text)] == []


def test_help_is_put_into_the_language() -> None:
    command = load_command("cohort")
    translate_help(command, FRENCH)
    begin = command.commands["start"]
    assert begin.help.startswith("Commencer un lot")
    assert begin.epilog.startswith("Exemple : [bold]rearing-monitor cohort start")
    assert {parameter.rich_help_panel for parameter in begin.params} == {"Arguments", "Options"}


@pytest.mark.usefixtures("french")
def test_help_follows_the_terminal_without_settings(
    call: Call, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("HOME", str(tmp_path))
    code, out, _ = call("--help")
    assert code == 0
    assert "Faire tourner" in out
    assert "Afficher cette aide." in out
    assert "Copier tout le site" in call("backup", "--help")[1]


@pytest.mark.usefixtures("french")
def test_init_writes_a_file_in_the_language_of_the_terminal(call: Call, tmp_path: Path) -> None:
    path = tmp_path / "new" / "farm.toml"
    code, out, err = call("init", "--yes", "--config", path)
    assert (code, err) == (0, "")
    assert "Écrit :" in out
    text = path.read_text(encoding="utf-8")
    assert 'language = "fr"' in text
    assert "# altitude en m ; un air plus rare" in text
    assert {place.title for place in read(path, {}).settings.places} >= {"Cage de ponte 1", "Salle 1"}


def test_check_and_errors_speak_the_language_of_the_settings(farm: Farm, call: Call) -> None:
    path = farm.folder / "farm.toml"

    def add(line: str) -> None:
        text = path.read_text(encoding="utf-8")
        path.write_text(text.replace("[site]", f"[site]\n{line}", 1), encoding="utf-8")

    add('language = "fr"')
    code, out, _ = call("check")
    assert code == 0
    assert "ne pose aucun problème" in out
    assert "Contre quoi chaque lieu est surveillé" in out
    assert call("export", path)[2].startswith(f"{path} existe déjà ; rien n’")

    add('colour = "red"')
    code, _, err = call("check")
    assert code == 2
    assert "1 problème dans les réglages :" in err
    assert "pas une clé connue ; permis : id, title" in err


def test_the_language_is_read_from_a_file_with_other_faults(tmp_path: Path) -> None:
    path = tmp_path / "farm.toml"
    for text, language in (
        ('[site]\nlanguage = "fr"\nid = 3', "fr"),
        ("[site]", "en"),
        ('[site]\nlanguage = "xx"', None),
        ("site = 3", None),
        ("[site", "en"),
    ):
        path.write_text(text)
        assert stated_language(path) == language, text
    assert stated_language(tmp_path / "none.toml") is None
