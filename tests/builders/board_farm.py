"""A broker, a stand-in for the monitor, and a board with the real program, sixty times faster than time."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from micropython_run import PROBE, STARTS_AGAIN, Node, run_script
from monitor_stand_in import MonitorStandIn

from monitor.boards.card import Card

SPEED = 60
QUICK = "import sender; sender.ANSWER_MS = 1000; import main"
"""Waits for the network are not sixty times faster; this one would cost the tests minutes."""
WORLD = {
    "air_temperature_c": 27.4,
    "air_humidity_percent": 60.0,
    "battery_v": 3.9,
    "chips": ["sht4x"],
    "probes": {PROBE: 31.2},
}


def card_for(port: int, **changes: Any) -> Card:
    """A card of node-03; without TLS unless `ca` is given."""
    card = Card(
        root="rearing",
        site="saltbush-yard",
        node="node-03",
        hosts=("127.0.0.1",),
        port=port,
        tls_name="rearing-broker",
        user="node-03",
        password="korma-quill-77",
        interval_s=60,
        send_every=1,
        power="mains",
        sensors=("sht4x", "ds18b20:substrate_temperature"),
        wifi="farm",
        wifi_password="basket-of-straw",
    )
    return dataclasses.replace(card, **changes)


class BoardFarm:
    """What a test of the loop needs; `monitor` is None until it is started."""

    def __init__(self, folder: Path, broker: Any) -> None:
        self.folder, self.broker = folder, broker
        self.monitor = MonitorStandIn(broker.port, SPEED)
        self.boards: list[Node] = []

    def board(self, *, world: Mapping[str, Any] | None = None, code: str = QUICK, **card: Any) -> Node:
        """A board with its card, not started."""
        folder = self.folder / f"board-{len(self.boards)}"
        board = Node(folder, {**WORLD, **(world or {})}, clock="x60", code=code)
        self.boards.append(board)
        text = card_for(**{"port": self.broker.port, **card}).text
        said = run_script(
            f"import hardware, settings; print(settings.Settings(hardware.Board()).take_card({text!r}))",
            {"NODE_WORLD": str(folder)},
        )
        assert said == "\n", said
        (folder / "time_base.txt").unlink(missing_ok=True)
        return board

    def close(self) -> None:
        """Everything ends."""
        for board in self.boards:
            board.kill()
        self.monitor.stop()


def starts_again(board: Node, timeout: float = 60.0) -> int:
    """Wait for its end by itself; the power stays on."""
    code = board.wait(timeout)
    assert code in STARTS_AGAIN, (code, board.output(), board.errors())
    return code


def flash_of(board: Node, what: str) -> str:
    """What an expression says of a board that is off: `b` is its backlog, `s` its settings."""
    code = (
        "import hardware, backlog, settings\nh = hardware.Board(); b = backlog.Backlog(h); "
        f"s = settings.Settings(h)\nprint({what})"
    )
    return run_script(code, {"NODE_WORLD": str(board.folder)}).strip()
