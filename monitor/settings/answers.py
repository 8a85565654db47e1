"""What people type when a farm is set up: a time zone, a height, numbers of places, a broker, boards.

Each reader raises UsageError, which says what is allowed.
"""

from __future__ import annotations

import re
import zoneinfo
from collections.abc import Mapping, Sequence

import tzlocal

from monitor.errors import UsageError
from monitor.logbook.amounts import parse_number
from monitor.settings.problems import suggestion
from monitor.settings.template import PlainTables

MOST_PLACES = 200
LOWEST_M, HIGHEST_M = -430.0, 6000.0
_METRES: Mapping[str, float] = {
    **dict.fromkeys(("", "m", "metre", "metres", "meter", "meters", "mètre", "mètres"), 1.0),
    **dict.fromkeys(("ft", "foot", "feet", "pied", "pieds"), 0.3048),
}
_ALTITUDE = re.compile(r"([-+−]?[\d .,'’]*\d)\s*([a-zè]*)\.?")
_COUNT = re.compile(r"(\d{1,4})\b[^\d]*")
_YES, _NO = frozenset({"y", "yes", "o", "oui", "ndiyo"}), frozenset({"n", "no", "non", "hapana"})


def machine_time_zone() -> str:
    """The time zone that this computer is set to, as region/city."""
    try:
        name = tzlocal.get_localzone_name()
    except (zoneinfo.ZoneInfoNotFoundError, OSError, ValueError):
        return "Etc/UTC"
    return name if name in zoneinfo.available_timezones() else "Etc/UTC"


def read_zone(written: str) -> str:
    """A time zone, however its letters and blanks are written; the city alone where only one has its name."""
    wanted = _plain_zone(written)
    known = zoneinfo.available_timezones()
    by_name = {_plain_zone(name): name for name in sorted(known)}
    cities = [name for plain, name in by_name.items() if plain.endswith(f" {wanted}") and "/" in name]
    if wanted in by_name:
        return by_name[wanted]
    whole = [name for name in cities if _plain_zone(name.rpartition("/")[2]) == wanted]
    if len(whole) == 1:
        return whole[0]
    if whole:
        raise UsageError(
            "several time zones are called {name}; allowed: one of {zones}",
            name=written.strip(),
            zones=", ".join(whole),
        )
    city = {_plain_zone(name.rpartition("/")[2]): name for name in sorted(known)}
    near = suggestion(wanted, by_name) or suggestion(wanted.rpartition(" ")[2], city)
    if near:
        near = by_name.get(near) or city[near]
        raise UsageError("{name} is no known time zone; did you mean {near}?", name=written, near=near)
    raise UsageError(
        "{name} is no known time zone; allowed: region/city, such as Africa/Gaborone, or a large city near "
        "you",
        name=written,
    )


def _plain_zone(name: str) -> str:
    return " ".join(re.split(r"[\s/_]+", name.strip().casefold())).strip()


def read_altitude(written: str) -> float:
    """Metres above the sea, from "1000", "1,000 m", "3300 ft"."""
    found = _ALTITUDE.fullmatch(written.strip().lower())
    factor = _METRES.get(found[2]) if found else None
    if found is None or factor is None:
        raise _no_altitude(written)
    # Nobody gives a height to the millimetre: three digits after a mark are thousands.
    figure = re.sub(r"[.,](?=\d{3}\b)", "", found[1].replace("−", "-").replace(" ", ""))
    try:
        metres = round(parse_number(figure) * factor, 1)
    except UsageError:
        raise _no_altitude(written) from None
    if not LOWEST_M <= metres <= HIGHEST_M:
        raise _no_altitude(written)
    return metres


def _no_altitude(written: str) -> UsageError:
    return UsageError(
        '"{written}" is no height above sea level; allowed: metres from {low} to {high}, such as 1000 m',
        written=written,
        low=f"{LOWEST_M:g}",
        high=f"{HIGHEST_M:g}",
    )


def read_count(written: str) -> int:
    """A number of places, also as "4 bins"."""
    found = _COUNT.fullmatch(written.strip())
    if found is None or int(found[1]) > MOST_PLACES:
        raise UsageError(
            '"{written}" is no number of places; allowed: a whole number from 0 to {most}',
            written=written,
            most=str(MOST_PLACES),
        )
    return int(found[1])


def read_yes(written: str) -> bool:
    """Yes or no, in one of the languages."""
    plain = written.strip().casefold()
    if plain not in _YES | _NO:
        raise UsageError('"{written}" is neither yes nor no; allowed: y or n', written=written)
    return plain in _YES


def read_broker(written: str) -> tuple[str, int]:
    """A computer and the port on which its broker listens, 1883 where none is given."""
    text = written.strip().removeprefix("mqtt://").rstrip("/")
    host, colon, port = text.rpartition(":")
    if not colon:
        host, port = text, "1883"
    good = re.fullmatch(r"[A-Za-z0-9]([A-Za-z0-9.-]*[A-Za-z0-9])?", host) and port.isdecimal()
    if not good or not 1 <= int(port) <= 65535:
        raise UsageError(
            '"{written}" is no address of a broker; allowed: its name or number, such as 192.168.1.20 or '
            "farm-computer:1883",
            written=written,
        )
    return host, int(port)


def read_place(written: str, places: Sequence[PlainTables]) -> str | None:
    """The id of a place from its number in the list, its id or its name; None for none."""
    plain = written.strip().casefold()
    if plain in ("", "-", "0"):
        return None
    for number, place in enumerate(places, start=1):
        if plain in (str(number), place["id"].casefold(), place["title"].casefold()):
            return str(place["id"])
    raise UsageError(
        '"{written}" is none of the places; allowed: a number from 1 to {count}, a name from the list, or 0 '
        "for none yet",
        written=written,
        count=str(len(places)),
    )


def read_boards(written: Sequence[str], places: Sequence[PlainTables]) -> tuple[tuple[str, str | None], ...]:
    """Boards and their places from "node-01=bin-1"."""
    pairs = []
    for text in written:
        board, equals, place = text.partition("=")
        if not equals or not re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9_.-]{0,39}", board.strip()):
            raise UsageError('--board is "{written}"; allowed: such as node-01=bin-1', written=text)
        pairs.append((board.strip(), read_place(place, places)))
    return tuple(pairs)
