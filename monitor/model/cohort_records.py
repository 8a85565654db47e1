"""A cohort as the logbook tells it."""

from __future__ import annotations

from dataclasses import dataclass

from monitor.model.cohort_entries import Ending, Origin, Purpose
from monitor.model.development import CohortTrack, Residence
from monitor.model.events import Observation


@dataclass(frozen=True, slots=True)
class FlyCount:
    """Flies that came out since the count before, by a moment."""

    at_ms: int
    flies: float


@dataclass(frozen=True, slots=True)
class Ended:
    """How a cohort ended, with what it gave [g, animals] where that was said."""

    at_ms: int
    how: Ending
    grams: float | None = None
    animals: float | None = None


@dataclass(frozen=True, slots=True)
class Cohort:
    """One cohort: where it lives and lived, what was seen and counted, what it is meant for.

    `rough_count` is True where the number of animals was guessed from grams or from a share. `planned` are
    planned moves; `track` holds those of them that still stand. The first `inherited` of `seen` were seen
    of the cohort from which this one was split.
    """

    name: str
    track: CohortTrack
    origin: Origin
    feed: str | None = None
    purpose: Purpose | None = None
    cage: str | None = None
    parent: str | None = None
    merged: tuple[str, ...] = ()
    seen: tuple[Observation, ...] = ()
    inherited: int = 0
    flies: tuple[FlyCount, ...] = ()
    eggs_grams: tuple[tuple[int, float], ...] = ()
    planned: tuple[Residence, ...] = ()
    rough_count: bool = False
    ended: Ended | None = None
    note: str = ""

    def place_at(self, at_ms: int) -> str:
        """Where it lives, or lived, at a moment [ms since 1970 UTC]; before its start its first place."""
        found = [stay.place for stay in self.track.residences if stay.from_ms <= at_ms]
        return found[-1] if found else self.track.residences[0].place

    def next_move(self, now_ms: int) -> Residence | None:
        """The next move that is planned, or None."""
        return next((stay for stay in self.track.residences if stay.from_ms > now_ms), None)

    def unconfirmed_move(self, now_ms: int) -> Residence | None:
        """The last planned move whose time has come without an entry that it was made."""
        due = [stay for stay in self.planned if stay.from_ms <= now_ms and stay in self.track.residences]
        return due[-1] if due else None
