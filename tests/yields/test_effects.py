"""What went with the climate: found where it is, said only where the cases carry it."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from development_builders import FLY
from effect_study import LIMITS, found_on, judged_farm
from yield_farms import Effects

from monitor.climate.arrays import FloatArray
from monitor.records import MS_PER_DAY, MS_PER_HOUR
from monitor.yields import effects as effects_module
from monitor.yields.effects import (
    COMPARISONS,
    WORTH_SHARE,
    Effect,
    Verdict,
    climate_effects,
    egg_days,
    hit,
    supported_limit,
)
from monitor.yields.exposure import (
    FARM_DAY_LOG_SD,
    Cases,
    Condition,
    Limits,
    Made,
    PlaceHours,
    Span,
    cage_flags,
    egg_series,
    exposed_shares,
)
from monitor.yields.forecast import ExpectedPast, expected_past
from monitor.yields.laying import CageFlies, DayGrid
from monitor.yields.money import lost
from monitor.yields.records import EggsCollected, Takings

FIRST_MS = 20_000 * MS_PER_DAY
DAYS = 120
GRID = DayGrid(FIRST_MS, DAYS - 1, 1)
COLD, FRESH = 20.0, 27.0
EGGS = {Made.EGGS: Limits(cold_c=22.0)}


def hours(nights_c: FloatArray) -> PlaceHours:
    """A cage with steady days and nights of given warmth, each from 20 h to 6 h before its day."""
    warmth = np.full(len(nights_c) * 24, FRESH)
    for day, night in enumerate(nights_c.tolist()):
        warmth[max(day * 24 - 4, 0) : day * 24 + 6] = night
    still = np.full(len(warmth), np.nan)
    return PlaceHours(FIRST_MS, warmth, still, still)


def nights(cold: list[int], night_c: float = COLD) -> FloatArray:
    found = np.full(DAYS, 25.0)
    found[cold] = night_c
    return found


SPELLS = [40, 41, 52, 60, 61, 62, 75, 88, 89, 97, 105, 106]


def cage(name: str, night_c: FloatArray, left: float, seed: int, noise: float = 0.15) -> list[EggsCollected]:
    """Twenty grams a day, `left` of them on the two days after a night below 22 °C."""
    random = np.random.default_rng(seed)
    cold = night_c < 22.0
    after = cold | np.r_[False, cold[:-1]]
    grams = 20.0 * np.exp(noise * random.standard_normal(DAYS)) * np.where(after, left, 1.0)
    return [
        EggsCollected(
            at_ms=FIRST_MS + day * MS_PER_DAY + 17 * MS_PER_HOUR,
            place=name,
            grams=float(amount),
            entry_id=day + 1,
        )
        for day, amount in enumerate(grams.tolist())
    ]


def past_of(eggs: list[EggsCollected], cages: tuple[str, ...] = ("cage-1",)) -> ExpectedPast:
    """Nobody wrote down any flies: as many eggs each day."""
    flies = [CageFlies(each, np.zeros(DAYS), np.zeros((1, DAYS)), np.full(DAYS, FRESH)) for each in cages]
    return expected_past(Takings(eggs=tuple(sorted(eggs, key=lambda e: e.at_ms))), flies, FLY, GRID)


def cold_effect(night_c: FloatArray, left: float, seed: int = 1) -> Effect:
    past = past_of(cage("cage-1", night_c, left, seed))
    found = climate_effects(past, (), {"cage-1": hours(night_c)}, EGGS)
    return next(each for each in found if each.comparison.condition is Condition.COLD_NIGHTS)


def test_cold_nights_that_took_a_third_of_the_eggs_are_said_with_their_cases() -> None:
    found = cold_effect(nights(SPELLS), 0.67)
    assert found.verdict is Verdict.SAID
    assert found.low < 0.67 < found.high < 1.0 - WORTH_SHARE
    assert found.middle == pytest.approx(0.67, abs=0.07)
    assert found.limit == 22.0
    assert found.exposed == len(SPELLS)
    assert found.spells == 7
    after = {day for night in SPELLS for day in (night, night + 1)}
    assert found.others == len(set(range(29, DAYS)) - after), "the first days only fill the cages"


def test_cold_nights_that_took_nothing_are_not_said_though_papers_would_have_it() -> None:
    """The published curve expects less eggs; without the farm's own data behind it nothing is said."""
    found = cold_effect(nights(SPELLS), 1.0)
    assert not found.is_said
    assert found.high > 0.95


def test_what_is_too_few_is_not_judged_and_keeps_what_was_expected() -> None:
    few = cold_effect(nights([40, 52, 60]), 0.4)
    assert few.verdict is Verdict.TOO_FEW
    assert (few.exposed, few.spells) == (3, 3)
    one_spell = cold_effect(nights(list(range(50, 62))), 0.4)
    assert one_spell.verdict is Verdict.TOO_FEW
    assert (one_spell.exposed, one_spell.spells) == (12, 1), "twelve nights of one spell are one case"
    always = cold_effect(np.full(DAYS, COLD), 0.4)
    assert always.verdict is Verdict.TOO_FEW
    assert always.others == 0


def test_what_is_small_is_not_said_however_sure_it_is() -> None:
    """Many cases of a loss of 4 %: sure enough, and not worth it."""
    every = sorted({day for start in range(30, 118, 6) for day in (start,)})
    past = past_of(cage("cage-1", nights(every), 0.96, 3, noise=0.03))
    found = climate_effects(past, (), {"cage-1": hours(nights(every))}, EGGS)[0]
    assert found.verdict in (Verdict.NOT_WORTH, Verdict.NOT_SURE)
    assert found.middle == pytest.approx(0.96, abs=0.04)


def test_silent_nights_are_left_out() -> None:
    """Half of the cold nights unheard: they count on neither side, and what they did moves nothing."""
    night_c = nights(SPELLS)
    air = hours(night_c)
    warmth = air.warmth_c.copy()
    silent = SPELLS[6:]
    for night in silent:
        warmth[night * 24 - 4 : night * 24 + 6] = np.nan
    past = past_of(cage("cage-1", night_c, 0.6, 1))
    found = climate_effects(past, (), {"cage-1": replace(air, warmth_c=warmth)}, EGGS)[0]
    whole = climate_effects(past, (), {"cage-1": air}, EGGS)[0]
    assert found.exposed == 6
    assert found.others == whole.others
    silent_air = {"cage-1": replace(air, warmth_c=warmth)}
    days = egg_days(past, silent_air, EGGS[Made.EGGS])[0]
    assert days is not None
    flags = cage_flags(days, EGGS[Made.EGGS])[Condition.COLD_NIGHTS]
    shares = dict(
        zip(past.collections[0].days.tolist(), exposed_shares(past, 0, flags[None])[0], strict=True)
    )
    unknown = {night + more for night in silent for more in (0, 1)}
    assert {day for day, share in shares.items() if np.isnan(share)} == unknown
    assert found.middle == pytest.approx(0.6, abs=0.09)


def test_cages_of_one_room_are_not_more_nights() -> None:
    night_c = nights(SPELLS)
    names = tuple(f"cage-{number}" for number in range(1, 5))
    eggs = [each for number, name in enumerate(names) for each in cage(name, night_c, 0.67, number)]
    four = climate_effects(past_of(eggs, names), (), dict.fromkeys(names, hours(night_c)), EGGS)[0]
    assert (four.exposed, four.spells) == (len(SPELLS), 7)
    one = cold_effect(night_c, 0.67)
    flags = np.zeros((1, DAYS))
    (line,) = egg_series(past_of(eggs, names), [flags] * 4)
    assert line.log_sd.min() > FARM_DAY_LOG_SD
    assert len(line.days) == len(set(line.days.tolist()))
    assert math.log(four.high / four.low) > 0.5 * math.log(one.high / one.low), "a farm's day is shared"


def test_a_night_that_was_cold_in_one_cage_is_none_of_the_others() -> None:
    """The second cage stands a little warmer: three nights were cold in the first alone."""
    first, second = nights(SPELLS), nights(SPELLS[3:])
    names = ("cage-1", "cage-2")
    eggs = [*cage("cage-1", first, 0.6, 1), *cage("cage-2", second, 0.6, 2)]
    air = {"cage-1": hours(first), "cage-2": hours(second)}
    found = climate_effects(past_of(eggs, names), (), air, EGGS)[0]
    assert found.exposed == len(SPELLS)
    after = {day for night in SPELLS for day in (night, night + 1)}
    # The day after the nights of the first cage alone is a better one of the second.
    assert found.others == len(set(range(29, DAYS)) - after) + 2


def test_when_flies_lay_goes_by_the_warmth_but_not_how_much() -> None:
    """So that the curve, which forecasts apply, is not told twice: a cool cage should give as much."""
    put_in = np.zeros(DAYS)
    put_in[30::7] = 500.0
    totals = {}
    for warmth in (22.0, 28.0):
        flies = [CageFlies("cage-1", put_in, np.zeros((1, DAYS)), np.full(DAYS, warmth))]
        past = expected_past(Takings(), flies, FLY, GRID)
        totals[warmth] = past.laid[0][60:100].sum()
    assert totals[22.0] == pytest.approx(totals[28.0], rel=0.05)


def test_the_chance_to_be_wrong_is_shared_among_what_is_compared() -> None:
    """A z that would do alone does not do among others; weights say who gets more of it."""
    limits = {Made.HATCH: Limits(dry_percent=45.0, cold_c=22.0)}
    spans, climate = trays(0.82)
    alone = hatch(spans, climate, {Made.HATCH: Limits(dry_percent=45.0)})
    both = hatch(spans, climate, limits)
    assert alone.data_z == pytest.approx(both.data_z, rel=0.3)
    found = [
        effects_module._Found(each, None, Cases(9, 40, 5), -0.5, 0.1, -z)
        for each, z in zip(COMPARISONS[:4], (2.1, 2.1, 2.1, 2.1), strict=True)
    ]
    said = [each.is_said for each in effects_module._judged(found)]
    assert said == [True, False, False, False]
    sure = effects_module._judged([replace(each, data_z=-4.0) for each in found])
    assert all(each.is_said for each in sure)
    lone = effects_module._judged([replace(found[1], data_z=-1.9)])
    assert lone[0].is_said, "one alone has all of it"
    wrong_way = effects_module._judged([replace(each, data_z=4.0, log_ratio=0.5) for each in found])
    assert not any(each.is_said for each in wrong_way)


def trays(left: float, seed: int = 2) -> tuple[list[Span], dict[str, PlaceHours]]:
    """A tray is set every second day; every fifth of them stands dry for a day."""
    random = np.random.default_rng(seed)
    humidity = np.full(DAYS * 24, 65.0)
    spans = []
    for number, day in enumerate(range(2, 110, 2)):
        dry = number % 8 == 3
        if dry:
            humidity[day * 24 : day * 24 + 24] = 30.0
    still = np.full(DAYS * 24, 26.0)
    for day in range(2, 110, 2):
        span = humidity[day * 24 : day * 24 + 96]
        share = 0.75 * math.exp(0.1 * random.standard_normal()) * (left if (span < 45.0).sum() >= 12 else 1.0)
        at = FIRST_MS + day * MS_PER_DAY
        spans.append(Span(Made.HATCH, "tray-1", at, at + 4 * MS_PER_DAY, min(share, 1.0), 12.0))
    return spans, {"tray-1": PlaceHours(FIRST_MS, still, humidity, np.full(DAYS * 24, np.nan))}


def hatch(spans: list[Span], climate: dict[str, PlaceHours], limits: dict[Made, Limits]) -> Effect:
    found = climate_effects(past_of([]), spans, climate, limits)
    return next(each for each in found if each.comparison.condition is Condition.DRY_HOURS)


def test_dry_hours_on_the_tray_are_found_in_the_hatch() -> None:
    limits = {Made.HATCH: Limits(dry_percent=45.0)}
    found = hatch(*trays(0.6), limits)
    assert found.is_said
    assert found.middle == pytest.approx(0.6, abs=0.08)
    assert not hatch(*trays(1.0), limits).is_said
    spans, climate = trays(0.6)
    silent = {"tray-1": replace(climate["tray-1"], humidity_percent=np.full(DAYS * 24, np.nan))}
    unheard = hatch(spans, silent, limits)
    assert (unheard.verdict, unheard.exposed, unheard.others) == (Verdict.TOO_FEW, 0, 0)


def test_heat_in_a_feeding_bin_needs_much_to_be_said_and_a_slip_of_the_unit_is_no_loss() -> None:
    """Larvae flee; published bins stood 24 to 56 h above 40 °C with the usual yield."""

    def harvests(left: float, kilograms: int = -1) -> tuple[list[Span], dict[str, PlaceHours]]:
        random = np.random.default_rng(4)
        warmth, spans = np.full(DAYS * 24, 32.0), []
        for number, day in enumerate(range(0, 108, 3)):
            hot = number % 5 == 2
            if hot:
                warmth[day * 24 : day * 24 + 30] = 41.0
        for number, day in enumerate(range(0, 108, 3)):
            hot = (warmth[day * 24 : day * 24 + 72] > 38.0).sum() >= 24
            kg = 0.24 * math.exp(0.08 * random.standard_normal()) * (left if hot else 1.0)
            kg *= 1000.0 if number == kilograms else 1.0
            at = FIRST_MS + day * MS_PER_DAY
            spans.append(Span(Made.HARVEST, "bin-1", at, at + 3 * MS_PER_DAY, kg, 5.0))
        still = np.full(DAYS * 24, np.nan)
        return spans, {"bin-1": PlaceHours(FIRST_MS, warmth, still, still)}

    limits = {Made.HARVEST: Limits(hot_c=38.0)}

    def told(left: float, kilograms: int = -1) -> Effect:
        found = climate_effects(past_of([]), *harvests(left, kilograms), limits)
        return next(each for each in found if each.comparison.condition is Condition.HOT_HOURS)

    usual, worse = told(1.0), told(0.9)
    assert not usual.is_said and not worse.is_said
    assert usual.exposed >= 4
    assert told(0.6).is_said
    slipped = told(1.0, kilograms=7)
    assert slipped.exposed == usual.exposed - 1
    assert slipped.middle == pytest.approx(usual.middle, abs=0.03)


def test_costs_are_what_bad_hours_took_of_late_as_a_range() -> None:
    night_c = nights(SPELLS)
    eggs = cage("cage-1", night_c, 0.67, 1)
    past, air = past_of(eggs), {"cage-1": hours(night_c)}
    effect = climate_effects(past, (), air, EGGS)[0]
    since = FIRST_MS + 90 * MS_PER_DAY
    amounts, shares = hit(effect, past, (), air, EGGS, since)
    assert len(amounts) == 30
    assert np.count_nonzero(shares > 0.5) == 6, "90, 97 and 98, 105 to 107"
    found = lost(amounts, shares, (effect.low, effect.middle, effect.high), 2.5)
    true = 20.0 * 0.33 * 6
    assert found.low < found.middle < found.high
    assert found.low < true < found.high
    assert found.money == pytest.approx((2.5 * found.low, 2.5 * found.middle, 2.5 * found.high))
    assert lost(amounts, shares, (0.5, 0.6, 0.7), None).money is None
    none = lost(amounts, np.zeros(30), (0.5, 0.6, 0.7), 1.0)
    assert (none.high, none.takings) == (0.0, 0)
    spans, climate = trays(0.6)
    limits = {Made.HATCH: Limits(dry_percent=45.0)}
    dry = hatch(spans, climate, limits)
    grams, such = hit(dry, past, spans, climate, limits, FIRST_MS)
    assert len(grams) == len(spans)
    assert such.sum() == dry.exposed
    assert grams == pytest.approx([12.0 * each.amount for each in spans])
    slipped = [replace(each, grams=1000.0 * each.grams) if each.entry_id == 108 else each for each in eggs]
    doubted = past_of(slipped)
    assert hit(effect, doubted, (), air, EGGS, since)[0].max() < 100.0


def test_a_limit_is_offered_where_nights_beyond_it_took_eggs_and_none_where_they_did_not() -> None:
    """Below 22 °C a third is gone; where nights of 22 to 23 °C took as much, 23 °C would be supported."""
    mild = [33, 45, 46, 57, 68, 69, 80, 93, 101, 112, 113]
    night_c = nights(SPELLS)
    night_c[mild] = 22.5
    for reach, offered in ((23.0, 23.0), (22.0, None)):
        took = night_c < reach
        after = took | np.r_[False, took[:-1]]
        random = np.random.default_rng(9)
        grams = 20.0 * np.exp(0.12 * random.standard_normal(DAYS)) * np.where(after, 0.65, 1.0)
        eggs = [
            EggsCollected(
                at_ms=FIRST_MS + day * MS_PER_DAY + 17 * MS_PER_HOUR, place="cage-1", grams=float(amount)
            )
            for day, amount in enumerate(grams.tolist())
        ]
        past, air = past_of(eggs), {"cage-1": hours(night_c)}
        effect = climate_effects(past, (), air, EGGS)[0]
        assert effect.is_said
        found = supported_limit(effect, past, air, EGGS[Made.EGGS])
        assert (None if found is None else found.offered_c) == offered
        if found is not None:
            assert found.now_c == 22.0
            assert found.warns_more
            assert found.exposed == len(mild)
            worse = {day for night in (*SPELLS, *mild) for day in (night, night + 1)}
            assert found.others == len(set(range(29, DAYS)) - worse), "better than both limits"
            assert found.middle == pytest.approx(0.65, abs=0.1)
    unsaid = replace(effect, verdict=Verdict.NOT_SURE)
    assert supported_limit(unsaid, past, air, EGGS[Made.EGGS]) is None


def test_a_milder_limit_is_offered_where_the_first_degree_took_nothing() -> None:
    night_c = nights(SPELLS, 19.0)
    mild = [30, 33, 36, 45, 48, 56, 57, 66, 68, 69, 71, 80, 83, 93, 95, 101, 110, 112, 114]
    night_c[mild] = 21.5
    after = (night_c < 21.0) | np.r_[False, (night_c < 21.0)[:-1]]
    random = np.random.default_rng(5)
    grams = 20.0 * np.exp(0.06 * random.standard_normal(DAYS)) * np.where(after, 0.4, 1.0)
    eggs = [
        EggsCollected(at_ms=FIRST_MS + d * MS_PER_DAY + 17 * MS_PER_HOUR, place="cage-1", grams=float(g))
        for d, g in enumerate(grams.tolist())
    ]
    past, air = past_of(eggs), {"cage-1": hours(night_c)}
    effect = climate_effects(past, (), air, EGGS)[0]
    assert effect.is_said
    found = supported_limit(effect, past, air, EGGS[Made.EGGS])
    assert found is not None
    assert (found.now_c, found.offered_c, found.warns_more) == (22.0, 21.0, False)
    assert found.low > 1.0 - WORTH_SHARE
    took = [
        replace(each, grams=each.grams * 0.4) if number in mild and not after[number] else each
        for number, each in enumerate(eggs)
    ]
    effect = climate_effects(past_of(took), (), air, EGGS)[0]
    assert effect.is_said
    assert supported_limit(effect, past_of(took), air, EGGS[Made.EGGS]) is None


def test_a_farm_without_sensors_or_without_eggs_is_told_nothing() -> None:
    assert climate_effects(past_of([]), (), {}, LIMITS) == ()
    eggs = cage("cage-1", nights(SPELLS), 0.5, 1)
    assert climate_effects(past_of(eggs), (), {}, LIMITS) == ()
    assert not any(
        each.is_said for each in climate_effects(past_of([]), (), {"cage-1": hours(nights(SPELLS))}, EGGS)
    )


def test_the_same_farm_is_told_the_same() -> None:
    farm = judged_farm(7, Effects(cold_nights=0.3))
    assert found_on(farm, 60) == found_on(farm, 60)
