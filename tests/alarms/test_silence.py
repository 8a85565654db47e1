"""Silent nodes, and one cause that takes most of them."""

from __future__ import annotations

from itertools import chain

from hypothesis import given
from hypothesis import strategies as st

from monitor.alarms.system import TOGETHER_MS, Listening, Silence, _together, silence
from monitor.records import MS_PER_HOUR, MS_PER_MINUTE, MS_PER_SECOND

T0 = 1_700_000_000_000


def nodes(*heard_s: float, interval_s: float = 60.0, limit_s: float = 120.0) -> list[Listening]:
    return [
        Listening(f"n{i}", T0 + int(at_s * MS_PER_SECOND), interval_s, limit_s)
        for i, at_s in enumerate(heard_s)
    ]


def at(seconds: float) -> int:
    return T0 + int(seconds * MS_PER_SECOND)


def test_a_node_is_silent_past_its_limit_and_not_before() -> None:
    assert silence(nodes(0, 60, 60), at(120)).stale == frozenset()
    found = silence(nodes(0, 60, 60), at(120.1))
    assert (found.stale, found.common_cause, found.covered) == ({"n0"}, False, frozenset())


def test_most_nodes_within_three_minutes_have_one_cause() -> None:
    found = silence(nodes(0, 20, 40, 300, 320), at(330))
    assert (found.stale, found.covered) == ({"n0", "n1", "n2"}, {"n0", "n1", "n2"})
    assert (found.common_cause, found.share) == (True, 0.6)


def test_half_of_the_nodes_is_not_most() -> None:
    assert not silence(nodes(0, 20, 40, 300, 300, 300), at(330)).common_cause


def test_two_nodes_are_too_few_for_a_common_cause() -> None:
    found = silence(nodes(0, 20), at(330))
    assert (found.stale, found.common_cause) == ({"n0", "n1"}, False)


def test_nodes_that_died_one_by_one_have_no_common_cause() -> None:
    hours = [3600 * i for i in range(5)]
    found = silence(nodes(*hours), at(20 * 3600))
    assert (len(found.stale), found.share, found.covered) == (5, 0.0, frozenset())


def test_a_node_long_dead_keeps_its_own_alarm() -> None:
    found = silence(nodes(-90_000, 0, 10, 20, 30), at(200))
    assert found.stale - found.covered == {"n0"}
    assert found.share == 0.8


def test_the_span_of_three_minutes_is_exact() -> None:
    # a node last heard at t with interval 60 fell silent within [t, t + 60]: 240 s apart can be 180 s apart
    assert silence(nodes(0, 120, 240), at(1000)).common_cause
    assert not silence(nodes(0, 120, 240.1), at(1000)).common_cause


def test_slow_reporters_are_recognised_by_the_report_they_missed() -> None:
    # one node is already silent; the others, past one and a half intervals, are not yet but count
    mixed = [*nodes(0, 0, 0, interval_s=120, limit_s=600), Listening("quick", T0, 60, 120)]
    found = silence(mixed, at(181))
    assert (found.stale, found.share, found.covered) == ({"quick"}, 1.0, {"quick"})


def test_nodes_that_come_back_one_by_one_do_not_alarm_each() -> None:
    cut = silence(nodes(0, 1, 2, 3), at(600))
    assert cut.common_cause
    back = silence(nodes(0, 1, 630, 630), at(640), cut)
    assert (back.common_cause, back.stale, back.covered) == (False, {"n0", "n1"}, {"n0", "n1"})
    later = silence(nodes(0, 1, 890, 890), at(900), back)
    assert (later.stale, later.covered) == ({"n0", "n1"}, frozenset())


def test_an_empty_farm_is_not_silent() -> None:
    assert silence([], T0) == Silence()


def test_a_cut_of_a_day_stays_one_cause() -> None:
    found = None
    for minute in range(10, 24 * 60, 60):
        found = silence(nodes(0, 1, 2), T0 + minute * MS_PER_MINUTE, found)
        assert found.common_cause
    assert found is not None
    assert found.last_common_ms is not None
    assert found.last_common_ms > T0 + 20 * MS_PER_HOUR


def together_by_the_letter(listening: list[Listening]) -> frozenset[str]:
    """Each span of three minutes that may count, looked at by itself."""
    spans = [(n.node, n.last_heard_ms, n.last_heard_ms + n.interval_s * MS_PER_SECOND) for n in listening]
    sets = (
        frozenset(node for node, begin, end in spans if begin <= moment + TOGETHER_MS and end >= moment)
        for _, _, moment in spans
    )
    return max(sets, key=len, default=frozenset())


def heard_at(heard: list[tuple[int, float]]) -> list[Listening]:
    """Boards by seconds and interval."""
    return [Listening(f"n{i}", at(at_s), every_s, 120.0) for i, (at_s, every_s) in enumerate(heard)]


HEARD = st.lists(st.tuples(st.integers(0, 1200), st.sampled_from([1.0, 59.5, 60.0, 600.0])), max_size=30)


@given(HEARD)
def test_the_largest_set_is_that_of_the_definition(heard: list[tuple[int, float]]) -> None:
    listening = [
        Listening(f"n{i}", T0 + at_s * 1000, every_s, 120.0) for i, (at_s, every_s) in enumerate(heard)
    ]
    assert _together(listening) == together_by_the_letter(listening)


@given(HEARD, st.integers(0, 20))
def test_boards_that_missed_nothing_may_be_counted_instead_of_looked_at(
    heard: list[tuple[int, float]], others: int
) -> None:
    listening = [
        Listening(f"n{i}", T0 + at_s * 1000, every_s, 120.0) for i, (at_s, every_s) in enumerate(heard)
    ]
    fine = [Listening(f"fine{i}", at(1300), 60.0, 120.0) for i in range(others)]
    whole = silence(chain(listening, fine), at(1310))
    assert silence(listening, at(1310), fine=others) == whole
