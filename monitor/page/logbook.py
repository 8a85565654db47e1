"""The part "Logbook" of the page: everything that was written, by whom and when, and its corrections."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from urllib.parse import urlencode

from starlette.responses import RedirectResponse, Response

from monitor.errors import UsageError
from monitor.farm.entries import refuse_corrected
from monitor.logbook.bin_entries import PROBE_KIND
from monitor.logbook.cohort_entries import CohortEntryKind
from monitor.logbook.entry import corrections, in_force, names
from monitor.logbook.notebook import IMPORT_KEY
from monitor.page.entries import (
    LONGEST_NOTE,
    Field,
    Form,
    FormRefused,
    entry_writer,
    fields_of,
    kinds_of,
    of_event,
    read_form,
    show_form,
    write,
)
from monitor.page.photos import JPEG, PhotoRow, gone_words, photo_rows
from monitor.page.serving import Page, Part, RequestContext, problem
from monitor.records import MS_PER_DAY, MS_PER_MINUTE, LogbookEntry, SubjectKind
from monitor.store.photos import EntryPhoto
from monitor.words.entries import entry_text, remark_text, state_of, subject_title, written_text

STILL_SAID_MS = 10 * MS_PER_MINUTE
"""For how long the page says what was just written."""
DAYS = (7, 30, 100, 400)
ROWS = 50
MOST_SAID = 5
_ALL = ""


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
    photo: PhotoRow | None = None


def rows_of(
    request: RequestContext, entries: Iterable[LogbookEntry], every: Iterable[LogbookEntry]
) -> list[EntryRow]:
    """Rows in the order of the entries; `every` tells which of them were corrected."""
    newer, shown = corrections(every), tuple(entries)
    photos = photo_rows(request, [entry.entry_id or 0 for entry in shown])
    rows = (_row(request, entry, newer.get(entry.entry_id or 0)) for entry in shown)
    return [replace(row, photo=photos.get(row.number)) for row in rows]


def _row(request: RequestContext, entry: LogbookEntry, newer: LogbookEntry | None) -> EntryRow:
    words = request.words
    late = abs(entry.entered_ms - entry.at_ms) >= MS_PER_MINUTE
    return EntryRow(
        number=entry.entry_id or 0,
        at=words.moment(entry.at_ms),
        about=subject_title(entry, request.plan.title),
        link=_link(request, entry),
        said=entry_text(entry, words, request.plan.title),
        note=str(entry.body.get("note") or ""),
        who=entry.author,
        entered=words.moment(entry.entered_ms) if late else "",
        state=state_of(newer),
        remark=remark_text(entry, newer, words),
        can_correct=newer is None and _can_change(entry),
    )


def _link(request: RequestContext, entry: LogbookEntry) -> str:
    if entry.subject_kind is SubjectKind.COHORT:
        return f"/cohorts/{entry.subject}"
    if entry.subject_kind is SubjectKind.NODE:
        return "/nodes"
    if entry.subject_kind is SubjectKind.PLACE:
        return f"/places/{entry.subject}" if entry.subject in request.plan.places else ""
    return f"/bins/{entry.subject}" if entry.subject in request.plan.places else ""


def rows_about(request: RequestContext, about: SubjectKind, subject: str, most: int) -> list[EntryRow]:
    """The newest entries about one cohort or bin, those of others that made or took it too."""
    every = request.store.logbook.every(about)
    mine = [entry for entry in every if subject in _named(entry)]
    return rows_of(request, newest(mine)[:most], every)


def _named(entry: LogbookEntry) -> Sequence[object]:
    return entry.subject, entry.body.get("into"), entry.body.get("other")


def newest(entries: Iterable[LogbookEntry]) -> list[LogbookEntry]:
    """The newest first."""
    return sorted(entries, key=lambda entry: (entry.at_ms, entry.entry_id or 0), reverse=True)


def just_written(request: RequestContext) -> str:
    """What the entries say that the address names ("12" or "12-13"), if written just now; else ""."""
    said = (_just_written(request, number) for number in request.query("wrote").split("-")[:MOST_SAID])
    return " ".join(each for each in said if each)


def _just_written(request: RequestContext, number: str) -> str:
    if not (number.isascii() and number.isdigit() and len(number) < 16):
        return ""
    entry = request.store.logbook.one(int(number))
    if entry is None or not 0 <= request.now_ms - entry.entered_ms <= STILL_SAID_MS:
        return ""
    title = request.plan.title
    return written_text(entry, entry_text(entry, request.words, title), request.words, title)


@dataclass(frozen=True, slots=True)
class Selection:
    """Which entries are shown: about one cohort or bin ("cohort:b12"), of one kind, of how many days.

    Or those of one import, `run`, whatever their days.
    """

    about: str
    kind: str
    days: int
    skip: int
    run: str = ""


@dataclass(frozen=True, slots=True)
class ImportRow:
    """An import of a notebook as one line; `stands` says that some of it counts still."""

    run: str
    said: str
    link: str
    stands: bool


def selection_of(request: RequestContext) -> Selection:
    """The choices in the address; what is not understood is left out."""
    days, skip = request.query("days"), request.query("skip")
    known = {str(number): number for number in DAYS}
    return Selection(
        request.query("about"),
        request.query("kind"),
        known.get(days, DAYS[1]),
        int(skip) if skip.isascii() and skip.isdigit() and len(skip) < 7 else 0,
        request.query("run"),
    )


def show_logbook(request: RequestContext) -> Response:
    """The selected entries, newest first; of everything an import stands as one line."""
    selection, every = selection_of(request), request.store.logbook.every()
    chosen = newest(entry for entry in every if fits(entry, selection, request.now_ms))
    imports = import_rows(request, chosen, every) if selection.about == _ALL else []
    if not selection.run and imports:
        chosen = [entry for entry in chosen if IMPORT_KEY not in entry.body]
    rows = rows_of(request, chosen[selection.skip : selection.skip + ROWS], every)
    more = len(chosen) > selection.skip + ROWS
    return request.render(
        "logbook.html",
        rows=rows,
        imports=imports,
        count=len(chosen),
        selection=selection,
        subjects=subjects(request, every),
        kinds=kinds_written(request, every),
        days=DAYS,
        older=_address(selection, selection.skip + ROWS) if more else "",
        newer=_address(selection, max(0, selection.skip - ROWS)) if selection.skip else "",
        said=just_written(request),
    )


def fits(entry: LogbookEntry, selection: Selection, now_ms: int) -> bool:
    """Whether an entry is selected."""
    if selection.run:
        return entry.body.get(IMPORT_KEY) == selection.run
    if selection.about not in (_ALL, f"{entry.subject_kind}:{entry.subject}"):
        return False
    recent = max(entry.at_ms, entry.entered_ms) >= now_ms - selection.days * MS_PER_DAY
    return recent and selection.kind in (_ALL, entry.kind)


def import_rows(
    request: RequestContext, chosen: Iterable[LogbookEntry], every: Sequence[LogbookEntry]
) -> list[ImportRow]:
    """The imports among some entries, the newest first."""
    runs = dict.fromkeys(str(entry.body[IMPORT_KEY]) for entry in chosen if IMPORT_KEY in entry.body)
    counting = {entry.body.get(IMPORT_KEY) for entry in in_force(every)}
    rows = []
    for run in runs:
        count = sum(entry.body.get(IMPORT_KEY) == run and entry.corrects is None for entry in every)
        said = request.words.n("logbook.import_line", count, run=run)
        rows.append(ImportRow(run, said, "/logbook?" + urlencode({"run": run}), run in counting))
    return sorted(rows, key=lambda row: (len(row.run), row.run), reverse=True)


def undo_import(request: RequestContext) -> Response:
    """Take an import back as one."""
    run = request.field("run", 40)
    try:
        with entry_writer(request) as writer:
            writer.undo_import(run, "")
    except UsageError as error:
        return problem(request, 409, "problem.usage", request.words.error(error))
    request.app.context.feed.note()
    return RedirectResponse("/logbook?" + urlencode({"run": run}), 303)


def _address(selection: Selection, skip: int) -> str:
    chosen = {"about": selection.about, "kind": selection.kind, "days": selection.days, "skip": skip or ""}
    return "/logbook?" + urlencode({key: value for key, value in chosen.items() if value})


def subjects(request: RequestContext, every: Iterable[LogbookEntry]) -> Sequence[tuple[str, str]]:
    """Everything that somebody wrote about, with its name; cohorts after the bins."""
    title = request.plan.title
    titles = {f"{entry.subject_kind}:{entry.subject}": subject_title(entry, title) for entry in every}
    return sorted(titles.items(), key=lambda item: (item[0].startswith("cohort"), item[1]))


def kinds_written(request: RequestContext, every: Iterable[LogbookEntry]) -> Sequence[tuple[str, str]]:
    """The kinds of entries that there are, by name."""
    kinds = {entry.kind for entry in every}
    named = (
        (kind, request.words.t(f"kind_of.{kind}")) for kind in kinds if request.words.has(f"kind_of.{kind}")
    )
    return sorted(named, key=lambda item: item[1])


def _old(request: RequestContext) -> LogbookEntry | None:
    """The entry of the address, if it can be corrected."""
    number = str(request.http.path_params["number"])
    if not (number.isascii() and number.isdigit() and len(number) < 16):
        return None
    entry = request.store.logbook.one(int(number))
    return entry if entry is not None and _can_change(entry) else None


def _can_change(entry: LogbookEntry) -> bool:
    return entry.kind in kinds_of(entry.subject_kind) or entry.kind == PROBE_KIND


def form_of(request: RequestContext, old: LogbookEntry) -> Form:
    """The form with everything as it stands."""
    words, number = request.words, old.entry_id
    about = subject_title(old, request.plan.title)
    fields: Sequence[Field] = ()
    if old.kind != PROBE_KIND:
        fields = fields_of(old.subject_kind, old.kind, request.plan, words, _cohorts(request, old))
    if old.kind == CohortEntryKind.SAW:
        fields = of_event(fields, request.field("event") or str(old.body.get("event")))
    return Form(
        heading=words.t("logbook.correct_heading", number=number, about=about),
        action=f"/logbook/{number}/correct",
        leave="/logbook",
        kind=old.kind,
        fields=fields,
        at_ms=old.at_ms,
        before=old.body,
        correction=True,
        only_withdrawn=old.kind == PROBE_KIND,
    )


def _cohorts(request: RequestContext, old: LogbookEntry) -> list[str]:
    """The cohorts that a correction may name: those that the entry names, and those that live."""
    said = [each for key in ("other", "cohort", "stays") for each in names(old, key)]
    if old.subject_kind is SubjectKind.COHORT:
        return said
    living = [each.name for each in request.book().living]
    return list(dict.fromkeys((*said, *living)))


def show_correct(request: RequestContext) -> Response:
    """The entry as a form."""
    old = _old(request)
    if old is None:
        return problem(request, 404, "problem.not_here")
    try:
        refuse_corrected(request.store, old, withdraw=True)
    except UsageError as error:
        return problem(request, 409, "problem.usage", request.words.error(error))
    return show_form(request, form_of(request, old))


def correct(request: RequestContext) -> Response:
    """Write the entry that takes its place, or the one that says that it does not count."""
    old = _old(request)
    if old is None:
        return problem(request, 404, "problem.not_here")
    form, withdraw = form_of(request, old), request.field("withdraw") == "yes"

    def work() -> str:
        made = _withdrawn(request, old) if withdraw else _corrected(request, old, form)
        about = {"about": f"{old.subject_kind}:{old.subject}", "wrote": made.entry_id}
        return "/logbook?" + urlencode(about)

    return write(request, form, work)


def _withdrawn(request: RequestContext, old: LogbookEntry) -> LogbookEntry:
    with entry_writer(request) as writer:
        return writer.withdraw(old, request.field("reason", LONGEST_NOTE))


def _corrected(request: RequestContext, old: LogbookEntry, form: Form) -> LogbookEntry:
    refuse_corrected(request.store, old)
    said = read_form(request, form)
    changes = {key: value for key, value in said.body.items() if _differs(key, value, old)}
    if not changes and not said.moved and not request.photo.name:
        raise FormRefused([request.words.t("logbook.nothing_new")])
    with entry_writer(request) as writer:
        return writer.correct(old, said.at_ms if said.moved else None, changes)


def _differs(key: str, value: object, old: LogbookEntry) -> bool:
    """Whether a field says something else; shown values are rounded, which is no change."""
    before = old.body.get(key)
    if isinstance(value, int | float) and isinstance(before, int | float) and not isinstance(value, bool):
        return abs(value - before) > 0.0006 * max(1.0, abs(before))
    return value != before and not (value is None and before in ("", False))


# Photos: by the number of their entry, so that no name from outside leads to a file.


def _entry_of_photo(request: RequestContext) -> LogbookEntry | None:
    number = str(request.http.path_params["number"])
    known = number.isascii() and number.isdigit() and len(number) < 16
    return request.store.logbook.one(int(number)) if known else None


def show_photo(request: RequestContext) -> Response:
    """A photo as large as the screen, with what was written."""
    entry = _entry_of_photo(request)
    photo = None if entry is None else request.store.photos.of([entry.entry_id or 0]).get(entry.entry_id or 0)
    if entry is None or photo is None:
        return problem(request, 404, "problem.not_here")
    (row,) = rows_of(request, [entry], request.store.logbook.every(entry.subject_kind, entry.subject))
    there = photo.gone_ms is None and request.store.photos.file(photo.name).exists()
    return request.render(
        "photo.html",
        row=row,
        there=there,
        gone=gone_words(request, photo) if photo.gone_ms is not None else request.words.t("photo.lost"),
        width=photo.width,
        height=photo.height,
    )


def photo_file(request: RequestContext) -> Response:
    """The JPEG itself, for whoever is logged in: asked for anew each time, sent anew only when it changed."""
    entry, size = _entry_of_photo(request), request.http.path_params["size"]
    number = 0 if entry is None else entry.entry_id or 0
    photo = request.store.photos.of([number]).get(number)
    if photo is None or photo.gone_ms is not None or size not in ("full", "small"):
        return problem(request, 404, "problem.not_here")
    mark = f'"{size}-{photo.name}"'
    headers = {
        "cache-control": "private, no-cache",
        "etag": mark,
        "content-disposition": f'inline; filename="photo-{number}.jpg"',
    }
    if request.http.headers.get("if-none-match") == mark:
        return Response(status_code=304, headers=headers)
    content = _content(request, photo, small=size == "small")
    if content is None:
        return problem(request, 404, "problem.not_here")
    return Response(content, media_type=JPEG, headers=headers)


def _content(request: RequestContext, photo: EntryPhoto, *, small: bool) -> bytes | None:
    if small:
        return request.store.photos.small(photo.entry_id)
    try:
        return request.store.photos.file(photo.name).read_bytes()
    except OSError:
        return None


LOGBOOK = Part(
    "logbook",
    "/logbook",
    (
        Page("/logbook", get=show_logbook),
        Page("/logbook/undo", post=undo_import),
        Page("/logbook/{number}/correct", get=show_correct, post=correct, photo=True),
        Page("/photos/{number}", get=show_photo),
        Page("/photos/{number}/{size}.jpg", get=photo_file),
    ),
    main=False,
)
