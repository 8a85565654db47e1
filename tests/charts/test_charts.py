"""Drawings: gaps stay gaps, good range and nights are there, each length comes from the right table."""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree
from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from monitor.charts import curve
from monitor.charts.curve import Chart, Mark, draw, draw_strip, time_ticks, value_ticks
from monitor.charts.svg import element
from monitor.charts.svg import title as svg_title
from monitor.farm.place_reader import (
    MOST_POINTS,
    SPANS,
    THINNED_TO,
    Points,
    read_points,
    span_ending,
    thinned,
)
from monitor.records import (
    MS_PER_DAY,
    MS_PER_HOUR,
    MS_PER_MINUTE,
    Batch,
    Calibration,
    Flag,
    FlaggedMessage,
    FlaggedReading,
    NodeMessage,
    Reading,
    SensorKey,
    Side,
    TimeSource,
)
from monitor.store import Store

ZONE = ZoneInfo("Africa/Gaborone")
START = round(datetime(2026, 9, 23, 4, 40, tzinfo=UTC).timestamp()) * 1000
SENSOR = SensorKey("node-1", "", "air_temperature")


def points(minutes: list[int], values: list[float], step_ms: int = 0) -> Points:
    at = np.array([START + minute * MS_PER_MINUTE for minute in minutes], dtype=np.int64)
    value = np.array(values, dtype=np.float64)
    return Points(at, value - (0.5 if step_ms else 0.0), value, value + (0.5 if step_ms else 0.0), step_ms)


def chart(found: Points, **more: object) -> Chart:
    return Chart(START, START + MS_PER_DAY, found, 10 * MS_PER_MINUTE, "a <curve>", **more)  # type: ignore[arg-type]


def parsed(svg: str) -> ElementTree.Element:
    return ElementTree.fromstring(f"<div>{svg}</div>")


def path(svg: str, name: str) -> str:
    found = [each.get("d") or "" for each in parsed(svg).iter("path") if each.get("class") == name]
    assert len(found) == 1
    return found[0]


def test_a_hole_in_the_readings_is_a_hole_in_the_line() -> None:
    svg = draw(chart(points([0, 5, 10, 60, 65, 300], [20.0, 21.0, 20.5, 22.0, 22.0, 25.0])))
    line = path(svg, "line")
    assert line.count("M") == 3
    assert "h2" in line, "a reading alone between two holes is still seen"


def test_hours_show_their_span_as_a_band() -> None:
    svg = draw(chart(points([0, 60, 120], [20.0, 21.0, 22.0], MS_PER_HOUR)))
    assert path(svg, "band").count("Z") == 3
    assert 'class="band"' not in draw(chart(points([0, 5], [20.0, 21.0])))


def test_no_readings_draw_no_line() -> None:
    svg = draw(chart(points([], [])))
    assert 'class="line"' not in svg
    parsed(svg)


def test_the_text_alternative_is_text() -> None:
    pictures = [
        each for each in parsed(draw(chart(points([0, 5], [1.0, 2.0])))).iter("svg") if each.get("role")
    ]
    assert [(each.get("role"), each.get("aria-label")) for each in pictures] == [("img", "a <curve>")]


def test_the_good_range_is_shaded_between_its_bounds() -> None:
    svg = draw(chart(points([0, 5], [25.0, 26.0]), safe=(20.0, 30.0)))
    box = next(each for each in parsed(svg).iter("rect") if each.get("class") == "safe")
    assert (float(box.get("y") or -1), float(box.get("height") or -1)) == (0.0, 300.0)
    assert svg.count('class="bound"') == 2
    high_alone = draw(chart(points([0, 5], [25.0, 45.0]), safe=(None, 40.0)))
    box = next(each for each in parsed(high_alone).iter("rect") if each.get("class") == "safe")
    assert float(box.get("y") or 0) + float(box.get("height") or 0) == pytest.approx(300.0)
    assert float(box.get("y") or 0) > 0.0


def test_nights_are_shaded_within_the_picture() -> None:
    nights = (
        (START - MS_PER_HOUR, START + MS_PER_HOUR),
        (START + 12 * MS_PER_HOUR, START + 36 * MS_PER_HOUR),
    )
    svg = draw(chart(points([0, 5], [25.0, 26.0]), nights=nights))
    boxes = [each for each in parsed(svg).iter("rect") if each.get("class") == "night"]
    assert [(float(each.get("x") or 0), float(each.get("width") or 0)) for each in boxes] == [
        (0.0, pytest.approx(41.7)),
        (500.0, 500.0),
    ]


def test_alarms_are_marked_by_a_shape_that_shows_their_side() -> None:
    marks = (Mark(START + 6 * MS_PER_HOUR, Side.HIGH, "too <hot>"), Mark(START, Side.LOW, "too cold"))
    svg = draw(chart(points([0, 5], [25.0, 26.0]), marks=marks))
    found = [each for each in parsed(svg).iter("svg") if each.get("class") == "mark"]
    assert found[0].get("x") == "25.00%"
    assert found[0][0].get("d") != found[1][0].get("d")
    assert found[0][0][0].text == "too <hot>"


def test_words_stay_inside_the_picture() -> None:
    ticks = ((START, "06:40"), (START + MS_PER_DAY // 2, "18:40"), (START + MS_PER_DAY, "06:40"))
    svg = draw(chart(points([0, 5], [25.0, 26.0]), ticks=ticks, value_words=((25.0, "25 °C"),)))
    anchors = [each.get("text-anchor") for each in parsed(svg)[1].iter("text")]
    assert anchors == ["start", "middle", "end"]


def test_a_strip_is_a_picture_too() -> None:
    svg = draw_strip(chart(points([0, 5], [25.0, 26.0])))
    assert path(svg, "line").startswith("M")
    assert len(svg) < 2000


@pytest.mark.parametrize(
    ("low", "high", "ticks"),
    [
        (20.0, 38.0, (20.0, 25.0, 30.0, 35.0, 40.0)),
        (0.0, 1.0, (0.0, 0.5, 1.0)),
        (29.7, 29.7, (29.0, 29.5, 30.0, 30.5)),
        (-3.0, 4.0, (-4.0, -2.0, 0.0, 2.0, 4.0)),
    ],
)
def test_round_values_hold_the_readings(low: float, high: float, ticks: tuple[float, ...]) -> None:
    found = value_ticks(low, high)
    assert found[0] <= low
    assert found[-1] >= high
    assert 3 <= len(found) <= 7
    if (low, high) != (29.7, 29.7):
        assert found == ticks


def test_times_on_the_axis_are_the_farms_own() -> None:
    day = time_ticks(START, START + MS_PER_DAY, ZONE)
    assert [datetime.fromtimestamp(each / 1000, ZONE).hour for each in day] == [12, 18, 0, 6]
    week = time_ticks(START, START + 7 * MS_PER_DAY, ZONE)
    assert {datetime.fromtimestamp(each / 1000, ZONE).hour for each in week} == {0}
    assert len(week) == 7
    month = time_ticks(START, START + 30 * MS_PER_DAY, ZONE)
    assert {datetime.fromtimestamp(each / 1000, ZONE).weekday() for each in month} == {0}
    assert len(time_ticks(START, START + 365 * MS_PER_DAY, ZONE)) == 6


def test_many_readings_are_thinned_without_losing_their_extremes() -> None:
    count = 10_000
    value = np.sin(np.arange(count) / 50.0)
    value[4321] = 9.0
    at = START + np.arange(count, dtype=np.int64) * 8_000
    found = thinned(Points(at, value, value, value, 0), (START, START + MS_PER_DAY))
    assert len(found) <= THINNED_TO < MOST_POINTS
    assert found.high.max() == 9.0
    assert found.low.min() == value.min()
    assert bool(np.all(np.diff(found.at_ms) > 0))


def stored(folder: Path, hours: int) -> Store:
    """A reading every ten minutes, rising by one each hour; the fifth hour is missing."""
    store = Store.open(folder / "chart.sqlite")
    readings = [
        Reading(SENSOR, START + minute * MS_PER_MINUTE, float(minute // 60))
        for minute in range(0, hours * 60, 10)
        if minute // 60 != 5
    ]
    message = NodeMessage("node-1", START, tuple(readings), TimeSource.NODE, 1, 1)
    flagged = tuple(FlaggedReading(reading, Flag.PASS, reading.value) for reading in readings)
    store.commit(Batch(START, messages=(FlaggedMessage(message, flagged),)))
    return store


def test_a_day_shows_single_readings_and_longer_spans_hours(tmp_path: Path) -> None:
    with stored(tmp_path, 48) as store:
        now_ms = START + 48 * MS_PER_HOUR
        day = read_points(store, SENSOR, SPANS["24h"], span_ending(SPANS["24h"], now_ms, ZONE), ())
        assert day.single
        assert len(day) == 24 * 6
        week = read_points(store, SENSOR, SPANS["7d"], span_ending(SPANS["7d"], now_ms, ZONE), ())
        assert week.step_ms == MS_PER_HOUR
        assert 46 <= len(week) <= 49
        year = read_points(store, SENSOR, SPANS["year"], span_ending(SPANS["year"], now_ms, ZONE), ())
        assert [(round(low), round(high)) for low, high in zip(year.low, year.high, strict=True)] == [
            (0, 17),
            (17, 41),
            (41, 47),
        ], "days by the farm's own midnight"
        assert read_points(store, SensorKey("x", "", "light"), SPANS["year"], (0, now_ms), ()).step_ms > 0


def test_a_calibration_counts_from_its_day_on(tmp_path: Path) -> None:
    with stored(tmp_path, 24) as store:
        calibration = Calibration(SENSOR, START + 12 * MS_PER_HOUR, slope=-1.0, offset=100.0)
        bounds = span_ending(SPANS["7d"], START + MS_PER_DAY, ZONE)
        found = read_points(store, SENSOR, SPANS["7d"], bounds, (calibration,))
        assert found.mean[0] == pytest.approx(0.0, abs=0.5)
        assert found.mean[-1] == pytest.approx(77.0, abs=0.5)
        assert bool(np.all(found.low <= found.high)), "a slope below zero turns lowest and highest round"


def test_words_inside_a_drawing_cannot_end_it() -> None:
    nasty = '"/><script>&'
    svg = element("text", svg_title(nasty)[0], class_="", x=1.25, y="50%", aria_label=nasty)
    found = parsed(svg)[0]
    assert found.attrib == {"x": "1.2", "y": "50%", "aria-label": nasty}
    assert found[0].text == nasty


def test_the_lines_of_a_chart_are_worked_out_once(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[float] = []
    real = curve.value_ticks

    def counting(low: float, high: float, most: int = 5) -> tuple[float, ...]:
        asked.append(low)
        return real(low, high, most)

    monkeypatch.setattr(curve, "value_ticks", counting)
    drawn = draw(chart(points([0, 10, 20], [20.0, 30.0, 39.0]), value_words=[(20.0, "20"), (40.0, "40")]))
    assert "<svg" in drawn and len(asked) == 1
