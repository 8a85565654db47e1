"""Pictures of forecasts as SVG: the emergence curve with its band, and the calendar of coming events."""

from monitor.views.pictures.calendar import calendar_svg
from monitor.views.pictures.emergence import emergence_svg

__all__ = ["calendar_svg", "emergence_svg"]
