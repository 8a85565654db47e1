"""The cohorts on the page: where each stands, what comes when, the cages, and what was seen in two taps."""

from __future__ import annotations

import secrets
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from urllib.parse import quote

from markupsafe import Markup
from starlette.responses import Response

from monitor.charts.cohort import stage_bar
from monitor.development.events import Event
from monitor.development.progress import Cohort, Purpose
from monitor.farm.book import cages_of
from monitor.farm.cohorts import (
    FLY_EVENTS,
    Awaited,
    CohortView,
    DueEvent,
    ForecastView,
    as_entered,
    cohorts_in_cage,
    likely_next,
    shared_among,
)
from monitor.farm.forecast_cache import CohortsAhead
from monitor.farm.supply import CageView
from monitor.logbook.cohort_entries import CohortEntryKind
from monitor.logbook.suggestions import (
    STAGE_OF_PLACE,
    next_name,
    usual_ending,
    usual_first_place,
    usual_next_place,
)
from monitor.logbook.yield_entries import YieldEntryKind
from monitor.page.curves import Curve, emergence_curve, supply_curve
from monitor.page.entries import (
    COHORT_FIELDS,
    Field,
    Form,
    FormRefused,
    entry_writer,
    fields_of,
    of_event,
    read_form,
    show_form,
    stages_of_farm,
    write,
)
from monitor.page.logbook import just_written, rows_about
from monitor.page.serving import Page, Part, RequestContext, drawn, problem
from monitor.page.yields import cage_links, cohort_lines, show_about, write_about
from monitor.records import MS_PER_DAY, PlaceKind, Stage, SubjectKind, local
from monitor.words.cohorts import (
    ask_sentence,
    coming_events,
    ended_sentence,
    event_words,
    flies_sentence,
    later_events,
    progress_words,
    rests_on,
    unknown_sentence,
    warning_sentences,
)
from monitor.words.localizer import Localizer, capitalised, day, days_long, window
from monitor.words.supply import cage_title, learned, remedy_sentences, verdict_sentence

ROWS = 12
MOST_ASKED = 5
"""Of how many cohorts it is asked at once what they are for."""
DUE = (Awaited.LATE, Awaited.NOW)
OF_CAGES = {CohortEntryKind.FLIES.value: "flies"}
"""What can be written of a cage, and the field with its amount."""
KINDS = tuple(kind for kind in COHORT_FIELDS if kind != CohortEntryKind.START)


@dataclass(frozen=True, slots=True)
class CohortCard:
    """What the page shows of a living cohort; empty where there is nothing to say.

    `offered` are the events that are likely to be seen next, each with its name.
    """

    name: str
    place: str
    place_id: str
    stage: str
    bar: Markup | None
    progress: str
    purpose: str
    next: str
    lines: tuple[tuple[str, str], ...]
    flies: str
    unknown: str
    warnings: tuple[str, ...]
    rests: str
    offered: tuple[tuple[str, str], ...]


def cohort_card(view: CohortView, stages: Sequence[Stage], words: Localizer) -> CohortCard:
    """The card of a cohort."""
    forecast, stage, purpose = view.forecast, view.stage, view.cohort.purpose
    known = forecast is not None and stage is not None
    coming = coming_events(view)
    return CohortCard(
        name=view.cohort.name,
        place=view.place_title,
        place_id=view.place,
        stage=words.t(f"stage.{stage}") if stage is not None else words.t("state.unknown"),
        bar=_bar(view, stages, words),
        progress=progress_words(forecast, words) if known and forecast is not None else "",
        purpose="" if purpose is None else words.t(f"purpose.{purpose}"),
        next=event_words(coming[0], words) if coming else "",
        lines=tuple(later_events(view, words)),
        flies=flies_sentence(view, words),
        unknown=unknown_sentence(forecast, words),
        warnings=tuple(warning_sentences(view, words)),
        rests=rests_on(view, words),
        offered=tuple((event, words.t(f"seen.{event}")) for event in likely_next(view)),
    )


def _bar(view: CohortView, stages: Sequence[Stage], words: Localizer) -> Markup | None:
    if view.forecast is None or view.stage is None or view.stage not in stages:
        return None
    return drawn(stage_bar(stages, view.stage, min(max(view.forecast.progress, 0.0), 1.0), words))


@dataclass(frozen=True, slots=True)
class CohortRow:
    """A cohort in one line: what comes next and in which window, and the buttons that write it down."""

    name: str
    stands: str
    event: str
    window: str
    buttons: tuple[tuple[str, str], ...]


def cohort_row(view: CohortView, words: Localizer, *, due: bool) -> CohortRow:
    """The line of a cohort; only one that is `due` has buttons."""
    expected, stage = view.expected, view.stage
    harvest = expected is not None and view.for_feed and expected.event is Event.FIRST_PREPUPAE
    path = f"/cohorts/{quote(view.cohort.name)}/write"
    buttons = []
    if due and harvest:
        buttons.append((capitalised(words.t("ending.harvested")), f"{path}?what=end"))
    elif due and expected is not None:
        buttons.append((words.t("cohorts.i_saw_it"), f"{path}?what=saw&event={expected.event}"))
    known = words.t("list.stage_unknown" if stage is None else f"stage.{stage}")
    return CohortRow(
        name=view.cohort.name,
        stands=words.listing([view.place_title] if view.forecast is None else [known, view.place_title]),
        event="" if expected is None else _event_title(expected, words, harvest=harvest),
        window="" if expected is None else window(words, expected.low_ms, expected.high_ms),
        buttons=tuple(buttons),
    )


def _event_title(due: DueEvent, words: Localizer, *, harvest: bool) -> str:
    return words.t("calendar.feed_first_prepupae") if harvest else words.t(f"seen.{due.event}")


@dataclass(frozen=True, slots=True)
class CageCard:
    """One cage: the verdict, what can still be done, and its curve."""

    cage: str
    title: str
    shape: str
    verdict: str
    remedies: tuple[str, ...]
    cohorts: tuple[str, ...]
    uncounted: tuple[str, ...]
    curve: Curve | None
    links: tuple[tuple[str, str], ...]


def cage_card(request: RequestContext, cage: CageView, living: Sequence[CohortView]) -> CageCard:
    """The card of a cage; `living` are the cohorts of its flies."""
    words, supply = request.words, cage.supply
    short = bool(supply.least_flies) and supply.gap is not None
    return CageCard(
        cage=supply.cage,
        title=cage_title(cage, words),
        shape="low" if short else "fine",
        verdict=verdict_sentence(cage, words),
        remedies=tuple(remedy_sentences(cage, words)),
        cohorts=cage.cohorts,
        uncounted=supply.uncounted,
        curve=supply_curve(request, supply) if cage.cohorts else None,
        links=tuple(_cage_links(supply.cage, words, counted=bool(living))) if supply.cage else (),
    )


def _cage_links(cage: str, words: Localizer, *, counted: bool) -> list[tuple[str, str]]:
    """What can be written of a cage; flies are counted where a cohort is known to give them."""
    flies = CohortEntryKind.FLIES
    count = [(words.t(f"kind_of.{flies}"), f"/cages/{quote(cage)}/write?what={flies}")] if counted else []
    return [*count, *cage_links(cage, words)]


def event_rows(view: CohortView, words: Localizer) -> list[tuple[str, str, str, bool]]:
    """Every event: its name, its day, its window, and whether it was seen."""
    seen = dict(view.seen)
    forecast = view.forecast
    made = {each.event: each for each in forecast.events} if forecast is not None else {}
    rows = []
    for event in Event:
        if event in seen:
            rows.append(
                (words.t(f"seen.{event}"), day(words, seen[event]), words.t("cohorts.was_seen"), True)
            )
        elif event in made and not (view.for_feed and event in FLY_EVENTS):
            each = made[event]
            span = window(words, each.low_ms, each.high_ms)
            rows.append((words.t(f"seen.{event}"), day(words, each.median_ms), span, False))
    return rows


def ahead_now(request: RequestContext) -> CohortsAhead:
    """All that is known of what comes, from what is kept."""
    context = request.app.context
    return context.forecasts.cohorts(request.store, request.plan, request.now_ms, context.reading)


def _soon(request: RequestContext) -> tuple[CohortsAhead | None, ForecastView, bool]:
    """What is known by now: of the newest entry what it says, though its forecasts come a moment later."""
    context, asked = request.app.context, (request.store, request.plan, request.now_ms)
    if context.patience_s is None:
        return (ahead := ahead_now(request)), ahead.forecast, True
    known, is_newest = context.forecasts.cohorts_soon(*asked, context.reading, context.patience_s)
    before = None if known is None else known.forecast
    if before is not None and is_newest:
        return known, before, True
    return known, as_entered(before, request.book(), request.plan, request.now_ms), False


def show_cohorts(request: RequestContext) -> Response:
    """What is due, each cohort in a line, the cages, and what the forecasts rest on."""
    (ahead, forecast, is_newest), words = _soon(request), request.words
    undecided = () if ahead is None else _undecided(ahead, forecast)
    near, cages = forecast.awaited(), () if ahead is None else ahead.supply.cages
    return request.render(
        "cohorts.html",
        living=len(forecast.cohorts),
        coming="" if is_newest else words.t("cohorts.coming" if ahead is None else "cohorts.working_in"),
        due=[cohort_row(view, words, due=True) for how in DUE for view in near[how]],
        week=[cohort_row(view, words, due=False) for view in near[Awaited.WEEK]],
        later=[cohort_row(view, words, due=False) for view in near[Awaited.LATER]],
        ask=ask_sentence(forecast, words),
        ask_of=forecast.ask,
        cages=[cage_card(request, each, _in_cage(request, each.supply.cage, forecast)) for each in cages],
        undecided=undecided[:MOST_ASKED],
        more_undecided=len(undecided[MOST_ASKED:]),
        purposes=tuple(Purpose),
        mark=secrets.token_urlsafe(9),
        learned=None if ahead is None else learned(ahead.learned, words),
        refused=[(each.entry.entry_id, words.sentence(each.reason)) for each in forecast.refused],
        as_of=words.hour(forecast.now_ms),
        said=just_written(request),
    )


def _undecided(ahead: CohortsAhead, forecast: ForecastView) -> tuple[str, ...]:
    """Of whom it is asked what they are for, but for those of whom it was said since."""
    views = (forecast.of(name) for name in ahead.supply.undecided)
    return tuple(view.cohort.name for view in views if view is not None and view.cohort.purpose is None)


def _in_cage(
    request: RequestContext, cage: str, forecast: ForecastView | None = None
) -> tuple[CohortView, ...]:
    return cohorts_in_cage(forecast or ahead_now(request).forecast, cage, cages_of(request.plan))


def _kinds(request: RequestContext) -> Mapping[str, PlaceKind]:
    return {place.id: place.kind for place in request.plan.settings.places}


def show_cohort(request: RequestContext) -> Response:
    """One cohort: its bar, all its events, its curve, its logbook."""
    name, words = request.http.path_params["cohort"], request.words
    view = ahead_now(request).forecast.of(name)
    cohort = view.cohort if view is not None else _cohort(request, name)
    if cohort is None:
        return problem(request, 404, "problem.not_here")
    forecast = None if view is None else view.forecast
    wanted = view is not None and not view.for_feed and forecast is not None
    return request.render(
        "cohorts_one.html",
        name=name,
        card=None if view is None else cohort_card(view, stages_of_farm(request.plan), words),
        events=[] if view is None else event_rows(view, words),
        curve=emergence_curve(request, forecast.emergence) if wanted and forecast is not None else None,
        ended=ended_sentence(cohort, words),
        kinds=KINDS if cohort.ended is None else (),
        move=_move_choices(request, cohort),
        asks_purpose=cohort.ended is None and cohort.purpose is None,
        purposes=tuple(Purpose),
        mark=secrets.token_urlsafe(9),
        yields=cohort_lines(request, name),
        rows=rows_about(request, SubjectKind.COHORT, name, ROWS),
        said=just_written(request) + _narrower(request, view),
    )


def _move_choices(request: RequestContext, cohort: Cohort) -> list[tuple[str, str, bool]]:
    """The places to which it can be moved, the usual one chosen; none where it ends where it is."""
    usual = usual_next_place(cohort, request.book().cohorts.values(), _kinds(request), request.now_ms)
    if cohort.ended is not None or usual is None:
        return []
    here = cohort.place_at(request.now_ms)
    places = [place.id for place in request.plan.settings.places if place.id == usual or place.id != here]
    return [(place, request.plan.title(place), place == usual) for place in places]


def _cohort(request: RequestContext, name: str) -> Cohort | None:
    return request.book().cohorts.get(name)


def window_days(view: CohortView | None) -> float | None:
    """How long the window of half of the flies is, else that of the next event."""
    if view is None or view.forecast is None:
        return None
    event = view.forecast.event(Event.HALF_EMERGED) or view.forecast.next_event()
    days = None if event is None else (event.high_ms - event.low_ms) / MS_PER_DAY
    return days if days is not None and days < 1000.0 else None


def _narrower(request: RequestContext, view: CohortView | None) -> str:
    """How the window changed with what was just written, from the tenths of days that the address names."""
    before, now = request.query("before"), window_days(view)
    if not (before.isascii() and before.isdigit() and len(before) < 5) or now is None:
        return ""
    words = request.words
    was, is_now = days_long(words, int(before) / 10.0), days_long(words, now)
    return "" if was == is_now else " " + words.t("cohorts.narrower", before=was, now=is_now)


def form_of(request: RequestContext, name: str, kind: str) -> Form:
    """The form of one kind of entry with what is likely; an event that the address names is chosen."""
    words, book = request.words, request.book()
    others = [each.name for each in book.living if each.name != name]
    event, path = request.query("event") or request.field("event"), quote(name)
    fields = fields_of(SubjectKind.COHORT, kind, request.plan, words, others)
    planned = kind == CohortEntryKind.PLANNED_MOVE
    before: Mapping[str, object] = {"event": event} if event in set(Event) else _likely(request, name, kind)
    return Form(
        heading=words.t("write.heading", what=words.t(f"kind_of.{kind}"), about=name),
        action=f"/cohorts/{path}/write",
        leave=f"/cohorts/{path}",
        kind=kind,
        fields=of_event(fields, event) if kind == CohortEntryKind.SAW else fields,
        at_ms=request.now_ms + MS_PER_DAY if planned else request.now_ms,
        before=before,
        others=[(each, _same_form(each, kind, event)) for each in others],
    )


def _same_form(name: str, kind: str, event: str) -> str:
    """The address of the form of a kind about another cohort."""
    return f"/cohorts/{quote(name)}/write?what={kind}" + (f"&event={quote(event)}" if event else "")


def _likely(request: RequestContext, name: str, kind: str) -> Mapping[str, object]:
    """What stands in the form already: the next event, the stage of a count, the usual place or ending."""
    view, book = ahead_now(request).forecast.of(name), request.book()
    cohort, every = book.cohorts.get(name), tuple(book.cohorts.values())
    stage = None if view is None else view.stage
    if kind == CohortEntryKind.COUNT and stage is not None:
        return {"stage": stage.value}
    if cohort is None or cohort.ended is not None:
        return {}
    if kind == CohortEntryKind.MOVE:
        return {"place": usual_next_place(cohort, every, _kinds(request), request.now_ms)}
    if kind == CohortEntryKind.END:
        return {"how": usual_ending(cohort, every, stage)}
    return {}


def start_form(request: RequestContext) -> Form:
    """The form of a new cohort: name, place and grams; the rest is folded, with what holds without it."""
    words, cohorts = request.words, request.book().cohorts
    begun = sorted(
        (each for each in cohorts.values() if each.parent is None), key=lambda each: each.track.start_ms
    )
    today = local(request.now_ms, words.zone).date()
    kind = CohortEntryKind.START
    return Form(
        heading=words.t("kind_of.start"),
        action="/cohorts/start",
        leave="/cohorts",
        kind=kind,
        fields=[_start_field(each) for each in fields_of(SubjectKind.COHORT, kind, request.plan, words)],
        at_ms=request.now_ms,
        before={"place": usual_first_place(cohorts.values(), _kinds(request), request.now_ms)},
        named=True,
        name=next_name([each.name for each in begun], cohorts, today, words.t("cohorts.first_name")),
        assumed=words.t("cohorts.assumed_start"),
    )


def _start_field(field: Field) -> Field:
    if field.key in ("place", "grams"):
        return field
    return replace(field, folded=True, needed=False)


def _with_stage(request: RequestContext, body: Mapping[str, object]) -> Mapping[str, object]:
    """What begins in a place without a word on its stage is what lives in such a place."""
    if body.get("stage") is not None:
        return body
    kind = _kinds(request).get(str(body["place"]))
    stage = None if kind is None else STAGE_OF_PLACE.get(kind)
    if stage not in stages_of_farm(request.plan):
        raise FormRefused([request.words.t("write.missing", field=request.words.t("field.stage"))])
    return {**body, "stage": stage.value if stage is not None else None}


def show_write(request: RequestContext) -> Response:
    """The form, ready to be confirmed."""
    name, kind = request.http.path_params["cohort"], request.query("what")
    if kind not in KINDS or _cohort(request, name) is None:
        return problem(request, 404, "problem.not_here")
    return show_form(request, form_of(request, name, kind))


def write_entry(request: RequestContext) -> Response:
    """Write it down, unless the book says that it cannot be."""
    name, kind = request.http.path_params["cohort"], request.field("kind", 40)
    if kind not in KINDS or _cohort(request, name) is None:
        return problem(request, 404, "problem.not_here")
    return _write(request, form_of(request, name, kind), name, kind)


def _write(request: RequestContext, form: Form, name: str, kind: str) -> Response:
    def work() -> str:
        said = read_form(request, form)
        body = _with_stage(request, said.body) if kind == CohortEntryKind.START else said.body
        saw = kind == CohortEntryKind.SAW
        before = window_days(ahead_now(request).forecast.of(name)) if saw else None
        with entry_writer(request) as writer:
            made = writer.write(name, CohortEntryKind(kind), said.at_ms, body)
        if kind == CohortEntryKind.PURPOSE:
            return f"/cohorts?wrote={made.entry_id}"
        mark = "" if before is None else f"&before={before * 10:.0f}"
        return f"/cohorts/{quote(name)}?wrote={made.entry_id}{mark}"

    return write(request, form, work)


def show_start(request: RequestContext) -> Response:
    """The form for a new cohort."""
    return show_form(request, start_form(request))


def start(request: RequestContext) -> Response:
    """Begin a cohort."""
    form, name = start_form(request), request.field("name", 60)
    if not name:
        missing = request.words.t("write.missing", field=request.words.t("field.name"))
        return show_form(request, form, missing)
    return _write(request, form, name, CohortEntryKind.START)


def cage_form(request: RequestContext, cage: str, kind: str) -> Form:
    """The form of what is counted or collected in a cage, which is written to the cohorts of its flies."""
    words = request.words
    names = words.listing([view.cohort.name for view in _in_cage(request, cage)])
    return Form(
        heading=words.t("write.heading", what=words.t(f"kind_of.{kind}"), about=request.plan.title(cage)),
        action=f"/cages/{quote(cage)}/write",
        leave="/cohorts",
        kind=kind,
        fields=fields_of(SubjectKind.COHORT, kind, request.plan, words),
        at_ms=request.now_ms,
        before={},
        explained=words.t(f"cohorts.cage_{kind}", cohorts=names),
    )


def _is_cage(request: RequestContext) -> bool:
    return _kinds(request).get(str(request.http.path_params["cage"])) is PlaceKind.LOVE_CAGE


def _cage_asked(request: RequestContext, kind: str) -> str | None:
    """The cage that the address names, where such a thing can be written of it."""
    cage = request.http.path_params["cage"]
    return str(cage) if _is_cage(request) and kind in OF_CAGES and _in_cage(request, cage) else None


def show_cage(request: RequestContext) -> Response:
    """The form of a cage, ready to be confirmed; eggs have that of the cage itself."""
    kind = request.query("what")
    if kind == CohortEntryKind.EGGS and _is_cage(request):
        return show_about(request, str(request.http.path_params["cage"]), YieldEntryKind.COLLECT)
    cage = _cage_asked(request, kind)
    if cage is None:
        return problem(request, 404, "problem.not_here")
    return show_form(request, cage_form(request, cage, kind))


def write_cage(request: RequestContext) -> Response:
    """Write what was counted in a cage to its cohorts, shared by the flies that each has given.

    Eggs are one entry about the cage, as by command; a page that a phone kept may still hand some in here.
    """
    kind = request.field("kind", 40)
    if kind == CohortEntryKind.EGGS and _is_cage(request):
        return write_about(request, str(request.http.path_params["cage"]), YieldEntryKind.COLLECT)
    cage = _cage_asked(request, kind)
    if cage is None:
        return problem(request, 404, "problem.not_here")
    form, views = cage_form(request, cage, kind), _in_cage(request, cage)
    key = OF_CAGES[kind]

    def work() -> str:
        said = read_form(request, form)
        amount = round(float(str(said.body[key])))
        shares = shared_among(views, amount)
        given = {name: share for name, share in shares.items() if share or not amount}
        with entry_writer(request) as writer:
            made = writer.write_all(
                [
                    writer.made(name, CohortEntryKind(kind), said.at_ms, {**said.body, key: share})
                    for name, share in given.items()
                ]
            )
        return "/cohorts?wrote=" + "-".join(str(each.entry_id) for each in made)

    return write(request, form, work)


COHORTS = Part(
    "cohorts",
    "/cohorts",
    (
        Page("/cohorts", get=show_cohorts),
        Page("/cohorts/start", get=show_start, post=start, photo=True),
        Page("/cohorts/{cohort}", get=show_cohort),
        Page("/cohorts/{cohort}/write", get=show_write, post=write_entry, photo=True),
        Page("/cages/{cage}/write", get=show_cage, post=write_cage, photo=True),
    ),
)
