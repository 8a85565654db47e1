"""What is asked once about an entry of what was taken: slips of a unit or a point, the same thing twice."""

from __future__ import annotations

from typing import Any

import pytest
from takings_book import BIN, COHORT, CONTEXT, FILL, PLACE, YieldBook

from monitor.logbook.yield_questions import slipped
from monitor.records import SubjectKind

LIMITS = CONTEXT.cohorts.limits
LAID = 2000 * (LIMITS.most_eggs_per_female or 0.0) / (CONTEXT.cohorts.eggs_per_gram or 1.0)
"""What 2,000 flies would lay at most if all were females [g]."""


@pytest.fixture
def log() -> YieldBook:
    book = YieldBook()
    book.write(COHORT, "flies-1", "start", 0, stage="adult", place="cage-1", animals=2000)
    book.write(BIN, "bin-1", "fill", 0, kg=60.0, moisture=0.7, surface_m2=1.0, larvae=20_000, age_days=5)
    return book


def _asked(
    log: YieldBook, about: SubjectKind, subject: str, kind: str, hours: float, **body: Any
) -> dict[str, bool]:
    return {each.key: each.refused for each in log.asked(about, subject, kind, hours, **body)}


@pytest.mark.parametrize(
    ("grams", "found"),
    [
        (12.0, {}),
        (LAID - 0.5, {}),
        (LAID + 0.5, {"many_eggs": False}),
        (180.0, {"many_eggs": False}),
        (400.0, {"eggs_too_heavy": False}),
    ],
)
def test_eggs_that_weigh_more_than_the_flies_or_than_they_lay_are_asked(
    log: YieldBook, grams: float, found: dict[str, bool]
) -> None:
    assert _asked(log, PLACE, "cage-1", "collect", 48, grams=grams) == found


def test_a_slip_is_said_with_what_was_meant(log: YieldBook) -> None:
    (asked,) = log.asked(PLACE, "cage-1", "collect", 48, grams=390.0)
    assert "more than they weigh; 39 g?" in asked.sentence.text
    (asked,) = log.asked(BIN, "bin-1", "take", 48, kg=1500.0, what="larvae")[:1]
    assert asked.refused and asked.sentence.text.endswith("60.0 kg at most are in it by the book; 1.5 kg?")


@pytest.mark.parametrize(
    ("value", "most", "meant"), [(400, 200, 40), (1500, 60, 1.5), (1500, 20, 1.5), (9e9, 1.0, None)]
)
def test_the_point_is_put_right_first_then_the_unit(value: float, most: float, meant: float | None) -> None:
    assert slipped(value, most) == meant


@pytest.mark.parametrize(("grams", "found"), [(100.0, {}), (101.0, {"many_eggs": False})])
def test_of_a_cage_whose_flies_nobody_counted_more_than_usual_is_asked(
    log: YieldBook, grams: float, found: dict[str, bool]
) -> None:
    assert _asked(log, PLACE, "cage-2", "collect", 48, grams=grams) == found


def test_the_same_amount_of_the_same_cage_within_hours_is_asked(log: YieldBook) -> None:
    number = log.eggs(48, 12.0)
    assert _asked(log, PLACE, "cage-1", "collect", 50, grams=12.0) == {"twice": False}
    assert _asked(log, PLACE, "cage-1", "collect", 50, grams=12.1) == {}
    assert _asked(log, PLACE, "cage-2", "collect", 50, grams=12.0) == {}
    assert _asked(log, PLACE, "cage-1", "collect", 72, grams=12.0) == {}
    (asked,) = log.asked(PLACE, "cage-1", "collect", 50, grams=12.0)
    assert f"entry {number}" in asked.sentence.text


@pytest.mark.parametrize(
    ("body", "found"),
    [
        ({"kg": 3.0, "what": "larvae", "mean_mg": 160}, {}),
        ({"kg": 3.0, "what": "larvae", "mean_mg": 16}, {"light_larvae": False}),
        ({"kg": 3.0, "what": "larvae", "mean_mg": 1.6}, {"light_larvae": False}),
        ({"kg": 3.0, "what": "larvae", "mean_mg": 900}, {"heavy_larvae": False}),
        ({"kg": 8.0, "what": "larvae"}, {"heavy_larvae": False}),
        ({"kg": 8.0, "what": "residue"}, {}),
        ({"animals": 4000, "what": "prepupae"}, {}),
        ({"animals": 40_000, "what": "prepupae"}, {"more_animals": False}),
        ({"kg": 90.0, "what": "residue"}, {"more_taken": True}),
    ],
)
def test_larvae_and_residue_taken_out_fit_the_bin(
    log: YieldBook, body: dict[str, Any], found: dict[str, bool]
) -> None:
    assert _asked(log, BIN, "bin-1", "take", 200, **body) == found


@pytest.mark.parametrize(
    ("body", "found"),
    [
        ({"grams": 3000, "residue_kg": 25.0}, {}),
        ({"grams": 30_000}, {"heavy_larvae": False}),
        ({"grams": 3_000_000}, {"heavy_larvae": False, "more_taken": True}),
        ({"grams": 3000, "residue_kg": 250.0}, {"more_taken": True}),
    ],
)
def test_the_harvest_of_an_emptied_bin_fits_it(
    log: YieldBook, body: dict[str, Any], found: dict[str, bool]
) -> None:
    assert _asked(log, BIN, "bin-1", "empty", 200, how="harvested", **body) == found


def test_a_harvest_that_was_entered_as_taken_out_is_asked(log: YieldBook) -> None:
    log.write(BIN, "bin-1", "take", 200, kg=3.0, what="larvae")
    assert _asked(log, BIN, "bin-1", "empty", 201, how="harvested", grams=3000) == {"twice": False}
    assert _asked(log, BIN, "bin-1", "empty", 220, how="harvested", grams=3000) == {}


@pytest.mark.parametrize(
    ("body", "found"),
    [
        ({"animals": 350}, {}),
        ({"animals": 3500}, {"more_animals": False}),
        ({"grams": 150.0}, {}),
        ({"grams": 200.0}, {"heavy_flies": False}),
    ],
)
def test_dead_flies_are_no_more_than_lived(
    log: YieldBook, body: dict[str, Any], found: dict[str, bool]
) -> None:
    assert _asked(log, PLACE, "cage-1", "dead", 48, **body) == found


@pytest.mark.parametrize(("young", "found"), [(9.0, {}), (13.0, {"heavy_young": False})])
def test_young_larvae_weigh_what_their_eggs_did(log: YieldBook, young: float, found: dict[str, bool]) -> None:
    log.eggs(48, 10.0, tray="tray-1")
    name = "tray-1-2026-09-23"
    assert _asked(log, COHORT, name, "saw", 140, event="hatch", young_grams=young) == found


def test_nothing_is_asked_of_a_bin_that_nobody_filled() -> None:
    log = YieldBook()
    log.write(BIN, "bin-1", "fill", 0, **FILL)
    assert _asked(log, BIN, "bin-1", "take", 48, kg=1.0, what="larvae", mean_mg=150) == {}
