"""Options that the commands about bins share, and what they need to write an entry."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated

import typer

from monitor.errors import UsageError
from monitor.model.amounts import MATERIALS, SIZES, parse_kg, parse_material
from monitor.model.bin_records import BinEntryKind
from monitor.model.cohort_records import Cohort
from monitor.model.events import Event
from monitor.model.moisture import mixture
from monitor.records import MS_PER_DAY, LogbookEntry, Stage
from monitor.views.bin_queries import FILLED_KINDS
from monitor.views.bin_words import bin_entry_words
from monitor.views.bin_writing import Body, bin_entry, enter_about_bin
from monitor.views.cli.asking import person
from monitor.views.cli.cohort_options import known_cohort, known_place, moment_of
from monitor.views.cli.looking import Look
from monitor.views.cli.output import say
from monitor.views.development import cohorts_of, farm_ground

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


def known_bin(written: str, look: Look) -> str:
    """The id of a place that can be filled."""
    place = known_place(written, look)
    if look.plan.places[place].kind not in FILLED_KINDS:
        fitting = [one.id for one in look.plan.settings.places if one.kind in FILLED_KINDS]
        kind = look.plan.places[place].kind.value.replace("_", " ")
        raise UsageError(f"{place} is a {kind}, which is not filled; allowed: {', '.join(fitting)}")
    return place


def write(look: Look, written: str, kind: BinEntryKind, at: str, by: str, body: Body) -> str:
    """Check and add one entry, say what was written; gives the place."""
    place = known_bin(written, look)
    entry = bin_entry(place, kind, moment_of(at, look), body, person(by), look.now_ms)
    number, _ = enter_about_bin(look.store, look.plan, entry, look.now_ms)
    told(look, number, entry)
    return place


def told(look: Look, number: int, entry: LogbookEntry) -> None:
    """Say what was written, with its number."""
    title = look.plan.title(entry.subject)
    say(f"Entry {number}, {title}: {bin_entry_words(entry, look.zone)}", "good")


def mixed(materials: Sequence[str]) -> dict[str, object]:
    """Mass and moisture of what was put together."""
    whole = mixture(parse_material(each) for each in materials)
    if whole.moisture >= 1.0:
        raise UsageError(f"that is water alone; say the dry material too: {MATERIALS}")
    return {"kg": round(whole.kg, 4), "moisture": round(whole.moisture, 4)}


def larvae_body(look: Look, number: int | None, age: float | None, cohort: str, at: str) -> dict[str, object]:
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


def _age_days(cohort: Cohort, said: float | None, at_ms: int, look: Look) -> float:
    """Days since hatching: as said, by the hatching that was seen, or by the start as larvae."""
    if said is not None:
        return said
    hatched = [float(seen.at_ms) for seen in cohort.seen if seen.event is Event.HATCH]
    if not hatched and cohort.track.start_stage is Stage.LARVA:
        egg_days = farm_ground(look.plan).usual_days.get(Stage.EGG, 0.0)
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
