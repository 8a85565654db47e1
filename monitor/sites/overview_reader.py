"""All sites as the archive knows them, in few questions.

One look asks for the last minutes alone: a month of heartbeats of thousands of sites is too much for it.
A site that is not found there is looked for further back, once; what was known of it is kept.
"""

from __future__ import annotations

import gc
from collections.abc import Collection, Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace

from monitor.archive.reader import ArchiveReader, Over
from monitor.archive.series import BIN, SITE, YIELD_AHEAD
from monitor.records import MS_PER_DAY, MS_PER_HOUR, MS_PER_MINUTE
from monitor.sites.asking import AHEAD_MS, HOURLY_MS, LATELY_MS, Questions, Span
from monitor.sites.overview import (
    BIN_HOURS,
    DryBin,
    Habits,
    Known,
    Overview,
    SiteFigures,
    SiteLine,
    Window,
    site_line,
    worst_first,
)
from monitor.sites.settings import SitesSettings

STEPS_MS = (6 * MS_PER_HOUR, 2 * MS_PER_DAY)
"""How far back a site is looked for that was not found lately, before the whole span is asked for."""
DRY_WITHIN_H = BIN_HOURS + HOURLY_MS / MS_PER_HOUR
"""Of bins that are moist for longer nothing is told in the overview, however old the figure is."""
HOURLY_AGAIN_MS = 10 * MS_PER_MINUTE
"""What changes once an hour is asked for no more often; new sites are looked for as often."""
_COUNTS = ("open_alarms", "unacknowledged_alarms", "boards_to_mend")


def habits_of(site: str, settings: SitesSettings) -> Habits:
    """What the settings say of a site."""
    named = settings.known(site)
    return Habits(named.title or site, settings.silent_after_ms(site), named.watched)


def overview_of(figures: Mapping[str, SiteFigures], settings: SitesSettings, read_ms: int) -> Overview:
    """All sites of which something is known, worst first."""
    lines = (site_line(each, habits_of(each.site, settings), read_ms) for each in figures.values())
    return worst_first(lines, read_ms)


@contextmanager
def _collector_at_rest() -> Iterator[None]:
    """Of the rows of an answer none is garbage: to go through them again and again takes half of the time."""
    was_at_work = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_at_work:
            gc.enable()


class SitesReader:
    """Asks the archive about all sites, and remembers what they last said.

    One thread looks; `figures` may be read from others: it is replaced, never changed.
    """

    def __init__(self, reader: ArchiveReader, settings: SitesSettings) -> None:
        self._ask, self._settings = Questions(reader), settings
        self.figures: Mapping[str, SiteFigures] = {}
        self.looked_ms: int | None = None
        self._hourly_ms = self._listed_ms = -MS_PER_DAY
        self._without_heartbeat: frozenset[str] = frozenset()

    @property
    def questions(self) -> Questions:
        """For what else is asked."""
        return self._ask

    @property
    def _days_ms(self) -> int:
        return round(self._settings.watch.days_back * MS_PER_DAY)

    def remember(self, figures: Iterable[SiteFigures], looked_ms: int) -> None:
        """Begin with what was known at an earlier look."""
        self.figures, self.looked_ms = {each.site: each for each in figures}, looked_ms

    def look(self, now_ms: int) -> Overview:
        """Ask, and give all sites, worst first. Raises ArchiveError; what was known stays."""
        with _collector_at_rest():
            known = self._look(now_ms)
        named = {site.id for site in self._settings.sites}
        oldest_ms = now_ms - self._days_ms
        self.figures = {
            site: each
            for site, each in known.items()
            if site in named or (each.heard_ms is not None and each.heard_ms >= oldest_ms)
        }
        self.looked_ms = now_ms
        return overview_of(self.figures, self._settings, now_ms)

    def _look(self, now_ms: int) -> dict[str, SiteFigures]:
        known = self._remembered(now_ms)
        span = Span(min(now_ms, self.looked_ms or now_ms) - LATELY_MS, now_ms + AHEAD_MS)
        heard = self._ask.heard(span)
        heard = {**self._ask.heard_by_readings(span, sorted(self._without_heartbeat)), **heard}
        for site, at_ms in heard.items():
            before = known.get(site, SiteFigures(site))
            known[site] = replace(before, heard_ms=max(before.heard_ms or 0, min(at_ms, now_ms)))
        self._add_counts(known, span, heard)
        self._add_alarms(known, span, heard)
        if now_ms - self._listed_ms >= HOURLY_AGAIN_MS:
            self._add_unheard(known, now_ms)
            self._listed_ms = now_ms
        if now_ms - self._hourly_ms >= HOURLY_AGAIN_MS:
            # A site that fell silent before the last hours keeps what it said.
            lately = {site for site, at_ms in heard.items() if at_ms >= now_ms - MS_PER_HOUR}
            self._add_hourly(known, Span.back(now_ms, HOURLY_MS), lately)
            self._add_bins_of_silent(known, lately)
            self._hourly_ms = now_ms
        return known

    def _remembered(self, now_ms: int) -> dict[str, SiteFigures]:
        """What is known, unless it is so old, or from so far ahead, that all is asked for anew."""
        if self.looked_ms is None or not 0 <= now_ms - self.looked_ms <= MS_PER_DAY:
            self.looked_ms, self._hourly_ms, self._listed_ms = None, -MS_PER_DAY, -MS_PER_DAY
            return {}
        return dict(self.figures)

    def _add_counts(self, known: dict[str, SiteFigures], span: Span, heard: Mapping[str, int]) -> None:
        """At most sites all counts were 0 all the time; the newest is asked for at the others alone."""
        standing, unseen, to_mend = (self._counts(name, span, heard) for name in _COUNTS)
        for site in heard:
            known[site] = replace(
                known[site],
                open_alarms=standing.get(site),
                unacknowledged=unseen.get(site),
                to_mend=to_mend.get(site),
            )

    def _counts(self, name: str, span: Span, heard: Mapping[str, int]) -> dict[str, Known]:
        most = self._ask.over(Over.MAXIMUM, SITE, name, span, heard)
        newest = self._ask.by_site(SITE, name, span, {site for site, value in most.items() if value > 0})
        counts = {site: Known(0.0, heard[site]) for site in most}
        return counts | {site: Known(row.value, row.at_ms) for site, row in newest.items()}

    def _add_alarms(self, known: dict[str, SiteFigures], span: Span, sites: Iterable[str]) -> None:
        """The alarms of the sites that have some; the others have none."""
        troubled = []
        for site in sites:
            counts = (known[site].open_alarms, known[site].unacknowledged)
            known[site] = replace(known[site], alarms=())
            if any(count is not None and count.value > 0 for count in counts):
                troubled.append(site)
        for site, alarms in self._ask.alarms(span, troubled).items() if troubled else ():
            known[site] = replace(known[site], alarms=alarms)

    def _add_hourly(self, known: dict[str, SiteFigures], span: Span, sites: Collection[str]) -> None:
        """What a site no longer writes is over: its bins are empty, its yields not to be told."""
        hours = self._ask.over(Over.MINIMUM, BIN, "dry_likely_h", span, sites)
        soon = {site for site, least_h in hours.items() if least_h <= DRY_WITHIN_H}
        driest = self._driest(span, soon)
        eggs, larvae = self._ahead("eggs", "g", span, sites), self._ahead("larvae", "kg", span, sites)
        for site in sites:
            known[site] = replace(
                known[site],
                dry_bin=driest.get(site),
                eggs_g=eggs.get(site),
                larvae_kg=larvae.get(site),
            )

    def _driest(self, span: Span, sites: Collection[str]) -> dict[str, DryBin]:
        """The bin of each site that will be too dry first."""
        driest: dict[str, DryBin] = {}
        for (site, place), row in self._ask.rows(BIN, ("dry_likely_h",), span, sites).items():
            likely = row["dry_likely_h"]
            dry_ms = likely.at_ms + round(likely.value * MS_PER_HOUR)
            if site not in driest or dry_ms < driest[site].dry_ms:
                driest[site] = DryBin(place, dry_ms, likely.at_ms)
        return driest

    def _add_bins_of_silent(self, known: dict[str, SiteFigures], lately: Collection[str]) -> None:
        """Bins dry on while nothing is heard of their site: those that were moist for long count too."""
        last_ms = {
            site: each.heard_ms
            for site, each in known.items()
            if site not in lately and each.heard_ms is not None
        }
        if last_ms:
            span = Span(min(last_ms.values()) - HOURLY_MS, max(last_ms.values()) + MS_PER_MINUTE)
            for site, dry_bin in self._driest(span, last_ms).items():
                known[site] = replace(known[site], dry_bin=dry_bin)

    def _ahead(self, what: str, unit: str, span: Span, sites: Collection[str]) -> dict[str, Window]:
        """What each site will have within seven days."""
        lows, middles, highs = (
            self._ask.by_site(YIELD_AHEAD, f"{what}_{part}_{unit}", span, sites, {"week": "0"})
            for part in ("low", "middle", "high")
        )
        return {
            site: Window(lows[site].value, middle.value, highs[site].value, middle.at_ms)
            for site, middle in middles.items()
            if site in lows and site in highs
        }

    def _add_unheard(self, known: dict[str, SiteFigures], now_ms: int) -> None:
        """Look back for sites that were not heard lately: those in the settings, those that ever wrote."""
        sites = {site.id for site in self._settings.sites} | self._ask.names(Span.back(now_ms, self._days_ms))
        sites = {site for site in sites if site not in known or known[site].heard_ms is None}
        for site in sites:
            known[site] = SiteFigures(site)
        for back_ms in (*STEPS_MS, self._days_ms):
            sites -= self._add_past(known, self._ask.heard(Span.back(now_ms, back_ms), sites), now_ms)
        by_readings = self._ask.heard_by_readings(Span.back(now_ms, self._days_ms), sites)
        self._without_heartbeat |= self._add_past(known, by_readings, now_ms)

    def _add_past(
        self, known: dict[str, SiteFigures], heard: Mapping[str, int], now_ms: int
    ) -> frozenset[str]:
        """What silent sites said last, before they fell silent; gives their names."""
        if not heard:
            return frozenset()
        for site, at_ms in heard.items():
            known[site] = replace(known[site], heard_ms=min(at_ms, now_ms))
        first_ms, end_ms = min(heard.values()), max(heard.values()) + MS_PER_MINUTE
        lately = Span(first_ms - LATELY_MS, end_ms)
        self._add_counts(known, lately, heard)
        self._add_alarms(known, lately, heard)
        self._add_hourly(known, Span(first_ms - HOURLY_MS, end_ms), heard)
        return frozenset(heard)

    def line(self, site: str, now_ms: int) -> SiteLine | None:
        """One site, asked anew; None for one that never wrote. Raises ArchiveError."""
        before = self._remembered(now_ms).get(site, SiteFigures(site))
        known = {site: before}
        spans = [Span.back(now_ms, LATELY_MS)]
        if before.heard_ms is None:
            spans += [Span.back(now_ms, back_ms) for back_ms in (*STEPS_MS, self._days_ms)]
        heard = next((found for span in spans if (found := self._ask.heard(span, [site]))), {})
        if not heard and (before.heard_ms is None or site in self._without_heartbeat):
            heard = self._ask.heard_by_readings(spans[-1], [site])
        self._add_past(known, heard, now_ms)
        if known[site].heard_ms is None:
            return None
        return site_line(known[site], habits_of(site, self._settings), now_ms)
