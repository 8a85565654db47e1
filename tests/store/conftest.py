"""A fresh store, and messages to put into it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from monitor.store import Store


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    """An empty store on disk."""
    with Store.open(tmp_path / "rearing.sqlite") as opened:
        yield opened
