"""The heat alarms of a bin on invented courses: how long before the limit they come, how often for nothing.

The courses (`tests/builders/heat_bins.py`) know nothing of the estimator. The rules are the defaults of the
species with their own delays; what was told and is seen is held back as `notify.policy` does it (12 hours).
Figures of the estimator and the limits before (42 °C, a line through 45 minutes): 25 to 28 high alarms by bin
and month in bins like the nine measured ones, a warning of 56 to 60 minutes, 0 to 15 % of them under 30.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest
from heat_bins import NINE, Floats, Heating, Shape, going_on, heating, living, plateau, probe, pulses
from hypothesis import given
from hypothesis import strategies as st

from monitor.alarms.rules import rules_for
from monitor.alarms.state_machine import advance_many
from monitor.alarms.timing import Sample
from monitor.climate import heat
from monitor.climate.arrays import IntArray
from monitor.climate.heat import minutes_to_overheating
from monitor.demo.physics import BIN_PLANS, FarmPhysics
from monitor.demo.script import Script
from monitor.records import MS_PER_MINUTE, AlarmRule, AlarmState, Computed, PlaceKind, Priority
from monitor.settings.schema import Place
from monitor.settings.species import load_species

T0 = 1_699_999_200_000
BIN = Place(id="bin-1", kind=PlaceKind.GROW_OUT_BIN)
RULES = {rule.alarm_id: rule for rule in rules_for((BIN,), load_species("black_soldier_fly").alarms, ())}
HIGH = RULES["bin-1/substrate_temperature/high/high"]
MEDIUM = RULES["bin-1/substrate_temperature/high/medium"]
EARLY = RULES["bin-1/minutes_to_overheating/low/high"]
LIMIT_C = HIGH.setpoint
BACK_MIN, EVERY_MIN, GAP_S = 91.0, 5.0, 3600.0
COOL_C = 12.0
HELD_MIN = HIGH.realarm_after_s / 60.0
MONTH_DAYS = 30.0


@dataclass(frozen=True)
class Told:
    """When each alarm came [min]: early and high ones, medium ones."""

    early: list[float]
    high: list[float]
    medium: list[float]

    @property
    def wakings(self) -> int:
        """High alarms without those of one kind that come again within the hours in which they are held."""
        return sum(_apart(times) for times in (self.early, self.high))


def _apart(times: list[float]) -> int:
    count, last = 0, -HELD_MIN
    for at in times:
        if at - last >= HELD_MIN:
            count, last = count + 1, at
    return count


def played(at_min: Floats, readings_c: Floats, begin: int = 0, high: AlarmRule = HIGH) -> Told:
    """The three alarms of a bin by their own delays; the early one is silent while the high one stands."""
    times = (T0 + at_min * MS_PER_MINUTE).astype(np.int64)
    interval = float(at_min[1] - at_min[0])
    back, every = int(BACK_MIN / interval) + 1, max(1, round(EVERY_MIN / interval))
    rules = (EARLY, high, MEDIUM)
    states, found = [AlarmState(rule.alarm_id) for rule in rules], Told([], [], [])
    for at in range(max(back, begin), len(times)):
        now_ms = int(times[at])
        samples: list[float | None] = [None, float(readings_c[at]), float(readings_c[at])]
        if at % every == 0:
            samples[0] = minutes(times[at - back : at + 1], readings_c[at - back : at + 1], high.setpoint)
        for number, value in enumerate(samples):
            if value is not None:
                after = advance_many(states[number], rules[number], [Sample(now_ms, value)], now_ms, GAP_S)
                states[number] = after.state
                announced = any(row.announces for row in after.transitions)
                if announced and not (number == 0 and states[1].active):
                    (found.early, found.high, found.medium)[number].append(float(at_min[at]))
    return found


def minutes(times_ms: IntArray, values: Floats, limit_c: float) -> float | None:
    """What the early alarm looks at; far below the limit nothing is worked out, to save the time."""
    if values[-1] < limit_c - COOL_C:
        return 1440.0
    return minutes_to_overheating(times_ms.tolist(), values.tolist(), limit_c)


def warning_min(it: Heating, limit_c: float, told: list[float], interval: float) -> float:
    """Minutes from the first telling since the heating began to the true crossing; 0 without one in time."""
    crossed = int(np.flatnonzero(it.core_c[it.began :] > limit_c)[0]) + it.began
    since = [at for at in told if at >= (it.began - 12) * 5.0 and at <= crossed * 5.0]
    return crossed * 5.0 - min(since) if since and interval else 0.0


def leads(rng: np.random.Generator, count: int, interval: float) -> Floats:
    found = []
    for _ in range(count):
        it = heating(rng, LIMIT_C)
        at_min, values = probe(rng, it.core_c, interval)
        told = played(at_min, values, max(0, int((it.began * 5.0 - 100.0) / interval)))
        found.append(warning_min(it, LIMIT_C, told.early + told.high, interval))
    return np.array(found)


def feeding(rng: np.random.Generator, shape: Shape, batches: int, interval: float = 5.0) -> list[Told]:
    courses = (probe(rng, shape(rng, bin_), interval) for _ in range(batches) for bin_ in NINE)
    return [played(*course) for course in courses]


def by_month(count: int, bins: int, days: float = 8.0) -> float:
    return count / bins / days * MONTH_DAYS


def false_alarms(
    rng: np.random.Generator, level_c: float, swing_c: float, bins: int, interval: float
) -> float:
    count = 0
    for _ in range(bins):
        at_min, values = probe(rng, living(rng, 8.0, level_c, swing_c), interval)
        told = played(at_min, values)
        count += len(told.early) + len(told.high)
    return by_month(count, bins)


def told_before_45(rng: np.random.Generator, count: int, least_h: float = 1.25) -> tuple[Floats, Floats]:
    """Warning before 45 °C by any alarm, and the rate, of feeding bins that go on to 47 °C."""
    found: list[tuple[float, float]] = []
    while len(found) < count:
        shape = plateau if len(found) % 2 else pulses
        it = going_on(rng, shape(rng, NINE[int(rng.integers(len(NINE)))]), least_h)
        if it is not None:
            at_min, values = probe(rng, it.core_c, 5.0)
            told = played(at_min, values, it.began - 20)
            found.append((warning_min(it, 45.0, told.early + told.high + told.medium, 5.0), it.rate))
    return np.array(found)[:, 0], np.array(found)[:, 1]


@pytest.mark.parametrize("interval", [1.0, 5.0, 10.0])
def test_heating_is_told_before_the_limit(interval: float) -> None:
    warning = leads(np.random.default_rng(7), 16, interval)
    assert np.median(warning) >= 45.0
    assert np.mean(warning < 30.0) <= 0.13


def test_a_feeding_bin_like_the_measured_ones_seldom_wakes_anybody() -> None:
    told = feeding(np.random.default_rng(5), plateau, 1, 10.0)
    assert by_month(sum(each.wakings for each in told), len(told)) <= 2.0, "25 before"
    assert all(not each.high for each in told)


def test_daily_stirring_at_forty_degrees_is_no_alarm() -> None:
    assert false_alarms(np.random.default_rng(3), 40.0, 1.0, 1, 10.0) == 0.0


def test_one_that_goes_on_to_47_is_told_before_45() -> None:
    warning, _ = told_before_45(np.random.default_rng(9), 8)
    assert np.median(warning) >= 45.0
    assert np.min(warning) > 20.0


@pytest.mark.study
def test_two_hundred_heating_bins() -> None:
    for interval in (1.0, 5.0, 10.0, 15.0):
        warning = leads(np.random.default_rng(12), 200, interval)
        under = np.mean(warning < 30.0)
        print(f"\na reading each {interval:g} min: median {np.median(warning):.0f} min, {under:.1%} under 30")
        assert np.median(warning) >= (45.0 if interval <= 10.0 else 35.0)
        assert under <= 0.05 or interval > 10.0


@pytest.mark.study
@pytest.mark.parametrize("shape", [plateau, pulses])
def test_many_feeding_bins(shape: Shape) -> None:
    told = feeding(np.random.default_rng(21), shape, 8)
    raised = by_month(sum(len(each.early) + len(each.high) for each in told), len(told))
    wakings = by_month(sum(each.wakings for each in told), len(told))
    medium = by_month(sum(len(each.medium) for each in told), len(told))
    print(f"\n{shape.__name__}, a bin and month: {raised:.2f} high, {wakings:.2f} told, {medium:.2f} medium")
    assert wakings <= 1.3


@pytest.mark.study
def test_many_bins_that_are_stirred_daily() -> None:
    for level_c, swing_c in ((38.0, 2.0), (40.0, 1.0), (40.0, 2.0), (41.0, 1.0)):
        for interval in (1.0, 5.0, 10.0):
            rng = np.random.default_rng(31)
            found = false_alarms(rng, level_c, swing_c, 10, interval)
            print(f"\n{level_c:g} ± {swing_c:g} °C, each {interval:g} min: {found:.2f} false a bin and month")
            assert found <= 0.5


@pytest.mark.study
def test_many_bins_that_go_on_to_47() -> None:
    warning, rate = told_before_45(np.random.default_rng(41), 150)
    for low, high in ((0.5, 1.1), (1.1, 2.0), (2.0, 4.0), (4.0, 6.0)):
        some = warning[(rate >= low) & (rate < high)]
        late = np.mean(some < 45.0)
        print(f"\n{low}-{high} °C/h ({len(some)}): median {np.median(some):.0f} min, {late:.0%} under 45")
    assert np.median(warning) >= 45.0


@pytest.mark.slow
def test_the_demo_is_warned_of_its_covered_bin_and_of_no_other() -> None:
    nature, rng, count = FarmPhysics(1, T0, Script(T0)), np.random.default_rng(1), 20 * 60
    core = {name: np.empty(count) for name in BIN_PLANS}
    for minute in range(count):
        nature.step(T0 + (minute + 1) * MS_PER_MINUTE)
        for name, values in core.items():
            values[minute] = nature.value(name, "substrate_temperature")
    for name, values in core.items():
        readings_c = np.round((values + rng.normal(0.0, 0.05, count)) * 16.0) / 16.0
        told = played(np.arange(count, dtype=np.float64), readings_c)
        if name != "bin-4":
            assert (told.early, told.high, told.medium) == ([], [], [])
            continue
        crossed = int(np.flatnonzero(values > LIMIT_C)[0])
        assert len(told.early) == 1 and crossed - told.early[0] >= 45.0


def test_the_early_alarm_is_about_the_computed_quantity_and_high() -> None:
    assert (EARLY.quantity, EARLY.priority) == (Computed.MINUTES_TO_OVERHEATING, Priority.HIGH)


BINS = st.tuples(
    st.sampled_from([MS_PER_MINUTE, 2 * MS_PER_MINUTE, 5 * MS_PER_MINUTE, 15 * MS_PER_MINUTE]),
    st.floats(30.0, 47.0),
    st.lists(st.sampled_from([0.0, 0.05, -0.05, 0.2, -0.3, 0.55, 0.7]), min_size=1, max_size=95),
)


@given(BINS)
def test_a_level_bin_is_told_from_the_whole_reckoning_by_nothing(
    course: tuple[int, float, list[float]],
) -> None:
    every_ms, level_c, wobble = course
    times_ms = [number * every_ms for number in range(len(wobble))]
    values_c = [level_c + each for each in wobble]
    short = minutes_to_overheating(times_ms, values_c, 46.0)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(heat, "_is_level", lambda *_: False)
        assert minutes_to_overheating(times_ms, values_c, 46.0) == short
