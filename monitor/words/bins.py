"""Sentences about bins: moisture, hours until dry, water to add, heat, moisture probe. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from monitor.bins.events import BinEvent, FeedAdded, MoistureTested, Stirred, WaterAdded, Weighed
from monitor.bins.harvest import HarvestOutlook, LarvaeKg
from monitor.bins.outlook import HORIZON_H, SOON_H, HoursTo, MoistureOutlook
from monitor.bins.probe import ProbeState
from monitor.bins.substrate import MoistureBands, Zone
from monitor.climate.heat import USUAL_HOURS, USUAL_PEAKS_C, HeatPast
from monitor.climate.trend import HORIZON_MIN
from monitor.farm.bins import BinView, HeatView, ProbeView
from monitor.farm.today import LEAST_LITRES
from monitor.records import (
    MS_PER_DAY,
    MS_PER_HOUR,
    MS_PER_MINUTE,
    Computed,
    PlaceKind,
    Quantity,
)
from monitor.words import localizer
from monitor.words.localizer import Localizer, plain

HOURS_AS_DAYS_FROM = 72.0
STEADY_C_PER_H = 0.05
LEAST_MISSING_KG = 0.05
LEAST_CHANCE = 0.1
"""Chances below it are not spoken of [1]. Own choice: the earliest of ten possible bins."""
WIDE_LOG_SD = 0.25
"""A bin whose evaporation is known no better than by this log standard deviation should be weighed."""
_CELSIUS, _KELVIN = Quantity.SUBSTRATE_TEMPERATURE, Computed.CONDENSATION_MARGIN
_PROBE_KEYS: Mapping[ProbeState, str] = {
    ProbeState.IN_AIR: "probe.in_air",
    ProbeState.BROKEN: "probe.broken",
    ProbeState.INDEX: "probe.index",
    ProbeState.OUTSIDE: "probe.outside",
}


def hours(words: Localizer, length_h: float) -> str:
    """Hours, from three days on days."""
    if length_h >= HORIZON_H:
        return words.t("left.horizon")
    if length_h < 1.0:
        return words.t("left.hour")
    if length_h < HOURS_AS_DAYS_FROM:
        return words.t("length.hours", count=words.number(length_h)).replace(" ", words.space)
    return words.length(round(length_h / 24.0) * MS_PER_DAY).replace(" ", words.space)


def left(words: Localizer, ahead: HoursTo) -> str:
    """How long until a limit, most likely."""
    if ahead.is_beyond:
        return words.t("left.beyond")
    if ahead.median_h <= 0.0:
        return words.t("left.passed")
    exact = ahead.median_h < 1.0 or ahead.median_h >= HORIZON_H
    return words.t("left.in" if exact else "left.about", length=hours(words, ahead.median_h))


def earliest(words: Localizer, ahead: HoursTo, now_ms: int) -> str:
    """The earliest credible time, "" where there is nothing to say."""
    if ahead.is_beyond or ahead.median_h <= 0.0:
        return ""
    if ahead.earliest_h <= 0.0:
        return words.t("left.perhaps_now")
    length = hours(words, ahead.earliest_h)
    if ahead.earliest_h >= HOURS_AS_DAYS_FROM:
        return words.t("left.earliest", length=length)
    at = words.clock(now_ms + round(ahead.earliest_h * MS_PER_HOUR))
    return words.t("left.earliest_at", length=length, at=at)


def chance(words: Localizer, share: float) -> str:
    """A chance in steps of five in a hundred, never none and never all."""
    return localizer.percent(words, min(max(round(20.0 * share) / 20.0, 0.05), 0.95))


def chance_sentence(outlook: MoistureOutlook, words: Localizer) -> str:
    """How likely the bin is too dry within half a day; "" where that is far, or so already."""
    ahead = outlook.to_limit
    if ahead is None or ahead.median_h <= 0.0 or ahead.chance_within(SOON_H) < LEAST_CHANCE:
        return ""
    likely = ahead.median_h <= SOON_H
    at = words.clock(outlook.at_ms + round(SOON_H * MS_PER_HOUR))
    said = chance(words, ahead.chance_within(SOON_H))
    return words.t("bins.likely_dry" if likely else "bins.may_be_dry", chance=said, at=at)


def bin_summary(view: BinView, words: Localizer) -> str:
    """A filled bin in one line: state, moisture, when it is dry, water to add, temperature."""
    outlook = view.outlook
    warmth = "" if view.heat is None else f"{words.value(_CELSIUS, view.heat.substrate_c)}."
    if outlook is None:
        return " ".join(
            part for part in (f"{state_word(view, words)}.", why_unknown(view, words), warmth) if part
        )
    parts = [
        f"{state_word(view, words)}, {moisture_now(outlook, words)}, {moisture_basis(view, words)}.",
        dry_sentence(view, words),
        dose_sentence(outlook, view.bands, words),
        warmth,
    ]
    return " ".join(part for part in parts if part)


def bin_sentences(view: BinView, words: Localizer) -> Iterator[str]:
    """Everything about one filled bin, sentence by sentence."""
    outlook = view.outlook
    if outlook is None:
        yield why_unknown(view, words)
    else:
        yield words.t(
            "bins.moisture_now",
            moisture=words.listing([moisture_now(outlook, words), moisture_basis(view, words)]),
        )
        yield loss_sentence(outlook, words)
        yield from limit_sentences(view, words)
        dose = dose_sentence(outlook, view.bands, words)
        # A box without limits has no amount of water that would be right, nor one that is enough.
        yield from [dose] if dose else [words.t("bins.no_water")] if view.bands is not None else []
        yield from note_sentences(view, words)
    if view.harvest is not None:
        yield from harvest_sentences(view.harvest, words)
    if view.heat is not None:
        yield f"{words.t('bins.heat')} {heat_words(view.heat, words)}"
        yield from heat_details(view.heat, words)
        if view.heat.is_hot:
            yield f"{words.t('alarm.do')} {words.t('bins.hot_do')} {words.t('write.caution_fan')}"
    if view.probe is not None:
        yield probe_sentence(view.probe, words)
        if view.probe.fresh and view.probe.reading.state is ProbeState.INDEX:
            yield words.t("probe.calibrate", sensor=str(view.probe.sensor))


def harvest_sentences(harvest: HarvestOutlook, words: Localizer) -> Iterator[str]:
    """How many kilograms of larvae, when they are heaviest, and whether the feed holds them back."""
    now, ripe = harvest.now, harvest.ripe
    if harvest.is_past:
        yield words.t("harvest.past", kg=_rough_kg(words, now.median), band=_kg_band(words, now))
    else:
        at_ms = harvest.until_ms if harvest.ripe_ms is None else harvest.ripe_ms
        yield words.t(
            "harvest.grows_on" if harvest.ripe_ms is None else "harvest.ripe",
            now=_rough_kg(words, now.median),
            kg=_rough_kg(words, ripe.median),
            day=localizer.day(words, at_ms),
            band=_kg_band(words, ripe),
        )
    if harvest.missing_feed_kg >= LEAST_MISSING_KG:
        each = words.number(10.0 * round(ripe.each_mg / 10.0))
        yield words.t("harvest.hungry", feed=_rough_kg(words, harvest.missing_feed_kg), each=each)


def _kg_band(words: Localizer, larvae: LarvaeKg) -> str:
    low, high = _rough_kg(words, larvae.low), _rough_kg(words, larvae.high)
    return words.t("harvest.band", low=low, high=high)


def _rough_kg(words: Localizer, kg: float) -> str:
    """A mass to two figures, as sure as it is."""
    rounded = float(f"{kg:.2g}")
    return localizer.kilograms(words, rounded)


def why_unknown(view: BinView, words: Localizer) -> str:
    """Why the moisture of a bin cannot be worked out."""
    return words.t("bins.failed", kind=view.failed) if view.failed else words.t("bins.no_air")


def state_word(view: BinView, words: Localizer) -> str:
    """What is to be said first, such as "Dry before long"."""
    zone = "" if view.outlook is None else view.outlook.zone.value
    return words.t(f"zone.{zone}" if view.state == zone else f"bins.{view.state}")


def filling_words(view: BinView, words: Localizer) -> str:
    """When it was filled and with what, how many animals live in it now, and whose they are."""
    facts = view.fill.facts
    substrate = f"substrate.{facts.substrate.name}"
    parts = [
        words.t("bins.filled", at=words.ago(facts.filled_ms)),
        words.t(
            "bins.filled_with",
            kg=localizer.kilograms(words, facts.wet_kg),
            substrate=words.t(substrate) if words.has(substrate) else facts.substrate.name.replace("_", " "),
            moisture=localizer.percent(words, facts.moisture),
        ),
        words.t("bins.surface", area=words.number(facts.surface_m2, 2)),
    ]
    animals = view.fill.animals
    if animals:
        counted = "told.with_animals" if view.kind is PlaceKind.PUPATION_BOX else "told.with_larvae"
        number = localizer.grouped(words, round(animals))
        parts.append(words.t(counted, larvae=number, animals=number))
    return words.listing([*parts, *view.fill.living])


def moisture_now(outlook: MoistureOutlook, words: Localizer) -> str:
    """Such as "62 % (58 % to 66 %)"."""
    return f"{localizer.percent(words, outlook.median)} ({moisture_band(outlook, words)})"


def moisture_basis(view: BinView, words: Localizer) -> str:
    """What the moisture rests on, "" where it is not known."""
    return "" if view.moisture is None else words.t(f"moisture.{view.moisture.basis}")


def moisture_band(outlook: MoistureOutlook, words: Localizer) -> str:
    """The band that holds the moisture four times in five."""
    low, high = localizer.percent(words, outlook.low), localizer.percent(words, outlook.high)
    return words.t("value.span", low=low, high=high)


def ahead_words(ahead: HoursTo, now_ms: int, words: Localizer) -> str:
    """Such as "in about 38 h, at the earliest in 22 h (Thu 14:00)"."""
    early = earliest(words, ahead, now_ms)
    return words.listing([left(words, ahead), early] if early else [left(words, ahead)])


def dry_sentence(view: BinView, words: Localizer) -> str:
    """When it is too dry, "" where no limit counts."""
    if view.bands is None or view.outlook is None or view.outlook.to_limit is None:
        return ""
    left_words = words.t("bins.left", left=ahead_words(view.outlook.to_limit, view.now_ms, words)) + "."
    return " ".join(part for part in (left_words, chance_sentence(view.outlook, words)) if part)


def limit_sentences(view: BinView, words: Localizer) -> Iterator[str]:
    """When the dry warning and the dry limit are reached."""
    if view.bands is None or view.outlook is None:
        return
    for key, limit, ahead in (
        ("bins.warning", view.bands.dry_warning, view.outlook.to_warning),
        ("bins.limit", view.bands.dry_limit, view.outlook.to_limit),
    ):
        if ahead is not None:
            reached = ahead_words(ahead, view.now_ms, words)
            yield words.t(key, limit=localizer.percent(words, limit), left=reached)
    said = chance_sentence(view.outlook, words)
    if said:
        yield said


def dose_sentence(outlook: MoistureOutlook, bands: MoistureBands | None, words: Localizer) -> str:
    """Litres to add, bran to mix in, or "" where nothing is to be done."""
    if bands is None or outlook.finishing:
        return ""
    target = localizer.percent(words, bands.target)
    if outlook.zone in (Zone.WET, Zone.TOO_WET):
        return words.t("bins.bran", amount=localizer.kilograms(words, outlook.bran_kg), target=target)
    if outlook.litres < LEAST_LITRES:
        return ""
    key = "bins.water" if outlook.zone in (Zone.DRY, Zone.TOO_DRY) else "bins.room"
    return words.t(key, amount=localizer.litres(words, outlook.litres), target=target)


def advice_sentences(outlook: MoistureOutlook, bands: MoistureBands, words: Localizer) -> str:
    """Numbers for a message about moisture: litres or bran, and how long there is."""
    target = localizer.percent(words, bands.target)
    if outlook.zone in (Zone.WET, Zone.TOO_WET):
        return words.t("bins.advice_bran", amount=localizer.kilograms(words, outlook.bran_kg), target=target)
    if outlook.to_limit is None or outlook.litres < LEAST_LITRES:
        return ""
    left_h = outlook.to_limit.median_h
    most_likely = words.t("bins.advice_hours", length=hours(words, left_h))
    return " ".join(
        (
            words.t("bins.advice_water", amount=localizer.litres(words, outlook.litres), target=target),
            words.t("bins.advice_dry") if left_h <= 0.0 else chance_sentence(outlook, words) or most_likely,
        )
    )


def loss_sentence(outlook: MoistureOutlook, words: Localizer) -> str:
    """How fast it dries."""
    loss = outlook.loss
    if not loss.resolvable:
        return words.t("bins.loss_small", most=words.number(max(loss.high_g_h, 1.0)))
    if loss.high_g_h < 0.0:
        return words.t("bins.condenses", rate=words.number(-loss.median_g_h))
    rate, low, high = (words.number(value) for value in (loss.median_g_h, loss.low_g_h, loss.high_g_h))
    return words.t("bins.loss", rate=rate, low=low, high=high)


def note_sentences(view: BinView, words: Localizer) -> Iterator[str]:
    """What the numbers of a bin rest on, and what would make them surer."""
    outlook = view.outlook
    if outlook is None:
        return
    if outlook.finishing:
        yield words.t("bins.no_dry_alarm")
    if outlook.observations == 0 and outlook.factor_log_sd > WIDE_LOG_SD:
        yield words.t("bins.never_weighed")
    if outlook.estimated_hours >= 1.0:
        yield words.t("bins.filled_in", length=hours(words, outlook.estimated_hours))
    if not view.usual_day:
        yield words.t("bins.no_usual_day")


def heat_words(heat: HeatView, words: Localizer) -> str:
    """Temperature, how far above the air, which way it goes, and when it would be too hot."""
    parts = [words.value(_CELSIUS, heat.substrate_c)]
    if heat.excess_k is not None:
        key = "bins.above_air" if heat.excess_k >= 0.0 else "bins.below_air"
        parts.append(words.t(key, excess=words.value(_KELVIN, abs(heat.excess_k))))
    if heat.slope_c_per_h is not None:
        parts.append(_slope_words(heat.slope_c_per_h, words))
    limit = _limit_words(heat, words)
    return words.listing([*parts, limit] if limit else parts)


def _slope_words(slope_c_per_h: float, words: Localizer) -> str:
    if abs(slope_c_per_h) < STEADY_C_PER_H:
        return words.t("way.steady")
    way = "rising" if slope_c_per_h > 0.0 else "falling"
    return words.t(f"bins.{way}", rate=words.rate(_CELSIUS, slope_c_per_h))


def _limit_words(heat: HeatView, words: Localizer) -> str:
    if heat.limit_c is None or heat.earliest_min is None or heat.median_min is None:
        return ""
    limit = words.limit(_CELSIUS, heat.limit_c)
    if heat.earliest_min <= 0.0:
        return words.t("bins.at_limit", limit=limit)
    if heat.earliest_min >= HORIZON_MIN:
        return ""
    early = words.length(heat.earliest_min * MS_PER_MINUTE)
    if heat.median_min >= HORIZON_MIN:
        return words.t("bins.limit_in", limit=limit, early=early)
    middle = words.length(heat.median_min * MS_PER_MINUTE)
    return words.t("bins.limit_about", limit=limit, middle=middle, early=early)


def heat_details(heat: HeatView, words: Localizer) -> Iterator[str]:
    """That the limit is far, and the heat that the bin itself makes."""
    if heat.limit_c is not None and heat.earliest_min is not None and heat.earliest_min >= HORIZON_MIN:
        yield words.t("bins.limit_far", limit=words.limit(_CELSIUS, heat.limit_c))
    if heat.made_w_m2 is not None:
        yield words.t("bins.heat_made", power=words.number(10.0 * round(heat.made_w_m2 / 10.0)))
    past = "" if heat.past is None else heat_past_text(heat.past, words)
    if past:
        yield past


def heat_past_text(past: HeatPast, words: Localizer) -> str:
    """How hot a bin has been, for how long, and whether that is usual; "" where it is not worth a word."""
    if not past.is_worth_saying:
        return ""
    above = [
        words.t("bins.heat_above", level=words.limit(_CELSIUS, level), hours=words.number(length))
        for level, length in past.hours_above
        if length >= 1.0
    ]
    highest, at = words.value(_CELSIUS, past.highest_c), words.moment(past.highest_ms)
    said = words.t("bins.heat_past", highest=highest, at=at, above=words.listing(above))
    usual = {
        f"hours_{level:.0f}": f"{words.number(low)}–{words.number(high)}"
        for level, (low, high) in USUAL_HOURS.items()
    }
    peaks = "–".join(words.number(peak, 1) for peak in USUAL_PEAKS_C)
    key = "bins.heat_unusual" if past.is_unusual else "bins.heat_usual"
    return f"{said} {words.t(key, peaks=peaks, **usual)}"


def probe_sentence(probe: ProbeView, words: Localizer) -> str:
    """What the moisture probe says, and whether that counts."""
    reading, index = probe.reading, plain(words, probe.reading.index)
    if not probe.fresh:
        return words.t("probe.stale", index=index)
    moisture = "" if reading.moisture is None else localizer.percent(words, reading.moisture)
    return words.t(_PROBE_KEYS.get(reading.state, "probe.moisture"), index=index, moisture=moisture)


def event_words(event: BinEvent, words: Localizer) -> str:
    """What was done to a bin, for a mark in a picture; "" for what is not marked."""
    match event:
        case WaterAdded(kg=kg):
            return words.t("told.water", kg=localizer.litres(words, kg))
        case FeedAdded(kg=kg, moisture=moisture):
            amount, share = localizer.kilograms(words, kg), localizer.percent(words, moisture)
            return words.t("told.feed", kg=amount, moisture=share)
        case Weighed(kg=kg):
            return words.t("told.weigh", kg=localizer.kilograms(words, kg))
        case MoistureTested(moisture=moisture):
            return words.t("told.test", moisture=localizer.percent(words, moisture))
        case Stirred():
            return words.t("told.stir")
    return ""
