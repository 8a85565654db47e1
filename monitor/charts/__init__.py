"""Pictures as SVG text: curves, bins, the calendar, emergence."""
