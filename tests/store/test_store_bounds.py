"""Each figure of the store that a person would feel, on both of its sides."""

from __future__ import annotations

import io
import math
import socket
from collections.abc import Sequence
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from archive_stub import ArchiveStub
from pydantic import SecretStr
from store_samples import AIR, START_MS, batch, flagged, message

from monitor.archive import forwarder
from monitor.archive import sender as sending_module
from monitor.archive.forwarder import (
    Answer,
    ArchiveClient,
    ArchiveForwarder,
    ArchiveSender,
    Pace,
    Verdict,
    judge,
    retry_after_s,
)
from monitor.records import (
    MS_PER_DAY,
    MS_PER_HOUR,
    MS_PER_MINUTE,
    Flag,
    FlaggedMessage,
    FlaggedReading,
    MessageKind,
    NodeMessage,
    OutboxMessage,
    Reading,
    Rejected,
    SensorKey,
    TimeSource,
)
from monitor.settings.schema import ArchiveSettings
from monitor.store import Store, maintenance
from monitor.store.archive_queue import ArchiveStatus, QueuedReading
from monitor.store.connection import Database, open_database
from monitor.store.nodes import FirstCopy, NodeMemory, Span
from monitor.store.reading_writer import new_readings
from monitor.store.readings import Series, excursions, extremes, from_steps, gaps, per_unit, to_steps
from monitor.store.schema import MIGRATIONS, newest

# --- values and series ---


@pytest.mark.parametrize(("value", "steps"), [(1e9, 10**12), (1e9 + 0.001, None), (-1e9, -(10**12))])
def test_a_value_of_a_million_million_steps_is_the_largest(value: float, steps: int | None) -> None:
    assert to_steps(value, 1000) == steps
    assert to_steps(-1e9 - 0.001, 1000) is None
    assert math.isnan(from_steps(None, 1000))


def test_a_quantity_that_is_not_in_the_table_has_steps_of_a_ten_thousandth() -> None:
    assert per_unit("wind") == 10_000
    assert per_unit("air_temperature") == 500


def series(*rows: tuple[int, float, Flag]) -> Series:
    at, values, flags = zip(*rows, strict=True)
    return Series(np.array(at), np.array(values), np.array([int(flag) for flag in flags], dtype=np.int8))


def test_a_hole_is_longer_than_the_limit_and_edges_count() -> None:
    at = np.array([100, 200, 301])
    assert gaps(at, 0, 401, 100) == ((200, 301),)
    assert gaps(at, -1, 402, 100) == ((-1, 100), (200, 301), (301, 402))
    assert gaps(np.array([], dtype=np.int64), 0, 101, 100) == ((0, 101),)
    assert gaps(np.array([], dtype=np.int64), 0, 100, 100) == ()


def test_the_bound_itself_is_not_beyond_and_a_long_hole_ends_a_run() -> None:
    rows = [(0, 30.0), (10, 31.0), (20, 32.0), (40, 33.0), (61, 31.5), (70, 30.0), (80, 30.5)]
    found = excursions(series(*((at, v, Flag.PASS) for at, v in rows)), 30.0, above=True, join_ms=20)
    assert [(one.start_ms, one.end_ms, one.extreme) for one in found] == [
        (10, 40, 33.0),
        (61, 61, 31.5),
        (80, 80, 30.5),
    ]
    low = excursions(series(*((at, -v, Flag.PASS) for at, v in rows)), -30.0, above=False, join_ms=20)
    assert [(one.start_ms, one.end_ms, one.extreme) for one in low] == [
        (10, 40, -33.0),
        (61, 61, -31.5),
        (80, 80, -30.5),
    ]
    assert excursions(series((0, 30.0, Flag.PASS)), 30.0, above=True, join_ms=20) == ()


def test_extremes_are_of_usable_readings_with_the_first_time_of_each() -> None:
    rows = [
        (0, 99.0, Flag.FAIL),
        (1, 21.0, Flag.PASS),
        (2, 25.0, Flag.SUSPECT),
        (3, 25.0, Flag.PASS),
        (4, 20.0, Flag.PASS),
        (5, 20.0, Flag.PASS),
        (6, 1.0, Flag.MISSING),
        (7, math.nan, Flag.PASS),
    ]
    found = extremes(series(*rows))
    assert found is not None
    assert (found.lowest, found.lowest_ms, found.highest, found.highest_ms) == (20.0, 4, 25.0, 2)
    assert extremes(series((0, 1.0, Flag.FAIL))) is None


# --- spans of hours ---


def put(store: Store, *rows: tuple[int, float]) -> None:
    store.commit(batch(message(*(flagged(AIR, START_MS + at, value) for at, value in rows))))


def test_hours_that_begin_in_a_span_belong_to_it(store: Store) -> None:
    put(store, (0, 20.0), (MS_PER_HOUR - 1, 22.0), (MS_PER_HOUR, 30.0), (2 * MS_PER_HOUR, 40.0))
    means = {
        (first, last): [hour.mean for hour in store.summaries.hours(AIR, START_MS + first, START_MS + last)]
        for first, last in ((0, MS_PER_HOUR), (0, MS_PER_HOUR + 1), (1, 2 * MS_PER_HOUR), (0, 1), (1, 1))
    }
    assert list(means.values()) == [[21.0], [21.0, 30.0], [30.0], [21.0], []]


def test_several_hours_are_put_together_from_the_start(store: Store) -> None:
    put(store, *((number * MS_PER_HOUR, 20.0 + number) for number in range(5)))
    put(store, (MS_PER_MINUTE, 29.0))
    parts = store.summaries.parts(AIR, START_MS, START_MS + 5 * MS_PER_HOUR, 2)
    assert parts.start_ms.tolist() == [START_MS + hour * MS_PER_HOUR for hour in (0, 2, 4)]
    assert parts.minimum.tolist() == [20.0, 22.0, 24.0]
    assert parts.maximum.tolist() == [29.0, 23.0, 24.0]
    assert parts.mean.tolist() == [pytest.approx(70 / 3), 22.5, 24.0]
    later = store.summaries.parts(AIR, START_MS + 1, START_MS + 4 * MS_PER_HOUR, 3)
    assert later.start_ms.tolist() == [START_MS + MS_PER_HOUR]
    assert later.mean.tolist() == [22.0]
    nobody = store.summaries.parts(SensorKey("x", "", "q"), START_MS, START_MS + MS_PER_DAY, 1)
    assert nobody.start_ms.tolist() == []


def test_an_hour_without_a_usable_reading_counts_what_was_flagged(store: Store) -> None:
    store.commit(
        batch(
            message(
                flagged(AIR, START_MS, 99.0, Flag.FAIL),
                flagged(AIR, START_MS + 1, 20.0, Flag.SUSPECT),
                flagged(AIR, START_MS + 2, 26.0),
                flagged(AIR, START_MS + 3, 5.0, Flag.MISSING),
            )
        )
    )
    (hour,) = store.summaries.hours(AIR, START_MS, START_MS + 1)
    assert (hour.count, hour.minimum, hour.mean, hour.maximum, hour.flagged) == (2, 20.0, 23.0, 26.0, 2)


def test_an_export_goes_day_by_day_and_leaves_nothing_out(store: Store) -> None:
    times = (0, MS_PER_DAY - 1, MS_PER_DAY, 2 * MS_PER_DAY, 2 * MS_PER_DAY + 1)
    put(store, *((at, 20.0) for at in times))
    found = store.readings.iterate(AIR, START_MS, START_MS + 2 * MS_PER_DAY + 1)
    assert [at - START_MS for at, _, _ in found] == list(times[:-1])
    stream = io.StringIO()
    wanted = (START_MS + MS_PER_DAY - 1, START_MS + MS_PER_DAY)
    seen: list[tuple[int, int]] = []
    rows = maintenance.write_csv(
        stream, store.readings, store.summaries, [AIR], wanted, progress=lambda *done: seen.append(done)
    )
    assert (rows, seen) == (1, [(1, 1)])
    assert stream.getvalue().splitlines()[1].split(",")[0].endswith(".999Z")


@pytest.mark.parametrize("at_ms", [2**63 - 1, -(2**63)])
def test_the_largest_times_that_a_clock_may_show_are_kept(store: Store, at_ms: int) -> None:
    assert store.commit(batch(message(flagged(AIR, at_ms, 20.0)))).stored == 1


# --- messages that come again ---


class Table:
    """Stands in for what is stored: notes how it was asked."""

    def __init__(self) -> None:
        self.asked: list[tuple[int, ...]] = []

    def has_near(self, _: FlaggedReading, shifts_ms: Sequence[int]) -> bool:
        self.asked.append(tuple(shifts_ms))
        return True


def relative(received_ms: int, redelivered: bool = False) -> FlaggedMessage:
    rows = tuple(FlaggedReading(Reading(AIR, START_MS + at, 20.0), Flag.PASS, 20.0) for at in (0, 500))
    readings = tuple(row.reading for row in rows)
    heard = NodeMessage("node-1", received_ms, readings, TimeSource.RELATIVE, 1, 7, redelivered=redelivered)
    return FlaggedMessage(heard, rows)


@pytest.mark.parametrize(
    ("passed_ms", "redelivered", "looked_for"),
    [
        (600_000, False, True),
        (600_001, False, False),
        (600_001, True, True),
        (-1, False, False),
        (0, False, True),
    ],
)
def test_a_message_that_comes_again_within_ten_minutes_is_looked_for(
    passed_ms: int, redelivered: bool, looked_for: bool
) -> None:
    table, before_ms = Table(), START_MS + 9000
    first = FirstCopy(before_ms, None, None)
    kept = new_readings(relative(before_ms + passed_ms, redelivered), first, table).readings  # type: ignore[arg-type]
    assert (kept == ()) is looked_for
    assert table.asked == [(0, -passed_ms, before_ms - START_MS - 500)] * (2 if looked_for else 0)


@pytest.mark.parametrize(("off_ms", "stored"), [(1500, 0), (1501, 1), (-1500, 0), (-1501, 1)])
def test_the_age_of_a_message_is_rounded_by_a_second_and_a_half(
    store: Store, off_ms: int, stored: int
) -> None:
    first = relative(START_MS + 9000)
    store.commit(batch(FlaggedMessage(first.message, first.readings[:1])))
    moved = FlaggedReading(Reading(AIR, START_MS + off_ms, 20.0), Flag.PASS, 20.0)
    again = NodeMessage("node-1", START_MS + 9000, (moved.reading,), TimeSource.RELATIVE, 1, 7)
    result = store.commit(batch(FlaggedMessage(again, (moved,))))
    assert result.stored == stored


# --- boards ---


def heard(store: Store, boot: int, *sequences: int, node: str = "node-1") -> None:
    store.commit(batch(*(message(node=node, boot=boot, sequence=number) for number in sequences)))


def test_missing_messages_are_counted_up_and_down_and_taken_back(store: Store) -> None:
    def missing() -> int:
        facts = store.nodes.one("node-1")
        assert facts is not None
        return facts.missing

    for sequence, expected in ((10, 0), (11, 0), (13, 1), (8, 2), (12, 1), (9, 0), (7, 0), (9, 0)):
        heard(store, 1, sequence)
        assert missing() == expected, sequence
    facts = store.nodes.one("node-1")
    assert facts is not None and (facts.messages, facts.duplicates) == (7, 1)


def test_a_number_that_cannot_be_stored_is_no_identity(store: Store) -> None:
    heard(store, 1, 2**63 - 1)
    heard(store, 1, 2**63 - 1)
    facts = store.nodes.one("node-1")
    assert facts is not None and (facts.messages, facts.duplicates, facts.sequence) == (1, 1, 2**63 - 1)
    heard(store, 1, 2**63)
    heard(store, 1, 2**63)
    facts = store.nodes.one("node-1")
    assert facts is not None and (facts.messages, facts.duplicates, facts.sequence) == (3, 1, None)


def test_the_spans_of_eight_boots_are_remembered() -> None:
    memory = NodeMemory(1)
    for boot in range(8):
        memory.remember(boot, Span(boot, boot))
    assert len(memory.spans) == 8
    memory.remember(8, Span(8, 8))
    assert list(memory.spans) == [8]


def test_beyond_five_thousand_senders_refusals_share_one_row(store: Store) -> None:
    with store.database.write() as connection:
        connection.executemany(
            "INSERT INTO node(node, first_heard_ms, last_heard_ms) VALUES(?, 0, 0)",
            [(f"n{number}",) for number in range(4999)],
        )
    for name in ("first", "second", "n1"):
        refused = Rejected(name, "t", START_MS, f"why {name}", b"x" * 600)
        store.commit(batch(rejected=(refused,)))
    first, second, nobody = store.nodes.one("first"), store.nodes.one("second"), store.nodes.without_name()
    assert first is not None and (first.rejected, len(first.last_reject_sample)) == (1, 512)
    assert second is None
    assert nobody is not None and nobody.last_reject_reason == "why n1"


def test_the_rhythm_of_a_board_rests_on_its_last_twenty_messages(store: Store) -> None:
    for number in range(25):
        one = NodeMessage("node-1", START_MS + number, (), TimeSource.RELATIVE, 1, number)
        store.commit(batch(FlaggedMessage(one, ())))
    arrivals = store.nodes.last_arrivals("node-1", 1)
    assert [sequence for sequence, _ in arrivals] == list(range(24, 4, -1))
    assert arrivals[0] == (24, START_MS + 24)


# --- messages to people, runs ---


def test_messages_of_forty_days_decide_what_is_told_next(store: Store) -> None:
    made = [
        OutboxMessage("anna", MessageKind.ALARM, f"t{age}", "b", START_MS - age, alarm_id="a")
        for age in (40 * MS_PER_DAY + 1, 40 * MS_PER_DAY, 0)
    ]
    assert store.outbox.add(made) == (1, 2, 3)
    assert [one.title for one in store.outbox.messages_for("a")] == [f"t{40 * MS_PER_DAY}", "t0"]


def test_a_claim_that_is_ahead_by_ten_minutes_stays(store: Store) -> None:
    for date, ahead_ms in (("2026-02-03", 600_000), ("2026-02-04", 600_001)):
        assert store.reports.claim(date, START_MS + ahead_ms)
    store.reports.forget_ahead("2026-02-02", START_MS)
    assert store.reports.claimed("2026-02-03")
    assert not store.reports.claimed("2026-02-04")


def test_a_pause_as_long_as_the_grace_is_no_downtime(store: Store) -> None:
    store.runs.alive(store.runs.start(START_MS), START_MS + 1000)
    store.runs.alive(store.runs.start(START_MS + 2000), START_MS + 3000)
    assert store.runs.downtime(START_MS - 1000, START_MS + 4001, 1000) == (
        (START_MS + 3000, START_MS + 4001),
    )
    assert len(store.runs.downtime(START_MS - 1000, START_MS + 4001, 999)) == 3


@pytest.mark.parametrize(("age_ms", "left"), [(0, 2), (1, 1)])
def test_identities_of_messages_are_kept_for_two_weeks(store: Store, age_ms: int, left: int) -> None:
    now_ms = START_MS + 20 * MS_PER_DAY
    limit_ms = now_ms - 14 * MS_PER_DAY
    for number, received_ms in ((1, limit_ms - age_ms), (2, limit_ms + 1)):
        store.commit(batch(message(boot=1, sequence=number, received_ms=received_ms)))
    store.prune(now_ms, 7)
    assert store.database.row("SELECT count(*) FROM message") == (left,)


# --- the file ---


def test_a_write_waits_ten_seconds_for_another_program_and_one_while_it_refuses(store: Store) -> None:
    def waits_ms() -> int:
        row = store.database.row("PRAGMA busy_timeout")
        assert row is not None
        return int(row[0])

    assert waits_ms() == 10_000
    store.database.wait_at_most(1.0)
    assert waits_ms() == 1000
    store.database.wait_at_most()
    assert waits_ms() == 10_000


def test_the_file_bears_the_mark_and_the_number_of_its_schema(store: Store) -> None:
    store.close()
    assert store.path.read_bytes()[68:72] == b"REAR"
    assert [step.number for step in MIGRATIONS] == list(range(1, len(MIGRATIONS) + 1))
    assert newest() == len(MIGRATIONS)
    assert newest(()) == 0


# --- the archive ---


@pytest.mark.parametrize(
    ("status", "verdict"),
    [
        *((status, Verdict.REFUSED_DATA) for status in (400, 413, 422)),
        *((status, Verdict.NEEDS_PERSON) for status in (300, 302, 399, 401, 402, 403, 404, 405, 407)),
        *((status, Verdict.NEEDS_PERSON) for status in (411, 412, 414, 421, 423, 499)),
        *((status, Verdict.LATER) for status in (299, 408, 425, 429, 500, 502, 503)),
    ],
)
def test_what_a_status_means(status: int, verdict: Verdict) -> None:
    assert judge(status, "", None, 0).verdict is verdict


@pytest.mark.parametrize(
    ("asked", "waits_s"), [("3600", 3600.0), ("3601", 3600.0), ("-1", 0.0), ("0.5", 0.5)]
)
def test_a_server_may_ask_for_an_hour_at_most(asked: str, waits_s: float) -> None:
    assert retry_after_s(asked, 0) == waits_s


@pytest.mark.parametrize(
    ("url", "port"),
    [("http://h.invalid", 80), ("https://h.invalid", 443), ("http://h.invalid:8086", 8086)],
)
def test_the_server_is_asked_at_its_port_for_fifteen_seconds(
    url: str, port: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    client = ArchiveClient(ArchiveSettings(url=url, org="farm", bucket="readings", token=SecretStr("secret")))
    asked: list[tuple[tuple[str, int], float]] = []

    def connect(address: tuple[str, int], timeout: float, source: object = None) -> socket.socket:
        assert source is None
        asked.append((address, timeout))
        raise ConnectionRefusedError("no")

    monkeypatch.setattr(socket, "create_connection", connect)
    assert client.send(["a b=1 1"]).verdict is Verdict.NO_CONTACT
    assert asked == [(("h.invalid", port), 15.0)]
    assert not client.answers()
    client.close()


@pytest.mark.parametrize(("letters", "kept"), [(299, 299), (300, 300), (301, 300)])
def test_the_reason_of_a_refusal_is_kept_up_to_300_letters(letters: int, kept: int) -> None:
    stub = ArchiveStub()
    stub.answer = lambda _lines: (400, {}, "x" * letters)
    client = ArchiveClient(ArchiveSettings(url=stub.url, bucket="readings"))
    assert client.send(["a b=1 1"]).reason == "x" * kept
    client.close()
    stub.close()


class Queue:
    """The rows that wait, and what was said of them."""

    def __init__(self, count: int) -> None:
        self.rows = [QueuedReading(number, AIR, START_MS, 20.0, 1) for number in range(1, count + 1)]
        self.settled: list[int] = []

    def start(self) -> int:
        return 0

    def after(self, seq: int, limit: int) -> list[QueuedReading]:
        return [row for row in self.rows if row.seq > seq][:limit]

    def failed(self, sent: int, error: str) -> None: ...

    def taken(self, sent: int, settled: int, parked: object = (), now_ms: int = 0, *_marks: object) -> None:  # noqa: ARG002
        self.settled.append(settled)

    def status(self) -> ArchiveStatus:
        return ArchiveStatus(len(self.rows), None, 0, None)

    def retry_parked(self, limit: int, now_ms: int) -> int:  # noqa: ARG002
        return 0

    def parked_is_over(self) -> None: ...

    def queue_history(self, now_ms: int, limit: int) -> int:  # noqa: ARG002
        return 0


class Server:
    """Answers as it is told."""

    def __init__(self, verdict: Verdict) -> None:
        self.verdict = verdict

    def send(self, lines: Sequence[str]) -> Answer:  # noqa: ARG002
        return Answer(self.verdict, "no", status=400)

    def answers(self) -> bool:
        return self.verdict is Verdict.STORED


def sending(verdict: Verdict, count: int = 4) -> tuple[ArchiveSender, Queue, Server]:
    queue, server = Queue(count), Server(verdict)
    return ArchiveSender(queue, server, 2, "farm", Pace()), queue, server  # type: ignore[arg-type]


def test_waits_double_from_a_second_to_five_minutes_and_begin_anew(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[tuple[float, float]] = []

    def uniform(low: float, high: float) -> float:
        asked.append((low, high))
        return high

    monkeypatch.setattr(sending_module, "random", SimpleNamespace(uniform=uniform))
    sender, _, server = sending(Verdict.LATER)
    assert [sender.step() for _ in range(10)] == [1, 2, 4, 8, 16, 32, 64, 128, 256, 300]
    assert set(asked) == {(0.5, 1.0)}
    server.verdict = Verdict.STORED
    assert sender.step() == 0.0
    server.verdict = Verdict.NO_CONTACT
    assert sender.step() == 1.0
    server.verdict = Verdict.NEEDS_PERSON
    assert sender.step() == 300.0


def test_what_was_sent_is_kept_until_a_write_half_a_minute_later_proves_the_connection(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    clock = [100.0]
    monkeypatch.setattr(
        sending_module, "time", SimpleNamespace(monotonic=lambda: clock[0], time_ns=lambda: 0)
    )
    sender, queue, server = sending(Verdict.STORED)
    assert [sender.step(), sender.step()] == [0.0, 0.0]
    assert sender.step() == 10.0
    clock[0] = 129.99
    sender.step()
    assert queue.settled == [-1, -1]
    clock[0] = 130.0
    sender.step()
    assert queue.settled == [-1, -1, 4]
    server.verdict = Verdict.NO_CONTACT
    assert sender.step() == 10.0, "with nothing unsettled the server need not answer"


def test_what_was_sent_first_goes_first(monkeypatch: pytest.MonkeyPatch) -> None:
    clock = [100.0]
    monkeypatch.setattr(
        sending_module, "time", SimpleNamespace(monotonic=lambda: clock[0], time_ns=lambda: 0)
    )
    sender, queue, _ = sending(Verdict.STORED)
    sender.step()
    clock[0] = 110.0
    sender.step()
    clock[0] = 130.0
    sender.step()
    assert queue.settled[-1] == 2
    clock[0] = 140.0
    sender.step()
    assert queue.settled[-1] == 4


def test_one_reading_alone_that_is_refused_is_no_fault_of_the_reading_where_a_right_one_is_refused_too(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(sending_module, "time", SimpleNamespace(monotonic=lambda: 0.0, time_ns=lambda: 0))
    for count in (1, 2):
        sender, queue, _ = sending(Verdict.REFUSED_DATA, count=count)
        assert sender.step() == 300.0
        assert queue.settled == []


def test_how_far_the_archive_is_behind_is_read_without_a_check_of_the_whole_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "yard.sqlite"
    Store.open(path).close()
    asked: list[dict[str, bool]] = []

    def noted(path: Path, **how: bool) -> Database:
        asked.append(how)
        return open_database(path, create=how["create"], read_only=how["read_only"], check=how["check"])

    monkeypatch.setattr(forwarder, "open_database", noted)
    watched = ArchiveForwarder(path, ArchiveSettings(url="http://h.invalid", bucket="b"), "farm")
    assert watched.status().waiting == 0
    assert asked == [{"create": False, "read_only": True, "check": False}]


def test_a_fault_of_the_archive_is_tried_again_after_half_a_minute(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    forwarder = ArchiveForwarder(
        tmp_path / "none.sqlite", ArchiveSettings(url="http://h.invalid", bucket="b"), "farm"
    )
    waits: list[float] = []
    stopping = SimpleNamespace(is_set=lambda: bool(waits), wait=waits.append, set=lambda: None)
    monkeypatch.setattr(forwarder, "_stopping", stopping)
    forwarder._run()
    assert waits == [30.0]
    joined: list[float] = []
    monkeypatch.setattr(forwarder, "_thread", SimpleNamespace(is_alive=lambda: True, join=joined.append))
    forwarder.stop()
    assert joined == [20.0]
