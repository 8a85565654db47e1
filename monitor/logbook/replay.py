"""The replay of the logbook: its entries in the order of time become cohorts and filled bins.

A correction takes the place of the entry that it names. An entry that contradicts the others (before the
start, after the end, in the future, against an earlier one) changes nothing and is reported with the reason.
"""

from __future__ import annotations

from collections.abc import Callable, Container, Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import tzinfo
from typing import Protocol, TypeVar

from monitor.development.progress import Cohort, Ending, Purpose, Residence
from monitor.errors import UsageError
from monitor.logbook.bin_entries import PROBE_KIND, BinBook, BinFill, BinValidationContext, with_entry
from monitor.logbook.cohort_entries import (
    HANDLERS,
    CohortBook,
    CohortEntryKind,
    CohortValidationContext,
    refuse_before_start,
)
from monitor.logbook.entry import Refusal, in_force, kind_of, shown_time
from monitor.records import LogbookEntry, Stage, SubjectKind

_ORDER: Mapping[str, int] = {
    CohortEntryKind.START: 0,
    CohortEntryKind.SPLIT: 1,
    CohortEntryKind.MERGE: 3,
    CohortEntryKind.END: 4,
}
"""Order of entries of one moment: what begins a cohort comes first, what ends one last."""
_OTHERS = 2
_NOT_STORED = 2**62


class ValidationContext(Protocol):
    """What entries are checked against."""

    @property
    def zone(self) -> tzinfo:
        """The farm's time zone."""
        ...


class Book(Protocol):
    """What a replay gives."""

    @property
    def refused(self) -> tuple[Refusal, ...]:
        """The entries that contradict the others."""
        ...


AnyBook = TypeVar("AnyBook", bound=Book)
AnyContext = TypeVar("AnyContext", bound=ValidationContext)


def cohort_book(entries: Iterable[LogbookEntry], context: CohortValidationContext, now_ms: int) -> CohortBook:
    """The cohorts that the logbook tells of, with their planned moves.

    An earlier `now_ms` [ms since 1970 UTC] gives what was known at that time.
    """
    cohorts: dict[str, Cohort] = {}
    counting = in_force((entry for entry in entries if entry.subject_kind is SubjectKind.COHORT), now_ms)
    context, starts = _with_former_places(context, counting), _starts(counting)

    def apply(entry: LogbookEntry) -> None:
        refuse_before_start(entry, starts.get(entry.subject, entry.at_ms), context.zone)
        _refuse_wrong_time(entry, context, now_ms)
        cohorts.update(HANDLERS[kind_of(entry, CohortEntryKind)](cohorts, entry, context))

    refused = _replay(counting, apply)
    return CohortBook({name: _with_plans(cohort) for name, cohort in cohorts.items()}, refused)


def bin_book(entries: Iterable[LogbookEntry], context: BinValidationContext, now_ms: int) -> BinBook:
    """The fillings by place that the logbook tells of; entries about probes are none of them."""
    fills: dict[str, tuple[BinFill, ...]] = {}
    about_bins = (entry for entry in entries if entry.subject_kind is SubjectKind.BIN)

    def apply(entry: LogbookEntry) -> None:
        refuse_ahead(entry, now_ms, context.zone)
        fills[entry.subject] = with_entry(fills.get(entry.subject, ()), entry, context)

    refused = _replay((entry for entry in in_force(about_bins) if entry.kind != PROBE_KIND), apply)
    return BinBook(fills, refused)


def _replay(entries: Iterable[LogbookEntry], apply: Callable[[LogbookEntry], None]) -> tuple[Refusal, ...]:
    """Apply the entries in the order of time; gives those that were refused."""
    refused = []
    for entry in sorted(entries, key=_order):
        try:
            apply(entry)
        except UsageError as error:
            refused.append(Refusal(entry, error.said))
    return tuple(refused)


def _order(entry: LogbookEntry) -> tuple[int, int, int]:
    # A stored entry comes before a new one of the same moment: the new one has no number yet.
    return entry.at_ms, _ORDER.get(entry.kind, _OTHERS), entry.entry_id or _NOT_STORED


def check_entry(
    book_of: Callable[[Sequence[LogbookEntry], AnyContext, int], AnyBook],
    entries: Sequence[LogbookEntry],
    entry: LogbookEntry,
    context: AnyContext,
    now_ms: int,
) -> AnyBook:
    """Whether a new entry, a correction or a withdrawal may be written beside the stored ones.

    `book_of` is `cohort_book` or `bin_book`. Gives the book with the entry; UsageError says why it cannot be,
    or which stored entry it would make impossible.
    """
    before = {refusal.entry.entry_id for refusal in book_of(entries, context, now_ms).refused}
    after = book_of((*entries, entry), context, now_ms)
    for refusal in after.refused:
        if refusal.entry is entry:
            raise UsageError(
                "{subject}: {reason}. Nothing was written", subject=entry.subject, reason=refusal.reason
            )
    for refusal in after.refused:
        other = refusal.entry
        if other.entry_id not in before:
            raise UsageError(
                "{subject}: then entry {number} ({kind} of {other}, {time}) could not be: {reason}. "
                "Nothing was written",
                subject=entry.subject,
                number=other.entry_id,
                kind=other.kind,
                other=other.subject,
                time=shown_time(other.at_ms, context.zone),
                reason=refusal.reason,
            )
    return after


def refuse_ahead(entry: LogbookEntry, now_ms: int, zone: tzinfo) -> None:
    """Refuse an entry about a time that is still to come; `now_ms` is now [ms since 1970 UTC]."""
    if entry.at_ms > now_ms:
        raise UsageError(
            "{time} lies ahead (now: {now}); allowed: times that are past",
            time=shown_time(entry.at_ms, zone),
            now=shown_time(now_ms, zone),
        )


def _refuse_wrong_time(entry: LogbookEntry, context: CohortValidationContext, now_ms: int) -> None:
    if entry.kind != CohortEntryKind.PLANNED_MOVE:
        refuse_ahead(entry, now_ms, context.zone)
    elif entry.at_ms <= entry.entered_ms:
        raise UsageError(
            "{time} is past; a planned move lies ahead. For a move that was made leave --planned out",
            time=shown_time(entry.at_ms, context.zone),
        )


def _with_former_places(
    context: CohortValidationContext, entries: Iterable[LogbookEntry]
) -> CohortValidationContext:
    """A place that was taken out of the settings since is still known for what happened in it."""
    stored = [entry.body for entry in entries if entry.entry_id is not None]
    places, cages = ({str(body[key]) for body in stored if body.get(key)} for key in ("place", "cage"))
    titles = {**context.places, **{place: place for place in sorted(places - set(context.places))}}
    former = tuple(sorted(cages - set(context.cages)))
    return replace(context, places=titles, cages=(*context.cages, *former))


def _starts(entries: Iterable[LogbookEntry]) -> dict[str, int]:
    """When each cohort began, by its start or by the split that made it; the first where it is said twice."""
    starts: dict[str, int] = {}
    for entry in entries:
        name = str(entry.body.get("into")) if entry.kind == CohortEntryKind.SPLIT else entry.subject
        if entry.kind in (CohortEntryKind.START, CohortEntryKind.SPLIT):
            starts[name] = min(entry.at_ms, starts.get(name, entry.at_ms))
    return starts


def _with_plans(cohort: Cohort) -> Cohort:
    """The cohort with the moves that are planned after its last real one."""
    stays = list(cohort.track.residences)
    for planned in sorted(cohort.planned, key=lambda stay: stay.from_ms):
        if planned.from_ms > stays[-1].from_ms and planned.place != stays[-1].place and cohort.ended is None:
            stays.append(Residence(planned.place, planned.from_ms))
    return replace(cohort, track=replace(cohort.track, residences=tuple(stays)))


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
