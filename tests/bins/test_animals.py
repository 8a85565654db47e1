"""Heat, breath and dry matter of a bin as animals make them, beside chambers, boxes and a tray.

Published figures stand with their source. The laws of `growth` were set by one chamber of chicken feed and by
curves of growth; the other chambers and feeds, the boxes and the tray are checks outside of that.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from monitor.bins.conditions import ClimateSeries, climate_of
from monitor.bins.events import BinEvent, FeedAdded, LarvaeChanged, Taken, TakenOut
from monitor.bins.growth import usual_mass_mg, warmth_share
from monitor.bins.history import BinHistory, simulate
from monitor.bins.intervals import Intervals
from monitor.bins.substrate import BinFacts, Larvae
from monitor.records import MS_PER_DAY, MS_PER_HOUR
from monitor.settings.species import load_substrate

T0 = 472_222 * MS_PER_HOUR
CHICKEN, WASTE = load_substrate("chicken_feed"), load_substrate("kitchen_waste")
PUBLISHED_J_G = 10.187e3
"""Heat by gram of CO2 by which the chambers' heat was published; ours is 12 kJ/g."""


def weather(
    days: float, air_c: float = 28.0, humid: float = 70.0, probe_c: float | None = None
) -> ClimateSeries:
    times = np.arange(T0, T0 + round(days * MS_PER_DAY) + 1, MS_PER_HOUR // 2)
    flat = np.ones(len(times))
    return climate_of(times, air_c * flat, humid * flat, None if probe_c is None else probe_c * flat)


def lived(facts: BinFacts, days: float, events: Sequence[BinEvent] = (), air_c: float = 28.0) -> BinHistory:
    return simulate(facts, events, weather(days, air_c), T0 + round(days * MS_PER_DAY))


def intervals(
    facts: BinFacts, days: float, events: Sequence[BinEvent] = (), air_c: float = 28.0
) -> Intervals:
    return lived(facts, days, events, air_c).course.intervals


def three_hours(it: Intervals) -> float:
    """The highest CO2 over three hours [g/h]."""
    rate = it.carbon_dioxide_kg / it.hours * 1000.0
    return float(np.convolve(rate, np.full(6, 1.0 / 6.0), "valid").max())


def mass_mg(it: Intervals, day: float) -> float:
    return float(np.interp(T0 + day * MS_PER_DAY, it.edges_ms, it.larva_mg))


BOX = BinFacts(0.24, T0, 8.0, 0.70)


# --- number ---


def test_heat_follows_the_number_of_animals_until_the_feed_limits_it() -> None:
    """All three had 75.8 W/m², 2.7 kg evaporated and 0.569 kg burnt, from a table by age."""
    few, some, many = (lived(replace(BOX, larvae=Larvae(count, T0)), 8) for count in (300, 3000, 12_000))
    early = [float(each.course.intervals.carbon_dioxide_kg[:96].sum()) for each in (few, some, many)]
    assert early[1] / early[0] == pytest.approx(10.0, rel=0.25), "ten times the animals, a little warmer"
    assert early[2] / early[1] == pytest.approx(4.0, rel=0.40)
    burnt = [each.books.burnt_kg for each in (few, some, many)]
    print(
        "\nburnt",
        np.round(burnt, 3),
        "evaporated",
        [round(e.books.evaporated_kg, 2) for e in (few, some, many)],
    )
    print(
        "highest 3 h [W/m2]",
        [round(three_hours(e.course.intervals) / 0.24 * 12.0 / 3.6) for e in (few, some, many)],
    )
    assert burnt[0] < 0.03 and 8.0 < burnt[1] / burnt[0] < 14.0
    assert burnt[2] < 4.0 * burnt[1], "the feed is gone before they are grown up"
    lost = [each.books.evaporated_kg for each in (few, some, many)]
    assert lost[0] < lost[1] < 0.6 * lost[2]


def test_too_many_larvae_for_the_feed_end_small() -> None:
    ends = [
        float(intervals(replace(BOX, larvae=Larvae(count, T0)), 12).larva_mg.max()) for count in (3e3, 4e4)
    ]
    assert ends[0] > 200.0 and ends[1] < 100.0


def test_when_the_feed_is_gone_growth_and_heat_end_and_more_feed_brings_them_back() -> None:
    """46 g/h of CO2 fell to 8.5 within 20 hours in a chamber of Fuhrmann et al. 2024 (open data)."""
    crowd = replace(BOX, wet_kg=4.0, larvae=Larvae(12_000, T0))
    hungry = intervals(crowd, 8)
    rate = hungry.carbon_dioxide_kg / hungry.hours
    top = int(rate.argmax())
    gone = int(np.searchsorted(hungry.edges_ms, hungry.edges_ms[top] + 30 * MS_PER_HOUR))
    assert rate[gone] < 0.35 * rate[top]
    assert hungry.feed_kg[-1] < 0.02
    fed = intervals(crowd, 8, [FeedAdded(T0 + 6 * MS_PER_DAY, 4.0, 0.70)])
    assert fed.carbon_dioxide_kg[-30:].sum() > 2.0 * hungry.carbon_dioxide_kg[-30:].sum()
    assert fed.larva_mg[-1] > 1.2 * hungry.larva_mg[-1]


def test_larvae_that_leave_take_their_heat_along() -> None:
    half = TakenOut(T0 + 5 * MS_PER_DAY, 0.25, Taken.LARVAE)
    crowd = replace(BOX, larvae=Larvae(6000, T0))
    all_of_them, rest = intervals(crowd, 5.5), intervals(crowd, 5.5, [half])
    there_kg = float(np.interp(half.at_ms, all_of_them.edges_ms, all_of_them.larvae_kg))
    share = 1.0 - 0.25 / there_kg
    assert rest.larvae_kg[-1] / all_of_them.larvae_kg[-1] == pytest.approx(share, rel=0.03)
    assert 0.75 * share < rest.heat_w_m2[-1] / all_of_them.heat_w_m2[-1] < share, "fewer and cooler"
    none = intervals(crowd, 6, [LarvaeChanged(half.at_ms, None)])
    assert none.heat_w_m2[-1] == 0.0 == none.larvae_kg[-1]
    anew = intervals(crowd, 6, [LarvaeChanged(half.at_ms, Larvae(3000, half.at_ms, 10.0))])
    assert anew.larvae_kg[-1] == pytest.approx(0.5 * intervals(crowd, 6).larvae_kg[-1], rel=0.05), "counted"


def test_larvae_that_nobody_counted_make_heat_and_weigh_nothing() -> None:
    unknown = intervals(replace(BOX, larvae=Larvae(0.0, T0)), 7)
    assert 60.0 < unknown.heat_w_m2.max() < 200.0
    assert unknown.larvae_kg.max() == 0.0


# --- growth ---


def test_warmth_decides_how_fast() -> None:
    assert warmth_share(14.0) == warmth_share(47.0) == 0.0
    assert warmth_share(30.0) == pytest.approx(1.0)
    assert warmth_share(33.0) == warmth_share(40.0) > 1.0 > warmth_share(43.5) > 0.0
    assert usual_mass_mg(0.0) == pytest.approx(0.0255, rel=0.05), "as heavy as an egg"


# Mean wet mass of a larva by day [mg], open data: crates of Fuhrmann et al. 2024 of 12,000 and 10,800 larvae
# on 0.24 m², boxes of Alciatore et al. 2024 of about 1,140 larvae on 0.70 kg.
GROWN: dict[str, tuple[BinFacts, dict[float, float]]] = {
    "chicken feed, crate": (
        BinFacts(0.24, T0, 6.0, 0.6505, larvae=Larvae(12_000, T0, start_mg=5.6), substrate=CHICKEN),
        {2: 22.9, 4: 109.0, 5: 155.7},
    ),
    "food waste, crate": (
        BinFacts(0.24, T0, 7.346, 0.702, larvae=Larvae(10_800, T0, start_mg=13.2), substrate=WASTE),
        {2: 57.6, 4: 193.7, 7: 179.3},
    ),
    "food waste, uneven, crate": (
        BinFacts(0.24, T0, 8.3, 0.745, larvae=Larvae(10_800, T0, start_mg=6.1), substrate=WASTE),
        {2: 38.5, 4: 129.7, 6: 169.8, 7: 173.5},
    ),
    "by-products 1D, box": (
        BinFacts(0.03, T0, 0.70, 0.643, larvae=Larvae(1140, T0, start_mg=1.31)),
        {4: 98.6, 6: 179.8, 8: 193.5},
    ),
    "by-products 1W, box": (
        BinFacts(0.03, T0, 0.70, 0.643, larvae=Larvae(1140, T0, start_mg=4.52)),
        {4: 131.0, 6: 176.9, 8: 160.7},
    ),
    "by-products 2W, box": (
        BinFacts(0.03, T0, 0.70, 0.643, larvae=Larvae(1140, T0, start_mg=6.22)),
        {4: 141.1, 6: 201.8, 8: 184.7},
    ),
}


def grown_apart(name: str) -> list[float]:
    """By how many log-sd the masses lie apart, of a peak of log-sd 0.25 and a rate of 0.2 as stated."""
    facts, by_day = GROWN[name]
    it = intervals(facts, max(by_day), air_c=28.5)
    found = {day: mass_mg(it, day) for day in by_day}
    print(f"\n{name}: " + ", ".join(f"day {d}: {found[d]:.0f} ({m:.0f})" for d, m in by_day.items()))
    start_mg = facts.larvae.first_mg() if facts.larvae is not None else 0.0
    apart = []
    for day, mass in by_day.items():
        grown = np.log(mass / (220.0 - mass) * (220.0 - start_mg) / start_mg)
        log_sd = np.hypot(0.2 * grown * (1.0 - mass / 220.0), 0.25 * mass / 220.0)
        apart.append(float(abs(np.log(found[day] / mass)) / log_sd))
    return apart


def test_larvae_grow_as_in_published_bins() -> None:
    apart = np.array([each for name in GROWN for each in grown_apart(name)])
    print(f"{len(apart)} masses, {100 * np.mean(apart < 1.2816):.0f} % within the 80 % band")
    assert apart.max() < 2.0 and np.mean(apart < 1.2816) >= 0.75


def test_in_the_cool_they_grow_slowly() -> None:
    """Crates at 20 to 26 °C by day, nights 18 (maize, Gold et al., open data): 1.4, 11.4, 43.8, 84.2 mg on
    days 3, 6, 9 and 12; half the mass of warm boxes after twice the days.
    """
    crate = BinFacts(0.24, T0, 7.0, 0.65, larvae=Larvae(8000, T0, age_days=3.0, start_mg=1.4))
    it = intervals(crate, 9, air_c=22.0)
    found = [mass_mg(it, day) for day in (3.0, 6.0, 9.0)]
    print("\ncool:", np.round(found, 1), "core", it.core_c.max().round(1))
    warm = intervals(crate, 9, air_c=28.0)
    assert found[1] < 0.3 * mass_mg(warm, 6.0)
    assert all(0.35 < mass / true < 2.0 for mass, true in zip(found, (11.4, 43.8, 84.2), strict=True))


# --- chambers and the tray ---

# Fuhrmann et al. 2024, open data: 3-hour peaks 150 to 234 W/m² in 11 of 12 chambers, run means 50 to 110, by
# 10.187 kJ/g; 18 to 35 W by kg of final larvae at the peak; water lost 64 to 105 g/m² h; dry matter lost:
# 0.36 of chicken feed (0.586 gone, 0.224 in larvae), 0.38 of food waste.
CHAMBERS = {
    "chicken feed": (GROWN["chicken feed, crate"][0], 6, 0.362),
    "food waste": (GROWN["food waste, crate"][0], 7, 0.378),
    "food waste, uneven": (GROWN["food waste, uneven, crate"][0], 7, 0.412),
}


@pytest.mark.parametrize("name", CHAMBERS)
def test_chambers_breathe_and_lose_as_measured(name: str) -> None:
    facts, days, lost_share = CHAMBERS[name]
    history = lived(facts, days)
    it, books = history.course.intervals, history.books
    to_w_m2 = PUBLISHED_J_G / 3600.0 / facts.surface_m2
    peak, mean = three_hours(it) * to_w_m2, it.carbon_dioxide_kg.sum() * 1e3 / (24.0 * days) * to_w_m2
    by_kg = peak * facts.surface_m2 / it.larvae_kg[-1]
    dry_share = books.burnt_kg / (facts.wet_kg * (1.0 - facts.moisture))
    water = (books.evaporated_kg - books.metabolic_kg) / (facts.surface_m2 * 24.0 * days) * 1e3
    print(
        f"\n{name}: peak {peak:.0f} (150-234), mean {mean:.0f} (50-110) W/m2, {by_kg:.0f} W/kg (18-35), dry "
        f"matter lost {dry_share:.2f} ({lost_share:.2f}), water {water:.0f} (64-105) g/m2h"
    )
    assert 150.0 < peak < 250.0 and 50.0 < mean < 110.0 and 18.0 < by_kg < 40.0
    assert dry_share == pytest.approx(lost_share, rel=0.30)
    assert 64.0 < water < 105.0


def tray(humid: float, crusted: float) -> tuple[float, float]:
    """Evaporation [g/m² h] and heat [W/m²] of a tray of 6 cm with its probe at 5 cm."""
    facts = BinFacts(
        0.24, T0, 10.0, 0.65, probe_depth_m=0.05, larvae=Larvae(12_000, T0),
        substrate=replace(WASTE, wet_share_crusted=crusted),
    )  # fmt: skip
    it = simulate(facts, [], weather(8, 29.0, humid, probe_c=42.0), T0 + 8 * MS_PER_DAY).course.intervals
    return float(it.rate_kg_m2_s[-1] * it.exposed_m2[-1] / 0.24 * 3.6e6), float(it.heat_w_m2[-1])


def test_a_published_tray_has_its_heat_in_the_band_and_its_water_by_a_thicker_crust() -> None:
    """Tray of Padmanabha et al. 2022, as the trials tell: core 42 °C, air 29 °C, 132 g/m² h, 258 W/m² by
    16.3 kJ/g of CO2. That are 57 g of CO2 by m² and hour, or 190 W/m² by our 12 kJ/g. Before: 174 to 246
    g/m² h and 168 to 199 W/m². Humidity, depth and crust were not told.

    The heat lies within the uncertainty of the conversion on either side. The water is too much with half of
    the surface wet, which the chambers above have, and right with less than a third: it is the crust.
    """
    found = np.array([tray(humid, 0.5) for humid in (50.0, 60.0, 70.0)])
    drier = np.array([tray(humid, 0.3) for humid in (50.0, 60.0, 70.0)])
    print(
        "\ntray: evaporation [g/m2h], heat [W/m2]:",
        found.round().tolist(),
        "crusted:",
        drier.round().tolist(),
    )
    for heat in (*found[:, 1], *drier[:, 1]):
        assert 258.0 / 1.6 < heat < 258.0 and abs(np.log(heat / 190.0)) < 1.2816 * 0.35
    assert np.all(found[:, 0] > 132.0) and np.all(np.abs(np.log(drier[:, 0] / 132.0)) < np.log(1.25))


# --- books ---


def test_heat_water_dry_matter_and_breath_close() -> None:
    facts = replace(BOX, larvae=Larvae(9000, T0))
    history = lived(facts, 10, [FeedAdded(T0 + 4 * MS_PER_DAY, 3.0, 0.65)])
    it, books = history.course.intervals, history.books
    assert np.abs(it.heat_gap_w_m2).max() < 1.0, "W/m², in each interval"
    breath_kg = float(it.carbon_dioxide_kg.sum())
    joules = float((it.heat_w_m2 * it.hours * 3600.0).sum()) * facts.surface_m2
    assert joules == pytest.approx(12.0e6 * breath_kg, rel=1e-9)
    assert books.burnt_kg == pytest.approx(0.81 * breath_kg, rel=1e-6)
    assert books.metabolic_kg == pytest.approx(0.341 * breath_kg, rel=1e-6)
    # Carbon: 0.273 of the breath, and 0.34 of the dry matter that is gone; feed holds 0.40 to 0.50, the rest
    # leaves as other gases.
    assert 0.30 < (12.0 / 44.0) * breath_kg / books.burnt_kg < 0.45
    stored = float((it.stored_w_m2 * it.hours).sum()) * 3600.0
    warmed = it.core_c[-1] - it.core_c[0]
    assert stored == pytest.approx((1500.0 * 0.3 + 4186.0 * 0.7) * 8.0 / 0.24 * warmed, rel=0.35, abs=5e4)


def test_a_probe_tells_the_heat_and_the_breath_follows() -> None:
    facts = replace(BOX, larvae=Larvae(9000, T0), probe_depth_m=0.05)
    history = simulate(facts, [], weather(3, 28.0, 60.0, probe_c=38.0), T0 + 3 * MS_PER_DAY)
    it = history.course.intervals
    leaves = it.latent_w_m2 + it.sensible_w_m2 + it.sides_w_m2
    assert it.heat_w_m2 == pytest.approx(leaves, abs=1e-6), "steady: nothing is stored"
    breath = it.heat_w_m2 * 0.24 * it.hours * 3600.0 / 12.0e6
    assert it.carbon_dioxide_kg == pytest.approx(breath)
    assert history.course.intervals.core_c == pytest.approx(38.0)
