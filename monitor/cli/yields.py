"""`eggs`, `hatched`, `dead`, `note`: what a cage and a tray give, in one short command each.

Each command adds one entry to the logbook; feed and harvest of a bin are those of `bin`.
"""

from __future__ import annotations

from typing import Annotated

import typer

from monitor.alarms.system import SITE
from monitor.cli.entries import known_place, write_entry
from monitor.development.events import Event
from monitor.errors import UsageError
from monitor.farm.book import book_of
from monitor.logbook.amounts import parse_hatch, parse_mass_or_count, read_values
from monitor.logbook.cohort_entries import CohortEntryKind
from monitor.logbook.place_entries import NodeEntryKind
from monitor.logbook.yield_entries import YieldEntryKind
from monitor.records import Stage
from monitor.terminal.context import EntryOptions, SiteContext, with_options, working
from monitor.yields.records import EggUse

_EGGS_EXAMPLES = (
    "Examples: [bold]rearing-monitor eggs cage-1 '12.4 g' --to tray-1[/bold] (they begin a cohort there), "
    "[bold]rearing-monitor eggs cage-1 '12.4 g' --sold --strips 3[/bold]"
)
_HATCHED_EXAMPLES = (
    "Examples: [bold]rearing-monitor hatched tray-1 '80 %'[/bold], "
    "[bold]rearing-monitor hatched tray-1 '3.2 g'[/bold]"
)
_DEAD_EXAMPLES = (
    "Examples: [bold]rearing-monitor dead cage-1 350[/bold], [bold]rearing-monitor dead cage-1 '12 g'[/bold]"
)
_NOTE_EXAMPLE = "Example: [bold]rearing-monitor note bin-3 'the lid was off all night' --at yesterday[/bold]"


def register(app: typer.Typer) -> None:
    """Add the commands of this module."""
    app.command("eggs", epilog=_EGGS_EXAMPLES)(eggs)
    app.command("hatched", epilog=_HATCHED_EXAMPLES)(hatched)
    app.command("dead", epilog=_DEAD_EXAMPLES)(dead)
    app.command("note", epilog=_NOTE_EXAMPLE)(note)


CageArgument = Annotated[str, typer.Argument(metavar="CAGE", help="Id or title of a love cage.")]


@with_options
def eggs(
    options: EntryOptions,
    cage: CageArgument,
    amount: Annotated[str, typer.Argument(metavar="AMOUNT", help="Such as 12.4 g; a bare number is grams.")],
    tray: Annotated[
        str, typer.Option("--to", metavar="TRAY", help="The tray in which they are set to hatch.")
    ] = "",
    sold: Annotated[bool, typer.Option("--sold", help="They were sold.")] = False,
    strips: Annotated[str, typer.Option("--strips", metavar="NUMBER", help="On how many strips.")] = "",
    clutches: Annotated[str, typer.Option("--clutches", metavar="NUMBER", help="How many clutches.")] = "",
    cohort: Annotated[
        str,
        typer.Option(
            "--cohort", metavar="NAME", help="Of which cohort they are; else that of the day, named by tray."
        ),
    ] = "",
) -> None:
    """Eggs were collected from a cage: weighed, and sold or set to hatch in a tray, as a cohort of eggs."""
    with working(options.config, create=True) as site:
        if sold and (tray or cohort):
            raise UsageError("--sold and --to do not go together; enter what was sold and what was set apart")
        body = {
            **read_values({"grams": amount, "strips": strips, "clutches": clutches}),
            "use": EggUse.SOLD.value if sold else None,
            "tray": known_place(tray, site) if tray else None,
            "cohort": cohort,
        }
        write_entry(site, known_place(cage, site), YieldEntryKind.COLLECT, options, body)


@with_options
def hatched(
    options: EntryOptions,
    where: Annotated[str, typer.Argument(metavar="TRAY", help="The tray, or the cohort that hatched in it.")],
    amount: Annotated[
        str,
        typer.Argument(metavar="[AMOUNT]", help="Share, such as 80 %; or young larvae, such as 3.2 g."),
    ] = "",
) -> None:
    """Eggs were seen to have hatched: when, and how many of them. A later count of them counts instead."""
    with working(options.config) as site:
        name = _eggs_in(where, site)
        body = {"event": Event.HATCH.value, **(parse_hatch(amount) if amount else {})}
        write_entry(site, name, CohortEntryKind.SAW, options, body)


def _eggs_in(where: str, site: SiteContext) -> str:
    """The cohort of eggs that is meant: by its own name, or as the one in a tray."""
    book = book_of(site.store, site.plan, site.now_ms)
    if where in book.cohorts:
        return where
    place = known_place(where, site)
    there = [cohort for cohort in book.living_in(place, site.now_ms) if cohort.track.start_stage is Stage.EGG]
    fresh = [cohort for cohort in there if not cohort.seen] or there
    if len(fresh) == 1:
        return fresh[0].name
    if fresh:
        raise UsageError(
            "several cohorts of eggs are in {place}; say which: {cohorts}",
            place=place,
            cohorts=", ".join(cohort.name for cohort in fresh),
        )
    raise UsageError(
        "no cohort of eggs is in {place}; set eggs to hatch there first: "
        "`eggs CAGE AMOUNT --to {place}`, or `cohort start NAME {place} --stage egg`",
        place=place,
    )


@with_options
def dead(
    options: EntryOptions,
    cage: CageArgument,
    amount: Annotated[str, typer.Argument(metavar="AMOUNT", help="Their number, or a weight such as 12 g.")],
) -> None:
    """Dead flies were swept out of a cage, counted or weighed."""
    with working(options.config, create=True) as site:
        said = parse_mass_or_count(amount)
        kg = said.pop("kg", None)
        if isinstance(kg, float):
            said["grams"] = round(kg * 1000.0, 3)
        write_entry(site, known_place(cage, site), YieldEntryKind.DEAD, options, said)


@with_options
def note(
    options: EntryOptions,
    about: Annotated[
        str, typer.Argument(metavar="ABOUT", help="A place, a cohort, a board; or farm for the whole farm.")
    ],
    text: Annotated[str, typer.Argument(metavar="TEXT", help="Anything worth knowing later.")],
) -> None:
    """Write down anything about a place, a cohort, a board or the whole farm; nothing is computed from it."""
    with working(options.config, create=True) as site:
        body = {"note": text}
        if about in book_of(site.store, site.plan, site.now_ms).cohorts:
            write_entry(site, about, CohortEntryKind.NOTE, options, body)
        elif about in site.plan.nodes:
            write_entry(site, about, NodeEntryKind.NOTE, options, body)
        else:
            subject = SITE if about.lower() == "farm" else known_place(about, site)
            write_entry(site, subject, YieldEntryKind.NOTE, options, body)
