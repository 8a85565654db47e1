"""The night report: at its local time on every date, across both changes of the clocks, once."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from service_farm import farm

from monitor.farm.night import last_night, night_of
from monitor.notify.policy import RecipientPolicy
from monitor.service.night_job import send_if_due, trigger_at
from monitor.settings.plan import Plan, build_plan
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
