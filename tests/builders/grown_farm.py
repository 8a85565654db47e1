"""Farms of any size: so many boards, cohorts and days of readings, with a night in which some went wrong."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from year_page import NOW_MS, about

from monitor.records import (
    MS_PER_DAY,
    MS_PER_HOUR,
    MS_PER_MINUTE,
    AlarmEvent,
    AlarmState,
    AlarmStatus,
    Batch,
    FlaggedMessage,
    LogbookEntry,
    NodeMessage,
    SensorKey,
    SubjectKind,
    TimeSource,
    Transition,
)
from monitor.settings.loading import load
from monitor.settings.plan import Plan, build_plan
from monitor.store import Store, readings

KINDS = (
    *("room", "grow_out_bin", "grow_out_bin", "hatching_tray", "grow_out_bin", "pupation_box"),
    *("grow_out_bin", "love_cage", "grow_out_bin", "hatching_tray"),
)
"""The places of ten boards; each ten have a room of their own."""
AIR, SUBSTRATE = ("air_temperature", "air_humidity"), ("substrate_temperature", "substrate_moisture")
BASE = {"air_temperature": 27.0, "air_humidity": 68.0, "substrate_temperature": 30.0, "battery": 3.9}
SWING = {"air_temperature": 3.0, "air_humidity": 8.0, "substrate_temperature": 3.0}
TROUBLED = 10
"""In one place of so many something was out of range in each night."""
HOUR_DAYS, MINUTE_DAYS, ENDED = 60, 8, 12
_HEAD = """\
[site]
id = "grown"
title = "Grown"
time_zone = "Africa/Gaborone"

[broker]
embedded = true

[store]
path = "{path}"
"""
_MINUTES = """
    WITH RECURSIVE minute(at_ms) AS (
        SELECT :start UNION ALL SELECT at_ms + 60000 FROM minute WHERE at_ms + 60000 < :end)
    INSERT INTO reading SELECT :sensor, at_ms,
        CAST(:base + :swing * abs((at_ms / 60000) % 1440 - 720) / 720 AS INTEGER)
        + (at_ms / 60000 * 7919) % 23, 1
    FROM minute"""
_COPY = "INSERT INTO reading SELECT ?1, at_ms, value + ?2, 1 FROM reading WHERE sensor_id = ?3"
_HOURS = """
    WITH RECURSIVE hour(hour) AS (
        SELECT :first UNION ALL SELECT hour + 1 FROM hour WHERE hour + 1 < :last)
    INSERT INTO hourly SELECT :sensor, hour, 60, middle - 12, 60 * middle, middle + 12, 0 FROM (
        SELECT hour, CAST(:base + :swing * abs(hour % 24 - 12) / 12 AS INTEGER) + (hour * 7919) % 61 AS middle
        FROM hour)"""


@dataclass(frozen=True, slots=True)
class Size:
    """How large a farm is; `days` of minutes are kept as readings, at least 60 days as hours."""

    boards: int
    cohorts: int = 0
    days: int = MINUTE_DAYS
    filled: bool = False


@dataclass(frozen=True, slots=True)
class GrownFarm:
    """A farm in a folder, at one moment."""

    plan: Plan
    now_ms: int = NOW_MS


def grown_farm(folder: Path, size: Size) -> GrownFarm:
    """Make a farm of a size."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "farm.toml").write_text(settings_text(folder, size), encoding="utf-8")
    plan = build_plan(load(folder / "farm.toml", {}))
    with Store.open(plan.settings.store.path) as store:
        _fill(store, plan, size.days)
        _history(store, plan)
        store.logbook.add_all(list(entries(plan, size)))
    return GrownFarm(plan)


def settings_text(folder: Path, size: Size) -> str:
    """The settings: one board in each place."""
    lines = [_HEAD.format(path=folder / "rearing.sqlite")]
    for number in range(size.boards):
        place, kind = _place(number)
        room = "" if kind == "room" else f'room = "{_place(number - number % len(KINDS))[0]}"\n'
        measures = [*(SUBSTRATE if kind == "grow_out_bin" else AIR), "battery"]
        lines.append(f'[[places]]\nid = "{place}"\nkind = "{kind}"\ntitle = "{place}"\n{room}')
        lines.append(f'[[nodes]]\nid = "node-{number:04d}"\nplace = "{place}"\nmeasures = {measures}\n')
    return "\n".join(lines)


def _place(number: int) -> tuple[str, str]:
    kind = KINDS[number % len(KINDS)]
    return f"{kind.rpartition('_')[2]}-{number:04d}", kind


def _sensors(plan: Plan) -> list[tuple[int, SensorKey]]:
    return [
        (number, SensorKey(node.id, "", quantity))
        for number, node in enumerate(plan.nodes.values())
        for quantity in node.measures
    ]


def _fill(store: Store, plan: Plan, days: int) -> None:
    """Minutes and hours, written as fast as SQLite copies rows."""
    made: dict[str, int] = {}
    with store.database.write() as connection:
        for number, key in _sensors(plan):
            row = readings.find_or_add(store.database, key)
            base = BASE.get(key.quantity, 0.6) * row.per_unit
            swing = SWING.get(key.quantity, 0.0) * row.per_unit
            more = _more(number, key.quantity) * row.per_unit
            if key.quantity in made:
                source = (row.sensor_id, round(more), made[key.quantity])
                connection.execute(_COPY, source)
            else:
                made[key.quantity] = row.sensor_id
                span = {"start": NOW_MS - days * MS_PER_DAY, "end": NOW_MS + 1}
                connection.execute(_MINUTES, {**span, "sensor": row.sensor_id, "base": base, "swing": swing})
            last = NOW_MS // MS_PER_HOUR
            first = last - 24 * max(days, HOUR_DAYS)
            hours = {"sensor": row.sensor_id, "base": base + more, "swing": swing}
            connection.execute(_HOURS, {**hours, "first": first, "last": last + 1})


def _more(number: int, quantity: str) -> float:
    """How much more a board measures than the first: some degrees apart, and far too much in some places."""
    if quantity in ("battery", "substrate_moisture"):
        return 0.0
    troubled = 14.0 if number % TROUBLED == TROUBLED // 2 - 1 and quantity == "substrate_temperature" else 0.0
    return 0.1 * (number % 7) + troubled


def _history(store: Store, plan: Plan) -> None:
    """Every board heard just now; two alarms a day and place that is troubled, the newest standing."""
    heard = [FlaggedMessage(NodeMessage(node, NOW_MS, (), TimeSource.NODE, 1, 1), ()) for node in plan.nodes]
    places = list(plan.places)[TROUBLED // 2 - 1 :: TROUBLED]
    rules = [rule for rule in plan.rules.values() if rule.place in places and rule.side.value == "high"]
    first = {rule.place: rule for rule in reversed(rules)}
    rows: list[Transition] = []
    quiet, loud = AlarmStatus.NORMAL, AlarmStatus.UNACKNOWLEDGED
    for rule in first.values():
        head = (rule.alarm_id, rule.place, rule.quantity, rule.priority)
        for back in range(16):
            at_ms = NOW_MS - (12 * back + 1) * MS_PER_HOUR
            rows.append(Transition(*head, AlarmEvent.ACTIVATE, quiet, loud, at_ms, at_ms, rule.setpoint))
            if back:
                end_ms = at_ms + 30 * MS_PER_MINUTE
                rows.append(Transition(*head, AlarmEvent.CLEAR, loud, quiet, end_ms, end_ms, rule.setpoint))
    rows.sort(key=lambda row: row.at_ms)
    standing = tuple(
        AlarmState(rule.alarm_id, loud, True, False, NOW_MS - MS_PER_HOUR, last_value=rule.setpoint)
        for rule in first.values()
    )
    store.commit(Batch(NOW_MS, messages=tuple(heard), alarm_states=standing, transitions=tuple(rows)))
    store.meta.put("first_started_ms", str(NOW_MS - HOUR_DAYS * MS_PER_DAY))
    run = store.runs.start(NOW_MS - HOUR_DAYS * MS_PER_DAY)
    store.runs.alive(run, NOW_MS)


def entries(plan: Plan, size: Size) -> Iterator[LogbookEntry]:
    """Cohorts of all ages with what was seen of them, some that ended and taught, and bins if wanted."""
    by_kind = _by_kind(plan)
    if size.cohorts:
        for number in range(ENDED):
            start_ms = NOW_MS - (55 - number) * MS_PER_DAY
            yield from _cohort(by_kind, f"old-{number}", number, start_ms, ended=True)
        for number in range(size.cohorts):
            days = 1.0 + 33.0 * (number * 7919 % size.cohorts) / size.cohorts
            start_ms = NOW_MS - round(days * MS_PER_DAY) // MS_PER_HOUR * MS_PER_HOUR
            yield from _cohort(by_kind, f"c-{number}", number, start_ms, ended=False)
    for bin_ in by_kind.get("grow_out_bin", ()) if size.filled else ():
        filled_ms = NOW_MS - 14 * MS_PER_DAY
        body = {"kg": 10.0, "moisture": 0.7, "surface_m2": 0.24, "depth_m": 0.08, "larvae": 2500}
        yield about(SubjectKind.BIN, bin_, "fill", filled_ms, **body)
        for day in range(1, 14):
            at_ms = filled_ms + day * MS_PER_DAY + MS_PER_HOUR
            yield about(SubjectKind.BIN, bin_, "water", at_ms, kg=0.4)


def _by_kind(plan: Plan) -> Mapping[str, list[str]]:
    found: dict[str, list[str]] = {}
    for place in plan.settings.places:
        found.setdefault(place.kind.value, []).append(place.id)
    return found


def _cohort(
    by_kind: Mapping[str, list[str]], name: str, number: int, start_ms: int, *, ended: bool
) -> Iterator[LogbookEntry]:
    def of(kind: str) -> str:
        places = by_kind[kind]
        return places[number % len(places)]

    def entry(kind: str, days: float, **body: object) -> Iterator[LogbookEntry]:
        at_ms = start_ms + round(days * MS_PER_DAY)
        if at_ms < NOW_MS:
            yield about(SubjectKind.COHORT, name, kind, at_ms, **body)

    said = {"purpose": "feed"} if number % 3 == 1 and not ended else {"purpose": "breeding"}
    if number % 11 == 5 and not ended:
        said = {}
    began: dict[str, object] = {"stage": "larva", "place": of("grow_out_bin"), "animals": 2000, **said}
    yield from entry("start", 0.0, **began)
    if number % 2:
        yield from entry("saw", 13.0 + number % 3, event="first_prepupae")
    yield from entry("move", 16.5, place=of("pupation_box"))
    yield from entry("move", 26.0, place=of("love_cage"))
    if number % 5 == 0 or ended:
        yield from entry("saw", 27.0 + number % 3, event="first_emerged")
    if ended:
        yield from entry("end", 40.0, how="emerged")
