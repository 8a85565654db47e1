"""How a farmer collects eggs: what each collecting holds, how often one comes, and which are not believed.

A day without collecting is not a day without eggs: the next collecting holds both.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from monitor.climate.arrays import BoolArray, FloatArray, IntArray
from monitor.records import MS_PER_DAY
from monitor.yields.laying import DayGrid
from monitor.yields.records import EggsCollected

LAYING_FROM_H, LAYING_TO_H = 9.0, 16.0
"""Hours of the day between which eggs are laid, evenly [h]. Source: own choice: mating 09:00-14:00 (Julita et
al. 2020, abstract); laying goes with hour and temperature (Tomberlin & Sheppard 2002, abstract)."""

USUAL_H = 17.0
"""Hour of collecting where nothing was collected yet [h]. Source: own choice."""

HOLDS_DAYS = 4
"""A collecting holds the eggs of so many days at most [d]: older ones have hatched. Source: hatch in about 4
d (Zhang et al. 2010, abstract)."""

PAUSE_DAYS = 7
"""A pause of more days than this is an empty cage or a book that was left: nobody knows since when the next
collecting holds eggs [d]. Source: own choice."""

USUAL_CHANCE, CHANCE_STRENGTH = 0.85, 4.0
"""Chance that a day has a collecting, and for how many days that counts [1]. Source: own choice."""

LEARNED_DAYS = 56
REST_DAYS, REST_SHARE, REST_CHANCE = 4, 0.12, 0.05
"""A weekday that was seen so often with a collecting in less than this share of it is a day of rest; the
chance of a collecting on it [1]. Source: own choice."""


@dataclass(frozen=True, slots=True, eq=False)
class Collections:
    """What was collected from one cage, at most one a day, in order; all of shape (n,).

    `days` and `grams` of each, `hours` the hour of it on its day [h], `believed` whether its
    grams are those of this cage by all that is known (`judged`), `entry_ids` the entries behind each.
    `emptied` is the day of the collecting before the first of them, and the share of its day's eggs that it
    took [1]; None: nobody knows of one.
    """

    days: IntArray
    grams: FloatArray
    hours: FloatArray
    believed: BoolArray
    entry_ids: tuple[tuple[int, ...], ...]
    emptied: tuple[int, float] | None = None

    @property
    def known_since(self) -> BoolArray:
        """Whether it is known since when each holds eggs, shape (n,)."""
        first = -math.inf if self.emptied is None else float(self.emptied[0])
        return np.asarray(np.diff(self.days, prepend=first) <= PAUSE_DAYS)

    @property
    def hour_share(self) -> FloatArray:
        """Share of its day's eggs that each holds, shape (n,) [1]."""
        return _hour_share(self.hours)

    def exposures(self, laid: FloatArray) -> FloatArray:
        """What each would hold of eggs laid by day, from shape (m, days) to (m, n)."""
        before, oldest, until = self._laid_by(laid)
        return np.asarray(until - np.maximum(before, oldest))

    def missed(self, laid: FloatArray) -> FloatArray:
        """Eggs laid since the collecting before that were too old for each, shape (m, n)."""
        before, oldest, _ = self._laid_by(laid)
        return np.asarray(np.maximum(oldest - before, 0.0))

    def _laid_by(self, laid: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """All that was laid until the collecting before each, until its oldest eggs, and until itself."""
        total = np.concatenate([np.zeros((len(laid), 1)), np.cumsum(laid, axis=1)], axis=1)
        until = total[:, self.days] + self.hour_share * laid[:, self.days]
        oldest = total[:, np.maximum(self.days - HOLDS_DAYS + 1, 0)]
        first = np.zeros((len(laid), 1))
        if self.emptied is not None:
            day, share = self.emptied
            first = total[:, day, None] + share * laid[:, day, None]
        return np.concatenate([first, until], axis=1)[:, : len(self.days)], oldest, until

    def since(self, day: int) -> Collections:
        """Those from a day on; that the last one before emptied the cage is still known."""
        kept, earlier = np.flatnonzero(self.days >= day), np.flatnonzero(self.days < day)
        emptied = self.emptied
        if len(earlier):
            emptied = int(self.days[earlier[-1]]), float(self.hour_share[earlier[-1]])
        ids = tuple(self.entry_ids[number] for number in kept.tolist())
        parts = self.days[kept], self.grams[kept], self.hours[kept], self.believed[kept]
        return Collections(*parts, ids, emptied)


@dataclass(frozen=True, slots=True, eq=False)
class Rhythm:
    """Chance of a collecting by days since the last one, shape (HOLDS_DAYS,), and by weekday, shape (7,); the
    hours of the day at which one came, in order."""

    by_gap: FloatArray
    by_weekday: FloatArray
    hours: FloatArray

    @property
    def hour_share(self) -> float:
        """Share of a day's eggs that a collecting holds [1]."""
        usual = float(np.median(self.hours)) if len(self.hours) else USUAL_H
        return float(_hour_share(np.array([usual]))[0])

    def later_share(self, hour: float) -> float:
        """Share of the collectings that came later on their day than an hour [1]."""
        return float((self.hours > hour).mean()) if len(self.hours) else float(hour < USUAL_H)

    def chances(self, day: int, gaps: IntArray) -> FloatArray:
        """Chance of a collecting on a day for cages whose last one was so many days ago [1]."""
        usual = self.by_gap[np.clip(gaps, 1, HOLDS_DAYS) - 1]
        return np.asarray(np.where(gaps < 1, 0.0, usual * self.by_weekday[day % 7]))


def collections_of(eggs: Iterable[EggsCollected], cage: str, grid: DayGrid) -> Collections:
    """What was collected from a cage in the days of the grid; several of one day are one."""
    by_day: dict[int, list[EggsCollected]] = {}
    for each in eggs:
        day = grid.day_of(each.at_ms)
        if each.place == cage and 0 <= day < grid.days and each.grams > 0.0:
            by_day.setdefault(day, []).append(each)
    days = sorted(by_day)
    last = [max(each.at_ms for each in by_day[day]) for day in days]
    hours = (np.array(last, dtype=np.float64) - grid.first_ms) % MS_PER_DAY / MS_PER_DAY * 24.0
    return Collections(
        days=np.array(days, dtype=np.int64),
        grams=np.array([sum(each.grams for each in by_day[day]) for day in days]),
        hours=hours,
        believed=np.ones(len(days), dtype=np.bool_),
        entry_ids=tuple(
            tuple(each.entry_id for each in by_day[day] if each.entry_id is not None) for day in days
        ),
    )


def _hour_share(hours: FloatArray) -> FloatArray:
    return np.clip((hours - LAYING_FROM_H) / (LAYING_TO_H - LAYING_FROM_H), 0.0, 1.0)


def rhythm_of(cages: Sequence[Collections], grid: DayGrid) -> Rhythm:
    """The rhythm of a farm from the last eight weeks of all its cages."""
    since = grid.past - LEARNED_DAYS
    pairs = [_gaps(each.days[each.days >= since], grid.past) for each in cages]
    days, gaps, taken = (np.concatenate([pair[part] for pair in pairs]) for part in range(3))
    weekdays = np.arange(7)[:, None] == days[None, :] % 7
    seen, done = weekdays.sum(axis=1), (weekdays & (taken > 0)[None, :]).sum(axis=1)
    rests = (seen >= REST_DAYS) & (done < REST_SHARE * seen)
    usable = ~rests[days % 7]
    chances = []
    for gap in range(1, HOLDS_DAYS + 1):
        here = usable & (np.minimum(gaps, HOLDS_DAYS) == gap)
        hits = USUAL_CHANCE * CHANCE_STRENGTH + taken[here].sum()
        chances.append(float(hits) / (CHANCE_STRENGTH + np.count_nonzero(here)))
    hours = np.sort(np.concatenate([each.hours for each in cages]))
    return Rhythm(np.array(chances), np.where(rests, REST_CHANCE, 1.0), hours)


def _gaps(days: IntArray, today: int) -> tuple[IntArray, IntArray, IntArray]:
    """Days on which a collecting could come, days since the last one, and 1 where it came.

    A pause of more than `PAUSE_DAYS` says nothing.
    """
    found: list[tuple[int, int, int]] = []
    for before, after in zip(days[:-1].tolist(), days[1:].tolist(), strict=True):
        if after - before <= PAUSE_DAYS and after < today:
            found += [(day, day - before, int(day == after)) for day in range(before + 1, after + 1)]
    table = np.array(found, dtype=np.int64).reshape(-1, 3)
    return table[:, 0], table[:, 1], table[:, 2]
