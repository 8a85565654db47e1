"""What a copy of a whole site holds, and the list of it that lies in each copy.

A copy is a folder: `manifest.json` names every file with its size and SHA-256, the rows of every table, and
where each file belongs. Photos lie once for all copies of a place, in `rearing-photos` beside them. Secrets
are in a copy only as one sealed file (`sealed`); what is not in it at all is listed, so that it can be
given again.
"""

from __future__ import annotations

import errno
import hashlib
import json
import os
import shutil
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import asdict, dataclass, field
from enum import StrEnum
from pathlib import Path, PurePosixPath
from typing import Any, BinaryIO

from monitor import __version__
from monitor.copies import sealed
from monitor.copies.sealed import SiteSecrets
from monitor.copies.site_files import SiteFiles, files_of, place_of, site_table
from monitor.errors import CopyError, Sentence, StoreError, StoreFull, one_a_line, sentence
from monitor.records import MS_PER_SECOND
from monitor.settings.schema import Settings
from monitor.settings.writing import without_secrets
from monitor.store import copies, photos
from monitor.store.connection import Database

MANIFEST, DATABASE, SETTINGS, SEALED = "manifest.json", "rearing.sqlite", "farm.toml", "secrets.sealed"
PHOTOS = photos.FOLDER
COMPRESSED = ".gz"
"""At the end of the database's name where it was sent to an address."""
FORMAT = 1
"""Of the manifest; a program refuses a later one."""
CHUNK = 1 << 20
Progress = Callable[[int, int], None]


class Role(StrEnum):
    """What a file of a copy is."""

    DATABASE = "database"
    SETTINGS = "settings"
    PHOTO = "photo"
    BOARDS = "boards"
    BROKER = "broker"
    SEALED = "sealed"


@dataclass(frozen=True, slots=True)
class CopiedFile:
    """One file of a copy. `path` is where it lies in the copy.

    `place` is where it belongs: absolute as the settings name it, or from the folder of the settings file.
    Of a photo `sha256` are the first 40 letters, as in its name.
    """

    path: str
    size_bytes: int
    sha256: str
    role: Role
    place: str


@dataclass(frozen=True, slots=True)
class CopyManifest:
    """What a copy holds.

    `photos` lie beside the copies, in one folder for all. `withheld` are the secret files that are not in the
    copy, or only sealed; `from_environment` are the variables that hold a secret of the site.
    """

    site: str
    title: str
    made_at_ms: int
    program: str
    schema: int
    files: tuple[CopiedFile, ...]
    photos: tuple[CopiedFile, ...] = ()
    rows: Mapping[str, int] = field(default_factory=dict)
    newest_reading_ms: int | None = None
    secrets_inside: bool = False
    withheld: tuple[str, ...] = ()
    from_environment: tuple[str, ...] = ()

    @property
    def size_bytes(self) -> int:
        """Bytes of all files but photos."""
        return sum(file.size_bytes for file in self.files)

    def file(self, role: Role) -> CopiedFile | None:
        """The first file with a role."""
        return next((file for file in self.files if file.role is role), None)


def manifest_text(manifest: CopyManifest) -> str:
    """As it stands in the file, with a sum over itself."""
    plain = {"format": FORMAT, **asdict(manifest)}
    return json.dumps({**plain, "sum": _sum(plain)}, indent=1, ensure_ascii=False) + "\n"


def _sum(plain: Mapping[str, Any]) -> str:
    text = json.dumps(plain, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def read_manifest(copy: Path) -> CopyManifest:
    """The manifest of a copy; CopyError where there is none, or not a whole one."""
    path = copy / MANIFEST
    try:
        return manifest_of(path.read_bytes(), str(path))
    except FileNotFoundError:
        raise CopyError(
            "{path} is no copy of a site: it holds no {file}. To mend: name the folder of a copy, "
            "such as {example}.",
            path=copy,
            file=MANIFEST,
            example="rearing-2026-11-26-013000",
        ) from None
    except OSError as error:
        raise CopyError("{path} cannot be read: {why}", path=path, why=error.strerror or str(error)) from None


def manifest_of(content: bytes, path: str) -> CopyManifest:
    """The manifest that a file holds; `path` names it in an error."""
    try:
        plain = json.loads(content)
        known_sum, number = plain.pop("sum"), plain["format"]
    except (ValueError, KeyError, AttributeError, TypeError):
        raise _damaged(path) from None
    if number != FORMAT:
        raise CopyError(
            "{path} was written by a later version of this program ({version}). To mend: install "
            "that version.",
            path=path,
            version=plain.get("program", "?"),
        )
    if known_sum != _sum(plain):
        raise _damaged(path)
    try:
        return _from_plain(plain)
    except (TypeError, ValueError):
        raise _damaged(path) from None


def _damaged(path: str) -> CopyError:
    return CopyError(
        "{path} is damaged, so this copy cannot be trusted. To mend: use another copy.", path=path
    )


def _from_plain(plain: dict[str, Any]) -> CopyManifest:
    del plain["format"]
    for key in ("files", "photos"):
        plain[key] = tuple(CopiedFile(**{**file, "role": Role(file["role"])}) for file in plain[key])
        if any(PurePosixPath(file.path).is_absolute() or ".." in file.path.split("/") for file in plain[key]):
            raise ValueError("a file lies outside of its copy")
    for key in ("withheld", "from_environment"):
        plain[key] = tuple(plain[key])
    return CopyManifest(**plain)


def located(copy: Path, file: CopiedFile) -> Path:
    """Where a file of a copy lies; a photo may lie beside the copy, in the folder of all of them."""
    inside = copy / file.path
    beside = copy.parent / file.path
    return beside if file.role is Role.PHOTO and not inside.exists() else inside


def write_site_copy(
    database: Database,
    settings: Settings,
    settings_file: Path | None,
    staging: Path,
    now_ms: int,
    progress: Progress | None = None,
) -> CopyManifest:
    """Write a copy of the site into the folder `staging`, which is made; photos are only named in its
    manifest.

    The database is copied while it is in use and checked by opening it. `progress(done, total)` counts its
    pages; what it raises ends the copy.
    """
    found = files_of(settings, settings_file)
    with named_faults(staging.parent):
        staging.mkdir(mode=0o700, parents=True)
        _copy_database(database, staging, progress)
        store_place = place_of(settings.store.path, settings_file)
        files = [_described(staging, DATABASE, Role.DATABASE, store_place)]
        if settings_file is not None:
            text = without_secrets(settings_file).encode()
            files.append(_written(staging, SETTINGS, text, Role.SETTINGS, settings_file.name))
        for each in found.open:
            role = Role.BOARDS if each.path.startswith("boards/") else Role.BROKER
            files.append(_written(staging, each.path, each.content, role, each.place))
        if settings.store.backup_passphrase is not None:
            secrets = SiteSecrets(found.secret, *sealed.database_secrets(database))
            content = sealed.seal(secrets, settings.store.backup_passphrase.get_secret_value())
            files.append(_written(staging, SEALED, content, Role.SEALED, ""))
        manifest = _manifest(staging, settings, found, tuple(files), now_ms)
        write_manifest(staging, manifest)
    return manifest


def write_manifest(copy: Path, manifest: CopyManifest) -> None:
    """The list of a copy, which is whole from then on."""
    with named_faults(copy):
        _write(copy / MANIFEST, manifest_text(manifest).encode())
        photos.settle_folder(copy)


def _copy_database(database: Database, staging: Path, progress: Progress | None) -> None:
    try:
        copies.backup(database, staging / DATABASE, progress)
    except StoreFull:
        raise no_room(staging.parent) from None


def _manifest(
    staging: Path, settings: Settings, found: SiteFiles, files: tuple[CopiedFile, ...], now_ms: int
) -> CopyManifest:
    facts = copies.facts_of(staging / DATABASE)
    return CopyManifest(
        site=settings.site.id,
        title=settings.site.title,
        made_at_ms=now_ms,
        program=__version__,
        schema=facts.schema,
        files=files,
        photos=_photos_of(facts),
        rows=facts.rows,
        newest_reading_ms=facts.newest_reading_ms,
        secrets_inside=settings.store.backup_passphrase is not None,
        withheld=(*(each.place for each in found.secret), *found.unreadable),
        from_environment=found.environment,
    )


def from_single_files(database: Path, settings_file: Path, into: Path) -> CopyManifest:
    """A copy of the first releases in the form of one of now: database, settings and photos lay side by
    side."""
    facts = copies.facts_of(database, check=True)
    with named_faults(into):
        into.mkdir(mode=0o700, parents=True, exist_ok=True)
        with database.open("rb") as source, new_file(into / DATABASE) as target:
            shutil.copyfileobj(source, target, CHUNK)
        files = [_described(into, DATABASE, Role.DATABASE, "")]
        raw: dict[str, Any] = {}
        if settings_file.is_file():
            text = settings_file.read_bytes()
            files.append(_written(into, SETTINGS, text, Role.SETTINGS, SETTINGS))
            raw = site_table(text)
        for name, size in facts.photos:
            photos.copy_one(database.parent / PHOTOS / name, into / PHOTOS / name, size)
        made_ms = facts.newest_reading_ms or round(database.stat().st_mtime * MS_PER_SECOND)
        manifest = CopyManifest(
            site=str(raw.get("id", "")),
            title=str(raw.get("title", "")),
            made_at_ms=made_ms,
            program="",
            schema=facts.schema,
            files=tuple(files),
            photos=_photos_of(facts),
            rows=facts.rows,
            newest_reading_ms=facts.newest_reading_ms,
        )
    write_manifest(into, manifest)
    return manifest


def _photos_of(facts: copies.DatabaseFacts) -> tuple[CopiedFile, ...]:
    return tuple(
        CopiedFile(f"{PHOTOS}/{name}", size, Path(name).stem, Role.PHOTO, f"{PHOTOS}/{name}")
        for name, size in facts.photos
    )


def _written(staging: Path, path: str, content: bytes, role: Role, place: str) -> CopiedFile:
    _write(staging / path, content)
    return _described(staging, path, role, place)


def _described(staging: Path, path: str, role: Role, place: str) -> CopiedFile:
    file = staging / path
    return CopiedFile(path, file.stat().st_size, sha256_of(file), role, place)


def _write(path: Path, content: bytes) -> None:
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    with new_file(path) as file:
        file.write(content)


@contextmanager
def new_file(path: Path) -> Iterator[BinaryIO]:
    """A new file that its owner alone reads, on the disk before it counts."""
    with os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
        yield file
        file.flush()
        os.fsync(file.fileno())


def sha256_of(path: Path, afresh: bool = False) -> str:
    """The SHA-256 of a file; `afresh` has it read from the disk, not from memory, where the system can."""
    with path.open("rb") as file:
        if afresh and hasattr(os, "posix_fadvise"):
            os.posix_fadvise(file.fileno(), 0, 0, os.POSIX_FADV_DONTNEED)
        return hashlib.file_digest(file, "sha256").hexdigest()


def check_copy(copy: Path) -> CopyManifest:
    """Read a copy back as it would be read in need; CopyError with everything that is not as it should be.

    Sizes and sums of all its files are compared, and the database is opened, checked and counted. Photos are
    not part of it: `missing_photos` looks for them.
    """
    manifest = read_manifest(copy)
    faults = list(_faults(copy, manifest))
    if faults:
        raise CopyError(
            "{path}: the copy is not whole. {faults} To mend: use another copy; when it happens twice, use "
            "another stick or disk.",
            path=copy,
            faults=one_a_line(faults),
        )
    return manifest


def _faults(copy: Path, manifest: CopyManifest) -> Iterator[Sentence]:
    for file in manifest.files:
        path = copy / file.path
        try:
            if path.stat().st_size != file.size_bytes:
                yield sentence(
                    "{file} has {found} bytes in place of {size}.",
                    file=file.path,
                    found=path.stat().st_size,
                    size=file.size_bytes,
                )
            elif sha256_of(path, afresh=True) != file.sha256:
                yield sentence("{file} is not as it was written.", file=file.path)
            elif file.role is Role.DATABASE:
                yield from _database_faults(path, manifest)
        except OSError as error:
            yield sentence("{file} cannot be read ({why}).", file=file.path, why=error.strerror or str(error))


def _database_faults(path: Path, manifest: CopyManifest) -> Iterator[Sentence]:
    try:
        rows = copies.facts_of(path, check=True).rows
    except StoreError as error:
        yield error.said
        return
    wrong = sorted(name for name in {*rows, *manifest.rows} if rows.get(name) != manifest.rows.get(name))
    if wrong:
        yield sentence(
            "{file} does not hold the rows that it should ({tables}).",
            file=path.name,
            tables=", ".join(wrong),
        )


def missing_photos(copy: Path, manifest: CopyManifest) -> tuple[str, ...]:
    """The photos of a copy that are not there, or not as their names say."""
    return tuple(file.path for file in manifest.photos if not _is_whole(located(copy, file), file))


def _is_whole(path: Path, photo: CopiedFile) -> bool:
    try:
        return path.stat().st_size == photo.size_bytes and sha256_of(path).startswith(photo.sha256)
    except OSError:
        return False


@contextmanager
def named_faults(path: Path) -> Iterator[None]:
    """What the disk says becomes an error that names the file."""
    try:
        yield
    except OSError as error:
        raise cannot_write(path, error) from error


def cannot_write(path: Path, error: OSError) -> CopyError:
    """The error for a copy that a disk does not take."""
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        return no_room(path)
    return CopyError(
        "{path} cannot be written: {why}. To mend: see whether the stick or disk is locked against writing "
        "or damaged, and whether the folder belongs to the user of the monitor.",
        path=path,
        why=error.strerror or str(error),
    )


def no_room(path: Path) -> CopyError:
    """The error for a stick or disk that is full."""
    return CopyError(
        "{path}: no room is left there, and this copy was thrown away. To mend: delete what you do not need "
        "there, or use a larger stick or disk.",
        path=path,
    )
