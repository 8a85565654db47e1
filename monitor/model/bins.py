"""Bins out of the logbook: its entries replayed in the order of time, each checked before it counts.

A correction takes the place of the entry that it names; the first one stays in the book. An entry that cannot
be so (before the filling, after the emptying, in the future) changes nothing and is reported with the reason.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from monitor.errors import UsageError
from monitor.model.bin_checks import require_bin
from monitor.model.bin_entries import EVENTS, filling_of
from monitor.model.bin_events import Emptied
from monitor.model.bin_records import BinBook, BinEntryKind, BinFill, BinGround, BinRefusal, Done
from monitor.model.cohort_entries import shown_time
from monitor.records import LogbookEntry, SubjectKind

WITHDRAWN = "withdrawn"
PROBE_KIND = "probe"
"""Entries about a moisture probe stand in the book of bins, with the sensor as their subject."""

_ORDER: Mapping[str, int] = {BinEntryKind.EMPTY: 0, BinEntryKind.FILL: 1}


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


def bin_book(entries: Iterable[LogbookEntry], ground: BinGround, now_ms: int) -> BinBook:
    """The bins that the logbook tells of.

    Parameters
    ----------
    entries : iterable of LogbookEntry
        Every entry of the book, the corrected ones too.
    ground : BinGround
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
    for entry in sorted(bin_entries_in_force(entries), key=_order):
        try:
            fills[entry.subject] = _with(fills.get(entry.subject, ()), entry, ground, now_ms)
        except UsageError as error:
            refused.append(BinRefusal(entry, str(error)))
    return BinBook({place: found for place, found in fills.items() if found}, tuple(refused))


def _order(entry: LogbookEntry) -> tuple[int, int, int]:
    # A stored entry comes before a new one of the same moment: the new one has no number yet.
    return entry.at_ms, _ORDER.get(entry.kind, 2), entry.entry_id or 2**62


def _with(
    fills: tuple[BinFill, ...], entry: LogbookEntry, ground: BinGround, now_ms: int
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


def _refuse_ahead(entry: LogbookEntry, ground: BinGround, now_ms: int) -> None:
    if entry.at_ms > now_ms:
        raise UsageError(
            f"{shown_time(entry.at_ms, ground.zone)} lies ahead (now: {shown_time(now_ms, ground.zone)}); "
            "allowed: times that are past"
        )


def _filled(entry: LogbookEntry, ground: BinGround, last: BinFill | None) -> BinFill:
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
    entries: Sequence[LogbookEntry], entry: LogbookEntry, ground: BinGround, now_ms: int
) -> BinBook:
    """Whether a new entry may be written; raises UsageError with the reason when not.

    Parameters
    ----------
    entries : sequence of LogbookEntry
        Every entry of the book so far.
    entry : LogbookEntry
        The new one, a correction or withdrawal too.
    ground : BinGround
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
