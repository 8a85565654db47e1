"""Whether a board that was just enrolled has been heard; if not, how far it has come, as far as is known."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

from monitor.boards.broker_log import Came, Sighting
from monitor.records import MS_PER_MINUTE, FlaggedReading, SensorKey
from monitor.settings.plan import Plan
from monitor.store import Store
from monitor.store.meta import AWAY, BROKER_WAY


class Step(StrEnum):
    """How far a board has come, the first first."""

    STOPPED = "stopped"
    """the monitor does not run"""
    AWAY = "away"
    """the monitor has no connection to the broker"""
    UNSEEN = "unseen"
    """nobody saw it log in"""
    WRONG_CARD = "wrong_card"
    """the broker refused somebody: perhaps this board with an older card"""
    NO_TRUST = "no_trust"
    """somebody did not trust the broker's certificate: perhaps this board, by a card of another authority"""
    LOGGED_IN = "logged_in"
    """it logged in, and has sent nothing"""
    REFUSED = "refused"
    """it sends what is refused"""
    HEARD = "heard"


_SHUT = {Came.REFUSED: Step.WRONG_CARD, Came.NO_TRUST: Step.NO_TRUST}


@dataclass(frozen=True, slots=True)
class Mark:
    """What was known of a board when its card was made: only what came since then tells of that card."""

    at_ms: int
    messages: int = 0
    rejected: int = 0


@dataclass(frozen=True, slots=True)
class FirstWord:
    """`values` are its newest readings; `missing` what the settings expect and was not heard, `strange` the
    other way round; `reason` why what it sends is refused, or the address of who was not let in."""

    node: str
    step: Step
    values: tuple[tuple[SensorKey, FlaggedReading], ...] = ()
    missing: tuple[str, ...] = ()
    strange: tuple[str, ...] = ()
    reason: str = ""


def mark_of(store: Store | None, node: str, now_ms: int) -> Mark:
    """What is known now."""
    facts = store.nodes.one(node) if store is not None else None
    return Mark(now_ms) if facts is None else Mark(now_ms, facts.messages, facts.rejected)


def first_word(
    store: Store,
    plan: Plan,
    node: str,
    mark: Mark,
    is_running: bool,
    sighting: Callable[[], Sighting | None] = lambda: None,
) -> FirstWord:
    """How far the board has come since the mark. `is_running`: the monitor shows signs of life.

    `sighting` asks the broker's log, where that can be read.
    """
    facts = store.nodes.one(node)
    if facts is not None and facts.messages > mark.messages:
        return _heard(store, plan, node, mark)
    if facts is not None and facts.rejected > mark.rejected:
        return FirstWord(node, Step.REFUSED, reason=facts.last_reject_reason)
    if not is_running:
        return FirstWord(node, Step.STOPPED)
    if (store.meta.get(BROKER_WAY) or AWAY) == AWAY:
        return FirstWord(node, Step.AWAY)
    seen = sighting()
    if (facts is not None and facts.online) or seen == Sighting(Came.LET_IN):
        return FirstWord(node, Step.LOGGED_IN)
    if seen is not None:
        return FirstWord(node, _SHUT[seen.came], reason=seen.address)
    return FirstWord(node, Step.UNSEEN)


def _heard(store: Store, plan: Plan, node: str, mark: Mark) -> FirstWord:
    latest = store.readings.latest(store.calibrations.table())
    values = tuple(
        (key, reading)
        for key, reading in sorted(latest.items())
        if key.node == node and reading.reading.at_ms >= mark.at_ms - MS_PER_MINUTE
    )
    known = plan.nodes.get(node)
    expected = known.measures if known else ()
    names = [f"{key.probe}/{key.quantity}" if key.probe else key.quantity for key, _ in values]
    return FirstWord(
        node,
        Step.HEARD,
        values,
        missing=tuple(name for name in expected if name not in names),
        strange=tuple(name for name in names if expected and name not in expected),
    )
