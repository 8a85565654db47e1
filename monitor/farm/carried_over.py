"""What was found when a logbook was carried over in which bins and cohorts stood apart."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from typing import Any

from monitor.errors import Sentence, sentence
from monitor.records import MS_PER_DAY
from monitor.store import Store

CARRIED_OVER = "one_logbook"
"""The fact in the store that it was done, with what was found."""
SHOWN_MS = 7 * MS_PER_DAY
"""For how long Now says what was found. Own choice."""


@dataclass(frozen=True, slots=True)
class Carried:
    """One bin whose filling gave a number of larvae of its own, and what counts now.

    `counted` is what its cohorts count; None where they had no number, so that the filling's counts.
    `entry` is the filling's entry. With `begun` the larvae have become the one cohort that is named.
    """

    place: str
    entry: int
    said: float
    cohorts: tuple[str, ...]
    counted: float | None = None
    begun: bool = False


def keep_carried(store: Store, found: Iterable[Carried], now_ms: int) -> None:
    """Keep what was found, and that it was done."""
    store.meta.put(CARRIED_OVER, json.dumps({"at_ms": now_ms, "found": [asdict(each) for each in found]}))


def carried_over(store: Store, since_ms: int = 0) -> tuple[Sentence, ...]:
    """What was found when the logbook was carried over, unless that was before `since_ms`."""
    text = store.meta.get(CARRIED_OVER)
    kept: dict[str, Any] = {"at_ms": 0, "found": []} if text is None else json.loads(text)
    if kept["at_ms"] < since_ms:
        return ()
    return tuple(_said(Carried(**{**each, "cohorts": tuple(each["cohorts"])})) for each in kept["found"])


def _said(carried: Carried) -> Sentence:
    values: dict[str, object] = {
        "place": carried.place,
        "said": f"{carried.said:.0f}",
        "cohorts": ", ".join(carried.cohorts),
        "counted": "" if carried.counted is None else f"{carried.counted:.0f}",
    }
    if carried.begun:
        return sentence(
            "{place}: its {said} larvae have become the cohort {cohorts}. If they are those of another, or "
            "for a better name: `bin correct {entry} --cohort NAME`",
            **values,
            entry=carried.entry,
        )
    correct = f"cohort count {carried.cohorts[0]} --animals NUMBER"
    if carried.counted is None:
        return sentence(
            "{place}: {cohorts} had no number, so the {said} larvae of the filling count now. To put it "
            "right: `{command}`",
            **values,
            command=correct,
        )
    return sentence(
        "{place}: the filling said {said} larvae and its cohorts ({cohorts}) {counted} animals; {counted} "
        "count now. To put it right: `{command}`",
        **values,
        command=correct,
    )
