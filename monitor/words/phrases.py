"""Lines of text for terminals, narrow ones too: entries with a hanging indent. Pure.

Numbers, times and lengths of time as a person reads them. Pure.
"""

from __future__ import annotations

import math
import re
import textwrap
from collections.abc import Mapping
from datetime import datetime, tzinfo

from monitor.records import MS_PER_DAY, MS_PER_MINUTE, QUANTITIES, Computed, Quantity, local

WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
MOST_DECIMALS = 3

_DECIMALS: Mapping[str, int] = {
    Quantity.AIR_HUMIDITY: 0,
    Quantity.LIGHT: 0,
    Quantity.BATTERY: 2,
    Quantity.CARBON_DIOXIDE: 0,
    Computed.VAPOUR_PRESSURE_DEFICIT: 0,
    Computed.MINUTES_TO_OVERHEATING: 0,
    Computed.HOURS_TO_DRY: 0,
    Computed.SILENT_MINUTES: 0,
    Computed.DEAD_SENSOR_MINUTES: 0,
    Computed.ARCHIVE_LAG_HOURS: 0,
    Computed.UNSENT_MESSAGE_MINUTES: 0,
}
_SHARES = (Quantity.SUBSTRATE_MOISTURE, Computed.SILENT_NODE_SHARE)


def decimals_of(quantity: str) -> int:
    """Decimals that a person can use: one for temperatures, none for humidities and shares."""
    return 0 if quantity in _SHARES else _DECIMALS.get(quantity, 1)


def shown_value(quantity: str, value: float) -> float:
    """The value in the unit that people see: shares as percent, all else as stored."""
    return value * 100.0 if quantity in _SHARES else value


def unit_of(quantity: str) -> str:
    """The unit that people see, "" for an unknown quantity."""
    if quantity in _SHARES:
        return "%"
    return QUANTITIES[quantity].shown_unit if quantity in QUANTITIES else ""


def quantity_title(quantity: str) -> str:
    """The name that people use, or the plain name of an unknown quantity."""
    return QUANTITIES[quantity].title if quantity in QUANTITIES else quantity.replace("_", " ")


def _joined(number: str, quantity: str) -> str:
    unit = unit_of(quantity)
    return f"{number} {unit}" if unit else number


def _rounded(value: float, decimals: int) -> str:
    text = f"{value:.{decimals}f}"
    return text[1:] if text.startswith("-") and float(text) == 0.0 else text


def measured(quantity: str, value: float | None, against: float | None = None) -> str:
    """A value with its unit; it gets more decimals where rounding would make it equal to `against`."""
    if value is None or not math.isfinite(value):
        return "no value"
    shown, decimals = shown_value(quantity, value), decimals_of(quantity)
    if against is not None and math.isfinite(against) and value != against:
        other = shown_value(quantity, against)
        while decimals < MOST_DECIMALS and float(_rounded(shown, decimals)) == round(other, MOST_DECIMALS):
            decimals += 1
    return _joined(_rounded(shown, decimals), quantity)


def limit(quantity: str, setpoint: float) -> str:
    """A setpoint with its unit, without needless zeros: "42 °C"."""
    return _joined(f"{round(shown_value(quantity, setpoint), MOST_DECIMALS):g}", quantity)


def _is_repeated_hour(at: datetime) -> bool:
    return at.replace(fold=0).utcoffset() != at.replace(fold=1).utcoffset()


def clock_time(at_ms: int, now_ms: int, zone: tzinfo) -> str:
    """ "02:10" today, "Tue 02:10" within six days, "24 Nov 02:10" before.

    In the hour that the clock shows twice in autumn the name of the zone is added, so that it cannot be
    read two ways.
    """
    at, now = local(at_ms, zone), local(now_ms, zone)
    text = f"{at:%H:%M}"
    if _is_repeated_hour(at):
        text = f"{text} {at.tzname()}"
    if at.date() == now.date():
        return text
    if abs((at.date() - now.date()).days) < len(WEEKDAYS):
        return f"{WEEKDAYS[at.weekday()]} {text}"
    return f"{at.day} {MONTHS[at.month - 1]} {text}"


def length_of_time(duration_ms: int) -> str:
    """ "4 min", "2 h 10 min", "3 days"; never negative."""
    duration_ms = max(0, duration_ms)
    if duration_ms < MS_PER_MINUTE:
        return "less than a minute"
    hours, minutes = divmod(duration_ms // MS_PER_MINUTE, 60)
    if duration_ms >= 2 * MS_PER_DAY:
        return f"{duration_ms // MS_PER_DAY} days"
    if hours == 0:
        return f"{minutes} min"
    return f"{hours} h {minutes} min" if minutes else f"{hours} h"


def shortened(text: str, most: int) -> str:
    """At most `most` characters on one line, cut with an ellipsis."""
    line = " ".join(text.split())
    return line if len(line) <= most else line[: most - 1].rstrip() + "…"


def outlook(quantity: str, value: float | None, change_per_hour: float | None) -> str:
    """Where a value is heading: "Rising 1.2 °C an hour, about 43.8 °C in one hour if nothing changes." """
    if value is None or change_per_hour is None or not math.isfinite(change_per_hour):
        return ""
    step = abs(shown_value(quantity, change_per_hour))
    if float(_rounded(step, decimals_of(quantity))) == 0.0:
        return "Steady."
    way = "Rising" if change_per_hour > 0 else "Falling"
    rate = _joined(_rounded(step, decimals_of(quantity)), quantity)
    later = measured(quantity, value + change_per_hour)
    return f"{way} {rate} an hour, about {later} in one hour if nothing changes."


__all__ = [
    "MONTHS",
    "WEEKDAYS",
    "clock_time",
    "length_of_time",
    "limit",
    "local",
    "measured",
    "outlook",
    "quantity_title",
    "shortened",
    "unit_of",
]


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
