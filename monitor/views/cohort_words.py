"""Words for cohorts: events, stages, numbers of animals, days and windows. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import tzinfo

from monitor.model.cohort_entries import Ending, EntryKind
from monitor.model.events import Event
from monitor.notify.phrases import MONTHS, WEEKDAYS, local
from monitor.records import LogbookEntry, Stage
from monitor.views.layout import moment

EVENT_WORDS: Mapping[Event, str] = {
    Event.HATCH: "hatching",
    Event.FIRST_PREPUPAE: "first dark prepupae",
    Event.HALF_PREPUPAE: "half of them dark prepupae",
    Event.FIRST_MOTIONLESS: "first motionless pupae",
    Event.HALF_MOTIONLESS: "half of them motionless",
    Event.FIRST_EMERGED: "first flies",
    Event.HALF_EMERGED: "half of the flies out",
    Event.MOST_EMERGED: "nine in ten flies out",
    Event.FIRST_EGGS: "first eggs",
}
STAGE_WORDS: Mapping[Stage, str] = {
    Stage.EGG: "eggs",
    Stage.LARVA: "larvae",
    Stage.PREPUPA: "prepupae",
    Stage.PUPA: "pupae",
    Stage.ADULT: "flies",
}
ENDING_WORDS: Mapping[Ending, str] = {
    Ending.EMERGED: "all flies out",
    Ending.HARVESTED: "harvested",
    Ending.SOLD: "sold",
    Ending.LOST: "lost",
    Ending.MERGED: "merged into another",
}
_NEVER_MS = 8e12


def day(at_ms: float, zone: tzinfo) -> str:
    """ "Thu 1 Oct"; "later than can be said" for a time that never comes."""
    if at_ms > _NEVER_MS:
        return "no day in sight"
    at = local(round(at_ms), zone)
    return f"{WEEKDAYS[at.weekday()]} {at.day} {MONTHS[at.month - 1]}"


def window(low_ms: float, high_ms: float, zone: tzinfo) -> str:
    """ "30 Sep to 3 Oct", or one day where both ends fall on it."""
    if high_ms > _NEVER_MS:
        return f"from {_short(low_ms, zone)} on" if low_ms <= _NEVER_MS else "no day in sight"
    low, high = _short(low_ms, zone), _short(high_ms, zone)
    return low if low == high else f"{low} to {high}"


def _short(at_ms: float, zone: tzinfo) -> str:
    at = local(round(at_ms), zone)
    return f"{at.day} {MONTHS[at.month - 1]}"


def number(value: float) -> str:
    """A number of animals as a person says it: two or three figures, thousands apart."""
    rounded = round(value, max(0, 2 - len(str(int(abs(value))))) if abs(value) < 100 else _places(value))
    return f"{rounded:,.0f}".replace(",", " ")


def _places(value: float) -> int:
    """Keep two figures of large numbers."""
    return -(len(str(int(abs(value)))) - 2)


def days_words(days: float) -> str:
    """ "1 day", "2.5 days"."""
    text = f"{abs(days):.1f}".removesuffix(".0")
    return f"{text} day{'' if text == '1' else 's'}"


def entry_words(entry: LogbookEntry, places: Mapping[str, str], zone: tzinfo) -> str:
    """One entry of the logbook as a line, without its number."""
    body = {key: value for key, value in entry.body.items() if key != "note"}
    head = f"{moment(entry.at_ms, zone)}  {_entry_told(entry, body, places)}"
    note = entry.body.get("note")
    return f"{head} ({note})" if note else head


def _entry_told(entry: LogbookEntry, body: Mapping[str, object], places: Mapping[str, str]) -> str:
    template = _TOLD.get(entry.kind, entry.kind)
    stage, event, how = body.get("stage"), body.get("event"), body.get("how")
    return template.format(
        place=places.get(str(body.get("place")), str(body.get("place"))),
        amount=_amount(body),
        stage=STAGE_WORDS.get(stage, stage),  # type: ignore[call-overload]
        event=EVENT_WORDS.get(event, event),  # type: ignore[call-overload]
        how=ENDING_WORDS.get(how, how),  # type: ignore[call-overload]
        into=body.get("into"),
        other=body.get("other"),
        flies=_figure(body.get("flies")),
        grams=_figure(body.get("grams")),
    )


_TOLD: Mapping[str, str] = {
    EntryKind.START: "began as {stage} in {place}{amount}",
    EntryKind.MOVE: "moved to {place}",
    EntryKind.PLANNED_MOVE: "planned to move to {place}",
    EntryKind.SPLIT: "split, taken out as {into}{amount}",
    EntryKind.MERGE: "{other} put into it",
    EntryKind.THIN: "thinned, taken out{amount}",
    EntryKind.SAW: "seen: {event}",
    EntryKind.COUNT: "counted as {stage}{amount}",
    EntryKind.FLIES: "{flies} flies came out",
    EntryKind.EGGS: "eggs collected, {grams} g",
    EntryKind.END: "ended: {how}{amount}",
}


def _amount(body: Mapping[str, object]) -> str:
    parts = []
    if body.get("animals") is not None:
        parts.append(f"{_figure(body['animals'])} animals")
    if body.get("percent") is not None:
        parts.append(f"{_figure(body['percent'])} %")
    if body.get("grams") is not None:
        parts.append(f"{_figure(body['grams'])} g")
    return f", {', '.join(parts)}" if parts else ""


def _figure(value: object) -> str:
    return f"{value:,.10g}".replace(",", " ") if isinstance(value, int | float) else str(value)
