"""What the sender makes of a server that is killed, of refusals, and of what is no reading."""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from archive_stub import ArchiveStub, takes_all
from pydantic import SecretStr
from store_samples import AIR, BIN, START_MS, batch, flagged, message

from monitor.archive import sender as module
from monitor.archive.client import ArchiveClient, Verdict
from monitor.archive.sender import ArchiveSender, Pace
from monitor.archive.series import PLACE, Point
from monitor.archive.streams import HourStream, JournalStream
from monitor.errors import ArchiveError
from monitor.records import MS_PER_HOUR, AlarmEvent, AlarmStatus, Priority, SensorKey, Transition
from monitor.settings.schema import ArchiveSettings
from monitor.store import Store

PACE = Pace(poll_s=0.01, settle_s=600.0, first_delay_s=0.02, longest_delay_s=0.1, person_delay_s=77.0)
QUICK = replace(PACE, settle_s=0.0)
Answer = tuple[int, dict[str, str], str]


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store.open(tmp_path / "rearing.sqlite", archive=True) as opened:
        yield opened


@pytest.fixture
def client(stub: ArchiveStub) -> Iterator[ArchiveClient]:
    opened = ArchiveClient(settings(stub.url))
    yield opened
    opened.close()


def settings(url: str, token: str = "secret") -> ArchiveSettings:
    return ArchiveSettings(url=url, org="farm", bucket="readings", token=SecretStr(token))


def fill(store: Store, count: int, start_ms: int = START_MS, sensor: SensorKey = AIR) -> None:
    rows = [flagged(sensor, start_ms + at * 1000, (200 + at) / 10) for at in range(count)]
    store.commit(batch(message(*rows), now_ms=start_ms))


def sender(store: Store, client: ArchiveClient, pace: Pace = PACE, **parts: object) -> ArchiveSender:
    return ArchiveSender(store.archive_queue, client, 50, "farm", pace, **parts)  # type: ignore[arg-type]


def run(sender: ArchiveSender, most: int = 300) -> float:
    for _ in range(most):
        wait = sender.step()
        if wait:
            return wait
    raise AssertionError("never came to rest")


def wait_for_cut(client: ArchiveClient) -> None:
    """Until the end of a connection has come through; `answers` would take note of it."""
    time.sleep(0.02)
    assert client is not None


# --- the connection ---


def test_all_goes_over_one_connection(store: Store, stub: ArchiveStub, client: ArchiveClient) -> None:
    sending = sender(store, client)
    for turn in range(5):
        fill(store, 60, START_MS + turn * MS_PER_HOUR)
        run(sending)
    for _ in range(20):
        run(sending)
    assert (len(stub.requests), stub.accepted) == (10, 1)
    assert client.answers()


def test_a_server_killed_for_a_moment_gets_again_what_it_may_have_lost(
    store: Store, stub: ArchiveStub, client: ArchiveClient
) -> None:
    sending = sender(store, client)
    fill(store, 120)
    run(sending)
    kept = dict(stub.points)
    stub.points.clear()
    stub.cut()
    wait_for_cut(client)
    run(sending)
    assert stub.points == kept
    status = store.archive_queue.status()
    assert (status.waiting, status.last_error) == (0, "")


def test_a_connection_that_breaks_within_a_request_is_no_answer(
    store: Store, stub: ArchiveStub, client: ArchiveClient
) -> None:
    sending = sender(store, client)
    fill(store, 10)
    run(sending)

    def breaks(_lines: list[str]) -> Answer:
        stub.cut()
        return 204, {}, ""

    stub.answer = breaks
    fill(store, 10, START_MS + MS_PER_HOUR)
    assert 0 < run(sending) <= PACE.longest_delay_s
    status = store.archive_queue.status()
    assert status.waiting == 20 and "does not answer" in status.last_error
    stub.answer = takes_all
    stub.points.clear()
    run(sending)
    assert len(stub.points) == 20


def test_an_end_that_the_server_announces_is_no_loss(
    store: Store, stub: ArchiveStub, client: ArchiveClient
) -> None:
    sending = sender(store, client)
    stub.answer = lambda _lines: (204, {"Connection": "close"}, "")
    for turn in range(4):
        fill(store, 10, START_MS + turn * MS_PER_HOUR)
        run(sending)
    assert set(stub.points.values()) == {1}
    until_s = time.monotonic() + 10.0
    while stub.accepted < 5 and time.monotonic() < until_s:
        time.sleep(0.01)  # the server notices a connection a moment after it stands
    assert stub.accepted == 5, "each end is followed by a new connection at once"


def test_a_way_that_closes_every_connection_does_not_keep_readings_for_ever(
    store: Store, stub: ArchiveStub, client: ArchiveClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    now_s = [1000.0]
    monkeypatch.setattr(time, "monotonic", lambda: now_s[0])
    sending = sender(store, client, replace(PACE, settle_s=30.0))
    fill(store, 10)
    sent: list[int] = []
    for _ in range(28):
        run(sending)
        sent.append(sum(stub.points.values()))
        stub.cut()
        wait_for_cut(client)
        now_s[0] += 30.0
    assert sent[-1] > 10, "it was sent again"
    assert sent[-1] == sent[-4], "and then no more"
    assert store.archive_queue.after(0, 10) == ()


def test_rows_stay_until_the_same_connection_took_something_later(
    store: Store, stub: ArchiveStub, client: ArchiveClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    now_s = [1000.0]
    monkeypatch.setattr(time, "monotonic", lambda: now_s[0])
    sending = sender(store, client, replace(PACE, settle_s=30.0))
    fill(store, 10)
    run(sending)
    now_s[0] += 29.0
    run(sending)
    assert len(store.archive_queue.after(0, 100)) == 10 and not stub.of_site
    now_s[0] += 1.0
    run(sending)
    assert store.archive_queue.after(0, 100) == () and len(stub.of_site) == 1


# --- refusals ---


@pytest.mark.parametrize(
    ("answer", "told"),
    [
        ((400, {}, "bad request"), "refuses every reading (bad request)"),
        ((413, {}, "too large"), "refuses every reading (too large)"),
        ((422, {}, "no such"), "refuses every reading (no such)"),
        ((401, {}, "who?"), "does not know the token"),
        ((403, {}, "no"), "may not write"),
        ((404, {}, "no"), "create the bucket"),
        ((405, {}, "no POST"), "does not take this request; look at [archive] url"),
        ((407, {}, "log in"), "a proxy between here and the archive server asks for a log in"),
        ((302, {"Location": "https://elsewhere.invalid/"}, ""), "302: https://elsewhere.invalid/"),
        ((200, {"Content-Type": "text/html"}, "<h1>Welcome</h1>"), "shows a web page"),
    ],
)
@pytest.mark.parametrize("count", [1, 2, 60])
def test_a_refusal_that_means_the_way_parks_nothing_and_is_said(
    store: Store, stub: ArchiveStub, client: ArchiveClient, answer: Answer, told: str, count: int
) -> None:
    sending = sender(store, client)
    fill(store, count)
    stub.answer = lambda _lines: answer
    assert run(sending) == PACE.person_delay_s
    status = store.archive_queue.status()
    assert (status.waiting, status.parked) == (count, 0)
    assert told in status.last_error
    assert status.behind_since_ms == START_MS, "so that the alarm of the archive counts from there"
    assert len(stub.requests) <= 2
    stub.answer = takes_all
    run(sending)
    assert len(stub.points) == count
    assert store.archive_queue.status().last_error == ""


def test_more_than_a_few_refused_are_said_and_alarm_while_others_go_through(
    store: Store, stub: ArchiveStub, client: ArchiveClient
) -> None:
    sending = ArchiveSender(store.archive_queue, client, 500, "farm", QUICK)
    for turn in range(3):
        fill(store, 40, START_MS + turn * MS_PER_HOUR, AIR)
        fill(store, 40, START_MS + turn * MS_PER_HOUR, BIN)

    def refuses_air(lines: list[str]) -> Answer:
        wrong = any(line.startswith("air_") for line in lines)
        return (422, {}, "field type conflict") if wrong else takes_all(lines)

    stub.answer = refuses_air
    run(sending)
    status = store.archive_queue.status()
    assert (status.waiting, status.parked) == (0, 120)
    assert len(stub.points) == 120, "the other sensor"
    assert "refuses 120 readings and takes others (field type conflict)" in status.last_error
    assert status.refused_since_ms is not None and status.behind_since_ms == status.refused_since_ms
    assert len(stub.requests) < 60, "not one by one"


def test_where_the_server_takes_no_old_readings_the_others_go_through(
    store: Store, stub: ArchiveStub, client: ArchiveClient
) -> None:
    for turn in range(3):
        fill(store, 40, START_MS + turn * MS_PER_HOUR, AIR)
        fill(store, 40, START_MS + turn * MS_PER_HOUR, BIN)
    first_ms = START_MS + MS_PER_HOUR + 20_000

    def too_old(lines: list[str]) -> Answer:
        old = any(int(line.rpartition(" ")[2]) < first_ms for line in lines)
        return (422, {}, "beyond the retention") if old else takes_all(lines)

    stub.answer = too_old
    for _ in range(2):
        run(sender(store, client, QUICK))
        status = store.archive_queue.status()
        assert (status.waiting, status.parked, len(stub.points)) == (0, 120, 120)


def test_a_few_refused_are_no_trouble(store: Store, stub: ArchiveStub, client: ArchiveClient) -> None:
    sending = sender(store, client)
    fill(store, 50)
    stub.answer = lambda lines: (400, {}, "no") if any("22.2" in line for line in lines) else takes_all(lines)
    run(sending)
    status = store.archive_queue.status()
    assert (status.parked, status.last_error, status.behind_since_ms) == (1, "", None)


def test_what_was_refused_is_tried_again_and_then_all_is_well(
    store: Store, stub: ArchiveStub, client: ArchiveClient
) -> None:
    fill(store, 40)
    stub.answer = lambda lines: (
        (400, {}, "no") if any(line.startswith("air") for line in lines) else takes_all(lines)
    )
    run(sender(store, client, QUICK))
    assert store.archive_queue.status().parked == 40
    stub.answer = takes_all
    run(sender(store, client, QUICK))
    status = store.archive_queue.status()
    assert (status.parked, status.waiting, status.refused_since_ms, status.last_error) == (0, 0, None, "")
    assert len(stub.points) == 40


def test_what_stays_refused_keeps_since_when(store: Store, stub: ArchiveStub, client: ArchiveClient) -> None:
    fill(store, 40)
    stub.answer = lambda lines: (
        (400, {}, "no") if any(line.startswith("air") for line in lines) else takes_all(lines)
    )
    run(sender(store, client, QUICK))
    since_ms = store.archive_queue.status().refused_since_ms
    for _ in range(3):
        run(sender(store, client, QUICK))
    status = store.archive_queue.status()
    assert since_ms is not None and (status.parked, status.refused_since_ms) == (40, since_ms)


# --- secrets ---


def test_a_server_that_repeats_the_token_does_not_spread_it(
    store: Store, stub: ArchiveStub, client: ArchiveClient
) -> None:
    fill(store, 1)
    stub.answer = lambda _lines: (401, {}, "unknown: Token secret")
    run(sender(store, client))
    assert stub.headers[0]["Authorization"] == "Token secret"
    assert store.archive_queue.status().last_error.endswith("(unknown: Token ***)")


@pytest.mark.parametrize("token", ["se\ncret", "secrét", "se\x00cret"])
def test_a_token_that_cannot_be_one_is_said_without_it(token: str) -> None:
    with pytest.raises(ArchiveError, match="copy it again") as refused:
        ArchiveClient(settings("http://127.0.0.1:1", token))
    assert token not in str(refused.value)
    assert ArchiveClient(settings("http://127.0.0.1:1", "secret\n")).send(["a b=1 1"]).verdict is (
        Verdict.NO_CONTACT
    )


def test_the_address_may_have_a_path_before_it(stub: ArchiveStub) -> None:
    client = ArchiveClient(settings(f"{stub.url}/insert/0/influx/"))
    assert client.send(["a b=1 1"]).verdict is Verdict.STORED
    assert stub.paths == ["/insert/0/influx/api/v2/write"]
    client.close()


# --- what is no reading ---


def change(at_ms: int, event: AlarmEvent, after: AlarmStatus, actor: str = "monitor") -> Transition:
    return Transition(
        *("bin-1/light/high/low", "bin-1", "light", Priority.LOW, event, AlarmStatus.NORMAL, after),
        at_ms=at_ms,
        processed_ms=at_ms,
        value=41.5,
        setpoint=40.0,
        actor=actor,
        reason="it, was = hot",
    )


def test_the_journal_goes_once_with_what_was_there_before_the_archive(
    tmp_path: Path, stub: ArchiveStub, client: ArchiveClient
) -> None:
    path = tmp_path / "rearing.sqlite"
    with Store.open(path) as store:
        first = change(START_MS, AlarmEvent.ACTIVATE, AlarmStatus.UNACKNOWLEDGED)
        store.commit(batch(transitions=(first,)))
    with Store.open(path, archive=True) as store:
        streams = (JournalStream(store.journal),)
        sending = sender(store, client, QUICK, streams=streams)
        run(sending)
        seen = change(START_MS, AlarmEvent.ACKNOWLEDGE, AlarmStatus.ACKNOWLEDGED, "Naledi")
        store.commit(batch(transitions=(seen,)))
        for _ in range(3):
            run(sending)
        run(sender(store, client, QUICK, streams=streams))
    tags = "place=bin-1,priority=low,quantity=light,side=high,site=farm"
    figures = "value=41.5,setpoint=40.0"
    lines = (
        f"alarm_change,event=activate,{tags} before=0.0,after=1.0,{figures},by_person=0.0,entry=1.0",
        f"alarm_change,event=acknowledge,{tags} before=0.0,after=2.0,{figures},by_person=1.0,entry=2.0",
    )
    assert dict(stub.points) == {f"{line} {START_MS}": 1 for line in lines}


def test_a_journal_that_may_be_lost_is_sent_again(
    store: Store, stub: ArchiveStub, client: ArchiveClient
) -> None:
    changes = [change(START_MS + at, AlarmEvent.ACTIVATE, AlarmStatus.UNACKNOWLEDGED) for at in range(120)]
    store.commit(batch(transitions=tuple(changes)))
    sending = sender(store, client, streams=(JournalStream(store.journal),))
    run(sending)
    assert len(stub.points) == 120
    stub.cut()
    wait_for_cut(client)
    run(sending)
    assert set(stub.points.values()) == {2}


def hours_in(stub: ArchiveStub) -> dict[str, list[str]]:
    """What was told of each hour: its points by sensor and beginning, in the order of their times."""
    found: dict[str, list[tuple[int, str]]] = {}
    for line in stub.points:
        head, fields, at_ms = line.split(" ")
        if head.startswith("hourly"):
            hour = int(at_ms) // MS_PER_HOUR * MS_PER_HOUR - START_MS
            found.setdefault(f"{head} {hour // MS_PER_HOUR}", []).append((int(at_ms) % MS_PER_HOUR, fields))
    return {key: [f"{at_ms}: {fields}" for at_ms, fields in sorted(told)] for key, told in found.items()}


def test_an_hour_goes_when_it_is_over_and_again_later_by_what_came_late(
    store: Store, stub: ArchiveStub, client: ArchiveClient
) -> None:
    now_ms = [START_MS + MS_PER_HOUR + 60_000]
    sending = sender(store, client, streams=(HourStream(store.archive_queue, lambda: now_ms[0]),))
    fill(store, 4)
    run(sending)
    assert hours_in(stub) == {}
    now_ms[0] += 3 * 60_000
    run(sending)
    head = "hourly,node=node-1,quantity=air_temperature,site=farm 0"
    first = "4: count=4.0,minimum=20.0,mean=20.15,maximum=20.3,flagged=0.0"
    assert hours_in(stub) == {head: [first]}
    store.commit(batch(message(flagged(AIR, START_MS + 500, 30.0))))
    run(sending)
    assert hours_in(stub) == {head: [first, "5: count=5.0,minimum=20.0,mean=22.12,maximum=30.0,flagged=0.0"]}


def test_an_hour_of_which_all_came_late_goes_too(
    store: Store, stub: ArchiveStub, client: ArchiveClient
) -> None:
    now_ms = START_MS + 5 * MS_PER_HOUR
    sending = sender(store, client, streams=(HourStream(store.archive_queue, lambda: now_ms),))
    fill(store, 3, START_MS)
    run(sending)
    fill(store, 3, START_MS + 2 * MS_PER_HOUR)
    run(sending)
    assert [head.rpartition(" ")[2] for head in hours_in(stub)] == ["0", "2"]


def test_hours_that_a_clock_ahead_had_sent_go_again_in_their_time(
    store: Store, stub: ArchiveStub, client: ArchiveClient
) -> None:
    now_ms = [START_MS + 5000 * MS_PER_HOUR]
    sending = sender(store, client, streams=(HourStream(store.archive_queue, lambda: now_ms[0]),))
    fill(store, 3, now_ms[0] - 2 * MS_PER_HOUR)
    run(sending)
    now_ms[0] = START_MS + 5 * MS_PER_HOUR
    run(sending)
    fill(store, 3, START_MS + 5 * MS_PER_HOUR)
    run(sending)
    assert len(hours_in(stub)) == 1, "the hour that runs waits"
    now_ms[0] += 2 * MS_PER_HOUR
    run(sending)
    assert [head.rpartition(" ")[2] for head in hours_in(stub)] == ["4998", "5"]


def test_years_of_hours_go_once_across_gaps_and_starts(
    store: Store, stub: ArchiveStub, client: ArchiveClient
) -> None:
    for hour in (0, 1, 2, 30, 31, 500, 501, 9000):
        fill(store, 3, START_MS + hour * MS_PER_HOUR)
        fill(store, 3, START_MS + hour * MS_PER_HOUR, BIN)
    now_ms = START_MS + 9002 * MS_PER_HOUR
    for _ in range(3):
        streams = (HourStream(store.archive_queue, lambda: now_ms),)
        sending = sender(store, client, QUICK, streams=streams)
        run(sending)
        run(sending)
    told = hours_in(stub)
    assert len(told) == 16 and {len(points) for points in told.values()} == {1}
    assert set(stub.points.values()) == {1}


def place(state: int, at_ms: int) -> Point:
    return Point(PLACE, ("bin-1",), {"state": state}, at_ms)


def test_the_present_goes_before_a_backlog_and_again_when_it_may_be_lost(
    store: Store, stub: ArchiveStub, client: ArchiveClient
) -> None:
    now_ms = module._now_ms()
    due = [[place(1, now_ms)], [], [], [], []]
    sending = sender(store, client, due=lambda _now_ms: due.pop(0) if due else [])
    fill(store, 120)
    sending.step()
    assert stub.requests == [1, 50]
    run(sending)
    stub.points.clear()
    stub.cut()
    wait_for_cut(client)
    run(sending)
    assert f"place,place=bin-1,site=farm state=1.0 {now_ms}" in stub.points


def test_trouble_of_a_life_before_is_over_with_the_first_answer(
    store: Store, stub: ArchiveStub, client: ArchiveClient
) -> None:
    stub.answer = lambda _lines: (401, {}, "<html><title>401 Who?</title><body>...</body></html>")
    now_ms = module._now_ms()
    assert sender(store, client, due=lambda _now_ms: [place(1, now_ms)]).step() == PACE.person_delay_s
    assert store.archive_queue.status().last_error.endswith("(401 Who?)")
    stub.answer = takes_all
    sender(store, client, due=lambda _now_ms: [place(1, now_ms)]).step()
    assert store.archive_queue.status().last_error == ""


def test_of_the_present_that_was_not_taken_the_newest_goes(
    store: Store, stub: ArchiveStub, client: ArchiveClient
) -> None:
    now_ms = module._now_ms()
    due = [[place(1, now_ms)], [place(2, now_ms + 1)]]
    sending = sender(store, client, due=lambda _now_ms: due.pop(0) if due else [])
    stub.answer = lambda _lines: (503, {}, "busy")
    assert sending.step() > 0
    stub.answer = takes_all
    run(sending)
    assert list(stub.points) == [f"place,place=bin-1,site=farm state=2.0 {now_ms + 1}"]
