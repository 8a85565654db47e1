"""A farm with three days of readings of a room and a bin, for tests of bins."""

from __future__ import annotations

import math

from cli_farm import AIR, BIN, HUMIDITY, Farm, message, now_ms, reading

from monitor.records import Batch, SensorKey

STEP_MS = 10 * 60_000
DAY_MS = 86_400_000
MOISTURE = SensorKey("node-02", "", "substrate_moisture")


def swing(since_ms: int) -> float:
    """The daily swing of the air, from -1 to 1; at 0 it passes its mean and rises."""
    return math.sin(2 * math.pi * since_ms / DAY_MS)


def put_days(farm: Farm, days: float = 3.0, *, end_ms: int | None = None, substrate_c: float = 30.0) -> int:
    """Readings every ten minutes: room 27 ± 3 °C and 55 ∓ 10 %RH, bin steady; gives the end.

    The swing is tied to the end, so that a test sees the same air at every hour of the machine's clock.
    """
    end = now_ms() if end_ms is None else end_ms
    times = range(end - round(days * DAY_MS), end + 1, STEP_MS)
    messages = []
    for at in times:
        share = swing(at - end)
        air = (reading(AIR, at, 27.0 + 3.0 * share), reading(HUMIDITY, at, 55.0 - 10.0 * share))
        messages += [message(*air), message(reading(BIN, at, substrate_c))]
    with farm.store() as store:
        store.commit(Batch(end, tuple(messages)))
    return end
