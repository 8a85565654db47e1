"""`sites run`: looks at the archive, serves the page, tells of silence, until it is stopped."""

from __future__ import annotations

import logging
import time
from collections.abc import Callable
from pathlib import Path

from monitor.errors import Sentence
from monitor.page.context import LiveFeed
from monitor.page.server import Door
from monitor.records import MS_PER_SECOND
from monitor.settings.checking import names_everybody
from monitor.sites.lookout import Lookout, OpenArchive, open_archive
from monitor.sites.page import SitesApp
from monitor.sites.settings import SitesFile
from monitor.sites.watch import DATABASE, SilenceWatch, open_store

log = logging.getLogger(__name__)

POLL_S = 0.2
PAGE_KEY = "sites_page_key"


class SitesService:
    """One process for the page and the watch."""

    def __init__(self, file: SitesFile, open_with: OpenArchive = open_archive) -> None:
        self._file, self._settings = file, file.settings
        file.folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        self.store_path: Path = file.folder / DATABASE
        self._lookout = Lookout(file, open_with)
        self._said: Sentence | None = None
        self.address = ""

    def run(self, is_over: Callable[[], bool], clock_ms: Callable[[], int] | None = None) -> None:
        """Go on until `is_over`."""
        clock = clock_ms or _clock_ms
        # What it has to say of a server that is away is said once, and never with an address.
        logging.getLogger("urllib3").setLevel(logging.ERROR)
        with open_store(self._file.folder) as store:
            watch, feed = SilenceWatch(store, self._settings, clock_ms=clock), LiveFeed()
            door = self._door(store.meta.kept_key(PAGE_KEY), clock, feed)
            watch.worker.start()
            try:
                self._look_on(watch, feed, clock, is_over)
            finally:
                feed.close()
                watch.worker.stop()
                if door is not None:
                    door.close()
                self._lookout.close()

    def _door(self, key: bytes, clock: Callable[[], int], feed: LiveFeed) -> Door | None:
        page = self._settings.page
        if not page.enabled:
            return None
        if not any(person.password is not None for person in self._settings.people):
            log.warning("nobody can log in to the page: no person of the settings has a password")
        door = Door(page.listen, page.port)
        door.listen()
        app = SitesApp(self._lookout, key, clock, feed).build()
        door.serve(app, [proxy for proxy in page.proxies if not names_everybody(proxy)])
        self.address = door.address
        log.info("the page is at %s", door.address)
        return door

    def _look_on(
        self, watch: SilenceWatch, feed: LiveFeed, clock: Callable[[], int], is_over: Callable[[], bool]
    ) -> None:
        every_s = self._settings.watch.look_minutes * 60.0
        next_s = time.monotonic()
        while not is_over():
            if time.monotonic() >= next_s:
                next_s = time.monotonic() + every_s
                self._look(watch, feed, clock())
            time.sleep(POLL_S)

    def _look(self, watch: SilenceWatch, feed: LiveFeed, now_ms: int) -> None:
        """One look; a fault of the program itself ends neither the page nor the watch."""
        began_s = time.monotonic()
        try:
            known = self._lookout.look(now_ms)
            news = watch.follow(known, now_ms)
        except Exception:
            log.exception("a look at the archive met an error of the program")
            return
        feed.note()
        if known.trouble != self._said:
            self._said = known.trouble
            level, text = (
                (logging.WARNING, str(known.trouble)) if known.trouble else (logging.INFO, "it answers")
            )
            log.log(level, "the archive: %s", text)
        for line in news.silent:
            log.warning("%s is silent", line.site)
        for line, _ in news.heard_again:
            log.info("%s is heard again", line.site)
        log.debug("looked in %.2f s", time.monotonic() - began_s)


def _clock_ms() -> int:
    return round(time.time() * MS_PER_SECOND)
