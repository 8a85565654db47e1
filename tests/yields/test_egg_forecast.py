"""Grams to come: learned from what was collected, missed days, slips of units, promises, sums over cages."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from development_builders import FLY

from monitor.records import MS_PER_DAY, MS_PER_HOUR
from monitor.yields.forecast import AHEAD_DAYS, PAST_DAYS, EggForecast, cage_flies, forecast_eggs
from monitor.yields.laying import DayGrid, day_grid
from monitor.yields.records import EggsCollected, FliesPutIn, Takings
from monitor.yields.rhythm import collections_of

TODAY = 200
NOW_MS = TODAY * MS_PER_DAY + 7 * MS_PER_HOUR
GRID = day_grid(NOW_MS, 0, PAST_DAYS, AHEAD_DAYS)
CAGES = ("cage-1", "cage-2", "cage-3")


def steady_farm(
    mg: float = 13.0,
    since: int = 100,
    cages: tuple[str, ...] = CAGES,
    rest: int | None = None,
    until: int = TODAY,
    noise: float = 0.25,
) -> Takings:
    """A farm that puts 140 flies a day into each cage and collects what they lay, one entry a day and cage.

    On the weekday `rest` nobody comes, and the next day holds both.
    """
    random = np.random.default_rng(1)
    flies = tuple(
        FliesPutIn(at_ms=day * MS_PER_DAY + 8 * MS_PER_HOUR, place=cage, count=140.0)
        for cage in cages
        for day in range(since - 20, TODAY + AHEAD_DAYS)
    )
    eggs: list[EggsCollected] = []
    for cage in cages:
        waiting = 0.0
        for day in range(since, until):
            waiting += 70.0 * mg / 1000.0 * 0.97 * float(np.exp(noise * random.standard_normal()))
            if day % 7 != rest:
                at_ms = day * MS_PER_DAY + 17 * MS_PER_HOUR
                eggs.append(
                    EggsCollected(at_ms=at_ms, place=cage, grams=waiting, entry_id=1000 * day + int(cage[-1]))
                )
                waiting = 0.0
    return Takings(eggs=tuple(sorted(eggs, key=lambda each: each.at_ms)), flies=flies)


def forecast(takings: Takings, cages: tuple[str, ...] = CAGES, grid: DayGrid = GRID) -> EggForecast:
    known = [cage_flies(cage, takings, [], FLY, grid) for cage in cages]
    return forecast_eggs(takings, known, FLY, grid)


@pytest.mark.parametrize("mg", [5.0, 13.0, 27.0])
def test_the_farms_own_eggs_by_female_are_learned(mg: float) -> None:
    found = forecast(steady_farm(mg))
    assert found.level.median == pytest.approx(mg / 1000.0, rel=0.12)
    assert found.level.low < mg / 1000.0 < found.level.high
    week = found.weeks("cage-1")[0]
    assert week.low < 7 * 70.0 * mg / 1000.0 * 0.97 < week.high
    assert week.to_ms - week.from_ms == 7 * MS_PER_DAY


def test_without_a_past_the_published_figure_and_its_width_stand() -> None:
    found = forecast(Takings(flies=steady_farm().flies))
    assert found.level.median == pytest.approx(0.013, rel=0.1)
    assert found.level.high / found.level.low == pytest.approx(np.exp(2 * 1.2816 * 0.5), rel=0.15)
    assert found.level.weeks == 0


def test_windows_grow_narrower_as_the_farm_writes_more() -> None:
    widths = []
    for since in (TODAY, TODAY - 14, TODAY - 90):
        week = forecast(steady_farm(since=since)).weeks("cage-1")[1]
        widths.append(week.high / week.low)
    assert widths[0] > 1.5 * widths[1] > 1.5 * widths[2]


def test_a_day_without_collecting_is_not_a_day_without_eggs() -> None:
    """Who rests on one weekday has as many grams in a week as who does not."""
    daily, resting = forecast(steady_farm()), forecast(steady_farm(rest=3))
    assert resting.level.median == pytest.approx(daily.level.median, rel=0.06)
    assert resting.rhythm.by_weekday[3 - GRID.first_ms // MS_PER_DAY % 7] < 0.1
    days = {day.from_ms // MS_PER_DAY % 7: day.median for day in resting.days("cage-1")[7:14]}
    assert days[3] == 0.0
    assert days[4] > 1.5 * days[6] > 0.0


@pytest.mark.parametrize("factor", [1000.0, 10.0, 0.1])
def test_a_slip_of_a_unit_moves_nothing_and_is_named_where_it_is_too_much(factor: float) -> None:
    """A tenth looks like a poor day and moves as little."""
    takings = steady_farm()
    usual = float(np.median([each.grams for each in takings.eggs]))
    slipped = min(takings.eggs[-30:], key=lambda each: abs(each.grams - usual))
    wrong = replace(slipped, grams=slipped.grams * factor)
    changed = replace(takings, eggs=tuple(wrong if each is slipped else each for each in takings.eggs))
    clean, found = forecast(takings), forecast(changed)
    assert found.doubted == ((slipped.entry_id,) if factor > 1.0 else ())
    assert clean.doubted == ()
    assert found.level.median == pytest.approx(clean.level.median, rel=0.03)


def test_an_honest_farm_is_never_doubted_much() -> None:
    """Days with the published noise, CV 0.4: next to none of 300 collectings is called a slip."""
    assert len(forecast(steady_farm(noise=0.39)).doubted) <= 2


def test_eggs_that_wait_in_the_cage_come_with_the_next_collecting() -> None:
    """Nobody came for two days: the next collecting holds these eggs too."""
    usual, waited = forecast(steady_farm()), forecast(steady_farm(until=TODAY - 2))
    first = waited.days("cage-1")[0].median / usual.days("cage-1")[0].median
    assert first == pytest.approx(3.0, rel=0.35)


def test_what_was_collected_today_does_not_come_again() -> None:
    takings = steady_farm(until=TODAY + 1)
    evening = day_grid(NOW_MS + 12 * MS_PER_HOUR, 0, PAST_DAYS, AHEAD_DAYS)
    days = forecast(takings, grid=evening).days("cage-1")
    assert days[0].high == 0.0
    assert days[1].median > 0.0


def test_late_in_the_evening_nobody_comes_any_more() -> None:
    """Who always comes at 17 h and did not today, comes tomorrow for both days."""
    takings = steady_farm(until=TODAY)
    found = [
        forecast(takings, grid=day_grid(TODAY * MS_PER_DAY + hour * MS_PER_HOUR, 0, PAST_DAYS, AHEAD_DAYS))
        for hour in (12, 20)
    ]
    noon, evening = ([day.median for day in each.days("cage-1")[:2]] for each in found)
    assert noon[0] > 0.0
    assert evening[0] == 0.0
    assert evening[1] == pytest.approx(noon[0] + noon[1], rel=0.2)


def test_a_promise_is_kept_four_times_in_five() -> None:
    found = forecast(steady_farm())
    promised = found.promise(NOW_MS + 3 * MS_PER_DAY)
    day = found.days()[3]
    assert promised is not None and day.low < promised < day.median
    assert float((found.collected.sum(axis=1)[:, 3] >= promised).mean()) == pytest.approx(0.8, abs=0.01)
    two_days = found.promise(NOW_MS + 3 * MS_PER_DAY, days=2)
    assert two_days is not None and two_days > 1.7 * promised
    assert found.promise(NOW_MS - MS_PER_DAY) is None
    assert found.promise(NOW_MS + 60 * MS_PER_DAY) is None


def test_cages_share_their_farm_so_a_sum_is_narrower_than_sums_of_bounds_but_not_as_if_apart() -> None:
    found = forecast(steady_farm(since=TODAY - 10))
    total, cages = found.weeks()[1], [found.weeks(cage)[1] for cage in CAGES]
    assert total.low > sum(cage.low for cage in cages)
    assert total.high < sum(cage.high for cage in cages)
    apart = sum((cage.high - cage.low) ** 2 for cage in cages) ** 0.5
    assert total.high - total.low > 1.05 * apart


def test_an_empty_cage_gives_nothing() -> None:
    takings = steady_farm(cages=("cage-1",))
    found = forecast(takings, ("cage-1", "cage-2"))
    assert all(week.high == 0.0 for week in found.weeks("cage-2"))
    assert found.by_habit == ()
    assert (found.known, found.unknown) == (("cage-1",), ("cage-2",)), "nothing known is not no eggs"


def test_a_cage_whose_flies_nobody_counted_goes_on_as_it_was() -> None:
    takings = replace(steady_farm(), flies=())
    found = forecast(takings)
    assert found.by_habit == CAGES
    weekly = sum(each.grams for each in takings.eggs if each.place == "cage-1") / 100.0 * 7.0
    week = found.weeks("cage-1")[0]
    assert week.low < weekly < week.high
    assert week.median == pytest.approx(weekly, rel=0.2)


def test_a_cage_is_filled_on_as_it_was_only_where_that_is_asked_for() -> None:
    """A lot every week up to the day before yesterday: asked for, week 5 has what a lot gives in a week."""
    flies = tuple(
        FliesPutIn(at_ms=day * MS_PER_DAY, place="cage-1", count=1000.0)
        for day in range(TODAY - 72, TODAY, 7)
    )
    takings = Takings(flies=flies)
    weeks = []
    for goes_on in (False, True):
        cage = cage_flies("cage-1", takings, [], FLY, GRID, goes_on=goes_on)
        weeks.append(forecast_eggs(takings, [cage], FLY, GRID).weeks("cage-1"))
    assert weeks[0][4].high < 0.3
    assert weeks[1][4].median == pytest.approx(500.0 * 0.013 * 0.97, rel=0.2)
    assert weeks[1][0].median > 0.9 * weeks[0][0].median
    left = Takings(flies=flies[:-3])
    assert cage_flies("cage-1", left, [], FLY, GRID, goes_on=True).to_put_in is None


def test_the_same_question_has_the_same_answer() -> None:
    first, second = forecast(steady_farm()), forecast(steady_farm())
    assert first.weeks() == second.weeks()


def test_a_cage_nobody_uses_and_a_farm_without_entries() -> None:
    found = forecast(Takings(), ("cage-1",))
    assert found.weeks("cage-1")[0].high == 0.0
    assert found.doubted == ()


def _without(takings: Takings, first: int, last: int) -> Takings:
    """The same farm whose book says nothing of some days, the last included."""
    kept = tuple(each for each in takings.eggs if not first <= each.at_ms // MS_PER_DAY <= last)
    return replace(takings, eggs=kept)


def test_days_that_are_not_learned_from_still_say_that_the_cage_was_emptied() -> None:
    found = collections_of(steady_farm().eggs, "cage-1", GRID)
    laid = np.linspace(1.0, 2.0, GRID.days)[None, :]
    cut = found.since(int(found.days[10]))
    assert cut.exposures(laid)[0] == pytest.approx(found.exposures(laid)[0, 10:])
    assert cut.known_since.all() and not found.known_since[0]
    assert found.exposures(laid)[0, 0] > 3.5 * found.exposures(laid)[0, 1], "of the first it holds four days"


def test_the_first_collecting_after_a_long_pause_claims_no_rate() -> None:
    """The strips were changed each day, and only the book was left: it holds one day, as every other."""
    paused = _without(steady_farm(noise=0.0), TODAY - 25, TODAY - 2)
    before = _without(paused, TODAY - 1, TODAY)
    found, known = forecast(paused), forecast(before)
    assert (found.level.weeks, found.level.median) == (known.level.weeks, known.level.median)
    assert found.doubted == ()


def test_a_pause_that_empties_no_strips_claims_none_either() -> None:
    """Nobody came: it holds what is fresh enough, and the rest has hatched; neither is learned from."""
    steady = _without(steady_farm(noise=0.0), TODAY - 25, TODAY - 2)
    last = max(each.at_ms for each in steady.eggs)
    held = tuple(
        replace(each, grams=4.0 * each.grams) if each.at_ms == last else each for each in steady.eggs
    )
    found, known = forecast(replace(steady, eggs=held)), forecast(_without(steady, TODAY - 1, TODAY))
    assert found.level.median == known.level.median


def test_after_a_long_pause_the_next_collecting_may_hold_a_day_or_four() -> None:
    paused = _without(steady_farm(noise=0.0), TODAY - 25, TODAY)
    next_one = forecast(paused).collected[:, 0, 0]
    low, high = np.quantile(next_one[next_one > 0.0], (0.1, 0.9))
    usual = 70.0 * 0.013 * 0.97
    assert low < 1.5 * usual and high > 3.0 * usual


def test_of_a_cage_that_was_just_filled_the_first_collecting_is_learned_from() -> None:
    """Its flies have only begun to lay: it holds all of their eggs."""
    flies = (FliesPutIn(at_ms=(TODAY - 5) * MS_PER_DAY, place="cage-1", count=2000.0),)
    eggs = (
        EggsCollected(
            at_ms=(TODAY - 1) * MS_PER_DAY + 17 * MS_PER_HOUR, place="cage-1", grams=6.0, entry_id=1
        ),
    )
    assert forecast(Takings(eggs=eggs, flies=flies), ("cage-1",)).level.weeks == 1
