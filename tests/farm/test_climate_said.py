"""What went with the climate of a farm, out of its store: readings, logbook, limits of its settings."""

from __future__ import annotations

import json
from pathlib import Path
from typing import cast

import numpy as np
import pytest
from cohort_farm import NOW_MS, CohortFarm, make_farm
from farm_yields import takings_of_farm

from monitor.climate.arrays import FloatArray, IntArray
from monitor.farm.development import develop
from monitor.farm.place_reader import PlaceReader
from monitor.farm.yields import ClimateSaid, climate_said, place_hours
from monitor.records import MS_PER_DAY, MS_PER_HOUR, LogbookEntry, Quantity, SubjectKind
from monitor.settings.plan import Plan
from monitor.store import Store
from monitor.yields.effects import Verdict
from monitor.yields.exposure import Condition, Made, spans_of
from monitor.yields.laying import DayGrid, day_grid
from monitor.yields.money import Prices

COLD = (75, 74, 64, 58, 57, 49, 41, 40, 31, 22, 21, 20, 12, 6)
"""Mornings after a cold night, days ago."""
PRICES = Prices("BWP", eggs_gram=2.0)


def night_c(day: float) -> float:
    """From 20 to 6 h: it is 7 h now."""
    is_night = any(-ago - 11.5 / 24.0 < day < -ago - 0.5 / 24.0 for ago in COLD)
    return 20.5 if is_night else 27.0


def cold_farm(folder: Path, left: float, silent: bool = False) -> CohortFarm:
    """Two cages with twenty grams a day at 16 h, `left` of them on the two days after a cold night."""

    def temperature_c(place: str, day: float) -> float:
        return float("nan") if silent and place in ("cage-1", "room-1") else night_c(day)

    farm, random = make_farm(folder, temperature_c), np.random.default_rng(1)
    with Store.open(farm.database, check=False) as store, store.logbook.adding():
        for ago in range(85, 0, -1):
            after = ago in COLD or ago + 1 in COLD
            for cage in ("cage-1", "cage-2"):
                grams = 20.0 * (left if after else 1.0) * float(np.exp(0.15 * random.standard_normal()))
                at_ms = NOW_MS - ago * MS_PER_DAY + 9 * MS_PER_HOUR
                body = {"grams": round(grams, 1)}
                store.logbook.add(
                    LogbookEntry(SubjectKind.PLACE, cage, "collect", at_ms, at_ms, "keeper", body)
                )
    return farm


def said_on(farm: CohortFarm, prices: Prices | None = None) -> ClimateSaid:
    with Store.read_only(farm.database) as store:
        plan = farm.plan()
        reader, development = PlaceReader(store, plan, NOW_MS), develop(store, plan, NOW_MS)
        return climate_said(reader, development, takings_of_farm(store, plan, NOW_MS), prices)


def test_cold_nights_of_a_farm_are_told_with_what_they_cost(tmp_path: Path) -> None:
    """The limit is the one of the settings, the second cage goes by its room."""
    said = said_on(cold_farm(tmp_path, 0.6), PRICES)
    cold = next(each for each in said.effects if each.comparison.condition is Condition.COLD_NIGHTS)
    assert cold.is_said
    assert cold.limit == 22.0, "that of the alarm for low air in a cage"
    assert cold.middle == pytest.approx(0.6, abs=0.08)
    assert cold.exposed == len(COLD)
    (effect, lost), *more = said.costs
    assert (effect, more) == (cold, [])
    # Mornings 22, 21, 20, 12 and 6 days ago, and the day after each spell: 4, 2 and 2 days of two cages.
    true = 20.0 * 0.4 * (4 + 2 + 2) * 2
    assert lost.low < true < lost.high
    assert lost.money == pytest.approx((2.0 * lost.low, 2.0 * lost.middle, 2.0 * lost.high))


def test_a_farm_whose_cold_nights_took_nothing_is_told_nothing(tmp_path: Path) -> None:
    said = said_on(cold_farm(tmp_path, 1.0))
    assert {each.verdict for each in said.effects} <= {Verdict.NOT_SURE, Verdict.NOT_WORTH, Verdict.TOO_FEW}
    assert (said.costs, said.limits) == ((), ())


def test_without_prices_no_money_and_without_sensors_nothing_compared(
    tmp_path: Path,
) -> None:
    for name in ("warm", "silent"):
        (tmp_path / name).mkdir()
    said = said_on(cold_farm(tmp_path / "warm", 0.6))
    assert said.costs[0][1].money is None
    silent = said_on(cold_farm(tmp_path / "silent", 0.6, silent=True))
    assert not [each for each in silent.effects if each.comparison.made is Made.EGGS]


def test_an_empty_farm_is_told_nothing(tmp_path: Path) -> None:
    said = said_on(make_farm(tmp_path))
    assert {each.verdict for each in said.effects} == {Verdict.TOO_FEW}
    assert (said.costs, said.limits) == ((), ())


def test_hours_of_a_place_are_its_own_else_those_of_its_room(tmp_path: Path) -> None:
    farm = make_farm(tmp_path, lambda place, _: 31.0 if place == "room-1" else 25.0)
    with Store.read_only(farm.database) as store:
        reader = PlaceReader(store, farm.plan(), NOW_MS)
        grid = day_grid(NOW_MS, NOW_MS - 7 * MS_PER_HOUR, 20, 1)
        own, room = (place_hours(reader, place, grid, NOW_MS) for place in ("cage-1", "cage-2"))
        no_probe = place_hours(reader, "bin-2", grid, NOW_MS)
    assert own is not None and room is not None
    assert len(own.warmth_c) == 20 * 24 + 7
    assert np.nanmean(own.warmth_c) == pytest.approx(25.0, abs=0.1)
    assert np.nanmean(room.warmth_c) == pytest.approx(31.0, abs=0.1)
    assert np.isnan(own.humidity_percent).all() and np.isnan(own.lit).all()
    assert no_probe is None, "the air of a room says nothing of a bin's substrate"


def test_the_command_tells_it_in_words_and_json(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    farm = cold_farm(tmp_path, 0.6)
    settings = tmp_path / "farm.toml"
    settings.write_text(settings.read_text() + '\n[prices]\ncurrency = "BWP"\negg_gram = 2.0\n')
    assert farm.ask("yields") == 0
    out = " ".join(capsys.readouterr().out.split())
    assert "What the climate went with: Nights below 22 °C in the cage went with 4" in out
    assert f"{len(COLD)} nights against" in out
    assert "BWP" in out and "“went with” is not “caused”" in out
    assert farm.ask("yields", "--json") == 0
    said = json.loads(capsys.readouterr().out)["climate"]
    cold = next(each for each in said["compared"] if each["comparison"]["condition"] == "cold_nights")
    assert (cold["verdict"], cold["exposed"], cold["limit"]) == ("said", len(COLD), 22.0)
    assert said["costs"][0]["takings"] > 0
    taking = said["takings_beside_their_hours"][-1]
    assert taking["made"] == "eggs" and taking["place"] in ("cage-1", "cage-2")
    assert taking["hours"] == 48.0 and taking["silent_hours"] == 0.0
    assert taking["humidity_percent"] is None, "nobody measures it there"


def test_hatch_and_harvest_of_the_logbook_have_their_hours(tmp_path: Path) -> None:
    """As a person writes them: eggs into a tray, what hatched, a bin from its filling to its end."""
    farm, bin_ = make_farm(tmp_path), SubjectKind.BIN
    assert farm.ask("eggs", "cage-1", "12 g", "--to", "tray-1", "--at", "2026-08-13 16:00", "--sure") == 0
    assert farm.ask("hatched", "tray-1", "70 %", "--at", "2026-08-18 10:00", "--sure") == 0
    entries = (
        ("fill", 60.0, {"kg": 5.0, "moisture": 0.7, "surface_m2": 0.24, "larvae": 6000.0}),
        ("take", 47.0, {"kg": 1.0, "what": "larvae", "use": "feed"}),
        ("empty", 46.0, {"residue_kg": 2.0}),
    )
    with Store.open(farm.database, check=False) as store, store.logbook.adding():
        for what, ago, body in entries:
            at_ms = NOW_MS - round(ago * MS_PER_DAY)
            store.logbook.add(LogbookEntry(bin_, "bin-1", what, at_ms, at_ms, "keeper", body))
    with Store.read_only(farm.database) as store:
        takings = takings_of_farm(store, farm.plan(), NOW_MS)
    found = {each.made: each for each in spans_of(takings, {})}
    assert set(found) == {Made.EGGS, Made.HATCH, Made.HARVEST}
    hatch, harvest = found[Made.HATCH], found[Made.HARVEST]
    assert (hatch.place, hatch.amount, hatch.mass) == ("tray-1", 0.7, 12.0)
    assert hatch.until_ms - hatch.from_ms == 4 * MS_PER_DAY
    assert (harvest.place, harvest.amount) == ("bin-1", pytest.approx(0.2))
    assert harvest.until_ms - harvest.from_ms == 13 * MS_PER_DAY


class _Lamp:
    """A reader of one cage with a lamp: dim, bright, silent."""

    def __init__(self, plan: Plan) -> None:
        self.plan = plan

    def hours(self, place: str | None, quantity: Quantity, start_ms: int) -> tuple[IntArray, FloatArray]:
        if place != "cage-1" or quantity is Quantity.AIR_HUMIDITY:
            return np.empty(0, dtype=np.int64), np.empty(0)
        values = {Quantity.LIGHT: [20.0, 4000.0]}.get(quantity, [27.0, 28.0, 29.0])
        return start_ms + np.arange(len(values)) * MS_PER_HOUR, np.array(values)


def test_an_hour_is_lit_or_dark_or_unknown(tmp_path: Path) -> None:
    grid = DayGrid(NOW_MS - NOW_MS % MS_PER_DAY, 0, 1)
    reader = cast(PlaceReader, _Lamp(make_farm(tmp_path).plan()))
    found = place_hours(reader, "cage-1", grid, grid.first_ms + 3 * MS_PER_HOUR)
    assert found is not None
    assert found.lit == pytest.approx([0.0, 1.0, np.nan], nan_ok=True)
    assert found.warmth_c.tolist() == [27.0, 28.0, 29.0]
