"""The replay of the logbook: its entries in the order of time become cohorts and filled bins, at once.

A correction takes the place of the entry that it names. An entry that contradicts the others (before the
start, after the end, in the future, against an earlier one) changes nothing and is reported with the reason.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import tzinfo
from operator import attrgetter

from monitor.bins.events import LarvaeChanged
from monitor.bins.substrate import Larvae
from monitor.development.progress import Cohort, Residence
from monitor.errors import Sentence, UsageError, sentence
from monitor.logbook.animals import (
    Group,
    animals_of,
    arrivals,
    begun_by,
    ended_by,
    fewer,
    groups_after,
    home,
    larvae_of,
    left_of,
    living_in,
    put_in,
    said_to_arrive,
    unnamed_larvae,
)
from monitor.logbook.bin_entries import (
    PROBE_KIND,
    BinEntryKind,
    BinFill,
    BinValidationContext,
    with_entry,
)
from monitor.logbook.cohort_entries import (
    HANDLERS,
    CohortEntryKind,
    CohortValidationContext,
    refuse_before_start,
)
from monitor.logbook.entry import Refusal, in_force, kind_of, names, shown_time
from monitor.logbook.yield_entries import caged, is_about_a_cage
from monitor.records import MS_PER_DAY, LogbookEntry, SubjectKind

_ORDER: Mapping[str, int] = {
    CohortEntryKind.START: 0,
    CohortEntryKind.SPLIT: 1,
    CohortEntryKind.MERGE: 3,
    CohortEntryKind.END: 4,
}
"""Order of entries about cohorts of one moment: what begins one comes first, what ends one last. What is
about a bin comes with the latter, since animals come and go before a bin is filled or emptied."""
_OTHERS, _BINS = 2, 4
_NOT_STORED = 2**62
SAME_AGE_DAYS = 1e-6
MARKS_BACK = (4, 16, 64, 256, 1024)
"""How many entries before its end a replay is marked, since most that people enter or undo is new."""


@dataclass(frozen=True, slots=True)
class FarmContext:
    """What entries are checked against: what is known of cohorts, and of bins."""

    cohorts: CohortValidationContext
    bins: BinValidationContext

    @property
    def zone(self) -> tzinfo:
        """The farm's time zone."""
        return self.cohorts.zone


@dataclass(frozen=True, slots=True)
class FarmBook:
    """What the logbook tells of, and the entries that were refused.

    Cohorts stand by name in the order in which they began, fillings by place in the order of time. The
    animals of a filling are the cohorts that live in it.
    """

    cohorts: Mapping[str, Cohort] = field(default_factory=dict)
    fills: Mapping[str, tuple[BinFill, ...]] = field(default_factory=dict)
    refused: tuple[Refusal, ...] = ()

    @property
    def living(self) -> tuple[Cohort, ...]:
        """Cohorts that have not ended."""
        return tuple(cohort for cohort in self.cohorts.values() if cohort.ended is None)

    def living_in(self, place: str, at_ms: int) -> tuple[Cohort, ...]:
        """The cohorts that have not ended and live in a place at a moment [ms since 1970 UTC]."""
        return tuple(cohort for cohort in self.living if cohort.place_at(at_ms) == place)

    def filled(self, place: str) -> BinFill | None:
        """The filling that stands in a place now, or None."""
        fills = self.fills.get(place, ())
        return fills[-1] if fills and fills[-1].emptied_ms is None else None

    @property
    def standing(self) -> tuple[BinFill, ...]:
        """Everything that is filled now."""
        return tuple(fills[-1] for fills in self.fills.values() if fills[-1].emptied_ms is None)


Watch = Callable[[LogbookEntry, Mapping[str, Cohort], Mapping[str, tuple[BinFill, ...]]], None]
"""Is shown each entry with the cohorts and fillings as they were just before it."""


def farm_book(
    entries: Iterable[LogbookEntry],
    context: FarmContext,
    now_ms: int,
    known_ms: int | None = None,
    watch: Watch | None = None,
) -> FarmBook:
    """The cohorts with their planned moves and the filled bins, as the logbook tells of them at `now_ms`.

    With `known_ms` only what had been entered by then counts: what was known at an earlier moment. Without it
    a stored entry counts whatever the clock says: one that lies ahead was written while the clock was wrong.
    Times are ms since 1970 UTC.
    """
    return replayed(entries, context, now_ms, known_ms, watch).book


@dataclass(frozen=True, slots=True)
class _Mark:
    """How far a replay was after its first `count` entries."""

    count: int
    cohorts: Mapping[str, Cohort]
    fills: Mapping[str, tuple[BinFill, ...]]
    groups: Mapping[str, Group]
    refused: tuple[Refusal, ...]


@dataclass(frozen=True, slots=True)
class Replayed:
    """A replay with marks near its end, from which the next one goes on where what is before is the same."""

    book: FarmBook
    _order: tuple[LogbookEntry, ...]
    _context: FarmContext
    _now_ms: int
    _starts: Mapping[str, int]
    marks: tuple[_Mark, ...]

    def mark_for(
        self, order: Sequence[LogbookEntry], context: FarmContext, now_ms: int, starts: Mapping[str, int]
    ) -> _Mark | None:
        """The last mark up to which a replay of other entries at another moment goes the same way."""
        if context != self._context:
            return None
        first_ms, last_ms = sorted((now_ms, self._now_ms))
        same = 0
        for before, after in zip(self._order, order, strict=False):
            # What begins to lie in the past counts from then on.
            passed = first_ms < before.at_ms <= last_ms
            as_before = (before.entry_id, before.at_ms) == (after.entry_id, after.at_ms)
            begins = starts.get(after.subject), self._starts.get(after.subject)
            if before.entry_id is None or passed or not as_before or begins[0] != begins[1]:
                break
            same += 1
        return max((mark for mark in self.marks if mark.count <= same), key=attrgetter("count"), default=None)


def _nearest(marks: Sequence[_Mark], end: int) -> tuple[_Mark, ...]:
    """Of many marks the last one before each distance from the end, so that their number stays."""
    found = (
        max((m for m in marks if m.count <= end - b), key=attrgetter("count"), default=None)
        for b in (0, *MARKS_BACK)
    )
    return tuple({mark.count: mark for mark in found if mark is not None}.values())


def replayed(
    entries: Iterable[LogbookEntry],
    context: FarmContext,
    now_ms: int,
    known_ms: int | None = None,
    watch: Watch | None = None,
    earlier: Replayed | None = None,
) -> Replayed:
    """The replay of `farm_book`; it goes on from an `earlier` one of the logbook where nobody watches."""
    counting = _in_time(in_force(entries, known_ms), now_ms)
    starts = _starts(counting)
    begun = _begun(counting, starts)
    starts |= begun
    replay = _Replay(_with_former_places(context, counting), now_ms, starts, begun)
    order, refused, marks = tuple(sorted(counting, key=replay.order)), list[Refusal](), list[_Mark]()
    mark = None
    if earlier is not None and watch is None and known_ms is None:
        mark = earlier.mark_for(order, replay.context, now_ms, starts)
    first = 0
    if earlier is not None and mark is not None:
        replay.go_on_from(mark)
        first, refused = mark.count, [*mark.refused]
        marks = [each for each in earlier.marks if each.count <= first]
    wanted = {len(order) - back for back in MARKS_BACK}
    for done, entry in enumerate(order[first:], first):
        if done in wanted:
            marks.append(replay.mark(done, refused))
        if watch is not None:
            watch(entry, replay.cohorts, replay.fills)
        try:
            replay.apply(entry)
        except UsageError as error:
            refused.append(Refusal(entry, error.said))
    marks.append(replay.mark(len(order), refused))
    cohorts = {name: _with_plans(cohort) for name, cohort in replay.cohorts.items()}
    book = FarmBook(cohorts, replay.fills, tuple(refused))
    return Replayed(book, order, replay.context, now_ms, starts, _nearest(marks, len(order)))


def _in_time(entries: Iterable[LogbookEntry], now_ms: int) -> list[LogbookEntry]:
    """Entries about cohorts and bins; those that lie ahead are put before what was entered after them.

    The numbers tell the order in which they were entered, whatever the clock said.
    """
    about = [entry for entry in entries if _is_about_animals(entry)]
    ahead = sorted((entry for entry in about if _lies_ahead(entry, now_ms)), key=_as_written)
    if not ahead:
        return about
    moved = {
        entry.entry_id: replace(entry, at_ms=_latest_ms(entry, about, now_ms) - len(ahead) + place)
        for place, entry in enumerate(ahead)
    }
    return [moved.get(entry.entry_id, entry) if entry.entry_id else entry for entry in about]


def _is_about_animals(entry: LogbookEntry) -> bool:
    if entry.subject_kind is SubjectKind.BIN:
        return entry.kind != PROBE_KIND
    return entry.subject_kind is SubjectKind.COHORT or is_about_a_cage(entry)


def _lies_ahead(entry: LogbookEntry, now_ms: int) -> bool:
    planned = entry.kind == CohortEntryKind.PLANNED_MOVE
    return entry.entry_id is not None and entry.at_ms > now_ms and not planned


def _latest_ms(entry: LogbookEntry, entries: Iterable[LogbookEntry], now_ms: int) -> int:
    """When an entry that lies ahead was made at the latest: before those that were entered after it."""
    after = (other for other in entries if (other.entry_id or _NOT_STORED) > (entry.entry_id or 0))
    return min((other.entered_ms for other in after if other.entered_ms <= now_ms), default=now_ms)


def _as_written(entry: LogbookEntry) -> tuple[int, int]:
    return entry.at_ms, entry.entry_id or _NOT_STORED


@dataclass(slots=True)
class _Replay:
    """The farm as the entries so far tell of it. An entry is applied whole or, where it is refused, not.

    `starts` are the times at which cohorts begin, `begun` of those that a filling begins.
    """

    context: FarmContext
    now_ms: int
    starts: Mapping[str, int]
    begun: Mapping[str, int]
    cohorts: dict[str, Cohort] = field(default_factory=dict)
    fills: dict[str, tuple[BinFill, ...]] = field(default_factory=dict)
    _groups: dict[str, Group] = field(default_factory=dict)

    def order(self, entry: LogbookEntry) -> tuple[int, int, int]:
        """A stored entry comes before a new one of the same moment: the new one has no number yet."""
        with_bins = entry.subject_kind is SubjectKind.BIN or self.begun.get(entry.subject) == entry.at_ms
        order = _BINS if with_bins else _ORDER.get(entry.kind, _OTHERS)
        return entry.at_ms, order, entry.entry_id or _NOT_STORED

    def mark(self, count: int, refused: Iterable[Refusal]) -> _Mark:
        """How far it is; what it holds by then never changes, only the tables do."""
        return _Mark(count, dict(self.cohorts), dict(self.fills), dict(self._groups), tuple(refused))

    def go_on_from(self, mark: _Mark) -> None:
        self.cohorts, self.fills = dict(mark.cohorts), dict(mark.fills)
        self._groups = dict(mark.groups)

    def apply(self, entry: LogbookEntry) -> None:
        if entry.subject_kind is SubjectKind.BIN:
            self._apply_to_bin(entry)
        elif entry.subject_kind is SubjectKind.PLACE:
            refuse_ahead(entry, self.now_ms, self.context.zone)
            self._take_over(entry, caged(self.cohorts, entry, self.context.cohorts))
        else:
            refuse_before_start(entry, self.starts.get(entry.subject, entry.at_ms), self.context.zone)
            _refuse_wrong_time(entry, self.context, self.now_ms)
            context = self.context.cohorts
            self._take_over(entry, HANDLERS[kind_of(entry, CohortEntryKind)](self.cohorts, entry, context))

    def _apply_to_bin(self, entry: LogbookEntry) -> None:
        refuse_ahead(entry, self.now_ms, self.context.zone)
        place = entry.subject
        fills = with_entry(self.fills.get(place, ()), entry, self.context.bins)
        changed, last = self._changed_by_bin(entry), fills[-1]
        if entry.kind in (BinEntryKind.FILL, BinEntryKind.LARVAE):
            last = replace(
                last,
                unnamed=unnamed_larvae(entry),
                cohorts=_all(last.cohorts, names(entry, "cohort")),
                arrived=said_to_arrive(last, entry),
            )
        elif entry.kind == BinEntryKind.TAKE and last.unnamed is not None:
            left = left_of(last.unnamed, entry)
            last = replace(last, unnamed=replace(last.unnamed, share=last.unnamed.share * left))
        self._take_over(entry, changed, {place: (*fills[:-1], last)})

    def _changed_by_bin(self, entry: LogbookEntry) -> Mapping[str, Cohort]:
        context = self.context.cohorts
        match entry.kind:
            case BinEntryKind.FILL | BinEntryKind.LARVAE:
                return put_in(self.cohorts, entry, context)
            case BinEntryKind.EMPTY:
                return ended_by(self.cohorts, entry, context)
            case BinEntryKind.TAKE:
                there = living_in(self.cohorts.values(), entry.subject, entry.at_ms)
                left = left_of(larvae_of(there, self._groups, entry.at_ms, context), entry)
                return {each.name: fewer(each, left) for each in there}
        return {}

    def _take_over(
        self,
        entry: LogbookEntry,
        changed: Mapping[str, Cohort],
        fills: Mapping[str, tuple[BinFill, ...]] | None = None,
    ) -> None:
        """Take an entry that can be: its cohorts, its filling, and who lives in the fillings since."""
        groups = groups_after(self._groups, self.cohorts, changed, entry)
        before = [self.cohorts[name] for name in changed if name in self.cohorts]
        places = {home(each, entry.at_ms - 1) for each in before} | set(fills or ())
        places |= {home(each, entry.at_ms) for each in changed.values()}
        self.cohorts.update(changed)
        self._groups.update(groups)
        self.fills.update(fills or {})
        if entry.at_ms <= self.now_ms:
            for place in places:
                self._count_in(place, entry.at_ms)

    def _count_in(self, place: str, at_ms: int) -> None:
        """Put down who lives in a filling from a moment on, where that has changed."""
        fills = self.fills.get(place, ())
        if not fills or fills[-1].emptied_ms is not None:
            return
        there = living_in(self.cohorts.values(), place, at_ms)
        fill = fills[-1] if not there else replace(fills[-1], unnamed=None)
        larvae = larvae_of(there, self._groups, at_ms, self.context.cohorts) if there else fill.unnamed
        self.fills[place] = (*fills[:-1], _lived_in(fill, there, larvae, at_ms))


def _lived_in(fill: BinFill, there: Sequence[Cohort], larvae: Larvae | None, at_ms: int) -> BinFill:
    """A filling with those who live in it from a moment on."""
    living = tuple(cohort.name for cohort in there)
    unnamed = fill.unnamed.count * fill.unnamed.share if fill.unnamed is not None else 0.0
    fill = replace(
        fill,
        arrived=tuple(arrivals(fill, there, at_ms)),
        living=living,
        cohorts=_all(fill.cohorts, living),
        animals=animals_of(there) if there else unnamed,
    )
    if at_ms == fill.facts.filled_ms and not fill.events:
        return replace(fill, facts=replace(fill.facts, larvae=larvae))
    if _alike(_larvae_now(fill), larvae):
        return fill
    return replace(fill, events=(*fill.events, LarvaeChanged(at_ms, larvae)))


def _all(first: tuple[str, ...], more: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(dict.fromkeys((*first, *more)))


def _larvae_now(fill: BinFill) -> Larvae | None:
    changes = [event.larvae for event in fill.events if isinstance(event, LarvaeChanged)]
    return changes[-1] if changes else fill.facts.larvae


def _alike(before: Larvae | None, after: Larvae | None) -> bool:
    """Whether they are the same larvae, only older."""
    if before is None or after is None:
        return before is after
    older_days = (after.since_ms - before.since_ms) / MS_PER_DAY
    of_age = abs(before.age_days + older_days - after.age_days) < SAME_AGE_DAYS
    return of_age and (before.count, before.share) == (after.count, after.share)


def check_entry(
    entries: Sequence[LogbookEntry], entry: LogbookEntry, context: FarmContext, now_ms: int
) -> FarmBook:
    """Whether a new entry, a correction or a withdrawal may be written beside the stored ones.

    Gives the book with the entry; UsageError says why it cannot be, or which stored entries it would make
    impossible. `now_ms` is now [ms since 1970 UTC].
    """
    return check_entries(entries, (entry,), context, now_ms)


def check_entries(
    entries: Sequence[LogbookEntry], new: Sequence[LogbookEntry], context: FarmContext, now_ms: int
) -> FarmBook:
    """The same for several new entries that are written together."""
    before = {refusal.entry.entry_id for refusal in farm_book(entries, context, now_ms).refused}
    after = farm_book((*entries, *new), context, now_ms)
    for refusal in after.refused:
        if any(refusal.entry is entry for entry in new):
            raise UsageError(
                "{subject}: {reason}. Nothing was written",
                subject=refusal.entry.subject,
                reason=refusal.reason,
            )
    impossible = [refusal for refusal in after.refused if refusal.entry.entry_id not in before]
    if impossible:
        raise UsageError(
            "{subject}: then {entries}. Nothing was written",
            subject=new[0].subject,
            entries=tuple(_could_not_be(refusal, context) for refusal in impossible),
        )
    return after


def _could_not_be(refusal: Refusal, context: FarmContext) -> Sentence:
    other = refusal.entry
    return sentence(
        "entry {number} ({kind} of {other}, {time}) could not be: {reason}",
        number=other.entry_id,
        kind=other.kind,
        other=other.subject,
        time=shown_time(other.at_ms, context.zone),
        reason=refusal.reason,
    )


def refuse_ahead(entry: LogbookEntry, now_ms: int, zone: tzinfo) -> None:
    """Refuse an entry about a time that is still to come; `now_ms` is now [ms since 1970 UTC]."""
    if entry.at_ms > now_ms:
        raise UsageError(
            "{time} lies ahead (now: {now}); allowed: times that are past",
            time=shown_time(entry.at_ms, zone),
            now=shown_time(now_ms, zone),
        )


def _refuse_wrong_time(entry: LogbookEntry, context: FarmContext, now_ms: int) -> None:
    if entry.kind != CohortEntryKind.PLANNED_MOVE:
        refuse_ahead(entry, now_ms, context.zone)
    elif entry.at_ms <= entry.entered_ms:
        raise UsageError(
            "{time} is past; a planned move lies ahead. For a move that was made leave --planned out",
            time=shown_time(entry.at_ms, context.zone),
        )


def _with_former_places(context: FarmContext, entries: Iterable[LogbookEntry]) -> FarmContext:
    """A place that was taken out of the settings since is still known for what happened in it."""
    known, stored = context.cohorts, [entry for entry in entries if entry.entry_id is not None]
    places, cages = (
        {str(entry.body[key]) for entry in stored if entry.body.get(key)} for key in ("place", "cage")
    )
    places |= {str(entry.body["tray"]) for entry in stored if entry.body.get("tray")}
    places |= {entry.subject for entry in stored if entry.subject_kind is SubjectKind.BIN}
    cages |= {entry.subject for entry in stored if is_about_a_cage(entry)}
    titles = {**known.places, **{place: place for place in sorted(places - set(known.places))}}
    former = tuple(sorted(cages - set(known.cages)))
    return replace(context, cohorts=replace(known, places=titles, cages=(*known.cages, *former)))


def _starts(entries: Iterable[LogbookEntry]) -> dict[str, int]:
    """When each cohort began, by its start or by the split that made it; the first where it is said twice."""
    starts: dict[str, int] = {}
    for entry in entries:
        name = str(entry.body.get("into")) if entry.kind == CohortEntryKind.SPLIT else entry.subject
        if entry.kind in (CohortEntryKind.START, CohortEntryKind.SPLIT):
            starts[name] = min(entry.at_ms, starts.get(name, entry.at_ms))
    return starts


def _begun(entries: Iterable[LogbookEntry], starts: Mapping[str, int]) -> dict[str, int]:
    """When each cohort began that a filling or eggs set to hatch begin; eggs are added to one of `starts`."""
    begun: dict[str, int] = {}
    for entry in entries:
        name = begun_by(entry)
        if name is not None and not (is_about_a_cage(entry) and name in starts):
            begun[name] = min(entry.at_ms, begun.get(name, entry.at_ms))
    return begun


def _with_plans(cohort: Cohort) -> Cohort:
    """The cohort with the moves that are planned after its last real one."""
    stays = list(cohort.track.residences)
    for planned in sorted(cohort.planned, key=lambda stay: stay.from_ms):
        if planned.from_ms > stays[-1].from_ms and planned.place != stays[-1].place and cohort.ended is None:
            stays.append(Residence(planned.place, planned.from_ms))
    return replace(cohort, track=replace(cohort.track, residences=tuple(stays)))
