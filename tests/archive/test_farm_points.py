"""What is so at the farm, as the archive gets it: the figures of everywhere else, and when they are due."""

from __future__ import annotations

import logging
from collections.abc import Iterator
from pathlib import Path

import pytest
from kept_farm import NOW_MS as MORNING_MS
from kept_farm import beginning, fill_weeks, kept_plan
from page_farm import NOW_MS, PageFarm

from monitor.archive import farm_points, series
from monitor.archive.farm_points import FarmPoints
from monitor.archive.series import Point
from monitor.errors import StoreError
from monitor.farm.cohorts import forecast_view
from monitor.farm.forecast_cache import DRAWS
from monitor.farm.occupancy import last_known_plan
from monitor.farm.places import SiteReader
from monitor.records import MS_PER_HOUR, AlarmEvent, Command, CommandKind
from monitor.settings.schema import Settings
from monitor.store import Store


@pytest.fixture(scope="module")
def farm(tmp_path_factory: pytest.TempPathFactory) -> Iterator[PageFarm]:
    """Six hours of a farm: a bin overheats, a tray dries, a board is silent, two are strangers."""
    made = PageFarm(tmp_path_factory.mktemp("farm"), history_ms=6 * MS_PER_HOUR)
    made.build()
    yield made
    made.close()


class Watch:
    """A steady clock that somebody else moves."""

    def __init__(self) -> None:
        self.now_s = 1000.0

    def __call__(self) -> float:
        return self.now_s


def due(farm: PageFarm, watch: Watch | None = None) -> FarmPoints:
    return FarmPoints(farm.service.store, lambda: farm.service.settings, watch or Watch())


def of(points: list[Point], kind: series.Series) -> dict[tuple[str, ...], Point]:
    return {point.tags: point for point in points if point.series is kind}


def test_the_site_is_one_point_that_agrees_with_the_alarms(farm: PageFarm) -> None:
    points = due(farm).due(NOW_MS)
    site = of(points, series.SITE)[()]
    reader = SiteReader(farm.service.store, farm.plan(), NOW_MS)
    standing = [alarm for alarm in reader.alarms() if alarm.stands]
    assert site.at_ms == NOW_MS
    assert site.fields["heartbeat"] == 1.0
    assert site.fields["open_alarms"] == len(standing) == site.fields["unacknowledged_alarms"] == 5
    assert [site.fields[f"{each}_alarms"] for each in ("high", "medium", "low")] == [1, 4, 0]
    assert site.fields["oldest_unacknowledged_ms"] == min(alarm.state.since_ms or 0 for alarm in standing)
    assert [site.fields[each] for each in ("boards", "silent_boards", "boards_to_mend")] == [15, 1, 3]
    assert [site.fields[each] for each in ("places", "unknown_places", "unguarded_places")] == [15, 1, 0]


def test_without_a_living_service_there_is_no_heartbeat(farm: PageFarm) -> None:
    site = of(due(farm).due(NOW_MS + MS_PER_HOUR), series.SITE)[()]
    assert site.fields["heartbeat"] is None and "heartbeat" not in site.line("a")
    assert site.fields["open_alarms"] == 5


def test_each_alarm_each_place_and_each_board_is_told(farm: PageFarm) -> None:
    points = due(farm).due(NOW_MS)
    hot = of(points, series.ALARM)["bin-3", "substrate_temperature", "high", "high"]
    assert (hot.fields["status"], hot.fields["setpoint"], hot.fields["active"]) == (1, 42.0, True)
    bin_3 = of(points, series.PLACE)["bin-3",]
    assert (bin_3.fields["state"], bin_3.fields["kind"], bin_3.fields["open_alarms"]) == (0, 3, 2)
    assert bin_3.fields["since_ms"] == hot.fields["since_ms"]
    value = of(points, series.PLACE_VALUE)["bin-3", "substrate_temperature"]
    assert value.fields["highest"] == hot.fields["value"]
    assert (value.fields["low_limit"], value.fields["high_limit"]) == (20.0, 38.0)
    silent = next(point for point in of(points, series.BOARD).values() if point.fields["silent"])
    assert silent.fields["to_mend"] and silent.fields["last_heard_ms"] == NOW_MS - 5 * MS_PER_HOUR
    gone = of(points, series.PLACE_VALUE)["bin-5", "substrate_temperature"]
    assert gone.fields["highest"] is None and gone.fields["high_limit"] == 38.0
    assert all(point.line("saltbush-yard") for point in points)


def test_the_site_goes_each_minute_and_places_each_five(farm: PageFarm) -> None:
    watch = Watch()
    points = due(farm, watch)
    kinds = []
    for _ in range(6):
        kinds.append({point.series.measurement for point in points.due(NOW_MS)})
        watch.now_s += 59.0
        assert points.due(NOW_MS) == []
        watch.now_s += 1.0
    everything, little = {"site", "alarm", "place", "place_value", "board"}, {"site", "alarm"}
    assert kinds == [everything, little, little, little, little, everything]


def test_a_place_whose_state_has_changed_is_told_at_once_and_an_alarm_that_is_over_once_more(
    tmp_path: Path,
) -> None:
    farm = PageFarm(tmp_path, history_ms=4 * MS_PER_HOUR)
    farm.build()
    watch = Watch()
    points = due(farm, watch)
    points.due(NOW_MS)
    watch.now_s += 60.0
    farm.cool_down("bin-3")
    for alarm in SiteReader(farm.service.store, farm.plan(), farm.clock()).alarms():
        if alarm.rule.place == "bin-3":
            seen = Command(CommandKind.ACKNOWLEDGE, farm.clock(), "Naledi", alarm.state.alarm_id)
            farm.service.store.commands.add(seen)
    farm.clock.now_ms += 2000
    farm.service.processor.process([], farm.clock())
    now = points.due(farm.clock())
    assert (
        of(now, series.PLACE)["bin-3",].fields["state"]
        == series.PLACE_STATE[
            next(
                place.state
                for place in SiteReader(farm.service.store, farm.plan(), farm.clock()).site().places
                if place.id == "bin-3"
            )
        ]
    )
    over = [tags for tags, point in of(now, series.ALARM).items() if point.fields["status"] == 0]
    assert ("bin-3", "substrate_temperature", "high", "high") in over
    watch.now_s += 60.0
    again = of(points.due(farm.clock()), series.ALARM)
    assert not any(point.fields["status"] == 0 for point in again.values())
    last = farm.service.store.journal.last(1)[0]
    assert last.event in (AlarmEvent.CLEAR, AlarmEvent.ACKNOWLEDGE)
    farm.close()


@pytest.fixture(scope="module")
def weeks(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Store, Settings]]:
    """A farm with cohorts, bins and weeks of hours."""
    folder = tmp_path_factory.mktemp("weeks")
    plan = kept_plan(folder)
    with Store.open(folder / "farm.sqlite") as store:
        fill_weeks(store, plan)
        for entry in beginning():
            store.logbook.add(entry)
        yield store, plan.settings


def test_forecasts_bins_and_sums_are_those_of_the_page(weeks: tuple[Store, Settings]) -> None:
    store, settings = weeks
    points = FarmPoints(store, lambda: settings, Watch()).due(MORNING_MS)
    plan = last_known_plan(store, settings, MORNING_MS)
    shown = forecast_view(store, plan, MORNING_MS, DRAWS)
    told = of(points, series.FORECAST)
    assert [*told] == [(view.cohort.name,) for view in shown.cohorts] and len(told) == 5
    for view in shown.cohorts:
        due, fields = view.expected, told[view.cohort.name,].fields
        assert due is not None
        assert (fields["low_ms"], fields["middle_ms"], fields["high_ms"]) == (
            due.low_ms,
            due.median_ms,
            due.high_ms,
        )
        assert fields["event"] == series.EVENT[due.event]
        assert fields["late"] is (view.overdue is not None)
    bins = of(points, series.BIN)
    assert {*bins} == {("bin-1",), ("bin-2",), ("bin-3",)}
    assert all(0.3 < (point.fields["moisture"] or 0.0) < 0.9 for point in bins.values())
    first, second = (of(points, series.YIELD_AHEAD)[week,].fields for week in ("0", "1"))
    assert first["to_ms"] == second["from_ms"] and (first["larvae_middle_kg"] or 0.0) > 0.0
    sums = of(points, series.YIELD_SUM)
    assert {*sums} == {("week", "0"), ("week", "1"), ("month", "0")}
    assert sums["week", "0"].fields["feed_kg"] == 18.0
    assert sums["week", "1"].fields["eggs_g"] is None, "nobody wrote any down"


def test_what_cannot_be_worked_out_is_left_out_and_logged(
    weeks: tuple[Store, Settings], monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    store, settings = weeks

    def fails(*_: object) -> object:
        raise ZeroDivisionError

    monkeypatch.setattr(farm_points, "ahead_points", fails)
    with caplog.at_level(logging.ERROR):
        points = FarmPoints(store, lambda: settings, Watch()).due(MORNING_MS)
    assert "what is to come could not be worked out for the archive" in caplog.text
    assert of(points, series.SITE) and not of(points, series.FORECAST)
    monkeypatch.setattr(farm_points, "last_known_plan", fails)
    assert FarmPoints(store, lambda: settings, Watch()).due(MORNING_MS) == []

    def refuses(*_: object) -> object:
        raise StoreError("the disk has no room left")

    monkeypatch.setattr(farm_points, "last_known_plan", refuses)
    assert FarmPoints(store, lambda: settings, Watch()).due(MORNING_MS) == []
