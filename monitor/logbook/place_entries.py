"""What people said of whole places and of boards, and what follows from it: where nothing is guarded.

A place is guarded unless a person has said that it is not. `place_words` gives, for each place, the last word
that ends its guard or starts it again. No forecast is needed for it, so it is known at once.

Keys of a body: `until_ms` (end of `aside`), `note` (the reason).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import tzinfo
from enum import StrEnum

from monitor.errors import UsageError, sentence
from monitor.logbook.animals import is_linked
from monitor.logbook.bin_entries import BinEntryKind
from monitor.logbook.cohort_entries import CohortEntryKind
from monitor.logbook.entry import WITHDRAWN, corrections, in_force, kind_of, missing, names, shown_time
from monitor.logbook.yield_entries import YieldEntryKind, is_set_to_hatch
from monitor.records import MS_PER_HOUR, MS_PER_MINUTE, LogbookEntry, Stage, SubjectKind

SHORTEST_ASIDE_MS = 15 * MS_PER_MINUTE
LONGEST_ASIDE_MS: Mapping[SubjectKind, int] = {
    SubjectKind.PLACE: 4 * MS_PER_HOUR,
    SubjectKind.NODE: 24 * MS_PER_HOUR,
}
"""How long a place may be put aside, and a board (a night in the salt jar). Own choice."""
_NOT_STORED = 2**62
ALWAYS_MS = 0
"""Date of what counts by the number of its entry alone."""


class PlaceEntryKind(StrEnum):
    """Kinds of entries about a whole place."""

    EMPTY = "empty"
    IN_USE = "in_use"
    ASIDE = "aside"


class NodeEntryKind(StrEnum):
    """Kinds of entries about a board."""

    IN_USE = "in_use"
    ASIDE = "aside"
    NOTE = "note"


class Why(StrEnum):
    """Why nothing guards a place, or why a board is not listened to."""

    EMPTY = "empty"
    FILE = "file"
    ASIDE = "aside"
    NO_RULE = "no_rule"


@dataclass(frozen=True, slots=True)
class Unguarded:
    """Why a place (or a board) is not guarded, who said so, when and until when [ms since 1970 UTC].

    `said_by` is "" where the settings say it. `undo` is the command that ends it, "" where the settings must
    be changed.
    """

    why: Why
    said_by: str = ""
    said_ms: int | None = None
    until_ms: int | None = None
    note: str = ""
    undo: str = ""
    entry_id: int | None = None


@dataclass(frozen=True, slots=True)
class PlaceWords:
    """What the logbook says of one place now.

    `empty` and `aside` are the words of a person that hold. `spoken` is whether the logbook (or a forecast of
    flies) ever spoke of animals in it; `lived_in` whether it names animals there now; `filled_ms` is when
    animals came into a place that was empty before [ms since 1970 UTC]; `newest_entry` is the number of the
    newest entry about the whole place.
    """

    empty: Unguarded | None = None
    aside: Unguarded | None = None
    spoken: bool = False
    lived_in: bool = False
    filled_ms: int | None = None
    newest_entry: int = 0

    @property
    def asks(self) -> bool:
        """Whether a person should say if it is empty: no animals by the logbook, and yet guarded."""
        return self.spoken and not self.lived_in and self.empty is None


@dataclass(frozen=True, slots=True)
class Noted:
    """What time has done and no clock that is set back, no newer forecast may undo.

    `arrived_ms` is the latest planned move whose time came, `flies_ms` when flies came into each cage by a
    forecast [ms since 1970 UTC]. What was put aside by entries up to `asides_over` is over.
    """

    arrived_ms: int = 0
    flies_ms: Mapping[str, int] = field(default_factory=dict)
    asides_over: int = 0


NOTHING_NOTED = Noted()


Places = Iterable[object]


@dataclass(slots=True)
class _Homes:
    """Where each cohort lives, which bins are filled, and which places a person said to be in use.

    As far as the logbook says; nothing is refused.
    """

    place: dict[str, str] = field(default_factory=dict)
    cage: dict[str, str] = field(default_factory=dict)
    bins: set[str] = field(default_factory=set)
    in_use: set[str] = field(default_factory=set)
    moved: dict[tuple[str, object], int] = field(default_factory=dict)

    def follow(self, entry: LogbookEntry) -> None:
        """What an entry moves, begins or ends."""
        before = set(self.place.values())
        if entry.subject_kind is SubjectKind.BIN:
            self._follow_bin(entry)
            self.bins -= before - {*self.place.values(), entry.subject}
        elif entry.subject_kind is SubjectKind.COHORT:
            self._follow_cohort(entry)
            # The larvae of a bin are those of the cohorts in it: with the last cohort they are gone.
            self.bins -= before - set(self.place.values())
            self.in_use.discard(self.place.get(entry.subject, ""))
        elif entry.kind == PlaceEntryKind.IN_USE:
            self.in_use.add(entry.subject)
        elif entry.kind == YieldEntryKind.COLLECT:
            self.in_use.add(entry.subject)
            if is_set_to_hatch(entry):
                self.place.setdefault(str(entry.body["cohort"]), str(entry.body.get("tray")))

    def _follow_bin(self, entry: LogbookEntry) -> None:
        if entry.kind == BinEntryKind.EMPTY:
            self.bins.discard(entry.subject)
            stay = names(entry, "stays")
            ended = [
                name for name, place in self.place.items() if place == entry.subject and name not in stay
            ]
            for name in ended if is_linked(entry) else ():
                del self.place[name]
        elif entry.kind in (BinEntryKind.FILL, BinEntryKind.LARVAE):
            self.bins.add(entry.subject)
            if is_linked(entry):
                self.place[str(entry.body.get("cohort"))] = entry.subject

    def _follow_cohort(self, entry: LogbookEntry) -> None:
        name, place, cage = (entry.subject, entry.body.get("place"), entry.body.get("cage"))
        match entry.kind:
            case CohortEntryKind.START:
                self.place[name] = str(cage if cage and entry.body.get("stage") == Stage.ADULT else place)
            case CohortEntryKind.MOVE | CohortEntryKind.PLANNED_MOVE:
                self.place[name] = str(place)
                self.moved[name, place] = _number(entry)
            case CohortEntryKind.SPLIT:
                name = str(entry.body.get("into"))
                self.place[name] = str(place or self.place.get(entry.subject))
            case CohortEntryKind.MERGE:
                self.place.pop(str(entry.body.get("other")), None)
            case CohortEntryKind.END:
                self.place.pop(name, None)
                self.in_use.discard(self.cage.get(name, ""))
        if isinstance(cage, str):
            self.cage[name] = cage

    def awaits(self, planned: LogbookEntry) -> bool:
        """Whether a planned move is still to be made: its cohort lives, and was not moved there since."""
        made = self.moved.get((planned.subject, planned.body.get("place")), 0)
        return planned.subject in self.place and made < _number(planned)

    def lived_in(self, flies_ms: Mapping[str, int]) -> set[str]:
        """The places that hold animals; a cage does when flies of a living cohort came into it."""
        homes = (place for name in self.place for place in self.homes_of(name, flies_ms))
        return {*homes, *self.bins, *self.in_use}

    def homes_of(self, name: str, flies_ms: Mapping[str, int]) -> Iterator[str]:
        """Where a cohort lives; also the cage into which flies of it came."""
        if name in self.place:
            yield self.place[name]
            if self.cage.get(name) in flies_ms:
                yield self.cage[name]


def _stay_after_all(
    old: LogbookEntry, new: LogbookEntry, homes: _Homes, flies_ms: Mapping[str, int]
) -> Iterator[str]:
    """The places in which animals are after all, since an entry that took them away was put right."""
    about, keys = (old.subject_kind, old.kind), TAKEN_BY.get((old.subject_kind, old.kind))
    put_off = old.kind == CohortEntryKind.PLANNED_MOVE and new.at_ms > new.entered_ms
    if keys is None or not (
        put_off or new.kind == WITHDRAWN or any(old.body.get(key) != new.body.get(key) for key in keys)
    ):
        return
    if about == (SubjectKind.BIN, BinEntryKind.EMPTY):
        yield old.subject
        return
    named = old.subject if old.subject_kind is SubjectKind.COHORT else old.body.get("cohort")
    name = old.body.get("other") if old.kind == CohortEntryKind.MERGE else named
    yield from homes.homes_of(str(name), flies_ms)


def _of_start(entry: LogbookEntry, _homes: _Homes) -> Places:
    flies = entry.body.get("stage") == Stage.ADULT
    return entry.body.get("place"), entry.body.get("cage") if flies else None


def _of_move(entry: LogbookEntry, _homes: _Homes) -> Places:
    return (entry.body.get("place"),)


def _of_split(entry: LogbookEntry, homes: _Homes) -> Places:
    return entry.body.get("place"), homes.place.get(entry.subject)


def _of_merge(entry: LogbookEntry, homes: _Homes) -> Places:
    return (homes.place.get(entry.subject),)


def _of_itself(entry: LogbookEntry, _homes: _Homes) -> Places:
    return (entry.subject,)


def _of_eggs(entry: LogbookEntry, _homes: _Homes) -> Places:
    return entry.subject, entry.body.get("tray")


ANIMALS: Mapping[tuple[SubjectKind, str], Callable[[LogbookEntry, _Homes], Places]] = {
    (SubjectKind.COHORT, CohortEntryKind.START): _of_start,
    (SubjectKind.COHORT, CohortEntryKind.MOVE): _of_move,
    (SubjectKind.COHORT, CohortEntryKind.PLANNED_MOVE): _of_move,
    (SubjectKind.COHORT, CohortEntryKind.SPLIT): _of_split,
    (SubjectKind.COHORT, CohortEntryKind.MERGE): _of_merge,
    (SubjectKind.BIN, BinEntryKind.FILL): _of_itself,
    (SubjectKind.BIN, BinEntryKind.FEED): _of_itself,
    (SubjectKind.BIN, BinEntryKind.LARVAE): _of_itself,
    (SubjectKind.BIN, BinEntryKind.WATER): _of_itself,
    (SubjectKind.BIN, BinEntryKind.STIR): _of_itself,
    (SubjectKind.BIN, BinEntryKind.FINISH): _of_itself,
    (SubjectKind.PLACE, PlaceEntryKind.IN_USE): _of_itself,
    (SubjectKind.PLACE, YieldEntryKind.COLLECT): _of_eggs,
}
"""The entries that say that animals are in a place, and in which. A filling counts without a number of larvae
too, and so do feed, water and stirring: nobody does that to a bin for nothing. Where eggs are collected,
flies lay; dead flies that are swept out say nothing of living ones."""
TAKEN_BY: Mapping[tuple[SubjectKind, str], tuple[str, ...]] = {
    (SubjectKind.COHORT, CohortEntryKind.MOVE): (),
    (SubjectKind.COHORT, CohortEntryKind.PLANNED_MOVE): (),
    (SubjectKind.COHORT, CohortEntryKind.SPLIT): (),
    (SubjectKind.COHORT, CohortEntryKind.MERGE): ("other",),
    (SubjectKind.COHORT, CohortEntryKind.END): (),
    (SubjectKind.BIN, BinEntryKind.FILL): ("cohort",),
    (SubjectKind.BIN, BinEntryKind.LARVAE): ("cohort",),
    (SubjectKind.BIN, BinEntryKind.EMPTY): ("stays", "ended"),
}
"""The entries that take animals from where they were, with the keys that say which. Who withdraws one, or
names others, says with it that those animals are still where they were."""


@dataclass(frozen=True, slots=True)
class _Said:
    """That animals are in a place, with the number of the entry and its time [ms since 1970 UTC]."""

    entry_id: int
    at_ms: int
    came: bool = True


def place_words(
    entries: Iterable[LogbookEntry], now_ms: int, noted: Noted = NOTHING_NOTED
) -> dict[str, PlaceWords]:
    """What holds for each place that the logbook speaks of at `now_ms` [ms since 1970 UTC].

    `entries` are all that were ever written. One that was refused, corrected or withdrawn still counts where
    it speaks of animals; "empty" and "aside" count as long as they are not withdrawn.
    """
    every = sorted(entries, key=lambda entry: (entry.at_ms, _number(entry)))
    latest_ms, newer = max(now_ms, noted.arrived_ms), corrections(every)
    homes, animals = _Homes(), defaultdict[str, list[_Said]](list)
    for entry in every:
        after = newer.get(entry.entry_id or 0)
        if after is not None:
            for place in _stay_after_all(entry, after, homes, noted.flies_ms):
                animals[place].append(_Said(_number(after), ALWAYS_MS, came=False))
        if entry.kind == CohortEntryKind.PLANNED_MOVE and not _has_come(entry, after, homes, latest_ms):
            continue
        for place in _places_of(entry, homes):
            came = entry.subject_kind is not SubjectKind.PLACE or place != entry.subject
            animals[place].append(_Said(_number(entry), entry.at_ms, came))
        if after is None:
            homes.follow(entry)
    told = _told_of_homes(every)
    for entry in every:
        # By a clock that was set back an entry may be dated before the start of what it speaks of.
        if entry.kind in (CohortEntryKind.SPLIT, CohortEntryKind.MERGE):
            then = _home_then(entry, told.get(entry.subject, ()), newer)
            for home in {homes.place.get(entry.subject), then} - {None}:
                animals[str(home)].append(_Said(_number(entry), entry.at_ms, came=False))
    lived_in = homes.lived_in(noted.flies_ms)
    about = _words_about(SubjectKind.PLACE, every)
    places = {*animals, *about, *noted.flies_ms, *lived_in}
    return {
        place: _words_of(
            about.get(place, []), animals.get(place, []), noted, now_ms, place, place in lived_in
        )
        for place in places
    }


def _told_of_homes(every: Iterable[LogbookEntry]) -> Mapping[str, list[LogbookEntry]]:
    """The entries that say where a cohort lives, by its name, in the order of time."""
    told = defaultdict[str, list[LogbookEntry]](list)
    for entry in every:
        if entry.subject_kind is SubjectKind.COHORT:
            if entry.kind in (CohortEntryKind.START, CohortEntryKind.MOVE):
                told[entry.subject].append(entry)
            elif entry.kind == CohortEntryKind.SPLIT:
                told[str(entry.body.get("into"))].append(entry)
    return told


def _home_then(
    spoken: LogbookEntry, told: Sequence[LogbookEntry], newer: Mapping[int, LogbookEntry]
) -> str | None:
    """Where the cohort of an entry lived by the book when it was written, whatever was put right since.

    `told` are the entries that say where it lives, in the order of time.
    """
    number = _number(spoken)
    place = None
    for entry in told:
        after = newer.get(entry.entry_id or 0)
        stood = _number(entry) < number and (after is None or _number(after) > number)
        if stood and entry.kind == CohortEntryKind.SPLIT:
            place = entry.body.get("place") or place
        elif stood:
            place = entry.body.get("place")
    return place if isinstance(place, str) else None


def _has_come(planned: LogbookEntry, after: LogbookEntry | None, homes: _Homes, latest_ms: int) -> bool:
    """Whether the time of a planned move came before it was called off, made, or void by the end of all."""
    called_off = after is not None and after.entered_ms < planned.at_ms
    return planned.at_ms <= latest_ms and not called_off and homes.awaits(planned)


def _number(entry: LogbookEntry) -> int:
    return entry.entry_id or _NOT_STORED


def _places_of(entry: LogbookEntry, homes: _Homes) -> Iterator[str]:
    places_of = ANIMALS.get((entry.subject_kind, entry.kind))
    named = () if places_of is None else places_of(entry, homes)
    yield from dict.fromkeys(place for place in named if isinstance(place, str) and place)


def _words_about(kind: SubjectKind, every: Iterable[LogbookEntry]) -> dict[str, list[LogbookEntry]]:
    about = defaultdict[str, list[LogbookEntry]](list)
    for entry in every:
        if entry.subject_kind is kind:
            about[entry.subject].append(entry)
    return about


def _words_of(
    about: list[LogbookEntry],
    animals: list[_Said],
    noted: Noted,
    now_ms: int,
    place: str,
    lived_in: bool,
) -> PlaceWords:
    flies_ms = noted.flies_ms.get(place)
    flies = [] if flies_ms is None else [_Said(0, flies_ms)]
    first_ids = _first_ids(about)
    empties = [entry for entry in in_force(about) if entry.kind == PlaceEntryKind.EMPTY]
    ended_by = {
        first_ids[id(entry)]: _later(first_ids[id(entry)], entry.at_ms, (*animals, *flies))
        for entry in empties
    }
    holding = [entry for entry in empties if not ended_by[first_ids[id(entry)]]]
    return PlaceWords(
        empty=None if not holding else _empty(max(holding, key=_number)),
        aside=_aside(about, noted, now_ms),
        newest_entry=max((entry.entry_id or 0 for entry in about), default=0),
        spoken=bool(animals or flies),
        lived_in=lived_in,
        filled_ms=None if holding or not ended_by else _filled_ms(ended_by[max(ended_by)]),
    )


def _first_ids(about: Iterable[LogbookEntry]) -> dict[int, int]:
    """The number of the first version of each entry, by the identity of the record: a corrected "empty"
    counts as said when it was said first."""
    number_of: dict[int, int] = {}
    by_number: dict[int, int] = {}
    for entry in sorted(about, key=_number):
        number = _number(entry)
        first = number if entry.corrects is None else by_number.get(entry.corrects, entry.corrects)
        number_of[id(entry)] = by_number[number] = first
    return number_of


def _later(first_id: int, at_ms: int, animals: Iterable[_Said]) -> list[_Said]:
    """What says that animals are there, entered later or dated later."""
    return [said for said in animals if said.entry_id > first_id or said.at_ms > at_ms]


def _filled_ms(after: Sequence[_Said]) -> int | None:
    """When animals came after the last "empty"; None where a person only said that they had been there."""
    return min((said.at_ms for said in after), default=None) if all(said.came for said in after) else None


def _empty(entry: LogbookEntry) -> Unguarded:
    return _unguarded(entry, Why.EMPTY, None)


def _unguarded(entry: LogbookEntry, why: Why, until_ms: int | None) -> Unguarded:
    group = "place" if entry.subject_kind is SubjectKind.PLACE else "board"
    return Unguarded(
        why=why,
        said_by=entry.author,
        said_ms=entry.entered_ms,
        until_ms=until_ms,
        note=str(entry.body.get("note") or ""),
        undo=f"{group} in-use {entry.subject}",
        entry_id=entry.entry_id,
    )


def _aside(about: list[LogbookEntry], noted: Noted, now_ms: int) -> Unguarded | None:
    """The newest "aside" while it lasts. "In use", entered later or said later, ends it.

    What waited on a phone without a connection is entered after what others have said meanwhile.
    """
    known = tuple(in_force(about))
    newest = max((entry for entry in known if entry.kind == "aside"), key=_number, default=None)
    if newest is None or _number(newest) <= noted.asides_over:
        return None
    in_use = (entry for entry in known if entry.kind == "in_use")
    if any(_number(entry) > _number(newest) or entry.at_ms > newest.at_ms for entry in in_use):
        return None
    until_ms = _end_ms(newest)
    return _unguarded(newest, Why.ASIDE, until_ms) if newest.entered_ms <= now_ms < until_ms else None


def _end_ms(entry: LogbookEntry) -> int:
    """When "aside" ends, whatever the clock of the computer did: never later than it may last."""
    said = entry.body.get("until_ms")
    latest_ms = entry.entered_ms + LONGEST_ASIDE_MS[entry.subject_kind]
    return min(int(said), latest_ms) if isinstance(said, int | float) else entry.entered_ms


def boards_aside(
    entries: Iterable[LogbookEntry], now_ms: int, noted: Noted = NOTHING_NOTED
) -> dict[str, Unguarded]:
    """The boards to which nobody listens at `now_ms` [ms since 1970 UTC], by name."""
    about = _words_about(SubjectKind.NODE, entries)
    found = {node: _aside(said, noted, now_ms) for node, said in about.items()}
    return {node: aside for node, aside in found.items() if aside is not None}


def arrived_ms(entries: Iterable[LogbookEntry], now_ms: int) -> int:
    """The time of the latest planned move that has come by `now_ms` [ms since 1970 UTC], 0 where none has."""
    planned = (entry.at_ms for entry in entries if entry.kind == CohortEntryKind.PLANNED_MOVE)
    return max((at_ms for at_ms in planned if at_ms <= now_ms), default=0)


def next_arrival_ms(entries: Iterable[LogbookEntry], now_ms: int) -> int | None:
    """The time of the next planned move after `now_ms` [ms since 1970 UTC], None where none is planned."""
    planned = (entry.at_ms for entry in entries if entry.kind == CohortEntryKind.PLANNED_MOVE)
    return min((at_ms for at_ms in planned if at_ms > now_ms), default=None)


def check_place_entry(entry: LogbookEntry, known: Iterable[str], now_ms: int, zone: tzinfo) -> None:
    """Refuse an entry about a place or a board that is not known, of a time ahead, or without a fit end.

    `known` are the places or boards of the settings; `now_ms` is now [ms since 1970 UTC]; UsageError says
    what is allowed.
    """
    known = tuple(known)
    if entry.kind == WITHDRAWN:
        return
    if entry.subject not in known:
        raise UsageError(
            "{name} is not in the settings; known: {known}",
            name=repr(entry.subject),
            known=", ".join(known) or sentence("none yet"),
        )
    kind_of(entry, PlaceEntryKind if entry.subject_kind is SubjectKind.PLACE else NodeEntryKind)
    if entry.at_ms > now_ms:
        raise UsageError(
            "{time} lies ahead (now: {now}); allowed: times that are past",
            time=shown_time(entry.at_ms, zone),
            now=shown_time(now_ms, zone),
        )
    if entry.kind == PlaceEntryKind.ASIDE:
        _check_span(entry)


def _check_span(entry: LogbookEntry) -> None:
    until_ms, longest_ms = entry.body.get("until_ms"), LONGEST_ASIDE_MS[entry.subject_kind]
    allowed = sentence("from 15 minutes to {hours} hours", hours=longest_ms // MS_PER_HOUR)
    if not isinstance(until_ms, int) or isinstance(until_ms, bool):
        raise missing("until_ms", allowed)
    # What waited on a phone without a connection began when it was said there.
    span_ms = until_ms - entry.entered_ms
    if until_ms - min(entry.at_ms, entry.entered_ms) < SHORTEST_ASIDE_MS or not 0 < span_ms <= longest_ms:
        raise UsageError(
            "{minutes} minutes is no time for which it can be put aside; allowed: {allowed}",
            minutes=round(span_ms / MS_PER_MINUTE),
            allowed=allowed,
        )
