"""Bins: how moist, how long until dry, what to do; water, weight and stirring written down in two taps."""

from __future__ import annotations

from collections.abc import Mapping
from urllib.parse import quote

from starlette.responses import Response

from monitor.model.bin_records import BinEntryKind
from monitor.model.moisture_outlook import HORIZON_H
from monitor.records import SubjectKind
from monitor.views.bin_queries import FILLED_KINDS, BinsView, BinView, book_of
from monitor.views.bin_words import LEAST_LITRES
from monitor.views.bin_writing import bin_entry, enter_about_bin
from monitor.views.page.ahead_words import grouped as grouped_number
from monitor.views.page.ahead_words import hours, kilograms, percent
from monitor.views.page.bin_cards import bin_card
from monitor.views.page.entry_kinds import BIN_FIELDS, fields_of
from monitor.views.page.entry_page import Form, author, show_form, typed, write
from monitor.views.page.logbook_rows import rows_about, wrote
from monitor.views.page.serving import Asked, Page, Part, problem
from monitor.views.page.sketches import moisture_curve

ABOUT_A_FULL = (
    *(BinEntryKind.WATER, BinEntryKind.WEIGH, BinEntryKind.STIR, BinEntryKind.FEED, BinEntryKind.TEST),
    *(BinEntryKind.COVER, BinEntryKind.FAN, BinEntryKind.LARVAE, BinEntryKind.TAKE, BinEntryKind.FINISH),
    BinEntryKind.EMPTY,
)
QUICK = (BinEntryKind.WATER, BinEntryKind.WEIGH, BinEntryKind.STIR)
ROWS = 12
_NO_BEFORE = "no"


def bins_now(asked: Asked) -> BinsView:
    """Every filled bin, from what is kept."""
    context = asked.farm.context
    return context.foresight.bins(asked.store, asked.plan, asked.now_ms, context.reading)


def show_bins(asked: Asked) -> Response:
    """All bins, the hot and the dry ones first; then the places that stand empty."""
    view = bins_now(asked)
    cards = [bin_card(each, asked.words) for each in view.bins]
    filled = {each.place for each in view.bins}
    places = [place.id for place in asked.plan.settings.places if place.kind in FILLED_KINDS]
    return asked.render(
        "bins.html",
        # Heat kills within hours, dryness within a day: hot bins stand first.
        need=sorted(
            (card for card in cards if card.shape not in ("fine", "shelved")), key=lambda card: not card.hot
        ),
        well=[card for card in cards if card.shape in ("fine", "shelved")],
        empty=[(place, asked.plan.title(place)) for place in places if place not in filled],
        quick=QUICK,
        as_of=asked.words.hour(view.now_ms),
        refused=[(each.entry.entry_id, each.reason) for each in view.refused],
        said=wrote(asked),
    )


def show_bin(asked: Asked) -> Response:
    """One bin with its picture, what it rests on, and its logbook."""
    place = asked.request.path_params["place"]
    if not _can_be_filled(asked, place):
        return problem(asked, 404, "problem.not_here")
    view = bins_now(asked).of(place)
    return asked.render(
        "bins_one.html",
        title=asked.plan.title(place),
        place=place,
        card=None if view is None else bin_card(view, asked.words),
        head="" if view is None else head_of(view, asked),
        curve=None if view is None else moisture_curve(asked, view),
        kinds=ABOUT_A_FULL if view is not None else (BinEntryKind.FILL,),
        quick=QUICK,
        as_of="" if view is None else asked.words.hour(view.now_ms),
        rows=rows_about(asked, SubjectKind.BIN, place, ROWS),
        said=wrote(asked) + _moved(asked, view),
    )


def _can_be_filled(asked: Asked, place: str) -> bool:
    known = asked.plan.places.get(place)
    return known is not None and known.kind in FILLED_KINDS


def head_of(view: BinView, asked: Asked) -> str:
    """What was put in, and when."""
    words, facts = asked.words, view.fill.facts
    parts = [
        words.t("bins.filled", at=words.ago(facts.filled_ms)),
        words.t("told.fill", kg=kilograms(words, facts.wet_kg), moisture=percent(words, facts.moisture)),
    ]
    if facts.larvae is not None:
        parts.append(words.t("told.with_larvae", larvae=grouped_number(words, facts.larvae.count)))
    return words.listing([*parts, *view.fill.cohorts])


def _moved(asked: Asked, view: BinView | None) -> str:
    """How the hours changed with what was just written, from the hours before that the address names."""
    before = asked.query("before")
    limit = None if view is None or view.outlook is None else view.outlook.to_limit
    if not (before.isascii() and before.isdigit() and len(before) < 4) or limit is None:
        return ""
    words = asked.words
    was, now = (hours(words, min(float(each), HORIZON_H)) for each in (int(before), limit.median_h))
    return " " + words.t("bins.moved", before=was, now=now)


def form_of(asked: Asked, place: str, kind: str) -> Form:
    """The form of one kind of entry, with the litres that are wanted."""
    words = asked.words
    caution = words.t("write.caution_fan") if kind == BinEntryKind.FAN else ""
    return Form(
        heading=words.t("write.heading", what=words.t(f"kind_of.{kind}"), about=asked.plan.title(place)),
        action=f"/bins/{place}/write",
        leave=f"/bins/{place}",
        kind=kind,
        fields=fields_of(SubjectKind.BIN, kind, asked.plan, words),
        at_ms=asked.now_ms,
        before=_wanted(asked, place, kind),
        do=words.t("write.do"),
        explained=words.t(f"explained.{kind}") if words.has(f"explained.{kind}") else "",
        caution=caution,
    )


def _wanted(asked: Asked, place: str, kind: str) -> Mapping[str, object]:
    if kind != BinEntryKind.WATER:
        return {}
    view = bins_now(asked).of(place)
    if view is None or view.outlook is None or view.outlook.litres < LEAST_LITRES:
        return {}
    return {"kg": round(view.outlook.litres, 1)}


def show_write(asked: Asked) -> Response:
    """The form, ready to be confirmed."""
    place, kind = asked.request.path_params["place"], asked.query("what")
    if not _can_be_filled(asked, place) or kind not in BIN_FIELDS:
        return problem(asked, 404, "problem.not_here")
    return show_form(asked, form_of(asked, place, kind))


def write_entry(asked: Asked) -> Response:
    """Write it down, unless the book says that it cannot be."""
    place, kind = asked.request.path_params["place"], asked.field("kind", 40)
    if not _can_be_filled(asked, place) or kind not in BIN_FIELDS:
        return problem(asked, 404, "problem.not_here")
    form = form_of(asked, place, kind)

    def work() -> str:
        said, before = typed(asked, form), _hours_now(asked, place)
        entry = bin_entry(place, kind, said.at_ms, said.body, author(asked), asked.now_ms)
        with asked.farm.context.writing() as store:
            number, _ = enter_about_bin(store, asked.plan, entry, asked.now_ms)
        return f"/bins/{quote(place)}?wrote={number}&before={before}"

    return write(asked, form, work)


def _hours_now(asked: Asked, place: str) -> str:
    if book_of(asked.store, asked.plan, asked.now_ms).filled(place) is None:
        return _NO_BEFORE
    view = bins_now(asked).of(place)
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
