"""What the farm yields, on the page: entries about cages and places, this week against last, what comes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from urllib.parse import quote

from starlette.responses import Response

from monitor.alarms.system import SITE
from monitor.development.events import Event
from monitor.development.progress import Cohort
from monitor.errors import UsageError
from monitor.farm.book import FILLED_KINDS, cages_of
from monitor.farm.yields import YieldsAhead, YieldsNow, days_of_places, promise_day
from monitor.logbook.amounts import parse_grams
from monitor.logbook.bin_entries import BinEntryKind
from monitor.logbook.yield_entries import CAGE_KINDS, YieldEntryKind
from monitor.page.entries import (
    Form,
    FormRefused,
    entry_writer,
    fields_of,
    moment_of,
    read_form,
    show_form,
    write,
)
from monitor.page.logbook import just_written
from monitor.page.serving import Page, Part, RequestContext, problem
from monitor.records import PlaceKind, Stage, SubjectKind
from monitor.words.localizer import Localizer
from monitor.words.supply import climate_sentences
from monitor.words.yields import (
    YieldLine,
    bin_sentence,
    cage_days,
    cage_sentence,
    days_csv,
    doubt_lines,
    is_told,
    keep_sentence,
    larva_weeks,
    missing_sentences,
    promise_sentence,
    rests_sentences,
    span_text,
    sum_brief,
    sum_lines,
    sum_title,
    week_lines,
)
from monitor.yields.breeding import PrepupaeToKeep
from monitor.yields.cages import CageSum
from monitor.yields.cohorts import CohortSum
from monitor.yields.fillings import FillingSum
from monitor.yields.records import EggUse

LAST_SUMS = 5
"""Of how many fillings and cohorts the sums are shown, the newest."""
MOST_GRAMS_A_WEEK = 100_000.0
OF_BINS = (BinEntryKind.FEED, BinEntryKind.TAKE, BinEntryKind.EMPTY)


@dataclass(frozen=True, slots=True)
class CageAhead:
    """What a cage gives within a week, and day by day."""

    title: str
    sentence: str
    days: Sequence[YieldLine]


@dataclass(frozen=True, slots=True)
class Writing:
    """What can be written about one place: its title, and words and address of each form."""

    title: str
    links: Sequence[tuple[str, str]]


@dataclass(frozen=True, slots=True)
class SumText:
    """The sums of one cage, filling or cohort: in one line, and each figure."""

    title: str
    brief: str
    lines: Sequence[YieldLine]


def yields_now_of(request: RequestContext) -> YieldsNow:
    """What was taken and given, from what is kept."""
    return request.app.context.forecasts.yields(request.store, request.plan, request.now_ms)


def yields_ahead_of(request: RequestContext) -> YieldsAhead:
    """What lies ahead, from what is kept."""
    context = request.app.context
    return context.forecasts.yields_ahead(request.store, request.plan, request.now_ms, context.reading)


def show_yields(request: RequestContext) -> Response:
    """This week against last, what is to come, what to write down to know more."""
    words, plan, ahead = request.words, request.plan, yields_ahead_of(request)
    now = yields_now_of(request).needing(ahead.keep)
    # What lies ahead may be as it was before the last entry; what was put right is doubted no more.
    ahead = ahead.doubts_in(now.takings)
    spans = [span_text(this, before, plan, words) for this, before in (now.weeks, now.months) if this]
    asked, refused = _asked(request, ahead)
    return request.render(
        "yields.html",
        400 if refused else 200,
        spans=spans,
        cages=[_cage_ahead(ahead, cage, request) for cage in ahead.eggs.known],
        egg_weeks=week_lines(ahead, None, words) if ahead.eggs.known else [],
        bins=[
            (plan.title(each.place), f"/bins/{each.place}", bin_sentence(each, words))
            for each in ahead.larvae.bins
        ],
        larva_weeks=larva_weeks(ahead, words),
        rests=list(rests_sentences(ahead, words)),
        asked=asked,
        refused=refused,
        can_ask=bool(ahead.eggs.cages),
        grams=request.query("grams") or _wanted(request),
        day=request.query("day"),
        doubts=doubt_lines(ahead, plan, words),
        missing=missing_sentences(now, ahead, plan, words),
        climate=_climate(request),
        sums=_sums(now, request),
        writing=_writing(request),
        said=just_written(request),
    )


def _climate(request: RequestContext) -> list[str]:
    """What the climate went with, from what is kept; nothing where too little was compared."""
    context = request.app.context
    said = context.forecasts.climate(request.store, request.plan, request.now_ms, context.reading)
    prices = request.plan.settings.prices
    return list(climate_sentences(said, request.words, "" if prices is None else prices.currency))


def _cage_ahead(ahead: YieldsAhead, cage: str, request: RequestContext) -> CageAhead:
    words = request.words
    return CageAhead(
        request.plan.title(cage), cage_sentence(ahead, cage, words), cage_days(ahead, cage, words)
    )


def _asked(request: RequestContext, ahead: YieldsAhead) -> tuple[list[str], list[str]]:
    """What the address asks: how many prepupae for so many grams, what to promise for a day; and refusals."""
    said, refused, words = list[str](), list[str](), request.words
    grams, day = request.query("grams").strip(), request.query("day").strip()
    try:
        keep = _kept(request, grams, ahead) if grams else ahead.keep
        if keep is not None:
            said.append(keep_sentence(keep, words))
    except (UsageError, ValueError):
        refused.append(words.t("write.wrong_grams", field=words.t("yields.ask_grams"), text=grams))
    try:
        if day:
            at_ms = promise_day(moment_of(day, request, ahead=True), request.now_ms, request.plan)
            said.append(promise_sentence(ahead, at_ms, words))
    except FormRefused as error:
        refused += error.problems
    except UsageError as error:
        refused.append(words.error(error))
    return said, refused


def _wanted(request: RequestContext) -> str:
    """The grams of eggs that the settings want in a week, as the field of the form shows them."""
    wanted = request.plan.settings.site.eggs_g_a_week
    return "" if wanted is None else f"{wanted:g}"


def _kept(request: RequestContext, grams: str, ahead: YieldsAhead) -> PrepupaeToKeep:
    wanted = float(parse_grams(grams))
    if not 0.0 < wanted <= MOST_GRAMS_A_WEEK:
        raise ValueError(grams)
    context = request.app.context
    cohorts = context.forecasts.cohorts_at_hand(request.store, request.plan, request.now_ms, context.reading)
    return cohorts.kept_for(wanted, ahead)


def _sums(now: YieldsNow, request: RequestContext) -> list[tuple[str, list[SumText]]]:
    groups: Mapping[str, Sequence[CageSum | FillingSum | CohortSum]] = {
        "cages": now.sums.cages,
        "bins": [each for each in now.sums.fillings if is_told(each)][: -LAST_SUMS - 1 : -1],
        "cohorts": [each for each in now.sums.cohorts if is_told(each)][: -LAST_SUMS - 1 : -1],
    }
    words = request.words
    return [
        (words.t(f"yields.{key}"), [_sum_text(each, request) for each in every])
        for key, every in groups.items()
        if every
    ]


def _sum_text(each: CageSum | FillingSum | CohortSum, request: RequestContext) -> SumText:
    words = request.words
    return SumText(sum_title(each, request.plan, words), sum_brief(each, words), sum_lines(each, words))


# What matters on the pages of a cage, a bin, a cohort: one line each.


def place_lines(request: RequestContext, place: str) -> list[str]:
    """What a cage or a filled bin gave and will give, as sentences; empty where nothing is known."""
    now, ahead, words = yields_now_of(request), yields_ahead_of(request), request.words
    sums = now.sums
    mine: list[CageSum | FillingSum] = [each for each in sums.cages if each.place == place]
    mine += [each for each in sums.fillings if each.place == place][-1:]
    said = [words.headed(sum_title(each, request.plan, words), sum_brief(each, words)) for each in mine]
    if place in ahead.eggs.known and mine:
        said.append(cage_sentence(ahead, place, words))
    return said


def cohort_lines(request: RequestContext, cohort: str) -> list[str]:
    """What a cohort gave, as one sentence."""
    mine = [each for each in yields_now_of(request).sums.cohorts if each.cohort == cohort]
    return [sum_brief(each, request.words) for each in mine]


# Entries about a place: eggs of a cage, dead flies, a note; where each kind of entry is made.


def _writing(request: RequestContext) -> list[Writing]:
    """The forms of all that is taken and given, place after place."""
    words, plan, book = request.words, request.plan, request.book()
    found = [Writing(plan.title(cage), cage_links(cage, words)) for cage in cages_of(plan)]
    hatching = [cohort.name for cohort in book.living if _may_hatch(cohort, request)]
    said = words.t("yields.hatch_seen")
    forms = {name: f"/cohorts/{quote(name)}/write?what=saw&event={Event.HATCH}" for name in hatching}
    found += [Writing(name, [(said, link)]) for name, link in forms.items()]
    for place in plan.settings.places:
        if place.kind in FILLED_KINDS and book.filled(place.id) is not None:
            links = [(words.t(f"kind_of.{kind}"), f"/bins/{place.id}/write?what={kind}") for kind in OF_BINS]
            found.append(Writing(plan.title(place.id), links))
    note = words.t(f"kind_of.{YieldEntryKind.NOTE}")
    return [*found, Writing(plan.title(SITE), [(note, f"/places/{SITE}/write?what={YieldEntryKind.NOTE}")])]


def _may_hatch(cohort: Cohort, request: RequestContext) -> bool:
    """Whether eggs lie in a tray of which nobody has said that they hatched."""
    place = request.plan.places.get(cohort.place_at(request.now_ms))
    in_tray = place is not None and place.kind is PlaceKind.HATCHING_TRAY
    began_as_eggs = cohort.track.start_stage is Stage.EGG and cohort.parent is None
    return in_tray and began_as_eggs and not any(seen.event is Event.HATCH for seen in cohort.seen)


def cage_links(cage: str, words: Localizer) -> list[tuple[str, str]]:
    """The forms of a cage."""
    kinds = (YieldEntryKind.COLLECT, YieldEntryKind.DEAD, YieldEntryKind.NOTE)
    return [(words.t(f"kind_of.{kind}"), f"/places/{quote(cage)}/write?what={kind}") for kind in kinds]


def form_of(request: RequestContext, place: str, kind: str) -> Form:
    """The form of one kind of entry; eggs go where the last ones of the cage went."""
    words, is_cage = request.words, place in cages_of(request.plan)
    return Form(
        heading=words.t("write.heading", what=words.t(f"kind_of.{kind}"), about=request.plan.title(place)),
        action=f"/places/{quote(place)}/write",
        leave=f"/places/{place}" if place in request.plan.places else "/yields",
        kind=kind,
        fields=fields_of(SubjectKind.PLACE, kind, request.plan, words),
        at_ms=request.now_ms,
        before=_as_last(request, place) if kind == YieldEntryKind.COLLECT and is_cage else {},
    )


def _as_last(request: RequestContext, cage: str) -> Mapping[str, object]:
    mine = [each for each in yields_now_of(request).takings.eggs if each.place == cage]
    if not mine or mine[-1].use is None:
        return {}
    last = mine[-1]
    return {"use": str(last.use), "tray": last.tray if last.use is EggUse.HATCH else None}


def _can_be_written(request: RequestContext, place: str, kind: str) -> bool:
    if kind == YieldEntryKind.NOTE:
        return place == SITE or place in request.plan.places
    known = request.plan.places.get(place)
    return kind in CAGE_KINDS and known is not None and known.kind is PlaceKind.LOVE_CAGE


def show_write(request: RequestContext) -> Response:
    """The form, ready to be confirmed."""
    return show_about(request, str(request.http.path_params["place"]), request.query("what"))


def show_about(request: RequestContext, place: str, kind: str) -> Response:
    """The form of what can be written about a place."""
    if not _can_be_written(request, place, kind):
        return problem(request, 404, "problem.not_here")
    return show_form(request, form_of(request, place, kind))


def write_entry(request: RequestContext) -> Response:
    """Write it down, unless the book says that it cannot be."""
    return write_about(request, str(request.http.path_params["place"]), request.field("kind", 40))


def write_about(request: RequestContext, place: str, kind: str) -> Response:
    """Write what a form says about a place."""
    if not _can_be_written(request, place, kind):
        return problem(request, 404, "problem.not_here")
    form = form_of(request, place, kind)

    def work() -> str:
        said = read_form(request, form)
        if said.body.get("use") == EggUse.SOLD and said.body.get("tray"):
            raise FormRefused([request.words.t("write.sold_and_tray")])
        with entry_writer(request) as writer:
            made = writer.write(place, YieldEntryKind(kind), said.at_ms, said.body)
        leads_to = "/yields" if place == SITE else f"/places/{quote(place)}"
        return f"{leads_to}?wrote={made.entry_id}"

    return write(request, form, work)


def give_days(request: RequestContext) -> Response:
    """Every day of every place as CSV, the same rows as those of the command: in the language of the farm."""
    words = Localizer.of_site(request.plan.settings, request.now_ms)
    days = days_of_places(request.store, request.plan, yields_now_of(request))
    headers = {"content-disposition": f'attachment; filename="{request.plan.settings.site.id}-days.csv"'}
    return Response(days_csv(days, request.plan, words), media_type="text/csv", headers=headers)


YIELDS = Part(
    "yields",
    "/yields",
    (
        Page("/yields", get=show_yields),
        Page("/yields/days.csv", get=give_days),
        Page("/places/{place}/write", get=show_write, post=write_entry, photo=True),
    ),
    main=False,
)
