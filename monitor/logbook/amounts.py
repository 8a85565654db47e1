"""Amounts as a person writes them: "1.5 l", "800 g", "2kg", "70 %", "60 x 40 cm", "3 kg at 12 %".

A comma is as good as a point. What can be read two ways is refused, with what is allowed.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from typing import NamedTuple

from monitor.errors import UsageError, sentence

AMOUNTS = sentence("800 g, 2 kg, 1.5 l or 300 ml")
SHARES = sentence("70 % or 0.7")
SIZES = sentence("60 x 40 cm, 0.24 m2, or 40 cm round for a bucket")
LENGTHS = sentence("8 cm, 80 mm or 0.08 m")
MATERIALS = sentence("3 kg at 12 %, 800 g 12 %, or 7 l for water")
LARGEST_BARE = 50.0

_KG: Mapping[str, float] = {
    **dict.fromkeys(("g", "gram", "grams", "ml", "millilitre", "milliliter", "cc"), 0.001),
    **dict.fromkeys(("kg", "kilo", "kilos", "kilogram", "kilograms"), 1.0),
    **dict.fromkeys(("l", "litre", "litres", "liter", "liters"), 1.0),
}
_LITRES = frozenset({"l", "litre", "litres", "liter", "liters", "ml", "millilitre", "milliliter", "cc"})
_METRES: Mapping[str, float] = {"mm": 0.001, "cm": 0.01, "m": 1.0}
_NUMBER = r"(\d+(?:\.\d+)?|\.\d+)"
_PLAIN_NUMBER = re.compile(r"[-+]?(\d+\.?\d*|\.\d+)(e[-+]?\d{1,2})?")
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


def parse_number(text: str) -> float | int:
    """A plain number, whole where it is one; blanks may part the thousands."""
    plain = _plain(text).replace(" ", "")
    number = float(plain) if _PLAIN_NUMBER.fullmatch(plain) else math.nan
    if not math.isfinite(number):
        raise UsageError("{text} is no number; allowed: such as 2500 or 2.5", text=repr(text))
    return int(number) if number == round(number) else number


def parse_kg(text: str) -> float:
    """A mass [kg] above 0, from "800 g" or, as water, from "1.5 l".

    A litre counts as a kilogram, and a bare number up to 50 as kilograms.
    """
    return _kg(_plain(text), text)


def _kg(plain: str, text: str) -> float:
    match = _AMOUNT.fullmatch(plain)
    unit = match[2] if match else ""
    factor = _KG.get(unit, 1.0 if not unit else math.nan)
    if match is None or not math.isfinite(factor):
        raise UsageError(
            "{text} is no amount that is understood; allowed: {allowed}", text=repr(text), allowed=AMOUNTS
        )
    kg = float(match[1]) * factor
    if not unit and kg > LARGEST_BARE:
        raise UsageError(
            "{text} has no unit; grams or kilograms? allowed: {allowed}", text=repr(text), allowed=AMOUNTS
        )
    if kg <= 0.0:
        raise UsageError(
            "{text} is nothing; allowed: more than 0, such as {examples}", text=repr(text), examples=AMOUNTS
        )
    return kg


def parse_share(text: str) -> float:
    """A moisture [ratio] between 0 and 1, from "70 %" or "0.7"; a bare number above 1 counts as percent."""
    match = _SHARE.fullmatch(_plain(text))
    if match is None:
        raise UsageError(
            "{text} is no moisture that is understood; allowed: {allowed}", text=repr(text), allowed=SHARES
        )
    number = float(match[1])
    share = number / 100.0 if match[2] or number > 1.0 else number
    if not 0.0 < share < 1.0:
        raise UsageError(
            "{text} cannot be a moisture; allowed: between 0 and 100 %, such as {examples}",
            text=repr(text),
            examples=SHARES,
        )
    return share


def parse_surface_m2(text: str) -> float:
    """The surface of a bin [m²] from its inner size: two sides, an area, or the diameter of a round one."""
    plain = _plain(text)
    if sides := _SIDES.fullmatch(plain):
        last = _METRES[sides[4]]
        area = float(sides[1]) * (_METRES[sides[2]] if sides[2] else last) * float(sides[3]) * last
    elif square := _AREA.fullmatch(plain):
        area = float(square[1]) * _METRES[square[2]] ** 2
    elif circle := _ROUND.fullmatch(plain):
        across = float(circle[1] or circle[3]) * _METRES[circle[2] or circle[4]]
        area = math.pi * across**2 / 4.0
    else:
        raise UsageError(
            "{text} is no size that is understood; allowed: {allowed}", text=repr(text), allowed=SIZES
        )
    if not 0.001 <= area <= 100.0:
        raise UsageError(
            "{text} is a surface of {area} m2; allowed: 0.001 to 100 m2, such as {examples}",
            text=repr(text),
            area=f"{area:g}",
            examples=SIZES,
        )
    return area


def parse_length_m(text: str) -> float:
    """A depth [m] from 0 to 2, from "8 cm"."""
    match = _LENGTH.fullmatch(_plain(text))
    if match is None:
        raise UsageError(
            "{text} is no depth that is understood; allowed: {allowed}", text=repr(text), allowed=LENGTHS
        )
    length = float(match[1]) * _METRES[match[2]]
    if length > 2.0:
        raise UsageError(
            "{text} is {length} m; allowed: up to 2 m, such as {examples}",
            text=repr(text),
            length=f"{length:g}",
            examples=LENGTHS,
        )
    return length


def parse_material(text: str) -> Material:
    """What was put into a bin, from "3 kg at 12 %"; litres without a moisture are water."""
    match = _MATERIAL.fullmatch(_plain(text))
    if match is None:
        raise UsageError("{text} is not understood; allowed: {allowed}", text=repr(text), allowed=MATERIALS)
    amount, share = match[1], match[3]
    kg = _kg(amount, text)
    if share is not None:
        return Material(kg, parse_share(share))
    unit = _AMOUNT.fullmatch(amount)
    if unit is not None and unit[2] in _LITRES:
        return Material(kg, 1.0)
    raise UsageError("{text} says no moisture; allowed: {allowed}", text=repr(text), allowed=MATERIALS)
