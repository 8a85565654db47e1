"""The time that boards get from the monitor: over power cuts without the broker, and from a wrong clock.

Real program, real mosquitto with TLS, real `run`, whose clock is wrong by a stated time where that is needed.
"""

from __future__ import annotations

import random
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from board_bench import Bench, TrialBoard, wait_for
from board_witness import Verdict

pytestmark = [pytest.mark.micropython, pytest.mark.mosquitto, pytest.mark.slow]

MINUTE_MS = 60_000
SOON = """
import rounds
real_lost = rounds.Node._lost
def lost(self, error):
    real_lost(self, error)
    self.next_try = min(self.next_try, self.clock.uptime_ms() + 1000)
rounds.Node._lost = lost
"""
CHIP: dict[str, Any] = {
    "card": {"interval_s": 60, "sensors": ("sht4x", "battery", "ds3231")},
    "world": {"chips": ["sht4x", "ds3231"]},
}
NO_CHIP: dict[str, Any] = {"card": {"interval_s": 60}, "world": {"chips": ["sht4x"]}}


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    made = Bench(tmp_path, ["node-01", "node-02"])
    yield made
    made.close()


class Lives:
    """Two boards, with and without a clock chip, whose power goes again and again while the broker is away.

    Their hours pass in seconds: in lockstep while the broker is away; when it comes back, the monitor is
    started with its clock at the boards' time.
    """

    def __init__(self, bench: Bench, rounds_each: int) -> None:
        self.bench, self.rounds_each = bench, rounds_each
        self.boards = [
            bench.board(name, clock="lockstep", step_ms=MINUTE_MS, lower="", more=SOON, **how)
            for name, how in zip(bench.nodes, (NO_CHIP, CHIP), strict=True)
        ]
        self.rng = random.Random(7)

    def play(self, cuts: int) -> None:
        """So many lives, and one more that ends well."""
        self.bench.broker.start()
        length_ms = (self.rounds_each + 5) * MINUTE_MS
        now_ms = time.time_ns() // 1_000_000 - cuts * length_ms
        for number in range(cuts + 1):
            last = number == cuts
            self._life(now_ms, back=last or self.rng.random() < 0.8, last=last)
            now_ms += length_ms

    def _life(self, start_ms: int, *, back: bool, last: bool) -> None:
        away_until_ms = start_ms + round(self.rounds_each * self.rng.uniform(0.5, 1.0)) * MINUTE_MS
        for board in self.boards:
            assert board.wire is not None
            board.wire.refuses = True
            board.power_on_at(start_ms)
        for board in self.boards:
            board.play(start_ms, away_until_ms, 15_000)
        if back:
            self._come_back(away_until_ms, last)
        for board in self.boards:
            board.power_cut()

    def _come_back(self, now_ms: int, last: bool) -> None:
        ahead_ms = now_ms - time.time_ns() // 1_000_000
        monitor, before = self.bench.monitor, self.bench.monitor.log.count("guarding")
        monitor.start(clock_by_s=ahead_ms / 1000)
        wait_for(lambda: monitor.log.count("guarding") > before, "the monitor")
        for board in self.boards:
            assert board.wire is not None
            board.wire.refuses = False
            board.go_real(ahead_ms)
        if last:
            owed = {board.name: board.witness.owed() for board in self.boards}
            wait_for(lambda: not any(owed[b.name] & b.witness.owed() for b in self.boards), "all", 90)
        else:
            time.sleep(self.rng.uniform(1.0, 3.0))
        monitor.kill()


def _figures(bench: Bench, boards: list[TrialBoard]) -> list[Verdict]:
    verdicts = [bench.verdict(board) for board in boards]
    for what, verdict, board in zip(("no chip", "chip"), verdicts, boards, strict=True):
        print(
            f"{what}: {verdict.rounds} rounds, {verdict.promised} promised, {verdict.stored} stored, "
            f"{verdict.excused} without a date, worst time {verdict.worst_ms} ms, {board.cuts} cuts"
        )
    return verdicts


def _judge(bench: Bench, cuts: int, rounds_each: int) -> None:
    lives = Lives(bench, rounds_each)
    lives.play(cuts)
    bare, chip = _figures(bench, lives.boards)
    assert bare.problems == []
    assert chip.problems == []
    assert chip.excused == 0, "a clock chip dates every round"
    assert chip.stored >= chip.promised > 0


def test_power_cuts_with_the_broker_away_between(bench: Bench) -> None:
    _judge(bench, cuts=5, rounds_each=30)


@pytest.mark.study
@pytest.mark.timeout(1800)
def test_forty_power_cuts_with_the_broker_away_between(bench: Bench) -> None:
    _judge(bench, cuts=40, rounds_each=60)


def test_a_monitor_whose_clock_nobody_has_set_gives_no_time(bench: Bench) -> None:
    """It takes nothing in and tells nobody the time; with the right clock everything gets its date."""
    bare = bench.board("node-01", card={"interval_s": 20})
    chip = bench.board(
        "node-02", card={**CHIP["card"], "interval_s": 20}, world={"chips": ["sht4x", "ds3231"]}
    )
    bench.broker.start()
    bench.monitor.start(clock_by_s=-800_000_000)  # some day in 2001
    wait_for(lambda: "not set" in bench.monitor.log, "what the monitor says of its clock")
    for board in bench.boards:
        board.power_on()
    wait_for(lambda: len(bare.witness.rounds()) >= 4, "four rounds")
    assert bench.stored(bare) == bench.stored(chip) == 0
    assert not any(one.dated or one.confirmed for one in bare.witness.rounds().values())
    bench.monitor.kill()
    bench.monitor.start()
    wait_for(lambda: any(one.dated for one in bare.witness.rounds().values()), "the time", 40)
    wait_for(lambda: bench.stored(bare) >= 4 and bench.stored(chip) >= 4, "the backlog", 40)
    bench.settle()
    verdicts = [bench.verdict(board) for board in bench.boards]
    assert [verdict.problems for verdict in verdicts] == [[], []]
