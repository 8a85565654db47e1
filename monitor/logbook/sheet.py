"""The sheet of a week: the lines of a notebook as a farmer writes them, and what each of its words means.

A line says when, where, what and how much: `where` is a place or a cohort, `amount` has its unit. The words
that are printed may be of any language; here they are the English ones.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from monitor.bins.events import Taken
from monitor.development.events import Event
from monitor.development.progress import Cohort
from monitor.errors import UsageError, sentence
from monitor.logbook.amounts import (
    find_place,
    parse_grams,
    parse_hatch,
    parse_kg,
    parse_mass_or_count,
    parse_material,
)
from monitor.logbook.bin_entries import BinEntryKind
from monitor.logbook.cohort_entries import CohortEntryKind
from monitor.logbook.entry import missing, wrong_value
from monitor.logbook.yield_entries import YieldEntryKind
from monitor.records import LogbookEntry, Stage, SubjectKind
from monitor.yields.records import EggUse

HEADINGS = ("when", "where", "what", "amount", "use", "to", "note", "by")
USES = ("sold", "breeding")
DAYS_OF_A_WEEK = 7
Body = dict[str, object]


@dataclass(frozen=True, slots=True)
class SheetLine:
    """What a word of the sheet stands for: the entry that it makes, and how its amount is read."""

    about: SubjectKind
    kind: str
    body: Mapping[str, object]
    read: Callable[[str], Body]


def _fed(text: str) -> Body:
    material = parse_material(text)
    return {"kg": round(material.kg, 4), "moisture": round(material.moisture, 4)}


def _swept(text: str) -> Body:
    said = parse_mass_or_count(text)
    return said if "animals" in said else {"grams": parse_grams(text)}


def _left_over(text: str) -> Body:
    """Residue, with its moisture where somebody knows it."""
    return _fed(text) if "%" in text or "percent" in text.lower() else _kg(text)


def _taken(what: Taken, read: Callable[[str], Body]) -> SheetLine:
    return SheetLine(SubjectKind.BIN, BinEntryKind.TAKE, {"what": what.value}, read)


def _kg(text: str) -> Body:
    return {"kg": parse_kg(text)}


LINES: Mapping[str, SheetLine] = {
    "eggs": SheetLine(
        SubjectKind.PLACE, YieldEntryKind.COLLECT, {}, lambda text: {"grams": parse_grams(text)}
    ),
    "hatch": SheetLine(SubjectKind.COHORT, CohortEntryKind.SAW, {"event": Event.HATCH.value}, parse_hatch),
    "feed": SheetLine(SubjectKind.BIN, BinEntryKind.FEED, {}, _fed),
    "harvest": _taken(Taken.LARVAE, _kg),
    "prepupae": _taken(Taken.PREPUPAE, parse_mass_or_count),
    "residue": _taken(Taken.RESIDUE, _left_over),
    "dead": SheetLine(SubjectKind.PLACE, YieldEntryKind.DEAD, {}, _swept),
    "note": SheetLine(SubjectKind.PLACE, YieldEntryKind.NOTE, {}, lambda _: {}),
}
"""What can be written into the sheet."""
WORDS = (*HEADINGS, *LINES, *USES)
"""All words of the sheet that a language has to have."""


def is_blank(row: Mapping[str, str]) -> bool:
    """Whether a printed line was left empty: it says when, where and what, and nothing more."""
    printed = {"when", "where", "what"}
    return bool(row.get("where")) and not any(text for name, text in row.items() if name not in printed)


def sheet_entry(
    row: Mapping[str, str],
    word_of: Callable[[str], str],
    at_ms: int,
    now_ms: int,
    author: str,
    places: Mapping[str, str],
    cohorts: Callable[[], Iterable[Cohort]],
) -> LogbookEntry:
    """The entry of a line; `word_of` gives the English word for a printed one, `cohorts` the farm's."""
    what = word_of(row["what"])
    line = LINES.get(what)
    if line is None:
        raise wrong_value("what", repr(row["what"]), ", ".join(LINES))
    subject = _subject(line, row["where"], at_ms, places, cohorts)
    about = line.about if subject in places else SubjectKind.COHORT
    kind = CohortEntryKind.NOTE.value if what == "note" else line.kind
    body: Body = {**line.body, **_amount(line, what, row), **_use(what, row, word_of, places)}
    if row.get("note"):
        body["note"] = row["note"]
    elif what == "note":
        raise missing("note", sentence("any text"))
    return LogbookEntry(about, subject, kind, at_ms, now_ms, author, body)


def _amount(line: SheetLine, what: str, row: Mapping[str, str]) -> Body:
    text = row.get("amount", "")
    if not text:
        if what in ("hatch", "note"):
            return {}
        raise UsageError("{columns} is empty", columns="amount")
    return line.read(text)


def _use(what: str, row: Mapping[str, str], word_of: Callable[[str], str], places: Mapping[str, str]) -> Body:
    said, tray = word_of(row.get("use", "")), row.get("to", "")
    body: Body = {"tray": find_place(tray, places)} if tray and what == "eggs" else {}
    if not said:
        return body
    allowed = (EggUse.SOLD.value, EggUse.HATCH.value) if what == "eggs" else (*USES, "feed")
    if said not in allowed:
        raise wrong_value("use", repr(row["use"]), ", ".join(allowed))
    return {**body, "use": said}


def _subject(
    line: SheetLine,
    where: str,
    at_ms: int,
    places: Mapping[str, str],
    cohorts: Callable[[], Iterable[Cohort]],
) -> str:
    """The place or the cohort that is meant; a hatch in a tray is that of the one cohort of eggs in it."""
    named = line.kind in (CohortEntryKind.SAW, YieldEntryKind.NOTE) and where not in places
    if named and where in {cohort.name for cohort in cohorts()}:
        return where
    place = find_place(where, places)
    if line.about is not SubjectKind.COHORT:
        return place
    there = [
        cohort
        for cohort in cohorts()
        if cohort.track.start_stage is Stage.EGG
        and cohort.track.start_ms <= at_ms
        and (cohort.ended is None or cohort.ended.at_ms > at_ms)
        and cohort.place_at(at_ms) == place
    ]
    fresh = [cohort for cohort in there if not cohort.seen] or there
    if len(fresh) != 1:
        raise UsageError(
            "write the cohort of eggs in {place} that hatched; there are: {cohorts}",
            place=place,
            cohorts=", ".join(cohort.name for cohort in fresh) or sentence("none yet"),
        )
    return fresh[0].name


def week_lines(first: date, cages: Sequence[str]) -> list[tuple[date, str, str]]:
    """The lines that are printed already: the eggs of each cage on each day of the week that begins then."""
    days = [first + timedelta(days=number) for number in range(DAYS_OF_A_WEEK)]
    return [(day, cage, "eggs") for day in days for cage in cages]
