"""The way back: a copy of a site is fetched, opened, looked into, and put in its places, all or nothing.

What is there already stays beside its place under another name. Where the settings of this site are there
(a damaged database), only database and photos come from the copy; on a bare computer everything does.
"""

from __future__ import annotations

import os
import shutil
import sqlite3
from collections.abc import Iterable, Iterator, Mapping
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path, PurePosixPath

from monitor.copies import content, placing, sealed, settings_text, targets
from monitor.copies.content import CopiedFile, CopyManifest, Role
from monitor.copies.placing import Move, Placing
from monitor.copies.sealed import SecretFile, SiteSecrets
from monitor.copies.source import Source
from monitor.copies.targets import Progress, no_progress
from monitor.errors import CopyError, SettingsError, StoreUnreadable, UsageError
from monitor.farm.book import book_of
from monitor.farm.occupancy import last_known_plan
from monitor.records import STANDING, AlarmStatus
from monitor.settings.loading import check_text
from monitor.settings.schema import Settings
from monitor.settings.writing import give_to_owner
from monitor.store import Store, photos, schema
from monitor.store.connection import open_database

_ASIDE = ("-wal", "-shm", "-journal")
_ROOM = 1.1
"""Own choice: what is fetched needs its size and a little beside it."""
_FOR_ALL, _FOR_OWNER = 0o644, 0o600


@dataclass(frozen=True, slots=True)
class Contents:
    """What a person is shown before anything is put in its place."""

    title: str
    site: str
    made_at_ms: int
    readings_until_ms: int | None
    cohorts: tuple[str, ...]
    open_alarms: int
    photos: int
    missing_photos: int
    has_sealed: bool
    is_unsealed: bool
    outside: tuple[Path, ...]
    """folders other than that of the settings into which something goes"""


@dataclass(frozen=True, slots=True)
class Restored:
    """What was done. `kept` are the names that what was there before has now, `left` what was left alone.

    `moved_paths` are keys of the settings that named the old folder and now start at that of the file. The
    rest has to be done by a person: secrets in files, keys of the settings and the environment.
    """

    settings_file: Path
    settings: Settings
    kept: tuple[Path, ...]
    left: tuple[Path, ...]
    secret_files: tuple[str, ...]
    secret_keys: tuple[str, ...]
    variables: tuple[str, ...]
    missing_photos: tuple[str, ...]
    moved_paths: tuple[str, ...]
    is_bare: bool
    page_is_new: bool
    boards_need_cards: bool
    newest_reading_ms: int | None


@dataclass(frozen=True, slots=True)
class _File:
    """A file on its way: where it is now, where it belongs, and its rights."""

    source: Path
    place: Path
    mode: int = _FOR_ALL


@dataclass(slots=True)
class Restoration:
    """One way back, inside `placing`. `everything`: the copy's files replace those that are there too."""

    placing: Placing
    settings_file: Path
    everything: bool
    environ: Mapping[str, str]
    settings: Settings = field(init=False)
    manifest: CopyManifest = field(init=False)
    missing_photos: tuple[str, ...] = ()
    secrets: SiteSecrets | None = None
    _staging: Path = field(init=False)
    _settings_text: str = ""
    _moved: tuple[str, ...] = ()

    @property
    def is_bare(self) -> bool:
        """Whether all comes from the copy, the settings too."""
        return self.everything or not self.settings_file.exists()

    def fetch(self, source: Source, progress: Progress = no_progress) -> None:
        """Bring the copy next to where it belongs, and check it."""
        self._staging = self._staging_folder(source)
        self.placing.intend([self._staging])
        copy = self._copy
        if source.target is not None and source.name is not None:
            self.manifest = source.target.fetch(source.name, copy, progress)
        elif source.file is not None:
            self.manifest = _single(source.file, copy)
        self._read_settings()
        self.missing_photos = self._missing_photos()

    @property
    def _copy(self) -> Path:
        return self._staging / "copy"

    def _staging_folder(self, source: Source) -> Path:
        """On the disk of the database, as far as that is known already."""
        home = self.settings_file.parent
        known = source.target.manifest(source.name) if source.target and source.name else None
        database = None if known is None else known.file(Role.DATABASE)
        place = home / database.place if database is not None and database.place else home
        nearest = next(folder for folder in (place.parent, *place.parents) if folder.is_dir())
        folder = nearest if os.access(nearest, os.W_OK) else home
        needed = 0 if known is None else known.size_bytes
        free = shutil.disk_usage(folder).free
        if free < needed * _ROOM:
            raise CopyError(
                "{folder}: the copy needs {needed} MB there, and {free} MB are free; nothing was changed. "
                "To mend: free some room, or take a larger card or disk.",
                folder=folder,
                needed=f"{needed * _ROOM / 1e6:.0f}",
                free=f"{free / 1e6:.0f}",
            )
        return folder / f".rearing-restore-{self.placing.stamp}"

    def _read_settings(self) -> None:
        """The settings that will be in force: those that are there, else those of the copy."""
        copied = self.manifest.file(Role.SETTINGS)
        if not self.is_bare:
            self._settings_text = self.settings_file.read_text(encoding="utf-8-sig")
        elif copied is not None:
            self._settings_text = self._at_home((self._copy / copied.path).read_text(encoding="utf-8-sig"))
        else:
            raise CopyError(
                "this copy holds no settings, and {file} is not there. Nothing was changed. To mend: write "
                "one with `rearing-monitor init`, or take that of another copy, then give this command "
                "again.",
                file=self.settings_file,
            )
        self.settings = self._lenient()
        if self.manifest.site and self.manifest.site != self.settings.site.id:
            raise UsageError(
                "{file} is of the site {own}, and this copy of the site {other}; nothing was changed. "
                "To mend: name another settings file with --config",
                file=self.settings_file,
                own=self.settings.site.id,
                other=self.manifest.site,
            )

    def _at_home(self, text: str) -> str:
        places = [place for place in self._places() if not place.is_absolute()]
        text, self._moved = settings_text.at_home(text, places, self.settings_file.parent)
        return text

    def _places(self) -> Iterator[PurePosixPath]:
        for place in (*(file.place for file in self.manifest.files), *self.manifest.withheld):
            if place:
                yield PurePosixPath(place)

    def _lenient(self) -> Settings:
        """The settings, whatever secrets are missing yet."""
        folder = self.settings_file.parent
        text = settings_text.without_missing_secrets(self._settings_text, folder, self.environ)
        beside = self.placing.beside(self.settings_file)
        self.placing.intend([beside])
        with content.named_faults(beside):
            _write(beside, text.encode(), _FOR_OWNER)
        try:
            environ = {**self.environ, **settings_text.STAND_IN}
            return check_text(text, path=beside, environ=environ).settings
        except SettingsError as error:
            if self.is_bare:
                raise
            raise UsageError(
                "{file} is there and has problems, and nothing was changed. To mend: `rearing-monitor check` "
                "says which; or give --everything to take the settings of the copy:\n{problems}",
                file=self.settings_file,
                problems=error.said,
            ) from None
        finally:
            beside.unlink(missing_ok=True)

    # Secrets.

    @property
    def has_sealed(self) -> bool:
        """Whether the copy holds secrets that a passphrase opens."""
        return self.manifest.file(Role.SEALED) is not None

    @property
    def known_passphrase(self) -> str:
        """The passphrase that the settings on this computer know; empty where there is none."""
        known = self.settings.store.backup_passphrase
        text = "" if known is None else known.get_secret_value()
        return "" if text in settings_text.STAND_IN.values() else text

    def unseal(self, passphrase: str) -> None:
        """Open the secrets; CopyError for a wrong passphrase."""
        file = self.manifest.file(Role.SEALED)
        if file is not None:
            path = self._copy / file.path
            self.secrets = sealed.unseal(path.read_bytes(), passphrase, file.path)

    # What is in it.

    @property
    def _database(self) -> Path:
        file = self.manifest.file(Role.DATABASE)
        return self._copy / (file.path if file is not None else content.DATABASE)

    def bring_up_to_date(self) -> None:
        """Bring the fetched database to the schema of this program; StoreTooNew for one of a newer program.

        The copy that it was fetched from is the way back.
        """
        open_database(self._database, create=False, read_only=True, check=False, older=True).close()
        with closing(sqlite3.connect(self._database, isolation_level=None)) as connection:
            schema.migrate(connection, self._database)

    def contents(self, now_ms: int) -> Contents:
        """What is in the copy, read from it as it would be read at work."""
        manifest = self.manifest
        with Store.read_only(self._database) as store:
            plan = last_known_plan(store, self.settings, now_ms)
            cohorts = tuple(cohort.name for cohort in book_of(store, plan, manifest.made_at_ms).living)
            states = store.journal.states().values()
            is_open = {*STANDING, AlarmStatus.RETURNED_UNACKNOWLEDGED}
            alarms = sum(state.status in is_open for state in states)
        return Contents(
            title=manifest.title or self.settings.site.title,
            site=self.settings.site.id,
            made_at_ms=manifest.made_at_ms,
            readings_until_ms=manifest.newest_reading_ms,
            cohorts=cohorts,
            open_alarms=alarms,
            photos=len(manifest.photos),
            missing_photos=len(self.missing_photos),
            has_sealed=self.has_sealed,
            is_unsealed=self.secrets is not None,
            outside=tuple(sorted(set(self._outside()))),
        )

    def _outside(self) -> Iterator[Path]:
        """A copy says itself where its files belong, so whoever restores sees it before."""
        home = self.settings_file.parent
        files = (file.place for file in self.manifest.files if file.role in (Role.BOARDS, Role.BROKER))
        secret = (file.place for file in (self.secrets.files if self.secrets else ()))
        places = [self._place(place) for place in (*files, *secret)]
        wanted = [place for place in places if self.everything or not place.exists()]
        for place in (self.settings.store.path, *wanted):
            if not place.is_relative_to(home):
                yield place.parent

    def _missing_photos(self) -> tuple[str, ...]:
        here = self.settings.store.path.parent / photos.FOLDER
        missing = set(content.missing_photos(self._copy, self.manifest))
        return tuple(sorted(path for path in missing if not (here / Path(path).name).exists()))

    # Into their places.

    def put(self) -> Restored:
        """Put everything in its place, all of it or nothing; CopyError with every place that refuses."""
        self._finish_database()
        files, left = self._sorted_out()
        _refuse_shut(files, self.settings_file)
        moves = [*self._asides(), *self._brought(files)]
        is_bare = self.is_bare
        kept = self.placing.commit(moves)
        # Now with the secrets that came back.
        self._settings_text = self.settings_file.read_text(encoding="utf-8-sig")
        self.settings = self._lenient()
        return Restored(
            settings_file=self.settings_file,
            settings=self.settings,
            kept=kept,
            left=tuple(left),
            secret_files=settings_text.missing_files(self._settings_text, self.settings_file.parent),
            secret_keys=settings_text.left_out(self._settings_text),
            variables=settings_text.missing_variables(self._settings_text, self.environ),
            missing_photos=self.missing_photos,
            moved_paths=self._moved,
            is_bare=is_bare,
            page_is_new=self.secrets is None,
            boards_need_cards=self._boards_need_cards(),
            newest_reading_ms=self.manifest.newest_reading_ms,
        )

    def _finish_database(self) -> None:
        """Put the secrets back into the database, and fold its journal into it."""
        with Store.open(self._database, create=False) as store:
            store.runs.end_all()
            if self.secrets is not None:
                sealed.put_into_database(store.database, self.secrets)
        with closing(sqlite3.connect(self._database, isolation_level=None)) as connection:
            connection.execute("PRAGMA journal_mode=DELETE")
        self._database.chmod(_FOR_OWNER)
        with self._database.open("rb+") as file:
            os.fsync(file.fileno())

    def _sorted_out(self) -> tuple[list[_File], list[Path]]:
        """What goes into its place, and what is left as it is because this computer has its own."""
        wanted, left = [_File(self._database, self.settings.store.path, _FOR_OWNER)], list[Path]()
        for file in self._files():
            if not file.place.exists() or (self.everything and not _is_same(file)):
                wanted.append(file)
            elif not _is_same(file):
                left.append(file.place)
        return [*wanted, *self._photos()], left

    def _files(self) -> Iterator[_File]:
        """Every file of the copy but database and photos; of the settings the whole ones, if unsealed."""
        secret = {each.place: each for each in (self.secrets.files if self.secrets else ())}
        copied = self.manifest.file(Role.SETTINGS)
        if copied is not None and copied.place not in secret and self.is_bare:
            yield self._staged("settings", self._settings_text.encode(), self.settings_file, _FOR_ALL)
        for file in self.manifest.files:
            if file.role in (Role.BOARDS, Role.BROKER) and file.place not in secret:
                yield _File(self._copy / file.path, self._place(file.place))
        yield from self._secret_in_staging(secret.values(), copied)

    def _secret_in_staging(self, secret: Iterable[SecretFile], copied: CopiedFile | None) -> Iterator[_File]:
        for number, each in enumerate(secret):
            is_settings = copied is not None and each.place == copied.place
            if is_settings and not self.is_bare:
                continue
            if is_settings:
                text = self._at_home(each.content.decode("utf-8-sig"))
                yield self._staged("settings", text.encode(), self.settings_file, each.mode)
            else:
                yield self._staged(f"secret-{number}", each.content, self._place(each.place), each.mode)

    def _staged(self, name: str, data: bytes, place: Path, mode: int) -> _File:
        path = self._staging / name
        _write(path, data, mode)
        return _File(path, place, mode)

    def _place(self, place: str) -> Path:
        if ".." in Path(place).parts:
            raise CopyError("{path} is no place for a file of a site; nothing was changed", path=place)
        return self.settings_file.parent / place

    def _photos(self) -> Iterator[_File]:
        folder = self.settings.store.path.parent / photos.FOLDER
        for photo in self.manifest.photos:
            here, place = content.located(self._copy, photo), folder / Path(photo.path).name
            if here.is_file() and not (place.exists() and place.stat().st_size == photo.size_bytes):
                yield _File(here, place, _FOR_OWNER)

    def _asides(self) -> list[Move]:
        """What SQLite keeps beside the old database would spoil the new one."""
        path = self.settings.store.path
        return [Move(None, path.with_name(path.name + end)) for end in _ASIDE]

    def _brought(self, files: list[_File]) -> list[Move]:
        """Every file beside its place, with its rights and owner, on the disk."""
        moves = [Move(self.placing.beside(file.place), file.place) for file in files]
        self.placing.intend(move.new for move in moves if move.new is not None)
        for file, move in zip(files, moves, strict=True):
            if move.new is None:
                continue
            with content.named_faults(file.place):
                is_secret = file.mode & 0o077 == 0 and file.place.parent != self.settings_file.parent
                self.placing.make_folder(file.place.parent, 0o700 if is_secret else 0o755)
                placing.bring(file.source, move.new)
                self._give(move.new, file)
        return moves

    def _give(self, new: Path, file: _File) -> None:
        new.chmod(file.mode)
        give_to_owner(new, file.place if file.place.exists() else file.place.parent)

    # What is missing afterwards.

    def _boards_need_cards(self) -> bool:
        """Whether the farm's own authority and the users of the boards are neither here nor in the copy."""
        broker = self.settings.broker
        if broker.files is None:
            return False
        return not any(broker.boards_folder.glob("*key*")) or not (broker.files / "users").exists()


def _single(file: Path, into: Path) -> CopyManifest:
    try:
        return targets.fetch_old(file, into)
    except StoreUnreadable as error:
        raise CopyError(
            "{path} is no database of this program, and nothing was changed ({why}). To mend: name a folder "
            "of copies, or a copied database such as {example}.",
            path=file,
            why=error.said,
            example="rearing-2026-11-26.sqlite",
        ) from None


def _is_same(file: _File) -> bool:
    try:
        return file.place.read_bytes() == file.source.read_bytes()
    except OSError:
        return False


def _write(path: Path, data: bytes, mode: int) -> None:
    with os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, mode), "wb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())


def _refuse_shut(files: Iterable[_File], settings_file: Path) -> None:
    """All places at once into which this user may not write."""
    shut: dict[Path, None] = {}
    for file in files:
        nearest = next(folder for folder in file.place.parents if folder.exists())
        if not os.access(nearest, os.W_OK | os.X_OK) or not nearest.is_dir():
            shut[file.place.parent] = None
    if shut:
        raise UsageError(
            "these folders cannot be written by this user, and nothing was changed: {folders}. To mend: give "
            "the command with sudo: {command}",
            folders=", ".join(map(str, shut)),
            command=f"sudo rearing-monitor restore SOURCE --config {settings_file.absolute()}",
        )
