"""The hours that made a taking: counted where they are known, unknown where they are not."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from monitor.climate.arrays import FloatArray
from monitor.records import MS_PER_DAY, MS_PER_HOUR
from monitor.yields.exposure import (
    Condition,
    Limits,
    Made,
    PlaceHours,
    at_least,
    beside,
    cage_flags,
    day_climate,
    exposures,
    spans_of,
    two_days,
)
from monitor.yields.laying import DayGrid
from monitor.yields.records import (
    EggsCollected,
    EggUse,
    FeedGiven,
    FliesPutIn,
    HatchSeen,
    LarvaeOut,
    PrepupaeOut,
    Residue,
    Takings,
)

FIRST_MS = 20_000 * MS_PER_DAY
LIMITS = Limits(cold_c=22.0, hot_c=35.0, dry_percent=45.0)
NAN = float("nan")


def place(warmth_c: FloatArray, humidity: float | FloatArray = 60.0, lit: float = 0.0) -> PlaceHours:
    count = len(warmth_c)
    return PlaceHours(FIRST_MS, warmth_c, np.broadcast_to(humidity, count).astype(float), np.full(count, lit))


def hour(number: float) -> int:
    return FIRST_MS + round(number * MS_PER_HOUR)


def seen(hours: PlaceHours, first: float, last: float) -> dict[str, float]:
    found = exposures(hours, np.array([hour(first)]), np.array([hour(last)]), LIMITS)
    return {name: float(getattr(found, name)[0]) for name in type(found).__slots__}


def test_hours_are_counted_and_their_extremes_found() -> None:
    warmth = np.array([20.0, 21.0, 30.0, 36.0, 37.0, 30.0, 25.0, 25.0])
    humidity = np.array([40.0, 44.9, 45.0, 60.0, 60.0, 60.0, 60.0, 30.0])
    found = seen(place(warmth, humidity, lit=1.0), 0, 6)
    assert (found["cold_hours"], found["heat_hours"], found["dry_hours"]) == (2.0, 2.0, 2.0)
    assert (found["coldest_c"], found["warmest_c"]) == (20.0, 37.0)
    assert found["mean_c"] == pytest.approx(warmth[:6].mean())
    assert found["humidity_percent"] == pytest.approx(humidity[:6].mean())
    assert (found["hours"], found["silent_hours"], found["lit_hours"]) == (6.0, 0.0, 6.0)
    assert seen(place(warmth), 6, 6)["hours"] == 0.0
    assert np.isnan(seen(place(warmth), 6, 6)["mean_c"])


def test_silent_hours_are_unknown_never_zero_nor_a_mean() -> None:
    warmth = np.array([20.0, NAN, NAN, 36.0, 30.0, 30.0, 30.0, 30.0])
    found = seen(place(warmth), 0, 8)
    assert found["silent_hours"] == 2.0
    assert found["mean_c"] == pytest.approx(np.nanmean(warmth)), "three quarters are known"
    few = seen(place(warmth), 0, 4)
    assert all(np.isnan(few[name]) for name in ("mean_c", "coldest_c", "warmest_c"))
    assert few["heat_hours"] == 1.0
    outside = seen(place(warmth), -4, 4)
    assert outside["silent_hours"] == 6.0
    unset = exposures(place(warmth), np.array([hour(0)]), np.array([hour(8)]), Limits())
    assert np.isnan(unset.cold_hours[0]), "no limit, no count"


def test_silence_is_told_apart_only_where_it_could_turn_the_answer_over() -> None:
    hours, silent = np.array([12.0, 11.0, 5.0, 0.0]), np.array([20.0, 1.0, 6.0, 0.0])
    assert at_least(hours, silent, 12.0) == pytest.approx([1.0, NAN, 0.0, 0.0], nan_ok=True)
    flags = np.array([0.0, 1.0, 0.0, NAN, 1.0, NAN, 0.0])
    assert two_days(flags) == pytest.approx([0.0, 1.0, 1.0, NAN, 1.0, 1.0, NAN], nan_ok=True)


def test_a_night_is_that_before_the_day_and_belongs_to_it() -> None:
    """From 20 to 6 h; the first night is cut off, so nothing is known of it."""
    warmth = np.full(72, 27.0)
    warmth[44:54] = 20.0  # 20 h on the second day to 6 h on the third
    grid = DayGrid(FIRST_MS, 2, 1)
    days = day_climate(place(warmth), grid, LIMITS)
    assert days.night_c == pytest.approx([NAN, 27.0, 20.0], nan_ok=True)
    flags = cage_flags(days, LIMITS)
    assert flags[Condition.COLD_NIGHTS] == pytest.approx([NAN, 0.0, 1.0], nan_ok=True)
    assert flags[Condition.HOT_DAYS] == pytest.approx([0.0, 0.0, 0.0])
    assert Condition.COLD_NIGHTS not in cage_flags(days, Limits(hot_c=35.0))


def test_a_dull_day_is_one_with_less_light_than_usual_here() -> None:
    hours = place(np.full(240, 27.0))
    lit = np.tile(np.r_[np.zeros(8), np.ones(10), np.zeros(6)], 10)
    lit[3 * 24 : 3 * 24 + 14] = 0.0
    days = day_climate(replace(hours, lit=lit), DayGrid(FIRST_MS, 9, 1), LIMITS)
    assert cage_flags(days, LIMITS)[Condition.DULL_DAYS].tolist() == [0, 0, 0, 1, 0, 0, 0, 0, 0, 0]
    dark = day_climate(replace(hours, lit=np.full(240, NAN)), DayGrid(FIRST_MS, 9, 1), LIMITS)
    assert Condition.DULL_DAYS not in cage_flags(dark, LIMITS)


def eggs(day: float, **more: object) -> EggsCollected:
    return EggsCollected(at_ms=FIRST_MS + round(day * MS_PER_DAY), place="cage-1", grams=10.0, **more)  # type: ignore[arg-type]


def days_of(
    takings: Takings, made: Made, boxes: dict[str, str] | None = None
) -> list[tuple[str, float, float]]:
    return [
        (each.place, (each.from_ms - FIRST_MS) / MS_PER_DAY, (each.until_ms - FIRST_MS) / MS_PER_DAY)
        for each in spans_of(takings, boxes or {})
        if each.made is made
    ]


def test_eggs_are_of_the_two_days_before_and_those_since_the_last_collecting() -> None:
    """But of no more than a cage holds."""
    found = days_of(Takings(eggs=(eggs(10.7), eggs(11.7), eggs(14.7), eggs(30.7))), Made.EGGS)
    assert [until - since for _, since, until in found] == pytest.approx([2.0, 2.0, 3.0, 4.0])


def test_hatch_is_of_the_days_on_the_tray_of_the_eggs_that_it_came_from() -> None:
    laid = eggs(10.7, use=EggUse.HATCH, tray="tray-2", into="lot-1")
    hatch = HatchSeen(at_ms=FIRST_MS + 16 * MS_PER_DAY, place="tray-2", cohort="lot-1", share=0.6)
    stray = replace(hatch, cohort="lot-9")
    weighed = replace(hatch, share=None, young_grams=2.0)
    found = days_of(Takings(eggs=(laid,), hatches=(hatch, stray, weighed)), Made.HATCH)
    assert found == [("tray-2", pytest.approx(10.7), pytest.approx(14.7))]


def test_a_harvest_counts_when_its_filling_is_over() -> None:
    def filled(day: int, place: str) -> list[FeedGiven]:
        at = FIRST_MS + day * MS_PER_DAY
        return [FeedGiven(at_ms=at + i * MS_PER_DAY, place=place, kg=5.0, filling_ms=at) for i in (0, 3)]

    def out(day: int, place: str, filled_day: int, kg: float) -> LarvaeOut:
        filling = FIRST_MS + filled_day * MS_PER_DAY
        return LarvaeOut(at_ms=FIRST_MS + day * MS_PER_DAY, place=place, kg=kg, filling_ms=filling)

    takings = Takings(
        feed=(*filled(0, "bin-1"), *filled(20, "bin-1"), *filled(1, "bin-2")),
        larvae_out=(out(14, "bin-1", 0, 1.0), out(15, "bin-1", 0, 1.5), out(16, "bin-2", 1, 2.0)),
    )
    assert days_of(takings, Made.HARVEST) == [("bin-1", 0.0, 15.0)], "bin 2 may still be fed"
    span = next(each for each in spans_of(takings, {}) if each.made is Made.HARVEST)
    assert (span.amount, span.mass) == (pytest.approx(0.25), 2.5)
    weighed = Residue(
        at_ms=FIRST_MS + 17 * MS_PER_DAY, place="bin-2", kg=2.0, filling_ms=FIRST_MS + MS_PER_DAY
    )
    assert len(days_of(replace(takings, residues=(weighed,)), Made.HARVEST)) == 2


def test_emergence_is_of_the_box_until_half_of_the_flies_are_out() -> None:
    boxed = PrepupaeOut(at_ms=FIRST_MS, place="bin-1", cohort="a", count=1000.0)
    flies = [
        FliesPutIn(at_ms=FIRST_MS + day * MS_PER_DAY, place="cage-1", cohort="a", count=250.0)
        for day in (12, 14, 20)
    ]
    takings = Takings(prepupae=(boxed,), flies=tuple(flies))
    assert days_of(takings, Made.EMERGENCE, {"a": "box-1"}) == [], "more may come out"
    takings = replace(takings, eggs=(eggs(29.0),))
    assert days_of(takings, Made.EMERGENCE, {"a": "box-1"}) == [("box-1", 0.0, 16.0)]
    assert spans_of(takings, {"a": "box-1"})[-1].amount == pytest.approx(0.75)
    assert days_of(takings, Made.EMERGENCE) == [], "nobody knows in which box"


def test_each_taking_stands_beside_its_hours() -> None:
    warmth = np.full(24 * 20, 27.0)
    warmth[24 * 10 : 24 * 10 + 5] = 20.0
    takings = Takings(eggs=(eggs(8.0), eggs(11.0)))
    found = beside(spans_of(takings, {}), {"cage-1": place(warmth)}, {Made.EGGS: LIMITS})
    assert [each.cold_hours for each in found] == [0.0, 5.0]
    assert found[1].span.amount == 10.0 and found[1].coldest_c == 20.0
    assert (found[0].lit_hours, found[0].silent_hours, found[0].hours) == (0.0, 0.0, 48.0)
    assert beside(spans_of(takings, {}), {}, {}) == ()
