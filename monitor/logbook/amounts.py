"""Amounts and places as a person writes them: "1.5 l", "800 g", "70 %", "60 x 40 cm", "3 kg at 12 %".

The one reader for command line, page and notebook. A comma is as good as a point; blanks and apostrophes part
thousands. What can be read two ways ("1,500") is refused with both readings. A place is known by id or title,
whatever the case, the spaces and the hyphens.
"""

from __future__ import annotations

import difflib
import math
import re
import unicodedata
from collections.abc import Callable, Mapping
from typing import NamedTuple

from monitor.errors import Sentence, UsageError, one_a_line, sentence
from monitor.yields.definitions import counted_share

AMOUNTS = sentence("800 g, 2 kg, 1.5 l or 300 ml")
SHARES = sentence("70 % or 0.7")
SIZES = sentence("60 x 40 cm, 0.24 m2, or 40 cm round for a bucket")
LENGTHS = sentence("8 cm, 80 mm or 0.08 m")
MATERIALS = sentence("3 kg at 12 %, 800 g 12 %, or 7 l for water")
LARGEST_BARE = 50.0

_MILLILITRES = ("ml", "millilitre", "millilitres", "milliliter", "milliliters", "cc")
_LITRES = ("l", "litre", "litres", "liter", "liters")
_KG: Mapping[str, float] = {
    **dict.fromkeys(("mg", "milligram", "milligrams", "milligramme", "milligrammes"), 1e-6),
    **dict.fromkeys(("g", "gram", "grams", "gramme", "grammes", *_MILLILITRES), 0.001),
    **dict.fromkeys(("kg", "kilo", "kilos", "kilogram", "kilograms", "kilogramme", "kilogrammes"), 1.0),
    **dict.fromkeys(_LITRES, 1.0),
    **dict.fromkeys(("t", "tonne", "tonnes"), 1000.0),
}
_YES_OR_NO: Mapping[str, bool] = {
    **dict.fromkeys(("yes", "y", "true", "on", "x", "oui", "ndiyo"), True),
    **dict.fromkeys(("no", "n", "false", "off", "non", "hapana"), False),
}
_METRES: Mapping[str, float] = {"mm": 0.001, "cm": 0.01, "m": 1.0}
_NUMBER = r"(\d+(?:\.\d+)?|\.\d+)"
_FIGURE = re.compile(r"(?<![\d.,])(?:\d{1,3}(?:[ '’]\d{3})+(?:[.,]\d+)?(?![\d.,])|\d+(?:[.,]\d+)+)")
_PLAIN_NUMBER = re.compile(r"[-+]?(\d+\.?\d*|\.\d+)(e[-+]?\d{1,2})?")
_AMOUNT = re.compile(rf"{_NUMBER}\s*([a-z]*)")
_SHARE = re.compile(rf"{_NUMBER}\s*(%|percent)?")
_DAYS = re.compile(r"(.*\d)\s*(?:d|days?|jours?|j)")
_HOURS = re.compile(r"(.*\d)\s*(?:h|hours?|heures?)")
_SIDES = re.compile(rf"{_NUMBER}\s*(mm|cm|m)?\s*(?:x|×|\*|by|par)\s*{_NUMBER}\s*(mm|cm|m)")
_AREA = re.compile(rf"{_NUMBER}\s*(mm|cm|m)\s*(?:2|²|\^2)")
_ROUND = re.compile(rf"(?:round\s+{_NUMBER}\s*(mm|cm|m)|{_NUMBER}\s*(mm|cm|m)\s+(?:round|rond))")
_LENGTH = re.compile(rf"{_NUMBER}\s*(mm|cm|m)")
_COUNTED = re.compile(r"(\d+)\s*(?:of|out of|/|sur|kati ya)\s*(\d+)")
_MATERIAL = re.compile(
    rf"({_NUMBER}\s*(?!at|of|with)[a-z]*)\s*(?:(?:at|of|,|with|à)?\s*({_NUMBER}\s*(?:%|percent)))?"
)


class Material(NamedTuple):
    """Something put into a bin: wet mass [kg] and moisture [ratio, wet basis]; water has moisture 1."""

    kg: float
    moisture: float


class TwoReadings(UsageError):
    """A number that can be read in two ways, such as 1,500; it names both."""


def _plain(text: str) -> str:
    """In lower case, with single blanks and every number written as Python does."""
    return _FIGURE.sub(lambda found: _canonical(found[0]), " ".join(text.strip().lower().split()))


def _canonical(figure: str) -> str:
    """A number without marks of thousands and with a decimal point; what makes no sense stays as it is."""
    if re.search("[ '’]", figure):
        return re.sub("[ '’]", "", figure).replace(",", ".")
    marks = re.findall("[.,]", figure)
    whole, _, rest = figure.rpartition(marks[-1])
    if marks.count(marks[-1]) > 1:
        return _ungrouped(figure, marks[-1]) if len(set(marks)) == 1 else figure
    if len(marks) > 1:
        joined = _ungrouped(whole, marks[0])
        return f"{joined}.{rest}" if joined.isdigit() else figure
    if len(rest) == 3 and len(whole) <= 3 and not whole.startswith("0"):
        both = sentence(
            "{text}: {many} or {few}? write {many} or {few}",
            text=figure,
            many=whole + rest,
            few=f"{float(f'{whole}.{rest}'):g}",
        )
        raise TwoReadings(both)
    return f"{whole}.{rest}"


def _ungrouped(figure: str, mark: str) -> str:
    first, *groups = figure.split(mark)
    good = 1 <= len(first) <= 3 and first[0] != "0" and all(len(group) == 3 for group in groups)
    return "".join((first, *groups)) if good else figure


def parse_number(text: str) -> float | int:
    """A plain number, whole where it is one; blanks and apostrophes may part the thousands."""
    plain = _plain(text)
    number = float(plain) if _PLAIN_NUMBER.fullmatch(plain) else math.nan
    if not math.isfinite(number):
        raise UsageError("{text} is no number; allowed: such as 2500 or 2.5", text=repr(text))
    return int(number) if number == round(number) else number


def parse_count(text: str) -> int:
    """A number of animals: whole, 0 or more."""
    number = parse_number(text)
    if not isinstance(number, int) or number < 0:
        raise UsageError("{text} is no whole number; allowed: such as 2500 or 10 000", text=repr(text))
    return number


def parse_percent(text: str) -> float | int:
    """A share in percent, from "30" or "30 %"."""
    return parse_number(re.sub(r"\s*(%|percent)\s*$", "", text.lower()))


def parse_days(text: str) -> float | int:
    """A number of days, from "5", "2.5 d" or "5 days"."""
    return _of_unit(text, _DAYS)


def parse_hours(text: str) -> float | int:
    """A number of hours, from "36" or "36 h"."""
    return _of_unit(text, _HOURS)


def _of_unit(text: str, unit: re.Pattern[str]) -> float | int:
    match = unit.fullmatch(text.strip().lower())
    return parse_number(match[1] if match else text)


def parse_yes(text: str) -> bool:
    """A yes or no, as "yes", "no", "on" or "off"."""
    said = _YES_OR_NO.get(text.strip().lower())
    if said is None:
        raise UsageError("{text} is neither yes nor no; allowed: yes, no, on, off", text=repr(text))
    return said


def parse_grams(text: str) -> float | int:
    """A mass [g] above 0, from "12.5", "12.5 g" or "1.5 kg"; a bare number counts as grams."""
    grams = round(parse_kg(text, "g") * 1000.0, 6)
    return int(grams) if grams == round(grams) else grams


def parse_kg(text: str, unit: str = "") -> float:
    """A mass [kg] above 0, from "800 g" or, as water, from "1.5 l"; a litre counts as a kilogram.

    A bare number is in the unit of the field where it names one, else it counts as kilograms, up to 50.
    """
    plain = _plain(text)
    return _kg(f"{plain} {unit}" if _PLAIN_NUMBER.fullmatch(plain) else plain, text)


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
    if unit is not None and unit[2] in (*_LITRES, *_MILLILITRES):
        return Material(kg, 1.0)
    raise UsageError("{text} says no moisture; allowed: {allowed}", text=repr(text), allowed=MATERIALS)


def parse_mg(text: str) -> float | int:
    """The mass of one animal [mg] above 0, from "180", "180 mg" or "0.18 g"; a bare number is in mg."""
    mg = round(parse_kg(text, "mg") * 1e6, 6)
    return int(mg) if mg == round(mg) else mg


def parse_mass_or_count(text: str) -> dict[str, object]:
    """What was weighed or counted: `kg` where a unit is written, else a whole number of `animals`."""
    plain = _plain(text)
    if _PLAIN_NUMBER.fullmatch(plain):
        return {"animals": parse_count(text)}
    return {"kg": round(parse_kg(text), 6)}


def parse_hatch(text: str) -> dict[str, object]:
    """How much hatched: `percent` of the eggs, or `young_grams` of young larvae where a unit of mass is
    written. A bare number counts as percent, unless it is a share; of a counted sample "37 of 50" will do.
    """
    plain = _plain(text)
    if counted := _COUNTED.fullmatch(plain):
        hatched, eggs = int(counted[1]), int(counted[2])
        if not 0 < hatched <= eggs:
            raise UsageError("{text} is no part of a sample; allowed: such as 37 of 50", text=repr(text))
        return {"percent": round(100.0 * counted_share(hatched, eggs - hatched), 1)}
    if "%" in plain or "percent" in plain or _PLAIN_NUMBER.fullmatch(plain):
        percent = parse_percent(text)
        if 0.0 < percent < 1.0 and "%" not in plain:
            both = sentence(
                "{text}: {many} % or {few} %? write {many} % or {few} %",
                text=text,
                many=f"{100.0 * percent:g}",
                few=f"{percent:g}",
            )
            raise TwoReadings(both)
        return {"percent": percent}
    return {"young_grams": parse_grams(text)}


VALUES: Mapping[str, Callable[[str], object]] = {
    **dict.fromkeys(("animals", "flies", "larvae", "strips", "clutches"), parse_count),
    **dict.fromkeys(("percent", "through_percent", "female_percent"), parse_percent),
    **dict.fromkeys(("sure_days", "age_days"), parse_days),
    **dict.fromkeys(("kg", "back_to_kg", "sd_kg", "residue_kg"), parse_kg),
    **dict.fromkeys(("moisture", "moisture_sd", "residue_moisture"), parse_share),
    **dict.fromkeys(("depth_m", "probe_depth_m"), parse_length_m),
    **dict.fromkeys(("rough", "fan", "on"), parse_yes),
    **dict.fromkeys(("grams", "young_grams"), parse_grams),
    "mean_mg": parse_mg,
    "window_hours": parse_hours,
    "surface_m2": lambda text: round(parse_surface_m2(text), 5),
}
"""How a person writes the value of each key of an entry that is no word."""


def read_value(key: str, text: str) -> object:
    """The value of a key of an entry's body, in its own unit; what is no amount stays as it was written."""
    try:
        return VALUES[key](text) if key in VALUES else text
    except UsageError as error:
        raise UsageError("{name}: {reason}", name=key.replace("_", " "), reason=error.said) from None


def read_values(texts: Mapping[str, str]) -> dict[str, object]:
    """The values of several keys, None where nothing was written; UsageError with every problem."""
    values, problems = dict[str, object](), list[Sentence]()
    for key, text in texts.items():
        try:
            values[key] = read_value(key, text) if text.strip() else None
        except UsageError as error:
            problems.append(error.said)
    if problems:
        raise UsageError(one_a_line(problems))
    return values


# Places.


def place_key(written: str) -> str:
    """What is compared: "Bin 4", "bin4" and "BIN-4" are one."""
    return re.sub(r"[\s\-_.]+", "", unicodedata.normalize("NFKC", written).casefold())


def find_place(written: str, titles: Mapping[str, str]) -> str:
    """The id of the place that is meant; `titles` are names for people by id.

    UsageError where it can be several, with all of them, and where it is none, with the nearest.
    """
    if written in titles:
        return written
    key = place_key(written)
    meant = [place for place, title in titles.items() if key in (place_key(place), place_key(title))]
    if len(meant) == 1:
        return meant[0]
    if meant:
        raise UsageError(
            "{name} can be several places; write one of: {places}",
            name=repr(written),
            places=", ".join(f"{place} ({titles[place]})" for place in meant),
        )
    near = _nearest(key, titles)
    if near is not None:
        raise UsageError(
            '{name} is no place in the settings; do you mean "{near}"?', name=repr(written), near=near
        )
    raise UsageError(
        "{name} is no place in the settings; known: {known}", name=repr(written), known=", ".join(titles)
    )


def _nearest(key: str, titles: Mapping[str, str]) -> str | None:
    keys = {place_key(name): place for place, title in titles.items() for name in (title, place)}
    near = difflib.get_close_matches(key, keys, n=1, cutoff=0.6)
    return keys[near[0]] if near else None
