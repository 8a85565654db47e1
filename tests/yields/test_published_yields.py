"""Definitions and sums against published figures; sources and marks stand in references/yields.toml.

What a source prints as a result has to follow from what it prints as inputs, to the last digit. What does not
follow stands there with the reason, and is shown here. What was worked out by us from open data is no
published result: it is held against a computation with numpy beside it.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Callable
from datetime import UTC
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from monitor.errors import UsageError
from monitor.yields import definitions
from monitor.yields.assumptions import Assumptions
from monitor.yields.definitions import bioconversion, counted_share, larvae_left, specific_growth_rate
from monitor.yields.figures import total
from monitor.yields.fillings import FillingSum, filling_sums
from monitor.yields.records import (
    EggsCollected,
    EggUse,
    FeedGiven,
    HatchSeen,
    LarvaeIn,
    LarvaeOut,
    Residue,
    Takings,
)
from monitor.yields.sums import Wanted, farm_sums

REFERENCES: dict[str, Any] = tomllib.loads(
    (Path(__file__).parents[1] / "references" / "yields.toml").read_text(encoding="utf-8")
)
PUBLISHED = REFERENCES["published"]
SEEN = {"open data", "seen in full text", "seen in the stored text of the page"}
DAY = 86_400_000
G = 1e-3


def times_grown(start_mg: float, end_mg: float, days: float) -> float:
    """How many times heavier, through the growth rate and back."""
    return math.exp(specific_growth_rate(start_mg, end_mg, days) * days / 100.0)


def formula(name: str) -> Callable[..., float]:
    """The definition of that name."""
    found: Callable[..., float] = times_grown if name == "times_grown" else getattr(definitions, name)
    return found


def printed(value: float, like: str) -> str:
    """A value with as many digits after the point as another has."""
    return f"{value:.{len(like.partition('.')[2])}f}"


def row_id(row: dict[str, Any]) -> str:
    """Name of a row in the list of tests."""
    return f"{row['source']}: {row['name']}"


@pytest.mark.parametrize("row", PUBLISHED, ids=row_id)
def test_a_published_result_follows_from_the_published_inputs(row: dict[str, Any]) -> None:
    value = formula(row["formula"])(*row["inputs"]) * row.get("times", 1)
    assert printed(value, row["result"]) == row["result"]


def test_there_are_enough_of_them_and_each_was_seen() -> None:
    assert len(PUBLISHED) >= 20
    assert len({row["source"] for row in PUBLISHED}) >= 6
    assert {source["mark"] for source in REFERENCES["sources"].values()} <= SEEN
    assert {row["source"] for row in PUBLISHED} <= set(REFERENCES["sources"])


@pytest.mark.parametrize("row", REFERENCES["does_not_follow"], ids=row_id)
def test_what_does_not_follow_is_said(row: dict[str, Any]) -> None:
    assert row["reason"]
    if row["ours"] == "refused":
        with pytest.raises(UsageError):
            formula(row["formula"])(*row["inputs"])
    else:
        ours = printed(formula(row["formula"])(*row["inputs"]), row["ours"])
        assert ours == row["ours"] != row["result"]


CHAMBER = REFERENCES["chamber"]
CRATES = range(len(CHAMBER["frass_g"]))


def crate_sum(crate: int) -> FillingSum:
    """One crate through the records and sums of the program, with the dry share that was measured there."""
    moisture, place = float(np.mean(CHAMBER["feed_moistures"])), f"crate-{crate}"
    start_mg, start_dry_mg = float(np.mean(CHAMBER["start_mg"])), float(np.mean(CHAMBER["start_dry_mg"]))
    end_ms = round(CHAMBER["days"] * DAY)
    feed = FeedGiven(at_ms=0, place=place, filling_ms=0, kg=CHAMBER["feed_g"] * G, moisture=moisture)
    put_in = LarvaeIn(
        at_ms=0, place=place, filling_ms=0, count=CHAMBER["larvae"], kg=CHAMBER["larvae"] * start_mg * 1e-6
    )
    out = LarvaeOut(
        at_ms=end_ms,
        place=place,
        filling_ms=0,
        kg=CHAMBER["larvae_g"][crate] * G,
        mean_mg=CHAMBER["larva_mg"][crate],
    )
    frass = Residue(
        at_ms=end_ms,
        place=place,
        filling_ms=0,
        kg=CHAMBER["frass_g"][crate] * G,
        moisture=float(np.mean(CHAMBER["frass_moistures"][crate])),
    )
    assumed = Assumptions(
        eggs_per_gram=None,
        female_share=0.5,
        female_share_sd=0.0,
        female_life_days=9.6,
        larva_dry_share=1.0 - CHAMBER["larva_moistures"][crate],
        young_dry_share=start_dry_mg / start_mg,
    )
    takings = Takings(feed=(feed,), larvae_in=(put_in,), larvae_out=(out,), residues=(frass,))
    return filling_sums(takings, assumed, {})[0]


def chamber_by_numpy() -> dict[str, Any]:
    """The same crates without the program, by the formulas of the study's analysis code."""
    n, feed = CHAMBER["larvae"], CHAMBER["feed_g"]
    dry_feed = feed * (1 - np.mean(CHAMBER["feed_moistures"]))
    start, start_dry = n * np.mean(CHAMBER["start_mg"]) / 1e3, n * np.mean(CHAMBER["start_dry_mg"]) / 1e3
    frass = np.array(CHAMBER["frass_g"]) * (1 - np.mean(CHAMBER["frass_moistures"], axis=1))
    larvae = np.array(CHAMBER["larvae_g"])
    larvae_dry = larvae * (1 - np.array(CHAMBER["larva_moistures"]))
    return {
        "bioconversion_wet": (larvae - start) / feed,
        "bioconversion_dry": (larvae_dry - start_dry) / dry_feed,
        "reduction": 1 - frass / dry_feed,
        "index": 100 * (1 - frass / dry_feed) / CHAMBER["days"],
        "conversion_wet": feed / (larvae - start),
        "conversion_dry": dry_feed / (larvae_dry - start_dry),
        "conversion_dry_fresh": dry_feed / (larvae - start),
        "efficiency": (larvae_dry - start_dry) / (dry_feed - frass),
        "survival": larvae / (np.array(CHAMBER["larva_mg"]) / 1e3) / n,
        "growth_rate": 100
        * np.log(np.array(CHAMBER["larva_mg"]) / np.mean(CHAMBER["start_mg"]))
        / CHAMBER["days"],
    }


@pytest.mark.parametrize("figure", sorted(chamber_by_numpy()))
def test_sums_of_twelve_crates_agree_with_an_independent_computation(figure: str) -> None:
    ours = [getattr(crate_sum(crate), figure).value for crate in CRATES]
    assert ours == pytest.approx(list(chamber_by_numpy()[figure]), rel=1e-12)


@pytest.mark.parametrize("figure", sorted(CHAMBER["means"]))
def test_the_means_of_the_crates_are_those_of_the_collection(figure: str) -> None:
    mean = float(np.mean([getattr(crate_sum(crate), figure).value for crate in CRATES]))
    assert printed(mean, CHAMBER["means"][figure]) == CHAMBER["means"][figure]


def test_what_the_collection_counts_gross_is_not_what_the_sums_say() -> None:
    gross = CHAMBER["gross"]
    larvae_kg = float(np.mean(CHAMBER["larvae_g"])) * G
    dry_kg = float(np.mean(np.array(CHAMBER["larvae_g"]) * (1 - np.array(CHAMBER["larva_moistures"])))) * G
    feed_kg = CHAMBER["feed_g"] * G
    feed_dry_kg = definitions.dry(feed_kg, float(np.mean(CHAMBER["feed_moistures"])))
    theirs = {
        "bioconversion_wet": bioconversion(larvae_kg, 0.0, feed_kg),
        "conversion_wet": definitions.feed_conversion(feed_kg, larvae_kg),
        "conversion_dry": definitions.feed_conversion(feed_dry_kg, dry_kg),
    }
    assert {name: printed(value, gross[name]) for name, value in theirs.items()} == gross
    net = {name: float(np.mean([getattr(crate_sum(each), name).value for each in CRATES])) for name in gross}
    assert {name: printed(value, gross[name]) for name, value in net.items()} != gross
    assert net["bioconversion_wet"] < 0.27


def cages() -> Takings:
    """The three cages on brewery grain; a sample without an egg is none."""
    rows = REFERENCES["repro_cages"]["rows"]
    eggs = [
        EggsCollected(
            at_ms=day * DAY,
            place=f"cage-{cage}",
            grams=grams,
            use=EggUse.HATCH,
            tray="t",
            into=f"{cage}-{day}",
        )
        for cage, day, grams, _, _ in rows
        if grams
    ]
    hatches = [
        HatchSeen(
            at_ms=(day + 4) * DAY, place="t", cohort=f"{cage}-{day}", share=counted_share(hatched, unhatched)
        )
        for cage, day, _, hatched, unhatched in rows
        if hatched + unhatched
    ]
    return Takings(
        eggs=tuple(sorted(eggs, key=lambda each: each.at_ms)),
        hatches=tuple(sorted(hatches, key=lambda each: each.at_ms)),
    )


def test_cage_totals_and_hatch_agree_with_the_summary_of_the_open_data() -> None:
    facts = REFERENCES["repro_cages"]
    sums = farm_sums(cages(), UTC, 60 * DAY, Wanted(Assumptions(39_171.0, 0.5, 0.0, 9.6))).cages
    totals = [each.grams.value or 0.0 for each in sums]
    assert printed(float(np.mean(totals)), facts["total_g"]) == facts["total_g"]
    assert printed(float(np.std(totals, ddof=1)), facts["total_sd_g"]) == facts["total_sd_g"]
    table = np.array(facts["rows"], dtype=float)
    for number, cage in enumerate(sums, 1):
        mine = table[(table[:, 0] == number) & (table[:, 2] > 0.0)]
        share = mine[:, 3] / (mine[:, 3] + mine[:, 4])
        assert cage.hatch.value == pytest.approx(np.average(share, weights=mine[:, 2]), rel=1e-12)
        assert cage.hatch.entries == len(mine)
    hatch = float(np.mean([each.hatch.value or 0.0 for each in sums]))
    assert printed(hatch, facts["hatch"]) == facts["hatch"]


@pytest.mark.parametrize("day", sorted(REFERENCES["repro_cages"]["by_day"]))
def test_grams_and_hatch_by_day_of_collecting_agree_with_the_summary(day: str) -> None:
    """A cage from which nothing came that day counts as nothing: there each day was looked at."""
    facts = REFERENCES["repro_cages"]
    grams, share = facts["by_day"][day]
    rows = [row for row in facts["rows"] if row[1] == int(day)]
    collected = total(row[2] for row in rows)
    assert printed((collected.value or 0.0) / collected.entries, grams) == grams
    assert printed(counted_share(sum(row[3] for row in rows), sum(row[4] for row in rows)), share) == share


@pytest.mark.parametrize("row", REFERENCES["by_products"]["rows"], ids=lambda row: f"{row[0]}_{row[1]}")
def test_the_figures_of_a_series_speak_of_the_larvae_that_were_put_in(row: list[Any]) -> None:
    """Solved for the larvae put in, the published means of a series are those stated, up to 7 % more."""
    _, series, share_alive, larva_mg, published, dry_share = row
    facts = REFERENCES["by_products"]
    start_mg = facts["start_mg"][series]

    def converted(put_in: float) -> float:
        out_kg = put_in * share_alive * larva_mg * dry_share / 1e6
        return bioconversion(out_kg, put_in * start_mg * dry_share / 1e6, facts["feed_dry_kg"])

    put_in = published / converted(1.0)
    assert 1_060 < put_in < 1_220 * 1.07
    assert larvae_left(put_in * share_alive * larva_mg / 1e6, larva_mg) / put_in == pytest.approx(share_alive)
