"""A rule in plain words: what a place is guarded for."""

from __future__ import annotations

from collections.abc import Mapping

from monitor.records import QUANTITIES, AlarmRule, Computed, Priority, Quantity, Side

REACHES: Mapping[Priority, str] = {
    Priority.HIGH: "wakes you",
    Priority.MEDIUM: "sends a message, outside quiet hours",
    Priority.LOW: "stands in the night report",
}
PHRASES: Mapping[str, str] = {
    Computed.MINUTES_TO_OVERHEATING: "overheating expected within {limit}",
    Computed.HOURS_TO_DRY: "too dry within {limit}",
    Computed.SILENT_MINUTES: "silent for more than {limit}",
    Computed.SILENT_NODE_SHARE: "more than {limit} of the nodes silent at once",
    Computed.STORE_FAULT: "readings cannot be stored",
    Computed.ARCHIVE_LAG_HOURS: "the archive more than {limit} behind",
    Computed.UNSENT_MESSAGE_MINUTES: "a message unsent for more than {limit}",
    Computed.CONDENSATION_MARGIN: "a surface less than {limit} above the dew point",
}
PERCENT = (Quantity.SUBSTRATE_MOISTURE, Computed.SILENT_NODE_SHARE)


def explain(rule: AlarmRule, title: str = "") -> str:
    """Say in one line what a rule guards for and whom it reaches.

    Parameters
    ----------
    rule : AlarmRule
        the rule
    title : str
        name of the place for people; its id where none is given

    Returns
    -------
    str
        such as "Bin 1: substrate temperature above 42 °C for 2 minutes wakes you."
    """
    return f"{title or rule.place}: {condition(rule)}{_delay(rule)} {REACHES[rule.priority]}."


def condition(rule: AlarmRule) -> str:
    """Say what must be true for the alarm.

    Parameters
    ----------
    rule : AlarmRule
        the rule

    Returns
    -------
    str
        such as "substrate temperature above 42 °C"
    """
    limit = shown_limit(rule)
    phrase = PHRASES.get(rule.quantity)
    if phrase is not None and rule.setpoint == 0 and rule.quantity == Computed.CONDENSATION_MARGIN:
        return "a surface below the dew point"
    if phrase is not None:
        return phrase.format(limit=limit)
    side = "above" if rule.side is Side.HIGH else "below"
    return f"{QUANTITIES[rule.quantity].title} {side} {limit}"


def shown_limit(rule: AlarmRule) -> str:
    """Give the setpoint with its unit as a person reads it.

    Parameters
    ----------
    rule : AlarmRule
        the rule

    Returns
    -------
    str
        such as "42 °C", "45 %" or "30 minutes"
    """
    if rule.quantity in PERCENT:
        return f"{rule.setpoint * 100:g} %"
    unit = QUANTITIES[rule.quantity].shown_unit
    long = {"min": "minutes", "h": "hours"}.get(unit, unit)
    return f"{rule.setpoint:g} {long}".rstrip()


def _delay(rule: AlarmRule) -> str:
    minutes = rule.on_delay_s / 60
    if minutes == 0 or rule.quantity in PHRASES:
        return ""
    return " for 1 minute" if minutes == 1 else f" for {minutes:g} minutes"
