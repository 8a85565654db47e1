"""When a site fell silent, when it is heard again, when the archive itself is away. Pure.

The silence of a site is no news while the archive is away, nor right after: sites send then what they kept.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from monitor.records import MS_PER_MINUTE
from monitor.sites.overview import SiteLine

AWAY_MS = 10 * MS_PER_MINUTE
"""So long the archive may be away, such as for a restart, before people are told. Own choice."""
MANY = 5
"""From so many sites on, and more than half of all, silence that begins at once hints at what they share."""


@dataclass(frozen=True, slots=True)
class SilenceState:
    """What was told: silent sites with the moment at which each was heard last, and of the archive.

    `answered_ms` is when the archive answered last; `back_ms` since when it answers without a long gap.
    """

    told: Mapping[str, int] = field(default_factory=dict)
    answered_ms: int | None = None
    back_ms: int | None = None
    away_told: bool = False


@dataclass(frozen=True, slots=True)
class SilenceNews:
    """What is new. `together` says that silence began at so many sites that the cause is shared."""

    silent: tuple[SiteLine, ...] = ()
    heard_again: tuple[tuple[SiteLine, int], ...] = ()
    """sites with the moment at which their silence began"""
    together: bool = False
    away_since_ms: int | None = None
    back_after_ms: int | None = None


def archive_away(
    state: SilenceState, now_ms: int, away_ms: int = AWAY_MS
) -> tuple[SilenceNews, SilenceState]:
    """The archive did not answer."""
    since_ms = min(now_ms, now_ms if state.answered_ms is None else state.answered_ms)
    state = replace(state, answered_ms=since_ms)
    if state.away_told or now_ms - since_ms < away_ms:
        return SilenceNews(), state
    return SilenceNews(away_since_ms=since_ms), replace(state, away_told=True)


def archive_answered(
    state: SilenceState,
    lines: Mapping[str, SiteLine],
    limits_ms: Mapping[str, int],
    now_ms: int,
    away_ms: int = AWAY_MS,
) -> tuple[SilenceNews, SilenceState]:
    """The archive answered: which sites fell silent, which are heard again.

    At the first look ever, sites that are silent already are told at once; after the archive was away, each
    only when it stays silent for its limit from then on.
    """
    back_ms = state.back_ms or 0
    if state.answered_ms is not None and (
        now_ms - state.answered_ms >= away_ms or now_ms < max(back_ms, state.answered_ms)
    ):
        back_ms = now_ms
    silent = tuple(
        line
        for site, line in lines.items()
        if line.silent_ms is not None
        and line.watched
        and site not in state.told
        and now_ms - back_ms > (limits_ms[site] if back_ms else 0)
    )
    again = tuple(
        (lines[site], since_ms)
        for site, since_ms in state.told.items()
        if site in lines and lines[site].silent_ms is None
    )
    gone = {line.site for line, _ in again} | (state.told.keys() - lines.keys())
    told = {site: since_ms for site, since_ms in state.told.items() if site not in gone}
    told |= {line.site: line.figures.heard_ms or now_ms for line in silent}
    watched = sum(line.watched and line.figures.heard_ms is not None for line in lines.values())
    together = len(silent) >= MANY and len(silent) * 2 > watched
    after_ms = now_ms - (state.answered_ms or now_ms) if state.away_told else None
    news = SilenceNews(silent, again, together, back_after_ms=after_ms)
    return news, SilenceState(told, now_ms, back_ms)
