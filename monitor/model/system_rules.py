"""Alarms of the monitor about itself, through the same machine as those of the places."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from monitor.model.rules import alarm_id
from monitor.records import AlarmRule, Computed, Priority, Quantity, Side

SITE = "site"
MAINS = "Do not open a board or a plug that is wet. Mains supply is work for a licensed electrician."


@dataclass(frozen=True, slots=True)
class Watched:
    """One node in service: what counts as its silence [s], and the voltage of an empty battery [V]."""

    node: str
    silence_limit_s: float
    battery_low_v: float | None = None


def system_rules(nodes: Iterable[Watched], archive_lag_hours: float | None = None) -> tuple[AlarmRule, ...]:
    """Give the rules for nodes, store, archive and messages.

    Parameters
    ----------
    nodes : iterable of Watched
        the nodes in service; the `place` of their rules is the node
    archive_lag_hours : float or None
        lag that is an alarm [h]; None where no archive is set up

    Returns
    -------
    tuple of AlarmRule
        those of the site first (`place` is "site")
    """
    archive = () if archive_lag_hours is None else (_archive(archive_lag_hours),)
    of_nodes = [rule for node in nodes for rule in _of_node(node)]
    return (_common_cause(), _store(), _unsent(), *archive, *of_nodes)


def _rule(
    place: str,
    quantity: str,
    priority: Priority,
    limits: tuple[float, float, float, float],
    texts: tuple[str, str, str],
    side: Side = Side.HIGH,
) -> AlarmRule:
    """`limits`: setpoint, deadband, on-delay [s], off-delay [s]; `texts`: consequence, response, caution."""
    return AlarmRule(
        alarm_id(place, quantity, side, priority), place, quantity, side, *limits, priority, *texts, "choice"
    )


def _common_cause() -> AlarmRule:
    texts = (
        "Power or network has probably failed: most nodes fell silent within three minutes. "
        "Fans and heaters may be off too, and nothing is watched until it is back.",
        "Go and look whether the rooms have power. If they do, look at the network box; then check the bins "
        "and trays by hand.",
        MAINS,
    )
    return _rule(SITE, Computed.SILENT_NODE_SHARE, Priority.HIGH, (0.5, 0.2, 0.0, 120.0), texts)


def _store() -> AlarmRule:
    texts = (
        "Readings are not being kept. Alarms go on from memory, but a restart would forget them.",
        "Run `rearing-monitor check` on the computer: it says whether the disk is full or the file damaged, "
        "and how to mend it.",
        "",
    )
    return _rule(SITE, Computed.STORE_FAULT, Priority.HIGH, (0.5, 0.0, 0.0, 300.0), texts)


def _unsent() -> AlarmRule:
    texts = (
        "Messages do not reach anybody. The sounder and this computer still tell.",
        "Look whether the internet works. If it does, run `rearing-monitor send-test` and read what it says.",
        "",
    )
    return _rule(SITE, Computed.UNSENT_MESSAGE_MINUTES, Priority.MEDIUM, (30.0, 10.0, 0.0, 60.0), texts)


def _archive(lag_hours: float) -> AlarmRule:
    texts = (
        "The archive does not take readings. Nothing is lost: they wait on this computer.",
        "See whether the archive server runs and the network reaches it; `rearing-monitor nodes` shows "
        "its last answer.",
        "",
    )
    limits = (lag_hours, lag_hours / 2, 600.0, 600.0)
    return _rule(SITE, Computed.ARCHIVE_LAG_HOURS, Priority.LOW, limits, texts)


def _of_node(node: Watched) -> list[AlarmRule]:
    silent_min = node.silence_limit_s / 60
    texts = (
        "Nobody is watching what this node measures.",
        "Look at its supply, its lead and its light. If it lives, look at the network; until it is back, "
        "check the place by hand.",
        MAINS,
    )
    limits = (silent_min, silent_min / 4, 180.0, 300.0)
    rules = [
        _rule(node.node, Computed.SILENT_MINUTES, Priority.MEDIUM, limits, texts),
        _dead_sensor(node.node, limits),
    ]
    if node.battery_low_v is not None:
        rules.append(_battery(node.node, node.battery_low_v))
    return rules


def _dead_sensor(node: str, limits: tuple[float, float, float, float]) -> AlarmRule:
    texts = (
        "Nobody is watching what this sensor measures; the rest of the board still sends.",
        "Look at the probe and its cable: pulled out, wet, bitten or loose. Until it is mended, check the "
        "place by hand.",
        MAINS,
    )
    return _rule(node, Computed.DEAD_SENSOR_MINUTES, Priority.MEDIUM, limits, texts)


def _battery(node: str, low_v: float) -> AlarmRule:
    texts = (
        "The node will fall silent within days.",
        "Change or charge its battery on the next round.",
        "Use a cell of the type that the holder names, and do not charge one that is swollen or warm.",
    )
    limits = (low_v, 0.05, 600.0, 3600.0)
    return _rule(node, Quantity.BATTERY, Priority.MEDIUM, limits, texts, Side.LOW)
