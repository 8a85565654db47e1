"""Alarms about boards and the monitor itself: their rules, and which boards fell silent by a common cause."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from monitor.alarms.rules import alarm_id
from monitor.records import MS_PER_SECOND, AlarmRule, Computed, Priority, Quantity, Side

SITE = "site"
MAINS = "Do not open a board or a plug that is wet. Mains supply is work for a licensed electrician."
TOGETHER_MS = 180_000
SETTLE_MS = 300_000
OLDEST_COPY_H = 48.0
"""Own choice: two daily copies missed are an alarm, one is not."""
FEWEST_NODES = 3
COVERED = "one alarm about power or network stands for it"
NOT_HEARD_YET = "it was never heard; one alarm names all such boards"
STANDS_FOR_MANY: Mapping[str, Computed] = {
    COVERED: Computed.SILENT_NODE_SHARE,
    NOT_HEARD_YET: Computed.UNHEARD_NODES,
}
"""Why the alarm of a board is held back, and the one alarm that stands for it and for others."""
MORE_THAN = 0.5
OVERDUE_INTERVALS = 1.5


@dataclass(frozen=True, slots=True)
class Listening:
    """One node in service that was ever heard: when last, how often it reports, what counts as silence."""

    node: str
    last_heard_ms: int
    interval_s: float
    limit_s: float


@dataclass(frozen=True, slots=True)
class Silence:
    """Silent nodes. `share` is the share of the site that fell silent together, 0 without a common cause.

    `covered` are the nodes whose own alarm is to be suppressed by design: one alarm stands for them.
    `last_common_ms` carries on from one call to the next.
    """

    stale: frozenset[str] = frozenset()
    covered: frozenset[str] = frozenset()
    share: float = 0.0
    last_common_ms: int | None = None

    @property
    def common_cause(self) -> bool:
        """Whether power or network has probably failed."""
        return self.share > 0


def silence(
    nodes: Iterable[Listening], now_ms: int, before: Silence | None = None, *, fine: int = 0
) -> Silence:
    """The silent nodes, and whether a common cause took them (`share` above 0.5).

    `nodes` are those in service that were ever heard: one that was never hung up shares no cause with
    others. `before` is the result of the last check. `fine` counts those that missed no report by now and
    were left out of `nodes`.
    A node that was last heard at t and reports every i fell silent between t and t + i. A common
    cause is a span of three minutes that meets this time of more than half of all nodes, at least three, of
    those that have missed a report by now. It covers the silent ones among these, and those of them left
    silent for five minutes after it ended: nodes that come back one by one do not raise an alarm each.
    """
    listening = tuple(nodes)
    stale = frozenset(n.node for n in listening if now_ms - n.last_heard_ms > n.limit_s * MS_PER_SECOND)
    together = _together([n for n in listening if _overdue(n, now_ms)])
    common = bool(stale & together) and len(together) >= FEWEST_NODES
    count = len(listening) + fine
    common = common and len(together) > MORE_THAN * count
    if common:
        return Silence(stale, stale & together, len(together) / count, now_ms)
    if before is None or before.last_common_ms is None or now_ms - before.last_common_ms >= SETTLE_MS:
        return Silence(stale)
    return Silence(stale, stale & before.covered, 0.0, before.last_common_ms)


def _overdue(node: Listening, now_ms: int) -> bool:
    return now_ms - node.last_heard_ms > OVERDUE_INTERVALS * node.interval_s * MS_PER_SECOND


def _together(nodes: Sequence[Listening]) -> frozenset[str]:
    """The largest set of nodes whose time of falling silent meets one span of three minutes.

    Such a span may be taken to begin where some node's time ends. Of equal sets the first one counts.
    """
    spans = [(n.last_heard_ms, n.last_heard_ms + n.interval_s * MS_PER_SECOND) for n in nodes]
    begins, ends = sorted(begin for begin, _ in spans), sorted(end for _, end in spans)

    def met_from(moment: float) -> int:
        return bisect_right(begins, moment + TOGETHER_MS) - bisect_left(ends, moment)

    best = max((end for _, end in spans), key=met_from, default=0.0)
    return frozenset(
        node.node
        for node, (begin, end) in zip(nodes, spans, strict=True)
        if begin <= best + TOGETHER_MS and end >= best
    )


@dataclass(frozen=True, slots=True)
class Watched:
    """One node in service: what counts as its silence [s], and the voltage of an empty battery [V]."""

    node: str
    silence_limit_s: float
    battery_low_v: float | None = None


def system_rules(
    nodes: Iterable[Watched],
    archive_lag_hours: float | None = None,
    *,
    copies_wanted: bool = False,
    several_places: bool = False,
) -> tuple[AlarmRule, ...]:
    """The rules for the site (`place` is "site") and for each node in service (`place` is the node).

    `archive_lag_hours` is the lag that is an alarm [h]; None where no archive is set up. `copies_wanted`
    where the settings name a place for copies of the site, `several_places` where they name more than one.
    """
    archive = () if archive_lag_hours is None else (_archive(archive_lag_hours),)
    of_nodes = [rule for node in nodes for rule in _of_node(node)]
    copies = (*((_copies(),) if copies_wanted else ()), *((_copies_behind(),) if several_places else ()))
    return (_common_cause(), _unheard(), _store(), _broker_way(), _unsent(), *copies, *archive, *of_nodes)


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


def _unheard() -> AlarmRule:
    texts = (
        "Nothing guards what these boards are to measure. They have never been heard.",
        "Hang them up and give them power, or take out of the settings what is not wanted. The page Boards "
        "shows each. Until then look at their places by hand.",
        MAINS,
    )
    return _rule(SITE, Computed.UNHEARD_NODES, Priority.MEDIUM, (0.5, 0.0, 180.0, 0.0), texts)


def _store() -> AlarmRule:
    texts = (
        "Readings are not being kept. Alarms go on from memory, but a restart would forget them.",
        "Run `rearing-monitor check` on the computer: it says whether the disk is full or the file damaged, "
        "and how to mend it.",
        "",
    )
    return _rule(SITE, Computed.STORE_FAULT, Priority.HIGH, (0.5, 0.0, 0.0, 300.0), texts)


def _broker_way() -> AlarmRule:
    texts = (
        "No reading reaches this computer, so no place is guarded. Boards do not notice: the broker confirms "
        "what they send, and drops it.",
        "Run `rearing-monitor check --broker` on the computer. Then compare the site id, topic_root and "
        "username in farm.toml with the access rules of the broker.",
        "",
    )
    return _rule(SITE, Computed.BROKER_WAY_FAULT, Priority.HIGH, (0.5, 0.0, 0.0, 0.0), texts)


def _unsent() -> AlarmRule:
    texts = (
        "Messages do not reach anybody. The sounder and this computer still tell.",
        "Look whether the internet works. If it does, run `rearing-monitor send-test` and read what it says.",
        "",
    )
    return _rule(SITE, Computed.UNSENT_MESSAGE_MINUTES, Priority.MEDIUM, (30.0, 10.0, 0.0, 60.0), texts)


def _copies() -> AlarmRule:
    texts = (
        "Nothing that was written since the last good copy would be left if this computer or its memory card "
        "failed.",
        "See whether the stick or disk for the copies is plugged in and has room. Then run "
        "`rearing-monitor backup` on the computer: it says what is wrong.",
        "",
    )
    limits = (OLDEST_COPY_H, OLDEST_COPY_H / 2, 3600.0, 0.0)
    return _rule(SITE, Computed.COPY_AGE_HOURS, Priority.MEDIUM, limits, texts)


def _copies_behind() -> AlarmRule:
    texts = (
        "One place for copies has had none for days. If the others were lost together with this computer, "
        "nothing that was written since would be left.",
        "Run `rearing-monitor backup` on the computer: it says which place it is and what is wrong there.",
        "",
    )
    limits = (OLDEST_COPY_H, OLDEST_COPY_H / 2, 3600.0, 0.0)
    return _rule(SITE, Computed.COPY_BEHIND_HOURS, Priority.LOW, limits, texts)


def _archive(lag_hours: float) -> AlarmRule:
    texts = (
        "The archive does not have all readings. Nothing is lost: they are kept on this computer.",
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
