"""Places as a person writes them: by id or title, whatever the case, the spaces and the hyphens.

The one reader for command line, page and notebook.
"""

from __future__ import annotations

import difflib
import re
import unicodedata
from collections.abc import Mapping

from monitor.errors import UsageError


def place_key(written: str) -> str:
    """What is compared: "Bin 4", "bin4" and "BIN-4" are one."""
    return re.sub(r"[\s\-_.]+", "", unicodedata.normalize("NFKC", written).casefold())


def find_place(written: str, titles: Mapping[str, str]) -> str:
    """The id of the place that is meant; `titles` are names for people by id.

    UsageError where it can be several, with all of them, and where it is none, with the nearest.
    """
    if written in titles:
        return written
    key = place_key(written)
    meant = [place for place, title in titles.items() if key in (place_key(place), place_key(title))]
    if len(meant) == 1:
        return meant[0]
    if meant:
        raise UsageError(
            "{name} can be several places; write one of: {places}",
            name=repr(written),
            places=", ".join(f"{place} ({titles[place]})" for place in meant),
        )
    near = _nearest(key, titles)
    if near is not None:
        raise UsageError(
            '{name} is no place in the settings; do you mean "{near}"?', name=repr(written), near=near
        )
    raise UsageError(
        "{name} is no place in the settings; known: {known}", name=repr(written), known=", ".join(titles)
    )


def _nearest(key: str, titles: Mapping[str, str]) -> str | None:
    keys = {place_key(name): place for place, title in titles.items() for name in (title, place)}
    near = difflib.get_close_matches(key, keys, n=1, cutoff=0.6)
    return keys[near[0]] if near else None
