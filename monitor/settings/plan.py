"""What the settings mean for service and views: which rule guards which place, which sensor hangs where.

A farm's own numbers in place of those in the species file. Numbers with their own source stay marked.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

from monitor.alarms.rules import rules_for, suppressed_by_design
from monitor.alarms.system import SITE, Watched, system_rules
from monitor.errors import SettingsError, UsageError
from monitor.records import AlarmRule, Computed, PlaceKind, Quantity, SensorKey, Side, Stage
from monitor.settings.consistency import Finding
from monitor.settings.problems import suggestion
from monitor.settings.schema import Node, OwnNumber, Place, Settings
from monitor.settings.species import Species, StageNumbers, load_species, species_parameters

OWN_MARK = "choice"
STAGE_NUMBERS = tuple(
    name for name in StageNumbers.model_fields if name not in ("cutoff", "temperature_of", "logan")
)


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
    found: dict[str, Any] | None = stages.get(entry.stage)
    return found


def _number(entry: OwnNumber) -> dict[str, Any]:
    source = entry.source or "this farm's own number"
    return {"value": entry.value, "mark": OWN_MARK, "source": source}


def own_number_findings(settings: Settings) -> Iterator[Finding]:
    """What is wrong with the farm's own numbers: unknown names, stages, feeds; values out of range."""
    try:
        species = load_species(settings.site.species)
    except SettingsError:
        return  # Reported where the species is named.
    found = [
        finding
        for index, entry in enumerate(settings.own_numbers)
        for finding in _misplaced(species, entry, index)
    ]
    yield from found or (*_twice(settings.own_numbers), *_impossible(species, settings.own_numbers))


def _misplaced(species: Species, entry: OwnNumber, index: int) -> Iterator[Finding]:
    if entry.feed is not None and (
        entry.stage is None or entry.stage not in species.diets.get(entry.feed, {})
    ):
        known = ", ".join(f"{feed} ({', '.join(stages)})" for feed, stages in species.diets.items()) or "none"
        yield _finding(index, "feed", entry.feed, known, "write one of these, or leave it out")
        return
    if entry.stage is not None and entry.stage not in species.stages:
        yield _finding(index, "stage", entry.stage, ", ".join(species.stages), "write one of these")
        return
    known_names: Mapping[str, Any] | tuple[str, ...] = STAGE_NUMBERS if entry.stage else species.numbers
    if entry.number not in known_names:
        near = suggestion(entry.number, tuple(known_names))
        remedy = f'write "{near}"' if near else "write one of these"
        if entry.stage is None and entry.number in STAGE_NUMBERS:
            remedy = "say the stage that it belongs to"
        yield _finding(index, "number", entry.number, ", ".join(known_names), remedy)
        return
    if entry.value < 0.0 and not entry.number.endswith("_c"):
        yield _finding(index, "value", f"{entry.value:g}", "0 or more", "correct the number")
    elif entry.value == 0.0 and entry.number == "thermal_constant_dd":
        yield _finding(index, "value", "0", "above 0", "correct the number")


def _twice(own: Sequence[OwnNumber]) -> Iterator[Finding]:
    first: dict[tuple[object, ...], int] = {}
    for index, entry in enumerate(own):
        earlier = first.setdefault((entry.stage, entry.feed, entry.number), index)
        if earlier != index:
            found = f"{entry.number}, as in own_numbers[{earlier}] already"
            yield Finding(
                ("own_numbers", index, "number"), found, "each number once", "remove one of the two"
            )


def _impossible(species: Species, own: Sequence[OwnNumber]) -> Iterator[Finding]:
    """Numbers that contradict one another, such as an upper threshold below the lower one."""
    changed = with_own_numbers(species, own)
    for feed in (None, *changed.diets):
        try:
            species_parameters(changed, feed)
        except UsageError as error:
            yield Finding(("own_numbers", 0, "value"), str(error), "numbers that fit together", "correct one")
            return


def _finding(index: int, key: str, found: str, allowed: str, remedy: str) -> Finding:
    return Finding(("own_numbers", index, key), f'"{found}"', allowed, remedy)


LONGEST_GAP_INTERVALS = 5.0
SHORTEST_GAP_S = 600.0
COMPUTED = frozenset({*Computed})


@dataclass(frozen=True)
class Plan:
    """Rules by place and quantity, sensors by place, and the facts of places and nodes."""

    settings: Settings
    species: Species
    places: Mapping[str, Place]
    nodes: Mapping[str, Node]
    rules: Mapping[str, AlarmRule]
    suppressed_by_design: Mapping[str, str]
    _by_quantity: Mapping[tuple[str, str], tuple[AlarmRule, ...]]
    _computing: frozenset[str]
    _longest_gaps_s: Mapping[str, float]

    def place_of(self, sensor: SensorKey) -> str | None:
        """The place that a sensor guards, or None while it is not placed."""
        node = self.nodes.get(sensor.node)
        if node is None:
            return None
        if sensor.quantity == Quantity.BATTERY:
            return node.id
        return node.probes.get(sensor.probe, node.place)

    def rules_of(self, place: str, quantity: str) -> tuple[AlarmRule, ...]:
        """The rules that look at one quantity of one place."""
        return self._by_quantity.get((place, quantity), ())

    def longest_gap_s(self, place: str) -> float:
        """Longest step between readings that counts towards a delay [s]: five intervals, at least 10 min."""
        return self._longest_gaps_s.get(place, SHORTEST_GAP_S)

    def nodes_in(self, place: str) -> tuple[Node, ...]:
        """The nodes with a sensor in the place."""
        return tuple(
            node for node in self.nodes.values() if place == node.place or place in node.probes.values()
        )

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

    @property
    def zone(self) -> ZoneInfo:
        """The farm's time zone."""
        return ZoneInfo(self.settings.site.time_zone)

    def stage_of(self, place: Place) -> Stage | None:
        """The stage that lives in a place: as the settings say, else as its kind suggests."""
        return place.stage or STAGE_OF_KIND.get(place.kind)


def build_plan(settings: Settings) -> Plan:
    """Work out the plan; the settings have been checked before, so nothing here is refused."""
    species = with_own_numbers(load_species(settings.site.species), settings.own_numbers)
    rules = (
        *rules_for(settings.places, species.alarms, settings.rules),
        *system_rules(
            (_watched(node) for node in settings.nodes if not node.out_of_service),
            settings.archive.lag_alarm_hours if settings.archive else None,
        ),
    )
    by_quantity = defaultdict(list)
    for rule in rules:
        by_quantity[rule.place, rule.quantity].append(rule)
    computing = {place for place, quantity in by_quantity if quantity in COMPUTED}
    return Plan(
        settings=settings,
        species=species,
        places={place.id: place for place in settings.places},
        nodes={node.id: node for node in settings.nodes},
        rules={rule.alarm_id: rule for rule in rules},
        suppressed_by_design=suppressed_by_design(settings.places, rules),
        _by_quantity={key: tuple(found) for key, found in by_quantity.items()},
        _computing=frozenset(place.id for place in settings.places) & computing,
        _longest_gaps_s=_longest_gaps_s(settings.nodes),
    )


def _longest_gaps_s(nodes: Iterable[Node]) -> dict[str, float]:
    found: dict[str, float] = {}
    for node in nodes:
        for place in (node.id, node.place, *node.probes.values()):
            if place is not None:
                gap_s = max(SHORTEST_GAP_S, LONGEST_GAP_INTERVALS * node.interval_s)
                found[place] = max(gap_s, found.get(place, 0.0))
    return found


def _watched(node: Node) -> Watched:
    return Watched(node.id, stale_after_s(node), node.battery_low_v)


def stale_after_s(node: Node, promised_s: float | None = None) -> float:
    """Seconds of silence after which a node counts as silent: set, or twice its promise, or 3 intervals."""
    if node.stale_after_s is not None:
        return node.stale_after_s
    return 2 * promised_s if promised_s else max(3 * node.interval_s, 300.0)


STAGE_OF_KIND: Mapping[PlaceKind, Stage] = {
    PlaceKind.HATCHING_TRAY: Stage.EGG,
    PlaceKind.GROW_OUT_BIN: Stage.LARVA,
    PlaceKind.PUPATION_BOX: Stage.PUPA,
    PlaceKind.LOVE_CAGE: Stage.ADULT,
}
