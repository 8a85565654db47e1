"""One alarm in a few words: what is beyond which limit, or what is missing for how long. Pure."""

from __future__ import annotations

from collections.abc import Mapping

from monitor.notify.phrases import length_of_time, limit, quantity_title
from monitor.notify.wording import breach
from monitor.records import MS_PER_MINUTE, AlarmRule, Computed, Side

_LASTING: Mapping[str, str] = {
    Computed.SILENT_MINUTES: "no readings",
    Computed.DEAD_SENSOR_MINUTES: "no good reading",
    Computed.UNSENT_MESSAGE_MINUTES: "messages wait unsent",
}
_WHATEVER_VALUE: Mapping[str, str] = {
    Computed.MINUTES_TO_OVERHEATING: "heading for overheating",
    Computed.HOURS_TO_DRY: "drying out",
    Computed.SILENT_NODE_SHARE: "most boards are silent, power or network has failed",
    Computed.STORE_FAULT: "readings cannot be stored",
    Computed.ARCHIVE_LAG_HOURS: "the archive is behind",
}
_WITH_LIMIT = frozenset({Computed.MINUTES_TO_OVERHEATING, Computed.HOURS_TO_DRY, Computed.ARCHIVE_LAG_HOURS})


def condition(rule: AlarmRule, value: float | None) -> str:
    """What is wrong, with the value where it is known; never a value that is out of date."""
    if rule.quantity in _LASTING:
        lasting = "" if value is None else f" for {length_of_time(round(value * MS_PER_MINUTE))}"
        return f"{_LASTING[rule.quantity]}{lasting}"
    if value is not None:
        return breach(rule, value)
    if rule.quantity in _WHATEVER_VALUE:
        return _WHATEVER_VALUE[rule.quantity]
    return f"{quantity_title(rule.quantity)} {bound(rule)}"


def tells_how_long(rule: AlarmRule, value: float | None) -> bool:
    """Whether `condition` says already since when."""
    return rule.quantity in _LASTING and value is not None


def subject(rule: AlarmRule) -> str:
    """What the alarm looks at, and its limit."""
    if rule.quantity in _WHATEVER_VALUE and rule.quantity not in _WITH_LIMIT:
        return _WHATEVER_VALUE[rule.quantity]
    return f"{quantity_title(rule.quantity)} {bound(rule)}"


def bound(rule: AlarmRule) -> str:
    """ "above 42 °C"."""
    side = "above" if rule.side is Side.HIGH else "below"
    return f"{side} {limit(rule.quantity, rule.setpoint)}"
