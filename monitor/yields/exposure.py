"""The hours that made a collecting, a hatch, an emergence, a harvest: their warmth, damp, light, and silence.

Hourly arrays in, numbers out. A silent hour is unknown: never zero, never a mean. What a silent hour could
turn over stays unknown.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from monitor.climate.arrays import BoolArray, FloatArray, IntArray
from monitor.climate.regression import Series
from monitor.records import MS_PER_DAY, MS_PER_HOUR
from monitor.yields.forecast import LOT_SD_DAYS, ExpectedPast
from monitor.yields.laying import DayGrid
from monitor.yields.records import EggsCollected, LarvaeOut, PrepupaeOut, Takings
from monitor.yields.rhythm import HOLDS_DAYS, Collections

NIGHT_FROM_H, NIGHT_TO_H = 20, 6
"""The night, by the clock of the farm [h]. Source: own choice: dark in the tropics all year, no laying."""

LEAST_KNOWN = 0.75
"""A mean or an extreme needs so much of its hours known [1]. Source: own choice."""

NIGHTS_BEFORE = 2
"""Nights and days before a collecting that count with those since the last one [d]. Source: own choice."""

EGG_DAYS = 4
"""Days on the tray in which an egg can dry or chill [d]. Source: hatch in about 4 d (Zhang et al. 2010,
abstract)."""


DULL_SHARE = 0.75
"""A day is dull with less than this part of the usual hours of light [1]. Source: own choice."""
DRY_DAY_H = 6.0
"""A day is dry with so many hours below the limit [h]. Source: own choice."""
SPELL_GAP_DAYS = 3
"""Cases that lie further apart are separate spells [d]. Source: own choice."""
CAGE_DAY_LOG_SD, FARM_DAY_LOG_SD, STRAY = 0.36, 0.15, 0.12
"""Log-sd of one day of one cage and of one day of a farm; part of a usual day by which a day may be off [1].
Source: the first two together as `level.DAY_LOG_SD`; own choice of the parts."""
LEAST_HELD = 0.15
"""A collecting that should hold less than this part of a good day's eggs says nothing [1]. Source: own
choice."""
LITTLE = 0.01
"""Part of a good day's eggs that is added to both sides of a ratio [1]. Source: own choice."""
MOST_UNKNOWN = 0.1
"""A collecting of which more was laid on days of which nobody knows is left out [1]. Source: own choice."""
ALIKE = 0.3
"""Cages whose days differ in less than this part stand in one room [1]. Source: own choice."""


HALF_OUT_DAYS, OUT_DAYS = 4, 16
"""Days from the first flies of a box to half of them and to nearly all [d]. Source: 50 and 95 % by these days
in 48 boxes (ReproLab's common garden, open counts, own figure)."""


class Made(StrEnum):
    """What hours can have made."""

    EGGS = "eggs"
    HATCH = "hatch"
    EMERGENCE = "emergence"
    HARVEST = "harvest"


class Condition(StrEnum):
    """What hours can have been."""

    COLD_NIGHTS = "cold_nights"
    HOT_DAYS = "hot_days"
    DRY_DAYS = "dry_days"
    DULL_DAYS = "dull_days"
    COLD_HOURS = "cold_hours"
    HOT_HOURS = "hot_hours"
    DRY_HOURS = "dry_hours"


@dataclass(frozen=True, slots=True, eq=False)
class PlaceHours:
    """Hours of one place from a local midnight on, all of shape (hours,), nan where it was silent.

    `warmth_c` is its air, in a bin its substrate; `lit` is 1 for an hour with light and 0 without.
    """

    first_ms: int
    warmth_c: FloatArray
    humidity_percent: FloatArray
    lit: FloatArray


@dataclass(frozen=True, slots=True)
class Limits:
    """Beyond which an hour, a day or a night counts, of one kind of place [°C, %RH]; None: not looked at."""

    cold_c: float | None = None
    hot_c: float | None = None
    dry_percent: float | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Exposures:
    """What the hours of some spans were like, all of shape (n,).

    Hours are counted among those known; `silent_hours` are the others. Means and extremes are nan where less
    than three quarters of the hours are known, counts where a limit is not set.
    """

    hours: FloatArray
    silent_hours: FloatArray
    mean_c: FloatArray
    coldest_c: FloatArray
    warmest_c: FloatArray
    humidity_percent: FloatArray
    cold_hours: FloatArray
    heat_hours: FloatArray
    dry_hours: FloatArray
    lit_hours: FloatArray
    silent_humidity_hours: FloatArray


def exposures(place: PlaceHours, from_ms: IntArray, until_ms: IntArray, limits: Limits) -> Exposures:
    """What the hours of a place were like from some moments until others, shape (n,) [ms since 1970 UTC].

    An hour counts where more than half of it lies in the span; outside of what is given all is silent.
    """
    first, last = (_hour_of(place, each) for each in (from_ms, until_ms))
    hours = np.maximum(last - first, 0).astype(np.float64)
    warmth, damp = place.warmth_c, place.humidity_percent
    known = _counted(np.isfinite(warmth), first, last)
    known_damp = _counted(np.isfinite(damp), first, last)
    enough = (known >= LEAST_KNOWN * hours) & (known > 0)
    return Exposures(
        hours=hours,
        silent_hours=hours - known,
        mean_c=np.where(enough, _summed(warmth, first, last) / np.maximum(known, 1.0), np.nan),
        coldest_c=np.where(enough, -_greatest(-warmth, first, last), np.nan),
        warmest_c=np.where(enough, _greatest(warmth, first, last), np.nan),
        humidity_percent=np.where(
            (known_damp >= LEAST_KNOWN * hours) & (known_damp > 0),
            _summed(damp, first, last) / np.maximum(known_damp, 1.0),
            np.nan,
        ),
        cold_hours=_beyond(-warmth, None if limits.cold_c is None else -limits.cold_c, first, last),
        heat_hours=_beyond(warmth, limits.hot_c, first, last),
        dry_hours=_beyond(-damp, None if limits.dry_percent is None else -limits.dry_percent, first, last),
        lit_hours=np.where(
            _counted(np.isfinite(place.lit), first, last) >= LEAST_KNOWN * hours,
            _summed(place.lit, first, last),
            np.nan,
        ),
        silent_humidity_hours=hours - known_damp,
    )


def at_least(hours: FloatArray, silent: FloatArray, least: float) -> FloatArray:
    """Whether so many hours came together: 1, 0, or nan where the silent ones could turn it over."""
    return np.where(hours >= least, 1.0, np.where(hours + silent < least, 0.0, np.nan))


def _hour_of(place: PlaceHours, at_ms: IntArray) -> IntArray:
    return ((np.asarray(at_ms) - place.first_ms + MS_PER_HOUR // 2) // MS_PER_HOUR).astype(np.int64)


def _summed(values: FloatArray | BoolArray, first: IntArray, last: IntArray) -> FloatArray:
    total = np.concatenate([[0.0], np.cumsum(np.nan_to_num(np.asarray(values, dtype=np.float64)))])
    low, high = (np.clip(each, 0, len(values)) for each in (first, last))
    return np.asarray(total[np.maximum(high, low)] - total[low])


def _counted(which: BoolArray, first: IntArray, last: IntArray) -> FloatArray:
    return _summed(which, first, last)


def _beyond(values: FloatArray, limit: float | None, first: IntArray, last: IntArray) -> FloatArray:
    if limit is None:
        return np.full(len(first), np.nan)
    return _counted(np.nan_to_num(values, nan=-np.inf) > limit, first, last)


def _greatest(values: FloatArray, first: IntArray, last: IntArray) -> FloatArray:
    """The greatest known value of each span, -inf where there is none."""
    padded = np.append(np.nan_to_num(values, nan=-np.inf), -np.inf)
    low = np.clip(first, 0, len(values))
    high = np.clip(last, low, len(values))
    pairs = np.ravel(np.column_stack([low, high]))
    if not len(pairs):
        return np.empty(0)
    found = np.maximum.reduceat(padded, pairs)[::2]
    return np.asarray(np.where(high > low, found, -np.inf))


@dataclass(frozen=True, slots=True, eq=False)
class DayClimate:
    """Days of one cage, all of shape (days,), nan where too little is known: mean of the night that ends on
    the day and of the whole day [°C], warmest hour [°C], hours below the dry limit, and those that nobody
    knows, hours of light [h]."""

    night_c: FloatArray
    day_c: FloatArray
    warmest_c: FloatArray
    dry_hours: FloatArray
    silent_humidity_hours: FloatArray
    lit_hours: FloatArray


def day_climate(place: PlaceHours, grid: DayGrid, limits: Limits) -> DayClimate:
    """Days and nights of a place on the days of a grid."""
    midnights = grid.first_ms + np.arange(grid.days, dtype=np.int64) * MS_PER_DAY
    day = exposures(place, midnights, midnights + MS_PER_DAY, limits)
    evening = midnights - (24 - NIGHT_FROM_H) * MS_PER_HOUR
    night = exposures(place, evening, midnights + NIGHT_TO_H * MS_PER_HOUR, limits)
    return DayClimate(
        night.mean_c, day.mean_c, day.warmest_c, day.dry_hours, day.silent_humidity_hours, day.lit_hours
    )


def cage_flags(days: DayClimate, limits: Limits) -> dict[Condition, FloatArray]:
    """Whether each night that ends on a day, or each day, was such: 1, 0 or nan, shape (days,)."""
    found: dict[Condition, FloatArray] = {}
    if limits.cold_c is not None:
        found[Condition.COLD_NIGHTS] = flag(days.night_c < limits.cold_c, days.night_c)
    if limits.hot_c is not None:
        found[Condition.HOT_DAYS] = flag(days.warmest_c > limits.hot_c, days.warmest_c)
    if limits.dry_percent is not None:
        found[Condition.DRY_DAYS] = at_least(days.dry_hours, days.silent_humidity_hours, DRY_DAY_H)
    if np.isfinite(days.lit_hours).any():
        usual = float(np.nanmedian(days.lit_hours))
        found[Condition.DULL_DAYS] = flag(days.lit_hours < DULL_SHARE * usual, days.lit_hours)
    return found


def flag(which: BoolArray, known: FloatArray) -> FloatArray:
    """1 or 0 by what is so, nan where nothing is known."""
    return np.where(np.isfinite(known), which.astype(np.float64), np.nan)


def two_days(flag: FloatArray) -> FloatArray:
    """Whether a day or the one before was such; unknown where an unknown one could turn it over."""
    before = np.concatenate([[0.0], flag[:-1]])
    either = np.fmax(flag, before)
    unknown = (np.isnan(flag) | np.isnan(before)) & ~(either > 0.5)
    return np.where(unknown, np.nan, either)


@dataclass(frozen=True, slots=True)
class Span:
    """One taking with the hours that made it, in the cage, tray, box or bin `place`.

    `amount` is grams of eggs, the share that hatched or came out, or kg of larvae by kg of feed; `mass` what
    it is of: grams of eggs, flies, kg of larvae.
    """

    made: Made
    place: str
    from_ms: int
    until_ms: int
    amount: float
    mass: float
    entry_id: int | None = None


def spans_of(takings: Takings, boxes: Mapping[str, str]) -> tuple[Span, ...]:
    """Every collecting, hatch, emergence and harvest with the span of the hours that made it, in no order.

    `boxes` says in which box the pupae of a cohort lay.
    """
    return (
        *_of_eggs(takings.eggs),
        *_of_hatches(takings),
        *_of_emergence(takings, boxes),
        *_of_harvests(takings),
    )


def _of_eggs(eggs: Iterable[EggsCollected]) -> Iterable[Span]:
    last: dict[str, int] = {}
    for each in eggs:
        before = last.get(each.place, each.at_ms)
        since = max(
            min(before, each.at_ms - NIGHTS_BEFORE * MS_PER_DAY), each.at_ms - HOLDS_DAYS * MS_PER_DAY
        )
        yield Span(Made.EGGS, each.place, since, each.at_ms, each.grams, each.grams, each.entry_id)
        last[each.place] = each.at_ms


def _of_hatches(takings: Takings) -> Iterable[Span]:
    """The hours on the tray, from when its eggs were collected, as long as an egg takes."""
    laid: dict[str, list[EggsCollected]] = {}
    for eggs in takings.eggs:
        lot = eggs.into or eggs.cohort
        if lot is not None and eggs.tray is not None:
            laid.setdefault(lot, []).append(eggs)
    for each in takings.hatches:
        mine = laid.get(each.cohort or "", [])
        if each.share is not None and mine:
            begins, grams = mine[0].at_ms, sum(one.grams for one in mine)
            until = min(each.at_ms, begins + EGG_DAYS * MS_PER_DAY)
            yield Span(
                Made.HATCH, mine[0].tray or each.place, begins, until, each.share, grams, each.entry_id
            )


def _of_emergence(takings: Takings, boxes: Mapping[str, str]) -> Iterable[Span]:
    """The hours in the box, from when prepupae were counted into it until about half of the flies are out.

    A cohort counts when its flies are out.
    """
    newest_ms = max((each.at_ms for each in takings.all()), default=0)
    boxed: dict[str, list[PrepupaeOut]] = {}
    for each in takings.prepupae:
        if each.cohort is not None and each.count:
            boxed.setdefault(each.cohort, []).append(each)
    for cohort, lots in boxed.items():
        flies = [each for each in takings.flies if each.cohort == cohort]
        if flies and cohort in boxes and newest_ms - flies[0].at_ms >= OUT_DAYS * MS_PER_DAY:
            count = sum(each.count for each in flies)
            share = count / sum(each.count or 0.0 for each in lots)
            until = min(flies[-1].at_ms, flies[0].at_ms + HALF_OUT_DAYS * MS_PER_DAY)
            yield Span(Made.EMERGENCE, boxes[cohort], lots[0].at_ms, until, share, count)


def _of_harvests(takings: Takings) -> Iterable[Span]:
    """Kilograms of larvae by kg of feed of each filling that is over, wet; its hours are those since then."""
    given: dict[tuple[str, int], float] = {}
    for each in takings.feed:
        given[each.place, each.filling_ms] = given.get((each.place, each.filling_ms), 0.0) + each.kg
    newest = dict(sorted(given))
    over = {(each.place, each.filling_ms) for each in takings.residues}
    taken: dict[tuple[str, int], list[LarvaeOut]] = {}
    for out in takings.larvae_out:
        taken.setdefault((out.place, out.filling_ms), []).append(out)
    for (place, filling_ms), outs in taken.items():
        fed = given.get((place, filling_ms), 0.0)
        kg = sum(each.kg for each in outs)
        is_over = (place, filling_ms) in over or newest.get(place) != filling_ms
        if is_over and fed > 0.0 and kg > 0.0:
            yield Span(Made.HARVEST, place, filling_ms, outs[-1].at_ms, kg / fed, kg, outs[-1].entry_id)


@dataclass(frozen=True, slots=True)
class Beside:
    """One taking beside the hours that made it: how many, how many of them silent, air or substrate [°C],
    humidity [%RH], hours beyond the limits and with light [h]; nan where too little is known or no limit set.
    """

    span: Span
    hours: float
    silent_hours: float
    mean_c: float
    coldest_c: float
    warmest_c: float
    humidity_percent: float
    cold_hours: float
    heat_hours: float
    dry_hours: float
    lit_hours: float
    silent_humidity_hours: float


def beside(
    spans: Sequence[Span], climate: Mapping[str, PlaceHours], limits: Mapping[Made, Limits]
) -> tuple[Beside, ...]:
    """Each taking beside its hours, in order of time; those of a place without a sensor are left out."""
    found: list[Beside] = []
    for made, place in sorted({(each.made, each.place) for each in spans if each.place in climate}):
        mine = [each for each in spans if (each.made, each.place) == (made, place)]
        rows = span_exposures(mine, climate[place], limits.get(made, Limits()))
        columns = [getattr(rows, name).tolist() for name in Exposures.__slots__]
        found += [Beside(each, *values) for each, *values in zip(mine, *columns, strict=True)]
    return tuple(sorted(found, key=lambda each: each.span.until_ms))


def span_exposures(spans: Sequence[Span], place: PlaceHours, limits: Limits) -> Exposures:
    """The hours of spans that share a place."""
    times = np.array([(each.from_ms, each.until_ms) for each in spans], dtype=np.int64).reshape(-1, 2)
    return exposures(place, times[:, 0], times[:, 1], limits)


# Eggs by day.


@dataclass(frozen=True, slots=True)
class Cases:
    """How many cases after such hours stand against others, and in how many separate times the first came."""

    exposed: int
    others: int
    spells: int


def egg_series(past: ExpectedPast, flags: Sequence[FloatArray | None]) -> list[Series]:
    """Lines of days, one for cages that share their air; `flags` of each cage have shape (conditions, days),
    None: nothing is known of its air."""
    rooms: list[list[int]] = []
    for number, mine in enumerate(flags):
        if mine is None or not len(past.collections[number].days):
            continue
        for room in rooms:
            other = flags[room[0]]
            if other is not None and np.nanmean(np.abs(mine - other), axis=1).max() < ALIKE:
                room.append(number)
                break
        else:
            rooms.append([number])
    found = [_room_series(past, room, flags) for room in rooms]
    return [each for each in found if each is not None]


def _room_series(
    past: ExpectedPast, room: Sequence[int], flags: Sequence[FloatArray | None]
) -> Series | None:
    """The cages of one room together, one case a day: what days do to all of them is one case, too."""
    rows = [_cage_rows(past, number, mine) for number in room if (mine := flags[number]) is not None]
    day, ratio, variance, exposed = (np.concatenate([row[part] for row in rows]) for part in range(4))
    if not len(day):
        return None
    days, where = np.unique(day, return_inverse=True)
    weight = 1.0 / variance
    total = np.bincount(where, weights=weight)
    mean = np.bincount(where, weights=weight * ratio) / total
    share = np.column_stack([np.bincount(where, weights=weight * each) / total for each in exposed.T])
    return Series(days.astype(np.float64), mean, np.sqrt(FARM_DAY_LOG_SD**2 + 1.0 / total), share)


def _cage_rows(
    past: ExpectedPast, number: int, flags: FloatArray
) -> tuple[IntArray, FloatArray, FloatArray, FloatArray]:
    """Day, log ratio around the cage's own, its variance, and how far each condition held, of each collecting
    that says something."""
    found, held, usual = past.collections[number], past.held[number], past.usual[number]
    laid = past.laid[number]
    some = _says_something(past, number)
    exposed = exposed_shares(past, number, flags)
    some &= np.isfinite(exposed).all(axis=0)
    little = LITTLE * usual
    ratio = np.log((found.grams * math.exp(-past.log_level) + little) / (held + little))[some]
    stray = STRAY * usual / np.maximum(held, 1e-12)
    variance = CAGE_DAY_LOG_SD**2 + stray**2 + (LOT_SD_DAYS * _slope(found, laid, little)) ** 2
    own = float(np.median(ratio)) if len(ratio) else 0.0
    return found.days[some], ratio - own, variance[some], exposed.T[some]


def _says_something(past: ExpectedPast, number: int) -> BoolArray:
    """Collectings but the first that were believed and should hold enough, where it is known since when."""
    found = past.collections[number]
    some = found.believed & (past.held[number] > LEAST_HELD * past.usual[number])
    return np.asarray(some & found.known_since & (np.arange(len(some)) > 0))


def exposed_shares(past: ExpectedPast, number: int, flags: FloatArray) -> FloatArray:
    """Share of the eggs of each collecting of a cage that were laid on such a day or the next, from shape
    (conditions, days) to (conditions, n); nan where too much is unknown."""
    found, held, laid = past.collections[number], past.held[number], past.laid[number]
    over = np.array([two_days(each) for each in flags])
    share = found.exposures(np.nan_to_num(over) * laid) / np.maximum(held, 1e-12)
    unknown = found.exposures(np.isnan(over) * laid) > MOST_UNKNOWN * held
    return np.where(unknown, np.nan, np.clip(share, 0.0, 1.0))


def _slope(found: Collections, laid: FloatArray, little: float) -> FloatArray:
    """By how much the logarithm of what each collecting should hold changes where a lot lays a day later."""
    moved = np.stack([np.append(laid[1:], laid[-1]), np.insert(laid[:-1], 0, laid[0])])
    earlier, later = np.log(found.exposures(moved) + little)
    return np.asarray((earlier - later) / 2.0)


def night_cases(past: ExpectedPast, flags: Sequence[FloatArray | None], which: int) -> Cases:
    """Dates whose eggs were collected: such ones, those of better days all around, and separate spells."""
    such, others = np.zeros(past.grid.days, dtype=np.bool_), np.zeros(past.grid.days, dtype=np.bool_)
    for number, mine in enumerate(flags):
        if mine is None:
            continue
        held = _days_held(past, number)
        flag, over = mine[which], two_days(mine[which])
        such |= (flag > 0.5) & held
        others |= (over < 0.5) & held
    at = np.flatnonzero(such)
    spells = int((np.diff(at) > SPELL_GAP_DAYS).sum()) + bool(len(at))
    return Cases(len(at), int(np.count_nonzero(others & ~such)), spells)


def _days_held(past: ExpectedPast, number: int) -> BoolArray:
    """Days whose eggs lie in a collecting that says something."""
    found = past.collections[number]
    some = _says_something(past, number)
    held = np.zeros(past.grid.days, dtype=np.bool_)
    before = np.concatenate([[-HOLDS_DAYS], found.days[:-1]])
    for day, last in zip(found.days[some].tolist(), before[some].tolist(), strict=True):
        held[max(last + 1, day - HOLDS_DAYS + 1, 0) : day + 1] = True
    return held
