"""A paper notebook as CSV: one line an entry, all of it checked before anything is written. Pure."""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass

from monitor.errors import UsageError
from monitor.logbook.cohort_entries import EntryKind, ValidationContext
from monitor.logbook.replay import in_force, replay
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
    """A line that cannot be taken, and why."""

    line: int
    reason: str


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
    ground: ValidationContext,
    author: str,
    now_ms: int,
) -> NotebookReport:
    """Read a whole notebook; `moment_of` understands its times. UsageError when its columns are wrong."""
    rows = _rows(text)
    counting = {_content(entry) for entry in in_force(stored, now_ms)}
    made: dict[int, LogbookEntry] = {}
    problems, known = [], 0
    for line, row in rows:
        try:
            entry = _entry(row, moment_of, author, now_ms)
        except UsageError as error:
            problems.append(LineProblem(line, str(error)))
            continue
        if _content(entry) in counting:
            known += 1
        else:
            made[line] = entry
    problems += _impossible(stored, made, ground, now_ms)
    return NotebookReport(tuple(made.values()), known, tuple(sorted(problems, key=lambda each: each.line)))


def _rows(text: str) -> list[tuple[int, dict[str, str]]]:
    first = text.partition("\n")[0]
    delimiter = max(",;\t", key=first.count)
    reader = csv.DictReader(text.lstrip("\ufeff").splitlines(), delimiter=delimiter, restkey="")
    names = [(name or "").strip().lower() for name in reader.fieldnames or ()]
    _refuse_columns(names)
    reader.fieldnames = names
    found = []
    for row in reader:
        plain = {key: str(value or "").strip() for key, value in row.items() if isinstance(key, str)}
        if any(plain.values()):
            found.append((reader.line_num, plain))
    return found


def _refuse_columns(names: Sequence[str]) -> None:
    missing = [name for name in NEEDED if name not in names]
    unknown = [name for name in names if name and name not in COLUMNS]
    if missing or unknown:
        parts = [f"the columns {', '.join(missing)} are missing"] if missing else []
        parts += [f"the columns {', '.join(unknown)} are not known"] if unknown else []
        raise UsageError(f"{' and '.join(parts)}; allowed in the first line: {', '.join(COLUMNS)}")


def _entry(row: dict[str, str], moment_of: Callable[[str], int], author: str, now_ms: int) -> LogbookEntry:
    if row.get(""):
        raise UsageError("it has more cells than the first line has names")
    empty = [name for name in NEEDED if not row.get(name)]
    if empty:
        raise UsageError(f"{' and '.join(empty)} is empty")
    kind = row["what"].lower().replace(" ", "_")
    if kind not in list(EntryKind):
        raise UsageError(f"what is {row['what']!r}; allowed: {', '.join(EntryKind)}")
    body: dict[str, object] = {name: _word(name, row[name]) for name in TEXTS if row.get(name)}
    body.update({name: _number(name, row[name]) for name in NUMBERS if row.get(name)})
    by = row.get("by") or author
    return LogbookEntry(SubjectKind.COHORT, row["cohort"], kind, moment_of(row["when"]), now_ms, by, body)


def _word(name: str, written: str) -> str:
    """Words of a list are written small and with underscores; names and notes stay as they are."""
    listed = ("stage", "origin", "purpose", "event", "how")
    return written.lower().replace(" ", "_") if name in listed else written


def _number(name: str, written: str) -> float | int:
    plain = written.replace(" ", "").replace(",", ".")
    try:
        value = float(plain)
    except ValueError:
        raise UsageError(f"{name} is {written!r}; allowed: a number") from None
    return int(value) if value == round(value) else value


def _content(entry: LogbookEntry) -> tuple[object, ...]:
    body = tuple(sorted((key, str(value)) for key, value in entry.body.items()))
    return entry.subject, entry.kind, entry.at_ms, body


def _impossible(
    stored: Sequence[LogbookEntry], made: dict[int, LogbookEntry], ground: ValidationContext, now_ms: int
) -> Iterator[LineProblem]:
    """Lines that contradict the book or one another, and lines that make a stored entry impossible."""
    before = {refusal.entry.entry_id for refusal in replay(stored, ground, now_ms).refused}
    lines = {id(entry): line for line, entry in made.items()}
    for refusal in replay((*stored, *made.values()), ground, now_ms).refused:
        line = lines.get(id(refusal.entry))
        if line is not None:
            yield LineProblem(line, f"{refusal.entry.subject}: {refusal.reason}")
        elif refusal.entry.entry_id not in before:
            reason = f"entry {refusal.entry.entry_id} could then not be: {refusal.reason}"
            yield LineProblem(0, reason)


def report_lines(report: NotebookReport) -> Iterable[str]:
    """The report, a line for each problem."""
    for problem in report.problems:
        where = f"line {problem.line}: " if problem.line else ""
        yield f"{where}{problem.reason}"
