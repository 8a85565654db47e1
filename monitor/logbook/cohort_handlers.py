"""What each kind of entry does to the cohorts. Each handler gives the cohorts that it changed, or refuses."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import replace

from monitor.development.events import EVENTS, Event, Observation
from monitor.development.progress import (
    Cohort,
    CohortTrack,
    Ended,
    Ending,
    FlyCount,
    Origin,
    Purpose,
    Residence,
)
from monitor.errors import UsageError
from monitor.logbook.cohort_entries import (
    START_SD_DAYS,
    USUAL_ORIGIN,
    EntryKind,
    ValidationContext,
    needed_number,
    needed_word,
    number,
    shown_time,
    text,
    word,
)
from monitor.records import MS_PER_DAY, MS_PER_HOUR, LogbookEntry, Stage

MOST_ANIMALS = 1e8
MOST_GRAMS = 1e6
LONGEST_WINDOW_HOURS = 240.0
MOST_UNSURE_DAYS = 30.0
FARTHEST_MERGE_DAYS = 5.0
"""Cohorts whose lives began farther apart than this are not merged [d]. Own choice: one curve would then
hide two."""

Cohorts = Mapping[str, Cohort]
_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9_.-]{0,39}")
_STAGES = tuple(Stage)


def _start(cohorts: Cohorts, entry: LogbookEntry, ground: ValidationContext) -> Cohorts:
    _refuse_bad_name(entry.subject, cohorts, "cohort")
    stage = Stage(needed_word(entry, "stage", tuple(ground.stages)))
    place = needed_word(entry, "place", tuple(ground.places))
    origin = Origin(word(entry, "origin", tuple(Origin)) or USUAL_ORIGIN[stage])
    window_ms = (number(entry, "window_hours", 0.0, LONGEST_WINDOW_HOURS) or 0.0) * MS_PER_HOUR
    start_ms = round(entry.at_ms + window_ms / 2.0)
    count, rough = _start_count(entry, stage, ground)
    age_days, progress = _start_age(entry, stage, ground)
    track = CohortTrack(
        cohort=entry.subject,
        start_ms=start_ms,
        residences=(Residence(place, start_ms),),
        start_stage=stage,
        start_progress=progress,
        start_sd_days=_start_sd_days(entry, origin, window_ms),
        age_days=age_days,
        count=count,
        count_stage=None if count is None else stage,
    )
    made = Cohort(entry.subject, track, origin, word(entry, "feed", ground.feeds), rough_count=rough)
    return {entry.subject: _told(made, entry, ground)}


def _refuse_bad_name(name: str, cohorts: Cohorts, what: str) -> None:
    if not _NAME.fullmatch(name):
        raise UsageError(
            f"{name!r} is no name for a {what}; allowed: up to 40 letters, digits, dots, dashes, underscores"
        )
    if name in cohorts:
        raise UsageError(f"there is a cohort {name} already; choose another name")


def _told(cohort: Cohort, entry: LogbookEntry, ground: ValidationContext) -> Cohort:
    """With purpose, cage and note as the entry says them, else as they were."""
    purpose = word(entry, "purpose", tuple(Purpose))
    cage = word(entry, "cage", ground.cages)
    return replace(
        cohort,
        purpose=cohort.purpose if purpose is None else Purpose(purpose),
        cage=cage or cohort.cage,
        note=str(entry.body.get("note") or cohort.note),
    )


def _start_count(entry: LogbookEntry, stage: Stage, ground: ValidationContext) -> tuple[float | None, bool]:
    """Animals, and whether that is a guess from grams."""
    animals = number(entry, "animals", 0.0, MOST_ANIMALS, above=True, whole=True)
    grams = number(entry, "grams", 0.0, MOST_GRAMS, above=True)
    if animals is not None:
        return animals, False
    if grams is None or stage is not Stage.EGG or ground.eggs_per_gram is None:
        return None, False
    return grams * ground.eggs_per_gram, True


def _start_age(entry: LogbookEntry, stage: Stage, ground: ValidationContext) -> tuple[float, float]:
    """Days lived, and how far through its first stage; one is guessed from the other."""
    before = sum(ground.usual_days[each] for each in ground.stages[: ground.stages.index(stage)])
    lasts = ground.usual_days[stage]
    percent = number(entry, "through_percent", 0.0, 99.0)
    age_days = number(entry, "age_days", 0.0, 365.0)
    if percent is None and age_days is None:
        return before, 0.0
    if percent is None:
        return float(age_days or 0.0), min(max(((age_days or 0.0) - before) / lasts, 0.0), 0.99)
    return (before + lasts * percent / 100.0 if age_days is None else age_days), percent / 100.0


def _start_sd_days(entry: LogbookEntry, origin: Origin, window_ms: float) -> float:
    """As the keeper says, else as usual for the origin; an even window adds its own."""
    said = number(entry, "sure_days", 0.0, MOST_UNSURE_DAYS, above=True)
    if said is not None:
        return said
    window_sd_days = window_ms / MS_PER_DAY / math.sqrt(12.0)
    return math.hypot(window_sd_days, 0.1) if window_ms else START_SD_DAYS[origin]


def living(cohorts: Cohorts, name: str, at_ms: int, ground: ValidationContext) -> Cohort:
    """A cohort that lived at a moment; refused when there is none, or it had not begun, or had ended.

    Parameters
    ----------
    cohorts : mapping
        Cohorts by name.
    name : str
        Its name.
    at_ms : int
        The moment [ms since 1970 UTC].
    ground : Ground
        For the farm's clock.

    Returns
    -------
    Cohort
        The cohort.
    """
    cohort = cohorts.get(name)
    if cohort is None:
        known = ", ".join(each.name for each in cohorts.values() if each.ended is None) or "none yet"
        raise UsageError(f"there is no cohort {name} at that time; known then: {known}")
    if at_ms < cohort.track.start_ms:
        began = shown_time(cohort.track.start_ms, ground.zone)
        raise UsageError(f"{shown_time(at_ms, ground.zone)} is before its start ({began})")
    if cohort.ended is not None:
        ended = shown_time(cohort.ended.at_ms, ground.zone)
        raise UsageError(f"{name} ended on {ended} ({cohort.ended.how}); nothing can happen to it after that")
    return cohort


def _move(cohorts: Cohorts, entry: LogbookEntry, ground: ValidationContext) -> Cohorts:
    cohort = living(cohorts, entry.subject, entry.at_ms, ground)
    place = needed_word(entry, "place", tuple(ground.places))
    last = cohort.track.residences[-1]
    if place == last.place:
        name = ground.places[place]
        raise UsageError(f"it has lived in {name} since {shown_time(last.from_ms, ground.zone)} already")
    if entry.at_ms <= last.from_ms:
        raise UsageError(
            f"it came to {ground.places[last.place]} only at {shown_time(last.from_ms, ground.zone)}"
        )
    stays = (*cohort.track.residences, Residence(place, entry.at_ms))
    planned = tuple(stay for stay in cohort.planned if stay.place != place and stay.from_ms > entry.at_ms)
    moved = replace(cohort, track=replace(cohort.track, residences=stays), planned=planned)
    return {cohort.name: _told(moved, entry, ground)}


def _plan(cohorts: Cohorts, entry: LogbookEntry, ground: ValidationContext) -> Cohorts:
    ended = cohorts[entry.subject].ended if entry.subject in cohorts else None
    if ended is not None and entry.entered_ms < ended.at_ms:
        return {}  # What was planned before the end has become void, and is no mistake of anybody.
    cohort = living(cohorts, entry.subject, entry.at_ms, ground)
    place = needed_word(entry, "place", tuple(ground.places))
    planned = (*cohort.planned, Residence(place, entry.at_ms))
    return {cohort.name: _told(replace(cohort, planned=planned), entry, ground)}


def _split(cohorts: Cohorts, entry: LogbookEntry, ground: ValidationContext) -> Cohorts:
    cohort = living(cohorts, entry.subject, entry.at_ms, ground)
    name = text(entry, "into")
    _refuse_bad_name(name, cohorts, "cohort")
    share, animals = _part(cohort, entry)
    place = word(entry, "place", tuple(ground.places)) or cohort.track.residences[-1].place
    stays = cohort.track.residences
    if place != stays[-1].place:
        stays = (*stays, Residence(place, entry.at_ms))
    count = cohort.track.count
    own = animals if animals is not None else None if count is None else count * share
    stage = _stage_in(entry, "animals_stage") or cohort.track.count_stage
    track = replace(
        cohort.track, cohort=name, residences=stays, count=own, count_stage=stage if own else None
    )
    child = replace(
        cohort,
        name=name,
        track=track,
        parent=cohort.name,
        planned=(),
        inherited=len(cohort.seen),
        rough_count=cohort.rough_count or animals is None,
        flies=(),
        eggs_grams=(),
        purpose=None,
        cage=None,
        note="",
    )
    left = None if count is None else count * (1.0 - share)
    rest = replace(cohort, track=replace(cohort.track, count=left))
    return {cohort.name: rest, name: _told(child, entry, ground)}


def _part(cohort: Cohort, entry: LogbookEntry) -> tuple[float, float | None]:
    """Share of a cohort that an entry speaks of, and the number of animals where that was said."""
    percent = number(entry, "percent", 0.0, 100.0, above=True)
    animals = number(entry, "animals", 0.0, MOST_ANIMALS, above=True, whole=True)
    if (percent is None) == (animals is None):
        raise UsageError("say how many: a number of animals or a share in percent, one of the two")
    if percent is not None:
        if percent >= 100.0:
            raise UsageError("percent is 100; allowed: above 0 and below 100. To take all, move the cohort")
        return percent / 100.0, None
    count, wanted = cohort.track.count, animals or 0.0
    if count is not None and wanted >= count:
        raise UsageError(
            f"it has about {count:.0f} animals and {wanted:.0f} of them cannot be taken; say a share"
        )
    return (0.0 if count is None else wanted / count), wanted


def _stage_in(entry: LogbookEntry, key: str) -> Stage | None:
    found = word(entry, key, _STAGES)
    return None if found is None else Stage(found)


def _merge(cohorts: Cohorts, entry: LogbookEntry, ground: ValidationContext) -> Cohorts:
    into = living(cohorts, entry.subject, entry.at_ms, ground)
    other = living(cohorts, text(entry, "other"), entry.at_ms, ground)
    if other.name == into.name:
        raise UsageError("a cohort cannot be merged with itself")
    apart_days = (other.track.origin_ms - into.track.origin_ms) / MS_PER_DAY
    if abs(apart_days) > FARTHEST_MERGE_DAYS:
        raise UsageError(
            f"their lives began {abs(apart_days):.0f} days apart, so their flies come out days apart; "
            f"allowed: up to {FARTHEST_MERGE_DAYS:.0f} days. Keep both: two cohorts may live in one place"
        )
    ended = Ended(entry.at_ms, Ending.MERGED)
    merged = replace(into, track=_joined(into.track, other.track), merged=(*into.merged, other.name))
    return {into.name: _told(merged, entry, ground), other.name: replace(other, ended=ended)}


def _joined(one: CohortTrack, other: CohortTrack) -> CohortTrack:
    """The track of the first, as unsure as a mixture of the two ages is; counts add up where they can."""
    alike = one.count is not None and other.count is not None and one.count_stage is other.count_stage
    total = (one.count or 0.0) + (other.count or 0.0)
    weight = (other.count or 0.0) / total if alike and total else 0.5
    apart_days = (other.origin_ms - one.origin_ms) / MS_PER_DAY
    sd_days = math.hypot(one.start_sd_days, weight * apart_days)
    count = total if alike else None
    return replace(one, start_sd_days=sd_days, count=count, count_stage=one.count_stage if alike else None)


def _thin(cohorts: Cohorts, entry: LogbookEntry, ground: ValidationContext) -> Cohorts:
    cohort = living(cohorts, entry.subject, entry.at_ms, ground)
    share, animals = _part(cohort, entry)
    count = cohort.track.count
    if animals is not None and count is None:
        raise UsageError("its number is not known, so say which share was taken out, in percent")
    if count is None:
        return {cohort.name: cohort}
    return {cohort.name: replace(cohort, track=replace(cohort.track, count=count * (1.0 - share)))}


def _saw(cohorts: Cohorts, entry: LogbookEntry, ground: ValidationContext) -> Cohorts:
    cohort = living(cohorts, entry.subject, entry.at_ms, ground)
    event = Event(needed_word(entry, "event", tuple(ground.events)))
    sd_days = number(entry, "sure_days", 0.0, MOST_UNSURE_DAYS, above=True) or 0.5
    _refuse_impossible(cohort, event, entry.at_ms, ground)
    seen = (*cohort.seen, Observation(event, entry.at_ms, sd_days))
    return {cohort.name: replace(cohort, seen=seen)}


def _refuse_impossible(cohort: Cohort, event: Event, at_ms: int, ground: ValidationContext) -> None:
    words, begins = event.replace("_", " "), EVENTS[event].begins
    if begins is not None and ground.stages.index(begins) <= ground.stages.index(cohort.track.start_stage):
        raise UsageError(f"it began as {cohort.track.start_stage}, so {words} cannot be seen of it")
    for other in cohort.seen:
        when = shown_time(other.at_ms, ground.zone)
        if other.event is event:
            raise UsageError(f"{words} was entered already, for {when}; `cohort correct` changes that entry")
        same_kind = EVENTS[other.event].share == EVENTS[event].share
        if same_kind and list(Event).index(other.event) > list(Event).index(event):
            raise UsageError(
                f"{words} on {shown_time(at_ms, ground.zone)} cannot come after "
                f"{other.event.replace('_', ' ')}, which was seen on {when}"
            )


def _count(cohorts: Cohorts, entry: LogbookEntry, ground: ValidationContext) -> Cohorts:
    cohort = living(cohorts, entry.subject, entry.at_ms, ground)
    animals = needed_number(entry, "animals", 0.0, MOST_ANIMALS)
    stage = Stage(needed_word(entry, "stage", tuple(ground.stages)))
    if ground.stages.index(stage) < ground.stages.index(cohort.track.start_stage):
        raise UsageError(f"it began as {cohort.track.start_stage}; {stage} cannot be counted in it")
    track = replace(cohort.track, count=animals, count_stage=stage)
    return {cohort.name: replace(cohort, track=track, rough_count=bool(entry.body.get("rough")))}


def _flies(cohorts: Cohorts, entry: LogbookEntry, ground: ValidationContext) -> Cohorts:
    cohort = living(cohorts, entry.subject, entry.at_ms, ground)
    flies = needed_number(entry, "flies", 0.0, MOST_ANIMALS)
    if any(other.at_ms // MS_PER_HOUR == entry.at_ms // MS_PER_HOUR for other in cohort.flies):
        when = shown_time(entry.at_ms, ground.zone)
        raise UsageError(f"flies were entered for {when} already; `cohort correct` changes that entry")
    return {cohort.name: replace(cohort, flies=(*cohort.flies, FlyCount(entry.at_ms, flies)))}


def _eggs(cohorts: Cohorts, entry: LogbookEntry, ground: ValidationContext) -> Cohorts:
    cohort = living(cohorts, entry.subject, entry.at_ms, ground)
    grams = needed_number(entry, "grams", 0.0, MOST_GRAMS, above=True)
    return {cohort.name: replace(cohort, eggs_grams=(*cohort.eggs_grams, (entry.at_ms, grams)))}


def _end(cohorts: Cohorts, entry: LogbookEntry, ground: ValidationContext) -> Cohorts:
    cohort = living(cohorts, entry.subject, entry.at_ms, ground)
    allowed = tuple(how for how in Ending if how is not Ending.MERGED)
    how = Ending(needed_word(entry, "how", allowed))
    grams = number(entry, "grams", 0.0, MOST_GRAMS, above=True)
    animals = number(entry, "animals", 0.0, MOST_ANIMALS, above=True, whole=True)
    return {cohort.name: replace(cohort, ended=Ended(entry.at_ms, how, grams, animals))}


HANDLERS: Mapping[EntryKind, Callable[[Cohorts, LogbookEntry, ValidationContext], Cohorts]] = {
    EntryKind.START: _start,
    EntryKind.MOVE: _move,
    EntryKind.PLANNED_MOVE: _plan,
    EntryKind.SPLIT: _split,
    EntryKind.MERGE: _merge,
    EntryKind.THIN: _thin,
    EntryKind.SAW: _saw,
    EntryKind.COUNT: _count,
    EntryKind.FLIES: _flies,
    EntryKind.EGGS: _eggs,
    EntryKind.END: _end,
}
