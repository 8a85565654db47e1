"""Moist air, quality flags, calibration, trends, wet surfaces."""
