"""Options that the commands about cohorts share, and what they need to write an entry."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Annotated

import typer

from monitor.errors import UsageError
from monitor.model.cohort_entries import EntryKind, Purpose
from monitor.model.cohorts import Replay
from monitor.records import MS_PER_HOUR, LogbookEntry
from monitor.settings.problems import suggestion
from monitor.views.cli.asking import person
from monitor.views.cli.looking import Look
from monitor.views.cli.output import say
from monitor.views.cohort_words import entry_words
from monitor.views.cohort_writing import Body, enter, entry_about
from monitor.views.development import cohorts_of
from monitor.views.spoken_time import MOMENTS, parse_moment

NameArgument = Annotated[str, typer.Argument(metavar="COHORT", help="Name of the cohort.")]
PlaceArgument = Annotated[str, typer.Argument(metavar="PLACE", help="Id of a place in the settings.")]
AtOption = Annotated[
    str,
    typer.Option("--at", metavar="TIME", help=f"When it was, such as {MOMENTS}. A day alone means its noon."),
]
ByOption = Annotated[
    str, typer.Option("--by", metavar="NAME", help="Who says so. Without it: your user name.")
]
NoteOption = Annotated[str, typer.Option("--note", help="Anything worth knowing later.")]
ForOption = Annotated[
    Purpose | None, typer.Option("--for", help="What it is meant for: flies for the cages, or feed.")
]
CageOption = Annotated[str, typer.Option("--cage", metavar="PLACE", help="The love cage its flies go into.")]
SureOption = Annotated[
    float | None,
    typer.Option(
        "--sure", metavar="DAYS", help="How sure the day is: within so many days, two times in three."
    ),
]

_DAY_ALONE = re.compile(r"(today|yesterday|\d{4}-\d{2}-\d{2}|\d+ (days?|weeks?) ago)")


def moment_of(text: str, look: Look, *, ahead: bool = False) -> int:
    """The moment that a person means; a day alone is its noon, or now where its noon is still to come."""
    plain = " ".join(text.strip().lower().split())
    at_ms = parse_moment(plain, look.now_ms, look.zone, ahead=ahead)
    if not _DAY_ALONE.fullmatch(plain) or plain.endswith("ago"):
        return at_ms
    noon_ms = at_ms + 12 * MS_PER_HOUR
    return min(noon_ms, look.now_ms) if at_ms <= look.now_ms and not ahead else noon_ms


def known_place(written: str, look: Look) -> str:
    """The id of a place; its title is understood too. UsageError names the nearest."""
    if written in look.plan.places:
        return written
    titles = {look.plan.title(place).lower(): place for place in look.plan.places}
    if written.lower() in titles:
        return titles[written.lower()]
    near = suggestion(written, tuple(look.plan.places))
    hint = f'; do you mean "{near}"?' if near else f"; known: {', '.join(look.plan.places)}"
    raise UsageError(f"{written!r} is no place in the settings{hint}")


def known_cohort(name: str, look: Look) -> None:
    """UsageError where there is no such cohort, naming the nearest."""
    known = cohorts_of(look.store, look.plan, look.now_ms).cohorts
    if name in known:
        return
    near = suggestion(name, tuple(known))
    hint = f'; do you mean "{near}"?' if near else "; `cohort list --all` shows every one"
    raise UsageError(f"there is no cohort {name!r}{hint}")


def write(
    look: Look, name: str, kind: EntryKind, at: str, by: str, body: Body, *, ahead: bool = False
) -> tuple[int, Replay]:
    """Check and add one entry, and say what was written."""
    if kind is not EntryKind.START:
        known_cohort(name, look)
    entry = entry_about(name, kind, moment_of(at, look, ahead=ahead), body, person(by), look.now_ms)
    number, after = enter(look.store, look.plan, entry, look.now_ms)
    told(look, [(number, entry)])
    return number, after


def told(look: Look, entries: Sequence[tuple[int, LogbookEntry]]) -> None:
    """Say what was written, each entry with its number."""
    titles = {place: look.plan.title(place) for place in look.plan.places}
    for number, entry in entries:
        say(f"Entry {number}, {entry.subject}: {entry_words(entry, titles, look.zone)}", "good")
