"""Charts of readings: SVG drawn on the server, readable on a small phone, in the dark and without colours."""

from monitor.views.charts.data import SPANS, ChartSpan, Points, read_points, span_ending
from monitor.views.charts.drawing import Chart, Mark, draw
from monitor.views.charts.scale import time_ticks, value_ticks

__all__ = [
    "SPANS",
    "Chart",
    "ChartSpan",
    "Mark",
    "Points",
    "draw",
    "read_points",
    "span_ending",
    "time_ticks",
    "value_ticks",
]
