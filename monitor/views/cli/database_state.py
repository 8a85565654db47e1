"""What is wrong with the database and its disk, for `check`: an alarm sends people here to find out."""

from __future__ import annotations

import shutil
from pathlib import Path

from monitor.errors import StoreError
from monitor.store.connection import ROOM, FileInspection

FULL_BYTES = 2_000_000
SCARCE_BYTES = 200_000_000


def database_problems(path: Path) -> tuple[str, ...]:
    """Why readings cannot be kept: a full disk, a damaged or foreign file. Reads the whole file."""
    found = [f"the disk that holds {path} is full. To mend: {ROOM}"] if _free(path) < FULL_BYTES else []
    if path.is_file():
        try:
            FileInspection(path).run()
        except StoreError as error:
            found.append(str(error))
    return tuple(found)


def database_warnings(path: Path) -> tuple[str, ...]:
    """What will stop readings from being kept before long."""
    free = _free(path)
    if not FULL_BYTES <= free < SCARCE_BYTES:
        return ()
    return (f"the disk that holds {path} has only {free / 1e6:.0f} MB left. To mend: {ROOM}",)


def _free(path: Path) -> int:
    """Free bytes; as many as one could wish where the folder does not exist, which is told elsewhere."""
    folder = path.parent
    return shutil.disk_usage(folder).free if folder.is_dir() else SCARCE_BYTES
