"""What is odd about a new entry: the unlikely is asked once, the impossible is refused.

Only what is being written is judged, by what the logbook told of just before it; what stands in the book
already stays. The limits stand in the species and substrate files, with their sources.
"""

from __future__ import annotations

import statistics
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence

from monitor.development.events import EVENTS, Event
from monitor.development.progress import Cohort
from monitor.errors import UsageError, one_a_line, sentence
from monitor.logbook.bin_entries import BinEntryKind
from monitor.logbook.case import (
    G_PER_MG,
    MG_PER_G,
    MOST_GROWN,
    SCALE_KG,
    Case,
    Fills,
    Question,
    Unconfirmed,
    content_of,
    more_animals,
)
from monitor.logbook.cohort_entries import CohortEntryKind, CohortValidationContext
from monitor.logbook.entry import WITHDRAWN, in_force
from monitor.logbook.replay import FarmContext, farm_book
from monitor.logbook.yield_entries import YieldEntryKind
from monitor.logbook.yield_questions import YIELDS, flies_of, hatched
from monitor.records import MS_PER_DAY, LogbookEntry, Stage

EVERYTHING: frozenset[str] = frozenset({"*"})
"""Confirms whatever is asked."""
LONG_AGO_DAYS = 90.0
"""An entry about a time before that is asked [d]. Own choice: longer than any cohort lives."""
LONG_AGO_NOTEBOOK_DAYS = 400.0
"""The same for a line of a notebook, which is read in late: a wrong year [d]. Own choice."""
TIMES_THE_USUAL = 10.0
LEAST_HISTORY = 3
"""An amount is compared with the usual one of its kind, the median, from so many on. Own choice."""
LEAST_LEFT, MOST_WEIGHED = 0.2, 10.0
"""A weighing below the first share of what the book knows is asked, above the second refused. Own choice."""
CM2_PER_M2 = 10_000.0


def questions_of(case: Case) -> tuple[Question, ...]:
    """All that is odd about an entry that can be read; the impossible first."""
    if case.entry.kind == WITHDRAWN:
        return ()
    asked = [*_ASKED.get(case.entry.kind, _nothing)(case), *_unusual(case), *_long_ago(case)]
    return tuple(sorted(asked, key=lambda question: not question.refused))


def asked_about(
    stored: Sequence[LogbookEntry],
    new: Sequence[LogbookEntry],
    context: FarmContext,
    now_ms: int,
    *,
    bulk: bool = False,
) -> tuple[tuple[Question, ...], ...]:
    """What is odd about each of some new entries, in their order, beside the stored ones and one another.

    `now_ms` is now [ms since 1970 UTC].
    """
    counting = in_force([*stored, *new])
    found: dict[int, tuple[Question, ...]] = {}

    def watch(entry: LogbookEntry, cohorts: Mapping[str, Cohort], fills: Mapping[str, Fills]) -> None:
        if any(entry is each for each in new):
            before = [each for each in counting if each is not entry]
            old = next((each for each in stored if each.entry_id == entry.corrects), None)
            case = Case(entry, cohorts, fills, before, context, now_ms, bulk, old)
            found[id(entry)] = questions_of(case)

    farm_book((*stored, *new), context, now_ms, watch=watch)
    return tuple(found.get(id(entry), ()) for entry in new)


def require_confirmed(questions: Iterable[Question], confirmed: frozenset[str]) -> None:
    """Unconfirmed with all questions that nobody has answered; UsageError with all that cannot be."""
    every = list(questions)
    impossible = [question.sentence for question in every if question.refused]
    if impossible:
        raise UsageError("{reasons}\nNothing was written", reasons=one_a_line(impossible))
    open_ = [question for question in every if question.key not in confirmed]
    if open_ and not confirmed & EVERYTHING:
        raise Unconfirmed(open_)


def _nothing(_case: Case) -> Iterator[Question]:
    return iter(())


def _long_ago(case: Case) -> Iterator[Question]:
    if case.old is not None and case.old.at_ms == case.entry.at_ms:
        return
    days = (case.now_ms - case.entry.at_ms) / MS_PER_DAY
    if days > (LONG_AGO_NOTEBOOK_DAYS if case.bulk else LONG_AGO_DAYS):
        yield Question("long_ago", sentence("that was {days} days ago", days=f"{days:.0f}"))


_COMPARED: Mapping[str, tuple[str, ...]] = {
    CohortEntryKind.START: ("grams", "animals"),
    CohortEntryKind.EGGS: ("grams",),
    CohortEntryKind.FLIES: ("flies",),
    CohortEntryKind.COUNT: ("animals",),
    BinEntryKind.FILL: ("kg", "larvae"),
    BinEntryKind.WATER: ("kg",),
    BinEntryKind.FEED: ("kg",),
    BinEntryKind.WEIGH: ("kg",),
    BinEntryKind.TAKE: ("kg",),
    YieldEntryKind.COLLECT: ("grams",),
}


def _unusual(case: Case) -> Iterator[Question]:
    """Ten times what is usual for such an entry on this farm."""
    entry = case.entry
    for key in _COMPARED.get(entry.kind, ()):
        value, usual = case.number(key), _usual(case, key)
        if value is not None and usual is not None and value > TIMES_THE_USUAL * usual:
            yield Question(
                f"unusual_{key}",
                sentence(
                    "{value} {key} is {times} times the usual {usual}",
                    value=f"{value:g}",
                    key=key,
                    times=f"{value / usual:.0f}",
                    usual=f"{usual:g}",
                ),
            )


def _usual(case: Case, key: str) -> float | None:
    entry = case.entry
    alike = (
        each.body.get(key)
        for each in case.history
        if (each.subject_kind, each.kind, each.body.get("stage"))
        == (entry.subject_kind, entry.kind, entry.body.get("stage"))
    )
    values = [float(value) for value in alike if isinstance(value, int | float) and value > 0]
    return statistics.median(values) if len(values) >= LEAST_HISTORY else None


# Cohorts.


def _start(case: Case) -> Iterator[Question]:
    grams, most = case.number("grams"), case.context.cohorts.limits.most_eggs_grams
    if case.entry.body.get("stage") == Stage.EGG and grams is not None and most and grams > most:
        yield Question(
            "many_eggs",
            sentence(
                "{grams} g of eggs are about {count} animals; up to {most} g at once are usual",
                grams=f"{grams:g}",
                count=f"{grams * (case.context.cohorts.eggs_per_gram or 0.0):.0f}",
                most=f"{most:g}",
            ),
        )
    animals = case.number("animals")
    if animals is not None and case.entry.body.get("stage") == Stage.LARVA:
        yield from _crowded(case, str(case.entry.body.get("place")), animals)


def _move(case: Case) -> Iterator[Question]:
    cohort = case.cohort
    if cohort is not None and cohort.track.count and cohort.track.count_stage is Stage.LARVA:
        yield from _crowded(case, str(case.entry.body.get("place")), cohort.track.count)


def _crowded(case: Case, place: str, larvae: float, surface_m2: float | None = None) -> Iterator[Question]:
    fill, most = case.filled(place), case.context.cohorts.limits.most_larvae_per_cm2
    if surface_m2 is None and fill is not None:
        surface_m2 = fill.facts.surface_m2
    if not surface_m2 or most is None:
        return
    each_cm2 = larvae / (surface_m2 * CM2_PER_M2)
    if each_cm2 > most:
        yield Question(
            "crowded",
            sentence(
                "{count} larvae on {surface} m² are {each} on each cm²; up to {most} are believable",
                count=f"{larvae:.0f}",
                surface=f"{surface_m2:g}",
                each=f"{each_cm2:.0f}",
                most=f"{most:g}",
            ),
        )


def _saw(case: Case) -> Iterator[Question]:
    written = case.entry.body.get("event")
    if written in set(Event):
        event = Event(str(written))
        yield from _too_soon(case, EVENTS[event].begins, event)
        yield from hatched(case)


def _too_soon(case: Case, stage: Stage | None, what: object) -> Iterator[Question]:
    """Sooner after what is known of a cohort than its animals can be a stage; None stands for first eggs."""
    cohort, limits = case.cohort, case.context.cohorts.limits
    if cohort is None:
        return
    since_ms, fastest_days, unsure_days = _fastest(cohort, stage, case.context.cohorts)
    days = (case.entry.at_ms - since_ms) / MS_PER_DAY + 2.0 * unsure_days
    if days >= limits.soonest_share_asked * fastest_days:
        return
    values = {
        "what": what,
        "days": f"{(case.entry.at_ms - since_ms) / MS_PER_DAY:.1f}",
        "stage": _stage_at(cohort)[1],
        "fastest": f"{fastest_days:.0f}",
    }
    percent = 100.0 * _stage_at(cohort)[2]
    said = sentence(
        "{what} {days} days after {stage}: even at the best temperature that takes about {fastest} days",
        **values,
    )
    if percent >= 1.0:
        said = sentence(
            "{what} {days} days after {stage} of which {percent} % were behind them: even at the best "
            "temperature the rest takes about {fastest} days",
            **values,
            percent=f"{percent:.0f}",
        )
    yield Question("too_soon", said, days < limits.soonest_share_refused * fastest_days)


def _stage_at(cohort: Cohort) -> tuple[int, Stage, float, float]:
    """From when on a cohort is known to be in a stage, how far through it [1], how unsure that is [d]."""
    track = cohort.track
    known = (track.start_ms, track.start_stage, track.start_progress, track.start_sd_days)
    for seen in cohort.seen:
        begins = EVENTS[seen.event].begins
        if begins is not None and list(Stage).index(begins) > list(Stage).index(known[1]):
            known = (seen.at_ms, begins, 0.0, seen.sd_days)
    return known


def _fastest(
    cohort: Cohort, stage: Stage | None, context: CohortValidationContext
) -> tuple[int, float, float]:
    """Since when a stage is known, how many days the way to another takes at best, how unsure that is [d]."""
    since_ms, at, progress, unsure_days = _stage_at(cohort)
    order = list(context.stages)
    last = len(order) if stage is None else order.index(stage) if stage in order else 0
    first = order.index(at) if at in order else 0
    lasts = [context.fastest_days.get(each, 0.0) for each in order[first:last]]
    fastest_days = sum(lasts) - (progress * lasts[0] if lasts else 0.0)
    return since_ms, fastest_days, unsure_days


def _flies(case: Case) -> Iterator[Question]:
    yield from _too_soon(case, Stage.ADULT, sentence("flies"))
    cohort, flies = case.cohort, case.number("flies")
    if cohort is None or flies is None or cohort.track.count is None:
        return
    total = flies + sum(each.flies for each in cohort.flies)
    if cohort.track.count_stage is not Stage.ADULT and total > cohort.track.count:
        yield more_animals(sentence("flies"), total, cohort.track.count)


def _count(case: Case) -> Iterator[Question]:
    written = case.entry.body.get("stage")
    if written in set(Stage):
        yield from _too_soon(case, Stage(str(written)), Stage(str(written)))
    cohort, animals = case.cohort, case.number("animals")
    if cohort is None or animals is None or cohort.track.count is None:
        return
    if animals > MOST_GROWN * cohort.track.count and not cohort.rough_count:
        yield more_animals(sentence("animals"), animals, cohort.track.count)


def _eggs(case: Case) -> Iterator[Question]:
    cohort, grams = case.cohort, case.number("grams")
    if cohort is None or grams is None:
        return
    yield from _too_soon(case, None, sentence("eggs"))
    flies, limits = flies_of(cohort), case.context.cohorts.limits
    total = grams + sum(each for _, each in cohort.eggs_grams)
    if not flies:
        return
    if limits.heaviest_female_mg and total > flies * limits.heaviest_female_mg * G_PER_MG:
        yield Question(
            "eggs_too_heavy",
            sentence(
                "{grams} g of eggs weigh more than the {flies} flies that laid them; "
                "where there are more, enter their number first",
                grams=f"{total:g}",
                flies=f"{flies:.0f}",
            ),
            refused=True,
        )
    elif limits.most_eggs_per_female and case.context.cohorts.eggs_per_gram:
        most = flies * limits.most_eggs_per_female / case.context.cohorts.eggs_per_gram
        if total > most:
            yield Question(
                "many_eggs",
                sentence(
                    "{grams} g of eggs from {flies} flies; if all were females they would lay {most} g",
                    grams=f"{total:g}",
                    flies=f"{flies:.0f}",
                    most=f"{most:.1f}",
                ),
            )


def _end(case: Case) -> Iterator[Question]:
    cohort, most_mg = case.cohort, case.context.cohorts.limits.heaviest_larva_mg
    grams, animals = case.number("grams"), case.number("animals")
    if cohort is None or cohort.track.count is None:
        return
    if animals is not None and animals > MOST_GROWN * cohort.track.count:
        yield more_animals(sentence("animals"), animals, cohort.track.count)
    count = animals or cohort.track.count
    if grams is not None and most_mg and count and grams * MG_PER_G > most_mg * count:
        yield Question(
            "heavy_larvae",
            sentence(
                "{grams} g of {count} animals are {each} mg each; up to {most} mg are known",
                grams=f"{grams:g}",
                count=f"{count:.0f}",
                each=f"{grams * MG_PER_G / count:.0f}",
                most=f"{most_mg:g}",
            ),
        )


# Bins.


def _fill(case: Case) -> Iterator[Question]:
    before = case.fills.get(case.entry.subject, ())
    surface_m2 = case.number("surface_m2") or (before[-1].facts.surface_m2 if before else None)
    kg, larvae = case.number("kg"), case.number("larvae")
    substrate = case.context.bins.substrates.get(str(case.entry.body.get("substrate") or ""))
    limits = substrate or case.context.bins.substrates[case.context.bins.usual_substrate]
    if surface_m2 and kg is not None:
        yield from _deep(kg, surface_m2, limits.heaviest_kg_m3, limits.usual_depth_m, limits.deepest_m)
    if surface_m2 and larvae is not None:
        yield from _crowded(case, case.entry.subject, larvae, surface_m2)


def _deep(kg: float, surface_m2: float, kg_m3: float, usual_m: float, deepest_m: float) -> Iterator[Question]:
    depth_m = kg / (surface_m2 * kg_m3)
    if depth_m > usual_m:
        yield Question(
            "deep",
            sentence(
                "{kg} kg on {surface} m² would stand {depth} cm deep even as heavy as water; "
                "{usual} cm are usual, {most} cm are the most",
                kg=f"{kg:g}",
                surface=f"{surface_m2:g}",
                depth=f"{100.0 * depth_m:.0f}",
                usual=f"{100.0 * usual_m:.0f}",
                most=f"{100.0 * deepest_m:.0f}",
            ),
            depth_m > deepest_m,
        )


def _put_on(case: Case) -> Iterator[Question]:
    """Water or feed on top of what is there."""
    fill, kg = case.filled(case.entry.subject), case.number("kg")
    if fill is None or kg is None:
        return
    limits = fill.facts.substrate
    moisture = 1.0 if case.entry.kind == BinEntryKind.WATER else case.number("moisture") or 0.0
    held = content_of(fill)
    after = held.with_more(kg, moisture)
    yield from _deep(
        after.kg, fill.facts.surface_m2, limits.heaviest_kg_m3, limits.usual_depth_m, limits.deepest_m
    )
    wet = 1.0 - after.dry_kg / after.kg
    if case.entry.kind == BinEntryKind.WATER and wet > limits.most_water:
        yield Question(
            "soup",
            sentence(
                "{kg} litres into {held} kg would make it {percent} % water; up to {most} % are believable",
                kg=f"{kg:g}",
                held=f"{held.kg:.1f}",
                percent=f"{100.0 * wet:.0f}",
                most=f"{100.0 * limits.most_water:.0f}",
            ),
        )


def _weigh(case: Case) -> Iterator[Question]:
    fill, kg = case.filled(case.entry.subject), case.number("kg")
    if fill is None or kg is None:
        return
    held_kg = content_of(fill).kg
    weights = {"kg": f"{kg:g}", "held": f"{held_kg:.1f}"}
    if kg > MOST_GROWN * held_kg + SCALE_KG:
        said = sentence(
            "{kg} kg weighed, and {held} kg at most are in it by the book; nothing becomes heavier. "
            "Where water or feed was put in, enter that first",
            **weights,
        )
        yield Question("heavier", said, kg > MOST_WEIGHED * held_kg + SCALE_KG)
    elif kg < LEAST_LEFT * held_kg:
        said = sentence("{kg} kg weighed, and {held} kg were put in; so little of it is left?", **weights)
        yield Question("lighter", said)


def _larvae(case: Case) -> Iterator[Question]:
    larvae = case.number("larvae")
    if larvae is not None:
        yield from _crowded(case, case.entry.subject, larvae)


_ASKED: Mapping[str, Callable[[Case], Iterator[Question]]] = {
    CohortEntryKind.START: _start,
    CohortEntryKind.MOVE: _move,
    CohortEntryKind.SAW: _saw,
    CohortEntryKind.FLIES: _flies,
    CohortEntryKind.COUNT: _count,
    CohortEntryKind.EGGS: _eggs,
    CohortEntryKind.END: _end,
    BinEntryKind.FILL: _fill,
    BinEntryKind.WATER: _put_on,
    BinEntryKind.FEED: _put_on,
    BinEntryKind.WEIGH: _weigh,
    BinEntryKind.LARVAE: _larvae,
    **YIELDS,
}
