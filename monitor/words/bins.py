"""One bin, and all bins, as plain text. Pure: no clock, no I/O.

Words for bins: amounts, moistures, hours ahead, entries of the logbook. Pure.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import tzinfo

from monitor.bins.outlook import HORIZON_H, HoursTo, MoistureOutlook
from monitor.bins.probe import ProbeState
from monitor.bins.substrate import MoistureBands, Zone
from monitor.climate.trend import HORIZON_MIN
from monitor.farm.bins import BinsView, BinView, HeatView, ProbeView
from monitor.records import MS_PER_HOUR, MS_PER_MINUTE
from monitor.words.phrases import clock_time, entry, length_of_time, moment

ZONE_WORDS: Mapping[Zone, str] = {
    Zone.TOO_DRY: "too dry",
    Zone.DRY: "dry",
    Zone.RIGHT: "right",
    Zone.WET: "wet",
    Zone.TOO_WET: "too wet",
}
HOURS_AS_DAYS_FROM = 72.0
LEAST_LITRES = 0.1


def litres(kg: float) -> str:
    """ "1.4 litres", "0.25 litres", "1 litre"."""
    text = f"{kg:.2f}".rstrip("0").rstrip(".") if kg < 1.0 else f"{kg:.1f}".removesuffix(".0")
    return f"{text} {'litre' if text == '1' else 'litres'}"


def kilograms(kg: float) -> str:
    """ "800 g", "1.3 kg", "10.6 kg"."""
    if kg < 1.0:
        return f"{1000.0 * kg:.0f} g"
    return f"{kg:.2f}".rstrip("0").rstrip(".") + " kg"


def thousands(count: float) -> str:
    """ "10 000"."""
    return f"{count:,.0f}".replace(",", " ")


def percent(share: float) -> str:
    """ "62 %"."""
    return f"{100.0 * share:.0f} %"


def hours(length_h: float) -> str:
    """ "less than an hour", "9 h", "4 days"; "10 days or more" for what lies beyond."""
    if length_h >= HORIZON_H:
        return "10 days or more"
    if length_h < 1.0:
        return "less than an hour"
    return f"{length_h:.0f} h" if length_h < HOURS_AS_DAYS_FROM else f"{length_h / 24.0:.0f} days"


def until(ahead: HoursTo, now_ms: int, zone: tzinfo) -> str:
    """ "in about 38 h, at the earliest in 22 h (Thu 14:00)"."""
    if ahead.is_beyond:
        return "not within 10 days"
    if ahead.median_h <= 0.0:
        return "passed"
    early = f"at the earliest in {hours(ahead.earliest_h)}"
    if ahead.earliest_h < HOURS_AS_DAYS_FROM:
        early += f" ({clock_time(now_ms + round(ahead.earliest_h * MS_PER_HOUR), now_ms, zone)})"
    if ahead.earliest_h <= 0.0:
        early = "perhaps now"
    middle = hours(ahead.median_h)
    return (
        f"in {middle if ahead.median_h < 1.0 or ahead.median_h >= HORIZON_H else 'about ' + middle}, {early}"
    )


def advice_words(found: MoistureOutlook, bands: MoistureBands) -> str:
    """Numbers for a message: litres or bran, and how long there is."""
    target = percent(bands.target)
    if found.zone in (Zone.WET, Zone.TOO_WET):
        return f"{kilograms(found.bran_kg)} of dry bran bring it down to {target}."
    if found.to_limit is None or found.litres < LEAST_LITRES:
        return ""
    dose = f"About {litres(found.litres)} bring it back to {target}."
    left_h = found.to_limit.median_h
    return f"{dose} " + (
        "It is too dry already." if left_h <= 0.0 else f"Most likely too dry in {hours(left_h)}."
    )


STEADY_C_PER_H = 0.05
WIDE_LOG_SD = 0.25
HEAT_ADVICE = (
    "Spread it thinner, stir it, open the cover and hold the next feed back. A fan may help: keep it, its "
    "lead and its plug dry and off the wet floor."
)


def bin_lines(view: BinView, zone: tzinfo, width: int) -> Iterator[str]:
    """Everything about one bin."""
    yield from entry("", _head(view, zone), width)
    yield from _moisture_lines(view, zone, width)
    if view.heat is not None:
        yield from entry("  Heat: ", _heat_words(view.heat), width, 4)
        if _is_hot(view.heat):
            yield from entry("  Do: ", HEAT_ADVICE, width, 4)
    if view.probe is not None:
        yield from entry("  Moisture probe: ", _probe_words(view.probe), width, 4)


def _head(view: BinView, zone: tzinfo) -> str:
    facts = view.fill.facts
    lasted = length_of_time(view.now_ms - facts.filled_ms)
    larvae = facts.larvae
    inside = "" if larvae is None else f", {thousands(larvae.count)} larvae"
    of = f" of {', '.join(view.fill.cohorts)}" if view.fill.cohorts else ""
    return (
        f"{view.title} ({view.place}), filled {moment(facts.filled_ms, zone)} ({lasted} ago): "
        f"{kilograms(facts.wet_kg)} {facts.substrate.name.replace('_', ' ')} at {percent(facts.moisture)}, "
        f"{facts.surface_m2:.2f} m²{inside}{of}"
    )


def _moisture_lines(view: BinView, zone: tzinfo, width: int) -> Iterator[str]:
    found = view.outlook
    if found is None:
        yield from entry("  Moisture: ", f"cannot be worked out, {view.why_not}", width, 4)
        return
    words = "" if view.bands is None else f": {ZONE_WORDS[found.zone]}"
    band = f"{percent(found.median)} ({percent(found.low)} to {percent(found.high)})"
    yield from entry("  Moisture now: ", f"{band}{words}", width, 4)
    yield from entry("  Losing: ", _loss_words(found), width, 4)
    if view.bands is not None:
        yield from _limit_lines(view, found, view.bands, zone, width)
    yield from (line for text in _remarks(view, found) for line in entry("  ", text, width, 4))


def _loss_words(found: MoistureOutlook) -> str:
    if not found.loss.resolvable:
        return f"{found.loss} (the air is too damp to tell more)"
    if found.loss.high_g_h < 0.0:
        return f"nothing; {-found.loss.median_g_h:.0f} g/h condense on it"
    return str(found.loss)


def _limit_lines(
    view: BinView, found: MoistureOutlook, bands: MoistureBands, zone: tzinfo, width: int
) -> Iterator[str]:
    if found.finishing:
        yield "  Finishing: it is dried on purpose and does not alarm as too dry"
        return
    for name, limit, ahead in (
        ("Dry warning", bands.dry_warning, found.to_warning),
        ("Dry limit", bands.dry_limit, found.to_limit),
    ):
        if ahead is not None:
            told = until(ahead, view.now_ms, zone)
            yield from entry(f"  {name} ({percent(limit)}): ", told, width, 4)
    yield from entry("  Water: ", dose_words(found, bands), width, 4)


def dose_words(found: MoistureOutlook, bands: MoistureBands) -> str:
    """What to add now: litres, dry bran, or nothing."""
    target = percent(bands.target)
    if found.zone in (Zone.WET, Zone.TOO_WET):
        return f"too much; mix in {kilograms(found.bran_kg)} of dry bran to come down to {target}"
    if found.litres < LEAST_LITRES:
        return "none needed"
    return (
        f"{litres(found.litres)} bring it back to {target}; add it in portions and stir, stop before it pools"
    )


def _remarks(view: BinView, found: MoistureOutlook) -> Iterator[str]:
    if found.observations == 0 and found.factor_log_sd > WIDE_LOG_SD:
        yield "Never weighed: one weighing makes all this far surer (`bin weigh`)"
    if found.estimated_hours >= 1.0:
        yield f"{hours(found.estimated_hours)} without readings were filled in from usual days"
    if not view.usual_day:
        yield "Too little was measured to know a usual day here; the air is taken to stay as it was"


def _heat_words(heat: HeatView) -> str:
    parts = [f"substrate {heat.substrate_c:.1f} °C"]
    if heat.excess_k is not None:
        side = "above" if heat.excess_k >= 0.0 else "below"
        parts.append(f"{abs(heat.excess_k):.1f} K {side} the air")
    if heat.slope_c_per_h is not None:
        parts.append(_slope_words(heat.slope_c_per_h))
    if heat.limit_c is not None and heat.earliest_min is not None and heat.median_min is not None:
        parts.append(_limit_words(heat.limit_c, heat.median_min, heat.earliest_min))
    if heat.made_w_m2 is not None:
        parts.append(f"about {_round(heat.made_w_m2)} W/m² from larvae and microbes")
    return ", ".join(parts)


def _round(watts: float) -> str:
    return f"{round(watts / 10.0) * 10:.0f}"


def _slope_words(slope_c_per_h: float) -> str:
    if abs(slope_c_per_h) < STEADY_C_PER_H:
        return "steady"
    return f"{'rising' if slope_c_per_h > 0.0 else 'falling'} {abs(slope_c_per_h):.1f} °C an hour"


def _limit_words(limit_c: float, median_min: float, earliest_min: float) -> str:
    if earliest_min <= 0.0:
        return f"at or above the high limit of {limit_c:g} °C"
    if earliest_min >= HORIZON_MIN:
        return f"{limit_c:g} °C not within a day at this trend"
    early = length_of_time(round(earliest_min * MS_PER_MINUTE))
    if median_min >= HORIZON_MIN:
        return f"{limit_c:g} °C at the earliest in {early}"
    middle = length_of_time(round(median_min * MS_PER_MINUTE))
    return f"{limit_c:g} °C in about {middle}, at the earliest {early}"


def _is_hot(heat: HeatView) -> bool:
    return heat.earliest_min is not None and heat.earliest_min < 60.0


def _probe_words(probe: ProbeView) -> str:
    found, index = probe.reading, f"index {probe.reading.index:.2f}"
    if not probe.fresh:
        return f"no fresh reading (last: {index})"
    match found.state:
        case ProbeState.IN_AIR:
            return f"{index}: it stands in air or was pulled out; push it back in. It does not count now"
        case ProbeState.BROKEN:
            return f"{index}: cable or probe is broken. It does not count"
        case ProbeState.INDEX:
            return (
                f"{index}, not a moisture: calibrate it in this substrate (`calibrate probe {probe.sensor}`)"
            )
    moisture = "" if found.moisture is None else percent(found.moisture)
    if found.state is ProbeState.OUTSIDE:
        return f"{moisture}, beyond what it was calibrated for"
    return f"{moisture} by its calibration in this substrate"


def list_lines(view: BinsView, zone: tzinfo, width: int) -> Iterator[str]:
    """Every filled bin in a few words, those that need water first."""
    if not view.bins:
        yield "No bin is filled as far as the logbook knows. To enter one: rearing-monitor bin fill"
    for each in view.bins:
        yield from entry(f"{each.title} ({each.place}): ", _in_short(each, zone), width)
    for refusal in view.refused:
        text = f"{refusal.entry.subject}, {refusal.entry.kind}: {refusal.reason}"
        yield from entry(f"Entry {refusal.entry.entry_id} does not count: ", text, width)


def _in_short(view: BinView, zone: tzinfo) -> str:
    found = view.outlook
    if found is None:
        return view.why_not
    parts = [f"{percent(found.median)} ({percent(found.low)} to {percent(found.high)})"]
    if view.bands is not None:
        parts[0] += f", {ZONE_WORDS[found.zone]}"
    if found.finishing:
        parts.append("finishing")
    elif view.bands is not None and found.to_limit is not None:
        parts.append(f"dry {until(found.to_limit, view.now_ms, zone)}")
        parts.append(_dose_short(found))
    if view.heat is not None:
        parts.append(f"{view.heat.substrate_c:.1f} °C")
    return "; ".join(parts)


def _dose_short(found: MoistureOutlook) -> str:
    if found.zone in (Zone.WET, Zone.TOO_WET):
        return f"mix in {kilograms(found.bran_kg)} of dry bran"
    return f"room for {litres(found.litres)}" if found.litres >= LEAST_LITRES else "no water needed"
