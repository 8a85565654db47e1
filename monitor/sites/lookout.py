"""Looks at the archive of many sites, again and again, and says what is known, however old that is."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass, replace

from monitor.archive.access import access_of, open_reader
from monitor.archive.reader import ArchiveReader
from monitor.errors import ArchiveError, Sentence
from monitor.records import MS_PER_MINUTE
from monitor.settings.schema import ArchiveSettings
from monitor.sites.memory import Memory
from monitor.sites.overview import Overview, SitePicture, without_yields
from monitor.sites.overview_reader import SitesReader, overview_of
from monitor.sites.settings import Person, Right, SitesFile
from monitor.sites.site_reader import SiteReader

SAVE_MS = 5 * MS_PER_MINUTE
"""What is known is kept on disk no more often. Own choice."""

OpenArchive = Callable[[ArchiveSettings], ArchiveReader]


def open_archive(settings: ArchiveSettings) -> ArchiveReader:
    """The archive of the settings, for reading. Raises ArchiveError."""
    return open_reader(access_of(settings))


@dataclass(frozen=True, slots=True)
class Known:
    """All sites as they were when the archive answered last; `trouble` says why it does not answer now.

    Without an overview it has not answered yet, and nothing was kept of an earlier time.
    """

    overview: Overview | None
    trouble: Sentence | None = None


class Lookout:
    """One thread calls `look`; any may ask what is `known`, and for the picture of a site."""

    def __init__(self, file: SitesFile, open_with: OpenArchive = open_archive) -> None:
        self.settings = file.settings
        self._open_with = open_with
        self._memory, self._saved_ms = Memory(file.folder), 0
        self._sites: SitesReader | None = None
        self._pictures = threading.Lock()
        self._for_pictures: SitesReader | None = None
        kept = self._memory.load()
        self._kept = kept
        overview = None
        if kept is not None:
            overview = overview_of({each.site: each for each in kept.figures}, self.settings, kept.looked_ms)
        self.known = Known(overview)

    def look(self, now_ms: int) -> Known:
        """Ask the archive; where it does not answer, what was known stays, with the reason."""
        try:
            if self._sites is None:
                self._sites = self._opened()
            self.known = Known(self._sites.look(now_ms))
        except ArchiveError as error:
            self.known = replace(self.known, trouble=error.said)
            return self.known
        if abs(now_ms - self._saved_ms) >= SAVE_MS:
            self._memory.save(self._sites.figures.values(), now_ms)
            self._saved_ms = now_ms
        return self.known

    def _opened(self) -> SitesReader:
        sites = SitesReader(self._open_with(self.settings.archive), self.settings)
        if self._kept is not None:
            sites.remember(self._kept.figures, self._kept.looked_ms)
        return sites

    def picture(self, site: str, now_ms: int) -> SitePicture | None:
        """One site, asked now; None for one that never wrote. Raises ArchiveError."""
        with self._pictures:
            if self._for_pictures is None:
                self._for_pictures = SitesReader(self._open_with(self.settings.archive), self.settings)
            if self._sites is not None and self._sites.looked_ms is not None:
                self._for_pictures.remember(self._sites.figures.values(), self._sites.looked_ms)
            line = self._for_pictures.line(site, now_ms)
            if line is None:
                return None
            return SiteReader(self._for_pictures.questions, line).picture(now_ms)

    def close(self) -> None:
        """Keep what is known."""
        if self._sites is not None and self._sites.looked_ms is not None:
            self._memory.save(self._sites.figures.values(), self._sites.looked_ms)


def seen_by(overview: Overview, person: Person) -> Overview:
    """What a person may see of it: their sites alone, and of some not what they yield."""
    lines = []
    for line in overview.lines:
        right = person.right(line.site)
        if right is not Right.NONE:
            lines.append(without_yields(line) if right is Right.CARE else line)
    return replace(overview, lines=tuple(lines))


def picture_for(picture: SitePicture, person: Person) -> SitePicture | None:
    """The same of one site; None where the person may not know of it."""
    right = person.right(picture.line.site)
    if right is Right.NONE:
        return None
    if right is Right.FULL:
        return picture
    bins = tuple(replace(each, harvest_ms=None, harvest_kg=None) for each in picture.bins)
    return replace(picture, line=without_yields(picture.line), bins=bins, weeks=())
