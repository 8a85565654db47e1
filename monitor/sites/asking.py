"""Questions to the archive about many sites, and rows of its answers by site and tags."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import TypeVar

from monitor.archive.reader import SITE_TAG, ArchiveReader, Newest, Over, Selection
from monitor.archive.series import ALARM, ALARM_STATUS, SITE, Series
from monitor.records import MS_PER_HOUR, MS_PER_MINUTE, AlarmStatus, Priority, Quantity, Side
from monitor.sites.overview import SiteAlarm, Window, gravest_first

AHEAD_MS = MS_PER_HOUR
"""So far ahead of ours the clock of a site may be; its points are found all the same."""
LATELY_MS = 15 * MS_PER_MINUTE
HOURLY_MS = 150 * MS_PER_MINUTE
"""What is written each hour is found within so much, be it late once."""
ROUNDS = 1.5
"""What is older than the newest of its kind by more rounds than this is over: a cohort that ended."""
MOST_NAMED = 200
"""Of more sites than these all are asked for: a question with thousands of names is a slow one."""
READINGS = (
    Quantity.AIR_TEMPERATURE,
    Quantity.SUBSTRATE_TEMPERATURE,
    Quantity.AIR_HUMIDITY,
    Quantity.SUBSTRATE_MOISTURE,
)
"""By these a site is heard whose program writes no heartbeat yet."""
Row = Mapping[str, Newest]


@dataclass(frozen=True, slots=True)
class Span:
    """From when to when is asked, the end not included."""

    start_ms: int
    end_ms: int

    @classmethod
    def back(cls, now_ms: int, back_ms: int) -> Span:
        """The last so many milliseconds, with room for clocks that are ahead."""
        return cls(now_ms - back_ms, now_ms + AHEAD_MS)


class Questions:
    """What can be asked about sites; each raises ArchiveError. Nothing is asked about no site."""

    def __init__(self, reader: ArchiveReader) -> None:
        self._reader = reader

    def names(self, span: Span) -> frozenset[str]:
        """All sites that wrote within a span."""
        return frozenset(self._reader.sites(span.start_ms, span.end_ms))

    def heard(self, span: Span, sites: Collection[str] | None = None) -> dict[str, int]:
        """When the last sign of each site came, by its heartbeat; None asks about all."""
        return {site: row.at_ms for site, row in self.by_site(SITE, "heartbeat", span, sites).items()}

    def heard_by_readings(self, span: Span, sites: Collection[str]) -> dict[str, int]:
        """The same by readings, for sites that write no heartbeat."""
        heard: dict[str, int] = {}
        for quantity in READINGS if sites else ():
            selection = Selection(quantity, tags=_named(sites))
            figures = self._reader.aggregate(selection, Over.LAST_MS, (SITE_TAG,), span.start_ms, span.end_ms)
            for figure in figures:
                site = figure.tags[SITE_TAG]
                heard[site] = max(heard.get(site, 0), round(figure.value))
        return {site: heard[site] for site in sites if site in heard}

    def over(
        self, over: Over, series: Series, name: str, span: Span, sites: Collection[str]
    ) -> dict[str, float]:
        """One number for each site over all points of a span: half the size of the newest with its time."""
        if not sites:
            return {}
        selection = Selection(series.measurement, name, _named(sites))
        figures = self._reader.aggregate(selection, over, (SITE_TAG,), span.start_ms, span.end_ms)
        found = {figure.tags[SITE_TAG]: figure.value for figure in figures}
        return {site: value for site, value in found.items() if site in sites}

    def by_site(
        self,
        series: Series,
        name: str,
        span: Span,
        sites: Collection[str] | None = None,
        tags: Mapping[str, str] | None = None,
    ) -> dict[str, Newest]:
        """The newest point of a field, one for each site."""
        return {row.tags[SITE_TAG]: row for row in self._last(series, name, (SITE_TAG,), span, sites, tags)}

    def _last(
        self,
        series: Series,
        name: str,
        by: Sequence[str],
        span: Span,
        sites: Collection[str] | None,
        tags: Mapping[str, str] | None = None,
    ) -> Iterable[Newest]:
        """Of more than `MOST_NAMED` sites all are asked for, and the others left out here."""
        if sites is not None and not sites:
            return ()
        selection = Selection(series.measurement, name, {**(tags or {}), **_named(sites)})
        rows = self._reader.last(selection, by, span.start_ms, span.end_ms)
        return rows if sites is None else [row for row in rows if row.tags[SITE_TAG] in sites]

    def rows(
        self, series: Series, names: Sequence[str], span: Span, sites: Collection[str]
    ) -> dict[tuple[str, ...], dict[str, Newest]]:
        """The newest of several fields, by site and the tags of the series; each row has the first field.

        What is older than the newest of its site by more than `ROUNDS` is left out.
        """
        by, rows = (SITE_TAG, *series.tags), defaultdict[tuple[str, ...], dict[str, Newest]](dict)
        for name in names:
            for row in self._last(series, name, by, span, sites):
                rows[tuple(row.tags[tag] for tag in by)][name] = row
        whole = {key: row for key, row in rows.items() if names[0] in row}
        newest_ms: dict[str, int] = defaultdict(int)
        for key, row_of in whole.items():
            newest_ms[key[0]] = max(newest_ms[key[0]], row_of[names[0]].at_ms)
        late_ms = round(ROUNDS * 1000.0 * (series.every_s or 0.0))
        return {
            key: row_of
            for key, row_of in whole.items()
            if row_of[names[0]].at_ms >= newest_ms[key[0]] - late_ms
        }

    def alarms(self, span: Span, sites: Collection[str]) -> dict[str, tuple[SiteAlarm, ...]]:
        """The alarms of each site that stand or that nobody has seen, the gravest first."""
        of_site: dict[str, list[SiteAlarm]] = {site: [] for site in sites}
        for (site, *tags), row in self.rows(ALARM, _OF_ALARM, span, sites).items():
            alarm = _alarm(tags, row)
            if alarm is not None:
                of_site[site].append(alarm)
        return {site: gravest_first(alarms) for site, alarms in of_site.items()}


_OF_ALARM = ("status", "setpoint", "value", "since_ms")


def _alarm(tags: Sequence[str], row: Row) -> SiteAlarm | None:
    """None for one of a kind that a newer program wrote."""
    place, quantity, side, priority = tags
    status = member_of(AlarmStatus, ALARM_STATUS, row, "status")
    if status is None or side not in tuple(Side) or priority not in tuple(Priority):
        return None
    return SiteAlarm(
        place,
        quantity,
        Side(side),
        Priority(priority),
        status,
        value_of(row, "setpoint"),
        value_of(row, "value"),
        whole(value_of(row, "since_ms")),
        row["status"].at_ms,
    )


def _named(sites: Collection[str] | None) -> dict[str, Sequence[str]]:
    return {} if sites is None or len(sites) > MOST_NAMED else {SITE_TAG: tuple(sorted(sites))}


Kind = TypeVar("Kind", bound=StrEnum)


def member_of(kind: type[Kind], codes: Mapping[Kind, int], row: Row, name: str) -> Kind | None:
    """What the code in a field stands for; None where it is not there or not known."""
    value = value_of(row, name)
    return None if value is None else next((each for each in kind if codes.get(each) == value), None)


def value_of(row: Row, name: str) -> float | None:
    """The value of a field of a row that was written with its first; None where it is not there."""
    return row[name].value if name in row else None


def whole(value: float | None) -> int | None:
    """A moment or a count."""
    return None if value is None else round(value)


def window_of(row: Row, names: Sequence[str]) -> Window | None:
    """Low, median and high of three fields; None where one is missing."""
    if any(name not in row for name in names):
        return None
    low, median, high = (row[name] for name in names)
    return Window(low.value, median.value, high.value, median.at_ms)
