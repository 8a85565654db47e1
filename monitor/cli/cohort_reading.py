"""`cohort list`, `cohort show`, `cohort import`: the logbook read, and a paper notebook read in."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any

import typer

from monitor.cli.context import SiteContext, looking, person, say_lines, working
from monitor.cli.json_records import cohort_json, entry_json
from monitor.cli.options import ByOption, ConfigOption, JsonOption, NameArgument, known_cohort, moment_of
from monitor.cli.output import complain, say, say_json, width
from monitor.development.progress import Cohort
from monitor.errors import UsageError
from monitor.farm.cohorts import ForecastView, forecast_view
from monitor.farm.development import cohorts_of, farm_validation_context
from monitor.logbook.notebook import NotebookReport, read_notebook, report_lines
from monitor.logbook.replay import WITHDRAWN
from monitor.records import LogbookEntry, SubjectKind
from monitor.words.cohorts import ENDING_WORDS, NONE_YET, STAGE_WORDS, cohort_lines, day, entry_words, number
from monitor.words.phrases import entry, moment, plural

MOST_PROBLEMS_SHOWN = 20


def list_cohorts(
    config: ConfigOption = None,
    show_all: Annotated[bool, typer.Option("--all", help="Those that have ended too.")] = False,
    as_json: JsonOption = False,
) -> None:
    """List the cohorts: stage, place, age, number, what they are meant for."""
    with looking(config) as look:
        book = cohorts_of(look.store, look.plan, look.now_ms)
        view = forecast_view(look.store, look.plan, look.now_ms, draws=1)
    chosen = book.cohorts.values() if show_all else book.living
    if as_json:
        say_json(
            {"cohorts": [cohort_json(each, look.plan, look.zone, view.of(each.name)) for each in chosen]}
        )
        return
    if not chosen:
        say_lines(
            entry("", NONE_YET if not book.cohorts else "No cohort lives now; --all lists the ended", width())
        )
    for cohort in chosen:
        say_lines(entry(f"{cohort.name:<12} ", _listed(cohort, view, look), width(), 4))


def _listed(cohort: Cohort, view: ForecastView, look: SiteContext) -> str:
    began = f"since {day(cohort.track.start_ms, look.zone)}"
    count = _count_words(cohort)
    meant = "" if cohort.purpose is None else f", for {cohort.purpose.value}"
    if cohort.ended is not None:
        return f"{ENDING_WORDS[cohort.ended.how]} {day(cohort.ended.at_ms, look.zone)}, {began}{meant}"
    found = view.of(cohort.name)
    stage = found.stage if found is not None else None
    words = "stage not known" if stage is None else STAGE_WORDS[stage]
    place = found.place_title if found is not None else look.plan.title(cohort.place_at(look.now_ms))
    return f"{words} in {place}, {began}{count}{meant}"


def _count_words(cohort: Cohort) -> str:
    track = cohort.track
    if track.count is None or track.count_stage is None:
        return ""
    rough = "about " if cohort.rough_count else ""
    return f", {rough}{number(track.count)} as {STAGE_WORDS[track.count_stage]}"


def show_cohort(name: NameArgument, config: ConfigOption = None, as_json: JsonOption = False) -> None:
    """Show one cohort: its forecast and every entry about it, the corrected ones too."""
    with looking(config) as look:
        known_cohort(name, look)
        cohort = cohorts_of(look.store, look.plan, look.now_ms).cohorts[name]
        view = forecast_view(look.store, look.plan, look.now_ms).of(name)
        entries = _entries(cohort, look)
    if as_json:
        told = cohort_json(cohort, look.plan, look.zone, view)
        say_json(told | {"entries": [entry_json(each, look.zone) for each in entries]})
        return
    if view is not None:
        say_lines(list(cohort_lines(view, look.zone, width())))
    else:
        say_lines(entry(f"{name}  ", _ended(cohort, look), width()))
    say()
    say("Logbook:", "heading")
    titles = {place: look.plan.title(place) for place in look.plan.places}
    corrected: dict[int | None, LogbookEntry] = {each.corrects: each for each in entries if each.corrects}
    for each in entries:
        say(
            f"{each.entry_id:>5}  {_line(each, corrected.get(each.entry_id), titles, look)}",
            _style(each, corrected),
        )


def _entries(cohort: Cohort, look: SiteContext) -> list[LogbookEntry]:
    """Entries about it, and those of others that made or took it."""
    every = look.store.logbook.every(SubjectKind.COHORT)
    name = cohort.name
    return [
        each
        for each in every
        if each.subject == name or each.body.get("into") == name or each.body.get("other") == name
    ]


def _ended(cohort: Cohort, look: SiteContext) -> str:
    if cohort.ended is None:
        return "lives"
    given = [
        f"{value:g} {unit}"
        for value, unit in ((cohort.ended.grams, "g"), (cohort.ended.animals, "animals"))
        if value is not None
    ]
    parts = [ENDING_WORDS[cohort.ended.how], moment(cohort.ended.at_ms, look.zone), *given]
    return ", ".join(parts)


def _line(each: LogbookEntry, newer: LogbookEntry | None, titles: dict[str, str], look: SiteContext) -> str:
    about = "" if each.author == "" else f", by {each.author}"
    if each.kind == WITHDRAWN:
        return f"{moment(each.entered_ms, look.zone)}  entry {each.corrects} withdrawn{about}"
    said = entry_words(each, titles, look.zone)
    instead = f"  (in place of {each.corrects})" if each.corrects is not None else ""
    if newer is None:
        return f"{said}{about}{instead}"
    what = "withdrawn" if newer.kind == WITHDRAWN else "corrected"
    return f"{said}{about}{instead}  [{what} by entry {newer.entry_id}]"


def _style(each: LogbookEntry, corrected: Mapping[int | None, LogbookEntry]) -> str:
    return "quiet" if each.entry_id in corrected else ""


def import_csv(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="The notebook as CSV.")],
    config: ConfigOption = None,
    try_only: Annotated[bool, typer.Option("--try", help="Only say what would be written.")] = False,
    by: ByOption = "",
    as_json: JsonOption = False,
) -> None:
    """Read a paper notebook in: one line an entry, with the columns when, cohort, what and others.

    Columns: when, cohort, what (start, move, split, merge, thin, saw, count, flies, eggs, end), by, place,
    stage, origin, feed, purpose, cage, event, how, into, other, note, animals, grams, percent, flies,
    sure_days, window_hours, age_days, through_percent. Nothing is written unless every line can be taken.
    """
    text = _text(file)
    with working(config, create=True) as look:
        stored = look.store.logbook.every(SubjectKind.COHORT)
        report = read_notebook(
            text,
            lambda written: moment_of(written, look),
            stored,
            farm_validation_context(look.plan),
            person(by),
            look.now_ms,
        )
        write = not report.problems and not try_only
        if write:
            look.store.logbook.add_all(report.entries)
    if as_json:
        say_json(_report_json(report, write))
    else:
        _say_report(report, file, write)
    if report.problems:
        raise typer.Exit(2)


def _text(file: Path) -> str:
    try:
        return file.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError:
        raise UsageError(f"{file} is not UTF-8 text; save it as CSV in UTF-8") from None
    except OSError as error:
        raise UsageError(f"{file} cannot be read: {error.strerror}") from None


def _say_report(report: NotebookReport, file: Path, written: bool) -> None:
    problems = list(report_lines(report))
    for line in problems[:MOST_PROBLEMS_SHOWN]:
        complain(f"{file.name}, {line}", "")
    if len(problems) > MOST_PROBLEMS_SHOWN:
        complain(f"and {len(problems) - MOST_PROBLEMS_SHOWN} more", "")
    known = f"; {plural(report.known, 'line')} stood in the logbook already" if report.known else ""
    entries = plural(len(report.entries), "entry", "entries")
    if problems:
        complain(f"{plural(len(problems), 'line')} cannot be taken, so nothing was written{known}")
    elif written:
        say(f"{entries} written{known}", "good")
    else:
        say(f"{entries} would be written{known}")


def _report_json(report: NotebookReport, written: bool) -> dict[str, Any]:
    return {
        "written": len(report.entries) if written else 0,
        "known": report.known,
        "problems": [{"line": each.line, "reason": each.reason} for each in report.problems],
    }
