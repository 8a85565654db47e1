"""Any course of a bin's temperature: what is said of its alarms is so at the moment at which it is said."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st
from service_farm import MINUTE, T0, farm, message, watch_of

from monitor.errors import MonitorError
from monitor.farm.records import ActiveAlarm
from monitor.notify.outbox import MemoryOutbox
from monitor.notify.policy import RecipientPolicy
from monitor.records import (
    MS_PER_HOUR,
    STANDING,
    AlarmEvent,
    AlarmRule,
    AlarmState,
    AlarmStatus,
    FlaggedReading,
    MessageKind,
    OutboxMessage,
    Side,
)
from monitor.service.messages import AlarmViewBuilder, Announcer
from monitor.service.site_state import AlarmChanges, SiteState
from monitor.words.alarms import condition, notes, what_is_so
from monitor.words.localizer import Localizer

LEVELS_C = (19.5, 20.5, 21.0, 30.0, 37.5, 38.2, 41.0, 41.5, 42.0, 42.1, 43.5, 45.0)
BROKEN_C = -127.0
SETTINGS = farm(Path("/nowhere"))
ZONE = RecipientPolicy.of(SETTINGS).zone
ABOUT_NOW = (MessageKind.ALARM, MessageKind.REMINDER, MessageKind.ESCALATION)
REQUESTS = (
    AlarmEvent.ACKNOWLEDGE,
    AlarmEvent.SHELVE,
    AlarmEvent.UNSHELVE,
    AlarmEvent.TAKE_OUT,
    AlarmEvent.PUT_BACK,
)
COURSES = st.lists(
    st.one_of(
        st.tuples(st.just("level"), st.sampled_from(LEVELS_C), st.integers(1, 20)),
        st.tuples(st.just("level"), st.sampled_from(LEVELS_C), st.integers(1, 20)),
        st.tuples(st.just("slope"), st.floats(-0.3, 0.3), st.integers(5, 30)),
        st.tuples(st.just("gap"), st.none(), st.integers(2, 40)),
        st.tuples(st.just("fail"), st.none(), st.integers(2, 30)),
        st.tuples(st.just("restart"), st.none(), st.integers(0, 3)),
        st.tuples(st.just("ask"), st.sampled_from(REQUESTS), st.integers(3, 40)),
    ),
    max_size=14,
)


@dataclass
class Bin:
    """One bin with its alarms, its messages, what is stored, and the readings as they were."""

    site: SiteState = field(default_factory=lambda: watch_of(SETTINGS))
    outbox: MemoryOutbox = field(default_factory=MemoryOutbox)
    stored: dict[str, AlarmState] = field(default_factory=dict)
    course: list[tuple[int, float]] = field(default_factory=list)
    flagged: list[FlaggedReading] = field(default_factory=list)
    now_ms: int = T0
    value: float = 30.0
    failed: bool = False

    def __post_init__(self) -> None:
        self._announcer = self._new_announcer()

    def _new_announcer(self) -> Announcer:
        return Announcer(self.outbox, RecipientPolicy.of(SETTINGS), AlarmViewBuilder(self.site))

    def restart(self) -> None:
        """Only what was stored is left; the readings of two hours are gone through again."""
        self.site, changes = watch_of(SETTINGS, self.stored.values()), AlarmChanges()
        recent = [it for it in self.flagged if it.reading.at_ms > self.now_ms - 2 * MS_PER_HOUR]
        self.site.feed(recent, self.now_ms, changes)
        self._announcer = self._new_announcer()
        self._finish(changes)

    def ask(self, event: AlarmEvent, minutes: int) -> None:
        """A person asks it of every alarm of the bin that takes it."""
        changes, until_ms = AlarmChanges(), self.now_ms + minutes * MINUTE
        for name in self.rules:
            try:
                self.site.request(
                    name, event, self.now_ms, "Naledi", "", until_ms if event == "shelve" else None, changes
                )
            except MonitorError:
                continue
        self._finish(changes)

    def minute(self, measured: bool, failed: bool = False) -> None:
        """A minute passes, with a reading, with one that failed, or without."""
        self.now_ms += MINUTE
        changes = AlarmChanges()
        if measured:
            taken = self.site.take(message("node-1", self.now_ms, self.value), self.now_ms, changes)
            self.flagged += taken.readings
            self.course.append((self.now_ms, self.value))
            self.failed = False
        elif failed:
            self.failed = True
            self.site.take(message("node-1", self.now_ms, BROKEN_C), self.now_ms, changes)
        self.site.tick(self.now_ms, changes)
        self._finish(changes)
        standing = [name for name in self.rules if self.site.state(name).status == "unacknowledged"]
        self.outbox.add(self._announcer.tick(standing, self.now_ms))

    def _finish(self, changes: AlarmChanges) -> None:
        self.stored |= changes.states
        self.outbox.add(self._announcer.announce(changes.transitions, self.now_ms))

    @property
    def rules(self) -> dict[str, AlarmRule]:
        return {name: rule for name, rule in self.site.plan.rules.items() if rule.place == "bin-1"}


def excess(rule: AlarmRule, value: float) -> float:
    return value - rule.setpoint if rule.side is Side.HIGH else rule.setpoint - value


def said_of_a_value(it: Bin, one: OutboxMessage, rule: AlarmRule) -> None:
    """A message that calls a value too high or too low is about one that is; "back" about one that is not."""
    beyond = excess(rule, it.course[-1][1]) > 0
    assert ("too high" in one.title or "too low" in one.title) is beyond
    assert ("back" in one.title) is not beyond
    # While a probe fails, its last good value is held for ten minutes, and counts as fresh for ten more.
    old_ms, failing = it.now_ms - it.course[-1][0], it.failed
    assert ("no fresh readings" in one.title) <= (old_ms > 10 * MINUTE)
    assert ("no fresh readings" in one.title) >= (old_ms > (20 if failing else 10) * MINUTE)
    rate = re.search(r"(Rising|Falling) ([\d.]+) °C", one.body)
    if rate:
        lately = [value for at_ms, value in it.course if at_ms >= it.now_ms - 30 * MINUTE]
        assert (max(lately) if rate[1] == "Rising" else -min(lately)) > (
            min(lately) if rate[1] == "Rising" else -max(lately)
        )
        assert float(rate[2]) <= 20.0


def is_the_present_excursion(it: Bin, rule: AlarmRule, since_ms: int) -> None:
    """It begins with a reading beyond the limit, the one before was not, and it was not over since."""
    begin = next(at for at, (at_ms, _) in enumerate(it.course) if at_ms == since_ms)
    assert excess(rule, it.course[begin][1]) > 0
    if begin and it.course[begin][0] - it.course[begin - 1][0] == MINUTE:
        assert excess(rule, it.course[begin - 1][1]) <= 0
    back_s = 0.0
    for (before_ms, before), (at_ms, value) in pairwise(it.course[begin:]):
        both = excess(rule, value) <= -rule.deadband and excess(rule, before) <= -rule.deadband
        step_s = (at_ms - before_ms) / 1000
        back_s = (back_s + (step_s if step_s <= 600 else 0.0)) if both else 0.0
        assert back_s < rule.off_delay_s


def said_now(it: Bin, name: str, rule: AlarmRule) -> None:
    """What the surfaces say of one alarm, from the state as it is stored."""
    state, words = it.stored.get(name, AlarmState(name)), Localizer.plain("en", ZONE, it.now_ms)
    assert (state.status, state.active, state.since_ms) == (
        (live := it.site.state(name)).status,
        live.active,
        live.since_ms,
    )
    value = it.course[-1][1]
    alarm = ActiveAlarm(rule, state, "Bin 1", value)
    text = "; ".join(notes(alarm, words))
    if state.status in STANDING:
        assert ("within the limit" in text) is (excess(rule, value) <= 0)
        assert ("back within the limit" in text) is (excess(rule, value) <= -rule.deadband)
        assert state.since_ms is not None
        is_the_present_excursion(it, rule, state.since_ms)
    if alarm.over is not None:
        assert what_is_so(alarm, words) != condition(rule, value, words)
        worst = [
            excess(rule, v) for at_ms, v in it.course if alarm.over.began_ms <= at_ms <= alarm.over.ended_ms
        ]
        assert excess(rule, alarm.over.extreme_value) == max(worst)
        assert "since" not in text.replace("over since then", "")
    if alarm.delay is not None and state.status is AlarmStatus.NORMAL and not state.active:
        assert excess(rule, value) > 0


def no_return_on_the_heels_of_an_announcement(it: Bin) -> None:
    rows = [row for row in it.outbox.all() if row.kind in (MessageKind.ALARM, MessageKind.RETURNED)]
    for before, after in pairwise(sorted(rows, key=lambda row: (row.alarm_id or "", row.created_ms))):
        if (before.kind, after.kind, before.alarm_id) == (
            MessageKind.ALARM,
            MessageKind.RETURNED,
            after.alarm_id,
        ):
            assert after.created_ms - before.created_ms > MINUTE


def judge(it: Bin, told: int, measured: Mapping[str, AlarmRule]) -> None:
    """Judge what was written since so many messages, at the moment at which it was written."""
    for one in it.outbox.all()[told:]:
        if one.alarm_id in measured and one.kind in ABOUT_NOW:
            said_of_a_value(it, one, measured[str(one.alarm_id)])


def played(course: list[tuple[str, object, int]]) -> Bin:
    it, told = Bin(), 0
    measured = {name: rule for name, rule in it.rules.items() if rule.quantity == "substrate_temperature"}
    assert len(measured) >= 3
    for kind, what, minutes in course:
        if kind == "restart":
            it.restart()
        elif kind == "ask":
            it.ask(AlarmEvent(str(what)), minutes)
        if kind in ("ask", "restart"):
            judge(it, told, measured)
            told = len(it.outbox.all())
        for _ in range(0 if kind in ("ask", "restart") else minutes):
            measures = kind in ("level", "slope")
            if measures:
                it.value = round(float(str(what)) if kind == "level" else it.value + float(str(what)), 2)
            it.minute(measures, kind == "fail")
            judge(it, told, measured)
            told = len(it.outbox.all())
            for name, rule in measured.items() if it.course else ():
                said_now(it, name, rule)
    no_return_on_the_heels_of_an_announcement(it)
    return it


@given(COURSES)
@settings(max_examples=30, deadline=None)
def test_what_is_said_of_alarms_is_so(course: list[tuple[str, object, int]]) -> None:
    played(course)


def test_a_shelf_that_ends_just_before_the_off_delay_is_not_followed_by_two_messages() -> None:
    """As it was seen: "HIGH, too high" at the end of the shelf, and "BACK TO NORMAL" 42 seconds later."""
    it = played(
        [
            ("level", 43.5, 10),
            ("ask", AlarmEvent.SHELVE, 14),
            ("level", 43.5, 10),
            ("level", 30.0, 20),
        ]
    )
    assert [
        row.kind for row in it.outbox.all() if row.alarm_id == "bin-1/substrate_temperature/high/high"
    ] == [MessageKind.ALARM]


def test_a_probe_that_is_put_back_sends_no_message_about_overheating() -> None:
    """As it was seen: from 33 to 39.5 °C and then flat held "overheats in 32 minutes" for 26 minutes."""
    it = played([("level", 33.0, 60), ("level", 39.5, 60)])
    assert it.outbox.messages_for("bin-1/minutes_to_overheating/low/high") == []
    rising = played([("level", 33.0, 60), ("level", 39.0, 1), ("slope", 0.05, 40)])
    kinds = [row.kind for row in rising.outbox.messages_for("bin-1/minutes_to_overheating/low/high")]
    assert kinds[0] is MessageKind.ALARM
