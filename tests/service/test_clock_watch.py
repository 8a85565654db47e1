"""The clock of the machine: unset after a boot, set ahead, set back; nobody is woken for it."""

from __future__ import annotations

import threading
from dataclasses import replace
from pathlib import Path

from service_farm import MINUTE, NODES, T0, farm, raw_message

from monitor.records import MS_PER_DAY, MS_PER_HOUR
from monitor.service import Service
from monitor.service.ingest import LONGEST_WAIT_S, ClockWatch

HOT = "bin-1/substrate_temperature/high/high"


class Clocks:
    """A wall clock and a steady one that a test moves."""

    def __init__(self, wall_ms: int = T0) -> None:
        self.wall_ms, self.steady_s = wall_ms, 100.0

    def go(self, seconds: float) -> int:
        """Time passes; gives the wall clock."""
        self.steady_s += seconds
        self.wall_ms += round(seconds * 1000)
        return self.wall_ms

    def watch(self) -> ClockWatch:
        return ClockWatch(lambda: self.wall_ms, lambda: self.steady_s)


class Pause(threading.Event):
    """An event whose waiting moves the clocks instead."""

    def __init__(self, clocks: Clocks) -> None:
        super().__init__()
        self._clocks, self.waits = clocks, 0

    def wait(self, timeout: float | None = None) -> bool:
        self.waits += 1
        self._clocks.go(timeout or 0.0)
        return self.is_set()


def test_time_that_passes_is_no_jump_and_a_set_clock_is() -> None:
    clocks = Clocks()
    watch = clocks.watch()
    assert watch.jump_ms(clocks.go(3600)) == 0
    clocks.wall_ms += 3 * MS_PER_HOUR
    assert watch.jump_ms(clocks.go(1)) == 3 * MS_PER_HOUR
    assert watch.jump_ms(clocks.go(1)) == 0
    clocks.wall_ms -= MS_PER_DAY
    assert watch.jump_ms(clocks.go(1)) == -MS_PER_DAY
    clocks.wall_ms += 2000
    assert watch.jump_ms(clocks.go(1)) == 0, "small corrections are no jump"


def test_a_clock_from_long_ago_is_waited_for_until_it_is_set() -> None:
    clocks, said = Clocks(0), list[str]()
    pause = Pause(clocks)

    def wait(timeout: float | None = None) -> bool:
        if pause.waits == 1000:
            clocks.wall_ms = T0
        return Pause.wait(pause, timeout)

    pause.wait = wait  # type: ignore[method-assign]
    assert clocks.watch().wait(T0 - MINUTE, pause, said.append)
    assert pause.waits >= 1000
    assert said == ["the clock of this computer is not set yet; readings wait in the broker"]


def test_a_clock_behind_our_last_sign_of_life_is_waited_for_ten_minutes_and_no_more() -> None:
    clocks, said = Clocks(), list[str]()
    began_s = clocks.steady_s
    assert clocks.watch().wait(T0 + 30 * MS_PER_DAY, Pause(clocks), said.append)
    assert LONGEST_WAIT_S <= clocks.steady_s - began_s < LONGEST_WAIT_S + 5
    assert "guarding goes on by this clock" in said[-1]


def test_a_clock_that_is_set_is_not_waited_for() -> None:
    clocks = Clocks()
    assert not clocks.watch().wait(T0 - MINUTE, Pause(clocks), print)


class Bench:
    """A service on clocks that the test moves; it makes whole turns by hand."""

    def __init__(self, folder: Path) -> None:
        self.clocks = Clocks()
        self.service = Service(farm(folder), clock=lambda: self.clocks.wall_ms, inline=True)
        self.service._clock_watch = self.clocks.watch()
        self.service.prepare()
        self.sequence = 0

    def minutes(self, count: int, temperature_c: float = 30.0, nodes: tuple[str, ...] = NODES) -> None:
        """All boards report each minute, with the monitor's own idea of the time."""
        for _ in range(count):
            now_ms = self.clocks.go(60)
            self.sequence += 1
            self.service._follow_clock(now_ms)
            batch = [raw_message(node, now_ms, temperature_c, self.sequence) for node in nodes]
            self.service.processor.process(batch, now_ms)

    def told(self) -> set[str | None]:
        return {message.alarm_id for message in self.service.store.outbox.since(0)}


def test_a_clock_that_is_set_ahead_makes_nobody_silent(tmp_path: Path) -> None:
    bench = Bench(tmp_path)
    bench.minutes(5)
    bench.clocks.wall_ms += 5 * MS_PER_HOUR
    bench.minutes(20)
    assert bench.told() == set()


def test_after_a_clock_that_was_ahead_for_days_alarms_and_silence_still_work(tmp_path: Path) -> None:
    bench = Bench(tmp_path)
    bench.clocks.wall_ms += 30 * MS_PER_DAY
    bench.minutes(10)
    bench.clocks.wall_ms -= 30 * MS_PER_DAY
    bench.minutes(12, 43.0)
    assert HOT in bench.told()
    bench.minutes(20, 43.0, NODES[:4])
    assert f"{NODES[4]}/silent_minutes/high/medium" in bench.told()


def test_states_that_a_wrong_clock_left_in_the_database_do_not_block_after_a_restart(tmp_path: Path) -> None:
    bench = Bench(tmp_path)
    bench.clocks.wall_ms += 30 * MS_PER_DAY
    bench.minutes(10)
    watch = bench.service.processor.site
    far_ms = bench.clocks.wall_ms + 365 * MS_PER_DAY
    watch.states[HOT] = replace(watch.state(HOT), shelved_until_ms=far_ms)
    bench.service.stop()
    again = Bench(tmp_path)
    state = again.service.processor.site.state(HOT)
    assert state.last_at_ms is not None and state.last_at_ms <= again.clocks.wall_ms
    assert state.shelved_until_ms is not None and state.shelved_until_ms <= T0 + 8 * MS_PER_DAY


def test_a_life_that_began_with_a_wrong_clock_is_dated_anew(tmp_path: Path) -> None:
    bench = Bench(tmp_path)
    store = bench.service.store
    store.runs.alive(store.runs.start(T0 + 400 * MS_PER_DAY), T0 + 401 * MS_PER_DAY)
    store.meta.put("first_started_ms", "5000")
    later_ms = bench.clocks.go(60)
    bench.service._start_over(later_ms)
    runs = store.runs.between(0, T0 + 500 * MS_PER_DAY)
    assert [(run.started_ms, run.alive_ms) for run in runs] == [(later_ms, later_ms)]
    assert store.meta.get("first_started_ms") == str(later_ms)
