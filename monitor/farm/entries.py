"""Writing about cohorts: an entry is checked against the whole book before it is added.

Writing about bins: an entry is checked against the whole book before it is added.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from monitor.errors import UsageError
from monitor.farm.bins import bins_validation_context
from monitor.farm.development import farm_validation_context
from monitor.logbook.bin_entries import BinBook, BinEntryKind
from monitor.logbook.cohort_entries import EntryKind
from monitor.logbook.replay import WITHDRAWN, Replay, check_bin_entry, check_entry
from monitor.records import LogbookEntry, SubjectKind
from monitor.settings.plan import Plan
from monitor.store import Store

Body = Mapping[str, Any]


def bin_entry(
    place: str, kind: str, at_ms: int, body: Body, author: str, now_ms: int, corrects: int | None = None
) -> LogbookEntry:
    """An entry about a bin; keys without a value are left out."""
    said = {key: value for key, value in body.items() if value not in (None, "")}
    return LogbookEntry(SubjectKind.BIN, place, kind, at_ms, now_ms, author, said, corrects)


def enter_about_bin(store: Store, plan: Plan, entry: LogbookEntry, now_ms: int) -> tuple[int, BinBook]:
    """Add an entry; gives its number and the bins as they are with it. UsageError when it cannot be."""
    every = store.logbook.every(SubjectKind.BIN)
    after = check_bin_entry(every, entry, bins_validation_context(store, plan), now_ms)
    return store.logbook.add(entry), after


def old_bin_entry(store: Store, entry_id: int) -> LogbookEntry:
    """The entry that is to be corrected; UsageError where it is none about a bin."""
    found = store.logbook.one(entry_id)
    if found is None or found.subject_kind is not SubjectKind.BIN:
        raise UsageError(f"the logbook has no entry {entry_id} about a bin; `bin show BIN` lists the numbers")
    if found.kind == WITHDRAWN:
        raise UsageError(f"entry {entry_id} withdraws another; enter anew what was withdrawn")
    if found.kind not in list(BinEntryKind):
        raise UsageError(f"entry {entry_id} ({found.kind}) cannot be corrected here")
    return found


def bin_correction(
    old: LogbookEntry, at_ms: int | None, changes: Body, author: str, now_ms: int
) -> LogbookEntry:
    """The entry that takes the place of another: as it was, with another time or other values."""
    time_ms = old.at_ms if at_ms is None else at_ms
    body = {**old.body, **changes}
    return bin_entry(old.subject, old.kind, time_ms, body, author, now_ms, old.entry_id)


def bin_withdrawal(old: LogbookEntry, reason: str, author: str, now_ms: int) -> LogbookEntry:
    """The entry that says that another does not count any more."""
    return bin_entry(old.subject, WITHDRAWN, old.at_ms, {"note": reason}, author, now_ms, old.entry_id)


def entry_about(
    name: str, kind: str, at_ms: int, body: Body, author: str, now_ms: int, corrects: int | None = None
) -> LogbookEntry:
    """An entry about a cohort; keys without a value are left out."""
    said = {key: value for key, value in body.items() if value not in (None, "")}
    return LogbookEntry(SubjectKind.COHORT, name, kind, at_ms, now_ms, author, said, corrects)


def enter(store: Store, plan: Plan, entry: LogbookEntry, now_ms: int) -> tuple[int, Replay]:
    """Add an entry; gives its number and the cohorts as they are with it. UsageError when it cannot be."""
    after = check_entry(store.logbook.every(SubjectKind.COHORT), entry, farm_validation_context(plan), now_ms)
    return store.logbook.add(entry), after


def correction(
    store: Store, entry_id: int, at_ms: int | None, changes: Body, author: str, now_ms: int
) -> LogbookEntry:
    """The entry that takes the place of another: as it was, with another time or other values."""
    old = _old(store, entry_id)
    body = {**old.body, **changes}
    time_ms = old.at_ms if at_ms is None else at_ms
    return entry_about(old.subject, old.kind, time_ms, body, author, now_ms, entry_id)


def withdrawal(store: Store, entry_id: int, reason: str, author: str, now_ms: int) -> LogbookEntry:
    """The entry that says that another does not count any more."""
    old = _old(store, entry_id)
    return entry_about(old.subject, WITHDRAWN, old.at_ms, {"note": reason}, author, now_ms, entry_id)


def _old(store: Store, entry_id: int) -> LogbookEntry:
    found = store.logbook.one(entry_id)
    if found is None or found.subject_kind is not SubjectKind.COHORT:
        raise UsageError(
            f"the logbook has no entry {entry_id} about a cohort; `cohort show NAME` lists the numbers"
        )
    newer = [
        each for each in store.logbook.every(SubjectKind.COHORT, found.subject) if each.corrects == entry_id
    ]
    if newer:
        raise UsageError(
            f"entry {entry_id} was corrected already by entry {newer[0].entry_id}; correct that one. "
            "Nothing was written"
        )
    if found.kind == WITHDRAWN:
        raise UsageError(f"entry {entry_id} withdraws another; enter anew what was withdrawn")
    if found.kind not in list(EntryKind):
        raise UsageError(f"entry {entry_id} ({found.kind}) cannot be corrected here")
    return found
