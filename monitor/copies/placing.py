"""Puts files in their places, all of them or none, whenever the power goes.

First each file is written beside its place, under a name that is noted before. Then a journal of renames gets
its name, and that is the moment: before it all that was written is thrown away again, after it the renames
are carried out to their end, by the next command if need be (`settle`). What was in a place stays beside it.
Both notes lie in the folder of the settings file, where every command looks first.
"""

from __future__ import annotations

import errno
import fcntl
import itertools
import json
import os
import shutil
import time
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from monitor.errors import CopyError
from monitor.settings.loading import RESTORE_BEGUN, SERVICE_USER, SYSTEM_FILE
from monitor.settings.writing import give_to_owner
from monitor.store.photos import settle_folder

BEGUN, JOURNAL = RESTORE_BEGUN, f"{RESTORE_BEGUN}.json"
KEPT = "before-restore"
PATIENCE_S, POLL_S = 10.0, 0.05
"""Own choice: another command that is finishing a cut restore needs no longer."""
_CHUNK = 1 << 20


@dataclass(frozen=True, slots=True)
class Move:
    """`new` gets the name `place`. None: what is in the place only goes aside, such as an old journal."""

    new: Path | None
    place: Path


@dataclass(slots=True)
class Placing:
    """One restore. `stamp` ends the names of what was there before."""

    folder: Path
    stamp: str
    _begun: int

    def beside(self, place: Path) -> Path:
        """The name under which a new file waits beside its place."""
        return place.with_name(f".{place.name}.{self.stamp}.new")

    def intend(self, paths: Iterable[Path]) -> None:
        """Note names before they are written, so that a cut leaves nothing that nobody knows."""
        self._note("file", paths)

    def make_folder(self, folder: Path, mode: int = 0o700) -> None:
        """Make a folder and those above it; an empty one goes again where nothing comes of this."""
        missing = [each for each in (folder, *folder.parents) if not each.exists()]
        self._note("folder", missing)
        for each in reversed(missing):
            each.mkdir(mode=mode)
            _give_to_owner(each)

    def _note(self, kind: str, paths: Iterable[Path]) -> None:
        lines = "".join(f"{json.dumps({kind: str(path.absolute())})}\n" for path in paths)
        os.write(self._begun, lines.encode())
        os.fsync(self._begun)

    def commit(self, moves: Sequence[Move]) -> tuple[Path, ...]:
        """Carry all moves out, whatever happens from here on; CopyError where one is refused: none was.

        Gives the names that what was in the places has now.
        """
        stamp = self._free_stamp(moves)
        kept = [kept_name(move.place, stamp) for move in moves if os.path.lexists(move.place)]
        for folder in {move.place.parent for move in moves}:
            settle_folder(folder)
        plain = {"stamp": stamp, "moves": [[_text(move.new), str(move.place)] for move in moves]}
        partial = self.folder / f"{JOURNAL}.part"
        with partial.open("w", encoding="utf-8") as file:
            json.dump(plain, file)
            file.flush()
            os.fsync(file.fileno())
        partial.replace(self.folder / JOURNAL)
        settle_folder(self.folder)
        _finish(self.folder)
        return tuple(kept)

    def _free_stamp(self, moves: Sequence[Move]) -> str:
        """One under which nothing is kept yet: without a clock a computer may see the same second twice."""
        tried = (f"{self.stamp}{f'-{number}' if number > 1 else ''}" for number in itertools.count(1))
        return next(
            stamp
            for stamp in tried
            if not any(os.path.lexists(kept_name(move.place, stamp)) for move in moves)
        )


def kept_name(place: Path, stamp: str) -> Path:
    """`rearing.sqlite-wal` stays with `rearing.sqlite`, so that what was not folded in can be rescued."""
    stem, wal = place.name, ""
    for end in ("-wal", "-shm"):
        if place.name.endswith(end):
            stem, wal = place.name.removesuffix(end), end
    return place.with_name(f"{stem}.{KEPT}-{stamp}{wal}")


@contextmanager
def placing(folder: Path, stamp: str) -> Iterator[Placing]:
    """Place files of the site whose settings lie, or will lie, in this folder; one at a time.

    What was not committed at the end is thrown away.
    """
    missing = [each for each in (folder, *folder.parents) if not each.exists()]
    with _named(folder):
        folder.mkdir(parents=True, exist_ok=True)
        for each in missing:
            _give_to_owner(each)
    begun = _held(folder, create=True)
    try:
        yield Placing(folder, stamp, begun)
    finally:
        try:
            _clean(folder)
        finally:
            os.close(begun)
        for each in missing:
            with suppress(OSError):  # What is not empty stays.
                each.rmdir()


def settle(folder: Path) -> bool:
    """Finish or undo a restore that was cut; whether there was one. CopyError while one is under way."""
    if not os.path.lexists(folder / BEGUN):
        return False
    begun = _held(folder)
    try:
        _settle(folder)
        return True
    finally:
        os.close(begun)


def _settle(folder: Path) -> None:
    if (folder / JOURNAL).exists():
        _finish(folder)
    _clean(folder)


def _held(folder: Path, create: bool = False) -> int:
    """The note that a restore is under way, held until it is closed; with what was cut before settled."""
    path = folder / BEGUN
    while True:
        with _named(path):
            begun = os.open(path, os.O_RDWR | os.O_APPEND | os.O_CLOEXEC | os.O_CREAT, 0o600)
        try:
            _lock(begun, path)
            if not _is_at(begun, path):
                # Another has settled it meanwhile and taken the note away.
                os.close(begun)
                continue
            if create and os.fstat(begun).st_size:
                _settle(folder)
                os.close(begun)
                continue
        except BaseException:
            with suppress(OSError):
                os.close(begun)
            raise
        return begun


def _is_at(descriptor: int, path: Path) -> bool:
    try:
        there, ours = path.stat(), os.fstat(descriptor)
    except FileNotFoundError:
        return False
    return (there.st_dev, there.st_ino) == (ours.st_dev, ours.st_ino)


def _lock(descriptor: int, path: Path) -> None:
    until_s = time.monotonic() + PATIENCE_S
    while True:
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            if time.monotonic() >= until_s:
                raise CopyError(
                    "{folder}: a restore is under way there. To mend: wait until it has ended.",
                    folder=path.parent,
                ) from None
            time.sleep(POLL_S)
        else:
            return


def _finish(folder: Path) -> None:
    """Carry out every rename of the journal that is left; where one is refused, take all back."""
    stamp, moves = _journal(folder)
    try:
        for move in moves:
            _rename(move, stamp)
    except OSError as error:
        _take_back(moves, stamp)
        (folder / JOURNAL).unlink(missing_ok=True)
        raise CopyError(
            "{path} cannot be put in its place ({why}), and everything is as it was before. To mend: let the "
            "user who restores write in {folder}.",
            path=error.filename or folder,
            why=error.strerror or str(error),
            folder=Path(error.filename or folder).parent,
        ) from None
    for each in {move.place.parent for move in moves}:
        settle_folder(each)
    (folder / JOURNAL).unlink(missing_ok=True)
    settle_folder(folder)


def _journal(folder: Path) -> tuple[str, tuple[Move, ...]]:
    plain: Any = json.loads((folder / JOURNAL).read_text(encoding="utf-8"))
    moves = (Move(Path(new) if new else None, Path(place)) for new, place in plain["moves"])
    return plain["stamp"], tuple(moves)


def _rename(move: Move, stamp: str) -> None:
    """Each step looks at what is there, so that it can be done again after a cut."""
    kept = kept_name(move.place, stamp)
    if move.new is not None and not os.path.lexists(move.new):
        return
    if os.path.lexists(move.place) and not os.path.lexists(kept):
        move.place.rename(kept)
    if move.new is not None:
        move.new.rename(move.place)


def _take_back(moves: Sequence[Move], stamp: str) -> None:
    for move in reversed(moves):
        kept = kept_name(move.place, stamp)
        with suppress(OSError):
            if move.new is not None and not os.path.lexists(move.new):
                move.place.rename(move.new)
            if os.path.lexists(kept):
                kept.rename(move.place)


def _clean(folder: Path) -> None:
    """Throw away what was written beside; files that have their places bear other names by now."""
    folders: list[Path] = []
    for kind, path in _noted(folder / BEGUN):
        if kind == "folder":
            folders.append(path)
        elif path.is_dir() and not path.is_symlink():
            shutil.rmtree(path, ignore_errors=True)
        else:
            with suppress(OSError):
                path.unlink(missing_ok=True)
    for path in folders:
        with suppress(OSError):  # What is not empty stays.
            path.rmdir()
    (folder / f"{JOURNAL}.part").unlink(missing_ok=True)
    (folder / BEGUN).unlink(missing_ok=True)


def _noted(path: Path) -> Iterator[tuple[str, Path]]:
    with suppress(OSError):
        for line in path.read_text(encoding="utf-8").splitlines():
            with suppress(ValueError):  # The last line may be cut; nothing was written under its name yet.
                ((kind, name),) = json.loads(line).items()
                yield kind, Path(name)


def bring(source: Path, target: Path) -> None:
    """Move a file next to its place, copying it where that is another disk."""
    try:
        source.rename(target)
        return
    except OSError as error:
        if error.errno != errno.EXDEV:
            raise
    mode = source.stat().st_mode & 0o777
    with (
        source.open("rb") as read,
        os.fdopen(os.open(target, os.O_WRONLY | os.O_CREAT | os.O_EXCL, mode), "wb") as write,
    ):
        shutil.copyfileobj(read, write, _CHUNK)
        write.flush()
        os.fsync(write.fileno())


def _give_to_owner(folder: Path) -> None:
    """A new folder belongs to whom the one above it does; one of the service to its user, if known."""
    if folder.name == SYSTEM_FILE.parent.name:
        with suppress(LookupError, OSError):
            shutil.chown(folder, SERVICE_USER)
            return
    give_to_owner(folder, folder.parent)


@contextmanager
def _named(path: Path) -> Iterator[None]:
    try:
        yield
    except PermissionError as error:
        raise CopyError(
            "{path}: this user may not restore there, or finish a restore that was cut ({why}). To mend: "
            "give the command with sudo, or as the user who restored",
            path=path,
            why=error.strerror or str(error),
        ) from None
    except OSError as error:
        raise CopyError(
            "{path} cannot be written: {why}", path=path, why=error.strerror or str(error)
        ) from None


def _text(path: Path | None) -> str | None:
    return None if path is None else str(path)
