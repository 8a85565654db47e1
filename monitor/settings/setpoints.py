"""The alarms that result from species and settings, and whether what a person changed there can be meant."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from monitor.errors import Problem
from monitor.model.rule_checks import override_problems
from monitor.model.rules import rules_for
from monitor.records import QUANTITIES, AlarmRule, Computed, Quantity
from monitor.settings.consistency import Finding
from monitor.settings.describing import Location
from monitor.settings.problems import Source, suggestion
from monitor.settings.schema import RuleOverride, Settings
from monitor.settings.species import available_species, load_species


@dataclass(frozen=True, slots=True)
class _Plausible:
    """Outside these bounds a setpoint is a slip of the unit, not a wish."""

    low: float
    high: float


_TEMPERATURE = _Plausible(-30.0, 70.0)
_BOUNDS: Mapping[str, _Plausible] = {
    Quantity.AIR_TEMPERATURE: _TEMPERATURE,
    Quantity.SUBSTRATE_TEMPERATURE: _TEMPERATURE,
    Quantity.SURFACE_TEMPERATURE: _TEMPERATURE,
    Computed.DEW_POINT: _TEMPERATURE,
    Quantity.AIR_HUMIDITY: _Plausible(1.0, 100.0),
    Quantity.SUBSTRATE_MOISTURE: _Plausible(0.0, 1.0),
    Quantity.LIGHT: _Plausible(0.0, 200_000.0),
    Quantity.BATTERY: _Plausible(0.0, 60.0),
    Quantity.CARBON_DIOXIDE: _Plausible(0.0, 100_000.0),
    Quantity.AMMONIA: _Plausible(0.0, 1_000.0),
    Computed.VAPOUR_PRESSURE_DEFICIT: _Plausible(0.0, 20_000.0),
    Computed.CONDENSATION_MARGIN: _Plausible(-20.0, 40.0),
}
_HIGHEST_FAHRENHEIT = 150.0


def alarm_rules(settings: Settings) -> tuple[AlarmRule, ...]:
    """Every alarm of every place: the defaults of the species with the changes of this farm."""
    return rules_for(settings.places, load_species(settings.site.species).alarms, settings.rules)


def rule_problems(settings: Settings, source: Source) -> Iterator[Problem]:
    """What cannot be meant in [[rules]]: unknown names, slips of the unit, contradicting limits."""
    for finding in _implausible(settings):
        yield source.problem(finding.location, finding.found, finding.allowed, finding.remedy)
    species = settings.site.species
    defaults = load_species(species).alarms if species in available_species() else ()
    for problem in override_problems(settings.places, defaults, settings.rules, source.file):
        yield _placed(problem, source)


def _implausible(settings: Settings) -> Iterator[Finding]:
    for index, rule in enumerate(settings.rules):
        bounds = _BOUNDS.get(rule.quantity)
        if bounds is None or rule.setpoint is None or bounds.low <= rule.setpoint <= bounds.high:
            continue
        unit = QUANTITIES[rule.quantity].shown_unit
        allowed = f"{bounds.low:g} to {bounds.high:g} {unit}".rstrip()
        yield Finding(("rules", index, "setpoint"), f"{rule.setpoint:g}", allowed, _unit_remedy(rule))


def _unit_remedy(rule: RuleOverride) -> str:
    setpoint = rule.setpoint or 0.0
    if _BOUNDS[rule.quantity] is _TEMPERATURE and _TEMPERATURE.high < setpoint <= _HIGHEST_FAHRENHEIT:
        return f"if that is in °F, write {(setpoint - 32) / 1.8:.1f}, which is the same in °C"
    if rule.quantity == Quantity.SUBSTRATE_MOISTURE and 1.0 < setpoint <= 100.0:
        return f"moisture is a share: for {setpoint:g} % write {setpoint / 100:g}"
    if rule.quantity == Quantity.AIR_HUMIDITY and 0.0 < setpoint < 1.0:
        return f"humidity is in percent: write {setpoint * 100:g}"
    return "correct the value; its unit is the one shown"


_RULE_KEY = re.compile(r"rules\[(\d+)\](?:\.(\w+))?")


def _placed(problem: Problem, source: Source) -> Problem:
    """Add the line of the file, and the nearest spelling where a list of names is allowed."""
    near = suggestion(problem.found.strip("'"), problem.allowed.split(", "))
    remedy = f'write "{near}", if that is what you mean' if near else problem.remedy
    key = _RULE_KEY.fullmatch(problem.key)
    location: Location = ("rules", int(key[1]), *([key[2]] if key[2] else [])) if key else ("rules",)
    return replace(problem, remedy=remedy, line=source.line_of(location) if key else None)
