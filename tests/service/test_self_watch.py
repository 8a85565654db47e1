"""Silence, common cause, dead sensors: what the monitor says about its boards."""

from __future__ import annotations

from pathlib import Path

from service_farm import MINUTE, NODES, T0, farm, message, watch_of

from monitor.records import AlarmStatus, Computed, Flag, FlaggedMessage, FlaggedReading
from monitor.service.self_watch import LastSeen, SelfFacts, SelfWatch
from monitor.service.site_state import AlarmChanges, SiteState

SITE_ALARM = "site/silent_node_share/high/high"


class Barn:
    """Boards that report each minute unless they are said to be dead, and the watch that hears them."""

    def __init__(self, folder: Path) -> None:
        self.watch: SiteState = watch_of(farm(folder))
        self.self_watch = SelfWatch(self.watch, LastSeen(T0))
        self.now_ms = T0
        self.changes = AlarmChanges()

    def minutes(
        self, count: int, *, dead: tuple[str, ...] = (), failing: tuple[str, ...] = ()
    ) -> AlarmChanges:
        """Let minutes pass; gives all that happened."""
        self.changes = AlarmChanges()
        for _ in range(count):
            self.now_ms += MINUTE
            for node in NODES:
                if node not in dead:
                    self._report(node, Flag.FAIL if node in failing else Flag.PASS)
            self.self_watch.tick(self.now_ms, SelfFacts(), self.changes)
        return self.changes

    def _report(self, node: str, flag: Flag) -> None:
        sent = message(node, self.now_ms, 30.0)
        item = FlaggedReading(sent.readings[0], flag, 30.0)
        self.self_watch.last_seen.note(FlaggedMessage(sent, (item,)))
        self.watch.feed([item], self.now_ms, self.changes)

    def announced(self) -> list[str]:
        """The alarms that were announced lately."""
        return [row.alarm_id for row in self.changes.transitions if row.announces]

    def status(self, node: str, quantity: str = Computed.SILENT_MINUTES) -> AlarmStatus:
        """The state of one board's alarm."""
        return self.watch.state(f"{node}/{quantity}/high/medium").status


def test_one_silent_board_has_its_own_alarm(tmp_path: Path) -> None:
    barn = Barn(tmp_path)
    barn.minutes(10)
    barn.minutes(15, dead=("node-2",))
    assert barn.announced() == ["node-2/silent_minutes/high/medium"]
    barn.minutes(10)
    assert barn.status("node-2") is AlarmStatus.RETURNED_UNACKNOWLEDGED


def test_a_power_cut_is_one_alarm_and_its_end_announces_nothing(tmp_path: Path) -> None:
    barn = Barn(tmp_path)
    barn.minutes(10)
    barn.minutes(90, dead=NODES)
    assert barn.announced() == [SITE_ALARM]
    barn.minutes(30)
    assert barn.announced() == []
    assert {barn.status(node) for node in NODES} == {AlarmStatus.NORMAL}


def test_a_board_that_does_not_come_back_after_the_power_cut_is_told_by_itself(tmp_path: Path) -> None:
    barn = Barn(tmp_path)
    barn.minutes(10)
    barn.minutes(60, dead=NODES)
    barn.minutes(30, dead=("node-4",))
    assert barn.announced() == ["node-4/silent_minutes/high/medium"]


def test_a_probe_that_only_fails_is_told_although_its_board_sends(tmp_path: Path) -> None:
    barn = Barn(tmp_path)
    barn.minutes(10)
    barn.minutes(15, failing=("node-3",))
    assert barn.announced() == ["node-3/dead_sensor_minutes/high/medium"]
    assert [sensor.node for sensor in barn.self_watch.dead["node-3"]] == ["node-3"]
    barn.minutes(10)
    assert barn.status("node-3", Computed.DEAD_SENSOR_MINUTES) is AlarmStatus.RETURNED_UNACKNOWLEDGED


def test_an_active_alarm_whose_board_falls_silent_stays_active_and_is_marked_stale(tmp_path: Path) -> None:
    barn = Barn(tmp_path)
    barn.minutes(5)
    hot = "bin-1/substrate_temperature/high/high"
    for _ in range(12):
        barn.now_ms += MINUTE
        item = FlaggedReading(message("node-1", barn.now_ms, 43.0).readings[0], Flag.PASS, 43.0)
        barn.watch.feed([item], barn.now_ms, barn.changes)
    last_true_ms = barn.now_ms
    barn.minutes(30, dead=("node-1",))
    state = barn.watch.state(hot)
    assert state.active
    assert state.stale
    assert state.last_true_ms == last_true_ms


def test_a_board_never_heard_since_the_start_is_told(tmp_path: Path) -> None:
    barn = Barn(tmp_path)
    barn.minutes(15, dead=("node-5",))
    assert barn.announced() == ["node-5/silent_minutes/high/medium"]
