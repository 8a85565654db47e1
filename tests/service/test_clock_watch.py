"""The clock of the machine: unset after a boot, set ahead, set back; nobody is woken for it."""

from __future__ import annotations

import threading
from dataclasses import replace
from pathlib import Path

import pytest
from service_farm import MINUTE, NODES, T0, farm, raw_message

from monitor.alarms.system import Silence
from monitor.records import (
    MS_PER_DAY,
    MS_PER_HOUR,
    AlarmEvent,
    AlarmStatus,
    MessageKind,
    OutboxMessage,
)
from monitor.service import Service
from monitor.service.ingest import LONGEST_WAIT_S, ClockWatch
from monitor.service.site_state import AlarmChanges
from monitor.store.logbook import MadeForecast

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


AHEAD_MS = 500 * MS_PER_DAY


def test_nothing_may_be_deleted_for_a_day_after_the_clock_was_set_by_a_day_or_began_so_far_on() -> None:
    clocks = Clocks()
    watch = clocks.watch()
    assert watch.is_proven
    clocks.wall_ms += MS_PER_DAY - MINUTE
    watch.jump_ms(clocks.go(1))
    assert watch.is_proven, "less than a day costs less than a day of readings"
    clocks.wall_ms += MS_PER_DAY
    watch.jump_ms(clocks.go(1))
    assert not watch.is_proven
    clocks.go(24 * 3600 - 2)
    assert not watch.is_proven
    clocks.go(2)
    assert watch.is_proven
    watch.doubt()
    assert not watch.is_proven


@pytest.mark.parametrize(("off_hours", "proven"), [(23, True), (25, False)])
def test_a_life_that_begins_a_day_after_the_last_one_ended_proves_its_clock_first(
    tmp_path: Path, off_hours: int, proven: bool
) -> None:
    bench = Bench(tmp_path)
    bench.service.stop()
    clocks = Clocks(T0 + off_hours * MS_PER_HOUR)
    service = Service(farm(tmp_path), clock=lambda: clocks.wall_ms, inline=True)
    service._clock_watch = clocks.watch()
    service.prepare()
    assert service._clock_watch.is_proven is proven
    service.stop()


def ahead_and_back(bench: Bench, ahead_ms: int = AHEAD_MS) -> None:
    """The clock is wrong for a while, then right again."""
    bench.clocks.wall_ms += ahead_ms
    bench.minutes(3)
    bench.service.store.runs.alive(bench.service._run_id, bench.clocks.wall_ms)
    bench.clocks.wall_ms -= ahead_ms
    bench.minutes(1)


def test_no_life_of_the_monitor_lies_in_the_future_and_its_beginning_stays(tmp_path: Path) -> None:
    bench = Bench(tmp_path)
    bench.minutes(5)
    ahead_and_back(bench)
    store, now_ms = bench.service.store, bench.clocks.wall_ms
    [run] = store.runs.between(0, 2**62)
    assert run.started_ms == T0
    assert run.alive_ms <= now_ms
    bench.service.stop()


def test_a_monitor_that_first_started_ahead_or_was_tended_ahead_does_so_no_more(tmp_path: Path) -> None:
    bench = Bench(tmp_path)
    meta = bench.service.store.meta
    bench.clocks.wall_ms += AHEAD_MS
    bench.minutes(1)
    meta.put("first_started_ms", str(bench.clocks.wall_ms))
    bench.clocks.wall_ms -= AHEAD_MS
    bench.minutes(1)
    assert int(meta.get("first_started_ms") or 0) <= bench.clocks.wall_ms
    bench.service.stop()


def test_messages_written_while_the_clock_was_ahead_are_neither_held_nor_counted_later(
    tmp_path: Path,
) -> None:
    bench = Bench(tmp_path)
    store = bench.service.store
    bench.minutes(1)
    bench.clocks.wall_ms += AHEAD_MS
    bench.minutes(1)
    ahead_ms = bench.clocks.wall_ms
    waits = OutboxMessage("keeper", MessageKind.ALARM, "t", "b", ahead_ms, not_before_ms=ahead_ms + 1_000_000)
    went = OutboxMessage("keeper", MessageKind.ALARM, "t", "b", ahead_ms)
    numbers = store.outbox.add([waits, went])
    store.outbox.mark_failed(numbers[0], "no answer", ahead_ms + 900_000)
    store.outbox.mark_sent(numbers[1], ahead_ms)
    bench.clocks.wall_ms -= AHEAD_MS
    bench.minutes(1)
    now_ms = bench.clocks.wall_ms
    [held] = store.outbox.waiting()
    assert held.created_ms <= now_ms
    assert now_ms < held.not_before_ms <= now_ms + 1_000_000
    assert held.next_attempt_ms <= now_ms
    assert store.outbox.sent_since("keeper", now_ms - MS_PER_HOUR) == 1
    assert store.outbox.sent_since("keeper", now_ms + 2 * MINUTE) == 0
    bench.service.stop()


def test_boards_were_last_heard_now_and_not_in_the_future(tmp_path: Path) -> None:
    bench = Bench(tmp_path)
    ahead_and_back(bench)
    facts = bench.service.store.nodes.every()
    assert facts
    assert all(node.last_heard_ms <= bench.clocks.wall_ms for node in facts)
    assert all(node.first_heard_ms <= bench.clocks.wall_ms for node in facts)
    bench.service.stop()


def test_forecasts_that_were_made_ahead_are_made_again(tmp_path: Path) -> None:
    bench = Bench(tmp_path)
    store, ahead_ms = bench.service.store, T0 + AHEAD_MS
    real = MadeForecast("b1", "2026-09-20", "pupae", T0 - MINUTE, T0, T0, T0)
    wrong = MadeForecast("b1", "2028-02-02", "pupae", ahead_ms, T0, T0, T0)
    assert store.forecasts.keep([real, wrong]) == 2
    ahead_and_back(bench)
    assert store.forecasts.every() == (real,)
    bench.service.stop()


def test_a_shelf_that_began_while_the_clock_was_ahead_ends_in_its_time(tmp_path: Path) -> None:
    bench = Bench(tmp_path)
    site = bench.service.processor.site
    bench.clocks.wall_ms += AHEAD_MS
    bench.minutes(12, 43.0)
    end_ms = bench.clocks.wall_ms + 2 * MS_PER_HOUR
    site.request(HOT, AlarmEvent.SHELVE, bench.clocks.wall_ms, "me", "", end_ms, AlarmChanges())
    bench.clocks.wall_ms -= AHEAD_MS
    bench.minutes(118, 43.0)
    assert site.state(HOT).status is AlarmStatus.SHELVED
    bench.minutes(4, 43.0)
    assert site.state(HOT).status is not AlarmStatus.SHELVED
    bench.service.stop()


def test_an_alarm_that_began_while_the_clock_was_ahead_did_not_begin_in_the_future(tmp_path: Path) -> None:
    bench = Bench(tmp_path)
    bench.clocks.wall_ms += AHEAD_MS
    bench.minutes(12, 43.0)
    bench.clocks.wall_ms -= AHEAD_MS
    bench.minutes(1, 43.0)
    state = bench.service.processor.site.state(HOT)
    assert state.active and state.since_ms is not None and state.last_true_ms is not None
    assert max(state.since_ms, state.last_true_ms) <= bench.clocks.wall_ms
    bench.service.stop()


def test_bins_and_the_common_cause_are_looked_at_again_at_once(tmp_path: Path) -> None:
    bench = Bench(tmp_path)
    processor = bench.service.processor
    bench.minutes(1)
    bench.clocks.wall_ms += AHEAD_MS
    bench.minutes(1)
    processor.bin_watch._due_ms["bin-1"] = bench.clocks.wall_ms + MS_PER_HOUR
    processor.self_watch.silence = Silence(
        frozenset(NODES), frozenset(NODES), 1.0, last_common_ms=bench.clocks.wall_ms
    )
    bench.clocks.wall_ms -= AHEAD_MS
    bench.minutes(1)
    assert processor.bin_watch._due_ms.get("bin-1", 0) <= bench.clocks.wall_ms + MS_PER_HOUR
    bench.minutes(6)
    assert processor.self_watch.silence.covered == frozenset()
    bench.service.stop()


def test_after_ten_minutes_behind_the_last_sign_of_life_the_future_is_given_up(tmp_path: Path) -> None:
    bench = Bench(tmp_path)
    bench.minutes(1)
    bench.clocks.wall_ms += AHEAD_MS
    bench.minutes(3)
    bench.service.stop()
    again = Bench(tmp_path)
    again.service._start_over(again.clocks.wall_ms)
    store = again.service.store
    assert all(node.last_heard_ms <= again.clocks.wall_ms for node in store.nodes.every())
    assert max(run.alive_ms for run in store.runs.between(0, 2**62)) <= again.clocks.wall_ms
    again.service.stop()


def test_while_the_clock_is_not_set_no_report_is_written_and_nothing_is_tended(tmp_path: Path) -> None:
    bench = Bench(tmp_path)
    service, store = bench.service, bench.service.store
    service._clock_settled.clear()
    bench.clocks.wall_ms -= 300 * MS_PER_DAY
    store.meta.put("first_started_ms", str(bench.clocks.wall_ms - 30 * MS_PER_DAY))
    service.send_night_report()
    service._tend()
    assert store.outbox.since(0) == ()
    assert store.meta.get("tended_ms") is None
    service._clock_settled.set()
    service.send_night_report()
    service._tend()
    assert len(store.outbox.since(0)) == 1
    assert store.meta.get("tended_ms") is not None
    service.stop()


def test_a_hold_that_began_while_the_clock_was_ahead_ends_after_its_own_length(tmp_path: Path) -> None:
    settings = farm(tmp_path)
    service = Service(settings, clock=lambda: T0, inline=True)
    service.prepare()
    site, day_ms = service.processor.site, 24 * 60 * MINUTE
    moved = [{"place": "bin-1", "quantity": "substrate_temperature", "side": "high", "setpoint": 36.0}]
    changed = farm(tmp_path, rules=moved)
    service._clock = lambda: T0 + day_ms
    service._take_over(changed, T0 + day_ms)
    held = dict(site._held_until_ms)
    assert held
    assert all(end_ms > T0 + day_ms for end_ms in held.values())
    site.clock_went_back(T0, 5 * MINUTE, by_ms=day_ms)
    assert site._held_until_ms == {name: end_ms - day_ms for name, end_ms in held.items()}
    service.stop()


def test_the_last_sign_of_life_is_that_of_the_newest_run(tmp_path: Path) -> None:
    for day in range(3):
        now_ms = T0 + day * 24 * 60 * MINUTE
        service = Service(farm(tmp_path), clock=lambda now_ms=now_ms: now_ms, inline=True)  # type: ignore[misc]
        service.prepare()
        assert service._previous_alive_ms == (None if day == 0 else now_ms - 24 * 60 * MINUTE)
        service.stop()
