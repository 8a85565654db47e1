"""Copies of a whole site in several places, and the way back from one of them."""
