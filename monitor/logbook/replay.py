"""Bins out of the logbook: its entries replayed in the order of time, each checked before it counts.

A correction takes the place of the entry that it names; the first one stays in the book. An entry that cannot
be so (before the filling, after the emptying, in the future) changes nothing and is reported with the reason.

Cohorts out of the logbook: its entries replayed in the order of time, each checked before it counts.

A correction takes the place of the entry that it names; the first one stays in the book. An entry that cannot
be so (before the start, after the end, in the future, against an earlier one) changes nothing and is
reported with the reason. Replaying with an earlier `now_ms` gives what was known at that time.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from monitor.bins.events import Emptied, require_bin
from monitor.development.progress import Cohort, Ending, Purpose, Residence
from monitor.errors import UsageError
from monitor.logbook.bin_entries import (
    EVENTS,
    BinBook,
    BinEntryKind,
    BinFill,
    BinRefusal,
    BinValidationContext,
    Done,
    filling_of,
)
from monitor.logbook.cohort_entries import EntryKind, ValidationContext, shown_time
from monitor.logbook.cohort_handlers import HANDLERS
from monitor.records import LogbookEntry, Stage, SubjectKind

WITHDRAWN = "withdrawn"
_ORDER: Mapping[str, int] = {EntryKind.START: 0, EntryKind.SPLIT: 1, EntryKind.MERGE: 3, EntryKind.END: 4}


@dataclass(frozen=True, slots=True)
class Refusal:
    """An entry that cannot be so, and why."""

    entry: LogbookEntry
    reason: str


@dataclass(frozen=True, slots=True)
class Replay:
    """All cohorts by name in the order in which they began, and the entries that were refused."""

    cohorts: Mapping[str, Cohort] = field(default_factory=dict)
    refused: tuple[Refusal, ...] = ()

    @property
    def living(self) -> tuple[Cohort, ...]:
        """Cohorts that have not ended."""
        return tuple(cohort for cohort in self.cohorts.values() if cohort.ended is None)


def in_force(entries: Iterable[LogbookEntry], now_ms: int) -> tuple[LogbookEntry, ...]:
    """The entries about cohorts that counted at a moment.

    Parameters
    ----------
    entries : iterable of LogbookEntry
        Every entry of the book, the corrected ones too.
    now_ms : int
        The moment [ms since 1970 UTC]; what was entered after it is not known yet.

    Returns
    -------
    tuple of LogbookEntry
        Without corrected and withdrawn ones.
    """
    known = [entry for entry in entries if entry.subject_kind is SubjectKind.COHORT]
    known = [entry for entry in known if entry.entered_ms <= now_ms]
    corrected = {entry.corrects for entry in known if entry.corrects is not None}
    return tuple(entry for entry in known if entry.entry_id not in corrected and entry.kind != WITHDRAWN)


def replay(entries: Iterable[LogbookEntry], ground: ValidationContext, now_ms: int) -> Replay:
    """The cohorts that the logbook tells of.

    Parameters
    ----------
    entries : iterable of LogbookEntry
        Every entry of the book, the corrected ones too.
    ground : Ground
        What they are checked against.
    now_ms : int
        Now [ms since 1970 UTC].

    Returns
    -------
    Replay
        Cohorts with their tracks, planned moves included, and what was refused.
    """
    cohorts: dict[str, Cohort] = {}
    refused = []
    counting = in_force(entries, now_ms)
    ground, starts = _with_former_places(ground, counting), _starts(counting)
    for entry in sorted(counting, key=_order):
        try:
            _refuse_wrong_time(entry, starts, ground, now_ms)
            cohorts.update(_handler(entry)(cohorts, entry, ground))
        except UsageError as error:
            refused.append(Refusal(entry, str(error)))
    planned = {name: _with_plans(cohort) for name, cohort in cohorts.items()}
    return Replay(planned, tuple(refused))


def _with_former_places(ground: ValidationContext, entries: Iterable[LogbookEntry]) -> ValidationContext:
    """A place that was taken out of the settings since is still known for what happened in it."""
    stored = [entry.body for entry in entries if entry.entry_id is not None]
    places, cages = ({str(body[key]) for body in stored if body.get(key)} for key in ("place", "cage"))
    titles = {**ground.places, **{place: place for place in sorted(places - set(ground.places))}}
    former = tuple(sorted(cages - set(ground.cages)))
    return replace(ground, places=titles, cages=(*ground.cages, *former))


def _order(entry: LogbookEntry) -> tuple[int, int, int]:
    # A stored entry comes before a new one of the same moment: the new one has no number yet.
    return entry.at_ms, _ORDER.get(entry.kind, 2), entry.entry_id or 2**62


Handler = Callable[[Mapping[str, Cohort], LogbookEntry, ValidationContext], Mapping[str, Cohort]]


def _handler(entry: LogbookEntry) -> Handler:
    if entry.kind not in HANDLERS:
        raise UsageError(f"{entry.kind!r} is no kind of entry; allowed: {', '.join(EntryKind)}")
    return HANDLERS[EntryKind(entry.kind)]


def _starts(entries: Iterable[LogbookEntry]) -> dict[str, int]:
    """When each cohort began, by its start or by the split that made it; the first where it is said twice."""
    found: dict[str, int] = {}
    for entry in entries:
        name = str(entry.body.get("into")) if entry.kind == EntryKind.SPLIT else entry.subject
        if entry.kind in (EntryKind.START, EntryKind.SPLIT):
            found[name] = min(entry.at_ms, found.get(name, entry.at_ms))
    return found


def _refuse_wrong_time(
    entry: LogbookEntry, starts: Mapping[str, int], ground: ValidationContext, now_ms: int
) -> None:
    start_ms = starts.get(entry.subject, entry.at_ms)
    if entry.at_ms < start_ms:
        began = shown_time(start_ms, ground.zone)
        raise UsageError(f"{shown_time(entry.at_ms, ground.zone)} is before its start ({began})")
    if entry.kind != EntryKind.PLANNED_MOVE and entry.at_ms > now_ms:
        raise UsageError(
            f"{shown_time(entry.at_ms, ground.zone)} lies ahead (now: {shown_time(now_ms, ground.zone)}); "
            "allowed: times that are past"
        )
    if entry.kind == EntryKind.PLANNED_MOVE and entry.at_ms <= entry.entered_ms:
        raise UsageError(
            f"{shown_time(entry.at_ms, ground.zone)} is past; a planned move lies ahead. "
            "For a move that was made leave --planned out"
        )


def _with_plans(cohort: Cohort) -> Cohort:
    """The cohort with the moves that are planned after its last real one."""
    stays = list(cohort.track.residences)
    for planned in sorted(cohort.planned, key=lambda stay: stay.from_ms):
        if planned.from_ms > stays[-1].from_ms and planned.place != stays[-1].place and cohort.ended is None:
            stays.append(Residence(planned.place, planned.from_ms))
    return replace(cohort, track=replace(cohort.track, residences=tuple(stays)))


def check_entry(
    entries: Sequence[LogbookEntry], entry: LogbookEntry, ground: ValidationContext, now_ms: int
) -> Replay:
    """Whether a new entry may be written; raises UsageError with the reason when not.

    Parameters
    ----------
    entries : sequence of LogbookEntry
        Every entry of the book so far.
    entry : LogbookEntry
        The new one, a correction or withdrawal too.
    ground : Ground
        What it is checked against.
    now_ms : int
        Now [ms since 1970 UTC].

    Returns
    -------
    Replay
        The cohorts as they are with it. A change that makes another entry impossible is refused too.
    """
    before = {refusal.entry.entry_id for refusal in replay(entries, ground, now_ms).refused}
    after = replay((*entries, entry), ground, now_ms)
    for refusal in after.refused:
        if refusal.entry is entry:
            raise UsageError(f"{entry.subject}: {refusal.reason}. Nothing was written")
    for refusal in after.refused:
        if refusal.entry.entry_id not in before:
            other = refusal.entry
            raise UsageError(
                f"{entry.subject}: then entry {other.entry_id} ({other.kind} of {other.subject}, "
                f"{shown_time(other.at_ms, ground.zone)}) could not be: {refusal.reason}. Nothing was written"
            )
    return after


def stages_by_place(cohorts: Iterable[Cohort], stages: Mapping[str, Stage], now_ms: int) -> dict[str, Stage]:
    """Which stage lives in each place now; the youngest one where there are several.

    Parameters
    ----------
    cohorts : iterable of Cohort
        All cohorts.
    stages : mapping
        Stage of each living cohort by its name.
    now_ms : int
        Now [ms since 1970 UTC].

    Returns
    -------
    dict
        Stage by place. Flies live in the cage that their cohort names.
    """
    order, found = list(Stage), dict[str, Stage]()
    for cohort in cohorts:
        stage = stages.get(cohort.name)
        if cohort.ended is not None or stage is None:
            continue
        place = home_of(cohort, stage, now_ms)
        if place not in found or order.index(stage) < order.index(found[place]):
            found[place] = stage
    return found


def home_of(cohort: Cohort, stage: Stage | None, now_ms: int) -> str:
    """Where a cohort lives now.

    Parameters
    ----------
    cohort : Cohort
        The cohort.
    stage : Stage or None
        Its stage now; flies live in the cage of their cohort.
    now_ms : int
        Now [ms since 1970 UTC].

    Returns
    -------
    str
        The place.
    """
    if stage is Stage.ADULT and cohort.cage is not None:
        return cohort.cage
    return cohort.place_at(now_ms)


def places_left(cohorts: Iterable[Cohort], occupied: Iterable[str], now_ms: int) -> frozenset[str]:
    """Places in which cohorts have lived, and none does now.

    Parameters
    ----------
    cohorts : iterable of Cohort
        All cohorts, the ended ones too.
    occupied : iterable of str
        Places in which one lives.
    now_ms : int
        Now [ms since 1970 UTC].

    Returns
    -------
    frozenset of str
        A place of which the logbook never spoke is not among them: nothing is known of it.
    """
    known = {stay.place for cohort in cohorts for stay in cohort.track.residences if stay.from_ms <= now_ms}
    return frozenset(known - set(occupied))


def flies_into(cohort: Cohort, cages: tuple[str, ...]) -> str | None:
    """The cage into which the flies of a cohort go.

    Parameters
    ----------
    cohort : Cohort
        The cohort.
    cages : tuple of str
        All love cages.

    Returns
    -------
    str or None
        The one that it names, the one in which it lives, the only one; else None.
    """
    if cohort.cage is not None:
        return cohort.cage
    last = cohort.track.residences[-1].place
    if last in cages:
        return last
    return cages[0] if len(cages) == 1 else None


def is_for_breeding(cohort: Cohort, breeding_places: frozenset[str]) -> bool:
    """Whether the flies of a cohort are wanted.

    Parameters
    ----------
    cohort : Cohort
        The cohort.
    breeding_places : frozenset of str
        Pupation boxes and love cages.

    Returns
    -------
    bool
        As it was said; else whether it lives, or is planned to live, where flies come out.
    """
    if cohort.ended is not None and cohort.ended.how is not Ending.EMERGED:
        return False
    if cohort.purpose is not None:
        return cohort.purpose is Purpose.BREEDING
    return cohort.cage is not None or cohort.track.residences[-1].place in breeding_places


PROBE_KIND = "probe"
"""Entries about a moisture probe stand in the book of bins, with the sensor as their subject."""


def bin_entries_in_force(entries: Iterable[LogbookEntry]) -> tuple[LogbookEntry, ...]:
    """The entries about bins that count.

    Parameters
    ----------
    entries : iterable of LogbookEntry
        Every entry of the book, the corrected ones too.

    Returns
    -------
    tuple of LogbookEntry
        Without corrected and withdrawn ones, and without those about probes.
    """
    known = [entry for entry in entries if entry.subject_kind is SubjectKind.BIN]
    corrected = {entry.corrects for entry in known if entry.corrects is not None}
    left_out = (WITHDRAWN, PROBE_KIND)
    return tuple(each for each in known if each.entry_id not in corrected and each.kind not in left_out)


def bin_book(entries: Iterable[LogbookEntry], ground: BinValidationContext, now_ms: int) -> BinBook:
    """The bins that the logbook tells of.

    Parameters
    ----------
    entries : iterable of LogbookEntry
        Every entry of the book, the corrected ones too.
    ground : BinValidationContext
        What they are checked against.
    now_ms : int
        Now [ms since 1970 UTC].

    Returns
    -------
    BinBook
        Fillings by place, and what was refused.
    """
    fills: dict[str, tuple[BinFill, ...]] = {}
    refused = []
    for entry in sorted(bin_entries_in_force(entries), key=_bin_order):
        try:
            fills[entry.subject] = _with(fills.get(entry.subject, ()), entry, ground, now_ms)
        except UsageError as error:
            refused.append(BinRefusal(entry, str(error)))
    return BinBook({place: found for place, found in fills.items() if found}, tuple(refused))


def _bin_order(entry: LogbookEntry) -> tuple[int, int, int]:
    # A stored entry comes before a new one of the same moment: the new one has no number yet.
    return entry.at_ms, _ORDER.get(entry.kind, 2), entry.entry_id or 2**62


def _with(
    fills: tuple[BinFill, ...], entry: LogbookEntry, ground: BinValidationContext, now_ms: int
) -> tuple[BinFill, ...]:
    """The fillings of a place with one more entry."""
    if entry.kind not in tuple(BinEntryKind):
        raise UsageError(f"{entry.kind!r} is no kind of entry; allowed: {', '.join(BinEntryKind)}")
    if entry.subject not in ground.titles and entry.entry_id is None:
        raise UsageError(f"{entry.subject} cannot be filled; allowed: {', '.join(ground.titles)}")
    _refuse_ahead(entry, ground, now_ms)
    last = fills[-1] if fills else None
    if entry.kind == BinEntryKind.FILL:
        return (*fills, _filled(entry, ground, last))
    if last is None:
        raise UsageError("it was not filled before that; enter `bin fill` first, with its time")
    if last.emptied_ms is not None:
        emptied = shown_time(last.emptied_ms, ground.zone)
        raise UsageError(f"it was emptied on {emptied} and not filled since; enter `bin fill` first")
    return (*fills[:-1], _after(last, entry))


def _refuse_ahead(entry: LogbookEntry, ground: BinValidationContext, now_ms: int) -> None:
    if entry.at_ms > now_ms:
        raise UsageError(
            f"{shown_time(entry.at_ms, ground.zone)} lies ahead (now: {shown_time(now_ms, ground.zone)}); "
            "allowed: times that are past"
        )


def _filled(entry: LogbookEntry, ground: BinValidationContext, last: BinFill | None) -> BinFill:
    if last is not None and last.emptied_ms is None:
        since = shown_time(last.facts.filled_ms, ground.zone)
        raise UsageError(
            f"it has been filled since {since}; enter `bin empty` first, or `bin feed` for feed put on top"
        )
    fill = filling_of(entry, ground, last)
    require_bin(fill.facts, (), entry.at_ms)
    return fill


def _after(fill: BinFill, entry: LogbookEntry) -> BinFill:
    event = EVENTS[BinEntryKind(entry.kind)](entry)
    name = entry.body.get("cohort")
    return replace(
        fill,
        done=(*fill.done, Done(entry, event)),
        cohorts=(*fill.cohorts, name) if isinstance(name, str) and name else fill.cohorts,
        emptied_ms=event.at_ms if isinstance(event, Emptied) else None,
    )


def check_bin_entry(
    entries: Sequence[LogbookEntry], entry: LogbookEntry, ground: BinValidationContext, now_ms: int
) -> BinBook:
    """Whether a new entry may be written; raises UsageError with the reason when not.

    Parameters
    ----------
    entries : sequence of LogbookEntry
        Every entry of the book so far.
    entry : LogbookEntry
        The new one, a correction or withdrawal too.
    ground : BinValidationContext
        What it is checked against.
    now_ms : int
        Now [ms since 1970 UTC].

    Returns
    -------
    BinBook
        The bins as they are with it. A change that makes another entry impossible is refused too.
    """
    before = {refusal.entry.entry_id for refusal in bin_book(entries, ground, now_ms).refused}
    after = bin_book((*entries, entry), ground, now_ms)
    for refusal in after.refused:
        if refusal.entry is entry:
            raise UsageError(f"{entry.subject}: {refusal.reason}. Nothing was written")
        if refusal.entry.entry_id not in before:
            other = refusal.entry
            raise UsageError(
                f"{entry.subject}: then entry {other.entry_id} ({other.kind}, "
                f"{shown_time(other.at_ms, ground.zone)}) could not be: {refusal.reason}. Nothing was written"
            )
    return after
