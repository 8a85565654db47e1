"""What a form about a cohort suggests: the next free name, the usual place, the usual ending."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from monitor.development.progress import Cohort, CohortTrack, Ended, Ending, Origin, Purpose, Residence
from monitor.logbook.suggestions import next_name, usual_ending, usual_first_place, usual_next_place
from monitor.records import MS_PER_DAY, PlaceKind, Stage

TODAY = date(2026, 9, 24)
NOW_MS = 100 * MS_PER_DAY
KINDS = {
    "tray-1": PlaceKind.HATCHING_TRAY,
    "tray-2": PlaceKind.HATCHING_TRAY,
    "bin-1": PlaceKind.GROW_OUT_BIN,
    "bin-2": PlaceKind.GROW_OUT_BIN,
    "bin-3": PlaceKind.GROW_OUT_BIN,
    "box-1": PlaceKind.PUPATION_BOX,
    "cage-1": PlaceKind.LOVE_CAGE,
    "cage-2": PlaceKind.LOVE_CAGE,
    "shed": PlaceKind.ROOM,
}


def cohort(name: str, *places: str, days_ago: float = 20.0, **more: object) -> Cohort:
    """A cohort that moved from place to place, a day in each."""
    start_ms = round(NOW_MS - days_ago * MS_PER_DAY)
    stays = tuple(Residence(place, start_ms + at * MS_PER_DAY) for at, place in enumerate(places))
    made = Cohort(name, CohortTrack(name, start_ms, stays), Origin.LAID)
    return replace(made, **more)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("begun", "taken", "name"),
    [
        ([], [], "batch-1"),
        ([], ["batch-1"], "batch-2"),
        (["eggs-9"], ["eggs-9"], "eggs-10"),
        (["eggs-09"], ["eggs-09"], "eggs-10"),
        (["E007"], ["E007"], "E008"),
        (["eggs-1"], ["eggs-1", "eggs-2", "eggs-3"], "eggs-4"),
        (["w38-1", "w38-2"], ["w38-1", "w38-2"], "w38-3"),
        (["first"], ["first"], "first-2"),
        (["b-2026-09-20"], ["b-2026-09-20"], "b-2026-09-24"),
        (["b20260920"], ["b20260920"], "b20260924"),
        (["b-2026-09-24"], ["b-2026-09-24"], "b-2026-09-24-2"),
        (["b-2026-99-99"], ["b-2026-99-99"], "b-2026-99-100"),
    ],
)
def test_a_new_cohort_is_named_in_the_way_of_the_farm(begun: list[str], taken: list[str], name: str) -> None:
    assert next_name(begun, taken, TODAY, "batch-1") == name


@pytest.mark.parametrize(
    ("here", "there"), [("tray-1", "bin-1"), ("bin-1", "box-1"), ("box-1", "cage-1"), ("shed", None)]
)
def test_a_farm_that_moved_nothing_yet_moves_by_the_kind_that_comes_next(
    here: str, there: str | None
) -> None:
    mine = cohort("a", here)
    assert usual_next_place(mine, [mine], KINDS, NOW_MS) == there


def test_a_farm_moves_as_it_moved_before() -> None:
    """This farm takes pupae out of the bin into the cage, without a box between."""
    mine = cohort("new", "bin-3", days_ago=5.0)
    before = [cohort(f"b{at}", "bin-1", "cage-2") for at in range(2)]
    assert usual_next_place(mine, [*before, mine], KINDS, NOW_MS) == "cage-2"
    once_else = cohort("c", "bin-2", "box-1")
    assert usual_next_place(mine, [*before, once_else, mine], KINDS, NOW_MS) == "cage-2"


def test_a_free_bin_comes_before_one_that_is_lived_in_but_flies_share_a_cage() -> None:
    mine, there = cohort("a", "tray-1"), cohort("b", "bin-1")
    assert usual_next_place(mine, [mine, there], KINDS, NOW_MS) == "bin-2"
    gone = replace(there, ended=Ended(NOW_MS, Ending.HARVESTED))
    assert usual_next_place(mine, [mine, gone], KINDS, NOW_MS) == "bin-1"
    pupae, flies = cohort("c", "box-1"), cohort("d", "box-1", "cage-1")
    assert usual_next_place(pupae, [pupae, flies], KINDS, NOW_MS) == "cage-1"


def test_what_was_planned_or_named_comes_first() -> None:
    mine = cohort("a", "tray-1")
    planned = Residence("bin-3", NOW_MS + MS_PER_DAY)
    stays = (*mine.track.residences, planned)
    mine = replace(mine, planned=(planned,), track=replace(mine.track, residences=stays))
    assert usual_next_place(mine, [mine], KINDS, NOW_MS) == "bin-3"
    pupae = cohort("b", "box-1", cage="cage-2")
    assert usual_next_place(pupae, [pupae], KINDS, NOW_MS) == "cage-2"


def test_larvae_for_feed_end_in_their_bin() -> None:
    feed = cohort("a", "bin-1", purpose=Purpose.FEED)
    assert usual_next_place(feed, [feed], KINDS, NOW_MS) is None


def test_a_new_cohort_begins_where_the_last_one_did_in_a_free_place() -> None:
    assert usual_first_place([], KINDS, NOW_MS) == "tray-1"
    assert usual_first_place([cohort("a", "tray-1")], KINDS, NOW_MS) == "tray-2"
    assert usual_first_place([cohort("a", "tray-1", "bin-1")], KINDS, NOW_MS) == "tray-1"
    bought = cohort("b", "bin-1", days_ago=2.0)
    assert usual_first_place([cohort("a", "tray-1"), bought], KINDS, NOW_MS) == "bin-2"


def test_how_a_cohort_ends() -> None:
    mine = cohort("a", "bin-1")
    assert usual_ending(mine, [mine], Stage.LARVA) is None
    assert usual_ending(mine, [mine], Stage.ADULT) is Ending.EMERGED
    assert usual_ending(replace(mine, purpose=Purpose.FEED), [mine], Stage.LARVA) is Ending.HARVESTED
    sold = cohort("b", "bin-1", ended=Ended(NOW_MS, Ending.SOLD))
    merged = [cohort(f"m{at}", "bin-1", ended=Ended(NOW_MS, Ending.MERGED)) for at in range(2)]
    assert usual_ending(mine, [mine, sold, *merged], Stage.LARVA) is Ending.SOLD
