"""Quality flags: each test at, below and above its threshold, the order of verdicts, ioos_qc beside us."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from ioos_qc import qartod

from monitor.climate import quality
from monitor.climate.quality import (
    DEFAULT_LIMITS,
    WORST_LAST,
    QualityLimits,
    SensorMemory,
    check,
    worst,
)
from monitor.records import MS_PER_HOUR, MS_PER_MINUTE, Flag, Quantity, Reading, SensorKey

PASS, SUSPECT, FAIL = Flag.PASS, Flag.SUSPECT, Flag.FAIL
AIR = DEFAULT_LIMITS[Quantity.AIR_TEMPERATURE]
HUMIDITY = DEFAULT_LIMITS[Quantity.AIR_HUMIDITY]
ONLY_RANGE = QualityLimits(-40.0, -5.0, 50.0, 125.0, resolution=0.01)


def reading(value: float, at_ms: int = 0, quantity: str = "air_temperature") -> Reading:
    return Reading(SensorKey("node-1", "", quantity), at_ms, value)


def run(
    values: Sequence[float], limits: QualityLimits, every_ms: int = MS_PER_MINUTE
) -> tuple[list[Flag], list[str]]:
    """Flags and reasons of a series read at a fixed interval."""
    memory, flags, reasons = SensorMemory(), [], []
    for number, value in enumerate(values):
        memory, flag = check(memory, reading(value, number * every_ms), limits)
        flags.append(flag)
        reasons.append(memory.reason)
    return flags, reasons


# ---- gross range ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        (-127.0, FAIL),  # a DS18B20 that is not there
        (-40.1, FAIL),
        (-40.0, SUSPECT),
        (-5.1, SUSPECT),
        (-5.0, PASS),
        (50.0, PASS),
        (50.1, SUSPECT),
        (125.0, SUSPECT),
        (125.1, FAIL),
        (math.inf, FAIL),
        (-math.inf, FAIL),
        (math.nan, Flag.MISSING),
    ],
)
def test_gross_range_of_air_temperature(value: float, expected: Flag) -> None:
    assert check(SensorMemory(), reading(value), AIR)[1] is expected


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        (-0.1, FAIL),
        (-20.0, FAIL),
        (0.0, SUSPECT),
        (5.0, PASS),
        (100.0, PASS),
        (100.5, SUSPECT),
        (105.5, FAIL),
    ],
)
def test_negative_humidity_fails(value: float, expected: Flag) -> None:
    assert check(SensorMemory(), reading(value, quantity="air_humidity"), HUMIDITY)[1] is expected


def test_every_measured_quantity_has_limits() -> None:
    assert set(DEFAULT_LIMITS) == set(Quantity)


def test_a_quantity_without_limits_is_not_evaluated() -> None:
    memory = SensorMemory()

    assert check(memory, reading(7.0, quantity="wind"), None) == (memory, Flag.NOT_EVALUATED)


def test_a_fire_is_never_silenced() -> None:
    """From 30 to 120 °C in six minutes: suspect all the way up, and suspect readings still alarm."""
    flags, _ = run([30.0, 30.0, 45.0, 60.0, 75.0, 90.0, 105.0, 120.0], AIR)

    assert flags == [PASS, PASS] + [SUSPECT] * 6


# ---- power-on value ---------------------------------------------------------------------------------------


def test_power_on_value_fails_as_first_reading_and_as_jump() -> None:
    flags, reasons = run([85.0, 85.0, 27.5, 27.5, 85.0, 27.6], AIR)

    assert flags == [FAIL, FAIL, PASS, PASS, FAIL, PASS]
    assert reasons[4] == "power-on value"


def test_a_true_85_degrees_that_came_gradually_is_kept() -> None:
    flags, _ = run([79.0, 81.0, 83.0, 85.0, 86.0], AIR)

    assert flags == [SUSPECT] * 5


def test_85_percent_humidity_is_an_ordinary_value() -> None:
    assert check(SensorMemory(), reading(85.0, quantity="air_humidity"), HUMIDITY)[1] is PASS


# ---- rate of change and spike -----------------------------------------------------------------------------


def test_rate_is_scaled_to_the_interval() -> None:
    rate = replace(ONLY_RANGE, suspect_rate_per_minute=3.0, fail_rate_per_minute=6.0)

    assert run([20.0, 23.0], rate)[0] == [PASS, PASS]
    assert run([20.0, 23.1], rate)[0] == [PASS, SUSPECT]
    assert run([20.0, 26.1], rate)[0] == [PASS, FAIL]
    assert run([20.0, 35.0], rate, every_ms=5 * MS_PER_MINUTE)[0] == [PASS, PASS]
    assert run([20.0, 35.1], rate, every_ms=5 * MS_PER_MINUTE)[0] == [PASS, SUSPECT]


def test_noise_of_a_fast_sensor_is_no_rate() -> None:
    """0.6 K within ten seconds would be 3.6 K a minute; below a minute the step itself counts."""
    assert run([20.0, 20.6, 20.0, 20.6], AIR, every_ms=10_000)[0] == [PASS] * 4


def test_a_spike_is_suspect_and_the_way_back_is_not() -> None:
    spike = replace(ONLY_RANGE, suspect_step=5.0, fail_step=20.0)

    assert run([25.0, 25.1, 31.0, 25.2, 25.1], spike)[0] == [PASS, PASS, SUSPECT, PASS, PASS]
    assert run([25.0, 25.1, 46.0, 25.2], spike)[0] == [PASS, PASS, FAIL, PASS]


def test_a_true_step_is_suspect_once() -> None:
    spike = replace(ONLY_RANGE, suspect_step=5.0)

    assert run([25.0, 31.0, 31.1, 31.0], spike)[0] == [PASS, SUSPECT, PASS, PASS]


def test_rate_and_spike_are_not_judged_over_a_gap() -> None:
    gap_ms = int(AIR.steps_within_s * 1000)

    assert run([20.0, 29.0], AIR, every_ms=gap_ms)[0] == [PASS, SUSPECT]
    assert run([20.0, 29.0], AIR, every_ms=gap_ms + 1)[0] == [PASS, PASS]


def test_values_that_fail_the_range_are_no_neighbours() -> None:
    flags, _ = run([25.0, -127.0, -127.0, 25.1], AIR)

    assert flags == [PASS, FAIL, FAIL, PASS]


# ---- flat line, wetted, gap, order of time ----------------------------------------------------------------


def flat(suspect_s: float = 3600.0, fail_s: float = 7200.0) -> QualityLimits:
    return replace(ONLY_RANGE, resolution=0.1, suspect_flat_s=suspect_s, fail_flat_s=fail_s)


def test_flat_line_counts_time_not_readings() -> None:
    slow, _ = run([25.0] * 14, flat(), every_ms=10 * MS_PER_MINUTE)
    fast, _ = run([25.0] * 140, flat(), every_ms=MS_PER_MINUTE)

    assert slow == [PASS] * 7 + [SUSPECT] * 6 + [FAIL]
    assert fast.index(SUSPECT) == 61
    assert fast.index(FAIL) == 121


def test_one_step_of_the_sensor_ends_a_flat_line() -> None:
    flags, _ = run([25.3] * 8 + [25.2] * 6, flat(), every_ms=10 * MS_PER_MINUTE)

    assert flags == [PASS] * 7 + [SUSPECT] + [PASS] * 6


def test_saturated_humidity_may_stand_still() -> None:
    flags, _ = run([96.0] * 200, HUMIDITY, every_ms=10 * MS_PER_MINUTE)

    assert set(flags) == {PASS}


def test_humidity_standing_still_below_saturation_is_suspect() -> None:
    flags, reasons = run([70.0] * 80, HUMIDITY, every_ms=10 * MS_PER_MINUTE)

    assert flags == [PASS] * 73 + [SUSPECT] * 7
    assert reasons[-1] == "flat line"


def test_humidity_at_99_for_hours_is_wetted() -> None:
    flags, reasons = run([97.0, *[99.0, 99.5, 100.0] * 8, 98.0], HUMIDITY, every_ms=10 * MS_PER_MINUTE)

    assert flags == [PASS] * 20 + [SUSPECT] * 5 + [PASS]
    assert reasons[22] == "wetted"


def test_wetted_has_a_fail_threshold_too() -> None:
    limits = replace(HUMIDITY, fail_wet_s=4 * 3600.0)

    assert run([99.9] * 26, limits, every_ms=10 * MS_PER_MINUTE)[0][-1] is FAIL


def test_a_long_silence_ends_flat_and_wet_runs() -> None:
    memory = SensorMemory()
    flags = []
    for hour in [0.0, 1, 2, 3, 3.5, 6, 7, 8, 9, 9.5]:
        now = reading(99.9, int(hour * MS_PER_HOUR), "air_humidity")
        memory, flag = check(memory, now, HUMIDITY)
        flags.append(flag)

    assert flags == [PASS] * 4 + [SUSPECT] + [PASS] * 4 + [SUSPECT]


def test_late_readings_are_judged_by_range_alone_and_leave_no_trace() -> None:
    memory, _ = check(SensorMemory(), reading(25.0, 10 * MS_PER_MINUTE), AIR)

    assert check(memory, reading(40.0, 9 * MS_PER_MINUTE), AIR) == (memory, PASS)
    assert check(memory, reading(55.0, 9 * MS_PER_MINUTE), AIR) == (memory, SUSPECT)
    assert check(memory, reading(-127.0, 9 * MS_PER_MINUTE), AIR)[1] is FAIL
    assert check(memory, reading(25.0, 10 * MS_PER_MINUTE), AIR) == (memory, PASS)


def test_missing_leaves_the_memory_but_says_so() -> None:
    memory, _ = check(SensorMemory(), reading(25.0), AIR)
    after, flag = check(memory, reading(math.nan, MS_PER_MINUTE), AIR)

    assert flag is Flag.MISSING
    assert after == memory._replace(reason="missing")


@given(st.lists(st.floats(allow_nan=True, allow_infinity=True), max_size=30), st.integers(1, 10**8))
def test_any_series_gets_flags(values: list[float], every_ms: int) -> None:
    """No value and no interval raises, whatever is impossible fails, and memory never holds nonsense."""
    for limits in (AIR, HUMIDITY):
        memory = SensorMemory()
        for number, value in enumerate(values):
            memory, flag = check(memory, reading(value, number * every_ms), limits)
            if not limits.fail_low <= value <= limits.fail_high:
                assert flag in (FAIL, Flag.MISSING)
            assert memory.at_ms is None or limits.fail_low <= memory.value <= limits.fail_high


# ---- order of verdicts, refused limits --------------------------------------------------------------------


def test_the_worst_verdict_counts() -> None:
    assert worst(PASS, SUSPECT, PASS) is SUSPECT
    assert worst(FAIL, SUSPECT) is FAIL
    assert worst(Flag.NOT_EVALUATED, PASS) is PASS
    assert worst(Flag.MISSING, Flag.NOT_EVALUATED) is Flag.NOT_EVALUATED


def test_order_of_verdicts_is_that_of_ioos_qc() -> None:
    for one in WORST_LAST:
        for other in WORST_LAST:
            pair: list[Any] = [np.ma.array([one], dtype="uint8"), np.ma.array([other], dtype="uint8")]  # type: ignore[no-untyped-call]

            assert worst(one, other) == qartod.qartod_compare(pair)[0]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"suspect_low": 60.0}, "range is -40, 60, 50, 125; allowed: fail_low <= suspect_low"),
        ({"fail_low": 200.0}, "range is 200, -5, 50, 125"),
        ({"fail_high": math.nan}, "range is -40, -5, 50, nan"),
        (
            {"suspect_rate_per_minute": 5.0, "fail_rate_per_minute": 3.0},
            "rate_per_minute is 5 and 3; allowed: 0 <",
        ),
        ({"suspect_step": 5.0, "fail_step": 3.0}, "step is 5 and 3"),
        ({"suspect_flat_s": 5.0, "fail_flat_s": 3.0}, "flat_s is 5 and 3"),
        ({"suspect_wet_s": 5.0, "fail_wet_s": 3.0}, "wet_s is 5 and 3"),
        ({"suspect_step": -1.0}, "step is -1 and inf"),
        ({"resolution": 0.0}, "resolution is 0; allowed: above 0"),
        ({"steps_within_s": -1.0}, "steps_within_s is -1"),
    ],
)
def test_reversed_limits_are_refused(change: dict[str, Any], words: str) -> None:
    with pytest.raises(ValueError) as caught:
        replace(ONLY_RANGE, **change)

    assert words in str(caught.value)


def test_all_contradictions_are_named_at_once() -> None:
    with pytest.raises(ValueError, match=r"range is .*; step is .*; resolution is"):
        QualityLimits(5.0, 0.0, 1.0, 2.0, resolution=-1.0, suspect_step=3.0, fail_step=2.0)


# ---- beside ioos_qc ---------------------------------------------------------------------------------------


def series(seed: int, size: int = 400) -> np.ndarray[Any, np.dtype[np.float64]]:
    """A noisy day with spikes, steps and stuck stretches, on a grid of 1/16 K."""
    random = np.random.default_rng(seed)
    values = 25.0 + 8.0 * np.sin(np.arange(size) / 40.0) + random.normal(0.0, 0.5, size)
    values[random.integers(0, size, 12)] += random.normal(0.0, 25.0, 12)
    for start in random.integers(0, size - 60, 3):
        values[start : start + random.integers(10, 60)] = values[start]
    values[100:150] = values[100]
    return np.asarray(np.round(values * 16.0) / 16.0)


def seconds(size: int, every_s: int) -> Any:
    return np.arange(size, dtype=np.int64) * every_s


@pytest.mark.parametrize("seed", range(5))
def test_gross_range_equals_ioos_qc(seed: int) -> None:
    """The same definition: spans are inclusive in both. Reversed spans: they sort, we refuse."""
    values = series(seed) * 2.0
    ours, _ = run(list(values), ONLY_RANGE)

    theirs = qartod.gross_range_test(values, fail_span=(-40, 125), suspect_span=(-5, 50))
    assert list(theirs) == ours


@pytest.mark.parametrize("every_s", [60, 300, 900])
@pytest.mark.parametrize("seed", range(3))
def test_rate_equals_ioos_qc_from_one_minute_to_the_gap(seed: int, every_s: int) -> None:
    """The same definition from 60 s up to `steps_within_s`, theirs in units per second.

    They differ, on purpose, below a minute (we take a minute) and over gaps (we do not judge).
    """
    values = series(seed)
    limits = QualityLimits(
        -1e3, -1e3, 1e3, 1e3, resolution=1e-6, suspect_rate_per_minute=0.5, fail_rate_per_minute=2.0
    )
    ours, _ = run(list(values), limits, every_ms=every_s * 1000)

    theirs = qartod.rate_of_change_test(
        values, seconds(len(values), every_s), threshold=0.5 / 60.0, fail_threshold=2.0 / 60.0
    )
    assert list(theirs) == ours


@pytest.mark.parametrize("seed", range(5))
def test_flat_line_equals_ioos_qc_on_a_regular_grid(seed: int) -> None:
    """The same result for values on the sensor's grid, read at a fixed interval.

    They flag once the window spans the threshold, we once the time is beyond it, so ours is asked one
    second earlier. They differ, on purpose: theirs counts rows from the median interval (wrong after
    gaps), never flags at its default tolerance of 0, and slides its window over values off the grid,
    where ours compares with the first value of the run.
    """
    values = series(seed)
    limits = QualityLimits(-1e3, -1e3, 1e3, 1e3, resolution=0.0625, suspect_flat_s=1199.0, fail_flat_s=2399.0)
    ours, _ = run(list(values), limits)

    theirs = qartod.flat_line_test(
        values, seconds(len(values), 60), suspect_threshold=1200, fail_threshold=2400, tolerance=0.03
    )
    assert list(theirs) == ours
    assert {SUSPECT, FAIL} <= set(ours)


def test_ioos_qc_never_flags_a_flat_line_at_its_default_tolerance() -> None:
    """Why `resolution` must be above 0 here."""
    theirs = qartod.flat_line_test(np.full(50, 25.0), seconds(50, 60), 600, 1200)

    assert set(theirs) == {PASS}


def batch(values: list[float]) -> list[int]:
    """QARTOD's spike test of a finished series, by ioos_qc."""
    return [
        int(flag) for flag in qartod.spike_test(np.array(values), suspect_threshold=5.0, fail_threshold=1e9)
    ]


def test_streaming_spike_differs_from_the_batch_test_where_it_says() -> None:
    """Batch: the spike gets its height, its neighbours half of it. Streaming: the spike alone, no neighbour;
    a true step once, where the batch test sees half the step on both sides."""
    spike, step = [25.0, 25.0, 37.0, 25.0, 25.0], [25.0, 25.0, 37.0, 37.0, 37.0]
    limits = QualityLimits(-1e3, -1e3, 1e3, 1e3, resolution=1e-6, suspect_step=5.0)

    assert run(spike, limits)[0] == [1, 1, 3, 1, 1]
    assert batch(spike) == [2, 3, 3, 3, 2]
    assert run(step, limits)[0] == [1, 1, 3, 1, 1]
    assert batch(step) == [2, 3, 3, 1, 2]


SERIES = st.lists(
    st.tuples(
        st.sampled_from(
            [0, 1, 30_000, MS_PER_MINUTE, 14 * MS_PER_MINUTE, 16 * MS_PER_MINUTE, 3 * MS_PER_HOUR]
        ),
        st.one_of(
            st.floats(20.0, 32.0), st.sampled_from([25.0, 25.02, 85.0, 50.0, 50.1, 99.0, 100.0, math.nan])
        ),
    ),
    max_size=40,
)


@pytest.mark.parametrize("limits", [AIR, HUMIDITY, ONLY_RANGE, *DEFAULT_LIMITS.values()])
def test_what_passes_at_a_glance_passes_every_test(
    limits: QualityLimits, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The short way and the way through every test leave the same flag and the same memory."""

    def flags(series: list[tuple[float, float]]) -> list[tuple[str, Flag]]:
        memory, at_ms, found = SensorMemory(), 0, []
        for step_min, value in series:
            at_ms += round(step_min * MS_PER_MINUTE)
            memory, flag = check(memory, reading(value, at_ms), limits)
            found.append((repr(memory), flag))
        return found

    @given(SERIES)
    def compare(series: list[tuple[float, float]]) -> None:
        short = flags(series)
        with monkeypatch.context() as patch:
            patch.setattr(quality, "_calm", lambda *_: None)
            assert flags(series) == short

    compare()


def test_a_usual_reading_passes_at_a_glance() -> None:
    for value in (25.0, 25.02, 26.0):
        memory, _ = check(SensorMemory(), reading(25.0), AIR)
        assert quality._calm(memory, MS_PER_MINUTE, value, AIR) is not None
