"""What an entry of the logbook says about a cohort: its kinds, and what each kind does to the cohorts.

Each handler takes the cohorts as they were and gives the ones that it changed, or refuses the entry.
"""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from datetime import tzinfo
from enum import StrEnum

import numpy as np

from monitor.development.events import EVENTS, Event, Observation, events_of
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
from monitor.development.rates import SpeciesLimits, SpeciesParameters, units_per_day
from monitor.errors import UsageError, sentence
from monitor.logbook.entry import (
    cohort_name,
    missing,
    needed_number,
    needed_word,
    number,
    shown_time,
    word,
)
from monitor.records import MS_PER_DAY, MS_PER_HOUR, LogbookEntry, Stage, local
from monitor.yields.records import LarvaeUse

USUAL_TEMPERATURE_C = 27.0
"""Temperature at which the age of bought animals is guessed [°C]. Own choice."""
TEMPERATURES_C = np.arange(15.0, 40.5, 0.5)
"""Among which the best one for a stage is looked for [°C]. Own choice."""
USUAL_ORIGIN: Mapping[Stage, Origin] = {
    Stage.EGG: Origin.LAID,
    Stage.LARVA: Origin.HATCHED,
    Stage.PREPUPA: Origin.CAUGHT,
    Stage.PUPA: Origin.FOUND,
    Stage.ADULT: Origin.FOUND,
}
START_SD_DAYS: Mapping[Origin, float] = {
    Origin.LAID: 0.25,
    Origin.HATCHED: 0.5,
    Origin.BOUGHT: 2.0,
    Origin.CAUGHT: 1.5,
    Origin.FOUND: 2.0,
}
"""How sure the start is, unless the keeper says it: one standard deviation [d]. Own choice."""
MOST_ANIMALS = 1e8
MOST_GRAMS = 1e6
MOST_MEAN_MG = 1000.0
_NAME_ROOM = 27
"""Letters of a place that fit into the name of a cohort beside a date and a number."""
LONGEST_WINDOW_HOURS = 240.0
MOST_UNSURE_DAYS = 30.0
FARTHEST_MERGE_DAYS = 5.0
"""Cohorts whose lives began farther apart than this are not merged [d]. Own choice: one curve would then
hide two."""

_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9_.-]{0,39}")
_STAGES = tuple(Stage)

Cohorts = Mapping[str, Cohort]


class CohortEntryKind(StrEnum):
    """Kinds of entries about a cohort."""

    START = "start"
    MOVE = "move"
    PLANNED_MOVE = "planned_move"
    SPLIT = "split"
    MERGE = "merge"
    THIN = "thin"
    SAW = "saw"
    COUNT = "count"
    FLIES = "flies"
    EGGS = "eggs"
    PURPOSE = "purpose"
    END = "end"
    NOTE = "note"


@dataclass(frozen=True)
class CohortValidationContext:
    """What entries are checked against: the farm's places, its clock, and the species.

    `places` are names for people by id; `cages` those of them in which flies live; `usual_days` how long each
    stage lasts in a usual room, `fastest_days` at the best temperature [d]; `limits` what is believable.
    """

    places: Mapping[str, str]
    cages: tuple[str, ...]
    zone: tzinfo
    stages: tuple[Stage, ...]
    events: tuple[Event, ...]
    feeds: tuple[str, ...]
    usual_days: Mapping[Stage, float]
    eggs_per_gram: float | None
    fastest_days: Mapping[Stage, float] = field(default_factory=dict)
    limits: SpeciesLimits = field(default_factory=SpeciesLimits)


def validation_context_of(
    places: Mapping[str, str],
    cages: tuple[str, ...],
    zone: tzinfo,
    species: SpeciesParameters,
    feeds: tuple[str, ...],
) -> CohortValidationContext:
    """What the entries of one farm are checked against; `feeds` are those that the species has numbers for.

    Source
    ------
    Linear degree-day model: the usual length of each stage [d] is that at 27 °C, the fastest that at its best
    temperature.
    """
    usual = {
        stage.stage: stage.thermal_constant / float(units_per_day(USUAL_TEMPERATURE_C, stage.law))
        for stage in species.stages
    }
    stages = tuple(stage.stage for stage in species.stages)
    fastest = {
        stage.stage: stage.thermal_constant / float(np.max(units_per_day(TEMPERATURES_C, stage.law)))
        for stage in species.stages
    }
    return CohortValidationContext(
        places,
        cages,
        zone,
        stages,
        events_of(species),
        feeds,
        usual,
        species.adult.eggs_per_gram,
        fastest,
        species.limits,
    )


def _start(cohorts: Cohorts, entry: LogbookEntry, context: CohortValidationContext) -> Cohorts:
    _refuse_bad_name(entry.subject, cohorts)
    stage = Stage(needed_word(entry, "stage", tuple(context.stages)))
    place = needed_word(entry, "place", tuple(context.places))
    origin = Origin(word(entry, "origin", tuple(Origin)) or USUAL_ORIGIN[stage])
    window_ms = (number(entry, "window_hours", 0.0, LONGEST_WINDOW_HOURS) or 0.0) * MS_PER_HOUR
    start_ms = round(entry.at_ms + window_ms / 2.0)
    count, rough = _start_count(entry, stage, context)
    age_days, progress = _start_age(entry, stage, context)
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
    cohort = Cohort(entry.subject, track, origin, word(entry, "feed", context.feeds), rough_count=rough)
    return {entry.subject: _with_purpose(cohort, entry, context)}


def _refuse_bad_name(name: str, cohorts: Cohorts) -> None:
    if not _NAME.fullmatch(name):
        raise UsageError(
            "{name} is no name for a cohort; allowed: up to 40 letters, digits, dots, dashes, underscores",
            name=repr(name),
        )
    if name in cohorts:
        raise UsageError("there is a cohort {name} already; choose another name", name=name)


def _with_purpose(cohort: Cohort, entry: LogbookEntry, context: CohortValidationContext) -> Cohort:
    """With purpose, cage and note as the entry says them, else as they were."""
    purpose = word(entry, "purpose", tuple(Purpose))
    cage = word(entry, "cage", context.cages)
    return replace(
        cohort,
        purpose=cohort.purpose if purpose is None else Purpose(purpose),
        cage=cage or cohort.cage,
        note=str(entry.body.get("note") or cohort.note),
    )


def _start_count(
    entry: LogbookEntry, stage: Stage, context: CohortValidationContext
) -> tuple[float | None, bool]:
    """Animals, and whether that is a guess from grams."""
    animals = number(entry, "animals", 0.0, MOST_ANIMALS, above=True, whole=True)
    grams = number(entry, "grams", 0.0, MOST_GRAMS, above=True)
    if animals is not None:
        return animals, False
    if grams is None or stage is not Stage.EGG or context.eggs_per_gram is None:
        return None, False
    return grams * context.eggs_per_gram, True


def _start_age(entry: LogbookEntry, stage: Stage, context: CohortValidationContext) -> tuple[float, float]:
    """Days lived, and how far through its first stage; one is guessed from the other."""
    before = sum(context.usual_days[earlier] for earlier in context.stages[: context.stages.index(stage)])
    lasts = context.usual_days[stage]
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


def living(cohorts: Cohorts, entry: LogbookEntry, name: str, context: CohortValidationContext) -> Cohort:
    """A cohort that lived at the time of an entry; UsageError where there is none, or it had ended."""
    cohort = cohorts.get(name)
    if cohort is None:
        known = ", ".join(other.name for other in cohorts.values() if other.ended is None)
        raise UsageError(
            "there is no cohort {name} at that time; known then: {known}",
            name=name,
            known=known or sentence("none yet"),
        )
    refuse_before_start(entry, cohort.track.start_ms, context.zone)
    if cohort.ended is not None:
        raise UsageError(
            "{name} ended on {time} ({how}); nothing can happen to it after that",
            name=name,
            time=shown_time(cohort.ended.at_ms, context.zone),
            how=cohort.ended.how,
        )
    return cohort


def refuse_before_start(entry: LogbookEntry, start_ms: int, zone: tzinfo) -> None:
    """Refuse an entry about a time before its cohort began [ms since 1970 UTC]."""
    if entry.at_ms < start_ms:
        raise UsageError(
            "{time} is before its start ({start})",
            time=shown_time(entry.at_ms, zone),
            start=shown_time(start_ms, zone),
        )


def _move(cohorts: Cohorts, entry: LogbookEntry, context: CohortValidationContext) -> Cohorts:
    cohort = living(cohorts, entry, entry.subject, context)
    place = needed_word(entry, "place", tuple(context.places))
    last = cohort.track.residences[-1]
    since = shown_time(last.from_ms, context.zone)
    if place == last.place:
        raise UsageError(
            "it has lived in {place} since {time} already", place=context.places[place], time=since
        )
    if entry.at_ms <= last.from_ms:
        raise UsageError("it came to {place} only at {time}", place=context.places[last.place], time=since)
    stays = (*cohort.track.residences, Residence(place, entry.at_ms))
    planned = tuple(stay for stay in cohort.planned if stay.place != place and stay.from_ms > entry.at_ms)
    moved = replace(cohort, track=replace(cohort.track, residences=stays), planned=planned)
    return {cohort.name: _with_purpose(moved, entry, context)}


def _plan(cohorts: Cohorts, entry: LogbookEntry, context: CohortValidationContext) -> Cohorts:
    ended = cohorts[entry.subject].ended if entry.subject in cohorts else None
    if ended is not None and entry.entered_ms < ended.at_ms:
        return {}  # What was planned before the end has become void, and is no mistake of anybody.
    cohort = living(cohorts, entry, entry.subject, context)
    place = needed_word(entry, "place", tuple(context.places))
    planned = (*cohort.planned, Residence(place, entry.at_ms))
    return {cohort.name: _with_purpose(replace(cohort, planned=planned), entry, context)}


def _split(cohorts: Cohorts, entry: LogbookEntry, context: CohortValidationContext) -> Cohorts:
    cohort = living(cohorts, entry, entry.subject, context)
    name = cohort_name(entry, "into")
    _refuse_bad_name(name, cohorts)
    share, animals = _part(cohort, entry)
    place = word(entry, "place", tuple(context.places)) or cohort.track.residences[-1].place
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
    return {cohort.name: rest, name: _with_purpose(child, entry, context)}


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
    count, taken = cohort.track.count, animals or 0.0
    if count is not None and taken >= count:
        raise UsageError(
            "it has about {count} animals and {taken} of them cannot be taken; say a share",
            count=f"{count:.0f}",
            taken=f"{taken:.0f}",
        )
    return (0.0 if count is None else taken / count), taken


def _stage_in(entry: LogbookEntry, key: str) -> Stage | None:
    stage = word(entry, key, _STAGES)
    return None if stage is None else Stage(stage)


def _merge(cohorts: Cohorts, entry: LogbookEntry, context: CohortValidationContext) -> Cohorts:
    into = living(cohorts, entry, entry.subject, context)
    other = living(cohorts, entry, cohort_name(entry, "other"), context)
    if other.name == into.name:
        raise UsageError("a cohort cannot be merged with itself")
    refuse_far_apart(into, other)
    ended = Ended(entry.at_ms, Ending.MERGED)
    merged = replace(into, track=joined(into.track, other.track), merged=(*into.merged, other.name))
    return {into.name: _with_purpose(merged, entry, context), other.name: replace(other, ended=ended)}


def refuse_far_apart(into: Cohort, other: Cohort) -> None:
    """Refuse to put two cohorts together whose lives began days apart."""
    apart_days = (other.track.origin_ms - into.track.origin_ms) / MS_PER_DAY
    if round(abs(apart_days), 3) > FARTHEST_MERGE_DAYS:
        raise UsageError(
            "their lives began {days} days apart, so their flies come out days apart; "
            "allowed: up to {most} days. Keep both: two cohorts may live in one place",
            days=f"{abs(apart_days):.0f}",
            most=f"{FARTHEST_MERGE_DAYS:.0f}",
        )


def joined(track: CohortTrack, other: CohortTrack) -> CohortTrack:
    """The track of the first, as unsure as a mixture of the two ages is; counts add up where they can."""
    alike = track.count is not None and other.count is not None and track.count_stage is other.count_stage
    total = (track.count or 0.0) + (other.count or 0.0)
    weight = (other.count or 0.0) / total if alike and total else 0.5
    apart_days = (other.origin_ms - track.origin_ms) / MS_PER_DAY
    sd_days = math.hypot(track.start_sd_days, weight * apart_days)
    count, stage = (total, track.count_stage) if alike else (None, None)
    return replace(track, start_sd_days=sd_days, count=count, count_stage=stage)


def _thin(cohorts: Cohorts, entry: LogbookEntry, context: CohortValidationContext) -> Cohorts:
    cohort = living(cohorts, entry, entry.subject, context)
    share, animals = _part(cohort, entry)
    count = cohort.track.count
    if animals is not None and count is None:
        raise UsageError("its number is not known, so say which share was taken out, in percent")
    if count is None:
        return {cohort.name: cohort}
    return {cohort.name: replace(cohort, track=replace(cohort.track, count=count * (1.0 - share)))}


def _saw(cohorts: Cohorts, entry: LogbookEntry, context: CohortValidationContext) -> Cohorts:
    cohort = living(cohorts, entry, entry.subject, context)
    event = Event(needed_word(entry, "event", tuple(context.events)))
    sd_days = number(entry, "sure_days", 0.0, MOST_UNSURE_DAYS, above=True) or 0.5
    if _is_hatch_counted(entry, event) and any(other.event is event for other in cohort.seen):
        return {cohort.name: cohort}  # When it hatched is known; now it was counted.
    _refuse_impossible(cohort, event, entry.at_ms, context)
    seen = (*cohort.seen, Observation(event, entry.at_ms, sd_days))
    return {cohort.name: replace(cohort, seen=seen)}


def _is_hatch_counted(entry: LogbookEntry, event: Event) -> bool:
    """Whether it says how much hatched; UsageError where that is said of something else."""
    percent = number(entry, "percent", 0.0, 100.0)
    grams = number(entry, "young_grams", 0.0, MOST_GRAMS, above=True)
    if percent is None and grams is None:
        return False
    if event is not Event.HATCH:
        raise UsageError("a share or a weight is said of `hatch` alone, not of {event}", event=event)
    return True


def _refuse_impossible(cohort: Cohort, event: Event, at_ms: int, context: CohortValidationContext) -> None:
    begins = EVENTS[event].begins
    if begins is not None and context.stages.index(begins) <= context.stages.index(cohort.track.start_stage):
        raise UsageError(
            "it began as {stage}, so {event} cannot be seen of it",
            stage=cohort.track.start_stage,
            event=event,
        )
    for other in cohort.seen:
        when = shown_time(other.at_ms, context.zone)
        if other.event is event:
            raise UsageError(
                "{event} was entered already, for {time}; `cohort correct` changes that entry",
                event=event,
                time=when,
            )
        same_kind = EVENTS[other.event].share == EVENTS[event].share
        if same_kind and list(Event).index(other.event) > list(Event).index(event):
            raise UsageError(
                "{event} on {time} cannot come after {other}, which was seen on {other_time}",
                event=event,
                time=shown_time(at_ms, context.zone),
                other=other.event,
                other_time=when,
            )


def _count(cohorts: Cohorts, entry: LogbookEntry, context: CohortValidationContext) -> Cohorts:
    cohort = living(cohorts, entry, entry.subject, context)
    animals = needed_number(entry, "animals", 0.0, MOST_ANIMALS)
    stage = Stage(needed_word(entry, "stage", tuple(context.stages)))
    if context.stages.index(stage) < context.stages.index(cohort.track.start_stage):
        raise UsageError(
            "it began as {start}; {stage} cannot be counted in it",
            start=cohort.track.start_stage,
            stage=stage,
        )
    track = replace(cohort.track, count=animals, count_stage=stage)
    return {cohort.name: replace(cohort, track=track, rough_count=bool(entry.body.get("rough")))}


def _flies(cohorts: Cohorts, entry: LogbookEntry, context: CohortValidationContext) -> Cohorts:
    cohort = living(cohorts, entry, entry.subject, context)
    flies = needed_number(entry, "flies", 0.0, MOST_ANIMALS)
    number(entry, "female_percent", 0.0, 100.0)
    if any(other.at_ms // MS_PER_HOUR == entry.at_ms // MS_PER_HOUR for other in cohort.flies):
        raise UsageError(
            "flies were entered for {time} already; `cohort correct` changes that entry",
            time=shown_time(entry.at_ms, context.zone),
        )
    return {cohort.name: replace(cohort, flies=(*cohort.flies, FlyCount(entry.at_ms, flies)))}


def _eggs(cohorts: Cohorts, entry: LogbookEntry, context: CohortValidationContext) -> Cohorts:
    cohort = living(cohorts, entry, entry.subject, context)
    grams = needed_number(entry, "grams", 0.0, MOST_GRAMS, above=True)
    return {cohort.name: replace(cohort, eggs_grams=(*cohort.eggs_grams, (entry.at_ms, grams)))}


def _purpose(cohorts: Cohorts, entry: LogbookEntry, context: CohortValidationContext) -> Cohorts:
    cohort = living(cohorts, entry, entry.subject, context)
    needed_word(entry, "purpose", tuple(Purpose))
    return {cohort.name: _with_purpose(cohort, entry, context)}


def _end(cohorts: Cohorts, entry: LogbookEntry, context: CohortValidationContext) -> Cohorts:
    cohort = living(cohorts, entry, entry.subject, context)
    allowed = tuple(how for how in Ending if how is not Ending.MERGED)
    how = Ending(needed_word(entry, "how", allowed))
    grams = number(entry, "grams", 0.0, MOST_GRAMS, above=True)
    animals = number(entry, "animals", 0.0, MOST_ANIMALS, above=True, whole=True)
    checked_harvest(entry)
    return {cohort.name: replace(cohort, ended=Ended(entry.at_ms, how, grams, animals))}


def checked_harvest(entry: LogbookEntry) -> None:
    """Refuse what cannot be of larvae that were taken out: their use, the mean mass of one of a sample."""
    word(entry, "use", tuple(LarvaeUse))
    number(entry, "mean_mg", 0.0, MOST_MEAN_MG, above=True)


def _note(cohorts: Cohorts, entry: LogbookEntry, context: CohortValidationContext) -> Cohorts:
    """A note changes nothing, and may come after the end."""
    cohort = cohorts.get(entry.subject)
    if cohort is None:
        living(cohorts, entry, entry.subject, context)
    if not entry.body.get("note"):
        raise missing("note", sentence("any text"))
    return {}


def new_name(place: str, at_ms: int, cohorts: Cohorts, context: CohortValidationContext) -> str:
    """A free name for a cohort that begins in a place, by place and date."""
    name = f"{place[:_NAME_ROOM]}-{local(at_ms, context.zone):%Y-%m-%d}"
    more = (f"{name}-{number}" for number in itertools.count(2))
    return next(each for each in itertools.chain((name,), more) if each not in cohorts)


HANDLERS: Mapping[CohortEntryKind, Callable[[Cohorts, LogbookEntry, CohortValidationContext], Cohorts]] = {
    CohortEntryKind.START: _start,
    CohortEntryKind.MOVE: _move,
    CohortEntryKind.PLANNED_MOVE: _plan,
    CohortEntryKind.SPLIT: _split,
    CohortEntryKind.MERGE: _merge,
    CohortEntryKind.THIN: _thin,
    CohortEntryKind.SAW: _saw,
    CohortEntryKind.COUNT: _count,
    CohortEntryKind.FLIES: _flies,
    CohortEntryKind.EGGS: _eggs,
    CohortEntryKind.PURPOSE: _purpose,
    CohortEntryKind.END: _end,
    CohortEntryKind.NOTE: _note,
}
