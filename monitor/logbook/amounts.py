"""Amounts as a person writes them: "1.5 l", "800 g", "2kg", "70 %", "60 x 40 cm", "3 kg at 12 %".

A comma is as good as a point. What can be read two ways is refused, with what is allowed.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from typing import NamedTuple

from monitor.errors import UsageError

AMOUNTS = "800 g, 2 kg, 1.5 l or 300 ml"
SHARES = "70 % or 0.7"
SIZES = "60 x 40 cm, 0.24 m2, or 40 cm round for a bucket"
LENGTHS = "8 cm, 80 mm or 0.08 m"
MATERIALS = "3 kg at 12 %, 800 g 12 %, or 7 l for water"
LARGEST_BARE = 50.0

_KG: Mapping[str, float] = {
    **dict.fromkeys(("g", "gram", "grams", "ml", "millilitre", "milliliter", "cc"), 0.001),
    **dict.fromkeys(("kg", "kilo", "kilos", "kilogram", "kilograms"), 1.0),
    **dict.fromkeys(("l", "litre", "litres", "liter", "liters"), 1.0),
}
_LITRES = frozenset({"l", "litre", "litres", "liter", "liters", "ml", "millilitre", "milliliter", "cc"})
_METRES: Mapping[str, float] = {"mm": 0.001, "cm": 0.01, "m": 1.0}
_NUMBER = r"(\d+(?:\.\d+)?|\.\d+)"
_AMOUNT = re.compile(rf"{_NUMBER}\s*([a-z]*)")
_SHARE = re.compile(rf"{_NUMBER}\s*(%|percent)?")
_SIDES = re.compile(rf"{_NUMBER}\s*(mm|cm|m)?\s*(?:x|×|\*|by)\s*{_NUMBER}\s*(mm|cm|m)")
_AREA = re.compile(rf"{_NUMBER}\s*(mm|cm|m)\s*(?:2|²|\^2)")
_ROUND = re.compile(rf"(?:round\s+{_NUMBER}\s*(mm|cm|m)|{_NUMBER}\s*(mm|cm|m)\s+round)")
_LENGTH = re.compile(rf"{_NUMBER}\s*(mm|cm|m)")
_MATERIAL = re.compile(
    rf"({_NUMBER}\s*(?!at|of|with)[a-z]*)\s*(?:(?:at|of|,|with)?\s*({_NUMBER}\s*(?:%|percent)))?"
)


class Material(NamedTuple):
    """Something put into a bin: wet mass [kg] and moisture [ratio, wet basis]; water has moisture 1."""

    kg: float
    moisture: float


def _plain(text: str) -> str:
    return re.sub(r"(?<=\d),(?=\d)", ".", " ".join(text.strip().lower().split()))


def parse_kg(text: str) -> float:
    """Read a mass, or a volume of water.

    Parameters
    ----------
    text : str
        Such as "1.5 l" or "800 g". A bare number up to 50 counts as kilograms, or litres of water.

    Returns
    -------
    float
        Mass [kg], above 0; a litre of water counts as a kilogram.
    """
    return _kg(_plain(text), text)


def _kg(plain: str, text: str) -> float:
    found = _AMOUNT.fullmatch(plain)
    unit = found[2] if found else ""
    factor = _KG.get(unit, 1.0 if not unit else math.nan)
    if found is None or not math.isfinite(factor):
        raise UsageError(f"{text!r} is no amount that is understood; allowed: {AMOUNTS}")
    kg = float(found[1]) * factor
    if not unit and kg > LARGEST_BARE:
        raise UsageError(f"{text!r} has no unit; grams or kilograms? allowed: {AMOUNTS}")
    if kg <= 0.0:
        raise UsageError(f"{text!r} is nothing; allowed: more than 0, such as {AMOUNTS}")
    return kg


def parse_share(text: str) -> float:
    """Read a moisture.

    Parameters
    ----------
    text : str
        Such as "70 %" or "0.7". A bare number above 1 counts as percent.

    Returns
    -------
    float
        Ratio [1], above 0 and below 1.
    """
    found = _SHARE.fullmatch(_plain(text))
    if found is None:
        raise UsageError(f"{text!r} is no moisture that is understood; allowed: {SHARES}")
    number = float(found[1])
    share = number / 100.0 if found[2] or number > 1.0 else number
    if not 0.0 < share < 1.0:
        raise UsageError(f"{text!r} cannot be a moisture; allowed: between 0 and 100 %, such as {SHARES}")
    return share


def parse_surface_m2(text: str) -> float:
    """Read the surface of a bin from its inner size.

    Parameters
    ----------
    text : str
        Two sides, an area, or the diameter of something round.

    Returns
    -------
    float
        Surface [m²], above 0.
    """
    plain = _plain(text)
    if sides := _SIDES.fullmatch(plain):
        last = _METRES[sides[4]]
        area = float(sides[1]) * (_METRES[sides[2]] if sides[2] else last) * float(sides[3]) * last
    elif found := _AREA.fullmatch(plain):
        area = float(found[1]) * _METRES[found[2]] ** 2
    elif found := _ROUND.fullmatch(plain):
        across = float(found[1] or found[3]) * _METRES[found[2] or found[4]]
        area = math.pi * across**2 / 4.0
    else:
        raise UsageError(f"{text!r} is no size that is understood; allowed: {SIZES}")
    if not 0.001 <= area <= 100.0:
        raise UsageError(f"{text!r} is a surface of {area:g} m2; allowed: 0.001 to 100 m2, such as {SIZES}")
    return area


def parse_length_m(text: str) -> float:
    """Read a depth.

    Parameters
    ----------
    text : str
        Such as "8 cm".

    Returns
    -------
    float
        Length [m], 0 to 2.
    """
    found = _LENGTH.fullmatch(_plain(text))
    if found is None:
        raise UsageError(f"{text!r} is no depth that is understood; allowed: {LENGTHS}")
    length = float(found[1]) * _METRES[found[2]]
    if length > 2.0:
        raise UsageError(f"{text!r} is {length:g} m; allowed: up to 2 m, such as {LENGTHS}")
    return length


def parse_material(text: str) -> Material:
    """Read what was put into a bin.

    Parameters
    ----------
    text : str
        An amount and its moisture: "3 kg at 12 %". Litres without a moisture are water.

    Returns
    -------
    Material
        Mass [kg] and moisture [ratio].
    """
    found = _MATERIAL.fullmatch(_plain(text))
    if found is None:
        raise UsageError(f"{text!r} is not understood; allowed: {MATERIALS}")
    amount, share = found[1], found[3]
    kg = _kg(amount, text)
    if share is not None:
        return Material(kg, parse_share(share))
    unit = _AMOUNT.fullmatch(amount)
    if unit is not None and unit[2] in _LITRES:
        return Material(kg, 1.0)
    raise UsageError(f"{text!r} says no moisture; allowed: {MATERIALS}")
