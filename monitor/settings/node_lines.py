"""The lines of one board in `farm.toml`: written in, changed, taken out; every other line stays as it is.

The result is checked before anybody writes it. What is taken out goes line by line, since tomlkit counts a
comment above the next table as part of the one before it.
"""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.items import AoT, Table

from monitor.errors import UsageError
from monitor.settings.loading import check_text, read
from monitor.settings.problems import Location, line_index
from monitor.settings.schema import Node, Settings

NODES = "nodes"
KEYS = ("place", "probes", "measures", "interval_s", "send_every", "battery_low_v")
"""The keys that are written here; others of a board that stands in the file already stay."""


def with_node(path: Path, node: Node, environ: Mapping[str, str] = os.environ) -> tuple[str, Settings]:
    """The text of the file with this board in it, and the settings that it gives; nothing is written."""
    read(path, environ)
    document = tomlkit.parse(path.read_text(encoding="utf-8-sig"))
    nodes = document.setdefault(NODES, tomlkit.aot())
    if not isinstance(nodes, AoT):
        raise _by_hand(path, node.id)
    table = next((known for known in nodes if known.get("id") == node.id), None)
    if table is None:
        nodes.append(_new_table(node))
    else:
        _change(table, node)
    text = tomlkit.dumps(document)
    return text, check_text(text, path=path, environ=environ).settings


def _by_hand(path: Path, node: str) -> UsageError:
    return UsageError(
        "{file}: nodes is not written as [[nodes]] tables; put {node} in by hand", file=path.name, node=node
    )


def _values(node: Node) -> dict[str, Any]:
    """What differs from the defaults, but the interval always."""
    plain = node.model_dump(mode="json", exclude_defaults=True) | {"interval_s": _whole(node.interval_s)}
    return {key: plain[key] for key in KEYS if key in plain}


def _whole(number: float) -> float | int:
    return int(number) if number == int(number) else number


def _new_table(node: Node) -> Table:
    table = tomlkit.table()
    table.add("id", node.id)
    for key, value in _values(node).items():
        table.add(key, _item(value))
    table.add(tomlkit.nl())
    return table


def _change(table: Any, node: Node) -> None:
    values = _values(node)
    for key in KEYS:
        if key not in values:
            table.pop(key, None)
        elif table.get(key) != values[key]:
            table[key] = _item(values[key])


def _item(value: Any) -> Any:
    if not isinstance(value, dict):
        return value
    inline = tomlkit.inline_table()
    inline.update(value)
    return inline


def without_node(path: Path, node: str, environ: Mapping[str, str] = os.environ) -> tuple[str, Settings]:
    """The text of the file without this board, and the settings that it gives; nothing is written."""
    before = read(path, environ).settings
    text = path.read_text(encoding="utf-8-sig")
    number = [known.id for known in before.nodes].index(node)
    left = _without_lines(text, (NODES, number))
    after = check_text(left, path=path, environ=environ).settings if left is not None else None
    if left is None or after is None or after != _without(before, node):
        raise UsageError(
            "{file}: the lines of {node} are not written as a [[nodes]] table; take them out by hand",
            file=path.name,
            node=node,
        )
    return left, after


def _without(settings: Settings, node: str) -> Settings:
    return settings.model_copy(update={NODES: tuple(known for known in settings.nodes if known.id != node)})


def _without_lines(text: str, table: Location) -> str | None:
    """The text without a table and those within it; None where it has no lines of its own."""
    found = line_index(text)
    headers = sorted((line, location) for location, line in found.items() if _is_header(text, line))
    first = next((line for line, location in headers if location == table), None)
    if first is None:
        return None
    others = (line for line, location in headers if line > first and location[: len(table)] != table)
    lines = text.splitlines(keepends=True)
    end = next(others, len(lines) + 1) - 1
    return "".join([*lines[: first - 1], *_after_last_key(lines[first:end]), *lines[end:]])


def _is_header(text: str, line: int) -> bool:
    return text.splitlines()[line - 1].lstrip().startswith("[")


def _after_last_key(body: Sequence[str]) -> Sequence[str]:
    """The comments below the last key of a table: they speak of what comes next."""
    last = max(
        (at for at, line in enumerate(body) if line.strip() and not line.lstrip().startswith("#")), default=-1
    )
    below = body[last + 1 :]
    return below[1:] if below and not below[0].strip() else below
