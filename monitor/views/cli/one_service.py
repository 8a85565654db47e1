"""One service for one database: a lock on a file beside it, freed by the system however the process ends."""

from __future__ import annotations

import fcntl
import os
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from monitor.errors import StoreLocked, StoreUnreadable

# A service that is restarted may find its predecessor in its last second.
PATIENCE_S = 2.0
POLL_S = 0.1


@contextmanager
def only_service(store_path: Path) -> Iterator[None]:
    """Hold the lock; StoreLocked with the number of the process that has it."""
    path = store_path.with_name(f"{store_path.name}.lock")
    descriptor = _open(path)
    try:
        if not _lock(descriptor):
            raise StoreLocked(_held(store_path, _holder(descriptor)))
        # The number only helps a person; a full disk must not keep us from saying that it is full.
        with suppress(OSError):
            os.ftruncate(descriptor, 0)
            os.pwrite(descriptor, f"{os.getpid()}\n".encode(), 0)
        yield
    finally:
        os.close(descriptor)


def _open(path: Path) -> int:
    try:
        return os.open(path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
    except OSError as error:
        raise StoreUnreadable(
            f"{path} cannot be written: {error.strerror}. To mend: create the folder, and let the user that "
            "runs the program write in it; or change [store] path"
        ) from None


def _lock(descriptor: int) -> bool:
    until = time.monotonic() + PATIENCE_S
    while True:
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            if time.monotonic() >= until:
                return False
            time.sleep(POLL_S)
        else:
            return True


def _holder(descriptor: int) -> str:
    return os.pread(descriptor, 32, 0).decode("ascii", "replace").strip()


def _held(store_path: Path, holder: str) -> str:
    who = f"process {holder}" if holder else "another process"
    return (
        f"{store_path}: a monitor runs on this database already ({who}); two would warn twice. To mend: stop "
        f"that one first, or give this one its own settings file with another [store] path"
    )
