"""Late backlog: nobody is woken for a past that is over, and the night report finds it."""

from __future__ import annotations

from datetime import UTC, date, datetime
from pathlib import Path

from service_farm import MINUTE, T0, farm, message, raw_message

from monitor.farm.night import NightReader, night_of
from monitor.records import MS_PER_HOUR, IncomingMessage
from monitor.service import Service
from monitor.service.site_state import AlarmChanges
from monitor.words.localizer import Localizer
from monitor.words.night import report_text

HOT = "bin-1/substrate_temperature/high/high"
EVENING = round(datetime(2026, 11, 24, 18, 0, tzinfo=UTC).timestamp() * 1000)


class Bench:
    """A service whose turns are made by hand."""

    def __init__(self, folder: Path, now_ms: int = T0) -> None:
        self.now_ms, self.sequence = now_ms, 0
        self.service = Service(farm(folder), clock=lambda: self.now_ms, inline=True)
        self.service.prepare()

    def send(self, *points: tuple[int, float], node: str = "node-1") -> None:
        """One message for each (time, temperature), all in one turn at the present time."""
        batch: list[IncomingMessage] = []
        for at_ms, value in points:
            self.sequence += 1
            one = raw_message(node, at_ms, value, self.sequence)
            batch.append(IncomingMessage(one.topic, one.payload, self.now_ms))
        self.service.processor.process(batch, self.now_ms)

    def live(self, minutes: int, value: float = 30.0) -> None:
        """Readings as they are made."""
        for _ in range(minutes):
            self.now_ms += MINUTE
            self.send((self.now_ms, value))

    def told(self) -> set[str | None]:
        """Alarms about which anything was ever written to anybody."""
        return {message.alarm_id for message in self.service.store.outbox.since(0)}

    def found(self) -> list[tuple[str, int, int]]:
        """What was found late."""
        rows = self.service.store.journal.found_late(0, self.now_ms + 1)
        return [(one.alarm_id, one.began_ms, one.ended_ms) for one in rows]


def hot_span(start_ms: int, minutes: int, value: float = 43.0) -> list[tuple[int, float]]:
    """A cool minute, so many hot ones, and cool ones until any off-delay is over."""
    hot = [(start_ms + (at + 1) * MINUTE, value) for at in range(minutes)]
    after = [(start_ms + (minutes + 1 + at) * MINUTE, 30.0) for at in range(20)]
    return [(start_ms, 30.0), *hot, *after]


def test_a_backlog_after_a_silence_wakes_nobody_and_is_found(tmp_path: Path) -> None:
    bench = Bench(tmp_path)
    bench.live(3)
    start_ms = bench.now_ms + MINUTE
    bench.now_ms += 2 * MS_PER_HOUR
    bench.send(*hot_span(start_ms, 30), (bench.now_ms, 30.0))
    bench.live(5)
    assert HOT not in bench.told()
    [(began_ms, ended_ms)] = {(began, ended) for name, began, ended in bench.found() if name == HOT}
    assert began_ms == start_ms + MINUTE
    assert ended_ms >= start_ms + 30 * MINUTE


def test_a_backlog_behind_newer_readings_is_found_too(tmp_path: Path) -> None:
    bench = Bench(tmp_path)
    bench.live(3)
    start_ms = bench.now_ms + MINUTE
    bench.now_ms += 2 * MS_PER_HOUR
    bench.live(5)
    for point in hot_span(start_ms, 30):
        bench.send(point)
    bench.live(3)
    assert HOT not in bench.told()
    assert (HOT, start_ms + MINUTE, start_ms + 30 * MINUTE) in bench.found()


def test_too_short_an_excursion_is_not_found(tmp_path: Path) -> None:
    bench = Bench(tmp_path)
    bench.live(3)
    start_ms = bench.now_ms + MINUTE
    bench.now_ms += 2 * MS_PER_HOUR
    bench.live(5)
    bench.send(*hot_span(start_ms, 1))
    assert bench.found() == []


def test_a_backlog_that_ends_hot_raises_the_alarm_with_the_next_reading(tmp_path: Path) -> None:
    bench = Bench(tmp_path)
    bench.live(3)
    start_ms = bench.now_ms
    bench.now_ms += MS_PER_HOUR
    bench.send(*[(start_ms + at * MINUTE, 43.0) for at in range(1, 50)])
    assert HOT not in bench.told()
    bench.live(12, 43.0)
    assert HOT in bench.told()


def test_messages_that_come_again_are_no_late_finding(tmp_path: Path) -> None:
    bench = Bench(tmp_path)
    start_ms = bench.now_ms
    points = hot_span(start_ms, 30)
    for at_ms, value in points:
        bench.now_ms = at_ms
        bench.send((at_ms, value))
    assert HOT in bench.told()
    bench.send(*points[5:25])
    bench.live(60)
    plan = bench.service.processor.site.plan
    day = datetime.fromtimestamp(bench.now_ms / 1000, plan.zone).date()
    night = NightReader(bench.service.store, plan, night_of(plan, day), bench.now_ms).summary()
    assert [one for one in night.found_late if one.rule.alarm_id == HOT] == []


def test_an_afternoon_that_came_in_at_night_stands_in_the_report_of_the_morning(tmp_path: Path) -> None:
    bench = Bench(tmp_path, EVENING - 6 * MS_PER_HOUR)
    bench.live(3)
    noon_ms = bench.now_ms + MINUTE
    bench.now_ms = EVENING + MS_PER_HOUR
    bench.send(*hot_span(noon_ms, 30), (bench.now_ms, 30.0))
    plan = bench.service.processor.site.plan
    span = night_of(plan, date(2026, 11, 25))
    bench.now_ms = span.end_ms + MINUTE
    report = NightReader(bench.service.store, plan, span, bench.now_ms).report()
    text = report_text(report, Localizer.of_site(plan.settings, bench.now_ms))
    late = text.partition("FOUND OUT LATER")[2]
    assert "Bin 1: substrate temperature 43" in late
    assert "- Tue 24 Nov 14:" in late


def test_a_late_reading_of_one_probe_says_nothing_about_the_present_of_another(tmp_path: Path) -> None:
    bench = Bench(tmp_path)
    bench.live(15, 43.0)
    assert bench.service.processor.site.state(HOT).active
    late = message("node-1", bench.now_ms - 8 * MINUTE, 20.0)
    bench.service.processor.site.take(late, bench.now_ms, AlarmChanges())
    assert bench.service.processor.site.state(HOT).last_value == 43.0
