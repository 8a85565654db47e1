"""Farms with bins that heat themselves, for trials of forecasts: two generators, neither of them the model.

`demo_like`: the bins of the demo's physics; their heat follows the days since the filling, each with its own
vigour. `by_growth`: heat follows the growth of the larvae, in bins of first order that lag behind the air.
Development is summed hour by hour with own lines of code; what the keeper wrote down is a day off at times.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from monitor.climate.arrays import FloatArray, IntArray
from monitor.demo.bins import BinPlan, BinState, heat_w_m2, step_bin, water_to
from monitor.demo.weather import Surroundings, vapour_pa
from monitor.development.clocks import PlaceClimate
from monitor.development.events import Event, Observation
from monitor.development.progress import Cohort, CohortTrack, Ended, Ending, Origin, Purpose, Residence
from monitor.development.temperature_series import series_of
from monitor.records import MS_PER_DAY, MS_PER_HOUR, Stage

DAYS = 170
HOURS = DAYS * 24
FIRST_Z = -2.326
SPREAD = 0.08
FIRST_FLY_H, MOST_FLIES_H = -4.2 * 24.0, 7.5 * 24.0
"""From half of the flies to the first of a box and to nine in ten: open counts of 48 boxes (ReproLab, common
garden)."""
ENDS = (
    (0, None, Event.HATCH),
    (1, Event.FIRST_PREPUPAE, Event.HALF_PREPUPAE),
    (2, Event.FIRST_MOTIONLESS, Event.HALF_MOTIONLESS),
    (3, Event.FIRST_EMERGED, Event.HALF_EMERGED),
)
USUAL = np.array([52.0, 300.0, 110.0, 135.0, 56.0])
LOG_SDS = np.array([0.1, 0.12, 0.15, 0.12, 0.1])
"""Thermal constants of the median farm [°C d above 12 °C] and how farms differ: invented, near the papers."""


@dataclass(frozen=True, slots=True)
class Plan:
    """What a farm is like: bins, days from one filling of a bin to the next, days in the tray before it."""

    bins: int
    empty_days: float
    nursery_days: float
    room_c: float
    swing_k: float
    season_k: float
    vigour_log_sd: float
    cohort_log_sd: float
    box_cooler_k: float
    leaves_after_days: float
    growth: bool


@dataclass(slots=True)
class Life:
    """One true cohort: when it was laid, filled in and left [h], constants, true times of its events [h]."""

    name: str
    bin: str
    laid_h: float
    filled_h: float
    constants: FloatArray
    vigour: float
    is_kept: bool
    leaves_after_days: float
    events: dict[Event, float] = field(default_factory=dict)
    left_h: float = np.inf
    grown: float = 0.0


@dataclass(frozen=True, eq=False)
class BinFarm:
    """The truth of one farm, hour by hour, and what was written down of it."""

    plan: Plan
    hours_ms: IntArray
    air: Mapping[str, FloatArray]
    substrate: Mapping[str, FloatArray]
    lives: tuple[Life, ...]
    seed: int

    def climates(self, now_ms: int, days: int = 100) -> list[PlaceClimate]:
        """What the sensors said up to now."""
        first, last = np.searchsorted(self.hours_ms, [now_ms - days * MS_PER_DAY, now_ms + 1])
        times = self.hours_ms[first:last]
        found = []
        trays = np.mean([values[first:last] for values in self.substrate.values()], axis=0)
        for place, values in self.air.items():
            air = series_of(times, values[first:last])
            own = self.substrate.get(place)
            substrate = None if own is None else series_of(times, own[first:last])
            if place == "tray":
                substrate = series_of(times, trays)
            elif substrate is None:
                substrate = air
            found.append(PlaceClimate(place, air, substrate))
        return found

    def book(self, now_ms: int) -> list[Cohort]:
        """The cohorts as they were written down by now, in the order in which they began."""
        return [self._written(life, now_ms) for life in self.lives if self.at_ms(life.laid_h) < now_ms]

    def at_ms(self, hour: float) -> int:
        return int(self.hours_ms[0]) + round(hour * MS_PER_HOUR)

    def _written(self, life: Life, now_ms: int) -> Cohort:
        random = np.random.default_rng([self.seed, int(life.laid_h)])
        start_ms = self.at_ms(life.laid_h)
        stays = [Residence("tray", start_ms), Residence(life.bin, self.at_ms(life.filled_h))]
        ended = None
        if np.isfinite(life.left_h) and self.at_ms(life.left_h) < now_ms:
            if life.is_kept:
                stays.append(Residence("box", self.at_ms(life.left_h)))
            else:
                ended = Ended(self.at_ms(life.left_h), Ending.HARVESTED)
        stays = [stay for stay in stays if stay.from_ms <= now_ms]
        out_ms = self.at_ms(life.events.get(Event.MOST_EMERGED, np.inf) + 120.0) if _emerges(life) else None
        if out_ms is not None and life.is_kept and out_ms < now_ms:
            ended = Ended(out_ms, Ending.EMERGED)
        seen = []
        for event in (Event.HATCH, Event.FIRST_PREPUPAE, Event.HALF_MOTIONLESS, Event.HALF_EMERGED):
            is_seen, off_days = random.random() < 0.8, random.normal(0.0, 0.35)
            at_ms = life.events.get(event)
            if at_ms is None or not is_seen:
                continue
            if not life.is_kept and event in (Event.HALF_MOTIONLESS, Event.HALF_EMERGED):
                continue
            seen_ms = max(self.at_ms(at_ms + 24.0 * off_days), start_ms + MS_PER_HOUR)
            if seen_ms < now_ms:
                seen.append(Observation(event, seen_ms, 0.5))
        track = CohortTrack(life.name, start_ms, tuple(stays), count=2500.0, count_stage=Stage.LARVA)
        purpose = Purpose.BREEDING if life.is_kept else Purpose.FEED
        return Cohort(life.name, track, Origin.LAID, purpose=purpose, seen=tuple(seen), ended=ended)


def _emerges(life: Life) -> bool:
    return Event.MOST_EMERGED in life.events


def drawn_plan(random: np.random.Generator, *, growth: bool) -> Plan:
    """A farm drawn at random."""
    return Plan(
        bins=int(random.integers(3, 7)),
        empty_days=float(random.uniform(0.5, 5.0)),
        nursery_days=float(random.uniform(4.5, 7.0) if growth else random.uniform(3.5, 4.5)),
        room_c=float(random.uniform(22.5, 26.5) if growth else random.uniform(24.0, 27.0)),
        swing_k=float(random.uniform(0.5, 2.5)),
        season_k=float(random.uniform(-2.0, 2.0)),
        vigour_log_sd=float(random.uniform(0.05, 0.3)),
        cohort_log_sd=float(random.uniform(0.03, 0.08)),
        box_cooler_k=float(random.uniform(0.0, 1.5)),
        leaves_after_days=float(random.uniform(0.0, 3.0)),
        growth=growth,
    )


def bin_farm(seed: int, *, growth: bool = False, days: int = DAYS, plan: Plan | None = None) -> BinFarm:
    """The whole truth of one farm over some days."""
    random = np.random.default_rng([seed, int(growth)])
    plan = plan or drawn_plan(random, growth=growth)
    hours = days * 24
    room = _room(plan, hours, random)
    air = {"tray": room + 0.3, "box": room - plan.box_cooler_k}
    lives = _lives(plan, hours, random)
    names = [f"bin-{number}" for number in range(plan.bins)]
    bins: dict[str, _Bin] = {name: _GrowthBin() if growth else _DemoBin(float(room[0])) for name in names}
    substrate = {name: np.empty(hours) for name in bins}
    for hour in range(hours):
        for name, each in bins.items():
            substrate[name][hour] = each.step(float(room[hour]), _inside(lives, name, hour))
    for life in lives:
        _live(life, air, substrate)
    noise = random.normal(0.0, 0.1, (2 * plan.bins + 2, hours))
    measured = {name: values + noise[number] for number, (name, values) in enumerate(substrate.items())}
    air |= dict.fromkeys(bins, room)
    shown = {name: values + noise[plan.bins + n % 3] for n, (name, values) in enumerate(air.items())}
    times = np.arange(hours, dtype=np.int64) * MS_PER_HOUR
    return BinFarm(plan, times, shown, measured, tuple(lives), seed)


def _room(plan: Plan, hours: int, random: np.random.Generator) -> FloatArray:
    """Air of a heated room: a day's swing, weather with memory, a slow season."""
    days = hours // 24 + 2
    weather = np.zeros(days)
    for day in range(1, days):
        weather[day] = 0.6 * weather[day - 1] + random.normal(0.0, 0.5)
    at = np.arange(hours) / 24.0
    season = plan.season_k * np.sin(2.0 * np.pi * (at / 365.0 + random.random()))
    swing = plan.swing_k * np.sin(2.0 * np.pi * (at - random.random()))
    return np.asarray(plan.room_c + season + swing + np.interp(at, np.arange(days), weather))


def _lives(plan: Plan, hours: int, random: np.random.Generator) -> list[Life]:
    farm = USUAL * np.exp(LOG_SDS * random.standard_normal(5))
    farm[1] *= 1.0 if plan.growth else 0.88
    warm_c = plan.room_c + 2.0
    grown_days = 0.85 * (farm[1] + farm[0]) / (warm_c - 12.0) - plan.nursery_days
    cycle_days = grown_days + plan.leaves_after_days + plan.empty_days
    lives = []
    for number in range(plan.bins):
        filled = (number / plan.bins * cycle_days + plan.nursery_days + 1.0) * 24.0
        while filled < hours:
            lives.append(
                Life(
                    name="",
                    bin=f"bin-{number}",
                    laid_h=filled - plan.nursery_days * 24.0,
                    filled_h=filled,
                    constants=farm * np.exp(plan.cohort_log_sd * random.standard_normal(5)),
                    vigour=float(np.exp(plan.vigour_log_sd * random.standard_normal())),
                    is_kept=bool(random.random() < 0.6),
                    leaves_after_days=plan.leaves_after_days + float(random.normal(0.0, 0.6)),
                )
            )
            filled += 24.0 * (cycle_days + random.uniform(-1.0, 1.0))
    lives.sort(key=lambda life: life.laid_h)
    for number, life in enumerate(lives):
        life.name = f"c{number:03d}"
        later = [
            other.filled_h for other in lives if other.bin == life.bin and other.filled_h > life.filled_h
        ]
        life.left_h = min(later, default=np.inf) - 1.0
    return lives


def _inside(lives: list[Life], place: str, hour: int) -> Life | None:
    return next((each for each in lives if each.bin == place and each.filled_h <= hour <= each.left_h), None)


def _live(life: Life, air: Mapping[str, FloatArray], substrate: Mapping[str, FloatArray]) -> None:
    """True times of the events; the move to the box depends on when the first prepupae leave the bin."""
    hours = len(air["tray"])
    felt = np.array(air["tray"])
    filled = round(life.filled_h)
    felt[filled:] = substrate[life.bin][filled:]
    events = _events(life, felt)
    left = events.get(Event.FIRST_PREPUPAE, np.inf) + 24.0 * life.leaves_after_days
    life.left_h = min(life.left_h, max(left, life.filled_h + 24.0))
    if life.left_h < hours:
        felt[round(life.left_h) :] = air["box"][round(life.left_h) :]
        events = _events(life, felt)
    life.events = events


def _events(life: Life, felt_c: FloatArray) -> dict[Event, float]:
    laid = round(life.laid_h)
    earned = np.concatenate([[0.0], np.cumsum(np.clip(felt_c[laid:] - 12.0, 0.0, 20.0) / 24.0)])
    ends = np.searchsorted(earned, np.cumsum(life.constants)[:4])
    events: dict[Event, float] = {}
    for number, first, half in ENDS:
        days = float(ends[number])
        if ends[number] >= len(earned):
            break
        if first is not None:
            ahead = days * np.exp(FIRST_Z * SPREAD) - days
            events[first] = life.laid_h + days + (FIRST_FLY_H if first is Event.FIRST_EMERGED else ahead)
        events[half] = life.laid_h + days
    if Event.HALF_EMERGED in events:
        events[Event.MOST_EMERGED] = life.laid_h + float(ends[3]) + MOST_FLIES_H
    return events


class _Bin:
    def step(self, air_c: float, life: Life | None) -> float:
        raise NotImplementedError


class _DemoBin(_Bin):
    """A bin of the demo's physics, watered when it grows dry; emptied it is as warm as the air."""

    plan = BinPlan()

    def __init__(self, air_c: float) -> None:
        self._state = BinState(air_c, air_c, 7.6, 3.0, 60.0)
        self._life: Life | None = None

    def step(self, air_c: float, life: Life | None) -> float:
        if life is not self._life:
            self._life = life
            self._state = BinState(29.0, 28.5, 7.6, 3.0, 0.0)
        if life is None:
            return air_c
        air = Surroundings(air_c, vapour_pa(air_c, 60.0))
        heat = life.vigour * heat_w_m2(self._state.age_days, self._state.core_c, self._state.moisture)
        if self._state.dry_kg < 1.0:
            heat = 0.0
        for _ in range(2):
            self._state = step_bin(self.plan, self._state, air, 1800.0, heat_override_w_m2=heat).state
        if self._state.moisture < 0.66:
            self._state = water_to(self._state, 0.70)
        return self._state.core_c


class _GrowthBin(_Bin):
    """Excess over the air that follows the larvae's development, with half a day of lag."""

    _excess_k = 0.0

    def step(self, air_c: float, life: Life | None) -> float:
        target = 0.0
        if life is not None:
            life.grown += min(max(air_c + self._excess_k - 12.0, 0.0), 20.0) / 24.0
            grown = (life.grown + 15.0 * (life.filled_h - life.laid_h) / 24.0) / life.constants[:2].sum()
            target = life.vigour * (1.0 + 8.0 * np.exp(-(((grown - 0.72) / 0.22) ** 2)))
            target *= min(1.0, max(0.0, (44.0 - air_c - self._excess_k) / 6.0))
        self._excess_k += (target - self._excess_k) / 12.0
        return air_c + self._excess_k
