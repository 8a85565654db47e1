"""Grams of eggs that a female of this farm gives, learned from collections: the farm, its cages, its weeks.

The logarithm of grams against what one gram a female would give is a sum of normal parts: the farm's own
level around the published one, a slow drift, what is the cage's own, weeks of one cage that are alike, and
days. How large all but the first are is learned with it, on a small grid, and so is when females lay.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from monitor.climate.arrays import BoolArray, FloatArray, IntArray
from monitor.yields.rhythm import Collections

PRIOR_GRAMS, PRIOR_LOG_SD = 13e-3, 0.5
"""Eggs of a female put in, warm, lit, in a young cage [g]; log-sd between farms [1]. Source: own choice from
three sources of 3 to 27 mg: 12.9-27.1 mg (Macavei et al. 2020, abstract), 13-14 mg from 400 young larvae a
female (Liu et al., abstract), 1.5 and 6.8 mg a fly (Thai study, abstract)."""

DAY_LOG_SD, DAY_MEMORY = 0.39, 0.5
"""Log-sd of one day of a cage [1], and how much of that the next day keeps [1]. Source: CV 0.37 between like
cages on 50 days (ReproLab's Data-and-codes_BSF-reproduction, open data, own figure) and own choice of 0.4
(log-sd 0.39); own choice of the memory."""

WEEK_LOG_SD, WEEK_MEMORY = 0.25, 0.5
"""Log-sd of a week of one cage [1], and what the next week keeps of it [1]: a lot of flies lays for about
two. Source: own choice: 0.10 between whole cages that are alike (0.06-0.14, same open data), 0.14 of the
share of females (0.07 of 0.5), 0.15 of the count, and what was fed."""

CAGE_LOG_SD = 0.12
FARM_LOG_SD, FARM_MEMORY = 0.1, 0.9
"""Log-sd of the cages of a farm and of its weeks, and what the next week keeps of the latter [1]. Source: own
choice, of the size of 0.10 between like cages."""

SCALES = (0.6, 0.8, 1.0, 1.3, 1.7, 2.2)
SCALE_LOG_SD = 0.35
"""All these together times one of the first, log-sd of that around 1 [1]. Source: own choice."""

STRAYS = (0.04, 0.08, 0.16)
NOISES = tuple((scale, stray) for scale in SCALES for stray in STRAYS)
"""Parts of the best week of a cage that another week may be off by, since nobody lays by the book [1], and
all pairs that are tried. Source: own choice: with 0.04 a cage whose best week is long past has the eggs on
day 17 that were collected from cages of one filling (same open data); the others for books that are kept less
well."""

LEAST_SHARE = 0.04
"""Weeks with less than this part of the best one are not learned from; as much is added to both sides of a
ratio [1]. Source: own choice."""

MOST_MISSED = 0.25
"""After a long pause, or at first, a collecting is learned from if the eggs laid before those that it may
hold are no more than this part of them: its flies have only begun to lay [1]. Source: own choice."""

HUBER = 1.8
SLIP_LOG = 1.6
"""Standard deviations beyond which a week counts less, and the least factor (e to this: 5) by which a
collecting is off when it is not believed [1]. Source: own choice: the slips of a unit are 10 and 1000."""
SLIP_SDS, LIKELY_TIMING = 3.0, 0.02


@dataclass(frozen=True, slots=True, eq=False)
class WeekSums:
    """Weeks of cages in which something was collected, n of them.

    `cages` and `weeks` are their numbers, a week counts from now (-1 is the last), shape (n,). `log_level`,
    of shape (timings, n), is ln of grams by what was expected at one gram a female; `day_variance` is that of
    its days, `best_share` the best week of the cage by this one [1], `doubt_variance` more for weeks that no
    other bears out, shape (n,).
    """

    cages: IntArray
    weeks: IntArray
    log_level: FloatArray
    day_variance: FloatArray
    best_share: FloatArray
    doubt_variance: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Level:
    """What is known of the level: weights of timings and scales, shape (noises, timings), and the weeks
    behind it."""

    sums: WeekSums
    weights: FloatArray

    @property
    def weeks(self) -> int:
        """Weeks of cages that it rests on."""
        return len(self.sums.weeks)


@dataclass(frozen=True, slots=True, eq=False)
class Expected:
    """What a cage should give at one gram a female under each timing.

    `held` is what each collecting should hold, shape (timings, n); `best` the best seven days that its flies
    give, those to come with them. `tells`, shape (n,), is false where nobody knows of how many days it holds
    the eggs, so that nothing is learned from it.
    """

    held: FloatArray
    best: float
    tells: BoolArray


def expected_of(found: Collections, laid: FloatArray) -> Expected:
    """What the collections of a cage should hold of eggs laid by day, shape (timings, days)."""
    total = np.concatenate([[0.0], np.cumsum(laid.mean(axis=0))])
    held = found.exposures(laid)
    only_began = found.missed(laid).mean(axis=0) <= MOST_MISSED * held.mean(axis=0)
    return Expected(held, float((total[7:] - total[:-7]).max(initial=0.0)), found.known_since | only_began)


def judged(
    cages: Sequence[Collections], expected: Sequence[Expected], log_timings: FloatArray
) -> tuple[list[Collections], float]:
    """The collections with those not believed that are too large by a factor that only a slip explains, and a
    rough level, as ln of grams a female.

    `log_timings` is how likely each timing is by now, shape (timings,). No timing that is at all likely may
    explain what is not believed.
    """
    chances = np.exp(log_timings - log_timings.max())
    likely, chances = chances > LIKELY_TIMING, chances / chances.sum()
    middle, log_sd = _rough_level(cages, expected, chances)
    off = math.exp(max(SLIP_LOG, SLIP_SDS * log_sd))
    found = []
    for cage, each in zip(cages, expected, strict=True):
        grams, held = cage.grams / math.exp(middle), each.held[likely]
        # At the ends of a cage's laying little is expected, and a large factor is few grams. Poor days come
        # by themselves, and one of them says little: they are all believed.
        slipped = grams > off * (held.max(axis=0) + LEAST_SHARE * each.best)
        found.append(replace(cage, believed=~slipped))
    return found, middle


def _rough_level(
    cages: Sequence[Collections], expected: Sequence[Expected], chances: FloatArray
) -> tuple[float, float]:
    """Median level of all collections with the prior as if it were three more, and its log-sd for one."""
    logs = []
    for cage, each in zip(cages, expected, strict=True):
        held = chances @ each.held
        some = each.tells & (held > LEAST_SHARE * each.best)
        logs.append(np.log(cage.grams[some] / held[some]))
    found = np.concatenate([*logs, np.full(3, math.log(PRIOR_GRAMS))])
    unsure = PRIOR_LOG_SD / math.sqrt(len(found) - 2)
    return float(np.median(found)), float(np.linalg.norm([unsure, DAY_LOG_SD, WEEK_LOG_SD]))


def week_sums(
    cages: Sequence[Collections], expected: Sequence[Expected], today: int, log_level: float
) -> WeekSums:
    """The weeks of all cages from what was collected and what should have been.

    `log_level` is a rough one. A part of the best week is added to both sides, since nobody lays by the
    book: else a week in which next to nothing was to come would say as much as a full one.
    """
    rows: list[tuple[int, int, FloatArray, float, float]] = []
    for number, (cage, each) in enumerate(zip(cages, expected, strict=True)):
        usual, weeks = each.held.mean(axis=0), (cage.days - today) // 7
        little = LEAST_SHARE * each.best
        for week in np.unique(weeks).tolist():
            here = (weeks == week) & cage.believed & each.tells
            total = float(usual[here].sum())
            if total <= little:
                continue
            grams = cage.grams[here].sum() + little * math.exp(log_level)
            ratio = np.log(grams / (each.held[:, here].sum(axis=1) + little))
            noise = _day_variance(usual[here], cage.days[here])
            rows.append((number, week, ratio, noise, each.best / total))
    count = len(expected[0].held) if expected else 1
    return WeekSums(
        cages=np.array([row[0] for row in rows], dtype=np.int64),
        weeks=np.array([row[1] for row in rows], dtype=np.int64),
        log_level=np.array([row[2] for row in rows]).reshape(-1, count).T,
        day_variance=np.array([row[3] for row in rows]),
        best_share=np.array([row[4] for row in rows]),
        doubt_variance=np.zeros(len(rows)),
    )


def _day_variance(held: FloatArray, days: IntArray) -> float:
    """Variance of the logarithm of a sum over days with memory."""
    parts = held / held.sum()
    alike = DAY_MEMORY ** np.abs(days[:, None] - days[None, :])
    return float(DAY_LOG_SD**2 * parts @ alike @ parts)


def timing_fit(cages: Sequence[Collections], expected: Sequence[Expected], today: int) -> FloatArray:
    """How well each timing says which part of four weeks comes when, as a log likelihood, shape (timings,).

    Source: normal errors of the day's size, counted half since days remember each other; own choice.
    """
    fit = np.zeros(len(expected[0].held) if expected else 1)
    for cage, each in zip(cages, expected, strict=True):
        for block in np.unique((cage.days - today) // 28):
            here = ((cage.days - today) // 28 == block) & cage.believed & each.tells
            total = each.held[:, here].sum(axis=1, keepdims=True)
            if np.count_nonzero(here) < 4 or total.min() <= 0.0:
                continue
            share = each.held[:, here] / total
            seen = cage.grams[here] / cage.grams[here].sum()
            sd = np.hypot(DAY_LOG_SD * share, 0.25 / np.count_nonzero(here))
            fit -= 0.25 * (np.minimum(((seen - share) / sd) ** 2, 9.0) + 2.0 * np.log(sd)).sum(axis=1)
    return fit


def learned(sums: WeekSums, log_timings: FloatArray) -> Level:
    """The posterior of scales and timings: days tell when, weeks how much.

    `log_timings` is that of the timings by prior and days, shape (timings,). Weeks do not judge timings: a
    week before its time would count as far too much.
    """
    sums = _calmed(_calmed(sums))
    fit = np.repeat(
        [[-0.5 * (math.log(scale) / SCALE_LOG_SD) ** 2] for scale, _ in NOISES], len(log_timings), 1
    )
    if len(sums.weeks):
        off = sums.log_level.T - math.log(PRIOR_GRAMS)
        for number, noise in enumerate(NOISES):
            root = np.linalg.cholesky(_covariance(sums, noise))
            white = np.linalg.solve(root, off)
            fit[number] -= 0.5 * (white**2).sum(axis=0) + np.log(np.diag(root)).sum()
    noises = np.exp(fit - fit.max(axis=0))
    timings = np.exp(log_timings - log_timings.max())
    return Level(sums, noises / noises.sum(axis=0) * timings / timings.sum())


def _calmed(sums: WeekSums) -> WeekSums:
    """Weeks that lie far from what all others say get a larger variance, so that they count less."""
    if len(sums.weeks) < 2:
        return sums
    inverse = np.linalg.inv(_covariance(sums, (1.0, STRAYS[1])))
    off = np.median(sums.log_level, axis=0) - math.log(PRIOR_GRAMS)
    left_out = inverse @ off / np.sqrt(np.diag(inverse))
    wider = np.maximum(1.0, np.abs(left_out) / HUBER) ** 2
    return replace(sums, doubt_variance=sums.doubt_variance + (wider - 1.0) / np.diag(inverse))


def _alike(cages: tuple[IntArray, IntArray], weeks: tuple[IntArray, IntArray], scale: float) -> FloatArray:
    """Covariance of the levels of some weeks of cages with others [1]."""
    apart = np.abs(weeks[0][:, None] - weeks[1][None, :]).astype(np.float64)
    same = cages[0][:, None] == cages[1][None, :]
    own = CAGE_LOG_SD**2 + WEEK_LOG_SD**2 * WEEK_MEMORY**apart
    farm = FARM_LOG_SD**2 * FARM_MEMORY**apart
    return np.asarray(PRIOR_LOG_SD**2 + scale**2 * (farm + same * own))


def _covariance(sums: WeekSums, noise: tuple[float, float]) -> FloatArray:
    scale, stray = noise
    own = scale**2 * sums.day_variance + (stray * sums.best_share) ** 2 + sums.doubt_variance
    return _alike((sums.cages, sums.cages), (sums.weeks, sums.weeks), scale) + np.diag(own)


def drawn_levels(
    level: Level, cages: int, weeks: int, noises: IntArray, timings: IntArray, normals: FloatArray
) -> FloatArray:
    """Levels of the weeks to come in each draw, as ln of grams a female, shape (draws, cages, weeks).

    `noises` and `timings` are the numbers of each draw, shape (draws,); `normals` standard normals, shape
    (draws, cages * weeks).
    """
    sums = level.sums
    at = np.repeat(np.arange(cages), weeks), np.tile(np.arange(weeks), cages)
    drawn = np.empty(normals.shape)
    for number in np.unique(noises).tolist():
        here, noise = noises == number, NOISES[number]
        prior = _alike((at[0], at[0]), (at[1], at[1]), noise[0])
        mean = np.full((sums.log_level.shape[0], len(at[0])), math.log(PRIOR_GRAMS))
        if len(sums.weeks):
            across = _alike((sums.cages, at[0]), (sums.weeks, at[1]), noise[0])
            gain = np.linalg.solve(_covariance(sums, noise), across)
            mean = mean + (sums.log_level - math.log(PRIOR_GRAMS)) @ gain
            prior = prior - across.T @ gain
        root = np.linalg.cholesky(prior + 1e-9 * np.eye(len(prior)))
        drawn[here] = mean[timings[here]] + normals[here] @ root.T
    return drawn.reshape(-1, cages, weeks)
