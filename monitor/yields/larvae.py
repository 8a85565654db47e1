"""Kilograms of larvae to come: each bin with the day on which it is best taken, and the farm by week.

A bin gives a share of its feed. That share, how long a filling lasts and how often one is filled are learned
from the fillings that are over. The day is best while few larvae have darkened: those crawl away, weigh less
and feed no more.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from monitor.bins.harvest import HarvestOutlook, LarvaeKg
from monitor.climate.arrays import NORMAL_QUANTILE_90, FloatArray
from monitor.development.courses import CohortCourses
from monitor.development.events import Event, time_of_share
from monitor.development.rates import SpeciesParameters
from monitor.records import MS_PER_DAY
from monitor.yields.records import LarvaeUse, Takings

CONVERSION, CONVERSION_LOG_SD = 0.24, 0.35
"""Wet kilograms of larvae for each of wet feed [kg/kg]; log-sd between farms [1]. Source: own choice:
0.22-0.28 in crates of chicken feed and food waste (Fuhrmann et al. 2024, open data), wider than the 0.2
between those, since other feeds give less: 0.08 dry of vegetables and manure."""

BIN_LOG_SD, BIN_STRENGTH = 0.12, 4.0
"""Log-sd of the harvest of like bins [1], and for how many bins that counts. Source: 0.06-0.07 between crates
of even feed, 0.16 of uneven (same open data); own choice."""

DARK_SHARE, SAFE_CHANCE = 0.1, 0.8
"""A bin is taken while, with this chance, not more than so many of its larvae are prepupae [1]. Source: own
choice: the peak falls with the first prepupae, which weigh 21-24 % less (ReproLab's common garden, open
data)."""

USUAL_DAYS, USUAL_DAYS_SD = 13.0, 3.0
"""Days from filling to harvest where none is known yet [d]. Source: own choice: first prepupae on day 13.3
from larvae of 2 mg (same open data), 6-10 d to the peak in hot crates."""

SLIP_FACTOR = 4.0
"""A harvest that is off by more than this from the others is not learned from [1]. Source: own choice: the
slips of a unit are 10 and 1000."""

FEEDING_DAYS, UNFED_LOG_SD = 9.0, 0.4
"""Days in which a filling is fed, between all at once and evenly, and the log-sd of what is still to come
[d], [1]. Source: own choice; only where no filling is over yet."""

DRAWS = 400
LEAST_PAST = 3
LOW, MIDDLE, HIGH = 0.1, 0.5, 0.9


@dataclass(frozen=True, slots=True)
class Kilograms:
    """Kilograms of larvae from `from_ms` on to `to_ms`: median and 80 % window."""

    from_ms: int
    to_ms: int
    low: float
    median: float
    high: float


@dataclass(frozen=True, slots=True, eq=False)
class BinCase:
    """A bin with larvae in it: what the balance says of its harvest, and when a tenth of its larvae are dark
    in each course of its cohort, shape (courses,) [ms since 1970 UTC]; None where nobody knows."""

    place: str
    filling_ms: int
    outlook: HarvestOutlook | None = None
    dark_ms: FloatArray | None = None


@dataclass(frozen=True, slots=True)
class BinHarvest:
    """What a bin will give, and the day on which it is best taken with its 80 % window.

    `is_late` says that more than a few larvae are dark by now.
    """

    place: str
    filling_ms: int
    best_ms: int
    low_ms: int
    high_ms: int
    kg: LarvaeKg
    is_late: bool


@dataclass(frozen=True, slots=True)
class Conversion:
    """Wet kilograms of larvae for one of wet feed with its 80 % window [kg/kg]; `fillings` tell of it."""

    low: float
    median: float
    high: float
    fillings: int


@dataclass(frozen=True, slots=True)
class LarvaeForecast:
    """The bins that are filled, and the weeks from today on. Weeks go on with fillings as they came before,
    where `goes_on`; else they hold the bins alone. `doubted` are harvests that were not learned from."""

    bins: tuple[BinHarvest, ...]
    weeks: tuple[Kilograms, ...]
    conversion: Conversion
    goes_on: bool
    doubted: tuple[int, ...]


@dataclass(frozen=True, slots=True, eq=False)
class _Past:
    """Fillings that are over: ln of conversion, days, feed [kg], shape (n,); days between fillings."""

    log_conversion: FloatArray
    days: FloatArray
    feed_kg: FloatArray
    gaps_days: FloatArray
    shares: tuple[FloatArray, ...]
    doubted: tuple[int, ...]


def dark_ms(courses: CohortCourses, species: SpeciesParameters, early_log_sd: float) -> FloatArray:
    """When a tenth of the larvae of a cohort are prepupae in each course, shape (courses,) [ms]."""
    half_ms = courses.event_ms(Event.HALF_PREPUPAE, species, early_log_sd)
    return time_of_share(courses.track.origin_ms, half_ms, early_log_sd, DARK_SHARE)


def open_fillings(takings: Takings) -> tuple[tuple[str, int], ...]:
    """Place and start of the fillings that are not over: the last of each bin, with nothing taken for sale or
    feed and no residue written."""
    last: dict[str, int] = {}
    begun = [(each.place, each.filling_ms) for each in takings.feed]
    begun += [(each.place, each.filling_ms) for each in takings.larvae_in]
    for place, filling_ms in begun:
        last[place] = max(last.get(place, filling_ms), filling_ms)
    over = {(each.place, each.filling_ms) for each in takings.residues}
    over |= {(e.place, e.filling_ms) for e in takings.larvae_out if e.use is not LarvaeUse.BREEDING}
    return tuple(sorted(pair for pair in last.items() if pair not in over))


def forecast_larvae(
    takings: Takings, cases: Sequence[BinCase], now_ms: int, day_origin_ms: int, weeks: int = 8, seed: int = 1
) -> LarvaeForecast:
    """Kilograms of the bins that are filled and of the weeks to come.

    `day_origin_ms` is any local midnight. The same call twice gives the same answer.

    Source: conjugate normal updating of the conversion; own choice of the rest.
    """
    past, generator = _past(takings), np.random.default_rng(seed)
    mean, sd, bin_sd = _learned_conversion(past.log_conversion)
    farm = mean + sd * generator.standard_normal(DRAWS)
    draws = _Draws(farm, bin_sd, generator)
    today_ms = now_ms - (now_ms - day_origin_ms) % MS_PER_DAY
    kg = np.zeros((DRAWS, weeks))
    bins = []
    for case in cases:
        leaves_ms = _leaves_ms(case, past, now_ms, draws)
        each = _kg(case, takings, past, now_ms, draws)
        _add(kg, leaves_ms, each, today_ms)
        bins.append(_harvest(case, leaves_ms, each, now_ms, today_ms))
    goes_on = len(past.feed_kg) >= LEAST_PAST and len(past.gaps_days) >= LEAST_PAST
    if goes_on:
        _go_on(kg, takings, past, now_ms, today_ms, draws)
    low, median, high = np.exp(mean + NORMAL_QUANTILE_90 * sd * np.array([-1.0, 0.0, 1.0])).tolist()
    return LarvaeForecast(
        bins=tuple(sorted(bins, key=lambda found: found.best_ms)),
        weeks=_weeks(kg, today_ms),
        conversion=Conversion(low, median, high, len(past.log_conversion)),
        goes_on=goes_on,
        doubted=past.doubted,
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Draws:
    """The farm's ln of conversion, shape (draws,), the log-sd of a bin around it, and random numbers."""

    farm: FloatArray
    bin_log_sd: float
    generator: np.random.Generator


def _past(takings: Takings) -> _Past:
    fed: dict[tuple[str, int], list[tuple[int, float]]] = {}
    for portion in takings.feed:
        fed.setdefault((portion.place, portion.filling_ms), []).append((portion.at_ms, portion.kg))
    out: dict[tuple[str, int], tuple[int, float, list[int]]] = {}
    for each in takings.larvae_out:
        at_ms, kg, entries = out.get((each.place, each.filling_ms), (0, 0.0, []))
        own = [] if each.entry_id is None else [each.entry_id]
        out[each.place, each.filling_ms] = max(at_ms, each.at_ms), kg + each.kg, entries + own
    still = set(open_fillings(takings))
    over = sorted((key for key in out.keys() & fed.keys() if key not in still), key=lambda key: key[1])
    feed_kg = np.array([sum(kg for _, kg in fed[key]) for key in over])
    larvae_kg = np.array([out[key][1] for key in over])
    logs = np.log(np.maximum(larvae_kg, 1e-9) / np.maximum(feed_kg, 1e-9))
    middle = float(np.median(np.concatenate([logs, np.full(3, math.log(CONVERSION))])))
    kept = np.abs(logs - middle) < math.log(SLIP_FACTOR)
    starts = np.sort(np.array([start_ms for _, start_ms in fed], dtype=np.float64))
    return _Past(
        log_conversion=logs[kept],
        days=np.array([(out[key][0] - key[1]) / MS_PER_DAY for key in over]),
        feed_kg=feed_kg,
        gaps_days=np.diff(starts) / MS_PER_DAY,
        shares=tuple(_fed_by_day(fed[key], key[1]) for key in over),
        doubted=tuple(
            entry for key, fine in zip(over, kept.tolist(), strict=True) if not fine for entry in out[key][2]
        ),
    )


def _fed_by_day(portions: Sequence[tuple[int, float]], filling_ms: int, days: int = 40) -> FloatArray:
    """Share of the feed of a filling that was given by the end of each of its days, shape (days,)."""
    given = np.zeros(days)
    for at_ms, kg in portions:
        given[min(max((at_ms - filling_ms) // MS_PER_DAY, 0), days - 1)] += kg
    return np.asarray(np.cumsum(given) / max(given.sum(), 1e-9))


def _learned_conversion(logs: FloatArray) -> tuple[float, float, float]:
    """Mean and standard deviation of the farm's ln of conversion, and the log-sd of its bins around it."""
    if not len(logs):
        return math.log(CONVERSION), CONVERSION_LOG_SD, BIN_LOG_SD
    scatter = float(((logs - logs.mean()) ** 2).sum())
    bin_sd = math.sqrt((BIN_STRENGTH * BIN_LOG_SD**2 + scatter) / (BIN_STRENGTH + len(logs) - 1))
    precision = 1.0 / CONVERSION_LOG_SD**2 + len(logs) / bin_sd**2
    mean = (math.log(CONVERSION) / CONVERSION_LOG_SD**2 + float(logs.sum()) / bin_sd**2) / precision
    return mean, 1.0 / math.sqrt(precision), bin_sd


def _leaves_ms(case: BinCase, past: _Past, now_ms: int, draws: _Draws) -> FloatArray:
    """When a bin is taken in each draw, not before now, shape (draws,) [ms]."""
    random = draws.generator
    if case.dark_ms is not None and np.isfinite(case.dark_ms).sum() * 2 > len(case.dark_ms):
        known = case.dark_ms[np.isfinite(case.dark_ms)]
        return np.maximum(random.choice(known, DRAWS), float(now_ms))
    age = (now_ms - case.filling_ms) / MS_PER_DAY
    days = USUAL_DAYS + USUAL_DAYS_SD * random.standard_normal(DRAWS)
    if len(past.days) >= LEAST_PAST:
        days = _days_as_before(past, random)
    later = days[days > age]
    days = random.choice(later, DRAWS) if len(later) else age + np.abs(random.standard_normal(DRAWS))
    return np.asarray(case.filling_ms + days * MS_PER_DAY)


def _days_as_before(past: _Past, random: np.random.Generator) -> FloatArray:
    """Days of a filling drawn from those of the past, smoothed by Silverman's rule, shape (draws,)."""
    width = 0.9 * float(past.days.std()) * len(past.days) ** -0.2
    return np.asarray(random.choice(past.days, DRAWS) + width * random.standard_normal(DRAWS))


def _kg(case: BinCase, takings: Takings, past: _Past, now_ms: int, draws: _Draws) -> FloatArray:
    """Kilograms of a bin in each draw: by its feed, or by its balance where that knows better."""
    random = draws.generator
    fed = [e for e in takings.feed if (e.place, e.filling_ms) == (case.place, case.filling_ms)]
    feed, feed_sd = _feed_in_all(sum(each.kg for each in fed), case, past, now_ms)
    own_sd = math.hypot(draws.bin_log_sd, feed_sd)
    normals = random.standard_normal(DRAWS)
    if case.outlook is not None:
        low, median, high = (max(kg, 1e-9) for kg in _of(case.outlook))
        sd = math.log(high / low) / (2.0 * NORMAL_QUANTILE_90)
        if feed <= 0.0 or sd < math.hypot(own_sd, float(draws.farm.std())):
            return np.asarray(median * np.exp(sd * normals))
    return np.asarray(feed * np.exp(draws.farm + own_sd * normals))


def _of(outlook: HarvestOutlook) -> tuple[float, float, float]:
    best = outlook.now if outlook.is_past else outlook.ripe
    return best.low, best.median, best.high


def _feed_in_all(kg: float, case: BinCase, past: _Past, now_ms: int) -> tuple[float, float]:
    """Feed of a filling by its end, with what is still to come as it was before [kg], and its log-sd [1]."""
    age = max((now_ms - case.filling_ms) / MS_PER_DAY, 0.0)
    if len(past.shares) < LEAST_PAST:
        left = max(1.0 - age / FEEDING_DAYS, 0.0)
        return kg / math.sqrt(1.0 - left + left / FEEDING_DAYS), UNFED_LOG_SD * left
    day = min(int(age), len(past.shares[0]) - 1)
    given = np.log(np.maximum([share[day] for share in past.shares], 0.05))
    return kg / math.exp(float(np.median(given))), float(given.std())


def _add(kg: FloatArray, at_ms: FloatArray, each_kg: FloatArray, today_ms: int) -> None:
    week = np.floor((at_ms - today_ms) / (7 * MS_PER_DAY)).astype(np.int64)
    inside = (week >= 0) & (week < kg.shape[1])
    kg[np.flatnonzero(inside), week[inside]] += each_kg[inside]


def _go_on(kg: FloatArray, takings: Takings, past: _Past, now_ms: int, today_ms: int, draws: _Draws) -> None:
    """Fillings to come, one after the other as in the past, are added to the weeks."""
    random, horizon_ms = draws.generator, today_ms + kg.shape[1] * 7 * MS_PER_DAY
    last_ms = max(each.filling_ms for each in takings.feed)
    at_ms = np.full(DRAWS, float(last_ms))
    while True:
        step = random.choice(past.gaps_days, DRAWS) * MS_PER_DAY
        at_ms = np.where(at_ms + step > now_ms, at_ms + step, now_ms + random.random(DRAWS) * step)
        if at_ms.min() > horizon_ms:
            return
        days = _days_as_before(past, random)
        noise = draws.bin_log_sd * random.standard_normal(DRAWS)
        each = random.choice(past.feed_kg, DRAWS) * np.exp(draws.farm + noise)
        _add(kg, at_ms + days * MS_PER_DAY, each, today_ms)
        at_ms = np.maximum(at_ms, float(now_ms) + 1.0)


def _harvest(case: BinCase, leaves_ms: FloatArray, kg: FloatArray, now_ms: int, today_ms: int) -> BinHarvest:
    low_ms, high_ms = np.quantile(leaves_ms, (LOW, HIGH)).tolist()
    safe_ms = float(np.quantile(leaves_ms, 1.0 - SAFE_CHANCE))
    if case.outlook is not None and case.outlook.ripe_ms is not None:
        safe_ms = min(safe_ms, float(case.outlook.ripe_ms))
    best_ms = max(safe_ms, float(now_ms))
    low, median, high = np.quantile(kg, (LOW, MIDDLE, HIGH)).tolist()
    each_mg = math.nan if case.outlook is None else case.outlook.ripe.each_mg
    late = case.dark_ms is not None and float(np.median(case.dark_ms)) < now_ms
    day_ms = int(best_ms - (best_ms - today_ms) % MS_PER_DAY)
    return BinHarvest(
        place=case.place,
        filling_ms=case.filling_ms,
        best_ms=day_ms,
        low_ms=int(low_ms),
        high_ms=int(high_ms),
        kg=LarvaeKg(low, median, high, each_mg),
        is_late=late,
    )


def _weeks(kg: FloatArray, today_ms: int) -> tuple[Kilograms, ...]:
    bands = np.quantile(kg, (LOW, MIDDLE, HIGH), axis=0).T.tolist()
    week_ms = 7 * MS_PER_DAY
    return tuple(
        Kilograms(today_ms + number * week_ms, today_ms + (number + 1) * week_ms, *band)
        for number, band in enumerate(bands)
    )
