"""A site that is brought back from its copy, whole or cut, and what lies in its folder afterwards."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Mapping
from pathlib import Path

import tomlkit  # noqa: F401  (loaded once, not in each process that is cut)
from copied_site import CopiedSite
from first_release import rows_of
from service_farm import T0

from monitor.copies.making import make_copies
from monitor.copies.placing import BEGUN, JOURNAL, placing, settle
from monitor.copies.restore import Restoration, Restored
from monitor.copies.source import source_at
from monitor.copies.targets import FolderTarget
from monitor.records import MS_PER_HOUR

STAMP = "20260921-180000"
Tree = Mapping[str, object]


def copied(folder: Path, passphrase: str | None = None, more: str = "", running: bool = False) -> Path:
    """The stick with one copy of a site, which lay in `site` beside it and is gone."""
    stick = folder / "stick"
    stick.mkdir()
    with CopiedSite.made(folder / "site", passphrase, more) as site:
        if running:
            site.store.runs.start(T0)
        target = FolderTarget(stick, site.settings.site.id)
        target.prepare()
        (outcome,) = make_copies(site.wish(T0 + MS_PER_HOUR), [target])
        assert outcome.fault is None, str(outcome.fault)
    (folder / "site").rename(folder / "gone")
    return stick


def brought_back(
    source: str, settings_file: str, passphrase: str = "", everything: str = "", stamp: str = STAMP
) -> Restored:
    """What the command does between question and check. Texts alone, so that it can be cut by `cuts`."""
    file = Path(settings_file)
    with placing(file.parent, stamp) as place:
        restoration = Restoration(place, file, bool(everything), {**os.environ, "REARING_KEEPER": "json://x"})
        restoration.fetch(source_at(source, "", T0 + MS_PER_HOUR))
        restoration.bring_up_to_date()
        if passphrase:
            restoration.unseal(passphrase)
        return restoration.put()


def settled(folder: str) -> None:
    """What each command does first. Texts alone, as above."""
    settle(Path(folder))


def tree_of(folder: Path) -> Tree:
    """Every file below a folder with what is in it; databases by their rows, and no empty journal of one."""
    files = [path for path in folder.rglob("*") if path.is_file()]
    return {path.relative_to(folder).as_posix(): _content(path) for path in files if not _is_empty(path)}


def _is_empty(path: Path) -> bool:
    return path.name.endswith("-shm") or (path.name.endswith("-wal") and not path.stat().st_size)


def _content(path: Path) -> object:
    data = path.read_bytes()
    if data.startswith(b"SQLite format 3"):
        return rows_of(path)
    return hashlib.sha256(data).hexdigest()


def has_notes(folder: Path) -> bool:
    """Whether a note of a restore that is under way, or was cut, lies there."""
    return any((folder / name).exists() for name in (BEGUN, JOURNAL))
