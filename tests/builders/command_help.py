"""The texts that `--help` shows of a command."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from monitor.terminal.context import EXAMPLES


def help_texts(command: Any) -> Iterator[str]:
    """Every paragraph that `translate_help` looks up for a command, or for a group and its commands."""
    texts = [command.help, command.short_help, command.epilog, command.rich_help_panel]
    texts += [parameter.help for parameter in command.params]
    for text in texts:
        for paragraph in (text or "").split("\n\n"):
            if paragraph and not paragraph.startswith((*EXAMPLES, "[bold]")):
                yield " ".join(paragraph.split())
    for inner in getattr(command, "commands", {}).values():
        yield from help_texts(inner)
