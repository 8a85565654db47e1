"""Lines of text for terminals, narrow ones too: entries with a hanging indent. Pure."""

from __future__ import annotations

import re
import textwrap
from datetime import tzinfo

from monitor.notify.phrases import MONTHS, WEEKDAYS, clock_time, length_of_time, local

NARROWEST = 40
# A number and its unit stay on one line.
_GLUE = "\N{NO-BREAK SPACE}"
_NUMBER_AND_UNIT = re.compile(r"(\d) (°C|%RH|%|kPa|Pa|V|lx|ppm|K|min|h|days)(?!\w)")


def entry(head: str, text: str, width: int, indent: int = 2) -> list[str]:
    """`head` followed by the text, wrapped; what follows the first line is indented."""
    wrapped = textwrap.wrap(
        _NUMBER_AND_UNIT.sub(rf"\1{_GLUE}\2", text),
        max(width, NARROWEST),
        initial_indent=head,
        subsequent_indent=" " * indent,
        break_long_words=False,
        break_on_hyphens=False,
    )
    return [line.replace(_GLUE, " ") for line in wrapped] or [head.rstrip()]


def moment(at_ms: int, zone: tzinfo) -> str:
    """ "Wed 25 Nov 13:20", by the farm's clock."""
    at = local(at_ms, zone)
    return f"{WEEKDAYS[at.weekday()]} {at.day} {MONTHS[at.month - 1]} {at:%H:%M}"


def ago(at_ms: int, now_ms: int, zone: tzinfo) -> str:
    """ "13:20 (4 min ago)"."""
    return f"{clock_time(at_ms, now_ms, zone)} ({length_of_time(now_ms - at_ms)} ago)"


def plural(count: int, one: str, many: str = "") -> str:
    """ "1 place", "2 places"."""
    return f"{count} {one if count == 1 else many or one + 's'}"
