"""Logbook: everything that was written, by whom and when; an entry is corrected, the first one stays."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from urllib.parse import urlencode

from starlette.responses import Response

from monitor.errors import UsageError
from monitor.records import MS_PER_DAY, LogbookEntry, SubjectKind
from monitor.views.bin_writing import bin_correction, bin_withdrawal, enter_about_bin
from monitor.views.cohort_writing import correction, enter, withdrawal
from monitor.views.page.entry_kinds import fields_of, kinds_of
from monitor.views.page.entry_page import Form, author, show_form, typed, write
from monitor.views.page.logbook_rows import newest, rows_of, title_of, wrote
from monitor.views.page.serving import Asked, Page, Part, problem

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


def wanted_of(asked: Asked) -> Wanted:
    """The choices in the address; what is not understood is left out."""
    days, skip = asked.query("days"), asked.query("skip")
    known = {str(each): each for each in DAYS}
    return Wanted(
        asked.query("about"),
        asked.query("kind"),
        known.get(days, DAYS[1]),
        int(skip) if skip.isascii() and skip.isdigit() and len(skip) < 7 else 0,
    )


def show_logbook(asked: Asked) -> Response:
    """The entries that are wanted, newest first."""
    wanted, every = wanted_of(asked), asked.store.logbook.every()
    chosen = newest(each for each in every if fits(each, wanted, asked.now_ms))
    rows = rows_of(asked, chosen[wanted.skip : wanted.skip + ROWS], every)
    more = len(chosen) > wanted.skip + ROWS
    return asked.render(
        "logbook.html",
        rows=rows,
        count=len(chosen),
        wanted=wanted,
        subjects=subjects(asked, every),
        kinds=kinds_written(asked, every),
        days=DAYS,
        older=_address(wanted, wanted.skip + ROWS) if more else "",
        newer=_address(wanted, max(0, wanted.skip - ROWS)) if wanted.skip else "",
        said=wrote(asked),
    )


def fits(entry: LogbookEntry, wanted: Wanted, now_ms: int) -> bool:
    """Whether an entry is among those that are wanted."""
    if wanted.about not in (_ALL, f"{entry.subject_kind}:{entry.subject}"):
        return False
    recent = max(entry.at_ms, entry.entered_ms) >= now_ms - wanted.days * MS_PER_DAY
    return recent and wanted.kind in (_ALL, entry.kind)


def _address(wanted: Wanted, skip: int) -> str:
    asked = {"about": wanted.about, "kind": wanted.kind, "days": wanted.days, "skip": skip or ""}
    return "/logbook?" + urlencode({key: value for key, value in asked.items() if value})


def subjects(asked: Asked, every: Iterable[LogbookEntry]) -> Sequence[tuple[str, str]]:
    """Everything that somebody wrote about, with its name; cohorts after the bins."""
    found = {f"{each.subject_kind}:{each.subject}": title_of(asked, each) for each in every}
    return sorted(found.items(), key=lambda each: (each[0].startswith("cohort"), each[1]))


def kinds_written(asked: Asked, every: Iterable[LogbookEntry]) -> Sequence[tuple[str, str]]:
    """The kinds of entries that there are, by name."""
    kinds = {each.kind for each in every}
    named = ((kind, asked.words.t(f"kind_of.{kind}")) for kind in kinds if asked.words.has(f"kind_of.{kind}"))
    return sorted(named, key=lambda each: each[1])


def _old(asked: Asked) -> LogbookEntry | None:
    """The entry of the address, if it can be corrected."""
    number = str(asked.request.path_params["number"])
    if not (number.isascii() and number.isdigit() and len(number) < 16):
        return None
    found = asked.store.logbook.one(int(number))
    return found if found is not None and found.kind in kinds_of(found.subject_kind) else None


def form_of(asked: Asked, old: LogbookEntry) -> Form:
    """The form with everything as it stands."""
    words, number = asked.words, old.entry_id
    others = [old.body["other"]] if isinstance(old.body.get("other"), str) else []
    return Form(
        heading=words.t("logbook.correct_heading", number=number, about=title_of(asked, old)),
        action=f"/logbook/{number}/correct",
        leave="/logbook",
        kind=old.kind,
        fields=fields_of(old.subject_kind, old.kind, asked.plan, words, [str(each) for each in others]),
        at_ms=old.at_ms,
        before=old.body,
        do=words.t("logbook.correct_do"),
        explained=words.t("logbook.correct_explained"),
        withdrawable=True,
    )


def show_correct(asked: Asked) -> Response:
    """The entry as a form."""
    old = _old(asked)
    if old is None:
        return problem(asked, 404, "problem.not_here")
    already = _refused_already(asked, old)
    if already:
        return problem(asked, 409, "problem.usage", already)
    return show_form(asked, form_of(asked, old))


def _refused_already(asked: Asked, old: LogbookEntry) -> str:
    newer = [each for each in asked.store.logbook.every(old.subject_kind) if each.corrects == old.entry_id]
    return asked.words.t("logbook.already", number=newer[0].entry_id) if newer else ""


def correct(asked: Asked) -> Response:
    """Write the entry that takes its place, or the one that says that it does not count."""
    old = _old(asked)
    if old is None:
        return problem(asked, 404, "problem.not_here")
    form, withdraw = form_of(asked, old), asked.field("withdraw") == "yes"

    def work() -> str:
        already = _refused_already(asked, old)
        if already:
            raise UsageError(already)
        entry = _withdrawn(asked, old) if withdraw else _corrected(asked, old, form)
        about = {"about": f"{old.subject_kind}:{old.subject}", "wrote": _enter(asked, entry)}
        return "/logbook?" + urlencode(about)

    return write(asked, form, work)


def _corrected(asked: Asked, old: LogbookEntry, form: Form) -> LogbookEntry:
    said = typed(asked, form)
    at_ms = said.at_ms if said.moved else None
    changes = {key: value for key, value in said.body.items() if _differs(key, value, old)}
    if not changes and at_ms is None:
        raise UsageError(asked.words.t("logbook.nothing_new"))
    if old.subject_kind is SubjectKind.COHORT:
        return correction(asked.store, old.entry_id or 0, at_ms, changes, author(asked), asked.now_ms)
    return bin_correction(old, at_ms, changes, author(asked), asked.now_ms)


def _differs(key: str, value: object, old: LogbookEntry) -> bool:
    """Whether a field says something else; shown values are rounded, which is no change."""
    before = old.body.get(key)
    if isinstance(value, int | float) and isinstance(before, int | float) and not isinstance(value, bool):
        return abs(value - before) > 0.0006 * max(1.0, abs(before))
    return value != before and not (value is None and before in ("", False))


def _withdrawn(asked: Asked, old: LogbookEntry) -> LogbookEntry:
    reason = asked.field("reason", 500)
    if old.subject_kind is SubjectKind.COHORT:
        return withdrawal(asked.store, old.entry_id or 0, reason, author(asked), asked.now_ms)
    return bin_withdrawal(old, reason, author(asked), asked.now_ms)


def _enter(asked: Asked, entry: LogbookEntry) -> int:
    with asked.farm.context.writing() as store:
        if entry.subject_kind is SubjectKind.COHORT:
            return enter(store, asked.plan, entry, asked.now_ms)[0]
        return enter_about_bin(store, asked.plan, entry, asked.now_ms)[0]


LOGBOOK = Part(
    "logbook",
    "/logbook",
    (
        Page("/logbook", get=show_logbook),
        Page("/logbook/{number}/correct", get=show_correct, post=correct),
    ),
    main=False,
)
