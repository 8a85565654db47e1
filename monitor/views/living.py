"""What lives where, kept in the store: the service works it out, everybody else looks it up.

The logbook decides which rules a place has (the stage that lives in it, or nothing). Working that out takes a
forecast, so the running service does it now and then, and the other programs use what it found.
"""

from __future__ import annotations

import json
from collections.abc import Mapping

from monitor.records import Stage
from monitor.settings.plan import Plan, build_plan
from monitor.settings.schema import Place, Settings
from monitor.store import Store
from monitor.views.cohort_queries import living_plan

LIVING = "living_places"


def refresh_living(store: Store, settings: Settings, now_ms: int) -> Plan:
    """Work out what lives where, keep it, and give the plan that follows from it."""
    plan = living_plan(store, settings, now_ms)
    found = {place.id: [place.stage, place.empty] for place in plan.places.values()}
    text = json.dumps(found)
    if store.meta.get(LIVING) != text:
        store.meta.put(LIVING, text)
    return plan


def plan_as_lived(store: Store, settings: Settings) -> Plan:
    """The plan with what was last found to live where."""
    known: Mapping[str, list[object]] = json.loads(store.meta.get(LIVING) or "{}")
    places = tuple(_lived_in(place, known.get(place.id)) for place in settings.places)
    return build_plan(settings.model_copy(update={"places": places}))


def _lived_in(place: Place, found: list[object] | None) -> Place:
    if found is None:
        return place
    stage = place.stage or (None if found[0] is None else Stage(str(found[0])))
    return place.model_copy(update={"stage": stage, "empty": place.empty or bool(found[1])})
