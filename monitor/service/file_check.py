"""The check of a large database file, beside the work: it reads every page, and nobody may wait for that."""

from __future__ import annotations

import logging
import threading
from pathlib import Path

from monitor.errors import StoreError
from monitor.store.connection import FileInspection

log = logging.getLogger(__name__)

SMALL_BYTES = 16 * 1024 * 1024
"""A file up to this size is checked before the start, which takes well under a second."""


def is_small(path: Path) -> bool:
    """Whether the file is checked before the start; one that is not there yet is small."""
    return not path.exists() or path.stat().st_size <= SMALL_BYTES


class FileCheck:
    """Checks the file once in a thread of its own; `fault` tells what is wrong."""

    def __init__(self, path: Path) -> None:
        self._inspection = FileInspection(path)
        self._thread = threading.Thread(target=self._run, name="file check", daemon=True)
        self.fault: StoreError | None = None

    def start(self) -> None:
        """Begin."""
        self._thread.start()

    def stop(self) -> None:
        """Give it up where it is not done."""
        self._inspection.give_up()
        if self._thread.is_alive():
            self._thread.join(5.0)

    def _run(self) -> None:
        try:
            self._inspection.run()
        except StoreError as error:
            self.fault = error
            log.error("%s", error)
