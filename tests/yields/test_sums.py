"""Sums of a farm: what is missing stays missing, entries count once, and every span adds up to the whole."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import fields, replace
from datetime import UTC, datetime, timedelta, tzinfo
from zoneinfo import ZoneInfo

import pytest
from development_builders import FLY
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.yields.assumptions import Assumptions, assumptions_of
from monitor.yields.definitions import Basis
from monitor.yields.figures import Figure, Lack
from monitor.yields.fillings import FillingSum
from monitor.yields.money import Prices
from monitor.yields.records import (
    DeadFlies,
    EggsCollected,
    EggUse,
    FeedGiven,
    FliesPutIn,
    HatchSeen,
    LarvaeIn,
    LarvaeOut,
    LarvaeUse,
    PrepupaeOut,
    Residue,
    Takings,
)
from monitor.yields.sums import FarmSums, PeriodSum, Wanted, farm_sums

DAY = 86_400_000
START_MS = round(datetime(2026, 3, 2, 8, tzinfo=UTC).timestamp() * 1000)  # a Monday
NOW_MS = START_MS + 30 * DAY
ASSUMED = Assumptions(38_000.0, 0.5, 0.07, 9.6, larva_dry_share=0.31)


def day(number: float) -> int:
    """The morning of a day of the month that is told here."""
    return START_MS + round(number * DAY)


FEED = FeedGiven(at_ms=day(0), place="bin-1", filling_ms=day(0), kg=6.0, moisture=0.7)
MORE_FEED = FeedGiven(at_ms=day(3), place="bin-1", filling_ms=day(0), kg=2.0, moisture=0.6)
PUT_IN = LarvaeIn(at_ms=day(0), place="bin-1", filling_ms=day(0), count=10_000.0, kg=0.05, cohort="mar-1")
OUT = LarvaeOut(
    at_ms=day(10),
    place="bin-1",
    filling_ms=day(0),
    kg=2.05,
    mean_mg=200.0,
    use=LarvaeUse.SOLD,
    cohort="mar-1",
)
RESIDUE = Residue(at_ms=day(10), place="bin-1", filling_ms=day(0), kg=2.0, moisture=0.5)
WHOLE = Takings(feed=(FEED, MORE_FEED), larvae_in=(PUT_IN,), larvae_out=(OUT,), residues=(RESIDUE,))


def sums_of(takings: Takings, wanted: Wanted | None = None, zone: tzinfo = UTC) -> FarmSums:
    """The sums of a farm at the end of the month."""
    return farm_sums(takings, zone, NOW_MS, wanted or Wanted(ASSUMED))


def filling(takings: Takings) -> FillingSum:
    """The only filling."""
    (one,) = sums_of(takings).fillings
    return one


def test_a_filling_of_which_all_was_weighed() -> None:
    one = filling(WHOLE)
    assert (one.place, one.cohort, one.is_over, one.ends_ms) == ("bin-1", "mar-1", True, day(10))
    assert one.feed == Figure(8.0, 2)
    assert one.feed_dry.value == pytest.approx(6 * 0.3 + 2 * 0.4)
    assert (one.bioconversion_wet.value, one.bioconversion_wet.entries) == (pytest.approx(2.0 / 8.0), 4)
    assert one.bioconversion_wet.basis is Basis.WET
    assert one.conversion_wet.value == pytest.approx(4.0)
    gain_dry = 2.05 * 0.31 - 0.05 * 0.27
    assert one.bioconversion_dry.value == pytest.approx(gain_dry / 2.6)
    assert one.conversion_dry.value == pytest.approx(2.6 / gain_dry)
    assert (one.conversion_dry_fresh.value, one.conversion_dry_fresh.basis) == (
        pytest.approx(1.3),
        Basis.DRY_FRESH,
    )
    assert one.reduction.value == pytest.approx(1.6 / 2.6)
    assert one.index.value == pytest.approx(10 * 1.6 / 2.6)
    assert one.efficiency.value == pytest.approx(gain_dry / 1.6)
    assert one.survival.value == pytest.approx(1.025)
    assert one.growth_rate.value == pytest.approx(100 * math.log(200.0 / 5.0) / 10)
    assert one.days == Figure(10.0, 1)
    assert one.reduction.lacks == one.bioconversion_wet.lacks == ()
    assert one.bioconversion_dry.lacks == (Lack.LARVA_DRY_SHARE,)


def test_what_was_sampled_or_assumed_has_a_spread_and_what_was_weighed_has_none() -> None:
    one = filling(WHOLE)
    assert one.bioconversion_wet.sd is None
    assert one.survival.sd == pytest.approx(1.025 * 0.07)
    for sampled in (one.bioconversion_dry, one.reduction, one.index, one.efficiency, one.growth_rate):
        assert sampled.sd is not None
        assert 0.0 < sampled.sd < 0.3 * (sampled.value or 0.0)


@pytest.mark.parametrize(
    ("changed", "figure", "lack"),
    [
        ({"residues": ()}, "reduction", Lack.RESIDUE),
        ({"residues": ()}, "index", Lack.RESIDUE),
        ({"residues": ()}, "efficiency", Lack.RESIDUE),
        ({"residues": (replace(RESIDUE, moisture=None),)}, "reduction", Lack.RESIDUE_MOISTURE),
        ({"feed": (FEED, replace(MORE_FEED, moisture=None))}, "reduction", Lack.FEED_MOISTURE),
        ({"feed": (FEED, replace(MORE_FEED, moisture=None))}, "bioconversion_dry", Lack.FEED_MOISTURE),
        ({"feed": (FEED, replace(MORE_FEED, moisture=None))}, "conversion_dry_fresh", Lack.FEED_MOISTURE),
        ({"feed": ()}, "bioconversion_wet", Lack.FEED),
        ({"feed": (replace(FEED, kg=0.0),)}, "conversion_wet", Lack.FEED),
        ({"larvae_out": ()}, "bioconversion_wet", Lack.LARVAE_OUT),
        ({"larvae_out": (replace(OUT, kg=0.05),)}, "conversion_wet", Lack.NO_GAIN),
        ({"larvae_out": (replace(OUT, mean_mg=None),)}, "survival", Lack.COUNTED_SAMPLE),
        ({"larvae_out": (OUT, replace(OUT, mean_mg=None))}, "survival", Lack.COUNTED_SAMPLE),
        ({"larvae_in": (replace(PUT_IN, count=None),)}, "survival", Lack.LARVAE_COUNT),
        ({"larvae_in": (replace(PUT_IN, kg=None),)}, "growth_rate", Lack.LARVAE_IN),
        ({"residues": (replace(RESIDUE, kg=20.0),)}, "reduction", Lack.MORE_OUT_THAN_IN),
        ({"larvae_out": (replace(OUT, kg=20.0),)}, "bioconversion_dry", Lack.MORE_OUT_THAN_IN),
        ({"larvae_out": (replace(OUT, kg=6.0),)}, "efficiency", Lack.MORE_OUT_THAN_IN),
    ],
)
def test_what_cannot_be_worked_out_says_what_it_lacks(
    changed: dict[str, tuple[object, ...]], figure: str, lack: Lack
) -> None:
    one = getattr(filling(replace(WHOLE, **changed)), figure)  # type: ignore[arg-type]
    assert one.value is None
    assert lack in one.lacks


def test_a_bin_that_only_dried_has_no_reduction() -> None:
    dried = replace(WHOLE, residues=(replace(RESIDUE, kg=2.8, moisture=None),))
    assert filling(dried).reduction.value is None
    same = replace(WHOLE, residues=(replace(RESIDUE, kg=2.6, moisture=0.0),))
    assert filling(same).reduction.value == pytest.approx(0.0, abs=1e-12)


def test_larvae_that_were_counted_in_but_not_weighed_count_as_nothing_which_is_said() -> None:
    one = filling(replace(WHOLE, larvae_in=(replace(PUT_IN, kg=None),)))
    assert one.bioconversion_wet.value == pytest.approx(2.05 / 8.0)
    assert Lack.LARVAE_IN in one.bioconversion_wet.lacks


def test_a_bin_that_still_stands_says_so_far_until_it_is_emptied_or_filled_anew() -> None:
    standing = replace(WHOLE, residues=())
    assert Lack.STILL_FILLED in filling(standing).bioconversion_wet.lacks
    assert Lack.STILL_FILLED in filling(standing).survival.lacks
    anew = replace(FEED, at_ms=day(12), filling_ms=day(12))
    first, second = sums_of(replace(standing, feed=(FEED, MORE_FEED, anew))).fillings
    assert first.is_over
    assert Lack.STILL_FILLED not in first.bioconversion_wet.lacks
    assert (second.feed, second.larvae.value) == (Figure(6.0, 1), None)


def test_a_bin_that_was_emptied_is_over_though_nobody_weighed_what_was_left() -> None:
    emptied = Wanted(ASSUMED, emptied_ms={("bin-1", day(0)): day(11)})
    sums = sums_of(replace(WHOLE, residues=()), emptied)
    assert sums.fillings[0].is_over
    assert sums.fillings[0].bioconversion_wet.lacks == ()
    assert sums.weeks[1].conversions.conversion_wet.value == pytest.approx(4.0)
    assert sums.weeks[1].conversions.reduction.lacks == (Lack.RESIDUE,)


def test_a_bin_that_was_emptied_of_nothing_is_counted_and_said() -> None:
    lost = replace(WHOLE, larvae_out=(), residues=())
    sums = sums_of(lost, Wanted(ASSUMED, emptied_ms={("bin-1", day(0)): day(8)}))
    assert sums.fillings[0].ends_ms == day(8)
    assert sums.fillings[0].days.lacks == (Lack.LARVAE_OUT,)
    week = sums.weeks[1].conversions
    assert (week.fillings, week.conversion_wet.value) == (1, None)
    assert Lack.LARVAE_OUT in week.conversion_wet.lacks


def test_a_count_that_was_far_off_stays_and_is_marked() -> None:
    one = filling(replace(WHOLE, larvae_in=(replace(PUT_IN, count=5_000.0),)))
    assert one.survival.value == pytest.approx(2.05)
    assert Lack.COUNTS_DISAGREE in one.survival.lacks


def test_prepupae_that_left_a_bin_are_of_its_larvae() -> None:
    crawled = PrepupaeOut(at_ms=day(9), place="bin-1", count=1_000.0)
    one = filling(replace(WHOLE, prepupae=(crawled,)))
    assert one.larvae.value == pytest.approx(2.05 + 0.167)
    assert Lack.PREPUPA_MASS in one.larvae.lacks
    assert filling(replace(WHOLE, prepupae=(replace(crawled, place="ramp"),))).larvae == Figure(2.05, 1)
    weighed = replace(crawled, kg=0.2, count=None)
    assert filling(replace(WHOLE, prepupae=(weighed,))).larvae == Figure(2.25, 2)


EGGS = (
    EggsCollected(at_ms=day(1), place="cage-1", grams=3.0, use=EggUse.HATCH, tray="tray-1", into="a"),
    EggsCollected(at_ms=day(2), place="cage-1", grams=1.0, use=EggUse.HATCH, tray="tray-1", into="b"),
    EggsCollected(at_ms=day(2), place="cage-2", grams=5.0, use=EggUse.SOLD),
    EggsCollected(at_ms=day(8), place="cage-1", grams=2.0),
)
HATCHES = (
    HatchSeen(at_ms=day(5), place="tray-1", cohort="a", share=0.8),
    HatchSeen(at_ms=day(6), place="tray-1", cohort="b", share=0.4),
)
FLIES = (FliesPutIn(at_ms=day(0), place="cage-1", count=500.0, female_share=0.4, cohort="old"),)
CAGES = Takings(eggs=EGGS, hatches=HATCHES, flies=FLIES)


def test_a_cage_by_hand() -> None:
    first, second = sums_of(CAGES).cages
    assert (first.place, first.grams, first.females.value) == ("cage-1", Figure(6.0, 3), 200.0)
    assert first.uses == {EggUse.HATCH: 4.0, None: 2.0}
    assert first.per_female_mg.value == pytest.approx(30.0)
    assert first.eggs_per_female.value == pytest.approx(6.0 * 38_000 / 200)
    assert first.eggs_per_female_day.value == pytest.approx(6.0 * 38_000 / (200 * 8))
    assert first.hatch.value == pytest.approx((3.0 * 0.8 + 1.0 * 0.4) / 4.0)
    assert first.hatch.entries == 2
    assert first.eggs_per_female.lacks == ()
    assert second.eggs_per_female.value is None
    assert second.eggs_per_female.lacks == (Lack.FLIES,)
    assert second.hatch.lacks == (Lack.HATCH,)


def test_females_that_nobody_looked_at_are_assumed_and_said_and_wider() -> None:
    flies = (replace(FLIES[0], female_share=None),)
    cage = sums_of(replace(CAGES, flies=flies)).cages[0]
    known = sums_of(CAGES).cages[0]
    assert cage.females.value == 250.0
    assert Lack.FEMALE_SHARE in cage.eggs_per_female.lacks
    assert (cage.eggs_per_female.sd or 0) / (cage.eggs_per_female.value or 1) > (
        (known.eggs_per_female.sd or 0) / (known.eggs_per_female.value or 1)
    )


def test_flies_that_died_lay_no_more_and_their_days_end() -> None:
    late = (*EGGS, EggsCollected(at_ms=day(29), place="cage-1", grams=1.0))
    cage = sums_of(replace(CAGES, eggs=late)).cages[0]
    assert cage.eggs_per_female_day.value == pytest.approx(7.0 * 38_000 / (200 * 9.6))


def test_a_hatch_without_a_name_is_that_of_what_was_set_in_its_tray() -> None:
    unnamed = tuple(replace(each, into=None) for each in EGGS)
    seen = (HatchSeen(at_ms=day(6), place="tray-1", share=0.5),)
    takings = replace(CAGES, eggs=unnamed, hatches=seen)
    hatch = sums_of(takings).cages[0].hatch
    assert (hatch.value, hatch.entries) == (pytest.approx(0.5), 1)
    again = (*seen, HatchSeen(at_ms=day(7), place="tray-1", share=0.7))
    assert sums_of(replace(takings, hatches=again)).cages[0].hatch.value == pytest.approx(0.7)
    elsewhere = (replace(seen[0], place="tray-2"),)
    assert sums_of(replace(takings, hatches=elsewhere)).cages[0].hatch.value is None
    too_soon = (replace(seen[0], at_ms=day(2.5)),)
    assert sums_of(replace(takings, hatches=too_soon)).cages[0].hatch.value == pytest.approx(0.5)
    assert Lack.SOME_HATCH in sums_of(replace(takings, hatches=too_soon)).cages[0].hatch.lacks


def test_a_hatch_of_which_only_young_were_weighed_gives_no_share() -> None:
    weighed = tuple(replace(each, share=None, young_grams=1.0) for each in HATCHES)
    assert sums_of(replace(CAGES, hatches=weighed)).cages[0].hatch.lacks == (Lack.HATCH,)


def test_some_eggs_that_nobody_saw_hatch_are_said() -> None:
    cage = sums_of(replace(CAGES, hatches=HATCHES[:1])).cages[0]
    assert cage.hatch.value == pytest.approx(0.8)
    assert cage.hatch.lacks == (Lack.SOME_HATCH,)


def test_a_cohort_from_its_eggs_to_its_harvest() -> None:
    kept = replace(OUT, at_ms=day(11), kg=0.2, use=LarvaeUse.BREEDING, cohort="a")
    takings = Takings(
        eggs=(*EGGS, EggsCollected(at_ms=day(28), place="cage-3", grams=4.0, cohort="a")),
        hatches=HATCHES,
        feed=(FEED,),
        larvae_in=(replace(PUT_IN, cohort="a"),),
        larvae_out=(replace(OUT, cohort="a"), kept),
        residues=(RESIDUE,),
        prepupae=(PrepupaeOut(at_ms=day(14), place="box", count=500.0, cohort="a"),),
        flies=(FliesPutIn(at_ms=day(26), place="cage-3", count=450.0, female_share=0.5, cohort="a"),),
    )
    cohort = next(each for each in sums_of(takings).cohorts if each.cohort == "a")
    assert cohort.hatch.value == pytest.approx(0.8)
    assert (cohort.larvae.value, cohort.larvae.entries) == (pytest.approx(2.25), 2)
    assert cohort.days_from_egg.value == pytest.approx((2.05 * 9 + 0.2 * 10) / 2.25)
    assert cohort.conversions.bioconversion_wet.value == pytest.approx(2.2 / 6.0)
    assert cohort.kept.value == pytest.approx(1_000.0 + 500.0)
    assert cohort.emergence.value == pytest.approx(0.9)
    assert cohort.eggs_per_female.value == pytest.approx(4.0 * 38_000 / 225)
    said = Wanted(ASSUMED, {"a": day(0)})
    told = next(each for each in sums_of(takings, said).cohorts if each.cohort == "a")
    assert told.days_from_egg.value == pytest.approx((2.05 * 10 + 0.2 * 11) / 2.25)


def test_weeks_begin_on_monday_and_months_on_the_first_by_the_clock_of_the_farm() -> None:
    zone = ZoneInfo("Africa/Nairobi")
    sums = sums_of(CAGES, zone=zone)
    edges = [datetime.fromtimestamp(each.start_ms / 1000, zone) for each in sums.weeks]
    assert all((each.weekday(), each.hour, each.minute) == (0, 0, 0) for each in edges)
    assert len(edges) == 5
    months = [datetime.fromtimestamp(each.start_ms / 1000, zone) for each in sums.months]
    assert [(each.month, each.day, each.hour) for each in months] == [(3, 1, 0), (4, 1, 0)]
    late = EggsCollected(at_ms=day(0) - 11 * 3_600_000 + 1, place="cage-1", grams=9.0)
    assert sums_of(Takings(eggs=(late,)), zone=zone).weeks[0].eggs.value == 9.0
    assert sums_of(Takings(eggs=(late,)), zone=UTC).weeks[1].eggs.value is None


def test_a_week_in_which_the_clock_changes_is_whole() -> None:
    zone = ZoneInfo("Europe/Paris")
    sums = sums_of(replace(CAGES, eggs=(*EGGS, replace(EGGS[0], at_ms=day(27.9)))), zone=zone)
    change = next(each for each in sums.weeks if each.end_ms - each.start_ms != 7 * DAY)
    assert change.end_ms - change.start_ms == 7 * DAY - 3_600_000
    starts = [each.start_ms for each in sums.weeks]
    assert starts[1:] == [each.end_ms for each in sums.weeks[:-1]]


def test_a_week_without_an_entry_is_unknown_and_not_zero() -> None:
    week = sums_of(CAGES).weeks[2]
    assert week.eggs == Figure(None, 0, (Lack.NOTHING_WRITTEN,))
    assert week.larvae.value is week.feed.value is week.dead_flies.value is week.hatch.value is None


def test_a_week_counts_what_was_taken_in_it_and_fillings_that_were_over_in_it() -> None:
    dead = (
        DeadFlies(at_ms=day(9), place="cage-1", count=40.0),
        DeadFlies(at_ms=day(9), place="cage-1", grams=3.0),
    )
    one, two = sums_of(replace(WHOLE, eggs=EGGS, hatches=HATCHES, flies=FLIES, dead_flies=dead)).weeks[:2]
    assert (one.eggs, two.eggs) == (Figure(9.0, 3), Figure(2.0, 1))
    assert one.eggs_by_cage == {"cage-1": Figure(4.0, 2), "cage-2": Figure(5.0, 1)}
    assert one.egg_uses == {EggUse.HATCH: 4.0, EggUse.SOLD: 5.0}
    assert one.hatch.value == pytest.approx(0.7)
    assert one.feed == Figure(8.0, 2)
    assert (one.larvae.value, one.conversions.fillings) == (None, 0)
    assert two.larvae == Figure(2.05, 1)
    assert two.conversions.fillings == 1
    assert two.conversions.conversion_wet.value == pytest.approx(4.0)
    assert two.conversions.reduction.value == pytest.approx(1.6 / 2.6)
    assert two.dead_flies == Figure(40.0, 1)
    assert two.dead_flies_mass == Figure(3.0, 1)
    assert Lack.FLIES in one.eggs_per_female_day.lacks
    lived = 200 * (7 - 8 / 24)
    assert one.eggs_per_female_day.value == pytest.approx(4.0 * 38_000 / lived)


def test_ratios_of_a_week_are_sums_over_sums_and_leave_out_what_is_half_known() -> None:
    other = Takings(
        feed=(replace(FEED, place="bin-2", kg=12.0),),
        larvae_in=(replace(PUT_IN, place="bin-2"),),
        larvae_out=(replace(OUT, place="bin-2", kg=1.05),),
        residues=(replace(RESIDUE, place="bin-2"),),
    )
    unweighed = Takings(
        larvae_out=(replace(OUT, place="bin-3", kg=9.0),), residues=(replace(RESIDUE, place="bin-3"),)
    )
    both = joined(WHOLE, other)
    week = sums_of(both).weeks[1].conversions
    assert week.bioconversion_wet.value == pytest.approx(3.0 / 20.0)
    more = sums_of(joined(both, unweighed)).weeks[1].conversions
    assert more.bioconversion_wet.value == pytest.approx(3.0 / 20.0)
    assert Lack.FEED in more.bioconversion_wet.lacks
    assert more.fillings == 3


def test_larvae_kept_stand_beside_those_needed() -> None:
    kept = replace(OUT, at_ms=day(8), use=LarvaeUse.BREEDING, kg=0.1, mean_mg=200.0)
    ramp = PrepupaeOut(at_ms=day(9), place="ramp", kg=0.0835)
    takings = Takings(larvae_out=(kept, OUT), prepupae=(ramp,))
    wanted = Wanted(ASSUMED, needed_a_week=1_500.0)
    week = sums_of(takings, wanted).weeks[0]
    assert week.kept.count.value == pytest.approx(500.0 + 500.0)
    assert week.kept.count.lacks == (Lack.PREPUPA_MASS,)
    assert week.kept.needed == pytest.approx(1_500.0)
    assert week.kept.share == pytest.approx(2 / 3)
    month = sums_of(takings, wanted).months[0]
    assert month.kept.needed == pytest.approx(1_500.0 * 31 / 7)
    assert sums_of(takings).weeks[0].kept.share is None
    assert sums_of(Takings(larvae_out=(OUT,)), wanted).weeks[0].kept.share is None


PRICES = Prices("KES", eggs_gram=40.0, larvae_kg=60.0, feed_kg={"bran": 10.0})


def test_money_only_where_prices_are_given() -> None:
    takings = replace(WHOLE, eggs=EGGS, hatches=HATCHES)
    assert all(week.income is None for week in sums_of(takings).weeks)
    weeks = sums_of(takings, Wanted(ASSUMED, prices=PRICES)).weeks
    first, second = weeks[0].income, weeks[1].income
    assert first is not None
    assert second is not None
    assert first.eggs == Figure(200.0, 1)
    assert second.larvae.value == pytest.approx(123.0)
    assert Lack.USE in second.eggs.lacks
    assert first.feed.lacks == (Lack.PRICE,)
    named = replace(takings, feed=(replace(FEED, feed="bran"), MORE_FEED))
    cost = sums_of(named, Wanted(ASSUMED, prices=PRICES)).weeks[0].income
    assert cost is not None
    assert cost.feed == Figure(60.0, 1, (Lack.PRICE,))
    half = sums_of(takings, Wanted(ASSUMED, prices=Prices("KES", eggs_gram=40.0))).weeks[1].income
    assert half is not None
    assert half.larvae.lacks == (Lack.PRICE,)


def test_what_the_farm_feeds_to_its_own_animals_is_no_money_that_came_in() -> None:
    fed = replace(WHOLE, larvae_out=(replace(OUT, use=LarvaeUse.FEED),))
    income = sums_of(fed, Wanted(ASSUMED, prices=PRICES)).weeks[1].income
    assert income is not None
    assert income.kept_worth.value == pytest.approx(123.0)
    assert income.larvae.value is None


def test_what_is_written_for_later_does_not_count_yet() -> None:
    later = replace(EGGS[0], at_ms=NOW_MS + DAY)
    assert sums_of(replace(CAGES, eggs=(*EGGS, later))) == sums_of(CAGES)


def test_a_farm_without_an_entry_has_no_sums() -> None:
    assert sums_of(Takings()) == FarmSums((), (), (), (), ())


def test_a_correction_or_an_undone_entry_changes_every_sum() -> None:
    before = sums_of(replace(WHOLE, eggs=EGGS, flies=FLIES))
    undone = sums_of(replace(WHOLE, eggs=EGGS[1:], flies=FLIES))
    for sums, grams in ((before, 6.0), (undone, 3.0)):
        assert sums.cages[0].grams.value == pytest.approx(grams)
        assert sums.weeks[0].eggs_by_cage["cage-1"].value == pytest.approx(grams - 2.0)
        assert sums.months[0].eggs.value == pytest.approx(grams + 5.0)
    heavier = replace(WHOLE, larvae_out=(replace(OUT, kg=3.05),))
    assert filling(heavier).bioconversion_wet.value == pytest.approx(3.0 / 8.0)


def joined(*every: Takings) -> Takings:
    """Several pasts as one, in order of time."""
    names = [each.name for each in fields(Takings)]
    together = {
        name: tuple(sorted((one for each in every for one in getattr(each, name)), key=lambda one: one.at_ms))
        for name in names
    }
    return Takings(**together)


PLACES, COHORTS = ("cage-1", "cage-2"), (None, "a", "b")
TIMES = st.integers(day(0), NOW_MS)


@st.composite
def pasts(draw: st.DrawFn) -> Takings:
    """Any past of a farm, as untidy as it likes."""
    moistures = st.none() | st.floats(0.0, 1.0)
    kg = st.floats(0.0, 50.0)
    eggs = st.builds(
        EggsCollected,
        at_ms=TIMES,
        place=st.sampled_from(PLACES),
        cohort=st.sampled_from(COHORTS),
        grams=st.floats(0.0, 60.0),
        use=st.none() | st.sampled_from(EggUse),
        tray=st.none() | st.just("tray-1"),
        into=st.sampled_from(COHORTS),
    )
    hatches = st.builds(
        HatchSeen,
        at_ms=TIMES,
        place=st.just("tray-1"),
        cohort=st.sampled_from(COHORTS),
        share=st.none() | st.floats(0.0, 1.0),
    )
    bins = {
        "at_ms": TIMES,
        "place": st.sampled_from(("bin-1", "bin-2")),
        "filling_ms": st.sampled_from((day(0), day(9))),
    }
    counts = st.none() | st.floats(0.0, 1e5)
    kinds = {
        "eggs": eggs,
        "hatches": hatches,
        "feed": st.builds(FeedGiven, **bins, kg=kg, moisture=moistures, cohort=st.sampled_from(COHORTS)),
        "larvae_in": st.builds(LarvaeIn, **bins, count=counts, kg=st.none() | kg),
        "larvae_out": st.builds(
            LarvaeOut,
            **bins,
            kg=kg,
            cohort=st.sampled_from(COHORTS),
            use=st.none() | st.sampled_from(LarvaeUse),
            mean_mg=st.none() | st.floats(0.0, 400.0),
        ),
        "residues": st.builds(Residue, **bins, kg=kg, moisture=moistures),
        "prepupae": st.builds(
            PrepupaeOut,
            at_ms=TIMES,
            place=st.sampled_from(("ramp", "bin-1")),
            kg=st.none() | kg,
            count=counts,
        ),
        "flies": st.builds(
            FliesPutIn,
            at_ms=TIMES,
            place=st.sampled_from(PLACES),
            count=st.floats(0.0, 5e3),
            female_share=st.none() | st.floats(0.0, 1.0),
        ),
    }
    return joined(Takings(**{name: tuple(draw(st.lists(kind, max_size=4))) for name, kind in kinds.items()}))  # type: ignore[arg-type]


def figures(value: object) -> Iterator[Figure]:
    """Every figure within a sum."""
    if isinstance(value, Figure):
        yield value
    elif isinstance(value, tuple):
        for each in value:
            yield from figures(each)
    elif hasattr(value, "__dataclass_fields__"):
        for each in fields(value):  # type: ignore[arg-type]
            yield from figures(getattr(value, each.name))


def added(periods: Sequence[PeriodSum], name: str) -> tuple[float, int]:
    """The sum of a figure over periods, and its entries."""
    every = [getattr(each, name) for each in periods]
    return math.fsum(each.value or 0.0 for each in every), sum(each.entries for each in every)


@settings(max_examples=40, deadline=None)
@given(past=pasts())
def test_any_past_adds_up_and_every_figure_has_a_value_or_a_reason(past: Takings) -> None:
    sums = sums_of(past, Wanted(ASSUMED, needed_a_week=100.0, prices=PRICES), ZoneInfo("Europe/Paris"))
    for name in ("eggs", "larvae", "feed", "residue", "flies", "prepupae"):
        weeks, months = added(sums.weeks, name), added(sums.months, name)
        assert weeks[0] == pytest.approx(months[0])
        assert weeks[1] == months[1]
    assert added(sums.weeks, "eggs")[0] == pytest.approx(math.fsum(each.grams for each in past.eggs))
    cage_grams = math.fsum(each.grams.value or 0.0 for each in sums.cages)
    assert cage_grams == pytest.approx(math.fsum(each.grams for each in past.eggs))
    out = math.fsum(each.kg for each in past.larvae_out)
    assert math.fsum(math.fsum(each.uses.values()) for each in sums.fillings) == pytest.approx(out)
    for figure in figures((sums.cages, sums.fillings, sums.cohorts, sums.weeks, sums.months)):
        assert figure.value is not None or figure.lacks
        assert figure.value is None or math.isfinite(figure.value)
        assert figure.sd is None or (math.isfinite(figure.sd) and figure.sd >= 0.0)
    for one in sums.fillings:
        assert one.reduction.value is None or 0.0 <= one.reduction.value <= 1.0
        assert one.bioconversion_dry.value is None or one.bioconversion_dry.value <= 1.0


@settings(max_examples=15, deadline=None)
@given(past=pasts(), days=st.integers(0, 400))
def test_sums_of_another_day_are_the_same_sums(past: Takings, days: int) -> None:
    """Weeks later, all is the same: nothing hangs on the date but the edges of months."""
    shift = days * 7 * DAY

    def later(each: object) -> object:
        moved = {"at_ms": each.at_ms + shift}  # type: ignore[attr-defined]
        if hasattr(each, "filling_ms"):
            moved["filling_ms"] = each.filling_ms + shift
        return replace(each, **moved)  # type: ignore[type-var]

    moved = Takings(
        **{each.name: tuple(later(one) for one in getattr(past, each.name)) for each in fields(Takings)}  # type: ignore[arg-type]
    )
    one, other = sums_of(past), farm_sums(moved, UTC, NOW_MS + shift, Wanted(ASSUMED))
    assert [each.eggs for each in one.weeks] == [each.eggs for each in other.weeks]
    assert [each.conversions for each in one.weeks] == [each.conversions for each in other.weeks]
    assert [each.hatch for each in one.cages] == [each.hatch for each in other.cages]


def test_assumptions_of_another_species_are_taken() -> None:
    wanted = Wanted(replace(ASSUMED, eggs_per_gram=20_000.0))
    cage = sums_of(CAGES, wanted).cages[0]
    assert cage.eggs_per_female.value == pytest.approx(6.0 * 20_000 / 200)


def test_half_a_year_of_weeks_has_no_gap() -> None:
    eggs = tuple(replace(EGGS[0], at_ms=day(0) + each * 11 * DAY) for each in range(17))
    now_ms = eggs[-1].at_ms + DAY
    weeks = farm_sums(Takings(eggs=eggs), ZoneInfo("America/New_York"), now_ms, Wanted(ASSUMED)).weeks
    assert [each.end_ms for each in weeks[:-1]] == [each.start_ms for each in weeks[1:]]
    assert weeks[-1].end_ms > now_ms
    assert timedelta(milliseconds=weeks[-1].start_ms - weeks[0].start_ms) > timedelta(weeks=24)


def test_a_species_of_which_nobody_knows_the_eggs_in_a_gram_has_no_egg_counts() -> None:
    cage = sums_of(CAGES, Wanted(replace(ASSUMED, eggs_per_gram=None))).cages[0]
    assert cage.per_female_mg.value == pytest.approx(30.0)
    assert cage.eggs_per_female.lacks == cage.eggs_per_female_day.lacks == (Lack.EGGS_PER_GRAM,)


def test_the_numbers_of_the_species_and_of_the_farm_are_those_of_the_sums() -> None:
    own = assumptions_of(replace(FLY.adult, eggs_per_gram=41_000.0, female_life_days=7.0))
    assert (own.eggs_per_gram, own.female_life_days) == (41_000.0, 7.0)
    assert (own.female_share, own.female_share_sd) == (FLY.adult.female_share, FLY.adult.female_share_sd)
    assert own.larva_dry_share == pytest.approx(0.3)


def test_spreads_shrink_with_samples_as_they_should() -> None:
    one = sums_of(WHOLE).weeks[1].conversions
    other = Takings(
        feed=(replace(FEED, place="bin-2"), replace(MORE_FEED, place="bin-2")),
        larvae_in=(replace(PUT_IN, place="bin-2"),),
        larvae_out=(replace(OUT, place="bin-2"),),
        residues=(replace(RESIDUE, place="bin-2"),),
    )
    two = sums_of(joined(WHOLE, other)).weeks[1].conversions
    for name in ("reduction", "bioconversion_dry", "conversion_dry"):
        alone, both = getattr(one, name), getattr(two, name)
        assert both.value == pytest.approx(alone.value)
        assert both.sd == pytest.approx(alone.sd / math.sqrt(2))
        assert both.entries == 2 * alone.entries
    hatch = sums_of(CAGES).cages[0].hatch
    assert hatch.sd == pytest.approx(0.19 * math.sqrt(3.0**2 + 1.0**2) / 4.0)


def test_the_spread_of_what_was_kept_is_that_of_its_weighings() -> None:
    sampled = replace(OUT, use=LarvaeUse.BREEDING, kg=0.1, mean_mg=200.0)
    weighed = PrepupaeOut(at_ms=day(10), place="ramp", kg=0.0835)
    kept = sums_of(Takings(larvae_out=(sampled,), prepupae=(weighed,))).weeks[0].kept.count
    assert kept.sd == pytest.approx(math.hypot(500 * 0.07, 500 * 0.25))
    counted = PrepupaeOut(at_ms=day(10), place="ramp", count=300.0)
    assert sums_of(Takings(prepupae=(counted,))).weeks[0].kept.count == Figure(300.0, 1)


def test_an_entry_of_this_moment_counts_and_one_of_the_next_does_not() -> None:
    moments = tuple(replace(EGGS[3], at_ms=NOW_MS + later) for later in (0, 1))
    assert sums_of(Takings(eggs=moments)).cages[0].grams == Figure(2.0, 1)


def test_flies_of_the_week_before_still_lay_in_this_one() -> None:
    flies = (FliesPutIn(at_ms=day(4), place="cage-1", count=400.0, female_share=0.5),)
    week = sums_of(Takings(eggs=EGGS[3:], flies=flies)).weeks[1]
    lived_days = 4 + 9.6 - (7 - 8 / 24)
    assert week.eggs_per_female_day.value == pytest.approx(2.0 * 38_000 / (200 * lived_days))


def test_feed_of_which_every_price_is_known_lacks_nothing() -> None:
    fed = (replace(FEED, feed="bran"), replace(MORE_FEED, feed="scraps"))
    prices = Prices("KES", feed_kg={"bran": 10.0, "": 0.0})
    income = sums_of(Takings(feed=fed), Wanted(ASSUMED, prices=prices)).weeks[0].income
    assert income is not None
    assert income.feed == Figure(60.0, 2)


def test_emergence_counts_the_entries_of_both_sides() -> None:
    boxed = (PrepupaeOut(at_ms=day(1), place="bin-1", count=300.0, cohort="a"),) * 2
    flies = (FliesPutIn(at_ms=day(20), place="cage-1", count=540.0, cohort="a"),)
    (cohort,) = sums_of(Takings(prepupae=boxed, flies=flies)).cohorts
    assert cohort.emergence == Figure(pytest.approx(0.9), 3)  # type: ignore[arg-type]
    more = (replace(flies[0], count=700.0),)
    (odd,) = sums_of(Takings(prepupae=boxed, flies=more)).cohorts
    assert odd.emergence.lacks == (Lack.COUNTS_DISAGREE,)


def test_equal_figures_are_not_smaller_than_each_other() -> None:
    assert not Figure(2.0, 1) < Figure(2.0, 3)
