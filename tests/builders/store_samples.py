"""Messages and batches for the tests of the store."""

from __future__ import annotations

import math

from monitor.records import (
    Batch,
    Flag,
    FlaggedMessage,
    FlaggedReading,
    NodeMessage,
    Reading,
    SensorKey,
    TimeSource,
)

START_MS = 1_770_000_000_000 // 3_600_000 * 3_600_000
AIR = SensorKey("node-1", "", "air_temperature")
BIN = SensorKey("node-1", "bin1", "substrate_temperature")


def flagged(sensor: SensorKey, at_ms: int, value: float, flag: Flag = Flag.PASS) -> FlaggedReading:
    return FlaggedReading(Reading(sensor, at_ms, value), flag, value if math.isfinite(value) else 0.0)


def message(
    *readings: FlaggedReading,
    node: str = "node-1",
    received_ms: int = START_MS,
    boot: int | None = None,
    sequence: int | None = None,
    clock_fault: str | None = None,
    silence_limit_s: float | None = None,
    skipped: tuple[str, ...] = (),
) -> FlaggedMessage:
    heard = NodeMessage(
        node,
        received_ms,
        tuple(item.reading for item in readings),
        TimeSource.NODE,
        boot,
        sequence,
        clock_fault,
        silence_limit_s,
        skipped,
    )
    return FlaggedMessage(heard, readings)


def batch(*messages: FlaggedMessage, now_ms: int = START_MS, **more: object) -> Batch:
    return Batch(now_ms=now_ms, messages=messages, **more)  # type: ignore[arg-type]
