"""One site whole, as the archive knows it: places, boards, bins, cohorts, what is to be had."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

from monitor.archive.reader import Newest
from monitor.archive.series import (
    BIN,
    BIN_STATE,
    BOARD,
    EVENT,
    FORECAST,
    PLACE,
    PLACE_KIND,
    PLACE_STATE,
    PLACE_VALUE,
    STAGE,
    YIELD_AHEAD,
    Series,
)
from monitor.development.events import Event
from monitor.farm.bins import BinState
from monitor.farm.records import PlaceState
from monitor.records import MS_PER_HOUR, PlaceKind, Stage
from monitor.sites.asking import (
    AHEAD_MS,
    HOURLY_MS,
    LATELY_MS,
    Questions,
    Row,
    Span,
    member_of,
    value_of,
    whole,
    window_of,
)
from monitor.sites.overview import (
    BinFigures,
    BoardFigures,
    CohortFigures,
    PlaceFigures,
    PlaceValue,
    SiteLine,
    SitePicture,
    WeekFigures,
)

_EGGS = ("eggs_low_g", "eggs_middle_g", "eggs_high_g")
_LARVAE = ("larvae_low_kg", "larvae_middle_kg", "larvae_high_kg")
_HARVEST_MS = ("harvest_low_ms", "harvest_ms", "harvest_high_ms")
_HARVEST_KG = ("harvest_low_kg", "harvest_kg", "harvest_high_kg")


class SiteReader:
    """Asks about one site what its line does not tell; each question raises ArchiveError."""

    def __init__(self, ask: Questions, line: SiteLine) -> None:
        self._ask, self._line = ask, line
        heard_ms = line.figures.heard_ms or 0
        self._lately = Span(heard_ms - LATELY_MS, heard_ms + AHEAD_MS)
        self._hourly = Span(heard_ms - HOURLY_MS, heard_ms + AHEAD_MS)

    def picture(self, read_ms: int) -> SitePicture:
        """Everything."""
        return SitePicture(
            self._line, read_ms, self._places(), self._boards(), self._bins(), self._cohorts(), self._weeks()
        )

    def _rows(
        self, series: Series, names: Sequence[str], span: Span
    ) -> list[tuple[tuple[str, ...], dict[str, Newest]]]:
        """The rows of a series, in the order of its tags, without the site."""
        rows = self._ask.rows(series, names, span, [self._line.site])
        return sorted((key[1:], row) for key, row in rows.items())

    def _places(self) -> tuple[PlaceFigures, ...]:
        values = self._values()
        places = [
            PlaceFigures(
                place,
                member_of(PlaceKind, PLACE_KIND, row, "kind"),
                member_of(Stage, STAGE, row, "stage"),
                member_of(PlaceState, PLACE_STATE, row, "state"),
                tuple(values[place]),
                row["state"].at_ms,
            )
            for (place,), row in self._rows(PLACE, ("state", "kind", "stage"), self._lately)
        ]
        worst_first = list(PLACE_STATE)
        return tuple(sorted(places, key=lambda each: worst_first.index(each.state or PlaceState.UNKNOWN)))

    def _values(self) -> dict[str, list[PlaceValue]]:
        values = defaultdict[str, list[PlaceValue]](list)
        names = ("lowest", "highest", "low_limit", "high_limit")
        for (place, quantity), row in self._rows(PLACE_VALUE, names, self._lately):
            lowest = row["lowest"]
            highest = value_of(row, "highest")
            values[place].append(
                PlaceValue(
                    quantity,
                    lowest.value,
                    lowest.value if highest is None else highest,
                    value_of(row, "low_limit"),
                    value_of(row, "high_limit"),
                    lowest.at_ms,
                )
            )
        return values

    def _boards(self) -> tuple[BoardFigures, ...]:
        names = ("to_mend", "silent", "battery_v", "last_heard_ms")
        return tuple(
            BoardFigures(
                node,
                value_of(row, "battery_v"),
                bool(value_of(row, "silent")),
                bool(row["to_mend"].value),
                whole(value_of(row, "last_heard_ms")),
                row["to_mend"].at_ms,
            )
            for (node,), row in self._rows(BOARD, names, self._lately)
        )

    def _bins(self) -> tuple[BinFigures, ...]:
        names = ("state", "moisture", "dry_likely_h", "litres", *_HARVEST_MS, *_HARVEST_KG)
        return tuple(
            BinFigures(
                place,
                member_of(BinState, BIN_STATE, row, "state"),
                value_of(row, "moisture"),
                _dry_ms(row),
                value_of(row, "litres"),
                window_of(row, _HARVEST_MS),
                window_of(row, _HARVEST_KG),
                row["state"].at_ms,
            )
            for (place,), row in self._rows(BIN, names, self._hourly)
        )

    def _cohorts(self) -> tuple[CohortFigures, ...]:
        names = ("middle_ms", "low_ms", "high_ms", "stage", "event", "late")
        cohorts = [
            CohortFigures(
                cohort,
                member_of(Stage, STAGE, row, "stage"),
                member_of(Event, EVENT, row, "event"),
                window,
                bool(value_of(row, "late")),
            )
            for (cohort,), row in self._rows(FORECAST, names, self._hourly)
            if (window := window_of(row, ("low_ms", "middle_ms", "high_ms"))) is not None
        ]
        return tuple(sorted(cohorts, key=lambda each: (each.when_ms.median, each.cohort)))

    def _weeks(self) -> tuple[WeekFigures, ...]:
        names = ("from_ms", "to_ms", *_EGGS, *_LARVAE)
        weeks = [
            WeekFigures(
                round(row["from_ms"].value),
                round(row["to_ms"].value),
                window_of(row, _EGGS),
                window_of(row, _LARVAE),
            )
            for _, row in self._rows(YIELD_AHEAD, names, self._hourly)
            if "to_ms" in row
        ]
        return tuple(sorted(weeks, key=lambda each: each.from_ms))


def _dry_ms(row: Row) -> int | None:
    hours = row.get("dry_likely_h")
    return None if hours is None else hours.at_ms + round(hours.value * MS_PER_HOUR)
