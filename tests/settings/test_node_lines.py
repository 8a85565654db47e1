"""The lines of one board in the settings file: in, changed, out, and nothing else moves."""

from __future__ import annotations

from pathlib import Path

import pytest
from settings_files import ENVIRONMENT, SMALL, write

from monitor.errors import SettingsError, UsageError
from monitor.settings.loading import load
from monitor.settings.node_lines import with_node, without_node
from monitor.settings.schema import Node

NEW = Node(
    id="node-77",
    place="bin-1",
    probes={"p2": "room-1"},
    measures=("p1/substrate_temperature", "p2/substrate_temperature"),
    interval_s=120,
    battery_low_v=3.5,
)


def test_a_board_is_written_behind_the_others(tmp_path: Path) -> None:
    path = write(tmp_path, SMALL)
    text, settings = with_node(path, NEW, ENVIRONMENT)
    assert settings.nodes[-1] == NEW
    assert path.read_text() == SMALL, "nothing is written here"
    path.write_text(text)
    assert load(path, ENVIRONMENT) == settings
    assert 'id = "node-77"\nplace = "bin-1"\nprobes = {p2 = "room-1"}\n' in text
    assert "interval_s = 120\n" in text
    for line in SMALL.splitlines():
        assert line in text


def test_lines_that_stand_there_are_completed_and_their_comments_stay(tmp_path: Path) -> None:
    text = SMALL.replace('place = "bin-1"', 'place = "bin-1"  # under the window\nout_of_service = true')
    path = write(tmp_path, text)
    known = load(path, ENVIRONMENT).nodes[1]
    changed, settings = with_node(path, known.model_copy(update={"interval_s": 30.0}), ENVIRONMENT)
    assert settings.nodes[1].interval_s == 30 and settings.nodes[1].out_of_service
    assert "# under the window" in changed
    again, _ = with_node(path, known, ENVIRONMENT)
    assert "interval_s = 60" in again


def test_a_place_that_is_not_there_is_refused(tmp_path: Path) -> None:
    with pytest.raises(SettingsError, match="bin-9"):
        with_node(write(tmp_path, SMALL), Node(id="n", place="bin-9"), ENVIRONMENT)


@pytest.mark.parametrize("node", ["node-01", "node-02"])
def test_what_was_put_in_and_taken_out_again_leaves_the_file_as_it_was(tmp_path: Path, node: str) -> None:
    path = write(tmp_path, SMALL)
    text, _ = with_node(path, NEW, ENVIRONMENT)
    path.write_text(text)
    left, settings = without_node(path, "node-77", ENVIRONMENT)
    assert left.rstrip() == SMALL.rstrip()
    path.write_text(left)
    left, settings = without_node(path, node, ENVIRONMENT)
    assert [known.id for known in settings.nodes] == [n for n in ("node-01", "node-02") if n != node]


def test_comments_around_what_is_taken_out_stay(tmp_path: Path) -> None:
    start, _, end = SMALL.partition("[[recipients]]")
    nodes = (
        "# the good board\n[[nodes]]  # first\nid = 'a'\n[nodes.probes]\np1 = 'bin-1'\n# below p1\n\n"
        "# the other one\n[[nodes]]\nid = 'b'\n\n# people\n"
    )
    head = start.partition("[[nodes]]")[0]
    path = write(tmp_path, f"{head}{nodes}[[recipients]]{end}")
    left, settings = without_node(path, "a", ENVIRONMENT)
    other = "# the other one\n[[nodes]]\nid = 'b'\n\n# people\n"
    assert left == f"{head}# the good board\n# below p1\n\n{other}[[recipients]]{end}"
    path.write_text(left)
    left, settings = without_node(path, "b", ENVIRONMENT)
    assert settings.nodes == ()
    assert left.endswith(f"# the other one\n# people\n[[recipients]]{end}")


def test_inline_tables_are_left_to_the_person(tmp_path: Path) -> None:
    text = 'nodes = [{ id = "node-01", place = "bin-1" }]\n' + SMALL.partition("[[nodes]]")[0]
    path = write(tmp_path, text)
    with pytest.raises(UsageError, match="by hand"):
        with_node(path, NEW, ENVIRONMENT)
    with pytest.raises(UsageError, match="by hand"):
        without_node(path, "node-01", ENVIRONMENT)
