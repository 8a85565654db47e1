"""Each figure of the engine that a person would feel, on both of its sides."""

from __future__ import annotations

import logging
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from service_farm import MINUTE, NODES, T0, farm, message, raw_message, watch_of

from monitor.errors import IntakeError, MonitorError, StoreFull
from monitor.intake.subscriber import Token
from monitor.records import (
    MS_PER_DAY,
    MS_PER_HOUR,
    AlarmState,
    Batch,
    Command,
    CommandKind,
    Excursion,
    Flag,
    FlaggedMessage,
    FlaggedReading,
    IncomingMessage,
    LogbookEntry,
    NodeMessage,
    Quantity,
    Rejected,
    SensorKey,
    Side,
    SubjectKind,
    Transition,
)
from monitor.service import Service, background
from monitor.service import service as service_module
from monitor.service.background import BackgroundThreads, FileCheck, is_small
from monitor.service.batches import Committer
from monitor.service.ingest import ClockWatch, IngestQueue, UnknownBoards, topics_of
from monitor.service.place_watch import BinWatch, OccupancyWatch
from monitor.service.self_watch import LastSeen, SelfFacts, SelfWatch
from monitor.service.site_state import AlarmChanges, SiteState
from monitor.store import Store

HOT = "bin-1/substrate_temperature/high/high"


# --- the clock of the machine ---


@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize(("jump_ms", "noted"), [(29_999, False), (30_000, True)])
def test_a_clock_that_was_set_by_half_a_minute_is_noted(jump_ms: int, noted: bool, sign: int) -> None:
    steady = [100.0]
    watch = ClockWatch(lambda: T0, lambda: steady[0])
    steady[0] += 7.0
    assert watch.jump_ms(T0 + 7000 + sign * jump_ms) == (sign * jump_ms if noted else 0)
    assert watch.jump_ms(T0 + 7000 + sign * jump_ms) == 0


def test_a_clock_behind_is_looked_at_each_two_seconds_for_ten_minutes() -> None:
    steady, waits, said = [100.0], list[float](), list[str]()

    def wait(seconds: float) -> None:
        waits.append(seconds)
        steady[0] += seconds

    watch = ClockWatch(lambda: T0, lambda: steady[0])
    stopping = SimpleNamespace(wait=wait, is_set=lambda: False)
    assert watch.wait(T0 + MS_PER_DAY, stopping, said.append)  # type: ignore[arg-type]
    assert waits == [2.0] * 300
    assert len(said) == 2


# --- the queue ---


def waits_of(queue: IngestQueue, monkeypatch: pytest.MonkeyPatch) -> list[float]:
    """How long the queue waits from here on; it is told at once that the time is over."""
    waits: list[float] = []

    def wait_for(predicate: Callable[[], bool], timeout: float) -> bool:
        waits.append(timeout)
        return predicate()

    monkeypatch.setattr(queue._changed, "wait_for", wait_for)
    return waits


def test_a_batch_takes_what_comes_within_a_quarter_of_a_second(monkeypatch: pytest.MonkeyPatch) -> None:
    queue = IngestQueue()
    waits = waits_of(queue, monkeypatch)
    assert queue.batch() == []
    assert waits == [0.25]


def sent(number: int, qos: int = 1) -> IncomingMessage:
    return replace(raw_message("node-1", T0, 30.0, number), token=Token(1, number, number, qos))


def test_a_batch_holds_500_messages_and_the_queue_4000(caplog: pytest.LogCaptureFixture) -> None:
    queue = IngestQueue()
    for number in range(4000):
        queue.put(sent(number))
    assert queue.dropped == 0
    queue.put(sent(0, qos=0))
    assert queue.dropped == 1
    assert "1 sent with QoS 0 were dropped" in caplog.text
    assert [len(queue.batch()) for _ in range(8)] == [500] * 8


def test_dropped_messages_are_told_at_the_first_and_at_each_ten_thousandth(
    caplog: pytest.LogCaptureFixture,
) -> None:
    queue = IngestQueue(most_waiting=1)
    queue.put(sent(0))
    said = []
    for number in range(1, 20_001):
        queue.put(sent(1, qos=0))
        if caplog.records:
            said.append(number)
            caplog.clear()
    assert said == [1, 10_000, 20_000]


def test_the_network_thread_waits_ten_seconds_for_room(monkeypatch: pytest.MonkeyPatch) -> None:
    queue = IngestQueue(most_waiting=1)
    waits = waits_of(queue, monkeypatch)
    queue.put(sent(1))
    queue.put(sent(1, qos=0))
    assert waits == []
    with pytest.raises(IntakeError):
        queue.put(sent(1))
    assert waits == [10.0]


# --- unknown boards ---


def with_probes(node: str, count: int, first: int = 0) -> NodeMessage:
    one = message(node, T0, 30.0)
    readings = tuple(
        replace(one.readings[0], sensor=SensorKey(node, f"p{number}", "substrate_temperature"))
        for number in range(first, first + count)
    )
    return replace(one, readings=readings)


def test_two_thousand_boards_that_the_settings_do_not_name_are_taken_in() -> None:
    boards, incoming = UnknownBoards({"node-1"}.__contains__), raw_message("any", T0, 30.0, 1)
    taken = [boards.admit(message(f"n{number}", T0, 30.0), incoming) for number in range(2001)]
    assert [isinstance(one, NodeMessage) for one in taken] == [True] * 2000 + [False]
    assert isinstance(boards.admit(message("node-1", T0, 30.0), incoming), NodeMessage)


def test_a_board_has_250_sensors_at_most_also_one_of_the_settings() -> None:
    boards, incoming = UnknownBoards({"node-1"}.__contains__), raw_message("any", T0, 30.0, 1)
    for node in ("node-1", "stranger"):
        whole = boards.admit(with_probes(node, 250), incoming)
        assert isinstance(whole, NodeMessage) and len(whole.readings) == 250 and not whole.skipped
        more = boards.admit(with_probes(node, 251), incoming)
        assert isinstance(more, NodeMessage) and len(more.readings) == 250
        assert "(250)" in more.skipped[-1]
        assert isinstance(boards.admit(with_probes(node, 1, first=250), incoming), Rejected)


def test_unknown_boards_have_5000_sensors_together() -> None:
    boards, incoming = UnknownBoards({"node-1"}.__contains__), raw_message("any", T0, 30.0, 1)
    for number in range(20):
        assert isinstance(boards.admit(with_probes(f"n{number}", 250), incoming), NodeMessage)
    assert isinstance(boards.admit(with_probes("late", 1), incoming), Rejected)
    assert isinstance(boards.admit(with_probes("node-1", 1), incoming), NodeMessage)


def test_how_far_a_boards_own_time_may_be_off_comes_from_the_settings(tmp_path: Path) -> None:
    topics = topics_of(farm(tmp_path, intake={"oldest_days": 2.5, "newest_minutes": 1.5}))
    assert (topics.oldest_ms, topics.newest_ms) == (216_000_000, 90_000)


# --- writing ---


class Source:
    def __init__(self) -> None:
        self.live: list[bool] = []
        self.reconnects = 0

    def acknowledge(self, messages: object) -> None: ...

    def reconnect(self) -> None:
        self.reconnects += 1

    def listen_live(self, wanted: bool) -> None:
        self.live.append(wanted)


class Disk:
    """A store that takes batches while it is not full; it keeps what it was asked."""

    def __init__(self) -> None:
        self.full, self.asked = True, list[Batch]()
        self.patience: list[float | None] = []
        self.database = SimpleNamespace(wait_at_most=lambda seconds=None: self.patience.append(seconds))

    def commit(self, batch: Batch) -> object:
        self.asked.append(batch)
        if self.full:
            raise StoreFull("the disk has no room")
        return SimpleNamespace(stored=1)


def committer() -> tuple[Committer, Disk, Source]:
    disk, source = Disk(), Source()
    outbox = SimpleNamespace(memory=SimpleNamespace(add=lambda _: None))
    return Committer(disk, outbox, source), disk, source  # type: ignore[arg-type]


def state_at(now_ms: int) -> Batch:
    return Batch(now_ms, alarm_states=(AlarmState("a", last_at_ms=now_ms),))


@pytest.mark.parametrize(("after_ms", "tries"), [(1999, 1), (-1999, 1), (2000, 2), (-2000, 2)])
def test_a_database_that_refused_is_tried_again_after_two_seconds(after_ms: int, tries: int) -> None:
    writer, disk, source = committer()
    assert writer.commit(state_at(T0), ()) is None
    assert writer.commit(state_at(T0 + after_ms), ()) is None
    assert len(disk.asked) == tries
    assert (disk.patience, source.live) == ([1.0], [True])
    disk.full = False
    assert writer.commit(Batch(T0 + 60_000), ()) is not None
    assert disk.asked[-1].alarm_states[0].last_at_ms == T0 + after_ms
    assert (disk.patience, source.live, source.reconnects) == ([1.0, None], [True, False], 1)


def test_ten_thousand_rows_and_late_finds_are_carried_while_it_refuses() -> None:
    writer, disk, _ = committer()
    row = Transition("a", "p", "q", "low", "clear", "normal", "normal", 0, 0)  # type: ignore[arg-type]
    late = Excursion("a", 0, 0, 1.0)
    for number in range(3):
        rows = tuple(replace(row, at_ms=5000 * number + one) for one in range(5000))
        finds = tuple(replace(late, began_ms=5000 * number + one) for one in range(5000))
        writer.commit(Batch(T0 + number, transitions=rows, found_late=finds), ())
    disk.full = False
    writer.commit(Batch(T0 + 60_000), ())
    written = disk.asked[-1]
    assert [len(written.transitions), written.transitions[0].at_ms] == [10_000, 5000]
    assert [len(written.found_late), written.found_late[0].began_ms] == [10_000, 5000]


class Turned:
    """A service on a clock that a test moves."""

    def __init__(self, folder: Path) -> None:
        self.now_ms = T0
        self.service = Service(farm(folder), clock=lambda: self.now_ms, inline=True)
        self.service.prepare()
        self.processor = self.service.processor


def test_alarms_are_looked_at_each_two_seconds_and_messages_each_minute(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    turned, ticks, tells = Turned(tmp_path), list[int](), list[int]()
    monkeypatch.setattr(turned.processor.site, "tick", lambda now_ms, _: ticks.append(now_ms - T0))

    def tick(_: object, now_ms: int) -> list[object]:
        tells.append(now_ms - T0)
        return []

    monkeypatch.setattr(turned.processor.announcer, "tick", tick)
    for after_ms in (0, 1999, 2000, 3999, 4000, 58_000, 59_999, 60_000, 119_999, 120_000, 50_000):
        turned.processor.process([], T0 + after_ms)
    assert ticks == [0, 2000, 4000, 58_000, 60_000, 119_999, 50_000]
    assert tells == [0, 60_000, 50_000]
    turned.service.stop()


def test_a_test_message_to_nobody_names_those_that_there_are(tmp_path: Path) -> None:
    turned = Turned(tmp_path)
    commands = turned.service.store.commands
    wrong, right = (
        commands.add(Command(CommandKind.SEND_TEST, T0, "owner", reason=name))
        for name in ("nobody", "keeper")
    )
    turned.processor.process([], T0)
    refused = commands.outcome(wrong) or ""
    assert "there is no recipient" in refused and "nobody" in refused and "keeper" in refused
    assert commands.outcome(right) == "done"
    turned.service.stop()


# --- what the monitor knows of itself ---


def test_a_sign_of_life_is_written_each_half_minute_and_the_status_each_minute(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    turned, signs, looks = Turned(tmp_path), list[int](), list[int]()
    service = turned.service
    monkeypatch.setattr(service.store.runs, "alive", lambda _, now_ms: signs.append(now_ms - T0))
    monkeypatch.setattr(service.store.calibrations, "table", lambda: looks.append(1))
    monkeypatch.setattr(service, "send_night_report", lambda: None)
    counted = []
    for after_ms in (0, 0, 29_999, 30_000, 59_999, 60_000, 119_999, 120_000, 10_000):
        service._sign_of_life(T0 + after_ms)
        service._self_facts(T0 + after_ms)
        counted.append(len(looks))
    assert signs == [0, 30_000, 60_000, 119_999, 10_000]
    assert counted == [1, 1, 1, 1, 1, 2, 2, 3, 4]


@pytest.mark.parametrize(("inline", "every_h"), [(True, 6), (False, 1)])
def test_what_lives_where_is_worked_out_each_hour_and_in_a_played_time_each_six(
    tmp_path: Path, inline: bool, every_h: int
) -> None:
    service = Service(farm(tmp_path), clock=lambda: T0, inline=inline)
    service.prepare()
    assert service._occupancy._every_ms == every_h * MS_PER_HOUR
    service.store.close()


@pytest.mark.parametrize(
    ("stuck_s", "unsent_minutes", "healthy"),
    [(119.9, 59.9, True), (120.0, 0.0, False), (0.0, 60.0, False)],
)
def test_all_is_well_while_batches_and_messages_go_on(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, stuck_s: float, unsent_minutes: float, healthy: bool
) -> None:
    service = Turned(tmp_path).service
    service._processed_s = 500.0
    monkeypatch.setattr(service_module, "time", SimpleNamespace(monotonic=lambda: 500.0 + stuck_s))
    monkeypatch.setattr(type(service.subscriber), "connected", property(lambda _: True))
    monkeypatch.setattr(type(service.worker), "alive", property(lambda _: True))
    monkeypatch.setattr(service.worker, "oldest_unsent_minutes", lambda _: unsent_minutes)
    assert service.healthy() is healthy
    service.failed = RuntimeError()
    assert not service.healthy()
    service.store.close()


@pytest.mark.parametrize(("age_ms", "seen"), [(2 * MS_PER_HOUR, True), (2 * MS_PER_HOUR + 1, False)])
def test_a_restart_goes_through_the_readings_of_two_hours(tmp_path: Path, age_ms: int, seen: bool) -> None:
    turned = Turned(tmp_path)
    one = message("node-1", T0 - age_ms, 30.0)
    flagged = FlaggedMessage(one, (FlaggedReading(one.readings[0], Flag.PASS, 30.0),))
    turned.service.store.commit(Batch(T0, messages=(flagged,)))
    turned.service.store.close()
    again = Turned(tmp_path)
    assert (again.processor.site.state(HOT).last_at_ms is not None) is seen
    again.service.store.close()


@pytest.mark.parametrize(("silent_s", "stale"), [(300.0, False), (300.001, True)])
def test_a_board_is_silent_past_its_limit(tmp_path: Path, silent_s: float, stale: bool) -> None:
    watch = SelfWatch(watch_of(farm(tmp_path)), LastSeen(T0, set(NODES)))
    watch.tick(T0 + round(silent_s * 1000), SelfFacts(), AlarmChanges())
    assert (watch.silence.stale == set(NODES)) is stale


def heard(seen: LastSeen, at_ms: int, flag: Flag, probe: str = "") -> None:
    one = message("node-1", at_ms, 30.0, probe=probe)
    seen.note(FlaggedMessage(one, (FlaggedReading(one.readings[0], flag, 30.0),)))


def test_a_sensor_is_dead_past_the_limit_of_its_board_while_the_board_sends(tmp_path: Path) -> None:
    node, seen = watch_of(farm(tmp_path)).plan.nodes["node-1"], LastSeen(T0)
    heard(seen, T0, Flag.PASS)
    heard(seen, T0 + 1000, Flag.FAIL)
    heard(seen, T0 + 200_000, Flag.FAIL)
    sensor = SensorKey("node-1", "", "substrate_temperature")
    assert seen.dead_sensors(node, T0 + 300_000) == {}
    assert seen.dead_sensors(node, T0 + 300_001) == {sensor: T0}
    assert seen.dead_sensors(node, T0 + 500_000) == {sensor: T0}
    assert seen.dead_sensors(node, T0 + 500_001) == {}, "then the board itself is silent"


def test_silence_counts_from_the_start_and_from_when_a_board_was_expected(tmp_path: Path) -> None:
    node, seen = watch_of(farm(tmp_path)).plan.nodes["node-1"], LastSeen(T0)
    assert seen.last_ms(node) == T0
    seen.expect(["node-1"], T0 + 5000)
    assert seen.last_ms(node) == T0 + 5000
    heard(seen, T0 + 9000, Flag.PASS)
    seen.expect(["node-1"], T0 + 7000)
    assert seen.last_ms(node) == T0 + 9000
    seen.shift(-4000)
    assert (seen.since_ms, seen.last_ms(node)) == (T0 - 4000, T0 + 5000)
    assert list(seen.sensors["node-1"].values()) == [T0 + 5000]
    seen.forget(["node-1"])
    assert seen.last_ms(node) == T0 - 4000
    heard(seen, T0 + 9000, Flag.PASS)
    seen.begin(T0 + 20_000)
    assert seen.last_ms(node) == T0 + 20_000
    assert list(seen.sensors["node-1"].values()) == [T0 + 20_000], "what it had is due from then on"


def test_silence_is_told_in_minutes_and_the_site_by_its_facts(tmp_path: Path) -> None:
    site, changes = (
        watch_of(farm(tmp_path, archive={"url": "http://h.invalid", "bucket": "b"})),
        AlarmChanges(),
    )
    watch = SelfWatch(site, LastSeen(T0))
    heard(watch.last_seen, T0 + 60_000, Flag.PASS)
    watch.tick(T0 + 90_000, SelfFacts(True, 2.5, 7.0), changes)
    values = {name: state.last_value for name, state in site.states.items()}
    assert values["node-1/silent_minutes/high/medium"] == 0.5
    assert values["node-2/silent_minutes/high/medium"] == 1.5
    assert values["node-1/dead_sensor_minutes/high/medium"] == 0.0
    assert values["site/store_fault/high/high"] == 1.0
    assert values["site/archive_lag_hours/high/low"] == 2.5
    assert values["site/unsent_message_minutes/high/medium"] == 7.0
    assert values["site/silent_node_share/high/high"] == 0.0


# --- beside the batches ---


@pytest.mark.parametrize(("size", "small"), [(16 * 1024 * 1024, True), (16 * 1024 * 1024 + 1, False)])
def test_a_file_of_16_megabytes_is_checked_before_the_start(tmp_path: Path, size: int, small: bool) -> None:
    path = tmp_path / "yard.sqlite"
    with path.open("wb") as file:
        file.truncate(size)
    assert is_small(path) is small


def test_stopping_gives_the_check_of_the_file_five_seconds(tmp_path: Path) -> None:
    check, given = FileCheck(tmp_path / "yard.sqlite"), list[float]()
    check._thread = SimpleNamespace(is_alive=lambda: True, join=given.append)  # type: ignore[assignment]
    check.stop()
    assert given == [5.0]


def test_the_lag_of_the_archive_is_kept_while_the_store_refuses() -> None:
    threads = BackgroundThreads.__new__(BackgroundThreads)
    threads._archive, threads._archive_lag_h = None, None
    assert threads.archive_lag_h(T0) is None
    oldest: list[int | None] = [None]
    threads._archive = SimpleNamespace(  # type: ignore[assignment]
        status=lambda: SimpleNamespace(behind_since_ms=oldest[0])
    )
    assert threads.archive_lag_h(T0) == 0.0
    oldest[0] = T0 - 90 * MINUTE
    assert threads.archive_lag_h(T0) == 1.5
    oldest[0] = T0 + MINUTE
    assert threads.archive_lag_h(T0) == 0.0
    oldest[0] = T0 - 90 * MINUTE
    threads.archive_lag_h(T0)

    def refuse() -> None:
        raise MonitorError("no")

    threads._archive.status = refuse  # type: ignore[union-attr, method-assign]
    assert threads.archive_lag_h(T0 + MS_PER_HOUR) == 1.5


def test_a_monitor_with_a_small_file_checks_it_once(tmp_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level(logging.ERROR)
    service = Turned(tmp_path).service
    for small in (True, False):
        tasks = background.BackgroundTasks(lambda: None, lambda: None, lambda: True, service._note_heartbeat)
        threads = BackgroundThreads(service.store, service.settings, service.worker, tasks, small)
        assert (threads._check is None) is small
        assert threads.file_fault is None
    service.store.close()


# --- heat ---


def substrate(site: SiteState, at_ms: int, value: float, changes: AlarmChanges) -> None:
    site.take(message("node-1", at_ms, value), at_ms, changes)


def test_the_trend_of_heat_keeps_one_value_a_minute_of_90_minutes(tmp_path: Path) -> None:
    site, changes = watch_of(farm(tmp_path)), AlarmChanges()
    for after_ms in (0, 59_999, 60_000, 119_999, 120_000):
        substrate(site, T0 + after_ms, 30.0, changes)
    assert [at - T0 for at, _ in site._heat["bin-1"]] == [0, 60_000, 120_000]
    substrate(site, T0 + 90 * MINUTE, 30.0, changes)
    assert site._heat["bin-1"][0][0] == T0
    substrate(site, T0 + 91 * MINUTE, 30.0, changes)
    assert site._heat["bin-1"][0][0] == T0 + 60_000


def test_silence_of_a_board_makes_what_it_alone_measures_stale(tmp_path: Path) -> None:
    site, changes = watch_of(farm(tmp_path)), AlarmChanges()
    substrate(site, T0, 43.0, changes)
    site.mark_silent("node-1", T0 + 300_000, 300.0, changes)
    assert not site.state(HOT).stale
    site.mark_silent("node-1", T0 + 300_001, 300.0, changes)
    assert site.state(HOT).stale
    assert site.change_per_hour("bin-1", Quantity.SUBSTRATE_TEMPERATURE, Side.HIGH) is None


# --- what lives where, and bins ---


class Known:
    """A logbook that says how many entries it has."""

    def __init__(self, cohorts: int = 1) -> None:
        self.all_entries, self.cohorts = 5, cohorts

    def newest_id(self) -> int:
        return self.all_entries

    def newest_about_animals(self) -> int:
        return self.cohorts


def occupancy(logbook: Known) -> OccupancyWatch:
    store: Any = SimpleNamespace(logbook=logbook)
    settings: Any = None
    return OccupancyWatch(store, lambda: settings, lambda _: None)


def test_stages_are_worked_out_after_an_entry_and_each_hour() -> None:
    logbook = Known(0)
    watch = occupancy(logbook)
    assert not watch._stages_are_due(T0), "no cohort was ever entered"
    logbook.cohorts = 1
    assert watch._stages_are_due(T0)
    watch._started_ms = T0
    due = [watch._stages_are_due(T0 + after) for after in (0, MS_PER_HOUR - 1, MS_PER_HOUR, -1)]
    assert due == [False, False, True, True]
    logbook.cohorts = 2
    assert [watch._stages_are_due(T0), watch._stages_are_due(T0)] == [True, False]
    watch.start_over()
    assert watch._stages_are_due(T0)


def test_words_of_people_are_looked_at_each_half_minute_and_at_the_end_of_an_aside() -> None:
    logbook = Known()
    watch = occupancy(logbook)
    assert watch._is_due(T0)
    watch._entries, watch._looked_ms = 5, T0
    assert [watch._is_due(T0 + after) for after in (0, 29_999, 30_000, -1)] == [False, False, True, True]
    watch._next_end_ms = T0 + 7000
    assert [watch._is_due(T0 + after) for after in (6999, 7000)] == [False, True]
    logbook.all_entries = 6
    assert watch._is_due(T0)


def filled(
    tmp_path: Path, count: int, hours: float | None, monkeypatch: pytest.MonkeyPatch
) -> tuple[BinWatch, Store]:
    """A watch over filled bins that are dry in so many hours."""
    settings = farm(tmp_path)
    store = Store.open(settings.store.path)
    body = {"kg": 6.0, "moisture": 0.6, "surface_m2": 0.24}
    for number in range(1, count + 1):
        store.logbook.add(LogbookEntry(SubjectKind.BIN, f"bin-{number}", "fill", T0 - 1, T0 - 1, "me", body))
    view = SimpleNamespace(
        earliest_dry_h=hours,
        likely_dry_h=hours,
        outlook=None,
        moisture=None,
        bands=None,
        heat=None,
        probe=None,
    )
    monkeypatch.setattr("monitor.service.place_watch.bin_view", lambda *_: view)
    return BinWatch(store, watch_of(settings)), store


@pytest.mark.parametrize(("hours", "minutes"), [(35.9, 5), (36.0, 30), (None, 30)])
def test_a_bin_that_is_dry_within_36_hours_is_looked_at_each_five_minutes_else_each_half_hour(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, hours: float | None, minutes: int
) -> None:
    watch, store = filled(tmp_path, 1, hours, monkeypatch)
    watch.tick(T0, AlarmChanges())
    assert watch._due_ms["bin-1"] == T0 + minutes * MINUTE
    store.close()


def test_four_bins_are_looked_at_at_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    watch, store = filled(tmp_path, 5, 90.0, monkeypatch)
    watch.tick(T0, AlarmChanges())
    assert sorted(watch.views) == ["bin-1", "bin-2", "bin-3", "bin-4"]
    watch.tick(T0, AlarmChanges())
    assert len(watch.views) == 5
    store.close()


@pytest.mark.parametrize("interval_min", [1.0, 9.0, 10.0, 12.0, 30.0])
def test_a_board_that_sends_more_rarely_than_the_settings_say_still_alarms(
    tmp_path: Path, interval_min: float
) -> None:
    """Its readings are no gaps: else no delay would ever run, and the bin would be hot and quiet."""
    site, changes = watch_of(farm(tmp_path)), AlarmChanges()
    for number in range(5):
        substrate(site, T0 + round(number * interval_min * MINUTE), 30.0, changes)
    for number in range(5, 8):
        substrate(site, T0 + round(number * interval_min * MINUTE), 43.5, changes)
    assert site.state(HOT).status == "unacknowledged"


def test_one_long_gap_still_satisfies_no_delay(tmp_path: Path) -> None:
    site, changes = watch_of(farm(tmp_path)), AlarmChanges()
    for number in range(5):
        substrate(site, T0 + number * MINUTE, 30.0, changes)
    substrate(site, T0 + 5 * MINUTE, 43.5, changes)
    substrate(site, T0 + 65 * MINUTE, 43.5, changes)
    assert (site.state(HOT).status, site.state(HOT).progress_s) == ("normal", 0.0)
