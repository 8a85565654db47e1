"""A message that comes again and was dated by its arrival: its readings are stored once all the same.

Readings with the node's own time meet themselves in the table. Relative ones come with another time each
time that they arrive, so they are looked for where the first arrival put them. A board whose boot number
does not count up looks the same after each of its starts; therefore only what the broker marks as delivered
again, or what follows within minutes, is judged so, and only equal values.
"""

from __future__ import annotations

from monitor.records import MS_PER_MINUTE, FlaggedMessage, FlaggedReading, TimeSource
from monitor.store.reading_writer import ReadingWriter

SOON_MS = 10 * MS_PER_MINUTE


def unknown_ones(
    flagged: FlaggedMessage, before_ms: int | None, readings: ReadingWriter
) -> tuple[FlaggedReading, ...]:
    """The readings of a message that are to be stored; `before_ms` is its first arrival, None without one."""
    message = flagged.message
    if before_ms is None or message.time_source is TimeSource.NODE:
        return flagged.readings
    passed_ms = message.received_ms - before_ms
    if not message.redelivered and not 0 <= passed_ms <= SOON_MS:
        return flagged.readings
    newest_ms = max((item.reading.at_ms for item in flagged.readings), default=0)
    # As it is dated now, as its first arrival would date it, and with its newest reading at that arrival.
    shifts_ms = (0, -passed_ms, before_ms - newest_ms)
    return tuple(item for item in flagged.readings if not readings.has_near(item, shifts_ms))
