"""Days, windows, amounts and hours ahead as the person who looks wants them. No clock: `Words` holds now."""

from __future__ import annotations

import math

from monitor.model.moisture_outlook import HORIZON_H, HoursTo
from monitor.notify.phrases import local
from monitor.records import MS_PER_DAY, MS_PER_HOUR
from monitor.views.page.words import NO_BREAK, Words

NEVER_MS = 8e12
HOURS_AS_DAYS_FROM = 72.0
_LEAST_GROUPED = 10_000


def day(words: Words, at_ms: float) -> str:
    """Weekday and date; in words for a time that never comes."""
    if not at_ms < NEVER_MS:
        return words.t("window.never")
    at = local(round(at_ms), words.zone)
    return f"{words.weekday(at)} {words.day(at)}".replace(" ", NO_BREAK)


def window(words: Words, low_ms: float, high_ms: float) -> str:
    """From the first to the last day, or one day where both ends fall on it."""
    if not low_ms < NEVER_MS:
        return words.t("window.never")
    low = _short(words, low_ms)
    if not high_ms < NEVER_MS:
        return words.t("window.from", low=low)
    high = _short(words, high_ms)
    return low if low == high else words.t("window.span", low=low, high=high)


def _short(words: Words, at_ms: float) -> str:
    return words.day(local(round(at_ms), words.zone)).replace(" ", NO_BREAK)


def days_long(words: Words, days: float) -> str:
    """A number of days with one decimal where that says something."""
    rounded = round(abs(days), 1)
    text = words.number(rounded, 0 if rounded == round(rounded) else 1)
    return words.t("window.day" if text == "1" else "window.days", count=text)


def animals(words: Words, count: float) -> str:
    """A number of animals to two figures, as one says it."""
    if not math.isfinite(count):
        return words.t("value.none")
    places = max(0, len(str(int(abs(count)))) - 2)
    return grouped(words, round(count, -places))


def grouped(words: Words, number: float) -> str:
    """A whole number, thousands apart from ten thousand on."""
    text = words.number(number)
    return f"{number:,.0f}".replace(",", NO_BREAK) if abs(number) >= _LEAST_GROUPED else text


def plain(words: Words, number: float, most: int = 2) -> str:
    """A number with as many decimals as it needs, up to `most`."""
    text = f"{number:.{most}f}".rstrip("0").rstrip(".") if most else f"{number:.0f}"
    return text.replace(".", words.t("format.decimal")) or "0"


def litres(words: Words, kg: float) -> str:
    """Water in litres."""
    text = plain(words, kg, 2 if kg < 1.0 else 1)
    return words.t("amount.litre" if text == "1" else "amount.litres", count=text)


def kilograms(words: Words, kg: float) -> str:
    """Grams below a kilogram."""
    if kg < 1.0:
        return words.t("amount.grams", count=words.number(1000.0 * kg))
    return words.t("amount.kilograms", count=plain(words, kg))


def grams(words: Words, number: float) -> str:
    """A small weight in grams."""
    return words.t("amount.grams", count=plain(words, number))


def percent(words: Words, share: float) -> str:
    """A ratio as percent."""
    return f"{words.number(100.0 * share)}{NO_BREAK}%"


def hours(words: Words, length_h: float) -> str:
    """Hours, from three days on days."""
    if length_h >= HORIZON_H:
        return words.t("left.horizon")
    if length_h < 1.0:
        return words.t("left.hour")
    if length_h < HOURS_AS_DAYS_FROM:
        return words.t("length.hours", count=words.number(length_h)).replace(" ", NO_BREAK)
    return words.length(round(length_h / 24.0) * MS_PER_DAY).replace(" ", NO_BREAK)


def left(words: Words, ahead: HoursTo) -> str:
    """How long until a limit, most likely."""
    if ahead.is_beyond:
        return words.t("left.beyond")
    if ahead.median_h <= 0.0:
        return words.t("left.passed")
    exact = ahead.median_h < 1.0 or ahead.median_h >= HORIZON_H
    return words.t("left.in" if exact else "left.about", length=hours(words, ahead.median_h))


def earliest(words: Words, ahead: HoursTo, now_ms: int) -> str:
    """The earliest credible time, "" where there is nothing to say."""
    if ahead.is_beyond or ahead.median_h <= 0.0:
        return ""
    if ahead.earliest_h <= 0.0:
        return words.t("left.perhaps_now")
    length = hours(words, ahead.earliest_h)
    if ahead.earliest_h >= HOURS_AS_DAYS_FROM:
        return words.t("left.earliest", length=length)
    at = words.clock(now_ms + round(ahead.earliest_h * MS_PER_HOUR))
    return words.t("left.earliest_at", length=length, at=at)
