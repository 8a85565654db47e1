"""One entry of the logbook in the words of the page. What a person typed stays as it is."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping

from monitor.records import LogbookEntry
from monitor.settings.plan import Plan
from monitor.views.page.ahead_words import grams, grouped, kilograms, litres, percent, plain
from monitor.views.page.words import Words

Body = Mapping[str, object]


def entry_said(entry: LogbookEntry, words: Words, plan: Plan) -> str:
    """What the entry says, without its time, its note and who wrote it."""
    key = f"told.{entry.kind}"
    if not words.has(key):
        return entry.kind
    values = {name: _value(name, value, words, plan) for name, value in entry.body.items()}
    known: dict[str, object] = {name: values.get(name, words.t("value.none")) for name in _NAMES}
    known["number"] = entry.corrects
    if entry.kind == "water":
        known["kg"] = litres(words, _number(entry.body.get("kg")))
    head = words.t(_variant(key, entry.body, words), **known)
    more = [words.t(f"told.with_{name}", **{name: values[name]}) for name in _more(entry, values)]
    return words.listing([head, *more])


def _variant(key: str, body: Body, words: Words) -> str:
    """Some kinds are told in two ways: a fan on or off, a test by hand."""
    for name, wanted, ending in (("on", True, "on"), ("rough", True, "rough"), ("cover", "open", "open")):
        if body.get(name) == wanted and words.has(f"{key}_{ending}"):
            return f"{key}_{ending}"
    return key


_NAMES = (
    *("kg", "moisture", "place", "stage", "event", "how", "into", "other", "flies", "grams", "animals"),
    *("percent", "cover", "what", "larvae"),
)
_MORE: Mapping[str, tuple[str, ...]] = {
    "start": ("animals", "grams", "age_days", "purpose", "cage"),
    "move": ("purpose", "cage"),
    "planned_move": ("purpose", "cage"),
    "split": ("animals", "percent", "purpose", "cage"),
    "thin": ("animals", "percent"),
    "end": ("grams", "animals"),
    "fill": ("larvae", "age_days"),
    "larvae": ("age_days",),
    "water": ("back_to_kg",),
    "saw": ("sure_days",),
}


def _more(entry: LogbookEntry, values: Mapping[str, str]) -> list[str]:
    return [name for name in _MORE.get(entry.kind, ()) if name in values]


def _number(value: object) -> float:
    return float(value) if isinstance(value, int | float) else math.nan


def _figure(words: Words, value: object) -> str:
    number = _number(value)
    if not math.isfinite(number):
        return str(value)
    return grouped(words, number) if number == round(number) else plain(words, number)


def _value(name: str, value: object, words: Words, plan: Plan) -> str:
    shown = _SHOWN.get(name)
    if shown is not None:
        return shown(words, value) if math.isfinite(_number(value)) else str(value)
    if name in ("place", "cage"):
        return plan.title(str(value)) if str(value) in plan.places else str(value)
    group = _GROUPS.get(name)
    if group is not None and words.has(f"{group}.{value}"):
        return words.t(f"{group}.{value}")
    return str(value)


_SHOWN: Mapping[str, Callable[[Words, object], str]] = {
    "kg": lambda words, value: kilograms(words, _number(value)),
    "back_to_kg": lambda words, value: kilograms(words, _number(value)),
    "grams": lambda words, value: grams(words, _number(value)),
    "moisture": lambda words, value: percent(words, _number(value)),
    "animals": _figure,
    "flies": _figure,
    "larvae": _figure,
    "percent": _figure,
    "age_days": _figure,
    "sure_days": _figure,
}
_GROUPS: Mapping[str, str] = {
    "stage": "stage",
    "event": "seen",
    "how": "ending",
    "purpose": "purpose",
    "cover": "cover",
    "what": "taken",
}
