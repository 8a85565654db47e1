"""The plan that follows from the settings: which rule guards which place, where each sensor is.

The farm's own numbers stand in it in place of those of the species file, and stay marked as its own.
"""

from __future__ import annotations

from collections.abc import Container, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any
from zoneinfo import ZoneInfo

from monitor.alarms.rules import PossibleStages, doubt_rules, rules_for, suppressed_by_design
from monitor.alarms.system import SITE, Watched, system_rules
from monitor.logbook.place_entries import NOTHING_NOTED, Noted, PlaceWords, Unguarded, Why
from monitor.records import AlarmRule, Computed, PlaceKind, Quantity, SensorKey, Side, Stage
from monitor.settings.schema import Node, OwnNumber, Place, Settings
from monitor.settings.species import Species, load_species

OWN_MARK = "choice"
LONGEST_GAP_INTERVALS = 5.0
SHORTEST_GAP_S = 600.0
COMPUTED = frozenset({*Computed})
SILENT_WORDS: Mapping[Why, str] = {
    Why.EMPTY: "it was said that no animals are in it",
    Why.FILE: "farm.toml says that no animals are in it",
    Why.ASIDE: "the place was put aside for a while",
}
"""Why the alarms of a place are suppressed by design, for the journal; who said so stands beside it."""
BOARD_ASIDE = "the board was put aside for a while"
STAGE_OF_KIND: Mapping[PlaceKind, Stage] = {
    PlaceKind.HATCHING_TRAY: Stage.EGG,
    PlaceKind.GROW_OUT_BIN: Stage.LARVA,
    PlaceKind.PUPATION_BOX: Stage.PUPA,
    PlaceKind.LOVE_CAGE: Stage.ADULT,
}


def with_own_numbers(species: Species, own: Sequence[OwnNumber]) -> Species:
    """The species with the farm's numbers; those without a place in it were refused with the file."""
    plain: dict[str, Any] = species.model_dump(exclude_unset=True)
    for entry in own:
        table = _table(plain, entry)
        if table is not None:
            table[entry.number] = _number(entry)
    return Species.model_validate(plain) if own else species


def _table(plain: dict[str, Any], entry: OwnNumber) -> dict[str, Any] | None:
    if entry.stage is None:
        numbers: dict[str, Any] = plain.setdefault("numbers", {})
        return numbers
    stages = plain.get("stages", {})
    if entry.feed is not None:
        stages = plain.get("diets", {}).get(entry.feed, {})
    table: dict[str, Any] | None = stages.get(entry.stage)
    return table


def _number(entry: OwnNumber) -> dict[str, Any]:
    source = entry.source or "this farm's own number"
    return {"value": entry.value, "mark": OWN_MARK, "source": source}


@dataclass(frozen=True, slots=True)
class Said:
    """What the logbook adds to the settings: words about places, boards put aside, the stages in a place.

    `youngest` is the likeliest stage of each place; `noted` is what time has done meanwhile.
    """

    places: Mapping[str, PlaceWords] = field(default_factory=dict)
    boards_aside: Mapping[str, Unguarded] = field(default_factory=dict)
    stages: PossibleStages = field(default_factory=dict)
    youngest: Mapping[str, Stage] = field(default_factory=dict)
    noted: Noted = NOTHING_NOTED


NOTHING_SAID = Said()
NOTHING_OF_PLACE = PlaceWords()


@dataclass(frozen=True)
class Plan:
    """Rules by place and quantity, sensors by place, and the facts of places and nodes.

    `unguarded` are the places of which a person or the settings said that nothing guards them now;
    `removed` are the rules that the settings took away.
    """

    settings: Settings
    species: Species
    places: Mapping[str, Place]
    nodes: Mapping[str, Node]
    rules: Mapping[str, AlarmRule]
    suppressed_by_design: Mapping[str, str]
    said: Said
    unguarded: Mapping[str, Unguarded]
    removed: tuple[AlarmRule, ...]
    _by_quantity: Mapping[tuple[str, str], tuple[AlarmRule, ...]]
    _computing: frozenset[str]
    _longest_gaps_s: Mapping[str, float]

    def place_of(self, sensor: SensorKey) -> str | None:
        """The place that a sensor guards, or None while it is not placed or its board is put aside."""
        if sensor.node in self.said.boards_aside:
            return None
        return self.home_of(sensor)

    def home_of(self, sensor: SensorKey) -> str | None:
        """The place in which a sensor hangs, its board put aside or not."""
        node = self.nodes.get(sensor.node)
        if node is None:
            return None
        if sensor.quantity == Quantity.BATTERY:
            return node.id
        return node.probes.get(sensor.probe, node.place)

    def rules_of(self, place: str, quantity: str) -> tuple[AlarmRule, ...]:
        """The rules that look at one quantity of one place."""
        return self._by_quantity.get((place, quantity), ())

    def with_rules(self, rules: Iterable[AlarmRule]) -> Plan:
        """The same farm with other rules, such as those of an earlier time."""
        rules = tuple(rules)
        by_quantity = _by_quantity(rules)
        return replace(self, rules={rule.alarm_id: rule for rule in rules}, _by_quantity=by_quantity)

    def longest_gap_s(self, place: str) -> float:
        """Longest step between readings that counts towards a delay [s]: five intervals, at least 10 min."""
        return self._longest_gaps_s.get(place, SHORTEST_GAP_S)

    def nodes_in(self, place: str) -> tuple[Node, ...]:
        """The nodes with a sensor in the place."""
        return self._nodes_by_place.get(place, ())

    @cached_property
    def _nodes_by_place(self) -> Mapping[str, tuple[Node, ...]]:
        found: dict[str, list[Node]] = {}
        for node in self.nodes.values():
            for place in {node.place, *node.probes.values()}:
                if place is not None:
                    found.setdefault(place, []).append(node)
        return {place: tuple(nodes) for place, nodes in found.items()}

    def computes(self, place: str) -> bool:
        """Whether a rule of the place needs a quantity computed from its readings."""
        return place in self._computing

    def surface_colder_by_k(self, place: str) -> float | None:
        """How much colder than its air the coldest surface of the place is, where the settings say so."""
        return self.places[place].surface_colder_by_k

    def heat_limit_c(self, place: str) -> float | None:
        """The highest substrate setpoint of the place [°C], towards which its trend is followed."""
        limits = [
            rule.setpoint
            for rule in self.rules_of(place, Quantity.SUBSTRATE_TEMPERATURE)
            if rule.side is Side.HIGH
        ]
        wanted = self.rules_of(place, Computed.MINUTES_TO_OVERHEATING)
        return max(limits) if limits and wanted else None

    def title(self, place: str) -> str:
        """Name of a place, a node or the site for a person."""
        if place in self.places:
            return self.places[place].title or place
        return self.settings.site.title if place == SITE else place

    def silenced_by(self, place: str) -> Unguarded | None:
        """Why the alarms of a place or a board are suppressed, and who said so."""
        return self.unguarded.get(place) or self.said.boards_aside.get(place)

    def words_of(self, place: str) -> PlaceWords:
        """What the logbook says of a place."""
        return self.said.places.get(place, NOTHING_OF_PLACE)

    @property
    def zone(self) -> ZoneInfo:
        """The farm's time zone."""
        return ZoneInfo(self.settings.site.time_zone)

    def stage_of(self, place: Place) -> Stage | None:
        """The stage that lives in a place: as the settings say, by the logbook, else as its kind suggests."""
        return place.stage or self.said.youngest.get(place.id) or STAGE_OF_KIND.get(place.kind)


def build_plan(settings: Settings, said: Said = NOTHING_SAID) -> Plan:
    """Work out the plan; the settings have been checked before, so nothing here is refused."""
    species = with_own_numbers(load_species(settings.site.species), settings.own_numbers)
    of_places = rules_for(settings.places, species.alarms, settings.rules, said.stages)
    unguarded = unguarded_places(settings.places, said, {rule.place for rule in of_places})
    empty = (place for place, each in unguarded.items() if each.why in (Why.EMPTY, Why.FILE))
    places_for_copies = len(settings.copies) + (settings.store.backup_folder is not None)
    rules = (
        *of_places,
        *doubt_rules(empty),
        *system_rules(
            (_watched(node) for node in settings.nodes if not node.out_of_service),
            settings.archive.lag_alarm_hours if settings.archive else None,
            copies_wanted=places_for_copies > 0,
            several_places=places_for_copies > 1,
        ),
    )
    by_quantity = _by_quantity(rules)
    computing = {place for place, quantity in by_quantity if quantity in COMPUTED}
    reasons = {place: SILENT_WORDS[each.why] for place, each in unguarded.items() if each.why in SILENT_WORDS}
    return Plan(
        settings=settings,
        species=species,
        places={place.id: _as_said(place, unguarded) for place in settings.places},
        nodes={node.id: node for node in settings.nodes},
        rules={rule.alarm_id: rule for rule in rules},
        suppressed_by_design={
            **suppressed_by_design(settings.places, of_places, reasons),
            **{rule.alarm_id: BOARD_ASIDE for rule in rules if rule.place in said.boards_aside},
        },
        said=said,
        unguarded=unguarded,
        removed=_removed(settings, species, said, {rule.alarm_id for rule in of_places}),
        _by_quantity=by_quantity,
        _computing=frozenset(place.id for place in settings.places) & computing,
        _longest_gaps_s=_longest_gaps_s(settings.nodes),
    )


def _by_quantity(rules: Iterable[AlarmRule]) -> dict[tuple[str, str], tuple[AlarmRule, ...]]:
    found: dict[tuple[str, str], tuple[AlarmRule, ...]] = {}
    for rule in rules:
        found[rule.place, rule.quantity] = (*found.get((rule.place, rule.quantity), ()), rule)
    return found


def unguarded_places(places: Iterable[Place], said: Said, ruled: Container[str]) -> dict[str, Unguarded]:
    """The places that nothing guards. What the settings call empty is so until the logbook speaks of it."""
    found: dict[str, Unguarded] = {}
    for place in places:
        words = said.places.get(place.id, NOTHING_OF_PLACE)
        by_file = Unguarded(Why.FILE) if place.empty and not words.spoken else None
        without_rule = None if place.id in ruled else Unguarded(Why.NO_RULE)
        why = words.empty or by_file or words.aside or without_rule
        if why is not None:
            found[place.id] = why
    return found


def _as_said(place: Place, unguarded: Mapping[str, Unguarded]) -> Place:
    """The place with what the logbook says of its being empty."""
    why = unguarded.get(place.id)
    empty = why is not None and why.why in (Why.EMPTY, Why.FILE)
    return place if place.empty is empty else place.model_copy(update={"empty": empty})


def _removed(
    settings: Settings, species: Species, said: Said, present: Container[str]
) -> tuple[AlarmRule, ...]:
    if not any(override.remove for override in settings.rules):
        return ()
    kept = [override for override in settings.rules if not override.remove]
    every = rules_for(settings.places, species.alarms, kept, said.stages)
    return tuple(rule for rule in every if rule.alarm_id not in present)


def _longest_gaps_s(nodes: Iterable[Node]) -> dict[str, float]:
    gaps_s: dict[str, float] = {}
    for node in nodes:
        for place in (node.id, node.place, *node.probes.values()):
            if place is not None:
                gap_s = max(SHORTEST_GAP_S, LONGEST_GAP_INTERVALS * node.interval_s)
                gaps_s[place] = max(gap_s, gaps_s.get(place, 0.0))
    return gaps_s


def _watched(node: Node) -> Watched:
    return Watched(node.id, stale_after_s(node), node.battery_low_v)


def stale_after_s(node: Node, promised_s: float | None = None) -> float:
    """Seconds of silence after which a node counts as silent: set, or twice its promise, or 3 intervals."""
    if node.stale_after_s is not None:
        return node.stale_after_s
    return 2 * promised_s if promised_s else max(3 * node.message_s, 300.0)
