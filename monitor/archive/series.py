"""The names under which a site's figures stand in the archive: measurement, tags, fields, and what codes
mean.

Writers (`forwarder`, `farm_points`) and readers (`reader`, `sites`) take the names from here alone, and a
name or code that was published is never changed: an archive is read years later. Fields are numbers, since
such a store keeps no texts. A store that is asked in the language of Prometheus knows a field as
`measurement_field`. Each series bears the tag `site`; a tag with an empty value is left
out.

Readings keep their form from the first release: the quantity is the measurement, `node` and `probe` are
tags, `value` is the raw value and `flag` its QARTOD flag.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from monitor.archive import reader
from monitor.development.events import Event
from monitor.farm.bins import BinState
from monitor.farm.records import PlaceState
from monitor.records import AlarmStatus, PlaceKind, Stage

SITE_TAG = reader.SITE_TAG

MINUTE_S, FIVE_MINUTES_S, HOUR_S = 60.0, 300.0, 3600.0


@dataclass(frozen=True, slots=True)
class Series:
    """One kind of point: its measurement, its tags beside `site`, its fields, and how often it is written.

    `every_s` is None for what is written when it happens.
    """

    measurement: str
    tags: tuple[str, ...]
    fields: tuple[str, ...]
    every_s: float | None


SITE = Series(
    "site",
    (),
    (
        "heartbeat",
        "open_alarms",
        "unacknowledged_alarms",
        "high_alarms",
        "medium_alarms",
        "low_alarms",
        "oldest_unacknowledged_ms",
        "places",
        "unknown_places",
        "unguarded_places",
        "boards",
        "silent_boards",
        "boards_to_mend",
        "waiting_readings",
    ),
    MINUTE_S,
)
"""The site each minute. `heartbeat` is 1 and its time is what counts: how long ago the site was heard.

`open_alarms` stand now, those of boards and of the monitor itself included, `high_`, `medium_` and
`low_alarms` are their priorities; `unacknowledged_alarms` nobody has seen yet, be they over or not, the
oldest of them since `oldest_unacknowledged_ms`. `boards_to_mend` need a hand, silent ones and those never
heard included. `waiting_readings` have not reached the archive yet.
"""

ALARM = Series(
    "alarm",
    ("place", "quantity", "side", "priority"),
    ("status", "active", "acknowledged", "value", "setpoint", "since_ms", "extreme"),
    MINUTE_S,
)
"""Each alarm that is not normal, each minute, and once more when it is normal again.

`place` is the id of a place, of a board, or `site`. `status` is one of `ALARM_STATUS`. A point older than
some minutes tells of the past: the alarm is over, or the site is silent.
"""

ALARM_CHANGE = Series(
    "alarm_change",
    ("place", "quantity", "side", "priority", "event"),
    ("before", "after", "value", "setpoint", "by_person", "entry"),
    None,
)
"""Each line of the journal of alarms, at its own time; `event` is a tag, so that two events of one moment
stay two.

`before` and `after` are of `ALARM_STATUS`, `entry` is the number of the line. Who did it, and why, is text
and stays with the site.
"""

PLACE = Series(
    "place",
    ("place",),
    ("kind", "stage", "state", "open_alarms", "unacknowledged_alarms", "since_ms", "excess_k"),
    FIVE_MINUTES_S,
)
"""Each place, by its id: kind (`PLACE_KIND`), what lives there (`STAGE`, left out where nothing does), state
(`PLACE_STATE`, the worst is the lowest), since when its gravest alarm stands, and by how much its substrate
is warmer than the air [K]. Written also as soon as a state has changed."""

PLACE_VALUE = Series(
    "place_value",
    ("place", "quantity"),
    ("lowest", "highest", "per_hour", "low_limit", "high_limit", "at_ms"),
    FIVE_MINUTES_S,
)
"""What is measured at a place: lowest and highest calibrated value of its sensors that can be trusted, the
change in an hour, the limits that guard it, and when it was measured. Of a filled bin `substrate_moisture`
is the figure of the bin."""

BOARD = Series(
    "board",
    ("node",),
    ("battery_v", "battery_low_v", "silent", "to_mend", "last_heard_ms", "signal_dbm"),
    FIVE_MINUTES_S,
)
"""Each board: its battery [V] and the limit that the settings set, whether it is silent, whether it needs a
hand."""

HOURLY = Series(
    "hourly", ("node", "probe", "quantity"), ("count", "minimum", "mean", "maximum", "flagged"), None
)
"""The summary of one hour of one sensor: raw values as readings are, failed ones left out.

The time of its point is the beginning of the hour plus `count + flagged` milliseconds: a late reading makes a
later point, never two values of one time. Of an hour the last point counts.
"""

FORECAST = Series(
    "forecast", ("cohort",), ("stage", "event", "low_ms", "middle_ms", "high_ms", "late"), HOUR_S
)
"""What comes next of each living cohort: which event (`EVENT`), its middle and 80 % window [ms since 1970
UTC], and whether it is late. `stage` is what the middle animal is now (`STAGE`)."""

BIN = Series(
    "bin",
    ("place",),
    (
        "state",
        "moisture",
        "dry_earliest_h",
        "dry_likely_h",
        "litres",
        "harvest_low_ms",
        "harvest_ms",
        "harvest_high_ms",
        "harvest_low_kg",
        "harvest_kg",
        "harvest_high_kg",
    ),
    HOUR_S,
)
"""Each filled bin: state (`BIN_STATE`), moisture [ratio], hours until dry, litres it can take, and its
harvest: the best day and kilograms, each with its 80 % window."""

YIELD_AHEAD = Series(
    "yield_ahead",
    ("week",),
    (
        "from_ms",
        "to_ms",
        "eggs_low_g",
        "eggs_middle_g",
        "eggs_high_g",
        "larvae_low_kg",
        "larvae_middle_kg",
        "larvae_high_kg",
    ),
    HOUR_S,
)
"""What is to come: tag `week` is 0 for the seven days from today on, 1 for those after, up to 3; eggs [g]
and larvae [kg], the middle and the 80 % window."""

YIELD_SUM = Series(
    "yield_sum",
    ("span", "ago"),
    ("from_ms", "to_ms", "eggs_g", "larvae_kg", "prepupae_kg", "feed_kg", "residue_kg", "flies"),
    HOUR_S,
)
"""What was taken and given in the week and the month that run (`ago` 0) and those before (`ago` 1); tag
`span` is `week` or `month`. What nobody wrote down is left out."""

ALARM_STATUS: Mapping[AlarmStatus, int] = {
    AlarmStatus.NORMAL: 0,
    AlarmStatus.UNACKNOWLEDGED: 1,
    AlarmStatus.ACKNOWLEDGED: 2,
    AlarmStatus.RETURNED_UNACKNOWLEDGED: 3,
    AlarmStatus.SHELVED: 4,
    AlarmStatus.SUPPRESSED_BY_DESIGN: 5,
    AlarmStatus.OUT_OF_SERVICE: 6,
}
PLACE_KIND: Mapping[PlaceKind, int] = {
    PlaceKind.ROOM: 0,
    PlaceKind.LOVE_CAGE: 1,
    PlaceKind.HATCHING_TRAY: 2,
    PlaceKind.GROW_OUT_BIN: 3,
    PlaceKind.PUPATION_BOX: 4,
}
PLACE_STATE: Mapping[PlaceState, int] = {
    PlaceState.HIGH: 0,
    PlaceState.MEDIUM: 1,
    PlaceState.LOW: 2,
    PlaceState.BEYOND: 3,
    PlaceState.UNKNOWN: 4,
    PlaceState.UNGUARDED: 5,
    PlaceState.FINE: 6,
    PlaceState.EMPTY: 7,
}
STAGE: Mapping[Stage, int] = {
    Stage.EGG: 0,
    Stage.LARVA: 1,
    Stage.PREPUPA: 2,
    Stage.PUPA: 3,
    Stage.ADULT: 4,
}
EVENT: Mapping[Event, int] = {
    Event.HATCH: 0,
    Event.FIRST_PREPUPAE: 1,
    Event.HALF_PREPUPAE: 2,
    Event.FIRST_MOTIONLESS: 3,
    Event.HALF_MOTIONLESS: 4,
    Event.FIRST_EMERGED: 5,
    Event.HALF_EMERGED: 6,
    Event.MOST_EMERGED: 7,
    Event.FIRST_EGGS: 8,
}
BIN_STATE: Mapping[BinState, int] = {
    BinState.UNKNOWN: 0,
    BinState.TOO_HOT: 1,
    BinState.HOT_SOON: 2,
    BinState.FINISHING: 3,
    BinState.NO_LIMITS: 4,
    BinState.DRY_SOON: 5,
    BinState.TOO_DRY: 6,
    BinState.DRY: 7,
    BinState.RIGHT: 8,
    BinState.WET: 9,
    BinState.TOO_WET: 10,
}


@dataclass(frozen=True, slots=True)
class Point:
    """One point: values of its series' tags in their order, fields by name, time [ms since 1970 UTC].

    A field that is None or no number is left out.
    """

    series: Series
    tags: tuple[str, ...]
    fields: Mapping[str, float | None]
    at_ms: int

    def __post_init__(self) -> None:
        unknown = self.fields.keys() - set(self.series.fields)
        if len(self.tags) != len(self.series.tags) or unknown:
            raise ValueError(f"{self.series.measurement}: tags {self.tags}, unknown fields {sorted(unknown)}")

    def line(self, site: str) -> str:
        """The point in line protocol; "" where no field has a value. Each number is written as a float.

        One field must have the same type for ever: some servers refuse another one.
        """
        told = {name: float(value) for name, value in self.fields.items() if value is not None}
        fields = ",".join(f"{name}={value!r}" for name, value in told.items() if math.isfinite(value))
        tags = tags_text(zip(self.series.tags, self.tags, strict=True), site)
        return f"{self.series.measurement},{tags} {fields} {self.at_ms}" if fields else ""


def tags_text(tags: Iterable[tuple[str, str]], site: str) -> str:
    """The tags of a point with its site, sorted by name as servers prefer; empty ones are left out."""
    every = sorted((*tags, (SITE_TAG, site)))
    return ",".join(f"{name}={escaped(text)}" for name, text in every if escaped(text))


def escaped(text: str) -> str:
    """A measurement or the value of a tag, so that nothing in it ends it."""
    clean = " ".join(text.split()).rstrip("\\")
    return clean.replace(",", r"\,").replace("=", r"\=").replace(" ", r"\ ")
