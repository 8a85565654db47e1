"""What lives where, worked out from the logbook; the rules of a place follow from it.

Whether a place is empty is what people said, and known at once. Working out a stage takes a forecast, so the
service keeps what it found in the store; until that is so after a newer entry, the rules of all stages hold.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, field, replace

from monitor.logbook.place_entries import Noted, Unguarded, Why, arrived_ms, boards_aside, place_words
from monitor.records import MS_PER_DAY, AlarmRule, LogbookEntry, Priority, Side, Stage, SubjectKind
from monitor.settings.plan import Plan, Said, build_plan, unguarded_places
from monitor.settings.schema import Settings
from monitor.store import Store

STAGES, NOTED, LIMITS = "possible_stages", "noted", "limits_in_force"
"""Where the stages are kept, what time has done that nothing may undo, and which limits held when."""
LIMITS_KEPT_MS = 60 * MS_PER_DAY
"""For how long past limits are known, beside those that hold. Own choice."""
WINDOW_DRAWS = 100
"""Courses from which the windows of stages are read: enough for their bounds to a tenth of their width."""
UNKNOWN = frozenset[Stage]()


@dataclass(frozen=True, slots=True)
class Stages:
    """The stages in which the animals of each place may be, up to the newest entry that was looked at.

    An empty set stands for "not known". `youngest` is the likeliest stage, of several cohorts the youngest;
    `flies_ms` is when flies may have come into a cage by the forecast.
    """

    newest_entry: int = 0
    possible: Mapping[str, frozenset[Stage]] = field(default_factory=dict)
    youngest: Mapping[str, Stage] = field(default_factory=dict)
    flies_ms: Mapping[str, int] = field(default_factory=dict)


def said_of_places(entries: Iterable[LogbookEntry], noted: Noted, stages: Stages | None, now_ms: int) -> Said:
    """What the logbook adds to the settings at a moment; `stages` is None where they are not worked out."""
    entries = tuple(entries)
    places = place_words(entries, now_ms, noted)
    known = {} if stages is None else stages.possible
    possible = {
        place: known.get(place, UNKNOWN) for place, words in places.items() if words.spoken or place in known
    }
    youngest = {} if stages is None else stages.youngest
    return Said(places, boards_aside(entries, now_ms, noted), possible, youngest, noted)


@dataclass(frozen=True, slots=True)
class UnguardedNight:
    """What was not guarded at some time of a night, as people had said by then; `empty` were so all night."""

    places: Mapping[str, tuple[Unguarded, ...]]
    empty: frozenset[str]


def unguarded_between(
    plan: Plan, entries: Iterable[LogbookEntry], noted: Noted, start_ms: int, end_ms: int
) -> UnguardedNight:
    """What was not guarded from a moment to another, each word of a person once [ms since 1970 UTC]."""
    entries = tuple(entries)
    said_ms = (max(each.at_ms, each.entered_ms) for each in entries if each.subject_kind is SubjectKind.PLACE)
    ruled = {rule.place for rule in plan.rules.values()}
    found: dict[str, dict[tuple[Why, int | None], Unguarded]] = {}
    empty = []
    for at_ms in sorted({start_ms, end_ms, *(each for each in said_ms if start_ms < each < end_ms)}):
        said = said_of_places((each for each in entries if each.entered_ms <= at_ms), noted, None, at_ms)
        then = unguarded_places(plan.settings.places, said, ruled)
        empty.append({place for place, each in then.items() if each.why in (Why.EMPTY, Why.FILE)})
        for place, each in then.items():
            found.setdefault(place, {})[each.why, each.entry_id] = each
    places = {place: tuple(each.values()) for place, each in found.items()}
    return UnguardedNight(places, frozenset(set.intersection(*empty)))


def with_time(
    noted: Noted, entries: Iterable[LogbookEntry], flies_ms: Mapping[str, int], now_ms: int
) -> Noted:
    """What time has done by now, beside what it had done before; nothing of it is ever taken back."""
    flies = dict(noted.flies_ms)
    for cage, at_ms in flies_ms.items():
        flies[cage] = max(at_ms, flies.get(cage, 0))
    return replace(noted, arrived_ms=max(noted.arrived_ms, arrived_ms(entries, now_ms)), flies_ms=flies)


def keep_limits(store: Store, plan: Plan, now_ms: int) -> None:
    """Keep which limits of places hold from now on, where they differ from those that held."""
    kept = _kept_limits(store)
    holds = {rule.alarm_id: rule.setpoint for rule in plan.rules.values() if rule.place in plan.places}
    changed: dict[str, list[_Limit]] = {}
    for name in {*kept, *holds}:
        # A clock that was set back leaves nothing that began later.
        before = [each for each in kept.get(name, []) if each[0] < now_ms]
        old = [each for each in before if each[0] <= now_ms - LIMITS_KEPT_MS]
        rows = [*old[-1:], *before[len(old) :]]
        if (rows[-1][1] if rows else None) != holds.get(name):
            rows.append((now_ms, holds.get(name)))
        if any(setpoint is not None for _, setpoint in rows):
            changed[name] = rows
    if changed != kept:
        _keep(store, LIMITS, changed)


def plan_then(store: Store, plan: Plan, at_ms: int) -> Plan:
    """The plan with the limits of places that held at an earlier moment, where that was kept."""
    kept = _kept_limits(store)
    held = {name: _held(rows, at_ms) for name, rows in kept.items() if rows[0][0] <= at_ms}
    if all(name in plan.rules and plan.rules[name].setpoint == setpoint for name, setpoint in held.items()):
        return plan
    rules = {name: rule for name, rule in plan.rules.items() if held.get(name, rule.setpoint) is not None}
    for name, setpoint in held.items():
        if setpoint is not None:
            known = rules.get(name)
            rules[name] = _gone(name, setpoint) if known is None else replace(known, setpoint=setpoint)
    return plan.with_rules(rules.values())


def _gone(alarm_id: str, setpoint: float) -> AlarmRule:
    """A rule that is no more, as far as it is known: its limit, without its delays and its words."""
    place, quantity, side, priority = alarm_id.rsplit("/", 3)
    limits = (setpoint, 0.0, 0.0, 0.0)
    return AlarmRule(alarm_id, place, quantity, Side(side), *limits, Priority(priority), "", "")


_Limit = tuple[int, float | None]
"""From when on a setpoint held [ms since 1970 UTC]; None where no limit did."""


def _held(rows: Iterable[_Limit], at_ms: int) -> float | None:
    return [setpoint for from_ms, setpoint in rows if from_ms <= at_ms][-1]


def _kept_limits(store: Store) -> dict[str, list[_Limit]]:
    kept = json.loads(store.meta.get(LIMITS) or "{}")
    return {name: [(from_ms, setpoint) for from_ms, setpoint in rows] for name, rows in kept.items()}


def work_out_stages(store: Store, plan: Plan, now_ms: int) -> Stages:
    """The possible stages of what lives where, by logbook and forecast."""
    newest_entry = store.logbook.newest_about_animals()
    if not newest_entry:
        return Stages()
    # Only here, since a forecast loads much that a command without cohorts does not need.
    from monitor.development.forecast import first_flies_ms, possible_stages
    from monitor.farm.development import develop
    from monitor.logbook.animals import flies_by_cage, stages_by_place, youngest_by_place

    # Animals are guarded where the logbook says that they are: no assumed move counts.
    development = develop(store, plan, now_ms, WINDOW_DRAWS, assumes_moves=False)
    forecasts = development.forecasts()
    cohorts, cages = development.book.living, development.context.cages
    stages = {each.name: possible_stages(each, forecasts[each.name], now_ms) for each in cohorts}
    flies_ms = {name: first_flies_ms(forecast, now_ms) for name, forecast in forecasts.items()}
    return Stages(
        newest_entry=newest_entry,
        possible=stages_by_place(cohorts, stages, cages, now_ms),
        youngest=youngest_by_place(cohorts, {name: each.stage for name, each in forecasts.items()}, now_ms),
        flies_ms=flies_by_cage(cohorts, flies_ms),
    )


def keep_stages(store: Store, stages: Stages) -> None:
    """Keep what was worked out, for a start that must not wait for a forecast."""
    possible = {place: sorted(found) for place, found in stages.possible.items()}
    _keep(store, STAGES, {**asdict(stages), "possible": possible})


def keep_noted(store: Store, noted: Noted) -> None:
    """Keep what time has done."""
    _keep(store, NOTED, asdict(noted))


def _keep(store: Store, key: str, plain: Mapping[str, object]) -> None:
    text = json.dumps(plain, sort_keys=True)
    if store.meta.get(key) != text:
        store.meta.put(key, text)


def kept_noted(store: Store) -> Noted:
    """What time had done when it was kept last."""
    text = store.meta.get(NOTED)
    return Noted() if text is None else Noted(**json.loads(text))


def kept_stages(store: Store) -> Stages | None:
    """The stages that were kept, None where the logbook has a newer entry about a cohort."""
    text = store.meta.get(STAGES)
    newest_entry = store.logbook.newest_about_animals()
    found = {} if text is None else json.loads(text)
    if found.get("newest_entry", 0) != newest_entry:
        return None
    possible = {place: frozenset(map(Stage, each)) for place, each in found.get("possible", {}).items()}
    youngest = {place: Stage(stage) for place, stage in found.get("youngest", {}).items()}
    return Stages(newest_entry, possible, youngest, found.get("flies_ms", {}))


def last_known_plan(store: Store, settings: Settings, now_ms: int) -> Plan:
    """The plan by the logbook and what was last kept of stages, for a start that must not wait."""
    return _plan_of(store, settings, kept_stages(store), now_ms)


def occupied_plan(store: Store, settings: Settings, now_ms: int) -> Plan:
    """The same, with the stages worked out where the logbook has a newer entry about a cohort."""
    known = kept_stages(store)
    if known is None:
        known = work_out_stages(store, _plan_of(store, settings, None, now_ms), now_ms)
    return _plan_of(store, settings, known, now_ms)


def _plan_of(store: Store, settings: Settings, stages: Stages | None, now_ms: int) -> Plan:
    return build_plan(settings, _said(store, store.logbook.every(), stages, now_ms))


def last_known_words(store: Store, entries: Iterable[LogbookEntry], now_ms: int) -> Said:
    """What `last_known_plan` lays over the settings, from all entries of the logbook as they were read."""
    return _said(store, entries, kept_stages(store), now_ms)


def _said(store: Store, entries: Iterable[LogbookEntry], stages: Stages | None, now_ms: int) -> Said:
    entries = tuple(entries)
    noted = with_time(kept_noted(store), entries, {} if stages is None else stages.flies_ms, now_ms)
    return said_of_places(entries, noted, stages, now_ms)
