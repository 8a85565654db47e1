"""The water books of a bin: closed in every history, and right where the answer is known."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.bins import history, water_balance
from monitor.bins.conditions import ClimateSeries, DayShape, climate_of, days_ahead
from monitor.bins.energy_balance import Surface, surface_temperature_c
from monitor.bins.evaporation import Cover, evaporation_kg_m2_s, room_air
from monitor.bins.events import (
    BinEvent,
    CoverChanged,
    Emptied,
    FanChanged,
    FeedAdded,
    Finishing,
    LarvaeChanged,
    MoistureTested,
    Stirred,
    Taken,
    TakenOut,
    WaterAdded,
    Weighed,
)
from monitor.bins.history import BinHistory, simulate
from monitor.bins.outlook import outlook
from monitor.bins.substrate import (
    BinFacts,
    Larvae,
    SubstrateParameters,
    moisture_in_balance,
)
from monitor.bins.water_balance import Books, close_books, drying_share
from monitor.errors import BooksDoNotClose, UsageError
from monitor.records import MS_PER_DAY, MS_PER_HOUR

REFERENCES = tomllib.loads(
    (Path(__file__).parents[1] / "references" / "moisture.toml").read_text(encoding="utf-8")
)
T0 = 472_222 * MS_PER_HOUR
NO_CRUST = SubstrateParameters(wet_share_crusted=1.0)


def weather(
    days: float, air_c: float = 28.0, humid: float = 70.0, probe_c: float | None = None
) -> ClimateSeries:
    times = np.arange(T0, T0 + int(days * MS_PER_DAY) + 1, MS_PER_HOUR)
    flat = np.ones(len(times))
    return climate_of(times, air_c * flat, humid * flat, None if probe_c is None else probe_c * flat)


def steady_bin(**changes: object) -> BinFacts:
    return replace(BinFacts(0.24, T0, 8.0, 0.70, substrate=NO_CRUST), **changes)  # type: ignore[arg-type]


def gap_kg(history: BinHistory) -> float:
    books = history.books
    water = abs(books.water_expected_kg - float(history.water_kg[-1]))
    return max(water, abs(books.dry_expected_kg - float(history.dry_kg[-1])))


def test_a_steady_day_is_rate_times_area_times_time() -> None:
    facts = steady_bin(probe_depth_m=0.01)
    history = simulate(facts, [], weather(1, probe_c=30.0), T0 + MS_PER_DAY)
    rate = evaporation_kg_m2_s(30.0, room_air(28.0, 70.0))
    assert history.books.evaporated_kg == pytest.approx(rate * 0.24 * 86_400.0, rel=1e-9)
    assert history.dry_kg[-1] == pytest.approx(2.4)


def test_without_a_probe_the_surface_is_in_balance() -> None:
    """The sides let heat in below the surface, which changes little of what they do at the surface."""
    history = simulate(steady_bin(), [], weather(1), T0 + MS_PER_DAY)
    it = history.course.intervals
    surface_c = surface_temperature_c(28.0, 70.0, Surface())
    assert it.surface_c == pytest.approx(surface_c, abs=0.5)
    assert np.abs(it.heat_gap_w_m2).max() < 5.0


def test_readings_at_odd_times_give_the_same_as_hourly_ones() -> None:
    odd = T0 + np.cumsum(np.array([0, *[7, 41, 55, 90, 100, 33, 71, 110, 119, 64, 95] * 2])) * 60_000
    climate = climate_of(odd, np.full(len(odd), 28.0), np.full(len(odd), 70.0))
    first = simulate(steady_bin(), [], climate, T0 + MS_PER_DAY)
    assert first.books.evaporated_kg == pytest.approx(
        simulate(steady_bin(), [], weather(1), T0 + MS_PER_DAY).books.evaporated_kg
    )


def test_heat_burns_dry_matter_and_gives_water() -> None:
    flat = replace(NO_CRUST, heat_by_age=((0.0, 100.0), (100.0, 100.0)))
    facts = steady_bin(substrate=flat, larvae=Larvae(0.0, T0))
    books = simulate(facts, [], weather(1), T0 + MS_PER_DAY).books
    breathed = 100.0 * 0.24 * 86_400.0 / 12.0e6
    assert books.burnt_kg == pytest.approx(0.81 * breathed)
    assert books.metabolic_kg == pytest.approx(0.341 * breathed)


def test_a_lid_holds_back_most_of_it_and_a_fan_takes_more() -> None:
    plain = simulate(steady_bin(), [], weather(1), T0 + MS_PER_DAY).books.evaporated_kg
    lid = simulate(steady_bin(cover=Cover.LID), [], weather(1), T0 + MS_PER_DAY).books.evaporated_kg
    fan = simulate(steady_bin(fan=True), [], weather(1), T0 + MS_PER_DAY).books.evaporated_kg
    assert lid < 0.35 * plain < plain < fan


def test_events_change_the_rate_from_their_time_on() -> None:
    half = T0 + MS_PER_DAY // 2
    lid = simulate(steady_bin(), [CoverChanged(half, Cover.LID)], weather(1), T0 + MS_PER_DAY)
    open_half = simulate(steady_bin(), [], weather(1), half).books.evaporated_kg
    lid_half = simulate(steady_bin(cover=Cover.LID), [], weather(1), half).books.evaporated_kg
    assert lid.books.evaporated_kg == pytest.approx(open_half + lid_half, rel=0.03), "it warms within hours"


def test_stirring_breaks_the_crust() -> None:
    facts = steady_bin(substrate=SubstrateParameters())
    crusted = simulate(facts, [], weather(4), T0 + 4 * MS_PER_DAY).books.evaporated_kg
    every_day = [Stirred(T0 + day * MS_PER_DAY) for day in range(1, 4)]
    assert simulate(facts, every_day, weather(4), T0 + 4 * MS_PER_DAY).books.evaporated_kg > 1.05 * crusted


def test_cold_surfaces_gain_water() -> None:
    facts = steady_bin(probe_depth_m=0.0)
    books = simulate(facts, [], weather(1, humid=90.0, probe_c=20.0), T0 + MS_PER_DAY).books
    assert books.condensed_kg > 0.0 == books.evaporated_kg


def test_larvae_taken_out_take_their_water_with_them() -> None:
    facts = steady_bin(larvae=Larvae(5000.0, T0, start_mg=200.0, final_mg=200.0))
    events = [TakenOut(T0, 1.0, Taken.LARVAE)]
    history = simulate(facts, events, weather(1), T0 + MS_PER_HOUR)
    assert history.books.water_taken_kg == pytest.approx(0.70)
    assert history.books.dry_taken_kg == pytest.approx(0.30)
    assert history.course.intervals.larvae_kg[-1] == pytest.approx(0.0)


def test_residue_taken_out_leaves_the_moisture_as_it_is() -> None:
    history = simulate(steady_bin(), [TakenOut(T0 + 1, 4.0, Taken.RESIDUE)], weather(1), T0 + 2)
    assert history.books.water_taken_kg == pytest.approx(2.8, abs=1e-3)
    assert history.moisture[1, -1] == pytest.approx(0.70, abs=1e-3)


def test_more_than_there_is_cannot_be_taken() -> None:
    history = simulate(steady_bin(), [TakenOut(T0 + 1, 80.0, Taken.RESIDUE)], weather(1), T0 + MS_PER_DAY)
    assert history.books.water_taken_kg <= 5.6
    assert history.water_kg[-1] >= 0.0


def test_a_forgotten_bin_dries_to_what_the_air_leaves_it() -> None:
    facts = steady_bin(wet_kg=2.0)
    history = simulate(facts, [], weather(40, air_c=30.0, humid=50.0), T0 + 40 * MS_PER_DAY)
    expected = moisture_in_balance(30.0, 50.0)
    assert history.moisture[1, -1] == pytest.approx(expected, abs=0.01)
    assert np.all(np.diff(history.water_kg) <= 1e-12)


def test_drying_slows_only_below_35_percent() -> None:
    assert drying_share(np.array([0.6, 0.35, 0.25, 0.15, 0.1]), 0.15, 0.35).tolist() == pytest.approx(
        [1.0, 1.0, 0.5, 0.0, 0.0]
    )


@pytest.mark.parametrize(
    "row", REFERENCES["sorption"], ids=lambda row: f"{row['relative_humidity_percent']} %RH"
)
def test_sorption_of_wheat(row: dict[str, Any]) -> None:
    warmth, dry_basis = row["temperature_c"], row["moisture_dry_basis_percent"]
    humid = row["relative_humidity_percent"]
    assert moisture_in_balance(warmth, humid) == pytest.approx(dry_basis / (100.0 + dry_basis), abs=5e-4)


def test_a_gap_is_filled_from_the_place_itself_and_said() -> None:
    times = np.arange(T0, T0 + 5 * MS_PER_DAY + 1, MS_PER_HOUR)
    kept = np.ones(len(times), dtype=bool)
    kept[60:70] = False
    climate = climate_of(times[kept], np.full(kept.sum(), 28.0), np.full(kept.sum(), 70.0))
    history = simulate(steady_bin(), [], climate, T0 + 5 * MS_PER_DAY)
    whole = simulate(steady_bin(), [], weather(5), T0 + 5 * MS_PER_DAY)
    assert history.estimated_hours == pytest.approx(11.0, abs=1.0)
    assert history.books.evaporated_kg == pytest.approx(whole.books.evaporated_kg, rel=1e-6)


@pytest.mark.parametrize(("first_h", "last_h"), [(-200, -100), (100, 200), (0, 1), (30, 31)])
def test_air_known_only_elsewhere_still_gives_an_estimate(first_h: int, last_h: int) -> None:
    times = T0 + MS_PER_HOUR * np.arange(first_h, last_h)
    climate = climate_of(times, np.full(len(times), 28.0), np.full(len(times), 70.0))
    facts = steady_bin(substrate=SubstrateParameters())
    history = simulate(facts, [], climate, T0 + 3 * MS_PER_DAY)
    whole = simulate(facts, [], weather(3), T0 + 3 * MS_PER_DAY)
    assert history.books.evaporated_kg == pytest.approx(whole.books.evaporated_kg, rel=2e-3)
    assert history.estimated_hours == pytest.approx(72.0, abs=3.1)
    assert history.course.intervals.hours.max() <= 3.0


def test_an_emptied_bin_ends_there() -> None:
    events: list[BinEvent] = [Emptied(T0 + MS_PER_DAY), WaterAdded(T0 + MS_PER_DAY + 1, 1.0)]
    history = simulate(steady_bin(), events, weather(3), T0 + 3 * MS_PER_DAY)
    assert history.emptied and history.now_ms == T0 + MS_PER_DAY
    assert history.books.water_added_kg == 0.0


def test_what_cannot_be_is_named_all_at_once() -> None:
    events: list[BinEvent] = [WaterAdded(T0, -1.0), FeedAdded(T0, 1.0, 70.0), Weighed(T0, float("nan"))]
    with pytest.raises(UsageError) as caught:
        simulate(steady_bin(surface_m2=0.0), events, weather(1), T0 - 1)
    text = str(caught.value)
    assert len(text.splitlines()) == 5
    for word in ("surface of the bin", "water added", "moisture of the feed is 70", "mass weighed is nan"):
        assert word in text


def test_books_that_do_not_close_are_an_error_with_both_sums() -> None:
    books = Books(5.0, 2.0, water_added_kg=1.0, evaporated_kg=0.5)
    close_books(books, 5.5009, 2.0)
    with pytest.raises(BooksDoNotClose, match=r"water 5\.4980 kg where 5\.5000 kg should be"):
        close_books(books, 5.498, 2.0)
    with pytest.raises(BooksDoNotClose, match="dry matter nan"):
        close_books(books, 5.5, float("nan"))


def test_a_fault_in_the_program_is_found_by_its_books(monkeypatch: pytest.MonkeyPatch) -> None:
    honest = water_balance.run

    def leaking(*arguments: object) -> object:
        done = honest(*arguments)  # type: ignore[arg-type]
        return replace(done, water_kg=done.water_kg - 0.002)

    monkeypatch.setattr(history, "run", leaking)
    with pytest.raises(BooksDoNotClose):
        simulate(steady_bin(), [], weather(1), T0 + MS_PER_DAY)


AT = st.integers(-5, 30 * 24).map(lambda hour: T0 + hour * MS_PER_HOUR // 2)
LARVAE = st.builds(
    Larvae,
    count=st.floats(0, 50_000),
    since_ms=AT,
    age_days=st.floats(0, 20),
    start_mg=st.floats(0.1, 50),
    final_mg=st.floats(50, 300),
)
EVENTS: st.SearchStrategy[BinEvent] = st.one_of(
    st.builds(WaterAdded, AT, st.floats(0, 20), st.none() | st.floats(0.1, 30)),
    st.builds(FeedAdded, AT, st.floats(0, 20), st.floats(0.05, 0.95)),
    st.builds(Stirred, AT),
    st.builds(Weighed, AT, st.floats(0.05, 40), st.floats(0, 0.5)),
    st.builds(MoistureTested, AT, st.floats(0.05, 0.95), st.floats(0.01, 0.1)),
    st.builds(CoverChanged, AT, st.sampled_from(Cover)),
    st.builds(FanChanged, AT, st.booleans()),
    st.builds(LarvaeChanged, AT, LARVAE),
    st.builds(TakenOut, AT, st.floats(0, 30), st.sampled_from(Taken)),
    st.builds(Finishing, AT),
    st.builds(Emptied, AT),
)


@settings(max_examples=120, deadline=None)
@given(
    events=st.lists(EVENTS, max_size=12),
    wet_kg=st.floats(0.05, 40),
    moisture=st.floats(0.05, 0.95),
    larvae=st.none() | LARVAE,
    humid=st.floats(0, 100),
    air_c=st.floats(-5, 45),
    probe=st.none() | st.floats(0, 0.2),
)
def test_no_history_breaks_the_books(
    events: list[BinEvent],
    wet_kg: float,
    moisture: float,
    larvae: Larvae | None,
    humid: float,
    air_c: float,
    probe: float | None,
) -> None:
    facts = BinFacts(0.24, T0, wet_kg, moisture, larvae=larvae, probe_depth_m=probe)
    climate = weather(7, air_c, humid, probe_c=30.0)
    history = simulate(facts, events, climate, T0 + 8 * MS_PER_DAY)
    assert gap_kg(history) <= 0.001
    assert np.all(np.isfinite(history.moisture))
    assert np.all((history.moisture >= 0.0) & (history.moisture <= 1.0))
    assert np.all(history.water_kg >= -1e-9) and np.all(history.dry_kg >= -1e-9)
    assert np.all(np.diff(history.moisture, axis=0) >= -1e-12)
    day = DayShape(np.full(24, air_c), np.full(24, humid), np.full(24, 30.0))
    seen = outlook(history, days_ahead(day, history.now_ms, 72))
    assert np.all(np.isfinite(seen.ahead)) and 0.0 <= seen.litres < 1000.0 and 0.0 <= seen.bran_kg < 1000.0
    assert seen.loss.low_g_h <= seen.loss.median_g_h <= seen.loss.high_g_h
