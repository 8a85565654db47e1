"""A paper notebook as CSV: one line an entry, all of it checked before anything is written."""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from monitor.development.progress import Cohort
from monitor.errors import Sentence, UsageError, sentence
from monitor.logbook.amounts import find_place, read_values
from monitor.logbook.animals import LINKED_KINDS, linked
from monitor.logbook.bin_entries import BinEntryKind
from monitor.logbook.case import Question
from monitor.logbook.cohort_entries import CohortEntryKind
from monitor.logbook.entry import in_force, wrong_value
from monitor.logbook.questions import asked_about
from monitor.logbook.replay import FarmContext, farm_book
from monitor.logbook.sheet import is_blank, sheet_entry
from monitor.logbook.yield_entries import CAGE_KINDS
from monitor.records import LogbookEntry, SubjectKind

NEEDED = ("when", "cohort", "what")
WORDS = ("stage", "origin", "purpose", "event", "how", "cover", "taken", "use")
NAMES = ("feed", "into", "other", "substrate", "note")
PLACES = ("place", "cage", "tray")
NUMBERS = (
    *("animals", "grams", "percent", "flies", "sure_days", "window_hours", "age_days", "through_percent"),
    *("young_grams", "female_percent", "strips", "clutches"),
)
OF_BINS = (
    *("kg", "moisture", "size", "depth", "back_to", "larvae", "rough", "on"),
    *("mean_mg", "residue_kg", "residue_moisture"),
)
COLUMNS = (*NEEDED, "bin", "by", *PLACES, *WORDS, *NAMES, *NUMBERS, *OF_BINS, "where", "amount", "to")
"""The columns of a notebook; with `where` a line is one of the sheet of a week (`sheet`)."""
_KEYS: Mapping[str, str] = {
    "size": "surface_m2",
    "depth": "depth_m",
    "back_to": "back_to_kg",
    "taken": "what",
}
"""The key in the body of an entry, where the column has another name."""
IMPORT_KEY = "import"
"""The key of the body that names the import with which an entry came."""


_SUBJECTS = {"bin", "cage", "where"}
NO_WORDS: Mapping[str, str] = {}


@dataclass(frozen=True, slots=True)
class LineProblem:
    """A line that cannot be taken, and why; no line where a stored entry would become impossible."""

    line: int | None
    reason: Sentence


@dataclass(frozen=True, slots=True)
class NotebookReport:
    """What came of reading a notebook: entries to write, lines in the book already, lines that are wrong.

    `questions` are lines that are unlikely; `run` names this import.
    """

    entries: tuple[LogbookEntry, ...]
    known: int
    problems: tuple[LineProblem, ...]
    questions: tuple[LineProblem, ...] = ()
    run: str = ""


def read_notebook(
    text: str,
    moment_of: Callable[[str], int],
    stored: Sequence[LogbookEntry],
    context: FarmContext,
    author: str,
    now_ms: int,
    spoken: Mapping[str, str] = NO_WORDS,
) -> NotebookReport:
    """Read a whole notebook; `moment_of` understands its times. UsageError when its columns are wrong.

    `spoken` gives the English word for each word of the sheet in other languages.
    """
    counting, run = in_force(stored), next_run(stored)
    made: dict[int, LogbookEntry] = {}
    problems, known = list[LineProblem](), 0
    reader = _Lines(moment_of, context, author, now_ms, spoken, stored)
    for line, row in _rows(text, spoken):
        if is_blank(row):
            continue
        try:
            entry = reader.entry(row, made.values())
        except UsageError as error:
            problems.append(LineProblem(line, error.said))
            continue
        if any(_says(each, entry) for each in counting):
            known += 1
        else:
            made[line] = replace(entry, body={**entry.body, IMPORT_KEY: run})
    try:
        made = _linked(stored, made, context, now_ms)
    except UsageError as error:
        problems.append(LineProblem(None, error.said))
    problems += _impossible(stored, made, context, now_ms)
    asked = _asked(stored, made, context, now_ms)
    problems += [LineProblem(line, each.sentence) for line, each in asked if each.refused]
    problems.sort(key=lambda problem: problem.line or 0)
    wrong = {problem.line for problem in problems}
    questions = tuple(LineProblem(line, each.sentence) for line, each in asked if line not in wrong)
    return NotebookReport(tuple(made.values()), known, tuple(problems), questions, run)


def next_run(stored: Iterable[LogbookEntry]) -> str:
    """The name of the import that comes next, such as import-3."""
    return f"import-{len({entry.body[IMPORT_KEY] for entry in stored if IMPORT_KEY in entry.body}) + 1}"


def _linked(
    stored: Sequence[LogbookEntry], made: Mapping[int, LogbookEntry], context: FarmContext, now_ms: int
) -> dict[int, LogbookEntry]:
    """With the cohorts that lines about bins begin, move or end, in the order of time."""
    done = dict(made)
    for line in sorted(made, key=lambda each: made[each].at_ms):
        if made[line].kind in LINKED_KINDS.get(made[line].subject_kind, ()):
            before = [done[each] for each in made if made[each].at_ms <= made[line].at_ms and each != line]
            cohorts = farm_book((*stored, *before), context, now_ms).cohorts
            done[line] = linked(made[line], None, cohorts, context.cohorts)
    return done


def _asked(
    stored: Sequence[LogbookEntry], made: Mapping[int, LogbookEntry], context: FarmContext, now_ms: int
) -> list[tuple[int, Question]]:
    asked = asked_about(stored, tuple(made.values()), context, now_ms, bulk=True)
    return [(line, each) for line, questions in zip(made, asked, strict=True) for each in questions]


def _rows(text: str, spoken: Mapping[str, str]) -> list[tuple[int, dict[str, str]]]:
    first = text.partition("\n")[0]
    delimiter = max(",;\t", key=first.count)
    reader = csv.DictReader(text.lstrip("\ufeff").splitlines(), delimiter=delimiter, restkey="")
    said = [(name or "").strip().lower() for name in reader.fieldnames or ()]
    names = [name if name in COLUMNS else spoken.get(name, name) for name in said]
    _refuse_columns(names)
    reader.fieldnames = names
    rows = []
    for row in reader:
        plain = {key: str(value or "").strip() for key, value in row.items() if isinstance(key, str)}
        if any(plain.values()):
            rows.append((reader.line_num, plain))
    return rows


def _refuse_columns(names: Sequence[str]) -> None:
    missing = ", ".join(
        name for name in NEEDED if name not in names and not (name == "cohort" and {*names} & _SUBJECTS)
    )
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


@dataclass(frozen=True, slots=True)
class _Lines:
    """How the lines of one notebook are read; `stored` are the entries of the book."""

    moment_of: Callable[[str], int]
    context: FarmContext
    author: str
    now_ms: int
    spoken: Mapping[str, str]
    stored: Sequence[LogbookEntry]

    def entry(self, row: Mapping[str, str], made: Iterable[LogbookEntry]) -> LogbookEntry:
        """The entry of a line; `made` are those of the lines before it."""
        if row.get(""):
            raise UsageError("it has more cells than the first line has names")
        if row.get("where"):
            return self._of_sheet(row, made)
        kind = row.get("what", "").lower().replace(" ", "_")
        subject = "bin" if kind in set(BinEntryKind) else "cage" if kind in CAGE_KINDS else "cohort"
        empty = [name for name in ("when", subject, "what") if not row.get(name)]
        if empty:
            raise UsageError("{columns} is empty", columns=", ".join(empty))
        if subject == "cohort" and kind not in set(CohortEntryKind):
            known = (*CohortEntryKind, *BinEntryKind, *sorted(CAGE_KINDS))
            raise wrong_value("what", repr(row["what"]), ", ".join(known))
        at_ms, by = self.moment_of(row["when"]), row.get("by") or self.author
        body = _body(row, self.context)
        if subject == "cohort":
            return LogbookEntry(SubjectKind.COHORT, row["cohort"], kind, at_ms, self.now_ms, by, body)
        body |= {"cohort": row["cohort"]} if row.get("cohort") else {}
        if subject == "cage":
            cage = body.pop("cage")
            return LogbookEntry(SubjectKind.PLACE, str(cage), kind, at_ms, self.now_ms, by, body)
        place = find_place(row["bin"], self.context.bins.titles)
        return LogbookEntry(SubjectKind.BIN, place, kind, at_ms, self.now_ms, by, body)

    def _of_sheet(self, row: Mapping[str, str], made: Iterable[LogbookEntry]) -> LogbookEntry:
        empty = [name for name in ("when", "what") if not row.get(name)]
        if empty:
            raise UsageError("{columns} is empty", columns=", ".join(empty))
        return sheet_entry(
            row,
            self._word,
            self.moment_of(row["when"]),
            self.now_ms,
            row.get("by") or self.author,
            self.context.cohorts.places,
            lambda: self._cohorts(made),
        )

    def _word(self, text: str) -> str:
        said = " ".join(text.lower().split())
        return self.spoken.get(said, said)

    def _cohorts(self, made: Iterable[LogbookEntry]) -> Iterable[Cohort]:
        """The cohorts of the book with those that the lines before begin."""
        linked_made = _linked(self.stored, dict(enumerate(made)), self.context, self.now_ms)
        entries = (*self.stored, *linked_made.values())
        return farm_book(entries, self.context, self.now_ms).cohorts.values()


def _body(row: Mapping[str, str], context: FarmContext) -> dict[str, object]:
    """Words of a list are written small and with underscores; names and notes stay as they are."""
    given = {name: written for name, written in row.items() if written}
    body: dict[str, object] = {
        _KEYS.get(name, name): given[name].lower().replace(" ", "_") for name in WORDS if name in given
    }
    body |= {name: given[name] for name in NAMES if name in given}
    body |= {name: find_place(given[name], context.cohorts.places) for name in PLACES if name in given}
    return body | read_values(
        {_KEYS.get(name, name): given[name] for name in (*NUMBERS, *OF_BINS) if name in given}
    )


def _says(stored: LogbookEntry, entry: LogbookEntry) -> bool:
    """Whether an entry stands in the book already; the book may know more of it."""
    same = (stored.subject_kind, stored.subject, stored.kind, stored.at_ms) == (
        *(entry.subject_kind, entry.subject, entry.kind, entry.at_ms),
    )
    return same and all(str(stored.body.get(key)) == str(value) for key, value in entry.body.items())


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
