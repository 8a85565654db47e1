"""The events of a cohort that a person can see, and which share of the animals each stands for."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from monitor.errors import UsageError
from monitor.model.rates import SpeciesParameters
from monitor.records import Stage

FIRST_SHARE = 0.01
"""Share of the animals that counts as the first of them [1]. Own choice: the first few that are noticed."""


class Event(StrEnum):
    """What is seen, in the order in which it happens."""

    HATCH = "hatch"
    FIRST_PREPUPAE = "first_prepupae"
    HALF_PREPUPAE = "half_prepupae"
    FIRST_MOTIONLESS = "first_motionless"
    HALF_MOTIONLESS = "half_motionless"
    FIRST_EMERGED = "first_emerged"
    HALF_EMERGED = "half_emerged"
    MOST_EMERGED = "most_emerged"
    FIRST_EGGS = "first_eggs"


@dataclass(frozen=True, slots=True)
class EventMeaning:
    """When `share` of the animals has begun the stage `begins`; None stands for first eggs."""

    begins: Stage | None
    share: float


EVENTS: dict[Event, EventMeaning] = {
    Event.HATCH: EventMeaning(Stage.LARVA, 0.5),
    Event.FIRST_PREPUPAE: EventMeaning(Stage.PREPUPA, FIRST_SHARE),
    Event.HALF_PREPUPAE: EventMeaning(Stage.PREPUPA, 0.5),
    Event.FIRST_MOTIONLESS: EventMeaning(Stage.PUPA, FIRST_SHARE),
    Event.HALF_MOTIONLESS: EventMeaning(Stage.PUPA, 0.5),
    Event.FIRST_EMERGED: EventMeaning(Stage.ADULT, FIRST_SHARE),
    Event.HALF_EMERGED: EventMeaning(Stage.ADULT, 0.5),
    Event.MOST_EMERGED: EventMeaning(Stage.ADULT, 0.9),
    Event.FIRST_EGGS: EventMeaning(None, FIRST_SHARE),
}


@dataclass(frozen=True, slots=True)
class Observation:
    """An event that was seen, and how sure the day is: `sd_days` is one standard deviation [d]."""

    event: Event
    at_ms: int
    sd_days: float = 0.5

    def __post_init__(self) -> None:
        if self.sd_days <= 0.0:
            raise UsageError(
                f"how sure the day is must be above 0 days, not {self.sd_days:g}; half a day is usual"
            )


def ended_stage(event: Event, species: SpeciesParameters) -> int | None:
    """Index of the stage whose end the event is.

    Parameters
    ----------
    event : Event
        The event.
    species : SpeciesParameters
        The species.

    Returns
    -------
    int or None
        Index into `species.stages` [1]; None when the species has no such event.

    Source
    ------
    Own choice of what can be seen.
    """
    begins = EVENTS[event].begins
    if begins is None:
        return species.index_of(Stage.ADULT) if species.has(Stage.ADULT) else None
    if not species.has(begins):
        return None
    index = species.index_of(begins) - 1
    return index if index >= 0 else None


def events_of(species: SpeciesParameters) -> tuple[Event, ...]:
    """Events that this species has, in order.

    Parameters
    ----------
    species : SpeciesParameters
        The species.

    Returns
    -------
    tuple of Event
        A cricket, for example, has no prepupae.

    Source
    ------
    Own choice of what can be seen.
    """
    return tuple(event for event in Event if ended_stage(event, species) is not None)
