"""What is kept equals what is worked out afresh, bit by bit, whatever people enter, undo and correct."""

from __future__ import annotations

from pathlib import Path
from random import Random
from types import SimpleNamespace
from typing import Any

import pytest
from kept_farm import MOISTER, RandomPerson, beginning, cohort, differences, fill_weeks, kept_plan, of_bin
from kept_farm import NOW_MS as BEGIN_MS

from monitor.development import courses
from monitor.development.kept import Kept
from monitor.farm import bins as farm_bins
from monitor.farm.bins import BinsView, bin_view
from monitor.farm.book import book_of
from monitor.farm.forecast_cache import CachedForecast, CohortsAhead, ForecastCache
from monitor.farm.place_reader import PlaceReader
from monitor.logbook.replay import Replayed
from monitor.records import MS_PER_HOUR, MS_PER_MINUTE, MS_PER_SECOND, Calibration
from monitor.store import Store

STEPS = 20
SEEDS = pytest.mark.parametrize(
    "seed", [0, *(pytest.param(seed, marks=pytest.mark.study) for seed in range(1, 9))]
)


class Farm:
    """A farm whose answers are kept; what happens in the background happens at once, before the next look."""

    def __init__(self, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        self.folder = folder
        self.plan, self.now_ms = kept_plan(folder), BEGIN_MS
        self.store = Store.open(self.plan.settings.store.path)
        fill_weeks(self.store, self.plan)
        self.store.logbook.add_all(beginning())
        self.kept = ForecastCache()
        monkeypatch.setattr(CachedForecast, "_renew", CachedForecast._renewed)

    def opening(self) -> Store:
        return Store.read_only(self.plan.settings.store.path)

    def bins(self) -> BinsView:
        return self.kept.bins(self.store, self.plan, self.now_ms, self.opening)

    def cohorts(self) -> CohortsAhead:
        return self.kept.cohorts(self.store, self.plan, self.now_ms, self.opening)


def check_bins(farm: Farm, found: BinsView) -> list[str]:
    """How the kept bins differ from those worked out afresh, each for its own moment."""
    book = book_of(farm.store, farm.plan, farm.now_ms)
    fills = {fill.place: fill for fill in book.standing}
    assert {view.place for view in found.bins} == fills.keys()
    assert found.now_ms == min((view.now_ms for view in found.bins), default=found.now_ms)
    wrong = []
    for view in found.bins:
        assert not view.failed
        assert -5 * MS_PER_MINUTE < farm.now_ms - view.now_ms < 10 * MS_PER_MINUTE
        reader = PlaceReader(farm.store, farm.plan, view.now_ms)
        fresh = bin_view(farm.store, farm.plan, reader, fills[view.place])
        wrong += differences(view, fresh, view.place)
    return wrong + differences(
        found.refused, tuple(each for each in book.refused if each.entry.subject_kind == "bin")
    )


def check_cohorts(farm: Farm, found: CohortsAhead) -> list[str]:
    """How the kept cohorts, cages and learning differ from those worked out afresh for the same moment."""
    record_ms = found.as_of_ms
    assert -MS_PER_HOUR < farm.now_ms - record_ms < 2 * MS_PER_HOUR
    nothing_kept: Any = SimpleNamespace(_development=SimpleNamespace(record_ms=record_ms, kept=Kept()))
    fresh = CohortsAhead(farm.store, farm.plan, found.forecast.now_ms, nothing_kept)
    parts = ("forecast", "supply", "learned")
    return [line for part in parts for line in differences(getattr(found, part), getattr(fresh, part), part)]


def something_happens(farm: Farm, person: RandomPerson) -> None:
    """An entry or several, a calibration, other settings; the clock goes on, rarely back."""
    random = person.random
    what = random.randrange(12)
    if what < 8:
        farm.store.logbook.add(person.entry(farm.store, farm.now_ms))
    elif what == 8:
        # An import: several at once, by another process.
        with Store.open(farm.plan.settings.store.path) as other:
            other.logbook.add_all([person.entry(farm.store, farm.now_ms - 5 * MS_PER_MINUTE)] * 1)
            other.logbook.add_all(of_bin("bin-2", "water", farm.now_ms - n, kg=0.1) for n in range(3))
    elif what == 9:
        sensor = random.choice(farm.store.readings.sensors())
        farm.store.calibrations.add(Calibration(sensor, BEGIN_MS - MS_PER_HOUR, 1.0, random.random(), "", 0))
    elif what == 10:
        farm.plan = kept_plan(farm.folder, random.choice(("", MOISTER)))
    farm.now_ms += random.choice((1, 1, 20, 20, 200, 2000)) * MS_PER_SECOND - (random.random() < 0.1) * 90_000


@SEEDS
def test_bins_that_are_kept_are_as_worked_out_afresh(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, seed: int
) -> None:
    farm, person = Farm(tmp_path, monkeypatch), RandomPerson(Random(seed))
    for step in range(STEPS):
        something_happens(farm, person)
        # Other settings are taken over behind the back of the first look.
        farm.bins()
        if any(entry.at_ms > farm.now_ms for entry in farm.store.logbook.every()):
            # The clock was put back: such an entry counts as made just before now, whenever that is.
            continue
        assert check_bins(farm, farm.bins()) == [], step
    farm.store.close()


@SEEDS
def test_a_logbook_that_is_read_on_is_as_read_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, seed: int
) -> None:
    monkeypatch.setattr("monitor.logbook.replay.MARKS_BACK", (1, 3, 8))
    farm, person, went_on = Farm(tmp_path, monkeypatch), RandomPerson(Random(200 + seed)), 0
    mark_for = Replayed.mark_for

    def counted(*given: Any) -> Any:
        nonlocal went_on
        mark = mark_for(*given)
        went_on += mark is not None
        return mark

    monkeypatch.setattr(Replayed, "mark_for", counted)
    for step in range(8 * STEPS):
        something_happens(farm, person)
        found = farm.kept.book_of(farm.store, farm.plan, farm.now_ms)
        assert differences(found, book_of(farm.store, farm.plan, farm.now_ms)) == [], step
    assert went_on > 4 * STEPS, "most of it is not replayed again"
    farm.store.close()


@SEEDS
def test_cohorts_that_are_kept_are_as_worked_out_afresh(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, seed: int
) -> None:
    monkeypatch.setattr("monitor.farm.forecast_cache.DRAWS", 40)
    farm, person = Farm(tmp_path, monkeypatch), RandomPerson(Random(100 + seed))
    for step in range(STEPS):
        something_happens(farm, person)
        farm.cohorts()
        assert check_cohorts(farm, farm.cohorts()) == [], step
    farm.store.close()


def test_an_entry_about_one_bin_works_out_that_bin_alone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    farm = Farm(tmp_path, monkeypatch)
    farm.bins()
    made: list[str] = []

    def counted(*given: Any) -> Any:
        made.append(given[3].place)
        return bin_view(*given)

    monkeypatch.setattr(farm_bins, "bin_view", counted)
    farm.now_ms += 1000
    farm.store.logbook.add(of_bin("bin-2", "water", farm.now_ms, kg=0.5))
    view = farm.bins()
    assert made == ["bin-2"]
    assert view.now_ms == BEGIN_MS, "the others are as of before"
    assert (mine := view.of("bin-2")) is not None and mine.now_ms == farm.now_ms


def test_an_entry_about_one_cohort_works_out_that_cohort_alone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    farm = Farm(tmp_path, monkeypatch)
    ahead = farm.cohorts()
    assert ahead.supply.cages
    made: list[str] = []
    course_of = courses._course

    def counted(case: Any, *given: Any) -> Any:
        made.append(case.track.cohort)
        return course_of(case, *given)

    monkeypatch.setattr(courses, "_course", counted)
    farm.now_ms += 1000
    farm.store.logbook.add(cohort("c-4", "count", farm.now_ms, animals=900.0, stage="larva"))
    assert farm.cohorts().supply.cages != ahead.supply.cages, "it has fewer animals now"
    assert {name for name in made if not name.startswith("new ")} == {"c-4"}
