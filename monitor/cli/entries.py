"""Writing into the logbook from the command line: what a person means, the entry, and what is said of it.

`logbook` lists the entries of all kinds and takes them back; `photos` says how much room theirs have.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Annotated, TypeVar

import typer

from monitor.bins.substrate import mixture
from monitor.development.progress import Cohort
from monitor.errors import UsageError
from monitor.farm.book import FILLED_KINDS, book_of
from monitor.farm.entries import Body, EntryKind, EntryWriter, entry_to_correct
from monitor.logbook.amounts import MATERIALS, find_place, parse_kg, parse_material, read_values
from monitor.logbook.bin_entries import BinEntryKind
from monitor.logbook.case import Unconfirmed
from monitor.logbook.cohort_entries import CohortEntryKind
from monitor.logbook.entry import corrections, in_force
from monitor.logbook.place_entries import PlaceEntryKind
from monitor.logbook.questions import EVERYTHING
from monitor.records import MS_PER_DAY, LogbookEntry, PlaceKind, SubjectKind, local
from monitor.settings.problems import suggestion
from monitor.store.photos import EntryPhoto
from monitor.terminal.context import (
    ByOption,
    ConfigOption,
    CorrectionOptions,
    EntryOptions,
    JsonOption,
    NoteOption,
    SiteContext,
    WithdrawOption,
    looking,
    person,
    with_options,
    working,
)
from monitor.terminal.json_records import entry_json
from monitor.terminal.output import at_terminal, complain, is_wanted, say, say_json, width
from monitor.words.entries import logged_line, noted_text, written_text
from monitor.words.guard import command
from monitor.words.localizer import entry as wrapped

_CORRECT_EXAMPLE = "Example: [bold]rearing-monitor logbook correct 31 --set grams=40 --set use=sold[/bold]"
_SHEET_EXAMPLES = (
    "Examples: [bold]rearing-monitor logbook sheet week.html[/bold] (to print), "
    "[bold]logbook sheet week.csv --week 2026-11-23[/bold] (for a spreadsheet)"
)
BeforeOption = Annotated[
    str,
    typer.Option(
        "--delete-before",
        metavar="TIME",
        help="Delete the photos of entries before then: 2026-05-01, 365 days ago. The entries stay.",
    ),
]
EntryOption = Annotated[
    list[int] | None,
    typer.Option("--delete", metavar="NUMBER", help="Delete the photo of this entry; once for each."),
]
_PHOTO_EXAMPLE = "Example: [bold]rearing-monitor photos --delete-before '365 days ago' --sure[/bold]"
SurePhotosOption = Annotated[
    bool, typer.Option("--sure", help="Delete them; without it they are only counted.")
]
_RUN = re.compile(r"import-\d+")
Written = TypeVar("Written")


def moment_of(text: str, site: SiteContext, *, ahead: bool = False) -> int:
    """The moment of an entry; a day alone is its noon, or now where its noon is still to come."""
    return site.times(ahead=ahead).entry_moment(text)


def known_place(written: str, site: SiteContext) -> str:
    """The id of a place; its title is understood too."""
    return find_place(written, {place: site.plan.title(place) for place in site.plan.places})


def known_bin(written: str, site: SiteContext) -> str:
    """The id of a place that can be filled."""
    place = known_place(written, site)
    if site.plan.places[place].kind not in FILLED_KINDS:
        raise UsageError(
            "{place} is a {kind}, which is not filled; allowed: {allowed}",
            place=place,
            kind=site.plan.places[place].kind,
            allowed=", ".join(other.id for other in site.plan.settings.places if other.kind in FILLED_KINDS),
        )
    return place


def known_cohort(name: str, site: SiteContext) -> Cohort:
    """The cohort of a name; UsageError names the nearest."""
    cohorts = book_of(site.store, site.plan, site.now_ms).cohorts
    if name in cohorts:
        return cohorts[name]
    near = suggestion(name, tuple(cohorts))
    if near:
        raise UsageError('there is no cohort {name}; do you mean "{near}"?', name=repr(name), near=near)
    raise UsageError("there is no cohort {name}; `cohort list --all` shows every one", name=repr(name))


def write_entry(
    site: SiteContext,
    subject: str,
    kind: EntryKind,
    options: EntryOptions,
    body: Body,
    ahead: bool = False,
    emptied: bool = False,
) -> LogbookEntry:
    """Check and add one entry about a cohort or a bin, and say what was written.

    Where it leaves a place without animals, a person at a terminal is asked whether that is empty.
    """
    if isinstance(kind, BinEntryKind):
        subject = known_bin(subject, site)
    elif isinstance(kind, CohortEntryKind) and kind is not CohortEntryKind.START:
        known_cohort(subject, site)
    at_ms = moment_of(options.at, site, ahead=ahead)
    noted = {**body, "note": options.note or body.get("note")}
    made = say_written(
        site,
        confirmed(site, options, lambda writer: writer.write(subject, kind, at_ms, noted, emptied=emptied)),
    )
    ask_if_empty(site, _writer(site, options.by), made)
    return made


def ask_if_empty(site: SiteContext, writer: EntryWriter, written: LogbookEntry) -> None:
    """Ask of each place that an entry left without animals whether it is empty; until then it is guarded."""
    for place in writer.left_by(written):
        title, empty = site.plan.title(place), f"place empty {place}"
        if at_terminal() and is_wanted(site.words.t("leave.ask", place=title)):
            say_written(site, writer.write(place, PlaceEntryKind.EMPTY, written.at_ms, {}))
        else:
            say(site.words.t("leave.stays", place=title, command=command(empty)), "warning")


def correct_entry(
    site: SiteContext,
    number: int,
    about: SubjectKind | None,
    changes_of: Callable[[LogbookEntry], Body],
    options: EntryOptions,
    *,
    withdraw: bool,
) -> LogbookEntry:
    """Correct or withdraw an entry and say what was written; `changes_of` gives the values that are right."""
    old = entry_to_correct(site.store, number, about, withdraw=withdraw)
    changes = changes_of(old)
    if withdraw == bool(changes or options.at):
        raise UsageError("give what is right, a time with --at, or both; or --withdraw alone")
    if withdraw:
        return say_written(site, confirmed(site, options, lambda writer: writer.withdraw(old, options.note)))
    noted = {**changes, "note": options.note} if options.note else changes
    at_ms = moment_of(options.at, site) if options.at else None
    return say_written(site, confirmed(site, options, lambda writer: writer.correct(old, at_ms, noted)))


def _writer(site: SiteContext, by: str) -> EntryWriter:
    return EntryWriter(site.store, site.plan, person(by), site.now_ms)


def confirmed(site: SiteContext, options: EntryOptions, write: Callable[[EntryWriter], Written]) -> Written:
    """What is written; the unlikely is asked on a terminal, else refused with the way to confirm it."""
    sure = EVERYTHING if options.sure else frozenset[str]()
    writer = replace(_writer(site, options.by), confirmed=sure)
    try:
        return write(writer)
    except Unconfirmed as asked:
        if not at_terminal():
            raise
        for question in asked.questions:
            complain(site.words.sentence(question.sentence), "warning")
        if not is_wanted(site.words.t("ask.write_it")):
            raise UsageError("nothing was written") from None
        return write(replace(writer, confirmed=frozenset(each.key for each in asked.questions)))


def say_written(site: SiteContext, entry: LogbookEntry) -> LogbookEntry:
    """Say what was written, with its number."""
    line = noted_text(entry, site.words, site.plan.title)
    say(written_text(entry, line, site.words, site.plan.title), "good")
    return entry


def say_log(
    site: SiteContext,
    entries: Iterable[LogbookEntry],
    every: Iterable[LogbookEntry],
    *,
    with_subject: bool = False,
) -> None:
    """Print entries of the logbook with their numbers; `every` tells which of them were corrected."""
    newer = corrections(every)
    for entry in entries:
        correction = newer.get(entry.entry_id or 0)
        line = logged_line(entry, correction, site.words, site.plan.title, with_subject=with_subject)
        for part in wrapped(f"{entry.entry_id:>5}  ", line, width(), 7):
            say(part, "" if correction is None else "quiet")


def mixed(materials: Sequence[str]) -> dict[str, object]:
    """Mass [kg] and moisture [ratio] of what was put together."""
    whole = mixture(parse_material(material) for material in materials)
    if whole.moisture >= 1.0:
        raise UsageError("that is water alone; say the dry material too: {allowed}", allowed=MATERIALS)
    return {"kg": round(whole.kg, 4), "moisture": round(whole.moisture, 4)}


def larvae_body(site: SiteContext, number: str, age: str, cohort: str) -> dict[str, object]:
    """Number and age [d] of larvae as said; what is left out is that of the cohort, where one is named."""
    said = read_values({"larvae": number, "age_days": age})
    if cohort:
        return {**said, "cohort": known_cohort(cohort, site).name}
    if age and not number:
        raise UsageError("--age needs the number of larvae: --larvae NUMBER, or --cohort NAME")
    return said


def net_kg(amount: str, box: str) -> float:
    """Mass of the contents [kg]: what the scale said without the empty box."""
    gross = parse_kg(amount)
    net = gross - parse_kg(box) if box else gross
    if net <= 0.0:
        raise UsageError(
            "the box alone ({box}) is as heavy as the whole ({whole}); check the two weights",
            box=box,
            whole=amount,
        )
    return round(net, 4)


def register(app: typer.Typer) -> None:
    """Add the commands of this module."""
    group = typer.Typer(no_args_is_help=True, rich_markup_mode="rich")
    group.command("list")(list_entries)
    group.command("correct", epilog=_CORRECT_EXAMPLE)(correct)
    group.command("undo")(undo)
    group.command("sheet", epilog=_SHEET_EXAMPLES)(sheet)
    group.callback()(logbook)
    app.add_typer(group, name="logbook")
    app.command("photos", epilog=_PHOTO_EXAMPLE)(photos)


def logbook() -> None:
    """All that was written down, with the numbers of the entries; take an entry or an import back."""


def list_entries(
    config: ConfigOption = None,
    days: Annotated[int, typer.Option("--days", min=1, help="Of how many days.")] = 30,
    show_all: Annotated[bool, typer.Option("--all", help="Those that do not count any more too.")] = False,
    as_json: JsonOption = False,
) -> None:
    """List the entries of all kinds with their numbers, the newest last."""
    with looking(config) as site:
        stored = site.store.logbook.every()
        from_ms = site.now_ms - days * MS_PER_DAY
        chosen = [
            entry
            for entry in (stored if show_all else in_force(stored))
            if max(entry.at_ms, entry.entered_ms) >= from_ms
        ]
        if as_json:
            say_json({"entries": [entry_json(entry, site.zone) for entry in chosen]})
        elif chosen:
            say_log(site, chosen, stored, with_subject=True)
        else:
            say(site.words.t("logbook.nothing"))


@with_options
def correct(
    options: CorrectionOptions,
    number: Annotated[int, typer.Argument(metavar="ENTRY", help="Number of the entry, from `logbook list`.")],
    changes: Annotated[
        list[str] | None,
        typer.Option(
            "--set", metavar="KEY=VALUE", help="A value that is right, such as grams=40. Repeat it."
        ),
    ] = None,
    withdraw: WithdrawOption = False,
) -> None:
    """Correct an entry of any kind, or withdraw it. What was first written stays in the logbook."""
    with working(options.config) as site:
        said = changed_values(changes or [], site)
        correct_entry(site, number, None, lambda _: said, options, withdraw=withdraw)


def changed_values(written: Iterable[str], site: SiteContext) -> dict[str, object]:
    """The values of KEY=VALUE as a person writes them; nothing behind the sign takes a value away."""
    values: dict[str, str] = {}
    for change in written:
        key, sign, value = change.partition("=")
        if not sign or not key.strip():
            raise UsageError(
                "--set {change} is not understood; allowed: KEY=VALUE, such as animals=3000",
                change=repr(change),
            )
        place = key.strip() in ("place", "cage", "tray") and value.strip()
        values[key.strip()] = known_place(value.strip(), site) if place else value.strip()
    return read_values(values)


def sheet(
    target: Annotated[
        Path, typer.Argument(metavar="FILE", help="A file.html to print, or a file.csv for a spreadsheet.")
    ],
    config: ConfigOption = None,
    week: Annotated[
        str, typer.Option("--week", metavar="DAY", help="Any day of the week. Without it: this week.")
    ] = "",
) -> None:
    """Write the paper sheet of a week with the farm's own places; typed in, `cohort import` reads it.

    A file that is there already is never overwritten.
    """
    from monitor.charts.week_sheet import week_csv, week_html

    with looking(config, create=True) as site:
        plan = site.plan
        at_ms = site.times(ahead=True).entry_moment(week) if week else site.now_ms
        day = local(at_ms, site.zone).date()
        first = day - timedelta(days=day.weekday())
        cages = [place.id for place in plan.settings.places if place.kind is PlaceKind.LOVE_CAGE]
        places = [(place.id, plan.title(place.id)) for place in plan.settings.places]
        if target.suffix.lower() == ".csv":
            text = "\ufeff" + week_csv(first, cages, site.words)
        elif target.suffix.lower() in (".html", ".htm"):
            text = week_html(plan.settings.site.title, first, cages, places, site.words)
        else:
            raise UsageError("{file} ends in neither .html nor .csv", file=str(target))
        write_new(target, text)
        say(site.words.t("sheet.written", file=str(target), first=first.isoformat()), "good")


def write_new(target: Path, text: str) -> None:
    """Write a file that was not there before; one that is there stays as it is."""
    try:
        with target.open("x", encoding="utf-8", newline="") as stream:
            stream.write(text)
    except FileExistsError:
        raise UsageError(
            "{path} exists already; nothing was written. To mend: give another name", path=str(target)
        ) from None
    except OSError as error:
        raise UsageError("{file} cannot be written: {why}", file=target, why=error.strerror) from None


def undo(
    what: Annotated[
        str,
        typer.Argument(metavar="ENTRY", help="Number of an entry, or an import such as import-1."),
    ],
    config: ConfigOption = None,
    by: ByOption = "",
    note: NoteOption = "",
) -> None:
    """Take an entry back, or all that an import wrote. It stays in the logbook, and counts no more."""
    options = EntryOptions(config=config, by=by, note=note)
    with working(config) as site:
        if _RUN.fullmatch(what):
            undone = confirmed(site, options, lambda writer: writer.undo_import(what, note))
            say(site.words.n("logbook.undone", len(undone), run=what), "good")
            return
        if not (what.isascii() and what.isdigit()):
            raise UsageError(
                "{what} is neither the number of an entry nor an import; `logbook list` shows both",
                what=repr(what),
            )
        old = entry_to_correct(site.store, int(what), None, withdraw=True)
        say_written(site, confirmed(site, options, lambda writer: writer.withdraw(old, note)))


def photos(
    delete_before: BeforeOption = "",
    delete: EntryOption = None,
    sure: SurePhotosOption = False,
    by: ByOption = "",
    config: ConfigOption = None,
) -> None:
    """How much room the photos of entries take; old ones can be deleted.

    None is deleted by itself. That an entry had one, and who deleted it when, stays
    written. Copies that were made before keep theirs.
    """
    with working(config) as site:
        if not delete_before and not delete:
            _say_photo_room(site)
            return
        chosen = _photos_chosen(site, delete_before, delete or [])
        megabytes = site.words.number(sum(photo.size_bytes for photo in chosen) / 1e6, 1)
        if not sure:
            say(site.words.n("photos.would_delete", len(chosen), megabytes=megabytes))
            return
        site.store.photos.delete([each.entry_id for each in chosen], site.now_ms, person(by))
        say(site.words.n("photos.deleted", len(chosen), megabytes=megabytes), "good")


def _say_photo_room(site: SiteContext) -> None:
    words, store = site.words, site.store
    room = store.photos.room(site.farm.settings.store.photos_mb * 1_000_000)
    used, most = (words.number(size / 1e6, 1) for size in (room.used_bytes, room.most_bytes))
    say(words.n("photos.room", room.count, used=used, most=most, folder=str(store.photos.folder)))
    oldest = next(iter(store.photos.standing()), None)
    entry = None if oldest is None else store.logbook.one(oldest.entry_id)
    if entry is not None:
        say(words.t("photos.oldest", at=words.said_back(entry.at_ms), number=entry.entry_id), "quiet")


def _photos_chosen(site: SiteContext, before: str, numbers: Sequence[int]) -> Sequence[EntryPhoto]:
    standing = {photo.entry_id: photo for photo in site.store.photos.standing()}
    unknown = [number for number in numbers if number not in standing]
    if unknown:
        raise UsageError(
            "entry {number} has no photo; nothing was deleted. `logbook list` shows the numbers",
            number=unknown[0],
        )
    old = site.store.photos.standing(site.times().moment(before)) if before else ()
    return tuple({photo.entry_id: photo for photo in (*old, *(standing[each] for each in numbers))}.values())
