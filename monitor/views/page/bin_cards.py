"""One bin in the words of the page: how moist, how long, how many litres, how hot, what to do."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from markupsafe import Markup

from monitor.model.heat import HORIZON_MIN
from monitor.model.moisture_outlook import MoistureOutlook
from monitor.model.probe_calibration import ProbeState
from monitor.model.substrate import MoistureBands, Zone
from monitor.records import MS_PER_MINUTE, Computed, Quantity
from monitor.views.bin_queries import BinView, HeatView, ProbeView
from monitor.views.bin_text import STEADY_C_PER_H, WIDE_LOG_SD
from monitor.views.bin_words import LEAST_LITRES
from monitor.views.page.ahead_words import earliest, hours, kilograms, left, litres, percent, plain
from monitor.views.page.sketches import gauge
from monitor.views.page.words import Words

SHAPES = {
    Zone.TOO_DRY: "medium",
    Zone.DRY: "low",
    Zone.RIGHT: "fine",
    Zone.WET: "low",
    Zone.TOO_WET: "medium",
}
SOON_H = 12.0
_CELSIUS, _KELVIN = Quantity.SUBSTRATE_TEMPERATURE, Computed.CONDENSATION_MARGIN


@dataclass(frozen=True, slots=True)
class BinCard:
    """What the page shows of a filled bin; empty where there is nothing to say."""

    place: str
    title: str
    shape: str
    word: str
    moisture: str = ""
    band: str = ""
    gauge: Markup | None = None
    left: str = ""
    earliest: str = ""
    warning: str = ""
    do: str = ""
    why_not: str = ""
    heat: str = ""
    hot: str = ""
    loss: str = ""
    probe: str = ""
    notes: tuple[str, ...] = ()


def bin_card(view: BinView, words: Words) -> BinCard:
    """The card of a bin."""
    found = view.outlook
    heat = "" if view.heat is None else heat_words(view.heat, words)
    hot = words.t("bins.hot_do") if view.heat is not None and _is_hot(view.heat) else ""
    probe = "" if view.probe is None else probe_words(view.probe, words)
    if found is None:
        return BinCard(
            *(view.place, view.title, "unknown", words.t("bins.unknown")),
            why_not=words.t("bins.no_air"),
            heat=heat,
            hot=hot,
            probe=probe,
        )
    shape, word = state_of(view, found, words)
    return BinCard(
        *(view.place, view.title, "high" if hot else shape, _hot_word(view.heat, words) if hot else word),
        moisture=percent(words, found.median),
        band=words.t("value.span", low=percent(words, found.low), high=percent(words, found.high)),
        gauge=gauge(words, found.low, found.median, found.high, view.bands),
        left=_left(view, found, words),
        earliest=_earliest(view, found, words),
        warning=_warning(view, found, words),
        do=dose(found, view.bands, words),
        heat=heat,
        hot=hot,
        loss=loss(found, words),
        probe=probe,
        notes=tuple(_notes(view, found, words)),
    )


def state_of(view: BinView, found: MoistureOutlook, words: Words) -> tuple[str, str]:
    """Shape and word: of the zone, or that it dries on purpose, or that it is dry before long."""
    if found.finishing:
        return "shelved", words.t("bins.finishing")
    if view.bands is None:
        return "fine", words.t("bins.no_limits")
    shape = SHAPES[found.zone]
    if shape == "fine" and view.earliest_dry_h is not None and view.earliest_dry_h < SOON_H:
        return "low", words.t("bins.soon")
    return shape, words.t(f"zone.{found.zone}")


def _counts(view: BinView, found: MoistureOutlook) -> bool:
    return view.bands is not None and found.to_limit is not None


def _left(view: BinView, found: MoistureOutlook, words: Words) -> str:
    if not _counts(view, found) or found.to_limit is None:
        return ""
    return words.t("bins.left", left=left(words, found.to_limit))


def _earliest(view: BinView, found: MoistureOutlook, words: Words) -> str:
    if not _counts(view, found) or found.to_limit is None:
        return ""
    return earliest(words, found.to_limit, view.now_ms)


def _warning(view: BinView, found: MoistureOutlook, words: Words) -> str:
    if view.bands is None or found.to_warning is None:
        return ""
    said = left(words, found.to_warning)
    return words.t("bins.warning", limit=percent(words, view.bands.dry_warning), left=said)


def dose(found: MoistureOutlook, bands: MoistureBands | None, words: Words) -> str:
    """Litres to add, bran to mix in, or "" where nothing is to be done."""
    if bands is None or found.finishing:
        return ""
    target = percent(words, bands.target)
    if found.zone in (Zone.WET, Zone.TOO_WET):
        return words.t("bins.bran", amount=kilograms(words, found.bran_kg), target=target)
    if found.litres < LEAST_LITRES:
        return ""
    key = "bins.water" if found.zone in (Zone.DRY, Zone.TOO_DRY) else "bins.room"
    return words.t(key, amount=litres(words, found.litres), target=target)


def loss(found: MoistureOutlook, words: Words) -> str:
    """How fast it dries."""
    if not found.loss.resolvable:
        return words.t("bins.loss_small", most=words.number(max(found.loss.high_g_h, 1.0)))
    if found.loss.high_g_h < 0.0:
        return words.t("bins.condenses", rate=words.number(-found.loss.median_g_h))
    rates = {
        name: words.number(value)
        for name, value in (
            ("rate", found.loss.median_g_h),
            ("low", found.loss.low_g_h),
            ("high", found.loss.high_g_h),
        )
    }
    return words.t("bins.loss", **rates)


def _notes(view: BinView, found: MoistureOutlook, words: Words) -> Iterator[str]:
    if found.observations == 0 and found.factor_log_sd > WIDE_LOG_SD:
        yield words.t("bins.never_weighed")
    if found.estimated_hours >= 1.0:
        yield words.t("bins.filled_in", length=hours(words, found.estimated_hours))
    if not view.usual_day:
        yield words.t("bins.no_usual_day")


def heat_words(heat: HeatView, words: Words) -> str:
    """Temperature, how far above the air, which way it goes, and when it would be too hot."""
    parts = [words.value(_CELSIUS, heat.substrate_c)]
    if heat.excess_k is not None:
        key = "bins.above_air" if heat.excess_k >= 0.0 else "bins.below_air"
        parts.append(words.t(key, excess=_kelvin(words, abs(heat.excess_k))))
    if heat.slope_c_per_h is not None:
        parts.append(_slope(heat.slope_c_per_h, words))
    limit = _hot_at(heat, words)
    return words.listing([*parts, limit] if limit else parts)


def _kelvin(words: Words, difference: float) -> str:
    return words.value(_KELVIN, difference)


def _slope(slope_c_per_h: float, words: Words) -> str:
    if abs(slope_c_per_h) < STEADY_C_PER_H:
        return words.t("way.steady")
    way = "rising" if slope_c_per_h > 0.0 else "falling"
    return words.t(f"bins.{way}", rate=words.rate(_CELSIUS, slope_c_per_h))


def _hot_at(heat: HeatView, words: Words) -> str:
    if heat.limit_c is None or heat.earliest_min is None or heat.median_min is None:
        return ""
    limit = words.limit(_CELSIUS, heat.limit_c)
    if heat.earliest_min <= 0.0:
        return words.t("bins.at_limit", limit=limit)
    if heat.earliest_min >= HORIZON_MIN:
        return ""
    early = words.length(heat.earliest_min * MS_PER_MINUTE)
    return words.t("bins.limit_in", limit=limit, early=early)


def _hot_word(heat: HeatView | None, words: Words) -> str:
    passed = heat is not None and heat.limit_c is not None and heat.substrate_c > heat.limit_c
    return words.t("bins.over_limit" if passed else "bins.is_hot")


def _is_hot(heat: HeatView) -> bool:
    return heat.earliest_min is not None and heat.earliest_min < 60.0


def probe_words(probe: ProbeView, words: Words) -> str:
    """What the moisture probe says, and whether that counts."""
    found, index = probe.reading, plain(words, probe.reading.index)
    if not probe.fresh:
        return words.t("probe.stale", index=index)
    moisture = "" if found.moisture is None else percent(words, found.moisture)
    keys = {
        ProbeState.IN_AIR: "probe.in_air",
        ProbeState.BROKEN: "probe.broken",
        ProbeState.INDEX: "probe.index",
        ProbeState.OUTSIDE: "probe.outside",
    }
    return words.t(keys.get(found.state, "probe.moisture"), index=index, moisture=moisture)
