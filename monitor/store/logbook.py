"""What people enter: the logbook of cohorts and bins, calibrations, and the forecasts made from them.

Entries of the logbook are added, never changed and never lost: a correction is a new entry that names the
one it replaces, a withdrawal is a correction of the kind `WITHDRAWN`.
"""

from __future__ import annotations

import contextlib
import json
import sqlite3
from collections.abc import Iterable, Iterator
from dataclasses import astuple, dataclass

from monitor.climate.calibration import CalibrationTable
from monitor.errors import Sentence, UsageError, sentence
from monitor.logbook.entry import ANIMAL_KINDS, EGG_KINDS, in_force
from monitor.records import Calibration, LogbookEntry, SensorKey, SubjectKind
from monitor.store.connection import Database, Queries

_CALIBRATION_COLUMNS = "node, probe, quantity, valid_from_ms, slope, shift, note, entered_ms"
_FORECAST_COLUMNS = "subject, day, event, made_ms, median_ms, low_ms, high_ms"
_COLUMNS = "subject_kind, subject, kind, at_ms, entered_ms, author, body, corrects, entry_id"


def _entry(row: tuple[object, ...]) -> LogbookEntry:
    cells = list(row)
    cells[0], cells[6] = SubjectKind(str(cells[0])), json.loads(str(cells[6]))
    return LogbookEntry(*cells)  # type: ignore[arg-type]


class LogbookMemory:
    """The entries of one file, read once: they never change, so only newer ones are read from then on.

    Stores that only read may share it, whichever thread asks; what it holds is replaced whole.
    """

    def __init__(self) -> None:
        self._held: tuple[tuple[LogbookEntry, ...], int] = (), 0

    def every(self, logbook: Logbook) -> tuple[LogbookEntry, ...]:
        """All entries of the logbook, in the order of their time."""
        (entries, known), newest = self._held, logbook.newest_id()
        if known > newest:
            # Another file stands in its place.
            entries, known = (), 0
        if known < newest:
            newer = logbook.after(known)
            entries = tuple(sorted((*entries, *newer), key=_by_time))
            self._held = entries, max(entry.entry_id or 0 for entry in newer)
        return entries


def _by_time(entry: LogbookEntry) -> tuple[int, int]:
    return entry.at_ms, entry.entry_id or 0


class Logbook(Queries):
    """Entries as they are read out of the file, or out of a `memory` of what was read of it before."""

    def __init__(self, database: Database, memory: LogbookMemory | None = None) -> None:
        super().__init__(database)
        self._memory = memory

    @contextlib.contextmanager
    def adding(self) -> Iterator[None]:
        """One transaction: what is read and added inside stands whole or not at all.

        No other program adds an entry in between. It ends quickly: the service waits for it meanwhile.
        """
        with self._database.write():
            yield

    def add(self, entry: LogbookEntry) -> int:
        """Add an entry; gives its number. A correction is of the same subject and the first of its entry."""
        return self.add_all((entry,))[0]

    def add_all(self, entries: Iterable[LogbookEntry]) -> tuple[int, ...]:
        """Add entries, all or none; gives their numbers."""
        with self._database.write() as connection:
            return tuple(_add(connection, entry) for entry in entries)

    def in_force(
        self, subject_kind: SubjectKind | None = None, subject: str | None = None
    ) -> tuple[LogbookEntry, ...]:
        """The entries that count, in the order of their time; of one subject, of one kind, or all."""
        return in_force(self.every(subject_kind, subject))

    def every(
        self, subject_kind: SubjectKind | None = None, subject: str | None = None
    ) -> tuple[LogbookEntry, ...]:
        """All entries with the corrected and withdrawn ones, in the order of their time."""
        if self._memory is not None:
            return tuple(
                entry
                for entry in self._memory.every(self)
                if subject_kind in (None, entry.subject_kind) and subject in (None, entry.subject)
            )
        rows = self._database.rows(
            f"SELECT {_COLUMNS} FROM logbook WHERE (?1 IS NULL OR subject_kind = ?1) "  # noqa: S608
            "AND (?2 IS NULL OR subject = ?2) ORDER BY at_ms, entry_id",
            (subject_kind, subject),
        )
        return tuple(_entry(row) for row in rows)

    def after(self, entry_id: int) -> tuple[LogbookEntry, ...]:
        """The entries added after the one of this number, in the order in which they were added."""
        rows = self._database.rows(
            f"SELECT {_COLUMNS} FROM logbook WHERE entry_id > ? ORDER BY entry_id",  # noqa: S608
            (entry_id,),
        )
        return tuple(_entry(row) for row in rows)

    def entered_since(self, at_ms: int) -> tuple[LogbookEntry, ...]:
        """The entries that were entered at that time or later, the corrected ones too, as they were added."""
        rows = self._database.rows(
            f"SELECT {_COLUMNS} FROM logbook WHERE entered_ms >= ? ORDER BY entry_id",  # noqa: S608
            (at_ms,),
        )
        return tuple(_entry(row) for row in rows)

    def newest_id(self, subject_kind: SubjectKind | None = None) -> int:
        """The number of the newest entry, 0 where there is none: what tells whether something was entered."""
        query = "SELECT max(entry_id) FROM logbook WHERE ?1 IS NULL OR subject_kind = ?1"
        return int(self._database.value(query, (subject_kind,)) or 0)

    def newest_about_animals(self) -> int:
        """The number of the newest entry that may change where animals live and how many; 0 for none."""
        newest = self._database.value(
            "SELECT max(entry_id) FROM logbook WHERE subject_kind = 'cohort' "  # noqa: S608
            f"OR (subject_kind = 'bin' AND kind IN ({', '.join('?' * len(ANIMAL_KINDS))})) "
            f"OR (subject_kind = 'place' AND kind IN ({', '.join('?' * len(EGG_KINDS))}))",
            (*ANIMAL_KINDS, *EGG_KINDS),
        )
        return int(newest or 0)

    def newest_about_bins(self) -> int:
        """The number of the newest entry about bins, or about cohorts, which live in them; 0 for none."""
        return max(self.newest_id(SubjectKind.BIN), self.newest_id(SubjectKind.COHORT))

    def one(self, entry_id: int) -> LogbookEntry | None:
        row = self._database.row(f"SELECT {_COLUMNS} FROM logbook WHERE entry_id = ?", (entry_id,))  # noqa: S608
        return None if row is None else _entry(row)


def _add(connection: sqlite3.Connection, entry: LogbookEntry) -> int:
    if entry.corrects is not None:
        _refuse_wrong_correction(connection, entry, entry.corrects)
    cursor = connection.execute(
        f"INSERT INTO logbook({_COLUMNS}) VALUES(?, ?, ?, ?, ?, ?, ?, ?, NULL)",
        (
            *(entry.subject_kind, entry.subject, entry.kind, entry.at_ms, entry.entered_ms),
            *(entry.author, json.dumps(dict(entry.body), sort_keys=True), entry.corrects),
        ),
    )
    return cursor.lastrowid or 0


def _refuse_wrong_correction(connection: sqlite3.Connection, entry: LogbookEntry, corrects: int) -> None:
    row = connection.execute(
        "SELECT subject_kind, subject, (SELECT entry_id FROM logbook WHERE corrects = ?1) "
        "FROM logbook WHERE entry_id = ?1",
        (corrects,),
    ).fetchone()
    if row is None:
        raise UsageError("the logbook has no entry {number}; nothing was written", number=corrects)
    if (row[0], row[1]) != (entry.subject_kind, entry.subject):
        raise UsageError(
            "entry {number} is about {old}, not about {new}; nothing was written",
            number=corrects,
            old=_about(row[0], row[1]),
            new=_about(entry.subject_kind, entry.subject),
        )
    if row[2] is not None:
        raise UsageError(
            "entry {number} was corrected already by entry {newer}; correct that one. Nothing was written",
            number=corrects,
            newer=row[2],
        )


def _about(subject_kind: str, subject: str) -> Sentence:
    match subject_kind:
        case SubjectKind.COHORT:
            return sentence("the cohort {cohort}", cohort=subject)
        case SubjectKind.BIN:
            return sentence("the bin {bin}", bin=subject)
        case SubjectKind.PLACE:
            return sentence("the place {place}", place=subject)
    return sentence("the board {node}", node=subject)


@dataclass(frozen=True, slots=True)
class MadeForecast:
    """What was forecast of one event on one day: median and 80 % window."""

    subject: str
    day: str
    event: str
    made_ms: int
    median_ms: int
    low_ms: int
    high_ms: int


class Forecasts(Queries):
    def keep(self, made: Iterable[MadeForecast]) -> int:
        """Keep forecasts of days that have none yet; gives how many were new."""
        with self._database.write() as connection:
            before = connection.total_changes
            connection.executemany(
                "INSERT INTO forecast_made VALUES(?, ?, ?, ?, ?, ?, ?) ON CONFLICT DO NOTHING",
                [astuple(forecast) for forecast in made],
            )
            return connection.total_changes - before

    def has(self, day: str) -> bool:
        """Whether any forecast of that day was kept."""
        return self._database.row("SELECT 1 FROM forecast_made WHERE day = ? LIMIT 1", (day,)) is not None

    def every(self, subject: str | None = None) -> tuple[MadeForecast, ...]:
        """All that were kept, of one subject or of all, in the order in which they were made."""
        rows = self._database.rows(
            f"SELECT {_FORECAST_COLUMNS} FROM forecast_made "  # noqa: S608
            "WHERE ?1 IS NULL OR subject = ?1 ORDER BY made_ms, subject, event",
            (subject,),
        )
        return tuple(MadeForecast(*row) for row in rows)


class Calibrations(Queries):
    def add(self, calibration: Calibration) -> None:
        """Enter a calibration. With the same sensor and valid-from time the one entered last is in force."""
        sensor, *values = astuple(calibration)
        self._database.change(
            f"INSERT INTO calibration({_CALIBRATION_COLUMNS}) VALUES(?, ?, ?, ?, ?, ?, ?, ?)",
            (*sensor, *values),
        )

    def every(self) -> tuple[Calibration, ...]:
        """All calibrations of all sensors, each sensor's in the order of their valid-from times."""
        rows = self._database.rows(
            f"SELECT {_CALIBRATION_COLUMNS} FROM calibration "  # noqa: S608
            "ORDER BY node, probe, quantity, valid_from_ms, calibration_id"
        )
        return tuple(Calibration(SensorKey(*row[:3]), *row[3:]) for row in rows)

    def newest_id(self) -> int:
        """The number of the newest calibration, 0 for none: what tells whether one was entered."""
        return int(self._database.value("SELECT max(calibration_id) FROM calibration") or 0)

    def table(self) -> CalibrationTable:
        return CalibrationTable(self.every())
