"""A logbook of a small farm for tests of takings: hours after a beginning, entries in a line each."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import fields, replace
from typing import Any
from zoneinfo import ZoneInfo

from development_builders import FLY

from monitor.bins.substrate import SubstrateParameters
from monitor.logbook.animals import linked
from monitor.logbook.bin_entries import BinValidationContext
from monitor.logbook.case import Question
from monitor.logbook.cohort_entries import validation_context_of
from monitor.logbook.entry import WITHDRAWN
from monitor.logbook.questions import asked_about
from monitor.logbook.replay import FarmBook, FarmContext, check_entry, farm_book
from monitor.logbook.takings import takings_of
from monitor.records import MS_PER_DAY, MS_PER_HOUR, LogbookEntry, SubjectKind
from monitor.yields.records import Takings

T0 = 1_790_000_000_000
NOW = T0 + 60 * MS_PER_DAY
COHORT, BIN, PLACE = SubjectKind.COHORT, SubjectKind.BIN, SubjectKind.PLACE
PLACES = {
    place: place.replace("-", " ").capitalize()
    for place in ("cage-1", "cage-2", "tray-1", "tray-2", "bin-1", "bin-2", "box-1")
}
CAGES = ("cage-1", "cage-2")
ZONE = ZoneInfo("Africa/Gaborone")
CONTEXT = FarmContext(
    validation_context_of(PLACES, CAGES, ZONE, FLY, ("brewery_grain",)),
    BinValidationContext(
        {place: title for place, title in PLACES.items() if place not in CAGES},
        ZONE,
        {"wheat_bran": SubstrateParameters()},
        "wheat_bran",
        frozenset(),
        101_325.0,
    ),
)
FILL: dict[str, Any] = {"kg": 10.0, "moisture": 0.7, "surface_m2": 0.24}


class YieldBook:
    """Entries as the one writer makes them: linked to cohorts, checked, numbered."""

    def __init__(self) -> None:
        self.entries: list[LogbookEntry] = []

    def make(self, about: SubjectKind, subject: str, kind: str, hours: float, **body: Any) -> LogbookEntry:
        """An entry that is not written yet."""
        at_ms = T0 + round(hours * MS_PER_HOUR)
        return LogbookEntry(about, subject, kind, at_ms, at_ms, "keeper", body)

    def write(self, about: SubjectKind, subject: str, kind: str, hours: float, **body: Any) -> int:
        """Write an entry; UsageError where it cannot be."""
        return self.add(self.make(about, subject, kind, hours, **body))

    def add(self, entry: LogbookEntry, old: LogbookEntry | None = None) -> int:
        """Write an entry that is made, as a correction of another one where that is given."""
        others = [each for each in self.entries if old is None or each.entry_id != old.entry_id]
        if entry.kind != WITHDRAWN:
            entry = linked(entry, old, farm_book(others, CONTEXT, NOW).cohorts, CONTEXT.cohorts)
        check_entry(self.entries, entry, CONTEXT, NOW)
        self.entries.append(replace(entry, entry_id=len(self.entries) + 1))
        return len(self.entries)

    def correct(self, number: int, **changes: Any) -> int:
        """Put values of an entry right; None takes one away."""
        old = self.entries[number - 1]
        body = {key: value for key, value in {**old.body, **changes}.items() if value is not None}
        return self.add(replace(old, body=body, corrects=number, entry_id=None), old)

    def undo(self, number: int) -> int:
        """Take an entry back."""
        old = self.entries[number - 1]
        return self.add(replace(old, kind=WITHDRAWN, body={}, corrects=number, entry_id=None), old)

    def eggs(self, hours: float, grams: float, cage: str = "cage-1", **body: Any) -> int:
        """Eggs were collected."""
        return self.write(PLACE, cage, "collect", hours, grams=grams, **body)

    def book(self) -> FarmBook:
        """The replay."""
        return farm_book(self.entries, CONTEXT, NOW)

    def takings(self) -> Takings:
        """What was taken and given."""
        return takings_of(self.entries, self.book(), CAGES)

    def asked(self, about: SubjectKind, subject: str, kind: str, hours: float, **body: Any) -> list[Question]:
        """What is odd about a new entry."""
        entry = self.make(about, subject, kind, hours, **body)
        return [*asked_about(self.entries, (entry,), CONTEXT, NOW)[0]]


def without_numbers(takings: Takings) -> Takings:
    """The same without the numbers of entries, which differ where an entry was put right."""
    return Takings(
        **{
            each.name: tuple(replace(taking, entry_id=None) for taking in _listed(takings, each.name))
            for each in fields(takings)
        }
    )


def _listed(takings: Takings, name: str) -> Iterable[Any]:
    listed: Iterable[Any] = getattr(takings, name)
    return listed
