"""Photos that belong to entries: one file each in a folder beside the database, named by what is in it.

A photo is laid down first: it is noted as waiting, then written beside its name, synced and renamed. The
transaction that writes its entry takes it over, so an entry never names a photo that is not on the disk. What
nobody took over goes after two days, and no file that is not noted here is ever touched. Nothing goes to make
room: where there is none, that is said.
"""

from __future__ import annotations

import contextlib
import errno
import hashlib
import os
import sqlite3
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from monitor.errors import StoreError, StoreFull, StoreUnreadable, UsageError
from monitor.logbook.photos import Photo
from monitor.records import MS_PER_DAY
from monitor.store.connection import FREE_ROOM, Queries, open_database

FOLDER = "rearing-photos"
"""Beside the database, and beside its copies: a copy finds its photos where it lies."""
WAITS_MS = 2 * MS_PER_DAY
"""Own choice: for so long a photo waits for its entry, such as while a question about it is open."""
_NAME_LENGTH = 40
_STANDING = "FROM photo WHERE gone_ms IS NULL"
_COLUMNS = "entry_id, name, bytes, width, height, small IS NOT NULL, gone_ms, gone_by"


@dataclass(frozen=True, slots=True)
class EntryPhoto:
    """The photo of an entry; `gone_ms` says when it was deleted, `gone_by` by whom."""

    entry_id: int
    name: str
    size_bytes: int
    width: int
    height: int
    has_small: bool
    gone_ms: int | None
    gone_by: str | None


@dataclass(frozen=True, slots=True)
class PhotoRoom:
    """How many photos are kept, how many bytes they have, and how many they may have."""

    count: int
    used_bytes: int
    most_bytes: int

    @property
    def left_bytes(self) -> int:
        return max(0, self.most_bytes - self.used_bytes)


class Photos(Queries):
    @property
    def folder(self) -> Path:
        """Where the files are."""
        return self._database.path.parent / FOLDER

    def file(self, name: str) -> Path:
        """Where the file of a photo is, by the name that it was laid down under."""
        return self.folder / name

    def room(self, most_bytes: int) -> PhotoRoom:
        """How full it is."""
        count, used = self._database.rows(
            "SELECT count(*), coalesce(sum(bytes), 0) FROM (SELECT bytes FROM photo WHERE gone_ms IS NULL "
            "UNION ALL SELECT bytes FROM photo_waiting)"
        )[0]
        return PhotoRoom(count, used, most_bytes)

    def lay_down(self, photo: Photo, small: bytes | None, now_ms: int, most_bytes: int) -> str:
        """Put a photo where its entry will find it; gives its name. UsageError where there is no room."""
        name = f"{hashlib.sha256(photo.content).hexdigest()[:_NAME_LENGTH]}.jpg"
        values = (name, len(photo.content), photo.width, photo.height, small, now_ms)
        with self._database.write() as connection:
            self._forget_waiting(connection, now_ms)
            if not self.waits(name) and self.room(most_bytes).left_bytes < len(photo.content):
                raise UsageError(
                    "there is no room for more photos on the farm’s computer, and none is deleted by itself. "
                    "The entry can be written without one; the owner can make room (in a terminal: "
                    "`rearing-monitor photos`)"
                )
            connection.execute("INSERT OR REPLACE INTO photo_waiting VALUES(?, ?, ?, ?, ?, ?)", values)
        write_beside(self.file(name), photo.content)
        return name

    def waits(self, name: str) -> bool:
        """Whether a photo was laid down and no entry has taken it yet."""
        return self._database.row("SELECT 1 FROM photo_waiting WHERE name = ?", (name,)) is not None

    def take(self, name: str, entry_id: int) -> None:
        """Give a photo that was laid down to its entry, in the transaction that writes it."""
        with self._database.write() as connection:
            taken = connection.execute(
                "INSERT INTO photo(entry_id, name, bytes, width, height, small) "
                "SELECT ?, name, bytes, width, height, small FROM photo_waiting WHERE name = ?",
                (entry_id, name),
            ).rowcount
            if taken != 1 or not self.file(name).exists():
                raise gone_while_waiting()
            connection.execute("DELETE FROM photo_waiting WHERE name = ?", (name,))

    def of(self, entries: Iterable[int]) -> Mapping[int, EntryPhoto]:
        """The photos of some entries."""
        numbers = tuple(entries)
        marks = ",".join("?" * len(numbers))
        rows = self._database.rows(f"SELECT {_COLUMNS} FROM photo WHERE entry_id IN ({marks})", numbers)  # noqa: S608
        return {row[0]: _photo(row) for row in rows}

    def small(self, entry_id: int) -> bytes | None:
        """The small JPEG of an entry's photo, where the phone made one."""
        content: bytes | None = self._database.value(
            f"SELECT small {_STANDING} AND entry_id = ?", (entry_id,)
        )
        return content

    def standing(self, before_ms: int | None = None) -> tuple[EntryPhoto, ...]:
        """All photos that are kept, the oldest entry first; of entries made before a time, or all."""
        rows = self._database.rows(
            f"SELECT {_COLUMNS} FROM photo JOIN logbook USING(entry_id) "  # noqa: S608
            "WHERE gone_ms IS NULL AND (?1 IS NULL OR at_ms < ?1) ORDER BY at_ms, entry_id",
            (before_ms,),
        )
        return tuple(_photo(row) for row in rows)

    def delete(self, entries: Sequence[int], now_ms: int, who: str) -> None:
        """Delete photos because a person said so; that there were some stays written beside their entries."""
        with self._database.write() as connection:
            names = {photo.name for photo in self.of(entries).values() if photo.gone_ms is None}
            connection.executemany(
                "UPDATE photo SET gone_ms = ?, gone_by = ?, small = NULL "
                "WHERE entry_id = ? AND gone_ms IS NULL",
                [(now_ms, who, entry) for entry in entries],
            )
            for name in names:
                self._drop_file(connection, name)

    def _forget_waiting(self, connection: sqlite3.Connection, now_ms: int) -> None:
        """What has waited too long for its entry, or lies in the future of a clock that was ahead."""
        old = connection.execute(
            "SELECT name FROM photo_waiting WHERE since_ms NOT BETWEEN ? AND ?",
            (now_ms - WAITS_MS, now_ms + WAITS_MS),
        ).fetchall()
        for (name,) in old:
            connection.execute("DELETE FROM photo_waiting WHERE name = ?", (name,))
            with contextlib.suppress(StoreError):
                self._drop_file(connection, name)

    def _drop_file(self, connection: sqlite3.Connection, name: str) -> None:
        """Remove the file of a photo that no entry has and none waits for."""
        wanted = connection.execute(
            f"SELECT 1 {_STANDING} AND name = ?1 UNION SELECT 1 FROM photo_waiting WHERE name = ?1",  # noqa: S608
            (name,),
        ).fetchone()
        if wanted is None:
            with _named_faults(self.file(name)):
                self.file(name).unlink(missing_ok=True)
                _partial(self.file(name)).unlink(missing_ok=True)


def gone_while_waiting() -> UsageError:
    """For a photo that waited too long for its entry."""
    return UsageError("the photo is not there any more. Choose it again, or write the entry without one")


def _photo(row: Sequence[object]) -> EntryPhoto:
    cells = list(row)
    cells[5] = bool(cells[5])
    return EntryPhoto(*cells)  # type: ignore[arg-type]


def _partial(path: Path) -> Path:
    return path.with_name(f"{path.name}.part")


def write_beside(path: Path, content: bytes) -> None:
    """Write a file that has its name only when it is whole and on the disk; one that is there stays."""
    with _named_faults(path):
        path.parent.mkdir(mode=0o700, exist_ok=True)
        if path.exists() and path.stat().st_size == len(content):
            return
        partial = _partial(path)
        partial.unlink(missing_ok=True)
        with os.fdopen(os.open(partial, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        partial.replace(path)
        settle_folder(path.parent)


@contextlib.contextmanager
def _named_faults(path: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise _named(error, path) from error


def _named(error: OSError, path: Path) -> StoreError:
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        return StoreFull(
            "{path}: the disk has no room left for a photo. To mend: {remedy}.", path=path, remedy=FREE_ROOM
        )
    return StoreUnreadable("{path} cannot be written: {why}", path=path, why=error.strerror or str(error))


def settle_folder(folder: Path) -> None:
    """Have the name on the disk before it is called done; some file systems cannot."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def named(connection: sqlite3.Connection) -> tuple[tuple[str, int], ...]:
    """The photos that a database names, each with its bytes; none in one from before there were any."""
    known = connection.execute("SELECT 1 FROM sqlite_schema WHERE name = 'photo'").fetchone()
    query = f"SELECT DISTINCT name, bytes {_STANDING} ORDER BY name"
    return tuple(connection.execute(query)) if known else ()


def copy_beside(
    database: Path, copy: Path, progress: Callable[[int, int], None] | None = None
) -> tuple[str, ...]:
    """Copy the photos that a copy of the database names into the folder beside it, those it lacks alone.

    Gives the names of those that cannot be read; the others are copied all the same.
    """
    opened = open_database(copy, create=False, read_only=True, check=False)
    try:
        photos = opened.rows(f"SELECT DISTINCT name, bytes {_STANDING}")
    finally:
        opened.close()
    missing = []
    for number, (name, size) in enumerate(photos, 1):
        if not copy_one(database.parent / FOLDER / name, copy.parent / FOLDER / name, size):
            missing.append(name)
        if progress is not None:
            progress(number, len(photos))
    return tuple(missing)


def copy_one(source: Path, target: Path, size: int) -> bool:
    """Whether the copy has the photo now, as its name says; one of an earlier day is left alone."""
    if target.exists() and target.stat().st_size == size:
        return True
    try:
        content = source.read_bytes()
    except OSError:
        return False
    if not target.name.startswith(hashlib.sha256(content).hexdigest()[:_NAME_LENGTH]):
        return False
    write_beside(target, content)
    return True
