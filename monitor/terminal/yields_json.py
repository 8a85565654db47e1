"""The JSON of `yields`: every sum under its own name with its unit, what it lacks, and what lies ahead.

Eggs are in grams, all other masses in kilograms, all wet unless a name says dry. A figure is {value, entries,
lacks [...], sd, basis}; no value is null, never 0.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import fields, is_dataclass
from datetime import tzinfo
from enum import Enum
from typing import Any

from monitor.farm.yields import ClimateSaid, YieldsAhead, YieldsNow, YieldWeek
from monitor.terminal.json_records import Json, time_json
from monitor.terminal.output import plain
from monitor.words.localizer import Localizer
from monitor.words.yields import turned_lines
from monitor.yields.breeding import PrepupaeToKeep
from monitor.yields.cages import CageSum
from monitor.yields.figures import Figure
from monitor.yields.money import Income

_UNITS: Mapping[str, str] = {
    **dict.fromkeys(("eggs", "grams", "egg_uses", "eggs_by_cage", "dead_flies_mass"), "g"),
    **dict.fromkeys(("larvae", "larva_uses", "prepupae", "feed", "residue", "gain", "feed_dry"), "kg"),
    **dict.fromkeys(("gain_dry", "uses"), "kg"),
    **dict.fromkeys(("hatch", "laid_hatch", "emergence", "survival", "reduction", "efficiency"), "ratio"),
    **dict.fromkeys(("bioconversion_wet", "bioconversion_dry"), "ratio"),
    **dict.fromkeys(("conversion_wet", "conversion_dry", "conversion_dry_fresh"), "kg_per_kg"),
    **dict.fromkeys(("index", "growth_rate"), "percent_per_day"),
    **dict.fromkeys(("flies", "females", "dead_flies"), "count"),
    "kept": "for_breeding",
    "days": "from_filling",
}
"""What stands behind a name as its unit; a name that says it already has none."""
_UNITS_OF: Mapping[type, Mapping[str, str]] = {CageSum: {**_UNITS, "uses": "g"}, Income: {}}
"""The same of records whose names count something else: uses of eggs, and money."""


def yields_json(
    now: YieldsNow,
    ahead: YieldsAhead,
    zone: tzinfo,
    kept: PrepupaeToKeep | None,
    promise: Json | None,
    climate: ClimateSaid,
) -> Json:
    """`yields --json`: at, weeks, months, cages, fillings, cohorts, ahead, climate, keep, promise."""
    sums = now.sums
    return {
        "at": time_json(now.now_ms, zone),
        **{name: [_record(each, zone) for each in getattr(sums, name)] for name in _SUMS},
        "ahead": _ahead_json(ahead, zone),
        "climate": _climate_json(climate, zone),
        "keep": None if kept is None else _keep_json(kept, zone),
        "promise": promise,
    }


_SUMS = ("weeks", "months", "cages", "fillings", "cohorts")


def _ahead_json(ahead: YieldsAhead, zone: tzinfo) -> Json:
    eggs, larvae = ahead.eggs, ahead.larvae
    return {
        "cages": [
            {
                "cage": cage,
                "days": _windows(eggs.days(cage), "g", zone),
                "weeks": _windows(eggs.weeks(cage), "g", zone),
                "by_habit": cage in eggs.by_habit,
                "unknown": cage in eggs.unknown,
            }
            for cage in eggs.cages
        ],
        "eggs_weeks": _windows(eggs.weeks(), "g", zone) if eggs.cages else [],
        "eggs_per_female_g": _record(eggs.level, zone),
        "bins": [_record(each, zone) for each in larvae.bins],
        "larvae_weeks": _windows(larvae.weeks, "kg", zone),
        "larvae_kg_per_feed_kg": _record(larvae.conversion, zone),
        "doubted_entries": [_record(each, zone) for each in ahead.doubts],
    }


def _climate_json(said: ClimateSaid, zone: tzinfo) -> Json:
    """Factors of what was taken (0.7: 30 % less) with their 80 % window; costs of the last 30 days."""
    return {
        "compared": [_record(each, zone) for each in said.effects],
        "costs": [
            {
                "made": str(effect.comparison.made),
                "condition": str(effect.comparison.condition),
                **_record(lost, zone),
            }
            for effect, lost in said.costs
        ],
        "limits_offered": [_record(each, zone) for each in said.limits],
        "takings_beside_their_hours": [
            {**_record(each.span, zone), **{k: v for k, v in _record(each, zone).items() if k != "span"}}
            for each in said.beside
        ],
    }


def week_json(week: YieldWeek | None, words: Localizer) -> Json | None:
    """`yields` of `night --json` on a Monday: last and before as weeks of `yields --json`, and its lines."""
    if week is None:
        return None
    before = None if week.before is None else _record(week.before, words.zone)
    ahead = None if week.ahead is None else _ahead_json(week.ahead, words.zone)
    last = _record(week.last, words.zone)
    return {"last": last, "before": before, "ahead": ahead, "lines": turned_lines(week, words)}


def _keep_json(kept: PrepupaeToKeep, zone: tzinfo) -> Json:
    return {
        "eggs_g_per_week": kept.grams_a_week,
        "prepupae_per_week_four_in_five": _rounded(kept.safe),
        "prepupae_per_week_one_in_two": _rounded(kept.even),
        "first_week": time_json(kept.week_ms, zone),
        "set_aside_by_nine_in_ten": time_json(kept.safe_ms, zone),
        "set_aside_by_one_in_two": time_json(kept.even_ms, zone),
    }


def _windows(spans: Sequence[Any], unit: str, zone: tzinfo) -> list[Json]:
    return [
        {
            "from": time_json(each.from_ms, zone),
            "to": time_json(each.to_ms, zone),
            **{f"{name}_{unit}": round(getattr(each, name), 3) for name in ("low", "median", "high")},
        }
        for each in spans
    ]


def promise_json(day_ms: int, grams: float | None, zone: tzinfo) -> Json:
    """What can be promised for a day."""
    return {"day": time_json(day_ms, zone), "eggs_g": None if grams is None else round(grams, 2)}


def _record(record: Any, zone: tzinfo) -> Json:
    """A record with all its fields, each with its unit."""
    found: Json = {}
    units = _UNITS_OF.get(type(record), _UNITS)
    for each in fields(record):
        value = getattr(record, each.name)
        if each.name.endswith("_ms"):
            found[each.name.removesuffix("_ms")] = time_json(value, zone)
        else:
            unit = units.get(each.name)
            found[f"{each.name}_{unit}" if unit else each.name] = _value(value, zone)
    return found


def _value(value: Any, zone: tzinfo) -> Any:
    if isinstance(value, Figure):
        return {
            "value": _rounded(value.value),
            "entries": value.entries,
            "lacks": [str(lack) for lack in value.lacks],
            "sd": _rounded(value.sd),
            "basis": None if value.basis is None else str(value.basis),
        }
    if isinstance(value, Enum):
        return str(value)
    if is_dataclass(value):
        return _record(value, zone)
    if isinstance(value, Mapping):
        return {"not_said" if key is None else str(key): _value(each, zone) for key, each in value.items()}
    return _rounded(value) if isinstance(value, float) else plain(value)


def _rounded(value: float | None) -> float | None:
    return None if value is None or value != value else float(f"{value:.6g}")
