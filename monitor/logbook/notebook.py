"""A paper notebook as CSV: one line an entry, all of it checked before anything is written."""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from monitor.errors import Sentence, UsageError, sentence
from monitor.logbook.amounts import read_values
from monitor.logbook.cohort_entries import CohortEntryKind
from monitor.logbook.entry import in_force, wrong_value
from monitor.logbook.replay import FarmContext, farm_book
from monitor.records import LogbookEntry, SubjectKind

NEEDED = ("when", "cohort", "what")
TEXTS = ("place", "stage", "origin", "feed", "purpose", "cage", "event", "how", "into", "other", "note")
NUMBERS = (
    "animals",
    "grams",
    "percent",
    "flies",
    "sure_days",
    "window_hours",
    "age_days",
    "through_percent",
)
COLUMNS = (*NEEDED, "by", *TEXTS, *NUMBERS)


@dataclass(frozen=True, slots=True)
class LineProblem:
    """A line that cannot be taken, and why; no line where a stored entry would become impossible."""

    line: int | None
    reason: Sentence


@dataclass(frozen=True, slots=True)
class NotebookReport:
    """What came of reading a notebook: entries to write, lines in the book already, lines that are wrong."""

    entries: tuple[LogbookEntry, ...]
    known: int
    problems: tuple[LineProblem, ...]


def read_notebook(
    text: str,
    moment_of: Callable[[str], int],
    stored: Sequence[LogbookEntry],
    context: FarmContext,
    author: str,
    now_ms: int,
) -> NotebookReport:
    """Read a whole notebook; `moment_of` understands its times. UsageError when its columns are wrong."""
    counting = {_content(entry) for entry in in_force(stored)}
    made: dict[int, LogbookEntry] = {}
    problems, known = [], 0
    for line, row in _rows(text):
        try:
            entry = _entry(row, moment_of, author, now_ms)
        except UsageError as error:
            problems.append(LineProblem(line, error.said))
            continue
        if _content(entry) in counting:
            known += 1
        else:
            made[line] = entry
    problems += _impossible(stored, made, context, now_ms)
    problems.sort(key=lambda problem: problem.line or 0)
    return NotebookReport(tuple(made.values()), known, tuple(problems))


def _rows(text: str) -> list[tuple[int, dict[str, str]]]:
    first = text.partition("\n")[0]
    delimiter = max(",;\t", key=first.count)
    reader = csv.DictReader(text.lstrip("\ufeff").splitlines(), delimiter=delimiter, restkey="")
    names = [(name or "").strip().lower() for name in reader.fieldnames or ()]
    _refuse_columns(names)
    reader.fieldnames = names
    rows = []
    for row in reader:
        plain = {key: str(value or "").strip() for key, value in row.items() if isinstance(key, str)}
        if any(plain.values()):
            rows.append((reader.line_num, plain))
    return rows


def _refuse_columns(names: Sequence[str]) -> None:
    missing = ", ".join(name for name in NEEDED if name not in names)
    unknown = ", ".join(name for name in names if name and name not in COLUMNS)
    problems = [sentence("the columns {columns} are missing", columns=missing)] if missing else []
    problems += [sentence("the columns {columns} are not known", columns=unknown)] if unknown else []
    known = ", ".join(COLUMNS)
    if len(problems) == 2:
        raise UsageError(
            "{first} and {second}; allowed in the first line: {known}",
            first=problems[0],
            second=problems[1],
            known=known,
        )
    if problems:
        raise UsageError("{problem}; allowed in the first line: {known}", problem=problems[0], known=known)


def _entry(row: Mapping[str, str], moment_of: Callable[[str], int], author: str, now_ms: int) -> LogbookEntry:
    if row.get(""):
        raise UsageError("it has more cells than the first line has names")
    empty = [name for name in NEEDED if not row.get(name)]
    if empty:
        raise UsageError("{columns} is empty", columns=", ".join(empty))
    kind = row["what"].lower().replace(" ", "_")
    if kind not in list(CohortEntryKind):
        raise wrong_value("what", repr(row["what"]), ", ".join(CohortEntryKind))
    body: dict[str, object] = {name: _word(name, row[name]) for name in TEXTS if row.get(name)}
    body.update(read_values({name: row[name] for name in NUMBERS if row.get(name)}))
    by = row.get("by") or author
    return LogbookEntry(SubjectKind.COHORT, row["cohort"], kind, moment_of(row["when"]), now_ms, by, body)


def _word(name: str, written: str) -> str:
    """Words of a list are written small and with underscores; names and notes stay as they are."""
    listed = ("stage", "origin", "purpose", "event", "how")
    return written.lower().replace(" ", "_") if name in listed else written


def _content(entry: LogbookEntry) -> tuple[object, ...]:
    body = tuple(sorted((key, str(value)) for key, value in entry.body.items()))
    return entry.subject, entry.kind, entry.at_ms, body


def _impossible(
    stored: Sequence[LogbookEntry],
    made: dict[int, LogbookEntry],
    context: FarmContext,
    now_ms: int,
) -> Iterator[LineProblem]:
    """Lines that contradict the book or one another, and lines that make a stored entry impossible."""
    before = {refusal.entry.entry_id for refusal in farm_book(stored, context, now_ms).refused}
    lines = {id(entry): line for line, entry in made.items()}
    for refusal in farm_book((*stored, *made.values()), context, now_ms).refused:
        line = lines.get(id(refusal.entry))
        if line is not None:
            said = sentence("{subject}: {reason}", subject=refusal.entry.subject, reason=refusal.reason)
            yield LineProblem(line, said)
        elif refusal.entry.entry_id not in before:
            said = sentence(
                "entry {number} could then not be: {reason}",
                number=refusal.entry.entry_id,
                reason=refusal.reason,
            )
            yield LineProblem(None, said)
