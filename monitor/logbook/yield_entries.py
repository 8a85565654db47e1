"""What an entry of the logbook says about a cage: eggs collected, dead flies swept out; and free notes.

Keys of a body: of eggs `grams`, `strips`, `clutches`, `use` (sold, or set to hatch), `tray`, and `cohort`
with `begins`: eggs that are set to hatch begin a cohort in the tray, or are added to one that began the same
day; of dead flies `animals` or `grams`; `note`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from enum import StrEnum

from monitor.development.progress import Cohort
from monitor.errors import UsageError, sentence
from monitor.logbook.cohort_entries import (
    HANDLERS,
    MOST_ANIMALS,
    MOST_GRAMS,
    CohortEntryKind,
    Cohorts,
    CohortValidationContext,
    joined,
    living,
    new_name,
    refuse_far_apart,
)
from monitor.logbook.entry import cohort_name, flag, missing, needed_number, number, word
from monitor.records import LogbookEntry, Stage, SubjectKind, local
from monitor.yields.records import EggUse

MOST_STRIPS = 10_000
EGG_AGE_DAYS, EGG_AGE_SD_DAYS = 0.5, 0.3
"""Age of eggs when they are collected, and how sure that is [d]: they were laid within a day, since strips
are changed daily. Own choice."""


class YieldEntryKind(StrEnum):
    """Kinds of entries about what a cage gives, and the free note about any place."""

    COLLECT = "collect"
    DEAD = "dead"
    NOTE = "note"


CAGE_KINDS = frozenset({YieldEntryKind.COLLECT, YieldEntryKind.DEAD})


def is_about_a_cage(entry: LogbookEntry) -> bool:
    """Whether an entry is about the animals of a cage."""
    return entry.subject_kind is SubjectKind.PLACE and entry.kind in CAGE_KINDS


def is_set_to_hatch(entry: LogbookEntry) -> bool:
    """Whether an entry sets eggs to hatch as those of a cohort. The first of them begins it, whatever was
    written first: one that was put right or withdrawn takes no other eggs with it.
    """
    return is_about_a_cage(entry) and entry.kind == YieldEntryKind.COLLECT and bool(entry.body.get("cohort"))


def caged(cohorts: Cohorts, entry: LogbookEntry, context: CohortValidationContext) -> Mapping[str, Cohort]:
    """The cohorts that an entry about a cage changes; UsageError where it cannot be."""
    if entry.subject not in context.cages:
        raise UsageError(
            "{place} is no love cage; allowed: {allowed}",
            place=entry.subject,
            allowed=", ".join(context.cages) or sentence("none yet"),
        )
    return _HANDLERS[YieldEntryKind(entry.kind)](cohorts, entry, context)


def _collected(cohorts: Cohorts, entry: LogbookEntry, context: CohortValidationContext) -> Cohorts:
    needed_number(entry, "grams", 0.0, MOST_GRAMS, above=True)
    number(entry, "strips", 0.0, MOST_STRIPS, above=True, whole=True)
    number(entry, "clutches", 0.0, MOST_ANIMALS, above=True, whole=True)
    word(entry, "use", tuple(EggUse))
    word(entry, "tray", tuple(context.places))
    if not is_set_to_hatch(entry):
        return {}
    name = cohort_name(entry, "cohort")
    if name not in cohorts:
        return HANDLERS[CohortEntryKind.START](cohorts, _as_start(entry, name), context)
    cohort = living(cohorts, entry, name, context)
    if cohort.track.start_stage is not Stage.EGG:
        raise UsageError(
            "{cohort} began as {stage}, so no eggs are added to it",
            cohort=name,
            stage=cohort.track.start_stage,
        )
    more = HANDLERS[CohortEntryKind.START]({}, _as_start(entry, name), context)[name]
    refuse_far_apart(cohort, more)
    return {name: replace(cohort, track=joined(cohort.track, more.track), rough_count=True)}


def _as_start(entry: LogbookEntry, name: str) -> LogbookEntry:
    """The entry that would begin a cohort with the eggs."""
    body = {
        "stage": Stage.EGG.value,
        "place": entry.body.get("tray"),
        "grams": entry.body.get("grams"),
        "age_days": EGG_AGE_DAYS,
        "sure_days": EGG_AGE_SD_DAYS,
        "note": entry.body.get("note") or "",
    }
    return replace(
        entry, subject_kind=SubjectKind.COHORT, subject=name, kind=CohortEntryKind.START, body=body
    )


def _dead(_cohorts: Cohorts, entry: LogbookEntry, _context: CohortValidationContext) -> Cohorts:
    animals = number(entry, "animals", 0.0, MOST_ANIMALS, above=True, whole=True)
    grams = number(entry, "grams", 0.0, MOST_GRAMS, above=True)
    if animals is None and grams is None:
        raise missing("animals", sentence("their number, or their weight in grams"))
    return {}


_HANDLERS: Mapping[YieldEntryKind, Callable[[Cohorts, LogbookEntry, CohortValidationContext], Cohorts]] = {
    YieldEntryKind.COLLECT: _collected,
    YieldEntryKind.DEAD: _dead,
}


def check_note(entry: LogbookEntry, known: Iterable[str]) -> None:
    """Refuse a note without text, or about a place that there is not; `known` are those of the farm."""
    known = tuple(known)
    if entry.subject not in known:
        raise UsageError(
            "{name} is not in the settings; known: {known}", name=repr(entry.subject), known=", ".join(known)
        )
    if not entry.body.get("note"):
        raise missing("note", sentence("any text"))


def with_eggs_linked(
    entry: LogbookEntry, old: LogbookEntry | None, cohorts: Cohorts, context: CohortValidationContext
) -> LogbookEntry:
    """Collected eggs with the cohort in which they hatch, where a tray was said.

    They begin one of their own, named by tray and date, unless eggs of the same day lie in the tray already
    or a cohort was named. `old` is the entry that it corrects, `cohorts` those without it.
    """
    tray, use = entry.body.get("tray"), entry.body.get("use")
    named = entry.body.get("cohort")
    plain = {key: value for key, value in entry.body.items() if key not in ("cohort", "begins")}
    if old is not None and named == old.body.get("cohort") and tray != old.body.get("tray"):
        named = named if tray and flag(entry, "begins") else None
        use = use if tray or use != old.body.get("use") else None
    if not tray and named and named in cohorts:
        tray = cohorts[str(named)].place_at(entry.at_ms)
    if use == EggUse.SOLD or not tray:
        if named and use != EggUse.SOLD:
            raise UsageError("say in which tray they hatch: {trays}", trays=", ".join(context.places))
        without = {key: value for key, value in plain.items() if key not in ("tray", "use")}
        return replace(entry, body=without | ({"use": use} if use else {}))
    name = named or _same_day(entry, str(tray), cohorts, context)
    more: dict[str, object] = {"use": EggUse.HATCH.value, "tray": tray}
    more["cohort"] = name or new_name(str(tray), entry.at_ms, cohorts, context)
    more["begins"] = more["cohort"] not in cohorts
    return replace(entry, body={**plain, **more})


def _same_day(
    entry: LogbookEntry, tray: str, cohorts: Cohorts, context: CohortValidationContext
) -> str | None:
    """The cohort of eggs that was set to hatch in a tray on the same day, before it or with it."""
    today = local(entry.at_ms, context.zone).date()
    alike = [
        cohort.name
        for cohort in cohorts.values()
        if cohort.track.start_stage is Stage.EGG
        and cohort.track.start_ms <= entry.at_ms
        and local(cohort.track.start_ms, context.zone).date() == today
        and (cohort.ended is None or cohort.ended.at_ms > entry.at_ms)
        and not cohort.seen
        and cohort.place_at(entry.at_ms) == tray
    ]
    return alike[-1] if alike else None
