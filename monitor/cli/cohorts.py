"""`cohort`: the logbook of cohorts. Each command adds one entry; nothing that was written is ever lost."""

from __future__ import annotations

from typing import Annotated

import typer

from monitor.cli.cohort_reading import import_csv, list_cohorts, show_cohort
from monitor.cli.context import SiteContext, person, say_lines, working
from monitor.cli.options import (
    AtOption,
    ByOption,
    CageOption,
    ConfigOption,
    ForOption,
    NameArgument,
    NoteOption,
    PlaceArgument,
    SureOption,
    known_cohort,
    known_place,
    moment_of,
    say_cohort_entry,
    write_cohort_entry,
)
from monitor.cli.output import say, width
from monitor.development.events import Event
from monitor.development.progress import Ending, Origin
from monitor.errors import UsageError
from monitor.farm.cohorts import forecast_view
from monitor.farm.entries import correction, enter, withdrawal
from monitor.logbook.cohort_entries import EntryKind
from monitor.records import MS_PER_HOUR, Stage
from monitor.words.cohorts import cohort_lines

EndHow = Annotated[Ending, typer.Argument(help="How it ended.")]
PercentOption = Annotated[float | None, typer.Option("--percent", help="Share of it, in percent.")]
AnimalsOption = Annotated[int | None, typer.Option("--animals", help="Number of animals.")]
GramsOption = Annotated[float | None, typer.Option("--grams", help="Weight in g.")]

_START_EXAMPLE = (
    'Example: [bold]rearing-monitor cohort start eggs-1 tray-1 --stage egg --at "yesterday 18:00" '
    "--grams 5 --for breeding --cage cage-1[/bold]"
)
_SAW_EXAMPLE = 'Example: [bold]rearing-monitor cohort saw eggs-1 hatch --at "yesterday 07:00"[/bold]'
_COUNT_EXAMPLES = (
    "Examples: [bold]cohort count eggs-1 --flies 140 --at yesterday[/bold], "
    "[bold]cohort count eggs-1 --animals 4000 --stage larva[/bold], "
    "[bold]cohort count eggs-1 --eggs 12.5[/bold]"
)


def register(app: typer.Typer) -> None:
    """Add the commands of this module."""
    cohort = typer.Typer(no_args_is_help=True, rich_markup_mode="rich")
    for name, command, epilog in (
        ("start", start, _START_EXAMPLE),
        ("move", move, None),
        ("split", split, None),
        ("merge", merge, None),
        ("thin", thin, None),
        ("saw", saw, _SAW_EXAMPLE),
        ("count", count, _COUNT_EXAMPLES),
        ("end", end, None),
        ("list", list_cohorts, None),
        ("show", show_cohort, None),
        ("correct", correct, None),
        ("import", import_csv, None),
    ):
        cohort.command(name, epilog=epilog)(command)
    app.add_typer(
        cohort,
        name="cohort",
        help="Keep the logbook of cohorts: begin, move, saw, end.",
    )


def start(
    name: NameArgument,
    place: PlaceArgument,
    stage: Annotated[Stage, typer.Option("--stage", help="What it begins as.")],
    config: ConfigOption = None,
    at: AtOption = "now",
    until: Annotated[
        str,
        typer.Option("--until", metavar="TIME", help="End of the time in which it was laid, from --at on."),
    ] = "",
    grams: GramsOption = None,
    animals: AnimalsOption = None,
    origin: Annotated[Origin | None, typer.Option("--origin", help="Where it comes from.")] = None,
    age: Annotated[
        float | None, typer.Option("--age", metavar="DAYS", help="Age when bought or caught.")
    ] = None,
    through: Annotated[
        float | None, typer.Option("--through", metavar="PERCENT", help="How far through its stage it is.")
    ] = None,
    feed: Annotated[
        str, typer.Option("--feed", help="Feed, where the species file has numbers for it.")
    ] = "",
    meant: ForOption = None,
    cage: CageOption = "",
    sure: SureOption = None,
    by: ByOption = "",
    note: NoteOption = "",
) -> None:
    """Begin a cohort: eggs that were laid, larvae hatched or bought, prepupae from the ramp, or pupae."""
    with working(config, create=True) as look:
        body = {
            "stage": stage.value,
            "place": known_place(place, look),
            "window_hours": _window_hours(at, until, look),
            "grams": grams,
            "animals": animals,
            "origin": origin,
            "age_days": age,
            "through_percent": through,
            "feed": feed,
            "purpose": meant,
            "cage": known_place(cage, look) if cage else None,
            "sure_days": sure,
            "note": note,
        }
        write_cohort_entry(look, name, EntryKind.START, at, by, body)
        _say_forecast(look, name)


def _window_hours(at: str, until: str, look: SiteContext) -> float | None:
    if not until:
        return None
    start_ms, end_ms = moment_of(at, look), moment_of(until, look)
    if not start_ms < end_ms <= look.now_ms:
        raise UsageError("--until must lie after --at and not ahead; nothing was written")
    return (end_ms - start_ms) / MS_PER_HOUR


def _say_forecast(look: SiteContext, name: str) -> None:
    view = forecast_view(look.store, look.plan, look.now_ms).of(name)
    if view is not None:
        say_lines(list(cohort_lines(view, look.zone, width())))


def move(
    name: NameArgument,
    place: PlaceArgument,
    config: ConfigOption = None,
    at: AtOption = "now",
    planned: Annotated[
        bool, typer.Option("--planned", help="It will be moved then; the time lies ahead.")
    ] = False,
    meant: ForOption = None,
    cage: CageOption = "",
    by: ByOption = "",
    note: NoteOption = "",
) -> None:
    """Move a cohort to another place, now or at another time; or plan to, so that forecasts know."""
    with working(config) as look:
        body = {
            "place": known_place(place, look),
            "purpose": meant,
            "cage": known_place(cage, look) if cage else None,
            "note": note,
        }
        kind = EntryKind.PLANNED_MOVE if planned else EntryKind.MOVE
        write_cohort_entry(look, name, kind, at, by, body, ahead=planned)


def split(
    name: NameArgument,
    into: Annotated[str, typer.Argument(metavar="NEW", help="Name of the cohort that is taken out.")],
    config: ConfigOption = None,
    place: Annotated[str, typer.Option("--to", metavar="PLACE", help="Where the new one lives.")] = "",
    percent: PercentOption = None,
    animals: AnimalsOption = None,
    at: AtOption = "now",
    meant: ForOption = None,
    cage: CageOption = "",
    by: ByOption = "",
    note: NoteOption = "",
) -> None:
    """Take a part of a cohort out as a cohort of its own, such as a share kept back for breeding."""
    with working(config) as look:
        body = {
            "into": into,
            "place": known_place(place, look) if place else None,
            "percent": percent,
            "animals": animals,
            "animals_stage": _stage_now(look, name) if animals is not None else None,
            "purpose": meant,
            "cage": known_place(cage, look) if cage else None,
            "note": note,
        }
        write_cohort_entry(look, name, EntryKind.SPLIT, at, by, body)


def merge(
    name: NameArgument,
    other: Annotated[str, typer.Argument(metavar="OTHER", help="The cohort that is put into it, and ends.")],
    config: ConfigOption = None,
    at: AtOption = "now",
    by: ByOption = "",
    note: NoteOption = "",
) -> None:
    """Put another cohort of about the same age into this one."""
    with working(config) as look:
        known_cohort(other, look)
        write_cohort_entry(look, name, EntryKind.MERGE, at, by, {"other": other, "note": note})


def thin(
    name: NameArgument,
    config: ConfigOption = None,
    percent: PercentOption = None,
    animals: AnimalsOption = None,
    at: AtOption = "now",
    by: ByOption = "",
    note: NoteOption = "",
) -> None:
    """Take animals out of a cohort that are not followed any further."""
    with working(config) as look:
        write_cohort_entry(
            look, name, EntryKind.THIN, at, by, {"percent": percent, "animals": animals, "note": note}
        )


def saw(
    name: NameArgument,
    event: Annotated[Event, typer.Argument(help="What was seen.")],
    config: ConfigOption = None,
    at: AtOption = "today",
    sure: SureOption = None,
    by: ByOption = "",
    note: NoteOption = "",
) -> None:
    """Enter an event that was seen; it sharpens this forecast and those of later cohorts."""
    with working(config) as look:
        body = {"event": event.value, "sure_days": sure, "note": note}
        write_cohort_entry(look, name, EntryKind.SAW, at, by, body)
        _say_forecast(look, name)


def count(
    name: NameArgument,
    config: ConfigOption = None,
    animals: AnimalsOption = None,
    stage: Annotated[Stage | None, typer.Option("--stage", help="As what they were counted.")] = None,
    flies: Annotated[
        int | None, typer.Option("--flies", help="Flies that came out since the last count.")
    ] = None,
    eggs: Annotated[
        float | None, typer.Option("--eggs", metavar="GRAMS", help="Eggs collected, in g.")
    ] = None,
    at: AtOption = "today",
    by: ByOption = "",
    note: NoteOption = "",
) -> None:
    """Enter a number: animals in it now, flies that came out that day, or grams of eggs collected."""
    given = [value for value in (animals, flies, eggs) if value is not None]
    if len(given) != 1:
        raise UsageError("give one of --animals, --flies and --eggs")
    with working(config) as look:
        known_cohort(name, look)
        if animals is not None:
            counted_as = (stage or _stage_now(look, name)).value
            kind, body = EntryKind.COUNT, {"animals": animals, "stage": counted_as, "note": note}
        elif flies is not None:
            kind, body = EntryKind.FLIES, {"flies": flies, "note": note}
        else:
            kind, body = EntryKind.EGGS, {"grams": eggs, "note": note}
        write_cohort_entry(look, name, kind, at, by, body)


def _stage_now(look: SiteContext, name: str) -> Stage:
    view = forecast_view(look.store, look.plan, look.now_ms, draws=1).of(name)
    if view is None or view.stage is None:
        raise UsageError(f"the stage of {name} is not known now; say it with --stage")
    return view.stage


def end(
    name: NameArgument,
    how: EndHow,
    config: ConfigOption = None,
    grams: GramsOption = None,
    animals: AnimalsOption = None,
    at: AtOption = "today",
    by: ByOption = "",
    note: NoteOption = "",
) -> None:
    """End a cohort: all flies out, harvested, sold or lost, with a weight or number where it is known."""
    with working(config) as look:
        body = {"how": how.value, "grams": grams, "animals": animals, "note": note}
        write_cohort_entry(look, name, EntryKind.END, at, by, body)


def correct(
    number: Annotated[int, typer.Argument(metavar="ENTRY", help="Number of the entry, from `cohort show`.")],
    config: ConfigOption = None,
    at: Annotated[str, typer.Option("--at", metavar="TIME", help="The time that is right.")] = "",
    changes: Annotated[
        list[str] | None,
        typer.Option(
            "--set", metavar="KEY=VALUE", help="A value that is right, such as place=bin-2. Repeat it."
        ),
    ] = None,
    withdraw: Annotated[bool, typer.Option("--withdraw", help="It does not count any more.")] = False,
    by: ByOption = "",
    note: NoteOption = "",
) -> None:
    """Correct an entry, or withdraw it. What was first written stays in the logbook."""
    if withdraw == bool(at or changes):
        raise UsageError("give --at, --set or both; or --withdraw alone")
    with working(config) as look:
        author = person(by)
        if withdraw:
            entry = withdrawal(look.store, number, note, author, look.now_ms)
        else:
            at_ms = moment_of(at, look) if at else None
            said = {**_changes(changes or []), **({"note": note} if note else {})}
            entry = correction(look.store, number, at_ms, said, author, look.now_ms)
        made, _ = enter(look.store, look.plan, entry, look.now_ms)
        if withdraw:
            say(f"Entry {made}: entry {number} does not count any more; it stays in the book", "good")
        else:
            say_cohort_entry(look, [(made, entry)])


def _changes(written: list[str]) -> dict[str, object]:
    found: dict[str, object] = {}
    for each in written:
        key, sign, value = each.partition("=")
        if not sign or not key.strip():
            raise UsageError(f"--set {each!r} is not understood; allowed: KEY=VALUE, such as animals=3000")
        found[key.strip()] = value_of(value.strip())
    return found


def value_of(written: str) -> object:
    """A value as it is meant: a number where it reads as one, nothing where it is empty, else text."""
    try:
        number = float(written)
    except ValueError:
        return written or None
    return int(number) if number == round(number) else number
