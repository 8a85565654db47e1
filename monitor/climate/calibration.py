"""Calibration of a sensor: a straight line from raw to true, in force from a moment on.

Raw values are what is stored; a calibration is applied when a value is read out, so that a better one entered
tomorrow corrects yesterday too if it is made valid from then. Each fault of the points that a person enters
is refused with a UsageError that says what to do instead.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from monitor.climate.arrays import FloatArray, IntArray
from monitor.errors import UsageError
from monitor.records import Calibration, Quantity, SensorKey

PHYSICAL_SPANS: Mapping[str, tuple[float, float]] = {Quantity.AIR_HUMIDITY: (0.0, 100.0)}
"""Calibrated values are held inside these: air cannot hold less than no water or, in a room, more than
its fill, while a good sensor with a good calibration still reads 100.4 in wet air. Source: definition."""

LEAST_SPREAD: Mapping[str, float] = {
    Quantity.AIR_TEMPERATURE: 10.0,
    Quantity.SUBSTRATE_TEMPERATURE: 10.0,
    Quantity.SURFACE_TEMPERATURE: 10.0,
    Quantity.AIR_HUMIDITY: 20.0,
    Quantity.SUBSTRATE_MOISTURE: 0.1,
}
"""How far apart the two true values must be, canonical units; nearer points turn reading noise into a
wrong slope. Source: own choice; the farm pair of salts, NaCl and MgCl2, is 42 %RH apart."""

SLOPES = (0.5, 2.0)
"""Slopes outside of these mean mixed-up points where a sensor reports its own unit. Source: own choice."""

CAPACITIVE = (Quantity.SUBSTRATE_MOISTURE,)
"""Quantities whose raw value is an index, so that any slope but zero may be right."""


@dataclass(frozen=True, slots=True)
class CalibrationPoint:
    """What the sensor said and what was true, in the canonical unit of the quantity."""

    raw: float
    true: float

    def __post_init__(self) -> None:
        if not (math.isfinite(self.raw) and math.isfinite(self.true)):
            raise UsageError(
                "a calibration point needs two numbers; found {raw} and {true}", raw=self.raw, true=self.true
            )


@dataclass(frozen=True, slots=True)
class Salt:
    """A saturated salt solution: coefficients of RH = A0 + A1 t + A2 t² + A3 t³ and their range."""

    name: str
    coefficients: tuple[float, ...]
    lowest_c: float = 0.0
    highest_c: float = 50.0


SALTS: Mapping[str, Salt] = {
    "LiCl": Salt("lithium chloride", (11.2323, 8.24245e-3, -2.14890e-4)),
    "MgCl2": Salt("magnesium chloride", (33.6686, -7.97397e-3, -1.08988e-3)),
    "K2CO3": Salt("potassium carbonate", (43.1315, 1.47523e-3), highest_c=30.0),
    "NaCl": Salt("sodium chloride, table salt", (75.5164, 3.98321e-2, -2.65459e-3, 2.848e-5)),
    "KCl": Salt("potassium chloride", (88.6190, -1.93340e-1, 8.99706e-4)),
    "K2SO4": Salt("potassium sulfate", (98.7792, -5.90502e-2)),
}
"""Greenspan 1977, J. Res. NBS 81A(1):89-96. The linear terms of LiCl and K2CO3 are positive; public code
exists that has them negative and then misses the published table by 0.4 %RH at 25 °C. Range 0 to 50 °C as
in ASTM E104-20a; K2CO3 only as far as its table goes."""


def apply(raw: float, calibration: Calibration | None) -> float:
    """Calibrated value slope raw + offset [canonical unit]; None leaves the value as it is.

    Air humidity is held within 0 to 100 %.
    """
    if calibration is None:
        return raw
    return _held(calibration.sensor.quantity, calibration.slope * raw + calibration.offset)


def held(quantity: str, values: FloatArray) -> FloatArray:
    """Hold calibrated values, shape (n,), within what their quantity can be (`PHYSICAL_SPANS`); NaN stays."""
    span = PHYSICAL_SPANS.get(quantity)
    return values if span is None else np.clip(values, *span)


def _held(quantity: str, value: float) -> float:
    """The value, held within what its quantity can be; NaN stays."""
    span = PHYSICAL_SPANS.get(quantity)
    if span is None or math.isnan(value):
        return value
    return min(max(value, span[0]), span[1])


class CalibrationTable:
    """The calibrations of all sensors, looked up by sensor, so that one look-up never goes through all."""

    def __init__(self, calibrations: Iterable[Calibration] = ()) -> None:
        self._by_sensor: dict[SensorKey, list[Calibration]] = {}
        for entry in sorted(calibrations, key=lambda entry: (entry.valid_from_ms, entry.entered_ms)):
            self._by_sensor.setdefault(entry.sensor, []).append(entry)

    def of(self, sensor: SensorKey) -> Sequence[Calibration]:
        """The calibrations of one sensor by valid-from time; of two from one time the later entry is last."""
        return self._by_sensor.get(sensor, ())

    def in_force(self, sensor: SensorKey, at_ms: int) -> Calibration | None:
        """The calibration valid at that time: the last one of `of` that is valid by then."""
        known = self.of(sensor)
        position = bisect_right(known, at_ms, key=lambda entry: entry.valid_from_ms) if known else 0
        return known[position - 1] if position else None

    def calibrated(self, raw: float, sensor: SensorKey, at_ms: int) -> float:
        """Calibrated value of one reading [canonical unit], by the calibration in force at its time.

        Air humidity is held within 0 to 100 % even without a calibration.
        """
        if sensor in self._by_sensor:
            raw = apply(raw, self.in_force(sensor, at_ms))
        return _held(sensor.quantity, raw)


def coefficients(calibrations: Sequence[Calibration], at_ms: IntArray) -> tuple[FloatArray, FloatArray]:
    """Slope [unitless] and offset [canonical unit] in force at each of n times, each of shape (n,).

    `calibrations` are those of one sensor by valid-from time (`CalibrationTable.of`); 1 and 0 before the
    first.
    """
    slopes = np.array([1.0, *(calibration.slope for calibration in calibrations)])
    offsets = np.array([0.0, *(calibration.offset for calibration in calibrations)])
    starts = np.array([calibration.valid_from_ms for calibration in calibrations], dtype=np.int64)
    positions = np.searchsorted(starts, at_ms, side="right")
    return slopes[positions], offsets[positions]


def applied(
    calibrations: Sequence[Calibration],
    quantity: str,
    at_ms: IntArray,
    values: FloatArray,
) -> FloatArray:
    """Raw values of one sensor, shape (n,), as its calibrations make them, held within what they can be.

    `calibrations` are those of the sensor by valid-from time (`CalibrationTable.of`).
    """
    if not calibrations:
        return held(quantity, values)
    slope, offset = coefficients(calibrations, at_ms)
    return held(quantity, slope * values + offset)


def offset_only(
    sensor: SensorKey,
    points: Sequence[CalibrationPoint],
    valid_from_ms: int,
    entered_ms: int = 0,
    note: str = "",
) -> Calibration:
    """Calibration that shifts by a constant: the mean of true minus raw over one or more points.

    Source: least squares of a line with slope 1.
    """
    if not points:
        raise UsageError("an offset needs at least one point: what the sensor said and what was true")
    offset = math.fsum(point.true - point.raw for point in points) / len(points)
    return Calibration(sensor, valid_from_ms, 1.0, offset, note, entered_ms)


def two_point(
    sensor: SensorKey,
    points: Sequence[CalibrationPoint],
    valid_from_ms: int,
    entered_ms: int = 0,
    note: str = "",
) -> Calibration:
    """Calibration through two points, such as two salt jars, far enough apart (`LEAST_SPREAD`).

    slope = (true2 - true1)/(raw2 - raw1); offset = true1 - slope raw1.
    """
    if len(points) != 2:
        raise UsageError(
            "a two-point calibration needs two points, found {count}; with one, use an offset",
            count=len(points),
        )
    first, second = points
    _require_spread(sensor.quantity, first, second)
    slope = (second.true - first.true) / (second.raw - first.raw)
    _require_slope(sensor.quantity, slope)
    return Calibration(sensor, valid_from_ms, slope, first.true - slope * first.raw, note, entered_ms)


def _require_spread(quantity: str, first: CalibrationPoint, second: CalibrationPoint) -> None:
    """Raise a UsageError unless the points are far enough apart for a slope."""
    least, spread = LEAST_SPREAD.get(quantity, 0.0), abs(second.true - first.true)
    if spread < least or spread == 0.0:
        raise UsageError(
            "the two true values are {spread:g} apart; allowed: {least:g} or more for {quantity}. "
            "Points so near to one another cannot give a slope; use an offset instead",
            spread=spread,
            least=least,
            quantity=quantity,
        )
    if first.raw == second.raw:
        raise UsageError(
            "the sensor said {raw:g} at both points; it does not respond, or a typing mistake", raw=first.raw
        )


def _require_slope(quantity: str, slope: float) -> None:
    """Raise a UsageError where the slope means that points were mixed up or the sensor is broken."""
    if quantity in CAPACITIVE:
        return
    if not SLOPES[0] <= slope <= SLOPES[1]:
        raise UsageError(
            "the two points give a slope of {slope:.3g}; allowed: {low:g} to {high:g}. "
            "Check that the points are not swapped and the jars not mixed up; else the sensor is worn out",
            slope=slope,
            low=SLOPES[0],
            high=SLOPES[1],
        )


def salt_humidity_percent(salt: str, temperature_c: float) -> float:
    """Relative humidity of the air above a saturated salt solution in a closed jar [%].

    RH = A0 + A1 t + A2 t² + A3 t³ with the temperature t of jar and sensor, 0 to 50 °C (K2CO3: 0 to 30);
    `salt` is a key of `SALTS`. Source: Greenspan 1977, J. Res. NBS 81A(1):89-96, third-degree fit of each
    salt.
    """
    if salt not in SALTS:
        raise UsageError("salt is {salt!r}; allowed: {known}", salt=salt, known=", ".join(SALTS))
    facts = SALTS[salt]
    if not facts.lowest_c <= temperature_c <= facts.highest_c:
        raise UsageError(
            "temperature of the {salt} jar is {temperature:g} °C; allowed: {low:g} to {high:g} °C",
            salt=salt,
            temperature=temperature_c,
            low=facts.lowest_c,
            high=facts.highest_c,
        )
    return math.fsum(factor * temperature_c**power for power, factor in enumerate(facts.coefficients))
