"""Make a copy of the site and bring it to each of its places; what came of it is kept in the database.

The copy is written once, where the first place takes it; the others get it from there. One place that fails
keeps no other from its copy.
"""

from __future__ import annotations

import logging
import shutil
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from monitor.copies import content
from monitor.copies.keeping import to_remove
from monitor.copies.targets import CopyName, FolderTarget, Progress, Target, no_progress
from monitor.errors import CopyError, MonitorError, Sentence
from monitor.settings.schema import Settings
from monitor.store import copies, photos
from monitor.store.connection import Database

log = logging.getLogger(__name__)

STAGING = ".rearing-copies"
"""Beside the database, for places that are no folder; empty between two copies."""
STAYS_FREE_BYTES = 200_000_000
"""Own choice: a copy on the disk of the database leaves so much of it for what is measured."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came of a copy at one place: its name, or why there is none."""

    target: Target
    name: CopyName | None = None
    size_bytes: int = 0
    missing_photos: int = 0
    error: MonitorError | None = None

    @property
    def fault(self) -> Sentence | None:
        """Why there is none, in words."""
        return None if self.error is None else self.error.said


@dataclass(frozen=True, slots=True)
class Wish:
    """What is to be copied: the site, its settings file, and the moment. `thins_out`: what is too old
    goes."""

    database: Database
    settings: Settings
    settings_file: Path | None
    now_ms: int
    by_hand: bool = False
    thins_out: bool = False

    @property
    def site_photos(self) -> Path:
        return self.database.path.parent / photos.FOLDER


def make_copies(
    wish: Wish,
    targets: Iterable[Target],
    progress: Progress = no_progress,
    stopping: Callable[[], bool] = lambda: False,
) -> Iterator[Outcome]:
    """Copy to one place after the other; gives what came of each as soon as it is known.

    `progress(done, total)` counts pages, then bytes; what it raises ends a copy. None is begun while
    `stopping` says so, and one that was ended by it is not reported.
    """
    name = CopyName.at(wish.now_ms, by_hand=wish.by_hand)
    with _own_staging(wish) as own:
        lying: Path | None = None
        for target in targets:
            try:
                target.refuse_unprepared()
                if lying is None or not lying.exists():
                    lying = _staged(wish, target.staging(name) or own / f"{name}.part", progress)
                target.put(lying, name, wish.site_photos, progress)
                lying = _after_put(target, name, lying)
                yield _good(wish, target, name, lying)
            except (MonitorError, OSError) as error:
                if stopping():
                    return
                yield Outcome(target, error=_named(error, target))
            finally:
                target.close()


def _named(error: MonitorError | OSError, target: Target) -> MonitorError:
    return error if isinstance(error, MonitorError) else content.cannot_write(Path(target.label), error)


def _after_put(target: Target, name: CopyName, lying: Path) -> Path:
    """Where the copy lies now: one that was written in its place has got its name."""
    return target.folder / name.text if isinstance(target, FolderTarget) else lying


def _good(wish: Wish, target: Target, name: CopyName, lying: Path) -> Outcome:
    manifest = content.read_manifest(lying)
    lost = sum(not (wish.site_photos / Path(photo.path).name).is_file() for photo in manifest.photos)
    if wish.thins_out:
        _thin_out(target, wish.now_ms)
    return Outcome(target, name, manifest.size_bytes, lost)


def _thin_out(target: Target, now_ms: int) -> None:
    try:
        target.clear_unfinished(now_ms)
        for name in to_remove(target.list_copies(), now_ms):
            target.remove(name)
    except (MonitorError, OSError) as error:
        log.warning("old copies could not be removed: %s", error)


@contextmanager
def _own_staging(wish: Wish) -> Iterator[Path]:
    folder = wish.database.path.parent / STAGING
    FolderTarget(folder, None).clear_unfinished(wish.now_ms)
    try:
        yield folder
    finally:
        shutil.rmtree(folder / f"{CopyName.at(wish.now_ms, by_hand=wish.by_hand)}.part", ignore_errors=True)
        if folder.is_dir() and not any(folder.iterdir()):
            folder.rmdir()


def _staged(wish: Wish, staging: Path, progress: Progress) -> Path:
    _refuse_full(wish.database.path, staging)
    try:
        content.write_site_copy(
            wish.database, wish.settings, wish.settings_file, staging, wish.now_ms, progress
        )
    except BaseException:
        shutil.rmtree(staging, ignore_errors=True)
        raise
    return staging


def _refuse_full(database: Path, staging: Path) -> None:
    folder = staging.parent if staging.parent.is_dir() else database.parent
    stays = STAYS_FREE_BYTES if copies.same_disk(folder, database) else 0
    needed = database.stat().st_size + stays
    free = shutil.disk_usage(folder).free
    if free < needed:
        raise CopyError(
            "{folder}: a copy needs {needed} MB of room there, and {free} MB are left. To mend: "
            "delete what you "
            "do not need there, or use a larger stick or disk.",
            folder=folder,
            needed=round(needed / 1e6),
            free=round(free / 1e6),
        )
