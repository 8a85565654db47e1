"""A farm's own numbers in place of those in the species file. Numbers with their own source stay marked."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from monitor.errors import SettingsError, UsageError
from monitor.settings.consistency import Finding
from monitor.settings.development import species_parameters
from monitor.settings.problems import suggestion
from monitor.settings.schema import OwnNumber, Settings
from monitor.settings.species import Species, StageParameters, load_species

OWN_MARK = "choice"
STAGE_NUMBERS = tuple(
    name for name in StageParameters.model_fields if name not in ("cutoff", "temperature_of", "logan")
)


def with_own_numbers(species: Species, own: Sequence[OwnNumber]) -> Species:
    """The species with the farm's numbers; those without a place in it were refused with the file."""
    plain: dict[str, Any] = species.model_dump(exclude_unset=True)
    for entry in own:
        table = _table(plain, entry)
        if table is not None:
            table[entry.number] = _number(entry)
    return Species.model_validate(plain) if own else species


def _table(plain: dict[str, Any], entry: OwnNumber) -> dict[str, Any] | None:
    if entry.stage is None:
        numbers: dict[str, Any] = plain.setdefault("numbers", {})
        return numbers
    stages = plain.get("stages", {})
    if entry.feed is not None:
        stages = plain.get("diets", {}).get(entry.feed, {})
    found: dict[str, Any] | None = stages.get(entry.stage)
    return found


def _number(entry: OwnNumber) -> dict[str, Any]:
    source = entry.source or "this farm's own number"
    return {"value": entry.value, "mark": OWN_MARK, "source": source}


def own_number_findings(settings: Settings) -> Iterator[Finding]:
    """What is wrong with the farm's own numbers: unknown names, stages, feeds; values out of range."""
    try:
        species = load_species(settings.site.species)
    except SettingsError:
        return  # Reported where the species is named.
    found = [
        finding
        for index, entry in enumerate(settings.own_numbers)
        for finding in _misplaced(species, entry, index)
    ]
    yield from found or (*_twice(settings.own_numbers), *_impossible(species, settings.own_numbers))


def _misplaced(species: Species, entry: OwnNumber, index: int) -> Iterator[Finding]:
    if entry.feed is not None and (
        entry.stage is None or entry.stage not in species.diets.get(entry.feed, {})
    ):
        known = ", ".join(f"{feed} ({', '.join(stages)})" for feed, stages in species.diets.items()) or "none"
        yield _finding(index, "feed", entry.feed, known, "write one of these, or leave it out")
        return
    if entry.stage is not None and entry.stage not in species.stages:
        yield _finding(index, "stage", entry.stage, ", ".join(species.stages), "write one of these")
        return
    known_names: Mapping[str, Any] | tuple[str, ...] = STAGE_NUMBERS if entry.stage else species.numbers
    if entry.number not in known_names:
        near = suggestion(entry.number, tuple(known_names))
        remedy = f'write "{near}"' if near else "write one of these"
        if entry.stage is None and entry.number in STAGE_NUMBERS:
            remedy = "say the stage that it belongs to"
        yield _finding(index, "number", entry.number, ", ".join(known_names), remedy)
        return
    if entry.value < 0.0 and not entry.number.endswith("_c"):
        yield _finding(index, "value", f"{entry.value:g}", "0 or more", "correct the number")
    elif entry.value == 0.0 and entry.number == "thermal_constant_dd":
        yield _finding(index, "value", "0", "above 0", "correct the number")


def _twice(own: Sequence[OwnNumber]) -> Iterator[Finding]:
    first: dict[tuple[object, ...], int] = {}
    for index, entry in enumerate(own):
        earlier = first.setdefault((entry.stage, entry.feed, entry.number), index)
        if earlier != index:
            found = f"{entry.number}, as in own_numbers[{earlier}] already"
            yield Finding(
                ("own_numbers", index, "number"), found, "each number once", "remove one of the two"
            )


def _impossible(species: Species, own: Sequence[OwnNumber]) -> Iterator[Finding]:
    """Numbers that contradict one another, such as an upper threshold below the lower one."""
    changed = with_own_numbers(species, own)
    for feed in (None, *changed.diets):
        try:
            species_parameters(changed, feed)
        except UsageError as error:
            yield Finding(("own_numbers", 0, "value"), str(error), "numbers that fit together", "correct one")
            return


def _finding(index: int, key: str, found: str, allowed: str, remedy: str) -> Finding:
    return Finding(("own_numbers", index, key), f'"{found}"', allowed, remedy)
