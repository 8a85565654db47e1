"""The logbook of this farm as one record: what its entries are checked against, and the replay of them."""

from __future__ import annotations

import functools
from collections.abc import Iterable, Mapping

from monitor.bins.substrate import SubstrateParameters
from monitor.climate.psychrometrics import standard_pressure_pa
from monitor.logbook.bin_entries import BinValidationContext
from monitor.logbook.cohort_entries import CohortValidationContext, validation_context_of
from monitor.logbook.entry import Refusal
from monitor.logbook.replay import FarmBook, FarmContext, farm_book
from monitor.records import PlaceKind, Quantity, SensorKey, SubjectKind
from monitor.settings.plan import Plan
from monitor.settings.species import available_substrates, load_substrate, species_parameters
from monitor.store import Store

FILLED_KINDS = (PlaceKind.GROW_OUT_BIN, PlaceKind.HATCHING_TRAY, PlaceKind.PUPATION_BOX)
USUAL_SUBSTRATE = "wheat_bran"


def book_of(store: Store, plan: Plan, now_ms: int, known_ms: int | None = None) -> FarmBook:
    """Cohorts and bins as the logbook tells of them, without any computation.

    With `known_ms` only from what had been entered by then.
    """
    return farm_book(store.logbook.every(), farm_context(store, plan), now_ms, known_ms)


def refused_about(about: SubjectKind, book: FarmBook) -> tuple[Refusal, ...]:
    """The entries about cohorts or about bins that were refused."""
    return tuple(refusal for refusal in book.refused if refusal.entry.subject_kind is about)


def farm_context(store: Store, plan: Plan) -> FarmContext:
    """What entries are checked against on this farm."""
    return FarmContext(farm_validation_context(plan), bin_validation_context(store, plan))


def farm_validation_context(plan: Plan) -> CohortValidationContext:
    """What entries about cohorts are checked against on this farm."""
    places = {place.id: plan.title(place.id) for place in plan.settings.places}
    cages = tuple(place.id for place in plan.settings.places if place.kind is PlaceKind.LOVE_CAGE)
    return validation_context_of(
        places, cages, plan.zone, species_parameters(plan.species), tuple(plan.species.diets)
    )


def bin_validation_context(store: Store, plan: Plan) -> BinValidationContext:
    """What entries about bins are checked against on this farm, with the thermometers ever heard."""
    places = [place for place in plan.settings.places if place.kind in FILLED_KINDS]
    heard = (key for key in store.readings.sensors() if key.quantity == Quantity.SUBSTRATE_TEMPERATURE)
    here = {plan.place_of(key) for key in (*heard, *_expected(plan))}
    return BinValidationContext(
        titles={place.id: plan.title(place.id) for place in places},
        zone=plan.zone,
        substrates=_substrates(),
        usual_substrate=USUAL_SUBSTRATE,
        probed=frozenset(place.id for place in places if place.id in here),
        pressure_pa=float(standard_pressure_pa(plan.settings.site.altitude_m)),
    )


@functools.cache
def _substrates() -> Mapping[str, SubstrateParameters]:
    return {name: load_substrate(name) for name in available_substrates()}


def _expected(plan: Plan) -> Iterable[SensorKey]:
    for node in plan.nodes.values():
        for measured in node.measures:
            probe, _, quantity = measured.rpartition("/")
            if quantity == Quantity.SUBSTRATE_TEMPERATURE:
                yield SensorKey(node.id, probe, quantity)
