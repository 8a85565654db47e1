"""What is odd about an entry of what was taken: more than flies or larvae can weigh, a unit that slipped, the
same thing twice.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping

from monitor.bins.events import Taken
from monitor.development.progress import Cohort
from monitor.errors import sentence
from monitor.logbook.animals import flies_into
from monitor.logbook.bin_entries import BinEntryKind
from monitor.logbook.case import (
    G_PER_MG,
    MG_PER_G,
    MOST_GROWN,
    SCALE_KG,
    Case,
    Question,
    content_of,
    more_animals,
)
from monitor.logbook.yield_entries import YieldEntryKind
from monitor.records import MS_PER_DAY, MS_PER_HOUR, LogbookEntry, Stage

_TO_FLY = (Stage.EGG, Stage.LARVA, Stage.PREPUPA, Stage.PUPA)
TWICE_MS = 12 * MS_PER_HOUR
"""The same amount of the same place within this time is asked. Own choice."""
SLIPS = (10.0, 1000.0, 100.0)
"""A point that was left out, grams for kilograms, two points: in this order an amount is guessed. Choice."""
MG_PER_KG = 1e6


def slipped(value: float, most: float) -> float | None:
    """The amount that may have been meant where one is too large: with the point, or the unit, put right."""
    return next((value / slip for slip in SLIPS if value / slip <= most), None)


def flies_of(cohort: Cohort) -> float:
    """How many flies there can be: many farms count only some of those that come out."""
    return max(sum(each.flies for each in cohort.flies), cohort.track.count or 0.0)


def _flies_in(case: Case, cage: str) -> float | None:
    """How many flies can live in a cage; None where no flies of a cohort do, or their number is not known."""
    here = [
        flies_of(cohort)
        for cohort in case.cohorts.values()
        if (cohort.ended is None or cohort.ended.at_ms >= case.entry.at_ms)
        and flies_into(cohort, case.context.cohorts.cages) == cage
        and _can_have_flies(case, cohort)
    ]
    return sum(here) if here and all(here) else None


def _can_have_flies(case: Case, cohort: Cohort) -> bool:
    limits, fastest = case.context.cohorts.limits, case.context.cohorts.fastest_days
    soonest_days = limits.soonest_share_asked * sum(fastest.get(stage, 0.0) for stage in _TO_FLY)
    days = (case.entry.at_ms - cohort.track.origin_ms) / MS_PER_DAY
    return bool(cohort.flies) or cohort.track.start_stage is Stage.ADULT or days >= soonest_days


def _collected(case: Case) -> Iterator[Question]:
    grams, flies = case.number("grams"), _flies_in(case, case.entry.subject)
    limits, per_gram = case.context.cohorts.limits, case.context.cohorts.eggs_per_gram
    if grams is None:
        return
    yield from _twice(case, ("grams",))
    if flies is None:
        if limits.most_eggs_grams and grams > limits.most_eggs_grams:
            yield _too_many_grams(grams, limits.most_eggs_grams)
        return
    heaviest, each = limits.heaviest_female_mg, limits.most_eggs_per_female
    most = flies * each / per_gram if each and per_gram else None
    if heaviest and grams > flies * heaviest * G_PER_MG:
        meant = slipped(grams, most or flies * heaviest * G_PER_MG)
        yield Question(
            "eggs_too_heavy",
            sentence(
                "{grams} g of eggs from a cage that holds {flies} flies: more than they weigh; {meant} g?",
                grams=f"{grams:g}",
                flies=f"{flies:.0f}",
                meant=f"{grams / SLIPS[0] if meant is None else meant:g}",
            ),
        )
    elif most is not None and grams > most:
        yield Question(
            "many_eggs",
            sentence(
                "{grams} g of eggs from {flies} flies; if all were females they would lay {most} g",
                grams=f"{grams:g}",
                flies=f"{flies:.0f}",
                most=f"{most:.1f}",
            ),
        )


def _too_many_grams(grams: float, most: float) -> Question:
    return Question(
        "many_eggs",
        sentence(
            "{grams} g of eggs out of one cage; up to {most} g at once are usual; {meant} g?",
            grams=f"{grams:g}",
            most=f"{most:g}",
            meant=f"{slipped(grams, most) or most:g}",
        ),
    )


def _dead(case: Case) -> Iterator[Question]:
    animals, grams, flies = case.number("animals"), case.number("grams"), _flies_in(case, case.entry.subject)
    heaviest = case.context.cohorts.limits.heaviest_female_mg
    yield from _twice(case, ("animals", "grams"))
    if flies is None:
        return
    if animals is not None and animals > MOST_GROWN * flies:
        yield more_animals(sentence("dead flies"), animals, flies)
    if grams is not None and heaviest and grams * MG_PER_G > heaviest * flies:
        yield Question(
            "heavy_flies",
            sentence(
                "{grams} g of dead flies, and {flies} flies are known of: more than they weigh",
                grams=f"{grams:g}",
                flies=f"{flies:.0f}",
            ),
        )


def hatched(case: Case) -> Iterator[Question]:
    """Young larvae that weigh more than their eggs did."""
    cohort, young, each = case.cohort, case.number("young_grams"), case.context.cohorts.eggs_per_gram
    if cohort is None or young is None or not each or cohort.track.count_stage is not Stage.EGG:
        return
    eggs = (cohort.track.count or 0.0) / each
    if eggs and young > MOST_GROWN * eggs:
        yield Question(
            "heavy_young",
            sentence(
                "{young} g of young larvae from {eggs} g of eggs: they weigh about what their eggs did",
                young=f"{young:g}",
                eggs=f"{eggs:.1f}",
            ),
        )


def taken(case: Case) -> Iterator[Question]:
    """Something that was taken out of a bin: more than it holds, more animals than live in it, twice."""
    kg = case.number("kg")
    yield from _twice(case, ("kg", "animals"), ("what",))
    if case.entry.body.get("what") != Taken.RESIDUE:
        yield from _larvae(case, kg, case.number("animals"))
    if kg is not None:
        yield from _more_than_it_holds(case, kg)


def emptied(case: Case) -> Iterator[Question]:
    """The harvest and the residue of a bin that was emptied."""
    grams, residue_kg = case.number("grams"), case.number("residue_kg")
    if grams is not None:
        kg = grams / MG_PER_G
        yield from _taken_before(case, kg)
        yield from _larvae(case, kg, None)
        yield from _more_than_it_holds(case, kg)
    if residue_kg is not None:
        yield from _more_than_it_holds(case, residue_kg)


def _more_than_it_holds(case: Case, kg: float) -> Iterator[Question]:
    fill = case.filled(case.entry.subject)
    if fill is None:
        return
    held_kg = content_of(fill).kg
    if kg <= held_kg + SCALE_KG:
        return
    meant = slipped(kg, held_kg)
    refused = kg > MOST_GROWN * held_kg + SCALE_KG
    amounts = {"kg": f"{kg:g}", "held": f"{held_kg:.1f}"}
    said = sentence("{kg} kg taken out, and {held} kg at most are in it by the book", **amounts)
    if refused and meant is not None:
        said = sentence(
            "{kg} kg taken out, and {held} kg at most are in it by the book; {meant} kg?",
            **amounts,
            meant=f"{meant:g}",
        )
    yield Question("more_taken", said, refused)


def _larvae(case: Case, kg: float | None, animals: float | None) -> Iterator[Question]:
    """A mean mass that no larva has, or more larvae than there are."""
    mean_mg, most_mg = case.number("mean_mg"), case.context.cohorts.limits.heaviest_larva_mg
    if mean_mg is not None and most_mg and mean_mg > most_mg:
        yield Question(
            "heavy_larvae",
            sentence(
                "{mean} mg each, on the mean; up to {most} mg are known",
                mean=f"{mean_mg:g}",
                most=f"{most_mg:g}",
            ),
        )
        return
    known = _animals_in(case)
    if known is None:
        return
    if animals is not None and animals > MOST_GROWN * known:
        yield more_animals(sentence("animals"), animals, known)
    if kg is None:
        return
    if mean_mg and kg * MG_PER_KG / mean_mg > MOST_GROWN * known:
        yield Question(
            "light_larvae",
            sentence(
                "{kg} kg of {mean} mg each are {count} larvae, and {known} are known of",
                kg=f"{kg:g}",
                mean=f"{mean_mg:g}",
                count=f"{kg * MG_PER_KG / mean_mg:.0f}",
                known=f"{known:.0f}",
            ),
        )
    elif most_mg and kg * MG_PER_KG > most_mg * known:
        yield Question(
            "heavy_larvae",
            sentence(
                "{grams} g of {count} animals are {each} mg each; up to {most} mg are known",
                grams=f"{kg * MG_PER_G:g}",
                count=f"{known:.0f}",
                each=f"{kg * MG_PER_KG / known:.0f}",
                most=f"{most_mg:g}",
            ),
        )


def _animals_in(case: Case) -> float | None:
    """How many animals are in a bin where they were counted; a number out of grams of eggs is too rough."""
    fill = case.filled(case.entry.subject)
    if fill is None or not fill.animals:
        return None
    rough = any(case.cohorts[name].rough_count for name in fill.living if name in case.cohorts)
    return None if rough else fill.animals


def _twice(case: Case, amounts: Iterable[str], words: Iterable[str] = ()) -> Iterator[Question]:
    """The same amount of the same place, entered for about the same time."""
    entry = case.entry
    keys = [key for key in amounts if entry.body.get(key) is not None]
    same = (
        each
        for each in case.history
        if (each.subject_kind, each.subject, each.kind) == (entry.subject_kind, entry.subject, entry.kind)
        and abs(each.at_ms - entry.at_ms) < TWICE_MS
        and all(each.body.get(key) == entry.body.get(key) for key in (*keys, *words))
    )
    yield from _said_before(same if keys else (), case)


def _taken_before(case: Case, kg: float) -> Iterator[Question]:
    """The harvest of a bin that was emptied, entered as larvae taken out of it already."""
    entry = case.entry
    same = (
        each
        for each in case.history
        if (each.subject_kind, each.subject, each.kind) == (entry.subject_kind, entry.subject, "take")
        and each.body.get("what") == Taken.LARVAE
        and each.body.get("kg") == kg
        and 0 <= entry.at_ms - each.at_ms < TWICE_MS
    )
    yield from _said_before(same, case)


def _said_before(same: Iterable[LogbookEntry], case: Case) -> Iterator[Question]:
    before = next((each for each in same if case.old is None or each.entry_id != case.old.entry_id), None)
    if before is not None and before.entry_id is not None:
        yield Question(
            "twice",
            sentence("the same was entered as entry {number} already; once more?", number=before.entry_id),
        )


YIELDS: Mapping[str, Callable[[Case], Iterator[Question]]] = {
    YieldEntryKind.COLLECT: _collected,
    YieldEntryKind.DEAD: _dead,
    BinEntryKind.TAKE: taken,
    BinEntryKind.EMPTY: emptied,
}
"""What is asked about each kind of entry of what was taken."""
