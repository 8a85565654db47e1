"""Which rules guard which place: the defaults of the species, then what the settings change.

`override_problems` says what is wrong with the changes that a person wrote.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import groupby, pairwise
from typing import Protocol

from monitor.errors import Problem, Sentence, sentence
from monitor.records import QUANTITIES, AlarmRule, Computed, PlaceKind, Priority, Quantity, Side, Stage


class PlaceFacts(Protocol):
    """What the rules need to know of a place."""

    id: str
    kind: PlaceKind
    title: str
    stage: Stage | None
    finishing: bool
    response_minutes: float


class RuleDefault(Protocol):
    """One default rule of a species; `stages` empty means all of them."""

    place_kinds: tuple[PlaceKind, ...]
    stages: tuple[Stage, ...]
    quantity: str
    side: Side
    priority: Priority
    setpoint: float
    deadband: float
    on_delay_minutes: float
    off_delay_minutes: float
    realarm_after_hours: float
    realarm_step: float
    consequence: str
    response: str
    caution: str
    source: str

    @property
    def mark(self) -> str:
        """How sure the setpoint is: published, cited, common practice or choice."""


class Override(Protocol):
    """One [[rules]] table of the settings; None leaves the default as it is."""

    place: str | None
    place_kind: PlaceKind | None
    quantity: str
    side: Side
    priority: Priority
    remove: bool
    setpoint: float | None
    deadband: float | None
    on_delay_minutes: float | None
    off_delay_minutes: float | None
    realarm_after_hours: float | None
    realarm_step: float | None
    consequence: str | None
    response: str | None
    caution: str | None


USUAL_STAGES: Mapping[PlaceKind, frozenset[Stage]] = {PlaceKind.GROW_OUT_BIN: frozenset({Stage.LARVA})}
"""What lives in a place of which neither the logbook nor the settings say it."""
RuleKey = tuple[str, str, Side, Priority]
SETTINGS_SOURCE = "the settings of this farm"
NEW_RULE_DELAY_S = 600.0
S_PER_HOUR = 3600.0
EARLIER_MINUTES = 30.0
"""An early heat alarm comes so much before the response time of the place: a trend needs time to show, and
the on-delay of 10 minutes passes too (tests/climate/test_heat_early_alarm.py: what warning that gives)."""
NEW_RULE_DEADBANDS: Mapping[str, float] = {
    Quantity.AIR_TEMPERATURE: 1.0,
    Quantity.SUBSTRATE_TEMPERATURE: 1.0,
    Quantity.SURFACE_TEMPERATURE: 1.0,
    Quantity.AIR_HUMIDITY: 3.0,
    Quantity.SUBSTRATE_MOISTURE: 0.03,
}
RANK = (Priority.HIGH, Priority.MEDIUM, Priority.LOW)
LIVING_EXCESS_K = 3.0
"""So much warmer than the air of its room is the substrate of a place in which animals live [K]. Own choice:
above what sun, sensors and wet bran alone bring."""
LIVING_MOISTURE = 0.45
"""From so much water on the substrate of a place is like that of a living bin [ratio]: the low limit for
larvae. Own choice."""
DRYNESS = frozenset({(Quantity.SUBSTRATE_MOISTURE, Side.LOW), (Computed.HOURS_TO_DRY, Side.LOW)})


def alarm_id(place: str, quantity: str, side: Side, priority: Priority) -> str:
    """The name of an alarm, such as "bin-1/light/high/low"; the same over restarts and new setpoints."""
    return f"{place}/{quantity}/{side.value}/{priority.value}"


PossibleStages = Mapping[str, frozenset[Stage]]
"""The stages that animals in a place may be in, by its id; an empty set stands for "not known"."""


def rules_for(
    places: Iterable[PlaceFacts],
    defaults: Iterable[RuleDefault],
    overrides: Iterable[Override],
    stages: PossibleStages | None = None,
) -> tuple[AlarmRule, ...]:
    """The rules of every place, in the order of the places.

    A default with `stages` holds where animals in the place may be in one of them, and where their stage is
    not known. In a grow-out bin of which nobody said anything larvae feed. Of two that differ only in their
    setpoint and delays the stricter one holds. Overrides for a kind of place come first, so that a single
    place has the last word; those that `override_problems` names are skipped.
    """
    places, overrides = tuple(places), sorted(overrides, key=lambda override: override.place is not None)
    rules: dict[RuleKey, AlarmRule] = {}
    for default in defaults:
        for place in places:
            if _applies(default, place, stages or {}):
                key = (place.id, default.quantity, default.side, default.priority)
                rules[key] = _stricter(rules.get(key), _from_default(place, default))
    defaults_of = dict(rules)
    for override in overrides:
        for place in places:
            if meant(override, place):
                _change(rules, place, override)
    _keep_apart(rules, defaults_of)
    order = {place.id: index for index, place in enumerate(places)}
    return tuple(sorted(rules.values(), key=lambda rule: order[rule.place]))


def _applies(default: RuleDefault, place: PlaceFacts, stages: PossibleStages) -> bool:
    if place.kind not in default.place_kinds:
        return False
    possible = possible_stages(place, stages)
    if not possible and place.id not in stages:
        possible = USUAL_STAGES.get(place.kind, possible)
    return not default.stages or not possible or not possible.isdisjoint(default.stages)


def possible_stages(place: PlaceFacts, stages: PossibleStages) -> frozenset[Stage]:
    """The stages that animals in a place may be in: by the logbook, and as the settings say.

    Empty where that is not known, so that the rules of all stages hold.
    """
    said = frozenset[Stage]() if place.stage is None else frozenset({place.stage})
    by_logbook = stages.get(place.id)
    if by_logbook is None:
        return said
    return by_logbook | said if by_logbook else by_logbook


def _stricter(known: AlarmRule | None, rule: AlarmRule) -> AlarmRule:
    """Of two rules of one place, quantity, side and priority the one that alarms first."""
    if known is None:
        return rule
    is_first = known.setpoint <= rule.setpoint if rule.side is Side.HIGH else known.setpoint >= rule.setpoint
    return known if is_first else rule


def _from_default(place: PlaceFacts, default: RuleDefault) -> AlarmRule:
    to_overheating = default.quantity == Computed.MINUTES_TO_OVERHEATING
    return AlarmRule(
        alarm_id=alarm_id(place.id, default.quantity, default.side, default.priority),
        place=place.id,
        quantity=default.quantity,
        side=default.side,
        setpoint=place.response_minutes + EARLIER_MINUTES if to_overheating else default.setpoint,
        deadband=default.deadband,
        on_delay_s=default.on_delay_minutes * 60,
        off_delay_s=default.off_delay_minutes * 60,
        priority=default.priority,
        consequence=default.consequence,
        response=default.response,
        caution=default.caution,
        mark=default.mark,
        source=default.source,
        realarm_after_s=default.realarm_after_hours * S_PER_HOUR,
        realarm_step=default.realarm_step,
    )


def _keep_apart(rules: dict[RuleKey, AlarmRule], defaults: Mapping[RuleKey, AlarmRule]) -> None:
    """Where the settings move a graver limit past a milder default, that one keeps its distance."""
    for key, rule in tuple(rules.items()):
        place, quantity, side, priority = key
        for graver in RANK[: RANK.index(priority)]:
            moved, was = (each.get((place, quantity, side, graver)) for each in (rules, defaults))
            if moved is None or was is None or moved.setpoint == was.setpoint or rule != defaults.get(key):
                continue
            apart = rule.setpoint - was.setpoint
            beyond = rule.setpoint >= moved.setpoint if side is Side.HIGH else rule.setpoint <= moved.setpoint
            if beyond and apart:
                rules[key] = replace(rule, setpoint=moved.setpoint + apart)


def meant(override: Override, place: PlaceFacts) -> bool:
    """Whether an override is about this place; a named place goes before a kind of place."""
    return place.id == override.place if override.place else place.kind == override.place_kind


def _key(place: PlaceFacts, override: Override) -> RuleKey:
    return place.id, override.quantity, override.side, override.priority


def _change(rules: dict[RuleKey, AlarmRule], place: PlaceFacts, override: Override) -> None:
    key = _key(place, override)
    if override.remove:
        rules.pop(key, None)
        return
    rule = rules.get(key) or _new_rule(place, override)
    if rule is not None:
        rules[key] = _changed(rule, override)


def _changed(rule: AlarmRule, override: Override) -> AlarmRule:
    on_minutes, off_minutes = override.on_delay_minutes, override.off_delay_minutes
    again_hours, step = override.realarm_after_hours, override.realarm_step
    moved = override.setpoint is not None
    return replace(
        rule,
        setpoint=rule.setpoint if override.setpoint is None else override.setpoint,
        deadband=rule.deadband if override.deadband is None else override.deadband,
        on_delay_s=rule.on_delay_s if on_minutes is None else on_minutes * 60,
        off_delay_s=rule.off_delay_s if off_minutes is None else off_minutes * 60,
        consequence=override.consequence or rule.consequence,
        response=override.response or rule.response,
        caution=rule.caution if override.caution is None else override.caution,
        mark="choice" if moved else rule.mark,
        source=SETTINGS_SOURCE if moved else rule.source,
        realarm_after_s=rule.realarm_after_s if again_hours is None else again_hours * S_PER_HOUR,
        realarm_step=rule.realarm_step if step is None else step,
    )


def _new_rule(place: PlaceFacts, override: Override) -> AlarmRule | None:
    if override.setpoint is None or not override.response:
        return None
    return AlarmRule(
        alarm_id=alarm_id(place.id, override.quantity, override.side, override.priority),
        place=place.id,
        quantity=override.quantity,
        side=override.side,
        setpoint=override.setpoint,
        deadband=NEW_RULE_DEADBANDS.get(override.quantity, 0.0),
        on_delay_s=NEW_RULE_DELAY_S,
        off_delay_s=NEW_RULE_DELAY_S,
        priority=override.priority,
        consequence=override.consequence or "",
        response=override.response,
        realarm_after_s=(override.realarm_after_hours or 0.0) * S_PER_HOUR,
        realarm_step=override.realarm_step or 0.0,
    )


def suppressed_by_design(
    places: Iterable[PlaceFacts], rules: Iterable[AlarmRule], unguarded: Mapping[str, str]
) -> dict[str, str]:
    """The alarms that are suppressed by design, with the reason.

    A place that is not guarded (`unguarded` gives the reason by its id) suppresses all its alarms, a
    finishing bin those that ask for water.
    """
    facts = {place.id: place for place in places}
    reasons = {rule.alarm_id: _why_suppressed(facts.get(rule.place), rule, unguarded) for rule in rules}
    return {name: reason for name, reason in reasons.items() if reason}


def _why_suppressed(place: PlaceFacts | None, rule: AlarmRule, unguarded: Mapping[str, str]) -> str:
    if place is None:
        return ""
    if place.id in unguarded:
        return unguarded[place.id]
    dryness = (rule.quantity, rule.side) in DRYNESS
    return "the bin is finishing and meant to dry" if place.finishing and dryness else ""


DOUBT_DELAY_S = 1800.0
DOUBT_CONSEQUENCE = "If animals are in it, nobody is warned when they get too hot or too dry."
DOUBT_RESPONSE = "Look into it. If animals are in it, say so: on the page of the place, or `place in-use`."
DOUBTS = (
    (Computed.SUBSTRATE_EXCESS, Priority.MEDIUM, LIVING_EXCESS_K, 1.0),
    (Quantity.SUBSTRATE_MOISTURE, Priority.LOW, LIVING_MOISTURE, 0.03),
)
"""What a place that is said to be empty should not show: quantity, priority, limit, deadband."""


def doubt_rules(empty_places: Iterable[str]) -> tuple[AlarmRule, ...]:
    """The only alarms of places that are said to be empty: that they behave as if animals were in them."""
    return tuple(
        AlarmRule(
            alarm_id=alarm_id(place, quantity, Side.HIGH, priority),
            place=place,
            quantity=quantity,
            side=Side.HIGH,
            setpoint=setpoint,
            deadband=deadband,
            on_delay_s=DOUBT_DELAY_S,
            off_delay_s=DOUBT_DELAY_S,
            priority=priority,
            consequence=DOUBT_CONSEQUENCE,
            response=DOUBT_RESPONSE,
        )
        for place in empty_places
        for quantity, priority, setpoint, deadband in DOUBTS
    )


def override_problems(
    places: Sequence[PlaceFacts],
    defaults: Sequence[RuleDefault],
    overrides: Sequence[Override],
    file: str = "farm.toml",
) -> tuple[Problem, ...]:
    """Every override that matches nothing, and every pair of limits that contradict each other.

    In the order of the file; `file` is its name, for the report.
    """
    present = {rule.alarm_id for rule in rules_for(places, defaults, ())}
    problems = [
        problem
        for index, override in enumerate(overrides)
        for problem in _of_override(override, f"rules[{index}]", file, places, present)
    ]
    return (*problems, *rule_problems(rules_for(places, defaults, overrides), file))


def _of_override(
    override: Override, key: str, file: str, places: Sequence[PlaceFacts], present: set[str]
) -> Iterator[Problem]:
    if (override.place is None) is (override.place_kind is None):
        yield Problem(
            file,
            key,
            sentence("neither or both of place and place_kind"),
            sentence("one of the two"),
            sentence("name one place, or one kind of place"),
        )
        return
    if override.quantity not in QUANTITIES:
        remedy = sentence("write one of the allowed names")
        yield Problem(file, f"{key}.quantity", repr(override.quantity), ", ".join(QUANTITIES), remedy)
    chosen = [place for place in places if meant(override, place)]
    if not chosen:
        yield _no_such_place(override, key, file, places)
        return
    ending = f"/{override.quantity}/{override.side.value}/{override.priority.value}"
    yield from _of_match(override, key, file, any(place.id + ending in present for place in chosen))


def _no_such_place(override: Override, key: str, file: str, places: Sequence[PlaceFacts]) -> Problem:
    if override.place:
        known = ", ".join(place.id for place in places) or sentence("none yet")
        remedy = sentence("name a place that [[places]] lists")
        return Problem(file, f"{key}.place", repr(override.place), known, remedy)
    kinds = ", ".join(sorted({place.kind.value for place in places})) or sentence("none yet")
    remedy = sentence("take a kind that [[places]] uses, or remove the rule")
    return Problem(file, f"{key}.place_kind", repr(str(override.place_kind)), kinds, remedy)


def _of_match(override: Override, key: str, file: str, matches: bool) -> Iterator[Problem]:
    if matches:
        return
    rule = sentence(
        "{quantity}, {side} side, priority {priority}",
        quantity=override.quantity,
        side=override.side.value,
        priority=override.priority.value,
    )
    if override.remove:
        removal = sentence("a removal of {rule}, which is not there", rule=rule)
        yield Problem(file, key, removal, sentence("a rule that exists"), sentence("delete this table"))
        return
    for name, given in (("setpoint", override.setpoint is not None), ("response", bool(override.response))):
        if not given:
            missing = sentence("missing in a new rule ({rule})", rule=rule)
            remedy = sentence("add {key}, or change a rule that exists", key=name)
            yield Problem(file, f"{key}.{name}", missing, sentence("a value"), remedy)


def rule_problems(rules: Iterable[AlarmRule], file: str = "farm.toml") -> tuple[Problem, ...]:
    """Limits that contradict each other: reversed bounds, or a milder alarm beyond a graver one."""
    ordered = sorted(rules, key=lambda rule: (rule.place, rule.quantity))
    groups = groupby(ordered, key=lambda rule: (rule.place, rule.quantity))
    return tuple(problem for _, group in groups for problem in _of_quantity(tuple(group), file))


def _of_quantity(rules: tuple[AlarmRule, ...], file: str) -> Iterator[Problem]:
    high = sorted((r for r in rules if r.side is Side.HIGH), key=lambda r: RANK.index(r.priority))
    low = sorted((r for r in rules if r.side is Side.LOW), key=lambda r: RANK.index(r.priority))
    for grave, mild in pairwise(high):
        if mild.setpoint > grave.setpoint:
            at_most = sentence(
                "at most {limit} (the {priority} limit)",
                limit=f"{grave.setpoint:g}",
                priority=grave.priority.value,
            )
            yield _contradiction(mild, at_most, file)
    for grave, mild in pairwise(low):
        if mild.setpoint < grave.setpoint:
            at_least = sentence(
                "at least {limit} (the {priority} limit)",
                limit=f"{grave.setpoint:g}",
                priority=grave.priority.value,
            )
            yield _contradiction(mild, at_least, file)
    lowest_high = min((rule.setpoint for rule in high), default=None)
    for rule in low:
        if lowest_high is not None and rule.setpoint >= lowest_high:
            below = sentence("below {limit} (the lowest high limit)", limit=f"{lowest_high:g}")
            yield _contradiction(rule, below, file)


def _contradiction(rule: AlarmRule, allowed: Sentence, file: str) -> Problem:
    key = sentence("the setpoint of {alarm}", alarm=rule.alarm_id)
    remedy = sentence("change one of the two limits in [[rules]]")
    return Problem(file, key, f"{rule.setpoint:g}", allowed, remedy)
