"""Brings a database of an older program up to date: a copy beside it first, then all steps or none.

The copy is whole, with the keys of the page, and only its owner reads it: with it one goes back to the older
program. That of the last update is kept. A power cut at any moment leaves the file as it was or as it will
be. While a service of the older program holds the file nothing is done: it would write into tables that it
does not know.
"""

from __future__ import annotations

import fcntl
import logging
import os
import re
import shutil
import sqlite3
from contextlib import closing, suppress
from pathlib import Path

from monitor.errors import Sentence, StoreDamaged, StoreError, StoreFull, StoreLocked, StoreTooNew, sentence
from monitor.store import schema
from monitor.store.schema import MIGRATIONS, Migration

LOCK = ".lock"
"""Ends the name of the file, beside the database, that its one service holds locked."""
_KEPT = "before-update"
_ROOM = 1.05
"""Own choice: a copy is as large as the database, and a file system wants a little beside it."""
_PAGES_IN_STEP = 4000
log = logging.getLogger(__name__)


def bring_up_to_date(
    connection: sqlite3.Connection, path: Path, migrations: tuple[Migration, ...] = MIGRATIONS
) -> None:
    """Do the steps that the file lacks, all or none, with a copy beside it first."""
    if schema.version(connection) >= schema.newest(migrations):
        return
    _refuse_running_service(path)
    found = schema.migrate(connection, path, migrations, _keep_copy)
    if found:
        log.info("%s: brought up to date; as it was before: %s", path, kept_before(path, found))
        _drop_older(path, kept_before(path, found))


def kept_before(path: Path, number: int) -> Path:
    """Where the copy lies that was made before an update from this step of the schema."""
    return path.with_name(f"{path.stem}.{_KEPT}-{number}{path.suffix}")


def refuse_newer(connection: sqlite3.Connection, path: Path) -> None:
    """Raise StoreTooNew for a file of a newer program, with the version to install and the way back."""
    number, known = schema.version(connection), schema.newest()
    if number <= known:
        return
    writer = schema.written_by(connection)
    if not writer or writer == schema.OWN_VERSION:
        raise StoreTooNew(
            "{path}: written by a newer version of this program (schema {found}; this one knows {known}). "
            "To mend: install the newer version again, or use a backup from before it.",
            path=path,
            found=number,
            known=known,
        )
    raise StoreTooNew(
        "{path}: written by version {version} of this program, and this is version {own} (schema {found}; "
        "this one knows {known}). Nothing was changed. To mend: install version {version} or a newer one. "
        "{back}",
        path=path,
        version=writer,
        own=schema.OWN_VERSION,
        found=number,
        known=known,
        back=_way_back(path, known),
    )


def _way_back(path: Path, known: int) -> Sentence:
    kept = [(number, file) for number, file in _kept_copies(path) if number <= known]
    if not kept:
        return sentence("A copy from before the update will do too; what was written since is not in it.")
    return sentence(
        "To stay with this version instead, put {copy} in its place; what was written since the update is "
        "not in it.",
        copy=max(kept)[1],
    )


def _kept_copies(path: Path) -> list[tuple[int, Path]]:
    pattern = re.compile(rf"{re.escape(path.stem)}\.{_KEPT}-(\d+){re.escape(path.suffix)}")
    found = ((pattern.fullmatch(file.name), file) for file in path.parent.iterdir())
    return [(int(match[1]), file) for match, file in found if match]


def _drop_older(path: Path, newest: Path) -> None:
    for _, file in _kept_copies(path):
        if file != newest:
            with suppress(OSError):  # It belongs to another user; it does no harm there.
                file.unlink()


def _refuse_running_service(path: Path) -> None:
    """Raise StoreLocked while another process serves this database with the program of before."""
    try:
        descriptor = os.open(path.with_name(path.name + LOCK), os.O_RDWR | os.O_CLOEXEC)
    except OSError:
        return
    try:
        holder = os.pread(descriptor, 32, 0).decode("ascii", "replace").strip()
        if holder == str(os.getpid()):
            return
        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        raise StoreLocked(
            "{path}: the monitor that runs on it (process {number}) is still the older version, and nothing "
            "was changed. To mend: start it again, such as: sudo systemctl restart rearing-monitor",
            path=path,
            number=holder or "?",
        ) from None
    finally:
        os.close(descriptor)


def _keep_copy(path: Path, found: int) -> None:
    """Copy the file as it is, check the copy, then give it its name."""
    log.info("%s: step %d of the schema; a copy is made before it is brought up to date", path, found)
    _refuse_scarce_room(path)
    target = kept_before(path, found)
    partial = target.with_name(f"{target.name}.part")
    partial.unlink(missing_ok=True)
    try:
        os.close(os.open(partial, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600))
        _copy(path, partial)
        with partial.open("rb+") as written:
            os.fsync(written.fileno())
        _like(partial, path)
        partial.replace(target)
        _settle(target.parent)
    except OSError as error:
        raise StoreError(
            "{path}: no copy could be made before the update ({why}), and nothing was changed. To mend: let "
            "the user that runs the program write in {folder}.",
            path=path,
            why=error.strerror or str(error),
            folder=path.parent,
        ) from None
    finally:
        partial.unlink(missing_ok=True)


def _refuse_scarce_room(path: Path) -> None:
    wanted = sum(file.stat().st_size for file in (path, path.with_name(f"{path.name}-wal")) if file.exists())
    free = shutil.disk_usage(path.parent).free
    if free < wanted * _ROOM:
        raise StoreFull(
            "{path}: before the update a copy is made beside it, which needs {wanted} MB; {free} MB are "
            "free, and nothing was changed. To mend: free some room on that disk, or install the version of "
            "before again meanwhile.",
            path=path,
            wanted=f"{wanted * _ROOM / 1e6:.0f}",
            free=f"{free / 1e6:.0f}",
        )


def _copy(path: Path, partial: Path) -> None:
    source = sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True, isolation_level=None)
    with closing(source), closing(sqlite3.connect(partial, isolation_level=None)) as copy:
        source.backup(copy, pages=_PAGES_IN_STEP, sleep=0.0)
        copy.execute("PRAGMA journal_mode=DELETE")
        is_same = schema.version(copy) == schema.version(source)
        first = copy.execute("PRAGMA quick_check(1)").fetchone()[0]
    if first != "ok" or not is_same:
        raise StoreDamaged(
            "{path}: the copy that is made before an update came out damaged ({error}), and nothing was "
            "changed. To mend: run `rearing-monitor check`; when it happens twice, replace the disk.",
            path=path,
            error=first,
        )


def _like(file: Path, model: Path) -> None:
    facts = model.stat()
    with suppress(OSError, AttributeError):
        os.chown(file, facts.st_uid, facts.st_gid)


def _settle(folder: Path) -> None:
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
