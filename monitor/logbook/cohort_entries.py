"""A cohort as the logbook tells it.

What an entry of the logbook says about a cohort, read with care: kinds, keys of its body, and refusals.

A body is plain JSON that may come from the command line, a CSV file or the page, so every value is checked
here, and a refusal says what was found and what is allowed.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, tzinfo
from enum import StrEnum

from monitor.development.events import Event, events_of
from monitor.development.progress import Origin
from monitor.development.rates import SpeciesParameters, units_per_day
from monitor.errors import UsageError
from monitor.records import MS_PER_SECOND, LogbookEntry, Stage

USUAL_TEMPERATURE_C = 27.0
"""Temperature at which the age of bought animals is guessed [°C]. Own choice."""


class EntryKind(StrEnum):
    """Kinds of entries about a cohort."""

    START = "start"
    MOVE = "move"
    PLANNED_MOVE = "planned_move"
    SPLIT = "split"
    MERGE = "merge"
    THIN = "thin"
    SAW = "saw"
    COUNT = "count"
    FLIES = "flies"
    EGGS = "eggs"
    END = "end"


USUAL_ORIGIN: Mapping[Stage, Origin] = {
    Stage.EGG: Origin.LAID,
    Stage.LARVA: Origin.HATCHED,
    Stage.PREPUPA: Origin.CAUGHT,
    Stage.PUPA: Origin.FOUND,
    Stage.ADULT: Origin.FOUND,
}
START_SD_DAYS: Mapping[Origin, float] = {
    Origin.LAID: 0.25,
    Origin.HATCHED: 0.5,
    Origin.BOUGHT: 2.0,
    Origin.CAUGHT: 1.5,
    Origin.FOUND: 2.0,
}
"""How sure the start is, unless the keeper says it: one standard deviation [d]. Own choice."""


@dataclass(frozen=True)
class ValidationContext:
    """What entries are checked against: the farm's places, its clock, and the species.

    `places` are names for people by id; `cages` those of them in which flies live; `usual_days` how long each
    stage lasts in a usual room [d].
    """

    places: Mapping[str, str]
    cages: tuple[str, ...]
    zone: tzinfo
    stages: tuple[Stage, ...]
    events: tuple[Event, ...]
    feeds: tuple[str, ...]
    usual_days: Mapping[Stage, float]
    eggs_per_gram: float | None


def validation_context_of(
    places: Mapping[str, str],
    cages: tuple[str, ...],
    zone: tzinfo,
    species: SpeciesParameters,
    feeds: tuple[str, ...],
) -> ValidationContext:
    """What the entries of one farm are checked against.

    Parameters
    ----------
    places : mapping
        Names for people by id.
    cages : tuple of str
        Places in which flies live.
    zone : tzinfo
        The farm's time zone, for the times in refusals.
    species : SpeciesParameters
        Its stages, events and thermal constants.
    feeds : tuple of str
        Feeds for which the species has numbers of its own.

    Returns
    -------
    Ground
        With the usual length of each stage [d] at 27 °C.

    Source
    ------
    Linear degree-day model.
    """
    usual = {
        stage.stage: stage.thermal_constant / float(units_per_day(USUAL_TEMPERATURE_C, stage.law))
        for stage in species.stages
    }
    stages = tuple(stage.stage for stage in species.stages)
    events = events_of(species)
    return ValidationContext(places, cages, zone, stages, events, feeds, usual, species.adult.eggs_per_gram)


def shown_time(at_ms: int, zone: tzinfo) -> str:
    """A moment for a refusal.

    Parameters
    ----------
    at_ms : int
        The moment [ms since 1970 UTC].
    zone : tzinfo
        The farm's time zone.

    Returns
    -------
    str
        Such as 2026-09-22 07:00.
    """
    return f"{datetime.fromtimestamp(at_ms / MS_PER_SECOND, zone):%Y-%m-%d %H:%M}"


def number(
    entry: LogbookEntry, key: str, low: float, high: float, *, above: bool = False, whole: bool = False
) -> float | None:
    """A number out of an entry's body.

    Parameters
    ----------
    entry : LogbookEntry
        The entry.
    key : str
        Its key in the body.
    low : float
        Lowest allowed value [unit of the key].
    high : float
        Highest allowed value [unit of the key].
    above : bool
        Whether the lowest itself is not allowed.
    whole : bool
        Whether only whole numbers are allowed.

    Returns
    -------
    float or None
        The number; None where the key is left out. Anything else is refused.
    """
    value = entry.body.get(key)
    if value is None:
        return None
    words = key.replace("_", " ")
    kind = "a whole number" if whole else "a number"
    limits = f"{kind} {'above' if above else 'from'} {low:g} to {high:g}"
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise UsageError(f"{words} is {value!r}; allowed: {limits}")
    if not low <= value <= high or (above and value == low) or (whole and value != round(value)):
        raise UsageError(f"{words} is {value:g}; allowed: {limits}")
    return float(value)


def needed_number(entry: LogbookEntry, key: str, low: float, high: float, *, above: bool = False) -> float:
    """A number that the entry must have; as `number`.

    Parameters
    ----------
    entry : LogbookEntry
        The entry.
    key : str
        Its key in the body.
    low : float
        Lowest allowed value [unit of the key].
    high : float
        Highest allowed value [unit of the key].
    above : bool
        Whether the lowest itself is not allowed.

    Returns
    -------
    float
        The number.
    """
    found = number(entry, key, low, high, above=above)
    if found is None:
        raise UsageError(f"{key.replace('_', ' ')} is missing; allowed: a number from {low:g} to {high:g}")
    return found


def word(entry: LogbookEntry, key: str, allowed: tuple[str, ...]) -> str | None:
    """One of a few words out of an entry's body.

    Parameters
    ----------
    entry : LogbookEntry
        The entry.
    key : str
        Its key in the body.
    allowed : tuple of str
        The words.

    Returns
    -------
    str or None
        The word; None where the key is left out. Anything else is refused with the list.
    """
    value = entry.body.get(key)
    if value is None or value in allowed:
        return None if value is None else str(value)
    words = ", ".join(allowed) or "none here; leave it out"
    raise UsageError(f"{key.replace('_', ' ')} is {value!r}; allowed: {words}")


def needed_word(entry: LogbookEntry, key: str, allowed: tuple[str, ...]) -> str:
    """A word that the entry must have; as `word`.

    Parameters
    ----------
    entry : LogbookEntry
        The entry.
    key : str
        Its key in the body.
    allowed : tuple of str
        The words.

    Returns
    -------
    str
        The word.
    """
    found = word(entry, key, allowed)
    if found is None:
        raise UsageError(f"{key.replace('_', ' ')} is missing; allowed: {', '.join(allowed)}")
    return found


def text(entry: LogbookEntry, key: str) -> str:
    """A name that the entry must have.

    Parameters
    ----------
    entry : LogbookEntry
        The entry.
    key : str
        Its key in the body.

    Returns
    -------
    str
        The name; anything else is refused.
    """
    value = entry.body.get(key)
    if not isinstance(value, str) or not value.strip():
        raise UsageError(f"{key.replace('_', ' ')} is missing; allowed: the name of a cohort")
    return value
