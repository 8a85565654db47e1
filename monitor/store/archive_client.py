"""Hands lines to a server that speaks the InfluxDB v2 write API, one request at a time, without retry."""

from __future__ import annotations

import contextlib
import json
import socket
import time
from collections.abc import Sequence
from typing import cast
from urllib.parse import urlsplit

from monitor.errors import ArchiveError
from monitor.settings.schema import ArchiveSettings
from monitor.store.archive_lines import Answer, Verdict, judge

TIMEOUT_S = 15.0
_MOST_REASON = 300


class ArchiveClient:
    """One connection to the archive server. The library is imported here, when it is first needed."""

    def __init__(self, settings: ArchiveSettings) -> None:
        try:
            from influxdb_client.client.influxdb_client import InfluxDBClient
            from influxdb_client.client.write_api import SYNCHRONOUS
            from influxdb_client.domain.write_precision import WritePrecision
        except ImportError as error:
            raise ArchiveError(
                "[archive] needs one more package. To mend: pip install 'rearing-monitor[archive]'."
            ) from error
        token = settings.token.get_secret_value() if settings.token else ""
        self._settings = settings
        self._client = InfluxDBClient(
            settings.url, token, org=settings.org, timeout=round(TIMEOUT_S * 1000), enable_gzip=True
        )
        self._precision = cast(WritePrecision, WritePrecision.MS)
        self._write = self._client.write_api(write_options=SYNCHRONOUS)

    def send(self, lines: Sequence[str]) -> Answer:
        """Send lines and judge what the server says; never raises for what a server or network can do."""
        from influxdb_client.rest import ApiException
        from urllib3.exceptions import HTTPError

        try:
            self._write.write(
                self._settings.bucket, self._settings.org, list(lines), write_precision=self._precision
            )
        except ApiException as error:
            wait = error.headers.get("Retry-After") if error.headers else None
            return judge(error.status or 0, _reason(error), wait, time.time_ns() // 1_000_000)
        except (HTTPError, OSError) as error:
            return Answer(Verdict.NO_CONTACT, f"the archive server does not answer ({_short(str(error))})")
        return Answer(Verdict.STORED)

    def answers(self) -> bool:
        """True when something listens at the server's address."""
        parts = urlsplit(self._settings.url)
        port = parts.port or (443 if parts.scheme == "https" else 80)
        with contextlib.suppress(OSError), socket.create_connection((parts.hostname or "", port), TIMEOUT_S):
            return True
        return False

    def close(self) -> None:
        """Close the connection."""
        self._write.close()  # type: ignore[no-untyped-call]
        self._client.close()  # type: ignore[no-untyped-call]


def _reason(error: Exception) -> str:
    body = str(getattr(error, "body", "") or getattr(error, "reason", "") or error)
    with contextlib.suppress(ValueError):
        told = json.loads(body)
        if isinstance(told, dict) and told.get("message"):
            return _short(str(told["message"]))
    return _short(body)


def _short(text: str) -> str:
    return " ".join(text.split())[:_MOST_REASON]
