"""Which rules guard which place: the defaults of the species, then what the settings change."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

from monitor.model.rule_inputs import Override, PlaceFacts, RuleDefault
from monitor.records import AlarmRule, Computed, Priority, Quantity, Side

RuleKey = tuple[str, str, Side, Priority]
SETTINGS_SOURCE = "the settings of this farm"
NEW_RULE_DELAY_S = 600.0
EARLIER_MINUTES = 30.0
"""An early heat alarm comes so much before the response time of the place: the trend needs half its window of
rise, and the on-delay passes too (tests/model/test_heat_early_alarm.py: median warning 61 to 75 min)."""
NEW_RULE_DEADBANDS: Mapping[str, float] = {
    Quantity.AIR_TEMPERATURE: 1.0,
    Quantity.SUBSTRATE_TEMPERATURE: 1.0,
    Quantity.SURFACE_TEMPERATURE: 1.0,
    Quantity.AIR_HUMIDITY: 3.0,
    Quantity.SUBSTRATE_MOISTURE: 0.03,
}
DRYNESS = frozenset({(Quantity.SUBSTRATE_MOISTURE, Side.LOW), (Computed.HOURS_TO_DRY, Side.LOW)})


def alarm_id(place: str, quantity: str, side: Side, priority: Priority) -> str:
    """Name an alarm so that it stays the same over restarts and changes of setpoint.

    Parameters
    ----------
    place, quantity : str
        where, and what
    side, priority : Side, Priority
        which side is dangerous, and how much it matters

    Returns
    -------
    str
        such as "bin-1/substrate_temperature/high/high"
    """
    return f"{place}/{quantity}/{side.value}/{priority.value}"


def rules_for(
    places: Iterable[PlaceFacts], defaults: Iterable[RuleDefault], overrides: Iterable[Override]
) -> tuple[AlarmRule, ...]:
    """Give every place its rules.

    Parameters
    ----------
    places : iterable of PlaceFacts
        the places of the farm
    defaults : iterable of RuleDefault
        rules of the species; one with `stages` holds for these, and where a place gives no stage
    overrides : iterable of Override
        for a kind of place first, then for single places, so that the single place has the last word

    Returns
    -------
    tuple of AlarmRule
        in the order of the places; overrides that `override_problems` names are skipped
    """
    places, overrides = tuple(places), sorted(overrides, key=lambda override: override.place is not None)
    rules = {
        (place.id, default.quantity, default.side, default.priority): _from_default(place, default)
        for default in defaults
        for place in places
        if _applies(default, place)
    }
    for override in overrides:
        for place in places:
            if meant(override, place):
                _change(rules, place, override)
    order = {place.id: index for index, place in enumerate(places)}
    return tuple(sorted(rules.values(), key=lambda rule: order[rule.place]))


def _applies(default: RuleDefault, place: PlaceFacts) -> bool:
    of_stage = not default.stages or place.stage is None or place.stage in default.stages
    return place.kind in default.place_kinds and of_stage


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
    )


def meant(override: Override, place: PlaceFacts) -> bool:
    """Whether an override is about this place.

    Parameters
    ----------
    override, place : Override, PlaceFacts
        one table of the settings, one place

    Returns
    -------
    bool
        a named place goes before a kind of place
    """
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
    )


def suppressed_by_design(places: Iterable[PlaceFacts], rules: Iterable[AlarmRule]) -> dict[str, str]:
    """Name the alarms that are suppressed by design, and why.

    Parameters
    ----------
    places : iterable of PlaceFacts
        an empty place suppresses all its alarms, a finishing bin those that ask for water
    rules : iterable of AlarmRule
        the rules in force

    Returns
    -------
    dict
        alarm id to the reason in plain words
    """
    facts = {place.id: place for place in places}
    reasons = {rule.alarm_id: _why_suppressed(facts.get(rule.place), rule) for rule in rules}
    return {name: reason for name, reason in reasons.items() if reason}


def _why_suppressed(place: PlaceFacts | None, rule: AlarmRule) -> str:
    if place is None:
        return ""
    if place.empty:
        return "the place is empty"
    dryness = (rule.quantity, rule.side) in DRYNESS
    return "the bin is finishing and meant to dry" if place.finishing and dryness else ""
