"""What the night report says of bins: what to water today and in which order, and walls that stay damp."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import tzinfo

from monitor.errors import MonitorError
from monitor.model.moisture_outlook import MoistureOutlook
from monitor.model.substrate import Zone
from monitor.model.surfaces import MOULD_HOURS, MOULD_HUMIDITY_PERCENT
from monitor.notify.phrases import clock_time
from monitor.records import MS_PER_HOUR, SubjectKind
from monitor.settings.plan import Plan
from monitor.store import Store
from monitor.views.bin_queries import BinView, bins_view
from monitor.views.bin_words import LEAST_LITRES, ZONE_WORDS, hours, kilograms, litres, percent
from monitor.views.damp_surfaces import DampSurface, surfaces_of
from monitor.views.view_records import NightSection

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
