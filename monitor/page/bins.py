"""The bins on the page: moisture, hours until dry, what to do; water, weight and stirring in two taps."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from urllib.parse import quote

from markupsafe import Markup
from starlette.responses import Response

from monitor.bins.outlook import HORIZON_H
from monitor.charts.bin import moisture_gauge
from monitor.farm.bins import BinState, BinsView, BinView
from monitor.farm.book import FILLED_KINDS
from monitor.farm.today import BRAN, CALLING, SPREAD, bin_entry, helping
from monitor.logbook.bin_entries import BinEntryKind
from monitor.logbook.yield_entries import YieldEntryKind
from monitor.page.curves import moisture_curve
from monitor.page.entries import BIN_FIELDS, Form, entry_writer, fields_of, read_form, show_form, write
from monitor.page.logbook import just_written, rows_about
from monitor.page.serving import Page, Part, RequestContext, drawn, problem
from monitor.page.yields import place_lines
from monitor.records import SubjectKind
from monitor.words.bins import (
    chance_sentence,
    dose_sentence,
    earliest,
    filling_words,
    harvest_sentences,
    heat_words,
    hours,
    left,
    limit_sentences,
    loss_sentence,
    moisture_band,
    moisture_basis,
    note_sentences,
    probe_sentence,
    state_word,
    why_unknown,
)
from monitor.words.localizer import Localizer, percent

SHAPES: Mapping[BinState, str] = {
    BinState.UNKNOWN: "unknown",
    BinState.TOO_HOT: "high",
    BinState.HOT_SOON: "high",
    BinState.FINISHING: "shelved",
    BinState.NO_LIMITS: "fine",
    BinState.DRY_SOON: "low",
    BinState.TOO_DRY: "medium",
    BinState.DRY: "low",
    BinState.RIGHT: "fine",
    BinState.WET: "low",
    BinState.TOO_WET: "medium",
}
ABOUT_A_FULL = (
    *(BinEntryKind.WATER, BinEntryKind.WEIGH, BinEntryKind.STIR, BinEntryKind.FEED, BinEntryKind.TEST),
    *(BinEntryKind.COVER, BinEntryKind.FAN, BinEntryKind.LARVAE, BinEntryKind.TAKE, BinEntryKind.FINISH),
    BinEntryKind.EMPTY,
)
ROWS = 12
_NO_BEFORE = "no"


@dataclass(frozen=True, slots=True)
class BinButton:
    """A way to an entry: its word, its form, and whether it is the one that is asked for."""

    word: str
    link: str
    asked: bool


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
    harvest: tuple[str, ...] = ()
    buttons: tuple[BinButton, ...] = ()


def bin_buttons(view: BinView, words: Localizer) -> tuple[BinButton, ...]:
    """The entries that help in the state of a bin; the first one is dark where the state calls for it."""
    calls = view.state in CALLING
    return tuple(
        BinButton(
            words.t(f"task_do.{name}" if name in (SPREAD, BinEntryKind.FEED) else f"tap.{name}"),
            f"/bins/{view.place}/write?what="
            + (f"{BinEntryKind.STIR}&{SPREAD}=on" if name == SPREAD else name),
            calls and at == 0,
        )
        for at, name in enumerate(helping(view))
    )


def bin_card(view: BinView, words: Localizer) -> BinCard:
    """The card of a bin."""
    outlook, heat = view.outlook, view.heat
    card = BinCard(
        *(view.place, view.title, SHAPES[view.state], state_word(view, words)),
        heat="" if heat is None else heat_words(heat, words),
        hot=words.t("bins.hot_do") if heat is not None and heat.is_hot else "",
        probe="" if view.probe is None else probe_sentence(view.probe, words),
        harvest=() if view.harvest is None else tuple(harvest_sentences(view.harvest, words)),
        buttons=bin_buttons(view, words),
    )
    if outlook is None:
        return replace(card, why_not=why_unknown(view, words))
    limit = outlook.to_limit if view.bands is not None else None
    said = "" if limit is None else chance_sentence(outlook, words)
    return replace(
        card,
        moisture=percent(words, outlook.median),
        band=words.listing([moisture_band(outlook, words), moisture_basis(view, words)]),
        gauge=drawn(moisture_gauge(outlook, view.bands, words)),
        left="" if limit is None else words.t("bins.left", left=left(words, limit)),
        earliest="" if limit is None else earliest(words, limit, view.now_ms),
        warning=next(limit_sentences(view, words), ""),
        do=dose_sentence(outlook, view.bands, words),
        loss=loss_sentence(outlook, words),
        notes=(*filter(None, [said]), *note_sentences(view, words)),
    )


def bins_now(request: RequestContext) -> BinsView:
    """Every filled bin, from what is kept."""
    context = request.app.context
    return context.forecasts.bins(request.store, request.plan, request.now_ms, context.reading)


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
        as_of=request.words.hour(view.now_ms),
        refused=[(each.entry.entry_id, request.words.sentence(each.reason)) for each in view.refused],
        said=just_written(request),
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
        head="" if view is None else filling_words(view, request.words),
        curve=None if view is None else moisture_curve(request, view),
        kinds=ABOUT_A_FULL if view is not None else (BinEntryKind.FILL,),
        as_of="" if view is None else request.words.hour(view.now_ms),
        yields=place_lines(request, place),
        note=f"/places/{place}/write?what={YieldEntryKind.NOTE}",
        rows=rows_about(request, SubjectKind.BIN, place, ROWS),
        said=just_written(request) + _moved(request, view),
    )


def _can_be_filled(request: RequestContext, place: str) -> bool:
    known = request.plan.places.get(place)
    return known is not None and known.kind in FILLED_KINDS


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
    return Form(
        heading=words.t("write.heading", what=words.t(f"kind_of.{kind}"), about=request.plan.title(place)),
        action=f"/bins/{place}/write",
        leave=f"/bins/{place}",
        kind=kind,
        fields=fields_of(SubjectKind.BIN, kind, request.plan, words, _cohorts(request, place, kind)),
        at_ms=request.now_ms,
        before=_wanted(request, place, kind),
    )


def _cohorts(request: RequestContext, place: str, kind: str) -> list[str]:
    """The cohorts whose larvae may be put in, or that may stay where a bin is emptied."""
    living = request.book().living
    emptied = kind == BinEntryKind.EMPTY
    return [each.name for each in living if not emptied or each.place_at(request.now_ms) == place]


def _wanted(request: RequestContext, place: str, kind: str) -> Mapping[str, object]:
    if kind == BinEntryKind.STIR:
        return {SPREAD: request.query(SPREAD) == "on" or None}
    if kind not in (BinEntryKind.WATER, BinEntryKind.FEED):
        return {}
    view = bins_now(request).of(place)
    if view is None:
        return {}
    proposed = bin_entry(view, kind)
    return proposed.fields if proposed.name in (BinEntryKind.WATER, BRAN) else {}


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
        said, before = read_form(request, form), _hours_now(request, place)
        with entry_writer(request) as writer:
            made = writer.write(place, BinEntryKind(kind), said.at_ms, said.body)
        return f"/bins/{quote(place)}?wrote={made.entry_id}&before={before}"

    return write(request, form, work)


def _hours_now(request: RequestContext, place: str) -> str:
    if request.book().filled(place) is None:
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
        Page("/bins/{place}/write", get=show_write, post=write_entry, photo=True),
    ),
)
