"""A copy of the database while the service goes on writing."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from pathlib import Path

from monitor.errors import StoreUnreadable, UsageError
from monitor.store.connection import Database, for_owner_only, mapped, open_database, quick_check

_PAGES_IN_STEP = 2000


def backup(database: Database, target: Path, progress: Callable[[int, int], None] | None = None) -> None:
    """Copy to `target`, check the copy, then give it its name; an existing file is never overwritten.

    `progress(done, total)` counts pages; what it raises ends the copy. The copy is read over a connection of
    its own and shows one moment, so writing goes on meanwhile.
    """
    if target.exists():
        raise UsageError(f"{target} exists already; nothing was written. To mend: give another name.")
    if not target.parent.is_dir():
        raise StoreUnreadable(f"the folder {target.parent} does not exist. To mend: create it.")
    partial = target.with_name(f"{target.name}.part")
    try:
        _copy(database, partial, progress)
        partial.rename(target)
    finally:
        partial.unlink(missing_ok=True)


def _copy(database: Database, partial: Path, progress: Callable[[int, int], None] | None) -> None:
    partial.unlink(missing_ok=True)
    for_owner_only(partial)
    with mapped(partial):
        copy = sqlite3.connect(partial, isolation_level=None)
        try:
            _copy_pages(database, copy, progress)
            copy.execute("PRAGMA journal_mode=DELETE")
            quick_check(copy, partial)
        finally:
            copy.close()


def _copy_pages(
    database: Database, copy: sqlite3.Connection, progress: Callable[[int, int], None] | None
) -> None:
    def report(_status: int, remaining: int, total: int) -> None:
        if progress is not None:
            progress(total - remaining, total)

    own = open_database(database.path, create=False, read_only=True, check=False)
    try:
        with own.read() as source:
            # A read transaction of ours holds the moment; else each write would begin the copy anew.
            source.execute("BEGIN")
            source.execute("SELECT count(*) FROM sqlite_schema").fetchone()
            source.backup(copy, pages=_PAGES_IN_STEP, progress=report, sleep=0.0)
    finally:
        own.close()
