"""The archive read back: what is asked of a time-series server, whatever its query language is.

Spans are [start, end): the end does not belong to them. Times are whole milliseconds and values are exact.
A series is one field of a measurement under one set of tags; a tag that is not there is "".
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from dataclasses import field as default
from enum import StrEnum
from typing import TYPE_CHECKING, Protocol

from monitor.climate.arrays import FloatArray, IntArray
from monitor.records import SensorKey

if TYPE_CHECKING:
    import numpy as np
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


class ArchiveReader(Protocol):
    """What can be asked of an archive.

    Each call raises ArchiveUnreachable where no answer comes, ArchiveRefused where the answer is a refusal,
    and ArchiveError for an answer that is not whole or not understood; none gives a part of an answer.
    """

    def sites(self, start_ms: int, end_ms: int) -> tuple[str, ...]:
        """The names of all sites that wrote anything in a span, sorted. A server may answer by whole days."""

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
