"""Each figure of what is so on the farm that a person would feel, on both of its sides."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from cli_farm import AIR, BIN, HOT, HUMIDITY, Farm, make_farm, put, put_states, reading, standing
from pydantic import SecretStr

from monitor.bins.outlook import HoursTo
from monitor.bins.substrate import Zone
from monitor.development.events import Event
from monitor.development.progress import Ended, Ending
from monitor.errors import UsageError
from monitor.farm import cohorts as cohorts_module
from monitor.farm import development as development_module
from monitor.farm import supply as supply_module
from monitor.farm.bins import BinState, BinView, HeatView, view_of_bin
from monitor.farm.cohorts import DueEvent, made_forecasts
from monitor.farm.forecast_cache import BINS_KEPT_MS, COHORTS_KEPT_MS, CachedForecast
from monitor.farm.names import only_one
from monitor.farm.night import NightReader, last_night, night_of
from monitor.farm.place_reader import SPANS, PlaceReader, Points, read_points, span_ending, thinned
from monitor.farm.places import SiteReader, is_silent, sign_of_life
from monitor.farm.today import needs_water_today
from monitor.records import (
    MS_PER_DAY,
    MS_PER_HOUR,
    MS_PER_MINUTE,
    Flag,
    LogbookEntry,
    PlaceKind,
    Quantity,
    SensorKey,
    SubjectKind,
)
from monitor.settings.plan import build_plan
from monitor.store import Store
from monitor.store.logbook import MadeForecast
from monitor.store.readings import minutes_where, time_mean

NOW = 1_790_000_000_000 // MS_PER_HOUR * MS_PER_HOUR


# --- places and boards ---


@pytest.mark.parametrize(("age_ms", "alive"), [(3 * MS_PER_MINUTE, True), (3 * MS_PER_MINUTE + 1, False)])
def test_the_service_lives_up_to_three_minutes_after_its_last_sign(
    farm: Farm, age_ms: int, alive: bool
) -> None:
    farm.lives(NOW - age_ms)
    with farm.store() as store:
        assert sign_of_life(store, NOW) == (alive, NOW - age_ms)
        assert sign_of_life(store, NOW - age_ms - 1) == (False, None)


@pytest.mark.parametrize(("age_ms", "fresh"), [(300_000, True), (300_001, False)])
def test_a_reading_is_fresh_and_a_board_heard_up_to_its_limit(farm: Farm, age_ms: int, fresh: bool) -> None:
    put(farm, reading(BIN, NOW - age_ms, 30.0))
    with farm.store() as store:
        place = SiteReader(store, farm.plan(), NOW).place("bin-1")
        assert (not place.quantities[0].sensors[0].stale) is fresh
        facts = store.nodes.one("node-02")
        assert facts is not None
        heard = replace(facts, last_heard_ms=NOW - age_ms)
        assert is_silent(farm.plan(), heard, "node-02", NOW) is not fresh
        assert not is_silent(farm.plan(), heard, "node-77", NOW)
        assert is_silent(farm.plan(), replace(heard, messages=0), "node-02", NOW)


def test_a_board_that_was_never_heard_has_sent_nothing(farm: Farm) -> None:
    with farm.store() as store:
        facts = next(row.facts for row in SiteReader(store, farm.plan(), NOW).boards() if not row.heard)
    counts = (facts.messages, facts.missing, facts.duplicates, facts.conflicts, facts.rejected)
    assert (facts.node, counts, facts.first_heard_ms, facts.last_heard_ms) == ("node-01", (0,) * 5, 0, 0)
    assert (facts.online, facts.boot, facts.last_reject_ms, facts.silence_limit_s) == (None,) * 4


def test_an_alarm_looks_at_value_and_trend_of_its_own_side(farm: Farm) -> None:
    edge = replace(BIN, probe="edge")
    for back in range(20):
        at_ms = NOW - back * MS_PER_MINUTE
        put(farm, reading(BIN, at_ms, 43.0 - 0.1 * back), reading(edge, at_ms, 19.0 + 0.2 * back))
    low = next(name for name in farm.plan().rules if name.startswith("bin-1/substrate_temperature/low"))
    put_states(farm, standing(HOT), standing(low))
    with farm.store() as store:
        reader = SiteReader(store, farm.plan(), NOW)
        hot, cold = reader.alarm(HOT), reader.alarm(low)
    assert (hot.value, cold.value) == (43.0, 19.0)
    assert hot.per_hour == pytest.approx(6.0, abs=0.01)
    assert cold.per_hour == pytest.approx(-12.0, abs=0.01)


def test_of_old_values_each_side_shows_its_own(farm: Farm) -> None:
    put(
        farm,
        reading(BIN, NOW - MS_PER_HOUR, 40.0),
        reading(replace(BIN, probe="edge"), NOW - MS_PER_HOUR, 21.0),
    )
    put(farm, reading(replace(BIN, probe="core"), NOW - MS_PER_HOUR, 85.0, Flag.FAIL))
    low = next(name for name in farm.plan().rules if name.startswith("bin-1/substrate_temperature/low"))
    with farm.store() as store:
        reader = SiteReader(store, farm.plan(), NOW)
        assert (reader.alarm(HOT).value, reader.alarm(low).value) == (40.0, 21.0)


def test_readings_of_the_last_hour_count_with_both_edges(farm: Farm) -> None:
    for back_ms in (MS_PER_HOUR + 1, MS_PER_HOUR, 1000, 0):
        put(farm, reading(BIN, NOW - back_ms, 30.0))
    put(farm, reading(BIN, NOW - 500, 99.0, Flag.FAIL))
    with farm.store() as store:
        times, values = PlaceReader(store, farm.plan(), NOW).lately("bin-1", Quantity.SUBSTRATE_TEMPERATURE)
    assert (NOW - times).tolist() == [MS_PER_HOUR, 1000, 0]
    assert set(values.tolist()) == {30.0}


def test_of_two_probes_the_one_that_was_heard_last_speaks(farm: Farm) -> None:
    edge = replace(BIN, probe="edge")
    put(farm, reading(BIN, NOW - 2000, 30.0), reading(edge, NOW - 1000, 31.0))
    with farm.store() as store:
        heard = PlaceReader(store, farm.plan(), NOW).newest("bin-1", Quantity.SUBSTRATE_TEMPERATURE)
        assert heard is not None
        assert (heard[0], heard[1].reading.value) == (edge, 31.0)
        assert PlaceReader(store, farm.plan(), NOW).newest("bin-1", Quantity.LIGHT) is None


def test_the_middle_of_an_hour_and_of_what_has_passed_of_it(farm: Farm) -> None:
    hours = np.array([NOW - MS_PER_HOUR, NOW])
    with farm.store() as store:
        for passed_ms, middle_ms in (
            (10 * MS_PER_MINUTE, 5),
            (59 * MS_PER_MINUTE, 29.5),
            (2 * MS_PER_HOUR, 30),
        ):
            reader = PlaceReader(store, farm.plan(), NOW + passed_ms)
            assert reader.middles(hours.copy()).tolist() == [
                NOW - 30 * MS_PER_MINUTE,
                NOW + middle_ms * MS_PER_MINUTE,
            ]


def test_the_hours_of_two_sensors_are_their_mean_and_of_none_are_none(farm: Farm) -> None:
    edge = replace(BIN, probe="edge")
    put(farm, reading(BIN, NOW, 30.0), reading(BIN, NOW + MS_PER_HOUR, 31.0))
    with farm.store() as store:
        reader = PlaceReader(store, farm.plan(), NOW + 2 * MS_PER_HOUR)
        hours, values = reader.hours("bin-1", Quantity.SUBSTRATE_TEMPERATURE, NOW)
        assert (hours.tolist(), values.tolist()) == ([NOW, NOW + MS_PER_HOUR], [30.0, 31.0])
        assert [len(part) for part in reader.hours("bin-1", Quantity.LIGHT, NOW)] == [0, 0]
        assert [len(part) for part in reader.hours(None, Quantity.LIGHT, NOW)] == [0, 0]
    put(farm, reading(edge, NOW, 36.0), reading(edge, NOW + 2 * MS_PER_HOUR, 40.0))
    with farm.store() as store:
        reader = PlaceReader(store, farm.plan(), NOW + 3 * MS_PER_HOUR)
        hours, values = reader.hours("bin-1", Quantity.SUBSTRATE_TEMPERATURE, NOW)
    assert ((hours - NOW) // MS_PER_HOUR).tolist() == [0, 1, 2]
    assert values.tolist() == [33.0, 31.0, 40.0]


@pytest.mark.parametrize("count", [20, 21, 23])
def test_twenty_sensors_are_listed_and_the_rest_is_counted(farm: Farm, count: int) -> None:
    sensors = [SensorKey("node-02", f"p{number:02}", "substrate_temperature") for number in range(count)]
    with pytest.raises(UsageError) as refused:
        only_one("bin-1", sensors, farm.plan())
    text = str(refused.value)
    assert f"can mean {count} sensors" in text
    assert ("more" in text, f"and {count - 20} more" in text) == (count > 20, count > 20)
    assert text.count("node-02/") == min(count, 20)


# --- curves ---


def test_a_span_ends_now_or_with_the_running_point(farm: Farm) -> None:
    zone = farm.plan().zone
    half = NOW + 30 * MS_PER_MINUTE
    assert span_ending(SPANS["24h"], half, zone) == (half - MS_PER_DAY, half)
    assert span_ending(SPANS["7d"], half, zone) == (NOW + MS_PER_HOUR - 7 * MS_PER_DAY, NOW + MS_PER_HOUR)
    assert span_ending(SPANS["7d"], NOW, zone) == (NOW - 7 * MS_PER_DAY, NOW)
    midnight = round(datetime(2026, 11, 26, tzinfo=zone).timestamp() * 1000)
    assert span_ending(SPANS["year"], midnight - 1, zone) == (midnight - 365 * MS_PER_DAY, midnight)
    assert span_ending(SPANS["year"], midnight + 1, zone)[1] == midnight + MS_PER_DAY
    four = span_ending(SPANS["30d"], midnight + 4 * MS_PER_HOUR, zone)[1]
    assert four == midnight + 6 * MS_PER_HOUR
    assert span_ending(SPANS["30d"], midnight + 8 * MS_PER_HOUR, zone)[1] == midnight + 9 * MS_PER_HOUR
    three = span_ending(SPANS["30d"], midnight + 1, zone)
    assert three == (midnight + 3 * MS_PER_HOUR - 30 * MS_PER_DAY, midnight + 3 * MS_PER_HOUR)


def test_points_are_thinned_to_parts_with_their_lowest_mean_and_highest() -> None:
    at = np.array([0, 1, 2, 9, 10, 99])
    value = np.array([1.0, 5.0, 3.0, 7.0, 2.0, 4.0])
    found = thinned(Points(at, value, value, value, 0), (0, 100), most=10)
    assert found.at_ms.tolist() == [5, 15, 95]
    assert (found.low.tolist(), found.high.tolist()) == ([1.0, 2.0, 4.0], [7.0, 2.0, 4.0])
    assert found.mean.tolist() == [4.0, 2.0, 4.0]
    assert (found.step_ms, found.single) == (10, False)
    assert thinned(Points(at, value, value, value, 0), (0, 101), most=10).step_ms == 11
    assert thinned(Points(at, value, value, value, 0), (0, 7200)).step_ms == 10


@pytest.mark.parametrize(("count", "single"), [(1500, True), (1501, False)])
def test_a_day_of_more_than_1500_readings_is_thinned(farm: Farm, count: int, single: bool) -> None:
    start = NOW - MS_PER_DAY
    put(farm, *(reading(AIR, NOW - number * 1000, 20.0) for number in range(count)))
    with farm.store() as store:
        found = read_points(store, AIR, SPANS["24h"], (start, NOW), ())
    assert found.single is single
    assert len(found) == (1500 if single else len(found)) and len(found) <= 1500


def test_a_point_of_an_hour_stands_in_its_middle(farm: Farm) -> None:
    put(farm, reading(AIR, NOW, 20.0), reading(AIR, NOW + 1000, 24.0))
    with farm.store() as store:
        found = read_points(store, AIR, SPANS["7d"], (NOW, NOW + MS_PER_DAY), ())
    assert found.at_ms.tolist() == [NOW + 30 * MS_PER_MINUTE]
    assert [found.low[0], found.mean[0], found.high[0]] == [20.0, 22.0, 24.0]


# --- bins ---


def heat(earliest_min: float | None, now_c: float = 41.0, limit_c: float | None = 42.0) -> HeatView:
    return HeatView(now_c, NOW, None, None, None, earliest_min, limit_c, None)


def moist(
    warning_h: float | None = 30.0, limit_h: float | None = 40.0, litres: float = 1.0, zone: Zone = Zone.RIGHT
) -> Any:
    def hours(earliest_h: float | None) -> HoursTo | None:
        return None if earliest_h is None else HoursTo(earliest_h + 9.0, earliest_h)

    return SimpleNamespace(
        to_warning=hours(warning_h), to_limit=hours(limit_h), litres=litres, zone=zone, finishing=False
    )


def a_bin(**known: Any) -> BinView:
    fill: Any = SimpleNamespace(place="bin-1")
    bands: Any = object()
    return BinView(
        fill, "Bin 1", PlaceKind.GROW_OUT_BIN, NOW, **{"bands": bands, "outlook": moist(), **known}
    )


@pytest.mark.parametrize(
    ("known", "state"),
    [
        ({"heat": heat(59.9)}, BinState.HOT_SOON),
        ({"heat": heat(60.0)}, BinState.RIGHT),
        ({"heat": heat(None)}, BinState.RIGHT),
        ({"heat": heat(0.0, 42.0)}, BinState.HOT_SOON),
        ({"heat": heat(0.0, 42.1)}, BinState.TOO_HOT),
        ({"heat": heat(0.0, 42.1, None)}, BinState.HOT_SOON),
        ({"outlook": moist(limit_h=2.9)}, BinState.DRY_SOON),
        ({"outlook": moist(limit_h=3.0)}, BinState.RIGHT),
        ({"outlook": moist(limit_h=2.9, zone=Zone.DRY)}, BinState.DRY),
        ({"outlook": moist(limit_h=None)}, BinState.RIGHT),
        ({"bands": None}, BinState.NO_LIMITS),
        ({"outlook": None, "heat": heat(0.0)}, BinState.HOT_SOON),
        ({"outlook": None, "heat": heat(60.0)}, BinState.UNKNOWN),
        ({"outlook": None}, BinState.UNKNOWN),
    ],
)
def test_what_is_said_first_of_a_bin(known: dict[str, Any], state: BinState) -> None:
    assert a_bin(**known).state is state


@pytest.mark.parametrize(
    ("outlook", "needs"),
    [
        (moist(23.9), True),
        (moist(24.0), False),
        (moist(23.9, litres=0.1), True),
        (moist(23.9, litres=0.09), False),
        (moist(None), False),
        (None, False),
    ],
)
def test_a_bin_needs_water_today(outlook: Any, needs: bool) -> None:
    assert needs_water_today(a_bin(outlook=outlook)) is needs
    assert not needs_water_today(a_bin(outlook=outlook, bands=None))


@pytest.mark.parametrize(("age_ms", "fresh"), [(2 * MS_PER_HOUR, True), (2 * MS_PER_HOUR + 1, False)])
def test_a_probe_is_fresh_for_two_hours(farm: Farm, age_ms: int, fresh: bool) -> None:
    probe = SensorKey("node-02", "", "substrate_moisture")
    put(farm, reading(probe, NOW - age_ms, 0.5))
    put(farm, *(reading(AIR, NOW - hour * MS_PER_HOUR, 27.0) for hour in range(24)))
    put(farm, *(reading(HUMIDITY, NOW - hour * MS_PER_HOUR, 60.0) for hour in range(24)))
    body = {"kg": 10.0, "moisture": 0.7, "surface_m2": 0.24}
    with farm.store() as store:
        store.logbook.add(LogbookEntry(SubjectKind.BIN, "bin-1", "fill", NOW - MS_PER_DAY, NOW, "me", body))
        view = view_of_bin(store, farm.plan(), "bin-1", NOW)
        assert view is not None and view.probe is not None
        assert view.probe.fresh is fresh
        assert view.outlook is not None
        assert view_of_bin(store, farm.plan(), "bin-2", NOW) is None


# --- kept forecasts ---


def test_bins_are_kept_five_minutes_and_cohorts_an_hour() -> None:
    assert (BINS_KEPT_MS, COHORTS_KEPT_MS) == (300_000, 3_600_000)


@pytest.mark.parametrize(
    ("after_ms", "made"), [(299_999, 1), (-1, 2), (600_000, 2), (599_999, 1), (300_000, 1)]
)
def test_an_answer_of_the_part_before_is_given_while_a_new_one_is_made(
    tmp_path: Path, after_ms: int, made: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    calls: list[int] = []

    def work(_store: Store, _plan: Any, now_ms: int) -> int:
        calls.append(now_ms)
        return len(calls)

    begin = NOW // BINS_KEPT_MS * BINS_KEPT_MS
    cached = CachedForecast(SubjectKind.BIN, work, BINS_KEPT_MS)
    renewed: list[int] = []
    monkeypatch.setattr(cached, "_renew", lambda _plan, now_ms, _opening: renewed.append(now_ms))
    with Store.open(tmp_path / "yard.sqlite") as store:
        plan: Any = object()
        cached.answer(store, plan, begin, lambda: store)
        assert cached.answer(store, plan, begin + after_ms, lambda: store) == made
    assert bool(renewed) is (300_000 <= after_ms < 600_000)


def test_only_one_renewal_runs_at_a_time(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    started: list[object] = []
    thread = SimpleNamespace(start=lambda: started.append(1))
    monkeypatch.setattr("monitor.farm.forecast_cache.threading.Thread", lambda **_: thread)
    cached = CachedForecast(SubjectKind.BIN, lambda *_: 7, BINS_KEPT_MS)
    plan: Any = object()
    with Store.open(tmp_path / "yard.sqlite") as store:
        for _ in range(2):
            cached._renew(plan, NOW, lambda: store)
    assert len(started) == 1
    cached._renewed(plan, NOW, lambda: Store.read_only(tmp_path / "yard.sqlite"))
    cached._renew(plan, NOW, lambda: store)
    assert len(started) == 2


# --- cohorts ---


def forecast_of(*events: tuple[Event, float, float, float]) -> Any:
    found = [
        SimpleNamespace(event=e, low_ms=low, median_ms=mid, high_ms=high) for e, low, mid, high in events
    ]
    return SimpleNamespace(
        events=found,
        made_ms=NOW,
        event=lambda event: next((one for one in found if one.event is event), None),
    )


def cohort_of(**known: Any) -> Any:
    track = SimpleNamespace(count_stage=None, start_ms=NOW - 30 * MS_PER_DAY, residences=())
    nothing = {"name": "c", "seen": (), "flies": (), "eggs_grams": (), "track": track, "ended": None}
    return SimpleNamespace(**{**nothing, **known})


HATCH, PREPUPAE, EMERGED = Event.HATCH, Event.FIRST_PREPUPAE, Event.MOST_EMERGED
STANDS: Any = SimpleNamespace(now_ms=NOW, basis=SimpleNamespace(day_origin_ms=NOW - 8 * MS_PER_HOUR))


@pytest.mark.parametrize(
    ("ended_days_ago", "told"), [(0.0, False), (0.0001, True), (7.0, True), (7.0001, False)]
)
def test_an_event_is_overdue_for_a_week_after_its_window(ended_days_ago: float, told: bool) -> None:
    high = NOW - round(ended_days_ago * MS_PER_DAY)
    forecast = forecast_of((HATCH, high - 2, high - 1, high))
    found = cohorts_module._overdue(cohort_of(), forecast, "Tray", STANDS)
    assert (found == DueEvent("c", "Tray", HATCH, high - 1, high - 2, high)) is told
    assert (found is None) is not told


def test_what_was_entered_or_lies_before_it_is_not_overdue() -> None:
    late = NOW - MS_PER_DAY
    forecast = forecast_of((HATCH, late, late, late), (PREPUPAE, late, late, late))
    for known, event in (
        ({}, PREPUPAE),
        ({"seen": (SimpleNamespace(event=HATCH),)}, PREPUPAE),
        ({"seen": (SimpleNamespace(event=PREPUPAE),)}, None),
        ({"flies": (1,)}, None),
    ):
        found = cohorts_module._overdue(cohort_of(**known), forecast, "Tray", STANDS)
        assert (None if found is None else found.event) is event
    eggs = forecast_of((Event.FIRST_EGGS, late, late, late))
    assert cohorts_module._overdue(cohort_of(), eggs, "Cage", STANDS) is None


def made(event: Event, made_days_ago: float, median_ms: int = NOW) -> MadeForecast:
    at_ms = NOW - round(made_days_ago * MS_PER_DAY)
    return MadeForecast("c", "d", event, at_ms, median_ms, median_ms - 1, median_ms + 1)


@pytest.mark.parametrize(("days_ago", "compared"), [(6.0, True), (5.9999, False), (20.0, True)])
def test_a_forecast_is_compared_with_one_of_six_days_ago(days_ago: float, compared: bool) -> None:
    half = Event.HALF_EMERGED
    earlier = cohorts_module._earlier([made(half, days_ago), made(PREPUPAE, 9.0)], NOW)
    assert bool(earlier) is compared
    drift = cohorts_module._drift_days
    coming = NOW + 3 * MS_PER_DAY
    assert drift(forecast_of((half, 0, coming, 0)), made(half, 9.0)) == 3.0
    assert drift(forecast_of((half, 0, NOW, 0)), made(half, 9.0)) == 0.0
    assert drift(forecast_of((half, 0, NOW - 1, 0)), made(half, 9.0)) is None
    assert drift(forecast_of((half, 0, 9e12, 0)), made(half, 9.0)) is not None
    assert drift(forecast_of((half, 0, 9e12 + 1, 0)), made(half, 9.0)) is None
    assert drift(forecast_of((half, 0, coming, 0)), None) is None


@pytest.mark.parametrize(
    ("ahead_days", "due"), [(-1 / 3, True), (-0.334, False), (7.66, True), (7.667, False)]
)
def test_what_is_due_lies_between_this_midnight_and_the_eighth(ahead_days: float, due: bool) -> None:
    median = NOW + round(ahead_days * MS_PER_DAY)
    view: Any = SimpleNamespace(
        forecast=forecast_of((PREPUPAE, median, median, median), (EMERGED, median, median, median)),
        cohort=cohort_of(),
        for_feed=True,
        place_title="Bin",
    )
    assert [each.event for each in cohorts_module._due([view], STANDS)] == ([PREPUPAE] if due else [])
    view.cohort = cohort_of(seen=(SimpleNamespace(event=PREPUPAE),))
    assert list(cohorts_module._due([view], STANDS)) == []
    view.for_feed = False
    assert [each.event for each in cohorts_module._due([view], STANDS)] == ([EMERGED] if due else [])


def test_what_is_due_at_the_next_midnight_is_of_the_week_and_not_of_today(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    midnight = NOW + 16 * MS_PER_HOUR
    due = [DueEvent(name, "Bin", HATCH, at, at, at) for name, at in (("b", midnight), ("a", midnight - 1))]
    monkeypatch.setattr(cohorts_module, "_due", lambda *_: due)
    monkeypatch.setattr(cohorts_module, "_ask", lambda _: None)
    book = SimpleNamespace(living=(), refused=())
    development: Any = SimpleNamespace(now_ms=NOW, basis=STANDS.basis, book=book, forecasts=dict)
    view = cohorts_module.view_of((), development)
    assert ([one.cohort for one in view.today], [one.cohort for one in view.week]) == (["a"], ["b"])


def test_forecasts_of_what_is_still_to_come_are_kept(farm: Farm) -> None:
    development: Any = SimpleNamespace(now_ms=NOW, plan=farm.plan())
    for median, kept in ((NOW, 0), (NOW + 1, 1), (9e12 - 1, 1), (9e12, 0)):
        found = made_forecasts(development, {"c": forecast_of((HATCH, NOW, median, 2e13))})
        assert len(found) == kept
        assert all(one.high_ms == 9_000_000_000_000 for one in found)


@pytest.mark.parametrize(
    ("how", "days_ago", "recent"),
    [
        (Ending.EMERGED, 39.999, True),
        (Ending.EMERGED, 40.0, False),
        (Ending.HARVESTED, 1.0, False),
    ],
)
def test_flies_of_an_ended_cohort_count_for_forty_days(how: Ending, days_ago: float, recent: bool) -> None:
    ended = Ended(NOW - round(days_ago * MS_PER_DAY), how)
    assert development_module._recent(cohort_of(ended=ended), NOW) is recent
    assert development_module._recent(cohort_of(), NOW)


@pytest.mark.parametrize(("days_ago", "teaches"), [(799.999, True), (800.0, False)])
def test_a_cohort_teaches_for_800_days(days_ago: float, teaches: bool) -> None:
    track = SimpleNamespace(start_ms=NOW - round(days_ago * MS_PER_DAY))
    ended = Ended(NOW - MS_PER_DAY, Ending.HARVESTED)
    assert development_module._counts(cohort_of(track=track, ended=ended), NOW) is teaches
    assert development_module._counts(cohort_of(track=track), NOW)


def test_the_temperatures_of_three_weeks_are_read_and_as_far_back_as_a_cohort_lived(farm: Farm) -> None:
    stays = (
        SimpleNamespace(place="bin-1", from_ms=NOW - 30 * MS_PER_DAY),
        SimpleNamespace(place="gone", from_ms=0),
    )
    cohort = cohort_of(track=SimpleNamespace(residences=stays))
    needed = development_module._needed_from_ms([cohort], farm.plan(), NOW)
    assert needed == {
        "room-1": NOW - 21 * MS_PER_DAY,
        "bin-1": NOW - 30 * MS_PER_DAY,
        "bin-2": NOW - 21 * MS_PER_DAY,
    }


@pytest.mark.parametrize(
    ("lead_days", "ago_days", "taken"),
    [
        (3, 3.0, True),
        (3, 2.999, False),
        (3, 4.5, True),
        (3, 4.501, False),
        (14, 21.0, True),
        (14, 21.1, False),
    ],
)
def test_a_past_forecast_counts_from_its_lead_to_half_as_much_again(
    lead_days: int, ago_days: float, taken: bool
) -> None:
    seen = {("c", HATCH): NOW}
    assert bool(supply_module._past([made(HATCH, ago_days)], seen, lead_days)) is taken
    assert supply_module._past([made(PREPUPAE, ago_days)], seen, lead_days) == []
    assert (supply_module.LEADS_DAYS, supply_module.EVENT_LEAD_DAYS, supply_module.SUPPLY_DAYS) == (
        (3, 7, 14),
        7,
        30,
    )


def test_of_several_past_forecasts_the_newest_counts() -> None:
    several = [made(HATCH, 4.0, NOW + 4), made(HATCH, 3.0, NOW + 3), made(HATCH, 3.5, NOW + 5)]
    [found] = supply_module._past(several, {("c", HATCH): NOW}, 3)
    assert (found.median_ms, found.seen_ms) == (NOW + 3, NOW)


# --- the night ---


def test_a_night_is_over_at_its_last_moment(farm: Farm) -> None:
    plan = farm.plan()
    night = night_of(plan, date(2026, 11, 26))
    assert night.end_ms - night.start_ms == 12.5 * MS_PER_HOUR
    assert last_night(plan, night.end_ms) == night
    assert last_night(plan, night.end_ms - 1).date == "2026-11-25"


def test_readings_weigh_by_the_time_between_them() -> None:
    at, value = np.array([0, 10, 20, 100]), np.array([20.0, 30.0, 30.0, 10.0])
    assert time_mean(at, value) == pytest.approx((25 * 10 + 30 * 10 + 20 * 80) / 100)
    assert time_mean(np.array([5]), np.array([21.0])) == 21.0


def test_a_reading_counts_until_the_next_one_and_no_longer_than_a_board_may_be_silent() -> None:
    at = np.array([0, 1, 2, 12]) * MS_PER_MINUTE
    wanted = np.array([True, False, True, True])
    assert minutes_where(at, wanted, 5 * MS_PER_MINUTE) == 6.0
    assert minutes_where(at, wanted, 20 * MS_PER_MINUTE) == 11.0
    assert minutes_where(at[:1], wanted[:1], MS_PER_MINUTE) == 0.0
    assert minutes_where(at[:2], wanted[:2], MS_PER_MINUTE) == 1.0


@pytest.mark.parametrize(
    ("gap_h", "missing_h"), [(0.0, 0.0), (0.24, 0.0), (0.26, 0.3), (2.0, 2.0), (1.0, 1.0)]
)
def test_hours_that_are_missing_are_told_from_a_quarter_on(
    farm: Farm, gap_h: float, missing_h: float
) -> None:
    """Readings each half hour; the first of them come so much after the night began."""
    plan = farm.plan()
    night = night_of(plan, date(2026, 9, 20))
    first = night.start_ms + round(gap_h * MS_PER_HOUR)
    times = [*range(first, night.end_ms, 1_800_000), night.end_ms - 1]
    with farm.store() as store:
        reader = NightReader(store, plan, night, night.end_ms)
        series: Any = SimpleNamespace(at_ms=np.array(times), value=np.full(len(times), 22.0))
        earned = reader._earned(series, 12.0, None, Quantity.AIR_TEMPERATURE)
    assert earned.hours_missing == pytest.approx(missing_h, abs=0.051)
    assert (earned.hours_missing == 0.0) is (missing_h == 0.0)
    hours = (night.end_ms - first) / MS_PER_HOUR
    assert earned.earned == pytest.approx(10.0 * hours / 24, abs=0.001)


@pytest.mark.parametrize(("hole_h", "joined"), [(2.0, True), (2.001, False)])
def test_a_hole_of_two_hours_is_bridged(farm: Farm, hole_h: float, joined: bool) -> None:
    plan = farm.plan()
    night = night_of(plan, date(2026, 9, 20))
    times = [night.start_ms, night.start_ms + round(hole_h * MS_PER_HOUR)]
    with farm.store() as store:
        reader = NightReader(store, plan, night, night.end_ms)
        series: Any = SimpleNamespace(at_ms=np.array(times), value=np.full(2, 22.0))
        earned = reader._earned(series, 12.0, None, Quantity.AIR_TEMPERATURE)
    assert (earned.earned > 0) is joined


@pytest.mark.parametrize(("percent", "condenses"), [(100.0, True), (99.9, False)])
def test_water_condenses_where_air_is_saturated(farm: Farm, percent: float, condenses: bool) -> None:
    plan = farm.plan()
    night = night_of(plan, date(2026, 9, 20))
    times = range(night.start_ms, night.end_ms, 5 * MS_PER_MINUTE)
    put(farm, *(reading(AIR, at_ms, 12.0) for at_ms in times))
    put(farm, *(reading(HUMIDITY, at_ms, percent) for at_ms in times))
    with farm.store() as store:
        places = {one.id: one for one in NightReader(store, plan, night, night.end_ms).summary().places}
    air = places["room-1"].air
    assert air is not None
    assert air.minutes_condensing == (745.0 if condenses else 0.0)


@pytest.mark.parametrize(("left_ms", "over"), [(0, True), (1, False), (-1, True)])
def test_a_night_is_over_when_its_end_has_come(farm: Farm, left_ms: int, over: bool) -> None:
    plan = farm.plan()
    night = night_of(plan, date(2026, 9, 20))
    with farm.store() as store:
        assert NightReader(store, plan, night, night.end_ms - left_ms).summary().over is over


def test_of_a_place_what_matters_is_shown_and_all_where_nothing_that_matters_is_measured(farm: Farm) -> None:
    put(farm, reading(BIN, NOW, 30.0), reading(replace(BIN, quantity="light"), NOW, 5.0))
    put(farm, reading(replace(AIR, quantity="light"), NOW, 5.0))
    with farm.store() as store:
        reader = SiteReader(store, farm.plan(), NOW)
        shown = {name: [one.quantity for one in reader.place(name).mattering] for name in ("bin-1", "room-1")}
    assert shown == {"bin-1": ["substrate_temperature"], "room-1": ["light"]}


@pytest.mark.parametrize(("pause_ms", "told"), [(2 * MS_PER_MINUTE, False), (2 * MS_PER_MINUTE + 1, True)])
def test_a_pause_of_the_service_is_told_when_it_is_longer_than_two_minutes(
    farm: Farm, pause_ms: int, told: bool
) -> None:
    plan = farm.plan()
    night = night_of(plan, date(2026, 9, 20))
    with farm.store() as store:
        store.meta.put("first_started_ms", "1")
        middle = night.start_ms + MS_PER_HOUR
        store.runs.alive(store.runs.start(night.start_ms), middle)
        store.runs.alive(store.runs.start(middle + pause_ms), night.end_ms)
        assert bool(NightReader(store, plan, night, night.end_ms).summary().downtime) is told


@pytest.mark.parametrize(("doubtful", "told"), [(30, True), (29, False)])
def test_a_sensor_that_was_doubtful_for_half_an_hour_is_told(farm: Farm, doubtful: int, told: bool) -> None:
    plan = farm.plan()
    night = night_of(plan, date(2026, 9, 20))
    rows = [
        reading(
            BIN,
            night.start_ms + minute * MS_PER_MINUTE,
            30.0,
            Flag.SUSPECT if minute < doubtful else Flag.PASS,
        )
        for minute in range(120)
    ]
    put(farm, *rows)
    with farm.store() as store:
        boards = NightReader(store, plan, night, night.end_ms)._boards_in_need()
        found = [one for board in boards for one in board.doubtful if one.sensor == BIN]
    assert bool(found) is told


@pytest.mark.parametrize(("lost_ms", "told"), [(MS_PER_HOUR, True), (MS_PER_HOUR - 1, False)])
def test_a_heartbeat_that_is_not_taken_for_an_hour_is_told(tmp_path: Path, lost_ms: int, told: bool) -> None:
    farm = make_farm(tmp_path)
    settings = farm.plan().settings
    messages = settings.messages.model_copy(update={"heartbeat_url": SecretStr("http://h.invalid")})
    plan = build_plan(settings.model_copy(update={"messages": messages}))
    night = last_night(plan, NOW)
    with farm.store() as store:
        store.meta.put("heartbeat_lost_ms", str(NOW - lost_ms))
        assert (NightReader(store, plan, night, NOW)._heartbeat_lost_ms() is not None) is told
