"""Settings for boards: published for those that report, once, and cleared for those that are removed."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from service_farm import MINUTE, T0, farm

from monitor.boards.board_settings import is_older, program_version, settings_of
from monitor.boards.card import checksum
from monitor.records import IncomingMessage
from monitor.service import Service
from monitor.settings.plan import build_plan
from monitor.settings.schema import Node, Settings


def report(node: str = "node-1", at_ms: int = T0, **more: object) -> IncomingMessage:
    body = {"version": "0.1.0", "boot": 1, **more}
    return IncomingMessage(f"rearing/yard/{node}/report", json.dumps(body).encode(), at_ms)


class Turned:
    """A service whose turns are made by hand, and what it published, retained."""

    def __init__(self, folder: Path, **tables: Any) -> None:
        self.folder, self.now_ms, self.away = folder, T0, False
        self.service = Service(farm(folder, **tables), clock=lambda: self.now_ms, inline=True)
        self.service.prepare()
        self.said: list[tuple[str, Any]] = []
        processor = self.service.processor
        # As at the start: what was published before this was remembered by the connection alone.
        fresh = replace(processor.board_settings, publish=self._publish, _nodes=None, _sent={})
        processor.board_settings = fresh

    def _publish(self, topic: str, payload: bytes, retain: bool = False) -> bool:
        assert retain
        self.said.append((topic.removeprefix("rearing/yard/"), json.loads(payload) if payload else None))
        return not self.away

    def turn(self, *messages: IncomingMessage) -> list[tuple[str, Any]]:
        self.said.clear()
        self.service.processor.process(messages, self.now_ms)
        return list(self.said)

    def change(self, settings: Settings) -> list[tuple[str, Any]]:
        self.said.clear()
        self.service.processor.change_plan(build_plan(settings), self.now_ms)
        return self.turn()


def nodes(**of_first: object) -> tuple[dict[str, object], ...]:
    return ({"id": "node-1", "place": "bin-1", **of_first}, {"id": "node-2", "place": "bin-2"})


@pytest.fixture
def turned(tmp_path: Path) -> Iterator[Turned]:
    codes = {"28ff641dc1160364": "p1"}
    made = Turned(tmp_path, nodes=nodes(interval_s=30, send_every=2, probe_codes=codes, buzzer=False))
    made.turn()
    yield made
    made.service.store.close()


def test_a_board_that_reports_gets_its_settings_once(turned: Turned) -> None:
    values = {"interval_s": 30, "send_every": 2, "probes": {"28ff641dc1160364": "p1"}, "buzzer": False}
    whole = {**values, "sum": checksum(values)}
    assert turned.turn(report()) == [("node-1/settings", whole)]
    assert turned.turn(report(lost=1)) == [], "not again, before the board has had time to take them"
    turned.now_ms += 11 * MINUTE
    assert turned.turn(report(settings=whole["sum"], at_ms=turned.now_ms)) == []
    assert turned.turn(report(settings="deadbeef", at_ms=turned.now_ms)) == [("node-1/settings", whole)]
    assert turned.turn(report(settings="deadbeef", lost=2, at_ms=turned.now_ms)) == []


def test_a_board_about_which_the_file_says_nothing_keeps_what_its_card_says(turned: Turned) -> None:
    assert turned.turn(report("node-2")) == [("node-2/settings", {"sum": checksum({})})]


def test_boards_that_the_settings_do_not_name_get_none(turned: Turned) -> None:
    assert turned.turn(report("stranger")) == []
    assert "stranger" in turned.service.store.board_reports.every()


def test_all_of_them_are_published_at_the_start_and_when_the_file_changes(
    turned: Turned, tmp_path: Path
) -> None:
    turned.turn(report())
    turned.service.store.close()
    again = Turned(tmp_path, nodes=nodes(interval_s=30))
    assert [topic for topic, _ in again.turn()] == ["node-1/settings"]
    assert again.turn() == []
    (said,) = again.change(farm(tmp_path, nodes=nodes(interval_s=120)))
    assert said[1]["interval_s"] == 120
    assert again.change(farm(tmp_path, nodes=nodes(interval_s=120, out_of_service=True))) == []
    again.service.store.close()


def test_a_removed_board_leaves_nothing_at_the_broker(turned: Turned, tmp_path: Path) -> None:
    turned.turn(report(), report("node-2"))
    turned.away = True
    left = farm(tmp_path, nodes=nodes()[1:])
    assert turned.change(left) == [("node-1/settings", None)], "the broker is away: it is tried again"
    assert set(turned.service.store.board_reports.every()) == {"node-1", "node-2"}
    turned.away = False
    assert turned.turn() == [("node-1/settings", None), ("node-1/report", None), ("node-1/status", None)]
    assert set(turned.service.store.board_reports.every()) == {"node-2"}
    assert turned.turn() == []
    for kind in ("report", "status", "settings"):
        turned.turn(IncomingMessage(f"rearing/yard/node-1/{kind}", b"", T0))
    facts = turned.service.store.nodes.one("node-1")
    assert facts is not None and facts.rejected == 0, "what was cleared is no broken message"


def test_a_board_removed_while_the_monitor_was_away(turned: Turned, tmp_path: Path) -> None:
    turned.turn(report())
    turned.service.store.close()
    again = Turned(tmp_path, nodes=nodes()[1:])
    assert [topic for topic, _ in again.turn()] == ["node-1/settings", "node-1/report", "node-1/status"]
    again.service.store.close()


@pytest.mark.parametrize("interval_s", [5.0, 60.5, 7200.0])
def test_an_interval_that_the_board_would_refuse_is_left_out(interval_s: float) -> None:
    node = Node.model_validate({"id": "n", "interval_s": interval_s, "send_every": 3})
    assert settings_of(node) == {"send_every": 3, "sum": checksum({"send_every": 3})}


def test_versions() -> None:
    assert is_older("0.9.2", "0.10") and not is_older("0.10", "0.9.2") and not is_older("1.0", "1.0")
    assert not is_older("mine", "1.0") and not is_older("1.0", "")
    assert program_version() == "" or is_older("0", program_version())
