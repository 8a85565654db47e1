"""Boxes that dry, from a simulation of its own: none of its physics, and none of its noise, is that of
`bins`.

Water leaves by a coefficient times a pressure difference (Dalton), the surface follows heat and cooling with
a delay, the crust forms in two steps, larvae and microbes heat in a bump over their days. The factor of a
box is drawn once and wanders around itself; the model takes it for a random walk. The coefficient is set so
that the twelve boxes of chicken feed of Fuhrmann et al. 2024 (open data: 6.0 kg at 0.651, 12,000 larvae, six
days) end at their 0.31; 28 °C and 70 %RH assumed there, as in `test_moisture.py`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from monitor.bins.conditions import ClimateSeries, climate_of
from monitor.bins.events import BinEvent, MoistureTested, Stirred, WaterAdded, Weighed
from monitor.bins.substrate import BinFacts, Larvae
from monitor.climate.arrays import FloatArray
from monitor.records import MS_PER_DAY, MS_PER_HOUR, MS_PER_MINUTE

T0 = 472_222 * MS_PER_HOUR
STEP_MIN = 15
STEPS_H = 60 // STEP_MIN
AREA_M2 = 0.24
TRANSFER_G_M2_H_PA = 0.068
LATENT_J_G, CARBON_DIOXIDE_J_G = 2430.0, 12_000.0
HEAT_LOSS_W_M2_K = 11.0
DELAY_H = 2.0
"""Hours that a box needs to follow its heat."""
WANDER_SD, WANDER_DAYS = 0.12, 3.0
"""How far the factor of a box strays from itself, and for how long."""
OVEN_SD, SCALE_SD_KG, FILL_SD = 0.015, 0.03, 0.03


@dataclass(frozen=True)
class Box:
    """What a farm knows of a box, and what is true: moisture and mass at each hour."""

    facts: BinFacts
    events: tuple[BinEvent, ...]
    climate: ClimateSeries
    moisture: FloatArray
    mass_kg: FloatArray

    def tested(self, day: float, rng: np.random.Generator) -> tuple[BinEvent, ...]:
        """Its logbook with one oven test on a day."""
        at = round(24 * day)
        seen = float(np.clip(self.moisture[at] + rng.normal(0.0, OVEN_SD), 0.02, 0.98))
        return self._with(MoistureTested(T0 + at * MS_PER_HOUR, seen, OVEN_SD))

    def weighed(self, day: float, rng: np.random.Generator) -> tuple[BinEvent, ...]:
        """Its logbook with one weighing on a day."""
        at = round(24 * day)
        return self._with(
            Weighed(
                T0 + at * MS_PER_HOUR, float(self.mass_kg[at] + rng.normal(0.0, SCALE_SD_KG)), SCALE_SD_KG
            )
        )

    def _with(self, event: BinEvent) -> tuple[BinEvent, ...]:
        return tuple(sorted((*self.events, event), key=lambda each: each.at_ms))

    def crossing_h(self, limit: float) -> float | None:
        """Hours until it first lies below a limit; None where it never does."""
        below = np.flatnonzero(self.moisture < limit)
        return float(below[0]) if len(below) else None


def saturation_pa(celsius: FloatArray) -> FloatArray:
    """Saturation pressure [Pa]. Source: Magnus form, 611.2 exp(17.62 T/(243.12 + T))."""
    return np.asarray(611.2 * np.exp(17.62 * celsius / (243.12 + celsius)))


@dataclass(frozen=True)
class Plan:
    """What is drawn of k boxes before they run; shape (k,) unless said."""

    kg: FloatArray
    moisture: FloatArray
    factor: FloatArray
    larvae: FloatArray
    peak_w_larva: FloatArray
    peak_day: FloatArray
    final_mg: FloatArray
    air_c: FloatArray
    humid: FloatArray
    swing_c: FloatArray
    crust_h: FloatArray
    wander: FloatArray
    weather: FloatArray
    watered_kg: FloatArray
    stirred: FloatArray


def plan_of(rng: np.random.Generator, boxes: int, days: int, spread: float, farm: float = 0.0) -> Plan:
    """Draw boxes whose factors are spread by a log-sd around a farm's own; `wander`, `weather`, `watered_kg`
    and `stirred` have shape (steps, k).
    """
    steps = days * 24 * STEPS_H
    wander, weather = _wandering(rng, steps, boxes, WANDER_DAYS), _wandering(rng, steps, boxes, 2.0)
    watered, stirred = np.zeros((steps, boxes)), np.zeros((steps, boxes))
    for box in range(boxes):
        if rng.random() < 0.45:
            for day in np.arange(rng.integers(2, 4), days, rng.integers(2, 4)):
                watered[int(day) * 24 * STEPS_H + int(rng.integers(28, 44)), box] = rng.uniform(0.6, 1.6)
        if rng.random() < 0.5:
            for day in np.arange(1, days, rng.integers(1, 4)):
                stirred[int(day) * 24 * STEPS_H + int(rng.integers(28, 44)), box] = 1.0
    return Plan(
        kg=rng.uniform(6.0, 8.5, boxes),
        moisture=rng.uniform(0.65, 0.75, boxes),
        factor=np.exp(farm + spread * rng.normal(size=boxes)),
        larvae=rng.uniform(8000.0, 12_000.0, boxes),
        peak_w_larva=rng.uniform(0.0028, 0.0038, boxes),
        peak_day=rng.uniform(4.0, 5.5, boxes),
        final_mg=rng.uniform(130.0, 200.0, boxes),
        air_c=rng.uniform(26.0, 29.0, boxes),
        humid=rng.uniform(55.0, 72.0, boxes),
        swing_c=rng.uniform(0.5, 2.5, boxes),
        crust_h=rng.uniform(0.6, 1.6, boxes),
        wander=WANDER_SD * wander,
        weather=weather,
        watered_kg=watered,
        stirred=stirred,
    )


def _wandering(rng: np.random.Generator, steps: int, boxes: int, days: float) -> FloatArray:
    """Stationary noise of sd 1 that forgets itself in some days, shape (steps, boxes)."""
    keep = np.exp(-1.0 / (days * 24 * STEPS_H))
    values = np.empty((steps, boxes))
    values[0] = rng.normal(size=boxes)
    for step in range(1, steps):
        values[step] = keep * values[step - 1] + np.sqrt(1.0 - keep**2) * rng.normal(size=boxes)
    return values


@dataclass(frozen=True)
class Course:
    """What happens to k boxes: moisture of the substrate, mass, air and humidity by hour, shape (hours,
    k)."""

    moisture: FloatArray
    mass_kg: FloatArray
    air_c: FloatArray
    humid: FloatArray


def run_boxes(plan: Plan, true_moisture: FloatArray) -> Course:
    """Let the boxes of a plan dry, step by step."""
    steps = len(plan.wander)
    water, dry = plan.kg * true_moisture, plan.kg * (1.0 - true_moisture)
    put, surface, crusted = dry.copy(), plan.air_c - 3.0, np.zeros_like(water)
    rows: list[tuple[FloatArray, FloatArray, FloatArray, FloatArray]] = []
    for step in range(steps + 1):
        at = min(step, steps - 1)
        day = step / (24.0 * STEPS_H)
        phase = np.sin(2.0 * np.pi * day)
        air = plan.air_c + plan.swing_c * phase + 0.5 * plan.weather[at]
        humid = np.clip(plan.humid - 3.0 * plan.swing_c * phase - 2.0 * plan.weather[at], 20.0, 95.0)
        larvae = plan.larvae * 1e-6 * _grown_mg(day, plan.final_mg)
        free, solid = np.maximum(water - 0.7 * larvae, 0.01), np.maximum(dry - 0.3 * larvae, 0.05)
        if step % STEPS_H == 0:
            rows.append((free / (free + solid), water + dry, air, humid))
        heat = _heat_w(plan, day) * np.clip((dry / put - 0.3) / 0.2, 0.0, 1.0)
        crusted = np.where((plan.stirred[at] > 0.0) | (plan.watered_kg[at] > 0.0), 0.0, crusted + 0.25)
        wet = np.where(crusted > 48.0 * plan.crust_h, 0.55, np.where(crusted > 18.0 * plan.crust_h, 0.8, 1.0))
        wet = wet * np.clip((free / (free + solid) - 0.08) / 0.25, 0.0, 1.0)
        pull = saturation_pa(surface) - humid / 100.0 * saturation_pa(air)
        rate = TRANSFER_G_M2_H_PA * wet * plan.factor * np.exp(plan.wander[at]) * pull
        want = air + (heat / AREA_M2 - LATENT_J_G * rate / 3600.0) / HEAT_LOSS_W_M2_K
        surface = surface + (want - surface) / (DELAY_H * STEPS_H)
        breath_g = heat * 60.0 * STEP_MIN / CARBON_DIOXIDE_J_G
        water = water + (0.35 * breath_g - rate * AREA_M2 / STEPS_H) / 1000.0 + plan.watered_kg[at]
        water, dry = np.maximum(water, 0.7 * larvae + 0.01), dry - 0.7 * breath_g / 1000.0
    return Course(*(np.array(column) for column in zip(*rows, strict=True)))


def _grown_mg(day: float, final_mg: FloatArray) -> FloatArray:
    return np.asarray(6.0 * (final_mg / 6.0) ** min(day / 5.0, 1.0))


def _heat_w(plan: Plan, day: float) -> FloatArray:
    """Heat of larvae and microbes [W a box]: microbes early, a bump of the larvae."""
    bump = np.exp(-(((day - plan.peak_day) / 1.5) ** 2))
    return np.asarray(5.0 * np.exp(-day / 1.5) + plan.larvae * plan.peak_w_larva * bump)


def boxes_of(seed: int, count: int, spread: float, days: int = 8, farm: float = 0.0) -> list[Box]:
    """Boxes as a farm knows them: filling within 0.03, the air by a sensor that is a little off."""
    rng = np.random.default_rng(seed)
    plan = plan_of(rng, count, days, spread, farm)
    course = run_boxes(plan, np.clip(plan.moisture + FILL_SD * rng.normal(size=count), 0.5, 0.85))
    return [_box(plan, course, number, rng) for number in range(count)]


def _box(plan: Plan, course: Course, number: int, rng: np.random.Generator) -> Box:
    times = T0 + MS_PER_HOUR * np.arange(len(course.moisture))
    air = course.air_c[:, number] + rng.normal(0.0, 0.2) + rng.normal(0.0, 0.05, len(times))
    humid = np.clip(course.humid[:, number] + rng.normal(0.0, 2.0), 0.0, 100.0)
    events: list[BinEvent] = []
    for step in np.flatnonzero(plan.stirred[:, number] + plan.watered_kg[:, number]).tolist():
        at_ms, kg = T0 + (step + 1) * STEP_MIN * MS_PER_MINUTE, float(plan.watered_kg[step, number])
        events.append(WaterAdded(at_ms, kg) if kg > 0.0 else Stirred(at_ms))
    larvae = Larvae(
        float(plan.larvae[number]), T0, age_days=5.0, start_mg=6.0, final_mg=165.0, growth_days=5.0
    )
    facts = BinFacts(
        AREA_M2, T0, float(plan.kg[number]), float(plan.moisture[number]), FILL_SD, larvae=larvae
    )
    return Box(
        facts,
        tuple(events),
        climate_of(times, air, humid),
        course.moisture[:, number],
        course.mass_kg[:, number],
    )


def at_day(day: float) -> int:
    """A day after the filling as a time [ms]."""
    return T0 + round(day * MS_PER_DAY)
