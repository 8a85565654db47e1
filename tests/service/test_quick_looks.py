"""Boards of which nothing can be missed yet are not looked at; what is said is the same as if they were."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from random import Random

import pytest
from service_farm import MINUTE, NODES, T0, farm, message, watch_of

from monitor.logbook.place_entries import Unguarded, Why
from monitor.records import AlarmEvent, Flag, FlaggedMessage, FlaggedReading, Transition
from monitor.service.self_watch import LastSeen, SelfFacts, SelfWatch
from monitor.service.site_state import NOT_IN_READINGS, AlarmChanges
from monitor.settings.plan import Said, build_plan
from monitor.settings.schema import Node


class AlwaysLooked(LastSeen):
    """Has every board looked at every time."""

    def is_fine(self, _node: Node, _now_ms: int) -> bool:
        return False


class Watched:
    """A farm and its watch, fed by a script."""

    def __init__(self, folder: Path, last_seen: LastSeen) -> None:
        self.settings = farm(folder)
        self.site, self.last_seen = watch_of(self.settings), last_seen
        self.watch = SelfWatch(self.site, last_seen)
        self.rows: list[Transition] = []

    def hear(self, node: str, now_ms: int, flag: Flag, promise_s: float | None, probe: str) -> None:
        """A message of one board with one reading."""
        sent = replace(message(node, now_ms, 30.0, probe=probe), silence_limit_s=promise_s)
        item = FlaggedReading(sent.readings[0], flag, 30.0)
        self.last_seen.note(FlaggedMessage(sent, (item,)))
        changes = AlarmChanges()
        self.site.feed([item], now_ms, changes)
        self.rows += changes.transitions

    def put_aside(self, boards: tuple[str, ...], now_ms: int) -> None:
        """The plan says that these boards are put aside, and no others."""
        before = self.site.plan
        said = Said(boards_aside=dict.fromkeys(boards, Unguarded(Why.ASIDE)))
        self.site.change_plan(build_plan(self.settings, said), now_ms)
        self.last_seen.expect(before.said.boards_aside.keys() - set(boards), now_ms)
        changes = AlarmChanges()
        self.site.follow_design(now_ms, changes)
        self.rows += changes.transitions

    def tick(self, now_ms: int) -> object:
        """Look; gives what can be seen of it."""
        changes = AlarmChanges()
        self.watch.tick(now_ms, SelfFacts(), changes)
        self.rows += changes.transitions
        written = {name: NOT_IN_READINGS(state) for name, state in changes.states.items()}
        dead = {node: sensors for node, sensors in self.watch.dead.items() if sensors}
        return self.watch.silence, self.watch.unheard, dead, written


def play(watched: Watched, seed: int) -> list[object]:
    """Three hours of boards that come, go, promise, fail, and are put aside; a clock that is set."""
    random, now_ms, seen = Random(seed), T0, list[object]()
    gone: set[str] = set()
    for _ in range(400):
        now_ms += random.choice((2000, 5000, 30_000, 45_000))
        if random.random() < 0.03:
            gone = set(random.sample(NODES, random.choice((0, 1, 2, 4, 5))))
        if random.random() < 0.02:
            watched.put_aside(tuple(random.sample(NODES, random.choice((0, 1)))), now_ms)
        if random.random() < 0.01:
            by_ms = random.choice((-40 * MINUTE, 40 * MINUTE))
            now_ms += by_ms
            watched.watch.clock_was_set(by_ms)
            watched.site.clock_went_back(now_ms, MINUTE, max(0, -by_ms))
        for node in NODES:
            chosen = random.random(), random.random(), random.random(), random.random()
            if node in gone or chosen[0] < 0.4:
                continue
            flag = Flag.FAIL if chosen[1] < 0.3 else Flag.PASS
            promise_s = None if chosen[2] > 0.1 else 20.0 + 600 * chosen[3]
            watched.hear(node, now_ms, flag, promise_s, "a" if chosen[3] < 0.2 else "")
        seen.append(watched.tick(now_ms))
    return seen


def told(rows: list[Transition]) -> list[Transition]:
    """Of a row about an alarm at rest (put aside, back) the value is that of the last look: left out here."""
    tells = (AlarmEvent.ACTIVATE, AlarmEvent.CLEAR)
    return [row if row.event in tells else replace(row, value=None) for row in rows]


@pytest.mark.parametrize("seed", range(12))
def test_what_is_said_is_the_same_as_if_each_board_was_looked_at(tmp_path: Path, seed: int) -> None:
    quick, whole = Watched(tmp_path, LastSeen(T0)), Watched(tmp_path, AlwaysLooked(T0))
    assert play(quick, seed) == play(whole, seed)
    assert told(quick.rows) == told(whole.rows)
    assert len(whole.rows) > 5


def test_a_board_that_sends_is_left_alone_until_it_can_be_missed(tmp_path: Path) -> None:
    watched = Watched(tmp_path, LastSeen(T0))
    for node in NODES:
        watched.hear(node, T0, Flag.PASS, None, "")
    watched.tick(T0)
    board = watched.site.plan.nodes["node-1"]
    # A report each minute: late after a minute and a half.
    assert watched.last_seen.is_fine(board, T0 + 90_000)
    assert not watched.last_seen.is_fine(board, T0 + 90_001)
    watched.hear("node-1", T0 + 1000, Flag.PASS, 15.0, "")
    assert not watched.last_seen.is_fine(board, T0 + 1000)
