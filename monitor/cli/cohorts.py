"""`cohort`: the logbook of cohorts, looked at, written into, corrected, and a paper notebook read into it.

Each command adds one entry; nothing that was written is ever lost.
"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Annotated

import typer

from monitor.cli.entries import (
    changed_values,
    correct_entry,
    known_cohort,
    known_place,
    moment_of,
    say_log,
    write_entry,
)
from monitor.cli.forecast import START_COMMAND, cohort_lines
from monitor.development.events import Event
from monitor.development.progress import Cohort, Ending, Origin, Purpose
from monitor.errors import UsageError
from monitor.farm.book import book_of
from monitor.farm.cohorts import ForecastView, forecast_view
from monitor.farm.entries import EntryWriter
from monitor.logbook.amounts import read_values
from monitor.logbook.cohort_entries import CohortEntryKind
from monitor.logbook.notebook import LineProblem, NotebookReport
from monitor.logbook.questions import EVERYTHING
from monitor.records import MS_PER_HOUR, LogbookEntry, Stage, SubjectKind
from monitor.terminal.context import (
    ByOption,
    CageOption,
    ConfigOption,
    CorrectionOptions,
    DayEntryOptions,
    EmptiedOption,
    EntryOptions,
    JsonOption,
    MeanOption,
    NameArgument,
    PlaceArgument,
    SiteContext,
    SureOption,
    UseOption,
    WithdrawOption,
    WithinOption,
    looking,
    person,
    say_lines,
    with_options,
    working,
)
from monitor.terminal.json_records import Json, cohort_json, entry_json
from monitor.terminal.output import complain, say, say_json, width
from monitor.words.cohorts import ended_sentence
from monitor.words.entries import spoken_words
from monitor.words.localizer import animals, day, entry

MOST_PROBLEMS_SHOWN = 20
NOTHING: frozenset[str] = frozenset()

ForOption = Annotated[
    Purpose | None, typer.Option("--for", help="What it is meant for: flies for the cages, or feed.")
]
EndHow = Annotated[Ending, typer.Argument(help="How it ended.")]
PercentOption = Annotated[str, typer.Option("--percent", metavar="PERCENT", help="Share of it, in percent.")]
AnimalsOption = Annotated[str, typer.Option("--animals", metavar="NUMBER", help="Number of animals.")]
GramsOption = Annotated[
    str, typer.Option("--grams", metavar="AMOUNT", help="Weight, in g where no unit is written.")
]

_START_EXAMPLE = (
    'Example: [bold]rearing-monitor cohort start eggs-1 tray-1 --stage egg --at "yesterday 18:00" '
    "--grams 5 --for breeding --cage cage-1[/bold]"
)
_SAW_EXAMPLE = 'Example: [bold]rearing-monitor cohort saw eggs-1 hatch --at "yesterday 07:00"[/bold]'
_PURPOSE_EXAMPLE = "Example: [bold]rearing-monitor cohort purpose eggs-1 breeding --cage cage-1[/bold]"
_COUNT_EXAMPLES = (
    "Examples: [bold]cohort count eggs-1 --flies 140 --at yesterday[/bold], "
    "[bold]cohort count eggs-1 --animals 4000 --stage larva[/bold], "
    "[bold]cohort count eggs-1 --eggs 12.5[/bold]"
)


def register(app: typer.Typer) -> None:
    """Add the commands of this module."""
    group = typer.Typer(no_args_is_help=True, rich_markup_mode="rich")
    for name, command, epilog in (
        ("start", start, _START_EXAMPLE),
        ("move", move, None),
        ("split", split, None),
        ("merge", merge, None),
        ("thin", thin, None),
        ("saw", saw, _SAW_EXAMPLE),
        ("count", count, _COUNT_EXAMPLES),
        ("purpose", purpose, _PURPOSE_EXAMPLE),
        ("end", end, None),
        ("list", list_cohorts, None),
        ("show", show_cohort, None),
        ("correct", correct, None),
        ("import", import_csv, None),
    ):
        group.command(name, epilog=epilog)(command)
    group.callback()(cohort)
    app.add_typer(group, name="cohort")


def cohort() -> None:
    """Keep the logbook of cohorts: begin, move, saw, end."""


@with_options
def start(
    options: EntryOptions,
    name: NameArgument,
    place: PlaceArgument,
    stage: Annotated[Stage, typer.Option("--stage", help="What it begins as.")],
    until: Annotated[
        str,
        typer.Option("--until", metavar="TIME", help="End of the time in which it was laid, from --at on."),
    ] = "",
    grams: GramsOption = "",
    animals: AnimalsOption = "",
    origin: Annotated[Origin | None, typer.Option("--origin", help="Where it comes from.")] = None,
    age: Annotated[str, typer.Option("--age", metavar="DAYS", help="Age when bought or caught.")] = "",
    through: Annotated[
        str, typer.Option("--through", metavar="PERCENT", help="How far through its stage it is.")
    ] = "",
    feed: Annotated[
        str, typer.Option("--feed", help="Feed, where the species file has numbers for it.")
    ] = "",
    meant: ForOption = None,
    cage: CageOption = "",
    within: WithinOption = "",
) -> None:
    """Begin a cohort: eggs that were laid, larvae hatched or bought, prepupae from the ramp, or pupae."""
    with working(options.config, create=True) as site:
        body = {
            "stage": stage.value,
            "place": known_place(place, site),
            "window_hours": _window_hours(options.at, until, site),
            "origin": origin,
            "feed": feed,
            "purpose": meant,
            "cage": known_place(cage, site) if cage else None,
            **read_values(
                {
                    "grams": grams,
                    "animals": animals,
                    "age_days": age,
                    "through_percent": through,
                    "sure_days": within,
                }
            ),
        }
        write_entry(site, name, CohortEntryKind.START, options, body)
        _say_forecast(site, name)


def _window_hours(at: str, until: str, site: SiteContext) -> float | None:
    if not until:
        return None
    start_ms, end_ms = moment_of(at, site), moment_of(until, site)
    if not start_ms < end_ms <= site.now_ms:
        raise UsageError("--until must lie after --at and not ahead; nothing was written")
    return (end_ms - start_ms) / MS_PER_HOUR


def _say_forecast(site: SiteContext, name: str) -> None:
    view = forecast_view(site.store, site.plan, site.now_ms).of(name)
    if view is not None:
        say_lines(list(cohort_lines(view, site.words, width())))


@with_options
def move(
    options: EntryOptions,
    name: NameArgument,
    place: PlaceArgument,
    planned: Annotated[
        bool, typer.Option("--planned", help="It will be moved then; the time lies ahead.")
    ] = False,
    meant: ForOption = None,
    cage: CageOption = "",
    emptied: EmptiedOption = False,
) -> None:
    """Move a cohort to another place, now or at another time; or plan to, so that forecasts know."""
    with working(options.config) as site:
        body = {
            "place": known_place(place, site),
            "purpose": meant,
            "cage": known_place(cage, site) if cage else None,
        }
        kind = CohortEntryKind.PLANNED_MOVE if planned else CohortEntryKind.MOVE
        write_entry(site, name, kind, options, body, ahead=planned, emptied=emptied)


@with_options
def split(
    options: EntryOptions,
    name: NameArgument,
    into: Annotated[str, typer.Argument(metavar="NEW", help="Name of the cohort that is taken out.")],
    place: Annotated[str, typer.Option("--to", metavar="PLACE", help="Where the new one lives.")] = "",
    percent: PercentOption = "",
    animals: AnimalsOption = "",
    meant: ForOption = None,
    cage: CageOption = "",
) -> None:
    """Take a part of a cohort out as a cohort of its own, such as a share kept back for breeding."""
    with working(options.config) as site:
        body = {
            "into": into,
            "place": known_place(place, site) if place else None,
            **read_values({"percent": percent, "animals": animals}),
            "animals_stage": _stage_now(site, name) if animals else None,
            "purpose": meant,
            "cage": known_place(cage, site) if cage else None,
        }
        write_entry(site, name, CohortEntryKind.SPLIT, options, body)


@with_options
def merge(
    options: EntryOptions,
    name: NameArgument,
    other: Annotated[str, typer.Argument(metavar="OTHER", help="The cohort that is put into it, and ends.")],
    emptied: EmptiedOption = False,
) -> None:
    """Put another cohort of about the same age into this one."""
    with working(options.config) as site:
        known_cohort(other, site)
        write_entry(site, name, CohortEntryKind.MERGE, options, {"other": other}, emptied=emptied)


@with_options
def thin(
    options: EntryOptions,
    name: NameArgument,
    percent: PercentOption = "",
    animals: AnimalsOption = "",
) -> None:
    """Take animals out of a cohort that are not followed any further."""
    with working(options.config) as site:
        body = read_values({"percent": percent, "animals": animals})
        write_entry(site, name, CohortEntryKind.THIN, options, body)


@with_options
def saw(
    options: DayEntryOptions,
    name: NameArgument,
    event: Annotated[Event, typer.Argument(help="What was seen.")],
    within: WithinOption = "",
) -> None:
    """Enter an event that was seen; it sharpens this forecast and those of later cohorts."""
    with working(options.config) as site:
        body = {"event": event.value, **read_values({"sure_days": within})}
        write_entry(site, name, CohortEntryKind.SAW, options, body)
        _say_forecast(site, name)


@with_options
def count(
    options: DayEntryOptions,
    name: NameArgument,
    animals: AnimalsOption = "",
    stage: Annotated[Stage | None, typer.Option("--stage", help="As what they were counted.")] = None,
    flies: Annotated[
        str, typer.Option("--flies", metavar="NUMBER", help="Flies that came out since the last count.")
    ] = "",
    eggs: Annotated[
        str,
        typer.Option("--eggs", metavar="GRAMS", help="Eggs collected, in g where no unit is written."),
    ] = "",
    females: Annotated[
        str, typer.Option("--females", metavar="PERCENT", help="Of the flies: how many were females.")
    ] = "",
) -> None:
    """Enter a number: animals in it now, flies that came out that day, or grams of eggs collected."""
    given = [value for value in (animals, flies, eggs) if value]
    with working(options.config) as site:
        if len(given) != 1:
            raise UsageError("give one of --animals, --flies and --eggs")
        known_cohort(name, site)
        if animals:
            counted_as = (stage or _stage_now(site, name)).value
            kind, body = CohortEntryKind.COUNT, {**read_values({"animals": animals}), "stage": counted_as}
        elif flies:
            kind = CohortEntryKind.FLIES
            body = read_values({"flies": flies, "female_percent": females})
        else:
            kind, body = CohortEntryKind.EGGS, read_values({"grams": eggs})
        write_entry(site, name, kind, options, body)


def _stage_now(site: SiteContext, name: str) -> Stage:
    view = forecast_view(site.store, site.plan, site.now_ms, draws=1).of(name)
    if view is None or view.stage is None:
        raise UsageError("the stage of {cohort} is not known now; say it with --stage", cohort=name)
    return view.stage


@with_options
def purpose(
    options: EntryOptions,
    name: NameArgument,
    meant: Annotated[
        Purpose, typer.Argument(metavar="FOR", help="What its animals are for: breeding or feed.")
    ],
    cage: CageOption = "",
) -> None:
    """Say what a cohort is for, where that was not said at its start or has changed."""
    with working(options.config) as site:
        body = {"purpose": meant.value, "cage": known_place(cage, site) if cage else None}
        write_entry(site, name, CohortEntryKind.PURPOSE, options, body)


@with_options
def end(
    options: DayEntryOptions,
    name: NameArgument,
    how: EndHow,
    grams: GramsOption = "",
    animals: AnimalsOption = "",
    use: UseOption = None,
    mean: MeanOption = "",
    emptied: EmptiedOption = False,
) -> None:
    """End a cohort: all flies out, harvested, sold or lost, with a weight or number where it is known."""
    with working(options.config) as site:
        weighed = {"grams": grams, "animals": animals, "mean_mg": mean}
        body = {"how": how.value, "use": use, **read_values(weighed)}
        write_entry(site, name, CohortEntryKind.END, options, body, emptied=emptied)


@with_options
def correct(
    options: CorrectionOptions,
    number: Annotated[int, typer.Argument(metavar="ENTRY", help="Number of the entry, from `cohort show`.")],
    changes: Annotated[
        list[str] | None,
        typer.Option(
            "--set", metavar="KEY=VALUE", help="A value that is right, such as place=bin-2. Repeat it."
        ),
    ] = None,
    withdraw: WithdrawOption = False,
) -> None:
    """Correct an entry, or withdraw it. What was first written stays in the logbook."""
    with working(options.config) as site:
        said = changed_values(changes or [], site)
        correct_entry(site, number, SubjectKind.COHORT, lambda _: said, options, withdraw=withdraw)


def list_cohorts(
    config: ConfigOption = None,
    show_all: Annotated[bool, typer.Option("--all", help="Those that have ended too.")] = False,
    as_json: JsonOption = False,
) -> None:
    """List the cohorts: stage, place, age, number, what they are meant for."""
    with looking(config) as site:
        book = book_of(site.store, site.plan, site.now_ms)
        view = forecast_view(site.store, site.plan, site.now_ms, draws=1)
        chosen = book.cohorts.values() if show_all else book.living
        if as_json:
            listed = [cohort_json(cohort, site.plan, site.zone, view.of(cohort.name)) for cohort in chosen]
            say_json({"cohorts": listed})
            return
        if not chosen:
            key = "list.none_lives" if book.cohorts else "cohorts.none_yet"
            say_lines(entry("", site.words.t(key, command=START_COMMAND), width()))
        for cohort in chosen:
            say_lines(entry(f"{cohort.name:<12} ", _listed(cohort, view, site), width(), 4))


def _listed(cohort: Cohort, view: ForecastView, site: SiteContext) -> str:
    words = site.words
    since = words.t("list.since", day=day(words, cohort.track.start_ms))
    purpose = [] if cohort.purpose is None else [words.t(f"purpose.{cohort.purpose}")]
    if cohort.ended is not None:
        ended = f"{words.t(f'ending.{cohort.ended.how}')} {day(words, cohort.ended.at_ms)}"
        return words.listing([ended, since, *purpose])
    now = view.of(cohort.name)
    stage = now.stage if now is not None else None
    state = words.t("list.stage_unknown" if stage is None else f"stage.{stage}")
    place = now.place_title if now is not None else site.plan.title(cohort.place_at(site.now_ms))
    lives = words.t("list.lives", stage=state, place=place)
    return words.listing([lives, since, *_counted(cohort, site), *purpose])


def _counted(cohort: Cohort, site: SiteContext) -> list[str]:
    track, words = cohort.track, site.words
    if track.count is None or track.count_stage is None:
        return []
    key = "list.about" if cohort.rough_count else "list.counted"
    return [words.t(key, count=animals(words, track.count), stage=words.t(f"stage.{track.count_stage}"))]


def show_cohort(name: NameArgument, config: ConfigOption = None, as_json: JsonOption = False) -> None:
    """Show one cohort: its forecast and every entry about it, the corrected ones too."""
    with looking(config) as site:
        cohort = known_cohort(name, site)
        view = forecast_view(site.store, site.plan, site.now_ms).of(name)
        stored = site.store.logbook.every(SubjectKind.COHORT)
        entries = [logged for logged in stored if _is_about(logged, name)]
        if as_json:
            shown = cohort_json(cohort, site.plan, site.zone, view)
            say_json(shown | {"entries": [entry_json(logged, site.zone) for logged in entries]})
            return
        if view is not None:
            say_lines(list(cohort_lines(view, site.words, width())))
        else:
            say_lines(entry(f"{name}  ", ended_sentence(cohort, site.words), width()))
        say()
        say(site.words.t("show.logbook"), "heading")
        say_log(site, entries, stored)


def _is_about(logged: LogbookEntry, name: str) -> bool:
    """Whether an entry is about a cohort, or about another one that made or took it."""
    return name in (logged.subject, logged.body.get("into"), logged.body.get("other"))


def import_csv(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="The notebook as CSV.")],
    config: ConfigOption = None,
    try_only: Annotated[bool, typer.Option("--try", help="Only say what would be written.")] = False,
    by: ByOption = "",
    sure: SureOption = False,
    as_json: JsonOption = False,
) -> None:
    """Read a paper notebook in: one line an entry, with the columns when, cohort or bin, what and others.

    What: start, move, split, merge, thin, saw, count, flies, eggs, end of a cohort; fill, water, feed, weigh,
    test, stir, cover, fan, larvae, take, finish, empty of a bin. Other columns: by, place, cage, stage,
    origin, purpose, event, how, cover, taken, feed, into, other, substrate, note, animals, grams, percent,
    flies, sure_days, window_hours, age_days, through_percent, kg, moisture, size, depth, back_to, larvae,
    rough, on. Nothing is written unless every line can be taken.

    Of a cage: collect and dead, with tray, use, strips and clutches; of a harvest use, mean_mg, residue_kg
    and residue_moisture; of a hatch percent and young_grams; of flies female_percent. A sheet of
    `logbook sheet` has the columns when, where, what, amount, use, to tray, note and by; lines that were
    left empty are passed over.
    """
    text = _text(file)
    with working(config, create=True) as site:
        writer = EntryWriter(site.store, site.plan, person(by), site.now_ms, EVERYTHING if sure else NOTHING)
        report = writer.read_in(
            text, lambda written: moment_of(written, site), write=not try_only, spoken=spoken_words()
        )
        if as_json:
            say_json(_report_json(report))
        else:
            _say_report(report, file.name, site)
    if report.problems or (report.questions and not try_only):
        raise typer.Exit(2)


def _text(file: Path) -> str:
    try:
        return file.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError:
        raise UsageError("{file} is not UTF-8 text; save it as CSV in UTF-8", file=file) from None
    except OSError as error:
        raise UsageError("{file} cannot be read: {why}", file=file, why=error.strerror) from None


def _say_report(report: NotebookReport, file: str, site: SiteContext) -> None:
    words, problems = site.words, report.problems
    asked = report.questions
    for problem in (*problems, *asked)[:MOST_PROBLEMS_SHOWN]:
        complain(_problem_line(problem, file, site), "")
    if len(problems) + len(asked) > MOST_PROBLEMS_SHOWN:
        complain(words.n("notebook.more", len(problems) + len(asked) - MOST_PROBLEMS_SHOWN), "")
    known = f"; {words.n('notebook.known', report.known)}" if report.known else ""
    if asked:
        complain(words.n("notebook.asked", len(asked)), "warning")
    if problems:
        complain(words.n("notebook.refused", len(problems)) + known)
    elif report.run:
        say(words.n("notebook.written", len(report.entries)) + known, "good")
        if report.entries:
            say(words.t("notebook.undo", command=f"logbook undo {report.run}"))
    elif not asked:
        say(words.n("notebook.tried", len(report.entries)) + known)


def _problem_line(problem: LineProblem, file: str, site: SiteContext) -> str:
    reason = site.words.sentence(problem.reason)
    if problem.line is None:
        return site.words.headed(file, reason)
    return site.words.t("notebook.line", file=file, line=problem.line, reason=reason)


def _report_json(report: NotebookReport) -> Json:
    return {
        "written": len(report.entries) if report.run else 0,
        "import": report.run,
        "known": report.known,
        "problems": _lines_json(report.problems),
        "questions": _lines_json(report.questions),
    }


def _lines_json(problems: Iterable[LineProblem]) -> list[Json]:
    return [{"line": each.line or 0, "reason": str(each.reason)} for each in problems]
