"""Units on the way in: RFC 8798 secondary units, kelvin and, off SenML, degrees Fahrenheit. Pure."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from monitor.errors import PayloadError


@dataclass(frozen=True, slots=True)
class Scale:
    """primary = value * multiply / divide + add; a fraction, so that 3300 mV is 3.3 V, not its neighbour."""

    primary: str
    multiply: float
    divide: float = 1.0
    add: float = 0.0


SECONDARY: Mapping[str, Scale] = {
    "ms": Scale("s", 1, 1000),
    "min": Scale("s", 60),
    "h": Scale("s", 3600),
    "MHz": Scale("Hz", 1e6),
    "kW": Scale("W", 1000),
    "kVA": Scale("VA", 1000),
    "kvar": Scale("var", 1000),
    "Ah": Scale("C", 3600),
    "Wh": Scale("J", 3600),
    "kWh": Scale("J", 3.6e6),
    "varh": Scale("vars", 3600),
    "kvarh": Scale("vars", 3.6e6),
    "kVAh": Scale("VAs", 3.6e6),
    "Wh/km": Scale("J/m", 3.6),
    "KiB": Scale("B", 1024),
    "GB": Scale("B", 1e9),
    "Mbit/s": Scale("bit/s", 1e6),
    "B/s": Scale("bit/s", 8),
    "MB/s": Scale("bit/s", 8e6),
    "mV": Scale("V", 1, 1000),
    "mA": Scale("A", 1, 1000),
    "dBm": Scale("dBW", 1, 1, -30),
    "ug/m3": Scale("kg/m3", 1, 1e9),
    "mm/h": Scale("m/s", 1, 3.6e6),
    "m/h": Scale("m/s", 1, 3600),
    "ppm": Scale("/", 1, 1e6),
    "/100": Scale("/", 1, 100),
    "/1000": Scale("/", 1, 1000),
    "hPa": Scale("Pa", 100),
    "mm": Scale("m", 1, 1000),
    "cm": Scale("m", 1, 100),
    "km": Scale("m", 1000),
    "km/h": Scale("m/s", 1, 3.6),
}
"""RFC 8798 table 2."""

_LIKEWISE: Mapping[str, Scale] = {
    "%": Scale("/", 1),  # RFC 8428 12.1 note 2: the ratio itself, not percent
    "K": Scale("Cel", 1, 1, -273.15),
}
_SPELLINGS: Mapping[str, str] = {
    "°C": "Cel", "C": "Cel", "degC": "Cel", "°F": "degF", "F": "degF", "RH": "%RH", "lux": "lx",
}  # fmt: skip
"""What boards and loggers write that do not speak SenML."""


def to_primary(value: float, unit: str) -> tuple[float, str]:
    """A value in the primary unit of its kind; units that are not secondary stay as they are."""
    scale = SECONDARY.get(unit) or _LIKEWISE.get(unit)
    return (value, unit) if scale is None else (_apply(value, scale), scale.primary)


def convert(value: float, unit: str, wanted: str) -> float:
    """A value in the unit `wanted`; PayloadError where the two units do not measure the same thing."""
    if unit == wanted:
        return value
    primary, primary_unit = to_primary(value, unit)
    target = SECONDARY.get(wanted, Scale(wanted, 1))
    if primary_unit != target.primary:
        raise PayloadError(_mismatch(unit, wanted))
    result = (primary - target.add) * target.divide / target.multiply
    if not math.isfinite(result):
        raise PayloadError(f"the value is too large to be turned from {unit} into {wanted}")
    return result


def convert_plain(value: float, unit: str, wanted: str) -> float:
    """Like `convert`, for what is not SenML: °C, °F, and % in the sense of everyday speech."""
    unit = _SPELLINGS.get(unit, unit)
    if unit == "degF":
        value, unit = (value - 32.0) * 5.0 / 9.0, "Cel"
    elif unit == "%":
        unit = "%RH" if wanted == "%RH" else "/100"
    return convert(value, unit, wanted)


def _apply(value: float, scale: Scale) -> float:
    return value * scale.multiply / scale.divide + scale.add


def _mismatch(unit: str, wanted: str) -> str:
    shown = ascii(unit[:20])
    if unit in ("%", "/") and wanted == "%RH":
        return f"the unit {shown} is a ratio in SenML; relative humidity needs %RH (0 to 100)"
    return f"the unit {shown} cannot be turned into {wanted}"
