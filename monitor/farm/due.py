"""What bins, walls and cohorts ask for on a day, worked out of the store when it is first looked at."""

from __future__ import annotations

import logging
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, TypeVar

from monitor.errors import MonitorError, PartFailed
from monitor.records import MS_PER_HOUR, Quantity, SubjectKind
from monitor.settings.plan import Plan
from monitor.store import Store

if TYPE_CHECKING:
    from monitor.climate.surfaces import SurfaceState
    from monitor.farm.bins import BinsView, BinView, MoistureReader
    from monitor.farm.cohorts import ForecastView
    from monitor.farm.place_reader import PlaceReader
    from monitor.farm.records import BinMoisture

log = logging.getLogger(__name__)
Result = TypeVar("Result")

LOOK_BACK_MS = 72 * MS_PER_HOUR
TODAY_H = 24.0
NIGHT_DRAWS = 500
LEAST_LITRES = 0.1
"""A bin that has room for less water is not asked to be watered."""


@dataclass(frozen=True, slots=True)
class DampSurface:
    """The coldest surface of one place, now."""

    title: str
    state: SurfaceState


@dataclass(frozen=True, slots=True)
class DueToday:
    """What a day asks for. Bins and forecast are None where the logbook has none, or an error says why."""

    bins: BinsView | None = None
    bins_error: MonitorError | None = None
    surfaces: tuple[DampSurface, ...] = ()
    forecast: ForecastView | None = None
    forecast_error: MonitorError | None = None
    surfaces_error: MonitorError | None = None


class Outlook:
    """Bins, walls and cohorts of a site at a moment; each is read when it is first looked at.

    `bins` gives the bins where they are kept already; with `known_ms` it is as far as was known then.
    """

    def __init__(
        self,
        store: Store,
        plan: Plan,
        at_ms: int,
        bins: Callable[[], BinsView] | None = None,
        known_ms: int | None = None,
    ) -> None:
        self._store, self._plan, self._at_ms, self._bins = store, plan, at_ms, bins
        self._known_ms = known_ms
        self._moistures: dict[str, BinMoisture | None] = {}

    @cached_property
    def bins(self) -> BinsView | None:
        """The filled bins in the order in which they need water; None where no bin was ever entered."""
        from monitor.farm.bins import bins_view

        if not self._has_bins:
            return None
        return (
            bins_view(self._store, self._plan, self._at_ms, self._known_ms)
            if self._bins is None
            else self._bins()
        )

    @cached_property
    def _has_bins(self) -> bool:
        return bool(self._store.logbook.in_force(SubjectKind.BIN))

    def moisture_of(self, place: str) -> BinMoisture | None:
        """The moisture of a filled bin; None where it is not filled, or cannot be worked out."""
        if place not in self._moistures:
            self._moistures[place], _ = _attempt(lambda: self._moisture_of(place))
        return self._moistures[place]

    def _moisture_of(self, place: str) -> BinMoisture | None:
        """From the bins where they are kept; else alone, since looking ahead takes most of their time."""
        if self._bins is None and self._known_ms is None:
            return self._moisture_reader.of(place) if self._has_bins else None
        view = None if self.bins is None else self.bins.of(place)
        return None if view is None else view.moisture

    @cached_property
    def _moisture_reader(self) -> MoistureReader:
        from monitor.farm.bins import MoistureReader

        return MoistureReader(self._store, self._plan, self._at_ms)

    @cached_property
    def forecast(self) -> ForecastView | None:
        """The living cohorts with what is due; None where no cohort was ever entered."""
        from monitor.farm.cohorts import forecast_view

        entered = self._store.logbook.newest_id()
        if not entered:
            return None
        return forecast_view(self._store, self._plan, self._at_ms, NIGHT_DRAWS, self._known_ms)

    @cached_property
    def surfaces(self) -> tuple[DampSurface, ...]:
        """The surfaces of all places of which a surface is measured, or said to be so much colder."""
        from monitor.farm.place_reader import PlaceReader

        reader = PlaceReader(self._store, self._plan, self._at_ms)
        states = (
            (self._plan.title(place.id), _surface(reader, self._plan, place.id))
            for place in self._plan.settings.places
            if not place.empty
        )
        return tuple(DampSurface(title, state) for title, state in states if state is not None)

    def today(self) -> DueToday:
        """All of it, with the error in place of what cannot be worked out."""
        bins, bins_error = _attempt(lambda: self.bins)
        forecast, forecast_error = _attempt(lambda: self.forecast)
        surfaces, surfaces_error = _attempt(lambda: self.surfaces)
        return DueToday(bins, bins_error, surfaces or (), forecast, forecast_error, surfaces_error)


def _attempt(work: Callable[[], Result]) -> tuple[Result | None, MonitorError | None]:
    """What a part gives, or why it gives nothing: one that fails must not end the others."""
    try:
        return work(), None
    except MonitorError as error:
        return None, error
    except Exception as error:
        log.exception("a part of what a day asks for could not be worked out")
        return None, PartFailed(error)


def _surface(reader: PlaceReader, plan: Plan, place: str) -> SurfaceState | None:
    import numpy as np

    from monitor.climate.surfaces import surface_state

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


def needs_water_today(view: BinView) -> bool:
    """Whether it may fall below the dry warning within a day, and has room for water."""
    moisture = view.outlook
    if moisture is None or moisture.to_warning is None or view.bands is None:
        return False
    return moisture.litres >= LEAST_LITRES and moisture.to_warning.earliest_h < TODAY_H


NOTHING_TO_KEEP = "no_forecasts"


def keep_todays_forecasts(store: Store, plan: Plan, now_ms: int) -> int:
    """Keep the day's forecasts unless that was done; gives how many. Call it as often as you like.

    Where there is nothing to keep that is remembered until the day or the logbook changes, since finding it
    out takes a forecast.
    """
    from monitor.farm.cohorts import keep_forecasts
    from monitor.farm.development import develop, local_day

    day, newest = local_day(now_ms, plan), store.logbook.newest_id()
    mark = f"{day} {newest}"
    if store.forecasts.has(day) or not newest or store.meta.get(NOTHING_TO_KEEP) == mark:
        return 0
    kept = keep_forecasts(store, develop(store, plan, now_ms))
    if not kept:
        store.meta.put(NOTHING_TO_KEEP, mark)
    return kept
