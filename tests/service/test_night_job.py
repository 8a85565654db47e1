"""The night report: at its local time on every date, across both changes of the clocks, once."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from pydantic import SecretStr
from service_farm import farm

from monitor.farm.night import HEARTBEAT_LOST, last_night, night_of
from monitor.notify.policy import RecipientPolicy
from monitor.service.night_job import (
    REPORT_JOB,
    SECOND_LOOK,
    SECOND_LOOK_MINUTES,
    Beats,
    NightJob,
    note_heartbeat,
    send_if_due,
    trigger_at,
)
from monitor.settings.plan import Plan, build_plan
from monitor.settings.schema import MessageSettings
from monitor.store import Store

BERLIN = ZoneInfo("Europe/Berlin")
HOUR_MS = 3_600_000


def fire_times(at: time, start: datetime, days: int) -> list[datetime]:
    """Every time at which the trigger fires within some days."""
    trigger, previous, now = trigger_at(at, BERLIN, start.date()), None, start
    found: list[datetime] = []
    while True:
        fire = trigger.get_next_fire_time(previous, now)
        if fire is None or fire >= start + timedelta(days=days):
            return found
        found.append(fire)
        previous, now = fire, fire + timedelta(seconds=1)


@pytest.mark.parametrize("at", [time(6, 30), time(0, 15), time(5, 0)])
@pytest.mark.parametrize("start", [date(2026, 3, 27), date(2026, 10, 23)], ids=["spring", "autumn"])
def test_the_trigger_fires_once_on_each_date_around_the_change_of_the_clocks(at: time, start: date) -> None:
    begin = datetime.combine(start, time(0, 0), BERLIN)
    fired = fire_times(at, begin, 6)
    assert [moment.date() for moment in fired] == [start + timedelta(days=day) for day in range(6)]
    assert {moment.time() for moment in fired} == {at}


def plan_in(zone: str, folder: Path) -> Plan:
    """The plan of a farm in a time zone."""
    return build_plan(farm(folder, site={"id": "yard", "title": "Yard", "time_zone": zone}))


@pytest.mark.parametrize(
    ("morning", "hours"), [(date(2026, 3, 29), 11.5), (date(2026, 10, 25), 13.5), (date(2026, 7, 1), 12.5)]
)
def test_the_night_is_an_hour_shorter_or_longer_when_the_clocks_change(
    tmp_path: Path, morning: date, hours: float
) -> None:
    span = night_of(plan_in("Europe/Berlin", tmp_path), morning)
    assert (span.end_ms - span.start_ms) / HOUR_MS == hours


def report_of(store: Store, plan: Plan, now_ms: int) -> str | None:
    """What the job would write now."""
    settings = plan.settings
    circle = RecipientPolicy.of(settings)
    return send_if_due(store, plan, circle, now_ms)


def test_a_report_is_written_once_per_date_and_late_rather_than_never(tmp_path: Path) -> None:
    plan = plan_in("Africa/Gaborone", tmp_path)
    evening = round(datetime(2026, 9, 22, 17, 0, tzinfo=plan.zone).timestamp() * 1000)
    with Store.open(tmp_path / "yard.sqlite") as store:
        store.meta.put("first_started_ms", str(evening))
        assert report_of(store, plan, evening) is None
        late_ms = evening + 20 * HOUR_MS
        assert last_night(plan, late_ms).date == "2026-09-23"
        text = report_of(store, plan, late_ms)
        assert text is not None
        assert text.startswith("Yard, night to 2026-09-23")
        assert report_of(store, plan, late_ms + HOUR_MS) is None
        assert [waiting.kind.value for waiting in store.outbox.waiting()] == ["night_report"]
        assert report_of(store, plan, late_ms + 24 * HOUR_MS) is not None


def test_no_report_of_a_night_before_the_first_start(tmp_path: Path) -> None:
    plan = plan_in("Africa/Gaborone", tmp_path)
    noon = round(datetime(2026, 9, 22, 12, 0, tzinfo=plan.zone).timestamp() * 1000)
    with Store.open(tmp_path / "yard.sqlite") as store:
        store.meta.put("first_started_ms", str(noon))
        assert report_of(store, plan, noon + HOUR_MS) is None


def local_ms(plan: Plan, day: int, hour: int, minute: int = 0) -> int:
    """A moment of September 2026 on the farm."""
    return round(datetime(2026, 9, day, hour, minute, tzinfo=plan.zone).timestamp() * 1000)


def test_a_clock_a_day_ahead_for_one_look_does_not_stop_the_report_of_the_next_morning(
    tmp_path: Path,
) -> None:
    plan = plan_in("Africa/Gaborone", tmp_path)
    with Store.open(tmp_path / "yard.sqlite") as store:
        store.meta.put("first_started_ms", str(local_ms(plan, 20, 17)))
        assert report_of(store, plan, local_ms(plan, 22, 6, 31)) is not None
        # The clock says the 23rd while it is the 22nd.
        assert "night to 2026-09-23" in (report_of(store, plan, local_ms(plan, 23, 6, 31)) or "")
        assert report_of(store, plan, local_ms(plan, 22, 7, 0)) is None, "it went out, once"
        assert "night to 2026-09-23" in (report_of(store, plan, local_ms(plan, 23, 6, 45)) or "")
        assert report_of(store, plan, local_ms(plan, 23, 7, 0)) is None
        assert report_of(store, plan, local_ms(plan, 23, 18, 0)) is None


@pytest.mark.parametrize(("ahead_minutes", "again"), [(9, False), (11, True)])
def test_a_clock_that_is_put_right_by_some_minutes_brings_no_second_report(
    tmp_path: Path, ahead_minutes: int, again: bool
) -> None:
    plan = plan_in("Africa/Gaborone", tmp_path)
    with Store.open(tmp_path / "yard.sqlite") as store:
        store.meta.put("first_started_ms", str(local_ms(plan, 20, 17)))
        report_of(store, plan, local_ms(plan, 21, 12))
        assert report_of(store, plan, local_ms(plan, 22, 6, 30)) is not None
        report_of(store, plan, local_ms(plan, 22, 6, 30) - ahead_minutes * 60_000)
        assert (report_of(store, plan, local_ms(plan, 22, 6, 30)) is not None) is again


def test_a_first_start_with_a_clock_far_ahead_stops_no_report(tmp_path: Path) -> None:
    plan = plan_in("Africa/Gaborone", tmp_path)
    with Store.open(tmp_path / "yard.sqlite") as store:
        store.meta.put("first_started_ms", str(local_ms(plan, 20, 17) + 500 * 24 * HOUR_MS))
        assert report_of(store, plan, local_ms(plan, 21, 12)) is None
        assert report_of(store, plan, local_ms(plan, 22, 6, 30)) is not None


def test_after_the_clock_was_set_back_the_next_look_is_not_a_day_away() -> None:
    """The scheduler counts on the wall clock: what was due after a wrong look lies ahead by as much."""
    job = NightJob(time(6, 30), BERLIN, lambda: None, lambda: None)
    job.start()
    try:
        scheduler = job._scheduler
        for name in (REPORT_JOB, SECOND_LOOK):
            scheduler.modify_job(name, next_run_time=datetime.now(BERLIN) + timedelta(days=500))
        job.clock_was_set()
        ahead = {name: scheduler.get_job(name).next_run_time for name in (REPORT_JOB, SECOND_LOOK)}
    finally:
        job.stop()
    assert ahead[SECOND_LOOK] - datetime.now(BERLIN) <= timedelta(minutes=SECOND_LOOK_MINUTES)
    assert ahead[REPORT_JOB] - datetime.now(BERLIN) <= timedelta(days=1, hours=1)


def test_after_the_clock_was_set_back_the_heart_beats_on() -> None:
    messages = MessageSettings.model_validate(
        {"heartbeat_url": "https://example.org/x", "heartbeat_minutes": 5}
    )
    beats = Beats(messages, lambda: False)
    beats.start()
    try:
        beats._scheduler.modify_job("heartbeat", next_run_time=datetime.now(BERLIN) + timedelta(days=500))
        beats.clock_was_set()
        next_run = beats._scheduler.get_job("heartbeat").next_run_time
    finally:
        beats.stop()
    assert next_run - datetime.now(BERLIN) <= timedelta(minutes=5)


def test_one_error_in_a_forecast_does_not_end_the_night_reports(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Neither where the day's forecasts are kept nor in the report itself."""

    def fails(*_: object) -> int:
        raise ZeroDivisionError("an error of the program")

    monkeypatch.setattr("monitor.service.night_job.keep_todays_forecasts", fails)
    monkeypatch.setattr("monitor.farm.today.Outlook.forecast", property(fails))
    plan = plan_in("Africa/Gaborone", tmp_path)
    morning = round(datetime(2026, 9, 23, 7, 0, tzinfo=plan.zone).timestamp() * 1000)
    with Store.open(tmp_path / "yard.sqlite") as store:
        store.meta.put("first_started_ms", str(morning - 24 * HOUR_MS))
        text = report_of(store, plan, morning)
        assert text is not None
        assert "no forecast: an error of the program (ZeroDivisionError)" in text
        assert len(store.outbox.waiting()) == 1


def test_a_lost_heartbeat_is_noted_once_and_forgotten_when_it_is_taken(tmp_path: Path) -> None:
    with Store.open(tmp_path / "yard.sqlite") as store:
        for lost, at_ms, kept in (
            (False, 1, None),
            (True, 2, "2"),
            (True, 3, "2"),
            (False, 4, ""),
            (True, 5, "5"),
        ):
            note_heartbeat(store, lost, at_ms)
            assert store.meta.get(HEARTBEAT_LOST) == kept


def test_the_heartbeat_job_notes_what_came_of_the_call() -> None:
    noted: list[bool] = []
    settings = MessageSettings(heartbeat_url=SecretStr("http://127.0.0.1:1/x"))
    beats = Beats(settings, lambda: True, noted.append)
    beats.beat()
    quiet = Beats(settings, lambda: False, noted.append)
    quiet.beat()
    assert noted == [True, False]
