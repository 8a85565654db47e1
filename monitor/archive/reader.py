"""The archive read back: what is asked of a time-series server, whatever its query language is.

Spans are [start, end): the end does not belong to them. Times are whole milliseconds and values are exact.
A series is one field of a measurement under one set of tags; a tag that is not there is "".
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from dataclasses import field as default
from enum import StrEnum
from typing import TYPE_CHECKING, Protocol

import numpy as np

from monitor.climate.arrays import FloatArray, IntArray
from monitor.records import Flag, SensorKey

if TYPE_CHECKING:
    from numpy.typing import NDArray

VALUE_FIELD, FLAG_FIELD = "value", "flag"
"""The two fields of a reading; its measurement is the quantity, its tags are node, probe and site."""
NODE_TAG, PROBE_TAG, SITE_TAG = "node", "probe", "site"


class Over(StrEnum):
    """What one number says of all points of a group of series within a span."""

    MINIMUM = "minimum"
    MAXIMUM = "maximum"
    SUM = "sum"
    COUNT = "count"
    FIRST_MS = "first_ms"
    """time of the first point"""
    LAST_MS = "last_ms"
    """time of the last point"""


@dataclass(frozen=True, slots=True)
class Selection:
    """Series of one field of a measurement, narrowed by tags: one value, or one of several.

    `Selection("air_temperature", "value", {"site": ("north", "south"), "probe": ""})`
    """

    measurement: str
    field: str = VALUE_FIELD
    tags: Mapping[str, str | Sequence[str]] = default(default_factory=dict)


@dataclass(frozen=True, slots=True)
class SensorReadings:
    """Readings of one sensor in the order of time, each time once; all three of shape (n,), n at least 1."""

    sensor: SensorKey
    at_ms: IntArray
    value: FloatArray
    """as the sensor sent it, not calibrated"""
    flag: NDArray[np.int8]

    def __len__(self) -> int:
        return len(self.at_ms)


@dataclass(frozen=True, slots=True)
class Points:
    """Points of one series in the order of time, each time once; both arrays of shape (n,), n at least 1."""

    tags: Mapping[str, str]
    at_ms: IntArray
    value: FloatArray


@dataclass(frozen=True, slots=True)
class Newest:
    """The newest point of a group; of several at one time the highest. `tags` are those asked for."""

    tags: Mapping[str, str]
    at_ms: int
    value: float


@dataclass(frozen=True, slots=True)
class Figure:
    """One number about a group. `tags` are those asked for."""

    tags: Mapping[str, str]
    value: float


@dataclass(frozen=True, slots=True)
class Series:
    """Points of one field as a server gave them: perhaps out of order, a time twice, NaN where nothing is."""

    measurement: str
    field: str
    tags: Mapping[str, str]
    at_ms: IntArray
    value: FloatArray


class ArchiveReader(Protocol):
    """What can be asked of an archive.

    Each call raises ArchiveUnreachable where no answer comes, ArchiveRefused where the answer is a refusal,
    and ArchiveError for an answer that is not whole or not understood. What is iterated raises while it is
    gone through: only one that comes to its end gave everything.
    """

    def prove(self) -> None:
        """Raise unless the server is reached, lets us read, and understands the language of this reader."""

    def sites(self, start_ms: int, end_ms: int) -> tuple[str, ...]:
        """The names of all sites that wrote anything in a span, sorted. A server may answer by whole days."""

    def span(self, site: str, start_ms: int, end_ms: int) -> tuple[int, int] | None:
        """The times of the first and the last reading of a site within a span; None where there is none."""

    def readings(
        self, site: str, start_ms: int, end_ms: int, sensors: Iterable[SensorKey] | None = None
    ) -> Iterator[SensorReadings]:
        """Readings of a site, sensor by sensor; those without a value in a span are left out.

        They are held in memory until they are taken, so a long span is best asked for in windows.
        """

    def points(self, selection: Selection, start_ms: int, end_ms: int) -> Iterator[Points]:
        """Every point of the selected series."""

    def last(self, selection: Selection, by: Sequence[str], start_ms: int, end_ms: int) -> tuple[Newest, ...]:
        """The newest point in a span for each group of series with the same tags `by`, sorted by these."""

    def aggregate(
        self, selection: Selection, over: Over, by: Sequence[str], start_ms: int, end_ms: int
    ) -> tuple[Figure, ...]:
        """One number over a span for each group of series with the same tags `by`, sorted by these.

        With an empty `by` all series are one group. A group without a point in the span is left out.
        """

    def close(self) -> None:
        """Close the connections."""


def points_of(series: Iterable[Series]) -> Iterator[Points]:
    """Points in the order of time, each time once; what holds none is left out."""
    for row in series:
        at_ms, value = _in_order(row.at_ms, row.value)
        if len(at_ms):
            yield Points(row.tags, at_ms, value)


def paired(series: Iterable[Series]) -> Iterator[SensorReadings]:
    """Readings put together from values and flags, which come as series of their own, in any order.

    What a sensor sent under different tags of other names (the server was moved) is put together. A value of
    which the flag was lost counts as not evaluated; a sensor without any flag is none of ours.
    """
    sensors: dict[SensorKey, dict[str, list[Series]]] = defaultdict(lambda: defaultdict(list))
    for row in series:
        key = SensorKey(row.tags.get(NODE_TAG, ""), row.tags.get(PROBE_TAG, ""), row.measurement)
        sensors[key][row.field].append(row)
    for sensor, fields in sensors.items():
        if VALUE_FIELD in fields and FLAG_FIELD in fields:
            readings = _readings(sensor, fields[VALUE_FIELD], fields[FLAG_FIELD])
            if len(readings):
                yield readings


def _readings(sensor: SensorKey, values: Sequence[Series], flags: Sequence[Series]) -> SensorReadings:
    at_ms, value = _put_together(values)
    flags_ms, flag = _put_together(flags)
    if not np.array_equal(at_ms, flags_ms):
        flag = _flags_at(at_ms, flags_ms, flag)
    return SensorReadings(sensor, at_ms, value, flag.astype(np.int8))


def _put_together(parts: Sequence[Series]) -> tuple[IntArray, FloatArray]:
    if len(parts) == 1:
        return _in_order(parts[0].at_ms, parts[0].value)
    return _in_order(
        np.concatenate([part.at_ms for part in parts]), np.concatenate([part.value for part in parts])
    )


def _flags_at(at_ms: IntArray, flags_ms: IntArray, flag: FloatArray) -> FloatArray:
    """The flag of each time, not evaluated where there is none."""
    if not len(flags_ms):
        return np.full(len(at_ms), float(Flag.NOT_EVALUATED))
    place = np.minimum(np.searchsorted(flags_ms, at_ms), len(flags_ms) - 1)
    return np.where(flags_ms[place] == at_ms, flag[place], float(Flag.NOT_EVALUATED))


def _in_order(at_ms: IntArray, value: FloatArray) -> tuple[IntArray, FloatArray]:
    """The points that hold a value in the order of time; of several at one time the first."""
    if not np.isfinite(value).all():
        held = np.isfinite(value)
        at_ms, value = at_ms[held], value[held]
    if (np.diff(at_ms) > 0).all():
        return at_ms, value
    at_ms, first = np.unique(at_ms, return_index=True)
    return at_ms, value[first]


def newest_of(
    points: Iterable[tuple[Mapping[str, str], int, float]], by: Sequence[str]
) -> tuple[Newest, ...]:
    """The newest point of each group, from the newest (tags, time, value) of each series."""
    groups: dict[tuple[str, ...], tuple[int, float]] = {}
    for tags, at_ms, value in points:
        # A list is quicker here than a generator; there may be 200,000 series.
        group = tuple([tags.get(name, "") for name in by])
        known, point = groups.get(group), (at_ms, value)
        if known is None or point > known:
            groups[group] = point
    return tuple(Newest(dict(zip(by, group, strict=True)), *groups[group]) for group in sorted(groups))
