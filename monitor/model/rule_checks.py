"""What is wrong with the rules that a person wrote: every problem, where it stands, how to mend it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby, pairwise

from monitor.errors import Problem
from monitor.model.rule_inputs import Override, PlaceFacts, RuleDefault
from monitor.model.rules import meant, rules_for
from monitor.records import QUANTITIES, AlarmRule, Priority, Side

RANK = (Priority.HIGH, Priority.MEDIUM, Priority.LOW)


def override_problems(
    places: Sequence[PlaceFacts],
    defaults: Sequence[RuleDefault],
    overrides: Sequence[Override],
    file: str = "farm.toml",
) -> tuple[Problem, ...]:
    """Name every override that matches nothing, and every pair of limits that contradict each other.

    Parameters
    ----------
    places, defaults, overrides : sequences
        as for `rules.rules_for`
    file : str
        name of the settings file, for the report

    Returns
    -------
    tuple of Problem
        in the order of the file; empty when all is well
    """
    present = {rule.alarm_id for rule in rules_for(places, defaults, ())}
    found = [
        problem
        for index, override in enumerate(overrides)
        for problem in _of_override(override, f"rules[{index}]", file, places, present)
    ]
    return (*found, *rule_problems(rules_for(places, defaults, overrides), file))


def _of_override(
    override: Override, key: str, file: str, places: Sequence[PlaceFacts], present: set[str]
) -> Iterator[Problem]:
    if (override.place is None) is (override.place_kind is None):
        found = "neither or both of place and place_kind"
        yield Problem(file, key, found, "one of the two", "name one place, or one kind of place")
        return
    if override.quantity not in QUANTITIES:
        remedy = "write one of the allowed names"
        yield Problem(file, f"{key}.quantity", repr(override.quantity), ", ".join(QUANTITIES), remedy)
    chosen = [place for place in places if meant(override, place)]
    if not chosen:
        yield _no_such_place(override, key, file, places)
        return
    ending = f"/{override.quantity}/{override.side.value}/{override.priority.value}"
    yield from _of_match(override, key, file, any(place.id + ending in present for place in chosen))


def _no_such_place(override: Override, key: str, file: str, places: Sequence[PlaceFacts]) -> Problem:
    if override.place:
        known = ", ".join(place.id for place in places) or "none yet"
        return Problem(
            file, f"{key}.place", repr(override.place), known, "name a place that [[places]] lists"
        )
    kinds = ", ".join(sorted({place.kind.value for place in places})) or "none yet"
    found = repr(str(override.place_kind))
    return Problem(
        file, f"{key}.place_kind", found, kinds, "take a kind that [[places]] uses, or remove the rule"
    )


def _of_match(override: Override, key: str, file: str, matches: bool) -> Iterator[Problem]:
    if matches:
        return
    what = f"{override.quantity}, {override.side.value} side, priority {override.priority.value}"
    if override.remove:
        allowed = "a rule that exists"
        yield Problem(file, key, f"a removal of {what}, which is not there", allowed, "delete this table")
        return
    for name, given in (("setpoint", override.setpoint is not None), ("response", bool(override.response))):
        if not given:
            found = f"missing in a new rule ({what})"
            yield Problem(
                file, f"{key}.{name}", found, "a value", f"add {name}, or change a rule that exists"
            )


def rule_problems(rules: Iterable[AlarmRule], file: str = "farm.toml") -> tuple[Problem, ...]:
    """Name limits that contradict each other: reversed bounds, or a milder alarm beyond a graver one.

    Parameters
    ----------
    rules : iterable of AlarmRule
        the rules in force
    file : str
        name of the settings file, for the report

    Returns
    -------
    tuple of Problem
        empty when all is well
    """
    ordered = sorted(rules, key=lambda rule: (rule.place, rule.quantity))
    groups = groupby(ordered, key=lambda rule: (rule.place, rule.quantity))
    return tuple(problem for _, group in groups for problem in _of_quantity(tuple(group), file))


def _of_quantity(rules: tuple[AlarmRule, ...], file: str) -> Iterator[Problem]:
    high = sorted((r for r in rules if r.side is Side.HIGH), key=lambda r: RANK.index(r.priority))
    low = sorted((r for r in rules if r.side is Side.LOW), key=lambda r: RANK.index(r.priority))
    for grave, mild in pairwise(high):
        if mild.setpoint > grave.setpoint:
            yield _contradiction(mild, f"at most {grave.setpoint:g} (the {grave.priority.value} limit)", file)
    for grave, mild in pairwise(low):
        if mild.setpoint < grave.setpoint:
            yield _contradiction(
                mild, f"at least {grave.setpoint:g} (the {grave.priority.value} limit)", file
            )
    lowest_high = min((rule.setpoint for rule in high), default=None)
    for rule in low:
        if lowest_high is not None and rule.setpoint >= lowest_high:
            yield _contradiction(rule, f"below {lowest_high:g} (the lowest high limit)", file)


def _contradiction(rule: AlarmRule, allowed: str, file: str) -> Problem:
    key = f"the setpoint of {rule.alarm_id}"
    return Problem(file, key, f"{rule.setpoint:g}", allowed, "change one of the two limits in [[rules]]")
