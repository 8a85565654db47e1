"""Words for bins: amounts, moistures, hours ahead, entries of the logbook. Pure."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import tzinfo

from monitor.model.bin_records import BinEntryKind
from monitor.model.moisture_outlook import HORIZON_H, HoursTo, MoistureOutlook
from monitor.model.substrate import MoistureBands, Zone
from monitor.notify.phrases import clock_time
from monitor.records import MS_PER_HOUR, LogbookEntry
from monitor.views.layout import moment

ZONE_WORDS: Mapping[Zone, str] = {
    Zone.TOO_DRY: "too dry",
    Zone.DRY: "dry",
    Zone.RIGHT: "right",
    Zone.WET: "wet",
    Zone.TOO_WET: "too wet",
}
HOURS_AS_DAYS_FROM = 72.0
LEAST_LITRES = 0.1


def litres(kg: float) -> str:
    """ "1.4 litres", "0.25 litres", "1 litre"."""
    text = f"{kg:.2f}".rstrip("0").rstrip(".") if kg < 1.0 else f"{kg:.1f}".removesuffix(".0")
    return f"{text} {'litre' if text == '1' else 'litres'}"


def kilograms(kg: float) -> str:
    """ "800 g", "1.3 kg", "10.6 kg"."""
    if kg < 1.0:
        return f"{1000.0 * kg:.0f} g"
    return f"{kg:.2f}".rstrip("0").rstrip(".") + " kg"


def thousands(count: float) -> str:
    """ "10 000"."""
    return f"{count:,.0f}".replace(",", " ")


def percent(share: float) -> str:
    """ "62 %"."""
    return f"{100.0 * share:.0f} %"


def hours(length_h: float) -> str:
    """ "less than an hour", "9 h", "4 days"; "10 days or more" for what lies beyond."""
    if length_h >= HORIZON_H:
        return "10 days or more"
    if length_h < 1.0:
        return "less than an hour"
    return f"{length_h:.0f} h" if length_h < HOURS_AS_DAYS_FROM else f"{length_h / 24.0:.0f} days"


def until(ahead: HoursTo, now_ms: int, zone: tzinfo) -> str:
    """ "in about 38 h, at the earliest in 22 h (Thu 14:00)"."""
    if ahead.is_beyond:
        return "not within 10 days"
    if ahead.median_h <= 0.0:
        return "passed"
    early = f"at the earliest in {hours(ahead.earliest_h)}"
    if ahead.earliest_h < HOURS_AS_DAYS_FROM:
        early += f" ({clock_time(now_ms + round(ahead.earliest_h * MS_PER_HOUR), now_ms, zone)})"
    if ahead.earliest_h <= 0.0:
        early = "perhaps now"
    middle = hours(ahead.median_h)
    return (
        f"in {middle if ahead.median_h < 1.0 or ahead.median_h >= HORIZON_H else 'about ' + middle}, {early}"
    )


def bin_entry_words(entry: LogbookEntry, zone: tzinfo) -> str:
    """One entry of the logbook as a line, without its number."""
    tell = _TOLD.get(entry.kind)
    told = entry.kind if tell is None else tell(entry.body)
    note = entry.body.get("note")
    return f"{moment(entry.at_ms, zone)}  {told}" + (f" ({note})" if note else "")


def advice_words(found: MoistureOutlook, bands: MoistureBands) -> str:
    """Numbers for a message: litres or bran, and how long there is."""
    target = percent(bands.target)
    if found.zone in (Zone.WET, Zone.TOO_WET):
        return f"{kilograms(found.bran_kg)} of dry bran bring it down to {target}."
    if found.to_limit is None or found.litres < LEAST_LITRES:
        return ""
    dose = f"About {litres(found.litres)} bring it back to {target}."
    left_h = found.to_limit.median_h
    return f"{dose} " + (
        "It is too dry already." if left_h <= 0.0 else f"Most likely too dry in {hours(left_h)}."
    )


Body = Mapping[str, object]


def _number(body: Body, key: str) -> float:
    value = body.get(key)
    return float(value) if isinstance(value, int | float) else float("nan")


def _fill(body: Body) -> str:
    words = f"filled with {kilograms(_number(body, 'kg'))} at {percent(_number(body, 'moisture'))}"
    return words + (f", {_larvae(body)}" if "larvae" in body else "")


def _larvae(body: Body) -> str:
    age = f", {_number(body, 'age_days'):g} days old" if "age_days" in body else ""
    of = f" of {body['cohort']}" if body.get("cohort") else ""
    return f"{thousands(_number(body, 'larvae'))} larvae{of}{age}"


def _water(body: Body) -> str:
    mark = f", back to {kilograms(_number(body, 'back_to_kg'))}" if "back_to_kg" in body else ""
    return f"{litres(_number(body, 'kg'))} of water{mark}"


def _test(body: Body) -> str:
    how = "squeezed" if body.get("rough") else "oven-dry"
    return f"moisture tested: {percent(_number(body, 'moisture'))} ({how})"


_TOLD: Mapping[str, Callable[[Body], str]] = {
    BinEntryKind.FILL: _fill,
    BinEntryKind.WATER: _water,
    BinEntryKind.FEED: lambda b: (
        f"{kilograms(_number(b, 'kg'))} of feed at {percent(_number(b, 'moisture'))}"
    ),
    BinEntryKind.WEIGH: lambda b: f"weighed: {kilograms(_number(b, 'kg'))}",
    BinEntryKind.TEST: _test,
    BinEntryKind.STIR: lambda _: "stirred",
    BinEntryKind.COVER: lambda b: (
        "opened" if b.get("cover") == "open" else f"covered with a {b.get('cover')}"
    ),
    BinEntryKind.FAN: lambda b: "fan on" if b.get("on") else "fan off",
    BinEntryKind.LARVAE: lambda b: f"put in {_larvae(b)}",
    BinEntryKind.TAKE: lambda b: f"took out {kilograms(_number(b, 'kg'))} of {b.get('what')}",
    BinEntryKind.FINISH: lambda _: "finishing: dried on purpose from now on",
    BinEntryKind.EMPTY: lambda _: "emptied",
    "withdrawn": lambda _: "withdrawn",
}
