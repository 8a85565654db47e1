"""Opens the database file and turns every fault of SQLite into a named error with its remedy.

A `Database` is one connection behind one lock: threads of the service share the one that writes, one at a
time. Readers open their own with `read_only=True`, which WAL allows while the service writes; commands of
another process open their own too and wait up to `BUSY_TIMEOUT_S` for their turn to write.
"""

from __future__ import annotations

import contextlib
import sqlite3
import threading
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from monitor.errors import (
    Sentence,
    StoreDamaged,
    StoreError,
    StoreFull,
    StoreLocked,
    StoreUnreadable,
    sentence,
)
from monitor.store import schema, update

BUSY_TIMEOUT_S = 10.0
_PRAGMAS = (
    "PRAGMA synchronous=FULL",
    "PRAGMA foreign_keys=ON",
    "PRAGMA trusted_schema=OFF",
    "PRAGMA journal_size_limit=16777216",
)
_RESTORE = sentence(
    "stop the service, then go on from the newest backup: `rearing-monitor restore FOLDER` (it keeps the "
    "damaged file beside it); when it happens twice, replace the memory card or disk"
)
FREE_ROOM = sentence(
    "free some room on that disk (old backups first) or move the database to a larger one; "
    "nodes and broker keep their readings meanwhile and the service goes on by itself"
)
_PERMISSION = sentence(
    "give the command as the user that runs the monitor (such as: sudo -u rearing rearing-monitor now), or "
    "let your own read and write this file and its folder"
)
_FULL = (StoreFull, sentence("the disk has no room left"), FREE_ROOM)
_HELD = (
    StoreLocked,
    sentence("another program holds the database"),
    sentence("close the other program that has this file open, then try again"),
)
_BY_CODE: dict[int, tuple[type[StoreError], Sentence, Sentence]] = {
    sqlite3.SQLITE_FULL: _FULL,
    sqlite3.SQLITE_IOERR_SHMSIZE: _FULL,
    sqlite3.SQLITE_BUSY: _HELD,
    sqlite3.SQLITE_LOCKED: _HELD,
    sqlite3.SQLITE_CORRUPT: (StoreDamaged, sentence("the database file is damaged"), _RESTORE),
    sqlite3.SQLITE_NOTADB: (
        StoreUnreadable,
        sentence("this file is not a database"),
        sentence("give another file in [store] path, or put this one back from a backup"),
    ),
    sqlite3.SQLITE_CANTOPEN: (StoreUnreadable, sentence("the database cannot be opened"), _PERMISSION),
    sqlite3.SQLITE_PERM: (StoreUnreadable, sentence("the database may not be opened"), _PERMISSION),
    sqlite3.SQLITE_AUTH: (StoreUnreadable, sentence("the database may not be opened"), _PERMISSION),
    sqlite3.SQLITE_READONLY: (
        StoreUnreadable,
        sentence("the database may not be written to"),
        _PERMISSION,
    ),
    sqlite3.SQLITE_IOERR: (
        StoreUnreadable,
        sentence("the disk does not read or write this file"),
        sentence("look at the memory card or disk and its cable; copy the file away before anything else"),
    ),
}
_UNKNOWN = (
    StoreError,
    sentence("the database refused"),
    sentence("report this text to whoever maintains the monitor"),
)


def as_store_error(error: sqlite3.Error, path: Path) -> StoreError:
    """The named error for a fault of SQLite: the extended code first, then its primary code."""
    code = getattr(error, "sqlite_errorcode", sqlite3.SQLITE_ERROR)
    kind, what, remedy = _BY_CODE.get(code) or _BY_CODE.get(code & 0xFF, _UNKNOWN)
    said = sentence(
        "{path}: {what} ({error}). To mend: {remedy}.", path=path, what=what, error=error, remedy=remedy
    )
    return kind(said)


@contextlib.contextmanager
def named_errors(path: Path) -> Iterator[None]:
    """Inside, a fault of SQLite leaves as a StoreError. Wrong use of SQLite (a bug) leaves as it is."""
    try:
        yield
    except (sqlite3.ProgrammingError, sqlite3.InterfaceError):
        raise
    except sqlite3.Error as error:
        raise as_store_error(error, path) from error


class Queries:
    """Base of the classes that answer for some tables of a database."""

    def __init__(self, database: Database) -> None:
        self._database = database


class Database:
    """One connection, one lock, explicit transactions."""

    def __init__(self, connection: sqlite3.Connection, path: Path, read_only: bool) -> None:
        self.path = path
        self.read_only = read_only
        self._connection = connection
        self._lock = threading.RLock()

    @contextlib.contextmanager
    def read(self) -> Iterator[sqlite3.Connection]:
        """The connection for queries; held until the block ends."""
        with self._lock, named_errors(self.path):
            yield self._connection

    def rows(self, query: str, values: Sequence[object] = ()) -> list[tuple[Any, ...]]:
        with self.read() as connection:
            return connection.execute(query, values).fetchall()

    def row(self, query: str, values: Sequence[object] = ()) -> tuple[Any, ...] | None:
        with self.read() as connection:
            first: tuple[Any, ...] | None = connection.execute(query, values).fetchone()
            return first

    def value(self, query: str, values: Sequence[object] = ()) -> Any:
        """The first cell of the first row; None where there is no row, or nothing in it."""
        first = self.row(query, values)
        return None if first is None else first[0]

    def change(self, statement: str, values: Sequence[object] = ()) -> int:
        """Carry out one statement that writes; gives the number of the row that it added."""
        with self.write() as connection:
            return connection.execute(statement, values).lastrowid or 0

    @contextlib.contextmanager
    def write(self) -> Iterator[sqlite3.Connection]:
        """One transaction: all of the block or nothing. Inside another `write` it is part of that one."""
        if self.read_only:
            raise StoreUnreadable("{path}: opened for reading only; nothing was written", path=self.path)
        with self._lock, named_errors(self.path):
            if self._connection.in_transaction:
                yield self._connection
            else:
                with self._transaction():
                    yield self._connection

    @contextlib.contextmanager
    def _transaction(self) -> Iterator[None]:
        self._connection.execute("BEGIN IMMEDIATE")
        try:
            yield
            self._connection.execute("COMMIT")
        finally:
            if self._connection.in_transaction:
                self._connection.execute("ROLLBACK")

    def wait_at_most(self, seconds: float = BUSY_TIMEOUT_S) -> None:
        """How long a write waits for another program that holds the file."""
        with self._lock, named_errors(self.path):
            self._connection.execute(f"PRAGMA busy_timeout={round(seconds * 1000)}")

    def interrupt(self) -> None:
        """Break off a query that another thread has under way; it fails with a StoreError."""
        with contextlib.suppress(sqlite3.ProgrammingError):
            self._connection.interrupt()

    def close(self) -> None:
        """Close the connection; the last one to close also folds the WAL into the file."""
        with self._lock:
            self._connection.close()


def open_database(
    path: Path,
    *,
    create: bool = True,
    read_only: bool = False,
    check: bool = True,
    busy_timeout_s: float = BUSY_TIMEOUT_S,
    older: bool = False,
) -> Database:
    """Open, set up, check and migrate the database at `path`, or say what is wrong with it.

    One of an older version is refused when it is opened for reading only, unless `older` is true.
    """
    _refuse_wrong_place(path, create and not read_only)
    mode = "ro" if read_only else "rwc" if create else "rw"
    if mode == "rwc":
        for_owner_only(path)
    with named_errors(path):
        connection = sqlite3.connect(
            f"{path.absolute().as_uri()}?mode={mode}",
            uri=True,
            timeout=busy_timeout_s,
            isolation_level=None,
            check_same_thread=False,
        )
        try:
            _prepare(connection, path, read_only, check, older)
        except BaseException:
            connection.close()
            raise
    return Database(connection, path, read_only)


def for_owner_only(path: Path) -> None:
    """Make a new file that only its owner reads: the page's keys and password hashes stand in it."""
    with contextlib.suppress(OSError):  # SQLite says better what is wrong
        path.touch(mode=0o600, exist_ok=False)


def _prepare(connection: sqlite3.Connection, path: Path, read_only: bool, check: bool, older: bool) -> None:
    schema.refuse_foreign(connection, path)
    update.refuse_newer(connection, path)
    if check:
        quick_check(connection, path)
    if read_only:
        _refuse_older(connection, path, older)
        return
    mode = connection.execute("PRAGMA journal_mode=WAL").fetchone()[0]
    if mode != "wal":
        raise StoreUnreadable(
            "{path}: this disk cannot hold the database safely (journal mode {mode}). "
            "To mend: use a disk of this computer, not a network folder.",
            path=path,
            mode=mode,
        )
    for pragma in _PRAGMAS:
        connection.execute(pragma)
    update.bring_up_to_date(connection, path)


def _refuse_older(connection: sqlite3.Connection, path: Path, older: bool) -> None:
    """One who only reads cannot bring the file up to date; some can do with an older one."""
    if not older and schema.version(connection) < schema.newest():
        raise StoreUnreadable(
            "{path}: written by an older version of this program. "
            "To mend: start the service once, it brings the file up to date.",
            path=path,
        )


class FileInspection:
    """`quick_check` over a connection of its own, which another thread may give up."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._database: Database | None = None
        self._given_up = False

    def run(self) -> None:
        """Read the whole file; StoreDamaged where its structure is broken."""
        self._database = database = open_database(
            self._path, create=False, read_only=True, check=False, older=True
        )
        try:
            with database.read() as connection:
                if not self._given_up:
                    quick_check(connection, self._path)
        except StoreError:
            if not self._given_up:
                raise
        finally:
            database.close()

    def give_up(self) -> None:
        self._given_up = True
        database = self._database
        if database is not None:
            database.interrupt()


def quick_check(connection: sqlite3.Connection, path: Path) -> None:
    """Raise StoreDamaged when SQLite finds the file's structure broken."""
    first = connection.execute("PRAGMA quick_check(1)").fetchone()[0]
    if first != "ok":
        raise StoreDamaged(
            "{path}: the database file is damaged ({error}). To mend: {remedy}.",
            path=path,
            error=first,
            remedy=_RESTORE,
        )


def _refuse_wrong_place(path: Path, create: bool) -> None:
    if path.is_dir():
        raise StoreUnreadable(
            "{path}: this is a folder, not a file. To mend: give a file name in [store] path.", path=path
        )
    if not path.parent.is_dir():
        raise StoreUnreadable(
            "{path}: the folder {folder} does not exist. To mend: create it or change [store] path.",
            path=path,
            folder=path.parent,
        )
    if not create and not path.exists():
        raise StoreUnreadable(
            "{path}: there is no database here. To mend: start the service once, or check [store] path.",
            path=path,
        )
