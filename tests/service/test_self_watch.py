"""Silence, common cause, dead sensors: what the monitor says about its boards."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from service_farm import MINUTE, NODES, T0, farm, message, watch_of

from monitor.farm.places import never_heard
from monitor.notify.policy import RecipientPolicy
from monitor.records import (
    COMMAND_DONE,
    AlarmStatus,
    Command,
    CommandKind,
    Computed,
    Flag,
    FlaggedMessage,
    FlaggedReading,
)
from monitor.service.commands import carry_out
from monitor.service.messages import AlarmViewBuilder
from monitor.service.self_watch import LastSeen, SelfFacts, SelfWatch
from monitor.service.site_state import AlarmChanges, SiteState
from monitor.words.alarm_messages import alarm
from monitor.words.alarms import folded
from monitor.words.localizer import DisplayPreferences, Localizer

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
    assert barn.announced() == ["site/unheard_nodes/high/medium"]


UNHEARD = "site/unheard_nodes/high/medium"


def test_boards_never_hung_up_are_one_alarm_and_no_power_cut(tmp_path: Path) -> None:
    barn = Barn(tmp_path)
    barn.minutes(60, dead=NODES[2:])
    assert barn.announced() == [UNHEARD]
    assert barn.self_watch.unheard == NODES[2:]
    assert barn.self_watch.silence.covered == frozenset()
    assert barn.watch.state(SITE_ALARM).status is AlarmStatus.NORMAL


def test_boards_never_hung_up_cover_no_silence_of_a_real_board(tmp_path: Path) -> None:
    barn = Barn(tmp_path)
    barn.minutes(10, dead=NODES[3:])
    barn.minutes(60, dead=(NODES[0], *NODES[3:]))
    assert f"{NODES[0]}/silent_minutes/high/medium" in barn.announced()
    assert SITE_ALARM not in barn.announced()


def test_a_power_cut_is_told_although_more_boards_were_never_hung_up(tmp_path: Path) -> None:
    barn = Barn(tmp_path)
    barn.minutes(60, dead=NODES[3:])
    barn.minutes(60, dead=NODES)
    assert barn.announced() == [SITE_ALARM]
    assert barn.self_watch.silence.covered == set(NODES[:3])


def test_a_board_heard_at_last_ends_its_part_and_is_then_guarded_by_itself(tmp_path: Path) -> None:
    barn = Barn(tmp_path)
    barn.minutes(60, dead=NODES[4:])
    barn.minutes(30)
    assert barn.watch.state(UNHEARD).status is AlarmStatus.RETURNED_UNACKNOWLEDGED
    assert barn.status(NODES[4]) is AlarmStatus.NORMAL
    assert barn.announced() == []
    barn.minutes(30, dead=NODES[4:5])
    assert barn.announced() == [f"{NODES[4]}/silent_minutes/high/medium"]


def test_a_restart_forgets_neither_who_was_heard_nor_who_was_not(tmp_path: Path) -> None:
    barn = Barn(tmp_path)
    barn.minutes(60, dead=NODES[4:])
    facts = [replace(never_heard(node), messages=60, last_heard_ms=barn.now_ms) for node in NODES[:4]]
    last_seen = LastSeen(barn.now_ms)
    last_seen.restore([*facts, never_heard(NODES[4])])
    barn.self_watch = SelfWatch(barn.watch, last_seen)
    barn.minutes(60, dead=(NODES[0], *NODES[4:]))
    assert barn.announced() == [f"{NODES[0]}/silent_minutes/high/medium"]
    assert barn.watch.state(UNHEARD).status is AlarmStatus.UNACKNOWLEDGED


def test_the_journal_folds_what_a_common_cause_covers(tmp_path: Path) -> None:
    barn = Barn(tmp_path)
    rows = list(barn.minutes(10).transitions)
    rows += barn.minutes(60, dead=NODES).transitions
    rows += barn.minutes(30).transitions
    told = [(row.quantity, row.event.value, names) for row, names in folded(rows)]
    assert (Computed.SILENT_NODE_SHARE, "activate", NODES) in told
    assert (Computed.SILENT_NODE_SHARE, "clear", NODES) in told
    assert Computed.SILENT_MINUTES not in {quantity for quantity, *_ in told}


def test_a_silence_of_its_own_is_not_folded(tmp_path: Path) -> None:
    barn = Barn(tmp_path)
    rows = list(barn.minutes(10).transitions)
    rows += barn.minutes(60, dead=NODES[:1]).transitions
    told = [(row.place, row.event.value, names) for row, names in folded(rows)]
    assert told == [(NODES[0], "activate", ())]


def test_the_message_names_every_board_that_was_not_heard_yet(tmp_path: Path) -> None:
    barn = Barn(tmp_path)
    barn.minutes(60, dead=NODES[2:])
    views = AlarmViewBuilder(barn.watch)
    views.unheard = barn.self_watch.unheard
    view = views(UNHEARD)
    assert view is not None
    said = alarm(view, Localizer(DisplayPreferences("en"), barn.watch.plan.zone, barn.now_ms))
    assert "boards not heard yet: 3" in said.title
    assert "node-3, node-4, node-5" in said.body


def test_what_came_anew_after_it_was_looked_at_stays_unseen(tmp_path: Path) -> None:
    barn = Barn(tmp_path)
    barn.minutes(10)
    barn.minutes(15, dead=("node-2",))
    barn.minutes(10)
    name = "node-2/silent_minutes/high/medium"
    over_ms = barn.watch.state(name).over_ms
    seen = Command(CommandKind.ACKNOWLEDGE, barn.now_ms, "Ann", name, over_ms)
    barn.minutes(20, dead=("node-2",))
    policy = RecipientPolicy((), barn.watch.plan.zone, 0, 0)
    refused, _ = carry_out(seen, barn.watch, policy, barn.now_ms, AlarmChanges())
    assert "came anew" in refused
    assert barn.status("node-2") is AlarmStatus.UNACKNOWLEDGED
    barn.minutes(10)
    now = replace(seen, until_ms=barn.watch.state(name).over_ms)
    assert carry_out(now, barn.watch, policy, barn.now_ms, AlarmChanges())[0] == COMMAND_DONE
    assert barn.status("node-2") is AlarmStatus.NORMAL
