"""When the monitor cannot start at all: the people are told, for nothing else would tell them."""

from __future__ import annotations

import logging
import tempfile
import time
from contextlib import suppress
from pathlib import Path

from monitor.errors import ChannelError, MonitorError
from monitor.notify.channels import open_channels
from monitor.settings.schema import Settings

log = logging.getLogger(__name__)

TELL_AGAIN_S = 6 * 3600.0
"""A service manager starts the monitor again every few seconds; people are told this often at most."""


def tell_people(settings: Settings, error: MonitorError) -> None:
    """Send one message to everybody who is told first, unless that was done within hours."""
    stamps = _stamps(settings.store.path)
    if any(_is_fresh(stamp) for stamp in stamps):
        return
    title = f"HIGH {settings.site.title} the monitor cannot start"
    body = (
        f"Nothing is watched, and nobody is warned of anything.\n{error}\n"
        "Do: Mend it on the computer, and look after the animals by hand until the monitor runs."
    )
    first = min((one.order for one in settings.recipients), default=1)
    channels, _ = open_channels([one for one in settings.recipients if one.order == first])
    for name, channel in channels.items():
        try:
            channel.send(title, body)
            log.warning("%s was told that the monitor cannot start", name)
        except ChannelError as refusal:
            log.error("%s could not be told: %s", name, refusal)
    _stamp(stamps)


def forget(settings: Settings) -> None:
    """The monitor has started: the next time that it cannot is told at once."""
    for stamp in _stamps(settings.store.path):
        with suppress(OSError):
            stamp.unlink(missing_ok=True)


def _stamps(store_path: Path) -> tuple[Path, Path]:
    """Beside the database, and where that disk is full, in the folder for temporary files."""
    name = f"{store_path.name}.not-started"
    return store_path.with_name(name), Path(tempfile.gettempdir()) / f"rearing-monitor-{name}"


def _is_fresh(stamp: Path) -> bool:
    with suppress(OSError):
        return 0 <= time.time() - stamp.stat().st_mtime < TELL_AGAIN_S
    return False


def _stamp(stamps: tuple[Path, ...]) -> None:
    for stamp in stamps:
        with suppress(OSError):
            stamp.touch()
            return
