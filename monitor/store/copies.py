"""Copies of the database while it is in use, checked before they get their name, and the folder for them.

A folder takes copies only once it was prepared: it then holds a marker. A stick that is not mounted shows an
empty folder of the card without one, so nothing is written there. Photos lie in one folder beside the copies
of all days. A copy holds no secret: the page's keys, password hashes and phones are left out of the database,
and secrets that stand in farm.toml out of that.
"""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from monitor.errors import Sentence, StoreDamaged, StoreUnreadable, UsageError
from monitor.store import meta, photos, schema
from monitor.store.connection import Database, for_owner_only, named_errors, open_database
from monitor.store.kept_sentences import packed, unpacked
from monitor.store.meta import Meta

if TYPE_CHECKING:
    from monitor.settings.schema import CopyPlace, Settings

Progress = Callable[[int, int], None]
MARKER = "rearing-monitor-copies.txt"
GOOD = "copy_good_ms"
"""When the last good copy was made, of `backup_folder`; other places have their own (`key_of`)."""
FAULT, SINCE, _WHERE = "copy_fault", "copies_since_ms", "copy_where"
"""Why the last copy failed; and since when a place is to take copies."""
_SITE = re.compile(r"^site: (.*)$", re.MULTILINE)
_PAGES_IN_STEP = 2000
_MARKER_TEXT = """\
site: {site}
Copies of the database of rearing-monitor are written into this folder.
Keep this file: where it is missing, nothing is copied.
"""


@dataclass(frozen=True, slots=True)
class DatabaseFacts:
    """What a database holds: rows of each table, photos with their sizes, its schema, its newest reading."""

    rows: Mapping[str, int]
    photos: tuple[tuple[str, int], ...]
    schema: int
    newest_reading_ms: int | None


def facts_of(path: Path, *, check: bool = False) -> DatabaseFacts:
    """Open a database for reading, of an older version too, and count what it holds."""
    opened = open_database(path, create=False, read_only=True, check=check, older=True)
    try:
        with opened.read() as connection:
            newest = connection.execute(
                "SELECT max((SELECT max(at_ms) FROM reading WHERE reading.sensor_id = "
                "sensor.sensor_id)) FROM sensor"
            ).fetchone()[0]
            number = schema.version(connection)
            return DatabaseFacts(_counts(connection), photos.named(connection), number, newest)
    finally:
        opened.close()


@dataclass(frozen=True, slots=True)
class CopyState:
    """What is known of one place for copies: the last good one, and why the last try failed, if it did.

    `place` is its id in the settings, empty for `backup_folder`; `label` is how a person knows it.
    """

    place: str
    label: str
    good_ms: int | None
    fault: Sentence | None


def states(facts: Meta, settings: Settings) -> tuple[CopyState, ...]:
    """What is known of each place that the settings name."""
    folder = settings.store.backup_folder
    first = () if folder is None else (_state(facts, "", str(folder), str(folder)),)
    return (*first, *(_state(facts, each.id, each.id, _where(each)) for each in settings.copies))


def _where(place: CopyPlace) -> str:
    return str(place.folder or place.url)


def _state(facts: Meta, place: str, label: str, where: str) -> CopyState:
    known = facts.get(key_of(_WHERE, place))
    if known not in (None, where):
        # The settings name another place by this name: nothing is known of it.
        return CopyState(place, label, None, None)
    good, fault = facts.get(key_of(GOOD, place)), facts.get(key_of(FAULT, place))
    return CopyState(place, label, int(good) if good else None, unpacked(fault) if fault else None)


def key_of(fact: str, place: str) -> str:
    """The name under which the database keeps a fact about a place for copies."""
    return f"{fact}:{place}" if place else fact


def note(facts: Meta, place: str, fault: Sentence | None, now_ms: int, settings: Settings) -> None:
    """Keep what came of a copy, for the alarm, for `check` and for the night report."""
    where = {each.id: _where(each) for each in settings.copies}.get(place, str(settings.store.backup_folder))
    if facts.get(key_of(_WHERE, place)) not in (None, where):
        facts.put(key_of(GOOD, place), "")
    facts.put(key_of(_WHERE, place), where)
    if fault is None:
        facts.put(key_of(GOOD, place), str(now_ms))
    facts.put(key_of(FAULT, place), "" if fault is None else packed(fault))


def forget_fault(facts: Meta, place: str) -> None:
    """Somebody looked after a place: why its last copy failed is no news any more."""
    if facts.get(key_of(FAULT, place)):
        facts.put(key_of(FAULT, place), "")


def prepare(folder: Path, site: str) -> None:
    """Mark a folder as the one that takes the copies of a site; one of another site is refused."""
    # Only here and below: it loads what edits TOML, which no look at the farm needs.
    from monitor.settings.writing import write_file

    _refuse_missing(folder)
    if not (folder / MARKER).exists():
        write_file(folder / MARKER, marker_text(site))
    refuse_unprepared(folder, site)


def refuse_unprepared(folder: Path, site: str) -> None:
    """Raise UsageError unless the folder is there and was prepared for this site."""
    _refuse_missing(folder)
    try:
        text = (folder / MARKER).read_text(encoding="utf-8")
    except FileNotFoundError:
        raise UsageError(
            "{folder} was not prepared for copies, and nothing was written. If it is on a stick or disk, see "
            "whether that is plugged in and mounted. If it is the right folder, run: {command}",
            folder=folder,
            command=f"rearing-monitor backup --prepare {folder}",
        ) from None
    except OSError as error:
        raise StoreUnreadable(
            "{path} cannot be read: {why}", path=folder / MARKER, why=error.strerror
        ) from None
    named = marker_site(text)
    if named != site:
        raise UsageError(
            "{folder} takes the copies of another site ({site}), and nothing was written. "
            "To mend: give each site a folder of its own.",
            folder=folder,
            site=named or "?",
        )


def marker_text(site: str) -> str:
    """What stands in the marker of a place for the copies of a site."""
    return _MARKER_TEXT.format(site=site)


def marker_site(text: str) -> str | None:
    """The site that a marker names."""
    named = _SITE.search(text)
    return None if named is None else named[1]


def _refuse_missing(folder: Path) -> None:
    if not folder.is_dir():
        raise UsageError(
            "the folder {folder} does not exist, and nothing was written. If it is on a stick or disk, see "
            "whether that is plugged in and mounted; else create it. Then run: {command}",
            folder=folder,
            command=f"rearing-monitor backup --prepare {folder}",
        )


def same_disk(folder: Path, database: Path) -> bool:
    """Whether a copy there would be lost together with the disk of the database."""
    return folder.stat().st_dev == database.parent.stat().st_dev


def settings_beside(copy: Path) -> Path:
    """Where the settings lie that belong to a copy of the database."""
    return copy.with_suffix(".farm.toml")


def write_copy(
    database: Database,
    settings_file: Path | None,
    target: Path,
    progress: Progress | None = None,
    *,
    replace: bool = False,
) -> tuple[str, ...]:
    """Copy the database and, beside it, the settings and the photos; gives the photos that cannot be read.

    An existing file is only overwritten with `replace`. Copies in one folder share their photos: those that
    lie there already are not copied again.
    """
    from monitor.settings.writing import without_secrets, write_file

    backup(database, target, progress, replace=replace)
    if settings_file is not None:
        write_file(settings_beside(target), without_secrets(settings_file), force=True)
    return photos.copy_beside(database.path, target, progress)


def backup(
    database: Database, target: Path, progress: Progress | None = None, *, replace: bool = False
) -> None:
    """Copy to `target`, check the copy, then give it its name.

    `progress(done, total)` counts pages; what it raises ends the copy. The copy is read over a connection of
    its own and shows one moment, so writing goes on meanwhile. StoreDamaged where it does not hold what the
    database holds.
    """
    if target.exists() and not replace:
        raise UsageError(
            "{path} exists already; nothing was written. To mend: give another name.", path=target
        )
    if not target.parent.is_dir():
        raise StoreUnreadable("the folder {folder} does not exist. To mend: create it.", folder=target.parent)
    partial = target.with_name(f"{target.name}.part")
    try:
        _check(partial, _copy(database, partial, progress))
        partial.replace(target)
        photos.settle_folder(target.parent)
    finally:
        partial.unlink(missing_ok=True)


def _copy(database: Database, partial: Path, progress: Progress | None) -> Mapping[str, int]:
    """Write the copy; gives how many rows each table has to have."""
    partial.unlink(missing_ok=True)
    for_owner_only(partial)
    with named_errors(partial):
        copy = sqlite3.connect(partial, isolation_level=None)
        try:
            counts = _copy_pages(database, copy, progress)
            copy.execute("PRAGMA journal_mode=DELETE")
            copy.execute("PRAGMA secure_delete=ON")
            marks = ",".join("?" * len(meta.SECRETS))
            gone = copy.execute(f"DELETE FROM meta WHERE key IN ({marks})", meta.SECRETS).rowcount  # noqa: S608
            for table in meta.SECRET_TABLES:
                copy.execute(f"DELETE FROM {table}")  # noqa: S608
        finally:
            copy.close()
    return {**counts, "meta": counts["meta"] - gone, **dict.fromkeys(meta.SECRET_TABLES, 0)}


def _copy_pages(database: Database, copy: sqlite3.Connection, progress: Progress | None) -> Mapping[str, int]:
    def report(_status: int, remaining: int, total: int) -> None:
        if progress is not None:
            progress(total - remaining, total)

    own = open_database(database.path, create=False, read_only=True, check=False)
    try:
        with own.read() as source:
            # A read transaction of ours holds the moment; else each write would begin the copy anew.
            source.execute("BEGIN")
            counts = _counts(source)
            source.backup(copy, pages=_PAGES_IN_STEP, progress=report, sleep=0.0)
            return counts
    finally:
        own.close()


def _counts(connection: sqlite3.Connection) -> dict[str, int]:
    """The rows of every table."""
    tables = connection.execute(
        "SELECT name FROM sqlite_schema WHERE type = 'table' ORDER BY name"
    ).fetchall()
    return {
        name: int(connection.execute(f'SELECT count(*) FROM "{name}"').fetchone()[0])  # noqa: S608
        for (name,) in tables
    }


def _check(partial: Path, expected: Mapping[str, int]) -> None:
    """Open the copy as it would be opened in need, and see that it is whole."""
    copy = open_database(partial, create=False, read_only=True)
    try:
        with copy.read() as connection:
            found = _counts(connection)
    finally:
        copy.close()
    wrong = sorted(name for name in {*expected, *found} if expected.get(name) != found.get(name))
    if wrong:
        raise StoreDamaged(
            "{path}: the copy does not hold what the database holds ({tables}); it was thrown away. "
            "To mend: try again; when it happens twice, use another stick or disk.",
            path=partial,
            tables=", ".join(wrong),
        )
