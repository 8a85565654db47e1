"""Options that the commands about bins share, and what they need to write an entry.

Options and panels that several commands share, so that they read the same everywhere.

Options that the commands about cohorts share, and what they need to write an entry.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path
from typing import Annotated

import typer

from monitor.bins.substrate import mixture
from monitor.cli.context import SiteContext, person
from monitor.cli.output import say
from monitor.development.events import Event
from monitor.development.progress import Cohort, Purpose
from monitor.errors import UsageError
from monitor.farm.bins import FILLED_KINDS
from monitor.farm.development import cohorts_of, farm_validation_context
from monitor.farm.entries import Body, bin_entry, enter, enter_about_bin, entry_about
from monitor.logbook.amounts import MATERIALS, SIZES, parse_kg, parse_material
from monitor.logbook.bin_entries import BinEntryKind
from monitor.logbook.cohort_entries import EntryKind
from monitor.logbook.replay import Replay
from monitor.logbook.times import MOMENTS, parse_moment
from monitor.records import MS_PER_DAY, MS_PER_HOUR, LogbookEntry, Stage
from monitor.settings.problems import suggestion
from monitor.words.bins import bin_entry_words
from monitor.words.cohorts import entry_words

ConfigOption = Annotated[
    Path | None,
    typer.Option(
        "--config",
        "-c",
        metavar="FILE",
        envvar="REARING_CONFIG",
        help="The settings file. Without it: farm.toml here, then the one in your own settings folder.",
    ),
]
JsonOption = Annotated[bool, typer.Option("--json", help="Print JSON for other programs instead of text.")]
QuietOption = Annotated[bool, typer.Option("--quiet", "-q", help="Print only what is wrong.")]


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


def moment_of(text: str, look: SiteContext, *, ahead: bool = False) -> int:
    """The moment that a person means; a day alone is its noon, or now where its noon is still to come."""
    plain = " ".join(text.strip().lower().split())
    at_ms = parse_moment(plain, look.now_ms, look.zone, ahead=ahead)
    if not _DAY_ALONE.fullmatch(plain) or plain.endswith("ago"):
        return at_ms
    noon_ms = at_ms + 12 * MS_PER_HOUR
    return min(noon_ms, look.now_ms) if at_ms <= look.now_ms and not ahead else noon_ms


def known_place(written: str, look: SiteContext) -> str:
    """The id of a place; its title is understood too. UsageError names the nearest."""
    if written in look.plan.places:
        return written
    titles = {look.plan.title(place).lower(): place for place in look.plan.places}
    if written.lower() in titles:
        return titles[written.lower()]
    near = suggestion(written, tuple(look.plan.places))
    hint = f'; do you mean "{near}"?' if near else f"; known: {', '.join(look.plan.places)}"
    raise UsageError(f"{written!r} is no place in the settings{hint}")


def known_cohort(name: str, look: SiteContext) -> None:
    """UsageError where there is no such cohort, naming the nearest."""
    known = cohorts_of(look.store, look.plan, look.now_ms).cohorts
    if name in known:
        return
    near = suggestion(name, tuple(known))
    hint = f'; do you mean "{near}"?' if near else "; `cohort list --all` shows every one"
    raise UsageError(f"there is no cohort {name!r}{hint}")


def write_cohort_entry(
    look: SiteContext, name: str, kind: EntryKind, at: str, by: str, body: Body, *, ahead: bool = False
) -> tuple[int, Replay]:
    """Check and add one entry, and say what was written."""
    if kind is not EntryKind.START:
        known_cohort(name, look)
    entry = entry_about(name, kind, moment_of(at, look, ahead=ahead), body, person(by), look.now_ms)
    number, after = enter(look.store, look.plan, entry, look.now_ms)
    say_cohort_entry(look, [(number, entry)])
    return number, after


def say_cohort_entry(look: SiteContext, entries: Sequence[tuple[int, LogbookEntry]]) -> None:
    """Say what was written, each entry with its number."""
    titles = {place: look.plan.title(place) for place in look.plan.places}
    for number, entry in entries:
        say(f"Entry {number}, {entry.subject}: {entry_words(entry, titles, look.zone)}", "good")


BinArgument = Annotated[
    str, typer.Argument(metavar="BIN", help="Id or title of a bin, tray or box in the settings.")
]
MaterialsArgument = Annotated[
    list[str],
    typer.Argument(
        metavar="MATERIAL...",
        help=f"What was put in, once for each: {MATERIALS}. Quote what has spaces.",
    ),
]
SizeOption = Annotated[
    str, typer.Option("--size", metavar="SIZE", help=f"Inner size, needed once for each bin: {SIZES}.")
]
DepthOption = Annotated[
    str, typer.Option("--depth", metavar="LENGTH", help="How deep it is filled, such as 8 cm.")
]
LarvaeOption = Annotated[
    int | None, typer.Option("--larvae", metavar="NUMBER", help="How many larvae were put in.")
]
AgeOption = Annotated[
    float | None,
    typer.Option("--age", metavar="DAYS", help="Days since they hatched; else 5, or the cohort's."),
]
CohortOption = Annotated[
    str, typer.Option("--cohort", metavar="NAME", help="Cohort of the larvae; gives number and age.")
]
KilogramsArgument = Annotated[str, typer.Argument(metavar="AMOUNT", help="Such as 12.4 kg or 800 g.")]


def known_bin(written: str, look: SiteContext) -> str:
    """The id of a place that can be filled."""
    place = known_place(written, look)
    if look.plan.places[place].kind not in FILLED_KINDS:
        fitting = [one.id for one in look.plan.settings.places if one.kind in FILLED_KINDS]
        kind = look.plan.places[place].kind.value.replace("_", " ")
        raise UsageError(f"{place} is a {kind}, which is not filled; allowed: {', '.join(fitting)}")
    return place


def write_bin_entry(look: SiteContext, written: str, kind: BinEntryKind, at: str, by: str, body: Body) -> str:
    """Check and add one entry, say what was written; gives the place."""
    place = known_bin(written, look)
    entry = bin_entry(place, kind, moment_of(at, look), body, person(by), look.now_ms)
    number, _ = enter_about_bin(look.store, look.plan, entry, look.now_ms)
    say_bin_entry(look, number, entry)
    return place


def say_bin_entry(look: SiteContext, number: int, entry: LogbookEntry) -> None:
    """Say what was written, with its number."""
    title = look.plan.title(entry.subject)
    say(f"Entry {number}, {title}: {bin_entry_words(entry, look.zone)}", "good")


def mixed(materials: Sequence[str]) -> dict[str, object]:
    """Mass and moisture of what was put together."""
    whole = mixture(parse_material(each) for each in materials)
    if whole.moisture >= 1.0:
        raise UsageError(f"that is water alone; say the dry material too: {MATERIALS}")
    return {"kg": round(whole.kg, 4), "moisture": round(whole.moisture, 4)}


def larvae_body(
    look: SiteContext, number: int | None, age: float | None, cohort: str, at: str
) -> dict[str, object]:
    """Number and age of larvae at a time: as said, else those of the cohort."""
    if not cohort:
        if age is not None and number is None:
            raise UsageError("--age needs the number of larvae: --larvae NUMBER, or --cohort NAME")
        return {"larvae": number, "age_days": age}
    known_cohort(cohort, look)
    found = cohorts_of(look.store, look.plan, look.now_ms).cohorts[cohort]
    count = number if number is not None else found.track.count
    if count is None:
        raise UsageError(f"the number of animals of {cohort} is not known; say it with --larvae")
    return {
        "larvae": round(count),
        "age_days": _age_days(found, age, moment_of(at, look), look),
        "cohort": cohort,
    }


def _age_days(cohort: Cohort, said: float | None, at_ms: int, look: SiteContext) -> float:
    """Days since hatching: as said, by the hatching that was seen, or by the start as larvae."""
    if said is not None:
        return said
    hatched = [float(seen.at_ms) for seen in cohort.seen if seen.event is Event.HATCH]
    if not hatched and cohort.track.start_stage is Stage.LARVA:
        egg_days = farm_validation_context(look.plan).usual_days.get(Stage.EGG, 0.0)
        before_days = max(0.0, cohort.track.age_days - egg_days)
        hatched = [cohort.track.start_ms - before_days * MS_PER_DAY]
    if not hatched:
        raise UsageError(
            f"when {cohort.name} hatched was not entered; say it with --age, or enter it: "
            f"cohort saw {cohort.name} hatch"
        )
    return round(max(0.0, (at_ms - hatched[-1]) / MS_PER_DAY), 1)


def net_kg(amount: str, box: str) -> float:
    """Mass of the contents: what the scale said without the empty box."""
    gross = parse_kg(amount)
    net = gross - parse_kg(box) if box else gross
    if net <= 0.0:
        raise UsageError(f"the box alone ({box}) is as heavy as the whole ({amount}); check the two weights")
    return round(net, 4)
