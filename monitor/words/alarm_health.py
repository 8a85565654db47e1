"""How good the alarms are, in words: the measures of ISA-18.2, each with advice where it is bad."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from monitor.records import MS_PER_HOUR
from monitor.words.alarms import named
from monitor.words.localizer import Localizer, entry

if TYPE_CHECKING:
    from monitor.alarms.health import AlarmHealth
    from monitor.settings.plan import Plan


@dataclass(frozen=True, slots=True)
class HealthLine:
    """One measure: its name, its figure, and what to do about it ("" where it is good)."""

    name: str
    figure: str
    advice: str = ""


def health_table(health: AlarmHealth, plan: Plan, words: Localizer) -> list[HealthLine]:
    """The measures in words, each with advice where it is bad."""
    flood = words.t("health.share", share=words.number(health.flood_percent, 1))
    return [
        HealthLine(words.t("health.told"), words.number(health.annunciations)),
        HealthLine(words.t("health.per_day"), words.number(health.per_day, 1)),
        HealthLine(words.t("health.peak"), words.number(health.peak_10_min)),
        HealthLine(
            words.t("health.flood"), flood, words.t("health.flood_advice") if health.flood_minutes else ""
        ),
        *_shares(health, words),
        *_offenders(health, plan, words),
    ]


def _shares(health: AlarmHealth, words: Localizer) -> Iterator[HealthLine]:
    for priority, share in health.priority_shares.items():
        name = words.t("health.of_priority", word=words.t(f"state.{priority}"))
        yield HealthLine(name, words.t("health.share", share=words.number(100 * share)))


def _offenders(health: AlarmHealth, plan: Plan, words: Localizer) -> Iterator[HealthLine]:
    for alarm_id in health.chattering:
        advice = words.t("health.chatters_advice")
        yield HealthLine(_name(alarm_id, plan, words), words.t("health.chatters"), advice)
    for alarm_id, hours in health.stale:
        stood = words.t("health.stood", length=words.length(hours * MS_PER_HOUR))
        yield HealthLine(_name(alarm_id, plan, words), stood, words.t("health.stood_advice"))
    if health.stale_on_worst_day > 1:
        yield HealthLine(words.t("health.worst_day"), words.number(health.stale_on_worst_day))
    if health.most_frequent:
        share = words.t("health.share", share=words.number(100 * health.top_10_share))
        yield HealthLine(words.t("health.top_share"), share)
    for alarm_id, count in health.most_frequent:
        yield HealthLine(_name(alarm_id, plan, words), words.n("health.times", count))


def _name(alarm_id: str, plan: Plan, words: Localizer) -> str:
    rule = plan.rules.get(alarm_id)
    if rule is not None:
        return named(rule, plan, words)
    place, _, rest = alarm_id.partition("/")
    what = words.headed(plan.title(place), words.quantity_name(rest.partition("/")[0]))
    return words.t("list.gone", name=what)


def health_lines(health: AlarmHealth, plan: Plan, words: Localizer, width: int = 80) -> list[str]:
    """The measures as lines of text."""
    lines = [words.t("list.health", days=words.number(health.days))]
    if not health.graded:
        from monitor.alarms.health import LEAST_DAYS

        lines += entry("", words.t("health.too_short", days=words.number(LEAST_DAYS)), width)
    for line in health_table(health, plan, words):
        text = words.t("list.health_line", name=line.name, figure=line.figure)
        lines += entry("  ", f"{text}. {line.advice}" if line.advice else text, width, 4)
    return lines
