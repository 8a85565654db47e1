"""An archive in memory: what a real one holds, answered by the same Protocol, for tests of who reads it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence

import numpy as np

from monitor.archive.reader import (
    FLAG_FIELD,
    NODE_TAG,
    PROBE_TAG,
    SITE_TAG,
    VALUE_FIELD,
    Figure,
    Newest,
    Over,
    Points,
    Selection,
    SensorReadings,
)
from monitor.errors import ArchiveUnreachable
from monitor.records import SensorKey

_Tags = frozenset[tuple[str, str]]


class MemoryArchive:
    """`write` and `write_reading` put points in; while `is_silent` every question fails."""

    def __init__(self) -> None:
        self.is_silent = False
        self._series: dict[tuple[str, str, _Tags], dict[int, float]] = defaultdict(dict)

    def write(
        self, measurement: str, tags: Mapping[str, str], fields: Mapping[str, float], at_ms: int
    ) -> None:
        """One point; a tag that is "" is left out, as it is on the way to a server."""
        named = frozenset((name, text) for name, text in tags.items() if text)
        for name, value in fields.items():
            self._series[measurement, name, named][at_ms] = value

    def write_reading(self, site: str, sensor: SensorKey, at_ms: int, value: float, flag: int = 1) -> None:
        tags = {NODE_TAG: sensor.node, PROBE_TAG: sensor.probe, SITE_TAG: site}
        self.write(sensor.quantity, tags, {VALUE_FIELD: value, FLAG_FIELD: flag}, at_ms)

    def prove(self) -> None:
        self._answer()

    def sites(self, start_ms: int, end_ms: int) -> tuple[str, ...]:
        self._answer()
        found = {
            dict(tags).get(SITE_TAG, "")
            for (_, _, tags), points in self._series.items()
            if any(start_ms <= at_ms < end_ms for at_ms in points)
        }
        return tuple(sorted(found - {""}))

    def span(self, site: str, start_ms: int, end_ms: int) -> tuple[int, int] | None:
        found = [found.at_ms for found in self.readings(site, start_ms, end_ms)]
        if not found:
            return None
        return int(min(at_ms[0] for at_ms in found)), int(max(at_ms[-1] for at_ms in found))

    def readings(
        self, site: str, start_ms: int, end_ms: int, sensors: Iterable[SensorKey] | None = None
    ) -> Iterator[SensorReadings]:
        self._answer()
        wanted = None if sensors is None else frozenset(sensors)
        for (quantity, name, tags), values in list(self._series.items()):
            named = dict(tags)
            key = SensorKey(named.get(NODE_TAG, ""), named.get(PROBE_TAG, ""), quantity)
            flags = self._series.get((quantity, FLAG_FIELD, tags), {})
            at = sorted(at_ms for at_ms in values if start_ms <= at_ms < end_ms and at_ms in flags)
            if name != VALUE_FIELD or not key.node or named.get(SITE_TAG) != site or not at:
                continue
            if wanted is None or key in wanted:
                yield SensorReadings(
                    key,
                    np.array(at, dtype=np.int64),
                    np.array([values[at_ms] for at_ms in at]),
                    np.array([flags[at_ms] for at_ms in at], dtype=np.int8),
                )

    def points(self, selection: Selection, start_ms: int, end_ms: int) -> Iterator[Points]:
        self._answer()
        for tags, points in self._selected(selection, start_ms, end_ms):
            at_ms, value = zip(*points, strict=True)
            yield Points(tags, np.array(at_ms, dtype=np.int64), np.array(value, dtype=np.float64))

    def last(self, selection: Selection, by: Sequence[str], start_ms: int, end_ms: int) -> tuple[Newest, ...]:
        self._answer()
        return tuple(
            Newest(tags, *max(points)) for tags, points in self._groups(selection, by, start_ms, end_ms)
        )

    def aggregate(
        self, selection: Selection, over: Over, by: Sequence[str], start_ms: int, end_ms: int
    ) -> tuple[Figure, ...]:
        self._answer()
        return tuple(
            Figure(tags, _folded(points, over))
            for tags, points in self._groups(selection, by, start_ms, end_ms)
        )

    def close(self) -> None:
        """Nothing is open."""

    def lines(self) -> list[str]:
        """All points in line protocol, each field on a line of its own; flags are whole numbers."""
        return [
            f"{_plain(measurement)},{_tags_text(tags)} {name}={int(value)}i {at_ms}"
            if name == FLAG_FIELD
            else f"{_plain(measurement)},{_tags_text(tags)} {name}={value!r} {at_ms}"
            for (measurement, name, tags), points in self._series.items()
            for at_ms, value in points.items()
        ]

    def series(
        self, start_ms: int, end_ms: int
    ) -> Iterator[tuple[str, str, dict[str, str], list[tuple[int, float]]]]:
        """Measurement, field, tags and the points within a span of each series that has any."""
        for (measurement, name, tags), values in list(self._series.items()):
            points = sorted((at_ms, value) for at_ms, value in values.items() if start_ms <= at_ms < end_ms)
            if points:
                yield measurement, name, dict(tags), points

    def _answer(self) -> None:
        if self.is_silent:
            raise ArchiveUnreachable("the archive server does not answer")

    def _selected(
        self, selection: Selection, start_ms: int, end_ms: int
    ) -> Iterator[tuple[dict[str, str], list[tuple[int, float]]]]:
        for measurement, name, tags, points in self.series(start_ms, end_ms):
            asked = (measurement, name) == (selection.measurement, selection.field)
            if asked and _fits(tags, selection.tags):
                yield tags, points

    def _groups(
        self, selection: Selection, by: Sequence[str], start_ms: int, end_ms: int
    ) -> list[tuple[dict[str, str], list[tuple[int, float]]]]:
        groups: dict[tuple[str, ...], list[tuple[int, float]]] = defaultdict(list)
        for tags, points in self._selected(selection, start_ms, end_ms):
            groups[tuple(tags.get(name, "") for name in by)] += points
        return [(dict(zip(by, key, strict=True)), points) for key, points in sorted(groups.items())]


def _tags_text(tags: _Tags) -> str:
    return ",".join(f"{name}={_plain(text)}" for name, text in sorted(tags))


def _plain(text: str) -> str:
    return text.replace(",", r"\,").replace("=", r"\=").replace(" ", r"\ ")


def _fits(tags: Mapping[str, str], wanted: Mapping[str, str | Sequence[str]]) -> bool:
    return all(
        tags.get(name, "") in ((allowed,) if isinstance(allowed, str) else allowed)
        for name, allowed in wanted.items()
    )


def _folded(points: list[tuple[int, float]], over: Over) -> float:
    times, values = [at_ms for at_ms, _ in points], [value for _, value in points]
    folds: dict[Over, float] = {
        Over.MINIMUM: min(values),
        Over.MAXIMUM: max(values),
        Over.SUM: sum(values),
        Over.COUNT: len(values),
        Over.FIRST_MS: min(times),
        Over.LAST_MS: max(times),
    }
    return folds[over]
