"""Thresholds of the quality tests, by quantity, each with where it is from."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise

from monitor.records import Quantity

NEVER = math.inf
"""A threshold that nothing exceeds: the test is off."""

MINUTE_S = 60.0
HOUR_S = 3600.0


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
    """Return the limits of a temperature sensor.

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
