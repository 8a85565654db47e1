"""What was last known of all sites, on disk: shown, with its age, while the archive does not answer."""

from __future__ import annotations

import logging
import os
import secrets
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from pydantic import TypeAdapter, ValidationError

from monitor.sites.overview import SiteFigures

log = logging.getLogger(__name__)

FILE_NAME = "last.json"
FORM = 1
"""Another number is another form of the file; what an older or newer program wrote is then asked anew."""


@dataclass(frozen=True, slots=True)
class Remembered:
    """The figures of a look, and when it was."""

    form: int
    looked_ms: int
    figures: tuple[SiteFigures, ...]


_ADAPTER = TypeAdapter(Remembered)


class Memory:
    """One file in the folder of `sites.toml`, for its owner alone; without it nothing but the age is lost."""

    def __init__(self, folder: Path) -> None:
        self._path = folder / FILE_NAME

    def load(self) -> Remembered | None:
        """What was kept; None where there is none that can be read."""
        try:
            kept = _ADAPTER.validate_json(self._path.read_bytes())
        except FileNotFoundError:
            return None
        except (OSError, ValidationError) as error:
            log.warning("%s cannot be read and is asked anew: %s", self._path, type(error).__name__)
            return None
        return kept if kept.form == FORM else None

    def save(self, figures: Iterable[SiteFigures], looked_ms: int) -> bool:
        """Keep it, whole or not at all; False where the disk does not take it, which harms nothing else."""
        beside = self._path.with_name(f".{FILE_NAME}.{secrets.token_hex(6)}")
        try:
            self._path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            content = _ADAPTER.dump_json(Remembered(FORM, looked_ms, tuple(figures)))
            descriptor = os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
            with os.fdopen(descriptor, "wb") as file:
                file.write(content)
            beside.replace(self._path)
        except OSError as error:
            with suppress(OSError):
                beside.unlink(missing_ok=True)
            log.debug("%s cannot be written: %s", self._path, error.strerror)
            return False
        return True
