"""The bins of the demo farm in the logbook: filled on the morning of the start, then what the keeper does.

Masses, moistures and ages are those of the simulated bins, their surface that of the simulation. Invented.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from types import TracebackType
from typing import Self

from monitor.demo.cohort_life import KEEPER
from monitor.demo.layout import BOARDS
from monitor.demo.nature import BIN_FILLS, BIN_PLANS, Deed
from monitor.model.bin_records import BinEntryKind
from monitor.model.probe_calibration import CalibrationPoint
from monitor.records import MS_PER_DAY, MS_PER_MINUTE, LogbookEntry, Quantity, SensorKey, SubjectKind
from monitor.settings.schema import Settings
from monitor.store import Store
from monitor.views.probe_queries import RAW_AIR, RAW_WATER, calibration_entry

FILLED_BEFORE_MS = 30 * MS_PER_MINUTE
CALIBRATED_BEFORE_MS = 20 * MS_PER_DAY
LARVAE: Mapping[str, int] = {"bin-6": 800}
USUAL_LARVAE = 2500
OVEN_SD = 0.012
DEPTH_M, PROBE_DEPTH_M = 0.08, 0.03
MORNING_NOTE = "put into a clean box on the scale, a handful oven-dried"
PROBE_POINTS = ((0.40, 0.41), (0.52, 0.50), (0.63, 0.64), (0.74, 0.73))
"""What the probes said, and the oven: four handfuls. Invented."""
NOT_CALIBRATED = "bin-2"


def write_bins(settings: Settings, start_ms: int) -> int:
    """Write fillings and probe calibrations into the store before the demo; gives how many."""
    entries = [*_calibrations(start_ms), *_fillings(start_ms)]
    with Store.open(settings.store.path) as store:
        store.logbook.add_all(entries)
    return len(entries)


def _fillings(start_ms: int) -> Iterator[LogbookEntry]:
    at_ms = start_ms - FILLED_BEFORE_MS
    for name, (water_kg, dry_kg, age_days) in BIN_FILLS.items():
        body = {
            "kg": round(water_kg + dry_kg, 2),
            "moisture": round(water_kg / (water_kg + dry_kg), 3),
            "moisture_sd": OVEN_SD,
            "surface_m2": BIN_PLANS[name].surface_m2,
            "depth_m": DEPTH_M,
            "probe_depth_m": PROBE_DEPTH_M,
            "fan": BIN_PLANS[name].fan,
            "larvae": LARVAE.get(name, USUAL_LARVAE),
            "age_days": age_days,
            "note": MORNING_NOTE,
        }
        yield _entry(name, BinEntryKind.FILL, at_ms, body)


def _entry(place: str, kind: BinEntryKind, at_ms: int, body: Mapping[str, object]) -> LogbookEntry:
    return LogbookEntry(SubjectKind.BIN, place, kind, at_ms, at_ms, KEEPER, body)


def _calibrations(start_ms: int) -> Iterator[LogbookEntry]:
    at_ms = start_ms - CALIBRATED_BEFORE_MS
    points = tuple(CalibrationPoint(raw, moisture) for raw, moisture in PROBE_POINTS)
    for board in BOARDS:
        for sensor in board.sensors:
            if sensor.quantity is Quantity.SUBSTRATE_MOISTURE and sensor.place != NOT_CALIBRATED:
                key = SensorKey(board.id, sensor.probe, sensor.quantity)
                yield calibration_entry(key, points, (RAW_AIR, RAW_WATER), at_ms, at_ms, KEEPER)[0]


class BinDiary:
    """Writes what the keeper does while the demo plays, beside the service that reads it."""

    def __init__(self, database: Path) -> None:
        self._store = Store.open(database, check=False)

    def write(self, deeds: Sequence[Deed]) -> None:
        """One entry for each deed, at its time."""
        if deeds:
            self._store.logbook.add_all(_of_deed(deed) for deed in deeds)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._store.close()


def _of_deed(deed: Deed) -> LogbookEntry:
    body = {"kg": deed.kg} if deed.kg > 0.0 else {}
    return _entry(deed.place, BinEntryKind(deed.what), deed.at_ms, body)
