"""`run` with a page whose port is taken: it says so and guards all the same."""

from __future__ import annotations

import logging
import socket
from pathlib import Path
from types import SimpleNamespace

import pytest

from monitor.cli.running import _open_page
from monitor.errors import UsageError


def test_a_page_that_cannot_be_served_does_not_stop_the_guarding(
    caplog: pytest.LogCaptureFixture, tmp_path: Path
) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        port = taken.getsockname()[1]

        def open_page(_service: object, _clock: object) -> str:
            raise UsageError(f"the page cannot listen on 127.0.0.1 port {port}: taken")

        with caplog.at_level(logging.ERROR):
            _open_page(SimpleNamespace(open=open_page), SimpleNamespace(path=tmp_path))  # type: ignore[arg-type]
    assert str(port) in caplog.text
