"""Entries of the logbook as rows of a page, the corrected and withdrawn ones among them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from monitor.records import MS_PER_MINUTE, LogbookEntry, SubjectKind
from monitor.store.logbook import WITHDRAWN
from monitor.views.page.entry_kinds import kinds_of
from monitor.views.page.serving import Asked
from monitor.views.page.told import entry_said

STILL_SAID_MS = 10 * MS_PER_MINUTE


@dataclass(frozen=True, slots=True)
class EntryRow:
    """One entry. `state` is in_force, corrected or withdrawn; `remark` names the entry in its place."""

    number: int
    at: str
    about: str
    link: str
    said: str
    note: str
    who: str
    entered: str
    state: str
    remark: str
    can_correct: bool


def rows_of(asked: Asked, entries: Iterable[LogbookEntry], every: Iterable[LogbookEntry]) -> list[EntryRow]:
    """Rows in the order of the entries; `every` tells which of them were corrected."""
    newer: dict[int | None, LogbookEntry] = {
        each.corrects: each for each in every if each.corrects is not None
    }
    return [_row(asked, entry, newer.get(entry.entry_id)) for entry in entries]


def _row(asked: Asked, entry: LogbookEntry, newer: LogbookEntry | None) -> EntryRow:
    words = asked.words
    state = "in_force" if newer is None else "withdrawn" if newer.kind == WITHDRAWN else "corrected"
    late = abs(entry.entered_ms - entry.at_ms) >= MS_PER_MINUTE
    known = entry.kind in kinds_of(entry.subject_kind)
    return EntryRow(
        number=entry.entry_id or 0,
        at=words.moment(entry.at_ms),
        about=title_of(asked, entry),
        link=_link(asked, entry),
        said=entry_said(entry, words, asked.plan),
        note=str(entry.body.get("note") or ""),
        who=entry.author,
        entered=words.moment(entry.entered_ms) if late else "",
        state=state,
        remark=_remark(asked, entry, newer, state),
        can_correct=newer is None and known,
    )


def _remark(asked: Asked, entry: LogbookEntry, newer: LogbookEntry | None, state: str) -> str:
    words = asked.words
    parts = [] if newer is None else [words.t(f"logbook.{state}", number=newer.entry_id)]
    if entry.corrects is not None and entry.kind != WITHDRAWN:
        parts.append(words.t("logbook.instead", number=entry.corrects))
    return words.listing(parts)


def title_of(asked: Asked, entry: LogbookEntry) -> str:
    """The cohort's name, or the title of the place."""
    known = entry.subject_kind is SubjectKind.BIN and entry.subject in asked.plan.places
    return asked.plan.title(entry.subject) if known else entry.subject


def _link(asked: Asked, entry: LogbookEntry) -> str:
    if entry.subject_kind is SubjectKind.COHORT:
        return f"/cohorts/{entry.subject}"
    return f"/bins/{entry.subject}" if entry.subject in asked.plan.places else ""


def rows_about(asked: Asked, about: SubjectKind, subject: str, most: int) -> list[EntryRow]:
    """The newest entries about one cohort or bin, those of others that made or took it too."""
    every = asked.store.logbook.every(about)
    mine = [each for each in every if subject in _named(each)]
    return rows_of(asked, newest(mine)[:most], every)


def _named(entry: LogbookEntry) -> Sequence[object]:
    return entry.subject, entry.body.get("into"), entry.body.get("other")


def newest(entries: Iterable[LogbookEntry]) -> list[LogbookEntry]:
    """The newest first."""
    return sorted(entries, key=lambda each: (each.at_ms, each.entry_id or 0), reverse=True)


def wrote(asked: Asked) -> str:
    """What the entry says that the address names, if it was written just now; else ""."""
    number = asked.query("wrote")
    if not (number.isascii() and number.isdigit() and len(number) < 16):
        return ""
    entry = asked.store.logbook.one(int(number))
    if entry is None or not 0 <= asked.now_ms - entry.entered_ms <= STILL_SAID_MS:
        return ""
    said = entry_said(entry, asked.words, asked.plan)
    return asked.words.t("write.written", number=number, about=title_of(asked, entry), said=said)
