"""Pictures as SVG: the emergence curve with its band, the calendar of coming events, one bin."""

from monitor.views.pictures.bin import bin_svg
from monitor.views.pictures.calendar import calendar_svg
from monitor.views.pictures.emergence import emergence_svg

__all__ = ["bin_svg", "calendar_svg", "emergence_svg"]
