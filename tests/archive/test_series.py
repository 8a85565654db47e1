"""The names in the archive: codes that never move, lines that a server can read."""

from __future__ import annotations

import pytest

from monitor.archive import series
from monitor.archive.reader import FLAG_FIELD, VALUE_FIELD
from monitor.archive.series import BOARD, FORECAST, SITE, Point
from monitor.development.events import Event
from monitor.farm.bins import BinState
from monitor.farm.records import PlaceState
from monitor.records import AlarmStatus, PlaceKind, Quantity, Stage


@pytest.mark.parametrize(
    ("kind", "codes"),
    [
        (AlarmStatus, series.ALARM_STATUS),
        (PlaceKind, series.PLACE_KIND),
        (PlaceState, series.PLACE_STATE),
        (Stage, series.STAGE),
        (Event, series.EVENT),
        (BinState, series.BIN_STATE),
    ],
)
def test_every_member_has_a_code_of_its_own_that_leads_back(kind: type, codes: dict[object, int]) -> None:
    assert list(codes) == list(kind)  # type: ignore[call-overload]
    assert list(codes.values()) == list(range(len(codes)))


def test_no_two_series_share_a_name_in_a_store_of_metrics_and_none_is_one_of_a_reading() -> None:
    every = [each for each in vars(series).values() if isinstance(each, series.Series)]
    metrics = [f"{each.measurement}_{name}" for each in every for name in each.fields]
    readings = [f"{quantity}_{name}" for quantity in Quantity for name in (VALUE_FIELD, FLAG_FIELD)]
    assert len(every) == 11
    assert len({*metrics, *readings}) == len(metrics) + len(readings)


def test_a_point_is_one_line_with_sorted_tags_and_floats() -> None:
    point = Point(BOARD, ("pi, left",), {"battery_v": 3.9, "silent": False, "signal_dbm": None}, 7)
    assert point.line("my farm") == r"board,node=pi\,\ left,site=my\ farm battery_v=3.9,silent=0.0 7"
    assert Point(SITE, (), {"heartbeat": 1}, 1_764_000_000_000).line("z") == (
        "site,site=z heartbeat=1.0 1764000000000"
    )
    tags = Point(series.ALARM, ("bin-1", "light", "low", "high"), {"status": 1}, 1).line("a")
    assert tags == "alarm,place=bin-1,priority=high,quantity=light,side=low,site=a status=1.0 1"


def test_what_is_no_number_is_left_out() -> None:
    fields = {"low_ms": float("nan"), "middle_ms": float("inf"), "high_ms": None}
    assert Point(FORECAST, ("A",), fields, 1).line("farm") == ""
    assert Point(FORECAST, ("A",), {**fields, "late": 1.0}, 1).line("farm") == (
        "forecast,cohort=A,site=farm late=1.0 1"
    )


def test_a_point_with_names_that_are_not_published_is_no_point() -> None:
    with pytest.raises(ValueError, match="colour"):
        Point(BOARD, ("n",), {"colour": 1.0}, 1)
    with pytest.raises(ValueError, match="board"):
        Point(BOARD, (), {"silent": 1.0}, 1)
