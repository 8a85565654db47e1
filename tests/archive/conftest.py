"""A scripted archive server for the tests of this room."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from archive_stub import ArchiveStub


@pytest.fixture
def stub() -> Iterator[ArchiveStub]:
    server = ArchiveStub()
    yield server
    server.close()
