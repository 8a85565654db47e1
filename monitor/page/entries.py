"""The forms that write into the logbook: the fields of each kind of entry, how they are read and shown again.

What can be chosen comes from the farm. A refused form keeps what was typed.
"""

from __future__ import annotations

import secrets
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from enum import StrEnum

from starlette.responses import RedirectResponse, Response

from monitor.bins.evaporation import Cover
from monitor.bins.events import Taken
from monitor.development.events import Event, events_of
from monitor.development.progress import Ending, Purpose
from monitor.errors import UsageError
from monitor.farm.entries import EntryWriter
from monitor.farm.today import SPREAD
from monitor.logbook.amounts import (
    TwoReadings,
    parse_count,
    parse_days,
    parse_grams,
    parse_kg,
    parse_length_m,
    parse_mg,
    parse_percent,
    parse_share,
    parse_surface_m2,
)
from monitor.logbook.bin_entries import BinEntryKind
from monitor.logbook.case import Unconfirmed
from monitor.logbook.cohort_entries import CohortEntryKind
from monitor.logbook.place_entries import NodeEntryKind, PlaceEntryKind
from monitor.logbook.questions import EVERYTHING
from monitor.logbook.yield_entries import YieldEntryKind
from monitor.page.context import marked
from monitor.page.photos import KEPT, carried, photo_field, receive, with_entry
from monitor.page.serving import RequestContext, local_path
from monitor.records import MS_PER_DAY, PlaceKind, Stage, SubjectKind, local
from monitor.settings.plan import Plan
from monitor.settings.species import species_parameters
from monitor.words.entries import STILL_NOW_MS
from monitor.words.localizer import Localizer, plain, times_of_site
from monitor.yields.records import EggUse, LarvaeUse

LONGEST_TEXT = 60
LONGEST_NOTE = 500
FARTHEST_MS = 60 * 366 * MS_PER_DAY
Choices = Sequence[tuple[str, str]]


class FieldType(StrEnum):
    """What a field holds."""

    LITRES = "litres"
    KILOGRAMS = "kilograms"
    SHARE = "share"
    SIZE = "size"
    LENGTH = "length"
    GRAMS = "grams"
    WHOLE = "whole"
    DAYS = "days"
    MILLIGRAMS = "milligrams"
    PERCENT = "percent"
    CHOICE = "choice"
    SWITCH = "switch"
    FLAG = "flag"
    TEXT = "text"


class FormRefused(UsageError):
    """What was typed cannot be read; the problems are in the language of the page already."""

    def __init__(self, problems: Sequence[str]) -> None:
        self.problems = tuple(problems)
        super().__init__("{problems}", problems="\n".join(problems))


@dataclass(frozen=True, slots=True)
class Field:
    """One field: the key in the entry's body, what it holds, and what can be chosen (value, words).

    A folded one is seldom needed: it stands behind what is assumed without it. `label` names it where its
    key says something else elsewhere.
    """

    key: str
    type: FieldType
    needed: bool = False
    choices: Choices = ()
    folded: bool = False
    label: str = ""


def label_of(field: Field, words: Localizer) -> str:
    """The name of a field; of an amount with its unit."""
    return words.t("field.litres" if field.type is FieldType.LITRES else f"field.{field.label or field.key}")


def text_of(field: Field, value: object, words: Localizer) -> str:
    """A value of an entry as a person would type it into the field."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "on" if value else "off"
    if not isinstance(value, int | float):
        return str(value)
    match field.type:
        case FieldType.SHARE:
            return f"{plain(words, 100.0 * value, 1)} %"
        case FieldType.SIZE:
            return f"{_figure(value, words)} m2"
        case FieldType.LENGTH:
            return f"{_figure(100.0 * value, words)} cm"
    return _figure(value, words)


def _figure(value: float, words: Localizer) -> str:
    """A number that can be read one way only: three decimals would pass for thousands."""
    text = plain(words, value, 4)
    return f"{text}0" if len(text.partition(words.decimal)[2]) == 3 else text


def read(field: Field, text: str, words: Localizer) -> object:
    """The value of what was typed, None for nothing."""
    text = text.strip()
    if not text:
        if field.needed:
            raise FormRefused([words.t("write.missing", field=label_of(field, words))])
        return None
    try:
        return _READERS[field.type](field, text)
    except TwoReadings as error:
        raise FormRefused([words.headed(label_of(field, words), words.error(error))]) from None
    except (UsageError, ValueError, OverflowError):
        key = f"write.wrong_{field.type.value}"
        raise FormRefused([words.t(key, field=label_of(field, words), text=text[:LONGEST_TEXT])]) from None


def _choice(field: Field, text: str) -> object:
    if text not in {value for value, _ in field.choices}:
        raise ValueError(text)
    return text


def _switch(field: Field, text: str) -> object:
    return _choice(field, text) == "on"


_READERS: Mapping[FieldType, Callable[[Field, str], object]] = {
    # The label names the unit, so a bare number can be read one way only, however large it is.
    FieldType.LITRES: lambda _, text: round(parse_kg(text, "l"), 4),
    FieldType.KILOGRAMS: lambda _, text: round(parse_kg(text, "kg"), 4),
    FieldType.GRAMS: lambda _, text: parse_grams(text),
    FieldType.SHARE: lambda _, text: round(parse_share(text), 4),
    FieldType.SIZE: lambda _, text: round(parse_surface_m2(text), 5),
    FieldType.LENGTH: lambda _, text: parse_length_m(text),
    FieldType.WHOLE: lambda _, text: parse_count(text),
    FieldType.DAYS: lambda _, text: parse_days(text),
    FieldType.MILLIGRAMS: lambda _, text: parse_mg(text),
    FieldType.PERCENT: lambda _, text: parse_percent(text),
    FieldType.CHOICE: _choice,
    FieldType.SWITCH: _switch,
    FieldType.FLAG: lambda *_: True,
    FieldType.TEXT: lambda _, text: text[:LONGEST_TEXT],
}


_KG = Field("kg", FieldType.KILOGRAMS, needed=True)
_MOISTURE = Field("moisture", FieldType.SHARE, needed=True)
_PLACE = Field("place", FieldType.CHOICE, needed=True)
_STAGE = Field("stage", FieldType.CHOICE, needed=True)
_ANIMALS, _GRAMS = Field("animals", FieldType.WHOLE), Field("grams", FieldType.GRAMS)
_PURPOSE, _CAGE = Field("purpose", FieldType.CHOICE), Field("cage", FieldType.CHOICE)
_LARVAE, _AGE = Field("larvae", FieldType.WHOLE), Field("age_days", FieldType.DAYS)
_OF_COHORT = Field("cohort", FieldType.CHOICE)
_PERCENT = Field("percent", FieldType.PERCENT)
_USE, _MEAN_MG = Field("use", FieldType.CHOICE), Field("mean_mg", FieldType.MILLIGRAMS)
_HATCHED = Field("percent", FieldType.PERCENT, label="hatched"), Field("young_grams", FieldType.GRAMS)

BIN_FIELDS: Mapping[str, Sequence[Field]] = {
    BinEntryKind.WATER: (Field("kg", FieldType.LITRES, needed=True),),
    BinEntryKind.WEIGH: (_KG,),
    BinEntryKind.STIR: (Field(SPREAD, FieldType.FLAG),),
    BinEntryKind.FEED: (_KG, _MOISTURE, Field("feed", FieldType.TEXT)),
    BinEntryKind.TEST: (_MOISTURE, Field("rough", FieldType.FLAG)),
    BinEntryKind.COVER: (Field("cover", FieldType.CHOICE, needed=True),),
    BinEntryKind.FAN: (Field("on", FieldType.SWITCH, needed=True),),
    BinEntryKind.LARVAE: (Field("larvae", FieldType.WHOLE, needed=True), _AGE, _OF_COHORT),
    BinEntryKind.TAKE: (
        Field("kg", FieldType.KILOGRAMS),
        Field("what", FieldType.CHOICE, needed=True),
        _USE,
        Field("animals", FieldType.WHOLE, label="taken_animals"),
        _MEAN_MG,
        Field("moisture", FieldType.SHARE, label="residue_moisture"),
    ),
    BinEntryKind.FINISH: (),
    BinEntryKind.EMPTY: (
        Field("how", FieldType.CHOICE),
        Field("grams", FieldType.GRAMS, label="harvest_grams"),
        *(_USE, _MEAN_MG, Field("residue_kg", FieldType.KILOGRAMS)),
        *(Field("residue_moisture", FieldType.SHARE), Field("stays", FieldType.CHOICE)),
    ),
    BinEntryKind.FILL: (
        _KG,
        _MOISTURE,
        Field("surface_m2", FieldType.SIZE),
        Field("depth_m", FieldType.LENGTH),
        _LARVAE,
        _AGE,
        _OF_COHORT,
    ),
}
COHORT_FIELDS: Mapping[str, Sequence[Field]] = {
    CohortEntryKind.SAW: (
        Field("event", FieldType.CHOICE, needed=True),
        *_HATCHED,
        Field("sure_days", FieldType.DAYS),
    ),
    CohortEntryKind.FLIES: (
        Field("flies", FieldType.WHOLE, needed=True),
        Field("female_percent", FieldType.PERCENT),
    ),
    CohortEntryKind.EGGS: (Field("grams", FieldType.GRAMS, needed=True),),
    CohortEntryKind.COUNT: (Field("animals", FieldType.WHOLE, needed=True), _STAGE),
    CohortEntryKind.MOVE: (_PLACE, _PURPOSE, _CAGE),
    CohortEntryKind.PLANNED_MOVE: (_PLACE, _PURPOSE, _CAGE),
    CohortEntryKind.SPLIT: (
        Field("into", FieldType.TEXT, needed=True),
        _PERCENT,
        Field("place", FieldType.CHOICE),
        _PURPOSE,
        _CAGE,
    ),
    CohortEntryKind.MERGE: (Field("other", FieldType.CHOICE, needed=True),),
    CohortEntryKind.THIN: (_PERCENT, _ANIMALS),
    CohortEntryKind.END: (Field("how", FieldType.CHOICE, needed=True), _GRAMS, _ANIMALS, _USE, _MEAN_MG),
    CohortEntryKind.PURPOSE: (Field("purpose", FieldType.CHOICE, needed=True), _CAGE),
    CohortEntryKind.START: (_PLACE, _GRAMS, _STAGE, _ANIMALS, _PURPOSE, _CAGE),
    CohortEntryKind.NOTE: (),
}
PLACE_FIELDS: Mapping[str, Sequence[Field]] = {
    **dict.fromkeys(PlaceEntryKind, ()),
    YieldEntryKind.COLLECT: (
        Field("grams", FieldType.GRAMS, needed=True),
        Field("use", FieldType.CHOICE, label="egg_use"),
        *(Field("tray", FieldType.CHOICE), Field("strips", FieldType.WHOLE)),
        Field("clutches", FieldType.WHOLE),
    ),
    YieldEntryKind.DEAD: (Field("animals", FieldType.WHOLE), Field("grams", FieldType.GRAMS)),
    YieldEntryKind.NOTE: (),
}


_FIELDS: Mapping[SubjectKind, Mapping[str, Sequence[Field]]] = {
    SubjectKind.COHORT: COHORT_FIELDS,
    SubjectKind.BIN: BIN_FIELDS,
    SubjectKind.PLACE: PLACE_FIELDS,
    SubjectKind.NODE: dict.fromkeys(NodeEntryKind, ()),
}


def kinds_of(about: SubjectKind) -> Mapping[str, Sequence[Field]]:
    """All kinds of entries about cohorts or about bins."""
    return _FIELDS[about]


def fields_of(
    about: SubjectKind, kind: str, plan: Plan, words: Localizer, others: Iterable[str] = ()
) -> list[Field]:
    """The fields of a kind with what can be chosen; `others` are the cohorts that may be named.

    Where there is no cohort to be named, nobody is asked for one.
    """
    named = [(name, name) for name in others]
    choices = {**_CHOICES, **dict.fromkeys(("other", "cohort", "stays"), lambda *_: named)}
    if kind == YieldEntryKind.COLLECT:
        choices["use"] = _named("use", EggUse)
    fields = (
        replace(field, choices=tuple(choices[field.key](plan, words))) if field.key in choices else field
        for field in kinds_of(about)[kind]
    )
    return [field for field in fields if named or field.key not in ("cohort", "stays")]


def of_event(fields: Iterable[Field], event: str) -> list[Field]:
    """Without what is asked of a hatch alone, where something else was seen."""
    asked = {field.key for field in _HATCHED} if event != Event.HATCH else ()
    return [field for field in fields if field.key not in asked]


def _named(group: str, values: Iterable[str]) -> Callable[[Plan, Localizer], Choices]:
    listed = tuple(values)
    return lambda _, words: [(value, words.t(f"{group}.{value}")) for value in listed]


def _places(plan: Plan, _words: Localizer) -> Choices:
    return [(place.id, plan.title(place.id)) for place in plan.settings.places]


def _cages(plan: Plan, _words: Localizer) -> Choices:
    cages = (place.id for place in plan.settings.places if place.kind is PlaceKind.LOVE_CAGE)
    return [(cage, plan.title(cage)) for cage in cages]


def _trays(plan: Plan, _words: Localizer) -> Choices:
    """Where eggs may hatch: the hatching trays first, then bins, into which some set them at once."""
    kinds = (PlaceKind.HATCHING_TRAY, PlaceKind.GROW_OUT_BIN)
    places = [place for place in plan.settings.places if place.kind in kinds]
    trays = sorted(places, key=lambda place: place.kind is not PlaceKind.HATCHING_TRAY)
    return [(place.id, plan.title(place.id)) for place in trays]


def _stages(plan: Plan, words: Localizer) -> Choices:
    return [(stage, words.t(f"stage.{stage}")) for stage in stages_of_farm(plan)]


def _events(plan: Plan, words: Localizer) -> Choices:
    events = events_of(species_parameters(plan.species))
    return [(event, words.t(f"seen.{event}")) for event in events]


def stages_of_farm(plan: Plan) -> tuple[Stage, ...]:
    """The stages that the farm's species passes."""
    return tuple(stage.stage for stage in species_parameters(plan.species).stages)


_CHOICES: Mapping[str, Callable[[Plan, Localizer], Choices]] = {
    "place": _places,
    "cage": _cages,
    "stage": _stages,
    "event": _events,
    "how": _named("ending", (each for each in Ending if each is not Ending.MERGED)),
    "purpose": _named("purpose", Purpose),
    "cover": _named("cover", Cover),
    "what": _named("taken", Taken),
    "use": _named("use", LarvaeUse),
    "tray": _trays,
    "on": lambda _, words: [("on", words.t("field.switch_on")), ("off", words.t("field.switch_off"))],
}


@dataclass(frozen=True, slots=True)
class Form:
    """What a form is about: heading, where it is sent and where one gets back, its kind, its fields.

    `before` holds values of the body that are already known; `at_ms` is the prefilled time; a `named` form
    asks for a name and suggests `name`; `assumed` says what holds of its folded fields, `explained` what the
    kind alone does not say; a `correction` can be a withdrawal too, and `only_withdrawn` nothing else.
    `others` lead to the same form about other cohorts: name and address.
    """

    heading: str
    action: str
    leave: str
    kind: str
    fields: Sequence[Field]
    at_ms: int
    before: Mapping[str, object]
    named: bool = False
    name: str = ""
    assumed: str = ""
    explained: str = ""
    correction: bool = False
    only_withdrawn: bool = False
    others: Sequence[tuple[str, str]] = ()


@dataclass(frozen=True, slots=True)
class FormInput:
    """What a form brought along, read."""

    at_ms: int
    body: Mapping[str, object]
    moved: bool


def show_form(request: RequestContext, form: Form, refused: str = "", *, again: bool = False) -> Response:
    """The form: with what was typed where it was refused or is shown again, else prefilled."""
    words, at = request.words, at_words(form.at_ms, request)
    typed = bool(refused) or again

    def text(field: Field) -> str:
        return request.field(field.key) if typed else text_of(field, form.before.get(field.key), words)

    return request.render(
        "entry.html",
        400 if refused else 200,
        form=form,
        do=words.t("logbook.correct_do" if form.correction else "write.do"),
        explained=_explained(form, words),
        caution=words.t("write.caution_fan") if form.kind == BinEntryKind.FAN else "",
        fields=[(field, label_of(field, words), text(field)) for field in form.fields],
        at=_typed_at(request) if typed else at,
        at_shown=request.field("at_shown", 40) if typed else at,
        note=request.field("note", LONGEST_NOTE) if typed else str(form.before.get("note") or ""),
        name=request.field("name", 60) if typed else form.name,
        reason=request.field("reason", LONGEST_NOTE),
        mark=request.mark or secrets.token_urlsafe(9),
        refused=refused.splitlines(),
        photo=photo_field(request),
        back=local_path(request.field("back")),
    )


def _typed_at(request: RequestContext) -> str:
    """The time that was typed; of a form that waited on a phone the time at which it was made."""
    typed = request.field("at", 40)
    given = typed != request.field("at_shown", 40)
    return typed if given or not request.waited else at_words(request.made_ms, request)


_OWN_FIELDS = frozenset({"form_token", "mark", "confirmed", "change", "photo", KEPT})
"""Fields of a form that are not what was typed."""


def show_questions(request: RequestContext, form: Form, asked: Unconfirmed) -> Response:
    """The second step: what is unlikely, with everything that was typed; nothing is written yet."""
    known = frozenset(request.field("confirmed", LONGEST_NOTE).split())
    return request.render(
        "questions.html",
        form=form,
        questions=[request.words.sentence(each.sentence) for each in asked.questions],
        values=[
            request.words.headed(label_of(field, request.words), shown)
            for field in form.fields
            if (shown := _shown(request, field))
        ],
        typed=[
            *((name, request.form[name]) for name in request.form if name not in _OWN_FIELDS),
            *carried(request),
        ],
        confirmed=" ".join(sorted(known | {each.key for each in asked.questions})),
        mark=request.mark or secrets.token_urlsafe(9),
    )


def _shown(request: RequestContext, field: Field) -> str:
    """What was typed into a field, or the words of what was chosen."""
    typed = request.field(field.key)
    return dict(field.choices).get(typed, typed)


def _explained(form: Form, words: Localizer) -> str:
    if form.explained:
        return form.explained
    key = "logbook.correct_explained" if form.correction else f"explained.{form.kind}"
    return words.t(key) if words.has(key) else ""


def at_words(at_ms: int, request: RequestContext) -> str:
    """A time as a field for date and time holds it, to the minute."""
    return f"{local(at_ms, request.words.zone):%Y-%m-%dT%H:%M}"


def read_form(request: RequestContext, form: Form) -> FormInput:
    """What was typed; FormRefused with every problem."""
    moved = request.field("at", 40) != request.field("at_shown", 40)
    at_ms, body, problems = form.at_ms, dict[str, object](), list[str]()
    try:
        at_ms = _at_ms(request, form, moved)
    except FormRefused as error:
        problems += error.problems
    for field in form.fields:
        try:
            body[field.key] = read(field, request.field(field.key), request.words)
        except FormRefused as error:
            problems += error.problems
    if problems:
        raise FormRefused(problems)
    return FormInput(at_ms, {**body, "note": request.field("note", LONGEST_NOTE) or None}, moved)


def _at_ms(request: RequestContext, form: Form, moved: bool) -> int:
    """As typed. Untouched, a correction keeps its time, and what was just opened is now to the second."""
    if form.correction and not moved:
        return form.at_ms
    at_ms = moment_of(request.field("at", 40), request, ahead=form.kind == CohortEntryKind.PLANNED_MOVE)
    if request.waited and not moved and form.kind != CohortEntryKind.PLANNED_MOVE:
        return request.made_ms
    just_opened = not moved and 0 <= request.now_ms - at_ms < STILL_NOW_MS
    return request.now_ms if just_opened else at_ms


def moment_of(text: str, request: RequestContext, *, ahead: bool = False) -> int:
    """The moment that was typed, read as on the command line; none given is when the form was made."""
    if not text:
        return request.made_ms
    times = times_of_site(request.plan.settings, request.now_ms, ahead=ahead)
    try:
        at_ms: int | None = times.entry_moment(text)
    except (UsageError, OverflowError, ValueError):
        at_ms = None
    if at_ms is None or abs(at_ms - request.now_ms) > FARTHEST_MS:
        raise FormRefused([request.words.t("write.wrong_time", text=text)])
    return at_ms


@contextmanager
def entry_writer(request: RequestContext) -> Iterator[EntryWriter]:
    """Writes in the name given at the login, else as the role."""
    author = request.session.name or request.words.t(f"role.{request.session.role}")
    with request.app.context.writing() as store:
        confirmed = frozenset(request.field("confirmed", LONGEST_NOTE).split()) - EVERYTHING
        number = lambda: f"wrote={store.logbook.newest_id()}"  # noqa: E731
        with marked(request, store, number), with_entry(request, store):
            yield EntryWriter(store, request.plan, author, request.now_ms, confirmed)


def write(request: RequestContext, form: Form, work: Callable[[], str]) -> Response:
    """Do the work and go where it says; what it refuses is shown beside the form with what was typed.

    What it asks is shown as a second step, from which one gets back to the form.
    """
    try:
        receive(request)
        if request.field("change"):
            return show_form(request, form, again=True)
        target = work()
    except Unconfirmed as asked:
        return show_questions(request, form, asked)
    except UsageError as error:
        return show_form(request, form, request.words.error(error))
    request.app.context.feed.note()
    back = local_path(request.field("back"))
    return RedirectResponse(f"{back}?{target.partition('?')[2]}" if back else target, 303)
