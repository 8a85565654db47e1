"""Times and lengths of time as a person writes them: "8 Oct", "yesterday 18:00", "monday 7:00", "8/10", ISO.

The one reader for command line, page and notebook, in English, French and Kiswahili whatever the
language of the farm. Kiswahili counts hours from six: "saa 2" is read as a length, never as a time of day.
What was understood is said back in words (`words`), so that a misreading is seen.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta, tzinfo

from monitor.errors import UsageError, sentence
from monitor.records import MS_PER_DAY, MS_PER_HOUR, MS_PER_MINUTE, MS_PER_SECOND, local

MOMENTS = sentence(
    "now, 14:30, yesterday 18:00, monday 7:00, 8 Oct 18:00, 8 October 2026, 2 hours ago, 2026-11-25 14:30 "
    "or 2026-11-25T14:30+02:00"
)
LENGTHS = sentence("30 min, 2 h, 1 h 30 min or 3 days")
NOON = time(12, 0)
LATEST_MS = 1000 * 365 * MS_PER_DAY
"""Times from 1970 on and before about 2970 are read. Own choice: what lies beyond is a slip."""

_UNITS: Mapping[str, int] = {
    **dict.fromkeys(("m", "min", "mins", "minute", "minutes", "dk", "dakika"), MS_PER_MINUTE),
    **dict.fromkeys(("h", "hour", "hours", "heure", "heures", "saa"), MS_PER_HOUR),
    **dict.fromkeys(("d", "day", "days", "j", "jour", "jours", "siku"), MS_PER_DAY),
    **dict.fromkeys(("w", "week", "weeks", "semaine", "semaines", "wiki"), 7 * MS_PER_DAY),
}
_DAYS: Mapping[str, int] = {
    **dict.fromkeys(("the day before yesterday", "day before yesterday", "avant-hier", "juzi"), -2),
    **dict.fromkeys(("yesterday", "hier", "jana"), -1),
    **dict.fromkeys(("today", "aujourd'hui", "aujourd’hui", "leo"), 0),
    **dict.fromkeys(("tomorrow", "demain", "kesho"), 1),
}
_WEEKDAYS: Mapping[str, int] = {
    **dict.fromkeys(("monday", "mon", "lundi", "lun", "jumatatu", "jtatu"), 0),
    **dict.fromkeys(("tuesday", "tue", "tues", "mardi", "mar", "jumanne", "jnne"), 1),
    **dict.fromkeys(("wednesday", "wed", "mercredi", "mer", "jumatano", "jtano"), 2),
    **dict.fromkeys(("thursday", "thu", "thur", "thurs", "jeudi", "jeu", "alhamisi", "alh"), 3),
    **dict.fromkeys(("friday", "fri", "vendredi", "ven", "ijumaa", "iju"), 4),
    **dict.fromkeys(("saturday", "sat", "samedi", "sam", "jumamosi", "jmosi"), 5),
    **dict.fromkeys(("sunday", "sun", "dimanche", "dim", "jumapili", "jpili"), 6),
}
_MONTHS: Mapping[str, int] = {
    **dict.fromkeys(("january", "jan", "janvier", "janv", "januari"), 1),
    **dict.fromkeys(("february", "feb", "février", "fevrier", "févr", "fevr", "fév", "fev", "februari"), 2),
    **dict.fromkeys(("march", "mar", "mars", "machi", "mac"), 3),
    **dict.fromkeys(("april", "apr", "avril", "avr", "aprili"), 4),
    **dict.fromkeys(("may", "mai", "mei"), 5),
    **dict.fromkeys(("june", "jun", "juin", "juni"), 6),
    **dict.fromkeys(("july", "jul", "juillet", "juil", "julai"), 7),
    **dict.fromkeys(("august", "aug", "août", "aout", "agosti", "ago"), 8),
    **dict.fromkeys(("september", "sept", "sep", "septembre", "septemba"), 9),
    **dict.fromkeys(("october", "oct", "octobre", "oktoba", "okt"), 10),
    **dict.fromkeys(("november", "nov", "novembre", "novemba"), 11),
    **dict.fromkeys(("december", "dec", "décembre", "decembre", "déc", "desemba", "des"), 12),
}
YEARS_BACK = 8
"""How many years a date without one is looked for: 29 February comes once in four, or once in eight."""


def _any(names: Iterable[str]) -> str:
    """A pattern for one of the names, the longest first."""
    return "|".join(sorted(map(re.escape, names), key=len, reverse=True))


_UNIT_FIRST = re.compile(r"\b(dk|dakika|saa|siku|wiki) (\d{1,6})\b")
_PAST = re.compile(r" (?:iliyopita|zilizopita)$")
_PART = re.compile(r"(\d{1,6}(?:[.,]\d{1,2})?)\s*([a-z]+)\s*")
_CLOCK = (
    r"(?:(?P<h>[01]?\d|2[0-3])(?::|h| h )(?P<m>[0-5]\d)(?: ?(?P<half>am|pm))?"
    r"|(?P<h2>\d\d?)(?: ?(?P<half2>am|pm)|h))"
)
_ONLY_CLOCK = re.compile(_CLOCK)
_DAY_THEN_CLOCK = re.compile(rf"(?P<day>.*[^\s,])[\s,]+{_CLOCK}")
_CLOCK_THEN_DAY = re.compile(rf"{_CLOCK}[\s,]+(?:on |le )?(?P<day>.+)")
_WEEKDAY = re.compile(rf"(?P<last>last )?(?P<name>{_any(_WEEKDAYS)})\.?(?P<past> dernier)?")
_IN_FRONT = re.compile(rf"(?P<name>{_any(_WEEKDAYS)})\.?,? (?P<date>.*\d.*)")
_NTH = r"(?P<d>\d\d?)(?:st|nd|rd|th|er|e)?\.?"
_YEAR = r"(?:,?[\s-]+(?P<y>\d{4}|\d\d))?"
_NAMED = (
    re.compile(rf"(?:the )?{_NTH}[\s-]*(?:of |de )?(?P<mon>{_any(_MONTHS)})\.?{_YEAR}"),
    re.compile(rf"(?P<mon>{_any(_MONTHS)})\.?[\s-]*{_NTH}{_YEAR}"),
)
_TWO_FIGURES = (
    re.compile(r"(?P<a>\d\d?)/(?P<b>\d\d?)(?:/(?P<y>\d{4}|\d\d))?"),
    re.compile(r"(?P<a>\d\d?)\. ?(?P<b>\d\d?)\.(?: ?(?P<y>\d{4}|\d\d))?"),
    re.compile(r"(?P<a>\d\d?)-(?P<b>\d\d?)-(?P<y>\d{4})"),
)
_YEAR_FIRST = re.compile(r"(?P<y>\d{4})(?P<mark>[-/.])(?P<b>\d\d?)(?P=mark)(?P<a>\d\d?)")


def iso(at_ms: int | None, zone: tzinfo) -> str | None:
    """ISO 8601 with the offset of the zone; None stays None."""
    return None if at_ms is None else local(at_ms, zone).isoformat(timespec="seconds")


def parse_length(text: str) -> int:
    """A length of time in ms; UsageError for one that is not understood or not above zero."""
    length_ms = _length(_unit_last(text.strip().lower()))
    if not length_ms:
        raise UsageError("{text} is no length of time; allowed: {allowed}", text=repr(text), allowed=LENGTHS)
    return length_ms


def _unit_last(text: str) -> str:
    """A length with its units after their numbers, as others have it: "saa 2 dk 10" is "2 saa 10 dk"."""
    return _UNIT_FIRST.sub(r"\2 \1", text)


def _length(text: str) -> int | None:
    total, at = 0.0, 0
    while at < len(text):
        part = _PART.match(text, at)
        if part is None or part[2] not in _UNITS:
            return None
        total += float(part[1].replace(",", ".")) * _UNITS[part[2]]
        at = part.end()
    return round(total)


@dataclass(frozen=True, slots=True)
class TimeReader:
    """How times are read at one farm, at one moment [ms since 1970 UTC].

    `month_first` says what 8/10 means; `ahead` that a time without its day or year is the next one, else it
    is the last one.
    """

    now_ms: int
    zone: tzinfo
    month_first: bool = False
    ahead: bool = False

    def moment(self, text: str, day_alone: time = time.min) -> int:
        """A moment [ms since 1970 UTC], by the farm's clock; a day alone begins at `day_alone`.

        UsageError for what is not understood.
        """
        plain = " ".join(text.strip().lower().split())
        try:
            at_ms = self._read(plain, day_alone)
        except OverflowError:
            at_ms = None
        if at_ms is None or not 0 <= at_ms < LATEST_MS:
            raise UsageError(
                "{text} is no time that is understood; allowed: {allowed}", text=repr(text), allowed=MOMENTS
            )
        return at_ms

    def _read(self, plain: str, day_alone: time) -> int | None:
        for reader in (self._now, self._ago, self._iso, self._clock_alone):
            at_ms = reader(plain)
            if at_ms is not None:
                return at_ms
        return self._day(plain, day_alone)

    def entry_moment(self, text: str) -> int:
        """The moment of an entry: a day alone is its noon, or now where its noon is still to come."""
        at_ms = self.moment(text, NOON)
        if at_ms <= self.now_ms or self.ahead or self.moment(text) > self.now_ms or self._has_clock(text):
            return at_ms
        return self.now_ms

    def _has_clock(self, text: str) -> bool:
        return self.moment(text, NOON) == self.moment(text, time.min)

    @property
    def _now_here(self) -> datetime:
        return local(self.now_ms, self.zone)

    @property
    def _today(self) -> date:
        return self._now_here.date()

    def _now(self, text: str) -> int | None:
        return self.now_ms if text in ("now", "maintenant", "sasa") else None

    def _ago(self, text: str) -> int | None:
        back = _PAST.sub("", text.removesuffix(" ago").removeprefix("il y a "))
        ahead = text.removeprefix("in ").removeprefix("dans ").removeprefix("baada ya ")
        said = back if back != text else ahead if ahead != text else ""
        length = _length(_unit_last(said)) if said else None
        if length is None:
            return None
        return self.now_ms - length if back != text else self.now_ms + length

    def _iso(self, text: str) -> int | None:
        if ":" not in text:
            return None  # A date alone is read below, since it has no time.
        try:
            at = datetime.fromisoformat(text.upper())
        except ValueError:
            return None
        return _ms(at if at.tzinfo else at.replace(tzinfo=self.zone))

    def _clock_alone(self, text: str) -> int | None:
        match = _ONLY_CLOCK.fullmatch(text)
        clock = None if match is None else _clock_of(match)
        if clock is None:
            return None
        days = (self._today + timedelta(days=step) for step in (-1, 0, 1))
        times_ms = [self._at(day, clock) for day in days]
        if self.ahead:
            return next(at_ms for at_ms in times_ms if at_ms > self.now_ms)
        return next(at_ms for at_ms in reversed(times_ms) if at_ms <= self.now_ms)

    def _day(self, text: str, day_alone: time) -> int | None:
        """A day, with its time of day before or after it, or alone."""
        for pattern in (_DAY_THEN_CLOCK, _CLOCK_THEN_DAY):
            match = pattern.fullmatch(text)
            clock = None if match is None else _clock_of(match)
            day = None if match is None or clock is None else self._date(match["day"], clock)
            if day is not None and clock is not None:
                return self._at(day, clock)
        day = self._date(text, None)
        return None if day is None else self._at(day, day_alone)

    def _date(self, text: str, clock: time | None) -> date | None:
        plain = re.sub(r"^(on|le) |( at| à|,)$", "", text)
        if plain in _DAYS:
            return self._today + timedelta(days=_DAYS[plain])
        weekday = _WEEKDAY.fullmatch(plain)
        if weekday is not None:
            return self._weekday(weekday, clock)
        in_front = _IN_FRONT.fullmatch(plain)
        if in_front is None:
            return self._calendar_date(plain)
        day = self._calendar_date(in_front["date"])
        if day is None:
            return self._calendar_date(plain)  # "Mar" is a Tuesday in French, and a month.
        if day.weekday() != _WEEKDAYS[in_front["name"]]:
            raise UsageError(
                "{text}: {date} is another day of the week; correct one of the two",
                text=repr(text),
                date=day.isoformat(),
            )
        return day

    def _weekday(self, match: re.Match[str], clock: time | None) -> date:
        """The last such day, today too where its time is past; or the next one."""
        away = (self._today.weekday() - _WEEKDAYS[match["name"]]) % 7
        if self.ahead:
            away = (-away) % 7
            over = clock is not None and self._at(self._today, clock) <= self.now_ms
            return self._today + timedelta(days=7 if away == 0 and over else away)
        to_come = clock is not None and self._at(self._today, clock) > self.now_ms
        last = match["last"] or match["past"]
        return self._today - timedelta(days=7 if away == 0 and (to_come or last) else away)

    def _calendar_date(self, text: str) -> date | None:
        for pattern in _NAMED:
            match = pattern.fullmatch(text)
            if match is not None:
                return self._dated(int(match["d"]), _MONTHS[match["mon"]], match["y"])
        match = _YEAR_FIRST.fullmatch(text)
        if match is not None:
            return self._dated(int(match["a"]), int(match["b"]), match["y"])
        match = next((found for pattern in _TWO_FIGURES if (found := pattern.fullmatch(text))), None)
        if match is None:
            return None
        first, second = int(match["a"]), int(match["b"])
        day, month = (second, first) if self.month_first else (first, second)
        if month > 12 >= day:
            day, month = month, day  # It can be read one way only, whatever the order here is.
        return self._dated(day, month, match["y"])

    def _dated(self, day: int, month: int, year: str | None) -> date | None:
        """A date; without its year the last such date, or the next one."""
        if year is not None:
            return _possible(int(year) + (2000 if len(year) == 2 else 0), month, day)
        step = 1 if self.ahead else -1
        for years in range(YEARS_BACK + 1):
            found = _possible(self._today.year + step * years, month, day)
            if found is not None and (found - self._today).days * step >= 0:
                return found
        return None

    def _at(self, day: date, clock: time) -> int:
        return _ms(datetime.combine(day, clock, self.zone))


def _possible(year: int, month: int, day: int) -> date | None:
    try:
        return date(year, month, day)
    except ValueError:
        return None


def _clock_of(match: re.Match[str]) -> time | None:
    """The time of day of a match, None for one such as 13 pm."""
    hour, minute = int(match["h"] or match["h2"]), int(match["m"] or 0)
    half = match["half"] or match["half2"]
    if half is not None:
        if not 1 <= hour <= 12:
            return None
        hour = hour % 12 + (12 if half == "pm" else 0)
    return time(hour, minute) if hour < 24 else None


def _ms(at: datetime) -> int:
    return round(at.timestamp() * MS_PER_SECOND)
