"""What went with the climate: takings after such hours beside those after others, and whether it may be said.

Each taking is held against what its flies, eggs or feed should have given without the climate, as a log
ratio. All conditions of one kind of taking are looked at together, with noise of days that has a memory and a
level that drifts, so that ten cages in one cold week are one case and not ten. Nothing here says "caused".
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from itertools import pairwise
from statistics import NormalDist

import numpy as np

from monitor.climate.arrays import NORMAL_QUANTILE_90, FloatArray
from monitor.climate.regression import MEMORIES, Fit, Series, fitted
from monitor.records import MS_PER_DAY
from monitor.yields.exposure import (
    DRY_DAY_H,
    SPELL_GAP_DAYS,
    Cases,
    Condition,
    DayClimate,
    Limits,
    Made,
    PlaceHours,
    Span,
    at_least,
    cage_flags,
    day_climate,
    egg_series,
    exposed_shares,
    flag,
    night_cases,
    span_exposures,
    two_days,
)
from monitor.yields.forecast import ExpectedPast
from monitor.yields.laying import fecundity

PAST_DAYS = 365
"""Days that are looked back on [d]."""

WORTH_SHARE = 0.1
"""A change that is smaller is not worth doing anything about [1]. Source: own choice."""

NOMINAL_SHARE = 0.035
"""Farms that would be told of something that is not there, over all that is compared on one, were the noise
normal [1]. Source: own choice so that it is at most 5 % on simulated farms, none of them of the last run: the
tails of the noise are longer."""

LEAST_CASES: Mapping[Made, tuple[int, int]] = {
    Made.EGGS: (6, 12),
    Made.HATCH: (5, 8),
    Made.EMERGENCE: (4, 6),
    Made.HARVEST: (4, 6),
}
LEAST_SPELLS = 3
"""Cases that are needed after such hours and after others; separate spells of the first. Source: own
choice."""

CASE_LOG_SD: Mapping[Made, float] = {Made.HATCH: 0.2, Made.EMERGENCE: 0.2, Made.HARVEST: 0.12}
"""Log-sd of one case of like ones [1]. Source: hatch 0.19 of 0.74 between samples (ReproLab, open data, own
figure); harvests 0.06 to 0.16 between like crates (Fuhrmann et al. 2024, own figure); own choice of the
second."""
SLIP_FACTOR = 5.0
"""A harvest that is off from the usual by more is a slip of the unit [1]. Source: own choice."""
LEAST_HATCH = 0.03
"""Added to a share before its logarithm is taken [1]. Source: own choice."""


@dataclass(frozen=True, slots=True)
class Comparison:
    """Takings after such hours against others.

    `log_ratio` and `log_sd` are what is expected before anything was collected [1]; None: by the curve of
    eggs by temperature, `log_sd` around it. `weight` is its part of the chance to be wrong; `hours` make a
    tray, a box or a bin one of such [h].
    """

    made: Made
    condition: Condition
    log_ratio: float | None
    log_sd: float
    weight: float = 1.0
    hours: float = 0.0


COMPARISONS = (
    # The curve is one of constant temperatures, a fit to few data; a night is a part of a day.
    Comparison(Made.EGGS, Condition.COLD_NIGHTS, None, 0.8, weight=4.0),
    Comparison(Made.EGGS, Condition.HOT_DAYS, None, 0.8),
    # Laying goes with humidity and light together with much else (Tomberlin & Sheppard 2002, abstract).
    Comparison(Made.EGGS, Condition.DRY_DAYS, 0.0, 0.5, hours=DRY_DAY_H),
    Comparison(Made.EGGS, Condition.DULL_DAYS, 0.0, 0.5),
    # That dry air dries eggs is known; its slope is from a paper that we have not read, so it is not used.
    Comparison(Made.HATCH, Condition.DRY_HOURS, 0.0, 0.7, weight=3.0, hours=12.0),
    Comparison(Made.HATCH, Condition.COLD_HOURS, 0.0, 0.4, hours=12.0),
    # Pupae cannot flee; no dose was found in print.
    Comparison(Made.EMERGENCE, Condition.HOT_HOURS, 0.0, 0.5, hours=12.0),
    Comparison(Made.EMERGENCE, Condition.DRY_HOURS, 0.0, 0.5, hours=48.0),
    # Larvae are smaller when cool (crates at 20-26 °C: half the mass, mycotoxin maize, open data).
    Comparison(Made.HARVEST, Condition.COLD_HOURS, 0.0, 0.4, hours=48.0),
    # 24 to 56 h above 40 °C at the logger with the usual yield (Alciatore 2024, open data): larvae move.
    Comparison(Made.HARVEST, Condition.HOT_HOURS, 0.0, 0.1, hours=24.0),
)
"""What is compared. All log-sds and weights are own choices; wide where nothing is known."""


class Verdict(StrEnum):
    """Why something is said or not."""

    SAID = "said"
    TOO_FEW = "too_few"
    NOT_SURE = "not_sure"
    NOT_WORTH = "not_worth"


@dataclass(frozen=True, slots=True)
class Effect:
    """What went with such hours: factor of the takings with its 80 % interval [1], and on how many cases.

    `exposed` nights, days, trays, boxes or bins after such hours stand against `others`; the first came in
    `spells` separate times. `limit` is the temperature [°C] or humidity [%RH] beyond which an hour counts,
    None where none does. Of too few cases the factor is what was expected before.
    """

    comparison: Comparison
    limit: float | None
    low: float
    middle: float
    high: float
    exposed: int
    others: int
    spells: int
    verdict: Verdict
    data_z: float = 0.0

    @property
    def is_said(self) -> bool:
        """Whether a person may be told."""
        return self.verdict is Verdict.SAID


def curve_ratio(days: Sequence[tuple[DayClimate, FloatArray]], which: int) -> float:
    """Log ratio of eggs on such days against others by the published curve of eggs by temperature [1]."""
    eggs = np.concatenate([np.log(fecundity(each.day_c)) for each, _ in days])
    over = np.concatenate([two_days(flags[which]) for _, flags in days])
    such, others = (over > 0.5) & np.isfinite(eggs), (over < 0.5) & np.isfinite(eggs)
    if not such.any() or not others.any():
        return 0.0
    return float(eggs[such].mean() - eggs[others].mean())


# Hatch, emergence and harvest by case.


def span_flag(
    spans: Sequence[Span], climate: Mapping[str, PlaceHours], limits: Limits, what: Comparison
) -> FloatArray:
    """Whether each span had so many such hours: 1, 0 or nan, shape (n,)."""
    found = np.full(len(spans), np.nan)
    for place in {each.place for each in spans} & set(climate):
        at = [number for number, each in enumerate(spans) if each.place == place]
        rows = span_exposures([spans[number] for number in at], climate[place], limits)
        hours, silent = {
            Condition.COLD_HOURS: (rows.cold_hours, rows.silent_hours),
            Condition.HOT_HOURS: (rows.heat_hours, rows.silent_hours),
            Condition.DRY_HOURS: (rows.dry_hours, rows.silent_humidity_hours),
        }[what.condition]
        found[at] = at_least(hours, silent, what.hours)
    return found


def span_cases(days: FloatArray, flag: FloatArray) -> Cases:
    """Cases of each kind, and separate spells of the first; days in order."""
    at = days[flag > 0.5]
    spells = int((np.diff(at) > SPELL_GAP_DAYS).sum()) + bool(len(at))
    return Cases(len(at), int(np.count_nonzero(flag < 0.5)), spells)


# What may be said.


@dataclass(frozen=True, slots=True)
class _Found:
    """A comparison before it is judged; `fit` is None where there are too few cases."""

    comparison: Comparison
    limit: float | None
    cases: Cases
    log_ratio: float
    log_sd: float
    data_z: float | None

    @property
    def high(self) -> float:
        """Upper end of the interval, as a factor [1]."""
        return math.exp(self.log_ratio + NORMAL_QUANTILE_90 * self.log_sd)

    @property
    def low(self) -> float:
        return math.exp(self.log_ratio - NORMAL_QUANTILE_90 * self.log_sd)


def climate_effects(
    past: ExpectedPast,
    spans: Sequence[Span],
    climate: Mapping[str, PlaceHours],
    limits: Mapping[Made, Limits],
) -> tuple[Effect, ...]:
    """Everything that is compared on a farm, with what may be said of it."""
    found = _egg_effects(past, climate, limits.get(Made.EGGS, Limits()))
    for made in CASE_LOG_SD:
        mine = sorted((each for each in spans if each.made is made), key=lambda each: each.until_ms)
        found += _span_effects(made, mine, climate, limits.get(made, Limits()))
    return _judged(found)


def _is_enough(made: Made, cases: Cases) -> bool:
    exposed, others = LEAST_CASES[made]
    return cases.exposed >= exposed and cases.others >= others and cases.spells >= LEAST_SPELLS


def _limit_of(condition: Condition, limits: Limits) -> float | None:
    return {
        Condition.COLD_NIGHTS: limits.cold_c,
        Condition.COLD_HOURS: limits.cold_c,
        Condition.HOT_DAYS: limits.hot_c,
        Condition.HOT_HOURS: limits.hot_c,
        Condition.DRY_DAYS: limits.dry_percent,
        Condition.DRY_HOURS: limits.dry_percent,
    }.get(condition)


def egg_days(
    past: ExpectedPast, climate: Mapping[str, PlaceHours], limits: Limits
) -> list[DayClimate | None]:
    """Days of each cage, None where it has no sensor."""
    return [day_climate(climate[cage], past.grid, limits) if cage in climate else None for cage in past.cages]


def _egg_effects(past: ExpectedPast, climate: Mapping[str, PlaceHours], limits: Limits) -> list[_Found]:
    days = egg_days(past, climate, limits)
    by_cage = [None if each is None else cage_flags(each, limits) for each in days]
    known = [each for each in by_cage if each is not None]
    wanted = [
        each
        for each in COMPARISONS
        if each.made is Made.EGGS and known and all(_is_known(flags.get(each.condition)) for flags in known)
    ]
    stacked = [
        None if each is None else np.array([each[one.condition] for one in wanted]) for each in by_cage
    ]
    return _compared(past, days, wanted, stacked, limits) if wanted else []


def _compared(
    past: ExpectedPast,
    days: Sequence[DayClimate | None],
    wanted: Sequence[Comparison],
    flags: Sequence[FloatArray | None],
    limits: Limits,
) -> list[_Found]:
    """Some conditions of the days of cages, all of those with enough cases together."""
    cases = [night_cases(past, flags, number) for number in range(len(wanted))]
    sure = [number for number, each in enumerate(cases) if _is_enough(Made.EGGS, each)]
    pairs = [
        (day, mine) for day, mine in zip(days, flags, strict=True) if day is not None and mine is not None
    ]
    priors = [
        (curve_ratio(pairs, number) if each.log_ratio is None else each.log_ratio, each.log_sd)
        for number, each in enumerate(wanted)
    ]
    kept = [None if each is None else each[sure] for each in flags]
    fit = _fit(egg_series(past, kept) if sure else [], [priors[each] for each in sure], MEMORIES)
    return _found(wanted, limits, cases, priors, sure, fit)


def _is_known(flag: FloatArray | None) -> bool:
    """Whether enough of the days are known to look at a condition at all."""
    return flag is not None and np.isfinite(flag).sum() >= sum(LEAST_CASES[Made.EGGS])


def _span_effects(
    made: Made, spans: Sequence[Span], climate: Mapping[str, PlaceHours], limits: Limits
) -> list[_Found]:
    wanted = [
        each
        for each in COMPARISONS
        if each.made is made and spans and _limit_of(each.condition, limits) is not None
    ]
    days = np.array([each.until_ms / MS_PER_DAY for each in spans])
    amounts = np.array([each.amount for each in spans])
    floor = 0.0 if made is Made.HARVEST else LEAST_HATCH
    ratio = np.log(amounts + floor) - np.log(np.median(amounts) + floor) if len(spans) else amounts
    believed = (np.abs(ratio) < math.log(SLIP_FACTOR)) | (made is not Made.HARVEST)
    flags = [np.where(believed, span_flag(spans, climate, limits, each), np.nan) for each in wanted]
    cases = [span_cases(days, flag) for flag in flags]
    sure = [number for number, each in enumerate(cases) if _is_enough(made, each)]
    series = []
    if sure:
        exposed = np.column_stack([flags[number] for number in sure])
        some = np.isfinite(exposed).all(axis=1)
        log_sd = np.full(len(spans), CASE_LOG_SD[made])
        series = [Series(days[some], ratio[some], log_sd[some], exposed[some])]
    priors = [(each.log_ratio or 0.0, each.log_sd) for each in wanted]
    fit = _fit(series, [priors[each] for each in sure], (0.0,))
    return _found(wanted, limits, cases, priors, sure, fit)


def _fit(
    series: Sequence[Series], priors: Sequence[tuple[float, float]], memories: Sequence[float]
) -> Fit | None:
    if not priors or not sum(len(each.days) for each in series):
        return None
    mean, sd = np.array(priors).T
    return fitted([each for each in series if len(each.days)], mean, sd, memories)


def _found(
    wanted: Sequence[Comparison],
    limits: Limits,
    cases: Sequence[Cases],
    priors: Sequence[tuple[float, float]],
    sure: Sequence[int],
    fit: Fit | None,
) -> list[_Found]:
    found = []
    for number, each in enumerate(wanted):
        middle, sd, data_z = *priors[number], None
        if fit is not None and number in sure:
            at = sure.index(number)
            middle, sd = float(fit.mean[at]), math.sqrt(float(fit.variance[at]))
            data_z = float(fit.data_z[at])
        found.append(_Found(each, _limit_of(each.condition, limits), cases[number], middle, sd, data_z))
    return found


def _judged(found: Sequence[_Found]) -> tuple[Effect, ...]:
    """With a verdict: the chance to be wrong of a farm is shared out among what is compared on it.

    Source: weighted procedure of Holm 1979 (step down), from memory.
    """
    open_ones = sorted(
        (each for each in found if each.data_z is not None),
        key=lambda each: NormalDist().cdf(each.data_z or 0.0) / each.comparison.weight,
    )
    stands: list[_Found] = []
    for number, each in enumerate(open_ones):
        left = sum(one.comparison.weight for one in open_ones[number:])
        if NormalDist().cdf(each.data_z or 0.0) > NOMINAL_SHARE * each.comparison.weight / left:
            break
        stands.append(each)
    return tuple(_effect(each, each in stands) for each in found)


def _effect(found: _Found, stands: bool) -> Effect:
    verdict = Verdict.NOT_SURE
    if found.data_z is None:
        verdict = Verdict.TOO_FEW
    elif found.low > 1.0 - WORTH_SHARE and found.high < 1.0 / (1.0 - WORTH_SHARE):
        verdict = Verdict.NOT_WORTH
    elif stands and found.high < 1.0 - WORTH_SHARE:
        verdict = Verdict.SAID
    cases = found.cases
    return Effect(
        comparison=found.comparison,
        limit=found.limit,
        low=found.low,
        middle=math.exp(found.log_ratio),
        high=found.high,
        exposed=cases.exposed,
        others=cases.others,
        spells=cases.spells,
        verdict=verdict,
        data_z=found.data_z or 0.0,
    )


# What it cost, and which limit it would support.


def hit(
    effect: Effect,
    past: ExpectedPast,
    spans: Sequence[Span],
    climate: Mapping[str, PlaceHours],
    limits: Mapping[Made, Limits],
    since_ms: int,
) -> tuple[FloatArray, FloatArray]:
    """Takings since a moment that came after such hours: how much each was (grams of eggs, of eggs that
    hatched, flies, kg of larvae), and the share of it that came after them [1], both of shape (n,)."""
    what, mine = effect.comparison, limits.get(effect.comparison.made, Limits())
    if what.made is not Made.EGGS:
        late = [each for each in spans if each.made is what.made and each.until_ms >= since_ms]
        factor = [each.amount if what.made is Made.HATCH else 1.0 for each in late]
        amounts = np.array([each.mass for each in late]) * np.array(factor)
        return amounts, np.nan_to_num(span_flag(late, climate, mine, what))
    amounts, shares = [np.empty(0)], [np.empty(0)]
    for number, days in enumerate(egg_days(past, climate, mine)):
        found = past.collections[number]
        some = found.believed & (found.days >= past.grid.day_of(since_ms))
        if days is not None and what.condition in (flags := cage_flags(days, mine)):
            share = exposed_shares(past, number, flags[what.condition][None, :])[0]
            amounts.append(found.grams[some])
            shares.append(np.nan_to_num(share)[some])
    return np.concatenate(amounts), np.concatenate(shares)


@dataclass(frozen=True, slots=True)
class SupportedLimit:
    """Another limit that a farm's own eggs would support [°C]; nobody sets it but a person.

    Nights or days between the two limits stand against better ones: factor of the eggs with its 80 % interval
    [1], and cases. A limit that warns less often has `warns_more` false: next to nothing went with them.
    """

    condition: Condition
    now_c: float
    offered_c: float
    low: float
    middle: float
    high: float
    exposed: int
    others: int
    warns_more: bool


STEP_C, MOST_STEPS = 1.0, 2
"""How far limits are tried beside the present one [°C], and how often towards warning more. Own choice."""


def supported_limit(
    effect: Effect, past: ExpectedPast, climate: Mapping[str, PlaceHours], limits: Limits
) -> SupportedLimit | None:
    """What the eggs say of the limit of an effect that may be said; None: nothing else than the present one.

    Only after the effect itself stands, and step by step, so that no more false words come of it.
    """
    what = effect.comparison.condition
    if not effect.is_said or effect.limit is None or what not in (Condition.COLD_NIGHTS, Condition.HOT_DAYS):
        return None
    days = egg_days(past, climate, limits)
    found = _bands(effect, past, days, limits, [0.0, *(STEP_C * step for step in range(1, MOST_STEPS + 1))])
    furthest = None
    for step, each in enumerate(found[1:], start=1):
        if each.data_z is None or each.data_z > -_needed_z() or each.high >= 1.0 - WORTH_SHARE:
            break
        furthest = _offered(effect, each, step * STEP_C, warns_more=True)
    if furthest is not None:
        return furthest
    mild = _bands(effect, past, days, limits, [-STEP_C, 0.0])[-1]
    if mild.data_z is not None and mild.low > 1.0 - WORTH_SHARE:
        return _offered(effect, mild, -STEP_C, warns_more=False)
    return None


def _needed_z() -> float:
    return NormalDist().inv_cdf(1.0 - NOMINAL_SHARE)


def _bands(
    effect: Effect,
    past: ExpectedPast,
    days: Sequence[DayClimate | None],
    limits: Limits,
    edges: Sequence[float],
) -> list[_Found]:
    """Days beyond the first edge, then those between edges, each against all better ones; edges are from the
    limit towards the better side [K]."""
    is_cold = effect.comparison.condition is Condition.COLD_NIGHTS
    sign, limit = (1.0 if is_cold else -1.0), effect.limit or 0.0
    flags: list[FloatArray | None] = []
    for each in days:
        if each is None:
            flags.append(None)
            continue
        values = sign * ((each.night_c if is_cold else each.warmest_c) - limit)
        below = [flag(values < edge, values) for edge in edges]
        flags.append(np.array([below[0], *(after - before for before, after in pairwise(below))]))
    found = _compared(past, days, [effect.comparison] * len(edges), flags, limits)
    better = night_cases(
        past, [None if each is None else each.sum(axis=0, keepdims=True) for each in flags], 0
    )
    return [replace(each, cases=replace(each.cases, others=better.others)) for each in found]


def _offered(effect: Effect, found: _Found, step: float, *, warns_more: bool) -> SupportedLimit:
    limit = effect.limit or 0.0
    sign = 1.0 if effect.comparison.condition is Condition.COLD_NIGHTS else -1.0
    return SupportedLimit(
        condition=effect.comparison.condition,
        now_c=limit,
        offered_c=limit + sign * step,
        low=found.low,
        middle=math.exp(found.log_ratio),
        high=found.high,
        exposed=found.cases.exposed,
        others=found.cases.others,
        warns_more=warns_more,
    )
