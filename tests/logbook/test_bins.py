"""Bins out of the logbook: fillings, events, corrections, and entries that cannot be."""

from __future__ import annotations

from dataclasses import replace
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from cohort_book import CONTEXT as COHORTS

from monitor.bins.evaporation import Cover
from monitor.bins.events import (
    OVEN_DRY_SD,
    SQUEEZE_SD,
    CoverChanged,
    Emptied,
    FanChanged,
    FeedAdded,
    LarvaeChanged,
    MoistureTested,
    Stirred,
    TakenOut,
    WaterAdded,
    Weighed,
)
from monitor.bins.substrate import SubstrateParameters, larvae_kg
from monitor.errors import UsageError
from monitor.logbook.bin_entries import PROBE_KIND, BinValidationContext
from monitor.logbook.entry import WITHDRAWN
from monitor.logbook.replay import FarmBook, FarmContext, check_entry, farm_book
from monitor.records import MS_PER_DAY, MS_PER_HOUR, LogbookEntry, SubjectKind

T0 = 1_790_000_000_000
NOW = T0 + 5 * MS_PER_DAY
BRAN, WASTE = SubstrateParameters(), replace(SubstrateParameters(), name="kitchen_waste")
BINS = BinValidationContext(
    titles={"bin-1": "Bin 1", "bin-2": "Bin 2"},
    zone=ZoneInfo("Africa/Gaborone"),
    substrates={"wheat_bran": BRAN, "kitchen_waste": WASTE},
    usual_substrate="wheat_bran",
    probed=frozenset({"bin-1"}),
    pressure_pa=89_000.0,
)
CONTEXT = FarmContext(replace(COHORTS.cohorts, places=BINS.titles), BINS)
FILL: dict[str, Any] = {"kg": 10.0, "moisture": 0.7, "surface_m2": 0.24}


def _entry(
    kind: str, hours: float, number: int | None = None, corrects: int | None = None, **body: object
) -> LogbookEntry:
    at_ms = T0 + round(hours * MS_PER_HOUR)
    return LogbookEntry(SubjectKind.BIN, "bin-1", kind, at_ms, at_ms, "me", body, corrects, number)


FILLED = _entry("fill", 0, 1, **FILL)


def _book(*entries: LogbookEntry) -> FarmBook:
    return farm_book(entries, CONTEXT, NOW)


def test_a_filling_has_what_was_said_and_what_the_farm_knows() -> None:
    fill = _book(_entry("fill", 0, 1, **FILL, depth_m=0.08, fan=True, cover="net", larvae=9000)).filled(
        "bin-1"
    )
    assert fill is not None
    facts = fill.facts
    assert (facts.wet_kg, facts.moisture, facts.surface_m2) == (10.0, 0.7, 0.24)
    assert (facts.cover, facts.fan, facts.pressure_pa) == (Cover.NET, True, 89_000.0)
    assert facts.probe_depth_m == 0.04, "half of the depth, since a thermometer hangs in it"
    assert facts.substrate is BRAN
    assert facts.larvae is not None and facts.larvae.count == 9000


def test_without_a_thermometer_there_is_no_probe() -> None:
    entry = replace(FILLED, subject="bin-2")
    fill = _book(entry).filled("bin-2")
    assert fill is not None and fill.facts.probe_depth_m is None


def test_every_kind_of_entry_becomes_its_event() -> None:
    fill = _book(
        FILLED,
        _entry("water", 1, 2, kg=1.0, back_to_kg=10.5),
        _entry("feed", 2, 3, kg=2.0, moisture=0.12),
        _entry("weigh", 3, 4, kg=12.0),
        _entry("test", 4, 5, moisture=0.66),
        _entry("test", 5, 6, moisture=0.6, rough=True),
        _entry("stir", 6, 7),
        _entry("cover", 7, 8, cover="lid"),
        _entry("fan", 8, 9, on=True),
        _entry("larvae", 9, 10, larvae=500, age_days=6, cohort="eggs-1"),
        _entry("take", 10, 11, kg=0.5, what="larvae"),
        _entry("finish", 11, 12),
    ).filled("bin-1")
    assert fill is not None
    kinds = [type(event) for event in fill.events]
    assert kinds[:9] == [
        WaterAdded, FeedAdded, Weighed, MoistureTested, MoistureTested, Stirred, CoverChanged, FanChanged,
        LarvaeChanged,
    ]  # fmt: skip
    assert isinstance(fill.events[9], TakenOut)
    assert fill.events[0] == WaterAdded(T0 + MS_PER_HOUR, 1.0, 10.5)
    tests = [event.sd for event in fill.events if isinstance(event, MoistureTested)]
    assert tests == [OVEN_DRY_SD, SQUEEZE_SD]
    assert fill.finishing
    assert fill.cohorts == ("eggs-1",)


def test_a_second_filling_needs_no_size_and_begins_anew() -> None:
    book = _book(FILLED, _entry("empty", 20, 2), _entry("fill", 30, 3, kg=8.0, moisture=0.65))
    first, second = book.fills["bin-1"]
    assert first.emptied_ms == T0 + 20 * MS_PER_HOUR
    assert isinstance(first.events[-1], Emptied)
    assert second.facts.surface_m2 == 0.24
    assert book.standing == (second,)


def test_a_correction_takes_the_place_of_its_entry_and_a_withdrawal_removes_it() -> None:
    water = _entry("water", 1, 2, kg=1.0)
    corrected = _book(FILLED, water, _entry("water", 2, 3, corrects=2, kg=1.5))
    assert corrected.standing[0].events == (WaterAdded(T0 + 2 * MS_PER_HOUR, 1.5),)
    withdrawn = _book(FILLED, water, _entry(WITHDRAWN, 1, 3, corrects=2))
    assert withdrawn.standing[0].events == ()


def test_entries_about_probes_are_not_about_bins() -> None:
    probe = replace(_entry(PROBE_KIND, 1, 2), subject="node-1/substrate_moisture")
    assert _book(FILLED, probe).refused == ()


PEAK_KG = 0.22
"""A thousand larvae of 220 mg, the usual peak."""


def test_larvae_put_in_old_are_heavy_already() -> None:
    young = _book(_entry("fill", 0, 1, **FILL, larvae=1000, age_days=5)).standing[0].facts.larvae
    old = _book(_entry("fill", 0, 1, **FILL, larvae=1000, age_days=12)).standing[0].facts.larvae
    times = np.array([T0, T0 + 20 * MS_PER_DAY])
    assert larvae_kg(young, times).tolist() == pytest.approx([0.005, PEAK_KG])
    assert larvae_kg(old, times)[0] == pytest.approx(larvae_kg(young, times + 7 * MS_PER_DAY)[0])
    assert larvae_kg(old, times)[1] == pytest.approx(PEAK_KG)


@pytest.mark.parametrize(
    ("entry", "said"),
    [
        (_entry("water", 1, kg=0.0), "above 0 to 10000"),
        (_entry("water", 1), "kg is missing"),
        (_entry("water", 1, kg="much"), "kg is 'much'; allowed: a number"),
        (_entry("water", 200, kg=1.0), "lies ahead .*allowed: times that are past"),
        (_entry("water", -1, kg=1.0), "was not filled before that; enter `bin fill`"),
        (_entry("feed", 1, kg=1.0, moisture=1.2), "moisture is 1.2; allowed: a number from 0.01 to 0.99"),
        (_entry("weigh", 1, kg=99_999.0), "kg is 99999; allowed"),
        (_entry("test", 1, moisture=0.5, rough="yes"), "rough is 'yes'; allowed: true or false"),
        (_entry("cover", 1, cover="hat"), "cover is 'hat'; allowed: open, net, lid"),
        (_entry("cover", 1), "cover is missing; allowed: open, net, lid"),
        (_entry("fan", 1, on="perhaps"), "on is 'perhaps'; allowed: true or false"),
        (_entry("larvae", 1), "larvae is missing"),
        (_entry("larvae", 1, larvae=5, age_days=-1), "age days is -1; allowed: a number from 0 to 100"),
        (_entry("take", 1, kg=1.0, what="gold"), "what is 'gold'; allowed: larvae, residue"),
        (_entry("paint", 1), "'paint' is no kind of entry; allowed: fill, water"),
        (_entry("fill", 1, **FILL), "has been filled since .*enter `bin empty` first"),
        (replace(FILLED, subject="room-1", entry_id=None), "room-1 cannot be filled; allowed: bin-1, bin-2"),
        (
            replace(FILLED, subject="bin-2", body={"kg": 1.0, "moisture": 0.7}, entry_id=None),
            "size is missing",
        ),
        (
            replace(FILLED, subject="bin-2", body={**FILL, "substrate": "straw"}, entry_id=None),
            "substrate is 'straw'; allowed: wheat_bran, kitchen_waste",
        ),
        (
            replace(FILLED, subject="bin-2", body={**FILL, "surface_m2": 1e6}, entry_id=None),
            "surface m2 is 1e\\+06",
        ),
    ],
)
def test_an_entry_that_cannot_be_is_refused_with_the_reason(entry: LogbookEntry, said: str) -> None:
    with pytest.raises(UsageError, match=said) as caught:
        check_entry([FILLED], entry, CONTEXT, NOW)
    assert str(caught.value).endswith("Nothing was written")


def test_after_the_emptying_nothing_can_be_done_to_it() -> None:
    with pytest.raises(UsageError, match=r"was emptied on .* and not filled since"):
        check_entry([FILLED, _entry("empty", 2, 2)], _entry("water", 3, kg=1.0), CONTEXT, NOW)


def test_a_correction_that_makes_another_entry_impossible_is_refused() -> None:
    entries = [FILLED, _entry("water", 1, 2, kg=1.0)]
    later = _entry("fill", 4, corrects=1, **FILL)
    with pytest.raises(
        UsageError, match=r"then entry 2 \(water of bin-1, .*could not be: it was not filled before"
    ):
        check_entry(entries, later, CONTEXT, NOW)


def test_an_entry_that_cannot_be_does_not_stop_the_others() -> None:
    book = _book(FILLED, _entry("water", 1, 2, kg="much"), _entry("stir", 2, 3))
    assert [type(event) for event in book.standing[0].events] == [Stirred]
    assert [refusal.entry.entry_id for refusal in book.refused] == [2]
