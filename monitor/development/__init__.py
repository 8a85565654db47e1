"""Insect development: degree-days, thermal constants, forecasts of a cohort's events, supply of flies."""
