"""Reads the archive back and compares it with the store: an answer that says "taken" proves nothing.

Every reading is compared once, window by window, as soon as its hour is over and nothing of it waits any
more. What is not there is sent again; what is not there after that either is said, and looked for again each
day.
"""

from __future__ import annotations

import time
import zlib
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace

import numpy as np

from monitor.archive.reader import ArchiveReader, SensorReadings
from monitor.errors import MonitorError
from monitor.records import MS_PER_DAY, MS_PER_HOUR, MS_PER_MINUTE, SensorKey
from monitor.store.archive_queue import ArchiveQueue
from monitor.store.readings import Readings, Series

WINDOW_MS = 3 * MS_PER_HOUR
"""Own choice: what 100 boards send in it is compared in a fraction of a second."""
MARGIN_MS, SPREAD_MS = 2 * MS_PER_MINUTE, 20 * MS_PER_MINUTE
"""Own choices: so long after the hour at least, and some minutes more that each site has of its own:
thousands of them share a server."""
AGAIN_S, UNREADABLE_S, MONTH_MS = 86_400.0, 3600.0, 30 * MS_PER_DAY
"""After a day what is missing is looked for again, after as many days as it spans months; an archive that
could not be read after an hour. Own choices."""
EARLY_MS = 7 * MS_PER_DAY
"""Own choice: where an archive holds nothing at all of older days, it is younger than these or keeps less."""
CLOSE = 1e-9
"""Relative difference up to which two values are the same: a server may keep decimals."""

Missing = Mapping[SensorKey, Sequence[int]]
Span = tuple[int, int]


class ReadBack:
    """Goes over the stored readings once, and over what was missing again; each step is one window."""

    def __init__(
        self,
        queue: ArchiveQueue,
        readings: Readings,
        open_reader: Callable[[], ArchiveReader],
        site: str,
        steady_s: Callable[[], float] = time.monotonic,
        spread_ms: int = SPREAD_MS,
    ) -> None:
        self._margin_ms = MARGIN_MS + zlib.crc32(site.encode()) % max(1, spread_ms)
        self._queue, self._readings, self._site = queue, readings, site
        self._open_reader, self._steady_s = open_reader, steady_s
        self._reader: ArchiveReader | None = None
        self._proof = queue.proof()
        begins_ms, checked_ms = self._proof.begins_ms, self._proof.checked_ms
        # Before the first window that holds anything: what is missing there may be older than the archive.
        self._is_leading = checked_ms is None or checked_ms == begins_ms
        self._sent_again: Span | None = None
        self._missed = 0
        self._rest_until_s = float("-inf")
        self._look_again_s = steady_s() + AGAIN_S

    def came_late(self, times_ms: Iterable[int]) -> None:
        """Readings of these times have been sent: what was compared already is compared again."""
        again, checked_ms = self._sent_again, self._proof.checked_ms
        others = (at_ms for at_ms in times_ms if again is None or not again[0] <= at_ms < again[1])
        oldest_ms = min(others, default=None)
        if oldest_ms is not None and checked_ms is not None and oldest_ms < checked_ms:
            self._is_leading = True
            self._go_back(oldest_ms)

    def _go_back(self, at_ms: int) -> None:
        """Compare from a moment on again; what is missing is counted anew, from its beginning."""
        proof = self._proof
        if (
            proof.missing_from_ms is not None
            and proof.missing_to_ms is not None
            and at_ms <= proof.missing_to_ms
        ):
            at_ms, self._is_leading = min(at_ms, proof.missing_from_ms), False
            self._keep(missing=0, missing_from_ms=None, missing_to_ms=None)
        self._keep(checked_ms=at_ms - at_ms % MS_PER_HOUR)

    def step(self, now_ms: int) -> bool:
        """Compare the next window, where there is one; says whether there is more to do at once."""
        if self._steady_s() < self._rest_until_s or not self._is_due(now_ms):
            return False
        span = self._next(now_ms)
        if span is None:
            return False
        try:
            return self._look(span, now_ms)
        except MonitorError as error:
            self.close()
            self._rest_until_s = self._steady_s() + UNREADABLE_S
            self._keep(unreadable=error.said)
            return False

    def close(self) -> None:
        """Close the way to the archive, which is opened again when it is needed."""
        if self._reader is not None:
            self._reader.close()
            self._reader = None

    def _is_due(self, now_ms: int) -> bool:
        """Whether there is anything to compare: found out without a look at the store."""
        proof = self._proof
        if proof.missing_from_ms is not None and self._steady_s() >= self._look_again_s:
            self._go_back(proof.missing_from_ms)
        checked_ms = self._proof.checked_ms
        return checked_ms is None or checked_ms > now_ms or self._is_over(checked_ms, now_ms)

    def _is_over(self, checked_ms: int, now_ms: int) -> bool:
        """Whether an hour is over behind what was compared."""
        return now_ms - self._margin_ms - checked_ms >= MS_PER_HOUR

    def _next(self, now_ms: int) -> Span | None:
        stored = self._queue.span_ms()
        if stored is None:
            return None
        kept_ms = self._queue.oldest_kept_ms()
        ready_ms = min(now_ms - self._margin_ms, now_ms if kept_ms is None else kept_ms)
        ready_ms -= ready_ms % MS_PER_HOUR
        first_ms = self._proof.checked_ms
        if first_ms is None or first_ms > now_ms:
            first_ms = stored[0] - stored[0] % MS_PER_HOUR
        return (first_ms, min(first_ms + WINDOW_MS, ready_ms)) if ready_ms > first_ms else None

    def _look(self, span: Span, now_ms: int) -> bool:
        stored = self._stored(span)
        if not stored:
            self._go_on(span, now_ms)
            return True
        if self._reader is None:
            self._reader = self._open_reader()
        found = {each.sensor: each for each in self._reader.readings(self._site, *span, list(stored))}
        if self._proof.unreadable is not None:
            self._keep(unreadable=None)
        missing = _missing(stored, found)
        if missing and self._is_leading and span[1] < now_ms - EARLY_MS:
            missing = self._without_what_is_older(span, missing, found)
        if missing and self._sent_again != span:
            self._send_again(span, missing, now_ms)
            return True
        self._is_leading &= not found
        self._judge(missing, now_ms)
        self._go_on(span, now_ms)
        return False

    def _stored(self, span: Span) -> dict[SensorKey, Series]:
        """What should be there, of each sensor that has any of it; what is parked is known not to be."""
        parked = self._queue.parked_times(*span)
        stored = {}
        for sensor in self._readings.sensors():
            series = self._readings.series(sensor, *span)
            keep = np.isfinite(series.value)
            if parked:
                keep &= ~np.isin(series.at_ms, [at_ms for key, at_ms in parked if key == sensor])
            if keep.any():
                stored[sensor] = Series(series.at_ms[keep], series.value[keep], series.flag[keep])
        return stored

    def _without_what_is_older(
        self, span: Span, missing: Missing, found: Mapping[SensorKey, SensorReadings]
    ) -> Missing:
        """Less what is from before all that the archive holds: it is younger than that, or keeps no more.

        Believed of the first window only after it was sent again.
        """
        if self._sent_again != span and self._proof.begins_ms != span[0]:
            return missing
        begins_ms = min((int(each.at_ms[0]) for each in found.values()), default=span[1])
        self._keep(begins_ms=begins_ms)
        newer = {
            sensor: [at_ms for at_ms in times if at_ms >= begins_ms] for sensor, times in missing.items()
        }
        return {sensor: times for sensor, times in newer.items() if times}

    def _send_again(self, span: Span, missing: Missing, now_ms: int) -> None:
        self._sent_again, self._missed = span, sum(len(times) for times in missing.values())
        for sensor, times_ms in missing.items():
            self._queue.put_again(sensor, times_ms, now_ms)

    def _judge(self, missing: Missing, now_ms: int) -> None:
        """Note what the second sending has filled, and what it has not."""
        count, proof = sum(len(times) for times in missing.values()), self._proof
        if self._sent_again is not None:
            self._keep(filled=proof.filled + max(0, self._missed - count))
        if not count:
            return
        first_ms = min(min(times) for times in missing.values())
        last_ms = max(max(times) for times in missing.values())
        self._keep(
            missing=proof.missing + count,
            missing_since_ms=now_ms if proof.missing_since_ms is None else proof.missing_since_ms,
            missing_from_ms=min(
                first_ms, first_ms if proof.missing_from_ms is None else proof.missing_from_ms
            ),
            missing_to_ms=max(last_ms, last_ms if proof.missing_to_ms is None else proof.missing_to_ms),
        )

    def _go_on(self, span: Span, now_ms: int) -> None:
        """The window is dealt with; after the last one it is known what is missing."""
        self._sent_again, self._missed = None, 0
        self._keep(checked_ms=span[1])
        if self._is_over(span[1], now_ms):
            return
        proof = self._proof
        if proof.missing_from_ms is None or proof.missing_to_ms is None:
            self._keep(missing_since_ms=None)
        else:
            months = (proof.missing_to_ms - proof.missing_from_ms) / MONTH_MS
            self._look_again_s = self._steady_s() + AGAIN_S * max(1.0, months)

    def _keep(self, **changes: object) -> None:
        proof = replace(self._proof, **changes)  # type: ignore[arg-type]
        if proof != self._proof:
            self._queue.keep_proof(proof)
            self._proof = proof


def _missing(stored: Mapping[SensorKey, Series], found: Mapping[SensorKey, SensorReadings]) -> Missing:
    """The times of the readings that are not there as they are stored, by sensor."""
    missing = {sensor: _not_there(series, found.get(sensor)) for sensor, series in stored.items()}
    return {sensor: times for sensor, times in missing.items() if times}


def _not_there(series: Series, found: SensorReadings | None) -> list[int]:
    if found is None or not len(found):
        return [int(at_ms) for at_ms in series.at_ms]
    places = np.minimum(np.searchsorted(found.at_ms, series.at_ms), len(found) - 1)
    same = found.at_ms[places] == series.at_ms
    same &= np.isclose(found.value[places], series.value, rtol=CLOSE, atol=CLOSE)
    same &= found.flag[places] == series.flag
    return [int(at_ms) for at_ms in series.at_ms[~same]]
