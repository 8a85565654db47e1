"""Forecasts that are kept: made once, renewed for a new entry, in the background for mere time."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from sqlite3 import ProgrammingError

import pytest
from logbook_farm import about_bin, about_cohort
from page_farm import MORNING, NOW_MS, wait_for

from monitor.demo.runner import DemoPlan, demo_environment, demo_settings
from monitor.farm.forecast_cache import (
    CachedForecast,
    ForecastCache,
    _c_library_does,
    give_back_memory,
    let_rest,
)
from monitor.records import MS_PER_HOUR, SubjectKind
from monitor.settings.loading import load
from monitor.settings.plan import Plan, build_plan
from monitor.store import Store


@pytest.fixture
def plan(tmp_path: Path) -> Plan:
    path = tmp_path / "farm.toml"
    path.write_text(demo_settings(DemoPlan(tmp_path, start=MORNING), 1883), encoding="utf-8")
    return build_plan(load(path, demo_environment(tmp_path)))


@pytest.fixture
def store(plan: Plan) -> Iterator[Store]:
    with Store.open(plan.settings.store.path) as opened:
        yield opened


class Counted:
    """Work that says how often it was done, and for which moment."""

    def __init__(self) -> None:
        self.moments: list[int] = []

    def __call__(self, _store: Store, _plan: Plan, now_ms: int) -> int:
        self.moments.append(now_ms)
        return len(self.moments)


def test_an_answer_is_made_once(plan: Plan, store: Store) -> None:
    work = Counted()
    cached = CachedForecast(SubjectKind.BIN, work, MS_PER_HOUR)
    assert [cached.answer(store, plan, NOW_MS + each, lambda: store) for each in range(5)] == [1] * 5
    assert work.moments == [NOW_MS]


def test_an_entry_that_may_change_it_makes_it_anew_and_another_does_not(plan: Plan, store: Store) -> None:
    bins, cohorts = (
        CachedForecast(about, Counted(), MS_PER_HOUR) for about in (SubjectKind.BIN, SubjectKind.COHORT)
    )

    def made() -> tuple[int, int]:
        return tuple(each.answer(store, plan, NOW_MS, lambda: store) for each in (bins, cohorts))  # type: ignore[return-value]

    assert made() == (1, 1)
    store.logbook.add(about_cohort("eggs-1", "start", 1.0))
    assert made() == (2, 2)
    store.logbook.add(about_bin("bin-1", "stir", NOW_MS))
    assert made() == (3, 2), "stirring moves no animals"
    store.logbook.add(about_bin("bin-1", "larvae", NOW_MS))
    assert made() == (4, 3)
    store.logbook.add(replace(about_bin("bin-1", "empty", NOW_MS), subject_kind=SubjectKind.PLACE))
    assert made() == (4, 3), "the word of a person about a place"


def test_what_nobody_looked_at_for_long_is_made_anew_at_once(plan: Plan, store: Store) -> None:
    cached = CachedForecast(SubjectKind.BIN, Counted(), MS_PER_HOUR)
    cached.answer(store, plan, NOW_MS, lambda: store)
    assert cached.answer(store, plan, NOW_MS + 2 * MS_PER_HOUR, lambda: store) == 2
    assert cached.answer(store, plan, NOW_MS - 8 * MS_PER_HOUR, lambda: store) == 3, "the clock was put back"


def test_other_settings_make_it_anew_behind_the_back(plan: Plan, store: Store) -> None:
    cached, other = CachedForecast(SubjectKind.BIN, Counted(), MS_PER_HOUR), build_plan(plan.settings)

    def opening() -> Store:
        return Store.read_only(plan.settings.store.path)

    cached.answer(store, plan, NOW_MS, opening)
    assert cached.answer(store, other, NOW_MS, opening) == 1
    assert wait_for(lambda: cached.answer(store, other, NOW_MS, opening) == 2)


def test_time_alone_makes_it_anew_behind_the_back(plan: Plan, store: Store) -> None:
    cached = CachedForecast(SubjectKind.BIN, Counted(), MS_PER_HOUR)

    def opening() -> Store:
        return Store.read_only(plan.settings.store.path)

    cached.answer(store, plan, NOW_MS, opening)
    assert cached.answer(store, plan, NOW_MS + MS_PER_HOUR, opening) == 1, "nobody waits for it"
    assert wait_for(lambda: cached.answer(store, plan, NOW_MS + MS_PER_HOUR, opening) == 2)


@pytest.mark.usefixtures("store")
def test_many_who_ask_at_once_wait_for_one_answer(plan: Plan) -> None:
    work, go = Counted(), threading.Event()

    def slow(store: Store, plan: Plan, now_ms: int) -> int:
        go.wait(5.0)
        return work(store, plan, now_ms)

    cached = CachedForecast(SubjectKind.BIN, slow, MS_PER_HOUR)
    found: list[int] = []

    def ask() -> None:
        with Store.read_only(plan.settings.store.path) as own:
            found.append(cached.answer(own, plan, NOW_MS, lambda: own))

    threads = [threading.Thread(target=ask) for _ in range(6)]
    for thread in threads:
        thread.start()
    go.set()
    for thread in threads:
        thread.join(10.0)
    assert found == [1] * 6
    assert len(work.moments) == 1


def test_memory_is_given_back_after_a_renewal(
    plan: Plan, store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    given: list[str] = []
    monkeypatch.setattr("monitor.farm.forecast_cache._c_library_does", lambda name, *_: given.append(name))
    cached = CachedForecast(SubjectKind.BIN, Counted(), MS_PER_HOUR)
    cached._renewed(plan, NOW_MS, lambda: Store.read_only(store.path))
    assert given == ["malloc_trim"]


def test_a_c_library_without_such_a_thing_is_no_error() -> None:
    give_back_memory()
    _c_library_does("no_such_function", 1)


def test_answers_are_made_ready_before_anybody_looks_where_the_logbook_has_entries(
    plan: Plan, store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    looked: list[str] = []
    opened: list[Store] = []

    def opening() -> Store:
        opened.append(Store.read_only(plan.settings.store.path))
        return opened[-1]

    kept = ForecastCache()
    monkeypatch.setattr(kept, "_bins", Counting(looked, "bins"))
    monkeypatch.setattr(kept, "_cohorts", Counting(looked, "cohorts"))
    monkeypatch.setattr(kept, "_ahead", Counting(looked, "yields"))
    monkeypatch.setattr(kept, "_climate", Counting(looked, "climate"))
    kept.make_ready(plan, NOW_MS, opening)
    assert looked == []
    store.logbook.add(about_bin("bin-1", "fill", NOW_MS - MS_PER_HOUR, kg=5.0))
    kept.make_ready(plan, NOW_MS, opening)
    assert looked == ["bins", "cohorts", "cohorts completed", "yields", "climate"]
    for each in opened:
        with pytest.raises(ProgrammingError):
            each.logbook.newest_id()


class Counting:
    """Stands for the answers of one kind."""

    def __init__(self, looked: list[str], name: str) -> None:
        self._looked, self._name = looked, name

    def answer(self, *_: object) -> Counting:
        self._looked.append(self._name)
        return self

    at_hand = answer

    def complete(self) -> None:
        self._looked.append(f"{self._name} completed")


def test_what_is_there_once_is_passed_over_by_the_search_for_garbage(monkeypatch: pytest.MonkeyPatch) -> None:
    done: list[str] = []
    monkeypatch.setattr("monitor.farm.forecast_cache.gc.get_freeze_count", lambda: len(done))
    monkeypatch.setattr("monitor.farm.forecast_cache.gc.collect", lambda: done.append("collect"))
    monkeypatch.setattr("monitor.farm.forecast_cache.gc.freeze", lambda: done.append("freeze"))
    let_rest()
    let_rest()
    assert done == ["collect", "freeze"]
