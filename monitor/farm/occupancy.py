"""What lives where, worked out from the logbook; the rules of a place follow from it.

Working out a stage takes a forecast, so the service keeps what it found in the store. That counts as long
as no newer entry about a cohort is in the logbook.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field

from monitor.records import Stage, SubjectKind
from monitor.settings.plan import Plan, build_plan
from monitor.settings.schema import Place, Settings
from monitor.store import Store

KEPT = "occupancy"


@dataclass(frozen=True, slots=True)
class Occupancy:
    """The youngest stage in each place that is lived in, and the places that all cohorts have left.

    The logbook says nothing of any other place. `newest_entry` is the entry up to which it was read.
    """

    newest_entry: int = 0
    stages: Mapping[str, Stage] = field(default_factory=dict)
    left: frozenset[str] = frozenset()

    def applied_to(self, settings: Settings) -> Plan:
        """The plan with each place as the logbook knows it; a stage that the settings give stays."""
        places = tuple(self._as_lived_in(place) for place in settings.places)
        return build_plan(settings.model_copy(update={"places": places}))

    def _as_lived_in(self, place: Place) -> Place:
        if place.id in self.stages:
            return place.model_copy(update={"stage": place.stage or self.stages[place.id], "empty": False})
        return place.model_copy(update={"empty": True}) if place.id in self.left else place


def occupancy(store: Store, plan: Plan, now_ms: int) -> Occupancy:
    """What lives where at a moment, by logbook and forecast."""
    newest_entry = store.logbook.newest_id(SubjectKind.COHORT)
    if not newest_entry:
        return Occupancy()
    # Only here, since a forecast loads much that a command without cohorts does not need.
    from monitor.farm.development import develop
    from monitor.logbook.replay import places_left, stages_by_place

    development = develop(store, plan, now_ms, draws=1)
    cohorts = development.book.cohorts.values()
    stage_of = {name: forecast.stage for name, forecast in development.forecasts().items()}
    stages = stages_by_place(cohorts, stage_of, now_ms)
    return Occupancy(newest_entry, stages, places_left(cohorts, stages, now_ms))


def refreshed_plan(store: Store, settings: Settings, now_ms: int) -> Plan:
    """Work out what lives where, keep it, and give the plan that follows from it."""
    found = occupancy(store, build_plan(settings), now_ms)
    text = json.dumps(
        {"newest_entry": found.newest_entry, "stages": found.stages, "left": sorted(found.left)}
    )
    if store.meta.get(KEPT) != text:
        store.meta.put(KEPT, text)
    return found.applied_to(settings)


def last_known_plan(store: Store, settings: Settings) -> Plan:
    """The plan by what was last kept, for a start that must not wait for a forecast."""
    return _kept(store).applied_to(settings)


def occupied_plan(store: Store, settings: Settings, now_ms: int) -> Plan:
    """The plan by what was last kept; where the logbook has a newer entry, by working it out."""
    known = _kept(store)
    if known.newest_entry != store.logbook.newest_id(SubjectKind.COHORT):
        known = occupancy(store, build_plan(settings), now_ms)
    return known.applied_to(settings)


def _kept(store: Store) -> Occupancy:
    text = store.meta.get(KEPT)
    if text is None:
        return Occupancy()
    found = json.loads(text)
    stages = {place: Stage(stage) for place, stage in found["stages"].items()}
    return Occupancy(found["newest_entry"], stages, frozenset(found["left"]))
