"""Writing farm.toml: comments stay, a backup is kept, nothing is left half done."""

from __future__ import annotations

import stat
from pathlib import Path

import pytest
from settings_files import ENVIRONMENT, SMALL, write

from monitor.errors import SettingsError, UsageError
from monitor.settings.loading import load
from monitor.settings.writing import place_node, write_file, write_secret


@pytest.fixture(autouse=True)
def _address(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("OWNER_ADDRESS", ENVIRONMENT["OWNER_ADDRESS"])


def test_a_node_is_placed_and_every_comment_stays(tmp_path: Path) -> None:
    text = SMALL.replace('place = "bin-1"', 'place = "bin-1"  # under the window')
    path = write(tmp_path, text)

    settings = place_node(path, "node-02", "room-1")
    assert settings.nodes[1].place == "room-1"
    assert path.read_text() == text.replace('place = "bin-1"', 'place = "room-1"')
    assert (tmp_path / "farm.toml.backup").read_text() == text
    assert stat.S_IMODE(path.stat().st_mode) == 0o600


def test_an_unknown_node_is_added(tmp_path: Path) -> None:
    path = write(tmp_path, SMALL)
    place_node(path, "node-77", "bin-1")

    assert [node.id for node in load(path).nodes] == ["node-01", "node-02", "node-77"]
    assert path.read_text().startswith(SMALL.partition("[[recipients]]")[0])


def test_a_node_is_added_to_a_file_without_nodes(tmp_path: Path) -> None:
    path = write(tmp_path, SMALL.partition("[[nodes]]")[0])
    place_node(path, "node-77", "bin-1")

    assert load(path).nodes[0].place == "bin-1"


def test_a_place_that_does_not_exist_leaves_the_file_alone(tmp_path: Path) -> None:
    path = write(tmp_path, SMALL)
    with pytest.raises(SettingsError, match="bin-9"):
        place_node(path, "node-02", "bin-9")

    assert path.read_text() == SMALL
    assert [entry.name for entry in tmp_path.iterdir()] == ["farm.toml"]


def test_nodes_written_inline_are_left_to_the_person(tmp_path: Path) -> None:
    text = 'nodes = [{ id = "node-01", place = "bin-1" }]\n' + SMALL.partition("[[nodes]]")[0]
    path = write(tmp_path, text)
    with pytest.raises(UsageError, match="by hand"):
        place_node(path, "node-01", "room-1")

    assert path.read_text() == text


def test_a_file_is_not_replaced_unless_forced_and_then_kept(tmp_path: Path) -> None:
    path = tmp_path / "new" / "farm.toml"
    assert write_file(path, "one") is None
    with pytest.raises(UsageError, match="--force"):
        write_file(path, "two")
    assert path.read_text() == "one"

    kept = write_file(path, "two", force=True)
    assert kept is not None
    assert (path.read_text(), kept.read_text()) == ("two", "one")


def test_a_secret_is_written_for_its_owner_alone(tmp_path: Path) -> None:
    path = tmp_path / "secrets" / "owner"
    write_secret(path, "mailtos://a")

    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert path.read_text() == "mailtos://a\n"


def test_a_failed_write_leaves_no_trace(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "farm.toml"
    write_file(path, "one")

    def refuse(*_: object) -> None:
        raise OSError("no room")

    monkeypatch.setattr("os.fsync", refuse)
    with pytest.raises(OSError, match="no room"):
        write_file(path, "two", force=True)
    assert path.read_text() == "one"
    assert sorted(entry.name for entry in tmp_path.iterdir()) == ["farm.toml", "farm.toml.backup"]
