"""What happens to a bin, as its logbook has it, and what of that cannot be. Masses are in kg, without the
box.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum

from monitor.bins.evaporation import Cover
from monitor.bins.substrate import BinFacts, Larvae
from monitor.errors import Phrase, Sentence, UsageError, one_a_line, sentence

OVEN_DRY_SD = 0.015
"""Standard deviation of an oven-dry test of one handful [ratio]. Source: own choice, sampling dominates."""

SQUEEZE_SD = 0.07
"""Standard deviation of the squeeze of a handful [ratio]. Source: own choice, no study was found."""

MARK_SD_SHARE = 0.03
"""How well a bin is brought back to a mark, as a share of its mass [1]. Source: own choice."""

LEAST_MOISTURE, MOST_MOISTURE = 0.01, 0.99
MOST_KG = 10_000.0
RATIO, DAYS = sentence("(ratio)"), sentence("days")


class Taken(StrEnum):
    """What was taken out of a bin; to its water and heat prepupae are larvae."""

    LARVAE = "larvae"
    RESIDUE = "residue"
    PREPUPAE = "prepupae"


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
class LarvaeChanged:
    """The larvae in the bin from then on: some came, went or were counted anew. None where all are gone."""

    at_ms: int
    larvae: Larvae | None


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
    | LarvaeChanged
    | TakenOut
    | Finishing
    | Emptied
)


def require_bin(facts: BinFacts, events: Sequence[BinEvent], until_ms: int) -> None:
    """Refuse a bin or an entry that cannot be: UsageError with all problems, one a line."""
    problems = [*_facts(facts), *(problem for event in events for problem in _event(event))]
    if until_ms < facts.filled_ms:
        problems.append(sentence("the bin is looked at before it was filled; give a later time"))
    if problems:
        lines = one_a_line(problems)
        raise UsageError(lines.english, **lines.values)


def _within(what: Sentence, value: float, low: float, high: float, unit: Phrase) -> Iterator[Sentence]:
    if not low <= value <= high:
        yield sentence(
            "{what} is {value:g} {unit}; allowed: {low:g} to {high:g} {unit}; correct the entry",
            what=what,
            value=value,
            low=low,
            high=high,
            unit=unit,
        )


def _facts(facts: BinFacts) -> Iterator[Sentence]:
    yield from _within(sentence("the surface of the bin"), facts.surface_m2, 0.001, 100.0, "m²")
    yield from _within(sentence("the mass at filling"), facts.wet_kg, 0.001, MOST_KG, "kg")
    yield from _within(
        sentence("the moisture at filling"), facts.moisture, LEAST_MOISTURE, MOST_MOISTURE, RATIO
    )
    yield from _within(
        sentence("the doubt about the moisture at filling"), facts.moisture_sd, 0.0, 0.3, RATIO
    )
    if facts.probe_depth_m is not None:
        yield from _within(sentence("the depth of the probe"), facts.probe_depth_m, 0.0, 1.0, "m")
    if facts.larvae is not None:
        yield from _larvae(facts.larvae)


def _larvae(larvae: Larvae) -> Iterator[Sentence]:
    yield from _within(sentence("the number of larvae"), larvae.count, 0.0, 1e8, "")
    yield from _within(sentence("the age of the larvae"), larvae.age_days, 0.0, 200.0, DAYS)
    said: tuple[tuple[Sentence, float | None, float, float, Phrase], ...] = (
        (sentence("the first mass of a larva"), larvae.start_mg, 0.001, 10_000.0, "mg"),
        (sentence("the last mass of a larva"), larvae.final_mg, 0.001, 10_000.0, "mg"),
        (sentence("the days of growth"), larvae.growth_days, 0.1, 365.0, DAYS),
    )
    for what, value, low, high, unit in said:
        if value is not None:
            yield from _within(what, value, low, high, unit)


def _event(event: BinEvent) -> Iterator[Sentence]:
    match event:
        case WaterAdded(kg=kg, back_to_kg=mark):
            yield from _within(sentence("the water added"), kg, 0.0, MOST_KG, "kg")
            if mark is not None:
                yield from _within(sentence("the mark"), mark, 0.001, MOST_KG, "kg")
        case FeedAdded(kg=kg, moisture=moisture):
            yield from _within(sentence("the feed added"), kg, 0.0, MOST_KG, "kg")
            yield from _within(
                sentence("the moisture of the feed"), moisture, LEAST_MOISTURE, MOST_MOISTURE, RATIO
            )
        case Weighed(kg=kg, sd_kg=sd_kg):
            yield from _within(sentence("the mass weighed"), kg, 0.001, MOST_KG, "kg")
            yield from _within(sentence("the doubt about the scale"), sd_kg, 0.0, MOST_KG, "kg")
        case MoistureTested(moisture=moisture, sd=sd):
            yield from _within(
                sentence("the moisture tested"), moisture, LEAST_MOISTURE, MOST_MOISTURE, RATIO
            )
            yield from _within(sentence("the doubt about the test"), sd, 0.001, 0.5, RATIO)
        case TakenOut(kg=kg, what=what):
            residue = sentence("the residue taken out")
            taken = sentence("the larvae taken out") if what is Taken.LARVAE else residue
            yield from _within(taken, kg, 0.0, MOST_KG, "kg")
        case LarvaeChanged(larvae=Larvae() as larvae):
            yield from _larvae(larvae)
