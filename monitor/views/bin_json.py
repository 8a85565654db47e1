"""Bins as plain JSON values, for other programs; every key names its unit. Pure."""

from __future__ import annotations

from datetime import tzinfo
from typing import Any

from monitor.model.moisture_outlook import HoursTo, MoistureOutlook
from monitor.views.bin_queries import BinsView, BinView, HeatView
from monitor.views.spoken_time import iso


def bins_json(view: BinsView, zone: tzinfo) -> dict[str, Any]:
    """Every filled bin."""
    return {"now": iso(view.now_ms, zone), "bins": [_bin(each, zone) for each in view.bins]}


def _bin(view: BinView, zone: tzinfo) -> dict[str, Any]:
    facts = view.fill.facts
    return {
        "place": view.place,
        "title": view.title,
        "filled": iso(facts.filled_ms, zone),
        "filled_kg": facts.wet_kg,
        "filled_moisture": facts.moisture,
        "surface_m2": facts.surface_m2,
        "cohorts": list(view.fill.cohorts),
        "moisture": None if view.outlook is None else _outlook(view.outlook),
        "heat": None if view.heat is None else _heat(view.heat),
        "why_not": view.why_not or None,
    }


def _outlook(found: MoistureOutlook) -> dict[str, Any]:
    return {
        "median": round(found.median, 4),
        "low": round(found.low, 4),
        "high": round(found.high, 4),
        "zone": found.zone.value,
        "finishing": found.finishing,
        "loss_g_h": round(found.loss.median_g_h, 1) if found.loss.resolvable else None,
        "loss_low_g_h": round(found.loss.low_g_h, 1),
        "loss_high_g_h": round(found.loss.high_g_h, 1),
        "to_dry_warning": _hours(found.to_warning),
        "to_dry_limit": _hours(found.to_limit),
        "litres_to_add": round(found.litres, 2),
        "dry_bran_to_add_kg": round(found.bran_kg, 2),
    }


def _hours(ahead: HoursTo | None) -> dict[str, Any] | None:
    """Hours; 240 stands for ten days or more."""
    if ahead is None:
        return None
    return {"median_h": round(ahead.median_h, 1), "earliest_h": round(ahead.earliest_h, 1)}


def _heat(heat: HeatView) -> dict[str, Any]:
    return {
        "substrate_c": round(heat.substrate_c, 2),
        "excess_k": None if heat.excess_k is None else round(heat.excess_k, 2),
        "slope_c_per_h": None if heat.slope_c_per_h is None else round(heat.slope_c_per_h, 2),
        "limit_c": heat.limit_c,
        "minutes_to_limit": None if heat.median_min is None else round(heat.median_min),
        "earliest_minutes_to_limit": None if heat.earliest_min is None else round(heat.earliest_min),
        "heat_made_w_m2": None if heat.made_w_m2 is None else round(heat.made_w_m2),
    }
