"""What the logbook of a farm says was taken and given, and its sums, for tests."""

from __future__ import annotations

from monitor.farm.book import book_of, wanted_of_farm
from monitor.farm.yields import yields_now
from monitor.settings.plan import Plan
from monitor.store import Store
from monitor.yields.money import Prices
from monitor.yields.records import Takings
from monitor.yields.sums import FarmSums, farm_sums


def takings_of_farm(store: Store, plan: Plan, now_ms: int) -> Takings:
    """All that the logbook says this farm took and gave until `now_ms` [ms since 1970 UTC]."""
    return yields_now(store, plan, book_of(store, plan, now_ms), now_ms).takings


def sums_of_farm(store: Store, plan: Plan, now_ms: int, prices: Prices | None = None) -> FarmSums:
    """The sums of a farm with prices that stand in no settings."""
    book = book_of(store, plan, now_ms)
    wanted = wanted_of_farm(plan, book, prices=prices)
    return farm_sums(takings_of_farm(store, plan, now_ms), plan.zone, now_ms, wanted)
