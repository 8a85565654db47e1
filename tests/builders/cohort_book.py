"""A logbook for tests of cohorts: days as numbers, entries in a line each."""

from __future__ import annotations

from datetime import UTC
from typing import Any

from development_builders import FLY

from monitor.bins.substrate import SubstrateParameters
from monitor.logbook.bin_entries import BinValidationContext
from monitor.logbook.cohort_entries import validation_context_of
from monitor.logbook.replay import FarmBook, FarmContext, check_entry, farm_book
from monitor.records import MS_PER_DAY, LogbookEntry, SubjectKind

PLACES = {"tray": "Hatching tray", "bin": "Grow-out bin", "box": "Pupation box", "cage": "Love cage"}
FILLED = {place: title for place, title in PLACES.items() if place != "cage"}
CONTEXT = FarmContext(
    validation_context_of(PLACES, ("cage",), UTC, FLY, ("brewery_grain",)),
    BinValidationContext(
        FILLED, UTC, {"wheat_bran": SubstrateParameters()}, "wheat_bran", frozenset(), 101_325.0
    ),
)
NOW_DAY = 100.0


def ms(day: float) -> int:
    """A day as milliseconds."""
    return round(day * MS_PER_DAY)


class Book:
    """Entries in the order in which they were written, each numbered as the store would."""

    def __init__(self) -> None:
        self.entries: list[LogbookEntry] = []

    def make(
        self,
        name: str,
        kind: str,
        day: float,
        *,
        corrects: int | None = None,
        entered: float | None = None,
        **body: Any,
    ) -> LogbookEntry:
        """An entry that is not written yet."""
        entered_ms = ms(day if entered is None else entered)
        return LogbookEntry(SubjectKind.COHORT, name, kind, ms(day), entered_ms, "keeper", body, corrects)

    def write(self, name: str, kind: str, day: float, **more: Any) -> int:
        """Write an entry without a question; gives its number."""
        made = self.make(name, kind, day, **more)
        number = len(self.entries) + 1
        fields = (made.subject_kind, made.subject, made.kind, made.at_ms, made.entered_ms, made.author)
        self.entries.append(LogbookEntry(*fields, made.body, made.corrects, number))
        return number

    def eggs(self, name: str = "c", day: float = 10.0, **more: Any) -> Book:
        """A cohort that was laid in the tray."""
        self.write(name, "start", day, stage="egg", place="tray", **more)
        return self

    def read(self, day: float = NOW_DAY) -> FarmBook:
        """The farm on that day, as it was known then."""
        return farm_book(self.entries, CONTEXT, ms(day), ms(day))

    def check(self, name: str, kind: str, day: float, **more: Any) -> FarmBook:
        """Whether an entry may be written now."""
        made = self.make(name, kind, day, **more)
        return check_entry(self.entries, made, CONTEXT, ms(NOW_DAY))
