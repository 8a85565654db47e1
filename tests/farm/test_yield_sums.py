"""What a farm yields, from its own logbook in the store."""

from __future__ import annotations

from pathlib import Path

import pytest
from cohort_farm import NOW_MS, make_farm
from farm_yields import sums_of_farm

from monitor.farm.entries import EntryWriter
from monitor.logbook.bin_entries import BinEntryKind
from monitor.logbook.cohort_entries import CohortEntryKind
from monitor.records import MS_PER_DAY
from monitor.store import Store
from monitor.yields.figures import Lack
from monitor.yields.money import Prices

FILL = {"kg": 10.0, "moisture": 0.7, "surface_m2": 0.24, "cohort": "l1"}
LARVAE = {"stage": "larva", "place": "bin-1", "animals": 6000, "age_days": 5}


def test_a_bin_that_was_emptied_counts_in_the_week_of_its_harvest(tmp_path: Path) -> None:
    farm = make_farm(tmp_path)
    with Store.open(farm.database, check=False) as store:
        writer, plan = EntryWriter(store, farm.plan(), "ana", NOW_MS), farm.plan()
        writer.write("l1", CohortEntryKind.START, NOW_MS - 14 * MS_PER_DAY, LARVAE)
        writer.write("bin-1", BinEntryKind.FILL, NOW_MS - 14 * MS_PER_DAY, FILL)
        emptied = {"grams": 2000.0, "how": "sold"}
        writer.write("bin-1", BinEntryKind.EMPTY, NOW_MS - 4 * MS_PER_DAY, emptied)
        prices = Prices("P", larvae_kg=12.0)
        sums = sums_of_farm(store, plan, NOW_MS, prices)
    (filling,) = sums.fillings
    assert (filling.is_over, filling.feed.value, filling.larvae.value) == (True, 10.0, 2.0)
    assert filling.reduction.lacks == (Lack.RESIDUE,)
    assert Lack.STILL_FILLED not in filling.conversion_wet.lacks
    (week,) = (each for each in sums.weeks if each.conversions.fillings)
    assert week.conversions.conversion_wet.value == pytest.approx(5.0)
    assert week.income is not None
    assert week.income.larvae.value == pytest.approx(24.0)
    (cohort,) = sums.cohorts
    assert cohort.days_from_egg.value == pytest.approx(15.0)
