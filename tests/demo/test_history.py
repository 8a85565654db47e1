"""The demo's invented past: enough to learn from, nothing ahead of its time, the same each time."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

import pytest

from monitor.demo.history import LARVAE, TRUE_CONSTANTS, USUAL_LARVAE, write_bins, write_history
from monitor.demo.runner import DemoPlan, demo_environment, write_settings
from monitor.demo.takings import AFTER_COLD
from monitor.development.progress import Ending
from monitor.farm.book import book_of
from monitor.farm.cohorts import forecast_view
from monitor.farm.development import develop
from monitor.farm.place_reader import PlaceReader
from monitor.farm.supply import learn_view, supply_view
from monitor.farm.yields import climate_said, yields_now
from monitor.records import MS_PER_DAY, MS_PER_HOUR, LogbookEntry, Stage, SubjectKind
from monitor.settings.loading import load
from monitor.settings.plan import Plan, build_plan
from monitor.store import Store
from monitor.yields.effects import Effect, Verdict
from monitor.yields.exposure import Condition, Made
from monitor.yields.records import EggUse


@dataclass(frozen=True)
class Past:
    """The farm with its past."""

    store: Store
    plan: Plan
    start_ms: int
    entries: tuple[LogbookEntry, ...]


@pytest.fixture(scope="module")
def past(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Past]:
    demo = DemoPlan(tmp_path_factory.mktemp("demo"))
    settings = load(write_settings(demo, 1883), demo_environment(demo.folder))
    write_history(settings, demo.start_ms, demo.seed)
    write_bins(settings, demo.start_ms)
    with Store.read_only(settings.store.path) as store:
        entries = store.logbook.every(SubjectKind.COHORT)
        yield Past(store, build_plan(settings), demo.start_ms, entries)


def test_every_entry_can_be_and_none_is_ahead_of_its_time(past: Past) -> None:
    book = book_of(past.store, past.plan, past.start_ms)

    assert book.refused == ()
    assert all(entry.entered_ms < past.start_ms for entry in past.entries)
    kinds = Counter(entry.kind for entry in past.entries)
    assert min(kinds[kind] for kind in ("start", "move", "split", "saw", "count", "flies", "end")) >= 5
    ended = Counter(cohort.ended.how for cohort in book.cohorts.values() if cohort.ended)
    assert ended[Ending.HARVESTED] >= 12
    assert ended[Ending.EMERGED] >= 3


def test_every_bin_holds_what_its_cohorts_count(past: Past) -> None:
    book = book_of(past.store, past.plan, past.start_ms)
    assert len(book.standing) == 6
    for fill in book.standing:
        there = book.living_in(fill.place, past.start_ms)
        assert [cohort.name for cohort in there] == list(fill.living)
        assert fill.animals == sum(cohort.track.count or 0.0 for cohort in there)
        assert fill.facts.larvae is not None
        assert fill.facts.larvae.count == fill.animals == LARVAE.get(fill.place, USUAL_LARVAE)


def test_running_cohorts_stand_in_every_stage(past: Past) -> None:
    view = forecast_view(past.store, past.plan, past.start_ms)
    assert {cohort.stage for cohort in view.cohorts} == set(Stage)
    assert view.today
    assert view.week
    assert view.ask is not None


def test_the_farm_has_learned_its_own_constants(past: Past) -> None:
    """The truth is known here: `TRUE_CONSTANTS`, and the bands must hold it."""
    view = learn_view(past.store.forecasts.every(), develop(past.store, past.plan, past.start_ms))
    for each in view.feeds[0].constants:
        if each.stage is not Stage.ADULT:
            assert each.cohorts >= 5
            true = TRUE_CONSTANTS[each.stage]
            assert each.own == pytest.approx(true, rel=0.06), each.stage
            assert each.own_high - each.own_low < 0.5 * (each.prior_high - each.prior_low)


def test_past_forecasts_can_be_scored(past: Past) -> None:
    view = learn_view(past.store.forecasts.every(), develop(past.store, past.plan, past.start_ms))
    assert view.scores[7].forecasts >= 20
    assert view.scores[3].mean_absolute_error_days < 2.0
    assert 0.6 <= view.scores[3].held_share <= 1.0


def test_the_cages_have_flies_now(past: Past) -> None:
    view = supply_view(develop(past.store, past.plan, past.start_ms), least=200.0)
    assert [cage.supply.cage for cage in view.cages] == ["cage-1", "cage-2"]
    assert all(cage.supply.days[0].living > 100.0 for cage in view.cages)
    assert any(cage.supply.gap is not None for cage in view.cages)


def test_readings_reach_back_and_end_just_before_the_demo(past: Past) -> None:
    facts = past.store.nodes.every()
    assert len(facts) == 14
    assert all(past.start_ms - 2 * 60_000 <= node.last_heard_ms < past.start_ms for node in facts)
    for sensor in past.store.readings.sensors():
        hours = past.store.summaries.parts(sensor, 0, past.start_ms, 1)
        assert len(hours.start_ms) > 24 * 95
        assert hours.start_ms[-1] >= past.start_ms - 2 * MS_PER_HOUR
        assert past.start_ms - hours.start_ms[0] > 95 * MS_PER_DAY


def _said(store: Store, plan: Plan, now_ms: int) -> dict[tuple[Made, Condition], Effect]:
    development = develop(store, plan, now_ms)
    takings = yields_now(store, plan, development.book, now_ms).takings
    said = climate_said(PlaceReader(store, plan, now_ms), development, takings)
    return {(each.comparison.made, each.comparison.condition): each for each in said.effects}


def test_the_cold_nights_of_the_second_cage_are_found_and_the_cool_tray_is_not_blamed(past: Past) -> None:
    """The truth is known here: `AFTER_COLD` of the eggs are left; nothing goes with the cool tray."""
    found = _said(past.store, past.plan, past.start_ms)
    cold = found[Made.EGGS, Condition.COLD_NIGHTS]
    assert cold.is_said and cold.high < 0.9
    assert min(AFTER_COLD) - 0.1 <= cold.middle <= max(AFTER_COLD) + 0.1
    tray = found[Made.HATCH, Condition.COLD_HOURS]
    assert tray.verdict is not Verdict.TOO_FEW and not tray.is_said
    assert [each.comparison for each in found.values() if each.is_said] == [cold.comparison]


@pytest.mark.slow
def test_without_an_effect_none_is_found(
    tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("monitor.demo.takings.AFTER_COLD", (1.0, 1.0))
    demo = DemoPlan(tmp_path_factory.mktemp("mild"))
    settings = load(write_settings(demo, 1883), demo_environment(demo.folder))
    write_history(settings, demo.start_ms, demo.seed)
    with Store.read_only(settings.store.path) as store:
        found = _said(store, build_plan(settings), demo.start_ms)
    assert found[Made.EGGS, Condition.COLD_NIGHTS].verdict is not Verdict.TOO_FEW
    assert not any(each.is_said for each in found.values())


def test_the_past_has_all_that_is_taken_and_given(past: Past) -> None:
    takings = yields_now(
        past.store, past.plan, book_of(past.store, past.plan, past.start_ms), past.start_ms
    ).takings
    least = {"eggs": 100, "hatches": 20, "feed": 30, "larvae_out": 12, "residues": 12, "flies": 100}
    there = {name: len(getattr(takings, name)) for name in least}
    assert {name: count for name, count in there.items() if count < least[name]} == {}
    assert {each.use for each in takings.eggs} == set(EggUse)
    assert len(past.store.logbook.every()) < 700, "a demo that many times over starts slowly"
    assert all(0.0 < (each.kg or 0.0) < 2.0 for each in takings.larvae_out)
