"""How many kilograms of larvae a bin will give, when they are heaviest, and what holds them back.

The larvae of the bin live from its filling on in many possible ways: their peak, their rate, their breath,
what of the feed they can eat and how many of them live are drawn; the warmth is that of the balance.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from monitor.bins.growth import ALIVE_AT_HARVEST
from monitor.bins.herd import Herd, herd_of
from monitor.bins.history import BAND, BinHistory
from monitor.bins.posterior import spread_normals
from monitor.climate.arrays import FloatArray, IntArray
from monitor.records import MS_PER_HOUR

PEAK_LOG_SD, RATE_LOG_SD = 0.25, 0.2
"""Log-sd of the peak mass and of the rate of growth between farms [1]. Source: own choice, from the series of
`growth.PEAK_MG`: 159 to 320 mg, 0.75 to 1.5 a day."""

BREATH_LOG_SD = 0.3
"""Log-sd of what larvae breathe out for what they gain [1]. Source: own choice: reckoned with 0.65 to 1.10 g
of dry matter by g of CO2, it spreads bioconversion of scarce feed by the published log-sd of 0.25."""

EDIBLE_LOG_SD = 0.15
"""Log-sd of the share of the feed that is eaten [1]. Source: own choice, 0.31 to 0.78 over all feeds of open
data, 0.59 to 0.68 in the crates of one study."""

ALIVE_SD, LEAST_ALIVE = 0.08, 0.5
"""Standard deviation of the share that lives to the harvest, and the least [1]. Source: as for the share."""

HARVEST_LOG_SD = 0.12
"""Log-sd of the harvest of like bins [1]. Source: 0.06 to 0.16 between like crates (Fuhrmann et al. 2024,
open data), 0.09 between small boxes (Alciatore et al. 2024)."""

PAIRS, PARTS = 20, 6
PEAK, RATE, BREATH, EDIBLE, LIVING, NOISE = range(PARTS)
STEP_MS = 12 * MS_PER_HOUR
NEARLY = 0.98
"""Share of the heaviest mass from which larvae are ripe [1]. Source: own choice, a scale tells no more."""
HUNGRY_SHARE = 0.9
PLENTY_KG = 1e4
_DRAWS = spread_normals(PAIRS, PARTS)


@dataclass(frozen=True, slots=True)
class LarvaeKg:
    """Fresh mass of all larvae of a bin with its 80 % band [kg], and the mass of one of them [mg]."""

    low: float
    median: float
    high: float
    each_mg: float


@dataclass(frozen=True, slots=True)
class HarvestOutlook:
    """What a bin would give now and when its larvae are heaviest.

    `ripe_ms` is when they come to that, None where it lies beyond the days that are looked ahead to; then
    `ripe` is what there is at `until_ms`. `is_past` says that they were heavier before. `missing_feed_kg` is
    the dry feed that they would still eat beyond what was given, 0 where that is enough.
    """

    now: LarvaeKg
    ripe: LarvaeKg
    ripe_ms: int | None
    until_ms: int
    is_past: bool
    missing_feed_kg: float


def harvest_outlook(
    history: BinHistory, ahead_ms: IntArray, core_ahead_c: FloatArray
) -> HarvestOutlook | None:
    """The larvae of a bin now and at their heaviest, with 80 % bands.

    Parameters
    ----------
    history : BinHistory
        The bin until now.
    ahead_ms : IntArray
        Edges of the intervals to come, shape (m + 1,) [ms], the first is now.
    core_ahead_c : FloatArray
        Warmth of the bin in each of them, shape (m,) [°C], as the balance expects it.

    Returns
    -------
    HarvestOutlook or None
        None where no larvae are there, or nobody counted them.

    Source
    ------
    The laws of `growth`; spreads see the constants of this module.
    """
    if history.emptied or not history.course.intervals.end.herd.is_counted:
        return None
    steps = _steps(history, ahead_ms, core_ahead_c)
    now = int(np.searchsorted(steps.edges_ms, history.now_ms))
    paths = [_path(history, steps, draw) for draw in _DRAWS]
    kg = np.array([path.kg for path in paths])
    middle = kg[0]
    if middle[now] <= 0.0:
        return None
    ripe = int(np.argmax(middle[now:] >= NEARLY * middle[now:].max())) + now
    grows_on = ripe >= len(middle) - 2 and middle[-1] > middle[now]
    return HarvestOutlook(
        now=_banded(kg[:, now], paths[0].mg[now]),
        ripe=_banded(kg[:, ripe], paths[0].mg[ripe]),
        ripe_ms=None if grows_on else int(steps.edges_ms[ripe]),
        until_ms=int(steps.edges_ms[-1]),
        is_past=bool(middle[: now + 1].max() * NEARLY > middle[now:].max()) or ripe == now,
        missing_feed_kg=_missing_kg(history, steps, paths[0]),
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Steps:
    edges_ms: IntArray
    core_c: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class _Path:
    kg: FloatArray
    mg: FloatArray
    eaten_kg: FloatArray


def _steps(history: BinHistory, ahead_ms: IntArray, core_ahead_c: FloatArray) -> _Steps:
    """Half days from the filling on, cut at what was written down and at now; the mean warmth in each."""
    past, now_ms = history.course.intervals, history.now_ms
    starts = np.array([condition.from_ms for condition in history.course.conditions], dtype=np.int64)
    ends = np.array([now_ms, int(ahead_ms[-1])], dtype=np.int64)
    edges = np.unique(np.concatenate([np.arange(past.edges_ms[0], ends[1], STEP_MS), starts, ends]))
    edges = edges[(edges >= past.edges_ms[0]) & (edges <= ends[1])]
    times = np.concatenate([past.edges_ms, ahead_ms[1:]]).astype(np.float64)
    core_c = np.concatenate([past.core_c, core_ahead_c])
    warmth = np.concatenate([[0.0], np.cumsum(core_c * np.diff(times))])
    return _Steps(edges, np.diff(np.interp(edges, times, warmth)) / np.maximum(np.diff(edges), 1.0))


def _drawn(history: BinHistory, draw: FloatArray) -> Herd:
    facts = history.course.facts
    substrate = facts.substrate
    changed = replace(
        substrate,
        peak_mg=substrate.peak_mg * math.exp(PEAK_LOG_SD * draw[PEAK]),
        growth_per_day=substrate.growth_per_day * math.exp(RATE_LOG_SD * draw[RATE]),
        edible_share=min(substrate.edible_share * math.exp(EDIBLE_LOG_SD * draw[EDIBLE]), 1.0),
    )
    alive = min(max(ALIVE_AT_HARVEST + ALIVE_SD * float(draw[LIVING]), LEAST_ALIVE), 1.0)
    return herd_of(replace(facts, substrate=changed), alive, math.exp(BREATH_LOG_SD * draw[BREATH]))


def _path(history: BinHistory, steps: _Steps, draw: FloatArray, more_feed_kg: float = 0.0) -> _Path:
    herd, conditions = _drawn(history, draw), history.course.conditions
    brood = herd.brood
    brood.feed_kg = brood.edible_kg = more_feed_kg
    edges, hours = steps.edges_ms.tolist(), (np.diff(steps.edges_ms) / MS_PER_HOUR).tolist()
    kg, mg, eaten_kg = [], [], []
    for edge_ms, hour, core_c in zip(edges, [*hours, 0.0], [*steps.core_c.tolist(), 0.0], strict=True):
        herd.take(conditions, edge_ms)
        kg.append(brood.kg)
        mg.append(brood.mass_mg)
        eaten_kg.append(brood.eaten_kg)
        if hour:
            brood.pass_time(hour, core_c)
    noise = math.exp(HARVEST_LOG_SD * draw[NOISE])
    return _Path(noise * np.array(kg), np.array(mg), np.array(eaten_kg))


def _missing_kg(history: BinHistory, steps: _Steps, middle: _Path) -> float:
    """Dry feed that usual larvae would eat up to their peak, beyond what was given [kg]."""
    ample = _path(history, steps, _DRAWS[0], PLENTY_KG)
    if middle.mg.max() >= HUNGRY_SHARE * ample.mg.max():
        return 0.0
    full = int(np.argmax(ample.mg >= NEARLY * ample.mg.max()))
    return (
        max(float(ample.eaten_kg[full] - middle.eaten_kg[-1]), 0.0)
        / history.course.facts.substrate.edible_share
    )


def _banded(kg: FloatArray, each_mg: float) -> LarvaeKg:
    low, median, high = np.quantile(kg, BAND).tolist()
    return LarvaeKg(low, median, high, float(each_mg))
