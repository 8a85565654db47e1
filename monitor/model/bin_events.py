"""What happens to a bin, as the logbook tells it. Masses are in kg, without the box."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from monitor.model.evaporation import Cover
from monitor.model.substrate import Larvae

OVEN_DRY_SD = 0.015
"""Standard deviation of an oven-dry test of one handful [ratio]. Source: own choice, sampling dominates."""

SQUEEZE_SD = 0.07
"""Standard deviation of the squeeze of a handful [ratio]. Source: own choice, no study was found."""

MARK_SD_SHARE = 0.03
"""How well a bin is brought back to a mark, as a share of its mass [1]. Source: own choice."""


class Taken(StrEnum):
    """What was taken out of a bin."""

    LARVAE = "larvae"
    RESIDUE = "residue"


@dataclass(frozen=True, slots=True)
class WaterAdded:
    """Water poured on. `back_to_kg` says that the bin stood at this mark afterwards: a rough weighing."""

    at_ms: int
    kg: float
    back_to_kg: float | None = None


@dataclass(frozen=True, slots=True)
class FeedAdded:
    """Feed put on, with its own moisture [ratio]; dry bran against wetness is feed too."""

    at_ms: int
    kg: float
    moisture: float


@dataclass(frozen=True, slots=True)
class Stirred:
    """The bin was stirred: the crust is broken."""

    at_ms: int


@dataclass(frozen=True, slots=True)
class Weighed:
    """Mass of the contents, larvae included, and the standard deviation of the scale."""

    at_ms: int
    kg: float
    sd_kg: float = 0.03


@dataclass(frozen=True, slots=True)
class MoistureTested:
    """Moisture of the substrate without larvae [ratio], and how far the test may be off."""

    at_ms: int
    moisture: float
    sd: float = OVEN_DRY_SD


@dataclass(frozen=True, slots=True)
class CoverChanged:
    """The bin was covered or opened."""

    at_ms: int
    cover: Cover


@dataclass(frozen=True, slots=True)
class FanChanged:
    """A fan was switched."""

    at_ms: int
    on: bool


@dataclass(frozen=True, slots=True)
class LarvaeAdded:
    """Larvae put in; they take the place of those that the bin knew of."""

    at_ms: int
    larvae: Larvae


@dataclass(frozen=True, slots=True)
class TakenOut:
    """Larvae or residue taken out."""

    at_ms: int
    kg: float
    what: Taken


@dataclass(frozen=True, slots=True)
class Finishing:
    """The bin is dried on purpose, for sieving; it does not alarm as drought any more."""

    at_ms: int


@dataclass(frozen=True, slots=True)
class Emptied:
    """The bin was emptied; its history ends."""

    at_ms: int


BinEvent = (
    WaterAdded
    | FeedAdded
    | Stirred
    | Weighed
    | MoistureTested
    | CoverChanged
    | FanChanged
    | LarvaeAdded
    | TakenOut
    | Finishing
    | Emptied
)
