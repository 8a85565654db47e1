"""Quality flags, one reading at a time: flag, never drop. With the default thresholds of each quantity.

The tests are those of QARTOD (gross range, rate of change, spike, flat line, gap) in a form that sees only
the present reading and a small memory of its sensor, plus two faults of common sensors: the power-on value of
the DS18B20 and a wet humidity sensor. Raw values are judged, before calibration.

Readings that fail (4) or are missing (9) drive neither alarms nor degree-days; suspect ones (3) do, and the
text says so. So the defaults let only impossible values fail: a burning room or a sun-struck bin must never
be silenced for rising too fast.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

from monitor.climate.calibration import CalibrationTable
from monitor.records import MS_PER_MINUTE, MS_PER_SECOND, Flag, FlaggedReading, Quantity, Reading, SensorKey

NEVER = math.inf
"""A threshold that nothing exceeds: the test is off."""

MINUTE_S = 60.0
HOUR_S = 3600.0

WORST_LAST = (Flag.MISSING, Flag.NOT_EVALUATED, Flag.PASS, Flag.SUSPECT, Flag.FAIL)
"""Order in which verdicts of several tests combine: the last one present is the flag. A test that could not
run (2) does not spoil one that passed, because the gross range is always judged. Source: ioos_qc 3.0,
qartod_compare."""

_SEVERITY = {flag: rank for rank, flag in enumerate(WORST_LAST)}

POWER_ON_C = 85.0
"""What a DS18B20 reports when it was read before its first conversion [°C]. Source: its data sheet."""

POWER_ON_NEIGHBOURHOOD_K = 5.0
"""A sensor whose last good value is this near to 85 °C may mean it [K]. Source: own choice."""


@dataclass(frozen=True, slots=True)
class QualityLimits:
    """Thresholds for one quantity, in its canonical unit. Thresholds that contradict one another are refused.

    A value may be as large as a threshold; beyond it, it is suspect or fails. `resolution` is the
    smallest step of the sensor: values less than half of it apart count as equal. The flat line is judged
    only below `flat_only_below`. Rate and spike are judged only where the reading before is at most
    `steps_within_s` old; a silence longer than `runs_within_s` ends a flat or wet run.
    """

    fail_low: float
    suspect_low: float
    suspect_high: float
    fail_high: float
    resolution: float
    suspect_rate_per_minute: float = NEVER
    fail_rate_per_minute: float = NEVER
    suspect_step: float = NEVER
    fail_step: float = NEVER
    suspect_flat_s: float = NEVER
    fail_flat_s: float = NEVER
    flat_only_below: float = NEVER
    wet_from: float = NEVER
    suspect_wet_s: float = NEVER
    fail_wet_s: float = NEVER
    steps_within_s: float = 15 * MINUTE_S
    runs_within_s: float = 2 * HOUR_S
    has_power_on_value: bool = False

    def __post_init__(self) -> None:
        problems = tuple(self._problems())
        if problems:
            raise ValueError("quality limits contradict one another: " + "; ".join(problems))

    def _problems(self) -> Iterator[str]:
        """Yield every contradiction, not only the first."""
        ordered = (self.fail_low, self.suspect_low, self.suspect_high, self.fail_high)
        if not all(low <= high for low, high in pairwise(ordered)):
            shown = ", ".join(f"{value:g}" for value in ordered)
            yield f"range is {shown}; allowed: fail_low <= suspect_low <= suspect_high <= fail_high"
        for name in ("rate_per_minute", "step", "flat_s", "wet_s"):
            suspect, fail = getattr(self, f"suspect_{name}"), getattr(self, f"fail_{name}")
            if not 0.0 < suspect <= fail:
                yield f"{name} is {suspect:g} and {fail:g}; allowed: 0 < suspect_{name} <= fail_{name}"
        for name in ("resolution", "steps_within_s", "runs_within_s"):
            if not getattr(self, name) > 0.0:
                yield f"{name} is {getattr(self, name):g}; allowed: above 0"


def _temperature(suspect_high_c: float) -> QualityLimits:
    """The limits of a temperature sensor.

    Range: -40 °C is the least that common sensors measure; 125 °C is the most that a DS18B20 does, so
    that a fire is never "impossible"; the suspect span is own choice. 3 K a minute: WMO-No. 8,
    Zahumensky 2004, one-minute values. Step, flat time: own choice. Resolution: DS18B20 at 12 bit.
    """
    return QualityLimits(
        fail_low=-40.0,
        suspect_low=-5.0,
        suspect_high=suspect_high_c,
        fail_high=125.0,
        resolution=0.0625,
        suspect_rate_per_minute=3.0,
        suspect_step=8.0,
        suspect_flat_s=12 * HOUR_S,
        has_power_on_value=True,
    )


DEFAULT_LIMITS: Mapping[str, QualityLimits] = {
    Quantity.AIR_TEMPERATURE: _temperature(50.0),
    Quantity.SUBSTRATE_TEMPERATURE: _temperature(60.0),
    Quantity.SURFACE_TEMPERATURE: _temperature(60.0),
    # 15 %RH a minute, and no flat line at 95 % and above: WMO-No. 8, Zahumensky 2004. Below 0 is impossible.
    # Up to 105 % some sensors go in fog unless the node crops them. Wetted at 99 % for 3 h: own choice.
    Quantity.AIR_HUMIDITY: QualityLimits(
        fail_low=0.0,
        suspect_low=5.0,
        suspect_high=100.0,
        fail_high=105.0,
        resolution=0.1,
        suspect_rate_per_minute=15.0,
        suspect_step=30.0,
        suspect_flat_s=12 * HOUR_S,
        flat_only_below=95.0,
        wet_from=99.0,
        suspect_wet_s=3 * HOUR_S,
    ),
    # A ratio. Near 0 the probe stands in air, near 1 in water. Watering makes honest steps. Own choice.
    Quantity.SUBSTRATE_MOISTURE: QualityLimits(0.0, 0.02, 0.98, 1.0, resolution=0.0001),
    # Full sun is about 100,000 lx; dark stays dark for days, so no flat line. Own choice.
    Quantity.LIGHT: QualityLimits(0.0, 0.0, 130_000.0, 200_000.0, resolution=1.0),
    # From one cell to a 24 V bank. Own choice.
    Quantity.BATTERY: QualityLimits(0.0, 1.5, 32.0, 64.0, resolution=0.01),
    # Outdoor air holds more than 250 ppm, so less means drift; 40,000 ppm is NIOSH's IDLH. Own choice.
    Quantity.CARBON_DIOXIDE: QualityLimits(0.0, 250.0, 40_000.0, 1_000_000.0, resolution=1.0),
    # Electrochemical cells drift a little below zero; 300 ppm is NIOSH's IDLH. Own choice.
    Quantity.AMMONIA: QualityLimits(-5.0, 0.0, 300.0, 10_000.0, resolution=0.1),
}


class SensorMemory(NamedTuple):
    """What the tests remember of one sensor. Values that fail the gross range leave no trace in it.

    `trusted` is the last value that passed; `level` and `level_since_ms` are the start of the present
    flat run; `wet_since_ms` is when humidity last rose to the wetted level; `reason` names the test
    behind the last flag, "" when it passed.
    """

    at_ms: int | None = None
    value: float = math.nan
    trusted: float = math.nan
    level: float = math.nan
    level_since_ms: int = 0
    wet_since_ms: int | None = None
    reason: str = ""


def worst(*flags: Flag) -> Flag:
    """The flag that counts when several tests have spoken (`WORST_LAST`)."""
    return max(flags, key=_SEVERITY.__getitem__)


def _beyond(amount: float, suspect: float, fail: float) -> Flag:
    """The verdict on an amount that may be as large as its thresholds but not larger."""
    if amount <= suspect:
        return Flag.PASS
    return Flag.FAIL if amount > fail else Flag.SUSPECT


def _gross_range(memory: SensorMemory, value: float, limits: QualityLimits) -> tuple[Flag, str]:
    """The verdict on the value alone, and the test behind it."""
    if math.isnan(value):
        return Flag.MISSING, "missing"
    if not limits.fail_low <= value <= limits.fail_high:
        return Flag.FAIL, "gross range"
    if limits.has_power_on_value and value == POWER_ON_C and not _was_hot(memory):
        return Flag.FAIL, "power-on value"
    if not limits.suspect_low <= value <= limits.suspect_high:
        return Flag.SUSPECT, "gross range"
    return Flag.PASS, ""


def _was_hot(memory: SensorMemory) -> bool:
    """Return True when the last value remembered makes a true 85 °C believable."""
    return memory.at_ms is not None and abs(memory.value - POWER_ON_C) <= POWER_ON_NEIGHBOURHOOD_K


def _rate(memory: SensorMemory, value: float, passed_ms: int, limits: QualityLimits) -> Flag:
    """The verdict on the change per minute since the reading before.

    Intervals below a minute count as one minute, else the noise of a sensor read every few seconds
    would look like a rate.
    """
    minutes = max(passed_ms / MS_PER_MINUTE, 1.0)
    change = abs(value - memory.value) / minutes
    return _beyond(change, limits.suspect_rate_per_minute, limits.fail_rate_per_minute)


def _spike(memory: SensorMemory, value: float, limits: QualityLimits) -> Flag:
    """The verdict on a step away from both the reading before and the last one that passed.

    QARTOD's batch test compares with the mean of both neighbours and so knows the future. Here the first
    reading of a true step is flagged too, once; the way back from a spike is not.
    """
    step = abs(value - memory.value)
    if not math.isnan(memory.trusted):
        step = min(step, abs(value - memory.trusted))
    return _beyond(step, limits.suspect_step, limits.fail_step)


def _flat_line(since_ms: int, at_ms: int, value: float, limits: QualityLimits) -> Flag:
    """The verdict on how long the value has not moved; saturated humidity may stand still."""
    if value >= limits.flat_only_below:
        return Flag.PASS
    return _beyond((at_ms - since_ms) / MS_PER_SECOND, limits.suspect_flat_s, limits.fail_flat_s)


def _wetted(since_ms: int | None, at_ms: int, limits: QualityLimits) -> Flag:
    """The verdict on how long a humidity sensor has read as if it were under water."""
    if since_ms is None:
        return Flag.PASS
    return _beyond((at_ms - since_ms) / MS_PER_SECOND, limits.suspect_wet_s, limits.fail_wet_s)


def check(memory: SensorMemory, reading: Reading, limits: QualityLimits | None) -> tuple[SensorMemory, Flag]:
    """Judge one reading of a sensor, and return what to remember for the next one.

    Parameters
    ----------
    memory : SensorMemory
        What the call before returned; `SensorMemory()` at first.
    reading : Reading
        The raw reading [canonical unit of its quantity]. A value that is not a number is missing (9).
    limits : QualityLimits or None
        Thresholds, see `DEFAULT_LIMITS`; None where nothing is known of the quantity.

    Returns
    -------
    tuple of SensorMemory and Flag
        The new memory, and the QARTOD flag [unitless].

    Notes
    -----
    A reading that is not newer than the last one is judged by the gross range alone and leaves the
    memory as it is: backlog cannot be compared with what came later. After a silence longer than
    `steps_within_s` rate and spike are not judged, after `runs_within_s` the flat and wet runs begin anew.

    Source
    ------
    QARTOD manual for in-situ temperature and salinity data, version 2.0 (2016), tests 4, 6, 7 and 8;
    DS18B20 data sheet (power-on value).
    """
    if limits is None:
        return memory, Flag.NOT_EVALUATED
    calm = _calm(memory, reading.at_ms, reading.value, limits)
    if calm is not None:
        return calm, Flag.PASS
    flag, reason = _gross_range(memory, reading.value, limits)
    if flag is Flag.FAIL or flag is Flag.MISSING:
        return _with_reason(memory, reason), flag
    if memory.at_ms is not None and reading.at_ms <= memory.at_ms:
        return memory, flag
    return _judge_history(memory, reading, limits, flag, reason)


def _calm(memory: SensorMemory, at_ms: int, value: float, limits: QualityLimits) -> SensorMemory | None:
    """The new memory where every test passes at a glance, else None.

    A change below the threshold of a minute passes whatever time it took, and one from the reading before
    below that of a step passes whatever else was trusted.
    """
    if memory.at_ms is None or not limits.suspect_low <= value <= limits.suspect_high:
        return None
    passed_s, change = (at_ms - memory.at_ms) / MS_PER_SECOND, abs(value - memory.value)
    if not 0.0 < passed_s <= limits.steps_within_s or passed_s > limits.runs_within_s:
        return None
    if change > limits.suspect_rate_per_minute or change > limits.suspect_step or value >= limits.wet_from:
        return None
    if limits.has_power_on_value and value == POWER_ON_C:
        return None
    if 2.0 * abs(value - memory.level) >= limits.resolution:
        return SensorMemory(at_ms, value, value, value, at_ms)
    if (at_ms - memory.level_since_ms) / MS_PER_SECOND > limits.suspect_flat_s:
        return None
    return SensorMemory(at_ms, value, value, memory.level, memory.level_since_ms)


def flagged(
    reading: Reading, memories: dict[SensorKey, SensorMemory], calibrations: CalibrationTable
) -> FlaggedReading:
    """A reading with its flag and its calibrated value; the memory of its sensor is updated.

    Raw values are judged, by the default limits of their quantity.
    """
    sensor = reading.sensor
    limits = DEFAULT_LIMITS.get(sensor.quantity)
    memories[sensor], flag = check(memories.get(sensor) or SensorMemory(), reading, limits)
    return FlaggedReading(reading, flag, calibrations.calibrated(reading.value, sensor, reading.at_ms))


def _judge_history(
    memory: SensorMemory, reading: Reading, limits: QualityLimits, flag: Flag, reason: str
) -> tuple[SensorMemory, Flag]:
    """Add the verdicts of the tests that look back, in the order of their names below."""
    at_ms, value = reading.at_ms, reading.value
    passed_ms = math.inf if memory.at_ms is None else at_ms - memory.at_ms
    level, level_since_ms, wet_since_ms = _runs(memory, reading, passed_ms, limits)
    steps = passed_ms <= limits.steps_within_s * MS_PER_SECOND
    for name, verdict in (
        ("rate of change", _rate(memory, value, int(passed_ms), limits) if steps else Flag.NOT_EVALUATED),
        ("spike", _spike(memory, value, limits) if steps else Flag.NOT_EVALUATED),
        ("flat line", _flat_line(level_since_ms, at_ms, value, limits)),
        ("wetted", _wetted(wet_since_ms, at_ms, limits)),
    ):
        if _SEVERITY[verdict] > _SEVERITY[flag]:
            flag, reason = verdict, name
    trusted = value if flag is Flag.PASS else memory.trusted
    return SensorMemory(at_ms, value, trusted, level, level_since_ms, wet_since_ms, reason), flag


def _runs(
    memory: SensorMemory, reading: Reading, passed_ms: float, limits: QualityLimits
) -> tuple[float, int, int | None]:
    """Level and start of the flat run, and start of the wet run, with this reading counted in."""
    unbroken = passed_ms <= limits.runs_within_s * MS_PER_SECOND
    level, level_since_ms = memory.level, memory.level_since_ms
    if not (unbroken and 2.0 * abs(reading.value - level) < limits.resolution):
        level, level_since_ms = reading.value, reading.at_ms
    if reading.value < limits.wet_from:
        return level, level_since_ms, None
    wet_since_ms = memory.wet_since_ms if unbroken else None
    return level, level_since_ms, reading.at_ms if wet_since_ms is None else wet_since_ms


def _with_reason(memory: SensorMemory, reason: str) -> SensorMemory:
    """The same memory with another reason, without a copy where it has it already."""
    if memory.reason == reason:
        return memory
    return memory._replace(reason=reason)
