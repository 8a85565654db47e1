"""The words, numbers, times, amounts and temperatures of one reader: a person, the site, or the command line.

Everything that a person reads goes through a `Localizer`, so language, unit and time zone are decided once.
It reads no clock: now is given.
"""

from __future__ import annotations

import math
import re
import textwrap
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, tzinfo
from enum import StrEnum
from functools import cache
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from babel import Locale, UnknownLocaleError
from babel.core import get_global
from babel.numbers import get_decimal_symbol

from monitor.errors import MonitorError, Phrase, Sentence
from monitor.logbook.times import TimeReader
from monitor.records import (
    MS_PER_DAY,
    MS_PER_HOUR,
    MS_PER_MINUTE,
    QUANTITIES,
    Computed,
    Quantity,
    local,
)
from monitor.words.catalogue import ENGLISH, LANGUAGES, catalogue, entry_id, sentence_id

if TYPE_CHECKING:
    from monitor.settings.schema import Settings

# The area of the catalogue that has the values of an enumeration, by the name of its class.
_AREAS = {"PlaceKind": "kind", "Stage": "stage", "Event": "seen", "Ending": "ending"}
# Weekdays of at most five letters for axes and tables, where the locale knows long names alone. Own choice.
_SHORT_DAYS: Mapping[str, tuple[str, ...]] = {
    "sw": ("Jtatu", "Jnne", "Jtano", "Alh", "Iju", "Jmosi", "Jpili"),
}
NO_BREAK = "\u00a0"
NARROWEST = 40
NEVER_MS = 8e12
LANGUAGE_VARIABLES = ("LC_ALL", "LC_MESSAGES", "LANG")
_LEAST_GROUPED = 10_000
_WEEK_DAYS = 7
_TWO_WEEKS_DAYS, _YEAR_DAYS = 14, 365
_MOST_DECIMALS = 3
_TEMPERATURES = frozenset({"Cel"})
_SHARES = (Quantity.SUBSTRATE_MOISTURE, Computed.SILENT_NODE_SHARE)
# What stays on one line in wrapped text: a number and its unit, French double punctuation and quotes.
_KEEP_TOGETHER = re.compile(
    r"(?<=\d) (?=(?:°C|°F|%|kPa|Pa|V|lx|ppm|K|kg|g|m²|min|h|days?|jours?|litres?)(?!\w))| (?=[:;?!»])|(?<=«) "
)


def decimals_of(quantity: str) -> int:
    """Decimals that a person can use: one for temperatures, none for humidities and shares."""
    return QUANTITIES[quantity].decimals if quantity in QUANTITIES else 1


def shown_value(quantity: str, value: float) -> float:
    """The value in the unit that people see: shares as percent, all else as stored."""
    return value * 100.0 if quantity in _SHARES else value


@dataclass(frozen=True, slots=True)
class DisplayPreferences:
    """What a reader gets: a language, °F in place of °C, and ordinary spaces and signs for plain text."""

    language: str = ENGLISH
    fahrenheit: bool = False
    plain_text: bool = False


class Localizer:
    """The words of one answer: a language, a unit of temperature, the farm's zone, and now."""

    def __init__(self, preferences: DisplayPreferences, zone: tzinfo, now_ms: int) -> None:
        known = preferences.language if preferences.language in LANGUAGES else ENGLISH
        self.preferences, self.zone, self.now_ms = preferences, zone, now_ms
        self.language = known
        self._catalogue = catalogue(known)
        self._locale = Locale.parse(known)
        self._decimal = get_decimal_symbol(self._locale)
        self.space = " " if preferences.plain_text else NO_BREAK
        self._minus = "-" if preferences.plain_text else "−"

    @classmethod
    def plain(cls, language: str, zone: tzinfo, now_ms: int) -> Localizer:
        """The words of plain text: a terminal, a message, a file."""
        return cls(DisplayPreferences(language, plain_text=True), zone, now_ms)

    @classmethod
    def of_site(cls, settings: Settings, now_ms: int) -> Localizer:
        """The words of the site, as plain text."""
        return cls.plain(settings.site.language, ZoneInfo(settings.site.time_zone), now_ms)

    def at(self, now_ms: int) -> Localizer:
        """The same words at another time."""
        return Localizer(self.preferences, self.zone, now_ms)

    # Words.

    def t(self, key: str, /, **values: object) -> str:
        """The message of a key with its values put in."""
        return self._spaced(self._catalogue.format(entry_id(key), values))

    def _spaced(self, text: str) -> str:
        return text.replace(NO_BREAK, self.space)

    def n(self, key: str, count: int, /, **values: object) -> str:
        """The message for a number of things; the catalogue chooses the plural form by `$count`."""
        return self.t(key, count=count, **values)

    def has(self, key: str) -> bool:
        """Whether the catalogue knows a key, be it in English alone."""
        known = entry_id(key)
        return self._catalogue.has(known) or catalogue(ENGLISH).has(known)

    def text(self, english: str) -> str:
        """A sentence of the rules that come with the program; one that the farm wrote itself stays."""
        known = sentence_id(english)
        if not english or not self._catalogue.has(known):
            return english
        return self._spaced(self._catalogue.format(known, {}))

    def sentence(self, said: Sentence) -> str:
        """A sentence that carries its own English, such as the text of an error, in this language."""
        values = {name: self._value_of(value) for name, value in said.values.items()}
        known = sentence_id(said.english)
        if self.language == ENGLISH or not self._catalogue.has(known):
            return Sentence(said.english, values).text
        return self._spaced(self._catalogue.format(known, values))

    def phrase(self, phrase: Phrase) -> str:
        """Part of a sentence: words that the catalogue knows, or a plain value that stays."""
        return self.sentence(phrase) if isinstance(phrase, Sentence) else phrase

    def _value_of(self, value: object) -> object:
        match value:
            case Sentence():
                return self.sentence(value)
            case tuple():
                return "\n".join(str(self._value_of(line)) for line in value)
            case Quantity():
                return self.quantity_name(value)
            case StrEnum() if type(value).__name__ in _AREAS:
                return inside(self.t(f"{_AREAS[type(value).__name__]}.{value}"))
            case int() | float():
                return value
            case _:
                return str(value)

    def error(self, error: MonitorError) -> str:
        """The text of an error."""
        return self.sentence(error.said)

    def quantity(self, quantity: str) -> str:
        """The name of a quantity."""
        key = f"quantity.{quantity}"
        return self.t(key) if self.has(key) else quantity.replace("_", " ")

    def quantity_name(self, quantity: str) -> str:
        """The name of a quantity inside a sentence."""
        return inside(self.quantity(quantity))

    def short_quantity(self, quantity: str) -> str:
        """The shortest name that a person understands beside the place."""
        key = f"short.{quantity}"
        return self.t(key) if self.has(key) else self.quantity(quantity)

    # Numbers.

    @property
    def decimal(self) -> str:
        """The decimal mark of the locale."""
        return self._decimal

    def number(self, value: float, decimals: int = 0) -> str:
        """A number by locale; minus zero is zero."""
        text = f"{value:.{decimals}f}"
        if text.startswith("-") and float(text) == 0.0:
            text = text[1:]
        return text.replace("-", self._minus).replace(".", self._decimal)

    def shown(self, quantity: str, value: float) -> float:
        """The value in the unit that this person sees."""
        unit = QUANTITIES[quantity].unit if quantity in QUANTITIES else ""
        if self.preferences.fahrenheit and unit in _TEMPERATURES:
            return value * 1.8 + 32.0
        if self.preferences.fahrenheit and unit == "K":
            return value * 1.8
        return shown_value(quantity, value)

    def shown_number(self, quantity: str, value: float) -> float:
        """The number that `value` shows, rounded."""
        return round(self.shown(quantity, value), decimals_of(quantity))

    def unit(self, quantity: str) -> str:
        """The unit that this person sees."""
        if quantity in _SHARES:
            return "%"
        unit = QUANTITIES[quantity].unit if quantity in QUANTITIES else ""
        if unit in ("Cel", "K"):
            return "°F" if self.preferences.fahrenheit else "°C"
        key = f"unit.{unit.strip('%/')}"
        return self.t(key) if self.has(key) else unit.strip("/")

    def value(self, quantity: str, value: float | None, against: float | None = None) -> str:
        """A value with its unit; more decimals where rounding would make it equal to `against`."""
        if value is None or not math.isfinite(value):
            return self.t("value.none")
        shown, decimals = self.shown(quantity, value), decimals_of(quantity)
        if against is not None and math.isfinite(against) and value != against:
            other = self.shown(quantity, against)
            while decimals < _MOST_DECIMALS and round(shown, decimals) == round(other, _MOST_DECIMALS):
                decimals += 1
        return self._with_unit(self.number(shown, decimals), quantity)

    def limit(self, quantity: str, setpoint: float) -> str:
        """A setpoint with its unit, without needless zeros."""
        shown = round(self.shown(quantity, setpoint), 1 if self.preferences.fahrenheit else _MOST_DECIMALS)
        text = f"{shown:g}".replace("-", self._minus).replace(".", self._decimal)
        return self._with_unit(text, quantity)

    def tick(self, quantity: str, shown: float) -> str:
        """A number on an axis, already in the unit that is seen."""
        decimals = 0 if abs(shown - round(shown)) < 1e-9 else 1 if abs(shown * 10 % 1) < 1e-9 else 2
        return self._with_unit(self.number(shown, decimals), quantity)

    def rate(self, quantity: str, per_hour: float) -> str:
        """The size of a change in an hour, with its unit."""
        factor = 1.8 if self.preferences.fahrenheit and self._is_temperature(quantity) else 1.0
        size = abs(shown_value(quantity, per_hour)) * factor
        return self._with_unit(self.number(size, decimals_of(quantity)), quantity)

    @staticmethod
    def _is_temperature(quantity: str) -> bool:
        return quantity in QUANTITIES and QUANTITIES[quantity].unit in _TEMPERATURES

    def _with_unit(self, number: str, quantity: str) -> str:
        unit = self.unit(quantity)
        return f"{number}{self.space}{unit}" if unit else number

    # Times.

    def hour(self, at_ms: int) -> str:
        """Hours and minutes; in the hour that autumn shows twice, with the zone."""
        at = local(at_ms, self.zone)
        twice = at.replace(fold=0).utcoffset() != at.replace(fold=1).utcoffset()
        return f"{at:%H:%M} {at.tzname()}" if twice else f"{at:%H:%M}"

    def clock(self, at_ms: int) -> str:
        """Today the time, within six days the weekday with it, before that the date with it."""
        at, now = local(at_ms, self.zone), local(self.now_ms, self.zone)
        if at.date() == now.date():
            return self.hour(at_ms)
        near = abs((at.date() - now.date()).days) < _WEEK_DAYS
        day = self.weekday(at) if near else self.day(at)
        return f"{day} {self.hour(at_ms)}"

    def moment(self, at_ms: int) -> str:
        """Weekday, date and time."""
        at = local(at_ms, self.zone)
        return f"{self.weekday(at)} {self.day(at)} {self.hour(at_ms)}"

    def said_back(self, at_ms: int) -> str:
        """A moment in full, as somebody reads it who checks it: "Thursday 8 October, 18:00, 7 weeks ago"."""
        at, now = local(at_ms, self.zone), local(self.now_ms, self.zone)
        return self.t(
            "said.moment" if at.year == now.year else "said.moment_year",
            weekday=str(self._locale.days["format"]["wide"][at.weekday()]),
            day=str(at.day),
            month=str(self._locale.months["format"]["wide"][at.month]),
            year=str(at.year),
            at=self.hour(at_ms),
            away=self._away(at_ms),
        )

    def _away(self, at_ms: int) -> str:
        """How far away a moment is, in the largest unit that says it."""
        away_ms = abs(self.now_ms - at_ms)
        if away_ms < MS_PER_MINUTE:
            return self.t("said.now")
        days = round(away_ms / MS_PER_DAY)
        length = (
            self.length(away_ms)
            if days < _TWO_WEEKS_DAYS
            else self.n("length.weeks", round(days / 7.0))
            if days < _YEAR_DAYS
            else self.n("length.years", round(days / _YEAR_DAYS))
        )
        return self.t("said.ago" if at_ms < self.now_ms else "said.ahead", length=length)

    def day(self, at: date | datetime) -> str:
        """Such as "24 Nov"."""
        return f"{at.day} {self.month(at.month)}"

    def month(self, number: int) -> str:
        """Such as "Nov"."""
        return str(self._locale.months["format"]["abbreviated"][number])

    def weekday(self, at: date | datetime) -> str:
        """Such as "Tue"."""
        if self.language in _SHORT_DAYS:
            return _SHORT_DAYS[self.language][at.weekday()]
        return str(self._locale.days["format"]["abbreviated"][at.weekday()])

    def long_day(self, at: date | datetime) -> str:
        """Such as "Tue 24 Nov 2026"."""
        return f"{self.weekday(at)} {self.day(at)} {at.year}"

    def length(self, duration_ms: float) -> str:
        """Such as "4 min", "2 h 10 min", "3 days"; never negative."""
        minutes = round(max(0.0, duration_ms)) // MS_PER_MINUTE
        if minutes == 0:
            return self.t("length.moment")
        if minutes * MS_PER_MINUTE >= 2 * MS_PER_DAY:
            return self.n("length.days", minutes * MS_PER_MINUTE // MS_PER_DAY)
        hours, rest = divmod(minutes, MS_PER_HOUR // MS_PER_MINUTE)
        parts = [self.t("length.hours", count=hours) if hours else ""]
        parts.append(self.t("length.minutes", count=rest) if rest else "")
        return self.space.join(part for part in parts if part)

    def ago(self, at_ms: int) -> str:
        """Time of day and how long ago that was."""
        return self.t("length.ago", at=self.clock(at_ms), length=self.length(self.now_ms - at_ms))

    def listing(self, parts: list[str]) -> str:
        """Several things in one line."""
        return self.t("format.list").join(parts)

    def headed(self, head: str, text: str) -> str:
        """What something is about, and what is said of it."""
        return f"{head}{self.t('format.colon')} {text}"

    def clauses(self, parts: Iterable[str]) -> str:
        """Several facts in one line, parted by semicolons."""
        return self.t("format.clauses").join(parts)


def preferred_language(header: str) -> str:
    """The first language of an Accept-Language header that the page speaks."""
    for choice in header[:200].split(","):
        code = choice.split(";")[0].strip().lower()[:2]
        if code in LANGUAGES:
            return code
    return ENGLISH


def times_of_site(settings: Settings, now_ms: int, *, ahead: bool = False) -> TimeReader:
    """How times are read at a site: by its clock and in the order of its country."""
    zone = ZoneInfo(settings.site.time_zone)
    return TimeReader(now_ms, zone, month_first(settings.site.language, zone), ahead)


@cache
def month_first(language: str, zone: tzinfo) -> bool:
    """Whether 8/10 is the tenth of August where people speak a language in a time zone's country.

    That is the order of the locale's short date. Where the country is not known, and where its short date
    begins with the year and so does not tell, the day is first.
    """
    zones, aliases = get_global("zone_territories"), get_global("zone_aliases")
    key = str(zone)
    try:
        locale = Locale(language, zones.get(aliases.get(key, key)))
    except UnknownLocaleError:
        return False
    pattern = str(locale.date_formats["short"].pattern) if locale.territory else ""
    return pattern.upper().startswith("M")


def environment_language(environment: Mapping[str, str]) -> str:
    """The language of a terminal's environment, for a command that has no settings file."""
    chosen = next((environment[name] for name in LANGUAGE_VARIABLES if environment.get(name)), "")
    return preferred_language(chosen)


def entry(head: str, text: str, width: int, indent: int = 2) -> list[str]:
    """`head` followed by the text, wrapped for a terminal; what follows the first line is indented."""
    wrapped = textwrap.wrap(
        _KEEP_TOGETHER.sub(NO_BREAK, text),
        max(width, NARROWEST),
        initial_indent=head,
        subsequent_indent=" " * indent,
        break_long_words=False,
        break_on_hyphens=False,
    )
    return [line.replace(NO_BREAK, " ") for line in wrapped] or [head.rstrip()]


def inside(text: str) -> str:
    """A text as it stands inside a sentence: its first letter small."""
    return text[:1].lower() + text[1:]


def capitalised(text: str) -> str:
    """A text as it begins a sentence."""
    return text[:1].upper() + text[1:]


def shortened(text: str, most: int) -> str:
    """At most `most` characters on one line, cut with an ellipsis."""
    line = " ".join(text.split())
    return line if len(line) <= most else line[: most - 1].rstrip() + "…"


def day(words: Localizer, at_ms: float) -> str:
    """Weekday and date; in words for a time that never comes."""
    if not at_ms < NEVER_MS:
        return words.t("window.never")
    at = local(round(at_ms), words.zone)
    return f"{words.weekday(at)} {words.day(at)}".replace(" ", words.space)


def window(words: Localizer, low_ms: float, high_ms: float) -> str:
    """From the first to the last day, or one day where both ends fall on it."""
    if not low_ms < NEVER_MS:
        return words.t("window.never")
    low = _short(words, low_ms)
    if not high_ms < NEVER_MS:
        return words.t("window.from", low=low)
    high = _short(words, high_ms)
    return low if low == high else words.t("window.span", low=low, high=high)


def _short(words: Localizer, at_ms: float) -> str:
    return words.day(local(round(at_ms), words.zone)).replace(" ", words.space)


def days_long(words: Localizer, days: float) -> str:
    """A number of days with one decimal where that says something."""
    rounded = round(abs(days), 1)
    text = words.number(rounded, 0 if rounded == round(rounded) else 1)
    return words.t("window.days", count=rounded, shown=text)


def animals(words: Localizer, count: float) -> str:
    """A number of animals to two figures, as one says it."""
    if not math.isfinite(count):
        return words.t("value.none")
    places = max(0, len(str(int(abs(count)))) - 2)
    return grouped(words, round(count, -places))


def grouped(words: Localizer, number: float) -> str:
    """A whole number, thousands apart from ten thousand on."""
    text = words.number(number)
    return f"{number:,.0f}".replace(",", words.space) if abs(number) >= _LEAST_GROUPED else text


def plain(words: Localizer, number: float, most: int = 2) -> str:
    """A number with as many decimals as it needs, up to `most`."""
    text = f"{number:.{most}f}".rstrip("0").rstrip(".") if most else f"{number:.0f}"
    return text.replace(".", words.decimal) or "0"


def litres(words: Localizer, kg: float) -> str:
    """Water in litres."""
    decimals = 2 if kg < 1.0 else 1
    return words.t("amount.litres", count=round(kg, decimals), shown=plain(words, kg, decimals))


def kilograms(words: Localizer, kg: float) -> str:
    """Grams below a kilogram."""
    if kg < 1.0:
        return words.t("amount.grams", count=words.number(1000.0 * kg))
    return words.t("amount.kilograms", count=plain(words, kg))


def grams(words: Localizer, number: float) -> str:
    """A small weight in grams."""
    return words.t("amount.grams", count=plain(words, number))


def percent(words: Localizer, share: float) -> str:
    """A ratio as percent."""
    return f"{words.number(100.0 * share)}{words.space}%"
