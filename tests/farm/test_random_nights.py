"""Random nights: what the headline and the lines claim is what the journal and the readings say."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from zoneinfo import ZoneInfo

from cli_farm import AIR, BIN, HOT, HUMIDITY, MINUTE_MS, WARM, Farm, make_farm, message, reading
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from monitor.alarms.state_machine import TABLE, Cause, carry_out, fire
from monitor.farm.night import GRACE_MS, NightReader, night_of
from monitor.farm.night_records import QUIET_GAP_MINUTES, NightReport
from monitor.records import (
    OVERLAYS,
    STANDING,
    AlarmEvent,
    AlarmRule,
    AlarmState,
    Batch,
    Excursion,
    Transition,
)
from monitor.words.localizer import Localizer
from monitor.words.night import report_text

ZONE = ZoneInfo("Africa/Gaborone")
HOUR_MS = 60 * MINUTE_MS
START_MS, END_MS = (
    round(datetime(2026, 11, day, hour, minute, tzinfo=ZONE).timestamp() * 1000)
    for day, hour, minute in ((24, 18, 0), (25, 6, 30))
)
FLIP = None
DEEDS = (
    FLIP,
    FLIP,
    FLIP,
    AlarmEvent.ACKNOWLEDGE,
    AlarmEvent.SHELVE,
    AlarmEvent.UNSHELVE,
    AlarmEvent.TAKE_OUT,
    AlarmEvent.PUT_BACK,
)


@dataclass(frozen=True)
class RandomNight:
    """What each of two alarms went through, the warmth of the bin hour by hour (None: silent), and more.

    Steps are (minutes after the step before, what happened).
    """

    steps: tuple[tuple[tuple[int, AlarmEvent | None], ...], ...]
    hours_c: tuple[float | None, ...]
    silent_min: int
    down_min: int
    late: bool
    looked_h: float


STEPS = st.lists(st.tuples(st.integers(1, 400), st.sampled_from(DEEDS)), max_size=10).map(tuple)
QUIET_STEPS = st.just(())
HOURS_C = st.one_of(
    st.just((30.0,) * 13), st.lists(st.sampled_from((30.0, 37.9, 38.5, 43.0, None)), min_size=13, max_size=13)
).map(tuple)
NIGHTS = st.builds(
    RandomNight,
    st.tuples(st.one_of(QUIET_STEPS, STEPS), st.one_of(QUIET_STEPS, STEPS)),
    HOURS_C,
    st.sampled_from((0, 0, 20, 45)),
    st.sampled_from((0, 0, 1, 60)),
    st.sampled_from((False, False, True)),
    st.sampled_from((0.1, 3.0, 50.0)),
)


def _walk(
    rule: AlarmRule, steps: tuple[tuple[int, AlarmEvent | None], ...]
) -> Iterator[tuple[AlarmState, tuple[Transition, ...]]]:
    """The states of an alarm from six hours before the night on, each with the rows that led to it."""
    state, at_ms = AlarmState(rule.alarm_id), START_MS - 6 * HOUR_MS
    for minutes, deed in steps:
        at_ms += minutes * MINUTE_MS
        cause = Cause(at_ms, at_ms, "Naledi", until_ms=at_ms + 100 * HOUR_MS)
        if deed is FLIP:
            event = AlarmEvent.CLEAR if state.active else AlarmEvent.ACTIVATE
            state = replace(state, active=not state.active, since_ms=at_ms, last_value=43.0)
            if state.status in OVERLAYS:
                state, row = fire(state, rule, event, cause)
                yield state, (row,)
                continue
            deed = event
        if (state.status, deed) in TABLE:
            state, rows = carry_out(state, rule, deed, cause, False)
            yield state, rows


def _readings(night: RandomNight) -> Iterator[tuple[int, float]]:
    for hour, value in enumerate(night.hours_c):
        for minute in range(0, 60, 5):
            at_ms = START_MS + hour * HOUR_MS + minute * MINUTE_MS
            skipped = hour == 5 and minute < night.silent_min
            if value is not None and not skipped and at_ms < END_MS:
                yield at_ms, value


@given(NIGHTS)
@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_what_a_night_claims_is_so(night: RandomNight) -> None:
    with TemporaryDirectory() as folder:
        _check(night, make_farm(Path(folder)))


def _check(night: RandomNight, farm: Farm) -> None:
    plan, now_ms = farm.plan(), END_MS + round(night.looked_h * HOUR_MS)
    walks = [
        list(_walk(plan.rules[name], steps)) for name, steps in zip((HOT, WARM), night.steps, strict=True)
    ]
    walks = [[step for step in walk if step[1][0].at_ms <= now_ms] for walk in walks]
    with farm.store() as store:
        _write(night, store, walks)
        report = NightReader(store, plan, night_of(plan, date(2026, 11, 25)), now_ms).report()
    text = report_text(report, Localizer.plain("en", ZONE, now_ms))
    _headline_counts_its_lines(report, text)
    _standing_is_as_the_journal_says(report, walks, now_ms)
    _still_there_is_still_there(text, walks)
    if "quiet" in text.splitlines()[0]:
        _nothing_happened(report, night)


def _write(
    night: RandomNight, store: object, walks: list[list[tuple[AlarmState, tuple[Transition, ...]]]]
) -> None:
    from monitor.store import Store

    assert isinstance(store, Store)
    items = [reading(BIN, at_ms, value) for at_ms, value in _readings(night)]
    steady = range(START_MS, END_MS + 60 * HOUR_MS, 30 * MINUTE_MS)
    items += [
        reading(key, at_ms, value) for at_ms in steady for key, value in ((AIR, 27.0), (HUMIDITY, 60.0))
    ]
    rows = sorted((row for walk in walks for _, rows in walk for row in rows), key=lambda row: row.at_ms)
    late = (Excursion(WARM, START_MS - 2 * HOUR_MS, START_MS - HOUR_MS, 39.0),) if night.late else ()
    states = tuple(walk[-1][0] for walk in walks if walk)
    store.commit(
        Batch(
            END_MS - 1,
            tuple(map(message, items)),
            alarm_states=states,
            transitions=tuple(rows),
            found_late=late,
        )
    )
    store.meta.put("first_started_ms", str(START_MS - 24 * HOUR_MS))
    first = store.runs.start(START_MS - 24 * HOUR_MS)
    store.runs.stop(first, START_MS + HOUR_MS)
    store.runs.alive(store.runs.start(START_MS + HOUR_MS + night.down_min * MINUTE_MS), END_MS + 60 * HOUR_MS)


def _headline_counts_its_lines(report: NightReport, text: str) -> None:
    head, night = text.splitlines()[0], report.night
    blocks = {block.splitlines()[0]: block.splitlines()[1:] for block in text.strip().split("\n\n")}
    lines = {name: sum(line.startswith("- ") for line in block) for name, block in blocks.items()}
    assert _said(head, r"(\d+) alarms? in the night") == lines.get("ALARMS OF THE NIGHT", 0)
    heading = "WRONG NOW" if night.of_now else "WRONG AT ITS END"
    assert _said(head, r"(\d+) things? wrong") == lines.get(heading, 0)
    assert _said(head, r"(\d+) excursions? (?:was|were) found") == lines.get(
        "FOUND OUT LATER; NOBODY WAS WOKEN", 0
    )
    out = sum("out of range" in line for line in text.splitlines()[1:])
    assert _said(head, r"(\d+) places? (?:was|were) out of range") == out


def _said(head: str, pattern: str) -> int:
    found = re.search(pattern, head)
    return int(found[1]) if found else 0


def _standing_is_as_the_journal_says(
    report: NightReport, walks: list[list[tuple[AlarmState, tuple[Transition, ...]]]], now_ms: int
) -> None:
    until_ms = now_ms + 1 if report.night.of_now else END_MS
    standing = set()
    for walk in walks:
        before = [state for state, rows in walk if rows[0].at_ms < until_ms]
        if before and before[-1].status in STANDING:
            standing.add(before[-1].alarm_id)
    assert {alarm.rule.alarm_id for alarm in report.night.still_active} == standing


def _still_there_is_still_there(
    text: str, walks: list[list[tuple[AlarmState, tuple[Transition, ...]]]]
) -> None:
    active = sum(walk[-1][0].active for walk in walks if walk)
    assert text.count("still there") <= active


def _nothing_happened(report: NightReport, night: RandomNight) -> None:
    summary = report.night
    assert not summary.alarms and not summary.still_active and not summary.found_late
    assert all(value is not None and value <= 38.0 for value in night.hours_c)
    assert night.silent_min <= QUIET_GAP_MINUTES
    assert night.down_min * MINUTE_MS <= GRACE_MS
    assert all(place.out_minutes < 1.0 for place in summary.places)
