"""The one place where an entry of the logbook is made, checked against all others, corrected and written."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from monitor.alarms.system import SITE
from monitor.bins.probe import ProbeCalibration, ProbePoint
from monitor.errors import UsageError, sentence
from monitor.farm.book import farm_context
from monitor.logbook.animals import LINKED_KINDS, linked
from monitor.logbook.bin_entries import PROBE_KIND, BinEntryKind, calibration_body, calibration_of
from monitor.logbook.case import Question
from monitor.logbook.cohort_entries import CohortEntryKind
from monitor.logbook.entry import WITHDRAWN, corrections
from monitor.logbook.notebook import IMPORT_KEY, NO_WORDS, NotebookReport, read_notebook
from monitor.logbook.place_entries import NodeEntryKind, PlaceEntryKind, check_place_entry, place_words
from monitor.logbook.questions import EVERYTHING, asked_about, require_confirmed
from monitor.logbook.replay import check_entries, check_entry, farm_book, refuse_ahead
from monitor.logbook.yield_entries import YieldEntryKind, check_note, is_about_a_cage
from monitor.records import LogbookEntry, SensorKey, SubjectKind
from monitor.settings.plan import Plan
from monitor.store import Store

Body = Mapping[str, object]
EntryKind = CohortEntryKind | BinEntryKind | PlaceEntryKind | YieldEntryKind | NodeEntryKind
KINDS: Mapping[SubjectKind, tuple[EntryKind, ...]] = {
    SubjectKind.COHORT: tuple(CohortEntryKind),
    SubjectKind.BIN: tuple(BinEntryKind),
    SubjectKind.PLACE: (*PlaceEntryKind, *YieldEntryKind),
    SubjectKind.NODE: tuple(NodeEntryKind),
}


@dataclass(frozen=True, slots=True)
class EntryWriter:
    """Writes the entries of one person at one moment, and gives each back with its number.

    An entry that contradicts the logbook raises UsageError, one that is unlikely Unconfirmed, unless its
    questions are among the `confirmed`; nothing is written then.
    """

    store: Store
    plan: Plan
    author: str
    now_ms: int
    confirmed: frozenset[str] = frozenset()

    def write(
        self, subject: str, kind: EntryKind, at_ms: int, body: Body, *, emptied: bool = False
    ) -> LogbookEntry:
        """Write an entry about what its kind is about: a cohort, a bin, a whole place, a board.

        With `emptied` the places that it leaves without animals are said to be empty along with it.
        """
        entry = self.made(subject, kind, at_ms, body)
        with self.store.logbook.adding():
            left = self.left_by(entry) if emptied else ()
            if emptied and not left:
                raise UsageError(
                    "{subject}: no place is without animals by that, so none is empty. Nothing was written",
                    subject=subject,
                )
            empty = (self.made(place, PlaceEntryKind.EMPTY, at_ms, {}) for place in left)
            return self.write_all((entry, *empty))[0]

    def left_by(self, entry: LogbookEntry) -> tuple[str, ...]:
        """The places that an entry leaves without animals by the logbook, written already or not."""
        before = [each for each in self.store.logbook.every() if each.entry_id != entry.entry_id]
        held = {place for place, words in place_words(before, self.now_ms).items() if words.lived_in}
        after = place_words((*before, entry), self.now_ms)
        return tuple(place for place in self.plan.places if place in held and after[place].asks)

    def made(self, subject: str, kind: EntryKind, at_ms: int, body: Body) -> LogbookEntry:
        """An entry of this person at this moment, for `write_all`; nothing is written yet."""
        about = next(about for about, kinds in KINDS.items() if any(kind is each for each in kinds))
        return LogbookEntry(about, subject, kind, at_ms, self.now_ms, self.author, _said(body))

    def write_all(self, entries: Sequence[LogbookEntry]) -> tuple[LogbookEntry, ...]:
        """Write several entries, all or none; each is checked beside those before it."""
        asked: list[Question] = []
        with self.store.logbook.adding():
            written = tuple(self._add(self._linked(entry), asked) for entry in entries)
            require_confirmed(asked, self.confirmed)
        return written

    def correct(self, old: LogbookEntry, at_ms: int | None, changes: Body) -> LogbookEntry:
        """Write what takes the place of another entry: as it was, with another time or other values."""
        time_ms = old.at_ms if at_ms is None else at_ms
        return self._instead_of(old, replace(old, at_ms=time_ms, body=_said({**old.body, **changes})))

    def withdraw(self, old: LogbookEntry, reason: str) -> LogbookEntry:
        """Write that another entry does not count any more."""
        return self._instead_of(old, _withdrawal(old, reason))

    def undo_import(self, run: str, reason: str) -> tuple[LogbookEntry, ...]:
        """Write that no entry of an import counts any more, as it stands by now; all or none."""
        with self.store.logbook.adding():
            stored = self.store.logbook.every()
            newer = corrections(stored)
            mine = (_newest(entry, newer) for entry in stored if entry.body.get(IMPORT_KEY) == run)
            standing = {entry.entry_id: entry for entry in mine if entry.kind != WITHDRAWN}
            if not standing:
                raise UsageError("no entry of {run} counts; `logbook list` shows the imports", run=run)
            new = [self._replacing(old, _withdrawal(old, reason)) for old in standing.values()]
            check_entries(stored, new, farm_context(self.store, self.plan), self.now_ms)
            numbers = self.store.logbook.add_all(new)
        return tuple(replace(entry, entry_id=number) for entry, number in zip(new, numbers, strict=True))

    def calibrate(
        self, sensor: SensorKey, points: Sequence[ProbePoint], air_and_water: tuple[float, float], at_ms: int
    ) -> ProbeCalibration:
        """Write the calibration of a moisture probe."""
        entry = calibration_entry(sensor, points, air_and_water, at_ms, self.author)
        (written,) = self.write_all((replace(entry, entered_ms=self.now_ms),))
        return calibration_of(written)

    def read_in(
        self,
        notebook: str,
        moment_of: Callable[[str], int],
        *,
        write: bool,
        spoken: Mapping[str, str] = NO_WORDS,
    ) -> NotebookReport:
        """Check a notebook in CSV; with `write` its entries are written where every line can be taken.

        The report names the import only where it was written. `spoken` gives the English word for each word
        of the sheet of a week in other languages.
        """
        if not write:
            return replace(self._read(notebook, moment_of, spoken), run="")
        with self.store.logbook.adding():
            report = self._read(notebook, moment_of, spoken)
            if self.confirmed & EVERYTHING:
                report = replace(report, questions=())
            if report.problems or report.questions:
                return replace(report, run="")
            self.store.logbook.add_all(report.entries)
        return report

    def _read(
        self, notebook: str, moment_of: Callable[[str], int], spoken: Mapping[str, str]
    ) -> NotebookReport:
        stored, context = self.store.logbook.every(), farm_context(self.store, self.plan)
        return read_notebook(notebook, moment_of, stored, context, self.author, self.now_ms, spoken)

    def _replacing(self, old: LogbookEntry, new: LogbookEntry) -> LogbookEntry:
        return replace(new, entered_ms=self.now_ms, author=self.author, corrects=old.entry_id, entry_id=None)

    def _instead_of(self, old: LogbookEntry, new: LogbookEntry) -> LogbookEntry:
        new, asked = self._replacing(old, new), list[Question]()
        with self.store.logbook.adding():
            refuse_corrected(self.store, old, withdraw=new.kind == WITHDRAWN)
            written = self._add(self._linked(new, old), asked)
            require_confirmed(asked, self.confirmed)
        return written

    def _add(self, entry: LogbookEntry, asked: list[Question]) -> LogbookEntry:
        """Add an entry that can be; `asked` takes what is odd about it."""
        asked += self._check(entry)
        return replace(entry, entry_id=self.store.logbook.add(entry))

    def _linked(self, entry: LogbookEntry, old: LogbookEntry | None = None) -> LogbookEntry:
        """With the cohorts that an entry about a bin, or about collected eggs, begins, moves or ends."""
        if entry.kind not in LINKED_KINDS.get(entry.subject_kind, ()):
            return entry
        others = [each for each in self.store.logbook.every() if old is None or each.entry_id != old.entry_id]
        context = farm_context(self.store, self.plan)
        return linked(entry, old, farm_book(others, context, self.now_ms).cohorts, context.cohorts)

    def _check(self, entry: LogbookEntry) -> Sequence[Question]:
        if entry.kind == YieldEntryKind.NOTE and entry.subject_kind is not SubjectKind.COHORT:
            refuse_ahead(entry, self.now_ms, self.plan.zone)
            check_note(entry, (SITE, *self.plan.places, *self.plan.nodes))
            return ()
        if entry.subject_kind in (SubjectKind.PLACE, SubjectKind.NODE) and not self._is_about_a_cage(entry):
            known = self.plan.places if entry.subject_kind is SubjectKind.PLACE else self.plan.nodes
            check_place_entry(entry, known, self.now_ms, self.plan.zone)
            return ()
        if entry.kind == PROBE_KIND:
            refuse_ahead(entry, self.now_ms, self.plan.zone)
            calibration_of(entry)
            return ()
        stored, context = self.store.logbook.every(), farm_context(self.store, self.plan)
        check_entry(stored, entry, context, self.now_ms)
        return asked_about(stored, (entry,), context, self.now_ms)[0]

    def _is_about_a_cage(self, entry: LogbookEntry) -> bool:
        """Whether it is about eggs or dead flies, or withdraws an entry about them."""
        if entry.kind == WITHDRAWN and entry.corrects is not None:
            old = self.store.logbook.one(entry.corrects)
            return old is not None and is_about_a_cage(old)
        return is_about_a_cage(entry)


def _withdrawal(old: LogbookEntry, reason: str) -> LogbookEntry:
    return replace(old, kind=WITHDRAWN, body=_said({"note": reason}))


def _newest(entry: LogbookEntry, newer: Mapping[int, LogbookEntry]) -> LogbookEntry:
    """What counts in the place of an entry by now; it may be a withdrawal."""
    while (replaced := newer.get(entry.entry_id or 0)) is not None:
        entry = replaced
    return entry


def _said(body: Body) -> Body:
    return {key: value for key, value in body.items() if value not in (None, "")}


def calibration_entry(
    sensor: SensorKey,
    points: Sequence[ProbePoint],
    air_and_water: tuple[float, float],
    at_ms: int,
    author: str,
) -> LogbookEntry:
    """The entry for the calibration of a moisture probe, as if it were entered at its own time."""
    body = calibration_body(points, *air_and_water)
    return LogbookEntry(SubjectKind.BIN, str(sensor), PROBE_KIND, at_ms, at_ms, author, body)


def entry_to_correct(
    store: Store, number: int, about: SubjectKind | None, *, withdraw: bool = False
) -> LogbookEntry:
    """The entry of a number; UsageError where it is none about such a subject or cannot be corrected.

    Without `about` it may be about anything.
    """
    entry = store.logbook.one(number)
    if entry is None and about is None:
        raise UsageError("the logbook has no entry {number}; `logbook list` lists them", number=number)
    if entry is None or about not in (None, entry.subject_kind):
        cohort = about is SubjectKind.COHORT
        raise UsageError(
            "the logbook has no entry {number} about a {subject}; `{command}` lists the numbers",
            number=number,
            subject=sentence("cohort") if cohort else sentence("bin"),
            command="cohort show NAME" if cohort else "bin show BIN",
        )
    refuse_corrected(store, entry, withdraw=withdraw)
    return entry


def refuse_corrected(store: Store, old: LogbookEntry, *, withdraw: bool = False) -> None:
    """Refuse an entry that was corrected already, or that is no entry that can be.

    The calibration of a probe can be withdrawn only: its points are measured anew.
    """
    newer = corrections(store.logbook.every(old.subject_kind, old.subject)).get(old.entry_id or 0)
    if newer is not None:
        raise UsageError(
            "entry {number} was corrected already by entry {newer}; correct that one. Nothing was written",
            number=old.entry_id,
            newer=newer.entry_id,
        )
    if old.kind == WITHDRAWN:
        raise UsageError(
            "entry {number} withdraws another; enter anew what was withdrawn", number=old.entry_id
        )
    if old.kind not in (*KINDS[old.subject_kind], *([PROBE_KIND] if withdraw else [])):
        raise UsageError(
            "entry {number} ({kind}) cannot be corrected here", number=old.entry_id, kind=old.kind
        )
