"""What a farm took and gave, out of its logbook: the one way from entries to sums and forecasts of yields.

What an entry says is taken once: eggs that are set to hatch are those that were collected; grams with which a
cohort of eggs began are none that were collected; the harvest with which a cohort ended is the one that was
taken out of its bin on that day, where both say the same weight.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from operator import attrgetter
from typing import TypedDict, TypeVar

from monitor.bins.events import Taken
from monitor.development.events import EVENTS, Event
from monitor.development.progress import Cohort, Ending
from monitor.logbook.animals import flies_into
from monitor.logbook.bin_entries import BinEntryKind, BinFill
from monitor.logbook.cohort_entries import CohortEntryKind
from monitor.logbook.entry import in_force, names
from monitor.logbook.replay import FarmBook
from monitor.logbook.yield_entries import YieldEntryKind, is_set_to_hatch
from monitor.records import MS_PER_DAY, LogbookEntry, Stage, SubjectKind
from monitor.yields.records import (
    DeadFlies,
    EggsCollected,
    EggUse,
    FeedGiven,
    FliesPutIn,
    HatchSeen,
    LarvaeIn,
    LarvaeOut,
    LarvaeUse,
    PrepupaeOut,
    Residue,
    Taking,
    Takings,
)

G_PER_KG = 1000.0
SAME_HARVEST_SHARE, SAME_HARVEST_MS = 0.01, MS_PER_DAY
"""The end of a cohort says again what was taken out, within this share of its weight and this time. Own
choice."""


def takings_of(entries: Iterable[LogbookEntry], book: FarmBook, cages: Sequence[str] = ()) -> Takings:
    """All that the entries say was taken and given. `book` is their replay, `cages` are those of the farm.

    Entries that were corrected, withdrawn or refused do not count.
    """
    refused = {refusal.entry.entry_id for refusal in book.refused}
    counting = (entry for entry in in_force(entries) if entry.entry_id not in refused)
    reader = _Reader(book, tuple(cages))
    for entry in sorted(counting, key=_in_order):
        reader.read(entry)
    reader.read_arrivals()
    return Takings(
        eggs=_in_time(reader.eggs),
        hatches=_last_counted(_in_time(reader.hatches)),
        feed=_in_time(reader.feed),
        larvae_in=_in_time(reader.larvae_in),
        larvae_out=_in_time(reader.larvae_out),
        prepupae=_in_time(reader.prepupae),
        residues=_in_time(reader.residues),
        flies=_in_time(reader.flies),
        dead_flies=_in_time(reader.dead_flies),
    )


def _in_order(entry: LogbookEntry) -> tuple[bool, int, int]:
    """In the order of time; the ends of cohorts come last, since they may say again what was taken out."""
    return entry.kind == CohortEntryKind.END, entry.at_ms, entry.entry_id or 0


AnyTaking = TypeVar("AnyTaking", bound=Taking)


def _in_time(takings: Iterable[AnyTaking]) -> tuple[AnyTaking, ...]:
    return tuple(sorted(takings, key=attrgetter("at_ms", "place")))


def _last_counted(hatches: Sequence[HatchSeen]) -> tuple[HatchSeen, ...]:
    """A share that was counted again takes the place of the one before; weights add up."""
    last = {hatch.cohort: hatch for hatch in hatches if hatch.share is not None}
    return tuple(hatch for hatch in hatches if hatch.share is None or last[hatch.cohort] is hatch)


@dataclass(slots=True)
class _Reader:
    """Reads entries one after the other into what was taken and given."""

    book: FarmBook
    cages: tuple[str, ...]
    eggs: list[EggsCollected] = field(default_factory=list)
    hatches: list[HatchSeen] = field(default_factory=list)
    feed: list[FeedGiven] = field(default_factory=list)
    larvae_in: list[LarvaeIn] = field(default_factory=list)
    larvae_out: list[LarvaeOut] = field(default_factory=list)
    prepupae: list[PrepupaeOut] = field(default_factory=list)
    residues: list[Residue] = field(default_factory=list)
    flies: list[FliesPutIn] = field(default_factory=list)
    dead_flies: list[DeadFlies] = field(default_factory=list)
    by_cage: dict[str, Sequence[Cohort]] = field(default_factory=dict)

    def read(self, entry: LogbookEntry) -> None:
        """Take what one entry says."""
        reading = _READING.get((entry.subject_kind, entry.kind))
        if reading is not None:
            reading(self, entry)

    def read_arrivals(self) -> None:
        """The larvae that came into each filling, as the replay knows them."""
        for fills in self.book.fills.values():
            for fill in fills:
                filling_ms = fill.facts.filled_ms
                self.larvae_in += (
                    LarvaeIn(
                        at_ms=each.at_ms,
                        place=fill.place,
                        cohort=each.cohort,
                        count=each.count,
                        filling_ms=filling_ms,
                    )
                    for each in fill.arrived
                )

    def filling(self, place: str, at_ms: int) -> BinFill | None:
        """What stood in a place at a moment; an emptying belongs to what it emptied."""
        standing = (
            fill
            for fill in self.book.fills.get(place, ())
            if fill.facts.filled_ms <= at_ms and (fill.emptied_ms is None or at_ms <= fill.emptied_ms)
        )
        return next(standing, None)

    def eggs_collected(self, entry: LogbookEntry) -> None:
        use, tray = entry.body.get("use"), entry.body.get("tray")
        strips, clutches = _amount(entry, "strips"), _amount(entry, "clutches")
        self.eggs.append(
            EggsCollected(
                **_about(entry, entry.subject, self._who_lays(entry)),
                grams=_amount(entry, "grams") or 0.0,
                strips=None if strips is None else round(strips),
                clutches=None if clutches is None else round(clutches),
                use=EggUse(str(use)) if use else None,
                tray=str(tray) if tray else None,
                into=str(entry.body["cohort"]) if is_set_to_hatch(entry) else None,
            )
        )

    def eggs_of_a_cohort(self, entry: LogbookEntry) -> None:
        grams = _amount(entry, "grams") or 0.0
        self.eggs.append(EggsCollected(**_about(entry, self._cage_of(entry), entry.subject), grams=grams))

    def hatched(self, entry: LogbookEntry) -> None:
        percent, grams = _amount(entry, "percent"), _amount(entry, "young_grams")
        if percent is None and grams is None:
            return
        share = None if percent is None else percent / 100.0
        place = self._lived(entry)
        self.hatches.append(HatchSeen(**_about(entry, place, entry.subject), share=share, young_grams=grams))

    def fed(self, entry: LogbookEntry) -> None:
        fill = self.filling(entry.subject, entry.at_ms)
        if entry.kind == BinEntryKind.FILL:
            # One that was emptied at the same moment stood there before.
            fills = self.book.fills[entry.subject]
            fill = next((each for each in fills if each.facts.filled_ms == entry.at_ms), fill)
        if fill is None:
            return
        name = entry.body.get("feed")
        if not name and entry.kind == BinEntryKind.FILL:
            name = fill.facts.substrate.name
        self.feed.append(
            FeedGiven(
                **_about(entry, entry.subject, self._whose(fill)),
                kg=_amount(entry, "kg") or 0.0,
                moisture=_amount(entry, "moisture"),
                feed=str(name) if name else None,
                filling_ms=fill.facts.filled_ms,
            )
        )

    def taken(self, entry: LogbookEntry) -> None:
        what, kg = entry.body.get("what"), _amount(entry, "kg")
        if what == Taken.PREPUPAE:
            count = _amount(entry, "animals")
            about = _about(entry, entry.subject, self._whose_then(entry))
            self.prepupae.append(PrepupaeOut(**about, kg=kg, count=count))
        elif what == Taken.RESIDUE:
            self._left_behind(entry, kg, _amount(entry, "moisture"))
        else:
            self._larvae(entry, entry.subject, kg, self._whose_then(entry), None)

    def emptied(self, entry: LogbookEntry) -> None:
        grams, ended = _amount(entry, "grams"), names(entry, "ended")
        whose = ended[0] if len(ended) == 1 else self._whose_then(entry) if not ended else None
        if grams is not None and entry.body.get("how") not in _NO_HARVEST:
            self._larvae(entry, entry.subject, grams / G_PER_KG, whose, entry.body.get("how"))
        self._left_behind(entry, _amount(entry, "residue_kg"), _amount(entry, "residue_moisture"))

    def ended(self, entry: LogbookEntry) -> None:
        how, grams, animals = entry.body.get("how"), _amount(entry, "grams"), _amount(entry, "animals")
        place = self._lived(entry)
        if grams is not None and how not in _NO_HARVEST:
            kg = grams / G_PER_KG
            if not self._says_again(entry, place, kg):
                self._larvae(entry, place, kg, entry.subject, how)
        cohort = self.book.cohorts.get(entry.subject)
        if how == Ending.EMERGED and animals is not None and cohort is not None and not cohort.flies:
            flies = FliesPutIn(**_about(entry, self._cage_of(entry), entry.subject), count=animals)
            self.flies.append(replace(flies, at_ms=_emerged_ms(cohort, entry)))

    def flies_counted(self, entry: LogbookEntry) -> None:
        percent = _amount(entry, "female_percent")
        self.flies.append(
            FliesPutIn(
                **_about(entry, self._cage_of(entry), entry.subject),
                count=_amount(entry, "flies") or 0.0,
                female_share=None if percent is None else percent / 100.0,
            )
        )

    def begun(self, entry: LogbookEntry) -> None:
        """Flies that were bought or caught; eggs and larvae are counted where they come from."""
        animals = _amount(entry, "animals")
        if entry.body.get("stage") == Stage.ADULT and animals is not None:
            about = _about(entry, self._cage_of(entry), entry.subject)
            self.flies.append(FliesPutIn(**about, count=animals))

    def swept(self, entry: LogbookEntry) -> None:
        about = _about(entry, entry.subject, self._who_lays(entry))
        animals, grams = _amount(entry, "animals"), _amount(entry, "grams")
        self.dead_flies.append(DeadFlies(**about, count=animals, grams=grams))

    def _larvae(
        self, entry: LogbookEntry, place: str, kg: float | None, whose: str | None, how: object
    ) -> None:
        use = LarvaeUse.SOLD if how == Ending.SOLD else None
        said = entry.body.get("use")
        self.larvae_out.append(
            LarvaeOut(
                **_about(entry, place, whose),
                kg=kg or 0.0,
                use=LarvaeUse(str(said)) if said else use,
                mean_mg=_amount(entry, "mean_mg"),
                filling_ms=self._filling_ms(entry, place),
            )
        )

    def _left_behind(self, entry: LogbookEntry, kg: float | None, moisture: float | None) -> None:
        if kg is not None:
            about = _about(entry, entry.subject, self._whose_then(entry))
            filling_ms = self._filling_ms(entry, entry.subject)
            self.residues.append(Residue(**about, kg=kg, moisture=moisture, filling_ms=filling_ms))

    def _says_again(self, entry: LogbookEntry, place: str, kg: float) -> bool:
        """Whether the larvae of an end are those that were taken out of its place on that day."""
        before = [
            each
            for each in self.larvae_out
            if each.place == place and 0 <= entry.at_ms - each.at_ms < SAME_HARVEST_MS
        ]
        masses = (*(each.kg for each in before), sum(each.kg for each in before))
        return any(abs(mass - kg) <= SAME_HARVEST_SHARE * kg for mass in masses)

    def _filling_ms(self, entry: LogbookEntry, place: str) -> int:
        """Which filling it came from; where nobody filled the place, since when the cohort lived there."""
        fill = self.filling(place, entry.at_ms)
        if fill is not None:
            return fill.facts.filled_ms
        cohort = self.book.cohorts.get(entry.subject)
        stays = cohort.track.residences if cohort is not None else ()
        return max((stay.from_ms for stay in stays if stay.from_ms <= entry.at_ms), default=entry.at_ms)

    def _whose_then(self, entry: LogbookEntry) -> str | None:
        return self._whose(self.filling(entry.subject, entry.at_ms))

    def _whose(self, fill: BinFill | None) -> str | None:
        """The cohort of a filling, where only one ever lived in it."""
        return fill.cohorts[0] if fill is not None and len(fill.cohorts) == 1 else None

    def _lived(self, entry: LogbookEntry) -> str:
        cohort = self.book.cohorts.get(entry.subject)
        return str(entry.body.get("place") or "") if cohort is None else cohort.place_at(entry.at_ms)

    def _cage_of(self, entry: LogbookEntry) -> str:
        """The cage in which the flies of a cohort live, else where it lived."""
        cohort = self.book.cohorts.get(entry.subject)
        return (cohort and flies_into(cohort, self.cages)) or self._lived(entry)

    def _who_lays(self, entry: LogbookEntry) -> str | None:
        """The cohort whose flies live in a cage, where it is the only one."""
        here = [
            cohort
            for cohort in self._of_cage(entry.subject)
            if cohort.track.start_ms <= entry.at_ms
            and (cohort.ended is None or entry.at_ms <= cohort.ended.at_ms)
        ]
        out = [cohort for cohort in here if _had_flies(cohort, entry.at_ms)]
        only = out if out else here
        return only[0].name if len(only) == 1 else None

    def _of_cage(self, cage: str) -> Sequence[Cohort]:
        """The cohorts whose flies go into a cage, worked out once."""
        if cage not in self.by_cage:
            every = self.book.cohorts.values()
            self.by_cage[cage] = [each for each in every if flies_into(each, self.cages) == cage]
        return self.by_cage[cage]


_NO_HARVEST = (Ending.EMERGED, Ending.LOST, Ending.MERGED)
_READING: Mapping[tuple[SubjectKind, str], Callable[[_Reader, LogbookEntry], None]] = {
    (SubjectKind.PLACE, YieldEntryKind.COLLECT): _Reader.eggs_collected,
    (SubjectKind.PLACE, YieldEntryKind.DEAD): _Reader.swept,
    (SubjectKind.COHORT, CohortEntryKind.EGGS): _Reader.eggs_of_a_cohort,
    (SubjectKind.COHORT, CohortEntryKind.SAW): _Reader.hatched,
    (SubjectKind.COHORT, CohortEntryKind.FLIES): _Reader.flies_counted,
    (SubjectKind.COHORT, CohortEntryKind.START): _Reader.begun,
    (SubjectKind.COHORT, CohortEntryKind.END): _Reader.ended,
    (SubjectKind.BIN, BinEntryKind.FILL): _Reader.fed,
    (SubjectKind.BIN, BinEntryKind.FEED): _Reader.fed,
    (SubjectKind.BIN, BinEntryKind.TAKE): _Reader.taken,
    (SubjectKind.BIN, BinEntryKind.EMPTY): _Reader.emptied,
}


class _About(TypedDict):
    at_ms: int
    place: str
    cohort: str | None
    entry_id: int | None


def _about(entry: LogbookEntry, place: str, cohort: str | None) -> _About:
    return {"at_ms": entry.at_ms, "place": place, "cohort": cohort, "entry_id": entry.entry_id}


def _amount(entry: LogbookEntry, key: str) -> float | None:
    """A number that was checked when it was written."""
    value = entry.body.get(key)
    return float(value) if isinstance(value, int | float) and not isinstance(value, bool) else None


def _had_flies(cohort: Cohort, at_ms: int) -> bool:
    """Whether flies of a cohort are known to have come out by a moment."""
    counted = cohort.flies[0].at_ms <= at_ms if cohort.flies else False
    seen = any(each.at_ms <= at_ms and EVENTS[each.event].begins is Stage.ADULT for each in cohort.seen)
    return counted or seen or cohort.track.start_stage is Stage.ADULT


def _emerged_ms(cohort: Cohort, entry: LogbookEntry) -> int:
    """When flies came out of which only the number at the end is known: the middle, where somebody saw it."""
    seen_ms = {each.event: each.at_ms for each in cohort.seen}
    middle_ms = seen_ms.get(Event.HALF_EMERGED, seen_ms.get(Event.FIRST_EMERGED))
    return entry.at_ms if middle_ms is None else min(middle_ms, entry.at_ms)
