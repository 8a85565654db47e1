"""Walls and lids of places: how long each has been damp, by its own probe or by how much colder it is."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from monitor.model.surfaces import SurfaceState, surface_state
from monitor.records import MS_PER_HOUR, Quantity
from monitor.settings.plan import Plan
from monitor.store import Store
from monitor.views.bin_climate import BinReader

LOOK_BACK_MS = 72 * MS_PER_HOUR


@dataclass(frozen=True, slots=True)
class DampSurface:
    """The coldest surface of one place, now."""

    title: str
    state: SurfaceState


def surfaces_of(store: Store, plan: Plan, at_ms: int) -> tuple[DampSurface, ...]:
    """The surfaces of all places of which a surface is measured, or said to be so much colder."""
    reader = BinReader(store, plan, at_ms)
    found = []
    for place in plan.settings.places:
        state = None if place.empty else _surface(reader, plan, place.id)
        if state is not None:
            found.append(DampSurface(plan.title(place.id), state))
    return tuple(found)


def _surface(reader: BinReader, plan: Plan, place: str) -> SurfaceState | None:
    start_ms = reader.now_ms - LOOK_BACK_MS
    air = reader.hours(place, Quantity.AIR_TEMPERATURE, start_ms)
    humid = reader.hours(place, Quantity.AIR_HUMIDITY, start_ms)
    surface = reader.hours(place, Quantity.SURFACE_TEMPERATURE, start_ms)
    colder_k = plan.surface_colder_by_k(place)
    if not len(surface[0]) and colder_k is not None:
        surface = air[0], air[1] - colder_k
    times, at_air, at_humid = np.intersect1d(air[0], humid[0], return_indices=True)
    times, here, at_surface = np.intersect1d(times, surface[0], return_indices=True)
    if not len(times):
        return None
    values = air[1][at_air][here], humid[1][at_humid][here], surface[1][at_surface]
    percent = np.clip(values[1], 0.0, 100.0)
    return surface_state(times.tolist(), values[0].tolist(), percent.tolist(), values[2].tolist())
