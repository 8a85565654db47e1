"""Bins: how moist, how long until dry, what to do; water, weight and stirring written down in two taps.

One bin in the words of the page: how moist, how long, how many litres, how hot, what to do.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from urllib.parse import quote

from markupsafe import Markup
from starlette.responses import Response

from monitor.bins.outlook import HORIZON_H, MoistureOutlook
from monitor.bins.probe import ProbeState
from monitor.bins.substrate import MoistureBands, Zone
from monitor.climate.trend import HORIZON_MIN
from monitor.farm.bins import FILLED_KINDS, BinsView, BinView, HeatView, ProbeView, book_of
from monitor.logbook.bin_entries import BinEntryKind
from monitor.page.curves import gauge, moisture_curve
from monitor.page.entries import BIN_FIELDS, Form, entry_writer, fields_of, show_form, typed, write
from monitor.page.logbook import rows_about, wrote
from monitor.page.serving import Page, Part, RequestContext, problem
from monitor.records import MS_PER_MINUTE, Computed, Quantity, SubjectKind
from monitor.words.bins import LEAST_LITRES, STEADY_C_PER_H, WIDE_LOG_SD
from monitor.words.localizer import Localizer, earliest, hours, kilograms, left, litres, percent, plain
from monitor.words.localizer import grouped as grouped_number

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


def bin_card(view: BinView, words: Localizer) -> BinCard:
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


def state_of(view: BinView, found: MoistureOutlook, words: Localizer) -> tuple[str, str]:
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


def _left(view: BinView, found: MoistureOutlook, words: Localizer) -> str:
    if not _counts(view, found) or found.to_limit is None:
        return ""
    return words.t("bins.left", left=left(words, found.to_limit))


def _earliest(view: BinView, found: MoistureOutlook, words: Localizer) -> str:
    if not _counts(view, found) or found.to_limit is None:
        return ""
    return earliest(words, found.to_limit, view.now_ms)


def _warning(view: BinView, found: MoistureOutlook, words: Localizer) -> str:
    if view.bands is None or found.to_warning is None:
        return ""
    said = left(words, found.to_warning)
    return words.t("bins.warning", limit=percent(words, view.bands.dry_warning), left=said)


def dose(found: MoistureOutlook, bands: MoistureBands | None, words: Localizer) -> str:
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


def loss(found: MoistureOutlook, words: Localizer) -> str:
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


def _notes(view: BinView, found: MoistureOutlook, words: Localizer) -> Iterator[str]:
    if found.observations == 0 and found.factor_log_sd > WIDE_LOG_SD:
        yield words.t("bins.never_weighed")
    if found.estimated_hours >= 1.0:
        yield words.t("bins.filled_in", length=hours(words, found.estimated_hours))
    if not view.usual_day:
        yield words.t("bins.no_usual_day")


def heat_words(heat: HeatView, words: Localizer) -> str:
    """Temperature, how far above the air, which way it goes, and when it would be too hot."""
    parts = [words.value(_CELSIUS, heat.substrate_c)]
    if heat.excess_k is not None:
        key = "bins.above_air" if heat.excess_k >= 0.0 else "bins.below_air"
        parts.append(words.t(key, excess=_kelvin(words, abs(heat.excess_k))))
    if heat.slope_c_per_h is not None:
        parts.append(_slope(heat.slope_c_per_h, words))
    limit = _hot_at(heat, words)
    return words.listing([*parts, limit] if limit else parts)


def _kelvin(words: Localizer, difference: float) -> str:
    return words.value(_KELVIN, difference)


def _slope(slope_c_per_h: float, words: Localizer) -> str:
    if abs(slope_c_per_h) < STEADY_C_PER_H:
        return words.t("way.steady")
    way = "rising" if slope_c_per_h > 0.0 else "falling"
    return words.t(f"bins.{way}", rate=words.rate(_CELSIUS, slope_c_per_h))


def _hot_at(heat: HeatView, words: Localizer) -> str:
    if heat.limit_c is None or heat.earliest_min is None or heat.median_min is None:
        return ""
    limit = words.limit(_CELSIUS, heat.limit_c)
    if heat.earliest_min <= 0.0:
        return words.t("bins.at_limit", limit=limit)
    if heat.earliest_min >= HORIZON_MIN:
        return ""
    early = words.length(heat.earliest_min * MS_PER_MINUTE)
    return words.t("bins.limit_in", limit=limit, early=early)


def _hot_word(heat: HeatView | None, words: Localizer) -> str:
    passed = heat is not None and heat.limit_c is not None and heat.substrate_c > heat.limit_c
    return words.t("bins.over_limit" if passed else "bins.is_hot")


def _is_hot(heat: HeatView) -> bool:
    return heat.earliest_min is not None and heat.earliest_min < 60.0


def probe_words(probe: ProbeView, words: Localizer) -> str:
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


ABOUT_A_FULL = (
    *(BinEntryKind.WATER, BinEntryKind.WEIGH, BinEntryKind.STIR, BinEntryKind.FEED, BinEntryKind.TEST),
    *(BinEntryKind.COVER, BinEntryKind.FAN, BinEntryKind.LARVAE, BinEntryKind.TAKE, BinEntryKind.FINISH),
    BinEntryKind.EMPTY,
)
QUICK = (BinEntryKind.WATER, BinEntryKind.WEIGH, BinEntryKind.STIR)
ROWS = 12
_NO_BEFORE = "no"


def bins_now(request: RequestContext) -> BinsView:
    """Every filled bin, from what is kept."""
    context = request.app.context
    return context.foresight.bins(request.store, request.plan, request.now_ms, context.reading)


def show_bins(request: RequestContext) -> Response:
    """All bins, the hot and the dry ones first; then the places that stand empty."""
    view = bins_now(request)
    cards = [bin_card(each, request.words) for each in view.bins]
    filled = {each.place for each in view.bins}
    places = [place.id for place in request.plan.settings.places if place.kind in FILLED_KINDS]
    return request.render(
        "bins.html",
        # Heat kills within hours, dryness within a day: hot bins stand first.
        need=sorted(
            (card for card in cards if card.shape not in ("fine", "shelved")), key=lambda card: not card.hot
        ),
        well=[card for card in cards if card.shape in ("fine", "shelved")],
        empty=[(place, request.plan.title(place)) for place in places if place not in filled],
        quick=QUICK,
        as_of=request.words.hour(view.now_ms),
        refused=[(each.entry.entry_id, request.words.sentence(each.reason)) for each in view.refused],
        said=wrote(request),
    )


def show_bin(request: RequestContext) -> Response:
    """One bin with its picture, what it rests on, and its logbook."""
    place = request.http.path_params["place"]
    if not _can_be_filled(request, place):
        return problem(request, 404, "problem.not_here")
    view = bins_now(request).of(place)
    return request.render(
        "bins_one.html",
        title=request.plan.title(place),
        place=place,
        card=None if view is None else bin_card(view, request.words),
        head="" if view is None else head_of(view, request),
        curve=None if view is None else moisture_curve(request, view),
        kinds=ABOUT_A_FULL if view is not None else (BinEntryKind.FILL,),
        quick=QUICK,
        as_of="" if view is None else request.words.hour(view.now_ms),
        rows=rows_about(request, SubjectKind.BIN, place, ROWS),
        said=wrote(request) + _moved(request, view),
    )


def _can_be_filled(request: RequestContext, place: str) -> bool:
    known = request.plan.places.get(place)
    return known is not None and known.kind in FILLED_KINDS


def head_of(view: BinView, request: RequestContext) -> str:
    """What was put in, and when."""
    words, facts = request.words, view.fill.facts
    parts = [
        words.t("bins.filled", at=words.ago(facts.filled_ms)),
        words.t("told.fill", kg=kilograms(words, facts.wet_kg), moisture=percent(words, facts.moisture)),
    ]
    if facts.larvae is not None:
        parts.append(words.t("told.with_larvae", larvae=grouped_number(words, facts.larvae.count)))
    return words.listing([*parts, *view.fill.cohorts])


def _moved(request: RequestContext, view: BinView | None) -> str:
    """How the hours changed with what was just written, from the hours before that the address names."""
    before = request.query("before")
    limit = None if view is None or view.outlook is None else view.outlook.to_limit
    if not (before.isascii() and before.isdigit() and len(before) < 4) or limit is None:
        return ""
    words = request.words
    was, now = (hours(words, min(float(each), HORIZON_H)) for each in (int(before), limit.median_h))
    return " " + words.t("bins.moved", before=was, now=now)


def form_of(request: RequestContext, place: str, kind: str) -> Form:
    """The form of one kind of entry, with the litres that are wanted."""
    words = request.words
    caution = words.t("write.caution_fan") if kind == BinEntryKind.FAN else ""
    return Form(
        heading=words.t("write.heading", what=words.t(f"kind_of.{kind}"), about=request.plan.title(place)),
        action=f"/bins/{place}/write",
        leave=f"/bins/{place}",
        kind=kind,
        fields=fields_of(SubjectKind.BIN, kind, request.plan, words),
        at_ms=request.now_ms,
        before=_wanted(request, place, kind),
        do=words.t("write.do"),
        explained=words.t(f"explained.{kind}") if words.has(f"explained.{kind}") else "",
        caution=caution,
    )


def _wanted(request: RequestContext, place: str, kind: str) -> Mapping[str, object]:
    if kind != BinEntryKind.WATER:
        return {}
    view = bins_now(request).of(place)
    if view is None or view.outlook is None or view.outlook.litres < LEAST_LITRES:
        return {}
    return {"kg": round(view.outlook.litres, 1)}


def show_write(request: RequestContext) -> Response:
    """The form, ready to be confirmed."""
    place, kind = request.http.path_params["place"], request.query("what")
    if not _can_be_filled(request, place) or kind not in BIN_FIELDS:
        return problem(request, 404, "problem.not_here")
    return show_form(request, form_of(request, place, kind))


def write_entry(request: RequestContext) -> Response:
    """Write it down, unless the book says that it cannot be."""
    place, kind = request.http.path_params["place"], request.field("kind", 40)
    if not _can_be_filled(request, place) or kind not in BIN_FIELDS:
        return problem(request, 404, "problem.not_here")
    form = form_of(request, place, kind)

    def work() -> str:
        said, before = typed(request, form), _hours_now(request, place)
        with entry_writer(request) as writer:
            made = writer.write(place, BinEntryKind(kind), said.at_ms, said.body)
        return f"/bins/{quote(place)}?wrote={made.entry_id}&before={before}"

    return write(request, form, work)


def _hours_now(request: RequestContext, place: str) -> str:
    if book_of(request.store, request.plan, request.now_ms).filled(place) is None:
        return _NO_BEFORE
    view = bins_now(request).of(place)
    limit = None if view is None or view.outlook is None else view.outlook.to_limit
    return _NO_BEFORE if limit is None else f"{limit.median_h:.0f}"


BINS = Part(
    "bins",
    "/bins",
    (
        Page("/bins", get=show_bins),
        Page("/bins/{place}", get=show_bin),
        Page("/bins/{place}/write", get=show_write, post=write_entry),
    ),
)
