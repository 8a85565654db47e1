"""Logbook: everything that was written, by whom and when; an entry is corrected, the first one stays.

One entry of the logbook in the words of the page. What a person typed stays as it is.

Entries of the logbook as rows of a page, the corrected and withdrawn ones among them.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from urllib.parse import urlencode

from starlette.responses import Response

from monitor.errors import UsageError
from monitor.farm.entries import (
    bin_correction,
    bin_withdrawal,
    correction,
    enter,
    enter_about_bin,
    withdrawal,
)
from monitor.page.entries import Form, author, fields_of, kinds_of, show_form, typed, write
from monitor.page.serving import Page, Part, RequestContext, problem
from monitor.records import MS_PER_DAY, MS_PER_MINUTE, LogbookEntry, SubjectKind
from monitor.settings.plan import Plan
from monitor.store.logbook import WITHDRAWN
from monitor.words.localizer import Localizer, grams, grouped, kilograms, litres, percent, plain

Body = Mapping[str, object]


def entry_said(entry: LogbookEntry, words: Localizer, plan: Plan) -> str:
    """What the entry says, without its time, its note and who wrote it."""
    key = f"told.{entry.kind}"
    if not words.has(key):
        return entry.kind
    values = {name: _value(name, value, words, plan) for name, value in entry.body.items()}
    known: dict[str, object] = {name: values.get(name, words.t("value.none")) for name in _NAMES}
    known["number"] = entry.corrects
    if entry.kind == "water":
        known["kg"] = litres(words, _number(entry.body.get("kg")))
    head = words.t(_variant(key, entry.body, words), **known)
    more = [words.t(f"told.with_{name}", **{name: values[name]}) for name in _more(entry, values)]
    return words.listing([head, *more])


def _variant(key: str, body: Body, words: Localizer) -> str:
    """Some kinds are told in two ways: a fan on or off, a test by hand."""
    for name, wanted, ending in (("on", True, "on"), ("rough", True, "rough"), ("cover", "open", "open")):
        if body.get(name) == wanted and words.has(f"{key}_{ending}"):
            return f"{key}_{ending}"
    return key


_NAMES = (
    *("kg", "moisture", "place", "stage", "event", "how", "into", "other", "flies", "grams", "animals"),
    *("percent", "cover", "what", "larvae"),
)
_MORE: Mapping[str, tuple[str, ...]] = {
    "start": ("animals", "grams", "age_days", "purpose", "cage"),
    "move": ("purpose", "cage"),
    "planned_move": ("purpose", "cage"),
    "split": ("animals", "percent", "purpose", "cage"),
    "thin": ("animals", "percent"),
    "end": ("grams", "animals"),
    "fill": ("larvae", "age_days"),
    "larvae": ("age_days",),
    "water": ("back_to_kg",),
    "saw": ("sure_days",),
}


def _more(entry: LogbookEntry, values: Mapping[str, str]) -> list[str]:
    return [name for name in _MORE.get(entry.kind, ()) if name in values]


def _number(value: object) -> float:
    return float(value) if isinstance(value, int | float) else math.nan


def _figure(words: Localizer, value: object) -> str:
    number = _number(value)
    if not math.isfinite(number):
        return str(value)
    return grouped(words, number) if number == round(number) else plain(words, number)


def _value(name: str, value: object, words: Localizer, plan: Plan) -> str:
    shown = _SHOWN.get(name)
    if shown is not None:
        return shown(words, value) if math.isfinite(_number(value)) else str(value)
    if name in ("place", "cage"):
        return plan.title(str(value)) if str(value) in plan.places else str(value)
    group = _GROUPS.get(name)
    if group is not None and words.has(f"{group}.{value}"):
        return words.t(f"{group}.{value}")
    return str(value)


_SHOWN: Mapping[str, Callable[[Localizer, object], str]] = {
    "kg": lambda words, value: kilograms(words, _number(value)),
    "back_to_kg": lambda words, value: kilograms(words, _number(value)),
    "grams": lambda words, value: grams(words, _number(value)),
    "moisture": lambda words, value: percent(words, _number(value)),
    "animals": _figure,
    "flies": _figure,
    "larvae": _figure,
    "percent": _figure,
    "age_days": _figure,
    "sure_days": _figure,
}
_GROUPS: Mapping[str, str] = {
    "stage": "stage",
    "event": "seen",
    "how": "ending",
    "purpose": "purpose",
    "cover": "cover",
    "what": "taken",
}


STILL_SAID_MS = 10 * MS_PER_MINUTE


@dataclass(frozen=True, slots=True)
class EntryRow:
    """One entry. `state` is in_force, corrected or withdrawn; `remark` names the entry in its place."""

    number: int
    at: str
    about: str
    link: str
    said: str
    note: str
    who: str
    entered: str
    state: str
    remark: str
    can_correct: bool


def rows_of(
    request: RequestContext, entries: Iterable[LogbookEntry], every: Iterable[LogbookEntry]
) -> list[EntryRow]:
    """Rows in the order of the entries; `every` tells which of them were corrected."""
    newer: dict[int | None, LogbookEntry] = {
        each.corrects: each for each in every if each.corrects is not None
    }
    return [_row(request, entry, newer.get(entry.entry_id)) for entry in entries]


def _row(request: RequestContext, entry: LogbookEntry, newer: LogbookEntry | None) -> EntryRow:
    words = request.words
    state = "in_force" if newer is None else "withdrawn" if newer.kind == WITHDRAWN else "corrected"
    late = abs(entry.entered_ms - entry.at_ms) >= MS_PER_MINUTE
    known = entry.kind in kinds_of(entry.subject_kind)
    return EntryRow(
        number=entry.entry_id or 0,
        at=words.moment(entry.at_ms),
        about=title_of(request, entry),
        link=_link(request, entry),
        said=entry_said(entry, words, request.plan),
        note=str(entry.body.get("note") or ""),
        who=entry.author,
        entered=words.moment(entry.entered_ms) if late else "",
        state=state,
        remark=_remark(request, entry, newer, state),
        can_correct=newer is None and known,
    )


def _remark(request: RequestContext, entry: LogbookEntry, newer: LogbookEntry | None, state: str) -> str:
    words = request.words
    parts = [] if newer is None else [words.t(f"logbook.{state}", number=newer.entry_id)]
    if entry.corrects is not None and entry.kind != WITHDRAWN:
        parts.append(words.t("logbook.instead", number=entry.corrects))
    return words.listing(parts)


def title_of(request: RequestContext, entry: LogbookEntry) -> str:
    """The cohort's name, or the title of the place."""
    known = entry.subject_kind is SubjectKind.BIN and entry.subject in request.plan.places
    return request.plan.title(entry.subject) if known else entry.subject


def _link(request: RequestContext, entry: LogbookEntry) -> str:
    if entry.subject_kind is SubjectKind.COHORT:
        return f"/cohorts/{entry.subject}"
    return f"/bins/{entry.subject}" if entry.subject in request.plan.places else ""


def rows_about(request: RequestContext, about: SubjectKind, subject: str, most: int) -> list[EntryRow]:
    """The newest entries about one cohort or bin, those of others that made or took it too."""
    every = request.store.logbook.every(about)
    mine = [each for each in every if subject in _named(each)]
    return rows_of(request, newest(mine)[:most], every)


def _named(entry: LogbookEntry) -> Sequence[object]:
    return entry.subject, entry.body.get("into"), entry.body.get("other")


def newest(entries: Iterable[LogbookEntry]) -> list[LogbookEntry]:
    """The newest first."""
    return sorted(entries, key=lambda each: (each.at_ms, each.entry_id or 0), reverse=True)


def wrote(request: RequestContext) -> str:
    """What the entry says that the address names, if it was written just now; else ""."""
    number = request.query("wrote")
    if not (number.isascii() and number.isdigit() and len(number) < 16):
        return ""
    entry = request.store.logbook.one(int(number))
    if entry is None or not 0 <= request.now_ms - entry.entered_ms <= STILL_SAID_MS:
        return ""
    said = entry_said(entry, request.words, request.plan)
    return request.words.t("write.written", number=number, about=title_of(request, entry), said=said)


DAYS = (7, 30, 100, 400)
ROWS = 50
_ALL = ""


@dataclass(frozen=True, slots=True)
class Wanted:
    """What somebody wants to see: about one cohort or bin ("cohort:b12"), of one kind, of how many days."""

    about: str
    kind: str
    days: int
    skip: int


def wanted_of(request: RequestContext) -> Wanted:
    """The choices in the address; what is not understood is left out."""
    days, skip = request.query("days"), request.query("skip")
    known = {str(each): each for each in DAYS}
    return Wanted(
        request.query("about"),
        request.query("kind"),
        known.get(days, DAYS[1]),
        int(skip) if skip.isascii() and skip.isdigit() and len(skip) < 7 else 0,
    )


def show_logbook(request: RequestContext) -> Response:
    """The entries that are wanted, newest first."""
    wanted, every = wanted_of(request), request.store.logbook.every()
    chosen = newest(each for each in every if fits(each, wanted, request.now_ms))
    rows = rows_of(request, chosen[wanted.skip : wanted.skip + ROWS], every)
    more = len(chosen) > wanted.skip + ROWS
    return request.render(
        "logbook.html",
        rows=rows,
        count=len(chosen),
        wanted=wanted,
        subjects=subjects(request, every),
        kinds=kinds_written(request, every),
        days=DAYS,
        older=_address(wanted, wanted.skip + ROWS) if more else "",
        newer=_address(wanted, max(0, wanted.skip - ROWS)) if wanted.skip else "",
        said=wrote(request),
    )


def fits(entry: LogbookEntry, wanted: Wanted, now_ms: int) -> bool:
    """Whether an entry is among those that are wanted."""
    if wanted.about not in (_ALL, f"{entry.subject_kind}:{entry.subject}"):
        return False
    recent = max(entry.at_ms, entry.entered_ms) >= now_ms - wanted.days * MS_PER_DAY
    return recent and wanted.kind in (_ALL, entry.kind)


def _address(wanted: Wanted, skip: int) -> str:
    chosen = {"about": wanted.about, "kind": wanted.kind, "days": wanted.days, "skip": skip or ""}
    return "/logbook?" + urlencode({key: value for key, value in chosen.items() if value})


def subjects(request: RequestContext, every: Iterable[LogbookEntry]) -> Sequence[tuple[str, str]]:
    """Everything that somebody wrote about, with its name; cohorts after the bins."""
    found = {f"{each.subject_kind}:{each.subject}": title_of(request, each) for each in every}
    return sorted(found.items(), key=lambda each: (each[0].startswith("cohort"), each[1]))


def kinds_written(request: RequestContext, every: Iterable[LogbookEntry]) -> Sequence[tuple[str, str]]:
    """The kinds of entries that there are, by name."""
    kinds = {each.kind for each in every}
    named = (
        (kind, request.words.t(f"kind_of.{kind}")) for kind in kinds if request.words.has(f"kind_of.{kind}")
    )
    return sorted(named, key=lambda each: each[1])


def _old(request: RequestContext) -> LogbookEntry | None:
    """The entry of the address, if it can be corrected."""
    number = str(request.http.path_params["number"])
    if not (number.isascii() and number.isdigit() and len(number) < 16):
        return None
    found = request.store.logbook.one(int(number))
    return found if found is not None and found.kind in kinds_of(found.subject_kind) else None


def form_of(request: RequestContext, old: LogbookEntry) -> Form:
    """The form with everything as it stands."""
    words, number = request.words, old.entry_id
    others = [old.body["other"]] if isinstance(old.body.get("other"), str) else []
    return Form(
        heading=words.t("logbook.correct_heading", number=number, about=title_of(request, old)),
        action=f"/logbook/{number}/correct",
        leave="/logbook",
        kind=old.kind,
        fields=fields_of(old.subject_kind, old.kind, request.plan, words, [str(each) for each in others]),
        at_ms=old.at_ms,
        before=old.body,
        do=words.t("logbook.correct_do"),
        explained=words.t("logbook.correct_explained"),
        withdrawable=True,
    )


def show_correct(request: RequestContext) -> Response:
    """The entry as a form."""
    old = _old(request)
    if old is None:
        return problem(request, 404, "problem.not_here")
    already = _refused_already(request, old)
    if already:
        return problem(request, 409, "problem.usage", already)
    return show_form(request, form_of(request, old))


def _refused_already(request: RequestContext, old: LogbookEntry) -> str:
    newer = [each for each in request.store.logbook.every(old.subject_kind) if each.corrects == old.entry_id]
    return request.words.t("logbook.already", number=newer[0].entry_id) if newer else ""


def correct(request: RequestContext) -> Response:
    """Write the entry that takes its place, or the one that says that it does not count."""
    old = _old(request)
    if old is None:
        return problem(request, 404, "problem.not_here")
    form, withdraw = form_of(request, old), request.field("withdraw") == "yes"

    def work() -> str:
        already = _refused_already(request, old)
        if already:
            raise UsageError(already)
        entry = _withdrawn(request, old) if withdraw else _corrected(request, old, form)
        about = {"about": f"{old.subject_kind}:{old.subject}", "wrote": _enter(request, entry)}
        return "/logbook?" + urlencode(about)

    return write(request, form, work)


def _corrected(request: RequestContext, old: LogbookEntry, form: Form) -> LogbookEntry:
    said = typed(request, form)
    at_ms = said.at_ms if said.moved else None
    changes = {key: value for key, value in said.body.items() if _differs(key, value, old)}
    if not changes and at_ms is None:
        raise UsageError(request.words.t("logbook.nothing_new"))
    if old.subject_kind is SubjectKind.COHORT:
        return correction(request.store, old.entry_id or 0, at_ms, changes, author(request), request.now_ms)
    return bin_correction(old, at_ms, changes, author(request), request.now_ms)


def _differs(key: str, value: object, old: LogbookEntry) -> bool:
    """Whether a field says something else; shown values are rounded, which is no change."""
    before = old.body.get(key)
    if isinstance(value, int | float) and isinstance(before, int | float) and not isinstance(value, bool):
        return abs(value - before) > 0.0006 * max(1.0, abs(before))
    return value != before and not (value is None and before in ("", False))


def _withdrawn(request: RequestContext, old: LogbookEntry) -> LogbookEntry:
    reason = request.field("reason", 500)
    if old.subject_kind is SubjectKind.COHORT:
        return withdrawal(request.store, old.entry_id or 0, reason, author(request), request.now_ms)
    return bin_withdrawal(old, reason, author(request), request.now_ms)


def _enter(request: RequestContext, entry: LogbookEntry) -> int:
    with request.app.context.writing() as store:
        if entry.subject_kind is SubjectKind.COHORT:
            return enter(store, request.plan, entry, request.now_ms)[0]
        return enter_about_bin(store, request.plan, entry, request.now_ms)[0]


LOGBOOK = Part(
    "logbook",
    "/logbook",
    (
        Page("/logbook", get=show_logbook),
        Page("/logbook/{number}/correct", get=show_correct, post=correct),
    ),
    main=False,
)
