"""The logbook of this farm as one record: what its entries are checked against, and the replay of them.

A logbook in which bins and cohorts stood apart is carried over once; what was found then is kept.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import asdict, dataclass, replace
from typing import Any

from monitor.bins.lessons import FactorPrior, Lesson, taught
from monitor.bins.substrate import BinFacts, SubstrateParameters
from monitor.climate.psychrometrics import standard_pressure_pa
from monitor.errors import Sentence, UsageError, sentence
from monitor.logbook.animals import animals_of, as_beginning, is_linked, speaks_of_larvae
from monitor.logbook.bin_entries import BinFill, BinValidationContext
from monitor.logbook.cohort_entries import (
    CohortEntryKind,
    CohortValidationContext,
    validation_context_of,
)
from monitor.logbook.entry import Refusal, in_force
from monitor.logbook.replay import FarmBook, FarmContext, Replayed, check_entry, farm_book, replayed
from monitor.records import MS_PER_DAY, LogbookEntry, PlaceKind, Quantity, SensorKey, Stage, SubjectKind
from monitor.settings.plan import Plan
from monitor.settings.species import available_substrates, load_substrate, species_parameters
from monitor.store import Store
from monitor.store.logbook import LogbookMemory
from monitor.yields.assumptions import assumptions_of
from monitor.yields.cohorts import egg_days
from monitor.yields.money import Prices
from monitor.yields.sums import Wanted

CARRIER = "monitor"
"""In whose name entries are added when an old logbook is carried over."""
FILLED_KINDS = (PlaceKind.GROW_OUT_BIN, PlaceKind.HATCHING_TRAY, PlaceKind.PUPATION_BOX)
USUAL_SUBSTRATE = "wheat_bran"
CARRIED_OVER = "one_logbook"
"""The fact in the store that it was done, with what was found."""
LESSONS = "fill_lessons"
"""The fact in the store that holds what fills teach each other."""
SHOWN_MS = 7 * MS_PER_DAY
"""For how long Now says what was found. Own choice."""


def book_of(store: Store, plan: Plan, now_ms: int, known_ms: int | None = None) -> FarmBook:
    """Cohorts and bins as the logbook tells of them, without any computation.

    With `known_ms` only from what had been entered by then.
    """
    return farm_book(store.logbook.every(), farm_context(store, plan), now_ms, known_ms)


def wanted_of_farm(
    plan: Plan, book: FarmBook, needed_a_week: float | None = None, prices: Prices | None = None
) -> Wanted:
    """What sums of this farm are told beside the entries; its own prices unless others are given."""
    fills = [fill for every in book.fills.values() for fill in every]
    return Wanted(
        assumed=assumptions_of(species_parameters(plan.species).adult),
        egg_ms=egg_days(book.cohorts.values()),
        emptied_ms={
            (fill.place, fill.facts.filled_ms): fill.emptied_ms
            for fill in fills
            if fill.emptied_ms is not None
        },
        needed_a_week=needed_a_week,
        prices=prices_of_farm(plan) if prices is None else prices,
    )


def cages_of(plan: Plan) -> tuple[str, ...]:
    """The love cages of a farm."""
    return tuple(place.id for place in plan.settings.places if place.kind is PlaceKind.LOVE_CAGE)


def prices_of_farm(plan: Plan) -> Prices | None:
    """What the farm is paid and pays, as the settings say it; None where nothing is to be said of money."""
    said = plan.settings.prices
    if said is None:
        return None
    others = {} if said.feed_kg is None else {"": said.feed_kg}
    return Prices(said.currency, said.egg_gram, said.larvae_kg, {**others, **said.feeds} or None)


class BookKeeper:
    """The logbook of one store, read once: entries never change, so only newer ones are read and replayed.

    It may be asked from any thread; what it holds is replaced whole.
    """

    def __init__(self) -> None:
        self._memory = LogbookMemory()
        self._replayed: Replayed | None = None

    def book_of(self, store: Store, plan: Plan, now_ms: int) -> FarmBook:
        """The same as `book_of`."""
        entries = self._memory.every(store.logbook)
        made = replayed(entries, farm_context(store, plan), now_ms, earlier=self._replayed)
        self._replayed = made
        return made.book


def refused_about(about: SubjectKind, book: FarmBook) -> tuple[Refusal, ...]:
    """The entries about cohorts or about bins that were refused."""
    return tuple(refusal for refusal in book.refused if refusal.entry.subject_kind is about)


def farm_context(store: Store, plan: Plan) -> FarmContext:
    """What entries are checked against on this farm."""
    return FarmContext(farm_validation_context(plan), bin_validation_context(store, plan))


def farm_validation_context(plan: Plan) -> CohortValidationContext:
    """What entries about cohorts are checked against on this farm."""
    places = {place.id: plan.title(place.id) for place in plan.settings.places}
    return validation_context_of(
        places, cages_of(plan), plan.zone, species_parameters(plan.species), tuple(plan.species.diets)
    )


def bin_validation_context(store: Store, plan: Plan) -> BinValidationContext:
    """What entries about bins are checked against on this farm, with the thermometers ever heard."""
    places = [place for place in plan.settings.places if place.kind in FILLED_KINDS]
    heard = (key for key in store.readings.sensors() if key.quantity == Quantity.SUBSTRATE_TEMPERATURE)
    here = {plan.home_of(key) for key in (*heard, *_expected(plan))}
    return BinValidationContext(
        titles={place.id: plan.title(place.id) for place in places},
        zone=plan.zone,
        substrates=_SUBSTRATES,
        usual_substrate=USUAL_SUBSTRATE,
        probed=frozenset(place.id for place in places if place.id in here),
        pressure_pa=float(standard_pressure_pa(plan.settings.site.altitude_m)),
    )


class _Substrates(Mapping[str, SubstrateParameters]):
    """The substrates that come with the program; each file is read when its substrate is asked for."""

    def __getitem__(self, name: str) -> SubstrateParameters:
        if name not in available_substrates():
            raise KeyError(name)
        return load_substrate(name)

    def __iter__(self) -> Iterator[str]:
        return iter(available_substrates())

    def __len__(self) -> int:
        return len(available_substrates())


_SUBSTRATES = _Substrates()


def _expected(plan: Plan) -> Iterable[SensorKey]:
    for node in plan.nodes.values():
        for measured in node.measures:
            probe, _, quantity = measured.rpartition("/")
            if quantity == Quantity.SUBSTRATE_TEMPERATURE:
                yield SensorKey(node.id, probe, quantity)


def carry_over(store: Store, plan: Plan, now_ms: int) -> tuple[Carried, ...]:
    """Do it, unless it was done; gives what was found. `now_ms` is now [ms since 1970 UTC].

    A standing filling with larvae in which no cohort lives begins one; where both have a number, that of the
    cohort stands. Nothing that was written is changed.
    """
    with store.logbook.adding():
        if store.meta.get(CARRIED_OVER) is not None:
            return ()
        found = tuple(_carried(store, farm_context(store, plan), now_ms))
        keep_carried(store, found, now_ms)
    return found


def _carried(store: Store, context: FarmContext, now_ms: int) -> Iterable[Carried]:
    entries = store.logbook.every()
    book = farm_book(entries, context, now_ms)
    for fill in book.standing:
        entry = _entry_of_larvae(entries, fill)
        if entry is not None:
            yield from _one(store, entry, fill, book, context, now_ms)


def _entry_of_larvae(entries: Iterable[LogbookEntry], fill: BinFill) -> LogbookEntry | None:
    """The last entry that gave a filling its own number of larvae, None where there is none."""
    about = [
        each
        for each in in_force(entries)
        if each.subject_kind is SubjectKind.BIN
        and (each.subject, each.at_ms >= fill.facts.filled_ms) == (fill.place, True)
        and speaks_of_larvae(each)
    ]
    return about[-1] if about and not is_linked(about[-1]) and _number(about[-1]) is not None else None


def _number(entry: LogbookEntry) -> float | None:
    larvae = entry.body.get("larvae")
    return float(larvae) if isinstance(larvae, int | float) else None


def _one(
    store: Store, entry: LogbookEntry, fill: BinFill, book: FarmBook, context: FarmContext, now_ms: int
) -> Iterable[Carried]:
    number, said = entry.entry_id or 0, _number(entry) or 0.0
    there = book.living_in(fill.place, now_ms)
    names, counted = tuple(cohort.name for cohort in there), animals_of(there)
    if fill.unnamed is not None:
        body = {key: value for key, value in entry.body.items() if key != "cohort"}
        made = as_beginning(
            replace(entry, body=body, entry_id=None, corrects=number), book.cohorts, context.cohorts
        )
        if _write(store, made, context, now_ms):
            yield Carried(fill.place, number, said, (str(made.body["cohort"]),), begun=True)
    elif counted is None and len(there) == 1:
        start_ms = max(fill.facts.filled_ms, there[0].track.residences[-1].from_ms)
        body = {"animals": said, "stage": Stage.LARVA.value, "rough": True}
        kind, about = CohortEntryKind.COUNT, SubjectKind.COHORT
        if _write(
            store, LogbookEntry(about, names[0], kind, start_ms, now_ms, CARRIER, body), context, now_ms
        ):
            yield Carried(fill.place, number, said, names)
    elif there and (counted is None or abs(counted - said) >= 1.0):
        yield Carried(fill.place, number, said, names, counted or 0.0)


def _write(store: Store, entry: LogbookEntry, context: FarmContext, now_ms: int) -> bool:
    """Add an entry where it can be; what cannot be carried over stays as it was."""
    made = replace(entry, entered_ms=now_ms, author=CARRIER)
    try:
        check_entry(store.logbook.every(), made, context, now_ms)
    except UsageError:
        return False
    store.logbook.add(made)
    return True


@dataclass(frozen=True, slots=True)
class Carried:
    """One bin whose filling gave a number of larvae of its own, and what counts now.

    `counted` is what its cohorts count; None where they had no number, so that the filling's counts.
    `entry` is the filling's entry. With `begun` the larvae have become the one cohort that is named.
    """

    place: str
    entry: int
    said: float
    cohorts: tuple[str, ...]
    counted: float | None = None
    begun: bool = False


def keep_carried(store: Store, found: Iterable[Carried], now_ms: int) -> None:
    """Keep what was found, and that it was done."""
    store.meta.put(CARRIED_OVER, json.dumps({"at_ms": now_ms, "found": [asdict(each) for each in found]}))


def carried_over(store: Store, since_ms: int = 0) -> tuple[Sentence, ...]:
    """What was found when the logbook was carried over, unless that was before `since_ms`."""
    text = store.meta.get(CARRIED_OVER)
    kept: dict[str, Any] = {"at_ms": 0, "found": []} if text is None else json.loads(text)
    if kept["at_ms"] < since_ms:
        return ()
    return tuple(
        _found_text(Carried(**{**each, "cohorts": tuple(each["cohorts"])})) for each in kept["found"]
    )


def _found_text(carried: Carried) -> Sentence:
    values: dict[str, object] = {
        "place": carried.place,
        "said": f"{carried.said:.0f}",
        "cohorts": ", ".join(carried.cohorts),
        "counted": "" if carried.counted is None else f"{carried.counted:.0f}",
    }
    if carried.begun:
        return sentence(
            "{place}: its {said} larvae have become the cohort {cohorts}. If they are those of another, or "
            "for a better name: `bin correct {entry} --cohort NAME`",
            **values,
            entry=carried.entry,
        )
    correct = f"cohort count {carried.cohorts[0]} --animals NUMBER"
    if carried.counted is None:
        return sentence(
            "{place}: {cohorts} had no number, so the {said} larvae of the filling count now. To put it "
            "right: `{command}`",
            **values,
            command=correct,
        )
    return sentence(
        "{place}: the filling said {said} larvae and its cohorts ({cohorts}) {counted} animals; {counted} "
        "count now. To put it right: `{command}`",
        **values,
        command=correct,
    )


def factor_prior(store: Store, fill: BinFill) -> FactorPrior:
    """What the other fills of the farm say of the evaporation of this one, from the lessons that are kept."""
    mine, like = lesson_key(fill), like_fills(fill.facts)
    lessons = [
        Lesson(each["log_factor"], each["log_sd"])
        for key, each in kept_lessons(store).items()
        if key != mine and each["like"] == like and each["log_sd"] is not None
    ]
    return taught(lessons)


def kept_lessons(store: Store) -> dict[str, dict[str, Any]]:
    """What fills taught by fill, as it was worked out: its mark, what it is like, the lesson or None."""
    kept: dict[str, dict[str, Any]] = json.loads(store.meta.get(LESSONS) or "{}")
    return kept


def lesson_key(fill: BinFill) -> str:
    """The name under which the lesson of a fill is kept."""
    return f"{fill.place}@{fill.facts.filled_ms}"


def like_fills(facts: BinFacts) -> str:
    """Fills of one kind teach each other: with a thermometer or without, under a like cover, with larvae or
    without.
    """
    return f"{facts.probe_depth_m is not None}/{facts.cover.value}/{facts.larvae is not None}"
