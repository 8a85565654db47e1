"""What each place is guarded for, in plain words, and what for not because no sensor is there."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass

from monitor.model.rule_words import explain
from monitor.model.rules import suppressed_by_design
from monitor.records import QUANTITIES, AlarmRule, Computed, PlaceKind, Quantity, SensorKey
from monitor.settings.schema import Node, Place, Settings
from monitor.settings.setpoints import alarm_rules

# Without these a place of the kind is not guarded in any sense that matters.
NEEDED: Mapping[PlaceKind, tuple[Quantity, ...]] = {
    PlaceKind.ROOM: (Quantity.AIR_TEMPERATURE,),
    PlaceKind.LOVE_CAGE: (Quantity.AIR_TEMPERATURE, Quantity.AIR_HUMIDITY),
    PlaceKind.HATCHING_TRAY: (Quantity.AIR_TEMPERATURE, Quantity.AIR_HUMIDITY),
    PlaceKind.GROW_OUT_BIN: (Quantity.SUBSTRATE_TEMPERATURE,),
    PlaceKind.PUPATION_BOX: (Quantity.AIR_TEMPERATURE, Quantity.AIR_HUMIDITY),
}
KIND_WORDS: Mapping[PlaceKind, str] = {
    PlaceKind.ROOM: "room",
    PlaceKind.LOVE_CAGE: "love cage",
    PlaceKind.HATCHING_TRAY: "hatching tray",
    PlaceKind.GROW_OUT_BIN: "grow-out bin",
    PlaceKind.PUPATION_BOX: "pupation box",
}
_AIR = frozenset({Quantity.AIR_TEMPERATURE, Quantity.AIR_HUMIDITY})
_INPUTS: Mapping[str, frozenset[Quantity]] = {
    Computed.VAPOUR_PRESSURE_DEFICIT: _AIR,
    Computed.DEW_POINT: _AIR,
    Computed.CONDENSATION_MARGIN: _AIR | {Quantity.SURFACE_TEMPERATURE},
    Computed.MINUTES_TO_OVERHEATING: frozenset({Quantity.SUBSTRATE_TEMPERATURE}),
    Computed.HOURS_TO_DRY: _AIR,
}


@dataclass(frozen=True, slots=True)
class PlaceGuard:
    """One place: what it is guarded for, what is missing for more, why it may be quiet on purpose."""

    place: Place
    guarded: tuple[str, ...]
    unguarded: tuple[str, ...]
    held_back: tuple[str, ...]
    sensors_known: bool

    @property
    def name(self) -> str:
        """Title and id, as a heading."""
        title = self.place.title
        return f"{title} ({self.place.id})" if title and title != self.place.id else self.place.id


def measured(settings: Settings, heard: Collection[SensorKey] = ()) -> dict[str, set[str]]:
    """Quantities that are measured in each place: as the nodes declare, and as has been heard from them."""
    found: dict[str, set[str]] = defaultdict(set)
    for node in settings.nodes:
        for probe, quantity in _sensors(node, heard):
            place = node.probes.get(probe, node.place)
            if place is not None:
                found[place].add(quantity)
    return dict(found)


def _sensors(node: Node, heard: Collection[SensorKey]) -> Iterator[tuple[str, str]]:
    for name in node.measures:
        probe, _, quantity = name.rpartition("/")
        yield probe, quantity
    yield from ((key.probe, key.quantity) for key in heard if key.node == node.id)


def silent_places(settings: Settings, heard: Collection[SensorKey] = ()) -> set[str]:
    """Places with a node that does not say what it measures, and from which nothing has been heard."""
    unknown = [node for node in settings.nodes if not any(_sensors(node, heard))]
    return {place for node in unknown for place in (node.place, *node.probes.values()) if place is not None}


def missing_inputs(
    rule: AlarmRule, place: Place, present: Collection[str], in_room: Collection[str] = ()
) -> list[Quantity]:
    """The quantities that this rule needs and that no sensor in the place measures.

    A bin dries in the air of its room, so the sensors of the room will do for that.
    """
    inputs = set(_INPUTS.get(rule.quantity, ()))
    if rule.quantity in set(Quantity):
        inputs = {Quantity(rule.quantity)}
    if place.surface_colder_by_k is not None:
        inputs.discard(Quantity.SURFACE_TEMPERATURE)
    near = in_room if rule.quantity == Computed.HOURS_TO_DRY else ()
    return sorted(inputs - set(present) - set(near))


def guards(settings: Settings, heard: Collection[SensorKey] = ()) -> tuple[PlaceGuard, ...]:
    """For every place, in the order of the file, what it is guarded for."""
    rules = defaultdict(list)
    for rule in alarm_rules(settings):
        rules[rule.place].append(rule)
    present, unknown = measured(settings, heard), silent_places(settings, heard)
    return tuple(
        _guard(
            place,
            rules[place.id],
            (present.get(place.id, set()), present.get(place.room or "", set())),
            place.id not in unknown,
        )
        for place in settings.places
    )


def _guard(
    place: Place, rules: list[AlarmRule], here_and_room: tuple[set[str], set[str]], sensors_known: bool
) -> PlaceGuard:
    held_back = suppressed_by_design([place], rules)
    guarded, lacking = [], []
    for rule in rules:
        words = explain(rule, "-").removeprefix("-: ")
        missing = missing_inputs(rule, place, *here_and_room) if sensors_known else []
        if missing:
            lacking.append(_lacking(rule, missing))
        elif rule.alarm_id not in held_back:
            guarded.append(words)
    reasons = tuple(dict.fromkeys(held_back.values()))
    return PlaceGuard(place, tuple(guarded), tuple(dict.fromkeys(lacking)), reasons, sensors_known)


def _lacking(rule: AlarmRule, missing: list[Quantity]) -> str:
    watched = QUANTITIES[rule.quantity].title
    if missing == [rule.quantity]:
        return f"{watched}: no sensor here"
    sensors = " and ".join(QUANTITIES[quantity].title for quantity in missing)
    return f"{watched}: no sensor here for {sensors}"
