"""A farm as the first release left it: its database (schema 8) and its settings, from `references`."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

REFERENCES = Path(__file__).parent.parent / "references"
NOW_MS = 1_790_061_840_000
"""When that farm stopped."""
STEP = 8

Rows = dict[str, list[tuple[Any, ...]]]


def first_database(path: Path) -> Path:
    """The database of the first release, written anew."""
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        connection.executescript((REFERENCES / "first_release.sql").read_text(encoding="utf-8"))
        connection.execute("PRAGMA journal_mode=WAL")
    return path


def first_farm(folder: Path) -> Path:
    """Database and settings in a folder; gives the settings file."""
    first_database(folder / "rearing.sqlite")
    settings = folder / "farm.toml"
    settings.write_bytes((REFERENCES / "first_release.farm.toml").read_bytes())
    return settings


def rows_of(path: Path) -> Rows:
    """Every table with its rows, in an order of their own."""
    with closing(sqlite3.connect(f"{path.as_uri()}?mode=ro", uri=True)) as connection:
        names = connection.execute(
            "SELECT name FROM sqlite_schema WHERE type = 'table' ORDER BY name"
        ).fetchall()
        return {
            name: sorted(connection.execute(f'SELECT * FROM "{name}"').fetchall(), key=repr)  # noqa: S608
            for (name,) in names
        }


def schema_of(path: Path) -> list[tuple[str, str]]:
    """Every table, index and trigger with its words."""
    with closing(sqlite3.connect(f"{path.as_uri()}?mode=ro", uri=True)) as connection:
        return connection.execute(
            "SELECT name, coalesce(sql, '') FROM sqlite_schema ORDER BY name"
        ).fetchall()
