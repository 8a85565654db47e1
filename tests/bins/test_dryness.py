"""How far the bands of moisture and the dryness alarm hold in boxes whose physics and noise are not the
model's.

The long version prints its figures: `pytest -m study tests/bins/test_dryness.py -s`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import pytest
from drying_boxes import T0, Box, at_day, boxes_of

from monitor.bins.conditions import climate_of, days_ahead, usual_day
from monitor.bins.events import BinEvent, MoistureTested
from monitor.bins.history import history_lesson, simulate
from monitor.bins.lessons import UNKNOWN_FARM, FactorPrior, taught
from monitor.bins.outlook import LIKELY, SOON_H, HoursTo, outlook
from monitor.bins.substrate import BinFacts, Larvae
from monitor.records import MS_PER_DAY, MS_PER_HOUR

LIMIT = 0.45
BAND_DAYS = (3, 5, 7)
LOOK_AHEAD_H = 72
FIRST_LOOK_H, LAST_LOOK_H = 30, 180
FALSE_H, LATE_H = 24, 6

Informed = Callable[[Box, np.random.Generator], Sequence[BinEvent]]
KNOWN: dict[str, tuple[float, Informed]] = {
    "filling only": (0.0, lambda box, _: box.events),
    "oven test day 2": (2.0, lambda box, rng: box.tested(2.0, rng)),
    "oven test day 4": (4.0, lambda box, rng: box.tested(4.0, rng)),
    "weighed day 3": (3.0, lambda box, rng: box.weighed(3.0, rng)),
}


def held(boxes: Iterable[Box], known: str, rng: np.random.Generator, prior: FactorPrior) -> list[bool]:
    """Whether the 80 % band held the true moisture on the days after what is known."""
    from_day, informed = KNOWN[known]
    found = []
    for box in boxes:
        history = simulate(box.facts, informed(box, rng), box.climate, at_day(7.5), prior)
        for day in (day for day in BAND_DAYS if day > from_day):
            edge = int(np.searchsorted(history.times_ms, at_day(day)))
            low, _, high = history.moisture[:, edge]
            found.append(bool(low <= box.moisture[24 * day] <= high))
    return found


def farm_prior(seed: int, fills: int, spread: float) -> FactorPrior:
    """What a farm has learned of fills that ended, each with one oven test on day 4 or 6."""
    rng = np.random.default_rng(seed)
    lessons = []
    for number, box in enumerate(boxes_of(seed, fills, spread)):
        day = 4.0 if number % 2 else 6.0
        lesson = history_lesson(simulate(box.facts, box.tested(day, rng), box.climate, at_day(day)))
        lessons += [] if lesson is None else [lesson]
    return taught(lessons)


@dataclass(frozen=True)
class Told:
    """When an alarm came [h], when the box crossed [h], whether it was dry within a day, and ever after."""

    alarm_h: float | None
    crossing_h: float | None
    soon: bool = False
    ever: bool = False

    @property
    def late_h(self) -> float:
        """Hours from the crossing to the alarm; below 0 where it came before."""
        assert self.crossing_h is not None
        return (LAST_LOOK_H if self.alarm_h is None else self.alarm_h) - self.crossing_h


def told(box: Box, events: Sequence[BinEvent], prior: FactorPrior, likely: float) -> Told:
    """The first dryness alarm of a box, looked at each hour where it is near."""
    crossing, hour = box.crossing_h(LIMIT), FIRST_LOOK_H
    while hour <= LAST_LOOK_H:
        ahead = until_dry(box, events, hour, prior)
        left_h = float(np.quantile(ahead.spread_h, likely))
        if left_h < SOON_H:
            rest = box.moisture[hour:]
            return Told(hour, crossing, bool(np.any(rest[: FALSE_H + 1] < LIMIT)), bool(np.any(rest < LIMIT)))
        hour += int(np.clip((left_h - SOON_H) / 2.0, 1, 12))
    return Told(None, crossing)


def until_dry(box: Box, events: Sequence[BinEvent], hour: int, prior: FactorPrior) -> HoursTo:
    now_ms = T0 + hour * MS_PER_HOUR
    history = simulate(box.facts, [e for e in events if e.at_ms <= now_ms], box.climate, now_ms, prior)
    day = usual_day(box.climate, now_ms)
    assert day is not None
    found = outlook(history, days_ahead(day, now_ms, LOOK_AHEAD_H)).to_limit
    assert found is not None
    return found


def alarm_line(cases: Sequence[Told]) -> str:
    alarms = [case for case in cases if case.alarm_h is not None]
    crossed = [case for case in cases if case.crossing_h is not None and case.crossing_h >= FIRST_LOOK_H]
    late = [case.late_h for case in crossed]
    return (
        f"{len(alarms)} alarms, not dry within a day {_percent([not case.soon for case in alarms])}, never "
        f"{_percent([not case.ever for case in alarms])}; of {len(crossed)} that crossed told over "
        f"{LATE_H} h late {_percent([each > LATE_H for each in late])}, latest {max(late, default=0):.0f} h"
    )


def _percent(found: Sequence[bool]) -> str:
    return f"{100 * np.mean(found):.0f} %" if found else "-"


# --- the small version ---


@pytest.mark.parametrize("known", KNOWN)
def test_bands_hold_in_boxes_of_other_physics(known: str) -> None:
    """Before, 98 % held without a test and 72 % after a weighing."""
    found = held(boxes_of(7, 24, 0.3), known, np.random.default_rng(8), UNKNOWN_FARM)
    assert 0.66 <= float(np.mean(found)) <= 0.96


# Fuhrmann et al. 2024, open data: substrate moisture of 12 boxes of chicken feed, their mean by day; wet
# mass 6.0 kg, 12,000 larvae. Air assumed as in `test_moisture.py`: 28 °C, 70 %RH.
CHICKEN_FEED = {2: 0.642, 4: 0.566, 5: 0.442, 6: 0.307}


def test_the_band_holds_published_boxes_before_and_after_a_test() -> None:
    times = T0 + MS_PER_HOUR * np.arange(24 * 7)
    climate = climate_of(times, np.full(len(times), 28.0), np.full(len(times), 70.0))
    larvae = Larvae(12_000.0, T0, age_days=5.0, start_mg=5.6, final_mg=150.0, growth_days=5.0)
    facts = BinFacts(0.24, T0, 6.0, 0.651, 0.02, larvae=larvae)
    for tests in ([], [2], [4]):
        events = [MoistureTested(T0 + day * MS_PER_DAY, CHICKEN_FEED[day]) for day in tests]
        history = simulate(facts, events, climate, T0 + 6 * MS_PER_DAY)
        for day in (day for day in (4, 5, 6) if day not in tests):
            low, _, high = history.moisture[:, int(np.searchsorted(history.times_ms, at_day(day)))]
            assert low <= CHICKEN_FEED[day] <= high, (tests, day)


def test_a_tested_box_is_told_when_it_is_likely_and_not_when_it_only_may_be() -> None:
    """The earliest of ten possible boxes spoke a day and more before."""
    box = next(box for box in boxes_of(11, 12, 0.1) if (box.crossing_h(LIMIT) or 0.0) > 24 * 4.5)
    rng = np.random.default_rng(1)
    events = box.tested(4.0, rng)
    likely, earliest = (told(box, events, UNKNOWN_FARM, share) for share in (LIKELY, 0.1))
    assert likely.alarm_h is not None and earliest.alarm_h is not None
    assert earliest.alarm_h <= likely.alarm_h - 6
    assert likely.late_h <= LATE_H


def test_boxes_that_get_dry_are_told_in_time_though_nothing_is_known_but_their_filling() -> None:
    """At a chance of 50 % two of these five were told 9 h after they were too dry."""
    prior = farm_prior(77, 12, 0.3)
    crossed = [box for box in boxes_of(11, 16, 0.3) if (box.crossing_h(LIMIT) or 0.0) >= FIRST_LOOK_H]
    late_h = [told(box, box.events, prior, LIKELY).late_h for box in crossed]
    assert len(late_h) == 5 and max(late_h) <= LATE_H


# --- the long version ---


@pytest.mark.study
@pytest.mark.parametrize("spread", [0.1, 0.3])
def test_study_bands(spread: float) -> None:
    boxes = boxes_of(7, 150, spread)
    priors = {"unknown farm": UNKNOWN_FARM, "after 12 fills": farm_prior(77, 12, spread)}
    for name, prior in priors.items():
        print(f"\nspread {spread}, {name}: prior {prior.log_mean:+.2f} ± {prior.log_sd:.2f}")
        for known in KNOWN:
            share = float(np.mean(held(boxes, known, np.random.default_rng(8), prior)))
            print(f"  {known:16s} held {100 * share:.0f} %")
            assert 0.70 <= share <= 0.95


@pytest.mark.study
@pytest.mark.parametrize("spread", [0.1, 0.3])
def test_study_alarms(spread: float) -> None:
    boxes, prior = boxes_of(11, 60, spread), farm_prior(77, 12, spread)
    for known, (_, informed) in KNOWN.items():
        for likely in (0.1, 0.3, LIKELY, 0.5):
            rng = np.random.default_rng(12)
            cases = [told(box, informed(box, rng), prior, likely) for box in boxes]
            print(f"spread {spread}, {known:16s} likely {likely:.1f}: {alarm_line(cases)}")
