"""Boards that do not speak SenML: a bare number, or fields of a flat JSON object, by mapping. Pure.

A value becomes `value * scale + offset`, then its unit is turned into the canonical one of its quantity.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from monitor.errors import PayloadError
from monitor.intake.topics import IDENTIFIER
from monitor.intake.units import convert_plain
from monitor.records import (
    QUANTITIES,
    IncomingMessage,
    NodeMessage,
    Quantity,
    Reading,
    SensorKey,
    TimeSource,
)
from monitor.settings.schema import PlainMapping

NODE_MARK = "{node}"
_NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d{1,3})?")
_UNIT_OF_NUMBER = re.compile(rf"\s*({_NUMBER.pattern})\s*")


@dataclass(frozen=True, slots=True)
class PlainRoute:
    """A mapping made ready: the MQTT filter to subscribe to, and the pattern that captures the node."""

    mapping: PlainMapping
    filter: str
    pattern: re.Pattern[str]

    def node(self, topic: str) -> str | None:
        """The node that the topic belongs to, or None where the mapping is not for this topic."""
        match = self.pattern.fullmatch(topic)
        if match is None:
            return None
        return self.mapping.node or match.groupdict().get("node", "")


def compile_routes(mappings: Iterable[PlainMapping]) -> tuple[PlainRoute, ...]:
    """Mappings made ready for use; `problems` says beforehand what is wrong with them."""
    return tuple(
        PlainRoute(mapping, mapping.topic.replace(NODE_MARK, "+"), _pattern(mapping.topic))
        for mapping in mappings
    )


def problems(mapping: PlainMapping) -> tuple[str, ...]:
    """What is wrong with a mapping, in words for the person who wrote it."""
    return tuple(text for text in (_topic_problem(mapping), _unit_problem(mapping)) if text)


def node_of(topic: str, routes: Iterable[PlainRoute]) -> str | None:
    """The node to which a topic belongs by the first mapping for it; None without one or with a bad name."""
    nodes = (route.node(topic) for route in routes)
    found = next((node for node in nodes if node is not None), None)
    return found if found is not None and IDENTIFIER.fullmatch(found) else None


def read_plain(message: IncomingMessage, routes: Iterable[PlainRoute], sent_ms: int) -> NodeMessage | None:
    """The readings of a message, or None where no mapping is for its topic.

    Raises PayloadError where a mapping is, and nothing could be read.
    """
    matching = [(node, route) for route in routes if (node := route.node(message.topic)) is not None]
    if not matching:
        return None
    node = matching[0][0]
    if not IDENTIFIER.fullmatch(node):
        raise PayloadError(f"{node[:60]!a} is not a name for a node: letters, digits, - _ . only, 40 at most")
    content = _content(message.payload)
    readings: list[Reading] = []
    skipped: list[str] = []
    for other, route in matching:
        try:
            readings.append(_reading(other, node, route.mapping, content, sent_ms))
        except PayloadError as error:
            skipped.append(str(error))
    if not readings:
        raise PayloadError("; ".join(skipped))
    return NodeMessage(
        node, message.received_ms, tuple(readings), TimeSource.RECEIVED, skipped=tuple(skipped)
    )


def _pattern(topic: str) -> re.Pattern[str]:
    levels = []
    for level in topic.split("/"):
        levels.append({"+": "[^/]*", "#": ".*", NODE_MARK: "(?P<node>[^/]*)"}.get(level) or re.escape(level))
    return re.compile("/".join(levels))


def _topic_problem(mapping: PlainMapping) -> str | None:
    levels = mapping.topic.split("/")
    captures = levels.count(NODE_MARK)
    if captures > 1 or any(NODE_MARK in level and level != NODE_MARK for level in levels):
        return f"the topic {mapping.topic!r} may hold {NODE_MARK} once, as a whole level between slashes"
    if captures == 0 and mapping.node is None:
        return f"the topic {mapping.topic!r} names no node; put {NODE_MARK} in place of a level, or set node"
    if "#" in levels[:-1] or any(len(level) > 1 and ("+" in level or "#" in level) for level in levels):
        return f"the topic {mapping.topic!r} is not an MQTT filter: + is a whole level, # stands last"
    return None


def _unit_problem(mapping: PlainMapping) -> str | None:
    if mapping.quantity not in set(Quantity):
        return f"the quantity {mapping.quantity!r} is not known; allowed: {', '.join(Quantity)}"
    if mapping.probe and not IDENTIFIER.fullmatch(mapping.probe):
        return f"the probe {mapping.probe!r} may hold letters, digits, - _ . only"
    try:
        _canonical(1.0, mapping)
    except PayloadError as error:
        return str(error)
    return None


def _content(payload: bytes) -> float | Mapping[str, Any]:
    try:
        text = payload.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise PayloadError("the payload is not text") from None
    match = _UNIT_OF_NUMBER.fullmatch(text)
    if match:
        return float(match.group(1))
    try:
        content = json.loads(text)
    except (ValueError, RecursionError):
        raise PayloadError("the payload is neither a number nor a JSON object") from None
    if not isinstance(content, dict):
        raise PayloadError("the payload is neither a number nor a JSON object")
    return content


def _reading(
    node_of_route: str, node: str, mapping: PlainMapping, content: float | Mapping[str, Any], at_ms: int
) -> Reading:
    if node_of_route != node:
        raise PayloadError(f"one message cannot serve two nodes ({node} and {node_of_route[:60]!a})")
    value = _canonical(_number(mapping, content), mapping)
    return Reading(SensorKey(node, mapping.probe, mapping.quantity), at_ms, value)


def _number(mapping: PlainMapping, content: float | Mapping[str, Any]) -> float:
    if isinstance(content, float):
        if mapping.field is not None:
            raise PayloadError(f"the mapping wants the field {mapping.field}; the payload is a bare number")
        return content
    if mapping.field is None:
        raise PayloadError("the mapping wants a bare number; the payload is a JSON object")
    value = content.get(mapping.field)
    if isinstance(value, str) and _NUMBER.fullmatch(value.strip()):
        return float(value)
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise PayloadError(f"the field {mapping.field} is missing or not a number")
    try:
        return float(value)
    except OverflowError:
        raise PayloadError(f"the field {mapping.field} is too large") from None


def _canonical(value: float, mapping: PlainMapping) -> float:
    wanted = QUANTITIES[mapping.quantity].unit
    result = convert_plain(value * mapping.scale + mapping.offset, mapping.unit or wanted, wanted)
    if not math.isfinite(result):
        raise PayloadError(f"the value of {mapping.quantity} is not a finite number")
    return result
