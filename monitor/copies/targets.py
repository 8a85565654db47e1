"""Where copies go: a folder with a marker, or any place that fsspec reaches. Both answer to one Protocol.

A copy gets its name only when it is whole there: it is written as NAME.part, read back, then renamed. So a
cut in the middle leaves no copy that looks like one. `fetch` gives each kind of copy in one form, that of
`content`.
"""

from __future__ import annotations

import gzip
import re
import shutil
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Protocol

from monitor.copies import content
from monitor.copies.content import MANIFEST, CopyManifest
from monitor.errors import CopyError
from monitor.records import MS_PER_DAY, MS_PER_SECOND
from monitor.settings.schema import CopyPlace, Settings
from monitor.store import copies, photos

BY_HAND = "by-hand"
PARTIAL = ".part"
OLD_PARTS_MS = MS_PER_DAY
"""Own choice: an unfinished copy of another day is nobody's any more."""
_NAME = re.compile(r"rearing-(\d{4}-\d\d-\d\d)-(\d{6})(-by-hand)?")
_OLD = re.compile(r"rearing-(\d{4}-\d\d-\d\d)\.sqlite")
_OLD_BY_HAND = re.compile(r"rearing-(\d{8}-\d{6})\.sqlite")
Progress = Callable[[int, int], None]


def no_progress(_done: int, _total: int) -> None:
    """Nobody looks on."""


@dataclass(frozen=True, slots=True, order=True)
class CopyName:
    """The name of a copy and the moment that it shows [ms], in UTC.

    `is_old` are those of the first releases: the database alone, with settings beside it. `by_hand` are those
    that a person asked for; nobody deletes them but a person.
    """

    made_at_ms: int
    text: str
    by_hand: bool = False
    is_old: bool = False

    @classmethod
    def at(cls, now_ms: int, *, by_hand: bool = False) -> CopyName:
        """The name for a copy that is made now."""
        moment = datetime.fromtimestamp(now_ms // MS_PER_SECOND, UTC)
        text = f"rearing-{moment:%Y-%m-%d-%H%M%S}{f'-{BY_HAND}' if by_hand else ''}"
        return cls(now_ms // MS_PER_SECOND * MS_PER_SECOND, text, by_hand)

    @classmethod
    def parsed(cls, text: str) -> CopyName | None:
        """What a name says; None for what is no name of a copy."""
        for pattern, form in ((_NAME, "%Y-%m-%d%H%M%S"), (_OLD, "%Y-%m-%d"), (_OLD_BY_HAND, "%Y%m%d-%H%M%S")):
            found = pattern.fullmatch(text)
            if found is None:
                continue
            written = found[1] + (found[2] if pattern is _NAME else "")
            try:
                moment = datetime.strptime(written, form).replace(tzinfo=UTC)
            except ValueError:
                return None
            by_hand = pattern is _OLD_BY_HAND or (pattern is _NAME and found[3] is not None)
            return cls(int(moment.timestamp()) * MS_PER_SECOND, text, by_hand, pattern is not _NAME)
        return None

    def __str__(self) -> str:
        return self.text


class Target(Protocol):
    """A place that takes copies of one site."""

    @property
    def id(self) -> str:
        """How the settings and the store call it."""

    @property
    def label(self) -> str:
        """How a person knows it; never with a secret."""

    @property
    def is_far(self) -> bool:
        """Whether it lies behind a network."""

    def new_key(self) -> str | None:
        """The fingerprint of a server's key that the settings do not name; None where there is none."""

    def prepare(self) -> None:
        """Mark it as the place for the copies of the site, once; one of another site is refused."""

    def refuse_unprepared(self) -> None:
        """Raise CopyError or UsageError unless it is there and was prepared for this site."""

    def list_copies(self) -> tuple[CopyName, ...]:
        """All whole copies, the oldest first."""

    def staging(self, name: CopyName) -> Path | None:
        """Where a copy may be written so that `put` need not write it again; None: anywhere."""

    def put(self, local: Path, name: CopyName, site_photos: Path, progress: Progress = no_progress) -> None:
        """Bring a copy and its photos there, read it back, then give it its name.

        `site_photos` is the folder of the photos of the site. `progress(done, total)` counts bytes; what it
        raises ends it.
        """

    def manifest(self, name: CopyName) -> CopyManifest | None:
        """What a copy holds, without fetching it; None for one of the first releases."""

    def fetch(self, name: CopyName, into: Path, progress: Progress = no_progress) -> CopyManifest:
        """Bring a whole copy with its photos into the folder `into`, which is made, and check it.

        Photos that are missing there are no error: `content.missing_photos` names them.
        """

    def remove(self, name: CopyName) -> None:
        """Delete a copy; its photos stay, since others may name them."""

    def clear_unfinished(self, now_ms: int) -> None:
        """Delete what an earlier cut left half-written, not of this day."""

    def close(self) -> None:
        """End a connection; the next call opens another."""


class FolderTarget:
    """A folder with a marker: on a stick, a disk, or a network drive."""

    def __init__(self, folder: Path, site: str | None, name: str = "") -> None:
        self.folder, self._site, self._id = folder, site, name

    @property
    def id(self) -> str:
        return self._id

    @property
    def label(self) -> str:
        return str(self.folder)

    @property
    def is_far(self) -> bool:
        return False

    def new_key(self) -> str | None:
        return None

    def prepare(self) -> None:
        copies.prepare(self.folder, self._site or "")

    def refuse_unprepared(self) -> None:
        if self._site is not None:
            copies.refuse_unprepared(self.folder, self._site)
        elif not self.folder.is_dir():
            raise CopyError(
                "the folder {folder} does not exist. If it is on a stick or disk, see whether that "
                "is plugged "
                "in and mounted.",
                folder=self.folder,
            )

    def list_copies(self) -> tuple[CopyName, ...]:
        self.refuse_unprepared()
        names = (CopyName.parsed(path.name) for path in self.folder.iterdir())
        return tuple(sorted(name for name in names if name is not None and self._is_whole(name)))

    def _is_whole(self, name: CopyName) -> bool:
        path = self.folder / name.text
        return path.is_file() if name.is_old else (path / MANIFEST).is_file()

    def staging(self, name: CopyName) -> Path | None:
        return self.folder / f"{name}{PARTIAL}"

    def put(self, local: Path, name: CopyName, site_photos: Path, progress: Progress = no_progress) -> None:
        self.refuse_unprepared()
        part, target = self.folder / f"{name}{PARTIAL}", self.folder / name.text
        manifest = content.read_manifest(local)
        moved = _Moved(progress, manifest)
        try:
            if local != part:
                shutil.rmtree(part, ignore_errors=True)
                for path in (*(file.path for file in manifest.files), MANIFEST):
                    moved.copy(local / path, part / path)
            for photo in manifest.photos:
                photos.copy_one(
                    site_photos / Path(photo.path).name, self.folder / photo.path, photo.size_bytes
                )
                moved.add(photo.size_bytes)
            content.check_copy(part)
            self._give_to_owner(part)
            part.replace(target)
            photos.settle_folder(self.folder)
        except OSError as error:
            raise content.cannot_write(self.folder, error) from error
        finally:
            shutil.rmtree(part, ignore_errors=True)

    def _give_to_owner(self, part: Path) -> None:
        """What root copies the service can thin out later."""
        from monitor.settings.writing import give_to_owner

        beside = self.folder / content.PHOTOS
        for path in (part, *part.rglob("*"), *([beside, *beside.iterdir()] if beside.is_dir() else ())):
            give_to_owner(path, self.folder)

    def manifest(self, name: CopyName) -> CopyManifest | None:
        return None if name.is_old else content.read_manifest(self.folder / name.text)

    def fetch(self, name: CopyName, into: Path, progress: Progress = no_progress) -> CopyManifest:
        if name.is_old:
            return fetch_old(self.folder / name.text, into)
        source = self.folder / name.text
        manifest = content.read_manifest(source)
        moved = _Moved(progress, manifest)
        with content.named_faults(into):
            into.mkdir(mode=0o700, parents=True, exist_ok=True)
            for path in (*(file.path for file in manifest.files), MANIFEST):
                moved.bring(source / path, into / path)
            for photo in manifest.photos:
                lying = content.located(source, photo)
                if lying.exists():
                    moved.copy(lying, into / photo.path)
        return content.check_copy(into)

    def remove(self, name: CopyName) -> None:
        path = self.folder / name.text
        if name.is_old:
            for file in (path, copies.settings_beside(path)):
                file.unlink(missing_ok=True)
            return
        # Without its list it is no copy any more, wherever this is cut.
        (path / MANIFEST).unlink(missing_ok=True)
        shutil.rmtree(path, ignore_errors=True)

    def clear_unfinished(self, now_ms: int) -> None:
        for path in self.folder.glob(f"rearing-*{PARTIAL}"):
            name = CopyName.parsed(path.name.removesuffix(PARTIAL))
            if name is not None and not name.is_old and abs(now_ms - name.made_at_ms) > OLD_PARTS_MS:
                shutil.rmtree(path, ignore_errors=True)

    def close(self) -> None:
        pass


class _Moved:
    """Copies files piece by piece, and counts bytes for whoever looks on."""

    def __init__(self, progress: Progress, manifest: CopyManifest) -> None:
        self._progress, self._done = progress, 0
        self._total = manifest.size_bytes + sum(photo.size_bytes for photo in manifest.photos)

    def copy(self, source: Path, target: Path) -> None:
        target.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        with source.open("rb") as read, content.new_file(target) as write:
            while piece := read.read(content.CHUNK):
                write.write(piece)
                self.add(len(piece))

    def bring(self, source: Path, target: Path) -> None:
        """Copy a file that may lie compressed, as addresses have it; what is missing `check_copy` names."""
        packed = source.with_name(source.name + content.COMPRESSED)
        if source.exists():
            self.copy(source, target)
        elif packed.exists():
            with gzip.open(packed, "rb") as read, content.new_file(target) as write:
                while piece := read.read(content.CHUNK):
                    write.write(piece)
                    self.add(len(piece))

    def add(self, count: int) -> None:
        self._done += count
        self._progress(min(self._done, self._total), self._total)


def fetch_old(database: Path, into: Path) -> CopyManifest:
    """Bring a copy of the first releases into the form of one of now: a database, maybe settings and
    photos."""
    return content.from_single_files(database, copies.settings_beside(database), into)


def targets_of(settings: Settings) -> tuple[Target, ...]:
    """All places for the copies of a site, folders first: the next ones take a copy from there."""
    site, folder = settings.site.id, settings.store.backup_folder
    first: list[Target] = [] if folder is None else [FolderTarget(folder, site)]
    places = sorted(settings.copies, key=lambda place: place.folder is None)
    return (*first, *(target_of(place, site) for place in places))


def target_of(place: CopyPlace, site: str | None) -> Target:
    """A place of the settings; with `site` None it takes nothing, and is read whoever it belongs to."""
    if place.folder is not None:
        return FolderTarget(place.folder, site, place.id)
    from monitor.copies.remote import RemoteTarget

    return RemoteTarget.of(place, site)


def target_at(source: str, site: str | None = None) -> Target:
    """The place that a person names by folder or address, such as for the way back on a bare computer."""
    if "://" in source:
        return target_of(CopyPlace(id="given", url=source), site)
    return FolderTarget(Path(source).expanduser(), site)
