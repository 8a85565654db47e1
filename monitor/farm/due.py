"""What the night report says of cohorts: what is due, who is ahead or behind, what to look for today.

Walls and lids of places: how long each has been damp, by its own probe or by how much colder it is.

What the night report says of bins: what to water today and in which order, and walls that stay damp.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import tzinfo

import numpy as np

from monitor.bins.outlook import MoistureOutlook
from monitor.bins.substrate import Zone
from monitor.climate.surfaces import MOULD_HOURS, MOULD_HUMIDITY_PERCENT, SurfaceState, surface_state
from monitor.errors import MonitorError
from monitor.farm.bins import BinReader, BinView, bins_view
from monitor.farm.cohorts import ForecastView, forecast_view, keep_forecasts
from monitor.farm.development import develop, local_day
from monitor.farm.records import NightSection
from monitor.records import MS_PER_HOUR, Quantity, SubjectKind
from monitor.settings.plan import Plan
from monitor.store import Store
from monitor.words.bins import LEAST_LITRES, ZONE_WORDS, hours, kilograms, litres, percent
from monitor.words.cohorts import ask_words, due_words, warnings
from monitor.words.phrases import clock_time

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


TODAY_H = 24.0


def bin_sections(store: Store, plan: Plan, at_ms: int) -> tuple[NightSection, ...]:
    """The sections of the report as they were on that morning; none where there is nothing to say."""
    found = (
        NightSection("Bins to water today, in this order", _watering(store, plan, at_ms)),
        NightSection("Walls and lids", tuple(_damp(surfaces_of(store, plan, at_ms)))),
    )
    return tuple(section for section in found if section.lines)


def _watering(store: Store, plan: Plan, at_ms: int) -> tuple[str, ...]:
    if not store.logbook.in_force(SubjectKind.BIN):
        return ()
    try:
        view = bins_view(store, plan, at_ms)
    except MonitorError as error:
        return (f"- cannot be worked out: {error}",)
    lines = [line for each in view.bins for line in need_lines(each, plan.zone)]
    return tuple(lines) or (("- none needs water before tomorrow",) if view.bins else ())


def need_lines(view: BinView, zone: tzinfo) -> Iterator[str]:
    """What one bin needs today, as a line; nothing where it needs nothing."""
    found = view.outlook
    if found is None:
        yield f"- {view.title}: not known, {view.why_not}"
    elif view.bands is None or found.finishing:
        return
    elif found.zone in (Zone.WET, Zone.TOO_WET):
        bran = kilograms(found.bran_kg)
        yield f"- {view.title}: {ZONE_WORDS[found.zone]} ({percent(found.median)}), mix in {bran} of dry bran"
    elif needs_water_today(view):
        when = _when(found, view.now_ms, zone)
        band = f"{percent(found.median)}, {percent(found.low)} to {percent(found.high)}"
        yield f"- {view.title}: {litres(found.litres)}, {when} ({band})"


def needs_water_today(view: BinView) -> bool:
    """Whether it may fall below the dry warning within a day, and has room for water."""
    found = view.outlook
    if found is None or found.to_warning is None or view.bands is None or found.litres < LEAST_LITRES:
        return False
    return found.to_warning.earliest_h < TODAY_H


def _when(found: MoistureOutlook, now_ms: int, zone: tzinfo) -> str:
    if found.to_limit is None or found.to_warning is None or found.zone is Zone.TOO_DRY:
        return "now: it is too dry"
    if found.to_limit.earliest_h <= 0.0:
        return "now: it may be too dry already"
    if found.to_limit.earliest_h < TODAY_H:
        by = clock_time(now_ms + round(found.to_limit.earliest_h * MS_PER_HOUR), now_ms, zone)
        return f"before {by}: it may be too dry then"
    return f"too dry in {hours(found.to_limit.earliest_h)} at the earliest"


def _damp(surfaces: tuple[DampSurface, ...]) -> Iterator[str]:
    for each in surfaces:
        state = each.state
        if state.condenses:
            yield f"- {each.title}: water condenses on its coldest surface; wipe it dry, move the air"
        if state.mould_caution:
            limit = f"{MOULD_HUMIDITY_PERCENT:.0f} %RH or more for {state.damp_hours:.0f} h"
            grows = f"mould may grow from {MOULD_HOURS:.0f} h on"
            yield f"- {each.title}: coldest surface at {limit}, {grows}; air it, wipe it, warm it"


NIGHT_DRAWS = 500
MOST_DUE = 12


def cohort_sections(store: Store, plan: Plan, at_ms: int) -> tuple[NightSection, ...]:
    """The sections of the report as they were on that morning; none where the logbook has no cohort."""
    if not store.logbook.every(SubjectKind.COHORT):
        return ()
    try:
        view = forecast_view(store, plan, at_ms, NIGHT_DRAWS)
    except MonitorError as error:
        return (NightSection("Cohorts", (f"- no forecast: {error}",)),)
    found = (
        NightSection("Cohorts today", tuple(_today(view, plan))),
        NightSection("Cohorts this week", tuple(_week(view, plan))),
    )
    return tuple(section for section in found if section.lines)


def _today(view: ForecastView, plan: Plan) -> Iterator[str]:
    for due in view.today:
        yield f"- {due_words(due, plan.zone)}"
    for due in view.overdue:
        yield f"- not entered yet: {due_words(due, plan.zone)}"
    for cohort in view.cohorts:
        for warning in warnings(cohort, plan.zone):
            yield f"- {cohort.cohort.name}: {warning}"
    if view.ask is not None:
        yield f"- {ask_words(view, plan.zone)}"


def _week(view: ForecastView, plan: Plan) -> Iterator[str]:
    for due in view.week[:MOST_DUE]:
        yield f"- {due_words(due, plan.zone)}"
    if len(view.week) > MOST_DUE:
        yield f"- and {len(view.week) - MOST_DUE} more: `rearing-monitor forecast`"


def keep_todays_forecasts(store: Store, plan: Plan, now_ms: int) -> int:
    """Keep the day's forecasts unless that was done; gives how many. Call it as often as you like."""
    if store.forecasts.has(local_day(now_ms, plan)) or not store.logbook.every(SubjectKind.COHORT):
        return 0
    return keep_forecasts(store, develop(store, plan, now_ms))
