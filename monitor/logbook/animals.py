"""Which animals live in which filling: what an entry about a bin does to the cohorts, and the larvae that the
heat and water of a bin are worked out from.

A filling has no number of its own: its animals are the cohorts that live in its place. Keys of a body:
`cohort` names the cohort whose larvae were put in, and `begins` says whether it begins with them; `how` says
how the cohorts ended that lived in a bin that was emptied, except those that `stays` names. An entry without
`begins` or `how` was written before cohorts and bins were one logbook: its larvae count as long as no cohort
lives in the place, and its emptying ends nobody.
"""

from __future__ import annotations

from collections.abc import Container, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from monitor.bins.events import Taken
from monitor.bins.substrate import Larvae, larvae_kg
from monitor.development.events import Event
from monitor.development.progress import Cohort, Ending, Purpose
from monitor.errors import UsageError, sentence
from monitor.logbook.bin_entries import KG_PER_MG, Arrival, BinEntryKind, BinFill, taken_kg
from monitor.logbook.cohort_entries import (
    HANDLERS,
    MOST_ANIMALS,
    MOST_MEAN_MG,
    CohortEntryKind,
    Cohorts,
    CohortValidationContext,
    living,
    new_name,
)
from monitor.logbook.entry import cohort_name, flag, missing, names, number, word
from monitor.logbook.yield_entries import (
    YieldEntryKind,
    is_about_a_cage,
    is_set_to_hatch,
    with_eggs_linked,
)
from monitor.records import MS_PER_DAY, LogbookEntry, Stage, SubjectKind

LINKED_KINDS: Mapping[SubjectKind, frozenset[str]] = {
    SubjectKind.BIN: frozenset({BinEntryKind.FILL, BinEntryKind.LARVAE, BinEntryKind.EMPTY}),
    SubjectKind.PLACE: frozenset({YieldEntryKind.COLLECT}),
}
"""Kinds of entries that say what becomes of cohorts, by what they are about."""
USUAL_AGE_DAYS = 5.0
"""Age of larvae of which nothing was said when they were put in [d]. Common practice, no source."""
OLDEST_DAYS = 200.0
USUAL_ENDING = Ending.HARVESTED


@dataclass(frozen=True, slots=True)
class Group:
    """A cohort in its place: what is left of those that came [1], and the age [d] that was said of it, with
    the time of that.
    """

    share: float = 1.0
    age: tuple[int, float] | None = None


Groups = Mapping[str, Group]
Body = Mapping[str, object]


def speaks_of_larvae(entry: LogbookEntry) -> bool:
    """Whether an entry about a bin says that larvae were put in."""
    if entry.kind not in (BinEntryKind.FILL, BinEntryKind.LARVAE):
        return False
    return entry.body.get("larvae") is not None or bool(entry.body.get("cohort"))


def is_linked(entry: LogbookEntry) -> bool:
    """Whether an entry about a bin says what it does to cohorts; older ones do not."""
    return entry.body.get("begins") is not None or entry.body.get("how") is not None


def begun_by(entry: LogbookEntry) -> str | None:
    """The name of the cohort that a filling begins, or that eggs set to hatch may begin."""
    if is_set_to_hatch(entry):
        return cohort_name(entry, "cohort")
    return cohort_name(entry, "cohort") if speaks_of_larvae(entry) and flag(entry, "begins") else None


def put_in(cohorts: Cohorts, entry: LogbookEntry, context: CohortValidationContext) -> dict[str, Cohort]:
    """The cohort whose larvae were put into a bin: begun, moved there, or counted anew."""
    if not speaks_of_larvae(entry):
        if entry.kind == BinEntryKind.LARVAE:
            raise missing("larvae", sentence("their number, above 0"))
        return {}
    if not is_linked(entry):
        return {}
    name, count = cohort_name(entry, "cohort"), number(entry, "larvae", 0.0, MOST_ANIMALS, above=True)
    if flag(entry, "begins"):
        _refuse_lived_in(cohorts, entry)
        return dict(
            _done(cohorts, entry, name, CohortEntryKind.START, _start_body(entry, count, context), context)
        )
    cohort = living(cohorts, entry, name, context)
    changed = dict(cohorts)
    if home(cohort, entry.at_ms) != entry.subject:
        changed |= _done(changed, entry, name, CohortEntryKind.MOVE, {"place": entry.subject}, context)
    if count is not None:
        _refuse_more_than_there_are(cohort, count)
        body = {"animals": count, "stage": _counted_as(cohort)}
        changed |= _done(changed, entry, name, CohortEntryKind.COUNT, body, context)
    return {name: changed[name]}


def _done(
    cohorts: Cohorts,
    entry: LogbookEntry,
    name: str,
    kind: CohortEntryKind,
    body: Body,
    context: CohortValidationContext,
) -> Cohorts:
    """What an entry about a cohort would do, for an entry about a bin that says the same."""
    return HANDLERS[kind](cohorts, replace(entry, subject=name, kind=kind, body=body), context)


def _start_body(entry: LogbookEntry, count: float | None, context: CohortValidationContext) -> Body:
    """As larvae of the age that was said, which is counted from hatching; unsure where none was said."""
    said = number(entry, "age_days", 0.0, 100.0)
    age_days = USUAL_AGE_DAYS if said is None else said
    body = {
        "stage": Stage.LARVA.value,
        "place": entry.subject,
        "animals": count,
        "age_days": egg_days(context) + age_days,
        "origin": None if said is not None else "found",
        "note": entry.body.get("note"),
    }
    return {key: value for key, value in body.items() if value is not None}


def egg_days(context: CohortValidationContext) -> float:
    """How long eggs usually take to hatch [d]."""
    return context.usual_days.get(Stage.EGG, 0.0)


def _refuse_lived_in(cohorts: Cohorts, entry: LogbookEntry) -> None:
    there = [cohort.name for cohort in living_in(cohorts.values(), entry.subject, entry.at_ms)]
    if there:
        raise UsageError(
            "{cohorts} lives in it already; are these its larvae, say so: --cohort {first}. "
            "Did they come on top, give them a name: `cohort start NAME {place} --stage larva`",
            cohorts=", ".join(there),
            first=there[0],
            place=entry.subject,
        )


def _refuse_more_than_there_are(cohort: Cohort, count: float) -> None:
    known = cohort.track.count
    if known is not None and not cohort.rough_count and count > known:
        raise UsageError(
            "{cohort} has {known} animals, so {count} of it cannot be put in; where it was counted wrong, "
            "enter the right number first: `cohort count {cohort} --animals NUMBER`",
            cohort=cohort.name,
            known=f"{known:.0f}",
            count=f"{count:.0f}",
        )


def _counted_as(cohort: Cohort) -> str:
    """As what animals in a bin are counted: as larvae, or as the later stage that they are known to have."""
    order = list(Stage)
    known = (Stage.LARVA, cohort.track.start_stage, cohort.track.count_stage or Stage.LARVA)
    return max(known, key=order.index).value


def ended_by(cohorts: Cohorts, entry: LogbookEntry, context: CohortValidationContext) -> dict[str, Cohort]:
    """The cohorts that ended when their bin was emptied; grams are shared out by their numbers."""
    if not is_linked(entry):
        return {}
    there, stay = living_in(cohorts.values(), entry.subject, entry.at_ms), names(entry, "stays")
    strange = sorted(set(stay) - {cohort.name for cohort in there})
    if strange:
        raise UsageError("{cohort} does not live in it, so it cannot stay", cohort=", ".join(strange))
    how = word(entry, "how", tuple(how.value for how in Ending if how is not Ending.MERGED))
    ended = [cohort for cohort in there if cohort.name not in stay]
    grams, counts = number(entry, "grams", 0.0, 1e6, above=True), [each.track.count or 0.0 for each in ended]
    changed: dict[str, Cohort] = {}
    for cohort, count in zip(ended, counts, strict=True):
        part = 1.0 if len(ended) == 1 else count / sum(counts) if all(counts) else None
        body: dict[str, object] = {"how": how}
        if grams is not None and part is not None:
            body["grams"] = grams * part
        changed |= _done(cohorts, entry, cohort.name, CohortEntryKind.END, body, context)
    return changed


def home(cohort: Cohort, at_ms: int) -> str:
    """Where a cohort lives while the logbook is replayed up to a moment [ms since 1970 UTC].

    A planned move whose time has come counts as made.
    """
    last = cohort.track.residences[-1]
    due = [stay for stay in cohort.planned if last.from_ms < stay.from_ms <= at_ms]
    return max(due, key=lambda stay: stay.from_ms).place if due else last.place


def living_in(cohorts: Iterable[Cohort], place: str, at_ms: int) -> list[Cohort]:
    """The cohorts that live in a place, in the order in which they began."""
    return [cohort for cohort in cohorts if cohort.ended is None and home(cohort, at_ms) == place]


def animals_of(cohorts: Iterable[Cohort]) -> float | None:
    """How many animals some cohorts are together; None where the number of one is not known."""
    total = 0.0
    for cohort in cohorts:
        if cohort.track.count is None:
            return None
        total += cohort.track.count
    return total


def larval_age_days(cohort: Cohort, group: Group, at_ms: int, context: CohortValidationContext) -> float:
    """Days since a cohort hatched; below 0 for eggs.

    As was said when it was put in, else by the hatching that was seen, else by the usual days of an egg.
    """
    if group.age is not None:
        said_ms, days = group.age
        return days + (at_ms - said_ms) / MS_PER_DAY
    hatched = [seen.at_ms for seen in cohort.seen if seen.event is Event.HATCH]
    if hatched:
        return (at_ms - hatched[-1]) / MS_PER_DAY
    age_days = (at_ms - cohort.track.origin_ms) / MS_PER_DAY - egg_days(context)
    return age_days if cohort.track.start_stage is Stage.EGG else max(age_days, 0.0)


def larvae_of(
    cohorts: Iterable[Cohort], groups: Groups, at_ms: int, context: CohortValidationContext
) -> Larvae | None:
    """The larvae of a bin from a moment on: all cohorts in it taken together, at the mean of their ages.

    None where none lives in it. Animals whose number is not known make heat, and weigh nothing.
    """
    members = [each for each in cohorts if each.track.start_stage is not Stage.ADULT]
    if not members:
        return None
    mine = [groups.get(each.name, Group()) for each in members]
    counts = [each.track.count or 0.0 for each in members]
    came = [count / group.share if group.share else 0.0 for count, group in zip(counts, mine, strict=True)]
    weights = came if sum(came) else [1.0] * len(members)
    ages = [larval_age_days(each, group, at_ms, context) for each, group in zip(members, mine, strict=True)]
    age_days = min(float(np.average(ages, weights=weights)), OLDEST_DAYS)
    share = sum(counts) / sum(came) if sum(came) else float(np.mean([group.share for group in mine]))
    hatched_ms = at_ms + round(max(-age_days, 0.0) * MS_PER_DAY)
    return replace(grown(min(sum(came), MOST_ANIMALS), hatched_ms, max(age_days, 0.0)), share=share)


def grown(count: float, at_ms: int, age_days: float) -> Larvae:
    """Larvae of an age on the one curve of growth: those put in old are heavy already."""
    return Larvae(count, at_ms, age_days)


def arrivals(fill: BinFill, there: Sequence[Cohort], at_ms: int) -> Iterable[Arrival]:
    """All that came, with the cohorts that were not in it before; of eggs nobody knows how many larvae they
    become.
    """
    known = {arrival.cohort for arrival in fill.arrived}
    if not there:
        yield from fill.arrived
        return
    yield from (arrival for arrival in fill.arrived if arrival.cohort is not None)
    for cohort in there:
        if cohort.name not in known:
            counted = cohort.track.count_stage is not Stage.EGG
            yield Arrival(at_ms, cohort.name, cohort.track.count if counted else None)


def said_to_arrive(fill: BinFill, entry: LogbookEntry) -> tuple[Arrival, ...]:
    """With larvae of no cohort that were put in; those of a cohort that were counted anew count so."""
    count, name = number(entry, "larvae", 0.0, MOST_ANIMALS, above=True), entry.body.get("cohort")
    if count is None:
        return fill.arrived
    if not is_linked(entry):
        return (Arrival(entry.at_ms, None, count),)
    return tuple(
        replace(arrival, count=count) if arrival.cohort == name else arrival for arrival in fill.arrived
    )


def unnamed_larvae(entry: LogbookEntry) -> Larvae | None:
    """The larvae of an entry that was written before larvae were those of a cohort."""
    count = number(entry, "larvae", 0.0, MOST_ANIMALS, above=True)
    said = number(entry, "age_days", 0.0, 100.0)
    if count is None or is_linked(entry):
        return None
    return grown(count, entry.at_ms, USUAL_AGE_DAYS if said is None else said)


def left_of(larvae: Larvae | None, entry: LogbookEntry) -> float:
    """What share of the larvae is left after some kilograms were taken out; 1 where their mass is unknown."""
    if larvae is None or word(entry, "what", tuple(Taken)) in (None, Taken.RESIDUE):
        return 1.0
    animals, there = animals_taken(entry), larvae.count * larvae.share
    if animals is not None and there > 0.0:
        return max(0.0, 1.0 - animals / there)
    there_kg = float(larvae_kg(larvae, np.array([entry.at_ms]))[0])
    return 1.0 if there_kg <= 0.0 else max(0.0, 1.0 - taken_kg(entry) / there_kg)


def animals_taken(entry: LogbookEntry) -> float | None:
    """How many were taken out: counted, or by the mean mass of a sample; None where neither was said."""
    mean_mg = number(entry, "mean_mg", 0.0, MOST_MEAN_MG, above=True)
    if mean_mg is not None:
        return taken_kg(entry) / (mean_mg * KG_PER_MG)
    return number(entry, "animals", 0.0, MOST_ANIMALS)


def fewer(cohort: Cohort, left: float) -> Cohort:
    """A cohort of which a share is left [1]. Where all that was reckoned to be there was taken, nobody knows
    how many are left.
    """
    count = cohort.track.count
    if count is None or left >= 1.0:
        return cohort
    known = count * left if left > 0.0 else None
    stage = None if known is None else cohort.track.count_stage
    return replace(cohort, track=replace(cohort.track, count=known, count_stage=stage), rough_count=True)


def groups_after(groups: Groups, before: Cohorts, changed: Cohorts, entry: LogbookEntry) -> dict[str, Group]:
    """The groups of cohorts that an entry changed: whole where they came to a place, else what is left."""
    after: dict[str, Group] = {}
    for name, cohort in changed.items():
        old, group = before.get(name), groups.get(name, Group())
        if old is None:
            parent = groups.get(cohort.parent or "", Group())
            stayed = cohort.parent in before and _same_home(cohort, before[cohort.parent or ""], entry)
            after[name] = Group(parent.share if stayed else 1.0, parent.age)
        elif not _same_home(cohort, old, entry):
            after[name] = replace(group, share=1.0)
        else:
            after[name] = replace(group, share=group.share * _left(old, changed, entry))
    return after | _said_age(after, entry)


def _same_home(cohort: Cohort, other: Cohort, entry: LogbookEntry) -> bool:
    return home(cohort, entry.at_ms) == home(other, entry.at_ms - 1)


def _left(old: Cohort, changed: Cohorts, entry: LogbookEntry) -> float:
    """What is left of the animals of a cohort in its place after an entry about it [1]."""
    count, now = old.track.count, changed[old.name].track.count
    if entry.kind == BinEntryKind.TAKE and count is not None:
        return 0.0 if now is None or not count else now / count
    if entry.kind == CohortEntryKind.SPLIT:
        child = next(each for each in changed.values() if each.name != old.name)
        if _same_home(child, old, entry):
            return 1.0
    elif entry.kind != CohortEntryKind.THIN:
        return 1.0
    percent = number(entry, "percent", 0.0, 100.0)
    if percent is not None:
        return 1.0 - percent / 100.0
    return now / count if count and now is not None else 1.0


def _said_age(groups: Groups, entry: LogbookEntry) -> dict[str, Group]:
    if entry.kind not in (BinEntryKind.FILL, BinEntryKind.LARVAE):
        return {}
    days, name = number(entry, "age_days", 0.0, 100.0), entry.body.get("cohort")
    if days is None or name not in groups:
        return {}
    return {str(name): replace(groups[str(name)], age=(entry.at_ms, days))}


def linked(
    entry: LogbookEntry, old: LogbookEntry | None, cohorts: Cohorts, context: CohortValidationContext
) -> LogbookEntry:
    """An entry with what it does to cohorts: whose larvae were put into a bin, or who ended with it; as what
    eggs are set to hatch.

    Larvae of which no cohort was said begin one of their own, named by place and date; put into a bin in
    which one cohort lives already, they are that one's. `old` is the entry that it corrects, `cohorts` those
    without it; what was written before cohorts and bins were one logbook stays so where it is only put right.
    """
    if entry.kind not in LINKED_KINDS.get(entry.subject_kind, ()):
        return entry
    if is_about_a_cage(entry):
        return with_eggs_linked(entry, old, cohorts, context)
    there = [each.name for each in _living_at(cohorts.values(), entry)]
    if entry.kind == BinEntryKind.EMPTY:
        return entry if old is not None and not is_linked(old) else _emptied(entry, there)
    if not speaks_of_larvae(entry):
        return entry
    said = entry.body.get("cohort")
    if old is not None and speaks_of_larvae(old) and said == old.body.get("cohort"):
        return entry
    if said:
        more: dict[str, object] = {"begins": flag(entry, "begins") and said not in cohorts}
    elif entry.kind == BinEntryKind.LARVAE and there:
        more = {"begins": False, "cohort": _the_one(there)}
    else:
        return as_beginning(entry, cohorts, context)
    return replace(entry, body={**entry.body, **more})


def as_beginning(entry: LogbookEntry, cohorts: Cohorts, context: CohortValidationContext) -> LogbookEntry:
    """An entry about larvae as one that begins a cohort with them, named by place and date."""
    name = new_name(entry.subject, entry.at_ms, cohorts, context)
    return replace(entry, body={**entry.body, "begins": True, "cohort": name})


def _emptied(entry: LogbookEntry, there: Sequence[str]) -> LogbookEntry:
    stay = names(entry, "stays")
    body = {key: value for key, value in entry.body.items() if key != "ended"}
    ended = [name for name in there if name not in stay]
    body["how"] = entry.body.get("how") or USUAL_ENDING.value
    return replace(entry, body=body | ({"ended": ended} if ended else {}))


def _living_at(cohorts: Iterable[Cohort], entry: LogbookEntry) -> Sequence[Cohort]:
    """Who lived in the place at the time of an entry, as is known now."""
    at_ms = entry.at_ms
    return [
        cohort
        for cohort in cohorts
        if cohort.track.start_ms <= at_ms
        and (cohort.ended is None or cohort.ended.at_ms > at_ms)
        and cohort.place_at(at_ms) == entry.subject
    ]


def _the_one(there: Sequence[str]) -> str:
    if len(there) > 1:
        raise UsageError(
            "{cohorts} live in it; say whose larvae they are: --cohort {first}",
            cohorts=", ".join(there),
            first=there[0],
        )
    return there[0]


def stages_by_place(
    cohorts: Iterable[Cohort], stages: Mapping[str, frozenset[Stage]], cages: Container[str], now_ms: int
) -> dict[str, frozenset[Stage]]:
    """The stages in which animals may be in each place at `now_ms` [ms since 1970 UTC]; empty: not known.

    `stages` are those of the living cohorts by name. Where a forecast alone says that all have come out as
    flies, the place that they were in may hold any stage.
    """
    found: dict[str, list[frozenset[Stage]]] = {}
    for cohort in cohorts:
        possible, place = stages.get(cohort.name, frozenset()), cohort.place_at(now_ms)
        here = possible
        if Stage.ADULT in possible and place not in cages:
            here = possible - {Stage.ADULT}
        found.setdefault(place, []).append(here)
        if Stage.ADULT in possible and cohort.cage is not None and cohort.cage != place:
            found.setdefault(cohort.cage, []).append(frozenset({Stage.ADULT}))
    return {place: frozenset().union(*each) if all(each) else frozenset() for place, each in found.items()}


def youngest_by_place(
    cohorts: Iterable[Cohort], stages: Mapping[str, Stage], now_ms: int
) -> dict[str, Stage]:
    """The stage in each place at `now_ms` [ms since 1970 UTC]; the youngest where there are several.

    `stages` are those of the living cohorts by name.
    """
    order, youngest = list(Stage), dict[str, Stage]()
    for cohort in cohorts:
        stage = stages.get(cohort.name)
        if cohort.ended is not None or stage is None:
            continue
        place = home_of(cohort, stage, now_ms)
        if place not in youngest or order.index(stage) < order.index(youngest[place]):
            youngest[place] = stage
    return youngest


def flies_by_cage(cohorts: Iterable[Cohort], flies_ms: Mapping[str, int | None]) -> dict[str, int]:
    """When flies came last into each cage by the forecasts of cohorts [ms since 1970 UTC]."""
    found: dict[str, int] = {}
    for cohort in cohorts:
        came_ms = flies_ms.get(cohort.name)
        if cohort.cage is not None and came_ms is not None:
            found[cohort.cage] = max(came_ms, found.get(cohort.cage, 0))
    return found


def home_of(cohort: Cohort, stage: Stage | None, now_ms: int) -> str:
    """Where a cohort lives at `now_ms` [ms since 1970 UTC]; flies live in the cage of their cohort."""
    if stage is Stage.ADULT and cohort.cage is not None:
        return cohort.cage
    return cohort.place_at(now_ms)


def flies_into(cohort: Cohort, cages: tuple[str, ...]) -> str | None:
    """The cage into which the flies of a cohort go: the one it names, the one it lives in, the only one."""
    if cohort.cage is not None:
        return cohort.cage
    last = cohort.track.residences[-1].place
    if last in cages:
        return last
    return cages[0] if len(cages) == 1 else None


def is_for_breeding(cohort: Cohort, breeding_places: frozenset[str]) -> bool:
    """Whether the flies of a cohort are wanted: as was said, else whether it lives where flies come out."""
    if cohort.ended is not None and cohort.ended.how is not Ending.EMERGED:
        return False
    if cohort.purpose is not None:
        return cohort.purpose is Purpose.BREEDING
    return cohort.cage is not None or cohort.track.residences[-1].place in breeding_places
