"""Nodes: identities, gaps in the sequence, duplicates, refusals, statuses."""

from __future__ import annotations

import random
from copy import deepcopy
from dataclasses import replace

import pytest
from store_samples import AIR, START_MS, batch, flagged, message

from monitor.errors import SaidText, said_of, sentence
from monitor.records import MS_PER_DAY, FlaggedMessage, NodeFacts, NodeStatus, Rejected, TimeSource
from monitor.store import Store, nodes


def _hear(store: Store, *numbers: tuple[int, int]) -> NodeFacts:
    for boot, sequence in numbers:
        store.commit(batch(message(boot=boot, sequence=sequence)))
    facts = store.nodes.one("node-1")
    assert facts is not None
    return facts


def test_what_is_known_after_the_first_message(store: Store) -> None:
    first = message(
        flagged(AIR, START_MS, 20.0),
        boot=3,
        sequence=17,
        clock_fault="its clock stands at 1970",
        silence_limit_s=600.0,
        received_ms=START_MS + 5,
    )
    store.commit(batch(first))
    assert store.nodes.every() == (
        NodeFacts(
            node="node-1",
            first_heard_ms=START_MS + 5,
            last_heard_ms=START_MS + 5,
            online=None,
            boot=3,
            sequence=17,
            clock_fault="its clock stands at 1970",
            messages=1,
            missing=0,
            duplicates=0,
            conflicts=0,
            rejected=0,
            last_reject_ms=None,
            last_reject_reason="",
            last_reject_sample=b"",
            silence_limit_s=600.0,
        ),
    )


def test_why_a_message_was_refused_is_kept_with_its_values_apart(store: Store) -> None:
    """And read in English by whoever knows of no sentence; what an older version kept stays as it is."""
    said = [sentence("{name}: {why}", name="probe {1}", why=sentence("lies in the future")) for _ in range(2)]
    fault = SaidText(sentence("{length} behind; the time of arrival was used instead", length="{3} days"))
    store.commit(batch(message(clock_fault=fault, skipped=tuple(map(SaidText, said)))))
    facts = store.nodes.one("node-1")
    assert facts is not None
    assert facts.clock_fault == "{3} days behind; the time of arrival was used instead"
    assert facts.last_reject_reason == "probe {1}: lies in the future; probe {1}: lies in the future"
    assert said_of(facts.last_reject_reason).values == {"part_0": said[0], "part_1": said[1]}
    assert deepcopy(facts.last_reject_reason) == facts.last_reject_reason
    store.commit(batch(message(clock_fault="3 days behind {", skipped=("odd }",))))
    facts = store.nodes.one("node-1")
    assert facts is not None and (facts.clock_fault, facts.last_reject_reason) == ("3 days behind {", "odd }")


def test_a_clock_that_was_set_clears_the_fault_and_a_promise_stays(store: Store) -> None:
    store.commit(batch(message(clock_fault="behind", silence_limit_s=600.0)))
    store.commit(batch(message()))
    facts = store.nodes.one("node-1")
    assert facts is not None
    assert (facts.clock_fault, facts.silence_limit_s, facts.messages) == (None, 600.0, 2)


@pytest.mark.parametrize(
    ("numbers", "missing", "duplicates"),
    [
        ([(1, 0), (1, 1), (1, 2)], 0, 0),
        ([(1, 0), (1, 4)], 3, 0),
        ([(1, 0), (1, 4), (1, 2)], 2, 0),
        ([(1, 0), (1, 4), (1, 2), (1, 2)], 2, 1),
        ([(1, 5), (1, 3)], 1, 0),
        ([(1, 5), (1, 3), (1, 4)], 0, 0),
        ([(1, 5), (2, 0), (2, 1)], 0, 0),
        ([(1, 5), (2, 0), (1, 7), (1, 6)], 0, 0),
        ([(1, 5), (1, 5), (1, 5)], 0, 2),
    ],
)
def test_gaps_in_the_sequence(
    store: Store, numbers: list[tuple[int, int]], missing: int, duplicates: int
) -> None:
    facts = _hear(store, *numbers)
    assert (facts.missing, facts.duplicates, facts.messages) == (
        missing,
        duplicates,
        len(numbers) - duplicates,
    )


def test_any_order_in_any_batches_ends_with_nothing_missing(store: Store) -> None:
    numbers = [number for number in range(200) for _ in range(2)]
    random.Random(4).shuffle(numbers)
    for at in range(0, 400, 23):
        some = [message(boot=9, sequence=number) for number in numbers[at : at + 23]]
        store.commit(batch(*some))
    facts = store.nodes.one("node-1")
    assert facts is not None
    assert (facts.messages, facts.missing, facts.duplicates) == (200, 0, 200)


def test_a_redelivered_message_is_counted_and_changes_nothing(store: Store) -> None:
    again = message(flagged(AIR, START_MS, 20.0), boot=1, sequence=1)
    store.commit(batch(again))
    result = store.commit(batch(again, again))
    assert (result.stored, result.duplicate_messages, result.duplicate_readings) == (0, 2, 2)


def test_a_board_that_forgets_its_boot_count_loses_no_reading(store: Store) -> None:
    store.commit(batch(message(flagged(AIR, START_MS, 20.0), boot=0, sequence=1)))
    store.commit(batch(message(flagged(AIR, START_MS + 9_000_000, 21.0), boot=0, sequence=1)))
    assert len(store.readings.series(AIR, 0, 2 * START_MS)) == 2


@pytest.mark.parametrize("number", [2**63, -(2**63) - 1, 10**40])
def test_numbers_beyond_reason_are_no_identity(store: Store, number: int) -> None:
    facts = _hear(store, (number, 1), (1, number))
    assert (facts.messages, facts.duplicates, facts.missing) == (2, 0, 0)


def test_a_huge_leap_of_the_sequence_stays_countable(store: Store) -> None:
    for boot in range(5):
        facts = _hear(store, (boot, 0), (boot, 2**63 - 1))
    assert facts.missing > 0


def test_statuses_do_not_count_as_heard(store: Store) -> None:
    store.commit(batch(message()))
    later = START_MS + 100_000
    store.commit(batch(statuses=(NodeStatus("node-1", later, True), NodeStatus("node-2", later, False))))
    one, two = store.nodes.every()
    assert (one.online, one.last_heard_ms) == (True, START_MS)
    assert (two.online, two.messages) == (False, 0)


def test_refusals_are_counted_with_the_last_reason(store: Store) -> None:
    bad = [
        Rejected("node-1", "rearing/farm/node-1/readings", START_MS + at, f"reason {at} \ud800", b"x" * 600)
        for at in range(3)
    ]
    store.commit(batch(rejected=(*bad, Rejected(None, "other", START_MS, "no node in it", b"y"))))
    (facts,) = store.nodes.every()
    assert (facts.rejected, facts.last_reject_ms) == (3, START_MS + 2)
    assert (facts.last_reject_reason, len(facts.last_reject_sample)) == ("reason 2 ?", 512)
    nameless = store.nodes.without_name()
    assert nameless is not None and (nameless.rejected, nameless.last_reject_reason) == (1, "no node in it")


def test_skipped_records_show_their_reason_without_refusing_the_message(store: Store) -> None:
    store.commit(batch(message(flagged(AIR, START_MS, 20.0), skipped=("light: no unit", "x: unknown"))))
    (facts,) = store.nodes.every()
    assert (facts.rejected, facts.messages) == (0, 1)
    assert facts.last_reject_reason == "light: no unit; x: unknown"


def test_made_up_names_do_not_fill_the_table(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(nodes, "MOST_NODES", 10)
    for at in range(30):
        store.commit(batch(rejected=(Rejected(f"made-up-{at}", "t", START_MS, "no", b""),)))
    nameless = store.nodes.without_name()
    assert len(store.nodes.every()) == 10
    assert nameless is not None and nameless.rejected == 20


def test_identities_are_forgotten_after_two_weeks(store: Store) -> None:
    store.commit(batch(message(boot=1, sequence=1)))
    store.prune(START_MS + 15 * MS_PER_DAY, keep_raw_days=400)
    with store.database.read() as connection:
        assert connection.execute("SELECT count(*) FROM message").fetchone() == (0,)
        assert connection.execute("SELECT count(*) FROM node_boot").fetchone() == (0,)
    assert _hear(store, (1, 2)).messages == 2


def _relative(at_ms: int, *values: float, received_ms: int, redelivered: bool = False) -> FlaggedMessage:
    """A pack without times: values a minute apart, the last one at its arrival."""
    items = tuple(
        flagged(AIR, at_ms - 60_000 * back, value) for back, value in zip(range(9), values, strict=False)
    )
    heard = replace(
        message(*reversed(items), received_ms=received_ms, boot=1, sequence=7).message,
        time_source=TimeSource.RELATIVE,
        redelivered=redelivered,
    )
    return FlaggedMessage(heard, tuple(reversed(items)))


def test_a_relative_pack_that_comes_again_is_stored_once(store: Store) -> None:
    first = store.commit(batch(_relative(START_MS, 20.0, 21.0, received_ms=START_MS)))
    soon = START_MS + 30_000
    again = store.commit(batch(_relative(soon, 20.0, 21.0, received_ms=soon)))
    later = START_MS + 5 * 3_600_000
    marked = store.commit(batch(_relative(later, 20.0, 21.0, received_ms=later, redelivered=True)))
    dated = store.commit(batch(_relative(START_MS + 900, 20.0, received_ms=later, redelivered=True)))
    by_sequence = _relative(START_MS + 40_000, 20.0, 21.0, received_ms=later, redelivered=True)
    guessed = store.commit(batch(by_sequence))
    found = (first, again, marked, dated, guessed)
    assert [each.stored for each in found] == [2, 0, 0, 0, 0]
    assert [each.duplicate_messages for each in found] == [0, 1, 1, 1, 1]
    assert len(store.readings.series(AIR, 0, 2 * START_MS)) == 2


def test_a_board_whose_boot_number_stands_still_loses_nothing(store: Store) -> None:
    store.commit(batch(_relative(START_MS, 20.0, received_ms=START_MS)))
    later = START_MS + 5 * 3_600_000
    assert store.commit(batch(_relative(later, 20.0, received_ms=later))).stored == 1
    soon = later + 60_000
    assert store.commit(batch(_relative(soon, 27.5, received_ms=soon))).stored == 1


def test_a_pack_sent_again_a_second_later_by_the_boards_own_clock_is_stored_once(store: Store) -> None:
    def pack(at_ms: int, *values: float) -> FlaggedMessage:
        items = [flagged(AIR, at_ms + 60_000 * number, value) for number, value in enumerate(values)]
        return message(*items, received_ms=at_ms + 130_000, boot=1, sequence=7)

    assert store.commit(batch(pack(START_MS, 20.0, 21.0))).stored == 2
    again = store.commit(batch(pack(START_MS + 1000, 20.0, 21.0)))
    assert (again.stored, again.duplicate_messages, again.duplicate_readings) == (0, 1, 2)
    assert store.commit(batch(pack(START_MS + 1000, 20.0, 27.5))).stored == 1, "another value is a reading"
    hours_later = store.commit(batch(pack(START_MS + 5 * 3_600_000, 20.0, 21.0)))
    assert hours_later.stored == 2, "a boot number that stands still loses nothing"


def test_many_boots_of_one_board_in_one_batch_are_counted_right(store: Store) -> None:
    boots = [boot for _ in range(3) for boot in range(40)]
    sent = [
        message(flagged(AIR, START_MS + at, 20.0), boot=boot, sequence=at // 40)
        for at, boot in enumerate(boots)
    ]
    assert store.commit(batch(*sent)).duplicate_messages == 0
    assert store.commit(batch(*sent)).duplicate_messages == len(sent)
    facts = store.nodes.one("node-1")
    assert facts is not None
    assert (facts.messages, facts.missing, facts.duplicates) == (len(sent), 0, len(sent))


def test_another_board_under_the_same_name_counts_from_its_own_first_boot(store: Store) -> None:
    _hear(store, (1, 1), (1, 2), (1, 4))
    store.commit(batch(rejected=(Rejected("node-1", "t", START_MS, "why", b"x", (1, 5)),)))
    store.nodes.start_anew("node-1")
    facts = store.nodes.one("node-1")
    assert facts is not None
    assert (facts.messages, facts.missing, facts.duplicates, facts.rejected, facts.boot) == (0, 0, 0, 0, None)
    assert store.nodes.done("node-1", 1, 1, 9) == 0, "no pack of the new board is dealt with yet"
    facts = _hear(store, (1, 1), (1, 2))
    assert (facts.messages, facts.duplicates, facts.missing) == (2, 0, 0)
    assert store.nodes.done("node-1", 1, 1, 9) == 2


def test_a_service_beside_us_forgets_the_old_board_too(store: Store) -> None:
    """The writer remembers spans and identities; another process that starts a board anew is noticed."""
    first = message(flagged(AIR, START_MS, 20.0), boot=1, sequence=1)
    store.commit(batch(first))
    with Store.open(store.path, create=False, check=False) as other:
        other.nodes.start_anew("node-1")
    later = message(flagged(AIR, START_MS + 60_000, 21.0), boot=1, sequence=1)
    result = store.commit(batch(later))
    assert (result.stored, result.duplicate_messages) == (1, 0)
    assert list(store.readings.series(AIR, 0, START_MS * 2).value) == [20.0, 21.0], "the old readings stay"


def test_what_the_old_board_sent_before_comes_again_and_is_stored_once(store: Store) -> None:
    first = message(flagged(AIR, START_MS, 20.0), boot=1, sequence=1)
    store.commit(batch(first))
    store.nodes.start_anew("node-1")
    assert store.commit(batch(first)).stored == 0


def test_a_board_that_was_taken_away_is_known_until_another_takes_its_name(store: Store) -> None:
    _hear(store, (1, 1))
    store.commit(batch(statuses=(NodeStatus("node-1", START_MS, True),)))
    store.nodes.retire("node-1", START_MS + 5)
    store.nodes.retire("node-2", START_MS + 6)
    assert store.nodes.retired() == {"node-1": START_MS + 5, "node-2": START_MS + 6}
    facts = store.nodes.one("node-1")
    assert facts is not None and facts.online is False
    store.nodes.start_anew("node-1")
    assert store.nodes.retired() == {"node-2": START_MS + 6}


def _kept_values(store: Store) -> list[float]:
    return list(store.readings.series(AIR, 0, 2 * START_MS).value)


# As much later as half the time that passed would be a board that began anew.
@pytest.mark.parametrize(
    ("passed_ms", "bt_off_ms"),
    [
        *((2000, off_ms) for off_ms in (0, 1000, -1000, 45_000, -3_600_000, 7_200_000)),
        *((400_000, off_ms) for off_ms in (0, 1000, -1000, 45_000, -3_600_000, 7_200_000)),
        *((5 * 3_600_000, off_ms) for off_ms in (0, 1000, -1000, 45_000, -3_600_000)),
    ],
)
def test_the_same_numbers_and_values_are_stored_once_whatever_the_base_time_says(
    store: Store, bt_off_ms: int, passed_ms: int
) -> None:
    def pack(at_ms: int, received_ms: int) -> FlaggedMessage:
        items = (flagged(AIR, at_ms - 60_000, 20.0), flagged(AIR, at_ms, 21.0))
        return message(*items, received_ms=received_ms, boot=1, sequence=7)

    store.commit(batch(pack(START_MS, START_MS + 100)))
    again = store.commit(batch(pack(START_MS + bt_off_ms, START_MS + 100 + passed_ms)))
    assert (again.stored, again.duplicate_messages, again.duplicate_readings) == (0, 1, 2)
    assert _kept_values(store) == [20.0, 21.0]
    facts = store.nodes.one("node-1")
    assert facts is not None and facts.boot_stands_ms is None


def test_a_boot_number_that_stands_still_is_noticed_and_its_new_packs_are_known_from_then_on(
    store: Store,
) -> None:
    hour_ms = 3_600_000

    def pack(sequence: int, at_ms: int, value: float) -> FlaggedMessage:
        return message(flagged(AIR, at_ms, value), received_ms=at_ms + 50, boot=0, sequence=sequence)

    for sequence in range(30):
        store.commit(batch(pack(sequence, START_MS + sequence * 60_000, 20.0)))
    facts = store.nodes.one("node-1")
    assert facts is not None and facts.boot_stands_ms is None
    # The same temperature as ever; only the times show that these are new.
    new = [pack(sequence, START_MS + hour_ms + sequence * 60_000, 20.0) for sequence in range(3)]
    assert [store.commit(batch(each)).stored for each in new] == [1, 1, 1]
    again = store.commit(batch(*new))
    assert (again.stored, again.duplicate_messages) == (0, 3)
    facts = store.nodes.one("node-1")
    assert facts is not None
    assert facts.boot_stands_ms == START_MS + hour_ms + 2 * 60_000 + 50
    assert (facts.messages, facts.duplicates, facts.sequence) == (33, 3, 2)
    # Other values within minutes: a board that began anew soon after.
    soon = message(flagged(AIR, START_MS + 4000, 25.0), received_ms=START_MS + 4000, boot=0, sequence=0)
    assert store.commit(batch(soon)).stored == 1


def test_wakes_that_are_counted_as_boots_are_noticed(store: Store) -> None:
    for boot in range(1, 6):
        facts = _hear(store, (boot, 0), (boot, 1))
        assert not facts.boots_are_wakes
    assert _hear(store, (6, 0)).boots_are_wakes
    facts = _hear(store, (6, 1), (6, 2))
    assert not facts.boots_are_wakes, "a boot that goes on is one"


def test_power_cuts_over_days_are_no_wakes(store: Store) -> None:
    for day in range(6):
        at_ms = START_MS + day * 20_000_000
        store.commit(batch(message(flagged(AIR, at_ms, 20.0), received_ms=at_ms, boot=day, sequence=0)))
    facts = store.nodes.one("node-1")
    assert facts is not None and not facts.boots_are_wakes


def test_a_message_from_before_its_content_was_kept_is_judged_as_before(store: Store) -> None:
    pack = message(flagged(AIR, START_MS, 20.0), received_ms=START_MS, boot=1, sequence=7)
    store.commit(batch(pack))
    store.database.change("UPDATE message SET content = NULL, newest_ms = NULL")
    again = message(flagged(AIR, START_MS + 900, 20.0), received_ms=START_MS + 5000, boot=1, sequence=7)
    assert store.commit(batch(again)).stored == 0
    facts = store.nodes.one("node-1")
    assert facts is not None and facts.boot_stands_ms is None
