"""A new entry with what the logbook told of just before it, and what can be asked about it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from monitor.bins.events import FeedAdded, TakenOut, WaterAdded, Weighed
from monitor.development.progress import Cohort
from monitor.errors import Sentence, UsageError, one_a_line, sentence
from monitor.logbook.bin_entries import BinFill
from monitor.logbook.replay import FarmContext
from monitor.records import LogbookEntry

MOST_GROWN = 1.2
"""A count or weight that grew beyond this share of the last one is asked [1]. Own choice."""
SCALE_KG = 0.3
"""By how much two scales, or a wet and a dry day, may differ [kg]. Own choice."""
G_PER_MG, MG_PER_G = 0.001, 1000.0

Fills = tuple[BinFill, ...]


@dataclass(frozen=True, slots=True)
class Question:
    """Something odd about an entry. `refused` says that it cannot be, so nobody is asked."""

    key: str
    sentence: Sentence
    refused: bool = False


class Unconfirmed(UsageError):
    """An entry that is unlikely; nothing was written. `questions` holds all that is odd about it."""

    def __init__(self, questions: Sequence[Question]) -> None:
        self.questions = tuple(questions)
        super().__init__(
            sentence(
                "{questions}\nNothing was written. If it is right all the same, say so: --sure",
                questions=one_a_line(question.sentence for question in self.questions),
            )
        )


@dataclass(frozen=True, slots=True)
class Case:
    """A new entry, and what the logbook told of just before it.

    `history` are the entries that count beside it; `bulk` says that it comes out of a notebook; `old` is the
    entry that it corrects.
    """

    entry: LogbookEntry
    cohorts: Mapping[str, Cohort]
    fills: Mapping[str, Fills]
    history: Sequence[LogbookEntry]
    context: FarmContext
    now_ms: int
    bulk: bool = False
    old: LogbookEntry | None = None

    @property
    def cohort(self) -> Cohort | None:
        """The cohort that it is about, as it was before."""
        return self.cohorts.get(self.entry.subject)

    def filled(self, place: str) -> BinFill | None:
        """What stood in a place."""
        fills = self.fills.get(place, ())
        return fills[-1] if fills and fills[-1].emptied_ms is None else None

    def number(self, key: str) -> float | None:
        """A number of the entry's body."""
        value = self.entry.body.get(key)
        return float(value) if isinstance(value, int | float) and not isinstance(value, bool) else None


def more_animals(what: Sentence, number: float, known: float) -> Question:
    """That there would be more animals than are known of."""
    return Question(
        "more_animals",
        sentence(
            "{number} {what}, and {known} animals are known of; they do not become more",
            number=f"{number:.0f}",
            what=what,
            known=f"{known:.0f}",
        ),
    )


@dataclass(frozen=True, slots=True)
class Content:
    """What a bin holds at most by its book: wet mass and dry matter [kg]; nothing is known of what dried."""

    kg: float
    dry_kg: float

    def with_more(self, kg: float, moisture: float) -> Content:
        """With something put in."""
        return Content(self.kg + kg, self.dry_kg + kg * (1.0 - moisture))


def content_of(fill: BinFill) -> Content:
    """What was put into a filling less what was taken out, from the last weighing on."""
    facts = fill.facts
    held = Content(0.0, 0.0).with_more(facts.wet_kg, facts.moisture)
    for event in fill.events:
        match event:
            case WaterAdded(kg=kg):
                held = held.with_more(kg, 1.0)
            case FeedAdded(kg=kg, moisture=moisture):
                held = held.with_more(kg, moisture)
            case TakenOut(kg=kg):
                left = max(0.0, 1.0 - kg / held.kg) if held.kg > 0.0 else 0.0
                held = Content(held.kg * left, held.dry_kg * left)
            case Weighed(kg=kg):
                held = Content(kg, min(held.dry_kg, kg))
    return held
