"""What an entry about a cohort is likely to say, from what the farm did before: its name, place and ending.

Nothing is written by it: it stands in the form already, to be confirmed or changed.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Collection, Iterable, Mapping, Sequence
from datetime import date
from itertools import pairwise

from monitor.development.progress import Cohort, Ending, Purpose
from monitor.records import PlaceKind, Stage

Kinds = Mapping[str, PlaceKind]
"""The kind of each place of the farm, in the order of the settings."""
USUAL_ROUTE: Mapping[PlaceKind, PlaceKind] = {
    PlaceKind.HATCHING_TRAY: PlaceKind.GROW_OUT_BIN,
    PlaceKind.GROW_OUT_BIN: PlaceKind.PUPATION_BOX,
    PlaceKind.PUPATION_BOX: PlaceKind.LOVE_CAGE,
}
"""The kind of place that comes next, where the farm's own moves say nothing: common practice, no source."""
STAGE_OF_PLACE: Mapping[PlaceKind, Stage] = {
    PlaceKind.HATCHING_TRAY: Stage.EGG,
    PlaceKind.GROW_OUT_BIN: Stage.LARVA,
    PlaceKind.PUPATION_BOX: Stage.PREPUPA,
    PlaceKind.LOVE_CAGE: Stage.ADULT,
}
"""As what a cohort begins that is put into such a place, unless somebody says it: choice."""
_COUNTED_UP = re.compile(r"(.*?)(\d+)")


def next_name(begun: Sequence[str], taken: Collection[str], today: date, first: str) -> str:
    """A free name for a new cohort, in the way of the farm's names.

    `begun` are the farm's cohorts, the last one begun at the end; `first` is a name where there is none yet.
    A date of the day at the end of the last name becomes today's, a number counts up, else one is added.
    """
    last = begun[-1] if begun else first
    for written in ("%Y-%m-%d", "%Y%m%d"):
        length = len(f"{today:{written}}")
        if begun and _is_date(last[-length:], written):
            dated = f"{last[:-length]}{today:{written}}"
            return dated if dated not in taken else _counted_up(f"{dated}-1", taken)
    return last if not begun and first not in taken else _counted_up(last, taken)


def _is_date(text: str, written: str) -> bool:
    digits = text.replace("-", "")
    if len(digits) != 8 or not digits.isdecimal() or not digits.startswith("20"):
        return False
    try:
        made = date(int(digits[:4]), int(digits[4:6]), int(digits[6:]))
    except ValueError:
        return False
    return f"{made:{written}}" == text


def _counted_up(name: str, taken: Collection[str]) -> str:
    """The next number that is free, as wide as the one before; a name without a number gets one."""
    match = _COUNTED_UP.fullmatch(name)
    stem, digits = (match[1], match[2]) if match else (f"{name}-", "1")
    number = int(digits) + 1
    while f"{stem}{number:0{len(digits)}d}" in taken:
        number += 1
    return f"{stem}{number:0{len(digits)}d}"


def usual_next_place(cohort: Cohort, cohorts: Iterable[Cohort], kinds: Kinds, now_ms: int) -> str | None:
    """Where it is likely to be moved: as was planned, else as the farm moved others from such a place.

    Of a farm that has moved none yet it is the kind of place that comes next. Among the places of that kind
    a free one comes first, except that flies share a cage.
    """
    planned = cohort.unconfirmed_move(now_ms) or cohort.next_move(now_ms)
    if planned is not None and planned.place in kinds:
        return planned.place
    here = cohort.place_at(now_ms)
    every = list(cohorts)
    moves = [stays for each in every for stays in pairwise(_places_lived(each, now_ms))]
    kind = _next_kind(here, moves, kinds, for_feed=cohort.purpose is Purpose.FEED)
    if kind is PlaceKind.LOVE_CAGE and cohort.cage in kinds and cohort.cage != here:
        return cohort.cage
    lived_in = {each.place_at(now_ms) for each in every if each.ended is None}
    shared = kind is PlaceKind.LOVE_CAGE
    often = Counter(there for _, there in moves)
    places = [place for place, its in kinds.items() if its is kind and place != here]
    return min(places, key=lambda place: (not shared and place in lived_in, -often[place]), default=None)


def _places_lived(cohort: Cohort, now_ms: int) -> list[str]:
    return [stay.place for stay in cohort.track.residences if stay.from_ms <= now_ms]


def _next_kind(
    here: str, moves: Iterable[tuple[str, str]], kinds: Kinds, *, for_feed: bool
) -> PlaceKind | None:
    """The kind into which most went from such a place, else the usual one; None where it ends here."""
    kind = kinds.get(here)
    went = Counter(kinds[there] for away, there in moves if kinds.get(away) is kind and there in kinds)
    if for_feed and kind is PlaceKind.GROW_OUT_BIN:
        return None
    if went:
        return went.most_common(1)[0][0]
    return None if kind is None else USUAL_ROUTE.get(kind)


def usual_first_place(cohorts: Iterable[Cohort], kinds: Kinds, now_ms: int) -> str | None:
    """Where a new cohort is likely to begin: where the last ones did, a free place of that kind first."""
    every = sorted(cohorts, key=lambda each: each.track.start_ms)
    begun = [each.track.residences[0].place for each in every if each.parent is None]
    last = next((kinds[place] for place in reversed(begun) if place in kinds), PlaceKind.HATCHING_TRAY)
    lived_in = {each.place_at(now_ms) for each in every if each.ended is None}
    often = Counter(begun)
    places = [place for place, its in kinds.items() if its is last]
    return min(places, key=lambda place: (place in lived_in, -often[place]), default=None)


def usual_ending(cohort: Cohort, cohorts: Iterable[Cohort], stage: Stage | None) -> Ending | None:
    """How it is likely to end: with flies all are out, feed is harvested; else as the farm's others did."""
    if stage is Stage.ADULT or cohort.flies or cohort.eggs_grams:
        return Ending.EMERGED
    if cohort.purpose is Purpose.FEED:
        return Ending.HARVESTED
    like = Counter(
        each.ended.how
        for each in cohorts
        if each.ended is not None and each.purpose is cohort.purpose and each.ended.how is not Ending.MERGED
    )
    return like.most_common(1)[0][0] if like else None
