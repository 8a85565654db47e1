"""Fixtures: a farm on disk, and the program as a person calls it."""

from command_fixtures import call, farm

__all__ = ["call", "farm"]
