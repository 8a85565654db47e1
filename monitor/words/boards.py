"""Boards as text: last heard, battery, faults, calibration; unknown ones with lines for farm.toml. Pure."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import tzinfo

from monitor.farm.records import NodeRow
from monitor.records import MS_PER_DAY, NodeFacts, Quantity, SensorKey
from monitor.settings.plan import Plan
from monitor.words.phrases import ago, entry, length_of_time, measured, plural

_INDENT = 4


@dataclass(frozen=True, slots=True)
class ArchiveNow:
    """How far the copy on the archive server is behind; `last_error` is empty while all is well."""

    waiting: int
    oldest_waiting_ms: int | None
    refused: int
    last_error: str


def is_unknown(row: NodeRow, plan: Plan) -> bool:
    """Whether a board was heard that the settings do not name."""
    return row.facts.node not in plan.nodes


def node_lines(
    rows: Sequence[NodeRow],
    plan: Plan,
    calibrated_ms: Mapping[str, int],
    now_ms: int,
    zone: tzinfo,
    width: int = 80,
) -> list[str]:
    """One entry for each board that the settings name, what is wrong with it below."""
    lines: list[str] = []
    for row in rows:
        if not is_unknown(row, plan):
            head = f"{sign(row, plan)} {row.facts.node}: "
            text = "; ".join(_facts(row, plan, calibrated_ms, now_ms, zone))
            lines += entry(head, text, width, _INDENT)
            for fault in faults(row, plan):
                lines += entry("    - ", fault, width, _INDENT + 2)
    return lines or ["The settings name no board yet."]


def sign(row: NodeRow, plan: Plan) -> str:
    """A shape that tells the state without colour."""
    node = plan.nodes.get(row.facts.node)
    if node is not None and node.out_of_service:
        return "–"
    return "?" if row.silent else "○"


def heard(row: NodeRow, plan: Plan, now_ms: int, zone: tzinfo) -> str:
    """When it was last heard, and whether that is too long ago."""
    node = plan.nodes.get(row.facts.node)
    if node is not None and node.out_of_service:
        return "out of service"
    if row.facts.messages == 0:
        return "NEVER HEARD"
    said = f"heard {ago(row.facts.last_heard_ms, now_ms, zone)}"
    return f"SILENT, last {said}" if row.silent else said


def calibration_age(node: str, calibrated_ms: Mapping[str, int], now_ms: int) -> str:
    """How old its newest calibration is."""
    at_ms = calibrated_ms.get(node)
    if at_ms is None:
        return "never calibrated"
    if now_ms - at_ms < MS_PER_DAY:
        return "calibrated today"
    return f"calibrated {length_of_time(now_ms - at_ms)} ago"


def _facts(
    row: NodeRow, plan: Plan, calibrated_ms: Mapping[str, int], now_ms: int, zone: tzinfo
) -> Iterator[str]:
    yield heard(row, plan, now_ms, zone)
    yield row.place or "in no place, guards nothing"
    if row.battery_v is not None:
        yield f"battery {measured(Quantity.BATTERY, row.battery_v)}"
    if row.facts.messages:
        yield plural(row.facts.messages, "message")
        yield calibration_age(row.facts.node, calibrated_ms, now_ms)


def faults(row: NodeRow, plan: Plan) -> Iterator[str]:
    """What a person should know or mend, in words."""
    facts, node = row.facts, plan.nodes.get(row.facts.node)
    if node and node.battery_low_v and row.battery_v is not None and row.battery_v < node.battery_low_v:
        yield f"its battery is low (below {measured(Quantity.BATTERY, node.battery_low_v)}): charge it"
    if facts.clock_fault:
        yield f"its clock is wrong: {facts.clock_fault}"
    if facts.missing:
        yield f"{plural(facts.missing, 'message')} of it never arrived"
    if facts.conflicts:
        said = plural(facts.conflicts, "reading contradicts", "readings contradict")
        yield f"{said} an earlier one of the same time"
    if facts.rejected:
        yield f"{plural(facts.rejected, 'message')} not understood, the last: {facts.last_reject_reason}"


def unknown_lines(
    rows: Iterable[NodeRow],
    sensors: Iterable[SensorKey],
    plan: Plan,
    now_ms: int,
    zone: tzinfo,
    width: int = 80,
) -> list[str]:
    """Boards that were heard and that the settings do not name, with the lines to add."""
    heard_of = list(sensors)
    lines: list[str] = []
    for row in rows:
        if is_unknown(row, plan):
            name = row.facts.node
            text = f"{heard(row, plan, now_ms, zone)}; {plural(row.facts.messages, 'message')}"
            lines += [
                "",
                *entry(f"? {name}: ", f"{text}. It guards nothing until you add to farm.toml:", width),
            ]
            lines += ["", *(f"    {line}" for line in toml_lines(name, heard_of, plan))]
            lines += [line for fault in faults(row, plan) for line in entry("    - ", fault, width, 6)]
    return lines


def nameless_lines(facts: NodeFacts | None, now_ms: int, zone: tzinfo, width: int = 80) -> list[str]:
    """Messages that were refused and belong to no board that can be named."""
    if facts is None or facts.last_reject_ms is None:
        return []
    said = plural(facts.rejected, "message", "messages")
    when = ago(facts.last_reject_ms, now_ms, zone)
    text = f"{said} that fit no board, the last {when}: {facts.last_reject_reason}"
    return ["", *entry("? Not understood: ", text, width)]


def toml_lines(node: str, sensors: Iterable[SensorKey], plan: Plan) -> list[str]:
    """The table for a board; its place is a choice that only a person can make."""
    measures = sorted(
        f"{sensor.probe}/{sensor.quantity}" if sensor.probe else sensor.quantity
        for sensor in sensors
        if sensor.node == node
    )
    allowed = ", ".join(plan.places) or "none yet: add a [[places]] table first"
    return [
        "[[nodes]]",
        f"id = {json.dumps(node)}",
        f'# place = "..."  # take the first # away and name one of: {allowed}',
        f"measures = {json.dumps(measures)}",
    ]


def archive_lines(archive: ArchiveNow, now_ms: int, width: int = 80) -> list[str]:
    """How far the archive is behind."""
    if archive.waiting:
        oldest = archive.oldest_waiting_ms
        lag = "" if oldest is None else f", the oldest for {length_of_time(now_ms - oldest)}"
        text = f"{plural(archive.waiting, 'reading waits', 'readings wait')}{lag}"
    else:
        text = "up to date"
    if archive.refused:
        text += f"; {plural(archive.refused, 'reading was', 'readings were')} refused by the server for good"
    if archive.last_error:
        text += f"; last trouble: {archive.last_error}"
    return entry("Archive: ", text, width)
