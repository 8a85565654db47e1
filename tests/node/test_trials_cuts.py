"""The promise, whole: random power cuts and broker kills, and nothing that a board promised is lost or doubled.

Real program, real mosquitto with TLS, users and rules, real `run`. A board measures every two seconds and writes by
threes (the product: each 10 s and more, by tens); half of them have a clock chip.
"""

from __future__ import annotations

import random
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from board_bench import Bench, TrialBoard, wait_for

pytestmark = [pytest.mark.micropython, pytest.mark.mosquitto]

QUICKER = """
import node
node.PAUSE_MS, node.LONGEST_PAUSE_MS = 500, 2000
real_init = B.__init__
B.__init__ = lambda self, board: real_init(self, board, group=3)
"""
"""Retries come sooner and groups are smaller, so that a life of seconds promises something."""

OFF_S = 2.0
"""How long the power is away at least: rounds are dated to the second, and a clock chip is right within two."""


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    made = Bench(tmp_path, [f"node-{number:02d}" for number in range(1, 21)])
    yield made
    made.close()


class Storm:
    """Cuts the power of boards, and kills broker and monitor, until enough of it was done."""

    def __init__(
        self, bench: Bench, seed: int, cuts_each: int, broker_kills: int, monitor_kills: int
    ) -> None:
        self.bench, self.seed, self.cuts_each = bench, seed, cuts_each
        self.broker_kills, self.monitor_kills = broker_kills, monitor_kills

    def cut(self, board: TrialBoard) -> None:
        """A board's lives: killed at a random moment, or at a random erasing or writing of its flash."""
        rng = random.Random(f"{self.seed}/{board.name}")
        for _ in range(self.cuts_each):
            board.power_on(cut=rng.randrange(4, 90) if rng.random() < 0.5 else None)
            assert board.node.process is not None
            deadline = time.monotonic() + rng.uniform(0.3, 11.0)
            while time.monotonic() < deadline and board.node.process.poll() is None:
                time.sleep(0.02)
            board.power_cut()
            time.sleep(OFF_S)
        board.power_on()

    def kill(self) -> None:
        """Broker and monitor die at random moments, some of them both at once."""
        rng = random.Random(self.seed)
        bench = self.bench
        every = self.broker_kills // self.monitor_kills
        for number in range(self.broker_kills):
            time.sleep(rng.uniform(0.2, 2.5))
            if number % every == 0:
                bench.monitor.kill()
            bench.kill_broker()
            time.sleep(rng.uniform(0.0, 0.6))
            bench.broker.start()
            if bench.monitor.process is None:
                bench.monitor.start()

    def run(self) -> None:
        with ThreadPoolExecutor(len(self.bench.boards) + 1) as pool:
            jobs = [pool.submit(self.cut, board) for board in self.bench.boards]
            jobs.append(pool.submit(self.kill))
            for job in jobs:
                job.result()


@pytest.mark.slow
def test_a_hundred_power_cuts_and_twenty_broker_kills_lose_and_double_nothing(bench: Bench) -> None:
    for number, node in enumerate(bench.nodes):
        chip = ["ds3231"] if number % 2 else []
        bench.board(
            node,
            card={"interval_s": 2, "sensors": ("sht4x", "battery", *chip)},
            world={"chips": ["sht4x", *chip]},
            more=QUICKER,
        )
    bench.start()
    began = time.monotonic()
    Storm(bench, 11, cuts_each=5, broker_kills=20, monitor_kills=4).run()
    storm_s = time.monotonic() - began
    bench.settle()
    errors = {board.name: board.node.errors() for board in bench.boards}
    assert {name: said for name, said in errors.items() if "Traceback" in said} == {}
    verdicts = {board.name: bench.verdict(board) for board in bench.boards}
    print(f"{storm_s:.0f} s of storm, {time.monotonic() - began:.0f} s in all")
    for name, verdict in verdicts.items():
        print(name, verdict)
    assert {name: verdict.problems for name, verdict in verdicts.items() if verdict.problems} == {}
    assert sum(board.cuts for board in bench.boards) == 100 + len(bench.boards)
    assert bench.broker_kills == 20
    assert sum(verdict.promised for verdict in verdicts.values()) > 100
