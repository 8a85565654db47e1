"""The alarm table cell by cell, then what samples, late data, the clock and people do to an alarm."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest
from alarm_steps import advance
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.alarms.state_machine import (
    TABLE,
    advance_many,
    apply_event,
    mark_stale,
    request,
    suppress,
    tick,
)
from monitor.alarms.timing import (
    Phase,
    Sample,
    past_excursion,
    phase_of,
    points_to_change,
    running_delay,
    suppression_until,
)
from monitor.errors import UnknownTransition, UsageError
from monitor.records import (
    MS_PER_DAY,
    MS_PER_HOUR,
    MS_PER_MINUTE,
    AlarmEvent,
    AlarmRule,
    AlarmState,
    AlarmStatus,
    Excursion,
    Priority,
    Side,
    Transition,
)

# What ISA-18.2 / IEC 62682 ask of each state, in the words of OPC 10000-9 section 4.8: an active and an
# acknowledged fact give four states, three overlays hide them and are left to the live condition.
# One row per state, columns in the order of EVENTS, "-" where the pair must be refused.
EVENTS = tuple(
    "activate clear acknowledge shelve unshelve shelf_end suppress unsuppress take_out put_back".split()  # noqa: SIM905
)
EXPECTED = {
    "normal": "unack - - shelved - - suppressed - out -",
    "unack": "- returned ack shelved - - suppressed - out -",
    "ack": "- normal - shelved - - suppressed - out -",
    "returned": "unack - normal shelved - - suppressed - out -",
    "shelved": "shelved shelved - shelved normal normal suppressed - out -",
    "suppressed": "suppressed suppressed - - - - - normal out -",
    "out": "out out - - - - - - - normal",
}
STATUS = {
    "normal": AlarmStatus.NORMAL,
    "unack": AlarmStatus.UNACKNOWLEDGED,
    "ack": AlarmStatus.ACKNOWLEDGED,
    "returned": AlarmStatus.RETURNED_UNACKNOWLEDGED,
    "shelved": AlarmStatus.SHELVED,
    "suppressed": AlarmStatus.SUPPRESSED_BY_DESIGN,
    "out": AlarmStatus.OUT_OF_SERVICE,
}
EVENT = dict(
    zip(
        EVENTS,
        (
            AlarmEvent.ACTIVATE,
            AlarmEvent.CLEAR,
            AlarmEvent.ACKNOWLEDGE,
            AlarmEvent.SHELVE,
            AlarmEvent.UNSHELVE,
            AlarmEvent.SHELF_END,
            AlarmEvent.SUPPRESS,
            AlarmEvent.UNSUPPRESS,
            AlarmEvent.TAKE_OUT,
            AlarmEvent.PUT_BACK,
        ),
        strict=True,
    )
)
CELLS = [
    (state, event, after)
    for state, row in EXPECTED.items()
    for event, after in zip(EVENTS, row.split(), strict=True)
]

RULE = AlarmRule(
    alarm_id="bin-1/substrate_temperature/high/high",
    place="bin-1",
    quantity="substrate_temperature",
    side=Side.HIGH,
    setpoint=42.0,
    deadband=1.0,
    on_delay_s=120.0,
    off_delay_s=300.0,
    priority=Priority.HIGH,
    consequence="larvae die",
    response="stir the bin",
)
LOW_RULE = replace(RULE, priority=Priority.LOW)
FRESH = AlarmState(RULE.alarm_id)
T0 = 1_700_000_000_000
GAP_S = 150.0


def minutes(*values: float | None, start: float = 0) -> list[Sample]:
    return [Sample(T0 + int((start + i) * MS_PER_MINUTE), value) for i, value in enumerate(values)]


def feed(
    state: AlarmState, samples: list[Sample], rule: AlarmRule = RULE
) -> tuple[AlarmState, list[Transition]]:
    """Each sample by itself, processed the moment that it was measured."""
    journal: list[Transition] = []
    for sample in samples:
        state, transitions = advance(state, rule, sample, sample.at_ms, GAP_S)
        journal.extend(transitions)
    return state, journal


def at(minute: float) -> int:
    return T0 + int(minute * MS_PER_MINUTE)


def active(status: AlarmStatus = AlarmStatus.UNACKNOWLEDGED) -> AlarmState:
    state, _ = feed(FRESH, minutes(43, 43, 43))
    return replace(state, status=status, acknowledged=status is not AlarmStatus.UNACKNOWLEDGED)


def test_every_state_and_event_is_in_the_expected_table() -> None:
    assert set(STATUS.values()) == set(AlarmStatus)
    assert set(EVENT.values()) == set(AlarmEvent)
    assert len(CELLS) == 70
    assert len(TABLE) == sum(after != "-" for _, _, after in CELLS)


@pytest.mark.parametrize(("state", "event", "after"), CELLS, ids=[f"{s}-{e}" for s, e, _ in CELLS])
def test_cell(state: str, event: str, after: str) -> None:
    if after != "-":
        assert apply_event(STATUS[state], EVENT[event]) is STATUS[after]
        return
    with pytest.raises(UnknownTransition) as refusal:
        apply_event(STATUS[state], EVENT[event])
    assert STATUS[state].value in str(refusal.value)
    assert EVENT[event].value in str(refusal.value)


def test_the_table_cannot_be_changed() -> None:
    with pytest.raises(TypeError):
        TABLE[AlarmStatus.NORMAL, AlarmEvent.CLEAR] = AlarmStatus.NORMAL  # type: ignore[index]


@pytest.mark.parametrize("late", [False, True])
def test_a_refused_request_changes_nothing(late: bool) -> None:
    state = active(AlarmStatus.ACKNOWLEDGED) if late else FRESH
    kept = replace(state)
    with pytest.raises(UnknownTransition):
        request(state, RULE, AlarmEvent.ACKNOWLEDGE, at(9), "worker")
    assert state == kept


# --- delays and deadband, in time of measurement ---


def test_on_delay_counts_from_the_first_sample_beyond() -> None:
    state, journal = feed(FRESH, minutes(41, 43, 43))
    assert (state.active, state.progress_s, journal) == (False, 60.0, [])
    state, journal = feed(state, minutes(44, start=3))
    assert state.status is AlarmStatus.UNACKNOWLEDGED
    assert [(t.event, t.at_ms, t.value, t.setpoint) for t in journal] == [
        (AlarmEvent.ACTIVATE, at(3), 44, 42.0)
    ]
    assert (state.since_ms, state.extreme_value, state.last_true_ms) == (at(1), 44, at(3))


def test_delay_of_nothing_acts_on_the_first_sample() -> None:
    rule = replace(RULE, on_delay_s=0.0, off_delay_s=0.0)
    state, journal = feed(FRESH, minutes(43), rule)
    assert state.status is AlarmStatus.UNACKNOWLEDGED
    _, journal = feed(state, minutes(41, start=1), rule)
    assert [t.event for t in journal] == [AlarmEvent.CLEAR]


def test_one_sample_inside_starts_the_on_delay_again() -> None:
    state, journal = feed(FRESH, minutes(43, 43, 41.9, 43, 43))
    assert (state.active, state.progress_s, state.since_ms, journal) == (False, 60.0, at(3), [])


def test_the_setpoint_itself_is_not_beyond() -> None:
    state, journal = feed(FRESH, minutes(*[42.0] * 30))
    assert (state.progress_s, journal) == (0.0, [])


def test_between_setpoint_and_deadband_the_state_holds() -> None:
    state, journal = feed(active(), minutes(*[41.5] * 60, start=3))
    assert (state.active, journal, state.last_true_ms) == (True, [], at(62))
    state, journal = feed(FRESH, minutes(*[41.5] * 60))
    assert (state.active, journal) == (False, [])


def test_clears_after_the_off_delay_inside_by_the_deadband() -> None:
    state, journal = feed(active(), minutes(*[41.0] * 6, start=3))
    assert [t.event for t in journal] == [AlarmEvent.CLEAR]
    assert journal[0].at_ms == at(8)
    assert (state.status, state.last_true_ms) == (AlarmStatus.RETURNED_UNACKNOWLEDGED, at(2))


def test_low_side_is_the_mirror_image() -> None:
    rule = replace(RULE, side=Side.LOW, setpoint=20.0)
    state, journal = feed(FRESH, minutes(20, 19, 18, 19), rule)
    assert (journal[0].event, state.extreme_value) == (AlarmEvent.ACTIVATE, 18)
    state, journal = feed(state, minutes(*[20.5] * 10, *[21] * 6, start=4), rule)
    assert [t.at_ms for t in journal] == [at(19)]


def test_a_gap_freezes_the_delay() -> None:
    state, _ = feed(FRESH, minutes(43, 43))
    state, journal = feed(state, minutes(43, start=60))
    assert (state.progress_s, journal) == (60.0, [])
    state, journal = feed(state, minutes(43, start=61))
    assert [t.event for t in journal] == [AlarmEvent.ACTIVATE]
    assert state.since_ms == at(0)


@pytest.mark.parametrize("value", [None, float("nan"), float("inf")])
def test_a_failed_reading_neither_counts_nor_resets(value: float | None) -> None:
    state, journal = feed(FRESH, minutes(43, value, 43))
    assert (state.status, len(journal)) == (AlarmStatus.UNACKNOWLEDGED, 1)


def test_redelivered_and_older_samples_are_ignored() -> None:
    state, _ = feed(FRESH, minutes(43, 43))
    again, journal = feed(state, minutes(43, 20))
    assert (again, journal) == (state, [])


def test_a_suspect_reading_counts_and_the_journal_says_so() -> None:
    rule = replace(RULE, on_delay_s=0.0)
    _, journal = advance(FRESH, rule, Sample(T0, 50.0, suspect=True), T0, GAP_S)
    assert "suspect" in journal[0].reason


# --- acknowledging and coming back ---


def test_acknowledged_then_cleared_is_normal() -> None:
    state, journal = request(active(), RULE, AlarmEvent.ACKNOWLEDGE, at(4), "worker", "going there")
    assert (state.status, state.acknowledged) == (AlarmStatus.ACKNOWLEDGED, True)
    assert (journal[0].actor, journal[0].reason, journal[0].processed_ms) == ("worker", "going there", at(4))
    state, _ = feed(state, minutes(*[40] * 6, start=5))
    assert state.status is AlarmStatus.NORMAL


def test_returned_alarm_waits_for_a_person_and_announces_again() -> None:
    state, _ = feed(active(), minutes(*[40] * 6, start=3))
    assert (state.status, state.acknowledged) == (AlarmStatus.RETURNED_UNACKNOWLEDGED, False)
    state, journal = feed(state, minutes(43, 43, 43, start=9))
    assert [t.announces for t in journal] == [True]
    assert state.since_ms == at(9)


def test_what_is_over_stays_as_it_was_while_the_value_only_touches_the_limit_again() -> None:
    state, _ = feed(active(), minutes(44.5, *[40] * 6, start=3))
    assert past_excursion(state) == Excursion(RULE.alarm_id, at(0), at(9), 44.5)
    touched, journal = feed(state, minutes(47, 40, start=10))
    assert (past_excursion(touched), journal) == (past_excursion(state), [])
    assert touched.since_ms == at(10)
    again, _ = feed(touched, minutes(43, 43, 43, start=12))
    assert (again.since_ms, again.extreme_value, past_excursion(again)) == (at(12), 43, None)
    assert past_excursion(FRESH) is None


@pytest.mark.parametrize(
    ("values", "phase", "delay"),
    [
        ((41.0,), Phase.INSIDE, None),
        ((41.0, 43.0), Phase.COMING, (at(1), at(3))),
        ((41.0, 43.0, 43.0), Phase.COMING, (at(1), at(3))),
        ((43.0, 43.0, 43.0), Phase.BEYOND, None),
        ((43.0, 43.0, 43.0, 41.5), Phase.BETWEEN, None),
        ((43.0, 43.0, 43.0, 41.0), Phase.BACK, (at(3), at(8))),
        ((43.0, 43.0, 43.0, 41.0, 40.0), Phase.BACK, (at(3), at(8))),
        ((43.0, 43.0, 43.0, *[41.0] * 6), Phase.INSIDE, None),
    ],
    ids=str,
)
def test_where_a_value_stands_and_when_that_changes_the_alarm(
    values: tuple[float, ...], phase: Phase, delay: tuple[int, int] | None
) -> None:
    state, _ = feed(FRESH, minutes(*values))
    assert phase_of(RULE, state.active, state.last_value) is phase
    assert running_delay(state, RULE) == delay


def test_clearing_acknowledges_a_low_alarm() -> None:
    state, journal = feed(active(), minutes(*[40] * 6, start=3), LOW_RULE)
    assert (state.status, state.acknowledged) == (AlarmStatus.NORMAL, True)
    assert [(t.event, t.actor) for t in journal] == [
        (AlarmEvent.CLEAR, "monitor"),
        (AlarmEvent.ACKNOWLEDGE, "monitor"),
    ]


# --- overlays ---


def test_shelf_hides_and_its_end_tells_what_is_true_now() -> None:
    state, journal = request(active(), RULE, AlarmEvent.SHELVE, at(3), "worker", "stirring", at(33))
    assert (state.status, state.shelved_until_ms, journal[0].announces) == (
        AlarmStatus.SHELVED,
        at(33),
        False,
    )
    assert tick(state, RULE, at(32)) == (state, ())
    state, journal = tick(state, RULE, at(33))
    assert (state.status, state.shelved_until_ms) == (AlarmStatus.UNACKNOWLEDGED, None)
    assert [(t.event, t.after) for t in journal] == [
        (AlarmEvent.SHELF_END, AlarmStatus.NORMAL),
        (AlarmEvent.ACTIVATE, AlarmStatus.UNACKNOWLEDGED),
    ]


def back_beneath_a_shelf() -> AlarmState:
    """Shelved until minute 33, and back inside since minute 24: the off-delay of ten minutes runs on."""
    state, _ = request(active(), SLOW_BACK, AlarmEvent.SHELVE, at(3), "worker", "stirring", at(33))
    return feed(state, minutes(*[43] * 20, *[40] * 9, start=4), SLOW_BACK)[0]


SLOW_BACK = replace(RULE, off_delay_s=600.0)


def test_a_shelf_that_ends_while_the_value_is_back_announces_nothing() -> None:
    state, journal = tick(back_beneath_a_shelf(), SLOW_BACK, at(33))
    assert (state.status, state.active) == (AlarmStatus.NORMAL, True)
    assert [row.event for row in journal] == [AlarmEvent.SHELF_END]
    over, rows = feed(state, minutes(40, 40, start=33), SLOW_BACK)
    assert (over.active, over.status, rows) == (False, AlarmStatus.NORMAL, [])
    again, rows = feed(state, minutes(43, start=33), SLOW_BACK)
    assert [row.announces for row in rows] == [True]
    assert again.since_ms == at(0)


def test_an_overlay_that_a_person_ends_while_the_value_is_back_announces_nothing() -> None:
    state, journal = request(back_beneath_a_shelf(), SLOW_BACK, AlarmEvent.UNSHELVE, at(33), "worker")
    assert (state.status, [row.announces for row in journal]) == (AlarmStatus.NORMAL, [False])
    hidden, _ = suppress(back_beneath_a_shelf(), SLOW_BACK, True, at(33))
    state, journal = suppress(hidden, SLOW_BACK, False, at(34))
    assert (state.status, [row.announces for row in journal]) == (AlarmStatus.NORMAL, [False])
    out, _ = request(back_beneath_a_shelf(), SLOW_BACK, AlarmEvent.TAKE_OUT, at(33), "worker")
    state, journal = request(out, SLOW_BACK, AlarmEvent.PUT_BACK, at(34), "worker")
    assert (state.status, [row.announces for row in journal]) == (AlarmStatus.NORMAL, [False])


def test_an_overlay_that_ends_with_the_value_within_the_deadband_announces() -> None:
    state, _ = request(active(), SLOW_BACK, AlarmEvent.SHELVE, at(3), "worker", "stirring", at(33))
    state, _ = feed(state, minutes(*[43] * 20, *[41.5] * 9, start=4), SLOW_BACK)
    assert [row.announces for row in tick(state, SLOW_BACK, at(33))[1]] == [False, True]


def test_the_live_condition_moves_beneath_a_shelf() -> None:
    state, _ = request(FRESH, RULE, AlarmEvent.SHELVE, T0 - 1, "worker", until_ms=at(600))
    state, journal = feed(state, minutes(43, 43, 43, *[40] * 6))
    assert [(t.event, t.before, t.after) for t in journal] == [
        (AlarmEvent.ACTIVATE, AlarmStatus.SHELVED, AlarmStatus.SHELVED),
        (AlarmEvent.CLEAR, AlarmStatus.SHELVED, AlarmStatus.SHELVED),
    ]
    state, rows = request(state, RULE, AlarmEvent.UNSHELVE, at(20), "worker")
    assert (state.status, len(rows)) == (AlarmStatus.NORMAL, 1)


def test_the_end_of_a_shelf_can_be_moved() -> None:
    state, _ = request(FRESH, RULE, AlarmEvent.SHELVE, at(0), "worker", until_ms=at(60))
    state, _ = request(state, RULE, AlarmEvent.SHELVE, at(1), "worker", until_ms=at(30))
    assert state.shelved_until_ms == at(30)


@pytest.mark.parametrize("until_ms", [None, T0, T0 - 1, T0 + 7 * MS_PER_DAY + 1])
def test_a_shelf_needs_an_end_within_seven_days(until_ms: int | None) -> None:
    with pytest.raises(UsageError, match="at most 7 days"):
        request(FRESH, RULE, AlarmEvent.SHELVE, T0, "worker", until_ms=until_ms)
    assert request(FRESH, RULE, AlarmEvent.SHELVE, T0, "worker", until_ms=T0 + 7 * MS_PER_DAY)


@pytest.mark.parametrize("event", [AlarmEvent.ACTIVATE, AlarmEvent.CLEAR, AlarmEvent.SHELF_END])
def test_nobody_can_ask_for_what_follows_from_readings(event: AlarmEvent) -> None:
    with pytest.raises(UsageError, match="cannot be asked for"):
        request(active(), RULE, event, at(3), "worker")


def test_suppression_over_a_shelf_falls_back_to_the_shelf_while_it_runs() -> None:
    shelved, _ = request(active(), RULE, AlarmEvent.SHELVE, at(3), "worker", until_ms=at(60))
    state, _ = suppress(shelved, RULE, True, at(10), "power cut")
    assert state.status is AlarmStatus.SUPPRESSED_BY_DESIGN
    back, journal = suppress(state, RULE, False, at(20))
    assert (back.status, back.shelved_until_ms, len(journal)) == (AlarmStatus.SHELVED, at(60), 2)
    back, journal = suppress(state, RULE, False, at(61))
    assert (back.status, back.shelved_until_ms) == (AlarmStatus.UNACKNOWLEDGED, None)


def test_suppress_is_idempotent_and_gives_way_to_out_of_service() -> None:
    state, first = suppress(FRESH, RULE, True, at(0), "the bin is empty")
    again, second = suppress(state, RULE, True, at(1), "the bin is empty")
    assert (len(first), again, second) == (1, state, ())
    out, _ = request(state, RULE, AlarmEvent.TAKE_OUT, at(2), "worker")
    assert suppress(out, RULE, True, at(3)) == (out, ())
    assert suppress(out, RULE, False, at(3)) == (out, ())


def test_back_into_service_in_an_empty_place_does_not_announce() -> None:
    out, _ = request(active(), RULE, AlarmEvent.TAKE_OUT, at(3), "worker", "new probe")
    state, journal = request(out, RULE, AlarmEvent.PUT_BACK, at(4), "worker", suppressed=True)
    assert state.status is AlarmStatus.SUPPRESSED_BY_DESIGN
    assert not any(t.announces for t in journal)
    state, journal = request(out, RULE, AlarmEvent.PUT_BACK, at(4), "worker")
    assert [t.announces for t in journal] == [False, True]


# --- late data and silence ---

NIGHT_LATER = at(5 * 60)


def test_a_past_that_is_over_never_announces() -> None:
    batch = minutes(40, *[44, 45, 44, 44], *[40] * 300)
    result = advance_many(FRESH, RULE, batch, batch[-1].at_ms, GAP_S)
    assert (result.state.status, result.transitions) == (AlarmStatus.NORMAL, ())
    [excursion] = result.found_late
    assert (excursion.began_ms, excursion.ended_ms, excursion.extreme_value) == (at(1), at(10), 45)


def test_a_backlog_that_ends_out_of_limits_announces_once() -> None:
    batch = minutes(44, 44, 44, *[40] * 10, *[44] * 10)
    result = advance_many(FRESH, RULE, batch, batch[-1].at_ms, GAP_S)
    assert [t.announces for t in result.transitions] == [True]
    assert result.state.since_ms == at(13)
    assert len(result.found_late) == 1


def test_a_backlog_in_pieces_announces_nothing_until_a_fresh_reading_agrees() -> None:
    state = FRESH
    found: list[Excursion] = []
    for piece in (minutes(44, 44, 44, 44), minutes(*[40] * 60, start=4), minutes(44, 44, 44, 44, start=64)):
        result = advance_many(state, RULE, piece, NIGHT_LATER, GAP_S)
        state, found = result.state, [*found, *result.found_late]
        assert result.transitions == ()
    assert (state.active, state.status, len(found)) == (True, AlarmStatus.NORMAL, 1)
    result = advance_many(state, RULE, [Sample(NIGHT_LATER, 44.0)], NIGHT_LATER, GAP_S)
    assert [t.announces for t in result.transitions] == [True]


def test_late_data_that_nothing_follows_announces_when_it_goes_stale() -> None:
    state = advance_many(FRESH, RULE, minutes(44, 44, 44), NIGHT_LATER, GAP_S).state
    state, journal = mark_stale(state, RULE, NIGHT_LATER + MS_PER_HOUR)
    assert state.status is AlarmStatus.UNACKNOWLEDGED
    assert (journal[0].at_ms, journal[0].announces) == (at(2), True)
    assert "late" in journal[0].reason


def test_a_backlog_whose_last_reading_is_back_inside_waits_for_the_off_delay() -> None:
    batch = minutes(44, 44, 44, 44, 40)
    result = advance_many(FRESH, RULE, batch, batch[-1].at_ms, GAP_S)
    assert (result.state.active, result.transitions) == (True, ())
    over, journal = feed(result.state, minutes(*[40] * 5, start=5))
    assert (over.active, over.status, journal) == (False, AlarmStatus.NORMAL, [])
    again, journal = feed(result.state, minutes(44, start=5))
    assert (again.status, [t.announces for t in journal]) == (AlarmStatus.UNACKNOWLEDGED, [True])


def test_an_announced_alarm_that_went_on_and_off_in_a_backlog_says_only_how_it_ended() -> None:
    batch = minutes(*[40] * 6, *[44] * 3, *[40] * 6, start=3)
    result = advance_many(active(), RULE, batch, batch[-1].at_ms, GAP_S)
    assert [t.event for t in result.transitions] == [AlarmEvent.CLEAR]
    assert [e.began_ms for e in result.found_late] == [at(9)]


def test_an_active_alarm_without_data_stays_active_and_knows_when_it_was_last_true() -> None:
    state, journal = mark_stale(active(), RULE, at(60))
    assert (state.stale, state.active, state.last_true_ms, journal) == (True, True, at(2), ())
    assert mark_stale(state, RULE, at(61)) == (state, ())
    state, _ = feed(state, minutes(43, start=90))
    assert not state.stale


# --- suppression for a stated time ---

MEDIUM = replace(RULE, priority=Priority.MEDIUM)


@pytest.mark.parametrize(
    ("change_k", "minutes_long"),
    [(1.0, 18), (-2.0, 36), (0.5, 9), (6.0, 108), (10.0, 120), (None, 120)],
    ids=str,
)
def test_guideline_36_suppression(change_k: float | None, minutes_long: int) -> None:
    # 1080 s per K, at most 7200 s: ASHRAE Guideline 36 section 5.3.6, as in the Modelica Buildings library
    assert suppression_until(MEDIUM, T0, change_k) == at(minutes_long)


def test_a_high_alarm_and_no_change_are_not_suppressed() -> None:
    assert suppression_until(RULE, T0, 1.0) is None
    assert suppression_until(RULE, T0, None) is None
    assert suppression_until(MEDIUM, T0, 0.0) is None


def test_humidity_counts_in_deadbands() -> None:
    humid = replace(MEDIUM, quantity="air_humidity", deadband=3.0)
    assert suppression_until(humid, T0, 6.0) == at(36)
    assert suppression_until(replace(humid, deadband=0.0), T0, 6.0) == at(120)


# --- any sequence ---

ACTIONS = st.one_of(
    st.tuples(st.just("value"), st.floats(35, 48), st.integers(1, 20)),
    st.tuples(st.just("late"), st.floats(35, 48), st.integers(11, 500)),
    st.tuples(st.just("stale"), st.none(), st.integers(1, 60)),
    st.tuples(st.just("tick"), st.none(), st.integers(1, 600)),
    st.tuples(st.just("suppress"), st.booleans(), st.integers(0, 5)),
    st.tuples(st.just("ask"), st.sampled_from(sorted(AlarmEvent)), st.integers(0, 5)),
)


def act(
    state: AlarmState, rule: AlarmRule, action: tuple[str, object, int], now_ms: int
) -> tuple[AlarmState, tuple[Transition, ...]]:
    kind, what, number = action
    if kind in ("value", "late"):
        assert isinstance(what, float)
        measured_ms = now_ms - (number * MS_PER_MINUTE if kind == "late" else 0)
        return advance(state, rule, Sample(measured_ms, what), now_ms, GAP_S)
    if kind == "stale":
        return mark_stale(state, rule, now_ms)
    if kind == "tick":
        return tick(state, rule, now_ms)
    if kind == "suppress":
        return suppress(state, rule, bool(what), now_ms)
    return request(state, rule, AlarmEvent(str(what)), now_ms, "worker", until_ms=now_ms + MS_PER_HOUR)


def check_invariants(state: AlarmState, fresh: bool, back_inside: bool) -> None:
    status = state.status
    owed = status in (AlarmStatus.UNACKNOWLEDGED, AlarmStatus.RETURNED_UNACKNOWLEDGED)
    assert state.acknowledged is not owed
    assert (state.shelved_until_ms is not None) or status is not AlarmStatus.SHELVED
    hidden = (AlarmStatus.SHELVED, AlarmStatus.SUPPRESSED_BY_DESIGN)
    assert state.shelved_until_ms is None or status in hidden
    overlay = (*hidden, AlarmStatus.OUT_OF_SERVICE)
    standing = status in (AlarmStatus.UNACKNOWLEDGED, AlarmStatus.ACKNOWLEDGED)
    if fresh and status not in overlay and not back_inside:
        assert state.active is standing
    if fresh and standing:
        assert state.active


@settings(max_examples=150, deadline=None)
@given(
    st.lists(ACTIONS, max_size=40), st.sampled_from(Priority), st.sampled_from([0.0, 120.0]), st.booleans()
)
def test_no_sequence_leaves_the_table(
    actions: list[tuple[str, object, int]], priority: Priority, delay_s: float, high: bool
) -> None:
    rule = replace(RULE, priority=priority, on_delay_s=delay_s, side=Side.HIGH if high else Side.LOW)
    state, now_ms = FRESH, T0
    journal: list[Transition] = []
    for action in actions:
        now_ms += action[2] * MS_PER_MINUTE
        kept = replace(state)
        try:
            state, transitions = act(state, rule, action, now_ms)
        except (UnknownTransition, UsageError):
            assert state == kept
            continue
        journal.extend(transitions)
        fresh = action[0] == "value" and state.last_at_ms == now_ms
        check_invariants(state, fresh, points_to_change(state, rule, state.last_value))
    chain = [AlarmStatus.NORMAL, *(t.after for t in journal)]
    assert all(t.before is before for t, before in zip(journal, chain, strict=False))
    assert all(TABLE[t.before, t.event] is t.after for t in journal)
    assert (state.status is chain[-1]) and all(a.processed_ms <= b.processed_ms for a, b in pairwise(journal))
