"""Random power cuts and broker kills: nothing that a board promised is lost or doubled.

Real program, real mosquitto with TLS, users and rules, real `run`. A board measures every two seconds and
writes by threes (the product: each 10 s and more, by tens); half of them have a clock chip.
"""

from __future__ import annotations

import random
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from board_bench import Bench, TrialBoard, wait_for
from board_witness import Verdict

pytestmark = [pytest.mark.micropython, pytest.mark.mosquitto]

QUICKER = """
import rounds
real_lost, real_init = rounds.Node._lost, B.__init__
def lost(self, error):
    real_lost(self, error)
    self.next_try = min(self.next_try, self.clock.uptime_ms() + 700)
rounds.Node._lost = lost
B.__init__ = lambda self, board: real_init(self, board, group=3)
"""
"""Retries come sooner and groups are smaller, so that a life of seconds promises something."""

MONITOR_EACH = 5
"""With each fifth broker the monitor dies too."""
OFF_S = 2.0
"""The power is away at least so long: rounds are dated to the second, a clock chip is right within two."""


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    made = Bench(tmp_path, [f"node-{number:02d}" for number in range(1, 21)])
    yield made
    made.close()


class Storm:
    """Cuts the power of boards, and kills broker and monitor, until enough of it was done."""

    def __init__(
        self, bench: Bench, seed: int, cuts_each: int, broker_kills: int, longest_life_s: float = 7.0
    ) -> None:
        self.bench, self.seed, self.cuts_each = bench, seed, cuts_each
        self.broker_kills, self.longest_life_s = broker_kills, longest_life_s

    def cut(self, board: TrialBoard) -> None:
        """A board's lives: killed at a random moment, or at a random erasing or writing of its flash."""
        rng = random.Random(f"{self.seed}/{board.name}")
        for _ in range(self.cuts_each):
            board.power_on(cut=rng.randrange(4, 90) if rng.random() < 0.5 else None)
            assert board.node.process is not None
            deadline = time.monotonic() + rng.uniform(0.3, self.longest_life_s)
            while time.monotonic() < deadline and board.node.process.poll() is None:
                time.sleep(0.02)
            board.power_cut()
            time.sleep(OFF_S)
        board.power_on()

    def kill(self) -> None:
        """Broker and monitor die at random moments, some of them both at once."""
        rng = random.Random(self.seed)
        bench = self.bench
        for number in range(self.broker_kills):
            time.sleep(rng.uniform(0.2, 2.5))
            if number % MONITOR_EACH == 0:
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


FIGURES = ("rounds", "promised", "stored", "excused")


def _storm(
    bench: Bench, seed: int, cuts_each: int, broker_kills: int, longest_life_s: float
) -> dict[str, Verdict]:
    """Boards with and without a clock chip in a storm; what the witness says of each, and the figures."""
    for number, node in enumerate(bench.nodes):
        chip = ["ds3231"] if number % 2 else []
        bench.board(
            node,
            card={"interval_s": 20, "sensors": ("sht4x", "battery", *chip)},
            world={"chips": ["sht4x", *chip]},
            more=QUICKER,
        )
    bench.start()
    began = time.monotonic()
    Storm(bench, seed, cuts_each, broker_kills, longest_life_s).run()
    bench.settle()
    errors = {board.name: board.node.errors() for board in bench.boards}
    assert {name: said for name, said in errors.items() if "Traceback" in said} == {}
    verdicts = {board.name: bench.verdict(board) for board in bench.boards}
    sums = {what: sum(getattr(one, what) for one in verdicts.values()) for what in FIGURES}
    worst = max(one.worst_ms for one in verdicts.values())
    cuts = cuts_each * len(bench.boards)
    print(f"{cuts} cuts, {bench.broker_kills} broker kills, {bench.monitor.kills} monitor kills")
    print(f"{sums}, worst time {worst} ms, {time.monotonic() - began:.0f} s")
    return verdicts


@pytest.mark.slow
def test_a_hundred_power_cuts_and_twenty_broker_kills_lose_and_double_nothing(bench: Bench) -> None:
    verdicts = _storm(bench, 11, cuts_each=5, broker_kills=20, longest_life_s=7.0)
    assert {name: one.problems for name, one in verdicts.items() if one.problems} == {}
    assert bench.broker_kills == 20
    assert sum(board.cuts for board in bench.boards) == 100 + len(bench.boards)
    assert sum(one.promised for one in verdicts.values()) > 100
    # A clock chip dates every round; without one, a life in which nobody told the time is lost and counted.
    assert [verdicts[name].excused for name in bench.nodes[1::2]] == [0] * 10


@pytest.mark.study
@pytest.mark.timeout(3600)
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_longer_storm_loses_and_doubles_nothing(bench: Bench, seed: int) -> None:
    verdicts = _storm(bench, seed, cuts_each=25, broker_kills=100, longest_life_s=30.0)
    assert {name: one.problems for name, one in verdicts.items() if one.problems} == {}


BELIEVES_THE_BROKER = """
import sender
real_publish = sender.Sender._publish
def publish(self, boot, sequence, *rest):
    given = real_publish(self, boot, sequence, *rest)
    self.backlog.done(boot, sequence)
    return given
sender.Sender._publish = publish
"""


def test_a_board_that_takes_the_broker_at_its_word_is_found_out(bench: Bench) -> None:
    """The bench itself must be able to fail: without a subscriber, mosquitto confirms and forgets."""
    world, card = {"chips": ["sht4x", "ds3231"]}, {"sensors": ("sht4x", "ds3231")}
    board = bench.board(bench.nodes[0], more=BELIEVES_THE_BROKER, world=world, card=card)
    bench.broker.start()
    board.power_on()
    wait_for(lambda: len(board.witness.rounds()) >= 4, "four rounds")
    bench.monitor.start()
    wait_for(lambda: bench.stored(board) >= 2, "readings in the database")
    board.power_cut()
    bench.monitor.stop()
    problems = bench.verdict(board).problems
    assert any("was promised, and no pack of it was stored" in each for each in problems)
