"""Six weeks of a farm as it is written down, added up; put right and undone entries change every sum."""

from __future__ import annotations

from dataclasses import replace

import pytest
from development_builders import FLY
from takings_book import BIN, COHORT, FILL, NOW, PLACE, ZONE, YieldBook

from monitor.yields.assumptions import assumptions_of
from monitor.yields.cohorts import CohortSum, egg_days
from monitor.yields.figures import Lack
from monitor.yields.sums import FarmSums, Wanted, farm_sums

DAY = 24
ASSUMED = replace(assumptions_of(FLY.adult), eggs_per_gram=38_000.0, female_life_days=10.0)


def sums_of(log: YieldBook) -> FarmSums:
    """What the farm yields by its logbook."""
    days = egg_days(log.book().cohorts.values())
    return farm_sums(log.takings(), ZONE, NOW, Wanted(ASSUMED, days))


@pytest.fixture
def log() -> YieldBook:
    """Flies lay, eggs hatch in a tray, larvae grow in a bin, some are sold, some kept, the bin is emptied."""
    log = YieldBook()
    log.write(COHORT, "flies", "start", 0, stage="adult", place="cage-1", animals=2000)
    log.eggs(4 * DAY, 10.0, tray="tray-1")  # entry 2
    log.eggs(6 * DAY, 6.0, use="sold")
    tray = log.takings().eggs[0].into or ""
    log.write(COHORT, tray, "saw", 8 * DAY, event="hatch", percent=70)  # entry 4
    log.write(BIN, "bin-1", "fill", 9 * DAY, **FILL, cohort=tray, larvae=8000)
    log.write(BIN, "bin-1", "feed", 14 * DAY, kg=4.0, moisture=0.6)  # entry 6
    log.write(BIN, "bin-1", "take", 20 * DAY, what="larvae", kg=1.2, use="sold", mean_mg=200)  # entry 7
    log.write(BIN, "bin-1", "take", 21 * DAY, what="larvae", kg=0.1, use="breeding", mean_mg=200)
    log.write(BIN, "bin-1", "empty", 22 * DAY, residue_kg=3.0, residue_moisture=0.5, how="harvested")
    log.write(PLACE, "cage-1", "dead", 15 * DAY, animals=1200)
    return log


def cohort_in(sums: FarmSums, hatched: bool) -> CohortSum:
    """The cohort that hatched here, or that of the flies."""
    return next(each for each in sums.cohorts if (each.cohort != "flies") == hatched)


def test_the_sums_of_what_was_written_down(log: YieldBook) -> None:
    sums = sums_of(log)
    (cage,) = sums.cages
    assert (cage.grams.value, cage.flies.value, cage.dead_flies.value) == (16.0, 2000.0, 1200.0)
    assert cage.eggs_per_female.value == pytest.approx(16.0 * 38_000 / 1000)
    assert cage.hatch.value == pytest.approx(0.7)
    filling = sums.fillings[0]
    assert (filling.feed.value, filling.larvae.value, filling.is_over) == (14.0, pytest.approx(1.3), True)
    assert filling.feed_dry.value == pytest.approx(10.0 * 0.3 + 4.0 * 0.4)
    assert filling.reduction.value == pytest.approx(1.0 - 1.5 / 4.6)
    assert filling.survival.value == pytest.approx(6_500 / 8_000)
    assert filling.days.value == pytest.approx(12.0)
    young = cohort_in(sums, hatched=True)
    assert young.hatch.value == pytest.approx(0.7)
    assert young.kept.value == pytest.approx(500.0)
    assert young.days_from_egg.value == pytest.approx((1.2 * 16 + 0.1 * 17) / 1.3, abs=1.0)
    assert cohort_in(sums, hatched=False).eggs.value == 16.0
    assert sum(each.eggs.value or 0.0 for each in sums.weeks) == 16.0
    assert sum(each.larvae.value or 0.0 for each in sums.weeks) == pytest.approx(1.3)


def test_a_weight_that_was_put_right_changes_every_sum(log: YieldBook) -> None:
    log.correct(2, grams=12.0)
    log.correct(7, kg=2.2)
    log.correct(4, percent=50)
    sums = sums_of(log)
    assert (sums.cages[0].grams.value, sums.cages[0].hatch.value) == (18.0, 0.5)
    assert sums.fillings[0].larvae.value == pytest.approx(2.3)
    assert sum(each.eggs.value or 0.0 for each in sums.months) == 18.0
    assert sum(each.larvae.value or 0.0 for each in sums.months) == pytest.approx(2.3)
    assert cohort_in(sums, hatched=True).larvae.value == pytest.approx(2.3)


def test_an_entry_that_was_undone_is_out_of_every_sum(log: YieldBook) -> None:
    log.undo(7)
    log.undo(6)
    sums = sums_of(log)
    assert (sums.fillings[0].feed.value, sums.fillings[0].larvae.value) == (10.0, pytest.approx(0.1))
    assert sum(each.larvae.value or 0.0 for each in sums.weeks) == pytest.approx(0.1)
    assert cohort_in(sums, hatched=True).larvae.value == pytest.approx(0.1)


def test_what_was_not_weighed_is_said_at_each_figure(log: YieldBook) -> None:
    log.undo(9)
    filling = sums_of(log).fillings[0]
    assert not filling.is_over
    assert filling.reduction.lacks == (Lack.RESIDUE,)
    assert Lack.STILL_FILLED in filling.bioconversion_wet.lacks


def test_the_days_of_eggs_are_known_of_cohorts_whose_age_is() -> None:
    log = YieldBook()
    log.write(COHORT, "bought", "start", 0, stage="larva", place="bin-1", animals=500, age_days=5)
    log.write(COHORT, "caught", "start", 0, stage="larva", place="bin-2", animals=500)
    log.write(COHORT, "laid", "start", 0, stage="egg", place="tray-1", grams=1.0)
    days = egg_days(log.book().cohorts.values())
    assert set(days) >= {"bought", "laid"}
    start_ms = log.book().cohorts["bought"].track.start_ms
    assert days["bought"] == start_ms - 5 * 86_400_000
