"""Calibrations with their valid-from times; raw readings stay as they came."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from monitor.model.calibration import held
from monitor.records import Calibration, SensorKey
from monitor.store.connection import Database

_COLUMNS = "node, probe, quantity, valid_from_ms, slope, shift, note, entered_ms"


def coefficients(
    calibrations: Sequence[Calibration], at_ms: NDArray[np.int64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Slope and offset in force at each time, of one sensor's calibrations in the order of their times."""
    slopes = np.array([1.0, *(calibration.slope for calibration in calibrations)])
    offsets = np.array([0.0, *(calibration.offset for calibration in calibrations)])
    starts = np.array([calibration.valid_from_ms for calibration in calibrations], dtype=np.int64)
    places = np.searchsorted(starts, at_ms, side="right")
    return slopes[places], offsets[places]


def applied(
    calibrations: Sequence[Calibration],
    quantity: str,
    at_ms: NDArray[np.int64],
    values: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Raw values of one sensor as its calibrations make them, held within what the quantity can be."""
    slope, offset = coefficients(calibrations, at_ms)
    return held(quantity, slope * values + offset)


class Calibrations:
    """All calibrations ever entered."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def add(self, calibration: Calibration) -> None:
        """Enter a calibration. With the same sensor and valid-from time the one entered last is in force."""
        with self._database.write() as connection:
            connection.execute(
                f"INSERT INTO calibration({_COLUMNS}) VALUES(?, ?, ?, ?, ?, ?, ?, ?)",
                (
                    *(calibration.sensor.node, calibration.sensor.probe, calibration.sensor.quantity),
                    *(calibration.valid_from_ms, calibration.slope, calibration.offset),
                    *(calibration.note, calibration.entered_ms),
                ),
            )

    def every(self) -> tuple[Calibration, ...]:
        """All calibrations of all sensors, each sensor's in the order of their valid-from times."""
        with self._database.read() as connection:
            rows = connection.execute(
                f"SELECT {_COLUMNS} FROM calibration "  # noqa: S608
                "ORDER BY node, probe, quantity, valid_from_ms, calibration_id"
            )
            return tuple(Calibration(SensorKey(*row[:3]), *row[3:]) for row in rows)

    def of(self, sensor: SensorKey) -> tuple[Calibration, ...]:
        """The calibrations of one sensor in the order of their valid-from times."""
        return tuple(calibration for calibration in self.every() if calibration.sensor == sensor)
