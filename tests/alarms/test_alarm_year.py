"""A year of minute readings with noise, dropouts, network outages and injected excursions."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pytest

from monitor.alarms.health import AlarmHealth, health
from monitor.alarms.state_machine import advance_many, request
from monitor.alarms.timing import Sample
from monitor.records import (
    MS_PER_DAY,
    MS_PER_MINUTE,
    AlarmEvent,
    AlarmRule,
    AlarmState,
    AlarmStatus,
    Excursion,
    Priority,
    Side,
    Transition,
)

FloatArray = npt.NDArray[np.float64]
MINUTES = 365 * 24 * 60
START_MS = 1_700_000_000_000 // MS_PER_DAY * MS_PER_DAY
END_MS = START_MS + MINUTES * MS_PER_MINUTE
GAP_S = 150.0
RULE = AlarmRule(
    alarm_id="bin-1/substrate_temperature/high/medium",
    place="bin-1",
    quantity="substrate_temperature",
    side=Side.HIGH,
    setpoint=38.0,
    deadband=1.0,
    on_delay_s=600.0,
    off_delay_s=900.0,
    priority=Priority.MEDIUM,
    consequence="growth slows",
    response="stir the bin",
)
ON_DELAY_MIN = int(RULE.on_delay_s / 60)


@dataclass(frozen=True)
class Injected:
    """An excursion that was put in: first minute, length, and whether its readings add up to the on-delay."""

    first: int
    length: int
    must_raise: bool

    @property
    def begin_ms(self) -> int:
        return START_MS + self.first * MS_PER_MINUTE

    @property
    def end_ms(self) -> int:
        return self.begin_ms + self.length * MS_PER_MINUTE


@dataclass(frozen=True)
class Year:
    injected: tuple[Injected, ...]
    journal: tuple[Transition, ...]
    found_late: tuple[Excursion, ...]
    health: AlarmHealth


def temperatures(rng: np.random.Generator) -> FloatArray:
    minute = np.arange(MINUTES)
    daily = 31.0 + 3.0 * np.sin(2 * np.pi * minute / 1440) + 1.5 * np.sin(2 * np.pi * minute / MINUTES)
    return np.asarray(daily + rng.normal(0.0, 0.15, MINUTES))


def inject(rng: np.random.Generator, values: FloatArray, got: npt.NDArray[np.bool_]) -> tuple[Injected, ...]:
    """Some 1,400 excursions, half of them too short, at least four hours apart; readings lost stay lost."""
    found, first = [], 300
    while first < MINUTES - 400:
        length = int(rng.integers(1, ON_DELAY_MIN)) if rng.random() < 0.5 else int(rng.integers(11, 120))
        values[first : first + length] = 40.0 + rng.normal(0.0, 0.3, length)
        taken = first + np.flatnonzero(got[first : first + length])
        steps_min = np.diff(taken)
        held_min = steps_min[steps_min * 60 <= GAP_S].sum()
        found.append(Injected(first, length, bool(held_min >= ON_DELAY_MIN)))
        first += length + int(rng.integers(240, 500))
    return tuple(found)


def deliver(
    rng: np.random.Generator, values: FloatArray, got: npt.NDArray[np.bool_]
) -> Iterator[tuple[int, list[Sample]]]:
    """Batches as they arrive: one reading at a time, after an outage the backlog in pieces of 50."""
    outages = {int(first): int(rng.integers(20, 180)) for first in rng.integers(0, MINUTES - 200, 150)}
    minute = 0
    while minute < MINUTES:
        length = outages.get(minute, 1)
        backlog = [
            Sample(START_MS + m * MS_PER_MINUTE, float(values[m]))
            for m in range(minute, min(minute + length, MINUTES))
            if got[m]
        ]
        minute += length
        now_ms = START_MS + (minute - 1) * MS_PER_MINUTE + 400
        for first in range(0, len(backlog), 50):
            yield now_ms, backlog[first : first + 50]


def live_through(batches: Iterator[tuple[int, list[Sample]]]) -> tuple[list[Transition], list[Excursion]]:
    """Feed the alarm; a person acknowledges five minutes after each announcement."""
    state, acknowledge_ms = AlarmState(RULE.alarm_id), None
    journal: list[Transition] = []
    late: list[Excursion] = []
    for now_ms, batch in batches:
        result = advance_many(state, RULE, batch, now_ms, GAP_S)
        state = result.state
        journal.extend(result.transitions)
        late.extend(result.found_late)
        if any(row.announces for row in result.transitions):
            acknowledge_ms = now_ms + 5 * MS_PER_MINUTE
        if acknowledge_ms is not None and now_ms >= acknowledge_ms:
            acknowledge_ms = None
            state, rows = request(state, RULE, AlarmEvent.ACKNOWLEDGE, now_ms, "worker")
            journal.extend(rows)
    assert state.status is AlarmStatus.NORMAL
    return journal, late


@pytest.fixture(scope="module")
def year() -> Year:
    rng = np.random.default_rng(20_240_608)
    values = temperatures(rng)
    got = rng.random(MINUTES) > 0.01
    for first in rng.integers(0, MINUTES, 300):
        got[first : first + int(rng.integers(3, 40))] = False
    injected = inject(rng, values, got)
    journal, late = live_through(deliver(rng, values, got))
    return Year(injected, tuple(journal), tuple(late), health(journal, START_MS, END_MS))


def raised_in(year: Year, excursion: Injected) -> int:
    begins = [row.at_ms for row in year.journal if row.announces]
    begins += [late.began_ms for late in year.found_late]
    return sum(excursion.begin_ms <= at_ms < excursion.end_ms for at_ms in begins)


def test_the_year_is_worth_the_name(year: Year) -> None:
    long = [e for e in year.injected if e.must_raise]
    assert len(long) > 400
    assert len(year.injected) - len(long) > 400
    assert any(e.length > ON_DELAY_MIN and not e.must_raise for e in year.injected)
    assert len(year.found_late) > 5


def test_no_excursion_longer_than_the_on_delay_is_missed_and_none_shorter_raised(year: Year) -> None:
    wrong = [e for e in year.injected if raised_in(year, e) != int(e.must_raise)]
    assert wrong == []
    announced = sum(row.announces for row in year.journal)
    assert announced + len(year.found_late) == sum(e.must_raise for e in year.injected)


def test_an_announcement_comes_as_soon_as_the_delay_is_held(year: Year) -> None:
    live = [row for row in year.journal if row.announces and row.processed_ms - row.at_ms < MS_PER_MINUTE]
    begins = np.array([e.begin_ms for e in year.injected])
    waits_min = [(row.at_ms - begins[begins <= row.at_ms].max()) / MS_PER_MINUTE for row in live]
    assert min(waits_min) >= ON_DELAY_MIN
    assert np.median(waits_min) == ON_DELAY_MIN


def test_no_chattering_no_flood_nothing_stale(year: Year, capsys: pytest.CaptureFixture[str]) -> None:
    found = year.health
    with capsys.disabled():
        print(
            f"\nalarm health of the year: {found.annunciations} annunciations, {found.per_day:.2f} a day, "
            f"peak {found.peak_10_min} in 10 min, flood {found.flood_percent:.1f} %, chattering "
            f"{len(found.chattering)}, stale {len(found.stale)}, found late {len(year.found_late)}"
        )
    assert found.graded
    assert (found.chattering, found.chattering_in_a_minute, found.stale) == ((), (), ())
    assert (found.peak_10_min, found.flood_minutes) == (1, 0.0)


def test_hovering_at_the_setpoint_does_not_chatter() -> None:
    """Ninety days at the limit with slow swings of half a degree and noisy readings."""
    rng = np.random.default_rng(7)
    minutes = 90 * 1440
    swing = 0.5 * np.sin(2 * np.pi * np.arange(minutes) / 77)
    values = RULE.setpoint - 0.3 + swing + rng.normal(0.0, 0.4, minutes)
    state = AlarmState(RULE.alarm_id)
    journal: list[Transition] = []
    for minute, value in enumerate(values.tolist()):
        at_ms = START_MS + minute * MS_PER_MINUTE
        result = advance_many(state, RULE, (Sample(at_ms, value),), at_ms, GAP_S)
        state = result.state
        journal.extend(result.transitions)
    found = health(journal, START_MS, START_MS + minutes * MS_PER_MINUTE)
    assert found.chattering == ()
    assert found.annunciations > 0
