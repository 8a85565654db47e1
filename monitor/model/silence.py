"""Which nodes fell silent, and whether one cause (power, network) took most of them at once."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from monitor.records import MS_PER_SECOND

TOGETHER_MS = 180_000
SETTLE_MS = 300_000
FEWEST_NODES = 3
MORE_THAN = 0.5


@dataclass(frozen=True, slots=True)
class Listening:
    """One node in service: when it was last heard, how often it reports, and what counts as silence."""

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


def silence(nodes: Iterable[Listening], now_ms: int, before: Silence | None = None) -> Silence:
    """Find silent nodes and a common cause.

    Parameters
    ----------
    nodes : iterable of Listening
        the nodes in service; leave out those taken out of service or never heard
    now_ms : int
        time of the check [ms]
    before : Silence or None
        the result of the check before

    Returns
    -------
    Silence
        `share` is above 0.5 when there is a common cause

    Notes
    -----
    A node that was last heard at t and reports every i fell silent between t and t + i. A common
    cause is a span of three minutes that meets this time of more than half of all nodes, at least three, of
    those that have missed a report by now. It covers the silent ones among these, and those of them left
    silent for five minutes after it ended: nodes that come back one by one do not raise an alarm each.
    """
    listening = tuple(nodes)
    stale = frozenset(n.node for n in listening if now_ms - n.last_heard_ms > n.limit_s * MS_PER_SECOND)
    together = _together([n for n in listening if _overdue(n, now_ms)])
    common = bool(stale & together) and len(together) >= FEWEST_NODES
    common = common and len(together) > MORE_THAN * len(listening)
    if common:
        return Silence(stale, stale & together, len(together) / len(listening), now_ms)
    if before is None or before.last_common_ms is None or now_ms - before.last_common_ms >= SETTLE_MS:
        return Silence(stale)
    return Silence(stale, stale & before.covered, 0.0, before.last_common_ms)


def _overdue(node: Listening, now_ms: int) -> bool:
    return now_ms - node.last_heard_ms > 1.5 * node.interval_s * MS_PER_SECOND


def _together(nodes: Sequence[Listening]) -> frozenset[str]:
    """The largest set of nodes whose time of falling silent meets one span of three minutes."""
    spans = [(n.node, n.last_heard_ms, n.last_heard_ms + n.interval_s * MS_PER_SECOND) for n in nodes]
    sets = (
        frozenset(node for node, begin, end in spans if begin <= moment + TOGETHER_MS and end >= moment)
        for _, _, moment in spans
    )
    return max(sets, key=len, default=frozenset())
