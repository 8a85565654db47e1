"""What a farm took and gave, out of its logbook: each thing once, the corrected as it is right."""

from __future__ import annotations

import pytest
from takings_book import BIN, CAGES, COHORT, CONTEXT, FILL, NOW, PLACE, T0, YieldBook, without_numbers

from monitor.errors import UsageError
from monitor.logbook.replay import farm_book
from monitor.logbook.takings import takings_of
from monitor.records import MS_PER_DAY, MS_PER_HOUR
from monitor.yields.records import EggUse, LarvaeUse


@pytest.fixture
def log() -> YieldBook:
    return YieldBook()


def test_an_empty_logbook_took_nothing() -> None:
    takings = takings_of((), farm_book((), CONTEXT, NOW), CAGES)
    assert list(takings.all()) == []


def test_eggs_of_a_cage_are_taken_as_they_were_written(log: YieldBook) -> None:
    log.write(COHORT, "flies-1", "start", 0, stage="adult", place="cage-1", animals=4000)
    number = log.eggs(48, 12.4, strips=3, clutches=20, use="sold")
    (eggs,) = log.takings().eggs
    assert (eggs.place, eggs.at_ms, eggs.grams) == ("cage-1", T0 + 48 * MS_PER_HOUR, 12.4)
    assert (eggs.strips, eggs.clutches, eggs.use, eggs.tray) == (3, 20, EggUse.SOLD, None)
    assert (eggs.cohort, eggs.into, eggs.entry_id) == ("flies-1", None, number)


def test_eggs_that_are_set_to_hatch_begin_a_cohort_and_are_counted_once(log: YieldBook) -> None:
    log.eggs(48, 12.0, tray="tray-1")
    (eggs,) = log.takings().eggs
    (cohort,) = log.book().living
    assert (eggs.use, eggs.tray, eggs.into) == (EggUse.HATCH, "tray-1", cohort.name)
    assert cohort.name == "tray-1-2026-09-23" and cohort.place_at(NOW) == "tray-1"
    assert cohort.track.count == pytest.approx(12.0 * (CONTEXT.cohorts.eggs_per_gram or 0.0))
    assert eggs.grams == 12.0 and len(list(log.takings().all())) == 1


def test_eggs_of_a_second_cage_on_the_same_day_join_the_cohort_in_the_tray(log: YieldBook) -> None:
    log.eggs(48, 12.0, tray="tray-1")
    log.eggs(49, 6.0, "cage-2", tray="tray-1")
    (cohort,) = log.book().living
    assert cohort.track.count == pytest.approx(18.0 * (CONTEXT.cohorts.eggs_per_gram or 0.0))
    log.eggs(49, 5.0, "cage-2", tray="tray-2")
    log.eggs(73, 7.0, tray="tray-1")
    assert [each.name for each in log.book().living] == [
        "tray-1-2026-09-23",
        "tray-2-2026-09-23",
        "tray-1-2026-09-24",
    ]
    assert [each.grams for each in log.takings().eggs] == [12.0, 6.0, 5.0, 7.0]


def test_eggs_can_be_added_to_a_cohort_by_name_within_days(log: YieldBook) -> None:
    log.write(COHORT, "e1", "start", 24, stage="egg", place="tray-1", grams=5.0)
    log.eggs(48, 5.0, cohort="e1")
    (cohort,) = log.book().living
    assert cohort.track.count == pytest.approx(10.0 * (CONTEXT.cohorts.eggs_per_gram or 0.0))
    assert [each.grams for each in log.takings().eggs] == [5.0], "those of the start were not collected here"
    with pytest.raises(UsageError, match="days apart"):
        log.eggs(24 * 8, 5.0, cohort="e1")


def test_eggs_are_not_added_to_larvae(log: YieldBook) -> None:
    log.write(COHORT, "l1", "start", 24, stage="larva", place="bin-1", animals=5000)
    with pytest.raises(UsageError, match="no eggs are added"):
        log.eggs(48, 5.0, cohort="l1")


def test_eggs_come_out_of_a_cage_alone(log: YieldBook) -> None:
    with pytest.raises(UsageError, match="no love cage; allowed: cage-1, cage-2"):
        log.eggs(48, 5.0, "bin-1")


@pytest.mark.parametrize("first", [1, 2])
def test_withdrawn_eggs_take_no_other_eggs_with_them(log: YieldBook, first: int) -> None:
    log.eggs(48, 12.0, tray="tray-1")
    log.eggs(49, 6.0, "cage-2", tray="tray-1")
    log.undo(first)
    (eggs,), (cohort,) = log.takings().eggs, log.book().living
    assert eggs.grams == (6.0 if first == 1 else 12.0)
    assert cohort.name == "tray-1-2026-09-23" == eggs.into
    assert cohort.track.count == pytest.approx(eggs.grams * (CONTEXT.cohorts.eggs_per_gram or 0.0))
    assert log.book().refused == ()


def test_sold_after_all_the_cohort_is_gone_and_set_to_hatch_after_all_it_is_there(log: YieldBook) -> None:
    number = log.eggs(48, 12.0, tray="tray-1")
    number = log.correct(number, use="sold")
    assert log.book().cohorts == {} and log.takings().eggs[0].tray is None
    log.correct(number, use=None, tray="tray-2")
    (cohort,) = log.book().living
    assert cohort.place_at(NOW) == "tray-2" and log.takings().eggs[0].use is EggUse.HATCH


def test_old_entries_of_eggs_count_for_the_cage_of_their_flies(log: YieldBook) -> None:
    log.write(COHORT, "p1", "start", 0, stage="pupa", place="box-1", animals=1500, cage="cage-2")
    log.write(COHORT, "p1", "flies", 24 * 10, flies=900, female_percent=52)
    log.write(COHORT, "p1", "eggs", 24 * 15, grams=6.5)
    takings = log.takings()
    assert [(each.place, each.cohort, each.grams) for each in takings.eggs] == [("cage-2", "p1", 6.5)]
    assert [(each.place, each.count, each.female_share) for each in takings.flies] == [("cage-2", 900, 0.52)]


def test_flies_that_were_counted_at_the_end_alone_count_when_half_were_out(log: YieldBook) -> None:
    log.write(COHORT, "p1", "start", 0, stage="pupa", place="box-1", cage="cage-1", through_percent=50)
    log.write(COHORT, "p1", "saw", 24 * 8, event="half_emerged")
    log.write(COHORT, "p1", "end", 24 * 20, how="emerged", animals=700)
    (flies,) = log.takings().flies
    assert (flies.place, flies.count, flies.at_ms) == ("cage-1", 700, T0 + 8 * MS_PER_DAY)


def test_a_hatch_is_a_share_or_a_weight_and_the_last_count_stands(log: YieldBook) -> None:
    log.eggs(0, 10.0, tray="tray-1")
    name = log.book().living[0].name
    log.write(COHORT, name, "saw", 80, event="hatch")
    assert log.takings().hatches == ()
    log.write(COHORT, name, "saw", 90, event="hatch", percent=60)
    log.write(COHORT, name, "saw", 110, event="hatch", percent=85)
    log.write(COHORT, name, "saw", 111, event="hatch", young_grams=3.2)
    log.write(COHORT, name, "saw", 120, event="hatch", young_grams=1.1)
    hatches = log.takings().hatches
    assert [(each.share, each.young_grams) for each in hatches] == [(0.85, None), (None, 3.2), (None, 1.1)]
    assert {each.place for each in hatches} == {"tray-1"} and {each.cohort for each in hatches} == {name}
    (seen,) = log.book().cohorts[name].seen
    assert seen.at_ms == T0 + 80 * MS_PER_HOUR, "a later count is no later hatch"
    with pytest.raises(UsageError, match="entered already"):
        log.write(COHORT, name, "saw", 130, event="hatch")
    with pytest.raises(UsageError, match="of `hatch` alone"):
        log.write(COHORT, name, "saw", 330, event="first_prepupae", percent=3)


def test_a_bin_takes_feed_and_larvae_and_gives_larvae_prepupae_and_residue(log: YieldBook) -> None:
    log.write(BIN, "bin-1", "fill", 0, **FILL, larvae=10_000, age_days=5)
    log.write(BIN, "bin-1", "feed", 48, kg=2.0, moisture=0.6, feed="brewery grain")
    log.write(BIN, "bin-1", "take", 96, kg=0.5, what="larvae", use="breeding", mean_mg=180)
    log.write(BIN, "bin-1", "take", 100, animals=300, what="prepupae")
    log.write(BIN, "bin-1", "take", 101, kg=0.2, what="prepupae")
    log.write(BIN, "bin-1", "take", 102, kg=1.0, what="residue", moisture=0.45)
    empty = {"how": "harvested", "grams": 1400, "use": "feed", "residue_kg": 3.5, "residue_moisture": 0.4}
    log.write(BIN, "bin-1", "empty", 110, **empty)
    takings, (name,) = log.takings(), log.book().cohorts
    assert [(e.kg, e.moisture, e.feed) for e in takings.feed] == [
        (10.0, 0.7, "wheat_bran"),
        (2.0, 0.6, "brewery grain"),
    ]
    assert [(e.count, e.cohort) for e in takings.larvae_in] == [(10_000, name)]
    assert [(e.kg, e.use, e.mean_mg) for e in takings.larvae_out] == [
        (0.5, LarvaeUse.BREEDING, 180),
        (1.4, LarvaeUse.FEED, None),
    ]
    assert [(e.kg, e.count) for e in takings.prepupae] == [(None, 300), (0.2, None)]
    assert [(e.kg, e.moisture) for e in takings.residues] == [(1.0, 0.45), (3.5, 0.4)]
    fillings = (
        *(each.filling_ms for each in takings.feed),
        *(each.filling_ms for each in takings.larvae_in),
        *(each.filling_ms for each in takings.larvae_out),
        *(each.filling_ms for each in takings.residues),
    )
    assert set(fillings) == {T0}
    assert {each.cohort for each in takings.all()} == {name}


def test_prepupae_that_leave_are_fewer_in_the_bin_and_as_heavy_as_they_were(log: YieldBook) -> None:
    log.write(BIN, "bin-1", "fill", 0, **FILL, larvae=1000, age_days=14)
    log.write(BIN, "bin-1", "take", 48, animals=400, what="prepupae")
    (cohort,) = log.book().living
    assert cohort.track.count == pytest.approx(600)


def test_the_mean_mass_of_a_sample_says_how_many_larvae_left(log: YieldBook) -> None:
    log.write(BIN, "bin-1", "fill", 0, **FILL, larvae=10_000, age_days=6)
    log.write(BIN, "bin-1", "take", 96, kg=0.6, what="larvae", mean_mg=150)
    (cohort,) = log.book().living
    assert cohort.track.count == pytest.approx(6000)


def test_old_harvests_count_once(log: YieldBook) -> None:
    log.write(BIN, "bin-1", "fill", 0, **FILL, larvae=10_000, age_days=5)
    (name,) = log.book().cohorts
    log.write(BIN, "bin-1", "take", 96, kg=1.5, what="larvae")
    log.write(COHORT, name, "end", 98, how="sold", grams=1500)
    assert [each.kg for each in log.takings().larvae_out] == [1.5]
    log.undo(2)
    assert [(each.kg, each.use) for each in log.takings().larvae_out] == [(1.5, LarvaeUse.SOLD)]


def test_what_a_cohort_gave_at_its_end_is_more_where_the_weights_differ_or_days_lie_between(
    log: YieldBook,
) -> None:
    log.write(COHORT, "l1", "start", 0, stage="larva", place="bin-2", animals=5000)
    log.write(BIN, "bin-2", "fill", 1, **FILL)
    log.write(BIN, "bin-2", "take", 96, kg=0.5, what="larvae")
    log.write(COHORT, "l1", "end", 98, how="harvested", grams=700)
    assert [each.kg for each in log.takings().larvae_out] == [0.5, 0.7]
    log.correct(4, grams=500)
    assert [each.kg for each in log.takings().larvae_out] == [0.5]


@pytest.mark.parametrize("how", ["lost", "emerged"])
def test_what_was_lost_or_flew_off_is_no_harvest(log: YieldBook, how: str) -> None:
    log.write(BIN, "bin-1", "fill", 0, **FILL, larvae=10_000, age_days=5)
    log.write(BIN, "bin-1", "empty", 96, how=how, grams=700)
    assert log.takings().larvae_out == ()


def test_larvae_that_were_moved_in_and_counted_there_are_counted_once(log: YieldBook) -> None:
    log.write(COHORT, "l1", "start", 0, stage="larva", place="tray-1", animals=5000)
    log.write(BIN, "bin-1", "fill", 1, **FILL)
    log.write(COHORT, "l1", "move", 24, place="bin-1")
    log.write(BIN, "bin-1", "larvae", 30, larvae=4000, cohort="l1")
    log.write(COHORT, "l2", "start", 31, stage="larva", place="bin-1", animals=100)
    counts = [(each.cohort, each.count, each.at_ms) for each in log.takings().larvae_in]
    assert counts == [
        ("l1", 4000, T0 + 24 * MS_PER_HOUR),
        ("l2", 100, T0 + 31 * MS_PER_HOUR),
    ]


def test_of_eggs_nobody_knows_how_many_larvae_they_become(log: YieldBook) -> None:
    log.write(BIN, "tray-1", "fill", 0, kg=1.0, moisture=0.7, surface_m2=0.1)
    log.eggs(24, 10.0, tray="tray-1")
    (arrived,) = log.takings().larvae_in
    assert arrived.count is None


def test_dead_flies_are_counted_or_weighed(log: YieldBook) -> None:
    log.write(PLACE, "cage-1", "dead", 10, animals=350)
    log.write(PLACE, "cage-1", "dead", 34, grams=12.0)
    assert [(each.count, each.grams) for each in log.takings().dead_flies] == [(350, None), (None, 12.0)]
    with pytest.raises(UsageError, match="or their weight in grams"):
        log.write(PLACE, "cage-1", "dead", 35)


def test_a_refused_entry_and_a_corrected_one_do_not_count(log: YieldBook) -> None:
    number = log.eggs(48, 400.0)
    log.correct(number, grams=40.0)
    assert [each.grams for each in log.takings().eggs] == [40.0]
    assert without_numbers(log.takings()).eggs[0].entry_id is None
