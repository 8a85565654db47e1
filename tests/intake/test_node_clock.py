"""Dating messages that waited in a 3.1.1 broker, and when the machine's clock can be believed."""

from __future__ import annotations

import pytest

from monitor.intake.node_clock import (
    EARLIEST_CLOCK_MS,
    MOST_MISSING,
    Absence,
    NodeClock,
    clock_is_set,
    clock_of,
    date_by_sequence,
    resolve_clock,
)
from monitor.records import NodeMessage, Reading, SensorKey, TimeSource

START_MS = 1_790_000_000_000
PERIOD_MS = 60_000
SENSOR = SensorKey("node-1", "", "air_temperature")


def _message(sequence: int | None, received_ms: int, boot: int = 1, **more: TimeSource) -> NodeMessage:
    source = more.get("source", TimeSource.RELATIVE)
    readings = (Reading(SENSOR, received_ms - 1000, 20.0), Reading(SENSOR, received_ms, 21.0))
    return NodeMessage("node-1", received_ms, readings, source, boot, sequence)


def _after_live(count: int = 5) -> NodeClock:
    memory = NodeClock()
    for sequence in range(count):
        memory, dated = resolve_clock(memory, _message(sequence, START_MS + sequence * PERIOD_MS))
        assert dated.readings[-1].at_ms == dated.received_ms
    return memory


def test_period_is_learned_from_live_messages() -> None:
    memory = _after_live()
    assert (memory.sequence, memory.sent_ms, memory.period_ms) == (4, START_MS + 4 * PERIOD_MS, PERIOD_MS)
    later, _ = resolve_clock(memory, _message(5, memory.sent_ms + 62_000))
    assert later.period_ms == pytest.approx(60_400)


def test_pause_of_a_node_is_not_its_period() -> None:
    memory = _after_live()
    later, dated = resolve_clock(memory, _message(5, memory.sent_ms + 3_600_000))
    assert later.period_ms == PERIOD_MS
    assert dated.readings[-1].at_ms == memory.sent_ms + 3_600_000


def test_queued_messages_are_dated_where_they_belong() -> None:
    """Twenty minutes away; twenty messages come at once, and each lands within a second of its sending."""
    memory = _after_live()
    last_ms = memory.sent_ms
    absence = Absence(last_ms + 30_000, last_ms + 20 * PERIOD_MS + 10_000)
    for step in range(1, 21):
        message = _message(4 + step, absence.end_ms + step * 5)
        memory, dated = resolve_clock(memory, message, absence)
        assert [one.at_ms for one in dated.readings] == [
            last_ms + step * PERIOD_MS - 1000,
            last_ms + step * PERIOD_MS,
        ]
        assert dated.clock_fault is None
    assert memory.period_ms == PERIOD_MS
    live = _message(25, absence.end_ms + 120_000)
    memory, dated = resolve_clock(memory, live, absence)
    assert dated == live


def test_estimate_stays_inside_the_absence() -> None:
    """A node that had lost count of time is never dated before we went away, nor after reception."""
    memory = _after_live()
    absence = Absence(memory.sent_ms + 300_000, memory.sent_ms + 600_000)
    _, early = resolve_clock(memory, _message(5, absence.end_ms), absence)
    assert early.readings[-1].at_ms == absence.start_ms
    _, late = resolve_clock(memory, _message(500, absence.end_ms), absence)
    assert late.readings[-1].at_ms == absence.end_ms


def test_message_that_comes_again_gets_its_old_time() -> None:
    memory = _after_live()
    absence = Absence(memory.sent_ms, memory.sent_ms + 1000)
    after, dated = resolve_clock(memory, _message(2, absence.end_ms + 500), absence)
    assert dated.readings[-1].at_ms == START_MS + 2 * PERIOD_MS
    assert after == memory


@pytest.mark.parametrize("case", ["restarted", "period not known"])
def test_what_cannot_be_dated_says_so(case: str) -> None:
    memory = _after_live() if case == "restarted" else _after_live(1)
    absence = Absence(memory.sent_ms, memory.sent_ms + 600_000)
    message = _message(5, absence.end_ms, boot=2 if case == "restarted" else 1)
    after, dated = resolve_clock(memory, message, absence)
    assert dated.readings == message.readings
    assert dated.clock_fault is not None and "sent while the monitor was away" in dated.clock_fault
    assert after.sequence == 5


@pytest.mark.parametrize(
    ("source", "age_known"),
    [(TimeSource.NODE, False), (TimeSource.RECEIVED, False), (TimeSource.RELATIVE, True)],
)
def test_known_times_are_left_alone(source: TimeSource, age_known: bool) -> None:
    memory = _after_live()
    absence = Absence(memory.sent_ms, memory.sent_ms + 600_000)
    message = _message(5, absence.end_ms, source=source)
    assert resolve_clock(memory, message, absence, age_known=age_known)[1] == message


def test_without_sequence_nothing_is_learned() -> None:
    message = _message(None, START_MS)
    assert resolve_clock(NodeClock(), message) == (NodeClock(), message)


def test_date_by_sequence() -> None:
    memory = NodeClock(1, 10, START_MS, 1000.0)
    assert date_by_sequence(memory, 1, 13) == START_MS + 3000
    assert date_by_sequence(memory, 1, 8) == START_MS - 2000
    assert date_by_sequence(memory, 2, 13) is None
    assert date_by_sequence(memory, 1, None) is None
    assert date_by_sequence(NodeClock(1, 10, START_MS), 1, 13) is None


@pytest.mark.parametrize(
    ("now_ms", "last_known_ms", "is_set"),
    [
        (0, None, False),
        (EARLIEST_CLOCK_MS - 1, None, False),
        (EARLIEST_CLOCK_MS, None, True),
        (START_MS, START_MS, True),
        (START_MS - 1, START_MS, False),
    ],
)
def test_clock_of_the_machine(now_ms: int, last_known_ms: int | None, is_set: bool) -> None:
    assert clock_is_set(now_ms, last_known_ms) is is_set


def test_the_rhythm_of_a_node_is_found_again_in_its_last_messages() -> None:
    live = [(sequence, START_MS + sequence * PERIOD_MS + 300 * (sequence % 2)) for sequence in range(10)]
    memory = clock_of(live, boot=1)
    assert (memory.boot, memory.sequence, memory.sent_ms) == (1, 9, START_MS + 9 * PERIOD_MS + 300)
    assert memory.period_ms == pytest.approx(PERIOD_MS, abs=300)
    waited = [(sequence, START_MS + 20 * PERIOD_MS + sequence) for sequence in range(10, 19)]
    assert clock_of([*live, *waited], boot=1).period_ms == pytest.approx(PERIOD_MS, abs=300)
    lost = [row for row in live if row[0] % 3]
    assert clock_of(lost, boot=1).period_ms == pytest.approx(PERIOD_MS, abs=300)


def test_a_node_of_which_little_is_known_has_the_interval_of_the_settings() -> None:
    assert clock_of([(7, START_MS)], 1, 30_000.0) == NodeClock(1, 7, START_MS, 30_000.0, START_MS)
    assert clock_of([], 1, 30_000.0).period_ms == 30_000.0
    assert clock_of([(7, START_MS)], 1).period_ms is None


@pytest.mark.parametrize("memory", [NodeClock(), NodeClock(1, 0, START_MS, 100 * PERIOD_MS)])
def test_messages_that_cannot_be_dated_keep_their_readings_apart(memory: NodeClock) -> None:
    absence = Absence(START_MS, START_MS + 10 * PERIOD_MS)
    times: set[int] = set()
    for sequence in range(1, 5):
        memory, dated = resolve_clock(memory, _message(sequence, absence.end_ms), absence)
        times.update(reading.at_ms for reading in dated.readings)
    assert len(times) == 8


def test_messages_of_one_rounded_age_keep_their_readings_apart() -> None:
    """An MQTT 5 broker tells the age in whole seconds; so several messages seem to be sent at once."""
    memory, times = NodeClock(), []
    for sequence, at_ms in enumerate((START_MS, START_MS, START_MS, START_MS + 1000, START_MS + 1000)):
        reading = Reading(SENSOR, at_ms, 20.0 + sequence)
        sent = NodeMessage("node-1", START_MS + 60_000, (reading,), TimeSource.RELATIVE, 1, sequence)
        memory, dated = resolve_clock(memory, sent, age_known=True)
        times.append(dated.readings[0].at_ms)
    assert times == [START_MS, START_MS + 1, START_MS + 2, START_MS + 1000, START_MS + 1001]
    again = NodeMessage(
        "node-1", START_MS + 60_000, (Reading(SENSOR, START_MS, 21.0),), TimeSource.RELATIVE, 1, 1
    )
    assert resolve_clock(memory, again, age_known=True)[1] == again, "one that comes again is not moved"


def test_a_burst_has_no_rhythm() -> None:
    memory = _after_live()
    for step in range(1, 6):
        memory, _ = resolve_clock(memory, _message(4 + step, START_MS + 10 * PERIOD_MS + 20 * step))
    assert memory.period_ms == PERIOD_MS


def _pack(sequence: int, received_ms: int, *ago_s: float) -> NodeMessage:
    """A pack with relative times: readings so many seconds before its arrival."""
    times = [received_ms - round(ago * 1000) for ago in ago_s]
    readings = tuple(Reading(SENSOR, at_ms, 20.0 + number) for number, at_ms in enumerate(times))
    return NodeMessage("node-1", received_ms, readings, TimeSource.RELATIVE, 1, sequence)


def _live_each_half_minute() -> NodeClock:
    memory = NodeClock()
    for sequence in range(5):
        memory, _ = resolve_clock(memory, _pack(sequence, START_MS + (sequence - 4) * 30_000, 0))
    return memory


def test_a_board_that_kept_its_readings_while_the_broker_was_down_is_dated_by_what_it_says() -> None:
    """Broker away for 90 s: it queued nothing, and the board brings its readings itself afterwards."""
    memory, absence = _live_each_half_minute(), Absence(START_MS + 5000, START_MS + 95_000)
    memory, backlog = resolve_clock(memory, _pack(5, START_MS + 115_000, 85, 57, 29, 0), absence)
    made_ms = [START_MS + second * 1000 for second in (30, 58, 86, 115)]
    off_ms = [one.at_ms - true for one, true in zip(backlog.readings, made_ms, strict=True)]
    assert max(map(abs, off_ms)) <= 2000
    for number, second in enumerate((125, 145, 155), 6):
        memory, live = resolve_clock(memory, _pack(number, START_MS + second * 1000, 0), absence)
        assert live.readings[0].at_ms == START_MS + second * 1000
        assert live.clock_fault is None


def test_a_pack_of_the_usual_kind_that_waited_in_the_broker_is_still_dated_by_its_place() -> None:
    memory, absence = _live_each_half_minute(), Absence(START_MS + 5000, START_MS + 95_000)
    for number in (1, 2, 3):
        memory, queued = resolve_clock(memory, _pack(4 + number, START_MS + 95_010, 1, 0), absence)
        assert queued.readings[-1].at_ms == START_MS + number * 30_000


def test_no_pack_reaches_back_behind_what_the_board_sent_before() -> None:
    """Whatever the sequence says: a later pack holds later readings."""
    memory, absence = _live_each_half_minute(), Absence(START_MS + 5000, START_MS + 995_000)
    _, backlog = resolve_clock(memory, _pack(5, START_MS + 995_100, 600, 300, 0), absence)
    assert [one.at_ms - START_MS for one in backlog.readings] == [300_000, 600_000, 900_000]


def test_what_came_behind_all_that_waited_is_live_whatever_the_absence() -> None:
    """The decoder gives no absence then; see the tests of the service with real brokers."""
    memory = _live_each_half_minute()
    for number, second in enumerate((115, 120, 131), 5):
        memory, live = resolve_clock(memory, _pack(number, START_MS + second * 1000, 0), None)
        assert live.readings[0].at_ms == START_MS + second * 1000


def test_nobody_sent_while_the_broker_was_down() -> None:
    """By its place it was sent at 30 s; the broker was away from 5 s to 95 s, so it was sent after that."""
    memory = _live_each_half_minute()
    absence = Absence(START_MS + 4000, START_MS + 96_000, (START_MS + 5000, START_MS + 95_000))
    _, dated = resolve_clock(memory, _pack(5, START_MS + 96_500, 0), absence)
    assert dated.readings[0].at_ms == START_MS + 95_000
    early = Absence(START_MS + 4000, START_MS + 196_000, (START_MS + 105_000, START_MS + 195_000))
    _, queued = resolve_clock(memory, _pack(7, START_MS + 196_010, 0), early)
    assert queued.readings[0].at_ms == START_MS + 90_000, "kept by a broker that went down later"


def _with_a_gap() -> NodeClock:
    """Sequences 0 to 9 each half minute; 5 did not come."""
    memory = NodeClock()
    for sequence in (0, 1, 2, 3, 4, 6, 7):
        memory, _ = resolve_clock(memory, _pack(sequence, START_MS + sequence * 30_000, 10, 0))
    assert memory.missing == (5,)
    return memory


def test_a_pack_whose_first_copy_was_lost_and_that_comes_as_it_was_is_dated_by_its_place() -> None:
    memory = _with_a_gap()
    after, again = resolve_clock(memory, _pack(5, START_MS + 217_000, 10, 0))
    assert [one.at_ms - START_MS for one in again.readings] == [140_000, 150_000]
    assert after == NodeClock(1, 7, START_MS + 210_000, memory.period_ms, START_MS + 210_000)
    _, twice = resolve_clock(after, _pack(5, START_MS + 230_000, 10, 0))
    assert twice.readings[-1].at_ms == START_MS + 230_000, "no longer missing: the store knows it"


def test_a_pack_whose_first_copy_was_lost_and_whose_times_are_new_stays_as_it_says() -> None:
    _, again = resolve_clock(_with_a_gap(), _pack(5, START_MS + 217_000, 77, 67))
    assert [one.at_ms - START_MS for one in again.readings] == [140_000, 150_000]


def test_a_late_pack_of_an_unknown_rhythm_or_with_a_clock_is_left_alone() -> None:
    unsteady = NodeClock(1, 7, START_MS, None, START_MS, (5,))
    _, again = resolve_clock(unsteady, _pack(5, START_MS + 9000, 0))
    assert again.readings[0].at_ms == START_MS + 9000
    own = _message(5, START_MS + 217_000, source=TimeSource.NODE)
    assert resolve_clock(_with_a_gap(), own)[1] == own


def test_a_board_that_begins_anew_under_the_same_boot_is_followed() -> None:
    memory = _live_each_half_minute()
    for sequence in range(5, 40):
        memory, _ = resolve_clock(memory, _pack(sequence, START_MS + sequence * 30_000, 0))
    at_ms = START_MS + 45 * 30_000
    for sequence in range(3):
        memory, dated = resolve_clock(memory, _pack(sequence, at_ms + sequence * 30_000, 0))
        assert dated.readings[0].at_ms == at_ms + sequence * 30_000
        assert (memory.sequence, memory.period_ms) == (sequence, pytest.approx(30_000))


def test_missing_sequences_are_found_again_after_a_restart_and_are_bounded() -> None:
    rows = [(1, START_MS), (2, START_MS + 30_000), (5, START_MS + 120_000), (6, START_MS + 150_000)]
    assert clock_of(rows, 1).missing == (3, 4)
    memory, _ = resolve_clock(NodeClock(1, 0, START_MS, 1000.0), _pack(10**9, START_MS + 5000, 0))
    assert len(memory.missing) == MOST_MISSING and memory.missing[-1] == 10**9 - 1


def test_packs_that_a_board_kept_and_a_broker_then_kept_are_dated_once() -> None:
    """The board was cut off for three rounds and sent its newest first; the monitor was away."""
    memory, absence = _live_each_half_minute(), Absence(START_MS + 5000, START_MS + 600_000)
    sent_ms, came_ms = START_MS + 120_000, START_MS + 600_050
    memory, newest = resolve_clock(memory, _pack(8, came_ms, 0), absence)
    assert newest.readings[0].at_ms == sent_ms
    for number, ago_s in ((5, 90), (6, 60), (7, 30)):
        memory, kept = resolve_clock(memory, _pack(number, came_ms, ago_s), absence)
        assert kept.readings[0].at_ms == sent_ms - ago_s * 1000
    assert memory.missing == ()


def test_a_missing_pack_sent_again_as_it_was_and_kept_by_the_broker_is_dated_by_its_place() -> None:
    memory, absence = _live_each_half_minute(), Absence(START_MS + 5000, START_MS + 600_000)
    memory, _ = resolve_clock(memory, _pack(6, START_MS + 600_050, 0), absence)
    _, again = resolve_clock(memory, _pack(5, START_MS + 600_060, 0), absence)
    assert again.readings[0].at_ms == START_MS + 30_000
